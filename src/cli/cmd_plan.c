/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap plan: work out the day's round and keep it. */
#include "day_round.h"
#include "files.h"
#include "patience.h"

#include "neap/log.h"
#include "neap/naming.h"
#include "neap/print.h"
#include "neap/replan.h"
#include "neap/switches.h"
#include "neap/todays.h"
#include "neap/week.h"

static void text_summary(const struct round *r, const char *kept, struct text *out)
{
    char finish[CLOCK_TEXT], start[CLOCK_TEXT];
    const char *name = r->head.name;
    const long colonies = round_colonies(r);
    clock_format(r->head.start_min, start);
    clock_format(r->head.finish_min, finish);
    text_addf(out, "round %ld revision %ld%s%s: %zu line%s, %ld %s, %zu pot%s, %s to %s%s\n", r->head.number,
              r->head.revision, *name ? ", " : "", name, r->n_lines, r->n_lines == 1 ? "" : "s", colonies,
              colonies == 1 ? "colony" : "colonies", r->n_pots, r->n_pots == 1 ? "" : "s", start, finish, kept);
}

/* "3 due and not fed: D3-001 sun, orange, D3: 3 d since its food, due every 1 d; …" */
static bool unfed_summary(const struct facility *f, const struct round *r, struct text *out, struct err *e)
{
    enum { NAMED = 3 };
    struct arena a = {0};
    struct due_unfed *list;
    size_t n;
    bool ok = round_unfed(f, r, &a, &list, &n, e);
    if (ok && n > 0)
        text_addf(out, "%zu due and not fed:", n);
    for (size_t i = 0; ok && i < n && i < NAMED; i++) {
        text_addf(out, "%s %s ", i > 0 ? ";" : "", f->colonies[list[i].colony].code);
        unfed_words(f, &list[i], out);
    }
    if (ok && n > 0)
        text_add(out, n > NAMED ? "; and more: neap sheet names all\n" : "; neap sheet tells why\n");
    arena_free(&a);
    return ok;
}

static size_t n_unfed(const struct round *r)
{
    size_t n = 0;
    for (size_t i = 0; i < r->n_waitings; i++)
        n += r->waitings[i].due;
    return n;
}

static void json_summary(const struct round *r, bool kept, struct json_text *j)
{
    char clock[CLOCK_TEXT];
    json_number_member(j, "schema", JSON_PRINT_SCHEMA);
    json_number_member(j, "round", (double)r->head.number);
    json_number_member(j, "revision", (double)r->head.revision);
    json_text_member(j, "name", r->head.name);
    json_flag_member(j, "kept", kept);
    json_number_member(j, "lines", (double)r->n_lines);
    json_number_member(j, "pots", (double)r->n_pots);
    json_number_member(j, "due_and_not_fed", (double)n_unfed(r));
    clock_format(r->head.start_min, clock);
    json_text_member(j, "start", clock);
    clock_format(r->head.finish_min, clock);
    json_text_member(j, "finish", clock);
}

/* What a round before left off is no part of the plan, but somebody stands there now. */
static bool left_summary(struct context *c, struct store *s, const struct facility *f, const struct round *r,
                         struct err *e)
{
    struct arena a = {0};
    const char **left;
    size_t n;
    bool ok = switches_left(s, f, &r->head, &a, &left, &n, e);
    for (size_t i = 0; ok && i < n; i++)
        text_addf(c->notes, "neap: %s\n", left[i]);
    arena_free(&a);
    return ok;
}

/* off: rows of the log that are kept with it, of lines that nobody is to do any more. */
static bool store_round(struct context *c, struct store *s, const struct facility *f, struct round *r,
                        const struct given *off, size_t n_off, struct err *e)
{
    bool same = false, ok = true;
    enum put outcome;
    if (!store_begin(s, e))
        return false;
    for (size_t i = 0; ok && i < n_off; i++)
        ok = row_put(s, f, REG_GIVEN, &off[i], &outcome, e);
    if (!context_end(c, s, ok && store_keep_round(s, f, r, &same, e), e))
        return false;
    if (c->json)
        return true;
    text_summary(r, same && !option_given(c, "dry-run") ? " (as kept before)" : "", c->out);
    return unfed_summary(f, r, c->out, e) && left_summary(c, s, f, r, e);
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
            return err_set(e, ERR_MISUSE, NULL, "--late is \"%.60s\"; expected a feeder and a time, such as 2=09:15",
                           v->text[i]);
    }
    return true;
}

