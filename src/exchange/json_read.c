/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * JSON in. A light scan finds where the values of the document begin and end, which gives every one its line and
 * column; cJSON then parses each row by itself, so that one broken row hides no other and no tree of the file is built.
 */
#include "exchange/exchange_internal.h"

#include <cjson/cJSON.h>
#include <errno.h>

/* The bytes of one value, and where it begins. */
struct slice {
    struct cursor from;
    size_t to;
};

struct json_index {
    bool found[N_REGS];
    struct slice arrays[N_REGS];
    bool has_schema, newer;
};

/* ---- scanning --------------------------------------------------------------------------------------------------- */

static char byte_under(const struct file_reading *r, const struct cursor *c)
{
    return c->at < r->len ? r->bytes[c->at] : '\0'; /* there is no NUL in the text: encoding_fits saw to that */
}

static void skip_blanks(struct file_reading *r, struct cursor *c)
{
    while (is_blank(byte_under(r, c)))
        cursor_step(r, c);
}

static bool unexpected(struct file_reading *r, const struct cursor *c, const char *what)
{
    struct place at = cursor_place(r, c);
    char one[8] = {0}, quoted[EXCERPT_TEXT];
    size_t n = 0;
    do {
        one[n] = c->at + n < r->len ? r->bytes[c->at + n] : '\0';
        n++;
    } while (n < 4 && c->at + n < r->len && ((unsigned char)r->bytes[c->at + n] & 0xC0) == 0x80);
    if (c->at >= r->len)
        fault_add(r, at, "the text ends here; expected %s", what);
    else
        fault_add(r, at, "has \"%s\" here; expected %s", text_excerpt(one, quoted), what);
    return false;
}

static bool skip_byte(struct file_reading *r, struct cursor *c, char wanted, const char *what)
{
    skip_blanks(r, c);
    if (byte_under(r, c) != wanted)
        return unexpected(r, c, what);
    cursor_step(r, c);
    return true;
}

static bool skip_string(struct file_reading *r, struct cursor *c)
{
    const struct cursor begin = *c;
    if (!skip_byte(r, c, '"', "a string in double quotes"))
        return false;
    while (byte_under(r, c) != '"') {
        if (byte_under(r, c) == '\\')
            cursor_step(r, c);
        if (c->at >= r->len) {
            fault_add(r, cursor_place(r, &begin), "has a string without end; expected its closing quote");
            return false;
        }
        cursor_step(r, c);
    }
    cursor_step(r, c);
    return true;
}

static bool closes(char bracket, char open)
{
    return (open == '{' && bracket == '}') || (open == '[' && bracket == ']');
}

static bool skip_nested(struct file_reading *r, struct cursor *c)
{
    char open[EXCHANGE_NESTING_MAX] = {byte_under(r, c)};
    size_t depth = 1;
    cursor_step(r, c);
    while (depth > 0) {
        char byte = byte_under(r, c);
        if (byte == '{' || byte == '[') {
            if (depth == COUNT_OF(open)) {
                fault_add(r, cursor_place(r, c), "is nested more than %d deep; expected rows of plain values",
                          EXCHANGE_NESTING_MAX);
                return false;
            }
            open[depth++] = byte;
        } else if (byte == '}' || byte == ']') {
            if (!closes(byte, open[depth - 1]))
                return unexpected(r, c, open[depth - 1] == '{' ? "}" : "]");
            depth--;
        } else if (byte == '"') {
            if (!skip_string(r, c))
                return false;
            continue;
        } else if (byte == '\0') {
            return unexpected(r, c, open[depth - 1] == '{' ? "}" : "]");
        }
        cursor_step(r, c);
    }
    return true;
}

/* Finds the end of the value at c, whatever it is. Of brackets and quotes it makes sure, of nothing else. */
static bool skip_value(struct file_reading *r, struct cursor *c, struct slice *value)
{
    skip_blanks(r, c);
    value->from = *c;
    char first = byte_under(r, c);
    bool ok = true;
    if (first == '{' || first == '[')
        ok = skip_nested(r, c);
    else if (first == '"')
        ok = skip_string(r, c);
    else
        while (byte_under(r, c) != '\0' && !strchr(" \t\r\n,]}\"[{:", byte_under(r, c)))
            cursor_step(r, c);
    value->to = c->at;
    return ok && (value->to > value->from.at || unexpected(r, c, "a value"));
}

static bool has_escaped_nul(const struct file_reading *r, const struct slice *value)
{
    for (size_t i = value->from.at; i + 6 < value->to; i++) {
        if (r->bytes[i] != '\\')
            continue;
        if (strncmp(r->bytes + i, "\\u0000", 6) == 0)
            return true;
        i++;
    }
    return false;
}

