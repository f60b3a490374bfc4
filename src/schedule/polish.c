/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Less walking, then less waiting, for a plan whose finish is as good as it gets: single tasks are moved, or two
 * exchanged, wherever that saves metres and all rules still hold with every task as early as its place allows.
 */
#include "schedule/rules.h"

struct polish {
    const struct order_model *m;
    struct order_schedule trial, *best;
    long steps_left;
};

/*
 * Starts each task as early as the one before it on its line allows, with the set-up that this takes; true: some are
 * later.
 */
static bool lines_push(const struct order_model *m, struct order_schedule *s)
{
    bool pushed = false;
    for (int j = 0; j < (int)m->p->n_feeders; j++)
        for (int i = 0; i < s->lines[j].n; i++) {
            struct order_slot *slot = &s->lines[j].slots[i];
            const struct order_slot *before = i > 0 ? slot - 1 : NULL;
            slot->start_min = s->start_min[slot->task];
            slot_begin(m, j, before, slot_stand_min(m, j, before, slot->task), slot);
            pushed |= slot->start_min > s->start_min[slot->task];
            s->start_min[slot->task] = slot->start_min;
        }
    return pushed;
}

static bool rules_push(const struct order_model *m, int *start_min)
{
    const struct order_rules *r = &m->rules;
    bool pushed = rules_classes_push(m, start_min);
    for (int i = 0; i < r->n_arcs; i++) {
        const struct order_arc *arc = &r->arcs[i];
        int *before = &start_min[arc->before], *next = &start_min[arc->next];
        if (*next < *before + arc->least_min) {
            *next = *before + arc->least_min;
            pushed = true;
        }
        if (arc->most_min < INT_MAX && *before < *next - arc->most_min) {
            *before = *next - arc->most_min;
            pushed = true;
        }
    }
    return pushed;
}

/*
 * The earliest starts for the lines' order (longest paths by relaxation: Bellman 1958, Quarterly of Applied
 * Mathematics 16:87-90). False: some task would end after finish_min.
 */
static bool schedule_time(const struct polish *p, struct order_schedule *s, int finish_min)
{
    const struct order_model *m = p->m;
    for (int i = 0; i < m->n_tasks; i++)
        s->start_min[i] = m->start_min;
    for (bool pushed = true; pushed;) {
        pushed = lines_push(m, s);
        pushed |= rules_push(m, s->start_min);
        for (int i = 0; i < m->n_tasks; i++)
            if (s->start_min[i] + m->tasks[i].dur_min > finish_min)
                return false;
    }
    schedule_measure(m, s);
    return true;
}

/* ---- moves ------------------------------------------------------------------------------------------------- */

static double way_m(const struct order_model *m, int before, int next)
{
    return before < 0 || next < 0 ? 0 : fabs(m->tasks[next].in_m - m->tasks[before].out_m);
}

static int task_at(const struct order_line *line, int at)
{
    return at >= 0 && at < line->n ? line->slots[at].task : -1;
}

/* Keeps the trial where it is better. */
static bool trial_keep(struct polish *p)
{
    p->steps_left--;
    if (!schedule_time(p, &p->trial, p->best->finish_min) || !schedule_better(&p->trial, p->best))
        return false;
    schedule_copy(p->m, p->best, &p->trial);
    return true;
}

/* Tries the task at (feeder, at) in every other place of all lines. */
static bool move_task(struct polish *p, int feeder, int at)
{
    const struct order_model *m = p->m;
    const struct order_line *from = &p->best->lines[feeder];
    const int task = task_at(from, at), left = task_at(from, at - 1), right = task_at(from, at + 1);
    const double saved_m = way_m(m, left, task) + way_m(m, task, right) - way_m(m, left, right);
    for (int j = 0; j < (int)m->p->n_feeders; j++)
        for (int to = 0; to <= p->best->lines[j].n && p->steps_left > 0; to++) {
            const struct order_line *line = &p->best->lines[j];
            if (j == feeder && (to == at || to == at + 1))
                continue;
            const int before = task_at(line, to - 1), next = task_at(line, to);
            if (way_m(m, before, task) + way_m(m, task, next) - way_m(m, before, next) > saved_m + 0.005)
                continue;
            schedule_copy(m, &p->trial, p->best);
            line_remove(&p->trial.lines[feeder], at);
            line_insert(&p->trial.lines[j], j == feeder && to > at ? to - 1 : to, (struct order_slot){.task = task});
            p->trial.feeder[task] = j;
            if (trial_keep(p))
                return true;
        }
    return false;
}

/* Tries to exchange the task at (feeder, at) with every later one. */
static bool exchange_task(struct polish *p, int feeder, int at)
{
    const struct order_model *m = p->m;
    for (int j = feeder; j < (int)m->p->n_feeders; j++)
        for (int to = j == feeder ? at + 1 : 0; to < p->best->lines[j].n && p->steps_left > 0; to++) {
            schedule_copy(m, &p->trial, p->best);
            struct order_slot *a = &p->trial.lines[feeder].slots[at], *b = &p->trial.lines[j].slots[to];
            if (m->tasks[a->task].in_m >= m->tasks[b->task].in_m && m->tasks[a->task].in_m <= m->tasks[b->task].in_m)
                continue;
            struct order_slot slot = *a;
            *a = *b;
            *b = slot;
            p->trial.feeder[a->task] = feeder;
            p->trial.feeder[b->task] = j;
            if (trial_keep(p))
                return true;
        }
    return false;
}

bool schedule_polish(const struct order_model *m, struct arena *a, struct order_schedule *best)
{
    struct polish p = {.m = m, .best = best, .steps_left = m->p->search_steps};
    if (!schedule_new(m, a, &p.trial))
        return false;
    schedule_copy(m, &p.trial, best);
    trial_keep(&p);
    for (bool better = true; better && p.steps_left > 0;) {
        better = false;
        for (int j = 0; j < (int)m->p->n_feeders; j++)
            for (int i = 0; i < best->lines[j].n; i++)
                better |= move_task(&p, j, i) || exchange_task(&p, j, i);
    }
    return true;
}
