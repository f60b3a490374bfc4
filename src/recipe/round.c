#include "recipe/model.h"
#include "recipe/parts.h"

/*
 * From exact amounts to what a scale and a syringe can measure. Everything starts rounded down, which no ceiling and no
 * stock can object to; then single lines are raised by a step where that comes nearer and every hard limit still holds.
 */

enum { STEPS_FOR_PREMIX = 10 }; /* below so many scale steps; common practice, no source */

static const double proof = 1e-9; /* relative dust that a limit may show */

/* ---- what the amounts do ---------------------------------------------------------------------------------------- */

static double counted_part(const struct recipe_problem *p, const struct recipe_pot *pot, size_t system)
{
    double part = 0;
    for (size_t t = 0; t < p->n_tanks; t++)
        if (p->tanks[t].system == system)
            part += model_counted_part(p, pot->systems, pot->n_systems, pot->late, pot->slurry_ml, t);
    return part;
}

double recipe_water_load(const struct recipe_problem *p, const struct recipe *r, size_t system, size_t without_pot)
{
    double load = p->systems[system].load_frac;
    for (size_t i = 0; i < r->n_pots; i++) {
        const struct recipe_pot *pot = &r->pots[i];
        double part = i == without_pot ? 0 : counted_part(p, pot, system);
        for (size_t k = 0; part > 0 && k < pot->n_amounts; k++)
            load += pot->amounts[k].amount * part / model_ceiling(p, system, pot->amounts[k].food);
    }
    for (size_t i = 0; i < r->n_broadcasts; i++)
        if (p->tanks[r->broadcasts[i].tank].system == system)
            load += r->broadcasts[i].amount / model_ceiling(p, system, r->broadcasts[i].food);
    return load;
}

/* Units taken out of stock: for a premixed line what goes into the premix. */
static double stock_taken(const struct recipe *r, size_t food)
{
    double units = 0;
    for (size_t i = 0; i < r->n_pots; i++)
        for (size_t k = 0; k < r->pots[i].n_amounts; k++) {
            const struct recipe_amount *a = &r->pots[i].amounts[k];
            if (a->food == food)
                units += a->premix.make_up_ml > 0 ? a->premix.weigh : a->amount;
        }
    for (size_t i = 0; i < r->n_broadcasts; i++)
        if (r->broadcasts[i].food == food)
            units += r->broadcasts[i].amount;
    return units;
}

static double pot_strength(const struct recipe_problem *p, const struct recipe_pot *pot)
{
    double units = 0;
    for (size_t k = 0; k < pot->n_amounts; k++)
        units += pot->amounts[k].amount * (pot->by_liquids ? 1 : p->foods[pot->amounts[k].food].solids_g_per_unit);
    return pot->house_units > 0 ? units / pot->house_units : 0;
}

static double pot_water(const struct recipe_problem *p, const struct recipe_pot *pot)
{
    double water_ml = pot->slurry_ml;
    for (size_t k = 0; k < pot->n_amounts; k++) {
        const struct recipe_amount *a = &pot->amounts[k];
        if (a->premix.make_up_ml > 0)
            water_ml -= a->premix.take_ml;
        else if (p->foods[a->food].liquid)
            water_ml -= a->amount;
    }
    return water_ml;
}

static bool within(double value, double limit)
{
    return value <= limit + proof * fmax(1, fabs(limit));
}

/* Every hard limit that a line of this pot can touch. */
static bool pot_proved(const struct recipe_problem *p, const struct recipe *r, const struct recipe_pot *pot)
{
    if (!within(pot_strength(p, pot), pot->full_frac) || pot_water(p, pot) < -proof * pot->slurry_ml)
        return false;
    for (size_t k = 0; k < pot->n_amounts; k++) {
        const struct recipe_amount *a = &pot->amounts[k];
        const struct recipe_food *f = &p->foods[a->food];
        if (!within(stock_taken(r, a->food), f->stock))
            return false;
        if (f->liquid && !within(a->amount, f->max_ml_per_100ml * pot->slurry_ml / 100))
            return false;
    }
    for (size_t k = 0; k < pot->n_systems; k++) {
        size_t s = pot->systems[k];
        if (!within(recipe_water_load(p, r, s, RECIPE_NONE), fmax(1, p->systems[s].load_frac)))
            return false;
    }
    return true;
}

/* ---- measuring -------------------------------------------------------------------------------------------------- */

