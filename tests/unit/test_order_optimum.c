/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rounds whose least finish is known: coupled tasks, one machine, several that are alike; and bounds against proofs. */
#include "tests.h"

#include "order_enumerate.h"
#include "order_random.h"

static struct order_plan made(const struct order_problem *p)
{
    struct order_plan plan = {0};
    struct err e = {0};
    if (!order_make(p, &plan, &e) || !order_check(p, &plan, NULL, &e))
        fail_msg("%s", e.text);
    return plan;
}

/* One feeder, everything at one place, no time lost but for the given minutes. */
static void set_one_machine(struct order_problem *p, const struct order_tank *tanks, size_t n)
{
    static const struct order_feeder feeder = {0};
    order_defaults(p);
    p->tanks = tanks;
    p->n_tanks = n;
    p->feeders = &feeder;
    p->n_feeders = 1;
}

/*
 * Coupled tasks (Shapiro 1980): two operations of one minute exactly a minute apart, here a broadcast and a feed. Two
 * interleave in 4 minutes, one alone takes 3, so that n take 3, 4, 7, 8, 11 (exhaustive search for n = 1 to 5).
 */
static void coupled_tasks_interleave_in_pairs(void **state)
{
    (void)state;
    static const int makespan[] = {3, 4, 7, 8, 11};
    struct order_tank tanks[5];
    for (size_t n = 1; n <= 5; n++) {
        struct order_problem p;
        tanks[n - 1] =
            (struct order_tank){.broadcast_min = 1, .feed_s = 60, .off_limit_min = 50, .pump = -1, .fixed_rank = -1};
        set_one_machine(&p, tanks, n);
        p.lag_min = p.lag_max = 1;
        struct order_plan plan = made(&p);
        assert_true(plan.proven);
        assert_int_equal(plan.finish_min, makespan[n - 1]);
        order_plan_free(&plan);
    }
}

/* Corals of so many minutes at one place, and the rest that follows. */
static struct order_tank one_job(int work_min, int tail_min)
{
    return (struct order_tank){
        .feed_s = 60 * work_min, .rest_min = tail_min, .off_limit_min = 1000, .pump = -1, .fixed_rank = -1};
}

/*
 * One machine with tails, here rests: nothing beats the longest tail first (Jackson 1955, by an exchange of
 * neighbours).
 */
static void one_machine_does_the_longest_tail_first(void **state)
{
    (void)state;
    static struct random_round r;
    for (int number = 0; number < TRIALS(60); number++) {
        struct order_tank tanks[9];
        struct order_problem p;
        int work_min[9], tail_min[9], end_min = 0, makespan = 0;
        bool done[9] = {false};
        random_plain(&r, number, 0, 1);
        const size_t n = (size_t)random_between(&r, 2, 9);
        for (size_t i = 0; i < n; i++) {
            work_min[i] = random_between(&r, 1, 9);
            tail_min[i] = random_below(&r, 40);
            tanks[i] = one_job(work_min[i], tail_min[i]);
        }
        for (size_t k = 0; k < n; k++) {
            size_t next = SIZE_MAX;
            for (size_t i = 0; i < n; i++)
                if (!done[i] && (next == SIZE_MAX || tail_min[i] > tail_min[next]))
                    next = i;
            done[next] = true;
            end_min += work_min[next];
            makespan = greater(makespan, end_min + tail_min[next]);
        }
        set_one_machine(&p, tanks, n);
        struct order_plan plan = made(&p);
        if (plan.finish_min != makespan)
            fail_msg("round %d: %d, not %d", number, plan.finish_min, makespan);
        order_plan_free(&plan);
    }
}

/*
 * Feeders with nothing to wait for are machines that are alike. For m of them Graham (1969, SIAM Journal on Applied
 * Mathematics 17:416-429) has two jobs each of 2m - 1, 2m - 2 … m + 1 minutes and three of m, for which the longest
 * first takes 4m - 1, and the best order 3m.
 */
