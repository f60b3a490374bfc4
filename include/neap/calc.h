/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * calc: volume, units, chemistry, density and dose. Values in, values out: no allocation, no state, no I/O.
 *
 * Every function that takes a value from outside returns bool: on failure *e (ERR_INPUT) names the value and what was
 * expected, and the output is untouched. A plain factor returns its answer. Nothing here is rounded except where the
 * name or the comment says so. Formulas, sources and checks: docs/arithmetic.md; printed values: tests/handbook/.
 */
#ifndef NEAP_CALC_H
#define NEAP_CALC_H

#include "neap/base.h"

/* ---- volume (src/calc/volume.c, checks in tests/unit/test_volume.c) ---------------------------------------- */

/* Upright vessels: the shape is that of the floor, and the water stands water_cm deep in it. */
enum tank_shape {
    SHAPE_BOX,              /* length, width, water */
    SHAPE_CYLINDER,         /* diameter, water */
    SHAPE_HALF_CYLINDER,    /* diameter (the flat back), water */
    SHAPE_QUARTER_CYLINDER, /* side (one straight side, which is the radius), water */
    SHAPE_BOW_FRONT,        /* length (the back), width (at the ends), bow (what the front adds in its middle), water */
    SHAPE_PRISM,            /* sides, side (regular floor), water */
    SHAPE_CUT_CORNER,       /* length, width, cut length, cut width (legs of the missing triangle), water */
    SHAPE_STATED,           /* stated volume; no measures */
    N_SHAPES
};

/* Inside measures. NAN (n_sides: 0): not given. Start from TANK_MEASURES_NONE and fill in what the shape uses. */
struct tank_measures {
    enum tank_shape shape;
    double length_cm, width_cm, water_cm, diameter_cm, bow_cm, side_cm;
    int n_sides;
    double cut_length_cm, cut_width_cm, stated_l;
};

#define TANK_MEASURES_NONE                                                                                             \
    {                                                                                                                  \
        .shape = SHAPE_BOX, .length_cm = NAN, .width_cm = NAN, .water_cm = NAN, .diameter_cm = NAN, .bow_cm = NAN,     \
        .side_cm = NAN, .n_sides = 0, .cut_length_cm = NAN, .cut_width_cm = NAN, .stated_l = NAN                       \
    }

const char *tank_shape_name(enum tank_shape shape); /* "bow front"; static */

/* Case is ignored, and "-" or "_" does for a blank; an unknown name offers the nearest, or all. */
bool tank_shape_find(const char *name, enum tank_shape *shape, struct err *e);

/*
 * Litres of water up to the water line, by the floor area of the shape. A measure that is missing, wrong, or of no use
 * to the shape is refused by its name. Limits: lengths up to 10 000 cm, 3 to 100 sides, bow up to half the length,
 * cut legs up to the sides they shorten, stated up to 1e8 L.
 */
bool volume_gross(const struct tank_measures *m, double *volume_l, struct err *e);

/* gross × (1 − displacement): what rock, sand and frames leave. displacement_frac in [0, 1). */
bool volume_net(double gross_l, double displacement_frac, double *net_l, struct err *e);

/* ---- units (src/calc/units.c, tests/unit/test_units.c): exact by definition ------------------------------- */

double litres_from_us_gal(double us_gal);
double us_gal_from_litres(double litres);
double litres_from_imp_gal(double imp_gal);
double imp_gal_from_litres(double litres);
double litres_from_cubic_feet(double cubic_feet);
double ml_from_us_fl_oz(double us_fl_oz);
double us_fl_oz_from_ml(double ml);
double ml_from_us_tsp(double us_tsp); /* 4.93 mL; a label's teaspoon is 5 mL */
double us_tsp_from_ml(double ml);
double cm_from_inches(double inches);
double inches_from_cm(double cm);
double g_from_oz(double oz); /* avoirdupois */
double oz_from_g(double g);
double g_from_lb(double lb);
double fahrenheit_from_celsius(double celsius);
double ml_from_drops(double drops, double drops_per_ml); /* drops_per_ml > 0; a setting, never fixed */
double drops_from_ml(double ml, double drops_per_ml);

/* ---- chemistry (src/calc/chemistry.c, tests/unit/test_chemistry.c) ----------------------------------------- */

/* What a concentration is the concentration of. Readings are kept on the ion basis: NO3, never NO3-N. */
enum species {
    SPECIES_NONE, /* not said */
#define SPECIES(id, ...) SPECIES_##id,
#include "neap/species.def"
    N_SPECIES
};

const char *species_name(enum species s); /* "NO3"; "" for none; static */
double species_g_per_mol(enum species s); /* molar mass; NAN for none */

