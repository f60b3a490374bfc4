/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How good a grouping is: the whole programme solved for it. */
#include "recipe/model.h"
#include "recipe/parts.h"

bool recipe_is_due(const struct recipe_problem *p, size_t system)
{
    for (size_t t = 0; t < p->n_tanks; t++)
        if (p->tanks[t].system == system && (p->tanks[t].slurry_ml > 0 || p->tanks[t].late_slurry_ml > 0))
            return true;
    return false;
}

bool recipe_score(const struct recipe_problem *p, const size_t *group, size_t n_stages, struct arena *a,
                  struct recipe_score *score, struct err *e)
{
    struct model m;
    struct lp_answer answer;
    score->strength_frac = arena_alloc(a, 2 * p->n_systems, sizeof *score->strength_frac);
    if (!score->strength_frac)
        return err_memory(e);
    bool ok = model_build(p, group, n_stages, &m, e) && lp_solve(&m.lp, n_stages, NULL, &m.arena, &answer, e);
    if (ok) {
        memcpy(score->value, answer.value, sizeof score->value);
        for (size_t i = 0; n_stages == RECIPE_STAGES && i < m.n_pots; i++)
            for (size_t k = 0; k < m.pots[i].n_systems; k++)
                score->strength_frac[2 * m.pots[i].systems[k] + m.pots[i].late] =
                    model_amount(answer.x, m.pots[i].strength_col);
    }
    model_free(&m);
    return ok;
}
