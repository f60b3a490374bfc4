/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Mornings that a keeper knows, each in a house so small that what its sheet must say is reckoned by hand. */
#include "neap/advice.h"
#include "neap/capacity.h"
#include "neap/changed.h"
#include "neap/figures.h"
#include "neap/learned.h"
#include "neap/replan.h"
#include "neap/rescale.h"
#include "neap/stock.h"
#include "neap/why.h"
#include "neap/working.h"

#include "small_house.h"

static void plan(struct plan_request request, struct round *r)
{
    struct err e;
    request.day = DAY;
    request.start_min = request.start_min > 0 ? request.start_min : -1;
    request.effort = 0.0005;
    if (!plan_round(&p.f, &request, r, &e))
        fail_msg("%s", e.text);
    r->head.number = r->head.revision = 1;
}

static void plan_day(struct round *r)
{
    plan((struct plan_request){0}, r);
}

static int times_said(const struct round *r, const char *words)
{
    int n = 0;
    for (size_t i = 0; i < r->n_cautions; i++)
        n += strstr(r->cautions[i].text, words) != NULL;
    return n;
}

static const struct line *first_of(const struct round *r, enum action action)
{
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].action == (int)action)
            return &r->lines[i];
    return NULL;
}

static void waits_for(const struct round *r, size_t colony, const char *words)
{
    for (size_t i = 0; i < r->n_waitings; i++)
        if (r->waitings[i].colony == colony) {
            assert_string_equal(r->waitings[i].reason, words);
            return;
        }
    fail_msg("%s does not wait", p.codes[colony]);
}

/* One more food of the house, like the powder, and a lot of it where there are any units. */
static struct food *add_food(const char *name, double units)
{
    struct food *food = &p.foods[p.f.n_foods++];
    *food = p.foods[0];
    food->name = name;
    if (units > 0) {
        p.lots[p.f.n_lots] = p.lots[0];
        p.lots[p.f.n_lots].code = name;
        p.lots[p.f.n_lots].food = p.f.n_foods - 1;
        p.lots[p.f.n_lots++].amount_units = units;
    }
    return food;
}

/* One more tank like the first, of a system. */
static struct tank *add_tank(const char *name, size_t system)
{
    struct tank *tank = &p.tanks[p.f.n_tanks++];
    *tank = p.tanks[0];
    tank->name = name;
    tank->system = system;
    return tank;
}

/* A liquid that is broadcast, a quarter of its ceiling. */
static void put_plankton(void)
{
    struct food *plankton = add_food("plankton", 500);
    plankton->unit = UNIT_ML;
    plankton->form = FORM_LIQUID;
    plankton->blend_share_frac = NAN;
    plankton->ceiling_units_per_100l = 20;
    plankton->broadcast_units_per_100l = 5;
}

/* ---- who comes, and when ----------------------------------------------------------------------------------------- */

/* Nobody is there before nine to mix what is fed at nine: who feeds comes earlier by the three minutes of mixing. */
static void a_pot_is_mixed_before_a_late_feeders_first_stop(void **state)
{
    static const struct late_feeder late = {1, 540};
    struct arena a = {0};
    struct batch *batches;
    struct round r;
    struct err e;
    size_t n;
    (void)state;
    house_make();
    house_put(2, 0, 1);
    plan((struct plan_request){.lates = &late, .n_lates = 1}, &r);
    assert_int_equal(first_of(&r, ACTION_FLOW_OFF)->start_min, 540);
    assert_true(round_batches(&p.f, &r, NULL, &a, &batches, &n, &e));
    assert_int_equal(n, 1);
    assert_int_equal(batches[0].feeder, 1);
    assert_int_equal(batches[0].mix_min, 540 - 3);
    assert_int_equal(batches[0].mixed_min, 540);
    arena_free(&a);
    round_free(&r);
}

static void each_of_two_late_feeders_starts_on_coming(void **state)
{
    static const struct late_feeder lates[] = {{1, 540}, {2, 570}};
    struct round r;
    (void)state;
    house_make();
    add_tank("U", 0);
    p.kinds[0].colony_s = 300;
    house_put(4, 0, 1);
    p.colonies[2].tank = p.colonies[3].tank = 1;
    plan((struct plan_request){.feeders = 2, .lates = lates, .n_lates = 2}, &r);
    for (size_t i = 0; i < r.n_lines; i++)
        assert_true(r.lines[i].start_min >= (r.lines[i].feeder == 1 ? 540 : 570));
    assert_true(r.n_lines > 0);
    round_free(&r);
}

/* A quarter of an hour for each coral, and a flow that may be off as long: each of the pump's two tanks is told of. */
static void a_stop_too_short_for_one_coral_is_told_for_each_tank(void **state)
{
    struct round r;
    (void)state;
    house_make();
    add_tank("U", 0);
    p.tanks[0].pump = p.tanks[1].pump = "P";
    p.tanks[0].flow_off_limit_min = p.tanks[1].flow_off_limit_min = 15;
    p.kinds[0].colony_s = 900;
    house_put(2, 0, 1);
    p.colonies[1].tank = 1;
    plan_day(&r);
    assert_int_equal(times_said(&r, "is too short: 16 min of feed in"), 2);
    assert_int_equal(round_colonies(&r), 2); /* fed all the same: on after the flow is on, as is said */
    round_free(&r);
}

/* Thirty corals of a minute each need several stops of a quarter of an hour, and so several lines. */
static void a_lot_fed_in_several_stops_is_looked_at_once(void **state)
{
    struct round r;
    (void)state;
    house_make();
    p.tanks[0].flow_off_limit_min = 20;
    p.kinds[0].colony_s = 60;
    house_put(1, 0, 30);
    p.colonies[0].look_close = true;
    p.colonies[0].look = "refused 2 of its last 3 rounds";
    plan_day(&r);
    assert_true(round_lines(&r, ACTION_TARGET) > 1);
    assert_int_equal(round_colonies(&r), 30);
    assert_int_equal(times_said(&r, "Look closely at c00 in T before it is fed: it refused 2 of its last 3"), 1);
    round_free(&r);
}

/* ---- the other rounds of the day --------------------------------------------------------------------------------- */

static struct daily_round rounds[] = {{.name = "morning", .start_min = 480, .days = "", .note = ""},
                                      {.name = "noon", .start_min = 720, .days = "", .note = ""}};

static void plan_morning(struct round *r)
{
    p.f.daily_rounds = rounds;
    p.f.n_daily_rounds = 2;
    plan((struct plan_request){.round = "morning"}, r);
}

static void put_use(struct day_use *use)
{
    p.f.day_uses = use;
    p.f.n_day_uses = 1;
}

static struct broadcast_day plan_rows[] = {
    {.system = 0, .weekday = EVERY_DAY, .round = 0, .part_frac = 0.5},
    {.system = 0, .weekday = EVERY_DAY, .round = 1, .part_frac = 0.5},
};

static void plan_broadcasts(double morning, double noon)
{
    plan_rows[0].part_frac = morning;
    plan_rows[1].part_frac = noon;
    p.f.broadcast_days = plan_rows;
    p.f.n_broadcast_days = 2;
}

/*
 * The day's broadcast is 0.6 of the ceiling (0.8 g of 1 g, at the strength of untested water, 0.75), a lot of 20 mL
 * 0.15 of 1: half of the broadcast in each round, and two lots, are 0.3 + 0.3 + 0.3. Were the noon's half counted as
 * planned and as still to come, it would be 1.2.
 */
