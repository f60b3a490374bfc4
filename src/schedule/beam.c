/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Beam search along the clock: the feeder who is free first takes up one task, in every way that leaves no lag window
 * or flow-off limit behind; of all partial rounds with equally many tasks, those with the least idleness live on.
 * Reserved visits and flows on are held as windows, not as minutes, so that they close up to what went before.
 */
#include "schedule/rules.h"

enum { RESERVATIONS_MAX = 24, CANDIDATES_MAX = 12, CHILDREN_MAX = RESERVATIONS_MAX + CANDIDATES_MAX };

/* A stop's broadcasts as one piece of work. */
struct first_ops {
    int n; /* broadcasts */
    int dur_min;
    double in_m, out_m;
};

struct beam {
    const struct order_model *m;
    struct first_ops *first_ops; /* per stop */
    int *broadcast_at_min;       /* per task: of a broadcast, its start from the first operations's start */
    const int *order;            /* units, as new ones are taken up */
    int width, n_candidates, fill_percent;
    long fill_min; /* visit work that keeps hands busy through a lag */
    struct beam_state *now, *next;
    struct child *children;
    struct trace *traces;
    int n_traces;
};

/* A visit or flow on that must start within [from, by]. */
struct reservation {
    int stop;
    int unit;
    bool on;
    int from_min, by_min;
};

struct unit_state {
    short visits, stop; /* how many of its short visits and stops are done */
    bool begun;         /* the present stop is reserved */
};

struct feeder_state {
    int free_min;
    double at_m;
    struct order_slot last; /* its task is not used */
    bool has_last;
};

struct beam_state {
    struct feeder_state feeders[ORDER_FEEDERS_MAX];
    struct reservation reservations[RESERVATIONS_MAX];
    struct unit_state *units;
    int *start_min; /* per task, or NOT_PLACED */
    int n_reservations, n_unbegun, trace;
    long idle_min, visit_min; /* visit_min: reserved visit work */
    double walked_m;
    uint64_t key;
};

/* What was done in a step: enough to build the schedule at the end, going back from the last. */
struct trace {
    int before, feeder, start_min;
    int stop, unit;
    enum { TRACE_FIRST_OPS, TRACE_VISIT, TRACE_SHORT, TRACE_ON } kind;
};

struct child {
    int state, number;
    struct trace did;
    int reservation; /* the reservation kept, -1: none */
    int setup_min;
    int64_t score;
    uint64_t key;
};

static int task_of(const struct order_model *m, const struct trace *t)
{
    if (t->kind == TRACE_SHORT)
        return t->stop;
    if (t->kind == TRACE_ON)
        return m->stops[t->stop].on;
    return m->stops[t->stop].visit;
}

/* ---- first operations -------------------------------------------------------------------------------------------- */

/* As late before the visit as the windows allow, the last first: the way the stop was laid out. */
static void first_ops_fill(struct beam *b, int k)
{
    const struct order_model *m = b->m;
    const struct order_problem *p = m->p;
    const struct order_stop *s = &m->stops[k];
    struct first_ops *o = &b->first_ops[k];
    int next_start = -rules_pot_change_min(m), last_end = 0;
    double next_m = m->tasks[s->visit].in_m;

    *o = (struct first_ops){.n = s->n_broadcasts};
    for (int i = s->first_broadcast + s->n_broadcasts; i-- > s->first_broadcast;) {
        const struct order_task *t = &m->tasks[i];
        int end = next_start - order_walk_min(p, t->out_m, next_m);
        if (end > t->end_by_min)
            end = t->end_by_min;
        if (i == s->first_broadcast + s->n_broadcasts - 1) {
            last_end = end;
            o->out_m = t->out_m;
        }
        o->in_m = t->in_m;
        next_start = end - t->dur_min;
        next_m = t->in_m;
        b->broadcast_at_min[i] = next_start;
    }
    o->dur_min = last_end - next_start;
    for (int i = s->first_broadcast; i < s->first_broadcast + s->n_broadcasts; i++)
        b->broadcast_at_min[i] -= next_start;
}

/* ---- can all reservations still be kept? ----------------------------------------------------------------------- */

/* A flow on that follows a visit of this reservation begun at start_min. */
static struct reservation on_reservation(const struct order_model *m, int stop, int start_min)
{
    const struct order_span on = rules_flow_on(m, &m->stops[stop], start_min);
    return (struct reservation){
        .stop = stop, .unit = m->stops[stop].unit, .on = true, .from_min = on.from_min, .by_min = on.by_min};
}

