/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * week: the plan beside the house blend, the weeks ahead, and the weekly report.
 */
#ifndef NEAP_WEEK_H
#define NEAP_WEEK_H

#include "neap/advice.h"
#include "neap/capacity.h"
#include "neap/learned.h"
#include "neap/plan.h"

/* ---- the plan beside the house blend (src/week/compare.c) */

/* What one way of feeding brings a system's water, by mean effects; the same fish food in both. */
struct compare_system {
    size_t system;
    double factor;                    /* its state allows, in house strengths */
    double pot_factor, before_factor; /* of its slurry in the plan, and in the round before; NAN: none */
    double plan_mg[N_NUTRIENTS], house_mg[N_NUTRIENTS];
    const char *why; /* the rule, and what holds it */
};

struct compare_food {
    size_t food;
    double plan_units, house_units, before_units; /* before NAN: there was no round before */
};

struct plan_comparison {
    struct arena arena;
    struct compare_system *systems; /* those that get anything by either way, by name */
    size_t n_systems;
    struct compare_food *foods;
    size_t n_foods;
    double plan_cents, house_cents;
};

/*
 * The recipe of a plan beside the house blend: the same slurry at strength 1, the house's shares of what those mouths
 * take and the stock has, and the house's broadcast, whatever state, ceiling or amount in stock. before: the last kept
 * round of an earlier day, or NULL. Caller frees with comparison_free. Errors: as plan_round.
 */
bool plan_compare(const struct facility *f, const struct plan_request *request, const struct round *before,
                  struct plan_comparison *out, struct err *e);
void comparison_free(struct plan_comparison *c);

/* ---- weeks ahead (src/week/ahead.c) */

/* How the weeks ahead differ from the window behind. Zero-initialise change_frac_per_week to NAN. */
struct feeding_policy {
    const bool *skip;            /* [n_foods]: left out; NULL: none */
    double strength_frac;        /* times what was fed on average; 1: as it was */
    double change_frac_per_week; /* of the volume; NAN: as often as in the window */
};

struct ahead_request {
    long now_min;
    double window_d; /* 0: the setting */
    size_t system;   /* REF_NONE: all that are in use */
    int weeks;       /* 1 to 52 */
    int runs;
    unsigned long seed;
    struct feeding_policy policy;
};

/* When a level is across the band's edges. Days; DAY_NONE: not within the days looked at. */
struct crossing {
    bool inside;                         /* in the band now: it leaves; else it comes back */
    bool high;                           /* by the upper edge */
    int early_day, likely_day, late_day; /* first day with 5, 50, 95 % of the runs on the other side */
};

struct ahead_analyte {
    enum analyte analyte;
    struct level_band band;
    struct state state;
    bool known;                      /* a slope is known; else neither forecast is */
    struct forecast as_now, what_if; /* what_if: as as_now where the policy changes nothing */
    struct crossing now_crosses, if_crosses;
};

struct ahead_system {
    size_t system;
    double habit_frac_per_week; /* water changed in the window */
    size_t n_days_fed;          /* in the window, by the log */
    struct ahead_analyte analytes[N_NUTRIENTS];
};

struct ahead {
    struct arena arena;
    int day;
    bool policy_given;            /* does it change anything at all? */
    struct ahead_request request; /* skip is borrowed from the caller */
    struct learned_effects effects;
    struct ahead_system *systems; /* by name */
    size_t n_systems;
};

/*
 * Forecasts nitrate and phosphate of each system, as now and under the policy, from one seed. Caller frees with
 * ahead_free. Errors: as forecast_run; ERR_MEMORY. Working: docs/trend.md, "Forecast".
 */
bool plan_ahead(const struct facility *f, const struct ahead_request *request, struct ahead *out, struct err *e);
void ahead_free(struct ahead *a);

/* ---- the weekly report (src/week/report.c) */

struct trend_request {
    long now_min;    /* nothing later is looked at; the week ends with its day */
    double window_d; /* 0: the setting */
    size_t system;   /* REF_NONE: all that are in use */
};

/* One test of the window, as a chart shows it. */
struct trend_point {
    double at_d;                /* from the report's moment, ≤ 0 */
    double value;               /* the detection limit where below */
    bool below, outlier, other; /* other: by another method than the one in use */
};

/* A level with its 90 % interval. */
struct trend_span {
    double at_d; /* from the report's moment */
    double level, low, high;
};

/* A day of feeding, or a water change. */
struct trend_event {
    double at_d;
    bool changed; /* water; else fed */
};

