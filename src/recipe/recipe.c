/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The way in: the best grouping solved, measured, and its limits named. */
#include "recipe/model.h"
#include "recipe/parts.h"

static const double noticed = 1e-7; /* parts of a limit below which nothing was passed */

/* ---- from the solved programme back to pots --------------------------------------------------------------------- */

static bool shares_passed(const struct recipe_problem *p, const struct model_pot *pot, const double *x)
{
    double solids_g = 0;
    for (size_t f = 0; f < p->n_foods; f++)
        solids_g += model_amount(x, pot->food_col[f]) * p->foods[f].solids_g_per_unit;
    for (size_t f = 0; f < p->n_foods; f++) {
        const struct recipe_food *food = &p->foods[f];
        double units = model_amount(x, pot->food_col[f]);
        if (pot->food_col[f] == RECIPE_NONE)
            continue;
        if (food->liquid && units * 100 / pot->slurry_ml < food->min_ml_per_100ml - noticed)
            return true;
        if (food->liquid || solids_g <= MODEL_DUST)
            continue;
        double share = units * food->solids_g_per_unit / solids_g;
        if (share < food->share_min_frac - noticed || share > model_share_max(pot, food) + noticed)
            return true;
    }
    return false;
}

static bool take_pot(const struct recipe_block *b, const struct model_pot *from, const double *x, struct recipe *r)
{
    const struct recipe_problem *p = &b->p;
    struct recipe_pot *pot = &r->pots[r->n_pots++];
    *pot = (struct recipe_pot){.late = from->late,
                               .n_systems = from->n_systems,
                               .least_ml = from->slurry_ml,
                               .slurry_ml = from->slurry_ml,
                               .fed_ml = from->fed_ml,
                               .lean_frac = from->lean_frac,
                               .full_frac = from->full_frac,
                               .by_liquids = !from->solids,
                               .house_units = from->house_units};
    pot->systems = arena_alloc(&r->arena, from->n_systems, sizeof *pot->systems);
    pot->amounts = arena_alloc(&r->arena, p->n_foods, sizeof *pot->amounts);
    if (!pot->systems || !pot->amounts)
        return false;
    for (size_t k = 0; k < from->n_systems; k++)
        pot->systems[k] = b->system_of[from->systems[k]];
    double strength = model_amount(x, from->strength_col);
    for (size_t f = 0; f < p->n_foods; f++)
        if (model_amount(x, from->food_col[f]) > 0)
            pot->amounts[pot->n_amounts++] =
                (struct recipe_amount){.food = f,
                                       .exact = x[from->food_col[f]],
                                       .house = model_house(&p->foods[f], from) * strength,
                                       .share_max_frac = model_share_max(from, &p->foods[f]),
                                       .premix = RECIPE_NONE};
    pot->below_lean = strength < from->lean_frac * (1 - noticed);
    pot->shares_passed = shares_passed(p, from, x);
    return true;
}

static void take_broadcasts(const struct recipe_block *block, const struct model *m, const double *x, struct recipe *r)
{
    const struct recipe_problem *p = m->p;
    for (size_t i = 0; i < p->n_tanks * p->n_foods; i++) {
        if (m->broadcast_col[i] == RECIPE_NONE)
            continue;
        size_t tank = i / p->n_foods, food = i % p->n_foods;
        const struct recipe_system *s = &p->systems[p->tanks[tank].system];
        double house_ml = model_broadcast_house(p, tank, food);
        struct recipe_broadcast b = {.tank = block->tank_of[tank], .food = food};
        b.house_ml = house_ml * s->full_frac;
        b.exact = model_amount(x, m->broadcast_col[i]);
        r->broadcasts[r->n_broadcasts++] = b;
    }
}

static int broadcast_order(const void *left, const void *right)
{
    const struct recipe_broadcast *a = left, *b = right;
    if (a->tank != b->tank)
        return a->tank < b->tank ? -1 : 1;
    return (a->food > b->food) - (a->food < b->food);
}

