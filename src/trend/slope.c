/*
 * Theil 1950, Sen 1968: the median slope of all pairs. Limits: Gilbert 1987, section 16.5.
 *
 * Each pair gives two ends, the least and the greatest slope that its two readings allow; they are equal unless one is
 * censored. The slope of rank r is the mean of the pooled ends 2r − 1 and 2r, so exact pairs count in full and a
 * censored one half at either end.
 */
#include "trend/rank.h"

#include <gsl/gsl_cdf.h>

enum { LISTED_MAX = 1 << 20 };

struct slopes {
    struct point *p; /* in time order */
    size_t n;
    bool censored;
    size_t n_pairs;  /* with different times */
    double *listed;  /* sorted: one per pair, two where censored; NULL where too many */
    double *room;    /* for counting: 3 n, and the residuals' medians: 2 n */
    size_t *tree;    /* n + 1 */
    double steepest; /* no slope is farther from 0 */
    double gentle;   /* all the values' range over all the time */
    double found;    /* by counting, the last time (at first 0): ranks near each other are often the same slope */
};

static void slopes_free(struct slopes *s)
{
    free(s->p);
    free(s->listed);
    free(s->room);
    free(s->tree);
}

static double end_low(const struct point *i, const struct point *j)
{
    return (j->low - i->high) / (j->t - i->t);
}

static double end_high(const struct point *i, const struct point *j)
{
    return (j->high - i->low) / (j->t - i->t);
}

static bool slopes_list(struct slopes *s, struct err *e)
{
    size_t per_pair = s->censored ? 2 : 1, k = 0;
    if (s->n_pairs > LISTED_MAX)
        return true;
    s->listed = malloc(s->n_pairs * per_pair * sizeof *s->listed);
    if (!s->listed)
        return err_memory(e);
    for (size_t i = 0; i < s->n; i++)
        for (size_t j = i + 1; j < s->n; j++) {
            if (s->p[j].t <= s->p[i].t)
                continue;
            s->listed[k++] = end_low(&s->p[i], &s->p[j]);
            if (s->censored)
                s->listed[k++] = end_high(&s->p[i], &s->p[j]);
        }
    qsort(s->listed, k, sizeof *s->listed, double_compare);
    return true;
}

static void slopes_survey(struct slopes *s, size_t *n_censored)
{
    size_t same = 0, run = 1;
    double low = s->p[0].low, high = s->p[0].high, gap = INFINITY;
    *n_censored = !point_is_exact(&s->p[0]);
    for (size_t i = 1; i < s->n; i++) {
        run = s->p[i].t > s->p[i - 1].t ? 1 : run + 1;
        same += run - 1;
        *n_censored += !point_is_exact(&s->p[i]);
        low = fmin(low, s->p[i].low);
        high = fmax(high, s->p[i].high);
        if (run == 1)
            gap = fmin(gap, s->p[i].t - s->p[i - 1].t);
    }
    s->n_pairs = s->n * (s->n - 1) / 2 - same;
    s->censored = *n_censored > 0;
    s->steepest = (high - low) / gap;
    s->gentle = (high - low) / (s->p[s->n - 1].t - s->p[0].t);
}

/* wider: added to every exact reading on both sides, for what a display that rounds may have hidden. */
static bool slopes_open(struct slopes *s, const struct point *points, size_t n, double wider, struct err *e)
{
    size_t n_censored;
    *s = (struct slopes){.n = n};
    s->p = points_in_order(points, n, e);
    if (!s->p)
        return false;
    slopes_survey(s, &n_censored);
    if (s->n_pairs == 0)
        return err_set(e, ERR_INPUT, NULL, "all %zu readings are of one moment; expected two moments or more", n);
    if (2 * n_censored > n)
        return err_set(e, ERR_INPUT, NULL, "%zu of %zu readings are below detection; a slope needs half to be above",
                       n_censored, n);
    for (size_t i = 0; wider > 0 && i < n; i++)
        if (point_is_exact(&s->p[i])) {
            s->p[i].low -= wider;
            s->p[i].high += wider;
            s->censored = true;
        }
    s->room = n > SIZE_MAX / (3 * sizeof *s->room) ? NULL : malloc(3 * n * sizeof *s->room);
    s->tree = malloc((n + 1) * sizeof *s->tree);
    if (!s->room || !s->tree)
        return err_memory(e);
    return slopes_list(s, e);
}

