/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * advice: what the water tests allow. One rule for the planner and the report.
 */
#ifndef NEAP_ADVICE_H
#define NEAP_ADVICE_H

#include "neap/facility.h"
#include "neap/trend.h"

struct system_state {
    struct state state[N_NUTRIENTS];
    struct headroom headroom[N_NUTRIENTS];
    bool has_headroom[N_NUTRIENTS];
    double factor;      /* strength wanted, in house strengths */
    double factor_rule; /* before the limits below were put on it */
    const char *rule;   /* why, in words; static */
    const char *held;   /* what held it back, in words; NULL: nothing; static */
    bool po4_starved;
    bool po4_low;                          /* starved, or under its band, or read there once: nothing may strip it */
    enum level_verdict level[N_NUTRIENTS]; /* by the line and the latest readings together; what the rule goes by */
    bool single_high[N_NUTRIENTS]; /* the latest reading is above the band, and alone so far: it caps the strength */
    bool single_low[N_NUTRIENTS];  /* the latest reading is below the band, and alone so far: nothing may strip it */
    bool cannot_see[N_NUTRIENTS];  /* the latest is below a limit that lies above the band's low edge */
    bool not_above[N_NUTRIENTS];   /* and at or under the high edge: whatever it is, it is not too much */
    bool gone_once
        [N_NUTRIENTS]; /* below detection by the latest reading, in the band by the one before: it raises nothing */
    int direction[N_NUTRIENTS];       /* foods wanted: -1 poorer in it than the house blend, 1 richer, 0 as it comes */
    double reading_mg_l[N_NUTRIENTS]; /* where the latest readings are the state, not the line: the last; else NAN */
    bool by_readings[N_NUTRIENTS];    /* level is what the latest readings say, and the line says something else */
    bool to_repeat[N_NUTRIENTS];      /* latest is a reading that nobody has borne out yet */
    const char *latest[N_NUTRIENTS];  /* a fresh reading that the line does not show, in words; NULL: none */
};

/*
 * The state of one analyte of a system at a moment, over window_d days (0: the setting) of the tests up to then.
 * Errors: as state_fit.
 */
bool plan_trend(const struct facility *f, size_t system, enum analyte a, long now_min, double window_d,
                struct arena *arena, struct state *out, struct err *e);

/*
 * A test as it is judged: nobody reads a concentration of nothing, so a zero of nitrate or phosphate means below what
 * such a test tells from nothing, the step of its method or one sd of a test (our own choice).
 */
struct test test_seen(const struct facility *f, const struct test *t);

/*
 * The method in use for an analyte of a system at a moment (series_find over the setting's window); *method is the
 * facility's, NULL: never tested. Errors: as series_find.
 */
bool method_in_use(const struct facility *f, size_t system, enum analyte a, long now_min, struct arena *arena,
                   const char **method, struct err *e);

/*
 * What the tests of a system allow at a moment: states, room in the band until the next test, and the strength by
 * state with the limits put on it. factor_max: a ceiling for the strength; 0: none. The states live in the arena.
 * Errors: as state_fit and headroom_find. Rules: docs/round-arithmetic.md, "Strength by state".
 */
struct advice_in {
    long now_min;
    double window_d; /* 0: the setting */
    double factor_max;
};
bool plan_advice(const struct facility *f, size_t system, const struct advice_in *in, struct arena *arena,
                 struct system_state *out, struct err *e);

/*
 * When a system's nutrients were last tested, by the tests up to now_min, and are to be tested again: the one tested
 * longer ago decides, and the day in which its interval ends. DAY_NONE: never; both last where one of them never was.
 */
struct tests_due {
    size_t system;
    int last[N_NUTRIENTS], last_day, due_day;
};

struct tests_due tests_due(const struct facility *f, size_t system, long now_min);

/* Of all systems in use, the first due first, then by name; the arena's. */
bool tests_due_all(const struct facility *f, long now_min, struct arena *a, struct tests_due **due, size_t *n,
                   struct err *e);

#endif
