/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How a spreadsheet writes a table, told from the table: what parts its cells, its decimal mark, the order of its
 * dates, and headings as people write them. Nothing is guessed: what two readings fit is a fault that asks which.
 */
#include "exchange/exchange_internal.h"

#include <csv.h>
#include <ctype.h>

/* ---- what parts the cells ---------------------------------------------------------------------------------------- */

size_t form_first_line(struct file_reading *r)
{
    char head[7] = "";
    for (size_t i = 0; i < sizeof head && i < r->len; i++)
        head[i] = byte_at(r, i);
    bool says =
        r->len >= 6 && memcmp(head, "sep=", 4) == 0 && strchr(",;\t", head[4]) && (head[5] == '\n' || head[5] == '\r');
    if (!says)
        return 0;
    return head[5] == '\r' && head[6] == '\n' ? 7 : 6;
}

/* The one that stands most often in the line of headings, outside quotes; a comma where there is none. */
static char separator_of(struct file_reading *r)
{
    static const char marks[] = ",;\t";
    size_t n[3] = {0}, most = 0, i = 0;
    bool quoted = false;
    while (i < r->len && strchr(" \r\n", byte_at(r, i)))
        i++;
    for (; i < r->len && (quoted || !strchr("\r\n", byte_at(r, i))); i++) {
        const char *mark = quoted ? NULL : strchr(marks, byte_at(r, i));
        quoted = quoted != (byte_at(r, i) == '"');
        if (mark)
            n[mark - marks]++;
    }
    for (size_t k = 1; k < 3; k++)
        most = n[k] > n[most] ? k : most;
    return marks[most];
}

static void find_separator(struct file_reading *r)
{
    if (r->form.separator)
        return;
    r->form.separator = form_first_line(r) ? byte_at(r, 4) : separator_of(r);
    if (r->form.separator != ',')
        note_form(r, r->form.separator == ';' ? "with semicolons" : "with tabs");
}

/* ---- decimal mark and dates -------------------------------------------------------------------------------------- */

/*
 * A number with one mark in it: what the mark must be, ',' or '.'; '?' where it may part thousands as well; 0: no such.
 */
static char mark_of(const char *s)
{
    s += strspn(s, "+-");
    size_t whole = strspn(s, "0123456789");
    const char *mark = s + whole;
    if (*mark != ',' && *mark != '.')
        return 0;
    size_t part = strspn(mark + 1, "0123456789");
    bool number_ends = mark[1 + part] == '\0' || strchr(" %eE", mark[1 + part]) != NULL;
    if (whole + part == 0 || !number_ends)
        return 0;
    bool thousands = part == 3 && whole >= 1 && whole <= 3 && *s != '0' && mark[1 + part] == '\0';
    return thousands ? '?' : *mark;
}

struct evidence {
    struct file_reading *r;
    const struct reg *reg;
    bool in_head;
    size_t at, n_columns;
    enum field_type types[FIELDS_MAX];
    size_t n_commas, n_points, n_open; /* decimal marks, and those that may part thousands */
    size_t n_dmy, n_mdy;
};

static void look_at_cell(struct evidence *v, const char *text)
{
    enum field_type type = v->at < v->n_columns ? v->types[v->at] : FIELD_TEXT;
    if (type == FIELD_NUMBER || type == FIELD_COUNT) {
        char mark = mark_of(text);
        v->n_commas += mark == ',';
        v->n_points += mark == '.';
        v->n_open += mark == '?';
    } else if (type == FIELD_DAY || type == FIELD_MOMENT) {
        enum day_order order = day_order_of(text);
        v->n_dmy += order == DAY_ORDER_DMY;
        v->n_mdy += order == DAY_ORDER_MDY;
    }
}

