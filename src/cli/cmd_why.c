/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap why: show the working behind a number of the sheet or the shelf. */
#include "day_round.h"

#include "neap/naming.h"
#include "neap/print.h"
#include "neap/replan.h"
#include "neap/why.h"

enum { CHANGES_SHOWN = 8 };

/* What is explained, and what became of it since. */
struct why_run {
    struct facility then, now;
    struct round kept, kept_then; /* with the indices of now and of then */
    struct round round, again;    /* its working, of then and of now */
    struct round_past past;
    struct explanation *answers, *answers_now; /* of the question */
    struct plan_question question;
    struct explanation *stocks;
    const char **stocked; /* per subject: the food whose stock is asked for; NULL: a subject of the question */
    size_t n_asked, n_stocks;
    bool planned_again;
    long n_resets; /* how often the kept round's clock was set anew */
    struct arena arena;
};

static void why_run_free(struct why_run *w)
{
    round_free(&w->kept);
    round_free(&w->kept_then);
    round_free(&w->round);
    round_free(&w->again);
    facility_free(&w->then);
    facility_free(&w->now);
    arena_free(&w->arena);
}

/* What is on the shelf is a matter of now, whatever was planned. */
static bool take_stock(const struct context *c, struct why_run *w, size_t at, struct err *e)
{
    size_t food = facility_named(&w->now, REG_FOOD, w->stocked[at]);
    if (food == REF_NONE)
        return row_unknown(&w->now, REG_FOOD, w->stocked[at], e);
    return stock_explain(&w->now, c->today, food, &w->arena, &w->stocks[w->n_stocks++], e);
}

/* "why tank D1" and "why D1 D2": a word that names a kind belongs to the one after it. */
static bool take_subjects(const struct context *c, struct why_run *w, struct err *e)
{
    static const char *const kinds[] = {"line", "pot", "system", "tank", "colony", "switch", "round"};
    const char **subjects = arena_alloc(&w->arena, c->n_args, sizeof *subjects);
    w->answers = arena_alloc(&w->arena, c->n_args, sizeof *w->answers);
    w->answers_now = arena_alloc(&w->arena, c->n_args, sizeof *w->answers_now);
    w->stocks = arena_alloc(&w->arena, c->n_args, sizeof *w->stocks);
    w->stocked = arena_alloc(&w->arena, c->n_args, sizeof *w->stocked);
    if (!subjects || !w->answers || !w->answers_now || !w->stocks || !w->stocked)
        return err_memory(e);
    size_t n = 0;
    for (size_t i = 0; i < c->n_args; i++) {
        bool kind = false, more = i + 1 < c->n_args;
        if (more && text_same_but_case(c->args[i], "stock")) {
            w->stocked[w->n_asked] = c->args[++i];
            if (!take_stock(c, w, w->n_asked++, e))
                return false;
            continue;
        }
        for (size_t k = 0; k < COUNT_OF(kinds); k++)
            kind = kind || text_same_but_case(c->args[i], kinds[k]);
        if (kind && more) {
            subjects[n] = arena_format(&w->arena, "%s %s", c->args[i], c->args[i + 1]);
            i++;
        } else {
            subjects[n] = c->args[i];
        }
        w->n_asked++;
        if (!subjects[n++])
            return err_memory(e);
    }
    w->question = (struct plan_question){subjects, n, w->answers};
    return true;
}

/* As the plan found it then; and, as long as nothing of it was logged, as a plan would find it now. */
static bool explain_both(struct store *s, struct why_run *w, struct err *e)
{
    struct plan_request request;
    struct err none;
    if (!request_read(&w->now, &w->kept, &w->arena, &request, e))
        return false;
    struct round_head planned = w->kept.head;
    planned.revision -= request.n_resets; /* what is fed was worked out then; later revisions only set the clock */
    w->n_resets = request.n_resets;
    if (!store_snapshot_then(s, &planned, &w->then, &w->past, e) ||
        !store_load_round(s, &w->then, w->kept.head.number, &w->kept_then, e) ||
        !plan_explain(&w->then, &request, &w->kept_then, &w->question, &w->round, e))
        return false;
    if (w->past.n_later == 0 || w->past.n_logged > 0)
        return true;
    struct plan_question now = w->question;
    now.answers = w->answers_now;
    w->planned_again = plan_explain(&w->now, &request, &w->kept, &now, &w->again, &none);
    return w->planned_again || none.code == ERR_NOT_FOUND || none.code == ERR_INPUT ||
           err_set(e, none.code, NULL, "%s", none.text);
}

/* Does the working say what was kept? That of another version of the program may be another. */
static bool as_kept(const struct why_run *w)
{
    const struct round *a = &w->kept_then, *b = &w->round;
    if (a->n_lines != b->n_lines || a->n_pots != b->n_pots || a->n_pot_foods != b->n_pot_foods)
        return false;
    for (size_t i = 0; i < a->n_lines; i++)
        if (!isnan(a->lines[i].amount) && fabs(a->lines[i].amount - b->lines[i].amount) > 1e-9)
            return false;
    for (size_t i = 0; i < a->n_pot_foods; i++)
        if (fabs(a->pot_foods[i].amount_units - b->pot_foods[i].amount_units) > 1e-9)
            return false;
    return true;
}

