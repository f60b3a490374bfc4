/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The weekly report and the look ahead as data: what a reader must be told, from rows of literals. */
#include "log_sim.h"
#include "numbers.h"

#include "neap/ledger.h"
#include "neap/plan.h"
#include "neap/week.h"

enum { FRIDAY = 20784 }; /* 2026-11-27 */

struct row {
    int day; /* before FRIDAY */
    double value;
    bool below;
};

static void put_tests(struct facility *f, size_t system, enum analyte a, const char *method, const struct row *rows,
                      size_t n)
{
    for (size_t i = 0; i < n; i++)
        f->tests[f->n_tests++] = (struct test){.system = system,
                                               .taken = (FRIDAY - rows[i].day) * MIN_PER_DAY + 7 * 60,
                                               .analyte = (int)a,
                                               .repeat = 1,
                                               .value = rows[i].value,
                                               .below = rows[i].below,
                                               .method = method,
                                               .note = ""};
}

static struct facility facility_of(size_t n_systems)
{
    const struct sim empty = {.n_systems = n_systems, .days = SIM_DAYS_MAX / 2, .last_day = 1000, .volume_l = 1000};
    struct facility f = sim_facility(&empty);
    f.n_tests = f.n_waters = f.n_feds = 0;
    for (size_t i = 0; i < n_systems; i++)
        f.systems[i].test_every_d = 7;
    return f;
}

static struct trend_report report_at(const struct facility *f, long now)
{
    struct trend_report r;
    struct err e = {0};
    if (!plan_report(f, &(struct trend_request){.now_min = now, .system = REF_NONE}, &r, &e))
        fail_msg("%s", e.text);
    return r;
}

static struct trend_report report_of(const struct facility *f)
{
    return report_at(f, FRIDAY * MIN_PER_DAY + 12 * 60);
}

static const struct row flat_no3[] = {{28, 6, 0}, {21, 6.2, 0}, {14, 5.9, 0}, {7, 6.1, 0}, {4, 6, 0}, {1, 6, 0}};
static const struct row flat_po4[] = {{28, 0.07, 0}, {21, 0.07, 0}, {14, 0.068, 0},
                                      {7, 0.07, 0},  {4, 0.071, 0}, {1, 0.07, 0}};
static const struct row gone_po4[] = {{27, 0.02, 1}, {20, 0.02, 1}, {13, 0.02, 1}, {6, 0.02, 1}, {1, 0.02, 1}};
static const struct row high_no3[] = {{27, 15, 0}, {20, 18, 0}, {13, 21, 0}, {6, 24, 0}, {1, 26, 0}};
static const struct row soon_no3[] = {{27, 8.1, 0},  {24, 8.5, 0},  {20, 9.4, 0}, {17, 10.1, 0},
                                      {13, 10.7, 0}, {10, 11.5, 0}, {6, 12.1, 0}, {1, 13.2, 0}};
static const struct row gone_no3[] = {{27, 0.5, 1}, {20, 0.5, 1}, {13, 0.5, 1}, {6, 0.5, 1}, {1, 0.5, 1}};
static const struct row long_gone_po4[] = {{27, 0.02, 1}, {26, 0.02, 1}, {25, 0.02, 1}, {24, 0.02, 1}};
static const struct row old_no3[] = {{27, 6, 0}, {25, 6, 0}};

static void a_flat_series_within_the_band_is_steady_and_asks_for_nothing(void **state)
{
    (void)state;
    struct facility f = facility_of(1);
    put_tests(&f, 0, ANALYTE_NO3, "photometer", flat_no3, COUNT_OF(flat_no3));
    put_tests(&f, 0, ANALYTE_PO4, "photometer", flat_po4, COUNT_OF(flat_po4));
    struct trend_report r = report_of(&f);
    const struct trend_system *s = &r.systems[0];
    assert_int_equal(s->attention, ATTENTION_NONE);
    assert_true(s->analytes[ANALYTE_NO3].steady);
    assert_true(s->analytes[ANALYTE_NO3].has_forecast);
    assert_true(s->analytes[ANALYTE_NO3].crossing.inside);
    assert_int_equal(s->analytes[ANALYTE_NO3].n_week, 2);
    assert_number(s->advice.factor, 1, 0);
    /* Molar ratio by hand: 6/62.004 ÷ 0.07/94.970 = 131.3. */
    assert_number(s->np_ratio, 131.3, 3);
    trend_report_free(&r);
    facility_free(&f);
}

