/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Preloaded before the program: the N-th allocation, write or sync fails, as FAIL="alloc:N", "write:N" or "sync:N"
 * asks, and with "+" behind it ("alloc:N+") every one from then on. When the failure happened, FAIL_MARK (a file name)
 * is made, so that the caller knows when N has passed the last call.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <unistd.h>

static char wanted; /* 'a', 'w', 's'; 0: nothing fails */
static long countdown;
static bool for_good;
static const char *mark;

__attribute__((constructor)) static void begin(void)
{
    const char *fail = getenv("FAIL");
    mark = getenv("FAIL_MARK");
    if (!fail || !strchr(fail, ':'))
        return;
    countdown = strtol(strchr(fail, ':') + 1, NULL, 10);
    for_good = fail[strlen(fail) - 1] == '+';
    wanted = fail[0];
}

/* Straight system calls: nothing here may allocate or write through what it replaces. */
static void leave_mark(void)
{
    if (mark) {
        long fd = syscall(SYS_openat, AT_FDCWD, mark, O_WRONLY | O_CREAT, 0600);
        if (fd >= 0)
            syscall(SYS_close, fd);
        mark = NULL;
    }
}

static bool fails(char what, int code)
{
    if (what != wanted || countdown <= 0 || --countdown > 0)
        return false;
    if (for_good)
        countdown = 1;
    leave_mark();
    errno = code;
    return true;
}

extern void *__libc_malloc(size_t);
extern void *__libc_calloc(size_t, size_t);
extern void *__libc_realloc(void *, size_t);

void *malloc(size_t n)
{
    return fails('a', ENOMEM) ? NULL : __libc_malloc(n);
}

void *calloc(size_t n, size_t size)
{
    return fails('a', ENOMEM) ? NULL : __libc_calloc(n, size);
}

void *realloc(void *p, size_t n)
{
    return fails('a', ENOMEM) ? NULL : __libc_realloc(p, n);
}

ssize_t write(int fd, const void *bytes, size_t n)
{
    return fd > 2 && fails('w', ENOSPC) ? -1 : syscall(SYS_write, fd, bytes, n);
}

ssize_t pwrite64(int fd, const void *bytes, size_t n, off64_t at)
{
    return fails('w', ENOSPC) ? -1 : syscall(SYS_pwrite64, fd, bytes, n, at);
}

ssize_t pwrite(int fd, const void *bytes, size_t n, off_t at)
{
    return pwrite64(fd, bytes, n, at);
}

int fsync(int fd)
{
    return fails('s', EIO) ? -1 : (int)syscall(SYS_fsync, fd);
}

int fdatasync(int fd)
{
    return fails('s', EIO) ? -1 : (int)syscall(SYS_fdatasync, fd);
}
