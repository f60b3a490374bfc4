/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Who gets what of a ceiling, and how often: by hand, and beside rounds planned one after another. */
#include "neap/capacity.h"

#include "small_house.h"

static struct capacity capacity_of(struct arena *a)
{
    const struct capacity *systems;
    struct err e;
    if (!plan_capacity(&p.f, DAY, a, &systems, &e))
        fail_msg("%s", e.text);
    return systems[0];
}

/* Twelve lots of 20 mL take 0.15 each, 1.8 in all: with a round every second day that is 1.8 of a room of 1. */
static void corals_wait_by_as_much_as_they_ask_beyond_the_room(void **state)
{
    struct arena a = {0};
    (void)state;
    house_make();
    house_put(12, 0, 20);
    house_log(2);
    struct capacity c = capacity_of(&a);
    assert_true(c.by_log && c.overfull && !c.by_hands);
    assert_number(c.rounds_per_d, 0.5, 1e-12);
    assert_number(c.room_frac, 1, 1e-12);
    assert_number(c.asked_frac, 1.8, 1e-9);
    assert_number(c.times, 1.8, 1e-6);
    assert_number(c.interval_d, 2, 0);
    assert_number(c.gets_d, 3.6, 1e-5);
    assert_int_equal(c.rounds_enough, 4); /* each second of them: 0.9 a round */
    arena_free(&a);
}

static void a_water_that_can_be_fed_as_asked_is_not_overfull(void **state)
{
    struct arena a = {0};
    (void)state;
    house_make();
    house_put(12, 0, 20);
    struct capacity c = capacity_of(&a); /* no log: a round a day, so that each second one is asked for */
    assert_true(!c.by_log && !c.overfull);
    assert_number(c.asked_frac, 0.9, 1e-9);
    assert_number(c.times, 1, 0);
    house_log(7); /* rounds are rarer than what the kind asks for: that is no fault of the tank */
    p.f.n_colonies = 6;
    c = capacity_of(&a);
    assert_number(c.rounds_per_d, 4 / 28.0, 1e-12);
    assert_number(c.asked_frac, 0.9, 1e-9);
    assert_false(c.overfull);
    arena_free(&a);
}

/*
 * Who asks often and who asks seldom wait for the same multiple: 0.9 / (2 × 0.5 u) + 0.9 / (8 × 0.5 u) = 1, u = 1.125.
 */
static void all_wait_for_the_same_multiple_of_their_interval(void **state)
{
    struct arena a = {0};
    (void)state;
    house_make();
    p.kinds[1].interval_d = 8;
    house_put(6, 0, 20);
    house_put(6, 1, 20);
    house_log(2);
    struct capacity c = capacity_of(&a);
    assert_number(c.times, 1.125, 1e-6);
    assert_false(c.overfull); /* by less than a quarter */
    arena_free(&a);
}

static void a_broadcast_yields_to_the_corals(void **state)
{
    struct arena a = {0};
    (void)state;
    house_make();
    p.foods[0].broadcast_units_per_100l = 0.8;
    house_put(12, 0, 20);
    house_log(2);
    struct capacity c = capacity_of(&a);
    assert_number(c.room_frac, 1, 0);
    assert_number(c.times, 1.8, 1e-6); /* as without it */
    arena_free(&a);
}

/* 0.9 of each round goes to the obligate, as often as they ask; the others' 0.9 have 0.1 a round. */
static void obligate_feeders_have_the_room_first(void **state)
{
    struct arena a = {0};
    (void)state;
    house_make();
    p.kinds[1].need = NEED_OBLIGATE;
    house_put(6, 0, 20);
    house_put(6, 1, 20);
    house_log(2);
    struct capacity c = capacity_of(&a);
    assert_number(c.obligate_times, 1, 0);
    assert_number(c.times, 9, 1e-5);
    assert_int_equal(c.kind, 0);
    assert_number(c.gets_d, 18, 1e-4);
    house_put(4, 1, 20); /* 1.5 of obligate feeders alone: the others get nothing, and the obligate are named */
    c = capacity_of(&a);
    assert_number(c.obligate_times, 1.5, 1e-5);
    assert_true(isinf(c.times));
    assert_int_equal(c.kind, 1);
    arena_free(&a);
}

static void hands_that_are_too_few_are_told_from_a_ceiling(void **state)
{
    struct arena a = {0};
    (void)state;
    house_short_of_hands();
    struct capacity c = capacity_of(&a);
    assert_true(c.overfull && c.by_hands);
    assert_number(c.hands_frac, 2, 1e-9);
    assert_number(c.times, 2, 1e-6);
    p.f.settings.feeders = 2;
    assert_false(capacity_of(&a).overfull);
    arena_free(&a);
}

static size_t lots_fed(const struct round *r, int day)
{
    size_t n = 0;
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].colony != REF_NONE) {
            p.colonies[r->lines[i].colony].last_fed = day;
            n++;
        }
    return n;
}

