/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is asked of a round or typed into a register, and cannot be; and words for what a house has too little of. */
#include "neap/capacity.h"
#include "neap/label.h"
#include "neap/log.h"
#include "neap/working.h"

#include "facility_random.h"
#include "numbers.h"

static struct random_facility here;

static bool plan_asked(struct plan_request request, struct err *e)
{
    struct round r;
    request.day = RANDOM_DAY;
    request.effort = 0.01;
    bool ok = plan_round(&here.f, &request, &r, e);
    if (ok)
        round_free(&r);
    return ok;
}

static void what_a_round_does_not_know_is_refused_by_name(void **state)
{
    (void)state;
    static const char *const nowhere[] = {"Z9"};
    struct arena a = {0};
    struct err e;
    struct asked *rows;
    size_t n, n_twice = 0;
    facility_random(&here, 4);
    assert_false(plan_asked((struct plan_request){.start_min = -1, .skip_tanks = nowhere, .n_skip_tanks = 1}, &e));
    assert_string_equal(e.text, "there is no tank \"Z9\" to skip");
    assert_false(plan_asked((struct plan_request){.start_min = -1, .round = "midnight"}, &e));
    assert_int_equal(e.code, ERR_NOT_FOUND);
    assert_string_equal(e.text, "there is no daily round \"midnight\"");
    const struct plan_request first = {.start_min = -1, .first_tanks = nowhere, .n_first_tanks = 1};
    assert_false(request_write(&first, &here.f, &a, &rows, &n, &e));
    assert_string_equal(e.text, "there is no tank \"Z9\"");
    const struct plan_request skip = {.start_min = -1, .skip_tanks = nowhere, .n_skip_tanks = 1};
    assert_false(request_write(&skip, &here.f, &a, &rows, &n, &e));
    assert_string_equal(e.text, "there is no tank \"Z9\"");
    for (size_t t = 0; t < here.f.n_tanks; t++) { /* one that gets nothing today is told of only */
        const char *const twice[] = {here.f.tanks[t].name, here.f.tanks[t].name};
        if (!plan_asked((struct plan_request){.start_min = -1, .first_tanks = twice, .n_first_tanks = 2}, &e)) {
            assert_non_null(strstr(e.text, "is to be first twice; expected once"));
            n_twice++;
        }
    }
    assert_true(n_twice > 0);
    arena_free(&a);
}

/* Batches that are fed from when their slurry is too old. */
static size_t batches_too_old(const struct round *r)
{
    struct arena a = {0};
    struct batch *batches;
    struct err e;
    size_t n, old = 0;
    assert_true(round_batches(&here.f, r, NULL, &a, &batches, &n, &e));
    for (size_t i = 0; i < n; i++)
        old += batches[i].last_min > batches[i].old_min;
    arena_free(&a);
    return old;
}

/* From four in the morning, to be done a minute sooner than with the minutes of mixing: then it goes without them. */
static void a_round_that_must_end_goes_without_minutes_to_mix(void **state)
{
    (void)state;
    int n = 0;
    for (uint64_t seed = 400; seed < 440; seed++) {
        struct plan_request request = {.day = RANDOM_DAY, .start_min = -1, .effort = 0.005, .feeders = 1};
        struct round mixed, hurried;
        struct err e;
        facility_random(&here, seed);
        here.f.settings.slurry_life_min = 45;
        here.f.settings.pot_mix_min = 10;
        assert_true(plan_round(&here.f, &request, &mixed, &e));
        request.done_by_min = EARLIEST_START_MIN + mixed.head.finish_min - mixed.head.start_min - 1;
        if (mixed.n_lines == 0) {
            round_free(&mixed);
            continue;
        }
        if (plan_round(&here.f, &request, &hurried, &e)) {
            assert_true(hurried.head.start_min >= EARLIEST_START_MIN);
            assert_true(hurried.head.finish_min <= request.done_by_min);
            n += batches_too_old(&hurried) > batches_too_old(&mixed);
            round_free(&hurried);
        } else {
            assert_non_null(strstr(e.text, "cannot be done by"));
        }
        round_free(&mixed);
    }
    assert_true(n > 0);
}

