/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading the journal: which entries there are, and what each of them did to which row. */
#include "internal.h"

bool store_each_entry(struct store *s, long most, bool (*each)(void *context, const struct entry *entry, struct err *e),
                      void *context, struct err *e)
{
    sqlite3_stmt *stmt;
    int rc = SQLITE_DONE;
    if (!store_prepare(s,
                       "SELECT entry.id, made, command, entry.undoes, later.id FROM entry"
                       " LEFT JOIN (SELECT undoes, min(id) AS id FROM entry WHERE " STANDING_UNDO " GROUP BY undoes)"
                       " AS later ON later.undoes = entry.id ORDER BY entry.id DESC LIMIT ?1",
                       &stmt, e))
        return false;
    bool ok = sqlite3_bind_int64(stmt, 1, most) == SQLITE_OK || store_fail(s, e);
    while (ok && (rc = sqlite3_step(stmt)) == SQLITE_ROW) {
        struct entry entry = {
            .id = sqlite3_column_int64(stmt, 0),
            .undoes = sqlite3_column_int64(stmt, 3),
            .undone_by = sqlite3_column_int64(stmt, 4),
        };
        store_column_text(stmt, 1, entry.made, sizeof entry.made);
        store_column_text(stmt, 2, entry.command, sizeof entry.command);
        ok = each(context, &entry, e);
    }
    if (ok && rc != SQLITE_DONE)
        ok = store_fail(s, e);
    sqlite3_finalize(stmt);
    return ok;
}

/* NULL: the changeset says nothing of this column. */
static bool value_cell(sqlite3_value *v, struct arena *a, struct cell *c, struct err *e)
{
    *c = (struct cell){0};
    switch (v ? sqlite3_value_type(v) : SQLITE_NULL) {
    case SQLITE_INTEGER: *c = (struct cell){.kind = CELL_WHOLE, .whole = sqlite3_value_int64(v)}; return true;
    case SQLITE_FLOAT: *c = (struct cell){.kind = CELL_NUMBER, .number = sqlite3_value_double(v)}; return true;
    case SQLITE_TEXT: {
        const char *text = (const char *)sqlite3_value_text(v);
        *c = (struct cell){.kind = CELL_TEXT, .text = text ? arena_text(a, text) : NULL};
        return c->text ? true : err_memory(e);
    }
    default: return true;
    }
}

static bool read_change(sqlite3_changeset_iter *at, int op, int n_columns, struct row_change *change, struct arena *a,
                        struct err *e)
{
    change->what = op == SQLITE_INSERT ? CHANGE_ADDED : op == SQLITE_DELETE ? CHANGE_REMOVED : CHANGE_SET;
    for (int i = 0; i < n_columns && (size_t)i < change->reg->n_fields; i++) {
        sqlite3_value *old = NULL, *new = NULL;
        bool is_key = field_is_key(&change->reg->fields[i]);
        if ((op != SQLITE_INSERT && sqlite3changeset_old(at, i, &old) != SQLITE_OK) ||
            (op != SQLITE_DELETE && sqlite3changeset_new(at, i, &new) != SQLITE_OK))
            return err_memory(e);
        if (!value_cell(old, a, &change->before[i], e) || !value_cell(new, a, &change->after[i], e))
            return false;
        change->touched[i] = op != SQLITE_UPDATE || new != NULL;
        if (is_key && !new)
            change->after[i] = change->before[i];
        if (is_key && !old)
            change->before[i] = change->after[i];
    }
    return true;
}

static bool walk_changes(struct store *s, sqlite3_changeset_iter *at,
                         bool (*each)(void *context, const struct row_change *c, struct err *e), void *context,
                         struct err *e)
{
    struct arena row = {0};
    int rc;
    bool ok = true;
    while (ok && (rc = sqlite3changeset_next(at)) == SQLITE_ROW) {
        const char *table;
        int n_columns, op;
        struct row_change change = {0};
        if (sqlite3changeset_op(at, &table, &n_columns, &op, NULL) != SQLITE_OK || !(change.reg = reg_find(table)))
            continue; /* a table of an older version */
        ok = read_change(at, op, n_columns, &change, &row, e) && each(context, &change, e);
        arena_free(&row);
    }
    if (ok && rc != SQLITE_DONE)
        ok = rc == SQLITE_NOMEM ? err_memory(e)
                                : err_set(e, ERR_STORE, NULL, "%s: an entry of the journal is damaged", s->path);
    return ok;
}

struct change_walk {
    struct store *store;
    bool (*each)(void *context, const struct row_change *c, struct err *e);
    void *context;
};

static bool walk_part(void *context, const void *changes, int size, struct err *e)
{
    const struct change_walk *w = context;
    sqlite3_changeset_iter *at = NULL;
    bool ok = sqlite3changeset_start(&at, size, (void *)(uintptr_t)changes) == SQLITE_OK || err_memory(e);
    ok = ok && walk_changes(w->store, at, w->each, w->context, e);
    sqlite3changeset_finalize(at);
    return ok;
}

bool store_each_change(struct store *s, long id, bool (*each)(void *context, const struct row_change *c, struct err *e),
                       void *context, struct err *e)
{
    struct change_walk w = {s, each, context};
    return store_entry_proved(s, id, e) && store_each_part(s, id, PARTS_AS_MADE, walk_part, &w, e);
}
