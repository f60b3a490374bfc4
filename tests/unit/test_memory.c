/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What happens when memory runs out. This program's own malloc stands before the C library's, for the libraries too;
 * the address sanitizer has its own, so that under it only the runs without failure are made. In the exchange floor the
 * n-th allocation fails, for n = 1, 2, 3 … until a run meets no failure; in the planner, which makes thousands, one of
 * each way there: the calls that led to it. Where coverage is counted an arena asks malloc each time
 * (ARENA_BLOCK_LEAST), so that each of its answers fails too.
 */
#include "neap/advice.h"
#include "neap/capacity.h"
#include "neap/changed.h"
#include "neap/desk.h"
#include "neap/figures.h"
#include "neap/label.h"
#include "neap/ledger.h"
#include "neap/log.h"
#include "neap/recipe.h"
#include "neap/replan.h"
#include "neap/rescale.h"
#include "neap/schedule.h"
#include "neap/stock.h"
#include "neap/week.h"
#include "neap/why.h"

#include "exchanged.h"
#include "facility_random.h"

#include <errno.h>
#include <execinfo.h>
#include <gsl/gsl_errno.h>

#if defined(__SANITIZE_ADDRESS__)
#define OWN_MALLOC 0
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define OWN_MALLOC 0
#endif
#endif
#ifndef OWN_MALLOC
#define OWN_MALLOC 1
#endif

/*
 * Which allocations came by another way than all before them: by other calls of our own, so many of them counted, or
 * from another place of a library. Found by open addressing.
 */
#ifdef COVERED
enum { WAY_CALLS = 12, SEEDS = 1, MORNINGS = 10 };
#else
enum { WAY_CALLS = 3, SEEDS = TRIALS_TIMES > 1 ? 12 : 1, MORNINGS = TRIALS_TIMES > 1 ? 10 : 3 };
#endif
enum { CALLS_MOST = 48, WAYS_MOST = 1 << 16 };
struct ways {
    uint64_t seen[WAYS_MOST];
    long at[WAYS_MOST]; /* the how-manieth */
    size_t n;
};

static struct {
    long countdown; /* 0: no failure */
    bool on;
    long live;
    long n; /* allocations since it was turned on */
    struct ways *ways;
} heap; /* malloc has no argument to hand it down by */

#if OWN_MALLOC
void *__libc_malloc(size_t n);
void *__libc_calloc(size_t n, size_t size);
void *__libc_realloc(void *p, size_t n);
void __libc_free(void *p);

extern char __executable_start, etext; /* by the linker: where our own code lies */

static void note_way(struct ways *w)
{
    enum { FIRST = 3 }; /* this one, denied, malloc */
    void *calls[CALLS_MOST];
    int n = backtrace(calls, CALLS_MOST), own = 0;
    uint64_t hash = 0xCBF29CE484222325u;
    for (int i = FIRST; i < n && own < WAY_CALLS; i++) {
        bool is_own = (char *)calls[i] >= &__executable_start && (char *)calls[i] < &etext;
        own += is_own;
        if (is_own || i == FIRST)
            hash = (hash ^ (uintptr_t)calls[i]) * 0x100000001B3u; /* FNV-1a, by words */
    }
    size_t k = hash % WAYS_MOST;
    while (w->seen[k] && w->seen[k] != hash)
        k = (k + 1) % WAYS_MOST;
    if (w->seen[k] || w->n >= WAYS_MOST / 2)
        return;
    w->seen[k] = hash;
    w->at[w->n++] = heap.n;
}

static bool denied(void)
{
    heap.n += heap.on;
    if (heap.on && heap.ways) {
        struct ways *w = heap.ways;
        heap.on = false; /* backtrace may allocate */
        note_way(w);
        heap.on = true;
    }
    if (!heap.on || heap.countdown == 0 || --heap.countdown > 0)
        return false;
    errno = ENOMEM;
    return true;
}

static void *counted(void *p)
{
    heap.live += heap.on && p;
    return p;
}

void *malloc(size_t n)
{
    return denied() ? NULL : counted(__libc_malloc(n));
}

void *calloc(size_t n, size_t size)
{
    return denied() ? NULL : counted(__libc_calloc(n, size));
}

void *realloc(void *p, size_t n)
{
    if (denied())
        return NULL;
    void *moved = __libc_realloc(p, n);
    heap.live += heap.on && !p && moved;
    return moved;
}

void free(void *p)
{
    heap.live -= heap.on && p;
    __libc_free(p);
}
#endif

static const char csv[] =
    "name,system,length_in,note,colour\nA,north,48,\"a, \"\"b\"\"\",x\nB,south,four,Gr\xC3\xBCn,x\n";
static const char json[] =
    "{\"schema\":1,\"tank\":[{\"name\":\"A\",\"length_in\":48,\"note\":null},{\"name\":\"B\",\"fish\":1}]}";

struct memory_trial {
    struct text out;
    struct json_dump *dump;
    size_t n_faults;
};

static bool put(void *context, const struct exchange_row *row, size_t *field, struct err *e)
{
    struct memory_trial *t = context;
    (void)field;
    csv_write_row(row->reg, row->cells, NULL, &t->out);
    if (t->out.failed)
        return err_memory(e);
    return json_dump_row(t->dump, row->reg, row->cells, e);
}

