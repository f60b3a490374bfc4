/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every rule of the order's plans, on random rounds, proved by order_check. */
#include "neap/replan.h"
#include "tests.h"

#include "order_random.h"

enum { ROUNDS = TRIALS(1000), ROUNDS_CUT = TRIALS(300) };

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

static void every_random_round_gets_a_plan_that_keeps_every_rule(void **state)
{
    (void)state;
    static struct random_round r;
    for (int number = 0; number < ROUNDS; number++) {
        random_any(&r, number, 10);
        prove(&r, number);
    }
}

static void every_round_planned_again_in_the_middle_keeps_every_rule(void **state)
{
    (void)state;
    static struct random_round r;
    for (int number = 0; number < ROUNDS; number++) {
        random_begun(&r, number, 10);
        prove(&r, number);
    }
}

static void every_round_with_shared_water_keeps_every_rule(void **state)
{
    (void)state;
    static struct random_round r;
    for (int number = 0; number < ROUNDS; number++) {
        random_shared(&r, number, 10);
        prove(&r, number);
        random_shared_begun(&r, number, 10);
        prove(&r, number);
    }
}

/* What a feeder has begun before the cut they bring to its end: the visit as a whole, not only the step. */
static int carried_until(const struct order_plan *plan, const struct order_step *begun)
{
    int until = begun->end_min;
    if (begun->action != ORDER_FISH && begun->action != ORDER_FLOW_OFF && begun->action != ORDER_FEED)
        return until;
    for (size_t i = 0; i < plan->n_steps; i++) {
        const struct order_step *s = &plan->steps[i];
        if (s->tank == begun->tank && s->pass == begun->pass && s->action == ORDER_FEED)
            until = s->end_min;
    }
    return until;
}

/* The round as it stands at minute now, had everything gone to plan until then; all pumps are the tanks' own. */
static void cut(struct random_round *r, const struct order_plan *plan, int now)
{
    int begun_end[ORDER_FEEDERS_MAX];
    for (size_t j = 0; j < r->p.n_feeders; j++)
        begun_end[j] = now > r->feeders[j].ready_min ? now : r->feeders[j].ready_min;
    for (size_t i = 0; i < plan->n_steps; i++) {
        const struct order_step *s = &plan->steps[i];
        if (s->feeder >= 0 && s->start_min < now && carried_until(plan, s) > begun_end[s->feeder])
            begun_end[s->feeder] = carried_until(plan, s);
    }
    for (size_t i = 0; i < plan->n_steps; i++) {
        const struct order_step *s = &plan->steps[i];
        struct order_tank *t = &r->tanks[s->tank];
        if (s->feeder < 0 || s->start_min >= begun_end[s->feeder] ||
            (s->start_min >= now && begun_end[s->feeder] == now))
            continue;
        r->feeders[s->feeder].placed = true;
        r->feeders[s->feeder].position_m = t->position_m;
        if (s->action == ORDER_BROADCAST) {
            t->stage = ORDER_BROADCAST_GIVEN;
            t->broadcast_end_min = s->end_min;
        } else if (s->action == ORDER_FLOW_OFF) {
            t->stage = ORDER_FLOW_IS_OFF;
            t->off_since_min = s->start_min;
        } else if (s->action == ORDER_FEED) {
            t->fed_until_min = s->end_min;
            t->feed_s -= s->feed_s;
        } else if (s->action == ORDER_FLOW_ON) {
            t->stage = t->feed_s > 0 ? ORDER_FLOW_WAS_ON : ORDER_DONE;
            t->on_since_min = s->end_min;
        }
    }
    for (size_t j = 0; j < r->p.n_feeders; j++)
        r->feeders[j].ready_min = begun_end[j];
}

/* Going on as before is always possible without being late; the search may miss that way once in a hundred rounds. */
static void a_round_cut_at_any_minute_is_planned_to_its_end_and_hardly_ever_late(void **state)
{
    (void)state;
    static struct random_round r;
    int n_late = 0;
    for (int number = 0; number < ROUNDS_CUT; number++) {
        struct order_plan plan, again;
        struct err e = {0};
        random_plain(&r, number, 2 + (size_t)number % 11, 1 + (size_t)number % 3);
        r.p.exact_work = 0;
        r.p.search_steps = 800;
        if (!order_make(&r.p, &plan, &e))
            fail_msg("round %d: %s", number, e.text);
        int now = plan.start_min + 1 + number * 7 % (plan.finish_min - plan.start_min);
        cut(&r, &plan, now);
        if (!order_make(&r.p, &again, &e) || !order_check(&r.p, &again, NULL, &e))
            fail_msg("round %d at %d: %s", number, now, e.text);
        n_late += again.late_min > 0;
        order_plan_free(&plan);
        order_plan_free(&again);
    }
    assert_true(n_late <= 1 + ROUNDS_CUT / 100);
}

SUITE(order)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_random_round_gets_a_plan_that_keeps_every_rule),
        cmocka_unit_test(every_round_planned_again_in_the_middle_keeps_every_rule),
        cmocka_unit_test(every_round_with_shared_water_keeps_every_rule),
        cmocka_unit_test(a_round_cut_at_any_minute_is_planned_to_its_end_and_hardly_ever_late),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
