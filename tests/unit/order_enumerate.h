/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A reference for the exact search: all orders of a round's tasks are enumerated, by branch and bound. Tasks are
 * appended in the order of their starts, each to one feeder's line; the starts are then the earliest that the order
 * allows. A lag window or flow-off limit that a new task would break pushes the earlier task later, and with it all
 * that follows; an order that chases itself is given up. Every schedule has such an order where a task starts no
 * earlier than those it follows, and so no fish are fed before the flow is on after the pass before. It knows no slurry
 * age and is for a few tanks.
 */
#ifndef NEAP_ORDER_ENUMERATE_H
#define NEAP_ORDER_ENUMERATE_H

#include "schedule/rules.h"

/* next may not start before start of before + least; nor, if pushes, later than that + most. */
struct arc {
    int before, next, least_min, most_min;
    bool pushes;
};

enum { ARCS_PER_TASK = 8 };

/* The state of the search at one depth: starts of all appended tasks, pushed ones included. */
struct depth {
    int *start_min;
    int *floor_min; /* per task: pushed at least to here */
    int line_end[ORDER_FEEDERS_MAX], line_last[ORDER_FEEDERS_MAX];
};

struct enumeration {
    const struct order_model *m;
    struct arc *arcs;
    int n_arcs;
    int *first_in, *arcs_in; /* arcs into each task, as indices */
    int *tail_min;
    int *walk_min;          /* [n_tasks][n_tasks], from the end of one to the start of the other */
    int *appended, *feeder; /* tasks in order; per task its feeder, -1: not appended */
    int *before;            /* per task: the task before it on its line, -1: none */
    struct depth *depths;
    int n;                     /* appended */
    int left_min, left_on_min; /* work still to append, and what of it are flows on and short visits */
    int n_visits_left, rest_min, others_left;
    int *twin_task; /* per task: the same first task of an earlier unit that is no different; -1: none */
    bool metric;
    long nodes;
    int best_finish; /* only earlier ones are sought */
    struct order_schedule *best;
};

static void arc_add(struct enumeration *x, int before, int next, int least_min, int most_min)
{
    x->arcs[x->n_arcs++] = (struct arc){before, next, least_min, most_min, most_min < INT_MAX};
}

/* ---- the constraints as arcs ------------------------------------------------------------------------------- */

static void stop_arcs(struct enumeration *x, int k, int on_before)
{
    const struct order_model *m = x->m;
    const struct order_stop *s = &m->stops[k];
    int switched = m->p->switch_min;
    for (size_t i = s->first_feed; i < s->first_feed + s->n_feeds; i++) {
        const struct order_feed *f = &m->feeds[i];
        if (f->broadcast >= 0) {
            int dur = m->tasks[f->broadcast].dur_min, fish = f->fish_min > 0 ? f->fish_at_min : s->off_at_min;
            arc_add(x, f->broadcast, s->visit, dur + greater(m->p->lag_min - f->at_min, -fish),
                    dur + m->p->lag_max - f->at_min);
            if (on_before >= 0)
                arc_add(x, on_before, f->broadcast, switched, INT_MAX);
        }
    }
    if (on_before >= 0)
        arc_add(x, on_before, s->visit, switched + m->p->flow_on_gap_min - s->off_at_min, INT_MAX);
    arc_add(x, s->visit, s->on, s->on_after_min, s->on_by_min - switched);
}

static void unit_arcs(struct enumeration *x, const struct order_unit *u)
{
    const struct order_model *m = x->m;
    int on = -1;
    for (int i = u->first_visit; i < u->first_visit + u->n_visits && u->n_stops > 0; i++)
        arc_add(x, i, m->stops[u->first_stop].visit, m->tasks[i].dur_min - m->stops[u->first_stop].off_at_min, INT_MAX);
    for (int k = u->first_stop; k < u->first_stop + u->n_stops; k++) {
        stop_arcs(x, k, on);
        on = m->stops[k].on;
    }
}

/*
 * Least time from a task's start to the end of all that must follow it. Arcs lead from lower to higher in each chain.
 */
static void tails_fill(struct enumeration *x)
{
    const struct order_model *m = x->m;
    bool changed = true;
    for (int i = 0; i < m->n_tasks; i++)
        x->tail_min[i] = m->tasks[i].dur_min;
    while (changed) {
        changed = false;
        for (int i = 0; i < x->n_arcs; i++) {
            int tail = x->arcs[i].least_min + x->tail_min[x->arcs[i].next];
            if (tail > x->tail_min[x->arcs[i].before]) {
                x->tail_min[x->arcs[i].before] = tail;
                changed = true;
            }
        }
    }
}

