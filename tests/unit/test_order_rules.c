/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * order_check itself: a plan made by hand keeps every rule, and each rule, broken alone, is the one that is named.
 * And what order_make refuses.
 */
#include "tests.h"

#include "order_bench.h"

/*
 * Three tanks a minute apart, two feeders, switching takes a minute, tanks 0 and 1 as usual, tank 2 in quarantine.
 * The steps were written down from the rules with pencil and paper.
 */
static const struct order_tank good_tanks[] = {
    {.position_m = 0,
     .broadcast_min = 2,
     .fish_min = 1,
     .feed_s = 240,
     .off_wanted_min = 15,
     .rest_min = 5,
     .off_limit_min = 20,
     .pump = -1,
     .pot = 0,
     .fixed_rank = 0},
    {.position_m = 30,
     .broadcast_min = 1,
     .feed_s = 1200,
     .rest_min = 5,
     .off_limit_min = 20,
     .pump = -1,
     .pot = 0,
     .fixed_rank = 1},
    {.position_m = 60,
     .feed_s = 120,
     .rest_min = 4,
     .off_limit_min = 20,
     .quarantine = true,
     .pump = -1,
     .pot = 1,
     .fixed_rank = -1},
};

static const struct order_step good_steps[] = {
    {0, ORDER_BROADCAST, 0, 480, 482, 0, 0, 0}, {1, ORDER_BROADCAST, 1, 484, 485, 0, 0, 0},
    {0, ORDER_FISH, 0, 496, 497, 1, 0, 0},      {0, ORDER_FLOW_OFF, 0, 497, 498, 1, 0, 0},
    {0, ORDER_FEED, 0, 498, 502, 1, 240, 0},    {1, ORDER_FLOW_OFF, 1, 500, 501, 1, 0, 0},
    {1, ORDER_FEED, 1, 501, 511, 1, 600, 0},    {0, ORDER_REST, -1, 502, 511, 1, 0, 0},
    {0, ORDER_FLOW_ON, 0, 511, 512, 1, 0, 0},   {1, ORDER_REST, -1, 511, 516, 1, 0, 0},
    {1, ORDER_FLOW_ON, 1, 516, 517, 1, 0, 0},   {1, ORDER_FLOW_OFF, 1, 527, 528, 2, 0, 0},
    {1, ORDER_FEED, 1, 528, 538, 2, 600, 0},    {1, ORDER_REST, -1, 538, 543, 2, 0, 0},
    {1, ORDER_FLOW_ON, 1, 543, 544, 2, 0, 0},   {2, ORDER_TOOLS, 1, 544, 547, 0, 0, 0},
    {2, ORDER_POT, 1, 547, 549, 0, 0, 0},       {2, ORDER_FLOW_OFF, 1, 550, 551, 1, 0, 0},
    {2, ORDER_FEED, 1, 551, 553, 1, 120, 0},    {2, ORDER_REST, -1, 553, 557, 1, 0, 0},
    {2, ORDER_FLOW_ON, 1, 557, 558, 1, 0, 0},
};

enum { N_STEPS = COUNT_OF(good_steps) };

static void lay_out(struct bench *b)
{
    bench_lay_out(b, good_tanks, good_steps, N_STEPS);
    /* Feeder 0 waits 482-496 and 502-511, feeder 1 485-500, 511-516, 517-527, 538-543, 553-557. Feeder 0 walks 30 m. */
    b->plan.finish_min = 558;
    b->plan.walked_m = 30;
    b->plan.waited_min = 62;
}

static void a_plan_made_by_hand_keeps_every_rule(void **state)
{
    (void)state;
    struct bench b;
    lay_out(&b);
    assert_int_equal(rule_broken(&b), ORDER_KEPT);
}