static void a_later_round_that_is_planned_already_counts_once(void **state)
{
    struct day_use noon = {
        .day = DAY, .round = "noon", .colony = REF_NONE, .action = ACTION_BROADCAST, .planned = true, .units = 0.3};
    struct round r;
    (void)state;
    house_make();
    p.foods[0].broadcast_units_per_100l = 0.8;
    p.f.settings.ceiling_cloud_frac = 0.5;
    plan_broadcasts(0.5, 0.5);
    house_put(2, 0, 20);
    put_use(&noon);
    plan_morning(&r);
    assert_false(times_said(&r, "its ceiling for the day allows no more"));
    house_put(1, 0, 20); /* 1.05 */
    round_free(&r);
    plan_morning(&r);
    assert_true(times_said(&r, "its ceiling for the day allows no more"));
    round_free(&r);
}

/*
 * Two tanks of 100 L share a water, and one of them gets no broadcast: what noon keeps is 0.6 of a half. Four lots of
 * 20 mL in 200 L are 0.15 each at the full count: 0.3 + 0.6. A tank that is retired keeps nothing.
 */
static void what_a_later_round_keeps_is_of_the_tanks_that_get_it(void **state)
{
    struct round r;
    (void)state;
    house_make();
    p.foods[0].broadcast_units_per_100l = 0.8;
    plan_broadcasts(0, 1);
    add_tank("U", 0)->broadcast = false;
    add_tank("V", 0)->retired = true;
    p.systems[1] = p.systems[0];
    p.systems[1].name = "other";
    p.f.n_systems = 2;
    add_tank("W", 1); /* of another water */
    p.systems[0].volume_l = 200;
    house_put(4, 0, 20);
    plan_morning(&r);
    assert_false(times_said(&r, "its ceiling for the day allows no more"));
    house_put(1, 0, 20);
    round_free(&r);
    plan_morning(&r);
    assert_true(times_said(&r, "its ceiling for the day allows no more"));
    round_free(&r);
}

/* Solids given beside the plan at noon fed no colony and broadcast nothing, but they take from the ceiling. */
static void what_was_given_beside_the_plan_feeds_nobody(void **state)
{
    struct day_use extra = {.day = DAY, .round = "noon", .colony = REF_NONE, .action = ACTION_TARGET, .units = 0.2};
    struct round r;
    (void)state;
    house_make();
    p.foods[0].broadcast_units_per_100l = 0.4; /* 0.3 of the ceiling */
    house_put(2, 0, 20);                       /* 0.6 */
    put_use(&extra);
    plan_morning(&r);
    assert_int_equal(round_colonies(&r), 40);
    assert_true(
        times_said(&r, "s: broadcast at 67 %; its ceiling for the day allows no more")); /* 0.2 of 0.3 is left */
    round_free(&r);
}

/* Who was fed at noon is not due again; who refused it is. */
static void a_coral_that_refused_at_noon_is_still_due(void **state)
{
    struct day_use noon = {.day = DAY, .round = "noon", .colony = 0, .action = ACTION_TARGET, .units = 0.01};
    struct round r;
    (void)state;
    house_make();
    house_put(2, 0, 1);
    put_use(&noon);
    plan_morning(&r);
    assert_int_equal(round_colonies(&r), 1);
    assert_int_equal(first_of(&r, ACTION_TARGET)->colony, 1);
    round_free(&r);
    noon.refused = true;
    plan_morning(&r);
    assert_int_equal(round_colonies(&r), 2);
    round_free(&r);
}

/* The number that why has of a line in a row of this name. */
static void why_says(const struct round *kept, long line, const char *what, double value)
{
    const struct plan_request request = {.round = "morning", .day = DAY, .start_min = -1, .effort = 0.0005};
    char subject[32];
    snprintf(subject, sizeof subject, "line %ld", line);
    const char *const subjects[] = {subject};
    struct explanation x = {0};
    struct plan_question q = {subjects, 1, &x};
    struct round worked;
    struct err e;
    bool said = false;
    if (!plan_explain(&p.f, &request, kept, &q, &worked, &e))
        fail_msg("%s", e.text);
    for (size_t i = 0; i < x.n_steps; i++)
        for (size_t k = 0; k < x.steps[i].n_rows; k++)
            if (strcmp(x.steps[i].rows[k].what, what) == 0) {
                assert_number(x.steps[i].rows[k].value, value, 1e-9);
                said = true;
            }
    assert_true(said);
    round_free(&worked);
}

/*
 * Fish that are to get half of the ceiling get half of the 0.42 that noon left, as far as a scale of 0.1 g shows it.
 * Of two lots of 20 mL, 0.15 each, one still gets its food; were the fish given all that is left, both would wait, and
 * the fish with them.
 */
static void fish_and_corals_share_what_another_round_left_of_the_ceiling(void **state)
{
    struct day_use noon = {
        .day = DAY, .round = "noon", .colony = REF_NONE, .action = ACTION_FISH, .units = 0.58, .food = 1};
    struct round r;
    (void)state;
    house_make();
    struct food *pellets = add_food("pellets", 10);
    pellets->blend_share_frac = NAN;
    pellets->fish_units_per_100l = 0.5;
    p.tanks[0].fish = true;
    p.f.settings.scale_step_g = 0.1;
    house_put(2, 0, 20);
    plan_morning(&r);
    assert_number(first_of(&r, ACTION_FISH)->amount, 0.5, 1e-9);
    assert_int_equal(round_colonies(&r), 40);
    round_free(&r);
    put_use(&noon);
    plan_morning(&r);
    assert_non_null(first_of(&r, ACTION_FISH));
    assert_number(first_of(&r, ACTION_FISH)->amount, 0.2, 1e-9);
    why_says(&r, first_of(&r, ACTION_FISH)->number, "other rounds of the day", 0.58);
    assert_int_equal(round_colonies(&r), 20);
    waits_for(&r, 1, "its water's ceiling for the day is reached, even in the least portions");
    round_free(&r);
}

/* Noon was logged with more than was planned, and the day is full: all wait, and each is told why. */
static void a_day_that_is_full_already_feeds_nobody(void **state)
{
    struct day_use noon = {.day = DAY, .round = "noon", .colony = REF_NONE, .action = ACTION_BROADCAST, .units = 1.2};
    struct round r;
    (void)state;
    house_make();
    house_put(2, 0, 20);
    put_use(&noon);
    plan_morning(&r);
    assert_int_equal(r.n_lines, 0);
    waits_for(&r, 0, "its water's ceiling for the day is reached, even in the least portions");
    waits_for(&r, 1, "its water's ceiling for the day is reached, even in the least portions");
    round_free(&r);
}

/* A colony that a feeder fed for an hour at noon has taken the day's half hour. */
static void hands_that_another_round_used_up_feed_nobody(void **state)
{
    struct day_use noon = {.day = DAY, .round = "noon", .colony = 0, .action = ACTION_TARGET, .units = 0.001};
    struct round r;
    (void)state;
    house_make();
    p.f.settings.day_hands_min = 30;
    p.kinds[1].colony_s = 3600;
    house_put(1, 1, 1);
    house_put(2, 0, 1);
    put_use(&noon);
    plan_morning(&r);
    assert_int_equal(r.n_lines, 0);
    waits_for(&r, 1, "the day's hands are full: the obligate and the most overdue go first");
    waits_for(&r, 2, "the day's hands are full: the obligate and the most overdue go first");
    round_free(&r);
}

