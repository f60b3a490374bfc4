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
};

void round_free(struct round *r);

/* Do the two stand still together? */
bool share_pump(const struct facility *f, size_t a, size_t b);
/* The shortest limit among the tanks of its pump: one that is not fed stands still, too. */
double off_limit_min(const struct facility *f, size_t tank);
/* Lines of one broadcast into shared water: given in one go, each line a tank's part. Right for two of one tank, too. */
bool same_broadcast(const struct facility *f, const struct line *a, const struct line *b);
/* Is the line a tank's part of a broadcast that goes into shared water? Its note says so, and for which tanks. */
bool into_shared_water(const struct line *l);
/* The line that turned off what this one turns on; NULL: none did. */
const struct line *flow_off_of(const struct facility *f, const struct round *r, const struct line *on);
/* The minute that this flow-on must not pass; INT_MAX where nothing turned it off. */
int flow_on_latest_min(const struct facility *f, const struct round *r, const struct line *on);

/* A feeder, from 1, who comes at a minute of the day instead of the start. */
struct late_feeder {
    long feeder;
    int from_min;
};

/* A round that is to end by a minute of the day never starts earlier than this. Common practice, no source. */
enum { EARLIEST_START_MIN = 4 * 60 };

/* What is asked of a plan. Zero-initialise; zero, NULL and negative values mean the facility's settings. */
struct plan_request {
    int day;
    int start_min;                  /* -1: the setting, or by done_by_min */
    int done_by_min;                /* start as late as ends by then; 0: not asked. Not beside start_min */
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
};

/*
 * Plans the round of a day.
 *
 *   f         complete snapshot (facility_derive done), borrowed during the call only
 *   *r        filled on success; caller frees with round_free. head.number and revision are left 0 for the store
 *
 * Errors:  ERR_INPUT naming what is wrong in request or facility (an unknown tank to skip; a round that cannot be done by
 *          the minute asked for; a late feeder whom the round does not have); ERR_MEMORY. A facility with nobody due
 *          gives a round without lines and a caution that says so.
 * Rules:   docs/round-arithmetic.md; options of the clock: docs/order.md.
 */
bool plan_round(const struct facility *f, const struct plan_request *request, struct round *r, struct err *e);

/*
 * A request as the options of `plan` and back: it is kept with the round, so that the round can be planned again. The
 * same wish is the same text; the day is not in it. Reading: texts in the arena; ERR_INPUT names what is no option.
 */
void request_write(const struct plan_request *request, struct text *out);
bool request_read(const char *text, int day, struct arena *a, struct plan_request *request, struct err *e);

/* ---- a begun round whose clock slips (src/plan/again.c, docs/order.md) --------------------------------------------- */

struct again_request {
    int now_min;
    const struct given *givens; /* what is logged; of other rounds, too */
    size_t n_givens;
};

struct again {
    size_t n_left; /* lines not logged yet */
    int late_min;  /* by how much windows and limits under way are passed, summed */
};

/*
 * Sets the clock of a kept round anew from a minute on. Lines keep number, amount and the order of each feeder's jobs;
 * those that are logged keep their times as well, and count as done when they were noted, else as planned. All else
 * begins as early as the order's rules allow. Where a window or a flow-off limit under way would be passed, late jobs go
 * before others, a flow on at any feeder, as long as fewer minutes are late then; what still is late is named in the
 * first caution.
 *
 *   *r        owns its lines, borrows all else from kept; caller frees with round_free, before kept
 *
 * Errors: ERR_INPUT where the rest cannot be ordered or the kept request be read; ERR_MEMORY.
 */
bool plan_again(const struct facility *f, const struct round *kept, const struct again_request *request,
                struct round *r, struct again *found, struct err *e);

/* ---- why: the working behind what a round says (src/plan/why*.c) -------------------------------------------------- */

enum why_part {
    WHY_NUMBER, /* a number that went in: value in unit, from origin */
    WHY_WORDS,  /* the same, where it is no number: words */
    WHY_RESULT, /* what the step comes to */
    WHY_NOTE    /* a sentence, such as which limit binds: words */
};

/* unit "clock": a minute of the day. Texts that do not apply are "". */
struct why_row {
    enum why_part part;
    const char *what;
    double value;
    const char *unit, *words;
    const char *origin; /* "tank D1", "setting rest_min (default)", "test of 2026-11-24, comparator" */
};

struct why_step {
    const char *title;
    const char *formula;
    struct why_row *rows;
    size_t n_rows, room;
};

