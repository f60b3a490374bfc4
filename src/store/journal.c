/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The journal. SQLite's session extension records every row that a transaction changes; the changeset is kept with the
 * entry, and taking an entry back applies its inverse. One mechanism for every table, whatever the command.
 */
#include "internal.h"

bool store_begin(struct store *s, struct err *e)
{
    s->n_unknown = 0;
    s->settings_put = false;
    if (!store_run(s, "BEGIN IMMEDIATE", e))
        return false;
    if (store_entry_begin(s, e))
        return true;
    store_rollback(s);
    return false;
}

bool store_begin_reading(struct store *s, struct err *e)
{
    return store_run(s, "BEGIN", e);
}

void store_rollback(struct store *s)
{
    store_record_end(s);
    for (size_t i = 0; i < N_REGS; i++)
        for (size_t k = 0; k < N_STATEMENTS; k++)
            sqlite3_reset(s->cached[i][k]);
    if (!sqlite3_get_autocommit(s->db))
        sqlite3_exec(s->db, "ROLLBACK", NULL, NULL, NULL);
}

/* Ends the open transaction: its changes become one entry. Nothing changed: nothing is kept. */
static bool commit_as(struct store *s, const char *command, long made, long undoes, struct err *e)
{
    bool ok = store_entry_end(s, command, made, undoes, e) && store_run(s, "COMMIT", e);
    if (!ok)
        store_rollback(s);
    return ok;
}

/* Figures may be entered one by one or many at once, so whether they agree is asked at the end. */
static bool settings_agree(struct store *s, struct err *e)
{
    struct facility f = {0};
    bool ok = !s->settings_put || (store_read_settings(s, &f, e) && settings_check(&f.settings, e));
    arena_free(&f.arena);
    return ok;
}

bool store_commit(struct store *s, const char *command, long made, struct err *e)
{
    if (settings_agree(s, e))
        return commit_as(s, command, made, 0, e);
    store_rollback(s);
    return false;
}

/*
 * Entries are taken back from the last towards the first: those undone, and the undoings themselves, are passed over.
 */
static const char last_entry[] =
    "SELECT id, made, command FROM entry WHERE undoes IS NULL"
    " AND id NOT IN (SELECT undoes FROM entry WHERE " STANDING_UNDO ") ORDER BY id DESC LIMIT 1";

/* An undo can be redone until something else is entered: what it took back may not fit any more then. */
static const char last_undo[] =
    "SELECT undo.id, undone.made, undone.command FROM entry AS undo"
    " JOIN entry AS undone ON undone.id = undo.undoes WHERE undone.undoes IS NULL"
    " AND undo.id IN (SELECT id FROM entry WHERE " STANDING_UNDO ")"
    " AND undo.id > (SELECT coalesce(max(id), 0) FROM entry WHERE undoes IS NULL) ORDER BY undo.id DESC LIMIT 1";

static bool read_last(struct store *s, const char *sql, const char *none, struct entry *entry, struct err *e)
{
    sqlite3_stmt *stmt;
    if (!store_prepare(s, sql, &stmt, e))
        return false;
    int rc = sqlite3_step(stmt);
    bool ok = rc == SQLITE_ROW;
    if (ok) {
        *entry = (struct entry){.id = sqlite3_column_int64(stmt, 0)};
        store_column_text(stmt, 1, entry->made, sizeof entry->made);
        store_column_text(stmt, 2, entry->command, sizeof entry->command);
    } else if (rc == SQLITE_DONE) {
        err_set(e, ERR_NOT_FOUND, NULL, "%s", none);
    } else {
        store_fail(s, e);
    }
    sqlite3_finalize(stmt);
    return ok;
}

bool store_last_undo(struct store *s, struct entry *entry, struct err *e)
{
    return read_last(s, last_undo,
                     "there is no undo to take back: none was made, or something was entered since the last one", entry,
                     e);
}

bool store_last_entry(struct store *s, struct entry *entry, struct err *e)
{
    return read_last(s, last_entry, "there is no entry to take back", entry, e);
}

/* A row that is not as the entry left it: somebody changed it outside the journal. Nothing is forced. */
static int on_conflict(void *context, int kind, sqlite3_changeset_iter *at)
{
    (void)context;
    (void)kind;
    (void)at;
    return SQLITE_CHANGESET_ABORT;
}

/* Where what is done is recorded, it is a part as the one taken back was. */
static bool take_part_back(void *context, const void *changes, int size, struct err *e)
{
    struct store *s = context;
    int rc = store_apply_inverse(s, changes, size, on_conflict, NULL);
    if (rc == SQLITE_ABORT || rc == SQLITE_CONSTRAINT)
        return err_set(e, ERR_STORE, NULL, "%s: the entry's rows are not as it left them; nothing was taken back",
                       s->path);
    return rc == SQLITE_OK ? store_next_part(s, e) : store_apply_fail(s, rc, e);
}

bool store_take_back(struct store *s, long id, struct err *e)
{
    return store_entry_proved(s, id, e) && store_run(s, "UPDATE gate SET undoing = 1", e) &&
           store_each_part(s, id, PARTS_LATEST_FIRST, take_part_back, s, e) &&
           store_run(s, "UPDATE gate SET undoing = 0", e);
}

static bool take_last_back(struct store *s, long id, bool (*find_last)(struct store *, struct entry *, struct err *),
                           const char *command, long made, struct err *e)
{
    struct entry last;
    bool ok = store_begin(s, e) && find_last(s, &last, e);
    if (ok && last.id != id)
        ok = err_set(e, ERR_STORE, NULL, "entry %ld was made meanwhile (%s); nothing was taken back", last.id,
                     last.command);
    if (ok && store_take_back(s, id, e))
        return commit_as(s, command, made, id, e);
    store_rollback(s);
    return false;
}

bool store_undo(struct store *s, long id, const char *command, long made, struct err *e)
{
    return take_last_back(s, id, store_last_entry, command, made, e);
}

bool store_redo(struct store *s, long id, const char *command, long made, struct err *e)
{
    return take_last_back(s, id, store_last_undo, command, made, e);
}
