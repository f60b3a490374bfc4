/* Reads the whole facility into plain structs: registers by the field table, then what the log adds to them. */
#include "internal.h"
#include "neap/replan.h"

struct reading_rows {
    const struct reg *reg;
    struct facility *f;
    char *rows;
    size_t n, room;
};

static bool take_row(void *context, const struct cell *cells, struct err *e)
{
    struct reading_rows *in = context;
    if (in->n == in->room)
        return err_set(e, ERR_STORE, NULL, "the store changed while it was read; try again");
    return store_fill(in->reg, in->f, &in->f->arena, cells, in->rows + in->n++ * in->reg->row_size, e);
}

static bool read_register(struct store *s, enum reg_id id, struct facility *f, struct err *e)
{
    const struct reg *r = reg_get(id);
    struct reading_rows in = {.reg = r, .f = f};
    long n;
    if (!store_count(s, r, &n, e))
        return false;
    in.room = (size_t)n;
    in.rows = arena_alloc(&f->arena, in.room, r->row_size);
    if (!in.rows)
        return err_memory(e);
    void *array = (char *)f + r->array_offset;
    memcpy(array, &in.rows, sizeof in.rows);
    if (!store_each(s, r, take_row, &in, e))
        return false;
    *(size_t *)(void *)((char *)f + r->count_offset) = in.n;
    return true;
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

typedef bool take_fact(struct facility *f, sqlite3_stmt *stmt, struct err *e);

static bool each_fact(struct store *s, const char *sql, struct facility *f, take_fact *take, struct err *e)
{
    sqlite3_stmt *stmt;
    if (!store_prepare(s, sql, &stmt, e))
        return false;
    int rc;
    bool ok = true;
    while (ok && (rc = sqlite3_step(stmt)) == SQLITE_ROW)
        ok = take(f, stmt, e);
    if (ok && rc != SQLITE_DONE)
        ok = store_fail(s, e);
    sqlite3_finalize(stmt);
    return ok;
}

static size_t column_find(const struct facility *f, enum reg_id id, sqlite3_stmt *stmt, int column)
{
    const char *key = (const char *)sqlite3_column_text(stmt, column);
    return key ? facility_find(f, id, key) : REF_NONE;
}

static int column_day(sqlite3_stmt *stmt, int column)
{
    int day = DAY_NONE;
    const char *text = (const char *)sqlite3_column_text(stmt, column);
    if (text)
        day_parse(text, &day);
    return day;
}

static bool take_fed_day(struct facility *f, sqlite3_stmt *stmt, struct err *e)
{
    (void)e;
    size_t colony = column_find(f, REG_COLONY, stmt, 0);
    int day = column_day(stmt, 1);
    if (colony != REF_NONE && day > f->colonies[colony].last_fed)
        f->colonies[colony].last_fed = day;
    return true;
}

/* A broadcast feeds every colony of the tank that lives by it. */
static bool take_broadcast_day(struct facility *f, sqlite3_stmt *stmt, struct err *e)
{
    (void)e;
    size_t tank = column_find(f, REG_TANK, stmt, 0);
    int day = column_day(stmt, 1);
    for (size_t i = 0; i < f->n_colonies; i++) {
        struct colony *c = &f->colonies[i];
        if (c->tank == tank && f->kinds[c->kind].feeding == FEEDING_BROADCAST && day > c->last_fed)
            c->last_fed = day;
    }
    return true;
}

static bool take_refusal(struct facility *f, sqlite3_stmt *stmt, struct err *e)
{
    (void)e;
    size_t colony = column_find(f, REG_COLONY, stmt, 0);
    if (colony != REF_NONE)
        f->colonies[colony].last_refused = column_day(stmt, 1);
    return true;
}

static bool take_drawn(struct facility *f, sqlite3_stmt *stmt, struct err *e)
{
    (void)e;
    struct draw d = {column_find(f, REG_LOT, stmt, 0), column_day(stmt, 1), sqlite3_column_double(stmt, 2),
                     sqlite3_column_double(stmt, 3)};
    if (d.lot == REF_NONE)
        return true;
    f->lots[d.lot].used_units += d.fed_units + d.wasted_units;
    f->draws[f->n_draws++] = d;
    return true;
}

static bool read_draws(struct store *s, struct facility *f, struct err *e)
{
    long n;
    if (!store_number(s, "SELECT count(*) FROM drawn_day", 0, &n, e))
        return false;
    f->draws = arena_alloc(&f->arena, (size_t)n, sizeof *f->draws);
    if (!f->draws)
        return err_memory(e);
    return each_fact(s, "SELECT lot, day, fed_units, wasted_units FROM drawn_day ORDER BY lot, day", f, take_drawn, e);
}

/* Rows come by lot; those of one system, day and food are one. */
static bool take_fed(struct facility *f, sqlite3_stmt *stmt, struct err *e)
{
    (void)e;
    size_t system = column_find(f, REG_SYSTEM, stmt, 0), food = column_find(f, REG_FOOD, stmt, 2);
    int day = column_day(stmt, 1);
    struct fed *fed = f->n_feds > 0 ? &f->feds[f->n_feds - 1] : NULL;
    if (!fed || fed->system != system || fed->day != day || fed->food != food) {
        fed = &f->feds[f->n_feds++];
        *fed = (struct fed){.system = system, .day = day, .food = food};
    }
    double target = sqlite3_column_double(stmt, 4), broadcast = sqlite3_column_double(stmt, 5);
    double fish = sqlite3_column_double(stmt, 6);
    fed->target_units += target;
    fed->broadcast_units += broadcast;
    fed->fish_units += fish;
    fed->cost_cents += lround((target + broadcast + fish) * lot_unit_cents(f, food, column_find(f, REG_LOT, stmt, 3)));
    return true;
}

static bool read_feds(struct store *s, struct facility *f, struct err *e)
{
    long n;
    if (!store_number(s, "SELECT count(*) FROM (SELECT DISTINCT system, day, food FROM fed)", 0, &n, e))
        return false;
    f->feds = arena_alloc(&f->arena, (size_t)n, sizeof *f->feds);
    if (!f->feds)
        return err_memory(e);
    return each_fact(s,
                     "SELECT system, day, food, lot, total(units) FILTER (WHERE action = 'target'),"
                     " total(units) FILTER (WHERE action = 'broadcast'),"
                     " total(units) FILTER (WHERE action IN ('fish', 'extra'))"
                     " FROM fed GROUP BY system, day, food, lot ORDER BY system, day, food, lot",
                     f, take_fed, e);
}

static bool take_strength(struct facility *f, sqlite3_stmt *stmt, struct err *e)
{
    (void)e;
    f->strengths[f->n_strengths++] =
        (struct strength){column_find(f, REG_SYSTEM, stmt, 0), column_day(stmt, 1), sqlite3_column_double(stmt, 2)};
    return true;
}

static bool read_strengths(struct store *s, struct facility *f, struct err *e)
{
    long n;
    if (!store_number(s, "SELECT count(*) FROM fed_strength", 0, &n, e))
        return false;
    f->strengths = arena_alloc(&f->arena, (size_t)n, sizeof *f->strengths);
    if (!f->strengths)
        return err_memory(e);
    return each_fact(s, "SELECT system, day, factor FROM fed_strength ORDER BY system, day", f, take_strength, e);
}

static bool read_log(struct store *s, struct facility *f, struct err *e)
{
    for (size_t i = 0; i < f->n_colonies; i++) {
        struct colony *c = &f->colonies[i];
        c->last_fed = c->fed_before;
        c->last_refused = DAY_NONE;
        c->portion_frac = 1;
        c->look = "";
    }
    return each_fact(s, "SELECT colony, max(day) FROM given_line WHERE action = 'target' GROUP BY colony", f,
                     take_fed_day, e) &&
           each_fact(s, "SELECT tank, max(day) FROM given_line WHERE action = 'broadcast' GROUP BY tank", f,
                     take_broadcast_day, e) &&
           each_fact(s,
                     "SELECT line.colony, max(round.day) FROM live_given AS g JOIN line ON line.round = g.round"
                     " AND line.number = g.line AND line.revision = g.sheet_revision JOIN round"
                     " ON round.number = g.round AND round.revision = g.sheet_revision"
                     " WHERE g.outcome = 'refused' AND line.colony IS NOT NULL GROUP BY line.colony",
                     f, take_refusal, e) &&
           read_draws(s, f, e) && store_read_responses(s, f, e) && read_feds(s, f, e) && read_strengths(s, f, e);
}

bool store_snapshot(struct store *s, struct facility *f, struct err *e)
{
    *f = (struct facility){0};
    /* One read transaction, so that every register is of the same moment; a writer's own is used as it is. */
    bool own = sqlite3_get_autocommit(s->db);
    bool ok = (!own || store_run(s, "BEGIN", e)) && store_read_settings(s, f, e);
    for (int id = REG_SYSTEM; ok && id <= REG_WATER; id++)
        ok = read_register(s, (enum reg_id)id, f, e);
    ok = ok && read_log(s, f, e);
    if (own && !sqlite3_get_autocommit(s->db))
        sqlite3_exec(s->db, "COMMIT", NULL, NULL, NULL);
    ok = ok && facility_derive(f, e);
    if (!ok)
        facility_free(f);
    return ok;
}
