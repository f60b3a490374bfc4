/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * From exact amounts to what a scale and a syringe can measure. Everything starts rounded down, which no ceiling and no
 * stock can object to; then lines go up or down by a step as long as the pot comes nearer to what is wanted and every
 * hard limit still holds. A pot that cannot be measured well so takes a part of a premix, or is made larger.
 */
#include "recipe/model.h"
#include "recipe/parts.h"

enum { STEPS_FOR_PREMIX = 10 }; /* a premix is for less than so many scale steps; common practice, no source */

/* Common practice, no source: how near to the exact answer is near enough, and how far a pot may grow for it. */
static const double strength_kept = 0.95;    /* of the exact strength */
static const double row_off_most = 0.25;     /* of a line that matters; of a liquid's house amount, if more */
static const double matters_frac = 0.1;      /* of the dry mass */
static const double premix_used_least = 0.5; /* of what is weighed for it; the rest is thrown away */
static const double premix_fills_most = 0.5; /* of a pot */
static const double enlarge_most = 3,
                    enlarge_for_a_line = 1.5; /* times the volume that is needed; a_line: of a late pot */

static const double proof = 1e-9; /* relative dust that a limit may show */

/* ---- what the amounts do ---------------------------------------------------------------------------------------- */

double recipe_water_load(const struct recipe_problem *p, const struct recipe *r, size_t system, size_t without_pot)
{
    double load = p->systems[system].load_frac;
    for (size_t i = 0; i < r->n_pots; i++) {
        const struct recipe_pot *pot = &r->pots[i];
        double part = i == without_pot
                          ? 0
                          : model_counted_part(p, pot->systems, pot->n_systems, pot->late, pot->slurry_ml, system);
        for (size_t k = 0; part > 0 && k < pot->n_amounts; k++)
            load += pot->amounts[k].amount * part / model_ceiling(p, system, pot->amounts[k].food);
    }
    for (size_t i = 0; i < r->n_broadcasts; i++)
        if (p->tanks[r->broadcasts[i].tank].system == system)
            load += r->broadcasts[i].amount / model_ceiling(p, system, r->broadcasts[i].food);
    return load;
}

/* Units taken out of stock: for a premixed line what goes into the premix. */
double recipe_stock_taken(const struct recipe *r, size_t food)
{
    double units = 0;
    for (size_t i = 0; i < r->n_pots; i++)
        for (size_t k = 0; k < r->pots[i].n_amounts; k++) {
            const struct recipe_amount *a = &r->pots[i].amounts[k];
            if (a->food == food && a->premix == RECIPE_NONE)
                units += a->amount;
        }
    for (size_t i = 0; i < r->n_premixes; i++)
        if (r->premixes[i].food == food)
            units += r->premixes[i].weigh;
    for (size_t i = 0; i < r->n_broadcasts; i++)
        if (r->broadcasts[i].food == food)
            units += r->broadcasts[i].amount;
    return units;
}

double recipe_strength(const struct recipe_problem *p, const struct recipe_pot *pot, bool exact)
{
    double units = 0;
    for (size_t k = 0; k < pot->n_amounts; k++)
        units += (exact ? pot->amounts[k].exact : pot->amounts[k].amount) *
                 (pot->by_liquids ? 1 : p->foods[pot->amounts[k].food].solids_g_per_unit);
    return pot->house_units > 0 ? units / pot->house_units : 0;
}