/* Corals that open by day wait in the dark of the morning for noon, be they fed from a pot or by the broadcast. */
static void what_opens_by_day_waits_for_noon(void **state)
{
    struct round r;
    (void)state;
    house_make();
    p.systems[0].lights_on_min = 600;
    p.systems[0].lights_off_min = 1200;
    p.kinds[0].fed_in = p.kinds[1].fed_in = FED_LIGHT;
    p.kinds[1].feeding = FEEDING_BROADCAST;
    house_put(1, 0, 1);
    house_put(1, 1, 1);
    plan_morning(&r);
    assert_int_equal(r.n_lines, 0);
    waits_for(&r, 0, "opens by day: waits for the noon round, 12:00");
    waits_for(&r, 1, "opens by day: waits for the noon round, 12:00");
    round_free(&r);
    p.kinds[0].fed_in = p.kinds[1].fed_in = FED_DARK; /* it is dark at eight */
    plan_morning(&r);
    assert_int_equal(round_colonies(&r), 1);
    round_free(&r);
}

/* Who lives by the broadcast, and has none in the morning by the house's own plan, is told so. */
static void a_plan_without_a_broadcast_in_the_morning_is_told(void **state)
{
    struct round r;
    (void)state;
    house_make();
    put_plankton();
    plan_broadcasts(0, 1);
    p.kinds[1].feeding = FEEDING_BROADCAST;
    p.kinds[1].need = NEED_OBLIGATE;
    house_put(1, 0, 1);
    house_put(1, 1, 1);
    plan_morning(&r);
    assert_null(first_of(&r, ACTION_BROADCAST));
    waits_for(&r, 1, "its system's broadcast plan has none in this round");
    round_free(&r);
    struct day_use noon = {
        .day = DAY, .round = "noon", .colony = REF_NONE, .action = ACTION_BROADCAST, .food = 1, .units = 5};
    put_use(&noon); /* it had its broadcast already */
    plan_morning(&r);
    assert_int_equal(r.n_waitings, 0);
    round_free(&r);
}

/* A row of the weekday itself goes before that of every day, wherever it stands; of a retired round none counts. */
static void a_broadcast_plan_is_read_by_the_day(void **state)
{
    const int monday = DAY - day_weekday(DAY);
    struct daily_round held[] = {rounds[0], rounds[1]};
    struct broadcast_day rows[] = {{0, 0, 0, 1}, {0, EVERY_DAY, 0, 0.25}, {0, 0, 0, 1}};
    (void)state;
    house_make();
    p.f.daily_rounds = held;
    p.f.n_daily_rounds = 2;
    p.f.broadcast_days = rows;
    p.f.n_broadcast_days = 2;
    for (int turned = 0; turned < 2; turned++, p.f.broadcast_days = rows + 1) {
        assert_number(broadcast_plan_frac(&p.f, 0, 0, monday), 1, 0);
        assert_number(broadcast_plan_frac(&p.f, 0, 0, monday + 1), 0.25, 0);
        assert_number(broadcast_plan_frac(&p.f, 0, 1, monday), 0, 0);
    }
    held[0].retired = true;
    assert_true(isnan(broadcast_plan_frac(&p.f, 0, 1, monday)));
}

static void a_broadcast_plan_gives_nothing_where_nobody_lives(void **state)
{
    struct round r;
    (void)state;
    house_make();
    put_plankton();
    plan_broadcasts(1, 0);
    add_tank("U", 0);
    add_tank("V", 0);
    house_put(2, 0, 1);
    p.colonies[1].tank = 2;
    p.f.daily_rounds = rounds;
    p.f.n_daily_rounds = 2;
    static const char *const skipped = "V";
    plan((struct plan_request){.round = "morning", .skip_tanks = &skipped, .n_skip_tanks = 1}, &r);
    for (size_t i = 0; i < r.n_lines; i++)
        assert_int_equal(r.lines[i].tank, 0); /* not the empty tank, and not the one that is left out */
    assert_non_null(first_of(&r, ACTION_BROADCAST));
    round_free(&r);
}

static void how_often_a_water_can_be_fed_is_asked_of_no_round(void **state)
{
    const struct capacity *one, *two;
    struct arena a = {0};
    struct err e;
    (void)state;
    house_make();
    house_put(12, 0, 20);
    house_log(2);
    assert_true(plan_capacity(&p.f, DAY, &a, &one, &e));
    p.f.daily_rounds = rounds;
    p.f.n_daily_rounds = 2;
    assert_true(plan_capacity(&p.f, DAY, &a, &two, &e));
    assert_number(two->gets_d, one->gets_d, 0);
    arena_free(&a);
}

/* ---- what is no longer in use ------------------------------------------------------------------------------------ */

/* A second water with its tank, a kind of coral and a food are retired: the sheet says nothing of them. */
static void nothing_is_said_of_what_is_retired(void **state)
{
    struct test tests[] = {{.system = 1, .taken = (DAY - 1) * MIN_PER_DAY, .analyte = ANALYTE_TAN, .value = 4},
                           {.system = 1, .taken = (DAY - 1) * MIN_PER_DAY, .analyte = ANALYTE_NO3, .value = 40}};
    struct water drained = {.system = 1, .exchanged = (DAY - 1) * MIN_PER_DAY + 60, .volume_l = 100};
    struct arena a = {0};
    struct tests_due *due;
    struct round r;
    struct err e;
    size_t n;
    (void)state;
    house_make();
    p.systems[1] = p.systems[0];
    p.systems[1].name = "gone water";
    p.systems[1].quarantine = p.systems[1].retired = true;
    p.f.n_systems = 2;
    add_tank("gone tank", 0)->retired = true;
    add_tank("gone with its water", 1);
    struct food *food = add_food("gone food", 5);
    food->broadcast_units_per_100l = food->fish_units_per_100l = 0.5;
    food->retired = true;
    p.kinds[1].retired = true;
    p.foods[0].broadcast_units_per_100l = 0.1;
    plan_broadcasts(1, 0);
    p.systems[1].volume_l = 0; /* its tank and its water are gone */
    tests[0].method = tests[0].note = tests[1].method = tests[1].note = "";
    p.f.tests = tests;
    p.f.waters = &drained;
    p.f.n_tests = 2;
    p.f.n_waters = 1;
    house_put(3, 0, 1);
    house_put(1, 1, 1);
    p.colonies[1].tank = 1;
    p.colonies[2].tank = 2;
    plan_morning(&r);
    for (size_t i = 0; i < r.n_lines; i++)
        assert_true(r.lines[i].tank == 0 && (r.lines[i].colony == 0 || r.lines[i].colony == REF_NONE));
    assert_int_equal(round_colonies(&r), 1);
    assert_int_equal(r.n_waitings, 0);
    assert_int_equal(times_said(&r, "gone"), 0);
    for (size_t i = 0; i < r.n_pots; i++)
        assert_null(strstr(r.pots[i].note, "gone"));
    assert_true(tests_due_all(&p.f, DAY * MIN_PER_DAY, &a, &due, &n, &e));
    assert_int_equal(n, 1);
    assert_int_equal(due[0].system, 0);
    arena_free(&a);
    round_free(&r);
}

/* ---- stock ------------------------------------------------------------------------------------------------------- */

/* The round takes the last 0.02 g: that is to be ordered, not done without. Of the other food there was none. */
static void a_food_that_the_round_uses_up_is_not_missing_from_it(void **state)
{
    struct round r;
    (void)state;
    house_make();
    add_food("flakes", 0);
    p.lots[0].amount_units = 0.02;
    p.foods[0].pack_units = 100;
    house_put(4, 0, 20);
    plan_day(&r);
    assert_number(round_food_units(&r, 0), 0.02, 1e-9);
    assert_int_equal(times_said(&r, "No usable powder"), 0);
    assert_int_equal(times_said(&r, "Order powder"), 1);
    assert_int_equal(times_said(&r, "No usable flakes in stock; the round does without it."), 1);
    round_free(&r);
}