static void round_down_all(const struct recipe_problem *p, struct recipe *r)
{
    for (size_t i = 0; i < r->n_pots; i++)
        for (size_t k = 0; k < r->pots[i].n_amounts; k++) {
            struct recipe_amount *a = &r->pots[i].amounts[k];
            a->amount = round_down_to(a->exact, p->foods[a->food].step);
        }
    for (size_t i = 0; i < r->n_broadcasts; i++) {
        struct recipe_broadcast *b = &r->broadcasts[i];
        b->amount = round_down_to(b->exact, p->foods[b->food].step);
    }
}

/* Weigh ten steps, make up, take the part that holds the line. Kept where stock and water allow and it comes nearer. */
static void propose_premix(const struct recipe_problem *p, struct recipe *r, struct recipe_pot *pot,
                           struct recipe_amount *a)
{
    double step = p->foods[a->food].step;
    struct recipe_amount plain = *a;
    if (p->premix_ml <= 0 || a->exact >= STEPS_FOR_PREMIX * step * (1 - proof))
        return;
    a->premix.weigh = round_near_to(STEPS_FOR_PREMIX * step, step);
    a->premix.make_up_ml = p->premix_ml;
    a->premix.take_ml = round_down_to(a->exact / a->premix.weigh * p->premix_ml, p->syringe_step_ml);
    a->amount = a->premix.weigh * a->premix.take_ml / a->premix.make_up_ml;
    if (a->amount <= plain.amount || !pot_proved(p, r, pot))
        *a = plain;
}

static double solids_missing(const struct recipe_problem *p, const struct recipe_pot *pot)
{
    double g = 0;
    for (size_t k = 0; k < pot->n_amounts; k++)
        g += (pot->amounts[k].exact - pot->amounts[k].amount) * p->foods[pot->amounts[k].food].solids_g_per_unit;
    return g;
}

/* The line with the largest part of a step rounded away that has not been looked at; RECIPE_NONE: all have. */
static size_t next_to_raise(const struct recipe_problem *p, const struct recipe_pot *pot, const bool *seen)
{
    size_t next = RECIPE_NONE;
    double most = 0;
    for (size_t k = 0; k < pot->n_amounts; k++) {
        const struct recipe_amount *a = &pot->amounts[k];
        double part = (a->exact - a->amount) / p->foods[a->food].step;
        if (!seen[k] && a->premix.make_up_ml <= 0 && part > most + proof) {
            most = part;
            next = k;
        }
    }
    return next;
}

/* Raises lines by a step, largest remainder first: solids while the pot's dry mass comes nearer, liquids one by one. */
static void raise_lines(const struct recipe_problem *p, struct recipe *r, struct recipe_pot *pot, bool *seen)
{
    for (size_t k; (k = next_to_raise(p, pot, seen)) != RECIPE_NONE;) {
        struct recipe_amount *a = &pot->amounts[k];
        const struct recipe_food *f = &p->foods[a->food];
        double was = a->amount, missing = f->liquid ? a->exact - was : solids_missing(p, pot);
        double step = f->liquid ? f->step : f->step * f->solids_g_per_unit;
        seen[k] = true;
        if (missing < step / 2 * (1 - proof))
            continue;
        a->amount = round_near_to(was + f->step, f->step);
        if (!pot_proved(p, r, pot))
            a->amount = was;
    }
}

static bool measure_pot(const struct recipe_problem *p, struct recipe *r, struct recipe_pot *pot)
{
    bool *seen = arena_alloc(&r->arena, pot->n_amounts, sizeof *seen);
    if (!seen)
        return false;
    for (size_t k = 0; k < pot->n_amounts; k++)
        propose_premix(p, r, pot, &pot->amounts[k]);
    raise_lines(p, r, pot, seen);
    pot->strength_frac = pot_strength(p, pot);
    pot->water_ml = fmax(0, pot_water(p, pot));
    return true;
}

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

bool recipe_round(const struct recipe_problem *p, struct recipe *r, struct err *e)
{
    round_down_all(p, r);
    for (size_t i = 0; i < r->n_pots; i++)
        if (!measure_pot(p, r, &r->pots[i]))
            return err_memory(e);
    for (size_t i = 0; i < r->n_pots; i++)
        put_in_mixing_order(p, &r->pots[i]);
    for (size_t s = 0; s < p->n_systems; s++)
        r->load_frac[s] = recipe_water_load(p, r, s, RECIPE_NONE);
    tell_balance(p, r);
    r->cost_cents = total_cost(p, r);
    return true;
}