/* How many of the pooled ends, two to a pair, are ≤ b: a pair's end is when its later residual is not the greater. */
static size_t ends_up_to(struct slopes *s, double b)
{
    double *earlier = s->room, *later = earlier + s->n;
    struct pair_scratch scratch = {later + s->n, s->tree};
    for (size_t i = 0; i < s->n; i++) {
        earlier[i] = s->p[i].high - b * s->p[i].t;
        later[i] = s->p[i].low - b * s->p[i].t;
    }
    size_t low_ends = (size_t)count_pairs_at_least(s->p, s->n, earlier, later, &scratch);
    if (!s->censored)
        return 2 * low_ends;
    return low_ends + (size_t)count_pairs_at_least(s->p, s->n, later, earlier, &scratch);
}

/* A slope with how many pooled ends are up to it. */
struct pivot {
    double slope;
    size_t count;
};

static struct pivot pivot_at(struct slopes *s, double slope)
{
    return (struct pivot){slope, ends_up_to(s, slope)};
}

/*
 * The pooled end of rank k (1 to 2 n_pairs) between two pivots: by turns where the counts say it should be, which is
 * fast, and in the middle, which never fails. It starts from the last end found, as neighbouring ranks are near.
 */
static double end_by_counting(struct slopes *s, size_t k)
{
    struct pivot low = {-s->steepest, 0}, high = pivot_at(s, s->found);
    double tolerance = 1e-12 * s->gentle, step = 1e-10 * s->gentle;
    if (high.count >= k) { /* the same slope again? */
        struct pivot under = pivot_at(s, s->found - fmax(tolerance, 1e-12 * fabs(s->found)));
        *(under.count < k ? &low : &high) = under;
    }
    for (; high.count < k && high.slope < s->steepest; step *= 16) {
        low = high;
        high = pivot_at(s, fmin(low.slope + step, s->steepest));
    }
    for (bool guess = true; high.slope - low.slope > fmax(tolerance, 1e-12 * fabs(high.slope)); guess = !guess) {
        double part = 0.5;
        if (guess && high.count > low.count)
            part = fmin(fmax(((double)(k - low.count) - 0.5) / (double)(high.count - low.count), 1e-6), 1 - 1e-6);
        struct pivot mid = pivot_at(s, low.slope + part * (high.slope - low.slope));
        if (mid.count >= k)
            high = mid;
        else
            low = mid;
    }
    s->found = high.slope;
    return fabs(high.slope) <= tolerance ? 0 : high.slope;
}

static double end_of_rank(struct slopes *s, size_t k)
{
    return s->listed ? s->listed[s->censored ? k - 1 : (k - 1) / 2] : end_by_counting(s, k);
}

static double slope_of_rank(struct slopes *s, size_t r)
{
    return s->listed && !s->censored ? s->listed[r - 1] : end_of_rank(s, 2 * r - 1) / 2 + end_of_rank(s, 2 * r) / 2;
}

static double slope_between(struct slopes *s, double rank)
{
    double r = fmin(fmax(rank, 1), (double)s->n_pairs), whole = floor(r);
    double at = slope_of_rank(s, (size_t)whole);
    return r > whole ? at + (r - whole) * (slope_of_rank(s, (size_t)whole + 1) - at) : at;
}

/*
 * Rank of the lower limit. The interval from rank r to N + 1 − r misses the truth where |S| ≥ N − 2(r − 1); for
 * n ≤ 10 that chance is known exactly, and the rank is read between the two that bracket the confidence asked for.
 */