static int reservation_task(const struct order_model *m, const struct reservation *p)
{
    return p->on ? m->stops[p->stop].on : m->stops[p->stop].visit;
}

/*
 * Follows one simple rule to the end of all reservations, flows on of reserved visits included: the feeder free first
 * takes the one that runs out first among those open. Where that works, a way on from here is known.
 */
static bool reservations_hold(const struct beam *b, const struct beam_state *s, int feeder, int free_min, double at_m,
                              int kept, const struct reservation *extra)
{
    const struct order_model *m = b->m;
    int free[ORDER_FEEDERS_MAX], n = 0, k = (int)m->p->n_feeders;
    double at[ORDER_FEEDERS_MAX];
    struct reservation open[RESERVATIONS_MAX + 1];
    for (int i = 0; i < s->n_reservations; i++)
        if (i != kept)
            open[n++] = s->reservations[i];
    if (extra)
        open[n++] = *extra;
    assert(k > 0);
    for (int j = 0; j < k; j++) {
        free[j] = j == feeder ? free_min : s->feeders[j].free_min;
        at[j] = j == feeder ? at_m : s->feeders[j].at_m;
    }
    while (n > 0) {
        int j = 0, best = -1, from = INT_MAX;
        for (int i = 1; i < k; i++)
            j = free[i] < free[j] ? i : j;
        for (int i = 0; i < n; i++)
            from = open[i].from_min < from ? open[i].from_min : from;
        int now = greater(free[j], from);
        for (int i = 0; i < n; i++)
            if (open[i].from_min <= now && (best < 0 || open[i].by_min < open[best].by_min))
                best = i;
        assert(best >= 0); /* the one that is open first, if no other */
        const struct order_task *t = &m->tasks[reservation_task(m, &open[best])];
        int start = greater(free[j] + order_walk_min(m->p, at[j], t->in_m), open[best].from_min);
        if (start > open[best].by_min)
            return false;
        free[j] = start + t->dur_min;
        at[j] = t->out_m;
        if (open[best].on)
            open[best] = open[--n];
        else
            open[best] = on_reservation(m, open[best].stop, start);
    }
    return true;
}

/* ---- one step ---------------------------------------------------------------------------------------------- */

/* When the feeder can start the task, no earlier than from; the set-up it needs into *setup_min. */
static int start_of(const struct beam *b, const struct beam_state *s, int feeder, int task, double in_m, int from,
                    struct order_slot *slot)
{
    const struct order_model *m = b->m;
    const struct feeder_state *f = &s->feeders[feeder];
    int stand = f->free_min + (f->has_last ? order_walk_min(m->p, f->at_m, in_m) : 0);
    *slot = (struct order_slot){.task = task, .start_min = from};
    slot_begin(m, feeder, f->has_last ? &f->last : NULL, stand, slot);
    return slot->start_min;
}

static uint64_t mix(uint64_t x)
{
    x ^= x >> 31;
    x *= 0x7FB5D329728EA185u;
    x ^= x >> 27;
    x *= 0x81DADEF4BC2DD44Du;
    return x ^ (x >> 33);
}

static int64_t score_of(const struct beam *b, long idle_min, long visit_min, int n_unbegun, double walked_m)
{
    long fill_min = b->fill_min * b->fill_percent / 100;
    long starve = n_unbegun > 0 && visit_min < fill_min ? fill_min - visit_min : 0;
    return ((int64_t)idle_min * 10 + starve * 10) * 100000 + (int64_t)walked_m;
}

/* What goes before a new task of the unit; not open: it waits for that, or has nothing more to take up. */
static struct order_floor unit_floor(const struct beam *b, const struct beam_state *s, int unit)
{
    const struct order_unit *u = &b->m->units[unit];
    const struct unit_state *at = &s->units[unit];
    if (at->begun || (at->visits == u->n_visits && at->stop == u->n_stops))
        return (struct order_floor){.open = false};
    return rules_floor(b->m, s->start_min, unit);
}

/* No earlier than the floor, for a first visit or what leads to it. */
static int floor_from(struct order_floor f)
{
    return greater(f.all_min, f.first_min);
}

