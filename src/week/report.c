/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The weekly report: per system where each analyte stands and goes, what was fed, and what to change. */
#include "neap/advice.h"
#include "neap/capacity.h"
#include "neap/learned.h"
#include "neap/ledger.h"
#include "neap/week.h"
#include "week/ahead.h"
#include "week/picture.h"

enum { WEEK_D = 7, LOOK_D = 84, SOON_D = 28, REPORT_RUNS = 500, REPORT_SEED = 1 };

static const double steady_band_frac = 0.5; /* of the band's width in four weeks; our own choice */

struct making {
    const struct facility *f;
    const struct trend_request *request;
    struct trend_report *r;
    struct day_span week, window, logged; /* logged: as the log has it, see span_logged */
};

/* ---- analytes --------------------------------------------------------------------------------------------------- */

static int point_order(const void *a, const void *b)
{
    const struct trend_point *x = a, *y = b;
    if (x->at_d != y->at_d)
        return x->at_d < y->at_d ? -1 : 1;
    return (x->value > y->value) - (x->value < y->value);
}

static bool take_points(const struct making *m, size_t system, struct trend_analyte *n, struct err *e)
{
    struct reading *readings = arena_alloc(&m->r->arena, m->f->n_tests, sizeof *readings);
    if (!readings)
        return err_memory(e);
    size_t n_readings = gather_readings(m->f, system, n->analyte, readings);
    struct trend_point *points = arena_alloc(&m->r->arena, n_readings, sizeof *points);
    if (!points)
        return err_memory(e);
    for (size_t i = 0; i < n_readings; i++) {
        double at_d = (double)(readings[i].moment_min - m->request->now_min) / (double)MIN_PER_DAY;
        if (at_d > 0 || -at_d > m->r->window_d)
            continue;
        n->n_week += span_holds(&m->week, moment_day(readings[i].moment_min));
        points[n->n_points++] = (struct trend_point){at_d, readings[i].value, readings[i].below, n->state.outlier[i],
                                                     readings[i].method != n->state.method};
    }
    qsort(points, n->n_points, sizeof *points, point_order);
    n->points = points;
    return true;
}

static void name_methods(const struct making *m, struct trend_analyte *n)
{
    if (!n->state.has_last)
        return;
    n->method = m->f->tests[n->state.method].method;
    n->method_before = m->f->tests[n->state.method_before].method;
}

/* No trend is shown by every scattered series; steady is one that could not go far even at its limits. */
static bool is_steady(const struct trend_analyte *n)
{
    double most = fmax(fabs(n->state.slope_lo), fabs(n->state.slope_hi)) * SOON_D;
    return n->state.verdict == STATE_STEADY && n->state.has_slope &&
           most <= steady_band_frac * (n->band.high - n->band.low);
}

static bool put_forecast(const struct making *m, size_t system, struct trend_analyte *n, struct err *e)
{
    struct forecast_of o = {
        .f = m->f,
        .effects = &m->r->effects,
        .system = system,
        .analyte = n->analyte,
        .now_min = m->request->now_min,
        .span = m->logged,
        .policy = {NULL, 1, (double)NAN},
        .days = LOOK_D,
    };
    struct forecast fc;
    if (n->level == LEVEL_BELOW_DETECTION || n->level == LEVEL_UNKNOWN)
        return true;
    if (!forecast_open(&o, &n->state, &m->r->arena, e))
        return false;
    n->has_forecast = o.draws;
    if (!n->has_forecast)
        return true;
    if (!forecast_system(&o, &m->r->arena, &fc, e))
        return false;
    n->ahead = fc.days;
    n->n_ahead = SOON_D + 1;
    n->crossing = crossing_of(&fc, n->level, m->r->day);
    n->outside_frac = fc.days[SOON_D].above_frac + fc.days[SOON_D].below_frac;
    return true;
}

/* One exchange of a share x leaves level − x (level − new): solved for the upper edge. */
static void put_edge_change(const struct making *m, size_t system, struct trend_analyte *n)
{
    double new_value = change_habit(m->f, &m->window, system, n->analyte).new_value, level = n->now;
    if (n->analyte >= N_NUTRIENTS || n->state.stale || n->level != LEVEL_ABOVE_BAND || !isfinite(level) ||
        new_value >= n->band.high)
        return;
    n->edge_change_frac = (level - n->band.high) / (level - new_value);
    n->edge_change_d = (int)ceil((level - n->band.high) / analytes[n->analyte].change_per_day_max - 1e-9);
}

static bool latest_is_in(const struct trend_analyte *n)
{
    const struct reading *last = &n->state.last;
    return trend_outside(n) && !n->by_readings && n->state.has_last && !last->below && last->value >= n->band.low &&
           last->value <= n->band.high;
}

/* What the planner goes by, so that report and sheet say one thing. */
static void put_level(const struct system_state *advice, struct trend_analyte *n)
{
    enum analyte a = n->analyte;
    n->level = n->state.level_verdict;
    n->now = n->state.has_level ? n->state.level : (double)NAN;
    if (a >= N_NUTRIENTS)
        return;
    n->level = advice->level[a];
    n->by_readings = advice->by_readings[a];
    n->cannot_see = advice->cannot_see[a];
    if (n->by_readings)
        n->now = advice->reading_mg_l[a];
}

