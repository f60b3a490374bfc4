/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The other rounds of the day. What they gave, or are to give by their plans, takes from the ceilings, the change of a
 * day, the stock and the corals that are due; what waits for a later one is left to it.
 */
#include "neap/ledger.h"
#include "neap/stock.h"
#include "neap/working.h"

#include <string.h>

static bool is_of_another_round(const struct working *w, int day, const char *round)
{
    return day == w->request->day && strcmp(round, w->round == REF_NONE ? "" : w->f->daily_rounds[w->round].name) != 0;
}

/* Of another round than the one that is planned. */
static bool is_kept(const struct working *w, size_t round)
{
    for (size_t i = 0; i < w->n_others; i++)
        if (strcmp(w->others[i]->round, w->f->daily_rounds[round].name) == 0)
            return true;
    return false;
}

static bool is_later(const struct working *w, size_t round)
{
    return round != w->round && w->f->daily_rounds[round].start_min > request_start_min(w->f, w->request);
}

/* ---- light ------------------------------------------------------------------------------------------------------ */

/* Is it open then? Of a tank whose lights nobody entered: yes. */
static bool suits(const struct facility *f, size_t colony, int minute)
{
    const struct colony *c = &f->colonies[colony];
    bool known, dark = is_dark(f, c->tank, minute, &known);
    int fed_in = f->kinds[c->kind].fed_in;
    return fed_in == FED_ANY || !known || dark == (fed_in == FED_DARK);
}

struct feeding_time feeding_time(const struct working *w, size_t colony)
{
    const struct facility *f = w->f;
    struct feeding_time t = {.now = true, .round = REF_NONE};
    if (w->n_todays == 0 || suits(f, colony, request_start_min(f, w->request)))
        return t;
    for (t.in_days = 0; t.in_days < WEEKDAYS; t.in_days++) {
        const size_t *rounds = w->week + (size_t)t.in_days * f->n_daily_rounds;
        for (size_t i = 0; i < w->n_week[t.in_days]; i++)
            if ((t.in_days > 0 || is_later(w, rounds[i])) && suits(f, colony, f->daily_rounds[rounds[i]].start_min)) {
                t.now = false;
                t.round = rounds[i];
                return t;
            }
    }
    t.never = true;
    return t;
}

long feeds_today(const struct working *w, size_t colony)
{
    long most = w->f->kinds[w->f->colonies[colony].kind].feeds_per_d, n = 0;
    for (size_t i = 0; most > 1 && i < w->n_todays; i++)
        n += suits(w->f, colony, w->f->daily_rounds[w->todays[i]].start_min);
    return n < 1 ? 1 : n < most ? n : most;
}

long feeds_later(const struct working *w, size_t colony)
{
    long n = 0;
    for (size_t i = 0; i < w->n_to_come; i++)
        n += suits(w->f, colony, w->f->daily_rounds[w->to_come[i]].start_min);
    return n;
}

/* ---- the broadcast plan ----------------------------------------------------------------------------------------- */

double broadcast_plan_frac(const struct facility *f, size_t system, size_t round, int day)
{
    double part = NAN;
    int weekday = day_weekday(day);
    bool own_row = false;
    for (size_t i = 0; i < f->n_broadcast_days; i++) {
        const struct broadcast_day *b = &f->broadcast_days[i];
        if (b->system != system || f->daily_rounds[b->round].retired)
            continue;
        part = isnan(part) ? 0 : part;
        if (b->round != round || own_row || (b->weekday != weekday && b->weekday != EVERY_DAY))
            continue;
        part = b->part_frac;
        own_row = b->weekday == weekday;
    }
    return round == REF_NONE ? (double)NAN : part;
}

static double later_broadcast(const struct working *w, size_t system)
{
    const struct facility *f = w->f;
    double parts = 0, litres = 0;
    for (size_t i = 0; i < w->n_to_come; i++)
        parts += fmax(0, broadcast_plan_frac(f, system, w->to_come[i], w->request->day));
    for (size_t t = 0; parts > 0 && t < f->n_tanks; t++)
        if (f->tanks[t].system == system && f->tanks[t].broadcast && !f->tanks[t].retired)
            litres += f->tanks[t].net_l;
    return parts > 0 ? fmin(1, parts) * litres / water_l(f, system) : 0;
}

/* ---- stock and corals ------------------------------------------------------------------------------------------- */

double lot_free(const struct working *w, size_t lot)
{
    const struct facility *f = w->f;
    double units = lot_measurable(f, &f->lots[lot], w->request->day);
    double step = food_step(&f->settings, &f->foods[f->lots[lot].food]);
    return w->claimed[lot] > 0 ? round_down_to(fmax(0, units - w->claimed[lot]), step) : units;
}

