/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Forecasts against what simulated waters then did. */
#include "numbers.h"
#include "neap/trend.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

static struct forecast forecast_of(const struct forecast_in *in, struct arena *a)
{
    struct forecast f;
    struct err e;
    if (!forecast_run(in, a, &f, &e))
        fail_msg("%s", e.text);
    return f;
}

enum { RUNS_MOST = 20000, FOODS_MOST = 2 };

/* A water known exactly: 10 mg/L now, and 0.5 a day come in. */
static const struct water_draw sure = {.level = 10, .background_per_d = 0.5};

/* As many draws alike as there are runs. */
static const struct water_draw *alike(const struct water_draw *d)
{
    static struct water_draw draws[RUNS_MOST];
    for (size_t i = 0; i < RUNS_MOST; i++)
        draws[i] = *d;
    return draws;
}

static struct forecast_in asked(const struct water_draw *d)
{
    return (struct forecast_in){
        .draws = alike(d), .runs = 200, .volume_l = 500, .band = {2, 15}, .strength_frac = 1, .days = 28, .seed = 1};
}

static struct forecast_food every_day(double units)
{
    struct forecast_food f = {0};
    for (size_t k = 0; k < FORECAST_WEEK_D; k++)
        f.amount[k] = units;
    return f;
}

static void a_line_known_exactly_goes_on(void **state)
{
    (void)state;
    struct arena a = {0};
    struct forecast_in in = asked(&sure);
    struct forecast f = forecast_of(&in, &a);
    assert_int_equal(f.n_days, 29);
    for (size_t d = 0; d < f.n_days; d++) {
        assert_int_equal(f.days[d].day, d);
        assert_number(f.days[d].p50, 10 + 0.5 * (double)d, 1e-9);
        assert_number(f.days[d].p95 - f.days[d].p05, 0, 1e-9);
    }
    assert_number(f.leaves_frac, 1, 0);
    assert_number(f.leaves_high_frac, 1, 0);
    assert_int_equal(f.leaves_day, 11); /* 15 on day 10 is still in the band */
    in.band.high = 40;
    f = forecast_of(&in, &a);
    assert_true(f.leaves_frac == 0 && f.leaves_day == -1);
    arena_free(&a);
}

/* (10 + 7 × 0.5) × 0.8 + 1 × 0.2 = 11; (11 + 3.5) × 0.8 + 0.2 = 11.8 */
static void a_weekly_change_thins_the_seventh_day(void **state)
{
    (void)state;
    struct arena a = {0};
    struct forecast_in in = asked(&sure);
    in.change_frac = 0.2;
    in.change_first_d = in.change_every_d = 7;
    in.new_value = 1;
    struct forecast f = forecast_of(&in, &a);
    assert_number(f.days[6].p50, 13, 1e-9);
    assert_number(f.days[7].p50, 11, 1e-9);
    assert_number(f.days[14].p50, 11.8, 1e-9);
    in.change_first_d = 3; /* (10 + 1.5) x 0.8 + 0.2 = 9.4 */
    f = forecast_of(&in, &a);
    assert_number(f.days[3].p50, 9.4, 1e-9);
    assert_number(f.days[9].p50, 12.4, 1e-9);
    assert_number(f.days[10].p50, 12.9 * 0.8 + 0.2, 1e-9);
    arena_free(&a);
}

/*
 * 6 g a day of 30 mg/g in 500 L make 0.36 mg/L a day, beside 0.14 of the water's own: half as strong takes 0.18 of it,
 * left out all of it.
 */
static void a_policy_changes_what_the_foods_bring(void **state)
{
    (void)state;
    struct arena a = {0};
    const double effects[] = {30, 10};
    const struct water_draw d = {.level = 10, .background_per_d = 0.14, .effects = effects};
    struct forecast_food foods[] = {every_day(6), every_day(2)};
    struct forecast_in in = asked(&d);
    in.foods = foods;
    in.n_foods = 1;
    assert_number(forecast_of(&in, &a).slope_policy_per_d, 0.5, 1e-12);
    in.strength_frac = 0.5;
    struct forecast f = forecast_of(&in, &a);
    assert_number(f.slope_policy_per_d, 0.32, 1e-12);
    assert_number(f.days[10].p50, 13.2, 1e-9);
    foods[0].skip = true;
    assert_number(forecast_of(&in, &a).slope_policy_per_d, 0.14, 1e-12);
    in.n_foods = 2; /* half of 2 x 10 / 500 */
    assert_number(forecast_of(&in, &a).slope_policy_per_d, 0.16, 1e-12);
    arena_free(&a);
}

