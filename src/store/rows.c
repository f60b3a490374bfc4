/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows of any register, by the field table: found, put, walked. */
#include "internal.h"

static enum reg_id store_reg_id(const struct reg *r)
{
    return (enum reg_id)(r - reg_get(0));
}

/* Its table, or the live view of a ledger. */
static void add_from(const struct reg *r, struct text *sql)
{
    text_addf(sql, " FROM %s%s", r->ledger ? "live_" : "", r->name);
}

void store_columns(const struct reg *r, bool keys_only, struct text *sql)
{
    const char *comma = "";
    for (size_t i = 0; i < r->n_fields; i++)
        if (!keys_only || field_is_key(&r->fields[i])) {
            text_addf(sql, "%s%s", comma, r->fields[i].name);
            comma = ", ";
        }
}

/* " WHERE a = ?1 AND b = ?2": a field's parameter has the number of the field, so that one binding serves all. */
static void add_key_condition(const struct reg *r, struct text *sql)
{
    const char *word = " WHERE ";
    for (size_t i = 0; i < r->n_fields; i++)
        if (field_is_key(&r->fields[i])) {
            text_addf(sql, "%s%s = ?%zu", word, r->fields[i].name, i + 1);
            word = " AND ";
        }
}

/*
 * The version is looked up as a value of its own: SQLite copies what INSERT ... SELECT finds in the same table to a
 * temporary one, which costs more per row than the row.
 */
static void write_add(const struct reg *r, struct text *sql)
{
    text_addf(sql, "INSERT INTO %s (", r->name);
    store_columns(r, false, sql);
    text_add(sql, r->ledger ? ", version) VALUES (" : ") VALUES (");
    for (size_t i = 0; i < r->n_fields; i++)
        text_addf(sql, "%s?%zu", i ? ", " : "", i + 1);
    if (r->ledger) {
        text_addf(sql, ", (SELECT 1 + coalesce(max(version), 0) FROM %s", r->name);
        add_key_condition(r, sql);
        text_add(sql, ")");
    }
    text_add(sql, ")");
}

static void write_change(const struct reg *r, struct text *sql)
{
    const char *comma = "";
    text_addf(sql, "UPDATE %s SET ", r->name);
    for (size_t i = 0; i < r->n_fields; i++)
        if (!field_is_key(&r->fields[i])) {
            text_addf(sql, "%s%s = ?%zu", comma, r->fields[i].name, i + 1);
            comma = ", ";
        }
    add_key_condition(r, sql);
}

static void write_repeat(struct text *sql)
{
    text_add(sql,
             "SELECT coalesce(min(CASE WHEN method = ?7 THEN repeat END), min(CASE WHEN coalesce(method, '') = '' THEN "
             "repeat END), 1 + max(repeat), 1) FROM live_test WHERE system = ?1 AND taken = ?2 AND analyte = ?3");
}

static void write_get(const struct reg *r, bool whole, struct text *sql)
{
    text_add(sql, "SELECT ");
    if (whole)
        store_columns(r, false, sql);
    else
        text_add(sql, "1");
    add_from(r, sql);
    add_key_condition(r, sql);
}

static void write_any_case(const struct reg *r, struct text *sql)
{
    const char *name = r->fields[0].name;
    text_addf(sql, "SELECT %s", name);
    add_from(r, sql);
    text_addf(sql, " WHERE %s = ?1 COLLATE NOCASE LIMIT 2", name);
}

static void write_statement(const struct reg *r, enum statement which, struct text *sql)
{
    switch (which) {
    case STATEMENT_GET: write_get(r, true, sql); break;
    case STATEMENT_EXISTS: write_get(r, false, sql); break;
    case STATEMENT_ANY_CASE: write_any_case(r, sql); break;
    case STATEMENT_ADD: write_add(r, sql); break;
    case STATEMENT_CHANGE: write_change(r, sql); break;
    case STATEMENT_REPEAT: write_repeat(sql); break;
    case N_STATEMENTS: break;
    }
}

static bool statement(struct store *s, const struct reg *r, enum statement which, sqlite3_stmt **stmt, struct err *e)
{
    sqlite3_stmt **kept = &s->cached[store_reg_id(r)][which];
    bool ok = true;
    if (!*kept) {
        struct text sql = {0};
        write_statement(r, which, &sql);
        ok = sql.failed ? err_memory(e) : store_prepare(s, text_str(&sql), kept, e);
        text_free(&sql);
    }
    *stmt = *kept;
    return ok;
}

