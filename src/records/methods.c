/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The method a reading was taken by: which one is meant, and what it means for the trend when it is another one. */
#include "neap/advice.h"
#include "neap/readings.h"

/* ---- which is meant --------------------------------------------------------------------------------------------- */

struct assigning {
    const char *const *given; /* --method, as typed */
    size_t n_given;
    const struct facility *f;
    struct typed_list *list;
    long taken;
    struct arena arena;
};

/* Is what --method gives ANALYTE=NAME? A name may hold "=", where no analyte stands before it. */
static bool is_for_one(const char *given, int *analyte, const char **name)
{
    char word[32] = "";
    size_t n = strcspn(given, "=");
    if (given[n] == '=' && n < sizeof word)
        memcpy(word, given, n);
    *analyte = analyte_named(word);
    *name = *analyte == N_ANALYTES ? given : given + n + 1;
    return *analyte != N_ANALYTES;
}

static const char *named_method(const struct assigning *g, int analyte, bool *alone)
{
    const char *all = NULL;
    for (size_t i = 0; i < g->n_given; i++) {
        int of;
        const char *name;
        if (!is_for_one(g->given[i], &of, &name))
            all = g->given[i];
        else if (of == analyte) {
            *alone = true;
            return name;
        }
    }
    *alone = false;
    return all;
}

static const struct test *stored_by(const struct facility *f, const struct typed_reading *row, long taken,
                                    const char *method, size_t skip)
{
    for (size_t i = 0; i < f->n_tests; i++) {
        const struct test *t = &f->tests[i];
        if (t->system == row->system && t->analyte == row->reading.analyte && t->taken == taken &&
            (!method || strcmp(t->method, method) == 0) && skip-- == 0)
            return t;
    }
    return NULL;
}

/*
 * Readings of the same before it on this command line, by the same method; and the greatest repeat they and the store
 * have.
 */
static size_t like_it_before(const struct assigning *g, size_t at, long *greatest)
{
    const struct typed_reading *row = &g->list->rows[at];
    size_t n = 0;
    for (size_t i = 0; i < g->f->n_tests; i++) {
        const struct test *t = &g->f->tests[i];
        if (t->system == row->system && t->analyte == row->reading.analyte && t->taken == g->taken)
            *greatest = t->repeat > *greatest ? t->repeat : *greatest;
    }
    for (size_t i = 0; i < at; i++) {
        const struct typed_reading *r = &g->list->rows[i];
        if (r->system != row->system || r->reading.analyte != row->reading.analyte)
            continue;
        n++;
        *greatest = r->repeat > *greatest ? r->repeat : *greatest;
    }
    return n;
}

/* Is it the minute's reading that is corrected, or one more? */
static void find_place(const struct assigning *g, size_t at, bool named)
{
    struct typed_reading *row = &g->list->rows[at];
    long greatest = 0;
    size_t before = like_it_before(g, at, &greatest);
    const struct test *was = stored_by(g->f, row, g->taken, named ? row->method : NULL, before);
    if (!was && named)
        was = stored_by(g->f, row, g->taken, "", before);
    row->repeat = was ? was->repeat : greatest + 1;
    if (was && !named)
        row->method = was->method;
}

static bool refuse_mixed(const struct assigning *g, const char *method, int changed, struct err *e)
{
    return err_set(e, ERR_MISUSE, NULL,
                   "--method %s would change the method of %s too; expected --method ANALYTE=%s, for each analyte that "
                   "was read by it",
                   method, analytes[g->list->rows[changed].reading.analyte].title, method);
}

/* One name for several analytes must not change the method of some in passing. */
static bool mixes_none(const struct assigning *g, const char *const *usual, struct err *e)
{
    int same = -1, changed = -1;
    for (size_t i = 0; i < g->list->n; i++) {
        bool alone;
        const struct typed_reading *row = &g->list->rows[i];
        const char *method = named_method(g, row->reading.analyte, &alone);
        if (!method || alone || !usual[i])
            continue;
        *(strcmp(usual[i], method) == 0 ? &same : &changed) = (int)i;
    }
    bool alone;
    return same < 0 || changed < 0 ||
           refuse_mixed(g, named_method(g, g->list->rows[changed].reading.analyte, &alone), changed, e);
}

