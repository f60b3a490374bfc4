/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Is every row what the journal says? The changes of all entries are taken back, the newest first, in a copy in memory.
 * A row that is then not as an entry left it was changed by something else than a command of neap; one that is still
 * there at the end came from nowhere. So the journal proves the rows, and nothing has to be kept beside them.
 */
#include "internal.h"

struct retrace {
    struct store *copy;
    long entry; /* being taken back */
    bool (*find)(void *context, const char *text);
    void *context;
    bool failed;
};

/* "tank D1", "given 3 12": the row of a change, by its key. */
static void write_row(sqlite3_changeset_iter *at, struct text *out)
{
    const char *table;
    int n, op, indirect, n_keys;
    unsigned char *keys;
    if (sqlite3changeset_op(at, &table, &n, &op, &indirect) != SQLITE_OK ||
        sqlite3changeset_pk(at, &keys, &n_keys) != SQLITE_OK)
        return;
    text_add(out, table);
    for (int i = 0; i < n; i++) {
        sqlite3_value *value = NULL;
        if (!keys[i])
            continue;
        if (op == SQLITE_INSERT)
            sqlite3changeset_new(at, i, &value);
        else
            sqlite3changeset_old(at, i, &value);
        const char *text = value ? (const char *)sqlite3_value_text(value) : NULL;
        text_addf(out, " %.60s", text ? text : "?");
    }
}

static void tell(struct retrace *r, const struct text *text)
{
    r->failed = r->failed || text->failed || !r->find(r->context, text_str(text));
}

/* What an entry would take back is not as it left it: said, and gone over, so that all of them are found. */
static int on_difference(void *context, int kind, sqlite3_changeset_iter *at)
{
    struct retrace *r = context;
    struct text text = {0};
    if (kind == SQLITE_CHANGESET_FOREIGN_KEY)
        return SQLITE_CHANGESET_OMIT;
    text_add(&text, "row: ");
    write_row(at, &text);
    text_addf(&text,
              kind == SQLITE_CHANGESET_NOTFOUND ? " is gone; entry %ld of the journal left it there"
              : kind == SQLITE_CHANGESET_DATA
                  ? " is not as entry %ld of the journal left it: something else than a command of neap changed it"
                  : " is there, and entry %ld of the journal took it away",
              r->entry);
    tell(r, &text);
    text_free(&text);
    return kind == SQLITE_CHANGESET_DATA || kind == SQLITE_CHANGESET_CONFLICT ? SQLITE_CHANGESET_REPLACE
                                                                              : SQLITE_CHANGESET_OMIT;
}

static bool take_back(void *context, const void *changes, int size, struct err *e)
{
    struct retrace *r = context;
    int rc = store_apply_inverse(r->copy, changes, size, on_difference, r);
    return rc == SQLITE_OK || store_apply_fail(r->copy, rc, e);
}

/* Up to an entry that is damaged: what was before it cannot be known. *whole: there was none. */
static bool take_all_back(struct retrace *r, struct store *s, bool *whole, struct err *e)
{
    sqlite3_stmt *entry;
    int rc = SQLITE_DONE;
    if (!store_prepare(s, "SELECT id FROM entry ORDER BY id DESC", &entry, e))
        return false;
    bool ok = true;
    *whole = true;
    while (ok && *whole && (rc = sqlite3_step(entry)) == SQLITE_ROW) {
        r->entry = sqlite3_column_int64(entry, 0);
        ok = store_entry_sound(s, r->entry, whole, e) &&
             (!*whole || store_each_part(s, r->entry, PARTS_LATEST_FIRST, take_back, r, e));
    }
    ok = ok && (rc == SQLITE_ROW || rc == SQLITE_DONE || store_fail(s, e));
    sqlite3_finalize(entry);
    return ok;
}

/* Rows that are still there when all entries are taken back. */
static bool find_rest(struct retrace *r, const struct reg *reg, struct err *e)
{
    struct text sql = {0};
    sqlite3_stmt *row = NULL;
    text_add(&sql, "SELECT ");
    store_columns(reg, true, &sql);
    text_addf(&sql, " FROM %s", reg->name);
    bool ok = sql.failed ? err_memory(e) : store_prepare(r->copy, text_str(&sql), &row, e);
    int rc = SQLITE_DONE;
    while (ok && (rc = sqlite3_step(row)) == SQLITE_ROW) {
        struct text text = {0};
        text_addf(&text, "row: %s", reg->name);
        for (int i = 0; i < sqlite3_column_count(row); i++) {
            const char *cell = (const char *)sqlite3_column_text(row, i);
            text_addf(&text, " %.60s", cell ? cell : "?");
        }
        text_add(&text, " is in no entry of the journal: something else than a command of neap added it");
        tell(r, &text);
        text_free(&text);
    }
    ok = ok && (rc == SQLITE_DONE || store_fail(r->copy, e));
    sqlite3_finalize(row);
    text_free(&sql);
    return ok;
}

bool store_retrace(struct store *s, bool (*find)(void *context, const char *text), void *context, struct err *e)
{
    struct store copy = {0};
    struct retrace r = {.copy = &copy, .find = find, .context = context};
    bool whole = false;
    /* The gate stands open for all of it; references are for a time to what is gone. */
    bool ok = store_copy_in_memory(s, &copy, e) && store_run(&copy, "PRAGMA foreign_keys = OFF", e) &&
              store_run(&copy, "UPDATE gate SET undoing = 1", e) && take_all_back(&r, s, &whole, e);
    for (size_t i = 0; ok && whole && i < N_REGS; i++)
        ok = find_rest(&r, reg_get((enum reg_id)i), e);
    store_disconnect(&copy);
    return ok && (!r.failed || err_memory(e));
}
