/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A water's ceiling for the day: what the house blend, the broadcast and the fish take of it, and which share yields
 * first.
 */
#include "neap/ledger.h"
#include "neap/working.h"

static const double portion_step = 0.05; /* portions are cut in steps that a person can read off a syringe */

/* Dry mass that one unit brings into a pot: powders count as weighed, moist foods by their solids. */
double food_solids(const struct food *food)
{
    if (food->unit == UNIT_ML)
        return 0;
    return food->form == FORM_POWDER ? 1 : food->solids_frac;
}

bool food_in_pot(const struct working *w, size_t food, bool late)
{
    const struct food *fd = &w->f->foods[food];
    return w->usable[food] > 0 && food_is_late(fd) == late && fd->blend_share_frac > 0 && food_solids(fd) > 0;
}

static bool is_kept_out(const struct working *w, size_t system, const struct food *food)
{
    return food->strips_po4 && w->states[system].po4_low;
}

static double share_in_house(const struct working *w, size_t system, size_t index, bool late)
{
    const struct food *food = &w->f->foods[index];
    return food_in_pot(w, index, late) && !is_kept_out(w, system, food) ? food->blend_share_frac : 0;
}

double house_units_per_ml(const struct working *w, size_t system, size_t index, bool late)
{
    const struct food *food = &w->f->foods[index];
    double share = share_in_house(w, system, index, late), all = 0;
    if (food->unit == UNIT_ML)
        return !late && w->usable[index] > 0 && food->blend_ml_per_100ml > 0 ? food->blend_ml_per_100ml / 100 : 0;
    for (size_t i = 0; share > 0 && i < w->f->n_foods; i++)
        all += share_in_house(w, system, i, late);
    return share > 0 ? share / all * w->f->settings.strength_g_per_100ml / 100 / food_solids(food) : 0;
}

/* Σ dose ÷ ceiling that one mL of the house blend at strength 1 brings 100 L of a water. */
static double blend_load(const struct working *w, size_t system, bool late)
{
    double load = 0;
    for (size_t i = 0; i < w->f->n_foods; i++)
        load += house_units_per_ml(w, system, i, late) / w->f->foods[i].ceiling_units_per_100l;
    return load;
}

/* Σ dose ÷ ceiling of the house broadcast, where it is given to all of a water's litres. */
static double broadcast_load(const struct working *w, size_t system)
{
    double load = 0;
    for (size_t i = 0; i < w->f->n_foods; i++) {
        const struct food *food = &w->f->foods[i];
        if (food->broadcast_units_per_100l > 0 && w->usable[i] > 0 && !is_kept_out(w, system, food))
            load += food->broadcast_units_per_100l / food->ceiling_units_per_100l;
    }
    return load;
}

double water_l(const struct facility *f, size_t system)
{
    return fmax(f->systems[system].volume_l, 1e-3);
}

double food_load(const struct facility *f, size_t system, size_t food, double units)
{
    return units / (f->foods[food].ceiling_units_per_100l * water_l(f, system) / 100);
}

/* The fish of a tank that is target-fed get the first fish food in stock; REF_NONE: none. *units: as much as can be. */
static size_t fish_food_of(const struct working *w, size_t t, double *units)
{
    const struct facility *f = w->f;
    for (size_t i = 0; f->tanks[t].fish && i < f->n_foods; i++) {
        const struct food *food = &f->foods[i];
        if (!(food->fish_units_per_100l > 0))
            continue;
        double most = fmin(food->fish_units_per_100l, food->ceiling_units_per_100l) * f->tanks[t].net_l / 100;
        *units = round_down_to(fmin(most, w->usable[i]), food_step(&f->settings, food));
        if (*units > 0)
            return i;
    }
    *units = 0;
    return REF_NONE;
}

static double fish_part(const struct working *w, size_t t, size_t food, double units)
{
    return food == REF_NONE ? 0 : food_load(w->f, w->f->tanks[t].system, food, units);
}

double fish_load(const struct working *w, size_t t)
{
    double units;
    size_t food = fish_food_of(w, t, &units);
    return fish_part(w, t, food, units);
}

double ceiling_spoken_for(const struct ceiling_share *c)
{
    return c->fish_frac + c->others_frac;
}

/*
 * Of what another round of the day left of the ceiling the fish get the part that they get of a whole one: were they
 * given all of it, the corals would wait, and the fish with them.
 */
void fish_feed(struct working *w, size_t t)
{
    struct tank_need *need = &w->needs[t];
    struct ceiling_share *c = &w->shares[w->f->tanks[t].system];
    need->fish_food = fish_food_of(w, t, &need->fish_units);
    double part = fish_part(w, t, need->fish_food, need->fish_units);
    if (c->others_frac > 0 && part > 0) {
        double most = fmin(part * (1 - c->others_frac), 1 - ceiling_spoken_for(c));
        need->fish_units = round_down_to(need->fish_units * fmax(0, most) / part,
                                         food_step(&w->f->settings, &w->f->foods[need->fish_food]));
        part = fish_part(w, t, need->fish_food, need->fish_units);
    }
    c->fish_frac += part;
    if (need->fish_food != REF_NONE)
        w->usable[need->fish_food] = fmax(0, round_near_to(w->usable[need->fish_food] - need->fish_units, 1e-9));
}

void fish_leave(struct working *w, size_t t)
{
    struct tank_need *need = &w->needs[t];
    w->usable[need->fish_food] += need->fish_units;
    w->shares[w->f->tanks[t].system].fish_frac -= fish_part(w, t, need->fish_food, need->fish_units);
    need->fish_units = 0;
}

/* ---- the ceiling of a water ------------------------------------------------------------------------------------- */

