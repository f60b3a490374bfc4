/* Sums of what was fed and changed: the ledger is sorted by system, so that each reads its own rows only. */
#include "neap/learned.h"
#include "neap/ledger.h"

static size_t feds_before(const struct facility *f, size_t system)
{
    size_t least = 0, most = f->n_feds;
    while (least < most) {
        size_t middle = least + (most - least) / 2;
        if (f->feds[middle].system < system)
            least = middle + 1;
        else
            most = middle;
    }
    return least;
}

struct fed_rows feds_of(const struct facility *f, size_t system)
{
    return (struct fed_rows){feds_before(f, system), feds_before(f, system + 1)};
}

double in_water(const struct settings *s, double to_mouths)
{
    return to_mouths * (1 + s->loss_frac);
}

double fed_in_water(const struct facility *f, const struct fed *fed, double broadcast_ratio)
{
    return in_water(&f->settings, fed->target_units) + fed->fish_units + fed->broadcast_units * broadcast_ratio;
}

double units_fed(const struct facility *f, const struct learned_effects *l, const struct day_span *s, size_t system,
                 size_t food, enum analyte a)
{
    double units = 0;
    struct fed_rows own = feds_of(f, system);
    for (size_t i = own.first; i < own.end; i++) {
        const struct fed *fed = &f->feds[i];
        if (fed->food == food && span_holds(s, fed->day))
            units += fed_in_water(f, fed, l->foods[a][food].broadcast_ratio);
    }
    return units;
}

double days_logged(const struct facility *f, const struct day_span *s, size_t system)
{
    struct fed_rows own = feds_of(f, system);
    int first = own.first < own.end && f->feds[own.first].day > s->first_day ? f->feds[own.first].day : s->first_day;
    return fmax(s->last_day - first + 1, 7);
}

size_t days_fed(const struct facility *f, const struct day_span *s, size_t system)
{
    size_t n = 0;
    int last = DAY_NONE;
    struct fed_rows own = feds_of(f, system);
    for (size_t i = own.first; i < own.end; i++) {
        const struct fed *fed = &f->feds[i];
        if (!span_holds(s, fed->day) || fed->day == last)
            continue;
        last = fed->day;
        n++;
    }
    return n;
}

struct change_habit change_habit(const struct facility *f, const struct day_span *s, size_t system, enum analyte a)
{
    struct change_habit h = {0};
    double litres = 0, volume_l = f->systems[system].volume_l, weeks = (double)(s->last_day - s->first_day + 1) / 7;
    for (size_t i = 0; i < f->n_waters; i++) {
        const struct water *w = &f->waters[i];
        if (w->system != system || !span_holds(s, moment_day(w->exchanged)))
            continue;
        litres += w->volume_l;
        h.new_value += w->volume_l * (a == ANALYTE_NO3 ? w->no3_mg_l : w->po4_mg_l);
    }
    if (litres > 0)
        h.new_value /= litres;
    if (volume_l > 0)
        h.frac_per_week = fmin(litres / volume_l / weeks, 0.99);
    return h;
}
