/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Building a programme, and solving it by GLPK, guarded. */
#include "recipe/lp.h"

#include <glpk.h>
#include <setjmp.h>

enum { DEFAULT_TIME_MS = 20000, DEFAULT_ITERATIONS = 500000, DEFAULT_MEMORY_MB = 512 };

/* Tighter than GLPK's own (1e-7): stages build on each other, and amounts are compared with an exact solver. */
static const double feasible_within = 1e-9, optimal_within = 1e-9;

/* ---- building --------------------------------------------------------------------------------------------------- */

static size_t side_add(struct lp_side **sides, size_t *n, size_t *room, struct lp_side side)
{
    struct lp_side *moved = mem_grow(*sides, room, *n + 1, sizeof side);
    if (!moved)
        return SIZE_MAX;
    *sides = moved;
    moved[*n] = side;
    return (*n)++;
}

static struct lp_side side_new(double low, double high, const char *name, va_list ap)
{
    struct lp_side side = {.low = low, .high = high};
    vsnprintf(side.name, sizeof side.name, name, ap);
    return side;
}

size_t lp_add_col(struct lp *lp, double low, double high, const char *name, ...)
{
    va_list ap;
    va_start(ap, name);
    size_t col = side_add(&lp->cols, &lp->n_cols, &lp->cols_room, side_new(low, high, name, ap));
    va_end(ap);
    lp->failed |= col == SIZE_MAX;
    return col;
}

size_t lp_add_row(struct lp *lp, double low, double high, const char *name, ...)
{
    va_list ap;
    va_start(ap, name);
    size_t row = side_add(&lp->rows, &lp->n_rows, &lp->rows_room, side_new(low, high, name, ap));
    va_end(ap);
    lp->failed |= row == SIZE_MAX;
    return row;
}

static bool entry_add(struct lp_entry **entries, size_t *n, size_t *room, struct lp_entry entry)
{
    struct lp_entry *moved = mem_grow(*entries, room, *n + 1, sizeof entry);
    if (!moved)
        return false;
    *entries = moved;
    moved[(*n)++] = entry;
    return true;
}

void lp_put(struct lp *lp, size_t row, size_t col, double value)
{
    if (value != 0 && !lp->failed)
        lp->failed = !entry_add(&lp->entries, &lp->n_entries, &lp->entries_room, (struct lp_entry){row, col, value});
}

void lp_add_cost(struct lp *lp, size_t stage, size_t col, double cost)
{
    if (cost != 0 && !lp->failed)
        lp->failed = !entry_add(&lp->costs, &lp->n_costs, &lp->costs_room, (struct lp_entry){stage, col, cost});
}

void lp_add_room(struct lp *lp, size_t stage, size_t col, double room)
{
    if (!lp->failed)
        lp->failed = !entry_add(&lp->rooms, &lp->n_rooms, &lp->rooms_room, (struct lp_entry){stage, col, room});
}

static bool has_room(const struct lp *lp, size_t stage)
{
    for (size_t i = 0; i < lp->n_rooms; i++)
        if (lp->rooms[i].row == stage)
            return true;
    return false;
}

void lp_free(struct lp *lp)
{
    free(lp->cols);
    free(lp->rows);
    free(lp->entries);
    free(lp->costs);
    free(lp->rooms);
    *lp = (struct lp){0};
}

/* ---- solving: all that follows runs inside the guard, and owns nothing but what GLPK and the arena hold --------- */

struct lp_job {
    const struct lp *lp;
    size_t n_stages;
    struct lp_limits limits;
    struct lp_answer *out;
    int *row_index, *col_index; /* triplets for glp_load_matrix, from 1 */
    double *value;
    struct err *e;
    jmp_buf abort;
    char said[256]; /* GLPK's last words */
};

static int bound_type(const struct lp_side *side)
{
    if (isinf(side->low))
        return isinf(side->high) ? GLP_FR : GLP_UP;
    if (isinf(side->high))
        return GLP_LO;
    return side->low == side->high ? GLP_FX : GLP_DB;
}

