/* SPDX-License-Identifier: GPL-3.0-or-later */
/* When each pot is mixed, and when again: the slurry spoils, and hands that mix cannot feed. */
#include "neap/plan.h"

#include "neap/calc.h"

#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What one stop takes of a pot. It begins with its flow: nobody mixes between that and the corals. */
struct use {
    long feeder, number; /* number: of its first line */
    int begin_min, end_min;
    double ml;
};

/* A feeder's hands, on a line or on an earlier batch. */
struct busy {
    long feeder;
    int start_min, end_min;
};

struct mixing {
    const struct facility *f;
    const struct round *r;
    const bool *left_out;
    long n_feeders;
    int *ready_min; /* per feeder, from 1: not there before */
    const struct line **offs;
    size_t n_offs;
    struct use *uses; /* of one pot, by the clock */
    size_t n_uses;
    struct busy *busy; /* by start */
    size_t n_busy;
    struct batch *batches;
    size_t n;
};

/* ---- the round, as hands that are busy and stops that take of a pot ---------------------------------------------- */

static bool is_given(const struct mixing *z, size_t line)
{
    return !(z->left_out && z->left_out[line]);
}

static void add_busy(struct mixing *z, long feeder, int start_min, int end_min)
{
    size_t at = z->n_busy++;
    for (; at > 0 && z->busy[at - 1].start_min > start_min; at--)
        z->busy[at] = z->busy[at - 1];
    z->busy[at] = (struct busy){feeder, start_min, end_min};
}

static int by_start(const void *left, const void *right)
{
    const struct busy *a = left, *b = right;
    return (a->start_min > b->start_min) - (a->start_min < b->start_min);
}

static bool begin(struct mixing *z, struct arena *a)
{
    const struct round *r = z->r;
    for (size_t i = 0; i < r->n_lines; i++)
        z->n_feeders = r->lines[i].feeder > z->n_feeders ? r->lines[i].feeder : z->n_feeders;
    z->ready_min = arena_alloc(a, (size_t)z->n_feeders + 1, sizeof *z->ready_min);
    z->offs = arena_alloc(a, r->n_lines, sizeof(const struct line *));
    z->uses = arena_alloc(a, r->n_lines, sizeof *z->uses);
    z->busy = arena_alloc(a, 2 * r->n_lines, sizeof *z->busy);
    z->batches = arena_alloc(a, r->n_lines, sizeof *z->batches);
    if (!z->ready_min || !z->offs || !z->uses || !z->busy || !z->batches)
        return false;
    for (long feeder = 1; feeder <= z->n_feeders; feeder++)
        z->ready_min[feeder] = INT_MIN;
    for (size_t i = 0; i < r->n_asked; i++)
        if (r->asked[i].what == ASKED_LATE && r->asked[i].feeder <= z->n_feeders)
            z->ready_min[r->asked[i].feeder] = (int)r->asked[i].at_min;
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        if (is_given(z, i))
            z->busy[z->n_busy++] = (struct busy){l->feeder, l->start_min, l->end_min};
        if (l->action == ACTION_FLOW_OFF)
            z->offs[z->n_offs++] = l;
    }
    qsort(z->busy, z->n_busy, sizeof *z->busy, by_start);
    return true;
}

static int visit_begin(const struct mixing *z, const struct line *l)
{
    int begin_min = l->start_min;
    for (size_t i = 0; i < z->n_offs; i++) {
        const struct line *off = z->offs[i];
        if (off->feeder == l->feeder && off->start_min <= l->start_min && off->pass == l->pass &&
            share_pump(z->f, off->tank, l->tank))
            begin_min = off->start_min;
    }
    return begin_min;
}

static int by_clock(const void *left, const void *right)
{
    const struct use *a = left, *b = right;
    if (a->begin_min != b->begin_min)
        return a->begin_min < b->begin_min ? -1 : 1;
    return (a->number > b->number) - (a->number < b->number);
}

static void add_line(struct mixing *z, const struct line *l)
{
    const int begin_min = visit_begin(z, l);
    struct use *last = z->n_uses > 0 ? &z->uses[z->n_uses - 1] : NULL;
    if (!last || last->feeder != l->feeder || last->begin_min != begin_min) {
        last = &z->uses[z->n_uses++];
        *last = (struct use){l->feeder, l->number, begin_min, l->end_min, 0};
    }
    last->end_min = l->end_min > last->end_min ? l->end_min : last->end_min;
    last->ml += l->amount;
}

