/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pettitt 1979: a rank test for one change of level, and where it was. */
#include "trend/rank.h"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

enum { SHUFFLES = 999, SHUFFLED_MAX = 60, SHUFFLE_SEED = 1979 };

struct step_split {
    size_t at; /* first of the second part; 0: none is allowed */
    double k;
};

/* The allowed split of greatest |Σ score|; of equals the first. Readings of one moment stay together. */
static struct step_split split_best(const struct point *p, size_t n, size_t min_side, const double *score)
{
    struct step_split best = {0, 0};
    double sum = 0;
    for (size_t i = 1; i < n; i++) {
        sum += score[i - 1];
        if (i >= min_side && n - i >= min_side && p[i].t > p[i - 1].t && fabs(sum) > best.k)
            best = (struct step_split){i, fabs(sum)};
    }
    return best;
}

/* How often readings in random order split as well as these. shuffled: room for n. */
static bool chance_by_shuffling(const struct point *p, size_t n, size_t min_side, const double *score, double *shuffled,
                                double *chance, double k, struct err *e)
{
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    size_t as_good = 1;
    if (!rng)
        return err_memory(e);
    gsl_rng_set(rng, SHUFFLE_SEED);
    memcpy(shuffled, score, n * sizeof *score);
    for (int i = 0; i < SHUFFLES; i++) {
        gsl_ran_shuffle(rng, shuffled, n, sizeof *shuffled);
        as_good += split_best(p, n, min_side, shuffled).k >= k;
    }
    gsl_rng_free(rng);
    *chance = (double)as_good / (SHUFFLES + 1);
    return true;
}

static double misfit_of(const struct point *p, size_t n, double level)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += fabs(point_residual(&p[i], level));
    return sum;
}

static bool find_in_order(const struct point *p, size_t n, size_t min_side, double worth, double *room,
                          struct step *out, struct err *e)
{
    double *score = room, *spare = room + n, m = (double)n;
    if (!points_score(p, n, score, e))
        return false;
    struct step_split s = split_best(p, n, min_side, score);
    *out = (struct step){.found = s.at > 0, .p = 1};
    if (!out->found)
        return true;
    out->first_after = s.at;
    out->k = s.k;
    out->before = median_of_points(p, s.at, spare);
    out->after = median_of_points(p + s.at, n - s.at, spare);
    out->misfit = misfit_of(p, s.at, out->before) + misfit_of(p + s.at, n - s.at, out->after);
    if (out->misfit >= worth)
        return true;
    out->p = fmin(1, 2 * exp(-6 * s.k * s.k / (m * m * m + m * m)));
    return n > SHUFFLED_MAX || chance_by_shuffling(p, n, min_side, score, spare, &out->p, s.k, e);
}

bool step_find(const struct point *points, size_t n, size_t min_side, double worth, struct step *out, struct err *e)
{
    struct point *p = points_in_order(points, n, e);
    if (!p)
        return false;
    double *room = n > SIZE_MAX / (3 * sizeof *room) ? NULL : malloc(3 * n * sizeof *room);
    bool ok = room ? find_in_order(p, n, min_side > 0 ? min_side : 1, worth, room, out, e) : err_memory(e);
    free(room);
    free(p);
    return ok;
}
