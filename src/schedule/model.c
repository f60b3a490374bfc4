/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From tanks to tasks for hands: pumps, stops, passes, and which broadcast is for whom. */
#include "schedule/rules.h"

/* ---- what cannot be served --------------------------------------------------------------------------------- */

static bool setting_check(const char *name, int value, int low, int high, struct err *e)
{
    if (value >= low && value <= high)
        return true;
    return err_set(e, ERR_INPUT, NULL, "%s is %d; expected %d to %d", name, value, low, high);
}

/* "tank D1", or "tank 4" where the problem has no names. */
struct tank_words {
    char text[80];
};

static struct tank_words tank_words(const struct order_problem *p, size_t tank)
{
    struct tank_words w;
    if (p->tanks[tank].name)
        snprintf(w.text, sizeof w.text, "tank %s", p->tanks[tank].name);
    else
        snprintf(w.text, sizeof w.text, "tank %zu", tank);
    return w;
}

static bool tank_number_check(const struct order_problem *p, size_t tank, const char *name, int value, int low,
                              int high, struct err *e)
{
    if (value >= low && value <= high)
        return true;
    return err_set(e, ERR_INPUT, NULL, "%s: %s is %d; expected %d to %d", tank_words(p, tank).text, name, value, low,
                   high);
}

static bool settings_check(const struct order_problem *p, struct err *e)
{
    if (p->n_feeders < 1 || p->n_feeders > ORDER_FEEDERS_MAX)
        return err_set(e, ERR_INPUT, NULL, "%zu feeders; expected 1 to %d", p->n_feeders, ORDER_FEEDERS_MAX);
    if (p->n_tanks > ORDER_TANKS_MAX)
        return err_set(e, ERR_INPUT, NULL, "%zu tanks; expected at most %d", p->n_tanks, ORDER_TANKS_MAX);
    if (!isfinite(p->walk_m_per_min) || p->walk_m_per_min <= 0)
        return err_set(e, ERR_INPUT, NULL, "walking speed is %g m/min; expected more than 0", p->walk_m_per_min);
    if (!isfinite(p->walk_free_m) || p->walk_free_m < 0)
        return err_set(e, ERR_INPUT, NULL, "free way is %g m; expected 0 or more", p->walk_free_m);
    for (size_t i = 0; i < p->n_shares; i++)
        if (!(fabs(p->shares[i].position_m) <= ORDER_MINUTES_MAX))
            return err_set(e, ERR_INPUT, NULL, "share %zu: position is %g m; expected -%d to %d", i + 1,
                           p->shares[i].position_m, ORDER_MINUTES_MAX, ORDER_MINUTES_MAX);
    for (size_t j = 0; j < p->n_feeders; j++) {
        if (!setting_check("a feeder's ready minute", p->feeders[j].ready_min, -ORDER_MINUTES_MAX, ORDER_MINUTES_MAX,
                           e))
            return false;
    }
    return setting_check("least lag", p->lag_min, 0, ORDER_MINUTES_MAX, e) &&
           setting_check("longest lag", p->lag_max, p->lag_min, ORDER_MINUTES_MAX, e) &&
           setting_check("time to switch a pump", p->switch_min, 0, ORDER_MINUTES_MAX, e) &&
           setting_check("tool change", p->tool_change_min, 0, ORDER_MINUTES_MAX, e) &&
           setting_check("pot change", p->pot_change_min, 0, ORDER_MINUTES_MAX, e) &&
           setting_check("slurry age limit", p->slurry_age_limit_min, 0, ORDER_MINUTES_MAX, e) &&
           setting_check("flow-on gap", p->flow_on_gap_min, 0, ORDER_MINUTES_MAX, e);
}

