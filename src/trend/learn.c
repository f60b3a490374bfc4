/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Bayesian linear regression with Gaussian priors (Gelman et al., Bayesian Data Analysis, 3rd ed., section 14.8),
 * blended over what the waters may do besides; which claims it allows, and which foods it cannot tell apart.
 */
#include "trend/learn.h"
#include "trend/series.h"

#include <gsl/gsl_cdf.h>

/* Our own choices; docs/trend.md says what they do. */
static const double CLAIM_WEIGHT = 0.5;       /* the data weigh half or more */
static const double COLLINEAR_UNKNOWN = 0.5;  /* of the prior variance is left in the worst mixture of the two */
static const double COLLINEAR_COSINE = 0.995; /* proportions that vary by a tenth */
static const double COLLINEAR_CORRELATION = -0.7;
static const double SCATTER_P = 0.05;
static const double MISFIT_P = 0.01;
static const double MOST_RAISED = 2; /* a proposal at most doubles a food */

enum { MISFIT_LAGS = 3 };

/* What was given of a food in the stretches used. */
struct food_amounts {
    double amount, per_l; /* in all; and in all ÷ volume */
    size_t times;
};

/*
 * All rows as they stand with what goes best with each water: for what two columns have in common, and for the misfit.
 */
struct design {
    size_t rows, cols;
    double *x;                    /* unknowns in the sd of their priors */
    double *left;                 /* [rows] what the unknowns leave unexplained */
    size_t *system;               /* [rows] */
    struct food_amounts *given;   /* [foods] */
    double mean_d, mean_variance; /* of a stretch: days, and noise, (mg/L)² */
};

/* ---- checks ---- */

static bool prior_check(const char *what, size_t i, const struct effect_prior *p, struct err *e)
{
    if (!isfinite(p->mean) || !isfinite(p->sd) || p->sd <= 0)
        return err_set(e, ERR_INPUT, NULL, "%s %zu is believed to be %g ± %g; expected numbers, and a spread above 0",
                       what, i + 1, p->mean, p->sd);
    return true;
}

static bool scales_check(const struct learn_in *in, struct err *e)
{
    const struct {
        const char *what;
        double value;
    } most_zero[] = {{"what systems' backgrounds lie apart", in->apart_sd},
                     {"the uptake expected", in->uptake_mean_per_d},
                     {"how unsure the scatter is", in->error_scale_log_sd}};
    for (size_t i = 0; i < COUNT_OF(most_zero); i++)
        if (!(most_zero[i].value >= 0) || !isfinite(most_zero[i].value))
            return err_set(e, ERR_INPUT, NULL, "%s is %g; expected 0 or more", most_zero[i].what, most_zero[i].value);
    if (!(in->confidence_frac > 0 && in->confidence_frac < 1))
        return err_set(e, ERR_INPUT, NULL, "confidence is %g; expected a fraction between 0 and 1",
                       in->confidence_frac);
    return prior_check("background", 0, &in->background, e);
}

static bool system_check(const struct learn_in *in, const struct learn_system *s, struct err *e)
{
    if (!(s->volume_l > 0) || !isfinite(s->volume_l))
        return err_set(e, ERR_INPUT, NULL, "volume is %g L; expected more than 0", s->volume_l);
    if (!(s->test_sd > 0) || !isfinite(s->test_sd))
        return err_set(e, ERR_INPUT, NULL, "the scatter of a test is %g; expected more than 0", s->test_sd);
    for (size_t i = 0; i < s->n_readings; i++)
        if (!isfinite(s->readings[i].value) || s->readings[i].value < 0)
            return err_set(e, ERR_INPUT, NULL, "reading %zu is %g; expected 0 or more", i + 1, s->readings[i].value);
    for (size_t i = 0; i < s->n_changes; i++)
        if (!(s->changes[i].exchanged_frac >= 0 && s->changes[i].exchanged_frac < 1) ||
            !(s->changes[i].new_value >= 0) || !isfinite(s->changes[i].new_value))
            return err_set(e, ERR_INPUT, NULL,
                           "water change %zu is %g of the volume with water of %g; expected 0 to "
                           "below 1, and 0 or more",
                           i + 1, s->changes[i].exchanged_frac, s->changes[i].new_value);
    for (size_t i = 0; i < s->n_feedings; i++)
        if (s->feedings[i].food >= in->n_foods || !(s->feedings[i].amount >= 0) || !isfinite(s->feedings[i].amount))
            return err_set(e, ERR_INPUT, NULL, "feeding %zu is %g of food %zu; expected 0 or more of food 1 to %zu",
                           i + 1, s->feedings[i].amount, s->feedings[i].food + 1, in->n_foods);
    return true;
}

