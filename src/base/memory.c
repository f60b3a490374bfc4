/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Arenas, and arrays that grow with their sizes checked. */
#include "neap/base.h"

/* Under the sanitizer what nobody was given of a block is out of bounds, and so is what stands behind each piece. */
#ifdef __has_feature
#if __has_feature(address_sanitizer)
#include <sanitizer/asan_interface.h>
#endif
#endif
#ifndef ASAN_POISON_MEMORY_REGION
#define ASAN_POISON_MEMORY_REGION(at, n) ((void)0)
#define ASAN_UNPOISON_MEMORY_REGION(at, n) ((void)0)
#endif

struct arena_block {
    struct arena_block *before;
    size_t used, room;
    max_align_t data[];
};

/*
 * An arena often lives for one row only: its first block is small, and each one after it twice as large. Tests make it
 * smaller.
 */
#ifndef ARENA_BLOCK_LEAST
#define ARENA_BLOCK_LEAST 1024
#endif
enum { BLOCK_LEAST = ARENA_BLOCK_LEAST, BLOCK_MOST = 32 * BLOCK_LEAST };

static bool product_fits(size_t n, size_t size, size_t *bytes)
{
    if (size != 0 && n > SIZE_MAX / 2 / size)
        return false;
    *bytes = n * size;
    return true;
}

void *arena_alloc(struct arena *a, size_t n, size_t size)
{
    size_t asked;
    if (!product_fits(n, size, &asked))
        return NULL;
    const size_t unit = _Alignof(max_align_t);
    size_t bytes = (asked / unit + 1) * unit; /* never zero, so that every answer is a distinct, usable address */
    struct arena_block *b = a->last;
    if (!b || b->room - b->used < bytes) {
        size_t room = b ? 2 * b->room : BLOCK_LEAST;
        room = room > BLOCK_MOST ? BLOCK_MOST : room;
        room = room < bytes ? bytes : room;
        b = calloc(1, sizeof *b + room);
        if (!b)
            return NULL;
        b->before = a->last;
        b->room = room;
        a->last = b;
        ASAN_POISON_MEMORY_REGION(b->data, room);
    }
    void *p = (char *)b->data + b->used;
    b->used += bytes;
    ASAN_UNPOISON_MEMORY_REGION(p, asked);
    return p;
}

char *arena_text(struct arena *a, const char *s)
{
    size_t n = strlen(s) + 1;
    char *copy = arena_alloc(a, n, 1);
    return copy ? memcpy(copy, s, n) : NULL;
}

char *arena_format(struct arena *a, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    int n = vsnprintf(NULL, 0, fmt, ap);
    va_end(ap);
    if (n < 0)
        return NULL;
    char *s = arena_alloc(a, (size_t)n + 1, 1);
    if (!s)
        return NULL;
    va_start(ap, fmt);
    vsnprintf(s, (size_t)n + 1, fmt, ap);
    va_end(ap);
    return s;
}

void arena_free(struct arena *a)
{
    while (a->last) {
        struct arena_block *before = a->last->before;
        free(a->last);
        a->last = before;
    }
}

void *mem_grow(void *array, size_t *room, size_t need, size_t size)
{
    if (array && need <= *room)
        return array;
    size_t want = *room < 8 ? 8 : *room, bytes;
    while (want < need) {
        if (want > SIZE_MAX / 4)
            return NULL;
        want *= 2;
    }
    if (!product_fits(want, size, &bytes))
        return NULL;
    void *moved = realloc(array, bytes); /* NOLINT(clang-analyzer-optin.portability.UnixAPI): size is no 0 */
    if (moved)
        *room = want;
    return moved;
}
