/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the lots hold: which is used first, how long it lasts, what to order and what to discard. */
#include "neap/stock.h"
#include "neap/working.h"

double lot_left(const struct lot *l)
{
    double left = l->amount_units - l->used_units;
    return fabs(amount_round(left)) > 0 ? left : 0;
}

int lot_last_day(const struct facility *f, const struct lot *l)
{
    int last = l->use_by == DAY_NONE ? INT_MAX : l->use_by;
    if (l->opened != DAY_NONE) {
        int opened_last = l->opened + (int)f->foods[l->food].opened_life_d;
        last = opened_last < last ? opened_last : last;
    }
    return last;
}

bool lot_usable(const struct facility *f, const struct lot *l, int day)
{
    return !l->retired && !f->foods[l->food].retired && (l->received == DAY_NONE || l->received <= day) &&
           lot_last_day(f, l) >= day && lot_left(l) > 0;
}

double lot_measurable(const struct facility *f, const struct lot *l, int day)
{
    return lot_usable(f, l, day) ? round_down_to(lot_left(l), food_step(&f->settings, &f->foods[l->food])) : 0;
}

bool lot_discard(const struct facility *f, const struct lot *l, int day)
{
    return !l->retired && lot_last_day(f, l) < day && lot_left(l) > 0;
}

enum lot_state lot_state(const struct facility *f, const struct lot *l, int day)
{
    return lot_discard(f, l, day)                         ? LOT_DISCARD
           : lot_left(l) < 0                              ? LOT_OVERDRAWN
           : lot_left(l) <= 0                             ? LOT_USED_UP
           : l->received != DAY_NONE && l->received > day ? LOT_COMING
                                                          : LOT_KEEPS;
}

int lot_expiry_order(const struct facility *f, size_t a, size_t b)
{
    int day_a = lot_last_day(f, &f->lots[a]), day_b = lot_last_day(f, &f->lots[b]);
    if (day_a != day_b)
        return day_a < day_b ? -1 : 1;
    bool open_a = f->lots[a].opened != DAY_NONE, open_b = f->lots[b].opened != DAY_NONE;
    if (open_a != open_b)
        return open_a ? -1 : 1;
    return (a > b) - (a < b);
}

size_t stock_first_lot(const struct facility *f, size_t food, int day, double *left_units)
{
    size_t first = REF_NONE;
    for (size_t i = 0; i < f->n_lots; i++)
        if (f->lots[i].food == food && lot_usable(f, &f->lots[i], day) &&
            (first == REF_NONE || lot_expiry_order(f, i, first) < 0))
            first = i;
    *left_units = first == REF_NONE ? 0 : lot_left(&f->lots[first]);
    return first;
}

/* A log that began lately is spread over the days it has. */
int stock_window_d(const struct facility *f, int day)
{
    int first = day;
    for (size_t i = 0; i < f->n_draws; i++)
        if (f->draws[i].fed_units > 0 && f->draws[i].day < first)
            first = f->draws[i].day;
    int days = day - first + 1;
    return days < STOCK_WINDOW_D ? days : STOCK_WINDOW_D;
}

static bool is_within(int day, int last, int window_d)
{
    return day > last - window_d && day <= last;
}

static bool is_wanted(const struct food *food)
{
    return !food->retired && (food->blend_share_frac > 0 || food->broadcast_units_per_100l > 0 ||
                              food->blend_ml_per_100ml > 0 || food->fish_units_per_100l > 0);
}

/*
 * Uses the lots up day by day at the rate of the window, first to expire first; what a lot cannot give in time expires.
 * drawn: what today's round takes beforehand.
 */
static void use_up(const struct facility *f, size_t food, int day, double drawn, struct stock *s)
{
    int after = INT_MIN;
    double t = 0;
    for (;;) { /* the lots by their last day; those of one day together */
        int next = INT_MAX;
        double left = 0;
        bool any = false;
        for (size_t i = 0; i < f->n_lots; i++) {
            const struct lot *l = &f->lots[i];
            int last = lot_last_day(f, l);
            if (l->food != food || !lot_usable(f, l, day) || last <= after || (any && last > next))
                continue;
            left = last < next || !any ? 0 : left;
            left += lot_left(l);
            next = last;
            any = true;
        }
        if (!any)
            break;
        double first = fmin(left, drawn);
        drawn -= first;
        left -= first;
        double days = next == INT_MAX ? (double)INFINITY : next - day + 1 - t;
        double used = fmin(left, s->use_per_day * fmax(0, days));
        t += used / s->use_per_day;
        s->expires_units += left - used;
        if (next == INT_MAX)
            break;
        after = next;
    }
    s->days_left = t;
}

