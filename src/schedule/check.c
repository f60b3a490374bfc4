/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Written from the rules alone: nothing here comes from the planner's model but the way a walk is counted. */
#include "neap/schedule.h"

struct check {
    const struct order_problem *p;
    const struct order_plan *plan;
    size_t *pump; /* per tank: the lowest tank index on its pump */
    enum order_rule *broken;
    struct err *e;
};

static bool fail(const struct check *c, enum order_rule rule, const struct order_step *s, const char *what)
{
    if (c->broken)
        *c->broken = rule;
    if (!s)
        return err_set(c->e, ERR_INPUT, NULL, "plan: %s", what);
    const char *name = c->p->tanks[s->tank].name;
    return name ? err_set(c->e, ERR_INPUT, NULL, "plan: tank %s, minute %d: %s", name, s->start_min, what)
                : err_set(c->e, ERR_INPUT, NULL, "plan: tank %zu, minute %d: %s", s->tank, s->start_min, what);
}

static bool fail_tank(const struct check *c, enum order_rule rule, size_t tank, const char *what)
{
    if (c->broken)
        *c->broken = rule;
    const char *name = c->p->tanks[tank].name;
    return name ? err_set(c->e, ERR_INPUT, NULL, "plan: tank %s: %s", name, what)
                : err_set(c->e, ERR_INPUT, NULL, "plan: tank %zu: %s", tank, what);
}

static const struct order_tank *tank_of(const struct check *c, const struct order_step *s)
{
    return &c->p->tanks[s->tank];
}

static bool has_place(const struct order_step *s)
{
    return s->action != ORDER_TOOLS && s->action != ORDER_POT && s->action != ORDER_REST;
}

/* Where hands are needed: at the tank, or where a broadcast goes into shared water. */
static double place_of(const struct check *c, const struct order_step *s)
{
    const struct order_tank *t = tank_of(c, s);
    return s->action == ORDER_BROADCAST && t->share > 0 ? c->p->shares[t->share - 1].position_m : t->position_m;
}

/*
 * Is the step the same piece of work as the one before it: one broadcast into shared water, written for another tank?
 */
static bool is_repeat(const struct check *c, const struct order_step *s)
{
    return s > c->plan->steps && s->action == ORDER_BROADCAST && s[-1].action == ORDER_BROADCAST &&
           tank_of(c, s)->share > 0 && tank_of(c, &s[-1])->share == tank_of(c, s)->share && s[-1].tank != s->tank &&
           s[-1].feeder == s->feeder && s[-1].start_min == s->start_min && s[-1].end_min == s->end_min;
}

/* How long a tank's broadcast takes: one into shared water as long as the longest among its tanks. */
static int broadcast_minutes(const struct check *c, size_t tank)
{
    const struct order_tank *t = &c->p->tanks[tank];
    int minutes = t->broadcast_min;
    for (size_t i = 0; i < c->p->n_tanks; i++)
        if (t->share > 0 && c->p->tanks[i].share == t->share && c->p->tanks[i].broadcast_min > minutes)
            minutes = c->p->tanks[i].broadcast_min;
    return minutes;
}

/* The next step of this pump (or, with by_tank, of this tank) and action after *at; NULL: no more. */
static const struct order_step *next_step(const struct check *c, size_t tank, bool by_tank, enum order_action action,
                                          size_t *at)
{
    while (*at < c->plan->n_steps) {
        const struct order_step *s = &c->plan->steps[(*at)++];
        if (s->action == action && (by_tank ? s->tank == tank : c->pump[s->tank] == tank))
            return s;
    }
    return NULL;
}

static const struct order_step *find_step(const struct check *c, size_t tank, enum order_action action)
{
    size_t at = 0;
    return next_step(c, tank, true, action, &at);
}

/* The flow off or on of a pump's pass. */
static const struct order_step *find_switch(const struct check *c, size_t pump, enum order_action action, int pass)
{
    size_t at = 0;
    const struct order_step *s;
    while ((s = next_step(c, pump, false, action, &at)))
        if (s->pass == pass)
            return s;
    return NULL;
}

