/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What every round must keep, proved from its rows alone over random facilities. No step of the planner is used here.
 */
#include "neap/plan.h"
#include "neap/replan.h"
#include "neap/stock.h"

#include "facility_random.h"
#include "tests.h"

enum { ROUNDS = TRIALS_LEAST(400, 166) };

static uint64_t seed_now;
static const struct random_facility *now;
static const struct plan_request *asked;
static size_t passes, warned, switched_apart, ceiling_waits, cut_lines, beside_waiting, uncut_beside, shared_steps;
static size_t orders;

static void refuse(const char *what, double got, double limit, const char *file, int line)
{
    print_error("facility of seed %lu: %s: %.12g against %.12g\n", (unsigned long)seed_now, what, got, limit);
    _fail(file, line);
}

#define at_most(got, limit, slack, what)                                                                               \
    do {                                                                                                               \
        if (!((got) <= (limit) + (slack)))                                                                             \
            refuse(what, (got), (limit), __FILE__, __LINE__);                                                          \
    } while (0)
#define holds(is, what) at_most((is) ? 0.0 : 1.0, 0.0, 0.0, what)

static double up_to(double v, double step)
{
    return ceil(v / step - 1e-9) * step;
}

/*
 * In a vessel, with what stays in it; what fits into ten of its graduations in a small one, five times as fine in both.
 */
static double in_vessel(double ml, double dead_ml, double step_ml)
{
    bool small = ml + dead_ml / 5 <= 10 * step_ml;
    return up_to(ml + dead_ml / (small ? 5 : 1), step_ml / (small ? 5 : 1));
}

/* What a tank needs of a pot by its lines: with losses, and what stays in the syringe. */
static double portion(const struct round *r, size_t tank, const char *pot)
{
    const struct settings *s = &now->f.settings;
    double ml = 0;
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].action == ACTION_TARGET && r->lines[i].tank == tank && strcmp(r->lines[i].pot, pot) == 0)
            ml += r->lines[i].amount;
    return ml > 0 ? in_vessel(ml * (1 + s->loss_frac), s->syringe_dead_ml, s->syringe_step_ml) : 0;
}

static const struct pot *pot_of(const struct round *r, const char *name)
{
    for (size_t i = 0; i < r->n_pots; i++)
        if (strcmp(r->pots[i].pot, name) == 0)
            return &r->pots[i];
    return NULL;
}

/*
 * Of what a tank needs of a pot, the mL that count: half of what is put to a mouth, three quarters of a cloud, all that
 * is lost.
 */
static double counted(const struct round *r, size_t tank, const char *pot)
{
    double ml = 0;
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        if (l->action == ACTION_TARGET && l->tank == tank && strcmp(l->pot, pot) == 0)
            ml += l->amount * (now->f.settings.loss_frac +
                               (now->kinds[now->colonies[l->colony].kind].feeding == FEEDING_CLOUD ? 0.75 : 0.5));
    }
    return fmin(ml, portion(r, tank, pot));
}

static void ceilings_hold(const struct round *r)
{
    for (size_t s = 0; s < now->f.n_systems; s++) {
        double hundreds = now->f.systems[s].volume_l / 100, load = 0;
        for (size_t i = 0; i < r->n_lines; i++)
            if (now->tanks[r->lines[i].tank].system == s && r->lines[i].food != REF_NONE)
                load += r->lines[i].amount / (now->foods[r->lines[i].food].ceiling_units_per_100l * hundreds);
        for (size_t i = 0; i < r->n_pot_foods; i++) {
            const struct pot_food *pf = &r->pot_foods[i];
            for (size_t t = 0; t < now->f.n_tanks; t++)
                if (now->tanks[t].system == s)
                    load += pf->amount_units * counted(r, t, pf->pot) / pot_of(r, pf->pot)->made_ml /
                            (now->foods[pf->food].ceiling_units_per_100l * hundreds);
        }
        at_most(load, 1, 1e-6, "a water above a ceiling");
    }
}

static bool held(const char *reason, int until)
{
    return *reason && (until == DAY_NONE || until >= RANDOM_DAY);
}

