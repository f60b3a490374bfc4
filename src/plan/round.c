#include "neap/plan.h"

void round_free(struct round *r)
{
    arena_free(&r->arena);
    *r = (struct round){0};
}
