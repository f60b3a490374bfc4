/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The facility as it was when a round was planned. The journal keeps the changes of every entry, so the entries since
 * are taken back one by one, in a copy in memory: the store itself is only read.
 */
#include "internal.h"

bool store_copy_in_memory(struct store *s, struct store *past, struct err *e)
{
    snprintf(past->path, sizeof past->path, "%s", s->path);
    if (sqlite3_open(":memory:", &past->db) != SQLITE_OK)
        return past->db ? store_fail(past, e) : err_memory(e);
    sqlite3_backup *copy = sqlite3_backup_init(past->db, "main", s->db, "main");
    if (!copy)
        return store_fail(past, e);
    sqlite3_backup_step(copy, -1);
    return sqlite3_backup_finish(copy) == SQLITE_OK ? store_limit_work(past, e) : store_fail(past, e);
}

static bool round_is_there(struct store *past, const struct round_head *head, long *there, struct err *e)
{
    struct text sql = {0};
    text_addf(&sql, "SELECT count(*) FROM round WHERE number = %ld AND revision = %ld", head->number, head->revision);
    bool ok = sql.failed ? err_memory(e) : store_number(past, text_str(&sql), 0, there, e);
    text_free(&sql);
    return ok;
}

/*
 * Takes back the entry at the statement's row; those that come after the one that kept the round are counted and named.
 */
static bool take_back(struct store *past, sqlite3_stmt *entry, struct round_past *out, struct err *e)
{
    if (!store_take_back(past, sqlite3_column_int64(entry, 1), e))
        return false;
    size_t at = out->n_later < PAST_COMMANDS ? out->n_later : PAST_COMMANDS - 1;
    if (out->n_later >= PAST_COMMANDS)
        memmove(out->commands, out->commands + 1, (PAST_COMMANDS - 1) * sizeof *out->commands);
    store_column_text(entry, 0, out->commands[at], sizeof *out->commands);
    out->n_later++;
    return true;
}

/* Newest entry first, until the round is gone: then all is as its plan found it. */
static bool rewind_to(struct store *past, const struct round_head *head, struct round_past *out, struct err *e)
{
    sqlite3_stmt *entry = NULL;
    long there = 0;
    if (!round_is_there(past, head, &there, e) ||
        !store_prepare(past, "SELECT command, id FROM entry ORDER BY id DESC", &entry, e))
        return false;
    bool ok = true;
    while (ok && there > 0 && sqlite3_step(entry) == SQLITE_ROW)
        ok = take_back(past, entry, out, e) && round_is_there(past, head, &there, e);
    sqlite3_finalize(entry);
    if (ok && there > 0)
        ok = err_set(e, ERR_STORE, NULL, "%s: round %ld is in no entry of the journal", past->path, head->number);
    if (ok && out->n_later > 0)
        out->n_later--; /* the last one taken back is the one that kept the round */
    return ok;
}

bool store_snapshot_then(struct store *s, const struct round_head *head, struct facility *f, struct round_past *out,
                         struct err *e)
{
    struct store past = {0};
    struct text logged = {0};
    *out = (struct round_past){0};
    text_addf(&logged, "SELECT count(*) FROM live_given WHERE round = %ld", head->number);
    bool ok = (!logged.failed || err_memory(e)) && store_number(s, text_str(&logged), 0, &out->n_logged, e) &&
              store_copy_in_memory(s, &past, e) && rewind_to(&past, head, out, e) &&
              store_snapshot(&past, &(struct look_back){.day = head->day}, f, e);
    text_free(&logged);
    store_disconnect(&past);
    return ok;
}