/* Each round that feeds it counts once: uses are sorted by round. */
static bool count_fed(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    const char **by_colony = arena_alloc(w->a, f->n_colonies, sizeof(const char *));
    const char **by_tank = arena_alloc(w->a, f->n_tanks, sizeof(const char *));
    long *broadcasts = arena_alloc(w->a, f->n_tanks, sizeof *broadcasts);
    if (!by_colony || !by_tank || !broadcasts)
        return err_memory(e);
    for (size_t i = 0; i < w->n_others; i++) {
        const struct day_use *u = w->others[i];
        bool broadcast = u->action == ACTION_BROADCAST;
        if (u->refused || (!broadcast && u->colony == REF_NONE))
            continue;
        const char **last = broadcast ? &by_tank[u->tank] : &by_colony[u->colony];
        if (*last && strcmp(*last, u->round) == 0)
            continue;
        *last = u->round;
        ++*(broadcast ? &broadcasts[u->tank] : &w->n_fed[u->colony]);
    }
    for (size_t i = 0; i < f->n_colonies; i++)
        if (f->kinds[f->colonies[i].kind].feeding == FEEDING_BROADCAST)
            w->n_fed[i] = broadcasts[f->colonies[i].tank];
    return true;
}

/*
 * The rounds of this day and the six that follow; that which is planned is one of the day's, whatever its weekdays are.
 */
static bool find_rounds(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    const char *name = w->request->round ? w->request->round : "";
    w->round = *name ? facility_named(f, REG_DAILY_ROUND, name) : REF_NONE;
    if (*name && w->round == REF_NONE)
        return err_set(e, ERR_NOT_FOUND, NULL, "there is no daily round \"%.60s\"", name);
    w->week = arena_alloc(w->a, WEEKDAYS * f->n_daily_rounds + 1, sizeof *w->week);
    if (!w->week)
        return err_memory(e);
    for (int d = 0; d < WEEKDAYS; d++)
        w->n_week[d] = daily_rounds_on(f, w->request->day + d, w->week + (size_t)d * f->n_daily_rounds);
    w->todays = w->week;
    w->n_todays = w->n_week[0];
    for (size_t i = 0; i < w->n_todays; i++)
        if (w->todays[i] == w->round)
            return true;
    if (w->round != REF_NONE)
        w->todays[w->n_todays++] = w->round; /* there is room: it was not among them */
    w->n_week[0] = w->n_todays;
    return true;
}

/* What they gave and are to give; and which of them are still to be planned. */
static bool find_others(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    w->others = arena_alloc(w->a, f->n_day_uses, sizeof(const struct day_use *));
    w->to_come = arena_alloc(w->a, w->n_todays, sizeof *w->to_come);
    if (!w->others || !w->to_come)
        return err_memory(e);
    for (size_t i = 0; i < f->n_day_uses; i++)
        if (is_of_another_round(w, f->day_uses[i].day, f->day_uses[i].round))
            w->others[w->n_others++] = &f->day_uses[i];
    for (size_t i = 0; i < w->n_todays; i++)
        if (is_later(w, w->todays[i]) && !is_kept(w, w->todays[i]))
            w->to_come[w->n_to_come++] = w->todays[i];
    return true;
}

bool working_day(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    w->left = arena_alloc(w->a, f->n_systems, sizeof *w->left);
    w->claimed = arena_alloc(w->a, f->n_lots, sizeof *w->claimed);
    w->n_fed = arena_alloc(w->a, f->n_colonies, sizeof *w->n_fed);
    w->laters = arena_alloc(w->a, f->n_colonies, sizeof *w->laters);
    if (!w->left || !w->claimed || !w->n_fed || !w->laters)
        return err_memory(e);
    if (!find_rounds(w, e) || !find_others(w, e) || !count_fed(w, e))
        return false;
    for (size_t i = 0; i < f->n_day_claims; i++)
        if (is_of_another_round(w, f->day_claims[i].day, f->day_claims[i].round))
            w->claimed[f->day_claims[i].lot] += f->day_claims[i].units;
    for (size_t s = 0; s < f->n_systems; s++)
        w->left[s].later_broadcast_frac = later_broadcast(w, s);
    return true;
}

/* ---- what the others bring the waters ---------------------------------------------------------------------------- */

static bool is_to_mouths(const struct day_use *u)
{
    return u->action == ACTION_TARGET && u->colony != REF_NONE;
}

double others_load(const struct facility *f, const struct day_use *u)
{
    double counted = is_to_mouths(u) ? counted_frac(&f->settings, &f->kinds[f->colonies[u->colony].kind]) : 1;
    return food_load(f, f->tanks[u->tank].system, u->food, u->units * counted);
}

static double reaches_water(const struct facility *f, const struct day_use *u, double broadcast_ratio)
{
    if (is_to_mouths(u))
        return in_water(&f->settings, u->units);
    return u->units * (u->action == ACTION_BROADCAST ? broadcast_ratio : 1);
}

void working_others(struct working *w)
{
    const struct facility *f = w->f;
    for (size_t i = 0; i < w->n_others; i++) {
        const struct day_use *u = w->others[i];
        size_t s = f->tanks[u->tank].system;
        w->shares[s].others_frac += others_load(f, u);
        for (int a = 0; a < RECIPE_ANALYTES; a++) {
            const struct food_belief *b = &w->effects.foods[a][u->food];
            double units = reaches_water(f, u, b->broadcast_ratio);
            w->left[s].others_mg[a] += units * b->mean;
            w->left[s].others_sd_mg[a] += units * b->sd;
        }
    }
}
