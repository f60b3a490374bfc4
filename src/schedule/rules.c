/*
 * What the rules demand between the starts of two tasks, whoever does them and in whatever order: a chain of a tank,
 * its windows, quarantine after all others, ranks. Hands and what they carry are not in it.
 */
#include "schedule/model.h"

int order_walk_min(const struct order_problem *p, double from_m, double to_m)
{
    double way_m = fabs(to_m - from_m) - p->walk_free_m;
    return way_m > 0 ? (int)ceil(way_m / p->walk_m_per_min - 1e-9) : 0;
}

int model_pot_change_min(const struct order_model *m)
{
    return m->pots_matter ? m->p->pot_change_min : 0;
}

/* Without room for them arcs are only counted. */
static void arc_add(struct order_rules *r, int before, int next, int least_min, int most_min)
{
    if (r->arcs)
        r->arcs[r->n_arcs] = (struct order_arc){before, next, least_min, most_min};
    r->n_arcs++;
}

/* on_before: the flow on that must be over before anything of this stop, -1: none. */
static void stop_arcs(const struct order_model *m, struct order_rules *r, int k, int on_before)
{
    const struct order_stop *s = &m->stops[k];
    const int switched = m->p->switch_min;
    for (size_t i = s->first_feed; i < s->first_feed + s->n_feeds; i++) {
        const struct order_feed *f = &m->feeds[i];
        if (!f->windowed || f->broadcast >= 0)
            continue;
        r->release_min[s->visit] = greater(r->release_min[s->visit], f->given_min + m->p->lag_min - f->at_min);
        r->deadline_min[s->visit] = lesser(r->deadline_min[s->visit], f->given_min + m->p->lag_max - f->at_min);
    }
    for (int i = s->first_broadcast; i < s->first_broadcast + s->n_broadcasts; i++) {
        const struct order_task *t = &m->tasks[i];
        arc_add(r, i, s->visit, t->dur_min - t->end_by_min, t->dur_min - t->end_from_min);
        if (on_before >= 0)
            arc_add(r, on_before, i, switched, INT_MAX);
    }
    if (on_before >= 0)
        arc_add(r, on_before, s->visit, switched + m->p->flow_on_gap_min - s->off_at_min, INT_MAX);
    arc_add(r, s->visit, s->on, s->on_after_min, s->on_by_min - switched);
}

static void unit_arcs(const struct order_model *m, struct order_rules *r, const struct order_unit *u)
{
    int on = u->on;
    if (on >= 0) {
        r->release_min[on] = greater(r->release_min[on], u->on_from_min);
        r->deadline_min[on] = u->on_by_min - m->p->switch_min;
    }
    for (int i = u->first_visit; i < u->first_visit + u->n_visits; i++) {
        if (on >= 0)
            arc_add(r, on, i, m->p->switch_min, INT_MAX);
        if (u->n_stops > 0)
            arc_add(r, i, m->stops[u->first_stop].visit, m->tasks[i].dur_min - m->stops[u->first_stop].off_at_min,
                    INT_MAX);
    }
    for (int k = u->first_stop; k < u->first_stop + u->n_stops; k++) {
        int visit = m->stops[k].visit;
        if (k == u->first_stop && u->on_since_min > INT_MIN)
            r->release_min[visit] =
                greater(r->release_min[visit], u->on_since_min + m->p->flow_on_gap_min - m->stops[k].off_at_min);
        stop_arcs(m, r, k, on);
        on = m->stops[k].on;
    }
}

/* The visits that a rank speaks of: the first of each tank or pump. */
static bool is_first_visit(const struct order_model *m, int task)
{
    const struct order_task *t = &m->tasks[task];
    const struct order_unit *u = &m->units[t->unit];
    return t->kind == TASK_VISIT && (u->n_stops == 0 || t->stop == u->first_stop);
}

static void pair_arcs(const struct order_model *m, struct order_rules *r, int i, int k)
{
    const struct order_unit *u = &m->units[m->tasks[i].unit], *v = &m->units[m->tasks[k].unit];
    if (!u->quarantine && m->tasks[k].quarantine)
        arc_add(r, i, k, m->tasks[i].dur_min, INT_MAX);
    if (u->rank >= 0 && u->rank < v->rank && u->quarantine == v->quarantine && is_first_visit(m, i) &&
        is_first_visit(m, k))
        arc_add(r, i, k, 0, INT_MAX);
}

static void rules_fill(const struct order_model *m, struct order_rules *r)
{
    r->n_arcs = 0;
    for (int i = 0; i < m->n_units; i++)
        unit_arcs(m, r, &m->units[i]);
    for (int i = 0; i < m->n_tasks; i++)
        for (int k = 0; k < m->n_tasks; k++)
            pair_arcs(m, r, i, k);
}

bool order_rules_new(const struct order_model *m, struct arena *a, struct order_rules *r)
{
    const size_t n = (size_t)m->n_tasks;
    *r = (struct order_rules){.release_min = arena_alloc(a, n, sizeof(int)),
                              .deadline_min = arena_alloc(a, n, sizeof(int))};
    if (!r->release_min || !r->deadline_min)
        return false;
    for (size_t i = 0; i < n; i++) {
        r->release_min[i] = m->start_min;
        r->deadline_min[i] = INT_MAX;
    }
    rules_fill(m, r);
    r->arcs = arena_alloc(a, (size_t)r->n_arcs, sizeof *r->arcs);
    if (!r->arcs)
        return false;
    rules_fill(m, r);
    return true;
}
