/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Robust lines and their confidence, by published series. */
#include "handbook_table.h"
#include "trend/rank.h"

static size_t exact_points(const double *t, const double *y, size_t n, struct point *out)
{
    for (size_t i = 0; i < n; i++)
        out[i] = (struct point){t ? t[i] : (double)i, y[i], y[i]};
    return n;
}

static struct kendall kendall_of(const struct point *p, size_t n)
{
    struct kendall k;
    struct err e;
    if (!kendall_test(p, n, &k, &e))
        fail_msg("%s", e.text);
    return k;
}

static struct slope slope_of(const struct point *p, size_t n, double confidence_frac)
{
    struct slope s;
    struct err e;
    if (!slope_fit(p, n, confidence_frac, &s, &e))
        fail_msg("%s", e.text);
    return s;
}

/* EPA QA/G-9S (2006), Mann–Kendall example, second-hand. */
static void a_series_with_ties_matches_the_epa_example(void **state)
{
    (void)state;
    static const double y[] = {10, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15};
    struct point p[COUNT_OF(y)];
    struct kendall k = kendall_of(p, exact_points(NULL, y, COUNT_OF(y), p));
    assert_int_equal(k.s, 22);
    assert_number(k.var_s, 155.33, 0.005);
    assert_number(k.z, 1.685, 0.0005);
    assert_false(k.exact);
}

/* Kendall and Gibbons, Rank Correlation Methods, example 4.3: ties in both. */
static void ties_in_time_and_value_match_kendalls_example(void **state)
{
    (void)state;
    static const double t[] = {1.5, 1.5, 3, 4, 6, 6, 6, 8, 9.5, 9.5, 11, 12};
    static const double y[] = {2.5, 2.5, 7, 4.5, 1, 4.5, 6, 11.5, 11.5, 8.5, 8.5, 10};
    struct point p[COUNT_OF(y)];
    struct kendall k = kendall_of(p, exact_points(t, y, COUNT_OF(y), p));
    assert_int_equal(k.s, 34);
    assert_number(k.var_s, 203.30, 0.005);
}

/* USEPA 2009, Example 17-6; further digits as the R package EnvStats prints them. */
static void sulfate_matches_the_epa_example(void **state)
{
    (void)state;
    static struct handbook h;
    static struct point p[HANDBOOK_ROWS];
    handbook_read("tests/handbook/trend-sulfate.csv", &h);
    assert_int_equal(h.rows, 23);
    for (size_t i = 0; i < h.rows; i++)
        p[i] = (struct point){h.cell[i][0], h.cell[i][1], h.cell[i][1]};
    struct kendall k = kendall_of(p, h.rows);
    assert_int_equal(k.s, 194);
    assert_number(k.var_s, 1428, 1e-9);
    assert_number(k.z, 5.107322, 5e-7);
    assert_number(k.p, 3.267574e-07, 5e-14);
    assert_number((double)k.s / 253, 0.7667984, 5e-8); /* its tau is S / N, not corrected for ties */
    struct slope s = slope_of(p, h.rows, 0.95);
    assert_int_equal(s.n_pairs, 253);
    assert_number(s.slope, 26.6666667, 5e-8);
    assert_number(s.lo, 20.00000, 5e-6);
    assert_number(s.hi, 35.71182, 5e-6);
    assert_number(s.intercept_medians, -1909.3333333, 5e-8);
}

/* Sen 1968, the worked example; limits as recomputed by others, who found slips in the printed ones. */
static void sens_own_example_is_met(void **state)
{
    (void)state;
    static const double t[] = {1, 2, 3, 4, 10, 12, 18}, y[] = {9, 15, 19, 20, 45, 55, 78};
    struct point p[COUNT_OF(y)];
    double low = NAN, high = NAN;
    size_t n = exact_points(t, y, COUNT_OF(y), p);
    struct slope s = slope_of(p, n, 0.93);
    assert_number(s.slope, 4, 1e-12);
    assert_number(s.intercept_medians, 4, 1e-12);
    assert_number(s.intercept, 6, 1e-12);
    /* the normal approximation's ranks, 4.47 and 17.53, rounded outwards */
    assert_true(slope_at_rank(p, n, 4, &low, NULL) && slope_at_rank(p, n, 18, &high, NULL));
    assert_number(low, 26.0 / 7, 1e-12);
    assert_number(high, 35.0 / 8, 1e-12);
    /* the exact distribution: P(|S| ≥ 13) = 0.07 (Gilbert 1987, table A18, second-hand), so ranks 5 and 17 hold 93 % */
    assert_number(s.lo, 45.0 / 12, 0.002);
    assert_number(s.hi, 46.0 / 11, 0.003);
}