static void no_such_feeder(struct bench *b)
{
    b->steps[0].feeder = 2;
}
static void hands_that_rest(struct bench *b)
{
    b->steps[7].feeder = 0;
}
static void backwards(struct bench *b)
{
    shift(b, 20, 558, 557);
}
static void before_ready(struct bench *b)
{
    b->feeders[0].ready_min = 481;
}
static void out_of_order(struct bench *b)
{
    shift(b, 0, 485, 487);
}
static void no_such_tank(struct bench *b)
{
    b->steps[0].tank = BENCH_TANKS;
}
static void another_count_of_tanks(struct bench *b)
{
    b->plan.n_tanks = 2;
}
static void no_such_action(struct bench *b)
{
    b->steps[0].action = ORDER_FLOW_ON + 1;
}
static void pump_by_another_name(struct bench *b)
{
    b->tanks[0].pump = b->tanks[1].pump = 7;
}
static void ends_out_of_order(struct bench *b)
{
    shift(b, 1, 480, 481);
}
static void feeders_out_of_order(struct bench *b)
{
    shift(b, 1, 480, 482);
    b->steps[0].feeder = 1;
    b->steps[1].feeder = 0;
}
static void two_things_at_once(struct bench *b)
{
    b->steps[1].feeder = 0;
    shift(b, 1, 481, 482);
}
static void no_time_to_walk(struct bench *b)
{
    b->p.walk_m_per_min = 10;
}
static void broadcast_too_short(struct bench *b)
{
    b->tanks[0].broadcast_min = 3;
}
static void no_fish_due(struct bench *b)
{
    b->tanks[0].fish_min = 0;
}
static void corals_missing(struct bench *b)
{
    b->tanks[0].feed_s = 241;
}
static void flow_stays_off(struct bench *b)
{
    b->plan.n_steps--;
}
static void switched_too_fast(struct bench *b)
{
    b->p.switch_min = 0;
}
static void tools_too_fast(struct bench *b)
{
    b->p.tool_change_min = 4;
}
static void pot_too_fast(struct bench *b)
{
    b->p.pot_change_min = 3;
}
static void corals_hurried(struct bench *b)
{
    b->steps[4].feed_s = b->tanks[0].feed_s = 241; /* four minutes and a second are five minutes */
}
static void corals_in_no_time(struct bench *b)
{
    b->steps[4].feed_s = b->tanks[0].feed_s = 0;
    shift(b, 4, 498, 498);
}
static void more_corals_than_time(struct bench *b)
{
    b->steps[6].fed = 11;
    b->steps[12].fed = 9;
}
static void a_coral_forgotten(struct bench *b)
{
    b->steps[12].fed = 9;
}
static void second_pass_called_third(struct bench *b)
{
    for (size_t i = 11; i < 15; i++)
        b->steps[i].pass = 3;
}
static void switched_on_too_slowly(struct bench *b)
{
    shift(b, 20, 557, 559);
}
static void switched_on_in_the_wrong_order(struct bench *b)
{
    b->steps[10].pass = 2;
    b->steps[14].pass = 1;
}
static void on_without_off(struct bench *b)
{
    leave_out(b, 3);
}
static void fish_after_flow_off(struct bench *b)
{
    shift(b, 3, 496, 497);
    shift(b, 2, 497, 498);
    put_in_order(b);
}
static void corals_before_flow_off(struct bench *b)
{
    shift(b, 3, 501, 502);
    shift(b, 4, 497, 501);
    put_in_order(b);
}
static void fish_before_the_broadcast_ends(struct bench *b)
{
    b->steps[0].feeder = 1;
    shift(b, 0, 495, 497);
    put_in_order(b);
}
static void corals_before_the_broadcast_ends(struct bench *b)
{
    b->steps[1].feeder = 0;
    shift(b, 1, 503, 504);
    put_in_order(b);
}
static void fish_in_another_visit(struct bench *b)
{
    b->steps[2].pass = 2;
}
/* Tank 0 without corals: its steps but for broadcast and fish are gone. */
static void fish_alone(struct bench *b)
{
    const size_t gone[] = {8, 7, 4, 3};
    for (size_t i = 0; i < COUNT_OF(gone); i++)
        leave_out(b, gone[i]);
    b->tanks[0].feed_s = 0;
}
static void fish_alone_by_another_feeder(struct bench *b)
{
    fish_alone(b);
    shift(b, 2, 482, 483);
    b->steps[2].feeder = 1;
    put_in_order(b);
}
static void on_before_off(struct bench *b)
{
    fish_alone(b);
    b->tanks[0].fish_min = 0;
    leave_out(b, 2);
    do_also(b, (struct order_step){0, ORDER_FLOW_ON, 0, 484, 485, 1, 0, 0});
    do_also(b, (struct order_step){0, ORDER_FLOW_OFF, 0, 486, 487, 1, 0, 0});
}
static void break_in_visit(struct bench *b)
{
    shift(b, 3, 496, 497);
    shift(b, 2, 494, 495);
}
static void visit_by_two(struct bench *b)
{
    b->steps[2].feeder = 1;
    b->p.walk_m_per_min = 600;
}
static void lag_too_short(struct bench *b)
{
    b->p.lag_min = 17;
}
static void lag_too_long(struct bench *b)
{
    b->p.lag_max = 15;
}
static void rest_too_short(struct bench *b)
{
    b->tanks[1].rest_min = 6;
}
static void off_shorter_than_wanted(struct bench *b)
{
    b->tanks[0].off_wanted_min = 16;
}
static void rest_not_in_plan(struct bench *b)
{
    shift(b, 7, 502, 510);
}
static void off_too_long(struct bench *b)
{
    b->tanks[1].off_limit_min = 16;
}
static void on_too_briefly(struct bench *b)
{
    b->p.flow_on_gap_min = 11;
}
static void corals_with_flow_on(struct bench *b)
{
    b->steps[6].pass = 2;
    b->steps[12].pass = 1;
}
static void corals_in_no_stop(struct bench *b)
{
    b->steps[6].pass = 3;
}
static void flow_on_among_corals(struct bench *b)
{
    b->steps[14].feeder = 0;
    shift(b, 14, 536, 537);
    put_in_order(b);
}
static void broadcast_into_still_water(struct bench *b)
{
    b->p.lag_min = 0;
    b->tanks[0].fish_min = 0;
    b->steps[0].feeder = 1;
    shift(b, 0, 496, 498);
    leave_out(b, 2);
    put_in_order(b);
}
static void tools_for_no_quarantine(struct bench *b)
{
    b->steps[15].tank = 1;
}
static void tools_changed_twice(struct bench *b)
{
    for (size_t i = 16; i < N_STEPS; i++)
        shift(b, i, b->steps[i].start_min + 3, b->steps[i].end_min + 3);
    do_also(b, (struct order_step){2, ORDER_TOOLS, 1, 547, 550, 0, 0, 0});
}
static void back_from_quarantine(struct bench *b)
{
    shift(b, 15, 539, 542);
    put_in_order(b);
}
static void quarantine_before_the_others(struct bench *b)
{
    static const int starts[] = {515, 518, 522, 523, 525, 529};
    for (size_t i = 0; i < COUNT_OF(starts); i++) {
        struct order_step *s = &b->steps[15 + i];
        s->feeder = s->feeder < 0 ? -1 : 0;
        s->end_min += starts[i] - s->start_min;
        s->start_min = starts[i];
    }
    put_in_order(b);
}
static void tools_for_nothing(struct bench *b)
{
    do_also(b, (struct order_step){2, ORDER_TOOLS, 0, 544, 547, 0, 0, 0});
}
static void quarantine_without_tools(struct bench *b)
{
    leave_out(b, 15);
}
static void others_after_quarantine(struct bench *b)
{
    b->tanks[2].quarantine = false;
    b->tanks[1].quarantine = true;
}
static void wrong_pot(struct bench *b)
{
    leave_out(b, 16); /* the change of pot */
}
static void slurry_too_old(struct bench *b)
{
    b->p.slurry_age_limit_min = 57;
}
static void against_rank(struct bench *b)
{
    b->tanks[0].fixed_rank = 2;
}
static void finish_too_early(struct bench *b)
{
    b->plan.finish_min = 557;
}
static void start_too_late(struct bench *b)
{
    b->plan.start_min = 481;
}
static void walking_forgotten(struct bench *b)
{
    b->plan.walked_m = 0;
}
static void waiting_forgotten(struct bench *b)
{
    b->plan.waited_min = 61;
}
static void bound_too_high(struct bench *b)
{
    b->plan.lower_bound_min = 559;
}
static void proof_without_bound(struct bench *b)
{
    b->plan.proven = true;
}