static bool tank_check(const struct order_problem *p, size_t i, struct err *e)
{
    const struct order_tank *t = &p->tanks[i];
    const int most = ORDER_MINUTES_MAX;
    if (!(fabs(t->position_m) <= most))
        return err_set(e, ERR_INPUT, NULL, "%s: position is %g m; expected -%d to %d", tank_words(p, i).text,
                       t->position_m, most, most);
    return tank_number_check(p, i, "broadcast time", t->broadcast_min, 0, most, e) &&
           tank_number_check(p, i, "fish time", t->fish_min, 0, most, e) &&
           tank_number_check(p, i, "feeding time", t->feed_s, 0, 60 * most, e) &&
           tank_number_check(p, i, "time to settle", t->settle_s, 0, t->feed_s, e) &&
           tank_number_check(p, i, "wanted flow-off time", t->off_wanted_min, 0, most, e) &&
           tank_number_check(p, i, "rest", t->rest_min, 0, most, e) &&
           tank_number_check(p, i, "flow-off limit", t->off_limit_min, 0, most, e) &&
           tank_number_check(p, i, "pump", t->pump, -1, INT_MAX, e) &&
           tank_number_check(p, i, "pot", t->pot, 0, INT_MAX, e) &&
           tank_number_check(p, i, "share", t->share, 0, (int)p->n_shares, e) &&
           tank_number_check(p, i, "rank", t->fixed_rank, -1, INT_MAX, e);
}

/* ---- units, stops, tasks ----------------------------------------------------------------------------------- */

struct builder {
    struct order_model *m;
    const struct order_problem *p;
    size_t *members; /* the present unit's tanks */
    size_t n_members;
    size_t *pump;             /* per tank: the lowest tank on its pump */
    bool *stops, *quarantine; /* of the pump that is named by this tank */
    bool *joins;              /* per tank: its broadcast goes in with another tank's */
    struct err *e;
};

static int minutes_of(int seconds)
{
    return (seconds + 59) / 60;
}

static int task_add(struct order_model *m, struct order_task task)
{
    m->tasks[m->n_tasks] = task;
    return m->n_tasks++;
}

/* Walking along a visit: where the feeder stands and how far the visit has come. */
struct route {
    const struct order_problem *p;
    double at_m, in_m, walked_m;
    int min, walked_min;
    bool begun;
};

static void route_go(struct route *t, double to_m)
{
    if (!t->begun) {
        t->begun = true;
        t->in_m = to_m;
    } else {
        int walk = order_walk_min(t->p, t->at_m, to_m);
        t->min += walk;
        t->walked_min += walk;
        t->walked_m += fabs(to_m - t->at_m);
    }
    t->at_m = to_m;
}

/* ---- broadcasts -------------------------------------------------------------------------------------------- */

static bool is_broadcast(const struct order_tank *t)
{
    return t->broadcast_min > 0;
}

/* A shared one may have to do for all of the water's tanks, so it is as long as the longest of theirs. */
static int broadcast_minutes(const struct order_problem *p, size_t tank)
{
    const struct order_tank *t = &p->tanks[tank];
    int minutes = t->broadcast_min;
    for (size_t i = 0; t->share > 0 && i < p->n_tanks; i++)
        if (p->tanks[i].share == t->share && is_broadcast(&p->tanks[i]) && minutes < p->tanks[i].broadcast_min)
            minutes = p->tanks[i].broadcast_min;
    return minutes;
}

static double broadcast_place(const struct order_problem *p, size_t tank)
{
    const struct order_tank *t = &p->tanks[tank];
    return t->share > 0 ? p->shares[t->share - 1].position_m : t->position_m;
}

/* The first feed of the stop that has the same broadcast as its feed i. */
static size_t first_of_broadcast(const struct builder *b, const struct order_stop *s, size_t i)
{
    const struct order_feed *feeds = &b->m->feeds[s->first_feed];
    const int share = b->p->tanks[feeds[i].tank].share;
    for (size_t k = 0; share > 0 && k < i; k++)
        if (feeds[k].broadcast >= 0 && b->p->tanks[feeds[k].tank].share == share)
            return k;
    return i;
}

/* When the broadcast of feed i may end, from the visit's start: right for all feeds that have it. */
static struct order_span broadcast_window(const struct builder *b, const struct order_stop *s, size_t i)
{
    struct order_span w = {INT_MIN, INT_MAX};
    for (size_t k = i; k < s->n_feeds; k++) {
        const struct order_feed *f = &b->m->feeds[s->first_feed + k];
        if (f->broadcast < 0 || first_of_broadcast(b, s, k) != i)
            continue;
        const struct order_span one = rules_broadcast_end(b->p, s, f);
        w = (struct order_span){greater(w.from_min, one.from_min), lesser(w.by_min, one.by_min)};
    }
    return w;
}

