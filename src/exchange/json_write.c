/* SPDX-License-Identifier: GPL-3.0-or-later */
/* JSON out: one row at a time becomes a cJSON object and then text, so that a dump needs no tree of the whole store. */
#include "exchange/exchange_internal.h"

#include <cjson/cJSON.h>

struct json_dump {
    struct text text;      /* without its end */
    const struct reg *reg; /* of the open array; NULL: none yet */
    bool seen[N_REGS];
};

struct json_dump *json_dump_new(struct err *e)
{
    struct json_dump *d = calloc(1, sizeof *d);
    if (d)
        text_addf(&d->text, "{\n\"schema\": %d", JSON_SCHEMA);
    if (d && !d->text.failed)
        return d;
    json_dump_free(d);
    err_memory(e);
    return NULL;
}

void json_dump_free(struct json_dump *d)
{
    if (!d)
        return;
    text_free(&d->text);
    free(d);
}

/* Numbers go in as text: cJSON's own 15 or 17 digits are not the shortest that read back the same. */
static cJSON *value_of(const struct field *f, const struct cell *c)
{
    char number[32];
    switch (c->kind) {
    case CELL_EMPTY: return cJSON_CreateNull();
    case CELL_TEXT: return cJSON_CreateString(c->text);
    case CELL_NUMBER: number_format(c->number, number); return cJSON_CreateRaw(number);
    case CELL_WHOLE:
        if (f->type == FIELD_FLAG)
            return cJSON_CreateBool(c->whole != 0);
        snprintf(number, sizeof number, "%ld", c->whole);
        return cJSON_CreateRaw(number);
    }
    return NULL;
}

static cJSON *object_of(const struct reg *r, const struct cell *cells)
{
    cJSON *object = cJSON_CreateObject();
    for (size_t i = 0; object && i < r->n_fields; i++) {
        cJSON *value = value_of(&r->fields[i], &cells[i]);
        if (!value || !cJSON_AddItemToObjectCS(object, r->fields[i].name, value)) {
            cJSON_Delete(value);
            cJSON_Delete(object);
            return NULL;
        }
    }
    return object;
}

static bool array_open(struct json_dump *d, const struct reg *r, struct err *e)
{
    size_t id = (size_t)(r - reg_get((enum reg_id)0));
    if (d->seen[id])
        return err_set(e, ERR_MISUSE, NULL, "rows of %s come in two groups; expected them in one", r->name);
    d->seen[id] = true;
    text_addf(&d->text, "%s,\n\"%s\": [\n", d->reg ? "\n]" : "", r->name);
    d->reg = r;
    return true;
}

bool json_dump_row(struct json_dump *d, const struct reg *r, const struct cell *cells, struct err *e)
{
    if (d->reg == r)
        text_add(&d->text, ",\n");
    else if (!array_open(d, r, e))
        return false;
    cJSON *object = object_of(r, cells);
    char *line = object ? cJSON_PrintUnformatted(object) : NULL;
    if (line)
        text_add(&d->text, line);
    bool ok = line && !d->text.failed;
    cJSON_free(line);
    cJSON_Delete(object);
    return ok ? true : err_memory(e);
}

bool json_dump_text(const struct json_dump *d, struct text *out, struct err *e)
{
    text_add_n(out, d->text.s, d->text.len);
    text_add(out, d->reg ? "\n]\n}\n" : "\n}\n");
    return out->failed ? err_memory(e) : true;
}