static int limit_of(const struct check *c, size_t pump)
{
    int limit = INT_MAX;
    for (size_t i = 0; i < c->p->n_tanks; i++)
        if (c->pump[i] == pump && limit > c->p->tanks[i].off_limit_min)
            limit = c->p->tanks[i].off_limit_min;
    return limit;
}

static bool is_quarantine(const struct check *c, size_t pump)
{
    for (size_t i = 0; i < c->p->n_tanks; i++)
        if (c->pump[i] == pump && c->p->tanks[i].quarantine)
            return true;
    return false;
}

/* ---- the rules, in the order of enum order_rule ------------------------------------------------------------ */

static bool check_steps(const struct check *c)
{
    const struct order_plan *plan = c->plan;
    if (plan->n_tanks != c->p->n_tanks)
        return fail(c, ORDER_RULE_STEP, NULL, "not of this problem: another count of tanks");
    for (size_t i = 0; i < plan->n_steps; i++) {
        const struct order_step *s = &plan->steps[i];
        if (s->tank >= c->p->n_tanks)
            return fail(c, ORDER_RULE_STEP, NULL, "a step at no tank");
        if (s->action < ORDER_BROADCAST || s->action > ORDER_FLOW_ON)
            return fail(c, ORDER_RULE_STEP, s, "no such action");
        if (s->action == ORDER_REST ? s->feeder != -1 : s->feeder < 0 || (size_t)s->feeder >= c->p->n_feeders)
            return fail(c, ORDER_RULE_STEP, s, "no such feeder");
        if (s->end_min < s->start_min)
            return fail(c, ORDER_RULE_STEP, s, "ends before it starts");
        if (s->feeder >= 0 && s->start_min < c->p->feeders[s->feeder].ready_min)
            return fail(c, ORDER_RULE_STEP, s, "before its feeder is ready");
        if ((s->action == ORDER_FLOW_OFF || s->action == ORDER_FLOW_ON) && c->pump[s->tank] != s->tank)
            return fail(c, ORDER_RULE_STEP, s, "a pump is named by its lowest tank");
        if (i > 0 && (s->start_min < s[-1].start_min ||
                      (s->start_min == s[-1].start_min &&
                       (s->end_min < s[-1].end_min || (s->end_min == s[-1].end_min && s->feeder < s[-1].feeder)))))
            return fail(c, ORDER_RULE_STEP, s, "out of order");
    }
    return true;
}

static bool check_hands(const struct check *c, int feeder)
{
    const int ready_min = c->p->feeders[feeder].ready_min;
    int free_min = ready_min, left_min = ready_min, standing_min = 0;
    bool placed = false;
    double at_m = 0;
    for (size_t i = 0; i < c->plan->n_steps; i++) {
        const struct order_step *s = &c->plan->steps[i];
        if (s->feeder != feeder || is_repeat(c, s))
            continue;
        if (s->start_min < free_min)
            return fail(c, ORDER_RULE_HANDS, s, "its feeder is still busy");
        free_min = s->end_min;
        if (!has_place(s)) {
            standing_min += s->end_min - s->start_min;
            continue;
        }
        double to_m = place_of(c, s);
        if (placed && s->start_min < left_min + standing_min + order_walk_min(c->p, at_m, to_m))
            return fail(c, ORDER_RULE_HANDS, s, "its feeder cannot have walked there yet");
        placed = true;
        at_m = to_m;
        left_min = s->end_min;
        standing_min = 0;
    }
    return true;
}

static bool check_count(const struct check *c, size_t tank, enum order_action action, int minutes, bool wanted)
{
    size_t at = 0, n = 0;
    const struct order_step *s;
    while ((s = next_step(c, tank, true, action, &at))) {
        if (s->end_min - s->start_min != minutes)
            return fail(c, ORDER_RULE_WORK, s, "not at its full length");
        n++;
    }
    if (n != (wanted ? 1 : 0))
        return fail_tank(c, ORDER_RULE_WORK, tank,
                         wanted ? "a step is missing or given twice" : "a step that is not due");
    return true;
}