/*
 * The visit after first operations that starts at this minute; what the state knows of the broadcasts is as it was
 * afterwards.
 */
static struct reservation visit_reservation(const struct beam *b, const struct beam_state *s, const struct trace *did)
{
    const struct order_model *m = b->m;
    const struct order_stop *stop = &m->stops[did->stop];
    for (int i = stop->first_broadcast; i < stop->first_broadcast + stop->n_broadcasts; i++)
        s->start_min[i] = did->start_min + b->broadcast_at_min[i];
    const struct order_span w = rules_window(m, s->start_min, stop->visit);
    for (int i = stop->first_broadcast; i < stop->first_broadcast + stop->n_broadcasts; i++)
        s->start_min[i] = NOT_PLACED;
    return (struct reservation){.stop = did->stop,
                                .unit = did->unit,
                                .from_min = greater(w.from_min, floor_from(rules_floor(m, s->start_min, did->unit))),
                                .by_min = w.by_min};
}

static void child_add(struct beam *b, int state, int *n, struct child c, int dur_min, double in_m, double out_m,
                      const struct reservation *extra)
{
    const struct beam_state *s = &b->now[state];
    const struct feeder_state *f = &s->feeders[c.did.feeder];
    const struct order_model *m = b->m;
    if (!reservations_hold(b, s, c.did.feeder, c.did.start_min + dur_min, out_m, c.reservation, extra))
        return;
    long visit_min = s->visit_min;
    int n_unbegun = s->n_unbegun - (c.reservation < 0 && c.did.kind != TRACE_SHORT);
    if (c.did.kind == TRACE_FIRST_OPS)
        visit_min += m->tasks[m->stops[c.did.stop].visit].dur_min;
    else if (c.did.kind == TRACE_VISIT && c.reservation >= 0)
        visit_min -= dur_min;
    long idle = s->idle_min + c.did.start_min - f->free_min - c.setup_min;
    double walked = s->walked_m + (f->has_last ? fabs(in_m - f->at_m) : 0);
    c.state = state;
    c.number = *n;
    c.score = score_of(b, idle, visit_min, n_unbegun, walked);
    c.key = s->key ^ mix(((uint64_t)c.did.unit << 34) ^ ((uint64_t)(c.did.stop + 2) << 4) ^ (uint64_t)c.did.kind);
    b->children[(*n)++] = c;
}

static void child_reserved(struct beam *b, int state, int *n, int feeder, int i)
{
    const struct order_model *m = b->m;
    const struct beam_state *s = &b->now[state];
    const struct reservation *p = &s->reservations[i];
    struct child c = {.reservation = i,
                      .did = {.before = s->trace,
                              .feeder = feeder,
                              .stop = p->stop,
                              .unit = p->unit,
                              .kind = p->on ? TRACE_ON : TRACE_VISIT}};
    int task = task_of(m, &c.did);
    struct order_slot slot;
    c.did.start_min = start_of(b, s, feeder, task, m->tasks[task].in_m, p->from_min, &slot);
    c.setup_min = slot.setup_min;
    if (c.did.start_min > p->by_min)
        return;
    struct reservation on;
    if (!p->on)
        on = on_reservation(m, c.did.stop, c.did.start_min);
    child_add(b, state, n, c, m->tasks[task].dur_min, m->tasks[task].in_m, m->tasks[task].out_m, p->on ? NULL : &on);
}

/* A task of the unit that is done at once: a short visit, or one of a stop without broadcasts. */
static void child_visit(struct beam *b, int state, int *n, struct child c, int task, int from)
{
    const struct order_model *m = b->m;
    const struct beam_state *s = &b->now[state];
    const struct order_task *t = &m->tasks[task];
    struct order_slot slot;
    struct reservation extra;
    from = greater(from, rules_window(m, s->start_min, task).from_min);
    c.did.start_min = start_of(b, s, c.did.feeder, task, t->in_m, from, &slot);
    c.setup_min = slot.setup_min;
    if (c.did.kind == TRACE_VISIT)
        extra = on_reservation(m, c.did.stop, c.did.start_min);
    child_add(b, state, n, c, t->dur_min, t->in_m, t->out_m, c.did.kind == TRACE_VISIT ? &extra : NULL);
}

