/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reads the whole facility into plain structs: registers by the field table, then what the log adds to them. */
#include "internal.h"
#include "neap/learned.h"
#include "neap/replan.h"

static bool read_register(struct store *s, enum reg_id id, struct facility *f, struct err *e)
{
    const struct reg *r = reg_get(id);
    return store_load_rows(s, f, id, "", &f->arena, (char *)f + r->array_offset,
                           (size_t *)(void *)((char *)f + r->count_offset), e);
}

struct settings_in {
    struct cell cells[FIELDS_MAX];
    struct arena *arena;
};

/* A stored setting that this version does not know is left alone. */
static bool take_setting(void *context, const struct cell *cells, struct err *e)
{
    struct settings_in *in = context;
    const struct reg *figures = settings_reg();
    size_t at = reg_field(figures, cells[0].text);
    struct err why;
    if (at == SIZE_MAX || cell_parse(&figures->fields[at], cells[1].text, in->arena, &in->cells[at], &why))
        return true;
    return why.code == ERR_MEMORY
               ? err_memory(e)
               : err_set(e, ERR_STORE, NULL, "the store is damaged: setting %s %s", figures->fields[at].name, why.text);
}

bool store_read_settings(struct store *s, struct facility *f, struct err *e)
{
    struct settings_in in = {.arena = &f->arena};
    return store_each(s, reg_get(REG_SETTING), take_setting, &in, e) &&
           store_fill(settings_reg(), f, &f->arena, in.cells, &f->settings, e);
}

/* ---- what the log adds ------------------------------------------------------------------------------------------ */

/*
 * How far back the log is read: a store of ten years answers as fast as one of half a year. Rounds are asked for by
 * their number first, which all tables of a round begin with; later numbers may be of earlier days, so the day is asked
 * for too.
 */
struct reading_log {
    struct store *s;
    struct facility *f;
    int day;
    long first_round, older; /* older: are there rounds before those that are read? */
    char since[DAY_TEXT];
    struct row_list list;      /* of the kind that is being read */
    struct row_list strengths; /* beside the feds */
    int *broadcast_days;       /* a tank's last */
};

typedef bool take_fact(struct reading_log *in, sqlite3_stmt *stmt, struct err *e);

static bool run_fact(struct reading_log *in, sqlite3_stmt *stmt, take_fact *take, struct err *e)
{
    int rc = SQLITE_DONE;
    bool ok = true;
    while (ok && (rc = sqlite3_step(stmt)) == SQLITE_ROW)
        ok = take(in, stmt, e);
    if (ok && rc != SQLITE_DONE)
        ok = store_fail(in->s, e);
    sqlite3_reset(stmt);
    return ok;
}

/* ?1: the first round's number, ?2: the first day. */
static bool each_fact(struct reading_log *in, const char *sql, take_fact *take, struct err *e)
{
    sqlite3_stmt *stmt;
    if (!store_prepare(in->s, sql, &stmt, e))
        return false;
    if (sqlite3_bind_parameter_index(stmt, "?1") > 0)
        sqlite3_bind_int64(stmt, 1, in->first_round);
    if (sqlite3_bind_parameter_index(stmt, "?2") > 0)
        sqlite3_bind_text(stmt, 2, in->since, -1, SQLITE_STATIC);
    bool ok = run_fact(in, stmt, take, e);
    sqlite3_finalize(stmt);
    return ok;
}

/* A fact of each of n things that have a key (?1); NULL: not asked for. */
typedef const char *key_of(const struct reading_log *in, size_t i);

static bool each_key(struct reading_log *in, const char *sql, key_of *key, size_t n, take_fact *take, struct err *e)
{
    sqlite3_stmt *stmt;
    if (!store_prepare(in->s, sql, &stmt, e))
        return false;
    bool ok = true;
    for (size_t i = 0; ok && i < n; i++) {
        const char *text = key(in, i);
        if (text)
            ok = sqlite3_bind_text(stmt, 1, text, -1, SQLITE_STATIC) == SQLITE_OK ? run_fact(in, stmt, take, e)
                                                                                  : store_fail(in->s, e);
    }
    sqlite3_finalize(stmt);
    return ok;
}