/* Who comes at ten makes the round's length depend on its start: it ends by the minute asked, if not always at it. */
static void a_round_with_a_late_feeder_ends_by_the_minute_asked(void **state)
{
    (void)state;
    const struct late_feeder late = {2, 600};
    int n = 0, early = 0;
    for (uint64_t seed = 160; seed < 172; seed++) {
        const struct plan_request request = {.day = RANDOM_DAY,
                                             .start_min = -1,
                                             .done_by_min = 634,
                                             .feeders = 2,
                                             .lates = &late,
                                             .n_lates = 1,
                                             .effort = 0.001};
        struct round r;
        struct err e;
        facility_random(&here, seed);
        if (!plan_round(&here.f, &request, &r, &e))
            fail_msg("facility %lu: %s", (unsigned long)seed, e.text);
        for (size_t i = 0; i < r.n_lines; i++)
            assert_true(r.lines[i].end_min <= 634 && (r.lines[i].feeder == 1 || r.lines[i].start_min >= 600));
        n += r.n_lines > 0;
        early += r.n_lines > 0 && r.head.finish_min < 634;
        round_free(&r);
    }
    assert_true(n > early && early > 0);
}

/* By the kinds' own rules: of so many heads all, a part rounded up, or one; not less or more than the kind says. */
static void mouths_are_counted_by_the_rule_of_their_kind(void **state)
{
    (void)state;
    static const struct {
        struct kind kind;
        long heads, fed;
    } rows[] = {
        {{.mouth_rule = MOUTHS_ALL}, 7, 7},
        {{.mouth_rule = MOUTHS_FRACTION, .mouth_frac = 0.5}, 7, 4},
        {{.mouth_rule = MOUTHS_FRACTION, .mouth_frac = 0.1, .mouth_min = 3}, 7, 3},
        {{.mouth_rule = MOUTHS_FRACTION, .mouth_frac = 0.1, .mouth_min = 9}, 7, 7},
        {{.mouth_rule = MOUTHS_ALL, .mouth_max = 5}, 7, 5},
        {{.mouth_rule = MOUTHS_ONE}, 7, 1},
        {{.mouth_rule = MOUTHS_NONE}, 7, 0},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        assert_int_equal(mouths_fed(&rows[i].kind, rows[i].heads), rows[i].fed);
}

/* 1.44 times the hands are 1.5 in tenths that suffice; half the room is half the corals elsewhere. */
static void what_would_help_an_overfull_water_is_said(void **state)
{
    (void)state;
    struct kind kinds[] = {{.name = "cup coral"}};
    struct system systems[] = {{.name = "display"}};
    const struct facility f = {.kinds = kinds, .n_kinds = 1, .systems = systems, .n_systems = 1};
    const struct {
        struct capacity c;
        const char *says;
    } rows[] = {
        {{.by_hands = true, .hands_frac = 1.44},
         "1.5 times the hands (feeders, or minutes of a round); or more rounds a week; or fewer corals to feed"},
        {{.rounds_enough = 1, .room_frac = 0.5, .asked_frac = 1, .fish_frac = 0.05},
         "1 round a week; or 50 % of its corals elsewhere; or ceilings 1.1 times as high, where the labels allow it"},
        {{.rounds_enough = 3, .room_frac = 0.5, .asked_frac = 1, .fish_frac = 0.05},
         "3 rounds a week; or 50 % of its corals elsewhere; or ceilings 1.1 times as high, where the labels allow it"},
        {{.rounds_per_d = 0.4, .room_frac = 0.5, .asked_frac = 1},
         "more rounds a week, though even one every day is not enough; or 50 % of its corals elsewhere; or ceilings "
         "1.0 "
         "times as high, where the labels allow it"},
        {{.rounds_per_d = 1, .room_frac = 0.5, .asked_frac = 1},
         "50 % of its corals elsewhere; or ceilings 1.0 times as high, where the labels allow it"},
    };
    struct text t = {0};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        capacity_help(&rows[i].c, &t);
        assert_string_equal(text_str(&t), rows[i].says);
        text_free(&t);
    }
    capacity_words(&f, &(struct capacity){.interval_d = 3, .gets_d = INFINITY, .rounds_per_d = 1}, &t);
    assert_string_equal(text_str(&t),
                        "cup coral in display, due every 3 d, can be fed not at all, even with a round every day");
    text_free(&t);
}

