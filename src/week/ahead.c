/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Weeks ahead: what the log leaves open of each water, carried on with what is fed and changed as now, or by a policy.
 */
#include "neap/advice.h"
#include "neap/learned.h"
#include "neap/ledger.h"
#include "neap/week.h"
#include "week/ahead.h"

enum { WEEK_D = 7 };

/* Runs across an edge on a day, and on the next day after a water change too: levels saw up and down between. */
static double crossed_for_good(const struct forecast *fc, size_t i, bool inside)
{
    size_t first = (size_t)fc->change_first_d, every = (size_t)fc->change_every_d;
    size_t next = i <= first ? first : first + (i - first + every - 1) / every * every,
           mark = next < fc->n_days ? next : i;
    double outside = fc->days[i].above_frac + fc->days[i].below_frac;
    double then = fc->days[mark].above_frac + fc->days[mark].below_frac;
    return inside ? fmin(outside, then) : 1 - fmax(outside, then);
}

struct crossing crossing_of(const struct forecast *fc, enum level_verdict level, int today)
{
    struct crossing c = {level == LEVEL_IN_BAND, level == LEVEL_ABOVE_BAND, DAY_NONE, DAY_NONE, DAY_NONE};
    for (size_t i = 0; i < fc->n_days; i++) {
        double crossed = crossed_for_good(fc, i, c.inside);
        int day = today + fc->days[i].day;
        if (crossed >= 0.05 && c.early_day == DAY_NONE)
            c.early_day = day;
        if (crossed >= 0.50 && c.likely_day == DAY_NONE)
            c.likely_day = day;
        if (crossed >= 0.95 && c.late_day == DAY_NONE)
            c.late_day = day;
    }
    if (c.inside)
        c.high = fc->leaves_high_frac >= fc->leaves_frac / 2;
    return c;
}

/* Days ahead to the next change of the rhythm. One that is late by less than a day is still to come. */
static int next_change(const struct change_habit *h, long now_min)
{
    long next = h->last_min + h->every_d * MIN_PER_DAY;
    if (h->last_min == MOMENT_NONE)
        return h->every_d;
    while (next < now_min - MIN_PER_DAY)
        next += h->every_d * MIN_PER_DAY;
    return next <= now_min ? 1 : (int)((next - now_min + MIN_PER_DAY - 1) / MIN_PER_DAY);
}

/* ---- what is fed on ---------------------------------------------------------------------------------------------- */

/* What reached the water of a food, by the days of the week ahead and the weeks of the span, the latest first. */
struct fed_weeks {
    double *units[FORECAST_WEEK_D]; /* [n_weeks + 1]: the last takes what is beyond whole weeks */
    size_t n_weeks;
};

static bool fed_weeks_make(const struct forecast_of *o, size_t food, double logged_d, int first_ahead,
                           struct arena *arena, struct fed_weeks *w, struct err *e)
{
    const struct facility *f = o->f;
    double ratio = o->effects->foods[o->analyte][food].broadcast_ratio;
    struct system_rows own = feds_of(f, o->system);
    w->n_weeks = (size_t)(logged_d / FORECAST_WEEK_D);
    for (size_t k = 0; k < FORECAST_WEEK_D; k++)
        if (!(w->units[k] = arena_alloc(arena, w->n_weeks + 1, sizeof *w->units[k])))
            return err_memory(e);
    for (size_t i = own.first; i < own.end; i++) {
        const struct fed *fed = &f->feds[i];
        if (fed->food != food || !span_holds(&o->span, fed->day))
            continue;
        size_t before = (size_t)(first_ahead - fed->day) % FORECAST_WEEK_D;
        size_t week = (size_t)(o->span.last_day - fed->day) / FORECAST_WEEK_D;
        w->units[(FORECAST_WEEK_D - before) % FORECAST_WEEK_D][week < w->n_weeks ? week : w->n_weeks] +=
            fed_in_water(f, fed, ratio);
    }
    return true;
}

/* Means over the days that the log covers; and the spread about the mean of each day of the week, pooled. */
static void food_habit(const struct fed_weeks *w, double logged_d, struct forecast_food *out)
{
    double squares = 0, degrees = 0, weeks = (double)w->n_weeks;
    for (size_t k = 0; k < FORECAST_WEEK_D; k++) {
        double sum = 0;
        for (size_t i = 0; i < w->n_weeks; i++)
            sum += w->units[k][i];
        out->amount[k] = (sum + w->units[k][w->n_weeks]) / (logged_d / FORECAST_WEEK_D);
        for (size_t i = 0; sum > 0 && i < w->n_weeks; i++)
            squares += (w->units[k][i] - sum / weeks) * (w->units[k][i] - sum / weeks);
        degrees += sum > 0 ? weeks - 1 : 0;
    }
    out->spread = degrees > 0 ? sqrt(squares / degrees) : 0;
}

/* first_ahead: day of the first feeding hour to come. */
static bool foods_take(const struct forecast_of *o, int first_ahead, struct arena *arena, struct forecast_food *foods,
                       struct err *e)
{
    double logged_d = days_logged(o->f, &o->span, o->system);
    for (size_t i = 0; o->analyte < N_NUTRIENTS && i < o->f->n_foods; i++) {
        struct fed_weeks w;
        if (!fed_weeks_make(o, i, logged_d, first_ahead, arena, &w, e))
            return false;
        food_habit(&w, logged_d, &foods[i]);
        foods[i].skip = o->policy.skip && o->policy.skip[i];
    }
    return true;
}

