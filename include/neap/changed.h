/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * changed: what no longer holds of a kept round, since the facility went on after it was planned.
 */
#ifndef NEAP_CHANGED_H
#define NEAP_CHANGED_H

#include "neap/plan.h"

struct round_changes {
    const char **texts; /* one a change, as the sheet says it, by tank and line */
    size_t n;
    const char **off; /* per line of the round, by its place: why nobody is to do it any more; NULL: it stands */
};

/*
 * Holds, colonies and tanks gone or moved, lots that can no longer be used, and tests that now allow less food than a
 * pot holds. Lines that are done are left alone; a flow that was turned off is always to come on again.
 *
 *   done      per line of the round, by its place; NULL: none is
 *   now_min   what was tested later does not count
 *   *out      all of it the arena's
 *
 * Errors: ERR_MEMORY, and as plan_advice. Rules: docs/round.md, "Changed since".
 */
bool round_changed(const struct facility *f, const struct round *r, const bool *done, long now_min, struct arena *a,
                   struct round_changes *out, struct err *e);

/*
 * Marks all that is open at a tank as off, with a reason, as if it were held; the flow of others stays. out: of the
 * round.
 */
void round_leave_out(const struct facility *f, const struct round *r, size_t tank, const char *why, const bool *done,
                     struct round_changes *out);

#endif
