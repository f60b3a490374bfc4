/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every promise of a recipe, on random rounds. */
#include "neap/stock.h"
#include "tests.h"

#include "recipe_random.h"

/* Properties that hold in every round, whatever is drawn. What is checked is worked out here again from the amounts. */

enum { ROUNDS = TRIALS(300), ROUNDS_LOOSENED = TRIALS(120), ROUND_SYSTEMS = 4 };

static const double dust = 1e-9;

struct round_case {
    struct random_recipe in;
    struct recipe out;
    long seed;
};

static void case_plan(struct round_case *c, long seed, size_t most_systems)
{
    struct err e = {0};
    c->seed = seed;
    random_round_draw(&c->in, (uint64_t)seed, most_systems);
    if (!recipe_plan(&c->in.problem, &c->out, &e))
        fail_msg("round %ld: %s", seed, e.text);
}

#define HOLDS(c, condition)                                                                                            \
    do {                                                                                                               \
        if (!(condition))                                                                                              \
            fail_msg("round %ld: %s", (c)->seed, #condition);                                                          \
    } while (0)

/* Rounds of which a plan was refused once: rounding had led the solver to say that a stage has no best solution. */
static const long finds[] = {2337, 7400};

/* All rounds are planned once; the tests only look at them. The last ones are the finds. */
static int plan_rounds(void **state)
{
    const size_t n = ROUNDS - COUNT_OF(finds);
    struct round_case *cases = calloc(ROUNDS, sizeof *cases);
    if (!cases)
        return 1;
    for (size_t i = 0; i < ROUNDS; i++)
        case_plan(&cases[i], i < n ? (long)i : finds[i - n], ROUND_SYSTEMS);
    *state = cases;
    return 0;
}

static int free_rounds(void **state)
{
    struct round_case *cases = *state;
    for (size_t i = 0; i < ROUNDS; i++)
        recipe_free(&cases[i].out);
    free(cases);
    return 0;
}

static void each_round(void **state, void (*check)(const struct round_case *))
{
    const struct round_case *cases = *state;
    for (size_t i = 0; i < ROUNDS; i++)
        check(&cases[i]);
}

static bool pot_feeds(const struct recipe_pot *pot, size_t system)
{
    for (size_t i = 0; i < pot->n_systems; i++)
        if (pot->systems[i] == system)
            return true;
    return false;
}

static double pot_due_ml(const struct round_case *c, const struct recipe_pot *pot, size_t tank)
{
    const struct recipe_tank *t = &c->in.tanks[tank];
    if (!pot_feeds(pot, t->system))
        return 0;
    return pot->late ? t->late_slurry_ml : t->slurry_ml;
}

/* ---- hard limits ------------------------------------------------------------------------------------------------ */

static double water_load(const struct round_case *c, size_t system, bool exact)
{
    const struct recipe *r = &c->out;
    double load = c->in.systems[system].load_frac, volume_100l = c->in.systems[system].volume_l / 100;
    for (size_t t = 0; t < c->in.problem.n_tanks; t++)
        for (size_t i = 0; c->in.tanks[t].system == system && i < r->n_pots; i++)
            for (size_t k = 0; k < r->pots[i].n_amounts; k++) {
                const struct recipe_amount *a = &r->pots[i].amounts[k];
                double counts = r->pots[i].late ? c->in.tanks[t].late_counted_frac : c->in.tanks[t].counted_frac;
                double units = (exact ? a->exact : a->amount) * pot_due_ml(c, &r->pots[i], t) / r->pots[i].slurry_ml;
                load += units * counts / (c->in.foods[a->food].ceiling_per_100l * volume_100l);
            }
    for (size_t i = 0; i < r->n_broadcasts; i++)
        if (c->in.tanks[r->broadcasts[i].tank].system == system)
            load += (exact ? r->broadcasts[i].exact : r->broadcasts[i].amount) /
                    (c->in.foods[r->broadcasts[i].food].ceiling_per_100l * volume_100l);
    return load;
}

static void check_ceilings(const struct round_case *c)
{
    for (size_t s = 0; s < c->in.problem.n_systems; s++) {
        double most = fmax(1, c->in.systems[s].load_frac);
        HOLDS(c, water_load(c, s, true) <= most + dust);
        HOLDS(c, water_load(c, s, false) <= most + dust);
        HOLDS(c, fabs(water_load(c, s, false) - c->out.load_frac[s]) <= dust);
    }
}

static void measured_amounts_never_pass_a_ceiling(void **state)
{
    each_round(state, check_ceilings);
}

static void check_stock(const struct round_case *c)
{
    double exact[RANDOM_FOODS] = {0}, taken[RANDOM_FOODS] = {0};
    bool grown = false; /* the exact answer is for the volume made: what is measured of it must suffice */
    for (size_t i = 0; i < c->out.n_pots; i++)
        grown = grown || c->out.pots[i].slurry_ml > c->out.pots[i].least_ml;
    for (size_t i = 0; i < c->out.n_pots; i++)
        for (size_t k = 0; k < c->out.pots[i].n_amounts; k++) {
            const struct recipe_amount *a = &c->out.pots[i].amounts[k];
            exact[a->food] += a->exact;
            taken[a->food] += a->premix != RECIPE_NONE ? 0 : a->amount;
        }
    for (size_t i = 0; i < c->out.n_premixes; i++)
        taken[c->out.premixes[i].food] += c->out.premixes[i].weigh;
    for (size_t i = 0; i < c->out.n_broadcasts; i++) {
        exact[c->out.broadcasts[i].food] += c->out.broadcasts[i].exact;
        taken[c->out.broadcasts[i].food] += c->out.broadcasts[i].amount;
    }
    for (size_t f = 0; f < RANDOM_FOODS; f++) {
        HOLDS(c, exact[f] <= c->in.foods[f].stock + dust * 500 || grown);
        HOLDS(c, taken[f] <= c->in.foods[f].stock + dust * 500);
    }
}

static void measured_amounts_never_pass_the_stock(void **state)
{
    each_round(state, check_stock);
}

static void check_mouths(const struct round_case *c)
{
    for (size_t i = 0; i < c->out.n_pots; i++)
        for (size_t k = 0; k < c->out.pots[i].n_amounts; k++) {
            const struct recipe_pot *pot = &c->out.pots[i];
            const struct recipe_food *f = &c->in.foods[pot->amounts[k].food];
            HOLDS(c, f->late == pot->late);
            for (size_t s = 0; s < pot->n_systems; s++) {
                HOLDS(c, c->in.may_eat[pot->systems[s] * RANDOM_FOODS + pot->amounts[k].food]);
                HOLDS(c, !(f->strips && c->in.systems[pot->systems[s]].po4_starved));
            }
        }
    for (size_t i = 0; i < c->out.n_broadcasts; i++) {
        const struct recipe_tank *t = &c->in.tanks[c->out.broadcasts[i].tank];
        HOLDS(c, t->broadcast_frac > 0);
        HOLDS(c, !(c->in.foods[c->out.broadcasts[i].food].strips && c->in.systems[t->system].po4_starved));
    }
}

static void no_food_goes_where_it_may_not(void **state)
{
    each_round(state, check_mouths);
}

/* ---- the pots --------------------------------------------------------------------------------------------------- */

static double pot_strength(const struct round_case *c, const struct recipe_pot *pot, bool exact)
{
    double units = 0;
    for (size_t k = 0; k < pot->n_amounts; k++)
        units += (exact ? pot->amounts[k].exact : pot->amounts[k].amount) *
                 (pot->by_liquids ? 1 : c->in.foods[pot->amounts[k].food].solids_g_per_unit);
    return pot->house_units > 0 ? units / pot->house_units : 0;
}

static void check_strength(const struct round_case *c)
{
    for (size_t i = 0; i < c->out.n_pots; i++) {
        const struct recipe_pot *pot = &c->out.pots[i];
        double exact = pot_strength(c, pot, true), full = INFINITY, lean = 0;
        for (size_t k = 0; k < pot->n_systems; k++) {
            const struct recipe_system *s = &c->in.systems[pot->systems[k]];
            full = fmin(full, s->full_frac);
            lean = fmax(lean, s->po4_starved ? fmin(fmax(1, s->lean_frac), s->full_frac) : s->lean_frac);
        }
        HOLDS(c, exact <= full + dust * 10);
        HOLDS(c, pot_strength(c, pot, false) <= full + dust * 10);
        HOLDS(c, fabs(pot_strength(c, pot, false) - pot->strength_frac) <= dust);
        HOLDS(c, pot->below_lean == (exact < lean * (1 - 1e-7) || pot->strength_frac < 0.95 * lean - 1e-9));
        HOLDS(c, pot->by_liquids || pot->house_units == 0 ||
                     fabs(pot->house_units - c->in.problem.house_g_per_100ml * pot->slurry_ml / 100) <= dust);
    }
}

static void strength_stays_within_lean_and_full(void **state)
{
    each_round(state, check_strength);
}

/* What the scale shows, not what the programme found: no share beyond its limit unless it is said. */
static void check_measured_shares(const struct round_case *c)
{
    for (size_t i = 0; i < c->out.n_pots; i++) {
        const struct recipe_pot *pot = &c->out.pots[i];
        double solids_g = 0;
        bool passed = false;
        for (size_t k = 0; k < pot->n_amounts; k++)
            solids_g += pot->amounts[k].amount * c->in.foods[pot->amounts[k].food].solids_g_per_unit;
        for (size_t k = 0; k < pot->n_amounts; k++) {
            const struct recipe_food *f = &c->in.foods[pot->amounts[k].food];
            double g = pot->amounts[k].amount * f->solids_g_per_unit;
            passed = passed || (!f->liquid && (g > f->share_max_frac * solids_g + 1e-6 * solids_g ||
                                               g < f->share_min_frac * solids_g - 1e-6 * solids_g));
        }
        HOLDS(c, !passed || pot->shares_passed);
    }
}

static void measured_shares_stay_within_their_limits_or_it_is_said(void **state)
{
    each_round(state, check_measured_shares);
}

static void check_shares(const struct round_case *c)
{
    for (size_t i = 0; i < c->out.n_pots; i++) {
        const struct recipe_pot *pot = &c->out.pots[i];
        double solids_g = 0;
        bool passed = false;
        for (size_t k = 0; k < pot->n_amounts; k++)
            solids_g += pot->amounts[k].exact * c->in.foods[pot->amounts[k].food].solids_g_per_unit;
        for (size_t k = 0; k < pot->n_amounts; k++) {
            const struct recipe_food *f = &c->in.foods[pot->amounts[k].food];
            double share = pot->amounts[k].exact * f->solids_g_per_unit / solids_g;
            if (f->liquid)
                HOLDS(c, pot->amounts[k].exact * 100 / pot->slurry_ml <= f->max_ml_per_100ml + dust * 100);
            else if (share > f->share_max_frac + 1e-6 || share < f->share_min_frac - 1e-6)
                passed = true;
        }
        double house_g = 0;
        for (size_t k = 0; k < pot->n_amounts; k++)
            house_g += pot->amounts[k].house * c->in.foods[pot->amounts[k].food].solids_g_per_unit;
        HOLDS(c, house_g <= solids_g + 1e-6); /* less where a food of the house blend was left out */
        HOLDS(c, !passed || pot->shares_passed);
    }
}

static void shares_stay_within_their_limits_or_it_is_said(void **state)
{
    each_round(state, check_shares);
}

static void check_slurry(const struct round_case *c)
{
    const struct recipe_problem *p = &c->in.problem;
    for (size_t t = 0; t < p->n_tanks; t++) {
        size_t pots[2] = {0, 0};
        for (size_t i = 0; i < c->out.n_pots; i++)
            pots[c->out.pots[i].late] += pot_due_ml(c, &c->out.pots[i], t) > 0;
        HOLDS(c, pots[0] == (p->tanks[t].slurry_ml > 0));
        HOLDS(c, pots[1] == (p->tanks[t].late_slurry_ml > 0));
    }
    for (size_t i = 0; i < c->out.n_pots; i++) {
        const struct recipe_pot *pot = &c->out.pots[i];
        double fed_ml = 0, held_ml = pot->water_ml;
        for (size_t t = 0; t < p->n_tanks; t++)
            fed_ml += pot_due_ml(c, pot, t);
        for (size_t k = 0; k < pot->n_amounts; k++) {
            const struct recipe_amount *a = &pot->amounts[k];
            held_ml += a->premix != RECIPE_NONE ? a->take_ml : p->foods[a->food].liquid ? a->amount : 0;
        }
        HOLDS(c, fabs(fed_ml - pot->fed_ml) <= dust);
        HOLDS(c, fabs(held_ml - pot->slurry_ml) <= dust * 1000);
        double little_ml = fed_ml + p->jug.dead_ml / 5; /* what fits into ten graduations is mixed in a small jug */
        bool small = little_ml <= 10 * p->jug.step_ml;
        double least_ml = small ? little_ml : fed_ml + p->jug.dead_ml, step_ml = p->jug.step_ml / (small ? 5 : 1);
        HOLDS(c, pot->slurry_ml >= least_ml - 1e-6);
        HOLDS(c, pot->slurry_ml >= pot->least_ml && pot->least_ml < least_ml + step_ml);
        HOLDS(c, pot->n_systems == 1 || !p->systems[pot->systems[0]].own_pot);
    }
}

static void the_slurry_adds_up(void **state)
{
    each_round(state, check_slurry);
}

/* ---- measuring -------------------------------------------------------------------------------------------------- */

static bool is_multiple(double value, double step)
{
    return fabs(value / step - round(value / step)) <= 1e-6;
}

static void check_measured(const struct round_case *c)
{
    for (size_t i = 0; i < c->out.n_pots; i++)
        for (size_t k = 0; k < c->out.pots[i].n_amounts; k++) {
            const struct recipe_amount *a = &c->out.pots[i].amounts[k];
            double step = c->in.foods[a->food].step;
            HOLDS(c, fabs(a->amount - a->exact) < 2 * step * (1 + 1e-6) || a->amount > 0.94 * a->exact);
            if (a->premix != RECIPE_NONE) {
                const struct recipe_premix *m = &c->out.premixes[a->premix];
                HOLDS(c, m->food == a->food && c->in.foods[a->food].premixes);
                HOLDS(c, is_multiple(m->weigh, step) && m->weigh >= 10 * step * (1 - 1e-6));
                HOLDS(c, is_multiple(a->take_ml, c->in.problem.syringe_step_ml));
                HOLDS(c, fabs(m->weigh * a->take_ml / m->make_up_ml - a->amount) <= dust);
            } else {
                HOLDS(c, is_multiple(a->amount, step));
            }
        }
    for (size_t i = 0; i < c->out.n_broadcasts; i++) {
        const struct recipe_broadcast *b = &c->out.broadcasts[i];
        HOLDS(c, b->amount <= b->exact + 1e-6 && b->exact <= b->house_ml + dust * 100);
        HOLDS(c, is_multiple(b->amount, c->in.foods[b->food].step));
    }
}

static void every_amount_can_be_measured(void **state)
{
    each_round(state, check_measured);
}

static void the_same_problem_has_the_same_answer_to_the_last_bit(void **state)
{
    (void)state;
    static struct round_case a, b;
    for (long seed = 0; seed < TRIALS(40); seed++) {
        case_plan(&a, seed, ROUND_SYSTEMS);
        case_plan(&b, seed, ROUND_SYSTEMS);
        assert_int_equal(a.out.n_pots, b.out.n_pots);
        for (size_t i = 0; i < a.out.n_pots; i++)
            for (size_t k = 0; k < a.out.pots[i].n_amounts; k++) {
                const struct recipe_amount *x = &a.out.pots[i].amounts[k], *y = &b.out.pots[i].amounts[k];
                assert_int_equal(x->food, y->food);
                assert_memory_equal(&x->exact, &y->exact, sizeof x->exact);
                assert_memory_equal(&x->amount, &y->amount, sizeof x->amount);
            }
        recipe_free(&a.out);
        recipe_free(&b.out);
    }
}

/* ---- prices ----------------------------------------------------------------------------------------------------- */

/*
 * A price is a promise: a limit loosened a little gains no more than its price (a stage's value is convex in the
 * limits), as long as the earlier stages keep their values; and where the price does not jump, no less.
 */
static void a_loosened_limit_gains_at_most_its_price(void **state)
{
    struct round_case *cases = *state;
    size_t n_checked = 0, n_exact = 0;
    for (size_t n = 0; n < ROUNDS_LOOSENED; n++)
        for (size_t i = 0; i < cases[n].out.n_limits; i++) {
            const struct recipe *r = &cases[n].out;
            const struct recipe_limit *limit = &r->limits[i];
            struct recipe after;
            struct err e = {0};
            double by = 1e-4 * fmax(1, fabs(limit->limit));
            if (recipe_loosen(&cases[n].in.problem, r, limit, by, &after, &e)) {
                double gain = r->stage_value[limit->stage] - after.stage_value[limit->stage];
                bool same_before = true;
                for (size_t s = 0; s < (size_t)limit->stage; s++)
                    same_before &= fabs(r->stage_value[s] - after.stage_value[s]) <= 1e-9 * fmax(1, r->stage_value[s]);
                HOLDS(&cases[n], !same_before || gain <= limit->price * by * (1 + 1e-6) + 1e-8);
                n_checked += same_before;
                n_exact += same_before && fabs(gain - limit->price * by) <= limit->price * by * 1e-4 + 1e-8;
            } else {
                HOLDS(&cases[n], e.code == ERR_MISUSE);
                HOLDS(&cases[n],
                      (limit->kind >= RECIPE_WATER && limit->kind <= RECIPE_SHARE_MAX) || limit->kind >= RECIPE_POORER);
            }
            recipe_free(&after);
        }
    assert_true(n_checked > ROUNDS_LOOSENED);
    assert_true(n_exact > n_checked * 9 / 10);
}

static bool same_limit(const struct recipe_limit *a, const struct recipe_limit *b)
{
    return a->kind == b->kind && a->pot == b->pot && a->tank == b->tank && a->food == b->food &&
           a->system == b->system && a->analyte == b->analyte;
}

static void check_listed(const struct round_case *c)
{
    for (size_t i = 0; i < c->out.n_limits; i++) {
        HOLDS(c, c->out.limits[i].price > 0);
        HOLDS(c, i == 0 || c->out.limits[i - 1].stage <= c->out.limits[i].stage);
        for (size_t k = 0; k < i; k++)
            HOLDS(c, !same_limit(&c->out.limits[i], &c->out.limits[k]));
    }
}

static void a_limit_is_listed_once_with_the_first_stage_it_holds_back(void **state)
{
    each_round(state, check_listed);
}

/* ---- grouping against brute force ------------------------------------------------------------------------------- */

struct brute {
    bool any;
    size_t n_pots;
    double value[RECIPE_STAGES];
    size_t group[RANDOM_SYSTEMS];
};

static bool near_or_less(double a, double b)
{
    return a <= b + 1e-7 * fmax(1, fabs(b));
}

static bool brute_accepts(const struct round_case *c, const struct recipe *own, const struct recipe *r)
{
    double tolerance = c->in.problem.band_tolerance;
    if (!near_or_less(r->stage_value[RECIPE_LEAN], own->stage_value[RECIPE_LEAN]) ||
        !near_or_less(r->stage_value[RECIPE_SHARE], own->stage_value[RECIPE_SHARE]) ||
        !near_or_less(r->stage_value[RECIPE_SWING], own->stage_value[RECIPE_SWING] + tolerance) ||
        !near_or_less(r->stage_value[RECIPE_BAND], own->stage_value[RECIPE_BAND] + tolerance) ||
        !near_or_less(r->stage_value[RECIPE_SHIFT], own->stage_value[RECIPE_SHIFT] + tolerance))
        return false;
    for (size_t i = 0; i < own->n_pots; i++)
        for (size_t k = 0; k < r->n_pots; k++) {
            const struct recipe_pot *alone = &own->pots[i], *shared = &r->pots[k];
            if (alone->late != shared->late || !pot_feeds(shared, alone->systems[0]))
                continue;
            double least = pot_strength(c, alone, true) * (1 - c->in.problem.strength_tolerance_frac);
            if (!near_or_less(least, pot_strength(c, shared, true)))
                return false;
        }
    return true;
}

static bool brute_prefers(const struct recipe *r, const struct brute *best)
{
    for (size_t s = 0; s < RECIPE_UNIQUE; s++)
        if (!near_or_less(best->value[s], r->stage_value[s]) || !near_or_less(r->stage_value[s], best->value[s]))
            return r->stage_value[s] < best->value[s];
    return false;
}

/* Strengths of any two systems in a pot must overlap. */
static bool brute_overlap(const struct round_case *c, const size_t *group)
{
    for (size_t a = 0; a < c->in.problem.n_systems; a++)
        for (size_t b = 0; b < c->in.problem.n_systems; b++) {
            const struct recipe_system *x = &c->in.systems[a], *y = &c->in.systems[b];
            double lean = x->po4_starved ? fmin(fmax(1, x->lean_frac), x->full_frac) : x->lean_frac;
            if (a != b && group[a] == group[b] && group[a] != RECIPE_NONE && lean > y->full_frac)
                return false;
        }
    return true;
}

/* One numbering out of all n^n: is it the canonical one of its grouping, each label at most one above those before? */
static bool brute_canonical(const size_t *label, size_t n)
{
    size_t next = 0;
    for (size_t i = 0; i < n; i++) {
        if (label[i] > next)
            return false;
        if (label[i] == next)
            next++;
    }
    return true;
}

static void brute_try(const struct round_case *c, const struct recipe *own, const size_t *group, struct brute *best)
{
    struct recipe r;
    struct err e = {0};
    if (!brute_overlap(c, group))
        return;
    if (recipe_plan_groups(&c->in.problem, group, &r, &e)) { /* refused where a quarantine would share */
        bool fewer = !best->any || r.n_pots < best->n_pots;
        if (brute_accepts(c, own, &r) && (fewer || (r.n_pots == best->n_pots && brute_prefers(&r, best)))) {
            best->any = true;
            best->n_pots = r.n_pots;
            memcpy(best->value, r.stage_value, sizeof best->value);
            memcpy(best->group, r.group, c->in.problem.n_systems * sizeof *best->group);
        }
    }
    recipe_free(&r);
}

static void brute_search(const struct round_case *c, struct brute *best)
{
    size_t due[RANDOM_SYSTEMS], label[RANDOM_SYSTEMS] = {0}, group[RANDOM_SYSTEMS], n = 0;
    struct recipe own;
    struct err e = {0};
    for (size_t s = 0; s < c->in.problem.n_systems; s++) {
        group[s] = RECIPE_NONE;
        for (size_t t = 0; t < c->in.problem.n_tanks && group[s] == RECIPE_NONE; t++)
            if (c->in.tanks[t].system == s && c->in.tanks[t].slurry_ml + c->in.tanks[t].late_slurry_ml > 0)
                group[s] = n;
        if (group[s] != RECIPE_NONE)
            due[n++] = s;
    }
    assert_true(recipe_plan_groups(&c->in.problem, group, &own, &e));
    for (size_t digit = 0; n > 0 && digit < n;) {
        if (brute_canonical(label, n)) {
            for (size_t i = 0; i < n; i++)
                group[due[i]] = label[i];
            brute_try(c, &own, group, best);
        }
        for (digit = 0; digit < n && ++label[n - 1 - digit] == n; digit++) /* the next number in base n */
            label[n - 1 - digit] = 0;
    }
    recipe_free(&own);
}

static void the_grouping_is_the_best_of_all_groupings(void **state)
{
    (void)state;
    static const struct {
        size_t most_systems;
        long from, to;
    } rows[] = {{5, 0, TRIALS(36)}, {6, 200, 200 + TRIALS_LEAST(4, 1)}, {7, 300, 300 + TRIALS_LEAST(1, 1)}};
    static struct round_case c;
    size_t n_shared = 0;
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        for (long seed = rows[i].from; seed < rows[i].to; seed++) {
            struct brute best = {0};
            random_round_draw(&c.in, (uint64_t)seed, rows[i].most_systems);
            c.in.problem.max_pots = 0;
            c.seed = seed;
            brute_search(&c, &best);
            struct err e = {0};
            assert_true(recipe_plan(&c.in.problem, &c.out, &e));
            HOLDS(&c, best.any || c.out.n_pots == 0);
            HOLDS(&c, c.out.n_pots == best.n_pots);
            for (size_t s = 0; best.any && s < c.in.problem.n_systems; s++)
                HOLDS(&c, c.out.group[s] == best.group[s]);
            for (size_t k = 0; k < c.out.n_pots; k++)
                n_shared += c.out.pots[k].n_systems > 1;
            recipe_free(&c.out);
        }
    assert_true(n_shared > TRIALS(8));
}

static void a_large_facility_is_grouped_within_the_tolerances(void **state)
{
    (void)state;
    static struct round_case c;
    for (long seed = 0; seed < TRIALS_LEAST(12, 4); seed++) {
        random_round_draw(&c.in, (uint64_t)seed, RANDOM_SYSTEMS);
        if (c.in.problem.n_systems <= RECIPE_EXHAUSTIVE_MAX)
            continue;
        struct err e = {0};
        c.in.problem.max_pots = 0;
        c.seed = seed;
        assert_true(recipe_plan(&c.in.problem, &c.out, &e));
        HOLDS(&c, near_or_less(c.out.stage_value[RECIPE_LEAN], c.out.own_value[RECIPE_LEAN]));
        double most = c.out.own_value[RECIPE_BAND] + c.in.problem.band_tolerance;
        HOLDS(&c, near_or_less(c.out.stage_value[RECIPE_BAND], most));
        HOLDS(&c, !c.out.capped && !c.out.over_cap);
        recipe_free(&c.out);
        c.in.problem.max_pots = 3;
        assert_true(recipe_plan(&c.in.problem, &c.out, &e));
        HOLDS(&c, c.out.n_pots <= 3 || c.out.over_cap);
        recipe_free(&c.out);
    }
}

/* ---- a pot that came out otherwise ------------------------------------------------------------------------------ */

static void check_rescaled(const struct round_case *c)
{
    struct recipe_portion portions[RANDOM_TANKS];
    const struct recipe_problem *p = &c->in.problem;
    double given_ml[RANDOM_TANKS], amounts[RANDOM_FOODS];
    struct random_recipe chance = {.state = (uint64_t)c->seed};
    for (size_t i = 0; i < c->out.n_pots; i++) {
        const struct recipe_pot *pot = &c->out.pots[i];
        double made_ml = pot->slurry_ml * draw_from(&chance, 0.6, 1.4), used_ml = 0;
        for (size_t k = 0; k < pot->n_amounts; k++)
            amounts[k] = pot->amounts[k].amount * draw_from(&chance, 0.7, 1.4);
        for (size_t t = 0; t < p->n_tanks; t++)
            given_ml[t] = draw_chance(&chance, 0.3) ? pot_due_ml(c, pot, t) * 0.5 : 0;
        struct recipe_rescale_request made = {i, made_ml, draw_chance(&chance, 0.5) ? amounts : NULL, given_ml};
        struct err e = {0};
        size_t n = 0;
        HOLDS(c, recipe_rescale(p, &c->out, &made, portions, &n, &e));
        for (size_t k = 0; k < n; k++) {
            const struct recipe_portion *portion = &portions[k];
            double most = fmax(1, p->systems[p->tanks[portion->tank].system].load_frac);
            HOLDS(c, portion->left_ml == 0 || portion->load_frac <= most + dust * 10);
            HOLDS(c, portion->left_ml >= 0 && is_multiple(portion->left_ml, p->syringe_step_ml));
            used_ml += portion->left_ml + given_ml[portion->tank];
        }
        double given_sum = 0;
        for (size_t t = 0; t < p->n_tanks; t++)
            given_sum += given_ml[t];
        HOLDS(c, used_ml <= fmax(made_ml, given_sum) + 1e-6);
    }
}

static void a_rescaled_pot_passes_no_ceiling_and_is_not_used_twice(void **state)
{
    each_round(state, check_rescaled);
}

SUITE(recipe_random)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(measured_amounts_never_pass_a_ceiling),
        cmocka_unit_test(measured_amounts_never_pass_the_stock),
        cmocka_unit_test(no_food_goes_where_it_may_not),
        cmocka_unit_test(strength_stays_within_lean_and_full),
        cmocka_unit_test(shares_stay_within_their_limits_or_it_is_said),
        cmocka_unit_test(measured_shares_stay_within_their_limits_or_it_is_said),
        cmocka_unit_test(the_slurry_adds_up),
        cmocka_unit_test(every_amount_can_be_measured),
        cmocka_unit_test(the_same_problem_has_the_same_answer_to_the_last_bit),
        cmocka_unit_test(a_loosened_limit_gains_at_most_its_price),
        cmocka_unit_test(a_limit_is_listed_once_with_the_first_stage_it_holds_back),
        cmocka_unit_test(the_grouping_is_the_best_of_all_groupings),
        cmocka_unit_test(a_large_facility_is_grouped_within_the_tolerances),
        cmocka_unit_test(a_rescaled_pot_passes_no_ceiling_and_is_not_used_twice),
    };
    return cmocka_run_group_tests(tests, plan_rounds, free_rounds);
}
