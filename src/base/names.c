/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A set of names, each with a value: the C library's balanced tree, which keeps a million of them as well as three. */
#include "neap/base.h"

#include <search.h>

struct named {
    const char *name;
    void *value;
};

static int by_name(const void *a, const void *b)
{
    return strcmp(((const struct named *)a)->name, ((const struct named *)b)->name);
}

static struct named *find(const struct name_set *s, const char *name)
{
    struct named **at = tfind(&(const struct named){name, NULL}, &s->root, by_name);
    return at ? *at : NULL;
}

bool names_have(const struct name_set *s, const char *name)
{
    return find(s, name) != NULL;
}

void *names_value(const struct name_set *s, const char *name)
{
    const struct named *n = find(s, name);
    return n ? n->value : NULL;
}

bool names_add(struct name_set *s, const char *name)
{
    return names_add_value(s, name, NULL);
}

bool names_add_value(struct name_set *s, const char *name, void *value)
{
    struct named *n = find(s, name);
    if (!n) {
        n = arena_alloc(&s->arena, 1, sizeof *n);
        if (!n || !(n->name = arena_text(&s->arena, name)) || !tsearch(n, &s->root, by_name))
            return false;
    }
    n->value = value;
    return true;
}

void names_free(struct name_set *s)
{
    while (s->root)
        tdelete(*(void **)s->root, &s->root, by_name);
    arena_free(&s->arena);
}