static void a_chart_has_the_line_with_the_interval_of_today_and_what_was_done(void **state)
{
    (void)state;
    struct facility f = facility_of(2);
    long now = FRIDAY * MIN_PER_DAY + 12 * 60;
    put_tests(&f, 0, ANALYTE_NO3, "photometer", soon_no3, COUNT_OF(soon_no3));
    put_tests(&f, 0, ANALYTE_PO4, "photometer", flat_po4, COUNT_OF(flat_po4));
    f.waters[f.n_waters++] = (struct water){.system = 1, .exchanged = now - MIN_PER_DAY, .volume_l = 10, .note = ""};
    f.waters[f.n_waters++] = (struct water){.system = 0, .exchanged = now - 3 * MIN_PER_DAY, .volume_l = 1, .note = ""};
    for (int i = 0; i < 4; i++) /* two foods on each of two days */
        f.feds[f.n_feds++] = (struct fed){.food = (size_t)i % 2, .day = FRIDAY - 10 + i / 2, .broadcast_units = 1};
    struct trend_report r = report_at(&f, now);
    const struct trend_system *s = r.systems[0].system == 0 ? &r.systems[0] : &r.systems[1];
    const struct trend_analyte *n = &s->analytes[ANALYTE_NO3];
    assert_true(n->n_line >= 3 && n->n_ahead == 29);
    const struct trend_span *last = &n->line[n->n_line - 1];
    assert_number(last->at_d, 0, 0);
    assert_number(last->level, n->state.level, 1e-9);
    assert_number(last->high - last->low, n->ahead[0].p95 - n->ahead[0].p05, 1e-9);
    for (size_t i = 1; i < n->n_line; i++) {
        const struct trend_span *a = &n->line[i - 1], *b = &n->line[i];
        assert_number((b->level - a->level) / (b->at_d - a->at_d), n->state.slope_per_d, 1e-9);
        /* narrowest at the centre of the tests */
        assert_true(fabs(a->at_d - n->state.centre_d) <= fabs(b->at_d - n->state.centre_d) ||
                    a->high - a->low >= b->high - b->low);
    }
    assert_int_equal(s->n_events, 3);
    assert_false(s->events[0].changed || s->events[1].changed);
    assert_number(s->events[0].at_d, -10, 1e-9);
    assert_true(s->events[2].changed);
    assert_number(s->events[2].at_d, -3, 1e-9);
    trend_report_free(&r);
    facility_free(&f);
}

static void phosphate_gone_with_nitrate_there_comes_first(void **state)
{
    (void)state;
    struct facility f = facility_of(3);
    put_tests(&f, 0, ANALYTE_NO3, "photometer", flat_no3, COUNT_OF(flat_no3));
    put_tests(&f, 0, ANALYTE_PO4, "photometer", flat_po4, COUNT_OF(flat_po4));
    put_tests(&f, 1, ANALYTE_NO3, "photometer", high_no3, COUNT_OF(high_no3));
    put_tests(&f, 1, ANALYTE_PO4, "photometer", flat_po4, COUNT_OF(flat_po4));
    put_tests(&f, 2, ANALYTE_NO3, "photometer", flat_no3, COUNT_OF(flat_no3));
    put_tests(&f, 2, ANALYTE_PO4, "photometer", gone_po4, COUNT_OF(gone_po4));
    struct trend_report r = report_of(&f);
    assert_int_equal(r.systems[0].system, 2);
    assert_int_equal(r.systems[0].attention, ATTENTION_STARVED);
    assert_true(r.systems[0].advice.po4_starved);
    assert_true(isnan(r.systems[0].np_ratio));
    assert_false(r.systems[0].analytes[ANALYTE_PO4].has_forecast);
    assert_int_equal(r.systems[1].system, 1);
    assert_int_equal(r.systems[1].attention, ATTENTION_OUTSIDE);
    assert_int_equal(r.systems[2].attention, ATTENTION_NONE);
    trend_report_free(&r);
    facility_free(&f);
}

/* Starved is water that lacks phosphate alone, by tests that are fresh: nothing else is told so. */
static void poor_water_and_old_tests_are_not_called_starved(void **state)
{
    (void)state;
    struct facility f = facility_of(2);
    put_tests(&f, 0, ANALYTE_NO3, "photometer", gone_no3, COUNT_OF(gone_no3));
    put_tests(&f, 0, ANALYTE_PO4, "photometer", gone_po4, COUNT_OF(gone_po4));
    put_tests(&f, 1, ANALYTE_NO3, "photometer", flat_no3, COUNT_OF(flat_no3));
    put_tests(&f, 1, ANALYTE_PO4, "photometer", long_gone_po4, COUNT_OF(long_gone_po4));
    struct trend_report r = report_of(&f);
    for (size_t i = 0; i < 2; i++) {
        const struct trend_system *s = &r.systems[i];
        assert_int_equal(s->advice.level[ANALYTE_PO4], LEVEL_BELOW_DETECTION);
        assert_int_equal(s->attention, s->system == 0 ? ATTENTION_OUTSIDE : ATTENTION_UNTESTED);
        assert_false(s->advice.po4_starved);
        assert_true(s->advice.po4_low == (s->system == 0));
    }
    trend_report_free(&r);
    facility_free(&f);
}

