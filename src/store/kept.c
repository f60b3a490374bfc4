/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * An older store is kept as it was, beside itself, before it is brought up to date: whoever must go back to the neap of
 * before can.
 */
#include "internal.h"

/* By SQLite's own check: what our audit asks is asked of this neap's stores. */
static bool is_whole(const struct store *s, const char *part, struct err *e)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *stmt = NULL;
    bool whole = sqlite3_open_v2(part, &db, SQLITE_OPEN_READONLY, NULL) == SQLITE_OK &&
                 sqlite3_prepare_v2(db, "SELECT 1 FROM pragma_integrity_check(1) WHERE integrity_check = 'ok'", -1,
                                    &stmt, NULL) == SQLITE_OK &&
                 sqlite3_step(stmt) == SQLITE_ROW;
    bool no_memory = sqlite3_errcode(db) == SQLITE_NOMEM;
    sqlite3_finalize(stmt);
    sqlite3_close(db);
    if (whole)
        return true;
    return no_memory ? err_memory(e)
                     : err_set(e, ERR_STORE, NULL,
                               "%s: is an older store and damaged, so it stays as it is; expected a sound one, such as "
                               "an earlier backup",
                               s->path);
}

enum { KEPT_MOST = 100 };

static bool take_free_name(const char *part, const char *path, const char *suffix, char *kept, size_t room,
                           struct err *e)
{
    for (int n = 1; n <= KEPT_MOST; n++) {
        if (n == 1)
            snprintf(kept, room, "%s%s", path, suffix);
        else
            snprintf(kept, room, "%s%s-%d", path, suffix, n);
        if (store_take_name(part, kept, e))
            return true;
        if (e->code != ERR_INPUT) /* what has the name already stays */
            break;
    }
    kept[0] = '\0';
    return false;
}

static bool keep_beside(const struct store *s, const char *suffix, char *kept, size_t room, struct err *e)
{
    struct text beside = {0};
    struct store *reader; /* SQLite copies nothing for whoever is about to write */
    if (!store_open_as(s->path, STORE_COPY, NULL, &reader, e))
        return false;
    bool ok = store_name_beside(s->path, &beside, e);
    const char *part = text_str(&beside);
    if (ok) {
        ok = store_write_copy(reader, part, e) && store_copy_rights(s, part, e) && is_whole(s, part, e) &&
             take_free_name(part, s->path, suffix, kept, room, e);
        store_remove(part);
    }
    text_free(&beside);
    store_close(reader);
    return ok;
}

bool store_open(const char *path, enum store_mode mode, struct store **opened, struct err *e)
{
    return store_open_as(path, mode, keep_beside, opened, e);
}
