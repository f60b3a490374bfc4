/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A large farm in blocks. The work of a programme grows faster than its waters, and that of choosing who shares a pot
 * faster still, so that more than RECIPE_BLOCK_MAX waters are planned a block at a time. Waters meet in their pots and
 * in the stock alone: no pot is cut, and of each food a block has its part of the stock, by the most that it could use.
 */
#include "recipe/model.h"
#include "recipe/parts.h"

/* ---- who belongs together --------------------------------------------------------------------------------------- */

struct system_key {
    const struct recipe_problem *p;
    size_t system, key;
};

static int by_number(double a, double b)
{
    return (a > b) - (a < b);
}

/* Waters that may share a pot stand side by side: of like strength, wishes and mouths. */
static int alike_order(const void *left, const void *right)
{
    const struct system_key *a = left, *b = right;
    const struct recipe_problem *p = a->p;
    const struct recipe_system *x = &p->systems[a->system], *y = &p->systems[b->system];
    int order = (x->own_pot > y->own_pot) - (x->own_pot < y->own_pot);
    if (order == 0)
        order = (x->po4_starved > y->po4_starved) - (x->po4_starved < y->po4_starved);
    if (order == 0)
        order = by_number(x->full_frac, y->full_frac);
    if (order == 0)
        order = by_number(x->lean_frac, y->lean_frac);
    for (int n = 0; order == 0 && n < RECIPE_ANALYTES; n++)
        order = by_number(x->shift_frac[n], y->shift_frac[n]);
    if (order == 0 && p->may_eat)
        order = memcmp(&p->may_eat[a->system * p->n_foods], &p->may_eat[b->system * p->n_foods],
                       p->n_foods * sizeof *p->may_eat);
    return order != 0 ? order : (a->system > b->system) - (a->system < b->system);
}

static int group_order(const void *left, const void *right)
{
    const struct system_key *a = left, *b = right;
    if (a->key != b->key)
        return a->key < b->key ? -1 : 1;
    return (a->system > b->system) - (a->system < b->system);
}

/* Blocks of up to so many waters in this order; places of one key (but RECIPE_NONE) stay together. */
static size_t places_cut(const struct system_key *places, size_t n, size_t most, size_t *block_of)
{
    size_t blocks = 0, in_block = 0, i = 0;
    while (i < n) {
        size_t end = i + 1;
        while (end < n && places[i].key != RECIPE_NONE && places[end].key == places[i].key)
            end++;
        if (blocks == 0 || in_block + (end - i) > most) {
            blocks++;
            in_block = 0;
        }
        in_block += end - i;
        for (; i < end; i++)
            block_of[places[i].system] = blocks - 1;
    }
    return blocks;
}

/* A cap on pots is shared out among the blocks, two or more to each. */
static size_t waters_at_most(const struct recipe_problem *p)
{
    size_t most = RECIPE_BLOCK_MAX, most_blocks = p->max_pots < 4 ? 1 : p->max_pots / 2;
    while (p->max_pots > 0 && p->n_systems > most_blocks * most)
        most *= 2;
    return most;
}

/* ---- a block as a problem of its own ---------------------------------------------------------------------------- */

double recipe_units_most(const struct recipe_problem *p, size_t food)
{
    const struct recipe_food *f = &p->foods[food];
    double units = 0;
    for (size_t t = 0; t < p->n_tanks; t++) {
        const struct recipe_tank *tank = &p->tanks[t];
        double full = p->systems[tank->system].full_frac;
        double pots_ml = tank->slurry_ml + tank->late_slurry_ml + 2 * (p->jug.dead_ml + p->jug.step_ml);
        double per_100ml = f->liquid ? f->max_ml_per_100ml : full * p->house_g_per_100ml / f->solids_g_per_unit;
        units += pots_ml / 100 * per_100ml + full * model_broadcast_house(p, t, food);
    }
    return units;
}

