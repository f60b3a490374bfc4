/* SPDX-License-Identifier: GPL-3.0-or-later */
/* CSV out. */
#include "exchange/exchange_internal.h"

#include <csv.h>

/* Quotes where RFC 4180 asks for them, and around blanks at an end, which a reader may drop. */
static bool needs_quotes(const char *s, char separator)
{
    size_t n = strlen(s);
    return strchr(s, separator) || s[strcspn(s, "\"\r\n")] != '\0' || (n > 0 && (s[0] == ' ' || s[n - 1] == ' '));
}

static void write_cell(const char *s, char separator, struct text *out)
{
    if (*s == '\0' || !needs_quotes(s, separator)) {
        text_add(out, s);
        return;
    }
    size_t room = csv_write(NULL, 0, s, strlen(s)), begin = out->len;
    text_add_char(out, '"', room); /* makes room, then is overwritten */
    if (!out->failed)
        csv_write(out->s + begin, room, s, strlen(s));
}

void csv_write_cell(const char *s, struct text *out)
{
    write_cell(s, ',', out);
}

bool looks_like_formula(const char *text)
{
    const char *first = text + strspn(text, "' ");
    return *first != '\0' && strchr("=+-@", *first) != NULL;
}

static char separator_of(const struct csv_form *form)
{
    return form && form->separator ? form->separator : ',';
}

void csv_write_head(const struct reg *r, const struct csv_form *form, struct text *out)
{
    for (size_t i = 0; i < r->n_fields; i++) {
        text_add_char(out, separator_of(form), i > 0);
        write_cell(r->fields[i].name, separator_of(form), out);
    }
    text_add(out, "\n");
}

/* Of a setting's value what the figure is decides. */
static bool is_number(const struct reg *r, size_t i, const struct cell *cells)
{
    if (r != reg_get(REG_SETTING) || i != 1 || cells[0].kind != CELL_TEXT)
        return r->fields[i].type == FIELD_NUMBER;
    size_t figure = reg_field(settings_reg(), cells[0].text);
    return figure != SIZE_MAX && settings_reg()->fields[figure].type == FIELD_NUMBER;
}

void csv_write_row(const struct reg *r, const struct cell *cells, const struct csv_form *form, struct text *out)
{
    struct text value = {0};
    for (size_t i = 0; i < r->n_fields; i++) {
        value.len = 0;
        if (value.s)
            value.s[0] = '\0';
        if (r->fields[i].type == FIELD_TEXT && cells[i].kind == CELL_TEXT && looks_like_formula(cells[i].text))
            text_add(&value, "'");
        cell_format(&r->fields[i], &cells[i], &value);
        char *point = form && form->decimal == ',' && is_number(r, i, cells) && value.s ? strchr(value.s, '.') : NULL;
        if (point)
            *point = ',';
        text_add_char(out, separator_of(form), i > 0);
        write_cell(text_str(&value), separator_of(form), out);
    }
    text_add(out, "\n");
    out->failed = out->failed || value.failed;
    text_free(&value);
}
