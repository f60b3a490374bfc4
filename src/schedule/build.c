/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Insertion: units one after the other, each at the earliest minute at which its whole chain finds hands. */
#include "schedule/rules.h"

/* ---- one task, where it fits best -------------------------------------------------------------------------- */

static int added_walk(const struct order_model *m, const struct order_schedule *s, int feeder, int at, int task)
{
    const struct order_line *line = &s->lines[feeder];
    const struct order_task *t = &m->tasks[task];
    const struct order_task *before = at > 0 ? &m->tasks[line->slots[at - 1].task] : NULL;
    const struct order_task *after = at < line->n ? &m->tasks[line->slots[at].task] : NULL;
    int walk = 0;
    if (before)
        walk += order_walk_min(m->p, before->out_m, t->in_m);
    if (after)
        walk += order_walk_min(m->p, t->out_m, after->in_m);
    if (before && after)
        walk -= order_walk_min(m->p, before->out_m, after->in_m);
    return walk;
}

/* Idle minutes on the nearer side, were the task put there: small means that no gap is broken in two. */
static int looseness(const struct order_model *m, const struct order_schedule *s, int feeder, int at, int task,
                     int start)
{
    const struct order_line *line = &s->lines[feeder];
    int before = start - slot_stand_min(m, feeder, at > 0 ? &line->slots[at - 1] : NULL, task);
    if (at == line->n)
        return before;
    const struct order_task *next = &m->tasks[line->slots[at].task];
    int after = line->slots[at].start_min - start - m->tasks[task].dur_min -
                order_walk_min(m->p, m->tasks[task].out_m, next->in_m);
    return before < after ? before : after;
}

/* Places the task at a start within [from, by], as seek prefers; false, with nothing placed, where it fits nowhere. */
static bool task_fit(const struct order_model *m, struct order_schedule *s, int task, int from, int by,
                     enum order_seek seek)
{
    int best_start = 0, best_feeder = -1, best_at = 0;
    long best = LONG_MAX;
    for (int feeder = 0; feeder < (int)m->p->n_feeders; feeder++) {
        int at, start;
        for (int t = from; t <= by && (start = line_earliest(m, s, feeder, task, t, by, &at)) != INT_MAX;
             t = start + 1) {
            long score = seek == SEEK_EARLY  ? start - from
                         : seek == SEEK_LATE ? by - start
                                             : looseness(m, s, feeder, at, task, start);
            score = score * 1000 + added_walk(m, s, feeder, at, task);
            if (score < best) {
                best = score;
                best_start = start;
                best_feeder = feeder;
                best_at = at;
            }
            if (seek == SEEK_EARLY)
                break;
        }
    }
    if (best_feeder < 0)
        return false;
    task_place(m, s, best_feeder, best_at, task, best_start);
    return true;
}

/* As early as any feeder can, from minute on. */
static void task_fit_open(const struct order_model *m, struct order_schedule *s, int task, int from)
{
    int best_start = INT_MAX, best_feeder = -1, best_at = 0, best_walk = 0;
    for (int feeder = 0; feeder < (int)m->p->n_feeders; feeder++) {
        int at, start = line_earliest(m, s, feeder, task, from, INT_MAX - 1, &at);
        int walk = added_walk(m, s, feeder, at, task);
        if (start < best_start || (start == best_start && walk < best_walk)) {
            best_start = start;
            best_feeder = feeder;
            best_at = at;
            best_walk = walk;
        }
    }
    task_place(m, s, best_feeder, best_at, task, best_start);
}

/* ---- a stop ------------------------------------------------------------------------------------------------ */

/* Several broadcasts of one stop go as late as they can, the last first: so they fit even one feeder. */
static bool broadcasts_fit(const struct order_model *m, struct order_schedule *s, const struct order_stop *stop,
                           int from, enum order_seek seek)
{
    if (stop->n_broadcasts > 1)
        seek = SEEK_LATE;
    for (int task = stop->first_broadcast + stop->n_broadcasts; task-- > stop->first_broadcast;) {
        const struct order_span w = rules_window(m, s->start_min, task);
        if (!task_fit(m, s, task, greater(w.from_min, from), w.by_min, seek))
            return false;
    }
    return true;
}

static void broadcasts_take_back(const struct order_model *m, struct order_schedule *s, const struct order_stop *stop)
{
    for (int task = stop->first_broadcast; task < stop->first_broadcast + stop->n_broadcasts; task++)
        if (s->feeder[task] >= 0)
            task_take_back(m, s, task);
}

/* The stop with its visit by this feeder at this minute; takes back whatever was placed when something doesn't fit. */
static bool stop_try(const struct order_model *m, struct order_schedule *s, int k, int feeder, int at, int visit_min,
                     int from, const struct order_priority *priority)
{
    const struct order_stop *stop = &m->stops[k];
    task_place(m, s, feeder, at, stop->visit, visit_min);
    const struct order_span on = rules_window(m, s->start_min, stop->on);
    if (broadcasts_fit(m, s, stop, from, priority->broadcast) &&
        task_fit(m, s, stop->on, on.from_min, on.by_min, SEEK_EARLY))
        return true;
    task_take_back(m, s, stop->visit);
    broadcasts_take_back(m, s, stop);
    return false;
}

