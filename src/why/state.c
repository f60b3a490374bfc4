/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Why a system is fed as strong as it is; what its tests say; and a tank's volume. */
#include "neap/advice.h"
#include "neap/capacity.h"
#include "neap/learned.h"
#include "neap/ledger.h"
#include "neap/stock.h"
#include "neap/why.h"
#include "why/why.h"

enum { READINGS_SHOWN = 6 };

static const char *moment_words(struct why *y, long moment)
{
    char text[MOMENT_TEXT];
    moment_format(moment, text);
    return why_format(y, "%.10s", text);
}

/* ---- tests ------------------------------------------------------------------------------------------------------ */

/* The latest readings of the window, the oldest of them first. */
static void put_readings(struct why *y, size_t system, enum analyte a)
{
    const struct facility *f = y->w->f;
    long now = working_now(y->w);
    long from = now - (long)(f->settings.window_d * MIN_PER_DAY);
    size_t n = 0, skipped;
    const struct system_rows own = tests_of(f, system);
    for (size_t i = own.first; i < own.end; i++)
        n += f->tests[i].analyte == (int)a && f->tests[i].taken > from && f->tests[i].taken <= now;
    skipped = n > READINGS_SHOWN ? n - READINGS_SHOWN : 0;
    why_number(y, "tests looked back", f->settings.window_d, "d", origin_setting(y, "window_d"));
    if (skipped > 0)
        why_number(y, "earlier tests in it", (double)skipped, "", "neap trend shows them");
    n = 0;
    for (size_t i = own.first; i < own.end; i++) {
        const struct test *t = &f->tests[i];
        if (t->analyte != (int)a || t->taken <= from || t->taken > now || n++ < skipped)
            continue;
        const char *of = why_format(y, "test of %s%s%s", moment_words(y, t->taken), *t->method ? ", " : "", t->method);
        if (t->below)
            why_words(y, moment_words(y, t->taken),
                      why_format(y, "below %s", why_number_words(y, t->value, analytes[a].unit)), of);
        else
            why_number(y, moment_words(y, t->taken), t->value, analytes[a].unit, of);
    }
}

static void put_band(struct why *y, size_t system, enum analyte a)
{
    const struct facility *f = y->w->f;
    const char *origin = "default band; common practice, no source";
    double low, high;
    facility_band(f, system, a, &low, &high);
    for (size_t i = 0; i < f->n_bands; i++)
        if (f->bands[i].system == system && f->bands[i].analyte == (int)a)
            origin = why_format(y, "band of %s", f->systems[system].name);
    why_number(y, "band, low", low, analytes[a].unit, origin);
    why_number(y, "band, high", high, analytes[a].unit, origin);
}

static const char *method_words(const struct why *y, int method)
{
    const char *name = y->w->f->tests[method].method;
    return *name ? name : "the unnamed method";
}

static void explain_state(struct why *y, size_t system, enum analyte a)
{
    const struct state *s = &y->w->states[system].state[a];
    const char *per_day = why_format(y, "%s/d", analytes[a].unit);
    why_step(y, analytes[a].title,
             "robust line through the tests (Theil and Sen), water changes put back; Mann-Kendall p");
    put_readings(y, system, a);
    put_band(y, system, a);
    if (s->put_back > 0)
        why_number(y, "water changes put back", s->put_back, analytes[a].unit, "register water");
    if (s->method_changed)
        why_words(y, "method changed", moment_words(y, s->break_min),
                  why_format(y, "from %s; only tests by the one in use are fitted", method_words(y, s->method_before)));
    if (s->n_other > s->n_offset)
        why_number(y, "cross-checks in it", (double)(s->n_other - s->n_offset), "",
                   why_format(y, "not fitted: another scale than %s", method_words(y, s->method)));
    if (s->n_offset > 0) {
        why_number(y, "tests by another method", (double)s->n_offset, "", "fitted, less what sets it apart");
        why_number(y, "it reads more by", s->offset, analytes[a].unit,
                   why_format(y, "median of %zu pairs with %s", s->n_pairs, method_words(y, s->method)));
    }
    double step = s->has_last ? method_step(y->w->f, y->w->f->tests[s->method].method, a) : 0;
    if (step > 0)
        why_number(y, "readings in steps of", step, analytes[a].unit,
                   "register method; wider limits where coarser than a test's scatter");
    if (s->n_outliers > 0)
        why_number(y, "tests far off the line", (double)s->n_outliers, "", "kept; a robust line bears them");
    if (s->has_slope) {
        why_number(y, "slope", s->slope_per_d, per_day, why_format(y, "of %zu tests", s->n_fitted));
        why_number(y, "slope, low", s->slope_lo, per_day, "90 % limits");
        why_number(y, "slope, high", s->slope_hi, per_day, "90 % limits");
        why_number(y, "p", s->p, "", "chance of such a run without a trend");
    }
    if (s->has_last)
        why_number(y, "last test", s->last_age_d, "d ago",
                   s->stale ? why_format(y, "too old: more than %s", origin_setting(y, "stale_d"))
                            : origin_setting(y, "stale_d"));
    if (s->has_level)
        why_number(y, "level today", s->level, analytes[a].unit, "the line, today");
    why_verdict(y, "so it is",
                why_format(y, "%s, %s", level_verdict_name(s->level_verdict), state_verdict_name(s->verdict)));
}

