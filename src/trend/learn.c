/*
 * Bayesian linear regression with Gaussian priors and known noise: the priors are rows of a least squares system
 * (Gelman et al., Bayesian Data Analysis, 3rd ed., section 14.8), whitened by the Cholesky factor of the noise, which
 * is tridiagonal as neighbouring stretches share a test.
 */
#include "neap/trend.h"

#include <gsl/gsl_cdf.h>

/* Our own choices; docs/trend.md says what they do. */
static const double CLAIM_WEIGHT = 0.5;        /* the data weigh half or more */
static const double TANGLE_UNKNOWN = 0.5;      /* of the prior variance is left in the worst mixture of the two */
static const double TANGLE_COSINE = 0.995;     /* proportions that vary by a tenth */
static const double TANGLE_CORRELATION = -0.7;
static const double SCATTER_P = 0.05;
static const double MOST_RAISED = 2;           /* a proposal at most doubles a food */

struct design {
    size_t rows, cols;   /* cols: the foods, then the background */
    double *x, *y;       /* rows × cols; raw, then whitened */
    double *kept;        /* [rows] part of the earlier level that remains */
    double *days;        /* [rows] length of the stretch */
    bool *joined;        /* [rows] shares its first test with the row before */
    double *total;       /* [foods] amount given in all stretches */
    size_t *times;       /* [foods] feedings in all stretches */
};

struct posterior {
    double *mean, *covariance;
    double chi2, unknowns; /* misfit of the stretches, and how many unknowns they decided */
};

/* Everything by moment: copies of the input in the arena. */
struct log {
    struct reading *readings;
    struct water_change *changes;
    struct food_given *feedings;
};

/* ---- checks and order ---- */

static bool prior_check(const char *what, size_t i, const struct effect_prior *p, struct err *e)
{
    if (!isfinite(p->mean) || !isfinite(p->sd) || p->sd <= 0)
        return err_set(e, ERR_INPUT, NULL, "%s %zu is believed to be %g ± %g; expected numbers, and a spread above 0",
                       what, i + 1, p->mean, p->sd);
    return true;
}

static bool scales_check(const struct learn_in *in, struct err *e)
{
    if (!(in->volume_l > 0) || !isfinite(in->volume_l))
        return err_set(e, ERR_INPUT, NULL, "volume is %g L; expected more than 0", in->volume_l);
    if (!(in->test_sd > 0) || !isfinite(in->test_sd))
        return err_set(e, ERR_INPUT, NULL, "the scatter of a test is %g; expected more than 0", in->test_sd);
    if (!(in->drift_sd >= 0) || !isfinite(in->drift_sd))
        return err_set(e, ERR_INPUT, NULL, "the unexplained drift is %g; expected 0 or more", in->drift_sd);
    if (!(in->confidence_frac > 0 && in->confidence_frac < 1))
        return err_set(e, ERR_INPUT, NULL, "confidence is %g; expected a fraction between 0 and 1",
                       in->confidence_frac);
    return prior_check("background", 0, &in->background, e);
}

static bool learn_check(const struct learn_in *in, struct err *e)
{
    for (size_t i = 0; i < in->n_readings; i++)
        if (!isfinite(in->readings[i].value) || in->readings[i].value < 0)
            return err_set(e, ERR_INPUT, NULL, "reading %zu is %g; expected 0 or more", i + 1, in->readings[i].value);
    for (size_t i = 0; i < in->n_changes; i++)
        if (!(in->changes[i].exchanged_frac >= 0 && in->changes[i].exchanged_frac < 1) ||
            !(in->changes[i].new_value >= 0) || !isfinite(in->changes[i].new_value))
            return err_set(e, ERR_INPUT, NULL, "water change %zu is %g of the volume with water of %g; expected 0 to "
                           "below 1, and 0 or more", i + 1, in->changes[i].exchanged_frac, in->changes[i].new_value);
    for (size_t i = 0; i < in->n_feedings; i++)
        if (in->feedings[i].food >= in->n_foods || !(in->feedings[i].amount >= 0) || !isfinite(in->feedings[i].amount))
            return err_set(e, ERR_INPUT, NULL, "feeding %zu is %g of food %zu; expected 0 or more of food 1 to %zu",
                           i + 1, in->feedings[i].amount, in->feedings[i].food + 1, in->n_foods);
    for (size_t i = 0; i < in->n_foods; i++)
        if (!prior_check("food", i, &in->priors[i], e))
            return false;
    return scales_check(in, e);
}

