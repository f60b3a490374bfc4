/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The guarded way into GLPK. */
#include "numbers.h"

#include "neap/recipe.h"
#include "recipe/lp.h"

#include <glpk.h>
#include <unistd.h>

/* ---- handbook programmes: a line per variable, a column per row ------------------------------------------------- */

enum { HANDBOOK_COLUMNS = 16, HANDBOOK_LINE = 512 };

static size_t cells_split(char *line, char *cells[HANDBOOK_COLUMNS])
{
    size_t n = 0;
    line[strcspn(line, "\r\n")] = '\0';
    for (char *cell = line; cell && n < HANDBOOK_COLUMNS;) {
        char *comma = strchr(cell, ',');
        if (comma)
            *comma = '\0';
        cells[n++] = cell;
        cell = comma ? comma + 1 : NULL;
    }
    return n;
}

static double cell_number(const char *cell, double otherwise)
{
    double value = otherwise;
    assert_true(*cell == '\0' || number_parse(cell, &value));
    return value;
}

static void handbook_line(struct lp *lp, char *cells[HANDBOOK_COLUMNS], size_t n)
{
    if (strcmp(cells[0], "variable") == 0) {
        for (size_t i = 4; i < n; i++)
            lp_add_row(lp, -INFINITY, INFINITY, "%s", cells[i]);
    } else if (strcmp(cells[0], "at least") == 0 || strcmp(cells[0], "at most") == 0) {
        bool least = strcmp(cells[0], "at least") == 0;
        for (size_t i = 4; i < n; i++)
            if (least)
                lp->rows[i - 4].low = cell_number(cells[i], -INFINITY);
            else
                lp->rows[i - 4].high = cell_number(cells[i], INFINITY);
    } else {
        size_t col = lp_add_col(lp, cell_number(cells[1], -INFINITY), cell_number(cells[2], INFINITY), "%s", cells[0]);
        lp_add_cost(lp, 0, col, cell_number(cells[3], 0));
        for (size_t i = 4; i < n; i++)
            lp_put(lp, i - 4, col, cell_number(cells[i], 0));
    }
}

static void handbook_read(const char *name, struct lp *lp)
{
    char path[128], line[HANDBOOK_LINE], *cells[HANDBOOK_COLUMNS];
    snprintf(path, sizeof path, "tests/handbook/recipe-%s.csv", name);
    FILE *f = fopen(path, "r");
    assert_non_null(f);
    while (fgets(line, sizeof line, f))
        if (line[0] != '#')
            handbook_line(lp, cells, cells_split(line, cells));
    fclose(f);
}

static size_t side_named(const struct lp_side *sides, size_t n, const char *name)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(sides[i].name, name) == 0)
            return i;
    fail_msg("no %s in the file", name);
    return 0;
}

struct published {
    const char *name;
    double value, within;
};

/* A published figure per variable and per shadow price of a row; within half a unit of the last printed digit. */
static void published_programmes_have_their_published_optimum(void **state)
{
    (void)state;
    static const struct {
        const char *file;
        double times, value, within;
        struct published variables[8], prices[8]; /* each ends with a row without a name */
    } rows[] = {
        {"feed",
         1,
         10.45455,
         5e-6,
         {{"x1", 1.818182, 5e-7}, {"x2", 2.954545, 5e-7}},
         {{"protein", 0.568182, 5e-7}, {"fat", 3.181818, 5e-7}, {"fibre", 0, 1e-9}}},
        {"farm",
         -1,
         93600,
         1e-6,
         {{"cows", 44, 1e-9}, {"bulls", 24, 1e-9}, {"pigs", 0, 1e-9}},
         {{"land", 0, 1e-9}, {"stable", -240, 1e-9}, {"labour", -28.8, 1e-9}}},
        {"alloy",
         1,
         296.2166065,
         5e-8,
         {{"bin1", 0, 1e-9}, {"bin5", 0, 1e-9}},
         {{"iron", -2.56823, 5e-6},
          {"manganese", -0.54440, 5e-6},
          {"aluminium", 0.25199, 5e-6},
          {"silicon", 0.48520, 5e-6},
          {"yield", -0.01360, 5e-6},
          {"copper", 0, 1e-9}}},
        {"diet", 365.25, 39.69, 5e-3, {{"macaroni", 0, 1e-9}}, {{"protein_g", 0, 1e-9}, {"iron_mg", 0, 1e-9}}},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct lp lp = {0};
        struct arena arena = {0};
        struct lp_answer answer;
        struct err e = {0};
        handbook_read(rows[i].file, &lp);
        assert_true(lp_solve(&lp, 1, NULL, &arena, &answer, &e));
        assert_number(answer.value[0] * rows[i].times, rows[i].value, rows[i].within);
        for (const struct published *v = rows[i].variables; v->name; v++)
            assert_number(answer.x[side_named(lp.cols, lp.n_cols, v->name)], v->value, v->within);
        for (const struct published *v = rows[i].prices; v->name; v++)
            assert_number(answer.price[side_named(lp.rows, lp.n_rows, v->name)], v->value, v->within);
        arena_free(&arena);
        lp_free(&lp);
    }
}

