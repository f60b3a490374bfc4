/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One statement at a time, and how SQLite's answers become ours. */
#include "internal.h"

enum {
    WORK_ANYWAY = 20000, /* some tenths of a second; ten times what any test or a load of 100,000 needed */
    WORK_PER_PAGE = 100, /* an audit, which reads everything more than once, was measured to need 25 */
    STEPS_PER_LOOK = 10000
};

static int is_too_much(void *context)
{
    struct store *s = context;
    s->work_left -= STEPS_PER_LOOK / 1000;
    return s->work_left < 0;
}

bool store_limit_work(struct store *s, struct err *e)
{
    long pages;
    if (!store_number(s, "PRAGMA page_count", 0, &pages, e))
        return false;
    s->work_left = WORK_ANYWAY + WORK_PER_PAGE * pages;
    sqlite3_progress_handler(s->db, STEPS_PER_LOOK, is_too_much, s);
    return true;
}

const char *store_limit_met(struct store *s)
{
    static const char head[] = "CHECK constraint failed: ";
    const char *said = sqlite3_errmsg(s->db);
    return strncmp(said, head, sizeof head - 1) == 0 ? said + sizeof head - 1 : said;
}

bool store_fail(struct store *s, struct err *e)
{
    switch (sqlite3_errcode(s->db) & 0xFF) {
    case SQLITE_NOMEM: return err_memory(e);
    case SQLITE_FULL: return err_set(e, ERR_IO, NULL, "%s: the disk is full; nothing of this was stored", s->path);
    case SQLITE_IOERR:
        return err_set(e, ERR_IO, NULL, "%s: reading or writing failed; nothing of this was stored", s->path);
    case SQLITE_BUSY:
        return err_set(e, ERR_STORE, NULL, "%s: in use by another program for more than %d s; try again", s->path,
                       STORE_BUSY_MS / 1000);
    case SQLITE_READONLY:
    case SQLITE_PERM:
        return err_set(e, ERR_IO, NULL, "%s: cannot be written; expected write permission on file and folder", s->path);
    case SQLITE_CANTOPEN:
        return err_set(e, ERR_IO, NULL, "%s: cannot be opened; expected a folder that may be written", s->path);
    case SQLITE_INTERRUPT:
        return err_set(e, ERR_STORE, NULL,
                       "%s: asks for more work than a store of its size can; it is damaged, or was made by hand. "
                       "Expected a store that only neap wrote to",
                       s->path);
    case SQLITE_CONSTRAINT:
        return err_set(e, ERR_STORE, NULL,
                       "%s: a row is outside the limits of the store (%s); nothing of this was stored", s->path,
                       store_limit_met(s));
    case SQLITE_NOTADB:
    case SQLITE_CORRUPT:
        return err_set(e, ERR_STORE, NULL, "%s: is not a neap store, or is damaged (%s)", s->path,
                       sqlite3_errmsg(s->db));
    default: return err_set(e, ERR_STORE, NULL, "%s: %s", s->path, sqlite3_errmsg(s->db));
    }
}

bool store_prepare(struct store *s, const char *sql, sqlite3_stmt **stmt, struct err *e)
{
    if (sqlite3_prepare_v3(s->db, sql, -1, SQLITE_PREPARE_PERSISTENT, stmt, NULL) == SQLITE_OK)
        return true;
    return store_fail(s, e);
}

bool store_run(struct store *s, const char *sql, struct err *e)
{
    return sqlite3_exec(s->db, sql, NULL, NULL, NULL) == SQLITE_OK || store_fail(s, e);
}

bool store_number(struct store *s, const char *sql, long fallback, long *n, struct err *e)
{
    sqlite3_stmt *stmt;
    if (!store_prepare(s, sql, &stmt, e))
        return false;
    int rc = sqlite3_step(stmt);
    *n = fallback;
    if (rc == SQLITE_ROW && sqlite3_column_type(stmt, 0) != SQLITE_NULL)
        *n = sqlite3_column_int64(stmt, 0);
    bool ok = rc == SQLITE_ROW || rc == SQLITE_DONE || store_fail(s, e);
    sqlite3_finalize(stmt);
    return ok;
}

bool store_moment_begin(struct store *s, bool *own, struct err *e)
{
    *own = sqlite3_get_autocommit(s->db);
    return !*own || store_run(s, "BEGIN", e);
}

void store_moment_end(struct store *s, bool own)
{
    if (own && !sqlite3_get_autocommit(s->db))
        sqlite3_exec(s->db, "COMMIT", NULL, NULL, NULL);
}
