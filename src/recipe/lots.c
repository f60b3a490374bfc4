/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which lot an amount comes from. The lots of a food are used up in their order, but nobody opens a new one for a rest
 * that the scale hardly shows, nor scrapes out an old one: what a weighing may be off by is left out, a rest of few
 * steps left in.
 */
#include "recipe/parts.h"

static const double dust = 1e-9;
static const double off_frac = 0.05; /* a weighing may be off by so much, or by a step. Common practice, no source */

enum { SCRAPE_STEPS = 10 }; /* a rest of fewer scale steps is not scraped out of its lot. Common practice, no source */

struct food_lots {
    const struct recipe_problem *p;
    size_t food, lot;
    double *left; /* per lot of the food */
    double spare; /* units of it that the round does not need */
};

static double may_be_off(const struct food_lots *s, double units)
{
    double step = s->p->foods[s->food].step;
    return fmax(step, round_down_to(units * off_frac, step)) + dust;
}

/* A lot ends a little short of an amount: the rest is done without, if the pot bears it. */
static bool cut_short(const struct food_lots *s, struct recipe_pot *pot, struct recipe_amount *a, double missing)
{
    double was = a->amount;
    if (missing > may_be_off(s, was))
        return false;
    struct recipe_fit before = recipe_fit_of(s->p, pot);
    a->amount = round_near_to(was - missing, dust);
    struct recipe_fit after = recipe_fit_of(s->p, pot);
    if (a->amount > 0 && after.shares <= before.shares + dust && after.lean <= before.lean + dust)
        return true;
    a->amount = was;
    return false;
}

static void take_part(struct recipe_amount *a, size_t lot, double units)
{
    a->parts[a->n_parts++] = (struct recipe_part){lot, units};
}

static void take_amount(struct food_lots *s, struct recipe_pot *pot, struct recipe_amount *a)
{
    const struct recipe_food *f = &s->p->foods[s->food];
    double rest = a->amount;
    while (rest > dust && s->lot + 1 < f->n_lots) {
        double left = s->left[s->lot];
        if (rest <= left + dust)
            break;
        if (left > dust && cut_short(s, pot, a, rest - left)) {
            rest = left;
            break;
        }
        if (left > dust && left < SCRAPE_STEPS * f->step - dust && left <= s->spare) {
            s->spare -= left;
        } else if (left > dust) {
            take_part(a, s->lot, left);
            rest = round_near_to(rest - left, dust);
        }
        s->lot++;
    }
    if (rest > dust) {
        take_part(a, s->lot, rest);
        if (s->lot < f->n_lots)
            s->left[s->lot] = round_near_to(s->left[s->lot] - rest, dust);
    }
}

static bool take_food(const struct recipe_problem *p, struct recipe *r, size_t food)
{
    const struct recipe_food *f = &p->foods[food];
    struct food_lots s = {.p = p, .food = food, .spare = f->stock - recipe_stock_taken(r, food)};
    s.left = arena_alloc(&r->arena, f->n_lots, sizeof *s.left);
    if (!s.left)
        return false;
    for (size_t i = 0; i < f->n_lots; i++)
        s.left[i] = f->lots[i];
    for (size_t i = 0; i < r->n_premixes; i++)
        if (r->premixes[i].food == food && r->premixes[i].lot < f->n_lots)
            s.left[r->premixes[i].lot] = round_near_to(s.left[r->premixes[i].lot] - r->premixes[i].weigh, dust);
    for (size_t i = 0; i < r->n_pots; i++)
        for (size_t k = 0; k < r->pots[i].n_amounts; k++) {
            struct recipe_amount *a = &r->pots[i].amounts[k];
            if (a->food != food || a->premix != RECIPE_NONE)
                continue;
            if (!(a->parts = arena_alloc(&r->arena, f->n_lots + 1, sizeof *a->parts)))
                return false;
            take_amount(&s, &r->pots[i], a);
        }
    return true;
}

bool recipe_take_lots(const struct recipe_problem *p, struct recipe *r, struct err *e)
{
    for (size_t f = 0; f < p->n_foods; f++)
        if (!take_food(p, r, f))
            return err_memory(e);
    return true;
}
