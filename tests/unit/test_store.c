/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows, rounds and the journal of a store. */
#include "neap/advice.h"
#include "neap/ledger.h"
#include "neap/replan.h"
#include "store/internal.h"
#include "exchanged.h"
#include "tests.h"

#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

/* Each test has a folder of its own, removed with all that is in it. */
struct place_of_test {
    char folder[64], path[96], other[96];
};

static int begin(void **state)
{
    struct place_of_test *p = calloc(1, sizeof *p);
    if (!p)
        return 1;
    snprintf(p->folder, sizeof p->folder, "/tmp/neap-store-XXXXXX");
    if (!mkdtemp(p->folder))
        return 1;
    snprintf(p->path, sizeof p->path, "%s/a.neap", p->folder);
    snprintf(p->other, sizeof p->other, "%s/b.neap", p->folder);
    *state = p;
    return 0;
}

static int end(void **state)
{
    static const char *const endings[] = {"", "-wal", "-shm", "-journal", ".part"};
    struct place_of_test *p = *state;
    char path[128];
    for (size_t i = 0; i < COUNT_OF(endings); i++) {
        snprintf(path, sizeof path, "%s%s", p->path, endings[i]);
        unlink(path);
        snprintf(path, sizeof path, "%s%s", p->other, endings[i]);
        unlink(path);
    }
    int rc = rmdir(p->folder);
    free(p);
    return rc;
}

static struct store *opened(const char *path, enum store_mode mode)
{
    struct store *s = NULL;
    struct err e = {0};
    if (!store_open(path, mode, &s, &e))
        fail_msg("%s", e.text);
    return s;
}

static void expect_refused(const char *path, enum store_mode mode, enum err_code code, const char *words)
{
    struct store *s = NULL;
    struct err e = {0};
    assert_false(store_open(path, mode, &s, &e));
    assert_int_equal(e.code, code);
    assert_non_null(strstr(e.text, words));
}

static void sql(struct store *s, const char *text)
{
    struct err e;
    if (!store_run(s, text, &e))
        fail_msg("%s", e.text);
}

/* A row by "name=north, note=by the door". */
struct typed_row {
    struct cell cells[FIELDS_MAX];
    bool present[FIELDS_MAX];
    struct arena arena;
};

static void type_row(struct typed_row *row, const struct reg *r, const char *text)
{
    struct err e;
    *row = (struct typed_row){0};
    while (*text) {
        char name[64], value[64];
        int used = 0;
        assert_true(sscanf(text, " %63[^=]=%63[^,]%n", name, value, &used) == 2);
        size_t at = reg_field(r, name);
        assert_int_not_equal(at, SIZE_MAX);
        if (!cell_parse(&r->fields[at], value, &row->arena, &row->cells[at], &e))
            fail_msg("%s %s", name, e.text);
        row->present[at] = true;
        text += used + (text[used] == ',');
    }
}

static bool put_text(struct store *s, enum reg_id id, const char *text, enum put *outcome, size_t *field, struct err *e)
{
    struct typed_row row;
    type_row(&row, reg_get(id), text);
    bool ok = store_put(s, reg_get(id), row.cells, row.present, outcome, field, e);
    arena_free(&row.arena);
    return ok;
}

static enum put put_well(struct store *s, enum reg_id id, const char *text)
{
    struct err e;
    enum put outcome = PUT_SAME;
    size_t field;
    if (!put_text(s, id, text, &outcome, &field, &e))
        fail_msg("%s", e.text);
    return outcome;
}

static void commit(struct store *s, const char *command)
{
    struct err e;
    if (!store_commit(s, command, 29700000, &e))
        fail_msg("%s", e.text);
}

static void entry_of(struct store *s, enum reg_id id, const char *text)
{
    struct err e;
    assert_true(store_begin(s, &e));
    put_well(s, id, text);
    commit(s, text);
}

static long count(struct store *s, const char *query)
{
    struct err e;
    long n = -1;
    if (!store_number(s, query, -1, &n, &e))
        fail_msg("%s", e.text);
    return n;
}

/* ---- opening --------------------------------------------------------------------------------------------------- */

static void a_new_store_says_whose_and_of_which_version_it_is(void **state)
{
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    assert_int_equal(count(s, "PRAGMA application_id"), 0x6E656170); /* "neap" in ASCII */
    assert_true(count(s, "PRAGMA user_version") >= 1);
    assert_int_equal(count(s, "PRAGMA foreign_keys"), 1);
    assert_int_equal(count(s, "PRAGMA synchronous"), 2); /* FULL */
    store_close(s);
    s = opened(p->path, STORE_READ);
    store_close(s);
}

static void what_is_no_store_of_ours_is_refused_and_left_alone(void **state)
{
    struct place_of_test *p = *state;
    struct stat info;
    expect_refused(p->path, STORE_WRITE, ERR_NOT_FOUND, "no store is there");
    assert_int_not_equal(stat(p->path, &info), 0);

    FILE *f = fopen(p->path, "w");
    assert_non_null(f);
    fputs("name,system\nthis is a table, and long enough to be taken for a page of a database by its size\n", f);
    fclose(f);
    expect_refused(p->path, STORE_WRITE, ERR_STORE, "is not a neap store");
    expect_refused(p->path, STORE_CREATE, ERR_INPUT, "is there already");
    assert_int_equal(unlink(p->path), 0);

    sqlite3 *db;
    assert_int_equal(sqlite3_open(p->path, &db), SQLITE_OK);
    sqlite3_exec(db, "CREATE TABLE t (a); INSERT INTO t VALUES (1)", NULL, NULL, NULL);
    sqlite3_close(db);
    expect_refused(p->path, STORE_WRITE, ERR_INPUT, "database of another program");
}

