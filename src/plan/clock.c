/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Who does what at which minute: the round's hands-on work, put into the order's plain numbers. */
#include "neap/ledger.h"
#include "neap/working.h"

enum {
    SEARCH_STEPS = 20000,
    EXACT_WORK = 450000, /* some 0.07 s on a desk computer of 2020; docs/order.md says what more would find */
    WATCHED_TIMES = 20   /* where somebody looks on, who can end it */
};

static int whole_minutes(double seconds)
{
    return (int)ceil(seconds / 60 - 1e-9);
}

/* What is asked of each tank and each system, gathered by going through the farm once. */
struct gathered {
    long *of_tank, *of_system; /* foods broadcast to it */
    /* per system: a tank that must get nothing today, but would get its part of what goes into the shared water */
    size_t *left_out;
    int *pump; /* per tank: the first tank with its pump's name; -1: a pump of its own */
};

static int by_pump(const void *left, const void *right)
{
    const struct tank *const *a = left, *const *b = right;
    const int names = strcmp((*a)->pump, (*b)->pump);
    return names ? names : (*a > *b) - (*a < *b);
}

/* Tanks with one pump name stop together. */
static bool gather_pumps(const struct working *w, struct gathered *g)
{
    const struct facility *f = w->f;
    const struct tank **sorted = arena_alloc(w->a, f->n_tanks, sizeof(const struct tank *));
    if (!sorted)
        return false;
    for (size_t t = 0; t < f->n_tanks; t++)
        sorted[t] = &f->tanks[t];
    qsort(sorted, f->n_tanks, sizeof *sorted, by_pump);
    for (size_t i = 0, first = 0; i < f->n_tanks; i++) {
        if (strcmp(sorted[i]->pump, sorted[first]->pump) != 0)
            first = i;
        g->pump[sorted[i] - f->tanks] = *sorted[i]->pump ? (int)(sorted[first] - f->tanks) : -1;
    }
    return true;
}

static bool gather_broadcasts(const struct working *w, struct gathered *g)
{
    const struct facility *f = w->f;
    bool *seen = arena_alloc(w->a, f->n_systems, f->n_foods * sizeof *seen);
    for (size_t i = 0; seen && i < w->recipe.n_broadcasts; i++) {
        const struct recipe_broadcast *b = &w->recipe.broadcasts[i];
        const size_t system = f->tanks[b->tank].system, at = system * f->n_foods + b->food;
        if (b->amount <= 0)
            continue;
        g->of_tank[b->tank]++;
        g->of_system[system] += !seen[at];
        seen[at] = true;
    }
    return seen != NULL;
}

static bool gather(const struct working *w, struct gathered *g)
{
    const struct facility *f = w->f;
    *g = (struct gathered){.of_tank = arena_alloc(w->a, f->n_tanks, sizeof(long)),
                           .of_system = arena_alloc(w->a, f->n_systems, sizeof(long)),
                           .left_out = arena_alloc(w->a, f->n_systems, sizeof(size_t)),
                           .pump = arena_alloc(w->a, f->n_tanks, sizeof(int))};
    if (!g->of_tank || !g->of_system || !g->left_out || !g->pump)
        return false;
    for (size_t s = 0; s < f->n_systems; s++)
        g->left_out[s] = REF_NONE;
    for (size_t t = f->n_tanks; t-- > 0;)
        if (!f->tanks[t].retired && w->needs[t].skipped)
            g->left_out[f->tanks[t].system] = t;
    return gather_broadcasts(w, g) && gather_pumps(w, g);
}

/* Foods broadcast to a tank; to one that shares its water, those of all its tanks, since they are given together. */
static long broadcasts_at(const struct working *w, const struct gathered *g, size_t tank, bool shared)
{
    return g->of_tank[tank] > 0 && shared ? g->of_system[w->f->tanks[tank].system] : g->of_tank[tank];
}

static bool is_shared(const struct working *w, const struct gathered *g, size_t system)
{
    return w->f->systems[system].broadcast_once && g->left_out[system] == REF_NONE;
}

