/* How often the corals of a tank can be fed: by hand, and beside rounds planned one after another. */
#include "neap/capacity.h"
#include "neap/plan.h"

#include "numbers.h"

enum { DAY = 20000, LOTS = 60, FEDS_MAX = 40 };

/*
 * One tank of 100 L, one powder of ceiling 1 g, no broadcast. Untested water is fed at 0.75; the thinnest slurry is half
 * of 2 g in 100 mL, so that a mL takes 0.5 × 2 / 100 × 0.75 = 0.0075 of the day's ceiling.
 */
struct house {
    struct facility f;
    struct system system;
    struct tank tank;
    struct kind kinds[2];
    struct food food;
    struct lot lot;
    struct colony colonies[LOTS];
    struct fed feds[FEDS_MAX];
    char codes[LOTS][8];
};

static struct house p;

static void house_make(void)
{
    struct cell cells[FIELDS_MAX] = {{0}};
    size_t field;
    struct err e;
    p = (struct house){0};
    assert_true(row_fill(settings_reg(), cells, &p.f.settings, &field, &e));
    p.f.settings.loss_frac = 0;
    p.f.settings.feeders = 1;
    p.f.settings.strength_g_per_100ml = 2;
    p.f.settings.scale_step_g = 0.01;
    p.system = (struct system){.name = "s", .test_every_d = 7, .note = "", .volume_l = 100};
    p.tank =
        (struct tank){.name = "T", .flow_off_limit_min = 30, .pump = "", .hold_reason = "", .note = "", .net_l = 100};
    for (int i = 0; i < 2; i++)
        p.kinds[i] = (struct kind){.name = i ? "slow" : "stony",
                                   .feeding = FEEDING_CLOUD,
                                   .max_particle_um = 500,
                                   .takes_powder = true,
                                   .note = "",
                                   .source = "",
                                   .portion_ml = 1,
                                   .interval_d = 2,
                                   .colony_s = 1};
    p.food = (struct food){.name = "powder",
                           .form = FORM_POWDER,
                           .unit = UNIT_G,
                           .solids_frac = 1,
                           .n_mg_per_unit = 1,
                           .no3_effect_mg_per_unit = NAN,
                           .po4_effect_mg_per_unit = NAN,
                           .max_particle_um = 100,
                           .ceiling_units_per_100l = 1,
                           .broadcast_units_per_100l = NAN,
                           .blend_share_frac = 1,
                           .blend_share_max_frac = 1,
                           .blend_ml_per_100ml = NAN,
                           .fish_units_per_100l = NAN,
                           .opened_life_d = 90,
                           .prepare = "",
                           .note = "",
                           .source = ""};
    p.lot = (struct lot){
        .code = "L", .amount_units = 1e5, .received = DAY - 90, .opened = DAY_NONE, .use_by = DAY_NONE, .note = ""};
    p.f.systems = &p.system;
    p.f.tanks = &p.tank;
    p.f.kinds = p.kinds;
    p.f.foods = &p.food;
    p.f.lots = &p.lot;
    p.f.colonies = p.colonies;
    p.f.feds = p.feds;
    p.f.n_systems = p.f.n_tanks = p.f.n_foods = p.f.n_lots = 1;
    p.f.n_kinds = 2;
}

/* n more lots of a kind, each of so many corals: mL, for the portion is 1. */
static void house_put(size_t n, size_t kind, long count)
{
    for (size_t i = 0; i < n; i++) {
        size_t at = p.f.n_colonies++;
        assert_true(at < LOTS);
        snprintf(p.codes[at], sizeof p.codes[at], "c%02zu", at);
        p.colonies[at] = (struct colony){.code = p.codes[at],
                                         .label = "",
                                         .kind = kind,
                                         .count = count,
                                         .heads = 1,
                                         .arrived = DAY_NONE,
                                         .fed_before = DAY_NONE,
                                         .hold_reason = "",
                                         .note = "",
                                         .last_fed = DAY - 30,
                                         .last_refused = DAY_NONE,
                                         .portion_frac = 1,
                                         .look = ""};
    }
}

