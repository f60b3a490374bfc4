/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A finish that no plan can beat. Hands-on work alone is a weak bound: at the start, until the first lag is over, hands
 * find only broadcasts to do, and only so many, since their windows run out; at the end, during the last rest, only
 * flows to turn on. docs/order.md has the argument.
 */
#include "schedule/rules.h"

/* One class of tasks (quarantine, or all others), served by feeders who are ready at these minutes. */
struct bound {
    const struct order_model *m;
    bool quarantine;
    int ready_min[ORDER_FEEDERS_MAX];
    int first_ready_min;
    int n_feeders;
    int *gap_min;  /* per task: least minutes to whatever the same feeder does next */
    int *head_min; /* per task: no earlier start */
};

static bool in_class(const struct bound *b, int task)
{
    return b->m->tasks[task].quarantine == b->quarantine;
}

/* Least time between the end of task and the start of next, where one feeder does both. */
static int gap_between(const struct order_model *m, int task, int next)
{
    const struct order_task *a = &m->tasks[task], *b = &m->tasks[next];
    int gap = order_walk_min(m->p, a->out_m, b->in_m);
    if (a->unit != b->unit || a->stop < 0 || a->stop != b->stop)
        return gap;
    const struct order_stop *s = &m->stops[a->stop];
    if (a->kind == TASK_VISIT && b->kind == TASK_ON)
        return greater(gap, s->on_after_min - a->dur_min);
    return gap;
}

/* A task is followed by its own successor only after a lag or a rest; the least over all others is what counts. */
static void gaps_fill(const struct bound *b)
{
    const struct order_model *m = b->m;
    for (int i = 0; i < m->n_tasks; i++) {
        int least = INT_MAX;
        for (int k = 0; k < m->n_tasks && least > 0; k++)
            if (k != i) {
                int gap = gap_between(m, i, k);
                least = gap < least ? gap : least;
            }
        b->gap_min[i] = least == INT_MAX ? 0 : least;
    }
}

static int long_of(const struct bound *b, int task)
{
    return b->m->tasks[task].dur_min + b->gap_min[task];
}

/* The sum of the largest values, one per feeder. */
struct top {
    int values[ORDER_FEEDERS_MAX];
};

static void top_add(struct top *t, int n, int value)
{
    for (int i = 0; i < n; i++)
        if (value > t->values[i]) {
            int less = t->values[i];
            t->values[i] = value;
            value = less;
        }
}

static long top_sum(const struct top *t, int n)
{
    long sum = 0;
    for (int i = 0; i < n; i++)
        sum += t->values[i];
    return sum;
}

/* The least end of tasks in a row, by the rules and who is ready; their least starts into head_min. */
static int heads_fill(const struct bound *b, int first, int n)
{
    int end = INT_MIN;
    for (int i = first; i < first + n; i++) {
        b->head_min[i] = greater(b->first_ready_min, rules_window(b->m, b->head_min, i).from_min);
        end = greater(end, b->head_min[i] + b->m->tasks[i].dur_min);
    }
    return end;
}

/* Walks a unit's chain; first_visit takes the least start of a visit with a stop, the result is the chain's end. */
static int unit_chain(const struct bound *b, const struct order_unit *u, int *first_visit)
{
    const struct order_model *m = b->m;
    int end = b->first_ready_min;
    end = greater(end, heads_fill(b, u->first_visit, u->n_visits));
    for (int k = u->first_stop; k < u->first_stop + u->n_stops; k++) {
        const struct order_stop *s = &m->stops[k];
        heads_fill(b, s->first_broadcast, s->n_broadcasts);
        heads_fill(b, s->visit, 1);
        *first_visit = lesser(*first_visit, b->head_min[s->visit]);
        end = greater(end, heads_fill(b, s->on, 1));
    }
    return end;
}

/* A stop as an item of a knapsack: worth so many minutes of work for hands, for so many minutes of visit. */
struct item {
    long worth, visit;
};

