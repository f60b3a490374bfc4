/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * learned: what the log shows of the foods.
 */
#ifndef NEAP_LEARNED_H
#define NEAP_LEARNED_H

#include "neap/advice.h"
#include "neap/facility.h"
#include "neap/trend.h"

enum { LEARN_D = 182 }; /* days back that are learned from */

/* What is believed of one food's effect on one nutrient: mg per unit (g or mL) that is fed to mouths. */
struct food_belief {
    double declared, declared_sd; /* as declared, or from the composition */
    double prior_sd;              /* declared_sd, and never less than a floor (docs/trend.md) */
    double broadcast_ratio;       /* a unit that is broadcast does this many times as much */
    struct effect effect;         /* by the log; its mean and sd are the prior's where nothing was fed */
    bool learned;    /* the log's effect is used: claimed, surer than the declared, of a sign that may be */
    bool against;    /* the log claims the other sign than the declared one, so it is not used */
    double mean, sd; /* what is used: by the log where learned, else as declared; mean 0 where a food that is
                                             declared to lower the nutrient raises it by the log */
};

/* Foods that the log cannot tell apart; other is FOOD_BACKGROUND where it is the water's own drift. */
#define FOOD_BACKGROUND SIZE_MAX
struct food_collinear {
    size_t food, other;
    double cosine;           /* of what both did to the tests: 1 is always in one proportion */
    double sd_now, sd_after; /* of food's effect: now, and after one stretch with each of the two alone */
};

/*
 * Draws of the facility's waters, for forecasts: what is known of each, with what is learned of the foods. n 0: none
 * are made.
 */
struct draws_asked {
    int n;
    unsigned long seed;
};

struct learned_effects {
    struct food_belief *foods[N_NUTRIENTS]; /* [n_foods] each, in the arena */
    struct draws_asked asked;
    const struct water_draw **draws[N_NUTRIENTS]; /* [systems of the facility] of asked.n; NULL: not learned from */
    const bool *drawn[N_NUTRIENTS];               /* [systems] learned from: draws is the last word */
    struct effect_prior background[N_NUTRIENTS];  /* of a water that was not: what those that were leave open */
    size_t n_foods;
    size_t n_systems;                                        /* learned from */
    size_t n_stretches[N_NUTRIENTS], n_skipped[N_NUTRIENTS]; /* between tests: used, and left out */
    bool error_scale_high[N_NUTRIENTS];                      /* the tests scatter by more than they are believed to */
    bool misfit[N_NUTRIENTS]; /* the waters did what the model does not know: nothing is claimed */
    struct food_collinear *collinears[N_NUTRIENTS]; /* what two stretches would tell most of comes first */
    size_t n_collinears[N_NUTRIENTS];
};

/*
 * Draws of one water, asked.n of them, of a moment: learned with the foods' effects where l has it, else from its own
 * tests with the effects as l has them; an analyte that food does not move is drawn without. *draws NULL: no two tests
 * of one method in a row that see something. Errors: as learn_effects.
 */
bool water_draws(const struct facility *f, const struct learned_effects *l, size_t system, enum analyte a, long now_min,
                 struct arena *arena, const struct water_draw **draws, struct err *e);

/*
 * Learns the foods' effects from the last half year of tests, water changes and logged feedings up to a moment.
 * system: that one alone, or REF_NONE: all at once (of more than twelve, those with most feedings), one effect per food
 * and for each system a background, an uptake and a scatter of its own.
 * Without a log all effects are as declared. Errors: as learn_effects.
 */
struct learned_in {
    size_t system;
    long now_min;
    struct draws_asked draws;
};
bool plan_learned(const struct facility *f, const struct learned_in *in, struct arena *arena,
                  struct learned_effects *out, struct err *e);

#endif