/* Can one feeder who is alone give all broadcasts of the stop in time, each as late as it may be, the last first? */
static bool broadcasts_lay_out(const struct builder *b, const struct order_stop *s, double visit_m)
{
    const struct order_problem *p = b->p;
    int next_start = -rules_pot_change_min(b->m);
    double next_m = visit_m;
    for (size_t i = s->n_feeds; i-- > 0;) {
        const struct order_feed *f = &b->m->feeds[s->first_feed + i];
        if (f->broadcast < 0 || first_of_broadcast(b, s, i) != i)
            continue;
        const struct order_span w = broadcast_window(b, s, i);
        const int end = lesser(next_start - order_walk_min(p, broadcast_place(p, f->tank), next_m), w.by_min);
        if (end < w.from_min)
            return false;
        next_start = end - broadcast_minutes(p, f->tank);
        next_m = broadcast_place(p, f->tank);
    }
    return true;
}

/*
 * Times the stop's fish, flow off and corals, one feeder walking from tank to tank. Fills the stop's offsets and the
 * visit's task; says whether the stop fits the flow-off limit, the slurry's age and every lag window, even for a
 * feeder who is alone.
 */
static bool stop_lay_out(const struct builder *b, struct order_stop *s, struct order_task *visit, int limit_min)
{
    const struct order_problem *p = b->p;
    const struct order_unit *u = &b->m->units[s->unit];
    struct order_feed *feeds = &b->m->feeds[s->first_feed];
    const int pot_change = rules_pot_change_min(b->m);
    struct route t = {.p = p};

    for (size_t i = 0; i < s->n_feeds; i++)
        if (feeds[i].fish_min > 0) {
            route_go(&t, p->tanks[feeds[i].tank].position_m);
            feeds[i].fish_at_min = t.min;
            t.min += feeds[i].fish_min;
        }
    route_go(&t, p->tanks[u->tank].position_m);
    s->off_at_min = t.min;
    t.min += p->switch_min;
    s->on_after_min = 0;
    for (size_t i = 0; i < s->n_feeds; i++) {
        const struct order_tank *tank = &p->tanks[feeds[i].tank];
        route_go(&t, tank->position_m);
        feeds[i].at_min = t.min;
        t.min += feeds[i].dur_min;
        const struct order_off off = {s->off_at_min, t.min, tank->rest_min, feeds[i].wanted_min, limit_min};
        const struct order_span on = order_flow_on(p, &off);
        s->on_after_min = greater(s->on_after_min, on.from_min);
        s->on_by_min = on.by_min + p->switch_min;
    }
    visit->dur_min = t.min;
    visit->in_m = t.in_m;
    visit->out_m = t.at_m;
    visit->inner_walk_min = t.walked_min;
    visit->inner_walk_m = t.walked_m;
    int back = t.min + order_walk_min(p, t.at_m, p->tanks[u->tank].position_m);
    if ((s->on_after_min > back ? s->on_after_min : back) + p->switch_min > s->on_by_min)
        return false;
    if (pot_change + visit->dur_min > rules_pot_until_min(p, 0))
        return false;

    return broadcasts_lay_out(b, s, visit->in_m);
}

/* Why one tank alone cannot be fed at all, not even for a minute. s was laid out for that. */
static bool tank_impossible(const struct builder *b, const struct order_stop *s)
{
    const struct order_problem *p = b->p;
    const struct order_feed *f = &b->m->feeds[s->first_feed];
    const int limit = b->m->units[s->unit].off_limit_min, off = s->on_after_min - s->off_at_min + p->switch_min;
    if (off > limit)
        return err_set(b->e, ERR_INPUT, NULL,
                       "%s: its flow may be off for %d min (flow_off_limit_min); expected at least %d: a minute's "
                       "feed, %d min rest (rest_min), ways and switching (switch_min)",
                       tank_words(p, f->tank).text, limit, off, p->tanks[f->tank].rest_min);
    const int pot_change = rules_pot_change_min(b->m);
    int visit = pot_change + f->at_min + f->dur_min;
    if (p->slurry_age_limit_min > 0 && p->slurry_age_limit_min < visit)
        return err_set(b->e, ERR_INPUT, NULL,
                       "%s: a slurry may be %d min old (slurry_life_min); expected at least %d: pot change "
                       "(pot_change_min), fish (fish_s), flow off (switch_min) and a minute's feed",
                       tank_words(p, f->tank).text, p->slurry_age_limit_min, visit);
    double visit_m = p->tanks[f->fish_min > 0 ? f->tank : b->m->units[s->unit].tank].position_m;
    return err_set(b->e, ERR_INPUT, NULL,
                   "%s: target feed is to begin at most %d min after its broadcast (lag_max_min); expected at least "
                   "%d: pot change (pot_change_min), fish (fish_s), ways and flow off (switch_min)",
                   tank_words(p, f->tank).text, p->lag_max,
                   pot_change + order_walk_min(p, broadcast_place(p, f->tank), visit_m) + f->at_min);
}