static glp_prob *job_load(struct lp_job *j)
{
    const struct lp *lp = j->lp;
    glp_prob *prob = glp_create_prob();
    glp_add_cols(prob, (int)lp->n_cols);
    if (lp->n_rows > 0)
        glp_add_rows(prob, (int)lp->n_rows);
    for (size_t i = 0; i < lp->n_cols; i++)
        glp_set_col_bnds(prob, (int)i + 1, bound_type(&lp->cols[i]), lp->cols[i].low, lp->cols[i].high);
    for (size_t i = 0; i < lp->n_rows; i++)
        glp_set_row_bnds(prob, (int)i + 1, bound_type(&lp->rows[i]), lp->rows[i].low, lp->rows[i].high);
    for (size_t i = 0; i < lp->n_entries; i++) {
        j->row_index[i + 1] = (int)lp->entries[i].row + 1;
        j->col_index[i + 1] = (int)lp->entries[i].col + 1;
        j->value[i + 1] = lp->entries[i].value;
    }
    glp_load_matrix(prob, (int)lp->n_entries, j->row_index, j->col_index, j->value);
    glp_scale_prob(prob, GLP_SF_GM | GLP_SF_EQ | GLP_SF_2N);
    glp_std_basis(prob);
    return prob;
}

static bool job_told(struct lp_job *j, int answer)
{
    switch (answer) {
    case 0: return true;
    case GLP_EITLIM:
    case GLP_ETMLIM:
        return err_set(j->e, ERR_MISUSE, NULL, "the linear programme (%zu rows, %zu columns) was given up: %s",
                       j->lp->n_rows, j->lp->n_cols, answer == GLP_EITLIM ? "too many steps" : "it took too long");
    case GLP_EBOUND:
        return err_set(j->e, ERR_INPUT, NULL, "the linear programme has a lower limit above its upper limit");
    default:
        return err_set(j->e, ERR_MISUSE, NULL, "the linear programme (%zu rows, %zu columns) was refused with code %d",
                       j->lp->n_rows, j->lp->n_cols, answer);
    }
}

static bool job_optimal(struct lp_job *j, int status)
{
    if (status == GLP_OPT)
        return true;
    if (status == GLP_UNBND)
        return err_set(j->e, ERR_INPUT, NULL, "the linear programme has no best solution: its value has no limit");
    return err_set(j->e, ERR_INPUT, NULL, "the linear programme has no solution: its limits contradict each other");
}

static bool job_improve(struct lp_job *j, glp_prob *prob, size_t stage)
{
    const struct lp *lp = j->lp;
    for (size_t i = 0; i < lp->n_cols; i++)
        glp_set_obj_coef(prob, (int)i + 1, 0);
    for (size_t i = 0; i < lp->n_costs; i++)
        if (lp->costs[i].row == stage)
            glp_set_obj_coef(prob, (int)lp->costs[i].col + 1, lp->costs[i].value);
    glp_smcp how;
    glp_init_smcp(&how);
    how.msg_lev = GLP_MSG_OFF;
    how.meth = GLP_PRIMAL;
    how.tol_bnd = feasible_within;
    how.tol_dj = optimal_within;
    how.it_lim = j->limits.iterations;
    how.tm_lim = j->limits.time_ms;
    int answer = glp_simplex(prob, &how);
    if (answer == 0 && glp_get_status(prob) != GLP_OPT) {
        /* rounding may have led it astray from where the stage before ended: once more, from the beginning */
        glp_std_basis(prob);
        answer = glp_simplex(prob, &how);
    }
    return job_told(j, answer) && job_optimal(j, glp_get_status(prob));
}

/* What a reduced cost keeps at its bound stays there in all later stages. */
static void job_hold(glp_prob *prob, size_t n_rows, size_t n_cols)
{
    for (int i = 1; i <= (int)n_rows; i++)
        if (glp_get_row_stat(prob, i) != GLP_BS && fabs(glp_get_row_dual(prob, i)) > optimal_within)
            glp_set_row_bnds(prob, i, GLP_FX, glp_get_row_prim(prob, i), 0);
    for (int i = 1; i <= (int)n_cols; i++)
        if (glp_get_col_stat(prob, i) != GLP_BS && fabs(glp_get_col_dual(prob, i)) > optimal_within)
            glp_set_col_bnds(prob, i, GLP_FX, glp_get_col_prim(prob, i), 0);
}

/* Of a column that an earlier stage fixed nothing is to be had. */
static void job_leave_room(struct lp_job *j, glp_prob *prob, size_t stage)
{
    const struct lp *lp = j->lp;
    for (size_t i = 0; i < lp->n_rooms; i++) {
        size_t col = lp->rooms[i].col;
        int k = (int)col + 1;
        if (lp->rooms[i].row != stage)
            continue;
        j->out->kept[col] = fmax(lp->cols[col].low, glp_get_col_prim(prob, k) - lp->rooms[i].value);
        if (glp_get_col_type(prob, k) == GLP_FX)
            continue;
        struct lp_side side = {.low = j->out->kept[col], .high = lp->cols[col].high};
        glp_set_col_bnds(prob, k, bound_type(&side), side.low, side.high);
    }
}

