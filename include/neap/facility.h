/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * facility: the words of the trade as plain data, and one table that describes every field of them.
 *
 * The table (reg_find, struct field) is the single place where a field's name, type, limits, unit, default and help
 * stand. Loading, dumping, storing, listing, adding and the printed help all read it; to add a field, add a struct
 * member, its row in src/facility/registers.c, and raise the store's version.
 *
 * Conventions. Text is UTF-8, borrowed from the owner's arena, never NULL ("" when empty). An empty number is NAN, an
 * empty day DAY_NONE, an empty moment MOMENT_NONE, an empty reference REF_NONE. A reference is the index into the
 * array of the register it points to.
 */
#ifndef NEAP_FACILITY_H
#define NEAP_FACILITY_H

#include "neap/base.h"

#define REF_NONE SIZE_MAX

struct facility;

#define CLOCK_NONE (-1)

enum { FIELDS_MAX = 60, NAME_BYTES_MAX = 60, NOTE_BYTES_MAX = 400 };

/* ---- choices (the order is that of the names in registers.c) ---------------------------------------------------- */

enum nutrient_row {
#define NUTRIENT(id, ...) NUTRIENT_##id,
#define ANALYTE(...)
#include "neap/analytes.def"
    NUTRIENT_ROWS
};

enum analyte {
#define ANALYTE(id, ...) ANALYTE_##id,
#include "neap/analytes.def"
    N_ANALYTES,
    N_NUTRIENTS = NUTRIENT_ROWS /* how many of them food is reckoned against: the first */
};

enum food_form { FORM_LIQUID, FORM_LIVE, FORM_POWDER, FORM_PELLET, FORM_FROZEN };
enum food_unit { UNIT_G, UNIT_ML };
enum feeding_way { FEEDING_TARGET, FEEDING_CLOUD, FEEDING_BROADCAST, FEEDING_NONE };
enum mouth_rule { MOUTHS_ALL, MOUTHS_FRACTION, MOUTHS_ONE, MOUTHS_NONE };
enum course { COURSE_SLURRY, COURSE_LATE };
enum need { NEED_REGULAR, NEED_OBLIGATE, NEED_OPTIONAL, N_NEEDS };
enum action { ACTION_BROADCAST, ACTION_FISH, ACTION_FLOW_OFF, ACTION_TARGET, ACTION_FLOW_ON };
enum outcome { OUTCOME_GIVEN, OUTCOME_PART, OUTCOME_LATE, OUTCOME_REFUSED, OUTCOME_NOT_GIVEN };
enum sample { SAMPLE_BEFORE, SAMPLE_AFTER };
enum doubt { DOUBT_NONE, DOUBT_FLAGGED, DOUBT_CONFIRMED };
enum fed_in { FED_ANY, FED_LIGHT, FED_DARK };
enum { EVERY_DAY = 7 }; /* beside the weekdays, 0 = Monday, in struct broadcast_day */
enum caution_part { CAUTION_HEED, CAUTION_BEFORE, CAUTION_NEXT, CAUTION_TANK, CAUTION_ALWAYS };
enum unit_system { UNITS_METRIC, UNITS_US };
enum device {
    DEVICE_SKIMMER,
    DEVICE_UV,
    DEVICE_OZONE,
    DEVICE_CARBON,
    DEVICE_ROLLER,
    DEVICE_DOSING,
    DEVICE_RETURN,
    N_DEVICES
};
enum off_for { OFF_FOR_BROADCAST, OFF_FOR_FEEDING, OFF_FOR_BOTH, OFF_FOR_NOTHING };
enum tally_reason { TALLY_SOLD, TALLY_DIED, TALLY_DIVIDED, TALLY_FOUND, TALLY_MOVED, TALLY_SPLIT };

enum { RESPONSES = 5 }; /* 0 to 4 */

/* What the sheet's short codes and scores mean, by enum outcome: the legend printed and what is typed when logging. */
struct outcome_def {
    char code; /* 0: as planned, needs none */
    const char *title;
};

extern const struct outcome_def outcomes[OUTCOME_NOT_GIVEN + 1];
extern const char *const response_titles[RESPONSES];
extern const char *const device_titles[N_DEVICES]; /* as printed: "filter roller" */

