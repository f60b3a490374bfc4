/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap log: write down what was given. */
#include "day_round.h"
#include "files.h"
#include "sitting.h"

#include "neap/figures.h"
#include "neap/print.h"
#include "neap/todays.h"

#include <unistd.h>

/* ---- from the command line -------------------------------------------------------------------------------------- */

/* What each line of the round is to become. */
struct wish {
    bool named;   /* by its number or colony: must be put, or told why not */
    bool planned; /* by its tank or --all: where nothing is logged yet */
    bool as_said; /* of these: given is what was said of the tank, else as planned */
    struct given given;
};

static bool wish_line(struct logging *lg, const struct line *l, const struct given *g, bool weak, void *context,
                      struct err *e)
{
    struct wish *wish = &((struct wish *)context)[l->number - 1];
    (void)lg;
    if (!weak && wish->named)
        return err_set(e, ERR_MISUSE, NULL, "line %ld is named twice; expected each line once", l->number);
    if (weak && wish->named)
        return true;
    wish->named = !weak;
    wish->planned = wish->as_said = weak;
    wish->given = *g;
    return true;
}

/* What has changed since the plan is not "as planned": it stays open until somebody says what was done there. */
static bool leave_changed(struct sitting *in, struct wish *wishes, struct err *e)
{
    const struct logging *lg = &in->lg;
    struct arena a = {0};
    struct todays t;
    bool ok = todays_read(lg->s, lg->now, &lg->f, &lg->r, &a, &t, e), any = false;
    for (size_t i = 0; ok && i < lg->r.n_lines; i++)
        if (t.changes.off[i]) {
            wishes[i].planned = false;
            any = true;
        }
    for (size_t i = 0; any && i < t.changes.n; i++)
        text_addf(in->c->notes, "not taken as planned: %s\n", t.changes.texts[i]);
    arena_free(&a);
    return ok;
}

static bool collect_wishes(struct sitting *in, struct wish *wishes, struct err *e)
{
    const struct context *c = in->c;
    for (size_t i = 0; i < in->lg.r.n_lines; i++)
        wishes[i].planned = option_given(c, "all");
    if (option_given(c, "all") && !leave_changed(in, wishes, e))
        return false;
    for (size_t i = in->first_word; i < c->n_args; i++)
        if (!switch_word_is(&in->lg.f, &in->lg.r, c->args[i]) &&
            !logging_word(&in->lg, c->args[i], wish_line, wishes, e))
            return false;
    return true;
}

static bool put_wishes(struct logging *lg, struct wish *wishes, struct err *e)
{
    for (size_t i = 0; i < lg->r.n_lines; i++) {
        const struct line *l = &lg->r.lines[i];
        if (!wishes[i].named) {
            if (!wishes[i].planned || (log_find(&lg->log, l->number) && !wishes[i].as_said))
                continue;
            if (!wishes[i].as_said)
                logging_planned(lg, l, &wishes[i].given);
        }
        if (!logging_line(lg, &wishes[i].given, e))
            return false;
    }
    return true;
}

static bool each_option(struct sitting *in, const char *name, bool (*put)(struct logging *, const char *, struct err *),
                        struct err *e)
{
    const struct option_value *v = option_get(in->c, name);
    for (size_t i = 0; i < v->n; i++)
        if (!put(&in->lg, v->text[i], e))
            return false;
    return true;
}

/* Those that are named, and then all others where all is said. */
static bool put_switches(struct sitting *in, struct err *e)
{
    const struct context *c = in->c;
    for (size_t i = in->first_word; i < c->n_args; i++)
        if (switch_word_is(&in->lg.f, &in->lg.r, c->args[i]) && !logging_switch(&in->lg, c->args[i], e))
            return false;
    return !option_given(c, "all") || logging_switches_planned(&in->lg, e);
}

static bool put_all(struct sitting *in, struct err *e)
{
    struct arena scratch = {0};
    struct wish *wishes = arena_alloc(&scratch, in->lg.r.n_lines, sizeof *wishes);
    bool ok = wishes ? collect_wishes(in, wishes, e) && put_wishes(&in->lg, wishes, e) : err_memory(e);
    arena_free(&scratch);
    return ok && put_switches(in, e) && each_option(in, "made", logging_made, e) &&
           each_option(in, "left", logging_left, e) && each_option(in, "weighed", logging_weighed, e) &&
           each_option(in, "extra", logging_extra, e) && each_option(in, "by", logging_by, e) &&
           each_option(in, "note", logging_note, e);
}

static bool put_entry(struct sitting *in, struct err *e)
{
    return logging_begin(&in->lg, e) && logging_end(&in->lg, put_all(in, e), in->c->typed, e);
}

