/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * drawing: what is taken from a lot, beside what it holds. What the rounds of the day mixed and nobody logged yet has
 * left the tub all the same, so it is not thrown away a second time; and nothing is booked out of a lot that does not
 * hold it, unless somebody says that it did. Rules: docs/round.md, "Stock".
 */
#ifndef NEAP_DRAWING_H
#define NEAP_DRAWING_H

#include "neap/store.h"

/* Waste as it is asked for. */
struct wasting {
    struct store *s;    /* borrowed; within a transaction */
    struct facility *f; /* as of that transaction */
    long now;
    const char *reason;
    bool unmixed;     /* nothing was mixed of what rounds are still to take */
    bool claimed;     /* it was refused for what they are to take */
    struct text told; /* a line each */
};

/*
 * "B-14=20g", or "B-14=rest": all but what the rounds of the day are still to take. Errors: ERR_INPUT more than that,
 * or than is left; ERR_MISUSE, ERR_NOT_FOUND.
 */
bool waste_put(struct wasting *w, const char *text, struct err *e);

/* Of a lot's row as it is to stand: it holds what was taken of it. Errors: ERR_INPUT; as of the store. */
bool lot_row_holds(struct store *s, const struct cell *row, struct err *e);

/* How much more a lot gave than it held: 0 where it held as much. Errors: as of the store. */
bool lot_overdrawn(struct store *s, const struct lot *l, double *units, struct err *e);

#endif