static void a_store_of_a_newer_neap_is_refused(void **state)
{
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    sql(s, "PRAGMA user_version = 999");
    store_close(s);
    expect_refused(p->path, STORE_READ, ERR_INPUT, "made by a newer neap (store version 999");
    expect_refused(p->path, STORE_WRITE, ERR_INPUT, "made by a newer neap");
}

/* ---- the field table and the schema ------------------------------------------------------------------------------ */

static void every_field_is_a_column_of_its_name_in_its_place(void **state)
{
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    for (size_t i = 0; i < N_REGS; i++) {
        const struct reg *r = reg_get((enum reg_id)i);
        sqlite3_stmt *stmt;
        struct text query = {0};
        size_t n = 0;
        text_addf(&query, "SELECT name, pk > 0, \"notnull\" FROM pragma_table_info('%s') ORDER BY cid", r->name);
        assert_int_equal(sqlite3_prepare_v2(s->db, text_str(&query), -1, &stmt, NULL), SQLITE_OK);
        for (; sqlite3_step(stmt) == SQLITE_ROW; n++) {
            const char *name = (const char *)sqlite3_column_text(stmt, 0);
            if (n == r->n_fields && r->ledger) {
                assert_string_equal(name, "version");
                continue;
            }
            assert_true(n < r->n_fields);
            assert_string_equal(name, r->fields[n].name);
            assert_int_equal(sqlite3_column_int(stmt, 1), (r->fields[n].flags & FIELD_KEY) != 0);
            if (r->fields[n].flags & FIELD_REQUIRED)
                assert_int_equal(sqlite3_column_int(stmt, 2), 1);
        }
        assert_int_equal(n, r->n_fields + r->ledger);
        sqlite3_finalize(stmt);
        text_free(&query);
    }
    store_close(s);
}

