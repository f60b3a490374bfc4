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

/* A Fenwick tree over the ranks of earlier[] holds those already passed in time (Fenwick 1994). */
long long count_pairs_at_least(const struct point *in_order, size_t n, const double *earlier, const double *later,
                               struct pair_scratch *scratch)
{
    double *sorted = scratch->sorted;
    size_t *tree = scratch->tree;
    memcpy(sorted, earlier, n * sizeof *sorted);
    qsort(sorted, n, sizeof *sorted, double_compare);
    memset(tree, 0, (n + 1) * sizeof *tree);
    long long pairs = 0;
    for (size_t start = 0, end; start < n; start = end) {
        for (end = start; end < n && in_order[end].t == in_order[start].t; end++) {
            size_t less = 0;
            for (size_t k = count_less(sorted, n, later[end]); k > 0; k -= k & -k)
                less += tree[k];
            pairs += (long long)(start - less);
        }
        for (size_t i = start; i < end; i++)
            for (size_t k = count_up_to(sorted, n, earlier[i]); k <= n; k += k & -k)
                tree[k]++;
    }
    return pairs;
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
