/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is taken from a lot, beside what it holds. */
#include "neap/drawing.h"
#include "neap/naming.h"
#include "neap/stock.h"

/* What the kept rounds of yesterday, today and later are still to take of it, by their plans. */
static double lot_claimed(const struct facility *f, size_t lot)
{
    double units = 0;
    for (size_t i = 0; i < f->n_day_claims; i++)
        if (f->day_claims[i].lot == lot)
            units += f->day_claims[i].units;
    return units;
}

bool lot_overdrawn(struct store *s, const struct lot *l, double *units, struct err *e)
{
    double used;
    if (!store_lot_used(s, l->code, &used, e))
        return false;
    *units = fmax(0, amount_round(used - l->amount_units));
    return true;
}

bool lot_row_holds(struct store *s, const struct cell *row, struct err *e)
{
    const struct reg *r = reg_get(REG_LOT);
    struct lot l = {.code = row[0].text, .amount_units = row[reg_field(r, "amount_units")].number};
    double over;
    return lot_overdrawn(s, &l, &over, e) &&
           (over <= 0 || err_set(e, ERR_INPUT, NULL,
                                 "amount_units: lot \"%s\" gave %.10g already; expected at least that, or a note that "
                                 "says why it gave more than it held",
                                 l.code, amount_round(l.amount_units + over)));
}

/* "the round of 2026-11-27, evening" */
static void add_rounds(const struct facility *f, size_t lot, struct text *out)
{
    char day[DAY_TEXT];
    for (size_t i = 0; i < f->n_day_claims; i++) {
        const struct day_claim *c = &f->day_claims[i];
        if (c->lot != lot)
            continue;
        day_format(c->day, day);
        text_addf(out, "%sthe round of %s%s%s", out->len > 0 ? " and " : "", day, *c->round ? ", " : "", c->round);
    }
}

static bool is_claimed(struct wasting *w, size_t lot, double units, struct err *e)
{
    const struct lot *l = &w->f->lots[lot];
    const char *unit = food_unit_name(&w->f->foods[l->food]);
    double claimed = amount_round(lot_claimed(w->f, lot)), free_units = fmax(0, amount_round(lot_left(l) - claimed));
    struct text rounds = {0};
    if (w->unmixed || units <= free_units + 1e-9)
        return false;
    add_rounds(w->f, lot, &rounds);
    w->claimed = true;
    err_set(e, ERR_INPUT, NULL,
            "--waste %s: %.10g %s; %.200s is still to take %.10g %s of it, and is not logged. If that is mixed, log it "
            "first, or waste at most %.10g (%s=rest). If none of it was mixed: --unmixed",
            l->code, units, unit, text_str(&rounds), claimed, unit, free_units, l->code);
    text_free(&rounds);
    return true;
}

static bool read_units(const struct wasting *w, size_t lot, const char *amount, double *units, struct err *e)
{
    const struct lot *l = &w->f->lots[lot];
    const struct food *food = &w->f->foods[l->food];
    double left = lot_left(l);
    struct err why;
    bool rest = strcmp(amount, "rest") == 0;
    if (rest)
        *units = amount_round(left - (w->unmixed ? 0 : lot_claimed(w->f, lot)));
    else if (!food_amount_read(food, amount, units, &why))
        return err_set(e, ERR_INPUT, NULL, "--waste %s: %s; or %s=rest", l->code, why.text, l->code);
    if (rest && *units <= 0 && left > 0)
        return err_set(
            e, ERR_INPUT, NULL,
            "--waste %s: nothing is left of it but what rounds are still to take; --unmixed, if they did not", l->code);
    if (left <= 0)
        return err_set(e, ERR_INPUT, NULL, "--waste %s: nothing is left of it", l->code);
    return (*units > 0 && *units <= amount_round(left) + 1e-9) ||
           err_set(e, ERR_INPUT, NULL, "--waste %s: %.10g %s; expected more than 0 and at most the %.10g that are left",
                   l->code, *units, food_unit_name(food), amount_round(left));
}

bool waste_put(struct wasting *w, const char *text, struct err *e)
{
    char code[NAME_BYTES_MAX + 1];
    const char *amount;
    double used, units;
    if (!split_assignment(text, code, &amount, e))
        return false;
    size_t lot = facility_named(w->f, REG_LOT, code);
    if (lot == REF_NONE)
        return row_unknown(w->f, REG_LOT, code, e);
    struct lot *l = &w->f->lots[lot];
    if (!store_lot_used(w->s, l->code, &used, e)) /* the snapshot does not know it of a retired one */
        return false;
    l->used_units = used;
    if (!read_units(w, lot, amount, &units, e) || is_claimed(w, lot, units, e))
        return false;
    /* what is printed of a rest is rounded, up as well */
    const struct waste row = {
        .lot = lot, .wasted = w->now, .reason = w->reason, .amount_units = fmin(units, lot_left(l))};
    if (!row_put_next(w->s, w->f, REG_WASTE, &row, e))
        return false;
    l->used_units += row.amount_units;
    const char *unit = food_unit_name(&w->f->foods[l->food]);
    text_addf(&w->told, "lot %s: %.10g %s thrown away (%s); %.10g %s left\n", l->code, row.amount_units, unit,
              w->reason, amount_round(lot_left(l)), unit);
    return true;
}
