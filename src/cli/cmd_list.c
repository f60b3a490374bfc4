/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap list: show the rows of a register. */
#include "cli.h"

#include "neap/calc.h"
#include "neap/exchange.h"
#include "neap/naming.h"
#include "neap/print.h"
#include "neap/response.h"

enum { TEXT_WIDTH_LEAST = 12, VALUE_WIDTH_MOST = 40 };

/* What a list shows first, the most wanted in front; fields that do not fit the width are left to --wide. */
static const char *const wanted[N_REGS][FIELDS_MAX] = {
    [REG_SYSTEM] = {"name", "sump_volume_l", "test_every_d", "quarantine", "note"},
    [REG_BAND] = {"system", "analyte", "low", "high"},
    [REG_SWITCH] = {"system", "device", "off_for", "on_after_min", "off_limit_min", "note"},
    [REG_DAILY_ROUND] = {"name", "start_min", "days", "feeders", "note"},
    [REG_BROADCAST_DAY] = {"system", "weekday", "round", "part_frac"},
    [REG_TANK] = {"name", "system", "shape", "position_m", "flow_off_limit_min", "fish", "hold_until", "hold_reason"},
    [REG_KIND] = {"name", "feeding", "portion_ml", "interval_d", "max_particle_um", "mouth_rule"},
    [REG_COLONY] = {"code", "tank", "kind", "count", "heads", "hold_until", "label"},
    [REG_FOOD] = {"name", "form", "unit", "ceiling_units_per_100l", "blend_share_frac"},
    [REG_LOT] = {"code", "food", "amount_units", "opened", "use_by", "note"},
    [REG_METHOD] = {"name", "analyte", "step", "note"},
    [REG_TEST] = {"system", "taken", "analyte", "value", "below", "method", "doubt"},
    [REG_WATER] = {"system", "exchanged", "volume_l", "no3_mg_l", "po4_mg_l", "note"},
    [REG_ROUND] = {"number", "revision", "day", "name", "start_min", "finish_min", "feeders"},
    [REG_ASKED] = {"round", "revision", "number", "what", "tank", "feeder", "at_min", "amount"},
    [REG_POT] = {"round", "revision", "pot", "late", "made_ml", "water_ml", "factor", "systems"},
    [REG_POT_FOOD] = {"round", "revision", "pot", "rank", "food", "lot", "amount_units"},
    [REG_LINE] = {"round", "revision", "number", "tank", "action", "start_min", "colony", "food", "amount"},
    [REG_WAITING] = {"round", "revision", "colony", "reason"},
    [REG_CAUTION] = {"round", "revision", "part", "text"},
    [REG_SWITCHING] = {"round", "revision", "number", "system", "device", "off_min", "on_min"},
    [REG_SETTING] = {"name", "value"},
    [REG_GIVEN] = {"round", "line", "outcome", "amount", "response", "note"},
    [REG_EXTRA] = {"round", "number", "tank", "food", "lot", "amount_units", "note"},
    [REG_MIXED] = {"round", "pot", "made_ml", "left_ml", "note"},
    [REG_WEIGHED] = {"round", "pot", "rank", "amount_units", "note"},
    [REG_WASTE] = {"lot", "wasted", "amount_units", "reason"},
    [REG_SWITCHED] = {"round", "system", "device", "off_min", "on_min"},
    [REG_TALLY] = {"colony", "changed", "change", "reason", "tank", "from_tank", "other", "note"},
};

struct listing {
    struct context *c;
    const struct reg *reg;
    struct arena arena;
    const char *const *keys; /* the first fields of the rows wanted */
    size_t n_keys;
    struct cell **rows;
    size_t n, room, n_retired;
    struct document page;
};

static bool row_wanted(struct listing *l, const struct cell *cells)
{
    size_t retired = reg_field(l->reg, "retired");
    for (size_t i = 0; i < l->n_keys; i++) {
        struct text key = {0};
        cell_format(&l->reg->fields[i], &cells[i], &key);
        bool same = text_same_but_case(text_str(&key), l->keys[i]);
        text_free(&key);
        if (!same)
            return false;
    }
    if (l->n_keys > 0 || retired == SIZE_MAX || cells[retired].whole == 0 || option_given(l->c, "all"))
        return true;
    l->n_retired++;
    return false;
}

