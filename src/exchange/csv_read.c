/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * CSV in. libcsv decides where cells and rows end; it is fed one byte at a time, so that each of its calls back is
 * known to belong to the byte just fed and every cell has its line and column.
 */
#include "exchange/exchange_internal.h"

#include <csv.h>
#include <ctype.h>

struct csv_reading {
    struct file_reading *r;
    const struct reg *reg;
    struct csv_parser parser;
    struct cursor now;       /* of the byte being fed */
    struct cursor cell, row; /* where they begin */
    bool in_head, gave_up;
    bool cell_over, row_over; /* by the byte just fed */
    bool keyed;               /* the headings have the whole key: rows can be put */
    size_t n_columns;         /* headings, known or not */
    struct heading columns[FIELDS_MAX];
    bool nameless[FIELDS_MAX]; /* columns without a heading: expected to be empty */
    size_t unit_column;        /* of tests: what the value of its row is in; SIZE_MAX: there is none */
    size_t n_cells;            /* of the row so far */
    size_t n_filled;           /* of them, up to the last that is not empty */
    struct text cells;         /* their texts, each ended by NUL */
    size_t starts[FIELDS_MAX]; /* of each in cells */
    struct place places[FIELDS_MAX];
};

static bool going_on(const struct csv_reading *c)
{
    return !c->gave_up && !c->r->ended;
}

/* ---- headings --------------------------------------------------------------------------------------------------- */

/* Meters write the unit beside the value; it is no field, for what is kept is in the analyte's own. */
static bool is_unit_heading(const struct csv_reading *c, const char *name)
{
    return c->reg == reg_get(REG_TEST) && tolower((unsigned char)name[0]) == 'u' && strcmp(name + 1, "nit") == 0;
}

static void head_add(struct csv_reading *c, size_t i)
{
    const char *name = c->cells.s + c->starts[i];
    bool left_out;
    struct heading col = heading_find(&c->r->form, c->reg, name, i, &left_out);
    c->columns[i] = (struct heading){.field = SIZE_MAX};
    if (left_out)
        return;
    if (is_unit_heading(c, name)) {
        if (c->unit_column != SIZE_MAX)
            fault_add(c->r, c->places[i], "unit is there twice, in heading %zu and in %zu; expected it once",
                      c->unit_column + 1, i + 1);
        c->unit_column = i;
        return;
    }
    if (*name == '\0') {
        c->nameless[i] = true;
        return;
    }
    if (col.field == SIZE_MAX) {
        fault_add_unknown_column(c->r, c->places[i], c->reg, name, "heading");
        return;
    }
    for (size_t k = 0; k < i; k++)
        if (c->columns[k].field == col.field) {
            fault_add(c->r, c->places[i], "%s is there twice, in heading %zu and in %zu; expected it once",
                      c->reg->fields[col.field].name, k + 1, i + 1);
            return;
        }
    c->columns[i] = col;
}

static bool head_has(const struct csv_reading *c, size_t field)
{
    for (size_t i = 0; i < c->n_columns && i < FIELDS_MAX; i++)
        if (c->columns[i].field == field)
            return true;
    return false;
}

static void head_end(struct csv_reading *c)
{
    const unsigned needed = FIELD_KEY | FIELD_REQUIRED;
    c->in_head = false;
    c->n_columns = c->n_filled; /* a spreadsheet may have more columns than it has headings */
    c->n_cells = c->n_columns;
    for (size_t i = 0; i < c->n_cells && i < FIELDS_MAX; i++)
        head_add(c, i);
    if (c->n_cells > FIELDS_MAX)
        fault_add(c->r, cursor_place(c->r, &c->row), "has %zu headings; expected at most the %zu of %s", c->n_cells,
                  c->reg->n_fields, c->reg->name);
    c->keyed = true;
    for (size_t i = 0; i < c->reg->n_fields; i++) {
        const struct field *f = &c->reg->fields[i];
        if ((f->flags & needed) != needed || head_has(c, i))
            continue;
        fault_add(c->r, cursor_place(c->r, &c->row),
                  "has no heading %s; expected it, for it tells the rows of %s apart", f->name, c->reg->name);
        c->keyed = false;
    }
}

/* ---- rows ------------------------------------------------------------------------------------------------------- */

