/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A water's level is followed from test to test as a Kalman filter does (Kalman 1960; Harvey 1989, Forecasting,
 * Structural Time Series Models and the Kalman Filter, section 3.4: regression by filtering the regressors as well).
 * What is seen is the level; beside it drifts the background. As the level is followed, not measured, its uptake is not
 * biased by the tests' errors, as a regression on measured levels would be.
 */
#include "trend/learn.h"
#include "trend/series.h"

enum { CHANNEL_ROWS = 5 }; /* numbers kept for a channel */

/* ---- a log by moment -------------------------------------------------------------------------------------------- */

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

/* By the method in use at their time: a cross-check beside it ends no stretch. */
static bool readings_keep(const struct learn_system *s, struct arena *a, struct system_log *l, struct err *e)
{
    struct ordered o;
    struct series series;
    if (!readings_order(s->readings, s->n_readings, LONG_MAX, a, &o, e) ||
        !series_follow(&o, o.n, s->n_readings, a, &series, e)) /* no window: own is all that is asked */
        return false;
    for (size_t i = 0; i < s->n_readings; i++)
        if (series.own[i])
            l->readings[l->n_readings++] = s->readings[i];
    return true;
}

static bool log_copy(const struct learn_system *s, struct arena *a, struct system_log *l, struct err *e)
{
    l->readings = arena_alloc(a, s->n_readings, sizeof *l->readings);
    l->changes = arena_alloc(a, s->n_changes, sizeof *l->changes);
    l->feedings = arena_alloc(a, s->n_feedings, sizeof *l->feedings);
    l->unknown = arena_alloc(a, l->in->n_foods + 2, sizeof *l->unknown);
    if (!l->readings || !l->changes || !l->feedings || !l->unknown)
        return err_memory(e);
    if (!readings_keep(s, a, l, e))
        return false;
    for (size_t i = 0; i < s->n_changes; i++)
        l->changes[i] = s->changes[i];
    for (size_t i = 0; i < s->n_feedings; i++)
        if (s->feedings[i].amount > 0)
            l->feedings[l->n_feedings++] = s->feedings[i];
    qsort(l->readings, l->n_readings, sizeof *l->readings, reading_compare);
    qsort(l->changes, s->n_changes, sizeof *l->changes, change_compare);
    qsort(l->feedings, l->n_feedings, sizeof *l->feedings, feeding_compare);
    return true;
}

/* The foods that were given here become columns, in their order. */
static bool columns_find(struct system_log *l, struct arena *a, struct err *e)
{
    const struct learn_in *in = l->in;
    size_t *column = arena_alloc(a, in->n_foods, sizeof *column);
    if (!column)
        return err_memory(e);
    for (size_t k = 0; k < l->n_feedings; k++)
        column[l->feedings[k].food] = 1;
    for (size_t k = 0; k < in->n_foods; k++)
        if (column[k]) {
            column[k] = l->n_cols;
            l->unknown[l->n_cols++] = k;
        }
    for (size_t k = 0; k < l->n_feedings; k++)
        l->feedings[k].food = column[l->feedings[k].food];
    l->unknown[l->n_cols++] = in->n_foods;
    if (in->n_systems > 1)
        l->unknown[l->n_cols++] = in->n_foods + 1 + l->system;
    return true;
}

bool stretch_usable(const struct system_log *l, size_t i)
{
    const struct reading *from = &l->readings[i], *to = from + 1;
    return !from->below && !to->below && from->method == to->method;
}

bool system_log_open(const struct learn_in *in, size_t system, struct arena *a, struct system_log *out, struct err *e)
{
    *out = (struct system_log){.in = in, .system = system};
    if (!log_copy(&in->systems[system], a, out, e) || !columns_find(out, a, e))
        return false;
    for (size_t i = 0; i + 1 < out->n_readings; i++)
        out->n_rows += stretch_usable(out, i);
    return true;
}

/* ---- the filter ------------------------------------------------------------------------------------------------- */

/*
 * The level is water + Σ column × unknown, and so is the drift: one channel for each column, and the last for the water
 * as the priors' means would have it.
 */
struct filter {
    const struct system_log *l;
    const struct learn_system *s;
    const struct water_trial *t;
    size_t n_channels;
    double *level, *drift;       /* [n_channels] */
    double *steady;              /* [n_channels] what a day adds */
    double *per_unit;            /* [n_channels × 2] what a unit adds: to its own channel, and to the last */
    double level2, both, drift2; /* covariance of level and drift */
    double variances, log_det;   /* of the tests seen: their product since log_det was last added to */
    long at_min;
    size_t change, feeding;
};

static void filter_open(struct filter *f, const struct system_log *l, const struct water_trial *t, double *channels)
{
    const struct learn_in *in = l->in;
    size_t n = l->n_cols + 1;
    *f = (struct filter){.l = l,
                         .s = &in->systems[l->system],
                         .t = t,
                         .n_channels = n,
                         .level = channels,
                         .drift = channels + n,
                         .steady = channels + 2 * n,
                         .per_unit = channels + 3 * n,
                         .variances = 1};
    double per_error = 1 / f->s->test_sd;
    memset(channels, 0, CHANNEL_ROWS * n * sizeof *channels);
    for (size_t k = 0; k < l->n_cols; k++) {
        size_t unknown = l->unknown[k];
        if (unknown < in->n_foods) {
            f->per_unit[2 * k] = in->priors[unknown].sd / f->s->volume_l * per_error;
            f->per_unit[2 * k + 1] = in->priors[unknown].mean / f->s->volume_l * per_error;
        } else {
            f->steady[k] = learn_prior_sd(in, unknown) * per_error;
        }
    }
    f->steady[l->n_cols] = in->background.mean * per_error;
}

