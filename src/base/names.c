/* A set of names: the C library's balanced tree, which keeps a million of them as well as three. */
#include "neap/base.h"

#include <search.h>

static int by_name(const void *a, const void *b)
{
    return strcmp(a, b);
}

bool names_have(const struct name_set *s, const char *name)
{
    return tfind(name, &s->root, by_name) != NULL;
}

bool names_add(struct name_set *s, const char *name)
{
    if (names_have(s, name))
        return true;
    const char *kept = arena_text(&s->arena, name);
    return kept && tsearch(kept, &s->root, by_name);
}

void names_free(struct name_set *s)
{
    while (s->root)
        tdelete(*(void **)s->root, &s->root, by_name);
    arena_free(&s->arena);
}
