/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap dump: write out all that is stored, as JSON or CSV. */
#include "cli.h"
#include "files.h"

#include "neap/naming.h"
#include "neap/replan.h"

#include <errno.h>
#include <sys/stat.h>

struct table {
    const struct reg *reg;
    const struct csv_form *form;
    struct text *out;
    size_t n;
};

static bool table_row(void *context, const struct cell *cells, struct err *e)
{
    struct table *t = context;
    (void)e;
    if (t->n++ == 0)
        csv_write_head(t->reg, t->form, t->out);
    csv_write_row(t->reg, cells, t->form, t->out);
    return true;
}

static bool dump_table(struct store *s, const struct reg *r, const struct csv_form *form, struct text *out,
                       struct err *e)
{
    struct table t = {r, form, out, 0};
    return store_each(s, r, table_row, &t, e) && (out->failed ? err_memory(e) : true);
}

static bool dump_folder(struct context *c, struct store *s, const char *folder, const struct csv_form *form,
                        struct err *e)
{
    size_t n = 0;
    bool ok =
        mkdir(folder, 0777) == 0 || errno == EEXIST || err_set(e, ERR_IO, NULL, "%s: %s", folder, strerror(errno));
    for (size_t i = 0; ok && i < N_REGS; i++) {
        const struct reg *r = reg_get((enum reg_id)i);
        struct text rows = {0}, path = {0};
        text_addf(&path, "%s/%s.csv", folder, r->name);
        ok = dump_table(s, r, form, &rows, e) && (path.failed ? err_memory(e) : true);
        if (ok && rows.len > 0) {
            ok = file_write(text_str(&path), rows.s, rows.len, e);
            n++;
        }
        text_free(&rows);
        text_free(&path);
    }
    if (ok)
        text_addf(c->out, "wrote %zu file%s into %s\n", n, n == 1 ? "" : "s", folder);
    return ok;
}

struct dumped_register {
    struct json_dump *dump;
    const struct reg *reg;
};

static bool document_row(void *context, const struct cell *cells, struct err *e)
{
    struct dumped_register *d = context;
    return json_dump_row(d->dump, d->reg, cells, e);
}

/* only: the one register wanted, NULL all. */
static bool dump_document(struct store *s, const struct reg *only, struct text *out, struct err *e)
{
    struct dumped_register d = {.dump = json_dump_new(e)};
    bool ok = d.dump != NULL;
    for (size_t i = 0; ok && i < N_REGS; i++) {
        d.reg = reg_get((enum reg_id)i);
        ok = (only && only != d.reg) || store_each(s, d.reg, document_row, &d, e);
    }
    ok = ok && json_dump_text(d.dump, out, e);
    json_dump_free(d.dump);
    return ok;
}

static bool dump_run(struct context *c, struct err *e)
{
    struct store *s;
    struct csv_form form;
    struct arena none = {0};
    const struct reg *only = NULL;
    bool csv = !c->json && (c->n_args == 1 || option_given(c, "into"));
    bool formed = csv_form_given(c, &form, &none, e);
    arena_free(&none); /* of headings that --map names, which dump has not */
    if (!formed)
        return false;
    if (!csv && (form.separator || form.decimal))
        return err_set(e, ERR_MISUSE, NULL, "--sep and --decimal are for CSV; expected a register, or --into FOLDER");
    if (c->n_args == 1 && !(only = register_named(c->args[0], e)))
        return false;
    if (only && option_given(c, "into"))
        return err_set(e, ERR_MISUSE, NULL, "--into writes every register; expected no %s", c->args[0]);
    if (!context_open(c, STORE_READ, &s, e))
        return false;
    bool ok = store_begin_reading(s, e);
    if (ok && option_given(c, "into"))
        ok = dump_folder(c, s, option_text(c, "into", ""), &form, e);
    else if (ok && only && !c->json)
        ok = dump_table(s, only, &form, c->out, e);
    else if (ok)
        ok = dump_document(s, only, c->out, e);
    store_close(s);
    return ok;
}

const struct command command_dump = {
    .name = "dump",
    .place = 530,
    .summary = "write out all that is stored, as JSON or CSV",
    .also = "export save json",
    .usage = "[REGISTER]",
    .about =
        "Prints the whole store as one JSON document, a row per line; or one register as CSV; or writes a CSV file for "
        "every register that has rows into a folder. load reads all three back: into an empty store (start --empty) "
        "they give the same dump again, byte for byte. --sep semicolon --decimal comma is for spreadsheets in "
        "languages that "
        "write 0,5. The journal is not part of it; backup keeps that too.",
    .example = "neap dump tank",
    .options =
        (const struct option_row[]){
            {"into", OPT_TEXT, "FOLDER", .help = "a CSV file per register"}, OPTION_CSV_SEP, OPTION_CSV_DECIMAL, {0}},
    .args_max = 1,
    .prints_json = true,
    .run = dump_run,
};