/* SciPy's test of theilslopes. */
static void three_readings_have_two_intercepts(void **state)
{
    (void)state;
    static const double y[] = {0, 1, 1};
    struct point p[3];
    struct slope s = slope_of(p, exact_points(NULL, y, 3, p), 0.95);
    assert_number(s.slope, 0.5, 1e-15);
    assert_number(s.intercept_medians, 0.5, 1e-15);
    assert_number(s.intercept, 0, 1e-15);
}

/* An even number, by hand: on the line y = t the medians are half way between the two in the middle, 3 and 3. */
static void the_medians_of_an_even_number_are_between_two(void **state)
{
    (void)state;
    static const double t[] = {0, 2, 4, 10}, y[] = {0, 2, 4, 10};
    struct point p[4];
    struct slope s = slope_of(p, exact_points(t, y, 4, p), 0.95);
    assert_number(s.slope, 1, 1e-15);
    assert_number(s.intercept_medians, 0, 1e-15);
}

/* R package trend, vignette section 2.1; it rounds the ranks of the limits, to the 395th and 596th of 990. */
static void river_sediment_matches_the_published_result(void **state)
{
    (void)state;
    static struct handbook h;
    static struct point p[HANDBOOK_ROWS];
    double low = NAN, high = NAN;
    handbook_read("tests/handbook/trend-sediment.csv", &h);
    for (size_t i = 0; i < h.rows; i++)
        p[i] = (struct point){h.cell[i][0], h.cell[i][1], h.cell[i][1]};
    assert_int_equal(h.rows, 45);
    struct kendall k = kendall_of(p, h.rows);
    assert_int_equal(k.s, -394);
    assert_number(k.z, -3.8445, 5e-5);
    assert_number(k.p, 0.0001208, 5e-8);
    assert_number(slope_of(p, h.rows, 0.95).slope, -0.2876139, 2e-7);
    assert_true(slope_at_rank(p, h.rows, 395, &low, NULL) && slope_at_rank(p, h.rows, 596, &high, NULL));
    assert_number(low, -0.4196477, 2e-7);
    assert_number(high, -0.1519026, 1e-6); /* the data are stored to 5 decimals */
}

/* pyMannKendall's test suite (Hussain and Mahmud 2019): gaps are left out, the rest keep their place in time. */
static void a_long_series_with_gaps_matches_the_published_result(void **state)
{
    (void)state;
    static struct handbook h;
    static struct point p[HANDBOOK_ROWS];
    size_t n = 0;
    handbook_read("tests/handbook/trend-arbitrary-360.csv", &h);
    assert_int_equal(h.rows, 360);
    for (size_t i = 0; i < h.rows; i++)
        if (!isnan(h.cell[i][1]))
            p[n++] = (struct point){h.cell[i][0] - 1, h.cell[i][1], h.cell[i][1]};
    struct kendall k = kendall_of(p, n);
    assert_int_equal(k.s, -1959);
    assert_number(k.var_s, 4889800.333333333, 1e-6);
    assert_number(k.z, -0.8854562842589916, 1e-14);
    assert_number(k.p, 0.37591058740506833, 1e-14);
    struct slope s = slope_of(p, n, 0.95);
    assert_number(s.slope, -0.006369426751592357, 1e-15);
    assert_number(s.intercept_medians, 96.15286624203821, 1e-11);
}

