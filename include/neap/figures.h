/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * figures: what was logged, counted over any rounds.
 */
#ifndef NEAP_FIGURES_H
#define NEAP_FIGURES_H

#include "neap/log.h"

struct food_figures {
    long offered, refused;               /* target lines fed from pots with this food, and those refused */
    long weighings;                      /* logged ones */
    double off_frac_sum, off_frac_worst; /* |weighed - to be weighed| ÷ to be weighed */
};

struct log_figures {
    long rounds, lines;
    long unaccounted; /* lines of these rounds that nobody logged */
    long on_time;     /* given, not coded late, nor noted later than ON_TIME_MIN after its end */
    long outcomes[OUTCOME_NOT_GIVEN + 1];
    long judged, score_sum;                            /* target lines with a score */
    double planned_ml, mixed_ml, given_ml, refused_ml; /* slurry: four numbers that are not one another */
    double left_ml;
    long extras;
    struct food_figures *foods; /* per food of the facility */
};

/* A line noted later than this after its planned end is late. Common practice, no source. */
enum { ON_TIME_MIN = 10 };

/* The lines of a round that nobody logged, by tank: "N1 30-41; W2 93". Nothing is added where there are none. */
void log_open_lines(const struct facility *f, const struct round *r, const struct round_log *log, struct text *out);

/* A flow that was off for longer than its tank may stand still, by the log; or that nobody logged on again. */
struct long_stop {
    long round;
    int day;
    size_t tank;
    int off_min, on_min; /* on: INT_MAX where it was logged as not turned on */
    double limit_min;
};

/*
 * Those of a round, by its lines; *stops the arena's. A minute that was not noted is the planned one. Errors:
 * ERR_MEMORY.
 */
bool log_long_stops(const struct facility *f, const struct round *r, const struct round_log *log, struct arena *a,
                    struct long_stop **stops, size_t *n, struct err *e);

/* "the flow was off for 49 min, 20 at most" */
void long_stop_words(const struct long_stop *s, struct text *out);

/* A switch that was off for longer than it may be, or is off still, by the log. */
struct switch_fault {
    long round, number; /* as on its sheet */
    int day;
    size_t system;
    int device;
    int off_min, on_min; /* on: INT_MAX where it is not on again by the log */
    int due_min;         /* when it was to be on by the plan */
    double limit_min;    /* NAN: it has none */
};
bool log_switch_faults(const struct facility *f, const struct round *r, const struct round_log *log, struct arena *a,
                       struct switch_fault **faults, size_t *n, struct err *e);

/* "the UV was off for 200 min, 125 at most"; "the skimmer was turned off at 09:23 and, by the log, not on again" */
void switch_fault_words(const struct switch_fault *s, struct text *out);

/* All that was off too long in a round. */
struct log_faults {
    struct long_stop *stops;
    size_t n_stops;
    struct switch_fault *switches;
    size_t n_switches;
};

/* The rounds of a week, for its report. All is the arena's of the caller. */
struct open_round {
    long number;
    int day;
    const char *name;  /* which of the day's; "": its only one */
    const char *lines; /* as log_open_lines tells them */
};
/* What befell corals and tanks, by day. */
enum week_part { WEEK_HELD, WEEK_TREATED, WEEK_WASTED, N_WEEK_PARTS };
struct week_event {
    int day;
    const char *text;
};
struct week_events {
    struct week_event *rows;
    size_t n;
};

/* Corals that were not fed within twice their interval. */
struct unfed {
    size_t colony;
    int days; /* since they were, or since they came */
    bool never;
};

struct log_week {
    struct log_figures figures;
    struct open_round *open; /* rounds with lines never accounted for, the earliest first */
    size_t n_open;
    struct long_stop *stops; /* by round */
    size_t n_stops;
    struct switch_fault *switches; /* by round */
    size_t n_switches;
    long corals[TALLY_MOVED]; /* sold, died, divided, found */
    struct unfed *unfed;      /* the longest first */
    size_t n_unfed;
    struct week_events events[N_WEEK_PARTS];
};

/*
 * Slurry that was mixed and offered to nobody: what stays in pots, syringes and tubes, or was mixed for lines not
 * given.
 */
double log_wasted_ml(const struct log_figures *g);

bool log_figures_begin(const struct facility *f, struct arena *a, struct log_figures *g, struct err *e);
void log_figures_add(const struct round *r, const struct round_log *log, struct log_figures *g);

#endif
