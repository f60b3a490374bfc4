/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the readers of CSV and JSON share: faults, headings with their units, and rows on their way to the sink. */
#include "exchange/exchange_internal.h"

#include "neap/calc.h"

/* ---- units at the end of a heading ------------------------------------------------------------------------------ */

static double tenth(double v)
{
    return v / 10;
}

static double hundredth(double v)
{
    return v / 100;
}

static double thousandth(double v)
{
    return v / 1000;
}

static double hundredfold(double v)
{
    return v * 100;
}

static double thousandfold(double v)
{
    return v * 1000;
}

static double cm_from_feet(double v)
{
    return cm_from_inches(v * 12);
}

static double m_from_feet(double v)
{
    return cm_from_inches(v * 12) / 100;
}

static const struct exchange_unit units[] = {
    {"_usgal", "_l", litres_from_us_gal},
    {"_impgal", "_l", litres_from_imp_gal},
    {"_ft3", "_l", litres_from_cubic_feet},
    {"_ml", "_l", thousandth},
    {"_in", "_cm", cm_from_inches},
    {"_ft", "_cm", cm_from_feet},
    {"_mm", "_cm", tenth},
    {"_m", "_cm", hundredfold},
    {"_ft", "_m", m_from_feet},
    {"_cm", "_m", hundredth},
    {"_mm", "_um", thousandfold},
    {"_usfloz", "_ml", ml_from_us_fl_oz},
    {"_ustsp", "_ml", ml_from_us_tsp},
    {"_l", "_ml", thousandfold},
    {"_oz", "_g", g_from_oz},
    {"_lb", "_g", g_from_lb},
    {"_mg", "_g", thousandth},
    {"_kg", "_g", thousandfold},
    {"_percent", "_frac", hundredth},
    {"", "_cents", hundredfold}, /* a price as money */
};

const struct exchange_unit *exchange_units(size_t *n)
{
    *n = COUNT_OF(units);
    return units;
}

/* A rate or a concentration ends like a volume and is none. */
static bool takes_units(const struct field *f)
{
    return (f->type == FIELD_NUMBER && !strstr(f->name, "_per_") && !text_ends_in(f->name, "_mg_l")) ||
           text_ends_in(f->name, "_cents");
}

bool exchange_unit_fits(const struct exchange_unit *u, const struct field *f)
{
    return takes_units(f) && text_ends_in(f->name, u->base);
}

const char *column_name(const struct field *f, const struct exchange_unit *u, struct arena *a)
{
    if (!exchange_unit_fits(u, f))
        return NULL;
    return arena_format(a, "%.*s%s", (int)(strlen(f->name) - strlen(u->base)), f->name, u->suffix);
}

static bool named_with_unit(const struct field *f, const struct exchange_unit *u, const char *name)
{
    size_t stem = strlen(f->name) - strlen(u->base);
    return exchange_unit_fits(u, f) && strncmp(f->name, name, stem) == 0 && strcmp(name + stem, u->suffix) == 0;
}

struct heading column_find(const struct reg *reg, const char *name, size_t hint)
{
    struct heading col = {.field = SIZE_MAX};
    if (hint < reg->n_fields && strcmp(reg->fields[hint].name, name) == 0)
        col.field = hint;
    else
        col.field = reg_field(reg, name);
    for (size_t u = 0; col.field == SIZE_MAX && u < COUNT_OF(units); u++)
        for (size_t i = 0; text_ends_in(name, units[u].suffix) && i < reg->n_fields; i++)
            if (named_with_unit(&reg->fields[i], &units[u], name))
                col = (struct heading){.field = i, .unit = &units[u]};
    return col;
}

/* ---- faults ----------------------------------------------------------------------------------------------------- */

struct place cursor_place(const struct file_reading *r, const struct cursor *c)
{
    return (struct place){r->file, c->line, c->column};
}

void cursor_step(struct file_reading *r, struct cursor *c)
{
    unsigned char byte = (unsigned char)byte_at(r, c->at);
    c->at++;
    if (byte == '\n' || (byte == '\r' && !(c->at < r->len && byte_at(r, c->at) == '\n'))) {
        c->line++;
        c->column = 1;
    } else if ((byte & 0xC0) != 0x80) {
        c->column++;
    }
}

void reading_end_memory(struct file_reading *r)
{
    r->ended = true;
    err_memory(r->e);
}

