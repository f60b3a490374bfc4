/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap test, from a file and of what is due. */
#include "test_other.h"
#include "files.h"

#include "neap/advice.h"
#include "neap/loading.h"
#include "neap/print.h"
#include "neap/readings.h"

/* ---- from a file ------------------------------------------------------------------------------------------------- */

struct file_load {
    struct store *store;
    const struct facility *facility;
    struct history history;
    struct load_counts counts;
    struct text flags; /* a line for each flagged reading */
    size_t n_flagged;
};

static const struct cell *cell_of(const struct exchange_row *row, const char *field)
{
    return &row->cells[reg_field(row->reg, field)];
}

/* The row as a reading; false where a name or a value is missing, which the store says better. */
static bool row_reading(const struct facility *f, const struct exchange_row *row, size_t *system, struct measured *r,
                        long *taken)
{
    const struct cell *named = cell_of(row, "system"), *analyte = cell_of(row, "analyte"),
                      *when = cell_of(row, "taken");
    const struct cell *value = cell_of(row, "value");
    if (named->kind != CELL_TEXT || analyte->kind != CELL_TEXT || when->kind != CELL_TEXT ||
        value->kind != CELL_NUMBER || !moment_parse(when->text, taken))
        return false;
    *system = facility_find(f, REG_SYSTEM, named->text);
    *r = (struct measured){N_ANALYTES, value->number, cell_of(row, "below")->whole != 0};
    for (int i = 0; i < N_ANALYTES; i++)
        if (strcmp(analyte->text, analytes[i].name) == 0)
            r->analyte = i;
    return *system != REF_NONE && r->analyte != N_ANALYTES;
}

static void flag(struct file_load *l, const struct exchange_row *row, const struct measured *r,
                 const struct past_reading *last, const char *system)
{
    enum { FLAGS_SHOWN = 20 };
    if (l->n_flagged++ >= FLAGS_SHOWN)
        return;
    text_addf(&l->flags, "neap: %s:%ld: %s: ", row->at.file, row->at.line, system);
    measured_words(r, &l->flags);
    text_add(&l->flags, " is ");
    jump_words(last, &l->flags);
    text_add(&l->flags, "; flagged, look again\n");
}

static bool put_row(void *context, const struct exchange_row *given, size_t *field, struct err *e)
{
    struct file_load *l = context;
    struct exchange_row row = *given;
    struct measured r;
    struct past_reading last;
    size_t system, at = reg_field(row.reg, "doubt");
    long taken, repeat = cell_of(&row, "repeat")->whole;
    enum put outcome;
    bool known = row_reading(l->facility, &row, &system, &r, &taken), doubt = false;
    if (known && repeat == 0 && !store_test_repeat(l->store, row.cells, &repeat, e))
        return false;
    if (known && row.cells[at].kind != CELL_TEXT) /* what the file says of it itself holds */
        doubt = history_jump(&l->history, system, &r, taken, repeat, &last);
    if (doubt) {
        flag(l, &row, &r, &last, l->facility->systems[system].name);
        row.cells[at] = (struct cell){.kind = CELL_TEXT, .text = "flagged"};
        row.present[at] = true;
    }
    if (!store_put(l->store, row.reg, row.cells, row.present, &outcome, field, e))
        return false;
    load_counts_add(&l->counts, outcome);
    if (!known)
        return true;
    const struct known_reading now = {{taken, r.value, r.below}, repeat, doubt};
    return history_add(&l->history, system, r.analyte, &now, e);
}

static bool load_all(struct context *c, struct file_load *l, const struct source *source, struct err *e)
{
    struct faults faults = {0};
    const struct exchange_sink sink = {.put = put_row, .context = l};
    bool ok = store_begin(l->store, e) && exchange_read(source, reg_get(REG_TEST), &sink, &faults, &l->counts.read, e);
    ok = ok && (faults.n > 0 || methods_told(l->store, l->facility, c->now, c->notes, e));
    text_add(c->notes, text_str(&faults.notes));
    l->counts.refused = l->counts.read - l->counts.added - l->counts.changed - l->counts.same;
    if (ok && faults.n > 0) {
        text_add(c->notes, text_str(&faults.lines));
        ok = err_set(e, ERR_INPUT, NULL, "nothing was stored, %zu fault%s", faults.n, faults.n > 1 ? "s" : "");
    }
    faults_free(&faults);
    return context_end(c, l->store, ok, e);
}

