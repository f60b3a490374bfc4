/*
 * What the tests of a system allow: the strength wanted by the rule of docs/round-arithmetic.md ("Strength by state", common
 * practice, no source; directions from Rosset et al. 2017 and Wiedenmann et al. 2012), and the limits put on it.
 */
#include "neap/advice.h"
#include "neap/learned.h"
#include "neap/working.h"

enum { WEEK_D = 7 };

static const double lean_rule_factor = 0.75; /* no tests to go by */

/* The same method has the same number: that of its first test. */
static int method_number(const struct facility *f, size_t test)
{
    for (size_t i = 0; i < test; i++)
        if (f->tests[i].system == f->tests[test].system && strcmp(f->tests[i].method, f->tests[test].method) == 0)
            return (int)i;
    return (int)test;
}

double analyte_test_sd(enum analyte a, double value)
{
    return (analytes[a].error_abs + analytes[a].error_frac * fabs(value)) / 2;
}

/* A value below zero (a thermometer in frost) is no concentration: nothing is fitted to it. */
size_t gather_readings(const struct facility *f, size_t system, enum analyte a, struct reading *out)
{
    size_t n = 0;
    for (size_t i = 0; i < f->n_tests; i++) {
        const struct test *t = &f->tests[i];
        if (t->system == system && t->analyte == (int)a && t->value >= 0)
            out[n++] = (struct reading){t->taken, t->value, t->below, method_number(f, i)};
    }
    return n;
}

size_t gather_changes(const struct facility *f, size_t system, enum analyte a, struct water_change *out)
{
    size_t n = 0;
    for (size_t i = 0; i < f->n_waters; i++) {
        const struct water *c = &f->waters[i];
        if (c->system != system || (a != ANALYTE_NO3 && a != ANALYTE_PO4))
            continue;
        double frac = f->systems[system].volume_l > 0 ? c->volume_l / f->systems[system].volume_l : 0;
        out[n++] = (struct water_change){c->exchanged, fmin(frac, 0.99), a == ANALYTE_NO3 ? c->no3_mg_l : c->po4_mg_l};
    }
    return n;
}

double reading_step(const struct facility *f, size_t system, enum analyte a, long now_min)
{
    const char *method = "";
    for (size_t i = 0; i < f->n_tests; i++) {
        const struct test *t = &f->tests[i];
        if (t->system == system && t->analyte == (int)a && t->taken <= now_min)
            method = t->method;
    }
    return method_step(f, method, a);
}

bool plan_trend(const struct facility *f, size_t system, enum analyte a, long now_min, double window_d,
                struct arena *arena, struct state *out, struct err *e)
{
    struct reading *readings = arena_alloc(arena, f->n_tests, sizeof *readings);
    struct water_change *changes = arena_alloc(arena, f->n_waters, sizeof *changes);
    if (!readings || !changes)
        return err_memory(e);
    struct state_in in = {
        .readings = readings,
        .n_readings = gather_readings(f, system, a, readings),
        .changes = changes,
        .n_changes = gather_changes(f, system, a, changes),
        .now_min = now_min,
        .window_d = window_d > 0 ? window_d : f->settings.window_d,
        .stale_d = f->settings.stale_d,
        .confidence_frac = TREND_CONFIDENCE_FRAC,
    };
    double last = in.n_readings ? readings[in.n_readings - 1].value : 0;
    in.test_sd = analyte_test_sd(a, last);
    in.resolution = reading_step(f, system, a, now_min);
    if (in.resolution <= in.test_sd) /* then the scatter hides it */
        in.resolution = 0;
    facility_band(f, system, a, &in.band.low, &in.band.high);
    return state_fit(&in, arena, out, e);
}

/* ---- strength by state ------------------------------------------------------------------------------------------ */

static bool is_low(const struct state *s)
{
    return s->level_verdict == LEVEL_BELOW_BAND || s->level_verdict == LEVEL_BELOW_DETECTION;
}

static bool is_high(const struct state *s)
{
    return s->level_verdict == LEVEL_ABOVE_BAND;
}

static bool is_rising(const struct state *s)
{
    return s->verdict == STATE_RISING || s->verdict == STATE_STEP_UP;
}

/* All below detection is knowledge too, though it gives no level. */
static bool is_known(const struct state *s)
{
    return s->level_verdict != LEVEL_UNKNOWN && !s->stale;
}