static bool put_analyte(const struct making *m, struct trend_system *s, enum analyte a, struct err *e)
{
    struct trend_analyte *n = &s->analytes[s->n_analytes];
    *n = (struct trend_analyte){.analyte = a};
    facility_band(m->f, s->system, a, &n->band.low, &n->band.high);
    if (a < N_NUTRIENTS)
        n->state = s->advice.state[a];
    else if (!plan_trend(m->f, s->system, a, m->request->now_min, m->r->window_d, &m->r->arena, &n->state, e))
        return false;
    if (a >= N_NUTRIENTS && n->state.n == 0)
        return true;
    s->n_analytes++;
    put_level(&s->advice, n);
    n->latest_in = latest_is_in(n);
    n->steady = is_steady(n);
    name_methods(m, n);
    put_edge_change(m, s->system, n);
    return take_points(m, s->system, n, e) && put_forecast(m, s->system, n, e) &&
           picture_line(n, m->r->window_d, &m->r->arena, e);
}

static void put_ratio(struct trend_system *s)
{
    bool known = true;
    s->np_ratio = (double)NAN;
    for (int a = 0; a < N_NUTRIENTS; a++) {
        const struct trend_analyte *n = &s->analytes[a];
        known = known && !n->state.stale && n->level != LEVEL_BELOW_DETECTION && n->now > 0;
    }
    if (known)
        np_ratio_molar(s->analytes[ANALYTE_NO3].now, s->analytes[ANALYTE_PO4].now, &s->np_ratio, NULL);
}

/* ---- tests taken and due ---------------------------------------------------------------------------------------- */

static bool tested_within(const struct making *m, size_t system, const struct day_span *s)
{
    const struct system_rows own = tests_of(m->f, system);
    for (size_t i = own.first; i < own.end; i++) {
        const struct test *t = &m->f->tests[i];
        if (t->analyte < N_NUTRIENTS && t->taken <= m->request->now_min && span_holds(s, moment_day(t->taken)))
            return true;
    }
    return false;
}

static bool put_tests(const struct making *m, struct trend_system *s, struct err *e)
{
    struct tests_due due = tests_due(m->f, s->system, m->request->now_min);
    s->last_test_day = due.last_day;
    s->due_day = due.due_day;
    s->n_weeks = (size_t)(m->r->window_d / WEEK_D);
    int *missed = arena_alloc(&m->r->arena, s->n_weeks, sizeof *missed);
    if (!missed)
        return err_memory(e);
    for (size_t i = s->n_weeks; i-- > 0;) {
        struct day_span week = {m->r->day - WEEK_D * (int)i - (WEEK_D - 1), m->r->day - WEEK_D * (int)i};
        if (!tested_within(m, s->system, &week))
            missed[s->n_missed++] = week.first_day;
    }
    s->missed = missed;
    return true;
}

/* ---- what was fed ----------------------------------------------------------------------------------------------- */

static struct trend_food food_sums(const struct making *m, size_t system, size_t food)
{
    const struct food *fd = &m->f->foods[food];
    struct trend_food t = {
        .food = food,
        .week_units = units_fed(m->f, &m->week, system, food, 1),
        .window_units = units_fed(m->f, &m->window, system, food, 1),
    };
    t.week_n_mg = t.week_units * fd->n_mg_per_unit;
    t.week_p_mg = t.week_units * fd->p_mg_per_unit;
    for (int a = 0; a < N_NUTRIENTS; a++) {
        const struct food_belief *b = &m->r->effects.foods[a][food];
        double per_unit = b->mean / m->f->systems[system].volume_l;
        t.week_mg_l[a] = units_fed(m->f, &m->week, system, food, b->broadcast_ratio) * per_unit;
        t.window_mg_l[a] = units_fed(m->f, &m->window, system, food, b->broadcast_ratio) * per_unit;
    }
    return t;
}

static bool put_foods(const struct making *m, struct trend_system *s, struct err *e)
{
    s->foods = arena_alloc(&m->r->arena, m->f->n_foods, sizeof *s->foods);
    if (!s->foods)
        return err_memory(e);
    s->n_week_fed = days_fed(m->f, &m->week, s->system);
    s->logged_d = days_logged(m->f, &m->window, s->system);
    s->n_window_fed = days_fed(m->f, &m->window, s->system);
    for (size_t i = 0; i < m->f->n_foods && m->f->systems[s->system].volume_l > 0; i++) {
        struct trend_food t = food_sums(m, s->system, i);
        if (t.window_units > 0)
            s->foods[s->n_foods++] = t;
    }
    for (int a = 0; a < N_NUTRIENTS; a++) {
        s->most[a] = REF_NONE;
        for (size_t i = 0; i < s->n_foods; i++)
            if (s->foods[i].window_mg_l[a] > 0 &&
                (s->most[a] == REF_NONE || s->foods[i].window_mg_l[a] > s->foods[s->most[a]].window_mg_l[a]))
                s->most[a] = i;
    }
    return true;
}