static double lower_rank(const struct slopes *s, double var_s, bool exact, double confidence_frac)
{
    double pairs = (double)s->n_pairs;
    if (!exact)
        return (pairs - gsl_cdf_ugaussian_Pinv((1 + confidence_frac) / 2) * sqrt(var_s)) / 2;
    double miss = 2 * kendall_upper_tail(s->n, (long)pairs);
    if (miss >= 1 - confidence_frac)
        return 1;
    for (long r = 1; 2 * r <= (long)pairs; r++) {
        double next = fmin(1, 2 * kendall_upper_tail(s->n, (long)pairs - 2 * r));
        if (next >= 1 - confidence_frac)
            return (double)r + (1 - confidence_frac - miss) / (next - miss);
        miss = next;
    }
    return pairs / 2;
}

/* The median of y − slope t, a censored reading counting half at either end of what it may be. */
static double median_residual(struct slopes *s, double slope)
{
    double *ends = s->room;
    for (size_t i = 0; i < s->n; i++) {
        ends[2 * i] = s->p[i].low - slope * s->p[i].t;
        ends[2 * i + 1] = s->p[i].high - slope * s->p[i].t;
    }
    qsort(ends, 2 * s->n, sizeof *ends, double_compare);
    return median_of_sorted(ends, 2 * s->n);
}

static double median_time(const struct slopes *s)
{
    return s->n % 2 ? s->p[s->n / 2].t : s->p[s->n / 2 - 1].t / 2 + s->p[s->n / 2].t / 2;
}

bool slope_fit(const struct point *points, size_t n, double confidence_frac, struct slope *out, struct err *e)
{
    struct slopes s;
    struct kendall k;
    if (!(confidence_frac > 0 && confidence_frac < 1))
        return err_set(e, ERR_INPUT, NULL, "confidence is %g; expected a fraction between 0 and 1", confidence_frac);
    bool ok = slopes_open(&s, points, n, 0, e) && kendall_test(points, n, &k, e);
    if (ok) {
        double pairs = (double)s.n_pairs, rank = lower_rank(&s, k.var_s, k.exact, confidence_frac);
        out->n_pairs = s.n_pairs;
        out->slope = slope_between(&s, (pairs + 1) / 2);
        out->lo = fmin(slope_between(&s, rank), out->slope);
        out->hi = fmax(slope_between(&s, pairs + 1 - rank), out->slope);
        out->intercept = median_residual(&s, out->slope);
        out->intercept_medians = median_residual(&s, 0) - out->slope * median_time(&s);
    }
    slopes_free(&s);
    return ok;
}

bool slope_limits_rounded(const struct point *points, size_t n, double confidence_frac, double step, struct slope *io,
                          struct err *e)
{
    struct slopes s;
    struct kendall k;
    bool ok = slopes_open(&s, points, n, step / 4, e);
    for (size_t i = 0; ok && i < n; i++) /* as if nothing were tied but times: rounding made the other ties */
        s.p[i].low = s.p[i].high = (double)i;
    ok = ok && kendall_test(s.p, n, &k, e);
    slopes_free(&s);
    if (!ok)
        return false;
    ok = slopes_open(&s, points, n, step / 4, e);
    if (ok) {
        double rank = lower_rank(&s, k.var_s, k.exact, confidence_frac);
        io->lo = fmin(slope_between(&s, rank), io->slope);
        io->hi = fmax(slope_between(&s, (double)s.n_pairs + 1 - rank), io->slope);
    }
    slopes_free(&s);
    return ok;
}

bool slope_at_rank(const struct point *points, size_t n, double rank, double *slope, struct err *e)
{
    struct slopes s;
    bool ok = slopes_open(&s, points, n, 0, e);
    if (ok && !(rank >= 1 && rank <= (double)s.n_pairs))
        ok = err_set(e, ERR_INPUT, NULL, "rank is %g; expected 1 to %zu", rank, s.n_pairs);
    if (ok)
        *slope = slope_between(&s, rank);
    slopes_free(&s);
    return ok;
}
