/* SPDX-License-Identifier: GPL-3.0-or-later */
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
    return r->head.name ? request_write(w->request, w->f, w->a, &r->asked, &r->n_asked, e) : err_memory(e);
}

bool working_foods(struct working *w, struct err *e)
{
    return working_usable(w, e) && working_states(w, e) && working_dues(w, e) && working_needs(w, e) &&
           working_recipe(w, e) && working_unfed(w, e);
}

static bool working_round(struct working *w, struct round *r, struct err *e)
{
    return working_foods(w, e) && working_order(w, e) && working_rows(w, r, e) && round_switchings(w->f, r, NULL, e) &&
           working_cautions(w, r, e) && fill_head(w, r, e);
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
