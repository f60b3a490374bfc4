/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap undo: take back the last entry. */
#include "cli.h"

enum { CHANGE_KINDS = 3 };

struct tally {
    size_t n[N_REGS][CHANGE_KINDS];
};

static bool tally_change(void *context, const struct row_change *change, struct err *e)
{
    struct tally *t = context;
    (void)e;
    t->n[change->reg - reg_get(0)][change->what]++;
    return true;
}

/* The entry, and what it did to which register. */
static bool tell_entry(struct store *s, const struct entry *entry, struct text *out, struct err *e)
{
    struct tally t = {0};
    if (!store_each_change(s, entry->id, tally_change, &t, e))
        return false;
    text_addf(out, "entry %ld of %s: %s\n", entry->id, entry->made, entry->command);
    for (size_t i = 0; i < N_REGS; i++) {
        const size_t *n = t.n[i];
        if (n[CHANGE_ADDED] + n[CHANGE_SET] + n[CHANGE_REMOVED] > 0)
            text_addf(out, "  %s: %zu new, %zu changed, %zu removed\n", reg_get((enum reg_id)i)->name, n[CHANGE_ADDED],
                      n[CHANGE_SET], n[CHANGE_REMOVED]);
    }
    return true;
}

/* On a terminal the person decides, having seen what it is about; elsewhere only --yes does. */
static bool may_undo(struct context *c, const char *question, bool *yes, struct err *e)
{
    *yes = option_given(c, "yes");
    if (*yes)
        return true;
    if (!context_may_ask())
        return err_set(e, ERR_MISUSE, NULL,
                       "nobody can be asked here; expected --yes (or --dry-run, to see the entry)");
    context_ask(c, question, yes);
    return true;
}

static bool undo_run(struct context *c, struct err *e)
{
    struct store *s;
    struct entry last;
    bool yes = false;
    if (!context_open(c, STORE_WRITE, &s, e))
        return false;
    bool ok = store_last_entry(s, &last, e) && tell_entry(s, &last, c->out, e);
    if (ok && !option_given(c, "dry-run")) {
        ok = may_undo(c, "Take it back?", &yes, e) && (!yes || context_take_back(c, s, store_undo, last.id, e));
        if (ok)
            text_addf(c->out, yes ? "entry %ld is taken back\n" : "entry %ld stands\n", last.id);
    }
    store_close(s);
    return ok;
}

static bool redo_run(struct context *c, struct err *e)
{
    struct store *s;
    struct entry last;
    bool yes = false;
    if (!context_open(c, STORE_WRITE, &s, e))
        return false;
    bool ok = store_last_undo(s, &last, e);
    if (ok)
        text_addf(c->out, "entry %ld took back, of %s: %s\n", last.id, last.made, last.command);
    if (ok && !option_given(c, "dry-run")) {
        ok = may_undo(c, "Bring it again?", &yes, e) && (!yes || context_take_back(c, s, store_redo, last.id, e));
        if (ok)
            text_add(c->out, yes ? "it is there again\n" : "it stays taken back\n");
    }
    store_close(s);
    return ok;
}

const struct command command_undo = {
    .name = "undo",
    .place = 610,
    .summary = "take back the last entry",
    .also = "revert back",
    .usage = "",
    .about =
        "Shows the last journal entry and takes it back, however much it changed. Again, and the one before it goes. "
        "Nothing is lost: the journal keeps the entry, and that it was taken back; neap redo brings it again.",
    .example = "neap undo --dry-run",
    .options = (const struct option_row[]){{"yes", OPT_FLAG, .help = "do not ask"}, OPTION_DRY_RUN, {0}},
    .run = undo_run,
};

const struct command command_redo = {
    .name = "redo",
    .place = 620,
    .summary = "do again what undo took back",
    .usage = "",
    .about = "Brings the entry that was taken back last, as long as nothing else was entered since. Again, and the one "
             "taken back before it comes.",
    .example = "neap redo --help",
    .options = (const struct option_row[]){{"yes", OPT_FLAG, .help = "do not ask"}, OPTION_DRY_RUN, {0}},
    .run = redo_run,
};
