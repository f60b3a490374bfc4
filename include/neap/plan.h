/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * plan: a facility's snapshot in, a round out. No file, clock, environment or state: the same facility, day and options
 * give the same round, to the byte.
 */
#ifndef NEAP_PLAN_H
#define NEAP_PLAN_H

#include "neap/facility.h"
#include "neap/trend.h"

/* A round: the plan of one feeding morning, whole. All rows and texts are owned by the arena. */
struct round {
    struct arena arena;
    struct round_head head;
    struct asked *asked; /* by number */
    size_t n_asked;
    struct pot *pots;
    size_t n_pots;
    struct pot_food *pot_foods; /* by pot, then mixing order */
    size_t n_pot_foods;
    struct line *lines; /* by number: the order of the sheet */
    size_t n_lines;
    struct waiting *waitings; /* by colony */
    size_t n_waitings;
    struct caution *cautions; /* by rank */
    size_t n_cautions;
    struct switching *switchings; /* by number */
    size_t n_switchings;
};

void round_free(struct round *r);

/* "round 2", or "round 2 (evening)" where the day has several. */
enum { ROUND_WORDS = NAME_BYTES_MAX + 32 };
const char *round_words(const struct round_head *h, char out[ROUND_WORDS]);

/* Do the two stand still together? */
bool share_pump(const struct facility *f, size_t a, size_t b);
/*
 * The longest that a flow which is turned off at a minute may be off: the shortest limit among the tanks of its pump,
 * for one that is not fed stands still, too. While the lights of one of them are off it is dark_flow_off_frac of its
 * limit, but long enough for a minute's feed and the rest: no light, no oxygen from the corals' algae. In the dark the
 * oxygen at the tissue falls to almost nothing: Shashar, Cohen and Loya, Biological Bulletin 185 (3), 455–461, 1993.
 * The half is common practice, no source.
 */
double off_limit_min(const struct facility *f, size_t tank, int off_min);
/*
 * Lines of one broadcast into shared water: given in one go, each line a tank's part. Right for two of one tank, too.
 */
bool same_broadcast(const struct facility *f, const struct line *a, const struct line *b);
/* Is the line a tank's part of a broadcast that goes into shared water? Its note says so, and for which tanks. */
bool into_shared_water(const struct line *l);
/*
 * What is off when, by the round's lines as they stand: off before the system's first line of what it must be off for,
 * on again so long after the last. Into r's arena; the same lines give the same rows.
 *
 *   left_out   per line, by its place: nobody does it any more; NULL: none
 *
 * Errors: ERR_MEMORY.
 */
bool round_switchings(const struct facility *f, struct round *r, const bool *left_out, struct err *e);
/*
 * A pot as it is mixed: late enough to be fresh, early enough to be there, and a second time where the first would be
 * too old. By the round's lines as they stand: a round whose clock is set anew may need another batch.
 */
struct batch {
    size_t pot;
    long number;    /* 1, 2 … of the pot */
    long feeder;    /* who mixes it: who feeds from it first, or whoever has hands free later */
    int mix_min;    /* when they begin: in a gap of theirs before the first stop that takes of it */
    int mixed_min;  /* when it is ready */
    int old_min;    /* what is left is thrown away */
    int last_min;   /* the end of the last corals fed from it: after old_min only where nobody's hands are free later */
    double made_ml; /* what its lines ask for and the jug keeps, rounded up to the jug */
};

/* As the switches were numbered on the sheet in hand: sw1 is logged as sw1 from the sheet of any clock. */
void round_switchings_renumber(struct round *r, const struct round *kept);

/* By mix_min; *batches the arena's. left_out: as of round_switchings. Errors: ERR_MEMORY. */
bool round_batches(const struct facility *f, const struct round *r, const bool *left_out, struct arena *a,
                   struct batch **batches, size_t *n, struct err *e);

/* What the round takes of a food out of its lots: of a premix what is weighed, not what of it comes into the pots. */
double round_food_units(const struct round *r, size_t food);
long round_lines(const struct round *r, enum action action);         /* so many of them */
bool is_worked_in(const struct round *r, size_t tank);               /* does a line go there? */
long round_colonies(const struct round *r);                          /* that its lines feed, all of a lot */
size_t round_tanks(const struct facility *f, const struct round *r); /* that a line goes to */

