/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap test: enter readings of the water, or see which are due. */
#include "files.h"
#include "test_other.h"

#include "neap/calc.h"
#include "neap/loading.h"
#include "neap/print.h"
#include "neap/readings.h"
#include "neap/replan.h"

/* ---- a reading that is hard to believe --------------------------------------------------------------------------- */

static void judge(const struct history *h, struct typed_reading *row, long taken)
{
    row->flagged = history_jump(h, row->system, &row->reading, taken, row->repeat, &row->last);
}

/* On a terminal: yes, no, or the right value. No stores nothing at all, so that the whole list can be typed again. */
static bool ask(const struct facility *f, struct typed_list *list, struct typed_reading *row, struct err *e)
{
    char answer[80];
    struct text said = {0};
    measured_words(&row->reading, &said);
    text_add(&said, " is ");
    jump_words(&row->last, &said);
    fprintf(stderr, "%s: %s. Is %s right? y, n, or the right value: ", f->systems[row->system].name, text_str(&said),
            row->text);
    fflush(stderr);
    text_free(&said);
    if (!fgets(answer, sizeof answer, stdin))
        return err_set(e, ERR_INPUT, NULL, "nothing was stored");
    answer[strcspn(answer, "\r\n")] = '\0';
    if (strcmp(answer, "y") == 0 || strcmp(answer, "yes") == 0) {
        row->confirmed = true;
        row->flagged = false;
        return true;
    }
    if (*answer == '\0' || *answer == 'n')
        return err_set(e, ERR_INPUT, NULL, "nothing was stored");
    row->text = arena_text(&list->arena, answer);
    struct measured other;
    if (!row->text)
        return err_memory(e);
    if (!measured_parse(analytes[row->reading.analyte].name, row->text, &list->scale, &other, e))
        return false;
    row->reading = other;
    return true;
}

/* Readings in the order typed, each judged by those before it. */
static bool judge_all(struct context *c, const struct facility *f, struct typed_list *list, long taken, bool may_ask,
                      struct err *e)
{
    struct history h;
    if (!history_begin(&h, f, e))
        return false;
    bool ok = true;
    for (size_t i = 0; ok && i < list->n; i++) {
        struct typed_reading *row = &list->rows[i];
        judge(&h, row, taken);
        while (ok && may_ask && row->flagged) {
            ok = ask(f, list, row, e);
            if (ok && !row->confirmed)
                judge(&h, row, taken);
        }
        const struct known_reading known = {{taken, row->reading.value, row->reading.below}, row->repeat, row->flagged};
        ok = ok && history_add(&h, row->system, row->reading.analyte, &known, e);
        if (!ok || !row->flagged)
            continue;
        text_addf(c->notes, "neap: %s: ", f->systems[row->system].name);
        measured_words(&row->reading, c->notes);
        text_add(c->notes, " is ");
        jump_words(&row->last, c->notes);
        text_add(c->notes, "; flagged, look again\n");
    }
    history_free(&h);
    return ok;
}

/* ---- storing ----------------------------------------------------------------------------------------------------- */

static const struct test *stored_test(const struct facility *f, const struct typed_reading *row, long taken)
{
    for (size_t i = 0; i < f->n_tests; i++) {
        const struct test *t = &f->tests[i];
        if (t->system == row->system && t->analyte == row->reading.analyte && t->taken == taken &&
            t->repeat == row->repeat)
            return t;
    }
    return NULL;
}

struct row_cells {
    struct cell cells[FIELDS_MAX];
    bool present[FIELDS_MAX];
};

static bool set_text(struct row_cells *row, const char *field, const char *text, struct arena *a, struct err *e)
{
    struct err why;
    const struct reg *r = reg_get(REG_TEST);
    size_t i = reg_field(r, field);
    row->present[i] = true;
    return cell_parse(&r->fields[i], text, a, &row->cells[i], &why) ||
           err_set(e, why.code == ERR_INPUT ? ERR_MISUSE : why.code, NULL, "%s %s", field, why.text);
}

