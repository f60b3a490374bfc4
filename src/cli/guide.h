/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What start asks at a terminal of an own facility: units, water, tanks, corals, foods. */
#ifndef NEAP_CLI_GUIDE_H
#define NEAP_CLI_GUIDE_H

#include "cli.h"

#include "neap/exchange.h"

enum { GUIDE_SETTING, GUIDE_SYSTEM, GUIDE_TANK, GUIDE_FOOD, GUIDE_COLONY, GUIDE_LOT, GUIDE_TABLES };

/* Tables of the answers, ready to be loaded behind the stock: name, and CSV text. */
struct guide {
    const char *names[GUIDE_TABLES]; /* "tank.csv" */
    struct text tables[GUIDE_TABLES];
};

/*
 * Asks; nothing is open or written meanwhile. kinds, foods: the stock's tables. *left: the person has gone, and nothing
 * is to be made; *asked: false where only the stock is wanted. Errors: ERR_MEMORY.
 */
bool guide_ask(struct context *c, const struct source *kinds, const struct source *foods, struct guide *g, bool *asked,
               bool *left, struct err *e);
void guide_free(struct guide *g);

#endif
