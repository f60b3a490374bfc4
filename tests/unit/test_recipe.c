/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recipes of a small facility, each with one thing changed. */
#include "numbers.h"

#include "neap/recipe.h"

/* ---- a small facility, changed by each test --------------------------------------------------------------------- */

enum { RICH, PLAIN, LIQUID, PELLET, FOODS };
enum { NORTH, SOUTH, SYSTEMS };

struct recipe_house {
    struct recipe_food foods[FOODS];
    struct recipe_system systems[SYSTEMS];
    struct recipe_tank tanks[SYSTEMS];
    struct recipe_problem problem;
};

static struct recipe_food food_new(const char *name, double no3_mg, double po4_mg)
{
    struct recipe_food f = {.name = name,
                            .solids_g_per_unit = 1,
                            .share_max_frac = 1,
                            .ceiling_per_100l = INFINITY,
                            .stock = INFINITY,
                            .price_cents = 1,
                            .step = 0.1};
    f.effect_mg[RECIPE_NO3] = f.effect_low_mg[RECIPE_NO3] = f.effect_high_mg[RECIPE_NO3] = no3_mg;
    f.effect_mg[RECIPE_PO4] = f.effect_low_mg[RECIPE_PO4] = f.effect_high_mg[RECIPE_PO4] = po4_mg;
    return f;
}

static struct recipe_system system_new(const char *name)
{
    struct recipe_system s = {.name = name, .volume_l = 1000, .lean_frac = 0.25, .full_frac = 1};
    for (int a = 0; a < RECIPE_ANALYTES; a++) {
        s.low_room_mg[a] = -INFINITY;
        s.high_room_mg[a] = s.max_fall_mg[a] = s.max_rise_mg[a] = INFINITY;
        s.band_mg[a] = 100;
    }
    return s;
}

static struct recipe_tank tank_new(const char *name, size_t system)
{
    return (struct recipe_tank){.name = name,
                                .system = system,
                                .net_volume_l = 1000,
                                .slurry_ml = 500,
                                .counted_frac = 1,
                                .late_counted_frac = 1};
}

/* House blend 60 % rich, 40 % plain, 1 g per 100 mL; each system one tank of 1000 L with 500 mL of slurry due. */
static void facility_new(struct recipe_house *f)
{
    *f = (struct recipe_house){
        .foods = {food_new("rich powder", 100, 10), food_new("plain powder", 50, 4),
                  food_new("amino-acid liquid", 2, 0), food_new("soft pellet", 80, 8)},
        .systems = {system_new("north"), system_new("south")},
        .tanks = {tank_new("A", NORTH), tank_new("B", SOUTH)},
    };
    f->foods[RICH].house_share_frac = 0.6;
    f->foods[PLAIN].house_share_frac = 0.4;
    f->foods[LIQUID].liquid = true;
    f->foods[LIQUID].solids_g_per_unit = 0;
    f->foods[LIQUID].max_ml_per_100ml = 10;
    f->foods[LIQUID].step = 0.5;
    f->foods[PELLET].late = true;
    f->foods[PELLET].house_share_frac = 1;
    f->problem = (struct recipe_problem){
        .foods = f->foods,
        .n_foods = FOODS,
        .systems = f->systems,
        .n_systems = SYSTEMS,
        .tanks = f->tanks,
        .n_tanks = SYSTEMS,
        .house_g_per_100ml = 1,
        .jug = {.step_ml = 1},
        .syringe_step_ml = 0.5,
    };
}

static void plan(const struct recipe_house *f, struct recipe *r)
{
    struct err e = {0};
    if (!recipe_plan(&f->problem, r, &e))
        fail_msg("%s", e.text);
}

static double exact_of(const struct recipe_pot *pot, size_t food)
{
    for (size_t k = 0; k < pot->n_amounts; k++)
        if (pot->amounts[k].food == food)
            return pot->amounts[k].exact;
    return 0;
}

static const struct recipe_amount *line_of(const struct recipe_pot *pot, size_t food)
{
    for (size_t k = 0; k < pot->n_amounts; k++)
        if (pot->amounts[k].food == food)
            return &pot->amounts[k];
    fail_msg("food %zu is not in the pot", food);
    return NULL;
}

static const struct recipe_limit *limit_of(const struct recipe *r, enum recipe_limit_kind kind)
{
    for (size_t i = 0; i < r->n_limits; i++)
        if (r->limits[i].kind == kind)
            return &r->limits[i];
    return NULL;
}

/* ---- blend and strength ----------------------------------------------------------------------------------------- */

static void with_nothing_in_the_way_one_pot_holds_the_house_blend_at_full_strength(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.foods[LIQUID].house_ml_per_100ml = 2;
    plan(&f, &r);
    assert_int_equal(r.n_pots, 1);
    assert_number(r.pots[0].slurry_ml, 1000, 0);
    assert_number(exact_of(&r.pots[0], RICH), 6, 1e-9);
    assert_number(exact_of(&r.pots[0], PLAIN), 4, 1e-9);
    assert_number(exact_of(&r.pots[0], LIQUID), 20, 1e-9);
    assert_number(line_of(&r.pots[0], RICH)->house, 6, 1e-9);
    assert_number(line_of(&r.pots[0], LIQUID)->house, 20, 1e-9);
    assert_number(r.pots[0].water_ml, 980, 1e-9);
    assert_number(r.pots[0].strength_frac, 1, 1e-9);
    assert_number(r.balance[SOUTH].added_mg[RECIPE_NO3], 3 * 100 + 2 * 50 + 10 * 2, 1e-9);
    assert_int_equal(r.n_limits, 0);
    recipe_free(&r);
}

static void two_foods_and_one_limit_mix_as_the_square_says(void **state)
{
    (void)state;
    static const struct {
        double a, b, target;
    } rows[] = {{30, 12, 15}, {12.25, 10.8, 11}, {39, 10.8, 15}}; /* as in recipe-pearson.csv */
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct recipe_house f;
        struct recipe r;
        double share;
        facility_new(&f);
        f.problem.n_systems = f.problem.n_tanks = 1;
        f.problem.n_foods = 2;
        f.foods[RICH] = food_new("a", rows[i].a, 0);
        f.foods[PLAIN] = food_new("b", rows[i].b, 0);
        f.foods[RICH].house_share_frac = 1; /* the house wants only a; the limit wants b */
        f.tanks[0].slurry_ml = 10000;       /* 100 g of dry mass at full strength */
        f.systems[NORTH].lean_frac = 1;     /* strength is given: the limit is met by the mix alone */
        f.systems[NORTH].high_room_mg[RECIPE_NO3] = rows[i].target * 100;
        plan(&f, &r);
        share = (rows[i].target - rows[i].b) / (rows[i].a - rows[i].b); /* the square */
        assert_number(exact_of(&r.pots[0], RICH), 100 * share, 1e-7);
        assert_number(exact_of(&r.pots[0], PLAIN), 100 * (1 - share), 1e-7);
        assert_non_null(limit_of(&r, RECIPE_ROOM_HIGH));
        recipe_free(&r);
    }
}

static void a_target_outside_the_two_feeds_is_missed_by_as_little_as_can_be(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.foods[RICH] = food_new("a", 12, 0);
    f.foods[PLAIN] = food_new("b", 10, 0);
    f.problem.n_foods = 2;
    f.tanks[0].slurry_ml = 10000;
    f.systems[NORTH].low_room_mg[RECIPE_NO3] = 14 * 100;
    plan(&f, &r);
    assert_number(exact_of(&r.pots[0], RICH), 100, 1e-7);
    assert_number(r.stage_value[RECIPE_BAND], 2.0 * 100 / 100, 1e-9); /* 200 mg short, band 100 mg wide */
    assert_number(r.balance[NORTH].passed_mg[RECIPE_NO3], -200, 1e-7);
    assert_number(r.balance[NORTH].passed_mg_l[RECIPE_NO3], -0.2, 1e-9);
    recipe_free(&r);
}

