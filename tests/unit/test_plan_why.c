/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every number on a sheet has its working, and the working ends in that number. */
#include "neap/replan.h"
#include "neap/why.h"
#include "neap/working.h"

#include "facility_random.h"
#include "numbers.h"

enum { ROUNDS = TRIALS(50), SUBJECTS_MAX = 800 };

struct questioned {
    struct arena a;
    const char *subjects[SUBJECTS_MAX];
    struct explanation answers[SUBJECTS_MAX];
    size_t n;
};

static struct random_facility r;
static struct questioned asked;

static void ask(const char *kind, const char *name)
{
    assert_true(asked.n < SUBJECTS_MAX);
    asked.subjects[asked.n++] = arena_format(&asked.a, "%s %s", kind, name);
}

static void ask_all(const struct round *round)
{
    char number[24];
    asked.n = 0;
    for (size_t i = 0; i < round->n_lines; i++) {
        snprintf(number, sizeof number, "%zu", i + 1);
        ask("line", number);
    }
    for (size_t i = 0; i < round->n_pots; i++)
        ask("pot", round->pots[i].pot);
    for (size_t i = 0; i < r.f.n_systems; i++)
        ask("system", r.systems[i].name);
    for (size_t i = 0; i < r.f.n_tanks; i++)
        ask("tank", r.tanks[i].name);
    for (size_t i = 0; i < r.f.n_colonies; i++)
        ask("colony", r.colonies[i].code);
    ask("round", "totals");
}

static const struct explanation *answer_of(const char *kind, const char *name)
{
    char subject[80];
    snprintf(subject, sizeof subject, "%s %s", kind, name);
    for (size_t i = 0; i < asked.n; i++)
        if (strcmp(asked.answers[i].subject, subject) == 0)
            return &asked.answers[i];
    fail_msg("%s is not explained", subject);
    return NULL;
}

/* Is there a step that comes to this number? */
static bool comes_to(const struct explanation *x, double value)
{
    for (size_t s = 0; s < x->n_steps; s++)
        for (size_t i = 0; i < x->steps[s].n_rows; i++)
            if (x->steps[s].rows[i].part == WHY_RESULT && fabs(x->steps[s].rows[i].value - value) < 1e-9)
                return true;
    return false;
}

/* The broadcast that a tank's corals wait for is one to that tank; the line of the first corals names it. */
static void check_broadcast(const struct round *round, const struct line *l, const struct explanation *x)
{
    bool there = false, named = false;
    for (size_t i = 0; i < round->n_lines; i++)
        there = there || (round->lines[i].action == ACTION_BROADCAST && round->lines[i].tank == l->tank);
    for (size_t s = 0; s < x->n_steps; s++)
        for (size_t k = 0; k < x->steps[s].n_rows; k++) {
            const struct why_row *row = &x->steps[s].rows[k];
            long number;
            if (strcmp(row->what, "broadcast ends") != 0)
                continue;
            assert_true(count_parse(row->origin + strlen("line "), &number));
            assert_true(number >= 1 && (size_t)number <= round->n_lines);
            const struct line *broadcast = &round->lines[number - 1];
            assert_int_equal(broadcast->action, ACTION_BROADCAST);
            assert_int_equal(broadcast->tank, l->tank);
            assert_number(row->value, broadcast->end_min, 0);
            named = true;
        }
    assert_true(named == (there && l->action != ACTION_BROADCAST && l->pass <= 1));
}

/* A broadcast that is not cut is held back by nothing that is worth a note. */
static void check_not_cut(const struct explanation *x)
{
    for (size_t s = 0; s < x->n_steps; s++) {
        const struct why_step *step = &x->steps[s];
        bool whole = false;
        for (size_t k = 0; k < step->n_rows; k++)
            whole = whole || strcmp(step->rows[k].origin, "not cut") == 0;
        for (size_t k = 0; whole && strcmp(step->title, "Broadcast") == 0 && k < step->n_rows; k++)
            if (step->rows[k].part == WHY_NOTE)
                fail_msg("%s: %s", x->subject, step->rows[k].words);
    }
}