static bool take_row(void *context, const struct cell *cells, struct err *e)
{
    struct listing *l = context;
    if (!row_wanted(l, cells))
        return true;
    struct cell **moved = mem_grow(l->rows, &l->room, l->n + 1, sizeof(*moved));
    struct cell *row = arena_alloc(&l->arena, l->reg->n_fields, sizeof *row);
    if (moved)
        l->rows = moved;
    if (!moved || !row)
        return err_memory(e);
    memcpy(row, cells, l->reg->n_fields * sizeof *row);
    for (size_t i = 0; i < l->reg->n_fields; i++)
        if (row[i].kind == CELL_TEXT && !(row[i].text = arena_text(&l->arena, row[i].text)))
            return err_memory(e);
    l->rows[l->n++] = row;
    return true;
}

/* ---- in US units ------------------------------------------------------------------------------------------------- */

/* Of tanks, ways and waters. Doses stay metric, as syringes and scales are. */
static bool is_shown_in(const struct exchange_unit *u)
{
    return strcmp(u->suffix, "_usgal") == 0 || (strcmp(u->suffix, "_in") == 0 && strcmp(u->base, "_cm") == 0) ||
           (strcmp(u->suffix, "_ft") == 0 && strcmp(u->base, "_m") == 0);
}

/* NULL: the field's own unit. */
static const struct exchange_unit *us_unit(const struct listing *l, const struct field *f)
{
    size_t n;
    const struct exchange_unit *units = exchange_units(&n);
    for (size_t i = 0; l->c->us_units && i < n; i++)
        if (is_shown_in(&units[i]) && exchange_unit_fits(&units[i], f))
            return &units[i];
    return NULL;
}

/* The field's name as load takes it for such numbers. */
static const char *shown_name(struct listing *l, const struct field *f)
{
    const struct exchange_unit *u = us_unit(l, f);
    return u ? document_format(&l->page, "%.*s%s", (int)(strlen(f->name) - strlen(u->base)), f->name, u->suffix)
             : f->name;
}

/* Is the number a temperature? A reading or a limit is one where its row's analyte is measured so. */
static bool is_temperature(const struct listing *l, const struct field *f, const struct cell *row)
{
    size_t analyte = reg_field(l->reg, "analyte");
    bool measured = strcmp(f->name, "value") == 0 || strcmp(f->name, "low") == 0 || strcmp(f->name, "high") == 0;
    int a = measured && row && analyte != SIZE_MAX && row[analyte].kind == CELL_TEXT ? analyte_named(row[analyte].text)
                                                                                     : N_ANALYTES;
    return a != N_ANALYTES && strcmp(analytes[a].measure, "C") == 0;
}

static void format_cell(struct listing *l, const struct field *f, const struct cell *row, const struct cell *c,
                        struct text *out)
{
    const struct exchange_unit *u = us_unit(l, f);
    char number[32];
    if (c->kind == CELL_NUMBER && u) {
        number_format(round_near_to(c->number / u->to_base(1), 0.01), number);
        text_add(out, number);
    } else if (c->kind == CELL_NUMBER && l->c->us_units && is_temperature(l, f, row)) {
        number_format(round_near_to(fahrenheit_from_celsius(c->number), 0.1), number);
        text_addf(out, "%sF", number);
    } else {
        cell_format(f, c, out);
    }
}

/* Where --units does not say, the house's setting does. */
static bool read_units(struct context *c, struct store *s, struct err *e)
{
    const struct reg *r = reg_get(REG_SETTING);
    struct arena scratch = {0};
    struct cell cells[FIELDS_MAX] = {{.kind = CELL_TEXT, .text = "units"}};
    bool found = false, ok = c->units_given || store_find(s, r, cells, cells, &found, &scratch, e);
    if (found && cells[1].kind == CELL_TEXT)
        c->us_units = strcmp(cells[1].text, "us") == 0;
    arena_free(&scratch);
    return ok;
}

/* ---- a table, or one row ----------------------------------------------------------------------------------------- */

/* What a person reads: an empty cell stands for its fallback, a flag that is not set for nothing. */
static const char *shown(struct listing *l, const struct field *f, const struct cell *row)
{
    struct text t = {0};
    const struct cell *c = &row[f - l->reg->fields];
    if (c->kind == CELL_EMPTY && f->fallback)
        text_add(&t, f->type == FIELD_FLAG ? "" : f->fallback);
    else if (f->type != FIELD_FLAG || c->whole != 0)
        format_cell(l, f, row, c, &t);
    const char *s = document_format(&l->page, "%s", text_str(&t));
    text_free(&t);
    return s;
}

