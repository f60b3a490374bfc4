/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Units into each other, by published factors. */
#include "handbook_checks.h"

static double run_convert(const struct handbook_row *row)
{
    return handbook_in(row, 0, row->unit);
}

static double run_drops_from_ml(const struct handbook_row *row)
{
    return drops_from_ml(handbook_in(row, 0, ""), handbook_in(row, 1, ""));
}

static double run_ml_from_drops(const struct handbook_row *row)
{
    return ml_from_drops(handbook_in(row, 0, ""), handbook_in(row, 1, ""));
}

static void every_printed_factor_is_met(void **state)
{
    (void)state;
    static const struct handbook_function functions[] = {
        {"convert", run_convert}, {"drops_from_ml", run_drops_from_ml}, {"ml_from_drops", run_ml_from_drops}};
    assert_int_equal(handbook_run("units", functions, COUNT_OF(functions)), 48);
}

/* NIST Handbook 44, App. C; the number on the right is exact by definition, or a decimal form of it. */
static void functions_keep_the_exact_definitions(void **state)
{
    (void)state;
    static const struct {
        double (*f)(double);
        double in, out;
    } rows[] = {
        {litres_from_us_gal, 1, 3.785411784},
        {litres_from_imp_gal, 1, 4.54609},
        {litres_from_cubic_feet, 1, 28.316846592},
        {ml_from_us_fl_oz, 1, 29.5735295625},
        {ml_from_us_tsp, 1, 4.92892159375},
        {cm_from_inches, 1, 2.54},
        {g_from_oz, 16, 453.59237},
        {g_from_lb, 1, 453.59237},
        {fahrenheit_from_celsius, 100, 212},
        {fahrenheit_from_celsius, -40, -40},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        assert_number(rows[i].f(rows[i].in), rows[i].out, 1e-12 * (1 + fabs(rows[i].out)));
}

static void there_and_back_is_the_same(void **state)
{
    (void)state;
    static const struct {
        double (*there)(double), (*back)(double);
    } pairs[] = {
        {litres_from_us_gal, us_gal_from_litres}, {litres_from_imp_gal, imp_gal_from_litres},
        {ml_from_us_fl_oz, us_fl_oz_from_ml},     {ml_from_us_tsp, us_tsp_from_ml},
        {cm_from_inches, inches_from_cm},         {g_from_oz, oz_from_g},
    };
    for (size_t i = 0; i < COUNT_OF(pairs); i++)
        for (double v = 0.037; v < 1e6; v *= 7.3)
            assert_number(pairs[i].back(pairs[i].there(v)), v, 1e-12 * (32 + v));
}

SUITE(units)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_printed_factor_is_met),
        cmocka_unit_test(functions_keep_the_exact_definitions),
        cmocka_unit_test(there_and_back_is_the_same),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
