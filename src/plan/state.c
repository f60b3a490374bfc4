/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the tests of a system allow: the strength wanted by the rule of docs/round-arithmetic.md ("Strength by state",
 * common practice, no source; directions from Rosset et al. 2017 and Wiedenmann et al. 2012), and the limits put on it.
 */
#include "neap/advice.h"
#include "neap/learned.h"
#include "neap/ledger.h"
#include "neap/working.h"

enum { WEEK_D = 7, RISE_LOOK_D = 28 };

static const double lean_rule_factor = 0.75; /* no tests to go by */

/* By the setting's window, whatever window a trend is asked for. NULL: no reading. */
static bool method_among(const struct facility *f, const struct reading *readings, size_t n, long now_min,
                         struct arena *arena, const char **method, struct err *e)
{
    struct series series;
    const struct series_in in = {readings, n, now_min, f->settings.window_d};
    if (!series_find(&in, arena, &series, e))
        return false;
    *method = series.any ? f->tests[series.method].method : NULL;
    return true;
}

bool method_in_use(const struct facility *f, size_t system, enum analyte a, long now_min, struct arena *arena,
                   const char **method, struct err *e)
{
    struct system_rows own = tests_of(f, system);
    struct reading *readings = arena_alloc(arena, own.end - own.first, sizeof *readings);
    *method = NULL;
    if (!readings)
        return err_memory(e);
    return method_among(f, readings, gather_readings(f, system, a, readings), now_min, arena, method, e);
}

bool plan_trend(const struct facility *f, size_t system, enum analyte a, long now_min, double window_d,
                struct arena *arena, struct state *out, struct err *e)
{
    struct system_rows own = tests_of(f, system);
    struct reading *readings = arena_alloc(arena, own.end - own.first, sizeof *readings);
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
    const char *method;
    if (!method_among(f, readings, in.n_readings, now_min, arena, &method, e))
        return false;
    in.resolution = method ? method_step(f, method, a) : 0;
    if (in.resolution <= in.test_sd) /* then the scatter hides it */
        in.resolution = 0;
    facility_band(f, system, a, &in.band.low, &in.band.high);
    return state_fit(&in, arena, out, e);
}

/* ---- strength by state ------------------------------------------------------------------------------------------ */

/* The latest reading and the one before it, up to now. By another method or not: two that agree bear each other out. */
struct latest {
    enum level_verdict verdict, before; /* LEVEL_UNKNOWN: none, stale, or a limit that hides the band */
    bool any;
    struct test test; /* as test_seen has it */
    double value;     /* what is left of it after the water changed since */
};

/* A reading as it is after the changes since: what was in the water that went out is no longer there. */
static double thinned(const struct facility *f, const struct test *t, long now_min)
{
    double value = t->value, volume_l = f->systems[t->system].volume_l;
    for (size_t i = 0; !t->below && volume_l > 0 && i < f->n_waters; i++) {
        const struct water *w = &f->waters[i];
        if (w->system == t->system && w->exchanged >= t->taken && w->exchanged <= now_min)
            value +=
                fmin(w->volume_l / volume_l, 0.99) * ((t->analyte == ANALYTE_NO3 ? w->no3_mg_l : w->po4_mg_l) - value);
    }
    return value;
}

/*
 * Beyond an edge by so many sd of a test; below detection only by a limit that lies under the band. Unknown: in
 * between.
 */
static enum level_verdict verdict_of(const struct facility *f, const struct test *t, double value, double n_sd)
{
    enum analyte a = (enum analyte)t->analyte;
    double low, high;
    facility_band(f, t->system, a, &low, &high);
    if (t->below)
        return value <= low ? LEVEL_BELOW_DETECTION : LEVEL_UNKNOWN;
    if (value > high)
        return value > high + n_sd * analyte_test_sd(a, high) ? LEVEL_ABOVE_BAND : LEVEL_UNKNOWN;
    if (value < low)
        return value < low - n_sd * analyte_test_sd(a, low) ? LEVEL_BELOW_BAND : LEVEL_UNKNOWN;
    return LEVEL_IN_BAND;
}

