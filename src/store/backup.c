/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Copies of the store, made by SQLite's online backup: to a name beside the wanted one, proved, then renamed. */
#include "internal.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

static bool io_error(const char *path, struct err *e)
{
    return err_set(e, ERR_IO, NULL, "%s: %s", path, strerror(errno));
}

/* A file of SQLite's that belongs to a store of this name, such as its log; *there: it is. */
static bool left_beside(const char *path, const char *suffix, bool *there, struct err *e)
{
    struct text name = {0};
    text_addf(&name, "%s%s", path, suffix);
    bool ok = !name.failed || err_memory(e);
    *there = ok && access(text_str(&name), F_OK) == 0;
    text_free(&name);
    return ok;
}

/*
 * A log beside a name that no store has would be played into whatever takes that name: SQLite cannot tell that it was
 * another store's.
 */
static bool name_is_clean(const char *path, struct err *e)
{
    static const char *const suffixes[] = {"-wal", "-shm", "-journal"};
    bool there;
    for (size_t i = 0; i < COUNT_OF(suffixes); i++) {
        if (!left_beside(path, suffixes[i], &there, e))
            return false;
        if (there)
            return err_set(
                e, ERR_INPUT, NULL,
                "%s%s: is left over from another store of this name; expected it to be moved away first, together "
                "with that store if it is still wanted",
                path, suffixes[i]);
    }
    return true;
}

static bool is_taken(const char *path, struct err *e)
{
    return err_set(e, ERR_INPUT, NULL, "%s: is there already; expected the name of a new file", path);
}

bool store_name_free(const char *path, struct err *e)
{
    bool clean = name_is_clean(path, e);
    if (access(path, F_OK) == 0) /* asked second: the log of a store that came first is not left over */
        return is_taken(path, e);
    return clean;
}

/*
 * A backup is a single file that keeps no log (bytes 18 and 19 of the file are 1, see the file format of SQLite); the
 * first writing command turns one into a store with a log (2).
 */
static bool keeps_log(const char *path, bool *log, struct err *e)
{
    unsigned char head[20];
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    if (fd < 0)
        return io_error(path, e);
    *log = read(fd, head, sizeof head) == (ssize_t)sizeof head && (head[18] == 2 || head[19] == 2);
    close(fd);
    return true;
}

/* Only an earlier backup is written over: never the store that is copied, nor one that somebody works in. */
static bool may_replace(const struct store *s, const char *path, struct err *e)
{
    struct stat there, own;
    struct store *old;
    bool log = false;
    if (lstat(path, &there) != 0)
        return errno == ENOENT ? name_is_clean(path, e) : io_error(path, e);
    if (stat(path, &there) == 0 && stat(s->path, &own) == 0 && own.st_dev == there.st_dev && own.st_ino == there.st_ino)
        return err_set(e, ERR_INPUT, NULL, "%s: is the store itself; expected another file", path);
    if (!store_open_as(path, STORE_COPY, NULL, &old, NULL))
        return err_set(e, ERR_INPUT, NULL, "%s: is there already and is no backup; expected a new file", path);
    store_close(old);
    if (!keeps_log(path, &log, e))
        return false;
    return log ? err_set(e, ERR_INPUT, NULL,
                         "%s: is a store that somebody works in, not a backup; expected another name", path)
               : name_is_clean(path, e);
}

static bool not_sound(const char *path, struct err *e)
{
    return err_set(e, ERR_STORE, NULL, "%s: the copy is not sound; it was thrown away", path) ||
           err_help(e, HELP_AUDIT, NULL);
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

/* The copy becomes one file, without a log beside it. */
static bool make_single(sqlite3 *db, const char *path, struct err *e)
{
    return sqlite3_exec(db, "PRAGMA journal_mode = DELETE", NULL, NULL, NULL) == SQLITE_OK || not_sound(path, e);
}

bool store_write_copy(struct store *s, const char *path, struct err *e)
{
    sqlite3 *to = NULL;
    bool ok = true;
    if (sqlite3_open_v2(path, &to, SQLITE_OPEN_READWRITE, NULL) != SQLITE_OK)
        ok = err_set(e, ERR_IO, NULL, "%s: cannot be made; expected a folder that may be written", path);
    ok = ok && copy_pages(s, to, path, e) && make_single(to, path, e);
    sqlite3_close(to);
    return ok;
}

/* The copy of an older store becomes one of this neap's. */
static bool renew(const char *path, struct err *e)
{
    sqlite3 *db = NULL;
    struct store *s;
    if (!store_open_as(path, STORE_WRITE, NULL, &s, e))
        return false;
    store_close(s);
    bool ok = (sqlite3_open_v2(path, &db, SQLITE_OPEN_READWRITE, NULL) == SQLITE_OK || not_sound(path, e)) &&
              make_single(db, path, e);
    sqlite3_close(db);
    return ok;
}

static bool sync_path(const char *path, struct err *e)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    bool ok = fd >= 0 && fsync(fd) == 0;
    if (!ok)
        io_error(path, e);
    if (fd >= 0)
        close(fd);
    return ok;
}