static void foods_fit_mouths(const struct round *r)
{
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        if (l->action != ACTION_TARGET)
            continue;
        const struct kind *k = &now->kinds[now->colonies[l->colony].kind];
        size_t n = 0;
        for (size_t p = 0; p < r->n_pot_foods; p++) {
            const struct food *food = &now->foods[r->pot_foods[p].food];
            if (strcmp(r->pot_foods[p].pot, l->pot) != 0)
                continue;
            n++;
            at_most(food->max_particle_um, k->max_particle_um, 0, "a particle too large");
            holds(food->form != FORM_POWDER || k->takes_powder, "powder is taken");
            holds(food->form != FORM_PELLET || k->takes_pellet, "pellets are taken");
            holds(food->form != FORM_FROZEN || k->takes_frozen, "frozen food is taken");
        }
        holds(n > 0, "a pot that is fed from holds food");
    }
}

static void nobody_is_fed_who_must_not_be(const struct round *r)
{
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        const struct tank *t = &now->tanks[l->tank];
        holds(!t->retired && !held(t->hold_reason, t->hold_until), "the tank is in use and free");
        holds(asked->n_skip_tanks == 0 || strcmp(asked->skip_tanks[0], t->name) != 0, "the tank is not left out");
        if (l->action != ACTION_TARGET)
            continue;
        const struct colony *c = &now->colonies[l->colony];
        const struct kind *k = &now->kinds[c->kind];
        holds(c->tank == l->tank && !c->retired && !held(c->hold_reason, c->hold_until), "the colony may be fed");
        holds(k->feeding == FEEDING_TARGET || k->feeding == FEEDING_CLOUD, "the kind is target-fed");
        holds(c->last_fed == DAY_NONE || RANDOM_DAY - c->last_fed >= k->interval_d, "the interval is over");
        holds(c->arrived == DAY_NONE || RANDOM_DAY - c->arrived >= now->f.settings.arrival_wait_d,
              "arrived long enough ago");
    }
}

static void all_due_are_fed_or_named(const struct round *r)
{
    for (size_t i = 0; i < now->f.n_colonies; i++) {
        const struct colony *c = &now->colonies[i];
        const struct tank *t = &now->tanks[c->tank];
        int feeding = now->kinds[c->kind].feeding;
        long fed = 0, waits = 0;
        for (size_t k = 0; k < r->n_lines; k++)
            fed += r->lines[k].action == ACTION_TARGET && r->lines[k].colony == i ? r->lines[k].count : 0;
        for (size_t k = 0; k < r->n_waitings; k++)
            waits += r->waitings[k].colony == i;
        holds(fed == 0 || (fed == c->count && waits == 0), "a lot is fed whole and once");
        at_most((double)waits, 1, 0, "named more than once");
        bool half = c->arrived != DAY_NONE && RANDOM_DAY - c->arrived < now->f.settings.arrival_half_d;
        double interval_d = now->kinds[c->kind].interval_d * (half ? 2 : 1);
        bool skipped = asked->n_skip_tanks > 0 && strcmp(asked->skip_tanks[0], t->name) == 0;
        bool due = !skipped && !c->retired && !t->retired && !held(t->hold_reason, t->hold_until) &&
                   (feeding == FEEDING_TARGET || feeding == FEEDING_CLOUD) &&
                   (c->last_fed == DAY_NONE || RANDOM_DAY - c->last_fed >= interval_d);
        holds(!due || fed > 0 || waits > 0, "who is due is fed or named");
    }
}

/* Days since the last feed, or the arrival of one never fed, over the interval. The due are fed in this order. */
static double overdue(const struct colony *c)
{
    bool half = c->arrived != DAY_NONE && RANDOM_DAY - c->arrived < now->f.settings.arrival_half_d;
    if (c->last_fed == DAY_NONE && c->arrived == DAY_NONE)
        return INFINITY;
    int since = c->last_fed == DAY_NONE ? c->arrived : c->last_fed;
    return fmax(1, (double)(RANDOM_DAY - since) / (now->kinds[c->kind].interval_d * (half ? 2 : 1)));
}