static struct latest latest_of(const struct facility *f, size_t system, enum analyte a, long now_min)
{
    struct latest l = {.verdict = LEVEL_UNKNOWN, .before = LEVEL_UNKNOWN, .value = (double)NAN};
    const struct system_rows own = tests_of(f, system);
    for (size_t i = own.first; i < own.end; i++) {
        const struct test *t = &f->tests[i];
        if (t->analyte != (int)a || t->taken > now_min || t->value < 0 ||
            now_min - t->taken > (long)(f->settings.stale_d * MIN_PER_DAY))
            continue;
        const struct test seen = test_seen(f, t);
        double value = thinned(f, &seen, now_min);
        enum level_verdict verdict = verdict_of(f, &seen, value, 1);
        if (l.any && seen.below && verdict == LEVEL_UNKNOWN && (l.verdict != LEVEL_UNKNOWN || !l.test.below))
            continue; /* cannot see the band: it takes nothing from a reading that did */
        l = (struct latest){verdict, l.verdict, true, seen, value};
    }
    return l;
}

/*
 * The line is robust, so it is slow: half of the window's tests must have moved before it has. Two readings in a row
 * beyond the same edge are the state (a run rule; docs/trend.md, "The latest reading"). Below detection is a property
 * of the latest reading: as soon as something is detected the water is no longer starved, and a limit above the band's
 * low edge tells nothing of the band. A leap over the whole band, from below detection or to it, is believed when it is
 * repeated.
 */
static enum level_verdict level_by_both(const struct facility *f, const struct state *s, const struct latest *l)
{
    if (l->verdict != LEVEL_UNKNOWN && l->verdict == l->before)
        return l->verdict;
    if (s->level_verdict != LEVEL_BELOW_DETECTION || !l->any)
        return s->level_verdict;
    if (l->verdict == LEVEL_BELOW_DETECTION && l->before == LEVEL_ABOVE_BAND)
        return l->before;
    return l->verdict == LEVEL_ABOVE_BAND ? LEVEL_BELOW_BAND : verdict_of(f, &l->test, l->value, 0);
}

static const char *latest_words(const struct state *s, enum analyte a, const struct latest *l, struct arena *arena)
{
    char day[DAY_TEXT], line[48] = "no line yet";
    day_format(moment_day(l->test.taken), day);
    if (2 * s->n_below > s->n)
        snprintf(line, sizeof line, "the line is below detection");
    else if (s->has_level)
        snprintf(line, sizeof line, "the line is at %.*f", analytes[a].decimals, s->level);
    return arena_format(arena, "%s %s%.3g %s on %s (%s)", analytes[a].title, l->test.below ? "below " : "",
                        l->test.value, analytes[a].unit, day, line);
}

static bool is_low(enum level_verdict v)
{
    return v == LEVEL_BELOW_BAND || v == LEVEL_BELOW_DETECTION;
}

/*
 * Which foods the water wants, from the state alone. A latest reading on the other side of the band waits for its
 * repeat.
 */
static int direction_of(const struct state *s, enum level_verdict level, const struct latest *l)
{
    if (s->stale)
        return 0;
    if (level == LEVEL_ABOVE_BAND)
        return is_low(l->verdict) ? 0 : -1;
    return is_low(level) && l->verdict != LEVEL_ABOVE_BAND ? 1 : 0;
}

static bool weigh_latest(const struct facility *f, size_t system, long now_min, struct arena *arena,
                         struct system_state *out, struct err *e)
{
    for (int a = 0; a < N_NUTRIENTS; a++) {
        const struct state *s = &out->state[a];
        struct latest l = latest_of(f, system, (enum analyte)a, now_min);
        double low, high;
        facility_band(f, system, (enum analyte)a, &low, &high);
        out->level[a] = level_by_both(f, s, &l);
        out->single_high[a] = l.verdict == LEVEL_ABOVE_BAND && out->level[a] != LEVEL_ABOVE_BAND;
        out->cannot_see[a] = l.any && l.test.below && l.verdict == LEVEL_UNKNOWN;
        out->not_above[a] = out->cannot_see[a] && l.value <= high;
        out->gone_once[a] = l.verdict == LEVEL_BELOW_DETECTION && l.before == LEVEL_IN_BAND && 2 * s->n_below <= s->n;
        out->direction[a] = direction_of(s, out->level[a], &l);
        out->single_low[a] = is_low(l.verdict) && !is_low(out->level[a]);
        out->by_readings[a] = l.any && out->level[a] != s->level_verdict && out->level[a] != LEVEL_UNKNOWN;
        out->to_repeat[a] = l.any && !out->cannot_see[a] && (l.verdict != out->level[a] || out->gone_once[a]);
        out->reading_mg_l[a] = l.any && !l.test.below && out->level[a] != s->level_verdict ? l.value : (double)NAN;
        bool outside = l.verdict != LEVEL_UNKNOWN && l.verdict != LEVEL_IN_BAND;
        bool told = l.verdict == s->level_verdict && !out->gone_once[a];
        if (!l.any || told || (!outside && !out->cannot_see[a]))
            continue;
        out->latest[a] = latest_words(s, (enum analyte)a, &l, arena);
        if (!out->latest[a])
            return err_memory(e);
    }
    return true;
}

