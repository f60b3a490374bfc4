/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Why a pot holds what it holds, and which limit keeps it from holding more. */
#include "neap/advice.h"
#include "neap/stock.h"
#include "neap/why.h"
#include "why/why.h"

static const char *unit_of(const struct why *y, size_t food)
{
    return food_unit_name(&y->w->f->foods[food]);
}

static const char *pot_name(const struct why *y, size_t pot)
{
    return y->r->pots[pot].pot;
}

/* ---- ceilings --------------------------------------------------------------------------------------------------- */

/* Slurry of a pot that a tank gets, losses included. */
static double portion_ml(const struct why *y, const struct recipe_pot *pot, size_t tank)
{
    for (size_t k = 0; k < pot->n_systems; k++)
        if (pot->systems[k] == y->w->f->tanks[tank].system)
            return pot->late ? y->w->needs[tank].late_ml : y->w->needs[tank].slurry_ml;
    return 0;
}

static void put_dose(struct why *y, size_t system, size_t food, double units, const char *by)
{
    double most = y->w->f->foods[food].ceiling_units_per_100l * y->w->f->systems[system].volume_l / 100;
    if (units > 0)
        why_number(y, why_format(y, "%s, %s", y->w->f->foods[food].name, by), units / most, "",
                   why_format(y, "%s of %s a day", why_number_words(y, units, ""),
                              why_number_words(y, most, unit_of(y, food))));
}

/* Each food once, by the broadcast, the fish or the pots of the water. */
static void put_doses(struct why *y, size_t system, size_t food)
{
    const struct working *w = y->w;
    double fish = 0, broadcast = 0;
    for (size_t t = 0; t < w->f->n_tanks; t++)
        if (w->f->tanks[t].system == system && w->needs[t].fish_units > 0 && w->needs[t].fish_food == food)
            fish += w->needs[t].fish_units;
    for (size_t i = 0; i < w->recipe.n_broadcasts; i++)
        if (w->f->tanks[w->recipe.broadcasts[i].tank].system == system && w->recipe.broadcasts[i].food == food)
            broadcast += w->recipe.broadcasts[i].amount;
    put_dose(y, system, food, fish, "fish");
    put_dose(y, system, food, broadcast, "broadcast");
    for (size_t p = 0; p < w->recipe.n_pots; p++) {
        const struct recipe_pot *pot = &w->recipe.pots[p];
        double counted_ml = 0;
        for (size_t t = 0; t < w->f->n_tanks; t++)
            if (w->f->tanks[t].system == system && portion_ml(y, pot, t) > 0)
                counted_ml += pot->late ? w->needs[t].late_counted_ml : w->needs[t].counted_ml;
        for (size_t k = 0; k < pot->n_amounts; k++)
            if (pot->amounts[k].food == food)
                put_dose(y, system, food, pot->amounts[k].amount * counted_ml / pot->slurry_ml,
                         why_format(y, "pot %s", pot_name(y, p)));
    }
}

void why_load(struct why *y, size_t system)
{
    why_step(y, "Ceilings",
             "sum over all foods of dose / ceiling <= 1, per water and day; of a pot, what is not swallowed");
    why_number(y, "counts of food put to a mouth", y->w->f->settings.ceiling_target_frac, "",
               origin_setting(y, "ceiling_target_frac"));
    why_number(y, "counts of a cloud", y->w->f->settings.ceiling_cloud_frac, "",
               origin_setting(y, "ceiling_cloud_frac"));
    why_number(y, "and what is lost beside the mouths", y->w->f->settings.loss_frac, "",
               origin_setting(y, "loss_frac"));
    for (size_t food = 0; food < y->w->f->n_foods; food++)
        put_doses(y, system, food);
    const struct ceiling_share *c = &y->w->shares[system];
    if (c->others_frac > 0)
        why_number(y, "other rounds of the day", c->others_frac, "", "given, or planned");
    if (c->later_frac > 0)
        why_number(y, "kept for later rounds", c->later_frac, "", "not planned yet");
    why_result(y, "dose / ceiling, summed", y->w->recipe.load_frac[system], "");
}

