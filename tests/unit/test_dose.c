/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Doses and changes of water, by published examples. */
#include "handbook_checks.h"
#include "neap/stock.h"

static double run_dose_amount(const struct handbook_row *row)
{
    struct err e = {0};
    double mg = NAN, litres = handbook_in(row, 0, "L"), wanted = handbook_in(row, 1, "mg/L");
    if (!dose_amount_mg(litres, wanted, handbook_in(row, 2, "%") / 100, &mg, &e))
        fail_msg("%s: %s", row->id, e.text);
    return handbook_out(row, mg / 1000, QUANTITY_MASS);
}

static double run_dose_rise(const struct handbook_row *row)
{
    struct err e = {0};
    double rise = NAN, mg = handbook_in(row, 0, "mg"), active_frac = handbook_in(row, 1, "%") / 100;
    if (!dose_rise_mg_l(mg, active_frac, handbook_in(row, 2, "L"), &rise, &e))
        fail_msg("%s: %s", row->id, e.text);
    return handbook_out(row, rise, QUANTITY_CONCENTRATION);
}

/* A stock of so many grams in a volume; so many drops of it, so many to the mL, into another volume. */
static double run_stock_drops(const struct handbook_row *row)
{
    struct err e = {0};
    double stock_mg_l = NAN, conc = NAN, final_l = handbook_in(row, 4, "L");
    double drop_l = ml_from_drops(handbook_in(row, 2, ""), handbook_in(row, 3, "")) / 1000;
    if (!dose_rise_mg_l(handbook_in(row, 0, "mg"), 1, handbook_in(row, 1, "L"), &stock_mg_l, &e) ||
        !dilution_conc(stock_mg_l, drop_l, final_l, &conc, &e))
        fail_msg("%s: %s", row->id, e.text);
    return handbook_out(row, conc, QUANTITY_CONCENTRATION);
}

static double run_dilution_conc(const struct handbook_row *row)
{
    struct err e = {0};
    double conc = NAN;
    if (!dilution_conc(handbook_in(row, 0, ""), handbook_in(row, 1, "mL"), handbook_in(row, 2, "mL"), &conc, &e))
        fail_msg("%s: %s", row->id, e.text);
    return conc;
}

static double run_dilution_stock(const struct handbook_row *row)
{
    struct err e = {0};
    double ml = NAN;
    if (!dilution_stock_volume(handbook_in(row, 0, ""), handbook_in(row, 1, ""), handbook_in(row, 2, "mL"), &ml, &e))
        fail_msg("%s: %s", row->id, e.text);
    return ml;
}

static double run_water_change(const struct handbook_row *row)
{
    struct err e = {0};
    double after = NAN, changed_frac = handbook_in(row, 2, "%") / 100;
    if (!water_change_mg_l(handbook_in(row, 0, ""), handbook_in(row, 1, ""), changed_frac,
                           (long)handbook_in(row, 3, ""), &after, &e))
        fail_msg("%s: %s", row->id, e.text);
    return after;
}

static double run_washout(const struct handbook_row *row)
{
    struct err e = {0};
    double after = NAN;
    if (!washout_mg_l(handbook_in(row, 0, ""), handbook_in(row, 1, ""), handbook_in(row, 2, ""), &after, &e))
        fail_msg("%s: %s", row->id, e.text);
    return after;
}

static double run_washout_min(const struct handbook_row *row)
{
    struct err e = {0};
    double min = NAN;
    if (!washout_min(handbook_in(row, 0, "%") / 100, handbook_in(row, 1, ""), &min, &e))
        fail_msg("%s: %s", row->id, e.text);
    return handbook_out(row, min, QUANTITY_TIME);
}

static double run_broadcast(const struct handbook_row *row)
{
    struct err e = {0};
    double ml = NAN, step_ml = handbook_in(row, 2, "mL");
    struct broadcast_rule r = {handbook_in(row, 0, "L"), handbook_in(row, 1, "mL/100L"), NAN, step_ml};
    if (!broadcast_volume_ml(&r, &ml, &e))
        fail_msg("%s: %s", row->id, e.text);
    return ml;
}