/* each_key, where there are rounds before those that are read. */
static bool each_older(struct reading_log *in, const char *sql, key_of *key, size_t n, take_fact *take, struct err *e)
{
    return in->older == 0 || each_key(in, sql, key, n, take, e);
}

/* each_fact, and the rows that were added become the facility's. */
static bool read_facts(struct reading_log *in, const char *sql, take_fact *take, size_t size, void *array, size_t *n,
                       struct err *e)
{
    in->list = (struct row_list){0};
    return store_list_end(&in->list, each_fact(in, sql, take, e), size, &in->f->arena, array, n, e);
}

/* What was done to a row of a register, and the day. */
static bool done_on(const struct reading_log *in, enum reg_id id, sqlite3_stmt *stmt, size_t *ref, int *day,
                    struct err *e)
{
    return store_column_ref(in->f, id, stmt, 0, ref, e) && store_column_day(stmt, 1, day, e);
}

static bool take_fed_day(struct reading_log *in, sqlite3_stmt *stmt, struct err *e)
{
    size_t colony;
    int day;
    if (!done_on(in, REG_COLONY, stmt, &colony, &day, e))
        return false;
    if (day > in->f->colonies[colony].last_fed)
        in->f->colonies[colony].last_fed = day;
    return true;
}

static bool take_broadcast_day(struct reading_log *in, sqlite3_stmt *stmt, struct err *e)
{
    size_t tank;
    int day;
    if (!done_on(in, REG_TANK, stmt, &tank, &day, e))
        return false;
    if (day > in->broadcast_days[tank])
        in->broadcast_days[tank] = day;
    return true;
}

static const char *tank_not_broadcast_to(const struct reading_log *in, size_t tank)
{
    return in->broadcast_days[tank] == DAY_NONE ? in->f->tanks[tank].name : NULL;
}

static const char *colony_not_fed(const struct reading_log *in, size_t colony)
{
    const struct colony *c = &in->f->colonies[colony];
    return !c->retired && in->f->kinds[c->kind].feeding != FEEDING_BROADCAST && c->last_fed == c->fed_before ? c->code
                                                                                                             : NULL;
}

/*
 * A broadcast feeds every colony of the tank that lives by it. Where the late rounds have none, the older ones are
 * asked.
 */
static bool read_broadcast_days(struct reading_log *in, struct err *e)
{
    struct facility *f = in->f;
    int *days = arena_alloc(&f->arena, f->n_tanks, sizeof *days);
    if (!days)
        return err_memory(e);
    for (size_t i = 0; i < f->n_tanks; i++)
        days[i] = DAY_NONE;
    in->broadcast_days = days;
    bool ok =
        each_fact(in,
                  "SELECT tank, max(day) FROM given_line WHERE action = 'broadcast' AND round >= ?1 AND day >= ?2"
                  " GROUP BY tank",
                  take_broadcast_day, e) &&
        each_older(in, "SELECT tank, max(day) FROM given_line WHERE action = 'broadcast' AND tank = ?1 GROUP BY tank",
                   tank_not_broadcast_to, f->n_tanks, take_broadcast_day, e);
    for (size_t i = 0; ok && i < f->n_colonies; i++) {
        struct colony *c = &f->colonies[i];
        if (f->kinds[c->kind].feeding == FEEDING_BROADCAST && days[c->tank] > c->last_fed)
            c->last_fed = days[c->tank];
    }
    return ok;
}

static bool read_fed_days(struct reading_log *in, struct err *e)
{
    return each_fact(in,
                     "SELECT colony, max(day) FROM given_line WHERE action = 'target' AND round >= ?1 AND day >= ?2"
                     " GROUP BY colony",
                     take_fed_day, e) &&
           each_older(in,
                      "SELECT colony, max(day) FROM given_line WHERE action = 'target' AND colony = ?1 GROUP BY colony",
                      colony_not_fed, in->f->n_colonies, take_fed_day, e);
}

