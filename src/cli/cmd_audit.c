/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap audit: check that the store is whole and its figures agree. */
#include "cli.h"

#include "neap/print.h"

/* One finding to a line, as the audit wrote them; *findings is cut up. */
static void audit_json(struct text *findings, size_t n, struct text *out)
{
    struct json_text j = {.out = out};
    char *rest = findings->len > 0 ? findings->s : NULL;
    json_open(&j, NULL, '{');
    json_number_member(&j, "schema", JSON_PRINT_SCHEMA);
    json_flag_member(&j, "sound", n == 0);
    json_number_member(&j, "n_findings", (double)n);
    json_open(&j, "findings", '[');
    while (rest && *rest) {
        char *end = strchr(rest, '\n');
        *end = '\0';
        json_text_member(&j, NULL, rest);
        rest = end + 1;
    }
    json_close(&j);
    json_close(&j);
}

static bool audit_run(struct context *c, struct err *e)
{
    struct store *s;
    struct text findings = {0};
    size_t n;
    if (!context_open(c, STORE_READ, &s, e))
        return false;
    bool ok = store_audit(s, c->json ? &findings : c->notes, &n, e);
    if (ok && c->json) {
        audit_json(&findings, n, c->out);
        c->unsound = n > 0;
    } else if (ok && n > 0)
        ok = err_set(e, ERR_STORE, NULL, "%s: %zu finding%s", store_path(s), n, n == 1 ? "" : "s");
    else if (ok)
        text_addf(c->out, "%s: sound\n", store_path(s));
    text_free(&findings);
    store_close(s);
    return ok;
}

const struct command command_audit = {
    .name = "audit",
    .place = 640,
    .summary = "check that the store is whole and its figures agree",
    .also = "verify",
    .usage = "",
    .about = "Reads everything: the file itself, references, every row against the limits of its fields, the versions "
             "of the ledgers, that what was logged was planned, that no lot gave more than was bought without a note, "
             "that each journal entry could be taken back, and that every row is what the journal says. Prints what it "
             "finds; then the exit status is 1.",
    .example = "neap audit",
    .prints_json = true,
    .run = audit_run,
};
