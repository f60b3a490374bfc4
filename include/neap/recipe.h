/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The recipe: how many grams and millilitres of which food go into which pot, and how much is broadcast where.
 *
 * A round's foods are one linear programme (docs/recipe.md writes it out with its sources). Plain numbers in, plain
 * numbers out: this module knows no register, no day and no file. Amounts are grams for a solid food, millilitres for a
 * liquid one ("units"); volumes mL for slurry, L for tanks; effects and room mg; fractions 0 to 1 (strength up to 1.5).
 *
 * What gives way to what, first to last (enum recipe_stage):
 *   never       ceilings, stock, the state's full strength, foods that a mouth cannot take, water that is not there
 *   then        lean strength, share limits, largest daily change, room in the bands, what starved water lacks, full
 *               strength, the wanted shift of the blend and the house blend (which have the last of the strength to
 *               spend), cost, and last a fixed rule that leaves exactly one answer
 * So there is always an answer: the best attempt, with the limits that bind it.
 */
#ifndef NEAP_RECIPE_H
#define NEAP_RECIPE_H

#include "neap/calc.h"

enum recipe_analyte { RECIPE_NO3, RECIPE_PO4, RECIPE_ANALYTES };

#define RECIPE_NONE SIZE_MAX /* an index that points at nothing */

/*
 * Without a largest share of its own a food may take its part of the house blend and so much more. Common practice, no
 * source.
 */
#define RECIPE_SHARE_MARGIN 0.15
/* So much of its full strength a pot gives up for the house blend, at most. Common practice, no source. */
#define RECIPE_BLEND_FRAC 0.05

enum {
    RECIPE_EXHAUSTIVE_MAX = 7, /* up to so many systems every grouping is tried: Bell(7) = 877 */
    RECIPE_BLOCK_MAX = 24      /* more are planned a block of so many at a time; our own choice, for speed */
};

/* ---- what goes in ----------------------------------------------------------------------------------------------- */

struct recipe_food {
    const char *name;
    bool liquid;                               /* amounts in mL; else in g as weighed, dry or moist */
    bool late;                                 /* softens within minutes: only in late pots, which hold nothing else */
    bool strips;                               /* said to lower phosphate: never given to a starved system */
    bool premixes;                             /* spreads evenly in water: a premix of it can be made */
    double solids_g_per_unit;                  /* dry mass that counts into strength; > 0 for a solid, 0 for a liquid */
    double effect_mg[RECIPE_ANALYTES];         /* net effect per unit, mean; for the report of what a round adds */
    double effect_low_mg[RECIPE_ANALYTES];     /* its unfavourable limit where too little is the danger */
    double effect_high_mg[RECIPE_ANALYTES];    /* its unfavourable limit where too much is the danger */
    double house_share_frac;                   /* solid: share of the pot's dry mass in the house blend */
    double share_min_frac, share_max_frac;     /* solid: limits of that share; NAN: none entered, see
                                                * RECIPE_SHARE_MARGIN */
    double house_ml_per_100ml;                 /* liquid: mL per 100 mL slurry of house strength */
    double min_ml_per_100ml, max_ml_per_100ml; /* liquid: limits, per 100 mL slurry of any strength */
    /* a unit broadcast does so much more than its effect, as a part; 0: alike */
    double broadcast_more[RECIPE_ANALYTES];
    double broadcast_ml_per_100l; /* liquid: house broadcast per 100 L net and round; 0: not broadcast */
    double ceiling_per_100l;      /* most units per 100 L of a water and day; INFINITY: none known */
    double stock;                 /* units left, in lots that may be used */
    const double *lots;           /* of them, by lot, in the order of use; none: all in one lot */
    size_t n_lots;
    double price_cents; /* per unit */
    double step;        /* scale, scoop or syringe step, in units, > 0 */
};

