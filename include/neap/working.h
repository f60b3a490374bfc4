/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The working of a plan: each step reads what the steps before it found and adds its own. plan.c runs them in order;
 * `why` prints what they found.
 */
#ifndef NEAP_WORKING_H
#define NEAP_WORKING_H

#include "neap/advice.h"
#include "neap/calc.h"
#include "neap/capacity.h"
#include "neap/learned.h"
#include "neap/plan.h"
#include "neap/recipe.h"
#include "neap/schedule.h"
#include "neap/stock.h"
#include "neap/trend.h"

/* One lot of colonies that is to be fed today. */
struct due {
    size_t colony, tank, system;
    int need;          /* enum need, its kind's */
    bool late;         /* from the late pot */
    bool half;         /* new here: half the mouths, half the portion */
    long mouths;       /* fed per colony; 0: a cloud over it */
    double portion_ml; /* per mouth, or per colony of a cloud, before a ceiling cuts it */
    double cut_frac;   /* of the portion, what the ceiling of its water leaves; 1: all */
    double need_ml;    /* of all its colonies, at that */
    double hands_s;    /* hands-on seconds, refills aside */
    double since_d;    /* days since it was fed; NAN: never */
    double interval_d;
    double urgency; /* since ÷ interval; the obligate first, then the larger */
};

_Static_assert((int)RECIPE_NO3 == (int)ANALYTE_NO3 && (int)RECIPE_PO4 == (int)ANALYTE_PO4 &&
                   (int)RECIPE_ANALYTES == (int)N_NUTRIENTS,
               "the recipe's analytes are the first of the facility's");

/* What the other rounds of the day are to a water. */
struct day_left {
    double others_mg[RECIPE_ANALYTES]; /* what they brought, or are to bring by their plans, by the mean effect */
    double others_sd_mg[RECIPE_ANALYTES];
    double later_broadcast_frac; /* of its whole broadcast, what is to be given in rounds not planned yet */
};

struct tank_need {
    double slurry_ml, late_ml;    /* with losses, rounded up to the syringe */
    double rest_ml, late_rest_ml; /* of that, what stays in syringe and tube */
    bool broadcast;
    bool lives_by_it;      /* an obligate kind that is due here has nothing but the broadcast */
    bool skipped;          /* left out today */
    bool dark;             /* its lights are off when the round begins */
    double broadcast_frac; /* of the day's broadcast, what this round may give */
    double fish_units;
    size_t fish_food;                   /* REF_NONE: none */
    double counted_ml, late_counted_ml; /* of the slurry, what counts towards the ceilings of its water */
};

/*
 * How the ceiling of a water for the day is shared out, at the strength that its state allows (at most the house's).
 * Parts of the ceiling: what each of them would take whole, and to which part of that they are cut so that all fit. The
 * strength falls last, to thin_frac of itself.
 */
enum share {
    SHARE_BROADCAST,
    SHARE_OPTIONAL,
    SHARE_REGULAR,
    SHARE_OBLIGATE,
    SHARE_LIVED_BY, /* broadcast that an obligate kind lives by */
    N_SHARES
};

struct ceiling_share {
    double slurry_load, late_load; /* of a counted mL, in 100 L */
    double others_frac;            /* by other rounds of the day: given, or planned */
    double later_frac;             /* kept for rounds of the day that are not planned yet */
    double fish_frac;              /* spoken for */
    double whole_frac[N_SHARES], cut_to_frac[N_SHARES];
};

/* The corals of one kind and interval in a water, as far as they are fed from a pot in turn. */
struct capacity_part {
    size_t system, kind;
    double interval_d;
    bool obligate;    /* fed before the others */
    double load_frac; /* of the day's ceiling, all of them once, in the least portions of the thinnest slurry */
    double hands_s;
    size_t next; /* of the same system; REF_NONE: it is the last */
};

double capacity_asked_d(const struct capacity_part *p, double rounds_per_d); /* between feeds, in whole rounds */

/*
 * The lots that may be used, by food and in the order of use, and what is left of them while the round is written down.
 */