static void a_full_band_thins_the_pot_to_lean_and_no_further(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.systems[NORTH].high_room_mg[RECIPE_PO4] = -5;
    plan(&f, &r);
    assert_number(exact_of(&r.pots[0], RICH), 0, 1e-9); /* of the two the plain powder adds less */
    assert_number(exact_of(&r.pots[0], PLAIN), 1.25, 1e-9);
    assert_false(r.pots[0].below_lean);
    assert_number(r.stage_value[RECIPE_BAND], (5 + 1.25 * 4) / 100, 1e-9);
    recipe_free(&r);
}

static void share_limits_hold_and_give_way_only_to_lean_strength(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.foods[RICH].share_max_frac = 0.5;
    plan(&f, &r);
    assert_number(exact_of(&r.pots[0], RICH), 2.5, 1e-9);
    assert_false(r.pots[0].shares_passed);
    recipe_free(&r);
    f.foods[PLAIN].stock = 0; /* rich powder alone cannot be half of the pot */
    plan(&f, &r);
    assert_number(exact_of(&r.pots[0], RICH), 1.25, 1e-9);
    assert_true(r.pots[0].shares_passed);
    recipe_free(&r);
}

/*
 * House: 3 g rich and 2 g plain. A shift moves no more than is asked, at full strength; and a food by twice its part at
 * most.
 */
static void a_state_moves_the_blend_by_what_it_asks(void **state)
{
    (void)state;
    static const struct {
        double shift_frac, plain_po4_mg, rich_g;
    } rows[] = {
        {-0.25, 0, 2.25}, /* 30 mg by the house: 22.5 */
        {0.25, 0, 3.75},  /* 37.5 */
        {-0.25, 8, 2},    /* 46 mg: 34.5 is out of reach, and 2 g of plain powder go up to 3 */
        {-0.5, 0, 1.5},   /* 15 mg */
        {0, 0, 3},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct recipe_house f;
        struct recipe r;
        facility_new(&f);
        f.problem.n_systems = f.problem.n_tanks = 1;
        f.foods[PLAIN].effect_mg[RECIPE_PO4] = f.foods[PLAIN].effect_low_mg[RECIPE_PO4] =
            f.foods[PLAIN].effect_high_mg[RECIPE_PO4] = rows[i].plain_po4_mg;
        f.systems[NORTH].shift_frac[RECIPE_PO4] = rows[i].shift_frac;
        plan(&f, &r);
        assert_number(exact_of(&r.pots[0], RICH), rows[i].rich_g, 1e-9);
        assert_number(exact_of(&r.pots[0], PLAIN), 5 - rows[i].rich_g, 1e-9);
        const struct recipe_limit *limit = limit_of(&r, rows[i].shift_frac < 0 ? RECIPE_POORER : RECIPE_RICHER);
        assert_int_equal(limit != NULL, rows[i].shift_frac != 0);
        recipe_free(&r);
    }
}

static void waters_that_want_opposite_foods_do_not_share_a_pot(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.systems[NORTH].shift_frac[RECIPE_PO4] = -0.1;
    f.systems[SOUTH].shift_frac[RECIPE_PO4] = 0.1;
    plan(&f, &r);
    assert_int_equal(r.n_pots, 2);
    assert_true(exact_of(&r.pots[0], RICH) < 3 && exact_of(&r.pots[1], RICH) > 3);
    recipe_free(&r);
    f.systems[SOUTH].shift_frac[RECIPE_PO4] = -0.1;
    plan(&f, &r);
    assert_int_equal(r.n_pots, 1);
    recipe_free(&r);
}

/* 10 of 500 mL stay in the syringe: the balance counts 490, and what fish are fed; a broadcast by what it does more. */
static void the_balance_counts_what_reaches_the_water(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.tanks[NORTH].rest_ml = 10;
    f.tanks[NORTH].broadcast_frac = 1;
    f.foods[LIQUID].broadcast_ml_per_100l = 1;
    f.foods[LIQUID].broadcast_more[RECIPE_NO3] = 0.5;
    f.systems[NORTH].beside_mg[RECIPE_NO3] = f.systems[NORTH].beside_low_mg[RECIPE_NO3] = 7;
    f.systems[NORTH].beside_high_mg[RECIPE_NO3] = 9;
    plan(&f, &r);
    assert_number(r.balance[NORTH].added_mg[RECIPE_NO3], 400 * 0.98 + 10 * 2 * 1.5 + 7, 1e-9);
    assert_number(r.balance[NORTH].added_high_mg[RECIPE_NO3], 400 * 0.98 + 10 * 2 * 1.5 + 9, 1e-9);
    recipe_free(&r);
}

static void without_one_food_the_others_keep_their_proportion(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.foods[PELLET].late = false;
    f.foods[PELLET].house_share_frac = 0.2;
    f.foods[RICH].house_share_frac = 0.5;
    f.foods[PLAIN].house_share_frac = 0.3;
    f.foods[PELLET].stock = 0;
    plan(&f, &r);
    assert_number(exact_of(&r.pots[0], RICH), 5 * 0.5 / 0.8, 1e-9);
    assert_number(exact_of(&r.pots[0], PLAIN), 5 * 0.3 / 0.8, 1e-9);
    assert_number(r.stage_value[RECIPE_HOUSE], 0, 1e-9);
    recipe_free(&r);
}

static void liquids_fill_a_pot_and_no_more(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.foods[PELLET] = f.foods[LIQUID];
    f.foods[PELLET].name = "live algae";
    f.foods[LIQUID].max_ml_per_100ml = f.foods[PELLET].max_ml_per_100ml = 100;
    f.foods[LIQUID].house_ml_per_100ml = f.foods[PELLET].house_ml_per_100ml = 80;
    plan(&f, &r);
    assert_number(exact_of(&r.pots[0], LIQUID) + exact_of(&r.pots[0], PELLET), 500, 1e-9);
    assert_number(r.pots[0].water_ml, 0, 1e-9);
    assert_non_null(limit_of(&r, RECIPE_WATER));
    recipe_free(&r);
}

static void among_equal_blends_the_cheaper_food_is_taken(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.foods[RICH].house_share_frac = f.foods[PLAIN].house_share_frac = 0; /* no blend asked for */
    f.foods[RICH].price_cents = 3;
    plan(&f, &r);
    assert_number(exact_of(&r.pots[0], PLAIN), 5, 1e-9);
    assert_number(r.cost_cents, 5, 1e-9);
    recipe_free(&r);
}

static void a_food_without_a_largest_share_keeps_near_its_house_share(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.foods[PELLET] = food_new("new powder", 10, 1); /* fills the ceiling ten times more slowly than the house's */
    f.foods[PELLET].house_share_frac = 0.25;
    f.foods[PELLET].share_max_frac = NAN;
    f.foods[RICH].ceiling_per_100l = f.foods[PLAIN].ceiling_per_100l = 0.1;
    f.foods[PELLET].ceiling_per_100l = 1;
    plan(&f, &r); /* of the house blend a fifth is new: with the margin 0.35, and 0.65 of two foods that take 1 g */
    assert_number(line_of(&r.pots[0], PELLET)->share_max_frac, 0.35, 1e-12);
    double new_g = exact_of(&r.pots[0], PELLET), old_g = exact_of(&r.pots[0], RICH) + exact_of(&r.pots[0], PLAIN);
    assert_true(new_g / (new_g + old_g) <= 0.35 + 1e-9);
    assert_false(r.pots[0].shares_passed);
    recipe_free(&r);
    f.foods[RICH].stock = f.foods[PLAIN].stock = 0; /* alone it is the house blend */
    plan(&f, &r);
    assert_number(exact_of(&r.pots[0], PELLET), 5, 1e-9);
    assert_false(r.pots[0].shares_passed);
    recipe_free(&r);
}

