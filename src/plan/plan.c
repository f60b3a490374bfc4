/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A facility's snapshot in, a round out: the steps in their order. */
#include "neap/working.h"

static bool fill_head(const struct working *w, struct round *r, struct err *e)
{
    r->head.day = w->request->day;
    r->head.name = w->round == REF_NONE ? "" : arena_text(w->a, w->f->daily_rounds[w->round].name);
    r->head.start_min = request_start_min(w->f, w->request);
    r->head.feeders = request_feeders(w->f, w->request);
    if (w->order.n_steps)
        r->head.start_min = w->order.start_min;
    r->head.finish_min = w->order.n_steps ? w->order.finish_min : r->head.start_min;
    r->head.walked_m = round_near_to(w->order.walked_m, 0.1);
    r->head.bound_min = w->order.n_steps ? (double)(w->order.lower_bound_min - r->head.start_min) : (double)NAN;
    r->head.request = "";
    r->cautions = w->cautions;
    r->n_cautions = w->n_cautions;
    return r->head.name || err_memory(e);
}

bool working_foods(struct working *w, struct err *e)
{
    return working_usable(w, e) && working_states(w, e) && working_dues(w, e) && working_needs(w, e) &&
           working_recipe(w, e) && working_unfed(w, e);
}

/* Batches that are fed from when they are too old, since nobody's hands were free to mix them later. */
static bool count_too_old(const struct working *w, const struct round *r, size_t *n_old, struct err *e)
{
    struct batch *batches;
    size_t n;
    *n_old = 0;
    if (!round_batches(w->f, r, NULL, w->a, &batches, &n, e))
        return false;
    for (size_t i = 0; i < n; i++)
        *n_old += batches[i].last_min > batches[i].old_min;
    return true;
}

/*
 * Pots are mixed in gaps, and mostly there are enough of them. Where there are not, the round is ordered again with the
 * minutes of mixing at each change of pot, if that helps: it is longer by them.
 */
static bool make_time_to_mix(struct working *w, struct round *r, struct err *e)
{
    size_t before, after;
    if (!count_too_old(w, r, &before, e))
        return false;
    if (before == 0)
        return true;
    struct order_plan without = w->order;
    w->order = (struct order_plan){0};
    bool ok = working_order_mixing(w, e), longer_fits = ok || e->code != ERR_INPUT;
    ok = ok && working_rows(w, r, e) && count_too_old(w, r, &after, e);
    if (ok && after < before) {
        order_plan_free(&without);
        return true;
    }
    order_plan_free(&w->order);
    w->order = without;
    return (ok || !longer_fits) && working_rows(w, r, e);
}

static bool working_round(struct working *w, struct round *r, struct err *e)
{
    return working_foods(w, e) && working_order(w, e) &&
           request_write(w->request, w->f, w->a, &r->asked, &r->n_asked, e) && working_rows(w, r, e) &&
           make_time_to_mix(w, r, e) && round_switchings(w->f, r, NULL, e) && working_cautions(w, r, e) &&
           fill_head(w, r, e);
}

void working_free(struct working *w)
{
    recipe_free(&w->recipe);
    order_plan_free(&w->order);
}

bool plan_round(const struct facility *f, const struct plan_request *request, struct round *r, struct err *e)
{
    *r = (struct round){0};
    struct working w = {.f = f, .request = request, .a = &r->arena};
    bool ok = working_round(&w, r, e);
    working_free(&w);
    if (!ok)
        round_free(r);
    return ok;
}

bool plan_write_lp(const struct facility *f, const struct plan_request *request, struct text *out, struct err *e)
{
    struct arena a = {0};
    struct working w = {.f = f, .request = request, .a = &a};
    bool ok = working_foods(&w, e) && recipe_write_lp(&w.recipe_problem, &w.recipe, RECIPE_COST, out, e);
    working_free(&w);
    arena_free(&a);
    return ok;
}