static void a_rising_level_below_the_edge_is_told_when_it_crosses(void **state)
{
    (void)state;
    struct facility f = facility_of(1);
    put_tests(&f, 0, ANALYTE_NO3, "photometer", soon_no3, COUNT_OF(soon_no3));
    put_tests(&f, 0, ANALYTE_PO4, "photometer", flat_po4, COUNT_OF(flat_po4));
    struct trend_report r = report_of(&f);
    const struct trend_analyte *no3 = &r.systems[0].analytes[ANALYTE_NO3];
    assert_int_equal(r.systems[0].attention, ATTENTION_LEAVING);
    assert_int_equal(no3->state.verdict, STATE_RISING);
    assert_true(no3->crossing.inside && no3->crossing.high);
    /*
     * By hand: 13.4 at noon of the day, 0.2 a day, edge 15: eight days on a line, and some more where the level is
     * taken up too.
     */
    assert_in_range(no3->crossing.likely_day, FRIDAY + 7, FRIDAY + 14);
    assert_true(no3->crossing.early_day <= no3->crossing.likely_day);
    assert_true(no3->crossing.late_day == DAY_NONE || no3->crossing.late_day >= no3->crossing.likely_day);
    trend_report_free(&r);
    facility_free(&f);
}

static void the_water_change_to_the_upper_edge_is_worked_out(void **state)
{
    (void)state;
    static const struct row high[] = {{27, 20, 0}, {20, 20, 0}, {13, 20, 0}, {6, 20, 0}, {1, 20, 0}};
    struct facility f = facility_of(1);
    put_tests(&f, 0, ANALYTE_NO3, "photometer", high, COUNT_OF(high));
    put_tests(&f, 0, ANALYTE_PO4, "photometer", flat_po4, COUNT_OF(flat_po4));
    struct trend_report r = report_of(&f);
    /* By hand: 20 down to 15 with water of 0 is a quarter; 5 mg/L at 2 a day is three days. */
    assert_number(r.systems[0].analytes[ANALYTE_NO3].edge_change_frac, 0.25, 1e-9);
    assert_int_equal(r.systems[0].analytes[ANALYTE_NO3].edge_change_d, 3);
    assert_number(r.systems[0].analytes[ANALYTE_PO4].edge_change_frac, 0, 0);
    trend_report_free(&r);
    facility_free(&f);
}

/* New water of 16 mg/L only keeps what stands at 20; of 10 it takes half of the difference for 15. */
static void no_change_is_told_where_the_new_water_is_above_the_edge_itself(void **state)
{
    (void)state;
    static const struct row high[] = {{27, 20, 0}, {20, 20, 0}, {13, 20, 0}, {6, 20, 0}, {1, 20, 0}};
    static const double news[] = {10, 16}, fracs[] = {0.5, 0};
    for (size_t i = 0; i < COUNT_OF(news); i++) {
        struct facility f = facility_of(1);
        put_tests(&f, 0, ANALYTE_NO3, "photometer", high, COUNT_OF(high));
        put_tests(&f, 0, ANALYTE_PO4, "photometer", flat_po4, COUNT_OF(flat_po4));
        f.waters[f.n_waters++] = (struct water){.system = 0,
                                                .exchanged = (FRIDAY - 27) * MIN_PER_DAY,
                                                .repeat = 1,
                                                .volume_l = 0.01,
                                                .no3_mg_l = news[i],
                                                .note = ""};
        struct trend_report r = report_of(&f);
        assert_number(r.systems[0].analytes[ANALYTE_NO3].edge_change_frac, fracs[i], 1e-3);
        trend_report_free(&r);
        facility_free(&f);
    }
}

/* 5 5 5 5 5 10 10 10 10 on a comparator of 5 mg/L: one step of its card is no jump of the water. */
static void a_coarse_method_makes_no_step_of_one_of_its_steps(void **state)
{
    (void)state;
    static const struct row coarse_no3[] = {{27, 5, 0},  {24, 5, 0}, {21, 5, 0}, {17, 5, 0}, {14, 5, 0},
                                            {10, 10, 0}, {7, 10, 0}, {4, 10, 0}, {1, 10, 0}};
    struct method methods[] = {{.name = "comparator", .analyte = ANALYTE_NO3, .step = 5, .note = ""}};
    struct facility f = facility_of(1);
    put_tests(&f, 0, ANALYTE_NO3, "comparator", coarse_no3, COUNT_OF(coarse_no3));
    put_tests(&f, 0, ANALYTE_PO4, "photometer", flat_po4, COUNT_OF(flat_po4));
    f.methods = methods;
    struct trend_report unknown = report_of(&f);
    f.n_methods = 1;
    struct trend_report known = report_of(&f);
    methods[0].step = 0.1; /* finer than its scatter: nothing to mind */
    struct trend_report fine = report_of(&f);
    const struct state *none = &unknown.systems[0].analytes[ANALYTE_NO3].state;
    const struct state *coarse = &known.systems[0].analytes[ANALYTE_NO3].state;
    assert_int_equal(none->verdict, STATE_STEP_UP);
    assert_true(coarse->verdict != STATE_STEP_UP && coarse->has_slope);
    assert_int_equal(fine.systems[0].analytes[ANALYTE_NO3].state.verdict, STATE_STEP_UP);
    trend_report_free(&unknown);
    trend_report_free(&known);
    trend_report_free(&fine);
    facility_free(&f);
}

