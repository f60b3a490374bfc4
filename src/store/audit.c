/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Is the store whole, and do its figures agree? What the schema enforces is looked at too: files get damaged. */
#include "internal.h"

enum { FINDINGS_MAX = 200 };

struct auditing {
    struct store *s;
    struct text *findings;
    size_t n;
};

static void find(struct auditing *a, const char *text)
{
    if (a->n++ < FINDINGS_MAX)
        text_addf(a->findings, "%s\n", text);
}

/* Each row of the answer is a finding, its columns put together by the SQL. */
static bool ask(struct auditing *a, const char *sql, struct err *e)
{
    sqlite3_stmt *stmt;
    int rc;
    if (!store_prepare(a->s, sql, &stmt, e))
        return false;
    while ((rc = sqlite3_step(stmt)) == SQLITE_ROW) {
        const char *text = (const char *)sqlite3_column_text(stmt, 0);
        find(a,
             text ? text : "a row holds what cannot be read"); /* one of its parts is NULL, which no sound row's is */
    }
    bool ok = rc == SQLITE_DONE || store_fail(a->s, e);
    sqlite3_finalize(stmt);
    return ok;
}

/* Amounts are kept in thousandths. */
static const char overdrawn[] =
    "SELECT 'lot \"' || lot.code || '\": ' || printf('%.10g', round(drawn.units, 3)) || ' used of '"
    " || printf('%.10g', lot.amount_units) || ' bought, and no note says why'"
    " FROM drawn JOIN lot ON lot.code = drawn.lot"
    " WHERE drawn.units >= lot.amount_units + 0.0005 AND coalesce(lot.note, '') = ''";

/* What was logged and the round's plan does not bear out. */
static const char *const of_the_log[] = {
    "SELECT 'round ' || g.round || ' line ' || g.line || ': was logged, and is not in the plan' FROM live_given AS g"
    " WHERE NOT EXISTS (SELECT 1 FROM line WHERE line.round = g.round AND line.number = g.line"
    " AND line.revision = (SELECT max(revision) FROM round WHERE round.number = g.round))",

    "SELECT 'round ' || g.round || ' line ' || g.line || ': was logged by revision ' || g.sheet_revision"
    " || ' of its sheet, which is not there' FROM live_given AS g"
    " WHERE g.sheet_revision > (SELECT max(revision) FROM round WHERE round.number = g.round)",

    "SELECT 'round ' || m.round || ' pot ' || m.pot || ': was mixed, and is not in the plan' FROM live_mixed AS m"
    " WHERE NOT EXISTS (SELECT 1 FROM pot WHERE pot.round = m.round AND pot.pot = m.pot"
    " AND pot.revision = (SELECT max(revision) FROM round WHERE round.number = m.round))",

    "SELECT 'round ' || w.round || ' pot ' || w.pot || ' food ' || w.rank || ': was weighed, and is not in the plan'"
    " FROM live_weighed AS w WHERE NOT EXISTS (SELECT 1 FROM pot_food AS p WHERE p.round = w.round AND p.pot = w.pot"
    " AND p.rank = w.rank AND p.revision = (SELECT max(revision) FROM round WHERE round.number = w.round))",

    "SELECT 'round ' || o.round || ': ' || o.what || ', and it is not there' FROM ("
    "SELECT round, 'something was given beside its plan' AS what FROM live_extra"
    " UNION SELECT round, 'its feeders are named' FROM live_crew"
    " UNION SELECT round, 'a note was made of it' FROM live_remark"
    " UNION SELECT round, 'its switches are logged' FROM live_switched"
    ") AS o WHERE NOT EXISTS (SELECT 1 FROM round WHERE round.number = o.round)",

    "SELECT 'round ' || round || ' line ' || number || ': was logged without its amount' FROM offered_line"
    " WHERE given_amount IS NULL AND action IN ('broadcast', 'fish', 'target')",

    "SELECT 'round ' || round || ' pot ' || pot || ': ' || printf('%.10g', given_ml) || ' mL given of '"
    " || printf('%.10g', mixed_ml) || ' mL mixed' FROM ("
    "SELECT o.round, o.pot, round(sum(o.given_amount), 3) AS given_ml,"
    " round(coalesce(m.made_ml, pot.made_ml), 3) AS mixed_ml FROM offered_line AS o"
    " JOIN pot ON pot.round = o.round AND pot.revision = o.revision AND pot.pot = o.pot"
    " LEFT JOIN live_mixed AS m ON m.round = o.round AND m.pot = o.pot"
    " WHERE o.action = 'target' GROUP BY o.round, o.pot) WHERE given_ml > mixed_ml + 0.0005",
};

