/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The calculator: what it makes of words, and what it refuses. */
#include "numbers.h"

#include "neap/desk.h"

#define ONES "1111111111111111111111111111111111111111" /* 40 */

enum { WORDS_MOST = 8, LINE_TEXT = 320 };

/* One use of the calculator, typed as a line: its name, then words. */
static bool ask(const char *line, struct calc *k, struct arena *a, struct err *e)
{
    static char text[LINE_TEXT];
    const char *words[WORDS_MOST];
    size_t n = 0;
    snprintf(text, sizeof text, "%s", line);
    for (char *at = text; *at;) {
        assert_true(n < WORDS_MOST);
        words[n++] = at;
        at += strcspn(at, " ");
        if (*at)
            *at++ = '\0';
    }
    *k = (struct calc){.what = calc_find(words[0], e)};
    return k->what && calc_run(k, words + 1, n - 1, a, e);
}

/*
 * By hand, or of the exact factors: a US gallon is 3.785411784 L, nitrate 62.004 and nitrogen 14.007 g/mol. A hexagon
 * of side a is a^2 x 3 sqrt(3) / 2. Free ammonia of fresh water: Emerson et al. 1975, pKa 9.2464 at 25 C.
 */
static void words_are_put_together_and_answered(void **state)
{
    (void)state;
    static const struct {
        const char *line, *key;
        double value;
    } rows[] = {
        {"volume length=120 cm width=60cm water=500 mm", "gross_l", 360},
        {"volume 120cm 60cm 50cm 10%", "net_l", 324},
        {"dilute stock=25% amount=100mL to=1L", "conc_frac", 0.025},
        {"dilute stock=2000mg/L amount=10mL to=2L", "conc_mg_l", 10},
        {"dilute stock=2000 mg/L to=2L want=10 mg/L", "stock_ml", 10},
        {"convert 25 % to %", "frac", 0.25},
        {"convert 25 % to  %", "frac", 0.25},
        {"convert 3 umol/L NO3", "mg_l_no3", 0.186012},
        {"convert 3 umol/L NO3", "mg_l_no3_n", 0.042021},
        {"convert 3 umol/L NO3", "umol_l_no3", 3},
        {"convert 1 ft to in.", "in", 12},
        {"change level=50mg/L change=20% times=3", "after_mg_l", 25.6},
        {"change level=50mg/L change=20% times=3 volume=300L", "new_water_l", 180},
        {"change level=5mg/L to=3mg/L volume=300L", "new_water_l", 120},
        {"change level=50mg/L change=0.2 times=3", "after_mg_l", 25.6},
        {"change level=50mg/L change=20% way=batch", "after_mg_l", 40},
        {"change level=50mg/L change=20% way=continuous", "after_mg_l", 40.936538}, /* 50 / e^0.2 */
        {"volume shape=prism sides=6 side=50cm water=50cm", "gross_l", 324.759526},
        {"volume water=50 cm cylinder diameter=60cm", "gross_l", 141.371669}, /* the shape's word is no unit of 50 */
        {"dose volume=100L amount=5", "rise_mg_l", 50},
        {"strength .8g/100mL 1500mL", "dry_g", 12},
        {"drops +35 17.5", "volume_ml", 2},
        {"ammonia ph=8.2 temp=25C", "nh3_frac", 0.082461},
        {"density 35psu temp=25C ref=25C", "specific_gravity", 1.026373}, /* derived from EOS-80 */
        {"convert 3 mg/L to µg/L", "ug_l", 3000},
        {"convert 2000 mg/L to g / L", "g_l", 2},
        {"convert 3 L to  mL", "ml", 3000},
        {"convert 35 psu to ‰", "ppt", 35},
        {"convert 25 C to °F", "f", 77},
        {"convert 1 ft to ″", "in", 12},
        {"convert 36 in to '", "ft", 3},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct arena a = {0};
        struct err e = {0};
        struct calc k;
        double value = NAN;
        if (!ask(rows[i].line, &k, &a, &e))
            fail_msg("%s: %s", rows[i].line, e.text);
        for (size_t n = 0; n < k.n_answers; n++)
            if (strcmp(k.answers[n].key, rows[i].key) == 0)
                value = k.answers[n].value;
        if (!(fabs(value - rows[i].value) < 1e-6))
            fail_msg("%s: %s is %g, not %g", rows[i].line, rows[i].key, value, rows[i].value);
        arena_free(&a);
    }
}

