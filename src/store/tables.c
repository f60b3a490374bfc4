/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The tables of the registers, written from the field table: types, limits, choices, references and keys stand there
 * and nowhere else. What a field's row changes, opening an older store for writing changes in its tables.
 */
#include "internal.h"

static const char *type_of(const struct field *f)
{
    switch (f->type) {
    case FIELD_NUMBER: return "REAL";
    case FIELD_COUNT:
    case FIELD_FLAG: return "INTEGER";
    default: return "TEXT";
    }
}

static void write_choices(const struct field *f, struct text *sql)
{
    text_addf(sql, " CHECK (%s IN (", f->name);
    for (size_t i = 0; f->choices[i]; i++)
        text_addf(sql, "%s'%s'", i ? ", " : "", f->choices[i]);
    text_add(sql, "))");
}

static void write_limits(const struct field *f, struct text *sql)
{
    if (f->min == 0 && f->max == 0)
        text_addf(sql, " CHECK (%s >= 0)", f->name);
    else
        text_addf(sql, " CHECK (%s BETWEEN %.15g AND %.15g)", f->name, f->min, f->max);
}

#define DAY_GLOB "[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]"

static void write_check(const struct field *f, struct text *sql)
{
    switch (f->type) {
    case FIELD_NAME:
        text_addf(sql, " CHECK (length(%s) %s %d)", f->name, field_is_key(f) ? "BETWEEN 1 AND" : "<=", NAME_BYTES_MAX);
        break;
    case FIELD_TEXT: text_addf(sql, " CHECK (length(%s) <= %d)", f->name, NOTE_BYTES_MAX); break;
    case FIELD_NUMBER:
    case FIELD_COUNT: write_limits(f, sql); break;
    case FIELD_FLAG: text_addf(sql, " CHECK (%s IN (0, 1))", f->name); break;
    case FIELD_DAY: text_addf(sql, " CHECK (%s GLOB '" DAY_GLOB "')", f->name); break;
    case FIELD_MOMENT: text_addf(sql, " CHECK (%s GLOB '" DAY_GLOB "T[0-2][0-9]:[0-5][0-9]')", f->name); break;
    case FIELD_CLOCK: text_addf(sql, " CHECK (%s GLOB '[0-9][0-9]:[0-5][0-9]')", f->name); break;
    case FIELD_CHOICE: write_choices(f, sql); break;
    case FIELD_REF: text_addf(sql, " REFERENCES %s", reg_get(f->ref)->name); break;
    }
}

static void write_column(const struct field *f, struct text *sql)
{
    text_addf(sql, "    %s %s%s", f->name, type_of(f), f->flags & (FIELD_KEY | FIELD_REQUIRED) ? " NOT NULL" : "");
    write_check(f, sql);
    text_add(sql, ",\n");
}

static void write_version(struct text *sql)
{
    text_add(sql, "    version INTEGER NOT NULL CHECK (version >= 1),\n");
}

/* A part of a round or of a pot begins with the keys of the whole, which come first there too. */
static void write_whole(const struct reg *r, struct text *sql)
{
    const struct reg *whole = reg_get(r->part_of);
    if (r->part_of == REG_SETTING)
        return;
    text_add(sql, "    FOREIGN KEY (");
    for (size_t i = 0; i < whole->n_fields && field_is_key(&whole->fields[i]); i++)
        text_addf(sql, "%s%s", i ? ", " : "", r->fields[i].name);
    text_addf(sql, ") REFERENCES %s (", whole->name);
    store_columns(whole, true, sql);
    text_add(sql, "),\n");
}

/*
 * order: the fields' numbers in the order of the columns; SIZE_MAX stands for a ledger's version. A store that was
 * brought up to date keeps its columns where they were, and new ones come last: undo's changesets go by places.
 */
static void write_table(const struct reg *r, const char *name, const size_t *order, size_t n, struct text *sql)
{
    text_addf(sql, "CREATE TABLE %s (\n", name);
    for (size_t i = 0; i < n; i++)
        if (order[i] == SIZE_MAX)
            write_version(sql);
        else
            write_column(&r->fields[order[i]], sql);
    write_whole(r, sql);
    text_add(sql, "    PRIMARY KEY (");
    store_columns(r, true, sql);
    /*
     * Ledgers keep their rowid: integrity_check of SQLite 3.40 misreads a WITHOUT ROWID table whose key is not its
     * leading columns.
     */
    text_add(sql, r->ledger ? ", version)\n) STRICT" : ")\n) STRICT, WITHOUT ROWID");
}