/* [order 7] */
static void each_rule_broken_alone_is_named(void **state)
{
    (void)state;
    static const struct spoilt rows[] = {
        {"no such feeder", no_such_feeder, ORDER_RULE_STEP},
        {"a rest that takes hands", hands_that_rest, ORDER_RULE_STEP},
        {"a step that runs backwards", backwards, ORDER_RULE_STEP},
        {"before the feeder is ready", before_ready, ORDER_RULE_STEP},
        {"steps out of order", out_of_order, ORDER_RULE_STEP},
        {"a step at no tank", no_such_tank, ORDER_RULE_STEP},
        {"of another problem", another_count_of_tanks, ORDER_RULE_STEP},
        {"no such action", no_such_action, ORDER_RULE_STEP},
        {"a pump by another tank's name", pump_by_another_name, ORDER_RULE_STEP},
        {"ends out of order", ends_out_of_order, ORDER_RULE_STEP},
        {"feeders out of order", feeders_out_of_order, ORDER_RULE_STEP},
        {"two things at once", two_things_at_once, ORDER_RULE_HANDS},
        {"no time to walk", no_time_to_walk, ORDER_RULE_HANDS},
        {"a broadcast cut short", broadcast_too_short, ORDER_RULE_WORK},
        {"fish that are not due", no_fish_due, ORDER_RULE_WORK},
        {"a second of corals missing", corals_missing, ORDER_RULE_WORK},
        {"a flow that stays off", flow_stays_off, ORDER_RULE_WORK},
        {"switched too fast", switched_too_fast, ORDER_RULE_WORK},
        {"tools changed too fast", tools_too_fast, ORDER_RULE_WORK},
        {"a pot changed too fast", pot_too_fast, ORDER_RULE_WORK},
        {"corals hurried", corals_hurried, ORDER_RULE_WORK},
        {"corals in no time", corals_in_no_time, ORDER_RULE_WORK},
        {"passes that are not counted through", second_pass_called_third, ORDER_RULE_WORK},
        {"switched on too slowly", switched_on_too_slowly, ORDER_RULE_WORK},
        {"switched on in the wrong order", switched_on_in_the_wrong_order, ORDER_RULE_WORK},
        {"a flow on without its flow off", on_without_off, ORDER_RULE_WORK},
        {"fish after the flow is off", fish_after_flow_off, ORDER_RULE_CHAIN},
        {"corals before the flow is off", corals_before_flow_off, ORDER_RULE_CHAIN},
        {"fish before the broadcast has ended", fish_before_the_broadcast_ends, ORDER_RULE_CHAIN},
        {"corals before the broadcast has ended", corals_before_the_broadcast_ends, ORDER_RULE_CHAIN},
        {"fish in another visit than the corals", fish_in_another_visit, ORDER_RULE_CHAIN},
        {"fish long after the broadcast", fish_alone, ORDER_RULE_CHAIN},
        {"fish by another than who broadcast", fish_alone_by_another_feeder, ORDER_RULE_CHAIN},
        {"flow on before flow off", on_before_off, ORDER_RULE_CHAIN},
        {"a break in a visit", break_in_visit, ORDER_RULE_CHAIN},
        {"a visit by two feeders", visit_by_two, ORDER_RULE_CHAIN},
        {"corals before the lag is over", lag_too_short, ORDER_RULE_LAG},
        {"corals after the lag window", lag_too_long, ORDER_RULE_LAG},
        {"a rest too short", rest_too_short, ORDER_RULE_REST},
        {"off for less than wanted", off_shorter_than_wanted, ORDER_RULE_REST},
        {"a rest that is not in the plan", rest_not_in_plan, ORDER_RULE_REST},
        {"off for too long", off_too_long, ORDER_RULE_OFF_LIMIT},
        {"on too briefly between passes", on_too_briefly, ORDER_RULE_ON_GAP},
        {"corals in no stop of their pump", corals_in_no_stop, ORDER_RULE_FLOW},
        {"flow on before all corals are fed", flow_on_among_corals, ORDER_RULE_FLOW},
        {"a broadcast into still water", broadcast_into_still_water, ORDER_RULE_FLOW},
        {"tools changed for a tank of no quarantine", tools_for_no_quarantine, ORDER_RULE_QUARANTINE},
        {"tools changed twice", tools_changed_twice, ORDER_RULE_QUARANTINE},
        {"back from quarantine", back_from_quarantine, ORDER_RULE_QUARANTINE},
        {"quarantine before the others", quarantine_before_the_others, ORDER_RULE_QUARANTINE},
        {"tools changed for nothing", tools_for_nothing, ORDER_RULE_QUARANTINE},
        {"quarantine without a change of tools", quarantine_without_tools, ORDER_RULE_QUARANTINE},
        {"others after quarantine", others_after_quarantine, ORDER_RULE_QUARANTINE},
        {"fed from the wrong pot", wrong_pot, ORDER_RULE_POT},
        {"a slurry too old", slurry_too_old, ORDER_RULE_POT},
        {"against the fixed order", against_rank, ORDER_RULE_RANK},
        {"a finish too early", finish_too_early, ORDER_RULE_TOTALS},
        {"a start too late", start_too_late, ORDER_RULE_TOTALS},
        {"walking forgotten", walking_forgotten, ORDER_RULE_TOTALS},
        {"waiting forgotten", waiting_forgotten, ORDER_RULE_TOTALS},
        {"a bound above the finish", bound_too_high, ORDER_RULE_TOTALS},
        {"proof without a bound", proof_without_bound, ORDER_RULE_TOTALS},
    };
    each_rule_is_named(rows, COUNT_OF(rows), lay_out);
}

