/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Opening a store: whose file, which version, and bringing an older one up to date. */
#include "internal.h"
#include "neap/replan.h"

#include <errno.h>
#include <sys/stat.h>
#include <unistd.h>

/* "neap" in ASCII: `file` and sqlite3 can tell whose it is. */
enum { APPLICATION_ID = 0x6E656170 };

/*
 * Raise it with every change of the tables, the views or what they mean; `make store-version` then keeps what they are,
 * and a test holds them against that.
 */
enum { STORE_VERSION = 15 };

static const char schema[] = {
#include "schema.sql.inc"
    , 0};
static const char parts[] = {
#include "parts.sql.inc"
    , 0};
static const char views[] = {
#include "views.sql.inc"
    , 0};

/*
 * What was said in words before there was a field for it, by the first version that has the field. The words stay: the
 * entries of the journal hold rows as they were, and would not know them otherwise.
 */
enum { DOUBT_AND_SHARED = 9 };
static const char doubt_and_shared[] =
    "UPDATE test SET doubt = CASE WHEN note LIKE 'flagged: %' THEN 'flagged' ELSE 'confirmed' END"
    " WHERE note LIKE 'flagged: %' OR note LIKE 'confirmed: %';\n"
    "UPDATE line SET shared = 1 WHERE action = 'broadcast' AND note <> '';\n";

/* The changes of an entry stood in its row, and become its only part, by the first version that has parts. */
enum { ENTRY_PARTS = 13 };
static const char changes_to_parts[] = "INSERT INTO entry_part SELECT id, 1, changes FROM entry;\n"
                                       "ALTER TABLE entry DROP COLUMN changes;\n";

/* Does every reference still point to something? A table that was replaced let them go for a moment. */
static bool references_hold(struct store *s, struct err *e)
{
    long loose;
    if (!store_number(s, "SELECT count(*) FROM pragma_foreign_key_check", 0, &loose, e))
        return false;
    return loose == 0 || err_set(e, ERR_STORE, NULL, "%s: %ld rows point to what is not there", s->path, loose) ||
           err_help(e, HELP_AUDIT, NULL);
}

static bool version_of(struct store *s, long *version, struct err *e)
{
    if (!store_number(s, "PRAGMA user_version", 0, version, e))
        return false;
    return *version <= STORE_VERSION ||
           err_set(e, ERR_INPUT, NULL, "%s: was made by a newer neap (store version %ld, this one knows %d)", s->path,
                   *version, STORE_VERSION);
}

static bool keep_as_it_was(struct store *s, long version, store_keeping *keep, struct err *e)
{
    char suffix[40];
    snprintf(suffix, sizeof suffix, ".version-%ld", version);
    return keep(s, suffix, s->kept, sizeof s->kept, e);
}

/* From whatever version, none included, to this one. */
static bool settle(struct store *s, long version, struct err *e)
{
    struct text end = {0}, turned = {0};
    text_addf(&end, "PRAGMA application_id = %d; PRAGMA user_version = %d", APPLICATION_ID, STORE_VERSION);
    text_add(&turned, version > 0 && version < DOUBT_AND_SHARED ? doubt_and_shared : "");
    text_add(&turned, version < ENTRY_PARTS ? parts : "");
    text_add(&turned, version > 0 && version < ENTRY_PARTS ? changes_to_parts : "");
    bool ok = !end.failed && !turned.failed ? version > 0 || store_run(s, schema, e) : err_memory(e);
    ok = ok && store_tables_settle(s, text_str(&turned), views, e) && references_hold(s, e) &&
         store_run(s, text_str(&end), e);
    text_free(&end);
    text_free(&turned);
    return ok;
}

/* All or nothing. Its version is asked again, for another may have done it by now. */
static bool bring_up_to_date(struct store *s, store_keeping *keep, struct err *e)
{
    long version;
    sqlite3_db_config(s->db, SQLITE_DBCONFIG_ENABLE_FKEY, 0, NULL);
    sqlite3_db_config(s->db, SQLITE_DBCONFIG_LEGACY_ALTER_TABLE, 1,
                      NULL); /* renames the table and nothing that names it */
    bool ok = store_run(s, "BEGIN IMMEDIATE", e) && version_of(s, &version, e);
    if (ok && version < STORE_VERSION)
        ok = (!keep || version == 0 || keep_as_it_was(s, version, keep, e)) && settle(s, version, e);
    ok = ok && store_run(s, "COMMIT", e);
    if (!ok && s->kept[0])
        unlink(s->kept);
    if (!ok && !sqlite3_get_autocommit(s->db))
        sqlite3_exec(s->db, "ROLLBACK", NULL, NULL, NULL);
    sqlite3_db_config(s->db, SQLITE_DBCONFIG_LEGACY_ALTER_TABLE, 0, NULL);
    sqlite3_db_config(s->db, SQLITE_DBCONFIG_ENABLE_FKEY, 1, NULL);
    return ok;
}