/* What is fetched fresh, within two days, is to be had ready for the next round, too; what keeps is on the shelf. */
static void what_is_fetched_fresh_is_to_be_had_ready(void **state)
{
    struct round r;
    (void)state;
    house_make();
    p.foods[0].prepare = "sieve";
    p.foods[0].lead_d = 14;
    struct food *fresh = add_food("rotifers", 500);
    fresh->form = FORM_LIVE;
    fresh->unit = UNIT_ML;
    fresh->blend_share_frac = NAN;
    fresh->blend_ml_per_100ml = 10;
    fresh->ceiling_units_per_100l = 100;
    fresh->prepare = "rinse";
    fresh->lead_d = 2;
    house_put(2, 0, 20);
    plan_day(&r);
    assert_int_equal(times_said(&r, "of rotifers"), 1);
    assert_int_equal(times_said(&r, "Have ready, if it is like this one: "), 1);
    assert_int_equal(times_said(&r, "of powder"), 0);
    assert_int_equal(times_said(&r, ": rinse."), 1);
    assert_int_equal(times_said(&r, ": sieve."), 1);
    round_free(&r);
}

/* ---- pots -------------------------------------------------------------------------------------------------------- */

/* More foods of the house are out than a note has room for: the rest is counted, so that it is known to be there. */
static void a_note_that_is_full_counts_what_it_leaves_out(void **state)
{
    static char names[FOODS][40];
    struct round r;
    int told = 0, left = 0;
    (void)state;
    house_make();
    for (size_t i = 1; i < FOODS; i++) {
        snprintf(names[i], sizeof names[i], "frozen shrimp of the sort %zu", i);
        add_food(names[i], 0);
    }
    house_put(2, 0, 20);
    plan_day(&r);
    const char *note = r.pots[0].note, *more = strstr(note, "; and ");
    for (const char *at = note; (at = strstr(at, "none in stock")) != NULL; at++)
        told++;
    assert_non_null(more);
    for (more += strlen("; and "); *more >= '0' && *more <= '9'; more++)
        left = 10 * left + *more - '0';
    assert_string_equal(more, " more");
    assert_int_equal(told + left, FOODS - 1);
    assert_true(told > 1 && left > 1 && strlen(note) < NOTE_BYTES_MAX);
    round_free(&r);
}

/* A powder of the house blend, with its share and the least and largest that it may have. */
static struct food *add_powder(const char *name, double share, double least, double most)
{
    struct food *food = add_food(name, 1000);
    food->blend_share_frac = share;
    food->blend_share_min_frac = least;
    food->blend_share_max_frac = most;
    food->ceiling_units_per_100l = 100;
    return food;
}

/* Of the one pot of a house that feeds 80 mL. */
static void noted(const char *words)
{
    struct round r;
    house_put(4, 0, 20);
    plan_day(&r);
    if (!strstr(r.pots[0].note, words))
        fail_msg("%s", r.pots[0].note);
    round_free(&r);
}

/* A tenth of the blend by its share, and by another entry never less than a third: the entry is what is kept. */
static void a_share_that_contradicts_its_limit_is_told_with_the_limit(void **state)
{
    (void)state;
    house_make();
    p.foods[0].ceiling_units_per_100l = 100;
    p.foods[0].blend_share_frac = 0.9;
    add_powder("flakes", 0.1, 1 / 3.0, 1);
    noted("flakes 33 % of the dry food instead of 10 %: the least share of flakes, 0.33");
    house_make();
    p.foods[0].ceiling_units_per_100l = 100;
    p.foods[0].blend_share_frac = 0.5;
    add_powder("flakes", 0.5, 0, 0.25);
    noted(" of the dry food instead of 50 %: the largest share of flakes, 0.25"); /* three quarters, by the scale */
}

/*
 * 80 mL of slurry hold 1.2 g; half of them of a food of which a gram takes 20 mg of phosphate out would take 12, and a
 * day is to take no more than 3 out of 100 L, 0.03 mg/L.
 */
static void a_food_that_would_strip_too_much_in_a_day_is_held_back(void **state)
{
    (void)state;
    house_make();
    p.foods[0].ceiling_units_per_100l = 100;
    p.foods[0].blend_share_frac = 0.5;
    add_powder("clay", 0.5, 0, 1)->po4_effect_mg_per_unit = -20;
    noted(" of the dry food instead of 50 %: phosphate in s is to fall no faster");
}

/* At three quarters of the house strength 45 and 75 mL of two liquids, which do not go into 100 mL of a pot. */
static void liquids_that_fill_the_pot_are_told(void **state)
{
    (void)state;
    house_make();
    p.foods[0].ceiling_units_per_100l = 100;
    for (int i = 0; i < 2; i++) {
        struct food *liquid = add_food(i ? "rotifers" : "algae", 5000);
        liquid->form = FORM_LIVE;
        liquid->unit = UNIT_ML;
        liquid->blend_share_frac = NAN;
        liquid->blend_ml_per_100ml = i ? 100 : 60;
        liquid->ceiling_units_per_100l = 1e4;
        liquid->n_mg_per_unit = 0;
    }
    noted(": its liquids fill it");
}

/* Twenty-seven waters in quarantine share no pot: each has a name of its own, and the lines say it. */
static void more_pots_than_letters_have_names_of_their_own(void **state)
{
    enum { WATERS = 27 };
    static struct system systems[WATERS];
    static struct tank tanks[WATERS];
    static char names[WATERS][8];
    struct round r;
    (void)state;
    house_make();
    house_put(WATERS, 0, 1);
    for (size_t i = 0; i < WATERS; i++) {
        snprintf(names[i], sizeof names[i], "q%02zu", i);
        systems[i] = p.systems[0];
        systems[i].quarantine = true;
        tanks[i] = p.tanks[0];
        tanks[i].system = p.colonies[i].tank = i;
        systems[i].name = tanks[i].name = names[i];
    }
    p.f.systems = systems;
    p.f.tanks = tanks;
    p.f.n_systems = p.f.n_tanks = WATERS;
    plan_day(&r);
    assert_int_equal(r.n_pots, WATERS);
    assert_string_equal(r.pots[25].pot, "Z");
    assert_string_equal(r.pots[26].pot, "A1");
    for (size_t i = 0; i < r.n_lines; i++)
        for (size_t k = 0; k < r.n_lines; k++)
            if (r.lines[i].action == ACTION_TARGET && r.lines[k].action == ACTION_TARGET)
                assert_int_equal(strcmp(r.lines[i].pot, r.lines[k].pot) == 0, i == k);
    round_free(&r);
}

/* ---- fish and ceilings ------------------------------------------------------------------------------------------- */

/* One pot for both, and one food: who cannot swallow it waits, so that the others are fed. */
static void a_mouth_too_fine_for_the_only_food_waits_and_the_others_are_fed(void **state)
{
    struct round r;
    (void)state;
    house_make();
    p.foods[0].max_particle_um = 300;
    p.kinds[1].max_particle_um = 100;
    house_put(1, 0, 5);
    house_put(1, 1, 5);
    plan_day(&r);
    waits_for(&r, 1, "no food in stock that it can take");
    assert_int_equal(first_of(&r, ACTION_TARGET)->colony, 0);
    assert_number(first_of(&r, ACTION_TARGET)->amount, 5, 1e-9);
    assert_int_equal(r.n_pot_foods, 1);
    round_free(&r);
}

