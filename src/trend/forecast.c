/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Many possible futures of a water, drawn by chance from a seed. */
#include "trend/learn.h"
#include "trend/rank.h"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <gsl/gsl_statistics_double.h>

/*
 * A source that turns with the season goes further in four weeks than fits and starts of the size that the tests have
 * shown would take it, so its drift ahead is taken twice as wide; our own choice, measured in docs/trend.md, section 7.
 */
static const double drift_ahead = 2;

/* One possible future each. */
struct run {
    const struct water_draw *water;
    double level, drift_per_d;
    struct waited day;                  /* what a day leaves of the level */
    double fed_kept_frac;               /* what is left at the day's end of what was fed in it */
    double fed[FORECAST_WEEK_D];        /* mg/L that the foods bring on a day of the week, under the policy */
    double fed_spread[FORECAST_WEEK_D]; /* sd of that */
    int left_day;                       /* first day outside the band; -1: not yet */
    bool left_high;
};

struct runs {
    const struct forecast_in *in;
    gsl_rng *rng;
    struct run *run;       /* [in->runs] */
    double *sorted, *left; /* [in->runs], spare; left also to sort by, until the report of who left */
};

static bool food_check(const struct forecast_food *f, size_t i, struct err *e)
{
    for (size_t k = 0; k < FORECAST_WEEK_D; k++)
        if (!(f->amount[k] >= 0) || !isfinite(f->amount[k]))
            return err_set(e, ERR_INPUT, NULL, "food %zu is %g a day; expected 0 or more", i + 1, f->amount[k]);
    return (f->spread >= 0 && isfinite(f->spread)) ||
           err_set(e, ERR_INPUT, NULL, "food %zu spreads by %g; expected 0 or more", i + 1, f->spread);
}

static bool draw_check(const struct water_draw *d, size_t n_foods, struct err *e)
{
    const double all[] = {d->level,        d->background_per_d, d->drift_per_d, d->drift_sd_per_d,
                          d->uptake_per_d, d->shock_sd,         d->test_sd};
    bool ok = d->level >= 0 && d->uptake_per_d >= 0 && d->drift_sd_per_d >= 0 && d->shock_sd >= 0 && d->test_sd >= 0;
    for (size_t i = 0; i < COUNT_OF(all); i++)
        ok = ok && isfinite(all[i]);
    for (size_t i = 0; i < n_foods; i++)
        ok = ok && isfinite(d->effects[i]);
    return ok || err_set(e, ERR_INPUT, NULL,
                         "a draw of the water has a number out of range; expected finite ones, and no "
                         "level, uptake or spread below 0");
}

static bool policy_check(const struct forecast_in *in, struct err *e)
{
    if (!(in->strength_frac >= 0) || !isfinite(in->strength_frac))
        return err_set(e, ERR_INPUT, NULL, "strength is %g; expected 0 or more", in->strength_frac);
    if (!(in->change_frac >= 0 && in->change_frac < 1))
        return err_set(e, ERR_INPUT, NULL, "the water change is %g of the volume; expected 0 to below 1",
                       in->change_frac);
    if (in->change_frac > 0 && (in->change_first_d < 1 || in->change_every_d < 1))
        return err_set(e, ERR_INPUT, NULL, "water is changed on day %d and every %d days; expected 1 or more",
                       in->change_first_d, in->change_every_d);
    if (!(in->fed_at_frac >= 0 && in->fed_at_frac <= 1))
        return err_set(e, ERR_INPUT, NULL, "the hour of feeding is %g of a day; expected 0 to 1", in->fed_at_frac);
    if (!(in->new_value >= 0) || !isfinite(in->new_value))
        return err_set(e, ERR_INPUT, NULL, "the new water is %g; expected 0 or more", in->new_value);
    if (in->days < 1 || in->days > FORECAST_MAX_DAYS)
        return err_set(e, ERR_INPUT, NULL, "%d days ahead; expected 1 to %d", in->days, FORECAST_MAX_DAYS);
    if (in->runs < FORECAST_MIN_RUNS || in->runs > FORECAST_MAX_RUNS)
        return err_set(e, ERR_INPUT, NULL, "%d runs; expected %d to %d", in->runs, FORECAST_MIN_RUNS,
                       FORECAST_MAX_RUNS);
    return true;
}

static bool forecast_check(const struct forecast_in *in, struct err *e)
{
    if (!(in->volume_l > 0) || !isfinite(in->volume_l))
        return err_set(e, ERR_INPUT, NULL, "volume is %g L; expected more than 0", in->volume_l);
    if (!(in->band.low <= in->band.high))
        return err_set(e, ERR_INPUT, NULL, "the band is %g to %g; expected low ≤ high", in->band.low, in->band.high);
    for (size_t i = 0; i < in->n_foods; i++)
        if (!food_check(&in->foods[i], i, e))
            return false;
    if (!policy_check(in, e))
        return false;
    for (int i = 0; i < in->runs; i++)
        if (!draw_check(&in->draws[i], in->n_foods, e))
            return false;
    return true;
}

static void run_begin(const struct forecast_in *in, const struct water_draw *d, struct run *r)
{
    *r = (struct run){.water = d, .level = d->level, .drift_per_d = d->drift_per_d, .left_day = -1};
    r->day = waited_of(d->uptake_per_d, 1);
    r->fed_kept_frac = exp(-d->uptake_per_d * (1 - in->fed_at_frac));
    for (size_t k = 0; k < FORECAST_WEEK_D; k++) {
        double squares = 0;
        for (size_t i = 0; i < in->n_foods; i++) {
            const struct forecast_food *f = &in->foods[i];
            double per_unit = f->skip ? 0 : in->strength_frac * d->effects[i] / in->volume_l;
            double spread = f->amount[k] > 0 ? f->spread * per_unit : 0;
            r->fed[k] += f->amount[k] * per_unit;
            squares += spread * spread;
        }
        r->fed_spread[k] = sqrt(squares);
    }
}

