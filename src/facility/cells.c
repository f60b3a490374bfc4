/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One field of a row, between text, cell and struct, held against its limits. */
#include "neap/facility.h"

#include <utf8proc.h>

/* ---- reading ---------------------------------------------------------------------------------------------------- */

static bool expected(struct err *e, const char *text, const char *what)
{
    char quoted[EXCERPT_TEXT];
    return err_of_value(e, ERR_INPUT, "is \"%s\"; expected %s", text_excerpt(text, quoted), what);
}

/*
 * What could move a terminal's cursor, turn the direction of writing, or hide in a name so that two names look alike.
 * The joiners that some scripts need stay allowed in free text.
 */
static bool character_allowed(const struct field *f, utf8proc_int32_t c)
{
    if (c < 0x80)
        return c >= 0x20 && c != 0x7F;
    switch (utf8proc_category(c)) {
    case UTF8PROC_CATEGORY_CC:
    case UTF8PROC_CATEGORY_ZL:
    case UTF8PROC_CATEGORY_ZP: return false;
    case UTF8PROC_CATEGORY_CF: return f->type == FIELD_TEXT && (c == 0x200C || c == 0x200D);
    default: return true;
    }
}

/*
 * Of a text that is not empty. A leading sign could start a spreadsheet formula. The length is judged later, on the
 * composed form that is kept.
 */
static bool text_allowed(const struct field *f, const char *text, struct err *e)
{
    size_t len = strlen(text), bad;
    if (!utf8_valid(text, len, &bad))
        return err_of_value(e, ERR_INPUT, "is not UTF-8 at byte %zu; expected the file saved as UTF-8", bad + 1);
    for (size_t i = 0; i < len;) {
        utf8proc_int32_t c;
        utf8proc_ssize_t n = utf8proc_iterate((const utf8proc_uint8_t *)text + i, (utf8proc_ssize_t)(len - i), &c);
        assert(n > 0); /* it is valid */
        if (c == '\n' || c == '\r')
            return err_of_value(e, ERR_INPUT, "has a line break at byte %zu; expected one line of text", i + 1);
        if (!character_allowed(f, c))
            return err_of_value(e, ERR_INPUT, "has a control character at byte %zu; expected printable text", i + 1);
        i += (size_t)n;
    }
    if (f->type != FIELD_NAME)
        return true;
    if (text[0] == ' ' || text[len - 1] == ' ')
        return expected(e, text, "a name without a blank at either end");
    if (strchr("=+-@", text[0]))
        return expected(e, text, "a name that does not begin with = + - or @");
    return true;
}

static bool is_ascii(const char *text)
{
    while (*text && (unsigned char)*text < 0x80)
        text++;
    return *text == '\0';
}

/* ASCII is composed as it stands, and most of what is read is ASCII. */
static bool parse_text(const struct field *f, const char *text, struct arena *a, struct cell *c, struct err *e)
{
    const size_t most = f->type == FIELD_NAME ? NAME_BYTES_MAX : NOTE_BYTES_MAX;
    utf8proc_uint8_t *composed = NULL;
    if (!text_allowed(f, text, e))
        return false;
    if (!is_ascii(text)) {
        composed = utf8proc_NFC((const utf8proc_uint8_t *)text);
        if (!composed)
            return err_memory(e);
        text = (const char *)composed;
    }
    size_t len = strlen(text);
    bool ok = len <= most || err_of_value(e, ERR_INPUT, "has %zu bytes; expected at most %zu", len, most);
    if (ok) {
        c->kind = CELL_TEXT;
        c->text = arena_text(a, text);
        ok = c->text || err_memory(e);
    }
    free(composed);
    return ok;
}

static bool limits_hold(const struct field *f, double v, const char *text, struct err *e)
{
    if ((f->min == 0 && f->max == 0) || (v >= f->min && v <= f->max))
        return true;
    if (text_ends_in(f->name, "_frac") && v / 100 >= f->min && v / 100 <= f->max)
        return err_of_value(e, ERR_INPUT, "is %.40s; expected %.10g to %.10g, or a percentage: %.40s%%", text, f->min,
                            f->max, text);
    return err_of_value(e, ERR_INPUT, "is %.40s; expected %.10g to %.10g", text, f->min, f->max);
}

