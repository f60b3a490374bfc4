/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the sheet says of the round as a whole: its head, the foods to have ready, and what is switched off for it. */
#include "neap/why.h"
#include "why/why.h"

static const char *clock_words(struct why *y, int minute)
{
    char clock[CLOCK_TEXT];
    clock_format(minute, clock);
    return why_format(y, "%s", clock);
}

/* ---- head ------------------------------------------------------------------------------------------------------- */

static void explain_counts(struct why *y)
{
    const struct round *r = y->r;
    why_step(y, "Counts", "counted from the lines of the sheet");
    why_number(y, "tanks", (double)round_tanks(y->w->f, r), "", "that a line goes to");
    why_number(y, "colonies", (double)round_colonies(r), "", "of the lines that feed corals, summed");
    why_number(y, "pots", (double)r->n_pots, "", "neap why pot A shows one");
    why_number(y, "flows to turn back on", (double)round_lines(r, ACTION_FLOW_ON), "", "FLOW ON lines");
    why_number(y, "switches to turn back on", (double)r->n_switchings, "", "neap why sw1 shows one");
    why_number(y, "not fed, and listed", (double)r->n_waitings, "", "neap why COLONY tells the reason");
    why_result(y, "lines", (double)r->n_lines, "");
}

/* Minutes in which a feeder has a line to do: lines of one step have the same minutes. */
static double hands_min(struct why *y, long feeder)
{
    const struct round *r = y->r;
    double minutes = 0;
    int until = INT_MIN;
    for (;;) { /* the lines by their start */
        const struct line *next = NULL;
        for (size_t i = 0; i < r->n_lines; i++)
            if (r->lines[i].feeder == feeder && r->lines[i].end_min > until &&
                (!next || r->lines[i].start_min < next->start_min))
                next = &r->lines[i];
        if (!next)
            return minutes;
        minutes += next->end_min - greater(until, next->start_min);
        until = next->end_min;
    }
}

static void explain_span(struct why *y)
{
    const struct round_head *h = &y->r->head;
    const struct settings *s = &y->w->f->settings;
    why_step(y, "Clock",
             "last flow on - first broadcast; the order with the least finish found, then the least walking");
    why_clock(y, "begins", h->start_min,
              h->start_min == request_start_min(y->w->f, y->w->request) ? "as asked, or set" : "by the end asked for");
    why_clock(y, "all flows on", h->finish_min, "last line done");
    why_number(y, "to walk", h->walked_m, "m", "tanks' position_m, in the order of the lines");
    why_number(y, "at", s->walk_m_per_min, "m/min", origin_setting(y, "walk_m_per_min"));
    why_result(y, "takes", h->finish_min - h->start_min, "min");
}

/*
 * The proof itself is a page of argument; what it rests on can be shown. bound_min of a clock that was set anew is not
 * known.
 */
static void explain_bound(struct why *y)
{
    const struct round_head *h = &y->r->head;
    const struct settings *s = &y->w->f->settings;
    double work_min = 0;
    why_step(y, "No order is shorter",
             "hands' work and the idleness that nobody can avoid, over the feeders; no less than the longest tank "
             "takes; docs/order.md, Lower bound");
    for (long i = 1; i <= h->feeders; i++) {
        double minutes = hands_min(y, i);
        why_number(y, why_format(y, "feeder %ld has work for", i), minutes, "min", "lines, without ways and mixing");
        work_min += minutes;
    }
    why_number(y, "by feeders", work_min / (double)h->feeders, "min", "the work, shared out evenly");
    why_number(y, "idle at the start", s->lag_min_min, "min",
               why_format(y, "%s: first corals after their broadcast, as far as no other broadcast fills it",
                          origin_setting(y, "lag_min_min")));
    why_number(y, "idle at the end", s->rest_min, "min",
               why_format(y, "%s: the last rest, as far as no flow on fills it", origin_setting(y, "rest_min")));
    if (isnan(h->bound_min))
        why_verdict(y, "bound", "not known: the clock was set anew");
    else
        why_result(y, "no order is shorter than", h->bound_min, "min");
}

