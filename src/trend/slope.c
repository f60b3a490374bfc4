/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Theil 1950, Sen 1968: the median slope of all pairs. Limits: Gilbert 1987, section 16.5.
 *
 * Each pair gives two ends, the least and the greatest slope that its two readings allow; they are equal unless one is
 * censored. The slope of rank r is the mean of the pooled ends 2r − 1 and 2r, so exact pairs count in full and a
 * censored one half at either end.
 */
#include "trend/rank.h"

#include <float.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_rng.h>

enum {
    LISTED_MAX = 1 << 20,
    DRAWN = 1 << 12,  /* slopes looked at to guess where a rank is */
    WINDOW = 1 << 13, /* ends between two pivots that are listed and sorted */
    KNOWN_MAX = 32,
};

/* A slope with how many pooled ends are up to it. */
struct pivot {
    double slope;
    size_t count;
};

struct slopes {
    struct point *p; /* in time order */
    size_t n;
    bool censored;
    size_t n_pairs;  /* with different times */
    double *listed;  /* sorted: one per pair, two where censored, and room for sorting; NULL where too many */
    double *room;    /* for counting: 5 n, and the residuals' medians: 4 n */
    double steepest; /* no slope is farther from 0 */
    double gentle;   /* all the values' range over all the time */
    size_t n_drawn;
    double drawn[DRAWN]; /* where too many to list: slopes of pairs taken by chance, sorted */
    struct pivot known
        [KNOWN_MAX]; /* pivots that were counted, the least first: ranks asked for one after another are often near */
    size_t n_known;
    double *window;     /* the ends between two pivots, sorted, and as much room again for sorting */
    struct pivot under; /* counts what is before the window */
    size_t n_window;
};

static void slopes_free(struct slopes *s)
{
    free(s->p);
    free(s->listed);
    free(s->window);
    free(s->room);
}

static double end_low(const struct point *i, const struct point *j)
{
    return (j->low - i->high) / (j->t - i->t);
}

static double end_high(const struct point *i, const struct point *j)
{
    return (j->high - i->low) / (j->t - i->t);
}

/* The residual of a reading's upper or lower end from a line through 0. */
static double end_residual(const struct point *p, bool upper, double slope)
{
    return (upper ? p->high : p->low) - slope * p->t;
}

/* Slopes of pairs taken by chance from a fixed seed, for a first guess at any rank. */
static bool slopes_draw(struct slopes *s, struct err *e)
{
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    if (!rng)
        return err_memory(e);
    for (size_t tried = 0; tried < 4 * (size_t)DRAWN && s->n_drawn < DRAWN; tried++) {
        const struct point *a = &s->p[gsl_rng_uniform_int(rng, s->n)], *b = &s->p[gsl_rng_uniform_int(rng, s->n)];
        const struct point *i = a < b ? a : b, *j = a < b ? b : a;
        if (i->t < j->t)
            s->drawn[s->n_drawn++] = end_low(i, j) / 2 + end_high(i, j) / 2;
    }
    gsl_rng_free(rng);
    doubles_sort(s->drawn, s->n_drawn, s->window);
    return true;
}

static bool slopes_list(struct slopes *s, struct err *e)
{
    size_t per_pair = s->censored ? 2 : 1, k = 0;
    if (s->n_pairs > LISTED_MAX) {
        s->window = malloc(2 * WINDOW * sizeof *s->window);
        return (s->window || err_memory(e)) && slopes_draw(s, e);
    }
    s->listed = malloc(2 * s->n_pairs * per_pair * sizeof *s->listed);
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
    doubles_sort(s->listed, k, s->listed + k);
    return true;
}

/* wider: what will be added to the readings on both sides. */
static void slopes_survey(struct slopes *s, double wider, size_t *n_censored)
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
    s->steepest = (high - low + 2 * wider) / gap;
    s->gentle = (high - low + 2 * wider) / (s->p[s->n - 1].t - s->p[0].t);
}

/* wider: added to every exact reading on both sides, for what a display that rounds may have hidden. */
static bool slopes_open(struct slopes *s, const struct point *points, size_t n, double wider, struct err *e)
{
    size_t n_censored;
    *s = (struct slopes){.n = n};
    s->p = points_in_order(points, n, e);
    if (!s->p)
        return false;
    slopes_survey(s, wider, &n_censored);
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
    assert(n > 0);
    s->room = n > SIZE_MAX / (5 * sizeof *s->room) ? NULL : malloc(5 * n * sizeof *s->room);
    if (!s->room)
        return err_memory(e);
    return slopes_list(s, e);
}