static bool store_bind(struct store *s, sqlite3_stmt *stmt, int at, const struct cell *c, struct err *e)
{
    int rc = SQLITE_OK;
    switch (c->kind) {
    case CELL_EMPTY: rc = sqlite3_bind_null(stmt, at); break;
    case CELL_TEXT: rc = sqlite3_bind_text(stmt, at, c->text, -1, SQLITE_TRANSIENT); break;
    case CELL_NUMBER: rc = sqlite3_bind_double(stmt, at, c->number); break;
    case CELL_WHOLE: rc = sqlite3_bind_int64(stmt, at, c->whole); break;
    }
    return rc == SQLITE_OK || store_fail(s, e);
}

/* The cells of the current row; texts copied to a. */
static bool row_cells(sqlite3_stmt *stmt, const struct reg *r, struct cell *cells, struct arena *a, struct err *e)
{
    for (size_t i = 0; i < r->n_fields; i++) {
        int at = (int)i;
        cells[i] = (struct cell){0};
        switch (sqlite3_column_type(stmt, at)) {
        case SQLITE_INTEGER:
            cells[i].kind = CELL_WHOLE;
            cells[i].whole = sqlite3_column_int64(stmt, at);
            break;
        case SQLITE_FLOAT:
            cells[i].kind = CELL_NUMBER;
            cells[i].number = sqlite3_column_double(stmt, at);
            break;
        case SQLITE_TEXT: {
            const char *text = (const char *)sqlite3_column_text(stmt, at);
            cells[i].kind = CELL_TEXT;
            cells[i].text = text ? arena_text(a, text) : NULL;
            if (!cells[i].text)
                return err_memory(e);
            break;
        }
        default: break;
        }
    }
    return true;
}

/* Binds every field that the statement has a parameter for. */
static bool bind_cells(struct store *s, sqlite3_stmt *stmt, const struct reg *r, const struct cell *cells,
                       struct err *e)
{
    int n = sqlite3_bind_parameter_count(stmt);
    sqlite3_reset(stmt);
    for (size_t i = 0; i < r->n_fields && (int)i < n; i++)
        if (!store_bind(s, stmt, (int)i + 1, &cells[i], e))
            return false;
    return true;
}

static bool run_change(struct store *s, const struct reg *r, enum statement which, const struct cell *cells,
                       struct err *e)
{
    sqlite3_stmt *stmt;
    if (!statement(s, r, which, &stmt, e) || !bind_cells(s, stmt, r, cells, e))
        return false;
    int rc = sqlite3_step(stmt);
    bool ok = rc == SQLITE_DONE || store_fail(s, e);
    sqlite3_reset(stmt);
    return ok && store_row_was_put(s, e);
}

/* *found false, and no error, where there is no such row. */
static bool find_row(struct store *s, const struct reg *r, const struct cell *key, struct cell *cells, bool *found,
                     struct arena *a, struct err *e)
{
    sqlite3_stmt *stmt;
    if (!statement(s, r, STATEMENT_GET, &stmt, e) || !bind_cells(s, stmt, r, key, e))
        return false;
    int rc = sqlite3_step(stmt);
    *found = rc == SQLITE_ROW;
    bool ok = rc == SQLITE_DONE || (rc == SQLITE_ROW && row_cells(stmt, r, cells, a, e)) ||
              (rc != SQLITE_ROW && store_fail(s, e));
    sqlite3_reset(stmt);
    return ok;
}

/* More names than are ever shown; to seek what is near each of a million would take hours. */
enum { UNKNOWN_OFFERED = 200 };

struct names {
    const char **names;
    size_t n, room;
    struct arena arena;
};

static bool take_name(void *context, const struct cell *cells, struct err *e)
{
    struct names *list = context;
    const char **moved = mem_grow(list->names, &list->room, list->n + 1, sizeof *list->names);
    if (!moved)
        return err_memory(e);
    list->names = moved;
    list->names[list->n] = arena_text(&list->arena, cells[0].text);
    return list->names[list->n++] ? true : err_memory(e);
}

/* Says that nothing has this name, and which one is near. */
static bool unknown_name(struct store *s, const struct reg *r, const char *name, struct err *e)
{
    struct names list = {0};
    if (s->n_unknown++ >= UNKNOWN_OFFERED)
        return err_of_value(e, ERR_NOT_FOUND, "is \"%.60s\", and no %s has that name", name, r->name);
    bool ok = store_each(s, r, take_name, &list, e);
    if (ok) {
        const char *near_by = name_nearest(name, list.names, list.n);
        if (near_by)
            err_of_value(e, ERR_NOT_FOUND, "is \"%.60s\", and no %s has that name; did you mean \"%s\"?", name, r->name,
                         near_by);
        else if (list.n == 0)
            err_of_value(e, ERR_NOT_FOUND, "is \"%.60s\", and there is no %s yet", name, r->name);
        else {
            err_of_value(e, ERR_NOT_FOUND, "is \"%.60s\", and no %s has that name; expected one of the %zu known", name,
                         r->name, list.n);
            err_help(e, HELP_LIST, r->name);
        }
    }
    free(list.names);
    arena_free(&list.arena);
    return false;
}

