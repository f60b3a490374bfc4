/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap move: move corals to another tank. */
#include "cli.h"

#include "neap/colonies.h"
#include "neap/quarantine.h"

struct move {
    const char *code, *tank;
    long count; /* 0: all */
};

static bool parse_move(const struct context *c, struct move *m, struct err *e)
{
    size_t to = c->n_args - 2; /* COLONY [COUNT] to TANK */
    *m = (struct move){.code = c->args[0], .tank = c->args[c->n_args - 1]};
    if (strcmp(c->args[to], "to") != 0)
        return err_set(e, ERR_MISUSE, NULL, "expected neap move COLONY [COUNT] to TANK");
    return to == 1 || (count_parse(c->args[1], &m->count) && m->count > 0) ||
           err_set(e, ERR_MISUSE, NULL, "\"%.60s\" is no count; expected how many to move, such as 5", c->args[1]);
}

static bool move_part(struct context *c, struct store *s, const struct facility *f, const struct move *m,
                      const char *code, struct err *e)
{
    struct count_change gone = {
        .colony = m->code, .by = -m->count, .reason = TALLY_MOVED, .other = code, .moment = c->now};
    struct count_change came = {.colony = code, .reason = TALLY_MOVED, .other = m->code, .moment = c->now};
    const struct colony_part part = {.of = m->code, .code = code, .tank = m->tank, .count = m->count};
    long left, there;
    if (!colony_put_part(s, f, &part, e) || !colony_change(s, &gone, &left, e) || !colony_change(s, &came, &there, e))
        return false;
    text_addf(c->out, "%ld of %s are in %s now, as %s; %ld stay\n", m->count, m->code, m->tank, code, left);
    return true;
}

static bool move_all(struct context *c, struct store *s, const struct move *m, long count, const char *was_in,
                     struct err *e)
{
    struct count_change ch = {.colony = m->code, .reason = TALLY_MOVED, .tank = m->tank, .moment = c->now};
    long left;
    if (!colony_change(s, &ch, &left, e))
        return false;
    text_addf(c->out, "%s (%ld) moved from %s to %s\n", m->code, count, was_in, m->tank);
    return true;
}

/*
 * Out of quarantine before its days are over: only when somebody says so. The question is put while nothing is held
 * open.
 */
static bool may_leave(struct context *c, struct store *s, const struct facility *f, const struct move *m, struct err *e)
{
    struct arena a = {0};
    struct text words = {0};
    int *since;
    size_t colony = facility_find(f, REG_COLONY, m->code), tank = facility_find(f, REG_TANK, m->tank);
    bool yes = option_given(c, "early");
    if (yes || colony == REF_NONE || tank == REF_NONE || f->systems[f->tanks[tank].system].quarantine)
        return true;
    bool known = quarantine_since(s, f, &a, &since, e);
    struct stay stay = stay_of(f, colony, known ? since[colony] : DAY_NONE, c->today);
    arena_free(&a);
    if (!known)
        return false;
    if (!stay.in_quarantine || stay.over)
        return true;
    stay_words(&stay, c->today, &words);
    if (context_may_ask()) {
        struct text question = {0};
        text_addf(&question, "%s %s. Move it all the same?", m->code, text_str(&words));
        context_ask(c, text_str(&question), &yes);
        text_free(&question);
    }
    if (!yes)
        err_set(e, ERR_INPUT, NULL, "%s %s; --early moves it all the same", m->code, text_str(&words));
    text_free(&words);
    return yes;
}

static bool move_colony(struct context *c, struct store *s, const struct facility *f, struct move *m, struct err *e)
{
    struct arena a = {0};
    struct cell cells[FIELDS_MAX];
    const char *code = option_text(c, "as", NULL);
    bool ok = colony_get(s, m->code, cells, &a, e);
    long count = ok ? colony_count(cells) : 0;
    if (ok && m->count == 0)
        m->count = count;
    if (ok && strcmp(colony_tank(cells), m->tank) == 0)
        ok = err_set(e, ERR_INPUT, NULL, "%s stands in %s already; expected another tank", m->code, m->tank);
    if (ok && (count == 0 || m->count > count))
        ok = err_set(e, ERR_INPUT, NULL, "%s: %ld are to move and %ld are there; expected at most that many", m->code,
                     m->count, count);
    if (ok && m->count == count)
        ok = move_all(c, s, m, count, colony_tank(cells), e);
    else if (ok)
        ok = (code || colony_free_code(s, m->code, &a, &code, e)) && move_part(c, s, f, m, code, e);
    ok = ok && colony_planned(s, c->today, f, m->code, c->out, e);
    arena_free(&a);
    return ok;
}

/* Names as they are, where they were typed in another case. */
static void take_names(const struct facility *f, struct move *m)
{
    size_t colony = facility_named(f, REG_COLONY, m->code), tank = facility_named(f, REG_TANK, m->tank);
    m->code = colony == REF_NONE ? m->code : f->colonies[colony].code;
    m->tank = tank == REF_NONE ? m->tank : f->tanks[tank].name;
}

static bool move_run(struct context *c, struct err *e)
{
    struct store *s;
    struct facility f;
    struct move m;
    if (!parse_move(c, &m, e) || !context_snapshot(c, STORE_WRITE, &s, &f, e))
        return false;
    take_names(&f, &m);
    bool ok = may_leave(c, s, &f, &m, e) && store_begin(s, e) && move_colony(c, s, &f, &m, e);
    ok = context_end(c, s, ok, e);
    facility_free(&f);
    store_close(s);
    return ok;
}

const struct command command_move = {
    .name = "move",
    .place = 320,
    .summary = "move corals to another tank",
    .also = "transfer",
    .usage = "COLONY [COUNT] to TANK",
    .about =
        "Moves a lot of corals, or COUNT of it, to another tank. A part gets a code of its own, CODE/2 or --as "
        "CODE, and "
        "counts as fed when the others were. The tally keeps what moved where. Before the days of quarantine (setting "
        "quarantine_d) are over, it asks; neap treat shows them.",
    .example = "neap move N3-001 4 to D1",
    .options = (const struct option_row[]){{"as", OPT_TEXT, "CODE", .help = "code of the part that moves"},
                                           {"early", OPT_FLAG, .help = "out of quarantine before its days are over"},
                                           OPTION_DRY_RUN,
                                           {0}},
    .args_min = 3,
    .args_max = 4,
    .run = move_run,
};