static void set_cell(struct row_cells *row, const char *field, struct cell cell)
{
    size_t i = reg_field(reg_get(REG_TEST), field);
    row->present[i] = true;
    row->cells[i] = cell;
}

/* A doubt about a value that is now corrected is taken away. */
static void set_doubt(const struct facility *f, const struct typed_reading *row, long taken, struct row_cells *out)
{
    const struct test *old = stored_test(f, row, taken);
    bool corrected = old && (old->value != row->reading.value || old->below != row->reading.below);
    if (row->flagged || row->confirmed)
        set_cell(out, "doubt", (struct cell){.kind = CELL_TEXT, .text = row->flagged ? "flagged" : "confirmed"});
    else if (corrected && old->doubt != DOUBT_NONE)
        set_cell(out, "doubt", (struct cell){.kind = CELL_EMPTY});
}

static bool fill_row(const struct context *c, const struct facility *f, const struct typed_reading *row, long taken,
                     struct row_cells *out, struct arena *a, struct err *e)
{
    char moment[MOMENT_TEXT];
    moment_format(taken, moment);
    set_doubt(f, row, taken, out);
    set_cell(out, "repeat", (struct cell){.kind = CELL_WHOLE, .whole = row->repeat});
    set_cell(out, "value", (struct cell){.kind = CELL_NUMBER, .number = row->reading.value});
    /*
     * Empty where it is no, as in a file that has no such column: the same reading, loaded and typed, is the same row.
     */
    set_cell(out, "below",
             row->reading.below ? (struct cell){.kind = CELL_WHOLE, .whole = 1} : (struct cell){.kind = CELL_EMPTY});
    return set_text(out, "system", f->systems[row->system].name, a, e) && set_text(out, "taken", moment, a, e) &&
           set_text(out, "analyte", analytes[row->reading.analyte].name, a, e) &&
           (!option_given(c, "note") || set_text(out, "note", option_text(c, "note", ""), a, e)) &&
           set_text(out, "method", row->method, a, e) &&
           (!option_given(c, "sample") || set_text(out, "sample", option_text(c, "sample", ""), a, e));
}

static bool put_all(const struct context *c, struct store *s, const struct facility *f, const struct typed_list *list,
                    long taken, struct load_counts *counts, struct err *e)
{
    for (size_t i = 0; i < list->n; i++) {
        struct arena a = {0};
        struct row_cells row = {0};
        enum put outcome = PUT_SAME;
        size_t field;
        bool ok = fill_row(c, f, &list->rows[i], taken, &row, &a, e) &&
                  store_put(s, reg_get(REG_TEST), row.cells, row.present, &outcome, &field, e);
        arena_free(&a);
        if (!ok)
            return false;
        counts->read++;
        load_counts_add(counts, outcome);
    }
    return true;
}

static bool keep(struct context *c, struct store *s, const struct facility *f, const struct typed_list *list,
                 long taken, struct load_counts *counts, struct err *e)
{
    if (!store_begin(s, e))
        return false;
    return context_end(c, s, put_all(c, s, f, list, taken, counts, e) && methods_told(s, f, c->now, c->notes, e), e);
}

/* ---- printing ---------------------------------------------------------------------------------------------------- */

/* "8.5 mg/L" as typed is said once; another unit or basis is said behind what it became. */
static void add_reading(const struct typed_reading *row, bool us, struct text *out)
{
    char *end;
    const char *number = row->text + strcspn(row->text, "0123456789."); /* past "<" or "below" */
    double typed = strtod(number, &end);
    bool fahrenheit = us && row->reading.analyte == ANALYTE_TEMP;
    if (fahrenheit)
        text_addf(out, "%s %.1f F", analytes[ANALYTE_TEMP].title, fahrenheit_from_celsius(row->reading.value));
    else
        measured_words(&row->reading, out);
    if (!fahrenheit && fabs(typed - row->reading.value) > 1e-9)
        text_addf(out, " (from %s)", row->text);
    if (row->repeat > 1)
        text_addf(out, " (reading %ld)", row->repeat);
    if (row->flagged)
        text_add(out, " (flagged)");
}

