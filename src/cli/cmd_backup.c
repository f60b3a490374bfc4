/* backup and restore. */
#include "cli.h"

static bool backup_run(struct context *c, struct err *e)
{
    struct store *s;
    if (!context_open(c, STORE_READ, &s, e))
        return false;
    bool dry = option_given(c, "dry-run");
    bool ok = dry || store_backup(s, c->args[0], e);
    if (ok)
        text_addf(c->out, "%s: %s %s\n", c->args[0], dry ? "would be a copy of" : "a sound copy of", store_path(s));
    store_close(s);
    return ok;
}

static bool restore_run(struct context *c, struct err *e)
{
    struct store *s = NULL;
    struct text path = {0};
    bool dry = option_given(c, "dry-run");
    bool ok = context_path(c, !dry, &path, e) && store_open(c->args[0], STORE_READ, &s, e) &&
              (dry || store_copy_new(s, text_str(&path), e));
    if (ok)
        text_addf(c->out, "%s: %s %s\n", text_str(&path), dry ? "would be made from" : "made from", c->args[0]);
    store_close(s);
    text_free(&path);
    return ok;
}

const struct command command_backup = {
    .name = "backup",
    .summary = "make a sound copy of the store, while it is in use",
    .usage = "FILE",
    .about = "Copies the store as of one moment, journal and all, while others go on writing. The copy is read through "
             "before it "
             "takes its name. An earlier backup of that name is replaced, any other file is left alone.",
    .example = "neap backup /tmp/neap-backup.neap",
    .options = (const struct option_row[]){OPTION_DRY_RUN, {0}},
    .args_min = 1,
    .args_max = 1,
    .run = backup_run,
};

const struct command command_restore = {
    .name = "restore",
    .summary = "make a store from a backup",
    .usage = "FILE",
    .about =
        "Makes the store of this run (--db, $NEAP_DB) from a backup. There must be none yet: nothing is written over.",
    .example = "neap --db /tmp/neap-restored.neap restore /tmp/neap-backup.neap",
    .options = (const struct option_row[]){OPTION_DRY_RUN, {0}},
    .args_min = 1,
    .args_max = 1,
    .run = restore_run,
};