/* ---- room ------------------------------------------------------------------------------------------------------- */

/* Where the log claims the other sign than is declared, neither the plan nor anybody should trust the number unseen. */
static void note_against(struct why *y, enum analyte a)
{
    const struct learned_effects *l = &y->w->effects;
    for (size_t i = 0; i < l->n_foods; i++) {
        const struct food_belief *b = &l->foods[a][i];
        if (b->against)
            why_note(
                y, why_format(y,
                              "%s: the log speaks against the declared %+.3g mg per unit (it has %+.3g, from %+.3g to "
                              "%+.3g): check the label, what was logged and the test kit. The plan counts %s.",
                              y->w->f->foods[i].name, b->declared, b->effect.mean, b->effect.lo, b->effect.hi,
                              b->declared < 0 ? "nothing either way" : "what is declared"));
    }
    if (l->misfit[a])
        why_note(y, why_format(
                        y,
                        "The waters' %s does what foods, uptake and tests do not explain, so nothing is learned of the "
                        "foods: effects are as declared.",
                        analytes[a].title));
}

static void put_may_add(struct why *y, const char *what, double mg, const char *origin)
{
    if (isinf(mg))
        why_words(y, what, "no limit", "by the state: it is not to be asked for");
    else
        why_number(y, what, mg, "mg", origin);
}

/* Which foods the water wants: the direction by the state alone, the size by the log once there is one. */
static void explain_foods(struct why *y, size_t system)
{
    const struct system_state *s = &y->w->states[system];
    const struct recipe_system *r = &y->w->recipe_problem.systems[system];
    struct habit habit = feeding_habit(y->w, system);
    why_step(y, "Foods", "by the state alone: poorer in what is above its band, richer in what is below it");
    for (int a = 0; a < N_NUTRIENTS; a++)
        if (s->direction[a] == 0)
            why_words(y, analytes[a].title, "as the house blend", level_verdict_name(s->level[a]));
        else
            why_number(y, why_format(y, "%s, %s", analytes[a].title, s->direction[a] < 0 ? "poorer by" : "richer by"),
                       fabs(r->shift_frac[a]), "",
                       why_format(y, "%s: beside the house blend of that strength", level_verdict_name(s->level[a])));
    if (s->po4_low)
        why_note(y, "No food that is said to lower phosphate goes in, neither by pot nor by broadcast.");
    why_verdict(y, "size",
                habit.n_days < 2 ? "by the state alone: the log is too short to say more"
                                 : why_format(y,
                                              "at least that; the whole round also by the room below, from "
                                              "%ld logged days",
                                              habit.n_days));
}