enum { ANALYTE_WORDS = 4 };

/* Another word for an analyte, and what a number without a unit is in then; NULL: the analyte's own. */
struct analyte_word {
    const char *name, *unit;
};

/* What is measured of a water: a row of analytes.def, where the figures and their sources stand. */
struct analyte_def {
    const char *name;              /* as typed and stored: "no3" */
    double least, most;            /* a value outside is refused as a slip */
    const char *title;             /* as printed: "nitrate" */
    const char *unit, *unit_after; /* as printed: "mg/L" and " mg/L"; "": it has none */
    const char *basis;             /* what its mass is counted as, where it could be another: "NO3"; else "" */
    const char *measure;           /* the unit of its values, as quantity_in reads it: "mg/L NO3" */
    int decimals;
    struct analyte_word words[ANALYTE_WORDS + 1]; /* ends with a row without a name */
    struct {
        double over,
            under; /* a number alone between these may as well be in that unit, and is refused; unit NULL: none */
        const char *unit;
    } doubt;
    const char *ppb_of[3]; /* ppb alone may be of the first (its basis) or of the second (written as the third) */
    const char *mass_as;   /* mg/L alone say nothing: of this, if so written; NULL: of itself */
    bool always_found;     /* no detection limit */
    struct {
        double low, high;
    } band;                       /* where a system has none of its own */
    double error_abs, error_frac; /* ± of one reading: absolute and as a share of the value */
    double change_per_day_max;    /* largest wanted change of a level */
    double care_above;            /* on the sheet of a water that has more of it: change water, feed less; 0: never */
    double slip_ratio;            /* between one reading and the next: asked about, however many days lie between */
};

extern const struct analyte_def analytes[N_ANALYTES];

/* ---- the registers' rows ---------------------------------------------------------------------------------------- */

struct system { /* one body of water */
    const char *name;
    double sump_volume_l;
    double test_every_d;
    bool quarantine;
    bool broadcast_once;         /* for all its tanks together, into the sump or the return */
    double broadcast_position_m; /* where, along the route; NAN: at the first of its tanks */
    const char *note;
    bool retired;
    int lights_on_min, lights_off_min; /* CLOCK_NONE: not known */
    /* derived when the snapshot is complete */
    double volume_l;  /* net volume of its tanks + sump */
    int last_refused; /* day a colony of it refused; DAY_NONE: none did */
};

struct system_band {
    size_t system;
    int analyte;
    double low, high;
};

/* What would take the food out of the water, spoil it or be spoilt by it, and so is off for a while. */
struct system_switch {
    size_t system;
    int device, off_for;
    double on_after_min;  /* from the end of what it is off for */
    double off_limit_min; /* NAN: none */
    const char *note;
};

/* One of the rounds of a day, by its name. A house that has none of these has one round a day, without a name. */
struct daily_round {
    const char *name;
    int start_min;
    const char *days; /* "mon wed fri"; "": every day */
    long feeders;     /* 0: the setting */
    const char *note;
    bool retired;
};

/* What part of the day's broadcast a system gets in a round of a weekday; on other days, and in other rounds, none. */
struct broadcast_day {
    size_t system;
    int weekday;  /* 0 = Monday … 6, or EVERY_DAY: where the round has no row for the weekday itself */
    size_t round; /* of the daily rounds */
    double part_frac;
};

struct tank {
    const char *name;
    size_t system;
    int shape; /* enum tank_shape of calc.h */
    double length_cm, width_cm, water_cm, diameter_cm, bow_cm, side_cm;
    long n_sides;
    double cut_length_cm, cut_width_cm;
    double net_volume_l; /* shape "stated" only: already net */
    double displacement_frac;
    double position_m; /* along the route */
    double flow_off_limit_min;
    const char *pump; /* tanks of one pump name stop together; "": a pump of its own */
    bool fish;
    bool broadcast; /* gets the house broadcast */
    const char *hold_reason;
    int hold_until;
    const char *note;
    bool retired;
    int lights_on_min, lights_off_min; /* CLOCK_NONE: as its system's */
    /* derived */
    double gross_l, net_l;
};