/* The value, all of it, or a fault. Caller frees with cJSON_Delete. */
static cJSON *parse_slice(struct file_reading *r, const struct slice *value)
{
    const char *begin = r->bytes + value->from.at, *end = begin;
    if (has_escaped_nul(r, value)) {
        fault_add(r, cursor_place(r, &value->from), "has a NUL character (\\u0000); expected printable text");
        return NULL;
    }
    errno = 0; /* cJSON does not tell a syntax error from want of memory; malloc does */
    cJSON *parsed = cJSON_ParseWithLengthOpts(begin, value->to - value->from.at, &end, false);
    size_t stopped = end ? (size_t)(end - r->bytes) : value->from.at;
    if (parsed && stopped == value->to)
        return parsed;
    if (!parsed && errno == ENOMEM) {
        reading_end_memory(r);
        return NULL;
    }
    cJSON_Delete(parsed);
    struct cursor at = value->from;
    while (at.at < stopped && at.at < value->to)
        cursor_step(r, &at);
    unexpected(r, &at,
               "JSON: a value is a string in double quotes, a number, true, false or null, and commas stand "
               "between");
    return NULL;
}

/* Past the comma before the next member or element: true; at the closing bracket: false, and past it. */
static bool more_follow(struct file_reading *r, struct cursor *c, bool first, char close, bool *ok)
{
    skip_blanks(r, c);
    if (byte_under(r, c) == close) {
        cursor_step(r, c);
        return false;
    }
    if (first)
        return true;
    *ok = skip_byte(r, c, ',', close == '}' ? "a comma or }" : "a comma or ]");
    return *ok;
}

/* ---- rows ------------------------------------------------------------------------------------------------------- */

static const char *type_name(const cJSON *v)
{
    return cJSON_IsString(v)   ? "a string"
           : cJSON_IsNumber(v) ? "a number"
           : cJSON_IsBool(v)   ? "true or false"
           : cJSON_IsArray(v)  ? "a list"
           : cJSON_IsObject(v) ? "an object"
                               : "null";
}

static const char *type_expected(enum field_type type)
{
    switch (type) {
    case FIELD_NUMBER:
    case FIELD_COUNT: return "a number, without quotes";
    case FIELD_FLAG: return "true or false";
    default: return "a string, in double quotes";
    }
}

static bool type_fits(enum field_type type, const cJSON *v)
{
    switch (type) {
    case FIELD_NUMBER:
    case FIELD_COUNT: return cJSON_IsNumber(v) || cJSON_IsNull(v);
    case FIELD_FLAG: return cJSON_IsBool(v) || cJSON_IsString(v) || cJSON_IsNull(v);
    default: return cJSON_IsString(v) || cJSON_IsNull(v);
    }
}

/* A number is read from its own digits, by the same rules as in a CSV, not from cJSON's double. */
static void take_value(struct file_reading *r, const struct heading *col, const struct slice *value, const cJSON *v)
{
    const struct field *f = &r->row.reg->fields[col->field];
    struct place at = cursor_place(r, &value->from);
    size_t len = value->to - value->from.at;
    char digits[80] = {0};
    if (!type_fits(f->type, v)) {
        fault_add(r, at, "%s is %s; expected %s", v->string, type_name(v), type_expected(f->type));
        return;
    }
    if (len > EXCHANGE_FIELD_BYTES_MAX || (cJSON_IsNumber(v) && len >= sizeof digits)) {
        fault_add(r, at, "%s has %zu bytes; expected at most %d", v->string, len, EXCHANGE_FIELD_BYTES_MAX);
        return;
    }
    if (cJSON_IsNumber(v))
        memcpy(digits, r->bytes + value->from.at, len);
    row_take(r, col, at, v->string,
             cJSON_IsNumber(v)   ? digits
             : cJSON_IsString(v) ? v->valuestring
             : cJSON_IsTrue(v)   ? "yes"
             : cJSON_IsFalse(v)  ? "no"
                                 : "");
}

static void take_member(struct file_reading *r, const struct cursor *key, const struct slice *value, const cJSON *v,
                        size_t hint)
{
    struct heading col = column_find(r->row.reg, v->string, hint);
    struct place at = cursor_place(r, key);
    if (col.field == SIZE_MAX)
        fault_add_unknown_column(r, at, r->row.reg, v->string, "key");
    else if (r->row.present[col.field])
        fault_add(r, at, "%s is there twice in this row; expected it once", r->row.reg->fields[col.field].name);
    else
        take_value(r, &col, value, v);
    if (col.field != SIZE_MAX)
        r->row.present[col.field] = true;
}

/* Walks the text of a row beside what cJSON made of it, for the places. */
static void take_members(struct file_reading *r, const struct slice *row, const cJSON *object)
{
    struct cursor c = row->from;
    size_t hint = 0;
    bool ok = skip_byte(r, &c, '{', "{");
    for (const cJSON *v = object->child; ok && v && !r->ended; v = v->next) {
        struct cursor key;
        struct slice value;
        if (!more_follow(r, &c, v == object->child, '}', &ok))
            return;
        skip_blanks(r, &c);
        key = c;
        ok = skip_string(r, &c) && skip_byte(r, &c, ':', "a colon") && skip_value(r, &c, &value);
        if (ok)
            take_member(r, &key, &value, v, hint++);
    }
}