/* One way through the whole floor: read both files, write both formats. */
static bool run(struct memory_trial *t, struct err *e)
{
    struct exchange_sink sink = {.put = put, .context = t};
    struct faults faults = {0};
    size_t n;
    bool ok = (t->dump = json_dump_new(e)) != NULL;
    ok = ok && exchange_read(&(struct source){.name = "tank.csv", .bytes = csv, .len = sizeof csv - 1}, NULL, &sink,
                             &faults, &n, e);
    ok = ok && exchange_read(&(struct source){.name = "f.json", .bytes = json, .len = sizeof json - 1}, NULL, &sink,
                             &faults, &n, e);
    ok = ok && json_dump_text(t->dump, &t->out, e);
    t->n_faults = faults.n;
    json_dump_free(t->dump);
    faults_free(&faults);
    return ok;
}

static void every_allocation_may_fail_and_is_told(void **state)
{
    (void)state;
    const long most = OWN_MALLOC ? 5000 : 0;
    struct text whole = {0};
    bool met = true;
    for (long n = 0; n <= most && met; n++) {
        struct memory_trial t = {0};
        struct err e = {0};
        heap.live = 0;
        heap.countdown = n;
        heap.on = OWN_MALLOC;
        bool ok = run(&t, &e);
        heap.on = false;
        met = n == 0 || heap.countdown == 0;
        if (n == 0)
            text_add(&whole, text_str(&t.out));
        if (ok) { /* also where only a suggestion went missing */
            assert_int_equal(t.n_faults, 3);
            assert_string_equal(text_str(&t.out), text_str(&whole));
        } else {
            assert_true(n > 0);
            assert_int_equal(e.code, ERR_MEMORY);
        }
        heap.on = OWN_MALLOC;
        text_free(&t.out);
        heap.on = false;
        assert_int_equal(heap.live, 0);
    }
    assert_true(!OWN_MALLOC || !met);
    text_free(&whole);
}

/* ---- the planner ------------------------------------------------------------------------------------------------ */

static bool put_state(const struct facility *f, const struct round *r, struct arena *a, struct err *e)
{
    const struct advice_in in = {RANDOM_DAY * MIN_PER_DAY, 0, 0};
    struct round_changes changes;
    struct system_state state;
    const struct capacity *rooms;
    struct stock *stock;
    struct due_unfed *unfed;
    size_t n;
    bool ok = round_changed(f, r, NULL, RANDOM_DAY * MIN_PER_DAY, a, &changes, e) &&
              plan_capacity(f, RANDOM_DAY, a, &rooms, e) && stock_state(f, RANDOM_DAY, NULL, a, &stock, e) &&
              round_unfed(f, r, a, &unfed, &n, e);
    for (size_t i = 0; ok && i < f->n_systems; i++)
        ok = plan_advice(f, i, &in, a, &state, e);
    for (size_t i = 0; ok && i < f->n_foods; i++) {
        struct explanation x;
        ok = stock_explain(f, RANDOM_DAY, i, a, &x, e);
    }
    return ok;
}

/* What an evening asks of the same round. */
static bool put_records(const struct facility *f, const struct plan_request *request, const struct round *r,
                        struct arena *a, struct err *e)
{
    struct round_log log = {0};
    struct tests_due *due;
    struct day_cost *days;
    struct water_load *loads;
    struct asked *asked;
    struct plan_request again;
    struct text programme = {0};
    const char *method;
    size_t n;
    bool ok = tests_due_all(f, RANDOM_DAY * MIN_PER_DAY, a, &due, &n, e) &&
              stock_day_costs(f, RANDOM_DAY, a, &days, &n, e) && plan_loads(f, r, &log, a, &loads, e) &&
              method_in_use(f, 0, ANALYTE_NO3, RANDOM_DAY * MIN_PER_DAY, a, &method, e) &&
              request_write(request, f, a, &asked, &n, e) && request_read(f, r, a, &again, e);
    ok = ok && (plan_write_lp(f, request, &programme, e) || e->code == ERR_INPUT); /* of one programme, that is */
    text_free(&programme);
    return ok;
}

/* As a row of the register that says no more. */
#define BOX_OF_100_L                                                                                                   \
    {                                                                                                                  \
        .shape = SHAPE_BOX, .length_cm = 100, .width_cm = 40, .water_cm = 25, .diameter_cm = NAN, .bow_cm = NAN,       \
        .side_cm = NAN, .cut_length_cm = NAN, .cut_width_cm = NAN, .net_volume_l = NAN                                 \
    }

/* A box of 100 L with three corals of the house's first kind. */
static bool put_home(const struct facility *house, struct err *e)
{
    const struct home_coral corals[] = {{0, 3, 3}};
    struct home h = {.name = "A customer",
                     .day = RANDOM_DAY,
                     .tank = BOX_OF_100_L,
                     .has = {true},
                     .level_mg_l = {5},
                     .corals = corals,
                     .n_corals = 1};
    struct facility f = {0};
    struct round r = {0};
    bool ok = home_plan(house, &h, &f, &r, e);
    if (ok) {
        ok = home_why(&f, &h, e);
        round_free(&r);
        facility_free(&f);
    }
    return ok || e->code == ERR_INPUT; /* not every house's foods make a pot so small */
}