struct kind {
    const char *name;
    int feeding; /* target: per mouth; cloud: per colony; broadcast; none (weedy) */
    int course;  /* the slurry, or the late-mixed pot of pellets and frozen food */
    int need;    /* how badly: obligate kinds have no light to live by; optional ones do without for long */
    double max_particle_um;
    double portion_ml; /* per mouth (target) or per colony (cloud) */
    int mouth_rule;
    double mouth_frac;
    long mouth_min, mouth_max; /* mouth_max 0: no limit */
    double interval_d;
    bool takes_powder, takes_pellet, takes_frozen;
    double flow_off_min;
    double colony_s, mouth_s; /* hands-on seconds per colony and per mouth */
    bool hand_safety;         /* may carry palytoxin */
    const char *note, *source;
    bool retired;
    bool early;       /* its tank is fed before others */
    int fed_in;       /* enum fed_in: when its mouths are open */
    long feeds_per_d; /* on a day on which it is due: its portion is shared among so many of the day's rounds */
};

struct colony { /* one coral or a lot of like corals */
    const char *code;
    const char *label;
    size_t tank, kind;
    long count, heads;
    int arrived, fed_before; /* fed_before: last fed before this store's log begins */
    const char *hold_reason;
    int hold_until;
    const char *note;
    bool retired;
    /* derived from the log */
    int last_fed;        /* DAY_NONE: never */
    int last_refused;    /* day of the latest refusal; DAY_NONE: none */
    double portion_frac; /* learned from responses; 1: the kind's portion */
    const char *look;    /* why somebody is to look at it before it is fed; "": nothing of note */
    bool look_close;     /* refused or half taken several times: look for pests too */
};

struct food {
    const char *name;
    int form, unit; /* unit: what "unit" means in the fields below, g or mL */
    double density_g_per_ml, solids_frac;
    double n_mg_per_unit, p_mg_per_unit;
    double no3_effect_mg_per_unit, po4_effect_mg_per_unit; /* declared; NAN: from the composition */
    bool strips_po4;                                       /* claimed to lower phosphate, shown or not */
    double min_particle_um, max_particle_um;
    double ceiling_units_per_100l;   /* of a water, per day */
    double broadcast_units_per_100l; /* usual rate; NAN: not broadcast */
    double blend_share_frac;         /* of the dry mass of its pot; NAN: not in a pot */
    double blend_share_min_frac, blend_share_max_frac;
    double blend_ml_per_100ml;  /* liquids in the slurry; NAN: none */
    double fish_units_per_100l; /* given to fish before the corals; NAN: no fish food */
    double scoop_g;             /* a level scoop; NAN: none known */
    double opened_life_d, lead_d;
    double pack_units;
    long price_cents;    /* per pack */
    const char *prepare; /* what must be done before the round */
    const char *note, *source;
    bool retired;
};

struct lot {
    const char *code;
    size_t food;
    double amount_units;
    int received, opened, use_by;
    long price_cents;
    const char *note;
    bool retired; /* used up or discarded */
    /* derived from the log */
    double used_units;
};

/* What is known of a test's method: of each analyte that it reads. Tests name it; it need not be here. */
struct method {
    const char *name;
    int analyte;
    double step; /* smallest step of its readings, in the analyte's unit; NAN: not known */
    const char *note;
};

struct test {
    size_t system;
    long taken;
    int analyte;
    long repeat;  /* 1, 2 … for several readings of one minute */
    double value; /* the detection limit where below */
    bool below;
    const char *method;
    int sample;
    const char *note;
    bool voided;
    int doubt; /* enum doubt: of a reading far from the one before it */
};

struct water {
    size_t system;
    long exchanged;
    long repeat;
    double volume_l;
    double no3_mg_l, po4_mg_l; /* of the new water */
    const char *note;
    bool voided;
};

/* A kept plan. All its rows carry round and revision; the highest revision is the one in force. */
struct round_head {
    long number, revision;
    int day;
    int start_min;
    long feeders;
    const char *request; /* as options, by a neap of store version 7 or before; "": see struct asked */
    int finish_min;
    double walked_m;
    double bound_min; /* no schedule can end sooner than this; NAN: not known */
    const char *name; /* which of the day's rounds; "": the only one */
};