/*
 * The units that its concentrations are shown in, by mass and then by moles: the i-th, "mg/L NO3-N"; NULL past the
 * last.
 */
const char *species_unit(enum species s, size_t i);

double no3_from_no3_n(double no3_n); /* any mass unit, the same out as in */
double po4_from_po4_p(double po4_p);
/*
 * Nitrogen of a protein stated on a label: ÷ 6.25, since protein is taken to hold 16 % of it (Jones, USDA Circular 183,
 * 1931; labels are made by the same factor, whatever the food).
 */
double n_from_protein(double protein);

/* Molar N:P of dissolved nitrate and phosphate; no3_mg_l ≥ 0, po4_mg_l > 0. */
bool np_ratio_molar(double no3_mg_l, double po4_mg_l, double *ratio, struct err *e);

/*
 * The fraction of total ammonia that is un-ionised NH3; pH 4 to 11, 0 to 40 °C, 0 to 42 psu. salinity_psu NAN: not
 * known, then as in fresh water (Emerson et al. 1975), where it is largest: the careful side. Else by Bell et al. 2007.
 * Checks: tests/handbook/chemistry.csv.
 */
bool nh3_unionised_frac(double ph, double temp_c, double salinity_psu, double *frac, struct err *e);
double nh3_from_nh3_n(double nh3_n); /* any mass unit, the same out as in */

/* What one g (or mL) of food adds to the water, mg of the ion: composition × molar factor × released fraction. */
double effect_no3_mg_per_unit(double n_mg_per_unit, double released_frac);
double effect_po4_mg_per_unit(double p_mg_per_unit, double released_frac);

/* ---- density (src/calc/density.c, tests/unit/test_density.c, tests/cross/gsw_density.py) ------------------- */

/*
 * Sea water at one atmosphere, EOS-80 (Fofonoff and Millard 1983, UNESCO Tech. Pap. Mar. Sci. 44).
 * salinity_psu: practical salinity, 0 to 42; temp_c: ITS-90, −2 to 40 °C.
 */
bool seawater_density(double salinity_psu, double temp_c, double *kg_m3, struct err *e);

/* Density of sea water at temp_c over that of pure water at ref_temp_c: 25/25, 25/4 and 20/20 are different scales. */
bool specific_gravity(double salinity_psu, double temp_c, double ref_temp_c, double *sg, struct err *e);

/* The inverse, to 1e-9 psu; sg must belong to a salinity of 0 to 42. */
bool salinity_from_specific_gravity(double sg, double temp_c, double ref_temp_c, double *salinity_psu, struct err *e);

/* ---- dose and dilution (src/calc/dose.c, tests/unit/test_dose.c) ------------------------------------------- */

/* Rise of the concentration when amount_mg of a product, of which active_frac counts, goes into volume_l. */
bool dose_rise_mg_l(double amount_mg, double active_frac, double volume_l, double *rise_mg_l, struct err *e);

/* The amount of product for a wanted concentration: volume × concentration ÷ active fraction. */
bool dose_amount_mg(double volume_l, double wanted_mg_l, double active_frac, double *amount_mg, struct err *e);

/* C1 V1 = C2 V2, any one concentration unit and any one volume unit. The stock must be the stronger one. */
bool dilution_conc(double stock_conc, double stock_volume, double final_volume, double *conc, struct err *e);
bool dilution_stock_volume(double stock_conc, double wanted_conc, double final_volume, double *stock_volume,
                           struct err *e);

/* n changes of the same fraction, one after the other, with water of concentration fresh_mg_l. n = 1: a single one. */
bool water_change_mg_l(double level_mg_l, double fresh_mg_l, double changed_frac, long n, double *after_mg_l,
                       struct err *e);

/* The fraction to change at once to come from one level to another; refused where the fresh water cannot do it. */
bool water_change_frac(double level_mg_l, double fresh_mg_l, double wanted_mg_l, double *changed_frac, struct err *e);

/* Continuous exchange of a well mixed volume: exchanged_frac is the volume let in over the volume of the system. */
bool washout_mg_l(double level_mg_l, double fresh_mg_l, double exchanged_frac, double *after_mg_l, struct err *e);

/* Minutes of continuous exchange until removed_frac (0 to < 1) is gone, at exchanges_per_h volumes an hour. */
bool washout_min(double removed_frac, double exchanges_per_h, double *time_min, struct err *e);

/*
 * A jug, or a syringe with its tube. What fits into ten of its graduations is taken in a small one: it reads five times
 * as fine and keeps a fifth of what the large one keeps. Common practice, no source.
 *
 *   step_ml, dead_ml   graduation of the large one, > 0, and what never comes out of it, >= 0
 *   held_ml            what is in it
 *   wanted_ml          what is to come out of it
 */
