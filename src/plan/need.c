/* How much slurry each tank needs, and who has to wait because a tank or the day is full. */
#include "neap/ledger.h"
#include "neap/stock.h"
#include "neap/working.h"

/* Dry mass that one unit brings into a pot: powders count as weighed, moist foods by their solids. */
double food_solids(const struct food *food)
{
    if (food->unit == UNIT_ML)
        return 0;
    return food->form == FORM_POWDER ? 1 : food->solids_frac;
}

static bool is_late(const struct food *food)
{
    return food->form == FORM_PELLET || food->form == FORM_FROZEN;
}

/* Σ dose ÷ ceiling that one mL of slurry of the house blend at strength 1 brings a tank of 100 L. */
static double blend_load(const struct working *w, bool late)
{
    const struct facility *f = w->f;
    double load = 0, shares = 0;
    for (size_t i = 0; i < f->n_foods; i++) {
        const struct food *food = &f->foods[i];
        if (food->retired || w->usable[i] <= 0 || is_late(food) != late)
            continue;
        if (food->blend_share_frac > 0 && food_solids(food) > 0) {
            double units = food->blend_share_frac * f->settings.strength_g_per_100ml / 100 / food_solids(food);
            load += units / food->ceiling_units_per_100l;
            shares += food->blend_share_frac;
        }
    }
    load = shares > 0 ? load / shares : 0; /* what is out of stock is made up by the rest of the blend */
    for (size_t i = 0; !late && i < f->n_foods; i++) {
        const struct food *food = &f->foods[i];
        if (!food->retired && w->usable[i] > 0 && food->blend_ml_per_100ml > 0)
            load += food->blend_ml_per_100ml / 100 / food->ceiling_units_per_100l;
    }
    return load;
}

static double broadcast_load(const struct working *w)
{
    double load = 0;
    for (size_t i = 0; i < w->f->n_foods; i++) {
        const struct food *food = &w->f->foods[i];
        if (!food->retired && w->usable[i] > 0 && food->broadcast_units_per_100l > 0)
            load += food->broadcast_units_per_100l / food->ceiling_units_per_100l;
    }
    return load;
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
        double wanted = food->fish_units_per_100l * f->tanks[t].net_l / 100;
        double most = fmin(wanted, food->ceiling_units_per_100l * f->tanks[t].net_l / 100);
        *units = round_down_to(fmin(most, w->usable[i]), step);
        if (*units > 0)
            return i;
    }
    *units = 0;
    return REF_NONE;
}

static double fish_part(const struct working *w, size_t t, size_t food, double units)
{
    return food == REF_NONE ? 0 : units / (w->f->foods[food].ceiling_units_per_100l * w->f->tanks[t].net_l / 100);
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
    need->load_frac = fish_part(w, t, need->fish_food, need->fish_units);
    if (need->fish_food != REF_NONE)
        w->usable[need->fish_food] = fmax(0, round_near_to(w->usable[need->fish_food] - need->fish_units, 1e-9));
}

struct ceiling_room ceiling_room_of(const struct working *w)
{
    return (struct ceiling_room){
        .slurry_load = blend_load(w, false) * w->f->settings.thin_frac,
        .late_load = blend_load(w, true) * w->f->settings.thin_frac,
        .broadcast = broadcast_load(w),
    };
}

static double ceiling_left(const struct working *w, const struct ceiling_room *room, size_t t)
{
    return 1 - room->broadcast * fmin(1, w->states[w->f->tanks[t].system].factor) - w->needs[t].load_frac;
}

static double dues_load(const struct working *w, const struct ceiling_room *room, size_t t)
{
    double load = 0;
    for (size_t i = 0; i < w->n_dues; i++)
        if (w->dues[i].tank == t)
            load += due_load(w, room, &w->dues[i]);
    return load;
}

static size_t least_urgent(const struct working *w, size_t tank)
{
    for (size_t i = w->n_dues; i-- > 0;)
        if (tank == REF_NONE || w->dues[i].tank == tank)
            return i;
    return SIZE_MAX;
}

bool due_defer(struct working *w, size_t i, const char *reason, struct err *e)
{
    size_t colony = w->dues[i].colony;
    memmove(&w->dues[i], &w->dues[i + 1], (w->n_dues - i - 1) * sizeof *w->dues);
    w->n_dues--;
    return waiting_add(w, colony, e, "%s", reason);
}

/* A lot that the ceiling cannot bear even alone would, being ever more overdue, keep all others from their food. */
static bool keep_lots(struct working *w, const struct ceiling_room *room, struct err *e)
{
    for (size_t i = w->n_dues; i-- > 0;)
        if (is_too_large(due_load(w, room, &w->dues[i]), ceiling_left(w, room, w->dues[i].tank)) &&
            !due_defer(w, i, "alone more than is left of the tank's ceiling: split the lot, or broadcast less there",
                       e))
            return false;
    return true;
}

static bool keep_ceilings(struct working *w, const struct ceiling_room *room, struct err *e)
{
    for (size_t t = 0; t < w->f->n_tanks; t++) {
        size_t i;
        while ((i = least_urgent(w, t)) != SIZE_MAX && dues_load(w, room, t) > ceiling_left(w, room, t) + 1e-9)
            if (!due_defer(w, i, "the tank's ceiling for the day is reached; the most overdue go first", e))
                return false;
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
        if (!due_defer(w, last, "the day's hands are full; the most overdue go first", e))
            return false;
    }
    return true;
}

/* ---- mouths and foods that do not fit --------------------------------------------------------------------------- */

bool kind_takes(const struct kind *k, const struct food *food)
{
    bool form = food->form == FORM_PELLET   ? k->takes_pellet
                : food->form == FORM_FROZEN ? k->takes_frozen
                : food->form == FORM_POWDER ? k->takes_powder
                                            : true;
    return form && food->max_particle_um <= k->max_particle_um;
}

bool food_in_pot(const struct working *w, size_t food, bool late)
{
    const struct food *fd = &w->f->foods[food];
    return !fd->retired && w->usable[food] > 0 && is_late(fd) == late && fd->blend_share_frac > 0 &&
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
                if (!due_defer(w, i, "no food in stock that it can take", e))
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
        double need_ml = 0, late_ml = 0;
        for (size_t i = 0; i < w->n_dues; i++)
            if (w->dues[i].tank == t)
                *(w->dues[i].late ? &late_ml : &need_ml) += w->dues[i].need_ml;
        w->needs[t].slurry_ml = with_losses(&f->settings, need_ml);
        w->needs[t].late_ml = with_losses(&f->settings, late_ml);
        w->needs[t].rest_ml = fmax(0, w->needs[t].slurry_ml - in_water(&f->settings, need_ml));
        w->needs[t].late_rest_ml = fmax(0, w->needs[t].late_ml - in_water(&f->settings, late_ml));
        if (need_ml + late_ml > 0)
            continue;
        if (w->needs[t].fish_units > 0) /* everyone there waits: the fish are not this round's matter */
            w->usable[w->needs[t].fish_food] += w->needs[t].fish_units;
        w->needs[t].fish_units = 0;
        w->needs[t].load_frac = 0;
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
    struct ceiling_room room = ceiling_room_of(w);
    if (!keep_particles(w, e) || !keep_lots(w, &room, e) || !keep_ceilings(w, &room, e) || !keep_hands(w, e))
        return false;
    needs_sum(w);
    return true;
}
