/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was logged of the rounds of some days, and what befell corals and tanks in them. */
#include "neap/week_log.h"
#include "neap/log.h"
#include "neap/stock.h"

struct gathering {
    struct store *s;
    const struct facility *f;
    int first_day, last_day;
    struct arena *a;
    struct log_week *week;
    const struct entry *entry; /* whose changes are walked */
};

static bool add_event(struct gathering *g, enum week_part part, int day, const char *text, struct err *e)
{
    struct week_events *list = &g->week->events[part];
    struct week_event *more = arena_alloc(g->a, list->n + 1, sizeof *more);
    if (!more || !text)
        return err_memory(e);
    if (list->n > 0)
        memcpy(more, list->rows, list->n * sizeof *more);
    more[list->n++] = (struct week_event){day, text};
    list->rows = more;
    return true;
}

static const struct cell *cell_of(const struct cell *cells, enum reg_id id, const char *field)
{
    return &cells[reg_field(reg_get(id), field)];
}

static const char *text_of(const struct cell *cells, enum reg_id id, const char *field)
{
    const struct cell *c = cell_of(cells, id, field);
    return c->kind == CELL_TEXT ? c->text : "";
}

/* The day of a ledger's moment, where it is one of the report's. */
static bool is_within(const struct gathering *g, const char *moment, int *day)
{
    long at;
    if (!moment_parse(moment, &at))
        return false;
    *day = moment_day(at);
    return *day >= g->first_day && *day <= g->last_day;
}

/* ---- the ledgers ------------------------------------------------------------------------------------------------- */

static bool take_tally(void *context, const struct cell *cells, struct err *e)
{
    struct gathering *g = context;
    int day;
    (void)e;
    if (!is_within(g, text_of(cells, REG_TALLY, "changed"), &day))
        return true;
    const struct field *reason = &reg_get(REG_TALLY)->fields[reg_field(reg_get(REG_TALLY), "reason")];
    for (int i = 0; i < TALLY_MOVED; i++)
        if (strcmp(reason->choices[i], text_of(cells, REG_TALLY, "reason")) == 0)
            g->week->corals[i] += labs(cell_of(cells, REG_TALLY, "change")->whole);
    return true;
}

static bool take_treatment(void *context, const struct cell *cells, struct err *e)
{
    struct gathering *g = context;
    int day;
    if (!is_within(g, text_of(cells, REG_TREATMENT, "treated"), &day))
        return true;
    const char *colony = text_of(cells, REG_TREATMENT, "colony");
    const struct cell *min = cell_of(cells, REG_TREATMENT, "duration_min");
    const char *lasted = min->kind == CELL_NUMBER ? arena_format(g->a, ", %.10g min", min->number) : "";
    return add_event(g, WEEK_TREATED, day,
                     arena_format(g->a, "%s%s%s: %s%s", *colony ? colony : "all", " in ",
                                  text_of(cells, REG_TREATMENT, "tank"), text_of(cells, REG_TREATMENT, "what"),
                                  lasted ? lasted : ""),
                     e);
}

static bool take_waste(void *context, const struct cell *cells, struct err *e)
{
    struct gathering *g = context;
    int day;
    size_t lot = facility_find(g->f, REG_LOT, text_of(cells, REG_WASTE, "lot"));
    if (lot == REF_NONE || !is_within(g, text_of(cells, REG_WASTE, "wasted"), &day))
        return true;
    const struct food *food = &g->f->foods[g->f->lots[lot].food];
    return add_event(g, WEEK_WASTED, day,
                     arena_format(g->a, "%.10g %s of %s, lot %s: %s", cell_of(cells, REG_WASTE, "amount_units")->number,
                                  food_unit_name(food), food->name, g->f->lots[lot].code,
                                  text_of(cells, REG_WASTE, "reason")),
                     e);
}

/* ---- holds: what the journal says of them ------------------------------------------------------------------------ */