/* A new name is kept only when its folder is. */
static bool sync_folder(const char *path, struct err *e)
{
    struct text folder = {0};
    const char *slash = strrchr(path, '/');
    if (slash)
        text_add_n(&folder, path, slash == path ? 1 : (size_t)(slash - path));
    else
        text_add(&folder, ".");
    bool ok = folder.failed ? err_memory(e) : sync_path(text_str(&folder), e);
    text_free(&folder);
    return ok;
}

bool store_name_beside(const char *path, struct text *beside, struct err *e)
{
    text_addf(beside, "%s.part-XXXXXX", path);
    if (beside->failed)
        return err_memory(e);
    int fd = mkstemp(beside->s); /* made here and by nobody else: never through somebody's link */
    if (fd < 0)
        return err_set(e, ERR_IO, NULL, "%s: cannot be made (%s); expected a folder that may be written", path,
                       strerror(errno));
    close(fd);
    return true;
}

void store_remove(const char *path)
{
    static const char *const suffixes[] = {"", "-wal", "-shm", "-journal"};
    for (size_t i = 0; i < COUNT_OF(suffixes); i++) {
        struct text name = {0};
        text_addf(&name, "%s%s", path, suffixes[i]);
        if (!name.failed)
            unlink(text_str(&name));
        text_free(&name);
    }
}

bool store_take_name(const char *part, const char *path, struct err *e)
{
    bool log;
    if (!left_beside(part, "-wal", &log, e))
        return false;
    if (log) /* its closing could not bring all of it into the file, and says so in no other way */
        return err_set(e, ERR_IO, NULL, "%s: writing failed; nothing was made", path);
    if (!sync_path(part, e) || !store_name_free(path, e))
        return false;
    if (link(part, path) != 0)
        return errno == EEXIST ? is_taken(path, e) : io_error(path, e);
    if (sync_folder(path, e))
        return true;
    unlink(path); /* a name that a power loss could take away again is none */
    return false;
}

bool store_copy_rights(const struct store *s, const char *part, struct err *e)
{
    struct stat own;
    return stat(s->path, &own) != 0 || chmod(part, own.st_mode & 0777) == 0 || io_error(part, e);
}

/* What cannot be read through, or whose file is not whole, is no copy. */
static bool audit_copy(const char *part, const char *path, struct text *findings, size_t *n, struct err *e)
{
    struct store *copy;
    size_t n_file = 0;
    bool ok = store_open_as(part, STORE_READ, NULL, &copy, e);
    if (ok) {
        ok = store_audit_apart(copy, findings, n, &n_file, e);
        store_close(copy);
    }
    return ok ? n_file == 0 || not_sound(path, e) : e->code == ERR_STORE && not_sound(path, e);
}

/* A copy with findings is better than none, and worse than the one that is there. */
static bool may_take_place(const char *path, size_t n, struct err *e)
{
    if (n == 0 || access(path, F_OK) != 0)
        return true;
    return err_set(e, ERR_STORE, NULL,
                   "%s: the copy has %zu finding%s, and the earlier backup of this name stays; expected a new name",
                   path, n, n == 1 ? "" : "s");
}

/* In place of the earlier one, which is gone then, whatever the folder says. */
static bool replace_by(const char *part, const char *path, struct err *e)
{
    if (!sync_path(part, e))
        return false;
    if (rename(part, path) != 0)
        return io_error(path, e);
    return sync_folder(path, NULL) || err_set(e, ERR_IO, NULL,
                                              "%s: the copy is whole and in its place, but the disk did not confirm "
                                              "the folder; expected a disk that keeps what it is given",
                                              path);
}

/* Takes its name only when whole; replace false: and only where nothing has that name. */
static bool copy_to(struct store *s, const char *path, bool replace, struct text *findings, size_t *n, struct err *e)
{
    struct text beside = {0};
    bool ok = store_name_beside(path, &beside, e);
    const char *part = text_str(&beside);
    if (ok) {
        ok = store_write_copy(s, part, e) && (!s->older || renew(part, e)) && store_copy_rights(s, part, e) &&
             audit_copy(part, path, findings, n, e) && may_take_place(path, *n, e);
        if (ok && replace)
            ok = replace_by(part, path, e);
        else if (ok)
            ok = store_take_name(part, path, e);
        store_remove(part);
    }
    text_free(&beside);
    return ok;
}

bool store_backup(struct store *s, const char *path, struct text *findings, size_t *n, struct err *e)
{
    return may_replace(s, path, e) && copy_to(s, path, access(path, F_OK) == 0, findings, n, e);
}

bool store_copy_new(struct store *s, const char *path, struct text *findings, size_t *n, struct err *e)
{
    return store_name_free(path, e) && copy_to(s, path, false, findings, n, e);
}
