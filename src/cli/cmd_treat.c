/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap treat: dips, baths and treatments, and who is in quarantine. */
#include "cli.h"

#include "neap/calc.h"
#include "neap/loading.h"
#include "neap/naming.h"
#include "neap/print.h"
#include "neap/quarantine.h"
#include "neap/todays.h"

enum { SHOWN_D = 28 };

/* ---- writing one down -------------------------------------------------------------------------------------------- */

static bool treated_what(const struct context *c, const struct facility *f, struct treatment *t, struct err *e)
{
    const char *name = c->args[0];
    t->colony = facility_named(f, REG_COLONY, name);
    t->tank = t->colony == REF_NONE ? facility_named(f, REG_TANK, name) : f->colonies[t->colony].tank;
    if (t->tank == REF_NONE)
        return row_unknown(f, REG_COLONY, name, e);
    if (t->colony != REF_NONE && f->colonies[t->colony].retired)
        return err_set(e, ERR_INPUT, NULL, "%s is retired; expected corals that are here", name);
    return true;
}

static bool read_text(const char *field, const char *typed, struct arena *a, const char **out, struct err *e)
{
    const struct reg *r = reg_get(REG_TREATMENT);
    struct cell cell;
    if (!value_read(&r->fields[reg_field(r, field)], typed, a, &cell, e))
        return false;
    *out = cell.kind == CELL_TEXT ? cell.text : "";
    return true;
}

static void tell(struct context *c, const struct facility *f, const struct treatment *t)
{
    char moment[MOMENT_TEXT];
    moment_format(t->treated, moment);
    text_addf(c->out, "%s in %s: %s", t->colony == REF_NONE ? "all" : f->colonies[t->colony].code,
              f->tanks[t->tank].name, t->what);
    if (!isnan(t->duration_min))
        text_addf(c->out, ", %.10g min", t->duration_min);
    text_addf(c->out, ", %s\n", moment);
}

static bool keep_treatment(struct context *c, struct store *s, const struct facility *f, struct err *e)
{
    struct arena a = {0};
    struct treatment t = {.duration_min = option_number(c, "minutes", NAN), .note = ""};
    if (!context_moment(c, &t.treated, e))
        return false;
    bool ok = treated_what(c, f, &t, e) && read_text("what", c->args[1], &a, &t.what, e) &&
              read_text("note", option_text(c, "note", ""), &a, &t.note, e);
    if (ok && !*t.what)
        ok = err_set(e, ERR_MISUSE, NULL, "what was done? expected words such as \"iodine dip\"");
    ok = ok && row_put_next(s, f, REG_TREATMENT, &t, e);
    if (ok)
        tell(c, f, &t);
    arena_free(&a);
    return ok;
}

/* ---- showing them, and who is in quarantine ---------------------------------------------------------------------- */

struct showing {
    struct context *c;
    const struct facility *f;
    struct document d;
    struct json_text j;
    size_t n;
};

static bool show_treatment(void *context, const struct cell *cells, struct err *e)
{
    static const struct column columns[] = {
        {"when", 17, false}, {"tank", 10, false}, {"corals", 12, false}, {"what", 0, false}, {"min", 5, true}};
    struct showing *in = context;
    const struct reg *r = reg_get(REG_TREATMENT);
    const char *texts[COUNT_OF(columns)];
    static const char *const fields[] = {"treated", "tank", "colony", "what", "duration_min"};
    long moment;
    (void)e;
    if (!moment_parse(cells[0].text, &moment) || moment_day(moment) <= in->c->today - SHOWN_D)
        return true;
    if (in->c->json)
        json_open(&in->j, NULL, '{');
    for (size_t i = 0; i < COUNT_OF(columns); i++) {
        struct text word = {0};
        size_t at = reg_field(r, fields[i]);
        if (cells[at].kind != CELL_EMPTY)
            cell_format(&r->fields[at], &cells[at], &word);
        texts[i] = document_format(&in->d, "%s", text_str(&word));
        if (in->c->json && r->fields[at].type == FIELD_NUMBER)
            json_number_member(&in->j, fields[i], cells[at].kind == CELL_EMPTY ? NAN : cells[at].number);
        else if (in->c->json)
            json_text_member(&in->j, fields[i], texts[i]);
        text_free(&word);
    }
    if (in->c->json) {
        json_close(&in->j);
        return true;
    }
    if (in->n++ == 0) {
        document_heading(&in->d, document_format(&in->d, "TREATED IN THE LAST %d DAYS", SHOWN_D));
        document_table(&in->d, columns, COUNT_OF(columns));
    }
    document_row(&in->d, texts);
    return true;
}