/* Kendall 1975, appendix table 1; Gilbert 1987, table A18; both second-hand. */
static void small_samples_have_exact_chances(void **state)
{
    (void)state;
    static const struct {
        size_t n;
        long s;
        double chance, printed_to;
    } rows[] = {
        {4, 0, 0.625, 5e-4},   {4, 2, 0.375, 5e-4},    {4, 4, 0.167, 5e-4},   {4, 6, 0.042, 5e-4},
        {5, 0, 0.592, 5e-4},   {5, 2, 0.408, 5e-4},    {5, 4, 0.242, 5e-4},   {5, 6, 0.117, 5e-4},
        {5, 8, 0.042, 5e-4},   {5, 10, 0.0083, 5e-5},  {6, 1, 0.500, 5e-4},   {6, 3, 0.360, 5e-4},
        {6, 5, 0.235, 5e-4},   {6, 7, 0.136, 5e-4},    {6, 9, 0.068, 5e-4},   {6, 11, 0.028, 5e-4},
        {6, 13, 0.0083, 5e-5}, {6, 15, 0.0014, 5e-5},  {7, 1, 0.500, 5e-4},   {7, 3, 0.386, 5e-4},
        {7, 5, 0.281, 5e-4},   {7, 7, 0.191, 5e-4},    {7, 9, 0.119, 5e-4},   {7, 11, 0.068, 5e-4},
        {7, 13, 0.035, 5e-4},  {7, 15, 0.015, 5e-4},   {8, 0, 0.548, 5e-4},   {8, 10, 0.138, 5e-4},
        {8, 12, 0.089, 5e-4},  {8, 14, 0.054, 5e-4},   {8, 16, 0.031, 5e-4},  {8, 18, 0.016, 5e-4},
        {10, 15, 0.108, 5e-4}, {10, 17, 0.078, 5e-4},  {10, 19, 0.054, 5e-4}, {10, 21, 0.036, 5e-4},
        {10, 23, 0.023, 5e-4}, {10, 27, 0.0083, 5e-5},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        assert_number(kendall_upper_tail(rows[i].n, rows[i].s), rows[i].chance, rows[i].printed_to * 1.001);
    static const double y[] = {1, 2, 3, 5, 4};
    struct point p[5];
    struct kendall k = kendall_of(p, exact_points(NULL, y, 5, p));
    assert_true(k.exact);
    assert_number(k.p, 2 * 0.042, 1e-3);
}

static void a_tied_series_has_zero_slope(void **state)
{
    (void)state;
    static const double y[] = {0.05, 0.05, 0.05, 0.05, 0.05};
    struct point p[5];
    size_t n = exact_points(NULL, y, 5, p);
    struct kendall k = kendall_of(p, n);
    struct slope s = slope_of(p, n, 0.9);
    assert_true(k.s == 0 && k.z == 0 && k.p == 1 && k.tau_b == 0);
    assert_true(s.slope == 0 && s.lo == 0 && s.hi == 0);
    assert_number(s.intercept, 0.05, 1e-15);
}

static void readings_of_one_moment_give_no_pair(void **state)
{
    (void)state;
    static const double t[] = {0, 0, 0, 7, 7, 14}, y[] = {1, 2, 3, 3, 3, 4};
    struct point p[6];
    struct err e;
    size_t n = exact_points(t, y, 6, p);
    assert_int_equal(slope_of(p, n, 0.9).n_pairs, 15 - 3 - 1);
    assert_int_equal(kendall_of(p, n).s, 4 + 5); /* 1 and 2 before both 3; all five before 4 */
    struct slope s;
    assert_false(slope_fit(p, 3, 0.9, &s, &e));
    assert_int_equal(e.code, ERR_INPUT);
}

/* Two readings below the limit tell nothing of each other; below 0.02 is surely less than 0.02. */
static void below_detection_is_tied_below_the_limit(void **state)
{
    (void)state;
    const struct point p[] = {{0, 0, 0.02}, {1, 0, 0.02}, {2, 0.02, 0.02}, {3, 0.03, 0.03}};
    struct kendall k = kendall_of(p, 4);
    assert_int_equal(k.s, 5); /* every pair but the first rises */
    const struct point mixed[] = {{0, 0, 0.05}, {1, 0.03, 0.03}};
    assert_int_equal(kendall_of(mixed, 2).s, 0);
    const struct point zero[] = {{0, 0, 0}, {1, 0, 0.02}};
    assert_int_equal(kendall_of(zero, 2).s, 0);
}

static void a_censored_slope_lies_between_what_its_ends_allow(void **state)
{
    (void)state;
    struct point p[] = {{0, 0, 0.02}, {1, 0.02, 0.02}, {2, 0.03, 0.03}, {3, 0.04, 0.04}, {4, 0.05, 0.05}};
    double as_zero, as_limit;
    struct slope censored = slope_of(p, 5, 0.9);
    p[0] = (struct point){0, 0, 0};
    as_zero = slope_of(p, 5, 0.9).slope;
    p[0] = (struct point){0, 0.02, 0.02};
    as_limit = slope_of(p, 5, 0.9).slope;
    assert_true(censored.slope >= as_limit && censored.slope <= as_zero);
    assert_number(censored.slope, 0.01, 1e-15);
}

static void what_is_no_point_is_refused_by_its_number(void **state)
{
    (void)state;
    const struct point odd[] = {{NAN, 1, 1}, {1, -INFINITY, 1}, {1, 1, INFINITY}, {1, 2, 1}};
    struct kendall k;
    struct slope line = {.slope = 7};
    struct err e;
    for (size_t i = 0; i < COUNT_OF(odd); i++) {
        const struct point points[] = {{0, 1, 1}, odd[i], {2, 3, 3}};
        assert_false(kendall_test(points, 3, &k, &e));
        assert_string_equal(e.text, "reading 2 is not a time with a value; expected finite numbers, low ≤ high");
        assert_false(slope_limits_rounded(points, 3, 0.9, 0.1, &line, &e));
        assert_int_equal(e.code, ERR_INPUT);
    }
    const struct point good[] = {{0, 1, 1}, {1, 2, 2}, {2, 3, 3}};
    double slope = 7;
    assert_false(slope_fit(good, 3, 0, &line, &e) || slope_fit(good, 3, 1, &line, &e));
    assert_string_equal(e.text, "confidence is 1; expected a fraction between 0 and 1");
    assert_false(slope_at_rank(good, 3, 0.5, &slope, &e) || slope_at_rank(good, 3, 4, &slope, &e));
    assert_string_equal(e.text, "rank is 4; expected 1 to 3");
    assert_true(slope == 7 && line.slope == 7);
}

/*
 * Of three readings S is 3 with probability 1/6 each way, so that the widest interval, from the least slope to the
 * greatest, holds at 2/3: asked for more, that is all there is; asked for next to nothing, the median alone.
 */
static void limits_end_at_the_least_and_the_greatest_slope(void **state)
{
    (void)state;
    const struct point points[] = {{0, 0, 0}, {1, 1, 1}, {2, 4, 4}}; /* slopes 1, 2, 3 */
    struct slope line;
    struct err e;
    assert_true(slope_fit(points, 3, 0.9, &line, &e));
    assert_number(line.lo, 1, 1e-12);
    assert_number(line.hi, 3, 1e-12);
    assert_true(slope_fit(points, 3, 1e-9, &line, &e));
    assert_number(line.lo, 2, 1e-6);
    assert_number(line.hi, 2, 1e-6);
}

static void a_slope_is_refused_when_most_are_below_detection(void **state)
{
    (void)state;
    const struct point p[] = {{0, 0, 0.02}, {1, 0, 0.02}, {2, 0, 0.02}, {3, 0.03, 0.03}, {4, 0.04, 0.04}};
    struct slope s;
    struct err e;
    assert_false(slope_fit(p, 5, 0.9, &s, &e));
    assert_non_null(strstr(e.text, "3 of 5 readings are below detection"));
    assert_true(slope_fit(p + 1, 4, 0.9, &s, &e));
}

static void one_wild_reading_does_not_move_the_slope(void **state)
{
    (void)state;
    static const double y[] = {1, 2, 3, 4, 900, 6, 7, 8, 9};
    struct point p[9];
    assert_number(slope_of(p, exact_points(NULL, y, 9, p), 0.9).slope, 1, 0.01);
}

/* What is listed for few readings is counted for many: both must agree. A line with a known scatter of ties. */
static void many_readings_give_the_slope_that_few_would(void **state)
{
    (void)state;
    enum { N = 2000 };
    static struct point p[N];
    for (size_t i = 0; i < N; i++) {
        double y = 5 + 0.25 * (double)i + (double)(i * 7919 % 13) - 6;
        p[i] = (struct point){(double)i, y, y};
    }
    struct slope all = slope_of(p, N, 0.9), part = slope_of(p, 1404, 0.9); /* 1,999,000 pairs, and 984,906 */
    assert_number(all.slope, 0.25, 1e-12);
    assert_number(part.slope, 0.25, 1e-12);
    assert_true(all.lo <= all.slope && all.slope <= all.hi && all.hi - all.lo < part.hi - part.lo + 1e-12);
    p[3].low -= 1;
    double censored = slope_of(p, N, 0.9).slope;
    assert_number(censored, 0.25, 1e-6);
    for (size_t i = 0; i < N; i++)
        p[i].low = p[i].high = 0.05;
    assert_true(slope_of(p, N, 0.9).slope == 0);
}

/*
 * Readings that a display of 0.01 shows as one: two that are d apart may differ by half a step more or less, a slope of
 * 0.005 / d. Limits: of the pairs' steepest fall to steepest rise, the one that z √Var(S) pairs are gentler than on its
 * side; (n − d)² / 2 pairs are farther apart than d. Few are listed, many are counted.
 */
static void a_display_that_stands_still_hides_as_much_of_many_readings_as_of_few(void **state)
{
    (void)state;
    enum { N = 2000 };
    static struct point p[N];
    for (size_t i = 0; i < N; i++)
        p[i] = (struct point){(double)i, 8, 8};
    for (size_t n = N / 2; n <= N; n += N / 2) {
        struct slope line = slope_of(p, n, 0.9);
        struct err e;
        double gentler = 1.6449 * sqrt((double)(n * (n - 1) * (2 * n + 5)) / 18), d = (double)n - sqrt(2 * gentler);
        assert_true(slope_limits_rounded(p, n, 0.9, 0.01, &line, &e));
        assert_number(line.hi, 0.005 / d, 0.002 * 0.005 / d);
        assert_number(line.lo, -0.005 / d, 0.002 * 0.005 / d);
    }
}

/*
 * Every slope listed here and sorted, beside those of a rank: with equal times, ties and readings below detection, and
 * without.
 */
static void a_rank_among_many_is_the_slope_that_a_list_has_there(void **state)
{
    (void)state;
    enum { N = TRIALS(1600) / TRIALS_TIMES }; /* the list is of all pairs */
    static struct point p[N];
    static double listed[(size_t)N * N];
    for (int way = 0; way < 4; way++) {
        bool rounded = way & 1, censored = way & 2;
        uint64_t z = (uint64_t)way;
        size_t n = 0;
        for (size_t i = 0; i < N; i++) {
            z = z * 6364136223846793005u + 1442695040888963407u; /* Knuth's MMIX */
            double y = 3 + 0.001 * (double)i + (double)(z >> 40) / (1 << 24);
            y = rounded ? round(y * 10) / 10 : y;
            p[i] = (struct point){(double)(rounded ? i / 2 : i), censored && i % 5 == 0 ? y - 0.5 : y, y};
        }
        for (size_t i = 0; i < N; i++)
            for (size_t j = i + 1; j < N; j++)
                if (p[j].t > p[i].t) {
                    listed[n++] = (p[j].low - p[i].high) / (p[j].t - p[i].t);
                    listed[n++] = (p[j].high - p[i].low) / (p[j].t - p[i].t);
                }
        qsort(listed, n, sizeof *listed, double_compare);
        for (size_t i = 0; i <= 40; i++) {
            size_t rank = 1 + (n / 2 - 1) * i / 40;
            struct err e;
            double v;
            assert_true(slope_at_rank(p, N, (double)rank, &v, &e));
            assert_number(v, (listed[2 * rank - 2] + listed[2 * rank - 1]) / 2, 1e-11);
        }
    }
}

/*
 * S by its definition: of each two readings, is one known to be greater? An exact reading is its value, another one
 * less than its end.
 */
static long long s_by_pairs(const struct point *p, size_t n)
{
    long long s = 0;
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++) {
            bool less = p[i].high < p[j].low || (p[i].high == p[j].low && p[i].low < p[i].high);
            if (less && p[i].t != p[j].t)
                s += p[i].t < p[j].t ? 1 : -1;
        }
    return s;
}

