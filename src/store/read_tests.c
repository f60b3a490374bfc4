/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The tests that a snapshot has. Of each water and analyte those from a day on, and as many before it as make a run: by
 * then the run's method is the one in use, whatever was read before it (trend.h, struct series). Where more than one
 * method is among them, an earlier reading can still say which is in use and how far the others are from it: then all.
 */
#include "internal.h"
#include "neap/trend.h"

struct reading_tests {
    const struct facility *f;
    struct arena *arena;
    struct row_list list;
};

static bool take_test(void *context, const struct cell *cells, struct err *e)
{
    struct reading_tests *in = context;
    struct test *t = store_list_add(&in->list, sizeof *t, e);
    return t && store_fill(reg_get(REG_TEST), in->f, in->arena, cells, t, e);
}

static bool bind_text(struct store *s, sqlite3_stmt *stmt, int at, const char *text, struct err *e)
{
    return sqlite3_bind_text(stmt, at, text, -1, SQLITE_STATIC) == SQLITE_OK || store_fail(s, e);
}

struct pair_statements {
    sqlite3_stmt *begins, *rows;
};

static const char begin_of[] =
    "WITH begin (at) AS (SELECT coalesce((SELECT taken FROM live_test WHERE system = ?1 AND analyte = ?2 AND taken < ?3"
    " AND value >= 0 ORDER BY taken DESC LIMIT 1 OFFSET ?4), ''))" /* a trend does not take those below 0 */
    " SELECT CASE WHEN (SELECT count(DISTINCT coalesce(method, '')) FROM live_test"
    " WHERE system = ?1 AND analyte = ?2 AND taken >= at) > 1 THEN '' ELSE at END FROM begin";

static bool statements_make(struct store *s, struct pair_statements *st, struct err *e)
{
    struct text sql = {0};
    text_add(&sql, "SELECT ");
    store_columns(reg_get(REG_TEST), false, &sql);
    text_add(&sql, " FROM live_test WHERE system = ?1 AND analyte = ?2 AND taken >= ?3");
    bool ok = (!sql.failed || err_memory(e)) && store_prepare(s, begin_of, &st->begins, e) &&
              store_prepare(s, text_str(&sql), &st->rows, e);
    text_free(&sql);
    return ok;
}

/* at: the moment from which on the pair's tests are read; "": all. */
static bool find_begin(struct store *s, sqlite3_stmt *stmt, const char *system, const char *analyte, const char *since,
                       char at[MOMENT_TEXT], struct err *e)
{
    if (!bind_text(s, stmt, 1, system, e) || !bind_text(s, stmt, 2, analyte, e) || !bind_text(s, stmt, 3, since, e) ||
        (sqlite3_bind_int(stmt, 4, SERIES_RUN - 1) != SQLITE_OK && !store_fail(s, e)))
        return false;
    bool ok = sqlite3_step(stmt) == SQLITE_ROW || store_fail(s, e);
    if (ok)
        snprintf(at, MOMENT_TEXT, "%s", (const char *)sqlite3_column_text(stmt, 0));
    sqlite3_reset(stmt);
    return ok;
}

static bool read_pair(struct store *s, const struct pair_statements *st, const char *system, const char *analyte,
                      const char *since, struct reading_tests *in, struct err *e)
{
    char at[MOMENT_TEXT];
    return find_begin(s, st->begins, system, analyte, since, at, e) && bind_text(s, st->rows, 1, system, e) &&
           bind_text(s, st->rows, 2, analyte, e) && bind_text(s, st->rows, 3, at, e) &&
           store_each_row(s, st->rows, reg_get(REG_TEST), take_test, in, e);
}

/* As the table has them: by system, moment, analyte and repeat. */
static int test_compare(const void *a, const void *b)
{
    const struct test *x = a, *y = b;
    if (x->system != y->system)
        return x->system < y->system ? -1 : 1;
    if (x->taken != y->taken)
        return x->taken < y->taken ? -1 : 1;
    if (x->analyte != y->analyte)
        return strcmp(analytes[x->analyte].name, analytes[y->analyte].name);
    return (x->repeat > y->repeat) - (x->repeat < y->repeat);
}

bool store_read_tests(struct store *s, struct facility *f, int first_day, struct err *e)
{
    struct reading_tests in = {.f = f, .arena = &f->arena};
    struct pair_statements st = {0};
    char since[DAY_TEXT];
    day_format(first_day, since);
    bool ok = statements_make(s, &st, e);
    for (size_t i = 0; ok && i < f->n_systems; i++)
        for (int a = 0; ok && a < N_ANALYTES; a++)
            ok = read_pair(s, &st, f->systems[i].name, analytes[a].name, since, &in, e);
    sqlite3_finalize(st.begins);
    sqlite3_finalize(st.rows);
    if (!store_list_end(&in.list, ok, sizeof *f->tests, &f->arena, &f->tests, &f->n_tests, e))
        return false;
    if (f->n_tests > 0)
        qsort(f->tests, f->n_tests, sizeof *f->tests, test_compare);
    return true;
}
