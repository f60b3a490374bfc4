/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * replan: a begun round whose clock slips. Rules: docs/order.md.
 */
#ifndef NEAP_REPLAN_H
#define NEAP_REPLAN_H

#include "neap/plan.h"

struct replan_request {
    int now_min;
    const struct given *givens; /* what is logged; of other rounds, too */
    size_t n_givens;
    const struct mixed *mixes; /* pots that are logged as mixed */
    size_t n_mixes;
};

struct replanned {
    size_t n_left; /* lines not logged yet */
    int late_min;  /* by how much windows and limits under way are passed, summed */
};

/*
 * Sets the clock of a kept round anew from a minute on. Lines keep number, amount and the order of each feeder's jobs;
 * those that are logged keep their times as well, and count as done when they were noted, else as planned. All else
 * begins as early as the order's rules allow. Where a window or a flow-off limit under way would be passed, late jobs
 * go before others, a flow on at any feeder, as long as fewer minutes are late then; what still is late is named in the
 * first caution. A lot that was recalled or thrown away since gives way to another of its food, where one has enough:
 * in pots that nobody has begun, and on lines that are not logged.
 *
 *   *r        owns its lines and pots' foods, borrows all else from kept; caller frees with round_free, before kept
 *
 * Errors: ERR_INPUT where the rest cannot be ordered or the kept request be read; ERR_MEMORY.
 */
bool plan_replan(const struct facility *f, const struct round *kept, const struct replan_request *request,
                 struct round *r, struct replanned *found, struct err *e);

#endif
