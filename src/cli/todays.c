/* A kept round beside the facility as it is now. */
#include "todays.h"

bool todays_read(struct context *c, struct store *s, const struct facility *f, const struct round *r, struct arena *a,
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
    return r->head.day != c->today || round_changed(f, r, t->done, c->now, a, &t->changes, e);
}

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
    if (!store_snapshot(s, &f, e))
        return false;
    bool ok = store_load_round(s, &f, number, c->today, &r, e);
    if (ok) {
        ok = todays_read(c, s, &f, &r, a, &t, e);
        if (ok && t.changes.n > 0)
            tell(c, &r, &t);
        round_free(&r);
    }
    facility_free(&f);
    return ok;
}

bool todays_tell(struct context *c, struct err *e)
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

bool row_put(struct store *s, const struct facility *f, enum reg_id id, const void *row, enum put *outcome,
             struct err *e)
{
    const struct reg *r = reg_get(id);
    struct arena scratch = {0};
    struct cell cells[FIELDS_MAX];
    bool present[FIELDS_MAX];
    size_t field;
    for (size_t i = 0; i < r->n_fields; i++)
        present[i] = true;
    bool ok = row_read(r, row, f, cells, &scratch, e) && store_put(s, r, cells, present, outcome, &field, e);
    arena_free(&scratch);
    return ok;
}
