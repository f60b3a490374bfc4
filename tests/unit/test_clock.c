/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a lead asks of the clock: an end, a first tank, a late feeder. Over random facilities, from the rounds' rows. */
#include "facility_random.h"
#include "neap/replan.h"
#include "tests.h"

enum { ROUNDS = TRIALS(50), TEN = 10 * 60 };

static struct random_facility here;

static bool plan_asked(struct plan_request request, struct round *r, struct err *e)
{
    request.day = RANDOM_DAY;
    request.effort = 0.01;
    return plan_round(&here.f, &request, r, e);
}

static void must_plan(struct plan_request request, struct round *r, uint64_t seed)
{
    struct err e;
    if (!plan_asked(request, r, &e))
        fail_msg("facility %lu: %s", (unsigned long)seed, e.text);
}

static void a_round_to_be_done_by_a_minute_ends_then_and_is_the_same_round(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < ROUNDS; seed++) {
        struct round usual, moved;
        facility_random(&here, seed);
        must_plan((struct plan_request){.start_min = TEN}, &usual, seed);
        must_plan((struct plan_request){.start_min = -1, .done_by_min = 15 * 60}, &moved, seed);
        assert_int_equal(moved.n_lines, usual.n_lines);
        if (usual.n_lines > 0)
            assert_int_equal(moved.head.finish_min, 15 * 60);
        int by_min = moved.head.finish_min - usual.head.finish_min;
        for (size_t i = 0; i < moved.n_lines; i++) {
            assert_int_equal(moved.lines[i].start_min, usual.lines[i].start_min + by_min);
            assert_int_equal(moved.lines[i].end_min, usual.lines[i].end_min + by_min);
            assert_int_equal(moved.lines[i].feeder, usual.lines[i].feeder);
        }
        round_free(&usual);
        round_free(&moved);
    }
}

static void a_round_that_would_begin_at_night_is_refused(void **state)
{
    (void)state;
    struct round usual, r;
    struct err e;
    facility_random(&here, 4);
    must_plan((struct plan_request){.start_min = TEN}, &usual, 4);
    int took_min = usual.head.finish_min - usual.head.start_min;
    assert_true(took_min > 0);
    must_plan((struct plan_request){.start_min = -1, .done_by_min = EARLIEST_START_MIN + took_min}, &r, 4);
    assert_int_equal(r.head.start_min, EARLIEST_START_MIN);
    round_free(&r);
    assert_false(
        plan_asked((struct plan_request){.start_min = -1, .done_by_min = EARLIEST_START_MIN + took_min - 1}, &r, &e));
    assert_int_equal(e.code, ERR_INPUT);
    assert_non_null(strstr(e.text, "cannot be done by"));
    round_free(&usual);
}

/* A visit begins with the fish; INT_MAX: the tank has no corals to feed. */
static int first_visit(const struct round *r, size_t tank)
{
    int first = INT_MAX;
    bool fed = false;
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *line = &r->lines[i];
        if (line->tank != tank || line->action < ACTION_FISH || line->action > ACTION_TARGET)
            continue;
        fed |= line->action == ACTION_TARGET;
        first = line->start_min < first ? line->start_min : first;
    }
    return fed ? first : INT_MAX;
}

static bool quarantined(size_t tank) /* or stopped with one that is */
{
    for (size_t i = 0; i < here.f.n_tanks; i++)
        if (share_pump(&here.f, i, tank) && here.f.systems[here.f.tanks[i].system].quarantine)
            return true;
    return false;
}

static void tanks_asked_for_first_are_visited_before_all_others_in_that_order(void **state)
{
    (void)state;
    int tried = 0;
    for (uint64_t seed = 0; seed < ROUNDS; seed++) {
        struct round usual, r;
        const char *firsts[2];
        size_t tanks[2], n = 0;
        facility_random(&here, seed);
        must_plan((struct plan_request){.start_min = TEN}, &usual, seed);
        for (size_t t = here.f.n_tanks; t-- > 0 && n < 2;)
            if (first_visit(&usual, t) < INT_MAX && !quarantined(t) && !*here.f.tanks[t].pump) {
                firsts[n] = here.f.tanks[t].name;
                tanks[n++] = t;
            }
        round_free(&usual);
        if (n < 2)
            continue;
        tried++;
        must_plan((struct plan_request){.start_min = TEN, .first_tanks = firsts, .n_first_tanks = n}, &r, seed);
        assert_true(first_visit(&r, tanks[0]) <= first_visit(&r, tanks[1]));
        for (size_t t = 0; t < here.f.n_tanks; t++)
            if (t != tanks[0] && !quarantined(t))
                assert_true(first_visit(&r, tanks[1]) <= first_visit(&r, t));
        round_free(&r);
    }
    assert_true(tried > ROUNDS / 10);
}

