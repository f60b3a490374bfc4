/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The documents that json_dump makes and json_read takes, as a JSON Schema written from the field table. */
#include "exchange/exchange_internal.h"

/* "null" too, where the field may be empty. */
static void add_type(const struct field *f, const char *type, struct text *out)
{
    bool needed = (f->flags & FIELD_REQUIRED) != 0;
    text_addf(out, needed ? "\"type\": \"%s\"" : "\"type\": [\"%s\", \"null\"]", type);
}

static void add_choices(const struct field *f, struct text *out)
{
    bool needed = (f->flags & FIELD_REQUIRED) != 0;
    text_add(out, "\"enum\": [");
    for (size_t i = 0; f->choices[i]; i++) {
        text_add(out, i == 0 ? "" : ", ");
        text_add_json(out, f->choices[i]);
    }
    text_add(out, needed ? "]" : ", null]");
}

static void add_limits(const struct field *f, struct text *out)
{
    char low[32], high[32];
    if (f->min == 0 && f->max == 0)
        return;
    number_format(f->min, low);
    number_format(f->max, high);
    text_addf(out, ", \"minimum\": %s, \"maximum\": %s", low, high);
}

static void add_value(const struct field *f, struct text *out)
{
    switch (f->type) {
    case FIELD_TEXT:
    case FIELD_NAME:
    case FIELD_REF: add_type(f, "string", out); break;
    case FIELD_NUMBER: add_type(f, "number", out); break;
    case FIELD_COUNT: add_type(f, "integer", out); break;
    case FIELD_FLAG: add_type(f, "boolean", out); break;
    case FIELD_CHOICE: add_choices(f, out); break;
    case FIELD_DAY:
        add_type(f, "string", out);
        text_add(out, ", \"pattern\": \"^[0-9]{4}-[0-9]{2}-[0-9]{2}$\"");
        break;
    case FIELD_MOMENT:
        add_type(f, "string", out);
        text_add(out, ", \"pattern\": \"^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}$\"");
        break;
    case FIELD_CLOCK:
        add_type(f, "string", out);
        text_add(out, ", \"pattern\": \"^[0-9]{2}:[0-9]{2}$\"");
        break;
    }
    if (f->type == FIELD_NUMBER || f->type == FIELD_COUNT)
        add_limits(f, out);
}

static void add_field(const struct field *f, struct text *out)
{
    text_add_json(out, f->name);
    text_add(out, ": {");
    add_value(f, out);
    text_add(out, ", \"description\": ");
    text_add_json(out, f->help);
    text_add(out, "}");
}

/* The field with another unit at its end, which load takes and dump never writes. */
static void add_other_units(const struct field *f, struct arena *a, struct text *out)
{
    size_t n;
    const struct exchange_unit *units = exchange_units(&n);
    for (size_t u = 0; u < n; u++) {
        const char *name = column_name(f, &units[u], a);
        if (!name)
            continue;
        text_add(out, ",\n      ");
        text_add_json(out, name);
        text_add(out, ": {");
        add_type(f, "number", out);
        text_addf(out, ", \"description\": \"load only: %s in another unit\"}", f->name);
    }
}

static void add_register(const struct reg *r, struct arena *a, struct text *out)
{
    bool first = true;
    text_add(out, "    ");
    text_add_json(out, r->name);
    text_add(out, ": {\"type\": \"array\", \"description\": ");
    text_add_json(out, r->title);
    text_add(out, ", \"items\": {\"type\": \"object\", \"properties\": {\n      ");
    for (size_t i = 0; i < r->n_fields; i++) {
        text_add(out, i == 0 ? "" : ",\n      ");
        add_field(&r->fields[i], out);
        add_other_units(&r->fields[i], a, out);
    }
    text_add(out, "\n    }, \"required\": [");
    for (size_t i = 0; i < r->n_fields; i++)
        if (field_is_key(&r->fields[i]) && (r->fields[i].flags & FIELD_REQUIRED)) {
            text_add(out, first ? "" : ", ");
            text_add_json(out, r->fields[i].name);
            first = false;
        }
    text_add(out, "], \"additionalProperties\": false}}");
}

void json_schema_text(struct text *out)
{
    struct arena a = {0};
    text_addf(out,
              "{\n  \"$schema\": \"https://json-schema.org/draft/2020-12/schema\",\n"
              "  \"title\": \"Registers of neap: what dump and list print and load takes\",\n"
              "  \"type\": \"object\",\n  \"properties\": {\n"
              "    \"schema\": {\"const\": %d}",
              JSON_SCHEMA);
    for (size_t i = 0; i < N_REGS; i++) {
        text_add(out, ",\n");
        add_register(reg_get((enum reg_id)i), &a, out);
    }
    text_add(out, "\n  },\n  \"required\": [\"schema\"],\n  \"additionalProperties\": false\n}\n");
    arena_free(&a);
}