void fault_add(struct file_reading *r, struct place at, const char *fmt, ...)
{
    char what[sizeof r->e->text];
    struct err line;
    r->row_faulty = true;
    if (r->faults->n++ >= FAULTS_SHOWN_MAX)
        return;
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(what, sizeof what, fmt, ap);
    va_end(ap);
    err_set(&line, ERR_INPUT, &at, "%s", what);
    text_add(&r->faults->lines, line.text);
    text_add(&r->faults->lines, "\n");
    if (r->faults->lines.failed)
        reading_end_memory(r);
}

void faults_free(struct faults *f)
{
    text_free(&f->lines);
    text_free(&f->notes);
    f->n = 0;
}

/*
 * A heading that lacks its unit ("length"), else one that is mistyped ("lenght_cm", "net_volume_usgla"). Arena's or
 * static.
 */
static const char *column_nearest(const struct reg *reg, const char *name, struct arena *a)
{
    const char *candidates[FIELDS_MAX * 4 + N_LABEL_WORDS];
    size_t n = 0, len = strlen(name);
    for (size_t i = 0; i < reg->n_fields; i++) {
        const char *field = reg->fields[i].name;
        if (len > 2 && strncmp(field, name, len) == 0 && field[len] == '_')
            return field;
        candidates[n++] = field;
    }
    for (int i = 0; i < N_LABEL_WORDS; i++)
        if (label_field(reg, (enum label_word)i) != SIZE_MAX)
            candidates[n++] = label_name((enum label_word)i);
    for (size_t i = 0; i < reg->n_fields; i++)
        for (size_t u = 0; u < COUNT_OF(units) && n < COUNT_OF(candidates); u++) {
            const char *made = column_name(&reg->fields[i], &units[u], a);
            if (made)
                candidates[n++] = made;
        }
    return name_nearest(name, candidates, n);
}

void fault_add_unknown_column(struct file_reading *r, struct place at, const struct reg *reg, const char *name,
                              const char *what)
{
    char quoted[EXCERPT_TEXT];
    struct arena scratch = {0};
    struct text list = {0};
    const char *near_by = column_nearest(reg, name, &scratch);
    text_excerpt(name, quoted);
    if (near_by) {
        fault_add(r, at, "\"%s\" is no %s of %s; did you mean \"%s\"?", quoted, what, reg->name, near_by);
    } else if (r->fields_listed) {
        fault_add(r, at, "\"%s\" is no %s of %s; expected one of those named above", quoted, what, reg->name);
    } else {
        r->fields_listed = true;
        for (size_t i = 0; i < reg->n_fields; i++)
            text_addf(&list, "%s%s", i == 0 ? "" : ", ", reg->fields[i].name);
        fault_add(r, at, "\"%s\" is no %s of %s; expected some of %s", quoted, what, reg->name, text_str(&list));
    }
    text_free(&list);
    arena_free(&scratch);
}

/* ---- rows ------------------------------------------------------------------------------------------------------- */

void row_begin(struct file_reading *r, const struct reg *reg, struct place at)
{
    enum { ROWS_PER_ARENA = 128 }; /* freeing it for each row would cost more than reading the row */
    if (r->rows_in_arena++ >= ROWS_PER_ARENA) {
        arena_free(&r->arena);
        r->rows_in_arena = 1;
    }
    ++*r->n_rows;
    r->row_faulty = false;
    r->row.reg = reg;
    r->row.at = at;
    r->row.label = (struct food_label){0};
    for (size_t i = 0; i < reg->n_fields; i++) {
        r->row.cells[i] = (struct cell){0};
        r->row.present[i] = false;
        r->row.places[i] = at;
    }
}

/* The limits are those of the field's own unit, so they are judged after the conversion. */
static bool cell_convert(const struct field *f, const struct exchange_unit *u, const char *text, struct arena *a,
                         struct cell *c, struct err *e)
{
    struct field unlimited = *f;
    char quoted[EXCERPT_TEXT];
    unlimited.type = FIELD_NUMBER; /* cents are counted, the price is not */
    unlimited.min = unlimited.max = 0;
    if (!cell_parse(&unlimited, text, a, c, e))
        return cell_read(f, text, a, c, e); /* "8 %" under a percentage: the unit behind it holds */
    if (c->kind == CELL_EMPTY)
        return true;
    double value = number_without_dust(u->to_base(c->number));
    if (!isfinite(value))
        return err_of_value(e, ERR_INPUT, "is %s; expected a smaller number", text_excerpt(text, quoted));
    return cell_converted(f, value, text, a, c, e);
}

