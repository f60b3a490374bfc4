/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The round's foods as one programme: what the facility knows, put into the recipe's plain numbers. */
#include "neap/advice.h"
#include "neap/learned.h"
#include "neap/ledger.h"
#include "neap/stock.h"
#include "neap/working.h"

/* By the pack; where no pack price is known, by the newest lot in use that has one. */
static double unit_price_cents(const struct working *w, size_t food)
{
    const struct facility *f = w->f;
    size_t newest = SIZE_MAX;
    if (f->foods[food].price_cents > 0)
        return (double)f->foods[food].price_cents / f->foods[food].pack_units;
    for (size_t i = 0; i < f->n_lots; i++) {
        const struct lot *l = &f->lots[i];
        if (l->food == food && l->price_cents > 0 && lot_usable(f, l, w->request->day) &&
            (newest == SIZE_MAX || l->received > f->lots[newest].received))
            newest = i;
    }
    return newest == SIZE_MAX ? 0 : (double)f->lots[newest].price_cents / f->lots[newest].amount_units;
}

/* What is unsure of an effect makes its limits. */
static void put_effects(const struct working *w, size_t index, struct recipe_food *r)
{
    for (int a = 0; a < RECIPE_ANALYTES; a++) {
        const struct food_belief *b = &w->effects.foods[a][index];
        r->effect_mg[a] = b->mean;
        r->effect_low_mg[a] = b->mean - b->sd;
        r->effect_high_mg[a] = b->mean + b->sd;
        r->broadcast_more[a] = b->broadcast_ratio - 1;
    }
}

/* Said to lower phosphate, whether the log bears it out or not. */
static bool strips(const struct working *w, size_t index)
{
    const struct food_belief *b = &w->effects.foods[ANALYTE_PO4][index];
    return w->f->foods[index].strips_po4 || b->declared < 0; /* no other food is learned to lower it */
}

static struct recipe_food recipe_food_of(const struct working *w, size_t index)
{
    const struct facility *f = w->f;
    const struct food *food = &f->foods[index];
    bool pot_solid = food_in_pot(w, index, true) || food_in_pot(w, index, false);
    bool broadcast = food->broadcast_units_per_100l > 0 && food->unit == UNIT_ML;
    double liquid_ml = food->blend_ml_per_100ml > 0 ? food->blend_ml_per_100ml : 0;
    struct recipe_food r = {
        .name = food->name,
        .liquid = food->unit == UNIT_ML,
        .late = food_is_late(food),
        .strips = strips(w, index),
        .solids_g_per_unit = food_solids(food),
        .house_share_frac = pot_solid ? food->blend_share_frac : 0,
        .share_min_frac = pot_solid ? food->blend_share_min_frac : 0,
        .share_max_frac = pot_solid ? food->blend_share_max_frac : 0,
        .house_ml_per_100ml = liquid_ml,
        .max_ml_per_100ml = fmin(2 * liquid_ml, 100),
        .broadcast_ml_per_100l = broadcast ? food->broadcast_units_per_100l : 0,
        .ceiling_per_100l = food->ceiling_units_per_100l,
        .premixes = !food_is_late(food),
        .stock = w->usable[index],
        .lots = w->shelf.held + w->shelf.first[index],
        .n_lots = w->shelf.first[index + 1] - w->shelf.first[index],
        .price_cents = unit_price_cents(w, index),
        .step = broadcast ? f->settings.broadcast_step_ml : food_step(&f->settings, food),
    };
    put_effects(w, index, &r);
    return r;
}