/* ---- limits ----------------------------------------------------------------------------------------------------- */

static const char *analyte_title(enum recipe_analyte a)
{
    return analytes[a == RECIPE_NO3 ? ANALYTE_NO3 : ANALYTE_PO4].title;
}

/* What binds, in words; and by how much it is to be loosened to see what it costs: 0: by nothing that can be had. */
static const char *limit_words(struct why *y, const struct recipe_limit *l, double *by)
{
    const struct recipe_problem *p = &y->w->recipe_problem;
    const struct facility *f = y->w->f;
    *by = 0;
    switch (l->kind) {
    case RECIPE_CEILING:
        *by = 0.05;
        return why_format(y, "System %s: all its foods together are at their ceilings for the day",
                          f->systems[l->system].name);
    case RECIPE_STOCK:
        *by = fmax(p->foods[l->food].step, l->limit / 20);
        return why_format(y, "All %s of %s that may be used are in the round",
                          why_number_words(y, l->limit, unit_of(y, l->food)), p->foods[l->food].name);
    case RECIPE_WATER: return why_format(y, "Pot %s: its liquids fill it", pot_name(y, l->pot));
    case RECIPE_STRENGTH_LEAN:
    case RECIPE_STRENGTH_FULL:
        if (l->pot == RECIPE_NONE)
            return why_format(y, "Tank %s, %s: %s by the state of %s", p->tanks[l->tank].name, p->foods[l->food].name,
                              l->kind == RECIPE_STRENGTH_LEAN ? "no less" : "no more",
                              f->systems[f->tanks[l->tank].system].name);
        return why_format(y, "Pot %s: %s than %s of the house strength, by the state of %s", pot_name(y, l->pot),
                          l->kind == RECIPE_STRENGTH_LEAN ? "no less" : "no more", why_number_words(y, l->limit, ""),
                          f->systems[l->system].name);
    case RECIPE_SHARE_MIN:
    case RECIPE_SHARE_MAX:
        return why_format(y, "Pot %s: %s is at its %s share, %s", pot_name(y, l->pot), p->foods[l->food].name,
                          l->kind == RECIPE_SHARE_MIN ? "least" : "largest", why_number_words(y, l->limit, ""));
    case RECIPE_ROOM_LOW:
    case RECIPE_ROOM_HIGH:
        *by = (l->analyte == RECIPE_NO3 ? 0.1 : 0.01) * p->systems[l->system].volume_l;
        return why_format(y, "System %s: this round may add %s %s of %s, as its band has no more room",
                          f->systems[l->system].name, l->kind == RECIPE_ROOM_LOW ? "no less than" : "no more than",
                          why_number_words(y, l->limit, "mg"), analyte_title(l->analyte));
    case RECIPE_POORER:
    case RECIPE_RICHER:
        return why_format(y, "Pot %s: %s in %s is %s, so its foods bring %s of it than the house blend",
                          pot_name(y, l->pot), analyte_title(l->analyte), f->systems[l->system].name,
                          l->kind == RECIPE_POORER ? "above its band" : "below its band",
                          l->kind == RECIPE_POORER ? "less" : "more");
    default:
        *by = (l->analyte == RECIPE_NO3 ? 0.1 : 0.01) * p->systems[l->system].volume_l;
        return why_format(y, "System %s: %s is to %s by no more than %s mg/L in a day", f->systems[l->system].name,
                          analyte_title(l->analyte), l->kind == RECIPE_FALL ? "fall" : "rise",
                          why_number_words(y, fabs(l->limit) / p->systems[l->system].volume_l, ""));
    }
}