/* Of a portion as the kind has it, what the line gives. */
static double cut_of(const struct line *l)
{
    const struct colony *c = &now->colonies[l->colony];
    bool half = c->arrived != DAY_NONE && RANDOM_DAY - c->arrived < now->f.settings.arrival_half_d;
    double mouths = l->mouths > 0 ? (double)l->mouths : 1;
    return l->amount /
           ((double)l->count * mouths * now->kinds[c->kind].portion_ml * c->portion_frac * (half ? 0.5 : 1));
}

/*
 * Obligate feeders come first, and then the most overdue. Those who are fed have the least portions, unless the lot
 * that waits was so large that without it all of them fit.
 */
static void the_least_in_need_wait_for_a_ceiling(const struct round *r)
{
    for (size_t i = 0; i < r->n_waitings; i++) {
        const struct colony *waits = &now->colonies[r->waitings[i].colony];
        bool obligate = now->kinds[waits->kind].need == NEED_OBLIGATE;
        if (strstr(r->waitings[i].reason, "ceiling for the day is reached") == NULL)
            continue;
        ceiling_waits++;
        for (size_t k = 0; k < r->n_lines; k++) {
            const struct line *l = &r->lines[k];
            if (now->tanks[l->tank].system != now->tanks[waits->tank].system)
                continue;
            if (l->action != ACTION_TARGET)
                continue;
            const struct colony *fed = &now->colonies[l->colony];
            bool fed_obligate = now->kinds[fed->kind].need == NEED_OBLIGATE;
            beside_waiting++;
            uncut_beside += cut_of(l) > now->f.settings.portion_least_frac + 1e-9;
            holds(fed_obligate || !obligate, "an obligate feeder waits behind another");
            if (fed_obligate == obligate)
                at_most(overdue(waits), overdue(fed), 1e-12, "the more overdue waits");
        }
    }
}

/* An obligate feeder's portion is cut only when those of all others in its water are at their least. */
static void obligate_portions_are_cut_last(const struct round *r)
{
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        if (l->action != ACTION_TARGET || cut_of(l) > 1 - 1e-9 ||
            now->kinds[now->colonies[l->colony].kind].need != NEED_OBLIGATE)
            continue;
        cut_lines++;
        for (size_t k = 0; k < r->n_lines; k++) {
            const struct line *other = &r->lines[k];
            if (other->action == ACTION_TARGET && now->tanks[other->tank].system == now->tanks[l->tank].system &&
                now->kinds[now->colonies[other->colony].kind].need != NEED_OBLIGATE)
                at_most(cut_of(other), now->f.settings.portion_least_frac, 1e-9, "another's portion is larger");
        }
    }
}

static void starved_water_is_not_stripped(const struct round *r)
{
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        if (!now->starved[now->tanks[l->tank].system])
            continue;
        holds(l->food == REF_NONE || !now->foods[l->food].strips_po4,
              "no stripping food is broadcast to starved water");
        for (size_t p = 0; l->action == ACTION_TARGET && p < r->n_pot_foods; p++)
            holds(strcmp(r->pot_foods[p].pot, l->pot) != 0 || !now->foods[r->pot_foods[p].food].strips_po4,
                  "no stripping food in the pot of starved water");
    }
}

