/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap history: show the journal, or what became of one row. */
#include "cli.h"

#include "neap/log.h"
#include "neap/naming.h"
#include "neap/print.h"
#include "neap/response.h"

enum { ENTRIES_SHOWN = 20 };

struct history_page {
    struct context *c;
    struct store *store;
    struct document page;
    const struct reg *reg;
    struct cell key[FIELDS_MAX];
    struct arena arena;
    const struct entry *entry; /* being walked */
    struct json_text json;
    size_t n, n_fed;
};

/* ---- the journal ----------------------------------------------------------------------------------------------- */

static bool journal_row(void *context, const struct entry *entry, struct err *e)
{
    struct history_page *h = context;
    bool sound;
    if (!store_entry_sound(h->store, entry->id, &sound, e))
        return false;
    if (h->c->json) {
        json_open(&h->json, NULL, '{');
        json_number_member(&h->json, "entry", (double)entry->id);
        json_text_member(&h->json, "made", entry->made);
        json_text_member(&h->json, "command", entry->command);
        json_number_member(&h->json, "takes_back", entry->undoes ? (double)entry->undoes : (double)NAN);
        json_flag_member(&h->json, "damaged", !sound);
        json_number_member(&h->json, "taken_back_by", entry->undone_by ? (double)entry->undone_by : (double)NAN);
        json_close(&h->json);
        return true;
    }
    const char *what = document_format(&h->page, "%s", entry->command);
    if (entry->undone_by)
        what = document_format(&h->page, "%s (taken back by %ld)", entry->command, entry->undone_by);
    else if (entry->undoes)
        what = document_format(&h->page, "%s (took back %ld)", entry->command, entry->undoes);
    if (!sound)
        what = document_format(&h->page, "%s (damaged: it cannot be read nor taken back)", what);
    document_row(&h->page, (const char *[]){document_format(&h->page, "%ld", entry->id),
                                            document_format(&h->page, "%s", entry->made), what});
    h->n++;
    return true;
}

static bool tell_journal(struct history_page *h, struct err *e)
{
    static const struct column columns[] = {{"entry", 6, true}, {"made", 16, false}, {"command", 0, false}};
    long most = option_given(h->c, "all") ? -1 : (long)option_number(h->c, "last", ENTRIES_SHOWN);
    if (h->c->json) {
        json_open(&h->json, "entries", '[');
        bool ok = store_each_entry(h->store, most, journal_row, h, e);
        json_close(&h->json);
        return ok;
    }
    document_table(&h->page, columns, COUNT_OF(columns));
    if (!store_each_entry(h->store, most, journal_row, h, e))
        return false;
    if (h->n == 0)
        document_text(&h->page, "the journal is empty");
    return render_text(&h->page, h->c->out_width, 0, h->c->out, e);
}

/* ---- one row ---------------------------------------------------------------------------------------------------- */

static bool is_wanted(const struct history_page *h, const struct row_change *change)
{
    if (change->reg != h->reg)
        return false;
    for (size_t i = 0; i < register_n_keys(h->reg); i++)
        if (!cell_same(&change->after[i], &h->key[i]))
            return false;
    return true;
}

static void change_words(const struct row_change *change, struct text *out)
{
    const char *between = "";
    text_add(out, change->what == CHANGE_ADDED ? "new: " : change->what == CHANGE_REMOVED ? "removed" : "");
    for (size_t i = register_n_keys(change->reg); i < change->reg->n_fields; i++) {
        const struct field *f = &change->reg->fields[i];
        if (change->what == CHANGE_REMOVED || !change->touched[i] ||
            (change->what == CHANGE_ADDED && change->after[i].kind == CELL_EMPTY))
            continue;
        text_addf(out, "%s%s ", between, f->name);
        between = "; ";
        if (change->what == CHANGE_SET) {
            value_words(f, &change->before[i], out);
            text_add(out, " -> ");
        }
        value_words(f, &change->after[i], out);
    }
}

static void json_cell(struct json_text *j, const char *key, const struct field *f, const struct cell *c)
{
    if (c->kind == CELL_TEXT)
        json_text_member(j, key, c->text);
    else if (c->kind == CELL_WHOLE && f->type == FIELD_FLAG)
        json_flag_member(j, key, c->whole != 0);
    else
        json_number_member(j, key,
                           c->kind == CELL_WHOLE    ? (double)c->whole
                           : c->kind == CELL_NUMBER ? c->number
                                                    : (double)NAN);
}

