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

/* A line known exactly: 10 mg/L now, 0.5 a day. */
static struct state sure_state(void)
{
    return (struct state){.has_level = true,
                          .level = 10,
                          .has_slope = true,
                          .slope_per_d = 0.5,
                          .n_fitted = 9,
                          .centre_d = -14,
                          .spread_d2 = 735,
                          .verdict = STATE_RISING};
}

static struct forecast_in asked(const struct state *s)
{
    return (struct forecast_in){
        .state = s, .volume_l = 500, .band = {2, 15}, .strength_frac = 1, .days = 28, .runs = 200, .seed = 1};
}

static void a_line_known_exactly_goes_on(void **state)
{
    (void)state;
    struct arena a = {0};
    struct state s = sure_state();
    struct forecast_in in = asked(&s);
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
    struct state s = sure_state();
    struct forecast_in in = asked(&s);
    in.weekly_change_frac = 0.2;
    in.new_value = 1;
    struct forecast f = forecast_of(&in, &a);
    assert_number(f.days[6].p50, 13, 1e-9);
    assert_number(f.days[7].p50, 11, 1e-9);
    assert_number(f.days[14].p50, 11.8, 1e-9);
    arena_free(&a);
}

/* 6 g a day of 30 mg/g in 500 L make 0.36 mg/L a day: half as strong takes 0.18 of it, skipped all of it. */
static void a_policy_changes_the_slope_by_what_it_leaves_out(void **state)
{
    (void)state;
    struct arena a = {0};
    struct state s = sure_state();
    struct forecast_food foods[] = {{6, 30, 0, false}, {2, 10, 0, true}};
    struct forecast_in in = asked(&s);
    in.foods = foods;
    in.n_foods = 1;
    assert_number(forecast_of(&in, &a).slope_policy_per_d, 0.5, 1e-12);
    in.strength_frac = 0.5;
    struct forecast f = forecast_of(&in, &a);
    assert_number(f.slope_policy_per_d, 0.32, 1e-12);
    assert_number(f.days[10].p50, 13.2, 1e-9);
    foods[0].skip = true;
    assert_number(forecast_of(&in, &a).slope_policy_per_d, 0.14, 1e-12);
    in.n_foods = 2;
    assert_number(forecast_of(&in, &a).slope_policy_per_d, 0.10, 1e-12);
    arena_free(&a);
}

/* Only the effect is uncertain: ± 5 mg/g on 6 g a day skipped, so a normal spread of 0.06 mg/L a day. */
static void an_uncertain_effect_spreads_the_forecast(void **state)
{
    (void)state;
    struct arena a = {0};
    struct state s = sure_state();
    const struct forecast_food food = {6, 30, 5, true};
    struct forecast_in in = asked(&s);
    in.foods = &food;
    in.n_foods = 1;
    in.runs = 20000;
    in.test_sd = 0.8;
    struct forecast f = forecast_of(&in, &a);
    assert_number(f.days[20].p50, 10 + 20 * 0.14, 0.04);
    assert_number(f.days[20].p95 - f.days[20].p05, 2 * 1.645 * 20 * 0.06, 0.10);
    assert_number(f.days[20].test_p95 - f.days[20].test_p05, 2 * 1.645 * sqrt(1.2 * 1.2 + 0.8 * 0.8), 0.15);
    assert_number(f.days[0].p95 - f.days[0].p05, 0, 1e-9);
    in.strength_frac = 1; /* an uncertain food that stays as it was changes nothing */
    const struct forecast_food stays = {6, 30, 5, false};
    in.foods = &stays;
    f = forecast_of(&in, &a);
    assert_number(f.days[20].p95 - f.days[20].p05, 0, 1e-9);
    arena_free(&a);
}

static void the_same_seed_gives_the_same_bytes(void **state)
{
    (void)state;
    struct arena a = {0};
    struct state s = sure_state();
    s.residual_sd = 0.5;
    struct forecast_in in = asked(&s);
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
    struct state s = sure_state();
    s.slope_per_d = -1;
    s.verdict = STATE_FALLING;
    struct forecast_in in = asked(&s);
    struct forecast f = forecast_of(&in, &a);
    assert_number(f.days[28].p05, 0, 0);
    assert_number(f.leaves_high_frac, 0, 0);
    assert_int_equal(f.leaves_day, 9);
    assert_number(f.days[28].below_frac, 1, 0);
    arena_free(&a);
}