/* Does a price say that the limit holds the recipe back? A least limit helps by falling, a most limit by rising. */
static bool limit_hurts(enum recipe_limit_kind kind, double price)
{
    switch (kind) {
    case RECIPE_STRENGTH_LEAN:
    case RECIPE_SHARE_MIN:
    case RECIPE_ROOM_LOW:
    case RECIPE_FALL:
    case RECIPE_RICHER: return price > 0;
    default: return price < 0;
    }
}

/* A state's full strength holds nothing back where something else kept the amount below it. */
static bool is_reached(const struct model *m, const double *x, const struct recipe_limit *l)
{
    if (l->kind != RECIPE_STRENGTH_FULL)
        return true;
    size_t col =
        l->pot != RECIPE_NONE ? m->pots[l->pot].strength_col : m->broadcast_col[l->tank * m->p->n_foods + l->food];
    return model_amount(x, col) >= l->limit * (1 - noticed);
}

/* In the stage that asks for a strength its price is the wish itself; what holds the wish back is another limit. */
static bool is_wish(enum recipe_limit_kind kind, size_t stage)
{
    return (kind == RECIPE_STRENGTH_LEAN && stage == RECIPE_LEAN) ||
           (kind == RECIPE_STRENGTH_FULL && stage == RECIPE_FULL);
}

/* Limits as they are met, block after block. */
struct limits {
    struct recipe_limit *list;
    size_t n, room;
};

static size_t in_whole(const size_t *of, size_t index)
{
    return index == RECIPE_NONE ? RECIPE_NONE : of[index];
}

static bool limit_add(struct limits *found, const struct recipe_block *b, struct recipe_limit limit, size_t first_pot)
{
    struct recipe_limit *moved = mem_grow(found->list, &found->room, found->n + 1, sizeof *moved);
    if (!moved)
        return false;
    limit.pot = limit.pot == RECIPE_NONE ? RECIPE_NONE : first_pot + limit.pot;
    limit.system = in_whole(b->system_of, limit.system);
    limit.tank = in_whole(b->tank_of, limit.tank);
    found->list = moved;
    found->list[found->n++] = limit;
    return true;
}

static bool take_limits(const struct recipe_block *b, const struct model *m, const struct lp_answer *answer,
                        size_t first_pot, struct limits *found)
{
    bool ok = true, *listed = calloc(m->n_about + 1, sizeof *listed);
    for (size_t stage = 0; listed && stage < RECIPE_UNIQUE; stage++)
        for (size_t row = 0; ok && row < m->n_about; row++) {
            double price = answer->price[stage * m->lp.n_rows + row];
            if (listed[row] || !m->about[row].listed || is_wish(m->about[row].limit.kind, stage) ||
                !limit_hurts(m->about[row].limit.kind, price) || !is_reached(m, answer->x, &m->about[row].limit))
                continue;
            listed[row] = true;
            struct recipe_limit limit = m->about[row].limit;
            limit.stage = (enum recipe_stage)stage;
            limit.price = fabs(price);
            ok = limit_add(found, b, limit, first_pot);
        }
    ok = ok && listed;
    free(listed);
    return ok;
}

/* By stage, then as met. A food's stock stands there once: with the first stage that it holds back, and all of it. */
static bool limits_sort(const struct recipe_problem *p, const struct limits *found, struct recipe *r)
{
    bool *told = arena_alloc(&r->arena, p->n_foods, sizeof *told);
    r->limits = arena_alloc(&r->arena, found->n, sizeof *r->limits);
    if (!told || !r->limits)
        return false;
    for (size_t stage = 0; stage < RECIPE_UNIQUE; stage++)
        for (size_t i = 0; i < found->n; i++) {
            struct recipe_limit limit = found->list[i];
            if (limit.stage != (enum recipe_stage)stage || (limit.kind == RECIPE_STOCK && told[limit.food]))
                continue;
            if (limit.kind == RECIPE_STOCK) {
                told[limit.food] = true;
                limit.limit = p->foods[limit.food].stock;
            }
            r->limits[r->n_limits++] = limit;
        }
    return true;
}

static bool take_kept(const struct model *m, const struct lp_answer *answer, struct recipe *r)
{
    if (!(r->kept = arena_alloc(&r->arena, m->lp.n_cols, sizeof *r->kept)))
        return false;
    memcpy(r->kept, answer->kept, m->lp.n_cols * sizeof *r->kept);
    return true;
}