/* One line of a list is one row: a long text ends in … there, and is whole where its row is shown alone. */
static const char *cut(struct listing *l, const char *s, int width)
{
    size_t n = 0, good = 0;
    if (text_width(s, strlen(s)) <= width)
        return s;
    while (s[n]) {
        for (n++; ((unsigned char)s[n] & 0xC0) == 0x80; n++)
            ;
        if (text_width(s, n) >= width)
            break;
        good = n;
    }
    while (good > 0 && s[good - 1] == ' ')
        good--;
    return document_format(&l->page, "%.*s…", (int)good, s);
}

static bool is_numeric(const struct field *f)
{
    return f->type == FIELD_NUMBER || f->type == FIELD_COUNT;
}

static int natural_width(struct listing *l, size_t field)
{
    const struct field *f = &l->reg->fields[field];
    int width = (int)strlen(shown_name(l, f));
    for (size_t i = 0; i < l->n; i++) {
        const char *s = shown(l, f, l->rows[i]);
        int w = text_width(s, strlen(s));
        width = w > width ? w : width;
    }
    return width;
}

static bool any_filled(const struct listing *l, size_t field)
{
    for (size_t i = 0; i < l->n; i++) {
        const struct cell *c = &l->rows[i][field];
        if (c->kind != CELL_EMPTY && !(l->reg->fields[field].type == FIELD_FLAG && c->whole == 0))
            return true;
    }
    return false;
}

/* The columns that fit, the last text one taking what is left. Returns how many; *width: of the page. */
static size_t choose_columns(struct listing *l, struct column *columns, size_t *fields, int *width)
{
    const char *const *names = wanted[l->reg - reg_get(0)];
    bool wide = option_given(l->c, "wide");
    size_t n = 0;
    int used = -1;
    for (size_t i = 0; i < l->reg->n_fields && (wide || names[i]); i++) {
        size_t at = wide ? i : reg_field(l->reg, names[i]);
        const struct field *f = &l->reg->fields[at];
        if (!field_is_key(f) && !any_filled(l, at))
            continue;
        int natural = natural_width(l, at), room = *width - used - 1;
        bool text = f->type == FIELD_TEXT && room >= TEXT_WIDTH_LEAST;
        if (!wide && n > 0 && natural > room && !text)
            continue;
        int taken = wide || natural < room ? natural : room;
        fields[n] = at;
        columns[n++] = (struct column){shown_name(l, f), taken, is_numeric(f)};
        used += taken + 1;
    }
    *width = used;
    return n;
}

static bool list_table(struct listing *l, struct err *e)
{
    struct column columns[FIELDS_MAX];
    size_t fields[FIELDS_MAX];
    const char *cells[FIELDS_MAX];
    int width = l->c->out_width;
    size_t n = choose_columns(l, columns, fields, &width);
    document_table(&l->page, columns, n);
    for (size_t i = 0; i < l->n; i++) {
        for (size_t k = 0; k < n; k++)
            cells[k] = cut(l, shown(l, &l->reg->fields[fields[k]], l->rows[i]), columns[k].width);
        document_row(&l->page, cells);
    }
    if (!render_text(&l->page, width, 0, l->c->out, e))
        return false;
    if (l->n_retired > 0)
        text_addf(l->c->out, "%zu retired not shown; --all shows them\n", l->n_retired);
    return true;
}

