/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Water that several tanks share: one broadcast for the tanks of a stop. A plan made by hand, spoilt plans, and
 * planning.
 */
#include "tests.h"

#include "order_bench.h"
#include "order_random.h"

/*
 * Tanks 0 and 1 on one pump, tank 2 with fish and no corals due; all of one water, which is broadcast to at 30 m. A
 * metre a second less than none is walked free, so 30 m take a minute. The steps were written down with pencil and
 * paper.
 */
static const struct order_tank good_tanks[] = {
    {.position_m = 0,
     .broadcast_min = 2,
     .feed_s = 240,
     .rest_min = 5,
     .off_limit_min = 20,
     .pump = 4,
     .share = 1,
     .fixed_rank = -1},
    {.position_m = 0,
     .broadcast_min = 3,
     .feed_s = 180,
     .rest_min = 5,
     .off_limit_min = 20,
     .pump = 4,
     .share = 1,
     .fixed_rank = -1},
    {.position_m = 60,
     .broadcast_min = 1,
     .fish_min = 2,
     .rest_min = 5,
     .off_limit_min = 20,
     .pump = -1,
     .share = 1,
     .fixed_rank = -1},
};

static const struct order_step good_steps[] = {
    {0, ORDER_BROADCAST, 0, 480, 483, 0, 0, 0}, {1, ORDER_BROADCAST, 0, 480, 483, 0, 0, 0},
    {2, ORDER_BROADCAST, 0, 480, 483, 0, 0, 0}, {2, ORDER_FISH, 0, 484, 486, 0, 0, 0},
    {0, ORDER_FLOW_OFF, 0, 497, 498, 1, 0, 0},  {0, ORDER_FEED, 0, 498, 502, 1, 240, 0},
    {1, ORDER_FEED, 0, 502, 505, 1, 180, 0},    {0, ORDER_REST, -1, 502, 510, 1, 0, 0},
    {1, ORDER_REST, -1, 505, 510, 1, 0, 0},     {0, ORDER_FLOW_ON, 0, 510, 511, 1, 0, 0},
};

enum { N_STEPS = COUNT_OF(good_steps) };

static void lay_out(struct bench *b)
{
    bench_lay_out(b, good_tanks, good_steps, N_STEPS);
    b->share.position_m = 30;
    b->p.shares = &b->share;
    b->p.n_shares = 1;
    /* Feeder 0 walks 30 to 60 to 0 m, a minute and two, and waits 486-497 but for those two, and 505-510. */
    b->plan.finish_min = 511;
    b->plan.walked_m = 90;
    b->plan.waited_min = 14;
}

static void a_plan_made_by_hand_keeps_every_rule(void **state)
{
    (void)state;
    struct bench b;
    lay_out(&b);
    assert_int_equal(rule_broken(&b), ORDER_KEPT);
}

/* Tank 2 with tank 0, then tank 1 by itself: every other rule is kept. */
static void two_broadcasts_for_one_stop(struct bench *b)
{
    struct order_step own = b->steps[1];
    b->steps[1] = b->steps[2];
    b->steps[2] = own;
    shift(b, 2, 483, 486);
    shift(b, 3, 487, 489);
    b->plan.waited_min = 11;
}
static void broadcast_by_two(struct bench *b)
{
    struct order_step own = b->steps[1];
    b->steps[1] = b->steps[2];
    b->steps[2] = own;
    b->steps[2].feeder = 1;
}
static void as_long_as_one_tanks_own(struct bench *b)
{
    for (size_t i = 0; i < 3; i++)
        shift(b, i, 480, 482);
}
static void a_tank_forgotten(struct bench *b)
{
    memmove(&b->steps[2], &b->steps[3], (N_STEPS - 3) * sizeof b->steps[0]);
    b->plan.n_steps--;
}
static void given_far_away(struct bench *b)
{
    b->share.position_m = 0;
}
static void at_the_tank(struct bench *b)
{
    b->share.position_m = 31;
}
static void second_tank_after_its_window(struct bench *b)
{
    b->p.lag_max = 18;
}
static void first_tank_before_its_window(struct bench *b)
{
    b->p.lag_min = 16;
}
static void another_water(struct bench *b)
{
    for (size_t i = 0; i < 3; i++)
        b->tanks[i].share = i == 1 ? 0 : 1;
    b->tanks[0].broadcast_min = 3;
    b->tanks[1].position_m = 0;
}