static struct order_stop *stop_open(struct builder *b, int unit)
{
    struct order_model *m = b->m;
    struct order_stop *s = &m->stops[m->n_stops];
    *s = (struct order_stop){.unit = unit, .first_feed = (size_t)m->n_feeds};
    return s;
}

static void stop_close(struct builder *b, struct order_stop *s)
{
    struct order_model *m = b->m;
    const struct order_unit *u = &m->units[s->unit];
    const struct order_tank *first = &b->p->tanks[m->feeds[s->first_feed].tank];
    struct order_task visit = {.kind = TASK_VISIT,
                               .unit = s->unit,
                               .stop = m->n_stops,
                               .pot = first->pot,
                               .tank = m->feeds[s->first_feed].tank,
                               .quarantine = u->quarantine};
    stop_lay_out(b, s, &visit, u->off_limit_min);
    s->visit = task_add(m, visit);
    double pump_m = b->p->tanks[u->tank].position_m;
    s->on = task_add(m, (struct order_task){.kind = TASK_ON,
                                            .unit = s->unit,
                                            .stop = m->n_stops,
                                            .tank = u->tank,
                                            .pot = -1,
                                            .dur_min = b->p->switch_min,
                                            .in_m = pump_m,
                                            .out_m = pump_m,
                                            .quarantine = u->quarantine});
    m->n_stops++;
}

/* Adds the tank's feed to the stop if it fits there; otherwise leaves the stop as it was. */
static bool stop_take(struct builder *b, struct order_stop *s, struct order_feed feed)
{
    struct order_model *m = b->m;
    struct order_task visit = {.kind = TASK_VISIT};
    m->feeds[m->n_feeds++] = feed;
    s->n_feeds++;
    if (stop_lay_out(b, s, &visit, m->units[s->unit].off_limit_min))
        return true;
    s->n_feeds--;
    m->n_feeds--;
    return false;
}

/* A feed of so many minutes in the pass'th of n_passes; the wanted flow-off time is shared among them. */
static struct order_feed feed_of(struct builder *b, int unit, size_t tank, int minutes, int pass, int n_passes)
{
    const struct order_tank *t = &b->p->tanks[tank];
    int limit = b->m->units[unit].off_limit_min, wanted = t->off_wanted_min < limit ? t->off_wanted_min : limit;
    struct order_feed f = {.tank = tank, .dur_min = minutes, .feed_s = minutes * 60, .broadcast = -1};
    f.wanted_min = (wanted + n_passes - 1) / n_passes;
    if (pass > 0)
        return f;
    f.fish_min = t->fish_min;
    if (is_broadcast(t))
        f.broadcast = INT_MAX; /* its task is made when the stop is closed */
    return f;
}

/* ---- passes between corals -------------------------------------------------------------------------------------- */

/* The next corals of a tank, in the order of feeding. */
struct lot_place {
    size_t lot;
    long gone; /* of that lot */
};

/* How many more corals a pass of so many seconds has time for; *used_s: what they take. */
static long pass_take(const struct order_tank *t, struct lot_place *at, double seconds, double *used_s)
{
    long fed = 0;
    *used_s = 0;
    while (at->lot < t->n_lots) {
        const struct order_lot *lot = &t->lots[at->lot];
        long there = lot->count - at->gone, n = there;
        if (lot->each_s > 0 && floor((seconds - *used_s) / lot->each_s + 1e-9) < (double)there)
            n = (long)floor((seconds - *used_s) / lot->each_s + 1e-9);
        fed += n;
        *used_s += (double)n * lot->each_s;
        at->gone += n;
        if (n < there)
            break;
        *at = (struct lot_place){at->lot + 1, 0};
    }
    return fed;
}