static void check_lines(const struct round *round)
{
    char number[24];
    for (size_t i = 0; i < round->n_lines; i++) {
        const struct line *l = &round->lines[i];
        snprintf(number, sizeof number, "%ld", l->number);
        const struct explanation *x = answer_of("line", number);
        double sheet = l->action == ACTION_FLOW_OFF || l->action == ACTION_FLOW_ON ? l->start_min : l->amount;
        assert_number(x->answer, sheet, 1e-9);
        assert_true(comes_to(x, sheet));
        assert_true(comes_to(x, l->start_min));
        check_broadcast(round, l, x);
        if (l->action == ACTION_BROADCAST)
            check_not_cut(x);
    }
}

static double pot_food(const struct round *round, const char *pot, size_t food)
{
    double units = 0;
    for (size_t i = 0; i < round->n_pot_foods; i++)
        if (strcmp(round->pot_foods[i].pot, pot) == 0 && round->pot_foods[i].food == food)
            units += round->pot_foods[i].amount_units;
    return units;
}

/* "System north: …" in a pot's working is of a water that is fed from it. */
static void check_notes(const struct round *round, const char *pot, const struct explanation *x)
{
    for (size_t s = 0; s < x->n_steps; s++)
        for (size_t k = 0; k < x->steps[s].n_rows; k++) {
            const struct why_row *row = &x->steps[s].rows[k];
            bool fed = false;
            if (row->part != WHY_NOTE || strncmp(row->words, "System ", 7) != 0)
                continue;
            for (size_t i = 0; i < round->n_lines; i++) {
                const char *system = r.systems[r.tanks[round->lines[i].tank].system].name;
                size_t n = strlen(system);
                fed = fed || (strcmp(round->lines[i].pot, pot) == 0 && strncmp(row->words + 7, system, n) == 0 &&
                              row->words[7 + n] == ':');
            }
            if (!fed)
                fail_msg("pot %s: %s", pot, row->words);
        }
}

static void check_pots(const struct round *round)
{
    for (size_t i = 0; i < round->n_pots; i++) {
        const struct pot *p = &round->pots[i];
        const struct explanation *x = answer_of("pot", p->pot);
        assert_number(x->answer, p->made_ml, 1e-9);
        assert_true(comes_to(x, p->made_ml));
        assert_true(comes_to(x, p->water_ml));
        assert_true(comes_to(x, p->factor));
        check_notes(round, p->pot, x);
        for (size_t k = 0; k < round->n_pot_foods; k++)
            if (strcmp(round->pot_foods[k].pot, p->pot) == 0) {
                const struct food *food = &r.foods[round->pot_foods[k].food];
                assert_true(food->blend_share_frac > 0 || food->blend_ml_per_100ml > 0); /* nothing else is a pot's */
                assert_true(comes_to(x, pot_food(round, p->pot, round->pot_foods[k].food)));
            }
    }
}

/* What the recipe took of a food is the house blend's where the two print the same, and only there. */
static size_t check_house_amounts(void)
{
    size_t met = 0;
    for (size_t i = 0; i < asked.n; i++)
        for (size_t s = 0; s < asked.answers[i].n_steps; s++) {
            const struct why_step *step = &asked.answers[i].steps[s];
            double house = NAN;
            for (size_t k = 0; k < step->n_rows; k++) {
                const struct why_row *row = &step->rows[k];
                char answer_words[64], house_words[64];
                if (strcmp(row->what, "the house blend would hold") == 0)
                    house = row->value;
                if (isnan(house) || strcmp(row->what, "the recipe's answer") != 0)
                    continue;
                number_short(row->value, 5, answer_words);
                number_short(house, 5, house_words);
                assert_string_equal(row->origin,
                                    strcmp(answer_words, house_words) == 0 ? "as the house blend" : "limits above");
                met++;
            }
        }
    return met;
}

