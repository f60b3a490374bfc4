/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap sheet: print a round for the clipboard. */
#include "day_round.h"
#include "paper.h"

#include "neap/calc.h"
#include "neap/log.h"
#include "neap/naming.h"
#include "neap/print.h"
#include "neap/rescale.h"
#include "neap/switches.h"
#include "neap/todays.h"

/* What was said longer ago than that is new again. Our own choice. */
enum { SHEET_WIDTH = 80, BEFORE_DAYS = 14 };
/* Of A4, six to the inch, half an inch left free above and below. */
enum { SHEET_LINES = 64 };

/* ---- a pot that came out larger or smaller ----------------------------------------------------------------------- */

static bool put_made(const struct context *c, const struct facility *f, const struct round *r,
                     const struct round_log *log, struct document *d, struct err *e)
{
    const struct option_value *made = option_get(c, "made");
    for (size_t i = 0; i < made->n; i++) {
        char pot[NAME_BYTES_MAX + 1];
        const char *volume;
        struct rescaled left;
        struct err why;
        struct rescale_request what = {.log = log};
        if (!split_assignment(made->text[i], pot, &volume, e))
            return false;
        if (!quantity_read(volume, "ml", &what.made_ml, &why))
            return err_set(e, ERR_MISUSE, NULL, "--made %.40s: %s", made->text[i], why.text);
        what.pot = pot;
        if (!plan_rescale(f, r, &what, &left, e))
            return false;
        if (i > 0)
            document_space(d);
        made_document(f, r, &left, d);
        rescaled_free(&left);
    }
    return true;
}

static bool print_made(struct context *c, struct store *s, const struct facility *f, const struct round *r,
                       struct err *e)
{
    struct round_log log;
    struct document d = {0};
    if (!store_load_log(s, f, r->head.number, &log, e))
        return false;
    bool ok = put_made(c, f, r, &log, &d, e) && render_text(&d, SHEET_WIDTH, 0, c->out, e);
    document_free(&d);
    round_log_free(&log);
    return ok;
}

/* Which part, where one is asked for. */
static bool take_part(const struct context *c, const struct facility *f, const struct round *r, struct sheet_request *q,
                      struct err *e)
{
    const char *tank = option_text(c, "tank", NULL);
    int n = option_given(c, "mixing") + option_given(c, "feeder") + option_given(c, "tank") + option_given(c, "clock");
    if (n > 1)
        return err_set(e, ERR_MISUSE, NULL,
                       "--mixing, --feeder, --tank and --clock are sheets of their own; expected one");
    if (option_given(c, "mixing"))
        q->part = SHEET_MIXING;
    if (option_given(c, "clock"))
        q->part = SHEET_CLOCK;
    if (option_given(c, "feeder")) {
        q->part = SHEET_FEEDER;
        q->feeder = (long)option_number(c, "feeder", 1);
        if (q->feeder > r->head.feeders)
            return err_set(e, ERR_MISUSE, NULL, "--feeder is %ld; round %ld has %ld feeder%s", q->feeder,
                           r->head.number, r->head.feeders, r->head.feeders == 1 ? "" : "s");
    }
    if (!tank)
        return true;
    q->part = SHEET_TANK;
    q->tank = facility_named(f, REG_TANK, tank);
    return q->tank != REF_NONE || row_unknown(f, REG_TANK, tank, e);
}

/* The round before, for what it cautioned of; none: *before is left NULL. */
static bool load_before(struct store *s, const struct facility *f, const struct round *r, struct round *room,
                        const struct round **before, struct err *e)
{
    long number;
    if (!round_before(s, r->head.day, r->head.name, BEFORE_DAYS, &number, e))
        return false;
    if (number == 0)
        return true;
    *before = room;
    return store_load_round(s, f, number, room, e);
}

static bool print_sheet(struct context *c, struct store *s, const struct facility *f, const struct round *r,
                        struct err *e)
{
    struct arena a = {0};
    struct sheet_request request = {.us_units = c->us_units};
    struct todays t;
    struct document d = {0};
    struct round before = {0};
    const char **left = NULL;
    int lines = option_given(c, "no-pages") ? 0 : (int)option_number(c, "page-lines", SHEET_LINES);
    bool ok = take_part(c, f, r, &request, e) && todays_read(s, c->now, f, r, &a, &t, e) &&
              load_before(s, f, r, &before, &request.before, e) &&
              switches_left(s, f, &r->head, &a, &left, &request.n_left, e);
    if (ok) {
        request.left = left;
        request.done = t.done;
        request.not_given = t.not_given;
        request.changes = &t.changes;
        request.change_hint =
            t.n_done == 0 ? "A new plan takes this into account: neap plan, then neap sheet."
                          : "To take this into account in the round under way: neap plan --from-now, then neap sheet.";
        ok = sheet_document(f, r, &request, &d, e) && (paper_wanted(c) ? paper_make(c, &d, e)
                                                       : c->json       ? document_json(&d, c->out, e)
                                                                 : render_text(&d, SHEET_WIDTH, lines, c->out, e));
    }
    round_free(&before);
    arena_free(&a);
    document_free(&d);
    return ok;
}

static bool sheet_run(struct context *c, struct err *e)
{
    static const char *const parts[] = {"mixing", "feeder", "tank", "clock"};
    bool made = option_given(c, "made");
    const char *part = made ? option_any(c, parts, COUNT_OF(parts)) : NULL;
    long number = 0;
    if (c->n_args == 1 && !round_typed(c->args[0], &number, e))
        return false;
    if (c->json && paper_wanted(c))
        return err_set(e, ERR_MISUSE, NULL, "--json prints the page as data; expected no --pdf, --print or --paper");
    if (made && (c->json || paper_wanted(c)))
        return err_set(e, ERR_MISUSE, NULL,
                       "--made prints text; expected no --json, --pdf, --print or --paper beside it");
    if (part)
        return err_set(e, ERR_MISUSE, NULL, "--made is a sheet of its own; expected no --%s beside it", part);
    return round_run(c, STORE_READ, number, made ? print_made : print_sheet, e);
}

const struct command command_sheet = {
    .name = "sheet",
    .place = 120,
    .summary = "print a round for the clipboard",
    .also = "print paper",
    .usage = "[ROUND]",
    .about =
        "Prints a kept round, today's where no number is given: cautions, the flows to turn back on and who is not "
        "fed; what is mixed; and for each feeder a list of numbered lines in the order of work, with a tick each. 80 "
        "columns, a form feed between pages, round and revision on each; --pdf draws the same on paper, --json gives "
        "it as data.",
    .example = "neap --on 2026-11-27 sheet",
    .options =
        (const struct option_row[]){
            OPTION_ROUND,
            {"mixing", OPT_FLAG, .help = "only what is prepared and mixed"},
            {"feeder", OPT_COUNT, "N", .min = 1, .max = 20, .help = "only the list of this feeder"},
            {"tank", OPT_TEXT, "TANK", .help = "only the lines of this tank"},
            {"clock", OPT_FLAG, .help = "all tanks and feeders by the clock, as a strip"},
            OPTIONS_PAPER,
            {"page-lines", OPT_COUNT, "N", .min = 30, .max = 200, .help = "lines of a page, else 64"},
            {"no-pages", OPT_FLAG, .help = "one endless page, for the screen"},
            {"made", OPT_TEXT, "POT=VOLUME", .repeats = true,
             .help = "the pot came out at this volume: only what is left to give of it, such as A=430mL"},
            {0}},
    .args_max = 1,
    .prints_json = true,
    .run = sheet_run,
};