static bool print_words(const struct context *c, const struct facility *f, const struct typed_list *list, long taken,
                        struct err *e)
{
    struct document d = {0};
    char moment[MOMENT_TEXT];
    moment_format(taken, moment);
    for (size_t s = 0; s < f->n_systems; s++) {
        struct text line = {0};
        for (size_t i = 0; i < list->n; i++)
            if (list->rows[i].system == s) {
                text_add(&line, line.len ? ", " : "");
                add_reading(&list->rows[i], c->us_units, &line);
            }
        if (line.len > 0)
            document_item(&d, document_format(&d, "%s:", f->systems[s].name),
                          document_format(&d, "%s, %s", text_str(&line), moment));
        text_free(&line);
    }
    bool ok = render_text(&d, 80, 0, c->out, e);
    document_free(&d);
    return ok;
}

static void print_json(const struct context *c, const struct facility *f, const struct typed_list *list, long taken)
{
    char moment[MOMENT_TEXT];
    struct json_text j = {.out = c->out};
    moment_format(taken, moment);
    json_open(&j, NULL, '{');
    json_number_member(&j, "schema", JSON_PRINT_SCHEMA);
    json_flag_member(&j, "stored", !option_given(c, "dry-run"));
    json_open(&j, "test", '[');
    for (size_t i = 0; i < list->n; i++) {
        const struct typed_reading *row = &list->rows[i];
        json_open(&j, NULL, '{');
        json_text_member(&j, "system", f->systems[row->system].name);
        json_text_member(&j, "taken", moment);
        json_text_member(&j, "analyte", analytes[row->reading.analyte].name);
        json_number_member(&j, "repeat", (double)row->repeat);
        json_number_member(&j, "value", row->reading.value);
        json_text_member(&j, "unit", analytes[row->reading.analyte].unit);
        json_flag_member(&j, "below", row->reading.below);
        json_flag_member(&j, "flagged", row->flagged);
        json_close(&j);
    }
    json_close(&j);
    json_close(&j);
}

static bool print_kept(const struct context *c, const struct facility *f, const struct typed_list *list, long taken,
                       const struct load_counts *counts, struct err *e)
{
    if (c->json) {
        print_json(c, f, list, taken);
        return true;
    }
    if (!print_words(c, f, list, taken, e))
        return false;
    text_addf(c->out, "%zu new, %zu corrected, %zu the same\n", counts->added, counts->changed, counts->same);
    return true;
}

/* ---- the command ------------------------------------------------------------------------------------------------- */

static bool gravity_option(const struct context *c, const char *name, double *temp_c, struct err *e)
{
    struct err why;
    return !option_given(c, name) || quantity_read(option_text(c, name, ""), "C", temp_c, &why) ||
           err_set(e, ERR_MISUSE, NULL, "--%s is %s", name, why.text);
}

/* A dash alone: the readings come from standard input. */
static bool is_from_stdin(const struct context *c)
{
    return c->n_args == 1 && strcmp(c->args[0], "-") == 0;
}

static bool read_input(const struct context *c, const struct facility *f, struct typed_list *list, struct err *e)
{
    char *bytes = NULL;
    size_t len = 0;
    if (!is_from_stdin(c))
        return typed_words(list, f, c->args, c->n_args, e);
    bool ok = file_read("/dev/stdin", &bytes, &len, e) && typed_lines(list, f, "stdin", bytes, len, e);
    free(bytes);
    if (ok && list->n == 0)
        return err_set(e, ERR_INPUT, NULL, "stdin: has no reading; expected lines of SYSTEM ANALYTE=VALUE …");
    return ok;
}

