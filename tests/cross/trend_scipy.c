/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Reads series from stdin, one a line: "n rank t y t y …", and prints for each "S Var p exact tau_b slope intercept
 * intercept_of_medians slope_at_rank step_K step_first_after". For trend_scipy.py.
 */
#include "neap/trend.h"

enum { MAX = 500 };

static bool series_answer(size_t n, double rank, const struct point *p)
{
    struct kendall k;
    struct slope s;
    struct step step;
    double at;
    struct err e;
    if (!kendall_test(p, n, &k, &e) || !slope_fit(p, n, 0.95, &s, &e) || !slope_at_rank(p, n, rank, &at, &e) ||
        !step_find(p, n, 1, INFINITY, &step, &e)) {
        fprintf(stderr, "%s\n", e.text);
        return false;
    }
    printf("%lld %.17g %.17g %d %.17g %.17g %.17g %.17g %.17g %.17g %zu\n", k.s, k.var_s, k.p, k.exact, k.tau_b,
           s.slope, s.intercept, s.intercept_medians, at, step.k, step.first_after);
    return true;
}

int main(void)
{
    static struct point p[MAX];
    size_t n;
    double rank;
    while (scanf("%zu %lf", &n, &rank) == 2) {
        if (n > MAX)
            return 1;
        for (size_t i = 0; i < n; i++) {
            if (scanf("%lf %lf", &p[i].t, &p[i].low) != 2)
                return 1;
            p[i].high = p[i].low;
        }
        if (!series_answer(n, rank, p))
            return 1;
    }
    return 0;
}
