/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pot that was made otherwise than planned: what its lines get then. */
#include "recipe/model.h"
#include "recipe/parts.h"

static bool made_holds(const struct recipe_problem *p, const struct recipe *r,
                       const struct recipe_rescale_request *made, struct err *e)
{
    if (made->pot >= r->n_pots)
        return err_set(e, ERR_INPUT, NULL, "there is no pot %zu; this round has %zu", made->pot + 1, r->n_pots);
    if (!(made->made_ml > 0) || !isfinite(made->made_ml))
        return err_set(e, ERR_INPUT, NULL, "pot %zu: the volume made is %.6g mL; expected more than 0, such as %.6g",
                       made->pot + 1, made->made_ml, r->pots[made->pot].slurry_ml);
    const struct recipe_pot *pot = &r->pots[made->pot];
    for (size_t k = 0; made->amounts && k < pot->n_amounts; k++)
        if (!(made->amounts[k] >= 0) || !isfinite(made->amounts[k]))
            return err_set(e, ERR_INPUT, NULL, "pot %zu: %s is %.6g; expected an amount such as %.6g", made->pot + 1,
                           p->foods[pot->amounts[k].food].name, made->amounts[k], pot->amounts[k].amount);
    for (size_t t = 0; made->given_ml && t < p->n_tanks; t++)
        if (!(made->given_ml[t] >= 0) || !isfinite(made->given_ml[t]))
            return err_set(e, ERR_INPUT, NULL, "tank \"%s\": %.6g mL given; expected 0 or more", p->tanks[t].name,
                           made->given_ml[t]);
    return true;
}

static double went_in(const struct recipe_rescale_request *made, const struct recipe_pot *pot, size_t line)
{
    return made->amounts ? made->amounts[line] : pot->amounts[line].amount;
}

static double given_ml(const struct recipe_rescale_request *made, size_t tank)
{
    return made->given_ml ? made->given_ml[tank] : 0;
}

/* How many mL of what was made hold the food of one mL as planned. */
static double stretch(const struct recipe_problem *p, const struct recipe_pot *pot,
                      const struct recipe_rescale_request *made)
{
    double planned = 0, real = 0;
    for (size_t k = 0; k < pot->n_amounts; k++) {
        double counts = pot->by_liquids ? 1 : p->foods[pot->amounts[k].food].solids_g_per_unit;
        planned += pot->amounts[k].amount * counts;
        real += went_in(made, pot, k) * counts;
    }
    return made->made_ml / pot->slurry_ml * (real > 0 ? planned / real : 1);
}

/* Part of its water's ceilings that one mL of what was made uses up in a tank. */
static double load_per_ml(const struct recipe_problem *p, const struct recipe_pot *pot,
                          const struct recipe_rescale_request *made, size_t tank)
{
    const struct recipe_tank *t = &p->tanks[tank];
    double load = 0, counted = model_counted(t, pot->late);
    for (size_t k = 0; k < pot->n_amounts; k++)
        load += went_in(made, pot, k) / made->made_ml / model_ceiling(p, t->system, pot->amounts[k].food);
    return load * counted;
}

/* What a tank should still get, were there no ceiling and enough in the pot. */
static double wanted_ml(const struct recipe_problem *p, const struct recipe_pot *pot,
                        const struct recipe_rescale_request *made, size_t tank)
{
    return fmax(0, model_due(&p->tanks[tank], pot->late) * stretch(p, pot, made) - given_ml(made, tank));
}

/* A water's load by all else, and with what its tanks had of this pot and are still to get. */
static double load_with(const struct recipe_problem *p, const struct recipe *r,
                        const struct recipe_rescale_request *made, const struct recipe_portion *portions, size_t n,
                        size_t system, double *still)
{
    double load = recipe_water_load(p, r, system, made->pot);
    *still = 0;
    for (size_t i = 0; i < n; i++) {
        size_t t = portions[i].tank;
        double per_ml = p->tanks[t].system == system ? load_per_ml(p, &r->pots[made->pot], made, t) : 0;
        load += given_ml(made, t) * per_ml;
        *still += portions[i].left_ml * per_ml;
    }
    return load + *still;
}

/* Wanted portions, less what a ceiling forbids: the tanks of one water go short alike. */
static size_t portions_want(const struct recipe_problem *p, const struct recipe *r,
                            const struct recipe_rescale_request *made, struct recipe_portion *portions)
{
    const struct recipe_pot *pot = &r->pots[made->pot];
    size_t n = 0;
    for (size_t t = 0; t < p->n_tanks; t++) {
        if (model_part(p, pot->systems, pot->n_systems, pot->late, pot->slurry_ml, t) <= 0)
            continue;
        struct recipe_portion portion = {.tank = t, .planned_ml = model_due(&p->tanks[t], pot->late)};
        portion.left_ml = wanted_ml(p, pot, made, t);
        portions[n++] = portion;
    }
    for (size_t k = 0; k < pot->n_systems; k++) {
        size_t s = pot->systems[k];
        double still, load = load_with(p, r, made, portions, n, s, &still), most = fmax(1, p->systems[s].load_frac);
        double share = still > 0 ? fmin(1, fmax(0, most - (load - still)) / still) : 1;
        for (size_t i = 0; i < n; i++)
            portions[i].left_ml *= p->tanks[portions[i].tank].system == s ? share : 1;
    }
    return n;
}

bool recipe_rescale(const struct recipe_problem *p, const struct recipe *r, const struct recipe_rescale_request *made,
                    struct recipe_portion *portions, size_t *n, struct err *e)
{
    if (!made_holds(p, r, made, e))
        return false;
    const struct recipe_pot *pot = &r->pots[made->pot];
    size_t count = portions_want(p, r, made, portions);
    double sum_ml = 0, there_ml = made->made_ml - vessel_dead_ml(&p->jug, made->made_ml);
    for (size_t i = 0; i < count; i++) {
        sum_ml += portions[i].left_ml;
        there_ml -= given_ml(made, portions[i].tank);
    }
    double share = sum_ml > 0 ? fmin(1, fmax(0, there_ml) / sum_ml) : 1; /* what is missing, all go without alike */
    for (size_t i = 0; i < count; i++) {
        struct recipe_portion *portion = &portions[i];
        portion->left_ml = round_down_to(portion->left_ml * share, p->syringe_step_ml);
        portion->cut = wanted_ml(p, pot, made, portion->tank) - portion->left_ml > p->syringe_step_ml * (1 + 1e-9);
    }
    for (size_t i = 0; i < count; i++) {
        double still;
        portions[i].load_frac = load_with(p, r, made, portions, count, p->tanks[portions[i].tank].system, &still);
    }
    *n = count;
    return true;
}
