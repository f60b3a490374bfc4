/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Quantities read as they are typed. */
#include "numbers.h"

#include "neap/calc.h"

static void quantities_are_read_as_people_write_them(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        enum quantity_kind kind;
        enum species species;
        double value;
    } rows[] = {
        {"80usgal", QUANTITY_VOLUME, SPECIES_NONE, 302.83294272}, /* 80 × 3.785411784 */
        {"80 us gal", QUANTITY_VOLUME, SPECIES_NONE, 302.83294272},
        {"80 US-gal.", QUANTITY_VOLUME, SPECIES_NONE, 302.83294272},
        {" 80  US Gallons ", QUANTITY_VOLUME, SPECIES_NONE, 302.83294272},
        {"100 impgal", QUANTITY_VOLUME, SPECIES_NONE, 454.609},
        {"15 mL", QUANTITY_VOLUME, SPECIES_NONE, 0.015},
        {"15ML", QUANTITY_VOLUME, SPECIES_NONE, 0.015},
        {"2 tsp", QUANTITY_VOLUME, SPECIES_NONE, 0.0098578431875},
        {"8 US fl. oz", QUANTITY_VOLUME, SPECIES_NONE, 0.2365882365},
        {"1.2 m³", QUANTITY_VOLUME, SPECIES_NONE, 1200},
        {"50 µL", QUANTITY_VOLUME, SPECIES_NONE, 5e-5},
        {"1.5 kg", QUANTITY_MASS, SPECIES_NONE, 1500},
        {"1.5e3 g", QUANTITY_MASS, SPECIES_NONE, 1500},
        {"1.5E+3 g", QUANTITY_MASS, SPECIES_NONE, 1500},
        {"1.5e-3 kg", QUANTITY_MASS, SPECIES_NONE, 1.5},
        {"3 oz", QUANTITY_MASS, SPECIES_NONE, 85.048569375},
        {"200 µm", QUANTITY_LENGTH, SPECIES_NONE, 0.02},
        {"24\"", QUANTITY_LENGTH, SPECIES_NONE, 60.96},
        {"2 ft", QUANTITY_LENGTH, SPECIES_NONE, 60.96},
        {"1 m", QUANTITY_LENGTH, SPECIES_NONE, 100},
        {"90 min", QUANTITY_TIME, SPECIES_NONE, 90},
        {"30 s", QUANTITY_TIME, SPECIES_NONE, 0.5},
        {"7 d", QUANTITY_TIME, SPECIES_NONE, 10080},
        {"77 °F", QUANTITY_TEMPERATURE, SPECIES_NONE, 25},
        {"77f", QUANTITY_TEMPERATURE, SPECIES_NONE, 25},
        {"-1.5 °C", QUANTITY_TEMPERATURE, SPECIES_NONE, -1.5},
        {"35 ppt", QUANTITY_SALINITY, SPECIES_NONE, 35},
        {"35 ‰", QUANTITY_SALINITY, SPECIES_NONE, 35},
        {"1.0264 sg", QUANTITY_GRAVITY, SPECIES_NONE, 1.0264},
        {"0.06 mg/L", QUANTITY_CONCENTRATION, SPECIES_NONE, 0.06},
        {"0.06 mg/L PO4", QUANTITY_CONCENTRATION, SPECIES_PO4, 0.06},
        {"0.06 mg/L PO₄", QUANTITY_CONCENTRATION, SPECIES_PO4, 0.06},
        {"5 ppm NO3", QUANTITY_CONCENTRATION, SPECIES_NO3, 5},
        {"420 ppm Ca", QUANTITY_CONCENTRATION, SPECIES_CA, 420},
        {"1300 mg/L Mg", QUANTITY_CONCENTRATION, SPECIES_MG, 1300},
        {"2 g/100 mL", QUANTITY_CONCENTRATION, SPECIES_NONE, 20000},
        {"25 %", QUANTITY_FRACTION, SPECIES_NONE, 0.25},
        {"5 mL/100 L", QUANTITY_DOSE_RATE, SPECIES_NONE, 5},
        {"8 dKH", QUANTITY_ALKALINITY, SPECIES_NONE, 8},
        {"42", QUANTITY_NUMBER, SPECIES_NONE, 42},
        {"-0.5 ", QUANTITY_NUMBER, SPECIES_NONE, -0.5},
        {"1.", QUANTITY_NUMBER, SPECIES_NONE, 1},
        {".5L", QUANTITY_VOLUME, SPECIES_NONE, 0.5},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct quantity q = {0};
        struct err e = {0};
        if (!quantity_parse(rows[i].text, &q, &e))
            fail_msg("%s: %s", rows[i].text, e.text);
        assert_int_equal(q.kind, rows[i].kind);
        assert_int_equal(q.species, rows[i].species);
        assert_number(q.value, rows[i].value, 1e-12 * (1 + fabs(rows[i].value)));
    }
}

