#include "internal.h"
#include "neap/replan.h"

#include <errno.h>
#include <sys/stat.h>
#include <unistd.h>

/* "neap" in ASCII: `file` and sqlite3 can tell whose it is. */
enum { APPLICATION_ID = 0x6E656170, BUSY_MS = 5000 };

/* Step i brings a store from version i to i + 1. A released step is never edited. */
static const char schema_1[] = {
#include "schema.sql.inc"
    , 0};
/*
 * The strength that the states allowed, beside the one that ceilings and stock left. Of a pot kept before, only the latter is
 * known. The weaker where a system got two; late pots are another matter.
 */
static const char schema_2[] =
    "ALTER TABLE pot ADD COLUMN allowed_frac REAL CHECK (allowed_frac >= 0);"
    "DROP VIEW fed_strength;"
    "CREATE VIEW fed_strength AS"
    " SELECT tank.system AS system, gl.day AS day, min(coalesce(pot.allowed_frac, pot.factor)) AS factor"
    " FROM offered_line AS gl"
    " JOIN tank ON tank.name = gl.tank"
    " JOIN pot ON pot.round = gl.round AND pot.revision = gl.revision AND pot.pot = gl.pot"
    " AND coalesce(pot.late, 0) = 0"
    " WHERE gl.action = 'target' GROUP BY 1, 2;";
/* A solid given beside the plan is all in the water: nothing more of it was lost beside the mouths, as of a pot's slurry. */
static const char schema_3[] = "DROP VIEW fed;"
                               "CREATE VIEW fed AS"
                               " SELECT tank.system AS system, u.food AS food, u.lot AS lot, u.day AS day,"
                               " CASE WHEN u.action = 'target' AND u.colony IS NULL THEN 'extra' ELSE u.action END AS "
                               "action, sum(u.units) AS units"
                               " FROM lot_use AS u JOIN tank ON tank.name = u.tank"
                               " GROUP BY 1, 2, 3, 4, 5;";
static const char *const migrations[] = {schema_1, schema_2, schema_3};

