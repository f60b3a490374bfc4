/* How much slurry each tank needs, and who goes short or has to wait because a water or the day is full. */
#include "neap/ledger.h"
#include "neap/stock.h"
#include "neap/working.h"

static const double portion_step = 0.05; /* portions are cut in steps that a person can read off a syringe */

/* Dry mass that one unit brings into a pot: powders count as weighed, moist foods by their solids. */
double food_solids(const struct food *food)
{
    if (food->unit == UNIT_ML)
        return 0;
    return food->form == FORM_POWDER ? 1 : food->solids_frac;
}

/* Σ dose ÷ ceiling that one mL of the house blend at strength 1 brings 100 L of a water. */
static double blend_load(const struct working *w, size_t system, bool late)
{
    const struct facility *f = w->f;
    double load = 0, shares = 0;
    for (size_t i = 0; i < f->n_foods; i++) {
        const struct food *food = &f->foods[i];
        if (food->retired || w->usable[i] <= 0 || food_is_late(food) != late ||
            (food->strips_po4 && w->states[system].po4_low))
            continue;
        if (food->blend_share_frac > 0 && food_solids(food) > 0) {
            double units = food->blend_share_frac * f->settings.strength_g_per_100ml / 100 / food_solids(food);
            load += units / food->ceiling_units_per_100l;
            shares += food->blend_share_frac;
        }
    }
    load = shares > 0 ? load / shares : 0; /* what may not go in is made up by the rest of the blend */
    for (size_t i = 0; !late && i < f->n_foods; i++) {
        const struct food *food = &f->foods[i];
        if (!food->retired && w->usable[i] > 0 && food->blend_ml_per_100ml > 0)
            load += food->blend_ml_per_100ml / 100 / food->ceiling_units_per_100l;
    }
    return load;
}

/* Σ dose ÷ ceiling of the house broadcast, where it is given to all of a water's litres. */
static double broadcast_load(const struct working *w, size_t system)
{
    double load = 0;
    for (size_t i = 0; i < w->f->n_foods; i++) {
        const struct food *food = &w->f->foods[i];
        if (!food->retired && w->usable[i] > 0 && food->broadcast_units_per_100l > 0 &&
            !(food->strips_po4 && w->states[system].po4_low))
            load += food->broadcast_units_per_100l / food->ceiling_units_per_100l;
    }
    return load;
}

static double water_l(const struct facility *f, size_t system)
{
    return fmax(f->systems[system].volume_l, 1e-3);
}

/* The fish of a tank that is target-fed get the first fish food in stock; REF_NONE: none. *units: as much as can be. */
static size_t fish_food_of(const struct working *w, size_t t, double *units)
{
    const struct facility *f = w->f;
    for (size_t i = 0; f->tanks[t].fish && i < f->n_foods; i++) {
        const struct food *food = &f->foods[i];
        double step = food->unit == UNIT_G ? f->settings.scale_step_g : f->settings.liquid_step_ml;
        if (food->retired || !(food->fish_units_per_100l > 0))
            continue;
        double most = fmin(food->fish_units_per_100l, food->ceiling_units_per_100l) * f->tanks[t].net_l / 100;
        *units = round_down_to(fmin(most, w->usable[i]), step);
        if (*units > 0)
            return i;
    }
    *units = 0;
    return REF_NONE;
}

static double fish_part(const struct working *w, size_t t, size_t food, double units)
{
    const struct facility *f = w->f;
    return food == REF_NONE ? 0
                            : units / (f->foods[food].ceiling_units_per_100l * water_l(f, f->tanks[t].system) / 100);
}

double fish_load(const struct working *w, size_t t)
{
    double units;
    size_t food = fish_food_of(w, t, &units);
    return fish_part(w, t, food, units);
}

static void feed_fish(struct working *w, size_t t)
{
    struct tank_need *need = &w->needs[t];
    need->fish_food = fish_food_of(w, t, &need->fish_units);
    w->shares[w->f->tanks[t].system].fish_frac += fish_part(w, t, need->fish_food, need->fish_units);
    if (need->fish_food != REF_NONE)
        w->usable[need->fish_food] = fmax(0, round_near_to(w->usable[need->fish_food] - need->fish_units, 1e-9));
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
                broadcast * w->f->tanks[t].net_l / water_l(w->f, system);
    for (size_t i = 0; i < w->n_dues; i++)
        if (w->dues[i].system == system)
            c->whole_frac[share_of_need[w->dues[i].need]] += load_of(w, c, &w->dues[i], 1);
}

