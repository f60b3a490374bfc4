/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The way in: a problem becomes a model, its best schedule found, and that written down as steps. */
#include "schedule/rules.h"

void order_defaults(struct order_problem *p)
{
    p->shares = NULL;
    p->n_shares = 0;
    p->lag_min = 15;
    p->lag_max = 20;
    p->walk_m_per_min = 60;
    p->walk_free_m = 15;
    p->switch_min = 0;
    p->tool_change_min = 3;
    p->pot_change_min = 2;
    p->slurry_age_limit_min = 0;
    p->flow_on_gap_min = 10;
    p->search_steps = 4000;
    p->exact_work = 4000000;
    p->watch = NULL;
}

void order_plan_free(struct order_plan *plan)
{
    free(plan->steps);
    *plan = (struct order_plan){0};
}

/* ---- steps ------------------------------------------------------------------------------------------------- */

struct step_list {
    struct order_step *steps;
    size_t n, room;
    bool failed;
};

static void step_add(struct step_list *list, struct order_step step)
{
    struct order_step *grown = mem_grow(list->steps, &list->room, list->n + 1, sizeof *list->steps);
    if (!grown) {
        list->failed = true;
        return;
    }
    list->steps = grown;
    list->steps[list->n++] = step;
}

static void visit_steps(const struct order_model *m, int feeder, const struct order_slot *slot,
                        const struct order_stop *stop, int on_min, struct step_list *list)
{
    const struct order_unit *u = &m->units[stop->unit];
    const int at = slot->start_min, pass = (int)(stop - m->stops) - u->first_stop + 1;
    step_add(list, (struct order_step){.tank = u->tank,
                                       .action = ORDER_FLOW_OFF,
                                       .feeder = feeder,
                                       .pass = pass,
                                       .start_min = at + stop->off_at_min,
                                       .end_min = at + stop->off_at_min + m->p->switch_min});
    for (size_t i = stop->first_feed; i < stop->first_feed + stop->n_feeds; i++) {
        const struct order_feed *f = &m->feeds[i];
        int fed = at + f->at_min + f->dur_min;
        if (f->fish_min > 0)
            step_add(list, (struct order_step){.tank = f->tank,
                                               .action = ORDER_FISH,
                                               .feeder = feeder,
                                               .pass = pass,
                                               .start_min = at + f->fish_at_min,
                                               .end_min = at + f->fish_at_min + f->fish_min});
        step_add(list, (struct order_step){.tank = f->tank,
                                           .action = ORDER_FEED,
                                           .feeder = feeder,
                                           .pass = pass,
                                           .start_min = at + f->at_min,
                                           .end_min = fed,
                                           .feed_s = f->feed_s,
                                           .fed = f->fed});
        if (on_min > fed)
            step_add(list, (struct order_step){.tank = f->tank,
                                               .action = ORDER_REST,
                                               .feeder = -1,
                                               .pass = pass,
                                               .start_min = fed,
                                               .end_min = on_min});
    }
}

/* A broadcast, or the beginning of a visit that is one: a step for each tank that it is for. */
static void broadcast_steps(const struct order_model *m, int feeder, const struct order_slot *slot, int minutes,
                            struct step_list *list)
{
    for (size_t i = 0; i < m->p->n_tanks; i++)
        if (m->broadcast_of[i] == slot->task)
            step_add(list, (struct order_step){.tank = i,
                                               .action = ORDER_BROADCAST,
                                               .feeder = feeder,
                                               .start_min = slot->start_min,
                                               .end_min = slot->start_min + minutes});
}

/* The visit of a tank without target feed: broadcast, then fish. */
static void short_visit_steps(const struct order_model *m, int feeder, const struct order_slot *slot,
                              struct step_list *list)
{
    const struct order_task *task = &m->tasks[slot->task];
    const struct order_tank *t = &m->p->tanks[task->tank];
    int broadcast_min = 0;
    if (m->broadcast_of[task->tank] == slot->task)
        broadcast_min = t->share > 0 ? task->dur_min : t->broadcast_min;
    broadcast_steps(m, feeder, slot, broadcast_min, list);
    if (task->dur_min > broadcast_min)
        step_add(list, (struct order_step){.tank = task->tank,
                                           .action = ORDER_FISH,
                                           .feeder = feeder,
                                           .start_min = slot->start_min + broadcast_min,
                                           .end_min = slot->start_min + task->dur_min});
}