/* Everything in the arena of the round that was explained. */
struct explanation {
    const char *subject; /* as understood: "line 12", "pot A", "system south" */
    const char *title;   /* what it is */
    const char *says;    /* what the sheet says of it, in words */
    double answer;       /* the sheet's number; NAN: it is in words */
    const char *unit;
    struct why_step *steps;
    size_t n_steps, room_steps;
    const char **sources; /* "food rich powder: N and P scaled from …" */
    size_t n_sources, room_sources;
};

/* subjects: "12", "A", "south", "D1", "D1-002", or with the kind before it: "tank D1". answers has room for n. */
struct plan_question {
    const char *const *subjects;
    size_t n;
    struct explanation *answers;
};

/*
 * Plans the round again and explains it. *r as by plan_round; it owns the texts of the answers.
 * Errors: as plan_round; ERR_NOT_FOUND for a subject that is neither line, pot, system, tank nor colony.
 */
bool plan_explain(const struct facility *f, const struct plan_request *request, struct plan_question *q,
                  struct round *r, struct err *e);

/*
 * How an explanation differs from an earlier one of the same subject: one sentence for each number that went in and is
 * another now. In the arena. Errors: ERR_MEMORY.
 */
bool explanation_changes(const struct explanation *then, const struct explanation *now, struct arena *a,
                         const char *const **changes, size_t *n, struct err *e);

/* The programme of the recipe's last stage but one (cost) in CPLEX LP format, for another solver. Errors: as plan_round. */
bool plan_write_lp(const struct facility *f, const struct plan_request *request, struct text *out, struct err *e);

/* ---- what the water tests allow: one rule for the planner and the report ---------------------------------------- */

/* Arrays of two are by enum analyte: nitrate and phosphate, its first two. */
#define N_NUTRIENTS 2

struct system_state {
    struct state state[N_NUTRIENTS];
    struct headroom headroom[N_NUTRIENTS];
    bool has_headroom[N_NUTRIENTS];
    double factor;      /* strength wanted, in house strengths */
    double factor_rule; /* before the limits below were put on it */
    const char *rule;   /* why, in words; static */
    const char *held;   /* what held it back, in words; NULL: nothing; static */
    bool po4_starved;
};

/*
 * The state of one analyte of a system at a moment, over window_d days (0: the setting) of the tests up to then.
 * Errors: as state_fit.
 */
bool plan_trend(const struct facility *f, size_t system, enum analyte a, long now_min, double window_d,
                struct arena *arena, struct state *out, struct err *e);

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

/* ---- how often a tank's corals can be fed (src/plan/crowd.c) ------------------------------------------------------- */

struct crowding {
    size_t tank;
    bool by_log; /* rounds_per_d is the log's; else too few are logged, and one a day is assumed */
    double rounds_per_d;
    double broadcast_frac, fish_frac; /* of the day's ceiling, taken before the corals */
    double room_frac;                 /* left to them in a round */
    double asked_frac;                /* what they would take in a round, each as often as its kind asks */
    double hands_frac;                /* the whole facility's hands, asked ÷ there */
    double times;                     /* their intervals between two feeds; 1: as asked; INFINITY: never */
    bool by_hands;                    /* the hands bind, not the tank's ceiling */
    int rounds_enough;                /* so many a week would be enough for the ceiling; 0: none, or no more than now */
    bool overfull;                    /* somebody is fed a quarter later than asked, or more */
    size_t kind;                      /* overfull: the kind that is hit most; else REF_NONE */
    double interval_d, gets_d;        /* of that kind: as asked, and as it can be; INFINITY: never */
};

/*
 * Per tank of the facility, the arena's. The rounds are as many as in the setting window_d before the day.
 * Rules: docs/round-arithmetic.md, "How often". Errors: as plan_advice.
 */
bool plan_crowding(const struct facility *f, int day, struct arena *a, const struct crowding **tanks, struct err *e);

/* "small-polyp stony, due every 3 d, can be fed about every 12 d with 3 rounds a week": of one that is overfull. */
void crowding_words(const struct facility *f, const struct crowding *c, struct text *out);
void crowding_help(const struct crowding *c, struct text *out); /* what would help, as a list of choices */

/* ---- the plan beside the house blend (src/plan/compare.c) --------------------------------------------------------- */

/* What one way of feeding brings a system, by mean effects; fish food aside, which is the same either way. */
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

/* ---- a pot that came out larger or smaller (src/plan/made.c) ------------------------------------------------------ */

struct pot_made {
    const char *pot;
    double made_ml;
    const struct given *givens; /* what was logged of the round */
    size_t n_givens;
};

struct made_tank {
    size_t tank;
    double planned_ml, given_ml, left_ml; /* of the pot, with what is lost beside the mouths */
    double load_frac;                     /* Σ dose ÷ ceiling with what is left */
    bool cut;                             /* a ceiling, or too little made: less food than planned */
};