static bool take_answer(const struct recipe_block *b, const struct model *m, const struct lp_answer *answer,
                        struct recipe *r, struct limits *found)
{
    size_t first_pot = r->n_pots;
    for (size_t i = 0; i < m->n_pots; i++)
        if (!take_pot(b, &m->pots[i], answer->x, r))
            return false;
    for (size_t stage = 0; stage < RECIPE_STAGES; stage++)
        r->stage_value[stage] += answer->value[stage];
    take_broadcasts(b, m, answer->x, r);
    return take_limits(b, m, answer, first_pot, found) && (r->n_blocks > 1 || take_kept(m, answer, r));
}

static bool block_fill(const struct recipe_block *b, struct recipe *r, struct limits *found, struct err *e)
{
    struct model m;
    struct lp_answer answer;
    bool ok = model_build(&b->p, b->group, RECIPE_STAGES, &m, e) &&
              lp_solve(&m.lp, RECIPE_STAGES, NULL, &m.arena, &answer, e);
    if (ok && !take_answer(b, &m, &answer, r, found))
        ok = err_memory(e);
    model_free(&m);
    return ok;
}

static bool answer_begin(const struct recipe_problem *p, struct recipe *r)
{
    r->pots = arena_alloc(&r->arena, 2 * p->n_systems, sizeof *r->pots);
    r->balance = arena_alloc(&r->arena, p->n_systems, sizeof *r->balance);
    r->load_frac = arena_alloc(&r->arena, p->n_systems, sizeof *r->load_frac);
    r->broadcasts = arena_alloc(&r->arena, p->n_tanks * p->n_foods, sizeof *r->broadcasts);
    return r->pots && r->balance && r->load_frac && r->broadcasts;
}

/*
 * What every recipe promises: no water beyond its ceilings but for what it began with, no more of a food than there is,
 * each water in pots of its group alone, and the pots group after group.
 */
static bool recipe_holds(const struct recipe_problem *p, const struct recipe *r)
{
    for (size_t s = 0; s < p->n_systems; s++)
        if (r->load_frac[s] > fmax(1, p->systems[s].load_frac) + 1e-6)
            return false;
    for (size_t f = 0; f < p->n_foods; f++)
        if (recipe_stock_taken(r, f) > p->foods[f].stock + 1e-6)
            return false;
    for (size_t i = 0; i < r->n_pots; i++)
        for (size_t k = 0; k < r->pots[i].n_systems; k++)
            if (r->group[r->pots[i].systems[k]] != r->group[r->pots[i].systems[0]] ||
                (i > 0 && r->group[r->pots[i].systems[0]] < r->group[r->pots[i - 1].systems[0]]))
                return false;
    return true;
}

/* Solves for r->group and fills in the rest of r. */
static bool recipe_fill(const struct recipe_problem *p, struct recipe *r, struct err *e)
{
    struct arena a = {0};
    struct limits found = {0};
    struct recipe_block *blocks;
    bool ok = (answer_begin(p, r) && blocks_make(p, r->group, &a, &blocks, &r->n_blocks)) || err_memory(e);
    for (size_t i = 0; ok && i < r->n_blocks; i++)
        ok = block_fill(&blocks[i], r, &found, e);
    if (ok && r->n_blocks > 1)
        qsort(r->broadcasts, r->n_broadcasts, sizeof *r->broadcasts, broadcast_order);
    ok = ok && (limits_sort(p, &found, r) || err_memory(e));
    free(found.list);
    arena_free(&a);
    ok = ok && recipe_round(p, r, e);
    debug_assert(!ok || recipe_holds(p, r));
    return ok;
}

/* ---- the two ways in -------------------------------------------------------------------------------------------- */

static bool recipe_begin(const struct recipe_problem *p, struct recipe *r, struct err *e)
{
    *r = (struct recipe){0};
    if (!recipe_check(p, e))
        return false;
    r->group = arena_alloc(&r->arena, p->n_systems, sizeof *r->group);
    return r->group || err_memory(e);
}