static void what_makes_no_sense_is_named(void **state)
{
    (void)state;
    static const struct {
        const char *line, *says;
        enum err_code code;
    } rows[] = {
        {"xyzzy", "there is no calculation \"xyzzy\"; expected volume, convert, ", ERR_MISUSE},
        {"volume colour=3", "volume takes no \"colour\"; expected shape=, length=, width=, ", ERR_MISUSE},
        {"volume =3", "\"=3\": expected NAME=VALUE", ERR_MISUSE},
        {"volume " ONES ONES "=3", "expected NAME=VALUE", ERR_MISUSE},
        {"volume 3wat", "unit \"wat\" is not known", ERR_MISUSE},
        {"volume shape=pyramid length=3", "tank shape \"pyramid\" is not known", ERR_INPUT},
        {"volume 3cm 3cm 3cm displacement=3L", "\"3L\" is a volume; expected a part, such as 10% or 0.1", ERR_MISUSE},
        {"volume length=3cm length=4cm", "length is given twice: \"3cm\" and \"4cm\"", ERR_MISUSE},
        {"volume shape=prism sides=2.5 side=3cm water=3cm", "sides is 2.5; expected a whole number", ERR_INPUT},
        {"volume shape=prism sides=2 side=3cm water=3cm", "sides is 2; expected a whole number from 3", ERR_INPUT},
        {"volume shape=prism sides=101 side=3cm water=3cm", "sides is 101; expected a whole number from 3", ERR_INPUT},
        {"volume 30cm 30cm", "water height is missing", ERR_INPUT},
        {"volume 30cm 30cm 30cm 120%", "displacement is 1.2; expected a fraction", ERR_INPUT},
        {"drops drops=5mL per_ml=20", "\"5mL\" is a volume; expected a number", ERR_MISUSE},
        {"drops drops=5 per_ml=0", "per_ml is 0; expected more than 0", ERR_INPUT},
        {"drops drops=5", "drops needs per_ml=", ERR_MISUSE},
        {"drops per_ml=20", "drops needs per_ml=", ERR_MISUSE},
        {"drops per_ml=20 drops=3 volume=2mL", "drops needs per_ml=", ERR_MISUSE},
        {"dose rise=2mg/L", "dose needs volume=… and either rise=… or amount=…", ERR_MISUSE},
        {"dose volume=100L", "dose needs volume=… and either rise=… or amount=…", ERR_MISUSE},
        {"dose volume=100L rise=2mg/L amount=5g", "dose needs volume=… and either rise=… or amount=…", ERR_MISUSE},
        {"dose rise=2mg/L volume=" ONES ONES ONES ONES " L", "does not begin with a number", ERR_MISUSE},
        {"dose volume=100L amount=5cm", "\"5cm\" is a length; expected grams, or a volume", ERR_MISUSE},
        {"dose volume=100L amount=5mL", "solution=", ERR_MISUSE},
        {"dose volume=100L rise=2mg/L solution=0", "solution is 0 mg/L; expected more than 0", ERR_INPUT},
        {"dose volume=100L rise=2mg/L active=2", "active fraction is 2", ERR_INPUT},
        {"dose volume=0 amount=5g", "volume is 0", ERR_INPUT},
        {"change to=3mg/L", "change needs level=", ERR_MISUSE},
        {"change level=5", "change needs level=", ERR_MISUSE},
        {"change level=5 change=10% to=3", "change needs level=", ERR_MISUSE},
        {"change level=5 change=10% times=1000001", "times is 1e+06; expected a whole number from 1", ERR_INPUT},
        {"change level=5 change=1e306 times=1000 way=continuous", "exchanged part", ERR_INPUT},
        {"change level=5 change=3g", "\"3g\" is a mass; expected 10%, 0.1 or a volume", ERR_MISUSE},
        {"change level=5 change=30L", "volume=", ERR_MISUSE},
        {"change level=5 change=30L volume=0", "volume=", ERR_MISUSE},
        {"change level=5 change=150%", "changed part is 1.5; expected 0 to 1", ERR_INPUT},
        {"change level=5 change=10% times=0", "times is 0; expected a whole number from 1", ERR_INPUT},
        {"change level=5 to=7", "wanted level is 7 mg/L", ERR_INPUT},
        {"change level=5 to=0 way=continuous", "removed part is 1; expected a fraction", ERR_INPUT},
        {"change level=5 to=3 way=bucket", "way is \"bucket\"; expected batch or continuous", ERR_MISUSE},
        {"dilute to=1L want=3", "dilute needs stock=", ERR_MISUSE},
        {"dilute stock=5 want=3", "dilute needs stock=", ERR_MISUSE},
        {"dilute stock=5 to=1L", "dilute needs stock=", ERR_MISUSE},
        {"dilute stock=5 to=1L want=3 amount=1mL", "dilute needs stock=", ERR_MISUSE},
        {"dilute stock=3cm amount=1mL to=1L", "\"3cm\" is a length; expected a number, or a concentration", ERR_MISUSE},
        {"dilute stock=25% to=1L want=3mg/L", "stock is a fraction and want is a concentration", ERR_MISUSE},
        {"dilute stock=2 to=1L want=3", "stronger than the stock", ERR_INPUT},
        {"dilute stock=2 to=1L amount=3L", "more than the final volume", ERR_INPUT},
        {"broadcast rate=5", "broadcast needs volume=… and rate=…", ERR_MISUSE},
        {"broadcast volume=5L", "broadcast needs volume=… and rate=…", ERR_MISUSE},
        {"broadcast 0L 5", "volume is 0", ERR_INPUT},
        {"strength strength=1", "strength needs volume=", ERR_MISUSE},
        {"strength volume=1L", "strength needs volume=", ERR_MISUSE},
        {"strength volume=1L strength=1 dry=1g", "strength needs volume=", ERR_MISUSE},
        {"strength volume=0mL strength=1", "volume is 0", ERR_INPUT},
        {"strength volume=0mL dry=1g", "volume is 0", ERR_INPUT},
        {"density sg=1.3", "specific gravity is 1.3", ERR_INPUT},
        {"density 35psu 25C ref=60C", "reference temperature is 60", ERR_INPUT},
        {"density 35psu -30C", "temperature is -30", ERR_INPUT},
        {"density 50psu", "salinity is 50; expected 0 to 42", ERR_INPUT},
        {"ratio po4=0.1", "ratio needs no3=… and po4=…", ERR_MISUSE},
        {"ratio no3=5", "ratio needs no3=… and po4=…", ERR_MISUSE},
        {"ratio no3=5 po4=0", "", ERR_INPUT},
        {"ammonia temp=25C", "ammonia needs ph=… and temp=…", ERR_MISUSE},
        {"ammonia ph=8.2", "ammonia needs ph=… and temp=…", ERR_MISUSE},
        {"ammonia ph=20 temp=25", "", ERR_INPUT},
        {"label protein=much", "protein: \"much\" is not a quantity", ERR_INPUT},
        {"label phosphorus=12mg", "phosphorus: \"12mg\" is a mass; expected a percentage", ERR_INPUT},
        {"label moisture=120%", "moisture: \"120%\" is not within 0 and 100 %", ERR_INPUT},
        {"label ceiling=much", "ceiling: \"much\" is no rate", ERR_MISUSE},
        {"label rate=much", "rate: \"much\" is no rate", ERR_MISUSE},
        {"label protein=45% density=0", "density is 0; expected g of one mL", ERR_INPUT},
        {"label density=1.1", "some of what the label prints", ERR_MISUSE},
        {"convert", "a quantity, such as 65usgal", ERR_MISUSE},
        {"convert 3wat", "unit \"wat\" is not known", ERR_MISUSE},
        {"convert 5", "5 of what?", ERR_MISUSE},
        {"convert 3L to %", "a volume cannot be shown in %; expected a fraction", ERR_INPUT},
        {"convert 1.025sg", "a specific gravity needs its scale", ERR_INPUT},
        {"convert 3L to g", "cannot be shown in g", ERR_INPUT},
        {"convert 1e308 mg/L NO3", "the result is too large", ERR_INPUT},
        {"convert 1e307 L", "the result is too large", ERR_INPUT},
        {"convert " ONES ONES ONES ONES " L", "is no quantity", ERR_MISUSE},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct arena a = {0};
        struct err e = {0};
        struct calc k;
        if (ask(rows[i].line, &k, &a, &e))
            fail_msg("\"%s\" was answered", rows[i].line);
        if (e.code != rows[i].code || !strstr(e.text, rows[i].says))
            fail_msg("%s: code %d, \"%s\"; expected %d, \"%s\"", rows[i].line, (int)e.code, e.text, (int)rows[i].code,
                     rows[i].says);
        arena_free(&a);
    }
}

/* A hydrometer's scale that nobody named is taken to be 25/25, and that is said; one that was named needs no word. */
static void a_specific_gravity_says_which_scale_was_taken_for_granted(void **state)
{
    (void)state;
    static const struct {
        const char *line;
        bool cautioned;
    } rows[] = {
        {"density 35psu", true},
        {"density 35psu temp=25C", true},
        {"density 35psu ref=25C", true},
        {"density 35psu temp=25C ref=25C", false},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct arena a = {0};
        struct err e = {0};
        struct calc k;
        assert_true(ask(rows[i].line, &k, &a, &e));
        if ((k.caution != NULL) != rows[i].cautioned)
            fail_msg("%s: %s", rows[i].line, k.caution ? k.caution : "no caution");
        arena_free(&a);
    }
}

SUITE(desk)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(words_are_put_together_and_answered),
        cmocka_unit_test(what_makes_no_sense_is_named),
        cmocka_unit_test(a_specific_gravity_says_which_scale_was_taken_for_granted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