struct habit feeding_habit(const struct working *w, size_t system)
{
    const struct facility *f = w->f;
    struct habit h = {0};
    int day = w->request->day, first = day, last = DAY_NONE;
    struct system_rows own = feds_of(f, system);
    for (size_t i = own.first; i < own.end; i++) {
        const struct fed *fed = &f->feds[i];
        if (fed->day >= day || fed->day < day - (int)f->settings.window_d)
            continue;
        if (fed->day != last)
            h.n_days++;
        last = fed->day;
        first = fed->day < first ? fed->day : first;
        for (int a = 0; a < RECIPE_ANALYTES; a++) {
            const struct food_belief *b = &w->effects.foods[a][fed->food];
            double units = fed_in_water(f, fed, b->broadcast_ratio);
            h.per_day[a] += units * b->mean;
            h.sd_per_day[a] += units * b->sd;
        }
    }
    for (int a = 0; h.n_days > 0 && a < RECIPE_ANALYTES; a++) {
        h.per_day[a] /= (double)h.n_days;
        h.sd_per_day[a] /= (double)h.n_days;
    }
    h.rounds_per_d = day > first ? (double)h.n_days / (day - first) : 0;
    return h;
}

double habit_rounds(const struct habit *h, double days)
{
    return fmax(1, h->rounds_per_d * days);
}

/* Which way the water wants its foods, from the state alone, and by how much of what the house blend brings. */
static void put_shift(const struct working *w, size_t system, struct recipe_system *r)
{
    for (int a = 0; a < RECIPE_ANALYTES; a++)
        r->shift_frac[a] = w->states[system].direction[a] * SHIFT_FRAC;
    if (w->states[system].po4_starved)
        r->shift_frac[RECIPE_PO4] = 1; /* as much of it as the shares allow */
}

static double broadcast_part(const struct working *w, size_t tank)
{
    const struct tank_need *need = &w->needs[tank];
    const double *cut_to_frac = w->shares[w->f->tanks[tank].system].cut_to_frac;
    return need->broadcast ? need->broadcast_frac * cut_to_frac[need->lives_by_it ? SHARE_LIVED_BY : SHARE_BROADCAST]
                           : 0;
}

/*
 * What of a round of the house blend, as strong as the state allows, reaches a water: mL of each pot, and hundreds of
 * litres broadcast to.
 */
struct house_round {
    double slurry_ml, late_ml, broadcast_100l;
};

static struct house_round house_round_of(const struct working *w, size_t system)
{
    struct house_round h = {0};
    double factor = w->states[system].factor;
    for (size_t i = 0; i < w->n_dues; i++)
        if (w->dues[i].system == system)
            *(w->dues[i].late ? &h.late_ml : &h.slurry_ml) += in_water(&w->f->settings, w->dues[i].need_ml) * factor;
    for (size_t t = 0; t < w->f->n_tanks; t++)
        if (w->f->tanks[t].system == system)
            h.broadcast_100l += w->f->tanks[t].net_l / 100 * broadcast_part(w, t) * factor;
    return h;
}

/* mg that it brings, by mean effects and so many sd. */
static double house_round_mg(const struct working *w, size_t system, const struct house_round *h, int a, double n_sd)
{
    double mg = 0;
    for (size_t i = 0; i < w->f->n_foods; i++) {
        const struct food *food = &w->f->foods[i];
        const struct food_belief *b = &w->effects.foods[a][i];
        double units = h->slurry_ml * house_units_per_ml(w, system, i, false) +
                       h->late_ml * house_units_per_ml(w, system, i, true);
        if (food->broadcast_units_per_100l > 0 && w->usable[i] > 0)
            units += h->broadcast_100l * food->broadcast_units_per_100l * b->broadcast_ratio;
        mg += units * (b->mean + n_sd * b->sd);
    }
    return mg;
}

/*
 * The trend already holds what was fed, so a round may differ from the mean logged one by its part of the room; each
 * side counts the logged round by the same limit of the effects as the new one. No round is asked to differ from the
 * logged ones by more than a quarter, nor from the house blend, as strong as its state allows: a day on which many are
 * due is not made thin for having more mouths than the mean one, nor each week thinner than the last. None is asked to
 * bring more of what is above its band. Before two rounds are logged there is nothing to differ from: strength and
 * foods follow the state alone.
 */
