#include "cli.h"

#include "loading.h"

static bool store_round(struct context *c, struct store *s, const struct facility *f, struct round *r, struct err *e)
{
    bool same = false;
    if (!store_begin(s, e))
        return false;
    if (!store_keep_round(s, f, r, &same, e)) {
        store_rollback(s);
        return false;
    }
    if (option_given(c, "dry-run"))
        store_rollback(s);
    else if (!store_commit(s, c->typed, c->now, e))
        return false;
    char finish[CLOCK_TEXT], start[CLOCK_TEXT];
    long colonies = 0;
    for (size_t i = 0; i < r->n_lines; i++)
        colonies += r->lines[i].count;
    clock_format(r->head.start_min, start);
    clock_format(r->head.finish_min, finish);
    text_addf(c->out, "round %ld revision %ld: %zu lines, %ld colonies, %zu pots, %s to %s%s\n", r->head.number,
              r->head.revision, r->n_lines, colonies, r->n_pots, start, finish,
              option_given(c, "dry-run") ? " (not kept)" : same ? " (as kept before)" : "");
    return true;
}

static struct plan_request request_of(const struct context *c)
{
    const struct option_value *skip = option_get(c, "skip");
    return (struct plan_request){
        .day = c->today,
        .start_min = option_given(c, "start") ? option_get(c, "start")->minute : -1,
        .feeders = (long)option_number(c, "feeders", 0),
        .max_pots = (size_t)option_number(c, "pots", 0),
        .factor_max = option_number(c, "strength", 0),
        .skip_tanks = skip->text,
        .n_skip_tanks = skip->n,
    };
}

static bool write_lp(const struct context *c, const struct facility *f, const struct plan_request *request, struct err *e)
{
    struct text lp = {0};
    bool ok = !option_given(c, "lp") ||
              (plan_write_lp(f, request, &lp, e) && file_write(option_text(c, "lp", ""), text_str(&lp), lp.len, e));
    text_free(&lp);
    return ok;
}

static bool plan_run(struct context *c, struct err *e)
{
    struct store *s;
    struct facility f;
    struct round r;
    if (!context_snapshot(c, STORE_WRITE, &s, &f, e))
        return false;
    const struct plan_request request = request_of(c);
    bool ok = plan_round(&f, &request, &r, e);
    if (ok) {
        ok = write_lp(c, &f, &request, e) && store_round(c, s, &f, &r, e);
        round_free(&r);
    }
    facility_free(&f);
    store_close(s);
    return ok;
}

const struct command command_plan = {
    .name = "plan",
    .summary = "work out the day's round and keep it",
    .usage = "",
    .about = "Works out who is due, how much slurry of what each tank gets, what is broadcast, and who does it when, and keeps "
             "the round. Planning the day again makes a new revision, until the first line is logged.",
    .example = "neap --on 2026-11-27 plan --feeders 2",
    .options =
        (const struct option_row[]){
            {"start", OPT_CLOCK, "HH:MM", .help = "first broadcast"},
            {"feeders", OPT_COUNT, "N", .min = 1, .max = 20, .help = "people who feed today"},
            {"pots", OPT_COUNT, "N", .min = 1, .max = 99, .help = "at most so many pots"},
            {"strength", OPT_NUMBER, "X", .min = 0.25, .max = 3, .help = "no pot above this, of the house strength"},
            {"skip", OPT_TEXT, "TANK", .repeats = true, .help = "leave a tank out today"},
            {"lp", OPT_TEXT, "FILE", .help = "also write the recipe's programme, in LP format for another solver"},
            {"dry-run", OPT_FLAG, .help = "work it out, keep nothing"},
            {0}},
    .run = plan_run,
};
