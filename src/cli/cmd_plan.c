#include "cli.h"

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

/* The options as they shape the round, in a fixed order, so that the same wish is the same text. */
static void request_text(const struct context *c, struct text *out)
{
    static const char *const names[] = {"start", "done-by", "feeders", "late", "pots", "strength", "first", "skip"};
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        const struct option_value *v = option_get(c, names[i]);
        for (size_t k = 0; k < v->n; k++)
            text_addf(out, "%s--%s %s", out->len ? " " : "", names[i], v->text[k]);
    }
}

static bool read_lates(const struct context *c, struct late_feeder lates[REPEATS_MAX], struct err *e)
{
    const struct option_value *v = option_get(c, "late");
    for (size_t i = 0; i < v->n; i++) {
        char feeder[NAME_BYTES_MAX + 1];
        const char *from;
        struct err none;
        if (!split_assignment(v->text[i], feeder, &from, &none) || !count_parse(feeder, &lates[i].feeder) ||
            !clock_parse(from, &lates[i].from_min))
            return err_set(e, ERR_MISUSE, NULL, "--late is \"%.60s\"; expected a feeder and a time, such as 2=09:15", v->text[i]);
    }
    return true;
}

static bool plan_run(struct context *c, struct err *e)
{
    struct store *s;
    struct facility f;
    struct round r;
    struct text wish = {0};
    struct late_feeder lates[REPEATS_MAX];
    if (option_given(c, "start") && option_given(c, "done-by"))
        return err_set(e, ERR_MISUSE, NULL, "--start and --done-by are both given; expected one of them");
    if (!read_lates(c, lates, e) || !context_snapshot(c, STORE_WRITE, &s, &f, e))
        return false;
    request_text(c, &wish);
    const struct option_value *skip = option_get(c, "skip");
    const struct plan_request request = {
        .day = c->today,
        .start_min = option_given(c, "start") ? option_get(c, "start")->minute : -1,
        .done_by_min = option_get(c, "done-by")->minute,
        .feeders = (long)option_number(c, "feeders", 0),
        .lates = lates,
        .n_lates = option_get(c, "late")->n,
        .first_tanks = option_get(c, "first")->text,
        .n_first_tanks = option_get(c, "first")->n,
        .max_pots = (size_t)option_number(c, "pots", 0),
        .factor_max = option_number(c, "strength", 0),
        .skip_tanks = skip->text,
        .n_skip_tanks = skip->n,
        .text = text_str(&wish),
    };
    bool ok = plan_round(&f, &request, &r, e);
    if (ok) {
        ok = store_round(c, s, &f, &r, e);
        round_free(&r);
    }
    text_free(&wish);
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
            {"done-by", OPT_CLOCK, "HH:MM", .help = "start as late as ends by then"},
            {"feeders", OPT_COUNT, "N", .min = 1, .max = 20, .help = "people who feed today"},
            {"late", OPT_TEXT, "FEEDER=HH:MM", .repeats = true, .help = "a feeder who comes later"},
            {"pots", OPT_COUNT, "N", .min = 1, .max = 99, .help = "at most so many pots"},
            {"strength", OPT_NUMBER, "X", .min = 0.25, .max = 3, .help = "no pot above this, of the house strength"},
            {"first", OPT_TEXT, "TANK", .repeats = true, .help = "visit it before the others, in this order"},
            {"skip", OPT_TEXT, "TANK", .repeats = true, .help = "leave a tank out today"},
            {"dry-run", OPT_FLAG, .help = "work it out, keep nothing"},
            {0}},
    .run = plan_run,
};
