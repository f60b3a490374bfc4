/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Why a line of the sheet says what it says; and why a colony is fed today, or is not. */
#include "neap/replan.h"
#include "neap/stock.h"
#include "neap/why.h"
#include "why/why.h"

/* NULL: not fed today. */
static const struct due *why_find_due(const struct working *w, size_t colony)
{
    for (size_t i = 0; i < w->n_dues; i++)
        if (w->dues[i].colony == colony)
            return &w->dues[i];
    return NULL;
}

static const char *day_words(struct why *y, int day)
{
    char text[DAY_TEXT];
    if (day == DAY_NONE)
        return "never";
    day_format(day, text);
    return why_format(y, "%s", text);
}

/* ---- due -------------------------------------------------------------------------------------------------------- */

static const char *waiting_reason(const struct why *y, size_t colony)
{
    for (size_t i = 0; i < y->r->n_waitings; i++)
        if (y->r->waitings[i].colony == colony)
            return y->r->waitings[i].reason;
    return NULL;
}

/* A colony that is neither fed nor named as waiting: what keeps it from the sheet. */
static const char *silent_reason(struct why *y, size_t colony, double since_d, double interval_d)
{
    const struct facility *f = y->w->f;
    const struct colony *c = &f->colonies[colony];
    const struct tank *t = &f->tanks[c->tank];
    if (c->retired)
        return "retired: sold, moved on or dead";
    if (f->kinds[c->kind].feeding == FEEDING_NONE)
        return "a weedy kind: never target-fed";
    if (f->kinds[c->kind].retired || t->retired || f->systems[t->system].retired)
        return "its kind, tank or system is retired";
    if (y->w->needs[c->tank].skipped)
        return "its tank is on hold or left out today";
    if (!isnan(since_d) && since_d < interval_d)
        return why_format(y, "not due: again in %s d", why_number_words(y, interval_d - since_d, ""));
    return y->w->needs[c->tank].broadcast ? "lives by the broadcast; no line of its own" : "nothing is due";
}

/* Why a colony is fed today, or is not: a step of its own. */
static void why_due(struct why *y, size_t colony)
{
    const struct facility *f = y->w->f;
    const struct colony *c = &f->colonies[colony];
    const struct kind *k = &f->kinds[c->kind];
    const struct settings *s = &f->settings;
    const char *waits = waiting_reason(y, colony);
    int day = y->w->request->day;
    double here_d = c->arrived == DAY_NONE ? (double)NAN : fmax(0, day - c->arrived);
    double since_d = c->last_fed == DAY_NONE ? (double)NAN : fmax(0, day - c->last_fed);
    bool half = here_d < s->arrival_half_d;
    double interval_d = k->interval_d * (half ? 2 : 1);

    why_step(y, "Due or not",
             "due when days since the last feed >= interval; obligate feeders first, then the longest overdue");
    why_words(y, "last fed", day_words(y, c->last_fed),
              c->last_fed != c->fed_before ? "log" : why_format(y, "colony %s, fed_before", c->code));
    if (!isnan(since_d))
        why_number(y, "days since", since_d, "d", "the round's day - last fed");
    why_number(y, "interval", k->interval_d, "d", origin_kind(y, c->kind));
    if (k->need == NEED_OBLIGATE)
        why_words(y, "need", "obligate: has no light to live by", origin_kind(y, c->kind));
    if (here_d < fmax(s->arrival_half_d, s->arrival_wait_d)) {
        why_number(y, "days here", here_d, "d", why_format(y, "colony %s, arrived", c->code));
        why_number(y, "none for the first", s->arrival_wait_d, "d", origin_setting(y, "arrival_wait_d"));
        why_number(y, "half feed for the first", s->arrival_half_d, "d", origin_setting(y, "arrival_half_d"));
    }
    if (half)
        why_number(y, "interval of a new arrival", interval_d, "d", "2 x interval");
    if (*c->look)
        why_words(y, "to be looked at", c->look, "log, answers 0-4");
    if (*c->hold_reason)
        why_words(y, "hold", c->hold_reason,
                  why_format(y, "colony %s, until %s", c->code,
                             c->hold_until == DAY_NONE ? "released" : day_words(y, c->hold_until)));
    if (waits)
        why_verdict(y, "waits", waits);
    else if (why_find_due(y->w, colony))
        why_verdict(y, "is fed",
                    isnan(since_d) ? "never fed before"
                                   : why_format(y, "%s intervals since the last feed",
                                                why_number_words(y, since_d / interval_d, "")));
    else
        why_verdict(y, "is not fed", silent_reason(y, colony, since_d, interval_d));
}

