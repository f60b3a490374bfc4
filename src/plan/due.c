/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which colonies are due and how urgently; which go without, and why. */
#include "neap/working.h"

long mouths_fed(const struct kind *k, long heads)
{
    long n = 0;
    switch (k->mouth_rule) {
    case MOUTHS_ALL: n = heads; break;
    case MOUTHS_FRACTION: n = (long)ceil(k->mouth_frac * (double)heads - 1e-9); break;
    case MOUTHS_ONE: n = 1; break;
    default: return 0;
    }
    if (n < k->mouth_min)
        n = k->mouth_min;
    if (k->mouth_max > 0 && n > k->mouth_max)
        n = k->mouth_max;
    return n > heads ? heads : n;
}

/* Days since a day, or NAN. A day in the future counts as today: a clock set back must not unfeed a coral. */
static double days_since(int then, int day)
{
    return then == DAY_NONE ? NAN : fmax(0, day - then);
}

long colony_mouths(const struct facility *f, size_t colony)
{
    const struct colony *c = &f->colonies[colony];
    const struct kind *k = &f->kinds[c->kind];
    return k->feeding == FEEDING_TARGET ? mouths_fed(k, c->heads) : 0;
}

double colony_hands_s(const struct facility *f, size_t colony, long mouths)
{
    const struct colony *c = &f->colonies[colony];
    const struct kind *k = &f->kinds[c->kind];
    return (double)c->count * (k->colony_s + (double)mouths * k->mouth_s);
}

static bool kind_is_given(const struct kind *k)
{
    return k->feeding == FEEDING_TARGET || k->feeding == FEEDING_CLOUD;
}

/* Is anything of this course in stock? A kind of the late course falls back to the slurry where nothing is. */
static bool late_food_there(const struct working *w)
{
    for (size_t i = 0; i < w->f->n_foods; i++) {
        const struct food *food = &w->f->foods[i];
        if (food_is_late(food) && food->blend_share_frac > 0 && w->usable[i] > 0)
            return true;
    }
    return false;
}

static struct due measure(const struct working *w, size_t index, bool late_there)
{
    const struct facility *f = w->f;
    const struct colony *c = &f->colonies[index];
    const struct kind *k = &f->kinds[c->kind];
    double here_d = days_since(c->arrived, w->request->day);
    struct due d = {
        .colony = index,
        .tank = c->tank,
        .system = f->tanks[c->tank].system,
        .need = k->need,
        .late = k->course == COURSE_LATE && late_there,
        .half = here_d < f->settings.arrival_half_d,
        .since_d = days_since(c->last_fed, w->request->day),
    };
    d.interval_d = k->interval_d * (d.half ? 2 : 1);
    d.urgency = d.since_d / d.interval_d;
    if (isnan(
            /* never fed: counts from its arrival, or it would wait for ever behind the overdue of a full tank */
            d.since_d))
        d.urgency = isnan(here_d) ? INFINITY : fmax(1, here_d / d.interval_d);
    d.mouths = colony_mouths(f, index);
    d.portion_ml = kind_is_given(k) ? k->portion_ml * c->portion_frac : 0;
    d.cut_frac = 1;
    if (d.half) {
        d.mouths = (d.mouths + 1) / 2;
        d.portion_ml /= 2;
    }
    long helpings = d.mouths > 0 ? d.mouths : 1;
    d.need_ml = (double)(c->count * helpings) * d.portion_ml;
    d.hands_s = colony_hands_s(f, index, d.mouths);
    return d;
}

static bool in_use(const struct facility *f, const struct colony *c)
{
    const struct tank *t = &f->tanks[c->tank];
    return !c->retired && !f->kinds[c->kind].retired && !t->retired && !f->systems[t->system].retired;
}

bool due_in_turn(const struct working *w, size_t index, struct due *d)
{
    const struct facility *f = w->f;
    const struct colony *c = &f->colonies[index];
    const struct tank *t = &f->tanks[c->tank];
    int day = w->request->day;
    if (!in_use(f, c) || f->kinds[c->kind].feeding == FEEDING_NONE || on_hold(c->hold_reason, c->hold_until, day) ||
        on_hold(t->hold_reason, t->hold_until, day) || days_since(c->arrived, day) < f->settings.arrival_wait_d)
        return false;
    *d = measure(w, index, late_food_there(w));
    return true;
}

/* It is open in another light: that is no going without. Of today's ceiling its food is kept. */
static bool wait_for_round(struct working *w, const struct due *d, const struct feeding_time *when, struct err *e)
{
    const struct daily_round *r = &w->f->daily_rounds[when->round];
    const struct kind *k = &w->f->kinds[w->f->colonies[d->colony].kind];
    char clock[CLOCK_TEXT];
    clock_format(r->start_min, clock);
    if (when->in_days == 0 && kind_is_given(k))
        w->laters[w->n_laters++] = *d;
    return waiting_add(w, d->colony, e, "%s: waits for the %s round%s%s, %s",
                       k->fed_in == FED_DARK ? "opens after dark" : "opens by day", r->name,
                       when->in_days == 0 ? "" : " of ",
                       when->in_days == 0 ? "" : weekday_name(day_weekday(w->request->day + when->in_days)), clock);
}

