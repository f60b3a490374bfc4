/*
 * plan: a facility's snapshot in, a round out. No file, clock, environment or state: the same facility, day and options
 * give the same round, to the byte.
 */
#ifndef NEAP_PLAN_H
#define NEAP_PLAN_H

#include "neap/facility.h"

/* A round: the plan of one feeding morning, whole. All rows and texts are owned by the arena. */
struct round {
    struct arena arena;
    struct round_head head;
    struct pot *pots;
    size_t n_pots;
    struct pot_food *pot_foods;           /* by pot, then mixing order */
    size_t n_pot_foods;
    struct line *lines;                   /* by number: the order of the sheet */
    size_t n_lines;
    struct waiting *waitings;             /* by colony */
    size_t n_waitings;
    struct caution *cautions;             /* by rank */
    size_t n_cautions;
};

void round_free(struct round *r);

/* What is asked of a plan. Zero-initialise; zero, NULL and negative values mean the facility's settings. */
struct plan_request {
    int day;
    int start_min;                        /* -1: the setting */
    long feeders;                         /* 0: the setting */
    const char *const *skip_tanks;        /* names of tanks left out today */
    size_t n_skip_tanks;
    size_t max_pots;                      /* 0: no cap */
    double factor_max;                    /* a ceiling for the strength, such as 0.8; 0: none */
    const char *text;                     /* the options as typed, kept with the round; NULL: none */
};

/*
 * Plans the round of a day.
 *
 *   f         complete snapshot (facility_derive done), borrowed during the call only
 *   *r        filled on success; caller frees with round_free. head.number and revision are left 0 for the store
 *
 * Errors:  ERR_INPUT naming what is wrong in request or facility (an unknown tank to skip; no tank to feed);
 *          ERR_MEMORY. A facility with nobody due gives a round without lines and a caution that says so.
 * Rules:   docs/arithmetic.md, "The round".
 */
bool plan_round(const struct facility *f, const struct plan_request *request, struct round *r, struct err *e);

/* ---- after the round (src/plan/given.c) --------------------------------------------------------------------------- */

/* All that was logged of one round; rows sorted by key. */
struct round_log {
    struct arena arena;
    struct given *givens;
    size_t n_givens;
    struct extra *extras;
    size_t n_extras;
    struct mixed *mixes;
    size_t n_mixes;
    struct weighed *weighings;
    size_t n_weighings;
};

void round_log_free(struct round_log *log);

const struct line *round_line(const struct round *r, long number);        /* NULL: it has no such line */
const struct given *log_find(const struct round_log *log, long line);     /* NULL: not accounted for */
const struct mixed *log_find_mixed(const struct round_log *log, const char *pot);

/*
 * What a feeder wrote beside some lines, as typed: LINES, or LINES=VALUE.
 *
 *   LINES  14   15-18   3,5,9-12
 *   VALUE  [code][amount][:score][@HH:MM], such as r:0, p1.5, 2.1mL, :4, l@09:40, n; nothing but LINES: as planned;
 *          - takes back what was logged
 */
enum { LOG_SPANS_MAX = 32, LOG_AMOUNT_TEXT = 24 };
struct log_word {
    struct { long first, last; } spans[LOG_SPANS_MAX];
    size_t n_spans;
    bool take_back;
    int outcome;                          /* OUTCOME_GIVEN where no code was written */
    char amount[LOG_AMOUNT_TEXT];         /* "": as planned */
    long response;                        /* -1: none */
    int at_min;                           /* -1: none */
};

/* Does the word begin like line numbers? */
bool log_word_is(const char *word);

/* Errors: ERR_MISUSE, quoting the word and what was expected. */
bool log_word_parse(const char *word, struct log_word *w, struct err *e);

/*
 * The row that a word makes of a line. *g: note borrowed and static.
 *
 * Errors: ERR_INPUT naming the line: an amount where nothing is measured, p without less than planned, n with an amount,
 *         a score where no mouths are fed, or more than three times the plan (a slip; what was given beside it is an
 *         extra).
 */
bool log_word_apply(const struct log_word *w, const struct facility *f, const struct round *r, const struct line *l,
                    struct given *g, struct err *e);

