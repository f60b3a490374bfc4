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

/* score[i] = Σ_j a_ij. low and high may be the same. sorted: room for 3 n. */
static struct scores scores_of(const double *low, const double *high, size_t n, double *sorted, double *score)
{
    struct scores sc = {0, 0};
    double *sorted_low = sorted, *sorted_high = low == high ? sorted : sorted + n, *spare = sorted + 2 * n;
    memcpy(sorted_low, low, n * sizeof *low);
    doubles_sort(sorted_low, n, spare);
    if (low != high) {
        memcpy(sorted_high, high, n * sizeof *high);
        doubles_sort(sorted_high, n, spare);
    }
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
 * end of a censored one is the odd key under it. ends: room for 4 n. Says whether all are exact, and low and high so
 * the same.
 */
static bool keys_of(const struct point *p, size_t n, double *ends, double *low, double *high)
{
    for (size_t i = 0; i < n; i++) {
        ends[2 * i] = p[i].low;
        ends[2 * i + 1] = p[i].high;
    }
    doubles_sort(ends, 2 * n, ends + 2 * n);
    bool all_exact = true;
    for (size_t i = 0; i < n; i++) {
        bool exact = point_is_exact(&p[i]);
        low[i] = 2 * (double)count_less(ends, 2 * n, p[i].low);
        high[i] = exact ? low[i] : 2 * (double)count_less(ends, 2 * n, p[i].high) - 1;
        all_exact = all_exact && exact;
    }
    return all_exact;
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

/*
 * S of readings that are all exact. Equal ones are counted both ways, so that they need not be told apart. room: 4 n.
 */
static long long s_of_exact(const struct point *p, size_t n, const double *value, double *room)
{
    double *fallen = room, *spare = room + n;
    for (size_t i = 0; i < n; i++)
        fallen[i] = -value[i];
    return count_pairs_at_least(p, n, fallen, fallen, spare) - count_pairs_at_least(p, n, value, value, spare);
}

/* The same of readings some of which are only known to lie somewhere. room: 5 n. */
static long long s_of_censored(const struct point *p, size_t n, const double *low, const double *high, double *room)
{
    double *earlier = room, *later = room + n, *spare = later + n;
    for (size_t i = 0; i < n; i++)
        later[i] = high[i] + 1;
    long long falls = count_pairs_at_least(p, n, low, later, spare);
    for (size_t i = 0; i < n; i++) {
        earlier[i] = -high[i];
        later[i] = -low[i] + 1;
    }
    return count_pairs_at_least(p, n, earlier, later, spare) - falls;
}

/* room: 7 n doubles */
static void test_in_order(const struct point *p, size_t n, double *room, struct kendall *out)
{
    double *low = room, *high = low + n, *spare = high + n;
    bool exact = keys_of(p, n, spare, low, high);
    *out = (struct kendall){.n = n};
    out->s = exact ? s_of_exact(p, n, low, spare) : s_of_censored(p, n, low, high, spare);
    double *score = spare + 3 * n;
    struct scores value = scores_of(low, exact ? low : high, n, spare, score);
    for (size_t i = 0; i < n; i++)
        low[i] = p[i].t;
    struct scores time = scores_of(low, low, n, spare, score);
    out->var_s = variance_of(time, value, n);
    judge(out, time, value);
}

bool points_score(const struct point *p, size_t n, double *score, struct err *e)
{
    double *room = n > SIZE_MAX / (6 * sizeof *room) ? NULL : malloc(6 * n * sizeof *room);
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