static struct plan_request request_of(const struct context *c, const struct late_feeder *lates)
{
    const struct option_value *skip = option_get(c, "skip");
    return (struct plan_request){
        .day = c->today,
        .start_min = option_given(c, "start") ? option_get(c, "start")->minute : -1,
        .done_by_min = option_get(c, "done-by")->minute,
        .feeders = (long)option_number(c, "feeders", 0),
        .lates = lates,
        .n_lates = option_get(c, "late")->n,
        .first_tanks = option_get(c, "first")->text,
        .n_first_tanks = option_get(c, "first")->n,
        .effort = option_number(c, "effort", 0),
        .max_pots = (size_t)option_number(c, "pots", 0),
        .factor_max = option_number(c, "strength", 0),
        .skip_tanks = skip->text,
        .n_skip_tanks = skip->n,
    };
}

static bool write_lp(const struct context *c, const struct facility *f, const struct plan_request *request,
                     struct err *e)
{
    struct text lp = {0};
    bool ok = !option_given(c, "lp") ||
              (plan_write_lp(f, request, &lp, e) && file_write(option_text(c, "lp", ""), text_str(&lp), lp.len, e));
    text_free(&lp);
    return ok;
}

/* ---- beside the house blend -------------------------------------------------------------------------------------- */

static const int compare_back_d = 366;

/* The last round of an earlier day; *found false: there is none. */
static bool load_before(struct store *s, const struct facility *f, const struct plan_request *request, struct round *r,
                        bool *found, struct err *e)
{
    long number;
    if (!round_before(s, request->day, request->round, compare_back_d, &number, e))
        return false;
    *found = number > 0;
    return !*found || store_load_round(s, f, number, r, e);
}

static bool print_compared(struct context *c, const struct facility *f, const struct plan_comparison *compared,
                           const struct round_head *before, struct err *e)
{
    struct document d = {0};
    document_space(&d);
    compare_document(f, compared, before, &d);
    bool ok = render_text(&d, greater(80, lesser(c->out_width, 120)), 0, c->out, e);
    document_free(&d);
    return ok;
}

/* What is printed beside the summary; the JSON is one document with it. */
static bool print_plan(struct context *c, struct store *s, const struct facility *f, const struct plan_request *request,
                       const struct round *r, struct err *e)
{
    struct plan_comparison compared = {0};
    struct round before = {0};
    struct json_text j = {.out = c->out};
    bool found = false, compare = option_given(c, "compare");
    bool ok = !compare || (load_before(s, f, request, &before, &found, e) &&
                           plan_compare(f, request, found ? &before : NULL, &compared, e));
    const struct round_head *head = found ? &before.head : NULL;
    if (ok && c->json) {
        json_open(&j, NULL, '{');
        json_summary(r, !option_given(c, "dry-run"), &j);
        if (compare)
            compare_json(f, &compared, head, &j);
        json_close(&j);
    } else if (ok && compare) {
        ok = print_compared(c, f, &compared, head, e);
    }
    comparison_free(&compared);
    round_free(&before);
    return ok;
}

/* ---- a begun round ---------------------------------------------------------------------------------------------- */

static bool alone(const struct context *c, struct err *e)
{
    static const char *const others[] = {"start",    "done-by", "feeders", "late", "pots",
                                         "strength", "first",   "compare", "lp",   "effort"};
    if (option_given(c, "now") && !option_given(c, "from-now"))
        return err_set(e, ERR_MISUSE, NULL, "--now says when --from-now is; expected both");
    const char *other = option_given(c, "from-now") ? option_any(c, others, COUNT_OF(others)) : NULL;
    return !other ||
           err_set(e, ERR_MISUSE, NULL,
                   "--from-now sets the clock of the round as it was planned; expected no --%s beside it", other);
}

static void tell_again(struct context *c, const struct round *r, const struct replanned *found, int now_min)
{
    char now[CLOCK_TEXT];
    clock_format(now_min, now);
    text_addf(c->out, "clock set anew from %s: %zu of %zu lines left, ", now, found->n_left, r->n_lines);
    if (found->late_min > 0)
        text_addf(c->out, "late by %d min in all; the sheet says where\n", found->late_min);
    else
        text_add(c->out, "none late\n");
}

