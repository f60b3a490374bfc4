/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sums of what was fed and changed: tests and ledger are sorted by system, so that each reads its own rows only. */
#include "neap/learned.h"
#include "neap/ledger.h"

enum { WEEK_D = 7 };

/* Rows that are sorted by the system that stands so many bytes from their start. */
struct by_system {
    const void *rows;
    size_t n, row_size, system_at;
};

static size_t rows_before(const struct by_system *r, size_t system)
{
    size_t least = 0, most = r->n;
    while (least < most) {
        size_t middle = least + (most - least) / 2, of;
        memcpy(&of, (const char *)r->rows + middle * r->row_size + r->system_at, sizeof of);
        if (of < system)
            least = middle + 1;
        else
            most = middle;
    }
    return least;
}

static struct system_rows rows_of(struct by_system r, size_t system)
{
    return (struct system_rows){rows_before(&r, system), rows_before(&r, system + 1)};
}

struct system_rows tests_of(const struct facility *f, size_t system)
{
    return rows_of((struct by_system){f->tests, f->n_tests, sizeof *f->tests, offsetof(struct test, system)}, system);
}

struct system_rows feds_of(const struct facility *f, size_t system)
{
    return rows_of((struct by_system){f->feds, f->n_feds, sizeof *f->feds, offsetof(struct fed, system)}, system);
}

double in_water(const struct settings *s, double to_mouths)
{
    return to_mouths * (1 + s->loss_frac);
}

double fed_in_water(const struct facility *f, const struct fed *fed, double broadcast_ratio)
{
    return in_water(&f->settings, fed->target_units) + fed->fish_units + fed->broadcast_units * broadcast_ratio;
}

double units_fed(const struct facility *f, const struct day_span *s, size_t system, size_t food, double broadcast_ratio)
{
    double units = 0;
    struct system_rows own = feds_of(f, system);
    for (size_t i = own.first; i < own.end; i++) {
        const struct fed *fed = &f->feds[i];
        if (fed->food == food && span_holds(s, fed->day))
            units += fed_in_water(f, fed, broadcast_ratio);
    }
    return units;
}

double days_logged(const struct facility *f, const struct day_span *s, size_t system)
{
    struct system_rows own = feds_of(f, system);
    int first = own.first < own.end && f->feds[own.first].day > s->first_day ? f->feds[own.first].day : s->first_day;
    return fmax(s->last_day - first + 1, 7);
}

struct day_span span_logged(const struct facility *f, long now_min, double days)
{
    struct day_span s = span_back(now_min, days);
    for (size_t i = 0; i < f->n_feds; i++)
        if (f->feds[i].day == s.last_day)
            return s;
    return (struct day_span){s.first_day - 1, s.last_day - 1};
}

size_t days_fed(const struct facility *f, const struct day_span *s, size_t system)
{
    size_t n = 0;
    int last = DAY_NONE;
    struct system_rows own = feds_of(f, system);
    for (size_t i = own.first; i < own.end; i++) {
        const struct fed *fed = &f->feds[i];
        if (!span_holds(s, fed->day) || fed->day == last)
            continue;
        last = fed->day;
        n++;
    }
    return n;
}

struct changes {
    double litres, first_litres;
    int first_day, last_day, n_days;
};

/* Changes go on in a rhythm where the last is not longer ago than one and a half times what lies between them. */
static double changed_per_week(const struct changes *c, const struct day_span *s)
{
    double span = (double)(s->last_day - s->first_day + 1), between = (double)(c->last_day - c->first_day);
    if (c->n_days < 2 || 2 * (s->last_day - c->last_day) * (c->n_days - 1) > 3 * (c->last_day - c->first_day))
        return c->litres / span * WEEK_D;
    return (c->litres - c->first_litres) / between * WEEK_D;
}

struct change_habit change_habit(const struct facility *f, const struct day_span *s, size_t system, enum analyte a)
{
    struct change_habit h = {.every_d = WEEK_D, .last_min = MOMENT_NONE};
    struct changes c = {.first_day = DAY_NONE, .last_day = DAY_NONE};
    double volume_l = f->systems[system].volume_l;
    for (size_t i = 0; i < f->n_waters; i++) {
        const struct water *w = &f->waters[i];
        int day = moment_day(w->exchanged);
        if (w->system != system || !span_holds(s, day))
            continue;
        c.litres += w->volume_l;
        h.new_value += w->volume_l * (a == ANALYTE_NO3 ? w->no3_mg_l : w->po4_mg_l);
        if (c.first_day == DAY_NONE)
            c.first_day = day;
        c.n_days += day != c.last_day;
        c.first_litres += day == c.first_day ? w->volume_l : 0;
        c.last_day = day;
        h.last_min = w->exchanged;
    }
    if (c.litres <= 0)
        return h;
    h.new_value /= c.litres;
    if (volume_l > 0)
        h.frac_per_week = fmin(changed_per_week(&c, s) / volume_l, 0.99);
    if (c.n_days > 1)
        h.every_d = (int)fmin(fmax(floor((double)(c.last_day - c.first_day) / (c.n_days - 1) + 0.5), 1), WEEK_D);
    return h;
}