/* Are the tests fresh and enough for one? */
static bool can_forecast(const struct facility *f, size_t system, const struct state *s)
{
    return s->has_slope && !s->stale && f->systems[system].volume_l > 0;
}

bool forecast_open(struct forecast_of *o, const struct state *s, struct arena *arena, struct err *e)
{
    return !can_forecast(o->f, o->system, s) ||
           water_draws(o->f, o->effects, o->system, o->analyte, o->now_min, arena, &o->draws, e);
}

bool forecast_system(const struct forecast_of *o, struct arena *arena, struct forecast *out, struct err *e)
{
    const struct facility *f = o->f;
    bool nutrient = o->analyte < N_NUTRIENTS;
    struct forecast_food *foods = arena_alloc(arena, f->n_foods, sizeof *foods);
    if (!foods)
        return err_memory(e);
    long into_day = o->now_min % MIN_PER_DAY;
    int today = moment_day(o->now_min);
    if (!foods_take(o, today + (f->settings.start_min < into_day), arena, foods, e))
        return false;
    struct day_span changes = {today - (o->span.last_day - o->span.first_day), today};
    struct change_habit habit = change_habit(f, &changes, o->system, o->analyte);
    bool usual = isnan(o->policy.change_frac_per_week);
    double per_week = !nutrient ? 0 : usual ? habit.frac_per_week : o->policy.change_frac_per_week;
    struct forecast_in in = {
        .draws = o->draws,
        .runs = o->effects->asked.n,
        .foods = foods,
        .n_foods = nutrient ? f->n_foods : 0,
        .fed_at_frac = (double)((f->settings.start_min - into_day + MIN_PER_DAY) % MIN_PER_DAY) / (double)MIN_PER_DAY,
        .volume_l = f->systems[o->system].volume_l,
        .strength_frac = o->policy.strength_frac,
        .change_frac = per_week * habit.every_d / WEEK_D,
        .change_first_d = next_change(&habit, o->now_min),
        .change_every_d = habit.every_d,
        .new_value = nutrient ? habit.new_value : 0,
        .days = o->days,
        .seed = o->effects->asked.seed,
    };
    facility_band(f, o->system, o->analyte, &in.band.low, &in.band.high);
    return forecast_run(&in, arena, out, e);
}

/* ---- the command's answer --------------------------------------------------------------------------------------- */

static bool look_ahead(const struct facility *f, const struct day_span *logged, struct ahead *out,
                       struct ahead_system *s, enum analyte a, struct err *e)
{
    const struct ahead_request *r = &out->request;
    struct ahead_analyte *n = &s->analytes[a];
    struct forecast_of o = {
        .f = f,
        .effects = &out->effects,
        .system = s->system,
        .analyte = a,
        .now_min = r->now_min,
        .span = *logged,
        .policy = {NULL, 1, (double)NAN},
        .days = r->weeks * 7,
    };
    n->analyte = a;
    facility_band(f, s->system, a, &n->band.low, &n->band.high);
    if (!plan_trend(f, s->system, a, r->now_min, r->window_d, &out->arena, &n->state, e))
        return false;
    if (!forecast_open(&o, &n->state, &out->arena, e))
        return false;
    n->known = o.draws;
    if (!n->known)
        return true;
    if (!forecast_system(&o, &out->arena, &n->as_now, e))
        return false;
    n->now_crosses = crossing_of(&n->as_now, n->state.level_verdict, out->day);
    o.policy = r->policy;
    n->what_if = n->as_now;
    if (out->policy_given && !forecast_system(&o, &out->arena, &n->what_if, e))
        return false;
    n->if_crosses = crossing_of(&n->what_if, n->state.level_verdict, out->day);
    return true;
}

static bool policy_given(const struct facility *f, const struct feeding_policy *p)
{
    bool skips = false;
    for (size_t i = 0; p->skip && i < f->n_foods; i++)
        skips = skips || p->skip[i];
    return skips || p->strength_frac != 1 || !isnan(p->change_frac_per_week);
}

static bool look_at_systems(const struct facility *f, struct ahead *out, struct err *e)
{
    struct day_span span = span_back(out->request.now_min, out->request.window_d);
    struct day_span logged = span_logged(f, out->request.now_min, out->request.window_d);
    out->systems = arena_alloc(&out->arena, f->n_systems, sizeof *out->systems);
    if (!out->systems)
        return err_memory(e);
    for (size_t i = 0; i < f->n_systems; i++) {
        if (out->request.system != REF_NONE ? i != out->request.system : f->systems[i].retired)
            continue;
        struct ahead_system *s = &out->systems[out->n_systems++];
        s->system = i;
        s->n_days_fed = days_fed(f, &span, i);
        s->habit_frac_per_week = change_habit(f, &span, i, ANALYTE_NO3).frac_per_week;
        for (int a = 0; a < N_NUTRIENTS; a++)
            if (!look_ahead(f, &logged, out, s, (enum analyte)a, e))
                return false;
    }
    return true;
}

bool plan_ahead(const struct facility *f, const struct ahead_request *request, struct ahead *out, struct err *e)
{
    *out = (struct ahead){.request = *request, .day = moment_day(request->now_min)};
    if (out->request.window_d <= 0)
        out->request.window_d = f->settings.window_d;
    out->policy_given = policy_given(f, &request->policy);
    const struct learned_in in = {REF_NONE, request->now_min, {request->runs, request->seed}};
    bool ok = plan_learned(f, &in, &out->arena, &out->effects, e) && look_at_systems(f, out, e);
    if (!ok)
        ahead_free(out);
    return ok;
}

void ahead_free(struct ahead *a)
{
    arena_free(&a->arena);
    *a = (struct ahead){0};
}