static void evidence_cell(void *text, size_t len, void *context)
{
    struct evidence *v = context;
    char head[64];
    bool left_out;
    snprintf(head, sizeof head, "%.*s", (int)(len < sizeof head ? len : sizeof head - 1), (const char *)text);
    if (!v->in_head) {
        look_at_cell(v, head);
    } else if (v->n_columns < FIELDS_MAX) {
        struct heading col = heading_find(&v->r->form, v->reg, head, v->n_columns, &left_out);
        bool figure = v->reg == reg_get(REG_SETTING) && col.field == 1; /* what is no number there tells nothing */
        v->types[v->n_columns++] = figure                  ? FIELD_NUMBER
                                   : col.field == SIZE_MAX ? FIELD_TEXT
                                                           : v->reg->fields[col.field].type;
    }
    v->at++;
}

static void evidence_row(int terminator, void *context)
{
    struct evidence *v = context;
    (void)terminator;
    v->in_head = false;
    v->at = 0;
}

static bool digits_behind(struct file_reading *r, size_t at, size_t n)
{
    for (size_t i = at + 1; i <= at + n; i++)
        if (i >= r->len || !isdigit((unsigned char)byte_at(r, i)))
            return false;
    return true;
}

/* A quoted number with a comma, which cells parted by commas must quote. */
static bool begins_quoted_number(struct file_reading *r, size_t at)
{
    size_t i = at + 1;
    while (i < r->len && strchr("+-0123456789", byte_at(r, i)))
        i++;
    return i > at + 1 && i < r->len && byte_at(r, i) == ',' && digits_behind(r, i, 1);
}

/*
 * Is there anything in the file that could be a decimal comma, or a date with its year last? Most files have neither.
 */
static bool worth_a_look(struct file_reading *r)
{
    if (r->form.separator != ',')
        return true;
    for (size_t i = 0; i < r->len; i++)
        if ((byte_at(r, i) == '"' && begins_quoted_number(r, i)) || (byte_at(r, i) == '/' && digits_behind(r, i, 1)) ||
            (byte_at(r, i) == '-' && digits_behind(r, i, 4)))
            return true;
    return false;
}

static void judge(struct file_reading *r, const struct evidence *v)
{
    if (!r->form.decimal && v->n_commas > 0 && v->n_points == 0) {
        r->form.decimal = ',';
        note_form(r, "with decimal commas");
    } else if (!r->form.decimal && v->n_commas == 0 && (v->n_points > 0 || r->form.separator == ',')) {
        r->form.decimal = '.';
    }
    if (r->form.dates == DAY_ORDER_UNKNOWN && (v->n_dmy > 0) != (v->n_mdy > 0)) {
        r->form.dates = v->n_dmy > 0 ? DAY_ORDER_DMY : DAY_ORDER_MDY;
        note_form(r, v->n_dmy > 0 ? "with the day before the month" : "with the month before the day");
    }
}

void form_recognise(struct file_reading *r, const struct reg *reg)
{
    struct evidence v = {.r = r, .reg = reg, .in_head = true};
    struct csv_parser parser;
    find_separator(r);
    if ((r->form.decimal && r->form.dates) || !worth_a_look(r)) {
        r->form.decimal = r->form.decimal ? r->form.decimal : '.';
        return;
    }
    if (csv_init(&parser, 0) != 0) {
        reading_end_memory(r);
        return;
    }
    csv_set_delim(&parser, (unsigned char)r->form.separator);
    size_t first = form_first_line(r);
    bool read = true;
    for (size_t at = first, n = 0; read && at < r->len; at += n) {
        const char *bytes = bytes_at(r, at, &n);
        read = bytes && csv_parse(&parser, bytes, n, evidence_cell, evidence_row, &v) == n;
    }
    if (read)
        csv_fini(&parser, evidence_cell, evidence_row, &v);
    if (csv_error(&parser) == CSV_ENOMEM)
        reading_end_memory(r);
    csv_free(&parser);
    judge(r, &v);
}

/* ---- cells ------------------------------------------------------------------------------------------------------- */

static bool asks(const char *text, const char *expected, struct err *e)
{
    char quoted[EXCERPT_TEXT];
    return err_of_value(e, ERR_INPUT, "is \"%s\"; expected %s", text_excerpt(text, quoted), expected);
}