static bool learn_check(const struct learn_in *in, struct err *e)
{
    if (in->n_systems == 0)
        return err_set(e, ERR_INPUT, NULL, "there is no water to learn from; expected one or more");
    if (in->n_systems > 1 && !(in->apart_sd > 0))
        return err_set(e, ERR_INPUT, NULL, "several waters lie %g apart; expected more than 0", in->apart_sd);
    for (size_t i = 0; i < in->n_systems; i++)
        if (!system_check(in, &in->systems[i], e))
            return false;
    for (size_t i = 0; i < in->n_foods; i++)
        if (!prior_check("food", i, &in->priors[i], e))
            return false;
    return scales_check(in, e);
}

/* ---- the rows as they stand ---- */

static void count_given(const struct system_log *l, struct design *d)
{
    const struct learn_system *s = &l->in->systems[l->system];
    size_t at = 0;
    for (size_t i = 0; i + 1 < l->n_readings; i++)
        for (; at < l->n_feedings && l->feedings[at].moment_min < l->readings[i + 1].moment_min; at++) {
            struct food_amounts *g = &d->given[l->unknown[l->feedings[at].food]];
            if (l->feedings[at].moment_min < l->readings[i].moment_min || !stretch_usable(l, i))
                continue;
            g->amount += l->feedings[at].amount;
            g->per_l += l->feedings[at].amount / s->volume_l;
            g->times++;
        }
}

/* Adds the noise of a water's stretches, so that the means may be taken. */
static void count_noise(const struct system_log *l, const struct water_found *found, struct design *d)
{
    const struct learn_system *s = &l->in->systems[l->system];
    double unit = found->error_scale * s->test_sd;
    for (size_t i = 0; i + 1 < l->n_readings; i++) {
        double days = days_from(l->readings[i + 1].moment_min, l->readings[i].moment_min);
        double shocks = found->best.shock * found->best.shock * days, drift = found->best.drift * days;
        if (!stretch_usable(l, i))
            continue;
        d->mean_d += days;
        d->mean_variance += unit * unit * (2 + shocks + drift * drift);
    }
}

static bool design_add(const struct system_log *l, const struct water_found *found, struct design *d, struct arena *a,
                       struct err *e)
{
    struct test_rows rows;
    if (!test_rows_open(l, a, &rows, e))
        return false;
    test_rows_make(l, &found->best, &rows);
    for (size_t r = 0; r < l->n_rows; r++, d->rows++) {
        d->left[d->rows] = rows.y[r] / found->error_scale;
        for (size_t c = 0; c < l->n_cols; c++) {
            double x = rows.x[r * l->n_cols + c] / found->error_scale;
            d->x[d->rows * d->cols + l->unknown[c]] = x;
            d->left[d->rows] -= x * found->mean[c];
        }
        d->system[d->rows] = l->system;
    }
    count_given(l, d);
    count_noise(l, found, d);
    return true;
}

static bool design_make(const struct system_log *logs, const struct water_found *found, struct arena *a,
                        struct design *d, struct err *e)
{
    const struct learn_in *in = logs[0].in;
    size_t rows = 0;
    for (size_t i = 0; i < in->n_systems; i++)
        rows += logs[i].n_rows;
    *d = (struct design){.cols = learn_unknowns(in)};
    d->x = arena_alloc(a, rows, d->cols * sizeof *d->x);
    d->left = arena_alloc(a, rows, sizeof *d->left);
    d->system = arena_alloc(a, rows, sizeof *d->system);
    d->given = arena_alloc(a, in->n_foods, sizeof *d->given);
    if (!d->x || !d->left || !d->system || !d->given)
        return err_memory(e);
    for (size_t i = 0; i < in->n_systems; i++)
        if (!design_add(&logs[i], &found[i], d, a, e))
            return false;
    if (d->rows > 0) {
        d->mean_d /= (double)d->rows;
        d->mean_variance /= (double)d->rows;
    }
    return true;
}