static long lots_count(const struct order_tank *t)
{
    long n = 0;
    for (size_t i = 0; i < t->n_lots; i++)
        n += t->lots[i].count;
    return n;
}

/* Hands-on seconds of n corals, after so many others. */
static double lots_seconds(const struct order_tank *t, long after, long n)
{
    double seconds = 0;
    for (size_t i = 0; i < t->n_lots; i++) {
        long here = t->lots[i].count > after ? t->lots[i].count - after : 0;
        after = after > t->lots[i].count ? after - t->lots[i].count : 0;
        here = here < n ? here : n;
        seconds += (double)here * t->lots[i].each_s;
        n -= here;
    }
    return seconds;
}

static bool check_work(const struct check *c, size_t tank)
{
    const struct order_tank *t = &c->p->tanks[tank];
    size_t at = 0;
    const struct order_step *s;
    int fed_s = 0;
    long fed = 0;
    bool by_lots = false;
    if (!check_count(c, tank, ORDER_BROADCAST, broadcast_minutes(c, tank), t->broadcast_min > 0) ||
        !check_count(c, tank, ORDER_FISH, t->fish_min, t->fish_min > 0))
        return false;
    while ((s = next_step(c, tank, true, ORDER_FEED, &at))) {
        if (s->feed_s <= 0 || s->end_min - s->start_min != (s->feed_s + 59) / 60)
            return fail(c, ORDER_RULE_WORK, s, "corals not at their full length");
        fed_s += s->feed_s;
        if (s->fed > 0 && s->feed_s - t->settle_s < lots_seconds(t, fed, s->fed) - 1e-6)
            return fail(c, ORDER_RULE_WORK, s, "a pass has no time for its corals");
        fed += s->fed;
        by_lots |= s->fed > 0;
    }
    if (by_lots ? fed != lots_count(t) : fed_s != t->feed_s)
        return fail_tank(c, ORDER_RULE_WORK, tank, "not all corals fed, or some twice");
    return true;
}

/* Tanks that share their water and whose first corals are fed in one stop are broadcast to in one step. */
static bool check_shared(const struct check *c, size_t tank)
{
    const struct order_step *mine = find_step(c, tank, ORDER_BROADCAST), *feed = find_step(c, tank, ORDER_FEED);
    const int share = c->p->tanks[tank].share;
    for (size_t i = 0; share > 0 && mine && feed && i < tank; i++) {
        const struct order_step *other = find_step(c, i, ORDER_BROADCAST), *other_feed = find_step(c, i, ORDER_FEED);
        if (c->p->tanks[i].share != share || c->pump[i] != c->pump[tank] || !other || !other_feed ||
            other_feed->pass != feed->pass)
            continue;
        if (other->start_min != mine->start_min || other->feeder != mine->feeder)
            return fail(c, ORDER_RULE_WORK, mine, "not broadcast to together with the stop's others of its water");
    }
    return true;
}

static bool check_switches(const struct check *c, size_t pump)
{
    size_t at = 0;
    const struct order_step *s;
    int n_off = 0, n_on = 0;
    while ((s = next_step(c, pump, false, ORDER_FLOW_OFF, &at))) {
        if (s->end_min - s->start_min != c->p->switch_min || s->pass != ++n_off)
            return fail(c, ORDER_RULE_WORK, s, "flow off at the wrong length or pass");
        if (!find_switch(c, pump, ORDER_FLOW_ON, s->pass))
            return fail(c, ORDER_RULE_WORK, s, "the flow never comes back on");
    }
    at = 0;
    while ((s = next_step(c, pump, false, ORDER_FLOW_ON, &at))) {
        if (s->end_min - s->start_min != c->p->switch_min || s->pass != ++n_on)
            return fail(c, ORDER_RULE_WORK, s, "flow on at the wrong length or pass");
    }
    if (n_on != n_off)
        return fail_tank(c, ORDER_RULE_WORK, pump, "flow off and flow on don't pair");
    return true;
}

