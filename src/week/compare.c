/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Today's recipe beside the house blend: what being careful changes, and what it costs. */
#include "neap/advice.h"
#include "neap/learned.h"
#include "neap/stock.h"
#include "neap/week.h"
#include "neap/working.h"

void comparison_free(struct plan_comparison *c)
{
    arena_free(&c->arena);
    *c = (struct plan_comparison){0};
}

struct plan_comparing {
    const struct working *w;
    struct compare_system *systems; /* of all the facility's */
    struct compare_food *foods;     /* likewise */
    struct plan_comparison *out;
};

static double portion_ml(const struct working *w, const struct recipe_pot *pot, size_t tank)
{
    return pot->late ? w->needs[tank].late_ml : w->needs[tank].slurry_ml;
}

/* Slurry of a pot that reaches a system's water. */
static double reaching_ml(const struct working *w, const struct recipe_pot *pot, size_t system)
{
    double ml = 0;
    for (size_t t = 0; t < w->f->n_tanks; t++)
        if (w->f->tanks[t].system == system)
            ml += portion_ml(w, pot, t) - (pot->late ? w->needs[t].late_rest_ml : w->needs[t].rest_ml);
    return ml;
}

/* ---- the plan --------------------------------------------------------------------------------------------------- */

static void take_plan(struct plan_comparing *c)
{
    const struct recipe *r = &c->w->recipe;
    for (size_t p = 0; p < r->n_pots; p++)
        for (size_t k = 0; k < r->pots[p].n_amounts; k++)
            c->foods[r->pots[p].amounts[k].food].plan_units += r->pots[p].amounts[k].amount;
    for (size_t i = 0; i < r->n_broadcasts; i++)
        c->foods[r->broadcasts[i].food].plan_units += r->broadcasts[i].amount;
    for (size_t s = 0; s < c->w->f->n_systems; s++)
        for (int a = 0; a < N_NUTRIENTS; a++)
            c->systems[s].plan_mg[a] = r->balance[s].added_mg[a];
    for (size_t p = 0; p < r->n_pots; p++)
        for (size_t k = 0; k < r->pots[p].n_systems; k++)
            if (!r->pots[p].late || isnan(c->systems[r->pots[p].systems[k]].pot_factor))
                c->systems[r->pots[p].systems[k]].pot_factor = r->pots[p].strength_frac;
    c->out->plan_cents = r->cost_cents;
}

/* ---- the house blend -------------------------------------------------------------------------------------------- */

/* Can every mouth fed from this pot take it? */
static bool may_go_in(const struct working *w, const struct recipe_pot *pot, size_t food)
{
    const struct recipe_problem *p = &w->recipe_problem;
    if (p->foods[food].stock <= 0 || (pot->late ? !p->foods[food].late : p->foods[food].late))
        return false;
    for (size_t k = 0; k < pot->n_systems; k++)
        if (!p->may_eat[pot->systems[k] * p->n_foods + food])
            return false;
    return true;
}

/* Units of a food in one mL of the house blend. */
static double house_per_ml(const struct working *w, const struct recipe_pot *pot, size_t food, double shares)
{
    const struct recipe_food *f = &w->recipe_problem.foods[food];
    if (!may_go_in(w, pot, food))
        return 0;
    if (f->liquid)
        return pot->late ? 0 : f->house_ml_per_100ml / 100;
    return shares > 0 ? f->house_share_frac / shares * w->recipe_problem.house_g_per_100ml / 100 / f->solids_g_per_unit
                      : 0;
}

static void put_house_food(struct plan_comparing *c, size_t system, size_t food, double units)
{
    const struct recipe_food *f = &c->w->recipe_problem.foods[food];
    c->out->house_cents += units * f->price_cents;
    for (int a = 0; a < N_NUTRIENTS && system != REF_NONE; a++)
        c->systems[system].house_mg[a] += units * f->effect_mg[a];
    c->foods[food].house_units += units;
}

static void take_house_pot(struct plan_comparing *c, const struct recipe_pot *pot)
{
    const struct recipe_problem *p = &c->w->recipe_problem;
    double shares = 0;
    for (size_t f = 0; f < p->n_foods; f++)
        shares += may_go_in(c->w, pot, f) && !p->foods[f].liquid ? p->foods[f].house_share_frac : 0;
    for (size_t f = 0; f < p->n_foods; f++) {
        double per_ml = house_per_ml(c->w, pot, f, shares), fed_ml = 0;
        for (size_t k = 0; per_ml > 0 && k < pot->n_systems; k++) {
            double ml = reaching_ml(c->w, pot, pot->systems[k]);
            put_house_food(c, pot->systems[k], f, ml * per_ml);
            fed_ml += ml;
        }
        if (per_ml > 0)
            put_house_food(c, REF_NONE, f, (pot->slurry_ml - fed_ml) * per_ml); /* thrown away, but paid for */
    }
}