static void walks_fill(struct enumeration *x)
{
    const struct order_model *m = x->m;
    const int n = m->n_tasks;
    for (int i = 0; i < n; i++)
        for (int k = 0; k < n; k++)
            x->walk_min[i * n + k] = order_walk_min(m->p, m->tasks[i].out_m, m->tasks[k].in_m);
    x->metric = true;
    for (int i = 0; i < n; i++)
        for (int k = 0; k < n; k++)
            for (int via = 0; via < n; via++)
                x->metric &= x->walk_min[i * n + k] <=
                             x->walk_min[i * n + via] + m->tasks[via].dur_min + x->walk_min[via * n + k];
}

static void arcs_index(struct enumeration *x)
{
    int at = 0;
    for (int i = 0; i < x->m->n_tasks; i++) {
        x->first_in[i] = at;
        for (int a = 0; a < x->n_arcs; a++)
            if (x->arcs[a].next == i)
                x->arcs_in[at++] = a;
    }
    x->first_in[x->m->n_tasks] = at;
}

static bool minutes_equal(const struct order_tank *a, const struct order_tank *b)
{
    return (a->feed_s + 59) / 60 == (b->feed_s + 59) / 60;
}

static bool tanks_same(const struct order_tank *a, const struct order_tank *b)
{
    return !(a->position_m < b->position_m || a->position_m > b->position_m) && a->broadcast_min == b->broadcast_min &&
           a->fish_min == b->fish_min && minutes_equal(a, b) && a->rest_min == b->rest_min &&
           a->off_limit_min == b->off_limit_min && a->off_wanted_min == b->off_wanted_min &&
           a->quarantine == b->quarantine && a->pump < 0 && b->pump < 0 && a->pot == b->pot &&
           a->fixed_rank == b->fixed_rank;
}

static int first_task(const struct order_model *m, const struct order_unit *u)
{
    if (u->n_stops == 0)
        return u->n_visits > 0 ? u->first_visit : -1;
    const struct order_stop *s = &m->stops[u->first_stop];
    int broadcast = m->feeds[s->first_feed].broadcast;
    return broadcast >= 0 ? broadcast : s->visit;
}

/* Tanks that are no different begin in the order of their numbers: the other orders are the same rounds renamed. */
static void twins_fill(struct enumeration *x)
{
    const struct order_model *m = x->m;
    for (int i = 0; i < m->n_tasks; i++)
        x->twin_task[i] = -1;
    for (int i = 0; i < m->n_units; i++)
        for (int k = i - 1; k >= 0; k--)
            if (tanks_same(&m->p->tanks[m->units[i].tank], &m->p->tanks[m->units[k].tank])) {
                int task = first_task(m, &m->units[i]);
                if (task >= 0)
                    x->twin_task[task] = first_task(m, &m->units[k]);
                break;
            }
}

/* ---- starts ------------------------------------------------------------------------------------------------ */

/* Tools and pot, where the pot never grows too old: what the slot before carries is all that counts. */
static int setup_of(const struct enumeration *x, int task)
{
    const struct order_model *m = x->m;
    const struct order_task *t = &m->tasks[task];
    int setup = 0, before = x->before[task];
    if (t->quarantine) {
        int i = before;
        while (i >= 0 && !m->tasks[i].quarantine)
            i = x->before[i];
        setup += i < 0 ? m->p->tool_change_min : 0;
    }
    if (t->pot >= 0 && m->pots_matter) {
        while (before >= 0 && m->tasks[before].pot < 0)
            before = x->before[before];
        setup += before >= 0 && m->tasks[before].pot != t->pot ? m->p->pot_change_min : 0;
    }
    return setup;
}

/* The earliest start of the task after all those appended before position at. */
static int start_after(const struct enumeration *x, const struct depth *d, int task, int at, int others_end)
{
    const struct order_model *m = x->m;
    int before = x->before[task], start;
    if (before >= 0)
        start = d->start_min[before] + m->tasks[before].dur_min + x->walk_min[before * m->n_tasks + task];
    else
        start = m->p->feeders[x->feeder[task]].ready_min;
    start = greater(start + setup_of(x, task), d->floor_min[task]);
    start = greater(start, m->start_min);
    if (at > 0)
        start = greater(start, d->start_min[x->appended[at - 1]]);
    for (int i = x->first_in[task]; i < x->first_in[task + 1]; i++) {
        const struct arc *a = &x->arcs[x->arcs_in[i]];
        if (x->feeder[a->before] >= 0)
            start = greater(start, d->start_min[a->before] + a->least_min);
    }
    return m->tasks[task].quarantine ? greater(start, others_end) : start;
}

