/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The level and drift of a water by its tests: a robust line, or a step. */
#include "trend/rank.h"
#include "trend/series.h"

/*
 * A step is believed over a drift when it is more than chance and its two levels leave much less unexplained than the
 * line does. The figures are our own choice, measured on simulated systems (docs/trend.md).
 */
enum { OUTLIER_MIN_TESTS = 6, STEP_MIN_SIDE = 3, STEP_MIN_TESTS = 8, PUT_BACK_ROUNDS = 40 };

static const double STEP_MAX_P = 0.05, STEP_MAX_MISFIT = 0.78;
static const double OUTLIER_Z = 3.5;     /* Iglewicz and Hoaglin 1993 */
static const double SD_PER_MAD = 1.4826; /* of a normal scatter */
static const double SD_PER_MEAN_DEVIATION = 1.2533;

/* All that is worked on, in time order; the arrays live in the caller's arena. */
struct work {
    const struct state_in *in;
    struct ordered all;           /* readings up to now */
    size_t first;                 /* of the window */
    size_t *fitted;               /* [n] those fitted, as indices into the input */
    struct reading *fit;          /* [n] those fitted, by moment; another method's less its offset */
    struct water_change *changes; /* up to now, by moment */
    size_t n_changes;
    double *drop;             /* [n_changes]: what each took away */
    struct point *raw, *back; /* fitted readings, in days from now: as read, and with the drops put back */
    size_t n;
    double *ends; /* 2 n, spare */
};

/* ---- checks ---- */

static bool reading_check(const struct reading *r, size_t i, struct err *e)
{
    if (!isfinite(r->value) || r->value < 0 || (r->below && r->value <= 0))
        return err_set(e, ERR_INPUT, NULL, "reading %zu is %s%g; expected a number of 0 or more%s", i + 1,
                       r->below ? "below " : "", r->value, r->below ? " for a value, and a limit above 0" : "");
    return true;
}

static bool change_check(const struct water_change *c, size_t i, struct err *e)
{
    if (!(c->exchanged_frac >= 0 && c->exchanged_frac < 1))
        return err_set(e, ERR_INPUT, NULL, "water change %zu exchanges %g of the volume; expected 0 to below 1", i + 1,
                       c->exchanged_frac);
    if (!isfinite(c->new_value) || c->new_value < 0)
        return err_set(e, ERR_INPUT, NULL, "water change %zu brings in water of %g; expected a number of 0 or more",
                       i + 1, c->new_value);
    return true;
}

static bool positive_check(const char *what, double v, struct err *e)
{
    if (!isfinite(v) || v <= 0)
        return err_set(e, ERR_INPUT, NULL, "%s is %g; expected a number above 0", what, v);
    return true;
}

static bool state_check(const struct state_in *in, struct err *e)
{
    for (size_t i = 0; i < in->n_readings; i++)
        if (!reading_check(&in->readings[i], i, e))
            return false;
    for (size_t i = 0; i < in->n_changes; i++)
        if (!change_check(&in->changes[i], i, e))
            return false;
    if (!positive_check("the window in days", in->window_d, e) ||
        !positive_check("the age of a stale reading in days", in->stale_d, e))
        return false;
    if (!(in->confidence_frac > 0 && in->confidence_frac < 1))
        return err_set(e, ERR_INPUT, NULL, "confidence is %g; expected a fraction between 0 and 1",
                       in->confidence_frac);
    if (!isfinite(in->test_sd) || in->test_sd < 0)
        return err_set(e, ERR_INPUT, NULL, "the scatter of a test is %g; expected 0 or more", in->test_sd);
    if (!isfinite(in->resolution) || in->resolution < 0)
        return err_set(e, ERR_INPUT, NULL, "the resolution of a test is %g; expected 0 or more", in->resolution);
    if (!(in->band.low <= in->band.high))
        return err_set(e, ERR_INPUT, NULL, "the band is %g to %g; expected low ≤ high", in->band.low, in->band.high);
    return true;
}