static void take_house(struct plan_comparing *c)
{
    const struct working *w = c->w;
    for (size_t s = 0; s < w->f->n_systems; s++)
        for (int a = 0; a < N_NUTRIENTS; a++)
            c->systems[s].house_mg[a] += w->recipe_problem.systems[s].beside_mg[a];
    for (size_t p = 0; p < w->recipe.n_pots; p++)
        take_house_pot(c, &w->recipe.pots[p]);
    for (size_t t = 0; t < w->f->n_tanks; t++)
        for (size_t f = 0; w->needs[t].broadcast && f < w->f->n_foods; f++)
            if (w->recipe_problem.foods[f].broadcast_ml_per_100l > 0 && w->recipe_problem.foods[f].stock > 0)
                put_house_food(c, w->f->tanks[t].system, f,
                               w->recipe_problem.foods[f].broadcast_ml_per_100l * w->f->tanks[t].net_l / 100);
}

/* ---- the round before ------------------------------------------------------------------------------------------- */

static void take_before(struct plan_comparing *c, const struct round *before)
{
    for (size_t i = 0; i < c->w->f->n_foods; i++)
        c->foods[i].before_units = before ? 0 : (double)NAN;
    for (size_t i = 0; before && i < before->n_pot_foods; i++)
        c->foods[before->pot_foods[i].food].before_units += before->pot_foods[i].amount_units;
    for (size_t i = 0; before && i < before->n_lines; i++) {
        const struct line *l = &before->lines[i];
        if (l->action == ACTION_BROADCAST)
            c->foods[l->food].before_units += l->amount;
        for (size_t p = 0; l->action == ACTION_TARGET && p < before->n_pots; p++) {
            struct compare_system *s = &c->systems[c->w->f->tanks[l->tank].system];
            if (strcmp(before->pots[p].pot, l->pot) == 0 && (!before->pots[p].late || isnan(s->before_factor)))
                s->before_factor = before->pots[p].factor;
        }
    }
}

/* ---- all of it -------------------------------------------------------------------------------------------------- */

static bool begin(struct plan_comparing *c, struct err *e)
{
    const struct facility *f = c->w->f;
    struct arena *a = &c->out->arena;
    c->systems = arena_alloc(a, f->n_systems, sizeof *c->systems);
    c->foods = arena_alloc(a, f->n_foods, sizeof *c->foods);
    c->out->systems = arena_alloc(a, f->n_systems, sizeof *c->out->systems);
    c->out->foods = arena_alloc(a, f->n_foods, sizeof *c->out->foods);
    if (!c->systems || !c->foods || !c->out->systems || !c->out->foods)
        return err_memory(e);
    for (size_t s = 0; s < f->n_systems; s++) {
        const struct system_state *state = &c->w->states[s];
        c->systems[s] =
            (struct compare_system){.system = s, .factor = state->factor, .pot_factor = NAN, .before_factor = NAN};
        c->systems[s].why =
            arena_format(a, "%s%s%s", state->rule, state->held ? "; " : "", state->held ? state->held : "");
        if (!c->systems[s].why)
            return err_memory(e);
    }
    for (size_t i = 0; i < f->n_foods; i++)
        c->foods[i].food = i;
    return true;
}

static void keep_what_is_used(struct plan_comparing *c)
{
    for (size_t s = 0; s < c->w->f->n_systems; s++) {
        const struct compare_system *one = &c->systems[s];
        bool fed = !isnan(one->pot_factor) || !isnan(one->before_factor);
        for (int a = 0; a < N_NUTRIENTS; a++)
            fed = fed || one->plan_mg[a] != 0 || one->house_mg[a] != 0;
        if (fed)
            c->out->systems[c->out->n_systems++] = *one;
    }
    for (size_t i = 0; i < c->w->f->n_foods; i++)
        if (c->foods[i].plan_units > 0 || c->foods[i].house_units > 0 || c->foods[i].before_units > 0)
            c->out->foods[c->out->n_foods++] = c->foods[i];
}

bool plan_compare(const struct facility *f, const struct plan_request *request, const struct round *before,
                  struct plan_comparison *out, struct err *e)
{
    *out = (struct plan_comparison){0};
    struct working w = {.f = f, .request = request, .a = &out->arena};
    struct plan_comparing c = {.w = &w, .out = out};
    bool ok = working_foods(&w, e) && begin(&c, e);
    if (ok) {
        take_plan(&c);
        take_house(&c);
        take_before(&c, before);
        keep_what_is_used(&c);
    }
    working_free(&w);
    if (!ok)
        comparison_free(out);
    return ok;
}