/* Twenty corals of a minute each, in two passes of ten minutes. */
static void lay_out_by_corals(struct bench *b)
{
    static const struct order_lot lots[] = {{60, 5}, {60, 15}};
    lay_out(b);
    b->tanks[1].lots = lots;
    b->tanks[1].n_lots = COUNT_OF(lots);
    b->steps[6].fed = b->steps[12].fed = 10;
}

static void corals_that_a_pass_has_no_time_for_are_named(void **state)
{
    (void)state;
    static const struct spoilt rows[] = {
        {"more corals than a pass has time for", more_corals_than_time, ORDER_RULE_WORK},
        {"a coral forgotten", a_coral_forgotten, ORDER_RULE_WORK},
    };
    struct bench b;
    lay_out_by_corals(&b);
    assert_int_equal(rule_broken(&b), ORDER_KEPT);
    each_rule_is_named(rows, COUNT_OF(rows), lay_out_by_corals);
}

static void a_broken_rule_is_told_with_the_name_of_its_tank(void **state)
{
    (void)state;
    struct bench b;
    struct err e = {0};
    lay_out(&b);
    b.tanks[0].name = "frag rack";
    b.tanks[1].name = "display";
    lag_too_short(&b);
    assert_false(order_check(&b.p, &b.plan, NULL, &e));
    assert_string_equal(e.text, "plan: tank frag rack, minute 498: corals outside the lag window");
    b.p.lag_min = 15;
    b.tanks[1].feed_s = 1201;
    assert_false(order_check(&b.p, &b.plan, NULL, &e));
    assert_string_equal(e.text, "plan: tank display: not all corals fed, or some twice");
}

