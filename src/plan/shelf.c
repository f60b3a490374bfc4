/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is left of the lots while the round is written down, and in which order a food's lots are used. */
#include "neap/stock.h"
#include "neap/working.h"

static bool comes_before(const struct facility *f, size_t a, size_t b)
{
    if (f->lots[a].food != f->lots[b].food)
        return f->lots[a].food < f->lots[b].food;
    return lot_expiry_order(f, a, b) < 0;
}

bool working_usable(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    w->usable = arena_alloc(w->a, f->n_foods, sizeof *w->usable);
    if (!w->usable)
        return err_memory(e);
    if (!working_day(w, e))
        return false;
    for (size_t i = 0; i < f->n_lots; i++)
        w->usable[f->lots[i].food] += lot_free(w, i);
    return true;
}

bool shelf_fill(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    struct shelf *s = &w->shelf;
    *s = (struct shelf){.lots = arena_alloc(w->a, f->n_lots, sizeof *s->lots),
                        .held = arena_alloc(w->a, f->n_lots, sizeof *s->held),
                        .left = arena_alloc(w->a, f->n_lots, sizeof *s->left),
                        .first = arena_alloc(w->a, f->n_foods + 1, sizeof *s->first)};
    if (!s->lots || !s->held || !s->left || !s->first)
        return err_memory(e);
    for (size_t i = 0; i < f->n_lots; i++) {
        if (lot_free(w, i) <= 0)
            continue;
        size_t at = s->n++;
        for (; at > 0 && comes_before(f, i, s->lots[at - 1]); at--)
            s->lots[at] = s->lots[at - 1];
        s->lots[at] = i;
    }
    for (size_t i = 0; i < s->n; i++)
        s->left[i] = s->held[i] = lot_free(w, s->lots[i]);
    for (size_t food = 0, i = 0; food <= f->n_foods; food++) {
        while (food > 0 && i < s->n && f->lots[s->lots[i]].food < food)
            i++;
        s->first[food] = i;
    }
    return true;
}

double shelf_rest(double units, double taken)
{
    return round_near_to(units - taken, 1e-9);
}

size_t shelf_take_lot(struct shelf *s, size_t food, size_t nth, double units)
{
    size_t at = s->first[food] + nth;
    s->left[at] = shelf_rest(s->left[at], units);
    return s->lots[at];
}

double shelf_take(struct shelf *s, size_t food, double units, size_t *lot)
{
    for (size_t i = s->first[food]; i < s->first[food + 1]; i++) {
        if (s->left[i] <= 1e-9)
            continue;
        double taken = fmin(units, s->left[i]);
        *lot = shelf_take_lot(s, food, i - s->first[food], taken);
        return taken;
    }
    *lot = REF_NONE;
    return units; /* rounding has proved that the stock suffices; only dust can be left over */
}