static void a_turned_switch_that_is_not_understood_is_quoted(void **state)
{
    (void)state;
    static const char *const words[] = {"sw1=onward", "sw1=off@", "sw1=on@12:345678901234567890123", "sw1=2mL",
                                        "sw1=n@09:00"};
    const struct facility f = {0};
    const struct round r = {0};
    for (size_t i = 0; i < COUNT_OF(words); i++) {
        struct switch_word w;
        struct err e = {0};
        assert_false(switch_word_parse(&f, &r, words[i], &w, &e));
        if (e.code != ERR_MISUSE || !strstr(e.text, "is not understood; expected a switch of the sheet"))
            fail_msg("%s: %s", words[i], e.text);
    }
}

/* Two switches of a water, as the sheet numbers them; a tank happens to be called like the first. */
static struct system switch_waters[] = {{.name = "display"}};
static struct tank switch_tanks[] = {{.name = "SW1"}};
static struct switching switches_of_sheet[] = {
    {.round = 1, .number = 1, .device = DEVICE_SKIMMER, .off_min = 550, .on_min = 640},
    {.round = 1, .number = 2, .device = DEVICE_UV, .off_min = 560, .on_min = 660},
    {.round = 1, .number = 4, .device = DEVICE_OZONE, .off_min = 560, .on_min = 660}};
static struct colony switch_colonies[] = {{.code = "sw4"}};
static const struct facility switch_house = {.systems = switch_waters,
                                             .n_systems = 1,
                                             .tanks = switch_tanks,
                                             .n_tanks = 1,
                                             .colonies = switch_colonies,
                                             .n_colonies = 1};
static const struct round switch_round = {
    .head = {.number = 1}, .switchings = switches_of_sheet, .n_switchings = COUNT_OF(switches_of_sheet)};

