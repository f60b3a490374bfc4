/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the lead must know beside the lines: states, stock, what to prepare, what to order, and the usual care. */
#include "neap/advice.h"
#include "neap/capacity.h"
#include "neap/ledger.h"
#include "neap/stock.h"
#include "neap/working.h"

#include <string.h>

/* What is to be done about a latest reading that the line does not show. */
static const char *latest_means(const struct system_state *s, int analyte)
{
    return s->to_repeat[analyte]    ? ". Test again before it is believed."
           : s->cannot_see[analyte] ? ". That does not tell where in the band it is: use a finer test."
                                    : ". The reading before it agrees, so it is believed.";
}

static bool caution_states(struct working *w, const struct round *r, struct err *e)
{
    for (size_t i = 0; i < w->f->n_systems; i++) {
        const struct system_state *s = &w->states[i];
        if (!is_fed_today(r, w->f, i))
            continue;
        for (int a = 0; a < N_NUTRIENTS; a++)
            if (s->latest[a] && !caution_add(w, CAUTION_HEED, e, "%s: latest reading: %s%s", w->f->systems[i].name,
                                             s->latest[a], latest_means(s, a)))
                return false;
        if (s->factor_rule == 1 && !s->held)
            continue;
        if (s->held ? !caution_add(w, CAUTION_HEED, e, "%s: %.2f of house strength: %s; otherwise: %s.",
                                   w->f->systems[i].name, s->factor, s->held, s->rule)
                    : !caution_add(w, CAUTION_HEED, e, "%s: %s.", w->f->systems[i].name, s->rule))
            return false;
    }
    return true;
}

/* A colony that goes on refusing is not hungry less, it is unwell more often than not. */
static bool caution_responses(struct working *w, const struct round *r, struct err *e)
{
    size_t said = REF_NONE;
    for (size_t i = 0; i < r->n_lines; i++) {
        size_t colony = r->lines[i].colony;
        if (colony == REF_NONE || colony == said || !w->f->colonies[colony].look_close)
            continue;
        const struct colony *c = &w->f->colonies[colony];
        said = colony;
        if (!caution_add(
                w, CAUTION_HEED, e,
                "Look closely at %s in %s before it is fed: it %s. Pests, a bitten or gaping mouth, a neighbour too "
                "near, new light or flow? If so: hold it, dip or move it before more food.",
                c->code, w->f->tanks[c->tank].name, c->look))
            return false;
    }
    return true;
}

/* ---- stock ------------------------------------------------------------------------------------------------------- */

static bool caution_discard(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    char day[DAY_TEXT];
    for (size_t i = 0; i < f->n_lots; i++) {
        const struct lot *l = &f->lots[i];
        int last = lot_last_day(f, l);
        if (!lot_discard(f, l, w->request->day))
            continue;
        day_format(last, day);
        if (!caution_add(w, CAUTION_HEED, e, "Discard lot %s, %s: %s %s.", l->code, f->foods[l->food].name,
                         l->use_by == last ? "use-by was" : "kept open past", day))
            return false;
    }
    return true;
}

/* To the digit it is measured to. */
static double measured(const struct working *w, const struct food *food, double units)
{
    return round_near_to(units, food_step(&w->f->settings, food));
}

static bool caution_order(struct working *w, size_t food, const struct stock *left, struct err *e)
{
    const struct food *fd = &w->f->foods[food];
    int days = stock_window_d(w->f, w->request->day);
    const char *use = days == 1 ? "this day's use" : arena_format(w->a, "the use of the last %d days", days);
    if (!use)
        return err_memory(e);
    return caution_add(w, CAUTION_NEXT, e,
                       "Order %s, %ld pack%s: %.10g %s left after today, %.0f d at %s; delivery takes %g d.", fd->name,
                       left->order_packs, left->order_packs == 1 ? "" : "s", round_near_to(left->usable_units, 0.1),
                       food_unit_name(fd), floor(left->days_left + 1e-9), use, fd->lead_d);
}

