/* SPDX-License-Identifier: GPL-3.0-or-later */
/* backup and restore. */
#include "cli.h"

/* What the audit of the copy found is told, and the exit status is 1; the copy is there all the same. */
static void tell_copy(struct context *c, const char *made, const char *from, size_t n)
{
    if (n == 0) {
        text_addf(c->out, "%s: a sound copy of %s\n", made, from);
        return;
    }
    text_addf(c->out, "%s: a copy of %s with its %zu finding%s; neap audit shows them\n", made, from, n,
              n == 1 ? "" : "s");
    c->unsound = true;
}

static bool backup_run(struct context *c, struct err *e)
{
    struct store *s;
    if (!context_open(c, STORE_READ, &s, e))
        return false;
    bool dry = option_given(c, "dry-run");
    size_t n = 0;
    bool ok = dry || store_backup(s, c->args[0], c->notes, &n, e);
    if (ok && dry)
        text_addf(c->out, "%s: would be a copy of %s\n", c->args[0], store_path(s));
    else if (ok)
        tell_copy(c, c->args[0], store_path(s), n);
    store_close(s);
    return ok;
}

static bool restore_run(struct context *c, struct err *e)
{
    struct store *s = NULL;
    struct text path = {0};
    bool dry = option_given(c, "dry-run");
    size_t n = 0;
    bool ok = context_path(c, !dry, &path, e) && store_open(c->args[0], STORE_COPY, &s, e) &&
              (dry || store_copy_new(s, text_str(&path), c->notes, &n, e));
    if (ok && dry)
        text_addf(c->out, "%s: would be made from %s\n", text_str(&path), c->args[0]);
    else if (ok)
        tell_copy(c, text_str(&path), c->args[0], n);
    store_close(s);
    text_free(&path);
    return ok;
}

const struct command command_backup = {
    .name = "backup",
    .place = 650,
    .summary = "make a sound copy of the store, while it is in use",
    .also = "copy",
    .usage = "FILE",
    .about =
        "Copies the store as of one moment, journal and all, while others go on writing. The copy is audited before it "
        "takes its name. An earlier backup of that name is replaced, but by a sound copy only; any other file is "
        "left alone. What the audit finds is told, and the exit status is then 1.",
    .example = "neap backup /tmp/neap-backup.neap",
    .options = (const struct option_row[]){OPTION_DRY_RUN, {0}},
    .args_min = 1,
    .args_max = 1,
    .run = backup_run,
};

const struct command command_restore = {
    .name = "restore",
    .place = 660,
    .summary = "make a store from a backup",
    .also = "recover",
    .usage = "FILE",
    .about =
        "Makes the store of this run (--db, $NEAP_DB) from a backup. There must be none yet: nothing is written over.",
    .example = "neap --db /tmp/neap-restored.neap restore /tmp/neap-backup.neap",
    .options = (const struct option_row[]){OPTION_DRY_RUN, {0}},
    .args_min = 1,
    .args_max = 1,
    .run = restore_run,
};