static void weeks_without_a_test_are_named_and_the_due_day_told(void **state)
{
    (void)state;
    struct facility f = facility_of(1);
    put_tests(&f, 0, ANALYTE_NO3, "photometer", old_no3, COUNT_OF(old_no3));
    put_tests(&f, 0, ANALYTE_PO4, "photometer", flat_po4, 1);
    struct trend_report r = report_of(&f);
    const struct trend_system *s = &r.systems[0];
    assert_int_equal(s->attention, ATTENTION_UNTESTED);
    assert_int_equal(s->n_weeks, 4);
    assert_int_equal(s->n_missed, 3);
    assert_int_equal(s->missed[0], FRIDAY - 20);
    assert_int_equal(s->missed[2], FRIDAY - 6);
    assert_int_equal(s->last_test_day, FRIDAY - 28); /* phosphate's, the older */
    assert_int_equal(s->due_day, FRIDAY - 21);
    assert_number(s->advice.factor, 0.75, 0);
    trend_report_free(&r);
    facility_free(&f);
}

/* The last week is today and the six days before, and so is each before it. */
static void a_test_on_the_first_or_last_day_of_a_week_is_of_that_week(void **state)
{
    (void)state;
    static const struct row edges[][4] = {{{27, 6, 0}, {20, 6, 0}, {13, 6, 0}, {6, 6, 0}},
                                          {{21, 6, 0}, {14, 6, 0}, {7, 6, 0}, {0, 6, 0}}};
    for (size_t i = 0; i < COUNT_OF(edges); i++) {
        struct facility f = facility_of(1);
        put_tests(&f, 0, ANALYTE_NO3, "photometer", edges[i], COUNT_OF(edges[i]));
        put_tests(&f, 0, ANALYTE_PO4, "photometer", edges[i], COUNT_OF(edges[i]));
        struct trend_report r = report_of(&f);
        assert_int_equal(r.week_from, FRIDAY - 6);
        assert_int_equal(r.systems[0].n_missed, 0);
        assert_int_equal(r.systems[0].analytes[ANALYTE_NO3].n_week, 1);
        trend_report_free(&r);
        facility_free(&f);
    }
}

static void a_system_never_tested_is_no_error(void **state)
{
    (void)state;
    struct facility f = facility_of(1);
    struct trend_report r = report_of(&f);
    const struct trend_system *s = &r.systems[0];
    assert_int_equal(s->n_analytes, 2);
    assert_int_equal(s->last_test_day, DAY_NONE);
    assert_int_equal(s->due_day, DAY_NONE);
    assert_int_equal(s->n_missed, 4);
    assert_false(s->analytes[0].state.has_last);
    trend_report_free(&r);
    facility_free(&f);
}

static void few_tests_are_said_to_be_few(void **state)
{
    (void)state;
    struct facility f = facility_of(1);
    put_tests(&f, 0, ANALYTE_NO3, "photometer", flat_no3 + 3, 3);
    put_tests(&f, 0, ANALYTE_PO4, "photometer", flat_po4 + 3, 3);
    struct trend_report r = report_of(&f);
    assert_int_equal(r.systems[0].attention, ATTENTION_FEW);
    assert_int_equal(r.systems[0].analytes[0].state.verdict, STATE_TOO_FEW);
    assert_false(r.systems[0].analytes[0].steady);
    assert_false(r.systems[0].analytes[0].has_forecast);
    trend_report_free(&r);
    facility_free(&f);
}

static void a_change_of_method_is_named_with_both(void **state)
{
    (void)state;
    struct facility f = facility_of(1);
    put_tests(&f, 0, ANALYTE_NO3, "colour card", flat_no3 + 1, 2);
    put_tests(&f, 0, ANALYTE_NO3, "photometer", flat_no3 + 3, 3);
    struct trend_report r = report_of(&f);
    const struct trend_analyte *no3 = &r.systems[0].analytes[ANALYTE_NO3];
    assert_true(no3->state.method_changed);
    assert_string_equal(no3->method_before, "colour card");
    assert_string_equal(no3->method, "photometer");
    trend_report_free(&r);
    facility_free(&f);
}