/* One row: a line per field, what is not filled in with what is taken instead, in brackets. */
static bool list_row(struct listing *l, const struct reg *r, const struct cell *row, struct err *e)
{
    int name_width = 0, value_width = 10;
    const char *values[FIELDS_MAX];
    for (size_t i = 0; i < r->n_fields; i++) {
        const struct field *f = &r->fields[i];
        struct text t = {0};
        if (row[i].kind != CELL_EMPTY)
            format_cell(l, f, r == l->reg ? row : NULL, &row[i], &t);
        else if (f->fallback && *f->fallback)
            text_addf(&t, "(%s)", f->fallback);
        values[i] = document_format(&l->page, "%s", text_str(&t));
        text_free(&t);
        int w = text_width(values[i], strlen(values[i]));
        value_width = w > value_width ? w : value_width;
        name_width = greater(name_width, (int)strlen(shown_name(l, f)));
    }
    value_width = value_width < VALUE_WIDTH_MOST ? value_width : VALUE_WIDTH_MOST;
    const struct column columns[] = {
        {"field", name_width, false}, {"value", value_width, false}, {"what it is", 0, false}};
    document_table(&l->page, columns, COUNT_OF(columns));
    for (size_t i = 0; i < r->n_fields; i++)
        document_row(&l->page, (const char *[]){shown_name(l, &r->fields[i]), values[i], r->fields[i].help});
    return render_text(&l->page, l->c->out_width, 0, l->c->out, e);
}

static void describe_type(const struct field *f, struct text *out)
{
    static const char *const words[] = {
        [FIELD_TEXT] = "text",
        [FIELD_NAME] = "name",
        [FIELD_NUMBER] = "number",
        [FIELD_COUNT] = "whole number",
        [FIELD_FLAG] = "yes or no",
        [FIELD_DAY] = "YYYY-MM-DD",
        [FIELD_MOMENT] = "YYYY-MM-DDTHH:MM",
        [FIELD_CLOCK] = "HH:MM",
        [FIELD_CHOICE] = "",
        [FIELD_REF] = "",
    };
    text_add(out, words[f->type]);
    if (f->type == FIELD_REF)
        text_addf(out, "a %s", reg_get(f->ref)->name);
    for (size_t i = 0; f->type == FIELD_CHOICE && f->choices[i]; i++)
        text_addf(out, "%s%s", i ? ", " : "", f->choices[i]);
    if (f->min != 0 || f->max != 0)
        text_addf(out, ", %.10g to %.10g", f->min, f->max);
}

static bool list_fields(struct listing *l, const struct reg *r, struct err *e)
{
    int name_width = 0;
    for (size_t i = 0; i < r->n_fields; i++)
        name_width = (int)strlen(r->fields[i].name) > name_width ? (int)strlen(r->fields[i].name) : name_width;
    const struct column columns[] = {
        {"field", name_width, false}, {"takes", 22, false}, {"else", 9, false}, {"what it is", 0, false}};
    document_table(&l->page, columns, COUNT_OF(columns));
    for (size_t i = 0; i < r->n_fields; i++) {
        const struct field *f = &r->fields[i];
        struct text t = {0};
        describe_type(f, &t);
        const char *fallback = f->flags & FIELD_REQUIRED ? "needed" : f->fallback ? f->fallback : "";
        document_row(&l->page,
                     (const char *[]){f->name, document_format(&l->page, "%s", text_str(&t)), fallback, f->help});
        text_free(&t);
    }
    return render_text(&l->page, l->c->out_width, 0, l->c->out, e);
}

/* The names alone, a line each, as a shell completes them. */
static bool list_keys(struct listing *l)
{
    for (size_t i = 0; i < l->n; i++)
        if (i == 0 || !cell_same(&l->rows[i][0], &l->rows[i - 1][0])) {
            cell_format(&l->reg->fields[0], &l->rows[i][0], l->c->out);
            text_add(l->c->out, "\n");
        }
    return true;
}

static bool list_json(struct listing *l, struct err *e)
{
    struct json_dump *dump = json_dump_new(e);
    bool ok = dump != NULL;
    for (size_t i = 0; ok && i < l->n; i++)
        ok = json_dump_row(dump, l->reg, l->rows[i], e);
    ok = ok && json_dump_text(dump, l->c->out, e);
    json_dump_free(dump);
    return ok;
}

/* The house's figures: all of them, those never set in brackets. */
static bool list_settings(struct listing *l, struct err *e)
{
    const struct reg *r = settings_reg();
    struct cell row[FIELDS_MAX] = {{0}};
    for (size_t i = 0; i < l->n; i++) {
        size_t at = reg_field(r, l->rows[i][0].text);
        if (at != SIZE_MAX && !cell_parse(&r->fields[at], l->rows[i][1].text, &l->arena, &row[at], e))
            return false;
    }
    return list_row(l, r, row, e);
}

