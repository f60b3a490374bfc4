/* SPDX-License-Identifier: GPL-3.0-or-later */
/* switches: what rounds of the last two weeks left off, by their logs. */
#ifndef NEAP_SWITCHES_H
#define NEAP_SWITCHES_H

#include "neap/store.h"

/*
 * Of each switch the last round before this one that was logged to have turned it off: a sentence where it is not on
 * again. And a sentence of what the last round that has switches in its log left blank. All of it the arena's. Errors:
 * of the store.
 */
bool switches_left(struct store *s, const struct facility *f, const struct round_head *head, struct arena *a,
                   const char ***texts, size_t *n, struct err *e);

#endif
