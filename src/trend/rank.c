/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sorted numbers and points: counts, medians, pairs. */
#include "trend/rank.h"

int double_compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static int point_compare(const void *a, const void *b)
{
    const struct point *p = a, *q = b;
    if (p->t != q->t)
        return p->t < q->t ? -1 : 1;
    if (p->low != q->low)
        return p->low < q->low ? -1 : 1;
    return (p->high > q->high) - (p->high < q->high);
}

struct point *points_in_order(const struct point *points, size_t n, struct err *e)
{
    if (n < 2) {
        err_set(e, ERR_INPUT, NULL, "there are %zu readings; expected 2 or more", n);
        return NULL;
    }
    for (size_t i = 0; i < n; i++)
        if (!isfinite(points[i].t) || !isfinite(points[i].low) || !isfinite(points[i].high) ||
            points[i].low > points[i].high) {
            err_set(e, ERR_INPUT, NULL, "reading %zu is not a time with a value; expected finite numbers, low ≤ high",
                    i + 1);
            return NULL;
        }
    struct point *sorted = n > SIZE_MAX / sizeof *sorted ? NULL : malloc(n * sizeof *sorted);
    if (!sorted) {
        err_memory(e);
        return NULL;
    }
    memcpy(sorted, points, n * sizeof *sorted);
    qsort(sorted, n, sizeof *sorted, point_compare);
    return sorted;
}

/*
 * n where it is so, else 0, and no branch: what chance decides is guessed wrong every other time, which costs more than
 * a step.
 */
static inline size_t if_so(bool so, size_t n)
{
    return n & -(size_t)so;
}

size_t count_less(const double *sorted, size_t n, double v)
{
    const double *at = sorted;
    while (n > 1) {
        size_t half = n / 2;
        at += if_so(at[half - 1] < v, half);
        n -= half;
    }
    return (size_t)(at - sorted) + (n == 1 && *at < v);
}

size_t count_up_to(const double *sorted, size_t n, double v)
{
    const double *at = sorted;
    while (n > 1) {
        size_t half = n / 2;
        at += if_so(at[half - 1] <= v, half);
        n -= half;
    }
    return (size_t)(at - sorted) + (n == 1 && *at <= v);
}

double median_of_sorted(const double *sorted, size_t n)
{
    return n % 2 ? sorted[n / 2] : sorted[n / 2 - 1] / 2 + sorted[n / 2] / 2;
}

/* ---- sorting, and counting on the way ---------------------------------------------------------------------------- */

enum { FEW = 8 }; /* that many are sorted by insertion, and their pairs looked at one by one */

static void sort_few(double *values, size_t n)
{
    for (size_t i = 1; i < n; i++) {
        double v = values[i];
        size_t at = i;
        for (; at > 0 && v < values[at - 1]; at--)
            values[at] = values[at - 1];
        values[at] = v;
    }
}

/* Two sorted runs, and how many were taken from the front of each. */
struct two_runs {
    const double *left, *right;
    size_t n_left, l, r;
};

/* The lesser one; of equals the right one's, which makes a pair with all that is left of the left run. */
static inline double take_less(struct two_runs *t, size_t *pairs)
{
    double a = t->left[t->l], b = t->right[t->r];
    bool from_right = b <= a;
    *pairs += if_so(from_right, t->n_left - t->l);
    t->r += from_right;
    t->l += !from_right;
    return a < b ? a : b;
}

/*
 * Merges the sorted values[0 … n_left) and values[n_left … n), and says how many pairs of one of the left and one of
 * the right are with the left one at least as great (Knuth 1998, section 5.2.4, for inversions). From both ends at
 * once, since each step waits for the one before it.
 */