/* Its lines stand together on the list of their feeder. Also what all of them would get, those left out too. */
static double uses_of(struct mixing *z, const struct pot *p)
{
    double planned_ml = 0;
    z->n_uses = 0;
    for (size_t i = 0; i < z->r->n_lines; i++) {
        const struct line *l = &z->r->lines[i];
        if (l->action != ACTION_TARGET || strcmp(l->pot, p->pot) != 0)
            continue;
        planned_ml += l->amount;
        if (is_given(z, i))
            add_line(z, l);
    }
    qsort(z->uses, z->n_uses, sizeof *z->uses, by_clock);
    return planned_ml;
}

/* ---- who mixes, and when ----------------------------------------------------------------------------------------- */

/*
 * The latest minute from which the feeder's hands are free for so long, up to one; INT_MIN: they are not there by then.
 */
static int free_before(const struct mixing *z, long feeder, int until_min, int length_min)
{
    int start_min = until_min - length_min;
    for (size_t i = z->n_busy; i-- > 0;) {
        const struct busy *b = &z->busy[i];
        if (b->feeder == feeder && b->start_min < start_min + length_min && b->end_min > start_min)
            start_min = b->start_min - length_min;
    }
    return start_min >= z->ready_min[feeder] ? start_min : INT_MIN;
}

/* How many stops in a row, from one on, are over before a slurry of that minute is too old. */
static size_t n_held(const struct mixing *z, size_t first, int mix_min)
{
    size_t n = 0;
    while (mix_min > INT_MIN && first + n < z->n_uses &&
           z->uses[first + n].end_min <= mix_min + (int)z->f->settings.slurry_life_min)
        n++;
    return n;
}

/*
 * As late as hands are free before the first stop: those of whoever feeds there, if the slurry then holds as long as by
 * anybody else's. Never does: the latest there is.
 */
static struct batch latest_batch(const struct mixing *z, size_t first)
{
    const struct use *use = &z->uses[first];
    const int length_min = (int)ceil(z->f->settings.pot_mix_min);
    long who = use->feeder;
    int mix_min = free_before(z, who, use->begin_min, length_min);
    for (long feeder = 1; feeder <= z->n_feeders; feeder++) {
        const int other_min = free_before(z, feeder, use->begin_min, length_min);
        const size_t held = n_held(z, first, mix_min), others = n_held(z, first, other_min);
        if (others > held || (held == 0 && other_min > mix_min)) {
            who = feeder;
            mix_min = other_min;
        }
    }
    if (mix_min == INT_MIN) /* nobody is there yet: they come earlier by that */
        mix_min = use->begin_min - length_min;
    return (struct batch){.feeder = who,
                          .mix_min = mix_min,
                          .mixed_min = mix_min + length_min,
                          .old_min = mix_min + (int)z->f->settings.slurry_life_min};
}

/* Of a pot that was made larger, its part of that, too. */
static double batch_ml(const struct mixing *z, const struct pot *p, double ml, double planned_ml)
{
    const struct vessel jug = {z->f->settings.pot_step_ml, z->f->settings.pot_dead_ml};
    const double part_ml = p->made_ml * ml / planned_ml;
    return fmin(p->made_ml, fmax(vessel_fill_ml(&jug, ml), round_up_to(part_ml - 1e-9, vessel_step_ml(&jug, part_ml))));
}

static void mix_pot(struct mixing *z, size_t pot)
{
    const struct pot *p = &z->r->pots[pot];
    const double planned_ml = uses_of(z, p);
    long number = 0;
    for (size_t first = 0, n; first < z->n_uses; first += n) {
        struct batch b = latest_batch(z, first);
        n = n_held(z, first, b.mix_min);
        n = n > 0 ? n : 1;
        for (size_t i = first; i < first + n; i++) {
            b.made_ml += z->uses[i].ml;
            b.last_min = z->uses[i].end_min > b.last_min ? z->uses[i].end_min : b.last_min;
        }
        b.pot = pot;
        b.number = ++number;
        b.made_ml = batch_ml(z, p, b.made_ml, planned_ml);
        add_busy(z, b.feeder, b.mix_min, b.mixed_min);
        z->batches[z->n++] = b;
    }
}

bool round_batches(const struct facility *f, const struct round *r, const bool *left_out, struct arena *a,
                   struct batch **batches, size_t *n, struct err *e)
{
    struct mixing z = {.f = f, .r = r, .left_out = left_out};
    if (!begin(&z, a))
        return err_memory(e);
    for (size_t i = 0; i < r->n_pots; i++)
        mix_pot(&z, i);
    for (size_t i = 1; i < z.n; i++) { /* by the clock, those of one minute by pot */
        struct batch b = z.batches[i];
        size_t at = i;
        for (; at > 0 && b.mix_min < z.batches[at - 1].mix_min; at--)
            z.batches[at] = z.batches[at - 1];
        z.batches[at] = b;
    }
    *batches = z.batches;
    *n = z.n;
    return true;
}
