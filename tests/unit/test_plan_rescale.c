/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pot that came out otherwise, and a plan beside the house blend, over random rounds; proved from the rows alone. */
#include "neap/figures.h"
#include "neap/plan.h"
#include "neap/rescale.h"
#include "neap/week.h"

#include "facility_random.h"
#include "numbers.h"

enum { ROUNDS = TRIALS(80) };

static struct random_facility r;

static double hundreds_of(size_t system)
{
    return r.f.systems[system].volume_l / 100;
}

/*
 * Of a tank's lines from a pot, the mL that leave it for the tank, and those of them that count towards the ceilings.
 */
static double slurry_of(const struct round *round, size_t tank, const char *pot, double *counted_ml)
{
    const struct settings *s = &r.f.settings;
    double ml = 0;
    *counted_ml = 0;
    for (size_t i = 0; i < round->n_lines; i++) {
        const struct line *l = &round->lines[i];
        if (l->tank != tank || l->action != ACTION_TARGET || strcmp(l->pot, pot) != 0)
            continue;
        ml += l->amount;
        *counted_ml += l->amount * (s->loss_frac + (r.kinds[r.colonies[l->colony].kind].feeding == FEEDING_CLOUD
                                                        ? s->ceiling_cloud_frac
                                                        : s->ceiling_target_frac));
    }
    if (ml > 0) { /* by a small syringe, five times as fine in all, what fits into ten graduations */
        bool small = ml * (1 + s->loss_frac) + s->syringe_dead_ml / 5 <= 10 * s->syringe_step_ml;
        double step_ml = s->syringe_step_ml / (small ? 5 : 1), dead_ml = s->syringe_dead_ml / (small ? 5 : 1);
        ml = ceil((ml * (1 + s->loss_frac) + dead_ml) / step_ml - 1e-9) * step_ml;
    }
    *counted_ml = fmin(*counted_ml, ml);
    return ml;
}

/* What counted_ml of a pot of which made_ml were mixed take of a water's ceilings. */
static double pot_load(const struct round *round, const char *pot, double counted_ml, double made_ml, size_t system)
{
    double load = 0;
    for (size_t k = 0; k < round->n_pot_foods; k++)
        if (strcmp(round->pot_foods[k].pot, pot) == 0)
            load += round->pot_foods[k].amount_units * counted_ml / made_ml /
                    (r.foods[round->pot_foods[k].food].ceiling_units_per_100l * hundreds_of(system));
    return load;
}

static double load_without(const struct round *round, size_t system, const char *pot)
{
    double load = 0, counted_ml;
    for (size_t i = 0; i < round->n_lines; i++)
        if (r.tanks[round->lines[i].tank].system == system && round->lines[i].food != REF_NONE)
            load +=
                round->lines[i].amount / (r.foods[round->lines[i].food].ceiling_units_per_100l * hundreds_of(system));
    for (size_t p = 0; p < round->n_pots; p++)
        for (size_t t = 0; strcmp(round->pots[p].pot, pot) != 0 && t < r.f.n_tanks; t++)
            if (r.tanks[t].system == system && slurry_of(round, t, round->pots[p].pot, &counted_ml) > 0)
                load += pot_load(round, round->pots[p].pot, counted_ml, round->pots[p].made_ml, system);
    return load;
}

static void check_rescaled(const struct round *round, const struct rescaled *m)
{
    double left_ml = 0, given_ml = 0, counted_ml, loads[RANDOM_SYSTEMS];
    for (size_t s = 0; s < r.f.n_systems; s++)
        loads[s] = load_without(round, s, m->pot->pot);
    for (size_t i = 0; i < m->n_tanks; i++) {
        size_t t = m->tanks[i].tank, s = r.tanks[t].system;
        double ml = slurry_of(round, t, m->pot->pot, &counted_ml);
        loads[s] += pot_load(round, m->pot->pot, m->tanks[i].left_ml * counted_ml / ml, m->made_ml, s);
        left_ml += m->tanks[i].left_ml;
        given_ml += m->tanks[i].given_ml;
    }
    for (size_t i = 0; i < m->n_tanks; i++)
        assert_number(m->tanks[i].load_frac, loads[r.tanks[m->tanks[i].tank].system], 1e-6);
    for (size_t s = 0; s < r.f.n_systems; s++)
        assert_true(loads[s] <= 1 + 1e-6);
    assert_true(left_ml + given_ml <= m->made_ml + 1e-6);
    for (size_t i = 0; i < m->n_lines; i++)
        assert_true(m->lines[i].left_ml <= m->lines[i].planned_ml * m->made_ml / m->pot->made_ml + 1e-9);
}