/* A level that rises far from the top of its band is where it should be. */
static bool is_leaving(const struct state *s, const struct level_band *band)
{
    return s->verdict == STATE_RISING && s->level + RISE_LOOK_D * s->slope_per_d > band->high;
}

/* All below detection is knowledge too, though it gives no level. */
static bool is_known(const struct state *s)
{
    return s->level_verdict != LEVEL_UNKNOWN && !s->stale;
}

static bool is_told(const struct system_state *s, enum analyte a)
{
    return s->level[a] != LEVEL_UNKNOWN && !s->state[a].stale;
}

/* A jump that ends in the lower half of the band brought the level to where it should be. */
static bool is_jumped(const struct state *s, const struct level_band *band)
{
    return s->verdict == STATE_STEP_UP && s->level > (band->low + band->high) / 2;
}

/*
 * A limit that ends inside the band: not above it, whatever it is; and the other nutrient is known not to be, or by
 * such a limit too.
 */
static bool not_above(const struct system_state *s)
{
    bool any = false, all = true;
    for (int a = 0; a < N_NUTRIENTS; a++) {
        bool told = is_told(s, (enum analyte)a);
        any = any || (!told && s->not_above[a]);
        all = all && (told ? s->level[a] != LEVEL_ABOVE_BAND : s->not_above[a]);
    }
    return any && all;
}

static void apply_rule(const struct level_band band[N_NUTRIENTS], struct system_state *s)
{
    const struct state *no3 = &s->state[ANALYTE_NO3], *po4 = &s->state[ANALYTE_PO4];
    const enum level_verdict n = s->level[ANALYTE_NO3], p = s->level[ANALYTE_PO4];
    const bool n_told = is_told(s, ANALYTE_NO3), p_told = is_told(s, ANALYTE_PO4);
    const bool n_high = n == LEVEL_ABOVE_BAND, p_high = p == LEVEL_ABOVE_BAND;
    const bool n_leaves = is_leaving(no3, &band[ANALYTE_NO3]), p_leaves = is_leaving(po4, &band[ANALYTE_PO4]);
    const bool n_jumped = is_jumped(no3, &band[ANALYTE_NO3]), p_jumped = is_jumped(po4, &band[ANALYTE_PO4]);
    const struct {
        bool applies;
        double factor;
        const char *rule;
    } rules[] = {
        {p_told && p == LEVEL_BELOW_DETECTION && !n_told, 1,
         "phosphate below detection, and no fresh nitrate reading to go by: never less food, and nothing that lowers "
         "phosphate"},
        {not_above(s), 1,
         "no test shows too much, and one cannot see its band: the house strength until a finer one is used"},
        {s->cannot_see[ANALYTE_PO4] && !p_told, lean_rule_factor,
         "this phosphate test cannot see the band: lean strength until a finer one is used"},
        {s->cannot_see[ANALYTE_NO3] && !n_told, lean_rule_factor,
         "this nitrate test cannot see the band: lean strength until a finer one is used"},
        {!n_told || !p_told, lean_rule_factor, "no fresh test of both nitrate and phosphate: lean strength"},
        {p == LEVEL_BELOW_DETECTION && n != LEVEL_BELOW_DETECTION, 1.25,
         "phosphate below detection with nitrate present: feed, but nothing that lowers phosphate"},
        {is_low(n) && is_low(p), 1.25, "nitrate and phosphate both low: feed more"},
        {is_low(n), 1, "nitrate low: the house strength, foods rich in nitrogen"},
        {is_low(p), 1, "phosphate low: the house strength, never less"},
        {n_high && p_high, 0.5, "nitrate and phosphate both high: half strength"},
        {n_high || p_high, 0.75,
         n_high ? "nitrate high: three-quarter strength" : "phosphate high: three-quarter strength"},
        {n_leaves || p_leaves, 0.85,
         n_leaves && p_leaves ? "nitrate and phosphate rising towards the top of their bands: a little less"
         : n_leaves           ? "nitrate rising towards the top of its band: a little less"
                              : "phosphate rising towards the top of its band: a little less"},
        {n_jumped || p_jumped, 0.85,
         n_jumped ? "nitrate jumped up within its band: a little less, and look for the cause"
                  : "phosphate jumped up within its band: a little less, and look for the cause"},
        {no3->verdict == STATE_RISING || po4->verdict == STATE_RISING, 1,
         "in band, and rising far from its top: the house strength"},
        {true, 1, "in band and not rising: the house strength"},
    };
    size_t i = 0;
    while (!rules[i].applies)
        i++;
    s->factor_rule = rules[i].factor;
    s->rule = rules[i].rule;
    s->po4_starved = p_told && p == LEVEL_BELOW_DETECTION && n != LEVEL_BELOW_DETECTION;
    s->po4_low = (p_told && is_low(p)) || s->single_low[ANALYTE_PO4] || s->not_above[ANALYTE_PO4];
}