/* Pushes what the task's start leaves too far behind; *from: the earliest position pushed. */
static void push_back(const struct enumeration *x, struct depth *d, int task, bool *pushed)
{
    for (int i = x->first_in[task]; i < x->first_in[task + 1]; i++) {
        const struct arc *a = &x->arcs[x->arcs_in[i]];
        if (a->pushes && d->start_min[task] > d->start_min[a->before] + a->most_min) {
            d->floor_min[a->before] = d->start_min[task] - a->most_min;
            *pushed = true;
        }
    }
}

/* Earliest starts of all appended tasks; false: the best finish is passed. */
static bool starts_fill(const struct enumeration *x, struct depth *d)
{
    const struct order_model *m = x->m;
    bool pushed = true;
    while (pushed) {
        pushed = false;
        int others_end = m->start_min;
        for (int i = 0; i < x->n; i++) {
            int task = x->appended[i], start = start_after(x, d, task, i, others_end);
            d->start_min[task] = start;
            if (start + x->tail_min[task] >= x->best_finish)
                return false;
            if (!m->units[m->tasks[task].unit].quarantine)
                others_end = greater(others_end, start + m->tasks[task].dur_min);
            push_back(x, d, task, &pushed);
        }
    }
    return true;
}

/* ---- branch and bound -------------------------------------------------------------------------------------- */

/* Can what is left still end before the best finish? */
static bool bound_allows(const struct enumeration *x, const struct depth *d)
{
    const struct order_model *m = x->m;
    const int now = d->start_min[x->appended[x->n - 1]], end = x->best_finish - 1;
    long minutes = 0, end_idle = 0;
    for (int i = 0; i < m->n_tasks; i++) {
        if (x->feeder[i] >= 0)
            continue;
        int start = now;
        for (int k = x->first_in[i]; k < x->first_in[i + 1]; k++) {
            const struct arc *a = &x->arcs[x->arcs_in[k]];
            if (x->feeder[a->before] >= 0)
                start = greater(start, d->start_min[a->before] + a->least_min);
        }
        if (start + x->tail_min[i] > end)
            return false;
    }
    for (int j = 0; j < (int)m->p->n_feeders; j++) {
        int there = greater(0, end - greater(now, greater(d->line_end[j], m->p->feeders[j].ready_min)));
        minutes += there;
        end_idle += there < x->rest_min ? there : x->rest_min;
    }
    end_idle -= x->left_on_min;
    return minutes >= x->left_min + (x->n_visits_left > 0 && end_idle > 0 ? end_idle : 0);
}

/* All that must come earlier in the order has been appended. */
static bool is_open(const struct enumeration *x, int task)
{
    const struct order_model *m = x->m;
    const struct order_task *t = &m->tasks[task];
    const struct order_unit *u = &m->units[t->unit];
    for (int i = x->first_in[task]; i < x->first_in[task + 1]; i++)
        if (x->feeder[x->arcs[x->arcs_in[i]].before] < 0)
            return false;
    if (t->quarantine && x->others_left > 0)
        return false;
    if (x->twin_task[task] >= 0 && x->feeder[x->twin_task[task]] < 0)
        return false;
    if (u->rank < 0 || t->kind != TASK_VISIT || (u->n_stops > 0 && t->stop != u->first_stop))
        return true;
    for (int i = 0; i < m->n_tasks; i++) {
        const struct order_unit *v = &m->units[m->tasks[i].unit];
        bool first = m->tasks[i].kind == TASK_VISIT && (v->n_stops == 0 || m->tasks[i].stop == v->first_stop);
        if (first && v->rank >= 0 && v->rank < u->rank && v->quarantine == u->quarantine && x->feeder[i] < 0)
            return false;
    }
    return true;
}

/* A feeder who hasn't begun, and is no different from one before who hasn't either, needs no branch. */
static bool is_twin(const struct enumeration *x, const struct depth *d, int feeder)
{
    const struct order_feeder *feeders = x->m->p->feeders;
    for (int j = 0; j < feeder && d->line_last[feeder] < 0; j++)
        if (d->line_last[j] < 0 && feeders[j].ready_min == feeders[feeder].ready_min)
            return true;
    return false;
}