/* What is to be had ready of each food is what the pots and the lines take of it. */
static void check_totals(const struct round *round)
{
    const struct explanation *x = answer_of("round", "totals");
    size_t taken = 0;
    for (size_t i = 0; i < r.f.n_foods; i++)
        taken += round_food_units(round, i) > 0;
    assert_int_equal(x->n_steps, taken);
    for (size_t s = 0; s < x->n_steps; s++) {
        const struct why_step *step = &x->steps[s];
        double sum = 0;
        for (size_t k = 0; k + 1 < step->n_rows; k++)
            sum += step->rows[k].value;
        assert_number(step->rows[step->n_rows - 1].value, sum, 1e-9);
    }
}

/* Doses over their ceilings, one by one, add up to what the day's ceiling is held against. */
static size_t check_loads(void)
{
    size_t met = 0;
    for (size_t i = 0; i < asked.n; i++)
        for (size_t s = 0; s < asked.answers[i].n_steps; s++) {
            const struct why_step *step = &asked.answers[i].steps[s];
            double sum = 0;
            if (strcmp(step->title, "Ceilings") != 0)
                continue;
            for (size_t k = 0; k + 1 < step->n_rows; k++)
                sum += strstr(step->rows[k].origin, "setting ") ? 0 : step->rows[k].value;
            assert_number(sum, step->rows[step->n_rows - 1].value, 1e-9);
            met += sum > 0;
        }
    return met;
}

/* The strength of a system is that of its strongest allowed pot: no pot it is fed from is stronger. */
static void check_places(const struct round *round)
{
    for (size_t i = 0; i < r.f.n_systems; i++) {
        const struct explanation *x = answer_of("system", r.systems[i].name);
        assert_true(comes_to(x, x->answer));
        for (size_t k = 0; k < round->n_lines; k++)
            for (size_t p = 0; p < round->n_pots; p++)
                if (r.tanks[round->lines[k].tank].system == i && strcmp(round->lines[k].pot, round->pots[p].pot) == 0)
                    assert_true(round->pots[p].factor <= x->answer + 1e-6);
    }
    for (size_t i = 0; i < r.f.n_tanks; i++) {
        const struct explanation *x = answer_of("tank", r.tanks[i].name);
        assert_number(x->answer, r.tanks[i].net_l, 1e-9);
        assert_true(comes_to(x, r.tanks[i].net_l));
    }
}

static void check_colonies(const struct round *round)
{
    for (size_t i = 0; i < round->n_waitings; i++) {
        const struct explanation *x = answer_of("colony", r.colonies[round->waitings[i].colony].code);
        assert_string_equal(x->says, round->waitings[i].reason);
    }
    for (size_t i = 0; i < r.f.n_colonies; i++) {
        double ml = 0;
        for (size_t k = 0; k < round->n_lines; k++)
            ml += round->lines[k].action == ACTION_TARGET && round->lines[k].colony == i ? round->lines[k].amount : 0;
        const struct explanation *x = answer_of("colony", r.colonies[i].code);
        assert_true(ml > 0 ? fabs(x->answer - ml) < 1e-9 : isnan(x->answer) && *x->says);
    }
}

static void every_number_of_the_sheet_is_the_end_of_its_working(void **unused)
{
    (void)unused;
    size_t house_amounts = 0, loads = 0;
    for (uint64_t seed = 1; seed <= ROUNDS; seed++) {
        struct plan_request request;
        struct round round, again;
        const char *skip;
        struct err e;
        facility_random(&r, seed);
        request_random(&r, &request, &skip);
        assert_true(plan_round(&r.f, &request, &round, &e));
        ask_all(&round);
        struct plan_question q = {asked.subjects, asked.n, asked.answers};
        if (!plan_explain(&r.f, &request, &round, &q, &again, &e))
            fail_msg("seed %lu: %s", (unsigned long)seed, e.text);
        check_lines(&round);
        check_pots(&round);
        check_places(&round);
        check_colonies(&round);
        house_amounts += check_house_amounts();
        loads += check_loads();
        check_totals(&round);
        round_free(&again);
        round_free(&round);
        arena_free(&asked.a);
    }
    assert_true(house_amounts > ROUNDS / 2 && loads > ROUNDS / 2);
}