/* ---- target feed ------------------------------------------------------------------------------------------------ */

static void explain_mouths(struct why *y, const struct due *d)
{
    const struct facility *f = y->w->f;
    const struct colony *c = &f->colonies[d->colony];
    const struct kind *k = &f->kinds[c->kind];
    const char *of_kind = origin_kind(y, c->kind);
    if (k->feeding == FEEDING_CLOUD)
        return;
    why_step(y, "Mouths",
             k->mouth_rule == MOUTHS_FRACTION ? "share x heads, rounded up, within least and most"
             : k->mouth_rule == MOUTHS_ONE    ? "one of each colony: its mouths share what they catch"
                                              : "all heads, within least and most");
    why_number(y, "heads", (double)c->heads, "", origin_colony(y, d->colony));
    if (k->mouth_rule == MOUTHS_FRACTION)
        why_number(y, "share", k->mouth_frac, "", of_kind);
    why_number(y, "at least", (double)k->mouth_min, "", of_kind);
    if (k->mouth_max > 0)
        why_number(y, "at most", (double)k->mouth_max, "", of_kind);
    if (d->half)
        why_number(y, "halved, rounded up", (double)mouths_fed(k, c->heads), "", "new here");
    why_result(y, "mouths of each", (double)d->mouths, "");
}

static void explain_slurry(struct why *y, const struct due *d, const struct line *l)
{
    const struct facility *f = y->w->f;
    const struct colony *c = &f->colonies[d->colony];
    const struct kind *k = &f->kinds[c->kind];
    why_step(y, "Slurry", k->feeding == FEEDING_CLOUD ? "colonies x portion" : "colonies x mouths x portion");
    why_number(y, "colonies", (double)l->count, "",
               l->count == c->count ? origin_colony(y, d->colony)
                                    : why_format(y, "of %ld, as many as pass %ld has time for", c->count, l->pass));
    if (d->mouths > 0)
        why_number(y, "mouths of each", (double)l->mouths, "", "step above");
    why_number(y, k->feeding == FEEDING_CLOUD ? "portion per colony" : "portion per mouth", k->portion_ml, "mL",
               origin_kind(y, c->kind));
    if (c->portion_frac != 1)
        why_number(y, "of the portion", c->portion_frac, "", "learned: how it took its food in the last rounds");
    if (d->half)
        why_number(y, "of the portion, new here", 0.5, "", origin_setting(y, "arrival_half_d"));
    if (d->cut_frac < 1)
        why_number(y, "of the portion, today", d->cut_frac, "",
                   why_format(y, "ceiling of its water: neap why system %s", f->systems[d->system].name));
    why_result(y, "this line", l->amount, "mL");
}

/* ---- clock ------------------------------------------------------------------------------------------------------ */

/* The flow line of the tank's pump next to a minute: the last off not after it, the first on not before. */
static const struct line *flow_line(const struct why *y, size_t tank, enum action action, int minute)
{
    const struct line *found = NULL;
    for (size_t i = 0; i < y->r->n_lines; i++) {
        const struct line *l = &y->r->lines[i];
        if (l->action != (int)action || !share_pump(y->w->f, l->tank, tank))
            continue;
        bool off = action == ACTION_FLOW_OFF;
        if (off ? l->start_min <= minute && (!found || l->start_min > found->start_min)
                : l->start_min >= minute && (!found || l->start_min < found->start_min))
            found = l;
    }
    return found;
}

static const char *line_name(struct why *y, const struct line *l)
{
    return why_format(y, "line %ld", l->number);
}