/*
 * The cell's day or moment, later_d days on. A day that then is no day of the calendar is refused as it would be typed.
 */
static bool cell_later(struct file_reading *r, const struct field *f, struct cell *c, struct err *why)
{
    char later[MOMENT_TEXT];
    int day = DAY_NONE;
    long moment = MOMENT_NONE;
    if (r->later_d == 0 || c->kind != CELL_TEXT)
        return true;
    if (f->type == FIELD_DAY && day_parse(c->text, &day))
        day_format(day + r->later_d, later);
    else if (f->type == FIELD_MOMENT && moment_parse(c->text, &moment))
        moment_format(moment + (long)r->later_d * 24 * 60, later);
    else
        return true;
    return cell_parse(f, later, &r->arena, c, why);
}

void row_take(struct file_reading *r, const struct heading *col, struct place at, const char *name, const char *text)
{
    const struct field *f = &r->row.reg->fields[col->field];
    struct cell *c = &r->row.cells[col->field];
    struct err why;
    const unsigned needed = FIELD_KEY | FIELD_REQUIRED;
    r->row.present[col->field] = true;
    r->row.places[col->field] = at;
    bool ok = col->unit ? cell_convert(f, col->unit, text, &r->arena, c, &why) : cell_read(f, text, &r->arena, c, &why);
    ok = ok && cell_later(r, f, c, &why);
    if (!ok && why.code != ERR_INPUT) {
        r->ended = true;
        *r->e = why;
    } else if (!ok) {
        fault_add(r, at, why.of_value ? "%s %s" : "%s: %s", name, why.text);
    } else if (c->kind == CELL_EMPTY && (f->flags & needed) == needed) {
        fault_add(r, at, "%s is empty; expected %s", name, f->help);
    }
}

/* An empty cell is an empty field; else the text stays where it is until the row is over. */
void row_take_label(struct file_reading *r, enum label_word word, struct place at, const char *text)
{
    size_t field = label_field(r->row.reg, word);
    r->row.places[field] = at;
    r->row.present[field] = *text == '\0';
    r->row.label.typed[word] = *text ? text : NULL;
}

static void row_put(struct file_reading *r)
{
    size_t field = SIZE_MAX;
    struct err why = {0};
    if (r->sink->put(r->sink->context, &r->row, &field, &why))
        return;
    r->row_faulty = true;
    if (why.code == ERR_NONE)
        return;
    if (why.code != ERR_INPUT && why.code != ERR_NOT_FOUND) {
        r->ended = true;
        *r->e = why;
        return;
    }
    bool known = field < r->row.reg->n_fields;
    bool named = known && why.of_value;
    fault_add(r, known ? r->row.places[field] : r->row.at, "%s%s%s", named ? r->row.reg->fields[field].name : "",
              named ? " " : "", why.text);
}

/* Files written before the field was there say it at the head of the note. */
static void row_take_doubt(struct file_reading *r)
{
    static const char *const said[] = {[DOUBT_FLAGGED] = "flagged", [DOUBT_CONFIRMED] = "confirmed"};
    size_t doubt = reg_field(r->row.reg, "doubt"), note = reg_field(r->row.reg, "note");
    if (doubt == SIZE_MAX || r->row.present[doubt] || r->row.cells[note].kind != CELL_TEXT)
        return;
    enum doubt d = doubt_in_note(r->row.cells[note].text);
    if (d == DOUBT_NONE)
        return;
    r->row.present[doubt] = true;
    r->row.cells[doubt] = (struct cell){.kind = CELL_TEXT, .text = said[d]};
}

void row_end(struct file_reading *r)
{
    row_take_doubt(r);
    if (!r->ended && !r->row_faulty)
        row_put(r);
    if (!r->ended && r->row_faulty && r->sink->refused && !r->sink->refused(r->sink->context, &r->row, r->e))
        r->ended = true;
}

void note_form(struct file_reading *r, const char *what)
{
    text_addf(&r->note, "%s%s", r->note.len > 0 ? ", " : "", what);
}

const char *register_nearest(const char *name)
{
    const char *names[N_REGS];
    for (size_t i = 0; i < N_REGS; i++)
        names[i] = reg_get((enum reg_id)i)->name;
    return name_nearest(name, names, N_REGS);
}
