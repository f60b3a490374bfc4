/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the store says of today's round: what is done, what has changed. */
#include "neap/todays.h"

bool todays_read(struct store *s, long now, const struct facility *f, const struct round *r, struct arena *a,
                 struct todays *t, struct err *e)
{
    struct round_log log;
    *t = (struct todays){.done = arena_alloc(a, r->n_lines, sizeof *t->done)};
    t->not_given = arena_alloc(a, r->n_lines, sizeof *t->not_given);
    t->changes.off = arena_alloc(a, r->n_lines, sizeof(const char *));
    if (!t->done || !t->not_given || !t->changes.off)
        return err_memory(e);
    if (!store_load_log(s, f, r->head.number, &log, e))
        return false;
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct given *g = log_find(&log, r->lines[i].number);
        t->done[i] = g != NULL;
        t->not_given[i] = g && g->outcome == OUTCOME_NOT_GIVEN;
        t->n_done += t->done[i];
    }
    round_log_free(&log);
    return r->head.day != moment_day(now) || round_changed(f, r, t->done, now, a, &t->changes, e);
}
