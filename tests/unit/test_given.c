/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a feeder writes beside the lines, as rows of the log, and what they come to. */
#include "neap/figures.h"
#include "neap/log.h"
#include "neap/plan.h"
#include "neap/response.h"
#include "tests.h"

/* One tank, one pot A of two foods, and a line of each sort. */
static struct food foods[] = {{.name = "powder", .unit = UNIT_G}, {.name = "plankton", .unit = UNIT_ML}};
static struct kind kinds[] = {{.name = "stony"}};
static struct colony colonies[] = {{.code = "C1", .label = "green", .kind = 0}};
static struct tank tanks[] = {{.name = "T1"}};
static const struct facility f = {.foods = foods,
                                  .n_foods = 2,
                                  .kinds = kinds,
                                  .n_kinds = 1,
                                  .colonies = colonies,
                                  .n_colonies = 1,
                                  .tanks = tanks,
                                  .n_tanks = 1};

enum { BROADCAST = 1, FISH, OFF, FED, FED_2, ON };

static void fill(struct round *r)
{
    static struct line lines[6];
    static struct pot pots[1];
    static struct pot_food pot_foods[2];
    lines[0] = (struct line){.number = BROADCAST,
                             .action = ACTION_BROADCAST,
                             .food = 1,
                             .colony = REF_NONE,
                             .pot = "",
                             .amount = 20,
                             .end_min = 480};
    lines[1] = (struct line){
        .number = FISH, .action = ACTION_FISH, .food = 0, .colony = REF_NONE, .pot = "", .amount = 0.6, .end_min = 490};
    lines[2] = (struct line){.number = OFF,
                             .action = ACTION_FLOW_OFF,
                             .food = REF_NONE,
                             .colony = REF_NONE,
                             .pot = "",
                             .amount = NAN,
                             .end_min = 495};
    lines[3] = (struct line){
        .number = FED, .action = ACTION_TARGET, .food = REF_NONE, .colony = 0, .pot = "A", .amount = 4, .end_min = 500};
    lines[4] = (struct line){.number = FED_2,
                             .action = ACTION_TARGET,
                             .food = REF_NONE,
                             .colony = 0,
                             .pot = "A",
                             .amount = 6,
                             .end_min = 505};
    lines[5] = (struct line){.number = ON,
                             .action = ACTION_FLOW_ON,
                             .food = REF_NONE,
                             .colony = REF_NONE,
                             .pot = "",
                             .amount = NAN,
                             .end_min = 510};
    pots[0] = (struct pot){.pot = "A", .made_ml = 20};
    pot_foods[0] = (struct pot_food){.pot = "A", .rank = 1, .food = 0, .amount_units = 2};
    pot_foods[1] = (struct pot_food){.pot = "A", .rank = 2, .food = 1, .amount_units = 1};
    *r = (struct round){.head = {.number = 7, .revision = 2},
                        .pots = pots,
                        .n_pots = 1,
                        .pot_foods = pot_foods,
                        .n_pot_foods = 2,
                        .lines = lines,
                        .n_lines = 6};
}

/* ---- words ------------------------------------------------------------------------------------------------------ */

static void words_name_lines_and_what_became_of_them(void **state)
{
    (void)state;
    static const struct {
        const char *word;
        long first, last;
        int outcome;
        const char *amount;
        long response;
        int at_min;
    } rows[] = {
        {"14", 14, 14, OUTCOME_GIVEN, "", -1, -1},
        {"15-18=:4", 15, 18, OUTCOME_GIVEN, "", 4, -1},
        {"20-24=n", 20, 24, OUTCOME_NOT_GIVEN, "", -1, -1},
        {"14=r", 14, 14, OUTCOME_REFUSED, "", -1, -1},
        {"14=r:0", 14, 14, OUTCOME_REFUSED, "", 0, -1},
        {"14=p12.5", 14, 14, OUTCOME_PART, "12.5", -1, -1},
        {"14=P12.5:2@09:40", 14, 14, OUTCOME_PART, "12.5", 2, 580},
        {"14=l@09:40", 14, 14, OUTCOME_LATE, "", -1, 580},
        {"14=2.1mL", 14, 14, OUTCOME_GIVEN, "2.1mL", -1, -1},
        {"14=@00:00", 14, 14, OUTCOME_GIVEN, "", -1, 0},
        {"14=.5", 14, 14, OUTCOME_GIVEN, ".5", -1, -1},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct log_word w;
        struct err e = {0};
        if (!log_word_parse(rows[i].word, &w, &e))
            fail_msg("%s: %s", rows[i].word, e.text);
        assert_int_equal(w.n_spans, 1);
        assert_int_equal(w.spans[0].first, rows[i].first);
        assert_int_equal(w.spans[0].last, rows[i].last);
        assert_int_equal(w.outcome, rows[i].outcome);
        assert_string_equal(w.amount, rows[i].amount);
        assert_int_equal(w.response, rows[i].response);
        assert_int_equal(w.at_min, rows[i].at_min);
    }
}