bool store_fail(struct store *s, struct err *e)
{
    switch (sqlite3_errcode(s->db) & 0xFF) {
    case SQLITE_NOMEM: return err_memory(e);
    case SQLITE_FULL: return err_set(e, ERR_IO, NULL, "%s: the disk is full; nothing of this was stored", s->path);
    case SQLITE_IOERR:
        return err_set(e, ERR_IO, NULL, "%s: reading or writing failed; nothing of this was stored", s->path);
    case SQLITE_BUSY:
        return err_set(e, ERR_STORE, NULL, "%s: in use by another program for more than %d s; try again", s->path,
                       BUSY_MS / 1000);
    case SQLITE_READONLY:
    case SQLITE_PERM:
        return err_set(e, ERR_IO, NULL, "%s: cannot be written; expected write permission on file and folder", s->path);
    case SQLITE_CANTOPEN:
        return err_set(e, ERR_IO, NULL, "%s: cannot be opened; expected a folder that may be written", s->path);
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

static bool migrate(struct store *s, long version, struct err *e)
{
    struct text sql = {0};
    bool ok = store_run(s, "BEGIN IMMEDIATE", e);
    for (size_t i = (size_t)version; ok && i < COUNT_OF(migrations); i++)
        ok = store_run(s, migrations[i], e);
    text_addf(&sql, "PRAGMA application_id = %d; PRAGMA user_version = %zu; COMMIT", APPLICATION_ID,
              COUNT_OF(migrations));
    ok = ok && (sql.failed ? err_memory(e) : store_run(s, text_str(&sql), e));
    if (!ok && !sqlite3_get_autocommit(s->db))
        sqlite3_exec(s->db, "ROLLBACK", NULL, NULL, NULL);
    text_free(&sql);
    return ok;
}

/* Whose file is it, and of which version? A new, empty one has neither. */
static bool identify(struct store *s, enum store_mode mode, struct err *e)
{
    long application, version, tables;
    if (!store_number(s, "PRAGMA application_id", 0, &application, e) ||
        !store_number(s, "PRAGMA user_version", 0, &version, e) ||
        !store_number(s, "SELECT count(*) FROM sqlite_schema", 0, &tables, e))
        return false;
    bool empty = application == 0 && version == 0 && tables == 0;
    if (!empty && application != APPLICATION_ID)
        return err_set(e, ERR_INPUT, NULL, "%s: is a database of another program; expected a neap store", s->path);
    if (empty && mode != STORE_CREATE)
        return err_set(e, ERR_INPUT, NULL, "%s: is empty; expected a neap store (neap start makes one)", s->path);
    if (version > (long)COUNT_OF(migrations))
        return err_set(e, ERR_INPUT, NULL, "%s: was made by a newer neap (store version %ld, this one knows %zu)",
                       s->path, version, COUNT_OF(migrations));
    if (version == (long)COUNT_OF(migrations))
        return true;
    if (mode == STORE_READ)
        return err_set(e, ERR_STORE, NULL, "%s: is of store version %ld; any writing command brings it to %zu", s->path,
                       version, COUNT_OF(migrations));
    return migrate(s, version, e);
}

static bool configure(struct store *s, enum store_mode mode, struct err *e)
{
    sqlite3_extended_result_codes(s->db, 0);
    sqlite3_busy_timeout(s->db, BUSY_MS);
    sqlite3_db_config(s->db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    sqlite3_db_config(s->db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    sqlite3_db_config(s->db, SQLITE_DBCONFIG_ENABLE_FKEY, 1, NULL);
    if (mode != STORE_READ && !store_run(s, "PRAGMA journal_mode = WAL", e))
        return false;
    return store_run(s, "PRAGMA synchronous = FULL", e);
}

static bool is_empty_file(const char *path)
{
    struct stat there;
    return stat(path, &there) == 0 && S_ISREG(there.st_mode) && there.st_size == 0;
}

static bool file_expected(const char *path, enum store_mode mode, struct err *e)
{
    bool there = access(path, F_OK) == 0;
    if (!there && errno != ENOENT)
        return err_set(e, ERR_IO, NULL, "%s: %s", path, strerror(errno));
    if (!there && mode != STORE_CREATE)
        return err_set(e, ERR_NOT_FOUND, NULL, "%s: no store is there; neap start makes one", path);
    if (there && mode == STORE_CREATE && !is_empty_file(path))
        return err_set(e, ERR_INPUT, NULL, "%s: is there already; expected the name of a new file", path);
    if (there && mode == STORE_WRITE && access(path, W_OK) != 0)
        return err_set(e, ERR_IO, NULL, "%s: cannot be written; expected write permission on file and folder", path);
    return true;
}

/*
 * A store that its last writer closed can be read from a medium nobody can write, or by somebody who may only read it, where the log and its index cannot be
 * made; SQLite must be told so.
 */
static int open_unwritable(const char *path, sqlite3 **db)
{
    struct text uri = {0};
    text_add(&uri, "file:");
    for (const char *s = path; *s; s++) {
        if (strchr("%?#", *s))
            text_addf(&uri, "%%%02X", (unsigned)*s);
        else
            text_add_n(&uri, s, 1);
    }
    text_add(&uri, "?immutable=1");
    int rc =
        uri.failed ? SQLITE_NOMEM : sqlite3_open_v2(text_str(&uri), db, SQLITE_OPEN_READONLY | SQLITE_OPEN_URI, NULL);
    text_free(&uri);
    return rc;
}

static bool on_unwritable_medium(const char *path)
{
    struct text log = {0};
    text_addf(&log, "%s-wal", path);
    bool yes = access(path, W_OK) != 0 && (errno == EROFS || errno == EACCES) && access(text_str(&log), F_OK) != 0;
    text_free(&log);
    return yes;
}

bool store_open(const char *path, enum store_mode mode, struct store **opened, struct err *e)
{
    if (!file_expected(path, mode, e))
        return false;
    struct store *s = calloc(1, sizeof *s);
    if (!s)
        return err_memory(e);
    snprintf(s->path, sizeof s->path, "%s", path);
    int flags = mode == STORE_CREATE ? SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE : SQLITE_OPEN_READWRITE;
    /* A reader of a WAL file writes its -shm, so it too asks to write; where it may not, SQLite opens read-only. */
    int rc = mode == STORE_READ && on_unwritable_medium(path) ? open_unwritable(path, &s->db)
                                                              : sqlite3_open_v2(path, &s->db, flags, NULL);
    bool ok = rc == SQLITE_OK || (s->db ? store_fail(s, e) : err_memory(e));
    if (!ok || !configure(s, mode, e) || !identify(s, mode, e)) {
        store_close(s);
        if (mode == STORE_CREATE)
            unlink(path);
        return false;
    }
    *opened = s;
    return true;
}

const char *store_path(const struct store *s)
{
    return s->path;
}

void store_close(struct store *s)
{
    if (!s)
        return;
    if (s->db)
        store_rollback(s);
    for (size_t i = 0; i < N_REGS; i++)
        for (size_t k = 0; k < N_STATEMENTS; k++)
            sqlite3_finalize(s->cached[i][k]);
    sqlite3_close(s->db);
    free(s);
}
