/* SPDX-License-Identifier: GPL-3.0-or-later */
/* When each pot is mixed, and when again: the slurry spoils, and hands that mix cannot feed. */
#include "neap/plan.h"

#include "neap/calc.h"

#include <math.h>
#include <string.h>

struct mixing {
    const struct facility *f;
    const struct round *r;
    const bool *left_out;
    const struct line **lines; /* of one pot, by the clock */
    size_t n_lines;
    struct batch *batches;
    size_t n;
};

static bool by_clock(const struct line *a, const struct line *b)
{
    return a->start_min != b->start_min ? a->start_min < b->start_min : a->number < b->number;
}

static void lines_of(struct mixing *z, const struct pot *pot)
{
    z->n_lines = 0;
    for (size_t i = 0; i < z->r->n_lines; i++) {
        const struct line *l = &z->r->lines[i];
        if (l->action != ACTION_TARGET || strcmp(l->pot, pot->pot) != 0 || (z->left_out && z->left_out[i]))
            continue;
        size_t at = z->n_lines++;
        for (; at > 0 && by_clock(l, z->lines[at - 1]); at--)
            z->lines[at] = z->lines[at - 1];
        z->lines[at] = l;
    }
}

/* The latest minute up to which the feeder's hands are free for so long, going back from one. */
static int free_before(const struct mixing *z, long feeder, int until_min, int length_min)
{
    int start_min = until_min - length_min;
    for (bool moved = true; moved;) {
        moved = false;
        for (size_t i = 0; i < z->r->n_lines; i++) {
            const struct line *l = &z->r->lines[i];
            if (l->feeder == feeder && !(z->left_out && z->left_out[i]) && l->start_min < start_min + length_min &&
                l->end_min > start_min) {
                start_min = l->start_min - length_min;
                moved = true;
            }
        }
        for (size_t i = 0; i < z->n; i++) {
            const struct batch *b = &z->batches[i];
            if (b->feeder == feeder && b->mix_min < start_min + length_min && b->mixed_min > start_min) {
                start_min = b->mix_min - length_min;
                moved = true;
            }
        }
    }
    return start_min;
}

/* The stop that a line belongs to begins with its flow: nobody mixes between that and the corals. */
static int visit_begin(const struct mixing *z, const struct line *l)
{
    int begin_min = l->start_min;
    for (size_t i = 0; i < z->r->n_lines; i++) {
        const struct line *off = &z->r->lines[i];
        if (off->action == ACTION_FLOW_OFF && off->feeder == l->feeder && off->start_min <= l->start_min &&
            off->pass == l->pass && share_pump(z->f, off->tank, l->tank))
            begin_min = off->start_min;
    }
    return begin_min;
}

static void begin_batch(struct mixing *z, size_t pot, const struct line *first, long number)
{
    int length_min = (int)ceil(z->f->settings.pot_mix_min);
    int mix_min = free_before(z, first->feeder, visit_begin(z, first), length_min);
    z->batches[z->n++] = (struct batch){.pot = pot,
                                        .number = number,
                                        .feeder = first->feeder,
                                        .mix_min = mix_min,
                                        .mixed_min = mix_min + length_min,
                                        .old_min = mix_min + (int)z->f->settings.slurry_life_min};
}

/* What all its lines would get, those left out too: the batches share out what is left of that. */
static double planned_ml(const struct mixing *z, const struct pot *p)
{
    double ml = 0;
    for (size_t i = 0; i < z->r->n_lines; i++)
        if (z->r->lines[i].action == ACTION_TARGET && strcmp(z->r->lines[i].pot, p->pot) == 0)
            ml += z->r->lines[i].amount;
    return ml;
}

/* Each batch its lines' part of what the pot's table makes, losses with it, rounded up to the jug. */
static void mix_pot(struct mixing *z, size_t pot)
{
    const struct pot *p = &z->r->pots[pot];
    size_t first = z->n;
    double all_ml = planned_ml(z, p);
    lines_of(z, p);
    for (size_t i = 0; i < z->n_lines; i++) {
        if (i == 0 || z->lines[i]->end_min > z->batches[z->n - 1].old_min)
            begin_batch(z, pot, z->lines[i], (long)(z->n - first) + 1);
        z->batches[z->n - 1].made_ml += z->lines[i]->amount;
    }
    const struct vessel jug = {z->f->settings.pot_step_ml, z->f->settings.pot_dead_ml};
    for (size_t i = first; i < z->n; i++) {
        struct batch *b = &z->batches[i];
        double part_ml = p->made_ml * b->made_ml / all_ml;
        b->made_ml = fmin(p->made_ml, round_up_to(part_ml - 1e-9, vessel_step_ml(&jug, part_ml)));
    }
}

bool round_batches(const struct facility *f, const struct round *r, const bool *left_out, struct arena *a,
                   struct batch **batches, size_t *n, struct err *e)
{
    struct mixing z = {.f = f, .r = r, .left_out = left_out};
    z.lines = arena_alloc(a, r->n_lines, sizeof(const struct line *));
    z.batches = arena_alloc(a, r->n_lines, sizeof *z.batches);
    if (!z.lines || !z.batches)
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
