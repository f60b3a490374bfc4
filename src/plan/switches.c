/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What must be off while a system is fed and on again after: a skimmer takes the food out before it is eaten,
 * ultraviolet and ozone kill what is alive of it, carbon and filter rollers hold it back, and what is dosed into still
 * water stays where it falls. Common practice, no source; whether and for how long is the house's own register.
 */
#include "neap/plan.h"

#include <math.h>

static bool concerns(const struct system_switch *s, const struct line *l)
{
    if (s->off_for == OFF_FOR_NOTHING)
        return false;
    return s->off_for == OFF_FOR_BOTH || (l->action == ACTION_BROADCAST) == (s->off_for == OFF_FOR_BROADCAST);
}

/* false: nothing of the round concerns it. Who begins turns it off, who ends turns it on. */
static bool switching_of(const struct facility *f, const struct round *r, const bool *left_out,
                         const struct system_switch *s, struct switching *out)
{
    const struct line *first = NULL, *last = NULL;
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        if (f->tanks[l->tank].system != s->system || !concerns(s, l) || (left_out && left_out[i]))
            continue;
        if (!first || l->start_min < first->start_min)
            first = l;
        if (!last || l->end_min >= last->end_min)
            last = l;
    }
    if (!first)
        return false;
    *out = (struct switching){.round = r->head.number,
                              .revision = r->head.revision,
                              .system = s->system,
                              .device = s->device,
                              .off_min = first->start_min,
                              .on_min = last->end_min + (int)ceil(s->on_after_min),
                              .off_feeder = first->feeder,
                              .on_feeder = last->feeder,
                              .note = s->note};
    return true;
}

static bool goes_off_before(const struct switching *a, const struct switching *b)
{
    if (a->off_min != b->off_min)
        return a->off_min < b->off_min;
    return a->system != b->system ? a->system < b->system : a->device < b->device;
}

bool round_switchings(const struct facility *f, struct round *r, const bool *left_out, struct err *e)
{
    r->n_switchings = 0;
    r->switchings = arena_alloc(&r->arena, f->n_switches, sizeof *r->switchings);
    if (!r->switchings)
        return err_memory(e);
    for (size_t i = 0; i < f->n_switches; i++) {
        struct switching s;
        if (!switching_of(f, r, left_out, &f->switches[i], &s))
            continue;
        size_t at = r->n_switchings++;
        for (; at > 0 && goes_off_before(&s, &r->switchings[at - 1]); at--)
            r->switchings[at] = r->switchings[at - 1];
        r->switchings[at] = s;
    }
    for (size_t i = 0; i < r->n_switchings; i++)
        r->switchings[i].number = (long)i + 1;
    return true;
}

static const struct switching *switching_as_kept(const struct round *kept, const struct switching *s)
{
    for (size_t i = 0; i < kept->n_switchings; i++)
        if (kept->switchings[i].system == s->system && kept->switchings[i].device == s->device)
            return &kept->switchings[i];
    return NULL;
}

static int by_number(const void *left, const void *right)
{
    const struct switching *a = left, *b = right;
    return (a->number > b->number) - (a->number < b->number);
}

void round_switchings_renumber(struct round *r, const struct round *kept)
{
    long last = 0;
    for (size_t i = 0; i < kept->n_switchings; i++)
        last = kept->switchings[i].number > last ? kept->switchings[i].number : last;
    for (size_t i = 0; i < r->n_switchings; i++) {
        const struct switching *was = switching_as_kept(kept, &r->switchings[i]);
        r->switchings[i].number = was ? was->number : ++last;
    }
    if (r->n_switchings > 1)
        qsort(r->switchings, r->n_switchings, sizeof *r->switchings, by_number);
}

bool is_off_too_long(const struct facility *f, const struct switching *s, double *limit_min)
{
    *limit_min = NAN;
    for (size_t i = 0; i < f->n_switches; i++)
        if (f->switches[i].system == s->system && f->switches[i].device == s->device)
            *limit_min = f->switches[i].off_limit_min;
    return s->on_min - s->off_min > *limit_min; /* never, where there is none */
}