static void every_printed_dose_is_met(void **state)
{
    (void)state;
    static const struct handbook_function functions[] = {{"dose_amount", run_dose_amount},
                                                         {"dose_rise", run_dose_rise},
                                                         {"stock_drops", run_stock_drops},
                                                         {"dilution_conc", run_dilution_conc},
                                                         {"dilution_stock", run_dilution_stock},
                                                         {"water_change", run_water_change},
                                                         {"washout", run_washout},
                                                         {"broadcast", run_broadcast}};
    assert_int_equal(handbook_run("dose", functions, COUNT_OF(functions)), 24);
}

static void every_printed_washout_time_is_met(void **state)
{
    (void)state;
    static const struct handbook_function functions[] = {{"washout_min", run_washout_min}};
    assert_int_equal(handbook_run("washout", functions, COUNT_OF(functions)), 66);
}

static void a_dose_and_its_rise_are_inverse(void **state)
{
    (void)state;
    struct err e = {0};
    double mg = NAN, rise = NAN;
    for (double litres = 0.5; litres < 1e6; litres *= 11) {
        assert_true(dose_amount_mg(litres, 0.7, 0.25, &mg, &e) && dose_rise_mg_l(mg, 0.25, litres, &rise, &e));
        assert_number(rise, 0.7, 1e-12);
    }
}

/* Three fifths changed once is no more than three changes of a fifth each: 20 mg/L against 25.6 mg/L. */
static void changes_in_steps_remove_less_than_one_of_the_same_water(void **state)
{
    (void)state;
    struct err e = {0};
    double once = NAN, steps = NAN, flow = NAN;
    assert_true(water_change_mg_l(50, 0, 0.6, 1, &once, &e));
    assert_true(water_change_mg_l(50, 0, 0.2, 3, &steps, &e));
    assert_true(washout_mg_l(50, 0, 0.6, &flow, &e));
    assert_number(once, 20, 1e-12);
    assert_true(once < steps && steps < flow);
}

/* The definition of the exponential as a limit: ever smaller changes of the same water become continuous exchange. */
static void many_small_changes_become_a_continuous_exchange(void **state)
{
    (void)state;
    struct err e = {0};
    double steps = NAN, flow = NAN;
    assert_true(water_change_mg_l(50, 4, 0.6 / 1000000, 1000000, &steps, &e));
    assert_true(washout_mg_l(50, 4, 0.6, &flow, &e));
    assert_number(steps, flow, 1e-4);
}

static void the_fraction_to_change_brings_the_wanted_level(void **state)
{
    (void)state;
    struct err e = {0};
    double frac = 7, after = NAN;
    assert_true(water_change_frac(50, 2, 20, &frac, &e));
    assert_number(frac, 0.625, 1e-12); /* 30 of the 48 mg/L between old and fresh water */
    assert_true(water_change_mg_l(50, 2, frac, 1, &after, &e));
    assert_number(after, 20, 1e-12);
    assert_true(water_change_frac(5, 5, 5, &frac, &e) && frac == 0);
    assert_true(water_change_frac(5, 10, 10, &frac, &e) && frac == 1);
    assert_false(water_change_frac(50, 2, 1, &frac, &e));
    assert_string_equal(e.text, "wanted level is 1 mg/L; expected between the fresh water's 2 and today's 50");
    assert_true(frac == 1);
}

static void fresh_water_of_its_own_level_is_where_changes_lead(void **state)
{
    (void)state;
    struct err e = {0};
    double after = NAN;
    assert_true(water_change_mg_l(3, 8, 1, 1, &after, &e) && after == 8);
    assert_true(water_change_mg_l(3, 8, 0.5, 0, &after, &e) && after == 3);
    assert_true(water_change_mg_l(3, 8, 0.5, 1, &after, &e));
    assert_number(after, 5.5, 1e-12);
    assert_true(washout_mg_l(3, 8, 50, &after, &e));
    assert_number(after, 8, 1e-9);
}