static void volumes_add_up(const struct round *r)
{
    const struct settings *s = &now->f.settings;
    for (size_t i = 0; i < r->n_pots; i++) {
        const struct pot *p = &r->pots[i];
        double portions = 0, liquids = 0, need = 0;
        for (size_t t = 0; t < now->f.n_tanks; t++)
            portions += portion(r, t, p->pot);
        for (size_t k = 0; k < r->n_lines; k++)
            need +=
                r->lines[k].action == ACTION_TARGET && strcmp(r->lines[k].pot, p->pot) == 0 ? r->lines[k].amount : 0;
        for (size_t k = 0; k < r->n_pot_foods; k++) {
            const struct pot_food *pf = &r->pot_foods[k];
            if (strcmp(pf->pot, p->pot) == 0)
                liquids += pf->premix_ml > 0                      ? pf->premix_take_ml
                           : now->foods[pf->food].unit == UNIT_ML ? pf->amount_units
                                                                  : 0;
        }
        double least = in_vessel(portions, s->pot_dead_ml, s->pot_step_ml);
        at_most(least, p->made_ml, 1e-6, "made is less than is needed");
        holds(fabs(p->made_ml - least) < 1e-6 || strstr(p->note, "made larger"), "a larger pot says why");
        at_most(p->made_ml, 3 * fmax(least, s->pot_step_ml + s->pot_dead_ml) + s->pot_step_ml, 1e-6,
                "far more is made than is needed");
        at_most(fabs(p->need_ml - need), 0, 1e-6, "need is not the sum of the lines");
        at_most(fabs(p->water_ml + liquids - p->made_ml), 0, 1e-6, "water, liquids and premixes are not the pot");
        at_most(-p->water_ml, 0, 1e-9, "less than no water");
        at_most(p->factor, s->full_frac, 1e-6, "stronger than the strongest");
        at_most(p->factor, asked->factor_max > 0 ? fmax(asked->factor_max, s->lean_frac) : INFINITY, 1e-6,
                "stronger than asked for");
        holds(p->late || p->factor >= s->lean_frac - 0.05 || *p->note, "a weak pot says why");
    }
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        if (l->action != ACTION_TARGET)
            continue;
        const struct colony *c = &now->colonies[l->colony];
        double each = now->kinds[c->kind].portion_ml * c->portion_frac * (double)(l->mouths > 0 ? l->mouths : 1);
        at_most(l->amount, (double)l->count * each, 1e-9, "more than the portion");
    }
}

static double drawn(const struct round *r, size_t lot)
{
    double units = 0;
    for (size_t i = 0; i < r->n_pot_foods; i++)
        if (r->pot_foods[i].lot == lot)
            units += r->pot_foods[i].premix_ml > 0 ? r->pot_foods[i].premix_units : r->pot_foods[i].amount_units;
    for (size_t i = 0; i < r->n_lines; i++)
        units += r->lines[i].lot == lot ? r->lines[i].amount : 0;
    return units;
}

static void lots_suffice(const struct round *r)
{
    for (size_t i = 0; i < now->f.n_lots; i++) {
        const struct lot *l = &now->lots[i];
        double units = drawn(r, i);
        at_most(units, l->amount_units - l->used_units, 1e-6, "more drawn than was left");
        bool spent = l->retired || l->received > RANDOM_DAY || (l->use_by != DAY_NONE && l->use_by < RANDOM_DAY) ||
                     (l->opened != DAY_NONE && l->opened + now->foods[l->food].opened_life_d < RANDOM_DAY);
        holds(units <= 0 || !spent, "a lot past its time is not used");
    }
    for (size_t i = 0; i < r->n_pot_foods; i++)
        holds(r->pot_foods[i].lot != REF_NONE && now->lots[r->pot_foods[i].lot].food == r->pot_foods[i].food,
              "its own lot");
    for (size_t i = 0; i < r->n_lines; i++)
        holds(r->lines[i].food == REF_NONE ||
                  (r->lines[i].lot != REF_NONE && now->lots[r->lines[i].lot].food == r->lines[i].food),
              "its own lot");
}

/* What is told to be left after today is the stock less what the rows take, a premix as it is weighed. */
static void orders_name_what_the_rows_leave(const struct round *r)
{
    double by_food[RANDOM_FOODS] = {0};
    struct arena scratch = {0};
    struct stock *left;
    struct err e;
    for (size_t i = 0; i < now->f.n_lots; i++)
        by_food[now->lots[i].food] += drawn(r, i);
    holds(stock_state(&now->f, RANDOM_DAY, by_food, &scratch, &left, &e), "the stock is known");
    for (size_t i = 0; i < now->f.n_foods; i++) {
        char head[120], tail[80];
        snprintf(head, sizeof head, "Order %s, ", now->foods[i].name);
        snprintf(tail, sizeof tail, ": %.10g %s left after today,", round_near_to(left[i].usable_units, 0.1),
                 now->foods[i].unit == UNIT_G ? "g" : "mL");
        for (size_t k = 0; k < r->n_cautions; k++)
            if (strncmp(r->cautions[k].text, head, strlen(head)) == 0) {
                holds(strstr(r->cautions[k].text, tail) != NULL, r->cautions[k].text);
                orders++;
            }
    }
    arena_free(&scratch);
}

