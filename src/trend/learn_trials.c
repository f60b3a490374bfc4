/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A water against the others: what they say of it, and how its trials weigh against that. */
#include "trend/learn_weigh.h"

static const double error_scales[] = {0.12, 0.19, 0.3, 0.45, 0.67, 1, 1.5, 2.3, 3.5, 5.5};

_Static_assert(COUNT_OF(error_scales) == ERROR_SCALES, "a scatter for each place");

double error_scale_of(size_t error_scale)
{
    return error_scales[error_scale];
}

void say_embed(const struct say *s, double sign, double *precision, double *shift, size_t n)
{
    size_t m = s->l->n_cols;
    const size_t *at = s->l->unknown;
    for (size_t i = 0; i < m; i++) {
        shift[at[i]] += sign * s->shift[i];
        for (size_t j = 0; j < m; j++)
            precision[at[i] * n + at[j]] += sign * s->precision[i * m + j];
    }
}

bool others_say(struct weighing *w, const struct say *s)
{
    size_t n = w->n, m = s->l->n_cols;
    const size_t *at = s->l->unknown;
    memcpy(w->whole, w->precision, n * n * sizeof *w->whole);
    memcpy(w->line, w->shift, n * sizeof *w->line);
    say_embed(s, -1, w->whole, w->line, n);
    if (!gauss_factor(n, w->whole, w->factor))
        return false;
    gauss_solve(n, w->factor, w->line, w->line);
    for (size_t i = 0; i < m; i++)
        w->prior_mean[i] = w->line[at[i]];
    gauss_invert(n, w->factor, w->whole);
    for (size_t i = 0; i < m; i++)
        for (size_t j = 0; j < m; j++)
            w->part[i * m + j] = w->whole[at[i] * n + at[j]];
    memcpy(w->prior_covariance, w->part, m * m * sizeof *w->prior_covariance);
    bool known = gauss_factor(m, w->part, w->part_factor);
    if (known) {
        gauss_invert(m, w->part_factor, w->prior);
        gauss_solve(m, w->part_factor, w->prior_mean, w->prior_shift);
    }
    return known;
}

void rows_sum(const double *x, const double *y, size_t n_rows, size_t n_cols, double weight, double *precision,
              double *shift)
{
    for (size_t r = 0; r < n_rows; r++, x += n_cols)
        for (size_t i = 0; i < n_cols; i++) {
            shift[i] += weight * x[i] * y[r];
            for (size_t j = 0; j <= i; j++)
                precision[i * n_cols + j] += weight * x[i] * x[j];
        }
}

bool trial_posterior(struct weighing *w, const struct say *s, const struct trial *t, size_t error_scale)
{
    size_t m = s->l->n_cols;
    double weight = 1 / (error_scales[error_scale] * error_scales[error_scale]);
    if (s->few) {
        memcpy(w->right, w->prior_shift, m * sizeof *w->right);
        memcpy(w->part, w->prior, m * m * sizeof *w->part);
        rows_sum(t->x, t->y, s->l->n_rows, m, weight, w->part, w->right);
        return gauss_factor(m, w->part, w->part_factor);
    }
    for (size_t i = 0; i < m; i++) {
        w->right[i] = w->prior_shift[i] + weight * t->shift[i];
        for (size_t j = 0; j <= i; j++)
            w->part[i * m + j] = w->prior[i * m + j] + weight * t->precision[i * m + j];
    }
    return gauss_factor(m, w->part, w->part_factor);
}

/* Its weight before times its evidence, up to what all trials share; as a logarithm. */
static double trial_evidence(struct weighing *w, const struct say *s, const struct trial *t, size_t error_scale)
{
    size_t m = s->l->n_cols;
    double scatter2 = error_scales[error_scale] * error_scales[error_scale];
    double before = t->log_weight + w->error_scale_log_weight[error_scale] - t->log_det / 2;
    if (s->few)
        return before + few_evidence(w, s, scatter2);
    if (!trial_posterior(w, s, t, error_scale))
        return -INFINITY;
    double fit = gauss_solve_half(m, w->part_factor, w->right, w->right);
    return before - (double)s->l->n_rows * w->log_error_scale[error_scale] - t->squares / scatter2 / 2 + fit / 2 -
           gauss_log_det(m, w->part_factor) / 2;
}

/*
 * The weight of a trial with each of its scatters, as logarithms: from a likely one both ways until nothing more is to
 * be expected, for it falls off to both sides. *near: the scatter to begin with, and then the best one.
 */
static void trial_weigh(struct weighing *w, const struct say *s, struct trial *t, double best, size_t *near)
{
    const struct learn_in *in = s->l->in;
    size_t begin = *near, end = in->error_scale_log_sd > 0 ? ERROR_SCALES : begin + 1,
           first = in->error_scale_log_sd > 0 ? 0 : begin;
    if (s->few)
        few_take_up(w, s, t);
    t->top = -INFINITY;
    for (size_t k = 0; k < ERROR_SCALES; k++)
        t->log_evidence[k] = -INFINITY;
    for (int up = 0; up < 2; up++)
        for (size_t n = (size_t)up; up ? begin + n < end : first + n <= begin; n++) {
            size_t k = up ? begin + n : begin - n;
            double here = trial_evidence(w, s, t, k);
            t->log_evidence[k] = here;
            if (here > t->top) {
                t->top = here;
                *near = k;
            } else if (here < fmax(t->top, best) + log_weight_least) {
                break;
            }
        }
}

double trials_weigh(struct weighing *w, struct say *s, bool again)
{
    double best = -INFINITY, before = -INFINITY;
    size_t near = AS_BELIEVED;
    for (size_t i = 0; again && i < s->n_trials; i++)
        before = fmax(before, s->trials[i].top);
    for (size_t i = 0; i < s->n_trials; i++) {
        struct trial *t = &s->trials[i];
        if (again && t->top < before + log_weight_least) {
            t->top = -INFINITY;
            for (size_t k = 0; k < ERROR_SCALES; k++)
                t->log_evidence[k] = -INFINITY;
            continue;
        }
        trial_weigh(w, s, t, best, &near);
        best = fmax(best, t->top);
    }
    return best;
}
