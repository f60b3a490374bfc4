/* Copies of the store, made by SQLite's online backup: to a name beside the wanted one, proved, then renamed. */
#include "internal.h"

#include <errno.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

static bool io_error(const char *path, struct err *e)
{
    return err_set(e, ERR_IO, NULL, "%s: %s", path, strerror(errno));
}

/* Only a neap store is written over, and never the one that is copied. */
static bool may_replace(const struct store *s, const char *path, struct err *e)
{
    struct stat there, own;
    struct store *old;
    if (stat(path, &there) != 0)
        return errno == ENOENT || io_error(path, e);
    if (stat(s->path, &own) == 0 && own.st_dev == there.st_dev && own.st_ino == there.st_ino)
        return err_set(e, ERR_INPUT, NULL, "%s: is the store itself; expected another file", path);
    if (!store_open(path, STORE_READ, &old, NULL))
        return err_set(e, ERR_INPUT, NULL, "%s: is there already and is no backup; expected a new file", path);
    store_close(old);
    return true;
}

/* All pages in one go: a writer that came between would make it begin again. */
static bool copy_pages(struct store *s, sqlite3 *to, const char *path, struct err *e)
{
    sqlite3_backup *b = sqlite3_backup_init(to, "main", s->db, "main");
    int rc = b ? sqlite3_backup_step(b, -1) : sqlite3_errcode(to);
    sqlite3_backup_finish(b);
    if (rc == SQLITE_DONE)
        return true;
    return rc == SQLITE_NOMEM ? err_memory(e)
                              : err_set(e, ERR_IO, NULL, "%s: writing the copy failed (%s)", path, sqlite3_errstr(rc));
}

/* The copy becomes one file, without a log beside it, and is read through. */
static bool prove(sqlite3 *db, const char *path, struct err *e)
{
    sqlite3_stmt *stmt = NULL;
    bool ok = sqlite3_exec(db, "PRAGMA journal_mode = DELETE", NULL, NULL, NULL) == SQLITE_OK &&
              sqlite3_prepare_v2(db, "SELECT count(*) " STORE_DAMAGE, -1, &stmt, NULL) == SQLITE_OK &&
              sqlite3_step(stmt) == SQLITE_ROW && sqlite3_column_int(stmt, 0) == 0;
    if (!ok)
        err_set(e, ERR_STORE, NULL, "%s: the copy is not sound; it was thrown away (neap audit tells about the store)",
                path);
    sqlite3_finalize(stmt);
    return ok;
}

static bool write_copy(struct store *s, const char *path, struct err *e)
{
    sqlite3 *to = NULL;
    bool ok = true;
    if (sqlite3_open_v2(path, &to, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, NULL) != SQLITE_OK)
        ok = err_set(e, ERR_IO, NULL, "%s: cannot be made; expected a folder that may be written", path);
    ok = ok && copy_pages(s, to, path, e) && prove(to, path, e);
    sqlite3_close(to);
    return ok;
}

static bool sync_file(const char *path, struct err *e)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    bool ok = fd >= 0 && fsync(fd) == 0;
    if (!ok)
        io_error(path, e);
    if (fd >= 0)
        close(fd);
    return ok;
}

/* Takes its name only when whole; replace false: and only where nothing has that name. */
static bool copy_to(struct store *s, const char *path, bool replace, struct err *e)
{
    struct text beside = {0};
    text_addf(&beside, "%s.part", path);
    if (beside.failed)
        return text_free(&beside), err_memory(e);
    const char *part = text_str(&beside);
    unlink(part); /* what an interrupted copy left */
    bool ok = write_copy(s, part, e) && sync_file(part, e);
    if (ok && replace)
        ok = rename(part, path) == 0 || io_error(path, e);
    else if (ok)
        ok = link(part, path) == 0 || io_error(path, e);
    unlink(part);
    text_free(&beside);
    return ok;
}

bool store_backup(struct store *s, const char *path, struct err *e)
{
    return may_replace(s, path, e) && copy_to(s, path, true, e);
}

bool store_copy_new(struct store *s, const char *path, struct err *e)
{
    if (access(path, F_OK) == 0)
        return err_set(e, ERR_INPUT, NULL, "%s: is there already; expected the name of a new file", path);
    return copy_to(s, path, false, e);
}