/* One thing that was asked of a plan. What of the rest a row has, its kind says. */
enum asked_what {
    ASKED_START,    /* at_min */
    ASKED_DONE_BY,  /* at_min */
    ASKED_FEEDERS,  /* amount */
    ASKED_LATE,     /* feeder, at_min */
    ASKED_POTS,     /* amount */
    ASKED_STRENGTH, /* amount */
    ASKED_EFFORT,   /* amount */
    ASKED_FIRST,    /* tank */
    ASKED_SKIP,     /* tank */
    ASKED_FROM_NOW, /* at_min: the clock was set anew */
    N_ASKED
};

struct asked {
    long round, revision, number; /* 1, 2 … */
    int what;                     /* enum asked_what */
    size_t tank;                  /* REF_NONE: none */
    long feeder;                  /* 0: none */
    long at_min;                  /* -1: none */
    double amount;                /* NAN: none */
};

struct pot {
    long round, revision;
    const char *pot;                     /* "A", "B" … */
    const char *systems;                 /* for the eye: "north, display" */
    bool late;                           /* mixed at the tank: pellets, frozen food */
    double need_ml, made_ml, water_ml;   /* need: what the corals get; made: with losses, rounded up */
    double strength_g_per_100ml, factor; /* factor: of the house strength */
    const char *note;
    double allowed_frac; /* the least that the states of its waters allowed; NAN: not known */
};

struct pot_food {
    long round, revision;
    const char *pot;
    long rank; /* mixing order, from 1 */
    size_t food, lot;
    double amount_units; /* what comes into the pot */
    /* Too little to weigh: weigh premix_units, make up to premix_ml, take premix_take_ml. 0: weighed as it is. */
    double premix_units, premix_ml, premix_take_ml;
};

struct line {
    long round, revision, number;
    size_t tank;
    int action;
    long pass;
    size_t colony; /* target feed of one lot of colonies */
    size_t food;   /* broadcast and fish */
    size_t lot;
    const char *pot;
    long feeder;
    int start_min, end_min; /* minutes from the day's 00:00 */
    long count, mouths;     /* colonies, and mouths per colony */
    double amount;          /* mL of slurry, or units of the food; NAN for flow and rest */
    const char *note;
    bool shared; /* a broadcast into the water that its tanks share, not at the tank */
};

/* Who was due (or would be) and is not fed today, and why. */
struct waiting {
    long round, revision;
    size_t colony;
    const char *reason;
    bool due;                   /* it goes without: nobody decided so, as by a hold */
    double since_d, interval_d; /* of one that is due: days since its last feed, NAN: never fed; and as its kind asks */
};

struct caution {
    long round, revision, rank;
    int part;    /* enum caution_part: where on the sheet it stands */
    size_t tank; /* under whose heading, for CAUTION_TANK; else REF_NONE */
    const char *text;
};

/* A device that is off for a part of the round, and who turns it off and on again. */
struct switching {
    long round, revision, number; /* 1, 2 … by the minute it goes off */
    size_t system;
    int device;
    int off_min, on_min; /* minutes from the day's 00:00 */
    long off_feeder, on_feeder;
    const char *note;
};

/* What became of a line. A later version replaces an earlier one; none is ever deleted. */
struct given {
    long round, line;
    long sheet_revision; /* of the sheet it was logged from */
    int outcome;
    double amount; /* as in the line; NAN: nothing measured */
    long response; /* 0 to 4, -1: not judged */
    long at_min;   /* minute of the day; -1: not noted */
    const char *note;
    bool voided;
};

/* Food given beside the plan, on a round's day. */
struct extra {
    long round, number;
    size_t tank, food, lot;
    double amount_units;
    long at_min;
    const char *note;
    bool voided;
};

/* What was really mixed of a pot, and what was thrown away of it. */
struct mixed {
    long round;
    const char *pot;
    double made_ml, left_ml; /* left NAN: not noted */
    const char *note;
    bool voided;
};

/* What the scale said for a row of a pot's table (of the premix, where the row has one). */
struct weighed {
    long round;
    const char *pot;
    long rank;
    double amount_units;
    const char *note;
    bool voided;
};