static void a_pot_of_another_volume_passes_no_ceiling(void **unused)
{
    (void)unused;
    size_t n = 0;
    for (uint64_t seed = 1; seed <= ROUNDS; seed++) {
        const struct plan_request request = {.day = RANDOM_DAY, .start_min = -1, .effort = 0.005};
        struct round round;
        struct err e;
        facility_random(&r, seed);
        assert_true(plan_round(&r.f, &request, &round, &e));
        for (size_t p = 0; p < round.n_pots; p++)
            for (double factor = 0.5; factor < 2.1; factor += 0.5) {
                const struct rescale_request made = {.pot = round.pots[p].pot,
                                                     .made_ml = round.pots[p].made_ml * factor};
                struct rescaled m;
                assert_true(plan_rescale(&r.f, &round, &made, &m, &e));
                check_rescaled(&round, &m);
                n += m.n_lines;
                rescaled_free(&m);
            }
        round_free(&round);
    }
    assert_true(n > ROUNDS * 5);
}

/*
 * The last line given, and one logged as not given: the one has left the pot, the other has not; neither comes again.
 */
static void what_was_logged_is_not_given_again(void **unused)
{
    (void)unused;
    const struct plan_request request = {.day = RANDOM_DAY, .start_min = -1, .effort = 0.005};
    struct round round;
    struct rescaled before, after;
    struct err e;
    long lines[2];
    size_t n = 0;
    facility_random(&r, 8);
    assert_true(plan_round(&r.f, &request, &round, &e));
    assert_true(round.n_pots > 0);
    struct rescale_request made = {.pot = round.pots[0].pot, .made_ml = round.pots[0].made_ml};
    for (size_t i = 0; i < round.n_lines && n < 2; i++)
        if (round.lines[i].action == ACTION_TARGET && strcmp(round.lines[i].pot, made.pot) == 0)
            lines[n++] = round.lines[i].number;
    assert_int_equal(n, 2);
    assert_true(plan_rescale(&r.f, &round, &made, &before, &e));
    struct given givens[] = {{.round = 0, .line = lines[0], .outcome = OUTCOME_GIVEN, .amount = NAN},
                             {.round = 0, .line = lines[1], .outcome = OUTCOME_NOT_GIVEN, .amount = NAN}};
    const struct round_log log = {.givens = givens, .n_givens = 2};
    made.log = &log;
    assert_true(plan_rescale(&r.f, &round, &made, &after, &e));
    assert_int_equal(after.n_lines, before.n_lines - 2);
    double given_ml = 0;
    for (size_t i = 0; i < after.n_tanks; i++)
        given_ml += after.tanks[i].given_ml;
    assert_true(given_ml > 0 && given_ml >= round.lines[lines[0] - 1].amount);
    rescaled_free(&before);
    rescaled_free(&after);
    made.made_ml = -1;
    assert_false(plan_rescale(&r.f, &round, &made, &after, &e));
    made.pot = "none";
    assert_false(plan_rescale(&r.f, &round, &made, &after, &e));
    assert_int_equal(e.code, ERR_NOT_FOUND);
    round_free(&round);
}

