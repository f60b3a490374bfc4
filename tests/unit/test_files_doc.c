/* SPDX-License-Identifier: GPL-3.0-or-later */
/* docs/files.md against the register table: a field, limit, unit or fault that changes must change there too. */
#include "neap/exchange.h"
#include "tests.h"

static void slurp(const char *path, struct text *t)
{
    char part[4096];
    size_t n;
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    while ((n = fread(part, 1, sizeof part, f)) > 0)
        text_add_n(t, part, n);
    fclose(f);
}

static void form_of(const struct field *f, struct text *t)
{
    static const char *const forms[] = {
        [FIELD_TEXT] = "text",          [FIELD_NAME] = "name",      [FIELD_NUMBER] = "number",
        [FIELD_COUNT] = "whole number", [FIELD_FLAG] = "yes or no", [FIELD_DAY] = "day",
        [FIELD_MOMENT] = "moment",      [FIELD_CLOCK] = "clock",    [FIELD_CHOICE] = "",
    };
    const struct reg *band = reg_get(REG_BAND);
    if (f->choices && f->choices == band->fields[reg_field(band, "analyte")].choices) {
        text_add(t, "an analyte");
        return;
    }
    if (f->type == FIELD_REF)
        text_addf(t, "a %s", reg_get(f->ref)->name);
    else
        text_add(t, forms[f->type]);
    for (size_t i = 0; f->choices && f->choices[i]; i++)
        text_addf(t, "%s%s", i == 0 ? "" : ", ", f->choices[i]);
    if (f->min != 0 || f->max != 0)
        text_addf(t, ", %.10g to %.10g", f->min, f->max);
}

/* The line of a field in its register's table. */
static void line_of(const struct field *f, struct text *t)
{
    text_addf(t, "| `%s` | ", f->name);
    form_of(f, t);
    if (f->fallback && *f->fallback)
        text_addf(t, " | %s", f->fallback);
    else
        text_addf(t, " | %s", f->flags & FIELD_REQUIRED ? f->flags & FIELD_KEY ? "refused (key)" : "refused" : "");
    text_addf(t, " | %s |\n", f->help);
}

static void expect_in_section(const char *doc, const char *heading, const struct field *fields, size_t n)
{
    struct text title = {0};
    text_addf(&title, "\n### %s\n", heading);
    const char *section = strstr(doc, text_str(&title));
    if (!section)
        fail_msg("docs/files.md has no section%s", text_str(&title));
    for (size_t i = 0; i < n; i++) {
        struct text line = {0};
        line_of(&fields[i], &line);
        const char *at = strstr(section, text_str(&line)), *next = strstr(section + 1, "\n### ");
        if (!at || (next && at > next))
            fail_msg("docs/files.md, section %s, needs this line: %s", heading, text_str(&line));
        text_free(&line);
    }
    text_free(&title);
}

static void the_manual_lists_every_field_of_every_typed_register(void **state)
{
    (void)state;
    struct text doc = {0};
    slurp("docs/files.md", &doc);
    for (size_t id = 0; id < N_REGS; id++) {
        const struct reg *r = reg_get((enum reg_id)id);
        if (r->typed)
            expect_in_section(text_str(&doc), r->name, r->fields, r->n_fields);
    }
    expect_in_section(text_str(&doc), "names of setting", settings_reg()->fields, settings_reg()->n_fields);
    text_free(&doc);
}

/* "| `po4` | phosphate | mg/L as PO4 | 0 to 20 | 0.03 to 0.12 | `phosphate`, `po4_p` in mg/L PO4-P |" */
static void analyte_line(const struct analyte_def *a, struct text *t)
{
    text_addf(t, "| `%s` | %s | %s%s%s | %g to %g | %g to %g | ", a->name, a->title, a->unit, *a->basis ? " as " : "",
              a->basis, a->least, a->most, a->band.low, a->band.high);
    for (size_t i = 0; i < ANALYTE_WORDS && a->words[i].name; i++)
        text_addf(t, "%s`%s`%s%s", i ? ", " : "", a->words[i].name, a->words[i].unit ? " in " : "",
                  a->words[i].unit ? a->words[i].unit : "");
    text_add(t, " |\n");
}