/* Food that left a lot unfed: spilt, spoilt, discarded. */
struct waste {
    size_t lot;
    long wasted, repeat;
    double amount_units;
    const char *reason;
    bool voided;
};

/* Who a round's feeder of a number was. */
struct crew {
    long round, feeder;
    const char *name; /* or initials */
    bool voided;
};

/* When a device was really off for a round. */
struct switched {
    long round;
    size_t system;
    int device;
    /* minutes from the day's 00:00; off -1: it was not turned off; on -1: it is not on again yet */
    long off_min, on_min;
    bool voided;
};

/* What somebody noted of a round as a whole. */
struct remark {
    long round, number;
    const char *text;
    bool voided;
};

/* A dip, bath or treatment: of one lot of corals, or of all that is in a tank. */
struct treatment {
    long treated, repeat;
    size_t tank;   /* where it was */
    size_t colony; /* REF_NONE: all that was in the tank */
    const char *what;
    double duration_min; /* NAN: not noted */
    const char *note;
    bool voided;
};

/* Why a lot of colonies has another count or stands elsewhere. */
struct colony_tally {
    size_t colony;
    long changed, repeat;
    long change; /* of the count; 0: only moved */
    int reason;
    size_t tank, from_tank; /* where it stands since; moved: where it came from */
    size_t other;           /* moved in part, split or cut: the colony it became or came from */
    const char *from_file;  /* a till's file that it was booked from */
    const char *note;
    bool voided;
};

/* The house's own figures; see registers.c for unit, limits, default and source of each. */
struct settings {
    const char *facility;
    const char *currency; /* "none": not said */
    int units;
    long feeders;
    int start_min;
    double lag_min_min, lag_max_min;
    double strength_g_per_100ml;
    double lean_frac, full_frac, thin_frac, rise_frac_per_week, effect_sd_frac;
    double ceiling_target_frac, ceiling_cloud_frac; /* of a portion, what counts towards the ceilings */
    double cue_frac, portion_least_frac;            /* what the broadcast, and portions, may be cut to */
    double loss_frac, syringe_dead_ml, pot_dead_ml;
    double syringe_step_ml, pot_step_ml, broadcast_step_ml, liquid_step_ml, scale_step_g, premix_ml;
    double syringe_ml, refill_s;
    double rest_min, flow_on_gap_min, switch_min, broadcast_s, fish_s, tank_fixed_s;
    double walk_m_per_min, tool_change_min, pot_change_min, pot_mix_min, slurry_life_min;
    double arrival_wait_d, arrival_half_d;
    double quarantine_d;
    double dark_flow_off_frac; /* of a tank's flow_off_limit_min, where its lights are off */
    double day_hands_min;
    double window_d, stale_d;
    double n_released_target_frac, p_released_target_frac, n_released_broadcast_frac, p_released_broadcast_frac;
};

/* ---- the table of fields ---------------------------------------------------------------------------------------- */

enum reg_id {
    REG_SETTING,
    REG_SYSTEM,
    REG_BAND,
    REG_SWITCH,
    REG_DAILY_ROUND,
    REG_BROADCAST_DAY,
    REG_TANK,
    REG_KIND,
    REG_COLONY,
    REG_FOOD,
    REG_LOT,
    REG_METHOD,
    REG_TEST,
    REG_WATER,
    REG_ROUND,
    REG_ASKED,
    REG_POT,
    REG_POT_FOOD,
    REG_LINE,
    REG_WAITING,
    REG_CAUTION,
    REG_SWITCHING,
    REG_GIVEN,
    REG_EXTRA,
    REG_MIXED,
    REG_WEIGHED,
    REG_CREW,
    REG_REMARK,
    REG_SWITCHED,
    REG_TREATMENT,
    REG_WASTE,
    REG_TALLY,
    N_REGS
};

