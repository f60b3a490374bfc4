/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The card of a tank at home, planned by a house so small that it is reckoned by hand. */
#include "neap/calc.h"
#include "neap/week.h"

#include "small_house.h"

/* 100 L with ten corals of 1 mL each, and a nitrate of so much. */
static struct home home_of(const struct home_coral *corals, double no3_mg_l)
{
    return (struct home){.name = "A customer",
                         .day = DAY,
                         .tank = {.shape = SHAPE_BOX,
                                  .length_cm = 100,
                                  .width_cm = 40,
                                  .water_cm = 25,
                                  .diameter_cm = NAN,
                                  .bow_cm = NAN,
                                  .side_cm = NAN,
                                  .cut_length_cm = NAN,
                                  .cut_width_cm = NAN,
                                  .net_volume_l = NAN},
                         .has = {true, true},
                         .level_mg_l = {no3_mg_l, 0.08},
                         .corals = corals,
                         .n_corals = 1};
}

static void a_food_that_the_house_no_longer_keeps_is_on_no_card(void **state)
{
    static const struct home_coral corals[] = {{0, 10, 1}};
    (void)state;
    house_make();
    p.foods[1] = p.foods[0];
    p.foods[1].name = "rich";
    p.foods[0].blend_share_frac = p.foods[1].blend_share_frac = 0.5;
    p.f.n_foods = 2;
    for (int retired = 0; retired < 2; retired++) {
        const struct home h = home_of(corals, 8);
        struct facility f;
        struct round r;
        struct err e = {0};
        bool rich = false;
        p.foods[1].retired = retired;
        if (!home_plan(&p.f, &h, &f, &r, &e))
            fail_msg("%s", e.text);
        assert_int_equal(r.n_pots, 1);
        assert_number(r.pots[0].need_ml, 10, 1e-9);
        for (size_t i = 0; i < r.n_pot_foods; i++)
            rich = rich || r.pot_foods[i].food == 1;
        assert_int_equal(rich, !retired);
        round_free(&r);
        facility_free(&f);
    }
}

/* The band of nitrate ends at 15 mg/L: beyond it three quarters are fed, and the card says why. */
static void a_card_says_by_which_rule_it_is_as_strong_as_it_is(void **state)
{
    static const struct home_coral corals[] = {{0, 10, 1}};
    static const struct {
        double no3_mg_l, factor;
        const char *why;
    } rows[] = {{8, 1, "in band"}, {20, 0.75, "nitrate"}};
    (void)state;
    house_make();
    p.foods[0].ceiling_units_per_100l = 100;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct home h = home_of(corals, rows[i].no3_mg_l);
        struct facility f;
        struct round r;
        struct err e = {0};
        if (!home_plan(&p.f, &h, &f, &r, &e) || !home_why(&f, &h, &e))
            fail_msg("%s", e.text);
        assert_number(r.pots[0].factor, rows[i].factor, 0.01);
        if (!strstr(h.why, rows[i].why))
            fail_msg("%s", h.why);
        round_free(&r);
        facility_free(&f);
    }
}

static void a_tank_at_home_without_its_measures_is_refused(void **state)
{
    static const struct home_coral corals[] = {{0, 10, 1}};
    struct facility f;
    struct round r;
    struct err e = {0};
    (void)state;
    house_make();
    struct home h = home_of(corals, 8);
    h.tank.water_cm = NAN;
    assert_false(home_plan(&p.f, &h, &f, &r, &e));
    assert_int_equal(e.code, ERR_INPUT);
    assert_non_null(strstr(e.text, "water height is missing"));
}

SUITE(home)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_food_that_the_house_no_longer_keeps_is_on_no_card),
        cmocka_unit_test(a_card_says_by_which_rule_it_is_as_strong_as_it_is),
        cmocka_unit_test(a_tank_at_home_without_its_measures_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
