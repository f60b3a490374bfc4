/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "neap/working.h"

static bool fill_head(const struct working *w, struct round *r, struct err *e)
{
    const struct settings *s = &w->f->settings;
    r->head.day = w->request->day;
    r->head.start_min = w->request->start_min >= 0 ? w->request->start_min : s->start_min;
    r->head.feeders = w->request->feeders > 0 ? w->request->feeders : s->feeders;
    if (w->order.n_steps)
        r->head.start_min = w->order.start_min;
    r->head.finish_min = w->order.n_steps ? w->order.finish_min : r->head.start_min;
    r->head.walked_m = round_near_to(w->order.walked_m, 0.1);
    r->head.bound_min = w->order.n_steps ? (double)(w->order.lower_bound_min - r->head.start_min) : (double)NAN;
    r->head.request = "";
    r->cautions = w->cautions;
    r->n_cautions = w->n_cautions;
    return request_write(w->request, w->f, w->a, &r->asked, &r->n_asked, e);
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