/*
 * A tenth of the level is taken up a day: from 10 towards 0.5 / 0.1 = 5, so after t days 5 + 5 exp(-t / 10), the
 * equation's own solution. A food beside it that brings 0.2 in the middle of each third and sixth day of a week decays
 * from then on.
 */
static void uptake_bends_the_level_towards_its_balance(void **state)
{
    (void)state;
    struct arena a = {0};
    const double effect = 50;
    const struct water_draw d = {.level = 10, .background_per_d = 0.5, .uptake_per_d = 0.1, .effects = &effect};
    const struct forecast_food food = {.amount = {0, 0, 2, 0, 0, 2, 0}};
    struct forecast_in in = asked(&d);
    in.days = 200;
    struct forecast f = forecast_of(&in, &a);
    assert_number(f.slope_policy_per_d, 0.5 - 1, 1e-12);
    for (size_t t = 0; t <= 200; t += 25)
        assert_number(f.days[t].p50, 5 + 5 * exp(-(double)t / 10), 1e-9);
    in.foods = &food;
    in.n_foods = 1;
    in.fed_at_frac = 0.5;
    f = forecast_of(&in, &a);
    double week = 0.2 * (exp(-0.45) + exp(-0.15));
    assert_number(f.slope_policy_per_d, 0.5 - 1 + 0.4 / 7, 1e-12);
    assert_number(f.days[2].p50, 5 + 5 * exp(-0.2), 1e-9);
    assert_number(f.days[7].p50, 5 + 5 * exp(-0.7) + week, 1e-9);
    assert_number(f.days[196].p50, 5 + week / (1 - exp(-0.7)), 1e-6);
    arena_free(&a);
}

/* Draws whose effect is 30 ± 5 mg/g, of which 6 g a day more are fed: a spread of 0.06 mg/L a day. */
static void what_the_draws_leave_open_spreads_the_forecast(void **state)
{
    (void)state;
    struct arena a = {0};
    static double effects[RUNS_MOST];
    static struct water_draw draws[RUNS_MOST];
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    for (size_t i = 0; i < RUNS_MOST; i++) {
        effects[i] = 30 + gsl_ran_gaussian(rng, 5);
        draws[i] = (struct water_draw){.level = 10, .test_sd = 0.8, .effects = &effects[i]};
    }
    gsl_rng_free(rng);
    const struct forecast_food food = every_day(6);
    struct forecast_in in = asked(&sure);
    in.draws = draws;
    in.runs = RUNS_MOST;
    in.foods = &food;
    in.n_foods = 1;
    struct forecast f = forecast_of(&in, &a);
    assert_number(f.days[20].p50, 10 + 20 * 0.36, 0.04);
    assert_number(f.days[20].p95 - f.days[20].p05, 2 * 1.645 * 20 * 0.06, 0.10);
    assert_number(f.days[20].test_p95 - f.days[20].test_p05, 2 * 1.645 * sqrt(1.2 * 1.2 + 0.8 * 0.8), 0.15);
    assert_number(f.days[0].p95 - f.days[0].p05, 0, 1e-9);
    arena_free(&a);
}

/* 6 g ± 2 on two days of seven, of 30 mg/g in 500 L: eight feedings in four weeks, 0.12 mg/L x sqrt 8. */
static void what_is_fed_unevenly_spreads_it_too(void **state)
{
    (void)state;
    struct arena a = {0};
    const double effect = 30;
    const struct water_draw d = {.level = 10, .effects = &effect};
    const struct forecast_food food = {.amount = {0, 6, 0, 0, 6, 0, 0}, .spread = 2};
    struct forecast_in in = asked(&d);
    in.runs = RUNS_MOST;
    in.foods = &food;
    in.n_foods = 1;
    struct forecast f = forecast_of(&in, &a);
    assert_number(f.days[28].p50, 10 + 8 * 0.36, 0.01);
    assert_number(f.days[28].p95 - f.days[28].p05, 2 * 1.645 * 0.12 * sqrt(8), 0.03);
    in.strength_frac = 0.5;
    f = forecast_of(&in, &a);
    assert_number(f.days[28].p95 - f.days[28].p05, 1.645 * 0.12 * sqrt(8), 0.03);
    arena_free(&a);
}

