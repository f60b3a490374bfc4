/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Steps in a series, counted by hand and by chance. */
#include "numbers.h"
#include "neap/trend.h"

/*
 * K counted by hand: 1 2 3 | 7 8 9, every one of 3 × 3 pairs is higher after. Of the 20 ways to choose who stands first
 * two reach 9 at that split; the outer splits, 1|5 and 2|4, are not allowed with three on each side.
 */
static void a_step_is_where_the_ranks_part(void **state)
{
    (void)state;
    struct point p[] = {{0, 1, 1}, {1, 3, 3}, {2, 2, 2}, {3, 8, 8}, {4, 7, 7}, {5, 9, 9}};
    struct step s;
    assert_true(step_find(p, 6, 3, INFINITY, &s, NULL) && s.found);
    assert_int_equal(s.first_after, 3);
    assert_number(s.k, 9, 1e-12);
    assert_number(s.before, 2, 1e-12);
    assert_number(s.after, 8, 1e-12);
    assert_number(s.misfit, 4, 1e-12);
    assert_number(s.p, 0.1, 0.03);
    assert_true(step_find(p, 5, 3, INFINITY, &s, NULL));
    assert_false(s.found);
}

/* Pettitt's 1979 approximation is taken beyond 60 readings. */
static void a_long_series_takes_the_approximate_chance(void **state)
{
    (void)state;
    static struct point p[80];
    struct step s;
    for (size_t i = 0; i < 80; i++)
        p[i] = (struct point){(double)i, (double)(i * 37 % 80), (double)(i * 37 % 80)};
    assert_true(step_find(p, 80, 1, INFINITY, &s, NULL) && s.found);
    assert_number(s.p, fmin(1, 2 * exp(-6 * s.k * s.k / (80.0 * 80 * 80 + 80 * 80))), 1e-12);
    for (size_t i = 30; i < 80; i++)
        p[i].high = p[i].low += 100;
    assert_true(step_find(p, 80, 1, INFINITY, &s, NULL));
    assert_int_equal(s.first_after, 30);
    assert_number(s.k, 30 * 50, 1e-9);
    assert_true(s.p < 1e-9);
}

/* ---- headroom ---- */

static struct headroom room_of(const struct headroom_in *in)
{
    struct headroom h;
    struct err e;
    if (!headroom_find(in, &h, &e))
        fail_msg("%s", e.text);
    return h;
}

/* Worked by hand: 10 + 0.5 × 7 = 13.5 mg/L; (15 − 13.5) × 1000 L = 1500 mg. */
static void headroom_is_what_fits_between_projection_and_band(void **state)
{
    (void)state;
    struct headroom_in in = {10, 0.5, 7, 1000, {2, 15}, INFINITY};
    struct headroom h = room_of(&in);
    assert_number(h.projected, 13.5, 1e-12);
    assert_number(h.high_mg, 1500, 1e-9);
    assert_number(h.low_mg, -11500, 1e-9);
    assert_false(h.low_held || h.high_held);
    in.level = 14;
    assert_number(room_of(&in).high_mg, -2500, 1e-9); /* less must be given */
    in = (struct headroom_in){0.5, 0, 7, 1000, {2, 15}, INFINITY};
    assert_number(room_of(&in).low_mg, 1500, 1e-9); /* more must be given */
}

/* 2 mg/L a day at most, 0.5 of it already used: (2 − 0.5) × 7 × 1000 = 10500 mg up, (−2 − 0.5) × 7000 down. */
static void headroom_is_held_to_the_wanted_change_per_day(void **state)
{
    (void)state;
    struct headroom_in in = {1, 0.5, 7, 1000, {2, 30}, 2};
    struct headroom h = room_of(&in);
    assert_number(h.band_high_mg, 25500, 1e-9);
    assert_number(h.high_mg, 10500, 1e-9);
    assert_true(h.high_held && !h.low_held);
    in.level = 60;
    h = room_of(&in);
    assert_number(h.change_low_mg, -17500, 1e-9);
    assert_number(h.low_mg, -17500, 1e-9);
    assert_number(h.high_mg, -17500, 1e-9); /* even the fastest wanted fall does not reach the band */
    assert_true(h.high_held && h.low_held);
}

static void headroom_names_what_is_wrong(void **state)
{
    (void)state;
    struct headroom h;
    struct err e;
    static const struct {
        struct headroom_in in;
        const char *says;
    } rows[] = {
        {{-1, 0, 7, 1000, {2, 15}, 2}, "level"},       {{1, NAN, 7, 1000, {2, 15}, 2}, "slope"},
        {{1, 0, 0, 1000, {2, 15}, 2}, "horizon"},      {{1, 0, 7, 0, {2, 15}, 2}, "volume"},
        {{INFINITY, 0, 7, 1000, {2, 15}, 2}, "level"}, {{1, 0, INFINITY, 1000, {2, 15}, 2}, "horizon"},
        {{1, 0, 7, INFINITY, {2, 15}, 2}, "volume"},   {{1, 0, 7, 1000, {-INFINITY, 15}, 2}, "band"},
        {{1, 0, 7, 1000, {2, INFINITY}, 2}, "band"},   {{1, 0, 7, 1000, {15, 2}, 2}, "band"},
        {{1, 0, 7, 1000, {2, 15}, 0}, "change"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        assert_false(headroom_find(&rows[i].in, &h, &e));
        assert_non_null(strstr(e.text, rows[i].says));
    }
}

SUITE(trend_step)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_step_is_where_the_ranks_part),
        cmocka_unit_test(a_long_series_takes_the_approximate_chance),
        cmocka_unit_test(headroom_is_what_fits_between_projection_and_band),
        cmocka_unit_test(headroom_is_held_to_the_wanted_change_per_day),
        cmocka_unit_test(headroom_names_what_is_wrong),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
