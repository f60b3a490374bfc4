/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was asked of a plan: kept with the round, a row for each wish, and read back to plan it again. */
#include "neap/plan.h"

/* ---- as rows ----------------------------------------------------------------------------------------------------- */

static void add(struct asked *rows, size_t *n, struct asked row)
{
    row.number = (long)*n + 1;
    rows[(*n)++] = row;
}

static void add_minute(struct asked *rows, size_t *n, enum asked_what what, long feeder, int at_min)
{
    add(rows, n,
        (struct asked){.what = (int)what, .tank = REF_NONE, .feeder = feeder, .at_min = at_min, .amount = NAN});
}

/* Zero is as the facility has it. */
static void add_amount(struct asked *rows, size_t *n, enum asked_what what, double amount)
{
    if (amount > 0)
        add(rows, n, (struct asked){.what = (int)what, .tank = REF_NONE, .at_min = -1, .amount = amount});
}

static bool add_tanks(struct asked *rows, size_t *n, enum asked_what what, const struct facility *f,
                      const char *const *names, size_t n_names, struct err *e)
{
    for (size_t i = 0; i < n_names; i++) {
        size_t tank = facility_named(f, REG_TANK, names[i]);
        if (tank == REF_NONE)
            return err_set(e, ERR_INPUT, NULL, "there is no tank \"%.60s\"", names[i]);
        add(rows, n, (struct asked){.what = (int)what, .tank = tank, .at_min = -1, .amount = NAN});
    }
    return true;
}

bool request_write(const struct plan_request *request, const struct facility *f, struct arena *a, struct asked **rows,
                   size_t *n, struct err *e)
{
    *n = 0;
    *rows = arena_alloc(a, N_ASKED + request->n_lates + request->n_first_tanks + request->n_skip_tanks, sizeof **rows);
    if (!*rows)
        return err_memory(e);
    if (request->start_min >= 0)
        add_minute(*rows, n, ASKED_START, 0, request->start_min);
    if (request->done_by_min > 0)
        add_minute(*rows, n, ASKED_DONE_BY, 0, request->done_by_min);
    add_amount(*rows, n, ASKED_FEEDERS, (double)request->feeders);
    for (size_t i = 0; i < request->n_lates; i++)
        add_minute(*rows, n, ASKED_LATE, request->lates[i].feeder, request->lates[i].from_min);
    add_amount(*rows, n, ASKED_POTS, (double)request->max_pots);
    add_amount(*rows, n, ASKED_STRENGTH, request->factor_max);
    add_amount(*rows, n, ASKED_EFFORT, request->effort);
    return add_tanks(*rows, n, ASKED_FIRST, f, request->first_tanks, request->n_first_tanks, e) &&
           add_tanks(*rows, n, ASKED_SKIP, f, request->skip_tanks, request->n_skip_tanks, e);
}

/* Where the repeated wishes of a request go; each has room for all of them. */
struct repeats {
    const char **skips, **firsts;
    struct late_feeder *lates;
};

/*
 * ---- as the text of older rounds ----
 *
 * Undo takes back a kept round by the values it was kept with, so a round that a neap of store version 7 or before kept
 * stays as it is: its wish is text in the form of options. Nothing writes it any more.
 */

static bool take_late(char *value, struct plan_request *r, const struct repeats *to)
{
    struct late_feeder *late = &to->lates[r->n_lates];
    char *equals = strchr(value, '=');
    if (!equals)
        return false;
    *equals = '\0';
    bool ok = count_parse(value, &late->feeder) && late->feeder > 0 && clock_parse(equals + 1, &late->from_min);
    *equals = '=';
    r->n_lates += ok;
    return ok;
}

static bool take_option(const char *name, char *value, struct plan_request *r, const struct repeats *to)
{
    long n = 0;
    if (strcmp(name, "start") == 0)
        return clock_parse(value, &r->start_min);
    if (strcmp(name, "done-by") == 0)
        return clock_parse(value, &r->done_by_min);
    if (strcmp(name, "strength") == 0)
        return number_parse(value, &r->factor_max);
    if (strcmp(name, "effort") == 0)
        return number_parse(value, &r->effort);
    if (strcmp(name, "from-now") == 0)
        return clock_parse(value, &(int){0}) && ++r->n_resets > 0;
    if (strcmp(name, "late") == 0)
        return take_late(value, r, to);
    if (strcmp(name, "first") == 0) {
        to->firsts[r->n_first_tanks++] = value;
        return true;
    }
    if (strcmp(name, "skip") == 0) {
        to->skips[r->n_skip_tanks++] = value;
        return true;
    }
    if (!count_parse(value, &n) || n < 1)
        return false;
    if (strcmp(name, "feeders") == 0)
        r->feeders = n;
    else if (strcmp(name, "pots") == 0)
        r->max_pots = (size_t)n;
    else
        return false;
    return true;
}