double broadcast_place_m(const struct facility *f, size_t system)
{
    double place_m = f->systems[system].broadcast_position_m;
    if (!isnan(place_m))
        return place_m;
    for (size_t t = 0; t < f->n_tanks; t++)
        if (f->tanks[t].system == system && !f->tanks[t].retired)
            place_m = fmin(place_m, f->tanks[t].position_m);
    return isnan(place_m) ? 0 : place_m;
}

/* Share number n is the n-th system; whether its tanks share is said by each of them. */
static bool make_shares(struct working *w, const struct gathered *g, struct err *e)
{
    const struct facility *f = w->f;
    struct order_share *shares = arena_alloc(w->a, f->n_systems, sizeof *shares);
    if (!shares)
        return err_memory(e);
    for (size_t s = 0; s < f->n_systems; s++) {
        size_t out = g->left_out[s];
        shares[s].position_m = broadcast_place_m(f, s);
        if (g->of_system[s] > 0 && f->systems[s].broadcast_once && out != REF_NONE &&
            !caution_add(
                w, CAUTION_HEED, e,
                "%s: broadcast tank by tank today, at the tank. %s is to get nothing, and what goes into the shared "
                "water would reach it at once.",
                f->systems[s].name, f->tanks[out].name))
            return false;
    }
    w->order_problem.shares = shares;
    w->order_problem.n_shares = f->n_systems;
    return true;
}

/* The pot of a tank; any will do for one that is only broadcast. */
static int pot_number(const struct working *w, size_t tank)
{
    size_t group = w->recipe.group[w->f->tanks[tank].system];
    return group == RECIPE_NONE ? 0 : (int)group;
}

static int along_the_rack(const void *left, const void *right)
{
    const struct due *const *a = left, *const *b = right;
    if ((*a)->tank != (*b)->tank)
        return (*a)->tank < (*b)->tank ? -1 : 1;
    return ((*a)->colony > (*b)->colony) - ((*a)->colony < (*b)->colony);
}

/* Colonies are sorted by code, which is how they stand on a rack. */
static bool order_racks(struct working *w)
{
    const struct due **sorted = arena_alloc(w->a, w->n_dues, sizeof(const struct due *));
    w->rack_order = arena_alloc(w->a, w->n_dues, sizeof *w->rack_order);
    w->rack_first = arena_alloc(w->a, w->f->n_tanks + 1, sizeof *w->rack_first);
    if (!sorted || !w->rack_order || !w->rack_first)
        return false;
    for (size_t i = 0; i < w->n_dues; i++)
        sorted[i] = &w->dues[i];
    qsort(sorted, w->n_dues, sizeof *sorted, along_the_rack);
    for (size_t t = 0, i = 0; t < w->f->n_tanks; t++) {
        for (; i < w->n_dues && sorted[i]->tank == t; i++)
            w->rack_order[i] = (size_t)(sorted[i] - w->dues);
        w->rack_first[t + 1] = i;
    }
    return true;
}

/* Of a lot's colonies, in the order of the rack: refills of the syringe go by what each of them takes. */
static double each_seconds(const struct working *w, const struct due *d)
{
    const struct settings *s = &w->f->settings;
    double count = (double)w->f->colonies[d->colony].count;
    return (d->hands_s + in_water(s, d->need_ml) / s->syringe_ml * s->refill_s) / count;
}

/* The due lots of a tank as the order's, by code, which is how they stand on a rack. */
static bool put_lots(const struct working *w, size_t tank, struct order_tank *t)
{
    const size_t first = w->rack_first[tank];
    struct order_lot *lots = arena_alloc(w->a, w->rack_first[tank + 1] - first, sizeof *lots);
    for (size_t k = first; lots && k < w->rack_first[tank + 1]; k++) {
        const struct due *d = &w->dues[w->rack_order[k]];
        lots[t->n_lots++] = (struct order_lot){each_seconds(w, d), w->f->colonies[d->colony].count};
    }
    t->lots = lots;
    return lots != NULL;
}