/* Of the corals that are fed at a pump between two minutes: the line that ends last. */
static const struct line *last_coral(const struct why *y, size_t tank, int from, int to)
{
    const struct line *found = NULL;
    for (size_t i = 0; i < y->r->n_lines; i++) {
        const struct line *l = &y->r->lines[i];
        if (l->action != ACTION_TARGET || !share_pump(y->w->f, l->tank, tank) || l->start_min < from ||
            l->start_min > to)
            continue;
        if (!found || l->end_min > found->end_min)
            found = l;
    }
    return found;
}

static void explain_lag(struct why *y, const struct line *l)
{
    const struct line *broadcast = NULL;
    for (size_t i = 0; i < y->r->n_lines; i++)
        if (y->r->lines[i].action == ACTION_BROADCAST && y->r->lines[i].tank == l->tank)
            broadcast = &y->r->lines[i];
    if (!broadcast || l->pass > 1)
        return;
    why_clock(y, "broadcast ends", broadcast->end_min, line_name(y, broadcast));
    why_number(y, "first coral after at least", y->w->f->settings.lag_min_min, "min", origin_setting(y, "lag_min_min"));
    why_number(y, "and at most", y->w->f->settings.lag_max_min, "min", origin_setting(y, "lag_max_min"));
}

static void explain_flow(struct why *y, const struct line *l)
{
    const struct line *off = flow_line(y, l->tank, ACTION_FLOW_OFF, l->start_min);
    const struct line *on = off ? flow_line(y, l->tank, ACTION_FLOW_ON, off->start_min) : NULL;
    bool known;
    if (!on)
        return;
    const struct line *last = last_coral(y, l->tank, off->start_min, on->start_min);
    const struct facility *f = y->w->f;
    double limit_min = off_limit_min(f, l->tank, off->start_min), wanted_min = 0;
    for (size_t i = 0; i < y->w->n_dues; i++)
        if (y->w->dues[i].tank == l->tank)
            wanted_min = fmax(wanted_min, f->kinds[f->colonies[y->w->dues[i].colony].kind].flow_off_min);
    why_clock(y, "flow goes off", off->start_min, line_name(y, off));
    if (last)
        why_clock(y, "last coral of this pass", last->end_min, line_name(y, last));
    why_number(y, "rest at least", f->settings.rest_min, "min", origin_setting(y, "rest_min"));
    why_number(y, "off in all, wanted", fmin(wanted_min, limit_min), "min", "the kinds fed here, within the limit");
    why_clock(y, "switch it on", on->start_min, line_name(y, on));
    why_number(y, "the switch takes", on->end_min - on->start_min, "min", origin_setting(y, "switch_min"));
    why_clock(y, "the water runs", on->end_min, "");
    why_number(y, "off in all", on->end_min - off->start_min, "min", "switched off until the water runs");
    why_number(y, "at most", limit_min, "min",
               limit_min >= f->tanks[l->tank].flow_off_limit_min ? origin_tank(y, l->tank)
               : is_dark(f, l->tank, on->end_min, &known)        ? origin_setting(y, "dark_flow_off_frac")
                                                                 : "the strictest tank on its pump");
    why_clock(y, "must run by", flow_on_latest_min(f, y->r, on), "switched off + at most");
}

/* What goes into shared water is measured once: the parts of all its tanks. */
static void explain_shared(struct why *y, const struct line *l)
{
    const struct facility *f = y->w->f;
    double units = 0;
    if (!into_shared_water(l))
        return;
    for (size_t i = 0; i < y->r->n_lines; i++)
        if (same_broadcast(f, l, &y->r->lines[i]) && y->r->lines[i].food == l->food)
            units += y->r->lines[i].amount;
    why_words(y, "goes", l->note,
              why_format(y, "system %s: broadcast_once", f->systems[f->tanks[l->tank].system].name));
    why_number(y, "of this food in all", units, food_unit_name(&f->foods[l->food]), "the parts of its tanks");
}

