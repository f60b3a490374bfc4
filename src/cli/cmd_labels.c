/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap labels: labels for tanks, colonies, racks and pots, on label sheets. */
#include "day_round.h"
#include "paper.h"

#include "neap/naming.h"

enum { LABELS_WIDTH = 80, NAMES_MAX = 500 };

static const struct {
    const char *one, *many;
    enum label_kind kind;
} kinds[] = {
    {"tank", "tanks", LABEL_TANK},
    {"colony", "colonies", LABEL_COLONY},
    {"rack", "racks", LABEL_RACK},
    {"pot", "pots", LABEL_POT},
};

static bool take_kind(const char *word, enum label_kind *kind, struct err *e)
{
    for (size_t i = 0; i < COUNT_OF(kinds); i++)
        if (strcmp(kinds[i].one, word) == 0 || strcmp(kinds[i].many, word) == 0) {
            *kind = kinds[i].kind;
            return true;
        }
    return err_set(e, ERR_MISUSE, NULL, "\"%.60s\" has no labels; expected tank, colony, rack or pot", word);
}

static bool take_sheet(const struct context *c, struct label_request *q, struct err *e)
{
    const char *name = option_text(c, "sheet", c->us_units ? "3x10" : "3x8");
    q->sheet = label_sheet_find(name);
    if (!q->sheet)
        return err_set(e, ERR_MISUSE, NULL, "--sheet is \"%.60s\"; expected 3x8, 3x7 or 3x10", name);
    q->first = (size_t)option_number(c, "from", 1) - 1;
    if (q->first >= label_sheet_places(q->sheet))
        return err_set(e, ERR_MISUSE, NULL, "--from is %zu; a sheet %s has %zu labels", q->first + 1, name,
                       label_sheet_places(q->sheet));
    return true;
}

/* Those that are named, in that order. */
static bool take_named(const struct context *c, const struct facility *f, enum reg_id reg, size_t *rows,
                       struct label_request *q, struct err *e)
{
    for (size_t i = 1; i < c->n_args; i++) {
        rows[q->n] = facility_find(f, reg, c->args[i]);
        if (rows[q->n++] == REF_NONE)
            return row_unknown(f, reg, c->args[i], e);
    }
    return true;
}

static bool take_tanks(const struct context *c, const struct facility *f, size_t *rows, struct label_request *q,
                       struct err *e)
{
    for (size_t i = 0; c->n_args == 1 && i < f->n_tanks; i++)
        if (!f->tanks[i].retired)
            rows[q->n++] = i;
    return take_named(c, f, REG_TANK, rows, q, e);
}

static bool take_colonies(const struct context *c, const struct facility *f, size_t *rows, struct label_request *q,
                          struct err *e)
{
    const char *name = option_text(c, "tank", NULL);
    size_t tank = name ? facility_find(f, REG_TANK, name) : REF_NONE;
    if (name && tank == REF_NONE)
        return row_unknown(f, REG_TANK, name, e);
    for (size_t i = 0; c->n_args == 1 && i < f->n_colonies; i++)
        if (!f->colonies[i].retired && f->colonies[i].count > 0 && (!name || f->colonies[i].tank == tank))
            rows[q->n++] = i;
    return take_named(c, f, REG_COLONY, rows, q, e);
}

static bool has_pot(const struct round *r, const char *pot)
{
    for (size_t i = 0; i < r->n_pots; i++)
        if (strcmp(r->pots[i].pot, pot) == 0)
            return true;
    return false;
}

static bool take_names(const struct context *c, struct label_request *q, struct err *e)
{
    if (q->kind == LABEL_RACK && c->n_args == 1)
        return err_set(e, ERR_MISUSE, NULL, "labels rack needs names; expected such as: neap labels rack R1 R2");
    for (size_t i = 1; q->r && i < c->n_args; i++)
        if (!has_pot(q->r, c->args[i]))
            return err_set(e, ERR_NOT_FOUND, NULL, "round %ld has no pot \"%.60s\"", q->r->head.number, c->args[i]);
    q->names = c->args + 1;
    q->n = c->n_args - 1;
    return true;
}