static void other_analytes_come_only_where_they_were_tested(void **state)
{
    (void)state;
    static const struct row alk[] = {{20, 8, 0}, {13, 8.1, 0}, {6, 6.5, 0}};
    struct facility f = facility_of(2);
    put_tests(&f, 0, ANALYTE_ALK, "titration", alk, COUNT_OF(alk));
    struct trend_report r = report_of(&f);
    assert_int_equal(r.systems[0].system, 0); /* alkalinity below its band asks for attention */
    assert_int_equal(r.systems[0].attention, ATTENTION_OUTSIDE);
    assert_int_equal(r.systems[0].n_analytes, 3);
    assert_int_equal(r.systems[0].analytes[2].analyte, ANALYTE_ALK);
    assert_int_equal(r.systems[1].n_analytes, 2);
    trend_report_free(&r);
    facility_free(&f);
}

static void what_was_tested_later_is_not_looked_at(void **state)
{
    (void)state;
    struct facility f = facility_of(1);
    put_tests(&f, 0, ANALYTE_NO3, "photometer", high_no3, COUNT_OF(high_no3));
    struct trend_report r = report_at(&f, (FRIDAY - 10) * MIN_PER_DAY);
    const struct trend_analyte *no3 = &r.systems[0].analytes[ANALYTE_NO3];
    assert_int_equal(no3->n_points, 3);
    assert_number(no3->state.last.value, 21, 0);
    assert_int_equal(r.systems[0].last_test_day, DAY_NONE); /* phosphate was never tested */
    trend_report_free(&r);
    facility_free(&f);
}

static void what_was_fed_is_summed_by_week_and_by_window(void **state)
{
    (void)state;
    struct facility f = facility_of(1);
    /* Worked by hand: 40 mg/g nitrate, 20 mg/g N, 2 mg/g P, into 1000 L. */
    f.foods[0].no3_effect_mg_per_unit = 40;
    f.foods[0].po4_effect_mg_per_unit = 0.5;
    f.feds[f.n_feds++] = (struct fed){.system = 0, .food = 0, .day = FRIDAY - 40, .target_units = 99};
    f.feds[f.n_feds++] = (struct fed){.system = 0, .food = 0, .day = FRIDAY - 10, .target_units = 30, .fish_units = 5};
    f.feds[f.n_feds++] = (struct fed){.system = 0, .food = 0, .day = FRIDAY - 6, .target_units = 10};
    f.feds[f.n_feds++] = (struct fed){.system = 0, .food = 0, .day = FRIDAY, .broadcast_units = 5};
    struct trend_report r = report_of(&f);
    const struct trend_system *s = &r.systems[0];
    assert_int_equal(s->n_week_fed, 2);
    assert_int_equal(s->n_window_fed, 3);
    assert_int_equal(s->n_foods, 1);
    assert_int_equal(s->most[ANALYTE_NO3], 0);
    assert_number(s->foods[0].week_units, 15, 1e-12);
    assert_number(s->foods[0].window_units, 50, 1e-12);
    assert_number(s->foods[0].week_n_mg, 300, 1e-9);
    assert_number(s->foods[0].week_p_mg, 30, 1e-9);
    assert_number(s->foods[0].week_mg_l[ANALYTE_NO3], 0.6, 1e-9);
    assert_number(s->foods[0].window_mg_l[ANALYTE_PO4], 0.025, 1e-9);
    trend_report_free(&r);
    facility_free(&f);
}

/* Of a window of a week two of the three feedings of four weeks are left, and of the tests two. */
static void a_window_that_is_asked_for_goes_before_that_of_the_house(void **state)
{
    (void)state;
    struct facility f = facility_of(1);
    struct err e = {0};
    put_tests(&f, 0, ANALYTE_NO3, "photometer", flat_no3, COUNT_OF(flat_no3));
    for (int back = 20; back >= 0; back -= 7)
        f.feds[f.n_feds++] = (struct fed){.system = 0, .food = 0, .day = FRIDAY - back, .target_units = 10};
    struct trend_request request = {.now_min = FRIDAY * MIN_PER_DAY + 12 * 60, .system = REF_NONE};
    struct trend_report usual, week;
    assert_true(plan_report(&f, &request, &usual, &e));
    request.window_d = 7;
    assert_true(plan_report(&f, &request, &week, &e));
    assert_number(usual.window_d, 28, 0);
    assert_number(usual.systems[0].foods[0].window_units, 30, 1e-12);
    assert_number(week.window_d, 7, 0);
    assert_number(week.systems[0].foods[0].window_units, 10, 1e-12);
    assert_int_equal(usual.systems[0].analytes[ANALYTE_NO3].n_points, 5);
    assert_int_equal(week.systems[0].analytes[ANALYTE_NO3].n_points, 2);
    trend_report_free(&usual);
    trend_report_free(&week);
    facility_free(&f);
}