static void corals_fed_with_the_flow_on_are_named(void **state)
{
    (void)state;
    struct bench b;
    lay_out(&b);
    corals_with_flow_on(&b);
    enum order_rule rule = rule_broken(&b);
    assert_true(rule == ORDER_RULE_FLOW || rule == ORDER_RULE_CHAIN);
}

/* Two tanks on one pump, fed in two stops; the second tank's broadcast falls into the first stop. */
static void a_broadcast_while_a_shared_pump_stands_still_is_named(void **state)
{
    (void)state;
    static const struct order_tank tanks[] = {
        {.feed_s = 300, .rest_min = 5, .off_limit_min = 10, .pump = 7, .fixed_rank = -1},
        {.broadcast_min = 1, .feed_s = 300, .rest_min = 5, .off_limit_min = 10, .pump = 7, .fixed_rank = -1},
    };
    static const struct order_feeder feeder = {0};
    struct order_step steps[] = {
        {0, ORDER_FLOW_OFF, 0, 0, 0, 1, 0, 0},  {0, ORDER_FEED, 0, 0, 5, 1, 300, 0},
        {0, ORDER_REST, -1, 5, 10, 1, 0, 0},    {1, ORDER_BROADCAST, 0, 6, 7, 0, 0, 0},
        {0, ORDER_FLOW_ON, 0, 10, 10, 1, 0, 0}, {0, ORDER_FLOW_OFF, 0, 25, 25, 2, 0, 0},
        {1, ORDER_FEED, 0, 25, 30, 2, 300, 0},  {1, ORDER_REST, -1, 30, 35, 2, 0, 0},
        {0, ORDER_FLOW_ON, 0, 35, 35, 2, 0, 0},
    };
    struct order_problem p;
    order_defaults(&p);
    p.tanks = tanks;
    p.n_tanks = 2;
    p.feeders = &feeder;
    p.n_feeders = 1;
    struct order_plan plan = {
        .steps = steps, .n_steps = COUNT_OF(steps), .n_tanks = 2, .finish_min = 35, .waited_min = 24};
    enum order_rule broken;
    struct err e;
    assert_false(order_check(&p, &plan, &broken, &e));
    assert_int_equal(broken, ORDER_RULE_FLOW);
}