/* A food of the house that is out; and what to order, by the rule of `stock`, once today's round is logged. */
static bool caution_stock(struct working *w, const struct round *r, struct err *e)
{
    double *drawn = arena_alloc(w->a, w->f->n_foods, sizeof *drawn);
    struct stock *left;
    if (!drawn)
        return err_memory(e);
    for (size_t i = 0; i < w->f->n_foods; i++)
        drawn[i] = round_food_units(r, i);
    if (!stock_state(w->f, w->request->day, drawn, w->a, &left, e))
        return false;
    for (size_t i = 0; i < w->f->n_foods; i++) {
        if (left[i].out && drawn[i] <= 0 &&
            !caution_add(w, CAUTION_HEED, e, "No usable %s in stock; the round does without it.", w->f->foods[i].name))
            return false;
        if (left[i].order_packs > 0 && !caution_order(w, i, &left[i], e))
            return false;
    }
    return true;
}

static bool uses_lot(const struct round *r, size_t lot)
{
    for (size_t i = 0; i < r->n_pot_foods; i++)
        if (r->pot_foods[i].lot == lot)
            return true;
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].lot == lot)
            return true;
    return false;
}

/* A rest in a lot that the round leaves there, though it takes the food from another. */
static bool caution_rests(struct working *w, const struct round *r, struct err *e)
{
    enum { FEW_STEPS = 10 };
    for (size_t i = 0; i < w->f->n_lots; i++) {
        const struct lot *l = &w->f->lots[i];
        const struct food *food = &w->f->foods[l->food];
        double step = food_step(&w->f->settings, food), left = lot_left(l);
        if (!lot_usable(w->f, l, w->request->day) || left >= FEW_STEPS * step || round_food_units(r, l->food) <= 0 ||
            uses_lot(r, i))
            continue;
        if (!caution_add(w, CAUTION_NEXT, e,
                         "Lot %s, %s: the %.10g %s left are too little to weigh out; write them off.", l->code,
                         food->name, amount_round(left), food_unit_name(food)))
            return false;
    }
    return true;
}

/* "Words: a, b, c."; nothing of an empty list. */
static bool caution_list(struct working *w, enum caution_part part, const char *words, const struct text *list,
                         struct err *e)
{
    return (list->len == 0 || caution_add(w, part, e, "%s: %s.", words, text_str(list))) &&
           (!list->failed || err_memory(e));
}

/* What is thawed, or fetched within two days. */
static bool is_fetched(const struct food *food)
{
    return food->form == FORM_FROZEN || food->lead_d <= 2;
}

static bool caution_prepare(struct working *w, const struct round *r, struct err *e)
{
    struct text next = {0};
    bool ok = true;
    for (size_t i = 0; ok && i < w->f->n_foods; i++) {
        const struct food *food = &w->f->foods[i];
        double units = round_food_units(r, i);
        if (units <= 0 || !*food->prepare)
            continue;
        ok = caution_add(w, CAUTION_BEFORE, e, "%s, %.10g %s: %s.", food->name, measured(w, food, units),
                         food_unit_name(food), food->prepare);
        if (is_fetched(food))
            text_addf(&next, "%s%.10g %s of %s", next.len > 0 ? ", " : "", measured(w, food, units),
                      food_unit_name(food), food->name);
    }
    ok = ok && caution_list(w, CAUTION_NEXT, "Have ready, if it is like this one", &next, e);
    text_free(&next);
    return ok;
}

static double seconds_of(const struct facility *f, const struct line *l)
{
    const struct kind *k = &f->kinds[f->colonies[l->colony].kind];
    return (double)l->count * (k->colony_s + (double)l->mouths * k->mouth_s);
}

/*
 * Read from the rows: has each stop the time that its lines take? Where a stop is too short for a single coral, it has
 * not.
 */
