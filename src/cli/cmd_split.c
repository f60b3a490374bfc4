/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap split: make two lots of one, or a lot of corals cut from it. */
#include "cli.h"

#include "neap/colonies.h"

struct colony_split {
    const char *code, *part;
    long count, heads; /* of the part; heads 0: as the lot's */
    bool cut;
    int heal_until; /* DAY_NONE: no hold */
};

static bool parse_split(const struct context *c, struct colony_split *p, struct err *e)
{
    *p = (struct colony_split){
        .code = c->args[0],
        .part = option_text(c, "as", NULL),
        .heads = (long)option_number(c, "heads", option_given(c, "cut") ? 1 : 0),
        .cut = option_given(c, "cut"),
        .heal_until = option_given(c, "heal") ? c->today + (int)option_number(c, "heal", 0) : DAY_NONE,
    };
    return (count_parse(c->args[1], &p->count) && p->count > 0 && p->count <= 100000) ||
           err_set(e, ERR_MISUSE, NULL, "\"%.60s\" is no count; expected how many get a code of their own, such as 4",
                   c->args[1]);
}

/*
 * Cut from the lot, they are more corals than before; else they are some of its own. Both lots tell of it in the tally.
 */
static bool put_split(struct context *c, struct store *s, const struct facility *f, const struct colony_split *p,
                      struct err *e)
{
    enum tally_reason reason = p->cut ? TALLY_DIVIDED : TALLY_SPLIT;
    const struct colony_part part = {.of = p->code, .code = p->part, .count = p->count, .heads = p->heads};
    struct count_change lot = {
        .colony = p->code, .by = p->cut ? 0 : -p->count, .reason = reason, .other = p->part, .moment = c->now};
    struct count_change own = {.colony = p->part,
                               .by = p->cut ? p->count : 0,
                               .booked = true,
                               .reason = reason,
                               .other = p->code,
                               .moment = c->now};
    long left, there;
    return colony_put_part(s, f, &part, e) && colony_change(s, &lot, &left, e) && colony_change(s, &own, &there, e);
}

static bool put_holds(struct context *c, struct store *s, const struct colony_split *p, struct err *e)
{
    char day[DAY_TEXT];
    if (p->heal_until == DAY_NONE)
        return true;
    const char *reason = p->cut ? "healing after the cut" : "healing after it was divided";
    if (!colony_hold(s, p->part, reason, p->heal_until, e) ||
        (p->cut && !colony_hold(s, p->code, reason, p->heal_until, e)))
        return false;
    day_format(p->heal_until, day);
    text_addf(c->out, "%s%s%s on hold until %s: %s\n", p->part, p->cut ? " and " : "", p->cut ? p->code : "", day,
              reason);
    return true;
}

static bool split_colony(struct context *c, struct store *s, const struct facility *f, struct colony_split *p,
                         struct err *e)
{
    struct arena a = {0};
    struct cell cells[FIELDS_MAX];
    bool ok = colony_get(s, p->code, cells, &a, e);
    long count = ok ? colony_count(cells) : 0;
    if (ok && count == 0)
        ok = err_set(e, ERR_INPUT, NULL, "%s: none are there any more; expected a lot in use", p->code);
    if (ok && !p->cut && count == 1)
        ok = err_set(e, ERR_INPUT, NULL, "%s is a single coral; expected a lot of several, or --cut", p->code);
    if (ok && !p->cut && p->count >= count)
        ok =
            err_set(e, ERR_INPUT, NULL, "%s: %ld are to be split off and %ld are there; expected at most %ld, or --cut",
                    p->code, p->count, count, count - 1);
    ok = ok && (p->part || colony_free_code(s, p->code, &a, &p->part, e)) && put_split(c, s, f, p, e);
    if (ok)
        text_addf(c->out, "%ld %s %s, as %s, in %s; %ld in %s\n", p->count, p->cut ? "cut from" : "split off", p->code,
                  p->part, colony_tank(cells), p->cut ? count : count - p->count, p->code);
    ok = ok && put_holds(c, s, p, e) && colony_planned(s, c->today, f, p->code, c->out, e);
    arena_free(&a);
    return ok;
}

static bool split_run(struct context *c, struct err *e)
{
    struct store *s;
    struct facility f;
    struct colony_split p;
    if (!parse_split(c, &p, e) || !context_snapshot(c, STORE_WRITE, &s, &f, e))
        return false;
    size_t lot = facility_named(&f, REG_COLONY, p.code); /* as it is, where it was typed in another case */
    p.code = lot == REF_NONE ? p.code : f.colonies[lot].code;
    bool ok = store_begin(s, e) && split_colony(c, s, &f, &p, e);
    ok = context_end(c, s, ok, e);
    facility_free(&f);
    store_close(s);
    return ok;
}

const struct command command_split = {
    .name = "split",
    .place = 330,
    .summary = "make two lots of one, or a lot of corals cut from it",
    .usage = "COLONY COUNT",
    .about =
        "COUNT of a lot of corals get a code of their own, CODE/2 or --as CODE, and count as fed when the others "
        "were. With --cut they are new corals cut from the lot, of one head each or --heads N, and the lot keeps its "
        "count. --heal holds what was handled for so many days, cut or not; of a cut, the lot as well. The tally keeps "
        "what came of what.",
    .example = "neap split N3-001 4",
    .options = (const struct option_row[]){{"as", OPT_TEXT, "CODE", .help = "code of the new lot"},
                                           {"cut", OPT_FLAG, .help = "new corals, cut from the lot"},
                                           {"heads", OPT_COUNT, "N", .min = 1, .max = 100000, .help = "heads of each"},
                                           {"heal", OPT_COUNT, "DAYS", .min = 1, .max = 365, .help = "hold it so long"},
                                           OPTION_DRY_RUN,
                                           {0}},
    .args_min = 2,
    .args_max = 2,
    .run = split_run,
};