static bool parse_number(const struct field *f, const char *text, struct cell *c, struct err *e)
{
    if (!number_parse(text, &c->number)) {
        if (strchr(text, ',') && text[strspn(text, "0123456789,.+-")] == '\0')
            return expected(e, text, "a decimal point, such as 40.5 (not a comma)");
        return expected(e, text, "a number, such as 40 or 40.5");
    }
    c->kind = CELL_NUMBER;
    return limits_hold(f, c->number, text, e);
}

/* 12.0 is a count too: spreadsheets write it so. */
static bool parse_count(const struct field *f, const char *text, struct cell *c, struct err *e)
{
    double number;
    if (!count_parse(text, &c->whole)) {
        if (!number_parse(text, &number) || number != floor(number) || fabs(number) > 1e15)
            return expected(e, text,
                            text_ends_in(f->name, "_cents") ? "whole cents, such as 1250 for 12.50; 12.50 goes by price"
                                                            : "a whole number, such as 12");
        c->whole = (long)number;
    }
    c->kind = CELL_WHOLE;
    return limits_hold(f, (double)c->whole, text, e);
}

/* As people and spreadsheets write them, in any case. */
static bool parse_flag(const char *text, struct cell *c, struct err *e)
{
    static const char *const words[2][4] = {{"no", "0", "false", "n"}, {"yes", "1", "true", "y"}};
    c->kind = CELL_WHOLE;
    for (c->whole = 0; c->whole < 2; c->whole++)
        for (size_t i = 0; i < COUNT_OF(words[0]); i++)
            if (text_same_but_case(text, words[c->whole][i]))
                return true;
    return expected(e, text, "yes or no");
}

static bool canonical(const char *text, struct arena *a, struct cell *c, struct err *e)
{
    c->kind = CELL_TEXT;
    c->text = arena_text(a, text);
    return c->text ? true : err_memory(e);
}

/* In any case, kept as the table has it. */
static bool parse_choice(const struct field *f, const char *text, struct arena *a, struct cell *c, struct err *e)
{
    char quoted[EXCERPT_TEXT];
    struct text list = {0};
    size_t n = 0;
    for (; f->choices[n]; n++)
        if (text_same_but_case(text, f->choices[n]))
            return canonical(f->choices[n], a, c, e);
    for (size_t i = 0; i < n; i++)
        text_addf(&list, "%s%s", i == 0 ? "" : i + 1 < n ? ", " : " or ", f->choices[i]);
    const char *near_by = name_nearest(text, f->choices, n);
    err_of_value(e, ERR_INPUT, "is \"%s\"; expected %s%s%s%s", text_excerpt(text, quoted), text_str(&list),
                 near_by ? " (did you mean \"" : "", near_by ? near_by : "", near_by ? "\"?)" : "");
    text_free(&list);
    return false;
}

bool cell_parse(const struct field *f, const char *text, struct arena *a, struct cell *c, struct err *e)
{
    int day, minute;
    long moment;
    char out[MOMENT_TEXT];

    *c = (struct cell){0};
    if (*text == '\0')
        return true;
    switch (f->type) {
    case FIELD_TEXT:
    case FIELD_NAME:
    case FIELD_REF: return parse_text(f, text, a, c, e);
    case FIELD_NUMBER: return parse_number(f, text, c, e);
    case FIELD_COUNT: return parse_count(f, text, c, e);
    case FIELD_FLAG: return parse_flag(text, c, e);
    case FIELD_CHOICE: return parse_choice(f, text, a, c, e);
    case FIELD_DAY:
        if (!day_parse(text, &day))
            return expected(e, text, "a day as YYYY-MM-DD");
        return canonical(text, a, c, e);
    case FIELD_MOMENT:
        if (!moment_parse(text, &moment))
            return expected(e, text, "a moment as YYYY-MM-DDTHH:MM");
        moment_format(moment, out);
        return canonical(out, a, c, e);
    case FIELD_CLOCK: break;
    }
    if (!clock_parse_long(text, &minute))
        return expected(e, text, "a time as HH:MM");
    if (minute >= MIN_PER_DAY && f->max < MIN_PER_DAY) /* only what says so in its row runs past midnight */
        return expected(e, text, "a time of the day, 00:00 to 23:59");
    snprintf(out, sizeof out, "%02d:%02d", minute / 60, minute % 60);
    return canonical(out, a, c, e);
}

