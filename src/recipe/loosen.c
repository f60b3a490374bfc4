/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the round would look if one limit were a little wider. */
#include "neap/recipe.h"

/* A copy of the problem in which the one number that a limit is about can be changed. */
struct copy {
    struct recipe_problem p;
    struct recipe_food *foods;
    struct recipe_system *systems;
};

static void *copy_array(struct arena *a, const void *from, size_t n, size_t size)
{
    void *to = arena_alloc(a, n, size);
    if (to && n > 0)
        memcpy(to, from, n * size);
    return to;
}

static bool copy_make(const struct recipe_problem *p, struct arena *a, struct copy *c)
{
    *c = (struct copy){.p = *p};
    c->p.foods = c->foods = copy_array(a, p->foods, p->n_foods, sizeof *p->foods);
    c->p.systems = c->systems = copy_array(a, p->systems, p->n_systems, sizeof *p->systems);
    return c->foods && c->systems;
}

static bool copy_loosen(struct copy *c, const struct recipe_limit *limit, double by)
{
    switch (limit->kind) {
    case RECIPE_CEILING: c->systems[limit->system].load_frac -= by; return true;
    case RECIPE_STOCK: c->foods[limit->food].stock += by; return true;
    case RECIPE_ROOM_LOW: c->systems[limit->system].low_room_mg[limit->analyte] -= by; return true;
    case RECIPE_ROOM_HIGH: c->systems[limit->system].high_room_mg[limit->analyte] += by; return true;
    case RECIPE_FALL: c->systems[limit->system].max_fall_mg[limit->analyte] += by; return true;
    case RECIPE_RISE: c->systems[limit->system].max_rise_mg[limit->analyte] += by; return true;
    default: return false;
    }
}

bool recipe_loosen(const struct recipe_problem *p, const struct recipe *r, const struct recipe_limit *limit, double by,
                   struct recipe *after, struct err *e)
{
    struct arena a = {0};
    struct copy c;
    *after = (struct recipe){0};
    bool ok = copy_make(p, &a, &c) || err_memory(e);
    if (ok && (!copy_loosen(&c, limit, by) || !isfinite(by) || by < 0))
        ok = err_set(e, ERR_MISUSE, NULL, "only ceilings, stock, room and a day's change can be loosened, by ≥ 0");
    ok = ok && recipe_plan_groups(&c.p, r->group, after, e);
    arena_free(&a);
    return ok;
}