/* Decimals of the shortest text that reads back as the number: as it will stand in a dump. */
static double decimals(double v)
{
    char text[32];
    number_format(v, text);
    const char *point = strchr(text, '.');
    return point ? (double)strlen(point + 1) : 0;
}

static void amounts_carry_no_more_digits_than_their_step(const struct round *r)
{
    const struct settings *s = &now->f.settings;
    for (size_t i = 0; i < r->n_pot_foods; i++) {
        const struct pot_food *pf = &r->pot_foods[i];
        double step = now->foods[pf->food].unit == UNIT_G ? s->scale_step_g : s->liquid_step_ml;
        double weighed = pf->amount_units;
        for (size_t k = 0; k < r->n_pot_foods && pf->premix_ml > 0; k++) { /* a premix is weighed once for the round */
            const struct pot_food *other = &r->pot_foods[k];
            weighed = k == 0 ? 0 : weighed;
            weighed += other->food == pf->food && other->premix_ml > 0 ? other->premix_units : 0;
            holds(other->food != pf->food || other->premix_ml <= 0 || other->lot == pf->lot, "a premix is of one lot");
        }
        at_most(decimals(number_without_dust(weighed)), step_decimals(step), 0, "a weighing has dust");
        holds(pf->premix_ml <= 0 || now->foods[pf->food].form == FORM_POWDER || now->foods[pf->food].unit == UNIT_ML,
              "only what spreads in water is premixed");
        holds(number_without_dust(pf->amount_units) == pf->amount_units, "a premixed amount has dust");
        at_most(decimals(pf->premix_take_ml), step_decimals(s->liquid_step_ml), 0,
                "what is taken of a premix has dust");
    }
    for (size_t i = 0; i < r->n_pots; i++) {
        const struct pot *p = &r->pots[i];
        at_most(decimals(p->made_ml), step_decimals(s->pot_step_ml / 5), 0, "a pot has dust");
        at_most(decimals(p->factor), 4, 0, "a strength has dust");
        at_most(decimals(p->strength_g_per_100ml), 4, 0, "a strength has dust");
        holds(number_without_dust(p->need_ml) == p->need_ml && number_without_dust(p->water_ml) == p->water_ml,
              "mL have dust");
    }
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        if (l->food != REF_NONE)
            at_most(decimals(l->amount),
                    step_decimals(now->foods[l->food].unit == UNIT_G ? s->scale_step_g : s->liquid_step_ml), 0,
                    "a food has dust");
        holds(l->food != REF_NONE || isnan(l->amount) || number_without_dust(l->amount) == l->amount,
              "a portion has dust");
    }
    at_most(decimals(r->head.walked_m), 1, 0, "a way has dust");
}

static bool one_pump(size_t a, size_t b)
{
    return a == b || (*now->tanks[a].pump && strcmp(now->tanks[a].pump, now->tanks[b].pump) == 0);
}

/* Of every tank whose water stands still, its own limit: also of one that shares the pump and is not fed. */
static void no_flow_is_off_too_long(const struct round *r)
{
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *off = &r->lines[i];
        if (off->action != ACTION_FLOW_OFF)
            continue;
        const struct line *on = NULL;
        for (size_t k = 0; k < r->n_lines; k++) {
            const struct line *l = &r->lines[k];
            if (l->action == ACTION_FLOW_ON && one_pump(l->tank, off->tank) && l->start_min >= off->start_min &&
                (!on || l->start_min < on->start_min))
                on = l;
        }
        holds(on != NULL, "a flow that goes off comes on");
        for (size_t t = 0; t < now->f.n_tanks; t++)
            if (one_pump(t, off->tank) && !now->tanks[t].retired)
                at_most(on->end_min - off->start_min, now->tanks[t].flow_off_limit_min, 0, "flow off too long");
    }
}