static bool check_pauses(const struct check *c)
{
    for (size_t i = 0; i < c->plan->n_steps; i++) {
        const struct order_step *s = &c->plan->steps[i];
        int minutes = s->end_min - s->start_min;
        if ((s->action == ORDER_TOOLS && minutes != c->p->tool_change_min) ||
            (s->action == ORDER_POT && minutes != c->p->pot_change_min))
            return fail(c, ORDER_RULE_WORK, s, "a change of tools or pot at the wrong length");
    }
    return true;
}

/* A visit: fish of the tanks first fed in this pass, flow off, corals; one feeder, nothing but walking between. */
static bool check_visit(const struct check *c, const struct order_step *off)
{
    size_t pump = c->pump[off->tank];
    const struct order_step *before = NULL;
    for (size_t i = 0; i < c->plan->n_steps; i++) {
        const struct order_step *s = &c->plan->steps[i];
        if (c->pump[s->tank] != pump || s->pass != off->pass ||
            (s->action != ORDER_FISH && s->action != ORDER_FLOW_OFF && s->action != ORDER_FEED))
            continue;
        if (s->feeder != off->feeder)
            return fail(c, ORDER_RULE_CHAIN, s, "a visit is one feeder's");
        if ((s->action == ORDER_FISH && s->end_min > off->start_min) ||
            (s->action == ORDER_FEED && s->start_min < off->end_min))
            return fail(c, ORDER_RULE_CHAIN, s, "fish before flow off, corals after it");
        if (before && s->start_min != before->end_min + order_walk_min(c->p, tank_of(c, before)->position_m,
                                                                       tank_of(c, s)->position_m))
            return fail(c, ORDER_RULE_CHAIN, s, "a visit has no break");
        before = s;
    }
    return true;
}

static bool check_chain(const struct check *c, size_t tank)
{
    const struct order_step *broadcast = find_step(c, tank, ORDER_BROADCAST), *fish = find_step(c, tank, ORDER_FISH),
                            *feed = find_step(c, tank, ORDER_FEED);
    /* Where the water is shared and no corals are fed, fish are fed at any time: the broadcast is a step of its own. */
    bool apart = c->p->tanks[tank].share > 0 && !feed;
    if (broadcast && fish && !apart && broadcast->end_min > fish->start_min)
        return fail(c, ORDER_RULE_CHAIN, fish, "fish before the broadcast has ended");
    if (broadcast && feed && broadcast->end_min > feed->start_min)
        return fail(c, ORDER_RULE_CHAIN, feed, "corals before the broadcast has ended");
    if (fish && feed && fish->pass != feed->pass)
        return fail(c, ORDER_RULE_CHAIN, fish, "fish are fed in the visit of the first corals");
    if (fish && !feed && !apart && broadcast &&
        (fish->start_min != broadcast->end_min || fish->feeder != broadcast->feeder))
        return fail(c, ORDER_RULE_CHAIN, fish, "without target feed, fish follow the broadcast at once");
    return true;
}

static bool check_lag(const struct check *c, size_t tank)
{
    const struct order_step *broadcast = find_step(c, tank, ORDER_BROADCAST), *feed = find_step(c, tank, ORDER_FEED);
    const int lag = feed && broadcast ? feed->start_min - broadcast->end_min : c->p->lag_min;
    return (lag >= c->p->lag_min && lag <= c->p->lag_max) ||
           fail(c, ORDER_RULE_LAG, feed, "corals outside the lag window");
}