/* ---- several objectives ----------------------------------------------------------------------------------------- */

/* x + y >= 2 within a box of 2 × 2: an edge of optima for the first objective, one corner of it for the second. */
static void box_build(struct lp *lp, size_t x_y[2])
{
    x_y[0] = lp_add_col(lp, 0, 2, "x");
    x_y[1] = lp_add_col(lp, 0, 2, "y");
    size_t row = lp_add_row(lp, 2, INFINITY, "both");
    lp_put(lp, row, x_y[0], 1);
    lp_put(lp, row, x_y[1], 1);
}

static void a_later_objective_chooses_only_among_the_optima_of_the_earlier(void **state)
{
    (void)state;
    struct lp lp = {0};
    struct arena arena = {0};
    struct lp_answer answer;
    struct err e = {0};
    size_t x_y[2];
    box_build(&lp, x_y);
    lp_add_cost(&lp, 0, x_y[0], 1);
    lp_add_cost(&lp, 0, x_y[1], 1);
    lp_add_cost(&lp, 1, x_y[0], -1); /* alone it would go to x = 2, y = anything; held, to x = 2, y = 0 */
    lp_add_cost(&lp, 1, x_y[1], -0.5);
    assert_true(lp_solve(&lp, 2, NULL, &arena, &answer, &e));
    assert_number(answer.value[0], 2, 1e-12);
    assert_number(answer.value[1], -2, 1e-12);
    assert_number(answer.x[x_y[0]], 2, 1e-12);
    assert_number(answer.x[x_y[1]], 0, 1e-12);
    assert_number(answer.price[0], 1, 1e-12);
    arena_free(&arena);
    lp_free(&lp);
}

static void the_text_of_a_stage_holds_the_earlier_ones(void **state)
{
    (void)state;
    struct lp lp = {0};
    struct text t = {0};
    size_t x_y[2];
    box_build(&lp, x_y);
    lp_add_cost(&lp, 0, x_y[0], 1);
    lp_add_cost(&lp, 1, x_y[1], -0.25);
    lp_write(&lp, 1, (double[]){0.5}, NULL, &t);
    assert_string_equal(text_str(&t), "Minimize\n value: - 0.25 y\nSubject To\n both: + 1 x + 1 y >= 2\n"
                                      " hold_0: + 1 x <= 0.500000000001\nBounds\n 0 <= x <= 2\n 0 <= y <= 2\nEnd\n");
    text_free(&t);
    lp_free(&lp);
}

static bool box_solve(const struct lp_limits *limits, struct lp *lp, struct err *e)
{
    struct arena arena = {0};
    struct lp_answer answer;
    bool ok = lp_solve(lp, 1, limits, &arena, &answer, e);
    arena_free(&arena);
    return ok;
}

