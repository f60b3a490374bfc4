#include "numbers.h"
#include "neap/trend.h"

/* NIST/SEMATECH e-Handbook, 6.3.2.4. */
static void an_ewma_chart_matches_the_handbook(void **state)
{
    (void)state;
    static const double y[] = {52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
                               49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
    static const double printed[] = {50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
                                     50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99};
    double z[COUNT_OF(y)];
    struct chart c;
    struct ewma_in in = {y, COUNT_OF(y), 50, 2.0539, 0.3, 3};
    assert_true(chart_ewma(&in, z, &c, NULL));
    for (size_t i = 0; i < COUNT_OF(y); i++)
        assert_number(z[i], printed[i], 0.00501);
    assert_number(c.upper, 52.5884, 5e-5);
    assert_number(c.lower, 47.4115, 1e-4); /* printed cut, not rounded */
    assert_int_equal(c.first_outside, COUNT_OF(y));
    in.width = 2;
    assert_true(chart_ewma(&in, z, &c, NULL));
    assert_int_equal(c.first_outside, 18); /* 51.94 is the first above 51.73 */
}

/* NIST/SEMATECH e-Handbook, 6.3.2.2. */
static void an_individuals_chart_matches_the_handbook(void **state)
{
    (void)state;
    static const double y[] = {49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
    double range;
    struct chart c;
    assert_true(chart_individuals(y, COUNT_OF(y), &range, &c, NULL));
    assert_number(c.centre, 50.81, 5e-3);
    assert_number(range, 1.8778, 5e-5);
    assert_number(c.upper, 55.8041, 5e-5);
    assert_number(c.lower, 45.8159, 5e-5);
    assert_int_equal(c.first_outside, COUNT_OF(y));
    static const double wild[] = {5, 5.1, 5, 5.1, 5, 9, 5.1, 5, 5.1, 5, 5.1, 5, 5.1, 5};
    assert_true(chart_individuals(wild, COUNT_OF(wild), &range, &c, NULL));
    assert_int_equal(c.first_outside, 5);
}

/* A course exercise in time series forecasting: alpha 0.3, the first forecast is the first value. */
static void exponential_smoothing_matches_the_exercise(void **state)
{
    (void)state;
    static const double y[] = {99, 88, 50, 58, 62, 60, 55, 62, 71, 65};
    static const double printed[] = {99.0, 95.7, 82.0, 74.8, 71.0, 67.7, 63.9, 63.3, 65.6}; /* periods 2 to 10 */
    double f[COUNT_OF(y) + 1], squares = 0;
    assert_true(smooth_exponential(y, COUNT_OF(y), 0.3, f, NULL));
    for (size_t i = 0; i < COUNT_OF(printed); i++) {
        assert_number(f[i + 1], printed[i], 0.0501);
        squares += (y[i + 1] - f[i + 1]) * (y[i + 1] - f[i + 1]);
    }
    assert_number(squares / 9, 365.80, 5e-3);
    assert_number(f[10], 65.42, 0.02);
}

/*
 * K counted by hand: 1 2 3 | 7 8 9, every one of 3 × 3 pairs is higher after. Of the 20 ways to choose who stands first
 * two reach 9 at that split; the outer splits, 1|5 and 2|4, are not allowed with three on each side.
 */
static void a_step_is_where_the_ranks_part(void **state)
{
    (void)state;
    struct point p[] = {{0, 1, 1}, {1, 3, 3}, {2, 2, 2}, {3, 8, 8}, {4, 7, 7}, {5, 9, 9}};
    struct step s;
    assert_true(step_find(p, 6, 3, &s, NULL) && s.found);
    assert_int_equal(s.first_after, 3);
    assert_number(s.k, 9, 1e-12);
    assert_number(s.before, 2, 1e-12);
    assert_number(s.after, 8, 1e-12);
    assert_number(s.misfit, 4, 1e-12);
    assert_number(s.p, 0.1, 0.03);
    assert_true(step_find(p, 5, 3, &s, NULL));
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
    assert_true(step_find(p, 80, 1, &s, NULL) && s.found);
    assert_number(s.p, fmin(1, 2 * exp(-6 * s.k * s.k / (80.0 * 80 * 80 + 80 * 80))), 1e-12);
    for (size_t i = 30; i < 80; i++)
        p[i].high = p[i].low += 100;
    assert_true(step_find(p, 80, 1, &s, NULL));
    assert_int_equal(s.first_after, 30);
    assert_number(s.k, 30 * 50, 1e-9);
    assert_true(s.p < 1e-9);
}

static void charts_refuse_what_they_cannot_draw(void **state)
{
    (void)state;
    struct err e;
    struct chart c;
    double y[] = {1, NAN}, out[3], range;
    assert_false(chart_individuals(y, 1, &range, &c, &e));
    assert_int_equal(e.code, ERR_INPUT);
    assert_false(chart_individuals(y, 2, &range, &c, &e));
    assert_non_null(strstr(e.text, "value 2"));
    assert_false(chart_ewma(&(struct ewma_in){y, 1, 1, 1, 0, 3}, out, &c, &e));
    assert_non_null(strstr(e.text, "lambda"));
    assert_false(chart_ewma(&(struct ewma_in){y, 1, 1, 0, 0.3, 3}, out, &c, &e));
    assert_false(smooth_exponential(y, 1, 1.1, out, &e));
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
        {{-1, 0, 7, 1000, {2, 15}, 2}, "level"},  {{1, NAN, 7, 1000, {2, 15}, 2}, "slope"},
        {{1, 0, 0, 1000, {2, 15}, 2}, "horizon"}, {{1, 0, 7, 0, {2, 15}, 2}, "volume"},
        {{1, 0, 7, 1000, {15, 2}, 2}, "band"},    {{1, 0, 7, 1000, {2, 15}, 0}, "change"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        assert_false(headroom_find(&rows[i].in, &h, &e));
        assert_non_null(strstr(e.text, rows[i].says));
    }
}

SUITE(trend_chart)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_ewma_chart_matches_the_handbook),
        cmocka_unit_test(an_individuals_chart_matches_the_handbook),
        cmocka_unit_test(exponential_smoothing_matches_the_exercise),
        cmocka_unit_test(a_step_is_where_the_ranks_part),
        cmocka_unit_test(a_long_series_takes_the_approximate_chance),
        cmocka_unit_test(charts_refuse_what_they_cannot_draw),
        cmocka_unit_test(headroom_is_what_fits_between_projection_and_band),
        cmocka_unit_test(headroom_is_held_to_the_wanted_change_per_day),
        cmocka_unit_test(headroom_names_what_is_wrong),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