static bool caution_passes(struct working *w, const struct round *r, struct err *e)
{
    const struct facility *f = w->f;
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *first = &r->lines[i];
        double seconds = f->settings.tank_fixed_s, minutes = first->end_min - first->start_min;
        if (first->action != ACTION_TARGET ||
            (i > 0 && first[-1].action == ACTION_TARGET && first[-1].tank == first->tank))
            continue; /* two stops of a tank have its flow between them; one stop may be for two tanks */
        for (const struct line *l = first;
             l < r->lines + r->n_lines && l->action == ACTION_TARGET && l->tank == first->tank; l++)
            seconds += seconds_of(f, l);
        if (seconds > 60 * minutes + 1 && !caution_add_tank(w, first->tank, e,
                                                            "Stop %ld is too short: %.0f min of feed in %.0f min. Feed "
                                                            "on after the flow is on, or arrange a longer limit.",
                                                            first->pass, ceil(seconds / 60), minutes))
            return false;
    }
    return true;
}

/* What a ceiling takes from the corals of a water, so that all of them get something. */
static bool caution_cuts(struct working *w, const struct round *r, struct err *e)
{
    static const char *const names[N_SHARES] = {"broadcast", "portions of optional kinds", "portions",
                                                "portions of obligate feeders", "broadcast that corals live by"};
    for (size_t s = 0; s < w->f->n_systems; s++) {
        const struct ceiling_share *c = &w->shares[s];
        struct text t = {0};
        for (int i = 0; i < N_SHARES; i++)
            if (c->whole_frac[i] > 0 && c->cut_to_frac[i] < 1 - 1e-9)
                text_addf(&t, "%s%s at %.0f %%", t.len > 0 ? ", " : "", names[i], 100 * c->cut_to_frac[i]);
        bool ok = t.len == 0 || !is_fed_today(r, w->f, s) ||
                  caution_add(w, CAUTION_HEED, e, "%s: %s; its ceiling for the day allows no more.",
                              w->f->systems[s].name, text_str(&t));
        ok = ok && (!t.failed || err_memory(e));
        text_free(&t);
        if (!ok)
            return false;
    }
    return true;
}

/* Once for each water; the hands once for all. */
static bool caution_capacities(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    const struct capacity *hands = capacity_of_hands(w->capacities, f->n_systems);
    bool ok = true;
    for (size_t s = 0; ok && s < f->n_systems; s++) {
        const struct capacity *c = &w->capacities[s];
        struct text words = {0};
        if (!c->overfull || (c->by_hands && c != hands))
            continue;
        capacity_words(f, c, &words);
        ok = caution_add(w, CAUTION_HEED, e, "%s: %s.", c->by_hands ? "More corals than hands" : "Over today's ceiling",
                         text_str(&words)) &&
             (!words.failed || err_memory(e));
        text_free(&words);
    }
    return ok;
}

struct tests_due tests_due(const struct facility *f, size_t system, long now_min)
{
    struct tests_due due = {.system = system, .last_day = INT_MAX};
    const struct system_rows own = tests_of(f, system);
    for (int a = 0; a < N_NUTRIENTS; a++) {
        due.last[a] = DAY_NONE;
        for (size_t i = own.first; i < own.end; i++) {
            const struct test *t = &f->tests[i];
            if (t->analyte == a && t->taken <= now_min && moment_day(t->taken) > due.last[a])
                due.last[a] = moment_day(t->taken);
        }
        due.last_day = lesser(due.last_day, due.last[a]);
    }
    due.due_day =
        due.last_day == DAY_NONE ? DAY_NONE : due.last_day + (int)floor(f->systems[system].test_every_d + 1e-9);
    return due;
}

/* Those of one day stay as they come, by name. */
static void due_insert(struct tests_due *due, size_t n, struct tests_due next)
{
    for (; n > 0 && due[n - 1].due_day > next.due_day; n--) /* DAY_NONE is before any day */
        due[n] = due[n - 1];
    due[n] = next;
}