static bool plain_number(const struct csv_form *form, const char *text, struct arena *a, const char **plain,
                         struct err *e)
{
    char mark = mark_of(text);
    size_t n_commas = 0, n_points = 0;
    for (const char *s = text; *s; s++) {
        n_commas += *s == ',';
        n_points += *s == '.';
    }
    if (n_commas + n_points == 0 || !strpbrk(text, "0123456789"))
        return true;
    if (mark == '?' && !form->decimal)
        return asks(text, "it to be clear whether this parts thousands: --decimal comma or --decimal point says so", e);
    if (form->decimal == ',' && n_points > 0)
        return asks(
            text, "a decimal comma, as elsewhere in the file, and nothing between thousands (else --decimal point)", e);
    if (n_commas > 0 && n_points > 0)
        return asks(text, "nothing between thousands: 1200.5 or, with --decimal comma, 1200,5", e);
    if (form->decimal == '.' && mark == '?' && n_commas > 0)
        return asks(text, "nothing between thousands, such as 1200 (a decimal comma: --decimal comma)", e);
    if (form->decimal != ',' || n_commas != 1)
        return true; /* cell_read says what is wrong, if anything is */
    char *own = arena_text(a, text);
    if (!own)
        return err_memory(e);
    *strchr(own, ',') = '.';
    *plain = own;
    return true;
}

static bool between_digits(const char *text, const char *mark)
{
    return mark > text && isdigit((unsigned char)mark[-1]) && isdigit((unsigned char)mark[1]);
}

bool form_plain_label(const struct csv_form *form, const char *text, struct arena *a, const char **plain, struct err *e)
{
    size_t n_commas = 0, n_points = 0;
    *plain = text;
    for (const char *s = text; *s; s++) {
        n_commas += *s == ',' && between_digits(text, s);
        n_points += *s == '.' && between_digits(text, s);
    }
    if (text[strspn(text, "0123456789.,+-")] == '\0')
        return plain_number(form, text, a, plain, e);
    if (form->decimal != ',' || n_commas + n_points == 0)
        return true;
    if (n_points > 0)
        return asks(text, "a decimal comma, as elsewhere in the file (else --decimal point)", e);
    char *own = arena_text(a, text);
    if (!own)
        return err_memory(e);
    for (char *s = own; *s; s++)
        if (*s == ',' && between_digits(own, s))
            *s = '.';
    *plain = own;
    return true;
}

static bool two_days(const char *text, const char *one, const char *other, struct err *e)
{
    char quoted[EXCERPT_TEXT];
    return err_of_value(
        e, ERR_INPUT,
        "is \"%s\", which may be %s or %s; expected YYYY-MM-DD, or --dates dmy or --dates mdy to say which",
        text_excerpt(text, quoted), one, other);
}

static bool plain_day(const struct csv_form *form, const char *text, struct arena *a, const char **plain, struct err *e)
{
    char one[DAY_TEXT], another[DAY_TEXT];
    int day, other;
    enum day_reading reading = day_read(text, form->dates, &day, &other);
    if (reading == DAY_UNREAD)
        return true;
    day_format(day, one);
    if (reading == DAY_AMBIGUOUS) {
        day_format(other, another);
        return two_days(text, one, another, e);
    }
    *plain = arena_text(a, one);
    return *plain || err_memory(e);
}

static bool plain_moment(const struct csv_form *form, const char *text, struct arena *a, const char **plain,
                         struct err *e)
{
    char one[MOMENT_TEXT], another[MOMENT_TEXT];
    long moment, other;
    enum day_reading reading = moment_read(text, form->dates, &moment, &other);
    if (reading == DAY_UNREAD)
        return true;
    moment_format(moment, one);
    if (reading == DAY_AMBIGUOUS) {
        moment_format(other, another);
        return two_days(text, one, another, e);
    }
    *plain = arena_text(a, one);
    return *plain || err_memory(e);
}