/* The one row that has this name in another case; NULL: none, or several. */
static bool find_any_case(struct store *s, const struct reg *r, const struct cell *name, const char **found,
                          struct arena *a, struct err *e)
{
    sqlite3_stmt *stmt;
    *found = NULL;
    if (r->fields[0].type != FIELD_NAME || s->n_unknown >= UNKNOWN_OFFERED)
        return true;
    if (!statement(s, r, STATEMENT_ANY_CASE, &stmt, e) || !store_bind(s, stmt, 1, name, e))
        return false;
    bool ok = true;
    int rc = sqlite3_step(stmt);
    if (rc == SQLITE_ROW) {
        const char *text = (const char *)sqlite3_column_text(stmt, 0);
        *found = text ? arena_text(a, text) : NULL;
        ok = *found || err_memory(e);
        rc = sqlite3_step(stmt);
        if (rc == SQLITE_ROW)
            *found = NULL;
    }
    ok = ok && (rc == SQLITE_ROW || rc == SQLITE_DONE || store_fail(s, e));
    sqlite3_reset(stmt);
    return ok;
}

/* A reference in another case becomes the name as it is. */
static bool reference_names(struct store *s, const struct reg *to, struct cell *c, struct arena *a, struct err *e)
{
    const char *found;
    if (!find_any_case(s, to, c, &found, a, e))
        return false;
    if (!found)
        return unknown_name(s, to, c->text, e);
    c->text = found;
    return true;
}

static bool references_hold(struct store *s, const struct reg *r, struct cell *cells, size_t *field, struct arena *a,
                            struct err *e)
{
    for (size_t i = 0; i < r->n_fields; i++) {
        if (r->fields[i].type != FIELD_REF || cells[i].kind == CELL_EMPTY)
            continue;
        const struct reg *to = reg_get(r->fields[i].ref);
        sqlite3_stmt *stmt;
        if (!statement(s, to, STATEMENT_EXISTS, &stmt, e) || !store_bind(s, stmt, 1, &cells[i], e))
            return false;
        int rc = sqlite3_step(stmt);
        sqlite3_reset(stmt);
        *field = i;
        if (rc == SQLITE_DONE && !reference_names(s, to, &cells[i], a, e))
            return false;
        if (rc != SQLITE_DONE && rc != SQLITE_ROW)
            return store_fail(s, e);
    }
    return true;
}

/* A setting's value is checked by the field of struct settings that it sets. */
static bool setting_holds(const struct cell *cells, size_t *field, struct arena *a, struct err *e)
{
    const struct reg *figures = settings_reg();
    size_t at = reg_field(figures, cells[0].text);
    struct cell parsed;
    if (at != SIZE_MAX) {
        *field = 1;
        return cell_parse(&figures->fields[at], cells[1].text, a, &parsed, e);
    }
    const char *names[FIELDS_MAX];
    for (size_t i = 0; i < figures->n_fields; i++)
        names[i] = figures->fields[i].name;
    const char *near_by = name_nearest(cells[0].text, names, figures->n_fields);
    *field = 0;
    err_of_value(e, ERR_NOT_FOUND, "is \"%.60s\", and there is no such setting%s%s%s", cells[0].text,
                 near_by ? "; did you mean \"" : "", near_by ? near_by : "", near_by ? "\"?" : "");
    return err_help(e, near_by ? HELP_NONE : HELP_LIST, "setting");
}

/* The keys of a new row, complete: an empty one takes its fallback. */
static bool complete_key(const struct reg *r, struct cell *cells, size_t *field, struct arena *a, struct err *e)
{
    for (size_t i = 0; i < r->n_fields; i++) {
        const struct field *f = &r->fields[i];
        if (!field_is_key(f) || cells[i].kind != CELL_EMPTY)
            continue;
        *field = i;
        if (!f->fallback)
            return err_of_value(e, ERR_INPUT, "is empty; expected %s", f->help);
        if (!cell_parse(f, f->fallback, a, &cells[i], e))
            return false;
    }
    return true;
}

