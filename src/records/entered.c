/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which entry of the journal a value came by. */
#include "neap/entered.h"
#include "neap/naming.h"

/* What entered a value. by_file: a later load has said it again. */
struct value {
    const struct entry *entry;
    bool by_file;
};

struct reading_journal {
    struct store *store;
    struct entered *en;
    const struct entry *entry; /* being walked */
    struct entry *kept;        /* its copy, once it entered a value; NULL: none yet */
    long *loads;               /* ids of the entries that are loads */
    size_t n_loads, room;
    bool settling; /* the second walk, over the loads */
    long oldest;   /* entry that entered a value; 0: none yet */
};

/* Where a value stands: register, key cells and field, a line each. */
static void key_words(const struct reg *r, const struct cell *cells, size_t field, struct text *out)
{
    text_addf(out, "%s\n", r->name);
    for (size_t i = 0; i < register_n_keys(r); i++) {
        cell_format(&r->fields[i], &cells[i], out);
        text_add(out, "\n");
    }
    text_add(out, r->fields[field].name);
}

/* The journal is read from its end, so that the first to have touched a value is the one that made it what it is. */
static bool keep_value(struct reading_journal *j, const char *key, struct err *e)
{
    if (names_have(&j->en->values, key))
        return true;
    struct value *v = arena_alloc(&j->en->arena, 1, sizeof *v);
    if (!j->kept && (j->kept = arena_alloc(&j->en->arena, 1, sizeof *j->kept)))
        *j->kept = *j->entry;
    if (!v || !j->kept)
        return err_memory(e);
    v->entry = j->kept;
    j->oldest = j->entry->id;
    return names_add_value(&j->en->values, key, v) ? true : err_memory(e);
}

static void settle(struct reading_journal *j, const char *key)
{
    struct value *v = names_value(&j->en->values, key);
    if (v && v->entry->id < j->entry->id)
        v->by_file = true;
}

/* A row that was added is no change: no file had said anything of it. Ledgers and kept plans are not loaded again. */
static bool take_change(void *context, const struct row_change *change, struct err *e)
{
    struct reading_journal *j = context;
    const struct reg *r = change->reg;
    bool ok = true;
    if (change->what != CHANGE_SET || !r->typed || r->ledger)
        return true;
    for (size_t i = register_n_keys(r); ok && i < r->n_fields; i++) {
        struct text key = {0};
        if (!change->touched[i])
            continue;
        key_words(r, change->after, i, &key);
        if (key.failed)
            ok = err_memory(e);
        else if (j->settling)
            settle(j, text_str(&key));
        else
            ok = keep_value(j, text_str(&key), e);
        text_free(&key);
    }
    return ok;
}

/* "neap --on 2026-11-27 load tables": the first word that is neither an option nor an option's value. */
static bool is_load(const char *typed)
{
    const char *word = strchr(typed, ' ');
    while (word) {
        word++;
        bool takes_value =
            strncmp(word, "--db ", 5) == 0 || strncmp(word, "--on ", 5) == 0 || strncmp(word, "--units ", 8) == 0;
        if (*word != '-')
            return strncmp(word, "load ", 5) == 0;
        word = strchr(word, ' ');
        if (word && takes_value)
            word = strchr(word + 1, ' ');
    }
    return false;
}

static bool take_entry(void *context, const struct entry *entry, struct err *e)
{
    struct reading_journal *j = context;
    bool sound;
    if (entry->undoes || entry->undone_by)
        return true;
    if (!store_entry_sound(j->store, entry->id, &sound, e))
        return false;
    if (!sound) {
        j->en->n_damaged++;
        return true;
    }
    if (is_load(entry->command)) {
        long *moved = mem_grow(j->loads, &j->room, j->n_loads + 1, sizeof *moved);
        if (!moved)
            return err_memory(e);
        j->loads = moved;
        j->loads[j->n_loads++] = entry->id;
        return true;
    }
    j->entry = entry;
    j->kept = NULL;
    return store_each_change(j->store, entry->id, take_change, j, e);
}

bool entered_read(struct store *s, struct entered *en, struct err *e)
{
    struct reading_journal j = {.store = s, .en = en};
    bool ok = store_each_entry(s, -1, take_entry, &j, e);
    j.settling = true;
    for (size_t i = 0; ok && j.oldest > 0 && i < j.n_loads && j.loads[i] > j.oldest; i++) {
        const struct entry load = {.id = j.loads[i]};
        j.entry = &load;
        ok = store_each_change(s, load.id, take_change, &j, e);
    }
    free(j.loads);
    return ok;
}

bool entered_by(const struct entered *en, const struct reg *r, const struct cell *cells, size_t field,
                const struct entry **entry, struct err *e)
{
    struct text key = {0};
    *entry = NULL;
    if (!en->values.root)
        return true;
    key_words(r, cells, field, &key);
    const struct value *v = key.failed ? NULL : names_value(&en->values, text_str(&key));
    if (v && !v->by_file)
        *entry = v->entry;
    bool ok = !key.failed;
    text_free(&key);
    return ok ? true : err_memory(e);
}

void entered_free(struct entered *en)
{
    names_free(&en->values);
    arena_free(&en->arena);
    *en = (struct entered){0};
}