/* What the loosened limit is called in the sentence that prices it. */
static const char *loosened_words(struct why *y, const struct recipe_limit *l, double by)
{
    const struct recipe_problem *p = &y->w->recipe_problem;
    switch (l->kind) {
    case RECIPE_CEILING:
        return why_format(y, "ceilings %.0f %% higher in system %s", by * 100, y->w->f->systems[l->system].name);
    case RECIPE_STOCK: return why_format(y, "%s more of it in stock", why_number_words(y, by, unit_of(y, l->food)));
    case RECIPE_ROOM_LOW:
    case RECIPE_ROOM_HIGH:
        return why_format(y, "%s mg/L more %s headroom in system %s",
                          why_number_words(y, by / p->systems[l->system].volume_l, ""), analyte_title(l->analyte),
                          y->w->f->systems[l->system].name);
    default:
        return why_format(y, "%s mg/L more change a day of %s in system %s",
                          why_number_words(y, by / p->systems[l->system].volume_l, ""), analyte_title(l->analyte),
                          y->w->f->systems[l->system].name);
    }
}

/*
 * The amount that moves most, as a part of the house's, once a limit is loosened. The groups, hence the pots, are the
 * same; and so are the broadcasts, for a limit on stock is only of a food that is there.
 */
static const char *moved_words(struct why *y, const struct recipe *after, bool *moved)
{
    const struct recipe *before = &y->w->recipe;
    const char *words = "";
    double most = 1e-6;
    assert(after->n_pots == before->n_pots && after->n_broadcasts == before->n_broadcasts);
    for (size_t p = 0; p < after->n_pots; p++)
        for (size_t k = 0; k < after->pots[p].n_amounts; k++) {
            const struct recipe_amount *a = &after->pots[p].amounts[k];
            double was = 0;
            for (size_t i = 0; i < before->pots[p].n_amounts; i++)
                was = before->pots[p].amounts[i].food == a->food ? before->pots[p].amounts[i].exact : was;
            double change = fabs(a->exact - was) / fmax(fmax(a->exact, was), 1e-9);
            if (change <= most || fabs(a->exact - was) < 1e-4)
                continue;
            most = change;
            words = why_format(y, "%s %s %s in pot %s", why_number_words(y, fabs(a->exact - was), unit_of(y, a->food)),
                               a->exact > was ? "more" : "less", y->w->f->foods[a->food].name, pot_name(y, p));
        }
    for (size_t i = 0; i < after->n_broadcasts; i++) {
        const struct recipe_broadcast *a = &after->broadcasts[i], *b = &before->broadcasts[i];
        double change = fabs(a->exact - b->exact) / fmax(fmax(a->exact, b->exact), 1e-9);
        if (change <= most || fabs(a->exact - b->exact) < 0.01)
            continue;
        most = change;
        words = why_format(y, "%s %s %s broadcast in tank %s", why_number_words(y, fabs(a->exact - b->exact), "mL"),
                           a->exact > b->exact ? "more" : "less", y->w->f->foods[a->food].name,
                           y->w->f->tanks[a->tank].name);
    }
    *moved = *words != '\0';
    return words;
}

static bool price_limit(struct why *y, const struct recipe_limit *l, struct err *e)
{
    double by;
    const char *binds = limit_words(y, l, &by);
    struct recipe after = {0};
    bool moved = false;
    const char *gain = "";
    if (by > 0) {
        bool ok = recipe_loosen(&y->w->recipe_problem, &y->w->recipe, l, by, &after, e);
        if (ok)
            gain = moved_words(y, &after, &moved);
        recipe_free(&after);
        if (!ok)
            return false;
    }
    why_note(y, moved ? why_format(y, "%s. %s would need %s.", binds, gain, loosened_words(y, l, by))
                      : why_format(y, "%s.", binds));
    return true;
}

