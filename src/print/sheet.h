/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of the round sheet share. Inside the print floor only. */
#ifndef NEAP_PRINT_SHEET_H
#define NEAP_PRINT_SHEET_H

#include "neap/print.h"

struct sheet {
    const struct facility *f;
    const struct round *r;
    const struct round *before;          /* the round before; NULL: none */
    const bool *done;                    /* per line, by its place; NULL: none is */
    const struct round_changes *changes; /* NULL: none */
    const bool *not_given;               /* of those that are done; NULL: none is */
    const struct batch *batches;         /* by the minute they are mixed */
    size_t n_batches;
    bool us;
    size_t *steps; /* the first line of each step at a tank, by time */
    size_t n_steps;
    struct document *d;
};

const char *clock_words(struct sheet *s, int minute);
const char *amount_words(struct sheet *s, const struct food *food, double units);
const char *lot_words(struct sheet *s, size_t food, size_t lot); /* "rich powder (RP-113)"; no lot: the food alone */
const char *food_words(struct sheet *s, const struct line *l);   /* with its lot */
bool line_is_done(const struct sheet *s, const struct line *l);
bool line_is_not_given(const struct sheet *s, const struct line *l); /* done, and logged as not given */
bool line_is_off(const struct sheet *s, const struct line *l);       /* nobody is to do it any more */
const char *latest_words(struct sheet *s, const struct line *on);    /* when a flow must run again; "" for no limit */
const char *tank_words(struct sheet *s, const struct line *l);       /* and what its flow shares a pump with */

/* Lines of one tank, action, pass and minute are one step at the tank; a broadcast may be for several. */
bool same_step(const struct sheet *s, const struct line *a, const struct line *b);

bool sheet_steps(struct sheet *s); /* finds the steps; false: no memory */

void put_clock(struct sheet *s);               /* clock.c: a strip of all tanks and feeders */
void put_flows(struct sheet *s);               /* clock.c: the flows to turn back on */
void put_mixing(struct sheet *s);              /* mixing.c: what to prepare, the pots, what goes into shared water */
bool put_feeder(struct sheet *s, long feeder); /* lists.c: a feeder's list; false: they have nothing to do */
bool put_tank(struct sheet *s, size_t tank);   /* lists.c: all lines of a tank; false: it has none */
void put_cautions(struct sheet *s, enum caution_part part, const char *heading, const char *mark);

#endif
