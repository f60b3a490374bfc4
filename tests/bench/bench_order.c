/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How far the order's plans are from the bound, and what they take: plain random rounds of 8 to 500 tanks, 1 to 3
 * feeders, as the planner asks for them, or with so many times the exact search. Prints the tables of docs/order.md;
 * asserts nothing.
 *
 *     bench_order [TIMES [TANKS…]]
 */
#include <time.h>

#include "neap/working.h"

#include "../unit/order_random.h"

enum { ROUNDS = 3, FEEDERS = 3 };

static double seconds_spent(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

/* Prints a cell; the slowest round's processor time into *slowest. */
static bool measure(struct random_round *r, long times, size_t n_tanks, size_t n_feeders, double *slowest)
{
    const struct settings house = {0};
    const struct plan_request request = {0};
    struct order_problem usual; /* as the planner asks; the round has its own minutes */
    order_settings(&house, &request, &usual);
    double gap_sum = 0, gap_most = 0;
    int n_proven = 0;
    for (int number = 0; number < ROUNDS; number++) {
        struct order_plan plan;
        struct err e = {0};
        random_plain(r, number, n_tanks, n_feeders);
        r->p.search_steps = usual.search_steps;
        r->p.exact_work = usual.exact_work * times;
        double begin = seconds_spent();
        if (!order_make(&r->p, &plan, &e)) {
            fprintf(stderr, "%zu tanks, round %d: %s\n", n_tanks, number, e.text);
            return false;
        }
        *slowest = fmax(*slowest, seconds_spent() - begin);
        double gap = 100.0 * (plan.finish_min - plan.lower_bound_min) / (plan.lower_bound_min - plan.start_min);
        gap_sum += gap;
        gap_most = fmax(gap_most, gap);
        n_proven += plan.proven;
        order_plan_free(&plan);
    }
    printf(" %.1f, %.1f (%d of %d) |", gap_sum / ROUNDS, gap_most, n_proven, ROUNDS);
    return true;
}

static bool row(struct random_round *r, long times, size_t n_tanks)
{
    double slowest = 0;
    printf("| %zu |", n_tanks);
    for (size_t k = 1; k <= FEEDERS; k++)
        if (!measure(r, times, n_tanks, k, &slowest))
            return false;
    printf(" %.1f |\n", slowest);
    fflush(stdout);
    return true;
}

int main(int argc, char **argv)
{
    static struct random_round r;
    static const size_t sizes[] = {8, 10, 12, 20, 50, 100, 200, 500};
    const long times = argc > 1 ? strtol(argv[1], NULL, 10) : 1;
    bool ok = times >= 1;
    printf("| tanks | 1 feeder: mean, worst %%, proven | 2 feeders | 3 feeders | seconds, slowest "
           "|\n|---|---|---|---|---|\n");
    for (int i = 2; ok && i < argc; i++) {
        long n = strtol(argv[i], NULL, 10);
        ok = n >= 1 && n <= ORDER_TANKS_MAX && row(&r, times, (size_t)n);
    }
    for (size_t i = 0; ok && argc <= 2 && i < COUNT_OF(sizes); i++)
        ok = row(&r, times, sizes[i]);
    return ok ? 0 : 1;
}
