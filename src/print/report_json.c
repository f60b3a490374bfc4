/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The weekly report as data: what the text says, with all its digits. */
#include "neap/advice.h"
#include "neap/capacity.h"
#include "neap/figures.h"
#include "neap/learned.h"
#include "neap/week.h"
#include "words.h"

enum { WEEK_D = 7 };

static double where(bool known, double v)
{
    return known ? v : (double)NAN;
}

static void put_crossing(struct json_text *j, const struct trend_analyte *n)
{
    json_open(j, "forecast", '{');
    json_number_member(j, "outside_in_4_weeks_frac", n->outside_frac);
    json_flag_member(j, "inside_now", n->crossing.inside);
    json_flag_member(j, "by_upper_edge", n->crossing.high);
    json_day_member(j, "crossing_early", n->crossing.early_day);
    json_day_member(j, "crossing_likely", n->crossing.likely_day);
    json_day_member(j, "crossing_late", n->crossing.late_day);
    json_close(j);
}

static void put_points(struct json_text *j, const struct trend_analyte *n)
{
    json_open(j, "tests", '[');
    for (size_t i = 0; i < n->n_points; i++) {
        json_open(j, NULL, '{');
        json_number_member(j, "at_d", round_near_to(n->points[i].at_d, 1e-4));
        json_number_member(j, "value", n->points[i].value);
        json_flag_member(j, "below_detection", n->points[i].below);
        json_flag_member(j, "outlier", n->points[i].outlier);
        json_flag_member(j, "other_method", n->points[i].other);
        json_close(j);
    }
    json_close(j);
}

static void put_analyte(struct json_text *j, const struct trend_analyte *n)
{
    const struct state *s = &n->state;
    json_open(j, NULL, '{');
    json_text_member(j, "analyte", analytes[n->analyte].name);
    json_text_member(j, "unit", analytes[n->analyte].unit);
    json_number_member(j, "band_low", n->band.low);
    json_number_member(j, "band_high", n->band.high);
    json_number_member(j, "n_week", (double)n->n_week);
    json_number_member(j, "n_window", (double)s->n);
    json_number_member(j, "n_below_detection", (double)s->n_below);
    json_number_member(j, "level", where(s->has_level, s->level));
    json_number_member(j, "level_sd", where(s->has_level, s->level_sd));
    json_flag_member(j, "stale", s->stale);
    json_text_member(j, "level_verdict", level_verdict_name(n->level));
    json_text_member(j, "line_verdict", level_verdict_name(s->level_verdict));
    json_number_member(j, "slope_per_week", where(s->has_slope, s->slope_per_d * WEEK_D));
    json_number_member(j, "slope_low_per_week", where(s->has_slope, s->slope_lo * WEEK_D));
    json_number_member(j, "slope_high_per_week", where(s->has_slope, s->slope_hi * WEEK_D));
    json_number_member(j, "p", s->p);
    json_text_member(j, "trend_verdict", state_verdict_name(s->verdict));
    json_flag_member(j, "steady", n->steady);
    json_text_member(j, "method", n->method ? n->method : "");
    json_flag_member(j, "method_changed", s->method_changed);
    json_number_member(j, "n_fitted", (double)s->n_fitted);
    json_number_member(j, "n_other_method", (double)s->n_other);
    json_number_member(j, "n_offset", (double)s->n_offset);
    json_number_member(j, "offset", s->offset);
    json_number_member(j, "change_to_upper_edge_frac", n->edge_change_frac);
    if (n->has_forecast)
        put_crossing(j, n);
    put_points(j, n);
    json_close(j);
}

static void put_food(struct json_text *j, const struct facility *f, const struct trend_food *t)
{
    json_open(j, NULL, '{');
    json_text_member(j, "food", f->foods[t->food].name);
    json_text_member(j, "unit", f->foods[t->food].unit == UNIT_G ? "g" : "ml");
    json_number_member(j, "week_units", t->week_units);
    json_number_member(j, "window_units", t->window_units);
    json_number_member(j, "week_n_mg", t->week_n_mg);
    json_number_member(j, "week_p_mg", t->week_p_mg);
    json_number_member(j, "week_no3_mg_l", t->week_mg_l[ANALYTE_NO3]);
    json_number_member(j, "week_po4_mg_l", t->week_mg_l[ANALYTE_PO4]);
    json_number_member(j, "window_no3_mg_l", t->window_mg_l[ANALYTE_NO3]);
    json_number_member(j, "window_po4_mg_l", t->window_mg_l[ANALYTE_PO4]);
    json_close(j);
}

static void put_overfull(struct json_text *j, const struct facility *f, const struct capacity *c)
{
    json_open(j, NULL, '{');
    json_text_member(j, "system", f->systems[c->system].name);
    json_text_member(j, "kind", f->kinds[c->kind].name);
    json_number_member(j, "interval_d", c->interval_d);
    json_number_member(j, "can_be_fed_every_d", c->gets_d);
    json_number_member(j, "rounds_per_week", c->rounds_per_d * 7);
    json_number_member(j, "room_frac", c->room_frac);
    json_number_member(j, c->by_hands ? "hands_asked_frac" : "asked_frac", c->by_hands ? c->hands_frac : c->asked_frac);
    json_close(j);
}

