/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the working says in situations that a keeper knows, in a house so small that it is reckoned by hand. */
#include "neap/stock.h"
#include "neap/why.h"

#include "small_house.h"

static struct explanation answer;
static struct round kept, worked;
static struct plan_request today;

static void plan_it(void)
{
    struct err e = {0};
    today.day = DAY;
    today.start_min = today.done_by_min > 0 ? -1 : 8 * 60;
    today.effort = 0.0005;
    if (!plan_round(&p.f, &today, &kept, &e))
        fail_msg("%s", e.text);
}

static void why(const char *subject)
{
    struct plan_question q = {&subject, 1, &answer};
    struct err e = {0};
    round_free(&worked);
    if (!plan_explain(&p.f, &today, &kept, &q, &worked, &e))
        fail_msg("%s: %s", subject, e.text);
}

static void plan_and_ask(const char *subject)
{
    plan_it();
    why(subject);
}

static void put_away(void)
{
    round_free(&worked);
    round_free(&kept);
    worked = kept = (struct round){0};
    today = (struct plan_request){0};
}

/* The first row of the answer that is called so and has these words, and that origin, in it; NULL: none. */
static const struct why_row *find(const char *what, const char *words, const char *origin)
{
    for (size_t s = 0; s < answer.n_steps; s++)
        for (size_t i = 0; i < answer.steps[s].n_rows; i++) {
            const struct why_row *r = &answer.steps[s].rows[i];
            if (strcmp(r->what, what) == 0 && strstr(r->words, words) && strstr(r->origin, origin))
                return r;
        }
    return NULL;
}

static bool has_row(const char *what)
{
    return find(what, "", "") != NULL;
}

static const struct why_row *row_from(const char *what, const char *origin)
{
    const struct why_row *found = find(what, "", origin);
    if (!found)
        fail_msg("%s has no \"%s\" of \"%s\"", answer.subject, what, origin);
    return found;
}

static const struct why_row *row(const char *what)
{
    return row_from(what, "");
}

static void notes(const char *words)
{
    if (!find("", words, ""))
        fail_msg("%s does not note \"%s\"", answer.subject, words);
}

/* The line of an action at a tank, as it is asked for; the first. */
static const char *line_of(enum action action, size_t tank)
{
    static char number[24];
    for (size_t i = 0; i < kept.n_lines; i++)
        if (kept.lines[i].action == (int)action && kept.lines[i].tank == tank) {
            snprintf(number, sizeof number, "%ld", kept.lines[i].number);
            return number;
        }
    fail_msg("no such line");
    return NULL;
}

/* A liquid of 10 mL per 100 L and day, that no pot holds. */
static struct food *put_liquid(void)
{
    struct food *f = &p.foods[p.f.n_foods];
    *f = p.foods[0];
    f->name = "zoo liquid";
    f->form = FORM_LIQUID;
    f->unit = UNIT_ML;
    f->ceiling_units_per_100l = 10;
    f->blend_share_frac = f->blend_share_max_frac = NAN;
    f->density_g_per_ml = 1;
    p.lots[p.f.n_lots] = p.lots[0];
    p.lots[p.f.n_lots].code = "Z";
    p.lots[p.f.n_lots++].food = p.f.n_foods++;
    return f;
}

/* n readings three days apart, the last of them the evening before; all the same but the last n_last. */
static struct test readings[40];
static void put_readings(enum analyte a, size_t n, double value, size_t n_last, double last)
{
    for (size_t i = 0; i < n; i++)
        readings[p.f.n_tests++] = (struct test){.taken = (DAY + 2 - 3 * (long)(n - i)) * MIN_PER_DAY + 1200,
                                                .analyte = (int)a,
                                                .repeat = 1,
                                                .value = i + n_last < n ? value : last,
                                                .method = "",
                                                .note = ""};
    p.f.tests = readings;
}

/* ---- due or not -------------------------------------------------------------------------------------------------- */

static void what_keeps_a_colony_from_the_sheet_is_named(void **state)
{
    bool *const retired[] = {&p.kinds[0].retired, &p.tanks[0].retired, &p.systems[0].retired};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(retired); i++) {
        house_make();
        house_put(1, 0, 5);
        *retired[i] = true;
        plan_and_ask("c00");
        assert_true(isnan(answer.answer));
        assert_string_equal(answer.says, "its kind, tank or system is retired");
        put_away();
    }
}

static void a_coral_to_be_looked_at_is_said_to_be(void **state)
{
    (void)state;
    house_make();
    house_put(2, 0, 5);
    p.colonies[0].look = "refused last time";
    plan_and_ask("c00");
    assert_string_equal(row("to be looked at")->words, "refused last time");
    why("c01");
    assert_false(has_row("to be looked at"));
    put_away();
}