static double asked_of_ceiling(const struct ceiling_share *c)
{
    double asked = c->fish_frac;
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

/*
 * The broadcast yields first, down to the cue that opens the corals; then portions get smaller, the obligate feeders' last. If
 * even a thin slurry is too much then, the cue goes as well. Do all fit?
 */
static bool share_out(const struct working *w, size_t system, struct ceiling_share *c)
{
    const struct settings *s = &w->f->settings;
    sum_wholes(w, system, c);
    cut_share(c, SHARE_BROADCAST, s->cue_frac, 0);
    cut_share(c, SHARE_OPTIONAL, s->portion_least_frac, portion_step);
    cut_share(c, SHARE_REGULAR, s->portion_least_frac, portion_step);
    cut_share(c, SHARE_LIVED_BY, s->portion_least_frac, 0);
    cut_share(c, SHARE_OBLIGATE, s->portion_least_frac, portion_step);
    double thin = c->fish_frac + (asked_of_ceiling(c) - c->fish_frac) * s->thin_frac;
    if (thin > 1 + 1e-9)
        c->cut_to_frac[SHARE_BROADCAST] = 0;
    thin = c->fish_frac + (asked_of_ceiling(c) - c->fish_frac) * s->thin_frac;
    return thin <= 1 + 1e-9;
}

static void cut_portions(struct working *w, size_t system)
{
    for (size_t i = 0; i < w->n_dues; i++) {
        struct due *d = &w->dues[i];
        if (d->system != system)
            continue;
        double to = w->shares[system].cut_to_frac[share_of_need[d->need]];
        d->need_ml *= to;
        d->cut_frac = to;
    }
}

/* ---- who waits -------------------------------------------------------------------------------------------------- */

static size_t last_in_turn(const struct working *w, size_t system)
{
    for (size_t i = w->n_dues; i-- > 0;)
        if (w->dues[i].system == system)
            return i;
    return SIZE_MAX;
}

bool due_defer(struct working *w, size_t i, const char *reason, struct err *e)
{
    struct due d = w->dues[i];
    memmove(&w->dues[i], &w->dues[i + 1], (w->n_dues - i - 1) * sizeof *w->dues);
    w->n_dues--;
    return waiting_add_due(w, &d, reason, e);
}

/* A lot that the ceiling cannot bear even alone would, being ever more overdue, keep all others from their food. */
static bool keep_lots(struct working *w, struct err *e)
{
    for (size_t i = w->n_dues; i-- > 0;) {
        const struct ceiling_share *c = &w->shares[w->dues[i].system];
        if (is_too_large(due_least_load(w, c, &w->dues[i]), 1 - c->fish_frac) &&
            !due_defer(w, i, "alone more than its water's ceiling for the day bears: split the lot", e))
            return false;
    }
    return true;
}

static bool keep_ceilings(struct working *w, struct err *e)
{
    for (size_t s = 0; s < w->f->n_systems; s++) {
        size_t i;
        while (!share_out(w, s, &w->shares[s]) && (i = last_in_turn(w, s)) != SIZE_MAX)
            if (!due_defer(w, i, "its water's ceiling for the day is reached, even in the least portions", e))
                return false;
        cut_portions(w, s);
    }
    return true;
}

static bool keep_hands(struct working *w, struct err *e)
{
    long feeders = w->request->feeders > 0 ? w->request->feeders : w->f->settings.feeders;
    double most_s = w->f->settings.day_hands_min * 60 * (double)feeders, hands_s = 0;
    for (size_t i = 0; i < w->n_dues; i++)
        hands_s += w->dues[i].hands_s;
    while (hands_s > most_s && w->n_dues > 0) {
        size_t last = w->n_dues - 1;
        hands_s -= w->dues[last].hands_s;
        if (!due_defer(w, last, "the day's hands are full: the obligate and the most overdue go first", e))
            return false;
    }
    return true;
}

/* ---- mouths and foods that do not fit --------------------------------------------------------------------------- */

bool food_in_pot(const struct working *w, size_t food, bool late)
{
    const struct food *fd = &w->f->foods[food];
    return !fd->retired && w->usable[food] > 0 && food_is_late(fd) == late && fd->blend_share_frac > 0 &&
           food_solids(fd) > 0;
}

/* Is there a solid food that every mouth due from this pot of this system can take? */
static bool pot_has_food(const struct working *w, size_t system, bool late)
{
    for (size_t food = 0; food < w->f->n_foods; food++) {
        bool all = food_in_pot(w, food, late);
        for (size_t i = 0; all && i < w->n_dues; i++)
            if (w->dues[i].system == system && w->dues[i].late == late)
                all = kind_takes(&w->f->kinds[w->f->colonies[w->dues[i].colony].kind], &w->f->foods[food]);
        if (all)
            return true;
    }
    return false;
}

static size_t finest_mouth(const struct working *w, size_t system, bool late)
{
    size_t finest = SIZE_MAX;
    double least = INFINITY;
    for (size_t i = 0; i < w->n_dues; i++) {
        double um = w->f->kinds[w->f->colonies[w->dues[i].colony].kind].max_particle_um;
        if (w->dues[i].system == system && w->dues[i].late == late && um < least) {
            least = um;
            finest = i;
        }
    }
    return finest;
}

static bool keep_particles(struct working *w, struct err *e)
{
    for (size_t s = 0; s < w->f->n_systems; s++)
        for (int late = 0; late <= 1; late++) {
            size_t i;
            while ((i = finest_mouth(w, s, late)) != SIZE_MAX && !pot_has_food(w, s, late))
                if (!due_defer(w, i, NO_FOOD_FOR_IT, e))
                    return false;
        }
    return true;
}

/* ---- slurry ----------------------------------------------------------------------------------------------------- */

double with_losses(const struct settings *s, double need_ml)
{
    return need_ml > 0 ? round_up_to(in_water(s, need_ml) + s->syringe_dead_ml, s->syringe_step_ml) : 0;
}

void needs_sum(struct working *w)
{
    const struct facility *f = w->f;
    for (size_t t = 0; t < f->n_tanks; t++) {
        struct tank_need *need = &w->needs[t];
        double ml[2] = {0}, counted_ml[2] = {0};
        for (size_t i = 0; i < w->n_dues; i++) {
            const struct due *d = &w->dues[i];
            if (d->tank != t)
                continue;
            ml[d->late] += d->need_ml;
            counted_ml[d->late] += d->need_ml * counted_frac(&f->settings, &f->kinds[f->colonies[d->colony].kind]);
        }
        need->slurry_ml = with_losses(&f->settings, ml[false]);
        need->late_ml = with_losses(&f->settings, ml[true]);
        need->rest_ml = fmax(0, need->slurry_ml - in_water(&f->settings, ml[false]));
        need->late_rest_ml = fmax(0, need->late_ml - in_water(&f->settings, ml[true]));
        need->counted_ml = fmin(counted_ml[false], need->slurry_ml);
        need->late_counted_ml = fmin(counted_ml[true], need->late_ml);
        if (ml[false] + ml[true] > 0 || need->fish_units <= 0)
            continue;
        /* everyone there waits: the fish are not this round's matter */
        w->usable[need->fish_food] += need->fish_units;
        w->shares[f->tanks[t].system].fish_frac -= fish_part(w, t, need->fish_food, need->fish_units);
        need->fish_units = 0;
    }
}

bool working_needs(struct working *w, struct err *e)
{
    if (!working_crowds(w, e)) /* before anything of the round is taken from the stock */
        return false;
    for (size_t i = 0; i < w->n_dues; i++) {
        struct tank_need *need = &w->needs[w->dues[i].tank];
        if (need->slurry_ml == 0) {
            need->slurry_ml = 1; /* marks a tank that is target-fed, until the sums below */
            feed_fish(w, w->dues[i].tank);
        }
    }
    if (!keep_particles(w, e) || !keep_lots(w, e) || !keep_hands(w, e) || !keep_ceilings(w, e))
        return false;
    needs_sum(w);
    return true;
}