/* Does the schema take this value in this column, whatever the other columns say? */
static bool column_takes(struct store *s, const struct reg *r, const struct field *f, const char *literal)
{
    struct text probe = {0};
    char *create = NULL;
    sqlite3_stmt *stmt;
    text_addf(&probe, "SELECT sql FROM sqlite_schema WHERE name = '%s'", r->name);
    assert_int_equal(sqlite3_prepare_v2(s->db, text_str(&probe), -1, &stmt, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(stmt), SQLITE_ROW);
    create = strdup((const char *)sqlite3_column_text(stmt, 0));
    sqlite3_finalize(stmt);
    text_free(&probe);
    assert_non_null(create);

    /* the column's own part of the CREATE statement, as a table of one column */
    struct text line = {0}, insert = {0};
    text_addf(&line, "\n    %s ", f->name);
    const char *at = strstr(create, text_str(&line));
    assert_non_null(at);
    at++; /* a blank or the end of a line, then the name */
    const char *stop = strchr(at, '\n') ? strchr(at, '\n') : at + strlen(at);
    if (f + 1 < r->fields + r->n_fields) {
        struct text next = {0};
        text_addf(&next, ", %s ", f[1].name);
        const char *added = strstr(at, text_str(&next));
        stop = added && added < stop ? added : stop;
        text_free(&next);
    }
    while (stop[-1] == ',')
        stop--;
    char *column = strndup(at, (size_t)(stop - at));
    char *reference = strstr(column, " REFERENCES");
    if (reference)
        *reference = '\0';
    text_addf(&insert, "CREATE TEMP TABLE probe (%s) STRICT; INSERT INTO probe VALUES (%s)", column, literal);
    int rc = sqlite3_exec(s->db, text_str(&insert), NULL, NULL, NULL);
    sqlite3_exec(s->db, "DROP TABLE temp.probe", NULL, NULL, NULL);
    assert_true(rc == SQLITE_OK || rc == SQLITE_CONSTRAINT);
    free(column);
    free(create);
    text_free(&line);
    text_free(&insert);
    return rc == SQLITE_OK;
}

static void expect_limits(struct store *s, const struct reg *r, const struct field *f)
{
    char number[32], literal[40];
    const double steps[][2] = {{f->min, 1}, {f->max, 1}, {f->min, 0}, {f->max, 0}};
    double span = f->max - f->min;
    for (size_t i = 0; i < COUNT_OF(steps); i++) {
        bool inside = steps[i][1] > 0;
        double v = inside ? steps[i][0] : i == 2 ? f->min - (span > 1 ? 1 : span) : f->max + (span > 1 ? 1 : span);
        number_format(v, number);
        snprintf(literal, sizeof literal, "%s", number);
        if (column_takes(s, r, f, literal) != inside)
            fail_msg("%s.%s: %s, and the table says %s", r->name, f->name, literal, inside ? "yes" : "no");
    }
}

static void the_schema_refuses_what_the_field_table_refuses(void **state)
{
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    size_t n = 0;
    for (size_t i = 1; i < N_REGS; i++) {
        const struct reg *r = reg_get((enum reg_id)i);
        for (size_t k = 0; k < r->n_fields; k++) {
            const struct field *f = &r->fields[k];
            bool kept_plan = !r->typed && !r->ledger; /* made by the planner, limits only of sign */
            if ((f->type == FIELD_NUMBER || f->type == FIELD_COUNT) && (f->min != 0 || f->max != 0) && !kept_plan) {
                expect_limits(s, r, f);
                n++;
            }
            if (f->type == FIELD_CHOICE) {
                assert_false(column_takes(s, r, f, "'neither'"));
                assert_true(column_takes(s, r, f, "'box'") == (f->choices[0] && strcmp(f->choices[0], "box") == 0));
            }
            if (f->type == FIELD_FLAG)
                assert_false(column_takes(s, r, f, "2"));
            if (f->type == FIELD_DAY)
                assert_false(column_takes(s, r, f, "'27/11/2026'"));
            if (f->flags & FIELD_REQUIRED)
                assert_false(column_takes(s, r, f, "NULL"));
            else if (!(f->flags & FIELD_KEY))
                assert_true(column_takes(s, r, f, "NULL"));
        }
    }
    assert_true(n > 50);
    store_close(s);
}

/* ---- rows ------------------------------------------------------------------------------------------------------ */

static void the_same_row_twice_changes_nothing_and_makes_no_entry(void **state)
{
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    struct err e;
    entry_of(s, REG_SYSTEM, "name=north, sump_volume_l=900");
    assert_true(store_begin(s, &e));
    assert_int_equal(put_well(s, REG_SYSTEM, "name=north, sump_volume_l=900"), PUT_SAME);
    commit(s, "again");
    assert_int_equal(count(s, "SELECT count(*) FROM entry"), 1);
    assert_true(store_begin(s, &e));
    assert_int_equal(put_well(s, REG_SYSTEM, "name=north, note=x"), PUT_CHANGED);
    store_rollback(s);
    assert_int_equal(count(s, "SELECT count(*) FROM system WHERE note IS NOT NULL"), 0);
    store_close(s);
}

static void a_field_not_given_keeps_its_value(void **state)
{
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    entry_of(s, REG_SYSTEM, "name=north, sump_volume_l=900");
    entry_of(s, REG_SYSTEM, "name=north, note=by the door");
    assert_int_equal(count(s, "SELECT sump_volume_l FROM system WHERE note = 'by the door'"), 900);
    store_close(s);
}

static void a_bad_row_is_refused_with_the_field_to_blame(void **state)
{
    static const struct {
        enum reg_id reg;
        const char *row, *field, *words;
        enum err_code code;
    } rows[] = {
        {REG_TANK, "name=A, system=nroth, shape=stated, net_volume_l=80", "system", "did you mean \"north\"?",
         ERR_NOT_FOUND},
        {REG_TANK, "name=A, system=north, shape=box, length_cm=90", "shape", "is missing", ERR_INPUT},
        {REG_TANK, "name=A, shape=stated, net_volume_l=80", "system", "is empty", ERR_INPUT},
        {REG_BAND, "system=north, analyte=no3, low=10, high=2", "high", "expected low < high", ERR_INPUT},
        {REG_SETTING, "name=feedrs, value=2", "name", "did you mean \"feeders\"?", ERR_NOT_FOUND},
        {REG_SETTING, "name=feeders, value=200", "value", "expected 1 to 20", ERR_INPUT},
        {REG_TEST, "system=north, taken=2026-11-26T07:00, analyte=po4, value=300", "value", "not plausible", ERR_INPUT},
    };
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    entry_of(s, REG_SYSTEM, "name=north");
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct err e = {0};
        enum put outcome;
        size_t field;
        assert_true(store_begin(s, &e));
        assert_false(put_text(s, rows[i].reg, rows[i].row, &outcome, &field, &e));
        assert_int_equal(e.code, rows[i].code);
        assert_non_null(strstr(e.text, rows[i].words));
        assert_int_equal(field, reg_field(reg_get(rows[i].reg), rows[i].field));
        store_rollback(s);
    }
    store_close(s);
}

/* [store 6] */
static void a_ledger_only_grows(void **state)
{
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    const char *key = "system=north, taken=2026-11-26T07:00, analyte=no3, repeat=1, ";
    char row[128];
    entry_of(s, REG_SYSTEM, "name=north");
    for (int value = 5; value < 8; value++) {
        snprintf(row, sizeof row, "%svalue=%d", key, value);
        entry_of(s, REG_TEST, row);
    }
    assert_int_equal(count(s, "SELECT count(*) FROM test"), 3);
    assert_int_equal(count(s, "SELECT count(*) FROM live_test"), 1);
    assert_int_equal(count(s, "SELECT value FROM live_test"), 7);
    struct err e;
    assert_false(store_run(s, "UPDATE test SET value = 1", &e));
    assert_non_null(strstr(e.text, "append-only"));
    assert_false(store_run(s, "DELETE FROM test", &e));
    snprintf(row, sizeof row, "%svoided=yes", key);
    entry_of(s, REG_TEST, row);
    assert_int_equal(count(s, "SELECT count(*) FROM live_test"), 0);
    assert_int_equal(count(s, "SELECT count(*) FROM test"), 4);
    store_close(s);
}

/* ---- journal --------------------------------------------------------------------------------------------------- */

static bool sum_row(void *context, const struct cell *cells, struct err *e)
{
    struct text *all = context;
    (void)e;
    for (size_t i = 0; i < reg_get(REG_SYSTEM)->n_fields; i++) {
        cell_format(&reg_get(REG_SYSTEM)->fields[i], &cells[i], all);
        text_add(all, "|");
    }
    return true;
}

static void systems_text(struct store *s, struct text *out)
{
    struct err e;
    assert_true(store_each(s, reg_get(REG_SYSTEM), sum_row, out, &e));
}