static bool typed_run(struct context *c, struct err *e)
{
    struct store *s;
    struct facility f;
    struct typed_list list = {.scale = {25, 25}};
    struct load_counts counts = {0};
    long taken;
    bool may_ask = !is_from_stdin(c) && context_may_ask();
    if (!gravity_option(c, "sg-temp", &list.scale.temp_c, e) || !gravity_option(c, "sg-ref", &list.scale.ref_temp_c, e))
        return false;
    if (!context_moment(c, &taken, e))
        return false;
    c->every_test = true;
    if (!context_snapshot(c, STORE_WRITE, &s, &f, e))
        return false;
    bool ok = read_input(c, &f, &list, e) &&
              methods_assign(option_get(c, "method")->text, option_get(c, "method")->n, &f, &list, taken, e) &&
              judge_all(c, &f, &list, taken, may_ask, e) && keep(c, s, &f, &list, taken, &counts, e) &&
              print_kept(c, &f, &list, taken, &counts, e);
    typed_free(&list);
    facility_free(&f);
    store_close(s);
    return ok;
}

static bool test_run(struct context *c, struct err *e)
{
    if (c->n_args == 0 && !option_given(c, "from"))
        return test_due(c, e);
    if (option_given(c, "from")) {
        if (c->n_args > 0)
            return err_set(e, ERR_MISUSE, NULL, "\"%.60s\" has no meaning with --from; expected no reading beside it",
                           c->args[0]);
        return test_from_file(c, e);
    }
    return typed_run(c, e);
}

const struct command command_test = {
    .name = "test",
    .place = 150,
    .summary = "enter readings of the water, or see which are due",
    .also = "reading result measure",
    .usage = "[SYSTEM ANALYTE=VALUE … [SYSTEM …] | - | --from FILE]",
    .about =
        "Alone it lists when each system is to be tested. Stores readings: "
#define ANALYTE(id_, name_, ...) name_ ", "
#include "neap/analytes.def"
        "by these names or in full (nitrate). A number alone is in the usual unit: mg/L, of the ion (NO3, NO2, PO4) "
        "or of ammonia's nitrogen, dKH, psu, C; else write it: no3_n=2.2, \"po4=18ppb P\", alk=2.9meq/L, sg=1.0264, "
        "temp=78F. Below detection: \"po4=<0.02\" or po4=below0.02. With - the same, a line for each system, comes "
        "from standard input. "
        "A reading far from the last one (three times its error, and more than the wanted change of the days between; "
        "or many times it or a small part of it, whatever the days) is asked about on a terminal, else stored and "
        "flagged. The same minute again corrects; by another method it is a reading beside it. A "
        "method other than the one in use is a cross-check, until three in a row are by it.",
    .example = "neap --on 2026-11-27 test north no3=18 po4=0.17 south no3=5.5 'po4=<0.02'",
    .options =
        (const struct option_row[]){
            {"at", OPT_MOMENT, "MOMENT", .help = "when the samples were taken, else now"},
            {"method", OPT_TEXT, "[ANALYTE=]NAME", .repeats = true,
             .help = "the test used, else the one in use; three in a row by another take its place"},
            {"sample", OPT_TEXT, "before|after", .help = "the round; else before"},
            {"note", OPT_TEXT, "TEXT", .help = "anything"},
            {"sg-temp", OPT_TEXT, "TEMP", .help = "of the water a specific gravity was read in, else 25C"},
            {"sg-ref", OPT_TEXT, "TEMP", .help = "of the pure water it is compared with, else 25C"},
            {"from", OPT_TEXT, "FILE", .help = "a CSV of tests: system,taken,analyte,value,…"},
            OPTIONS_CSV_FORM,
            OPTION_DRY_RUN,
            {0}},
    .args_max = 400,
    .prints_json = true,
    .run = test_run,
};