/* ---- what lies in the window ---- */

static bool changes_order(struct work *w, struct arena *a, struct err *e)
{
    struct dated *d = arena_alloc(a, w->in->n_changes, sizeof *d);
    w->changes = arena_alloc(a, w->in->n_changes, sizeof *w->changes);
    w->drop = arena_alloc(a, w->in->n_changes, sizeof *w->drop);
    if (!d || !w->changes || !w->drop)
        return err_memory(e);
    for (size_t i = 0; i < w->in->n_changes; i++)
        if (w->in->changes[i].moment_min <= w->in->now_min)
            d[w->n_changes++] = (struct dated){w->in->changes[i].moment_min, i};
    qsort(d, w->n_changes, sizeof *d, dated_compare);
    for (size_t i = 0; i < w->n_changes; i++)
        w->changes[i] = w->in->changes[d[i].index];
    return true;
}

static void window_survey(struct work *w, struct state *s)
{
    w->first = window_first(&w->all, w->in->now_min, w->in->window_d);
    for (size_t k = w->first; k < w->all.n; k++) {
        s->n++;
        s->n_below += w->all.reading[k].below;
        if (w->all.reading[k].below)
            s->limit = w->all.reading[k].value;
    }
    s->has_last = w->all.n > 0;
    if (s->has_last) {
        s->last = w->all.reading[w->all.n - 1];
        if (s->last.below)
            s->limit = s->last.value;
        s->last_age_d = -days_from(s->last.moment_min, w->in->now_min);
    }
    s->stale = !s->has_last || s->last_age_d > w->in->stale_d;
}

/*
 * A reading by another method, between those of the one in use: fitted where the two were often enough read beside each
 * other, less what sets them apart.
 */
static bool take_offset(struct work *w, struct reading *r, bool *fits, struct state *s, struct arena *a, struct err *e)
{
    struct offset apart;
    if (!offset_find(&w->all, s->method, r->method, a, &apart, e))
        return false;
    *fits = apart.n_pairs >= OFFSET_MIN_PAIRS && !r->below;
    r->value = fmax(r->value - apart.value, 0);
    s->n_offset += *fits;
    if (*fits && apart.n_pairs >= s->n_pairs) {
        s->n_pairs = apart.n_pairs;
        s->offset = apart.value;
    }
    return true;
}

static bool readings_take(struct work *w, bool *used, struct state *s, struct arena *a, struct err *e)
{
    size_t begin = w->all.n, end = w->first;
    w->fitted = arena_alloc(a, s->n, sizeof *w->fitted);
    w->fit = arena_alloc(a, s->n, sizeof *w->fit);
    if (!w->fitted || !w->fit)
        return err_memory(e);
    for (size_t k = w->first; k < w->all.n; k++)
        if (w->all.reading[k].method == s->method) {
            begin = begin < k ? begin : k;
            end = k;
        }
    for (size_t k = w->first; k < w->all.n; k++) {
        struct reading r = w->all.reading[k];
        bool fits = r.method == s->method;
        s->n_other += !fits;
        if (!fits && k > begin && k < end && !take_offset(w, &r, &fits, s, a, e))
            return false;
        if (!fits)
            continue;
        used[w->all.index[k]] = true;
        w->fitted[w->n] = w->all.index[k];
        w->fit[w->n++] = r;
    }
    return true;
}

static bool series_take(struct work *w, struct state *s, struct arena *a, struct err *e)
{
    struct series series;
    bool *used = arena_alloc(a, w->in->n_readings, sizeof *used);
    if (!used)
        return err_memory(e);
    if (!series_follow(&w->all, w->first, w->in->n_readings, a, &series, e))
        return false;
    s->method = s->method_before = series.method;
    s->used = used;
    if (!readings_take(w, used, s, a, e))
        return false;
    s->n_fitted = w->n;
    if (w->n > 0)
        s->span_d = days_from(w->fit[w->n - 1].moment_min, w->fit[0].moment_min);
    s->method_changed =
        series.since_min != MOMENT_NONE && -days_from(series.since_min, w->in->now_min) <= w->in->window_d;
    if (s->method_changed) {
        s->break_min = series.since_min;
        s->method_before = series.before;
    }
    return true;
}