static bool print_labels(struct context *c, const struct facility *f, struct label_request *q, struct err *e)
{
    struct document d = {0};
    size_t *rows = arena_alloc(&d.arena, f->n_tanks + f->n_colonies + c->n_args, sizeof *rows);
    bool ok = rows || err_memory(e);
    q->rows = rows;
    if (ok && q->kind == LABEL_TANK)
        ok = take_tanks(c, f, rows, q, e);
    else if (ok && q->kind == LABEL_COLONY)
        ok = take_colonies(c, f, rows, q, e);
    else
        ok = ok && take_names(c, q, e);
    ok = ok && labels_document(f, q, &d, e);
    if (ok && pdf_wanted(c))
        ok = paper_make_on(c, &d, q->sheet->paper, e);
    else
        ok = ok && (c->json ? document_json(&d, c->out, e) : render_text(&d, LABELS_WIDTH, 0, c->out, e));
    document_free(&d);
    return ok;
}

static bool labels_run(struct context *c, struct err *e)
{
    struct store *s;
    struct facility f;
    struct round r;
    struct label_request q = {.day = c->today, .outlined = option_given(c, "outline")};
    if (!take_kind(c->args[0], &q.kind, e))
        return false;
    if (option_given(c, "tank") && (q.kind != LABEL_COLONY || c->n_args > 1))
        return err_set(e, ERR_MISUSE, NULL, "--tank chooses among all colonies; expected it after labels colony alone");
    if (option_given(c, "round") && q.kind != LABEL_POT)
        return err_set(e, ERR_MISUSE, NULL, "--round chooses the pots; expected it after labels pot");
    if (c->json && pdf_wanted(c))
        return err_set(e, ERR_MISUSE, NULL, "--json prints the labels as data; expected no --pdf or --print");
    if (!context_snapshot(c, STORE_READ, &s, &f, e))
        return false;
    q.us_units = c->us_units;
    bool ok = take_sheet(c, &q, e);
    if (ok && q.kind == LABEL_POT) {
        ok = round_load_chosen(c, s, &f, 0, &r, e);
        q.r = ok ? &r : NULL;
    }
    ok = ok && print_labels(c, &f, &q, e);
    if (q.r)
        round_free(&r);
    facility_free(&f);
    store_close(s);
    return ok;
}

const struct command command_labels = {
    .name = "labels",
    .place = 415,
    .summary = "labels for tanks, colonies, racks and pots, on label sheets",
    .also = "stickers tags",
    .usage = "tank|colony|rack|pot [NAME…]",
    .about =
        "Labels with the name in large letters, what to know there, and the name as QR code. Without names: every "
        "tank, "
        "every colony (--tank: of that tank), every pot of today's round; a rack is called as you call it. Sheets: 3x8 "
        "is A4 with 70 x 37 mm, 3x7 A4 with 63.5 x 38.1 mm, 3x10 US letter with 2 5/8 x 1 in. Print once on plain "
        "paper with --outline and hold it against the sheet; print at full size, without fitting to the page.",
    .example = "neap --on 2026-11-27 labels tank --from 4",
    .options =
        (const struct option_row[]){
            {"sheet", OPT_TEXT, "SHEET", .help = "3x8, 3x7 or 3x10; else 3x10 in US units, 3x8 in metric"},
            {"from", OPT_COUNT, "N", .min = 1, .max = 100,
             .help = "start at this label of a part-used sheet, row by row"},
            {"outline", OPT_FLAG, .help = "with the labels' edges, to try on plain paper"},
            {"tank", OPT_TEXT, "TANK", .help = "only the colonies of this tank"},
            OPTION_ROUND,
            OPTIONS_PDF,
            {0}},
    .args_min = 1,
    .args_max = NAMES_MAX,
    .prints_json = true,
    .run = labels_run,
};