/* Cuts "--name value" off the text; a value goes on to the next " --", for a tank's name may hold blanks. */
static bool next_option(char **at, char **name, char **value)
{
    if (strncmp(*at, "--", 2) != 0)
        return false;
    *name = *at + 2;
    *value = strchr(*name, ' ');
    if (!*value)
        return false;
    *(*value)++ = '\0';
    char *end = strstr(*value, " --");
    *at = end ? end + 1 : *value + strlen(*value);
    if (end)
        *end = '\0';
    return true;
}

/* Each option is longer than three bytes. */
static bool read_text(const char *text, struct arena *a, struct plan_request *request, const struct repeats *to,
                      struct err *e)
{
    char *copy = arena_text(a, text), *at = copy, *name, *value;
    if (!copy)
        return err_memory(e);
    while (*at)
        if (!next_option(&at, &name, &value) || !take_option(name, value, request, to))
            return err_set(e, ERR_INPUT, NULL, "the round was kept with \"%.60s\", which is no request this neap knows",
                           text);
    return true;
}

/* ---- reading ----------------------------------------------------------------------------------------------------- */

static void take_row(const struct asked *row, const struct facility *f, struct plan_request *r,
                     const struct repeats *to)
{
    switch ((enum asked_what)row->what) {
    case ASKED_START: r->start_min = (int)row->at_min; break;
    case ASKED_DONE_BY: r->done_by_min = (int)row->at_min; break;
    case ASKED_FEEDERS: r->feeders = lround(row->amount); break;
    case ASKED_LATE: to->lates[r->n_lates++] = (struct late_feeder){row->feeder, (int)row->at_min}; break;
    case ASKED_POTS: r->max_pots = (size_t)lround(row->amount); break;
    case ASKED_STRENGTH: r->factor_max = row->amount; break;
    case ASKED_EFFORT: r->effort = row->amount; break;
    case ASKED_FIRST: to->firsts[r->n_first_tanks++] = f->tanks[row->tank].name; break;
    case ASKED_SKIP: to->skips[r->n_skip_tanks++] = f->tanks[row->tank].name; break;
    case ASKED_FROM_NOW: r->n_resets++; break;
    case N_ASKED: break;
    }
}

bool request_read(const struct facility *f, const struct round *kept, struct arena *a, struct plan_request *request,
                  struct err *e)
{
    size_t room = kept->n_asked + strlen(kept->head.request) / 3 + 1;
    struct repeats to = {arena_alloc(a, room, sizeof *to.skips), arena_alloc(a, room, sizeof *to.firsts),
                         arena_alloc(a, room, sizeof *to.lates)};
    *request = (struct plan_request){.day = kept->head.day,
                                     .round = kept->head.name,
                                     .start_min = -1,
                                     .skip_tanks = to.skips,
                                     .first_tanks = to.firsts,
                                     .lates = to.lates};
    if (!to.skips || !to.firsts || !to.lates)
        return err_memory(e);
    for (size_t i = 0; i < kept->n_asked; i++)
        take_row(&kept->asked[i], f, request, &to);
    return read_text(kept->head.request, a, request, &to, e);
}

/* ---- what it means in a house ------------------------------------------------------------------------------------ */

int request_start_min(const struct facility *f, const struct plan_request *request)
{
    size_t round = request->round ? facility_named(f, REG_DAILY_ROUND, request->round) : REF_NONE;
    if (request->start_min >= 0)
        return request->start_min;
    return round == REF_NONE ? f->settings.start_min : f->daily_rounds[round].start_min;
}

long request_feeders(const struct facility *f, const struct plan_request *request)
{
    size_t round = request->round ? facility_named(f, REG_DAILY_ROUND, request->round) : REF_NONE;
    if (request->feeders > 0)
        return request->feeders;
    return round == REF_NONE || f->daily_rounds[round].feeders == 0 ? f->settings.feeders
                                                                    : f->daily_rounds[round].feeders;
}