/* A tank of 1000 L bears 4 g of rich powder or 5 g of plain; the pot wants 5 g in all. */
static void the_last_few_hundredths_of_strength_are_spent_on_the_house_blend(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.foods[RICH].ceiling_per_100l = 0.4;
    f.foods[PLAIN].ceiling_per_100l = 0.5;
    plan(&f, &r); /* the fullest is plain powder alone; a twentieth less lets in 1 g of rich powder */
    assert_number(r.stage_value[RECIPE_FULL], 0, 1e-9);
    assert_number(exact_of(&r.pots[0], RICH), 1, 1e-7);
    assert_number(exact_of(&r.pots[0], PLAIN), 3.75, 1e-7);
    recipe_free(&r);
    f.foods[RICH].ceiling_per_100l = f.foods[PLAIN].ceiling_per_100l =
        0.4; /* no blend would be fuller: nothing to spend */
    plan(&f, &r);
    assert_number(exact_of(&r.pots[0], RICH), 2.4, 1e-7);
    assert_number(exact_of(&r.pots[0], PLAIN), 1.6, 1e-7);
    recipe_free(&r);
}

static void starved_water_gets_all_it_may_have_of_phosphate(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.foods[RICH].share_max_frac = 0.9;
    f.systems[NORTH].po4_starved = true;
    f.systems[NORTH].shift_frac[RECIPE_PO4] = 1;
    plan(&f, &r); /* 10 mg in a gram of rich powder, 4 mg in one of plain: as much of the first as its share allows */
    assert_number(exact_of(&r.pots[0], RICH), 4.5, 1e-7);
    assert_number(exact_of(&r.pots[0], PLAIN), 0.5, 1e-7);
    assert_number(r.stage_value[RECIPE_LACK], -(4.5 * 10 + 0.5 * 4) / 100, 1e-9);
    recipe_free(&r);
    f.systems[NORTH].max_rise_mg[RECIPE_PO4] = 41; /* a day's rise comes before it: 3.5 g of rich and 1.5 g of plain */
    plan(&f, &r);
    assert_number(exact_of(&r.pots[0], RICH) * 10 + exact_of(&r.pots[0], PLAIN) * 4, 41, 1e-7);
    assert_number(exact_of(&r.pots[0], RICH) + exact_of(&r.pots[0], PLAIN), 5, 1e-7);
    recipe_free(&r);
}

/* 10 mL for 1000 L; a mL adds 2 mg of phosphate in a pot, and half as much again where it is broadcast. */
static void what_is_broadcast_to_starved_water_counts_as_phosphate(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.tanks[0].slurry_ml = 0;
    f.tanks[0].broadcast_frac = 1;
    f.foods[LIQUID].broadcast_ml_per_100l = 1;
    f.foods[LIQUID].effect_mg[RECIPE_PO4] = f.foods[LIQUID].effect_low_mg[RECIPE_PO4] = 2;
    f.foods[LIQUID].effect_high_mg[RECIPE_PO4] = 2;
    f.foods[LIQUID].broadcast_more[RECIPE_PO4] = 0.5;
    f.systems[NORTH].po4_starved = true;
    f.systems[NORTH].shift_frac[RECIPE_PO4] = 1;
    plan(&f, &r);
    assert_int_equal(r.n_broadcasts, 1);
    assert_number(r.broadcasts[0].exact, 10, 1e-7);
    assert_number(r.stage_value[RECIPE_LACK], -10 * 2 * 1.5 / 100, 1e-9);
    recipe_free(&r);
    f.foods[LIQUID].strips = true; /* and one that lowers it is not given there at all */
    plan(&f, &r);
    assert_int_equal(r.n_broadcasts, 0);
    recipe_free(&r);
}

static void a_starved_system_gets_no_stripping_food_and_not_less_than_the_house(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.foods[PLAIN].strips = true;
    f.systems[NORTH].po4_starved = true;
    f.systems[NORTH].full_frac = 1.25;
    f.systems[NORTH].high_room_mg[RECIPE_NO3] = 0; /* nitrate alone would ask for lean */
    plan(&f, &r);
    assert_number(exact_of(&r.pots[0], PLAIN), 0, 0);
    assert_number(exact_of(&r.pots[0], RICH), 5, 1e-9);
    assert_number(r.pots[0].lean_frac, 1, 0);
    recipe_free(&r);
}

static void near_a_band_edge_the_unfavourable_effect_counts(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.problem.n_foods = 1;
    f.foods[RICH].effect_high_mg[RECIPE_NO3] = 125;
    f.systems[NORTH].high_room_mg[RECIPE_NO3] = 500; /* 5 g by the mean, 4 g by the limit */
    plan(&f, &r);
    assert_number(exact_of(&r.pots[0], RICH), 4, 1e-9);
    recipe_free(&r);
}

static void a_stripping_food_is_bounded_by_the_largest_fall_of_a_day(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.foods[RICH] = food_new("rich powder", 10, 10);
    f.foods[RICH].house_share_frac = 1;
    f.foods[PLAIN] = food_new("lowering powder", -10, -10);
    f.foods[PLAIN].strips = true;
    for (int a = 0; a < RECIPE_ANALYTES; a++)
        f.systems[NORTH].high_room_mg[a] = -40; /* 4 g of it would put both levels right */
    f.systems[NORTH].max_fall_mg[RECIPE_PO4] = 12;
    plan(&f, &r);
    assert_number(10 * exact_of(&r.pots[0], RICH) - 10 * exact_of(&r.pots[0], PLAIN), -12, 1e-9);
    assert_number(r.stage_value[RECIPE_SWING], 0, 1e-9);
    assert_number(r.stage_value[RECIPE_BAND], 2 * (40 - 12) / 100.0, 1e-9);
    const struct recipe_limit *fall = limit_of(&r, RECIPE_FALL);
    assert_int_equal(fall->stage, RECIPE_BAND);
    struct recipe loosened;
    struct err e = {0};
    assert_true(recipe_loosen(&f.problem, &r, fall, 5, &loosened, &e)); /* a larger fall, and both bands are nearer */
    assert_number(loosened.stage_value[RECIPE_BAND], 2 * (40 - 17) / 100.0, 1e-9);
    recipe_free(&loosened);
    assert_false(recipe_loosen(&f.problem, &r, fall, -1, &loosened, &e));
    recipe_free(&loosened);
    assert_false(recipe_loosen(&f.problem, &r, fall, INFINITY, &loosened, &e));
    recipe_free(&loosened);
    const struct recipe_limit share = {.kind = RECIPE_SHARE_MAX, .food = RICH};
    assert_false(recipe_loosen(&f.problem, &r, &share, 1, &loosened, &e));
    assert_string_equal(e.text, "only ceilings, stock, room and a day's change can be loosened, by ≥ 0");
    recipe_free(&loosened);
    recipe_free(&r);
}

/* ---- hard limits ------------------------------------------------------------------------------------------------ */

static void a_ceiling_wins_over_lean_strength_and_it_is_said(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.foods[RICH].ceiling_per_100l = f.foods[PLAIN].ceiling_per_100l = 0.1; /* 1 g in 1000 L; lean asks for 1.25 g */
    plan(&f, &r);
    assert_number(exact_of(&r.pots[0], RICH) + exact_of(&r.pots[0], PLAIN), 1, 1e-9);
    assert_true(r.pots[0].below_lean);
    assert_number(r.load_frac[0], 1, 1e-9);
    const struct recipe_limit *limit = limit_of(&r, RECIPE_CEILING);
    assert_non_null(limit);
    assert_int_equal(limit->stage, RECIPE_LEAN);
    assert_int_equal(limit->system, 0);
    recipe_free(&r);
}