static void explain_room(struct why *y, size_t system, enum analyte a)
{
    const struct working *w = y->w;
    const struct headroom *h = &w->states[system].headroom[a];
    const struct recipe_system *r = &w->recipe_problem.systems[system];
    const struct recipe_balance *b = &w->recipe.balance[system];
    why_step(
        y, why_format(y, "room for %s", analytes[a].title),
        "(band edge - level - slope x days) x volume / rounds, at most a quarter of what a logged round added; + that; "
        "and within a quarter of the house blend as strong as the state allows");
    if (w->states[system].has_headroom[a]) {
        struct habit habit = feeding_habit(w, system);
        const struct system_state *s = &w->states[system];
        bool by_reading = !isnan(s->reading_mg_l[a]);
        why_number(y, "level today", h->in.level, "mg/L", by_reading ? "the last of two readings that agree" : "above");
        why_number(y, "slope", h->in.slope_per_d, "mg/L/d",
                   by_reading              ? "not gone by: the line is behind the readings"
                   : s->state[a].has_slope ? "above"
                                           : "none is known, so taken as 0");
        why_number(y, "days to the next test", h->in.days, "d",
                   why_format(y, "system %s, test_every_d", w->f->systems[system].name));
        why_number(y, "volume", h->in.volume_l, "L", "its tanks, net, and the sump");
        why_number(y, "level then, fed as before", h->projected, "mg/L", "level + slope x days");
        why_number(y, "room to the band's low edge", h->band_low_mg, "mg", "");
        why_number(y, "room to its high edge", h->band_high_mg, "mg", "");
        if (habit.n_days >= 2) {
            why_number(y, "rounds until then", habit_rounds(&habit, h->in.days), "", "as often as in the log");
            why_number(y, "a logged round added", habit.per_day[a], "mg",
                       why_format(y, "mean of %ld days of the log", habit.n_days));
            put_may_add(y, "this round may add, least", r->low_room_mg[a], "with effects less their sd");
            put_may_add(y, "and most", r->high_room_mg[a], "with effects and their sd");
        } else {
            why_note(y,
                     "Fewer than two logged rounds: there is nothing to differ from, so strength and foods follow the "
                     "state alone.");
        }
    } else {
        why_note(y, "No level is known, so no room is reckoned; strength and foods follow the state alone.");
    }
    why_number(y, "largest wanted change of a day", r->max_rise_mg[a], "mg",
               why_format(y, "%s %s; common practice, no source",
                          why_number_words(y, analytes[a].change_per_day_max, ""), analytes[a].unit));
    why_number(y, "this round adds, favourable", b->added_low_mg[a], "mg", "effects less their sd");
    why_number(y, "and unfavourable", b->added_high_mg[a], "mg", "effects and their sd");
    why_result(y, "this round adds", b->added_mg[a], "mg");
    note_against(y, a);
    if (b->passed_mg[a] != 0)
        why_note(y, why_format(y, "The room is passed by %s mg/L: no recipe of this strength keeps it.",
                               why_number_words(y, fabs(b->passed_mg_l[a]), "")));
}

/* ---- strength --------------------------------------------------------------------------------------------------- */

/* The latest readings may say something else than the line, and then they are the state. */
static const char *level_why(struct why *y, const struct system_state *s, int a)
{
    return s->by_readings[a] ? why_format(y, "%s by the latest tests", level_verdict_name(s->level[a]))
                             : level_verdict_name(s->level[a]);
}

static bool explain_factor(struct why *y, size_t system, struct err *e)
{
    const struct working *w = y->w;
    const struct system_state *s = &w->states[system];
    const struct settings *set = &w->f->settings;
    why_step(y, "Strength", "by the state of nitrate and phosphate, then the limits put on a rise");
    for (int a = 0; a < N_NUTRIENTS; a++)
        if (s->latest[a])
            why_note(y, why_format(y, "Latest reading: %s.", s->latest[a]));
    for (int a = 0; a < N_NUTRIENTS; a++)
        why_words(y, analytes[a].title, level_why(y, s, a), "the line and the latest readings together");
    why_number(y, "by the rule", s->factor_rule, "", s->rule);
    why_number(y, "least allowed, last 7 days", strength_before(w->f, system, w->request->day), "",
               "log, by state; 1 before the first");
    why_number(y, "rise a week at most", set->rise_frac_per_week, "", origin_setting(y, "rise_frac_per_week"));
    why_number(y, "strongest pot", set->full_frac, "", origin_setting(y, "full_frac"));
    why_number(y, "weakest pot", set->lean_frac, "", origin_setting(y, "lean_frac"));
    if (w->request->factor_max > 0)
        why_number(y, "asked for, at most", w->request->factor_max, "", "plan --strength");
    if (s->held)
        why_note(y, why_format(y, "Held: %s.", s->held));
    why_result(y, "of the house strength", s->factor, "");
    const struct limits_about about = {REF_NONE, REF_NONE, system, REF_NONE};
    return why_limits(y, &about, e);
}

/* ---- who gets what of the ceiling ------------------------------------------------------------------------------- */