double counted_frac(const struct settings *s, const struct kind *k)
{
    return (k->feeding == FEEDING_CLOUD ? s->ceiling_cloud_frac : s->ceiling_target_frac) + s->loss_frac;
}

/* What its state allows; more than the house strength is given only where there is room for it. */
static double strength_of(const struct working *w, size_t system)
{
    return fmin(1, w->states[system].factor);
}

void ceiling_begin(const struct working *w, size_t system, struct ceiling_share *c)
{
    *c = (struct ceiling_share){
        .slurry_load = blend_load(w, system, false) * strength_of(w, system),
        .late_load = blend_load(w, system, true) * strength_of(w, system),
    };
    for (int i = 0; i < N_SHARES; i++)
        c->cut_to_frac[i] = 1;
}

static double load_of(const struct working *w, const struct ceiling_share *c, const struct due *d, double portions)
{
    const struct kind *k = &w->f->kinds[w->f->colonies[d->colony].kind];
    return d->need_ml * portions * counted_frac(&w->f->settings, k) * (d->late ? c->late_load : c->slurry_load) /
           (water_l(w->f, d->system) / 100);
}

double due_least_load(const struct working *w, const struct ceiling_share *c, const struct due *d)
{
    return load_of(w, c, d, w->f->settings.portion_least_frac) * w->f->settings.thin_frac;
}

static const enum share share_of_need[N_NEEDS] = {
    [NEED_OBLIGATE] = SHARE_OBLIGATE, [NEED_REGULAR] = SHARE_REGULAR, [NEED_OPTIONAL] = SHARE_OPTIONAL};

static void sum_wholes(const struct working *w, size_t system, struct ceiling_share *c)
{
    double broadcast = broadcast_load(w, system) * strength_of(w, system);
    for (int i = 0; i < N_SHARES; i++) {
        c->whole_frac[i] = 0;
        c->cut_to_frac[i] = 1;
    }
    for (size_t t = 0; t < w->f->n_tanks; t++)
        if (w->f->tanks[t].system == system && w->needs[t].broadcast)
            c->whole_frac[w->needs[t].lives_by_it ? SHARE_LIVED_BY : SHARE_BROADCAST] +=
                broadcast * w->needs[t].broadcast_frac * w->f->tanks[t].net_l / water_l(w->f, system);
    c->whole_frac[SHARE_BROADCAST] += broadcast * w->left[system].later_broadcast_frac;
    for (size_t i = 0; i < w->n_laters; i++)
        if (w->laters[i].system == system)
            c->whole_frac[share_of_need[w->laters[i].need]] += load_of(w, c, &w->laters[i], 1);
    for (size_t i = 0; i < w->n_dues; i++)
        if (w->dues[i].system == system)
            c->whole_frac[share_of_need[w->dues[i].need]] += load_of(w, c, &w->dues[i], 1);
}

static double asked_of_ceiling(const struct ceiling_share *c)
{
    double asked = ceiling_spoken_for(c);
    for (int i = 0; i < N_SHARES; i++)
        asked += c->whole_frac[i] * c->cut_to_frac[i];
    return asked;
}

/* Cuts one share as far as it must be for all to fit, and as it may. */
static void cut_share(struct ceiling_share *c, enum share i, double least, double step)
{
    double over = asked_of_ceiling(c) - 1;
    if (over <= 1e-9 || c->whole_frac[i] <= 0)
        return;
    double to = c->cut_to_frac[i] - over / c->whole_frac[i];
    c->cut_to_frac[i] = fmin(c->cut_to_frac[i], fmax(least, step > 0 ? round_down_to(fmax(0, to), step) : to));
}

bool ceiling_share_out(const struct working *w, size_t system, struct ceiling_share *c)
{
    const struct settings *s = &w->f->settings;
    sum_wholes(w, system, c);
    cut_share(c, SHARE_BROADCAST, s->cue_frac, 0);
    cut_share(c, SHARE_OPTIONAL, s->portion_least_frac, portion_step);
    cut_share(c, SHARE_REGULAR, s->portion_least_frac, portion_step);
    cut_share(c, SHARE_LIVED_BY, s->portion_least_frac, 0);
    cut_share(c, SHARE_OBLIGATE, s->portion_least_frac, portion_step);
    double fixed = ceiling_spoken_for(c), thin = fixed + (asked_of_ceiling(c) - fixed) * s->thin_frac;
    if (thin > 1 + 1e-9)
        c->cut_to_frac[SHARE_BROADCAST] = 0;
    thin = fixed + (asked_of_ceiling(c) - fixed) * s->thin_frac;
    return thin <= 1 + 1e-9;
}

/*
 * What the later rounds of the day are to find left: the broadcast and the portions that wait for them, cut like all
 * others.
 */
static void keep_for_later(const struct working *w, size_t system, struct ceiling_share *c)
{
    c->later_frac = broadcast_load(w, system) * strength_of(w, system) * w->left[system].later_broadcast_frac *
                    c->cut_to_frac[SHARE_BROADCAST];
    for (size_t i = 0; i < w->n_laters; i++)
        if (w->laters[i].system == system)
            c->later_frac += load_of(w, c, &w->laters[i], c->cut_to_frac[share_of_need[w->laters[i].need]]);
}

void ceiling_cut_portions(struct working *w, size_t system)
{
    for (size_t i = 0; i < w->n_dues; i++) {
        struct due *d = &w->dues[i];
        if (d->system != system)
            continue;
        double to = w->shares[system].cut_to_frac[share_of_need[d->need]];
        d->need_ml *= to;
        d->cut_frac = to;
    }
    keep_for_later(w, system, &w->shares[system]);
}