enum { COVER_LEAST_D = 7 };

/*
 * Order when the stock does not last for delivery and a reserve; enough for as long as the log is, from one to four
 * weeks, or for what keeps once opened: a day's log is no ground for a month's order.
 */
static long packs_to_order(const struct food *food, const struct stock *s, int window_d)
{
    double cover_d = fmax(COVER_LEAST_D, fmin(window_d, food->opened_life_d));
    if (food->retired || isnan(s->days_left) || s->days_left >= food->lead_d + STOCK_RESERVE_D)
        return 0;
    double wanted = s->use_per_day * (food->lead_d + cover_d - s->days_left);
    return (long)fmax(1, ceil(wanted / food->pack_units - 1e-9));
}

bool stock_state(const struct facility *f, int day, const double *planned, struct arena *a, struct stock **foods,
                 struct err *e)
{
    int window_d = stock_window_d(f, day);
    *foods = arena_alloc(a, f->n_foods, sizeof **foods);
    if (!*foods)
        return err_memory(e);
    for (size_t i = 0; i < f->n_lots; i++)
        if (lot_usable(f, &f->lots[i], day))
            (*foods)[f->lots[i].food].usable_units += lot_left(&f->lots[i]);
    for (size_t i = 0; i < f->n_draws; i++)
        if (is_within(f->draws[i].day, day, window_d))
            (*foods)[f->lots[f->draws[i].lot].food].use_per_day += f->draws[i].fed_units / window_d;
    for (size_t i = 0; i < f->n_foods; i++) {
        struct stock *s = &(*foods)[i];
        double drawn = planned ? fmin(planned[i], s->usable_units) : 0;
        s->days_left = NAN;
        s->usable_units -= drawn;
        s->use_per_day += drawn / window_d;
        if (s->use_per_day > 0)
            use_up(f, i, day, drawn, s);
        s->expires = window_d >= STOCK_EXPIRY_WINDOW_D && s->expires_units >= 0.5 * f->foods[i].pack_units;
        s->order_packs = packs_to_order(&f->foods[i], s, window_d);
        s->out = is_wanted(&f->foods[i]) && s->usable_units <= 1e-9;
    }
    return true;
}

/* ---- money ------------------------------------------------------------------------------------------------------ */

static struct day_cost *cost_of(struct day_cost *days, size_t *n, int day)
{
    for (size_t i = 0; i < *n; i++)
        if (days[i].day == day)
            return &days[i];
    days[*n].day = day;
    return &days[(*n)++];
}

static int by_day(const void *left, const void *right)
{
    const struct day_cost *a = left, *b = right;
    return (a->day > b->day) - (a->day < b->day);
}

bool stock_day_costs(const struct facility *f, int day, struct arena *a, struct day_cost **days, size_t *n,
                     struct err *e)
{
    const int window_d = stock_window_d(f, day);
    *n = 0;
    *days = arena_alloc(a, STOCK_WINDOW_D, sizeof **days);
    if (!*days)
        return err_memory(e);
    for (size_t i = 0; i < f->n_draws; i++) {
        const struct draw *w = &f->draws[i];
        if (is_within(w->day, day, window_d) && w->fed_units > 0)
            cost_of(*days, n, w->day)->drawn_cents += w->fed_units * lot_unit_cents(f, f->lots[w->lot].food, w->lot);
    }
    for (size_t i = 0; i < f->n_feds; i++)
        if (is_within(f->feds[i].day, day, window_d))
            cost_of(*days, n, f->feds[i].day)->given_cents += (double)f->feds[i].cost_cents;
    for (size_t i = 0; i < *n; i++) /* what no lot had is paid for too, and shares are whole cents */
        (*days)[i].drawn_cents = fmax((*days)[i].drawn_cents, (*days)[i].given_cents);
    qsort(*days, *n, sizeof **days, by_day);
    return true;
}

double stock_given_cents(const struct facility *f, size_t system, int day)
{
    const int window_d = stock_window_d(f, day);
    double cents = 0;
    for (size_t i = 0; i < f->n_feds; i++)
        if (f->feds[i].system == system && is_within(f->feds[i].day, day, window_d))
            cents += (double)f->feds[i].cost_cents;
    return cents;
}