static void a_late_feeder_does_nothing_before_he_comes(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < ROUNDS; seed++) {
        struct round r;
        const struct late_feeder late = {1, TEN + 25};
        facility_random(&here, seed);
        must_plan((struct plan_request){.start_min = TEN, .feeders = 2, .lates = &late, .n_lates = 1}, &r, seed);
        for (size_t i = 0; i < r.n_lines; i++)
            assert_true(r.lines[i].feeder == 2 || r.lines[i].start_min >= late.from_min);
        round_free(&r);
    }
}

static void a_late_feeder_still_lets_the_round_end_in_time(void **state)
{
    (void)state;
    int ended = 0;
    for (uint64_t seed = 0; seed < ROUNDS / 4; seed++) {
        struct round r;
        struct err e;
        const struct late_feeder late = {2, TEN};
        facility_random(&here, seed);
        if (!plan_asked(
                (struct plan_request){
                    .start_min = -1, .done_by_min = TEN + 30, .feeders = 2, .lates = &late, .n_lates = 1},
                &r, &e)) {
            assert_int_equal(e.code, ERR_INPUT);
            continue;
        }
        ended += r.n_lines > 0;
        assert_true(r.n_lines == 0 || r.head.finish_min <= TEN + 30);
        for (size_t i = 0; i < r.n_lines; i++)
            assert_true(r.lines[i].feeder == 1 || r.lines[i].start_min >= TEN);
        round_free(&r);
    }
    assert_true(ended > ROUNDS / 24);
}

static long colonies_fed(const struct round *r)
{
    long n = 0;
    for (size_t i = 0; i < r->n_lines; i++)
        n += r->lines[i].action == ACTION_TARGET ? r->lines[i].count : 0;
    return n;
}

static void corals_that_take_no_time_are_fed_all_the_same(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < ROUNDS; seed++) {
        struct round usual, swift;
        facility_random(&here, seed);
        here.f.settings.day_hands_min = 1e6;
        must_plan((struct plan_request){.start_min = TEN}, &usual, seed);
        for (size_t k = 0; k < here.f.n_kinds; k++)
            here.kinds[k].colony_s = here.kinds[k].mouth_s = 0;
        here.f.settings.tank_fixed_s = here.f.settings.refill_s = 0;
        must_plan((struct plan_request){.start_min = TEN}, &swift, seed);
        assert_int_equal(colonies_fed(&swift), colonies_fed(&usual));
        round_free(&usual);
        round_free(&swift);
    }
}

static void what_cannot_be_asked_is_refused_by_name(void **state)
{
    (void)state;
    static const char *const nowhere[] = {"Z9"};
    static const struct late_feeder third = {3, 600}, zero = {0, 600}, twice[] = {{1, 600}, {1, 660}};
    const struct {
        struct plan_request request;
        const char *says;
    } rows[] = {
        {{.start_min = -1, .first_tanks = nowhere, .n_first_tanks = 1}, "no tank \"Z9\" to be first"},
        {{.start_min = -1, .feeders = 2, .lates = &third, .n_lates = 1},
         "feeder 3 is late, but the round has 2 feeders"},
        {{.start_min = -1, .feeders = 1, .lates = &zero, .n_lates = 1},
         "feeder 0 is late, but the round has 1 feeder;"},
        {{.start_min = -1, .feeders = 2, .lates = twice, .n_lates = 2}, "feeder 1 is late twice"},
        {{.start_min = 480, .done_by_min = 600}, "both a start and an end"},
    };
    facility_random(&here, 4);
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct round r;
        struct err e;
        assert_false(plan_asked(rows[i].request, &r, &e));
        assert_int_equal(e.code, ERR_INPUT);
        if (!strstr(e.text, rows[i].says))
            fail_msg("row %zu: %s", i, e.text);
    }
}