/* Passes of so many minutes that the tank's corals take; 0: not to be done with them, or not in most. */
static int passes_of(const struct order_tank *t, int minutes, int most)
{
    struct lot_place at = {0};
    double used_s;
    for (int n = 1; n <= most; n++) {
        if (pass_take(t, &at, 60.0 * minutes - t->settle_s, &used_s) == 0)
            return 0;
        if (at.lot == t->n_lots)
            return n;
    }
    return 0;
}

/* A feed that is a stop of its own. */
static void pass_add(struct builder *b, int unit, struct order_feed f)
{
    struct order_stop *s = stop_open(b, unit);
    s->n_feeds = 1;
    b->m->feeds[b->m->n_feeds++] = f;
    stop_close(b, s);
}

/* The longest pass that a stop of the tank alone has room for. */
static int longest_pass(struct builder *b, int unit, size_t tank)
{
    int minutes = minutes_of(b->p->tanks[tank].feed_s);
    for (; minutes > 0; minutes--)
        if (stop_take(b, stop_open(b, unit), feed_of(b, unit, tank, minutes, 0, 2))) {
            b->m->n_feeds--;
            break;
        }
    return minutes;
}

/*
 * A tank that needs more than one stop and whose lots are known: the fewest passes, as even as whole corals allow, each
 * with the time to settle. Where a stop has no time for a single coral, false: then it is cut by seconds, and who reads
 * the rows says so.
 */
static bool passes_add_lots(struct builder *b, int unit, size_t tank)
{
    const struct order_tank *t = &b->p->tanks[tank];
    const int most = minutes_of(t->feed_s); /* so many stops there is room for */
    if (t->n_lots == 0)
        return false;
    int minutes = longest_pass(b, unit, tank), n = passes_of(t, minutes, most);
    struct lot_place at = {0};
    if (n == 0)
        return false;
    while (minutes > 1 && passes_of(t, minutes - 1, most) == n)
        minutes--;
    for (int i = 0; i < n; i++) {
        double used_s;
        long fed = pass_take(t, &at, 60.0 * minutes - t->settle_s, &used_s);
        int feed_s = (int)ceil(used_s - 1e-6) + t->settle_s;
        struct order_feed f = feed_of(b, unit, tank, minutes_of(feed_s), i, n);
        f.feed_s = feed_s;
        f.fed = fed;
        pass_add(b, unit, f);
    }
    return true;
}

/* A tank that needs more than one stop: the fewest passes, as even as whole minutes allow, each a stop of its own. */
static bool passes_add(struct builder *b, int unit, size_t tank)
{
    if (passes_add_lots(b, unit, tank))
        return true;
    const int whole = minutes_of(b->p->tanks[tank].feed_s);
    struct order_stop *s;
    for (int n = 2; n <= whole; n++) {
        s = stop_open(b, unit);
        if (!stop_take(b, s, feed_of(b, unit, tank, (whole + n - 1) / n, 0, n)))
            continue;
        b->m->n_feeds = (int)s->first_feed;
        for (int i = 0, left_s = b->p->tanks[tank].feed_s; i < n; i++) {
            struct order_feed f = feed_of(b, unit, tank, whole / n + (i < whole % n), i, n);
            if (i == n - 1)
                f.feed_s = left_s;
            left_s -= f.feed_s;
            pass_add(b, unit, f);
        }
        return true;
    }
    struct order_task visit = {.kind = TASK_VISIT};
    s = stop_open(b, unit);
    s->n_feeds = 1;
    b->m->feeds[s->first_feed] = feed_of(b, unit, tank, 1, 0, whole);
    stop_lay_out(b, s, &visit, b->m->units[unit].off_limit_min);
    return tank_impossible(b, s);
}