static void count_task(struct enumeration *x, int task, int sign)
{
    const struct order_task *t = &x->m->tasks[task];
    x->left_min -= sign * t->dur_min;
    if (t->kind == TASK_ON || t->stop < 0)
        x->left_on_min -= sign * t->dur_min;
    if (t->kind == TASK_VISIT && t->stop >= 0)
        x->n_visits_left -= sign;
    if (!x->m->units[t->unit].quarantine)
        x->others_left -= sign;
}

/* Appends the task to the feeder's line, one depth further down; false, undone again, where that leads nowhere. */
static bool task_append(struct enumeration *x, int task, int feeder)
{
    const int n_tasks = x->m->n_tasks;
    struct depth *from = &x->depths[x->n], *d = &x->depths[x->n + 1];
    memcpy(d->start_min, from->start_min, (size_t)n_tasks * sizeof *d->start_min);
    memcpy(d->floor_min, from->floor_min, (size_t)n_tasks * sizeof *d->floor_min);
    memcpy(d->line_last, from->line_last, sizeof d->line_last);
    x->appended[x->n++] = task;
    x->feeder[task] = feeder;
    x->before[task] = d->line_last[feeder];
    d->line_last[feeder] = task;
    count_task(x, task, 1);
    if (starts_fill(x, d)) {
        for (int j = 0; j < (int)x->m->p->n_feeders; j++) {
            int last = d->line_last[j];
            d->line_end[j] = last >= 0 ? d->start_min[last] + x->m->tasks[last].dur_min : x->m->p->feeders[j].ready_min;
        }
        return true;
    }
    return false;
}

static void task_drop(struct enumeration *x)
{
    int task = x->appended[--x->n];
    x->feeder[task] = -1;
    count_task(x, task, -1);
}

static void schedule_keep(struct enumeration *x)
{
    const struct order_model *m = x->m;
    const struct depth *d = &x->depths[x->n];
    for (size_t j = 0; j < m->p->n_feeders; j++)
        x->best->lines[j].n = 0;
    for (int i = 0; i < x->n; i++) {
        int task = x->appended[i], feeder = x->feeder[task];
        struct order_line *line = &x->best->lines[feeder];
        struct order_slot slot = {.task = task, .start_min = d->start_min[task]};
        slot_set_up(m, feeder, line->n > 0 ? &line->slots[line->n - 1] : NULL, &slot);
        line->slots[line->n++] = slot;
        x->best->start_min[task] = slot.start_min;
        x->best->feeder[task] = feeder;
    }
    schedule_measure(m, x->best);
    x->best_finish = x->best->finish_min;
}

struct branch {
    int task, feeder, start_min;
};

static int branch_compare(const void *left, const void *right)
{
    const struct branch *a = left, *b = right;
    if (a->start_min != b->start_min)
        return a->start_min < b->start_min ? -1 : 1;
    if (a->task != b->task)
        return a->task < b->task ? -1 : 1;
    return (a->feeder > b->feeder) - (a->feeder < b->feeder);
}

enum { EXACT_TASKS = 64, BRANCHES_MAX = EXACT_TASKS * ORDER_FEEDERS_MAX, NODES_MAX = 10000 };

static int branches_fill(struct enumeration *x, struct branch *branches)
{
    const struct order_model *m = x->m;
    int n = 0;
    for (int task = 0; task < m->n_tasks; task++) {
        if (x->feeder[task] >= 0 || !is_open(x, task))
            continue;
        for (int feeder = 0; feeder < (int)m->p->n_feeders; feeder++) {
            if (is_twin(x, &x->depths[x->n], feeder))
                continue;
            if (task_append(x, task, feeder) && bound_allows(x, &x->depths[x->n]))
                branches[n++] = (struct branch){task, feeder, x->depths[x->n].start_min[task]};
            task_drop(x);
        }
    }
    qsort(branches, (size_t)n, sizeof *branches, branch_compare);
    return n;
}

/*
 * Nothing is lost by leaving out a branch where a flow on fits before the task on the same line without delaying it:
 * the same round with that flow turned on first is no longer, as long as walking by a third tank is never a short cut.
 */
