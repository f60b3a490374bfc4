/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The journal. SQLite's session extension records every row that a transaction changes; the changeset is kept with the
 * entry, and taking an entry back applies its inverse. One mechanism for every table, whatever the command.
 */
#include "internal.h"

/* The journal does not record itself. */
static int recorded(void *context, const char *table)
{
    (void)context;
    return strcmp(table, "entry") != 0 && strcmp(table, "gate") != 0;
}

bool store_begin(struct store *s, struct err *e)
{
    s->n_unknown = 0;
    s->settings_put = false;
    if (!store_run(s, "BEGIN IMMEDIATE", e))
        return false;
    int rc = sqlite3session_create(s->db, "main", &s->session);
    if (rc == SQLITE_OK) {
        sqlite3session_table_filter(s->session, recorded, NULL);
        rc = sqlite3session_attach(s->session, NULL);
    }
    if (rc == SQLITE_OK)
        return true;
    err_memory(e);
    store_rollback(s);
    return false;
}

bool store_begin_reading(struct store *s, struct err *e)
{
    return store_run(s, "BEGIN", e);
}

static void end_session(struct store *s)
{
    if (s->session)
        sqlite3session_delete(s->session);
    s->session = NULL;
}

void store_rollback(struct store *s)
{
    end_session(s);
    for (size_t i = 0; i < N_REGS; i++)
        for (size_t k = 0; k < N_STATEMENTS; k++)
            sqlite3_reset(s->cached[i][k]);
    if (!sqlite3_get_autocommit(s->db))
        sqlite3_exec(s->db, "ROLLBACK", NULL, NULL, NULL);
}

/* FNV-1a of 64 bits (Fowler, Noll and Vo; offset and prime: IETF draft-eastlake-fnv), as SQLite holds an integer. */
static sqlite3_int64 checksum_of(const void *bytes, int size)
{
    const unsigned char *b = bytes;
    uint64_t sum = 0xcbf29ce484222325u;
    sqlite3_int64 held;
    for (int i = 0; i < size; i++)
        sum = (sum ^ b[i]) * 0x100000001b3u;
    memcpy(&held, &sum, sizeof held);
    return held;
}

bool store_changes_sound(sqlite3_stmt *stmt, int changes, int checksum)
{
    const void *bytes = sqlite3_column_blob(stmt, changes);
    return checksum_of(bytes, sqlite3_column_bytes(stmt, changes)) == sqlite3_column_int64(stmt, checksum);
}

bool store_entry_damaged(struct store *s, long id, struct err *e)
{
    return err_set(
        e, ERR_STORE, NULL,
        "%s: entry %ld of the journal is damaged, its changes are not as they were kept; expected a sound one: "
        "set by hand what it changed, or go on with a backup",
        s->path, id);
}

static bool add_entry(struct store *s, const char *command, long made, long undoes, const void *changes, int size,
                      struct err *e)
{
    sqlite3_stmt *stmt;
    char moment[MOMENT_TEXT];
    moment_format(made, moment);
    if (!store_prepare(s,
                       "INSERT INTO entry (made, command, undoes, changes, checksum)"
                       " VALUES (?1, ?2, nullif(?3, 0), ?4, ?5)",
                       &stmt, e))
        return false;
    bool ok = sqlite3_bind_text(stmt, 1, moment, -1, SQLITE_TRANSIENT) == SQLITE_OK &&
              sqlite3_bind_text(stmt, 2, command, -1, SQLITE_TRANSIENT) == SQLITE_OK &&
              sqlite3_bind_int64(stmt, 3, undoes) == SQLITE_OK &&
              sqlite3_bind_blob(stmt, 4, changes, size, SQLITE_STATIC) == SQLITE_OK &&
              sqlite3_bind_int64(stmt, 5, checksum_of(changes, size)) == SQLITE_OK && sqlite3_step(stmt) == SQLITE_DONE;
    if (!ok)
        store_fail(s, e);
    sqlite3_finalize(stmt);
    return ok;
}

/* Ends the open transaction: its changes become one entry. Nothing changed: nothing is kept. */
static bool commit_as(struct store *s, const char *command, long made, long undoes, struct err *e)
{
    int size = 0;
    void *changes = NULL;
    if (sqlite3session_changeset(s->session, &size, &changes) != SQLITE_OK) {
        store_rollback(s);
        return err_memory(e);
    }
    end_session(s);
    bool ok = size == 0 || add_entry(s, command, made, undoes, changes, size, e);
    sqlite3_free(changes);
    ok = ok && store_run(s, "COMMIT", e);
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
        snprintf(entry->made, sizeof entry->made, "%s", (const char *)sqlite3_column_text(stmt, 1));
        snprintf(entry->command, sizeof entry->command, "%s", (const char *)sqlite3_column_text(stmt, 2));
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

bool store_apply_inverse(struct store *s, const void *changes, int size, struct err *e)
{
    int inverse_size = 0;
    void *inverse = NULL;
    if (sqlite3changeset_invert(size, changes, &inverse_size, &inverse) != SQLITE_OK)
        return err_memory(e);
    bool ok = store_run(s, "UPDATE gate SET undoing = 1", e);
    if (ok) {
        int rc = sqlite3changeset_apply(s->db, inverse_size, inverse, NULL, on_conflict, NULL);
        if (rc == SQLITE_ABORT || rc == SQLITE_CONSTRAINT)
            ok = err_set(e, ERR_STORE, NULL, "%s: the entry's rows are not as it left them; nothing was taken back",
                         s->path);
        else if (rc != SQLITE_OK)
            ok = rc == SQLITE_NOMEM ? err_memory(e) : store_fail(s, e);
    }
    ok = ok && store_run(s, "UPDATE gate SET undoing = 0", e);
    sqlite3_free(inverse);
    return ok;
}

static bool take_back(struct store *s, long id, bool (*find_last)(struct store *, struct entry *, struct err *),
                      const char *command, long made, struct err *e)
{
    sqlite3_stmt *stmt = NULL;
    struct entry last;
    bool ok = store_begin(s, e) && find_last(s, &last, e);
    if (ok && last.id != id)
        ok = err_set(e, ERR_STORE, NULL, "entry %ld was made meanwhile (%s); nothing was taken back", last.id,
                     last.command);
    ok = ok && store_prepare(s, "SELECT changes, checksum FROM entry WHERE id = ?1", &stmt, e);
    if (ok) {
        sqlite3_bind_int64(stmt, 1, id);
        ok = sqlite3_step(stmt) == SQLITE_ROW || store_fail(s, e);
    }
    ok = ok && (store_changes_sound(stmt, 0, 1) || store_entry_damaged(s, id, e));
    ok = ok && store_apply_inverse(s, sqlite3_column_blob(stmt, 0), sqlite3_column_bytes(stmt, 0), e);
    sqlite3_finalize(stmt);
    if (!ok) {
        store_rollback(s);
        return false;
    }
    return commit_as(s, command, made, id, e);
}

bool store_undo(struct store *s, long id, const char *command, long made, struct err *e)
{
    return take_back(s, id, store_last_entry, command, made, e);
}

bool store_redo(struct store *s, long id, const char *command, long made, struct err *e)
{
    return take_back(s, id, store_last_undo, command, made, e);
}