static void put_system(struct json_text *j, const struct facility *f, const struct trend_system *s)
{
    static const char *const attention[] = {"phosphate starved",
                                            "outside the band",
                                            "reading to repeat",
                                            "untested",
                                            "leaving the band",
                                            "too few tests",
                                            "none"};
    json_open(j, NULL, '{');
    json_text_member(j, "system", f->systems[s->system].name);
    json_text_member(j, "attention", attention[s->attention]);
    json_number_member(j, "strength", s->advice.factor);
    json_number_member(j, "strength_by_rule", s->advice.factor_rule);
    json_text_member(j, "rule", s->advice.rule);
    json_text_member(j, "held_by", s->advice.held ? s->advice.held : "");
    for (int i = 0; i < N_NUTRIENTS; i++)
        json_text_member(j, i == ANALYTE_NO3 ? "latest_no3" : "latest_po4",
                         s->advice.latest[i] ? s->advice.latest[i] : "");
    for (int i = 0; i < N_NUTRIENTS; i++)
        json_text_member(j, i == ANALYTE_NO3 ? "foods_no3" : "foods_po4",
                         s->advice.direction[i] < 0   ? "poorer"
                         : s->advice.direction[i] > 0 ? "richer"
                                                      : "house blend");
    json_number_member(j, "np_molar", s->np_ratio);
    json_number_member(j, "change_frac_per_week", s->habit_frac_per_week);
    json_number_member(j, "n_days_fed_in_week", (double)s->n_week_fed);
    json_day_member(j, "last_test", s->last_test_day);
    json_day_member(j, "test_due", s->due_day);
    json_open(j, "weeks_without_test", '[');
    for (size_t i = 0; i < s->n_missed; i++)
        json_day_member(j, NULL, s->missed[i]);
    json_close(j);
    json_open(j, "analytes", '[');
    for (size_t i = 0; i < s->n_analytes; i++)
        put_analyte(j, &s->analytes[i]);
    json_close(j);
    json_open(j, "foods", '[');
    for (size_t i = 0; i < s->n_foods; i++)
        put_food(j, f, &s->foods[i]);
    json_close(j);
    json_open(j, "overfull", '[');
    if (s->overfull)
        put_overfull(j, f, s->overfull);
    json_close(j);
    json_close(j);
}

static void put_effect(struct json_text *j, const struct facility *f, size_t food, enum analyte a,
                       const struct food_belief *b)
{
    json_open(j, NULL, '{');
    json_text_member(j, "food", f->foods[food].name);
    json_text_member(j, "analyte", analytes[a].name);
    json_number_member(j, "declared_mg_per_unit", b->declared);
    json_number_member(j, "declared_sd", b->prior_sd);
    json_number_member(j, "by_log_mg_per_unit", b->effect.mean);
    json_number_member(j, "by_log_low", b->effect.lo);
    json_number_member(j, "by_log_high", b->effect.hi);
    json_number_member(j, "data_weight_frac", b->effect.data_weight_frac);
    json_flag_member(j, "claimed", b->learned);
    json_flag_member(j, "against_declared", b->against);
    json_close(j);
}

static void put_effects(struct json_text *j, const struct facility *f, const struct learned_effects *l)
{
    json_open(j, "effects", '[');
    for (size_t i = 0; i < l->n_foods && l->n_systems > 0; i++)
        for (int a = 0; a < N_NUTRIENTS; a++)
            if (l->foods[a][i].effect.fed)
                put_effect(j, f, i, (enum analyte)a, &l->foods[a][i]);
    json_close(j);
    json_open(j, "cannot_be_told_apart", '[');
    for (int a = 0; a < N_NUTRIENTS; a++)
        for (size_t i = 0; i < l->n_collinears[a]; i++) {
            const struct food_collinear *t = &l->collinears[a][i];
            json_open(j, NULL, '{');
            json_text_member(j, "analyte", analytes[a].name);
            json_text_member(j, "food", f->foods[t->food].name);
            json_text_member(j, "other", t->other == FOOD_BACKGROUND ? "" : f->foods[t->other].name);
            json_number_member(j, "cosine", t->cosine);
            json_number_member(j, "sd_now", t->sd_now);
            json_number_member(j, "sd_after_proposal", t->sd_after);
            json_close(j);
        }
    json_close(j);
}