/* The sheet is in hands, and then the coral is sold: a plan made now has no such line. */
static void a_line_of_a_coral_that_went_since_is_not_explained_anew(void **state)
{
    const char *line;
    struct plan_question q = {&line, 1, &answer};
    struct err e = {0};
    (void)state;
    house_make();
    house_put(2, 0, 5);
    plan_it();
    line = line_of(ACTION_TARGET, 0);
    p.colonies[0].retired = p.colonies[1].retired = true;
    assert_false(plan_explain(&p.f, &today, &kept, &q, &worked, &e));
    assert_int_equal(e.code, ERR_NOT_FOUND);
    assert_non_null(strstr(e.text, ", which is not due"));
    put_away();
}

/* ---- broadcast and fish ------------------------------------------------------------------------------------------ */

/* 5 mL for 100 L at 0.75 are 3.75 mL, by whole mL 3; and then the tank is set to get none. */
static void a_broadcast_that_a_tank_no_longer_gets_comes_to_nothing(void **state)
{
    struct explanation then;
    struct round of_then;
    const char *const *changes, *line;
    struct arena a = {0};
    struct err e;
    size_t n;
    bool told = false;
    (void)state;
    house_make();
    house_put(1, 0, 5);
    put_liquid()->broadcast_units_per_100l = 5;
    plan_it();
    line = line_of(ACTION_BROADCAST, 0);
    why(line);
    assert_number(answer.answer, 3, 1e-9);
    assert_number(row("rate x volume x strength x part")->value, 3.75, 1e-6);
    then = answer;
    of_then = worked;
    worked = (struct round){0};
    p.tanks[0].broadcast = false;
    why(line);
    assert_number(answer.answer, 0, 1e-9);
    assert_false(has_row("the recipe's answer"));
    assert_true(explanation_changes(&then, &answer, &a, &changes, &n, &e));
    for (size_t i = 0; i < n; i++)
        told = told || strcmp(changes[i], "Broadcast, this line: was 3 mL, is 0 mL now.") == 0;
    assert_true(told);
    arena_free(&a);
    round_free(&of_then);
    put_away();
}

/* 2 mL for 100 L: a liquid is measured by the step of liquids. */
static void a_fish_food_is_measured_by_its_own_step(void **state)
{
    (void)state;
    house_make();
    house_put(1, 0, 5);
    p.tanks[0].fish = true;
    put_liquid()->fish_units_per_100l = 2;
    plan_it();
    why(line_of(ACTION_FISH, 0));
    assert_number(answer.answer, 2, 1e-9);
    assert_string_equal(answer.unit, "mL");
    assert_non_null(strstr(row("rounded down to")->origin, "liquid_step_ml"));
    put_away();
}

/* ---- clock ------------------------------------------------------------------------------------------------------- */

/* One pump for both: it stands still no longer than the tank that bears least. */
static void a_pump_runs_again_for_the_strictest_of_its_tanks(void **state)
{
    (void)state;
    house_make();
    p.tanks[0].pump = "P";
    p.tanks[1] = p.tanks[0];
    p.tanks[1].name = "U";
    p.tanks[1].flow_off_limit_min = 20;
    p.f.n_tanks = 2;
    p.systems[0].volume_l = 200;
    p.kinds[0].flow_off_min = 15;
    house_put(2, 0, 5);
    p.colonies[1].tank = 1;
    plan_it();
    why(line_of(ACTION_TARGET, 0));
    assert_number(row("at most")->value, 20, 0);
    assert_string_equal(row("at most")->origin, "the strictest tank on its pump");
    why(line_of(ACTION_TARGET, 1));
    assert_number(row("at most")->value, 20, 0);
    assert_non_null(strstr(row("at most")->origin, "tank U"));
    put_away();
}

/* Lights from ten: at eight it is dark, when water may stand still for half as long as by day. */
static void a_flow_that_stands_still_in_the_dark_has_the_limit_of_the_dark(void **state)
{
    (void)state;
    house_make();
    p.f.settings.dark_flow_off_frac = 0.5;
    p.tanks[0].lights_on_min = 10 * 60;
    p.tanks[0].lights_off_min = 20 * 60;
    p.kinds[0].flow_off_min = 15;
    house_put(2, 0, 5);
    plan_it();
    why(line_of(ACTION_TARGET, 0));
    assert_number(row("at most")->value, 15, 0); /* of 30 */
    assert_non_null(strstr(row("at most")->origin, "dark_flow_off_frac"));
    put_away();
}