static bool put_why(const struct facility *f, const struct plan_request *request, const struct round *r,
                    struct arena *a, struct err *e)
{
    const char *subjects[] = {"1", "A", f->tanks[0].name, f->colonies[0].code, f->systems[0].name};
    struct explanation answers[COUNT_OF(subjects)], again[COUNT_OF(subjects)];
    struct plan_question q = {subjects, r->n_lines > 0 && r->n_pots > 0 ? COUNT_OF(subjects) : 0, answers};
    struct round worked = {0}, weaker = {0};
    struct plan_request other = *request;
    const char *const *changes;
    size_t n;
    other.factor_max = 0.4;
    bool ok = plan_explain(f, request, r, &q, &worked, e);
    q.answers = again;
    ok = ok && plan_explain(f, &other, r, &q, &weaker, e);
    for (size_t i = 0; ok && i < q.n; i++)
        ok = explanation_changes(&answers[i], &again[i], a, &changes, &n, e);
    round_free(&worked);
    round_free(&weaker);
    return ok;
}

static bool put_replan(const struct facility *f, const struct round *r, struct err *e)
{
    const struct given done = {
        .round = 1, .line = 1, .sheet_revision = 1, .amount = NAN, .response = -1, .at_min = 500};
    const struct replan_request late = {.now_min = 600, .givens = &done, .n_givens = 1};
    struct round moved = {0};
    struct replanned found;
    bool ok = plan_replan(f, r, &late, &moved, &found, e);
    round_free(&moved);
    if (!ok && e->code == ERR_INPUT) /* not every round can go on so late */
        ok = true;
    for (size_t i = 0; ok && i < r->n_pots; i++) {
        struct rescaled less = {0};
        ok = plan_rescale(f, r, &(struct rescale_request){r->pots[i].pot, r->pots[i].made_ml / 2, NULL}, &less, e);
        rescaled_free(&less);
    }
    return ok;
}

static bool put_weeks(const struct facility *f, const struct plan_request *request, struct err *e)
{
    const struct trend_request week = {RANDOM_DAY * MIN_PER_DAY, 0, REF_NONE};
    const struct ahead_request weeks = {.now_min = week.now_min,
                                        .system = REF_NONE,
                                        .weeks = 1,
                                        .runs = 100,
                                        .seed = 1,
                                        .policy = {.strength_frac = 0.5, .change_frac_per_week = NAN}};
    struct trend_report report = {0};
    struct ahead ahead = {0};
    struct plan_comparison house = {0};
    bool ok = plan_report(f, &week, &report, e);
    trend_report_free(&report);
    ok = ok && plan_ahead(f, &weeks, &ahead, e);
    ahead_free(&ahead);
    ok = ok && plan_compare(f, request, NULL, &house, e);
    comparison_free(&house);
    return ok;
}

enum { TESTS_MUCH = RANDOM_TESTS + 4 * RANDOM_SYSTEMS }; /* four more of each water */

/* What the house did with a kept round's corals, foods and waters since, and what the sheet then says of it. */
static bool put_changes(struct random_facility *r, const struct round *round, struct arena *a, struct err *e)
{
    static struct random_facility was;
    static struct test read[TESTS_MUCH];
    struct round_changes changes;
    was = *r;
    memcpy(read, r->f.tests, r->f.n_tests * sizeof *read);
    for (size_t i = 0, n = 0; i < round->n_lines; i++) {
        const struct line *l = &round->lines[i];
        if (l->action != ACTION_TARGET)
            continue;
        struct colony *c = &r->colonies[l->colony];
        switch (n++ % 5) { /* the first goes on */
        case 1: c->count = 0; break;
        case 2: c->count = l->count - 1; break;
        case 3: c->tank = (l->tank + 1) % r->f.n_tanks; break;
        case 4: c->hold_reason = "gaping"; break;
        default: break;
        }
    }
    r->tanks[r->f.n_tanks / 2].hold_reason = "dip";
    r->tanks[r->f.n_tanks / 2].hold_until = DAY_NONE;
    for (size_t i = 0; i < r->f.n_lots; i++)
        r->lots[i].retired = i % 2;
    for (size_t i = 0; i < r->f.n_tests; i++)
        r->f.tests[i].value *= 20;
    bool ok = round_changed(&r->f, round, NULL, RANDOM_DAY * MIN_PER_DAY + 700, a, &changes, e);
    memcpy(r->f.tests, read, r->f.n_tests * sizeof *read);
    *r = was;
    return ok;
}