bool recipe_plan(const struct recipe_problem *p, struct recipe *r, struct err *e)
{
    return recipe_begin(p, r, e) && recipe_choose(p, r, e) && recipe_fill(p, r, e);
}

/* Takes over the caller's groups, numbered by first system; a system with nothing due has none. */
static bool groups_take(const struct recipe_problem *p, const size_t *group, struct recipe *r, struct err *e)
{
    size_t n_groups = 0;
    for (size_t s = 0; s < p->n_systems; s++) {
        r->group[s] = RECIPE_NONE;
        if (!recipe_is_due(p, s))
            continue;
        if (group[s] == RECIPE_NONE)
            return err_set(e, ERR_INPUT, NULL, "system \"%s\": slurry is due, but it has no pot", p->systems[s].name);
        for (size_t before = 0; before < s; before++) {
            if (r->group[before] == RECIPE_NONE || group[before] != group[s])
                continue;
            if (p->systems[before].own_pot || p->systems[s].own_pot)
                return err_set(e, ERR_INPUT, NULL, "systems \"%s\" and \"%s\" cannot share a pot: quarantine or hold",
                               p->systems[before].name, p->systems[s].name);
            r->group[s] = r->group[before];
        }
        if (r->group[s] == RECIPE_NONE)
            r->group[s] = n_groups++;
    }
    return true;
}

bool recipe_plan_groups(const struct recipe_problem *p, const size_t *group, struct recipe *r, struct err *e)
{
    return recipe_begin(p, r, e) && groups_take(p, group, r, e) && recipe_own(p, r, e) && recipe_fill(p, r, e);
}

void recipe_free(struct recipe *r)
{
    arena_free(&r->arena);
    *r = (struct recipe){0};
}

/* ---- the programme as text -------------------------------------------------------------------------------------- */

static void write_name(struct text *t, const char *name)
{
    for (const char *c = name; *c; c++)
        text_add_char(t, (unsigned char)*c < ' ' ? ' ' : *c, 1); /* a comment ends with its line */
}

static void write_numbered(struct text *t, const char *kind, size_t number, const char *name)
{
    text_addf(t, "\\ %s %zu: ", kind, number);
    write_name(t, name);
    text_add(t, "\n");
}

static void write_names(const struct model *m, struct text *t)
{
    const struct recipe_problem *p = m->p;
    text_add(t, "\\ g or mL of a food in a pot x_POT_FOOD, broadcast mL b_TANK_FOOD, house strengths s_POT\n");
    for (size_t i = 0; i < m->n_pots; i++) {
        text_addf(t, "\\ pot %zu%s, %.6g mL:", i, m->pots[i].late ? " (late)" : "", m->pots[i].slurry_ml);
        for (size_t k = 0; k < m->pots[i].n_systems; k++) {
            text_add(t, k > 0 ? ", " : " ");
            write_name(t, p->systems[m->pots[i].systems[k]].name);
        }
        text_add(t, "\n");
    }
    for (size_t f = 0; f < p->n_foods; f++)
        write_numbered(t, "food", f, p->foods[f].name);
    for (size_t k = 0; k < p->n_tanks; k++)
        write_numbered(t, "tank", k, p->tanks[k].name);
    for (size_t s = 0; s < p->n_systems; s++)
        write_numbered(t, "system", s, p->systems[s].name);
}

bool recipe_write_lp(const struct recipe_problem *p, const struct recipe *r, enum recipe_stage stage, struct text *t,
                     struct err *e)
{
    struct model m;
    if (r->n_blocks > 1)
        return err_set(e, ERR_INPUT, NULL,
                       "the foods of %zu waters are %zu programmes; expected up to %d waters to write one",
                       p->n_systems, r->n_blocks, RECIPE_BLOCK_MAX);
    bool ok = model_build(p, r->group, (size_t)stage + 1, &m, e);
    if (ok) {
        write_names(&m, t);
        lp_write(&m.lp, stage, r->stage_value, r->kept, t);
        ok = !t->failed || err_memory(e);
    }
    model_free(&m);
    return ok;
}