static void a_round_that_is_to_end_by_an_hour_says_that_it_begins_for_that(void **state)
{
    (void)state;
    house_make();
    house_put(2, 0, 5);
    plan_and_ask("head");
    assert_number(row("begins")->value, 8 * 60, 0);
    assert_string_equal(row("begins")->origin, "as asked, or set");
    put_away();
    today.done_by_min = 17 * 60;
    plan_and_ask("head");
    assert_number(row("all flows on")->value, 17 * 60, 1);
    assert_string_equal(row("begins")->origin, "by the end asked for");
    put_away();
}

/* Of a clock that was set anew a line with a later number may come first: each minute of work counts once. */
static void hands_have_the_minutes_in_which_a_line_goes_on(void **state)
{
    bool busy[MIN_PER_DAY] = {false};
    double minutes = 0;
    (void)state;
    house_make();
    p.kinds[0].colony_s = 200;
    p.kinds[0].flow_off_min = 15;
    house_put(6, 0, 5);
    plan_it();
    assert_true(kept.n_lines > 3);
    for (size_t i = 0; i + 1 < kept.n_lines - i; i++) {
        struct line swapped = kept.lines[i];
        kept.lines[i] = kept.lines[kept.n_lines - 1 - i];
        kept.lines[kept.n_lines - 1 - i] = swapped;
    }
    for (size_t i = 0; i < kept.n_lines; i++)
        for (int m = kept.lines[i].start_min; m < kept.lines[i].end_min; m++) {
            minutes += !busy[m];
            busy[m] = true;
        }
    why("head");
    assert_number(row("feeder 1 has work for")->value, minutes, 0);
    put_away();
}

/* ---- food to have ready ------------------------------------------------------------------------------------------ */

/* By half grams a pot of less than 5 g is not weighed: its part of 100 mL that are made of more is drawn instead. */
static void what_is_weighed_for_a_premix_is_told_by_the_pots_it_goes_into(void **state)
{
    double parts = 0;
    (void)state;
    house_make();
    put_away();
    p.f.settings.scale_step_g = 0.5;
    p.f.settings.premix_ml = 100;
    p.foods[0].ceiling_units_per_100l = 100;
    house_put(10, 0, 18); /* 180 mL of 1.5 g in 100 mL: 2.7 g and what is left in the vessels */
    plan_and_ask("totals");
    assert_string_equal(answer.says, "1 food");
    assert_string_equal(row("pot A")->origin, "its part of what is weighed for the premix");
    for (size_t i = 0; i < answer.steps[0].n_rows; i++)
        parts += answer.steps[0].rows[i].part == WHY_NUMBER ? answer.steps[0].rows[i].value : 0;
    assert_number(row("have ready")->value, parts, 1e-9);
    assert_number(fmod(parts, 0.5), 0, 1e-9); /* a scale that reads half grams weighs it */
    put_away();
    p.f.settings.premix_ml = 0;
    p.f.settings.scale_step_g = 0.01;
    put_liquid()->broadcast_units_per_100l = 5;
    plan_and_ask("totals");
    assert_string_equal(answer.says, "2 foods");
    assert_string_equal(row("pot A")->origin, "weighed or drawn for it");
    put_away();
}

/* ---- limits of a pot --------------------------------------------------------------------------------------------- */

/*
 * Water that lacks phosphate gets nothing that takes it away, and so not the only powder: three liquids are left, 50 mL
 * of each in 100 mL, and no water.
 */
static void a_pot_that_its_liquids_fill_says_so(void **state)
{
    static const char *const names[] = {"algae", "eggs", "oil"};
    (void)state;
    house_make();
    house_put(4, 0, 20);
    put_readings(ANALYTE_NO3, 9, 8, 0, 0);
    put_readings(ANALYTE_PO4, 9, 0.01, 0, 0);
    for (size_t i = 9; i < 18; i++)
        readings[i].below = true;
    p.foods[0].strips_po4 = true;
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        struct food *liquid = put_liquid();
        liquid->name = names[i];
        liquid->ceiling_units_per_100l = 10000;
        liquid->blend_ml_per_100ml = 50;
        liquid->strips_po4 = false;
        liquid->p_mg_per_unit = 0.1;
    }
    plan_and_ask("pot A");
    notes("No solid food may go in; strength is told by the liquids.");
    notes("Pot A: its liquids fill it.");
    assert_number(row("water")->value, 0, 1e-6);
    put_away();
}