static double feed_seconds(const struct working *w, size_t tank, double *off_wanted_min)
{
    const struct settings *s = &w->f->settings;
    double seconds = 0, off_min = 0;
    for (size_t k = w->rack_first[tank]; k < w->rack_first[tank + 1]; k++) {
        const struct due *d = &w->dues[w->rack_order[k]];
        const struct colony *c = &w->f->colonies[d->colony];
        seconds += each_seconds(w, d) * (double)c->count;
        off_min = fmax(off_min, w->f->kinds[c->kind].flow_off_min);
    }
    *off_wanted_min = off_min;
    if (w->rack_first[tank] == w->rack_first[tank + 1])
        return 0;
    return fmax(1, s->tank_fixed_s + seconds); /* a tank without any work gets no visit, and its corals no food */
}

static struct order_tank order_tank_of(const struct working *w, const struct gathered *g, size_t tank)
{
    const struct facility *f = w->f;
    const struct settings *s = &f->settings;
    double off_wanted_min;
    bool shared = is_shared(w, g, f->tanks[tank].system);
    struct order_tank t = {
        .name = f->tanks[tank].name,
        .position_m = f->tanks[tank].position_m,
        .broadcast_min = whole_minutes((double)broadcasts_at(w, g, tank, shared) * s->broadcast_s),
        .fish_min = w->needs[tank].fish_units > 0 ? whole_minutes(s->fish_s) : 0,
        .feed_s = (int)ceil(feed_seconds(w, tank, &off_wanted_min) - 1e-6),
        .settle_s = (int)ceil(s->tank_fixed_s),
        .rest_min = (int)s->rest_min,
        .off_limit_min = (int)off_limit_min(f, tank, request_start_min(f, w->request)),
        .quarantine = f->systems[f->tanks[tank].system].quarantine,
        .pump = g->pump[tank],
        .pot = pot_number(w, tank),
        .share = shared ? (int)f->tanks[tank].system + 1 : 0,
        .fixed_rank = -1,
    };
    t.off_wanted_min = (int)off_wanted_min;
    return t;
}

/* Corals that open, or eat best, early in the day. */
static bool has_early(const struct working *w, size_t tank)
{
    for (size_t k = w->rack_first[tank]; k < w->rack_first[tank + 1]; k++)
        if (w->f->kinds[w->f->colonies[w->dues[w->rack_order[k]].colony].kind].early)
            return true;
    return false;
}

int visit_rank(const struct facility *f, const struct plan_request *q, size_t tank, bool early)
{
    for (size_t i = 0; i < q->n_first_tanks; i++)
        if (facility_named(f, REG_TANK, q->first_tanks[i]) == tank)
            return (int)i;
    return (int)q->n_first_tanks + !early;
}

/* The order keeps quarantine last all the same. Where nobody goes first there are no ranks. */
static bool rank_tanks(struct working *w, struct order_tank *tanks, size_t n, struct err *e)
{
    const struct plan_request *q = w->request;
    bool any = q->n_first_tanks > 0;
    for (size_t t = 0; t < n; t++)
        any = any || has_early(w, w->order_tanks[t]);
    for (size_t t = 0; any && t < n; t++)
        tanks[t].fixed_rank = visit_rank(w->f, q, w->order_tanks[t], has_early(w, w->order_tanks[t]));
    for (size_t i = 0; i < q->n_first_tanks; i++) {
        size_t tank = facility_named(w->f, REG_TANK, q->first_tanks[i]), t = 0;
        if (tank == REF_NONE)
            return err_set(e, ERR_INPUT, NULL, "there is no tank \"%.60s\" to be first", q->first_tanks[i]);
        while (t < n && w->order_tanks[t] != tank)
            t++;
        if (t < n && tanks[t].fixed_rank < (int)i)
            return err_set(e, ERR_INPUT, NULL, "tank \"%.60s\" is to be first twice; expected once", q->first_tanks[i]);
        if (t == n &&
            !caution_add(w, CAUTION_HEED, e, "Tank %s was to be first; it gets nothing today.", q->first_tanks[i]))
            return false;
    }
    return true;
}