static void machines_that_are_alike_share_out_jobs_on_which_the_longest_first_fails(void **state)
{
    (void)state;
    static const struct order_feeder feeders[5] = {{0}};
    for (int m = 2; m <= 5; m++) {
        struct order_tank tanks[11];
        struct order_problem p;
        size_t n = 0;
        for (int work_min = 2 * m - 1; work_min > m; work_min--) {
            tanks[n++] = one_job(work_min, 0);
            tanks[n++] = one_job(work_min, 0);
        }
        for (int i = 0; i < 3; i++)
            tanks[n++] = one_job(m, 0);
        set_one_machine(&p, tanks, n);
        p.feeders = feeders;
        p.n_feeders = (size_t)m;
        struct order_plan plan = made(&p);
        if (!plan.proven || plan.finish_min != 3 * m)
            fail_msg("%d machines: %d%s, not %d", m, plan.finish_min, plan.proven ? "" : " unproven", 3 * m);
        order_plan_free(&plan);
    }
}

enum { ROUNDS = TRIALS(300), ENUMERATED = TRIALS(100) };

/* [order 2] */
static void the_bound_is_never_above_the_optimum(void **state)
{
    (void)state;
    static struct random_round r;
    int n_proven = 0;
    for (int number = 0; number < ROUNDS; number++) {
        random_any(&r, number, 5);
        r.p.search_steps = 200;
        r.p.exact_work = 1000000;
        struct order_plan best = made(&r.p);
        r.p.search_steps = r.p.exact_work = 0;
        struct order_plan plain = made(&r.p);
        if (best.proven && plain.lower_bound_min > best.finish_min)
            fail_msg("round %d: bound %d, optimum %d", number, plain.lower_bound_min, best.finish_min);
        n_proven += best.proven;
        order_plan_free(&best);
        order_plan_free(&plain);
    }
    assert_true(n_proven > ROUNDS / 2);
}

/* The enumeration has a broadcast begin before its visit, which another tank's fish on the pump may begin first. */
static bool broadcasts_begin_first(const struct order_model *m)
{
    for (int k = 0; k < m->n_stops; k++)
        for (size_t i = m->stops[k].first_feed; i < m->stops[k].first_feed + m->stops[k].n_feeds; i++) {
            const struct order_feed *f = &m->feeds[i];
            const int flow_or_fish_at_min = f->fish_min > 0 ? f->fish_at_min : m->stops[k].off_at_min;
            if (f->broadcast >= 0 && m->tasks[f->broadcast].dur_min < flow_or_fish_at_min &&
                m->tasks[f->broadcast].dur_min + m->p->lag_min < f->at_min)
                return false;
        }
    return true;
}

/* Does an enumeration of all orders prove a finish, as ours does? Then it must be the same. */
static bool enumerated_alike(const struct order_problem *p, int number)
{
    struct order_model m;
    struct order_schedule ours, theirs;
    struct err e = {0};
    int bound_min;
    bool proven = false, both = false;
    if (!order_model_build(&m, p, &e) || !model_bound(&m, &m.arena, &bound_min) ||
        !search_best(&m, &m.arena, &bound_min, &ours, &e) || !schedule_new(&m, &m.arena, &theirs))
        fail_msg("round %d: %s", number, e.text);
    schedule_copy(&m, &theirs, &ours);
    theirs.finish_min += 5; /* so that it must find its own */
    if (m.n_tasks > 0 && m.n_tasks <= EXACT_TASKS) {
        assert_true(enumerate(&m, &m.arena, &theirs, &proven));
        if (theirs.finish_min < bound_min)
            fail_msg("round %d: %d, less than the bound %d", number, theirs.finish_min, bound_min);
        both = proven && bound_min >= ours.finish_min;
        if (both && theirs.finish_min != ours.finish_min &&
            (theirs.finish_min < ours.finish_min || broadcasts_begin_first(&m)))
            fail_msg("round %d: %d by enumeration, ours %d", number, theirs.finish_min, ours.finish_min);
    }
    order_model_free(&m);
    return both;
}