/* Sixty rounds as planned, two days apart: the mean gap is the one told, within what one lot of sixty can shift. */
static void rounds_planned_one_after_another_come_to_the_same_gap(void **state)
{
    enum { ROUNDS = 60, WARM = 20 };
    struct arena a = {0};
    size_t fed = 0;
    (void)state;
    house_make();
    house_put(LOTS, 0, 6);
    house_log(2);
    double told_d = capacity_of(&a).gets_d; /* 60 × 6 × 0.0075 = 2.7 of a room of 1 */
    assert_number(told_d, 5.4, 1e-4);
    for (int i = 0; i < ROUNDS; i++) {
        const struct plan_request request = {.day = DAY + 2 * i, .start_min = -1, .effort = 0.0005};
        struct round r;
        struct err e;
        assert_true(plan_round(&p.f, &request, &r, &e));
        size_t n = lots_fed(&r, request.day);
        fed += i < WARM ? 0 : n;
        round_free(&r);
    }
    assert_number((double)LOTS * 2 * (ROUNDS - WARM) / (double)fed, told_d, 0.15);
    arena_free(&a);
}

static void a_water_over_its_ceiling_is_told_of(void **state)
{
    const struct plan_request request = {.day = DAY, .start_min = -1, .effort = 0.0005};
    struct round r;
    struct err e;
    size_t told = 0;
    (void)state;
    house_make();
    house_put(12, 0, 20);
    house_log(2);
    assert_true(plan_round(&p.f, &request, &r, &e));
    for (size_t i = 0; i < r.n_cautions; i++)
        if (strstr(r.cautions[i].text, "Over today's ceiling") != NULL) {
            assert_string_equal(
                r.cautions[i].text,
                "Over today's ceiling: stony in s, due every 2 d, can be fed about every 4 d with 3.5 rounds a week.");
            told++;
        }
    assert_int_equal(told, 1);
    round_free(&r);
}

/* 160 mL are 1.2 of the ceiling. Being most overdue, that lot would keep the others waiting for good. */
static void a_lot_too_large_for_the_ceiling_waits_alone(void **state)
{
    const struct plan_request request = {.day = DAY, .start_min = -1, .effort = 0.0005};
    struct round r;
    struct err e;
    (void)state;
    house_make();
    house_put(1, 0, 160);
    house_put(3, 0, 20);
    p.colonies[0].last_fed = DAY - 90;
    assert_true(plan_round(&p.f, &request, &r, &e));
    assert_int_equal(r.n_waitings, 1);
    assert_int_equal(r.waitings[0].colony, 0);
    assert_non_null(strstr(r.waitings[0].reason, "split the lot"));
    assert_int_equal(lots_fed(&r, DAY), 3);
    round_free(&r);
}

/* ---- one round: who is cut, and by how much ---------------------------------------------------------------------- */

/* A lot of 20 mL takes 0.3 of the ceiling at the strength of untested water, 0.75; portions may fall to a half. */
static void plan_cut(struct round *r)
{
    const struct plan_request request = {.day = DAY, .start_min = -1, .effort = 0.0005};
    struct err e;
    p.f.settings.portion_least_frac = 0.5;
    if (!plan_round(&p.f, &request, r, &e))
        fail_msg("%s", e.text);
}

static bool is_said(const struct round *r, const char *words)
{
    for (size_t i = 0; i < r->n_cautions; i++)
        if (strstr(r->cautions[i].text, words))
            return true;
    return false;
}

/* Every line of a kind gives so many mL. */
static void each_gets(const struct round *r, size_t kind, double ml)
{
    size_t n = 0;
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].colony != REF_NONE && p.colonies[r->lines[i].colony].kind == kind) {
            assert_number(r->lines[i].amount, ml, 1e-9);
            n++;
        }
    assert_true(n > 0);
}

static void portions_are_cut_before_anyone_waits(void **state)
{
    struct round r;
    (void)state;
    house_make();
    house_put(6, 0, 20); /* 1.8: portions of 1 / 1.8, down to a twentieth */
    plan_cut(&r);
    assert_int_equal(r.n_waitings, 0);
    each_gets(&r, 0, 20 * 0.55);
    assert_number(r.pots[0].factor, 0.75, 0.01); /* the slurry keeps its strength */
    assert_true(is_said(&r, "s: portions at 55 %"));
    round_free(&r);
    house_put(6, 0, 20); /* 3.6: a half of it in a slurry that is thinner by 1 / 1.8 */
    plan_cut(&r);
    assert_int_equal(r.n_waitings, 0);
    each_gets(&r, 0, 10);
    assert_number(r.pots[0].factor, 0.75 / 1.8, 0.01);
    round_free(&r);
    house_put(2, 0, 20); /* 4.2: thinner than a half of 0.75 nobody is fed, and so one has to wait */
    plan_cut(&r);
    assert_int_equal(r.n_waitings, 1);
    assert_non_null(strstr(r.waitings[0].reason, "even in the least portions"));
    round_free(&r);
}