static bool points_make(struct work *w, struct arena *a, struct err *e)
{
    w->raw = arena_alloc(a, w->n, sizeof *w->raw);
    w->back = arena_alloc(a, w->n, sizeof *w->back);
    w->ends = arena_alloc(a, w->n, 2 * sizeof *w->ends);
    if (!w->raw || !w->back || !w->ends)
        return err_memory(e);
    for (size_t i = 0; i < w->n; i++) {
        const struct reading *r = &w->fit[i];
        w->raw[i] = (struct point){days_from(r->moment_min, w->in->now_min), r->below ? 0 : r->value, r->value};
        w->back[i] = w->raw[i];
    }
    return true;
}

/* ---- water changes put back ---- */

/* Only changes after the first fitted reading count; a reading of the same minute was taken before the change. */
static bool change_counts(const struct work *w, size_t k)
{
    return w->changes[k].moment_min >= w->fit[0].moment_min;
}

/*
 * The drops for a line of put-back levels, level + slope × days from now; how much the largest moved is returned. A
 * change takes away its fraction of what the level then is above the new water.
 */
static double drops_from_line(struct work *w, double level, double slope)
{
    double before = 0, moved = 0;
    for (size_t k = 0; k < w->n_changes; k++) {
        if (!change_counts(w, k))
            continue;
        double at = level + slope * days_from(w->changes[k].moment_min, w->in->now_min) - before;
        double drop = w->changes[k].exchanged_frac * (fmax(at, 0) - w->changes[k].new_value);
        moved = fmax(moved, fabs(drop - w->drop[k]));
        w->drop[k] = drop;
        before += drop;
    }
    return moved;
}

static double drops_before(const struct work *w, long moment_min)
{
    double sum = 0;
    for (size_t k = 0; k < w->n_changes && w->changes[k].moment_min < moment_min; k++)
        sum += w->drop[k];
    return sum;
}

static void drops_put_back(struct work *w)
{
    for (size_t i = 0; i < w->n; i++) {
        double drops = drops_before(w, w->fit[i].moment_min);
        w->back[i].low = w->raw[i].low + drops;
        w->back[i].high = w->raw[i].high + drops;
    }
}

/* The line tells the level at each change, the drops tell the line: in turn until both stand still. */
static bool line_fit(struct work *w, struct slope *line, struct err *e)
{
    double settled = 1e-7 * fmax(fabs(w->raw[0].high), 1e-6);
    if (!slope_fit(w->raw, w->n, w->in->confidence_frac, line, e))
        return false;
    for (int i = 0; i < PUT_BACK_ROUNDS; i++) {
        if (drops_from_line(w, line->intercept, line->slope) <= settled)
            return true;
        drops_put_back(w);
        if (!slope_fit(w->back, w->n, w->in->confidence_frac, line, e))
            return false;
    }
    return true;
}

/* ---- judging ---- */

/* MAD, or where half of the readings lie on the line the mean deviation; widened for the two numbers of the line. */
static double robust_sd(const struct work *w, const struct slope *line)
{
    double *size = w->ends, sum = 0, n = (double)w->n;
    for (size_t i = 0; i < w->n; i++) {
        size[i] = fabs(point_residual(&w->back[i], line->intercept + line->slope * w->back[i].t));
        sum += size[i];
    }
    qsort(size, w->n, sizeof *size, double_compare);
    double mad = median_of_sorted(size, w->n), mean = sum / n;
    return (mad > 1e-6 * mean ? SD_PER_MAD * mad : SD_PER_MEAN_DEVIATION * mean) * sqrt(n / (n - 2));
}

