/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Files read and written whole, and sources of rows. */
#include "files.h"

#include <errno.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

bool entry_end(struct context *c, struct store *s, bool ok, const struct load_counts *counts, struct err *e)
{
    ok = context_end(c, s, ok, e);
    if (ok) {
        load_counts_words(counts, c->out);
        text_add(c->out, "\n");
    }
    return ok;
}

static bool io_error(const char *path, struct err *e)
{
    return err_set(e, ERR_IO, NULL, "%s: %s", path, strerror(errno));
}

bool file_read(const char *path, char **bytes, size_t *len, struct err *e)
{
    struct text all = {0};
    char chunk[65536];
    ssize_t n;
    bool ok = false;
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    if (fd < 0)
        return io_error(path, e);
    text_add(&all, ""); /* an empty file is an empty text, no NULL */
    while ((n = read(fd, chunk, sizeof chunk)) > 0 && all.len <= (size_t)FILE_BYTES_MAX && !all.failed)
        text_add_n(&all, chunk, (size_t)n);
    if (n < 0)
        io_error(path, e);
    else if (all.failed)
        err_memory(e);
    else if (all.len > (size_t)FILE_BYTES_MAX)
        err_set(e, ERR_INPUT, NULL, "%s: is larger than %ld MiB; expected less", path, FILE_BYTES_MAX / 1024 / 1024);
    else
        ok = true;
    close(fd);
    if (!ok) {
        text_free(&all);
        return false;
    }
    *bytes = all.s;
    *len = all.len;
    return true;
}

/* ---- sources ----------------------------------------------------------------------------------------------------- */

enum { LARGE_BYTES = 1 << 20, ROOM_BYTES = 1 << 18 };

struct large_file {
    int fd;
    struct stat was;
    const char *name;
};

static bool is_as_it_was(const struct large_file *f)
{
    struct stat is;
    return fstat(f->fd, &is) == 0 && is.st_size == f->was.st_size && is.st_mtim.tv_sec == f->was.st_mtim.tv_sec &&
           is.st_mtim.tv_nsec == f->was.st_mtim.tv_nsec;
}

/* What was found out of a file by one look holds for the next only while nobody writes to it. */
static bool fetch(void *context, size_t at, size_t n, char *into, struct err *e)
{
    const struct large_file *f = context;
    size_t got = 0;
    ssize_t part = 1;
    while (got < n && part != 0) {
        part = pread(f->fd, into + got, n - got, (off_t)(at + got));
        if (part < 0 && errno != EINTR)
            return io_error(f->name, e);
        got += part > 0 ? (size_t)part : 0;
    }
    return (got == n && is_as_it_was(f)) ||
           err_set(e, ERR_IO, NULL, "%s: was changed while it was read; expected it to stay as it is until then",
                   f->name);
}

/* *large NULL: it is no such file. */
static bool large_open(const char *name, struct large_file **large, struct err *e)
{
    struct stat is;
    *large = NULL;
    if (stat(name, &is) != 0 || !S_ISREG(is.st_mode) || is.st_size < LARGE_BYTES || is.st_size > FILE_BYTES_MAX)
        return true;
    struct large_file *f = calloc(1, sizeof *f);
    if (!f)
        return err_memory(e);
    f->name = name;
    f->fd = open(name, O_RDONLY | O_CLOEXEC);
    if (f->fd < 0 || fstat(f->fd, &f->was) != 0) {
        io_error(name, e);
        if (f->fd >= 0)
            close(f->fd);
        free(f);
        return false;
    }
    *large = f;
    return true;
}

bool source_open(const char *name, const struct csv_form *form, struct source *source, struct err *e)
{
    struct large_file *large;
    char *bytes;
    *source = (struct source){.name = name, .form = form};
    if (!large_open(name, &large, e))
        return false;
    if (large) {
        source->fetch = fetch;
        source->context = large;
        source->len = (size_t)large->was.st_size;
        source->room = ROOM_BYTES;
        return true;
    }
    if (!file_read(name, &bytes, &source->len, e))
        return false;
    source->bytes = bytes;
    return true;
}

void source_close(struct source *source)
{
    struct large_file *large = source->context;
    if (large)
        close(large->fd);
    free(large);
    free((void *)(uintptr_t)source->bytes);
}

bool source_rows(struct context *c, const struct source *source, const struct reg *as, const struct exchange_sink *sink,
                 size_t *n_rows, struct err *e)
{
    struct faults faults = {0};
    bool ok = exchange_read(source, as, sink, &faults, n_rows, e);
    text_add(c->notes, text_str(&faults.notes));
    if (ok && faults.n > 0) {
        text_add(c->notes, text_str(&faults.lines));
        ok = err_set(e, ERR_INPUT, NULL, "%s: %zu fault%s in %zu row%s; nothing was stored", source->name, faults.n,
                     faults.n == 1 ? "" : "s", *n_rows, *n_rows == 1 ? "" : "s");
    }
    faults_free(&faults);
    return ok;
}

static bool write_all(int fd, const char *bytes, size_t len)
{
    while (len > 0) {
        ssize_t n = write(fd, bytes, len);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            return false;
        bytes += n;
        len -= (size_t)n;
    }
    return true;
}

bool file_write(const char *path, const char *bytes, size_t len, struct err *e)
{
    struct text beside = {0};
    text_addf(&beside, "%s.part", path);
    if (beside.failed) {
        text_free(&beside);
        return err_memory(e);
    }
    int fd = open(text_str(&beside), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
    bool ok = fd >= 0 && write_all(fd, bytes, len) && fsync(fd) == 0;
    if (fd >= 0 && close(fd) != 0)
        ok = false;
    ok = ok && rename(text_str(&beside), path) == 0;
    if (!ok) {
        io_error(path, e);
        if (fd >= 0)
            unlink(text_str(&beside));
    }
    text_free(&beside);
    return ok;
}
