/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The working behind a round, laid out: a heading, the formula, and a row for each number with where it comes from. */
#include "neap/calc.h"
#include "neap/print.h"
#include "neap/why.h"

static const struct column why_columns[] = {{"", 1, false}, {"", 27, false}, {"", 17, true}, {"", 0, false}};

/*
 * What goes by another measure in US units: of a tank, a way, a temperature. Doses stay metric, as syringes and scales
 * are.
 */
static const char *shown_in(const char *unit, bool us, double *value)
{
    if (us && strcmp(unit, "L") == 0)
        return *value = us_gal_from_litres(*value), "US gal";
    if (us && strcmp(unit, "cm") == 0)
        return *value /= cm_from_inches(1), "in";
    if (us && strcmp(unit, "m") == 0)
        return *value *= 100 / cm_from_inches(12), "ft";
    if (us && strcmp(unit, "C") == 0)
        return *value = fahrenheit_from_celsius(*value), "F";
    return unit;
}

static const char *number_words(struct document *d, double value, const char *unit)
{
    char digits[64];
    if (!isfinite(value))
        return "no limit";
    number_short(value, 4, digits);
    return document_format(d, "%s%s%s", digits, *unit ? " " : "", unit);
}

static const char *value_words(struct document *d, const struct why_row *row, bool us)
{
    char clock[CLOCK_TEXT];
    double value = row->value;
    if (isnan(value))
        return row->words;
    if (strcmp(row->unit, "clock") == 0) {
        clock_format((int)value, clock);
        return document_format(d, "%s", clock);
    }
    const char *unit = shown_in(row->unit, us, &value);
    return number_words(d, value, unit);
}

static void put_row(struct document *d, const struct why_row *row, bool us)
{
    bool words = isnan(row->value);
    const char *origin = row->origin;
    if (words) /* a text needs the room of the right-hand column */
        origin = *row->origin ? document_format(d, "%s (%s)", row->words, row->origin) : row->words;
    const char *cells[] = {row->part == WHY_RESULT ? "=" : "", row->what, words ? "" : value_words(d, row, us), origin};
    document_row(d, cells);
}

static void put_step(struct document *d, const struct why_step *s, bool us)
{
    document_space(d);
    document_heading(d, s->title);
    bool worked_metric = false;
    for (size_t i = 0; i < s->n_rows; i++)
        worked_metric = worked_metric || shown_in(s->rows[i].unit, us, &(double){0}) != s->rows[i].unit;
    document_text(d, worked_metric ? document_format(d, "%s (worked in metric)", s->formula) : s->formula);
    document_keep(d);
    bool open = false;
    for (size_t i = 0; i < s->n_rows; i++) {
        if (s->rows[i].part == WHY_NOTE)
            continue;
        if (!open)
            document_table(d, why_columns, COUNT_OF(why_columns));
        open = true;
        put_row(d, &s->rows[i], us);
    }
    for (size_t i = 0; i < s->n_rows; i++)
        if (s->rows[i].part == WHY_NOTE)
            document_item(d, "!", s->rows[i].words);
}

void why_document(const struct explanation *x, bool us, struct document *d)
{
    document_heading(d, document_format(d, "%s: %s", x->subject, x->title));
    double answer = x->answer;
    const char *unit = shown_in(x->unit, us, &answer);
    if (!isnan(answer) && unit != x->unit)
        document_text(d, number_words(d, answer, unit));
    else if (*x->says)
        document_text(d, x->says);
    for (size_t i = 0; i < x->n_steps; i++)
        put_step(d, &x->steps[i], us);
    if (x->n_sources == 0)
        return;
    document_space(d);
    document_heading(d, "Sources");
    for (size_t i = 0; i < x->n_sources; i++)
        document_item(d, "-", x->sources[i]);
}

/* ---- as data ---------------------------------------------------------------------------------------------------- */

static const char *const part_names[] = {"number", "words", "result", "note"};

static void row_json(const struct why_row *row, struct json_text *j)
{
    bool clock = strcmp(row->unit, "clock") == 0;
    char text[CLOCK_TEXT];
    json_open(j, NULL, '{');
    json_text_member(j, "part", part_names[row->part]);
    if (*row->what)
        json_text_member(j, "what", row->what);
    if (clock) {
        clock_format((int)row->value, text);
        json_text_member(j, "clock", text);
    } else if (!isnan(row->value)) {
        json_number_member(j, "value", row->value);
        json_text_member(j, "unit", row->unit);
    } else {
        json_text_member(j, "words", row->words);
    }
    if (*row->origin)
        json_text_member(j, "origin", row->origin);
    json_close(j);
}

void why_json(const struct explanation *x, struct json_text *j)
{
    json_open(j, NULL, '{');
    json_text_member(j, "subject", x->subject);
    json_text_member(j, "title", x->title);
    json_text_member(j, "says", x->says);
    if (!isnan(x->answer))
        json_number_member(j, "answer", x->answer);
    json_text_member(j, "unit", x->unit);
    json_open(j, "steps", '[');
    for (size_t i = 0; i < x->n_steps; i++) {
        json_open(j, NULL, '{');
        json_text_member(j, "title", x->steps[i].title);
        json_text_member(j, "formula", x->steps[i].formula);
        json_open(j, "rows", '[');
        for (size_t k = 0; k < x->steps[i].n_rows; k++)
            row_json(&x->steps[i].rows[k], j);
        json_close(j);
        json_close(j);
    }
    json_close(j);
    json_open(j, "sources", '[');
    for (size_t i = 0; i < x->n_sources; i++)
        json_text_member(j, NULL, x->sources[i]);
    json_close(j);
    json_close(j);
}