/* [store 5] */
static void undo_goes_back_entry_by_entry_to_the_beginning(void **state)
{
    static const char *const rows[] = {"name=north", "name=south, note=a", "name=north, note=b", "name=north, note=c",
                                       "name=south, quarantine=yes"};
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    struct text before[COUNT_OF(rows)] = {{0}};
    struct entry last;
    struct err e = {0};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        systems_text(s, &before[i]);
        entry_of(s, REG_SYSTEM, rows[i]);
    }
    for (size_t i = COUNT_OF(rows); i-- > 0;) {
        struct text now = {0};
        assert_true(store_last_entry(s, &last, &e));
        assert_string_equal(last.command, rows[i]);
        assert_true(store_undo(s, last.id, "undo", 29700001, &e));
        systems_text(s, &now);
        assert_string_equal(text_str(&now), text_str(&before[i]));
        text_free(&now);
        text_free(&before[i]);
    }
    assert_false(store_last_entry(s, &last, &e));
    assert_int_equal(e.code, ERR_NOT_FOUND);
    store_close(s);
}

static void undo_takes_a_version_out_of_a_ledger_and_closes_the_gate(void **state)
{
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    struct entry last;
    struct err e;
    entry_of(s, REG_SYSTEM, "name=north");
    entry_of(s, REG_TEST, "system=north, taken=2026-11-26T07:00, analyte=no3, value=5");
    assert_true(store_last_entry(s, &last, &e));
    assert_true(store_undo(s, last.id, "undo", 29700001, &e));
    assert_int_equal(count(s, "SELECT count(*) FROM test"), 0);
    assert_int_equal(count(s, "SELECT undoing FROM gate"), 0);
    store_close(s);
}

/* [store 5] */
static void an_entry_that_is_no_longer_the_last_is_not_taken_back(void **state)
{
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    struct entry last;
    struct err e;
    entry_of(s, REG_SYSTEM, "name=north");
    assert_true(store_last_entry(s, &last, &e));
    entry_of(s, REG_SYSTEM, "name=south");
    assert_false(store_undo(s, last.id, "undo", 29700001, &e));
    assert_non_null(strstr(e.text, "was made meanwhile"));
    assert_int_equal(count(s, "SELECT count(*) FROM system"), 2);
    store_close(s);
}

struct seen {
    struct text words;
};

static bool see_change(void *context, const struct row_change *c, struct err *e)
{
    struct seen *seen = context;
    (void)e;
    size_t note = reg_field(c->reg, "note");
    text_addf(&seen->words, "%s %s %d:", c->reg->name, c->after[0].text, (int)c->what);
    cell_format(&c->reg->fields[note], &c->before[note], &seen->words);
    text_add(&seen->words, ">");
    cell_format(&c->reg->fields[note], &c->after[note], &seen->words);
    text_addf(&seen->words, c->touched[note] ? " touched;" : ";");
    return true;
}

static void the_journal_tells_what_an_entry_changed(void **state)
{
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    struct seen seen = {{0}};
    struct err e;
    entry_of(s, REG_SYSTEM, "name=north, note=a");
    entry_of(s, REG_SYSTEM, "name=north, note=b");
    entry_of(s, REG_SYSTEM, "name=north, quarantine=yes");
    for (long id = 1; id <= 3; id++)
        assert_true(store_each_change(s, id, see_change, &seen, &e));
    assert_string_equal(text_str(&seen.words),
                        "system north 0:>a touched;system north 1:a>b touched;system north 1:>;");
    text_free(&seen.words);
    assert_false(store_each_change(s, 99, see_change, &seen, &e));
    assert_int_equal(e.code, ERR_NOT_FOUND);
    store_close(s);
}

/* ---- others ------------------------------------------------------------------------------------------------------ */

/* [store 3] */
static void a_writer_waits_for_another_and_then_says_so(void **state)
{
    struct place_of_test *p = *state;
    struct store *one = opened(p->path, STORE_CREATE), *two = opened(p->path, STORE_WRITE);
    struct err e = {0};
    sqlite3_busy_timeout(two->db, 50);
    assert_true(store_begin(one, &e));
    put_well(one, REG_SYSTEM, "name=north");
    assert_false(store_begin(two, &e));
    assert_int_equal(e.code, ERR_STORE);
    assert_non_null(strstr(e.text, "in use by another program"));
    assert_int_equal(count(two, "SELECT count(*) FROM system"), 0); /* a reader neither waits nor sees it */
    commit(one, "add north");
    entry_of(two, REG_SYSTEM, "name=south");
    assert_int_equal(count(one, "SELECT count(*) FROM system"), 2);
    store_close(one);
    store_close(two);
}

/* [store 4] */
static void a_reading_is_of_one_moment(void **state)
{
    struct place_of_test *p = *state;
    struct store *one = opened(p->path, STORE_CREATE), *two = opened(p->path, STORE_READ);
    struct err e;
    entry_of(one, REG_SYSTEM, "name=north");
    assert_true(store_begin_reading(two, &e));
    assert_int_equal(count(two, "SELECT count(*) FROM system"), 1);
    entry_of(one, REG_SYSTEM, "name=south");
    assert_int_equal(count(two, "SELECT count(*) FROM system"), 1);
    store_rollback(two);
    assert_int_equal(count(two, "SELECT count(*) FROM system"), 2);
    store_close(two);
    store_close(one);
}

struct heard_entries {
    size_t n, n_undone;
    long last_undone_by;
};

static bool hear_entry(void *context, const struct entry *entry, struct err *e)
{
    struct heard_entries *heard = context;
    (void)e;
    heard->n++;
    heard->n_undone += entry->undone_by > 0;
    heard->last_undone_by = entry->undone_by;
    return true;
}