/* [order 7] */
static void each_rule_broken_alone_is_named(void **state)
{
    (void)state;
    static const struct spoilt rows[] = {
        {"two broadcasts for one stop", two_broadcasts_for_one_stop, ORDER_RULE_WORK},
        {"half of it by another feeder", broadcast_by_two, ORDER_RULE_WORK},
        {"as long as the shortest tank's", as_long_as_one_tanks_own, ORDER_RULE_WORK},
        {"a tank forgotten", a_tank_forgotten, ORDER_RULE_WORK},
        {"given too far away to walk on", given_far_away, ORDER_RULE_HANDS},
        {"another way walked", at_the_tank, ORDER_RULE_TOTALS},
        {"the second tank after its window", second_tank_after_its_window, ORDER_RULE_LAG},
        {"the first tank before its window", first_tank_before_its_window, ORDER_RULE_LAG},
        {"one step for two waters", another_water, ORDER_RULE_HANDS},
    };
    each_rule_is_named(rows, COUNT_OF(rows), lay_out);
}

/*
 * Tank 1 has no corals due, but stands still with tank 2 of another water while tank 0's broadcast is given for both.
 */
static void a_tank_that_rides_with_its_flow_off_is_named(void **state)
{
    (void)state;
    static const struct order_tank tanks[] = {
        {.broadcast_min = 1,
         .feed_s = 120,
         .rest_min = 5,
         .off_limit_min = 10,
         .pump = -1,
         .share = 1,
         .fixed_rank = -1},
        {.broadcast_min = 1, .rest_min = 5, .off_limit_min = 10, .pump = 7, .share = 1, .fixed_rank = -1},
        {.feed_s = 300, .rest_min = 5, .off_limit_min = 10, .pump = 7, .fixed_rank = -1},
    };
    static const struct order_feeder feeder = {0};
    static const struct order_share share = {0};
    struct order_step steps[] = {
        {1, ORDER_FLOW_OFF, 0, 0, 0, 1, 0, 0},   {2, ORDER_FEED, 0, 0, 5, 1, 300, 0},
        {2, ORDER_REST, -1, 5, 10, 1, 0, 0},     {0, ORDER_BROADCAST, 0, 6, 7, 0, 0, 0},
        {1, ORDER_BROADCAST, 0, 6, 7, 0, 0, 0},  {1, ORDER_FLOW_ON, 0, 10, 10, 1, 0, 0},
        {0, ORDER_FLOW_OFF, 0, 22, 22, 1, 0, 0}, {0, ORDER_FEED, 0, 22, 24, 1, 120, 0},
        {0, ORDER_REST, -1, 24, 29, 1, 0, 0},    {0, ORDER_FLOW_ON, 0, 29, 29, 1, 0, 0},
    };
    struct order_problem p;
    order_defaults(&p);
    p.tanks = tanks;
    p.n_tanks = 3;
    p.feeders = &feeder;
    p.n_feeders = 1;
    p.shares = &share;
    p.n_shares = 1;
    struct order_plan plan = {
        .steps = steps, .n_steps = COUNT_OF(steps), .n_tanks = 3, .finish_min = 29, .waited_min = 21};
    enum order_rule broken;
    struct err e;
    assert_false(order_check(&p, &plan, &broken, &e));
    assert_int_equal(broken, ORDER_RULE_FLOW);
    steps[3].start_min = steps[4].start_min = 10; /* as soon as its flow is on again, all is well */
    steps[3].end_min = steps[4].end_min = 11;
    struct order_step on = steps[5];
    steps[5] = steps[4];
    steps[4] = steps[3];
    steps[3] = on;
    for (size_t i = 6; i < COUNT_OF(steps); i++) {
        steps[i].start_min += 4;
        steps[i].end_min += 4;
    }
    plan.finish_min = 33;
    plan.waited_min = 25;
    if (!order_check(&p, &plan, &broken, &e))
        fail_msg("%s", e.text);
}

/* ---- planning ---------------------------------------------------------------------------------------------- */