static bool is_warned_of(const struct round *r, size_t tank)
{
    for (size_t i = 0; i < r->n_cautions; i++)
        if (r->cautions[i].part == CAUTION_TANK && r->cautions[i].tank == tank &&
            strstr(r->cautions[i].text, "is too short"))
            return true;
    return false;
}

/* Hands at the corals of one stop of a tank: to settle, the corals, refills of the syringe. */
static double stop_seconds(const struct round *r, size_t tank, long pass, double *minutes)
{
    const struct settings *s = &now->f.settings;
    double seconds = s->tank_fixed_s, ml = 0;
    *minutes = NAN;
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        if (l->action != ACTION_TARGET || l->tank != tank || l->pass != pass)
            continue;
        const struct kind *k = &now->kinds[now->colonies[l->colony].kind];
        seconds += (double)l->count * (k->colony_s + (double)l->mouths * k->mouth_s);
        ml += l->amount;
        *minutes = l->end_min - l->start_min;
    }
    return seconds + fmax(0, ceil(ml / s->syringe_ml - 1e-9) - 1) * s->refill_s;
}

/* No stop is for nobody, and none has less time than its lines take; where not even one coral fits, it is said. */
static void stops_have_time_for_their_corals(const struct round *r)
{
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *off = &r->lines[i];
        double minutes, most = NAN;
        if (off->action == ACTION_TARGET) {
            double seconds = stop_seconds(r, off->tank, off->pass, &minutes);
            passes += off->pass > 1;
            if (!is_warned_of(r, off->tank))
                at_most(seconds, 60 * minutes, 1, "more feed than time in a stop");
            else
                warned++;
        }
        if (off->action != ACTION_FLOW_OFF)
            continue;
        for (size_t t = 0; t < now->f.n_tanks; t++)
            if (one_pump(t, off->tank) && stop_seconds(r, t, off->pass, &minutes) > 0 && !isnan(minutes))
                most = minutes;
        holds(!isnan(most), "somebody is fed in each stop");
    }
}

/* Where a line takes its feeder: a pump is switched where its note says, else at the tank. */
static double place_of(const struct line *l)
{
    const char *at = strstr(l->note, "switch at ");
    for (size_t t = 0; at && t < now->f.n_tanks; t++) {
        size_t len = strlen(now->tanks[t].name);
        if (strncmp(at + strlen("switch at "), now->tanks[t].name, len) == 0 && at[strlen("switch at ") + len] == ';')
            return now->tanks[t].position_m;
    }
    return now->tanks[l->tank].position_m;
}

/*
 * Of any two lines of a feeder, the later begins when they can be there; 15 m of each way are inside the steps'
 * rounding.
 */
static void hands_are_where_they_are_needed(const struct round *r)
{
    for (size_t i = 0; i < r->n_lines; i++)
        for (size_t k = 0; k < r->n_lines; k++) {
            const struct line *a = &r->lines[i], *b = &r->lines[k];
            if (a->feeder != b->feeder || into_shared_water(a) || into_shared_water(b) || b->start_min < a->end_min ||
                (a->start_min == b->start_min && a->end_min == b->end_min))
                continue;
            double way_m = fabs(place_of(a) - place_of(b)) - 15;
            switched_apart += a->action == ACTION_FLOW_OFF && strstr(a->note, "switch at ") != NULL && k == i + 1;
            at_most(a->end_min + fmax(0, ceil(way_m / now->f.settings.walk_m_per_min - 1e-9)), b->start_min, 0,
                    "a feeder is not there yet");
        }
}

