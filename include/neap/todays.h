/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A kept round beside the facility as it is now: which lines are done, and what no longer holds. */
#ifndef NEAP_TODAYS_H
#define NEAP_TODAYS_H

#include "neap/store.h"
#include "neap/changed.h"
#include "neap/log.h"

struct todays {
    bool *done;      /* per line, by its place */
    bool *not_given; /* of these */
    size_t n_done;
    struct round_changes changes; /* none of a round of another day */
};

/* All of it the arena's. */
bool todays_read(struct store *s, long now, const struct facility *f, const struct round *r, struct arena *a,
                 struct todays *t, struct err *e);

#endif