/* A working that can be followed: the numbers given are those of the formula. */
static void a_line_is_colonies_times_mouths_times_portion(void **unused)
{
    (void)unused;
    size_t n = 0;
    for (uint64_t seed = 1; seed <= 40; seed++) {
        struct plan_request request = {.day = RANDOM_DAY, .start_min = -1, .effort = 0.01};
        struct round round, again;
        struct err e;
        facility_random(&r, seed);
        assert_true(plan_round(&r.f, &request, &round, &e));
        ask_all(&round);
        struct plan_question q = {asked.subjects, asked.n, asked.answers};
        assert_true(plan_explain(&r.f, &request, &round, &q, &again, &e));
        for (size_t i = 0; i < asked.n; i++)
            for (size_t s = 0; s < asked.answers[i].n_steps; s++) {
                const struct why_step *step = &asked.answers[i].steps[s];
                double product = 1;
                if (strcmp(step->title, "Slurry") != 0)
                    continue;
                for (size_t k = 0; k + 1 < step->n_rows; k++)
                    product *= step->rows[k].value;
                assert_number(step->rows[step->n_rows - 1].value, product, 1e-9);
                n++;
            }
        round_free(&again);
        round_free(&round);
        arena_free(&asked.a);
    }
    assert_true(n > 100);
}

static void an_unknown_subject_offers_the_nearest(void **unused)
{
    (void)unused;
    struct plan_request request = {.day = RANDOM_DAY, .start_min = -1, .effort = 0.01};
    const char *const subjects[] = {"adler", "99999"};
    struct explanation answer;
    struct round round, again;
    struct err e;
    facility_random(&r, 4);
    assert_true(plan_round(&r.f, &request, &round, &e));
    struct plan_question q = {&subjects[0], 1, &answer};
    assert_false(plan_explain(&r.f, &request, &round, &q, &again, &e));
    assert_int_equal(e.code, ERR_NOT_FOUND);
    assert_non_null(strstr(e.text, "did you mean \"alder\"?"));
    q.subjects = &subjects[1];
    assert_false(plan_explain(&r.f, &request, &round, &q, &again, &e));
    assert_non_null(strstr(e.text, "no line 99999"));
    round_free(&round);
}

static void a_changed_number_is_named_with_both_values(void **unused)
{
    (void)unused;
    struct why_row was[] = {{WHY_NUMBER, "portion", 0.2, "mL", "", ""}, {WHY_NUMBER, "colonies", 3, "", "", ""}};
    struct why_row is[] = {{WHY_NUMBER, "portion", 0.3, "mL", "", ""}, {WHY_NUMBER, "colonies", 3, "", "", ""}};
    struct why_step before = {"Slurry", "", was, 2, 2}, after = {"Slurry", "", is, 2, 2};
    const struct explanation then = {.steps = &before, .n_steps = 1}, now = {.steps = &after, .n_steps = 1};
    const char *const *changes;
    struct arena a = {0};
    struct err e;
    size_t n;
    assert_true(explanation_changes(&then, &now, &a, &changes, &n, &e));
    assert_int_equal(n, 1);
    assert_string_equal(changes[0], "Slurry, portion: was 0.2 mL, is 0.3 mL now.");
    arena_free(&a);
}

SUITE(plan_why)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_number_of_the_sheet_is_the_end_of_its_working),
        cmocka_unit_test(a_line_is_colonies_times_mouths_times_portion),
        cmocka_unit_test(an_unknown_subject_offers_the_nearest),
        cmocka_unit_test(a_changed_number_is_named_with_both_values),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