void why_head(struct why *y)
{
    const struct round_head *h = &y->r->head;
    y->x->title = why_format(y, "round %ld, revision %ld", h->number, h->revision);
    why_answer(y, h->finish_min - h->start_min, "min",
               why_format(y, "%zu tanks, %s to %s", round_tanks(y->w->f, y->r), clock_words(y, h->start_min),
                          clock_words(y, h->finish_min)));
    explain_counts(y);
    explain_span(y);
    explain_bound(y);
}

/* ---- totals ----------------------------------------------------------------------------------------------------- */

/* A row for each pot and each line that takes of the food. */
static void explain_total(struct why *y, size_t food)
{
    const struct round *r = y->r;
    const char *unit = food_unit_name(&y->w->f->foods[food]);
    why_step(y, y->w->f->foods[food].name, "lines + pots; of a premix what is weighed; as the measure reads");
    for (size_t i = 0; i < r->n_pot_foods; i++) {
        const struct pot_food *p = &r->pot_foods[i];
        if (p->food == food)
            why_number(y, why_format(y, "pot %s", p->pot), p->premix_ml > 0 ? p->premix_units : p->amount_units, unit,
                       p->premix_ml > 0 ? "its part of what is weighed for the premix" : "weighed or drawn for it");
    }
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].food == food)
            why_number(y, why_format(y, "line %ld", r->lines[i].number), r->lines[i].amount, unit,
                       why_format(y, "tank %s", y->w->f->tanks[r->lines[i].tank].name));
    why_result(y, "have ready", round_food_units(r, food), unit);
}

void why_totals(struct why *y)
{
    long n = 0;
    y->x->title = "food to have ready before the round";
    for (size_t i = 0; i < y->w->f->n_foods; i++)
        if (round_food_units(y->r, i) > 0) {
            explain_total(y, i);
            n++;
        }
    why_answer(y, NAN, "", why_format(y, "%ld food%s", n, n == 1 ? "" : "s"));
}

/* ---- switches --------------------------------------------------------------------------------------------------- */

static const char *const off_for_words[] = {
    [OFF_FOR_BROADCAST] = "the system's first broadcast - its last broadcast, + the time it stays off",
    [OFF_FOR_FEEDING] = "the system's first line that is no broadcast - its last, + the time it stays off",
    [OFF_FOR_BOTH] = "the system's first line - its last, + the time it stays off",
    [OFF_FOR_NOTHING] = "",
};

void why_switch(struct why *y, size_t switching)
{
    const struct facility *f = y->w->f;
    const struct switching *s = &y->r->switchings[switching];
    y->x->title = why_format(y, "%s of %s", device_titles[s->device], f->systems[s->system].name);
    why_answer(y, s->off_min, "clock",
               why_format(y, "off at %s, on again at %s", clock_words(y, s->off_min), clock_words(y, s->on_min)));
    for (size_t i = 0; i < f->n_switches; i++) {
        const struct system_switch *w = &f->switches[i];
        if (w->system != s->system || w->device != s->device)
            continue;
        const char *origin =
            why_format(y, "register switch, %s %s", f->systems[s->system].name, device_titles[s->device]);
        why_step(y, "Off and on again", off_for_words[w->off_for]);
        why_clock(y, "first line of them begins", s->off_min, why_format(y, "feeder %ld turns it off", s->off_feeder));
        why_clock(y, "last of them ends", s->on_min - (int)ceil(w->on_after_min),
                  why_format(y, "feeder %ld turns it on again", s->on_feeder));
        why_number(y, "stays off after it", w->on_after_min, "min", origin);
        if (!isnan(w->off_limit_min))
            why_number(y, "off at most", w->off_limit_min, "min", origin);
        why_number(y, "off in all", s->on_min - s->off_min, "min", "");
        why_result(y, "on again", s->on_min, "clock");
    }
}
