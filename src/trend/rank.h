/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Inside the trend floor: points in time order, counts of pairs, medians. */
#ifndef TREND_RANK_H
#define TREND_RANK_H

#include "neap/trend.h"

/* Checked copy of the points, sorted by time, then low, then high. Caller frees with free; NULL on failure. */
struct point *points_in_order(const struct point *points, size_t n, struct err *e);

static inline bool point_is_exact(const struct point *p)
{
    return p->low == p->high;
}

int double_compare(const void *a, const void *b); /* for qsort and bsearch; numbers only */

/* Many times as fast as qsort. spare: room for n. */
void doubles_sort(double *values, size_t n, double *spare);

/* How many of the n sorted values are < v, and ≤ v. */
size_t count_less(const double *sorted, size_t n, double v);
size_t count_up_to(const double *sorted, size_t n, double v);

double median_of_sorted(const double *sorted, size_t n);

/*
 * Pairs i, j with t[i] < t[j] (t ascending, equal times are no pair) and earlier[i] ≥ later[j]; the two may be one
 * array. scratch: room for 3 n.
 */
long long count_pairs_at_least(const struct point *in_order, size_t n, const double *earlier, const double *later,
                               double *scratch);

/* For each point: readings known to be less − those known to be greater (2 × midrank − (n + 1) without censoring). */
bool points_score(const struct point *p, size_t n, double *score, struct err *e);

/* The median of points, a censored one counting half at either end; ends: room for 2 n. */
double median_of_points(const struct point *p, size_t n, double *ends);

/* How far the line's value is outside what the point allows; with the sign of reading − line. */
double point_residual(const struct point *p, double value);

/*
 * Replaces a slope's limits by those for readings that a display rounded to multiples of step: each reading may be off
 * by a quarter of a step, the mean size of such an error, and equal readings need not have been equal. For readings
 * that slope_fit took.
 */
bool slope_limits_rounded(const struct point *points, size_t n, double confidence_frac, double step, struct slope *io,
                          struct err *e);

#endif