static void a_word_is_a_switch_unless_a_tank_or_coral_has_the_name(void **state)
{
    (void)state;
    static const struct {
        const char *word;
        bool is;
    } rows[] = {
        {"sw2", true},
        {"SW2-4=n", true},
        {"sw1=on@10:40", true},
        {"sw1=n", false}, /* the tank */
        {"sw4=n", false}, /* the colony */
        {"swan=n", false},
        {"s1=n", false},
        {"Display Skimmer=n", true},
        {"display=n", false},
        {"display=off@9:00", true},
        {"2=n", false},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        if (switch_word_is(&switch_house, &switch_round, rows[i].word) != rows[i].is)
            fail_msg("%s", rows[i].word);
    char word[300];
    memset(word, 'x', sizeof word);
    snprintf(word + 250, sizeof word - 250, "=n");
    assert_false(switch_word_is(&switch_house, &switch_round, word)); /* longer than any name */
    snprintf(word + 250, sizeof word - 250, "=off");
    assert_true(switch_word_is(&switch_house, &switch_round, word));
}

static struct switched switch_logged(const char *word, const struct switching *s, const struct switched *was)
{
    struct switch_word w;
    struct switched out;
    struct err e;
    if (!switch_word_parse(&switch_house, &switch_round, word, &w, &e))
        fail_msg("%s: %s", word, e.text);
    assert_true(switch_word_means(&w, &switch_house, s));
    if (!switch_word_apply(&w, &switch_house, s, was, &out, &e))
        fail_msg("%s: %s", word, e.text);
    return out;
}

static void what_is_not_said_of_a_switch_was_as_planned(void **state)
{
    (void)state;
    const struct switching *s = &switches_of_sheet[1];
    struct switched out = switch_logged("sw2", s, NULL);
    assert_int_equal(out.off_min, 560);
    assert_int_equal(out.on_min, 660);
    struct switched off = switch_logged("sw2=off", s, NULL);
    assert_int_equal(off.off_min, 560);
    assert_int_equal(off.on_min, -1);
    off.off_min = 570; /* ten minutes late, and on again as planned */
    out = switch_logged("display uv=on", s, &off);
    assert_int_equal(out.off_min, 570);
    assert_int_equal(out.on_min, 660);
    const struct switched none = {.off_min = -1, .on_min = -1};
    out = switch_logged("sw1-4=on@10:50", s, &none); /* not off by the log, but it came on */
    assert_int_equal(out.off_min, 560);
    assert_int_equal(out.on_min, 650);
    out = switch_logged("sw2=-", s, &off);
    assert_true(out.voided && out.off_min == 570);
}

static void switches_that_nobody_logged_are_counted_up(void **state)
{
    (void)state;
    struct switched third = {.device = DEVICE_OZONE};
    const struct round_log one = {.switcheds = &third, .n_switcheds = 1}, none = {0};
    struct switch_word w;
    struct text t = {0};
    struct err e;
    log_open_switches(&switch_round, &none, &t);
    assert_string_equal(text_str(&t), "sw1-2,4"); /* there is no sw3: what it was for is gone from the round */
    text_free(&t);
    log_open_switches(&switch_round, &one, &t);
    assert_string_equal(text_str(&t), "sw1-2");
    text_free(&t);
    assert_false(switch_word_parse(&switch_house, &switch_round, "sw9", &w, &e));
    assert_int_equal(e.code, ERR_NOT_FOUND);
    assert_string_equal(e.text, "round 1 has no switch \"sw9\"; its sheet has sw1 to sw4");
    assert_false(switch_word_parse(&switch_house, &(struct round){.head = {.number = 3}}, "sw1", &w, &e));
    assert_string_equal(e.text, "round 3 has no switch \"sw1\"; its sheet has none");
}

/* A round that was kept by neap of store version 7 or before says what was asked as options. */
static void a_request_of_old_that_is_not_known_is_quoted(void **state)
{
    (void)state;
    static const char *const texts[] = {"start 9:00",    "--start",   "--late 0=09:00",
                                        "--late 1=9 am", "--late 1",  "--from-now soon",
                                        "--feeders 0",   "--hands 2", "--feeders 2 start 9"};
    struct plan_request q;
    struct round kept = {.head = {.name = ""}};
    struct arena a = {0};
    struct err e;
    for (size_t i = 0; i < COUNT_OF(texts); i++) {
        kept.head.request = texts[i];
        if (request_read(&switch_house, &kept, &a, &q, &e))
            fail_msg("%s was read", texts[i]);
        assert_int_equal(e.code, ERR_INPUT);
        assert_non_null(strstr(e.text, texts[i]));
    }
    kept.head.request = "--late 2=09:00 --from-now 10:00 --first a b --skip c";
    assert_true(request_read(&switch_house, &kept, &a, &q, &e));
    assert_int_equal(q.n_lates, 1);
    assert_true(q.lates[0].feeder == 2 && q.lates[0].from_min == 540 && q.n_resets == 1);
    assert_string_equal(q.first_tanks[0], "a b");
    assert_string_equal(q.skip_tanks[0], "c");
    arena_free(&a);
}

/* ---- rows of registers ------------------------------------------------------------------------------------------- */

static void a_row_that_contradicts_itself_names_the_field(void **state)
{
    (void)state;
    const struct system_switch brief = {.on_after_min = 20, .off_limit_min = 20},
                               long_enough = {.on_after_min = 20, .off_limit_min = 21},
                               no_limit = {.on_after_min = 20, .off_limit_min = NAN};
    const struct test below_nothing = {.analyte = ANALYTE_NO3, .below = true, .value = 0};
    const struct reg *switches = reg_get(REG_SWITCH), *tests = reg_get(REG_TEST);
    struct err e;
    size_t field = SIZE_MAX;
    assert_false(switches->check(&brief, &field, &e));
    assert_string_equal(e.text, "it may be off for 20 min, but goes on only 20 min after; expected a longer limit");
    assert_string_equal(switches->fields[field].name, "off_limit_min");
    assert_true(switches->check(&long_enough, &field, &e) && switches->check(&no_limit, &field, &e));
    assert_false(tests->check(&below_nothing, &field, &e));
    assert_string_equal(e.text, "a reading below detection needs the limit it is below; expected a value above 0");
    assert_string_equal(tests->fields[field].name, "value");
}

static void a_name_in_the_wrong_case_is_found_where_it_can_mean_one_only(void **state)
{
    (void)state;
    struct tank tanks[] = {{.name = "Rack"}, {.name = "rack"}, {.name = "Display"}};
    const struct facility f = {.tanks = tanks, .n_tanks = COUNT_OF(tanks)};
    assert_int_equal(facility_named(&f, REG_TANK, "display"), 2);
    assert_int_equal(facility_named(&f, REG_TANK, "rack"), 1);
    assert_true(facility_named(&f, REG_TANK, "RACK") == REF_NONE);
    assert_true(facility_named(&f, REG_TANK, "shelf") == REF_NONE);
}

/* A liquid of 1.25 g/mL: 5 g are 4 mL. */
static void an_amount_is_read_in_the_foods_own_unit_by_its_density(void **state)
{
    (void)state;
    const struct food liquid = {.unit = UNIT_ML, .density_g_per_ml = 1.25},
                      powder = {.unit = UNIT_G, .density_g_per_ml = 0.5};
    struct err e;
    double units = 7;
    assert_true(food_amount_read(&liquid, "5 g", &units, &e));
    assert_number(units, 4, 1e-9);
    assert_true(food_amount_read(&powder, "6 mL", &units, &e));
    assert_number(units, 3, 1e-9);
    assert_true(food_amount_read(&powder, "6", &units, &e));
    assert_number(units, 6, 1e-9);
    assert_false(food_amount_read(&powder, "6 cm", &units, &e) || food_amount_read(&powder, "some", &units, &e) ||
                 food_amount_read(&powder, "1e306 L", &units, &e));
    assert_number(units, 6, 0);
}

/* A lot that came on a day nobody noted: what is not known is an empty cell, and an empty cell is not known. */
static void what_is_not_known_stays_so_between_cells_and_rows(void **state)
{
    (void)state;
    static const struct food foods[] = {{.name = "powder"}};
    const struct facility f = {.foods = (struct food *)foods, .n_foods = 1};
    const struct reg *reg = reg_get(REG_LOT);
    const struct lot lot = {.code = "P-1",
                            .food = 0,
                            .amount_units = 5,
                            .received = DAY_NONE,
                            .opened = DAY_NONE,
                            .use_by = DAY_NONE,
                            .note = ""};
    struct cell cells[FIELDS_MAX];
    struct lot again;
    struct arena a = {0};
    struct err e = {0};
    size_t field;
    assert_true(row_read(reg, &lot, &f, cells, &a, &e));
    assert_int_equal(cells[reg_field(reg, "received")].kind, CELL_EMPTY);
    assert_true(row_fill(reg, cells, &again, &field, &e));
    assert_int_equal(again.received, DAY_NONE);
    cells[reg_field(reg, "code")] = (struct cell){.kind = CELL_WHOLE, .whole = 7};
    assert_false(row_fill(reg, cells, &again, &field, &e)); /* as a store that was damaged gives it */
    assert_int_equal(field, reg_field(reg, "code"));
    assert_non_null(strstr(e.text, "is damaged"));
    arena_free(&a);
}

/* Lights from eight to eight, by day or by night; a tank's own go before its system's. */
static void it_is_dark_by_the_lights_that_are_known(void **state)
{
    (void)state;
    enum { EIGHT = 8 * 60, EVENING = 20 * 60 };
    struct system systems[] = {{.lights_on_min = EIGHT, .lights_off_min = EVENING},
                               {.lights_on_min = EVENING, .lights_off_min = EIGHT},
                               {.lights_on_min = CLOCK_NONE, .lights_off_min = CLOCK_NONE}};
    struct tank tanks[] = {
        {.system = 0, .lights_on_min = CLOCK_NONE, .lights_off_min = CLOCK_NONE},
        {.system = 1, .lights_on_min = CLOCK_NONE, .lights_off_min = CLOCK_NONE},
        {.system = 2, .lights_on_min = CLOCK_NONE, .lights_off_min = CLOCK_NONE},
        {.system = 0, .lights_on_min = EVENING, .lights_off_min = EIGHT},
    };
    const struct facility f = {.systems = systems, .n_systems = 3, .tanks = tanks, .n_tanks = 4};
    static const struct {
        size_t tank;
        int minute;
        bool dark, known;
    } rows[] = {
        {0, EIGHT - 1, true, true},  {0, EIGHT, false, true},    {0, EVENING - 1, false, true},
        {0, EVENING, true, true},    {0, 34 * 60, false, true}, /* ten in the next morning */
        {1, EIGHT - 1, false, true}, {1, EIGHT, true, true},     {1, EVENING - 1, true, true},
        {1, EVENING, false, true},   {2, EVENING, false, false}, {3, EVENING, false, true},
        {3, EIGHT, true, true},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        bool known;
        assert_int_equal(is_dark(&f, rows[i].tank, rows[i].minute, &known), rows[i].dark);
        assert_int_equal(known, rows[i].known);
    }
}

/* What of a label goes into the row of a liquid of 1.25 g/mL; says: NULL where it is filled. */
static void a_label_is_reckoned_or_refused_by_its_word(void **state)
{
    (void)state;
    const struct reg *reg = reg_get(REG_FOOD);
    static const struct {
        enum label_word word;
        const char *typed;
        double value;
        const char *says;
    } rows[] = {
        {LABEL_RATE, "1 g per 100 L", 0.8, NULL},
        {LABEL_RATE, "1 mL per 100 L", 1, NULL},
        {LABEL_RATE, "3", 3, NULL},
        {LABEL_PRICE, "EUR 12.50", 1250, NULL},
        {LABEL_PRICE, ".5", 50, NULL},
        {LABEL_PRICE, "2000000", 0, "makes price_cents 200000000; expected 0 to 100000000"},
        {LABEL_MOISTURE, "100 %", 0, NULL},
        {LABEL_CEILING, "0 mL per 100 L", 0, "makes ceiling_units_per_100l 0; expected 0.0001 to 10000"},
        {LABEL_PRICE, "12.50 for 3", 0, "is no price"},
        {LABEL_PRICE, "-3", 0, "is no price"},
        {LABEL_PRICE, "much", 0, "is no price"},
        {LABEL_PRICE, "1.2.3", 0, "is no price"},
        {LABEL_PRICE, "1111111111222222222233333333334444444444", 0, "is no price"},
        {LABEL_PRICE, "0.005", 0, "parts of a cent"},
        {LABEL_PROTEIN, "max. 101 %", 0, "is not within 0 and 100 %"},
        {LABEL_PROTEIN, "-1", 0, "is not within 0 and 100 %"},
        {LABEL_PROTEIN, "5 cm", 0, "expected a percentage"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct cell cells[FIELDS_MAX] = {0};
        bool present[FIELDS_MAX] = {false};
        struct food_label label = {0};
        struct text told = {0};
        struct err e = {0};
        size_t unit = reg_field(reg, "unit"), density = reg_field(reg, "density_g_per_ml");
        cells[unit] = (struct cell){.kind = CELL_TEXT, .text = "ml"};
        cells[density] = (struct cell){.kind = CELL_NUMBER, .number = 1.25};
        present[unit] = present[density] = true;
        label.typed[rows[i].word] = rows[i].typed;
        bool ok = label_fill(&label, reg, NULL, cells, present, &told, &e);
        if (ok != (rows[i].says == NULL) || (!ok && !strstr(e.text, rows[i].says)))
            fail_msg("%s: %s", rows[i].typed, e.text);
        if (ok) {
            const struct cell *c = &cells[label_field(reg, rows[i].word)];
            assert_number(c->kind == CELL_WHOLE ? (double)c->whole : c->number, rows[i].value, 1e-9);
        }
        text_free(&told);
    }
}

static void text_that_a_register_cannot_hold_is_refused(void **state)
{
    (void)state;
    const struct reg *reg = reg_get(REG_LOT);
    static const struct {
        const char *field, *text, *says; /* NULL: it can */
    } rows[] = {
        {"code", "a\xC2\xADz", "control character"},
        {"code", "a\xE2\x80\xA8z", "control character"},
        {"code", "a\rz", "line break"},
        {"code", "a\xFFz", "not UTF-8"},
        {"note", "a\xE2\x80\x8Dz", NULL},
        {"note", "a\xE2\x80\x8Cz", NULL},
        {"note", "a\xC2\xADz", "control character"},
        {"code", " a", "blank at either end"},
        {"code", "a ", "blank at either end"},
        {"received", "2026-02-30", "expected"},
        {"amount_units", "1,5", "expected"},
        {"amount_units", "-1", "expected"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct arena a = {0};
        struct cell c;
        struct err e = {0};
        bool ok = cell_parse(&reg->fields[reg_field(reg, rows[i].field)], rows[i].text, &a, &c, &e);
        if (ok != (rows[i].says == NULL) || (!ok && !strstr(e.text, rows[i].says)))
            fail_msg("row %zu: %s", i, e.text);
        arena_free(&a);
    }
}

SUITE(asked)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_a_round_does_not_know_is_refused_by_name),
        cmocka_unit_test(a_round_that_must_end_goes_without_minutes_to_mix),
        cmocka_unit_test(a_round_with_a_late_feeder_ends_by_the_minute_asked),
        cmocka_unit_test(mouths_are_counted_by_the_rule_of_their_kind),
        cmocka_unit_test(what_would_help_an_overfull_water_is_said),
        cmocka_unit_test(a_turned_switch_that_is_not_understood_is_quoted),
        cmocka_unit_test(a_word_is_a_switch_unless_a_tank_or_coral_has_the_name),
        cmocka_unit_test(what_is_not_said_of_a_switch_was_as_planned),
        cmocka_unit_test(switches_that_nobody_logged_are_counted_up),
        cmocka_unit_test(a_request_of_old_that_is_not_known_is_quoted),
        cmocka_unit_test(a_row_that_contradicts_itself_names_the_field),
        cmocka_unit_test(a_name_in_the_wrong_case_is_found_where_it_can_mean_one_only),
        cmocka_unit_test(an_amount_is_read_in_the_foods_own_unit_by_its_density),
        cmocka_unit_test(what_is_not_known_stays_so_between_cells_and_rows),
        cmocka_unit_test(it_is_dark_by_the_lights_that_are_known),
        cmocka_unit_test(a_label_is_reckoned_or_refused_by_its_word),
        cmocka_unit_test(text_that_a_register_cannot_hold_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
