/*
 * The working of a plan: each step reads what the steps before it found and adds its own. plan.c runs them in order;
 * `why` prints what they found.
 */
#ifndef NEAP_PLAN_INTERNAL_H
#define NEAP_PLAN_INTERNAL_H

#include "neap/calc.h"
#include "neap/plan.h"
#include "neap/trend.h"

#include "order.h"
#include "recipe.h"

/* One lot of colonies that is to be fed today. */
struct due {
    size_t colony, tank, system;
    bool late;                            /* from the late pot */
    bool half;                            /* new here: half the mouths, half the portion */
    long mouths;                          /* fed per colony; 0: a cloud over it */
    double portion_ml;                    /* per mouth, or per colony of a cloud */
    double need_ml;                       /* of all its colonies */
    double hands_s;                       /* hands-on seconds, refills aside */
    double since_d;                       /* days since it was fed; NAN: never */
    double interval_d;
    double urgency;                       /* since ÷ interval; the larger goes first */
};

/* What the water tests allow a system. */
struct system_state {
    struct state state[RECIPE_ANALYTES];
    struct headroom headroom[RECIPE_ANALYTES];
    bool has_headroom[RECIPE_ANALYTES];
    double factor;                        /* strength wanted, in house strengths */
    double factor_rule;                   /* before the limits below were put on it */
    const char *rule;                     /* why, in words */
    const char *held;                     /* what held it back, in words; NULL: nothing */
    bool po4_starved;
};

struct tank_need {
    double slurry_ml, late_ml;            /* with losses, rounded up to the syringe */
    bool broadcast;
    bool skipped;                         /* left out today */
    double fish_units;
    size_t fish_food;                     /* REF_NONE: none */
    double load_frac;                     /* Σ dose ÷ ceiling spoken for before the recipe */
};

struct working {
    const struct facility *f;
    const struct plan_request *request;
    struct arena *a;                      /* the round's: texts that end up in it may be made here */
    struct system_state *states;          /* per system */
    struct due *dues;                     /* most urgent first; those that wait are moved to the round's waitings */
    size_t n_dues;
    struct tank_need *needs;              /* per tank */
    double *usable;                       /* per food: units in lots that may be used */
    struct recipe_problem recipe_problem;
    struct recipe recipe;
    struct order_problem order_problem;
    struct order_plan order;
    size_t *order_tanks;                  /* order's tank index → tank */
    struct waiting *waitings;
    size_t n_waitings;
    struct caution *cautions;             /* room for CAUTIONS_MAX */
    size_t n_cautions;
};

enum { CAUTIONS_MAX = 200 };

/* Each returns false with *e set (ERR_INPUT, ERR_MEMORY); all memory is the arena's, recipe and order aside. */
bool working_states(struct working *w, struct err *e);      /* state.c: what the tests allow */
bool working_dues(struct working *w, struct err *e);        /* due.c: who is due, who is on hold */
bool working_needs(struct working *w, struct err *e);       /* need.c: slurry per tank; ceilings and hands make some wait */
bool working_recipe(struct working *w, struct err *e);      /* mix.c: foods into pots and broadcasts */
bool working_order(struct working *w, struct err *e);       /* clock.c: who does what when */
bool working_rows(struct working *w, struct round *r, struct err *e); /* rows.c: the round's rows */
bool working_cautions(struct working *w, const struct round *r, struct err *e); /* heed.c: what the lead must know */

/* The cautions known so far; CAUTIONS_MAX are shown, the last of them says how many more there were. */

bool caution_add(struct working *w, enum caution_part part, struct err *e, const char *fmt, ...) PRINTF_LIKE(4, 5);
bool waiting_add(struct working *w, size_t colony, struct err *e, const char *fmt, ...) PRINTF_LIKE(4, 5);

/* Takes the due at index i out and lets it wait. */
bool due_defer(struct working *w, size_t i, const char *reason, struct err *e);

int lot_expiry_order(const struct facility *f, size_t a, size_t b); /* < 0: a is to be used before b */

bool kind_takes(const struct kind *k, const struct food *food);  /* form and particle size */
bool food_in_pot(const struct working *w, size_t food, bool late); /* a solid of the house blend, in stock */
double food_solids(const struct food *food);

/* The state of one analyte of a system at a moment, over the window of the settings. */
bool system_trend(const struct facility *f, size_t system, enum analyte a, long now, struct arena *arena, struct state *out,
                  struct err *e);

/* Mouths fed per colony of a kind with so many heads, by the kind's rule. */
long mouths_fed(const struct kind *k, long heads);

/* mg of an analyte per unit of a food, by what is declared or by its composition. */
double food_effect(const struct facility *f, const struct food *food, enum recipe_analyte a, bool broadcast);

#endif