static int item_compare(const void *left, const void *right)
{
    const struct item *a = left, *b = right;
    long x = a->worth * b->visit, y = b->worth * a->visit;
    return (x < y) - (x > y);
}

/*
 * The most that items whose visits fit into room can be worth; parts of items are allowed, so it is never too little.
 */
static long knapsack(struct item *items, size_t n, long room)
{
    long worth = 0;
    qsort(items, n, sizeof *items, item_compare);
    for (size_t i = 0; i < n && room > 0; i++) {
        if (items[i].visit <= room)
            worth += items[i].worth;
        else
            worth += (items[i].worth * room + items[i].visit - 1) / items[i].visit;
        room -= items[i].visit;
    }
    return worth;
}

/*
 * The most work of broadcasts that can begin before minute first_visit: their visits begin at or after it, and within
 * their windows. All but each feeder's last of those visits are over, with the way to the next, when the last one
 * begins.
 */
static long broadcasts_before(const struct bound *b, struct item *items)
{
    const struct order_model *m = b->m;
    struct top visits = {{0}};
    size_t n = 0;
    int window = 0;
    for (int k = 0; k < m->n_stops; k++) {
        const struct order_stop *s = &m->stops[k];
        if (!in_class(b, s->visit))
            continue;
        struct item it = {0, long_of(b, s->visit)};
        for (int i = s->first_broadcast; i < s->first_broadcast + s->n_broadcasts; i++) {
            it.worth += long_of(b, i);
            window = greater(window, m->tasks[i].dur_min - m->tasks[i].end_from_min);
        }
        if (it.worth == 0)
            continue;
        top_add(&visits, b->n_feeders, (int)it.visit);
        items[n++] = it;
    }
    return knapsack(items, n, (long)window * b->n_feeders + top_sum(&visits, b->n_feeders));
}

/* The most work of flows to turn on in the last minutes: their visits lie within one flow-off limit before those. */
static long flows_on_after(const struct bound *b, struct item *items)
{
    const struct order_model *m = b->m;
    size_t n = 0;
    int span = 0;
    struct top gaps = {{0}};
    for (int k = 0; k < m->n_stops; k++) {
        const struct order_stop *s = &m->stops[k];
        if (!in_class(b, s->visit))
            continue;
        items[n++] = (struct item){long_of(b, s->on), m->tasks[s->visit].dur_min};
        top_add(&gaps, b->n_feeders, greater(b->gap_min[s->visit], b->gap_min[s->on]));
        span = greater(span, s->on_by_min);
    }
    return knapsack(items, n, (long)span * b->n_feeders) + 2 * top_sum(&gaps, b->n_feeders);
}

/* What the bound is made of, for one class. */
struct needs {
    long work, start_idle, on_work;
    int chain_end, tail;
};

static long pots_extra(const struct bound *b)
{
    const struct order_model *m = b->m;
    long n_pots = 0;
    for (int i = 0; i < m->n_tasks; i++) {
        bool seen = m->tasks[i].pot < 0 || !in_class(b, i);
        for (int k = 0; k < i && !seen; k++)
            seen = m->tasks[k].pot == m->tasks[i].pot && in_class(b, k);
        n_pots += !seen;
    }
    long extra = n_pots - b->n_feeders;
    return extra > 0 ? extra * order_set_up_min(m->p, false, true) : 0;
}

/* Broadcasts into one water may all be given in one go: only the longest of them is sure to be work. */
static bool is_spared(const struct bound *b, int task)
{
    for (int i = 0; i < b->m->n_tasks; i++)
        if (broadcasts_meet(b->m, i, task) &&
            (long_of(b, i) > long_of(b, task) || (long_of(b, i) == long_of(b, task) && i < task)))
            return true;
    return false;
}