static void a_column_without_limits_is_written_so(void **state)
{
    struct err e = {0};
    (void)state;
    struct lp lp = {0};
    struct text t = {0};
    lp_write(&lp, 0, NULL, NULL, &t); /* nothing in, nothing out */
    assert_string_equal(text_str(&t), "");
    size_t row = lp_add_row(&lp, 1, INFINITY, "row"), x = lp_add_col(&lp, -INFINITY, INFINITY, "x");
    size_t y = lp_add_col(&lp, -INFINITY, 3, "y"), z = lp_add_col(&lp, 2, INFINITY, "z");
    lp_add_col(&lp, 0, INFINITY, "usual");
    lp_put(&lp, row, x, 1);
    lp_put(&lp, row, y, 1);
    lp_put(&lp, row, z, 1);
    lp_add_cost(&lp, 0, x, 1);
    lp_write(&lp, 0, NULL, NULL, &t);
    assert_string_equal(text_str(&t), "Minimize\n value: + 1 x\nSubject To\n row: + 1 x + 1 y + 1 z >= 1\n"
                                      "Bounds\n -inf <= x <= +inf\n -inf <= y <= 3\n 2 <= z <= +inf\nEnd\n");
    text_free(&t);
    lp.failed = true; /* out of memory while it was built */
    assert_false(box_solve(NULL, &lp, &e));
    assert_int_equal(e.code, ERR_MEMORY);
    lp_write(&lp, 0, NULL, NULL, &t);
    assert_true(t.failed);
    assert_string_equal(text_str(&t), "");
    text_free(&t);
    lp_free(&lp);
}

/* ---- the guard -------------------------------------------------------------------------------------------------- */

static void a_programme_without_an_answer_says_why(void **state)
{
    (void)state;
    struct lp lp = {0};
    struct err e = {0};
    size_t x_y[2];
    box_build(&lp, x_y);
    lp.rows[0].low = 5;
    assert_false(box_solve(NULL, &lp, &e));
    assert_int_equal(e.code, ERR_INPUT);
    assert_non_null(strstr(e.text, "limits contradict each other"));
    lp.rows[0].low = 2;
    lp.cols[0].high = INFINITY;
    lp_add_cost(&lp, 0, x_y[0], -1);
    assert_false(box_solve(NULL, &lp, &e));
    assert_int_equal(e.code, ERR_INPUT);
    assert_non_null(strstr(e.text, "no limit"));
    lp.cols[0].high = -1; /* and at least 0 */
    assert_false(box_solve(NULL, &lp, &e));
    assert_int_equal(e.code, ERR_INPUT);
    assert_non_null(strstr(e.text, "a lower limit above its upper limit"));
    lp_free(&lp);
}

static void a_solver_that_somebody_else_uses_is_left_alone(void **state)
{
    (void)state;
    struct lp lp = {0};
    struct err e = {0};
    size_t x_y[2];
    box_build(&lp, x_y);
    assert_int_equal(glp_init_env(), 0);
    assert_false(box_solve(NULL, &lp, &e));
    assert_int_equal(e.code, ERR_MISUSE);
    assert_string_equal(e.text, "the linear programme cannot start: the solver is in use already");
    assert_int_equal(glp_free_env(), 0);
    assert_true(box_solve(NULL, &lp, &e));
    lp_free(&lp);
}

/* A transport problem, large enough to meet a limit: n sources, n sinks, costs that follow no pattern. */
static void transport_build(struct lp *lp, size_t n)
{
    for (size_t i = 0; i < 2 * n; i++)
        lp_add_row(lp, i < n ? -INFINITY : 1, i < n ? 1 : INFINITY, "r%zu", i);
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < n; k++) {
            size_t col = lp_add_col(lp, 0, INFINITY, "x%zu_%zu", i, k);
            lp_put(lp, i, col, 1);
            lp_put(lp, n + k, col, 1);
            lp_add_cost(lp, 0, col, 1 + (double)((i * 7919 + k * 104729 + i * k * 31) % 997));
        }
}