static bool check_rest(const struct check *c, size_t tank)
{
    const struct order_tank *t = &c->p->tanks[tank];
    size_t at = 0;
    const struct order_step *s;
    int off_min = 0, n_passes = 0, wanted = t->off_wanted_min;
    if (wanted > limit_of(c, c->pump[tank]))
        wanted = limit_of(c, c->pump[tank]);
    while ((s = next_step(c, tank, true, ORDER_FEED, &at))) {
        const struct order_step *off = find_switch(c, c->pump[tank], ORDER_FLOW_OFF, s->pass),
                                *on = find_switch(c, c->pump[tank], ORDER_FLOW_ON, s->pass);
        if (!off || !on || s->start_min < off->end_min || s->end_min > on->start_min)
            return fail(c, ORDER_RULE_FLOW, s, "corals fed with the flow on");
        if (on->start_min < s->end_min + t->rest_min)
            return fail(c, ORDER_RULE_REST, s, "flow on before the rest is over");
        off_min += on->end_min - off->start_min;
        n_passes++;
        size_t rest_at = 0, n_rests = 0;
        const struct order_step *rest;
        while ((rest = next_step(c, tank, true, ORDER_REST, &rest_at)))
            n_rests += rest->pass == s->pass && rest->start_min == s->end_min && rest->end_min == on->start_min;
        if (n_rests != (on->start_min > s->end_min))
            return fail(c, ORDER_RULE_REST, s, "its rest is not in the plan");
    }
    if (n_passes > 0 && off_min < wanted)
        return fail_tank(c, ORDER_RULE_REST, tank, "flow off for less than the wanted time");
    return true;
}

static bool check_off(const struct check *c, size_t pump)
{
    size_t at = 0;
    const struct order_step *off;
    int on_since = INT_MIN;
    while ((off = next_step(c, pump, false, ORDER_FLOW_OFF, &at))) {
        const struct order_step *on = find_switch(c, pump, ORDER_FLOW_ON, off->pass);
        if (on->end_min < off->end_min)
            return fail(c, ORDER_RULE_CHAIN, on, "flow on before flow off");
        if (on->end_min - off->start_min > limit_of(c, pump))
            return fail(c, ORDER_RULE_OFF_LIMIT, off, "flow off for longer than its limit");
        if (on_since > INT_MIN && off->start_min < on_since + c->p->flow_on_gap_min)
            return fail(c, ORDER_RULE_ON_GAP, off, "flow off again too soon");
        on_since = on->end_min;
    }
    return true;
}

/*
 * From the start of a broadcast to the tank's own stop (or, without target feed, to the broadcast's end) the flow is
 * on.
 */
static bool check_flow(const struct check *c, size_t tank)
{
    const struct order_step *broadcast = find_step(c, tank, ORDER_BROADCAST), *feed = find_step(c, tank, ORDER_FEED),
                            *off;
    if (!broadcast)
        return true;
    int own = feed ? feed->pass : 0, until = broadcast->end_min;
    if (feed)
        until = find_switch(c, c->pump[tank], ORDER_FLOW_OFF, own)->start_min;
    size_t at = 0;
    if (until < broadcast->end_min)
        return fail(c, ORDER_RULE_FLOW, broadcast, "broadcast with the flow off");
    while ((off = next_step(c, c->pump[tank], false, ORDER_FLOW_OFF, &at))) {
        const struct order_step *on = find_switch(c, c->pump[tank], ORDER_FLOW_ON, off->pass);
        if (off->pass != own && off->start_min < until && on->end_min > broadcast->start_min)
            return fail(c, ORDER_RULE_FLOW, broadcast, "flow off between the broadcast and its corals");
    }
    return true;
}

static bool check_quarantine(const struct check *c)
{
    bool changed[ORDER_FEEDERS_MAX] = {false}, begun[ORDER_FEEDERS_MAX] = {false};
    int others_end = INT_MIN;
    for (size_t i = 0; i < c->plan->n_steps; i++) {
        const struct order_step *s = &c->plan->steps[i];
        if (s->feeder >= 0 && !is_quarantine(c, c->pump[s->tank]) && others_end < s->end_min)
            others_end = s->end_min;
    }
    for (size_t i = 0; i < c->plan->n_steps; i++) {
        const struct order_step *s = &c->plan->steps[i];
        bool quarantine = is_quarantine(c, c->pump[s->tank]);
        if (s->feeder < 0)
            continue;
        if (s->action == ORDER_TOOLS && (!quarantine || changed[s->feeder]))
            return fail(c, ORDER_RULE_QUARANTINE, s, "a change of tools that is not due");
        if (s->action == ORDER_TOOLS)
            changed[s->feeder] = true;
        else if (!quarantine && changed[s->feeder])
            return fail(c, ORDER_RULE_QUARANTINE, s, "back from quarantine");
        else if (quarantine && !changed[s->feeder])
            return fail(c, ORDER_RULE_QUARANTINE, s, "quarantine without a change of tools");
        else if (quarantine && has_place(s) && s->start_min < others_end)
            return fail(c, ORDER_RULE_QUARANTINE, s, "quarantine before all others are done");
        begun[s->feeder] |= quarantine && s->action != ORDER_TOOLS;
    }
    for (size_t j = 0; j < c->p->n_feeders; j++)
        if (changed[j] && !begun[j])
            return fail(c, ORDER_RULE_QUARANTINE, NULL, "a change of tools for nothing");
    return true;
}