static void a_young_log_is_spread_over_the_days_it_covers(void **state)
{
    (void)state;
    static const struct {
        int first_before, logged_d;
    } rows[] = {{60, 28}, {27, 28}, {13, 14}, {2, 7}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct facility f = facility_of(1);
        f.feds[f.n_feds++] =
            (struct fed){.system = 0, .food = 0, .day = FRIDAY - rows[i].first_before, .target_units = 1};
        f.feds[f.n_feds++] = (struct fed){.system = 0, .food = 0, .day = FRIDAY, .target_units = 1};
        struct trend_report r = report_of(&f);
        assert_number(r.systems[0].logged_d, rows[i].logged_d, 0);
        trend_report_free(&r);
        facility_free(&f);
    }
}

/* ---- ahead ------------------------------------------------------------------------------------------------------- */

static struct ahead_request asked(void)
{
    return (struct ahead_request){.now_min = FRIDAY * MIN_PER_DAY + 12 * 60,
                                  .system = REF_NONE,
                                  .weeks = 4,
                                  .runs = 500,
                                  .seed = 3,
                                  .policy = {NULL, 1, (double)NAN}};
}

static struct ahead ahead_of(const struct facility *f, const struct ahead_request *request)
{
    struct ahead a;
    struct err e = {0};
    if (!plan_ahead(f, request, &a, &e))
        fail_msg("%s", e.text);
    return a;
}

static struct facility fed_and_rising(void)
{
    struct facility f = facility_of(1);
    put_tests(&f, 0, ANALYTE_NO3, "photometer", soon_no3, COUNT_OF(soon_no3));
    f.foods[0].no3_effect_mg_per_unit = 40;
    for (int day = FRIDAY - 27; day <= FRIDAY; day += 3)
        f.feds[f.n_feds++] = (struct fed){.system = 0, .food = 0, .day = day, .target_units = 14};
    return f;
}

static void the_same_seed_gives_the_same_weeks(void **state)
{
    (void)state;
    struct facility f = fed_and_rising();
    struct ahead_request request = asked();
    struct ahead a = ahead_of(&f, &request), b = ahead_of(&f, &request);
    request.seed = 4;
    struct ahead c = ahead_of(&f, &request);
    const struct forecast *x = &a.systems[0].analytes[0].as_now, *y = &b.systems[0].analytes[0].as_now;
    assert_int_equal(x->n_days, 29);
    for (size_t i = 0; i < x->n_days; i++)
        assert_number(x->days[i].p50, y->days[i].p50, 0);
    assert_true(x->days[28].p95 != c.systems[0].analytes[0].as_now.days[28].p95);
    ahead_free(&a);
    ahead_free(&b);
    ahead_free(&c);
    facility_free(&f);
}

static void leaving_a_food_out_lowers_the_level_by_what_it_brings(void **state)
{
    (void)state;
    struct facility f = fed_and_rising();
    struct ahead_request request = asked();
    const bool skip[SIM_FOODS] = {true};
    request.policy.skip = skip;
    struct ahead a = ahead_of(&f, &request);
    const struct ahead_analyte *no3 = &a.systems[0].analytes[ANALYTE_NO3];
    assert_true(a.policy_given);
    /*
     * By hand: ten times 14 g in 28 days, 40 mg/g into 1000 L: 0.2 mg/L a day, 5.6 in four weeks, of which 1.9 are left
     * where a tenth of the level is taken up a day: 5.6 (1 - exp(-2.8)) / 2.8. The tests of four weeks leave that open.
     */
    double less = no3->as_now.days[28].p50 - no3->what_if.days[28].p50;
    assert_true(less > 1.9 && less < 5.7);
    assert_true(no3->if_crosses.likely_day == DAY_NONE);
    assert_true(no3->now_crosses.likely_day != DAY_NONE);
    ahead_free(&a);
    facility_free(&f);
}

static void half_the_food_does_half_of_leaving_it_out(void **state)
{
    (void)state;
    struct facility f = fed_and_rising();
    struct ahead_request request = asked();
    request.policy.strength_frac = 0.5;
    struct ahead a = ahead_of(&f, &request);
    const struct ahead_analyte *no3 = &a.systems[0].analytes[ANALYTE_NO3];
    double half = no3->as_now.days[28].p50 - no3->what_if.days[28].p50;
    const bool skip[SIM_FOODS] = {true};
    request.policy.skip = skip;
    struct ahead b = ahead_of(&f, &request);
    no3 = &b.systems[0].analytes[ANALYTE_NO3];
    assert_number(half / (no3->as_now.days[28].p50 - no3->what_if.days[28].p50), 0.5, 0.08);
    ahead_free(&b);
    ahead_free(&a);
    facility_free(&f);
}

