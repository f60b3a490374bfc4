/* Weeks ahead: the slope of the tests, what was fed while it was measured, and how a policy differs from that. */
#include "neap/advice.h"
#include "neap/learned.h"
#include "neap/ledger.h"
#include "neap/week.h"
#include "week/ahead.h"

/* Runs across an edge on a day, and on the next day after a water change too: levels saw up and down between. */
static double crossed_for_good(const struct forecast *fc, size_t i, bool inside)
{
    size_t mark = (i + 6) / 7 * 7 < fc->n_days ? (i + 6) / 7 * 7 : i;
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

bool forecast_system(const struct forecast_of *o, struct arena *arena, struct forecast *out, struct err *e)
{
    const struct facility *f = o->f;
    struct forecast_food *foods = arena_alloc(arena, f->n_foods, sizeof *foods);
    if (!foods)
        return err_memory(e);
    bool nutrient = o->analyte < N_NUTRIENTS;
    for (size_t i = 0; nutrient && i < f->n_foods; i++) {
        struct used_effect effect = food_effect(o->effects, i, o->analyte, false);
        foods[i] = (struct forecast_food){
            .amount_per_d =
                units_fed(f, o->effects, &o->span, o->system, i, o->analyte) / days_logged(f, &o->span, o->system),
            .effect = effect.mean,
            .effect_sd = effect.sd,
            .skip = o->policy.skip && o->policy.skip[i],
        };
    }
    struct change_habit habit = change_habit(f, &o->span, o->system, o->analyte);
    bool usual = isnan(o->policy.change_frac_per_week);
    struct forecast_in in = {
        .state = o->state,
        .foods = foods,
        .n_foods = nutrient ? f->n_foods : 0,
        .volume_l = f->systems[o->system].volume_l,
        .strength_frac = o->policy.strength_frac,
        .weekly_change_frac = !nutrient ? 0
                              : usual   ? habit.frac_per_week
                                        : o->policy.change_frac_per_week,
        .new_value = nutrient ? habit.new_value : 0,
        .test_sd = analyte_test_sd(o->analyte, o->state->level),
        .days = o->days,
        .runs = o->runs,
        .seed = o->seed,
    };
    facility_band(f, o->system, o->analyte, &in.band.low, &in.band.high);
    return forecast_run(&in, arena, out, e);
}

/* ---- the command's answer --------------------------------------------------------------------------------------- */

static bool look_ahead(const struct facility *f, struct ahead *out, struct ahead_system *s, enum analyte a,
                       struct err *e)
{
    const struct ahead_request *r = &out->request;
    struct ahead_analyte *n = &s->analytes[a];
    struct forecast_of o = {
        .f = f,
        .effects = &out->effects,
        .system = s->system,
        .analyte = a,
        .state = &n->state,
        .span = span_back(r->now_min, r->window_d),
        .policy = {NULL, 1, (double)NAN},
        .days = r->weeks * 7,
        .runs = r->runs,
        .seed = r->seed,
    };
    n->analyte = a;
    facility_band(f, s->system, a, &n->band.low, &n->band.high);
    if (!plan_trend(f, s->system, a, r->now_min, r->window_d, &out->arena, &n->state, e))
        return false;
    n->known = can_forecast(f, s->system, &n->state);
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
            if (!look_ahead(f, out, s, (enum analyte)a, e))
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
    bool ok = plan_learned(f, REF_NONE, request->now_min, &out->arena, &out->effects, e) && look_at_systems(f, out, e);
    if (!ok)
        ahead_free(out);
    return ok;
}

void ahead_free(struct ahead *a)
{
    arena_free(&a->arena);
    *a = (struct ahead){0};
}
