/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whether the sheet that hangs at the tank still holds. */
#include "main.h"

#include "day_round.h"

#include "neap/todays.h"

static void tell(struct context *c, const struct round *r, const struct todays *t)
{
    size_t n = t->changes.n;
    char words[ROUND_WORDS];
    text_addf(c->notes, "neap: %s of today no longer fits: %s%s", round_words(&r->head, words), t->changes.texts[0],
              n > 1 ? "" : "\n");
    if (n > 1)
        text_addf(c->notes, " And %zu more.\n", n - 1);
    text_addf(c->notes, "neap: %s\n",
              t->n_done == 0 ? "neap plan makes a new sheet"
                             : "neap plan --from-now, then neap sheet, take it into account");
}

static bool tell_of(struct context *c, struct store *s, const struct facility *f, long number, struct err *e)
{
    struct arena a = {0};
    struct round r;
    struct todays t;
    if (!store_load_round(s, f, number, &r, e))
        return false;
    bool ok = todays_read(s, c->now, f, &r, &a, &t, e);
    if (ok && t.changes.n > 0)
        tell(c, &r, &t);
    arena_free(&a);
    round_free(&r);
    return ok;
}

bool overtaken_tell(struct context *c, struct err *e)
{
    struct store *s;
    struct arena a = {0};
    struct facility f = {0};
    struct kept_round *kept;
    size_t n;
    if (!context_open(c, STORE_READ, &s, e))
        return false;
    bool ok = store_rounds(s, c->today, c->today, &a, &kept, &n, e) &&
              (n == 0 || store_snapshot(s, &(struct look_back){.day = c->today}, &f, e));
    for (size_t i = 0; ok && i < n; i++)
        ok = tell_of(c, s, &f, kept[i].number, e);
    facility_free(&f);
    arena_free(&a);
    store_close(s);
    return ok;
}