static void explain_shares(struct why *y, size_t system)
{
    static const char *const names[N_SHARES] = {"broadcast", "optional kinds", "regular kinds", "obligate feeders",
                                                "broadcast that obligate kinds live by"};
    const struct working *w = y->w;
    const struct settings *s = &w->f->settings;
    const struct ceiling_share *c = &w->shares[system];
    double asked = ceiling_spoken_for(c);
    why_step(y, "The ceiling, shared out",
             "at the state's strength, at most the house's; cut from the top of the list until all fit");
    if (c->fish_frac > 0)
        why_number(y, "fish food", c->fish_frac, "", "never cut here");
    if (c->others_frac > 0)
        why_number(y, "other rounds of the day", c->others_frac, "", "given, or planned");
    for (int i = 0; i < N_SHARES; i++) {
        if (c->whole_frac[i] <= 0)
            continue;
        asked += c->whole_frac[i];
        why_number(y, names[i], c->whole_frac[i], "",
                   c->cut_to_frac[i] < 1 ? why_format(y, "cut to %.0f %%", 100 * c->cut_to_frac[i]) : "not cut");
    }
    if (c->later_frac > 0)
        why_number(y, "kept for later rounds", c->later_frac, "", "of this; not planned yet");
    why_number(y, "the broadcast may fall to", s->cue_frac, "", origin_setting(y, "cue_frac"));
    why_number(y, "portions may fall to", s->portion_least_frac, "", origin_setting(y, "portion_least_frac"));
    why_number(y, "and then the strength, to", s->thin_frac, "", origin_setting(y, "thin_frac"));
    why_result(y, "asked of the day's ceiling", asked, "");
}

/* ---- how often its corals can be fed ----------------------------------------------------------------------------- */

static void put_times(struct why *y, const struct capacity *c)
{
    if (c->obligate_times > 1)
        why_number(y, "obligate feeders wait, x their interval", c->obligate_times, "", "first in turn");
    if (isfinite(c->times))
        why_result(y, "each waits, x its interval", c->times, "");
    else
        why_verdict(y, "each waits", "for ever: nothing of the ceiling is left to them");
}

static bool explain_capacity(struct why *y, size_t system, struct err *e)
{
    const struct working *w = y->w;
    const struct capacity *c = &w->capacities[system];
    struct text words = {0}, help = {0};
    why_step(y, "How often", "asked of a round / its room; the most overdue go first, so all wait alike");
    why_number(y, "rounds a week", c->rounds_per_d * 7, "",
               c->by_log ? why_format(y, "log; %s", origin_setting(y, "window_d"))
                         : "too few in the log: as if one every day");
    if (c->fish_frac > 0)
        why_number(y, "ceiling, taken by fish food", c->fish_frac, "", "first fish food in stock");
    why_number(y, "room of a round", c->room_frac, "", "the rest of 1; the broadcast yields");
    for (size_t i = w->first_part[system]; i != REF_NONE; i = w->capacity_parts[i].next) {
        const struct capacity_part *p = &w->capacity_parts[i];
        double rounds = round_near_to(capacity_asked_d(p, c->rounds_per_d) * c->rounds_per_d, 1);
        why_number(y, w->f->kinds[p->kind].name, p->load_frac, "",
                   why_format(y, "all once, least portions, thinnest slurry; due every %g d: once in %.0f round%s",
                              p->interval_d, rounds, rounds == 1 ? "" : "s"));
    }
    why_number(y, "asked of a round", c->asked_frac, "", "each by the rounds it waits, summed");
    if (c->by_hands)
        why_number(y, "hands asked / there", c->hands_frac, "", origin_setting(y, "day_hands_min"));
    put_times(y, c);
    if (c->overfull) {
        capacity_words(w->f, c, &words);
        capacity_help(c, &help);
        why_note(y, why_format(y, "%s: %s.", c->by_hands ? "More corals than hands" : "Over the day's ceiling",
                               text_str(&words)));
        why_note(y, why_format(y, "What would help: %s.", text_str(&help)));
    }
    bool ok = (!words.failed && !help.failed) || err_memory(e);
    text_free(&words);
    text_free(&help);
    return ok;
}

