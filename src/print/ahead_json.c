/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The look ahead as data. */
#include "neap/advice.h"
#include "neap/learned.h"
#include "neap/week.h"
#include "words.h"

enum { WEEK_D = 7 };

static void put_forecast(struct json_text *j, const char *key, const struct ahead *a, const struct forecast *fc,
                         const struct crossing *c)
{
    json_open(j, key, '{');
    json_number_member(j, "slope_per_week", fc->slope_policy_per_d * WEEK_D);
    json_number_member(j, "leaves_frac", fc->leaves_frac);
    json_number_member(j, "leaves_by_upper_edge_frac", fc->leaves_high_frac);
    json_day_member(j, "leaves_middle_day", fc->leaves_day < 0 ? DAY_NONE : a->day + fc->leaves_day);
    json_flag_member(j, "inside_now", c->inside);
    json_day_member(j, "crossing_early", c->early_day);
    json_day_member(j, "crossing_likely", c->likely_day);
    json_day_member(j, "crossing_late", c->late_day);
    json_open(j, "weeks", '[');
    for (size_t i = WEEK_D; i < fc->n_days; i += WEEK_D) {
        const struct forecast_day *day = &fc->days[i];
        json_open(j, NULL, '{');
        json_day_member(j, "day", a->day + day->day);
        json_number_member(j, "p05", day->p05);
        json_number_member(j, "p50", day->p50);
        json_number_member(j, "p95", day->p95);
        json_number_member(j, "test_p05", day->test_p05);
        json_number_member(j, "test_p95", day->test_p95);
        json_number_member(j, "above_frac", day->above_frac);
        json_number_member(j, "below_frac", day->below_frac);
        json_close(j);
    }
    json_close(j);
    json_close(j);
}

static void put_analyte(struct json_text *j, const struct ahead *a, const struct ahead_analyte *n)
{
    json_open(j, NULL, '{');
    json_text_member(j, "analyte", analytes[n->analyte].name);
    json_text_member(j, "unit", analytes[n->analyte].unit);
    json_number_member(j, "band_low", n->band.low);
    json_number_member(j, "band_high", n->band.high);
    json_flag_member(j, "forecast", n->known);
    if (n->known) {
        json_number_member(j, "level", n->state.level);
        put_forecast(j, "as_now", a, &n->as_now, &n->now_crosses);
        if (a->policy_given)
            put_forecast(j, "what_if", a, &n->what_if, &n->if_crosses);
    }
    json_close(j);
}

void ahead_json(const struct facility *f, const struct ahead *a, struct text *out)
{
    struct json_text j = {.out = out};
    json_open(&j, NULL, '{');
    json_number_member(&j, "schema", JSON_PRINT_SCHEMA);
    json_day_member(&j, "day", a->day);
    json_number_member(&j, "weeks", a->request.weeks);
    json_number_member(&j, "runs", a->request.runs);
    json_number_member(&j, "seed", (double)a->request.seed);
    json_number_member(&j, "strength_frac", a->request.policy.strength_frac);
    json_number_member(&j, "change_frac_per_week", a->request.policy.change_frac_per_week);
    json_open(&j, "skipped", '[');
    for (size_t i = 0; a->request.policy.skip && i < f->n_foods; i++)
        if (a->request.policy.skip[i])
            json_text_member(&j, NULL, f->foods[i].name);
    json_close(&j);
    json_open(&j, "systems", '[');
    for (size_t i = 0; i < a->n_systems; i++) {
        const struct ahead_system *s = &a->systems[i];
        json_open(&j, NULL, '{');
        json_text_member(&j, "system", f->systems[s->system].name);
        json_number_member(&j, "n_days_fed", (double)s->n_days_fed);
        json_number_member(&j, "change_frac_per_week", s->habit_frac_per_week);
        json_open(&j, "analytes", '[');
        for (int n = 0; n < N_NUTRIENTS; n++)
            put_analyte(&j, a, &s->analytes[n]);
        json_close(&j);
        json_close(&j);
    }
    json_close(&j);
    json_close(&j);
}
