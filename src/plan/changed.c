/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What no longer holds of a kept round: it was right when it was planned, and the facility went on. */
#include "neap/changed.h"
#include "neap/advice.h"
#include "neap/stock.h"
#include "neap/working.h"

#include <math.h>
#include <string.h>

struct change_search {
    const struct facility *f;
    const struct round *r;
    const bool *done;
    struct arena *a;
    struct round_changes *out;
    size_t room;
};

static bool add_change(struct change_search *z, const char *text, struct err *e)
{
    if (z->out->n == z->room) {
        size_t room = z->room ? 2 * z->room : 16;
        const char **more = arena_alloc(z->a, room, sizeof *more);
        if (!more)
            return err_memory(e);
        if (z->out->n > 0)
            memcpy(more, z->out->texts, z->out->n * sizeof *more);
        z->out->texts = more;
        z->room = room;
    }
    z->out->texts[z->out->n++] = text;
    return text ? true : err_memory(e);
}

static bool is_open(const struct change_search *z, size_t line)
{
    return !z->done || !z->done[line];
}

static bool is_flow(const struct line *l)
{
    return l->action == ACTION_FLOW_OFF || l->action == ACTION_FLOW_ON;
}

/* ---- lines that nobody is to do any more ------------------------------------------------------------------------- */

static const char *gone_tank(const struct change_search *z, const struct tank *t)
{
    char until[HOLD_UNTIL_TEXT];
    if (t->retired)
        return "no longer in use";
    if (!on_hold(t->hold_reason, t->hold_until, z->r->head.day))
        return NULL;
    hold_until_text(t->hold_until, until);
    return arena_format(z->a, "on hold, %s: %.120s", until, t->hold_reason);
}

static const char *gone_colony(const struct change_search *z, const struct colony *c, size_t tank)
{
    char until[HOLD_UNTIL_TEXT];
    if (c->retired || c->count == 0)
        return "none left";
    if (c->tank != tank)
        return arena_format(z->a, "now in tank %s", z->f->tanks[c->tank].name);
    if (!on_hold(c->hold_reason, c->hold_until, z->r->head.day))
        return NULL;
    hold_until_text(c->hold_until, until);
    return arena_format(z->a, "on hold, %s: %.120s", until, c->hold_reason);
}

/* The flow of a tank is left alone where it is off already, or where it stands still for somebody who is fed. */
static bool flow_is_wanted(const struct change_search *z, size_t tank)
{
    bool off = false;
    for (size_t i = 0; i < z->r->n_lines; i++) {
        const struct line *l = &z->r->lines[i];
        if (!share_pump(z->f, l->tank, tank))
            continue;
        if (is_flow(l) && !is_open(z, i))
            off = l->action == ACTION_FLOW_OFF;
        if (l->action == ACTION_TARGET && is_open(z, i) && !z->out->off[i])
            return true;
    }
    return off;
}

/* All the open lines of a tank but those of its flow, which other tanks may need. */
static bool tank_is_off(struct change_search *z, size_t tank, const char *why)
{
    bool any = false;
    for (size_t i = 0; i < z->r->n_lines; i++)
        if (z->r->lines[i].tank == tank && is_open(z, i)) {
            any = true;
            if (!is_flow(&z->r->lines[i]))
                z->out->off[i] = why;
        }
    return any;
}

static bool compare_tanks(struct change_search *z, struct err *e)
{
    for (size_t t = 0; t < z->f->n_tanks; t++) {
        const char *why = gone_tank(z, &z->f->tanks[t]);
        if (why && tank_is_off(z, t, why) &&
            !add_change(z, arena_format(z->a, "Tank %s is %s. Do none of its lines.", z->f->tanks[t].name, why), e))
            return false;
    }
    return true;
}

static bool compare_colonies(struct change_search *z, struct err *e)
{
    for (size_t i = 0; i < z->r->n_lines; i++) {
        const struct line *l = &z->r->lines[i];
        if (l->action != ACTION_TARGET || !is_open(z, i) || z->out->off[i])
            continue;
        const struct colony *c = &z->f->colonies[l->colony];
        const char *why = gone_colony(z, c, l->tank);
        if (why) {
            z->out->off[i] = why;
            if (!add_change(z, arena_format(z->a, "Line %ld, %s: %s. Leave it out.", l->number, c->code, why), e))
                return false;
        } else if (c->count < l->count &&
                   !add_change(z,
                               arena_format(z->a, "Line %ld, %s: %ld left of %ld; give %.1f mL instead of %.1f.",
                                            l->number, c->code, c->count, l->count,
                                            l->amount * (double)c->count / (double)l->count, l->amount),
                               e)) {
            return false;
        }
    }
    return true;
}

/* Flow lines go with the corals they were for. */
static void drop_idle_flows(struct change_search *z)
{
    for (size_t i = 0; i < z->r->n_lines; i++) {
        const struct line *l = &z->r->lines[i];
        if (!is_flow(l) || !is_open(z, i) || flow_is_wanted(z, l->tank))
            continue;
        for (size_t k = 0; k < z->r->n_lines && !z->out->off[i]; k++)
            if (z->out->off[k] && !is_flow(&z->r->lines[k]) && share_pump(z->f, z->r->lines[k].tank, l->tank))
                z->out->off[i] = z->out->off[k];
    }
}

