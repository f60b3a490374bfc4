/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From rows of the store to structs: texts kept, references found. */
#include "internal.h"

/* References are resolved by name: the registers they point into were read before (the order of enum reg_id). */
static bool resolve(const struct reg *r, const struct facility *f, const struct cell *cells, void *row, struct err *e)
{
    for (size_t i = 0; i < r->n_fields; i++) {
        if (r->fields[i].type != FIELD_REF || cells[i].kind == CELL_EMPTY)
            continue;
        size_t *member = (size_t *)(void *)((char *)row + r->fields[i].offset);
        *member = facility_find(f, r->fields[i].ref, cells[i].text);
        if (*member == REF_NONE)
            return err_set(e, ERR_STORE, NULL, "the store is damaged: a %s points to \"%s\", which is not there",
                           r->name, cells[i].text);
    }
    return true;
}

void store_row_fault(const struct reg *r, const struct cell *cells, size_t field, const struct err *why,
                     struct text *out)
{
    text_add(out, r->name);
    for (size_t i = 0; i < r->n_fields && field_is_key(&r->fields[i]); i++) {
        text_add(out, " ");
        cell_format(&r->fields[i], &cells[i], out);
    }
    text_addf(out, ": %s%s%s", why->of_value ? r->fields[field].name : "", why->of_value ? " " : "", why->text);
}

static bool keep_texts(const struct reg *r, struct cell *cells, struct arena *a, struct err *e)
{
    for (size_t i = 0; i < r->n_fields; i++)
        if (cells[i].kind == CELL_TEXT && (r->fields[i].type == FIELD_TEXT || r->fields[i].type == FIELD_NAME)) {
            cells[i].text = arena_text(a, cells[i].text);
            if (!cells[i].text)
                return err_memory(e);
        }
    return true;
}

bool store_fill(const struct reg *r, const struct facility *f, struct arena *a, const struct cell *from, void *row,
                struct err *e)
{
    struct cell cells[FIELDS_MAX];
    size_t field = 0;
    struct text fault = {0};
    struct err why;
    memcpy(cells, from, r->n_fields * sizeof *cells);
    if (!keep_texts(r, cells, a, e))
        return false;
    if (row_fill(r, cells, row, &field, &why))
        return resolve(r, f, cells, row, e);
    if (why.code == ERR_MEMORY)
        return err_memory(e);
    store_row_fault(r, cells, field, &why, &fault);
    err_set(e, ERR_STORE, NULL, "the store is damaged: %s", text_str(&fault));
    text_free(&fault);
    return false;
}

struct register_rows {
    const struct reg *reg;
    const struct facility *f;
    struct arena *arena;
    char *rows;
    size_t n, room;
};

static bool take_row(void *context, const struct cell *cells, struct err *e)
{
    struct register_rows *in = context;
    if (in->n == in->room)
        return err_set(e, ERR_STORE, NULL, "the store changed while it was read; try again");
    return store_fill(in->reg, in->f, in->arena, cells, in->rows + in->n++ * in->reg->row_size, e);
}

bool store_load_rows(struct store *s, const struct facility *f, enum reg_id id, const char *where, struct arena *a,
                     void *array, size_t *n, struct err *e)
{
    struct register_rows in = {.reg = reg_get(id), .f = f, .arena = a};
    long room;
    if (!store_count_where(s, in.reg, where, &room, e))
        return false;
    in.room = (size_t)room;
    in.rows = arena_alloc(a, in.room, in.reg->row_size);
    if (!in.rows)
        return err_memory(e);
    memcpy(array, &in.rows, sizeof in.rows);
    if (!store_each_where(s, in.reg, where, take_row, &in, e))
        return false;
    *n = in.n;
    return true;
}

/* ---- answers of other shapes ------------------------------------------------------------------------------------ */

void *store_list_add(struct row_list *list, size_t size, struct err *e)
{
    void *moved = mem_grow(list->rows, &list->room, list->n + 1, size);
    if (!moved)
        return err_memory(e), NULL;
    list->rows = moved;
    return (char *)moved + size * list->n++;
}

bool store_list_end(struct row_list *list, bool ok, size_t size, struct arena *a, void *array, size_t *n, struct err *e)
{
    void *rows = ok ? arena_alloc(a, list->n, size) : NULL;
    if (rows && list->n > 0)
        memcpy(rows, list->rows, list->n * size);
    memcpy(array, &rows, sizeof rows);
    *n = rows ? list->n : 0;
    free(list->rows);
    return !ok || rows ? ok : err_memory(e);
}

bool store_column_ref(const struct facility *f, enum reg_id id, sqlite3_stmt *stmt, int column, size_t *ref,
                      struct err *e)
{
    const char *key = (const char *)sqlite3_column_text(stmt, column);
    *ref = key ? facility_find(f, id, key) : REF_NONE;
    return *ref != REF_NONE ||
           err_set(e, ERR_STORE, NULL, "the store is damaged: its log points to the %s \"%s\", which is not there",
                   reg_get(id)->name, key ? key : "");
}

bool store_column_ref_or_none(const struct facility *f, enum reg_id id, sqlite3_stmt *stmt, int column, size_t *ref,
                              struct err *e)
{
    *ref = REF_NONE;
    return sqlite3_column_type(stmt, column) == SQLITE_NULL || store_column_ref(f, id, stmt, column, ref, e);
}

bool store_column_choice(enum reg_id id, const char *field, sqlite3_stmt *stmt, int column, int *choice, struct err *e)
{
    const struct field *f = &reg_get(id)->fields[reg_field(reg_get(id), field)];
    const char *name = (const char *)sqlite3_column_text(stmt, column);
    for (*choice = 0; name && f->choices[*choice]; ++*choice)
        if (strcmp(f->choices[*choice], name) == 0)
            return true;
    return err_set(e, ERR_STORE, NULL, "the store is damaged: a %s whose %s is damaged", reg_get(id)->name, field);
}

void store_column_text(sqlite3_stmt *stmt, int column, char *to, size_t room)
{
    const char *text = (const char *)sqlite3_column_text(stmt, column);
    snprintf(to, room, "%s", text ? text : "");
    utf8_cut_whole(to);
}

bool store_column_day(sqlite3_stmt *stmt, int column, int *day, struct err *e)
{
    const char *text = (const char *)sqlite3_column_text(stmt, column);
    return (text && day_parse(text, day)) ||
           err_set(e, ERR_STORE, NULL, "the store is damaged: its log has \"%s\" for a day", text ? text : "");
}