static void what_was_given_already_today_counts_towards_the_ceiling(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.foods[RICH].ceiling_per_100l = f.foods[PLAIN].ceiling_per_100l = 0.4; /* 4 g */
    f.systems[0].load_frac = 0.25;
    plan(&f, &r);
    assert_number(exact_of(&r.pots[0], RICH) + exact_of(&r.pots[0], PLAIN), 3, 1e-9);
    recipe_free(&r);
    f.systems[0].load_frac = 1.2;
    plan(&f, &r);
    assert_int_equal(r.pots[0].n_amounts, 0);
    assert_true(r.pots[0].below_lean);
    recipe_free(&r);
}

static void scarce_stock_is_shared_by_the_pots(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.systems[NORTH].own_pot = true;
    f.foods[RICH].stock = 4;
    f.foods[PLAIN].stock = 0;
    f.tanks[1].slurry_ml = 1500;
    plan(&f, &r);
    assert_int_equal(r.n_pots, 2);
    assert_number(exact_of(&r.pots[0], RICH), 1, 1e-9); /* 4 g for 2000 mL, below lean: */
    assert_number(exact_of(&r.pots[1], RICH), 3, 1e-9); /* as strong in both */
    recipe_free(&r);
}

/* 10.3 mL for the pot and 10 to be broadcast, of 20.4: the pot's line is not rounded up to 10.5. */
static void what_is_broadcast_is_not_there_for_the_pot(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.tanks[0].slurry_ml = 515;
    f.tanks[0].broadcast_frac = 1;
    f.foods[LIQUID].house_ml_per_100ml = 2;
    f.foods[LIQUID].broadcast_ml_per_100l = 1;
    f.foods[LIQUID].stock = 20.4;
    plan(&f, &r);
    assert_number(r.broadcasts[0].amount, 10, 1e-12);
    assert_number(line_of(&r.pots[0], LIQUID)->exact, 10.3, 1e-9);
    assert_number(line_of(&r.pots[0], LIQUID)->amount, 10, 1e-12);
    recipe_free(&r);
    f.foods[LIQUID].stock = 20.5;
    plan(&f, &r);
    assert_number(line_of(&r.pots[0], LIQUID)->amount, 10.5, 1e-12);
    recipe_free(&r);
}

static void pot_and_broadcast_are_scaled_down_together(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.tanks[0].broadcast_frac = 1;
    f.foods[LIQUID].broadcast_ml_per_100l = 1;                                /* house: 10 mL */
    f.foods[LIQUID].ceiling_per_100l = 1.25;                                  /* 12.5 mL: 0.8 of the ceiling */
    f.foods[RICH].ceiling_per_100l = f.foods[PLAIN].ceiling_per_100l = 0.625; /* 6.25 g; house 5 g: 0.8 too */
    plan(&f, &r);
    assert_int_equal(r.n_broadcasts, 1);
    assert_number(r.broadcasts[0].exact, 6.25, 1e-9); /* 1.6 of the ceilings wanted, 1 to be had: 0.625 of each */
    assert_number(exact_of(&r.pots[0], RICH) + exact_of(&r.pots[0], PLAIN), 5 * 0.625, 1e-9);
    recipe_free(&r);
}

static void a_food_too_large_for_one_mouth_stays_out_of_its_pot(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    bool may_eat[SYSTEMS * FOODS] = {true, true, true, true, /* south: no rich powder */ false, true, true, true};
    f.problem.may_eat = may_eat;
    f.problem.strength_tolerance_frac = 1;
    plan(&f, &r);
    assert_int_equal(r.n_pots, 1);
    assert_number(exact_of(&r.pots[0], RICH), 0, 0);
    assert_number(exact_of(&r.pots[0], PLAIN), 10, 1e-9);
    recipe_free(&r);
}

/* ---- pots ------------------------------------------------------------------------------------------------------- */

static void a_pot_is_shared_only_as_far_as_the_bands_allow(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_foods = 1;
    f.systems[NORTH].low_room_mg[RECIPE_PO4] = 50;  /* needs all of 5 g × 10 mg */
    f.systems[SOUTH].high_room_mg[RECIPE_PO4] = 25; /* bears half of it */
    plan(&f, &r);
    assert_int_equal(r.n_pots, 2);
    assert_number(r.stage_value[RECIPE_BAND], 0, 1e-9);
    recipe_free(&r);
    f.problem.band_tolerance = 0.25; /* 25 mg of 100 are lost in one pot */
    f.problem.strength_tolerance_frac = 1;
    plan(&f, &r);
    assert_int_equal(r.n_pots, 1);
    assert_number(r.stage_value[RECIPE_BAND], 0.25, 1e-9);
    assert_number(r.own_value[RECIPE_BAND], 0, 1e-9);
    assert_false(r.capped);
    recipe_free(&r);
}

/* Three waters, of which the middle one bears half as much: the others' pot is no weaker for it, and there are two. */
static void waters_of_one_strength_share_a_pot_past_a_weaker_one(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    struct recipe_system systems[] = {system_new("A"), system_new("B"), system_new("C")};
    struct recipe_tank tanks[] = {tank_new("A", 0), tank_new("B", 1), tank_new("C", 2)};
    systems[1].full_frac = 0.5;
    f.problem.systems = systems;
    f.problem.tanks = tanks;
    f.problem.n_systems = f.problem.n_tanks = 3;
    plan(&f, &r);
    assert_int_equal(r.n_pots, 2);
    assert_int_equal(r.group[0], r.group[2]);
    assert_int_not_equal(r.group[0], r.group[1]);
    for (size_t i = 0; i < 2; i++)
        assert_number(r.pots[i].strength_frac, r.pots[i].n_systems == 2 ? 1 : 0.5, 1e-9);
    recipe_free(&r);
}

static void a_cap_on_pots_is_kept_and_said(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_foods = 1;
    f.systems[NORTH].low_room_mg[RECIPE_PO4] = 50;
    f.systems[SOUTH].high_room_mg[RECIPE_PO4] = 25;
    f.problem.max_pots = 1;
    plan(&f, &r);
    assert_int_equal(r.n_pots, 1);
    assert_true(r.capped);
    recipe_free(&r);
    f.systems[SOUTH].own_pot = true;
    plan(&f, &r);
    assert_int_equal(r.n_pots, 2);
    assert_true(r.over_cap);
    assert_false(r.capped);
    recipe_free(&r);
}

static void a_quarantine_shares_no_pot_even_where_asked_to(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    struct err e = {0};
    facility_new(&f);
    f.systems[SOUTH].own_pot = true;
    plan(&f, &r);
    assert_int_equal(r.n_pots, 2);
    recipe_free(&r);
    assert_false(recipe_plan_groups(&f.problem, (size_t[]){0, 0}, &r, &e));
    assert_int_equal(e.code, ERR_INPUT);
    assert_non_null(strstr(e.text, "\"north\" and \"south\""));
    recipe_free(&r);
}

static void a_system_that_is_due_and_has_no_group_is_named(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    struct err e = {0};
    facility_new(&f);
    assert_false(recipe_plan_groups(&f.problem, (size_t[]){0, RECIPE_NONE}, &r, &e));
    assert_string_equal(e.text, "system \"south\": slurry is due, but it has no pot");
    recipe_free(&r);
}

static void pots_that_are_asked_for_are_numbered_as_they_come(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    struct err e = {0};
    facility_new(&f);
    assert_true(recipe_plan_groups(&f.problem, (size_t[]){7, 3}, &r, &e));
    assert_int_equal(r.n_pots, 2);
    assert_int_equal(r.group[NORTH], 0);
    assert_int_equal(r.group[SOUTH], 1);
    recipe_free(&r);
}