static void json_change(struct history_page *h, const struct row_change *change)
{
    static const char *const what[] = {[CHANGE_ADDED] = "added", [CHANGE_SET] = "set", [CHANGE_REMOVED] = "removed"};
    struct json_text *j = &h->json;
    json_open(j, NULL, '{');
    json_number_member(j, "entry", (double)h->entry->id);
    json_text_member(j, "made", h->entry->made);
    json_flag_member(j, "by_undo", h->entry->undoes != 0);
    json_text_member(j, "what", what[change->what]);
    json_open(j, "fields", '[');
    for (size_t i = register_n_keys(change->reg); i < change->reg->n_fields; i++) {
        const struct field *f = &change->reg->fields[i];
        if (!change->touched[i] || (change->before[i].kind == CELL_EMPTY && change->after[i].kind == CELL_EMPTY))
            continue;
        json_open(j, NULL, '{');
        json_text_member(j, "field", f->name);
        json_cell(j, "before", f, &change->before[i]);
        json_cell(j, "after", f, &change->after[i]);
        json_close(j);
    }
    json_close(j);
    json_close(j);
}

static bool row_change(void *context, const struct row_change *change, struct err *e)
{
    struct history_page *h = context;
    struct text words = {0};
    if (!is_wanted(h, change))
        return true;
    if (h->c->json) {
        json_change(h, change);
        h->n++;
        return true;
    }
    change_words(change, &words);
    const char *cells[] = {document_format(&h->page, "%ld", h->entry->id),
                           document_format(&h->page, "%s", h->entry->made),
                           document_format(&h->page, "%s%s", h->entry->undoes ? "by undo: " : "", text_str(&words))};
    document_row(&h->page, cells);
    h->n++;
    bool ok = !words.failed;
    text_free(&words);
    return ok ? true : err_memory(e);
}

/* What a damaged entry did is not known, to this row or another; the others are told all the same. */
static void tell_damaged(struct history_page *h, const struct entry *entry)
{
    if (h->c->json) {
        json_open(&h->json, NULL, '{');
        json_number_member(&h->json, "entry", (double)entry->id);
        json_text_member(&h->json, "made", entry->made);
        json_flag_member(&h->json, "by_undo", entry->undoes != 0);
        json_text_member(&h->json, "what", "damaged");
        json_open(&h->json, "fields", '[');
        json_close(&h->json);
        json_close(&h->json);
        return;
    }
    document_row(&h->page, (const char *[]){document_format(&h->page, "%ld", entry->id),
                                            document_format(&h->page, "%s", entry->made),
                                            "damaged: what it did, to this or other rows, cannot be told"});
}

static bool row_entry(void *context, const struct entry *entry, struct err *e)
{
    struct history_page *h = context;
    bool sound;
    h->entry = entry;
    if (!store_entry_sound(h->store, entry->id, &sound, e))
        return false;
    if (!sound) {
        tell_damaged(h, entry);
        return true;
    }
    return store_each_change(h->store, entry->id, row_change, h, e);
}

/* ---- what a colony was given ------------------------------------------------------------------------------------ */

static void json_fed(struct json_text *j, const struct fed_line *l)
{
    const struct reg *given = reg_get(REG_GIVEN);
    char day[DAY_TEXT];
    day_format(l->day, day);
    json_open(j, NULL, '{');
    json_text_member(j, "day", day);
    json_number_member(j, "round", (double)l->given.round);
    json_text_member(j, "name", l->name);
    json_number_member(j, "line", (double)l->given.line);
    json_text_member(j, "tank", l->tank);
    json_text_member(j, "pot", l->pot);
    json_number_member(j, "planned_ml", l->planned_ml);
    json_text_member(j, "outcome", given->fields[reg_field(given, "outcome")].choices[l->given.outcome]);
    json_number_member(j, "amount_ml", l->given.amount);
    json_number_member(j, "response", l->given.response >= 0 ? (double)l->given.response : (double)NAN);
    json_number_member(j, "at_min", l->given.at_min >= 0 ? (double)l->given.at_min : (double)NAN);
    json_close(j);
}

static bool fed_row(void *context, const struct fed_line *l, struct err *e)
{
    static const struct column columns[] = {
        {"fed on", 10, false}, {"round", 12, false}, {"line", 4, true},
        {"tank", 10, false},   {"planned", 9, true}, {"what became of it", 0, false},
    };
    struct history_page *h = context;
    const struct line line = {.food = REF_NONE, .amount = l->planned_ml};
    struct text words = {0};
    char day[DAY_TEXT];
    if (h->c->json) {
        json_fed(&h->json, l);
        return true;
    }
    if (h->n_fed++ == 0) {
        document_space(&h->page);
        document_table(&h->page, columns, COUNT_OF(columns));
    }
    day_format(l->day, day);
    log_given_words(NULL, &line, &l->given, &words);
    const char *cells[] = {
        document_format(&h->page, "%s", day),
        document_format(&h->page, *l->name ? "%ld %s" : "%ld", l->given.round, l->name),
        document_format(&h->page, "%ld", l->given.line),
        document_format(&h->page, "%s", l->tank),
        document_format(&h->page, "%.2f mL", l->planned_ml),
        document_format(&h->page, "%s", text_str(&words)),
    };
    document_row(&h->page, cells);
    bool ok = !words.failed;
    text_free(&words);
    return ok ? true : err_memory(e);
}

