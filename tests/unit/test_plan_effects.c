/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Do the learned effects of foods hold when the water does what the model of section 6 of docs/trend.md may not know?
 */
#include "house_sim.h"

#include "neap/learned.h"
#include "neap/plan.h"
#include "neap/week.h"

enum { HOUSES = TRIALS_LEAST(17, 4) };

static const struct scenario scenarios[] = {
    {.title = "constant uptake"},
    {.title = "uptake of 0.5 to 3 % of the level a day", .uptake_low = 0.005, .uptake_high = 0.03},
    {.title = "uptake of 10 to 25 % of the level a day", .uptake_low = 0.1, .uptake_high = 0.25},
    {.title = "seasonal source", .uptake_low = 0.01, .uptake_high = 0.02, .season_frac = 0.7},
    {.title = "source changed at once", .uptake_low = 0.01, .uptake_high = 0.02, .step_frac = 0.6},
    {.title = "foods together", .uptake_low = 0.005, .uptake_high = 0.03, .together = true},
    {.title = "one food rising", .uptake_low = 0.005, .uptake_high = 0.03, .rising = true},
};

/* ---- what is learned of it --------------------------------------------------------------------------------------- */

struct effects_tally {
    int effects, held, claims, claims_held, wrong_sign, used_to_lower;
};

static void house_count(struct house *h, struct effects_tally *t)
{
    struct arena arena = {0};
    struct learned_effects l;
    struct err e = {0};
    const struct learned_in in = {.system = REF_NONE, .now_min = (LAST_DAY + 1) * MIN_PER_DAY};
    if (!plan_learned(&h->f, &in, &arena, &l, &e))
        fail_msg("%s", e.text);
    for (int a = 0; a < N_NUTRIENTS; a++)
        for (size_t i = 0; i < FOODS; i++) {
            const struct food_belief *b = &l.foods[a][i];
            bool held = b->effect.lo <= h->effect[a][i] && h->effect[a][i] <= b->effect.hi;
            t->effects++;
            t->held += held;
            t->claims += b->effect.claim;
            t->claims_held += b->effect.claim && held;
            t->wrong_sign += b->effect.claim && b->effect.mean < 0;
            t->used_to_lower += b->mean < 0;
        }
    arena_free(&arena);
}

static struct effects_tally scenario_run(const struct scenario *s)
{
    struct effects_tally t = {0};
    for (int i = 0; i < HOUSES; i++) {
        struct house h;
        house_open(&h, (unsigned)i * 1000003u);
        house_live(&h, s);
        house_count(&h, &t);
        facility_free(&h.f);
    }
    print_message(
        "%-42s limits hold %5.1f %% of %d; claims %3d, held %5.1f %%, wrong sign %d, counted as lowering %d\n",
        s->title, 100.0 * t.held / t.effects, t.effects, t.claims, t.claims ? 100.0 * t.claims_held / t.claims : 100,
        t.wrong_sign, t.used_to_lower);
    return t;
}

enum { FEW = 100 }; /* effects of a scenario: as under the sanitizers */

static void the_limits_hold_whatever_the_water_does(void **state)
{
    (void)state;
    struct effects_tally all = {0};
    for (size_t i = 0; i < COUNT_OF(scenarios); i++) {
        struct effects_tally t = scenario_run(&scenarios[i]);
        assert_true(t.held * 100 >= t.effects * (t.effects < FEW ? 70 : 80));
        assert_int_equal(t.wrong_sign, 0);
        assert_int_equal(t.used_to_lower, 0);
        if (!scenarios[i].together)
            assert_true(t.claims * 3 > t.effects); /* cautious is not silent */
        all.effects += t.effects;
        all.held += t.held;
        all.claims += t.claims;
        all.claims_held += t.claims_held;
    }
    /* of a few effects: two standard deviations of nine tenths of 168 are five hundredths */
    const int least = all.effects < 4 * FEW ? 81 : 87, most = all.effects < 4 * FEW ? 99 : 96;
    assert_in_range(all.held * 100 / all.effects, least, most);
    assert_in_range(all.claims_held * 100 / all.claims, least, most);
}

SUITE(plan_effects)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_limits_hold_whatever_the_water_does),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