static bool stops_add(struct builder *b, int unit)
{
    struct order_model *m = b->m;
    struct order_stop *s = NULL;
    m->units[unit].first_stop = m->n_stops;
    for (size_t i = 0; i < b->n_members; i++) {
        size_t tank = b->members[i];
        const struct order_tank *t = &b->p->tanks[tank];
        if (t->feed_s == 0)
            continue;
        struct order_feed whole = feed_of(b, unit, tank, minutes_of(t->feed_s), 0, 1);
        whole.feed_s = t->feed_s;
        if (s && b->p->tanks[m->feeds[s->first_feed].tank].pot == t->pot && stop_take(b, s, whole))
            continue;
        if (s)
            stop_close(b, s);
        s = stop_open(b, unit);
        if (stop_take(b, s, whole))
            continue;
        s = NULL;
        if (!passes_add(b, unit, tank))
            return false;
    }
    if (s)
        stop_close(b, s);
    m->units[unit].n_stops = m->n_stops - m->units[unit].first_stop;
    return true;
}

static int broadcast_add(struct builder *b, struct order_task task)
{
    task.dur_min = broadcast_minutes(b->p, task.tank);
    task.in_m = task.out_m = broadcast_place(b->p, task.tank);
    return task_add(b->m, task);
}

/* Broadcast tasks of the unit's stops. */
static void broadcasts_add(struct builder *b, int unit)
{
    struct order_model *m = b->m;
    const struct order_unit *u = &m->units[unit];
    for (int k = u->first_stop; k < u->first_stop + u->n_stops; k++) {
        struct order_stop *s = &m->stops[k];
        s->first_broadcast = m->n_tasks;
        for (size_t i = 0; i < s->n_feeds; i++) {
            struct order_feed *f = &m->feeds[s->first_feed + i];
            size_t first = first_of_broadcast(b, s, i);
            if (f->broadcast < 0)
                continue;
            struct order_task task = {.kind = TASK_BROADCAST,
                                      .unit = unit,
                                      .stop = k,
                                      .tank = f->tank,
                                      .pot = -1,
                                      .quarantine = u->quarantine};
            const struct order_span w = broadcast_window(b, s, i);
            task.end_from_min = w.from_min;
            task.end_by_min = w.by_min;
            f->broadcast = first == i ? broadcast_add(b, task) : m->feeds[s->first_feed + first].broadcast;
            m->broadcast_of[f->tank] = f->broadcast;
        }
        s->n_broadcasts = m->n_tasks - s->first_broadcast;
    }
}

/*
 * Visits of the unit's tanks without target feed. Where the water is shared, fish need not be fed when it is broadcast
 * to.
 */
static void visits_add(struct builder *b, int unit)
{
    struct order_model *m = b->m;
    struct order_unit *u = &m->units[unit];
    u->first_visit = m->n_tasks;
    for (size_t i = 0; i < b->n_members; i++) {
        const size_t tank = b->members[i];
        const struct order_tank *t = &b->p->tanks[tank];
        struct order_task task = {.kind = TASK_VISIT,
                                  .unit = unit,
                                  .stop = -1,
                                  .tank = tank,
                                  .in_m = t->position_m,
                                  .out_m = t->position_m,
                                  .pot = -1,
                                  .quarantine = u->quarantine,
                                  .dur_min = t->fish_min};
        if (t->feed_s > 0)
            continue;
        if (is_broadcast(t) && t->share > 0 && !b->joins[tank])
            m->broadcast_of[tank] = broadcast_add(b, task);
        if (is_broadcast(t) && t->share == 0)
            task.dur_min += t->broadcast_min;
        if (task.dur_min > 0)
            task_add(m, task);
        if (is_broadcast(t) && t->share == 0)
            m->broadcast_of[tank] = m->n_tasks - 1;
    }
    u->n_visits = m->n_tasks - u->first_visit;
}

/*
 * May the tank, which has no target feed, be broadcast to together with the other? They share their water, and its flow
 * is on then: both are on one pump, or its own does not stop in this plan.
 */
static bool may_join(const struct builder *b, size_t tank, size_t with)
{
    const struct order_tank *t = &b->p->tanks[tank], *w = &b->p->tanks[with];
    size_t pump = b->pump[tank];
    return tank != with && t->share > 0 && t->share == w->share && t->feed_s == 0 && is_broadcast(t) &&
           is_broadcast(w) &&
           (pump == b->pump[with] || (!b->stops[pump] && b->quarantine[pump] == b->quarantine[b->pump[with]]));
}