double recipe_water(const struct recipe_problem *p, const struct recipe_pot *pot)
{
    double water_ml = pot->slurry_ml;
    for (size_t k = 0; k < pot->n_amounts; k++) {
        const struct recipe_amount *a = &pot->amounts[k];
        if (a->premix != RECIPE_NONE)
            water_ml -= a->take_ml;
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
    if (!within(recipe_strength(p, pot, false), pot->full_frac) || recipe_water(p, pot) < -proof * pot->slurry_ml)
        return false;
    for (size_t k = 0; k < pot->n_amounts; k++) {
        const struct recipe_amount *a = &pot->amounts[k];
        const struct recipe_food *f = &p->foods[a->food];
        if (!within(recipe_stock_taken(r, a->food), f->stock))
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

/* ---- how near ---------------------------------------------------------------------------------------------------- */

/* Part of the dry mass by which share limits are passed. */
static double shares_beyond(const struct recipe_problem *p, const struct recipe_pot *pot, bool exact)
{
    double solids_g = 0, beyond_g = 0;
    for (size_t k = 0; k < pot->n_amounts; k++)
        solids_g +=
            (exact ? pot->amounts[k].exact : pot->amounts[k].amount) * p->foods[pot->amounts[k].food].solids_g_per_unit;
    for (size_t k = 0; k < pot->n_amounts; k++) {
        const struct recipe_amount *a = &pot->amounts[k];
        const struct recipe_food *f = &p->foods[a->food];
        double g = (exact ? a->exact : a->amount) * f->solids_g_per_unit;
        if (!f->liquid)
            beyond_g += fmax(0, g - a->share_max_frac * solids_g) + fmax(0, f->share_min_frac * solids_g - g);
    }
    double beyond = solids_g > 0 ? beyond_g / solids_g : 0;
    return beyond > proof ? beyond : 0;
}

/* Strength first, then each line for itself. */
static double off_exact(const struct recipe_problem *p, const struct recipe_pot *pot)
{
    double lines = 0;
    for (size_t k = 0; k < pot->n_amounts; k++) {
        const struct recipe_amount *a = &pot->amounts[k];
        double solids_g = p->foods[a->food].solids_g_per_unit;
        bool counts = solids_g > 0 && !pot->by_liquids && pot->house_units > 0;
        lines += fabs(a->amount - a->exact) * (counts ? solids_g / pot->house_units : 1 / pot->slurry_ml);
    }
    return fabs(recipe_strength(p, pot, false) - recipe_strength(p, pot, true)) + lines / 10;
}

struct recipe_fit recipe_fit_of(const struct recipe_problem *p, const struct recipe_pot *pot)
{
    double exact = recipe_strength(p, pot, true), strength = recipe_strength(p, pot, false);
    struct recipe_fit fit = {.no_food = true, .off = off_exact(p, pot)};
    for (size_t k = 0; k < pot->n_amounts; k++)
        fit.no_food = fit.no_food && pot->amounts[k].amount <= 0;
    fit.shares = fmax(0, shares_beyond(p, pot, false) - shares_beyond(p, pot, true));
    fit.lean = fmax(0, fmin(pot->lean_frac, exact) * strength_kept - strength);
    return fit;
}

static int less_by(double a, double b)
{
    return a < b - proof ? -1 : a > b + proof;
}

/* Some food, then shares, then lean strength, then as near as can be. */
static bool fit_better(const struct recipe_fit *a, const struct recipe_fit *b)
{
    if (a->no_food != b->no_food)
        return b->no_food;
    int shares = less_by(a->shares, b->shares), lean = less_by(a->lean, b->lean);
    return shares != 0 ? shares < 0 : lean != 0 ? lean < 0 : less_by(a->off, b->off) < 0;
}

static bool is_rough(const struct recipe_problem *p, const struct recipe_pot *pot, const struct recipe_amount *a)
{
    double solids_g = p->foods[a->food].solids_g_per_unit, all_g = recipe_strength(p, pot, true) * pot->house_units;
    double off = fabs(a->amount - a->exact);
    if (solids_g <= 0) /* a trace of a liquid that a limit all but took out is not worth a larger pot */
        return off > row_off_most * fmax(a->exact, a->house);
    return a->exact * solids_g >= matters_frac * all_g && off > row_off_most * a->exact;
}

static bool well_measured(const struct recipe_problem *p, const struct recipe_pot *pot)
{
    struct recipe_fit fit = recipe_fit_of(p, pot);
    bool rough = fit.no_food || fit.shares > 0 || fit.lean > 0 ||
                 recipe_strength(p, pot, false) < strength_kept * recipe_strength(p, pot, true);
    for (size_t k = 0; k < pot->n_amounts; k++)
        rough = rough || is_rough(p, pot, &pot->amounts[k]);
    return !rough;
}

/* ---- step by step ------------------------------------------------------------------------------------------------ */

static void pot_round_down(const struct recipe_problem *p, struct recipe_pot *pot)
{
    for (size_t k = 0; k < pot->n_amounts; k++) {
        struct recipe_amount *a = &pot->amounts[k];
        if (a->premix == RECIPE_NONE)
            a->amount = round_down_to(a->exact, p->foods[a->food].step);
    }
}

/* A line up or down by one step; false, and left alone, where that leads two steps away from the exact answer. */
static bool step_line(const struct recipe_problem *p, struct recipe_amount *a, int way)
{
    double step = p->foods[a->food].step, to = round_near_to(a->amount + way * step, step);
    if (a->premix != RECIPE_NONE || to < 0 || fabs(to - a->exact) >= 2 * step * (1 - proof))
        return false;
    a->amount = to;
    return true;
}

/* One line up, or one down, or both. Kept where the pot fits better and every hard limit holds. */
static bool try_move(const struct recipe_problem *p, struct recipe *r, struct recipe_pot *pot, size_t up, size_t down)
{
    struct recipe_amount *raised = up < pot->n_amounts ? &pot->amounts[up] : NULL;
    struct recipe_amount *lowered = down < pot->n_amounts ? &pot->amounts[down] : NULL;
    double was_raised = raised ? raised->amount : 0, was_lowered = lowered ? lowered->amount : 0;
    struct recipe_fit before = recipe_fit_of(p, pot);
    bool moved = raised != lowered && (!raised || step_line(p, raised, +1)) && (!lowered || step_line(p, lowered, -1));
    struct recipe_fit after = recipe_fit_of(p, pot);
    if (moved && fit_better(&after, &before) && pot_proved(p, r, pot))
        return true;
    if (raised)
        raised->amount = was_raised;
    if (lowered)
        lowered->amount = was_lowered;
    return false;
}

/* Ends: each move makes the fit better, and there are no more than four amounts a line. */
static void settle(const struct recipe_problem *p, struct recipe *r, struct recipe_pot *pot)
{
    size_t n = pot->n_amounts;
    for (bool moved = true; moved;) {
        moved = false;
        for (size_t i = 0; i < (n + 1) * (n + 1); i++) /* n itself: no line */
            moved = try_move(p, r, pot, i / (n + 1), i % (n + 1)) || moved;
    }
}

/* ---- premixes ---------------------------------------------------------------------------------------------------- */

static double premix_takes(const struct recipe_pot *pot)
{
    double ml = 0;
    for (size_t k = 0; k < pot->n_amounts; k++)
        ml += pot->amounts[k].take_ml;
    return ml;
}

static double premix_take_ml(const struct recipe_problem *p, const struct recipe_premix *m,
                             const struct recipe_amount *a)
{
    return round_down_to(a->exact / m->weigh * m->make_up_ml, p->syringe_step_ml);
}

/* The line of a pot that a premix could hold; NULL: it has none, is measured well, or would be flooded by it. */
static struct recipe_amount *premix_line(const struct recipe_problem *p, struct recipe_pot *pot,
                                         const struct recipe_premix *m)
{
    if (well_measured(p, pot))
        return NULL;
    for (size_t k = 0; k < pot->n_amounts; k++) {
        struct recipe_amount *a = &pot->amounts[k];
        if (a->food != m->food)
            continue;
        double take_ml = premix_take_ml(p, m, a);
        bool fits = take_ml > 0 && premix_takes(pot) + take_ml <= premix_fills_most * pot->slurry_ml;
        return fits && a->exact < STEPS_FOR_PREMIX * p->foods[a->food].step * (1 - proof) ? a : NULL;
    }
    return NULL;
}

static double premix_wanted(const struct recipe_problem *p, struct recipe *r, const struct recipe_premix *m)
{
    double units = 0;
    for (size_t i = 0; i < r->n_pots; i++) {
        const struct recipe_amount *a = premix_line(p, &r->pots[i], m);
        units += a ? a->exact : 0;
    }
    return units;
}

static bool premix_find_lot(const struct recipe_food *f, struct recipe_premix *m)
{
    for (m->lot = 0; m->lot < f->n_lots; m->lot++)
        if (f->lots[m->lot] >= m->weigh * (1 - proof))
            return true;
    m->lot = 0;
    return f->n_lots == 0;
}

/* Puts the premix into one pot; back as it was where a limit is in the way. */
static bool premix_use(const struct recipe_problem *p, struct recipe *r, struct recipe_pot *pot, size_t index)
{
    const struct recipe_premix *m = &r->premixes[index];
    struct recipe_amount *a = premix_line(p, pot, m);
    if (!a)
        return false;
    a->take_ml = premix_take_ml(p, m, a);
    a->amount = m->weigh * a->take_ml / m->make_up_ml;
    a->premix = index;
    pot_round_down(p, pot);
    if (pot_proved(p, r, pot)) {
        settle(p, r, pot);
        return true;
    }
    a->premix = RECIPE_NONE;
    a->take_ml = 0;
    pot_round_down(p, pot);
    settle(p, r, pot);
    return false;
}

/* One premix of a food for all pots that are not measured well without; none where most of it would be thrown away. */
static void premix_try(const struct recipe_problem *p, struct recipe *r, size_t food)
{
    const struct recipe_food *f = &p->foods[food];
    struct recipe_premix *m = &r->premixes[r->n_premixes];
    *m = (struct recipe_premix){.food = food, .make_up_ml = p->premix_ml};
    m->weigh = round_near_to(STEPS_FOR_PREMIX * f->step, f->step);
    m->weigh = fmax(m->weigh, round_up_to(premix_wanted(p, r, m), f->step));
    if (premix_wanted(p, r, m) < premix_used_least * m->weigh || !premix_find_lot(f, m))
        return;
    r->n_premixes++;
    bool used = false;
    for (size_t i = 0; i < r->n_pots; i++)
        used = premix_use(p, r, &r->pots[i], r->n_premixes - 1) || used;
    r->n_premixes -= !used;
}

/* ---- larger pots ------------------------------------------------------------------------------------------------- */

static void pot_scale(struct recipe_pot *pot, double slurry_ml)
{
    double times = slurry_ml / pot->slurry_ml;
    pot->slurry_ml = slurry_ml;
    pot->house_units *= times;
    for (size_t k = 0; k < pot->n_amounts; k++) {
        struct recipe_amount *a = &pot->amounts[k];
        a->exact *= times;
        a->house *= times;
    }
}

static void amounts_copy(struct recipe_amount *to, const struct recipe_amount *from, size_t n)
{
    if (n > 0)
        memcpy(to, from, n * sizeof *to);
}

/*
 * What is off is a line, or a little strength: nothing that thawed food is thrown away for. Powder is cheap, and steers
 * the water.
 */
static bool is_large_enough(const struct recipe_pot *pot, const struct recipe_fit *fit, double times)
{
    return pot->late && times > enlarge_for_a_line && !fit->no_food && fit->shares <= 0 && fit->lean <= 0;
}

static double next_graduation_ml(const struct vessel *jug, double ml)
{
    double next_ml = ml + vessel_step_ml(jug, ml);
    return round_up_to(next_ml - proof, vessel_step_ml(jug, next_ml));
}

/*
 * A larger pot of the same strength gives each tank the same, and its foods can be measured; what is too much is thrown
 * away. The smallest that is measured well, or else the best of those that fit better.
 */
static bool enlarge(const struct recipe_problem *p, struct recipe *r, struct recipe_pot *pot)
{
    struct recipe_amount *was = arena_alloc(&r->arena, pot->n_amounts, sizeof *was);
    struct recipe_amount *best = arena_alloc(&r->arena, pot->n_amounts, sizeof *best);
    struct recipe_pot first = *pot, winner = *pot;
    struct recipe_fit best_fit = recipe_fit_of(p, pot);
    if (!was || !best)
        return false;
    amounts_copy(was, pot->amounts, pot->n_amounts);
    amounts_copy(best, pot->amounts, pot->n_amounts);
    best_fit.off = 0;                                  /* being a little nearer alone is not worth a larger pot */
    double least_ml = p->jug.step_ml + p->jug.dead_ml; /* of the jug; a few corals need less and are fed all the same */
    for (double ml = next_graduation_ml(&p->jug, first.slurry_ml);
         ml <= enlarge_most * (best_fit.no_food ? fmax(first.slurry_ml, least_ml) : first.slurry_ml);
         ml = next_graduation_ml(&p->jug, ml)) {
        if (is_large_enough(pot, &best_fit, ml / first.slurry_ml))
            break;
        *pot = first;
        amounts_copy(pot->amounts, was, pot->n_amounts);
        pot_scale(pot, ml);
        pot_round_down(p, pot);
        if (!pot_proved(p, r, pot))
            break;
        settle(p, r, pot);
        struct recipe_fit fit = recipe_fit_of(p, pot);
        bool well = well_measured(p, pot);
        if (!well && !fit_better(&fit, &best_fit))
            continue;
        best_fit = fit;
        winner = *pot;
        amounts_copy(best, pot->amounts, pot->n_amounts);
        if (well)
            break;
    }
    *pot = winner;
    amounts_copy(pot->amounts, best, pot->n_amounts);
    return true;
}

/* A pot with a premix in it is measured finely enough already. */
static bool may_grow(const struct recipe_problem *p, const struct recipe_pot *pot)
{
    return pot->n_amounts > 0 && !well_measured(p, pot) && premix_takes(pot) <= 0;
}

/* ---- the whole --------------------------------------------------------------------------------------------------- */

bool recipe_measure(const struct recipe_problem *p, struct recipe *r, struct err *e)
{
    if (!(r->premixes = arena_alloc(&r->arena, p->n_foods, sizeof *r->premixes)))
        return err_memory(e);
    for (size_t i = 0; i < r->n_broadcasts; i++) {
        struct recipe_broadcast *b = &r->broadcasts[i];
        b->amount = round_down_to(b->exact, p->foods[b->food].step);
    }
    for (size_t i = 0; i < r->n_pots; i++)
        pot_round_down(p, &r->pots[i]);
    for (size_t i = 0; i < r->n_pots; i++)
        settle(p, r, &r->pots[i]);
    for (size_t f = 0; f < p->n_foods; f++)
        if (p->foods[f].premixes && p->premix_ml > 0)
            premix_try(p, r, f);
    for (size_t i = 0; i < r->n_pots; i++)
        if (may_grow(p, &r->pots[i]) && !enlarge(p, r, &r->pots[i]))
            return err_memory(e);
    return true;
}