static bool list_registers(struct listing *l, struct store *s, struct err *e)
{
    static const struct column columns[] = {{"register", 13, false}, {"rows", 8, true}, {"what it holds", 0, false}};
    document_table(&l->page, columns, COUNT_OF(columns));
    for (size_t i = 0; i < N_REGS; i++) {
        const struct reg *r = reg_get((enum reg_id)i);
        long n;
        if (!store_count(s, r, &n, e))
            return false;
        document_row(&l->page, (const char *[]){r->name, document_format(&l->page, "%ld", n), r->title});
    }
    return render_text(&l->page, l->c->out_width, 0, l->c->out, e);
}

/* Nothing has this key: the store knows which one is near. */
static bool no_such_row(struct listing *l, struct store *s, struct err *e)
{
    struct cell cells[FIELDS_MAX] = {{0}};
    const struct reg *r = l->reg;
    if (register_n_keys(r) > 1 || r == reg_get(REG_SETTING))
        return err_set(e, ERR_NOT_FOUND, NULL, "no row of %s has %s \"%.60s\"; neap list %s shows them", r->name,
                       r->fields[0].name, l->keys[0], r->name);
    return key_read(r, l->keys, cells, &l->arena, e) && !store_get(s, r, cells, cells, &l->arena, e) &&
           blame_field(r, 0, e);
}

static bool list_register(struct listing *l, struct store *s, struct err *e)
{
    bool settings = l->reg == reg_get(REG_SETTING);
    if (!store_each(s, l->reg, take_row, l, e))
        return false;
    if (l->c->json)
        return list_json(l, e);
    if (option_given(l->c, "keys"))
        return list_keys(l);
    if (settings && l->n_keys == 0)
        return list_settings(l, e);
    if (l->n == 0 && l->n_keys > 0)
        return no_such_row(l, s, e);
    if (l->n == 1 && l->n_keys == register_n_keys(l->reg) && !option_given(l->c, "wide"))
        return list_row(l, l->reg, l->rows[0], e);
    if (l->n == 0)
        text_addf(l->c->out, "no rows of %s\n", l->reg->name);
    return l->n == 0 || list_table(l, e);
}

static bool list_run(struct context *c, struct err *e)
{
    struct listing l = {.c = c};
    struct store *s;
    if (c->n_args > 0 && !(l.reg = register_named(c->args[0], e)))
        return false;
    if (l.reg && c->n_args - 1 > register_n_keys(l.reg))
        return err_set(e, ERR_MISUSE, NULL, "%s rows are known by %zu words; expected no more", l.reg->name,
                       register_n_keys(l.reg));
    const bool fields = option_given(c, "fields");
    if (!l.reg && (c->json || fields))
        return err_set(e, ERR_MISUSE, NULL, "of which register? neap list shows them");
    l.keys = c->args + 1;
    l.n_keys = c->n_args > 0 ? c->n_args - 1 : 0;
    bool ok;
    if (fields) {
        ok = list_fields(&l, l.reg == reg_get(REG_SETTING) ? settings_reg() : l.reg, e);
    } else {
        if (!context_open(c, STORE_READ, &s, e))
            return false;
        ok = read_units(c, s, e) && (l.reg ? list_register(&l, s, e) : list_registers(&l, s, e));
        store_close(s);
    }
    free(l.rows);
    arena_free(&l.arena);
    document_free(&l.page);
    return ok;
}

const struct command command_list = {
    .name = "list",
    .place = 540,
    .summary = "show the rows of a register",
    .also = "show ls tanks",
    .usage = "[REGISTER [KEY…]]",
    .about =
        "Shows what the registers hold: all of them counted, one as a table as wide as the screen, one row field "
        "by field. "
        "Of a key in several parts the first ones are enough. A value in brackets was not filled in; it is what "
        "is taken "
        "instead. In US units tanks are shown in inches and US gallons, ways in feet, temperatures in F; --json stays "
        "metric.",
    .example = "neap list tank D1",
    .options = (const struct option_row[]){{"wide", OPT_FLAG, .help = "all fields that hold anything, however wide"},
                                           {"all", OPT_FLAG, .help = "retired rows too"},
                                           {"fields", OPT_FLAG, .help = "what the register's fields take"},
                                           {"keys", OPT_FLAG, .help = "the names of the rows alone, a line each"},
                                           {0}},
    .args_max = 4,
    .prints_json = true,
    .run = list_run,
};