/* Changes of 100 L of 1000 L, and what they are a week: seen over four weeks, the days counted back from the last. */
static void changes_of_water_are_a_rhythm_as_long_as_it_goes_on(void **state)
{
    (void)state;
    static const struct {
        int n, ago_d[3];
        double litres_per_week;
    } rows[] = {
        {1, {3}, 100 / 4.0},              /* one is no rhythm */
        {2, {10, 3}, 100 / 7.0 * 7},      /* 100 L in the week between them */
        {2, {20, 12}, 100 / 8.0 * 7},     /* eight days between them, and twelve since: it may go on */
        {2, {21, 13}, 200 / 4.0},         /* thirteen: it does not */
        {3, {20, 16, 6}, 200 / 14.0 * 7}, /* every seven days, as a mean */
        {3, {25, 21, 11}, 300 / 4.0},     /* eleven days since the last, and 1.5 times seven is 10.5 */
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct water waters[3];
        struct system system = {.name = "north", .volume_l = 1000};
        const struct facility f = {.systems = &system, .n_systems = 1, .waters = waters, .n_waters = (size_t)rows[i].n};
        const struct day_span span = {FRIDAY - 27, FRIDAY};
        for (int k = 0; k < rows[i].n; k++)
            waters[k] = (struct water){.exchanged = (long)(FRIDAY - rows[i].ago_d[k]) * MIN_PER_DAY, .volume_l = 100};
        assert_number(change_habit(&f, &span, 0, ANALYTE_NO3).frac_per_week, rows[i].litres_per_week / 1000, 1e-12);
    }
}

static void water_is_changed_as_before_unless_the_policy_says_how(void **state)
{
    (void)state;
    struct facility f = fed_and_rising();
    f.waters[f.n_waters++] =
        (struct water){.system = 0, .exchanged = (FRIDAY - 2) * MIN_PER_DAY, .repeat = 1, .volume_l = 200, .note = ""};
    struct ahead_request request = asked();
    struct ahead usual = ahead_of(&f, &request);
    request.policy.change_frac_per_week = 0.05; /* 200 L of 1000 L in four weeks: just the habit */
    struct ahead same = ahead_of(&f, &request);
    request.policy.change_frac_per_week = 0.3;
    struct ahead more = ahead_of(&f, &request);
    assert_false(usual.policy_given);
    assert_true(same.policy_given);
    assert_number(usual.systems[0].habit_frac_per_week, 0.05, 1e-12);
    assert_number(same.systems[0].analytes[0].what_if.days[28].p50, same.systems[0].analytes[0].as_now.days[28].p50,
                  1e-9);
    assert_true(more.systems[0].analytes[0].what_if.days[28].p50 < more.systems[0].analytes[0].as_now.days[28].p50 - 3);
    ahead_free(&usual);
    ahead_free(&same);
    ahead_free(&more);
    facility_free(&f);
}

static void without_a_slope_there_is_no_forecast(void **state)
{
    (void)state;
    struct facility f = facility_of(1);
    put_tests(&f, 0, ANALYTE_NO3, "photometer", old_no3, COUNT_OF(old_no3));
    const struct ahead_request request = asked();
    struct ahead a = ahead_of(&f, &request);
    assert_false(a.systems[0].analytes[ANALYTE_NO3].known);
    assert_false(a.systems[0].analytes[ANALYTE_PO4].known);
    ahead_free(&a);
    facility_free(&f);
}

/* A last test of yesterday is too old where the house says so; and where no water is known nothing is reckoned. */
static void stale_tests_and_water_of_no_volume_have_no_forecast(void **state)
{
    (void)state;
    const struct ahead_request request = asked();
    for (int i = 0; i < 3; i++) {
        struct facility f = fed_and_rising();
        f.settings.stale_d = i == 1 ? 1 : 14;
        f.systems[0].volume_l = i == 2 ? 0 : 1000;
        struct ahead a = ahead_of(&f, &request);
        struct trend_report r = report_of(&f);
        assert_int_equal(a.systems[0].analytes[ANALYTE_NO3].known, i == 0);
        assert_int_equal(r.systems[0].analytes[ANALYTE_NO3].n_line > 0, i == 0);
        assert_int_equal(r.systems[0].n_foods, i == 2 ? 0 : 1);
        ahead_free(&a);
        trend_report_free(&r);
        facility_free(&f);
    }
}

