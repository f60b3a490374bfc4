/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Of few tests a posterior is smaller seen from the tests than from the unknowns: with C and μ what the others say of
 * the columns, S = X C Xᵀ + scatter² is the covariance of the rows, whose density at y − X μ is the evidence, and the
 * posterior is μ + C Xᵀ S⁻¹ (y − X μ), C − C Xᵀ S⁻¹ X C (Rasmussen and Williams 2006, Gaussian Processes for Machine
 * Learning, section 2.1.2: the kernel's form of the same regression). A scatter only changes what is in S.
 */
#include "trend/learn_weigh.h"

bool few_open(struct weighing *w, size_t n, struct arena *a)
{
    w->few = (struct few){.cross = arena_alloc(a, n, n * sizeof(double)),
                          .within = arena_alloc(a, n, n * sizeof(double)),
                          .miss = arena_alloc(a, n, sizeof(double)),
                          .spread = arena_alloc(a, n, n * sizeof(double)),
                          .pull = arena_alloc(a, n, sizeof(double))};
    return w->few.cross && w->few.within && w->few.miss && w->few.spread && w->few.pull;
}

static double product(const double *x, const double *y, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += x[i] * y[i];
    return sum;
}

void few_take_up(struct weighing *w, const struct say *s, const struct trial *t)
{
    size_t m = s->l->n_cols, n = s->l->n_rows;
    struct few *few = &w->few;
    for (size_t r = 0; r < n; r++) {
        const double *x = t->x + r * m;
        few->miss[r] = t->y[r] - product(x, w->prior_mean, m);
        for (size_t c = 0; c < m; c++)
            few->cross[r * m + c] = product(x, w->prior_covariance + c * m, m);
        for (size_t q = 0; q <= r; q++)
            few->within[r * n + q] = product(few->cross + r * m, t->x + q * m, m);
    }
    memset(few->spread, 0, n * n * sizeof *few->spread);
    memset(few->pull, 0, n * sizeof *few->pull);
}

/* S, factored, into w->part_factor. */
static bool rows_factor(struct weighing *w, const struct say *s, double scatter2)
{
    size_t n = s->l->n_rows;
    memcpy(w->part, w->few.within, n * n * sizeof *w->part);
    for (size_t r = 0; r < n; r++)
        w->part[r * n + r] += scatter2;
    return gauss_factor(n, w->part, w->part_factor);
}

double few_evidence(struct weighing *w, const struct say *s, double scatter2)
{
    size_t n = s->l->n_rows;
    if (!rows_factor(w, s, scatter2))
        return -INFINITY;
    return -gauss_solve_half(n, w->part_factor, w->few.miss, w->right) / 2 - gauss_log_det(n, w->part_factor) / 2;
}

void few_blend_add(struct weighing *w, const struct say *s, double scatter2, double weight)
{
    size_t n = s->l->n_rows;
    rows_factor(w, s, scatter2);
    gauss_solve(n, w->part_factor, w->few.miss, w->right);
    gauss_invert(n, w->part_factor, w->inverse);
    for (size_t r = 0; r < n; r++) {
        w->few.pull[r] += weight * w->right[r];
        for (size_t q = 0; q < n; q++)
            w->few.spread[r * n + q] += weight * (w->right[r] * w->right[q] - w->inverse[r * n + q]);
    }
}

void few_mean(const struct weighing *w, const struct say *s, const double *pull, double *mean)
{
    size_t m = s->l->n_cols;
    for (size_t r = 0; r < s->l->n_rows; r++)
        for (size_t c = 0; c < m; c++)
            mean[c] += w->few.cross[r * m + c] * pull[r];
}

void few_blend_end(struct weighing *w, const struct say *s, double weight)
{
    size_t m = s->l->n_cols, n = s->l->n_rows;
    for (size_t i = 0; i < m * m; i++)
        w->blend[i] += weight * w->prior_covariance[i];
    few_mean(w, s, w->few.pull, w->blend_mean);
    for (size_t r = 0; r < n; r++)
        for (size_t d = 0; d < m; d++) {
            double sum = 0;
            for (size_t q = 0; q < n; q++)
                sum += w->few.spread[r * n + q] * w->few.cross[q * m + d];
            for (size_t c = 0; c < m; c++)
                w->blend[c * m + d] += w->few.cross[r * m + c] * sum;
        }
}