/* ---- many waters ------------------------------------------------------------------------------------------------ */

enum { MANY = RECIPE_BLOCK_MAX + 6, MANY_MOST = 2 * RECIPE_BLOCK_MAX };

/* Thirty systems of a tank each, every second with its own name and room; 0.1 mL of liquid broadcast per 100 L. */
struct many_waters {
    struct recipe_house f;
    struct recipe_system systems[MANY_MOST];
    struct recipe_tank tanks[MANY_MOST];
    bool may_eat[MANY_MOST * FOODS];
};

static void many_new(struct many_waters *m, size_t n)
{
    facility_new(&m->f);
    m->f.foods[LIQUID].broadcast_ml_per_100l = 0.1;
    m->f.foods[RICH].stock = 60;
    for (size_t s = 0; s < n; s++) {
        m->systems[s] = system_new(s % 2 ? "south" : "north");
        m->tanks[s] = tank_new("T", n - 1 - s);
        m->tanks[s].broadcast_frac = 1;
        for (size_t k = 0; k < FOODS; k++)
            m->may_eat[s * FOODS + k] = k != PLAIN || s != 4;
    }
    m->f.problem.systems = m->systems;
    m->f.problem.tanks = m->tanks;
    m->f.problem.may_eat = m->may_eat;
    m->f.problem.n_systems = m->f.problem.n_tanks = n;
}

/* 5 g for each of 30 tanks would take 90 g of the rich powder; there are 60. */
static void waters_beyond_a_block_keep_every_limit_of_the_whole_round(void **state)
{
    (void)state;
    static struct many_waters m;
    struct recipe r;
    struct err e = {0};
    double rich = 0;
    size_t n_served = 0;
    many_new(&m, MANY);
    plan(&m.f, &r);
    assert_int_equal(r.n_blocks, 2);
    assert_null(r.kept);
    for (size_t i = 0; i < r.n_pots; i++) {
        rich += exact_of(&r.pots[i], RICH);
        n_served += r.pots[i].n_systems;
        for (size_t k = 0; k < r.pots[i].n_systems; k++)
            if (r.pots[i].systems[k] == 4)
                assert_number(exact_of(&r.pots[i], PLAIN), 0, 0);
    }
    assert_int_equal(n_served, MANY);
    assert_true(rich <= 60 + 1e-9 && rich > 50);
    assert_int_equal(r.n_broadcasts, MANY);
    for (size_t i = 0; i < r.n_broadcasts; i++) {
        assert_int_equal(r.broadcasts[i].tank, i);
        assert_number(r.broadcasts[i].amount, 1, 1e-9);
    }
    struct text t = {0};
    assert_false(recipe_write_lp(&m.f.problem, &r, RECIPE_FULL, &t, &e));
    assert_string_equal(e.text, "the foods of 30 waters are 2 programmes; expected up to 24 waters to write one");
    text_free(&t);
    recipe_free(&r);
}

/* Two pots for 30 waters: blocks of 24 would need a pot each, and could not share them out better. */
static void a_cap_on_pots_makes_blocks_larger(void **state)
{
    (void)state;
    static struct many_waters m;
    struct recipe r;
    many_new(&m, MANY);
    m.f.problem.may_eat = NULL;
    m.f.problem.max_pots = 2;
    plan(&m.f, &r);
    assert_int_equal(r.n_blocks, 1);
    assert_true(r.n_pots <= 2 && !r.over_cap);
    recipe_free(&r);
}

static void two_pots_or_more_are_left_to_each_block(void **state)
{
    (void)state;
    static const size_t rows[][2] = {{3, 1}, {4, 2}, {5, 2}}; /* at most so many pots for twice 24 waters; blocks */
    static struct many_waters m;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct recipe r;
        many_new(&m, MANY_MOST);
        m.f.problem.may_eat = NULL;
        m.f.problem.max_pots = rows[i][0];
        plan(&m.f, &r);
        assert_int_equal(r.n_blocks, rows[i][1]);
        assert_true(r.n_pots <= rows[i][0] && !r.over_cap);
        recipe_free(&r);
    }
}

static void strengths_that_do_not_meet_need_two_pots(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.systems[NORTH].po4_starved = true; /* not below house strength */
    f.systems[SOUTH].full_frac = 0.5;    /* not above half of it */
    f.problem.band_tolerance = 100;
    f.problem.strength_tolerance_frac = 1;
    plan(&f, &r);
    assert_int_equal(r.n_pots, 2);
    recipe_free(&r);
}

static void late_food_has_a_late_pot_of_its_own(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.tanks[1].late_slurry_ml = 200;
    plan(&f, &r);
    assert_int_equal(r.n_pots, 2);
    assert_false(r.pots[0].late);
    assert_true(r.pots[1].late);
    assert_number(exact_of(&r.pots[0], PELLET), 0, 0);
    assert_int_equal(r.pots[1].n_amounts, 1);
    assert_number(exact_of(&r.pots[1], PELLET), 2, 1e-9);
    assert_int_equal(r.pots[1].n_systems, 1);
    recipe_free(&r);
}

static void a_round_with_nothing_due_is_empty(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.tanks[0].slurry_ml = f.tanks[1].slurry_ml = 0;
    plan(&f, &r);
    assert_int_equal(r.n_pots + r.n_broadcasts, 0);
    assert_int_equal(r.group[NORTH], RECIPE_NONE);
    recipe_free(&r);
}

/* ---- limits and their prices ------------------------------------------------------------------------------------ */

static void a_price_is_what_loosening_the_limit_gains(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r, loosened;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.systems[NORTH].high_room_mg[RECIPE_PO4] = 10; /* 5 g of the plain powder would be 20 mg */
    plan(&f, &r);
    const struct recipe_limit *limit = limit_of(&r, RECIPE_ROOM_HIGH);
    assert_non_null(limit);
    assert_int_equal(limit->system, NORTH);
    assert_int_equal(limit->analyte, RECIPE_PO4);
    assert_int_equal(limit->stage, RECIPE_FULL);
    assert_number(limit->limit, 10, 0);
    struct err e = {0};
    assert_true(recipe_loosen(&f.problem, &r, limit, 0.5, &loosened, &e));
    assert_number(exact_of(&loosened.pots[0], PLAIN) - exact_of(&r.pots[0], PLAIN), 0.5 / 4, 1e-9);
    assert_number(r.stage_value[RECIPE_FULL] - loosened.stage_value[RECIPE_FULL], 0.5 * limit->price, 1e-9);
    assert_number(limit->price, 2 / (4.0 * 5), 1e-9); /* largest and mean gain 1 mg / (4 mg/g × 5 g) each */
    recipe_free(&r);
    recipe_free(&loosened);
}

/* ---- measuring -------------------------------------------------------------------------------------------------- */

static void amounts_are_what_the_scale_shows_and_the_rest_is_told(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.foods[RICH].house_share_frac = 0.53;
    f.foods[PLAIN].house_share_frac = 0.47;
    f.tanks[0].slurry_ml = 470;
    plan(&f, &r); /* exactly 2.491 and 2.209 g of 4.7 g */
    assert_number(line_of(&r.pots[0], RICH)->exact, 2.491, 1e-9);
    assert_number(line_of(&r.pots[0], RICH)->amount, 2.5, 1e-12);
    assert_number(line_of(&r.pots[0], PLAIN)->amount, 2.2, 1e-12);
    assert_int_equal(r.pots[0].amounts[0].food, PLAIN); /* powders by rising amount */
    recipe_free(&r);
    f.foods[RICH].stock = 2.5; /* what is weighed of the other food takes nothing of it */
    plan(&f, &r);
    assert_number(line_of(&r.pots[0], RICH)->amount, 2.5, 1e-12);
    recipe_free(&r);
}