struct shelf {
    size_t n, *lots;
    double *held;  /* per place on the shelf, before the round; whole steps of the measure */
    double *left;  /* while it is written down */
    size_t *first; /* per food its first place, and one more for the end */
};

struct working {
    const struct facility *f;
    const struct plan_request *request;
    struct arena *a; /* the round's: texts that end up in it may be made here */
    struct learned_effects effects;
    struct system_state *states; /* per system */
    size_t round;                /* of the daily rounds; REF_NONE: the day's only one, without a name */
    size_t *week; /* the daily rounds of this day and the six that follow, by their start; room for all on each */
    size_t n_week[WEEKDAYS];
    size_t *todays, n_todays;   /* those of this day, with the one that is planned */
    size_t *to_come, n_to_come; /* of them, those that begin later and are not planned yet */
    const struct day_use **others;
    size_t n_others;       /* what other rounds of the day gave, or are to give by their plans */
    struct day_left *left; /* per system */
    double *claimed;       /* per lot: what other rounds of the day are still to take */
    long *n_fed;           /* per colony: in how many other rounds of the day */
    struct due *laters;    /* due, and waiting for a later round of the day */
    size_t n_laters;
    struct due *dues; /* most urgent first; those that wait are moved to the round's waitings */
    size_t n_dues;
    struct tank_need *needs; /* per tank */
    double *usable;          /* per food: units in lots that may be used */
    struct shelf shelf;
    struct ceiling_share *shares; /* per system */
    struct capacity *capacities;  /* per system */
    struct capacity_part *capacity_parts;
    size_t n_capacity_parts;
    size_t *first_part; /* per system, in capacity_parts; REF_NONE: it has none */
    struct recipe_problem recipe_problem;
    struct recipe recipe;
    struct order_problem order_problem;
    struct order_tank *order_rows; /* its tanks */
    struct order_plan order;
    size_t *order_tanks; /* order's tank index → tank */
    size_t *rack_order;  /* dues by tank, then by colony: the order in which a hand goes along the rack */
    size_t *rack_first;  /* per tank its first place there, and one more for the end */
    struct waiting *waitings;
    size_t n_waitings;
    struct caution *cautions;
    size_t n_cautions, room_cautions;
};

/* Working up to the recipe; recipe and order are freed with working_free, also after a failure. */
bool working_foods(struct working *w, struct err *e);
void working_free(struct working *w);

/* Each returns false with *e set (ERR_INPUT, ERR_MEMORY); all memory is the arena's, recipe and order aside. */
bool working_day(struct working *w, struct err *e);    /* day.c: the other rounds of the day, their stock and corals */
void working_others(struct working *w);                /* day.c: what they bring the waters; needs effects and shares */
bool working_usable(struct working *w, struct err *e); /* shelf.c: what is in stock */
/*
 * The minute that a round's advice is of: its start, or the last test of its day. Who tests late, and plans then, is
 * not to be fed by yesterday.
 */
long working_now(const struct working *w);
bool working_advice(struct working *w, struct err *e); /* state.c: what the tests allow */
bool working_states(struct working *w, struct err *e); /* state.c: that, and what the foods do */
bool working_dues(struct working *w, struct err *e);   /* due.c: who is due, who is on hold */
bool working_needs(struct working *w, struct err *e);  /* need.c: slurry per tank; ceilings and hands make some wait */
bool working_capacities(struct working *w, struct err *e); /* capacity.c: how often each water can be fed */
bool working_recipe(struct working *w, struct err *e);     /* mix.c: foods into pots and broadcasts */
bool working_unfed(struct working *w, struct err *e); /* due.c: who lives by a broadcast that its tank does not get */
bool working_order(struct working *w, struct err *e); /* clock.c: who does what when */
/*
 * The same again, with time to mix at each change of pot; ERR_INPUT: then it cannot be done in time, or a stop outlasts
 * the slurry.
 */
