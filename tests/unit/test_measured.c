/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Analytes, foods and salinity in the units they are typed in. */
#include "tests.h"

#include "neap/facility.h"

static const struct gravity_scale usual = {25, 25};

static void a_reading_is_read_in_the_unit_it_is_written_in(void **state)
{
    (void)state;
    static const struct {
        const char *name, *text;
        int analyte;
        double value, tolerance;
        bool below;
    } rows[] = {
        {"no3", "8.5", ANALYTE_NO3, 8.5, 0, false},
        {"nitrate", "8.5 ppm", ANALYTE_NO3, 8.5, 0, false},
        {"no3", "2.2mg/L NO3-N", ANALYTE_NO3, 9.74, 0.005, false}, /* laboratory note: 2.2 mg/L NO3-N is 9.74 NO3 */
        {"no3_n", "2.2", ANALYTE_NO3, 9.74, 0.005, false},
        {"no3_n", "2.2mg/L", ANALYTE_NO3, 9.74, 0.005, false},
        {"no3_n", "2.2mg/L NO3-N", ANALYTE_NO3, 9.74, 0.005, false},
        {"no3", "<0.5", ANALYTE_NO3, 0.5, 0, true},
        {"po4", "100ppb P", ANALYTE_PO4, 0.30661, 5e-6, false}, /* by 2021 atomic weights */
        {"po4", "100 µg/L P", ANALYTE_PO4, 0.30661, 5e-6, false},
        {"po4", "100 μg/L P", ANALYTE_PO4, 0.30661, 5e-6, false}, /* U+03BC, as a Greek keyboard writes it */
        {"po4", "60ppb PO4", ANALYTE_PO4, 0.06, 1e-12, false},
        {"po4_p", "100ppb", ANALYTE_PO4, 0.30661, 5e-6, false},
        {"po4", "< 0.02 mg/L", ANALYTE_PO4, 0.02, 0, true},
        {"po4", "below 0.02", ANALYTE_PO4, 0.02, 0, true},
        {"alk", "8.2dKH", ANALYTE_ALK, 8.2, 0, false},
        {"alk", "8.2", ANALYTE_ALK, 8.2, 0, false},
        {"alk", "1meq/L", ANALYTE_ALK, 2.80, 0.005, false}, /* 1 meq/L is half a mmol of CaO, 28.04 mg: 2.80 dKH */
        {"ca", "420ppm", ANALYTE_CA, 420, 0, false},
        {"ca", "420000ppb", ANALYTE_CA, 420, 0, false}, /* of nothing else */
        {"mg", "1300", ANALYTE_MG, 1300, 0, false},
        {"salinity", "35ppt", ANALYTE_SALINITY, 35, 0, false},
        {"ammonia", "0.5", ANALYTE_TAN, 0.5, 0, false}, /* total ammonia nitrogen */
        {"tan", "<0.1", ANALYTE_TAN, 0.1, 0, true},
        {"nh4", "0.5", ANALYTE_TAN, 0.3882, 5e-5, false},    /* x 14.007 / 18.039 */
        {"nh3", "0.5ppm", ANALYTE_TAN, 0.4112, 5e-5, false}, /* x 14.007 / 17.031 */
        {"ammonia", "0.5 mg/L NH3", ANALYTE_TAN, 0.4112, 5e-5, false},
        {"ammonia", "500ppb NH4", ANALYTE_TAN, 0.3882, 5e-5, false},
        {"nitrite", "0.2", ANALYTE_NO2, 0.2, 0, false},
        {"no2_n", "0.1", ANALYTE_NO2, 0.3284, 5e-5, false}, /* x 46.005 / 14.007 */
        {"ph", "8.2", ANALYTE_PH, 8.2, 0, false},
        {"pH", "8.15pH", ANALYTE_PH, 8.15, 0, false},
        {"alk", "143 ppm CaCO3", ANALYTE_ALK, 8.01, 0.005, false},      /* 17.848 to the dKH */
        {"salinity", "1.026373sg", ANALYTE_SALINITY, 35, 0.002, false}, /* 25/25, derived from EOS-80 */
        {"sg", "1.026373", ANALYTE_SALINITY, 35, 0.002, false},
        {"temp", "26", ANALYTE_TEMP, 26, 0, false},
        {"temp", "77F", ANALYTE_TEMP, 25, 1e-9, false},
        {"temp", "-1", ANALYTE_TEMP, -1, 0, false},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct measured r;
        struct err e = {0};
        if (!measured_parse(rows[i].name, rows[i].text, &usual, &r, &e))
            fail_msg("%s=%s: %s", rows[i].name, rows[i].text, e.text);
        if (r.analyte != rows[i].analyte || r.below != rows[i].below ||
            fabs(r.value - rows[i].value) > rows[i].tolerance)
            fail_msg("%s=%s reads %g", rows[i].name, rows[i].text, r.value);
    }
}