static void slot_steps(const struct order_model *m, const struct order_schedule *s, int feeder,
                       const struct order_slot *slot, struct step_list *list)
{
    const struct order_task *t = &m->tasks[slot->task];
    int at = slot->start_min - slot->setup_min;
    if (slot->tools) {
        step_add(list, (struct order_step){.tank = t->tank,
                                           .action = ORDER_TOOLS,
                                           .feeder = feeder,
                                           .start_min = at,
                                           .end_min = at + m->p->tool_change_min});
        at += m->p->tool_change_min;
    }
    if (slot->fresh_pot)
        step_add(list, (struct order_step){.tank = t->tank,
                                           .action = ORDER_POT,
                                           .feeder = feeder,
                                           .start_min = at,
                                           .end_min = at + m->p->pot_change_min});
    if (t->kind == TASK_VISIT && t->stop >= 0)
        visit_steps(m, feeder, slot, &m->stops[t->stop], s->start_min[m->stops[t->stop].on], list);
    else if (t->kind == TASK_VISIT)
        short_visit_steps(m, feeder, slot, list);
    else if (t->kind == TASK_BROADCAST)
        broadcast_steps(m, feeder, slot, t->dur_min, list);
    else
        step_add(list, (struct order_step){.tank = t->tank,
                                           .feeder = feeder,
                                           .start_min = slot->start_min,
                                           .end_min = slot->start_min + t->dur_min,
                                           .action = ORDER_FLOW_ON,
                                           .pass = t->stop - m->units[t->unit].first_stop + 1});
}

struct numbered_step {
    struct order_step step;
    size_t number;
};

/* The number, in each feeder's own order, decides among steps without length at the same minute. */
static int step_compare(const void *left, const void *right)
{
    const struct numbered_step *x = left, *y = right;
    const struct order_step *a = &x->step, *b = &y->step;
    if (a->start_min != b->start_min)
        return a->start_min < b->start_min ? -1 : 1;
    if (a->end_min != b->end_min)
        return a->end_min < b->end_min ? -1 : 1;
    if (a->feeder != b->feeder)
        return a->feeder < b->feeder ? -1 : 1;
    return x->number < y->number ? -1 : 1;
}

static bool steps_sort(struct step_list *list)
{
    struct numbered_step *numbered = calloc(list->n + 1, sizeof *numbered);
    if (!numbered)
        return false;
    for (size_t i = 0; i < list->n; i++)
        numbered[i] = (struct numbered_step){list->steps[i], i};
    qsort(numbered, list->n, sizeof *numbered, step_compare);
    for (size_t i = 0; i < list->n; i++)
        list->steps[i] = numbered[i].step;
    free(numbered);
    return true;
}

static bool plan_fill(const struct order_model *m, const struct order_schedule *s, struct order_plan *plan)
{
    struct step_list list = {0};
    for (size_t j = 0; j < m->p->n_feeders; j++)
        for (int i = 0; i < s->lines[j].n; i++)
            slot_steps(m, s, (int)j, &s->lines[j].slots[i], &list);
    if (list.failed || !steps_sort(&list)) {
        free(list.steps);
        return false;
    }
    *plan = (struct order_plan){.steps = list.steps,
                                .n_steps = list.n,
                                .n_tanks = m->p->n_tanks,
                                .start_min = m->start_min,
                                .finish_min = s->finish_min,
                                .walked_m = s->walked_m,
                                .waited_min = s->waited_min};
    return true;
}

bool order_make(const struct order_problem *p, struct order_plan *out, struct err *e)
{
    bool ok = false;
    struct order_model m;
    struct order_schedule best;
    struct order_plan plan;
    struct err broken = {0};
    int bound_min;

    if (!order_model_build(&m, p, e))
        goto done;
    if (!model_bound(&m, &m.arena, &bound_min)) {
        err_memory(e);
        goto done;
    }
    if (!search_best(&m, &m.arena, &bound_min, &best, e))
        goto done;
    if (!broadcasts_merge(&m, &best)) {
        err_memory(e);
        goto done;
    }
    if (!plan_fill(&m, &best, &plan)) {
        err_memory(e);
        goto done;
    }
    plan.lower_bound_min = bound_min;
    plan.proven = plan.finish_min <= bound_min;
    debug_assert(order_check(p, &plan, NULL, &broken) || broken.code == ERR_MEMORY);
    *out = plan;
    ok = true;
done:
    order_model_free(&m);
    return ok;
}