static void corals_wait_for_the_broadcast(const struct round *r)
{
    const struct settings *s = &now->f.settings;
    for (size_t t = 0; t < now->f.n_tanks; t++) {
        int broadcast = INT_MIN, feed = INT_MAX;
        bool flagged = false;
        for (size_t i = 0; i < r->n_lines; i++) {
            const struct line *l = &r->lines[i];
            if (l->tank == t && l->action == ACTION_BROADCAST && l->end_min > broadcast)
                broadcast = l->end_min;
            if (l->tank == t && l->action == ACTION_TARGET && l->start_min < feed)
                feed = l->start_min;
        }
        for (size_t i = 0; i < r->n_cautions; i++)
            flagged = flagged || (strstr(r->cautions[i].text, now->tanks[t].name) &&
                                  strstr(r->cautions[i].text, "cannot be kept"));
        if (broadcast == INT_MIN || feed == INT_MAX || flagged)
            continue;
        at_most(s->lag_min_min, feed - broadcast, 0, "fed too soon after the broadcast");
        at_most(feed - broadcast, s->lag_max_min, 0, "fed too late after the broadcast");
    }
}

static const struct line *first_line(const struct round *r, size_t tank, enum action action)
{
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].tank == tank && r->lines[i].action == (int)action)
            return &r->lines[i];
    return NULL;
}

/* Together where the tanks' first corals are fed in one stop; never while a tank of the water is to get nothing. */
static void shared_water_is_broadcast_to_once(const struct round *r)
{
    bool left_out[RANDOM_SYSTEMS] = {false};
    for (size_t t = 0; t < now->f.n_tanks; t++) {
        const struct tank *tank = &now->tanks[t];
        bool skipped = asked->n_skip_tanks > 0 && strcmp(asked->skip_tanks[0], tank->name) == 0;
        if (!tank->retired && (skipped || held(tank->hold_reason, tank->hold_until)))
            left_out[tank->system] = true;
    }
    for (size_t t = 0; t < now->f.n_tanks; t++) {
        const struct line *mine = first_line(r, t, ACTION_BROADCAST), *corals = first_line(r, t, ACTION_TARGET);
        size_t system = now->tanks[t].system;
        if (!mine)
            continue;
        holds((*mine->note != '\0') == (now->systems[system].broadcast_once && !left_out[system]),
              "into the water or the tank");
        holds(!*mine->note || strstr(mine->note, now->tanks[t].name), "its note names the tank");
        for (size_t k = 0; k < t; k++) {
            const struct line *other = first_line(r, k, ACTION_BROADCAST), *theirs = first_line(r, k, ACTION_TARGET);
            if (!other || now->tanks[k].system != system)
                continue;
            bool together = other->start_min == mine->start_min && other->feeder == mine->feeder;
            holds(!together || (*mine->note && other->end_min == mine->end_min && strcmp(mine->note, other->note) == 0),
                  "one step, one length, one note");
            bool one_stop = corals && theirs && one_pump(t, k) && corals->pass == theirs->pass;
            holds(together || !one_stop || !*mine->note, "a stop's tanks are broadcast to together");
            shared_steps += together;
        }
    }
}

static void quarantine_is_last(const struct round *r)
{
    for (size_t i = 0; i < r->n_lines; i++)
        for (size_t k = 0; k < r->n_lines; k++) {
            const struct line *a = &r->lines[i], *b = &r->lines[k];
            bool back = now->systems[now->tanks[a->tank].system].quarantine &&
                        !now->systems[now->tanks[b->tank].system].quarantine && a->feeder == b->feeder &&
                        b->start_min > a->start_min;
            holds(!back, "no going back from quarantine");
        }
    for (size_t i = 0; i < r->n_pots; i++)
        for (size_t s = 0; s < now->f.n_systems; s++)
            holds(!now->systems[s].quarantine || !strstr(r->pots[i].systems, now->systems[s].name) ||
                      strcmp(r->pots[i].systems, now->systems[s].name) == 0,
                  "quarantine shares no pot");
}

static void lines_are_numbered(const struct round *r)
{
    for (size_t i = 0; i < r->n_lines; i++)
        holds(r->lines[i].number == (long)i + 1, "lines are numbered from 1");
    for (size_t i = 1; i < r->n_lines; i++) {
        const struct line *a = &r->lines[i - 1], *b = &r->lines[i];
        holds(a->feeder <= b->feeder, "a feeder's lines stand together");
        holds(a->feeder != b->feeder || a->start_min <= b->start_min, "a feeder's lines stand in the order of work");
    }
}