static bool is_about(const struct why *y, const struct recipe_limit *l, const struct limits_about *about)
{
    const struct recipe *r = &y->w->recipe;
    size_t system = about->tank != REF_NONE ? y->w->f->tanks[about->tank].system : about->system;
    if (about->pot != REF_NONE) { /* a pot is held by what is about it, its systems, their tanks, its foods */
        const struct recipe_pot *pot = &r->pots[about->pot];
        if (l->pot != RECIPE_NONE)
            return l->pot == about->pot;
        for (size_t k = 0; k < pot->n_systems; k++)
            if (l->system == pot->systems[k])
                return true;
        for (size_t k = 0; l->kind == RECIPE_STOCK && k < pot->n_amounts; k++)
            if (pot->amounts[k].food == l->food)
                return true;
        return false;
    }
    if (about->food != REF_NONE && l->food != RECIPE_NONE && l->food != about->food)
        return false;
    if (l->tank != RECIPE_NONE)
        return about->tank != REF_NONE ? l->tank == about->tank : y->w->f->tanks[l->tank].system == system;
    if (l->pot != RECIPE_NONE && l->system == RECIPE_NONE)
        return false;
    return l->system == system || (l->kind == RECIPE_STOCK && l->food == about->food);
}

bool why_limits(struct why *y, const struct limits_about *about, struct err *e)
{
    for (size_t i = 0; i < y->w->recipe.n_limits; i++) {
        const struct recipe_limit *l = &y->w->recipe.limits[i];
        if (l->stage < RECIPE_COST && is_about(y, l, about) && !price_limit(y, l, e))
            return false;
    }
    return true;
}

/* ---- the pot ---------------------------------------------------------------------------------------------------- */

static void explain_volume(struct why *y, size_t index)
{
    const struct working *w = y->w;
    const struct recipe_pot *pot = &w->recipe.pots[index];
    const struct settings *s = &w->f->settings;
    why_step(y, "Volume",
             "per tank: lines x (1 + loss) + left in the syringe, rounded up; summed, + left in the pot, rounded up");
    why_number(y, "loss beside the mouths", s->loss_frac, "", origin_setting(y, "loss_frac"));
    why_number(y, "left in syringe and tube", s->syringe_dead_ml, "mL", origin_setting(y, "syringe_dead_ml"));
    why_number(y, "syringe reads to", s->syringe_step_ml, "mL",
               why_format(y, "%s; up to ten of it a small one, five times as fine, that keeps a fifth",
                          origin_setting(y, "syringe_step_ml")));
    for (size_t t = 0; t < w->f->n_tanks; t++) {
        double ml = portion_ml(y, pot, t), lines_ml = 0;
        for (size_t i = 0; i < w->n_dues; i++)
            lines_ml += w->dues[i].tank == t && w->dues[i].late == pot->late ? w->dues[i].need_ml : 0;
        if (ml > 0)
            why_number(y, why_format(y, "tank %s", w->f->tanks[t].name), ml, "mL",
                       why_format(y, "%s by its lines", why_number_words(y, lines_ml, "mL")));
    }
    why_number(y, "left in the pot", s->pot_dead_ml, "mL", origin_setting(y, "pot_dead_ml"));
    why_number(y, "jug reads to", s->pot_step_ml, "mL",
               why_format(y, "%s; up to ten of it a small one, likewise", origin_setting(y, "pot_step_ml")));
    why_number(y, "for the corals", y->r->pots[index].need_ml, "mL", "the lines, summed; the rest is loss");
    if (pot->slurry_ml > pot->least_ml)
        why_note(y, "Made larger than that, so that its foods can be measured.");
    why_result(y, "make up to", pot->slurry_ml, "mL");
}