bool methods_assign(const char *const *given, size_t n_given, const struct facility *f, struct typed_list *list,
                    long taken, struct err *e)
{
    struct assigning g = {.given = given, .n_given = n_given, .f = f, .list = list, .taken = taken};
    const char **usual = arena_alloc(&g.arena, list->n, sizeof *usual);
    bool ok = usual || err_memory(e);
    for (size_t i = 0; ok && i < list->n; i++) {
        struct arena scratch = {0};
        ok = method_in_use(f, list->rows[i].system, (enum analyte)list->rows[i].reading.analyte, taken, &scratch,
                           &usual[i], e);
        arena_free(&scratch);
    }
    ok = ok && mixes_none(&g, usual, e);
    for (size_t i = 0; ok && i < list->n; i++) {
        bool alone;
        const char *named = named_method(&g, list->rows[i].reading.analyte, &alone);
        list->rows[i].method = named ? named : usual[i] ? usual[i] : "";
        find_place(&g, i, named != NULL);
    }
    arena_free(&g.arena);
    return ok;
}

/* ---- what it means ---------------------------------------------------------------------------------------------- */

static const char *title_of(const char *method)
{
    return *method ? method : "an unnamed method";
}

/* Readings by another method than this one; *other: of the latest. */
static size_t count_others(const struct facility *f, size_t system, enum analyte a, const char *method,
                           const char **other)
{
    size_t n = 0;
    for (size_t i = 0; i < f->n_tests; i++) {
        const struct test *t = &f->tests[i];
        if (t->system != system || t->analyte != (int)a || strcmp(t->method, method) == 0)
            continue;
        *other = t->method;
        n++;
    }
    return n;
}

static size_t count_zeros(const struct facility *f, size_t system, enum analyte a, const struct test **last)
{
    size_t n = 0;
    for (size_t i = 0; i < f->n_tests; i++)
        if (f->tests[i].system == system && f->tests[i].analyte == (int)a && f->tests[i].value == 0) {
            *last = &f->tests[i];
            n++;
        }
    return n;
}

/* A zero is taken as below what such a test tells from nothing, and that is said. */
static void tell_zeros(const struct facility *before, const struct facility *after, size_t system, enum analyte a,
                       struct text *notes)
{
    const struct test *zero = NULL, *old = NULL;
    if (count_zeros(after, system, a, &zero) <= count_zeros(before, system, a, &old))
        return;
    double limit = test_seen(after, zero).value;
    text_addf(notes,
              "neap: %s: %s of 0 is taken as below %g%s, what such a test tells from nothing; the limit of your own "
              "is written so: %s=below%g\n",
              after->systems[system].name, analytes[a].title, limit, analytes[a].unit_after, analytes[a].name, limit);
}

static bool tell(const struct facility *before, const struct facility *after, size_t system, enum analyte a,
                 long now_min, struct text *notes, struct err *e)
{
    struct arena arena = {0};
    const char *was, *is, *other = "";
    bool ok = method_in_use(before, system, a, now_min, &arena, &was, e) &&
              method_in_use(after, system, a, now_min, &arena, &is, e);
    if (ok && was && strcmp(was, is) != 0)
        text_addf(notes, "neap: %s: %s is now measured by %s, before by %s: the trend begins anew with its tests\n",
                  after->systems[system].name, analytes[a].title, title_of(is), title_of(was));
    else if (ok && was && count_others(after, system, a, is, &other) > count_others(before, system, a, was, &other))
        text_addf(
            notes,
            "neap: %s: %s by %s is a cross-check, shown beside the trend; that stays with %s until %d in a row are "
            "by another\n",
            after->systems[system].name, analytes[a].title, title_of(other), title_of(is), SERIES_RUN);
    arena_free(&arena);
    return ok;
}

bool methods_told(struct store *s, const struct facility *before, long now_min, struct text *notes, struct err *e)
{
    struct facility after;
    if (!store_snapshot(s, &(struct look_back){.day = moment_day(now_min)}, &after, e))
        return false;
    bool ok = true;
    for (size_t i = 0; ok && i < after.n_systems && i < before->n_systems; i++)
        for (int a = 0; ok && a < N_ANALYTES; a++)
            ok = tell(before, &after, i, (enum analyte)a, now_min, notes, e);
    for (size_t i = 0; ok && i < after.n_systems && i < before->n_systems; i++)
        for (int a = 0; a < N_NUTRIENTS; a++)
            tell_zeros(before, &after, i, (enum analyte)a, notes);
    facility_free(&after);
    return ok;
}
