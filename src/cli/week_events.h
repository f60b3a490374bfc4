/* What befell corals and tanks in the days of a weekly report, from the ledgers and the journal. */
#ifndef NEAP_CLI_WEEK_EVENTS_H
#define NEAP_CLI_WEEK_EVENTS_H

#include "cli.h"
#include "neap/figures.h"

/* Fills all of *week but its rounds; the arena's. Errors: of the store. */
bool week_events(struct store *s, const struct facility *f, int first_day, int last_day, struct arena *a,
                 struct log_week *week, struct err *e);

#endif