/* ---- what cannot be planned -------------------------------------------------------------------------------- */

static void refused(const struct order_problem *p, const char *says, const char *expects)
{
    struct order_plan plan = {.finish_min = -77};
    struct err e = {0};
    assert_false(order_make(p, &plan, &e));
    assert_int_equal(e.code, ERR_INPUT);
    if (!strstr(e.text, says) || !strstr(e.text, expects))
        fail_msg("\"%s\" lacks \"%s\" or \"%s\"", e.text, says, expects);
    assert_int_equal(plan.finish_min, -77);
}

/* [order 5] */
static void what_cannot_be_planned_is_refused_by_name(void **state)
{
    (void)state;
    struct bench b;
    lay_out(&b);
    b.p.n_feeders = 0;
    refused(&b.p, "0 feeders", "expected 1 to");
    lay_out(&b);
    b.tanks[1].off_limit_min = 7; /* rest 5, two switches of a minute, a minute's feed: 8 */
    refused(&b.p, "tank 1", "expected at least 8");
    lay_out(&b);
    b.tanks[0].fish_min = 20; /* the lag ends at 20; fish, pot change 2 and flow off 1 come before the corals */
    refused(&b.p, "tank 0", "expected at least 23");
    lay_out(&b);
    b.p.slurry_age_limit_min = 3; /* pot change 2, fish 1, flow off 1, a minute's feed: 5 */
    refused(&b.p, "tank 0", "expected at least 5");
    lay_out(&b);
    b.p.walk_m_per_min = 0;
    refused(&b.p, "walking speed", "more than 0");
    lay_out(&b);
    b.tanks[2].position_m = NAN;
    refused(&b.p, "tank 2", "expected");
    lay_out(&b);
    b.tanks[2].feed_s = -1;
    refused(&b.p, "tank 2: feeding time is -1", "expected 0 to");
    lay_out(&b);
    b.p.lag_max = 14;
    refused(&b.p, "longest lag is 14", "expected 15");
    lay_out(&b);
    b.p.n_tanks = ORDER_TANKS_MAX + 1;
    refused(&b.p, "20001 tanks", "expected at most 20000");
    lay_out(&b);
    b.p.walk_free_m = -1;
    refused(&b.p, "free way is -1 m", "expected 0 or more");
    lay_out(&b);
    b.feeders[1].ready_min = -ORDER_MINUTES_MAX - 1;
    refused(&b.p, "a feeder's ready minute is -10001", "expected -10000 to 10000");
    lay_out(&b);
    const struct order_share nowhere = {.position_m = NAN};
    b.p.shares = &nowhere;
    b.p.n_shares = 1;
    refused(&b.p, "share 1: position is nan m", "expected -10000 to 10000");
    lay_out(&b);
    b.p.n_feeders = ORDER_FEEDERS_MAX + 1;
    refused(&b.p, "21 feeders", "expected 1 to 20");
    lay_out(&b);
    b.p.walk_m_per_min = INFINITY;
    refused(&b.p, "walking speed", "more than 0");
    lay_out(&b);
    b.p.walk_free_m = NAN;
    refused(&b.p, "free way is nan m", "expected 0 or more");
    /* Each setting and each number of a tank, one below the least it may be. */
    int *const settings[] = {&b.p.lag_min,        &b.p.switch_min,           &b.p.tool_change_min,
                             &b.p.pot_change_min, &b.p.slurry_age_limit_min, &b.p.flow_on_gap_min};
    static const char *const named[] = {"least lag is -1",  "time to switch a pump is -1", "tool change is -1",
                                        "pot change is -1", "slurry age limit is -1",      "flow-on gap is -1"};
    for (size_t i = 0; i < COUNT_OF(settings); i++) {
        lay_out(&b);
        *settings[i] = -1;
        refused(&b.p, named[i], "expected 0 to");
    }
    struct order_tank *t = &b.tanks[1];
    int *const numbers[] = {&t->broadcast_min, &t->fish_min,      &t->settle_s, &t->off_wanted_min,
                            &t->rest_min,      &t->off_limit_min, &t->pot,      &t->share};
    static const char *const said[] = {
        "broadcast time is -1", "fish time is -1", "time to settle is -1", "wanted flow-off time is -1", "rest is -1",
        "flow-off limit is -1", "pot is -1",       "share is -1"};
    for (size_t i = 0; i < COUNT_OF(numbers); i++) {
        lay_out(&b);
        *numbers[i] = -1;
        refused(&b.p, said[i], "tank 1");
    }
    lay_out(&b);
    b.tanks[1].pump = -2;
    b.tanks[1].name = "display";
    refused(&b.p, "tank display: pump is -2", "expected -1 to");
    lay_out(&b);
    b.tanks[1].fixed_rank = -2;
    refused(&b.p, "tank 1: rank is -2", "expected -1 to");
    struct order_tank endless[41];
    for (size_t i = 0; i < COUNT_OF(endless); i++)
        endless[i] =
            (struct order_tank){.feed_s = 60 * ORDER_MINUTES_MAX, .off_limit_min = 60, .pump = -1, .fixed_rank = -1};
    lay_out(&b);
    b.p.tanks = endless;
    b.p.n_tanks = COUNT_OF(endless);
    refused(&b.p, "410000 minutes of target feed", "expected at most 400000");
}

SUITE(order_rules)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_plan_made_by_hand_keeps_every_rule),
        cmocka_unit_test(each_rule_broken_alone_is_named),
        cmocka_unit_test(corals_that_a_pass_has_no_time_for_are_named),
        cmocka_unit_test(a_broken_rule_is_told_with_the_name_of_its_tank),
        cmocka_unit_test(corals_fed_with_the_flow_on_are_named),
        cmocka_unit_test(a_broadcast_while_a_shared_pump_stands_still_is_named),
        cmocka_unit_test(what_cannot_be_planned_is_refused_by_name),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
