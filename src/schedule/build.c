/* Insertion: units one after the other, each at the earliest minute at which its whole chain finds hands. */
#include "schedule/model.h"

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
                           int visit_min, int from, enum order_seek seek)
{
    if (stop->n_broadcasts > 1)
        seek = SEEK_LATE;
    for (int task = stop->first_broadcast + stop->n_broadcasts; task-- > stop->first_broadcast;) {
        const struct order_task *t = &m->tasks[task];
        int first = visit_min + t->end_from_min - t->dur_min, last = visit_min + t->end_by_min - t->dur_min;
        if (!task_fit(m, s, task, first > from ? first : from, last, seek))
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
                     int from, const struct order_gene *gene)
{
    const struct order_stop *stop = &m->stops[k];
    task_place(m, s, feeder, at, stop->visit, visit_min);
    if (broadcasts_fit(m, s, stop, visit_min, from, gene->broadcast) &&
        task_fit(m, s, stop->on, visit_min + stop->on_after_min, visit_min + stop->on_by_min - m->p->switch_min,
                 SEEK_EARLY))
        return true;
    task_take_back(m, s, stop->visit);
    broadcasts_take_back(m, s, stop);
    return false;
}

/* Tries every feeder who can start the visit at exactly this minute, least walking first. */
static bool stop_try_at(const struct order_model *m, struct order_schedule *s, int k, int visit_min, int from,
                        const struct order_gene *gene)
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
        if (stop_try(m, s, k, best, best_at, visit_min, from, gene))
            return true;
    }
}

/*
 * from: no hand on this stop before; visit_from: nor its visit before that. There is always a place: behind all that
 * is placed, one feeder alone can serve any stop, because the stops were laid out that way.
 */
static void stop_place(const struct order_model *m, struct order_schedule *s, int k, int from, int visit_from,
                       const struct order_gene *gene)
{
    for (int t = visit_from;; t++) {
        int start = INT_MAX, at;
        for (int feeder = 0; feeder < (int)m->p->n_feeders; feeder++) {
            int can = line_earliest(m, s, feeder, m->stops[k].visit, t, INT_MAX - 1, &at);
            if (can < start)
                start = can;
        }
        t = start;
        if (stop_try_at(m, s, k, t, from, gene))
            return;
    }
}

/* ---- a unit, and all of them ------------------------------------------------------------------------------- */

/* What a schedule under construction knows of the units placed so far. */
struct progress {
    int others_end_min;            /* of all that is not quarantine */
    int rank, rank_min, below_min; /* latest first visit of this rank, and of all lower ranks, in the present class */
    bool quarantine;
};

/* The earliest start of the stop's visit, when its broadcasts begin at from or ended before this plan. */
static int visit_earliest(const struct order_model *m, const struct order_stop *stop, int from)
{
    int first = from;
    for (size_t i = stop->first_feed; i < stop->first_feed + stop->n_feeds; i++) {
        const struct order_feed *f = &m->feeds[i];
        if (f->windowed) {
            int ended = f->broadcast >= 0 ? from + m->tasks[f->broadcast].dur_min : f->given_min;
            first = greater(first, ended + m->p->lag_min - f->at_min);
        }
    }
    return first;
}

static void rank_note(struct progress *g, const struct order_unit *u, int first_visit_min)
{
    if (u->rank < 0)
        return;
    if (g->rank != u->rank) {
        if (g->below_min < g->rank_min)
            g->below_min = g->rank_min;
        g->rank = u->rank;
        g->rank_min = INT_MIN;
    }
    if (g->rank_min < first_visit_min)
        g->rank_min = first_visit_min;
}

static int rank_from(const struct progress *g, const struct order_unit *u)
{
    if (u->rank < 0)
        return INT_MIN;
    return g->rank == u->rank || g->below_min > g->rank_min ? g->below_min : g->rank_min;
}

