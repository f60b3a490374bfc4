/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Broadcasts into one water for stops of several pumps: which may be one, and which are, once the search is over. */
#include "schedule/rules.h"

static bool is_shared(const struct order_model *m, int task)
{
    return m->tasks[task].kind == TASK_BROADCAST && m->p->tanks[m->tasks[task].tank].share > 0;
}

bool broadcasts_meet(const struct order_model *m, int a, int b)
{
    return a != b && is_shared(m, a) && is_shared(m, b) && m->tasks[a].quarantine == m->tasks[b].quarantine &&
           m->p->tanks[m->tasks[a].tank].share == m->p->tanks[m->tasks[b].tank].share;
}

/*
 * Can the other, which takes as long, do for the broadcast: within the window of its stop, and with the flow on there?
 */
static bool does_for(const struct order_model *m, const struct order_schedule *s, int other, int broadcast)
{
    const struct order_span w = rules_window(m, s->start_min, broadcast);
    return m->tasks[other].dur_min == m->tasks[broadcast].dur_min && s->start_min[other] >= w.from_min &&
           s->start_min[other] <= w.by_min;
}

/*
 * May the broadcast leave its feeder's line? Not where the feeder changes tools for it, nor where the way past it is
 * longer.
 */
static bool is_spared(const struct order_model *m, const struct order_schedule *s, int broadcast)
{
    const int feeder = s->feeder[broadcast];
    const struct order_line *line = &s->lines[feeder];
    int at = line_find(line, s->start_min[broadcast]);
    while (line->slots[at].task != broadcast)
        at++;
    if (line->slots[at].tools || at + 1 == line->n)
        return !line->slots[at].tools;
    const struct order_slot *next = &line->slots[at + 1];
    return slot_stand_min(m, feeder, at > 0 ? &line->slots[at - 1] : NULL, next->task) + next->setup_min <=
           next->start_min;
}

bool broadcasts_merge(struct order_model *m, struct order_schedule *s)
{
    bool *holds = arena_alloc(&m->arena, (size_t)m->n_tasks, sizeof *holds); /* others' tanks as well */
    if (!holds)
        return false;
    for (int b = 0; b < m->n_tasks; b++)
        for (int a = 0; is_shared(m, b) && !holds[b] && s->feeder[b] >= 0 && a < m->n_tasks; a++) {
            if (!broadcasts_meet(m, a, b) || s->feeder[a] < 0 || !does_for(m, s, a, b) || !is_spared(m, s, b))
                continue;
            task_take_back(m, s, b);
            holds[a] = true;
            for (size_t i = 0; i < m->p->n_tanks; i++)
                if (m->broadcast_of[i] == b)
                    m->broadcast_of[i] = a;
        }
    schedule_measure(m, s);
    return true;
}