/* The work that a command may do grows with the store, and so may what the listing does: not with its square. */
/* Enters another of the crew as soon as the second question about it is asked. */
struct beside {
    struct store *writer;
    int n_asked;
};

static int log_meanwhile(unsigned what, void *context, void *stmt, void *text)
{
    struct beside *b = context;
    (void)what;
    (void)stmt;
    if (strstr(text, "crew") && ++b->n_asked == 2)
        entry_of(b->writer, REG_CREW, "round=1, feeder=2, name=ML");
    return 0;
}

/* [store 4] */
static void a_log_is_read_whole_while_others_write(void **state)
{
    struct place_of_test *p = *state;
    struct store *one = opened(p->path, STORE_CREATE), *two = opened(p->path, STORE_READ);
    struct beside beside = {.writer = one};
    struct facility f = {0};
    struct round_log log;
    struct err e;
    entry_of(one, REG_CREW, "round=1, feeder=1, name=JK");
    sqlite3_trace_v2(two->db, SQLITE_TRACE_STMT, log_meanwhile, &beside);
    if (!store_load_log(two, &f, 1, &log, &e))
        fail_msg("%s", e.text);
    assert_int_equal(beside.n_asked, 2);
    assert_int_equal(log.n_crews, 1);
    round_log_free(&log);
    if (!store_load_log(two, &f, 1, &log, &e))
        fail_msg("%s", e.text);
    assert_int_equal(log.n_crews, 2);
    round_log_free(&log);
    store_close(two);
    store_close(one);
}

static void a_journal_of_many_years_is_listed_whole(void **state)
{
    enum { ENTRIES = 30000 };
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    struct heard_entries heard = {0};
    struct err e = {0};
    /* of three, the second takes back the first; of the last three, the third takes back the undo */
    sql(s, "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 30000)"
           " INSERT INTO entry (id, made, command, undoes, checksum) SELECT i, '2026-11-27T08:00', 'neap',"
           " CASE WHEN i % 3 = 2 OR i = 30000 THEN i - 1 END, 0 FROM n");
    if (!store_each_entry(s, -1, hear_entry, &heard, &e))
        fail_msg("%s", e.text);
    assert_int_equal(heard.n, ENTRIES);
    assert_int_equal(heard.n_undone, ENTRIES / 3); /* every first but one, and the undo that was redone */
    assert_int_equal(heard.last_undone_by, 2);
    heard = (struct heard_entries){0};
    assert_true(store_each_entry(s, 3, hear_entry, &heard, &e));
    assert_int_equal(heard.n, 3);
    assert_int_equal(heard.last_undone_by, 0); /* its undo was redone */
    store_close(s);
}

static bool hear_change(void *context, const struct row_change *c, struct err *e)
{
    (void)c, (void)e;
    ++*(size_t *)context;
    return true;
}

/*
 * The entry of a load of many rows: more than one part, rows that point to a row of another part, and one that was
 * added in the first part and set in the last.
 */
enum { MANY = 4500 };
static void put_many(struct store *s)
{
    struct err e;
    char row[96];
    assert_true(store_begin(s, &e));
    put_well(s, REG_SYSTEM, "name=first, note=a");
    for (int i = 0; i < MANY; i++) {
        snprintf(row, sizeof row, "name=T%05d, system=first, shape=stated, net_volume_l=%d", i, 100 + i % 7);
        assert_int_equal(put_well(s, REG_TANK, row), PUT_NEW);
    }
    assert_int_equal(put_well(s, REG_SYSTEM, "name=first, note=b"), PUT_CHANGED);
    commit(s, "load");
}

static void expect_sound(struct store *s)
{
    struct text findings = {0};
    struct err e;
    size_t n;
    assert_true(store_audit(s, &findings, &n, &e));
    if (n > 0)
        fail_msg("%s", text_str(&findings));
    text_free(&findings);
}

/* [store 5] */
static void an_entry_of_many_rows_is_kept_and_taken_back_in_parts(void **state)
{
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    struct err e;
    size_t heard = 0;
    entry_of(s, REG_SYSTEM, "name=before");
    put_many(s);
    assert_int_equal(count(s, "SELECT count(*) FROM entry"), 2);
    assert_int_equal(count(s, "SELECT count(*) FROM entry_part WHERE entry = 1"), 1);
    assert_true(count(s, "SELECT count(*) FROM entry_part WHERE entry = 2") > 1);
    assert_true(store_each_change(s, 2, hear_change, &heard, &e));
    assert_int_equal(heard, MANY + 2);
    expect_sound(s);
    assert_true(store_undo(s, 2, "undo", 29700001, &e));
    assert_int_equal(count(s, "SELECT count(*) FROM tank"), 0);
    assert_int_equal(count(s, "SELECT count(*) FROM system"), 1);
    assert_int_equal(count(s, "SELECT count(*) FROM entry"), 3);
    expect_sound(s);
    assert_true(store_redo(s, 3, "redo", 29700002, &e));
    assert_int_equal(count(s, "SELECT count(*) FROM tank"), MANY);
    assert_int_equal(count(s, "SELECT count(*) FROM system WHERE note = 'b'"), 1);
    expect_sound(s);
    store_close(s);
}

