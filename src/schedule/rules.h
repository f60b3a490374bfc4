/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The clock's rules, each stated once: what lays out, builds, bounds, searches and polishes a plan asks here, or the
 * numbers of neap/schedule.h, and states none itself. Apart stand, on purpose, the check of finished plans (check.c)
 * and the models of tests/cross, written from docs/order.md alone. Stays inside the schedule floor.
 */
#ifndef NEAP_SCHEDULE_RULES_H
#define NEAP_SCHEDULE_RULES_H

#include "schedule/model.h"

enum { NOT_PLACED = INT_MIN }; /* a start that is not known yet */

/* Fills m->rules from units, stops, feeds and tasks. False: out of memory. */
bool rules_make(struct order_model *m);

/* All arcs, those between pumps (quarantine, ranks) after those of each pump. False: out of memory. */
bool rules_arcs(const struct order_model *m, struct arena *a, struct order_arc **arcs, int *n);

/* When a task may start by what is known of its own pump: start_min per task, or NOT_PLACED. */
struct order_span rules_window(const struct order_model *m, const int *start_min, int task);

/* What must go before a unit, whoever does it: not before all_min, and its first visits not before first_min. */
struct order_floor {
    int all_min, first_min;
    bool open; /* false: something that must go before has no start yet */
};
struct order_floor rules_floor(const struct order_model *m, const int *start_min, int unit);

/* Starts that come too early by quarantine and ranks are made later; true: some were. */
bool rules_classes_push(const struct order_model *m, int *start_min);

/* When the broadcast of a feed may end, from the visit's start: its window, and with the flow on, before fish. */
struct order_span rules_broadcast_end(const struct order_problem *p, const struct order_stop *s,
                                      const struct order_feed *f);

/* When the flow of a stop may come on: the start of that, its visit starting at this minute. */
struct order_span rules_flow_on(const struct order_model *m, const struct order_stop *s, int visit_min);

/* Hands carry one pot and the tools of one class. */
int rules_pot_change_min(const struct order_model *m); /* 0 where one pot serves all and never grows too old */
int rules_first_mixed_min(const struct order_feeder *f);
int rules_mixed_min(const struct order_problem *p, int visit_min);     /* of a pot changed before a visit */
int rules_pot_until_min(const struct order_problem *p, int mixed_min); /* the last coral by then; INT_MAX: no limit */
bool rules_tools(const struct order_task *next, bool changed);         /* are they changed before the task? */

#endif
