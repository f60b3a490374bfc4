/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How much slurry each tank needs, and who goes short or has to wait because a water or the day is full. */
#include "neap/ledger.h"
#include "neap/stock.h"
#include "neap/working.h"

#include <string.h>

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

/*
 * A lot that the ceiling cannot bear even alone would, being ever more overdue, keep all others from their food; nor is
 * anything kept for one in a later round.
 */
static bool keep_lots(struct working *w, struct err *e)
{
    size_t n = 0;
    for (size_t i = 0; i < w->n_laters; i++) {
        const struct ceiling_share *c = &w->shares[w->laters[i].system];
        if (!is_too_large(due_least_load(w, c, &w->laters[i]), 1 - ceiling_spoken_for(c)))
            w->laters[n++] = w->laters[i];
    }
    w->n_laters = n;
    for (size_t i = w->n_dues; i-- > 0;) {
        const struct ceiling_share *c = &w->shares[w->dues[i].system];
        if (is_too_large(due_least_load(w, c, &w->dues[i]), 1 - ceiling_spoken_for(c)) &&
            !due_defer(w, i, "alone more than its water's ceiling for the day bears: split the lot", e))
            return false;
    }
    return true;
}

static bool keep_ceilings(struct working *w, struct err *e)
{
    for (size_t s = 0; s < w->f->n_systems; s++) {
        size_t i;
        while (!ceiling_share_out(w, s, &w->shares[s]) && (i = last_in_turn(w, s)) != SIZE_MAX)
            if (!due_defer(w, i, "its water's ceiling for the day is reached, even in the least portions", e))
                return false;
        ceiling_cut_portions(w, s);
    }
    return true;
}

/* What a feeder's hands had or will have to do in the day's other rounds, each shared by those who feed in it. */
static double others_hands_s(const struct working *w)
{
    double hands_s = 0;
    for (size_t i = 0; i < w->n_others; i++) {
        const struct day_use *u = w->others[i];
        const struct plan_request theirs = {.round = u->round};
        bool again = i > 0 && w->others[i - 1]->colony == u->colony && strcmp(w->others[i - 1]->round, u->round) == 0;
        if (u->action == ACTION_TARGET && u->colony != REF_NONE && !again) /* its foods stand beside each other */
            hands_s += colony_hands_s(w->f, u->colony, colony_mouths(w->f, u->colony)) /
                       (double)request_feeders(w->f, &theirs);
    }
    return hands_s;
}

/* Corals that live by food alone and wait for a later round of the day have their minutes kept for them. */
static double later_hands_s(const struct working *w)
{
    double hands_s = 0;
    for (size_t i = 0; i < w->n_laters; i++)
        if (w->laters[i].need == NEED_OBLIGATE)
            hands_s += w->laters[i].hands_s;
    return hands_s;
}

static bool keep_hands(struct working *w, struct err *e)
{
    long feeders = request_feeders(w->f, w->request);
    double most_s = (w->f->settings.day_hands_min * 60 - others_hands_s(w)) * (double)feeders - later_hands_s(w);
    double hands_s = 0;
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

/* How many of those due from a pot cannot take a food; by: 1 where one joins them, -1 where it leaves. */
static void count_refusals(const struct working *w, const struct due *d, long *refusals, long by)
{
    const struct kind *k = &w->f->kinds[w->f->colonies[d->colony].kind];
    for (size_t food = 0; food < w->f->n_foods; food++)
        if (!kind_takes(k, &w->f->foods[food]))
            refusals[food] += by;
}

/* Is there a solid food that every mouth due from this pot can take? */
static bool pot_has_food(const struct working *w, const long *refusals, bool late)
{
    for (size_t food = 0; food < w->f->n_foods; food++)
        if (refusals[food] == 0 && food_in_pot(w, food, late))
            return true;
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
    const size_t n_foods = w->f->n_foods;
    long *refusals = arena_alloc(w->a, 2 * w->f->n_systems * n_foods, sizeof *refusals); /* of each pot, and late one */
    if (!refusals)
        return err_memory(e);
    for (size_t i = 0; i < w->n_dues; i++)
        count_refusals(w, &w->dues[i], refusals + (2 * w->dues[i].system + w->dues[i].late) * n_foods, 1);
    for (size_t s = 0; s < w->f->n_systems; s++)
        for (int late = 0; late <= 1; late++) {
            long *own = refusals + (2 * s + (size_t)late) * n_foods;
            size_t i;
            while (!pot_has_food(w, own, late) && (i = finest_mouth(w, s, late)) != SIZE_MAX) {
                count_refusals(w, &w->dues[i], own, -1);
                if (!due_defer(w, i, NO_FOOD_FOR_IT, e))
                    return false;
            }
        }
    return true;
}

/* ---- slurry ----------------------------------------------------------------------------------------------------- */

double with_losses(const struct settings *s, double need_ml)
{
    const struct vessel syringe = {s->syringe_step_ml, s->syringe_dead_ml};
    return need_ml > 0 ? vessel_fill_ml(&syringe, in_water(s, need_ml)) : 0;
}

/* What is due in a tank, [1] of it late. */
struct tank_due {
    double ml[2], counted_ml[2];
};

bool needs_sum(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    struct tank_due *due = arena_alloc(w->a, f->n_tanks, sizeof *due);
    if (!due)
        return err_memory(e);
    for (size_t i = 0; i < w->n_dues; i++) {
        const struct due *d = &w->dues[i];
        due[d->tank].ml[d->late] += d->need_ml;
        due[d->tank].counted_ml[d->late] +=
            d->need_ml * counted_frac(&f->settings, &f->kinds[f->colonies[d->colony].kind]);
    }
    for (size_t t = 0; t < f->n_tanks; t++) {
        struct tank_need *need = &w->needs[t];
        const double *ml = due[t].ml, *counted_ml = due[t].counted_ml;
        need->slurry_ml = with_losses(&f->settings, ml[false]);
        need->late_ml = with_losses(&f->settings, ml[true]);
        need->rest_ml = fmax(0, need->slurry_ml - in_water(&f->settings, ml[false]));
        need->late_rest_ml = fmax(0, need->late_ml - in_water(&f->settings, ml[true]));
        need->counted_ml = fmin(counted_ml[false], need->slurry_ml);
        need->late_counted_ml = fmin(counted_ml[true], need->late_ml);
        if (ml[false] + ml[true] <= 0 &&
            need->fish_units > 0) /* everyone waits: the fish are not this round's matter */
            fish_leave(w, t);
    }
    return true;
}

bool working_needs(struct working *w, struct err *e)
{
    if (!working_capacities(w, e)) /* before anything of the round is taken from the stock */
        return false;
    working_others(w);
    for (size_t i = 0; i < w->n_dues; i++) {
        struct tank_need *need = &w->needs[w->dues[i].tank];
        if (need->slurry_ml == 0) {
            need->slurry_ml = 1; /* marks a tank that is target-fed, until the sums below */
            if (!need->dark)     /* most fish sleep then */
                fish_feed(w, w->dues[i].tank);
        }
    }
    if (!keep_particles(w, e) || !keep_lots(w, e) || !keep_hands(w, e) || !keep_ceilings(w, e))
        return false;
    return needs_sum(w, e);
}