/* How a field is written, stored, and held in its struct. */
enum field_type {
    FIELD_TEXT,   /* free text; const char * */
    FIELD_NAME,   /* text that names its row or another thing; const char * */
    FIELD_NUMBER, /* double */
    FIELD_COUNT,  /* whole number; long */
    FIELD_FLAG,   /* yes or no; bool */
    FIELD_DAY,    /* YYYY-MM-DD; int */
    FIELD_MOMENT, /* YYYY-MM-DDTHH:MM; long */
    /* HH:MM; int minute of the day, CLOCK_NONE where empty; a max of a day or more lets it pass midnight */
    FIELD_CLOCK,
    FIELD_CHOICE, /* one of the listed words; int */
    FIELD_REF     /* the key of a row of another register; size_t */
};

enum { FIELD_KEY = 1, FIELD_REQUIRED = 2 };

struct field {
    const char *name; /* column, CSV heading, JSON key and command-line word */
    enum field_type type;
    unsigned flags;
    size_t offset;              /* of the member in the register's struct */
    double min, max;            /* both 0: no limits */
    const char *const *choices; /* FIELD_CHOICE: ends with NULL */
    enum reg_id ref;
    const char *fallback; /* what an empty entry means; NULL: it stays empty */
    const char *help;
};

struct reg {
    const char *name;  /* "tank": file stem, JSON key, command-line word and table */
    const char *title; /* one line of help */
    const struct field *fields;
    size_t n_fields, row_size;
    size_t array_offset, count_offset; /* of the rows and their count in struct facility; round parts: unused */
    enum reg_id part_of; /* its rows begin with the keys of a row of that register; REG_SETTING: of none */
    bool ledger;         /* append-only: a changed row is a new version, never an update */
    bool typed;          /* entered by load, add and set (not made by plan or log alone) */
    /* Checks across fields of a filled row (references not looked at). *field: the one to blame. NULL: none. */
    bool (*check)(const void *row, size_t *field, struct err *e);
};

const struct reg *reg_get(enum reg_id id);               /* borrowed, static */
const struct reg *reg_find(const char *name);            /* NULL: no such register */
size_t reg_field(const struct reg *r, const char *name); /* index, or SIZE_MAX */
bool field_is_key(const struct field *f);
const struct reg *settings_reg(void); /* the fields of struct settings, as a register of one row */

/* Are there two figures of the house that cannot both be meant? ERR_INPUT names them. Looked at when one is entered. */
bool settings_check(const struct settings *s, struct err *e);

/* ---- cells: one field's value between a file or the store and a struct ------------------------------------------ */

enum cell_kind { CELL_EMPTY, CELL_TEXT, CELL_NUMBER, CELL_WHOLE };

/* Days, moments, clocks, choices and references are text in the canonical form; counts and flags are whole numbers. */
struct cell {
    enum cell_kind kind;
    const char *text; /* borrowed */
    double number;
    long whole;
};

/*
 * Reads what a person or a file wrote for a field. Empty text gives CELL_EMPTY (the fallback applies when a row is
 * filled). Text is checked (UTF-8, no control characters, length; a name also: no blank at either end, no leading
 * = + - @, which a spreadsheet would run), brought to Unicode NFC, and copied to the arena.
 *
 * Errors: ERR_INPUT, "is "…"; expected …" without place or field name, which the caller puts before it; ERR_MEMORY.
 */
bool cell_parse(const struct field *f, const char *text, struct arena *a, struct cell *c, struct err *e);

/*
 * cell_parse, and a number may carry a unit where its field's name ends in one: "16in" for water_cm, "8 %" for
 * displacement_frac. Errors: as cell_parse; of the unit, in the words of quantity_read.
 */
bool cell_read(const struct field *f, const char *text, struct arena *a, struct cell *c, struct err *e);

/*
 * The cell of a number that stands for text, as it was written in another unit: by the limits of the field's own.
 * Errors: as cell_parse, with text and the field's name before them.
 */
bool cell_converted(const struct field *f, double value, const char *text, struct arena *a, struct cell *c,
                    struct err *e);

/* The text that cell_parse reads back as the same cell; "" for an empty one. */
void cell_format(const struct field *f, const struct cell *c, struct text *out);
bool cell_same(const struct cell *a, const struct cell *b);

/*
 * Between cells and a struct row, field by field. Filling applies fallbacks; a reference is left REF_NONE (the
 * snapshot resolves it). A required field that is empty is an error, *field the one to blame; texts are borrowed from
 * the cells. Reading a reference needs the facility it points into; texts made are the arena's.
 */