static void put_rounds(struct json_text *j, const struct facility *f, const struct log_week *week)
{
    const struct log_figures *g = &week->figures;
    json_open(j, "rounds", '{');
    json_number_member(j, "n_rounds", (double)g->rounds);
    json_number_member(j, "n_lines", (double)g->lines);
    json_number_member(j, "n_on_time", (double)g->on_time);
    json_number_member(j, "n_unaccounted", (double)g->unaccounted);
    const struct reg *given = reg_get(REG_GIVEN);
    const char *const *names = given->fields[reg_field(given, "outcome")].choices;
    json_open(j, "n_by_outcome", '{');
    for (size_t i = 0; i < COUNT_OF(g->outcomes); i++)
        json_number_member(j, names[i], (double)g->outcomes[i]);
    json_close(j);
    json_number_member(j, "planned_ml", g->planned_ml);
    json_number_member(j, "mixed_ml", g->mixed_ml);
    json_number_member(j, "given_ml", g->given_ml);
    json_number_member(j, "refused_ml", g->refused_ml);
    json_number_member(j, "wasted_ml", number_without_dust(log_wasted_ml(g)));
    json_open(j, "unaccounted", '[');
    for (size_t i = 0; i < week->n_open; i++) {
        json_open(j, NULL, '{');
        json_number_member(j, "round", (double)week->open[i].number);
        json_text_member(j, "name", week->open[i].name);
        json_day_member(j, "day", week->open[i].day);
        json_text_member(j, "lines", week->open[i].lines);
        json_close(j);
    }
    json_close(j);
    json_open(j, "foods", '[');
    for (size_t i = 0; i < f->n_foods; i++) {
        const struct food_figures *food = &g->foods[i];
        if (food->offered == 0 && food->weighings == 0)
            continue;
        json_open(j, NULL, '{');
        json_text_member(j, "food", f->foods[i].name);
        json_number_member(j, "n_lines_fed", (double)food->offered);
        json_number_member(j, "n_refused", (double)food->refused);
        json_number_member(j, "n_weighings", (double)food->weighings);
        json_number_member(j, "weighing_off_mean_frac",
                           where(food->weighings > 0, food->off_frac_sum / (double)food->weighings));
        json_close(j);
    }
    json_close(j);
    json_close(j);
}

static void put_life(struct json_text *j, const struct facility *f, const struct log_week *week)
{
    static const char *const names[N_WEEK_PARTS] = {"holds", "treatments", "waste"};
    const struct field *reason = &reg_get(REG_TALLY)->fields[reg_field(reg_get(REG_TALLY), "reason")];
    json_open(j, "life", '{');
    for (int i = 0; i < TALLY_MOVED; i++)
        json_number_member(j, reason->choices[i], (double)week->corals[i]);
    json_open(j, "long_flow_stops", '[');
    for (size_t i = 0; i < week->n_stops; i++) {
        const struct long_stop *s = &week->stops[i];
        json_open(j, NULL, '{');
        json_number_member(j, "round", (double)s->round);
        json_text_member(j, "tank", f->tanks[s->tank].name);
        json_number_member(j, "off_for_min", where(s->on_min != INT_MAX, (double)s->on_min - s->off_min));
        json_number_member(j, "limit_min", s->limit_min);
        json_close(j);
    }
    json_close(j);
    json_open(j, "switches_off", '[');
    for (size_t i = 0; i < week->n_switches; i++) {
        const struct switch_fault *s = &week->switches[i];
        const struct reg *r = reg_get(REG_SWITCHED);
        json_open(j, NULL, '{');
        json_number_member(j, "round", (double)s->round);
        json_text_member(j, "system", f->systems[s->system].name);
        json_text_member(j, "device", r->fields[reg_field(r, "device")].choices[s->device]);
        json_number_member(j, "off_for_min", where(s->on_min != INT_MAX, (double)s->on_min - s->off_min));
        json_number_member(j, "limit_min", s->limit_min);
        json_close(j);
    }
    json_close(j);
    json_open(j, "unfed", '[');
    for (size_t i = 0; i < week->n_unfed; i++) {
        json_open(j, NULL, '{');
        json_text_member(j, "colony", f->colonies[week->unfed[i].colony].code);
        json_number_member(j, "days", (double)week->unfed[i].days);
        json_close(j);
    }
    json_close(j);
    for (size_t i = 0; i < COUNT_OF(week->events); i++) {
        json_open(j, names[i], '[');
        for (size_t k = 0; k < week->events[i].n; k++) {
            json_open(j, NULL, '{');
            json_day_member(j, "day", week->events[i].rows[k].day);
            json_text_member(j, "text", week->events[i].rows[k].text);
            json_close(j);
        }
        json_close(j);
    }
    json_close(j);
}

void report_json(const struct facility *f, const struct trend_report *r, const struct log_week *week, struct text *out)
{
    struct json_text j = {.out = out};
    json_open(&j, NULL, '{');
    json_number_member(&j, "schema", JSON_PRINT_SCHEMA);
    json_day_member(&j, "week_from", r->week_from);
    json_day_member(&j, "day", r->day);
    json_number_member(&j, "window_d", r->window_d);
    json_open(&j, "systems", '[');
    for (size_t i = 0; i < r->n_systems; i++)
        put_system(&j, f, &r->systems[i]);
    json_close(&j);
    json_open(&j, "short_of_hands", '[');
    if (r->short_of_hands)
        put_overfull(&j, f, r->short_of_hands);
    json_close(&j);
    put_rounds(&j, f, week);
    put_life(&j, f, week);
    put_effects(&j, f, &r->effects);
    json_close(&j);
}
