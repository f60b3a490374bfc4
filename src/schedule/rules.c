/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Between two starts of one pump a rule is an arc: a chain of a tank, its windows, the gap between stops. Between pumps
 * there are two: quarantine after all others, and ranks. What a feeder carries stands at the end.
 */
#include "schedule/rules.h"

/* ---- numbers, which the setting of a begun round anew asks as well ----------------------------------------------- */

int order_walk_min(const struct order_problem *p, double from_m, double to_m)
{
    double way_m = fabs(to_m - from_m) - p->walk_free_m;
    return way_m > 0 ? (int)ceil(way_m / p->walk_m_per_min - 1e-9) : 0;
}

struct order_span order_first_coral(const struct order_problem *p, int broadcast_end_min)
{
    return (struct order_span){broadcast_end_min + p->lag_min, broadcast_end_min + p->lag_max};
}

struct order_span order_flow_on(const struct order_problem *p, const struct order_off *off)
{
    return (struct order_span){greater(off->fed_min + off->rest_min, off->since_min + off->wanted_min - p->switch_min),
                               off->since_min + off->limit_min - p->switch_min};
}

bool order_ends_before(struct order_class a, struct order_class b)
{
    return !a.quarantine && b.quarantine;
}

bool order_starts_before(struct order_class a, struct order_class b)
{
    return a.rank >= 0 && a.rank < b.rank && a.quarantine == b.quarantine;
}

int order_off_again_min(const struct order_problem *p, int on_end_min)
{
    return on_end_min + p->flow_on_gap_min;
}

int order_set_up_min(const struct order_problem *p, bool tools, bool pot)
{
    return (tools ? p->tool_change_min : 0) + (pot ? p->pot_change_min : 0);
}

/* ---- windows of a stop ------------------------------------------------------------------------------------------ */

struct order_span rules_broadcast_end(const struct order_problem *p, const struct order_stop *s,
                                      const struct order_feed *f)
{
    const struct order_span lag = order_first_coral(p, 0);
    const int fed_min = f->fish_min > 0 ? f->fish_at_min : s->off_at_min;
    return (struct order_span){f->at_min - lag.by_min, lesser(f->at_min - lag.from_min, fed_min)};
}

struct order_span rules_flow_on(const struct order_model *m, const struct order_stop *s, int visit_min)
{
    return (struct order_span){visit_min + s->on_after_min, visit_min + s->on_by_min - m->p->switch_min};
}

/* ---- arcs within a pump ----------------------------------------------------------------------------------------- */

/* Without room for them arcs are only counted. */
struct arcs {
    struct order_arc *list;
    int n;
};

static void arc_add(struct arcs *a, int before, int next, int least_min, int most_min)
{
    if (a->list)
        a->list[a->n] = (struct order_arc){before, next, least_min, most_min};
    a->n++;
}

/*
 * The start of a visit whose flow goes off no sooner after the last flow on, whose turning on starts at 0, than the
 * gap.
 */
static int visit_after_on(const struct order_model *m, const struct order_stop *s)
{
    return order_off_again_min(m->p, m->p->switch_min) - s->off_at_min;
}

/* on_before: the flow on that must be over before anything of this stop, -1: none. */
static void stop_arcs(const struct order_model *m, struct arcs *a, int k, int on_before)
{
    const struct order_stop *s = &m->stops[k];
    const struct order_span on = rules_flow_on(m, s, 0);
    for (int i = s->first_broadcast; i < s->first_broadcast + s->n_broadcasts; i++) {
        const struct order_task *t = &m->tasks[i];
        arc_add(a, i, s->visit, t->dur_min - t->end_by_min, t->dur_min - t->end_from_min);
        if (on_before >= 0)
            arc_add(a, on_before, i, m->p->switch_min, INT_MAX);
    }
    if (on_before >= 0)
        arc_add(a, on_before, s->visit, visit_after_on(m, s), INT_MAX);
    arc_add(a, s->visit, s->on, on.from_min, on.by_min);
}

static void unit_arcs(const struct order_model *m, struct arcs *a, const struct order_unit *u)
{
    int on = -1;
    for (int i = u->first_visit; i < u->first_visit + u->n_visits && u->n_stops > 0; i++)
        arc_add(a, i, m->stops[u->first_stop].visit, m->tasks[i].dur_min - m->stops[u->first_stop].off_at_min, INT_MAX);
    for (int k = u->first_stop; k < u->first_stop + u->n_stops; k++) {
        stop_arcs(m, a, k, on);
        on = m->stops[k].on;
    }
}

