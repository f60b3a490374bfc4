/* SPDX-License-Identifier: GPL-3.0-or-later */
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

size_t count_less(const double *sorted, size_t n, double v)
{
    size_t low = 0, high = n;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (sorted[mid] < v)
            low = mid + 1;
        else
            high = mid;
    }
    return low;
}

size_t count_up_to(const double *sorted, size_t n, double v)
{
    size_t low = 0, high = n;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (sorted[mid] <= v)
            low = mid + 1;
        else
            high = mid;
    }
    return low;
}

double median_of_sorted(const double *sorted, size_t n)
{
    return n % 2 ? sorted[n / 2] : sorted[n / 2 - 1] / 2 + sorted[n / 2] / 2;
}

/* Readings of which the residuals are being sorted, each half of a span of time before the whole. */
struct halves {
    const struct point *in_order;
    double *earlier, *later, *spare; /* earlier and later may be the same; the spare is as long */
};

/* Without a branch that chance decides, as in the count below: a wrong guess costs more than the step. */
static void merge(double *values, size_t n_left, size_t n, double *spare)
{
    size_t left = 0, right = n_left, i = 0;
    memcpy(spare, values, n * sizeof *spare);
    while (left < n_left && right < n) {
        double a = spare[left], b = spare[right];
        values[i++] = b < a ? b : a;
        right += b < a;
        left += !(b < a);
    }
    memcpy(values + i, spare + left, (n_left - left) * sizeof *spare); /* all of what is right of it is in its place */
}

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

/* Counts a span's pairs and leaves its residuals sorted: those within each half, and those across, of which all that counts is
   how many are in the first half and how many in the second (Knuth 1998, section 5.2.4, for inversions). */
static long long count_span(const struct halves *h, size_t start, size_t end)
{
    if (end - start < 2)
        return 0;
    size_t mid = half_of(h->in_order, start, end);
    if (mid == end) {
        qsort(h->earlier + start, end - start, sizeof *h->earlier, double_compare);
        if (h->later != h->earlier)
            qsort(h->later + start, end - start, sizeof *h->later, double_compare);
        return 0;
    }
    long long pairs = count_span(h, start, mid) + count_span(h, mid, end);
    for (size_t less = start, j = mid; less < mid && j < end;) {
        bool under = h->earlier[less] < h->later[j];
        pairs += under ? 0 : (long long)(mid - less);
        less += under;
        j += !under;
    }
    merge(h->earlier + start, mid - start, end - start, h->spare);
    if (h->later != h->earlier)
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
    return count_span(&h, 0, n);
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