/* Fish that get all of the ceiling leave none to a coral: it is not the lot that is too large. */
static void corals_beside_fish_that_take_all_wait_for_the_ceiling(void **state)
{
    const struct capacity *c;
    struct arena a = {0};
    struct text words = {0};
    struct round r;
    struct err e;
    (void)state;
    house_make();
    struct food *pellets = add_food("pellets", 10);
    pellets->blend_share_frac = NAN;
    pellets->fish_units_per_100l = 1;
    p.tanks[0].fish = true;
    p.kinds[0].need = NEED_OBLIGATE;
    house_put(2, 0, 20);
    plan_day(&r);
    assert_int_equal(r.n_lines, 0);
    waits_for(&r, 0, "its water's ceiling for the day is reached, even in the least portions");
    waits_for(&r, 1, "its water's ceiling for the day is reached, even in the least portions");
    assert_true(plan_capacity(&p.f, DAY, &a, &c, &e));
    assert_true(c->overfull && isinf(c->obligate_times) && !c->by_hands);
    capacity_words(&p.f, c, &words);
    assert_string_equal(text_str(&words),
                        "stony in s, due every 2 d, can be fed not at all, even with a round every day");
    text_free(&words);
    arena_free(&a);
    round_free(&r);
}

/* Nobody but obligate feeders, an hour of hands a round and half an hour there: each second time. */
static void hands_too_few_for_obligate_feeders_alone_are_told(void **state)
{
    const struct capacity *c;
    struct arena a = {0};
    struct err e;
    (void)state;
    house_short_of_hands();
    p.kinds[0].need = NEED_OBLIGATE;
    assert_true(plan_capacity(&p.f, DAY, &a, &c, &e));
    assert_true(c->overfull && c->by_hands);
    assert_number(c->obligate_times, 2, 1e-6);
    assert_number(c->times, 1, 0);
    arena_free(&a);
}

/* ---- a kept round whose house goes on ---------------------------------------------------------------------------- */

static struct given logged_as(const struct line *l, int outcome)
{
    return (struct given){.round = 1,
                          .line = l->number,
                          .outcome = outcome,
                          .amount = outcome == OUTCOME_NOT_GIVEN ? 0 : l->amount,
                          .response = -1,
                          .at_min = -1,
                          .note = ""};
}

static void go_on(const struct round *kept, struct replan_request request, struct round *r, struct replanned *found)
{
    struct err e;
    if (!plan_replan(&p.f, kept, &request, r, found, &e))
        fail_msg("%s", e.text);
}

/*
 * The lot of the powder is recalled. Of two others the one that expires first takes its place, unless the noon round
 * claims it; what is mixed already stays as it is.
 */
static void a_recalled_lot_gives_way_to_the_next_to_expire(void **state)
{
    struct day_claim claims[] = {{.day = DAY - 1, .round = "noon", .lot = 1, .units = 99.99}, /* yesterday's */
                                 {.day = DAY, .round = "noon", .lot = 2, .units = 99.99}};
    const struct mixed mixed = {.pot = "A", .made_ml = 100, .left_ml = NAN},
                       elsewhere = {.pot = "B", .made_ml = 100, .left_ml = NAN};
    struct replanned found;
    struct round kept, r;
    (void)state;
    house_make();
    p.f.n_lots = 3;
    p.lots[1] = p.lots[2] = p.lots[0];
    p.lots[0].use_by = DAY + 5;
    p.lots[1].use_by = DAY + 30;
    p.lots[2].use_by = DAY + 10;
    p.lots[1].code = "later";
    p.lots[2].code = "sooner";
    p.lots[1].amount_units = p.lots[2].amount_units = 100;
    house_put(2, 0, 10);
    plan_day(&kept);
    assert_int_equal(kept.n_pot_foods, 1);
    assert_int_equal(kept.pot_foods[0].lot, 0);
    p.lots[0].retired = true;
    go_on(&kept, (struct replan_request){.now_min = 490}, &r, &found);
    assert_int_equal(r.pot_foods[0].lot, 2);
    round_free(&r);
    p.lots[1].use_by = DAY + 7; /* now it is the sooner one */
    go_on(&kept, (struct replan_request){.now_min = 490, .mixes = &elsewhere, .n_mixes = 1}, &r, &found);
    assert_int_equal(r.pot_foods[0].lot, 1);
    round_free(&r);
    p.lots[1].use_by = DAY + 30;
    p.f.day_claims = claims;
    p.f.n_day_claims = 2;
    go_on(&kept, (struct replan_request){.now_min = 490}, &r, &found);
    assert_int_equal(r.pot_foods[0].lot, 1);
    round_free(&r);
    go_on(&kept, (struct replan_request){.now_min = 490, .mixes = &mixed, .n_mixes = 1}, &r, &found);
    assert_int_equal(r.pot_foods[0].lot, 0);
    round_free(&r);
    round_free(&kept);
}

/* A liquid that is broadcast to the first tank, corals in both; the flow of the first is on again by the log. */
static void a_coral_that_was_passed_over_is_not_gone_back_to(void **state)
{
    struct given givens[20];
    struct replanned found;
    struct round kept, r;
    size_t n = 0, passed = SIZE_MAX;
    (void)state;
    house_make();
    put_plankton();
    add_tank("U", 0)->broadcast = false;
    house_put(3, 0, 1);
    p.colonies[2].tank = 1;
    plan_day(&kept);
    for (size_t i = 0; i < kept.n_lines; i++) {
        const struct line *l = &kept.lines[i];
        if (l->tank != 0)
            continue;
        if (l->action == ACTION_TARGET && passed == SIZE_MAX)
            passed = i;
        else
            givens[n++] = logged_as(l, OUTCOME_GIVEN);
    }
    assert_true(passed != SIZE_MAX && first_of(&kept, ACTION_BROADCAST));
    const int now_min = kept.head.finish_min;
    go_on(&kept, (struct replan_request){.now_min = now_min, .givens = givens, .n_givens = n}, &r, &found);
    assert_int_equal(r.lines[passed].start_min, kept.lines[passed].start_min);
    assert_int_equal(found.n_left, kept.n_lines - n - 1);
    for (size_t i = 0; i < r.n_lines; i++)
        assert_true(r.lines[i].tank == 0 || r.lines[i].start_min >= now_min);
    round_free(&r);
    round_free(&kept);
}

/* Nothing opens the corals, so nothing is waited for: the flow goes off as soon as hands are there. */
static void a_broadcast_that_was_not_given_is_not_waited_for(void **state)
{
    struct replanned found;
    struct round kept, r;
    (void)state;
    house_make();
    put_plankton();
    house_put(2, 0, 1);
    plan_day(&kept);
    const struct line *broadcast = first_of(&kept, ACTION_BROADCAST);
    struct given g = logged_as(broadcast, OUTCOME_NOT_GIVEN);
    const int now_min = broadcast->end_min;
    assert_true(first_of(&kept, ACTION_FLOW_OFF)->start_min > now_min);
    go_on(&kept, (struct replan_request){.now_min = now_min, .givens = &g, .n_givens = 1}, &r, &found);
    assert_int_equal(first_of(&r, ACTION_FLOW_OFF)->start_min, now_min);
    g.outcome = OUTCOME_GIVEN;
    round_free(&r);
    go_on(&kept, (struct replan_request){.now_min = now_min, .givens = &g, .n_givens = 1}, &r, &found);
    assert_int_equal(first_of(&r, ACTION_FLOW_OFF)->start_min, first_of(&kept, ACTION_FLOW_OFF)->start_min);
    round_free(&r);
    round_free(&kept);
}