struct order_span rules_window(const struct order_model *m, const int *start_min, int task)
{
    const struct order_rules *r = &m->rules;
    struct order_span w = {m->start_min, INT_MAX};
    for (int i = r->first_of[task]; i < r->first_of[task + 1]; i++) {
        const struct order_arc *arc = &r->arcs[r->arc_of[i]];
        const int before = start_min[arc->before], next = start_min[arc->next];
        if (arc->next == task && before != NOT_PLACED) {
            w.from_min = greater(w.from_min, before + arc->least_min);
            w.by_min = arc->most_min < INT_MAX ? lesser(w.by_min, before + arc->most_min) : w.by_min;
        } else if (arc->before == task && next != NOT_PLACED) {
            w.from_min = arc->most_min < INT_MAX ? greater(w.from_min, next - arc->most_min) : w.from_min;
            w.by_min = lesser(w.by_min, next - arc->least_min);
        }
    }
    return w;
}

/* ---- between pumps ---------------------------------------------------------------------------------------------- */

/* The visits that a rank speaks of: the first of each tank or pump. */
static bool is_first_visit(const struct order_model *m, int task)
{
    const struct order_task *t = &m->tasks[task];
    const struct order_unit *u = &m->units[t->unit];
    return t->kind == TASK_VISIT && (u->n_stops == 0 || t->stop == u->first_stop);
}

static struct order_class unit_class(const struct order_unit *u)
{
    return (struct order_class){u->quarantine, u->rank};
}

static struct order_class class_of(const struct order_model *m, int task)
{
    const struct order_task *t = &m->tasks[task];
    return (struct order_class){t->quarantine, is_first_visit(m, task) ? m->units[t->unit].rank : -1};
}

static void pair_arcs(const struct order_model *m, struct arcs *a, int i, int k)
{
    if (order_ends_before(class_of(m, i), class_of(m, k)))
        arc_add(a, i, k, m->tasks[i].dur_min, INT_MAX);
    if (order_starts_before(class_of(m, i), class_of(m, k)))
        arc_add(a, i, k, 0, INT_MAX);
}

struct order_floor rules_floor(const struct order_model *m, const int *start_min, int unit)
{
    const struct order_rules *r = &m->rules;
    const struct order_unit *u = &m->units[unit];
    struct order_floor f = {m->start_min, INT_MIN, true};
    for (int i = 0; i < m->n_tasks && u->quarantine && f.open; i++)
        if (order_ends_before(class_of(m, i), unit_class(u))) {
            f.open = start_min[i] != NOT_PLACED;
            f.all_min = greater(f.all_min, start_min[i] + m->tasks[i].dur_min);
        }
    for (int i = 0; i < r->n_ranked && u->rank >= 0 && f.open; i++)
        if (order_starts_before(class_of(m, r->ranked[i]), unit_class(u))) {
            f.open = start_min[r->ranked[i]] != NOT_PLACED;
            f.first_min = greater(f.first_min, start_min[r->ranked[i]]);
        }
    return f;
}

static bool push_to(int *start_min, int least_min)
{
    const bool pushed = *start_min < least_min;
    *start_min = greater(*start_min, least_min);
    return pushed;
}

/* Ranked visits stand by class and rank, so that one pass sees each after all that go before it. */
static bool ranks_push(const struct order_model *m, int *start_min)
{
    const struct order_rules *r = &m->rules;
    bool pushed = false;
    int below_min = INT_MIN, latest_min = INT_MIN;
    for (int i = 0; i < r->n_ranked; i++) {
        const struct order_unit *u = &m->units[m->tasks[r->ranked[i]].unit],
                                *before = i > 0 ? &m->units[m->tasks[r->ranked[i - 1]].unit] : NULL;
        if (before && order_starts_before(unit_class(before), unit_class(u)))
            below_min = latest_min;
        else if (before && before->quarantine != u->quarantine)
            below_min = latest_min = INT_MIN;
        pushed |= push_to(&start_min[r->ranked[i]], below_min);
        latest_min = greater(latest_min, start_min[r->ranked[i]]);
    }
    return pushed;
}

