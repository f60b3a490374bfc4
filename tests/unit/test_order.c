/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every rule of the order's plans, on random rounds, proved by order_check. */
#include "tests.h"

#include "order_random.h"

enum { ROUNDS = TRIALS(1000) };

static void prove(const struct random_round *r, int number)
{
    struct order_plan plan;
    struct err e = {0};
    enum order_rule broken;
    if (!order_make(&r->p, &plan, &e))
        fail_msg("round %d: %s", number, e.text);
    if (!order_check(&r->p, &plan, &broken, &e))
        fail_msg("round %d: rule %d: %s", number, (int)broken, e.text);
    order_plan_free(&plan);
}

/* [order 1] */
static void every_random_round_gets_a_plan_that_keeps_every_rule(void **state)
{
    (void)state;
    static struct random_round r;
    for (int number = 0; number < ROUNDS; number++) {
        random_any(&r, number, 10);
        prove(&r, number);
    }
}

/* [order 1] */
static void every_round_with_shared_water_keeps_every_rule(void **state)
{
    (void)state;
    static struct random_round r;
    for (int number = 0; number < ROUNDS; number++) {
        random_shared(&r, number, 10);
        prove(&r, number);
    }
}

/* The feeds of a lone tank whose flow may be off for 20 min, 5 of them a rest: at most 15 min of corals in a pass. */
static size_t passes_of_lots(const struct order_lot *lots, size_t n_lots, int feed_s, struct order_step passes[8])
{
    const struct order_tank tank = {.feed_s = feed_s,
                                    .settle_s = 30,
                                    .lots = lots,
                                    .n_lots = n_lots,
                                    .rest_min = 5,
                                    .off_limit_min = 20,
                                    .pump = -1,
                                    .fixed_rank = -1};
    static const struct order_feeder feeder = {0};
    struct order_problem p;
    struct order_plan plan;
    struct err e = {0};
    size_t n = 0;
    order_defaults(&p);
    p.tanks = &tank;
    p.n_tanks = 1;
    p.feeders = &feeder;
    p.n_feeders = 1;
    if (!order_make(&p, &plan, &e) || !order_check(&p, &plan, NULL, &e))
        fail_msg("%s", e.text);
    for (size_t i = 0; i < plan.n_steps; i++)
        if (plan.steps[i].action == ORDER_FEED) {
            assert_true(n < 8);
            passes[n++] = plan.steps[i];
        }
    order_plan_free(&plan);
    return n;
}

/*
 * Five corals of 90 s and fifteen of 60 s, with 30 s to settle in each pass. In 11 min a pass has time for 630 s: eight
 * corals, and two more passes would be needed. In 12 min it has 690 s: nine corals, and the eleven left take 660.
 */
static void passes_take_whole_corals_as_evenly_as_they_can(void **state)
{
    (void)state;
    static const struct order_lot lots[] = {{90, 5}, {60, 15}}, free_ones[] = {{90, 5}, {0, 3}, {60, 15}};
    struct order_step passes[8];
    assert_int_equal(passes_of_lots(lots, 2, 5 * 90 + 15 * 60 + 30, passes), 2);
    assert_int_equal(passes[0].fed, 9);
    assert_int_equal(passes[0].feed_s, 720);
    assert_int_equal(passes[1].fed, 11);
    assert_int_equal(passes[1].feed_s, 690);
    assert_int_equal(passes_of_lots(free_ones, 3, 5 * 90 + 15 * 60 + 30, passes), 2);
    assert_int_equal(passes[0].fed, 12); /* those that take no time go with the first */
}

/* A coral of 1000 s fits into no pass: then seconds are cut, and no pass names corals. */
static void corals_too_long_for_any_pass_are_cut_by_seconds(void **state)
{
    (void)state;
    static const struct order_lot lots[] = {{1000, 2}}, after_one[] = {{60, 1}, {1000, 2}};
    struct order_step passes[8];
    size_t n = passes_of_lots(lots, 1, 2030, passes);
    int fed_s = 0;
    for (size_t i = 0; i < n; i++) {
        assert_int_equal(passes[i].fed, 0);
        fed_s += passes[i].feed_s;
    }
    assert_int_equal(fed_s, 2030);
    n = passes_of_lots(after_one, 2, 2090, passes);
    assert_true(n > 1 && passes[0].fed == 0);
}

SUITE(order)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_random_round_gets_a_plan_that_keeps_every_rule),
        cmocka_unit_test(every_round_with_shared_water_keeps_every_rule),
        cmocka_unit_test(passes_take_whole_corals_as_evenly_as_they_can),
        cmocka_unit_test(corals_too_long_for_any_pass_are_cut_by_seconds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