/*
 * Jolts of 0.3 a root day make 0.3 x sqrt 16 in 16 days; with an uptake u they settle at 0.3 / sqrt(2 u), as an
 * Ornstein-Uhlenbeck process does. A drift of 0.2 a day is looked ahead at
 * twice as wide, and forgets itself in a year.
 */
static void shocks_and_drift_spread_as_their_equations_say(void **state)
{
    (void)state;
    struct arena a = {0};
    struct water_draw d = {.level = 50, .shock_sd = 0.3};
    struct forecast_in in = asked(&d);
    in.runs = RUNS_MOST;
    in.days = 16;
    struct forecast f = forecast_of(&in, &a);
    assert_number(f.days[16].p95 - f.days[16].p05, 2 * 1.645 * 0.3 * 4, 0.1);
    d.uptake_per_d = 0.02;
    d.background_per_d = 1;
    in = asked(&d);
    in.runs = RUNS_MOST;
    in.days = 200;
    f = forecast_of(&in, &a);
    assert_number(f.days[200].p95 - f.days[200].p05, 2 * 1.645 * 0.3 / sqrt(0.04), 0.15);
    /*
     * The level gathers the drift: its variance after t is s² (2 T (t - T g) - T² g²), g = 1 - exp(-t/T), where it
     * began at 0, and s twice what the draw has.
     */
    d = (struct water_draw){.level = 50, .drift_sd_per_d = 0.2};
    in = asked(&d);
    in.runs = RUNS_MOST;
    f = forecast_of(&in, &a);
    const double days = 365, gone = 1 - exp(-28 / days);
    const double sd = 2 * 0.2 * sqrt(2 * days * (28 - days * gone) - days * days * gone * gone);
    assert_number(f.days[28].p95 - f.days[28].p05, 2 * 1.645 * sd, 0.4);
    arena_free(&a);
}

static void the_same_seed_gives_the_same_bytes(void **state)
{
    (void)state;
    struct arena a = {0};
    struct water_draw d = sure;
    d.shock_sd = 0.5;
    struct forecast_in in = asked(&d);
    struct forecast f = forecast_of(&in, &a), g = forecast_of(&in, &a);
    assert_memory_equal(f.days, g.days, f.n_days * sizeof *f.days);
    in.seed = 2;
    g = forecast_of(&in, &a);
    assert_true(f.days[28].p50 != g.days[28].p50);
    arena_free(&a);
}

static void a_level_never_falls_below_zero(void **state)
{
    (void)state;
    struct arena a = {0};
    const struct water_draw d = {.level = 10, .background_per_d = -1};
    struct forecast_in in = asked(&d);
    struct forecast f = forecast_of(&in, &a);
    assert_number(f.days[28].p05, 0, 0);
    assert_number(f.leaves_high_frac, 0, 0);
    assert_int_equal(f.leaves_day, 9);
    assert_number(f.days[28].below_frac, 1, 0);
    arena_free(&a);
}

static void numbers_out_of_range_are_refused(void **state)
{
    (void)state;
    struct arena a = {0};
    struct err e;
    struct forecast f;
    const struct forecast_food food = every_day(-1);
    const struct water_draw odd = {.level = 10, .uptake_per_d = -0.1}, unknown = {.level = NAN};
    const struct forecast_food wild = {.amount = {1, 1, 1, 1, 1, 1, 1}, .spread = -1};
    struct water_draw own[200];
    struct forecast_in bad[14];
    for (size_t i = 0; i < COUNT_OF(bad); i++)
        bad[i] = asked(&sure);
    bad[0].volume_l = 0;
    bad[1].band = (struct level_band){15, 2};
    bad[2].strength_frac = -1;
    bad[3].change_frac = 1;
    bad[4].days = 0;
    bad[5].runs = 99;
    bad[6].foods = &food;
    bad[6].n_foods = 1;
    bad[9].foods = &wild;
    bad[9].n_foods = 1;
    bad[10].change_frac = 0.1; /* and never */
    bad[11].fed_at_frac = 1.5;
    bad[12].new_value = -1;
    bad[13].new_value = INFINITY;
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        memcpy(own, bad[i].draws, sizeof own);
        if (i == 7 || i == 8) {
            own[199] = i == 7 ? odd : unknown;
            bad[i].draws = own;
        }
        assert_false(forecast_run(&bad[i], &a, &f, &e));
        assert_int_equal(e.code, ERR_INPUT);
    }
    arena_free(&a);
}