static void a_list_names_several_spans(void **state)
{
    (void)state;
    struct log_word w;
    struct err e;
    assert_true(log_word_parse("3,5,9-12=n", &w, &e));
    assert_int_equal(w.n_spans, 3);
    assert_int_equal(w.spans[2].first, 9);
    assert_int_equal(w.spans[2].last, 12);
}

static void what_is_not_understood_is_refused_with_the_word(void **state)
{
    (void)state;
    static const char *const words[] = {"14=",
                                        "=r",
                                        "14=x",
                                        "14=:5",
                                        "14=:44",
                                        "14=@25:00",
                                        "18-15=n",
                                        "0=n",
                                        "14-=n",
                                        "14=r:",
                                        "14,=n",
                                        "14=1.5@",
                                        "14=p-2",
                                        "D1=x",
                                        "99999999=n",
                                        "14=:3:4",
                                        "14-15x",
                                        "1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1,1=n",
                                        "14=12345678901234567890123456"};
    for (size_t i = 0; i < COUNT_OF(words); i++) {
        struct log_word w;
        struct err e = {0};
        if (log_word_parse(words[i], &w, &e))
            fail_msg("%s was understood", words[i]);
        assert_int_equal(e.code, ERR_MISUSE);
        assert_non_null(strstr(e.text, "is not understood; expected"));
    }
}

/* Names are at most 60 bytes (docs/files.md), on the word as in the registers. */
static void a_name_is_taken_up_to_the_length_that_names_have(void **state)
{
    (void)state;
    char word[80];
    struct log_word w;
    struct err e = {0};
    snprintf(word, sizeof word, "%060d=n", 0);
    memset(word, 'D', 60);
    assert_true(log_word_parse(word, &w, &e));
    assert_int_equal(strlen(w.name), 60);
    assert_int_equal(w.outcome, OUTCOME_NOT_GIVEN);
    snprintf(word, sizeof word, "%061d=n", 0);
    memset(word, 'D', 61);
    assert_false(log_word_parse(word, &w, &e));
    assert_int_equal(e.code, ERR_MISUSE);
}

static void a_name_may_begin_with_digits(void **state)
{
    (void)state;
    struct log_word w;
    struct err e;
    assert_false(log_word_is("2B=n"));
    assert_true(log_word_parse("2B=n", &w, &e));
    assert_int_equal(w.n_spans, 0);
    assert_string_equal(w.name, "2B");
}

/* ---- lines ------------------------------------------------------------------------------------------------------ */

static bool apply(const char *word, struct given *g, struct err *e)
{
    struct round r;
    struct log_word w;
    fill(&r);
    return log_word_parse(word, &w, e) && log_word_apply(&w, &f, &r, round_line(&r, w.spans[0].first), g, e);
}