static void put_room(const struct working *w, size_t system, struct recipe_system *r)
{
    const struct system_state *s = &w->states[system];
    const struct habit h = feeding_habit(w, system);
    const struct house_round house = house_round_of(w, system);
    for (int a = 0; a < RECIPE_ANALYTES; a++) {
        const struct headroom *room = &s->headroom[a];
        r->low_room_mg[a] = -INFINITY;
        r->high_room_mg[a] = INFINITY;
        r->band_mg[a] = r->volume_l;
        if (!s->has_headroom[a])
            continue;
        r->band_mg[a] = (room->in.band.high - room->in.band.low) * r->volume_l;
        if (h.n_days < 2)
            continue;
        double rounds = habit_rounds(&h, room->in.days), most_mg = SHIFT_FRAC * fabs(h.per_day[a]);
        double low_mg = h.per_day[a] - h.sd_per_day[a], high_mg = h.per_day[a] + h.sd_per_day[a];
        double own_low_mg = r->beside_low_mg[a] + house_round_mg(w, system, &house, a, -1);
        double own_high_mg = r->beside_high_mg[a] + house_round_mg(w, system, &house, a, +1);
        if (s->direction[a] >= 0 && !s->single_high[a] && w->n_to_come == 0)
            r->low_room_mg[a] =
                fmin(low_mg + fmin(room->low_mg / rounds, most_mg), own_low_mg + SHIFT_FRAC * fabs(own_low_mg));
        if (s->direction[a] <= 0)
            r->high_room_mg[a] =
                fmax(high_mg + fmax(room->high_mg / rounds, -most_mg), own_high_mg - SHIFT_FRAC * fabs(own_high_mg));
    }
}

/*
 * What fish are fed is decided before the pots, and reaches the water beside them; so does what other rounds of the day
 * bring.
 */
static void put_beside(const struct working *w, size_t system, struct recipe_system *r)
{
    for (int a = 0; a < RECIPE_ANALYTES; a++) {
        r->beside_mg[a] = w->left[system].others_mg[a];
        r->beside_low_mg[a] = w->left[system].others_mg[a] - w->left[system].others_sd_mg[a];
        r->beside_high_mg[a] = w->left[system].others_mg[a] + w->left[system].others_sd_mg[a];
    }
    for (size_t t = 0; t < w->f->n_tanks; t++)
        for (int a = 0; w->f->tanks[t].system == system && w->needs[t].fish_units > 0 && a < RECIPE_ANALYTES; a++) {
            const struct food_belief *b = &w->effects.foods[a][w->needs[t].fish_food];
            r->beside_mg[a] += w->needs[t].fish_units * b->mean;
            r->beside_low_mg[a] += w->needs[t].fish_units * (b->mean - b->sd);
            r->beside_high_mg[a] += w->needs[t].fish_units * (b->mean + b->sd);
        }
}

/* Is there a food in the house's pots that is said to lower phosphate? */
static bool pots_strip(const struct working *w)
{
    for (size_t i = 0; i < w->f->n_foods; i++) {
        const struct food *food = &w->f->foods[i];
        bool in_pot = food_in_pot(w, i, true) || food_in_pot(w, i, false) || food->blend_ml_per_100ml > 0;
        if (food->strips_po4 && in_pot && w->usable[i] > 0)
            return true;
    }
    return false;
}

/*
 * Water starved of phosphate takes no stripping food. A system that shared its pot would lose that part of its blend as
 * well, which the tolerances on bands and strength do not see; so starved water has a pot of its own where the house's
 * pots hold such a food.
 */
static bool needs_own_pot(const struct working *w, size_t system)
{
    return w->f->systems[system].quarantine || (w->states[system].po4_low && pots_strip(w));
}