static bool take_change(void *context, const struct row_change *c, struct err *e)
{
    struct gathering *g = context;
    size_t at = reg_field(c->reg, "hold_reason");
    long made;
    if (at == SIZE_MAX || c->what == CHANGE_REMOVED || !c->touched[at] || !moment_parse(g->entry->made, &made))
        return true;
    const char *name = c->after[0].kind == CELL_TEXT ? c->after[0].text : "";
    bool begins = c->after[at].kind == CELL_TEXT;
    if (c->what == CHANGE_ADDED && !begins) /* a new coral that nobody held */
        return true;
    return add_event(g, WEEK_HELD, moment_day(made),
                     begins ? arena_format(g->a, "%s held: %s", name, c->after[at].text)
                            : arena_format(g->a, "%s released", name),
                     e);
}

/* Only these commands hold; a load of a whole facility is no news of holds. */
static bool is_about_holds(const char *command)
{
    return strstr(command, " hold ") || strstr(command, " release ") || strstr(command, "hold_reason=") ||
           strstr(command, " --heal");
}

static bool take_entry(void *context, const struct entry *entry, struct err *e)
{
    struct gathering *g = context;
    int day;
    bool sound;
    if (entry->undoes || entry->undone_by || !is_within(g, entry->made, &day) || !is_about_holds(entry->command))
        return true;
    if (!store_entry_sound(g->s, entry->id, &sound, e))
        return false;
    g->entry = entry;
    return !sound || store_each_change(g->s, entry->id, take_change, g, e);
}

static bool end_hold(struct gathering *g, const char *name, const char *reason, int until, struct err *e)
{
    if (!*reason || until == DAY_NONE || until < g->first_day - 1 || until >= g->last_day)
        return true;
    return add_event(g, WEEK_HELD, until + 1, arena_format(g->a, "%s: its hold is over (%s)", name, reason), e);
}

static bool end_holds(struct gathering *g, struct err *e)
{
    for (size_t i = 0; i < g->f->n_tanks; i++)
        if (!end_hold(g, g->f->tanks[i].name, g->f->tanks[i].hold_reason, g->f->tanks[i].hold_until, e))
            return false;
    for (size_t i = 0; i < g->f->n_colonies; i++)
        if (!g->f->colonies[i].retired &&
            !end_hold(g, g->f->colonies[i].code, g->f->colonies[i].hold_reason, g->f->colonies[i].hold_until, e))
            return false;
    return true;
}

/* ---- who was not fed --------------------------------------------------------------------------------------------- */

static int hungriest(const void *left, const void *right)
{
    const struct unfed *a = left, *b = right;
    if (a->days != b->days)
        return a->days > b->days ? -1 : 1;
    return (a->colony > b->colony) - (a->colony < b->colony);
}

/* Not within twice their interval; since the day of arrival where they never were. */
static bool find_unfed(struct gathering *g, struct err *e)
{
    g->week->unfed = arena_alloc(g->a, g->f->n_colonies, sizeof *g->week->unfed);
    if (!g->week->unfed)
        return err_memory(e);
    for (size_t i = 0; i < g->f->n_colonies; i++) {
        const struct colony *c = &g->f->colonies[i];
        const struct kind *k = &g->f->kinds[c->kind];
        int since = c->last_fed != DAY_NONE ? c->last_fed : c->arrived;
        if (c->retired || (k->feeding != FEEDING_TARGET && k->feeding != FEEDING_CLOUD) || since == DAY_NONE ||
            g->last_day - since <= 2 * k->interval_d)
            continue;
        g->week->unfed[g->week->n_unfed++] = (struct unfed){i, g->last_day - since, c->last_fed == DAY_NONE};
    }
    qsort(g->week->unfed, g->week->n_unfed, sizeof *g->week->unfed, hungriest);
    return true;
}

static int by_day(const void *left, const void *right)
{
    const struct week_event *a = left, *b = right;
    return a->day != b->day ? (a->day > b->day) - (a->day < b->day) : strcmp(a->text, b->text);
}