static bool explain_strength(struct why *y, size_t index, struct err *e)
{
    const struct working *w = y->w;
    const struct recipe_pot *pot = &w->recipe.pots[index];
    why_step(y, "Strength", "the most that the state of every system it feeds allows, less what a limit takes away");
    why_number(y, "house strength", w->f->settings.strength_g_per_100ml, "g/100 mL",
               origin_setting(y, "strength_g_per_100ml"));
    for (size_t k = 0; k < pot->n_systems; k++) {
        const struct system_state *s = &w->states[pot->systems[k]];
        why_number(y, why_format(y, "allowed by %s", w->f->systems[pot->systems[k]].name), s->factor, "",
                   s->held ? s->held : s->rule);
    }
    why_number(y, "so at most", pot->full_frac, "", "the least of them");
    if (pot->by_liquids)
        why_note(y, "No solid food may go in; strength is told by the liquids.");
    why_number(y, "dry food in it", y->r->pots[index].strength_g_per_100ml, "g/100 mL", "amounts as measured, below");
    why_result(y, "of the house strength", y->r->pots[index].factor, "");
    const struct limits_about about = {index, REF_NONE, REF_NONE, REF_NONE};
    return why_limits(y, &about, e);
}

/* What may be off of a measure, after its amount: the sheet's "allowed". */
static void put_allowed(struct why *y, const struct recipe_amount *a)
{
    const struct settings *s = &y->w->f->settings;
    bool premixed = a->premix != RECIPE_NONE;
    const char *unit = premixed ? "mL" : unit_of(y, a->food);
    const struct allowance allowed = measure_allowance(
        premixed ? a->take_ml : a->amount, premixed ? s->liquid_step_ml : food_step(s, &y->w->f->foods[a->food]));
    if (allowed.least == allowed.most)
        why_number(y, "allowed, just", allowed.least, unit,
                   "a step off is too much of so few; common practice, no source");
    else {
        why_number(y, "allowed, least", allowed.least, unit, "a step or a twentieth off; common practice, no source");
        why_number(y, "allowed, most", allowed.most, unit, "likewise");
    }
}

static void explain_amount(struct why *y, const struct recipe_pot *pot, const struct recipe_amount *a)
{
    const struct working *w = y->w;
    const struct food *food = &w->f->foods[a->food];
    const char *unit = unit_of(y, a->food), *of_food = origin_food(y, a->food);
    bool solid = food->unit == UNIT_G;
    why_step(y, food->name,
             solid ? "share x strength x volume, by the recipe; to the nearest step that passes no limit"
                   : "mL per 100 mL x strength x volume, by the recipe; to the nearest step that passes no limit");
    if (solid)
        why_number(y, "share of the dry food, house", food->blend_share_frac, "",
                   why_format(y, "%s; %s to %s", of_food, why_number_words(y, food->blend_share_min_frac, ""),
                              why_number_words(y, a->share_max_frac, "")));
    else
        why_number(y, "in 100 mL of the house strength", food->blend_ml_per_100ml, "mL", of_food);
    if (solid && food_solids(food) != 1)
        why_number(y, "dry part of it", food_solids(food), "", of_food);
    why_number(y, "volume of the pot", pot->slurry_ml, "mL", "above");
    why_number(y, "the house blend would hold", a->house, unit, "at the strength the recipe found");
    bool as_house = strcmp(why_number_words(y, a->exact, unit), why_number_words(y, a->house, unit)) == 0;
    why_number(y, "the recipe's answer", a->exact, unit, as_house ? "as the house blend" : "limits above");
    if (a->premix != RECIPE_NONE) {
        const struct recipe_premix *m = &w->recipe.premixes[a->premix];
        why_number(y, "premix of the round: weigh", m->weigh, unit, "below ten steps of the scale here");
        why_number(y, "premix: make up to", m->make_up_ml, "mL", origin_setting(y, "premix_ml"));
        why_number(y, "premix: put in", a->take_ml, "mL", "answer / weighed x made up, rounded down");
    } else {
        why_number(y, "measured to", w->recipe_problem.foods[a->food].step, unit,
                   origin_setting(y, solid ? "scale_step_g" : "liquid_step_ml"));
    }
    if (a->premix == RECIPE_NONE && food->scoop_g > 0)
        why_number(y, "scoops", a->amount / food->scoop_g, "",
                   why_format(y, "one holds %s; %s", why_number_words(y, food->scoop_g, "g"), of_food));
    why_result(y, food->name, a->amount, unit);
    put_allowed(y, a);
}