bool row_fill(const struct reg *r, const struct cell *cells, void *row, size_t *field, struct err *e);
bool row_read(const struct reg *r, const void *row, const struct facility *f, struct cell *cells, struct arena *a,
              struct err *e);

/* ---- the snapshot ----------------------------------------------------------------------------------------------- */

/* All that planning, trends and printing look at. Rows of a register are sorted by key (byte order). */
struct facility {
    struct arena arena; /* owns every row and text below */
    struct settings settings;
    struct system *systems;
    size_t n_systems;
    struct system_band *bands;
    size_t n_bands;
    struct system_switch *switches;
    size_t n_switches;
    struct daily_round *daily_rounds;
    size_t n_daily_rounds;
    struct broadcast_day *broadcast_days;
    size_t n_broadcast_days;
    struct tank *tanks;
    size_t n_tanks;
    struct kind *kinds;
    size_t n_kinds;
    struct colony *colonies;
    size_t n_colonies;
    struct food *foods;
    size_t n_foods;
    struct lot *lots;
    size_t n_lots;
    struct method *methods;
    size_t n_methods;
    struct test *tests; /* by system, then moment */
    size_t n_tests;
    struct water *waters;
    size_t n_waters;
    struct fed *feds; /* by system, day, food */
    size_t n_feds;
    struct strength *strengths; /* by system, day */
    size_t n_strengths;
    struct draw *draws; /* by lot, day */
    size_t n_draws;
    struct day_use *day_uses; /* by day, round, line */
    size_t n_day_uses;
    struct day_claim *day_claims; /* by day, round */
    size_t n_day_claims;
};

/*
 * What one line of a kept round brings a tank of one food: as logged, else as planned. Of the last days only: the
 * rounds of one day have the ceilings of the day, and the corals that are due, between them.
 */
struct day_use {
    int day;
    const char *round; /* its name */
    size_t tank, colony, food;
    int action;   /* enum action; ACTION_TARGET without a colony: a solid given beside the plan */
    bool refused; /* it fed nobody */
    bool planned; /* not logged yet */
    double units;
};

/*
 * What a kept round of the last days is still to take from a lot: pots not mixed, broadcasts and fish food not given.
 */
struct day_claim {
    int day;
    const char *round;
    size_t lot;
    double units;
};

/*
 * The strength, in house strengths, that its state allowed a system on a day on which it was fed, by logged lines: not
 * what a ceiling or an empty lot left of it.
 */
struct strength {
    size_t system;
    int day;
    double factor;
};

/* What left a lot on a day, as fed (losses of the pot with it) and as waste. */
struct draw {
    size_t lot;
    int day;
    double fed_units, wasted_units;
};

/* The food ledger: what one system was given of one food on one day, by logged lines. */
struct fed {
    size_t system, food;
    int day;
    double target_units; /* brought to mouths, from the pots */
    double broadcast_units;
    double fish_units; /* fish food, and solids given beside the plan */
    long cost_cents;
};

/* Index of the row with this key, or REF_NONE. For registers with one key field of text. */
size_t facility_find(const struct facility *f, enum reg_id id, const char *key);

/* facility_find for a name as typed: where nothing has it, the one row that has it in another case. */
size_t facility_named(const struct facility *f, enum reg_id id, const char *typed);

/* Gross litres of a tank by its shape and measures. Errors: ERR_INPUT naming the measure. */
bool tank_gross(const struct tank *t, double *gross_l, struct err *e);

/* Fills the derived fields. Errors: ERR_INPUT naming the tank whose measures do not make a volume. */
bool facility_derive(struct facility *f, struct err *e);

/* May a coral in the tank carry palytoxin? Held and weedy ones count: a hand brushes past them all the same. */
bool colony_may_be_toxic(const struct facility *f, const struct colony *c);
bool tank_may_be_toxic(const struct facility *f, size_t tank);

/* The band of an analyte in a system: its own, else the analyte's default. */
void facility_band(const struct facility *f, size_t system, enum analyte a, double *low, double *high);