static size_t merge(double *values, size_t n_left, size_t n, double *spare)
{
    size_t n_right = n - n_left, both = n_left < n_right ? n_left : n_right, pairs = 0, l_end = n_left, r_end = n_right;
    struct two_runs t = {spare, spare + n_left, n_left, 0, 0};
    if (values[n_left - 1] < values[n_left])
        return 0;
    memcpy(spare, values, n * sizeof *spare);
    for (size_t i = 0; i < both; i++) {
        values[i] = take_less(&t, &pairs);
        double a = t.left[l_end - 1], b = t.right[r_end - 1];
        bool from_left = a >= b;
        pairs += if_so(!from_left, n_left - l_end);
        l_end -= from_left;
        r_end -= !from_left;
        values[n - 1 - i] = a > b ? a : b;
    }
    size_t i = both;
    while (t.l < l_end && t.r < r_end)
        values[i++] = take_less(&t, &pairs);
    pairs += (r_end - t.r) * (n_left - t.l);
    memcpy(values + i, t.l < l_end ? t.left + t.l : t.right + t.r, (l_end - t.l + r_end - t.r) * sizeof *values);
    return pairs;
}

void doubles_sort(double *values, size_t n, double *spare)
{
    if (n <= FEW) {
        sort_few(values, n);
        return;
    }
    doubles_sort(values, n / 2, spare);
    doubles_sort(values + n / 2, n - n / 2, spare);
    merge(values, n / 2, n, spare);
}

/* Readings of which the residuals are being sorted, each half of a span of time before the whole. */
struct halves {
    const struct point *in_order;
    double *earlier, *later, *spare; /* earlier and later may be the same; the spare is as long */
};

/* Where the span's second half begins: never between readings of one moment; end where all are. */
static size_t half_of(const struct point *p, size_t start, size_t end)
{
    size_t mid = start + (end - start) / 2, up = mid;
    while (up < end && p[up].t == p[up - 1].t)
        up++;
    while (mid > start && p[mid].t == p[mid - 1].t)
        mid--;
    return mid > start ? mid : up;
}

static void sort_span(const struct halves *h, size_t start, size_t end)
{
    doubles_sort(h->earlier + start, end - start, h->spare);
    if (h->later != h->earlier)
        doubles_sort(h->later + start, end - start, h->spare);
}

static size_t count_few(const struct halves *h, size_t start, size_t end)
{
    size_t pairs = 0;
    for (size_t i = start; i < end; i++)
        for (size_t j = i + 1; j < end; j++)
            pairs += (h->earlier[i] >= h->later[j]) & (h->in_order[i].t < h->in_order[j].t);
    return pairs;
}

/* Pairs of one of the span's first half and one of its second, each half sorted. */
static size_t count_across(const struct halves *h, size_t start, size_t mid, size_t end)
{
    size_t pairs = 0;
    for (size_t less = start, j = mid; less < mid && j < end;) {
        bool under = h->earlier[less] < h->later[j];
        pairs += if_so(!under, mid - less);
        less += under;
        j += !under;
    }
    return pairs;
}

/* Counts a span's pairs and leaves its residuals sorted: those within each half, and those across. */
static size_t count_span(const struct halves *h, size_t start, size_t end)
{
    size_t mid = end - start <= FEW ? end : half_of(h->in_order, start, end);
    if (mid == end) {
        size_t pairs = end - start <= FEW ? count_few(h, start, end) : 0; /* more are of one moment */
        sort_span(h, start, end);
        return pairs;
    }
    size_t pairs = count_span(h, start, mid) + count_span(h, mid, end);
    if (h->later == h->earlier)
        return pairs + merge(h->earlier + start, mid - start, end - start, h->spare);
    pairs += count_across(h, start, mid, end);
    merge(h->earlier + start, mid - start, end - start, h->spare);
    merge(h->later + start, mid - start, end - start, h->spare);
    return pairs;
}

long long count_pairs_at_least(const struct point *in_order, size_t n, const double *earlier, const double *later,
                               double *scratch)
{
    const struct halves h = {in_order, scratch, earlier == later ? scratch : scratch + n, scratch + 2 * n};
    memcpy(h.earlier, earlier, n * sizeof *earlier);
    if (earlier != later)
        memcpy(h.later, later, n * sizeof *later);
    return (long long)count_span(&h, 0, n);
}

double median_of_points(const struct point *p, size_t n, double *ends)
{
    for (size_t i = 0; i < n; i++) {
        ends[2 * i] = p[i].low;
        ends[2 * i + 1] = p[i].high;
    }
    qsort(ends, 2 * n, sizeof *ends, double_compare);
    return median_of_sorted(ends, 2 * n);
}

double point_residual(const struct point *p, double value)
{
    return value < p->low ? p->low - value : value > p->high ? p->high - value : 0;
}
