#include "cli.h"

static bool audit_run(struct context *c, struct err *e)
{
    struct store *s;
    size_t n;
    if (!context_open(c, STORE_READ, &s, e))
        return false;
    bool ok = store_audit(s, c->notes, &n, e);
    if (ok && n > 0)
        ok = err_set(e, ERR_STORE, NULL, "%s: %zu finding%s", store_path(s), n, n == 1 ? "" : "s");
    else if (ok)
        text_addf(c->out, "%s: sound\n", store_path(s));
    store_close(s);
    return ok;
}

const struct command command_audit = {
    .name = "audit",
    .summary = "check that the store is whole and its figures agree",
    .usage = "",
    .about = "Reads everything: the file itself, references, every row against the limits of its fields, the versions of the "
             "ledgers, that what was logged was planned, that no lot gave more than was bought without a note, and that each "
             "journal entry could be taken back. Prints what it finds; then the exit status is 1.",
    .example = "neap audit",
    .run = audit_run,
};