static bool take_refusal(struct reading_log *in, sqlite3_stmt *stmt, struct err *e)
{
    size_t colony;
    int day;
    if (!done_on(in, REG_COLONY, stmt, &colony, &day, e))
        return false;
    in->f->colonies[colony].last_refused = day;
    return true;
}

static bool take_drawn(struct reading_log *in, sqlite3_stmt *stmt, struct err *e)
{
    struct draw *d = store_list_add(&in->list, sizeof *d, e);
    if (!d || !done_on(in, REG_LOT, stmt, &d->lot, &d->day, e))
        return false;
    d->fed_units = sqlite3_column_double(stmt, 2);
    d->wasted_units = sqlite3_column_double(stmt, 3);
    return true;
}

static bool take_used(struct reading_log *in, sqlite3_stmt *stmt, struct err *e)
{
    size_t lot;
    if (!store_column_ref(in->f, REG_LOT, stmt, 0, &lot, e))
        return false;
    in->f->lots[lot].used_units = sqlite3_column_double(stmt, 1);
    return true;
}

static const char *lot_in_use(const struct reading_log *in, size_t lot)
{
    return in->f->lots[lot].retired ? NULL : in->f->lots[lot].code;
}

/* What is used of a lot counts from its first day, whenever that was; of one that is used up nobody asks. */
static bool read_draws(struct reading_log *in, struct err *e)
{
    struct facility *f = in->f;
    bool ok = read_facts(in,
                         "SELECT lot, day, sum(fed_units), sum(wasted_units) FROM ("
                         "SELECT lot, day, units AS fed_units, 0.0 AS wasted_units FROM drawn_by_round"
                         " WHERE round >= ?1 AND day >= ?2 UNION ALL"
                         " SELECT lot, substr(wasted, 1, 10), 0.0, amount_units FROM live_waste WHERE wasted >= ?2)"
                         " GROUP BY lot, day ORDER BY lot, day",
                         take_drawn, sizeof *f->draws, &f->draws, &f->n_draws, e);
    return ok && each_key(in, LOT_USED_SQL, lot_in_use, f->n_lots, take_used, e);
}

/* The row that was added last; NULL: none yet. */
static void *last_row(const struct reading_log *in, size_t size)
{
    return in->list.n > 0 ? (char *)in->list.rows + size * (in->list.n - 1) : NULL;
}

/* The weakest that was allowed of what a system got on a day; rows come by both. */
static bool add_strength(struct reading_log *in, size_t system, int day, double factor, struct err *e)
{
    struct row_list *list = &in->strengths;
    struct strength *s = list->n > 0 ? (struct strength *)list->rows + list->n - 1 : NULL;
    if (s && s->system == system && s->day == day) {
        s->factor = fmin(s->factor, factor);
        return true;
    }
    if ((s = store_list_add(list, sizeof *s, e)))
        *s = (struct strength){system, day, factor};
    return s != NULL;
}

/* Rows come by lot; those of one system, day and food are one. */
static bool take_fed(struct reading_log *in, sqlite3_stmt *stmt, struct err *e)
{
    const struct facility *f = in->f;
    size_t system, food, lot;
    int day;
    if (!done_on(in, REG_SYSTEM, stmt, &system, &day, e) || !store_column_ref(f, REG_FOOD, stmt, 2, &food, e) ||
        !store_column_ref_or_none(f, REG_LOT, stmt, 3, &lot, e))
        return false;
    struct fed *fed = last_row(in, sizeof *fed);
    if (!fed || fed->system != system || fed->day != day || fed->food != food) {
        if (!(fed = store_list_add(&in->list, sizeof *fed, e)))
            return false;
        *fed = (struct fed){.system = system, .day = day, .food = food};
    }
    double target = sqlite3_column_double(stmt, 4), broadcast = sqlite3_column_double(stmt, 5);
    double fish = sqlite3_column_double(stmt, 6);
    fed->target_units += target;
    fed->broadcast_units += broadcast;
    fed->fish_units += fish;
    fed->cost_cents += lround((target + broadcast + fish) * lot_unit_cents(f, food, lot));
    return sqlite3_column_type(stmt, 7) == SQLITE_NULL ||
           add_strength(in, system, day, sqlite3_column_double(stmt, 7), e);
}