/* Each part may be whole by itself: it is the entry that is not. */
static void a_part_that_is_gone_or_in_another_place_is_damage(void **state)
{
    static const char *const damages[] = {
        "DELETE FROM entry_part WHERE number = 1",
        "DELETE FROM entry_part WHERE number = (SELECT max(number) FROM entry_part)",
        "DELETE FROM entry_part",
        "UPDATE entry_part SET number = 100 - number",
    };
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    struct err e = {0};
    bool sound = false;
    put_many(s);
    sql(s, "CREATE TEMP TABLE kept AS SELECT * FROM entry_part");
    for (size_t i = 0; i < COUNT_OF(damages); i++) {
        size_t heard = 0;
        sql(s, damages[i]);
        assert_true(store_entry_sound(s, 1, &sound, &e) && !sound);
        assert_false(store_each_change(s, 1, hear_change, &heard, &e));
        assert_int_equal(heard, 0);
        assert_false(store_undo(s, 1, "undo", 29700001, &e));
        assert_non_null(strstr(e.text, "entry 1 of the journal is damaged"));
        assert_int_equal(count(s, "SELECT count(*) FROM tank"), MANY);
        sql(s, "DELETE FROM entry_part; INSERT INTO entry_part SELECT * FROM kept");
        assert_true(store_entry_sound(s, 1, &sound, &e) && sound);
    }
    store_close(s);
}

/* [store 5]: a row that was changed by hand stops the undo in a late part, and the parts before it are as they were. */
static void an_entry_of_parts_is_taken_back_whole_or_not_at_all(void **state)
{
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    struct err e = {0};
    put_many(s);
    sql(s, "UPDATE tank SET net_volume_l = 99 WHERE name = 'T00001'"); /* of the first part, taken back last */
    assert_false(store_undo(s, 1, "undo", 29700001, &e));
    assert_non_null(strstr(e.text, "not as it left them"));
    assert_int_equal(count(s, "SELECT count(*) FROM tank"), MANY);
    assert_int_equal(count(s, "SELECT count(*) FROM system WHERE note = 'b'"), 1);
    assert_int_equal(count(s, "SELECT count(*) FROM entry"), 1);
    store_close(s);
}

static void set_changes(struct store *s, const unsigned char *bytes, size_t len)
{
    sqlite3_stmt *stmt;
    assert_int_equal(sqlite3_prepare_v2(s->db, "UPDATE entry_part SET changes = ?1 WHERE entry = 2", -1, &stmt, NULL),
                     SQLITE_OK);
    sqlite3_bind_blob(stmt, 1, bytes, (int)len, SQLITE_TRANSIENT);
    assert_int_equal(sqlite3_step(stmt), SQLITE_DONE);
    sqlite3_finalize(stmt);
}

/* Bytes changed, cut off or put on: SQLite's own reader ran for ever, or past the end, on most of such changesets. */
static void a_damaged_entry_is_told_and_never_read(void **state)
{
    enum { DAMAGES = 400, BYTES_MAX = 4096 };
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE);
    static unsigned char whole[BYTES_MAX], bytes[BYTES_MAX];
    sqlite3_stmt *stmt;
    struct entry last;
    struct err e = {0};
    uint32_t x = 1;
    entry_of(s, REG_SYSTEM, "name=north");
    entry_of(s, REG_SYSTEM, "name=north, note=a, sump_volume_l=3");
    assert_int_equal(sqlite3_prepare_v2(s->db, "SELECT changes FROM entry_part WHERE entry = 2", -1, &stmt, NULL),
                     SQLITE_OK);
    assert_int_equal(sqlite3_step(stmt), SQLITE_ROW);
    size_t len = (size_t)sqlite3_column_bytes(stmt, 0);
    assert_true(len > 10 && len < BYTES_MAX / 2);
    memcpy(whole, sqlite3_column_blob(stmt, 0), len);
    sqlite3_finalize(stmt);
    for (int i = 0; i < DAMAGES; i++) {
        size_t now = i % 4 == 0 ? next_random(&x) % len : i % 4 == 1 ? len + 1 + next_random(&x) % len : len;
        size_t heard = 0;
        bool sound;
        memcpy(bytes, whole, sizeof bytes);
        for (uint32_t n = 1 + next_random(&x) % 4; n > 0; n--)
            bytes[next_random(&x) % len] ^= (unsigned char)(1 + next_random(&x) % 255);
        if (now == len && memcmp(bytes, whole, len) == 0) /* two changes of one byte may undo each other */
            continue;
        set_changes(s, bytes, now);
        assert_true(store_entry_sound(s, 2, &sound, &e) && !sound);
        assert_true(store_entry_sound(s, 1, &sound, &e) && sound);
        assert_false(store_each_change(s, 2, hear_change, &heard, &e));
        assert_int_equal(heard, 0);
        assert_int_equal(e.code, ERR_STORE);
        assert_non_null(strstr(e.text, "entry 2 of the journal is damaged"));
        assert_true(store_last_entry(s, &last, &e) && last.id == 2);
        assert_false(store_undo(s, 2, "undo", 29700001, &e));
        assert_non_null(strstr(e.text, "entry 2 of the journal is damaged"));
    }
    assert_int_equal(count(s, "SELECT count(*) FROM system WHERE note = 'a'"), 1);
    set_changes(s, whole, len);
    assert_true(store_undo(s, 2, "undo", 29700001, &e)); /* the same bytes are sound again */
    assert_int_equal(count(s, "SELECT count(*) FROM system WHERE note = 'a'"), 0);
    store_close(s);
}

