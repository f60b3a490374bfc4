#include "neap/quarantine.h"

struct seeking {
    const struct facility *f;
    const char *code;
    int since;
};

static bool is_quarantine(const struct facility *f, const struct cell *tank)
{
    size_t t = tank->kind == CELL_TEXT ? facility_find(f, REG_TANK, tank->text) : REF_NONE;
    return t != REF_NONE && f->systems[f->tanks[t].system].quarantine;
}

static bool take_move(void *context, const struct cell *cells, struct err *e)
{
    struct seeking *in = context;
    const struct reg *r = reg_get(REG_TALLY);
    const struct cell *from = &cells[reg_field(r, "from_tank")];
    const struct cell *other = &cells[reg_field(r, "other")], *change = &cells[reg_field(r, "change")];
    size_t whole = other->kind == CELL_TEXT ? facility_find(in->f, REG_COLONY, other->text) : REF_NONE;
    long moment;
    (void)e;
    if (strcmp(cells[0].text, in->code) != 0 || !is_quarantine(in->f, &cells[reg_field(r, "tank")]))
        return true;
    bool came = from->kind == CELL_TEXT && !is_quarantine(in->f, from);
    bool came_as_part = whole != REF_NONE && change->whole == 0 && /* of a lot that stayed elsewhere */
                        !in->f->systems[in->f->tanks[in->f->colonies[whole].tank].system].quarantine;
    if ((!came && !came_as_part) || !moment_parse(cells[reg_field(r, "changed")].text, &moment))
        return true;
    in->since = greater(in->since, moment_day(moment));
    return true;
}

bool stay_of(struct store *s, const struct facility *f, size_t colony, int today, struct stay *stay, struct err *e)
{
    const struct colony *c = &f->colonies[colony];
    const struct tank *t = &f->tanks[c->tank];
    struct seeking in = {f, c->code, c->arrived};
    *stay = (struct stay){.in_quarantine = f->systems[f->tanks[c->tank].system].quarantine,
                          .days = (int)ceil(f->settings.quarantine_d),
                          .held = on_hold(t->hold_reason, t->hold_until, today)   ? t->hold_reason
                                  : on_hold(c->hold_reason, c->hold_until, today) ? c->hold_reason
                                                                                  : ""};
    if (!store_each(s, reg_get(REG_TALLY), take_move, &in, e))
        return false;
    stay->since = in.since;
    stay->over = in.since != DAY_NONE && today - in.since >= stay->days && !*stay->held;
    return true;
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