/* Half of the blend at least is to be of a powder of which hardly any is left. */
static void a_food_at_its_least_share_is_told_with_it(void **state)
{
    (void)state;
    house_make();
    house_put(4, 0, 20);
    p.foods[1] = p.foods[0];
    p.foods[1].name = "rich";
    p.f.n_foods = p.f.n_lots = 2;
    p.lots[1] = p.lots[0];
    p.lots[1].code = "R";
    p.lots[1].food = 1;
    p.lots[1].amount_units = 0.3;
    p.foods[0].blend_share_frac = p.foods[1].blend_share_frac = 0.5;
    p.foods[1].blend_share_min_frac = 0.4;
    p.foods[0].ceiling_units_per_100l = p.foods[1].ceiling_units_per_100l = 100;
    plan_and_ask("pot A");
    notes("Pot A: rich is at its least share, 0.4");
    put_away();
}

/* Common practice has nitrate move by 2 mg/L a day and phosphate by 0.03: of 100 L 200 mg and 3 mg. */
static void a_change_of_a_day_that_would_be_too_large_is_told_by_its_limit(void **state)
{
    (void)state;
    house_make();
    put_readings(ANALYTE_NO3, 9, 8, 0, 0);
    put_readings(ANALYTE_PO4, 9, 0.08, 0, 0);
    p.foods[0].ceiling_units_per_100l = 100;
    p.foods[0].no3_effect_mg_per_unit = -400;
    house_put(4, 0, 20);
    plan_and_ask("system s");
    notes("System s: nitrate is to fall by no more than 2 mg/L in a day");
    put_away();
    p.foods[0].no3_effect_mg_per_unit = NAN;
    p.foods[0].po4_effect_mg_per_unit = 6;
    plan_and_ask("system s");
    notes("System s: phosphate is to rise by no more than 0.03 mg/L in a day");
    put_away();
}

/* ---- a water ----------------------------------------------------------------------------------------------------- */

/* Two readings of 30 after weeks at 8: the line still says in band, and the water is above it all the same. */
static void a_level_by_the_latest_readings_is_told_apart_from_the_line(void **state)
{
    (void)state;
    house_make();
    put_readings(ANALYTE_NO3, 9, 8, 2, 30);
    put_readings(ANALYTE_PO4, 9, 0.08, 0, 0);
    house_put(4, 0, 20);
    plan_and_ask("system s");
    assert_non_null(find("nitrate", "above band by the latest tests", ""));
    assert_number(row_from("level today", "the last of two readings that agree")->value, 30, 1e-9);
    assert_non_null(strstr(row_from("slope", "not gone by")->origin, "the line is behind the readings"));
    put_away();
}

/* As test_plan_capacity reckons it: 1.5 of obligate feeders alone in a round, so that nobody else is ever in turn. */
static void who_never_comes_in_turn_is_told_so(void **state)
{
    (void)state;
    house_make();
    p.kinds[1].need = NEED_OBLIGATE;
    house_put(6, 0, 20);
    house_put(10, 1, 20);
    house_log(2);
    plan_and_ask("system s");
    assert_number(row("obligate feeders wait, x their interval")->value, 1.5, 1e-5);
    assert_non_null(find("each waits", "for ever: nothing of the ceiling is left to them", ""));
    notes("Over the day's ceiling: ");
    put_away();
}

static void corals_that_are_too_many_for_the_hands_are_told_apart_from_a_ceiling(void **state)
{
    (void)state;
    house_short_of_hands();
    plan_and_ask("system s");
    assert_number(row("hands asked / there")->value, 2, 1e-9);
    assert_number(row("each waits, x its interval")->value, 2, 1e-6);
    assert_false(has_row("obligate feeders wait, x their interval"));
    notes("More corals than hands: ");
    put_away();
}

/* Readings by nobody knows what beside those of a strip: neither is fitted with the other's. */
static void a_method_without_a_name_is_called_that(void **state)
{
    (void)state;
    house_make();
    put_readings(ANALYTE_NO3, 9, 8, 0, 0);
    readings[4].method = readings[5].method = "strip";
    house_put(1, 0, 5);
    plan_and_ask("system s");
    assert_number(row("cross-checks in it")->value, 2, 0);
    assert_non_null(find("cross-checks in it", "", "another scale than the unnamed method"));
    put_away();
}