static bool read_feds(struct reading_log *in, struct err *e)
{
    struct facility *f = in->f;
    in->strengths = (struct row_list){0};
    bool ok = read_facts(in,
                         "SELECT system, day, food, lot, total(units) FILTER (WHERE action = 'target'),"
                         " total(units) FILTER (WHERE action = 'broadcast'),"
                         " total(units) FILTER (WHERE action IN ('fish', 'extra')), min(allowed_frac)"
                         " FROM fed WHERE round >= ?1 AND day >= ?2"
                         " GROUP BY system, day, food, lot ORDER BY system, day, food, lot",
                         take_fed, sizeof *f->feds, &f->feds, &f->n_feds, e);
    return store_list_end(&in->strengths, ok, sizeof *f->strengths, &f->arena, &f->strengths, &f->n_strengths, e);
}

/* The first round of the days that are read; later than any where there is none. */
static bool first_round_since(struct reading_log *in, int day, struct err *e)
{
    struct text sql = {0};
    day_format(day, in->since);
    text_addf(&sql, "SELECT coalesce(min(number), (SELECT 1 + max(number) FROM round)) FROM round WHERE day >= '%s'",
              in->since);
    bool ok = sql.failed ? err_memory(e) : store_number(in->s, text_str(&sql), 1, &in->first_round, e);
    text_free(&sql);
    return ok;
}

static bool ask_older(struct reading_log *in, struct err *e)
{
    char sql[160];
    snprintf(sql, sizeof sql, "SELECT EXISTS (SELECT 1 FROM round WHERE number < %ld OR day < '%s')", in->first_round,
             in->since);
    return store_number(in->s, sql, 0, &in->older, e);
}

/* The first day that is looked back on; 0: whatever there is. */
static int first_day_of(const struct look_back *back, const struct settings *settings)
{
    int most_d = back->days > LEARN_D ? back->days : LEARN_D;
    if (settings->window_d > most_d)
        most_d = (int)settings->window_d;
    return back->day == DAY_NONE ? 0 : back->day - most_d - 7; /* and what the first week is held against */
}

/* Rows come by round; the name of one is kept once. */
static const char *round_name(struct reading_log *in, sqlite3_stmt *stmt, const char *last)
{
    const char *name = (const char *)sqlite3_column_text(stmt, 1);
    return last && name && strcmp(last, name) == 0 ? last : arena_text(&in->f->arena, name ? name : "");
}

static bool take_day_use(struct reading_log *in, sqlite3_stmt *stmt, struct err *e)
{
    const struct day_use *last = last_row(in, sizeof *last);
    struct day_use u = {
        .round = round_name(in, stmt, last ? last->round : NULL),
        .refused = sqlite3_column_int(stmt, 6) != 0,
        .planned = sqlite3_column_int(stmt, 7) != 0,
        .units = sqlite3_column_double(stmt, 8),
    };
    if (!u.round)
        return err_memory(e);
    if (!store_column_day(stmt, 0, &u.day, e) || !store_column_ref(in->f, REG_TANK, stmt, 2, &u.tank, e) ||
        !store_column_ref_or_none(in->f, REG_COLONY, stmt, 3, &u.colony, e) ||
        !store_column_ref(in->f, REG_FOOD, stmt, 4, &u.food, e) ||
        !store_column_choice(REG_LINE, "action", stmt, 5, &u.action, e))
        return false;
    struct day_use *row = store_list_add(&in->list, sizeof *row, e);
    if (row)
        *row = u;
    return row != NULL;
}