static void child_first_ops(struct beam *b, int state, int *n, struct child c, int from)
{
    const struct order_model *m = b->m;
    const struct beam_state *s = &b->now[state];
    const struct first_ops *o = &b->first_ops[c.did.stop];
    const int task = m->stops[c.did.stop].first_broadcast;
    struct order_slot slot;
    from = greater(from, rules_window(m, s->start_min, task).from_min);
    c.did.start_min = start_of(b, s, c.did.feeder, task, o->in_m, from, &slot);
    struct reservation extra = visit_reservation(b, s, &c.did);
    if (extra.from_min > extra.by_min) {
        from = c.did.start_min + extra.from_min - extra.by_min;
        c.did.start_min = start_of(b, s, c.did.feeder, task, o->in_m, from, &slot);
        extra = visit_reservation(b, s, &c.did);
    }
    c.setup_min = slot.setup_min;
    child_add(b, state, n, c, o->dur_min, o->in_m, o->out_m, &extra);
}

static void child_new(struct beam *b, int state, int *n, int feeder, int unit, struct order_floor floor)
{
    const struct order_model *m = b->m;
    const struct beam_state *s = &b->now[state];
    const struct order_unit *u = &m->units[unit];
    const struct unit_state *at = &s->units[unit];
    struct child c = {.reservation = -1, .did = {.before = s->trace, .feeder = feeder, .unit = unit}};
    if (at->visits < u->n_visits) {
        c.did.kind = TRACE_SHORT;
        c.did.stop = u->first_visit + at->visits;
        child_visit(b, state, n, c, c.did.stop, floor_from(floor));
        return;
    }
    c.did.stop = u->first_stop + at->stop;
    c.did.kind = b->first_ops[c.did.stop].n > 0 ? TRACE_FIRST_OPS : TRACE_VISIT;
    if (c.did.kind == TRACE_FIRST_OPS)
        child_first_ops(b, state, n, c, floor_from(floor));
    else
        child_visit(b, state, n, c, m->stops[c.did.stop].visit, floor_from(floor));
}

/* All that the first free feeder could do next. */
static void children_add(struct beam *b, int state, int *n)
{
    const struct order_model *m = b->m;
    const struct beam_state *s = &b->now[state];
    int feeder = 0, candidates = 0;
    for (int j = 1; j < (int)m->p->n_feeders; j++)
        if (s->feeders[j].free_min < s->feeders[feeder].free_min)
            feeder = j;
    for (int i = 0; i < s->n_reservations; i++)
        child_reserved(b, state, n, feeder, i);
    if (s->n_reservations + 1 >= RESERVATIONS_MAX)
        return;
    for (int i = 0; i < m->n_units && candidates < b->n_candidates; i++) {
        const struct order_floor floor = unit_floor(b, s, b->order[i]);
        if (!floor.open)
            continue;
        candidates++;
        child_new(b, state, n, feeder, b->order[i], floor);
    }
}

static int child_compare(const void *left, const void *right)
{
    const struct child *a = left, *b = right;
    if (a->score != b->score)
        return a->score < b->score ? -1 : 1;
    return (a->number > b->number) - (a->number < b->number);
}

static void reservation_drop(struct beam_state *s, int i)
{
    s->reservations[i] = s->reservations[--s->n_reservations];
}

/* Notes when the tasks of a trace start. */
static void starts_note(const struct beam *b, struct beam_state *s, const struct trace *did)
{
    const struct order_model *m = b->m;
    const struct order_stop *stop = did->kind == TRACE_FIRST_OPS ? &m->stops[did->stop] : NULL;
    if (!stop)
        s->start_min[task_of(m, did)] = did->start_min;
    for (int i = 0; stop && i < stop->n_broadcasts; i++)
        s->start_min[stop->first_broadcast + i] = did->start_min + b->broadcast_at_min[stop->first_broadcast + i];
}

static void feeder_move(const struct beam *b, struct beam_state *s, const struct child *c)
{
    const struct order_model *m = b->m;
    struct feeder_state *f = &s->feeders[c->did.feeder];
    const struct first_ops *o = c->did.kind == TRACE_FIRST_OPS ? &b->first_ops[c->did.stop] : NULL;
    int task = o ? m->stops[c->did.stop].first_broadcast : task_of(m, &c->did);
    double in_m = o ? o->in_m : m->tasks[task].in_m;
    struct order_slot slot = {.task = task, .start_min = c->did.start_min};
    s->idle_min += c->did.start_min - f->free_min - c->setup_min;
    s->walked_m += f->has_last ? fabs(in_m - f->at_m) : 0;
    slot_set_up(m, c->did.feeder, f->has_last ? &f->last : NULL, &slot);
    f->last = slot;
    f->has_last = true;
    f->at_m = o ? o->out_m : m->tasks[task].out_m;
    f->free_min = c->did.start_min + (o ? o->dur_min : m->tasks[task].dur_min);
}