/* ---- what goes into them ----------------------------------------------------------------------------------------- */

/* What the round is still to take of it: pots that nothing was given of, and broadcasts. */
static double still_wanted(const struct change_search *z, size_t lot)
{
    double units = 0;
    for (size_t i = 0; i < z->f->n_day_claims; i++) {
        const struct day_claim *c = &z->f->day_claims[i];
        if (c->lot == lot && c->day == z->r->head.day && strcmp(c->round, z->r->head.name) == 0)
            units += c->units;
    }
    return units;
}

/*
 * begun: the lot's rest is a matter of the log, and an empty one was emptied by the round, unless more is wanted of it.
 */
static const char *lot_trouble(const struct change_search *z, size_t lot, bool begun)
{
    const struct lot *l = &z->f->lots[lot];
    double wanted = still_wanted(z, lot), left = lot_left(l);
    bool lacks = wanted > left + 1e-6;
    if (l->retired)
        return "used up, discarded or recalled. Do not use it.";
    if (z->f->foods[l->food].retired)
        return "of a food that is no longer in use. Do not use it.";
    if (!begun && lot_discard(z->f, l, z->r->head.day))
        return "out of date. Do not use it.";
    if (lacks && left > 0)
        return arena_format(z->a, "%.10g %s left of the %.10g that are wanted.", amount_round(left),
                            food_unit_name(&z->f->foods[l->food]), amount_round(wanted));
    if (lacks || (!begun && left <= 0))
        return "empty. Do not use it.";
    return lot_usable(z->f, l, z->r->head.day) || begun
               ? NULL
               : "entered as received after the round's day. Look whether it is there.";
}

static bool pot_is_asked(const struct change_search *z, const char *pot)
{
    for (size_t i = 0; i < z->r->n_lines; i++)
        if (is_open(z, i) && !z->out->off[i] && strcmp(z->r->lines[i].pot, pot) == 0)
            return true;
    return false;
}

static bool lot_is_asked(const struct change_search *z, size_t lot)
{
    for (size_t i = 0; i < z->r->n_pot_foods; i++)
        if (z->r->pot_foods[i].lot == lot && pot_is_asked(z, z->r->pot_foods[i].pot))
            return true;
    for (size_t i = 0; i < z->r->n_lines; i++)
        if (z->r->lines[i].lot == lot && is_open(z, i) && !z->out->off[i])
            return true;
    return false;
}

static bool any_done(const struct change_search *z)
{
    for (size_t i = 0; i < z->r->n_lines; i++)
        if (!is_open(z, i))
            return true;
    return false;
}

static bool compare_lots(struct change_search *z, struct err *e)
{
    bool begun = any_done(z);
    for (size_t i = 0; i < z->f->n_lots; i++) {
        const struct lot *l = &z->f->lots[i];
        const char *why = lot_is_asked(z, i) ? lot_trouble(z, i, begun) : NULL;
        if (why && !add_change(z, arena_format(z->a, "Lot %s, %s: %s", l->code, z->f->foods[l->food].name, why), e))
            return false;
    }
    return true;
}

static bool pot_feeds(const struct change_search *z, const struct pot *p, size_t system)
{
    for (size_t i = 0; i < z->r->n_lines; i++) {
        const struct line *l = &z->r->lines[i];
        if (l->action == ACTION_TARGET && is_open(z, i) && !z->out->off[i] && strcmp(l->pot, p->pot) == 0 &&
            z->f->tanks[l->tank].system == system)
            return true;
    }
    return false;
}

/* A pot was never stronger than each of its waters allowed; one that is now was outdone by a newer test. */
static bool compare_strengths(struct change_search *z, long now_min, struct err *e)
{
    const struct advice_in in = {.now_min = now_min};
    struct system_state state;
    for (size_t s = 0; s < z->f->n_systems; s++) {
        if (z->f->systems[s].retired)
            continue;
        if (!plan_advice(z->f, s, &in, z->a, &state, e))
            return false;
        for (size_t i = 0; i < z->r->n_pots; i++) {
            const struct pot *p = &z->r->pots[i];
            if (p->factor > state.factor + 0.01 && pot_feeds(z, p, s) &&
                !add_change(z,
                            arena_format(z->a,
                                         "Pot %s holds %.2f of house strength; the tests of %s now allow %.2f: %s.",
                                         p->pot, p->factor, z->f->systems[s].name, state.factor,
                                         state.held ? state.held : state.rule),
                            e))
                return false;
        }
    }
    return true;
}

bool round_changed(const struct facility *f, const struct round *r, const bool *done, long now_min, struct arena *a,
                   struct round_changes *out, struct err *e)
{
    struct change_search z = {.f = f, .r = r, .done = done, .a = a, .out = out};
    *out = (struct round_changes){.off = arena_alloc(a, r->n_lines, sizeof(const char *))};
    if (!out->off)
        return err_memory(e);
    if (!compare_tanks(&z, e) || !compare_colonies(&z, e))
        return false;
    drop_idle_flows(&z);
    return compare_lots(&z, e) && compare_strengths(&z, now_min, e);
}

void round_leave_out(const struct facility *f, const struct round *r, size_t tank, const char *why, const bool *done,
                     struct round_changes *out)
{
    struct change_search z = {.f = f, .r = r, .done = done, .out = out};
    tank_is_off(&z, tank, why);
    drop_idle_flows(&z);
}
