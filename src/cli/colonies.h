/* Counts and places of colonies, each change with its reason in the tally. */
#ifndef NEAP_CLI_COLONIES_H
#define NEAP_CLI_COLONIES_H

#include "cli.h"

/* One change of a colony, as the tally keeps it. */
struct count_change {
    const char *colony;
    long by; /* more or fewer */
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

const char *tally_reason_name(enum tally_reason reason);

/* A round planned for today that has lines of the colony says where it has them; "" in out: none does. */
bool colony_planned(struct context *c, struct store *s, const struct facility *f, const char *code, struct text *out,
                    struct err *e);

#endif