/* Flags the outlying readings, and takes the scatter from the others: its sd. */
static double error_scale_judge(const struct work *w, const struct slope *line, bool *outlier, struct state *s)
{
    double far = OUTLIER_Z * fmax(robust_sd(w, line), w->in->test_sd), sum = 0, squares = 0, used = 0;
    for (size_t i = 0; i < w->n; i++)
        sum += w->back[i].t;
    s->centre_d = sum / (double)w->n;
    for (size_t i = 0; i < w->n; i++) {
        double r = point_residual(&w->back[i], line->intercept + line->slope * w->back[i].t);
        s->spread_d2 += (w->back[i].t - s->centre_d) * (w->back[i].t - s->centre_d);
        if (w->n >= OUTLIER_MIN_TESTS && fabs(r) > far * (1 + 1e-9)) {
            outlier[w->fitted[i]] = true;
            s->n_outliers++;
        } else {
            squares += r * r;
            used++;
        }
    }
    double residual_sd = used > 2 ? sqrt(squares / (used - 2)) : 0;
    return residual_sd > 0 ? residual_sd : w->in->test_sd;
}

static void slope_judge(const struct work *w, const struct slope *line, double residual_sd, struct state *s)
{
    double chance = 1 - w->in->confidence_frac;
    s->has_slope = true;
    s->slope_per_d = line->slope;
    s->slope_lo = line->lo;
    s->slope_hi = line->hi;
    s->level_sd = residual_sd * sqrt(1 / (double)w->n + s->centre_d * s->centre_d / s->spread_d2);
    s->level = line->intercept;
    if (s->p <= chance && line->lo > 0)
        s->verdict = STATE_RISING;
    else if (s->p <= chance && line->hi < 0)
        s->verdict = STATE_FALLING;
}

/* A step makes the line meaningless: the level is that since the step, and there is no slope. */
static bool step_judge(const struct work *w, const struct slope *line, struct state *s, struct err *e)
{
    struct step step;
    double misfit = 0;
    if (w->n < STEP_MIN_TESTS)
        return true;
    for (size_t i = 0; i < w->n; i++)
        misfit += fabs(point_residual(&w->back[i], line->intercept + line->slope * w->back[i].t));
    if (!step_find(w->back, w->n, STEP_MIN_SIDE, STEP_MAX_MISFIT * misfit, &step, e))
        return false;
    if (!step.found || step.p > STEP_MAX_P || step.before == step.after ||
        fabs(step.after - step.before) < 2 * fmax(w->in->resolution, w->in->test_sd))
        return true;
    double since = (double)(w->n - step.first_after), parts = (double)w->n - 2;
    s->verdict = step.after > step.before ? STATE_STEP_UP : STATE_STEP_DOWN;
    s->step_min = w->fit[step.first_after].moment_min;
    s->has_slope = false;
    s->level = step.after;
    s->level_sd = fmax(SD_PER_MEAN_DEVIATION * step.misfit / parts, w->in->test_sd) / sqrt(since);
    return true;
}

static bool line_judge(struct work *w, bool *outlier, struct state *s, struct err *e)
{
    struct slope line;
    struct kendall k;
    if (!line_fit(w, &line, e) || !kendall_test(w->back, w->n, &k, e))
        return false;
    if (w->in->resolution > 0 &&
        !slope_limits_rounded(w->back, w->n, w->in->confidence_frac, w->in->resolution, &line, e))
        return false;
    s->p = k.p;
    slope_judge(w, &line, error_scale_judge(w, &line, outlier, s), s);
    if (!step_judge(w, &line, s, e))
        return false;
    for (size_t i = 0; i < w->n_changes; i++)
        s->put_back += w->drop[i];
    s->has_level = true;
    s->level = fmax(s->level - s->put_back, 0);
    return true;
}