static void a_word_becomes_the_row_of_its_line(void **state)
{
    (void)state;
    static const struct {
        const char *word;
        int outcome;
        double amount;
        long response;
    } rows[] =
        {
            {"4", OUTCOME_GIVEN, 4, -1},
            {"4=3", OUTCOME_PART, 3, -1}, /* less than planned is a part, coded or not */
            {"4=5", OUTCOME_GIVEN, 5, -1},
            {"4=4", OUTCOME_GIVEN, 4, -1},
            {"4=p1.5:2", OUTCOME_PART, 1.5, 2},
            {"4=r", OUTCOME_REFUSED, 4, 0}, /* what was offered is in the water; a refusal is a 0 */
            {"4=r1:1", OUTCOME_REFUSED, 1, 1},
            {"4=n", OUTCOME_NOT_GIVEN, 0, -1},
            {"4=l:3", OUTCOME_LATE, 4, 3},
            {"1=0.015L", OUTCOME_PART, 15, -1},
            {"2=500mg", OUTCOME_PART, 0.5, -1},
            {"2=r", OUTCOME_REFUSED, 0.6, -1},
            {"3=@08:16", OUTCOME_GIVEN, NAN, -1},
            {"3=n", OUTCOME_NOT_GIVEN, NAN, -1},
            {"6=l", OUTCOME_LATE, NAN, -1},
        };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct given g;
        struct err e = {0};
        if (!apply(rows[i].word, &g, &e))
            fail_msg("%s: %s", rows[i].word, e.text);
        bool amount = isnan(rows[i].amount) ? isnan(g.amount) : fabs(g.amount - rows[i].amount) < 1e-12;
        if (g.outcome != rows[i].outcome || !amount || g.response != rows[i].response)
            fail_msg("%s: outcome %d, amount %g, response %ld", rows[i].word, g.outcome, g.amount, g.response);
        assert_int_equal(g.round, 7);
        assert_int_equal(g.sheet_revision, 2);
    }
}

static void a_word_that_does_not_fit_its_line_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *word, *says;
    } rows[] = {
        {"3=5", "line 3: flow is off or on"},
        {"3=r", "line 3: flow is off or on"},
        {"3=p", "line 3: flow is off or on"},
        {"1=:3", "line 1: only what mouths are fed is scored"},
        {"4=n2", "line 4: n is not given"},
        {"4=n:0", "line 4: n is not given"},
        {"4=p", "line 4: p needs how much"},
        {"4=p4", "line 4: p is for less than the plan"},
        {"4=0", "line 4: 0 is no amount"},
        {"4=12.1", "line 4: 12.1 mL is more than three times the plan, 4 mL"},
        {"4=r:3", "line 4: refused and yet half or more taken"},
        {"4=2g", "line 4: "},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct given g;
        struct err e = {0};
        if (apply(rows[i].word, &g, &e))
            fail_msg("%s was taken", rows[i].word);
        assert_int_equal(e.code, ERR_INPUT);
        if (!strstr(e.text, rows[i].says))
            fail_msg("%s: %s", rows[i].word, e.text);
    }
}

static void more_than_was_planned_is_asked_about_where_anything_was_measured(void **state)
{
    (void)state;
    const struct line fed = {.action = ACTION_TARGET, .amount = 4}, flow = {.action = ACTION_FLOW_ON, .amount = NAN};
    assert_true(log_is_more(&fed, &(struct given){.amount = 8}));
    assert_false(log_is_more(&fed, &(struct given){.amount = 4}));
    assert_false(log_is_more(&fed, &(struct given){.amount = NAN})); /* as planned */
    assert_false(log_is_more(&flow, &(struct given){.amount = NAN}));
}

static void a_coral_without_a_label_goes_by_its_kind(void **state)
{
    (void)state;
    struct colony plain[] = {{.code = "C1", .label = "", .kind = 0}};
    struct facility g = f;
    struct text t = {0};
    struct round r;
    g.colonies = plain;
    fill(&r);
    line_words(&f, round_line(&r, FED), &t);
    assert_string_equal(text_str(&t), "C1 green");
    text_free(&t);
    line_words(&g, round_line(&r, FED), &t);
    assert_string_equal(text_str(&t), "C1 stony");
    text_free(&t);
    assert_null(round_line(&r, 0));
    assert_null(round_line(&r, 7));
}

/* ---- figures ---------------------------------------------------------------------------------------------------- */

