/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * week_log: what was logged of the rounds of some days, and what befell corals and tanks in them, from the ledgers and
 * the journal.
 */
#ifndef NEAP_WEEK_LOG_H
#define NEAP_WEEK_LOG_H

#include "neap/store.h"
#include "neap/figures.h"

/* The arena's. Errors: of the store. */
bool week_log(struct store *s, const struct facility *f, int first_day, int last_day, struct arena *a,
              struct log_week *week, struct err *e);

#endif