/* ---- the whole -------------------------------------------------------------------------------------------------- */

bool trend_outside(const struct trend_analyte *n)
{
    enum level_verdict v = n->level;
    return !n->state.stale && v != LEVEL_UNKNOWN && v != LEVEL_IN_BAND &&
           (v != LEVEL_BELOW_DETECTION || n->band.low > 0);
}

static enum attention attention_of(const struct making *m, const struct trend_system *s)
{
    bool repeat = false, outside = false, leaving = false, untested = false, few = false;
    for (size_t i = 0; i < s->n_analytes; i++) {
        const struct trend_analyte *n = &s->analytes[i];
        outside = outside || trend_outside(n);
        untested = untested || (n->analyte < N_NUTRIENTS && (n->state.stale || n->cannot_see));
        few = few || (n->analyte < N_NUTRIENTS && n->state.verdict == STATE_TOO_FEW);
        leaving = leaving || (n->has_forecast && n->crossing.inside && n->state.verdict != STATE_STEADY &&
                              n->crossing.likely_day != DAY_NONE && n->crossing.likely_day <= m->r->day + SOON_D);
    }
    for (int a = 0; a < N_NUTRIENTS; a++)
        repeat = repeat || (s->advice.latest[a] && s->advice.to_repeat[a]);
    return s->advice.po4_starved ? ATTENTION_STARVED
           : outside             ? ATTENTION_OUTSIDE
           : repeat              ? ATTENTION_READING
           : untested            ? ATTENTION_UNTESTED
           : leaving             ? ATTENTION_LEAVING
           : few                 ? ATTENTION_FEW
                                 : ATTENTION_NONE;
}

static bool put_system(struct making *m, size_t system, struct err *e)
{
    struct trend_system *s = &m->r->systems[m->r->n_systems++];
    const struct advice_in in = {.now_min = m->request->now_min, .window_d = m->r->window_d};
    *s = (struct trend_system){.system = system};
    s->habit_frac_per_week = change_habit(m->f, &m->window, system, ANALYTE_NO3).frac_per_week;
    s->analytes = arena_alloc(&m->r->arena, N_ANALYTES, sizeof *s->analytes);
    if (!s->analytes)
        return err_memory(e);
    if (!plan_advice(m->f, system, &in, &m->r->arena, &s->advice, e))
        return false;
    for (int a = 0; a < N_ANALYTES; a++)
        if (!put_analyte(m, s, (enum analyte)a, e))
            return false;
    put_ratio(s);
    if (!put_tests(m, s, e) || !put_foods(m, s, e) ||
        !picture_events(m->f, m->request->now_min, &m->window, s, &m->r->arena, e))
        return false;
    s->attention = attention_of(m, s);
    return true;
}

static int system_order(const void *a, const void *b)
{
    const struct trend_system *x = a, *y = b;
    if (x->attention != y->attention)
        return x->attention < y->attention ? -1 : 1;
    return (x->system > y->system) - (x->system < y->system);
}

/* Waters whose corals cannot be fed as often as they ask; where the hands are short, once for all. */
static bool put_capacity(struct making *m, struct err *e)
{
    const struct capacity *capacities;
    if (!plan_capacity(m->f, m->r->day, &m->r->arena, &capacities, e))
        return false;
    m->r->short_of_hands = capacity_of_hands(capacities, m->f->n_systems);
    for (size_t i = 0; i < m->r->n_systems; i++) {
        const struct capacity *c = &capacities[m->r->systems[i].system];
        m->r->systems[i].overfull = c->overfull && !c->by_hands ? c : NULL;
    }
    return true;
}

static bool put_systems(struct making *m, struct err *e)
{
    m->r->systems = arena_alloc(&m->r->arena, m->f->n_systems, sizeof *m->r->systems);
    if (!m->r->systems)
        return err_memory(e);
    for (size_t i = 0; i < m->f->n_systems; i++)
        if ((m->request->system != REF_NONE ? i == m->request->system : !m->f->systems[i].retired) &&
            !put_system(m, i, e))
            return false;
    qsort(m->r->systems, m->r->n_systems, sizeof *m->r->systems, system_order);
    return true;
}

bool plan_report(const struct facility *f, const struct trend_request *request, struct trend_report *out, struct err *e)
{
    *out = (struct trend_report){.day = moment_day(request->now_min)};
    out->week_from = out->day - (WEEK_D - 1);
    out->window_d = request->window_d > 0 ? request->window_d : f->settings.window_d;
    struct making m = {
        .f = f,
        .request = request,
        .r = out,
        .week = span_back(request->now_min, WEEK_D),
        .window = span_back(request->now_min, out->window_d),
        .logged = span_logged(f, request->now_min, out->window_d),
    };
    const struct learned_in in = {REF_NONE, request->now_min, {REPORT_RUNS, REPORT_SEED}};
    bool ok = plan_learned(f, &in, &out->arena, &out->effects, e) && put_systems(&m, e) && put_capacity(&m, e);
    if (!ok)
        trend_report_free(out);
    return ok;
}

void trend_report_free(struct trend_report *r)
{
    arena_free(&r->arena);
    *r = (struct trend_report){0};
}