/* A tank may be called what an option is called. */
static void a_request_is_read_back_as_it_was_written(void **state)
{
    (void)state;
    static const char *const firsts[] = {"X1 --feeders 1", "E1"}, *const skips[] = {"--skip --"};
    static const struct late_feeder lates[] = {{2, 555}, {3, 600}};
    static struct tank tanks[] = {{.name = "E1"}, {.name = "X1 --feeders 1"}, {.name = "--skip --"}};
    const struct facility house = {.tanks = tanks, .n_tanks = COUNT_OF(tanks)};
    const struct plan_request asked = {.start_min = 430,
                                       .done_by_min = 660,
                                       .feeders = 3,
                                       .max_pots = 2,
                                       .factor_max = 0.8,
                                       .effort = 0.1,
                                       .lates = lates,
                                       .n_lates = 2,
                                       .first_tanks = firsts,
                                       .n_first_tanks = 2,
                                       .skip_tanks = skips,
                                       .n_skip_tanks = 1};
    struct round kept = {.head = {.day = RANDOM_DAY, .request = ""}};
    struct plan_request read;
    struct arena a = {0};
    struct err e;
    assert_true(request_write(&asked, &house, &a, &kept.asked, &kept.n_asked, &e));
    assert_int_equal(kept.n_asked, 11);
    assert_true(request_read(&house, &kept, &a, &read, &e));
    assert_int_equal(read.day, RANDOM_DAY);
    assert_int_equal(read.start_min, 430);
    assert_int_equal(read.done_by_min, 660);
    assert_int_equal(read.feeders, 3);
    assert_int_equal(read.max_pots, 2);
    assert_true(read.factor_max == 0.8 && read.effort == 0.1);
    assert_int_equal(read.n_lates, 2);
    assert_int_equal(read.lates[1].from_min, 600);
    assert_int_equal(read.n_first_tanks, 2);
    assert_string_equal(read.first_tanks[0], "X1 --feeders 1");
    assert_string_equal(read.first_tanks[1], "E1");
    assert_int_equal(read.n_skip_tanks, 1);
    assert_string_equal(read.skip_tanks[0], "--skip --");
    assert_int_equal(read.n_resets, 0);
    const struct plan_request nothing = {.start_min = -1};
    assert_true(request_write(&nothing, &house, &a, &kept.asked, &kept.n_asked, &e));
    assert_int_equal(kept.n_asked, 0);
    assert_true(request_read(&house, &kept, &a, &read, &e));
    assert_int_equal(read.start_min, -1);
    arena_free(&a);
}

/* As store versions up to 7 kept it. */
static void a_request_that_was_kept_as_text_is_read_too(void **state)
{
    (void)state;
    static const char *const bad[] = {"--colour red", "--colour 3", "--pots", "--pots 0", "--late 2-09:15", "--late x=09:15"};
    const struct facility house = {0};
    struct round kept = {.head = {.request =
                                      "--done-by 11:00 --feeders 3 --late 2=09:15 --late 3=10:00 --first north 2 "
                                      "--first E1 --skip back wall --from-now 10:30 --pots 4"}};
    struct plan_request read;
    struct arena a = {0};
    struct err e;
    assert_true(request_read(&house, &kept, &a, &read, &e));
    assert_int_equal(read.start_min, -1);
    assert_int_equal(read.done_by_min, 660);
    assert_int_equal(read.feeders, 3);
    assert_int_equal(read.n_lates, 2);
    assert_int_equal(read.lates[1].from_min, 600);
    assert_string_equal(read.first_tanks[0], "north 2");
    assert_string_equal(read.first_tanks[1], "E1");
    assert_string_equal(read.skip_tanks[0], "back wall");
    assert_int_equal(read.n_resets, 1);
    assert_int_equal(read.max_pots, 4);
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        kept.head.request = bad[i];
        assert_false(request_read(&house, &kept, &a, &read, &e));
    }
    arena_free(&a);
}

SUITE(clock)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_round_to_be_done_by_a_minute_ends_then_and_is_the_same_round),
        cmocka_unit_test(a_round_that_would_begin_at_night_is_refused),
        cmocka_unit_test(tanks_asked_for_first_are_visited_before_all_others_in_that_order),
        cmocka_unit_test(a_late_feeder_does_nothing_before_he_comes),
        cmocka_unit_test(a_late_feeder_still_lets_the_round_end_in_time),
        cmocka_unit_test(corals_that_take_no_time_are_fed_all_the_same),
        cmocka_unit_test(what_cannot_be_asked_is_refused_by_name),
        cmocka_unit_test(a_request_is_read_back_as_it_was_written),
        cmocka_unit_test(a_request_that_was_kept_as_text_is_read_too),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
