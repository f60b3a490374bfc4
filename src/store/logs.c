/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was logged, read back: of one round, of one lot, of one colony. */
#include "internal.h"
#include "neap/log.h"
#include "neap/replan.h"
#include "neap/response.h"

/* ---- a round's log ---------------------------------------------------------------------------------------------- */

/* The parts of a log: where they hang in struct round_log. */
static const struct part {
    enum reg_id reg;
    size_t array_offset, count_offset;
} parts[] = {
    {REG_GIVEN, offsetof(struct round_log, givens), offsetof(struct round_log, n_givens)},
    {REG_EXTRA, offsetof(struct round_log, extras), offsetof(struct round_log, n_extras)},
    {REG_MIXED, offsetof(struct round_log, mixes), offsetof(struct round_log, n_mixes)},
    {REG_WEIGHED, offsetof(struct round_log, weighings), offsetof(struct round_log, n_weighings)},
    {REG_CREW, offsetof(struct round_log, crews), offsetof(struct round_log, n_crews)},
    {REG_REMARK, offsetof(struct round_log, remarks), offsetof(struct round_log, n_remarks)},
};

static bool query_ledger(struct store *s, const struct reg *r, long number, sqlite3_stmt **stmt, struct err *e)
{
    struct text sql = {0};
    text_add(&sql, "SELECT ");
    store_columns(r, false, &sql);
    text_addf(&sql, " FROM %s WHERE round = %ld ORDER BY ", store_source(r), number);
    store_columns(r, true, &sql);
    bool ok = sql.failed ? err_memory(e) : store_prepare(s, text_str(&sql), stmt, e);
    text_free(&sql);
    return ok;
}

static bool load_part(struct store *s, const struct facility *f, const struct part *p, long number,
                      struct round_log *log, struct err *e)
{
    const struct reg *r = reg_get(p->reg);
    struct arena scratch = {0};
    struct cell cells[FIELDS_MAX];
    sqlite3_stmt *stmt = NULL;
    char *rows = NULL;
    size_t n = 0, room = 0;
    int rc = SQLITE_ROW;
    bool ok = query_ledger(s, r, number, &stmt, e);
    while (ok && (rc = sqlite3_step(stmt)) == SQLITE_ROW) {
        char *moved = mem_grow(rows, &room, n + 1, r->row_size);
        if (moved) {
            rows = moved;
            memset(rows + n * r->row_size, 0, r->row_size);
        }
        ok = moved ? store_row_cells(stmt, r, cells, &scratch, e) &&
                         store_fill(r, f, &log->arena, cells, rows + n * r->row_size, e)
                   : err_memory(e);
        n++;
        arena_free(&scratch);
    }
    if (ok && rc != SQLITE_DONE)
        ok = store_fail(s, e);
    sqlite3_finalize(stmt);
    char *kept = ok ? arena_alloc(&log->arena, n, r->row_size) : NULL;
    if (kept && n > 0)
        memcpy(kept, rows, n * r->row_size);
    free(rows);
    if (ok && !kept)
        ok = err_memory(e);
    memcpy((char *)log + p->array_offset, &kept, sizeof kept);
    *(size_t *)(void *)((char *)log + p->count_offset) = n;
    return ok;
}

bool store_load_log(struct store *s, const struct facility *f, long number, struct round_log *log, struct err *e)
{
    *log = (struct round_log){0};
    for (size_t i = 0; i < COUNT_OF(parts); i++)
        if (!load_part(s, f, &parts[i], number, log, e)) {
            round_log_free(log);
            return false;
        }
    return true;
}

bool store_rounds(struct store *s, int first_day, int last_day, struct arena *a, struct kept_round **rounds, size_t *n,
                  struct err *e)
{
    char first[DAY_TEXT], last[DAY_TEXT];
    sqlite3_stmt *stmt;
    long room;
    int rc = SQLITE_DONE;
    *n = 0;
    if (!store_number(s, "SELECT count(*) FROM round_in_force", 0, &room, e))
        return false;
    *rounds = arena_alloc(a, (size_t)room, sizeof **rounds);
    if (!*rounds)
        return err_memory(e);
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
    while (ok && *n < (size_t)room && (rc = sqlite3_step(stmt)) == SQLITE_ROW) {
        struct kept_round *r = &(*rounds)[(*n)++];
        int hours, minutes;
        r->number = sqlite3_column_int64(stmt, 0);
        r->name = arena_text(a, (const char *)sqlite3_column_text(stmt, 2));
        ok = r->name ? true : err_memory(e);
        if (ok && (!day_parse((const char *)sqlite3_column_text(stmt, 1), &r->day) ||
                   sscanf((const char *)sqlite3_column_text(stmt, 3), "%d:%d", &hours, &minutes) != 2))
            ok = err_set(e, ERR_STORE, NULL, "the store is damaged: a round without a day or a start");
        r->start_min = ok ? hours * 60 + minutes : 0;
    }
    ok = ok && (rc == SQLITE_ROW || rc == SQLITE_DONE || store_fail(s, e));
    sqlite3_finalize(stmt);
    return ok;
}