struct made_line {
    long number; /* of the sheet; only those not logged yet */
    double planned_ml, left_ml;
};

struct rescaled {
    struct arena arena;
    const struct pot *pot; /* the round's */
    double made_ml;
    struct made_tank *tanks;
    size_t n_tanks;
    struct made_line *lines;
    size_t n_lines;
};

/*
 * What is left to give of a pot of a kept round, so that each coral gets its planned food out of the volume really made.
 * What was logged counts as given; a line that was not given leaves its share in the pot. Caller frees with
 * rescaled_free. Errors: ERR_NOT_FOUND for an unknown pot; ERR_INPUT for a volume that makes no sense; ERR_MEMORY.
 */
bool plan_rescale(const struct facility *f, const struct round *r, const struct pot_made *made, struct rescaled *out,
                  struct err *e);
void rescaled_free(struct rescaled *r);

/* ---- what the log shows of the foods ---------------------------------------------------------------------------- */

/* What is believed of one food's effect on one nutrient: mg per unit (g or mL) that is fed to mouths. */
struct food_belief {
    double declared, declared_sd; /* as declared, or from the composition */
    double prior_sd;              /* declared_sd, and never less than a floor (docs/trend.md) */
    double broadcast_ratio;       /* a unit that is broadcast does this many times as much */
    struct effect effect;         /* by the log; its mean and sd are the prior's where nothing was fed */
    bool learned;    /* the log's effect is used: claimed, surer than the declared, of a sign that may be */
    bool against;    /* the log claims the other sign than the declared one, so it is not used */
    double mean, sd; /* what is used: by the log where learned, else as declared; mean 0 where a food that is
                                             declared to lower the nutrient raises it by the log */
};

/* Foods that the log cannot tell apart; other is FOOD_BACKGROUND where it is the water's own drift. */
#define FOOD_BACKGROUND SIZE_MAX
struct food_tangle {
    size_t food, other;
    double cosine;           /* of what both did to the tests: 1 is always in one proportion */
    double sd_now, sd_after; /* of food's effect: now, and after one stretch with each of the two alone */
};

struct learned_effects {
    struct food_belief *foods[N_NUTRIENTS]; /* [n_foods] each, in the arena */
    size_t n_foods;
    size_t n_systems;                                        /* learned from */
    size_t n_stretches[N_NUTRIENTS], n_skipped[N_NUTRIENTS]; /* between tests: used, and left out */
    bool scatter_high[N_NUTRIENTS];                          /* the tests scatter by more than they are believed to */
    bool misfit[N_NUTRIENTS];                 /* the waters did what the model does not know: nothing is claimed */
    struct food_tangle *tangles[N_NUTRIENTS]; /* what two stretches would tell most of comes first */
    size_t n_tangles[N_NUTRIENTS];
};

/*
 * Learns the foods' effects from the last half year of tests, water changes and logged feedings up to a moment.
 * system: that one alone, or REF_NONE: all at once (of more than twelve, those with most feedings), one effect per food
 * and for each system a background, an uptake and a scatter of its own.
 * Without a log all effects are as declared. Errors: as learn_effects.
 */
bool plan_learned(const struct facility *f, size_t system, long now_min, struct arena *arena,
                  struct learned_effects *out, struct err *e);

/* ---- weeks ahead ------------------------------------------------------------------------------------------------ */

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

/* ---- the weekly report ------------------------------------------------------------------------------------------ */

struct trend_request {
    long now_min;    /* nothing later is looked at; the week ends with its day */
    double window_d; /* 0: the setting */
    size_t system;   /* REF_NONE: all that are in use */
};

/* One test of the window, as a chart shows it. */
struct trend_point {
    double at_d;  /* from the report's moment, ≤ 0 */
    double value; /* the detection limit where below */
    bool below, outlier;
};

struct trend_analyte {
    enum analyte analyte;
    struct level_band band;
    struct state state;
    size_t n_week;                    /* tests in the week */
    bool steady;                      /* no trend, and none that could move it by half the band in four weeks */
    const struct trend_point *points; /* in the window, by time */
    size_t n_points;
    const char *method, *method_before; /* where the method changed in the window; else NULL */
    bool has_forecast;                  /* the crossing is known, by the forecast of going on as now */
    struct crossing crossing;
    double outside_frac;     /* chance to be outside the band four weeks from now; has_forecast */
    double edge_change_frac; /* of the water, to bring it down to the upper edge; 0: no need */
    int edge_change_d;       /* days to spread that over, by the largest wanted change a day */
};

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
    size_t n_week_fed, n_window_fed; /* days with a logged feeding */
    double logged_d;                 /* days of the window that the log covers, at least 7 */
    size_t most[N_NUTRIENTS];        /* in foods: the one that raised it most in the window; REF_NONE: none did */
    int last_test_day, due_day;      /* of the older of nitrate and phosphate; DAY_NONE: never tested */
    const int *missed;               /* first days of the window's weeks without a test of either */
    size_t n_missed, n_weeks;
    const struct crowding **overfull; /* its overfull tanks, by name; those that only lack hands are left out */
    size_t n_overfull;
};