static double slope_of(const struct run *r)
{
    double fed = 0;
    for (size_t k = 0; k < FORECAST_WEEK_D; k++)
        fed += r->fed[k] / FORECAST_WEEK_D;
    return r->water->background_per_d + fed + r->drift_per_d - r->water->uptake_per_d * r->level;
}

/* A day as the filter of learn_rows.c has it, but for what the drift will do. */
static void run_advance(const struct forecast_in *in, gsl_rng *rng, int day, struct run *r)
{
    const struct water_draw *d = r->water;
    double gain = r->day.gain, held = exp(-1 / (double)DRIFT_D);
    double shock = gsl_ran_gaussian_ziggurat(rng, 1), turn = gsl_ran_gaussian_ziggurat(rng, 1);
    size_t k = (size_t)(day - 1) % FORECAST_WEEK_D;
    double fed = r->fed[k] + (r->fed_spread[k] > 0 ? r->fed_spread[k] * gsl_ran_gaussian_ziggurat(rng, 1) : 0);
    r->level = r->day.kept * r->level + gain * (d->background_per_d + r->drift_per_d) +
               d->shock_sd * sqrt(gain) * shock + fed * r->fed_kept_frac;
    r->level = fmax(r->level, 0);
    r->drift_per_d = held * r->drift_per_d + drift_ahead * d->drift_sd_per_d * sqrt(1 - held * held) * turn;
    if (in->change_frac > 0 && day >= in->change_first_d && (day - in->change_first_d) % in->change_every_d == 0)
        r->level += in->change_frac * (in->new_value - r->level);
}

static void day_report(struct runs *w, int day, struct forecast_day *d)
{
    size_t n = (size_t)w->in->runs, above = 0, below = 0;
    for (size_t i = 0; i < n; i++) {
        struct run *r = &w->run[i];
        bool high = r->level > w->in->band.high, low = r->level < w->in->band.low;
        above += high;
        below += low;
        if ((high || low) && r->left_day < 0) {
            r->left_day = day;
            r->left_high = high;
        }
        w->sorted[i] = r->level;
    }
    doubles_sort(w->sorted, n, w->left);
    *d = (struct forecast_day){
        .day = day, .above_frac = (double)above / (double)n, .below_frac = (double)below / (double)n};
    d->p05 = gsl_stats_quantile_from_sorted_data(w->sorted, 1, n, 0.05);
    d->p50 = gsl_stats_quantile_from_sorted_data(w->sorted, 1, n, 0.50);
    d->p95 = gsl_stats_quantile_from_sorted_data(w->sorted, 1, n, 0.95);
    for (size_t i = 0; i < n; i++)
        w->sorted[i] = fmax(w->run[i].level + w->run[i].water->test_sd * gsl_ran_gaussian_ziggurat(w->rng, 1), 0);
    doubles_sort(w->sorted, n, w->left);
    d->test_p05 = gsl_stats_quantile_from_sorted_data(w->sorted, 1, n, 0.05);
    d->test_p95 = gsl_stats_quantile_from_sorted_data(w->sorted, 1, n, 0.95);
}

static void leaving_report(struct runs *w, struct forecast *f)
{
    size_t n = (size_t)w->in->runs, left = 0, high = 0;
    for (size_t i = 0; i < n; i++)
        if (w->run[i].left_day >= 0) {
            w->left[left++] = w->run[i].left_day;
            high += w->run[i].left_high;
        }
    doubles_sort(w->left, left, w->sorted);
    f->leaves_frac = (double)left / (double)n;
    f->leaves_high_frac = (double)high / (double)n;
    f->leaves_day = left > 0 ? (int)w->left[(left - 1) / 2] : -1;
}

static bool runs_open(struct runs *w, const struct forecast_in *in, struct arena *a, struct err *e)
{
    size_t n = (size_t)in->runs;
    *w = (struct runs){.in = in};
    w->run = arena_alloc(a, n, sizeof *w->run);
    w->sorted = arena_alloc(a, n, sizeof *w->sorted);
    w->left = arena_alloc(a, n, sizeof *w->left);
    if (!w->run || !w->sorted || !w->left)
        return err_memory(e);
    w->rng = gsl_rng_alloc(gsl_rng_mt19937);
    if (!w->rng)
        return err_memory(e);
    gsl_rng_set(w->rng, in->seed);
    return true;
}

bool forecast_run(const struct forecast_in *in, struct arena *a, struct forecast *out, struct err *e)
{
    struct runs w;
    if (!forecast_check(in, e))
        return false;
    struct forecast f = {
        .n_days = (size_t)in->days + 1, .change_first_d = in->change_first_d, .change_every_d = in->change_every_d};
    struct forecast_day *days = arena_alloc(a, f.n_days, sizeof *days);
    if (!days)
        return err_memory(e);
    if (!runs_open(&w, in, a, e))
        return false;
    for (int i = 0; i < in->runs; i++) {
        struct run *r = &w.run[i];
        run_begin(in, &in->draws[i], r);
        f.slope_policy_per_d += slope_of(r);
    }
    f.slope_policy_per_d /= in->runs;
    for (int day = 0; day <= in->days; day++) {
        for (int i = 0; day > 0 && i < in->runs; i++)
            run_advance(in, w.rng, day, &w.run[i]);
        day_report(&w, day, &days[day]);
    }
    leaving_report(&w, &f);
    f.days = days;
    gsl_rng_free(w.rng);
    *out = f;
    return true;
}