/* What a row says, for a person: "part given, 1.5 mL, 3 most, at 09:40"; the amount where it is not the plan's. */
void given_words(const struct facility *f, const struct line *l, const struct given *g, struct text *out);
const char *line_unit(const struct facility *f, const struct line *l);    /* "mL" or "g"; "" where nothing is measured */
void line_words(const struct facility *f, const struct line *l, struct text *out); /* "D1-002 torch, green" */

/* ---- stock (src/plan/stock.c) ------------------------------------------------------------------------------------- */

/* The lot of a food that must be used first on a day, and what is left in it; REF_NONE: none can be used. */
size_t stock_first_lot(const struct facility *f, size_t food, int day, double *left_units);

int lot_last_day(const struct facility *f, const struct lot *l); /* use-by or opened + life; INT_MAX where neither is known */
bool lot_usable(const struct facility *f, const struct lot *l, int day); /* in stock, received, in date, something left */
bool lot_discard(const struct facility *f, const struct lot *l, int day); /* out of date with something left */

/* How far back use is looked at, the least days it is spread over, and the reserve below which to order. */
enum { STOCK_WINDOW_D = 28, STOCK_LEAST_D = 7, STOCK_RESERVE_D = 7 };

/* A food on the shelf. Rules: docs/round.md, "Stock". */
struct stock {
    double usable_units;
    double use_per_day;                   /* of the window, losses of the pot in it, waste not */
    double days_left;                     /* at that use, first to expire first; NAN: it is not used */
    double expires_units;                 /* of the usable, what goes out of date unused at that use */
    long order_packs;                     /* 0: nothing to order */
    bool out;                             /* the house's blend or broadcast wants it, and there is none */
};

/* Per food of the facility, the arena's. */
bool stock_state(const struct facility *f, int day, struct arena *a, struct stock **foods, struct err *e);
int stock_window_d(const struct facility *f, int day);                    /* days that use is spread over */

/* ---- figures of what was logged, over any rounds ------------------------------------------------------------------- */

struct food_figures {
    long offered, refused;                /* target lines fed from pots with this food, and those refused */
    long weighings;                       /* logged ones */
    double off_frac_sum, off_frac_worst;  /* |weighed - to be weighed| ÷ to be weighed */
};

struct log_figures {
    long rounds, lines;
    long unaccounted;                     /* lines of these rounds that nobody logged */
    long on_time;                         /* given, not coded late, nor noted later than ON_TIME_MIN after its end */
    long outcomes[OUTCOME_NOT_GIVEN + 1];
    long judged, score_sum;               /* target lines with a score */
    double planned_ml, mixed_ml, given_ml, refused_ml; /* slurry: four numbers that are not one another */
    double left_ml;
    long extras;
    struct food_figures *foods;           /* per food of the facility */
};

/* A line noted later than this after its planned end is late. Common practice, no source. */
enum { ON_TIME_MIN = 10 };

bool log_figures_begin(const struct facility *f, struct arena *a, struct log_figures *g, struct err *e);
void log_figures_add(const struct round *r, const struct round_log *log, struct log_figures *g);

/* ---- what responses do to a portion (src/plan/response.c, docs/round.md) ------------------------------------------- */

/* One round in which a colony was judged: its mean score, and whether it refused. A refusal without a score counts 0. */
struct judged {
    int day;
    double score;
    bool refused;
};

struct response {
    double portion_frac;                  /* of the kind's portion: 0.5 to 1 */
    int n_last, refused_last;             /* of the last three judged rounds: how many there are, how many refused */
    double mean_last;                     /* their mean score; NAN: none */
    bool refused;                         /* in the very last of them */
    bool close;                           /* twice refused, or little taken three times: to be looked at closely */
    int day;                              /* of the last; DAY_NONE: none */
};

/* rounds: by day, the earliest first. */
void response_judge(const struct judged *rounds, size_t n, struct response *out);

/* Why somebody is to look at it: "refused 2 of the last 3 rounds, 0.75 of the portion"; "": nothing of note. */
bool response_note(const struct response *s, struct arena *a, const char **note, struct err *e);

#endif