static void show_stay(struct showing *in, const struct colony *colony, const struct stay *stay, bool first)
{
    static const struct column columns[] = {
        {"colony", 12, false}, {"tank", 10, false}, {"day", 5, true}, {"of", 4, true}, {"", 0, false}};
    int days = stay->since == DAY_NONE ? 0 : in->c->today - stay->since;
    char until[DAY_TEXT];
    if (in->c->json) {
        json_open(&in->j, NULL, '{');
        json_text_member(&in->j, "colony", colony->code);
        json_text_member(&in->j, "tank", in->f->tanks[colony->tank].name);
        json_number_member(&in->j, "days", stay->since == DAY_NONE ? (double)NAN : (double)days);
        json_number_member(&in->j, "days_wanted", (double)stay->days);
        json_flag_member(&in->j, "over", stay->over);
        json_text_member(&in->j, "held", stay->held);
        json_close(&in->j);
        return;
    }
    if (first) {
        if (in->n > 0)
            document_space(&in->d);
        document_heading(&in->d, "IN QUARANTINE");
        document_table(&in->d, columns, COUNT_OF(columns));
    }
    const char *when = "since when is not known";
    if (stay->since != DAY_NONE) {
        day_format(stay->since + stay->days, until);
        when = stay->over ? "may leave" : document_format(&in->d, "until %s", until);
    }
    if (*stay->held)
        when = document_format(&in->d, "on hold: %s", stay->held);
    document_row(&in->d, (const char *const[]){colony->code, in->f->tanks[colony->tank].name,
                                               stay->since == DAY_NONE ? "" : document_format(&in->d, "%d", days),
                                               document_format(&in->d, "%d", stay->days), when});
}

static bool show_stays(struct showing *in, struct store *s, struct err *e)
{
    bool first = true;
    int *since;
    if (!quarantine_since(s, in->f, &in->d.arena, &since, e))
        return false;
    for (size_t i = 0; i < in->f->n_colonies; i++) {
        if (in->f->colonies[i].retired || !in->f->systems[in->f->tanks[in->f->colonies[i].tank].system].quarantine)
            continue;
        struct stay stay = stay_of(in->f, i, since[i], in->c->today);
        show_stay(in, &in->f->colonies[i], &stay, first);
        first = false;
    }
    if (first && in->n == 0 && !in->c->json)
        document_text(&in->d, "Nothing was treated lately, and nothing is in quarantine.");
    return true;
}

static bool show(struct context *c, struct store *s, const struct facility *f, struct err *e)
{
    struct showing in = {.c = c, .f = f, .j = {.out = c->out}};
    if (c->json) {
        json_open(&in.j, NULL, '{');
        json_number_member(&in.j, "schema", JSON_PRINT_SCHEMA);
        json_open(&in.j, "treatments", '[');
    }
    bool ok = store_each(s, reg_get(REG_TREATMENT), show_treatment, &in, e);
    if (c->json) {
        json_close(&in.j);
        json_open(&in.j, "quarantine", '[');
    }
    ok = ok && show_stays(&in, s, e);
    if (c->json) {
        json_close(&in.j);
        json_close(&in.j);
    } else if (ok) {
        ok = in.d.failed ? err_memory(e) : render_text(&in.d, 80, 0, c->out, e);
    }
    document_free(&in.d);
    return ok;
}

/* ---- the command ------------------------------------------------------------------------------------------------- */

static bool treat_run(struct context *c, struct err *e)
{
    struct store *s;
    struct facility f;
    bool writes = c->n_args == 2;
    if (c->n_args == 1)
        return err_set(e, ERR_MISUSE, NULL,
                       "what was done to %.60s? expected words such as \"iodine dip\" behind it, or neither",
                       c->args[0]);
    if (!context_snapshot(c, writes ? STORE_WRITE : STORE_READ, &s, &f, e))
        return false;
    bool ok;
    if (writes) {
        ok = context_end(c, s, store_begin(s, e) && keep_treatment(c, s, &f, e), e);
    } else {
        ok = show(c, s, &f, e);
    }
    facility_free(&f);
    store_close(s);
    return ok;
}

const struct command command_treat = {
    .name = "treat",
    .place = 340,
    .summary = "dips, baths and treatments, and who is in quarantine",
    .usage = "[TANK | COLONY WHAT]",
    .about =
        "Writes down what was done to a lot of corals, or to all that is in a tank, as a record of its own. Alone: "
        "what "
        "was treated in the last four weeks, and how many of their days the corals in quarantine have behind them.",
    .example = "neap --on 2026-11-27 treat Q1-001 \"iodine dip\" --minutes 10",
    .options = (const struct option_row[]){{"minutes", OPT_NUMBER, "N", .min = 0, .max = 10080, .help = "how long"},
                                           {"at", OPT_MOMENT, "MOMENT", .help = "when, else now"},
                                           {"note", OPT_TEXT, "TEXT", .help = "anything"},
                                           OPTION_DRY_RUN,
                                           {0}},
    .args_max = 2,
    .prints_json = true,
    .run = treat_run,
};
