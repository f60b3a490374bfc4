/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows of files put into the store, and what became of each. */
#include "neap/loading.h"
#include "neap/naming.h"

struct loader {
    struct store *store;
    struct load_counts *counts;
    struct load_watch *watch;        /* NULL: none */
    bool unread[N_REGS];             /* a file of this register could not be read at all */
    bool nameless[N_REGS];           /* a row was refused whose key could not be read */
    struct name_set refused[N_REGS]; /* keys of rows that others may point to */
    struct name_set plans;           /* kept by this load: number and revision */
};

static bool keep_refused(struct loader *l, const struct reg *r, const char *key, struct err *e)
{
    return names_add(&l->refused[r - reg_get(0)], key) || err_memory(e);
}

/*
 * The row points to nothing. Is that for a fault told before? It may be, too, where a row of that register had a name
 * that could not be read: then the missing name is told once.
 */
static bool follows_refused(struct loader *l, const struct exchange_row *row, size_t field, struct err *e)
{
    if (e->code != ERR_NOT_FOUND || field >= row->reg->n_fields || row->reg->fields[field].type != FIELD_REF)
        return false;
    const struct reg *to = reg_get(row->reg->fields[field].ref);
    const char *key = row->cells[field].text;
    if (l->unread[to - reg_get(0)])
        return true;
    if (names_have(&l->refused[to - reg_get(0)], key))
        return true;
    if (l->nameless[to - reg_get(0)])
        keep_refused(l, to, key, e); /* where memory is out, *e now says so */
    return false;
}

const char *put_words(enum put outcome)
{
    static const char *const words[] = {[PUT_NEW] = "new", [PUT_CHANGED] = "changed", [PUT_SAME] = "as it was"};
    return words[outcome];
}

void load_counts_add(struct load_counts *c, enum put outcome)
{
    c->added += outcome == PUT_NEW;
    c->changed += outcome == PUT_CHANGED;
    c->same += outcome == PUT_SAME;
}

/* ---- what was entered since ------------------------------------------------------------------------------------- */

void load_watch_free(struct load_watch *w)
{
    text_free(&w->set_back);
    text_free(&w->changes);
    entered_free(&w->entered);
}

/* The journal is read when the first row needs it, which in most loads none does. */
static bool know_entered(struct loader *l, struct err *e)
{
    struct load_watch *w = l->watch;
    if (w->entered_known)
        return true;
    w->entered_known = true;
    return entered_read(l->store, &w->entered, e);
}

/* "colony.csv:3: colony "D1-002": count 1 -> 2 sets back "neap count D1-002 1 sold" of 2026-11-27T12:00" */
static void set_back_words(const struct exchange_row *row, size_t field, const struct cell *before,
                           const struct entry *entry, struct load_watch *w)
{
    const struct field *f = &row->reg->fields[field];
    bool keep = w->mode == ENTERED_KEEP;
    text_addf(&w->set_back, "%s:%ld: ", row->at.file, row->at.line);
    row_words(row->reg, row->cells, &w->set_back);
    text_addf(&w->set_back, ": %s %s", f->name, keep ? "stays " : "");
    value_words(f, before, &w->set_back);
    text_add(&w->set_back, keep ? ", not " : " -> ");
    value_words(f, &row->cells[field], &w->set_back);
    text_addf(&w->set_back, "%s \"%s\" of %s\n", keep ? ":" : " sets back", entry->command, entry->made);
    w->n_set_back++;
}

/* Says which of the row's values were entered since; before: the row as it stood. */
static bool tell_entered(struct loader *l, const struct exchange_row *row, const struct cell *before, struct err *e)
{
    const struct entry *entry;
    if (!know_entered(l, e))
        return false;
    for (size_t i = 0; i < row->reg->n_fields; i++) {
        if (!row->present[i] || cell_same(&before[i], &row->cells[i]))
            continue;
        if (!entered_by(&l->watch->entered, row->reg, row->cells, i, &entry, e))
            return false;
        if (entry)
            set_back_words(row, i, &before[i], entry, l->watch);
    }
    return true;
}

/* In mode ENTERED_KEEP the file's word for such a value is as if it were not there. */
static bool leave_entered(struct loader *l, const struct exchange_row *row, bool *present, struct err *e)
{
    const struct entry *entry;
    if (!know_entered(l, e))
        return false;
    for (size_t i = 0; i < row->reg->n_fields; i++) {
        if (!entered_by(&l->watch->entered, row->reg, row->cells, i, &entry, e))
            return false;
        present[i] = row->present[i] && !entry;
    }
    return true;
}