static void print_load(struct context *c, const struct file_load *l)
{
    text_add(c->notes, text_str(&l->flags));
    if (c->json) {
        struct json_text j = {.out = c->out};
        json_open(&j, NULL, '{');
        json_number_member(&j, "schema", JSON_PRINT_SCHEMA);
        json_flag_member(&j, "stored", !option_given(c, "dry-run"));
        json_number_member(&j, "read", (double)l->counts.read);
        json_number_member(&j, "new", (double)l->counts.added);
        json_number_member(&j, "changed", (double)l->counts.changed);
        json_number_member(&j, "same", (double)l->counts.same);
        json_number_member(&j, "flagged", (double)l->n_flagged);
        json_close(&j);
        return;
    }
    load_counts_words(&l->counts, c->out);
    text_addf(c->out, ", flagged %zu\n", l->n_flagged);
}

bool test_from_file(struct context *c, struct err *e)
{
    struct facility f;
    struct file_load l = {.facility = &f};
    struct csv_form form;
    struct arena a = {0};
    char *bytes = NULL;
    size_t len = 0;
    static const char *const of_typed[] = {"at", "method", "sample", "note", "sg-temp", "sg-ref"};
    const char *unused = option_any(c, of_typed, COUNT_OF(of_typed));
    if (unused)
        return err_set(e, ERR_MISUSE, NULL, "--%s has no meaning with --from; the file says it", unused);
    c->every_test = true;
    if (!csv_form_given(c, &form, &a, e) || !file_read(option_text(c, "from", ""), &bytes, &len, e) ||
        !context_snapshot(c, STORE_WRITE, &l.store, &f, e)) {
        arena_free(&a);
        free(bytes);
        return false;
    }
    const struct source source = {.name = option_text(c, "from", ""), .bytes = bytes, .len = len, .form = &form};
    bool ok = history_begin(&l.history, &f, e) && load_all(c, &l, &source, e);
    if (ok)
        print_load(c, &l);
    history_free(&l.history);
    text_free(&l.flags);
    arena_free(&a);
    free(bytes);
    facility_free(&f);
    store_close(l.store);
    return ok;
}

/* ---- what is due ------------------------------------------------------------------------------------------------- */

static const char *day_words(struct document *d, int day, const char *none)
{
    char text[DAY_TEXT];
    if (day == DAY_NONE)
        return none;
    day_format(day, text);
    return document_format(d, "%s", text);
}

static const char *distance_words(struct document *d, int next, int today)
{
    if (next == DAY_NONE)
        return "never tested";
    if (next == today)
        return "today";
    const char *days = abs(next - today) == 1 ? "day" : "days";
    return next < today ? document_format(d, "%d %s late", today - next, days)
                        : document_format(d, "in %d %s", next - today, days);
}

static bool print_due(struct context *c, const struct facility *f, const struct tests_due *due, size_t n, struct err *e)
{
    static const struct column columns[] = {{"system", 0, false}, {"nitrate", 11, false},   {"phosphate", 11, false},
                                            {"every", 6, false},  {"next test", 11, false}, {"", 13, false}};
    struct document d = {0};
    document_table(&d, columns, COUNT_OF(columns));
    for (size_t i = 0; i < n; i++) {
        const struct system *s = &f->systems[due[i].system];
        const char *const cells[] = {s->name,
                                     day_words(&d, due[i].last[ANALYTE_NO3], "never"),
                                     day_words(&d, due[i].last[ANALYTE_PO4], "never"),
                                     document_format(&d, "%g d", s->test_every_d),
                                     day_words(&d, due[i].due_day, "now"),
                                     distance_words(&d, due[i].due_day, c->today)};
        document_row(&d, cells);
    }
    bool ok = render_text(&d, 80, 0, c->out, e);
    document_free(&d);
    return ok;
}

static void json_due(struct context *c, const struct facility *f, const struct tests_due *due, size_t n)
{
    struct json_text j = {.out = c->out};
    json_open(&j, NULL, '{');
    json_number_member(&j, "schema", JSON_PRINT_SCHEMA);
    json_open(&j, "due", '[');
    for (size_t i = 0; i < n; i++) {
        json_open(&j, NULL, '{');
        json_text_member(&j, "system", f->systems[due[i].system].name);
        json_day_member(&j, "last_no3", due[i].last[ANALYTE_NO3]);
        json_day_member(&j, "last_po4", due[i].last[ANALYTE_PO4]);
        json_number_member(&j, "test_every_d", f->systems[due[i].system].test_every_d);
        json_day_member(&j, "next", due[i].due_day);
        json_close(&j);
    }
    json_close(&j);
    json_close(&j);
}

bool test_due(struct context *c, struct err *e)
{
    struct store *s;
    struct facility f;
    struct arena a = {0};
    struct tests_due *due;
    size_t n;
    if (!context_snapshot(c, STORE_READ, &s, &f, e))
        return false;
    bool ok = tests_due_all(&f, c->now, &a, &due, &n, e);
    if (ok && c->json)
        json_due(c, &f, due, n);
    else if (ok)
        ok = print_due(c, &f, due, n, e);
    arena_free(&a);
    facility_free(&f);
    store_close(s);
    return ok;
}