static void each_amount_is_rounded_to_the_nearest_step(void **state)
{
    (void)state;
    static const struct {
        double room_mg, powder_g, liquid_ml;
    } rows[] = {{243, 2.4, 12}, {247, 2.5, 12.5}, {244, 2.4, 12}, {246, 2.5, 12.5}}; /* 2.43 g, 12.15 mL, and so on */
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct recipe_house f;
        struct recipe r;
        facility_new(&f);
        f.problem.n_systems = f.problem.n_tanks = 1;
        f.foods[PLAIN].stock = 0;
        f.foods[LIQUID].house_ml_per_100ml = 5;
        f.foods[LIQUID].effect_high_mg[RECIPE_NO3] = f.foods[LIQUID].effect_mg[RECIPE_NO3] = 0;
        f.foods[LIQUID].effect_low_mg[RECIPE_NO3] = 0;
        f.systems[NORTH].high_room_mg[RECIPE_NO3] = rows[i].room_mg; /* at 100 mg per g: below full strength */
        plan(&f, &r);
        assert_number(line_of(&r.pots[0], RICH)->exact, rows[i].room_mg / 100, 1e-9);
        assert_number(line_of(&r.pots[0], RICH)->amount, rows[i].powder_g, 1e-12);
        assert_number(line_of(&r.pots[0], LIQUID)->exact, rows[i].room_mg / 20, 1e-9);
        assert_number(line_of(&r.pots[0], LIQUID)->amount, rows[i].liquid_ml, 1e-12);
        recipe_free(&r);
    }
}

static void a_state_at_full_strength_is_rounded_down(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = f.problem.n_foods = 1;
    f.systems[NORTH].full_frac = 0.498; /* 2.49 g: the nearest, 2.5, would be stronger than the state allows */
    plan(&f, &r);
    assert_number(line_of(&r.pots[0], RICH)->amount, 2.4, 1e-12);
    assert_true(r.pots[0].strength_frac <= 0.498);
    recipe_free(&r);
}

static void a_measured_amount_is_not_raised_past_a_ceiling(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.problem.n_foods = 1;
    f.foods[RICH].ceiling_per_100l = 0.298; /* 2.98 g: 3.0 would be nearer */
    plan(&f, &r);
    assert_number(line_of(&r.pots[0], RICH)->amount, 2.9, 1e-12);
    assert_true(r.load_frac[0] <= 1);
    recipe_free(&r);
}

/* 0.28 g each of a scale that shows tenths: 0.3 would be stronger than the state allows, 0.2 is a third too little. */
static void a_food_too_light_for_single_pots_is_premixed_once_for_all(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_foods = 1;
    f.problem.house_g_per_100ml = 0.4;
    f.problem.premix_ml = 100;
    f.tanks[0].slurry_ml = f.tanks[1].slurry_ml = 70;
    f.systems[SOUTH].own_pot = true;
    f.foods[RICH].premixes = true;
    plan(&f, &r);
    assert_int_equal(r.n_pots, 2);
    assert_int_equal(r.n_premixes, 1);
    assert_number(r.premixes[0].weigh, 1, 1e-12);
    assert_number(r.premixes[0].make_up_ml, 100, 0);
    for (size_t i = 0; i < 2; i++) {
        assert_number(line_of(&r.pots[i], RICH)->take_ml, 28, 1e-9);
        assert_number(line_of(&r.pots[i], RICH)->amount, 0.28, 1e-9);
        assert_number(r.pots[i].water_ml, 42, 1e-9);
        assert_number(r.pots[i].slurry_ml, 70, 0);
    }
    recipe_free(&r);
    f.foods[RICH].stock = 0.9; /* one gram cannot be weighed, so no premix: 0.4 g in 105 mL each */
    plan(&f, &r);
    assert_int_equal(r.n_premixes, 0);
    recipe_free(&r);
    f.foods[RICH].stock = INFINITY;
    f.foods[RICH].premixes = false; /* minced food sinks in the jar */
    plan(&f, &r);
    assert_int_equal(r.n_premixes, 0);
    recipe_free(&r);
}

static void a_gram_is_not_thrown_away_for_a_quarter_the_pot_is_made_larger(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_foods = f.problem.n_systems = f.problem.n_tanks = 1;
    f.problem.house_g_per_100ml = 0.4;
    f.problem.premix_ml = 100;
    f.tanks[0].slurry_ml = 70; /* 0.28 g; in 75 mL it is 0.3 g, which can be weighed */
    f.foods[RICH].premixes = true;
    plan(&f, &r);
    assert_int_equal(r.n_premixes, 0);
    assert_number(r.pots[0].least_ml, 70, 0);
    assert_number(r.pots[0].slurry_ml, 75, 0);
    assert_number(r.pots[0].fed_ml, 70, 0);
    assert_number(line_of(&r.pots[0], RICH)->amount, 0.3, 1e-12);
    assert_number(r.balance[NORTH].added_mg[RECIPE_NO3], 0.3 * 100 * 70 / 75,
                  1e-9); /* the tank gets its planned food */
    recipe_free(&r);
}

/* What a scale of tenths cannot show in the pot as planned, and how far it grows so that some food can be in it. */
static void a_pot_too_weak_for_the_scale_grows_threefold_at_most(void **state)
{
    (void)state;
    static const struct {
        double slurry_ml, dead_ml, house_g_per_100ml, made_ml, powder_g;
    } rows[] = {
        {200, 0, 0.02, 500, 0.1}, /* 0.04 g; 0.1 g of the same strength is in 500 mL, two and a half times as much */
        {200, 0, 0.016, 200, 0},  /* 625 mL would be more than three times as much: no food rather than that */
        {4, 9, 0.4, 25, 0.1}, /* in 5.8 mL; of a pot smaller than the jug measures, three times what that does: 30 mL */
        {4, 6, 0.4, 5.2, 0},  /* and of a jug that measures 7 mL no more than 21 */
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct recipe_house f;
        struct recipe r;
        facility_new(&f);
        f.problem.n_foods = f.problem.n_systems = f.problem.n_tanks = 1;
        f.problem.house_g_per_100ml = rows[i].house_g_per_100ml;
        f.problem.jug.dead_ml = rows[i].dead_ml;
        f.tanks[0].slurry_ml = rows[i].slurry_ml;
        plan(&f, &r);
        assert_number(r.pots[0].slurry_ml, rows[i].made_ml, 1e-9);
        assert_number(line_of(&r.pots[0], RICH)->amount, rows[i].powder_g, 1e-12);
        recipe_free(&r);
    }
}

/* Two foods of at most 0.6 each; the scale shows tenths, the pot wants 0.102 and 0.068 g and may not be stronger. */
static void a_share_limit_holds_on_the_scale(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.tanks[0].slurry_ml = 17;
    f.foods[RICH].share_max_frac = f.foods[PLAIN].share_max_frac = 0.6;
    plan(&f, &r);
    assert_false(r.pots[0].shares_passed);
    assert_number(r.pots[0].slurry_ml, 21, 0); /* the first volume in which both can be weighed so */
    assert_number(line_of(&r.pots[0], RICH)->amount, 0.1, 1e-12);
    assert_number(line_of(&r.pots[0], PLAIN)->amount, 0.1, 1e-12);
    recipe_free(&r);
    f.foods[RICH].stock = 0.1;
    f.foods[PLAIN].stock = 0.09; /* the scale cannot show it: the other alone, and it is said */
    plan(&f, &r);
    assert_true(r.pots[0].shares_passed);
    assert_number(line_of(&r.pots[0], RICH)->amount, 0.1, 1e-12);
    recipe_free(&r);
    f.foods[RICH].stock = 0.1;
    f.foods[PLAIN].stock = 0.1;
    f.foods[PLAIN].share_max_frac = 1; /* the one that may be alone, though the other is nearer */
    f.systems[NORTH].load_frac = 0.9;  /* 0.1 g of either is all that the ceiling bears */
    f.foods[RICH].ceiling_per_100l = f.foods[PLAIN].ceiling_per_100l = 0.1;
    f.tanks[0].slurry_ml = 17;
    f.systems[NORTH].full_frac = 1;
    plan(&f, &r);
    assert_false(r.pots[0].shares_passed);
    recipe_free(&r);
}