void cell_format(const struct field *f, const struct cell *c, struct text *out)
{
    char number[32];
    if (c->kind == CELL_TEXT) {
        text_add(out, c->text);
    } else if (c->kind == CELL_NUMBER) {
        number_format(c->number, number);
        text_add(out, number);
    } else if (c->kind == CELL_WHOLE) {
        if (f->type == FIELD_FLAG)
            text_add(out, c->whole ? "yes" : "no");
        else
            text_addf(out, "%ld", c->whole);
    }
}

bool cell_same(const struct cell *a, const struct cell *b)
{
    if (a->kind != b->kind)
        return false;
    switch (a->kind) {
    case CELL_EMPTY: return true;
    case CELL_TEXT: return strcmp(a->text, b->text) == 0;
    case CELL_NUMBER: return a->number == b->number;
    case CELL_WHOLE: break;
    }
    return a->whole == b->whole;
}

/* ---- between cells and structs ---------------------------------------------------------------------------------- */

static int choice_index(const struct field *f, const char *text)
{
    int i = 0;
    while (f->choices[i] && strcmp(f->choices[i], text) != 0)
        i++;
    return i;
}

static void fill_empty(const struct field *f, void *member)
{
    switch (f->type) {
    case FIELD_TEXT:
    case FIELD_NAME: *(const char **)member = ""; break;
    case FIELD_NUMBER: *(double *)member = NAN; break;
    case FIELD_COUNT: *(long *)member = 0; break;
    case FIELD_FLAG: *(bool *)member = false; break;
    case FIELD_DAY: *(int *)member = DAY_NONE; break;
    case FIELD_MOMENT: *(long *)member = MOMENT_NONE; break;
    case FIELD_CLOCK: *(int *)member = CLOCK_NONE; break;
    case FIELD_CHOICE: *(int *)member = 0; break;
    case FIELD_REF: *(size_t *)member = REF_NONE; break;
    }
}

static bool fill_choice(const struct field *f, const char *text, int *member)
{
    *member = choice_index(f, text);
    return f->choices[*member] != NULL;
}

static bool fill_number(const struct field *f, double number, double *member)
{
    *member = number;
    return isfinite(number) && ((f->min == 0 && f->max == 0) || (number >= f->min && number <= f->max));
}

/*
 * False: no cell_parse made this, so it comes from a damaged store. Such a value must not get into a struct, where a
 * choice is an index and a number is finite.
 */
static bool fill_member(const struct field *f, const struct cell *c, void *member)
{
    static const enum cell_kind kinds[] = {
        [FIELD_TEXT] = CELL_TEXT,   [FIELD_NAME] = CELL_TEXT, [FIELD_NUMBER] = CELL_NUMBER, [FIELD_COUNT] = CELL_WHOLE,
        [FIELD_FLAG] = CELL_WHOLE,  [FIELD_DAY] = CELL_TEXT,  [FIELD_MOMENT] = CELL_TEXT,   [FIELD_CLOCK] = CELL_TEXT,
        [FIELD_CHOICE] = CELL_TEXT, [FIELD_REF] = CELL_TEXT,
    };
    fill_empty(f, member);
    if (c->kind == CELL_EMPTY)
        return true;
    if (c->kind != kinds[f->type])
        return false;
    switch (f->type) {
    case FIELD_TEXT:
    case FIELD_NAME: *(const char **)member = c->text; return true;
    case FIELD_NUMBER: return fill_number(f, c->number, member);
    case FIELD_COUNT: *(long *)member = c->whole; return true;
    case FIELD_FLAG: *(bool *)member = c->whole != 0; return true;
    case FIELD_DAY: return day_parse(c->text, member);
    case FIELD_MOMENT: return moment_parse(c->text, member);
    case FIELD_CLOCK: return clock_parse_long(c->text, member);
    case FIELD_CHOICE: return fill_choice(f, c->text, member);
    case FIELD_REF: break;
    }
    return true;
}