static bool make_tanks(struct working *w, const struct gathered *g, struct err *e)
{
    const struct facility *f = w->f;
    struct order_tank *tanks = arena_alloc(w->a, f->n_tanks, sizeof *tanks);
    w->order_tanks = arena_alloc(w->a, f->n_tanks, sizeof *w->order_tanks);
    if (!tanks || !w->order_tanks || !order_racks(w))
        return err_memory(e);
    size_t n = 0;
    for (size_t t = 0; t < f->n_tanks; t++) {
        struct order_tank tank = order_tank_of(w, g, t);
        if (tank.settle_s > tank.feed_s)
            tank.settle_s = tank.feed_s;
        if (tank.feed_s > 0 && !put_lots(w, t, &tank))
            return err_memory(e);
        if (tank.broadcast_min == 0 && tank.feed_s == 0)
            continue;
        tanks[n] = tank;
        w->order_tanks[n++] = t;
    }
    w->order_problem.tanks = w->order_rows = tanks;
    w->order_problem.n_tanks = n;
    return rank_tanks(w, tanks, n, e);
}

static long feeders_asked(const struct working *w)
{
    return request_feeders(w->f, w->request);
}

static bool lates_known(const struct working *w, struct err *e)
{
    for (size_t i = 0; i < w->request->n_lates; i++) {
        const struct late_feeder *late = &w->request->lates[i];
        if (late->feeder < 1 || late->feeder > feeders_asked(w))
            return err_set(e, ERR_INPUT, NULL,
                           "feeder %ld is late, but the round has %ld feeder%s; expected one of them", late->feeder,
                           feeders_asked(w), feeders_asked(w) == 1 ? "" : "s");
        for (size_t k = 0; k < i; k++)
            if (w->request->lates[k].feeder == late->feeder)
                return err_set(e, ERR_INPUT, NULL, "feeder %ld is late twice; expected one time", late->feeder);
    }
    return true;
}

/* The feeders of a round that starts at a minute; who comes late is ready on coming. */
static bool make_feeders(struct working *w, int start_min, struct err *e)
{
    size_t n = (size_t)feeders_asked(w);
    struct order_feeder *feeders = arena_alloc(w->a, n, sizeof *feeders);
    if (!feeders)
        return err_memory(e);
    for (size_t i = 0; i < n; i++)
        feeders[i] = (struct order_feeder){.ready_min = start_min};
    for (size_t i = 0; i < w->request->n_lates; i++) {
        struct order_feeder *late = &feeders[w->request->lates[i].feeder - 1];
        late->ready_min = w->request->lates[i].from_min > start_min ? w->request->lates[i].from_min : start_min;
    }
    w->order_problem.feeders = feeders;
    w->order_problem.n_feeders = n;
    return true;
}

void order_settings(const struct settings *s, const struct plan_request *q, struct order_problem *p)
{
    const double effort = q->effort > 0 ? q->effort : 1;
    order_defaults(p);
    p->lag_min = (int)s->lag_min_min;
    p->lag_max = (int)s->lag_max_min;
    p->walk_m_per_min = s->walk_m_per_min;
    p->switch_min = (int)s->switch_min;
    p->tool_change_min = (int)s->tool_change_min;
    p->pot_change_min = (int)s->pot_change_min;
    p->slurry_age_limit_min = (int)s->slurry_life_min;
    p->flow_on_gap_min = (int)s->flow_on_gap_min;
    p->search_steps = (long)(SEARCH_STEPS * effort);
    p->exact_work = (long)(EXACT_WORK * effort * (q->watch ? WATCHED_TIMES : 1));
    p->watch = q->watch;
}

static bool order_from(struct working *w, int start_min, struct err *e)
{
    struct err why;
    order_plan_free(&w->order);
    if (!make_feeders(w, start_min, e))
        return false;
    if (order_make(&w->order_problem, &w->order, &why))
        return true;
    return err_set(e, why.code, NULL, "%s", why.text);
}

/* All minutes of the plan later (or earlier) by so many: without late feeders nothing in it holds to the hour. */
static bool shift_order(struct working *w, int by_min, struct err *e)
{
    struct order_plan *plan = &w->order;
    for (size_t i = 0; i < plan->n_steps; i++) {
        plan->steps[i].start_min += by_min;
        plan->steps[i].end_min += by_min;
    }
    plan->start_min += by_min;
    plan->finish_min += by_min;
    plan->lower_bound_min += by_min;
    struct err why;
    if (!make_feeders(w, plan->start_min, e))
        return false;
    return order_check(&w->order_problem, plan, NULL, &why) ||
           err_set(e, why.code, NULL, "moved to its end: %s", why.text);
}