/* Whoever hears of refused rows wants to know whose; the other cells of a row that does not fit may be askew. */
static void take_key_unjudged(struct csv_reading *c)
{
    for (size_t i = 0; i < c->n_cells && i < c->n_columns && i < FIELDS_MAX; i++)
        if (c->columns[i].field == 0 && !c->columns[i].unit)
            cell_parse(&c->reg->fields[0], c->cells.s + c->starts[i], &c->r->arena, &c->r->row.cells[0], NULL);
}

/* The apostrophe that a dump puts before what a spreadsheet would run is not of the text. */
static const char *own_text(const struct csv_reading *c, size_t i)
{
    const char *text = c->cells.s + c->starts[i];
    bool marked = c->reg->fields[c->columns[i].field].type == FIELD_TEXT && *text == '\'' && looks_like_formula(text);
    return text + marked;
}

static const char *cell_text_of(const struct csv_reading *c, const char *field)
{
    for (size_t i = 0; i < c->n_columns && i < FIELDS_MAX; i++)
        if (c->columns[i].field == reg_field(c->reg, field))
            return c->cells.s + c->starts[i];
    return "";
}

/*
 * Whose spelling a cell has: its field's, but a setting's value that of the figure it sets. NULL: of no figure there
 * is.
 */
static const struct field *spelled_as(const struct csv_reading *c, size_t i)
{
    const struct field *f = &c->reg->fields[c->columns[i].field];
    if (c->reg != reg_get(REG_SETTING) || strcmp(f->name, "value") != 0)
        return f;
    size_t figure = reg_field(settings_reg(), cell_text_of(c, "name"));
    return figure == SIZE_MAX ? NULL : &settings_reg()->fields[figure];
}

/* The fault of a cell that cannot be spelled plainly. */
static void tell_unplain(struct csv_reading *c, size_t i, const char *name, const struct err *why)
{
    c->r->row.present[c->columns[i].field] = true;
    if (why->code == ERR_MEMORY)
        reading_end_memory(c->r);
    else
        fault_add(c->r, c->places[i], "%s %s", name, why->text);
}

/* false: a fault was told, or the reading ends. */
static bool plain_of(struct csv_reading *c, size_t i, const char *name, const char **plain)
{
    struct err why;
    const struct field *f = spelled_as(c, i);
    *plain = own_text(c, i);
    if (!f || form_plain(&c->r->form, f, *plain, &c->r->arena, plain, &why))
        return true;
    tell_unplain(c, i, name, &why);
    return false;
}

/* ---- a test's value with its unit ------------------------------------------------------------------------------- */

/* The number with the unit beside it in the analyte's own; an analyte that is none has a fault of its own. */
static void take_measured(struct csv_reading *c, const struct heading *col, size_t i, double number)
{
    static const struct gravity_scale usual = {25, 25};
    const struct field *of = &c->reg->fields[reg_field(c->reg, "analyte")];
    struct text joined = {0};
    struct cell analyte;
    struct measured m;
    struct err why;
    char own[32];
    if (!cell_parse(of, cell_text_of(c, of->name), &c->r->arena, &analyte, NULL) || analyte.kind != CELL_TEXT)
        return;
    number_format(number, own);
    text_addf(&joined, "%s %s", own, c->cells.s + c->starts[c->unit_column]);
    if (joined.failed) {
        reading_end_memory(c->r);
    } else if (measured_parse(analyte.text, text_str(&joined), &usual, &m, &why)) {
        number_format(m.value, own);
        row_take(c->r, col, c->places[i], "value", own);
    } else {
        fault_add(c->r, c->places[c->unit_column], "%s", why.text);
    }
    text_free(&joined);
}

/* The value as the unit beside it says; as it stands where the unit's cell is empty. */
static void take_value(struct csv_reading *c, const struct heading *col, size_t i)
{
    struct field unlimited = c->reg->fields[col->field];
    struct cell number;
    const char *text;
    if (!plain_of(c, i, "value", &text))
        return;
    unlimited.min = unlimited.max = 0; /* the limits are those of the converted value */
    if (c->cells.s[c->starts[c->unit_column]] != '\0' && cell_parse(&unlimited, text, &c->r->arena, &number, NULL) &&
        number.kind == CELL_NUMBER)
        take_measured(c, col, i, number.number);
    else
        row_take(c->r, col, c->places[i], "value", text); /* which also says what is wrong with it */
}

