/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One source into the sink: which register it is of, and who reads it. */
#include "exchange/exchange_internal.h"

#include <ctype.h>
#include <stdlib.h>

/* ---- which register --------------------------------------------------------------------------------------------- */

/* "Data/Tanks.CSV" is "tanks". false: too long for any register. */
static bool file_stem(const char *file_name, char *stem, size_t room)
{
    const char *base = strrchr(file_name, '/') ? strrchr(file_name, '/') + 1 : file_name;
    const char *dot = strrchr(base, '.');
    size_t n = dot ? (size_t)(dot - base) : strlen(base);
    if (n >= room)
        return false;
    for (size_t i = 0; i < n; i++)
        stem[i] = (char)tolower((unsigned char)base[i]);
    stem[n] = '\0';
    return true;
}

static bool is_word_for(const char *stem, const char *name)
{
    size_t n = strlen(name);
    if (strncmp(stem, name, n) == 0 && (stem[n] == '\0' || strcmp(stem + n, "s") == 0))
        return true;
    return name[n - 1] == 'y' && strncmp(stem, name, n - 1) == 0 && strcmp(stem + n - 1, "ies") == 0;
}

const struct reg *exchange_reg_of(const char *file_name)
{
    char stem[32];
    if (!file_stem(file_name, stem, sizeof stem))
        return NULL;
    for (size_t i = 0; i < N_REGS; i++)
        if (is_word_for(stem, reg_get((enum reg_id)i)->name))
            return reg_get((enum reg_id)i);
    return NULL;
}

static void fault_add_no_register(struct file_reading *r)
{
    char stem[64];
    struct text list = {0};
    const char *near_by = file_stem(r->file, stem, sizeof stem) ? register_nearest(stem) : NULL;
    for (size_t i = 0; i < N_REGS; i++)
        text_addf(&list, "%s%s", i == 0 ? "" : ", ", reg_get((enum reg_id)i)->name);
    fault_add(r, (struct place){r->file, 0, 0},
              "the name does not say which register this is; expected one of %s, as in tank.csv%s%s%s", text_str(&list),
              near_by ? " (did you mean \"" : "", near_by ? near_by : "", near_by ? "\"?)" : "");
    text_free(&list);
}

/* ---- one source ------------------------------------------------------------------------------------------------- */

static bool is_json(struct file_reading *r)
{
    const char *dot = strrchr(r->file, '.');
    size_t i = 0;
    while (i < r->len && is_blank(byte_at(r, i)))
        i++;
    return (i < r->len && byte_at(r, i) == '{') || (dot && strcmp(dot, ".json") == 0);
}

bool exchange_read(const struct source *src, const struct reg *as, const struct exchange_sink *sink,
                   struct faults *faults, size_t *n_rows, struct err *e)
{
    struct err own;
    struct file_reading r = {.file = src->name,
                             .bytes = src->bytes,
                             .len = src->len,
                             .source = src,
                             .form = src->form ? *src->form : (struct csv_form){0},
                             .later_d = src->later_d,
                             .sink = sink,
                             .faults = faults,
                             .n_rows = n_rows,
                             /* cppcheck-suppress uninitvar ; its address alone */
                             .e = e ? e : &own};
    *n_rows = 0;
    if (src->fetch && !(r.window = malloc(src->room)))
        return err_memory(r.e);
    const struct reg *reg = as ? as : exchange_reg_of(src->name);
    bool json = is_json(&r);
    if (json)
        r.form.encoding = ENCODING_UTF_8; /* RFC 8259: no other */
    if (bytes_open(&r, json) && (!r.bytes || encoding_read(&r))) {
        if (json)
            json_read(&r);
        else if (reg)
            csv_read(&r, reg);
        else
            fault_add_no_register(&r);
    }
    if (r.note.len > 0)
        text_addf(&faults->notes, "%s: read %s\n", src->name, text_str(&r.note));
    if (!r.ended && (r.note.failed || faults->notes.failed))
        reading_end_memory(&r);
    text_free(&r.note);
    text_free(&r.decoded);
    free(r.window);
    free(r.whole);
    arena_free(&r.arena);
    return !r.ended;
}
