/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A round's rules as a question for a solver of propositional clauses: is there a plan that finishes by this minute?
 * Part of the exact search; nobody else sees it. docs/order.md has the encoding.
 */
#ifndef NEAP_SCHEDULE_CLAUSES_H
#define NEAP_SCHEDULE_CLAUSES_H

#include "schedule/model.h"

enum answer {
    ANSWER_NONE, /* proven: no plan finishes by then */
    ANSWER_PLAN,
    ANSWER_OPEN /* the solver's conflicts or the work were used up, or whoever looks on ended it */
};

/* Which answer is hoped for; either may be given. */
enum hope { HOPE_PLAN, HOPE_PROOF };

struct question {
    int finish_min;                    /* is there a plan that finishes by then, … */
    const struct order_schedule *near; /* … with every start within so many minutes of this one's? NULL: anywhere */
    int within_min;
    int round_min; /* that the best plan so far takes, for whoever looks on */
    enum hope hope;
    int n_conflicts; /* at most so much search for the answer, … */
    long work;       /* … and so much with the clauses counted, in the unit of order_problem.exact_work */
};

/* What all questions about a round share. Borrows the model. */
struct subject {
    const struct order_model *m;
    struct order_arc *arcs; /* of all rules, those between pumps as well */
    int n_arcs;
    /* [n][n] of its tasks: least minutes from start to start by the rules; NOT_APART: they say nothing */
    int *apart_min;
    int *way_min;    /* [n][n] from the end of one to the start of the other, tools included, by no other task */
    int *detour_min; /* [n][n] the same, tasks done on the way included: a zero-length one may shorten a walk */
};

enum { NOT_APART = INT_MIN / 4 };

bool subject_new(const struct order_model *m, struct arena *a, struct subject *out); /* false: out of memory */

/*
 * Same question, same answer.
 *
 *   *work      what it took, at least 1
 *   *answer    ANSWER_PLAN: plan holds every task with its feeder and minute, and what its slot carries, unmeasured
 * False: out of memory, the solver's included.
 */
bool clauses_ask(const struct subject *about, const struct question *q, enum answer *answer,
                 struct order_schedule *plan, long *work);

#endif