/* Rounds every so many days before the day, as far as the window goes. */
static void house_log(int every_d)
{
    for (int back = 28; back > 0; back--)
        if (back % every_d == 0)
            p.feds[p.f.n_feds++] = (struct fed){.day = DAY - back, .target_units = 0.1};
}

static struct crowding crowding_of(struct arena *a)
{
    const struct crowding *tanks;
    struct err e;
    if (!plan_crowding(&p.f, DAY, a, &tanks, &e))
        fail_msg("%s", e.text);
    return tanks[0];
}

/* Twelve lots of 20 mL take 0.15 each, 1.8 in all: with a round every second day that is 1.8 of a room of 1. */
static void corals_wait_by_as_much_as_they_ask_beyond_the_room(void **state)
{
    struct arena a = {0};
    (void)state;
    house_make();
    house_put(12, 0, 20);
    house_log(2);
    struct crowding c = crowding_of(&a);
    assert_true(c.by_log && c.overfull && !c.by_hands);
    assert_number(c.rounds_per_d, 0.5, 1e-12);
    assert_number(c.room_frac, 1, 1e-12);
    assert_number(c.asked_frac, 1.8, 1e-9);
    assert_number(c.times, 1.8, 1e-6);
    assert_number(c.interval_d, 2, 0);
    assert_number(c.gets_d, 3.6, 1e-5);
    assert_int_equal(c.rounds_enough, 4); /* each second of them: 0.9 a round */
    arena_free(&a);
}

static void a_tank_that_can_be_fed_as_asked_is_not_overfull(void **state)
{
    struct arena a = {0};
    (void)state;
    house_make();
    house_put(12, 0, 20);
    struct crowding c = crowding_of(&a); /* no log: a round a day, so that each second one is asked for */
    assert_true(!c.by_log && !c.overfull);
    assert_number(c.asked_frac, 0.9, 1e-9);
    assert_number(c.times, 1, 0);
    house_log(7); /* rounds are rarer than what the kind asks for: that is no fault of the tank */
    p.f.n_colonies = 6;
    c = crowding_of(&a);
    assert_number(c.rounds_per_d, 4 / 28.0, 1e-12);
    assert_number(c.asked_frac, 0.9, 1e-9);
    assert_false(c.overfull);
    arena_free(&a);
}

/* Who asks often and who asks seldom wait for the same multiple: 0.9 / (2 × 0.5 u) + 0.9 / (8 × 0.5 u) = 1, u = 1.125. */
static void all_wait_for_the_same_multiple_of_their_interval(void **state)
{
    struct arena a = {0};
    (void)state;
    house_make();
    p.kinds[1].interval_d = 8;
    house_put(6, 0, 20);
    house_put(6, 1, 20);
    house_log(2);
    struct crowding c = crowding_of(&a);
    assert_number(c.times, 1.125, 1e-6);
    assert_false(c.overfull); /* by less than a quarter */
    arena_free(&a);
}

static void a_broadcast_leaves_the_rest_of_the_ceiling(void **state)
{
    struct arena a = {0};
    (void)state;
    house_make();
    p.food.broadcast_units_per_100l = 0.8; /* × 0.75: 0.6 of the ceiling */
    house_put(12, 0, 20);
    house_log(2);
    struct crowding c = crowding_of(&a);
    assert_number(c.broadcast_frac, 0.6, 1e-12);
    assert_number(c.times, 1.8 / 0.4, 1e-5);
    assert_int_equal(c.rounds_enough, 0); /* even each second round, 0.9, is more than 0.4 */
    p.food.broadcast_units_per_100l = 2;
    c = crowding_of(&a);
    assert_number(c.room_frac, 0, 0);
    assert_true(c.overfull && isinf(c.gets_d));
    arena_free(&a);
}

/* Twelve lots of 20 corals at 15 s are an hour of hands; half an hour a round is there. */
static void hands_that_are_too_few_are_told_from_a_ceiling(void **state)
{
    struct arena a = {0};
    (void)state;
    house_make();
    house_put(12, 0, 20);
    house_log(2);
    p.food.ceiling_units_per_100l = 10;
    p.kinds[0].colony_s = 15;
    p.f.settings.day_hands_min = 30;
    struct crowding c = crowding_of(&a);
    assert_true(c.overfull && c.by_hands);
    assert_number(c.hands_frac, 2, 1e-9);
    assert_number(c.times, 2, 1e-6);
    p.f.settings.feeders = 2;
    assert_false(crowding_of(&a).overfull);
    arena_free(&a);
}

