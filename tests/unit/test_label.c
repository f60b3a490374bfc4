/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a label prints, as the registers want it. */
#include "numbers.h"

#include "neap/calc.h"

/* Each by hand: US gal = 3.785411784 L, imp gal = 4.54609 L, tsp = 4.92892159375 mL, oz = 28.349523125 g, all exact. */
static void a_printed_dose_is_counted_for_100_litres(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        enum quantity_kind kind;
        double value;
    } rows[] = {
        {"5 mL per 50 US gal", QUANTITY_VOLUME, 0.005 / (50 * 3.785411784) * 100},
        {"5mL/50usgal", QUANTITY_VOLUME, 0.005 / (50 * 3.785411784) * 100},
        {"5 ml Per 50 US gallons", QUANTITY_VOLUME, 0.005 / (50 * 3.785411784) * 100},
        {"1 g for 100 L", QUANTITY_MASS, 1},
        {"1 tsp in 20 imp gal", QUANTITY_VOLUME, 0.00492892159375 / (20 * 4.54609) * 100},
        {"2 mL per L", QUANTITY_VOLUME, 0.2},
        {"2 mL per every 10 L", QUANTITY_VOLUME, 0.02},
        {"2 mL per each 10 L", QUANTITY_VOLUME, 0.02},
        {"2 mL per .5 L", QUANTITY_VOLUME, 0.4},
        {"0.5 oz to 250 L", QUANTITY_MASS, 28.349523125 / 2 / 2.5},
        {"10 mL/100L", QUANTITY_VOLUME, 0.01},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct quantity q;
        struct err e = {0};
        if (!rate_parse(rows[i].text, &q, &e))
            fail_msg("%s: %s", rows[i].text, e.text);
        assert_int_equal(q.kind, rows[i].kind);
        assert_number(q.value, rows[i].value, 1e-12);
    }
}

static void what_is_no_dose_is_refused_with_what_was_expected(void **state)
{
    (void)state;
    static const struct {
        const char *text, *says;
    } rows[] = {
        {"5 mL", "expected such as 5 mL per 50 US gal"},
        {"5 mL per 50 gal", "gal"},
        {"5 mL per 50 g", "expected a volume"},
        {"5 cm per 50 L", "expected mL, g or a spoon"},
        {"5 per 50 L", "expected mL, g or a spoon"},
        {"5 mL per 0 L", "above 0"},
        {"per 50 L", ""},
        {"some per 50 L", "not a quantity"},
        {"5 mL of the red bottle, well shaken before it is opened, per 50 L", "is no rate"},
        {"", "is no rate"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct quantity q;
        struct err e = {0};
        assert_false(rate_parse(rows[i].text, &q, &e));
        if (!strstr(e.text, rows[i].says))
            fail_msg("\"%s\" says: %s", rows[i].text, e.text);
    }
}

/*
 * 45 % protein of a dry food: 450 mg of it in a gram, 72 mg of nitrogen by 16 %. A liquid of 1.05 g/mL holds the more.
 */
static void a_part_of_the_mass_is_counted_by_gram_and_by_ml(void **state)
{
    (void)state;
    assert_number(n_from_protein(mg_per_unit_from_frac(0.45, 1)), 72, 1e-12);
    assert_number(mg_per_unit_from_frac(0.012, 1.05), 12.6, 1e-12);
}

SUITE(label)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_printed_dose_is_counted_for_100_litres),
        cmocka_unit_test(what_is_no_dose_is_refused_with_what_was_expected),
        cmocka_unit_test(a_part_of_the_mass_is_counted_by_gram_and_by_ml),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