/* More than planned is asked about while nothing is held open: then all is put anew. */
static bool log_words(struct sitting *in, struct err *e)
{
    struct err why = {0};
    bool yes = false;
    if (!put_entry(in, &why)) {
        char question[sizeof why.text + 32];
        snprintf(question, sizeof question, "%.*s. Is that right?", (int)strcspn(why.text, ";"), why.text);
        if (in->lg.over && context_may_ask())
            context_ask(in->c, question, &yes);
        if (!yes) {
            *e = why;
            return false;
        }
        in->lg.more = true;
        if (!put_entry(in, e))
            return false;
    }
    return sitting_tell(&in->lg, in->c->out, e);
}

/* ---- from a file ------------------------------------------------------------------------------------------------ */

/* A row of the file, checked as if it had been typed. */
static bool take_row(void *context, const struct exchange_row *row, size_t *field, struct err *e)
{
    struct logging *lg = context;
    struct given g;
    if (!row_fill(row->reg, row->cells, &g, field, e))
        return false;
    if (row->reg != reg_get(REG_GIVEN))
        return err_of_value(e, ERR_INPUT, "is a row of %s; expected rows of given only", row->reg->name);
    *field = reg_field(row->reg, "round");
    if (g.round != lg->r.head.number)
        return err_of_value(e, ERR_INPUT, "is %ld; expected %ld, the round that is logged", g.round, lg->r.head.number);
    *field = reg_field(row->reg, "sheet_revision");
    if (g.sheet_revision != lg->r.head.revision)
        return err_of_value(e, ERR_INPUT, "is %ld; expected %ld, the revision in force", g.sheet_revision,
                            lg->r.head.revision);
    *field = reg_field(row->reg, "line");
    const struct line *l = round_line(&lg->r, g.line);
    if (l && isnan(g.amount) && g.outcome != OUTCOME_NOT_GIVEN)
        g.amount = l->amount;
    return logging_line(lg, &g, e);
}

static bool log_file(struct sitting *in, const char *path, struct err *e)
{
    struct logging *lg = &in->lg;
    char *bytes;
    size_t len, rows;
    const struct exchange_sink sink = {take_row, lg, NULL};
    if (!file_read(path, &bytes, &len, e))
        return false;
    const struct source source = {.name = path, .bytes = bytes, .len = len};
    bool ok = logging_begin(lg, e) &&
              logging_end(lg, source_rows(in->c, &source, reg_get(REG_GIVEN), &sink, &rows, e), in->c->typed, e) &&
              sitting_tell(lg, in->c->out, e);
    free(bytes);
    return ok;
}

/* ---- the command ------------------------------------------------------------------------------------------------ */

static bool anything_named(const struct context *c, size_t first_word)
{
    static const char *const names[] = {"all", "made", "left", "weighed", "extra", "by", "note"};
    return c->n_args > first_word || option_any(c, names, COUNT_OF(names));
}

static bool show(const struct sitting *in, struct err *e)
{
    const struct logging *lg = &in->lg;
    struct document d = {0};
    struct log_figures g;
    struct log_faults faults;
    bool ok = log_figures_begin(&lg->f, &d.arena, &g, e) &&
              log_long_stops(&lg->f, &lg->r, &lg->log, &d.arena, &faults.stops, &faults.n_stops, e) &&
              log_switch_faults(&lg->f, &lg->r, &lg->log, &d.arena, &faults.switches, &faults.n_switches, e);
    if (ok) {
        log_figures_add(&lg->r, &lg->log, &g);
        if (in->c->json)
            log_json(&lg->f, &lg->r, &lg->log, &g, in->c->out);
        else
            log_document(&lg->f, &lg->r, &lg->log, &g, &faults, &d);
        ok = in->c->json || (d.failed ? err_memory(e) : render_text(&d, 80, 0, in->c->out, e));
    }
    document_free(&d);
    return ok;
}

static bool run_as_asked(struct sitting *in, struct err *e)
{
    const struct context *c = in->c;
    if (option_given(c, "show"))
        return show(in, e);
    if (c->json)
        return err_set(e, ERR_MISUSE, NULL, "--json has a meaning only for what log --show prints; expected --show");
    if (option_given(c, "from"))
        return log_file(in, option_text(c, "from", ""), e);
    if (anything_named(c, in->first_word))
        return log_words(in, e);
    if (isatty(STDIN_FILENO) && isatty(STDOUT_FILENO))
        return sitting_prompt(in, e);
    return err_set(e, ERR_MISUSE, NULL,
                   "nothing to log: expected --all, tanks or lines (14=1.5), or a terminal to ask on");
}