/* Factors: NO3-N 4.427 (a meter maker's note), PO4-P 0.326 (Analytical Products Group 33, 2005): 3 to 4 figures. */
static void a_concentration_is_kept_on_the_basis_of_its_ion(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        enum species species;
        double value, tolerance;
    } rows[] = {
        {"2.2 mg/L NO3-N", SPECIES_NO3, 9.74, 0.005}, /* laboratory note, printed 9.74 */
        {"2.2 mg/l no3n", SPECIES_NO3, 9.74, 0.005},
        {"2.2 mg/L as NO3-N", SPECIES_NO3, 9.74, 0.005},
        {"100 ppb P", SPECIES_PO4, 0.3066, 5e-5},
        {"18 ppb P", SPECIES_PO4, 0.018 / 0.326, 1e-4},
        {"18 µg/L PO4-P", SPECIES_PO4, 0.018 / 0.326, 1e-4},
        {"0.304 mg/L NO2-N", SPECIES_NO2, 1, 0.002},
        {"3 µmol/L NO3", SPECIES_NO3, 0.186012, 1e-6},   /* × 62.004 */
        {"3 umol/L NO3-N", SPECIES_NO3, 0.186012, 1e-6}, /* a mole of N is a mole of the ion */
        {"1 mmol/L PO4", SPECIES_PO4, 94.970, 1e-3},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct quantity q = {0};
        struct err e = {0};
        if (!quantity_parse(rows[i].text, &q, &e))
            fail_msg("%s: %s", rows[i].text, e.text);
        assert_int_equal(q.kind, QUANTITY_CONCENTRATION);
        assert_int_equal(q.species, rows[i].species);
        assert_number(q.value, rows[i].value, rows[i].tolerance);
    }
}