struct trend_report {
    struct arena arena;
    int week_from, day;
    double window_d;
    struct trend_system *systems; /* what needs attention first, then by name */
    size_t n_systems;
    struct learned_effects effects;
    const struct crowding *short_of_hands; /* the tank hit most; NULL: the hands suffice */
};

/* Caller frees with trend_report_free. Errors: as state_fit, learn_effects, forecast_run. */
bool plan_report(const struct facility *f, const struct trend_request *request, struct trend_report *out,
                 struct err *e);
void trend_report_free(struct trend_report *r);

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

const struct line *round_line(const struct round *r, long number);    /* NULL: it has no such line */
const struct given *log_find(const struct round_log *log, long line); /* NULL: not accounted for */
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
    struct {
        long first, last;
    } spans[LOG_SPANS_MAX];
    size_t n_spans;
    bool take_back;
    int outcome;                  /* OUTCOME_GIVEN where no code was written */
    char amount[LOG_AMOUNT_TEXT]; /* "": as planned */
    long response;                /* -1: none */
    int at_min;                   /* -1: none */
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
void log_given_words(const struct facility *f, const struct line *l, const struct given *g, struct text *out);
const char *line_unit(const struct facility *f, const struct line *l); /* "mL" or "g"; "" where nothing is measured */
void line_words(const struct facility *f, const struct line *l, struct text *out); /* "D1-002 torch, green" */

/* ---- stock (src/plan/stock.c) ------------------------------------------------------------------------------------- */

double lot_left(const struct lot *l); /* in the food's unit; what amount_round makes nothing is nothing */

/* The lot of a food that must be used first on a day, and what is left in it; REF_NONE: none can be used. */
size_t stock_first_lot(const struct facility *f, size_t food, int day, double *left_units);

int lot_last_day(const struct facility *f,
                 const struct lot *l); /* use-by or opened + life; INT_MAX where neither is known */
bool lot_usable(const struct facility *f, const struct lot *l,
                int day); /* in stock, received, in date, something left */
double lot_measurable(const struct facility *f, const struct lot *l,
                      int day);                                           /* the usable part, on its measure's step */
bool lot_discard(const struct facility *f, const struct lot *l, int day); /* out of date with something left */

/* How far back use is looked at, the least days it is spread over, and the reserve below which to order. */
enum { STOCK_WINDOW_D = 28, STOCK_LEAST_D = 7, STOCK_RESERVE_D = 7 };

/* A food on the shelf. Rules: docs/round.md, "Stock". */
struct stock {
    double usable_units;
    double use_per_day;   /* of the window, losses of the pot in it, waste not */
    double days_left;     /* at that use, first to expire first; NAN: it is not used */
    double expires_units; /* of the usable, what goes out of date unused at that use */
    long order_packs;     /* 0: nothing to order */
    bool out;             /* the house's blend or broadcast wants it, and there is none */
};

/* Per food of the facility, the arena's. */
bool stock_state(const struct facility *f, int day, struct arena *a, struct stock **foods, struct err *e);
int stock_window_d(const struct facility *f, int day); /* days that use is spread over */

/* ---- figures of what was logged, over any rounds ------------------------------------------------------------------- */

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

/* The rounds of a week, for its report. All is the arena's of the caller. */
struct open_round {
    long number;
    int day;
    const char *lines; /* as log_open_lines tells them */
};
struct log_week {
    struct log_figures figures;
    struct open_round *open; /* rounds with lines never accounted for, the earliest first */
    size_t n_open;
};

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
    double portion_frac;      /* of the kind's portion: 0.5 to 1 */
    int n_last, refused_last; /* of the last three judged rounds: how many there are, how many refused */
    double mean_last;         /* their mean score; NAN: none */
    bool refused;             /* in the very last of them */
    bool close;               /* twice refused, or little taken three times: to be looked at closely */
    int day;                  /* of the last; DAY_NONE: none */
};

/* rounds: by day, the earliest first. */
void response_judge(const struct judged *rounds, size_t n, struct response *out);

/* Why somebody is to look at it: "refused 2 of the last 3 rounds, 0.75 of the portion"; "": nothing of note. */
bool response_note(const struct response *s, struct arena *a, const char **note, struct err *e);

#endif