static void the_scale_of_a_specific_gravity_counts(void **state)
{
    (void)state;
    const struct gravity_scale at_20 = {20, 20};
    struct measured r;
    assert_true(measured_parse("sg", "1.026604", &at_20, &r, NULL)); /* S 35 at 20/20, derived from EOS-80 */
    assert_true(fabs(r.value - 35) < 0.002);
}

static void what_may_be_meant_in_two_ways_is_refused_with_what_to_write(void **state)
{
    (void)state;
    static const struct {
        const char *name, *text, *said;
    } rows[] = {
        {"po4", "18ppb", "po4=\"18ppb\" may be of phosphate or of phosphorus; expected 18ppb PO4 or 18ppb P"},
        {"po4", "18 µg/L", "po4=\"18 µg/L\" may be of phosphate or of phosphorus; expected 18 µg/L PO4 or 18 µg/L P"},
        {"po4", "18 ug/L", "po4=\"18 ug/L\" may be of phosphate or of phosphorus"},
        {"salinity", "35 g/L", "salinity: a concentration cannot be shown in psu"},
        {"po4", "18 μg/L", "po4=\"18 μg/L\" may be of phosphate or of phosphorus"},
        {"po4", "1e2ppb", "po4=\"1e2ppb\" may be of phosphate or of phosphorus; expected 1e2ppb PO4 or 1e2ppb P"},
        {"no3", "900ppb", "no3=\"900ppb\" may be of nitrate or of its nitrogen; expected 900ppb NO3 or 900ppb NO3-N"},
        {"no3", "2 mg/L N", "nitrogen of what? write NO3-N"},
        {"alk", "2.9", "alk=\"2.9\" has no unit; expected 2.9dKH or 2.9meq/L"},
        {"alk", "145ppm", "alk=\"145ppm\" does not say of what; expected 145ppm CaCO3, or dKH or meq/L"},
        {"ammonia", "500ppb",
         "ammonia=\"500ppb\" may be of the nitrogen of ammonia or of ammonium; expected 500ppb NH4-N or 500ppb NH4"},
        {"no2", "20 ppb", "may be of nitrite or of its nitrogen; expected 20 ppb NO2 or 20 ppb NO2-N"},
        {"ph", "<8", "pH has no detection limit"},
        {"ph", "8 dKH", "an alkalinity cannot be shown in pH"},
        {"salinity", "1.026", "salinity=\"1.026\" has no unit; expected 1.026psu or 1.026sg"},
        {"temp", "78", "temp=\"78\" has no unit; expected 78C or 78F"},
        {"no3", ">50", "nitrate \">50\" is above what the test can read"},
        {"temp", "<20", "temperature has no detection limit"},
        {"no3", "0.06 mg/L PO4", "no3: a concentration of PO4 cannot be shown in mg/L NO3"},
        {"no3", "1.025sg", "no3: a specific gravity cannot be shown in mg/L NO3"},
        {"no3_n", "1e308", "is too large to be a quantity"},
        {"no3_n", "1e308 mg/L", "is too large to be a quantity"},
        {"no3", "-1", "no3=\"-1\" is negative"},
        {"no3", "", "no3=\"\" is not a quantity"},
        {"ca", "5mL", "a volume cannot be shown in mg/L Ca"},
        {"nitrat", "5", "nothing is measured as \"nitrat\"; did you mean \"nitrate\"?"},
        {"iodine", "5", "expected no3, po4, tan"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct measured r;
        struct err e = {0};
        if (measured_parse(rows[i].name, rows[i].text, &usual, &r, &e))
            fail_msg("%s=%s is taken", rows[i].name, rows[i].text);
        if (!strstr(e.text, rows[i].said))
            fail_msg("%s=%s: %s", rows[i].name, rows[i].text, e.text);
    }
}

/* The rule is the house's own: the rows follow from the ± and the daily change in the table of analytes. */
static void only_a_reading_far_beyond_error_and_wanted_change_is_a_jump(void **state)
{
    (void)state;
    static const struct {
        int analyte;
        double last;
        bool last_below;
        long days;
        double now;
        bool now_below, jump;
    } rows[] = {
        {ANALYTE_NO3, 8.5, false, 7, 85, false, true}, /* ten times: the point slipped */
        {ANALYTE_NO3, 8.5, false, 7, 14, false, false},
        {ANALYTE_NO3, 8.5, false, 7, 17.5, false, false}, /* 9, below 3 × (1 + 8.5 ÷ 4) = 9.375 */
        {ANALYTE_NO3, 8.5, false, 4, 18, false, true},    /* 9.5, above that and above 4 d × 2 */
        {ANALYTE_NO3, 8.5, false, 7, 18, false, false},   /* but not above 7 d × 2 */
        {ANALYTE_NO3, 8.5, false, 60, 40, false, true},   /* 31.5: of 60 days 14 count */
        {ANALYTE_PO4, 0.06, false, 4, 0.6, false, true},
        {ANALYTE_PO4, 0.02, true, 4, 0.1, false, false}, /* from below detection: at most 0.02 before */
        {ANALYTE_PO4, 0.02, true, 4, 0.5, false, true},
        {ANALYTE_PO4, 0.02, true, 4, 0.05, true, false}, /* both below: nothing is known of a change */
        {ANALYTE_PO4, 0.8, false, 1, 0.02, true, true},
        {ANALYTE_PO4, 0.02, false, 1, 0.5, true, false}, /* a coarser test that reads nothing */
        {ANALYTE_NO3, 12.6, false, 7, 1.2, false, true}, /* a tenth, and any number of days */
        {ANALYTE_NO3, 19, false, 14, 1.9, false, true},
        {ANALYTE_NO3, 1.9, false, 14, 19, false, true},
        {ANALYTE_NO3, 12, false, 7, 4, false, false},    /* a third: a large water change does that */
        {ANALYTE_NO3, 0.4, false, 7, 1.7, false, false}, /* more than four times, and within twice the ± */
        {ANALYTE_PO4, 0.08, false, 10, 0.008, false, true},
        {ANALYTE_PO4, 0.008, false, 10, 0.08, false, true},
        {ANALYTE_PO4, 0.18, false, 10, 0.02, true, true},
        {ANALYTE_PO4, 0.12, false, 10, 0.03, false, false},
        {ANALYTE_ALK, 8.2, false, 14, 2.8, false, true}, /* figures in the wrong order */
        {ANALYTE_ALK, 8.2, false, 14, 6.5, false, false},
        {ANALYTE_CA, 420, false, 14, 240, false, true},
        {ANALYTE_MG, 1350, false, 28, 1530, false, false},
        {ANALYTE_MG, 1350, false, 28, 2800, false, true},
        {ANALYTE_SALINITY, 35, false, 14, 30, false, true},
        {ANALYTE_TEMP, 25, false, 0, 25.5, false, false},
        {ANALYTE_TEMP, 25, false, 1, 28, false, true},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        const struct past_reading last = {1000, rows[i].last, rows[i].last_below};
        const struct measured now = {rows[i].analyte, rows[i].now, rows[i].now_below};
        if (measured_is_jump(&last, &now, 1000 + rows[i].days * MIN_PER_DAY) != rows[i].jump)
            fail_msg("row %zu", i);
    }
}

static void a_reading_says_what_it_is_of(void **state)
{
    (void)state;
    struct text out = {0};
    measured_words(&(struct measured){ANALYTE_NO3, 8.5, false}, &out);
    text_add(&out, ", ");
    measured_words(&(struct measured){ANALYTE_PH, 8.2, false}, &out);
    text_add(&out, ", ");
    measured_words(&(struct measured){ANALYTE_PO4, 0.02, true}, &out);
    assert_string_equal(text_str(&out), "nitrate 8.5 mg/L as NO3, pH 8.2, phosphate below 0.02 mg/L as PO4");
    text_free(&out);
}

/* Files of before there was a field for it have it at the head of the note. */
static void a_note_that_begins_with_a_doubt_is_read_as_one(void **state)
{
    (void)state;
    assert_int_equal(doubt_in_note("flagged: the cuvette was cold"), DOUBT_FLAGGED);
    assert_int_equal(doubt_in_note("confirmed: read twice"), DOUBT_CONFIRMED);
    assert_int_equal(doubt_in_note("was flagged: no"), DOUBT_NONE);
}

SUITE(measured)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_reading_is_read_in_the_unit_it_is_written_in),
        cmocka_unit_test(the_scale_of_a_specific_gravity_counts),
        cmocka_unit_test(what_may_be_meant_in_two_ways_is_refused_with_what_to_write),
        cmocka_unit_test(only_a_reading_far_beyond_error_and_wanted_change_is_a_jump),
        cmocka_unit_test(a_reading_says_what_it_is_of),
        cmocka_unit_test(a_note_that_begins_with_a_doubt_is_read_as_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