/* [store 7] */
static void an_audit_finds_what_was_changed_past_the_program(void **state)
{
    static const struct {
        const char *damage, *finding;
    } rows[] = {
        {"UPDATE tank SET system = 'nowhere'", "a row of tank points to a system that is not there"},
        {"UPDATE tank SET net_volume_l = NULL", "tank A: stated volume is missing"},
        {"INSERT INTO given (round, line, sheet_revision, outcome, version) VALUES (1, 5, 1, 'given', 1)",
         "round 1 line 5: was logged, and is not in the plan"},
        {"INSERT INTO test (system, taken, analyte, repeat, value, version) VALUES ('north', '2026-11-26T07:00', "
         "'no3', 1, 5, 2)",
         "its versions have a gap"},
        {"UPDATE gate SET undoing = 1", "an undo was left open"},
        {"UPDATE entry_part SET changes = x'00' WHERE entry = 1", "entry 1 is damaged"},
        {"ALTER TABLE system ADD COLUMN extra TEXT", "the table system is not as this neap makes it"},
    };
    struct place_of_test *p = *state;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct store *s = opened(p->path, STORE_CREATE);
        struct text findings = {0};
        struct err e;
        size_t n;
        entry_of(s, REG_SYSTEM, "name=north");
        entry_of(s, REG_TANK, "name=A, system=north, shape=stated, net_volume_l=80");
        assert_true(store_audit(s, &findings, &n, &e));
        assert_int_equal(n, 0);
        sql(s, "PRAGMA foreign_keys = OFF");
        sql(s, rows[i].damage);
        assert_true(store_audit(s, &findings, &n, &e));
        assert_true(n >= 1);
        if (!strstr(text_str(&findings), rows[i].finding))
            fail_msg("%s gave: %s", rows[i].damage, text_str(&findings));
        text_free(&findings);
        store_close(s);
        assert_int_equal(unlink(p->path), 0);
    }
}

static void a_backup_is_whole_and_replaces_only_a_backup(void **state)
{
    struct text findings = {0};
    size_t n_findings;
    struct place_of_test *p = *state;
    struct store *s = opened(p->path, STORE_CREATE), *copy;
    struct err e = {0};
    entry_of(s, REG_SYSTEM, "name=north");
    assert_true(store_backup(s, p->other, &findings, &n_findings, &e));
    entry_of(s, REG_SYSTEM, "name=south");
    assert_true(store_backup(s, p->other, &findings, &n_findings, &e));
    copy = opened(p->other, STORE_READ);
    assert_int_equal(count(copy, "SELECT count(*) FROM system"), 2);
    assert_int_equal(count(copy, "SELECT count(*) FROM entry"), 2);
    store_close(copy);
    assert_false(store_backup(s, p->path, &findings, &n_findings, &e));
    assert_non_null(strstr(e.text, "is the store itself"));
    assert_false(store_copy_new(s, p->other, &findings, &n_findings, &e));
    assert_int_equal(e.code, ERR_INPUT);
    FILE *f = fopen(p->other, "w");
    assert_non_null(f);
    fputs("a letter", f);
    fclose(f);
    assert_false(store_backup(s, p->other, &findings, &n_findings, &e));
    assert_non_null(strstr(e.text, "is no backup"));
    struct stat info;
    assert_int_equal(stat(p->other, &info), 0);
    assert_int_equal(info.st_size, 8);
    store_close(s);
}

/* ---- tests of a window ------------------------------------------------------------------------------------------- */

enum { HISTORY_D = 1200, HISTORY_FROM = 20000 };

static unsigned drawn(uint64_t *z, unsigned n)
{
    *z = *z * 6364136223846793005u + 1442695040888963407u; /* Knuth's MMIX */
    return (unsigned)(*z >> 33) % n;
}

/*
 * Some years of an analyte: now and then another method takes over, cross-checks between, gaps of months, a thermometer
 * in frost.
 */
static void draw_history(struct store *s, enum analyte a, uint64_t *z)
{
    unsigned methods = 1 + drawn(z, 3), gap_most = 2 + drawn(z, 40), method = 0;
    for (unsigned day = drawn(z, 300); day < HISTORY_D; day += 1 + drawn(z, drawn(z, 30) == 0 ? 400 : gap_most)) {
        char moment[MOMENT_TEXT];
        struct text row = {0};
        bool frost = a == ANALYTE_TEMP && drawn(z, 10) == 0;
        method = drawn(z, 25) == 0 ? drawn(z, methods) : method;
        moment_format((long)(HISTORY_FROM + day) * MIN_PER_DAY + drawn(z, 1000), moment);
        text_addf(&row,
                  "INSERT OR IGNORE INTO test (system, taken, analyte, repeat, value, below, method, version)"
                  " VALUES ('reef', '%s', '%s', 1, %g, %d, nullif('%.*s', ''), 1)",
                  moment, analytes[a].name, frost ? -1 : 1 + drawn(z, 200) / 20.0, !frost && drawn(z, 6) == 0,
                  (int)(drawn(z, 6) ? method : drawn(z, methods)), "QQ");
        sql(s, text_str(&row));
        text_free(&row);
    }
}

static void expect_same_method(const struct facility *f, int a, const struct facility *g, int b)
{
    assert_string_equal(f->tests[a].method, g->tests[b].method);
}