static bool whole_row_holds(struct store *s, const struct reg *r, struct cell *cells, size_t *field, struct arena *a,
                            struct err *e)
{
    if (store_reg_id(r) == REG_SETTING)
        return cells[1].kind != CELL_EMPTY ? setting_holds(cells, field, a, e)
                                           : (*field = 1, err_of_value(e, ERR_INPUT, "is empty; expected a value"));
    void *row = arena_alloc(a, 1, r->row_size);
    if (!row)
        return err_memory(e);
    return row_fill(r, cells, row, field, e) && references_hold(s, r, cells, field, a, e);
}

static bool same_cells(const struct reg *r, const struct cell *a, const struct cell *b)
{
    for (size_t i = 0; i < r->n_fields; i++)
        if (!cell_same(&a[i], &b[i]))
            return false;
    return true;
}

bool store_test_repeat(struct store *s, const struct cell *cells, long *repeat, struct err *e)
{
    const struct reg *r = reg_get(REG_TEST);
    const struct cell *method = &cells[reg_field(r, "method")];
    sqlite3_stmt *stmt;
    *repeat = 1;
    if (method->kind != CELL_TEXT || *method->text == '\0')
        return true;
    if (!statement(s, r, STATEMENT_REPEAT, &stmt, e) || !bind_cells(s, stmt, r, cells, e))
        return false;
    int rc = sqlite3_step(stmt);
    if (rc == SQLITE_ROW)
        *repeat = sqlite3_column_int64(stmt, 0);
    sqlite3_reset(stmt);
    return rc == SQLITE_ROW || store_fail(s, e);
}

/* Two methods in one minute are two readings. */
static bool complete_repeat(struct store *s, const struct reg *r, struct cell *cells, struct err *e)
{
    size_t at = store_reg_id(r) == REG_TEST ? reg_field(r, "repeat") : SIZE_MAX;
    if (at == SIZE_MAX || cells[at].kind != CELL_EMPTY)
        return true;
    cells[at] = (struct cell){.kind = CELL_WHOLE};
    return store_test_repeat(s, cells, &cells[at].whole, e);
}

static bool put_row(struct store *s, const struct reg *r, struct cell *cells, struct cell *old, const bool *present,
                    enum put *outcome, size_t *field, struct arena *a, struct err *e)
{
    bool found;
    if (!complete_repeat(s, r, cells, e) || !complete_key(r, cells, field, a, e) ||
        !find_row(s, r, cells, old, &found, a, e))
        return false;
    for (size_t i = 0; found && i < r->n_fields; i++)
        if (!present[i])
            cells[i] = old[i];
    *outcome = PUT_SAME;
    if (found && same_cells(r, cells, old))
        return true;
    *field = SIZE_MAX;
    if (found && !r->typed && !r->ledger)
        return err_set(e, ERR_INPUT, NULL, "differs from the kept plan; a kept plan never changes");
    if (!whole_row_holds(s, r, cells, field, a, e))
        return false;
    if (found && same_cells(r, cells, old)) /* but for the case of a name */
        return true;
    s->settings_put = s->settings_put || store_reg_id(r) == REG_SETTING;
    *outcome = found ? PUT_CHANGED : PUT_NEW;
    return run_change(s, r, found && !r->ledger ? STATEMENT_CHANGE : STATEMENT_ADD, cells, e);
}

bool store_put(struct store *s, const struct reg *r, const struct cell *given, const bool *present, enum put *outcome,
               size_t *field, struct err *e)
{
    struct put_told told;
    bool ok = store_put_told(s, r, given, present, outcome, &told, field, e);
    arena_free(&told.arena);
    return ok;
}

bool store_put_told(struct store *s, const struct reg *r, const struct cell *given, const bool *present,
                    enum put *outcome, struct put_told *told, size_t *field, struct err *e)
{
    assert(r->n_fields > 0);
    told->arena = (struct arena){0};
    s->work_left += WORK_PER_PUT;
    for (size_t i = 0; i < r->n_fields; i++)
        told->after[i] = present[i] ? given[i] : (struct cell){0};
    *field = SIZE_MAX;
    return put_row(s, r, told->after, told->before, present, outcome, field, &told->arena, e);
}

/* Is a row known by one name alone? */
static bool register_one_name(const struct reg *r)
{
    return r->fields[0].type == FIELD_NAME && !(r->n_fields > 1 && field_is_key(&r->fields[1]));
}