struct vessel {
    double step_ml, dead_ml;
};

double vessel_step_ml(const struct vessel *v, double held_ml);
double vessel_dead_ml(const struct vessel *v, double held_ml);
double vessel_fill_ml(const struct vessel *v, double wanted_ml); /* to be filled in: rounded up to its graduation */

/*
 * How far off a measured amount may be: a step of its measure or a twentieth, whichever is more; of a few steps by
 * none, since each is too much of it. step > 0, amount > 0, a whole number of steps. Common practice, no source.
 */
struct allowance {
    double least, most;
};
struct allowance measure_allowance(double amount, double step);

/*
 * Broadcast volume for a tank: rate × volume, cut to the ceiling, rounded down to what the measure can read (so the
 * ceiling holds after rounding). Rates in mL per 100 L net. ceiling_ml_per_100l NAN: the label states none.
 */
struct broadcast_rule {
    double volume_l, rate_ml_per_100l, ceiling_ml_per_100l, step_ml;
};

bool broadcast_volume_ml(const struct broadcast_rule *r, double *dose_ml, struct err *e);

/* ---- quantities as people write them (src/calc/quantity.c, tests/unit/test_quantity.c) --------------------- */

enum quantity_kind {
    QUANTITY_NUMBER,        /* no unit was written */
    QUANTITY_VOLUME,        /* L */
    QUANTITY_MASS,          /* g */
    QUANTITY_LENGTH,        /* cm */
    QUANTITY_TIME,          /* min */
    QUANTITY_TEMPERATURE,   /* °C */
    QUANTITY_SALINITY,      /* psu; ppt means the same here */
    QUANTITY_GRAVITY,       /* specific gravity, on a scale the caller must ask for */
    QUANTITY_CONCENTRATION, /* mg/L, of the ion where a species was written */
    QUANTITY_ALKALINITY,    /* dKH */
    QUANTITY_PH,            /* pH */
    QUANTITY_FRACTION,      /* 0.25 for 25 % */
    QUANTITY_DOSE_RATE,     /* mL per 100 L */
    N_QUANTITY_KINDS
};

struct quantity {
    double value; /* in the base unit of its kind, above */
    enum quantity_kind kind;
    enum species species; /* SPECIES_NONE unless kind is QUANTITY_CONCENTRATION */
};

const char *quantity_kind_name(enum quantity_kind kind); /* "a volume"; static */

/* The units that are known, for help and completion: plain spelling of the i-th and its kind; NULL past the last. */
const char *quantity_unit(size_t i, enum quantity_kind *kind);

/*
 * A sign at the head of s that people and label makers write for letters or digits: *plain is those, as "u" for µ and
 * "in" for ″. Returns how many bytes it has; 0: s begins with none.
 */
size_t unit_sign(const char *s, const char **plain);

/*
 * Reads "65usgal", "65 US gal", "15 mL", "0.06 mg/L PO4", "18 ppb P", "2.2 mg/L NO3-N", "35 ppt", "78 F". Case and
 * blanks are free. Refused with a reason: a decimal comma, a unit with two meanings (gal, pt, qt, fl oz, drops,
 * mg/L N), an unknown unit (the nearest is offered), a negative amount of anything but a temperature or bare number.
 */
bool quantity_parse(const char *s, struct quantity *q, struct err *e);

/*
 * The quantity in the given unit ("usgal", "mg/L NO3-N"). Refused where the kinds differ, or the species do; a
 * concentration without species is taken to be of what the unit names.
 */
bool quantity_in(const struct quantity *q, const char *unit, double *value, struct err *e);

/* quantity_parse, then quantity_in; a bare number is taken to be in that unit. What a field or option wants. */
bool quantity_read(const char *s, const char *unit, double *value, struct err *e);

/* ---- labels (src/calc/label.c, tests/unit/test_label.c) ---------------------------------------------------------- */

/* What one g or mL holds, in mg, of a part stated as a fraction of the mass as sold; g_per_unit: 1, or a mL's mass. */
double mg_per_unit_from_frac(double part_frac, double g_per_unit);

/*
 * A dose as labels print it: "5 mL per 50 US gal", "1 g for 100 L", "5mL/50usgal", "1 tsp per 20 impgal", "2 mL per L".
 * *per_100l: the amount for 100 L, a volume in L or a mass in g. Refused: no volume of water, an amount that is
 * neither, units of two meanings (gal), as quantity_parse does.
 */
bool rate_parse(const char *s, struct quantity *per_100l, struct err *e);

#endif