/* Little and often: its part of the portion; those of later rounds are kept for it. */
static void take_share(struct working *w, struct due *d, long feeds, long fed)
{
    long later = lesser((int)feeds_later(w, d->colony), (int)(feeds - fed - 1));
    d->portion_ml /= (double)feeds;
    d->need_ml /= (double)feeds;
    if (fed > 0)
        d->urgency = 1; /* its day has begun */
    if (later <= 0)
        return;
    struct due kept = *d;
    kept.need_ml *= (double)later;
    w->laters[w->n_laters++] = kept;
}

/* Holds and new arrivals wait with a word; those fed lately wait in silence. */
static bool consider(struct working *w, size_t index, bool late_there, struct err *e)
{
    const struct facility *f = w->f;
    const struct colony *c = &f->colonies[index];
    const struct kind *k = &f->kinds[c->kind];
    int day = w->request->day;
    char until[HOLD_UNTIL_TEXT];

    if (!in_use(f, c) || k->feeding == FEEDING_NONE)
        return true;
    if (on_hold(c->hold_reason, c->hold_until, day)) {
        hold_until_text(c->hold_until, until);
        return waiting_add(w, index, e, "hold: %s, %s", c->hold_reason, until);
    }
    if (w->needs[c->tank].skipped)
        return true;
    struct due d = measure(w, index, late_there);
    long feeds = feeds_today(w, index), fed = w->n_fed[index];
    if (fed >= feeds || (fed == 0 && !isnan(d.since_d) && d.since_d < d.interval_d))
        return true;
    double here_d = days_since(c->arrived, day);
    if (kind_is_given(k) && here_d < f->settings.arrival_wait_d)
        return waiting_add(w, index, e, "arrived %g d ago: no target feed in the first %g d", here_d,
                           f->settings.arrival_wait_d);
    struct feeding_time when = feeding_time(w, index);
    if (!when.now)
        return wait_for_round(w, &d, &when, e);
    if (!kind_is_given(k)) {
        if (f->tanks[c->tank].broadcast) {
            w->needs[c->tank].broadcast = true;
            w->needs[c->tank].lives_by_it |= k->need == NEED_OBLIGATE;
        }
        return true;
    }
    if (feeds > 1)
        take_share(w, &d, feeds, fed);
    w->dues[w->n_dues++] = d;
    return true;
}

static int more_urgent(const void *left, const void *right)
{
    const struct due *a = left, *b = right;
    if ((a->need == NEED_OBLIGATE) != (b->need == NEED_OBLIGATE))
        return a->need == NEED_OBLIGATE ? -1 : 1;
    if (a->urgency != b->urgency)
        return a->urgency > b->urgency ? -1 : 1;
    return (a->colony > b->colony) - (a->colony < b->colony);
}

static bool tanks_left_out(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    char until[HOLD_UNTIL_TEXT];
    for (size_t i = 0; i < w->request->n_skip_tanks; i++) {
        size_t t = facility_named(f, REG_TANK, w->request->skip_tanks[i]);
        if (t == REF_NONE)
            return err_set(e, ERR_INPUT, NULL, "there is no tank \"%.60s\" to skip", w->request->skip_tanks[i]);
        w->needs[t].skipped = true;
        if (!caution_add(w, CAUTION_HEED, e, "Tank %s is left out today.", f->tanks[t].name))
            return false;
    }
    for (size_t t = 0; t < f->n_tanks; t++) {
        const struct tank *tank = &f->tanks[t];
        if (tank->retired || !on_hold(tank->hold_reason, tank->hold_until, w->request->day))
            continue;
        hold_until_text(tank->hold_until, until);
        w->needs[t].skipped = true;
        if (!caution_add(w, CAUTION_HEED, e, "Tank %s is on hold, %s: %s. Nothing is fed there.", tank->name, until,
                         tank->hold_reason))
            return false;
    }
    return true;
}

/* Of a tank and a system that are in use. */
static bool has_corals(const struct facility *f, size_t tank)
{
    for (size_t i = 0; i < f->n_colonies; i++)
        if (f->colonies[i].tank == tank && in_use(f, &f->colonies[i]))
            return true;
    return false;
}

/* Of the day's broadcast, what other rounds gave a tank or are to give it. */
static double broadcast_by_others(const struct working *w, size_t tank)
{
    const struct facility *f = w->f;
    double most = 0;
    for (size_t food = 0; food < f->n_foods; food++) {
        double whole = f->foods[food].broadcast_units_per_100l * f->tanks[tank].net_l / 100, units = 0;
        for (size_t i = 0; whole > 0 && i < w->n_others; i++) {
            const struct day_use *u = w->others[i];
            if (u->tank == tank && u->food == food && u->action == ACTION_BROADCAST)
                units += u->units;
        }
        most = units > 0 ? fmax(most, units / whole) : most;
    }
    return most;
}

