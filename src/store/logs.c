/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was logged, read back: of one round, of one lot, of one colony. */
#include "internal.h"
#include "neap/log.h"
#include "neap/replan.h"
#include "neap/response.h"

/* ---- a round's log ---------------------------------------------------------------------------------------------- */

/* The parts of a log: where they hang in struct round_log. */
static const struct log_part {
    enum reg_id reg;
    size_t array_offset, count_offset;
} parts[] = {
    {REG_GIVEN, offsetof(struct round_log, givens), offsetof(struct round_log, n_givens)},
    {REG_EXTRA, offsetof(struct round_log, extras), offsetof(struct round_log, n_extras)},
    {REG_MIXED, offsetof(struct round_log, mixes), offsetof(struct round_log, n_mixes)},
    {REG_WEIGHED, offsetof(struct round_log, weighings), offsetof(struct round_log, n_weighings)},
    {REG_CREW, offsetof(struct round_log, crews), offsetof(struct round_log, n_crews)},
    {REG_REMARK, offsetof(struct round_log, remarks), offsetof(struct round_log, n_remarks)},
    {REG_SWITCHED, offsetof(struct round_log, switcheds), offsetof(struct round_log, n_switcheds)},
};

bool store_load_log(struct store *s, const struct facility *f, long number, struct round_log *log, struct err *e)
{
    char where[40];
    bool own; /* others log, too, and its parts belong together */
    bool ok = store_moment_begin(s, &own, e);
    *log = (struct round_log){0};
    snprintf(where, sizeof where, " WHERE round = %ld", number);
    for (size_t i = 0; ok && i < COUNT_OF(parts); i++)
        ok = store_load_rows(s, f, parts[i].reg, where, &log->arena, (char *)log + parts[i].array_offset,
                             (size_t *)(void *)((char *)log + parts[i].count_offset), e);
    store_moment_end(s, own);
    if (!ok)
        round_log_free(log);
    return ok;
}

static bool take_kept(sqlite3_stmt *stmt, struct kept_round *r, struct arena *a, struct err *e)
{
    r->number = sqlite3_column_int64(stmt, 0);
    r->name = arena_text(a, (const char *)sqlite3_column_text(stmt, 2));
    if (!r->name)
        return err_memory(e);
    const char *start = (const char *)sqlite3_column_text(stmt, 3);
    return store_column_day(stmt, 1, &r->day, e) &&
           ((start && clock_parse_long(start, &r->start_min)) ||
            err_set(e, ERR_STORE, NULL, "the store is damaged: a round without a start"));
}

bool store_rounds(struct store *s, int first_day, int last_day, struct arena *a, struct kept_round **rounds, size_t *n,
                  struct err *e)
{
    char first[DAY_TEXT], last[DAY_TEXT];
    struct row_list list = {0};
    sqlite3_stmt *stmt;
    int rc = SQLITE_DONE;
    *n = 0;
    if (!store_prepare(
            s,
            "SELECT number, day, coalesce(name, ''), start_min FROM round_in_force WHERE day BETWEEN ?1 AND ?2"
            " ORDER BY day, start_min, number",
            &stmt, e))
        return false;
    day_format(first_day, first);
    day_format(last_day, last);
    sqlite3_bind_text(stmt, 1, first, -1, SQLITE_TRANSIENT);
    sqlite3_bind_text(stmt, 2, last, -1, SQLITE_TRANSIENT);
    bool ok = true;
    while (ok && (rc = sqlite3_step(stmt)) == SQLITE_ROW) {
        struct kept_round *r = store_list_add(&list, sizeof *r, e);
        ok = r && take_kept(stmt, r, a, e);
    }
    ok = ok && (rc == SQLITE_DONE || store_fail(s, e));
    sqlite3_finalize(stmt);
    return store_list_end(&list, ok, sizeof **rounds, a, rounds, n, e);
}

/* ---- what a lot gave --------------------------------------------------------------------------------------------- */

bool store_lot_used(struct store *s, const char *lot, double *units, struct err *e)
{
    sqlite3_stmt *stmt;
    if (!store_prepare(s, LOT_USED_SQL, &stmt, e))
        return false;
    sqlite3_bind_text(stmt, 1, lot, -1, SQLITE_STATIC);
    bool ok = sqlite3_step(stmt) == SQLITE_ROW || store_fail(s, e);
    *units = ok ? sqlite3_column_double(stmt, 1) : 0;
    sqlite3_finalize(stmt);
    return ok;
}

/* ---- a lot's way ------------------------------------------------------------------------------------------------ */

bool store_lot_uses(struct store *s, const struct facility *f, size_t lot, struct arena *a, struct lot_use **uses,
                    size_t *n, struct err *e)
{
    sqlite3_stmt *stmt;
    struct row_list list = {0};
    int rc = SQLITE_ROW;
    bool ok = store_prepare(s,
                            "SELECT round, day, tank, colony, action, sum(units) FROM lot_use WHERE lot = ?1"
                            " GROUP BY round, day, tank, colony, action ORDER BY day, round, tank, colony, action",
                            &stmt, e);
    *n = 0;
    if (!ok)
        return false;
    sqlite3_bind_text(stmt, 1, f->lots[lot].code, -1, SQLITE_TRANSIENT);
    while (ok && (rc = sqlite3_step(stmt)) == SQLITE_ROW) {
        struct lot_use *u = store_list_add(&list, sizeof *u, e);
        ok = u && store_column_day(stmt, 1, &u->day, e) && store_column_ref(f, REG_TANK, stmt, 2, &u->tank, e) &&
             store_column_ref_or_none(f, REG_COLONY, stmt, 3, &u->colony, e) &&
             store_column_choice(REG_LINE, "action", stmt, 4, &u->action, e);
        if (!ok)
            break;
        u->round = sqlite3_column_int64(stmt, 0);
        u->units = sqlite3_column_double(stmt, 5);
    }
    if (ok && rc != SQLITE_DONE)
        ok = store_fail(s, e);
    sqlite3_finalize(stmt);
    return store_list_end(&list, ok, sizeof **uses, a, uses, n, e);
}