/*
 * Sorting goes by halves, by few, and from both ends: every length up to some that need all of it, with ties in time
 * and value.
 */
static void s_of_any_length_is_that_of_all_pairs(void **state)
{
    (void)state;
    enum { MOST = 70 };
    struct point p[MOST];
    uint64_t z = 1;
    for (size_t n = 2; n <= MOST; n++)
        for (int way = 0; way < 8; way++) {
            for (size_t i = 0; i < n; i++) {
                z = z * 6364136223846793005u + 1442695040888963407u; /* Knuth's MMIX */
                double y = (double)(z >> 40) / (1 << 24), t = (double)(way & 1 ? i / 3 : i);
                y = way & 2 ? round(y * 5) : y;
                p[i] = (struct point){t, way & 4 && i % 4 == 0 ? y - 1 : y, y};
            }
            assert_int_equal(kendall_of(p, n).s, s_by_pairs(p, n));
        }
}

static void faults_in_the_readings_are_named(void **state)
{
    (void)state;
    struct err e;
    struct kendall k;
    struct slope s;
    const struct point bad[] = {{0, 1, 1}, {1, NAN, 2}, {2, 3, 3}};
    assert_false(kendall_test(bad, 1, &k, &e));
    assert_int_equal(e.code, ERR_INPUT);
    assert_false(kendall_test(bad, 3, &k, &e));
    assert_non_null(strstr(e.text, "reading 2"));
    assert_false(slope_fit(bad, 3, 0.9, &s, &e));
    assert_false(slope_fit(bad, 3, 1.0, &s, &e));
    assert_non_null(strstr(e.text, "confidence"));
    const struct point good[] = {{0, 1, 1}, {1, 2, 2}};
    double v;
    assert_false(slope_at_rank(good, 2, 2, &v, &e));
    assert_true(slope_at_rank(good, 2, 1, &v, &e) && v == 1);
}