static void no_lot_is_opened_or_scraped_out_for_a_rest(void **state)
{
    (void)state;
    static const struct {
        double lots[2], amount;
        size_t n_parts, first_lot;
        double share_min_frac;
    } rows[] = {
        {{2.9, 50}, 2.9, 1, 0, 0},   /* a tenth short of 3 g: within what a weighing may be off */
        {{2.9, 50}, 3, 2, 0, 0.6},   /* but 3 of 5 g are the least that may be of it */
        {{2.9, 50}, 2.9, 1, 0, 0.5}, /* and are not */
        {{2, 50}, 3, 2, 0, 0},       /* a third short: the second lot is opened */
        {{0.1, 50}, 3, 1, 1, 0},     /* a tenth left: stays in the lot */
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct recipe_house f;
        struct recipe r;
        facility_new(&f);
        f.problem.n_systems = f.problem.n_tanks = 1;
        f.foods[RICH].lots = rows[i].lots;
        f.foods[RICH].share_min_frac = rows[i].share_min_frac;
        f.foods[RICH].n_lots = 2;
        f.foods[RICH].stock = rows[i].lots[0] + rows[i].lots[1];
        plan(&f, &r);
        const struct recipe_amount *line = line_of(&r.pots[0], RICH);
        assert_number(line->amount, rows[i].amount, 1e-9);
        assert_int_equal(line->n_parts, rows[i].n_parts);
        assert_int_equal(line->parts[0].lot, rows[i].first_lot);
        double units = 0;
        for (size_t k = 0; k < line->n_parts; k++)
            units += line->parts[k].units;
        assert_number(units, line->amount, 1e-9);
        assert_number(r.pots[0].strength_frac, (line->amount + 2) / 5, 1e-9);
        recipe_free(&r);
    }
}

/* ---- a pot that came out otherwise ------------------------------------------------------------------------------ */

static void a_larger_pot_gives_each_tank_its_planned_food(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    struct err e = {0};
    struct recipe_portion portions[SYSTEMS];
    size_t n;
    facility_new(&f);
    f.tanks[1].slurry_ml = 300;
    plan(&f, &r);
    assert_number(r.pots[0].slurry_ml, 800, 0);
    double given[SYSTEMS] = {100, 0};
    struct recipe_rescale_request made = {.pot = 0, .made_ml = 860, .given_ml = given};
    assert_true(recipe_rescale(&f.problem, &r, &made, portions, &n, &e));
    assert_int_equal(n, 2);
    assert_number(portions[0].left_ml, 437.5, 1e-9); /* 500 × 860 / 800 − 100, down to half a mL */
    assert_number(portions[1].left_ml, 322.5, 1e-9);
    assert_false(portions[0].cut || portions[1].cut);
    recipe_free(&r);
}

static void a_stronger_pot_is_given_out_in_smaller_portions(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    struct err e = {0};
    struct recipe_portion portions[SYSTEMS];
    size_t n;
    facility_new(&f);
    plan(&f, &r);
    double amounts[2]; /* a quarter more of both went in */
    for (size_t k = 0; k < 2; k++)
        amounts[k] = r.pots[0].amounts[k].amount * 1.25;
    struct recipe_rescale_request made = {.made_ml = 1000, .amounts = amounts};
    assert_true(recipe_rescale(&f.problem, &r, &made, portions, &n, &e));
    assert_number(portions[0].left_ml, 400, 1e-9);
    recipe_free(&r);
}

static void a_rescaled_portion_keeps_below_the_ceiling(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    struct err e = {0};
    struct recipe_portion portions[SYSTEMS];
    size_t n;
    facility_new(&f);
    f.problem.n_systems = f.problem.n_tanks = 1;
    f.foods[RICH].ceiling_per_100l = 0.3; /* 3 g, which the house blend asks for */
    plan(&f, &r);
    assert_number(r.load_frac[0], 1, 1e-9);
    double amounts[2] = {1, 4}; /* plain and rich powder were swapped about: as strong, but 4 g rich */
    assert_int_equal(r.pots[0].amounts[1].food, RICH);
    struct recipe_rescale_request made = {.made_ml = 500, .amounts = amounts};
    assert_true(recipe_rescale(&f.problem, &r, &made, portions, &n, &e));
    assert_number(portions[0].left_ml, 375, 1e-9); /* 3 of 4 g */
    assert_true(portions[0].cut);
    assert_true(portions[0].load_frac <= 1 + 1e-9);
    recipe_free(&r);
}