/* The step in which a method gives its readings of an analyte; 0: not known. */
double method_step(const struct facility *f, const char *method, enum analyte a);

/* ---- the rounds of a day, and light ------------------------------------------------------------------------------ */

enum { WEEKDAYS = 7 };

/* "mon wed fri", parted by blanks or commas; "": all of them. Errors: ERR_INPUT quoting what is no weekday. */
bool weekdays_read(const char *text, bool days[WEEKDAYS], struct err *e);

/*
 * The daily rounds that are held on a day, by their start, then name: places in the facility's. Room for all; returns
 * how many.
 */
size_t daily_rounds_on(const struct facility *f, int day, size_t *out);

/*
 * Are a tank's lights off at a minute, which may be past midnight? Where nobody entered its lights: no, and *known
 * false.
 */
bool is_dark(const struct facility *f, size_t tank, int minute, bool *known);

/* Cents for one unit: what was paid for the lot, else the price of the food's pack. lot REF_NONE: not known which. */
double lot_unit_cents(const struct facility *f, size_t food, size_t lot);

void facility_free(struct facility *f);

/* ---- an amount of food as a person writes it --------------------------------------------------------------------- */

const char *food_unit_name(const struct food *f);                 /* "g" or "mL" */
double food_step(const struct settings *s, const struct food *f); /* what the scale, or the small syringe, reads to */

double amount_round(double units); /* as amounts of food are kept: in thousandths of the food's unit */

/*
 * "15", "15 mL", "0.5oz" in the food's unit, to a thousandth. A mass of what is counted in mL, and a volume of what is
 * counted in g, are converted by the food's density. Errors: as quantity_read.
 */
bool food_amount_read(const struct food *f, const char *text, double *units, struct err *e);

/* "field=value" into its two halves; *value points into arg, *name is copied to name[60]. Errors: ERR_MISUSE. */
bool split_assignment(const char *arg, char name[NAME_BYTES_MAX + 1], const char **value, struct err *e);

/* ---- a reading as a person writes it ----------------------------------------------------------------------------- */

/*
 * What a specific gravity was read at, and the pure water it is compared with. 25/25 is the usual glass hydrometer's.
 */
struct gravity_scale {
    double temp_c, ref_temp_c;
};

struct measured {
    int analyte;  /* enum analyte */
    double value; /* in the analyte's measure; the limit where below */
    bool below;
};

/*
 * name: an analyte ("no3"), or another word for it ("nitrate", "no3_n", "sg"). text: a number with or without a unit
 * ("8.2dKH", "18ppb P", "1.0264sg", "78F"), "<" or "below" before it for below detection. Kept to two decimals more
 * than the analyte is printed with.
 *
 * A number alone is in the word's own unit, and mg/L or ppm alone are on its basis. Refused, with what to write: what
 * the analyte's row says may be of two units or of two things (ppb of phosphate or phosphorus, alkalinity below 5, a
 * salinity that looks like a specific gravity), and ">". Limits are the register's (its check).
 *
 * Errors: ERR_NOT_FOUND no such analyte, the nearest offered; ERR_INPUT.
 */
bool measured_parse(const char *name, const char *text, const struct gravity_scale *scale, struct measured *r,
                    struct err *e);

int analyte_named(const char *name); /* by any of its names; N_ANALYTES: none has it */

/* "nitrate 8.5 mg/L as NO3", "phosphate below 0.02 mg/L as PO4". */
void measured_words(const struct measured *r, struct text *out);

/*
 * Is a reading so far from the one before it that a slip is likelier than a change? It is where the difference passes
 * three times the ± of the reading before and also what the largest wanted change a day would have moved in the days
 * between, of which at most 14 count; and, upwards as downwards, where it is by the analyte's slip_ratio or more (a
 * point that slipped, figures in the wrong order) and twice the ± at the lower of the two. Common practice, no source.
 * Of a reading below detection its limit is what is known.
 */
struct past_reading {
    long taken;
    double value;
    bool below;
};

/* What the head of a note said of its reading before there was a field for it; DOUBT_NONE: nothing. */
enum doubt doubt_in_note(const char *note);

bool measured_is_jump(const struct past_reading *last, const struct measured *now, long taken);

#endif