static bool job_run(struct lp_job *j)
{
    const struct lp *lp = j->lp;
    glp_prob *prob = job_load(j);
    for (size_t stage = 0; stage < j->n_stages; stage++) {
        if (!job_improve(j, prob, stage))
            return false;
        double value = glp_get_obj_val(prob);
        j->out->value[stage] = fabs(value) > 1e-12 ? value : 0; /* not −1e-17 */
        for (size_t i = 0; i < lp->n_rows; i++) {
            double price = glp_get_row_stat(prob, (int)i + 1) == GLP_BS ? 0 : glp_get_row_dual(prob, (int)i + 1);
            j->out->price[stage * lp->n_rows + i] = fabs(price) > optimal_within ? price : 0;
        }
        if (has_room(lp, stage))
            job_leave_room(j, prob, stage);
        else if (stage + 1 < j->n_stages)
            job_hold(prob, lp->n_rows, lp->n_cols);
    }
    for (size_t i = 0; i < lp->n_cols; i++)
        j->out->x[i] = glp_get_col_prim(prob, (int)i + 1);
    return true;
}

/* ---- the guard -------------------------------------------------------------------------------------------------- */

static void guard_abort(void *info)
{
    struct lp_job *j = info;
    longjmp(j->abort, 1);
}

static int guard_hear(void *info, const char *said)
{
    struct lp_job *j = info;
    if (strncmp(said, "Error detected", 14) != 0) /* a second line with GLPK's own file and line */
        snprintf(j->said, sizeof j->said, "%.*s", (int)strcspn(said, "\n"), said);
    return 1; /* heard: nothing goes to the terminal */
}

/* GLPK ends the process where memory runs out or its input is wrong, unless a hook jumps out; then only
 * glp_free_env may follow (GLPK reference manual, "glp_error_hook"). */
static bool guard_run(struct lp_job *j)
{
    switch (glp_init_env()) {
    case 0: break;
    case 1: return err_set(j->e, ERR_MISUSE, NULL, "the linear programme cannot start: the solver is in use already");
    default: return err_memory(j->e);
    }
    volatile bool ok = false;
    if (setjmp(j->abort) == 0) {
        glp_term_hook(guard_hear, j);
        glp_error_hook(guard_abort, j);
        glp_mem_limit(j->limits.memory_mb);
        ok = job_run(j);
    } else if (strstr(j->said, "memory")) {
        err_set(j->e, ERR_MEMORY, NULL, "the linear programme needs more memory than there is");
    } else {
        err_set(j->e, ERR_MISUSE, NULL, "the linear programme was refused: %s", j->said);
    }
    glp_free_env();
    return ok;
}

bool lp_solve(const struct lp *lp, size_t n_stages, const struct lp_limits *limits, struct arena *a,
              struct lp_answer *out, struct err *e)
{
    assert(n_stages <= LP_STAGES_MAX);
    struct lp_job j = {.lp = lp, .n_stages = n_stages, .out = out, .e = e};
    j.limits.time_ms = limits && limits->time_ms > 0 ? limits->time_ms : DEFAULT_TIME_MS;
    j.limits.iterations = limits && limits->iterations > 0 ? limits->iterations : DEFAULT_ITERATIONS;
    j.limits.memory_mb = limits && limits->memory_mb > 0 ? limits->memory_mb : DEFAULT_MEMORY_MB;
    if (lp->failed || lp->n_cols >= INT_MAX || lp->n_rows >= INT_MAX || lp->n_entries >= INT_MAX)
        return err_memory(e);
    j.row_index = calloc(lp->n_entries + 1, sizeof *j.row_index);
    j.col_index = calloc(lp->n_entries + 1, sizeof *j.col_index);
    j.value = calloc(lp->n_entries + 1, sizeof *j.value);
    *out = (struct lp_answer){
        .x = arena_alloc(a, lp->n_cols, sizeof *out->x),
        .kept = arena_alloc(a, lp->n_cols, sizeof *out->kept),
        .price = arena_alloc(a, n_stages * lp->n_rows, sizeof *out->price),
    };
    bool ok = j.row_index && j.col_index && j.value && out->x && out->kept && out->price;
    for (size_t i = 0; ok && i < lp->n_cols; i++)
        out->kept[i] = -INFINITY;
    ok = ok ? guard_run(&j) : err_memory(e);
    free(j.row_index);
    free(j.col_index);
    free(j.value);
    return ok;
}