static void explain_clock(struct why *y, const struct line *l)
{
    why_step(y, "Clock", "broadcast, wait, fish, flow off, corals, rest, flow on; least finish, then least walking");
    why_number(y, "feeder", (double)l->feeder, "", "the order of the round");
    if (l->action != ACTION_BROADCAST) {
        explain_lag(y, l);
        explain_flow(y, l);
    } else {
        explain_shared(y, l);
        why_number(y, "seconds for one food", y->w->f->settings.broadcast_s, "s", origin_setting(y, "broadcast_s"));
        why_words(y, "when", "so that a feeder is free for the corals in time", "the order of the round");
    }
    why_result(y, l->action == ACTION_FLOW_ON ? "switch it on" : "begins", l->start_min, "clock");
}

/* ---- broadcast and fish ----------------------------------------------------------------------------------------- */

/* A food that one lot does not hold enough of takes a line for each lot. */
static void explain_lots(struct why *y, const struct line *l, double whole)
{
    const char *lot = l->lot == REF_NONE ? "?" : y->w->f->lots[l->lot].code;
    const char *unit = food_unit_name(&y->w->f->foods[l->food]);
    if (fabs(whole - l->amount) > 1e-9)
        why_number(y, "of it from this lot", l->amount, unit,
                   why_format(y, "lot %s: first to expire, first used", lot));
    else
        why_words(y, "lot", lot, "first to expire, first used");
    why_result(y, "this line", l->amount, unit);
}

static bool explain_broadcast(struct why *y, const struct line *l, struct err *e)
{
    const struct working *w = y->w;
    const struct recipe_broadcast *b = NULL;
    const struct tank *t = &w->f->tanks[l->tank];
    const char *system = why_format(y, "system %s: neap why shows it", w->f->systems[t->system].name);
    for (size_t i = 0; i < w->recipe.n_broadcasts; i++)
        if (w->recipe.broadcasts[i].tank == l->tank && w->recipe.broadcasts[i].food == l->food)
            b = &w->recipe.broadcasts[i];
    why_step(y, "Broadcast",
             "rate x net volume / 100 x strength x part; cut by ceilings, room and stock; rounded down");
    why_number(y, "rate", w->f->foods[l->food].broadcast_units_per_100l, "mL/100 L", origin_food(y, l->food));
    why_number(y, "net volume", t->net_l, "L", origin_tank(y, l->tank));
    why_number(y, "strength of its water", w->states[t->system].factor, "", system);
    if (w->recipe_problem.tanks[l->tank].broadcast_frac < 1)
        why_number(y, "part that yields to no coral", w->recipe_problem.tanks[l->tank].broadcast_frac, "",
                   "ceiling of its water, same place");
    if (b) {
        why_number(y, "rate x volume x strength x part", b->house_ml, "mL", "");
        why_number(y, "the recipe's answer", b->exact, "mL",
                   b->exact < b->house_ml * (1 - 1e-6) ? "cut; limits below" : "not cut");
        why_number(y, "rounded down to", w->recipe_problem.foods[l->food].step, "mL",
                   origin_setting(y, "broadcast_step_ml"));
        why_number(y, "measured", b->amount, "mL", "");
    }
    explain_lots(y, l, b ? b->amount : l->amount);
    const struct limits_about about = {REF_NONE, l->tank, REF_NONE, l->food};
    return !b || b->exact >= b->house_ml * (1 - 1e-6) || why_limits(y, &about, e);
}

static void explain_fish(struct why *y, const struct line *l)
{
    const struct working *w = y->w;
    const struct food *food = &w->f->foods[l->food];
    const char *unit = food_unit_name(food);
    double others = w->shares[w->f->tanks[l->tank].system].others_frac;
    why_step(y, "Fish", "rate x net volume / 100, within ceiling and stock, rounded down");
    why_number(y, "rate", food->fish_units_per_100l, why_format(y, "%s/100 L", unit), origin_food(y, l->food));
    why_number(y, "net volume", w->f->tanks[l->tank].net_l, "L", origin_tank(y, l->tank));
    why_number(y, "ceiling", food->ceiling_units_per_100l, why_format(y, "%s/100 L", unit), origin_food(y, l->food));
    if (others > 0)
        why_number(y, "other rounds of the day", others, "", "of the ceiling; the fish get their part of the rest");
    why_number(y, "rounded down to", food_step(&w->f->settings, food), unit,
               origin_setting(y, food->unit == UNIT_G ? "scale_step_g" : "liquid_step_ml"));
    explain_lots(y, l, w->needs[l->tank].fish_units);
}

