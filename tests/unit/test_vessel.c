/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How much is filled into a jug or a syringe, by hand. */
#include "neap/calc.h"

#include "numbers.h"
#include "tests.h"

static const struct vessel jug = {.step_ml = 5, .dead_ml = 5};

static void what_fits_into_ten_graduations_is_taken_in_a_small_one(void **state)
{
    static const struct {
        double wanted_ml, fill_ml;
    } cases[] = {
        {48.6, 50}, /* and 1 mL kept, to 1 mL */
        {49, 50},   /* ten graduations just hold it */
        {49.1, 55}, /* 54.1 in the large one, to 5 mL */
        {0.3, 2},   /* 1.3 */
        {95, 100},  /* 5 mL kept */
    };
    (void)state;
    for (size_t i = 0; i < COUNT_OF(cases); i++)
        assert_number(vessel_fill_ml(&jug, cases[i].wanted_ml), cases[i].fill_ml, 1e-12);
}

static void the_small_one_reads_finer_and_keeps_less(void **state)
{
    (void)state;
    assert_number(vessel_step_ml(&jug, 50), 1, 1e-12);
    assert_number(vessel_dead_ml(&jug, 50), 1, 1e-12);
    assert_number(vessel_step_ml(&jug, 55), 5, 1e-12);
    assert_number(vessel_dead_ml(&jug, 55), 5, 1e-12);
}

SUITE(vessel)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_fits_into_ten_graduations_is_taken_in_a_small_one),
        cmocka_unit_test(the_small_one_reads_finer_and_keeps_less),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