static void the_manual_lists_every_analyte(void **state)
{
    (void)state;
    struct text doc = {0};
    slurp("docs/files.md", &doc);
    const char *section = strstr(text_str(&doc), "\n### Analytes\n");
    assert_non_null(section);
    for (int a = 0; a < N_ANALYTES; a++) {
        struct text line = {0};
        analyte_line(&analytes[a], &line);
        if (!strstr(section, text_str(&line)))
            fail_msg("docs/files.md, section Analytes, needs this line: %s", text_str(&line));
        text_free(&line);
    }
    text_free(&doc);
}

static void the_manual_lists_every_unit_ending(void **state)
{
    (void)state;
    struct text doc = {0};
    size_t n;
    const struct exchange_unit *units = exchange_units(&n);
    slurp("docs/files.md", &doc);
    for (size_t i = 0; i < n; i++) {
        struct text line = {0};
        char one[32];
        number_format(units[i].to_base(1), one);
        text_addf(&line, "| `%s` | `%s` | %s |\n", units[i].base, units[i].suffix, one);
        if (!strstr(text_str(&doc), text_str(&line)))
            fail_msg("docs/files.md needs this line: %s", text_str(&line));
        text_free(&line);
    }
    text_free(&doc);
}

/* Takes rows and says nothing. */
static bool take(void *context, const struct exchange_row *row, size_t *field, struct err *e)
{
    (void)context, (void)row, (void)field, (void)e;
    return true;
}

/* The indented block that follows a line, without its indent. */
static void block_after(const char *doc, const char *line, struct text *t)
{
    const char *s = strstr(doc, line);
    if (!s)
        fail_msg("docs/files.md has no line \"%s\"", line);
    s += strlen(line) + 1; /* and the empty line */
    while (strncmp(s, "    ", 4) == 0) {
        const char *end = strchr(s, '\n') + 1;
        text_add_n(t, s + 4, (size_t)(end - s - 4));
        s = end;
    }
    assert_true(t->len > 0);
}

static void read_example(const char *doc, const char *name, const char *before, struct faults *faults)
{
    struct text t = {0};
    struct err e;
    size_t n;
    block_after(doc, before, &t);
    assert_true(exchange_read(&(struct source){.name = name, .bytes = t.s, .len = t.len}, NULL,
                              &(struct exchange_sink){.put = take, .context = NULL}, faults, &n, &e));
    text_free(&t);
}

static void the_examples_of_the_manual_do_what_it_says(void **state)
{
    (void)state;
    struct text doc = {0}, shown = {0};
    struct faults good = {0}, bad = {0};
    slurp("docs/files.md", &doc);
    read_example(text_str(&doc), "tank.csv", "\nA file that is right, `tank.csv`:\n", &good);
    read_example(text_str(&doc), "facility.json", "\nThe same in JSON, `facility.json`:\n", &good);
    assert_string_equal(text_str(&good.lines), "");
    read_example(text_str(&doc), "tank.csv", "\nA file with faults, `tank.csv`:\n", &bad);
    block_after(text_str(&doc), "\nIt is answered with\n", &shown);
    assert_string_equal(text_str(&bad.lines), text_str(&shown));
    faults_free(&good);
    faults_free(&bad);
    text_free(&shown);
    text_free(&doc);
}

SUITE(files_doc)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_manual_lists_every_field_of_every_typed_register),
        cmocka_unit_test(the_manual_lists_every_analyte),
        cmocka_unit_test(the_manual_lists_every_unit_ending),
        cmocka_unit_test(the_examples_of_the_manual_do_what_it_says),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