/* How many of the pooled ends, two to a pair, are ≤ b: a pair's end is when its later residual is not the greater. */
static size_t ends_up_to(struct slopes *s, double b)
{
    double *earlier = s->room, *later = earlier + s->n, *scratch = later + s->n;
    for (size_t i = 0; i < s->n; i++) {
        earlier[i] = end_residual(&s->p[i], true, b);
        later[i] = end_residual(&s->p[i], false, b);
    }
    if (!s->censored)
        return 2 * (size_t)count_pairs_at_least(s->p, s->n, earlier, earlier, scratch);
    size_t low_ends = (size_t)count_pairs_at_least(s->p, s->n, earlier, later, scratch);
    return low_ends + (size_t)count_pairs_at_least(s->p, s->n, later, earlier, scratch);
}

/* Counts, and remembers the count. */
static struct pivot pivot_at(struct slopes *s, double slope)
{
    const struct pivot p = {slope, ends_up_to(s, slope)};
    size_t at = s->n_known;
    if (s->n_known == KNOWN_MAX)
        return p;
    for (; at > 0 && s->known[at - 1].slope > slope; at--)
        s->known[at] = s->known[at - 1];
    s->known[at] = p;
    s->n_known++;
    return p;
}

/* The residuals of upper or lower ends, sorted, and whose each is; of equal ones the earlier reading's first. */
struct residuals {
    bool upper;
    double *sorted;
    size_t *order;
};

static bool residuals_sort(const struct slopes *s, double slope, struct residuals *r, double *spare)
{
    size_t *placed = calloc(s->n, sizeof *placed); /* at the first of equals: how many of them have their place */
    if (!placed)
        return false;
    for (size_t i = 0; i < s->n; i++)
        r->sorted[i] = end_residual(&s->p[i], r->upper, slope);
    doubles_sort(r->sorted, s->n, spare);
    for (size_t i = 0; i < s->n; i++) {
        size_t first = count_less(r->sorted, s->n, end_residual(&s->p[i], r->upper, slope));
        r->order[first + placed[first]++] = i;
    }
    free(placed);
    return true;
}

/* How far a residual may be from another one, and yet be on its other side at the lower pivot. */
static double residuals_near(const struct slopes *s, double low, double high)
{
    double most = 0;
    for (size_t i = 0; i < s->n; i++) {
        double size = fabs(s->p[i].high) + fabs(high * s->p[i].t);
        most = size > most ? size : most;
    }
    return (high - low) * (s->p[s->n - 1].t - s->p[0].t) + 16 * DBL_EPSILON * most;
}

/*
 * Lists a pair's low ends (high ones) that one pivot counts and the other does not: the earlier residual is at least
 * the later one, and was not. From pivot to pivot the two move by no more than the pivots' distance times the time
 * between them, so only residuals that near are looked at. False where memory is short or there is no room for so many,
 * which rounding alone could cause.
 */
static bool window_take(struct slopes *s, bool high_ends, double low, double high, size_t *orders, size_t room)
{
    struct residuals earlier = {!high_ends, s->room, orders}, later = {high_ends, s->room + s->n, orders + s->n};
    double near = residuals_near(s, low, high), *spare = later.sorted + s->n;
    if (!residuals_sort(s, high, &earlier, spare) || (s->censored && !residuals_sort(s, high, &later, spare)))
        return false;
    later = s->censored ? later : earlier;
    for (size_t j = 0, from = 0; j < s->n; j++) {
        const struct point *end = &s->p[later.order[j]]; /* NOLINT(clang-analyzer-core.*): all are sorted */
        double at = later.sorted[j], was = end_residual(end, high_ends, low);
        while (from < s->n && earlier.sorted[from] < at)
            from++;
        for (size_t k = from; k < s->n && earlier.sorted[k] <= at + near; k++) {
            const struct point *start = &s->p[earlier.order[k]]; /* NOLINT(clang-analyzer-core.*): likewise */
            if (start->t >= end->t || end_residual(start, !high_ends, low) >= was)
                continue;
            if (s->n_window == room)
                return false;
            s->window[s->n_window++] = high_ends ? end_high(start, end) : end_low(start, end);
        }
    }
    return true;
}

/*
 * The ends between the pivots, sorted. False where memory is short or they are more than the pivots say. Fewer they are
 * not: each that one pivot counts and the other does not is near by, and looked at by the same residuals.
 */