static struct order_plan made(const struct order_problem *p)
{
    struct order_plan plan;
    struct err e = {0};
    if (!order_make(p, &plan, &e) || !order_check(p, &plan, NULL, &e))
        fail_msg("%s", e.text);
    return plan;
}

/* Pieces of work, and what they are for: steps of one feeder at one minute are one broadcast. */
static size_t count_broadcasts(const struct order_plan *plan)
{
    size_t n = 0;
    for (size_t i = 0; i < plan->n_steps; i++) {
        const struct order_step *s = &plan->steps[i];
        n += s->action == ORDER_BROADCAST && (i == 0 || s[-1].action != ORDER_BROADCAST || s[-1].feeder != s->feeder ||
                                              s[-1].start_min != s->start_min);
    }
    return n;
}

/*
 * So many tanks on one pump, a minute's broadcast, corals of so many minutes each, 8 min of rest; one feeder, no ways.
 */
static void set_pump(struct order_problem *p, struct order_tank *tanks, size_t n, int feed_min)
{
    static const struct order_feeder feeder = {0};
    static const struct order_share share = {0};
    for (size_t i = 0; i < n; i++)
        tanks[i] = (struct order_tank){.broadcast_min = 1,
                                       .feed_s = 60 * feed_min,
                                       .rest_min = 8,
                                       .off_limit_min = 30,
                                       .pump = 0,
                                       .share = 1,
                                       .fixed_rank = -1};
    order_defaults(p);
    p->tanks = tanks;
    p->n_tanks = n;
    p->feeders = &feeder;
    p->n_feeders = 1;
    p->shares = &share;
    p->n_shares = 1;
}

/* 1 + 15 + 3 × 2 + 8, and no order can be shorter. */
static void the_tanks_of_a_stop_get_one_broadcast(void **state)
{
    (void)state;
    struct order_tank tanks[3];
    struct order_problem p;
    set_pump(&p, tanks, 3, 2);
    struct order_plan plan = made(&p);
    assert_int_equal(count_broadcasts(&plan), 1);
    assert_int_equal(plan.finish_min, 30);
    assert_true(plan.proven);
    order_plan_free(&plan);
    for (size_t i = 0; i < 3; i++)
        tanks[i].share = 0;
    plan = made(&p);
    assert_int_equal(count_broadcasts(&plan), 3);
    order_plan_free(&plan);
}

/* Corals of 3 min: the third tank's first would be fed 6 min after the first tank's, the window has 5. */
static void a_stop_takes_no_more_tanks_than_one_broadcast_has_a_window_for(void **state)
{
    (void)state;
    struct order_tank tanks[3];
    struct order_problem p;
    set_pump(&p, tanks, 3, 3);
    struct order_plan plan = made(&p);
    assert_int_equal(count_broadcasts(&plan), 2);
    for (size_t i = 0; i < plan.n_steps; i++)
        if (plan.steps[i].action == ORDER_FEED)
            assert_int_equal(plan.steps[i].pass, plan.steps[i].tank == 2 ? 2 : 1);
    order_plan_free(&plan);
}

static void a_tank_without_corals_due_rides_along(void **state)
{
    (void)state;
    struct order_tank tanks[4];
    struct order_problem p;
    set_pump(&p, tanks, 4, 2);
    tanks[1].feed_s = tanks[3].feed_s = 0;
    tanks[3].pump = -1; /* its own, which does not stop */
    struct order_plan plan = made(&p);
    assert_int_equal(count_broadcasts(&plan), 1);
    assert_int_equal(plan.finish_min, 1 + 15 + 2 * 2 + 8);
    order_plan_free(&plan);
    tanks[0].feed_s = tanks[2].feed_s = 0; /* nobody is fed: one broadcast, and the round is over */
    plan = made(&p);
    assert_int_equal(count_broadcasts(&plan), 1);
    assert_int_equal(plan.finish_min, 1);
    order_plan_free(&plan);
}

/*
 * Two pumps. One window holds the first corals of both for two feeders, or for one where the first tank takes 4 min,
 * not 8.
 */