static void demand_key(struct file_reading *r)
{
    const unsigned needed = FIELD_KEY | FIELD_REQUIRED;
    for (size_t i = 0; i < r->row.reg->n_fields; i++) {
        const struct field *f = &r->row.reg->fields[i];
        if ((f->flags & needed) == needed && !r->row.present[i])
            fault_add(r, r->row.at, "%s is missing in this row; expected %s", f->name, f->help);
    }
}

static void read_row(struct file_reading *r, const struct reg *reg, const struct slice *row)
{
    row_begin(r, reg, cursor_place(r, &row->from));
    cJSON *object = parse_slice(r, row);
    if (!object)
        return;
    if (!cJSON_IsObject(object)) {
        fault_add(r, r->row.at, "is %s; expected a row of %s in braces", type_name(object), reg->name);
    } else {
        take_members(r, row, object);
        demand_key(r);
        row_end(r);
    }
    cJSON_Delete(object);
}

static void read_array(struct file_reading *r, const struct reg *reg, const struct slice *array)
{
    struct cursor c = array->from;
    bool ok = true;
    if (byte_under(r, &c) != '[') {
        fault_add(r, cursor_place(r, &c), "%s is no list; expected its rows in brackets", reg->name);
        return;
    }
    cursor_step(r, &c);
    for (bool first = true; !r->ended && more_follow(r, &c, first, ']', &ok); first = false) {
        struct slice row;
        if (!skip_value(r, &c, &row))
            return;
        read_row(r, reg, &row);
    }
}

/* ---- the document ----------------------------------------------------------------------------------------------- */

static void take_schema(struct file_reading *r, struct json_index *index, const struct slice *value)
{
    struct place at = cursor_place(r, &value->from);
    cJSON *v = parse_slice(r, value);
    if (v && !cJSON_IsNumber(v))
        fault_add(r, at, "schema is %s; expected the number %d", type_name(v), JSON_SCHEMA);
    else if (v && v->valuedouble > JSON_SCHEMA) {
        fault_add(r, at, "schema is %g, from a newer program; expected at most %d", v->valuedouble, JSON_SCHEMA);
        index->newer = true;
    } else if (v && v->valuedouble != JSON_SCHEMA)
        fault_add(r, at, "schema is %g; expected %d", v->valuedouble, JSON_SCHEMA);
    index->has_schema = true;
    cJSON_Delete(v);
}

static void take_register(struct file_reading *r, struct json_index *index, struct place at, const char *name,
                          const struct slice *value)
{
    char quoted[EXCERPT_TEXT];
    const struct reg *reg = reg_find(name);
    if (!reg) {
        const char *near_by = register_nearest(name);
        fault_add(r, at, "\"%s\" is no register%s%s%s; expected a register such as tank, or schema",
                  text_excerpt(name, quoted), near_by ? " (did you mean \"" : "", near_by ? near_by : "",
                  near_by ? "\"?)" : "");
        return;
    }
    size_t id = (size_t)(reg - reg_get((enum reg_id)0));
    if (index->found[id])
        fault_add(r, at, "%s is there twice; expected all its rows in one list", name);
    else
        index->arrays[id] = *value;
    index->found[id] = true;
}

static bool take_top_member(struct file_reading *r, struct cursor *c, struct json_index *index)
{
    struct slice key, value;
    skip_blanks(r, c);
    key.from = *c;
    if (!skip_string(r, c))
        return false;
    key.to = c->at;
    if (!skip_byte(r, c, ':', "a colon") || !skip_value(r, c, &value))
        return false;
    cJSON *name = parse_slice(r, &key);
    if (!name)
        return true;
    struct place at = cursor_place(r, &key.from);
    if (strcmp(name->valuestring, "schema") != 0)
        take_register(r, index, at, name->valuestring, &value);
    else if (index->has_schema)
        fault_add(r, at, "schema is there twice; expected it once");
    else
        take_schema(r, index, &value);
    cJSON_Delete(name);
    return true;
}

/* Finds the registers. What is broken here is told; what was whole before it is read all the same, for its faults. */
static void find_registers(struct file_reading *r, struct json_index *index)
{
    struct cursor c = {0, 1, 1};
    bool ok = true;
    skip_blanks(r, &c);
    if (c.at >= r->len) {
        fault_add(r, (struct place){r->file, 1, 1}, "is empty; expected {\"schema\": %d, \"tank\": [...]}",
                  JSON_SCHEMA);
        return;
    }
    if (!skip_byte(r, &c, '{', "{ and \"schema\""))
        return;
    for (bool first = true; ok && !r->ended && more_follow(r, &c, first, '}', &ok); first = false)
        ok = take_top_member(r, &c, index);
    skip_blanks(r, &c);
    if (ok && c.at < r->len)
        unexpected(r, &c, "nothing after the last }");
    if (ok && !index->has_schema)
        fault_add(r, (struct place){r->file, 1, 1}, "has no schema; expected \"schema\": %d", JSON_SCHEMA);
}

void json_read(struct file_reading *r)
{
    struct json_index index = {0};
    find_registers(r, &index);
    for (size_t i = 0; i < N_REGS && !r->ended && !index.newer; i++)
        if (index.found[i])
            read_array(r, reg_get((enum reg_id)i), &index.arrays[i]);
}