static void the_broadcast_yields_before_any_portion(void **state)
{
    struct round r;
    (void)state;
    house_make();
    p.foods[0].broadcast_units_per_100l = 0.8; /* 0.6 of the ceiling */
    house_put(2, 0, 20);                       /* 0.6 */
    plan_cut(&r);
    each_gets(&r, 0, 20);
    assert_true(is_said(&r, "s: broadcast at 67 %"));
    round_free(&r);
    house_put(1, 0, 20); /* 0.9: a quarter of the broadcast stays for the cue, 0.15; portions give the 0.05 */
    plan_cut(&r);
    each_gets(&r, 0, 18);
    assert_true(is_said(&r, "s: broadcast at 25 %, portions at 90 %"));
    round_free(&r);
}

static void an_obligate_portion_is_cut_last(void **state)
{
    struct round r;
    (void)state;
    house_make();
    p.kinds[1].need = NEED_OBLIGATE;
    house_put(2, 0, 20);
    house_put(2, 1, 20); /* 1.2: the others to 1 / 1.5 and a step */
    plan_cut(&r);
    each_gets(&r, 0, 20 * 0.65);
    each_gets(&r, 1, 20);
    round_free(&r);
    house_put(1, 0, 20);
    house_put(1, 1, 20); /* 1.8: the others to a half, 0.45; the obligate to 0.55 / 0.9 */
    plan_cut(&r);
    each_gets(&r, 0, 10);
    each_gets(&r, 1, 12);
    round_free(&r);
}

/*
 * 0.3 of optional, 0.3 of regular and 0.6 of obligate corals: the optional give the 0.2 that are too many, to a half,
 * and a little.
 */
static void optional_kinds_give_way_first(void **state)
{
    struct round r;
    (void)state;
    house_make();
    p.kinds[0].need = NEED_OPTIONAL;
    house_put(1, 0, 20);
    house_put(3, 1, 20);
    plan_cut(&r);
    each_gets(&r, 0, 10);
    each_gets(&r, 1, 20 * 0.9); /* 0.05 of 0.9 too many: 0.94, down to a twentieth */
    round_free(&r);
}

static void a_lot_that_is_due_as_long_is_fed_if_it_is_obligate(void **state)
{
    struct round r;
    (void)state;
    house_make();
    p.kinds[1].need = NEED_OBLIGATE;
    house_put(14, 0, 20);
    house_put(1, 1, 20);
    for (size_t i = 0; i < 14; i++)
        p.colonies[i].last_fed = DAY - 90; /* far more overdue */
    p.colonies[14].last_fed = DAY - 2;
    plan_cut(&r);
    assert_true(r.n_waitings >= 1);
    for (size_t i = 0; i < r.n_waitings; i++)
        assert_int_not_equal(r.waitings[i].colony, 14);
    round_free(&r);
}

/* The sump's water and what the other tanks of a water leave count for all of them; of target food the half counts. */
static void a_ceiling_is_that_of_the_whole_water(void **state)
{
    struct round r;
    (void)state;
    house_make();
    p.systems[0].volume_l = 300;
    house_put(10, 0, 20); /* 3 of 100 L, 1 of 300 L */
    plan_cut(&r);
    each_gets(&r, 0, 20);
    round_free(&r);
    house_make();
    p.kinds[0].feeding = FEEDING_TARGET;
    p.kinds[0].mouth_rule = MOUTHS_ALL;
    house_put(6, 0, 20); /* 1.8 × 0.5 */
    plan_cut(&r);
    each_gets(&r, 0, 20);
    round_free(&r);
}

SUITE(plan_capacity)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(corals_wait_by_as_much_as_they_ask_beyond_the_room),
        cmocka_unit_test(a_water_that_can_be_fed_as_asked_is_not_overfull),
        cmocka_unit_test(all_wait_for_the_same_multiple_of_their_interval),
        cmocka_unit_test(a_broadcast_yields_to_the_corals),
        cmocka_unit_test(obligate_feeders_have_the_room_first),
        cmocka_unit_test(hands_that_are_too_few_are_told_from_a_ceiling),
        cmocka_unit_test(rounds_planned_one_after_another_come_to_the_same_gap),
        cmocka_unit_test(a_water_over_its_ceiling_is_told_of),
        cmocka_unit_test(a_lot_too_large_for_the_ceiling_waits_alone),
        cmocka_unit_test(portions_are_cut_before_anyone_waits),
        cmocka_unit_test(the_broadcast_yields_before_any_portion),
        cmocka_unit_test(an_obligate_portion_is_cut_last),
        cmocka_unit_test(optional_kinds_give_way_first),
        cmocka_unit_test(a_lot_that_is_due_as_long_is_fed_if_it_is_obligate),
        cmocka_unit_test(a_ceiling_is_that_of_the_whole_water),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