static struct recipe_system recipe_system_of(const struct working *w, size_t index)
{
    const struct system *sys = &w->f->systems[index];
    const struct system_state *s = &w->states[index];
    struct recipe_system r = {
        .name = sys->name,
        .volume_l = water_l(w->f, index),
        .lean_frac = fmin(w->f->settings.lean_frac, s->factor),
        .full_frac = s->factor,
        .own_pot = needs_own_pot(w, index),
        .po4_starved = s->po4_low,
        .load_frac = ceiling_spoken_for(&w->shares[index]) + w->shares[index].later_frac,
    };
    static const enum analyte of[RECIPE_ANALYTES] = {[RECIPE_NO3] = ANALYTE_NO3, [RECIPE_PO4] = ANALYTE_PO4};
    for (int a = 0; a < RECIPE_ANALYTES; a++)
        r.max_rise_mg[a] = r.max_fall_mg[a] = analytes[of[a]].change_per_day_max * r.volume_l;
    put_shift(w, index, &r);
    put_beside(w, index, &r);
    put_room(w, index, &r);
    return r;
}

/* Foods of the house's pots, as far as every mouth due from that pot can take them. */
static void put_may_eat(const struct working *w, bool *may_eat)
{
    const struct facility *f = w->f;
    for (size_t i = 0; i < f->n_systems * f->n_foods; i++) {
        size_t food = i % f->n_foods;
        may_eat[i] = food_in_pot(w, food, false) || food_in_pot(w, food, true) || f->foods[food].blend_ml_per_100ml > 0;
    }
    for (size_t i = 0; i < w->n_dues; i++) {
        const struct kind *k = &f->kinds[f->colonies[w->dues[i].colony].kind];
        for (size_t food = 0; food < f->n_foods; food++) {
            if (food_is_late(&f->foods[food]) == w->dues[i].late && !kind_takes(k, &f->foods[food]))
                may_eat[w->dues[i].system * f->n_foods + food] = false;
        }
    }
}

static double part_of(double part, double whole)
{
    return whole > 0 ? part / whole : 0;
}

static bool fill_problem(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    struct recipe_food *foods = arena_alloc(w->a, f->n_foods, sizeof *foods);
    struct recipe_system *systems = arena_alloc(w->a, f->n_systems, sizeof *systems);
    struct recipe_tank *tanks = arena_alloc(w->a, f->n_tanks, sizeof *tanks);
    bool *may_eat = arena_alloc(w->a, f->n_systems * f->n_foods, sizeof *may_eat);
    if (!foods || !systems || !tanks || !may_eat)
        return err_memory(e);
    for (size_t i = 0; i < f->n_foods; i++)
        foods[i] = recipe_food_of(w, i);
    for (size_t i = 0; i < f->n_systems; i++)
        systems[i] = recipe_system_of(w, i);
    for (size_t i = 0; i < f->n_tanks; i++)
        tanks[i] = (struct recipe_tank){
            .name = f->tanks[i].name,
            .system = f->tanks[i].system,
            .net_volume_l = f->tanks[i].net_l,
            .slurry_ml = w->needs[i].slurry_ml,
            .late_slurry_ml = w->needs[i].late_ml,
            .rest_ml = w->needs[i].rest_ml,
            .late_rest_ml = w->needs[i].late_rest_ml,
            .counted_frac = part_of(w->needs[i].counted_ml, w->needs[i].slurry_ml),
            .late_counted_frac = part_of(w->needs[i].late_counted_ml, w->needs[i].late_ml),
            .broadcast_frac = broadcast_part(w, i),
        };
    put_may_eat(w, may_eat);
    w->recipe_problem = (struct recipe_problem){
        .foods = foods,
        .systems = systems,
        .tanks = tanks,
        .n_foods = f->n_foods,
        .n_systems = f->n_systems,
        .n_tanks = f->n_tanks,
        .may_eat = may_eat,
        .house_g_per_100ml = f->settings.strength_g_per_100ml,
        .jug = {f->settings.pot_step_ml, f->settings.pot_dead_ml},
        .syringe_step_ml = f->settings.liquid_step_ml,
        .premix_ml = f->settings.premix_ml,
        .max_pots = w->request->max_pots,
        .band_tolerance = 0.01,
        .strength_tolerance_frac = 0.1,
    };
    return true;
}