bool tests_due_all(const struct facility *f, long now_min, struct arena *a, struct tests_due **due, size_t *n,
                   struct err *e)
{
    *n = 0;
    *due = arena_alloc(a, f->n_systems, sizeof **due);
    if (!*due)
        return err_memory(e);
    for (size_t i = 0; i < f->n_systems; i++)
        if (!f->systems[i].retired)
            due_insert(*due, (*n)++, tests_due(f, i, now_min));
    return true;
}

static bool caution_switches(struct working *w, const struct round *r, struct err *e)
{
    for (size_t i = 0; i < r->n_switchings; i++) {
        const struct switching *s = &r->switchings[i];
        double limit_min;
        if (is_off_too_long(w->f, s, &limit_min) &&
            !caution_add(w, CAUTION_HEED, e,
                         "%s: %s would be off for %d min, %g min at most: turn it on for a while in between.",
                         w->f->systems[s->system].name, device_titles[s->device], s->on_min - s->off_min, limit_min))
            return false;
    }
    return true;
}

/* By night nothing that is fed makes oxygen. */
static bool caution_dark(struct working *w, const struct round *r, struct err *e)
{
    const struct facility *f = w->f;
    struct text names = {0};
    bool known;
    for (size_t t = 0; t < f->n_tanks; t++)
        for (size_t i = 0; i < r->n_lines; i++) {
            const struct line *l = &r->lines[i];
            if (l->tank != t || l->action != ACTION_FLOW_OFF ||
                off_limit_min(f, t, l->start_min) >= f->tanks[t].flow_off_limit_min ||
                (!is_dark(f, t, l->start_min, &known) &&
                 !is_dark(f, t, l->start_min + (int)f->tanks[t].flow_off_limit_min - 1, &known)))
                continue;
            text_addf(&names, "%s%s", names.len ? ", " : "", f->tanks[t].name);
            break;
        }
    bool ok = caution_list(
        w, CAUTION_HEED,
        "Flow off in the dark: corals use up oxygen and make none, so it comes on sooner. Watch the fish", &names, e);
    text_free(&names);
    return ok;
}

/* On the first page: a sample after the food went in is no guide. */
static bool caution_tests(struct working *w, struct err *e)
{
    struct text names = {0};
    long now_min = (w->request->day + 1) * MIN_PER_DAY - 1;
    bool first = w->round == REF_NONE || w->todays[0] == w->round;
    for (size_t i = 0; first && i < w->f->n_systems; i++)
        if (!w->f->systems[i].retired && tests_due(w->f, i, now_min).due_day <= w->request->day)
            text_addf(&names, "%s%s", names.len ? ", " : "", w->f->systems[i].name);
    bool ok = caution_list(w, CAUTION_HEED, "Tests due, before the first food goes in", &names, e);
    text_free(&names);
    return ok;
}

/* A round without lines: nobody is due, or there is nothing to feed them. */
static bool say_why_empty(struct working *w, struct err *e)
{
    long corals = 0;
    for (size_t i = 0; i < w->n_waitings; i++)
        if (strcmp(w->waitings[i].reason, NO_FOOD_FOR_IT) == 0)
            corals += w->f->colonies[w->waitings[i].colony].count;
    if (corals == 0)
        return caution_add(w, CAUTION_HEED, e, "No coral is due today.");
    return caution_add(w, CAUTION_HEED, e,
                       "%ld corals are due and get nothing: no food that they take can be used today. Look at what is "
                       "in stock, out of date or on order.",
                       corals);
}

bool working_cautions(struct working *w, const struct round *r, struct err *e)
{
    if (r->n_lines == 0 && !say_why_empty(w, e))
        return false;
    return working_safety(w, r, e) && working_watch(w, r, e) && caution_tests(w, e) && caution_switches(w, r, e) &&
           caution_dark(w, r, e) && caution_states(w, r, e) && caution_passes(w, r, e) && caution_responses(w, r, e) &&
           caution_cuts(w, r, e) && caution_capacities(w, e) && caution_discard(w, e) &&
           (r->n_lines == 0 || (caution_stock(w, r, e) && caution_rests(w, r, e) && caution_prepare(w, r, e)));
}