/* ---- the line --------------------------------------------------------------------------------------------------- */

static bool explain_target(struct why *y, const struct line *l, struct err *e)
{
    const struct due *d = why_find_due(y->w, l->colony);
    const struct colony *c = &y->w->f->colonies[l->colony];
    if (!d)
        return err_set(e, ERR_NOT_FOUND, NULL, "line %ld feeds %s, which is not due", l->number, c->code);
    y->x->title = why_format(y, "%s, %s, tank %s", c->code, *c->label ? c->label : y->w->f->kinds[c->kind].name,
                             y->w->f->tanks[l->tank].name);
    why_answer(
        y, l->amount, "mL",
        why_format(y, "%s from pot %s (neap why %s shows it)", why_number_words(y, l->amount, "mL"), l->pot, l->pot));
    why_due(y, l->colony);
    explain_mouths(y, d);
    explain_slurry(y, d, l);
    return true;
}

static bool explain_food(struct why *y, const struct line *l, struct err *e)
{
    const struct food *food = &y->w->f->foods[l->food];
    const char *unit = food_unit_name(food);
    bool fish = l->action == ACTION_FISH;
    y->x->title =
        why_format(y, "%s %s, tank %s", fish ? "fish:" : "broadcast", food->name, y->w->f->tanks[l->tank].name);
    why_answer(y, l->amount, unit, why_number_words(y, l->amount, unit));
    if (!fish)
        return explain_broadcast(y, l, e);
    explain_fish(y, l);
    return true;
}

bool why_line(struct why *y, const struct line *l, struct err *e)
{
    char clock[CLOCK_TEXT], runs[CLOCK_TEXT];
    bool ok = true;
    if (l->action == ACTION_TARGET) {
        ok = explain_target(y, l, e);
    } else if (l->food != REF_NONE) {
        ok = explain_food(y, l, e);
    } else {
        bool on = l->action == ACTION_FLOW_ON;
        clock_format(l->start_min, clock);
        clock_format(l->end_min, runs);
        y->x->title = why_format(y, "flow %s, tank %s", on ? "on" : "off", y->w->f->tanks[l->tank].name);
        why_answer(y, l->start_min, "clock",
                   on ? why_format(y, "%s: switch it on then; the water runs at %s", clock, runs)
                      : why_format(y, "%s", clock));
    }
    if (ok)
        explain_clock(y, l);
    return ok;
}

bool why_colony(struct why *y, size_t colony, struct err *e)
{
    const struct colony *c = &y->w->f->colonies[colony];
    const struct due *d = why_find_due(y->w, colony);
    const char *pot = "";
    double ml = 0;
    (void)e;
    y->x->title =
        why_format(y, "%s, tank %s", *c->label ? c->label : y->w->f->kinds[c->kind].name, y->w->f->tanks[c->tank].name);
    why_due(y, colony);
    if (!d) {
        const struct why_step *s = y->x->n_steps ? &y->x->steps[y->x->n_steps - 1] : NULL;
        why_answer(y, NAN, "", s && s->n_rows ? s->rows[s->n_rows - 1].words : "");
        return true;
    }
    explain_mouths(y, d);
    for (size_t i = 0; i < y->r->n_lines; i++)
        if (y->r->lines[i].action == ACTION_TARGET && y->r->lines[i].colony == colony) {
            explain_slurry(y, d, &y->r->lines[i]);
            ml += y->r->lines[i].amount;
            pot = y->r->lines[i].pot;
        }
    why_answer(y, ml, "mL", why_format(y, "%s from pot %s", why_number_words(y, ml, "mL"), pot));
    return true;
}