/* 200 L of 1000 L three weeks ago are a twentieth a week of four weeks, and of a week nothing. */
static void the_weeks_ahead_go_by_the_window_that_is_asked_for(void **state)
{
    (void)state;
    struct facility f = fed_and_rising();
    struct ahead_request request = asked();
    f.waters[f.n_waters++] =
        (struct water){.system = 0, .exchanged = (FRIDAY - 20) * MIN_PER_DAY, .repeat = 1, .volume_l = 200, .note = ""};
    struct ahead usual = ahead_of(&f, &request);
    request.window_d = 7;
    struct ahead week = ahead_of(&f, &request);
    assert_number(usual.systems[0].habit_frac_per_week, 0.05, 1e-12);
    assert_number(week.systems[0].habit_frac_per_week, 0, 0);
    ahead_free(&usual);
    ahead_free(&week);
    facility_free(&f);
}

/* ---- a log with a known truth ----------------------------------------------------------------------------------- */

/* Nitrate is driven up by one food: the report must name it, by the log, and leaving it out must help. */
static void the_food_that_did_it_is_named_by_the_log(void **state)
{
    (void)state;
    const struct sim s = {
        .n_systems = 2,
        .days = 168,
        .last_day = FRIDAY,
        .volume_l = 1000,
        .change_frac = 0.1,
        .no3_start = {12, 9},
        .po4_start = {0.1, 0.08},
        .no3_drift_per_d = {-0.9, -0.8},
        .po4_drift_per_d = {-0.01, -0.006},
        .no3_effect = {100, 40, 0},
        .po4_effect = {1.0, 0.6, 0},
        .no3_declared = {60, 40, 20},
        .po4_declared = {0.5, 0.6, 0.2},
        .amount_g = {25, 15, 0},
        .noise = 0.3,
        .seed = 7,
    };
    struct facility f = sim_facility(&s);
    struct trend_report r = report_of(&f);
    const struct trend_system *first = &r.systems[0];
    assert_string_equal(f.foods[first->foods[first->most[ANALYTE_NO3]].food].name, "powder");
    assert_true(r.effects.foods[ANALYTE_NO3][0].learned);
    const bool skip[SIM_FOODS] = {true};
    struct ahead_request request = asked();
    request.policy.skip = skip;
    struct ahead a = ahead_of(&f, &request);
    assert_true(a.systems[0].analytes[0].what_if.slope_policy_per_d <
                a.systems[0].analytes[0].as_now.slope_policy_per_d - 0.5);
    ahead_free(&a);
    trend_report_free(&r);
    facility_free(&f);
}

SUITE(plan_report)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_flat_series_within_the_band_is_steady_and_asks_for_nothing),
        cmocka_unit_test(phosphate_gone_with_nitrate_there_comes_first),
        cmocka_unit_test(poor_water_and_old_tests_are_not_called_starved),
        cmocka_unit_test(a_rising_level_below_the_edge_is_told_when_it_crosses),
        cmocka_unit_test(the_water_change_to_the_upper_edge_is_worked_out),
        cmocka_unit_test(no_change_is_told_where_the_new_water_is_above_the_edge_itself),
        cmocka_unit_test(a_coarse_method_makes_no_step_of_one_of_its_steps),
        cmocka_unit_test(weeks_without_a_test_are_named_and_the_due_day_told),
        cmocka_unit_test(a_test_on_the_first_or_last_day_of_a_week_is_of_that_week),
        cmocka_unit_test(a_system_never_tested_is_no_error),
        cmocka_unit_test(few_tests_are_said_to_be_few),
        cmocka_unit_test(a_change_of_method_is_named_with_both),
        cmocka_unit_test(other_analytes_come_only_where_they_were_tested),
        cmocka_unit_test(what_was_tested_later_is_not_looked_at),
        cmocka_unit_test(what_was_fed_is_summed_by_week_and_by_window),
        cmocka_unit_test(a_window_that_is_asked_for_goes_before_that_of_the_house),
        cmocka_unit_test(a_young_log_is_spread_over_the_days_it_covers),
        cmocka_unit_test(the_same_seed_gives_the_same_weeks),
        cmocka_unit_test(leaving_a_food_out_lowers_the_level_by_what_it_brings),
        cmocka_unit_test(half_the_food_does_half_of_leaving_it_out),
        cmocka_unit_test(changes_of_water_are_a_rhythm_as_long_as_it_goes_on),
        cmocka_unit_test(water_is_changed_as_before_unless_the_policy_says_how),
        cmocka_unit_test(without_a_slope_there_is_no_forecast),
        cmocka_unit_test(stale_tests_and_water_of_no_volume_have_no_forecast),
        cmocka_unit_test(the_weeks_ahead_go_by_the_window_that_is_asked_for),
        cmocka_unit_test(the_food_that_did_it_is_named_by_the_log),
        cmocka_unit_test(a_chart_has_the_line_with_the_interval_of_today_and_what_was_done),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