static void stops_of_several_pumps_in_one_window_are_broadcast_to_in_one_go(void **state)
{
    (void)state;
    static const struct order_feeder feeders[2] = {{0}};
    static const struct {
        int feed_min;
        size_t n_feeders, n_broadcasts;
        int finish_min;
    } rows[] = {{8, 2, 1, 1 + 15 + 8 + 8}, {4, 1, 1, 1 + 15 + 2 * 4 + 8}, {8, 1, 2, 1 + 15 + 2 * 8 + 8}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct order_tank tanks[2];
        struct order_problem p;
        set_pump(&p, tanks, 2, rows[i].feed_min);
        tanks[1].pump = 1;
        p.feeders = feeders;
        p.n_feeders = rows[i].n_feeders;
        struct order_plan plan = made(&p);
        assert_int_equal(count_broadcasts(&plan), rows[i].n_broadcasts);
        assert_int_equal(plan.finish_min, rows[i].finish_min);
        order_plan_free(&plan);
    }
}

/* [order 2] */
static void the_bound_is_never_above_the_optimum(void **state)
{
    (void)state;
    static struct random_round r;
    int n_proven = 0, n_shared = 0;
    for (int number = 0; number < 400; number++) {
        random_shared(&r, number, 5);
        r.p.exact_work = r.p.search_steps = 0;
        struct order_plan plain = made(&r.p);
        r.p.exact_work = 1000000;
        struct order_plan best = made(&r.p);
        if (best.proven && plain.lower_bound_min > best.finish_min)
            fail_msg("round %d: bound %d, optimum %d", number, plain.lower_bound_min, best.finish_min);
        n_proven += best.proven;
        size_t n_steps = 0;
        for (size_t i = 0; i < best.n_steps; i++)
            n_steps += best.steps[i].action == ORDER_BROADCAST;
        n_shared += n_steps > count_broadcasts(&best);
        order_plan_free(&best);
        order_plan_free(&plain);
    }
    assert_true(n_proven > 200 && n_shared > 50);
}

/*
 * Where the switch takes no time a flow goes on in the very minute in which its feeder begins a broadcast; and that
 * broadcast may be one that another does for.
 */
static void a_flow_turned_on_in_no_time_does_not_hide_the_broadcast_of_its_minute(void **state)
{
    (void)state;
    static struct random_round r;
    size_t n_steps = 0, n_beside = 0;
    random_shared(&r, 2175, 8);
    r.p.switch_min = 0;
    r.p.search_steps = 200;
    r.p.exact_work = 0;
    struct order_plan plan = made(&r.p);
    for (size_t i = 0; i < plan.n_steps; i++)
        n_steps += plan.steps[i].action == ORDER_BROADCAST;
    for (size_t i = 0; i + 1 < plan.n_steps; i++)
        n_beside += plan.steps[i].action == ORDER_FLOW_ON && plan.steps[i].start_min == plan.steps[i].end_min;
    assert_true(n_steps > count_broadcasts(&plan) && n_beside > 0);
    order_plan_free(&plan);
}

static void a_share_that_is_none_is_refused(void **state)
{
    (void)state;
    struct bench b;
    struct order_plan plan;
    struct err e;
    lay_out(&b);
    b.tanks[1].share = 2;
    assert_false(order_make(&b.p, &plan, &e));
    assert_non_null(strstr(e.text, "tank 1: share is 2; expected 0 to 1"));
    lay_out(&b);
    b.share.position_m = NAN;
    assert_false(order_make(&b.p, &plan, &e));
    assert_non_null(strstr(e.text, "share 1: position"));
}

SUITE(order_shared)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_plan_made_by_hand_keeps_every_rule),
        cmocka_unit_test(each_rule_broken_alone_is_named),
        cmocka_unit_test(a_tank_that_rides_with_its_flow_off_is_named),
        cmocka_unit_test(the_tanks_of_a_stop_get_one_broadcast),
        cmocka_unit_test(a_stop_takes_no_more_tanks_than_one_broadcast_has_a_window_for),
        cmocka_unit_test(a_tank_without_corals_due_rides_along),
        cmocka_unit_test(stops_of_several_pumps_in_one_window_are_broadcast_to_in_one_go),
        cmocka_unit_test(the_bound_is_never_above_the_optimum),
        cmocka_unit_test(a_flow_turned_on_in_no_time_does_not_hide_the_broadcast_of_its_minute),
        cmocka_unit_test(a_share_that_is_none_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