static void child_make(struct beam *b, const struct child *c, struct beam_state *s)
{
    const struct order_model *m = b->m;
    const struct beam_state *from = &b->now[c->state];
    struct unit_state *units = s->units;
    int *start_min = s->start_min;
    *s = *from;
    s->units = units;
    s->start_min = start_min;
    memcpy(units, from->units, (size_t)m->n_units * sizeof *units);
    memcpy(start_min, from->start_min, (size_t)m->n_tasks * sizeof *start_min);
    struct unit_state *at = &units[c->did.unit];
    s->key = c->key;
    struct reservation extra = {0};
    bool has_extra = c->did.kind == TRACE_FIRST_OPS || c->did.kind == TRACE_VISIT;
    if (has_extra)
        extra = c->did.kind == TRACE_VISIT ? on_reservation(m, c->did.stop, c->did.start_min)
                                           : visit_reservation(b, from, &c->did);
    if (c->reservation >= 0)
        reservation_drop(s, c->reservation);
    if (has_extra)
        s->reservations[s->n_reservations++] = extra;
    feeder_move(b, s, c);
    if (c->reservation < 0 && c->did.kind != TRACE_SHORT)
        s->n_unbegun--;
    starts_note(b, s, &c->did);
    switch (c->did.kind) {
    case TRACE_FIRST_OPS:
        at->begun = true;
        s->visit_min += m->tasks[m->stops[c->did.stop].visit].dur_min;
        break;
    case TRACE_VISIT:
        at->begun = true;
        at->stop++;
        s->visit_min -= c->reservation >= 0 ? m->tasks[m->stops[c->did.stop].visit].dur_min : 0;
        break;
    case TRACE_SHORT: at->visits++; break;
    case TRACE_ON: at->begun = false; break; /* its next stop may follow */
    }
    b->traces[b->n_traces] = c->did;
    s->trace = b->n_traces++;
}

/* ---- from first to last ------------------------------------------------------------------------------------ */

static void state_start(const struct beam *b, struct beam_state *s)
{
    const struct order_model *m = b->m;
    *s = (struct beam_state){.units = s->units, .start_min = s->start_min, .trace = -1, .n_unbegun = m->n_stops};
    for (size_t j = 0; j < m->p->n_feeders; j++)
        s->feeders[j] = (struct feeder_state){.free_min = m->p->feeders[j].ready_min};
    for (int i = 0; i < m->n_tasks; i++)
        s->start_min[i] = NOT_PLACED;
    for (int i = 0; i < m->n_units; i++)
        s->units[i] = (struct unit_state){0};
}

static bool state_done(const struct order_model *m, const struct beam_state *s)
{
    if (s->n_reservations > 0 || s->n_unbegun > 0)
        return false;
    for (int i = 0; i < m->n_units; i++)
        if (s->units[i].visits < m->units[i].n_visits)
            return false;
    return true;
}

/* Children by score, the best of each kind kept. */
static int beam_select(struct beam *b, int n_children)
{
    int n = 0;
    qsort(b->children, (size_t)n_children, sizeof *b->children, child_compare);
    for (int i = 0; i < n_children && n < b->width; i++) {
        bool twin = false;
        for (int k = i - 1; k >= 0 && k >= i - 8 && !twin; k--)
            twin = b->children[k].key == b->children[i].key && b->children[k].score == b->children[i].score;
        if (!twin)
            child_make(b, &b->children[i], &b->next[n++]);
    }
    return n;
}

static void task_put(const struct order_model *m, struct order_schedule *s, int feeder, int task, int start_min)
{
    struct order_line *line = &s->lines[feeder];
    struct order_slot slot = {.task = task, .start_min = start_min};
    slot_set_up(m, feeder, line->n > 0 ? &line->slots[line->n - 1] : NULL, &slot);
    line->slots[line->n++] = slot;
    s->start_min[task] = start_min;
    s->feeder[task] = feeder;
}

