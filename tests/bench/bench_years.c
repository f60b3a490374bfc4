/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Fills a store with years of rounds, as the commands would have entered them: each day after its latest round that
 * round again, every line given, and seven tests in every system; a lot of each food every quarter. usage: bench_years
 * STORE DAYS
 */
#include "neap/facility.h"
#include "neap/store.h"

enum { LOT_DAYS = 90, LOT_TEXT = 40 };

struct years_filling {
    struct store *s;
    struct facility f;
    struct round r;
    struct err e;
};

static bool put(struct years_filling *in, enum reg_id id, const void *row)
{
    enum put outcome;
    return row_put(in->s, &in->f, id, row, &outcome, &in->e);
}

static const char *lot_code(size_t food, int quarter, char code[LOT_TEXT])
{
    snprintf(code, LOT_TEXT, "Q%zu-%d", food, quarter);
    return code;
}

/* A lot of every food for each quarter: more than is used up, and retired when the next one is opened. */
static bool buy(struct years_filling *in, int first_day, int quarters)
{
    char code[LOT_TEXT];
    if (!store_begin(in->s, &in->e))
        return false;
    for (int q = 0; q < quarters; q++)
        for (size_t food = 0; food < in->f.n_foods; food++) {
            int day = first_day + q * LOT_DAYS;
            const struct lot lot = {lot_code(food, q, code), food, 1e6, day, day, day + 2 * LOT_DAYS, 10000, "",
                                    q + 1 < quarters,        0};
            if (!put(in, REG_LOT, &lot))
                return false;
        }
    return store_commit(in->s, "neap load lots.csv", (long)first_day * MIN_PER_DAY, &in->e);
}

static void take_lots(struct years_filling *in, int quarter)
{
    char code[LOT_TEXT];
    for (size_t i = 0; i < in->r.n_pot_foods; i++)
        in->r.pot_foods[i].lot = facility_find(&in->f, REG_LOT, lot_code(in->r.pot_foods[i].food, quarter, code));
    for (size_t i = 0; i < in->r.n_lines; i++)
        if (in->r.lines[i].food != REF_NONE)
            in->r.lines[i].lot = facility_find(&in->f, REG_LOT, lot_code(in->r.lines[i].food, quarter, code));
}

static bool plan(struct years_filling *in, int day)
{
    bool same;
    in->r.head.day = day;
    return store_begin(in->s, &in->e) && store_keep_round(in->s, &in->f, &in->r, &same, &in->e) &&
           store_commit(in->s, "neap plan", (long)day * MIN_PER_DAY + 480, &in->e);
}

static bool log_all(struct years_filling *in, int day)
{
    bool ok = store_begin(in->s, &in->e);
    for (size_t i = 0; ok && i < in->r.n_pots; i++) {
        const struct mixed m = {.round = in->r.head.number,
                                .pot = in->r.pots[i].pot,
                                .made_ml = in->r.pots[i].made_ml,
                                .left_ml = NAN,
                                .note = ""};
        ok = !(m.made_ml > 0) || put(in, REG_MIXED, &m);
    }
    for (size_t i = 0; ok && i < in->r.n_lines; i++) {
        const struct line *l = &in->r.lines[i];
        const struct given g = {.round = in->r.head.number,
                                .line = l->number,
                                .sheet_revision = in->r.head.revision,
                                .outcome = OUTCOME_GIVEN,
                                .amount = l->amount,
                                .response = -1,
                                .at_min = -1,
                                .note = ""};
        ok = put(in, REG_GIVEN, &g);
    }
    return ok && store_commit(in->s, "neap log --all", (long)day * MIN_PER_DAY + 660, &in->e);
}

/* Levels that go up and down a little: what is measured here is time. */
static bool test_all(struct years_filling *in, int day)
{
    static const struct {
        enum analyte analyte;
        double value;
    } level[] = {{ANALYTE_NO3, 6},   {ANALYTE_PO4, 0.06},    {ANALYTE_ALK, 8},  {ANALYTE_CA, 420},
                 {ANALYTE_MG, 1350}, {ANALYTE_SALINITY, 35}, {ANALYTE_TEMP, 25}};
    bool ok = store_begin(in->s, &in->e);
    for (size_t system = 0; ok && system < in->f.n_systems; system++)
        for (size_t a = 0; ok && a < COUNT_OF(level); a++) {
            const struct test t = {.system = system,
                                   .taken = (long)day * MIN_PER_DAY + 420,
                                   .analyte = level[a].analyte,
                                   .repeat = 1,
                                   .value = level[a].value * (1 + 0.02 * (day % 7 - 3)),
                                   .method = "",
                                   .sample = SAMPLE_BEFORE,
                                   .note = ""};
            ok = put(in, REG_TEST, &t);
        }
    return ok && store_commit(in->s, "neap test", (long)day * MIN_PER_DAY + 430, &in->e);
}

static bool fill(struct years_filling *in, int days)
{
    if (!store_snapshot(in->s, &(struct look_back){.day = DAY_NONE}, &in->f, &in->e))
        return false;
    struct kept_round *kept;
    size_t n;
    if (!store_rounds(in->s, 0, 100000, &in->f.arena, &kept, &n, &in->e))
        return false;
    if (n == 0 || !store_load_round(in->s, &in->f, kept[n - 1].number, &in->r, &in->e))
        return err_set(&in->e, ERR_INPUT, NULL, "expected a store with a planned round");
    int first = in->r.head.day + 1;
    if (!buy(in, first, days / LOT_DAYS + 1))
        return false;
    facility_free(&in->f);
    if (!store_snapshot(in->s, &(struct look_back){.day = DAY_NONE}, &in->f, &in->e))
        return false;
    for (int i = 0; i < days; i++) {
        take_lots(in, i / LOT_DAYS);
        if (!plan(in, first + i) || !log_all(in, first + i) || !test_all(in, first + i))
            return false;
    }
    return true;
}

int main(int argc, char **argv)
{
    struct years_filling in = {0};
    if (argc != 3) {
        fputs("usage: bench_years STORE DAYS\n", stderr);
        return 2;
    }
    bool ok = store_open(argv[1], STORE_WRITE, &in.s, &in.e) && fill(&in, (int)strtol(argv[2], NULL, 10));
    if (!ok)
        fprintf(stderr, "bench_years: %s\n", in.e.text);
    round_free(&in.r);
    facility_free(&in.f);
    store_close(in.s);
    return ok ? 0 : 1;
}
