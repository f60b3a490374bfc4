/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the cells of a row to its struct: texts kept, references found. */
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
    struct err why;
    memcpy(cells, from, r->n_fields * sizeof *cells);
    if (!keep_texts(r, cells, a, e))
        return false;
    if (!row_fill(r, cells, row, &field, &why))
        return err_set(e, why.code == ERR_MEMORY ? ERR_MEMORY : ERR_STORE, NULL,
                       "the store is damaged: a %s whose %s %s", r->name, r->fields[field].name, why.text);
    return resolve(r, f, cells, row, e);
}
