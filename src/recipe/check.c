/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Problems that cannot be solved, refused by name before anything is built. */
#include "recipe/parts.h"

/* A number of the problem and where it must lie; INFINITY itself passes only where most is INFINITY. */
struct range {
    const char *what;
    double value, least, most;
};

static const double above_zero = 1e-9, huge = 1e12;

static bool ranges_hold(const char *kind, const char *name, const struct range *ranges, size_t n, struct err *e)
{
    for (size_t i = 0; i < n; i++) {
        const struct range *r = &ranges[i];
        if (r->value >= r->least && r->value <= r->most)
            continue;
        char value[32];
        if (isnan(r->value))
            snprintf(value, sizeof value, "not a number");
        else
            snprintf(value, sizeof value, "%.6g", r->value);
        if (r->most >= huge)
            return err_set(e, ERR_INPUT, NULL, "%s \"%s\": %s is %s; expected at least %.6g", kind, name, r->what,
                           value, r->least);
        return err_set(e, ERR_INPUT, NULL, "%s \"%s\": %s is %s; expected %.6g to %.6g", kind, name, r->what, value,
                       r->least, r->most);
    }
    return true;
}

static bool food_holds(const struct recipe_food *f, struct err *e)
{
    const struct range ranges[] = {
        {"dry mass per unit", f->solids_g_per_unit, f->liquid ? 0 : above_zero, f->liquid ? 0 : 1},
        {"share in the house blend", f->house_share_frac, 0, f->liquid ? 0 : 1},
        {"least share", f->share_min_frac, 0, 1},
        {"largest share", isnan(f->share_max_frac) ? 1 : f->share_max_frac, f->share_min_frac, 1},
        {"house amount, mL per 100 mL", f->house_ml_per_100ml, 0, f->liquid ? 100 : 0},
        {"least amount, mL per 100 mL", f->min_ml_per_100ml, 0, 100},
        {"largest amount, mL per 100 mL", f->max_ml_per_100ml, f->min_ml_per_100ml, 100},
        {"house broadcast, mL per 100 L", f->broadcast_ml_per_100l, 0, f->liquid ? huge : 0},
        {"ceiling per 100 L", f->ceiling_per_100l, above_zero, INFINITY},
        {"stock", f->stock, 0, INFINITY},
        {"price", f->price_cents, 0, huge},
        {"measuring step", f->step, above_zero, huge},
        {"mean effect on nitrate", f->effect_mg[RECIPE_NO3], -huge, huge},
        {"mean effect on phosphate", f->effect_mg[RECIPE_PO4], -huge, huge},
        {"low effect on nitrate", f->effect_low_mg[RECIPE_NO3], -huge, f->effect_mg[RECIPE_NO3]},
        {"low effect on phosphate", f->effect_low_mg[RECIPE_PO4], -huge, f->effect_mg[RECIPE_PO4]},
        {"high effect on nitrate", f->effect_high_mg[RECIPE_NO3], f->effect_mg[RECIPE_NO3], huge},
        {"high effect on phosphate", f->effect_high_mg[RECIPE_PO4], f->effect_mg[RECIPE_PO4], huge},
    };
    return ranges_hold("food", f->name, ranges, COUNT_OF(ranges), e);
}

static bool system_holds(const struct recipe_system *s, struct err *e)
{
    const struct range of_state[] = {
        {"water, L", s->volume_l, above_zero, huge},
        {"lean strength", s->lean_frac, 0, 10},
        {"full strength", s->full_frac, s->lean_frac, 10},
        {"load of its ceilings", s->load_frac, -1, huge},
    };
    if (!ranges_hold("system", s->name, of_state, COUNT_OF(of_state), e))
        return false;
    for (int a = 0; a < RECIPE_ANALYTES; a++) {
        bool no3 = a == RECIPE_NO3;
        const struct range of_analyte[] = {
            {no3 ? "width of nitrate band, mg" : "width of phosphate band, mg", s->band_mg[a], above_zero, huge},
            {no3 ? "low nitrate room, mg" : "low phosphate room, mg", s->low_room_mg[a], -INFINITY, huge},
            {no3 ? "high nitrate room, mg" : "high phosphate room, mg", s->high_room_mg[a], -huge, INFINITY},
            {no3 ? "largest nitrate fall, mg" : "largest phosphate fall, mg", s->max_fall_mg[a], 0, INFINITY},
            {no3 ? "largest nitrate rise, mg" : "largest phosphate rise, mg", s->max_rise_mg[a], 0, INFINITY},
            {no3 ? "wanted shift of nitrate" : "wanted shift of phosphate", s->shift_frac[a], -1, 1},
        };
        if (!ranges_hold("system", s->name, of_analyte, COUNT_OF(of_analyte), e))
            return false;
    }
    return true;
}

static bool tank_holds(const struct recipe_tank *t, size_t n_systems, struct err *e)
{
    if (t->system >= n_systems)
        return err_set(e, ERR_INPUT, NULL, "tank \"%s\": system number %zu; there are %zu", t->name, t->system,
                       n_systems);
    const struct range ranges[] = {
        {"net volume, L", t->net_volume_l, above_zero, huge},
        {"slurry due, mL", t->slurry_ml, 0, huge},
        {"late slurry due, mL", t->late_slurry_ml, 0, huge},
        {"counted part of its slurry", t->counted_frac, 0, 1},
        {"counted part of its late slurry", t->late_counted_frac, 0, 1},
        {"part of the house broadcast", t->broadcast_frac, 0, 1},
    };
    return ranges_hold("tank", t->name, ranges, COUNT_OF(ranges), e);
}

bool recipe_check(const struct recipe_problem *p, struct err *e)
{
    const struct range ranges[] = {
        {"strength of the house blend, g per 100 mL", p->house_g_per_100ml, above_zero, 100},
        {"dead volume of a pot, mL", p->jug.dead_ml, 0, huge},
        {"graduation of the pots, mL", p->jug.step_ml, above_zero, huge},
        {"graduation of the syringes, mL", p->syringe_step_ml, above_zero, huge},
        {"volume of a premix, mL", p->premix_ml, 0, huge},
        {"tolerance in bands", p->band_tolerance, 0, huge},
        {"tolerance in strength", p->strength_tolerance_frac, 0, 1},
    };
    if (!ranges_hold("setting", "recipe", ranges, COUNT_OF(ranges), e))
        return false;
    for (size_t f = 0; f < p->n_foods; f++)
        if (!food_holds(&p->foods[f], e))
            return false;
    for (size_t s = 0; s < p->n_systems; s++)
        if (!system_holds(&p->systems[s], e))
            return false;
    for (size_t t = 0; t < p->n_tanks; t++)
        if (!tank_holds(&p->tanks[t], p->n_systems, e))
            return false;
    return true;
}