SUITE(trend_rank)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_series_with_ties_matches_the_epa_example),
        cmocka_unit_test(ties_in_time_and_value_match_kendalls_example),
        cmocka_unit_test(sulfate_matches_the_epa_example),
        cmocka_unit_test(sens_own_example_is_met),
        cmocka_unit_test(three_readings_have_two_intercepts),
        cmocka_unit_test(the_medians_of_an_even_number_are_between_two),
        cmocka_unit_test(river_sediment_matches_the_published_result),
        cmocka_unit_test(a_long_series_with_gaps_matches_the_published_result),
        cmocka_unit_test(small_samples_have_exact_chances),
        cmocka_unit_test(a_tied_series_has_zero_slope),
        cmocka_unit_test(readings_of_one_moment_give_no_pair),
        cmocka_unit_test(below_detection_is_tied_below_the_limit),
        cmocka_unit_test(a_censored_slope_lies_between_what_its_ends_allow),
        cmocka_unit_test(what_is_no_point_is_refused_by_its_number),
        cmocka_unit_test(limits_end_at_the_least_and_the_greatest_slope),
        cmocka_unit_test(a_slope_is_refused_when_most_are_below_detection),
        cmocka_unit_test(one_wild_reading_does_not_move_the_slope),
        cmocka_unit_test(many_readings_give_the_slope_that_few_would),
        cmocka_unit_test(a_display_that_stands_still_hides_as_much_of_many_readings_as_of_few),
        cmocka_unit_test(a_rank_among_many_is_the_slope_that_a_list_has_there),
        cmocka_unit_test(s_of_any_length_is_that_of_all_pairs),
        cmocka_unit_test(faults_in_the_readings_are_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
