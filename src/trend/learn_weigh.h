/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Inside the trend floor: the trials of a water, each with its weight, and what the waters say of the unknowns
 * together.
 */
#ifndef TREND_LEARN_WEIGH_H
#define TREND_LEARN_WEIGH_H

#include "trend/learn.h"

enum { ERROR_SCALES = 10, AS_BELIEVED = 5 };

/* A trial of a water, without its scatter, which is but a scale: what the rows say. Few rows are kept as they are. */
struct trial {
    struct water_trial water;
    double log_weight;         /* before the log speaks */
    double *precision, *shift; /* Σ x xᵀ, Σ x y: [n_cols × n_cols], [n_cols]; NULL of few rows */
    double *x, *y;             /* [n_rows × n_cols], [n_rows]; else NULL */
    double squares, log_det;
    double log_evidence[ERROR_SCALES], top; /* times the weight before; and the greatest */
};

/* One water's say, as a Gaussian on its columns. */
struct say {
    const struct system_log *l;
    bool few; /* no more rows than columns: it is cheaper to reckon with the rows (learn_few.c) */
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
    double *prior_covariance;                            /* the inverse of prior */
    double *part, *part_factor, *inverse, *mean, *right; /* spare, for one trial of one water */
    double log_error_scale[ERROR_SCALES], error_scale_log_weight[ERROR_SCALES];
    double *blend, *blend_mean; /* covariance and mean of a water's columns over its trials */
    struct few {
        /* of the trial taken up: X C, X C Xᵀ (its lower half) and y − X μ, see learn_few.c */
        double *cross, *within, *miss;
        double *spread, *pull; /* Σ S⁻¹ (miss missᵀ − S) S⁻¹ and Σ S⁻¹ miss, over its scatters by their weights */
    } few;
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

/* Adds what rows say: Σ x xᵀ (its lower half) and Σ x y, times weight. */
void rows_sum(const double *x, const double *y, size_t n_rows, size_t n_cols, double weight, double *precision,
              double *shift);

/*
 * The same of few rows, in as many dimensions as there are rows. A trial is taken up once for all its scatters, and
 * what is blended of them is laid out over the columns once: as a Gaussian about the prior's mean.
 */
bool few_open(struct weighing *w, size_t n_cols, struct arena *a);
void few_take_up(struct weighing *w, const struct say *s, const struct trial *t);
double few_evidence(struct weighing *w, const struct say *s, double scatter2);               /* its rows' part of it */
void few_blend_add(struct weighing *w, const struct say *s, double scatter2, double weight); /* pull: w->right */
void few_blend_end(struct weighing *w, const struct say *s, double weight);

/* Adds to mean [n_cols] what the rows' pull moves it by. */
void few_mean(const struct weighing *w, const struct say *s, const double *pull, double *mean);

/* Weighs all trials and returns the greatest weight, as a logarithm. again: only those that weighed anything before. */
double trials_weigh(struct weighing *w, struct say *s, bool again);

/* n_draws of a water, in a, against what the others say; *out NULL: nothing is known of it. */
bool say_draw(struct weighing *w, struct say *s, bool again, struct arena *a, const struct water_draw **out,
              struct err *e);

#endif
