/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a chart shows beside the tests: the robust line with its interval, the weeks ahead, and what was done to the
 * water.
 */
#include "neap/ledger.h"
#include "week/picture.h"

enum { LINE_POINTS = 9 };

/*
 * The line of the tests, by days from now. Its interval is that of the forecast's first day, which is drawn from the
 * same fit, widened away from the centre as a straight line's is: by sqrt(1/n + (t - c)^2 / S), S = sum (t_i - c)^2
 * (any text on regression). Only where there is a forecast.
 */
bool picture_line(struct trend_analyte *n, double window_d, struct arena *a, struct err *e)
{
    const struct state *s = &n->state;
    if (!n->has_forecast) /* else there is a slope, of readings of two moments or more */
        return true;
    struct trend_span *line = arena_alloc(a, LINE_POINTS, sizeof *line);
    if (!line)
        return err_memory(e);
    double half_now = (n->ahead[0].p95 - n->ahead[0].p05) / 2, each = 1.0 / (double)s->n_fitted;
    double now = sqrt(each + s->centre_d * s->centre_d / s->spread_d2), first_d = -fmin(s->span_d, window_d);
    for (size_t i = 0; i < LINE_POINTS; i++) {
        double at_d = first_d * (1 - (double)i / (LINE_POINTS - 1)), off = at_d - s->centre_d;
        double level = s->level + s->slope_per_d * at_d, half = half_now * sqrt(each + off * off / s->spread_d2) / now;
        line[i] = (struct trend_span){at_d, level, fmax(0, level - half), level + half};
    }
    n->line = line;
    n->n_line = LINE_POINTS;
    return true;
}

static double days_from(long now_min, int day)
{
    return (double)(2 * (day * MIN_PER_DAY - now_min) + MIN_PER_DAY) / (2.0 * MIN_PER_DAY);
}

bool picture_events(const struct facility *f, long now_min, const struct day_span *window, struct trend_system *s,
                    struct arena *a, struct err *e)
{
    struct system_rows own = feds_of(f, s->system);
    int last_day = DAY_NONE;
    struct trend_event *events = arena_alloc(a, own.end - own.first + f->n_waters, sizeof *events);
    if (!events)
        return err_memory(e);
    for (size_t i = own.first; i < own.end; i++) {
        if (f->feds[i].day == last_day || !span_holds(window, f->feds[i].day))
            continue;
        last_day = f->feds[i].day;
        events[s->n_events++] = (struct trend_event){fmin(days_from(now_min, last_day), 0), false};
    }
    for (size_t i = 0; i < f->n_waters; i++)
        if (f->waters[i].system == s->system && f->waters[i].exchanged <= now_min &&
            span_holds(window, moment_day(f->waters[i].exchanged)))
            events[s->n_events++] =
                (struct trend_event){(double)(f->waters[i].exchanged - now_min) / (double)MIN_PER_DAY, true};
    s->events = events;
    return true;
}