/* A round that is logged up to a flow which is off, and goes on a while later; and what its log comes to. */
static bool put_stop(const struct facility *f, const struct round *r, struct arena *a, struct err *e)
{
    static struct given givens[400];
    struct round_log log = {.givens = givens};
    struct round moved = {0};
    struct replanned found;
    struct long_stop *stops;
    struct switch_fault *faults;
    struct log_figures figures;
    struct text open = {0};
    int off_min = -1;
    size_t n;
    for (size_t i = 0; i < r->n_lines && i < COUNT_OF(givens); i++) {
        const struct line *l = &r->lines[i];
        if (off_min >= 0 && l->start_min > off_min)
            continue;
        givens[log.n_givens++] = (struct given){
            .round = r->head.number, .line = l->number, .amount = l->amount, .response = -1, .at_min = -1, .note = ""};
        if (l->action == ACTION_FLOW_OFF)
            off_min = l->start_min;
    }
    bool ok = true;
    for (int late_min = 9; ok && late_min < 100; late_min += 60) {
        const struct replan_request late = {off_min + late_min, givens, log.n_givens, NULL, 0};
        ok = plan_replan(f, r, &late, &moved, &found, e) || e->code == ERR_INPUT;
        round_free(&moved);
    }
    log_open_lines(f, r, &log, &open);
    ok = ok && (!open.failed || err_memory(e)) && log_long_stops(f, r, &log, a, &stops, &n, e) &&
         log_switch_faults(f, r, &log, a, &faults, &n, e) && log_figures_begin(f, a, &figures, e);
    text_free(&open);
    return ok;
}

/* The same round to be done by a minute, by those who are there and by one who comes late. */
static bool put_ends(const struct facility *f, const struct plan_request *request, struct err *e)
{
    static const struct late_feeder late = {1, 500};
    struct plan_request by = *request;
    struct round r = {0};
    by.start_min = -1;
    by.done_by_min = 1400;
    for (int i = 0; i < 2; i++, by.lates = &late, by.n_lates = 1) {
        bool ok = plan_round(f, &by, &r, e);
        if (ok)
            round_free(&r);
        else if (e->code != ERR_INPUT)
            return false;
    }
    return true;
}

/* What is asked of the planner in a day, and on a morning on which much is to be said. */
struct asked_day {
    struct random_facility r;
    struct plan_request request;
    bool much;
    double portions; /* so many times those of the draws */
    bool all;        /* no tank is left out */
};

static bool put_day(const struct facility *f, const struct plan_request *request, const struct round *round,
                    struct arena *a, struct err *e)
{
    return put_state(f, round, a, e) && put_why(f, request, round, a, e) && put_replan(f, round, e) &&
           put_weeks(f, request, e) && put_records(f, request, round, a, e) && put_home(f, e);
}

static bool a_day(struct asked_day *d, struct err *e)
{
    const struct facility *f = &d->r.f;
    struct round round = {0};
    struct arena a = {0};
    bool ok = plan_round(f, &d->request, &round, e);
    if (d->much)
        ok = ok && put_changes(&d->r, &round, &a, e) && put_stop(f, &round, &a, e) && put_ends(f, &d->request, e);
    else
        ok = ok && put_day(f, &d->request, &round, &a, e);
    round_free(&round);
    arena_free(&a);
    return ok;
}

static void heap_begin(long countdown, struct ways *ways)
{
    heap.live = heap.n = 0;
    heap.countdown = countdown;
    heap.ways = ways;
    heap.on = OWN_MALLOC;
}

static void heap_end(void)
{
    heap.on = false;
    heap.ways = NULL;
}

static bool a_day_with(long countdown, struct ways *ways, struct asked_day *d, struct err *e)
{
    heap_begin(countdown, ways);
    bool ok = a_day(d, e);
    heap_end();
    return ok;
}

static bool met_by(long countdown, struct ways *ways, bool (*work)(struct err *), struct err *e)
{
    heap_begin(countdown, ways);
    bool ok = work(e);
    heap_end();
    return ok;
}

/* Each allocation reached by a way that no day before had fails once. *tried: ways; *refused: ended in an error. */
static void fail_each(struct asked_day *d, struct ways *ways, uint64_t seed, size_t *tried, size_t *refused)
{
    struct err e = {0};
    if (!a_day_with(0, ways, d, &e))
        fail_msg("seed %lu: %s", (unsigned long)seed, e.text);
    assert_int_equal(heap.live, 0);
    for (; *tried < ways->n; ++*tried) {
        bool ok = a_day_with(ways->at[*tried], NULL, d, &e);
        if (!ok && e.code != ERR_MEMORY)
            fail_msg("seed %lu, allocation %ld: %s", (unsigned long)seed, ways->at[*tried], e.text);
        if (heap.live != 0)
            fail_msg("seed %lu, allocation %ld: %ld not freed", (unsigned long)seed, ways->at[*tried], heap.live);
        *refused += !ok;
    }
}

static void put_reading(struct facility *f, size_t system, enum analyte a, double value)
{
    size_t at = tests_of(f, system).end;
    memmove(&f->tests[at + 1], &f->tests[at], (f->n_tests++ - at) * sizeof *f->tests);
    f->tests[at] = (struct test){.system = system,
                                 .taken = RANDOM_DAY * MIN_PER_DAY + 430,
                                 .analyte = (int)a,
                                 .repeat = 1,
                                 .value = value,
                                 .method = "photometer",
                                 .note = ""};
}

