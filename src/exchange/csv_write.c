/* CSV out. */
#include "exchange/exchange_internal.h"

#include <csv.h>

/* Quotes where RFC 4180 asks for them, and around blanks at an end, which a reader may drop. */
static bool needs_quotes(const char *s)
{
    size_t n = strlen(s);
    return s[strcspn(s, ",\"\r\n")] != '\0' || (n > 0 && (s[0] == ' ' || s[n - 1] == ' '));
}

void csv_write_cell(const char *s, struct text *out)
{
    if (!needs_quotes(s)) {
        text_add(out, s);
        return;
    }
    size_t room = csv_write(NULL, 0, s, strlen(s)), begin = out->len;
    text_add_char(out, '"', room); /* makes room, then is overwritten */
    if (!out->failed)
        csv_write(out->s + begin, room, s, strlen(s));
}

bool looks_like_formula(const char *text)
{
    const char *first = text + strspn(text, "' ");
    return *first != '\0' && strchr("=+-@", *first) != NULL;
}

void csv_write_head(const struct reg *r, struct text *out)
{
    for (size_t i = 0; i < r->n_fields; i++) {
        text_add(out, i == 0 ? "" : ",");
        csv_write_cell(r->fields[i].name, out);
    }
    text_add(out, "\n");
}

void csv_write_row(const struct reg *r, const struct cell *cells, struct text *out)
{
    struct text value = {0};
    for (size_t i = 0; i < r->n_fields; i++) {
        value.len = 0;
        if (value.s)
            value.s[0] = '\0';
        if (r->fields[i].type == FIELD_TEXT && cells[i].kind == CELL_TEXT && looks_like_formula(cells[i].text))
            text_add(&value, "'");
        cell_format(&r->fields[i], &cells[i], &value);
        text_add(out, i == 0 ? "" : ",");
        csv_write_cell(text_str(&value), out);
    }
    text_add(out, "\n");
    out->failed = out->failed || value.failed;
    text_free(&value);
}