/* ---- writing ---------------------------------------------------------------------------------------------------- */

enum { TERMS_PER_LINE = 6 };

/* Room for the last digits of a held value, so that an exact reader finds it reached; too little to trade with. */
static const double hold_dust = 1e-12;

static void write_number(struct text *t, double value)
{
    char digits[32];
    number_format(value, digits);
    text_add(t, digits);
}

static void write_term(struct text *t, size_t i, double value, const char *name)
{
    text_addf(t, "%s %s ", i > 0 && i % TERMS_PER_LINE == 0 ? "\n  " : "", value < 0 ? "-" : "+");
    write_number(t, fabs(value));
    text_addf(t, " %s", name);
}

static void write_objective(const struct lp *lp, size_t stage, struct text *t)
{
    size_t n = 0;
    for (size_t i = 0; i < lp->n_costs; i++)
        if (lp->costs[i].row == stage)
            write_term(t, n++, lp->costs[i].value, lp->cols[lp->costs[i].col].name);
    if (n == 0)
        text_addf(t, " 0 %s", lp->cols[0].name);
}

static void write_row(const struct lp *lp, size_t row, const struct lp_entry *entries, size_t n, struct text *t)
{
    const struct lp_side *side = &lp->rows[row];
    static const char *const suffix[] = {"", "_"};
    const double limit[] = {side->low, side->high};
    bool equal = side->low == side->high;
    for (int high = equal; high < 2; high++) { /* a row with two limits is written twice: not all readers know ranges */
        if (isinf(limit[high]) || n == 0)
            continue;
        text_addf(t, " %s%s:", side->name, suffix[high && !equal && !isinf(side->low)]);
        for (size_t i = 0; i < n; i++)
            write_term(t, i, entries[i].value, lp->cols[entries[i].col].name);
        text_add(t, equal ? " = " : high ? " <= " : " >= ");
        write_number(t, limit[high]);
        text_add(t, "\n");
    }
}

static int entry_order(const void *a, const void *b)
{
    const struct lp_entry *x = a, *y = b;
    if (x->row != y->row)
        return x->row < y->row ? -1 : 1;
    return (x->col > y->col) - (x->col < y->col);
}

static void write_bound(const struct lp_side *c, struct text *t)
{
    if (c->low == 0 && isinf(c->high))
        return; /* what the format takes for granted */
    text_add(t, " ");
    if (isinf(c->low)) {
        text_add(t, "-inf");
    } else {
        write_number(t, c->low);
    }
    text_addf(t, " <= %s <= ", c->name);
    if (isinf(c->high)) {
        text_add(t, "+inf");
    } else {
        write_number(t, c->high);
    }
    text_add(t, "\n");
}

void lp_write(const struct lp *lp, size_t stage, const double *hold, const double *kept, struct text *t)
{
    struct lp_entry *sorted = calloc(lp->n_entries + 1, sizeof *sorted);
    if (!sorted || lp->failed || lp->n_cols == 0) {
        t->failed |= !sorted || lp->failed;
        free(sorted);
        return;
    }
    if (lp->n_entries > 0) {
        memcpy(sorted, lp->entries, lp->n_entries * sizeof *sorted);
        qsort(sorted, lp->n_entries, sizeof *sorted, entry_order);
    }
    text_add(t, "Minimize\n value:");
    write_objective(lp, stage, t);
    text_add(t, "\nSubject To\n");
    for (size_t i = 0, from = 0; i < lp->n_rows; i++) {
        size_t to = from;
        while (to < lp->n_entries && sorted[to].row == i)
            to++;
        write_row(lp, i, sorted + from, to - from, t);
        from = to;
    }
    for (size_t i = 0; i < stage; i++) {
        if (has_room(lp, i))
            continue;
        text_addf(t, " hold_%zu:", i);
        write_objective(lp, i, t);
        text_add(t, " <= ");
        write_number(t, hold[i] + hold_dust * fmax(1, fabs(hold[i])));
        text_add(t, "\n");
    }
    text_add(t, "Bounds\n");
    for (size_t i = 0; i < lp->n_cols; i++) {
        struct lp_side bound = lp->cols[i];
        for (size_t k = 0; k < lp->n_rooms; k++)
            if (lp->rooms[k].col == i && lp->rooms[k].row < stage)
                bound.low = fmax(bound.low, kept[i] - hold_dust);
        write_bound(&bound, t);
    }
    text_add(t, "End\n");
    free(sorted);
}