/* [order 2] */
/* Pumps, pots, ranks, quarantine, passes, feeders who come late: all that solvers elsewhere are not asked about. */
static void an_enumeration_of_all_orders_finds_the_same_finish(void **state)
{
    (void)state;
    static struct random_round r;
    int n_same = 0;
    for (int number = 0; number < ENUMERATED; number++) {
        random_any(&r, number, 4);
        r.p.slurry_age_limit_min = 0;
        for (size_t i = 0; i < r.p.n_tanks; i++) /* the enumeration wants the flow on before the next pass's fish */
            if (r.p.flow_on_gap_min < r.p.tanks[i].fish_min)
                r.p.flow_on_gap_min = r.p.tanks[i].fish_min;
        r.p.search_steps = 200;
        r.p.exact_work = 5000000;
        n_same += enumerated_alike(&r.p, number);
    }
    assert_true(n_same > ENUMERATED / 2);
}

/* [order 2] */
/* Rounds of one feeder that the bound alone leaves open. */
static void what_the_bound_leaves_open_is_proven_as_by_an_enumeration(void **state)
{
    (void)state;
    static struct random_round r;
    static const int open[] = {15, 20, 25, 30, 45};
    for (size_t i = 0; i < COUNT_OF(open); i++) {
        random_plain(&r, open[i], 2, 1);
        r.p.search_steps = 200;
        r.p.exact_work = 0;
        struct order_plan plain = made(&r.p);
        assert_false(plain.proven);
        r.p.exact_work = 400000;
        assert_true(enumerated_alike(&r.p, open[i]));
        order_plan_free(&plain);
    }
}

/* Tank of 2 min broadcast, 5 min feed, 8 min rest: nobody can do better than 2 + 15 + 5 + 8. */
static void a_lone_tank_takes_its_chain_and_its_bound_says_so(void **state)
{
    (void)state;
    static const struct order_tank tank = {
        .broadcast_min = 2, .feed_s = 300, .rest_min = 8, .off_limit_min = 20, .pump = -1, .fixed_rank = -1};
    struct order_problem p;
    set_one_machine(&p, &tank, 1);
    p.exact_work = p.search_steps = 0;
    struct order_plan plan = made(&p);
    assert_int_equal(plan.finish_min, 30);
    assert_int_equal(plan.lower_bound_min, 30);
    assert_true(plan.proven);
    order_plan_free(&plan);
}

/*
 * Twelve tanks of 1 min broadcast and 6 min feed: 84 min of work. During the first lag of 15 min only broadcasts can be
 * done, and no more than have room for their feeds in the window: the bound must be well above the work alone.
 */
static void the_bound_knows_the_idleness_of_the_first_lag_and_the_last_rest(void **state)
{
    (void)state;
    struct order_tank tanks[12];
    struct order_problem p;
    for (size_t i = 0; i < 12; i++)
        tanks[i] = (struct order_tank){
            .broadcast_min = 1, .feed_s = 360, .rest_min = 8, .off_limit_min = 30, .pump = -1, .fixed_rank = -1};
    set_one_machine(&p, tanks, 12);
    p.exact_work = 0;
    struct order_plan plan = made(&p);
    /*
     * 21 min (a broadcast and its window) and one visit more hold 4.5 feeds, say 5: 16 - 5 min idle, and 8 at the end.
     */
    assert_int_equal(plan.lower_bound_min, 84 + 11 + 8);
    order_plan_free(&plan);
}

/* [order 4] */
/* A longer search begins as a shorter one does. Without the polish, which comes after it, and finds minutes by luck. */
static void more_work_never_finishes_later(void **state)
{
    (void)state;
    static struct random_round r;
    int n_earlier = 0;
    for (int number = 0; number < TRIALS(18); number++) {
        int finish_min = INT_MAX;
        random_plain(&r, number, 4 + (size_t)number % 8, 1 + (size_t)number % 3);
        r.p.search_steps = 0;
        for (r.p.exact_work = 0; r.p.exact_work <= 400000; r.p.exact_work += 200000) {
            struct order_plan plan = made(&r.p);
            if (plan.finish_min > finish_min)
                fail_msg("round %d, work %ld: %d, with less %d", number, r.p.exact_work, plan.finish_min, finish_min);
            n_earlier += plan.finish_min < finish_min;
            finish_min = plan.finish_min;
            order_plan_free(&plan);
        }
    }
    assert_true(n_earlier > TRIALS(18) * 5 / 4);
}