static bool pumps_note(struct builder *b)
{
    const struct order_problem *p = b->p;
    struct arena *a = &b->m->arena;
    b->pump = arena_alloc(a, p->n_tanks, sizeof *b->pump);
    b->stops = arena_alloc(a, p->n_tanks, sizeof *b->stops);
    b->quarantine = arena_alloc(a, p->n_tanks, sizeof *b->quarantine);
    b->joins = arena_alloc(a, p->n_tanks, sizeof *b->joins);
    b->m->broadcast_of = arena_alloc(a, p->n_tanks, sizeof *b->m->broadcast_of);
    if (!b->pump || !b->stops || !b->quarantine || !b->joins || !b->m->broadcast_of)
        return false;
    for (size_t i = 0; i < p->n_tanks; i++) {
        const struct order_tank *t = &p->tanks[i];
        b->pump[i] = i;
        for (size_t k = 0; t->pump >= 0 && k < i && b->pump[i] == i; k++)
            if (p->tanks[k].pump == t->pump)
                b->pump[i] = k;
        b->m->broadcast_of[i] = -1;
        b->stops[b->pump[i]] |= t->feed_s > 0;
        b->quarantine[b->pump[i]] |= t->quarantine;
    }
    return true;
}

/* Tanks without target feed join a tank that has some, or else with the lowest of them that joins nobody. */
static void joins_note(struct builder *b)
{
    for (size_t i = 0; i < b->p->n_tanks; i++)
        for (size_t k = 0; k < b->p->n_tanks && !b->joins[i]; k++)
            b->joins[i] = may_join(b, i, k) && (b->p->tanks[k].feed_s > 0 || (k < i && !b->joins[k]));
}

/*
 * The broadcast that a tank joins: on its own pump if there is one, and the first of those that are fed corals after.
 */
static int joined_by(const struct builder *b, size_t tank)
{
    const struct order_model *m = b->m;
    int best = -1;
    for (size_t k = 0; k < b->p->n_tanks; k++) {
        int task = m->broadcast_of[k];
        if (!may_join(b, tank, k) || b->joins[k])
            continue;
        bool near = b->pump[k] == b->pump[tank], best_near = best >= 0 && b->pump[m->tasks[best].tank] == b->pump[tank];
        bool stop = m->tasks[task].stop >= 0, best_stop = best >= 0 && m->tasks[best].stop >= 0;
        if (best < 0 || (stop != best_stop ? stop : near != best_near ? near : task < best))
            best = task;
    }
    return best;
}

static int member_compare(const struct order_problem *p, size_t a, size_t b)
{
    const struct order_tank *x = &p->tanks[a], *y = &p->tanks[b];
    if (x->pot != y->pot)
        return x->pot < y->pot ? -1 : 1;
    if (x->position_m < y->position_m || x->position_m > y->position_m)
        return x->position_m < y->position_m ? -1 : 1;
    return a < b ? -1 : 1;
}

/* All tanks on the pump of tank first, in the order in which they are fed: by pot, then along the bench. */
static void members_gather(struct builder *b, size_t first, bool *taken)
{
    const struct order_problem *p = b->p;
    b->n_members = 0;
    for (size_t i = first; i < p->n_tanks; i++) {
        const struct order_tank *t = &p->tanks[i];
        if (taken[i] || (i != first && (t->pump < 0 || t->pump != p->tanks[first].pump)))
            continue;
        taken[i] = true;
        size_t at = b->n_members++;
        for (; at > 0 && member_compare(p, b->members[at - 1], i) > 0; at--)
            b->members[at] = b->members[at - 1];
        b->members[at] = i;
    }
}