static void what_could_be_misread_is_refused_with_a_reason(void **state)
{
    (void)state;
    static const struct {
        const char *text, *words;
    } rows[] = {
        {"80 gal", "\"80 gal\": a US gallon is 3.785 L, an imperial one 4.546 L; write usgal or impgal"},
        {"80Gallons", "\"80Gallons\": a US gallon is 3.785 L, an imperial one 4.546 L; write usgal or impgal"},
        {"2 pt", "\"2 pt\": US and imperial pints differ by a fifth; write uspt or imppt"},
        {"2 fl oz", "\"2 fl oz\": a US fluid ounce is 29.57 mL, an imperial one 28.41 mL; write usfloz or impfloz"},
        {"12 drops", "\"12 drops\": a drop has no fixed size; write mL, or give the drops per mL to the calculator"},
        {"1,5 kg", "\"1,5 kg\" has a comma in its number; expected a decimal point and no separators: 1.5 or 1500"},
        {"1,500", "\"1,500\" has a comma in its number; expected a decimal point and no separators: 1.5 or 1500"},
        {"5 mg/L N", "\"5 mg/L N\": nitrogen of what? write NO3-N, NO2-N or NH4-N"},
        {"5 mg/L as N", "\"5 mg/L as N\": nitrogen of what? write NO3-N, NO2-N or NH4-N"},
        {"15 eggs",
         "\"15 eggs\": unit \"eggs\" is not known; expected one such as L, mL, usgal, g, oz, cm, mg/L, ppb P "
         "or C"},
        {"3 umol/L", "\"3 umol/L\": moles of what? write it behind, such as 3 umol/L NO3"},
        {"5 mg/L NO4", "\"5 mg/L NO4\": \"no4\" is not known; expected NO3, NO3-N, NO2, NO2-N, NH4, NH4-N, NH3, NH3-N, "
                       "PO4, PO4-P, P, Ca, Mg, K "
                       "or Sr"},
        {"80 usgla", "\"80 usgla\": unit \"usgla\" is not known; did you mean usgal?"},
        {"3 zz9plural",
         "\"3 zz9plural\": unit \"zz9plural\" is not known; expected one such as L, mL, usgal, g, oz, cm, mg/L, ppb P "
         "or C"},
        {"-3 L", "\"-3 L\" is negative; expected a volume of 0 or more"},
        {"forty", "\"forty\" is not a quantity; expected a number and a unit, such as 15 mL"},
        {"", "\"\" is not a quantity; expected a number and a unit, such as 15 mL"},
        {"1e308 m3", "\"1e308 m3\" is too large to be a quantity"},
        {"--1 L", "\"--1 L\" does not begin with a number; expected one such as 15 or 0.06"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct quantity q = {7, QUANTITY_MASS, SPECIES_NONE};
        struct err e = {0};
        assert_false(quantity_parse(rows[i].text, &q, &e));
        assert_string_equal(e.text, rows[i].words);
        assert_int_equal(e.code, ERR_INPUT);
        assert_true(q.value == 7 && q.kind == QUANTITY_MASS);
    }
}

static void what_is_no_quantity_is_refused(void **state)
{
    (void)state;
    static const char *const rows[] = {"mL",
                                       "5 - L",
                                       "5 6 mL",
                                       "1/2 tsp",
                                       "1.2.3 L",
                                       "0x10 L",
                                       "nan L",
                                       "inf L",
                                       "5 mL extra",
                                       "5 L/",
                                       "5 µ",
                                       "5 \xFF",
                                       "5 mg/L as",
                                       "5 x",
                                       "1e999 L",
                                       "+ 5 L",
                                       "5 ppm NO3 PO4",
                                       "5e",
                                       "5, L",
                                       "5 mg/L 3",
                                       "5 -L",
                                       "5.mL.5",
                                       "5 a unit that is so long that no table of units holds anything of the kind"};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct quantity q = {7, QUANTITY_MASS, SPECIES_NONE};
        struct err e = {0};
        if (quantity_parse(rows[i], &q, &e))
            fail_msg("%s was read as %g", rows[i], q.value);
        assert_true(strlen(e.text) > 0 && q.value == 7);
    }
}

static void a_quantity_is_shown_in_another_unit_of_its_kind(void **state)
{
    (void)state;
    static const struct {
        const char *text, *unit;
        double value;
    } rows[] = {
        {"302.83294272 L", "usgal", 80},
        {"15", "mL", 15}, /* a bare number is in the unit asked for */
        {"15 mL", "mL", 15},
        {"25", "%", 25},
        {"25 C", "F", 77},
        {"-40", "F", -40},
        {"9.7386168 mg/L NO3", "mg/L NO3-N", 2.2}, /* × 14.007 / 62.004 */
        {"2.2 mg/L", "mg/L NO3-N", 2.2},           /* no species: taken to be of what the unit names */
        {"62.004 mg/L", "mmol/L NO3", 1},
        {"62.004 mg/L NO3", "mmol/L", 1},
        {"0.306612 mg/L PO4", "ppb P", 100}, /* × 94.970 / 30.974 */
        {"1 mL/L", "mL/100L", 100},
        {"1 mL/100usgal", "mL/100L", 0.264172},
        {"2.5 cups", "tbsp", 40},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct err e = {0};
        double v = NAN;
        if (!quantity_read(rows[i].text, rows[i].unit, &v, &e))
            fail_msg("%s in %s: %s", rows[i].text, rows[i].unit, e.text);
        assert_number(v, rows[i].value, 2e-6 * fabs(rows[i].value));
    }
}