/* Each number in turn is one that cannot be. */
static void each_number_that_cannot_be_is_named(void **state)
{
    (void)state;
    struct arena a = {0};
    const double effects[] = {0.1};
    struct forecast_in in;
    struct forecast_food food;
    struct water_draw draws[FORECAST_MIN_RUNS];
    struct water_draw *last = &draws[FORECAST_MIN_RUNS - 1];
    double *const strange = (double[]){0.1};
    const struct {
        double *number, is;
        const char *says;
    } rows[] = {
        {&in.volume_l, INFINITY, "volume is inf L"},
        {&in.strength_frac, INFINITY, "strength is inf"},
        {&in.change_frac, -0.1, "the water change is -0.1"},
        {&in.fed_at_frac, -0.1, "the hour of feeding is -0.1"},
        {&food.amount[6], INFINITY, "food 1 is inf a day"},
        {&food.spread, INFINITY, "food 1 spreads by inf"},
        {&food.spread, NAN, "food 1 spreads by nan"},
        {&last->level, INFINITY, "a draw of the water"},
        {&last->level, -1, "a draw of the water"},
        {&last->background_per_d, NAN, "a draw of the water"},
        {&last->drift_per_d, -INFINITY, "a draw of the water"},
        {&last->drift_sd_per_d, -1, "a draw of the water"},
        {&last->shock_sd, -1, "a draw of the water"},
        {&last->test_sd, -1, "a draw of the water"},
        {strange, NAN, "a draw of the water"},
    };
    const struct {
        int *number, is;
        const char *says;
    } counts[] = {
        {&in.days, FORECAST_MAX_DAYS + 1, "days ahead; expected 1 to"},
        {&in.runs, FORECAST_MAX_RUNS + 1, "runs; expected 100 to"},
        {&in.change_first_d, 0, "water is changed on day 0 and every 7 days"},
        {&in.change_every_d, 0, "water is changed on day 7 and every 0 days"},
    };
    for (size_t i = 0; i < COUNT_OF(rows) + COUNT_OF(counts) + 1; i++) {
        struct forecast f;
        struct err e = {0};
        food = every_day(1);
        strange[0] = effects[0];
        for (size_t k = 0; k < COUNT_OF(draws); k++)
            draws[k] = (struct water_draw){.level = 10, .effects = &draws[k] == last ? strange : effects};
        in = asked(&draws[0]);
        in.draws = draws;
        in.runs = FORECAST_MIN_RUNS;
        in.foods = &food;
        in.n_foods = 1;
        in.change_frac = 0.1;
        in.change_first_d = in.change_every_d = 7;
        if (i == COUNT_OF(rows) + COUNT_OF(counts)) {
            assert_true(forecast_run(&in, &a, &f, &e)); /* without any of them */
            break;
        }
        if (i < COUNT_OF(rows))
            *rows[i].number = rows[i].is;
        else
            *counts[i - COUNT_OF(rows)].number = counts[i - COUNT_OF(rows)].is;
        const char *says = i < COUNT_OF(rows) ? rows[i].says : counts[i - COUNT_OF(rows)].says;
        assert_false(forecast_run(&in, &a, &f, &e));
        if (!strstr(e.text, says))
            fail_msg("\"%s\" lacks \"%s\"", e.text, says);
    }
    arena_free(&a);
}

SUITE(trend_forecast)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_line_known_exactly_goes_on),
        cmocka_unit_test(a_weekly_change_thins_the_seventh_day),
        cmocka_unit_test(a_policy_changes_what_the_foods_bring),
        cmocka_unit_test(uptake_bends_the_level_towards_its_balance),
        cmocka_unit_test(what_the_draws_leave_open_spreads_the_forecast),
        cmocka_unit_test(what_is_fed_unevenly_spreads_it_too),
        cmocka_unit_test(shocks_and_drift_spread_as_their_equations_say),
        cmocka_unit_test(the_same_seed_gives_the_same_bytes),
        cmocka_unit_test(a_level_never_falls_below_zero),
        cmocka_unit_test(numbers_out_of_range_are_refused),
        cmocka_unit_test(each_number_that_cannot_be_is_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