static struct needs needs_of(const struct bound *b, struct item *items)
{
    const struct order_model *m = b->m;
    struct needs need = {.chain_end = INT_MIN, .tail = INT_MAX};
    struct top gaps = {{0}};
    long free_work = 0;
    int first_visit = INT_MAX;
    for (int i = 0; i < m->n_tasks; i++) {
        if (!in_class(b, i))
            continue;
        need.work += is_spared(b, i) ? 0 : long_of(b, i);
        top_add(&gaps, b->n_feeders, b->gap_min[i]);
        if (m->tasks[i].stop < 0)
            free_work += long_of(b, i);
    }
    need.work -= top_sum(&gaps, b->n_feeders);
    for (int i = 0; i < m->n_units; i++)
        if (m->units[i].quarantine == b->quarantine)
            need.chain_end = greater(need.chain_end, unit_chain(b, &m->units[i], &first_visit));
    for (int k = 0; k < m->n_stops; k++) {
        const struct order_stop *s = &m->stops[k];
        int tail = s->on_after_min - m->tasks[s->visit].dur_min + m->p->switch_min;
        if (in_class(b, s->visit) && tail < need.tail)
            need.tail = tail;
    }
    if (first_visit == INT_MAX)
        return need;
    long idle = 0;
    for (int j = 0; j < b->n_feeders; j++)
        idle += greater(0, first_visit - b->ready_min[j]);
    idle -= broadcasts_before(b, items) + free_work;
    need.start_idle = idle > 0 ? idle : 0;
    need.on_work = flows_on_after(b, items) + free_work;
    need.work += b->quarantine ? 0 : pots_extra(b);
    return need;
}

/* The least finish at which the feeders' minutes hold the work and the idleness that nobody can avoid. */
static int class_bound(const struct bound *b, struct item *items)
{
    struct needs need = needs_of(b, items);
    int finish = greater(need.chain_end, b->first_ready_min);
    for (;; finish++) {
        long minutes = 0, end_idle = 0;
        for (int j = 0; j < b->n_feeders; j++) {
            int there = greater(0, finish - b->ready_min[j]);
            minutes += there;
            if (need.tail < INT_MAX)
                end_idle += there < need.tail ? there : need.tail;
        }
        end_idle = end_idle > need.on_work ? end_idle - need.on_work : 0;
        if (minutes >= need.work + need.start_idle + end_idle)
            return finish;
    }
}

bool model_bound(const struct order_model *m, struct arena *a, int *bound_min)
{
    const struct order_problem *p = m->p;
    struct item *items = arena_alloc(a, (size_t)m->n_stops, sizeof *items);
    struct bound b = {.m = m,
                      .n_feeders = (int)p->n_feeders,
                      .gap_min = arena_alloc(a, (size_t)m->n_tasks, sizeof(int)),
                      .head_min = arena_alloc(a, (size_t)m->n_tasks, sizeof(int))};
    bool others = false, quarantine = false;
    if (!items || !b.gap_min || !b.head_min)
        return false;
    for (int i = 0; i < m->n_tasks; i++) {
        b.head_min[i] = NOT_PLACED;
        others |= !m->tasks[i].quarantine;
        quarantine |= m->tasks[i].quarantine;
    }
    gaps_fill(&b);
    b.first_ready_min = m->start_min;
    for (int j = 0; j < b.n_feeders; j++)
        b.ready_min[j] = p->feeders[j].ready_min;
    *bound_min = others ? class_bound(&b, items) : m->start_min;
    if (!quarantine)
        return true;

    /* Quarantine begins when all others are done; nobody begins it without having changed tools. */
    b.quarantine = true;
    b.first_ready_min = INT_MAX;
    for (int j = 0; j < b.n_feeders; j++) {
        int changed = (b.n_feeders == 1 && others ? *bound_min : b.ready_min[j]) + order_set_up_min(p, true, false);
        b.ready_min[j] = others ? greater(changed, *bound_min) : changed;
        b.first_ready_min = b.ready_min[j] < b.first_ready_min ? b.ready_min[j] : b.first_ready_min;
    }
    *bound_min = class_bound(&b, items);
    return true;
}
