/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * trend: robust statistics of water tests, the state of a system, headroom, learned food effects, forecast.
 *
 * Pure: arrays in, structs out. Times are moments (minutes since 1970-01-01T00:00 of the facility's calendar) or days;
 * a value is in the unit of its analyte, mg/L where a volume turns it into mass. Arrays passed in are borrowed for the
 * call; arrays handed out live in the caller's arena. Every formula, its source and its check: docs/trend.md.
 *
 * GSL's aborting error handler is global state, so it is switched off by the program's main, never here; this floor
 * checks sizes and ranges before it calls GSL, and looks at what it returns.
 */
#ifndef NEAP_TREND_H
#define NEAP_TREND_H

#include "neap/base.h"

/* ---- shapes shared by all -------------------------------------------------------------------------------------- */

/* One water test. below: the method saw nothing, and value is its detection limit (the truth lies in [0, value)). */
struct reading {
    long moment_min;
    double value; /* finite, ≥ 0 */
    bool below;
    int method; /* any number; another number is another scale (series_find) */
};

/* An exchanged volume: afterwards the level is level × (1 − exchanged_frac) + new_value × exchanged_frac. */
struct water_change {
    long moment_min;
    double exchanged_frac; /* of the system's volume, 0 to < 1 */
    double new_value;      /* the analyte in the new water, ≥ 0 */
};

/* What was given: amount in the food's own unit (g or mL), as logged, not as planned. */
struct food_given {
    long moment_min;
    size_t food;   /* index into the foods of the call */
    double amount; /* ≥ 0 */
};

/* The wanted levels of one analyte in one system. */
struct level_band {
    double low, high; /* low ≤ high */
};

/* ---- rank statistics ------------------------------------------------------------------------------------------- */

/* A value known exactly (low == high) or only to lie in [low, high), at time t (any unit; slopes are per that unit). */
struct point {
    double t, low, high;
};

/*
 * Mann–Kendall test of y against t. A pair of readings counts +1, −1, or 0 where it is tied in t or y or its order
 * is unknown. Reordering the input changes nothing.
 */
struct kendall {
    size_t n;
    long long s;  /* Mann–Kendall S */
    double var_s; /* under "no trend", ties in t and y and unknown orders accounted for (Daniels 1944) */
    double z;     /* continuity corrected; 0 for S = 0 */
    double p;     /* two-sided: exact for n ≤ 10 without ties, else normal */
    bool exact;
    double tau_b; /* Kendall 1945; 0 where all are tied */
};

/* Errors: ERR_INPUT (n < 2, a number that is not finite, low > high), ERR_MEMORY. O(n log n). */
bool kendall_test(const struct point *points, size_t n, struct kendall *out, struct err *e);

/* Exact P(S ≥ s) for n readings without ties; 2 ≤ n ≤ 10. */
double kendall_upper_tail(size_t n, long s);

/*
 * Theil–Sen line: the median of the slopes of all pairs, with confidence limits by ranks of the sorted slopes. A
 * censored pair has a slope known to lie between two ends and counts half at each, which solves S(slope) = 0 as the
 * Akritas–Theil–Sen estimator does (Akritas, Murphy, LaValley 1995), with concentrations held ≥ low.
 */
struct slope {
    size_t n_pairs;           /* pairs with different times */
    double slope, lo, hi;     /* per unit of t; lo, hi: two-sided limits at the confidence asked for */
    double intercept;         /* at t = 0: the median of y − slope t */
    double intercept_medians; /* at t = 0: median of y − slope × median of t (Conover 1999) */
};

/*
 * confidence_frac in (0, 1), such as 0.90. Ranks of the limits: from the exact distribution of S for n ≤ 10 without
 * ties, else (N ∓ z √Var S) / 2 (Gilbert 1987), read between neighbouring slopes. Past the ends: the end slope.
 * Errors: as kendall_test; ERR_INPUT too where fewer than two times differ or more than half are censored.
 * Up to 2^20 slopes are listed and sorted; more are found by counting, within 1e-12 of the answer or of range / time.
 */
bool slope_fit(const struct point *points, size_t n, double confidence_frac, struct slope *out, struct err *e);

/* The slope of a rank (1 = least, N = greatest, between them: interpolated) among all pairs. Errors as slope_fit. */
bool slope_at_rank(const struct point *points, size_t n, double rank, double *slope, struct err *e);

/* ---- steps ------------------------------------------------------------------------------------------------------ */

/*
 * Where one series is most likely two levels (Pettitt 1979): K is the greatest |Σ over the first part of (readings
 * below − readings above)|. p by 999 reorderings from a fixed seed for n ≤ 60, 2 exp(−6K²/(n³+n²)) beyond.
 */
struct step {
    bool found;           /* false: no split leaves min_side readings on both sides, or all is level; the rest unset */
    size_t first_after;   /* index in time order of the first reading of the second level */
    double before, after; /* medians of the two */
    double k, p;
    double misfit; /* Σ |reading − its level| */
};

/* worth: p is worked out where the misfit is below it, and stays 1 elsewhere; INFINITY: always. */
bool step_find(const struct point *points, size_t n, size_t min_side, double worth, struct step *out, struct err *e);

/* ---- the method in use ----------------------------------------------------------------------------------------- */

/*
 * Another method is another scale, so one method's readings make the series. A reading by another beside it, a
 * cross-check, breaks nothing. The method of the first reading is in use until SERIES_RUN readings in a row are by
 * another one, or none of its own is within SERIES_GAP_D days before a reading by another (ours). Where what it has in
 * the window is not enough for a trend (STATE_MIN_TESTS, STATE_MIN_SPAN_D) and what another has is, that one is taken
 * if it was read by since: two methods in turn give a trend too.
 */
enum { SERIES_RUN = 3, SERIES_GAP_D = 28 };

struct series {
    bool any;        /* is there a reading at all? all else is unset where not */
    int method;      /* in use at the end */
    int before;      /* in use before it; method where it always was */
    long since_min;  /* first reading of the run that brought it into use; MOMENT_NONE: from the first on */
    const bool *own; /* [n], parallel to the input: by the method in use at its own time; false beyond now_min */
};

struct series_in {
    const struct reading *readings; /* any order */
    size_t n;
    long now_min;    /* later ones do not count */
    double window_d; /* > 0 */
};

/* Errors: ERR_MEMORY. */
bool series_find(const struct series_in *in, struct arena *a, struct series *out, struct err *e);

/* ---- state of one analyte in one system ------------------------------------------------------------------------ */

enum state_verdict { STATE_TOO_FEW, STATE_STEADY, STATE_RISING, STATE_FALLING, STATE_STEP_UP, STATE_STEP_DOWN };
enum level_verdict { LEVEL_UNKNOWN, LEVEL_BELOW_DETECTION, LEVEL_BELOW_BAND, LEVEL_IN_BAND, LEVEL_ABOVE_BAND };

enum { STATE_MIN_TESTS = 4, STATE_MIN_SPAN_D = 14, OFFSET_MIN_PAIRS = 4, OFFSET_PAIR_D = 7, OFFSET_BACK_D = 182 };

struct state_in {
    const struct reading *readings; /* any order; those outside the window are ignored */
    size_t n_readings;
    const struct water_change *changes; /* any order */
    size_t n_changes;
    long now_min;
    double window_d;        /* usually 28 */
    double stale_d;         /* a last reading older than this is stale */
    double confidence_frac; /* usually 0.90 */
    double test_sd;         /* of one test, 0: unknown. Less than 3.5 of it is not outlying, less than 2 no step */
    double resolution;      /* readings are rounded to multiples of this; 0 where unknown or finer than the scatter */
    struct level_band band;
};

struct state {
    size_t n, n_below; /* readings in the window */
    bool has_last;     /* is there any reading up to now, in the window or before it? */
    struct reading last;
    double last_age_d;
    double limit; /* of the last reading in the window, or before it, that is below detection; 0: none is */
    bool stale;   /* no reading, or the last is too old */
    int method;   /* in use, where there is a reading in the window; only its readings are fitted, and those offset */
    bool method_changed; /* inside the window: another was in use before */
    int method_before;
    long break_min;   /* first reading of the run that brought it into use; MOMENT_NONE where there was no change */
    size_t n_other;   /* readings in the window by other methods */
    size_t n_offset;  /* of these, fitted too: between the method's own, less the difference between the two methods */
    double offset;    /* that difference, of the method with most pairs; 0: none */
    size_t n_pairs;   /* that it comes from */
    const bool *used; /* [n_readings], parallel to the input: fitted */
    size_t n_fitted;
    double span_d; /* of those fitted */

    bool has_level;
    double level;    /* today, after every water change up to now; ≥ 0 */
    double level_sd; /* of that level; 0 where unknown */
    enum level_verdict level_verdict;

    bool has_slope; /* false with STATE_TOO_FEW, a step, and where more than half are below detection */
    double slope_per_d, slope_lo, slope_hi; /* what food and biology do; water changes are put back */
    double p;                               /* Mann–Kendall, two-sided */
    enum state_verdict verdict;
    long step_min; /* first reading after a step, or MOMENT_NONE */

    double put_back; /* Σ of the drops that the window's water changes caused, put back before fitting */
    size_t n_outliers;
    const bool *outlier; /* [n_readings], parallel to the input: far off the line, flagged, not dropped */

    /* for a chart: the centre and spread of the fitted times */
    double centre_d, spread_d2; /* centre in days from now (≤ 0); Σ (t − centre)² */
};

/* Errors: ERR_INPUT, naming the reading or change that is wrong; ERR_MEMORY. A window without readings is no error. */
bool state_fit(const struct state_in *in, struct arena *a, struct state *out, struct err *e);

const char *state_verdict_name(enum state_verdict v); /* "rising"; static */
const char *level_verdict_name(enum level_verdict v); /* "below detection"; static */

/* ---- headroom -------------------------------------------------------------------------------------------------- */

struct headroom_in {
    double level, slope_per_d; /* slope 0 where none is known */
    double days;               /* to the horizon, the next expected test; > 0 */
    double volume_l;
    struct level_band band;
    double max_change_per_d; /* largest wanted change of the level per day; INFINITY: no such limit */
};

/* The working, for `why`: room_mg may be negative (the level must fall) or both may be positive (it must rise). */
struct headroom {
    struct headroom_in in;
    double projected;                     /* level + slope × days */
    double band_low_mg, band_high_mg;     /* (low − projected) × volume, (high − projected) × volume */
    double change_low_mg, change_high_mg; /* (∓ max change per day − slope) × days × volume */
    double low_mg, high_mg;               /* the band's room, held within the change's: the answer */
    bool low_held, high_held;             /* was that end held? */
};
bool headroom_find(const struct headroom_in *in, struct headroom *out, struct err *e);

/* ---- learned effects ------------------------------------------------------------------------------------------- */

/* What is believed of a food before the log speaks: mg of the analyte per g (or mL). */
struct effect_prior {
    double mean, sd; /* sd > 0 */
};

/* One water's log, up to now. */
struct learn_system {
    const struct reading *readings; /* any order, as changes and feedings */
    size_t n_readings;
    const struct water_change *changes;
    size_t n_changes;
    const struct food_given *feedings;
    size_t n_feedings;
    double volume_l;
    double test_sd; /* mg/L, of one reading, as believed; > 0 */
};

struct learn_in {
    const struct learn_system *systems; /* one or more */
    size_t n_systems;
    const struct effect_prior *priors; /* [n_foods] */
    size_t n_foods;
    struct effect_prior background; /* mg/L per day without any feeding, in all systems; a wide sd */
    double apart_sd; /* mg/L per day: how far a system's background lies apart; > 0 if there are several */
    /* What a water may do besides; each is left out where it is 0. */
    double uptake_mean_per_d;  /* it takes up a part of its level a day: an exponential prior's mean */
    bool drifts;               /* its background drifts slowly, and small things happen unlogged */
    double error_scale_log_sd; /* the tests may scatter by more or less than test_sd: sd of the logarithm */
    double confidence_frac;
    /* Draws of each water for a forecast; 0: none. */
    int n_draws;
    unsigned long seed;
    long now_min; /* the moment they are of, not before the last reading */
};

/*
 * One water as its tests leave it open: what its level is now and what moves it. Drawn from the posterior of
 * learn_effects.
 */
struct water_draw {
    double level;                       /* mg/L, now */
    double background_per_d;            /* mg/L a day, steady */
    double drift_per_d, drift_sd_per_d; /* what the source is off that now; and by how much it drifts */
    double uptake_per_d;                /* part of the level a day */
    double shock_sd;                    /* mg/L per √day, of what goes on unlogged */
    double test_sd;                     /* mg/L, of one reading */
    const double *effects;              /* [n_foods] mg per unit */
};

struct effect {
    double mean, sd, lo, hi; /* posterior; limits at the confidence asked for */
    double data_weight_frac; /* 1 − posterior variance / prior variance: 0 is all prior, 1 is all data */
    double moved_sd;         /* (mean − prior mean) / prior sd */
    bool fed;                /* was it given in any stretch? (the background always is) */
    bool claim; /* fed, the limits leave out zero, the data weigh half or more, no collinear group, no misfit */
};

#define LEARN_BACKGROUND                                                                                               \
    SIZE_MAX /* as the other of a collinear group: days themselves, for a food given alike every day */

/*
 * Two foods that the log cannot tell apart, and the two stretches between tests that would: first food alone at
 * amount_food a round, then other alone at amount_other, each with the load of both as far as believed, at most
 * doubled.
 * Against the background: a stretch without the food (amount_food 0), then one as usual; amount_other is 0.
 */
struct collinear {
    size_t food, other;
    double cosine;      /* of what both did to the tests: 1 is always in one proportion */
    double correlation; /* of the two effects as they stand now; towards −1: only their sum is known */
    double amount_food, amount_other;
    double sd_now, sd_after; /* of food's effect, now and after those two stretches */
};

struct learned {
    size_t n_stretches;              /* between tests, used */
    size_t n_skipped;                /* left out: a test below detection at an end, or a change of method */
    const struct effect *effects;    /* [n_foods] */
    struct effect background;        /* mg/L per day, what the systems share */
    const double *uptake_per_d;      /* [n_systems] part of the level; 0 where none is looked for */
    const struct water_draw **draws; /* [n_systems] of [n_draws] each; NULL: no usable stretch */
    double error_scale_ratio;        /* variance of a test, of what test_sd says; 1 where that is taken as given */
    bool error_scale_high;           /* by more than chance (p < 0.05) */
    double misfit_p;                 /* of what is left of the tests hanging together as it does, by chance */
    bool misfit;                     /* p < 0.01: the waters do what the model has no word for, so nothing is claimed */
    const struct collinear *collinears; /* worst first */
    size_t n_collinears;
};

/*
 * A water's level between its events:
 *   d level/dt = background + drift(t) - uptake x level + shocks,
 *                + effect x amount / volume at each feeding, x (1 - exchanged)
 * at each change; a test sees it with its error. Gaussian priors. For a given uptake, drift, shock and scatter the
 * posterior is exact; these four are tried on a grid for each water and weighed by their evidence. A feeding or a
 * change of a test's own minute comes after the test.
 * Errors: ERR_INPUT, naming what is wrong; ERR_MEMORY. Without a usable stretch all effects are their priors.
 */
bool learn_effects(const struct learn_in *in, struct arena *a, struct learned *out, struct err *e);

/* ---- forecast -------------------------------------------------------------------------------------------------- */

enum { FORECAST_WEEK_D = 7 };

/*
 * A food as the policy sees it: what is given where all goes on as now, by the days of the week ahead: [0] is the first
 * 24 hours.
 */
struct forecast_food {
    double amount[FORECAST_WEEK_D]; /* g or mL, ≥ 0 */
    double spread;                  /* sd of what is given on a day, where it is given at all; ≥ 0 */
    bool skip;                      /* the policy leaves it out */
};

enum { FORECAST_MAX_DAYS = 366, FORECAST_MIN_RUNS = 100, FORECAST_MAX_RUNS = 1000000 };

struct forecast_in {
    const struct water_draw *draws; /* a run each */
    int runs;                       /* FORECAST_MIN_RUNS to FORECAST_MAX_RUNS */
    const struct forecast_food *foods;
    size_t n_foods;
    double volume_l;
    struct level_band band;
    double fed_at_frac;   /* when in each 24 hours ahead, 0 to 1 */
    double strength_frac; /* multiplies every food that is not skipped; 1: as before */
    double change_frac;   /* of a water change, 0 to < 1; 0: none */
    int change_first_d;   /* at the end of this day ahead, 1 or more, */
    int change_every_d;   /* and every so many days after it, 1 or more */
    double new_value;     /* the analyte in the new water */
    int days;             /* 1 to FORECAST_MAX_DAYS */
    unsigned long seed;
};

/* Day 0 is now. Percentiles over the runs, of the level itself and of what a test would read. */
struct forecast_day {
    int day;
    double p05, p50, p95;
    double test_p05, test_p95;
    double above_frac, below_frac; /* runs above and below the band on that day */
};

struct forecast {
    const struct forecast_day *days; /* [n_days], day 0 first */
    size_t n_days;
    double slope_policy_per_d;          /* mean slope at first under the policy, before water changes */
    double leaves_frac;                 /* of all runs, those outside the band on any day */
    double leaves_high_frac;            /* of all runs, those that are first outside above it */
    int change_first_d, change_every_d; /* as asked: a level saws up and down between changes */
    int leaves_day;                     /* median first day outside, of the runs that leave; -1: none does */
};

/*
 * Each run is one draw of the water, by the equation that learn_effects fits, day by day:
 *   d level/dt = background + drift(t) - uptake x level + shocks,
 *                and at a feeding + Σ strength x amount x effect / volume
 * thinned by the water changes, never below 0. With the draws' effects come the background and the uptake that go with
 * them, so a policy is asked of the model that learned them. Same input and seed, same answer.
 * Errors: ERR_INPUT (a number out of range), ERR_MEMORY.
 */
bool forecast_run(const struct forecast_in *in, struct arena *a, struct forecast *out, struct err *e);

#endif