struct trend_analyte {
    enum analyte analyte;
    struct level_band band;
    struct state state;
    enum level_verdict
        level;        /* of nitrate and phosphate by the line and the latest readings together; else the state's */
    bool by_readings; /* it is the latest readings', and the line says something else */
    bool latest_in;   /* the level is the line's, and outside the band; the latest reading is in it */
    bool cannot_see;  /* the latest is below a limit that does not tell where in the band it is */
    double now;       /* the level that goes with it: the line today, or the latest reading; NAN: none */
    size_t n_week;    /* tests in the week */
    bool steady;      /* no trend, and none that could move it by half the band in four weeks */
    const struct trend_point *points; /* in the window, by time */
    size_t n_points;
    const char *method, *method_before; /* in use, and before it where it changed in the window; NULL: never tested */
    bool has_forecast;                  /* the crossing is known, by the forecast of going on as now */
    const struct forecast_day *ahead;   /* four weeks from now, day 0 first; has_forecast */
    size_t n_ahead;
    const struct trend_span *line; /* the robust line over the tests, water changes put back; has_forecast */
    size_t n_line;
    struct crossing crossing;
    double outside_frac;     /* chance to be outside the band four weeks from now; has_forecast */
    double edge_change_frac; /* of the water, to bring it down to the upper edge; 0: no need */
    int edge_change_d;       /* days to spread that over, by the largest wanted change a day */
};

/* Is its level known, fresh and outside the band? Below detection is, where the band has a low end to be under. */
bool trend_outside(const struct trend_analyte *n);

/* What one food brought to one system. */
struct trend_food {
    size_t food;
    double week_units, window_units;                         /* g or mL */
    double week_n_mg, week_p_mg;                             /* in it, by its composition */
    double week_mg_l[N_NUTRIENTS], window_mg_l[N_NUTRIENTS]; /* what that does to the level, as believed */
};

/* Why a system is looked at first. */
enum attention {
    ATTENTION_STARVED,  /* phosphate below detection with nitrate there */
    ATTENTION_OUTSIDE,  /* of the band of any analyte */
    ATTENTION_READING,  /* a fresh reading that the line does not show, not yet repeated */
    ATTENTION_UNTESTED, /* the last test is too old */
    ATTENTION_LEAVING,  /* the band within four weeks, by a trend that is shown */
    ATTENTION_FEW,      /* too few tests for a trend */
    ATTENTION_NONE
};

struct trend_system {
    size_t system;
    enum attention attention;
    struct system_state advice;     /* the planner's own */
    struct trend_analyte *analytes; /* nitrate, phosphate, then others that were tested in the window */
    size_t n_analytes;
    double np_ratio;            /* by moles; NAN where one of them is below detection or unknown */
    double habit_frac_per_week; /* water changed in the window */
    struct trend_food *foods;   /* given in the window, by name */
    size_t n_foods;
    size_t n_week_fed, n_window_fed;  /* days with a logged feeding */
    const struct trend_event *events; /* in the window: feedings by day, then water changes */
    size_t n_events;
    double logged_d;            /* days of the window that the log covers, at least 7 */
    size_t most[N_NUTRIENTS];   /* in foods: the one that raised it most in the window; REF_NONE: none did */
    int last_test_day, due_day; /* of the older of nitrate and phosphate; DAY_NONE: never tested */
    const int *missed;          /* first days of the window's weeks without a test of either */
    size_t n_missed, n_weeks;
    const struct capacity *overfull; /* NULL: not, or only for want of hands */
};

struct trend_report {
    struct arena arena;
    int week_from, day;
    double window_d;
    struct trend_system *systems; /* what needs attention first, then by name */
    size_t n_systems;
    struct learned_effects effects;
    const struct capacity *short_of_hands; /* the water hit most; NULL: the hands suffice */
};

/* Caller frees with trend_report_free. Errors: as state_fit, learn_effects, forecast_run. */
bool plan_report(const struct facility *f, const struct trend_request *request, struct trend_report *out,
                 struct err *e);
void trend_report_free(struct trend_report *r);

/* ---- a tank at home (src/week/home.c) */

struct home_coral {
    size_t kind; /* in the house's facility */
    long count, heads;
};

struct home {
    const char *name; /* of the customer; "" for none */
    int day;
    struct tank tank; /* shape and measures only */
    bool has[N_NUTRIENTS], below[N_NUTRIENTS];
    double level_mg_l[N_NUTRIENTS];
    const struct home_coral *corals;
    size_t n_corals;
    const char *why; /* home_why: the rule that sets the strength, and what holds it; borrowed from the facility */
};

/*
 * Plans a feeding of a tank at home by the rules of a round: the house's kinds, foods and settings, every food in
 * stock, all corals due and settled. *f and *r are filled on success; caller frees both (*f borrows kinds and foods
 * from house). Errors: ERR_INPUT (measures that make no volume; as plan_round), ERR_MEMORY.
 */
bool home_plan(const struct facility *house, const struct home *h, struct facility *f, struct round *r, struct err *e);

/* Fills h->why. Errors: as plan_advice. */
bool home_why(struct facility *f, struct home *h, struct err *e);

#endif
