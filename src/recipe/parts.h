/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the files of the recipe owe each other: weighing a grouping, choosing one, rounding. Stays inside the floor.
 */
#ifndef NEAP_RECIPE_PARTS_H
#define NEAP_RECIPE_PARTS_H

#include "neap/recipe.h"

/* Does every number of the problem make sense? ERR_INPUT names the first that does not. */
bool recipe_check(const struct recipe_problem *p, struct err *e);

/* Some of the waters as a problem of its own; of all of them where they are few. */
struct recipe_block {
    struct recipe_problem p;
    struct recipe_food *foods;   /* p's, with its part of the stock */
    size_t *system_of, *tank_of; /* whose the waters and tanks of p are; ascending */
    size_t *group;               /* per water of p, as in the whole */
};

/*
 * Cuts p into blocks of up to RECIPE_BLOCK_MAX waters, in a's memory: along the groups given, none of which is cut;
 * group NULL: such that waters which may share a pot stand together. False: out of memory.
 */
bool blocks_make(const struct recipe_problem *p, const size_t *group, struct arena *a, struct recipe_block **out,
                 size_t *n);

/* The most of a food that pots of their own, as full of it as a pot ever is, and all broadcasts could use. */
double recipe_units_most(const struct recipe_problem *p, size_t food);

/* How good a grouping is. */
struct recipe_score {
    double value[RECIPE_STAGES];
    double *strength_frac; /* [2 × system + late]; 0: nothing due. In the arena given */
};

/* Solves stages 0 … n_stages − 1 for a grouping. Strengths are told only when all stages are solved. */
bool recipe_score(const struct recipe_problem *p, const size_t *group, size_t n_stages, struct arena *a,
                  struct recipe_score *score, struct err *e);

/* Is anything due to the system from a pot? */
bool recipe_is_due(const struct recipe_problem *p, size_t system);

/* Fills r->group (allocated by the caller, in r->arena), own_value, n_tried, capped and over_cap. */
bool recipe_choose(const struct recipe_problem *p, struct recipe *r, struct err *e);

/* Fills r->own_value: each system in a pot of its own. */
bool recipe_own(const struct recipe_problem *p, struct recipe *r, struct err *e);

/* Measures the exact amounts of r, proves every limit again and fills in all that follows from the amounts. */
bool recipe_round(const struct recipe_problem *p, struct recipe *r, struct err *e);

/* Amounts that a scale and a syringe can measure, the pots' volumes and the premixes. Errors: ERR_MEMORY. */
bool recipe_measure(const struct recipe_problem *p, struct recipe *r, struct err *e);

/* Which lots each amount is measured out of; an amount may become a little less. Errors: ERR_MEMORY. */
bool recipe_take_lots(const struct recipe_problem *p, struct recipe *r, struct err *e);

/*
 * How far a pot's measured amounts are from what is wanted: shares and strength in parts of the dry mass and of house
 * strength; what the exact answer itself passes is not counted.
 */
struct recipe_fit {
    bool no_food;
    double shares, lean, off;
};

struct recipe_fit recipe_fit_of(const struct recipe_problem *p, const struct recipe_pot *pot);

double recipe_strength(const struct recipe_problem *p, const struct recipe_pot *pot, bool exact);
double recipe_water(const struct recipe_problem *p, const struct recipe_pot *pot);
double recipe_stock_taken(const struct recipe *r, size_t food); /* units; of a premix what is weighed */

/* Σ dose / ceiling of a water from the measured amounts, one pot left out (RECIPE_NONE: none). */
double recipe_water_load(const struct recipe_problem *p, const struct recipe *r, size_t system, size_t without_pot);

#endif