static void filter_begin(struct filter *f, const struct reading *r)
{
    for (size_t k = 0; k < f->n_channels; k++)
        f->level[k] = f->drift[k] = 0;
    f->level[f->n_channels - 1] = r->value / f->s->test_sd;
    f->level2 = 1;
    f->both = 0;
    f->drift2 = f->t->drift * f->t->drift;
    f->at_min = r->moment_min;
}

static void filter_wait(struct filter *f, long until_min)
{
    double days = days_from(until_min, f->at_min);
    f->at_min = until_min;
    if (!(days > 0))
        return;
    struct waited w = waited_of(f->t->uptake_per_d, days);
    double kept = w.kept, gain = w.gain, held = exp(-days / (double)DRIFT_D);
    double drift2 = f->t->drift * f->t->drift;
    for (size_t k = 0; k < f->n_channels; k++) {
        f->level[k] = kept * f->level[k] + gain * (f->drift[k] + f->steady[k]);
        f->drift[k] *= held;
    }
    f->level2 = kept * kept * f->level2 + 2 * kept * gain * f->both + gain * gain * f->drift2 +
                f->t->shock * f->t->shock * gain;
    f->both = held * (kept * f->both + gain * f->drift2);
    f->drift2 = held * held * f->drift2 + drift2 * (1 - held * held);
}

static void filter_feed(struct filter *f, const struct food_given *given)
{
    filter_wait(f, given->moment_min);
    f->level[given->food] += given->amount * f->per_unit[2 * given->food];
    f->level[f->n_channels - 1] += given->amount * f->per_unit[2 * given->food + 1];
}

/* All that came before a change is thinned by it alike. */
static void filter_change(struct filter *f, const struct water_change *c)
{
    double kept = 1 - c->exchanged_frac;
    filter_wait(f, c->moment_min);
    for (size_t k = 0; k < f->n_channels; k++)
        f->level[k] *= kept;
    f->level[f->n_channels - 1] += c->exchanged_frac * c->new_value / f->s->test_sd;
    f->level2 *= kept * kept;
    f->both *= kept;
}

/* A feeding or a change of a test's own minute comes after the test; a change comes after a feeding. */
static void filter_run(struct filter *f, long until_min)
{
    for (;;) {
        bool feeds = f->feeding < f->l->n_feedings && f->l->feedings[f->feeding].moment_min < until_min;
        bool changes = f->change < f->s->n_changes && f->l->changes[f->change].moment_min < until_min;
        if (feeds && changes)
            feeds = f->l->feedings[f->feeding].moment_min <= f->l->changes[f->change].moment_min;
        if (feeds)
            filter_feed(f, &f->l->feedings[f->feeding++]);
        else if (changes)
            filter_change(f, &f->l->changes[f->change++]);
        else
            break;
    }
    filter_wait(f, until_min);
}

/* The row of a test, and what it tells of level and drift. */
static void filter_see(struct filter *f, double value, double *x, double *y)
{
    double variance = f->level2 + 1, sd = sqrt(variance);
    double to_level = f->level2 / variance, to_drift = f->both / variance;
    size_t last = f->n_channels - 1;
    f->variances *= variance;
    if (f->variances > 1e200) {
        f->log_det += log(f->variances);
        f->variances = 1;
    }
    *y = (value - f->level[last]) / sd;
    for (size_t k = 0; k < f->n_channels; k++) {
        double surprise = (k == last ? value : 0) - f->level[k];
        if (k != last)
            x[k] = f->level[k] / sd;
        f->level[k] += to_level * surprise;
        f->drift[k] += to_drift * surprise;
    }
    f->drift2 -= to_drift * f->both;
    f->both -= to_level * f->both;
    f->level2 -= to_level * f->level2;
}

bool test_rows_open(const struct system_log *l, struct arena *a, struct test_rows *out, struct err *e)
{
    *out = (struct test_rows){.x = arena_alloc(a, l->n_rows, l->n_cols * sizeof *out->x),
                              .y = arena_alloc(a, l->n_rows, sizeof *out->y),
                              .channels = arena_alloc(a, l->n_cols + 1, CHANNEL_ROWS * sizeof *out->channels)};
    return (out->x && out->y && out->channels) || err_memory(e);
}

static void filter_tests(struct filter *f, const struct system_log *l, struct test_rows *out)
{
    size_t row = 0;
    for (size_t i = 0; i < l->n_readings; i++) {
        const struct reading *r = &l->readings[i];
        filter_run(f, r->moment_min);
        if (i > 0 && stretch_usable(l, i - 1)) {
            filter_see(f, r->value / f->s->test_sd, out->x + row * l->n_cols, &out->y[row]);
            row++;
        } else {
            filter_begin(f, r);
        }
    }
}

void test_rows_make(const struct system_log *l, const struct water_trial *t, struct test_rows *out)
{
    struct filter f;
    filter_open(&f, l, t, out->channels);
    filter_tests(&f, l, out);
    out->log_det = f.log_det + log(f.variances);
}

void system_water_now(const struct system_log *l, const struct water_trial *t, long now_min, struct test_rows *rows,
                      struct water_now *out)
{
    struct filter f;
    filter_open(&f, l, t, rows->channels);
    filter_tests(&f, l, rows);
    filter_run(&f, now_min);
    *out = (struct water_now){f.level, f.drift, f.level2, f.both, f.drift2};
}