/* --skip beside --from-now: all that is open at a tank, but a flow that is off or that other tanks need. */
static bool leave_out(struct context *c, const struct facility *f, const struct round *kept, struct todays *t,
                      struct err *e)
{
    const struct option_value *skip = option_get(c, "skip");
    for (size_t i = 0; i < skip->n; i++) {
        size_t tank = facility_named(f, REG_TANK, skip->text[i]);
        if (tank == REF_NONE)
            return row_unknown(f, REG_TANK, skip->text[i], e);
        round_leave_out(f, kept, tank, "left out today", t->done, &t->changes);
    }
    return true;
}

/* The log with the lines that changed since: not given, each with its reason. *n_off of them stand at its end. */
static bool givens_now(struct context *c, struct store *s, const struct facility *f, const struct round *kept,
                       const struct round_log *log, struct arena *a, struct given **givens, size_t *n_off,
                       struct err *e)
{
    struct todays t;
    if (!todays_read(s, c->now, f, kept, a, &t, e))
        return false;
    *givens = arena_alloc(a, log->n_givens + kept->n_lines, sizeof **givens);
    if (!*givens)
        return err_memory(e);
    if (log->n_givens > 0)
        memcpy(*givens, log->givens, log->n_givens * sizeof **givens);
    if (!leave_out(c, f, kept, &t, e))
        return false;
    *n_off = 0;
    for (size_t i = 0; i < kept->n_lines; i++)
        if (t.changes.off[i])
            (*givens)[log->n_givens + (*n_off)++] = (struct given){
                .round = kept->head.number,
                .line = kept->lines[i].number,
                .sheet_revision = kept->head.revision,
                .outcome = OUTCOME_NOT_GIVEN,
                .amount = isnan(kept->lines[i].amount) ? NAN : 0,
                .response = -1,
                .at_min = -1,
                .note = t.changes.off[i],
            };
    return true;
}

static void tell_reset(struct context *c, const struct round *r, const struct replanned *found, int now_min,
                       size_t n_off)
{
    if (!c->json) {
        if (n_off > 0)
            text_addf(c->out, "%zu line%s not given any more, as things stand: logged so\n", n_off,
                      n_off == 1 ? "" : "s");
        tell_again(c, r, found, now_min);
        return;
    }
    struct json_text j = {.out = c->out};
    json_open(&j, NULL, '{');
    json_summary(r, !option_given(c, "dry-run"), &j);
    json_number_member(&j, "lines_left", (double)found->n_left);
    json_number_member(&j, "lines_dropped", (double)n_off);
    json_number_member(&j, "late_min", found->late_min);
    json_close(&j);
}

static bool reset_clock(struct context *c, struct store *s, const struct facility *f, const struct round *kept,
                        struct err *e)
{
    struct round r;
    struct round_log log;
    struct replanned found;
    struct arena a = {0};
    struct given *givens;
    size_t n_off = 0;
    int by_clock = (int)(c->now - (long)kept->head.day * MIN_PER_DAY);
    if (!store_load_log(s, f, kept->head.number, &log, e))
        return false;
    bool ok = givens_now(c, s, f, kept, &log, &a, &givens, &n_off, e);
    if (ok) {
        const struct replan_request request = {
            .now_min = option_given(c, "now") ? option_get(c, "now")->minute : by_clock,
            .givens = givens,
            .n_givens = log.n_givens + n_off,
            .mixes = log.mixes,
            .n_mixes = log.n_mixes,
        };
        ok = plan_replan(f, kept, &request, &r, &found, e);
        if (ok) {
            ok = store_round(c, s, f, &r, givens + log.n_givens, n_off, e);
            if (ok)
                tell_reset(c, &r, &found, request.now_min, n_off);
            round_free(&r);
        }
    }
    arena_free(&a);
    round_log_free(&log);
    return ok;
}

/* At a terminal the search for a shorter order goes on, where no effort is asked for; any key ends it. */
static bool plan_watched(const struct context *c, const struct facility *f, struct plan_request *request,
                         struct round *r, struct err *e)
{
    struct patience p;
    struct err gave_up;
    if (!option_given(c, "effort") && patience_begin(&p, c))
        request->watch = &p.watch;
    bool ok = plan_round(f, request, r, e);
    if (request->watch && !patience_end(&p, ok ? e : &gave_up) && ok) {
        round_free(r);
        ok = false;
    }
    request->watch = NULL;
    return ok;
}

/*
 * A round that would have begun already is asked about: its every minute would be late. A day alone has no time to be
 * past.
 */
