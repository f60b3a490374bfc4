/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Counts and places of colonies, each change with its reason in the tally. */
#ifndef NEAP_COLONIES_H
#define NEAP_COLONIES_H

#include "neap/store.h"

/* One change of a colony, as the tally keeps it. */
struct count_change {
    const char *colony;
    long by;     /* more or fewer */
    bool booked; /* the row's count has it already, as that of a lot that was made with it */
    enum tally_reason reason;
    const char *tank;      /* where they stand since; NULL: where they stood */
    const char *other;     /* colony they became or came from; NULL: none */
    const char *from_file; /* NULL: none */
    long moment;
};

/* A colony's row as it stands in the store. Texts are a's. ERR_NOT_FOUND offers the nearest code. */
bool colony_get(struct store *s, const char *code, struct cell *cells, struct arena *a, struct err *e);

long colony_count(const struct cell *cells); /* 0 where retired */
const char *colony_tank(const struct cell *cells);

/*
 * Makes the change: count, place and tally. None left retires the colony; more of a retired one brings it back.
 * *left: the count since. Within store_begin and store_commit.
 * Errors: ERR_INPUT where fewer are there than are to go; as store_put.
 */
bool colony_change(struct store *s, const struct count_change *change, long *left, struct err *e);

/* The first free of CODE/2, CODE/3 …; the arena's. ERR_INPUT: none, or too long for a code. */
bool colony_free_code(struct store *s, const char *code, struct arena *a, const char **found, struct err *e);

/* Some of a lot as a lot of its own: the same corals under another code, fed when the others were. */
struct colony_part {
    const char *of, *code, *tank; /* tank NULL: where the lot stands */
    long count, heads;            /* heads 0: as the lot's */
};

/* Puts the part's row; the lot's count and the tally are the caller's. ERR_INPUT: there is such a code already. */
bool colony_put_part(struct store *s, const struct facility *f, const struct colony_part *part, struct err *e);

/* Holds a colony to the end of a day. */
bool colony_hold(struct store *s, const char *code, const char *reason, int until, struct err *e);

const char *tally_reason_name(enum tally_reason reason);

/* A round planned for today that has lines of the colony says where it has them; "" in out: none does. */
bool colony_planned(struct store *s, int today, const struct facility *f, const char *code, struct text *out,
                    struct err *e);

#endif