static void expect_same_trend(const struct facility *whole, const struct facility *late, enum analyte a, long now,
                              double days)
{
    struct arena arena = {0};
    struct state x, y;
    struct err e;
    bool ok = plan_trend(whole, 0, a, now, days, &arena, &x, &e) && plan_trend(late, 0, a, now, days, &arena, &y, &e);
    if (!ok)
        fail_msg("%s", e.text);
    assert_true(x.n == y.n && x.n_below == y.n_below && x.n_fitted == y.n_fitted && x.n_other == y.n_other);
    assert_true(x.n_offset == y.n_offset && x.n_pairs == y.n_pairs && x.offset == y.offset);
    assert_true(x.has_last == y.has_last && x.has_level == y.has_level && x.has_slope == y.has_slope);
    assert_true(x.verdict == y.verdict && x.level_verdict == y.level_verdict && x.method_changed == y.method_changed);
    assert_true(x.break_min == y.break_min && x.p == y.p && x.stale == y.stale && x.n_outliers == y.n_outliers);
    if (x.has_last) {
        assert_true(x.last.moment_min == y.last.moment_min && x.last.value == y.last.value);
        expect_same_method(whole, x.method, late, y.method);
        expect_same_method(whole, x.method_before, late, y.method_before);
    }
    assert_true(!x.has_level || (x.level == y.level && x.level_sd == y.level_sd));
    assert_true(!x.has_slope ||
                (x.slope_per_d == y.slope_per_d && x.slope_lo == y.slope_lo && x.slope_hi == y.slope_hi));
    arena_free(&arena);
}

static struct facility snapshot_of(struct store *s, struct look_back back)
{
    struct facility f;
    struct err e;
    if (!store_snapshot(s, &back, &f, &e))
        fail_msg("%s", e.text);
    return f;
}

/* A snapshot that leaves old tests out must not be seen to: whatever the methods, each trend is as by all tests. */
static void a_trend_of_late_tests_is_that_of_all_of_them(void **state)
{
    struct place_of_test *p = *state;
    static const enum analyte drawn_of[] = {ANALYTE_NO3, ANALYTE_PO4, ANALYTE_ALK, ANALYTE_TEMP};
    size_t n_whole = 0, n_late = 0;
    for (uint64_t seed = 1; seed <= TRIALS_LEAST(3, 2); seed++) {
        uint64_t z = seed;
        struct store *s = opened(p->path, STORE_CREATE);
        sql(s, "PRAGMA synchronous = OFF; BEGIN; INSERT INTO system (name) VALUES ('reef')");
        for (size_t i = 0; i < COUNT_OF(drawn_of); i++)
            draw_history(s, drawn_of[i], &z);
        sql(s, "COMMIT");
        for (int day = HISTORY_FROM + 10; day < HISTORY_FROM + HISTORY_D + 300; day += 97) {
            const long now = day * MIN_PER_DAY + 480;
            struct facility whole = snapshot_of(s, (struct look_back){.day = day, .every_test = true});
            struct facility late = snapshot_of(s, (struct look_back){.day = day, .days = 200});
            for (size_t i = 0; i < COUNT_OF(drawn_of); i++) {
                expect_same_trend(&whole, &late, drawn_of[i], now, 0);
                expect_same_trend(&whole, &late, drawn_of[i], now, 200);
            }
            assert_int_equal(tests_due(&whole, 0, now).last_day, tests_due(&late, 0, now).last_day);
            n_whole += whole.n_tests;
            n_late += late.n_tests;
            facility_free(&whole);
            facility_free(&late);
        }
        store_close(s);
        store_remove(p->path);
    }
    assert_true(n_late < n_whole * 9 / 10);
}

#define IN_A_FOLDER(test) cmocka_unit_test_setup_teardown(test, begin, end)

SUITE(store)
{
    const struct CMUnitTest tests[] = {
        IN_A_FOLDER(a_new_store_says_whose_and_of_which_version_it_is),
        IN_A_FOLDER(what_is_no_store_of_ours_is_refused_and_left_alone),
        IN_A_FOLDER(a_store_of_a_newer_neap_is_refused),
        IN_A_FOLDER(every_field_is_a_column_of_its_name_in_its_place),
        IN_A_FOLDER(the_schema_refuses_what_the_field_table_refuses),
        IN_A_FOLDER(the_same_row_twice_changes_nothing_and_makes_no_entry),
        IN_A_FOLDER(a_field_not_given_keeps_its_value),
        IN_A_FOLDER(a_bad_row_is_refused_with_the_field_to_blame),
        IN_A_FOLDER(a_ledger_only_grows),
        IN_A_FOLDER(undo_goes_back_entry_by_entry_to_the_beginning),
        IN_A_FOLDER(a_journal_of_many_years_is_listed_whole),
        IN_A_FOLDER(a_damaged_entry_is_told_and_never_read),
        IN_A_FOLDER(an_entry_of_many_rows_is_kept_and_taken_back_in_parts),
        IN_A_FOLDER(a_part_that_is_gone_or_in_another_place_is_damage),
        IN_A_FOLDER(an_entry_of_parts_is_taken_back_whole_or_not_at_all),
        IN_A_FOLDER(undo_takes_a_version_out_of_a_ledger_and_closes_the_gate),
        IN_A_FOLDER(an_entry_that_is_no_longer_the_last_is_not_taken_back),
        IN_A_FOLDER(the_journal_tells_what_an_entry_changed),
        IN_A_FOLDER(a_writer_waits_for_another_and_then_says_so),
        IN_A_FOLDER(a_reading_is_of_one_moment),
        IN_A_FOLDER(a_log_is_read_whole_while_others_write),
        IN_A_FOLDER(an_audit_finds_what_was_changed_past_the_program),
        IN_A_FOLDER(a_backup_is_whole_and_replaces_only_a_backup),
        IN_A_FOLDER(a_trend_of_late_tests_is_that_of_all_of_them),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
