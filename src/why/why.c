/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which subject is asked about, and what became of its numbers since; line.c, pot.c, state.c and head.c explain each
 * kind.
 */
#include "neap/why.h"
#include "why/why.h"

#include <ctype.h>

/* ---- which subject ---------------------------------------------------------------------------------------------- */

enum subject_kind {
    SUBJECT_LINE,
    SUBJECT_POT,
    SUBJECT_SYSTEM,
    SUBJECT_TANK,
    SUBJECT_COLONY,
    SUBJECT_SWITCH,
    SUBJECT_ROUND,
    N_SUBJECTS
};

static const char *const subject_names[N_SUBJECTS] = {"line", "pot", "system", "tank", "colony", "switch", "round"};

enum { ROUND_HEAD, ROUND_TOTALS, N_ROUND_PARTS };
static const char *const round_parts[N_ROUND_PARTS] = {"head", "totals"};

/* The place of a number from 1 on. */
static size_t find_number(const char *word, size_t n)
{
    long number;
    return count_parse(word, &number) && number >= 1 && (size_t)number <= n ? (size_t)number - 1 : REF_NONE;
}

static size_t find_subject(const struct why *y, enum subject_kind kind, const char *name)
{
    switch (kind) {
    case SUBJECT_LINE: return find_number(name, y->r->n_lines);
    case SUBJECT_POT:
        for (size_t i = 0; i < y->r->n_pots; i++)
            if (text_same_but_case(y->r->pots[i].pot, name))
                return i;
        return REF_NONE;
    case SUBJECT_SYSTEM: return facility_named(y->w->f, REG_SYSTEM, name);
    case SUBJECT_TANK: return facility_named(y->w->f, REG_TANK, name);
    case SUBJECT_SWITCH:
        return tolower((unsigned char)name[0]) == 's' && tolower((unsigned char)name[1]) == 'w'
                   ? find_number(name + 2, y->r->n_switchings)
                   : REF_NONE;
    case SUBJECT_ROUND:
        for (size_t i = 0; i < N_ROUND_PARTS; i++)
            if (text_same_but_case(round_parts[i], name))
                return i;
        return REF_NONE;
    default: return facility_named(y->w->f, REG_COLONY, name);
    }
}

/* As it is called, in whatever case it was typed. */
static const char *name_of(const struct why *y, enum subject_kind kind, size_t at, const char *typed)
{
    switch (kind) {
    case SUBJECT_SYSTEM: return y->w->f->systems[at].name;
    case SUBJECT_TANK: return y->w->f->tanks[at].name;
    case SUBJECT_COLONY: return y->w->f->colonies[at].code;
    case SUBJECT_POT: return y->r->pots[at].pot;
    case SUBJECT_ROUND: return round_parts[at];
    default: return typed;
    }
}

static bool no_subject(const struct why *y, const char *name, struct err *e)
{
    const struct facility *f = y->w->f;
    size_t n = f->n_systems + f->n_tanks + f->n_colonies, k = 0;
    long number;
    const char **names = arena_alloc(y->a, n, sizeof *names);
    if (!names)
        return err_memory(e);
    if (count_parse(name, &number))
        return err_set(e, ERR_NOT_FOUND, NULL, "the round has no line %ld; its lines are 1 to %zu", number,
                       y->r->n_lines);
    for (size_t i = 0; i < f->n_systems; i++)
        names[k++] = f->systems[i].name;
    for (size_t i = 0; i < f->n_tanks; i++)
        names[k++] = f->tanks[i].name;
    for (size_t i = 0; i < f->n_colonies; i++)
        names[k++] = f->colonies[i].code;
    const char *near_by = name_nearest(name, names, n);
    return err_set(e, ERR_NOT_FOUND, NULL, "\"%.60s\" is no line, pot, system, tank, colony or switch%s%s%s", name,
                   near_by ? "; did you mean \"" : "", near_by ? near_by : "", near_by ? "\"?" : "");
}

/* "D1" of "Tank D1"; NULL: it does not begin with that word. */
static const char *behind_kind(const char *subject, const char *kind)
{
    char word[16];
    size_t n = strcspn(subject, " ");
    if (subject[n] == '\0' || n >= sizeof word)
        return NULL;
    snprintf(word, sizeof word, "%.*s", (int)n, subject);
    return text_same_but_case(word, kind) ? subject + n + 1 : NULL;
}

