/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which of the day's rounds is meant. */
#include "day_round.h"

#include "neap/naming.h"

enum { BEGINS_SOON_MIN = 60 }; /* our own choice */

/* The minute of the day that counts; before all rounds where only the day is known. */
static int minute_now(const struct context *c)
{
    return c->knows_time ? (int)(c->now - (long)c->today * MIN_PER_DAY) : INT_MIN / 2;
}

static bool has_begun(const struct context *c, int start_min)
{
    return start_min <= minute_now(c) + BEGINS_SOON_MIN;
}

/* Is all of today's round of that name logged? Then the one after it is meant. */
static bool is_logged(const struct context *c, const struct facility *f, const char *name)
{
    bool any = false;
    for (size_t i = 0; i < f->n_day_uses; i++) {
        const struct day_use *u = &f->day_uses[i];
        if (u->day != c->today || strcmp(u->round, name) != 0)
            continue;
        if (u->planned)
            return false;
        any = true;
    }
    return any;
}

/* Of the day's rounds, as they begin: the last whose turn it is, by the clock or since the one before is logged. */
static const struct kept_round *last_come(const struct context *c, const struct facility *f,
                                          const struct kept_round *rounds, size_t n)
{
    const struct kept_round *last = n > 0 ? rounds : NULL;
    for (size_t i = 1; i < n; i++)
        if (has_begun(c, rounds[i].start_min) || is_logged(c, f, rounds[i - 1].name))
            last = &rounds[i];
    return last;
}

static bool none_planned(const struct context *c, const char *name, struct err *e)
{
    char day[DAY_TEXT];
    day_format(c->today, day);
    if (*name)
        err_set(e, ERR_NOT_FOUND, NULL, "no %s round is planned for %s", name, day);
    else
        err_set(e, ERR_NOT_FOUND, NULL, "no round is planned for %s", day);
    err_help(e, HELP_PLAN, NULL);
    return false;
}

static bool daily_round_named(const struct facility *f, const char *typed, const char **name, struct err *e)
{
    size_t round = facility_named(f, REG_DAILY_ROUND, typed);
    if (round == REF_NONE)
        return row_unknown(f, REG_DAILY_ROUND, typed, e);
    *name = f->daily_rounds[round].name;
    return true;
}

static bool named_among(const struct context *c, const struct facility *f, const struct kept_round *kept, size_t n,
                        const char *name, long *number, struct err *e)
{
    for (size_t i = 0; i < n; i++)
        if (*kept[i].name && text_same_but_case(kept[i].name, name)) {
            *number = kept[i].number;
            return true;
        }
    return daily_round_named(f, name, &name, e) && none_planned(c, name, e);
}

static bool todays_chosen(const struct context *c, struct store *s, const struct facility *f, const char *name,
                          long *number, struct err *e)
{
    struct arena a = {0};
    struct kept_round *kept;
    size_t n;
    bool ok = store_rounds(s, c->today, c->today, &a, &kept, &n, e);
    if (ok && name) {
        ok = named_among(c, f, kept, n, name, number, e);
    } else if (ok) {
        const struct kept_round *last = last_come(c, f, kept, n);
        *number = last ? last->number : 0;
        ok = last || none_planned(c, "", e);
    }
    arena_free(&a);
    return ok;
}

bool round_chosen(struct context *c, struct store *s, const struct facility *f, long given, long *number, struct err *e)
{
    const char *name = option_text(c, "round", NULL);
    if (name && given > 0)
        return err_set(e, ERR_MISUSE, NULL, "round %ld and --round are both given; expected one of them", given);
    *number = given;
    if (given > 0 || (name && count_parse(name, number) && *number > 0))
        return true;
    return todays_chosen(c, s, f, name, number, e);
}

bool round_typed(const char *word, long *number, struct err *e)
{
    return (count_parse(word, number) && *number > 0) ||
           err_set(e, ERR_MISUSE, NULL, "\"%.60s\" is no round; expected a number such as 12", word);
}

bool round_load_chosen(struct context *c, struct store *s, const struct facility *f, long given, struct round *r,
                       struct err *e)
{
    long number;
    return round_chosen(c, s, f, given, &number, e) && store_load_round(s, f, number, r, e);
}

bool round_run(struct context *c, enum store_mode mode, long given, round_use *use, struct err *e)
{
    struct store *s;
    struct facility f;
    struct round r;
    if (!context_snapshot(c, mode, &s, &f, e))
        return false;
    bool ok = round_load_chosen(c, s, &f, given, &r, e);
    if (ok) {
        ok = use(c, s, &f, &r, e);
        round_free(&r);
    }
    facility_free(&f);
    store_close(s);
    return ok;
}

static bool round_of_now(const struct context *c, const struct facility *f, const char **name, struct err *e)
{
    struct arena a = {0};
    size_t *todays = arena_alloc(&a, f->n_daily_rounds, sizeof *todays), n, held = 0;
    struct kept_round *rounds = arena_alloc(&a, f->n_daily_rounds, sizeof *rounds);
    if (!todays || !rounds) {
        arena_free(&a);
        return err_memory(e);
    }
    for (size_t i = 0; i < f->n_daily_rounds; i++)
        held += !f->daily_rounds[i].retired;
    n = daily_rounds_on(f, c->today, todays);
    for (size_t i = 0; i < n; i++)
        rounds[i] = (struct kept_round){.name = f->daily_rounds[todays[i]].name,
                                        .start_min = f->daily_rounds[todays[i]].start_min};
    const struct kept_round *last = last_come(c, f, rounds, n);
    *name = last ? last->name : "";
    arena_free(&a);
    return n > 0 || held == 0 ||
           err_set(e, ERR_INPUT, NULL, "no daily round is held on a %s; expected --round NAME for one out of turn",
                   weekday_name(day_weekday(c->today)));
}

bool round_to_plan(const struct context *c, const struct facility *f, const char **name, struct err *e)
{
    const char *asked = option_text(c, "round", NULL);
    return asked ? daily_round_named(f, asked, name, e) : round_of_now(c, f, name, e);
}

bool round_before(struct store *s, int day, const char *name, int days, long *number, struct err *e)
{
    struct arena a = {0};
    struct kept_round *kept;
    size_t n;
    bool alike = false;
    *number = 0;
    bool ok = store_rounds(s, day - days, day - 1, &a, &kept, &n, e);
    for (size_t i = 0; ok && i < n; i++) {
        bool same = strcmp(kept[i].name, name) == 0;
        if (same || !alike)
            *number = kept[i].number;
        alike = alike || same;
    }
    arena_free(&a);
    return ok;
}