static int moment_compare(long a, long b)
{
    return (a > b) - (a < b);
}

static int reading_compare(const void *a, const void *b)
{
    const struct reading *x = a, *y = b;
    int c = moment_compare(x->moment_min, y->moment_min);
    return c ? c : (x->value > y->value) - (x->value < y->value);
}

static int change_compare(const void *a, const void *b)
{
    const struct water_change *x = a, *y = b;
    int c = moment_compare(x->moment_min, y->moment_min);
    return c ? c : (x->exchanged_frac > y->exchanged_frac) - (x->exchanged_frac < y->exchanged_frac);
}

static int feeding_compare(const void *a, const void *b)
{
    const struct food_given *x = a, *y = b;
    int c = moment_compare(x->moment_min, y->moment_min);
    if (!c)
        c = (x->food > y->food) - (x->food < y->food);
    return c ? c : (x->amount > y->amount) - (x->amount < y->amount);
}

static bool log_order(const struct learn_in *in, struct arena *a, struct log *l, struct err *e)
{
    l->readings = arena_alloc(a, in->n_readings, sizeof *l->readings);
    l->changes = arena_alloc(a, in->n_changes, sizeof *l->changes);
    l->feedings = arena_alloc(a, in->n_feedings, sizeof *l->feedings);
    if (!l->readings || !l->changes || !l->feedings)
        return err_memory(e);
    for (size_t i = 0; i < in->n_readings; i++)
        l->readings[i] = in->readings[i];
    for (size_t i = 0; i < in->n_changes; i++)
        l->changes[i] = in->changes[i];
    for (size_t i = 0; i < in->n_feedings; i++)
        l->feedings[i] = in->feedings[i];
    qsort(l->readings, in->n_readings, sizeof *l->readings, reading_compare);
    qsort(l->changes, in->n_changes, sizeof *l->changes, change_compare);
    qsort(l->feedings, in->n_feedings, sizeof *l->feedings, feeding_compare);
    return true;
}

/* ---- stretches between tests ---- */

static bool design_open(struct design *d, const struct learn_in *in, size_t most_rows, struct arena *a, struct err *e)
{
    d->cols = in->n_foods + 1;
    d->x = arena_alloc(a, most_rows, d->cols * sizeof *d->x);
    d->y = arena_alloc(a, most_rows, sizeof *d->y);
    d->kept = arena_alloc(a, most_rows, sizeof *d->kept);
    d->days = arena_alloc(a, most_rows, sizeof *d->days);
    d->joined = arena_alloc(a, most_rows, sizeof *d->joined);
    d->total = arena_alloc(a, in->n_foods, sizeof *d->total);
    d->times = arena_alloc(a, in->n_foods, sizeof *d->times);
    return (d->x && d->y && d->kept && d->days && d->joined && d->total && d->times) || err_memory(e);
}

/* Where the sweep through changes and feedings stands. */
struct sweep {
    size_t change, feeding;
};

static void feedings_pass(const struct learn_in *in, const struct log *l, long until_min, double *row, struct sweep *s,
                          struct design *count)
{
    for (; s->feeding < in->n_feedings && l->feedings[s->feeding].moment_min <= until_min; s->feeding++) {
        const struct food_given *f = &l->feedings[s->feeding];
        if (row)
            row[f->food] += f->amount / in->volume_l;
        if (row && f->amount > 0) {
            count->total[f->food] += f->amount;
            count->times[f->food]++;
        }
    }
}

/* From one test to the next: at a water change all that came before it, food, days and level alike, is thinned. */
static void stretch_add(const struct learn_in *in, const struct log *l, const struct reading *from,
                        const struct reading *to, struct sweep *s, struct design *d)
{
    double *row = d->x + d->rows * d->cols, kept = 1, inflow = 0;
    long at_min = from->moment_min;
    for (; s->change < in->n_changes && l->changes[s->change].moment_min < to->moment_min; s->change++) {
        const struct water_change *c = &l->changes[s->change];
        feedings_pass(in, l, c->moment_min, row, s, d);
        row[in->n_foods] += ((double)c->moment_min - (double)at_min) / (double)MIN_PER_DAY;
        at_min = c->moment_min;
        for (size_t j = 0; j < d->cols; j++)
            row[j] *= 1 - c->exchanged_frac;
        kept *= 1 - c->exchanged_frac;
        inflow = inflow * (1 - c->exchanged_frac) + c->exchanged_frac * c->new_value;
    }
    feedings_pass(in, l, to->moment_min - 1, row, s, d);
    row[in->n_foods] += ((double)to->moment_min - (double)at_min) / (double)MIN_PER_DAY;
    d->y[d->rows] = to->value - kept * from->value - inflow;
    d->kept[d->rows] = kept;
    d->days[d->rows] = ((double)to->moment_min - (double)from->moment_min) / (double)MIN_PER_DAY;
    d->rows++;
}