bool rules_classes_push(const struct order_model *m, int *start_min)
{
    int others_end_min = INT_MIN;
    bool pushed = ranks_push(m, start_min);
    for (int i = 0; i < m->n_tasks; i++)
        if (!m->tasks[i].quarantine)
            others_end_min = greater(others_end_min, start_min[i] + m->tasks[i].dur_min);
    for (int i = 0; i < m->n_tasks; i++)
        if (m->tasks[i].quarantine)
            pushed |= push_to(&start_min[i], others_end_min);
    return pushed;
}

/* ---- made once for a model -------------------------------------------------------------------------------------- */

static void own_arcs(const struct order_model *m, struct arcs *a)
{
    a->n = 0;
    for (int i = 0; i < m->n_units; i++)
        unit_arcs(m, a, &m->units[i]);
}

/* Per task the arcs at it. */
static bool arcs_index(struct order_model *m)
{
    struct order_rules *r = &m->rules;
    r->first_of = arena_alloc(&m->arena, (size_t)m->n_tasks + 2, sizeof *r->first_of);
    r->arc_of = arena_alloc(&m->arena, 2 * (size_t)r->n_arcs, sizeof *r->arc_of);
    if (!r->first_of || !r->arc_of)
        return false;
    for (int i = 0; i < r->n_arcs; i++) {
        r->first_of[r->arcs[i].before + 2]++;
        r->first_of[r->arcs[i].next + 2]++;
    }
    for (int i = 2; i < m->n_tasks + 2; i++)
        r->first_of[i] += r->first_of[i - 1];
    for (int i = 0; i < r->n_arcs; i++) {
        r->arc_of[r->first_of[r->arcs[i].before + 1]++] = i;
        r->arc_of[r->first_of[r->arcs[i].next + 1]++] = i;
    }
    return true;
}

static bool rank_after(const struct order_model *m, int a, int b)
{
    const struct order_unit *u = &m->units[m->tasks[a].unit], *v = &m->units[m->tasks[b].unit];
    return u->quarantine != v->quarantine ? u->quarantine : u->rank > v->rank;
}

static bool ranked_list(struct order_model *m)
{
    struct order_rules *r = &m->rules;
    r->ranked = arena_alloc(&m->arena, (size_t)m->n_tasks, sizeof *r->ranked);
    for (int i = 0; r->ranked && i < m->n_tasks; i++) {
        int at = r->n_ranked;
        if (m->units[m->tasks[i].unit].rank < 0 || !is_first_visit(m, i))
            continue;
        for (; at > 0 && rank_after(m, r->ranked[at - 1], i); at--)
            r->ranked[at] = r->ranked[at - 1];
        r->ranked[at] = i;
        r->n_ranked++;
    }
    return r->ranked != NULL;
}

bool rules_make(struct order_model *m)
{
    struct arcs a = {0};
    m->rules = (struct order_rules){0};
    own_arcs(m, &a);
    m->rules.arcs = a.list = arena_alloc(&m->arena, (size_t)a.n, sizeof *a.list);
    if (!a.list)
        return false;
    own_arcs(m, &a);
    m->rules.n_arcs = a.n;
    return arcs_index(m) && ranked_list(m);
}

static void all_arcs(const struct order_model *m, struct arcs *a)
{
    own_arcs(m, a);
    for (int i = 0; i < m->n_tasks; i++)
        for (int k = 0; k < m->n_tasks; k++)
            pair_arcs(m, a, i, k);
}

bool rules_arcs(const struct order_model *m, struct arena *arena, struct order_arc **arcs, int *n)
{
    struct arcs a = {0};
    all_arcs(m, &a);
    a.list = *arcs = arena_alloc(arena, (size_t)a.n, sizeof *a.list);
    if (!a.list)
        return false;
    all_arcs(m, &a);
    *n = a.n;
    return true;
}

/* ---- what hands carry ------------------------------------------------------------------------------------------- */

int rules_pot_change_min(const struct order_model *m)
{
    return m->pots_matter ? m->p->pot_change_min : 0;
}

int rules_first_mixed_min(const struct order_feeder *f)
{
    return f->ready_min;
}

int rules_mixed_min(const struct order_problem *p, int visit_min)
{
    return visit_min - p->pot_change_min;
}

int rules_pot_until_min(const struct order_problem *p, int mixed_min)
{
    return p->slurry_age_limit_min > 0 ? mixed_min + p->slurry_age_limit_min : INT_MAX;
}

bool rules_tools(const struct order_task *next, bool changed)
{
    return next->quarantine && !changed;
}
