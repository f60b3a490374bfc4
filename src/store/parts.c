/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The parts of an entry of the journal: what SQLite's session recorded, piece by piece, as blobs. A command of many
 * rows has many, so that what is held in memory does not grow with its rows.
 */
#include "internal.h"

/* FNV-1a of 64 bits (Fowler, Noll and Vo; offset and prime: IETF draft-eastlake-fnv), over any number of pieces. */
#define CHECKSUM_OF_NOTHING 0xcbf29ce484222325u

static uint64_t checksum_add(uint64_t sum, const void *bytes, int size)
{
    const unsigned char *b = bytes;
    for (int i = 0; i < size; i++)
        sum = (sum ^ b[i]) * 0x100000001b3u;
    return sum;
}

/* The journal does not record itself. */
static int recorded(void *context, const char *table)
{
    (void)context;
    return strcmp(table, "entry") != 0 && strcmp(table, "entry_part") != 0 && strcmp(table, "gate") != 0;
}

void store_record_end(struct store *s)
{
    if (s->session)
        sqlite3session_delete(s->session);
    s->session = NULL;
}

static bool start_session(struct store *s, struct err *e)
{
    int rc = sqlite3session_create(s->db, "main", &s->session);
    if (rc == SQLITE_OK) {
        sqlite3session_table_filter(s->session, recorded, NULL);
        rc = sqlite3session_attach(s->session, NULL);
    }
    return rc == SQLITE_OK || err_memory(e);
}

bool store_entry_begin(struct store *s, struct err *e)
{
    s->entry = s->n_parts = 0;
    s->n_unkept = 0;
    s->checksum = CHECKSUM_OF_NOTHING;
    return start_session(s, e);
}

/* As SQLite holds an integer. */
static sqlite3_int64 as_held(uint64_t checksum)
{
    sqlite3_int64 held;
    memcpy(&held, &checksum, sizeof held);
    return held;
}

/* ---- parts ------------------------------------------------------------------------------------------------------- */

bool store_each_part(struct store *s, long id, enum part_order order,
                     bool (*each)(void *context, const void *changes, int size, struct err *e), void *context,
                     struct err *e)
{
    static const char *const questions[] = {
        [PARTS_AS_MADE] = "SELECT changes FROM entry_part WHERE entry = ?1 ORDER BY number",
        [PARTS_LATEST_FIRST] = "SELECT changes FROM entry_part WHERE entry = ?1 ORDER BY number DESC",
    };
    sqlite3_stmt *stmt;
    int rc = SQLITE_DONE;
    if (!store_prepare(s, questions[order], &stmt, e))
        return false;
    bool ok = sqlite3_bind_int64(stmt, 1, id) == SQLITE_OK || store_fail(s, e);
    while (ok && (rc = sqlite3_step(stmt)) == SQLITE_ROW) {
        const void *changes = sqlite3_column_blob(stmt, 0);
        ok = each(context, changes, sqlite3_column_bytes(stmt, 0), e);
    }
    ok = ok && (rc == SQLITE_DONE || store_fail(s, e));
    sqlite3_finalize(stmt);
    return ok;
}

int store_apply_inverse(struct store *s, const void *changes, int size,
                        int (*on_conflict)(void *context, int kind, sqlite3_changeset_iter *at), void *context)
{
    int inverse_size = 0;
    void *inverse = NULL;
    if (sqlite3changeset_invert(size, changes, &inverse_size, &inverse) != SQLITE_OK)
        return SQLITE_NOMEM;
    int rc = sqlite3changeset_apply(s->db, inverse_size, inverse, NULL, on_conflict, context);
    sqlite3_free(inverse);
    return rc;
}

bool store_apply_fail(struct store *s, int rc, struct err *e)
{
    return rc == SQLITE_NOMEM ? err_memory(e) : store_fail(s, e);
}

static bool sum_part(void *context, const void *changes, int size, struct err *e)
{
    uint64_t *sum = context;
    (void)e;
    *sum = checksum_add(*sum, changes, size);
    return true;
}

static bool read_checksum(struct store *s, long id, sqlite3_int64 *checksum, bool *known, struct err *e)
{
    sqlite3_stmt *stmt;
    if (!store_prepare(s, "SELECT checksum FROM entry WHERE id = ?1", &stmt, e))
        return false;
    sqlite3_bind_int64(stmt, 1, id);
    int rc = sqlite3_step(stmt);
    *known = rc == SQLITE_ROW;
    *checksum = *known ? sqlite3_column_int64(stmt, 0) : 0;
    bool ok = rc == SQLITE_ROW || rc == SQLITE_DONE || store_fail(s, e);
    sqlite3_finalize(stmt);
    return ok;
}