/*
 * Eight tanks and one feeder, of whom no plan reaches the bound: what stays open is asked for a proof and the bound
 * raised, never above what the longest search finds.
 */
static void what_stays_open_claims_no_more_than_is_found(void **state)
{
    (void)state;
    static struct random_round r;
    int finish_min = INT_MAX, bound_min = 0;
    random_plain(&r, 12, 8, 1);
    r.p.search_steps = 200;
    for (r.p.exact_work = 0; r.p.exact_work <= 6000000; r.p.exact_work += 2000000) {
        struct order_plan plan = made(&r.p);
        assert_true(plan.finish_min <= finish_min && plan.lower_bound_min >= bound_min);
        assert_int_equal(plan.proven, plan.lower_bound_min >= plan.finish_min);
        finish_min = plan.finish_min;
        bound_min = plan.lower_bound_min;
        order_plan_free(&plan);
    }
    assert_true(bound_min <= finish_min);
}

/*
 * Of rounds that are too large for a proof, 75 tasks and more, only plans near the best one are asked for: they may
 * finish earlier, and the bound is what it was.
 */
static void a_large_round_is_bettered_and_nothing_more_is_claimed(void **state)
{
    (void)state;
    static struct random_round r;
    int n_earlier = 0;
    for (int number = 3; number > 3 - TRIALS_LEAST(3, 1); number--) {
        random_plain(&r, number, 25, 2);
        r.p.search_steps = 200;
        r.p.exact_work = 0;
        struct order_plan plain = made(&r.p);
        r.p.exact_work = 2000000;
        struct order_plan near = made(&r.p);
        assert_true(near.finish_min <= plain.finish_min);
        assert_int_equal(near.lower_bound_min, plain.lower_bound_min);
        n_earlier += near.finish_min < plain.finish_min;
        order_plan_free(&plain);
        order_plan_free(&near);
    }
    assert_true(n_earlier > 0);
}

struct looking_on {
    int n_left, seen_min, n_seen;
    bool rose;
};

static bool look_on(void *context, int round_min)
{
    struct looking_on *l = context;
    l->rose = l->rose || (l->n_seen > 0 && round_min > l->seen_min);
    l->seen_min = round_min;
    l->n_seen++;
    return l->n_left-- > 0;
}

/* [order 6] */
static void whoever_looks_on_ends_the_search_and_gets_the_best_so_far(void **state)
{
    (void)state;
    static struct random_round r;
    random_plain(&r, 3, 11, 2);
    r.p.search_steps = 200;
    r.p.exact_work = 0;
    struct order_plan first = made(&r.p);
    r.p.exact_work = 2000000;
    struct order_plan last = made(&r.p);
    assert_true(last.finish_min < first.finish_min);
    int before_min = first.finish_min;
    for (int n = 0; n < 4000; n = 2 * n + 1) {
        struct looking_on l = {.n_left = n};
        const struct order_watch watch = {look_on, &l};
        r.p.watch = &watch;
        struct order_plan ended = made(&r.p);
        assert_true(ended.finish_min <= before_min && ended.finish_min >= last.finish_min);
        assert_false(l.rose);
        assert_true(l.n_seen >= 1);
        before_min = ended.finish_min;
        order_plan_free(&ended);
    }
    assert_true(before_min < first.finish_min);
    order_plan_free(&first);
    order_plan_free(&last);
}