/* What the draws leave out: lights, switches, shared water, odd readings, corals that refuse, stock that runs low. */
static void put_much(struct asked_day *d)
{
    static struct daily_round rounds[] = {{.name = "morning", .start_min = 480, .days = "", .note = ""},
                                          {.name = "noon", .start_min = 720, .days = "", .note = ""}};
    static struct system_switch switches[RANDOM_SYSTEMS];
    static struct draw drawn = {.day = RANDOM_DAY - 5, .fed_units = 1};
    static struct test tests[TESTS_MUCH];
    static const struct {
        int on_min, off_min;
    } lights[] = {{600, 1200}, {60, 1380}, {0, 0}};
    static const char *last;
    struct random_facility *r = &d->r;
    struct facility *f = &r->f;
    memcpy(tests, f->tests, f->n_tests * sizeof *tests);
    f->tests = tests;
    share_waters(r);
    for (size_t s = 0; s < f->n_systems; s++) {
        switches[s] = (struct system_switch){.system = s, .off_for = OFF_FOR_BOTH, .off_limit_min = 1, .note = ""};
        r->systems[s].quarantine = s % 2;
        r->systems[s].lights_on_min = lights[s % 3].on_min;
        r->systems[s].lights_off_min = lights[s % 3].off_min;
        put_reading(f, s, ANALYTE_PO4, 2);
        put_reading(f, s, ANALYTE_PH, 8.6);
        put_reading(f, s, ANALYTE_TEMP, 26);
        put_reading(f, s, ANALYTE_TAN, 4);
    }
    for (size_t i = 0; i < f->n_kinds; i++) {
        r->kinds[i].fed_in = (int)i % 3;
        r->kinds[i].early = i % 2;
        r->kinds[i].hand_safety = true;
        r->kinds[i].portion_ml *= d->portions;
    }
    for (size_t i = 0; i < f->n_foods && f->n_lots < RANDOM_LOTS; i += 2) /* a rest that nobody can weigh out */
        r->lots[f->n_lots++] = (struct lot){.code = "rest",
                                            .food = i,
                                            .amount_units = 3 * food_step(&f->settings, &r->foods[i]),
                                            .received = RANDOM_DAY - 40,
                                            .opened = DAY_NONE,
                                            .use_by = DAY_NONE,
                                            .note = ""};
    for (size_t i = 0; i < f->n_foods; i++) {
        r->foods[i].prepare = "thaw";
        r->foods[i].lead_d = i % 2 ? 2 : 5000;
    }
    for (size_t i = 0; i < f->n_colonies; i++) {
        r->colonies[i].look = "refused 2 of its last 3 rounds";
        r->colonies[i].look_close = true;
        r->colonies[i].note = "by the overflow";
        r->colonies[i].portion_frac = 0.5;
    }
    f->daily_rounds = rounds;
    f->n_daily_rounds = COUNT_OF(rounds);
    f->switches = switches;
    f->n_switches = f->n_systems;
    f->draws = &drawn;
    f->n_draws = 1;
    last = r->tanks[f->n_tanks - 1].name;
    d->request.round = rounds[0].name;
    d->request.skip_tanks = d->request.first_tanks = &last;
    d->request.n_skip_tanks = !d->all;
    d->request.n_first_tanks = 1;
    d->request.effort = 1e-6; /* no exact search: its solver is left as it is where memory fails in it */
    d->much = true;
}

static void a_plan_without_memory_says_so_and_keeps_none(void **state)
{
    static struct asked_day d;
    static struct ways ways;
    static const struct {
        uint64_t seed;
        double portions;
        bool all;
    } much[] = {/* hands, stops, ceilings … too small; nobody due; many tanks */
                {67, 1, false}, {89, 1, false}, {56, 12, false}, {27, 12, false}, {15, 1, false},
                {45, 1, false}, {26, 1, false}, {2, 1, false},   {56, 1, true},   {47, 1, true}};
    void *calls[2];
    const char *skip;
    size_t tried = 0, refused = 0;
    (void)state;
    backtrace(calls, 2); /* loads what it needs */
    gsl_set_error_handler_off();
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        d.much = false;
        facility_random(&d.r, seed);
        request_random(&d.r, &d.request, &skip);
        fail_each(&d, &ways, seed, &tried, &refused);
    }
    static_assert(MORNINGS <= COUNT_OF(much), "so many are laid out");
    for (size_t i = 0; i < MORNINGS; i++) {
        facility_random(&d.r, much[i].seed);
        request_random(&d.r, &d.request, &skip);
        d.portions = much[i].portions;
        d.all = much[i].all;
        put_much(&d);
        fail_each(&d, &ways, much[i].seed, &tried, &refused);
    }
    if (OWN_MALLOC)
        assert_true(tried > 100 && refused > tried / 2);
}

/* ---- floors that a day of the planner does not ask so much of --------------------------------------------------- */

#ifdef COVERED
enum { MANY_POINTS = 1500 }; /* more slopes than are listed */
#else
enum { MANY_POINTS = 100 };
#endif
enum { WEEKS = 20, MANY_WATERS = RECIPE_BLOCK_MAX + 2 };

/* Two waters, two foods that are always given together, tests by two methods that are crossed, and water changed. */
static struct {
    struct reading readings[2 * WEEKS];
    struct food_given feedings[2 * WEEKS];
    struct water_change change;
    struct learn_system systems[2];
    struct point points[MANY_POINTS];
} logged;

