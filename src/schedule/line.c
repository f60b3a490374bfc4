/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A feeder's line of tasks with the set-ups between them, and a schedule: the lines of all of them. */
#include "schedule/rules.h"

/* ---- a feeder's line --------------------------------------------------------------------------------------- */

static int slot_end(const struct order_model *m, const struct order_slot *slot)
{
    return slot->start_min + m->tasks[slot->task].dur_min;
}

void slot_set_up(const struct order_model *m, int feeder, const struct order_slot *before, struct order_slot *slot)
{
    const struct order_problem *p = m->p;
    const struct order_feeder *f = &p->feeders[feeder];
    const struct order_task *t = &m->tasks[slot->task];
    int pot = before ? before->pot : -1;
    int mixed = before ? before->mixed_min : rules_first_mixed_min(f);

    bool changed = before && before->changed;
    slot->tools = rules_tools(t, changed);
    slot->changed = t->quarantine || changed;
    slot->fresh_pot = false;
    if (t->pot >= 0) {
        bool old = slot->start_min + t->dur_min > rules_pot_until_min(p, mixed);
        slot->fresh_pot = old || slot->early_pot || (pot >= 0 && pot != t->pot);
        pot = t->pot;
        if (slot->fresh_pot)
            mixed = rules_mixed_min(p, slot->start_min);
    }
    slot->pot = pot;
    slot->mixed_min = mixed;
    slot->setup_min = order_set_up_min(p, slot->tools, slot->fresh_pot);
}

int slot_stand_min(const struct order_model *m, int feeder, const struct order_slot *before, int task)
{
    if (before)
        return slot_end(m, before) + order_walk_min(m->p, m->tasks[before->task].out_m, m->tasks[task].in_m);
    return m->p->feeders[feeder].ready_min;
}

void slot_begin(const struct order_model *m, int feeder, const struct order_slot *before, int stand_min,
                struct order_slot *slot)
{
    slot->start_min = greater(slot->start_min, stand_min);
    slot_set_up(m, feeder, before, slot);
    /* Later by the tools, the pot may be too old; then it is later by the pot as well. */
    for (int i = 0; i < 2 && slot->start_min < stand_min + slot->setup_min; i++) {
        slot->start_min = stand_min + slot->setup_min;
        slot_set_up(m, feeder, before, slot);
    }
}

void line_insert(struct order_line *line, int at, struct order_slot slot)
{
    memmove(line->slots + at + 1, line->slots + at, (size_t)(line->n - at) * sizeof *line->slots);
    line->slots[at] = slot;
    line->n++;
}

void line_remove(struct order_line *line, int at)
{
    line->n--;
    memmove(line->slots + at, line->slots + at + 1, (size_t)(line->n - at) * sizeof *line->slots);
}

static bool slot_same(const struct order_slot *a, const struct order_slot *b)
{
    return a->setup_min == b->setup_min && a->tools == b->tools && a->changed == b->changed &&
           a->fresh_pot == b->fresh_pot && a->pot == b->pot && a->mixed_min == b->mixed_min;
}

/* Do the slots from at on still have room, once *mine stands before them? */
static bool rest_fits(const struct order_model *m, const struct order_line *line, int feeder, int at,
                      struct order_slot mine)
{
    for (int i = at; i < line->n; i++) {
        struct order_slot next = line->slots[i];
        slot_set_up(m, feeder, &mine, &next);
        if (slot_stand_min(m, feeder, &mine, next.task) + next.setup_min > next.start_min)
            return false;
        if (slot_same(&next, &line->slots[i]))
            return true;
        mine = next;
    }
    return true;
}

int line_find(const struct order_line *line, int minute)
{
    int low = 0, high = line->n;
    while (low < high) {
        int mid = low + (high - low) / 2;
        if (line->slots[mid].start_min < minute)
            low = mid + 1;
        else
            high = mid;
    }
    return low;
}

int line_earliest(const struct order_model *m, const struct order_schedule *s, int feeder, int task, int from, int by,
                  int *at)
{
    const struct order_line *line = &s->lines[feeder];
    const int dur = m->tasks[task].dur_min;
    for (int i = line_find(line, from); i <= line->n; i++) {
        const struct order_slot *before = i > 0 ? &line->slots[i - 1] : NULL;
        int stand = slot_stand_min(m, feeder, before, task);
        if (stand > by)
            return INT_MAX;
        struct order_slot mine = {.task = task, .start_min = stand > from ? stand : from};
        if (i < line->n && mine.start_min + dur > line->slots[i].start_min)
            continue;
        slot_begin(m, feeder, before, stand, &mine);
        if (mine.start_min > by || !rest_fits(m, line, feeder, i, mine))
            continue;
        *at = i;
        return mine.start_min;
    }
    return INT_MAX;
}