/* Tries every feeder who can start the visit at exactly this minute, least walking first. */
static bool stop_try_at(const struct order_model *m, struct order_schedule *s, int k, int visit_min, int from,
                        const struct order_priority *priority)
{
    bool tried[ORDER_FEEDERS_MAX] = {false};
    for (;;) {
        int best = -1, best_walk = 0, best_at = 0;
        for (int feeder = 0; feeder < (int)m->p->n_feeders; feeder++) {
            int at;
            if (tried[feeder] || line_earliest(m, s, feeder, m->stops[k].visit, visit_min, visit_min, &at) == INT_MAX)
                continue;
            int walk = added_walk(m, s, feeder, at, m->stops[k].visit);
            if (best < 0 || walk < best_walk) {
                best = feeder;
                best_walk = walk;
                best_at = at;
            }
        }
        if (best < 0)
            return false;
        tried[best] = true;
        if (stop_try(m, s, k, best, best_at, visit_min, from, priority))
            return true;
    }
}

/*
 * from: no hand on this stop before; visit_from: nor its visit before that. There is always a place: behind all that
 * is placed, one feeder alone can serve any stop, because the stops were laid out that way.
 */
static void stop_place(const struct order_model *m, struct order_schedule *s, int k, int from, int visit_from,
                       const struct order_priority *priority)
{
    for (int t = visit_from;; t++) {
        int start = INT_MAX, at;
        for (int feeder = 0; feeder < (int)m->p->n_feeders; feeder++) {
            int can = line_earliest(m, s, feeder, m->stops[k].visit, t, INT_MAX - 1, &at);
            if (can < start)
                start = can;
        }
        t = start;
        if (stop_try_at(m, s, k, t, from, priority))
            return;
    }
}

/* ---- a unit, and all of them ------------------------------------------------------------------------------- */

/*
 * From when to look for a place for the stop's visit: as if no hand were on the stop before from, and no broadcast
 * before the visit itself might start. The rules let broadcasts and fish come sooner; that was measured to leave more
 * gaps too small to use.
 */
static int visit_earliest(const struct order_model *m, const int *start_min, const struct order_stop *stop, int from)
{
    const int begun = greater(from, rules_window(m, start_min, stop->visit).from_min);
    int first = begun;
    for (int i = stop->first_broadcast; i < stop->first_broadcast + stop->n_broadcasts; i++)
        first = greater(first, begun + m->tasks[i].dur_min - m->tasks[i].end_by_min);
    return first;
}

static void unit_place(const struct order_model *m, struct order_schedule *s, const struct order_priority *priority)
{
    const struct order_unit *u = &m->units[priority->unit];
    const struct order_floor floor = rules_floor(m, s->start_min, priority->unit);
    assert(floor.open); /* units come in an order that the rules allow */
    for (int task = u->first_visit; task < u->first_visit + u->n_visits; task++) {
        const int from = greater(floor.all_min, rules_window(m, s->start_min, task).from_min);
        task_fit_open(m, s, task, u->n_stops == 0 ? greater(from, floor.first_min) : from);
    }
    int from = floor.all_min;
    for (int k = u->first_stop; k < u->first_stop + u->n_stops; k++) {
        const int visit_from = visit_earliest(m, s->start_min, &m->stops[k], from);
        stop_place(m, s, k, from, k == u->first_stop ? greater(visit_from, floor.first_min) : visit_from, priority);
        from = s->start_min[m->stops[k].on] + m->p->switch_min;
    }
}

void schedule_build(const struct order_model *m, const struct order_priority *priorities, struct order_schedule *s)
{
    for (size_t j = 0; j < m->p->n_feeders; j++)
        s->lines[j].n = 0;
    for (int i = 0; i < m->n_tasks; i++) {
        s->feeder[i] = -1;
        s->start_min[i] = NOT_PLACED;
    }
    for (int i = 0; i < m->n_units; i++)
        unit_place(m, s, &priorities[i]);
    schedule_measure(m, s);
}

/* Within the places that ranked units hold, ranks rise; quarantine after all others. Otherwise the order is kept. */
void priorities_settle(const struct order_model *m, struct order_priority *priorities)
{
    for (int i = 1; i < m->n_units; i++) {
        struct order_priority g = priorities[i];
        int at = i;
        for (; at > 0 && !m->units[g.unit].quarantine && m->units[priorities[at - 1].unit].quarantine; at--)
            priorities[at] = priorities[at - 1];
        priorities[at] = g;
    }
    for (int i = 0; i < m->n_units; i++) {
        const struct order_unit *u = &m->units[priorities[i].unit];
        if (u->rank < 0)
            continue;
        int least = i;
        for (int k = i + 1; k < m->n_units; k++) {
            const struct order_unit *v = &m->units[priorities[k].unit];
            if (v->rank >= 0 && v->quarantine == u->quarantine && v->rank < m->units[priorities[least].unit].rank)
                least = k;
        }
        struct order_priority g = priorities[i];
        priorities[i] = priorities[least];
        priorities[least] = g;
    }
}
