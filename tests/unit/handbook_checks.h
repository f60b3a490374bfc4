/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Published answers, each the check of one call: a row of tests/handbook/<name>.csv names the function that is to give
 * it, with inputs in text and units. Columns: id, function, in1 to in5, expected, unit, tolerance, source, mark. An
 * empty tolerance is half a unit in the last digit that the source prints. Nothing is skipped: an unknown function, a
 * function without rows, a row without source or with an unknown mark, or a row count other than the test's own fails.
 * Published data that a test computes from as a whole (a series, a regression) are read by handbook_table.h instead.
 */
#ifndef NEAP_TESTS_HANDBOOK_CHECKS_H
#define NEAP_TESTS_HANDBOOK_CHECKS_H

#include "numbers.h"

#include "neap/calc.h"

#ifndef NEAP_TESTS
#define NEAP_TESTS "tests"
#endif

enum { HANDBOOK_INS = 5, HANDBOOK_CELLS = 12, HANDBOOK_LINE = 1024 };

struct handbook_row {
    char line[HANDBOOK_LINE]; /* the cells below live in it */
    const char *id, *function, *in[HANDBOOK_INS], *expected, *unit, *tolerance, *source, *mark;
};

struct handbook_function {
    const char *name;
    double (*run)(const struct handbook_row *row);
};

/* Splits one line in place (RFC 4180, no line breaks inside cells); returns the count of cells. */
static inline size_t handbook_split(char *line, const char *cells[HANDBOOK_CELLS])
{
    size_t n = 0;
    char *from = line, *to;
    line[strcspn(line, "\r\n")] = '\0';
    for (;;) {
        bool quoted = *from == '"';
        if (n == HANDBOOK_CELLS)
            return n + 1;
        from += quoted;
        cells[n++] = to = from;
        while (*from && (quoted || *from != ',')) {
            if (quoted && *from == '"' && *++from != '"')
                quoted = false;
            else
                *to++ = *from++;
        }
        bool last = *from == '\0';
        *to = '\0';
        if (last)
            return n;
        from++;
    }
}

/* An input cell in the unit that the function under test takes; "" for a plain number. */
static inline double handbook_in(const struct handbook_row *row, size_t i, const char *unit)
{
    struct err e = {0};
    double v = NAN;
    bool ok = *unit ? quantity_read(row->in[i], unit, &v, &e) : number_parse(row->in[i], &v);
    if (!ok)
        fail_msg("%s: in%zu: %s %s", row->id, i + 1, row->in[i], e.text);
    return v;
}

/* An answer in the unit that the row expects it in; "" leaves it alone. */
static inline double handbook_out(const struct handbook_row *row, double value, enum quantity_kind kind)
{
    struct err e = {0};
    double v = value;
    if (*row->unit && !quantity_in(&(struct quantity){value, kind, SPECIES_NONE}, row->unit, &v, &e))
        fail_msg("%s: %s", row->id, e.text);
    return v;
}

/* Half a unit in the last digit of a printed number, and a hair for the binary form of it. */
static inline double handbook_half_digit(const char *printed)
{
    const char *point = strchr(printed, '.'), *exponent = strpbrk(printed, "eE");
    size_t end = exponent ? (size_t)(exponent - printed) : strlen(printed);
    double decimals = point ? (double)(end - (size_t)(point - printed) - 1) : 0;
    double scale = exponent ? strtod(exponent + 1, NULL) : 0;
    return 0.5 * pow(10, scale - decimals) * (1 + 1e-6);
}

static inline void handbook_check(const struct handbook_row *row, const struct handbook_function *f)
{
    static const char *const marks[] = {"printed",     "inputs printed", "derived",
                                        "from memory", "second-hand",    "common practice, no source"};
    double expected, tolerance = handbook_half_digit(row->expected);
    bool marked = false;
    for (size_t i = 0; i < COUNT_OF(marks); i++)
        marked = marked || strcmp(row->mark, marks[i]) == 0;
    if (!*row->source || !marked)
        fail_msg("%s: has no source, or no mark of the list", row->id);
    if (!number_parse(row->expected, &expected) || (*row->tolerance && !number_parse(row->tolerance, &tolerance)))
        fail_msg("%s: expected or tolerance is no number", row->id);
    double got = f->run(row);
    if (!(fabs(got - expected) <= tolerance))
        fail_msg("%s: %s gives %.10g; %s prints %s (tolerance %g)", row->id, row->function, got, row->source,
                 row->expected, tolerance);
}

/* Reads the next row; false at the end of the file. */
static inline bool handbook_next(FILE *f, const char *path, struct handbook_row *row)
{
    const char *cells[HANDBOOK_CELLS] = {0};
    if (!fgets(row->line, sizeof row->line, f))
        return false;
    assert_non_null(strchr(row->line, '\n'));
    if (handbook_split(row->line, cells) != HANDBOOK_CELLS)
        fail_msg("%s: the row of %s has not %d cells", path, cells[0], HANDBOOK_CELLS);
    row->id = cells[0];
    row->function = cells[1];
    memcpy(row->in, cells + 2, sizeof row->in);
    row->expected = cells[7];
    row->unit = cells[8];
    row->tolerance = cells[9];
    row->source = cells[10];
    row->mark = cells[11];
    return true;
}

/* Runs every row of the file; returns how many there were. */
static inline size_t handbook_run(const char *name, const struct handbook_function *functions, size_t n)
{
    char path[256];
    struct handbook_row row;
    size_t rows = 0, used[32] = {0};
    assert_true(n <= COUNT_OF(used));
    snprintf(path, sizeof path, "%s/handbook/%s.csv", NEAP_TESTS, name);
    FILE *f = fopen(path, "r");
    if (!f)
        fail_msg("%s cannot be read; run from the top of the source tree, or define NEAP_TESTS", path);
    assert_non_null(fgets(row.line, sizeof row.line, f));
    assert_string_equal(row.line, "id,function,in1,in2,in3,in4,in5,expected,unit,tolerance,source,mark\n");
    while (handbook_next(f, path, &row)) {
        size_t i = 0;
        while (i < n && strcmp(functions[i].name, row.function) != 0)
            i++;
        if (i == n)
            fail_msg("%s: %s: no test knows the function %s", path, row.id, row.function);
        handbook_check(&row, &functions[i]);
        used[i]++;
        rows++;
    }
    fclose(f);
    for (size_t i = 0; i < n; i++)
        if (used[i] == 0)
            fail_msg("%s: no row uses the function %s", path, functions[i].name);
    return rows;
}

#endif
