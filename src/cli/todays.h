/* A kept round beside the facility as it is now: which lines are done, and what no longer holds. */
#ifndef NEAP_CLI_TODAYS_H
#define NEAP_CLI_TODAYS_H

#include "cli.h"
#include "neap/changed.h"
#include "neap/log.h"

struct todays {
    bool *done;      /* per line, by its place */
    bool *not_given; /* of these */
    size_t n_done;
    struct round_changes changes; /* none of a round of another day */
};

/* All of it the arena's. */
bool todays_read(struct context *c, struct store *s, const struct facility *f, const struct round *r, struct arena *a,
                 struct todays *t, struct err *e);

/* After a command that stored: where today's round no longer holds, says so in the notes. */
bool todays_tell(struct context *c, struct err *e);

/* One row of a register into the store, of a command's own transaction. */
bool row_put(struct store *s, const struct facility *f, enum reg_id id, const void *row, enum put *outcome,
             struct err *e);

#endif