static void sweep_to(const struct learn_in *in, const struct log *l, long moment_min, struct sweep *s)
{
    feedings_pass(in, l, moment_min - 1, NULL, s, NULL);
    while (s->change < in->n_changes && l->changes[s->change].moment_min < moment_min)
        s->change++;
}

static void stretches_make(const struct learn_in *in, const struct log *l, struct design *d, size_t *n_skipped)
{
    struct sweep s = {0, 0};
    bool before = false;
    *n_skipped = 0;
    for (size_t i = 0; i + 1 < in->n_readings; i++) {
        const struct reading *from = &l->readings[i], *to = from + 1;
        sweep_to(in, l, from->moment_min, &s);
        bool usable = !from->below && !to->below && from->method == to->method;
        if (usable) {
            d->joined[d->rows] = before;
            stretch_add(in, l, from, to, &s, d);
        } else {
            ++*n_skipped;
        }
        before = usable;
    }
}

/* Rows become independent with scatter 1: forward substitution by the Cholesky factor of the tridiagonal noise. */
static void design_whiten(struct design *d, double test_sd, double drift_sd)
{
    double variance = test_sd * test_sd, under = 0, diagonal = 1;
    for (size_t i = 0; i < d->rows; i++) {
        double own = variance * (1 + d->kept[i] * d->kept[i]) + drift_sd * drift_sd * d->days[i];
        under = d->joined[i] ? -d->kept[i] * variance / diagonal : 0;
        diagonal = sqrt(own - under * under);
        for (size_t j = 0; j < d->cols; j++) {
            double carried = d->joined[i] ? under * d->x[(i - 1) * d->cols + j] : 0;
            d->x[i * d->cols + j] = (d->x[i * d->cols + j] - carried) / diagonal;
        }
        d->y[i] = (d->y[i] - (d->joined[i] ? under * d->y[i - 1] : 0)) / diagonal;
    }
}

/* ---- posterior ---- */

static const struct effect_prior *prior_of(const struct learn_in *in, size_t col)
{
    return col < in->n_foods ? &in->priors[col] : &in->background;
}

/* noise_sd: how much wider than assumed the noise is taken. */
static bool posterior_find(const struct learn_in *in, const struct design *d, double noise_sd, struct arena *a,
                           struct posterior *out, struct err *e)
{
    size_t rows = d->rows + d->cols;
    double *x = arena_alloc(a, rows, d->cols * sizeof *x), *y = arena_alloc(a, rows, sizeof *y);
    struct least_squares fit;
    if (!x || !y)
        return err_memory(e);
    for (size_t i = 0; i < d->rows; i++) {
        for (size_t j = 0; j < d->cols; j++)
            x[i * d->cols + j] = d->x[i * d->cols + j] / noise_sd;
        y[i] = d->y[i] / noise_sd;
    }
    for (size_t j = 0; j < d->cols; j++) {
        x[(d->rows + j) * d->cols + j] = 1 / prior_of(in, j)->sd;
        y[d->rows + j] = prior_of(in, j)->mean / prior_of(in, j)->sd;
    }
    if (!least_squares_fit(&(struct least_squares_in){x, y, rows, d->cols}, a, &fit, e))
        return false;
    *out = (struct posterior){.mean = fit.b, .covariance = fit.covariance, .unknowns = (double)d->cols};
    for (size_t i = 0; i < d->rows; i++) {
        double r = y[i];
        for (size_t j = 0; j < d->cols; j++)
            r -= x[i * d->cols + j] * fit.b[j];
        out->chi2 += r * r;
    }
    for (size_t j = 0; j < d->cols; j++)
        out->unknowns -= fit.covariance[j * d->cols + j] / (prior_of(in, j)->sd * prior_of(in, j)->sd);
    return true;
}

