/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Mann 1945, Kendall 1975: S and its variance. Daniels 1944 gives the variance for any scores a_ij = −a_ji of the
 * order of two readings, which covers ties in either variable and orders left unknown by a detection limit alike:
 *
 *   4 Var S = 4/(n(n−1)(n−2)) (Σ a_i² − Σ a_ij²)(Σ b_i² − Σ b_ij²) + 2/(n(n−1)) Σ a_ij² Σ b_ij²,  a_i = Σ_j a_ij
 *
 * Without ties it is n(n−1)(2n+5)/18.
 */
#include "trend/rank.h"

enum { EXACT_MAX = 10, EXACT_PAIRS = EXACT_MAX * (EXACT_MAX - 1) / 2 };

double kendall_upper_tail(size_t n, long s)
{
    /* ways[k]: orders of n readings with k inversions; S = pairs − 2k. A row for n is a running sum of n−1's. */
    double ways[EXACT_PAIRS + 1] = {1}, before[EXACT_PAIRS + 1];
    long pairs = (long)(n * (n - 1) / 2);
    assert(n >= 2 && n <= EXACT_MAX);
    for (size_t m = 2; m <= n; m++) {
        memcpy(before, ways, sizeof ways);
        for (size_t k = 0; k <= EXACT_PAIRS; k++) {
            ways[k] = 0;
            for (size_t j = 0; j < m && j <= k; j++)
                ways[k] += before[k - j];
        }
    }
    double all = 0, tail = 0;
    for (long k = 0; k <= pairs; k++) {
        all += ways[k];
        if (pairs - 2 * k >= s)
            tail += ways[k];
    }
    return tail / all;
}

/* Σ_i (Σ_j a_ij)² and Σ_ij a_ij² for one variable, from where each value stands among the ends of all others. */
struct scores {
    double sum_squares, squares;
};

/* score[i] = Σ_j a_ij. sorted: room for 2 n. */
static struct scores scores_of(const double *low, const double *high, size_t n, double *sorted, double *score)
{
    struct scores sc = {0, 0};
    double *sorted_low = sorted, *sorted_high = sorted + n;
    memcpy(sorted_low, low, n * sizeof *low);
    memcpy(sorted_high, high, n * sizeof *high);
    qsort(sorted_low, n, sizeof *low, double_compare);
    qsort(sorted_high, n, sizeof *high, double_compare);
    for (size_t i = 0; i < n; i++) {
        double under = (double)count_less(sorted_high, n, low[i]);
        double over = (double)(n - count_up_to(sorted_low, n, high[i]));
        score[i] = under - over;
        sc.sum_squares += score[i] * score[i];
        sc.squares += under + over;
    }
    return sc;
}

static double variance_of(struct scores a, struct scores b, size_t n)
{
    double m = (double)n, v = a.squares * b.squares / (2 * m * (m - 1));
    if (n > 2)
        v += (a.sum_squares - a.squares) * (b.sum_squares - b.squares) / (m * (m - 1) * (m - 2));
    return v;
}

/*
 * Whole numbers for the ends, so that "known to be less" is high < low: an exact value is one even key; the open upper
 * end of a censored one is the odd key under it. ends: room for 2 n.
 */
static void keys_of(const struct point *p, size_t n, double *ends, double *low, double *high)
{
    for (size_t i = 0; i < n; i++) {
        ends[2 * i] = p[i].low;
        ends[2 * i + 1] = p[i].high;
    }
    qsort(ends, 2 * n, sizeof *ends, double_compare);
    for (size_t i = 0; i < n; i++) {
        low[i] = 2 * (double)count_less(ends, 2 * n, p[i].low);
        high[i] = 2 * (double)count_less(ends, 2 * n, p[i].high) - (point_is_exact(&p[i]) ? 0 : 1);
    }
}

static void judge(struct kendall *k, struct scores time, struct scores value)
{
    double ordered_pairs = (double)k->n * ((double)k->n - 1), size = fabs((double)k->s);
    double known = sqrt(time.squares) * sqrt(value.squares) / 2;
    k->tau_b = known > 0 ? (double)k->s / known : 0;
    k->z = k->s == 0 || k->var_s <= 0 ? 0 : copysign((size - 1) / sqrt(k->var_s), (double)k->s);
    k->exact = k->n <= EXACT_MAX && time.squares >= ordered_pairs && value.squares >= ordered_pairs;
    k->p = k->exact ? fmin(1, 2 * kendall_upper_tail(k->n, (long)size)) : erfc(fabs(k->z) / sqrt(2));
}

/* room: 7 n doubles */
static void test_in_order(const struct point *p, size_t n, double *room, struct kendall *out)
{
    double *low = room, *high = low + n, *earlier = high + n, *later = earlier + n, *spare = later + n;
    keys_of(p, n, spare, low, high);
    for (size_t i = 0; i < n; i++)
        later[i] = high[i] + 1;
    long long falls = count_pairs_at_least(p, n, low, later, spare);
    for (size_t i = 0; i < n; i++) {
        earlier[i] = -high[i];
        later[i] = -low[i] + 1;
    }
    long long rises = count_pairs_at_least(p, n, earlier, later, spare);
    struct scores value = scores_of(low, high, n, spare, later);
    for (size_t i = 0; i < n; i++)
        earlier[i] = p[i].t;
    struct scores time = scores_of(earlier, earlier, n, spare, later);
    *out = (struct kendall){.n = n, .s = rises - falls, .var_s = variance_of(time, value, n)};
    judge(out, time, value);
}

bool points_score(const struct point *p, size_t n, double *score, struct err *e)
{
    double *room = n > SIZE_MAX / (4 * sizeof *room) ? NULL : malloc(4 * n * sizeof *room);
    if (!room)
        return err_memory(e);
    keys_of(p, n, room + 2 * n, room, room + n);
    scores_of(room, room + n, n, room + 2 * n, score);
    free(room);
    return true;
}

bool kendall_test(const struct point *points, size_t n, struct kendall *out, struct err *e)
{
    struct point *p = points_in_order(points, n, e);
    if (!p)
        return false;
    double *room = n > SIZE_MAX / (7 * sizeof *room) ? NULL : malloc(7 * n * sizeof *room);
    bool ok = room || err_memory(e);
    if (ok)
        test_in_order(p, n, room, out);
    free(room);
    free(p);
    return ok;
}