static void a_forecast_without_a_slope_is_refused(void **state)
{
    (void)state;
    struct arena a = {0};
    struct err e;
    struct forecast f;
    struct state s = sure_state(), few = {.verdict = STATE_TOO_FEW};
    struct forecast_in in = asked(&few);
    assert_false(forecast_run(&in, &a, &f, &e));
    assert_non_null(strstr(e.text, "too few readings"));
    const struct forecast_food food = {-1, 30, 5, true};
    struct forecast_in bad[8];
    for (size_t i = 0; i < COUNT_OF(bad); i++)
        bad[i] = asked(&s);
    bad[0].volume_l = 0;
    bad[1].band = (struct level_band){15, 2};
    bad[2].strength_frac = -1;
    bad[3].weekly_change_frac = 1;
    bad[4].days = 0;
    bad[5].runs = 99;
    bad[6].test_sd = NAN;
    bad[7].foods = &food;
    bad[7].n_foods = 1;
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        assert_false(forecast_run(&bad[i], &a, &f, &e));
        assert_int_equal(e.code, ERR_INPUT);
    }
    arena_free(&a);
}

/* ---- calibration: known systems, tested for four weeks, forecast two weeks ahead under a changed policy ---- */

struct truth {
    double tests_per_week, slope_per_d, test_sd, effect, effect_sd;
};

static void past_simulate(const struct truth *t, gsl_rng *rng, struct state *s, struct arena *a)
{
    struct reading r[40];
    size_t n = 0;
    struct err e;
    for (double day = 0; day <= 28; day += 7 / t->tests_per_week) {
        double level = 20 + t->slope_per_d * (day - 28);
        double value = level + gsl_ran_gaussian(rng, t->test_sd);
        r[n++] = (struct reading){(long)(day * (double)MIN_PER_DAY), value, false, 0};
    }
    const struct state_in in = {.readings = r,
                                .n_readings = n,
                                .now_min = 28 * MIN_PER_DAY,
                                .window_d = 28,
                                .stale_d = 14,
                                .confidence_frac = 0.9,
                                .band = {2, 15}};
    if (!state_fit(&in, a, s, &e))
        fail_msg("%s", e.text);
}

static void forecasts_hold_the_future_in_87_to_93_percent(void **state)
{
    (void)state;
    static const struct truth rows[] = {{1, 0.1, 0.5, 0, 0}, {2, 0.1, 0.5, 30, 8}, {3, -0.1, 0.3, 20, 5}};
    enum { RUNS = 2000, AHEAD = 14 };
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 3);
    for (size_t row = 0; row < COUNT_OF(rows); row++) {
        const struct truth *t = &rows[row];
        size_t held = 0, tests_held = 0, runs = 0;
        for (size_t i = 0; i < RUNS; i++) {
            struct arena a = {0};
            struct state s;
            past_simulate(t, rng, &s, &a);
            const struct forecast_food food = {6, t->effect, t->effect_sd, true};
            struct forecast_in in = asked(&s);
            in.foods = &food;
            in.n_foods = 1;
            in.days = AHEAD;
            in.test_sd = t->test_sd;
            in.weekly_change_frac = 0.1;
            in.seed = i;
            double effect = t->effect + gsl_ran_gaussian(rng, t->effect_sd), level = 20;
            for (int day = 1; day <= AHEAD; day++) {
                level += t->slope_per_d - 6 * effect / 500;
                level *= day % 7 == 0 ? 0.9 : 1;
            }
            double test = level + gsl_ran_gaussian(rng, t->test_sd);
            if (s.has_slope) {
                struct forecast f = forecast_of(&in, &a);
                const struct forecast_day *d = &f.days[AHEAD];
                runs++;
                held += d->p05 <= level && level <= d->p95;
                tests_held += d->test_p05 <= test && test <= d->test_p95;
            }
            arena_free(&a);
        }
        double frac = (double)held / (double)runs, tests_frac = (double)tests_held / (double)runs;
        print_message("forecast, %g tests a week: level %.3f, test %.3f of %zu\n", t->tests_per_week, frac, tests_frac,
                      runs);
        assert_true(frac >= 0.87 && frac <= 0.93 && tests_frac >= 0.87 && tests_frac <= 0.93);
    }
    gsl_rng_free(rng);
}

SUITE(trend_forecast)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_line_known_exactly_goes_on),
        cmocka_unit_test(a_weekly_change_thins_the_seventh_day),
        cmocka_unit_test(a_policy_changes_the_slope_by_what_it_leaves_out),
        cmocka_unit_test(an_uncertain_effect_spreads_the_forecast),
        cmocka_unit_test(the_same_seed_gives_the_same_bytes),
        cmocka_unit_test(a_level_never_falls_below_zero),
        cmocka_unit_test(a_forecast_without_a_slope_is_refused),
        cmocka_unit_test(forecasts_hold_the_future_in_87_to_93_percent),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