/* Waters and tanks of one block, numbered anew; stock not yet shared out. */
static bool block_take(const struct recipe_problem *p, const size_t *block_of, size_t number, size_t *new_number,
                       struct arena *a, struct recipe_block *b)
{
    size_t n_systems = 0, n_tanks = 0;
    for (size_t s = 0; s < p->n_systems; s++)
        n_systems += block_of[s] == number;
    for (size_t t = 0; t < p->n_tanks; t++)
        n_tanks += block_of[p->tanks[t].system] == number;
    struct recipe_system *systems = arena_alloc(a, n_systems, sizeof *systems);
    struct recipe_tank *tanks = arena_alloc(a, n_tanks, sizeof *tanks);
    struct recipe_food *foods = arena_alloc(a, p->n_foods, sizeof *foods);
    bool *may_eat = arena_alloc(a, n_systems * p->n_foods, sizeof *may_eat);
    b->system_of = arena_alloc(a, n_systems, sizeof *b->system_of);
    b->tank_of = arena_alloc(a, n_tanks, sizeof *b->tank_of);
    b->group = arena_alloc(a, n_systems, sizeof *b->group);
    if (!systems || !tanks || !foods || !may_eat || !b->system_of || !b->tank_of || !b->group)
        return false;
    b->p = *p;
    b->p.n_systems = b->p.n_tanks = 0;
    for (size_t s = 0; s < p->n_systems; s++) {
        if (block_of[s] != number)
            continue;
        if (p->may_eat)
            memcpy(&may_eat[b->p.n_systems * p->n_foods], &p->may_eat[s * p->n_foods], p->n_foods * sizeof *may_eat);
        new_number[s] = b->p.n_systems;
        b->system_of[b->p.n_systems] = s;
        systems[b->p.n_systems++] = p->systems[s];
    }
    for (size_t t = 0; t < p->n_tanks; t++) {
        if (block_of[p->tanks[t].system] != number)
            continue;
        b->tank_of[b->p.n_tanks] = t;
        tanks[b->p.n_tanks] = p->tanks[t];
        tanks[b->p.n_tanks++].system = new_number[p->tanks[t].system];
    }
    memcpy(foods, p->foods, p->n_foods * sizeof *foods);
    b->p.systems = systems;
    b->p.tanks = tanks;
    b->p.foods = b->foods = foods;
    b->p.may_eat = p->may_eat ? may_eat : NULL;
    return true;
}

static void stock_share(const struct recipe_problem *p, struct recipe_block *blocks, size_t n)
{
    for (size_t f = 0; f < p->n_foods; f++) {
        const double most = recipe_units_most(p, f);
        for (size_t i = 0; most > 0 && isfinite(p->foods[f].stock) && i < n; i++)
            blocks[i].foods[f].stock *= recipe_units_most(&blocks[i].p, f) / most;
    }
}

bool blocks_make(const struct recipe_problem *p, const size_t *group, struct arena *a, struct recipe_block **out,
                 size_t *n)
{
    struct system_key *places = arena_alloc(a, p->n_systems, sizeof *places);
    size_t *block_of = arena_alloc(a, p->n_systems, sizeof *block_of);
    size_t *new_number = arena_alloc(a, p->n_systems, sizeof *new_number);
    if (!places || !block_of || !new_number)
        return false;
    for (size_t s = 0; s < p->n_systems; s++)
        places[s] = (struct system_key){p, s, group ? group[s] : RECIPE_NONE};
    qsort(places, p->n_systems, sizeof *places, group ? group_order : alike_order);
    *n = places_cut(places, p->n_systems, group ? RECIPE_BLOCK_MAX : waters_at_most(p), block_of);
    if (!(*out = arena_alloc(a, *n, sizeof **out)))
        return false;
    for (size_t i = 0; i < *n; i++) {
        struct recipe_block *b = &(*out)[i];
        if (!block_take(p, block_of, i, new_number, a, b))
            return false;
        for (size_t k = 0; k < b->p.n_systems; k++)
            b->group[k] = group ? group[b->system_of[k]] : RECIPE_NONE;
        b->p.max_pots = p->max_pots > *n ? p->max_pots / *n : p->max_pots;
    }
    if (*n > 1)
        stock_share(p, *out, *n);
    return true;
}