static void a_solver_at_its_limit_gives_up_and_can_be_used_again(void **state)
{
    (void)state;
    static const struct {
        struct lp_limits limits;
        enum err_code code;
        const char *text;
    } rows[] = {
        {{.iterations = 3}, ERR_MISUSE, "too many steps"},
        {{.memory_mb = 1}, ERR_MEMORY, "more memory than there is"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct lp lp = {0};
        struct err e = {0};
        transport_build(&lp, 120);
        assert_false(box_solve(&rows[i].limits, &lp, &e));
        assert_int_equal(e.code, rows[i].code);
        assert_non_null(strstr(e.text, rows[i].text));
        e = (struct err){0};
        assert_true(box_solve(NULL, &lp, &e));
        lp_free(&lp);
    }
}

static void what_would_make_the_solver_abort_is_an_error(void **state)
{
    (void)state;
    struct lp lp = {0};
    struct err e = {0};
    size_t x_y[2];
    box_build(&lp, x_y);
    lp_put(&lp, 0, x_y[0], 1); /* twice the same place */
    assert_false(box_solve(NULL, &lp, &e));
    assert_int_equal(e.code, ERR_MISUSE);
    assert_non_null(strstr(e.text, "refused"));
    lp_free(&lp);
    box_build(&lp, x_y);
    assert_true(box_solve(NULL, &lp, &e));
    lp_free(&lp);
}

static void the_solver_writes_nothing_to_the_terminal(void **state)
{
    (void)state;
    struct lp lp = {0};
    struct err e = {0};
    size_t x_y[2];
    box_build(&lp, x_y);
    lp_put(&lp, 0, x_y[0], 1);
    FILE *caught = tmpfile();
    assert_non_null(caught);
    fflush(stdout);
    int terminal = dup(STDOUT_FILENO), errors = dup(STDERR_FILENO);
    assert_true(terminal >= 0 && errors >= 0);
    dup2(fileno(caught), STDOUT_FILENO);
    dup2(fileno(caught), STDERR_FILENO);
    bool ok = box_solve(NULL, &lp, &e);
    fflush(stdout);
    dup2(terminal, STDOUT_FILENO);
    dup2(errors, STDERR_FILENO);
    close(terminal);
    close(errors);
    assert_false(ok);
    assert_int_equal(lseek(fileno(caught), 0, SEEK_END), 0);
    fclose(caught);
    lp_free(&lp);
}

/* ---- the square ------------------------------------------------------------------------------------------------- */

/* Two feeds that make up 100 parts and hold the target: the extension leaflets' square as a programme. */
static void a_square_is_a_programme_of_two_feeds(void **state)
{
    (void)state;
    char line[HANDBOOK_LINE], *cells[HANDBOOK_COLUMNS];
    FILE *f = fopen("tests/handbook/recipe-pearson.csv", "r");
    assert_non_null(f);
    size_t n_cases = 0;
    while (fgets(line, sizeof line, f)) {
        if (line[0] == '#' || cells_split(line, cells) != 6 || strcmp(cells[0], "case") == 0)
            continue;
        struct lp lp = {0};
        struct arena arena = {0};
        struct lp_answer answer;
        struct err e = {0};
        double a = cell_number(cells[1], NAN), b = cell_number(cells[2], NAN), target = cell_number(cells[3], NAN);
        size_t feed_a = lp_add_col(&lp, 0, 100, "a"), feed_b = lp_add_col(&lp, 0, 100, "b");
        size_t whole = lp_add_row(&lp, 100, 100, "whole");
        size_t content = lp_add_row(&lp, 100 * target, 100 * target, "content");
        lp_put(&lp, whole, feed_a, 1);
        lp_put(&lp, whole, feed_b, 1);
        lp_put(&lp, content, feed_a, a);
        lp_put(&lp, content, feed_b, b);
        lp_add_cost(&lp, 0, feed_a, 1);
        bool ok = lp_solve(&lp, 1, NULL, &arena, &answer, &e);
        assert_int_equal(ok, strcmp(cells[4], "none") != 0);
        if (ok)
            assert_number(answer.x[feed_a], cell_number(cells[4], NAN), cell_number(cells[5], NAN));
        else
            assert_int_equal(e.code, ERR_INPUT);
        arena_free(&arena);
        lp_free(&lp);
        n_cases++;
    }
    fclose(f);
    assert_int_equal(n_cases, 4);
}

SUITE(recipe_lp)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_programmes_have_their_published_optimum),
        cmocka_unit_test(a_later_objective_chooses_only_among_the_optima_of_the_earlier),
        cmocka_unit_test(the_text_of_a_stage_holds_the_earlier_ones),
        cmocka_unit_test(a_column_without_limits_is_written_so),
        cmocka_unit_test(a_programme_without_an_answer_says_why),
        cmocka_unit_test(a_solver_that_somebody_else_uses_is_left_alone),
        cmocka_unit_test(a_solver_at_its_limit_gives_up_and_can_be_used_again),
        cmocka_unit_test(what_would_make_the_solver_abort_is_an_error),
        cmocka_unit_test(the_solver_writes_nothing_to_the_terminal),
        cmocka_unit_test(a_square_is_a_programme_of_two_feeds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
