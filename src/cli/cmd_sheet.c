#include "cli.h"

#include "neap/print.h"

enum { SHEET_WIDTH = 80, SHEET_LINES = 62 };

static bool sheet_run(struct context *c, struct err *e)
{
    struct store *s;
    struct facility f;
    struct round r;
    struct document d = {0};
    long number = 0;
    if (c->n_args == 1 && (!count_parse(c->args[0], &number) || number < 1))
        return err_set(e, ERR_MISUSE, NULL, "\"%.60s\" is no round; expected a number such as 12", c->args[0]);
    if (!context_snapshot(c, STORE_READ, &s, &f, e))
        return false;
    bool ok = store_load_round(s, &f, number, c->today, &r, e);
    if (ok) {
        int lines = option_given(c, "no-pages") ? 0 : (int)option_number(c, "page-lines", SHEET_LINES);
        ok = sheet_document(&f, &r, &(struct sheet_request){.us_units = c->us_units}, &d, e) && render_text(&d, SHEET_WIDTH, lines, c->out, e);
        document_free(&d);
        round_free(&r);
    }
    facility_free(&f);
    store_close(s);
    return ok;
}

const struct command command_sheet = {
    .name = "sheet",
    .summary = "print a round for the clipboard",
    .usage = "[ROUND]",
    .about = "Prints a kept round, today's where no number is given: what to heed, the pots, the clock, and a block of numbered "
             "lines for each tank. 80 columns, a form feed between pages, round and revision on each.",
    .example = "neap --on 2026-11-27 sheet",
    .options =
        (const struct option_row[]){
            {"page-lines", OPT_COUNT, "N", .min = 30, .max = 200, .help = "lines of a page, else 62"},
            {"no-pages", OPT_FLAG, .help = "one endless page, for the screen"},
            {0}},
    .args_max = 1,
    .run = sheet_run,
};
