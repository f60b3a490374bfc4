/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The report as a table. */
#include "trend_csv.h"

#include "neap/exchange.h"
#include "neap/week.h"

enum { WEEK_D = 7 };

static void put_text(const char *s, struct text *out)
{
    text_add(out, out->len && out->s[out->len - 1] != '\n' ? "," : "");
    csv_write_cell(s, out);
}

static void put_number(double v, struct text *out)
{
    char digits[32] = "";
    if (isfinite(v))
        number_format(v, digits);
    put_text(digits, out);
}

static void put_day(int day, struct text *out)
{
    char text[DAY_TEXT] = "";
    if (day != DAY_NONE)
        day_format(day, text);
    put_text(text, out);
}

static double where(bool known, double v)
{
    return known ? v : (double)NAN;
}

static void put_line(const struct facility *f, const struct trend_report *r, const struct trend_system *s,
                     const struct trend_analyte *n, struct text *out)
{
    const struct state *t = &n->state;
    put_text(f->systems[s->system].name, out);
    put_day(r->week_from, out);
    put_day(r->day, out);
    put_text(analytes[n->analyte].name, out);
    put_text(analytes[n->analyte].unit, out);
    put_number(n->band.low, out);
    put_number(n->band.high, out);
    put_number((double)n->n_week, out);
    put_number((double)t->n, out);
    put_number(where(t->has_level, round_near_to(t->level, 1e-6)), out);
    put_text(t->stale ? "too old" : level_verdict_name(n->level), out);
    put_number(where(t->has_slope, round_near_to(t->slope_per_d * WEEK_D, 1e-6)), out);
    put_number(where(t->has_slope, round_near_to(t->slope_lo * WEEK_D, 1e-6)), out);
    put_number(where(t->has_slope, round_near_to(t->slope_hi * WEEK_D, 1e-6)), out);
    put_text(state_verdict_name(t->verdict), out);
    put_number((double)t->n_outliers, out);
    put_number(where(n->has_forecast, round_near_to(n->outside_frac, 1e-4)), out);
    put_day(n->has_forecast ? n->crossing.early_day : DAY_NONE, out);
    put_day(n->has_forecast ? n->crossing.likely_day : DAY_NONE, out);
    put_day(n->has_forecast ? n->crossing.late_day : DAY_NONE, out);
    put_number(round_near_to(s->np_ratio, 0.1), out);
    put_number(s->advice.factor, out);
    put_text(s->advice.rule, out);
    put_day(s->due_day, out);
    text_add(out, "\n");
}

void trend_csv(const struct facility *f, const struct trend_report *r, struct text *out)
{
    text_add(out,
             "system,week_from,day,analyte,unit,band_low,band_high,n_week,n_window,level,level_verdict,slope_per_week,"
             "slope_low_per_week,slope_high_per_week,trend_verdict,n_outliers,outside_in_4_weeks_frac,crossing_early,"
             "crossing_likely,crossing_late,np_molar,strength,rule,test_due\n");
    for (size_t i = 0; i < r->n_systems; i++)
        for (size_t k = 0; k < r->systems[i].n_analytes; k++)
            put_line(f, r, &r->systems[i], &r->systems[i].analytes[k], out);
}