bool working_order_mixing(struct working *w, struct err *e);
bool working_rows(struct working *w, struct round *r, struct err *e); /* rows.c: the round's rows */
/* The same for a round that is kept: its lines and clock, each with what the working gives it. */
bool working_rows_kept(struct working *w, const struct round *kept, struct round *r, struct err *e);
bool working_safety(struct working *w, const struct round *r, struct err *e);      /* safety.c: the care of hands */
bool is_fed_today(const struct round *r, const struct facility *f, size_t system); /* and to a tank of this water? */
bool working_watch(struct working *w, const struct round *r, struct err *e); /* watch.c: readings that call for care */
/* cautions.c: what the lead must know */
bool working_cautions(struct working *w, const struct round *r, struct err *e);

/*
 * How a pot of the recipe differs from the house blend, each difference with its reason, "; " between; NULL: no memory.
 */
const char *pot_notes(struct working *w, size_t pot);

/* A tank's rank: those asked for first in that order, then those with corals that are fed early, then all others. */
int visit_rank(const struct facility *f, const struct plan_request *q, size_t tank, bool early);

/* The house's figures into the order's settings; the request says how long to search. */
void order_settings(const struct settings *s, const struct plan_request *q, struct order_problem *p);

/*
 * Where a system's shared broadcast goes in: at its first tank along the route, where the register has no other place.
 */
double broadcast_place_m(const struct facility *f, size_t system);

/* notices.c. One more caution, after those known so far. None is ever dropped. */
bool caution_add(struct working *w, enum caution_part part, struct err *e, const char *fmt, ...) PRINTF_LIKE(4, 5);
bool caution_add_tank(struct working *w, size_t tank, struct err *e, const char *fmt, ...) PRINTF_LIKE(4, 5);
bool waiting_add(struct working *w, size_t colony, struct err *e, const char *fmt, ...) PRINTF_LIKE(4, 5);

/* One that is due and goes without. */
bool waiting_add_due(struct working *w, const struct due *d, const char *reason, struct err *e);

/*
 * The least strength that its state allowed in the last week's logged rounds, or in the last one before it; 1 where
 * none was ever logged. A pot that a ceiling or an empty lot made weaker is no cut by state, and holds nothing back.
 */
double strength_before(const struct facility *f, size_t system, int day);

/*
 * By how much the foods of a round are moved by the state alone, as a part of what the house blend brings; and the most
 * that the room asks of a round beside the mean logged one. Our own choice; no source.
 */
#define SHIFT_FRAC 0.25

/* The feeding that the trend already holds: mean effect of a logged day in the window, mg, and how often it was fed. */
struct habit {
    long n_days;
    double per_day[RECIPE_ANALYTES], sd_per_day[RECIPE_ANALYTES];
    double rounds_per_d;
};
struct habit feeding_habit(const struct working *w, size_t system);
double habit_rounds(const struct habit *h, double days); /* rounds until the horizon, at least one */

/* A tank's slurry from what its corals need: with losses, rounded up to the syringe. */
double with_losses(const struct settings *s, double need_ml);

/* Slurry per tank from the dues as they stand; a tank without any gives its fish food back. */
bool needs_sum(struct working *w, struct err *e);

/* Of the waters that wait for hands, the one hit most; NULL: the hands suffice. */
const struct capacity *capacity_of_hands(const struct capacity *capacities, size_t n);

/* Is the colony fed in turn (not held, left out or new here), due today or not? *d: what it then takes. */
bool due_in_turn(const struct working *w, size_t index, struct due *d);

/*
 * Of a mL on a line, its loss with it, what counts towards the ceilings: food put to a mouth is swallowed for the
 * greater part, what is lost beside the mouths is not.
 */
double counted_frac(const struct settings *s, const struct kind *k);

/* What one mL of slurry takes, and what the fish do; shares are not cut yet. Usable before the dues are known. */
void ceiling_begin(const struct working *w, size_t system, struct ceiling_share *c);

/* What one lot takes of its water's ceiling in its least portion of the thinnest slurry. */
double due_least_load(const struct working *w, const struct ceiling_share *c, const struct due *d);
bool is_too_large(double load, double room);            /* a lot that can never be fed, where others can */
double fish_load(const struct working *w, size_t tank); /* what a tank's fish take of its water's ceiling */

