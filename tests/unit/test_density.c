/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Density and salinity, by published tables. */
#include "handbook_checks.h"

/* The tables of 1983 are on the temperature scale of 1968; the functions take that of 1990. */
static double temp_1990(const struct handbook_row *row, size_t i)
{
    return handbook_in(row, i, "C") / 1.00024;
}

static double density_1968(const struct handbook_row *row)
{
    struct err e = {0};
    double kg_m3 = NAN;
    if (!seawater_density(handbook_in(row, 0, "psu"), temp_1990(row, 1), &kg_m3, &e))
        fail_msg("%s: %s", row->id, e.text);
    return kg_m3;
}

/* In units of 1e-3 m3/kg, as the tables print it. */
static double specific_volume_1968(const struct handbook_row *row)
{
    return 1000 / density_1968(row);
}

static double specific_gravity_1968(const struct handbook_row *row)
{
    struct err e = {0};
    double sg = NAN;
    if (!specific_gravity(handbook_in(row, 0, "psu"), temp_1990(row, 1), temp_1990(row, 2), &sg, &e))
        fail_msg("%s: %s", row->id, e.text);
    return sg;
}

static double run_salinity(const struct handbook_row *row)
{
    struct err e = {0};
    double psu = NAN;
    if (!salinity_from_specific_gravity(handbook_in(row, 0, "sg"), handbook_in(row, 1, "C"), handbook_in(row, 2, "C"),
                                        &psu, &e))
        fail_msg("%s: %s", row->id, e.text);
    return psu;
}

static double run_mass(const struct handbook_row *row)
{
    struct err e = {0};
    double kg_m3 = NAN;
    if (!seawater_density(handbook_in(row, 1, "psu"), handbook_in(row, 2, "C"), &kg_m3, &e))
        fail_msg("%s: %s", row->id, e.text);
    return handbook_out(row, kg_m3 * handbook_in(row, 0, "L"), QUANTITY_MASS);
}

static void every_printed_density_is_met(void **state)
{
    (void)state;
    static const struct handbook_function functions[] = {{"density_1968", density_1968},
                                                         {"specific_volume_1968", specific_volume_1968},
                                                         {"specific_gravity_1968", specific_gravity_1968},
                                                         {"salinity", run_salinity},
                                                         {"mass", run_mass}};
    assert_int_equal(handbook_run("density", functions, COUNT_OF(functions)), 16);
}

static void salinity_comes_back_from_its_specific_gravity(void **state)
{
    (void)state;
    struct err e = {0};
    double sg = NAN, psu = NAN;
    for (double s = 0; s <= 42; s += 3.5)
        for (double t = -2; t <= 40; t += 6) {
            assert_true(specific_gravity(s, t, 20, &sg, &e));
            assert_true(salinity_from_specific_gravity(sg, t, 20, &psu, &e));
            assert_number(psu, s, 1e-9);
        }
}

static void density_rises_with_salt_and_falls_with_warmth(void **state)
{
    (void)state;
    struct err e = {0};
    double last = 0, now = NAN;
    for (double s = 0; s <= 42; s += 0.25) {
        assert_true(seawater_density(s, 25, &now, &e));
        assert_true(now > last);
        last = now;
    }
    for (double t = 0; t <= 40; t += 0.25) {
        assert_true(seawater_density(35, t, &now, &e));
        assert_true(now < last);
        last = now;
    }
}

static void what_lies_outside_the_formula_is_refused(void **state)
{
    (void)state;
    struct err e = {0};
    double v = 7;
    assert_false(seawater_density(42.1, 25, &v, &e));
    assert_string_equal(e.text, "salinity is 42.1; expected 0 to 42 psu");
    assert_false(seawater_density(35, 40.5, &v, &e));
    assert_string_equal(e.text, "temperature is 40.5; expected -2 to 40 °C");
    assert_false(seawater_density(NAN, 25, &v, &e) || seawater_density(35, NAN, &v, &e) ||
                 seawater_density(-0.1, 25, &v, &e));
    assert_false(specific_gravity(35, 25, 60, &v, &e));
    assert_string_equal(e.text, "reference temperature is 60; expected -2 to 40 °C");
    assert_false(specific_gravity(43, 25, 25, &v, &e));
    assert_string_equal(e.text, "salinity is 43; expected 0 to 42 psu");
    assert_false(specific_gravity(35, 41, 25, &v, &e));
    assert_string_equal(e.text, "temperature is 41; expected -2 to 40 °C");
    assert_false(salinity_from_specific_gravity(1.02, 41, 25, &v, &e));
    assert_string_equal(e.text, "temperature is 41; expected -2 to 40 °C");
    assert_false(salinity_from_specific_gravity(1.26, 25, 25, &v, &e));
    assert_string_equal(e.text, "specific gravity is 1.26; expected 1.0000 to 1.0317 (salinity 0 to 42, 25 °C against "
                                "water at 25 °C)");
    assert_false(salinity_from_specific_gravity(NAN, 25, 25, &v, &e) ||
                 salinity_from_specific_gravity(0.99, 25, 25, &v, &e));
    assert_true(v == 7);
}

SUITE(density)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_printed_density_is_met),
        cmocka_unit_test(salinity_comes_back_from_its_specific_gravity),
        cmocka_unit_test(density_rises_with_salt_and_falls_with_warmth),
        cmocka_unit_test(what_lies_outside_the_formula_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