/* "tank D1" names the kind of thing; a bare name is the first that fits, in the order of the kinds. */
static bool explain(struct why *y, const char *subject, struct err *e)
{
    for (int named = 1; named >= 0; named--)
        for (int kind = 0; kind < N_SUBJECTS; kind++) {
            const char *name = named ? behind_kind(subject, subject_names[kind]) : subject;
            if (!name)
                continue;
            size_t at = find_subject(y, (enum subject_kind)kind, name);
            if (at == REF_NONE)
                continue;
            y->x->subject = why_format(y, "%s %s", subject_names[kind], name_of(y, (enum subject_kind)kind, at, name));
            switch ((enum subject_kind)kind) {
            case SUBJECT_LINE: return why_line(y, &y->r->lines[at], e);
            case SUBJECT_POT: return why_pot(y, at, e);
            case SUBJECT_SYSTEM: return why_system(y, at, e);
            case SUBJECT_TANK: return why_tank(y, at, e);
            case SUBJECT_SWITCH: why_switch(y, at); return true;
            case SUBJECT_ROUND: at == ROUND_HEAD ? why_head(y) : why_totals(y); return true;
            default: return why_colony(y, at, e);
            }
        }
    return no_subject(y, subject, e);
}

bool plan_explain(const struct facility *f, const struct plan_request *request, const struct round *kept,
                  struct plan_question *q, struct round *r, struct err *e)
{
    *r = (struct round){0};
    struct working w = {.f = f, .request = request, .a = &r->arena};
    bool ok = working_foods(&w, e) && working_rows_kept(&w, kept, r, e);
    r->head = kept->head;
    r->switchings = kept->switchings;
    r->n_switchings = kept->n_switchings;
    for (size_t i = 0; ok && i < q->n; i++) {
        q->answers[i] = (struct explanation){.subject = "", .title = "", .says = "", .answer = NAN, .unit = ""};
        struct why y = {.w = &w, .r = r, .a = &r->arena, .x = &q->answers[i]};
        ok = explain(&y, q->subjects[i], e) && (!y.failed || err_memory(e));
    }
    working_free(&w);
    if (!ok)
        round_free(r);
    return ok;
}

/* ---- what became of it ------------------------------------------------------------------------------------------ */

static const struct why_row *same_row(const struct explanation *x, const char *title, const struct why_row *row)
{
    for (size_t s = 0; s < x->n_steps; s++)
        for (size_t i = 0; strcmp(x->steps[s].title, title) == 0 && i < x->steps[s].n_rows; i++)
            if (strcmp(x->steps[s].rows[i].what, row->what) == 0)
                return &x->steps[s].rows[i];
    return NULL;
}

/* A number as a sentence shows it; "clock" as a time. */
static const char *row_words(struct why *y, const struct why_row *row)
{
    char clock[CLOCK_TEXT];
    if (isnan(row->value))
        return row->words;
    if (strcmp(row->unit, "clock") != 0)
        return why_number_words(y, row->value, row->unit);
    clock_format((int)row->value, clock);
    return why_format(y, "%s", clock);
}

bool explanation_changes(const struct explanation *then, const struct explanation *now, struct arena *a,
                         const char *const **changes, size_t *n, struct err *e)
{
    struct why y = {.a = a};
    size_t room = 0;
    for (size_t s = 0; s < now->n_steps; s++)
        room += now->steps[s].n_rows;
    const char **list = arena_alloc(a, room, sizeof *list);
    *n = 0;
    for (size_t s = 0; list && s < now->n_steps; s++)
        for (size_t i = 0; i < now->steps[s].n_rows; i++) {
            const struct why_row *row = &now->steps[s].rows[i], *was = same_row(then, now->steps[s].title, row);
            if (row->part == WHY_NOTE)
                continue;
            const char *is_now = row_words(&y, row), *before = was ? row_words(&y, was) : "";
            if (!was || strcmp(is_now, before) == 0)
                continue;
            list[(*n)++] = why_format(&y, "%s, %s: was %s, is %s now.", now->steps[s].title, row->what, before, is_now);
        }
    *changes = list;
    return (list && !y.failed) || err_memory(e);
}