/* Where the stretches scatter by more than the tests explain, the noise is widened to what they show. */
static bool posterior_widen(const struct learn_in *in, const struct design *d, struct arena *a, struct posterior *p,
                            double *noise_sd, struct learned *out, struct err *e)
{
    double free = (double)d->rows - p->unknowns;
    *noise_sd = 1;
    if (free < 1)
        return true;
    out->scatter_ratio = p->chi2 / free;
    out->scatter_high = gsl_cdf_chisq_Q(p->chi2, free) < SCATTER_P;
    if (!out->scatter_high)
        return true;
    *noise_sd = sqrt(out->scatter_ratio);
    return posterior_find(in, d, *noise_sd, a, p, e);
}

static struct effect effect_of(const struct learn_in *in, const struct posterior *p, size_t cols, size_t j)
{
    const struct effect_prior *prior = prior_of(in, j);
    double variance = p->covariance[j * cols + j], z = gsl_cdf_ugaussian_Pinv((1 + in->confidence_frac) / 2);
    struct effect f = {.mean = p->mean[j], .sd = sqrt(variance)};
    f.lo = f.mean - z * f.sd;
    f.hi = f.mean + z * f.sd;
    f.data_weight_frac = fmin(fmax(1 - variance / (prior->sd * prior->sd), 0), 1);
    f.moved_sd = (f.mean - prior->mean) / prior->sd;
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

/* Greatest part of the prior variance that is left in any mixture of the two: an eigenvalue of the scaled 2 × 2. */
static double unknown_part(const struct learn_in *in, const struct posterior *p, size_t cols, size_t i, size_t j)
{
    double si = prior_of(in, i)->sd, sj = prior_of(in, j)->sd;
    double a = p->covariance[i * cols + i] / (si * si), b = p->covariance[j * cols + j] / (sj * sj);
    double c = p->covariance[i * cols + j] / (si * sj);
    return (a + b) / 2 + sqrt((a - b) * (a - b) / 4 + c * c);
}

static double raised(double usual, double other_load, double effect)
{
    double wanted = effect != 0 ? usual + other_load / effect : usual;
    return fmin(fmax(wanted, usual), MOST_RAISED * usual);
}

/* Two more stretches of middling length, as proposed; the others as usual. totals: of food and other per stretch. */
static bool sd_after_proposal(const struct learn_in *in, const struct design *d, double noise_sd,
                              const struct tangle *t, const double totals[2], struct arena *a, double *sd,
                              struct err *e)
{
    struct design more = *d;
    struct posterior p;
    more.rows = d->rows + 2;
    more.x = arena_alloc(a, more.rows, d->cols * sizeof *more.x);
    more.y = arena_alloc(a, more.rows, sizeof *more.y);
    if (!more.x || !more.y)
        return err_memory(e);
    memcpy(more.x, d->x, d->rows * d->cols * sizeof *d->x);
    double days = 0, m = (double)d->rows;
    for (size_t i = 0; i < d->rows; i++)
        days += d->days[i] / m;
    double scatter = sqrt(2 * in->test_sd * in->test_sd + in->drift_sd * in->drift_sd * days);
    for (size_t k = 0; k < 2; k++) {
        double *row = more.x + (d->rows + k) * d->cols;
        for (size_t j = 0; j < in->n_foods; j++)
            row[j] = d->total[j] / m / in->volume_l / scatter;
        row[in->n_foods] = days / scatter;
        row[t->food] = k == 0 && t->other != LEARN_BACKGROUND ? totals[0] / in->volume_l / scatter : 0;
        if (t->other != LEARN_BACKGROUND)
            row[t->other] = k == 1 ? totals[1] / in->volume_l / scatter : 0;
        else if (k == 1)
            row[t->food] = totals[0] / in->volume_l / scatter;
    }
    if (!posterior_find(in, &more, noise_sd, a, &p, e))
        return false;
    *sd = sqrt(p.covariance[t->food * d->cols + t->food]);
    return true;
}

static bool tangle_propose(const struct learn_in *in, const struct design *d, double noise_sd,
                           const struct posterior *p, struct arena *a, struct tangle *t, struct err *e)
{
    size_t i = t->food, j = t->other;
    double m = (double)d->rows, usual[2] = {d->total[i] / m, 0}, totals[2] = {usual[0], 0};
    if (j != LEARN_BACKGROUND) {
        usual[1] = d->total[j] / m;
        totals[0] = raised(usual[0], usual[1] * p->mean[j], p->mean[i]);
        totals[1] = raised(usual[1], usual[0] * p->mean[i], p->mean[j]);
        t->amount_food = d->total[i] / (double)d->times[i] * totals[0] / usual[0];
        t->amount_other = d->total[j] / (double)d->times[j] * totals[1] / usual[1];
    }
    t->sd_now = sqrt(p->covariance[i * d->cols + i]);
    return sd_after_proposal(in, d, noise_sd, t, totals, a, &t->sd_after, e);
}

static int tangle_compare(const void *a, const void *b)
{
    const struct tangle *x = a, *y = b;
    if (x->cosine != y->cosine)
        return x->cosine > y->cosine ? -1 : 1;
    if (x->food != y->food)
        return x->food < y->food ? -1 : 1;
    return (x->other > y->other) - (x->other < y->other);
}

static bool is_tangle(const struct learn_in *in, const struct design *d, const struct posterior *p, size_t i, size_t j,
                      struct tangle *t)
{
    double both = p->covariance[i * d->cols + i] * p->covariance[j * d->cols + j];
    if (d->times[i] == 0 || (j < in->n_foods && d->times[j] == 0))
        return false;
    *t = (struct tangle){.food = i, .other = j < in->n_foods ? j : LEARN_BACKGROUND};
    t->cosine = column_cosine(d, i, j);
    t->correlation = p->covariance[i * d->cols + j] / sqrt(both);
    return unknown_part(in, p, d->cols, i, j) > TANGLE_UNKNOWN &&
           (t->cosine > TANGLE_COSINE || t->correlation < TANGLE_CORRELATION);
}

static bool tangles_find(const struct learn_in *in, const struct design *d, double noise_sd, const struct posterior *p,
                         struct arena *a, struct learned *out, struct err *e)
{
    struct tangle *found = arena_alloc(a, in->n_foods, d->cols * sizeof *found);
    if (!found)
        return err_memory(e);
    for (size_t i = 0; i < in->n_foods; i++)
        for (size_t j = i + 1; j < d->cols; j++) {
            if (!is_tangle(in, d, p, i, j, &found[out->n_tangles]))
                continue;
            if (!tangle_propose(in, d, noise_sd, p, a, &found[out->n_tangles], e))
                return false;
            out->n_tangles++;
        }
    qsort(found, out->n_tangles, sizeof *found, tangle_compare);
    out->tangles = found;
    return true;
}

static bool effects_report(const struct learn_in *in, const struct design *d, const struct posterior *p,
                           struct arena *a, struct learned *out, struct err *e)
{
    struct effect *effects = arena_alloc(a, in->n_foods, sizeof *effects);
    if (!effects)
        return err_memory(e);
    for (size_t j = 0; j < d->cols; j++) {
        struct effect f = effect_of(in, p, d->cols, j);
        bool tangled = false;
        for (size_t k = 0; k < out->n_tangles; k++)
            tangled = tangled || out->tangles[k].food == j || out->tangles[k].other == j ||
                      (j == in->n_foods && out->tangles[k].other == LEARN_BACKGROUND);
        f.fed = j == in->n_foods ? d->rows > 0 : d->times[j] > 0;
        f.claim = f.fed && !tangled && f.data_weight_frac >= CLAIM_WEIGHT && (f.lo > 0 || f.hi < 0);
        *(j == in->n_foods ? &out->background : &effects[j]) = f;
    }
    out->effects = effects;
    return true;
}

bool learn_effects(const struct learn_in *in, struct arena *a, struct learned *out, struct err *e)
{
    struct log l;
    struct design d = {0};
    struct posterior p;
    struct learned found = {.scatter_ratio = 1};
    double noise_sd;
    if (!learn_check(in, e) || !log_order(in, a, &l, e) || !design_open(&d, in, in->n_readings, a, e))
        return false;
    stretches_make(in, &l, &d, &found.n_skipped);
    found.n_stretches = d.rows;
    design_whiten(&d, in->test_sd, in->drift_sd);
    if (!posterior_find(in, &d, 1, a, &p, e) || !posterior_widen(in, &d, a, &p, &noise_sd, &found, e))
        return false;
    if (!tangles_find(in, &d, noise_sd, &p, a, &found, e) || !effects_report(in, &d, &p, a, &found, e))
        return false;
    *out = found;
    return true;
}
