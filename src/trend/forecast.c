#include "trend/rank.h"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <gsl/gsl_statistics_double.h>

enum { DAYS_PER_WEEK = 7 };

/* One possible future each. */
struct run {
    double level, slope_per_d;
    int left_day; /* first day outside the band; -1: not yet */
    bool left_high;
};

struct runs {
    const struct forecast_in *in;
    gsl_rng *rng;
    struct run *run;       /* [in->runs] */
    double *sorted, *left; /* [in->runs], spare */
};

static bool food_check(const struct forecast_food *f, size_t i, struct err *e)
{
    if (!(f->amount_per_d >= 0) || !isfinite(f->amount_per_d) || !isfinite(f->effect) || !(f->effect_sd >= 0) ||
        !isfinite(f->effect_sd))
        return err_set(e, ERR_INPUT, NULL,
                       "food %zu is %g a day with an effect of %g ± %g; expected numbers, and no "
                       "amount or spread below 0",
                       i + 1, f->amount_per_d, f->effect, f->effect_sd);
    return true;
}

static bool policy_check(const struct forecast_in *in, struct err *e)
{
    if (!(in->strength_frac >= 0) || !isfinite(in->strength_frac))
        return err_set(e, ERR_INPUT, NULL, "strength is %g; expected 0 or more", in->strength_frac);
    if (!(in->weekly_change_frac >= 0 && in->weekly_change_frac < 1))
        return err_set(e, ERR_INPUT, NULL, "the weekly water change is %g of the volume; expected 0 to below 1",
                       in->weekly_change_frac);
    if (!(in->new_value >= 0) || !isfinite(in->new_value))
        return err_set(e, ERR_INPUT, NULL, "the new water is %g; expected 0 or more", in->new_value);
    if (!(in->test_sd >= 0) || !isfinite(in->test_sd))
        return err_set(e, ERR_INPUT, NULL, "the scatter of a test is %g; expected 0 or more", in->test_sd);
    if (in->days < 1 || in->days > FORECAST_MAX_DAYS)
        return err_set(e, ERR_INPUT, NULL, "%d days ahead; expected 1 to %d", in->days, FORECAST_MAX_DAYS);
    if (in->runs < FORECAST_MIN_RUNS || in->runs > FORECAST_MAX_RUNS)
        return err_set(e, ERR_INPUT, NULL, "%d runs; expected %d to %d", in->runs, FORECAST_MIN_RUNS,
                       FORECAST_MAX_RUNS);
    return true;
}

static bool forecast_check(const struct forecast_in *in, struct err *e)
{
    const struct state *s = in->state;
    if (!s->has_slope || !s->has_level || s->n_fitted < 3 || !(s->spread_d2 > 0))
        return err_set(e, ERR_INPUT, NULL, "no slope is known (%s); a forecast needs one",
                       state_verdict_name(s->verdict));
    if (!(in->volume_l > 0) || !isfinite(in->volume_l))
        return err_set(e, ERR_INPUT, NULL, "volume is %g L; expected more than 0", in->volume_l);
    if (!(in->band.low <= in->band.high))
        return err_set(e, ERR_INPUT, NULL, "the band is %g to %g; expected low ≤ high", in->band.low, in->band.high);
    for (size_t i = 0; i < in->n_foods; i++)
        if (!food_check(&in->foods[i], i, e))
            return false;
    return policy_check(in, e);
}

/* mg/L a day that the policy adds for each mg per unit of the food's effect. */
static double policy_weight(const struct forecast_in *in, const struct forecast_food *f)
{
    return ((f->skip ? 0 : in->strength_frac) - 1) * f->amount_per_d / in->volume_l;
}

/*
 * A line drawn from what the tests leave open. Its level at the centre of the tests and its slope are independent;
 * that the scatter itself is only estimated from n − 2 degrees makes both Student's t.
 */
static void run_draw(const struct forecast_in *in, gsl_rng *rng, struct run *r)
{
    const struct state *s = in->state;
    double n = (double)s->n_fitted, degrees = n - 2;
    double sd = s->residual_sd * sqrt(degrees / gsl_ran_chisq(rng, degrees));
    double turned = gsl_ran_gaussian_ziggurat(rng, sd / sqrt(s->spread_d2));
    double lifted = gsl_ran_gaussian_ziggurat(rng, sd / sqrt(n));
    r->level = fmax(s->level + lifted - turned * s->centre_d, 0);
    r->slope_per_d = s->slope_per_d + turned;
    for (size_t i = 0; i < in->n_foods; i++) {
        const struct forecast_food *f = &in->foods[i];
        r->slope_per_d += policy_weight(in, f) * (f->effect + gsl_ran_gaussian_ziggurat(rng, f->effect_sd));
    }
    r->left_day = -1;
}

static void run_advance(const struct forecast_in *in, int day, struct run *r)
{
    r->level = fmax(r->level + r->slope_per_d, 0);
    if (day % DAYS_PER_WEEK == 0)
        r->level += in->weekly_change_frac * (in->new_value - r->level);
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
    qsort(w->sorted, n, sizeof *w->sorted, double_compare);
    *d = (struct forecast_day){
        .day = day, .above_frac = (double)above / (double)n, .below_frac = (double)below / (double)n};
    d->p05 = gsl_stats_quantile_from_sorted_data(w->sorted, 1, n, 0.05);
    d->p50 = gsl_stats_quantile_from_sorted_data(w->sorted, 1, n, 0.50);
    d->p95 = gsl_stats_quantile_from_sorted_data(w->sorted, 1, n, 0.95);
    for (size_t i = 0; i < n; i++)
        w->sorted[i] = fmax(w->run[i].level + gsl_ran_gaussian_ziggurat(w->rng, w->in->test_sd), 0);
    qsort(w->sorted, n, sizeof *w->sorted, double_compare);
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
    qsort(w->left, left, sizeof *w->left, double_compare);
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
    struct forecast f = {.n_days = (size_t)in->days + 1, .slope_policy_per_d = in->state->slope_per_d};
    struct forecast_day *days = arena_alloc(a, f.n_days, sizeof *days);
    if (!days)
        return err_memory(e);
    if (!runs_open(&w, in, a, e))
        return false;
    for (size_t i = 0; i < in->n_foods; i++)
        f.slope_policy_per_d += policy_weight(in, &in->foods[i]) * in->foods[i].effect;
    for (int i = 0; i < in->runs; i++)
        run_draw(in, w.rng, &w.run[i]);
    for (int day = 0; day <= in->days; day++) {
        for (int i = 0; day > 0 && i < in->runs; i++)
            run_advance(in, day, &w.run[i]);
        day_report(&w, day, &days[day]);
    }
    leaving_report(&w, &f);
    f.days = days;
    gsl_rng_free(w.rng);
    *out = f;
    return true;
}