static bool holds_food(const struct recipe_pot *pot)
{
    for (size_t i = 0; i < pot->n_amounts; i++)
        if (pot->amounts[i].amount > 0)
            return true;
    return false;
}

/* Nobody is fed plain water: those due from a pot into which nothing can be measured wait. *n: how many. */
static bool defer_empty_pots(struct working *w, size_t *n, struct err *e)
{
    *n = 0;
    for (size_t p = 0; p < w->recipe.n_pots; p++) {
        const struct recipe_pot *pot = &w->recipe.pots[p];
        for (size_t k = 0; !holds_food(pot) && k < pot->n_systems; k++)
            for (size_t i = w->n_dues; i-- > 0;) {
                if (w->dues[i].system != pot->systems[k] || w->dues[i].late != pot->late)
                    continue;
                if (!due_defer(w, i, "its pot would be plain water: stock, ceilings or scale leave no food for it", e))
                    return false;
                ++*n;
            }
    }
    return true;
}

static double slurry_ml(const struct recipe *r)
{
    double ml = 0;
    for (size_t i = 0; i < r->n_pots; i++)
        ml += r->pots[i].slurry_ml;
    return ml;
}

static bool is_made_larger(const struct recipe *r)
{
    bool larger = false;
    for (size_t i = 0; i < r->n_pots; i++)
        larger = larger || r->pots[i].slurry_ml > r->pots[i].least_ml;
    return larger;
}

/*
 * Scales are sold that show 0.1, 0.01 and 0.001 g; what the last would save is too little to tell. Common practice, no
 * source.
 */
static const double scale_worth_g = 0.01, saving_worth_frac = 0.1;

/* The same pots with foods weighed ten times as fine: how much less would be mixed, and thrown away? */
static bool advise_scale(struct working *w, struct err *e)
{
    const double step_g = w->f->settings.scale_step_g / 10;
    if (!is_made_larger(&w->recipe) || step_g < scale_worth_g * (1 - 1e-9))
        return true;
    struct recipe_problem fine = w->recipe_problem;
    struct recipe_food *foods = arena_alloc(w->a, fine.n_foods, sizeof *foods);
    struct recipe finer;
    if (!foods)
        return err_memory(e);
    for (size_t i = 0; i < fine.n_foods; i++) {
        foods[i] = fine.foods[i];
        foods[i].step = foods[i].liquid ? foods[i].step : fmin(foods[i].step, step_g);
    }
    fine.foods = foods;
    bool ok = recipe_plan_groups(&fine, w->recipe.group, &finer, e);
    const double mixed_ml = slurry_ml(&w->recipe), saved_ml = ok ? mixed_ml - slurry_ml(&finer) : 0;
    recipe_free(&finer);
    return ok && (saved_ml < saving_worth_frac * mixed_ml ||
                  caution_add(w, CAUTION_NEXT, e,
                              "A scale that shows %.10g g would save %.10g of the %.10g mL mixed today: weighed on "
                              "yours, the foods need larger pots than the corals do.",
                              step_g, number_without_dust(saved_ml), number_without_dust(mixed_ml)));
}

bool working_recipe(struct working *w, struct err *e)
{
    if (!shelf_fill(w, e))
        return false;
    for (size_t n_deferred;;) { /* ends: each turn but the last takes dues away */
        if (!fill_problem(w, e) || !recipe_plan(&w->recipe_problem, &w->recipe, e) ||
            !defer_empty_pots(w, &n_deferred, e))
            return false;
        if (n_deferred == 0)
            return advise_scale(w, e) &&
                   (!w->recipe.over_cap ||
                    caution_add(w, CAUTION_HEED, e,
                                "%zu pots: quarantine, starved water and states that are "
                                "too far apart cannot share, so %zu %s not enough.",
                                w->recipe.n_pots, w->request->max_pots, w->request->max_pots == 1 ? "is" : "are"));
        recipe_free(&w->recipe);
        if (!needs_sum(w, e))
            return false;
    }
}