static void a_quantity_of_another_kind_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *text, *unit, *words;
    } rows[] = {
        {"15 g", "mL", "\"15 g\": a mass cannot be shown in mL; expected a volume"},
        {"5 mg/L NO3", "mg/L PO4", "\"5 mg/L NO3\": a concentration of NO3 cannot be shown in mg/L PO4"},
        {"5 mg/L", "umol/L", "\"5 mg/L\": moles of what? write it behind the unit, such as umol/L NO3"},
        {"-5", "mL", "\"-5\" is negative; expected a volume of 0 or more, in mL"},
        {"5 mL", "gal", "\"gal\": a US gallon is 3.785 L, an imperial one 4.546 L; write usgal or impgal"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct err e = {0};
        double v = 7;
        assert_false(quantity_read(rows[i].text, rows[i].unit, &v, &e));
        assert_string_equal(e.text, rows[i].words);
        assert_true(v == 7);
    }
}

static void a_unit_that_nobody_knows_shows_nothing(void **state)
{
    (void)state;
    const struct quantity q = {0.015, QUANTITY_VOLUME, SPECIES_NONE};
    struct err e = {0};
    double v = 7;
    char digits[100];
    assert_false(quantity_in(&q, "gal", &v, &e));
    assert_string_equal(e.text, "\"gal\": a US gallon is 3.785 L, an imperial one 4.546 L; write usgal or impgal");
    memset(digits, '1', sizeof digits - 1);
    digits[sizeof digits - 1] = '\0';
    assert_false(quantity_read(digits, "mL", &v, &e)); /* more digits than a number has */
    assert_non_null(strstr(e.text, "does not begin with a number"));
    assert_true(v == 7);
}

/* "3 unit" is 3 of that unit, is of the unit's kind, and no unit stands in the table twice. */
static void every_unit_reads_back_in_itself(void **state)
{
    (void)state;
    char written[64];
    enum quantity_kind kind, other;
    bool seen[N_QUANTITY_KINDS] = {[QUANTITY_NUMBER] = true};
    for (size_t i = 0; quantity_unit(i, &kind); i++) {
        const char *name = quantity_unit(i, &kind), *of = strstr(name, "mol/l") ? " PO4" : "";
        struct quantity q = {0};
        struct err e = {0};
        double v = NAN;
        snprintf(written, sizeof written, "3 %s%s", name, of);
        if (!quantity_parse(written, &q, &e) || !quantity_in(&q, written + 2, &v, &e))
            fail_msg("%s", e.text);
        assert_int_equal(q.kind, kind);
        assert_number(v, 3, 1e-12 * 60);
        seen[kind] = true;
        for (size_t j = 0; j < i; j++)
            assert_string_not_equal(name, quantity_unit(j, &other));
    }
    for (int k = 0; k < N_QUANTITY_KINDS; k++)
        if (!seen[k] || !quantity_kind_name((enum quantity_kind)k))
            fail_msg("kind %d has no unit or no name", k);
}

SUITE(quantity)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(quantities_are_read_as_people_write_them),
        cmocka_unit_test(a_concentration_is_kept_on_the_basis_of_its_ion),
        cmocka_unit_test(what_could_be_misread_is_refused_with_a_reason),
        cmocka_unit_test(what_is_no_quantity_is_refused),
        cmocka_unit_test(a_quantity_is_shown_in_another_unit_of_its_kind),
        cmocka_unit_test(a_quantity_of_another_kind_is_refused),
        cmocka_unit_test(a_unit_that_nobody_knows_shows_nothing),
        cmocka_unit_test(every_unit_reads_back_in_itself),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