/* A column without a heading is as good as none, until there is something in it. */
static bool in_no_column(struct csv_reading *c, size_t i)
{
    char quoted[EXCERPT_TEXT];
    const char *text = c->cells.s + c->starts[i];
    if (c->columns[i].field != SIZE_MAX)
        return false;
    if (c->nameless[i] && *text)
        fault_add(c->r, c->places[i], "\"%s\" has no heading above it; expected one in column %zu",
                  text_excerpt(text, quoted), i + 1);
    return true;
}

/* What a label prints: under a word of its own, or a printed dose under the field's heading. */
static bool take_label(struct csv_reading *c, const struct heading *col, size_t i)
{
    enum label_word word = col->label;
    const char *text = c->cells.s + c->starts[i], *plain;
    const char *field = c->reg->fields[col->field].name;
    struct err why;
    if (!col->printed && (col->unit || !label_word_of(c->reg, field, text, &word)))
        return false;
    if (form_plain_label(&c->r->form, text, &c->r->arena, &plain, &why))
        row_take_label(c->r, word, c->places[i], plain);
    else
        tell_unplain(c, i, label_name(word), &why);
    return true;
}

static void data_end(struct csv_reading *c)
{
    if (c->n_filled == 0)
        return; /* spreadsheets save rows of nothing but separators */
    if (c->n_cells > c->n_columns && c->n_filled <= c->n_columns)
        c->n_cells = c->n_columns;
    row_begin(c->r, c->reg, cursor_place(c->r, &c->row));
    if (c->n_cells != c->n_columns) {
        fault_add(c->r, cursor_place(c->r, &c->row), "has %zu cell%s; expected %zu, as there are headings%s",
                  c->n_cells, c->n_cells == 1 ? "" : "s", c->n_columns,
                  c->n_cells <= c->n_columns    ? ""
                  : c->r->form.separator == ',' ? " (a text with a comma needs quotes; a number takes a decimal point)"
                                                : " (a text with the separator in it needs quotes)");
        take_key_unjudged(c);
        row_end(c->r);
        return;
    }
    for (size_t i = 0; i < c->n_cells && i < FIELDS_MAX && going_on(c); i++) {
        const struct heading *col = &c->columns[i];
        const char *name = c->reg->fields[col->field == SIZE_MAX ? 0 : col->field].name;
        char spelled[64];
        const char *plain;
        if (in_no_column(c, i))
            continue;
        if (c->unit_column != SIZE_MAX && col->field == reg_field(c->reg, "value")) {
            take_value(c, col, i);
            continue;
        }
        if (take_label(c, col, i))
            continue;
        if (col->unit)
            snprintf(spelled, sizeof spelled, "%.*s%s", (int)(strlen(name) - strlen(col->unit->base)), name,
                     col->unit->suffix);
        /* cppcheck-suppress legacyUninitvar ; written where there is a unit */
        if (plain_of(c, i, col->unit ? spelled : name, &plain))
            row_take(c->r, col, c->places[i], col->unit ? spelled : name, plain);
    }
    if (c->keyed)
        row_end(c->r);
}

static void cell_end(void *text, size_t len, void *context)
{
    struct csv_reading *c = context;
    if (!going_on(c))
        return;
    if (c->n_cells < FIELDS_MAX) {
        c->starts[c->n_cells] = c->cells.len;
        c->places[c->n_cells] = cursor_place(c->r, &c->cell);
        text_add_n(&c->cells, text, len);
        text_add_char(&c->cells, '\0', 1);
        if (c->cells.failed)
            reading_end_memory(c->r);
    }
    c->n_cells++;
    c->n_filled = len > 0 ? c->n_cells : c->n_filled;
    c->cell_over = true;
}

static void row_is_over(int terminator, void *context)
{
    struct csv_reading *c = context;
    (void)terminator;
    c->row_over = true;
    if (!going_on(c))
        return;
    if (c->in_head && c->n_filled > 0)
        head_end(c);
    else if (!c->in_head)
        data_end(c);
    c->n_cells = c->n_filled = 0;
    c->cells.len = 0;
}

/* ---- bytes ------------------------------------------------------------------------------------------------------ */