/* ---- does the log go with the model at all? ---- */

/*
 * What is left of the tests must not hang together from one to the next: if it does, something moved the water that the
 * model has no word for. Ljung and Box 1978, Biometrika 65, 297–303, summed over the waters.
 */
static void misfit_find(const struct design *d, struct learned *out)
{
    const double *left = d->left;
    double q = 0, degrees = 0;
    for (size_t first = 0, end = 0; first < d->rows; first = end) {
        while (end < d->rows && d->system[end] == d->system[first])
            end++;
        double n = (double)(end - first), squares = 0;
        for (size_t r = first; r < end; r++)
            squares += left[r] * left[r];
        for (size_t lag = 1; lag <= MISFIT_LAGS && end - first > 4 * MISFIT_LAGS && squares > 0; lag++) {
            double together = 0;
            for (size_t r = first + lag; r < end; r++)
                together += left[r] * left[r - lag];
            q += n * (n + 2) * together / squares * together / squares / (n - (double)lag);
            degrees++;
        }
    }
    out->misfit_p = degrees > 0 ? gsl_cdf_chisq_Q(q, degrees) : 1;
    out->misfit = out->misfit_p < MISFIT_P;
}

static void error_scale_find(const struct system_log *logs, const struct water_found *found, struct learned *out)
{
    double sum = 0, n = 0;
    for (size_t i = 0; i < logs[0].in->n_systems; i++) {
        sum += found[i].error_scale2 * (double)logs[i].n_rows;
        n += (double)logs[i].n_rows;
    }
    out->error_scale_ratio = n > 0 ? sum / n : 1;
    out->error_scale_high = n > 0 && gsl_cdf_chisq_Q(sum, n) < SCATTER_P;
}

static struct effect effect_of(const struct learn_in *in, const struct belief *b, size_t j)
{
    double mean = j < in->n_foods ? in->priors[j].mean : in->background.mean, sd = learn_prior_sd(in, j);
    double variance = b->covariance[j * b->n + j], z = gsl_cdf_ugaussian_Pinv((1 + in->confidence_frac) / 2);
    struct effect f = {.mean = mean + sd * b->mean[j], .sd = sd * sqrt(variance)};
    f.lo = f.mean - z * f.sd;
    f.hi = f.mean + z * f.sd;
    f.data_weight_frac = fmin(fmax(1 - variance, 0), 1);
    f.moved_sd = b->mean[j];
    return f;
}

/* ---- foods that cannot be told apart ---- */

static double column_cosine(const struct design *d, size_t i, size_t j)
{
    double ii = 0, jj = 0, ij = 0;
    for (size_t r = 0; r < d->rows; r++) {
        const double *row = d->x + r * d->cols;
        ii += row[i] * row[i];
        jj += row[j] * row[j];
        ij += row[i] * row[j];
    }
    return ii > 0 && jj > 0 ? ij / sqrt(ii * jj) : 0;
}

/* Greatest part of the prior variance that is left in any mixture of the two: an eigenvalue of the 2 × 2. */
static double unknown_part(const struct belief *b, size_t i, size_t j)
{
    double x = b->covariance[i * b->n + i], y = b->covariance[j * b->n + j], xy = b->covariance[i * b->n + j];
    return (x + y) / 2 + sqrt((x - y) * (x - y) / 4 + xy * xy);
}

static double raised(double usual, double other_load, double effect)
{
    double wanted = effect != 0 ? usual + other_load / effect : usual;
    return fmin(fmax(wanted, usual), MOST_RAISED * usual);
}