struct recipe_system {
    const char *name;
    double volume_l;                      /* net water of the system, > 0: turns mg into mg/L in the report */
    double low_room_mg[RECIPE_ANALYTES];  /* least that this round must add (> 0: too little there), or -INFINITY */
    double high_room_mg[RECIPE_ANALYTES]; /* most that it may add (< 0: too much there), or INFINITY */
    double max_fall_mg[RECIPE_ANALYTES];  /* largest wanted fall and rise in a day, ≥ 0, or INFINITY */
    double max_rise_mg[RECIPE_ANALYTES];
    double band_mg[RECIPE_ANALYTES];   /* width of the band × volume, > 0: what one unit of violation is */
    double beside_mg[RECIPE_ANALYTES]; /* what the round adds whatever is mixed (fish food), by the mean effect */
    double beside_low_mg[RECIPE_ANALYTES], beside_high_mg[RECIPE_ANALYTES]; /* and by its unfavourable limits */
    /*
     * How much more (> 0) or less (< 0) of it the foods in its pots are to bring than the house blend of the same
     * strength, as a part of what that brings; 0: as it comes; 1, of phosphate: all that ceilings and shares allow,
     * before full strength.
     */
    double shift_frac[RECIPE_ANALYTES];
    double lean_frac, full_frac; /* strength its state allows, in house strengths; 0 ≤ lean ≤ full */
    bool own_pot;                /* quarantine or hold: shares no pot with any other system */
    bool po4_starved;            /* no stripping food, nor less than house strength (up to full_frac) */
    double load_frac;            /* Σ dose / ceiling already spoken for today (fish food, given), ≥ −1: a
                                  * negative load asks what a higher ceiling would give */
};

struct recipe_tank {
    const char *name;
    size_t system;
    double net_volume_l;                    /* > 0 */
    double slurry_ml, late_slurry_ml;       /* due from the pot and from the late pot; 0: none */
    double rest_ml, late_rest_ml;           /* of that, what stays in syringe and tube: it reaches no water */
    double counted_frac, late_counted_frac; /* 0 to 1: part of that slurry that counts towards the ceilings */
    double broadcast_frac;                  /* of the house broadcast, 0 to 1; 0: none */
};

/* All arrays and names are borrowed for the length of the call. */
struct recipe_problem {
    const struct recipe_food *foods;
    const struct recipe_system *systems;
    const struct recipe_tank *tanks;
    size_t n_foods, n_systems, n_tanks;
    const bool *may_eat;            /* [system × n_foods + food]: every kind due there can swallow it and
                                              * accepts it; NULL: all may. Broadcast is not asked */
    double house_g_per_100ml;       /* strength 1, > 0 */
    struct vessel jug;              /* what pots are mixed in */
    double syringe_step_ml;         /* for premixes and rescaled portions; > 0 */
    double premix_ml;               /* volume a premix is made up to; 0: propose none */
    size_t max_pots;                /* most pots, late ones counted; 0: no cap */
    double band_tolerance;          /* sharing pots may cost so many bands of room and of daily change, so much shift */
    double strength_tolerance_frac; /* … and so much of the strength a system would have in its own pot */
};

/* ---- what comes out --------------------------------------------------------------------------------------------- */

/* Stages of the programme, in order: each is held while the next is improved. */
enum recipe_stage {
    RECIPE_LEAN,  /* missing to each system's lean, as a part of it: largest + mean by slurry + mean over broadcasts */
    RECIPE_SHARE, /* share limits passed, as a part of the pot's house dry mass (liquids: mL per 100 mL), by slurry */
    RECIPE_SWING, /* largest wanted change of a day passed, in bands, summed over systems and analytes */
    RECIPE_BAND,  /* room passed, likewise */
    RECIPE_LACK,  /* phosphate added to water that wants all it may have, in bands, as a gain: below zero */
    RECIPE_FULL,  /* missing to each system's full strength: as RECIPE_LEAN */
    /* wanted shift not reached, as a part of what the house blend brings, by slurry, plus the strength given up */
    RECIPE_SHIFT,
    RECIPE_HOUSE,  /* distance from the house blend, Σ |share − house share|, plus the strength given up for it */
    RECIPE_COST,   /* cents */
    RECIPE_UNIQUE, /* a fixed list of weights, no two alike: leaves one answer */
    RECIPE_STAGES
};