static void list_change(struct load_watch *w, const struct reg *r, enum put outcome, const struct put_told *told)
{
    if (outcome == PUT_SAME || w->n_changes++ >= CHANGES_LISTED_MAX)
        return;
    row_words(r, told->after, &w->changes);
    text_addf(&w->changes, ": %s\n", put_words(outcome));
    if (outcome == PUT_CHANGED)
        changes_words(r, told->before, told->after, &w->changes);
}

static bool watch_put(struct loader *l, const struct exchange_row *row, enum put outcome, const struct put_told *told,
                      struct err *e)
{
    struct load_watch *w = l->watch;
    if (!w || !row->reg->typed || row->reg->ledger)
        return true;
    if (w->list)
        list_change(w, row->reg, outcome, told);
    bool looked_at = outcome == PUT_CHANGED || (w->mode == ENTERED_KEEP && outcome == PUT_SAME);
    return !looked_at || tell_entered(l, row, told->before, e);
}

/* ---- rows -------------------------------------------------------------------------------------------------------- */

static bool has_label(const struct exchange_row *row)
{
    bool any = false;
    for (int i = 0; i < N_LABEL_WORDS; i++)
        any = any || row->label.typed[i];
    return any;
}

/*
 * What a label prints, as the fields it stands for: by the unit and density of the file, else by those of the row as it
 * is.
 */
static bool fill_label(struct loader *l, struct exchange_row *row, size_t *field, struct err *e)
{
    struct cell old[FIELDS_MAX];
    struct arena arena = {0};
    struct text told = {0};
    bool known, ok = store_find(l->store, row->reg, row->cells, old, &known, &arena, e);
    for (int i = 0; ok && i < N_LABEL_WORDS; i++) {
        struct food_label one = {{0}};
        one.typed[i] = row->label.typed[i];
        if (!one.typed[i])
            continue;
        *field = label_field(row->reg, (enum label_word)i);
        ok = label_fill(&one, row->reg, known ? old : NULL, row->cells, row->present, &told, e);
    }
    text_free(&told);
    arena_free(&arena);
    return ok;
}

/* A file brings plans whole: to one that was kept before, it adds nothing. */
static bool plan_is_whole(struct loader *l, const struct reg *r, const struct cell *cells, enum put outcome,
                          size_t *field, struct err *e)
{
    char plan[48];
    bool part = r->part_of == REG_ROUND || r->part_of == REG_POT;
    if (outcome != PUT_NEW || (!part && r != reg_get(REG_ROUND)))
        return true;
    snprintf(plan, sizeof plan, "%ld %ld", cells[0].whole, cells[1].whole);
    if (!part)
        return names_add(&l->plans, plan) || err_memory(e);
    *field = SIZE_MAX; /* the row is at fault */
    return names_have(&l->plans, plan) ||
           err_set(e, ERR_INPUT, NULL, "is not in the kept plan; a kept plan never changes");
}

static bool put_row(struct loader *l, const struct exchange_row *row, size_t *field, struct err *e)
{
    bool kept[FIELDS_MAX];
    const bool *present = row->present;
    enum put outcome;
    struct put_told told;
    if (l->watch && l->watch->mode == ENTERED_KEEP) {
        if (!leave_entered(l, row, kept, e))
            return false;
        present = kept;
    }
    bool ok = store_put_told(l->store, row->reg, row->cells, present, &outcome, &told, field, e);
    if (!ok && follows_refused(l, row, *field, e)) {
        *e = (struct err){0};
        l->counts->followed++;
    }
    ok = ok && plan_is_whole(l, row->reg, told.after, outcome, field, e) && watch_put(l, row, outcome, &told, e);
    arena_free(&told.arena);
    if (!ok)
        return false;
    load_counts_add(l->counts, outcome);
    return true;
}

static bool put(void *context, const struct exchange_row *row, size_t *field, struct err *e)
{
    struct exchange_row filled;
    if (!has_label(row))
        return put_row(context, row, field, e);
    filled = *row;
    return fill_label(context, &filled, field, e) && put_row(context, &filled, field, e);
}

static bool note_refused(void *context, const struct exchange_row *row, struct err *e)
{
    struct loader *l = context;
    if (row->reg->fields[0].type != FIELD_NAME)
        return true; /* nothing points to it */
    if (row->cells[0].kind == CELL_TEXT)
        return keep_refused(l, row->reg, row->cells[0].text, e);
    l->nameless[row->reg - reg_get(0)] = true;
    return true;
}