static bool unit_add(struct builder *b, size_t first, bool *taken)
{
    const struct order_problem *p = b->p;
    struct order_model *m = b->m;
    int unit = m->n_units++;
    struct order_unit *u = &m->units[unit];
    members_gather(b, first, taken);
    *u = (struct order_unit){.tank = first, .rank = -1, .off_limit_min = INT_MAX};
    for (size_t i = 0; i < b->n_members; i++) {
        const struct order_tank *t = &p->tanks[b->members[i]];
        u->quarantine |= t->quarantine;
        if (u->off_limit_min > t->off_limit_min)
            u->off_limit_min = t->off_limit_min;
        if (t->fixed_rank >= 0 && (u->rank < 0 || u->rank > t->fixed_rank))
            u->rank = t->fixed_rank;
    }
    if (!stops_add(b, unit))
        return false;
    broadcasts_add(b, unit);
    visits_add(b, unit);
    return true;
}

/* Passes are at least a minute long: their count is bounded by the minutes of feed. */
static size_t stops_at_most(const struct order_problem *p)
{
    size_t n = 0;
    for (size_t i = 0; i < p->n_tanks; i++)
        n += (size_t)minutes_of(p->tanks[i].feed_s);
    return n;
}

/*
 * What every model promises: a stop's tasks are its unit's and know it; its flow can come on in time, and each
 * broadcast has a window that ends before the visit; a tank's broadcast is a task that can be one.
 */
static bool model_holds(const struct order_model *m)
{
    for (int k = 0; k < m->n_stops; k++) {
        const struct order_stop *s = &m->stops[k];
        if (s->n_feeds == 0 || s->on_after_min + m->p->switch_min > s->on_by_min || m->tasks[s->visit].stop != k ||
            m->tasks[s->on].stop != k || m->tasks[s->visit].unit != s->unit || m->tasks[s->on].unit != s->unit)
            return false;
        for (int i = s->first_broadcast; i < s->first_broadcast + s->n_broadcasts; i++)
            if (m->tasks[i].stop != k || m->tasks[i].end_from_min > m->tasks[i].end_by_min)
                return false;
    }
    for (size_t t = 0; t < m->p->n_tanks; t++)
        if (m->broadcast_of[t] >= m->n_tasks ||
            (m->broadcast_of[t] >= 0 && m->tasks[m->broadcast_of[t]].kind == TASK_ON))
            return false;
    return true;
}

bool order_model_build(struct order_model *m, const struct order_problem *p, struct err *e)
{
    *m = (struct order_model){.p = p};
    if (!settings_check(p, e))
        return false;
    for (size_t i = 0; i < p->n_tanks; i++)
        if (!tank_check(p, i, e))
            return false;

    size_t n = p->n_tanks, stops = stops_at_most(p);
    if (stops > 20 * (size_t)ORDER_TANKS_MAX)
        return err_set(e, ERR_INPUT, NULL, "%zu minutes of target feed; expected at most %d", stops,
                       20 * ORDER_TANKS_MAX);
    struct builder b = {.m = m, .p = p, .e = e};
    bool *taken = arena_alloc(&m->arena, n, sizeof *taken);
    b.members = arena_alloc(&m->arena, n, sizeof *b.members);
    m->units = arena_alloc(&m->arena, n, sizeof *m->units);
    m->stops = arena_alloc(&m->arena, stops + 1, sizeof *m->stops);
    m->feeds = arena_alloc(&m->arena, stops + 1, sizeof *m->feeds);
    m->tasks = arena_alloc(&m->arena, 2 * stops + 3 * n, sizeof *m->tasks);
    if (!taken || !b.members || !m->units || !m->stops || !m->feeds || !m->tasks || !pumps_note(&b))
        return err_memory(e);

    m->start_min = p->feeders[0].ready_min;
    for (size_t j = 0; j < p->n_feeders; j++)
        m->start_min = lesser(m->start_min, p->feeders[j].ready_min);
    m->pots_matter |= p->slurry_age_limit_min > 0;
    for (size_t i = 0; i < n; i++)
        m->pots_matter |= p->tanks[i].pot != p->tanks[0].pot;
    joins_note(&b);
    for (size_t i = 0; i < n; i++)
        if (!taken[i] && !unit_add(&b, i, taken))
            return false;
    for (size_t i = 0; i < n; i++)
        if (b.joins[i])
            m->broadcast_of[i] = joined_by(&b, i);
    debug_assert(model_holds(m));
    return rules_make(m) || err_memory(e);
}

void order_model_free(struct order_model *m)
{
    arena_free(&m->arena);
}