/* What a limit is about. The comment names the indices that struct recipe_limit fills and the unit of its limit. */
enum recipe_limit_kind {
    RECIPE_CEILING, /* system; Σ dose / ceiling */
    RECIPE_STOCK,   /* food; units */
    RECIPE_WATER,   /* pot; mL of liquids */
    RECIPE_STRENGTH_LEAN,
    RECIPE_STRENGTH_FULL, /* pot and system; or tank and food, mL */
    RECIPE_SHARE_MIN,
    RECIPE_SHARE_MAX, /* pot, food; limit as in the food, price per g of dry mass or per mL */
    RECIPE_ROOM_LOW,
    RECIPE_ROOM_HIGH, /* system, analyte; mg */
    RECIPE_FALL,
    RECIPE_RISE, /* system, analyte; mg */
    RECIPE_POORER,
    RECIPE_RICHER /* pot, system, analyte; wanted shift, as in the system */
};

/*
 * A limit that holds the recipe back. price: by how much the stage's value would fall if the limit gave way by one unit
 * (in the direction that helps), in units of that stage; always > 0. stage is the first that it holds back.
 */
struct recipe_limit {
    enum recipe_limit_kind kind;
    enum recipe_stage stage;
    size_t pot, tank, food, system; /* RECIPE_NONE where it is not about one */
    enum recipe_analyte analyte;
    double limit; /* the limit itself */
    double price;
};

/* One for the whole round: weigh so much of one lot, make up with water; pots take their parts of it in mL. */
struct recipe_premix {
    size_t food, lot; /* lot: among those of the food */
    double weigh, make_up_ml;
};

struct recipe_part {
    size_t lot; /* among those of the food */
    double units;
};

struct recipe_amount {
    size_t food;
    double house;          /* what the house blend would hold at the pot's exact strength */
    double exact;          /* the programme's answer, for the volume that is made */
    double share_max_frac; /* solid: largest share of the dry mass of this pot */
    double amount;         /* as measured: in steps, or by the premix; 0: too little to measure, left out */
    size_t premix;         /* RECIPE_NONE: weighed as it is */
    double take_ml;
    size_t n_parts; /* of which lots it is measured out; of a premix none: see there */
    struct recipe_part *parts;
};

struct recipe_pot {
    bool late;
    size_t n_systems, *systems; /* ascending */
    double least_ml;            /* that must be made: portions + dead volume, rounded up to a graduation */
    double slurry_ml;           /* made; more than that where its foods could not be measured else */
    double fed_ml;              /* of it, due to tanks */
    size_t n_amounts;
    struct recipe_amount *amounts; /* mixing order: powders by rising amount, then liquids by rising amount */
    double water_ml;               /* slurry − liquids; "make up to slurry_ml" covers what solids displace */
    double lean_frac, full_frac;   /* strength allowed here, in house strengths */
    double house_units;            /* what strength 1 is here: g of dry mass */
    bool by_liquids;               /* … or mL: no solid may go in, strength is told by the liquids */
    double strength_frac;          /* reached, from the measured amounts */
    bool below_lean;    /* lean strength would pass a ceiling or the stock, or nothing can be measured to it */
    bool shares_passed; /* a share limit gave way: for lean strength, or as nothing else can be measured */
};

struct recipe_broadcast {
    size_t tank, food;
    double house_ml;      /* house rate × volume × the tank's part of it × the state's full strength */
    double exact, amount; /* mL; amount is rounded down */
};

/* What the round does to a system, from the measured amounts: what reaches its water, fish food included. */
struct recipe_balance {
    double added_mg[RECIPE_ANALYTES]; /* mean effects */
    double added_low_mg[RECIPE_ANALYTES], added_high_mg[RECIPE_ANALYTES];
    double passed_mg[RECIPE_ANALYTES]; /* room passed with unfavourable effects: > 0 above, < 0 below, 0 inside */
    double passed_mg_l[RECIPE_ANALYTES];
    double swing_mg[RECIPE_ANALYTES]; /* daily change passed, likewise */
};

