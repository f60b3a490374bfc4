/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whether the sheet that hangs at the tank still holds. */
#include "main.h"

#include "neap/todays.h"

static void tell(struct context *c, const struct round *r, const struct todays *t)
{
    size_t n = t->changes.n;
    text_addf(c->notes, "neap: round %ld of today no longer fits: %s%s", r->head.number, t->changes.texts[0],
              n > 1 ? "" : "\n");
    if (n > 1)
        text_addf(c->notes, " And %zu more.\n", n - 1);
    text_addf(c->notes, "neap: %s\n",
              t->n_done == 0 ? "neap plan makes a new sheet"
                             : "neap plan --from-now, then neap sheet, take it into account");
}

static bool tell_of(struct context *c, struct store *s, long number, struct arena *a, struct err *e)
{
    struct facility f;
    struct round r;
    struct todays t;
    if (!store_snapshot(s, c->today, 0, &f, e))
        return false;
    bool ok = store_load_round(s, &f, number, c->today, &r, e);
    if (ok) {
        ok = todays_read(s, c->now, &f, &r, a, &t, e);
        if (ok && t.changes.n > 0)
            tell(c, &r, &t);
        round_free(&r);
    }
    facility_free(&f);
    return ok;
}

bool overtaken_tell(struct context *c, struct err *e)
{
    struct store *s;
    struct arena a = {0};
    long *numbers;
    size_t n;
    if (!context_open(c, STORE_READ, &s, e))
        return false;
    bool ok = store_round_numbers(s, c->today, c->today, &a, &numbers, &n, e);
    if (ok && n > 0)
        ok = tell_of(c, s, numbers[n - 1], &a, e);
    arena_free(&a);
    store_close(s);
    return ok;
}