/* A food from two lots stands in two rows of the sheet; together they are the amount. */
static void explain_lots(struct why *y, size_t index, const struct recipe_amount *a)
{
    size_t n = 0;
    for (size_t i = 0; i < y->r->n_pot_foods; i++)
        n += y->r->pot_foods[i].food == a->food && strcmp(y->r->pot_foods[i].pot, pot_name(y, index)) == 0;
    for (size_t i = 0; n > 1 && i < y->r->n_pot_foods; i++) {
        const struct pot_food *pf = &y->r->pot_foods[i];
        if (pf->food == a->food && strcmp(pf->pot, pot_name(y, index)) == 0)
            why_number(y, why_format(y, "of it from lot %s", pf->lot == REF_NONE ? "?" : y->w->f->lots[pf->lot].code),
                       pf->amount_units, unit_of(y, a->food), "first to expire, first used");
    }
}

static void explain_water(struct why *y, size_t index)
{
    const struct recipe_pot *pot = &y->w->recipe.pots[index];
    why_step(y, "Water", "volume - liquids - premixes");
    why_number(y, "volume of the pot", pot->slurry_ml, "mL", "above");
    for (size_t k = 0; k < pot->n_amounts; k++) {
        const struct recipe_amount *a = &pot->amounts[k];
        double ml = a->premix != RECIPE_NONE ? a->take_ml : y->w->recipe_problem.foods[a->food].liquid ? a->amount : 0;
        if (ml > 0)
            why_number(y, y->w->f->foods[a->food].name, ml, "mL", "above");
    }
    why_result(y, "water", pot->water_ml, "mL");
}

/* Once, or again where the first would be too old. */
static bool explain_batches(struct why *y, size_t index, struct err *e)
{
    const struct settings *s = &y->w->f->settings;
    struct batch *batches;
    size_t n;
    if (!round_batches(y->w->f, y->r, NULL, y->a, &batches, &n, e))
        return false;
    why_step(y, "When", "as late as free hands allow before the first stop that takes of it");
    why_number(y, "good for, once begun", s->slurry_life_min, "min", origin_setting(y, "slurry_life_min"));
    for (size_t i = 0; i < n; i++) {
        const struct batch *b = &batches[i];
        if (b->pot != index)
            continue;
        why_clock(y, "mixed from", b->mix_min, why_format(y, "feeder %ld", b->feeder));
        why_clock(y, "ready", b->mixed_min, origin_setting(y, "pot_mix_min"));
        why_number(y, "of it", b->made_ml, "mL", "its lines' part, rounded up to the jug");
        why_clock(y, "good until", b->old_min, "then what is left is thrown away");
    }
    return true;
}

bool why_pot(struct why *y, size_t pot, struct err *e)
{
    const struct recipe_pot *p = &y->w->recipe.pots[pot];
    y->x->title = why_format(y, "for %s%s", y->r->pots[pot].systems, p->late ? ", mixed just before use" : "");
    why_answer(y, p->slurry_ml, "mL",
               why_format(y, "make up to %s, %s of the house strength", why_number_words(y, p->slurry_ml, "mL"),
                          why_number_words(y, y->r->pots[pot].factor, "")));
    explain_volume(y, pot);
    if (!explain_strength(y, pot, e))
        return false;
    for (size_t k = 0; k < p->n_amounts; k++) {
        if (p->amounts[k].amount <= 0)
            continue;
        explain_amount(y, p, &p->amounts[k]);
        explain_lots(y, pot, &p->amounts[k]);
    }
    explain_water(y, pot);
    return explain_batches(y, pot, e);
}