static struct log_figures figures_of(const char *const *words, size_t n, struct mixed *mixed, struct weighed *weighed,
                                     struct arena *a)
{
    static struct given givens[6];
    struct round r;
    struct log_figures g;
    struct err e;
    fill(&r);
    struct round_log log = {.givens = givens,
                            .n_givens = n,
                            .mixes = mixed,
                            .n_mixes = mixed ? 1 : 0,
                            .weighings = weighed,
                            .n_weighings = weighed ? 1 : 0};
    for (size_t i = 0; i < n; i++)
        assert_true(apply(words[i], &givens[i], &e));
    assert_true(log_figures_begin(&f, a, &g, &e));
    log_figures_add(&r, &log, &g);
    return g;
}

static void planned_mixed_given_and_refused_are_four_numbers(void **state)
{
    (void)state;
    static const char *const words[] = {"4=r", "5=p5"};
    struct arena a = {0};
    struct mixed m = {.pot = "A", .made_ml = 22, .left_ml = 9};
    struct log_figures g = figures_of(words, 2, &m, NULL, &a);
    assert_true(g.planned_ml == 10);
    assert_true(g.mixed_ml == 22);
    assert_true(g.given_ml == 5);
    assert_true(g.refused_ml == 4);
    assert_true(g.left_ml == 9);
    arena_free(&a);
}

static void a_pot_nobody_measured_was_mixed_as_planned_once_it_was_used(void **state)
{
    (void)state;
    static const char *const used[] = {"4"}, *const unused[] = {"4=n"};
    struct arena a = {0};
    assert_true(figures_of(used, 1, NULL, NULL, &a).mixed_ml == 20);
    assert_true(figures_of(unused, 1, NULL, NULL, &a).mixed_ml == 0);
    arena_free(&a);
}

static void a_blank_line_is_not_given_but_unaccounted(void **state)
{
    (void)state;
    static const char *const words[] = {"1", "4=n"};
    struct arena a = {0};
    struct log_figures g = figures_of(words, 2, NULL, NULL, &a);
    assert_int_equal(g.lines, 6);
    assert_int_equal(g.unaccounted, 4);
    assert_int_equal(g.outcomes[OUTCOME_GIVEN], 1);
    assert_int_equal(g.outcomes[OUTCOME_NOT_GIVEN], 1);
    arena_free(&a);
}

static void a_line_is_late_by_its_code_or_its_clock(void **state)
{
    (void)state;
    /* planned ends: 500, 505, 510 minutes, which are 08:20, 08:25, 08:30; ten minutes of grace */
    static const char *const words[] = {"1", "2=l", "4=@08:30", "5=@08:36", "6=@08:40"};
    struct arena a = {0};
    assert_int_equal(figures_of(words, 5, NULL, NULL, &a).on_time, 3);
    arena_free(&a);
}

static void refusals_and_weighing_errors_are_counted_by_food(void **state)
{
    (void)state;
    static const char *const words[] = {"4=r", "5=:4"};
    struct arena a = {0};
    struct weighed w = {.pot = "A", .rank = 1, .amount_units = 2.2};
    struct log_figures g = figures_of(words, 2, NULL, &w, &a);
    assert_int_equal(g.foods[0].offered, 2);
    assert_int_equal(g.foods[0].refused, 1);
    assert_int_equal(g.foods[1].refused, 1);
    assert_int_equal(g.foods[0].weighings, 1);
    assert_true(fabs(g.foods[0].off_frac_sum - 0.1) < 1e-12); /* 2.2 for 2 */
    assert_int_equal(g.foods[1].weighings, 0);
    assert_int_equal(g.judged, 2);
    assert_int_equal(g.score_sum, 4);
    arena_free(&a);
}

static void a_larger_pot_is_weighed_against_its_own_size(void **state)
{
    (void)state;
    static const char *const words[] = {"4"};
    struct arena a = {0};
    struct mixed m = {.pot = "A", .made_ml = 30, .left_ml = NAN}; /* half as much again: 3 g instead of 2 */
    struct weighed w = {.pot = "A", .rank = 1, .amount_units = 3};
    assert_true(figures_of(words, 1, &m, &w, &a).foods[0].off_frac_worst < 1e-12);
    m.made_ml = 0; /* weighed, and not mixed after all */
    assert_int_equal(figures_of(words, 1, &m, &w, &a).foods[0].weighings, 0);
    arena_free(&a);
}