static bool tell_fed(struct history_page *h, struct err *e)
{
    if (h->reg != reg_get(REG_COLONY))
        return true;
    if (h->c->json)
        json_open(&h->json, "fed", '[');
    bool ok = store_each_fed_line(h->store, h->key[0].text, fed_row, h, e);
    if (h->c->json)
        json_close(&h->json);
    return ok;
}

/* ---- the command ------------------------------------------------------------------------------------------------ */

static bool json_row(struct history_page *h, struct err *e)
{
    struct json_text *j = &h->json;
    json_text_member(j, "register", h->reg->name);
    json_open(j, "key", '{');
    for (size_t i = 0; i < register_n_keys(h->reg); i++)
        json_cell(j, h->reg->fields[i].name, &h->reg->fields[i], &h->key[i]);
    json_close(j);
    json_open(j, "changes", '[');
    bool ok = store_each_entry(h->store, -1, row_entry, h, e);
    json_close(j);
    return ok;
}

static bool page_row(struct history_page *h, struct err *e)
{
    static const struct column columns[] = {{"entry", 6, true}, {"made", 16, false}, {"what changed", 0, false}};
    document_table(&h->page, columns, COUNT_OF(columns));
    return store_each_entry(h->store, -1, row_entry, h, e);
}

static bool tell_row(struct history_page *h, struct err *e)
{
    struct text name = {0};
    if (!(h->c->json ? json_row(h, e) : page_row(h, e)))
        return false;
    if (h->n > 0)
        return tell_fed(h, e) && (h->c->json || render_text(&h->page, h->c->out_width, 0, h->c->out, e));
    row_words(h->reg, h->key, &name);
    err_set(e, ERR_NOT_FOUND, NULL, "the journal knows nothing of %s; neap list %s shows what is there",
            text_str(&name), h->reg->name);
    text_free(&name);
    return false;
}

static bool history_begin(struct history_page *h, struct err *e)
{
    const struct context *c = h->c;
    if (c->n_args == 0)
        return true;
    if (!(h->reg = register_named(c->args[0], e)))
        return false;
    if (c->n_args - 1 != register_n_keys(h->reg))
        return err_set(e, ERR_MISUSE, NULL, "which %s? expected %zu word%s behind it, as neap list %s shows them",
                       h->reg->name, register_n_keys(h->reg), register_n_keys(h->reg) == 1 ? "" : "s", h->reg->name);
    return key_read(h->reg, c->args + 1, h->key, &h->arena, e);
}

/* The key as it is, where it was typed in another case. A row that is gone still has its history. */
static bool find_key(struct history_page *h, struct err *e)
{
    struct cell cells[FIELDS_MAX];
    bool found;
    if (!h->reg || register_n_keys(h->reg) != 1)
        return true;
    if (!store_find(h->store, h->reg, h->key, cells, &found, &h->arena, e))
        return false;
    if (found)
        h->key[0] = cells[0];
    return true;
}

static bool history_run(struct context *c, struct err *e)
{
    struct history_page h = {.c = c, .json = {.out = c->out}};
    bool ok = history_begin(&h, e) && context_open(c, STORE_READ, &h.store, e) && store_begin_reading(h.store, e) &&
              find_key(&h, e);
    if (ok && c->json) {
        json_open(&h.json, NULL, '{');
        json_number_member(&h.json, "schema", JSON_PRINT_SCHEMA);
    }
    ok = ok && (h.reg ? tell_row(&h, e) : tell_journal(&h, e));
    if (ok && c->json)
        json_close(&h.json);
    store_close(h.store);
    document_free(&h.page);
    arena_free(&h.arena);
    return ok;
}

const struct command command_history = {
    .name = "history",
    .place = 630,
    .summary = "show the journal, or what became of one row",
    .also = "journal",
    .usage = "[REGISTER KEY…]",
    .about = "Without a row: the latest journal entries, newest first, and which were taken back. With one: every "
             "entry that "
             "changed it, and from what to what; of a colony, also what it was given, as logged.",
    .example = "neap history tank D1",
    .options = (const struct option_row[]){{"last", OPT_COUNT, "N", .min = 1, .max = 1000000,
                                            .help = "this many entries, else 20"},
                                           {"all", OPT_FLAG, .help = "the whole journal"},
                                           {0}},
    .args_max = 5,
    .prints_json = true,
    .run = history_run,
};