static const char *const questions[] = {
    "SELECT 'reference: a row of ' || \"table\" || ' points to a ' || parent || ' that is not there'"
    " FROM pragma_foreign_key_check",

    "SELECT 'gate: an undo was left open' FROM gate WHERE undoing <> 0",

    "SELECT 'journal: entry ' || undoes || ' was taken back ' || count(*) || ' times' FROM entry"
    " WHERE " STANDING_UNDO " GROUP BY undoes HAVING count(*) > 1",

    "SELECT 'journal: entry ' || id || ' takes back entry ' || undoes || ', which is not before it' FROM entry"
    " WHERE undoes >= id",

    "SELECT 'round ' || number || ': its revisions have a gap' FROM round GROUP BY number"
    " HAVING count(*) <> max(revision)",

    "SELECT 'round ' || number || ': its revisions are of different days' FROM round GROUP BY number"
    " HAVING count(DISTINCT day) > 1",
};

static bool ask_all(struct auditing *a, const char *const *sql, size_t n, struct err *e)
{
    bool ok = true;
    for (size_t i = 0; ok && i < n; i++)
        ok = ask(a, sql[i], e);
    return ok;
}

bool store_overdrawn(struct store *s, struct text *lines, struct err *e)
{
    struct auditing a = {s, lines, 0};
    return ask(&a, overdrawn, e) && (!lines->failed || err_memory(e));
}

bool store_log_findings(struct store *s, struct text *lines, struct err *e)
{
    struct auditing a = {s, lines, 0};
    return ask_all(&a, of_the_log, COUNT_OF(of_the_log), e) && (!lines->failed || err_memory(e));
}

/* A ledger's rows of one key are its versions 1, 2, 3 … */
static bool audit_versions(struct auditing *a, const struct reg *r, struct err *e)
{
    struct text sql = {0}, keys = {0};
    store_columns(r, true, &keys);
    text_addf(&sql, "SELECT '%s ' || concat || ': its versions have a gap' FROM (SELECT ", r->name);
    for (size_t i = 0; i < r->n_fields && field_is_key(&r->fields[i]); i++)
        text_addf(&sql, "%s%s", i ? " || ' ' || " : "", r->fields[i].name);
    text_addf(&sql, " AS concat FROM %s GROUP BY %s HAVING count(*) <> max(version) OR min(version) <> 1)", r->name,
              text_str(&keys));
    bool ok = sql.failed || keys.failed ? err_memory(e) : ask(a, text_str(&sql), e);
    text_free(&sql);
    text_free(&keys);
    return ok;
}

/* The table is the field table's: its columns, limits, references and keys. */
static bool audit_table(struct auditing *a, const struct reg *r, struct err *e)
{
    bool ours;
    if (!store_table_is_ours(a->s, r, &ours, e))
        return false;
    struct text finding = {0};
    text_addf(&finding, "schema: the table %s is not as this neap makes it", r->name);
    if (!ours)
        find(a, text_str(&finding));
    text_free(&finding);
    return true;
}

static bool audit_difference(void *context, const char *text)
{
    struct auditing *a = context;
    find(a, text);
    return !a->findings->failed;
}

