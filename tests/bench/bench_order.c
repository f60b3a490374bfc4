/*
 * How far the order's plans are from the bound, and how long they take: plain random rounds of 8 to 500 tanks, 1 to
 * 3 feeders. Prints one row per size; asserts nothing.
 */
#include <time.h>

#include "../unit/order_random.h"

static double seconds_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

enum { ROUNDS = 3 };

static bool measure(struct random_round *r, size_t n_tanks, size_t n_feeders)
{
    double gap_sum = 0, gap_most = 0, slowest = 0;
    int n_proven = 0;
    for (int number = 0; number < ROUNDS; number++) {
        struct order_plan plan;
        struct err e = {0};
        random_plain(r, number, n_tanks, n_feeders);
        double begin = seconds_now();
        if (!order_make(&r->p, &plan, &e)) {
            fprintf(stderr, "%zu tanks, round %d: %s\n", n_tanks, number, e.text);
            return false;
        }
        double took = seconds_now() - begin;
        double gap = 100.0 * (plan.finish_min - plan.lower_bound_min) / (plan.lower_bound_min - plan.start_min);
        gap_sum += gap;
        gap_most = gap > gap_most ? gap : gap_most;
        slowest = took > slowest ? took : slowest;
        n_proven += plan.proven;
        order_plan_free(&plan);
    }
    printf("%6zu %8zu %9.1f %9.1f %6d/%d %9.2f\n", n_tanks, n_feeders, gap_sum / ROUNDS, gap_most, n_proven, ROUNDS,
           slowest);
    return true;
}

int main(void)
{
    static struct random_round r;
    static const size_t sizes[] = {8, 10, 12, 20, 50, 100, 200, 500};
    printf("%6s %8s %9s %9s %8s %9s\n", "tanks", "feeders", "gap %", "worst %", "proven", "seconds");
    for (size_t i = 0; i < COUNT_OF(sizes); i++)
        for (size_t k = 1; k <= 3; k++)
            if (!measure(&r, sizes[i], k))
                return 1;
    return 0;
}