/* Registers come in the order of their table, so that a row is there before those that point to it; JSON comes last. */
static size_t source_rank(const struct source *src, const struct reg *as)
{
    const struct reg *r = as ? as : exchange_reg_of(src->name);
    return r ? (size_t)(r - reg_get(0)) : N_REGS;
}

static bool load_source(struct loader *l, const struct source *src, const struct reg *as, size_t rank,
                        struct faults *faults, struct err *e)
{
    const struct exchange_sink sink = {put, l, note_refused};
    size_t rows = 0, n_before = faults->n;
    if (!exchange_read(src, as, &sink, faults, &rows, e))
        return false;
    l->counts->read += rows;
    if (rank < N_REGS && rows == 0 && faults->n > n_before)
        l->unread[rank] = true;
    return true;
}

/* ---- what a load leaves behind ---------------------------------------------------------------------------------- */

/* A question of audit that rows of files may give a new answer to: in no store that was sound before. */
struct asked_of_load {
    bool (*ask)(struct store *s, struct text *lines, struct err *e);
    bool (*touches)(const struct reg *r); /* may a row of this register? */
    const char *expected;
};

/* Rows of which a lot may come to have given more than it held. */
static bool touches_lots(const struct reg *r)
{
    return r == reg_get(REG_LOT) || r->ledger || r->part_of == REG_ROUND;
}

static bool touches_log(const struct reg *r)
{
    return r->ledger && strcmp(r->fields[0].name, "round") == 0;
}

static const struct asked_of_load asked_of_load[] = {
    {store_overdrawn, touches_lots, "; expected at least that as its amount_units, or a note"},
    {store_log_findings, touches_log, "; expected a log that the round's plan bears out"},
};

static bool may_touch(const struct source *sources, size_t n, const struct reg *as,
                      bool (*touches)(const struct reg *r))
{
    for (size_t i = 0; i < n; i++) {
        size_t rank = source_rank(&sources[i], as);
        if (rank == N_REGS || touches(reg_get((enum reg_id)rank))) /* JSON may hold any */
            return true;
    }
    return false;
}

/* The first line of those that was not among those before; NULL: none. */
static const char *first_new(const struct text *before, const struct text *after)
{
    for (const char *line = text_str(after); *line; line += strcspn(line, "\n") + 1) {
        size_t len = strcspn(line, "\n") + 1;
        const char *was = text_str(before);
        while (*was && strncmp(was, line, len) != 0)
            was += strcspn(was, "\n") + 1;
        if (!*was)
            return line;
    }
    return NULL;
}

static bool answers_as_before(struct store *s, const struct asked_of_load *asked, const struct text *before,
                              struct err *e)
{
    struct text after = {0};
    bool ok = asked->ask(s, &after, e);
    const char *line = ok ? first_new(before, &after) : NULL;
    if (line)
        ok = err_set(e, ERR_INPUT, NULL, "nothing stored: %.*s%s", (int)strcspn(line, "\n"), line, asked->expected);
    text_free(&after);
    return ok;
}

bool load_sources(struct store *s, const struct source *sources, size_t n, const struct reg *as, struct faults *faults,
                  struct load_counts *counts, struct load_watch *watch, struct err *e)
{
    struct loader l = {.store = s, .counts = counts, .watch = watch};
    struct text before[COUNT_OF(asked_of_load)] = {{0}};
    bool asks[COUNT_OF(asked_of_load)], ok = true;
    for (size_t i = 0; i < COUNT_OF(asked_of_load); i++) {
        asks[i] = may_touch(sources, n, as, asked_of_load[i].touches);
        ok = ok && (!asks[i] || asked_of_load[i].ask(s, &before[i], e));
    }
    for (size_t rank = 0; rank <= N_REGS; rank++)
        for (size_t i = 0; ok && i < n; i++)
            if (source_rank(&sources[i], as) == rank)
                ok = load_source(&l, &sources[i], as, rank, faults, e);
    counts->refused = counts->read - counts->added - counts->changed - counts->same;
    for (size_t i = 0; i < COUNT_OF(asked_of_load); i++) {
        ok = ok && (!asks[i] || faults->n > 0 || answers_as_before(s, &asked_of_load[i], &before[i], e));
        text_free(&before[i]);
    }
    for (size_t i = 0; i < N_REGS; i++)
        names_free(&l.refused[i]);
    names_free(&l.plans);
    return ok;
}

void load_counts_words(const struct load_counts *c, struct text *out)
{
    text_addf(out, "read %zu, new %zu, changed %zu, same %zu, refused %zu", c->read, c->added, c->changed, c->same,
              c->refused);
}