bool row_fill(const struct reg *r, const struct cell *cells, void *row, size_t *field, struct err *e)
{
    struct arena scratch = {0};
    bool ok = true;
    for (size_t i = 0; ok && i < r->n_fields; i++) {
        const struct field *f = &r->fields[i];
        struct cell c = cells[i];
        *field = i;
        if (c.kind == CELL_EMPTY && f->fallback)
            ok = cell_parse(f, f->fallback, &scratch, &c, e);
        else if (c.kind == CELL_EMPTY && (f->flags & FIELD_REQUIRED))
            ok = err_of_value(e, ERR_INPUT, "is empty; expected %s", f->help);
        if (!ok)
            break;
        if (c.kind == CELL_TEXT && cells[i].kind == CELL_EMPTY && (f->type == FIELD_TEXT || f->type == FIELD_NAME))
            c.text = f->fallback; /* static text outlives the scratch copy */
        if (!fill_member(f, &c, (char *)row + f->offset))
            ok = err_of_value(e, ERR_INPUT, "is damaged (%s)", f->help);
    }
    arena_free(&scratch);
    return ok && (!r->check || r->check(row, field, e));
}

static const char *key_of(const struct facility *f, enum reg_id id, size_t index)
{
    const struct reg *r = reg_get(id);
    const char *rows = *(const char *const *)((const char *)f + r->array_offset);
    return *(const char *const *)(rows + index * r->row_size + r->fields[0].offset);
}

static bool text_cell(struct cell *c, const char *text, struct arena *a, struct err *e)
{
    if (!text)
        return err_memory(e);
    return *text == '\0' ? true : canonical(text, a, c, e);
}

static bool read_member(const struct field *f, const void *member, const struct facility *fac, struct cell *c,
                        struct arena *a, struct err *e)
{
    char out[MOMENT_TEXT];
    switch (f->type) {
    case FIELD_TEXT:
    case FIELD_NAME: return text_cell(c, *(const char *const *)member, a, e);
    case FIELD_NUMBER:
        c->number = *(const double *)member;
        c->kind = isnan(c->number) ? CELL_EMPTY : CELL_NUMBER;
        return true;
    case FIELD_COUNT:
        c->whole = *(const long *)member;
        c->kind = CELL_WHOLE;
        return true;
    case FIELD_FLAG:
        c->whole = *(const bool *)member;
        c->kind = CELL_WHOLE;
        return true;
    case FIELD_DAY:
        if (*(const int *)member == DAY_NONE)
            return true;
        day_format(*(const int *)member, out);
        return canonical(out, a, c, e);
    case FIELD_MOMENT: moment_format(*(const long *)member, out); return canonical(out, a, c, e);
    case FIELD_CLOCK: {
        int minute = *(const int *)member;
        if (minute == CLOCK_NONE)
            return true;
        return text_cell(c, arena_format(a, "%02d:%02d", minute / 60, minute % 60), a, e);
    }
    case FIELD_CHOICE: return canonical(f->choices[*(const int *)member], a, c, e);
    case FIELD_REF: break;
    }
    size_t row = *(const size_t *)member;
    return row == REF_NONE || canonical(key_of(fac, f->ref, row), a, c, e);
}

bool row_read(const struct reg *r, const void *row, const struct facility *f, struct cell *cells, struct arena *a,
              struct err *e)
{
    for (size_t i = 0; i < r->n_fields; i++) {
        cells[i] = (struct cell){0};
        if (!read_member(&r->fields[i], (const char *)row + r->fields[i].offset, f, &cells[i], a, e))
            return false;
    }
    return true;
}