static void apply_rule(struct system_state *s)
{
    const struct state *no3 = &s->state[ANALYTE_NO3], *po4 = &s->state[ANALYTE_PO4];
    const struct {
        bool applies;
        double factor;
        const char *rule;
    } rules[] = {
        {!is_known(no3) || !is_known(po4), lean_rule_factor,
         "no fresh test of both nitrate and phosphate: the lean rule"},
        {po4->level_verdict == LEVEL_BELOW_DETECTION && no3->level_verdict != LEVEL_BELOW_DETECTION, 1.25,
         "phosphate below detection with nitrate present: feed, and strip nothing"},
        {is_low(no3) && is_low(po4), 1.25, "nitrate and phosphate both low: feed more"},
        {is_low(no3), 1, "nitrate low: the house strength, foods rich in nitrogen"},
        {is_low(po4), 1, "phosphate low: the house strength, never less"},
        {is_high(no3) && is_high(po4), 0.5, "nitrate and phosphate both high: half strength"},
        {is_high(no3) || is_high(po4), 0.75,
         is_high(no3) ? "nitrate high: three quarters" : "phosphate high: three quarters"},
        {is_rising(no3) || is_rising(po4), 0.85,
         is_rising(no3) && is_rising(po4) ? "nitrate and phosphate rising: a little less"
         : is_rising(no3)                 ? "nitrate rising: a little less"
                                          : "phosphate rising: a little less"},
        {true, 1, "in band and not rising: the house strength"},
    };
    size_t i = 0;
    while (!rules[i].applies)
        i++;
    s->factor_rule = rules[i].factor;
    s->rule = rules[i].rule;
    s->po4_starved = i == 1;
}

static bool refused_lately(const struct facility *f, size_t system, int day)
{
    for (size_t i = 0; i < f->n_colonies; i++) {
        const struct colony *c = &f->colonies[i];
        if (f->tanks[c->tank].system == system && c->last_refused != DAY_NONE && day - c->last_refused <= WEEK_D)
            return true;
    }
    return false;
}

double strength_before(const struct facility *f, size_t system, int day)
{
    double last = 1, weakest = INFINITY;
    for (size_t i = 0; i < f->n_strengths; i++) {
        const struct strength *s = &f->strengths[i];
        if (s->system != system || s->day >= day)
            continue;
        last = s->factor;
        if (day - s->day <= WEEK_D)
            weakest = fmin(weakest, s->factor);
    }
    return isfinite(weakest) ? weakest : last;
}

static void lower_to(struct system_state *s, double most, const char *why)
{
    if (s->factor <= most)
        return;
    s->factor = most;
    s->held = why;
}

static void limit_factor(const struct facility *f, size_t system, const struct advice_in *in, struct system_state *s)
{
    const struct settings *set = &f->settings;
    const struct state *no3 = &s->state[ANALYTE_NO3], *po4 = &s->state[ANALYTE_PO4];
    int day = moment_day(in->now_min);
    s->factor = s->factor_rule;
    if (no3->verdict == STATE_TOO_FEW || po4->verdict == STATE_TOO_FEW)
        lower_to(s, 1, "no trend is shown yet, so nothing is scaled up");
    if (no3->method_changed || po4->method_changed)
        lower_to(s, 1, "the test method changed, so nothing is scaled up");
    if (refused_lately(f, system, day))
        lower_to(s, 1, "food was refused in the last week, so nothing is scaled up");
    lower_to(s, strength_before(f, system, day) + set->rise_frac_per_week, "strength rises by at most the weekly step");
    lower_to(s, set->full_frac, "the house's strongest pot");
    if (in->factor_max > 0)
        lower_to(s, in->factor_max, "asked for with the plan");
    if (s->factor < set->lean_frac) {
        s->factor = set->lean_frac;
        s->held = "the house's weakest pot";
    }
}

/* ---- room in the band ------------------------------------------------------------------------------------------- */

static bool find_headroom(const struct facility *f, size_t system, enum analyte a, struct system_state *s,
                          struct err *e)
{
    const struct system *sys = &f->systems[system];
    const struct state *state = &s->state[a];
    if (!is_known(state) || !state->has_level || sys->volume_l <= 0)
        return true;
    struct headroom_in in = {
        .level = state->level,
        .slope_per_d = state->has_slope ? state->slope_per_d : 0,
        .days = sys->test_every_d,
        .volume_l = sys->volume_l,
        .max_change_per_d = INFINITY, /* a row of its own in the programme */
    };
    facility_band(f, system, a, &in.band.low, &in.band.high);
    s->has_headroom[a] = true;
    return headroom_find(&in, &s->headroom[a], e);
}

bool plan_advice(const struct facility *f, size_t system, const struct advice_in *in, struct arena *arena,
                 struct system_state *out, struct err *e)
{
    *out = (struct system_state){0};
    for (int a = 0; a < N_NUTRIENTS; a++)
        if (!plan_trend(f, system, (enum analyte)a, in->now_min, in->window_d, arena, &out->state[a], e) ||
            !find_headroom(f, system, (enum analyte)a, out, e))
            return false;
    apply_rule(out);
    limit_factor(f, system, in, out);
    return true;
}

bool working_advice(struct working *w, struct err *e)
{
    const struct advice_in in = {
        .now_min = w->request->day * MIN_PER_DAY + w->f->settings.start_min,
        .factor_max = w->request->factor_max,
    };
    w->states = arena_alloc(w->a, w->f->n_systems, sizeof *w->states);
    if (!w->states)
        return err_memory(e);
    for (size_t i = 0; i < w->f->n_systems; i++)
        if (!plan_advice(w->f, i, &in, w->a, &w->states[i], e))
            return false;
    return true;
}

bool working_states(struct working *w, struct err *e)
{
    long now_min = w->request->day * MIN_PER_DAY + w->f->settings.start_min;
    return plan_learned(w->f, REF_NONE, now_min, w->a, &w->effects, e) && working_advice(w, e);
}