struct recipe {
    size_t n_pots, n_broadcasts, n_limits;
    struct recipe_pot *pots;        /* by first system; a late pot after its group's other pot */
    struct recipe_premix *premixes; /* by food; each is used by a pot */
    size_t n_premixes;
    struct recipe_broadcast *broadcasts; /* by tank, then food */
    struct recipe_limit *limits;         /* by stage, then as listed */
    struct recipe_balance *balance;      /* per system */
    double *load_frac;                   /* per system: Σ dose / ceiling, what it started with included */
    size_t *group;                       /* per system: its group 0…, by first system; RECIPE_NONE: nothing due */
    double stage_value[RECIPE_STAGES];   /* of the exact answer; of several blocks summed, as all that follows */
    size_t n_blocks;                     /* programmes that the round is made of */
    /*
     * per column of the programme: its least since full strength was settled; −INFINITY: none. NULL: several blocks
     */
    double *kept;
    double own_value[RECIPE_STAGES]; /* the same with each system in a pot of its own */
    double cost_cents;               /* from the measured amounts */
    size_t n_tried;                  /* groupings weighed against each other */
    bool capped;                     /* max_pots forced a grouping beyond the tolerances */
    bool over_cap;                   /* own pots and incompatible strengths need more than max_pots */
    struct arena arena;              /* owns all of the above */
};

/*
 * The best recipe over all groupings of systems into pots: the fewest pots that stay within the tolerances of
 * each-its-own; among those the best by stages; among equals the first in canonical order. Beyond
 * RECIPE_EXHAUSTIVE_MAX systems groups are merged greedily, cheapest merge first; beyond RECIPE_BLOCK_MAX among waters
 * that are alike, and of each food such a block has its part of the stock.
 *
 * Caller frees *r with recipe_free, also after a failure.
 * Errors: ERR_INPUT naming the food, system or tank whose number makes no sense; ERR_MEMORY; ERR_MISUSE where the
 *         solver gave up (time or iterations), which no round of sane size does.
 */
bool recipe_plan(const struct recipe_problem *p, struct recipe *r, struct err *e);

/* The same for a grouping that the caller chose: group[system] = group number, RECIPE_NONE where nothing is due. */
bool recipe_plan_groups(const struct recipe_problem *p, const size_t *group, struct recipe *r, struct err *e);

void recipe_free(struct recipe *r);

/*
 * What r would be, its grouping kept, if one of its limits gave way by `by` units: the plain words behind a price. For
 * a ceiling, a stock, room or a day's change. Caller frees *after with recipe_free, also after a failure.
 * Errors: ERR_MISUSE for another kind of limit or by < 0; else as recipe_plan.
 */
bool recipe_loosen(const struct recipe_problem *p, const struct recipe *r, const struct recipe_limit *limit, double by,
                   struct recipe *after, struct err *e);

/*
 * The programme of one stage in CPLEX LP format, for the grouping of r, with earlier stages held at r's values. Names
 * are explained in comment lines. Appends to t. ERR_INPUT where r is made of several programmes.
 */
bool recipe_write_lp(const struct recipe_problem *p, const struct recipe *r, enum recipe_stage stage, struct text *t,
                     struct err *e);

/* ---- a pot that came out larger or smaller ---------------------------------------------------------------------- */

struct recipe_rescale_request {
    size_t pot;
    double made_ml;         /* > 0 */
    const double *amounts;  /* per line of the pot what went in; NULL: as planned */
    const double *given_ml; /* per tank what has been given of this pot already; NULL: nothing */
};

struct recipe_portion {
    size_t tank;
    double planned_ml; /* as on the sheet */
    double left_ml;    /* still to give now, rounded down to the syringe step */
    double load_frac;  /* Σ dose / ceiling of its water, with all portions of the pot */
    bool cut;          /* a syringe step or more below plan: a ceiling, or too little made */
};

/*
 * What is left for each tank of the pot, so that each gets its planned food out of the volume that was really made, and
 * no ceiling is passed. portions has room for p->n_tanks; *n are filled, in tank order.
 * Errors: ERR_INPUT for an impossible volume or amount.
 */
bool recipe_rescale(const struct recipe_problem *p, const struct recipe *r, const struct recipe_rescale_request *made,
                    struct recipe_portion *portions, size_t *n, struct err *e);

#endif
