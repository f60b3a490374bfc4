/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What responses do to a portion: the rule of docs/round.md, row by row. */
#include "neap/plan.h"
#include "neap/response.h"
#include "tests.h"

enum { R = -1, G = 9, ROUNDS_MAX = 16 }; /* R: refused; G: given as planned, not scored */

static size_t rounds_of(const int *scores, struct judged *rounds)
{
    size_t n = 0;
    for (; scores[n] > -2; n++)
        rounds[n] = (struct judged){.day = 20000 + (int)n,
                                    .score = scores[n] == G  ? (double)NAN
                                             : scores[n] < 0 ? 0
                                                             : scores[n],
                                    .refused = scores[n] < 0};
    return n;
}

#define END (-2)

static void portions_follow_the_rule(void **state)
{
    (void)state;
    static const struct {
        const char *why;
        int scores[ROUNDS_MAX];
        double frac;
        bool close;
    } rows[] = {
        {"nothing judged", {END}, 1, false},
        {"one refusal is weather", {R, END}, 1, false},
        {"one poor score is weather", {0, END}, 1, false},
        {"two refusals in a row", {R, R, END}, 0.75, true},
        {"two refusals in three rounds", {R, 3, R, END}, 0.75, true},
        {"two refusals in four rounds", {R, 3, 3, R, END}, 1, false},
        {"little taken three times", {1, 1, 2, END}, 0.75, true},
        {"mean 1.5 is not below it", {1, 2, END}, 1, false},
        {"half taken each time stays", {2, 2, 2, 2, 2, END}, 1, false},
        {"a judgement counts once", {R, R, 3, END}, 0.75, true},
        {"three refusals are one cut and a begun one", {R, R, R, END}, 0.75, true},
        {"four refusals are two cuts", {R, R, R, R, END}, 0.5625, true},
        {"never below a half", {R, R, R, R, R, R, R, R, END}, 0.5, true},
        {"three full responses restore one step", {R, R, 4, 4, 4, END}, 1, false},
        {"mean 3.33 does not restore", {R, R, 4, 3, 3, END}, 0.75, false},
        {"two full responses do not restore yet", {R, R, 4, 4, END}, 0.75, false},
        {"the portion never passes the kind's", {4, 4, 4, 4, 4, 4, END}, 1, false},
        {"from a half back in steps", {R, R, R, R, R, R, 4, 4, 4, END}, 0.5 / 0.75, false},
        {"two refusals with two rounds as planned between", {R, G, G, R, END}, 1, false},
        {"little taken, one round of three not scored", {1, G, 1, END}, 0.75, true},
        {"one score among three is weather", {G, 1, G, END}, 1, false},
        {"as planned says nothing of a full response", {R, R, G, G, G, END}, 0.75, false},
        {"all the way back", {R, R, R, R, R, R, 4, 4, 4, 4, 4, 4, 4, 4, 4, END}, 1, false},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct judged rounds[ROUNDS_MAX];
        struct response got;
        response_judge(rounds, rounds_of(rows[i].scores, rounds), &got);
        if (fabs(got.portion_frac - rows[i].frac) > 1e-12 || got.close != rows[i].close)
            fail_msg("%s: portion %.4f, %s", rows[i].why, got.portion_frac,
                     got.close ? "look closely" : "no close look");
    }
}

/* Any history: the portion stays in its bounds, and one more round changes it by one step at most. */
static void a_portion_stays_in_bounds_and_moves_one_step_at_a_time(void **state)
{
    (void)state;
    uint32_t seed = 1;
    for (int run = 0; run < 2000; run++) {
        struct judged rounds[40];
        struct response before, after;
        response_judge(rounds, 0, &before);
        for (size_t n = 0; n < 40; n++) {
            seed = seed * 1664525u + 1013904223u;
            int score = (int)(seed >> 16) % 6 - 1;
            rounds[n] = (struct judged){.day = (int)n, .score = score < 0 ? 0 : score, .refused = score < 0};
            response_judge(rounds, n + 1, &after);
            assert_true(after.portion_frac >= 0.5 && after.portion_frac <= 1);
            assert_true(after.portion_frac >= before.portion_frac * 0.75 - 1e-12);
            assert_true(after.portion_frac <= before.portion_frac / 0.75 + 1e-12);
            if (n == 0)
                assert_true(after.portion_frac == 1); /* never on one */
            before = after;
        }
    }
}

static void the_note_says_why_to_look(void **state)
{
    (void)state;
    static const struct {
        int scores[ROUNDS_MAX];
        const char *note;
    } rows[] = {
        {{4, END}, ""},
        {{4, R, END}, "refused last time"},
        {{R, 4, END}, ""},
        {{R, R, R, G, END}, "refused 2 of its last 3 rounds"},
        {{R, R, R, G, G, G, G, G, END}, ""},
        {{1, 1, 1, G, G, END}, ""},
        {{R, 2, R, END}, "refused 2 of its last 3 rounds"},
        {{1, 1, 1, END}, "took little in its last 3 rounds (mean 1.0 of 4)"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct judged rounds[ROUNDS_MAX];
        struct response got;
        struct arena a = {0};
        const char *note;
        struct err e;
        response_judge(rounds, rounds_of(rows[i].scores, rounds), &got);
        assert_true(response_note(&got, &a, &note, &e));
        assert_string_equal(note, rows[i].note);
        arena_free(&a);
    }
}

SUITE(response)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(portions_follow_the_rule),
        cmocka_unit_test(a_portion_stays_in_bounds_and_moves_one_step_at_a_time),
        cmocka_unit_test(the_note_says_why_to_look),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
