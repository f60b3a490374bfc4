#include "cli.h"

#include "naming.h"

#include "neap/print.h"

enum { ENTRIES_SHOWN = 20 };

struct history {
    struct context *c;
    struct store *store;
    struct document page;
    const struct reg *reg;
    struct cell key[FIELDS_MAX];
    struct arena arena;
    const struct entry *entry;            /* being walked */
    size_t n;
};

/* ---- the journal ----------------------------------------------------------------------------------------------- */

static bool journal_row(void *context, const struct entry *entry, struct err *e)
{
    struct history *h = context;
    const char *what = document_format(&h->page, "%s", entry->command);
    (void)e;
    if (entry->undone_by)
        what = document_format(&h->page, "%s (taken back by %ld)", entry->command, entry->undone_by);
    else if (entry->undoes)
        what = document_format(&h->page, "%s (took back %ld)", entry->command, entry->undoes);
    document_row(&h->page, (const char *[]){document_format(&h->page, "%ld", entry->id),
                                            document_format(&h->page, "%s", entry->made), what});
    h->n++;
    return true;
}

static bool tell_journal(struct history *h, struct err *e)
{
    static const struct column columns[] = {{"entry", 6, true}, {"made", 16, false}, {"command", 0, false}};
    long most = option_given(h->c, "all") ? -1 : (long)option_number(h->c, "last", ENTRIES_SHOWN);
    document_table(&h->page, columns, COUNT_OF(columns));
    if (!store_each_entry(h->store, most, journal_row, h, e))
        return false;
    if (h->n == 0)
        document_text(&h->page, "the journal is empty");
    return render_text(&h->page, h->c->out_width, 0, h->c->out, e);
}

/* ---- one row ---------------------------------------------------------------------------------------------------- */

static bool is_wanted(const struct history *h, const struct row_change *change)
{
    if (change->reg != h->reg)
        return false;
    for (size_t i = 0; i < register_n_keys(h->reg); i++)
        if (!cell_same(&change->after[i], &h->key[i]))
            return false;
    return true;
}

static void add_value(const struct field *f, const struct cell *c, struct text *out)
{
    if (c->kind == CELL_EMPTY)
        text_add(out, "(empty)");
    else
        cell_format(f, c, out);
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
            add_value(f, &change->before[i], out);
            text_add(out, " -> ");
        }
        add_value(f, &change->after[i], out);
    }
}

static bool row_change(void *context, const struct row_change *change, struct err *e)
{
    struct history *h = context;
    struct text words = {0};
    if (!is_wanted(h, change))
        return true;
    change_words(change, &words);
    const char *cells[] = {document_format(&h->page, "%ld", h->entry->id), document_format(&h->page, "%s", h->entry->made),
                           document_format(&h->page, "%s%s", h->entry->undoes ? "by undo: " : "", text_str(&words))};
    document_row(&h->page, cells);
    h->n++;
    bool ok = !words.failed;
    text_free(&words);
    return ok ? true : err_memory(e);
}

static bool row_entry(void *context, const struct entry *entry, struct err *e)
{
    struct history *h = context;
    h->entry = entry;
    return store_each_change(h->store, entry->id, row_change, h, e);
}

static bool tell_row(struct history *h, struct err *e)
{
    static const struct column columns[] = {{"entry", 6, true}, {"made", 16, false}, {"what changed", 0, false}};
    struct text name = {0};
    document_table(&h->page, columns, COUNT_OF(columns));
    if (!store_each_entry(h->store, -1, row_entry, h, e))
        return false;
    if (h->n > 0)
        return render_text(&h->page, h->c->out_width, 0, h->c->out, e);
    row_words(h->reg, h->key, &name);
    err_set(e, ERR_NOT_FOUND, NULL, "the journal knows nothing of %s; neap list %s shows what is there", text_str(&name),
            h->reg->name);
    text_free(&name);
    return false;
}

static bool history_begin(struct history *h, struct err *e)
{
    const struct context *c = h->c;
    if (c->n_args == 0)
        return true;
    if (!(h->reg = register_named(c->args[0], e)))
        return false;
    if (c->n_args - 1 != register_n_keys(h->reg))
        return err_set(e, ERR_MISUSE, NULL, "which %s? expected %zu word%s behind it, as neap list %s shows them", h->reg->name,
                       register_n_keys(h->reg), register_n_keys(h->reg) == 1 ? "" : "s", h->reg->name);
    return key_read(h->reg, c->args + 1, h->key, &h->arena, e);
}

static bool history_run(struct context *c, struct err *e)
{
    struct history h = {.c = c};
    bool ok = history_begin(&h, e) && context_open(c, STORE_READ, &h.store, e);
    ok = ok && (h.reg ? tell_row(&h, e) : tell_journal(&h, e));
    store_close(h.store);
    document_free(&h.page);
    arena_free(&h.arena);
    return ok;
}

const struct command command_history = {
    .name = "history",
    .summary = "show the journal, or what became of one row",
    .usage = "[REGISTER KEY…]",
    .about = "Without a row: the latest journal entries, newest first, and which were taken back. With one: every entry that "
             "changed it, and from what to what.",
    .example = "neap history tank D1",
    .options =
        (const struct option_row[]){
            {"last", OPT_COUNT, "N", .min = 1, .max = 1000000, .help = "so many entries, else 20"},
            {"all", OPT_FLAG, .help = "the whole journal"},
            {0}},
    .args_max = 5,
    .run = history_run,
};
