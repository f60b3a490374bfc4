/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Inside the trend floor: a system's log as rows of a regression, and the properties of its water that bend them. */
#ifndef TREND_LEARN_H
#define TREND_LEARN_H

#include "trend/gauss.h"

/*
 * The unknowns are counted in the sd of their priors from the priors' means, so that all begin as standard normal: the
 * foods, the shared background, then what each system's background is apart from it (where there are several systems).
 */
static inline size_t learn_unknowns(const struct learn_in *in)
{
    return in->n_foods + 1 + (in->n_systems > 1 ? in->n_systems : 0);
}

/* The sd of an unknown's prior, in the unknown's own unit. */
static inline double learn_prior_sd(const struct learn_in *in, size_t unknown)
{
    return unknown < in->n_foods ? in->priors[unknown].sd : unknown == in->n_foods ? in->background.sd : in->apart_sd;
}

/* What waiting leaves of a level, and what a steady source adds in that time, per unit a day. */
struct waited {
    double kept, gain;
};
static inline struct waited waited_of(double uptake_per_d, double days)
{
    double kept = exp(-uptake_per_d * days);
    return (struct waited){kept, uptake_per_d > 0 ? (1 - kept) / uptake_per_d : days};
}

/* One system's log by moment, in the arena, and the unknowns that bear on it. */
struct system_log {
    const struct learn_in *in;
    size_t system;
    struct reading *readings; /* by the method in use at their time */
    size_t n_readings;
    struct water_change *changes;
    struct food_given *feedings; /* food: a column of this log */
    size_t n_feedings;           /* those of amounts above 0 */
    size_t *unknown;             /* [n_cols] which unknown a column is; the foods given, then the backgrounds */
    size_t n_cols, n_rows;
};
bool system_log_open(const struct learn_in *in, size_t system, struct arena *a, struct system_log *out, struct err *e);

/* Is there a stretch from reading i to the next? */
bool stretch_usable(const struct system_log *l, size_t i);

/* The drift forgets itself within about this long: a source turns with the year; our own choice. */
enum { DRIFT_D = 365 };

/* What a water may do besides; levels and their changes in errors of its test. */
struct water_trial {
    double uptake_per_d; /* part of the level that is taken up a day */
    double drift;        /* sd of the slow drift of the background, a day */
    double shock;        /* sd of what goes on unlogged, per √day */
};

/* Rows that are independent and scatter by one test error: y = x · unknowns + noise. */
struct test_rows {
    double *x, *y;    /* [n_rows × n_cols], [n_rows] */
    double log_det;   /* of the covariance of the tests, in test errors */
    double *channels; /* spare */
};
bool test_rows_open(const struct system_log *l, struct arena *a, struct test_rows *out, struct err *e);
void test_rows_make(const struct system_log *l, const struct water_trial *t, struct test_rows *out);

/*
 * Level and drift at a moment after all tests, in test errors as believed: each is [n_cols] + Σ column × unknown, from
 * a filter that has seen the tests. The covariance of the two, in test errors as they scatter.
 */
struct water_now {
    const double *level, *drift; /* [n_cols + 1], in rows' spare: until rows are made again */
    double level2, both, drift2;
};
void system_water_now(const struct system_log *l, const struct water_trial *t, long now_min, struct test_rows *rows,
                      struct water_now *out);

/* What the log says of one water, and which trial it goes best with. */
struct water_found {
    struct water_trial best;
    double error_scale;  /* of best: test errors, of what they are believed to be */
    double *mean;        /* [n_cols] of best: the unknowns as they stand with it; uptake and background go together */
    double uptake_per_d; /* mean over the trials */
    double error_scale2; /* mean of scatter² */
    const struct water_draw *draws; /* [n_draws] where asked for; NULL: nothing is known of it */
};

/* The belief in all unknowns: mean and covariance, [n] and [n × n], and the precision. */
struct belief {
    size_t n;
    double *mean, *covariance, *precision;
};

/* Weighs the trials of every water by how well its tests go with them. found: [n_systems]. */
bool learn_weigh(const struct system_log *logs, size_t n_systems, struct arena *a, struct belief *out,
                 struct water_found *found, struct err *e);

#endif