/* *known false: there is no such entry. */
static bool look_at_entry(struct store *s, long id, bool *known, bool *sound, struct err *e)
{
    uint64_t sum = CHECKSUM_OF_NOTHING;
    sqlite3_int64 checksum;
    if (!read_checksum(s, id, &checksum, known, e) || !store_each_part(s, id, PARTS_AS_MADE, sum_part, &sum, e))
        return false;
    *sound = *known && as_held(sum) == checksum;
    return true;
}

bool store_entry_sound(struct store *s, long id, bool *sound, struct err *e)
{
    bool known;
    return look_at_entry(s, id, &known, sound, e);
}

bool store_entry_proved(struct store *s, long id, struct err *e)
{
    bool known, sound;
    if (!look_at_entry(s, id, &known, &sound, e))
        return false;
    if (!known)
        return err_set(e, ERR_NOT_FOUND, NULL, "there is no entry %ld", id);
    return sound ||
           err_set(
               e, ERR_STORE, NULL,
               "%s: entry %ld of the journal is damaged, its changes are not as they were kept; expected a sound one: "
               "set by hand what it changed, or go on with a backup",
               s->path, id);
}

/* ---- keeping an entry -------------------------------------------------------------------------------------------- */

/* Its row is there before its parts, which point to it; what else it holds is known when it is committed. */
static bool begin_entry(struct store *s, struct err *e)
{
    if (!store_run(s, "INSERT INTO entry (made, command, checksum) VALUES ('1000-01-01T00:00', '', 0)", e))
        return false;
    s->entry = sqlite3_last_insert_rowid(s->db);
    return true;
}

static bool add_part(struct store *s, const void *changes, int size, struct err *e)
{
    sqlite3_stmt *stmt;
    if (s->entry == 0 && !begin_entry(s, e))
        return false;
    if (!store_prepare(s, "INSERT INTO entry_part (entry, number, changes) VALUES (?1, ?2, ?3)", &stmt, e))
        return false;
    bool ok =
        sqlite3_bind_int64(stmt, 1, s->entry) == SQLITE_OK && sqlite3_bind_int64(stmt, 2, ++s->n_parts) == SQLITE_OK &&
        sqlite3_bind_blob(stmt, 3, changes, size, SQLITE_STATIC) == SQLITE_OK && sqlite3_step(stmt) == SQLITE_DONE;
    if (!ok)
        store_fail(s, e);
    sqlite3_finalize(stmt);
    s->checksum = checksum_add(s->checksum, changes, size);
    return ok;
}

/* What the session recorded becomes a part, and the session ends. Nothing recorded: no part. */
static bool keep_part(struct store *s, struct err *e)
{
    int size = 0;
    void *changes = NULL;
    if (sqlite3session_changeset(s->session, &size, &changes) != SQLITE_OK)
        return err_memory(e);
    store_record_end(s);
    s->n_unkept = 0;
    bool ok = size == 0 || add_part(s, changes, size, e);
    sqlite3_free(changes);
    return ok;
}

bool store_next_part(struct store *s, struct err *e)
{
    return !s->session || (keep_part(s, e) && start_session(s, e));
}

bool store_row_was_put(struct store *s, struct err *e)
{
    enum { ROWS_PER_PART = 4096 }; /* a changeset of some hundred KiB, and SQLite's notes for it as much again */
    return ++s->n_unkept < ROWS_PER_PART || store_next_part(s, e);
}

static bool complete_entry(struct store *s, const char *command, long made, long undoes, struct err *e)
{
    sqlite3_stmt *stmt;
    char moment[MOMENT_TEXT];
    moment_format(made, moment);
    if (!store_prepare(s,
                       "UPDATE entry SET made = ?2, command = ?3, undoes = nullif(?4, 0), checksum = ?5 WHERE id = ?1",
                       &stmt, e))
        return false;
    bool ok = sqlite3_bind_int64(stmt, 1, s->entry) == SQLITE_OK &&
              sqlite3_bind_text(stmt, 2, moment, -1, SQLITE_TRANSIENT) == SQLITE_OK &&
              sqlite3_bind_text(stmt, 3, command, -1, SQLITE_TRANSIENT) == SQLITE_OK &&
              sqlite3_bind_int64(stmt, 4, undoes) == SQLITE_OK &&
              sqlite3_bind_int64(stmt, 5, as_held(s->checksum)) == SQLITE_OK && sqlite3_step(stmt) == SQLITE_DONE;
    if (!ok)
        store_fail(s, e);
    sqlite3_finalize(stmt);
    return ok;
}

bool store_entry_end(struct store *s, const char *command, long made, long undoes, struct err *e)
{
    return keep_part(s, e) && (s->entry == 0 || complete_entry(s, command, made, undoes, e));
}