static size_t lots_fed(const struct round *r, int day)
{
    size_t n = 0;
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].colony != REF_NONE) {
            p.colonies[r->lines[i].colony].last_fed = day;
            n++;
        }
    return n;
}

/* Sixty rounds as planned, two days apart: the mean gap is the one told, within what one lot of sixty can shift. */
static void rounds_planned_one_after_another_come_to_the_same_gap(void **state)
{
    enum { ROUNDS = 60, WARM = 20 };
    struct arena a = {0};
    size_t fed = 0;
    (void)state;
    house_make();
    house_put(LOTS, 0, 6);
    house_log(2);
    double told_d = crowding_of(&a).gets_d; /* 60 × 6 × 0.0075 = 2.7 of a room of 1 */
    assert_number(told_d, 5.4, 1e-4);
    for (int i = 0; i < ROUNDS; i++) {
        const struct plan_request request = {.day = DAY + 2 * i, .start_min = -1, .effort = 0.0005};
        struct round r;
        struct err e;
        assert_true(plan_round(&p.f, &request, &r, &e));
        size_t n = lots_fed(&r, request.day);
        fed += i < WARM ? 0 : n;
        round_free(&r);
    }
    assert_number((double)LOTS * 2 * (ROUNDS - WARM) / (double)fed, told_d, 0.15);
    arena_free(&a);
}

static void a_tank_over_its_ceiling_is_told_of_at_the_tank(void **state)
{
    const struct plan_request request = {.day = DAY, .start_min = -1, .effort = 0.0005};
    struct round r;
    struct err e;
    size_t told = 0;
    (void)state;
    house_make();
    house_put(12, 0, 20);
    house_log(2);
    assert_true(plan_round(&p.f, &request, &r, &e));
    for (size_t i = 0; i < r.n_cautions; i++)
        if (r.cautions[i].part == CAUTION_TANK) {
            assert_int_equal(r.cautions[i].tank, 0);
            assert_string_equal(r.cautions[i].text,
                                "Over today's ceiling: stony, due every 2 d, can be fed about every 4 d with 3.5 rounds a week.");
            told++;
        }
    assert_int_equal(told, 1);
    round_free(&r);
}

/* 160 mL are 1.2 of the ceiling. Being most overdue, that lot would keep the others waiting for good. */
static void a_lot_too_large_for_the_ceiling_waits_alone(void **state)
{
    const struct plan_request request = {.day = DAY, .start_min = -1, .effort = 0.0005};
    struct round r;
    struct err e;
    (void)state;
    house_make();
    house_put(1, 0, 160);
    house_put(3, 0, 20);
    p.colonies[0].last_fed = DAY - 90;
    assert_true(plan_round(&p.f, &request, &r, &e));
    assert_int_equal(r.n_waitings, 1);
    assert_int_equal(r.waitings[0].colony, 0);
    assert_non_null(strstr(r.waitings[0].reason, "split the lot"));
    assert_int_equal(lots_fed(&r, DAY), 3);
    round_free(&r);
}

SUITE(plan_crowd)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(corals_wait_by_as_much_as_they_ask_beyond_the_room),
        cmocka_unit_test(a_tank_that_can_be_fed_as_asked_is_not_overfull),
        cmocka_unit_test(all_wait_for_the_same_multiple_of_their_interval),
        cmocka_unit_test(a_broadcast_leaves_the_rest_of_the_ceiling),
        cmocka_unit_test(hands_that_are_too_few_are_told_from_a_ceiling),
        cmocka_unit_test(rounds_planned_one_after_another_come_to_the_same_gap),
        cmocka_unit_test(a_tank_over_its_ceiling_is_told_of_at_the_tank),
        cmocka_unit_test(a_lot_too_large_for_the_ceiling_waits_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