static void lay_out_log(void)
{
    for (int k = 0; k < WEEKS; k++) {
        const long at = 7L * k * MIN_PER_DAY;
        logged.readings[2 * k] = (struct reading){at, 5 + 0.1 * k + 0.05 * (k % 3), false, 0};
        logged.readings[2 * k + 1] = (struct reading){at + 60, 6 + 0.1 * k + 0.05 * (k % 3), false, k > 10 ? 1 : 0};
        logged.feedings[2 * k] = (struct food_given){at + 600, 0, 2 + k % 4};
        logged.feedings[2 * k + 1] = (struct food_given){at + 610, 1, 2 + k % 4};
    }
    logged.change = (struct water_change){(7L * WEEKS - 10) * MIN_PER_DAY, 0.1, 0};
    for (size_t i = 0; i < 2; i++)
        logged.systems[i] = (struct learn_system){.readings = logged.readings,
                                                  .n_readings = COUNT_OF(logged.readings),
                                                  .changes = &logged.change,
                                                  .n_changes = 1,
                                                  .feedings = logged.feedings,
                                                  .n_feedings = COUNT_OF(logged.feedings),
                                                  .volume_l = 500,
                                                  .test_sd = 0.1};
    for (size_t i = 0; i < MANY_POINTS; i++)
        logged.points[i] = (struct point){(double)i, (double)(i * i % 97), (double)(i * i % 97) + (i % 5 == 0)};
}

static bool learn_from_log(struct err *e)
{
    static const struct effect_prior priors[] = {{10, 20}, {10, 20}};
    static const struct forecast_food food = {.amount = {1, 1, 1, 1, 1, 1, 1}, .spread = 0.1};
    const struct forecast_food foods[] = {food, food};
    const struct learn_in in = {.systems = logged.systems,
                                .n_systems = 2,
                                .priors = priors,
                                .n_foods = 2,
                                .background = {0, 1},
                                .apart_sd = 0.5,
                                .confidence_frac = 0.9,
                                .n_draws = FORECAST_MIN_RUNS,
                                .seed = 1,
                                .now_min = 7L * WEEKS * MIN_PER_DAY};
    struct arena a = {0};
    struct learned l;
    struct forecast f;
    bool ok = learn_effects(&in, &a, &l, e);
    const struct forecast_in ahead = {.draws = ok ? l.draws[0] : NULL,
                                      .runs = FORECAST_MIN_RUNS,
                                      .foods = foods,
                                      .n_foods = 2,
                                      .volume_l = 500,
                                      .band = {2, 15},
                                      .strength_frac = 1,
                                      .days = 7,
                                      .seed = 1};
    ok = ok && forecast_run(&ahead, &a, &f, e);
    arena_free(&a);
    return ok;
}

static bool fit_states(struct err *e)
{
    const struct state_in in = {.readings = logged.readings,
                                .n_readings = COUNT_OF(logged.readings),
                                .changes = &logged.change,
                                .n_changes = 1,
                                .now_min = 7L * WEEKS * MIN_PER_DAY,
                                .window_d = 100,
                                .stale_d = 28,
                                .confidence_frac = 0.9,
                                .test_sd = 0.1,
                                .resolution = 0.1,
                                .band = {2, 15}};
    struct arena a = {0};
    struct state s;
    struct slope line;
    struct step step;
    bool ok = state_fit(&in, &a, &s, e) && slope_fit(logged.points, MANY_POINTS, 0.9, &line, e) &&
              step_find(logged.points, 30, 3, 0, &step, e);
    arena_free(&a);
    return ok;
}

static struct recipe_system water_new(double full_frac, bool own_pot)
{
    struct recipe_system s = {
        .name = "water", .volume_l = 1000, .lean_frac = 0.25, .full_frac = full_frac, .own_pot = own_pot};
    for (int a = 0; a < RECIPE_ANALYTES; a++) {
        s.low_room_mg[a] = -INFINITY;
        s.high_room_mg[a] = s.max_fall_mg[a] = s.max_rise_mg[a] = INFINITY;
        s.band_mg[a] = 100;
    }
    return s;
}

/*
 * One pot for two waters that would rather have one each, or must; and for more than every grouping is tried of, each
 * second of which may have half the strength.
 */
static bool mix_for_few_pots(struct err *e)
{
    enum { MANY = RECIPE_EXHAUSTIVE_MAX + 1 };
    static const struct recipe_food food = {.name = "powder",
                                            .solids_g_per_unit = 1,
                                            .house_share_frac = 1,
                                            .share_max_frac = 1,
                                            .ceiling_per_100l = 1,
                                            .stock = INFINITY,
                                            .step = 0.1};
    struct recipe_system systems[MANY];
    struct recipe_tank tanks[MANY];
    const struct recipe_problem p = {.foods = &food,
                                     .n_foods = 1,
                                     .systems = systems,
                                     .n_systems = 2,
                                     .tanks = tanks,
                                     .n_tanks = 2,
                                     .max_pots = 1,
                                     .house_g_per_100ml = 1,
                                     .jug = {.step_ml = 1},
                                     .syringe_step_ml = 0.5};
    struct recipe_problem more = p;
    struct recipe rather = {0}, must = {0}, many = {0};
    for (size_t i = 0; i < MANY; i++) {
        systems[i] = water_new(i % 2 ? 0.5 : 1, false);
        tanks[i] = (struct recipe_tank){
            .name = "tank", .system = i, .net_volume_l = 500, .slurry_ml = 100, .counted_frac = 1, .broadcast_frac = 1};
    }
    more.n_systems = more.n_tanks = MANY;
    bool ok = recipe_plan(&p, &rather, e) && recipe_plan(&more, &many, e);
    systems[0] = systems[1] = water_new(1, true);
    ok = ok && recipe_plan(&p, &must, e);
    recipe_free(&rather);
    recipe_free(&many);
    recipe_free(&must);
    return ok;
}