bool store_next_repeat(struct store *s, const struct reg *r, struct cell *key, struct err *e)
{
    struct arena scratch = {0};
    struct cell row[FIELDS_MAX];
    struct err none = {0};
    size_t at = reg_field(r, "repeat");
    key[at] = (struct cell){.kind = CELL_WHOLE, .whole = 1};
    while (key[at].whole < (long)r->fields[at].max && store_get(s, r, key, row, &scratch, &none))
        key[at].whole++;
    arena_free(&scratch);
    return none.code == ERR_NOT_FOUND ||
           err_set(e, none.code == ERR_NONE ? ERR_INPUT : none.code, NULL, "%s",
                   none.code == ERR_NONE ? "too many entries for one minute; try again in the next" : none.text);
}

/* ---- a lot's way ------------------------------------------------------------------------------------------------ */

static size_t column_ref(const struct facility *f, enum reg_id id, sqlite3_stmt *stmt, int column)
{
    const char *key = (const char *)sqlite3_column_text(stmt, column);
    return key ? facility_find(f, id, key) : REF_NONE;
}

static int choice_of(enum reg_id id, const char *field, const char *name)
{
    const struct field *f = &reg_get(id)->fields[reg_field(reg_get(id), field)];
    int i = 0;
    while (f->choices[i + 1] && strcmp(f->choices[i], name) != 0)
        i++;
    return i;
}

bool store_lot_uses(struct store *s, const struct facility *f, size_t lot, struct arena *a, struct lot_use **uses,
                    size_t *n, struct err *e)
{
    sqlite3_stmt *stmt;
    struct lot_use *found = NULL;
    size_t room = 0;
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
        struct lot_use *moved = mem_grow(found, &room, *n + 1, sizeof *found);
        if (!moved) {
            ok = err_memory(e);
            break;
        }
        found = moved;
        struct lot_use *u = &found[(*n)++];
        *u = (struct lot_use){
            .round = sqlite3_column_int64(stmt, 0),
            .tank = column_ref(f, REG_TANK, stmt, 2),
            .colony = column_ref(f, REG_COLONY, stmt, 3),
            .action = choice_of(REG_LINE, "action", (const char *)sqlite3_column_text(stmt, 4)),
            .units = sqlite3_column_double(stmt, 5),
        };
        day_parse((const char *)sqlite3_column_text(stmt, 1), &u->day);
    }
    if (ok && rc != SQLITE_DONE)
        ok = store_fail(s, e);
    sqlite3_finalize(stmt);
    *uses = ok ? arena_alloc(a, *n, sizeof **uses) : NULL;
    if (*uses && *n > 0)
        memcpy(*uses, found, *n * sizeof *found);
    free(found);
    return !ok || *uses ? ok : err_memory(e);
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
    if (!store_prepare(s,
                       "SELECT g.round, g.line, round.day, line.tank, coalesce(line.pot, ''), line.amount, g.outcome,"
                       " g.amount, coalesce(g.response, -1), coalesce(g.at_min, -1) FROM live_given AS g"
                       " JOIN round_in_force AS round ON round.number = g.round"
                       " JOIN line ON line.round = g.round AND line.revision = round.revision AND line.number = g.line"
                       " WHERE line.colony = ?1 ORDER BY round.day DESC, g.round DESC, g.line DESC",
                       &stmt, e))
        return false;
    bool ok = sqlite3_bind_text(stmt, 1, colony, -1, SQLITE_TRANSIENT) == SQLITE_OK || store_fail(s, e);
    while (ok && (rc = sqlite3_step(stmt)) == SQLITE_ROW) {
        struct fed_line l = {
            .day = DAY_NONE,
            .tank = (const char *)sqlite3_column_text(stmt, 3),
            .pot = (const char *)sqlite3_column_text(stmt, 4),
            .planned_ml = column_number(stmt, 5),
            .given = {.round = sqlite3_column_int64(stmt, 0),
                      .line = sqlite3_column_int64(stmt, 1),
                      .note = "",
                      .outcome = choice_of(REG_GIVEN, "outcome", (const char *)sqlite3_column_text(stmt, 6)),
                      .amount = column_number(stmt, 7),
                      .response = sqlite3_column_int64(stmt, 8),
                      .at_min = sqlite3_column_int64(stmt, 9)},
        };
        day_parse((const char *)sqlite3_column_text(stmt, 2), &l.day);
        ok = each(context, &l, e);
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
        size_t next = column_ref(f, REG_COLONY, stmt, 0);
        if (next != colony) {
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
        rounds[n] = (struct judged){.score = column_number(stmt, 2), .refused = sqlite3_column_int(stmt, 3) != 0};
        ok = ok && (day_parse((const char *)sqlite3_column_text(stmt, 1), &rounds[n].day) ||
                    err_set(e, ERR_STORE, NULL, "the store is damaged: a round without a day"));
        n++;
    }
    if (ok && rc != SQLITE_DONE)
        ok = store_fail(s, e);
    ok = ok && settle(f, colony, rounds, n, e);
    sqlite3_finalize(stmt);
    free(rounds);
    return ok;
}