static bool may_be_past(struct context *c, const struct round *r, struct err *e)
{
    char start[CLOCK_TEXT], now[CLOCK_TEXT], question[200];
    long begins = (long)r->head.day * MIN_PER_DAY + r->head.start_min;
    bool yes =
        option_given(c, "yes") || option_given(c, "dry-run") || !c->knows_time || r->n_lines == 0 || begins >= c->now;
    if (yes)
        return true;
    clock_format(r->head.start_min, start);
    clock_format((int)(c->now - (long)moment_day(c->now) * MIN_PER_DAY), now);
    snprintf(question, sizeof question, "This round begins at %s and it is %s on %s. Keep it?", start, now,
             moment_day(c->now) == r->head.day ? "that day" : "a later day");
    if (context_may_ask())
        context_ask(c, question, &yes);
    return yes ||
           err_set(e, ERR_INPUT, NULL,
                   "the round would begin at %s, and it is %s; expected --start HH:MM from now on, or --yes where "
                   "it was fed so",
                   start, now);
}

static bool plan_run(struct context *c, struct err *e)
{
    struct store *s;
    struct facility f;
    struct round r;
    struct late_feeder lates[REPEATS_MAX];
    if (!alone(c, e))
        return false;
    if (option_given(c, "from-now"))
        return round_run(c, STORE_WRITE, 0, reset_clock, e);
    if (option_given(c, "start") && option_given(c, "done-by"))
        return err_set(e, ERR_MISUSE, NULL, "--start and --done-by are both given; expected one of them");
    if (!read_lates(c, lates, e) || !context_snapshot(c, STORE_WRITE, &s, &f, e))
        return false;
    struct plan_request request = request_of(c, lates);
    bool ok = round_to_plan(c, &f, &request.round, e) && plan_watched(c, &f, &request, &r, e);
    if (ok) {
        ok = may_be_past(c, &r, e) && write_lp(c, &f, &request, e) && store_round(c, s, &f, &r, NULL, 0, e) &&
             print_plan(c, s, &f, &request, &r, e);
        round_free(&r);
    }
    facility_free(&f);
    store_close(s);
    return ok;
}

const struct command command_plan = {
    .name = "plan",
    .place = 110,
    .summary = "work out the day's round and keep it",
    .also = "round feed today",
    .usage = "",
    .about = "Works out who is due, how much slurry of what each tank gets, what is broadcast, and who does it when, "
             "and keeps "
             "the round. Planning the day again makes a new revision, until the first line is logged. When a begun "
             "round slips, "
             "--from-now sets its clock anew: what is logged stands, each feeder goes on in the same order, and a flow "
             "that is "
             "off comes on by its limit. At a terminal neap goes on looking for a shorter order, some seconds at most; "
             "any key "
             "keeps the best so far. Where the house has several daily rounds (neap add daily_round), each is a round "
             "of its "
             "own, and what the others of the day gave or are to give is taken into account.",
    .example = "neap --on 2026-11-27 plan --feeders 2",
    .options =
        (const struct option_row[]){
            {"round", OPT_TEXT, "NAME", .help = "which of the daily rounds, else the next by the clock"},
            {"start", OPT_CLOCK, "HH:MM", .help = "first broadcast"},
            {"done-by", OPT_CLOCK, "HH:MM", .help = "finish by then, starting as late as possible"},
            {"feeders", OPT_COUNT, "N", .min = 1, .max = 20, .help = "people who feed today"},
            {"late", OPT_TEXT, "FEEDER=HH:MM", .repeats = true, .help = "a feeder who comes later"},
            {"pots", OPT_COUNT, "N", .min = 1, .max = 99, .help = "at most so many pots"},
            {"strength", OPT_NUMBER, "X", .min = 0.25, .max = 3, .help = "no pot above this, of the house strength"},
            {"first", OPT_TEXT, "TANK", .repeats = true, .help = "visit it before the others, in this order"},
            {"skip", OPT_TEXT, "TANK", .repeats = true, .help = "leave a tank out today"},
            {"effort", OPT_NUMBER, "N", .min = 0.1, .max = 1000, .help = "search N times as long for a shorter order"},
            {"compare", OPT_FLAG, .help = "also print it beside the house blend and the round before"},
            {"lp", OPT_TEXT, "FILE", .help = "also write the recipe's programme, in LP format for another solver"},
            {"from-now", OPT_FLAG, .help = "set the clock of the begun round anew"},
            {"now", OPT_CLOCK, "HH:MM", .help = "with --from-now: from this minute, else the clock's"},
            {"yes", OPT_FLAG, .help = "keep a round that begins at a time gone by, without asking"},
            OPTION_DRY_RUN,
            {0}},
    .prints_json = true,
    .run = plan_run,
};