/* A skimmer was entered while the round goes on: what stood on the sheet keeps its number. */
static void a_switch_entered_in_the_round_gets_the_next_number(void **state)
{
    struct system_switch switches[] = {
        {.system = 0, .device = DEVICE_SKIMMER, .off_for = OFF_FOR_FEEDING, .off_limit_min = NAN, .note = ""},
        {.system = 0, .device = DEVICE_UV, .off_for = OFF_FOR_FEEDING, .off_limit_min = NAN, .note = ""}};
    struct replanned found;
    struct round kept, r;
    (void)state;
    house_make();
    house_put(2, 0, 1);
    p.f.switches = switches + 1;
    p.f.n_switches = 1;
    plan_day(&kept);
    assert_int_equal(kept.n_switchings, 1);
    p.f.switches = switches;
    p.f.n_switches = 2;
    go_on(&kept, (struct replan_request){.now_min = 490}, &r, &found);
    assert_int_equal(r.n_switchings, 2);
    assert_true(r.switchings[0].device == DEVICE_UV && r.switchings[0].number == 1);
    assert_true(r.switchings[1].device == DEVICE_SKIMMER && r.switchings[1].number == 2);
    round_free(&r);
    round_free(&kept);
}

/* By the register two tanks had one pump, and they have not: the flow comes on all the same, after the corals. */
static void a_pump_mended_in_the_register_leaves_no_flow_off(void **state)
{
    struct replanned found;
    struct round kept, r;
    (void)state;
    house_make();
    add_tank("U", 0);
    p.tanks[0].pump = p.tanks[1].pump = "P";
    house_put(2, 0, 1);
    p.colonies[1].tank = 1;
    plan_day(&kept);
    p.tanks[0].pump = "";
    p.tanks[1].pump = "Q";
    go_on(&kept, (struct replan_request){.now_min = 490}, &r, &found);
    assert_int_equal(round_lines(&r, ACTION_FLOW_ON), round_lines(&kept, ACTION_FLOW_ON));
    for (size_t i = 0; i < r.n_lines; i++)
        if (r.lines[i].action == ACTION_TARGET)
            assert_true(r.lines[i].end_min <= first_of(&r, ACTION_FLOW_ON)->start_min);
    const struct line *on = first_of(&r, ACTION_FLOW_ON);
    struct given given = logged_as(on, OUTCOME_GIVEN);
    const struct round_log log = {.givens = &given, .n_givens = 1};
    struct arena a = {0};
    struct long_stop *stops;
    struct err e;
    size_t n;
    assert_int_equal(on->tank, 1); /* where the last corals of the pump were; its own flow never went off */
    assert_true(log_long_stops(&p.f, &r, &log, &a, &stops, &n, &e));
    assert_int_equal(n, 0);
    assert_int_equal(flow_on_latest_min(&p.f, &r, on), INT_MAX);
    arena_free(&a);
    round_free(&r);
    round_free(&kept);
}

/* What the round said to do, and what the house did since. */
static void what_a_house_did_since_is_told_line_by_line(void **state)
{
    enum { GONE = 20 };
    struct round_changes c;
    struct arena a = {0};
    struct round kept;
    struct err e;
    (void)state;
    house_make();
    p.systems[1] = p.systems[0];
    p.systems[1].name = "other";
    p.f.n_systems = 2;
    add_tank("U", 1);
    p.kinds[0].portion_ml = 0.1;
    house_put(GONE + 2, 0, 2);
    p.colonies[GONE + 1].tank = 1;
    plan_day(&kept);
    for (size_t i = 0; i < GONE; i++)
        p.colonies[i].count = 0; /* sold, all of them */
    p.colonies[0].count = 1;
    p.tanks[1].retired = p.systems[1].retired = true;
    assert_true(round_changed(&p.f, &kept, NULL, DAY * MIN_PER_DAY + 600, &a, &c, &e));
    assert_int_equal(c.n, 1 + GONE);
    assert_string_equal(c.texts[0], "Tank U is no longer in use. Do none of its lines.");
    assert_non_null(strstr(c.texts[1], ", c00: 1 left of 2; give 0.1 mL instead of 0.2."));
    assert_non_null(strstr(c.texts[GONE], ", c19: none left. Leave it out."));
    struct day_claim claim = {.day = DAY, .round = "", .lot = 0, .units = 2};
    p.f.day_claims = &claim;
    p.f.n_day_claims = 1;
    p.lots[0].used_units = p.lots[0].amount_units - 0.5;
    assert_true(round_changed(&p.f, &kept, NULL, DAY * MIN_PER_DAY + 600, &a, &c, &e));
    assert_string_equal(c.texts[c.n - 1], "Lot L, powder: 0.5 g left of the 2 that are wanted.");
    p.lots[0].used_units = p.lots[0].amount_units;
    assert_true(round_changed(&p.f, &kept, NULL, DAY * MIN_PER_DAY + 600, &a, &c, &e));
    assert_string_equal(c.texts[c.n - 1], "Lot L, powder: empty. Do not use it.");
    p.lots[0].used_units = 0;
    p.f.foods[0].retired = true;
    assert_true(round_changed(&p.f, &kept, NULL, DAY * MIN_PER_DAY + 600, &a, &c, &e));
    assert_string_equal(c.texts[c.n - 1], "Lot L, powder: of a food that is no longer in use. Do not use it.");
    p.f.foods[0].retired = false;
    p.lots[0].received = DAY + 1;
    assert_true(round_changed(&p.f, &kept, NULL, DAY * MIN_PER_DAY + 600, &a, &c, &e));
    assert_string_equal(c.texts[c.n - 1],
                        "Lot L, powder: entered as received after the round's day. Look whether it is there.");
    arena_free(&a);
    round_free(&kept);
}

/* The pot's two lots are 0.3 of the ceiling, and another round gave 0.4: so much stands behind each portion. */
static void a_rescaled_pot_stands_beside_the_other_rounds_of_the_day(void **state)
{
    struct day_use noon = {.day = DAY, .round = "noon", .colony = REF_NONE, .action = ACTION_BROADCAST, .units = 0.4};
    struct rescaled m;
    struct round kept;
    struct err e;
    double alone;
    (void)state;
    house_make();
    house_put(2, 0, 20);
    plan_day(&kept);
    const struct rescale_request made = {.pot = "A", .made_ml = kept.pots[0].made_ml};
    assert_true(plan_rescale(&p.f, &kept, &made, &m, &e));
    alone = m.tanks[0].load_frac;
    rescaled_free(&m);
    assert_number(alone, 0.6, 0.01);
    put_use(&noon);
    assert_true(plan_rescale(&p.f, &kept, &made, &m, &e));
    assert_number(m.tanks[0].load_frac, alone + 0.4, 1e-9);
    rescaled_free(&m);
    round_free(&kept);
}

/* The house's own note gives way where all of it is too long for a line: it also stands in the register. */
static void a_long_note_gives_way_to_what_is_to_be_looked_at(void **state)
{
    static char note[NOTE_BYTES_MAX];
    struct round r;
    (void)state;
    memset(note, 'x', sizeof note - 1);
    house_make();
    house_put(1, 0, 1);
    p.colonies[0].note = note;
    p.colonies[0].look = "refused last time";
    p.colonies[0].portion_frac = 0.75;
    plan_day(&r);
    assert_string_equal(first_of(&r, ACTION_TARGET)->note, "look: refused last time; 0.75 of the portion");
    round_free(&r);
}

/* A house that counts no time for the switch: off and fed at one minute, and the sheet has them in that order. */
static void a_flow_that_goes_off_in_no_time_is_listed_before_the_corals(void **state)
{
    struct round r;
    (void)state;
    house_make();
    p.f.settings.switch_min = 0;
    add_tank("U", 0);
    house_put(4, 0, 2);
    p.colonies[2].tank = p.colonies[3].tank = 1;
    plan_day(&r);
    for (size_t i = 0; i < r.n_lines; i++)
        if (r.lines[i].action == ACTION_FLOW_OFF) {
            const struct line *off = &r.lines[i], *next = off + 1;
            assert_int_equal(off->start_min, off->end_min);
            assert_true(next->action == ACTION_TARGET && next->tank == off->tank && next->start_min == off->end_min);
        }
    assert_int_equal(round_lines(&r, ACTION_FLOW_OFF), 2);
    round_free(&r);
}

