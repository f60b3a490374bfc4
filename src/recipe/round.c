/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From solved amounts to a round: the order of mixing, and what each line gets. */
#include "recipe/model.h"
#include "recipe/parts.h"

/* ---- what follows from the amounts ------------------------------------------------------------------------------ */

static bool mixed_before(const struct recipe_problem *p, const struct recipe_amount *a, const struct recipe_amount *b)
{
    bool liquid_a = p->foods[a->food].liquid, liquid_b = p->foods[b->food].liquid;
    if (liquid_a != liquid_b)
        return liquid_b;
    if (a->amount != b->amount)
        return a->amount < b->amount;
    return a->food < b->food;
}

/* Into water go powders by rising amount, then liquids. */
static void put_in_mixing_order(const struct recipe_problem *p, struct recipe_pot *pot)
{
    for (size_t i = 1; i < pot->n_amounts; i++)
        for (size_t k = i; k > 0 && mixed_before(p, &pot->amounts[k], &pot->amounts[k - 1]); k--) {
            struct recipe_amount swap = pot->amounts[k];
            pot->amounts[k] = pot->amounts[k - 1];
            pot->amounts[k - 1] = swap;
        }
}

static void balance_begin(struct recipe_balance *b, const struct recipe_system *s)
{
    for (int a = 0; a < RECIPE_ANALYTES; a++) {
        b->added_mg[a] = s->beside_mg[a];
        b->added_low_mg[a] = s->beside_low_mg[a];
        b->added_high_mg[a] = s->beside_high_mg[a];
    }
}

static void balance_add(struct recipe_balance *b, const struct recipe_food *f, double units, bool broadcast)
{
    for (int a = 0; a < RECIPE_ANALYTES; a++) {
        double as_fed = units * (broadcast ? 1 + f->broadcast_more[a] : 1);
        b->added_mg[a] += as_fed * f->effect_mg[a];
        b->added_low_mg[a] += as_fed * f->effect_low_mg[a];
        b->added_high_mg[a] += as_fed * f->effect_high_mg[a];
    }
}

/* By how much low … high leaves least … most: > 0 above, < 0 below, the larger of the two; 0: inside. */
static double beyond(double low, double high, double least, double most)
{
    double above = fmax(0, high - most), below = fmax(0, least - low);
    return above >= below ? above : -below;
}

static void balance_judge(struct recipe_balance *b, const struct recipe_system *s)
{
    for (int a = 0; a < RECIPE_ANALYTES; a++) {
        double low = b->added_low_mg[a], high = b->added_high_mg[a];
        b->passed_mg[a] = beyond(low, high, s->low_room_mg[a], s->high_room_mg[a]);
        b->passed_mg_l[a] = b->passed_mg[a] / s->volume_l;
        b->swing_mg[a] = beyond(low, high, -s->max_fall_mg[a], s->max_rise_mg[a]);
    }
}

static void tell_balance(const struct recipe_problem *p, struct recipe *r)
{
    for (size_t s = 0; s < p->n_systems; s++)
        balance_begin(&r->balance[s], &p->systems[s]);
    for (size_t t = 0; t < p->n_tanks; t++) {
        struct recipe_balance *b = &r->balance[p->tanks[t].system];
        for (size_t i = 0; i < r->n_pots; i++) {
            const struct recipe_pot *pot = &r->pots[i];
            double part = model_reach(p, pot->systems, pot->n_systems, pot->late, pot->slurry_ml, t);
            for (size_t k = 0; part > 0 && k < pot->n_amounts; k++)
                balance_add(b, &p->foods[pot->amounts[k].food], pot->amounts[k].amount * part, false);
        }
    }
    for (size_t i = 0; i < r->n_broadcasts; i++) {
        const struct recipe_broadcast *b = &r->broadcasts[i];
        balance_add(&r->balance[p->tanks[b->tank].system], &p->foods[b->food], b->amount, true);
    }
    for (size_t s = 0; s < p->n_systems; s++)
        balance_judge(&r->balance[s], &p->systems[s]);
}

static double total_cost(const struct recipe_problem *p, const struct recipe *r)
{
    double cents = 0;
    for (size_t i = 0; i < r->n_pots; i++)
        for (size_t k = 0; k < r->pots[i].n_amounts; k++)
            cents += r->pots[i].amounts[k].amount * p->foods[r->pots[i].amounts[k].food].price_cents;
    for (size_t i = 0; i < r->n_broadcasts; i++)
        cents += r->broadcasts[i].amount * p->foods[r->broadcasts[i].food].price_cents;
    return cents;
}

/* What the pots are, from their amounts; said where a limit gave way. */
static void tell_pots(const struct recipe_problem *p, struct recipe *r)
{
    for (size_t i = 0; i < r->n_pots; i++) {
        struct recipe_pot *pot = &r->pots[i];
        struct recipe_fit fit = recipe_fit_of(p, pot);
        pot->strength_frac = recipe_strength(p, pot, false);
        pot->water_ml = fmax(0, recipe_water(p, pot));
        pot->shares_passed = pot->shares_passed || fit.shares > 0;
        pot->below_lean = pot->below_lean || fit.lean > 0;
        put_in_mixing_order(p, pot);
    }
}

bool recipe_round(const struct recipe_problem *p, struct recipe *r, struct err *e)
{
    if (!recipe_measure(p, r, e) || !recipe_take_lots(p, r, e))
        return false;
    tell_pots(p, r);
    for (size_t s = 0; s < p->n_systems; s++)
        r->load_frac[s] = recipe_water_load(p, r, s, RECIPE_NONE);
    tell_balance(p, r);
    r->cost_cents = total_cost(p, r);
    return true;
}