static void a_broadcast_is_cut_to_the_ceiling_and_rounded_down(void **state)
{
    (void)state;
    static const struct {
        struct broadcast_rule rule;
        double ml;
    } rows[] = {
        {{300, 5, NAN, 1}, 15},      {{300, 5.6, NAN, 1}, 16}, {{300, 5.6, NAN, 5}, 15},
        {{300, 5, 4.9, 1}, 14}, /* 14.7 mL at the ceiling */
        {{300, 5, 5, 1}, 15},   /* at the ceiling is not above it */
        {{300, 5, 0, 1}, 0},         {{30, 1, NAN, 0.5}, 0},   {{30, 0, 5, 0.1}, 0},
        {{100, 0.3, 0.3, 0.1}, 0.3}, /* three steps of a tenth, in spite of their binary form */
    };
    struct err e = {0};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        double ml = NAN;
        assert_true(broadcast_volume_ml(&rows[i].rule, &ml, &e));
        assert_number(ml, rows[i].ml, 1e-12);
    }
}

static void a_rounded_dose_never_passes_the_ceiling(void **state)
{
    (void)state;
    static const double steps[] = {0.1, 0.2, 0.25, 0.5, 1, 2.5, 5};
    struct err e = {0};
    for (size_t i = 0; i < COUNT_OF(steps); i++)
        for (double volume = 12; volume < 5000; volume *= 1.37)
            for (double ceiling = 0.05; ceiling < 20; ceiling *= 1.83) {
                struct broadcast_rule r = {volume, ceiling * 1.4, ceiling, steps[i]};
                double ml = NAN, most = ceiling * volume / 100;
                assert_true(broadcast_volume_ml(&r, &ml, &e));
                assert_true(ml >= 0 && ml <= most * (1 + 1e-9) && ml > most - steps[i] * (1 + 1e-9));
            }
}

/* A scale of 0.01 g and a syringe of 0.1 mL, by the rule as the header states it. */
static void a_measure_may_be_off_by_a_step_or_a_twentieth(void **state)
{
    static const struct {
        double amount, step, least, most;
    } rows[] = {
        {0.04, 0.01, 0.04, 0.04}, /* a few steps: just that */
        {0.05, 0.01, 0.04, 0.06}, {0.38, 0.01, 0.37, 0.39}, {0.40, 0.01, 0.38, 0.42}, {1.87, 0.01, 1.78, 1.96},
        {0.4, 0.1, 0.4, 0.4},     {3.0, 0.1, 2.9, 3.1},     {12, 0.1, 11.4, 12.6},
    };
    (void)state;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        const struct allowance a = measure_allowance(rows[i].amount, rows[i].step);
        assert_true(fabs(a.least - rows[i].least) < 1e-9 && fabs(a.most - rows[i].most) < 1e-9);
    }
}

static void wrong_doses_are_refused_by_name(void **state)
{
    (void)state;
    struct err e = {0};
    double v = 7;
    assert_false(dose_amount_mg(100, 1, 25, &v, &e));
    assert_string_equal(e.text, "active fraction is 25; expected above 0, at most 1 (0.25 for 25 %)");
    assert_false(dose_rise_mg_l(5, 1, 0, &v, &e));
    assert_string_equal(e.text, "volume is 0; expected a number above 0");
    assert_false(dose_rise_mg_l(NAN, 1, 5, &v, &e));
    assert_string_equal(e.text, "amount is not given or not a number; expected 0 or more");
    assert_false(dose_rise_mg_l(1e308, 1, 1e-10, &v, &e));
    assert_string_equal(e.text, "the result is too large to be a number; check the amounts given");
    assert_false(dilution_conc(5, 3, 2, &v, &e));
    assert_string_equal(e.text, "stock volume is 3, more than the final volume 2; expected at most that");
    assert_false(dilution_stock_volume(5, 6, 2, &v, &e));
    assert_string_equal(e.text, "wanted concentration is 6, stronger than the stock, 5; expected at most that");
    assert_false(water_change_mg_l(5, 0, 1.2, 1, &v, &e));
    assert_string_equal(e.text, "changed part is 1.2; expected 0 to 1 (a fraction)");
    assert_false(water_change_mg_l(5, 0, 0.2, -1, &v, &e));
    assert_string_equal(e.text, "number of changes is -1; expected 0 or more");
    assert_false(washout_min(1, 4, &v, &e));
    assert_string_equal(e.text, "removed part is 1; expected a fraction from 0 to below 1");
    assert_false(washout_min(0.9, 0, &v, &e));
    assert_string_equal(e.text, "exchanges an hour is 0; expected a number above 0");
    assert_false(broadcast_volume_ml(&(struct broadcast_rule){300, 5, -1, 1}, &v, &e));
    assert_string_equal(e.text, "ceiling (mL per 100 L) is -1; expected 0 or more");
    assert_false(broadcast_volume_ml(&(struct broadcast_rule){300, 5, NAN, 0}, &v, &e) ||
                 broadcast_volume_ml(&(struct broadcast_rule){300, NAN, NAN, 1}, &v, &e) ||
                 broadcast_volume_ml(&(struct broadcast_rule){NAN, 5, NAN, 1}, &v, &e));
    assert_true(v == 7);
}