/* A lot that the later round could never feed keeps nothing of the ceiling from the morning's. */
static void nothing_is_kept_for_a_later_lot_that_is_too_large(void **state)
{
    struct round r;
    (void)state;
    house_make();
    p.systems[0].lights_on_min = 600;
    p.systems[0].lights_off_min = 1200;
    p.kinds[1].fed_in = FED_LIGHT; /* it waits for noon */
    house_put(3, 0, 20);           /* 0.9 */
    house_put(1, 1, 200);          /* 3, and at the thinnest 1.5 */
    plan_morning(&r);
    assert_int_equal(round_colonies(&r), 60);
    for (size_t i = 0; i < r.n_lines; i++)
        if (r.lines[i].action == ACTION_TARGET)
            assert_number(r.lines[i].amount, 20, 1e-9);
    assert_false(times_said(&r, "its ceiling for the day allows no more"));
    round_free(&r);
}

/* Half as much again was weighed for the premix of a pot: two thirds of each portion are enough. */
static void what_the_scale_said_of_a_premix_is_in_the_pot(void **state)
{
    struct weighed weighed = {.pot = "A", .rank = 1};
    struct round_log log = {.weighings = &weighed, .n_weighings = 1};
    struct rescaled m;
    struct round kept;
    struct err e;
    (void)state;
    house_make();
    house_put(1, 0, 20);
    plan_day(&kept);
    assert_int_equal(kept.n_pot_foods, 1);
    kept.pot_foods[0].premix_units = 1;
    kept.pot_foods[0].premix_ml = 100;
    kept.pot_foods[0].premix_take_ml = 100 * kept.pot_foods[0].amount_units;
    weighed.amount_units = 1.5;
    const struct rescale_request made = {"A", kept.pots[0].made_ml, &log};
    assert_true(plan_rescale(&p.f, &kept, &made, &m, &e));
    assert_int_equal(m.n_lines, 1);
    assert_number(m.lines[0].left_ml, m.lines[0].planned_ml / 1.5, 1e-9);
    rescaled_free(&m);
    round_free(&kept);
}

/* ---- readings ---------------------------------------------------------------------------------------------------- */

static struct test readings[16];

static void put_reading(enum analyte a, int days_ago, double value, bool below)
{
    size_t at = p.f.n_tests++;
    for (; at > 0 && readings[at - 1].taken > (DAY - days_ago) * MIN_PER_DAY; at--)
        readings[at] = readings[at - 1];
    readings[at] = (struct test){.taken = (DAY - days_ago) * MIN_PER_DAY,
                                 .analyte = (int)a,
                                 .repeat = 1,
                                 .value = value,
                                 .below = below,
                                 .method = "kit",
                                 .note = ""};
    p.f.tests = readings;
}

/* What was fed and read more than half a year ago, and what is read tomorrow, teaches nothing. */
static void the_log_is_learned_from_as_far_as_it_goes(void **state)
{
    const struct learned_in in = {.system = REF_NONE, .now_min = DAY * MIN_PER_DAY + 600};
    struct learned_effects within, all;
    struct water old = {.exchanged = (DAY - 300) * MIN_PER_DAY, .volume_l = 50, .no3_mg_l = 1, .po4_mg_l = 0.1};
    struct arena a = {0};
    struct err e;
    (void)state;
    house_make();
    for (int week = 4; week > 0; week--)
        put_reading(ANALYTE_NO3, 7 * week - 6, 12 - week, false);
    house_log(2);
    assert_true(plan_learned(&p.f, &in, &a, &within, &e));
    put_reading(ANALYTE_NO3, 300, 400, false);
    put_reading(ANALYTE_NO3, -1, 400, false);
    memmove(p.feds + 1, p.feds, p.f.n_feds++ * sizeof *p.feds);
    p.feds[0] = (struct fed){.day = DAY - 299, .target_units = 500};
    p.f.waters = &old;
    p.f.n_waters = 1;
    assert_true(plan_learned(&p.f, &in, &a, &all, &e));
    assert_true(within.n_stretches[ANALYTE_NO3] > 0);
    assert_int_equal(all.n_stretches[ANALYTE_NO3], within.n_stretches[ANALYTE_NO3]);
    assert_number(all.foods[ANALYTE_NO3][0].effect.mean, within.foods[ANALYTE_NO3][0].effect.mean, 1e-9);
    assert_number(all.foods[ANALYTE_NO3][0].effect.sd, within.foods[ANALYTE_NO3][0].effect.sd, 1e-9);
    arena_free(&a);
}

/* Below 0.05 with a band from 0.03: it may be in it or not, and no second reading by this kit would tell. */
static void a_kit_that_cannot_see_the_band_is_told_of(void **state)
{
    struct round r;
    (void)state;
    house_make();
    for (int week = 4; week > 0; week--) {
        put_reading(ANALYTE_NO3, 7 * week - 6, 8, false);
        put_reading(ANALYTE_PO4, 7 * week - 6, 0.05, true);
    }
    house_put(1, 0, 1);
    plan_day(&r);
    assert_int_equal(times_said(&r, "That does not tell where in the band it is: use a finer test."), 1);
    round_free(&r);
}

/* Half strength by the rule, for both are high; but this house mixes nothing below 0.6. */
static void no_pot_is_weaker_than_the_house_allows(void **state)
{
    struct round r;
    (void)state;
    house_make();
    for (int week = 4; week > 0; week--) {
        put_reading(ANALYTE_NO3, 7 * week - 6, 28, false);
        put_reading(ANALYTE_PO4, 7 * week - 6, 0.31, false);
    }
    p.f.settings.lean_frac = 0.6;
    house_put(1, 0, 10);
    plan_day(&r);
    assert_number(r.pots[0].allowed_frac, 0.6, 1e-9);
    assert_int_equal(times_said(&r,
                                "s: 0.60 of house strength: the house's weakest pot; otherwise: nitrate and phosphate "
                                "both high: half strength."),
                     1);
    round_free(&r);
}

/*
 * High nitrate, and rounds as good as none in the log: the pot of a day on which many are due is thinned by a quarter
 * of what its own food brings at the strength of the state, 0.75, and not to the log's. What is broadcast elsewhere,
 * and out here, is no part of that.
 */
static void a_day_of_many_is_thinned_by_a_quarter_of_its_own_pots(void **state)
{
    struct round r;
    (void)state;
    house_make();
    for (int week = 4; week > 0; week--) {
        put_reading(ANALYTE_NO3, 7 * week - 6, 20, false);
        put_reading(ANALYTE_PO4, 7 * week - 6, 0.07, false);
    }
    p.f.settings.lean_frac = 0.2;
    put_plankton();
    p.foods[1].n_mg_per_unit = 100;
    p.f.n_lots = 1; /* none of it in stock */
    struct food powder = p.foods[0];
    p.foods[0] = p.foods[1];
    p.foods[1] = powder;
    p.foods[1].ceiling_units_per_100l = 100;
    p.lots[0].food = 1;
    house_log(7);
    for (size_t i = 0; i < p.f.n_feds; i++)
        p.feds[i] = (struct fed){.day = p.feds[i].day, .food = 1, .target_units = 0.001};
    house_put(5, 0, 100);
    plan_day(&r);
    assert_int_equal(r.n_pots, 1);
    assert_number(r.pots[0].allowed_frac, 0.75, 1e-9);
    assert_number(r.pots[0].factor, 0.75 * 0.75, 0.01); /* by the scale */
    round_free(&r);
}