static bool window_list(struct slopes *s, struct pivot low, struct pivot high)
{
    size_t room = (high.count - low.count) / (s->censored ? 1 : 2);
    size_t *orders = malloc(2 * s->n * sizeof *orders);
    s->n_window = 0;
    s->under = low;
    bool ok = orders && s->window && window_take(s, false, low.slope, high.slope, orders, room) &&
              (!s->censored || window_take(s, true, low.slope, high.slope, orders, room));
    debug_assert(!ok || s->n_window == room);
    free(orders);
    if (!ok)
        s->n_window = 0;
    else
        doubles_sort(s->window, s->n_window, s->window + WINDOW);
    return ok;
}

/* The nearest pivots around rank k of those known, or else the ends of all there is. */
static void pivots_known(const struct slopes *s, size_t k, struct pivot *low, struct pivot *high)
{
    *low = (struct pivot){-2 * s->steepest, 0};
    *high = (struct pivot){2 * s->steepest, 2 * s->n_pairs};
    for (size_t i = 0; i < s->n_known; i++) {
        if (s->known[i].count < k)
            *low = s->known[i];
        else if (high->count > s->known[i].count)
            *high = s->known[i];
    }
}

/* Those, and the two that the slopes drawn suggest, where these can be nearer. */
static void pivots_around(struct slopes *s, size_t k, double tolerance, struct pivot *low, struct pivot *high)
{
    pivots_known(s, k, low, high);
    double n = (double)s->n_drawn, all = 2 * (double)s->n_pairs, off = 2 * sqrt(n);
    if (s->n_drawn == 0 || (double)(high->count - low->count) < 3 * off / n * all)
        return;
    double at = (double)k / all * n;
    double least = s->drawn[(size_t)fmax(at - off, 0)], most = s->drawn[(size_t)fmin(at + off, n - 1)];
    pivot_at(s, least - fmax(tolerance, 1e-12 * fabs(least)));
    pivot_at(s, most);
    pivots_known(s, k, low, high);
}

/*
 * Draws the pivots together around rank k until no more than few ends are between them, or all those are one slope: by
 * turns where the counts say the rank less and more a quarter of the few should be, which is fast, and in the middle,
 * which never fails.
 */
static void pivots_close(struct slopes *s, size_t k, size_t few, double tolerance, struct pivot *low,
                         struct pivot *high)
{
    for (int turn = 0;
         high->count - low->count > few && high->slope - low->slope > fmax(tolerance, 1e-12 * fabs(high->slope));
         turn = (turn + 1) % 3) {
        double part = 0.5, aim = (double)(k - low->count) - 0.5 + (turn - 0.5) * (double)few / 2;
        if (turn < 2)
            part = fmin(fmax(aim / (double)(high->count - low->count), 1e-6), 1 - 1e-6);
        struct pivot mid = pivot_at(s, low->slope + part * (high->slope - low->slope));
        *(mid.count >= k ? high : low) = mid;
    }
}

/*
 * The pooled end of rank k (1 to 2 n_pairs): two pivots are drawn together around it, and what is between them is
 * listed.
 */
static double end_by_counting(struct slopes *s, size_t k)
{
    size_t per_end = s->censored ? 1 : 2;
    if (k > s->under.count && k <= s->under.count + per_end * s->n_window)
        return s->window[(k - s->under.count - 1) / per_end];
    struct pivot low, high;
    double tolerance = 1e-12 * s->gentle;
    pivots_around(s, k, tolerance, &low, &high);
    pivots_close(s, k, WINDOW, tolerance, &low, &high);
    if (high.count - low.count <= WINDOW && window_list(s, low, high))
        return s->window[(k - low.count - 1) / per_end];
    pivots_close(s, k, 0, tolerance, &low, &high);
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
    for (long r = 1;; r++) { /* ends at the median: S is not below 0 in half of the orders */
        double next = fmin(1, 2 * kendall_upper_tail(s->n, (long)pairs - 2 * r));
        if (next >= 1 - confidence_frac)
            return (double)r + (1 - confidence_frac - miss) / (next - miss);
        miss = next;
    }
}

/* The median of y − slope t, a censored reading counting half at either end of what it may be. */
static double median_residual(struct slopes *s, double slope)
{
    double *ends = s->room;
    for (size_t i = 0; i < s->n; i++) {
        ends[2 * i] = end_residual(&s->p[i], false, slope);
        ends[2 * i + 1] = end_residual(&s->p[i], true, slope);
    }
    doubles_sort(ends, 2 * s->n, ends + 2 * s->n);
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
    struct point *untied = points_in_order(points, n, e);
    for (size_t i = 0; untied && i < n; i++) /* as if nothing were tied but times: rounding made the other ties */
        untied[i].low = untied[i].high = (double)i;
    bool ok = untied && kendall_test(untied, n, &k, e);
    free(untied);
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