static bool check_pots(const struct check *c, int feeder)
{
    int pot = -1, mixed = c->p->feeders[feeder].ready_min, limit = c->p->slurry_age_limit_min;
    for (size_t i = 0; i < c->plan->n_steps; i++) {
        const struct order_step *s = &c->plan->steps[i];
        if (s->feeder != feeder)
            continue;
        if (s->action == ORDER_POT) {
            pot = tank_of(c, s)->pot;
            mixed = s->start_min;
        }
        if (s->action != ORDER_FEED)
            continue;
        if (pot < 0)
            pot = tank_of(c, s)->pot;
        if (pot != tank_of(c, s)->pot)
            return fail(c, ORDER_RULE_POT, s, "fed from the wrong pot");
        if (limit > 0 && s->end_min - mixed > limit)
            return fail(c, ORDER_RULE_POT, s, "fed from a slurry that is too old");
    }
    return true;
}

static int rank_of(const struct check *c, size_t pump)
{
    int rank = -1;
    for (size_t i = 0; i < c->p->n_tanks; i++) {
        const struct order_tank *t = &c->p->tanks[i];
        if (c->pump[i] == pump && t->fixed_rank >= 0 && (rank < 0 || t->fixed_rank < rank))
            rank = t->fixed_rank;
    }
    return rank;
}

/*
 * Is the step, at a pump that never stops, the beginning of a tank's visit? A broadcast into shared water is nobody's.
 */
static bool begins_visit(const struct check *c, const struct order_step *s)
{
    bool shared = tank_of(c, s)->share > 0;
    return s->action == ORDER_BROADCAST
               ? !shared
               : s->action == ORDER_FISH && (shared || !find_step(c, s->tank, ORDER_BROADCAST));
}

/* Start of the first stop's visit; of a pump that never stops, the first and last start of its tanks' visits. */
static bool visit_span(const struct check *c, size_t pump, int *first, int *last)
{
    const struct order_step *off = find_switch(c, pump, ORDER_FLOW_OFF, 1);
    *first = INT_MAX;
    *last = INT_MIN;
    for (size_t i = 0; i < c->plan->n_steps; i++) {
        const struct order_step *s = &c->plan->steps[i];
        bool counts =
            off ? s->pass == 1 && (s->action == ORDER_FISH || s->action == ORDER_FLOW_OFF) : begins_visit(c, s);
        if (c->pump[s->tank] != pump || !counts)
            continue;
        *first = s->start_min < *first ? s->start_min : *first;
        *last = s->start_min > *last ? s->start_min : *last;
    }
    if (off)
        *last = *first;
    return *first != INT_MAX;
}

static bool check_ranks(const struct check *c, size_t pump)
{
    int first, last, rank = rank_of(c, pump);
    if (rank < 0 || !visit_span(c, pump, &first, &last))
        return true;
    for (size_t i = 0; i < c->p->n_tanks; i++) {
        int other_first, other_last;
        if (c->pump[i] != i || rank_of(c, i) <= rank || is_quarantine(c, i) != is_quarantine(c, pump))
            continue;
        if (visit_span(c, i, &other_first, &other_last) && other_first < last)
            return fail_tank(c, ORDER_RULE_RANK, i, "visited before a tank of lower rank");
    }
    return true;
}