/* A number alone in front is a round, but beside --round a line; "today", or anything else, means today's. */
static bool read_round(const struct context *c, long *number, size_t *first_word, struct err *e)
{
    bool is_number = !option_given(c, "round") && c->n_args > 0 && count_parse(c->args[0], number);
    *first_word = is_number || (c->n_args > 0 && strcmp(c->args[0], "today") == 0) ? 1 : 0;
    if (!is_number)
        *number = 0;
    return !is_number || round_typed(c->args[0], number, e);
}

static bool log_open(struct sitting *in, long named, struct err *e)
{
    long number;
    const struct context *c = in->c;
    in->lg = (struct logging){.today = c->today,
                              .now = c->now,
                              .in_hand = (long)option_number(c, "revision", 0),
                              .only_shown = option_given(c, "show"),
                              .dry_run = option_given(c, "dry-run"),
                              .again = option_given(c, "again"),
                              .more = option_given(c, "more")};
    if (!context_snapshot(in->c, in->lg.only_shown ? STORE_READ : STORE_WRITE, &in->lg.s, &in->lg.f, e))
        return false;
    if (round_chosen(in->c, in->lg.s, &in->lg.f, named, &number, e) && logging_open(&in->lg, number, e))
        return true;
    if (named > 0 && e->code == ERR_NOT_FOUND)
        err_set(e, ERR_NOT_FOUND, NULL,
                "there is no round %ld; line %ld of today's round is meant by: neap log today %ld", named, named,
                named);
    facility_free(&in->lg.f);
    store_close(in->lg.s);
    return false;
}

static bool log_run(struct context *c, struct err *e)
{
    struct sitting in = {.c = c};
    long number;
    if (!read_round(c, &number, &in.first_word, e))
        return false;
    if (option_given(c, "from") && anything_named(c, in.first_word))
        return err_set(e, ERR_MISUSE, NULL, "--from FILE stands alone; expected no lines or amounts beside it");
    if (!log_open(&in, number, e))
        return false;
    bool ok = run_as_asked(&in, e);
    c->stored = in.lg.stored;
    logging_close(&in.lg);
    facility_free(&in.lg.f);
    store_close(in.lg.s);
    return ok;
}

const struct command command_log = {
    .name = "log",
    .place = 140,
    .summary = "write down what was given",
    .also = "given record enter",
    .usage = "[ROUND] [LINES | COLONY | TANK][=VALUE] ...",
    .about =
        "Writes down what became of the lines of a round, today's where no number is in front. LINES is 14, 15-18 or "
        "3,5,9-12 (line 14 alone: today 14); VALUE is a code of the sheet (p part given, l late, r refused, n not "
        "given), then the amount where it was another, :0 to :4 for the response, @HH:MM for the time: 14=p1.5 "
        "15-18=:4 D1-002=r:0 21=n 22=l@09:40. A tank's name means what is still open there: D1, D1=n. Without a value: "
        "as planned; 14=- takes back. Switches of the sheet: sw1 or sw2-4 as planned, sw1=off@09:05, sw1=on@10:40, "
        "sw1=n. "
        "What is not named stays open and is told at the end. On a terminal, without any "
        "of it, it asks for a few lines at a time.",
    .example = "neap --on 2026-11-27 log --show",
    .options =
        (const struct option_row[]){
            OPTION_ROUND,
            {"all", OPT_FLAG, .help = "all that is not logged yet, but what is named: as planned"},
            {"revision", OPT_COUNT, "N", .min = 1, .max = 999999, .help = "revision on the sheet in hand"},
            {"made", OPT_TEXT, "POT=ML", .repeats = true, .help = "what was mixed of a pot, if not as planned"},
            {"left", OPT_TEXT, "POT=ML", .repeats = true, .help = "what was left of it"},
            {"weighed", OPT_TEXT, "POT:FOOD=G", .repeats = true, .help = "what the scale said"},
            {"extra", OPT_TEXT, "TANK:FOOD=G", .repeats = true, .help = "given beside the plan"},
            {"by", OPT_TEXT, "FEEDER=NAME", .repeats = true, .help = "who a feeder of the sheet was: 1=JK"},
            {"note", OPT_TEXT, "LINE=TEXT", .repeats = true,
             .help = "a note on a line or colony; TEXT alone: on the round"},
            {"more", OPT_FLAG, .help = "what is more than planned is right"},
            {"again", OPT_FLAG, .help = "replace what is logged already"},
            {"from", OPT_TEXT, "FILE", .help = "rows of given, CSV or JSON (docs/round.md)"},
            {"show", OPT_FLAG, .help = "what is logged so far; change nothing"},
            OPTION_DRY_RUN,
            {0}},
    .args_max = 10000,
    .prints_json = true,
    .run = log_run,
};
