/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Draws of a water from the blend of its trials: for a forecast, which must leave open what the tests leave open. */
#include "trend/learn_weigh.h"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

struct drawing {
    struct weighing *w;
    struct say *s;
    gsl_rng *rng;
    struct water_draw *draws;
    double *effects; /* [n_draws × n_foods] */
    double *unknown; /* [n_cols] in the sd of their priors */
};

static bool drawing_open(struct drawing *d, struct arena *a, struct err *e)
{
    const struct learn_in *in = d->s->l->in;
    size_t n = (size_t)in->n_draws;
    d->draws = arena_alloc(a, n, sizeof *d->draws);
    d->effects = arena_alloc(a, n, (in->n_foods + 1) * sizeof *d->effects);
    d->unknown = arena_alloc(a, d->s->l->n_cols, sizeof *d->unknown);
    if (!d->draws || !d->effects || !d->unknown)
        return err_memory(e);
    d->rng = gsl_rng_alloc(gsl_rng_mt19937);
    if (!d->rng)
        return err_memory(e);
    gsl_rng_set(d->rng, in->seed + d->s->l->system);
    return true;
}

/*
 * What the unknowns are of: the foods' effects, and the background. A food never given here is as believed; it moves
 * nothing.
 */
static void unknowns_take(const struct drawing *d, struct water_draw *draw, double *effects)
{
    const struct system_log *l = d->s->l;
    const struct learn_in *in = l->in;
    for (size_t i = 0; i < in->n_foods; i++)
        effects[i] = in->priors[i].mean;
    draw->background_per_d = in->background.mean;
    for (size_t c = 0; c < l->n_cols; c++) {
        size_t unknown = l->unknown[c];
        *(unknown < in->n_foods ? &effects[unknown] : &draw->background_per_d) +=
            learn_prior_sd(in, unknown) * d->unknown[c];
    }
    draw->effects = effects;
}

/* Level and drift given the unknowns: a pair of Gaussians that hang together. */
static void water_take(const struct drawing *d, const struct water_now *now, double error_scale,
                       struct water_draw *draw)
{
    size_t m = d->s->l->n_cols;
    double test_sd = d->s->l->in->systems[d->s->l->system].test_sd, level = now->level[m], drift = now->drift[m];
    for (size_t c = 0; c < m; c++) {
        level += now->level[c] * d->unknown[c];
        drift += now->drift[c] * d->unknown[c];
    }
    double level_sd = sqrt(fmax(now->level2, 0)), with = level_sd > 0 ? now->both / level_sd : 0;
    double alone = sqrt(fmax(now->drift2 - with * with, 0));
    double z = gsl_ran_gaussian_ziggurat(d->rng, 1), y = gsl_ran_gaussian_ziggurat(d->rng, 1);
    draw->level = fmax((level + error_scale * level_sd * z) * test_sd, 0);
    draw->drift_per_d = (drift + error_scale * (with * z + alone * y)) * test_sd;
}

/* The draws [first, end) all come of one trial with one scatter. */
static void trial_draw(struct drawing *d, const struct trial *t, size_t error_scale, const struct water_now *now,
                       size_t first, size_t end)
{
    const struct system_log *l = d->s->l;
    size_t m = l->n_cols;
    double unit = error_scale_of(error_scale) * l->in->systems[l->system].test_sd;
    trial_posterior(d->w, d->s, t, error_scale); /* its evidence is a number: it has one */
    gauss_solve(m, d->w->part_factor, d->w->right, d->w->mean);
    for (size_t i = first; i < end; i++) {
        struct water_draw *draw = &d->draws[i];
        for (size_t c = 0; c < m; c++)
            d->unknown[c] = gsl_ran_gaussian_ziggurat(d->rng, 1);
        gauss_solve_back(m, d->w->part_factor, d->unknown, d->unknown);
        for (size_t c = 0; c < m; c++)
            d->unknown[c] += d->w->mean[c];
        *draw = (struct water_draw){.drift_sd_per_d = t->water.drift * unit,
                                    .uptake_per_d = t->water.uptake_per_d,
                                    .shock_sd = t->water.shock * unit,
                                    .test_sd = unit};
        unknowns_take(d, draw, d->effects + i * l->in->n_foods);
        water_take(d, now, error_scale_of(error_scale), draw);
    }
}

static double weight_of(const struct trial *t, size_t error_scale, double best)
{
    return isfinite(t->log_evidence[error_scale]) ? exp(t->log_evidence[error_scale] - best) : 0;
}

/*
 * Each trial as often as it weighs: evenly spaced places along the sum of the weights, which begin at a place drawn.
 * The last of them lies below the sum by more than what rounding may add: all draws are made.
 */
static void trials_draw(struct drawing *d, double best)
{
    const struct say *s = d->s;
    size_t n = (size_t)s->l->in->n_draws, made = 0;
    double total = 0, sum = 0, place = gsl_rng_uniform(d->rng);
    for (size_t i = 0; i < s->n_trials; i++)
        for (size_t k = 0; k < ERROR_SCALES; k++)
            total += weight_of(&s->trials[i], k, best);
    for (size_t i = 0; i < s->n_trials; i++) {
        struct water_now now = {0}; /* the same for every scatter of a trial; looked for where it is drawn at all */
        for (size_t k = 0; k < ERROR_SCALES; k++) {
            size_t first = made;
            sum += weight_of(&s->trials[i], k, best);
            while (made < n && ((double)made + place) / (double)n * total < sum)
                made++;
            if (made > first && !now.level)
                system_water_now(s->l, &s->trials[i].water, s->l->in->now_min, &d->s->rows, &now);
            if (made > first)
                trial_draw(d, &s->trials[i], k, &now, first, made);
        }
    }
}

bool say_draw(struct weighing *w, struct say *s, bool again, struct arena *a, const struct water_draw **out,
              struct err *e)
{
    struct drawing d = {.w = w, .s = s};
    *out = NULL;
    if (s->l->n_rows == 0 || !others_say(w, s))
        return true;
    double best = trials_weigh(w, s, again);
    if (!isfinite(best))
        return true;
    if (!drawing_open(&d, a, e))
        return false;
    trials_draw(&d, best);
    gsl_rng_free(d.rng);
    *out = d.draws;
    return true;
}