bool store_find(struct store *s, const struct reg *r, const struct cell *key, struct cell *cells, bool *found,
                struct arena *a, struct err *e)
{
    struct cell other = {.kind = CELL_TEXT};
    if (!find_row(s, r, key, cells, found, a, e))
        return false;
    if (*found || !register_one_name(r) || key[0].kind != CELL_TEXT)
        return true;
    return find_any_case(s, r, &key[0], &other.text, a, e) &&
           (!other.text || find_row(s, r, &other, cells, found, a, e));
}

bool store_get(struct store *s, const struct reg *r, const struct cell *key, struct cell *cells, struct arena *a,
               struct err *e)
{
    bool found;
    return store_find(s, r, key, cells, &found, a, e) &&
           (found || unknown_name(s, r, key[0].kind == CELL_TEXT ? key[0].text : "", e));
}

bool store_each_row(struct store *s, sqlite3_stmt *stmt, const struct reg *r,
                    bool (*each)(void *context, const struct cell *cells, struct err *e), void *context, struct err *e)
{
    struct arena row = {0};
    struct cell cells[FIELDS_MAX];
    int rc = SQLITE_DONE;
    bool ok = true;
    while (ok && (rc = sqlite3_step(stmt)) == SQLITE_ROW) {
        ok = row_cells(stmt, r, cells, &row, e) && each(context, cells, e);
        arena_free(&row);
    }
    if (ok && rc != SQLITE_DONE)
        ok = store_fail(s, e);
    sqlite3_reset(stmt);
    return ok;
}

bool store_each_where(struct store *s, const struct reg *r, const char *where,
                      bool (*each)(void *context, const struct cell *cells, struct err *e), void *context,
                      struct err *e)
{
    struct text sql = {0};
    sqlite3_stmt *stmt = NULL;
    text_add(&sql, "SELECT ");
    store_columns(r, false, &sql);
    add_from(r, &sql);
    text_addf(&sql, "%s ORDER BY ", where);
    store_columns(r, true, &sql);
    bool ok = (!sql.failed || err_memory(e)) && store_prepare(s, text_str(&sql), &stmt, e) &&
              store_each_row(s, stmt, r, each, context, e);
    sqlite3_finalize(stmt);
    text_free(&sql);
    return ok;
}

bool store_each(struct store *s, const struct reg *r,
                bool (*each)(void *context, const struct cell *cells, struct err *e), void *context, struct err *e)
{
    return store_each_where(s, r, "", each, context, e);
}

bool store_count_where(struct store *s, const struct reg *r, const char *where, long *n, struct err *e)
{
    struct text sql = {0};
    text_add(&sql, "SELECT count(*)");
    add_from(r, &sql);
    text_add(&sql, where);
    bool ok = sql.failed ? err_memory(e) : store_number(s, text_str(&sql), 0, n, e);
    text_free(&sql);
    return ok;
}

bool store_count(struct store *s, const struct reg *r, long *n, struct err *e)
{
    return store_count_where(s, r, "", n, e);
}

bool store_next_repeat(struct store *s, const struct reg *r, struct cell *key, struct err *e)
{
    struct arena scratch = {0};
    struct cell row[FIELDS_MAX];
    size_t at = reg_field(r, "repeat");
    bool taken = true, ok = true;
    key[at] = (struct cell){.kind = CELL_WHOLE, .whole = 0};
    while (ok && taken && ++key[at].whole < (long)r->fields[at].max)
        ok = find_row(s, r, key, row, &taken, &scratch, e);
    arena_free(&scratch);
    return ok && (!taken || err_set(e, ERR_INPUT, NULL, "too many entries for one minute; try again in the next"));
}

/* next: with the first repeat that is still free. */
static bool put_struct(struct store *s, const struct facility *f, enum reg_id id, const void *row, bool next,
                       enum put *outcome, struct err *e)
{
    const struct reg *r = reg_get(id);
    struct arena scratch = {0};
    struct cell cells[FIELDS_MAX] = {0};
    bool present[FIELDS_MAX] = {0};
    size_t field;
    for (size_t i = 0; i < r->n_fields; i++)
        present[i] = true;
    bool ok = row_read(r, row, f, cells, &scratch, e) && (!next || store_next_repeat(s, r, cells, e)) &&
              store_put(s, r, cells, present, outcome, &field, e);
    arena_free(&scratch);
    return ok;
}

bool row_put(struct store *s, const struct facility *f, enum reg_id id, const void *row, enum put *outcome,
             struct err *e)
{
    return put_struct(s, f, id, row, false, outcome, e);
}

bool row_put_next(struct store *s, const struct facility *f, enum reg_id id, const void *row, struct err *e)
{
    enum put outcome;
    return put_struct(s, f, id, row, true, &outcome, e);
}
