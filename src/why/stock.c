/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is on the shelf of a food, how long it lasts and why so much is to be ordered. It needs no round. */
#include "neap/stock.h"
#include "neap/why.h"
#include "why/why.h"

static const char *lot_words(struct why *y, const struct lot *l, int day)
{
    char last[DAY_TEXT] = "no day known", opened[DAY_TEXT] = "not opened";
    if (lot_last_day(y->w->f, l) != INT_MAX)
        day_format(lot_last_day(y->w->f, l), last);
    if (l->opened != DAY_NONE)
        day_format(l->opened, opened);
    enum lot_state is = lot_state(y->w->f, l, day);
    const char *state = is == LOT_DISCARD  ? "; not counted: out of date"
                        : is == LOT_COMING ? "; not counted: still to come"
                                           : "";
    return why_format(y, "of %s, less what was drawn and thrown away; opened: %s; last day: %s%s",
                      why_number_words(y, l->amount_units, food_unit_name(&y->w->f->foods[l->food])), opened, last,
                      state);
}

static void explain_shelf(struct why *y, size_t food, int day, const struct stock *s)
{
    const struct facility *f = y->w->f;
    const char *unit = food_unit_name(&f->foods[food]), *of_food = why_format(y, "food %s", f->foods[food].name);
    why_step(y, "Left",
             "lots in date and received, summed; last day: use-by, or opened + life once opened, the earlier");
    why_number(y, "life once opened", f->foods[food].opened_life_d, "d", of_food);
    for (size_t i = 0; i < f->n_lots; i++)
        if (f->lots[i].food == food && !f->lots[i].retired)
            why_number(y, why_format(y, "lot %s", f->lots[i].code), amount_round(lot_left(&f->lots[i])), unit,
                       lot_words(y, &f->lots[i], day));
    why_result(y, "left", s->usable_units, unit);
}

static void explain_use(struct why *y, size_t food, int window_d, const struct stock *s)
{
    const char *unit = food_unit_name(&y->w->f->foods[food]);
    why_step(y, "A day, and days", "fed / days; the lots at that use, first to expire first used");
    why_number(y, "fed, with losses of pots", s->use_per_day * window_d, unit,
               "log; what was thrown away is not in it");
    why_number(y, "days", window_d, "d",
               window_d < STOCK_WINDOW_D ? "since the first logged round" : "the last four weeks");
    why_result(y, "a day", s->use_per_day, why_format(y, "%s/d", unit));
    if (isnan(s->days_left)) {
        why_verdict(y, "days", "not known: nothing of it was fed");
        return;
    }
    why_number(y, "goes out of date unused", s->expires_units, unit, "what a lot cannot give until its last day");
    why_result(y, "days", s->days_left, "d");
}

static void explain_order(struct why *y, size_t food, const struct stock *s)
{
    const struct food *fd = &y->w->f->foods[food];
    const char *of_food = why_format(y, "food %s", fd->name);
    why_step(y, "Order",
             "when it does not last for delivery and a reserve: packs for delivery and one to four weeks more");
    why_number(y, "delivery takes", fd->lead_d, "d", of_food);
    why_number(y, "reserve", STOCK_RESERVE_D, "d", "common practice, no source");
    why_number(y, "pack", fd->pack_units, food_unit_name(fd), of_food);
    if (fd->price_cents > 0)
        why_number(y, "price of a pack", (double)fd->price_cents / 100,
                   strcmp(y->w->f->settings.currency, "none") == 0 ? "" : y->w->f->settings.currency, of_food);
    why_result(y, "packs to order", (double)s->order_packs, "");
}

bool stock_explain(const struct facility *f, int day, size_t food, struct arena *a, struct explanation *x,
                   struct err *e)
{
    const struct working w = {.f = f};
    struct why y = {.w = &w, .a = a, .x = x};
    struct stock *foods;
    if (!stock_state(f, day, NULL, a, &foods, e))
        return false;
    const struct stock *s = &foods[food];
    const char *unit = food_unit_name(&f->foods[food]);
    *x = (struct explanation){.subject = why_format(&y, "stock %s", f->foods[food].name), .title = "on the shelf"};
    why_answer(&y, s->usable_units, unit, why_format(&y, "%s left", why_number_words(&y, s->usable_units, unit)));
    explain_shelf(&y, food, day, s);
    explain_use(&y, food, stock_window_d(f, day), s);
    explain_order(&y, food, s);
    return !y.failed || err_memory(e);
}
