/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A recalled or empty lot in a begun round: another of its food instead, for what is not mixed and not given yet. */
#include "neap/log.h"
#include "neap/stock.h"
#include "neap/working.h"

#include <string.h>

struct swapping {
    const struct facility *f;
    int day;
    double *taken; /* per lot: by other rounds of the day, and by what this one keeps or was swapped to it */
};

static bool has(const struct swapping *z, size_t lot, double units)
{
    return lot_measurable(z->f, &z->f->lots[lot], z->day) - z->taken[lot] >= units - 1e-9;
}

/* The lot to be used first that has so much beside what was taken of it; REF_NONE: none has. */
static size_t other_lot(const struct swapping *z, size_t lot, double units)
{
    size_t best = REF_NONE;
    for (size_t i = 0; i < z->f->n_lots; i++)
        if (i != lot && z->f->lots[i].food == z->f->lots[lot].food && has(z, i, units) &&
            (best == REF_NONE || lot_expiry_order(z->f, i, best) < 0))
            best = i;
    return best;
}

/* What is measured needs no swap where the lot still has it, be it less than a step of the measure. */
static bool still_holds(const struct swapping *z, size_t lot, double units)
{
    return !z->f->lots[lot].retired && lot_left(&z->f->lots[lot]) - z->taken[lot] >= units - 1e-6;
}

static void swap_lot(struct swapping *z, size_t *lot, double units)
{
    if (*lot == REF_NONE)
        return;
    size_t other = still_holds(z, *lot, units) ? REF_NONE : other_lot(z, *lot, units);
    if (other != REF_NONE)
        *lot = other;
    z->taken[*lot] += units;
}

static void take_others(struct swapping *z, const struct round *r)
{
    for (size_t i = 0; i < z->f->n_day_claims; i++) {
        const struct day_claim *c = &z->f->day_claims[i];
        if (c->day == r->head.day && strcmp(c->round, r->head.name) != 0)
            z->taken[c->lot] += c->units;
    }
}

bool round_swap_lots(const struct facility *f, struct round *r, const bool *done, const bool *pot_begun, struct err *e)
{
    struct swapping z = {f, r->head.day, arena_alloc(&r->arena, f->n_lots, sizeof *z.taken)};
    if (!z.taken)
        return err_memory(e);
    take_others(&z, r);
    for (size_t i = 0; i < r->n_pots; i++)
        for (size_t k = 0; k < r->n_pot_foods && !pot_begun[i]; k++) {
            struct pot_food *pf = &r->pot_foods[k];
            if (strcmp(pf->pot, r->pots[i].pot) == 0)
                swap_lot(&z, &pf->lot, pf->premix_units > 0 ? pf->premix_units : pf->amount_units);
        }
    for (size_t i = 0; i < r->n_lines; i++)
        if (!done[i])
            swap_lot(&z, &r->lines[i].lot, r->lines[i].amount);
    return true;
}
