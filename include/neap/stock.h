/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * stock: what is on the shelf, how long it lasts, what to order. Rules: docs/round.md, "Stock".
 */
#ifndef NEAP_STOCK_H
#define NEAP_STOCK_H

#include "neap/facility.h"

double lot_left(const struct lot *l); /* in the food's unit; what amount_round makes nothing is nothing */

/* The lot of a food that must be used first on a day, and what is left in it; REF_NONE: none can be used. */
size_t stock_first_lot(const struct facility *f, size_t food, int day, double *left_units);

int lot_last_day(const struct facility *f,
                 const struct lot *l); /* use-by or opened + life; INT_MAX where neither is known */
bool lot_usable(const struct facility *f, const struct lot *l,
                int day); /* in stock, received, in date, something left */
double lot_measurable(const struct facility *f, const struct lot *l,
                      int day);                                           /* the usable part, on its measure's step */
bool lot_discard(const struct facility *f, const struct lot *l, int day); /* out of date with something left */

enum lot_state { LOT_KEEPS, LOT_DISCARD, LOT_OVERDRAWN /* more was taken than it held */, LOT_USED_UP, LOT_COMING };
enum lot_state lot_state(const struct facility *f, const struct lot *l, int day);

/*
 * How far back use is looked at, the reserve below which to order, and the least log by which to say that food will
 * expire.
 */
enum { STOCK_WINDOW_D = 28, STOCK_RESERVE_D = 7, STOCK_EXPIRY_WINDOW_D = 14 };

/* A food on the shelf. Rules: docs/round.md, "Stock". */
struct stock {
    double usable_units;
    double use_per_day;   /* of the window, losses of the pot in it, waste not */
    double days_left;     /* at that use, first to expire first; NAN: it is not used */
    double expires_units; /* of the usable, what goes out of date unused at that use */
    /* half a pack or more of that, by a log that is long enough to know the use: common practice, no source */
    bool expires;
    long order_packs; /* 0: nothing to order */
    bool out;         /* the house's blend or broadcast wants it, and there is none */
};

/*
 * Per food of the facility, the arena's. planned: per food, what today's round draws that is not logged yet; NULL:
 * nothing. With it the state is what it will be once the round is logged as planned.
 */
bool stock_state(const struct facility *f, int day, const double *planned, struct arena *a, struct stock **foods,
                 struct err *e);
int stock_window_d(const struct facility *f, int day); /* days that use is spread over */

/* What a day's rounds cost, and how much of that was given and not only mixed or drawn. */
struct day_cost {
    int day;
    double drawn_cents, given_cents;
};

/* Of each day of the window on which something was drawn or given, by day; the arena's. */
bool stock_day_costs(const struct facility *f, int day, struct arena *a, struct day_cost **days, size_t *n,
                     struct err *e);
double stock_given_cents(const struct facility *f, size_t system, int day); /* to it, in the window */

#endif