/* ---- a colony's lines ------------------------------------------------------------------------------------------- */

static double column_number(sqlite3_stmt *stmt, int column)
{
    return sqlite3_column_type(stmt, column) == SQLITE_NULL ? (double)NAN : sqlite3_column_double(stmt, column);
}

bool store_each_fed_line(struct store *s, const char *colony,
                         bool (*each)(void *context, const struct fed_line *l, struct err *e), void *context,
                         struct err *e)
{
    sqlite3_stmt *stmt;
    int rc = SQLITE_DONE;
    if (!store_prepare(
            s,
            "SELECT g.round, g.line, round.day, line.tank, coalesce(line.pot, ''), line.amount, g.outcome,"
            " g.amount, coalesce(g.response, -1), coalesce(g.at_min, -1), coalesce(round.name, '') FROM live_given AS g"
            " JOIN round_in_force AS round ON round.number = g.round"
            " JOIN line ON line.round = g.round AND line.revision = round.revision AND line.number = g.line"
            " WHERE line.colony = ?1 ORDER BY round.day DESC, g.round DESC, g.line DESC",
            &stmt, e))
        return false;
    bool ok = sqlite3_bind_text(stmt, 1, colony, -1, SQLITE_TRANSIENT) == SQLITE_OK || store_fail(s, e);
    while (ok && (rc = sqlite3_step(stmt)) == SQLITE_ROW) {
        struct fed_line l = {
            .name = (const char *)sqlite3_column_text(stmt, 10),
            .tank = (const char *)sqlite3_column_text(stmt, 3),
            .pot = (const char *)sqlite3_column_text(stmt, 4),
            .planned_ml = column_number(stmt, 5),
            .given = {.round = sqlite3_column_int64(stmt, 0),
                      .line = sqlite3_column_int64(stmt, 1),
                      .note = "",
                      .amount = column_number(stmt, 7),
                      .response = sqlite3_column_int64(stmt, 8),
                      .at_min = sqlite3_column_int64(stmt, 9)},
        };
        ok = store_column_day(stmt, 2, &l.day, e) &&
             store_column_choice(REG_GIVEN, "outcome", stmt, 6, &l.given.outcome, e) && each(context, &l, e);
    }
    if (ok && rc != SQLITE_DONE)
        ok = store_fail(s, e);
    sqlite3_finalize(stmt);
    return ok;
}

/* ---- responses -------------------------------------------------------------------------------------------------- */

static bool settle(struct facility *f, size_t colony, const struct judged *rounds, size_t n, struct err *e)
{
    struct response response;
    if (colony == REF_NONE)
        return true;
    struct colony *c = &f->colonies[colony];
    response_judge(rounds, n, &response);
    c->portion_frac = response.portion_frac;
    c->look_close = response.close;
    return response_note(&response, &f->arena, &c->look, e);
}

bool store_read_responses(struct store *s, struct facility *f, struct err *e)
{
    sqlite3_stmt *stmt;
    struct judged *rounds = NULL;
    size_t n = 0, room = 0, colony = REF_NONE;
    int rc = SQLITE_ROW;
    /* Who never refused and never took little has a whole portion: those are the many. */
    bool ok = store_prepare(s,
                            "SELECT colony, day, avg(CASE WHEN response >= 0 THEN response"
                            " WHEN outcome = 'refused' THEN 0 END), max(outcome = 'refused')"
                            " FROM offered_line WHERE action = 'target' AND colony IN (SELECT line.colony FROM given"
                            " JOIN line ON line.round = given.round AND line.number = given.line"
                            " WHERE given.outcome = 'refused' OR given.response BETWEEN 0 AND 1)"
                            " GROUP BY colony, round ORDER BY colony, day, round",
                            &stmt, e);
    if (!ok)
        return false;
    while (ok && (rc = sqlite3_step(stmt)) == SQLITE_ROW) {
        struct judged judged = {.score = column_number(stmt, 2), .refused = sqlite3_column_int(stmt, 3) != 0};
        size_t next;
        ok = store_column_ref(f, REG_COLONY, stmt, 0, &next, e) && store_column_day(stmt, 1, &judged.day, e);
        if (ok && next != colony) {
            ok = settle(f, colony, rounds, n, e);
            colony = next;
            n = 0;
        }
        struct judged *moved = mem_grow(rounds, &room, n + 1, sizeof *rounds);
        if (!moved) {
            ok = err_memory(e);
            break;
        }
        rounds = moved;
        rounds[n++] = judged;
    }
    if (ok && rc != SQLITE_DONE)
        ok = store_fail(s, e);
    ok = ok && settle(f, colony, rounds, n, e);
    sqlite3_finalize(stmt);
    free(rounds);
    return ok;
}