static bool parser_begin(struct csv_reading *c)
{
    if (csv_init(&c->parser, CSV_STRICT | CSV_STRICT_FINI) == 0) {
        csv_set_delim(&c->parser, (unsigned char)c->r->form.separator);
        return true;
    }
    reading_end_memory(c->r);
    return false;
}

static bool ends_line(char byte)
{
    return byte == '\n' || byte == '\r';
}

/* A row that libcsv will not come to call one. */
static void count_broken_row(const struct csv_reading *c)
{
    *c->r->n_rows += !c->in_head;
}

/* Leaves the rest of a line whose quotes cannot be made sense of, and begins afresh on the next. */
static void skip_line(struct csv_reading *c)
{
    while (c->now.at < c->r->len && !ends_line(byte_at(c->r, c->now.at)))
        cursor_step(c->r, &c->now);
    c->gave_up = c->in_head;
    count_broken_row(c);
    csv_free(&c->parser);
    c->n_cells = c->n_filled = 0;
    c->cells.len = 0;
    c->cell = c->row = c->now;
    parser_begin(c);
}

static void too_long(struct csv_reading *c)
{
    struct place at = cursor_place(c->r, &c->cell);
    size_t begin = c->cell.at;
    while (begin < c->r->len && (byte_at(c->r, begin) == ' ' || byte_at(c->r, begin) == '\t'))
        begin++;
    if (begin >= c->r->len || byte_at(c->r, begin) != '"') {
        fault_add(c->r, at, "has a cell of more than %d bytes; expected at most that many", EXCHANGE_FIELD_BYTES_MAX);
        skip_line(c);
        return;
    }
    fault_add(c->r, at, "has a quoted cell of more than %d bytes; expected its closing quote (reading ends here)",
              EXCHANGE_FIELD_BYTES_MAX);
    count_broken_row(c);
    c->gave_up = true;
}

/* Nothing but blanks since the row's begin: libcsv says nothing at the end of such a line. */
static bool blank_line(const struct csv_reading *c)
{
    size_t i = c->row.at;
    while (i < c->now.at && is_blank(byte_at(c->r, i)))
        i++;
    return i == c->now.at;
}

static void feed_byte(struct csv_reading *c)
{
    char byte = byte_at(c->r, c->now.at);
    c->cell_over = c->row_over = false;
    if (csv_parse(&c->parser, &byte, 1, cell_end, row_is_over, c) != 1) {
        if (csv_error(&c->parser) != CSV_EPARSE) {
            reading_end_memory(c->r);
            return;
        }
        fault_add(c->r, cursor_place(c->r, &c->now),
                  "has a stray quote; expected the whole cell in quotes, and \"\" for a quote inside");
        skip_line(c);
        return;
    }
    cursor_step(c->r, &c->now);
    if (c->cell_over)
        c->cell = c->now;
    if (c->row_over || (ends_line(byte) && blank_line(c)))
        c->row = c->cell = c->now;
}

/* A last line without an end; inside a quoted cell it is a fault. */
static void finish(struct csv_reading *c)
{
    if (csv_fini(&c->parser, cell_end, row_is_over, c) != 0) {
        fault_add(c->r, cursor_place(c->r, &c->cell), "has a quoted cell without end; expected its closing quote");
        count_broken_row(c);
    } else if (c->in_head && going_on(c)) {
        fault_add(c->r, (struct place){c->r->file, 1, 1}, "is empty; expected a line of headings, such as %s,%s",
                  c->reg->fields[0].name, c->reg->fields[1].name);
    }
}

void csv_read(struct file_reading *r, const struct reg *reg)
{
    struct cursor begin = {0, 1, 1};
    form_recognise(r, reg);
    while (begin.at < form_first_line(r))
        cursor_step(r, &begin);
    struct csv_reading c = {
        .r = r, .reg = reg, .now = begin, .cell = begin, .row = begin, .in_head = true, .unit_column = SIZE_MAX};
    if (r->ended || !parser_begin(&c))
        return;
    while (going_on(&c) && c.now.at < r->len) {
        feed_byte(&c);
        if (c.now.at - c.cell.at > EXCHANGE_FIELD_BYTES_MAX && going_on(&c))
            too_long(&c);
    }
    if (going_on(&c))
        finish(&c);
    csv_free(&c.parser);
    text_free(&c.cells);
}
