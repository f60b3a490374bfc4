/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How long corals have been in quarantine, by the day they came and by the tally of moves. */
#ifndef NEAP_QUARANTINE_H
#define NEAP_QUARANTINE_H

#include "neap/store.h"

struct stay {
    bool in_quarantine; /* now */
    int since;          /* the later of its arrival and its last move in from elsewhere; DAY_NONE: neither is known */
    int days;           /* wanted */
    bool over;          /* these days are behind it, and neither it nor its tank is on hold */
    const char *held;   /* the reason; "": it is not */
};

/*
 * Since when each colony is where it is, had it been in quarantine all the time: *since, the arena's, by the colonies'
 * places; DAY_NONE: not known. Errors: of the store; ERR_MEMORY.
 */
bool quarantine_since(struct store *s, const struct facility *f, struct arena *a, int **since, struct err *e);

/* since: of quarantine_since. */
struct stay stay_of(const struct facility *f, size_t colony, int since, int today);

/* "has been in quarantine for 12 of 28 days, since 2026-11-15, and is on hold: flatworm eggs found" */
void stay_words(const struct stay *stay, int today, struct text *out);

#endif