static void a_spilt_pot_is_shared_alike(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    struct err e = {0};
    struct recipe_portion portions[SYSTEMS];
    size_t n;
    facility_new(&f);
    plan(&f, &r);
    double amounts[2] = {2, 3}; /* half the food, in half the volume */
    struct recipe_rescale_request made = {.made_ml = 500, .amounts = amounts};
    assert_true(recipe_rescale(&f.problem, &r, &made, portions, &n, &e));
    assert_number(portions[0].left_ml, 250, 1e-9);
    assert_number(portions[1].left_ml, 250, 1e-9);
    assert_true(portions[0].cut && portions[1].cut);
    assert_false(recipe_rescale(&f.problem, &r, &(struct recipe_rescale_request){.made_ml = 0}, portions, &n, &e));
    assert_int_equal(e.code, ERR_INPUT);
    assert_false(
        recipe_rescale(&f.problem, &r, &(struct recipe_rescale_request){.pot = 7, .made_ml = 5}, portions, &n, &e));
    assert_non_null(strstr(e.text, "no pot 8"));
    const double lacking[] = {-1, NAN}, endless[] = {2, INFINITY};
    const struct {
        struct recipe_rescale_request made;
        const char *says;
    } rows[] = {
        {{.made_ml = INFINITY}, "pot 1: the volume made is inf mL; expected more than 0, such as 1000"},
        {{.made_ml = 500, .amounts = lacking}, " is -1; expected an amount such as"},
        {{.made_ml = 500, .amounts = endless}, " is inf; expected an amount such as"},
        {{.made_ml = 500, .given_ml = lacking}, "tank \"A\": -1 mL given; expected 0 or more"},
        {{.made_ml = 500, .given_ml = endless}, "tank \"B\": inf mL given; expected 0 or more"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        assert_false(recipe_rescale(&f.problem, &r, &rows[i].made, portions, &n, &e));
        if (!strstr(e.text, rows[i].says))
            fail_msg("\"%s\" lacks \"%s\"", e.text, rows[i].says);
    }
    recipe_free(&r);
}

/* ---- input and text --------------------------------------------------------------------------------------------- */

static void a_number_that_makes_no_sense_is_named(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    struct err e = {0};
    facility_new(&f);
    struct {
        double *number, value;
        const char *name;
    } rows[] = {
        {&f.foods[RICH].solids_g_per_unit, 0, "food \"rich powder\": dry mass per unit"},
        {&f.foods[LIQUID].solids_g_per_unit, 0.1, "food \"amino-acid liquid\": dry mass per unit"},
        {&f.foods[PLAIN].stock, NAN, "food \"plain powder\": stock is not a number"},
        {&f.foods[PLAIN].step, 0, "measuring step"},
        {&f.foods[PLAIN].effect_low_mg[RECIPE_PO4], 9, "low effect on phosphate"},
        {&f.systems[SOUTH].full_frac, 0.1, "system \"south\": full strength is 0.1; expected 0.25 to 10"},
        {&f.systems[SOUTH].band_mg[RECIPE_NO3], 0, "width of nitrate band"},
        {&f.systems[SOUTH].low_room_mg[RECIPE_NO3], INFINITY, "low nitrate room"},
        {&f.tanks[1].slurry_ml, -1, "tank \"B\": slurry due, mL is -1; expected at least 0"},
        {&f.tanks[1].net_volume_l, INFINITY, "net volume"},
        {&f.problem.house_g_per_100ml, 0, "strength of the house blend"},
        {&f.problem.jug.step_ml, 0, "graduation of the pots"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        double was = *rows[i].number;
        *rows[i].number = rows[i].value;
        assert_false(recipe_plan(&f.problem, &r, &e));
        assert_int_equal(e.code, ERR_INPUT);
        if (!strstr(e.text, rows[i].name))
            fail_msg("\"%s\" does not name \"%s\"", e.text, rows[i].name);
        recipe_free(&r);
        *rows[i].number = was;
    }
    f.tanks[0].system = 9;
    assert_false(recipe_plan(&f.problem, &r, &e));
    assert_non_null(strstr(e.text, "tank \"A\": system number 9; there are 2"));
    recipe_free(&r);
}

static void the_programme_can_be_read_by_others(void **state)
{
    (void)state;
    struct recipe_house f;
    struct recipe r;
    struct err e = {0};
    struct text t = {0};
    facility_new(&f);
    f.foods[RICH].name = "rich\npowder";
    f.foods[RICH].stock = 3;
    plan(&f, &r);
    assert_true(recipe_write_lp(&f.problem, &r, RECIPE_FULL, &t, &e));
    assert_non_null(strstr(text_str(&t), "\\ pot 0, 1000 mL: north, south\n"));
    assert_non_null(strstr(text_str(&t), "\\ food 0: rich powder\n")); /* a line break would end the comment */
    assert_non_null(strstr(text_str(&t), " stock_0: + 1 x_0_0 <= 3\n"));
    assert_non_null(strstr(text_str(&t), " hold_4:"));
    assert_null(strstr(text_str(&t), " hold_5:"));
    text_free(&t);
    recipe_free(&r);
    facility_new(&f);
    f.tanks[0].late_slurry_ml = 100;
    plan(&f, &r);
    assert_true(recipe_write_lp(&f.problem, &r, RECIPE_COST, &t, &e));
    assert_non_null(strstr(text_str(&t), " (late), 100 mL: north\n"));
    /* Full strength leaves room to the stages after it: no row holds it, but each strength has its least. */
    assert_null(strstr(text_str(&t), " hold_5:"));
    assert_non_null(strstr(text_str(&t), " hold_7:"));
    assert_non_null(strstr(text_str(&t), "\n 0.949999999999 <= s_1 <= +inf\n"));
    text_free(&t);
    recipe_free(&r);
}

SUITE(recipe)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(with_nothing_in_the_way_one_pot_holds_the_house_blend_at_full_strength),
        cmocka_unit_test(two_foods_and_one_limit_mix_as_the_square_says),
        cmocka_unit_test(a_target_outside_the_two_feeds_is_missed_by_as_little_as_can_be),
        cmocka_unit_test(a_full_band_thins_the_pot_to_lean_and_no_further),
        cmocka_unit_test(share_limits_hold_and_give_way_only_to_lean_strength),
        cmocka_unit_test(a_state_moves_the_blend_by_what_it_asks),
        cmocka_unit_test(waters_that_want_opposite_foods_do_not_share_a_pot),
        cmocka_unit_test(the_balance_counts_what_reaches_the_water),
        cmocka_unit_test(without_one_food_the_others_keep_their_proportion),
        cmocka_unit_test(liquids_fill_a_pot_and_no_more),
        cmocka_unit_test(among_equal_blends_the_cheaper_food_is_taken),
        cmocka_unit_test(a_food_without_a_largest_share_keeps_near_its_house_share),
        cmocka_unit_test(the_last_few_hundredths_of_strength_are_spent_on_the_house_blend),
        cmocka_unit_test(starved_water_gets_all_it_may_have_of_phosphate),
        cmocka_unit_test(what_is_broadcast_to_starved_water_counts_as_phosphate),
        cmocka_unit_test(a_starved_system_gets_no_stripping_food_and_not_less_than_the_house),
        cmocka_unit_test(a_system_that_is_due_and_has_no_group_is_named),
        cmocka_unit_test(pots_that_are_asked_for_are_numbered_as_they_come),
        cmocka_unit_test(waters_beyond_a_block_keep_every_limit_of_the_whole_round),
        cmocka_unit_test(a_cap_on_pots_makes_blocks_larger),
        cmocka_unit_test(two_pots_or_more_are_left_to_each_block),
        cmocka_unit_test(near_a_band_edge_the_unfavourable_effect_counts),
        cmocka_unit_test(a_stripping_food_is_bounded_by_the_largest_fall_of_a_day),
        cmocka_unit_test(a_ceiling_wins_over_lean_strength_and_it_is_said),
        cmocka_unit_test(what_was_given_already_today_counts_towards_the_ceiling),
        cmocka_unit_test(scarce_stock_is_shared_by_the_pots),
        cmocka_unit_test(what_is_broadcast_is_not_there_for_the_pot),
        cmocka_unit_test(pot_and_broadcast_are_scaled_down_together),
        cmocka_unit_test(a_food_too_large_for_one_mouth_stays_out_of_its_pot),
        cmocka_unit_test(a_pot_is_shared_only_as_far_as_the_bands_allow),
        cmocka_unit_test(waters_of_one_strength_share_a_pot_past_a_weaker_one),
        cmocka_unit_test(a_cap_on_pots_is_kept_and_said),
        cmocka_unit_test(a_quarantine_shares_no_pot_even_where_asked_to),
        cmocka_unit_test(strengths_that_do_not_meet_need_two_pots),
        cmocka_unit_test(late_food_has_a_late_pot_of_its_own),
        cmocka_unit_test(a_round_with_nothing_due_is_empty),
        cmocka_unit_test(a_price_is_what_loosening_the_limit_gains),
        cmocka_unit_test(amounts_are_what_the_scale_shows_and_the_rest_is_told),
        cmocka_unit_test(each_amount_is_rounded_to_the_nearest_step),
        cmocka_unit_test(a_state_at_full_strength_is_rounded_down),
        cmocka_unit_test(a_measured_amount_is_not_raised_past_a_ceiling),
        cmocka_unit_test(a_food_too_light_for_single_pots_is_premixed_once_for_all),
        cmocka_unit_test(a_gram_is_not_thrown_away_for_a_quarter_the_pot_is_made_larger),
        cmocka_unit_test(a_pot_too_weak_for_the_scale_grows_threefold_at_most),
        cmocka_unit_test(a_share_limit_holds_on_the_scale),
        cmocka_unit_test(no_lot_is_opened_or_scraped_out_for_a_rest),
        cmocka_unit_test(a_larger_pot_gives_each_tank_its_planned_food),
        cmocka_unit_test(a_stronger_pot_is_given_out_in_smaller_portions),
        cmocka_unit_test(a_rescaled_portion_keeps_below_the_ceiling),
        cmocka_unit_test(a_spilt_pot_is_shared_alike),
        cmocka_unit_test(a_number_that_makes_no_sense_is_named),
        cmocka_unit_test(the_programme_can_be_read_by_others),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