static bool week_events(struct store *s, const struct facility *f, int first_day, int last_day, struct arena *a,
                        struct log_week *week, struct err *e)
{
    struct gathering g = {s, f, first_day, last_day, a, week, NULL};
    bool ok = store_each(s, reg_get(REG_TALLY), take_tally, &g, e) &&
              store_each(s, reg_get(REG_TREATMENT), take_treatment, &g, e) &&
              store_each(s, reg_get(REG_WASTE), take_waste, &g, e) && store_each_entry(s, -1, take_entry, &g, e) &&
              end_holds(&g, e) && find_unfed(&g, e);
    for (size_t i = 0; ok && i < COUNT_OF(week->events); i++)
        if (week->events[i].n > 1)
            qsort(week->events[i].rows, week->events[i].n, sizeof *week->events[i].rows, by_day);
    return ok;
}

/* ---- the rounds -------------------------------------------------------------------------------------------------- */

/* *rows: an array of n in the arena; more behind it. */
static bool append(struct arena *a, void *rows, size_t *n, const void *more, size_t n_more, size_t size, struct err *e)
{
    void *before;
    char *all;
    if (n_more == 0)
        return true;
    all = arena_alloc(a, *n + n_more, size);
    if (!all)
        return err_memory(e);
    memcpy(&before, rows, sizeof before);
    if (*n > 0)
        memcpy(all, before, *n * size);
    memcpy(all + *n * size, more, n_more * size);
    memcpy(rows, &all, sizeof all);
    *n += n_more;
    return true;
}

static bool add_faults(const struct facility *f, const struct round *r, const struct round_log *log, struct arena *a,
                       struct log_week *week, struct err *e)
{
    struct long_stop *stops;
    struct switch_fault *switches;
    size_t n_stops, n_switches;
    return log_long_stops(f, r, log, a, &stops, &n_stops, e) &&
           append(a, &week->stops, &week->n_stops, stops, n_stops, sizeof *stops, e) &&
           log_switch_faults(f, r, log, a, &switches, &n_switches, e) &&
           append(a, &week->switches, &week->n_switches, switches, n_switches, sizeof *switches, e);
}

/* Who logs switches at all has logged some of the round's. */
static void add_open_switches(const struct round *r, const struct round_log *log, struct text *open)
{
    struct text switches = {0};
    if (log->n_switcheds > 0)
        log_open_switches(r, log, &switches);
    if (switches.len > 0)
        text_addf(open, "%sswitches %s", open->len > 0 ? "; " : "", text_str(&switches));
    open->failed = open->failed || switches.failed;
    text_free(&switches);
}

static bool add_round(struct store *s, const struct facility *f, const struct kept_round *kept, struct arena *a,
                      struct log_week *week, struct err *e)
{
    struct round r;
    struct round_log log;
    struct text open = {0};
    if (!store_load_round(s, f, kept->number, &r, e))
        return false;
    bool ok = store_load_log(s, f, kept->number, &log, e);
    if (ok) {
        log_figures_add(&r, &log, &week->figures);
        log_open_lines(f, &r, &log, &open);
        add_open_switches(&r, &log, &open);
        struct open_round row = {kept->number, r.head.day, kept->name,
                                 open.failed ? NULL : arena_text(a, text_str(&open))};
        ok = (row.lines ? true : err_memory(e)) && add_faults(f, &r, &log, a, week, e);
        if (ok && open.len > 0)
            week->open[week->n_open++] = row;
        round_log_free(&log);
    }
    text_free(&open);
    round_free(&r);
    return ok;
}

bool week_log(struct store *s, const struct facility *f, int first_day, int last_day, struct arena *a,
              struct log_week *week, struct err *e)
{
    struct kept_round *kept;
    size_t n;
    *week = (struct log_week){0};
    if (!log_figures_begin(f, a, &week->figures, e) || !store_rounds(s, first_day, last_day, a, &kept, &n, e))
        return false;
    week->open = arena_alloc(a, n, sizeof *week->open);
    if (!week->open)
        return err_memory(e);
    for (size_t i = 0; i < n; i++)
        if (!add_round(s, f, &kept[i], a, week, e))
            return false;
    return week_events(s, f, first_day, last_day, a, week, e);
}