static bool refused_lately(const struct facility *f, size_t system, int day)
{
    int last = f->systems[system].last_refused;
    return last != DAY_NONE && day - last <= WEEK_D;
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
    if (s->gone_once[ANALYTE_PO4] && !is_low(s->level[ANALYTE_NO3]))
        lower_to(s, 1, "phosphate is gone by one reading: more food when it is repeated");
    bool n_high = s->single_high[ANALYTE_NO3] || s->level[ANALYTE_NO3] == LEVEL_ABOVE_BAND;
    bool p_high = s->single_high[ANALYTE_PO4] || s->level[ANALYTE_PO4] == LEVEL_ABOVE_BAND;
    if ((s->single_high[ANALYTE_NO3] || s->single_high[ANALYTE_PO4]) && !s->po4_low)
        lower_to(s, n_high && p_high ? 0.5 : 0.75, "the latest reading is above the band: less until it is repeated");
    if (s->factor > 1 && refused_lately(f, system, day))
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

static void find_headroom(const struct facility *f, size_t system, enum analyte a, struct system_state *s)
{
    const struct system *sys = &f->systems[system];
    const struct state *state = &s->state[a];
    bool by_reading = !isnan(s->reading_mg_l[a]);
    if (state->stale || sys->volume_l <= 0 || (!by_reading && (!is_known(state) || !state->has_level)))
        return;
    struct headroom_in in = {
        .level = by_reading ? s->reading_mg_l[a] : state->level,
        .slope_per_d = state->has_slope && !by_reading ? state->slope_per_d : 0,
        .days = sys->test_every_d,
        .volume_l = sys->volume_l,
        .max_change_per_d = INFINITY, /* a row of its own in the programme */
    };
    facility_band(f, system, a, &in.band.low, &in.band.high);
    bool found = headroom_find(&in, &s->headroom[a], NULL);
    assert(found); /* no level is below 0, and no band gets in whose ends are not in order */
    s->has_headroom[a] = found;
}

bool plan_advice(const struct facility *f, size_t system, const struct advice_in *in, struct arena *arena,
                 struct system_state *out, struct err *e)
{
    *out = (struct system_state){0};
    for (int a = 0; a < N_NUTRIENTS; a++)
        if (!plan_trend(f, system, (enum analyte)a, in->now_min, in->window_d, arena, &out->state[a], e))
            return false;
    if (!weigh_latest(f, system, in->now_min, arena, out, e))
        return false;
    for (int a = 0; a < N_NUTRIENTS; a++)
        find_headroom(f, system, (enum analyte)a, out);
    struct level_band band[N_NUTRIENTS];
    for (int a = 0; a < N_NUTRIENTS; a++)
        facility_band(f, system, (enum analyte)a, &band[a].low, &band[a].high);
    apply_rule(band, out);
    limit_factor(f, system, in, out);
    return true;
}

long working_now(const struct working *w)
{
    const struct plan_request *q = w->request;
    long now_min = q->day * MIN_PER_DAY + request_start_min(w->f, q);
    for (size_t i = 0; i < w->f->n_tests; i++)
        if (moment_day(w->f->tests[i].taken) == q->day && w->f->tests[i].taken > now_min)
            now_min = w->f->tests[i].taken;
    return now_min;
}

bool working_advice(struct working *w, struct err *e)
{
    const struct advice_in in = {
        .now_min = working_now(w),
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
    const struct learned_in in = {.system = REF_NONE, .now_min = working_now(w)};
    return plan_learned(w->f, &in, w->a, &w->effects, e) && working_advice(w, e);
}
