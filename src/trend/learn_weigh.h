/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Inside the trend floor: the trials of a water, each with its weight, and what the waters say of the unknowns
 * together.
 */
#ifndef TREND_LEARN_WEIGH_H
#define TREND_LEARN_WEIGH_H

#include "trend/learn.h"

enum { ERROR_SCALES = 10, AS_BELIEVED = 5 };

/* A trial of a water, without its scatter, which is but a scale: what the rows say, as a precision. */
struct trial {
    struct water_trial water;
    double log_weight;         /* before the log speaks */
    double *precision, *shift; /* Σ x xᵀ, Σ x y: [n_cols × n_cols], [n_cols] */
    double squares, log_det;
    double log_evidence[ERROR_SCALES], top; /* times the weight before; and the greatest */
};

/* One water's say, as a Gaussian on its columns. */
struct say {
    const struct system_log *l;
    struct trial *trials;
    size_t n_trials;
    double *precision, *shift;
    struct test_rows rows; /* of the trial looked at */
};

struct weighing {
    size_t n; /* unknowns */
    struct say *says;
    double *precision, *shift;                           /* of all */
    double *whole, *factor, *line;                       /* spare, [n × n], [n × n], [n] */
    double *prior, *prior_shift, *prior_mean;            /* of one water's columns, by what the others say */
    double *part, *part_factor, *inverse, *mean, *right; /* spare, for one trial of one water */
    double log_error_scale[ERROR_SCALES], error_scale_log_weight[ERROR_SCALES];
    double *blend, *blend_mean; /* covariance and mean of a water's columns over its trials */
};

static const double log_weight_least = -12; /* of the best trial's weight: less is not looked at again */

double error_scale_of(size_t error_scale); /* of a place among ERROR_SCALES */

/* Adds what a water says, times sign, to all. */
void say_embed(const struct say *s, double sign, double *precision, double *shift, size_t n);

/* What the others say of a water's columns: into prior, prior_shift, prior_mean. False: nothing that makes sense. */
bool others_say(struct weighing *w, const struct say *s);

/*
 * The posterior of the columns under one trial: its precision into w->part_factor, factored, and times its mean into
 * w->right.
 */
bool trial_posterior(struct weighing *w, const struct say *s, const struct trial *t, size_t error_scale);

/* Weighs all trials and returns the greatest weight, as a logarithm. again: only those that weighed anything before. */
double trials_weigh(struct weighing *w, struct say *s, bool again);

/* n_draws of a water, in a, against what the others say; *out NULL: nothing is known of it. */
bool say_draw(struct weighing *w, struct say *s, bool again, struct arena *a, const struct water_draw **out,
              struct err *e);

#endif