/* Is it planned to be off for longer than its system allows? *limit_min: that. */
bool is_off_too_long(const struct facility *f, const struct switching *s, double *limit_min);
/* The line that turned off what this one turns on; NULL: none did. */
const struct line *flow_off_of(const struct facility *f, const struct round *r, const struct line *on);
/* The minute that this flow-on must not pass; INT_MAX where nothing turned it off. */
int flow_on_latest_min(const struct facility *f, const struct round *r, const struct line *on);

/* Colonies that are due and go without, and for how long. */
struct due_unfed {
    size_t colony;
    bool obligate;
    double since_d; /* days since the last feed; NAN: none is known of */
    double interval_d;
};

/* Those of a round, the most pressing first. The list is the arena's. */
bool round_unfed(const struct facility *f, const struct round *r, struct arena *a, struct due_unfed **list, size_t *n,
                 struct err *e);

/* "sun, orange, D3: 3 d since its food, due every 1 d" */
void unfed_words(const struct facility *f, const struct due_unfed *u, struct text *out);

/* Is a tank or colony with this reason and last day (DAY_NONE: until released) held on a day? And the day in words. */
enum { HOLD_UNTIL_TEXT = 64 };
bool on_hold(const char *reason, int until, int day);
void hold_until_text(int until, char out[HOLD_UNTIL_TEXT]);

/* A feeder, from 1, who comes at a minute of the day instead of the start. */
struct late_feeder {
    long feeder;
    int from_min;
};

/* A round that is to end by a minute of the day never starts earlier than this. Common practice, no source. */
enum { EARLIEST_START_MIN = 4 * 60 };

struct order_watch;

/* What is asked of a plan. Zero-initialise; zero, NULL and negative values mean the facility's settings. */
struct plan_request {
    int day;
    const char *round; /* which of the daily rounds, by name; NULL or "": the day's only one */
    int start_min;     /* -1: the setting, or by done_by_min */
    int done_by_min;   /* finish by then, starting as late as possible; 0: not asked. Not beside start_min */
    const char *const *first_tanks; /* names of tanks visited before all others, in this order */
    size_t n_first_tanks;
    const struct late_feeder *lates;
    size_t n_lates;
    long n_resets;                 /* how often the clock was set anew since; read back only, see plan_again */
    long feeders;                  /* 0: the setting */
    const char *const *skip_tanks; /* names of tanks left out today */
    size_t n_skip_tanks;
    size_t max_pots;   /* 0: no cap */
    double factor_max; /* a ceiling for the strength, such as 0.8; 0: none */
    double effort;     /* so many times the usual search for a short order; 0: as usual */
    const struct order_watch
        *watch; /* looks on, so that the search goes on (neap/schedule.h); NULL: nobody. Not kept */
};

/*
 * Plans the round of a day.
 *
 *   f         complete snapshot (facility_derive done), borrowed during the call only
 *   *r        filled on success; caller frees with round_free. head.number and revision are left 0 for the store
 *
 * Errors:  ERR_INPUT naming what is wrong in request or facility (an unknown tank to skip; a round that cannot be done
 * by
 *          the minute asked for; a late feeder whom the round does not have); ERR_MEMORY. A facility with nobody due
 *          gives a round without lines and a caution that says so.
 * Rules:   docs/round-arithmetic.md; options of the clock: docs/order.md.
 */
bool plan_round(const struct facility *f, const struct plan_request *request, struct round *r, struct err *e);

/*
 * When a round is to begin, where its end is not asked for, and how many feed: as asked, else by its daily round, else
 * the settings.
 */
int request_start_min(const struct facility *f, const struct plan_request *request);
long request_feeders(const struct facility *f, const struct plan_request *request);

/*
 * What was asked, as rows that are kept with the round and back, so that the round can be planned again. The same wish
 * is the same rows; day, watch and resets are not in them. Arrays are the arena's; of a request that is read, names are
 * borrowed from the facility. A round that an older neap kept has its wish as text (head.request), which is read as
 * well. Errors: ERR_INPUT: an unknown tank, or a text that is no request; ERR_MEMORY.
 */
bool request_write(const struct plan_request *request, const struct facility *f, struct arena *a, struct asked **rows,
                   size_t *n, struct err *e);
bool request_read(const struct facility *f, const struct round *kept, struct arena *a, struct plan_request *request,
                  struct err *e);

/*
 * The programme of the recipe's last stage but one (cost) in CPLEX LP format, for another solver. Errors: as
 * plan_round.
 */
bool plan_write_lp(const struct facility *f, const struct plan_request *request, struct text *out, struct err *e);

#endif