/* The fish of a tank that is target-fed get their food out of the stock and of the ceiling, or give it back. */
void fish_feed(struct working *w, size_t tank);
void fish_leave(struct working *w, size_t tank);

/*
 * The broadcast yields first, down to the cue that opens the corals; then portions get smaller, the obligate feeders'
 * last. If even a thin slurry is too much then, the cue goes as well. Do all that are due fit?
 */
bool ceiling_share_out(const struct working *w, size_t system, struct ceiling_share *c);
void ceiling_cut_portions(struct working *w,
                          size_t system); /* of the dues, to what was found; the rest is kept for later rounds */
/* What no cut makes less: fish food, and what other rounds of the day brought or are to bring. */
double ceiling_spoken_for(const struct ceiling_share *c);

#define NO_FOOD_FOR_IT "no food in stock that it can take"

/* When a coral is to be fed that is due. */
struct feeding_time {
    bool now;     /* in this round */
    bool never;   /* now, but only because no round of the week suits it */
    int in_days;  /* unless now: 0 today */
    size_t round; /* and in which of the daily rounds */
};
struct feeding_time feeding_time(const struct working *w, size_t colony);
/* Among how many of the day's rounds its portion is shared; and how many of those to come suit it. */
long feeds_today(const struct working *w, size_t colony);
long feeds_later(const struct working *w, size_t colony);
/* Where a system has a broadcast plan: the part of the day's that it gets in a round of the day; else NAN. */
double broadcast_plan_frac(const struct facility *f, size_t system, size_t round, int day);

/* The net volume of a system, never 0. */
double water_l(const struct facility *f, size_t system);
/* What so much of a food takes of a water's ceilings; and what a line of another round of the day does. */
double food_load(const struct facility *f, size_t system, size_t food, double units);
double others_load(const struct facility *f, const struct day_use *u);

/* What may be measured of a lot and no other round of the day claims. */
double lot_free(const struct working *w, size_t lot);

/* Takes the due at index i out and lets it wait. */
bool due_defer(struct working *w, size_t i, const char *reason, struct err *e);

/* Retired lots in pots not begun and lines not done give way to others of their food. lots.c */
bool round_swap_lots(const struct facility *f, struct round *r, const bool *done, const bool *pot_begun, struct err *e);

bool shelf_fill(struct working *w, struct err *e);
/* Takes units of a food from one of its lots, counted from its first; answers which lot of the facility that is. */
size_t shelf_take_lot(struct shelf *s, size_t food, size_t nth, double units);
/* Takes up to units of a food from its first lot that has any; answers how much. */
double shelf_take(struct shelf *s, size_t food, double units, size_t *lot);
double shelf_rest(double units, double taken); /* a difference of stepped amounts, without dust: finer than any step */

int lot_expiry_order(const struct facility *f, size_t a, size_t b); /* < 0: a is to be used before b */

bool kind_takes(const struct kind *k, const struct food *food);    /* form and particle size */
bool food_in_pot(const struct working *w, size_t food, bool late); /* a solid of the house blend, in stock */
bool food_is_late(const struct food *food); /* pellets and frozen food: of the pot mixed just before use */
double food_solids(const struct food *food);
/*
 * Units of a food in one mL of the house blend at strength 1; what may not go in is made up by the rest of the blend.
 * ceiling.c
 */
double house_units_per_ml(const struct working *w, size_t system, size_t food, bool late);

/* Readings and changes of one analyte and system; out has room for all of the facility's. Both return how many. */
size_t gather_readings(const struct facility *f, size_t system, enum analyte a, struct reading *out);
size_t gather_changes(const struct facility *f, size_t system, enum analyte a, struct water_change *out);

#define TREND_CONFIDENCE_FRAC 0.90                    /* of every interval shown */
double analyte_test_sd(enum analyte a, double value); /* of one reading: its stated ± taken as two sd */

/* Mouths fed per colony of a kind with so many heads, by the kind's rule. */
long mouths_fed(const struct kind *k, long heads);
long colony_mouths(const struct facility *f, size_t colony);                 /* 0: it is fed by none, as from a cloud */
double colony_hands_s(const struct facility *f, size_t colony, long mouths); /* refills aside */

#endif