static bool is_late_choice(const struct enumeration *x, const struct branch *branches, int n, const struct branch *b)
{
    const struct order_model *m = x->m;
    if (!x->metric)
        return false;
    for (int i = 0; i < n; i++) {
        const struct branch *o = &branches[i];
        if (o->feeder == b->feeder && o->task != b->task && m->tasks[o->task].kind == TASK_ON &&
            !m->tasks[b->task].quarantine && !m->tasks[o->task].quarantine &&
            (o->start_min < b->start_min || m->tasks[b->task].kind != TASK_ON) &&
            o->start_min + m->tasks[o->task].dur_min + x->walk_min[o->task * m->n_tasks + b->task] +
                    rules_pot_change_min(m) <=
                b->start_min)
            return true;
    }
    return false;
}

/* False: the nodes are used up. */
static bool descend(struct enumeration *x, struct branch *room)
{
    if (x->n == x->m->n_tasks) {
        schedule_keep(x);
        return true;
    }
    if (x->nodes-- <= 0)
        return false;
    struct branch *branches = room;
    int n = branches_fill(x, branches);
    for (int i = 0; i < n; i++) {
        if (is_late_choice(x, branches, n, &branches[i]))
            continue;
        bool ok = true;
        if (task_append(x, branches[i].task, branches[i].feeder) && bound_allows(x, &x->depths[x->n]))
            ok = descend(x, room + n);
        task_drop(x);
        if (!ok)
            return false;
    }
    return true;
}

/* ---- from outside ------------------------------------------------------------------------------------------ */

static bool exact_new(const struct order_model *m, struct arena *a, struct enumeration *x)
{
    size_t n = (size_t)m->n_tasks;
    *x = (struct enumeration){.m = m,
                              .arcs = arena_alloc(a, n * ARCS_PER_TASK, sizeof *x->arcs),
                              .first_in = arena_alloc(a, n + 1, sizeof(int)),
                              .arcs_in = arena_alloc(a, n * ARCS_PER_TASK, sizeof(int)),
                              .tail_min = arena_alloc(a, n, sizeof(int)),
                              .walk_min = arena_alloc(a, n * n, sizeof(int)),
                              .appended = arena_alloc(a, n, sizeof(int)),
                              .feeder = arena_alloc(a, n, sizeof(int)),
                              .before = arena_alloc(a, n, sizeof(int)),
                              .twin_task = arena_alloc(a, n, sizeof(int)),
                              .depths = arena_alloc(a, n + 1, sizeof *x->depths)};
    if (!x->arcs || !x->first_in || !x->arcs_in || !x->tail_min || !x->walk_min || !x->appended || !x->feeder ||
        !x->before || !x->twin_task || !x->depths)
        return false;
    for (size_t i = 0; i <= n; i++) {
        struct depth *d = &x->depths[i];
        d->start_min = arena_alloc(a, n, sizeof(int));
        d->floor_min = arena_alloc(a, n, sizeof(int));
        if (!d->start_min || !d->floor_min)
            return false;
    }
    return true;
}

/*
 * From the best schedule known; *proven: it ended by itself within NODES_MAX nodes. False:
 * out of memory.
 */
static inline bool enumerate(const struct order_model *m, struct arena *a, struct order_schedule *best, bool *proven)
{
    struct enumeration x;
    struct branch *room = arena_alloc(a, (size_t)BRANCHES_MAX * (size_t)(m->n_tasks + 1), sizeof *room);
    if (!room || !exact_new(m, a, &x))
        return false;
    x.best = best;
    x.best_finish = best->finish_min;
    x.nodes = NODES_MAX;
    x.rest_min = INT_MAX;
    for (int i = 0; i < m->n_tasks; i++) {
        x.feeder[i] = -1;
        x.depths[0].floor_min[i] = INT_MIN;
        count_task(&x, i, -1);
    }
    for (size_t j = 0; j < m->p->n_feeders; j++) {
        x.depths[0].line_last[j] = -1;
        x.depths[0].line_end[j] = m->p->feeders[j].ready_min;
    }
    for (int k = 0; k < m->n_stops; k++) {
        int rest = m->stops[k].on_after_min - m->tasks[m->stops[k].visit].dur_min + m->p->switch_min;
        x.rest_min = rest < x.rest_min ? rest : x.rest_min;
    }
    for (int i = 0; i < m->n_units; i++)
        unit_arcs(&x, &m->units[i]);
    tails_fill(&x);
    walks_fill(&x);
    arcs_index(&x);
    twins_fill(&x);
    *proven = descend(&x, room);
    return true;
}

#endif