/* Of yesterday's round the working knows nothing of what was read today. */
static void a_reading_that_came_later_is_not_in_the_working(void **state)
{
    (void)state;
    house_make();
    put_readings(ANALYTE_NO3, 9, 8, 0, 0);
    readings[8].taken = (DAY + 1) * MIN_PER_DAY;
    readings[8].value = 77;
    house_put(1, 0, 5);
    plan_and_ask("system s");
    size_t shown = 0;
    for (size_t i = 0; i < answer.steps[0].n_rows; i++) {
        assert_true(answer.steps[0].rows[i].value != 77);
        shown += strncmp(answer.steps[0].rows[i].origin, "test of ", 8) == 0;
    }
    assert_number(row("earlier tests in it")->value, 2, 0); /* of eight the last six are shown */
    assert_int_equal(shown, 6);
    put_away();
}

/* ---- the shelf --------------------------------------------------------------------------------------------------- */

/* 250 g bought for 20.00 and not yet opened; 100 g that are still to come do not count. */
static void what_is_still_to_come_is_shown_and_not_counted(void **state)
{
    static const char *const currencies[] = {"EUR", "none"};
    struct err e;
    (void)state;
    for (size_t i = 0; i < COUNT_OF(currencies); i++) {
        struct arena a = {0};
        house_make();
        p.f.settings.currency = currencies[i];
        p.foods[0].price_cents = 2000;
        p.foods[0].pack_units = 250;
        p.lots[0].amount_units = 250;
        p.lots[1] = p.lots[0];
        p.lots[1].code = "M";
        p.lots[1].amount_units = 100;
        p.lots[1].received = DAY + 3;
        p.f.n_lots = 2;
        assert_true(stock_explain(&p.f, DAY, 0, &a, &answer, &e));
        assert_number(answer.answer, 250, 1e-9);
        assert_non_null(find("lot M", "", "not counted: still to come"));
        assert_null(find("lot L", "", "not counted"));
        assert_number(row("price of a pack")->value, 20, 1e-9);
        assert_string_equal(row("price of a pack")->unit, i ? "" : "EUR");
        arena_free(&a);
    }
}

/* ---- what is asked ----------------------------------------------------------------------------------------------- */

static void what_is_no_part_of_the_round_is_refused_by_name(void **state)
{
    static const struct {
        const char *subject, *says;
    } rows[] = {{"0", "the round has no line 0; its lines are 1 to "},
                {"line 0", "is no line, pot, system, tank, colony or switch"},
                {"the-tank-behind-the-door T", "is no line, pot, system, tank, colony or switch"}};
    (void)state;
    house_make();
    house_put(1, 0, 5);
    plan_it();
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct plan_question q = {&rows[i].subject, 1, &answer};
        struct err e = {0};
        assert_false(plan_explain(&p.f, &today, &kept, &q, &worked, &e));
        assert_int_equal(e.code, ERR_NOT_FOUND);
        if (!strstr(e.text, rows[i].says))
            fail_msg("%s: %s", rows[i].subject, e.text);
    }
    put_away();
}

SUITE(why_words)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_keeps_a_colony_from_the_sheet_is_named),
        cmocka_unit_test(a_coral_to_be_looked_at_is_said_to_be),
        cmocka_unit_test(a_line_of_a_coral_that_went_since_is_not_explained_anew),
        cmocka_unit_test(a_broadcast_that_a_tank_no_longer_gets_comes_to_nothing),
        cmocka_unit_test(a_fish_food_is_measured_by_its_own_step),
        cmocka_unit_test(a_pump_runs_again_for_the_strictest_of_its_tanks),
        cmocka_unit_test(a_flow_that_stands_still_in_the_dark_has_the_limit_of_the_dark),
        cmocka_unit_test(a_round_that_is_to_end_by_an_hour_says_that_it_begins_for_that),
        cmocka_unit_test(hands_have_the_minutes_in_which_a_line_goes_on),
        cmocka_unit_test(what_is_weighed_for_a_premix_is_told_by_the_pots_it_goes_into),
        cmocka_unit_test(a_pot_that_its_liquids_fill_says_so),
        cmocka_unit_test(a_food_at_its_least_share_is_told_with_it),
        cmocka_unit_test(a_change_of_a_day_that_would_be_too_large_is_told_by_its_limit),
        cmocka_unit_test(a_level_by_the_latest_readings_is_told_apart_from_the_line),
        cmocka_unit_test(who_never_comes_in_turn_is_told_so),
        cmocka_unit_test(corals_that_are_too_many_for_the_hands_are_told_apart_from_a_ceiling),
        cmocka_unit_test(a_method_without_a_name_is_called_that),
        cmocka_unit_test(a_reading_that_came_later_is_not_in_the_working),
        cmocka_unit_test(what_is_still_to_come_is_shown_and_not_counted),
        cmocka_unit_test(what_is_no_part_of_the_round_is_refused_by_name),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