/* [order 3] */
static void the_same_problem_gives_the_same_bytes(void **state)
{
    (void)state;
    static struct random_round r;
    for (int number = 0; number < TRIALS(60); number++) {
        random_any(&r, number, 16);
        struct order_plan a = made(&r.p), b = made(&r.p);
        assert_int_equal(a.n_steps, b.n_steps);
        for (size_t i = 0; i < a.n_steps; i++) {
            const struct order_step *s = &a.steps[i], *t = &b.steps[i];
            assert_true(s->tank == t->tank && s->action == t->action && s->feeder == t->feeder &&
                        s->start_min == t->start_min && s->end_min == t->end_min && s->pass == t->pass &&
                        s->feed_s == t->feed_s);
        }
        order_plan_free(&a);
        order_plan_free(&b);
    }
}

static void no_tanks_make_an_empty_plan(void **state)
{
    (void)state;
    struct order_problem p;
    set_one_machine(&p, NULL, 0);
    struct order_plan plan = made(&p);
    assert_int_equal(plan.n_steps, 0);
    assert_int_equal(plan.finish_min, 0);
    order_plan_free(&plan);
}

static void a_hundred_tanks_come_within_a_tenth_of_the_bound(void **state)
{
    (void)state;
    static struct random_round r;
    for (int number = 0; number < TRIALS_LEAST(3, 1); number++) {
        random_plain(&r, number, 100, 1 + (size_t)number % 2);
        struct order_plan plan = made(&r.p);
        assert_true(plan.finish_min - plan.lower_bound_min <= (plan.lower_bound_min - plan.start_min) / 10);
        order_plan_free(&plan);
    }
}

/*
 * Two minutes of corals in quarantine, beside the last of thirty tanks. Whoever is there last, two minutes' walk away
 * at most, changes tools in three, switches the flow off and on, and is done.
 */
static void a_quarantine_lengthens_a_round_by_no_more_than_itself(void **state)
{
    (void)state;
    static struct random_round r;
    for (int number = 1; number <= 3; number++) {
        random_plain(&r, number, 30, 2);
        r.p.search_steps = 200;
        r.p.exact_work = 0;
        struct order_plan plan = made(&r.p);
        const int without_min = plan.finish_min;
        order_plan_free(&plan);
        r.tanks[r.p.n_tanks++] = (struct order_tank){.position_m = r.tanks[29].position_m,
                                                     .feed_s = 120,
                                                     .off_limit_min = 25,
                                                     .quarantine = true,
                                                     .pump = -1,
                                                     .fixed_rank = -1};
        plan = made(&r.p);
        assert_true(plan.finish_min <= without_min + 2 + r.p.tool_change_min + 2 * r.p.switch_min + 2);
        order_plan_free(&plan);
    }
}

SUITE(order_optimum)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(coupled_tasks_interleave_in_pairs),
        cmocka_unit_test(one_machine_does_the_longest_tail_first),
        cmocka_unit_test(machines_that_are_alike_share_out_jobs_on_which_the_longest_first_fails),
        cmocka_unit_test(the_bound_is_never_above_the_optimum),
        cmocka_unit_test(an_enumeration_of_all_orders_finds_the_same_finish),
        cmocka_unit_test(what_the_bound_leaves_open_is_proven_as_by_an_enumeration),
        cmocka_unit_test(a_lone_tank_takes_its_chain_and_its_bound_says_so),
        cmocka_unit_test(the_bound_knows_the_idleness_of_the_first_lag_and_the_last_rest),
        cmocka_unit_test(more_work_never_finishes_later),
        cmocka_unit_test(what_stays_open_claims_no_more_than_is_found),
        cmocka_unit_test(a_large_round_is_bettered_and_nothing_more_is_claimed),
        cmocka_unit_test(whoever_looks_on_ends_the_search_and_gets_the_best_so_far),
        cmocka_unit_test(the_same_problem_gives_the_same_bytes),
        cmocka_unit_test(no_tanks_make_an_empty_plan),
        cmocka_unit_test(a_quarantine_lengthens_a_round_by_no_more_than_itself),
        cmocka_unit_test(a_hundred_tanks_come_within_a_tenth_of_the_bound),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