/* One more stretch of middling length: all as usual but what is named. */
static void stretch_propose(const struct learn_in *in, const struct design *d, const struct collinear *t,
                            double food_per_l, double other_per_l, double *row)
{
    double sd = sqrt(d->mean_variance), stretches = (double)d->rows;
    for (size_t j = 0; j < in->n_foods; j++)
        row[j] = learn_prior_sd(in, j) * d->given[j].per_l / stretches / sd;
    row[in->n_foods] = learn_prior_sd(in, in->n_foods) * d->mean_d / sd;
    for (size_t j = in->n_foods + 1; j < d->cols; j++)
        row[j] = learn_prior_sd(in, j) * d->mean_d / (double)in->n_systems / sd;
    row[t->food] = learn_prior_sd(in, t->food) * food_per_l / sd;
    if (t->other != LEARN_BACKGROUND)
        row[t->other] = learn_prior_sd(in, t->other) * other_per_l / sd;
}

/* per_l: of food and other in their stretches. */
static bool sd_after_proposal(const struct learn_in *in, const struct design *d, const struct belief *b,
                              const struct collinear *t, const double per_l[2], struct arena *a, double *sd,
                              struct err *e)
{
    size_t n = b->n;
    bool background = t->other == LEARN_BACKGROUND;
    double *more = arena_alloc(a, n, n * sizeof *more), *row = arena_alloc(a, n, sizeof *row);
    if (!more || !row)
        return err_memory(e);
    memcpy(more, b->precision, n * n * sizeof *more);
    for (int k = 0; k < 2; k++) {
        stretch_propose(in, d, t, (k == 0) == background ? 0 : per_l[0], k == 1 ? per_l[1] : 0, row);
        for (size_t i = 0; i < n; i++)
            for (size_t j = 0; j < n; j++)
                more[i * n + j] += row[i] * row[j];
    }
    for (size_t i = 0; i < n; i++)
        row[i] = i == t->food;
    if (!gauss_factor(n, more, more))
        return err_set(e, ERR_INPUT, NULL, "the log's numbers are too far apart to reckon with");
    gauss_solve(n, more, row, row);
    *sd = learn_prior_sd(in, t->food) * sqrt(row[t->food]);
    return true;
}

static bool collinear_propose(const struct learn_in *in, const struct design *d, const struct belief *b,
                              struct arena *a, struct collinear *t, struct err *e)
{
    size_t i = t->food, j = t->other;
    double stretches = (double)d->rows, usual[2] = {d->given[i].per_l / stretches, 0}, per_l[2] = {usual[0], 0};
    struct effect food = effect_of(in, b, i);
    if (j != LEARN_BACKGROUND) {
        struct effect other = effect_of(in, b, j);
        usual[1] = d->given[j].per_l / stretches;
        per_l[0] = raised(usual[0], usual[1] * other.mean, food.mean);
        per_l[1] = raised(usual[1], usual[0] * food.mean, other.mean);
        t->amount_food = d->given[i].amount / (double)d->given[i].times * per_l[0] / usual[0];
        t->amount_other = d->given[j].amount / (double)d->given[j].times * per_l[1] / usual[1];
    }
    t->sd_now = food.sd;
    return sd_after_proposal(in, d, b, t, per_l, a, &t->sd_after, e);
}

static int collinear_compare(const void *a, const void *b)
{
    const struct collinear *x = a, *y = b;
    if (x->cosine != y->cosine)
        return x->cosine > y->cosine ? -1 : 1;
    if (x->food != y->food)
        return x->food < y->food ? -1 : 1;
    return (x->other > y->other) - (x->other < y->other);
}

static bool is_collinear(const struct learn_in *in, const struct design *d, const struct belief *b, size_t i, size_t j,
                         struct collinear *t)
{
    double both = b->covariance[i * b->n + i] * b->covariance[j * b->n + j];
    if (d->given[i].times == 0 || (j < in->n_foods && d->given[j].times == 0))
        return false;
    *t = (struct collinear){.food = i, .other = j < in->n_foods ? j : LEARN_BACKGROUND};
    t->cosine = column_cosine(d, i, j);
    t->correlation = b->covariance[i * b->n + j] / sqrt(both);
    return unknown_part(b, i, j) > COLLINEAR_UNKNOWN &&
           (t->cosine > COLLINEAR_COSINE || t->correlation < COLLINEAR_CORRELATION);
}