/* Twice the weight of all in a pot: half the mL for each coral, and the tanks' loads are those of the plan. */
static void what_the_scale_said_rescales_the_pot(void **unused)
{
    (void)unused;
    size_t n = 0;
    for (uint64_t seed = 1; seed <= ROUNDS / 4; seed++) {
        const struct plan_request request = {.day = RANDOM_DAY, .start_min = -1, .effort = 0.005};
        struct weighed weighings[RANDOM_LOTS * 4];
        struct round_log log = {.weighings = weighings};
        struct water_load *planned, *doubled;
        struct arena a = {0};
        struct round round;
        struct err e;
        facility_random(&r, seed);
        assert_true(plan_round(&r.f, &request, &round, &e));
        for (size_t i = 0; i < round.n_pot_foods && log.n_weighings < COUNT_OF(weighings); i++) {
            const struct pot_food *pf = &round.pot_foods[i];
            if (strcmp(pf->pot, round.pots[0].pot) == 0)
                weighings[log.n_weighings++] =
                    (struct weighed){.pot = pf->pot,
                                     .rank = pf->rank,
                                     .amount_units = 2 * (pf->premix_units > 0 ? pf->premix_units : pf->amount_units)};
        }
        assert_true(plan_loads(&r.f, &round, &(struct round_log){0}, &a, &planned, &e));
        assert_true(plan_loads(&r.f, &round, &log, &a, &doubled, &e));
        for (size_t p = 0; p < round.n_pots; p++) {
            const struct rescale_request made = {round.pots[p].pot, round.pots[p].made_ml, &log};
            struct rescaled m;
            assert_true(plan_rescale(&r.f, &round, &made, &m, &e));
            for (size_t i = 0; i < m.n_lines; i++)
                assert_true(m.lines[i].left_ml <= m.lines[i].planned_ml * (p == 0 ? 0.5 : 1) + 1e-9);
            for (size_t i = 0; i < m.n_tanks; i++) {
                assert_true(planned[r.tanks[m.tanks[i].tank].system].all <= 1 + 1e-6);
                assert_true(m.tanks[i].load_frac <= fmax(1, doubled[r.tanks[m.tanks[i].tank].system].all * 1.5) + 1e-6);
                n += p == 0 &&
                     doubled[r.tanks[m.tanks[i].tank].system].all > planned[r.tanks[m.tanks[i].tank].system].all + 1e-9;
            }
            rescaled_free(&m);
        }
        arena_free(&a);
        round_free(&round);
    }
    assert_true(n > ROUNDS / 8);
}

/* One mL of the house blend holds the house's dry food: the solids of all pots together weigh strength x slurry. */
static void the_house_blend_has_the_house_strength(void **unused)
{
    (void)unused;
    for (uint64_t seed = 1; seed <= ROUNDS; seed++) {
        const struct plan_request request = {.day = RANDOM_DAY, .start_min = -1, .effort = 0.005};
        struct plan_comparison c;
        struct round round;
        struct err e;
        double dry_g = 0, made_ml = 0;
        facility_random(&r, seed);
        assert_true(plan_round(&r.f, &request, &round, &e));
        assert_true(plan_compare(&r.f, &request, NULL, &c, &e));
        for (size_t i = 0; i < c.n_foods; i++) {
            const struct food *food = &r.foods[c.foods[i].food];
            if (food->unit == UNIT_G)
                dry_g += c.foods[i].house_units * (food->form == FORM_POWDER ? 1 : food->solids_frac);
        }
        for (size_t p = 0; p < round.n_pots; p++) {
            bool solids = false;
            for (size_t k = 0; k < round.n_pot_foods; k++)
                solids = solids || (strcmp(round.pot_foods[k].pot, round.pots[p].pot) == 0 &&
                                    r.foods[round.pot_foods[k].food].unit == UNIT_G);
            made_ml += solids ? round.pots[p].made_ml : 0;
        }
        double want_g = made_ml * r.f.settings.strength_g_per_100ml / 100;
        assert_true(dry_g >=
                    want_g - 1e-6); /* a pot that holds liquids alone would hold solids, too, by the house blend */
        comparison_free(&c);
        round_free(&round);
    }
}

SUITE(plan_rescale)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_pot_of_another_volume_passes_no_ceiling),
        cmocka_unit_test(what_was_logged_is_not_given_again),
        cmocka_unit_test(what_the_scale_said_rescales_the_pot),
        cmocka_unit_test(the_house_blend_has_the_house_strength),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