/* More waters than a block, and two that are fed; what can be asked of their recipe. */
static bool mix_for_many(struct err *e)
{
    static struct recipe_system systems[MANY_WATERS];
    static const struct recipe_food foods[] = {{.name = "powder",
                                                .solids_g_per_unit = 1,
                                                .house_share_frac = 1,
                                                .share_max_frac = 1,
                                                .ceiling_per_100l = 1,
                                                .stock = 50,
                                                .step = 0.1},
                                               {.name = "liquid",
                                                .liquid = true,
                                                .house_ml_per_100ml = 1,
                                                .max_ml_per_100ml = 5,
                                                .broadcast_ml_per_100l = 1,
                                                .ceiling_per_100l = 5,
                                                .stock = 50,
                                                .step = 0.5}};
    static const struct recipe_tank tanks[] = {
        {.name = "A", .system = 0, .net_volume_l = 500, .slurry_ml = 100, .counted_frac = 1, .broadcast_frac = 1},
        {.name = "B", .system = 1, .net_volume_l = 500, .slurry_ml = 100, .counted_frac = 1, .broadcast_frac = 1}};
    struct recipe_problem p = {.foods = foods,
                               .n_foods = COUNT_OF(foods),
                               .systems = systems,
                               .n_systems = MANY_WATERS,
                               .tanks = tanks,
                               .n_tanks = COUNT_OF(tanks),
                               .house_g_per_100ml = 1,
                               .jug = {.step_ml = 1},
                               .syringe_step_ml = 0.5};
    struct recipe r = {0}, one = {0}, looser = {0};
    struct recipe_portion portions[COUNT_OF(tanks)];
    struct text t = {0};
    size_t n;
    for (size_t s = 0; s < MANY_WATERS; s++)
        systems[s] = water_new(1, false);
    bool ok = recipe_plan(&p, &r, e);
    p.n_systems = 2;
    const struct recipe_limit stock = {.kind = RECIPE_STOCK, .food = 0};
    ok = ok && recipe_plan(&p, &one, e) && recipe_write_lp(&p, &one, RECIPE_COST, &t, e) &&
         recipe_loosen(&p, &one, &stock, 1, &looser, e) &&
         recipe_rescale(&p, &one, &(struct recipe_rescale_request){.made_ml = 150}, portions, &n, e);
    text_free(&t);
    recipe_free(&r);
    recipe_free(&one);
    recipe_free(&looser);
    return ok;
}

/* A round that the bound leaves open, of one feeder and water that two tanks share. */
static bool order_exactly(struct err *e)
{
    static const struct order_feeder feeder = {.ready_min = 480};
    static const struct order_share share = {.position_m = 4};
    struct order_tank tanks[5];
    struct order_problem p;
    struct order_plan plan = {0};
    order_defaults(&p);
    for (int i = 0; i < 5; i++)
        tanks[i] = (struct order_tank){.position_m = 2 * i,
                                       .broadcast_min = 1 + i % 2,
                                       .fish_min = i % 2,
                                       .feed_s = 200 + 70 * i,
                                       .off_wanted_min = 15,
                                       .rest_min = 5 + i,
                                       .off_limit_min = 25,
                                       .pump = -1,
                                       .share = i > 2,
                                       .fixed_rank = -1};
    p.tanks = tanks;
    p.n_tanks = COUNT_OF(tanks);
    p.feeders = &feeder;
    p.n_feeders = 1;
    p.shares = &share;
    p.n_shares = 1;
    p.search_steps = 100;
    p.exact_work = 50000;
    bool ok = order_make(&p, &plan, e) && order_check(&p, &plan, NULL, e);
    order_plan_free(&plan);
    return ok;
}

static bool reckon_at_the_desk(struct err *e)
{
    const char *const volume[] = {"length=120", "cm", "width=60cm", "water=50cm"}, *const convert[] = {"3", "L"};
    struct calc k = {.what = &calc_volume}, l = {.what = &calc_convert};
    struct arena a = {0};
    struct name_set names = {0};
    bool ok = calc_run(&k, volume, COUNT_OF(volume), &a, e) && calc_run(&l, convert, COUNT_OF(convert), &a, e);
    ok = ok && ((names_add(&names, "A") && names_add(&names, "B")) || err_memory(e));
    names_free(&names);
    arena_free(&a);
    return ok;
}

/* A kept round of foods that fall faster than a water may, each with a source of its own. */
static struct random_facility tight;
static struct round tight_round;
static const struct plan_request tight_request = {.day = RANDOM_DAY, .start_min = 480, .effort = 0.01};

