/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Registers, rows and fields by the words that are typed, with the nearest offered. */
#include "neap/naming.h"
#include "neap/exchange.h"

const struct reg *register_named(const char *word, struct err *e)
{
    const char *names[N_REGS];
    char quoted[EXCERPT_TEXT];
    const struct reg *r = reg_find(word);
    if (!r && !strpbrk(word, "./"))
        r = exchange_reg_of(word); /* knows the plurals */
    if (r)
        return r;
    for (size_t i = 0; i < N_REGS; i++)
        names[i] = reg_get((enum reg_id)i)->name;
    const char *near_by = name_nearest(word, names, N_REGS);
    err_set(e, ERR_MISUSE, NULL, "there is no register \"%s\"%s%s%s", text_excerpt(word, quoted),
            near_by ? "; did you mean \"" : "; neap list shows them", near_by ? near_by : "", near_by ? "\"?" : "");
    return NULL;
}

const struct reg *register_typed(const char *word, struct err *e)
{
    const struct reg *r = register_named(word, e);
    if (!r || (r->typed && !r->ledger))
        return r;
    if (r->typed)
        err_set(e, ERR_MISUSE, NULL, "%s is a ledger that only grows; neap %s writes to it", r->name, r->name);
    else
        err_set(e, ERR_MISUSE, NULL, "%s is written by plan and log alone", r->name);
    return NULL;
}

bool row_unknown(const struct facility *f, enum reg_id id, const char *name, struct err *e)
{
    const struct reg *r = reg_get(id);
    char quoted[EXCERPT_TEXT];
    const char *row = *(const char *const *)((const char *)f + r->array_offset);
    size_t n = *(const size_t *)((const char *)f + r->count_offset);
    struct arena a = {0};
    const char **names = arena_alloc(&a, n, sizeof *names);
    for (size_t i = 0; names && i < n; i++)
        names[i] = *(const char *const *)(row + i * r->row_size + r->fields[0].offset);
    const char *near_by = names ? name_nearest(name, names, n) : NULL;
    err_set(e, ERR_NOT_FOUND, NULL, "there is no %s \"%s\"%s%s%s", r->name, text_excerpt(name, quoted),
            near_by ? "; did you mean \"" : "", near_by ? near_by : "", near_by ? "\"?" : "");
    arena_free(&a);
    return near_by ? false : err_help(e, HELP_LIST, r->name);
}

size_t register_n_keys(const struct reg *r)
{
    size_t n = 0;
    while (n < r->n_fields && field_is_key(&r->fields[n]))
        n++;
    return n;
}

size_t field_named(const struct reg *r, const char *word, struct err *e)
{
    const char *names[FIELDS_MAX];
    char quoted[EXCERPT_TEXT];
    size_t at = reg_field(r, word);
    if (at != SIZE_MAX)
        return at;
    for (size_t i = 0; i < r->n_fields; i++)
        names[i] = r->fields[i].name;
    const char *near_by = name_nearest(word, names, r->n_fields);
    for (size_t i = 0; !near_by && i < r->n_fields; i++) /* the unit left out: "length" for "length_cm" */
        if (strncmp(names[i], word, strlen(word)) == 0 && names[i][strlen(word)] == '_')
            near_by = names[i];
    bool setting = r == settings_reg();
    err_set(e, ERR_MISUSE, NULL, "%s%s \"%s\"%s%s%s", setting ? "there is no setting" : r->name,
            setting ? "" : " has no field", text_excerpt(word, quoted), near_by ? "; did you mean \"" : "; neap list ",
            near_by   ? near_by
            : setting ? "setting"
                      : r->name,
            near_by ? "\"?" : " --fields shows them");
    return SIZE_MAX;
}

void row_words(const struct reg *r, const struct cell *cells, struct text *out)
{
    bool quote = r->fields[0].type == FIELD_NAME;
    text_add(out, r->name);
    for (size_t i = 0; i < register_n_keys(r); i++) {
        text_add(out, quote ? " \"" : " ");
        cell_format(&r->fields[i], &cells[i], out);
        text_add(out, quote ? "\"" : "");
    }
}

void value_words(const struct field *f, const struct cell *c, struct text *out)
{
    if (c->kind == CELL_EMPTY)
        text_add(out, "(empty)");
    else
        cell_format(f, c, out);
}

void changes_words(const struct reg *r, const struct cell *before, const struct cell *after, struct text *out)
{
    for (size_t i = 0; i < r->n_fields; i++) {
        if (cell_same(&before[i], &after[i]))
            continue;
        text_addf(out, "  %s: ", r->fields[i].name);
        value_words(&r->fields[i], &before[i], out);
        text_add(out, " -> ");
        value_words(&r->fields[i], &after[i], out);
        text_add(out, "\n");
    }
}

static bool with_name(const struct field *f, const struct err *why, struct err *e)
{
    return err_set(e, why->code, NULL, "%s%s%s", f->name, why->of_value ? " " : ": ", why->text) ||
           err_help(e, why->help, why->help_about);
}

bool key_read(const struct reg *r, const char *const *args, struct cell *cells, struct arena *a, struct err *e)
{
    struct err why;
    for (size_t i = 0; i < register_n_keys(r); i++) {
        if (!cell_parse(&r->fields[i], args[i], a, &cells[i], &why))
            return with_name(&r->fields[i], &why, e);
        if (cells[i].kind == CELL_EMPTY)
            return err_set(e, ERR_INPUT, NULL, "%s is empty; expected %s", r->fields[i].name, r->fields[i].help);
    }
    return true;
}

bool value_read(const struct field *f, const char *text, struct arena *a, struct cell *c, struct err *e)
{
    struct err why;
    return cell_read(f, text, a, c, &why) || with_name(f, &why, e);
}

bool blame_field(const struct reg *r, size_t field, struct err *e)
{
    const struct err why = *e;
    if (field < r->n_fields && why.code != ERR_MEMORY && why.of_value)
        return with_name(&r->fields[field], &why, e);
    return false;
}