/* Follows the traces back, turns them round, and puts each task on its line. */
static void beam_write(struct beam *b, int last, struct order_schedule *s)
{
    const struct order_model *m = b->m;
    int ahead = -1;
    while (last >= 0) {
        int before = b->traces[last].before;
        b->traces[last].before = ahead;
        ahead = last;
        last = before;
    }
    for (size_t j = 0; j < m->p->n_feeders; j++)
        s->lines[j].n = 0;
    for (int i = ahead; i >= 0; i = b->traces[i].before) {
        const struct trace *t = &b->traces[i];
        if (t->kind != TRACE_FIRST_OPS) {
            task_put(m, s, t->feeder, task_of(m, t), t->start_min);
            continue;
        }
        const struct order_stop *stop = &m->stops[t->stop];
        for (int k = stop->first_broadcast; k < stop->first_broadcast + stop->n_broadcasts; k++)
            task_put(m, s, t->feeder, k, t->start_min + b->broadcast_at_min[k]);
    }
    schedule_measure(m, s);
}

/* False: every partial round came to a reservation that it could not keep. */
static bool beam_run(struct beam *b, struct order_schedule *s)
{
    int n = 1;
    b->n_traces = 0;
    state_start(b, &b->now[0]);
    while (!state_done(b->m, &b->now[0])) {
        int n_children = 0;
        for (int i = 0; i < n; i++)
            children_add(b, i, &n_children);
        if (n_children == 0)
            return false;
        n = beam_select(b, n_children);
        struct beam_state *swap = b->now;
        b->now = b->next;
        b->next = swap;
    }
    int best = -1, best_end = INT_MAX;
    for (int i = 0; i < n; i++) {
        int end = INT_MIN;
        for (size_t j = 0; j < b->m->p->n_feeders; j++)
            end = b->now[i].feeders[j].has_last ? greater(end, b->now[i].feeders[j].free_min) : end;
        if (end < best_end) {
            best = i;
            best_end = end;
        }
    }
    beam_write(b, b->now[best].trace, s);
    return true;
}

static bool states_new(const struct beam *b, struct arena *a, struct beam_state **states)
{
    *states = arena_alloc(a, (size_t)b->width, sizeof **states);
    if (!*states)
        return false;
    for (int i = 0; i < b->width; i++)
        if (!((*states)[i].units = arena_alloc(a, (size_t)b->m->n_units, sizeof(struct unit_state))) ||
            !((*states)[i].start_min = arena_alloc(a, (size_t)b->m->n_tasks, sizeof(int))))
            return false;
    return true;
}

/* Steps from first to last: first operations, a visit and a flow on per stop, and the short visits. */
static int depth_of(const struct order_model *m)
{
    return 3 * m->n_stops + m->n_tasks;
}

bool beam_begin(const struct order_model *m, struct arena *a, int width, const int *order, struct beam **out)
{
    struct beam *b = arena_alloc(a, 1, sizeof *b);
    if (!b)
        return false;
    *b = (struct beam){.m = m,
                       .width = width,
                       .order = order,
                       .n_candidates = CANDIDATES_MAX,
                       .first_ops = arena_alloc(a, (size_t)m->n_stops, sizeof *b->first_ops),
                       .broadcast_at_min = arena_alloc(a, (size_t)m->n_tasks, sizeof *b->broadcast_at_min),
                       .children = arena_alloc(a, (size_t)width * CHILDREN_MAX, sizeof *b->children),
                       .traces = arena_alloc(a, (size_t)width * (size_t)depth_of(m), sizeof *b->traces)};
    if (!b->first_ops || !b->broadcast_at_min || !b->children || !b->traces || !states_new(b, a, &b->now) ||
        !states_new(b, a, &b->next))
        return false;
    long visits = 0, broadcasts = 0;
    for (int k = 0; k < m->n_stops; k++) {
        first_ops_fill(b, k);
        visits += m->tasks[m->stops[k].visit].dur_min;
        broadcasts += b->first_ops[k].dur_min;
    }
    if (visits > 0)
        b->fill_min = (long)m->p->n_feeders * m->p->lag_min * visits / (visits + broadcasts);
    *out = b;
    return true;
}

bool beam_search(struct beam *b, int n_candidates, int fill_percent, struct order_schedule *s)
{
    b->n_candidates = n_candidates;
    b->fill_percent = fill_percent;
    return beam_run(b, s);
}