static void unit_place(const struct order_model *m, struct order_schedule *s, struct progress *g,
                       const struct order_gene *gene)
{
    const struct order_unit *u = &m->units[gene->unit];
    if (u->quarantine && !g->quarantine)
        *g = (struct progress){.others_end_min = g->others_end_min,
                               .quarantine = true,
                               .rank = -1,
                               .rank_min = INT_MIN,
                               .below_min = INT_MIN};
    int from = u->quarantine ? g->others_end_min : m->start_min, ranked = rank_from(g, u), end = from;
    int off_from = u->on_since_min > INT_MIN ? u->on_since_min + m->p->flow_on_gap_min : INT_MIN;
    if (u->on >= 0) {
        from = greater(from, s->start_min[u->on] + m->p->switch_min);
        off_from = greater(off_from, from + m->p->flow_on_gap_min);
    }
    for (int task = u->first_visit; task < u->first_visit + u->n_visits; task++) {
        task_fit_open(m, s, task, u->n_stops == 0 ? greater(from, ranked) : from);
        end = greater(end, s->start_min[task] + m->tasks[task].dur_min);
        off_from = greater(off_from, s->start_min[task] + m->tasks[task].dur_min);
        if (u->n_stops == 0)
            rank_note(g, u, s->start_min[task]);
    }
    for (int k = u->first_stop; k < u->first_stop + u->n_stops; k++) {
        const struct order_stop *stop = &m->stops[k];
        int visit_from =
            visit_earliest(m, stop, greater(from, off_from > INT_MIN ? off_from - stop->off_at_min : from));
        stop_place(m, s, k, from, k == u->first_stop ? greater(visit_from, ranked) : visit_from, gene);
        if (k == u->first_stop)
            rank_note(g, u, s->start_min[stop->visit]);
        from = end = s->start_min[stop->on] + m->p->switch_min;
        off_from = from + m->p->flow_on_gap_min;
    }
    if (!u->quarantine)
        g->others_end_min = greater(g->others_end_min, end);
}

/* Flows that are off now come on before anything else is thought of, the most urgent first. */
static void flows_on_place(const struct order_model *m, struct order_schedule *s)
{
    for (;;) {
        int best = -1;
        for (int i = 0; i < m->n_units; i++) {
            const struct order_unit *u = &m->units[i];
            if (u->on >= 0 && s->feeder[u->on] < 0 && (best < 0 || u->on_by_min < m->units[best].on_by_min))
                best = i;
        }
        if (best < 0)
            return;
        task_fit_open(m, s, m->units[best].on, greater(m->start_min, m->units[best].on_from_min));
    }
}

void schedule_build(const struct order_model *m, const struct order_gene *genes, struct order_schedule *s)
{
    struct progress g = {.others_end_min = m->start_min, .rank = -1, .rank_min = INT_MIN, .below_min = INT_MIN};
    for (size_t j = 0; j < m->p->n_feeders; j++)
        s->lines[j].n = 0;
    for (int i = 0; i < m->n_tasks; i++)
        s->feeder[i] = -1;
    flows_on_place(m, s);
    for (int i = 0; i < m->n_units; i++)
        if (m->units[i].on >= 0 && !m->units[i].quarantine)
            g.others_end_min = greater(g.others_end_min, s->start_min[m->units[i].on] + m->p->switch_min);
    for (int i = 0; i < m->n_units; i++)
        unit_place(m, s, &g, &genes[i]);
    schedule_measure(m, s);
}

/* Within the places that ranked units hold, ranks rise; quarantine after all others. Otherwise the order is kept. */
void genes_settle(const struct order_model *m, struct order_gene *genes)
{
    for (int i = 1; i < m->n_units; i++) {
        struct order_gene g = genes[i];
        int at = i;
        for (; at > 0 && !m->units[g.unit].quarantine && m->units[genes[at - 1].unit].quarantine; at--)
            genes[at] = genes[at - 1];
        genes[at] = g;
    }
    for (int i = 0; i < m->n_units; i++) {
        const struct order_unit *u = &m->units[genes[i].unit];
        if (u->rank < 0)
            continue;
        int least = i;
        for (int k = i + 1; k < m->n_units; k++) {
            const struct order_unit *v = &m->units[genes[k].unit];
            if (v->rank >= 0 && v->quarantine == u->quarantine && v->rank < m->units[genes[least].unit].rank)
                least = k;
        }
        struct order_gene g = genes[i];
        genes[i] = genes[least];
        genes[least] = g;
    }
}