bool why_system(struct why *y, size_t system, struct err *e)
{
    const struct system_state *s = &y->w->states[system];
    y->x->title = "one body of water";
    why_answer(
        y, s->factor, "",
        why_format(y, "%s of the house strength: %s", why_number_words(y, s->factor, ""), s->held ? s->held : s->rule));
    for (int a = 0; a < N_NUTRIENTS; a++)
        explain_state(y, system, (enum analyte)a);
    if (!explain_factor(y, system, e))
        return false;
    explain_foods(y, system);
    for (int a = 0; a < N_NUTRIENTS; a++)
        explain_room(y, system, (enum analyte)a);
    explain_shares(y, system);
    why_load(y, system);
    return explain_capacity(y, system, e);
}

/* ---- volume of a tank ------------------------------------------------------------------------------------------- */

static const char *const shape_formulas[N_SHAPES] = {
    [SHAPE_BOX] = "length x width x water / 1000",
    [SHAPE_CYLINDER] = "pi x diameter^2 / 4 x water / 1000",
    [SHAPE_HALF_CYLINDER] = "pi x diameter^2 / 8 x water / 1000",
    [SHAPE_QUARTER_CYLINDER] = "pi x side^2 / 4 x water / 1000",
    [SHAPE_BOW_FRONT] = "(length x width + circular segment of the bow) x water / 1000",
    [SHAPE_PRISM] = "sides x side^2 / (4 tan(pi / sides)) x water / 1000",
    [SHAPE_CUT_CORNER] = "(length x width - cut length x cut width / 2) x water / 1000",
    [SHAPE_STATED] = "as stated: already net of rock and sand",
};

static void explain_measures(struct why *y, size_t tank)
{
    const struct tank *t = &y->w->f->tanks[tank];
    const struct {
        const char *what, *unit;
        double value;
    } measures[] = {
        {"length", "cm", t->length_cm},
        {"width", "cm", t->width_cm},
        {"water", "cm", t->water_cm},
        {"diameter", "cm", t->diameter_cm},
        {"bow", "cm", t->bow_cm},
        {"side", "cm", t->side_cm},
        {"cut length", "cm", t->cut_length_cm},
        {"cut width", "cm", t->cut_width_cm},
        {"stated", "L", t->net_volume_l},
    };
    const char *of_tank = origin_tank(y, tank);
    why_step(y, "Volume", shape_formulas[t->shape]);
    why_words(y, "shape", tank_shape_name((enum tank_shape)t->shape), of_tank);
    for (size_t i = 0; i < COUNT_OF(measures); i++)
        if (!isnan(measures[i].value))
            why_number(y, measures[i].what, measures[i].value, measures[i].unit, of_tank);
    if (t->n_sides > 0)
        why_number(y, "sides", (double)t->n_sides, "", of_tank);
    why_result(y, "gross", t->gross_l, "L");
    why_step(y, "Net volume", "gross x (1 - displacement)");
    why_number(y, "gross", t->gross_l, "L", "above");
    why_number(y, "rock, sand and racks", t->shape == SHAPE_STATED ? 0 : t->displacement_frac, "", of_tank);
    why_result(y, "net", t->net_l, "L");
}

/* What the lines at the tank come to, by pot. */
static void explain_today(struct why *y, size_t tank)
{
    const struct round *r = y->r;
    if (!is_worked_in(r, tank))
        return;
    why_step(y, "At the tank", "its lines, summed by pot");
    for (size_t p = 0; p < r->n_pots; p++) {
        double ml = 0;
        for (size_t i = 0; i < r->n_lines; i++)
            if (r->lines[i].tank == tank && strcmp(r->lines[i].pot, r->pots[p].pot) == 0)
                ml += r->lines[i].amount;
        if (ml > 0)
            why_number(y, why_format(y, "pot %s", r->pots[p].pot), ml, "mL", "to the corals, without losses");
    }
}

bool why_tank(struct why *y, size_t tank, struct err *e)
{
    const struct working *w = y->w;
    const struct tank *t = &w->f->tanks[tank];
    y->x->title = why_format(y, "in system %s", w->f->systems[t->system].name);
    why_answer(y, t->net_l, "L", why_number_words(y, t->net_l, "L"));
    explain_measures(y, tank);
    explain_today(y, tank);
    if (w->needs[tank].skipped)
        why_note(y, "On hold or left out today: nothing is fed there.");
    why_note(y,
             why_format(y, "Its ceilings are those of its water: neap why system %s.", w->f->systems[t->system].name));
    const struct limits_about about = {REF_NONE, tank, REF_NONE, REF_NONE};
    return why_limits(y, &about, e);
}