static bool check_totals(const struct check *c)
{
    const struct order_plan *plan = c->plan;
    int finish = INT_MAX, waited = 0;
    double walked = 0;
    for (size_t j = 0; j < c->p->n_feeders; j++)
        finish = finish < c->p->feeders[j].ready_min ? finish : c->p->feeders[j].ready_min;
    int start = finish;
    for (size_t j = 0; j < c->p->n_feeders; j++) {
        bool placed = false;
        int first = INT_MAX, last = 0, busy = 0, walks = 0;
        double at_m = 0;
        for (size_t i = 0; i < plan->n_steps; i++) {
            const struct order_step *s = &plan->steps[i];
            if (s->feeder != (int)j || is_repeat(c, s))
                continue;
            double to_m = place_of(c, s);
            bool walks_there = has_place(s);
            if (placed && walks_there) {
                walked += fabs(to_m - at_m);
                walks += order_walk_min(c->p, at_m, to_m);
            }
            if (walks_there) {
                placed = true;
                at_m = to_m;
            }
            first = first < s->start_min ? first : s->start_min;
            last = s->end_min;
            busy += s->end_min - s->start_min;
            finish = finish > s->end_min ? finish : s->end_min;
        }
        waited += first < INT_MAX ? last - first - busy - walks : 0;
    }
    if (plan->start_min != start || plan->finish_min != finish || fabs(plan->walked_m - walked) > 1e-6 ||
        plan->waited_min != waited)
        return fail(c, ORDER_RULE_TOTALS, NULL, "start, finish, walking or waiting is not what the steps say");
    if (plan->lower_bound_min > finish || (plan->proven && plan->lower_bound_min != finish))
        return fail(c, ORDER_RULE_TOTALS, NULL, "the lower bound is above the finish, or proof is claimed without one");
    return true;
}

/* ---- all of them ------------------------------------------------------------------------------------------- */

static bool check_tanks(const struct check *c)
{
    for (size_t i = 0; i < c->p->n_tanks; i++)
        if (!check_work(c, i) || !check_shared(c, i) || (c->pump[i] == i && !check_switches(c, i)))
            return false;
    if (!check_pauses(c))
        return false;
    for (size_t i = 0; i < c->plan->n_steps; i++)
        if (c->plan->steps[i].action == ORDER_FLOW_OFF && !check_visit(c, &c->plan->steps[i]))
            return false;
    for (size_t i = 0; i < c->p->n_tanks; i++)
        if (!check_chain(c, i) || !check_lag(c, i) || !check_rest(c, i) || (c->pump[i] == i && !check_off(c, i)) ||
            !check_flow(c, i))
            return false;
    return true;
}

bool order_check(const struct order_problem *p, const struct order_plan *plan, enum order_rule *broken, struct err *e)
{
    struct check c = {.p = p, .plan = plan, .broken = broken, .e = e};
    bool ok = false;
    if (broken)
        *broken = ORDER_KEPT;
    c.pump = calloc(p->n_tanks + 1, sizeof *c.pump);
    if (!c.pump)
        return err_memory(e);
    for (size_t i = 0; i < p->n_tanks; i++) {
        c.pump[i] = i;
        for (size_t k = 0; k < i; k++)
            if (p->tanks[i].pump >= 0 && p->tanks[k].pump == p->tanks[i].pump) {
                c.pump[i] = k;
                break;
            }
    }
    if (!check_steps(&c))
        goto done;
    for (size_t j = 0; j < p->n_feeders; j++)
        if (!check_hands(&c, (int)j))
            goto done;
    if (!check_tanks(&c) || !check_quarantine(&c))
        goto done;
    for (size_t j = 0; j < p->n_feeders; j++)
        if (!check_pots(&c, (int)j))
            goto done;
    for (size_t i = 0; i < p->n_tanks; i++)
        if (c.pump[i] == i && !check_ranks(&c, i))
            goto done;
    ok = check_totals(&c);
done:
    free(c.pump);
    return ok;
}