/* Whose file is it, and of which version? A new, empty one has neither. */
static bool identify(struct store *s, enum store_mode mode, store_keeping *keep, struct err *e)
{
    long application, version, tables;
    if (!store_number(s, "PRAGMA application_id", 0, &application, e) ||
        !store_number(s, "SELECT count(*) FROM sqlite_schema", 0, &tables, e) ||
        !store_number(s, "PRAGMA user_version", 0, &version, e))
        return false;
    bool made_now = mode == STORE_CREATE && application == 0 && version == 0 && tables == 0;
    if (!made_now && application != APPLICATION_ID)
        return err_set(e, ERR_INPUT, NULL, "%s: is a database of another program; expected a neap store", s->path);
    if (!version_of(s, &version, e))
        return false;
    s->older = version < STORE_VERSION;
    if (!s->older || mode == STORE_COPY)
        return true;
    if (mode == STORE_READ)
        return err_set(e, ERR_STORE, NULL, "%s: is of store version %ld; any writing command brings it to %d", s->path,
                       version, STORE_VERSION);
    s->older = false;
    return bring_up_to_date(s, keep, e);
}

static bool only_reads(enum store_mode mode)
{
    return mode == STORE_READ || mode == STORE_COPY;
}

/*
 * At most 64 MiB of pages, taken as they are needed. A load of many rows wrote its 2 MiB to the log and read them
 * again, over and over.
 */
static const char cache_size[] = "PRAGMA cache_size = -65536";

/*
 * A file that was a backup keeps no log until its first writer gives it one. Where somebody else is at that or writes,
 * SQLite refuses this at once, however long it is told to wait; so it is asked again.
 */
static bool keep_log(struct store *s, struct err *e)
{
    enum { AGAIN_MS = 10 };
    int rc = SQLITE_BUSY;
    for (int waited_ms = 0; rc == SQLITE_BUSY && waited_ms <= STORE_BUSY_MS; waited_ms += AGAIN_MS) {
        rc = sqlite3_exec(s->db, "PRAGMA journal_mode = WAL", NULL, NULL, NULL);
        if (rc == SQLITE_BUSY)
            sqlite3_sleep(AGAIN_MS);
    }
    return rc == SQLITE_OK || store_fail(s, e);
}

static bool configure(struct store *s, enum store_mode mode, struct err *e)
{
    sqlite3_extended_result_codes(s->db, 0);
    sqlite3_db_config(s->db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    sqlite3_db_config(s->db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    sqlite3_db_config(s->db, SQLITE_DBCONFIG_ENABLE_FKEY, 1, NULL);
    /* before SQLite waits itself, or each time it is asked would take as long */
    if (!only_reads(mode) && !keep_log(s, e))
        return false;
    sqlite3_busy_timeout(s->db, STORE_BUSY_MS);
    return store_run(s, "PRAGMA synchronous = FULL", e) && store_run(s, cache_size, e) && store_limit_work(s, e);
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
        return err_set(e, ERR_NOT_FOUND, NULL, "%s: no store is there", path) || err_help(e, HELP_START, NULL);
    if (there && mode == STORE_CREATE && !is_empty_file(path))
        return err_set(e, ERR_INPUT, NULL, "%s: is there already; expected the name of a new file", path);
    if (there && mode != STORE_CREATE && is_empty_file(path)) /* which SQLite would take for a database */
        return err_set(e, ERR_INPUT, NULL, "%s: is an empty file; expected a neap store, or no file at all", path) ||
               err_help(e, HELP_START, NULL);
    if (there && mode == STORE_WRITE && access(path, W_OK) != 0)
        return err_set(e, ERR_IO, NULL, "%s: cannot be written; expected write permission on file and folder", path);
    return true;
}

/*
 * A store that its last writer closed can be read from a medium nobody can write, or by somebody who may only read it
 * or may make nothing beside it, where the log and its index cannot be made; SQLite must be told so.
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

static bool may_not_write(const char *path)
{
    return access(path, W_OK) != 0 && (errno == EROFS || errno == EACCES);
}

static bool on_unwritable_medium(const char *path)
{
    struct text log = {0}, folder = {0};
    const char *name = strrchr(path, '/');
    text_addf(&log, "%s-wal", path);
    if (name)
        text_add_n(&folder, path, (size_t)(name + 1 - path));
    else
        text_add(&folder, ".");
    bool yes = (may_not_write(path) || may_not_write(text_str(&folder))) && access(text_str(&log), F_OK) != 0;
    text_free(&log);
    text_free(&folder);
    return yes;
}

bool store_open_as(const char *path, enum store_mode mode, store_keeping *keep, struct store **opened, struct err *e)
{
    if (!file_expected(path, mode, e))
        return false;
    struct store *s = calloc(1, sizeof *s);
    if (!s)
        return err_memory(e);
    snprintf(s->path, sizeof s->path, "%s", path);
    /* One thread: no call needs to be locked against another. */
    int flags = SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_READWRITE | (mode == STORE_CREATE ? SQLITE_OPEN_CREATE : 0);
    /* A reader of a WAL file writes its -shm, so it too asks to write; where it may not, SQLite opens read-only. */
    int rc = only_reads(mode) && on_unwritable_medium(path) ? open_unwritable(path, &s->db)
                                                            : sqlite3_open_v2(path, &s->db, flags, NULL);
    bool ok = rc == SQLITE_OK || (s->db ? store_fail(s, e) : err_memory(e));
    if (!ok || !configure(s, mode, e) || !identify(s, mode, keep, e)) {
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

const char *store_kept(const struct store *s)
{
    return s->kept[0] ? s->kept : NULL;
}

void store_disconnect(struct store *s)
{
    for (size_t i = 0; i < N_REGS; i++)
        for (size_t k = 0; k < N_STATEMENTS; k++)
            sqlite3_finalize(s->cached[i][k]);
    sqlite3_close(s->db);
}

void store_close(struct store *s)
{
    if (!s)
        return;
    if (s->db)
        store_rollback(s);
    store_disconnect(s);
    free(s);
}
