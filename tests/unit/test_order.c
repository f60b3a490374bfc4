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

SUITE(order)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_random_round_gets_a_plan_that_keeps_every_rule),
        cmocka_unit_test(every_round_with_shared_water_keeps_every_rule),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