/* ---- two plans, one facility ------------------------------------------------------------------------------------- */

static void same_rows(enum reg_id id, const void *a, const void *b, size_t n_a, size_t n_b)
{
    const struct reg *reg = reg_get(id);
    struct cell left[FIELDS_MAX], right[FIELDS_MAX];
    struct arena scratch = {0};
    struct err e;
    holds(n_a == n_b, "two plans have as many rows");
    for (size_t i = 0; i < n_a; i++) {
        holds(row_read(reg, (const char *)a + i * reg->row_size, &now->f, left, &scratch, &e), "a row reads");
        holds(row_read(reg, (const char *)b + i * reg->row_size, &now->f, right, &scratch, &e), "a row reads");
        for (size_t k = 0; k < reg->n_fields; k++)
            holds(cell_same(&left[k], &right[k]), reg->fields[k].name);
    }
    arena_free(&scratch);
}

static void same_plan(const struct round *a, const struct round *b)
{
    same_rows(REG_ROUND, &a->head, &b->head, 1, 1);
    same_rows(REG_POT, a->pots, b->pots, a->n_pots, b->n_pots);
    same_rows(REG_POT_FOOD, a->pot_foods, b->pot_foods, a->n_pot_foods, b->n_pot_foods);
    same_rows(REG_LINE, a->lines, b->lines, a->n_lines, b->n_lines);
    same_rows(REG_WAITING, a->waitings, b->waitings, a->n_waitings, b->n_waitings);
    same_rows(REG_CAUTION, a->cautions, b->cautions, a->n_cautions, b->n_cautions);
}

static void every_round_keeps_every_guard(void **unused)
{
    static struct random_facility r;
    size_t fed = 0, starved = 0, waiting = 0;
    (void)unused;
    for (seed_now = 1; seed_now <= ROUNDS; seed_now++) {
        struct plan_request request;
        struct round round, again;
        const char *skip;
        struct err e;
        facility_random(&r, seed_now);
        now = &r;
        request_random(&r, &request, &skip);
        asked = &request;
        if (!plan_round(&r.f, &request, &round, &e))
            refuse(e.text, 0, 0, __FILE__, __LINE__);
        ceilings_hold(&round);
        foods_fit_mouths(&round);
        nobody_is_fed_who_must_not_be(&round);
        all_due_are_fed_or_named(&round);
        the_least_in_need_wait_for_a_ceiling(&round);
        obligate_portions_are_cut_last(&round);
        starved_water_is_not_stripped(&round);
        volumes_add_up(&round);
        lots_suffice(&round);
        orders_name_what_the_rows_leave(&round);
        amounts_carry_no_more_digits_than_their_step(&round);
        no_flow_is_off_too_long(&round);
        stops_have_time_for_their_corals(&round);
        hands_are_where_they_are_needed(&round);
        corals_wait_for_the_broadcast(&round);
        shared_water_is_broadcast_to_once(&round);
        quarantine_is_last(&round);
        lines_are_numbered(&round);
        if (seed_now % 8 == 0) {
            holds(plan_round(&r.f, &request, &again, &e), "the second plan is made");
            same_plan(&round, &again);
            round_free(&again);
        }
        for (size_t i = 0; i < round.n_lines; i++)
            fed += round.lines[i].action == ACTION_TARGET;
        for (size_t i = 0; i < r.f.n_systems; i++)
            starved += r.starved[i];
        waiting += round.n_waitings;
        round_free(&round);
    }
    assert_true(fed > ROUNDS * 2 && starved > ROUNDS / 4 && waiting > ROUNDS);
    assert_true(uncut_beside * 5 < beside_waiting);
    assert_true(switched_apart > ROUNDS / 20 && passes > ROUNDS / 4 && warned < passes / 20);
    assert_true(ceiling_waits > ROUNDS / 40 && cut_lines > ROUNDS / 20 && shared_steps > ROUNDS / 40 &&
                orders > ROUNDS); /* the guards were put to the test */
}

SUITE(plan_random)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_round_keeps_every_guard)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
