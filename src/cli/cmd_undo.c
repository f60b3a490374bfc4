#include "cli.h"

#include <unistd.h>

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
static bool may_undo(struct context *c, bool *yes, struct err *e)
{
    char answer[16];
    *yes = option_given(c, "yes");
    if (*yes)
        return true;
    if (!isatty(STDIN_FILENO) || !isatty(STDERR_FILENO))
        return err_set(e, ERR_MISUSE, NULL,
                       "nobody can be asked here; expected --yes (or --dry-run, to see the entry)");
    fprintf(stderr, "%sTake it back? [y/N] ", text_str(c->out));
    c->out->len = 0; /* it has been shown */
    *yes = fgets(answer, sizeof answer, stdin) && (answer[0] == 'y' || answer[0] == 'Y');
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
        ok = may_undo(c, &yes, e) && (!yes || context_undo(c, s, last.id, e));
        if (ok)
            text_addf(c->out, yes ? "entry %ld is taken back\n" : "entry %ld stands\n", last.id);
    }
    store_close(s);
    return ok;
}

const struct command command_undo = {
    .name = "undo",
    .summary = "take back the last entry",
    .usage = "",
    .about =
        "Shows the last journal entry and takes it back, however much it changed. Again, and the one before it goes. "
        "Nothing is lost: the journal keeps the entry, and that it was taken back.",
    .example = "neap undo --dry-run",
    .options = (const struct option_row[]){{"yes", OPT_FLAG, .help = "do not ask"}, OPTION_DRY_RUN, {0}},
    .run = undo_run,
};