/*
 * Once a day, in the first round in which somebody there is due; or on the days, in the rounds and the parts that its
 * system's plan says.
 */
static void plan_broadcast(struct working *w, size_t t)
{
    const struct tank *tank = &w->f->tanks[t];
    struct tank_need *need = &w->needs[t];
    double plan = broadcast_plan_frac(w->f, tank->system, w->round, w->request->day), given = broadcast_by_others(w, t);
    need->broadcast_frac = isnan(plan) ? (given > 0 ? 0 : 1) : fmin(plan, fmax(0, 1 - given));
    if (!isnan(plan))
        need->broadcast = tank->broadcast && !need->skipped && has_corals(w->f, t);
    need->broadcast = need->broadcast && need->broadcast_frac > 0;
    need->lives_by_it = need->lives_by_it && need->broadcast;
}

/* Lights that nobody entered, and corals that no round of the week suits: fed like all others, and said. */
static bool caution_light(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    bool *said = arena_alloc(w->a, f->n_systems * f->n_kinds, sizeof *said), known;
    if (!said)
        return err_memory(e);
    for (size_t i = 0; i < w->n_dues; i++) {
        const struct due *d = &w->dues[i];
        size_t kind = f->colonies[d->colony].kind;
        bool dark = f->kinds[kind].fed_in == FED_DARK, *told = &said[d->system * f->n_kinds + kind];
        if (f->kinds[kind].fed_in == FED_ANY || w->n_todays == 0 || *told)
            continue;
        is_dark(f, d->tank, 0, &known);
        if (known && !feeding_time(w, d->colony).never)
            continue;
        *told = true;
        if (!(known ? caution_add(
                          w, CAUTION_HEED, e,
                          "No round is held while the lights of %s are %s: its %s are fed now all the same. See that "
                          "they are open.",
                          f->systems[d->system].name, dark ? "off" : "on", f->kinds[kind].name)
                    : caution_add(
                          w, CAUTION_HEED, e,
                          "%s: when its lights go on and off is not entered, so its %s, which open %s, are fed in any "
                          "round.",
                          f->systems[d->system].name, f->kinds[kind].name, dark ? "after dark" : "by day")))
            return false;
    }
    return true;
}

bool working_dues(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    w->dues = arena_alloc(w->a, f->n_colonies, sizeof *w->dues);
    w->waitings = arena_alloc(w->a, f->n_colonies, sizeof *w->waitings);
    w->needs = arena_alloc(w->a, f->n_tanks, sizeof *w->needs);
    if (!w->dues || !w->waitings || !w->needs)
        return err_memory(e);
    if (!tanks_left_out(w, e))
        return false;
    bool late_there = late_food_there(w), known;
    for (size_t t = 0; t < f->n_tanks; t++)
        w->needs[t].dark = is_dark(f, t, request_start_min(f, w->request), &known);
    for (size_t i = 0; i < f->n_colonies; i++)
        if (!consider(w, i, late_there, e))
            return false;
    qsort(w->dues, w->n_dues, sizeof *w->dues, more_urgent);
    for (size_t i = 0; i < w->n_dues; i++)
        w->needs[w->dues[i].tank].broadcast = f->tanks[w->dues[i].tank].broadcast;
    for (size_t t = 0; t < f->n_tanks; t++)
        plan_broadcast(w, t);
    return caution_light(w, e);
}

static bool is_broadcast(const struct working *w, size_t tank)
{
    for (size_t i = 0; i < w->recipe.n_broadcasts; i++)
        if (w->recipe.broadcasts[i].tank == tank && w->recipe.broadcasts[i].amount > 0)
            return true;
    return false;
}

static bool house_broadcasts(const struct facility *f)
{
    for (size_t i = 0; i < f->n_foods; i++)
        if (!f->foods[i].retired && f->foods[i].broadcast_units_per_100l > 0)
            return true;
    return false;
}

/* Kinds with light to live by are named only where the house gives their tank a broadcast and today it gets none. */
bool working_unfed(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    bool house = house_broadcasts(f);
    struct due d;
    for (size_t i = 0; i < f->n_colonies; i++) {
        const struct kind *k = &f->kinds[f->colonies[i].kind];
        const struct tank *t = &f->tanks[f->colonies[i].tank];
        if (k->feeding != FEEDING_BROADCAST || w->needs[f->colonies[i].tank].skipped || !due_in_turn(w, i, &d) ||
            d.since_d < d.interval_d || is_broadcast(w, d.tank) || w->n_fed[i] > 0 || !feeding_time(w, i).now ||
            (k->need != NEED_OBLIGATE && !(house && t->broadcast)))
            continue;
        if (!waiting_add_due(w, &d,
                             !t->broadcast ? "its tank is set to get no broadcast, and it is fed by nothing else"
                             : !house      ? "no food of the house is broadcast, and it is fed by nothing else"
                             : !w->needs[d.tank].broadcast
                                 ? "its system's broadcast plan has none in this round"
                                 : "no broadcast in its tank today: ceiling, room or stock leave none",
                             e))
            return false;
    }
    return true;
}