static bool cannot_be_done_by(const struct working *w, int done_by_min, struct err *e)
{
    char by[CLOCK_TEXT], earliest[CLOCK_TEXT];
    clock_format(done_by_min, by);
    clock_format(EARLIEST_START_MIN, earliest);
    return err_set(e, ERR_INPUT, NULL,
                   "the round takes %d min and cannot be done by %s from %s on; expected a later end, more feeders or "
                   "tanks left out",
                   w->order.finish_min - w->order.start_min, by, earliest);
}

/*
 * Late feeders come when they come, so the length of the round depends on its start: each try moves the start by what
 * the last one missed the end by, and the latest start that met it is taken.
 */
enum { DONE_BY_TRIES = 5 };

static bool order_done_by(struct working *w, int done_by_min, struct err *e)
{
    int start_min = w->order.start_min, best_min = INT_MIN, by_min = done_by_min - w->order.finish_min;
    if (w->request->n_lates == 0)
        return start_min + by_min >= EARLIEST_START_MIN ? shift_order(w, by_min, e)
                                                        : cannot_be_done_by(w, done_by_min, e);
    for (int tries = 0; tries < DONE_BY_TRIES && by_min != 0; tries++) {
        start_min += by_min;
        if (start_min < EARLIEST_START_MIN)
            break;
        if (!order_from(w, start_min, e))
            return false;
        by_min = done_by_min - w->order.finish_min;
        if (by_min >= 0 && start_min > best_min)
            best_min = start_min;
    }
    if (by_min == 0)
        return true;
    return best_min > INT_MIN ? order_from(w, best_min, e) : cannot_be_done_by(w, done_by_min, e);
}

/*
 * Which light a stop falls into is known once the clock is: where its lights are off then, its limit is the shorter one
 * of the dark. Did any limit fall? They never rise, so this ends.
 */
static bool limits_of_the_dark(struct working *w)
{
    struct order_tank *rows = w->order_rows;
    bool fell = false;
    for (size_t i = 0; i < w->order.n_steps; i++) {
        const struct order_step *s = &w->order.steps[i];
        if (s->action != ORDER_FLOW_OFF)
            continue;
        int limit = (int)off_limit_min(w->f, w->order_tanks[s->tank], s->start_min), pump = rows[s->tank].pump;
        for (size_t t = 0; t < w->order_problem.n_tanks; t++)
            if ((t == s->tank || (pump >= 0 && rows[t].pump == pump)) && rows[t].off_limit_min > limit) {
                rows[t].off_limit_min = limit;
                fell = true;
            }
    }
    return fell;
}

static bool order_as_asked(struct working *w, struct err *e)
{
    const struct plan_request *q = w->request;
    return order_from(w, request_start_min(w->f, q), e) &&
           (q->done_by_min <= 0 || w->order.n_steps == 0 || order_done_by(w, q->done_by_min, e));
}

static bool order_within_limits(struct working *w, struct err *e)
{
    do {
        if (!order_as_asked(w, e))
            return false;
    } while (limits_of_the_dark(w));
    return true;
}

bool working_order(struct working *w, struct err *e)
{
    const struct plan_request *q = w->request;
    if (q->done_by_min > 0 && q->start_min >= 0)
        return err_set(e, ERR_INPUT, NULL, "both a start and an end are asked for; expected one of them");
    order_settings(&w->f->settings, q, &w->order_problem);
    struct gathered g;
    return lates_known(w, e) && (gather(w, &g) || err_memory(e)) && make_shares(w, &g, e) && make_tanks(w, &g, e) &&
           order_within_limits(w, e);
}

bool working_order_mixing(struct working *w, struct err *e)
{
    const struct settings *s = &w->f->settings;
    w->order_problem.pot_change_min = (int)ceil(fmax(s->pot_change_min, s->pot_mix_min));
    return order_within_limits(w, e);
}