/*
 * 0.4 mg/L of ammonia calls for care. How much of it is free is told by pH and temperature together, where both are
 * known and a formula holds for them; tomorrow's reading is not looked at.
 */
static void free_ammonia_is_told_where_it_can_be_reckoned(void **state)
{
    static const struct {
        double ph, temp_c;
        const char *says;
    } rows[] = {{NAN, 26, "NH4-N on 2024-10-03, above 0.25. Change"},
                {8.2, NAN, "NH4-N on 2024-10-03, above 0.25. Change"},
                {8.2, -1, "NH4-N on 2024-10-03, above 0.25. Change"},
                {7.2, 20, "above 0.25; 0.003 mg/L of it free NH3. Change"}, /* pKa 9.403: 0.0062 of 0.4, × 17 / 14 */
                {8.6, 28, "above 0.25; 0.106 mg/L of it free NH3, above 0.035. Change"}}; /* pKa 9.155: 0.218 of it */
    struct round r;
    (void)state;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        house_make();
        put_reading(ANALYTE_TAN, 1, 0.4, false);
        put_reading(ANALYTE_TAN, -1, 9, false);
        put_reading(ANALYTE_NO2, 60, 9, false); /* two months ago */
        if (!isnan(rows[i].ph))
            put_reading(ANALYTE_PH, 1, rows[i].ph, false);
        if (!isnan(rows[i].temp_c))
            put_reading(ANALYTE_TEMP, 1, rows[i].temp_c, false);
        house_put(1, 0, 1);
        plan_day(&r);
        assert_int_equal(times_said(&r, rows[i].says), 1);
        assert_int_equal(times_said(&r, "free NH3"), i >= 3);
        assert_int_equal(times_said(&r, "ammonia 9") + times_said(&r, "nitrite"), 0);
        round_free(&r);
    }
}

/* ---- what a shelf holds ------------------------------------------------------------------------------------------ */

static void a_lot_is_used_by_its_days_and_its_food(void **state)
{
    struct draw yesterday = {.lot = 0, .day = DAY - 1, .fed_units = 1};
    struct arena a = {0};
    struct stock *stock;
    struct err e;
    double left;
    (void)state;
    house_make();
    p.f.n_lots = 3;
    p.lots[1] = p.lots[2] = p.lots[0];
    p.lots[0].use_by = DAY + 9;
    p.lots[1].use_by = DAY + 3;
    p.lots[1].received = DAY_NONE; /* nobody noted when: it is there */
    p.lots[1].amount_units = 7;
    p.lots[2].received = DAY + 1;
    assert_int_equal(lot_state(&p.f, &p.lots[1], DAY), LOT_KEEPS);
    assert_int_equal(lot_state(&p.f, &p.lots[2], DAY), LOT_COMING);
    assert_int_equal(stock_first_lot(&p.f, 0, DAY, &left), 1);
    assert_number(left, 7, 0);
    p.lots[1].used_units = 8;
    assert_int_equal(lot_state(&p.f, &p.lots[1], DAY), LOT_OVERDRAWN);
    p.f.draws = &yesterday;
    p.f.n_draws = 1;
    p.foods[0].pack_units = 100;
    p.lots[0].amount_units = 2;
    assert_true(stock_state(&p.f, DAY, NULL, &a, &stock, &e));
    assert_true(stock[0].order_packs > 0 && !stock[0].out);
    p.foods[0].retired = true; /* used up and not bought again */
    assert_true(stock_state(&p.f, DAY, NULL, &a, &stock, &e));
    assert_true(stock[0].order_packs == 0 && !stock[0].out);
    assert_int_equal(stock_first_lot(&p.f, 0, DAY, &left), REF_NONE);
    assert_number(left, 0, 0);
    arena_free(&a);
}

SUITE(plan_mornings)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_pot_is_mixed_before_a_late_feeders_first_stop),
        cmocka_unit_test(each_of_two_late_feeders_starts_on_coming),
        cmocka_unit_test(a_stop_too_short_for_one_coral_is_told_for_each_tank),
        cmocka_unit_test(a_lot_fed_in_several_stops_is_looked_at_once),
        cmocka_unit_test(a_later_round_that_is_planned_already_counts_once),
        cmocka_unit_test(what_a_later_round_keeps_is_of_the_tanks_that_get_it),
        cmocka_unit_test(what_was_given_beside_the_plan_feeds_nobody),
        cmocka_unit_test(a_coral_that_refused_at_noon_is_still_due),
        cmocka_unit_test(fish_and_corals_share_what_another_round_left_of_the_ceiling),
        cmocka_unit_test(a_day_that_is_full_already_feeds_nobody),
        cmocka_unit_test(hands_that_another_round_used_up_feed_nobody),
        cmocka_unit_test(what_opens_by_day_waits_for_noon),
        cmocka_unit_test(a_plan_without_a_broadcast_in_the_morning_is_told),
        cmocka_unit_test(a_broadcast_plan_is_read_by_the_day),
        cmocka_unit_test(a_broadcast_plan_gives_nothing_where_nobody_lives),
        cmocka_unit_test(how_often_a_water_can_be_fed_is_asked_of_no_round),
        cmocka_unit_test(nothing_is_said_of_what_is_retired),
        cmocka_unit_test(a_food_that_the_round_uses_up_is_not_missing_from_it),
        cmocka_unit_test(what_is_fetched_fresh_is_to_be_had_ready),
        cmocka_unit_test(a_note_that_is_full_counts_what_it_leaves_out),
        cmocka_unit_test(a_mouth_too_fine_for_the_only_food_waits_and_the_others_are_fed),
        cmocka_unit_test(more_pots_than_letters_have_names_of_their_own),
        cmocka_unit_test(corals_beside_fish_that_take_all_wait_for_the_ceiling),
        cmocka_unit_test(hands_too_few_for_obligate_feeders_alone_are_told),
        cmocka_unit_test(a_recalled_lot_gives_way_to_the_next_to_expire),
        cmocka_unit_test(a_coral_that_was_passed_over_is_not_gone_back_to),
        cmocka_unit_test(a_broadcast_that_was_not_given_is_not_waited_for),
        cmocka_unit_test(a_switch_entered_in_the_round_gets_the_next_number),
        cmocka_unit_test(a_pump_mended_in_the_register_leaves_no_flow_off),
        cmocka_unit_test(what_a_house_did_since_is_told_line_by_line),
        cmocka_unit_test(a_rescaled_pot_stands_beside_the_other_rounds_of_the_day),
        cmocka_unit_test(a_kit_that_cannot_see_the_band_is_told_of),
        cmocka_unit_test(no_pot_is_weaker_than_the_house_allows),
        cmocka_unit_test(a_day_of_many_is_thinned_by_a_quarter_of_its_own_pots),
        cmocka_unit_test(free_ammonia_is_told_where_it_can_be_reckoned),
        cmocka_unit_test(a_lot_is_used_by_its_days_and_its_food),
        cmocka_unit_test(what_the_scale_said_of_a_premix_is_in_the_pot),
        cmocka_unit_test(the_log_is_learned_from_as_far_as_it_goes),
        cmocka_unit_test(a_share_that_contradicts_its_limit_is_told_with_the_limit),
        cmocka_unit_test(a_food_that_would_strip_too_much_in_a_day_is_held_back),
        cmocka_unit_test(liquids_that_fill_the_pot_are_told),
        cmocka_unit_test(a_long_note_gives_way_to_what_is_to_be_looked_at),
        cmocka_unit_test(a_flow_that_goes_off_in_no_time_is_listed_before_the_corals),
        cmocka_unit_test(nothing_is_kept_for_a_later_lot_that_is_too_large),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