/* Brings set-ups and pots up to date from slot at on. */
static void line_refresh(const struct order_model *m, struct order_line *line, int feeder, int at)
{
    for (int i = at; i < line->n; i++) {
        struct order_slot now = line->slots[i];
        slot_set_up(m, feeder, i > 0 ? &line->slots[i - 1] : NULL, &now);
        bool same = slot_same(&now, &line->slots[i]);
        line->slots[i] = now;
        if (same && i > at)
            return;
    }
}

void task_place(const struct order_model *m, struct order_schedule *s, int feeder, int at, int task, int start_min)
{
    struct order_line *line = &s->lines[feeder];
    line_insert(line, at, (struct order_slot){.task = task, .start_min = start_min});
    line_refresh(m, line, feeder, at);
    s->start_min[task] = start_min;
    s->feeder[task] = feeder;
}

void task_take_back(const struct order_model *m, struct order_schedule *s, int task)
{
    int feeder = s->feeder[task];
    struct order_line *line = &s->lines[feeder];
    int at = line_find(line, s->start_min[task]);
    while (line->slots[at].task != task)
        at++;
    line_remove(line, at);
    line_refresh(m, line, feeder, at);
    s->feeder[task] = -1;
    s->start_min[task] = NOT_PLACED;
}

/* ---- schedules --------------------------------------------------------------------------------------------- */

bool schedule_new(const struct order_model *m, struct arena *a, struct order_schedule *s)
{
    size_t n = (size_t)m->n_tasks;
    *s = (struct order_schedule){.lines = arena_alloc(a, m->p->n_feeders, sizeof *s->lines),
                                 .start_min = arena_alloc(a, n, sizeof *s->start_min),
                                 .feeder = arena_alloc(a, n, sizeof *s->feeder)};
    if (!s->lines || !s->start_min || !s->feeder)
        return false;
    for (size_t j = 0; j < m->p->n_feeders; j++)
        if (!(s->lines[j].slots = arena_alloc(a, n + 1, sizeof *s->lines[j].slots)))
            return false;
    return true;
}

void schedule_copy(const struct order_model *m, struct order_schedule *to, const struct order_schedule *from)
{
    for (size_t j = 0; j < m->p->n_feeders; j++) {
        to->lines[j].n = from->lines[j].n;
        memcpy(to->lines[j].slots, from->lines[j].slots, (size_t)from->lines[j].n * sizeof *from->lines[j].slots);
    }
    memcpy(to->start_min, from->start_min, (size_t)m->n_tasks * sizeof *to->start_min);
    memcpy(to->feeder, from->feeder, (size_t)m->n_tasks * sizeof *to->feeder);
    to->finish_min = from->finish_min;
    to->waited_min = from->waited_min;
    to->walked_m = from->walked_m;
}

bool schedule_better(const struct order_schedule *a, const struct order_schedule *b)
{
    if (a->finish_min != b->finish_min)
        return a->finish_min < b->finish_min;
    if (fabs(a->walked_m - b->walked_m) > 0.01)
        return a->walked_m < b->walked_m;
    return a->waited_min < b->waited_min;
}

static void line_measure(const struct order_model *m, struct order_schedule *s, int feeder)
{
    const struct order_line *line = &s->lines[feeder];
    for (int i = 0; i < line->n; i++) {
        const struct order_slot *slot = &line->slots[i], *before = i > 0 ? slot - 1 : NULL;
        const struct order_task *t = &m->tasks[slot->task];
        if (before) {
            s->walked_m += fabs(t->in_m - m->tasks[before->task].out_m);
            s->waited_min += slot->start_min - slot->setup_min - slot_stand_min(m, feeder, before, slot->task);
        }
        s->walked_m += t->inner_walk_m;
        s->finish_min = greater(s->finish_min, slot_end(m, slot));
    }
}

/*
 * What every schedule promises: a task on a line is there once, with its feeder and minute; on a line each begins once
 * its feeder can stand there and is through with its set-up, which is that of the slots before it.
 */
static bool schedule_holds(const struct order_model *m, const struct order_schedule *s)
{
    int n = 0, n_placed = 0;
    for (int i = 0; i < m->n_tasks; i++)
        n_placed += s->feeder[i] >= 0;
    for (int j = 0; j < (int)m->p->n_feeders; j++)
        for (int i = 0; i < s->lines[j].n; i++) {
            const struct order_slot *slot = &s->lines[j].slots[i], *before = i > 0 ? slot - 1 : NULL;
            struct order_slot fresh = *slot;
            slot_set_up(m, j, before, &fresh);
            n++;
            if (s->feeder[slot->task] != j || s->start_min[slot->task] != slot->start_min || !slot_same(&fresh, slot) ||
                slot_stand_min(m, j, before, slot->task) + slot->setup_min > slot->start_min)
                return false;
        }
    return n == n_placed;
}

void schedule_measure(const struct order_model *m, struct order_schedule *s)
{
    debug_assert(schedule_holds(m, s));
    s->finish_min = m->start_min;
    s->walked_m = 0;
    s->waited_min = 0;
    for (size_t j = 0; j < m->p->n_feeders; j++)
        line_measure(m, s, (int)j);
}