static bool changes_of(struct why_run *w, size_t i, const char *const **changes, size_t *n, struct err *e)
{
    *n = 0;
    return !w->planned_again || explanation_changes(&w->answers[i], &w->answers_now[i], &w->arena, changes, n, e);
}

static void put_since(const struct why_run *w, struct document *d)
{
    if (!as_kept(w))
        document_item(d, "!",
                      "This neap no longer works out the kept round as it was kept; the working shown is today's.");
    if (w->n_resets > 0)
        document_item(d, "!", "The clock was set anew since (plan --from-now); the times here are the new ones.");
    if (w->past.n_later == 0)
        return;
    size_t shown = w->past.n_later < PAST_COMMANDS ? w->past.n_later : PAST_COMMANDS;
    document_text(d, document_format(d, "%zu entr%s made since the round was kept; this is the working of then.",
                                     w->past.n_later, w->past.n_later == 1 ? "y was" : "ies were"));
    for (size_t i = 0; i < shown; i++)
        document_item(d, "-", w->past.commands[shown - 1 - i]);
}

static bool put_changes(struct why_run *w, size_t i, struct document *d, struct err *e)
{
    const char *const *changes = NULL;
    size_t n;
    if (!changes_of(w, i, &changes, &n, e))
        return false;
    if (w->past.n_later == 0 || w->past.n_logged > 0)
        return true;
    document_space(d);
    document_heading(d, "Planned now");
    if (!w->planned_again)
        document_text(d, "A plan made now has no such line, pot, system, tank, colony or switch, or cannot be made.");
    else if (n == 0)
        document_text(d, "None of its numbers would change.");
    for (size_t k = 0; k < n && k < CHANGES_SHOWN; k++)
        document_item(d, "-", changes[k]);
    if (n > CHANGES_SHOWN)
        document_text(d, document_format(d, "And %zu more.", n - CHANGES_SHOWN));
    return true;
}

static bool print_text(struct context *c, struct why_run *w, struct err *e)
{
    struct document d = {0};
    bool ok = true;
    size_t stocks = 0;
    if (w->question.n > 0)
        put_since(w, &d);
    for (size_t i = 0; ok && i < w->n_asked; i++) {
        document_space(&d);
        why_document(w->stocked[i] ? &w->stocks[stocks++] : &w->answers[i - stocks], c->us_units, &d);
        ok = w->stocked[i] || put_changes(w, i - stocks, &d, e);
    }
    ok = ok && render_text(&d, greater(80, lesser(c->out_width, 120)), 0, c->out, e);
    document_free(&d);
    return ok;
}

static bool print_json(struct context *c, struct why_run *w, struct err *e)
{
    struct json_text j = {.out = c->out};
    json_open(&j, NULL, '{');
    json_number_member(&j, "schema", JSON_PRINT_SCHEMA);
    size_t stocks = 0;
    if (w->question.n > 0) {
        json_number_member(&j, "round", (double)w->kept.head.number);
        json_number_member(&j, "revision", (double)w->kept.head.revision);
        json_flag_member(&j, "as_kept", as_kept(w));
        json_number_member(&j, "entries_since", (double)w->past.n_later);
    }
    json_open(&j, "why", '[');
    for (size_t i = 0; i < w->n_asked; i++)
        why_json(w->stocked[i] ? &w->stocks[stocks++] : &w->answers[i - stocks], &j);
    json_close(&j);
    json_open(&j, "changed_since", '[');
    for (size_t i = 0; i < w->question.n; i++) {
        const char *const *changes = NULL;
        size_t n;
        if (!changes_of(w, i, &changes, &n, e))
            return false;
        for (size_t k = 0; k < n; k++)
            json_text_member(&j, NULL, changes[k]);
    }
    json_close(&j);
    json_close(&j);
    return true;
}

static bool why_run(struct context *c, struct err *e)
{
    struct store *s;
    struct why_run w = {0};
    if (!context_snapshot(c, STORE_READ, &s, &w.now, e))
        return false;
    bool ok = take_subjects(c, &w, e);
    if (ok && w.question.n > 0)
        ok = round_load_chosen(c, s, &w.now, 0, &w.kept, e) && explain_both(s, &w, e);
    ok = ok && (c->json ? print_json(c, &w, e) : print_text(c, &w, e));
    why_run_free(&w);
    store_close(s);
    return ok;
}

const struct command command_why = {
    .name = "why",
    .place = 230,
    .summary = "show the working behind a number of the sheet or the shelf",
    .also = "explain reason",
    .usage = "LINE|POT|SYSTEM|TANK|COLONY|sw1|head|totals|stock FOOD …",
    .about =
        "Shows how a number on the sheet came about: the formula, each number that went in and where it comes from, "
        "the limit "
        "that binds and what giving way would bring. The working is that of the moment the round was planned, whatever "
        "was "
        "entered since; what would be different now is named. head is the head of the sheet with its bound, totals the "
        "food to have ready, sw1 what is off and on again; stock FOOD is what is on the shelf now. A name that "
        "fits more "
        "than one thing takes its kind before it: why tank D1.",
    .example = "neap --on 2026-11-27 why 5 A south",
    .options = (const struct option_row[]){OPTION_ROUND, {0}},
    .args_min = 1,
    .args_max = 10000,
    .prints_json = true,
    .run = why_run,
};