/* Pot A has its powder from two lots, as a premix, and stands beside a pot B; refused, the powder is so once. */
static void a_food_from_two_lots_is_one_food_and_a_premix_is_weighed_whole(void **state)
{
    (void)state;
    struct arena a = {0};
    struct pot pots[] = {{.pot = "A", .made_ml = 20}, {.pot = "B", .made_ml = 20}};
    struct pot_food foods_in[] = {
        {.pot = "A", .rank = 1, .food = 0, .lot = 0, .amount_units = 0.2, .premix_units = 2, .premix_ml = 100},
        {.pot = "A", .rank = 2, .food = 0, .lot = 1, .amount_units = 0.1},
        {.pot = "B", .rank = 1, .food = 0, .lot = 1, .amount_units = 1},
        {.pot = "B", .rank = 2, .food = 1, .lot = 2, .amount_units = 1}};
    struct given refused = {.line = FED, .outcome = OUTCOME_REFUSED, .amount = 4, .response = 0, .at_min = -1};
    struct mixed m = {.pot = "A", .made_ml = 40, .left_ml = NAN};
    struct weighed w = {.pot = "A", .rank = 1, .amount_units = 2.2};
    const struct round_log log = {
        .givens = &refused, .n_givens = 1, .mixes = &m, .n_mixes = 1, .weighings = &w, .n_weighings = 1};
    struct log_figures g;
    struct round r;
    struct err e;
    fill(&r);
    r.pots = pots;
    r.pot_foods = foods_in;
    r.n_pots = 2;
    r.n_pot_foods = COUNT_OF(foods_in);
    assert_true(log_figures_begin(&f, &a, &g, &e));
    log_figures_add(&r, &log, &g);
    assert_int_equal(g.foods[0].offered, 1);
    assert_int_equal(g.foods[0].refused, 1);
    assert_int_equal(g.foods[1].offered, 0);
    assert_true(fabs(g.foods[0].off_frac_worst - 0.1) < 1e-12); /* 2.2 for 2, however much of it the pot took */
    arena_free(&a);
}

static void a_pot_that_was_mixed_is_used_and_one_of_0_mL_is_not(void **state)
{
    (void)state;
    struct mixed mixes[] = {{.pot = "A", .made_ml = 20}, {.pot = "B", .made_ml = 0}};
    struct given elsewhere = {.line = 9, .outcome = OUTCOME_GIVEN};
    const struct round_log mixed = {.mixes = mixes, .n_mixes = 2}, given = {.givens = &elsewhere, .n_givens = 1};
    struct round r;
    fill(&r);
    assert_true(log_pot_used(&r, &mixed, "A"));
    assert_false(log_pot_used(&r, &mixed, "B"));
    assert_false(log_pot_used(&r, &given, "A")); /* a line that the round does not have */
}

SUITE(given)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(words_name_lines_and_what_became_of_them),
        cmocka_unit_test(a_list_names_several_spans),
        cmocka_unit_test(what_is_not_understood_is_refused_with_the_word),
        cmocka_unit_test(a_name_is_taken_up_to_the_length_that_names_have),
        cmocka_unit_test(a_name_may_begin_with_digits),
        cmocka_unit_test(a_word_becomes_the_row_of_its_line),
        cmocka_unit_test(more_than_was_planned_is_asked_about_where_anything_was_measured),
        cmocka_unit_test(a_coral_without_a_label_goes_by_its_kind),
        cmocka_unit_test(a_word_that_does_not_fit_its_line_is_refused),
        cmocka_unit_test(planned_mixed_given_and_refused_are_four_numbers),
        cmocka_unit_test(a_pot_nobody_measured_was_mixed_as_planned_once_it_was_used),
        cmocka_unit_test(a_blank_line_is_not_given_but_unaccounted),
        cmocka_unit_test(a_line_is_late_by_its_code_or_its_clock),
        cmocka_unit_test(refusals_and_weighing_errors_are_counted_by_food),
        cmocka_unit_test(a_larger_pot_is_weighed_against_its_own_size),
        cmocka_unit_test(a_food_from_two_lots_is_one_food_and_a_premix_is_weighed_whole),
        cmocka_unit_test(a_pot_that_was_mixed_is_used_and_one_of_0_mL_is_not),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