static bool plain_clock(const char *text, struct arena *a, const char **plain, struct err *e)
{
    int minute;
    if (!clock_read(text, &minute))
        return true;
    *plain = arena_format(a, "%02d:%02d", minute / 60, minute % 60);
    return *plain || err_memory(e);
}

bool form_plain(const struct csv_form *form, const struct field *f, const char *text, struct arena *a,
                const char **plain, struct err *e)
{
    *plain = text;
    switch (f->type) {
    case FIELD_NUMBER:
    case FIELD_COUNT: return plain_number(form, text, a, plain, e);
    case FIELD_DAY: return plain_day(form, text, a, plain, e);
    case FIELD_MOMENT: return plain_moment(form, text, a, plain, e);
    case FIELD_CLOCK: return plain_clock(text, a, plain, e);
    default: return true;
    }
}

/* ---- headings ---------------------------------------------------------------------------------------------------- */

enum { HEADING_ROOM = 80 };

/* Letters and digits alone, small: "Net volume (US gal)" and net_volume_usgal are the same. false: too long for any. */
static bool squeezed(const char *s, char out[HEADING_ROOM])
{
    size_t n = 0;
    for (; *s && n < HEADING_ROOM - 8; s++)
        if (isalnum((unsigned char)*s))
            out[n++] = (char)tolower((unsigned char)*s);
        else if (*s == '%')
            n += (size_t)snprintf(out + n, HEADING_ROOM - n, "percent");
    out[n] = '\0';
    return *s == '\0';
}

static struct heading column_squeezed(const struct reg *reg, const char *heading)
{
    char wanted[HEADING_ROOM], own[HEADING_ROOM];
    struct arena scratch = {0};
    struct heading col = {.field = SIZE_MAX};
    if (!squeezed(heading, wanted) || !*wanted)
        return col;
    for (size_t i = 0; i < reg->n_fields && col.field == SIZE_MAX; i++)
        if (squeezed(reg->fields[i].name, own) && strcmp(own, wanted) == 0)
            col.field = i;
    size_t n_units;
    const struct exchange_unit *units = exchange_units(&n_units);
    for (size_t i = 0; i < reg->n_fields && col.field == SIZE_MAX; i++)
        for (size_t u = 0; u < n_units && col.field == SIZE_MAX; u++) {
            const char *name = column_name(&reg->fields[i], &units[u], &scratch);
            if (name && squeezed(name, own) && strcmp(own, wanted) == 0)
                col = (struct heading){.field = i, .unit = &units[u]};
        }
    arena_free(&scratch);
    return col;
}

/* "Protein", and "Protein %": the word, in any case, with the sign that all its cells would have. */
static void label_heading(const struct reg *reg, const char *heading, struct heading *col)
{
    char wanted[HEADING_ROOM];
    if (!squeezed(heading, wanted))
        return;
    for (int i = 0; i < N_LABEL_WORDS; i++) {
        const char *name = label_name((enum label_word)i);
        size_t n = strlen(name), field = label_field(reg, (enum label_word)i);
        if (field != SIZE_MAX && strncmp(wanted, name, n) == 0 && (!wanted[n] || strcmp(wanted + n, "percent") == 0))
            *col = (struct heading){.field = field, .printed = true, .label = (enum label_word)i};
    }
}

struct heading heading_find(const struct csv_form *form, const struct reg *reg, const char *heading, size_t hint,
                            bool *left_out)
{
    *left_out = false;
    for (size_t i = 0; i < form->n_aliases; i++)
        if (strcmp(form->aliases[i].own, heading) == 0) {
            heading = form->aliases[i].field;
            *left_out = *heading == '\0';
        }
    struct heading col = column_find(reg, heading, hint);
    if (col.field == SIZE_MAX || col.unit)
        label_heading(reg, heading, &col);
    return col.field == SIZE_MAX ? column_squeezed(reg, heading) : col;
}
