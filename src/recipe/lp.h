/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A linear programme with several objectives in order, and the one guarded way into GLPK.
 *
 * Minimise objective 0; among its optima objective 1; and so on. Every column has a lower and an upper bound, every row
 * too; ±INFINITY where there is none. Stays inside the floor.
 */
#ifndef NEAP_RECIPE_LP_H
#define NEAP_RECIPE_LP_H

#include "neap/base.h"

enum { LP_STAGES_MAX = 10, LP_NAME = 24 };

struct lp_side {        /* a row or a column */
    char name[LP_NAME]; /* letters, digits, "_"; no two alike among rows, nor among columns */
    double low, high;
};

struct lp_entry {
    size_t row, col;
    double value;
};

/* Zero-initialise; then add columns, rows, entries, costs. failed is sticky (out of memory): lp_solve reports it. */
struct lp {
    size_t n_cols, n_rows, n_entries, n_costs;
    size_t cols_room, rows_room, entries_room, costs_room;
    struct lp_side *cols, *rows;
    struct lp_entry *entries; /* no (row, col) twice; zeros are dropped on entry */
    struct lp_entry *costs;   /* row is the stage */
    size_t n_rooms, rooms_room;
    struct lp_entry *rooms; /* row is the stage, value the room */
    bool failed;
};

size_t lp_add_col(struct lp *lp, double low, double high, const char *name, ...) PRINTF_LIKE(4, 5);
size_t lp_add_row(struct lp *lp, double low, double high, const char *name, ...) PRINTF_LIKE(4, 5);
void lp_put(struct lp *lp, size_t row, size_t col, double value);
void lp_add_cost(struct lp *lp, size_t stage, size_t col, double cost); /* a column at most once per stage */

/*
 * A stage that names columns so is not held where it stands: of each of them it keeps what its optimum has, less the
 * room, and leaves all else to the stages after it.
 */
void lp_add_room(struct lp *lp, size_t stage, size_t col, double room);
void lp_free(struct lp *lp);

/* Each 0: the default. A solver that hits one gives up with a clear error. */
struct lp_limits {
    int time_ms, iterations, memory_mb;
};

/* In the arena that lp_solve was given. */
struct lp_answer {
    double *x;    /* per column */
    double *kept; /* per column: the least that a stage with room left to the later ones; −INFINITY: none did */
    double value[LP_STAGES_MAX];
    double *price; /* [stage × n_rows + row]: by how much that stage's value rises per unit by
                                              * which the row's limit rises; 0: the row does not bind */
};

/*
 * Solves stages 0 … n_stages − 1.
 *
 * How a stage is held: what has a reduced cost at its optimum is fixed where it stands, which leaves exactly the optima
 * of that stage, with no tolerance (complementary slackness; Dantzig and Thapa, Linear Programming 1, 1997; from
 * memory). A stage with room (lp_add_room) is held by its columns alone.
 *
 * Errors: ERR_INPUT: no solution, or none is best (the text says which); ERR_MEMORY; ERR_MISUSE: a limit was hit or the
 *         solver refused. GLPK's environment is set up and torn down inside, also where it aborts; nothing is printed.
 */
bool lp_solve(const struct lp *lp, size_t n_stages, const struct lp_limits *limits, struct arena *a,
              struct lp_answer *out, struct err *e);

/*
 * The programme of one stage in CPLEX LP format, with stage i < stage held as a row "hold_i" at most hold[i] plus room
 * for its last digits; a stage with room by the bounds of its columns, kept[] of an answer. Numbers are the shortest
 * decimals that read back the same.
 */
void lp_write(const struct lp *lp, size_t stage, const double *hold, const double *kept, struct text *t);

#endif