static bool take_day_claim(struct reading_log *in, sqlite3_stmt *stmt, struct err *e)
{
    const struct day_claim *last = last_row(in, sizeof *last);
    struct day_claim c = {
        .round = round_name(in, stmt, last ? last->round : NULL),
        .units = sqlite3_column_double(stmt, 3),
    };
    if (!c.round)
        return err_memory(e);
    if (!store_column_day(stmt, 0, &c.day, e) || !store_column_ref(in->f, REG_LOT, stmt, 2, &c.lot, e))
        return false;
    struct day_claim *row = store_list_add(&in->list, sizeof *row, e);
    if (row)
        *row = c;
    return row != NULL;
}

/* Of the day, and of the one before it, whose last round may be logged in the morning. */
static bool read_day(const struct reading_log *log, struct err *e)
{
    struct reading_log in = {.s = log->s, .f = log->f, .day = log->day};
    if (in.day == DAY_NONE)
        return true;
    if (!first_round_since(&in, in.day - 1, e))
        return false;
    return read_facts(&in,
                      "SELECT day, name, tank, colony, food, action, refused, planned, units FROM day_use"
                      " WHERE round >= ?1 AND day >= ?2"
                      " ORDER BY day, name, tank, colony, food, action, refused, planned, units",
                      take_day_use, sizeof *in.f->day_uses, &in.f->day_uses, &in.f->n_day_uses, e) &&
           read_facts(&in,
                      "SELECT day, name, lot, sum(units) FROM day_claim WHERE round >= ?1 AND day >= ?2"
                      " GROUP BY day, name, lot ORDER BY day, name, lot",
                      take_day_claim, sizeof *in.f->day_claims, &in.f->day_claims, &in.f->n_day_claims, e);
}

static bool read_log(struct reading_log *in, struct err *e)
{
    for (size_t i = 0; i < in->f->n_colonies; i++) {
        struct colony *c = &in->f->colonies[i];
        c->last_fed = c->fed_before;
        c->last_refused = DAY_NONE;
        c->portion_frac = 1;
        c->look = "";
    }
    return read_fed_days(in, e) && read_broadcast_days(in, e) &&
           each_fact(in,
                     "SELECT line.colony, max(round.day) FROM live_given AS g JOIN line ON line.round = g.round"
                     " AND line.number = g.line AND line.revision = g.sheet_revision JOIN round"
                     " ON round.number = g.round AND round.revision = g.sheet_revision"
                     " WHERE g.outcome = 'refused' AND line.colony IS NOT NULL AND g.round >= ?1 AND round.day >= ?2"
                     " GROUP BY line.colony",
                     take_refusal, e) &&
           read_draws(in, e) && store_read_responses(in->s, in->f, e) && read_feds(in, e) && read_day(in, e);
}

static bool read_registers(struct store *s, const struct look_back *back, struct facility *f, struct err *e)
{
    bool windowed = back->day != DAY_NONE && !back->every_test, ok = true;
    for (int id = REG_SYSTEM; ok && id <= REG_WATER; id++)
        ok = id == REG_TEST && windowed ? store_read_tests(s, f, first_day_of(back, &f->settings), e)
                                        : read_register(s, (enum reg_id)id, f, e);
    return ok;
}

bool store_snapshot(struct store *s, const struct look_back *back, struct facility *f, struct err *e)
{
    struct reading_log log = {.s = s, .f = f, .day = back->day};
    *f = (struct facility){0};
    bool own; /* every register is of the same moment */
    bool ok = store_moment_begin(s, &own, e) && store_read_settings(s, f, e);
    ok = ok && read_registers(s, back, f, e) && first_round_since(&log, first_day_of(back, &f->settings), e) &&
         ask_older(&log, e) && read_log(&log, e);
    store_moment_end(s, own);
    ok = ok && facility_derive(f, e);
    if (!ok)
        facility_free(f);
    return ok;
}