/* Appended to only, but by undo; and the view of the latest versions that were not taken back. */
static void write_ledger(const struct reg *r, struct text *sql)
{
    static const char *const verbs[][2] = {{"keeps", "UPDATE"}, {"stays", "DELETE"}};
    for (size_t i = 0; i < COUNT_OF(verbs); i++)
        text_addf(sql,
                  "CREATE TRIGGER %s_%s BEFORE %s ON %s WHEN (SELECT undoing FROM gate) = 0\n"
                  "BEGIN SELECT RAISE(ABORT, '%s is append-only'); END;\n",
                  r->name, verbs[i][0], verbs[i][1], r->name, r->name);
    text_addf(sql,
              "CREATE VIEW live_%s AS SELECT * FROM %s AS o WHERE coalesce(voided, 0) = 0\n"
              "    AND NOT EXISTS (SELECT 1 FROM %s AS n WHERE ",
              r->name, r->name, r->name);
    for (size_t i = 0; i < r->n_fields; i++)
        if (field_is_key(&r->fields[i]))
            text_addf(sql, "n.%s = o.%s AND ", r->fields[i].name, r->fields[i].name);
    text_add(sql, "n.version > o.version);\n");
}

/* ---- what a store has, and what it lacks ------------------------------------------------------------------------- */

struct columns {
    size_t order[FIELDS_MAX + 1], n, n_old; /* the first n_old are there already */
    bool seen[FIELDS_MAX];
    bool version;
};

/* The table's own columns, in their order; one that no field knows is refused rather than lost. */
static bool columns_read(struct store *s, const struct reg *r, struct columns *c, struct err *e)
{
    struct text sql = {0};
    sqlite3_stmt *stmt = NULL;
    text_addf(&sql, "SELECT name FROM pragma_table_info('%s') ORDER BY cid", r->name);
    bool ok = sql.failed ? err_memory(e) : store_prepare(s, text_str(&sql), &stmt, e);
    int rc = SQLITE_DONE;
    while (ok && (rc = sqlite3_step(stmt)) == SQLITE_ROW) {
        const char *name = (const char *)sqlite3_column_text(stmt, 0);
        size_t field = name ? reg_field(r, name) : SIZE_MAX;
        bool is_version = name && field == SIZE_MAX && r->ledger && strcmp(name, "version") == 0;
        if ((field == SIZE_MAX && !is_version) || c->n >= COUNT_OF(c->order))
            ok = err_set(e, ERR_STORE, NULL, "%s: its table %s has a column \"%s\" that this neap does not know",
                         s->path, r->name, name ? name : "");
        else
            c->order[c->n++] = field;
        if (ok && is_version)
            c->version = true;
        else if (ok)
            c->seen[field] = true;
    }
    ok = ok && (rc == SQLITE_DONE || store_fail(s, e));
    sqlite3_finalize(stmt);
    text_free(&sql);
    c->n_old = c->n;
    return ok;
}

static void columns_complete(const struct reg *r, struct columns *c)
{
    for (size_t i = 0; i < r->n_fields; i++)
        if (!c->seen[i])
            c->order[c->n++] = i;
    if (r->ledger && !c->version)
        c->order[c->n++] = SIZE_MAX;
}

static void write_names(const struct reg *r, const struct columns *c, struct text *sql)
{
    for (size_t i = 0; i < c->n_old; i++)
        text_addf(sql, "%s%s", i ? ", " : "", c->order[i] == SIZE_MAX ? "version" : r->fields[c->order[i]].name);
}

/* The statement that made the table; empty where there is none. */
static bool made_by(struct store *s, const struct reg *r, struct text *sql, struct err *e)
{
    sqlite3_stmt *stmt;
    if (!store_prepare(s, "SELECT sql FROM sqlite_schema WHERE type = 'table' AND name = ?1", &stmt, e))
        return false;
    sqlite3_bind_text(stmt, 1, r->name, -1, SQLITE_STATIC);
    int rc = sqlite3_step(stmt);
    if (rc == SQLITE_ROW && sqlite3_column_text(stmt, 0))
        text_add(sql, (const char *)sqlite3_column_text(stmt, 0));
    sqlite3_finalize(stmt);
    if (sql->failed)
        return err_memory(e);
    return rc == SQLITE_ROW || rc == SQLITE_DONE || store_fail(s, e);
}