/* A food may be collinear with the shared background and with those of systems: that is told once. */
static bool collinears_find(const struct learn_in *in, const struct design *d, const struct belief *b, struct arena *a,
                            struct learned *out, struct err *e)
{
    struct collinear *found = arena_alloc(a, in->n_foods, d->cols * sizeof *found);
    if (!found)
        return err_memory(e);
    for (size_t i = 0; i < in->n_foods; i++)
        for (size_t j = i + 1, told = 0; j < d->cols && !told; j++) {
            if (!is_collinear(in, d, b, i, j, &found[out->n_collinears]))
                continue;
            if (!collinear_propose(in, d, b, a, &found[out->n_collinears], e))
                return false;
            told = found[out->n_collinears++].other == LEARN_BACKGROUND;
        }
    qsort(found, out->n_collinears, sizeof *found, collinear_compare);
    out->collinears = found;
    return true;
}

/* ---- what is told ---- */

static bool in_collinear(const struct learned *l, size_t food)
{
    for (size_t k = 0; k < l->n_collinears; k++)
        if (l->collinears[k].food == food || l->collinears[k].other == food)
            return true;
    return false;
}

static bool effects_report(const struct learn_in *in, const struct design *d, const struct belief *b, struct arena *a,
                           struct learned *out, struct err *e)
{
    struct effect *effects = arena_alloc(a, in->n_foods, sizeof *effects);
    if (!effects)
        return err_memory(e);
    for (size_t j = 0; j <= in->n_foods; j++) {
        struct effect f = effect_of(in, b, j);
        bool collinear = in_collinear(out, j < in->n_foods ? j : LEARN_BACKGROUND);
        f.fed = j == in->n_foods ? d->rows > 0 : d->given[j].times > 0;
        f.claim = f.fed && !collinear && !out->misfit && f.data_weight_frac >= CLAIM_WEIGHT && (f.lo > 0 || f.hi < 0);
        *(j == in->n_foods ? &out->background : &effects[j]) = f;
    }
    out->effects = effects;
    return true;
}

static bool waters_report(const struct learn_in *in, const struct water_found *found, struct arena *a,
                          struct learned *out, struct err *e)
{
    double *uptake = arena_alloc(a, in->n_systems, sizeof *uptake);
    const struct water_draw **draws = arena_alloc(a, in->n_systems, sizeof *draws);
    if (!uptake || !draws)
        return err_memory(e);
    for (size_t i = 0; i < in->n_systems; i++) {
        uptake[i] = found[i].uptake_per_d;
        draws[i] = found[i].draws;
    }
    out->uptake_per_d = uptake;
    out->draws = draws;
    return true;
}

bool learn_effects(const struct learn_in *in, struct arena *a, struct learned *out, struct err *e)
{
    struct learned l = {0};
    struct design d;
    struct belief b;
    if (!learn_check(in, e))
        return false;
    struct system_log *logs = arena_alloc(a, in->n_systems, sizeof *logs);
    struct water_found *found = arena_alloc(a, in->n_systems, sizeof *found);
    if (!logs || !found)
        return err_memory(e);
    for (size_t i = 0; i < in->n_systems; i++) {
        if (!system_log_open(in, i, a, &logs[i], e))
            return false;
        l.n_stretches += logs[i].n_rows;
        l.n_skipped += logs[i].n_readings > 0 ? logs[i].n_readings - 1 - logs[i].n_rows : 0;
    }
    if (!learn_weigh(logs, in->n_systems, a, &b, found, e) || !design_make(logs, found, a, &d, e))
        return false;
    error_scale_find(logs, found, &l);
    misfit_find(&d, &l);
    if (!collinears_find(in, &d, &b, a, &l, e) || !effects_report(in, &d, &b, a, &l, e) ||
        !waters_report(in, found, a, &l, e))
        return false;
    *out = l;
    return true;
}
