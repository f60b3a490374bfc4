/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The solver of propositional clauses, CaDiCaL (Biere, Fazekas, Fleury and Heisinger 2020), behind plain C. It is a C++
 * library, which tells of want of memory by an exception; solver.cpp catches each where it crosses into C. Stays
 * inside the schedule floor.
 */
#ifndef NEAP_SCHEDULE_SOLVER_H
#define NEAP_SCHEDULE_SOLVER_H

#include <stdbool.h>

#ifdef __cplusplus
extern "C" {
#endif

struct solver;

enum solver_verdict { SOLVER_OPEN, SOLVER_SATISFIED, SOLVER_REFUTED };

/* seeks_plan: no rapid restarts, so that plans are found sooner and proofs later. NULL: out of memory. */
struct solver *solver_new(bool seeks_plan);

/* A literal of the clause at hand; 0 ends it. Out of memory: remembered, and all that follows does nothing. */
void solver_add(struct solver *s, int literal);

/* Asked often while the solver is at it; false ends it. */
struct solver_look {
    bool (*go_on)(void *context, int value);
    void *context;
    int value;
};

/*
 * At most so many conflicts; *n_met: how many were met. look: NULL where nobody looks on. SOLVER_OPEN also where that
 * was used up or ended, or memory ran out: solver_failed tells.
 */
enum solver_verdict solver_solve(struct solver *s, int n_conflicts, const struct solver_look *look, long *n_met);

/* After SOLVER_SATISFIED: does the variable hold? */
bool solver_holds(struct solver *s, int variable);

bool solver_failed(const struct solver *s);

/* What a solver held whose memory ran out is given up, not freed: its own books may be half-written. NULL is taken. */
void solver_free(struct solver *s);

#ifdef __cplusplus
}
#endif

#endif
