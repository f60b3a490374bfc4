/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How long corals have been in quarantine, by the day they came and by the tally of moves. */
#include "neap/quarantine.h"

struct moving_in {
    const struct facility *f;
    int *since; /* [n_colonies] */
};

static bool is_quarantine(const struct facility *f, const struct cell *tank)
{
    size_t t = tank->kind == CELL_TEXT ? facility_find(f, REG_TANK, tank->text) : REF_NONE;
    return t != REF_NONE && f->systems[f->tanks[t].system].quarantine;
}

static bool take_move(void *context, const struct cell *cells, struct err *e)
{
    struct moving_in *in = context;
    const struct reg *r = reg_get(REG_TALLY);
    size_t colony = facility_find(in->f, REG_COLONY, cells[0].text);
    const struct cell *from = &cells[reg_field(r, "from_tank")];
    const struct cell *other = &cells[reg_field(r, "other")], *change = &cells[reg_field(r, "change")];
    size_t whole = other->kind == CELL_TEXT ? facility_find(in->f, REG_COLONY, other->text) : REF_NONE;
    long moment;
    (void)e;
    if (colony == REF_NONE || !is_quarantine(in->f, &cells[reg_field(r, "tank")]))
        return true;
    bool came = from->kind == CELL_TEXT && !is_quarantine(in->f, from);
    bool came_as_part = whole != REF_NONE && change->whole == 0 && /* of a lot that stayed elsewhere */
                        !in->f->systems[in->f->tanks[in->f->colonies[whole].tank].system].quarantine;
    if ((!came && !came_as_part) || !moment_parse(cells[reg_field(r, "changed")].text, &moment))
        return true;
    in->since[colony] = greater(in->since[colony], moment_day(moment));
    return true;
}

bool quarantine_since(struct store *s, const struct facility *f, struct arena *a, int **since, struct err *e)
{
    *since = arena_alloc(a, f->n_colonies, sizeof **since);
    if (!*since)
        return err_memory(e);
    for (size_t i = 0; i < f->n_colonies; i++)
        (*since)[i] = f->colonies[i].arrived;
    return store_each(s, reg_get(REG_TALLY), take_move, &(struct moving_in){f, *since}, e);
}

struct stay stay_of(const struct facility *f, size_t colony, int since, int today)
{
    const struct colony *c = &f->colonies[colony];
    const struct tank *t = &f->tanks[c->tank];
    struct stay stay = {.in_quarantine = f->systems[t->system].quarantine,
                        .since = since,
                        .days = (int)ceil(f->settings.quarantine_d),
                        .held = on_hold(t->hold_reason, t->hold_until, today)   ? t->hold_reason
                                : on_hold(c->hold_reason, c->hold_until, today) ? c->hold_reason
                                                                                : ""};
    stay.over = since != DAY_NONE && today - since >= stay.days && !*stay.held;
    return stay;
}

void stay_words(const struct stay *stay, int today, struct text *out)
{
    char since[DAY_TEXT];
    if (stay->since == DAY_NONE) {
        text_addf(out, "is in quarantine for %d days, and its first day was not written down", stay->days);
    } else {
        day_format(stay->since, since);
        text_addf(out, "has been in quarantine for %d of %d days, since %s", today - stay->since, stay->days, since);
    }
    if (*stay->held)
        text_addf(out, ", and is on hold: %s", stay->held);
}