/* By a table of the new kind beside the old one, which then takes its name. */
static bool table_replace(struct store *s, const struct reg *r, const struct columns *c, struct err *e)
{
    struct text sql = {0};
    write_table(r, "neap_new", c->order, c->n, &sql);
    text_add(&sql, ";\nINSERT INTO neap_new (");
    write_names(r, c, &sql);
    text_add(&sql, ") SELECT ");
    write_names(r, c, &sql);
    text_addf(&sql, " FROM %s;\nDROP TABLE %s;\nALTER TABLE neap_new RENAME TO %s;\n", r->name, r->name, r->name);
    bool ok = sql.failed ? err_memory(e) : store_run(s, text_str(&sql), e);
    if (!ok && (sqlite3_errcode(s->db) & 0xFF) == SQLITE_CONSTRAINT)
        err_set(e, ERR_STORE, NULL,
                "%s: a row of its table %s is outside the limits of this neap (%s); nothing was changed", s->path,
                r->name, store_limit_met(s));
    text_free(&sql);
    return ok;
}

/* SQLite keeps the name of a renamed table in quotes. */
static bool same_table(const struct reg *r, const char *there, const char *wanted)
{
    struct text head = {0};
    text_addf(&head, "CREATE TABLE \"%s\"", r->name);
    bool quoted = !head.failed && strncmp(there, text_str(&head), head.len) == 0;
    size_t plain = head.len - 2;
    bool same = quoted ? strcmp(there + head.len, wanted + plain) == 0 : strcmp(there, wanted) == 0;
    text_free(&head);
    return same;
}

enum table_state { TABLE_MISSING, TABLE_OTHER, TABLE_SAME };

/* wanted: the statement that makes it, its columns as far as they are there in their order there. */
static bool table_compare(struct store *s, const struct reg *r, struct columns *c, struct text *wanted,
                          enum table_state *state, struct err *e)
{
    struct text there = {0};
    bool ok = made_by(s, r, &there, e) && columns_read(s, r, c, e);
    columns_complete(r, c);
    write_table(r, r->name, c->order, c->n, wanted);
    if (ok && wanted->failed)
        ok = err_memory(e);
    *state = there.len == 0                                      ? TABLE_MISSING
             : same_table(r, text_str(&there), text_str(wanted)) ? TABLE_SAME
                                                                 : TABLE_OTHER;
    text_free(&there);
    return ok;
}

bool store_table_is_ours(struct store *s, const struct reg *r, bool *ours, struct err *e)
{
    struct text wanted = {0};
    struct columns c = {0};
    enum table_state state;
    struct err unknown;
    bool ok = table_compare(s, r, &c, &wanted, &state, &unknown);
    *ours = ok && state == TABLE_SAME && c.n == c.n_old;
    text_free(&wanted);
    if (!ok && unknown.code == ERR_STORE)
        return true; /* a column that no field knows */
    return ok || err_set(e, unknown.code, NULL, "%s", unknown.text);
}

static bool table_settle(struct store *s, const struct reg *r, struct err *e)
{
    struct text wanted = {0};
    struct columns c = {0};
    enum table_state state;
    bool ok = table_compare(s, r, &c, &wanted, &state, e);
    if (ok && state == TABLE_MISSING)
        ok = store_run(s, text_str(&wanted), e);
    else if (ok && state == TABLE_OTHER)
        ok = table_replace(s, r, &c, e);
    text_free(&wanted);
    return ok;
}

/* Views, triggers and indexes are made again; the indexes that keys bring with them have no statement. */
static bool drop_what_is_derived(struct store *s, struct err *e)
{
    struct text sql = {0};
    sqlite3_stmt *stmt;
    if (!store_prepare(
            s, "SELECT type, name FROM sqlite_schema WHERE type IN ('view', 'trigger', 'index') AND sql IS NOT NULL",
            &stmt, e))
        return false;
    int rc;
    while ((rc = sqlite3_step(stmt)) == SQLITE_ROW)
        text_addf(&sql, "DROP %s \"%s\";\n", (const char *)sqlite3_column_text(stmt, 0),
                  (const char *)sqlite3_column_text(stmt, 1));
    sqlite3_finalize(stmt);
    bool ok = rc != SQLITE_DONE ? store_fail(s, e) : sql.failed ? err_memory(e) : store_run(s, text_str(&sql), e);
    text_free(&sql);
    return ok;
}

bool store_tables_settle(struct store *s, const char *turned, const char *derived, struct err *e)
{
    struct text sql = {0};
    bool ok = drop_what_is_derived(s, e);
    for (size_t id = 0; ok && id < N_REGS; id++)
        ok = table_settle(s, reg_get((enum reg_id)id), e);
    text_add(&sql, turned);
    for (size_t id = 0; id < N_REGS; id++)
        if (reg_get((enum reg_id)id)->ledger)
            write_ledger(reg_get((enum reg_id)id), &sql);
    text_add(&sql, derived);
    ok = ok && (sql.failed ? err_memory(e) : store_run(s, text_str(&sql), e));
    text_free(&sql);
    return ok;
}