/* Each argument in turn is what it cannot be. */
static void a_wrong_argument_is_named(void **state)
{
    (void)state;
    struct err e[24] = {0};
    double v = 7;
    const struct {
        bool done;
        const char *what;
    } rows[] = {
        {dose_rise_mg_l(5, 0, 1, &v, &e[0]), "active fraction is 0;"},
        {dose_amount_mg(0, 1, 1, &v, &e[1]), "volume is 0;"},
        {dose_amount_mg(100, -1, 1, &v, &e[2]), "wanted concentration is -1;"},
        {dose_amount_mg(1e300, 1e300, 1, &v, &e[3]), "the result is too large"},
        {dilution_conc(-1, 1, 2, &v, &e[4]), "stock concentration is -1;"},
        {dilution_conc(5, -1, 2, &v, &e[5]), "stock volume is -1;"},
        {dilution_conc(5, 0, 0, &v, &e[6]), "final volume is 0;"},
        {dilution_stock_volume(0, 0, 2, &v, &e[7]), "stock concentration is 0;"},
        {dilution_stock_volume(5, -1, 2, &v, &e[8]), "wanted concentration is -1;"},
        {dilution_stock_volume(5, 1, 0, &v, &e[9]), "final volume is 0;"},
        {water_change_mg_l(-1, 0, 0.2, 1, &v, &e[10]), "level is -1;"},
        {water_change_mg_l(5, -1, 0.2, 1, &v, &e[11]), "level of the fresh water is -1;"},
        {water_change_frac(-1, 0, 0, &v, &e[12]), "level is -1;"},
        {water_change_frac(5, -1, 2, &v, &e[13]), "level of the fresh water is -1;"},
        {water_change_frac(5, 0, -1, &v, &e[14]), "wanted level is -1;"},
        {water_change_frac(50, 2, 60, &v, &e[15]), "wanted level is 60 mg/L;"},
        {washout_mg_l(-1, 0, 1, &v, &e[16]), "level is -1;"},
        {washout_mg_l(5, -1, 1, &v, &e[17]), "level of the fresh water is -1;"},
        {washout_mg_l(5, 0, -1, &v, &e[18]), "exchanged part is -1;"},
        {washout_min(-0.1, 4, &v, &e[19]), "removed part is -0.1;"},
        {washout_min(0.9, 1e-310, &v, &e[20]), "the result is too large"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        assert_false(rows[i].done);
        assert_int_equal(e[i].code, ERR_INPUT);
        if (strncmp(e[i].text, rows[i].what, strlen(rows[i].what)) != 0)
            fail_msg("expected \"%s\", got: %s", rows[i].what, e[i].text);
    }
    assert_true(v == 7);
}

SUITE(dose)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_printed_dose_is_met),
        cmocka_unit_test(every_printed_washout_time_is_met),
        cmocka_unit_test(a_dose_and_its_rise_are_inverse),
        cmocka_unit_test(changes_in_steps_remove_less_than_one_of_the_same_water),
        cmocka_unit_test(many_small_changes_become_a_continuous_exchange),
        cmocka_unit_test(the_fraction_to_change_brings_the_wanted_level),
        cmocka_unit_test(fresh_water_of_its_own_level_is_where_changes_lead),
        cmocka_unit_test(a_broadcast_is_cut_to_the_ceiling_and_rounded_down),
        cmocka_unit_test(a_rounded_dose_never_passes_the_ceiling),
        cmocka_unit_test(a_measure_may_be_off_by_a_step_or_a_twentieth),
        cmocka_unit_test(wrong_doses_are_refused_by_name),
        cmocka_unit_test(a_wrong_argument_is_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