/* A damaged file cannot always be retraced; then there is a finding already, or this is one. */
static bool audit_journal(struct auditing *a, struct err *e)
{
    struct err why;
    if (store_retrace(a->s, audit_difference, a, &why))
        return true;
    if (why.code == ERR_MEMORY)
        return err_memory(e);
    find(a, "journal: its entries cannot be retraced through the rows");
    return true;
}

struct row_audit {
    struct auditing *a;
    const struct reg *reg;
    void *row;
};

static bool audit_row(void *context, const struct cell *cells, struct err *e)
{
    struct row_audit *in = context;
    struct err why;
    struct text finding = {0};
    size_t field;
    if (row_fill(in->reg, cells, in->row, &field, &why))
        return true;
    if (why.code == ERR_MEMORY)
        return err_memory(e);
    store_row_fault(in->reg, cells, field, &why, &finding);
    find(in->a, text_str(&finding));
    text_free(&finding);
    return true;
}

/* Every row holds by the checks that it was once let in by. */
static bool audit_rows(struct auditing *a, const struct reg *r, struct err *e)
{
    struct row_audit in = {a, r, NULL};
    if (r->row_size == 0) /* settings, judged by the snapshot */
        return true;
    if (!(in.row = calloc(1, r->row_size)))
        return err_memory(e);
    bool ok = store_each(a->s, r, audit_row, &in, e);
    free(in.row);
    return ok;
}

static bool skip_change(void *context, const struct row_change *c, struct err *e)
{
    (void)context;
    (void)c;
    (void)e;
    return true;
}

/* An entry that cannot be read could not be taken back. */
static bool audit_entry(void *context, const struct entry *entry, struct err *e)
{
    struct auditing *a = context;
    struct err why;
    char finding[120];
    bool sound;
    if (!store_entry_sound(a->s, entry->id, &sound, &why)) {
        find(a, why.text);
        return true;
    }
    if (!sound) {
        snprintf(finding, sizeof finding, "journal: entry %ld is damaged, its changes are not as they were kept",
                 entry->id);
        find(a, finding);
        return true;
    }
    if (store_each_change(a->s, entry->id, skip_change, NULL, &why))
        return true;
    if (why.code == ERR_MEMORY)
        return err_memory(e);
    snprintf(finding, sizeof finding, "journal: entry %ld cannot be read", entry->id);
    find(a, finding);
    return true;
}

/* The store as planning would see it. */
static bool audit_snapshot(struct auditing *a, struct err *e)
{
    struct facility f = {0};
    struct err why;
    if (store_snapshot(a->s, &(struct look_back){.day = DAY_NONE}, &f, &why))
        facility_free(&f);
    else if (why.code == ERR_MEMORY)
        return err_memory(e);
    else
        find(a, why.text);
    return true;
}

bool store_audit_apart(struct store *s, struct text *findings, size_t *n, size_t *n_file, struct err *e)
{
    struct auditing a = {s, findings, 0};
    bool ok = store_begin_reading(s, e);
    ok = ok && ask(&a,
                   "SELECT 'file: ' || integrity_check FROM pragma_integrity_check(1000000)"
                   " WHERE integrity_check <> 'ok'",
                   e);
    *n_file = a.n;
    ok = ok && audit_journal(&a, e);
    ok = ok && ask_all(&a, questions, COUNT_OF(questions), e) && ask_all(&a, of_the_log, COUNT_OF(of_the_log), e) &&
         ask(&a, overdrawn, e);
    for (size_t i = 0; ok && i < N_REGS; i++) {
        const struct reg *r = reg_get((enum reg_id)i);
        ok = audit_table(&a, r, e) && audit_rows(&a, r, e) && (!r->ledger || audit_versions(&a, r, e));
    }
    ok = ok && store_each_entry(s, -1, audit_entry, &a, e) && audit_snapshot(&a, e);
    store_rollback(s);
    *n = a.n;
    return ok && findings->failed ? err_memory(e) : ok;
}

bool store_audit(struct store *s, struct text *findings, size_t *n, struct err *e)
{
    size_t n_file;
    return store_audit_apart(s, findings, n, &n_file, e);
}