/* The last reading of the method in use; where the window has none of it, the last of any. */
static const struct reading *own_last(const struct work *w, const struct state *s)
{
    return w->n > 0 ? &w->fit[w->n - 1] : &s->last;
}

/* Too few tests, or most below detection: the last reading, with the water changes since then. */
static void level_from_last(const struct work *w, struct state *s)
{
    const struct reading *last = own_last(w, s);
    if (!s->has_last || last->below)
        return;
    s->has_level = true;
    s->level = last->value;
    s->level_sd = w->in->test_sd;
    for (size_t k = 0; k < w->n_changes; k++)
        if (w->changes[k].moment_min >= last->moment_min) {
            s->level += w->changes[k].exchanged_frac * (w->changes[k].new_value - s->level);
            s->level_sd *= 1 - w->changes[k].exchanged_frac;
        }
}

/* Most are below detection: no slope, but whether later readings tend to be above or below can still be told. */
static bool order_judge(const struct work *w, struct state *s, struct err *e)
{
    struct kendall k;
    if (!kendall_test(w->raw, w->n, &k, e))
        return false;
    s->p = k.p;
    if (k.p <= 1 - w->in->confidence_frac)
        s->verdict = k.s > 0 ? STATE_RISING : STATE_FALLING;
    return true;
}

static void level_judge(const struct work *w, size_t n_below, struct state *s)
{
    const struct state_in *in = w->in;
    const struct reading *last = s->has_last ? own_last(w, s) : NULL;
    /* a limit above the band's low edge takes nothing from a line */
    bool gone = last && last->below && (last->value <= in->band.low || in->band.low <= 0 || !s->has_level);
    if (gone || 2 * n_below > w->n)
        s->level_verdict = LEVEL_BELOW_DETECTION;
    else if (!s->has_level)
        s->level_verdict = LEVEL_UNKNOWN;
    else
        s->level_verdict = s->level < in->band.low    ? LEVEL_BELOW_BAND
                           : s->level > in->band.high ? LEVEL_ABOVE_BAND
                                                      : LEVEL_IN_BAND;
}

static size_t fitted_below(const struct work *w)
{
    size_t below = 0;
    for (size_t i = 0; i < w->n; i++)
        below += !point_is_exact(&w->raw[i]);
    return below;
}

bool state_fit(const struct state_in *in, struct arena *a, struct state *out, struct err *e)
{
    struct work w = {.in = in};
    struct state s = {.p = 1, .break_min = MOMENT_NONE, .step_min = MOMENT_NONE};
    bool *outlier = arena_alloc(a, in->n_readings, sizeof *outlier);
    if (!outlier)
        return err_memory(e);
    if (!state_check(in, e) || !readings_order(in->readings, in->n_readings, in->now_min, a, &w.all, e) ||
        !changes_order(&w, a, e))
        return false;
    window_survey(&w, &s);
    if (!series_take(&w, &s, a, e) || !points_make(&w, a, e))
        return false;
    bool enough = w.n >= STATE_MIN_TESTS && s.span_d >= STATE_MIN_SPAN_D;
    s.verdict = enough ? STATE_STEADY : STATE_TOO_FEW;
    size_t n_below = fitted_below(&w);
    bool mostly_below = 2 * n_below > w.n;
    if (enough && !mostly_below && !line_judge(&w, outlier, &s, e))
        return false;
    if (enough && mostly_below && !order_judge(&w, &s, e))
        return false;
    if (!s.has_level)
        level_from_last(&w, &s);
    level_judge(&w, n_below, &s);
    s.outlier = outlier;
    *out = s;
    return true;
}

const char *state_verdict_name(enum state_verdict v)
{
    static const char *const names[] = {"too few readings", "steady", "rising", "falling", "step up", "step down"};
    return names[v];
}

const char *level_verdict_name(enum level_verdict v)
{
    static const char *const names[] = {"unknown", "below detection", "below band", "in band", "above band"};
    return names[v];
}
