/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A recipe problem with its pots, written as a linear programme; and the way back. Stays inside the floor.
 * The rows and columns are those of docs/recipe.md, under the same names.
 */
#ifndef NEAP_RECIPE_MODEL_H
#define NEAP_RECIPE_MODEL_H

#include "neap/recipe.h"
#include "recipe/lp.h"

struct model_pot {
    bool late;
    size_t n_systems, *systems; /* those with something due from it, ascending */
    double fed_ml, slurry_ml;
    double lean_frac, full_frac;
    double weight;          /* its part of all slurry fed in the round */
    double house_units;     /* strength 1: g of dry mass, or mL of liquids where no solid may go in */
    double house_share_sum; /* of the solids that may go in: their shares are taken of this */
    double house_ml_sum;    /* of the liquids that may go in, per 100 mL */
    bool solids;            /* strength is told by dry mass; else by liquids */
    size_t strength_col;    /* RECIPE_NONE: nothing may go in */
    size_t *food_col;       /* per food; RECIPE_NONE: may not go in */
};

struct model_about { /* what a row of the programme says */
    bool listed;
    struct recipe_limit limit;
};

struct model {
    const struct recipe_problem *p;
    size_t n_stages;
    size_t n_pots;
    struct model_pot *pots; /* by group, the late pot second */
    size_t *broadcast_col;  /* [tank × n_foods + food]; RECIPE_NONE: none */
    struct lp lp;
    struct model_about *about; /* of the first n_about rows; the others are about nothing */
    size_t n_about, about_room;
    struct arena arena;
};

/* The lean strength that a system's state asks for: a starved one is not given less than the house's. */
double model_lean(const struct recipe_system *s);

/* Builds stages 0 … n_stages − 1 for the groups given (see recipe_plan_groups). Caller frees with model_free, also
 * after a failure, which can only be ERR_MEMORY. */
bool model_build(const struct recipe_problem *p, const size_t *group, size_t n_stages, struct model *m, struct err *e);
void model_free(struct model *m);

/* Units of a food in a pot of the house blend at strength 1, among the foods that may go in. */
double model_house(const struct recipe_food *f, const struct model_pot *pot);

/* What tank t gets of a pot, as a part of what the pot holds. */
double model_part(const struct recipe_problem *p, const size_t *systems, size_t n_systems, bool late, double slurry_ml,
                  size_t tank);

/* Slurry due to a tank from its pot or its late pot. */
double model_due(const struct recipe_tank *t, bool late);

/* What reaches tank t's water of a pot, likewise: the rest stays in syringe and tube. */
double model_reach(const struct recipe_problem *p, const size_t *systems, size_t n_systems, bool late, double slurry_ml,
                   size_t tank);

/* Of a mL given in a tank, from its pot or its late pot, what counts towards the ceilings of its water. */
double model_counted(const struct recipe_tank *t, bool late);

/* The part of what a pot holds that comes into a water and counts towards its ceilings. */
double model_counted_part(const struct recipe_problem *p, const size_t *systems, size_t n_systems, bool late,
                          double slurry_ml, size_t system);

/* The largest share of a pot's dry mass. */
double model_share_max(const struct model_pot *pot, const struct recipe_food *f);

/* Of a solved column; an amount of dust, or no column, is none. */
#define MODEL_DUST 1e-9 /* units, below which the solver means none */
double model_amount(const double *x, size_t col);

/* House rate of a broadcast × volume × the tank's part of it, mL. */
double model_broadcast_house(const struct recipe_problem *p, size_t tank, size_t food);

/* Units of a food that use up the whole day's ceiling of a water; INFINITY: no ceiling known. */
double model_ceiling(const struct recipe_problem *p, size_t system, size_t food);

#endif