static void lay_out_tight_round(void)
{
    static const char *const sources[RANDOM_FOODS] = {"p. 1", "p. 2", "p. 3", "p. 4", "p. 5",
                                                      "p. 6", "p. 7", "p. 8", "p. 9"};
    struct err e;
    facility_random(&tight, 25);
    for (size_t i = 0; i < RANDOM_FOODS; i++) {
        tight.foods[i].source = sources[i];
        tight.foods[i].no3_effect_mg_per_unit = -4000;
    }
    if (!plan_round(&tight.f, &tight_request, &tight_round, &e))
        fail_msg("%s", e.text);
}

/* What holds a pot back and its price; and what is no part of the round. */
static bool explain_tight_round(struct err *e)
{
    const char *subjects[] = {
        tight.systems[0].name, tight.tanks[0].name, "A", "1", tight.colonies[0].code, "head", "totals"};
    const char *nobody = "nobody";
    struct explanation answers[COUNT_OF(subjects)];
    struct plan_question q = {subjects, COUNT_OF(subjects), answers}, unknown = {&nobody, 1, answers};
    struct round worked = {0};
    bool ok = plan_explain(&tight.f, &tight_request, &tight_round, &q, &worked, e);
    round_free(&worked);
    if (!ok)
        return false;
    return !plan_explain(&tight.f, &tight_request, &tight_round, &unknown, &worked, e) && e->code == ERR_NOT_FOUND;
}

/* A tank at home that the foods of a house make a pot for. */
static struct facility at_home;
static struct home home = {
    .name = "A customer", .day = RANDOM_DAY, .tank = BOX_OF_100_L, .has = {true}, .level_mg_l = {5}};

static void lay_out_home(void)
{
    static struct random_facility house;
    static struct home_coral coral = {0, 3, 3};
    struct round r = {0};
    struct err e = {0};
    bool made = false;
    home.corals = &coral;
    home.n_corals = 1;
    for (uint64_t seed = 1; seed <= 40 && !made; seed++) {
        facility_random(&house, seed);
        for (coral.kind = 0; coral.kind < RANDOM_KINDS && !made; coral.kind++)
            made = home_plan(&house.f, &home, &at_home, &r, &e);
    }
    if (!made)
        fail_msg("%s", e.text);
    round_free(&r);
}

static bool advise_at_home(struct err *e)
{
    struct facility f = at_home;
    f.arena = (struct arena){0};
    bool ok = home_why(&f, &home, e);
    arena_free(&f.arena);
    return ok;
}

/* A tank of a system with lights, read back into cells; and a food from its label. */
static bool read_registers(struct err *e)
{
    struct system water = {
        .name = "the water of the north rack and its sump", .note = "", .lights_on_min = 480, .lights_off_min = 1200};
    struct tank tank = {.name = "A", .pump = "", .hold_reason = "", .note = ""};
    const struct facility f = {.systems = &water, .n_systems = 1, .tanks = &tank, .n_tanks = 1};
    const struct reg *food = reg_get(REG_FOOD);
    const struct food_label label = {.typed = {[LABEL_PRICE] = "12.50"}};
    struct cell cells[FIELDS_MAX] = {0};
    bool present[FIELDS_MAX] = {false};
    struct arena a = {0};
    struct text told = {0};
    bool ok = row_read(reg_get(REG_SYSTEM), &water, &f, cells, &a, e) &&
              row_read(reg_get(REG_TANK), &tank, &f, cells, &a, e) &&
              label_fill(&label, food, NULL, cells, present, &told, e);
    text_free(&told);
    arena_free(&a);
    return ok;
}

static void a_floor_without_memory_says_so_and_keeps_none(void **state)
{
    static const struct {
        const char *name;
        bool (*work)(struct err *);
        bool may_keep; /* the solver of clauses, which is left as it is where memory fails in it */
    } rows[] = {{"learning", learn_from_log, false}, {"states", fit_states, false},
                {"recipes", mix_for_many, false},    {"order", order_exactly, true},
                {"desk", reckon_at_the_desk, false}, {"registers", read_registers, false},
                {"why", explain_tight_round, false}, {"few pots", mix_for_few_pots, false},
                {"home", advise_at_home, false}};
    (void)state;
    lay_out_log();
    lay_out_tight_round();
    lay_out_home();
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        static struct ways ways;
        struct err e = {0};
        ways.n = 0;
        memset(ways.seen, 0, sizeof ways.seen);
        if (!met_by(0, &ways, rows[i].work, &e))
            fail_msg("%s: %s", rows[i].name, e.text);
        for (size_t k = 0; k < ways.n; k++) {
            bool ok = met_by(ways.at[k], NULL, rows[i].work, &e);
            if (!ok && e.code != ERR_MEMORY)
                fail_msg("%s, allocation %ld: %s", rows[i].name, ways.at[k], e.text);
            if (heap.live != 0 && !rows[i].may_keep)
                fail_msg("%s, allocation %ld: %ld not freed", rows[i].name, ways.at[k], heap.live);
        }
        assert_true(!OWN_MALLOC || ways.n > 0);
    }
    round_free(&tight_round);
    facility_free(&at_home);
}

SUITE(memory)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_allocation_may_fail_and_is_told),
        cmocka_unit_test(a_plan_without_memory_says_so_and_keeps_none),
        cmocka_unit_test(a_floor_without_memory_says_so_and_keeps_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
