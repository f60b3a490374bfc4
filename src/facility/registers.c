/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The table of every register and field. Limits are what a slip of the fingers would pass, not what is wise. Where a
 * default is a fact of the trade, docs/arithmetic.md gives its source or says "common practice".
 */
#include "neap/facility.h"

#include "neap/calc.h"

#define AS(unit_, basis_) .unit = unit_, .unit_after = " " unit_, .basis = basis_, .measure = unit_ " " basis_
#define IN(unit_) .unit = unit_, .unit_after = " " unit_, .basis = "", .measure = unit_
#define IN_OF(unit_, species_) .unit = unit_, .unit_after = " " unit_, .basis = "", .measure = unit_ " " species_
#define BARE(unit_) .unit = "", .unit_after = "", .basis = "", .measure = unit_
#define ANALYTE(id_, name_, least_, most_, ...)                                                                        \
    [ANALYTE_##id_] = {.name = name_, .least = least_, .most = most_, __VA_ARGS__},
const struct analyte_def analytes[N_ANALYTES] = {
#include "neap/analytes.def"
};

static const char *const analyte_names[] = {
#define ANALYTE(id_, name_, ...) name_,
#include "neap/analytes.def"
    NULL};

#define NUTRIENT(id_, ...) _Static_assert((int)NUTRIENT_##id_ == (int)ANALYTE_##id_, "nutrients stand first");
#define ANALYTE(...)
#include "neap/analytes.def"

/* The least and the most that any of them may be: a union is as large as its largest member. */
enum { FAR = 1000000 };
union analyte_least {
#define ANALYTE(id_, name_, least_, ...) char id_[FAR - (least_)];
#include "neap/analytes.def"
};
union analyte_most {
#define ANALYTE(id_, name_, least_, most_, ...) char id_[FAR + (most_)];
#include "neap/analytes.def"
};
#define WITHIN_ANY_ANALYTE                                                                                             \
    WITHIN((double)FAR - (double)sizeof(union analyte_least), (double)sizeof(union analyte_most) - (double)FAR)

const struct outcome_def outcomes[OUTCOME_NOT_GIVEN + 1] = {
    {0, "as planned"}, {'p', "part given"}, {'l', "late"}, {'r', "refused"}, {'n', "not given"},
};

const char *const response_titles[RESPONSES] = {"nothing taken", "a little", "half", "most", "all at once"};

const char *const device_titles[N_DEVICES] = {"skimmer",       "UV",          "ozone",      "carbon",
                                              "filter roller", "auto-dosing", "return pump"};

static const char *const shape_names[] = {
    "box", "cylinder", "half cylinder", "quarter cylinder", "bow front", "prism", "cut corner", "stated", NULL};
static const char *const form_names[] = {"liquid", "live", "powder", "pellet", "frozen", NULL};
static const char *const unit_names[] = {"g", "ml", NULL};
static const char *const feeding_names[] = {"target", "cloud", "broadcast", "none", NULL};
static const char *const mouth_names[] = {"all", "fraction", "one", "none", NULL};
static const char *const course_names[] = {"slurry", "late", NULL};
static const char *const need_names[] = {"regular", "obligate", "optional", NULL};
static const char *const action_names[] = {"broadcast", "fish", "flow-off", "target", "flow-on", NULL};
static const char *const outcome_names[] = {"given", "part", "late", "refused", "not-given", NULL};
static const char *const sample_names[] = {"before", "after", NULL};
static const char *const asked_names[] = {"start",  "done-by", "feeders", "late",     "pots", "strength",
                                          "effort", "first",   "skip",    "from-now", NULL};
static const char *const doubt_names[] = {"none", "flagged", "confirmed", NULL};
static const char *const fed_in_names[] = {"any", "light", "dark", NULL};
static const char *const weekday_names[] = {"mon", "tue", "wed", "thu", "fri", "sat", "sun", "every", NULL};
static const char *const caution_part_names[] = {"heed", "before", "next", "tank", "always", NULL};
static const char *const device_names[] = {"skimmer", "uv", "ozone", "carbon", "roller", "dosing", "return", NULL};
static const char *const off_for_names[] = {"broadcast", "feeding", "both", "nothing", NULL};
static const char *const tally_names[] = {"sold", "died", "divided", "found", "moved", "split", NULL};
static const char *const unit_system_names[] = {"metric", "us", NULL};

#define FIELD(type_, struct_, member_, help_, ...)                                                                     \
    {                                                                                                                  \
        .name = #member_, .type = type_, .offset = offsetof(struct struct_, member_), .help = help_, __VA_ARGS__       \
    }
#define IS_KEY .flags = FIELD_KEY | FIELD_REQUIRED
#define IS_REQUIRED .flags = FIELD_REQUIRED
#define WITHIN(least_, most_) .min = least_, .max = most_
#define ELSE(text_) .fallback = text_
#define ONE_OF(names_) .choices = names_
#define TO(reg_) .ref = reg_
#define MAY_BE_EMPTY .fallback = NULL
#define MAY_PASS_MIDNIGHT WITHIN(0, 99 * 60 + 59) /* as far as two digits of hours go */

static const struct field system_fields[] = {
    FIELD(FIELD_NAME, system, name, "what the house calls this body of water", IS_KEY),
    FIELD(FIELD_NUMBER, system, sump_volume_l, "water in sump and pipes", WITHIN(0, 1e6), ELSE("0")),
    FIELD(FIELD_NUMBER, system, test_every_d, "days between nutrient tests", WITHIN(1, 365), ELSE("7")),
    FIELD(FIELD_FLAG, system, quarantine, "fed last, with its own tools and pot", ELSE("no")),
    FIELD(FIELD_FLAG, system, broadcast_once,
          "broadcast food goes in once for all its tanks, by the sump or the return", ELSE("no")),
    FIELD(FIELD_NUMBER, system, broadcast_position_m, "where it goes in along the route; empty: at its first tank",
          WITHIN(0, 10000)),
    FIELD(FIELD_TEXT, system, note, "anything", ELSE("")),
    FIELD(FIELD_FLAG, system, retired, "no longer in use", ELSE("no")),
    FIELD(FIELD_CLOCK, system, lights_on_min, "when its lights go on; empty: not known", MAY_BE_EMPTY),
    FIELD(FIELD_CLOCK, system, lights_off_min, "when its lights go off; empty: not known", MAY_BE_EMPTY),
};

static const struct field band_fields[] = {
    FIELD(FIELD_REF, system_band, system, "the body of water", IS_KEY, TO(REG_SYSTEM)),
    FIELD(FIELD_CHOICE, system_band, analyte, "what is measured", IS_KEY, ONE_OF(analyte_names)),
    FIELD(FIELD_NUMBER, system_band, low, "lower end, in the analyte's unit", IS_REQUIRED, WITHIN_ANY_ANALYTE),
    FIELD(FIELD_NUMBER, system_band, high, "upper end, in the analyte's unit", IS_REQUIRED, WITHIN_ANY_ANALYTE),
};

static const struct field switch_fields[] = {
    FIELD(FIELD_REF, system_switch, system, "the body of water", IS_KEY, TO(REG_SYSTEM)),
    FIELD(FIELD_CHOICE, system_switch, device, "what is switched", IS_KEY, ONE_OF(device_names)),
    FIELD(FIELD_CHOICE, system_switch, off_for, "what it must be off for; nothing: it stays on", ELSE("both"),
          ONE_OF(off_for_names)),
    FIELD(FIELD_NUMBER, system_switch, on_after_min, "minutes from the end of that until it goes on again",
          WITHIN(0, 720), ELSE("30")),
    FIELD(FIELD_NUMBER, system_switch, off_limit_min, "longest time off, minutes; empty: no limit", WITHIN(1, 1440)),
    FIELD(FIELD_TEXT, system_switch, note, "printed beside it, such as where the switch is", ELSE("")),
};

static const struct field daily_round_fields[] = {
    FIELD(FIELD_NAME, daily_round, name, "what the house calls this round of the day", IS_KEY),
    FIELD(FIELD_CLOCK, daily_round, start_min, "first broadcast", IS_REQUIRED),
    FIELD(FIELD_TEXT, daily_round, days, "its weekdays, such as mon wed fri; empty: every day", ELSE("")),
    FIELD(FIELD_COUNT, daily_round, feeders, "people who feed; 0: as in the settings", WITHIN(0, 20), ELSE("0")),
    FIELD(FIELD_TEXT, daily_round, note, "anything", ELSE("")),
    FIELD(FIELD_FLAG, daily_round, retired, "no longer held", ELSE("no")),
};

static const struct field broadcast_day_fields[] = {
    FIELD(FIELD_REF, broadcast_day, system, "the body of water", IS_KEY, TO(REG_SYSTEM)),
    FIELD(FIELD_CHOICE, broadcast_day, weekday, "which day; every: where the round has no row for the day itself",
          IS_KEY, ONE_OF(weekday_names)),
    FIELD(FIELD_REF, broadcast_day, round, "in which of the day's rounds", IS_KEY, TO(REG_DAILY_ROUND)),
    FIELD(FIELD_NUMBER, broadcast_day, part_frac, "part of the day's broadcast; 0: none", WITHIN(0, 1), ELSE("1")),
};

static const struct field tank_fields[] = {
    FIELD(FIELD_NAME, tank, name, "what is written on the tank", IS_KEY),
    FIELD(FIELD_REF, tank, system, "the body of water it belongs to", IS_REQUIRED, TO(REG_SYSTEM)),
    FIELD(FIELD_CHOICE, tank, shape, "decides which measures are needed", IS_REQUIRED, ONE_OF(shape_names)),
    FIELD(FIELD_NUMBER, tank, length_cm, "inside length", WITHIN(1, 10000)),
    FIELD(FIELD_NUMBER, tank, width_cm, "inside width, front to back", WITHIN(1, 10000)),
    FIELD(FIELD_NUMBER, tank, water_cm, "height of the water", WITHIN(1, 10000)),
    FIELD(FIELD_NUMBER, tank, diameter_cm, "inside diameter of a round tank", WITHIN(1, 10000)),
    FIELD(FIELD_NUMBER, tank, bow_cm, "how far the curved front stands out", WITHIN(0.1, 10000)),
    FIELD(FIELD_NUMBER, tank, side_cm, "one side of a regular prism", WITHIN(1, 10000)),
    FIELD(FIELD_COUNT, tank, n_sides, "sides of a regular prism", WITHIN(0, 100), ELSE("0")),
    FIELD(FIELD_NUMBER, tank, cut_length_cm, "cut corner: along the length", WITHIN(0.1, 10000)),
    FIELD(FIELD_NUMBER, tank, cut_width_cm, "cut corner: along the width", WITHIN(0.1, 10000)),
    FIELD(FIELD_NUMBER, tank, net_volume_l, "shape stated: water in it, already net of rock", WITHIN(0.1, 1e6)),
    FIELD(FIELD_NUMBER, tank, displacement_frac, "share of the volume taken by rock, sand and racks", WITHIN(0, 0.9),
          ELSE("0")),
    FIELD(FIELD_NUMBER, tank, position_m, "where it stands along the feeding route", WITHIN(0, 10000), ELSE("0")),
    FIELD(FIELD_NUMBER, tank, flow_off_limit_min, "longest time without flow", WITHIN(6, 30), ELSE("20")),
    FIELD(FIELD_NAME, tank, pump, "tanks with one pump name stop together", ELSE("")),
    FIELD(FIELD_FLAG, tank, fish, "has fish to be fed first", ELSE("no")),
    FIELD(FIELD_TEXT, tank, hold_reason, "why it is not fed", ELSE("")),
    FIELD(FIELD_DAY, tank, hold_until, "last day of the hold; empty: until released", MAY_BE_EMPTY),
    FIELD(FIELD_TEXT, tank, note, "anything", ELSE("")),
    FIELD(FIELD_FLAG, tank, retired, "no longer in use", ELSE("no")),
    FIELD(FIELD_FLAG, tank, broadcast, "gets the house broadcast", ELSE("yes")),
    FIELD(FIELD_CLOCK, tank, lights_on_min, "when its lights go on; empty: as its system's", MAY_BE_EMPTY),
    FIELD(FIELD_CLOCK, tank, lights_off_min, "when its lights go off; empty: as its system's", MAY_BE_EMPTY),
};

static const struct field kind_fields[] = {
    FIELD(FIELD_NAME, kind, name, "corals fed alike", IS_KEY),
    FIELD(FIELD_CHOICE, kind, feeding, "target: each mouth; cloud: over the colony; broadcast; none: weedy",
          IS_REQUIRED, ONE_OF(feeding_names)),
    FIELD(FIELD_CHOICE, kind, course, "late: from the late-mixed pot of pellets and frozen food", ELSE("slurry"),
          ONE_OF(course_names)),
    FIELD(FIELD_NUMBER, kind, max_particle_um, "largest particle taken", WITHIN(0, 50000), ELSE("0")),
    FIELD(FIELD_NUMBER, kind, portion_ml, "slurry per mouth (target) or per colony (cloud)", WITHIN(0, 50), ELSE("0")),
    FIELD(FIELD_CHOICE, kind, mouth_rule, "which mouths of a colony are fed", ELSE("none"), ONE_OF(mouth_names)),
    FIELD(FIELD_NUMBER, kind, mouth_frac, "rule fraction: share of the mouths", WITHIN(0, 1), ELSE("1")),
    FIELD(FIELD_COUNT, kind, mouth_min, "at least so many", WITHIN(0, 1000), ELSE("1")),
    FIELD(FIELD_COUNT, kind, mouth_max, "at most so many; 0: no limit", WITHIN(0, 1000), ELSE("0")),
    FIELD(FIELD_NUMBER, kind, interval_d, "days from feed to feed", WITHIN(1, 365), ELSE("7")),
    FIELD(FIELD_FLAG, kind, takes_powder, "takes powder", ELSE("yes")),
    FIELD(FIELD_FLAG, kind, takes_pellet, "takes soft pellets", ELSE("no")),
    FIELD(FIELD_FLAG, kind, takes_frozen, "takes thawed frozen food", ELSE("no")),
    FIELD(FIELD_NUMBER, kind, flow_off_min, "minutes wanted without flow in all", WITHIN(0, 30), ELSE("15")),
    FIELD(FIELD_NUMBER, kind, colony_s, "hands-on seconds per colony", WITHIN(0, 600), ELSE("10")),
    FIELD(FIELD_NUMBER, kind, mouth_s, "hands-on seconds per mouth", WITHIN(0, 60), ELSE("0")),
    FIELD(FIELD_FLAG, kind, hand_safety, "may carry palytoxin: gloves and eye cover", ELSE("no")),
    FIELD(FIELD_TEXT, kind, note, "printed beside its lines", ELSE("")),
    FIELD(FIELD_TEXT, kind, source, "where the figures come from", ELSE("")),
    FIELD(FIELD_FLAG, kind, retired, "no longer in use", ELSE("no")),
    FIELD(FIELD_CHOICE, kind, need, "obligate: has no light to live by, fed before all others; optional: cut first",
          ELSE("regular"), ONE_OF(need_names)),
    FIELD(FIELD_FLAG, kind, early, "early in the round: its tanks are fed before others", ELSE("no")),
    FIELD(FIELD_CHOICE, kind, fed_in,
          "when it is open; light, dark: only in a round that its tank's lights are on, off in", ELSE("any"),
          ONE_OF(fed_in_names)),
    FIELD(FIELD_COUNT, kind, feeds_per_d, "rounds of a day that share its portion: little and often", WITHIN(1, 12),
          ELSE("1")),
};

static const struct field colony_fields[] = {
    FIELD(FIELD_NAME, colony, code, "the label on the colony or its rack", IS_KEY),
    FIELD(FIELD_TEXT, colony, label, "what the sheet calls it", ELSE("")),
    FIELD(FIELD_REF, colony, tank, "where it stands", IS_REQUIRED, TO(REG_TANK)),
    FIELD(FIELD_REF, colony, kind, "how it is fed", IS_REQUIRED, TO(REG_KIND)),
    FIELD(FIELD_COUNT, colony, count, "how many like corals", WITHIN(1, 100000), ELSE("1")),
    FIELD(FIELD_COUNT, colony, heads, "mouths of each", WITHIN(1, 100000), ELSE("1")),
    FIELD(FIELD_DAY, colony, arrived, "day of arrival", MAY_BE_EMPTY),
    FIELD(FIELD_DAY, colony, fed_before, "last fed before this store's log begins", MAY_BE_EMPTY),
    FIELD(FIELD_TEXT, colony, hold_reason, "why it is not fed", ELSE("")),
    FIELD(FIELD_DAY, colony, hold_until, "last day of the hold; empty: until released", MAY_BE_EMPTY),
    FIELD(FIELD_TEXT, colony, note, "anything", ELSE("")),
    FIELD(FIELD_FLAG, colony, retired, "sold, moved on or dead", ELSE("no")),
};

static const struct field food_fields[] = {
    FIELD(FIELD_NAME, food, name, "a general name", IS_KEY),
    FIELD(FIELD_CHOICE, food, form, "what it is like", IS_REQUIRED, ONE_OF(form_names)),
    FIELD(FIELD_CHOICE, food, unit, "what it is measured in; \"unit\" below means this", IS_REQUIRED,
          ONE_OF(unit_names)),
    FIELD(FIELD_NUMBER, food, density_g_per_ml,
          "mass of one mL: g typed of what is counted in mL, or mL of g, count by it", WITHIN(0.01, 5), ELSE("1")),
    FIELD(FIELD_NUMBER, food, solids_frac, "dry share of its mass", WITHIN(0, 1), ELSE("1")),
    FIELD(FIELD_NUMBER, food, n_mg_per_unit, "nitrogen", WITHIN(0, 1000), ELSE("0")),
    FIELD(FIELD_NUMBER, food, p_mg_per_unit, "phosphorus", WITHIN(0, 1000), ELSE("0")),
    FIELD(FIELD_NUMBER, food, no3_effect_mg_per_unit, "declared effect on nitrate; empty: from the nitrogen",
          WITHIN(-1000, 1000)),
    FIELD(FIELD_NUMBER, food, po4_effect_mg_per_unit, "declared effect on phosphate; empty: from the phosphorus",
          WITHIN(-1000, 1000)),
    FIELD(FIELD_FLAG, food, strips_po4, "claimed to lower phosphate", ELSE("no")),
    FIELD(FIELD_NUMBER, food, min_particle_um, "finest particle", WITHIN(0, 50000), ELSE("0")),
    FIELD(FIELD_NUMBER, food, max_particle_um, "coarsest particle", WITHIN(0, 50000), ELSE("0")),
    FIELD(FIELD_NUMBER, food, ceiling_units_per_100l, "most per 100 L of a water and day, by the label", IS_REQUIRED,
          WITHIN(0.0001, 10000)),
    FIELD(FIELD_NUMBER, food, broadcast_units_per_100l, "usual broadcast; empty: not broadcast", WITHIN(0, 10000)),
    FIELD(FIELD_NUMBER, food, blend_share_frac, "share of its pot's dry food; empty: not in a pot", WITHIN(0, 1)),
    FIELD(FIELD_NUMBER, food, blend_share_min_frac, "least share of its pot", WITHIN(0, 1), ELSE("0")),
    FIELD(FIELD_NUMBER, food, blend_share_max_frac, "largest share of its pot; empty: its own share and 0.15",
          WITHIN(0, 1)),
    FIELD(FIELD_NUMBER, food, blend_ml_per_100ml, "a liquid in the slurry; empty: none", WITHIN(0, 100)),
    FIELD(FIELD_NUMBER, food, fish_units_per_100l, "given to the fish first; empty: no fish food", WITHIN(0, 10000)),
    FIELD(FIELD_NUMBER, food, scoop_g, "one level scoop", WITHIN(0.01, 100)),
    FIELD(FIELD_NUMBER, food, opened_life_d, "days it keeps once opened", WITHIN(1, 3650), ELSE("90")),
    FIELD(FIELD_NUMBER, food, lead_d, "days from order to delivery", WITHIN(0, 365), ELSE("7")),
    FIELD(FIELD_NUMBER, food, pack_units, "a pack, in its unit", WITHIN(0.1, 1e6), ELSE("100")),
    FIELD(FIELD_COUNT, food, price_cents, "price of a pack", WITHIN(0, 100000000), ELSE("0")),
    FIELD(FIELD_TEXT, food, prepare, "to be done before the round", ELSE("")),
    FIELD(FIELD_TEXT, food, note, "anything", ELSE("")),
    FIELD(FIELD_TEXT, food, source, "where the figures come from", ELSE("")),
    FIELD(FIELD_FLAG, food, retired, "no longer used", ELSE("no")),
};

static const struct field lot_fields[] = {
    FIELD(FIELD_NAME, lot, code, "the number on the pack", IS_KEY),
    FIELD(FIELD_REF, lot, food, "what is in it", IS_REQUIRED, TO(REG_FOOD)),
    FIELD(FIELD_NUMBER, lot, amount_units, "bought, in the food's unit", IS_REQUIRED, WITHIN(0, 1e7)),
    FIELD(FIELD_DAY, lot, received, "day of delivery", MAY_BE_EMPTY),
    FIELD(FIELD_DAY, lot, opened, "day of opening; empty: still closed", MAY_BE_EMPTY),
    FIELD(FIELD_DAY, lot, use_by, "printed on the pack", MAY_BE_EMPTY),
    FIELD(FIELD_COUNT, lot, price_cents, "paid for the lot", WITHIN(0, 100000000), ELSE("0")),
    FIELD(FIELD_TEXT, lot, note, "anything", ELSE("")),
    FIELD(FIELD_FLAG, lot, retired, "used up or discarded", ELSE("no")),
};

static const struct field method_fields[] = {
    FIELD(FIELD_NAME, method, name, "as the tests name it", IS_KEY),
    FIELD(FIELD_CHOICE, method, analyte, "what it reads", IS_KEY, ONE_OF(analyte_names)),
    FIELD(FIELD_NUMBER, method, step, "smallest step its readings are given in, in the analyte's unit",
          WITHIN(0.0001, 100)),
    FIELD(FIELD_TEXT, method, note, "anything", ELSE("")),
};

static const struct field test_fields[] = {
    FIELD(FIELD_REF, test, system, "the body of water", IS_KEY, TO(REG_SYSTEM)),
    FIELD(FIELD_MOMENT, test, taken, "when the sample was taken", IS_KEY),
    FIELD(FIELD_CHOICE, test, analyte, "what was measured", IS_KEY, ONE_OF(analyte_names)),
    FIELD(FIELD_COUNT, test, repeat,
          "2, 3 … for more readings of one minute; where empty, another method's is the next", .flags = FIELD_KEY,
          WITHIN(1, 1000), ELSE("1")),
    FIELD(FIELD_NUMBER, test, value, "in the analyte's unit; the detection limit where below", IS_REQUIRED,
          WITHIN_ANY_ANALYTE),
    FIELD(FIELD_FLAG, test, below, "below detection", ELSE("no")),
    FIELD(FIELD_NAME, test, method, "the test used; one method's readings make the trend", ELSE("")),
    FIELD(FIELD_CHOICE, test, sample, "before or after the round", ELSE("before"), ONE_OF(sample_names)),
    FIELD(FIELD_TEXT, test, note, "anything", ELSE("")),
    FIELD(FIELD_FLAG, test, voided, "taken back", ELSE("no")),
    FIELD(FIELD_CHOICE, test, doubt, "far from the reading before it: to be looked at again, or confirmed",
          ELSE("none"), ONE_OF(doubt_names)),
};

static const struct field water_fields[] = {
    FIELD(FIELD_REF, water, system, "the body of water", IS_KEY, TO(REG_SYSTEM)),
    FIELD(FIELD_MOMENT, water, exchanged, "when", IS_KEY),
    FIELD(FIELD_COUNT, water, repeat, "2, 3 … for more of one minute", .flags = FIELD_KEY, WITHIN(1, 1000), ELSE("1")),
    FIELD(FIELD_NUMBER, water, volume_l, "water exchanged", IS_REQUIRED, WITHIN(0.1, 1e6)),
    FIELD(FIELD_NUMBER, water, no3_mg_l, "nitrate of the new water", WITHIN(0, 500), ELSE("0")),
    FIELD(FIELD_NUMBER, water, po4_mg_l, "phosphate of the new water", WITHIN(0, 20), ELSE("0")),
    FIELD(FIELD_TEXT, water, note, "anything", ELSE("")),
    FIELD(FIELD_FLAG, water, voided, "taken back", ELSE("no")),
};

#define ROUND_KEY(struct_)                                                                                             \
    FIELD(FIELD_COUNT, struct_, round, "round number", IS_KEY, WITHIN(1, 1e9)),                                        \
        FIELD(FIELD_COUNT, struct_, revision, "plan revision", IS_KEY, WITHIN(1, 1e6))

static const struct field round_fields[] = {
    FIELD(FIELD_COUNT, round_head, number, "round number", IS_KEY, WITHIN(1, 1e9)),
    FIELD(FIELD_COUNT, round_head, revision, "plan revision", IS_KEY, WITHIN(1, 1e6)),
    FIELD(FIELD_DAY, round_head, day, "feeding day", IS_REQUIRED),
    FIELD(FIELD_CLOCK, round_head, start_min, "first broadcast", IS_REQUIRED, MAY_PASS_MIDNIGHT),
    FIELD(FIELD_COUNT, round_head, feeders, "people feeding", IS_REQUIRED, WITHIN(1, 99)),
    FIELD(FIELD_TEXT, round_head, request, "of older rounds: the options they were planned with", ELSE("")),
    FIELD(FIELD_CLOCK, round_head, finish_min, "all flows on", IS_REQUIRED, MAY_PASS_MIDNIGHT),
    FIELD(FIELD_NUMBER, round_head, walked_m, "walking in all", ELSE("0")),
    FIELD(FIELD_NUMBER, round_head, bound_min, "no order can be shorter, minutes", MAY_BE_EMPTY),
    FIELD(FIELD_NAME, round_head, name, "which of the day's rounds; empty: the only one", ELSE("")),
};

static const struct field asked_fields[] = {
    ROUND_KEY(asked),
    FIELD(FIELD_COUNT, asked, number, "1, 2 … within the revision", IS_KEY, WITHIN(1, 1e6)),
    FIELD(FIELD_CHOICE, asked, what, "what was asked", IS_REQUIRED, ONE_OF(asked_names)),
    FIELD(FIELD_REF, asked, tank, "first, skip: the tank", TO(REG_TANK)),
    FIELD(FIELD_COUNT, asked, feeder, "late: who; 0: none", WITHIN(0, 99), ELSE("0")),
    FIELD(FIELD_COUNT, asked, at_min, "minute of the day; -1: none", WITHIN(-1, 5999), ELSE("-1")),
    FIELD(FIELD_NUMBER, asked, amount, "how many, or how much", MAY_BE_EMPTY),
};

static const struct field pot_fields[] = {
    ROUND_KEY(pot),
    FIELD(FIELD_NAME, pot, pot, "its letter", IS_KEY),
    FIELD(FIELD_TEXT, pot, systems, "the bodies of water it feeds", ELSE("")),
    FIELD(FIELD_FLAG, pot, late, "mixed just before use", ELSE("no")),
    FIELD(FIELD_NUMBER, pot, need_ml, "what the corals get", IS_REQUIRED),
    FIELD(FIELD_NUMBER, pot, made_ml, "what is mixed", IS_REQUIRED),
    FIELD(FIELD_NUMBER, pot, water_ml, "water in it", IS_REQUIRED),
    FIELD(FIELD_NUMBER, pot, strength_g_per_100ml, "dry food in it", IS_REQUIRED),
    FIELD(FIELD_NUMBER, pot, factor, "of the house strength", IS_REQUIRED),
    FIELD(FIELD_TEXT, pot, note, "why it is as it is", ELSE("")),
    FIELD(FIELD_NUMBER, pot, allowed_frac, "of the house strength, allowed by the states of its waters", MAY_BE_EMPTY),
};

static const struct field pot_food_fields[] = {
    ROUND_KEY(pot_food),
    FIELD(FIELD_NAME, pot_food, pot, "its letter", IS_KEY),
    FIELD(FIELD_COUNT, pot_food, rank, "place in the mixing order", IS_KEY, WITHIN(1, 1000)),
    FIELD(FIELD_REF, pot_food, food, "what goes in", IS_REQUIRED, TO(REG_FOOD)),
    FIELD(FIELD_REF, pot_food, lot, "from which lot", TO(REG_LOT)),
    FIELD(FIELD_NUMBER, pot_food, amount_units, "what comes into the pot, in the food's unit", IS_REQUIRED),
    FIELD(FIELD_NUMBER, pot_food, premix_units, "premix: weigh so much; 0: no premix", ELSE("0")),
    FIELD(FIELD_NUMBER, pot_food, premix_ml, "premix: make up to", ELSE("0")),
    FIELD(FIELD_NUMBER, pot_food, premix_take_ml, "premix: take so much of it", ELSE("0")),
};

static const struct field line_fields[] = {
    ROUND_KEY(line),
    FIELD(FIELD_COUNT, line, number, "line number on the sheet", IS_KEY, WITHIN(1, 1e6)),
    FIELD(FIELD_REF, line, tank, "where", IS_REQUIRED, TO(REG_TANK)),
    FIELD(FIELD_CHOICE, line, action, "what is done", IS_REQUIRED, ONE_OF(action_names)),
    FIELD(FIELD_COUNT, line, pass, "pass of a tank fed in passes", ELSE("1")),
    FIELD(FIELD_REF, line, colony, "which corals", TO(REG_COLONY)),
    FIELD(FIELD_REF, line, food, "broadcast and fish: what", TO(REG_FOOD)),
    FIELD(FIELD_REF, line, lot, "from which lot", TO(REG_LOT)),
    FIELD(FIELD_NAME, line, pot, "from which pot", ELSE("")),
    FIELD(FIELD_COUNT, line, feeder, "who", ELSE("1")),
    FIELD(FIELD_CLOCK, line, start_min, "begin", IS_REQUIRED, MAY_PASS_MIDNIGHT),
    FIELD(FIELD_CLOCK, line, end_min, "end", IS_REQUIRED, MAY_PASS_MIDNIGHT),
    FIELD(FIELD_COUNT, line, count, "colonies", ELSE("0")),
    FIELD(FIELD_COUNT, line, mouths, "mouths of each", ELSE("0")),
    FIELD(FIELD_NUMBER, line, amount, "mL of slurry, or the food's unit", MAY_BE_EMPTY),
    FIELD(FIELD_TEXT, line, note, "printed beside it", ELSE("")),
    FIELD(FIELD_FLAG, line, shared, "broadcast into the water that tanks share", ELSE("no")),
};

static const struct field waiting_fields[] = {
    ROUND_KEY(waiting),
    FIELD(FIELD_REF, waiting, colony, "not fed this time", IS_KEY, TO(REG_COLONY)),
    FIELD(FIELD_TEXT, waiting, reason, "why", IS_REQUIRED),
    FIELD(FIELD_FLAG, waiting, due, "due, and goes without", ELSE("no")),
    FIELD(FIELD_NUMBER, waiting, since_d, "due: days since its last feed; empty: never fed", MAY_BE_EMPTY),
    FIELD(FIELD_NUMBER, waiting, interval_d, "due: days from feed to feed", MAY_BE_EMPTY),
};

static const struct field caution_fields[] = {
    ROUND_KEY(caution),
    FIELD(FIELD_COUNT, caution, rank, "place on the sheet", IS_KEY),
    FIELD(FIELD_CHOICE, caution, part,
          "a caution of the day, to do before the round, to see to for the next, at a tank, or of every round",
          IS_REQUIRED, ONE_OF(caution_part_names)),
    FIELD(FIELD_REF, caution, tank, "part tank: under its heading", TO(REG_TANK)),
    FIELD(FIELD_TEXT, caution, text, "the caution in words", IS_REQUIRED),
};

static const struct field switching_fields[] = {
    ROUND_KEY(switching),
    FIELD(FIELD_COUNT, switching, number, "1, 2 … by the minute it goes off", IS_KEY, WITHIN(1, 1e6)),
    FIELD(FIELD_REF, switching, system, "the body of water", IS_REQUIRED, TO(REG_SYSTEM)),
    FIELD(FIELD_CHOICE, switching, device, "what is switched", IS_REQUIRED, ONE_OF(device_names)),
    FIELD(FIELD_CLOCK, switching, off_min, "off", IS_REQUIRED, MAY_PASS_MIDNIGHT),
    FIELD(FIELD_CLOCK, switching, on_min, "on again", IS_REQUIRED, MAY_PASS_MIDNIGHT),
    FIELD(FIELD_COUNT, switching, off_feeder, "who turns it off", ELSE("1")),
    FIELD(FIELD_COUNT, switching, on_feeder, "who turns it on", ELSE("1")),
    FIELD(FIELD_TEXT, switching, note, "printed beside it", ELSE("")),
};

static const struct field given_fields[] = {
    FIELD(FIELD_COUNT, given, round, "round number", IS_KEY, WITHIN(1, 1e9)),
    FIELD(FIELD_COUNT, given, line, "line number on the sheet", IS_KEY, WITHIN(1, 1e6)),
    FIELD(FIELD_COUNT, given, sheet_revision, "revision of the sheet in hand", IS_REQUIRED, WITHIN(1, 1e6)),
    FIELD(FIELD_CHOICE, given, outcome, "what became of it", IS_REQUIRED, ONE_OF(outcome_names)),
    FIELD(FIELD_NUMBER, given, amount, "given, as the line measures it", WITHIN(0, 1e6)),
    FIELD(FIELD_COUNT, given, response, "0 to 4; -1: not judged", WITHIN(-1, 4), ELSE("-1")),
    FIELD(FIELD_COUNT, given, at_min, "minute of the day; -1: not noted", WITHIN(-1, 2879), ELSE("-1")),
    FIELD(FIELD_TEXT, given, note, "anything", ELSE("")),
    FIELD(FIELD_FLAG, given, voided, "taken back", ELSE("no")),
};

static const struct field extra_fields[] = {
    FIELD(FIELD_COUNT, extra, round, "round number", IS_KEY, WITHIN(1, 1e9)),
    FIELD(FIELD_COUNT, extra, number, "1, 2 … within the round", IS_KEY, WITHIN(1, 1e6)),
    FIELD(FIELD_REF, extra, tank, "where", IS_REQUIRED, TO(REG_TANK)),
    FIELD(FIELD_REF, extra, food, "what", IS_REQUIRED, TO(REG_FOOD)),
    FIELD(FIELD_REF, extra, lot, "from which lot", TO(REG_LOT)),
    FIELD(FIELD_NUMBER, extra, amount_units, "given, in the food's unit", IS_REQUIRED, WITHIN(0, 1e6)),
    FIELD(FIELD_COUNT, extra, at_min, "minute of the day; -1: not noted", WITHIN(-1, 2879), ELSE("-1")),
    FIELD(FIELD_TEXT, extra, note, "anything", ELSE("")),
    FIELD(FIELD_FLAG, extra, voided, "taken back", ELSE("no")),
};

static const struct field mixed_fields[] = {
    FIELD(FIELD_COUNT, mixed, round, "round number", IS_KEY, WITHIN(1, 1e9)),
    FIELD(FIELD_NAME, mixed, pot, "its letter", IS_KEY),
    FIELD(FIELD_NUMBER, mixed, made_ml, "what was mixed; 0: it was not", IS_REQUIRED, WITHIN(0, 1e6)),
    FIELD(FIELD_NUMBER, mixed, left_ml, "what was left and thrown away", WITHIN(0, 1e6)),
    FIELD(FIELD_TEXT, mixed, note, "anything", ELSE("")),
    FIELD(FIELD_FLAG, mixed, voided, "taken back", ELSE("no")),
};

static const struct field weighed_fields[] = {
    FIELD(FIELD_COUNT, weighed, round, "round number", IS_KEY, WITHIN(1, 1e9)),
    FIELD(FIELD_NAME, weighed, pot, "its letter", IS_KEY),
    FIELD(FIELD_COUNT, weighed, rank, "place in the mixing order", IS_KEY, WITHIN(1, 1000)),
    FIELD(FIELD_NUMBER, weighed, amount_units, "what the scale said, in the food's unit", IS_REQUIRED, WITHIN(0, 1e6)),
    FIELD(FIELD_TEXT, weighed, note, "anything", ELSE("")),
    FIELD(FIELD_FLAG, weighed, voided, "taken back", ELSE("no")),
};

static const struct field crew_fields[] = {
    FIELD(FIELD_COUNT, crew, round, "round number", IS_KEY, WITHIN(1, 1e9)),
    FIELD(FIELD_COUNT, crew, feeder, "feeder 1, 2 … of the sheet", IS_KEY, WITHIN(1, 99)),
    FIELD(FIELD_NAME, crew, name, "who that was: a name or initials", IS_REQUIRED),
    FIELD(FIELD_FLAG, crew, voided, "taken back", ELSE("no")),
};

static const struct field remark_fields[] = {
    FIELD(FIELD_COUNT, remark, round, "round number", IS_KEY, WITHIN(1, 1e9)),
    FIELD(FIELD_COUNT, remark, number, "1, 2 … within the round", IS_KEY, WITHIN(1, 1e6)),
    FIELD(FIELD_TEXT, remark, text, "what was noted of the round", IS_REQUIRED),
    FIELD(FIELD_FLAG, remark, voided, "taken back", ELSE("no")),
};

static const struct field switched_fields[] = {
    FIELD(FIELD_COUNT, switched, round, "round number", IS_KEY, WITHIN(1, 1e9)),
    FIELD(FIELD_REF, switched, system, "the body of water", IS_KEY, TO(REG_SYSTEM)),
    FIELD(FIELD_CHOICE, switched, device, "what was switched", IS_KEY, ONE_OF(device_names)),
    FIELD(FIELD_COUNT, switched, off_min, "off, minute of the day; -1: it was left on", WITHIN(-1, 2879), ELSE("-1")),
    FIELD(FIELD_COUNT, switched, on_min, "on again, minute of the day; -1: not yet", WITHIN(-1, 4319), ELSE("-1")),
    FIELD(FIELD_FLAG, switched, voided, "taken back", ELSE("no")),
};

static const struct field treatment_fields[] = {
    FIELD(FIELD_MOMENT, treatment, treated, "when", IS_KEY),
    FIELD(FIELD_COUNT, treatment, repeat, "2, 3 … for more of one minute", .flags = FIELD_KEY, WITHIN(1, 1000),
          ELSE("1")),
    FIELD(FIELD_REF, treatment, tank, "where it was", IS_REQUIRED, TO(REG_TANK)),
    FIELD(FIELD_REF, treatment, colony, "which corals; empty: all that was in the tank", TO(REG_COLONY)),
    FIELD(FIELD_TEXT, treatment, what, "the dip, bath or treatment", IS_REQUIRED),
    FIELD(FIELD_NUMBER, treatment, duration_min, "how long", WITHIN(0, 10080)),
    FIELD(FIELD_TEXT, treatment, note, "anything", ELSE("")),
    FIELD(FIELD_FLAG, treatment, voided, "taken back", ELSE("no")),
};

static const struct field waste_fields[] = {
    FIELD(FIELD_REF, waste, lot, "from which lot", IS_KEY, TO(REG_LOT)),
    FIELD(FIELD_MOMENT, waste, wasted, "when", IS_KEY),
    FIELD(FIELD_COUNT, waste, repeat, "2, 3 … for more of one minute", .flags = FIELD_KEY, WITHIN(1, 1000), ELSE("1")),
    FIELD(FIELD_NUMBER, waste, amount_units, "in the food's unit", IS_REQUIRED, WITHIN(0, 1e7)),
    FIELD(FIELD_TEXT, waste, reason, "why", IS_REQUIRED),
    FIELD(FIELD_FLAG, waste, voided, "taken back", ELSE("no")),
};

static const struct field tally_fields[] = {
    FIELD(FIELD_REF, colony_tally, colony, "which corals", IS_KEY, TO(REG_COLONY)),
    FIELD(FIELD_MOMENT, colony_tally, changed, "when", IS_KEY),
    FIELD(FIELD_COUNT, colony_tally, repeat, "2, 3 … for more of one minute", .flags = FIELD_KEY, WITHIN(1, 1000),
          ELSE("1")),
    FIELD(FIELD_COUNT, colony_tally, change, "more or fewer; 0: only moved", IS_REQUIRED, WITHIN(-100000, 100000)),
    FIELD(FIELD_CHOICE, colony_tally, reason, "why", IS_REQUIRED, ONE_OF(tally_names)),
    FIELD(FIELD_REF, colony_tally, tank, "where they stand since", IS_REQUIRED, TO(REG_TANK)),
    FIELD(FIELD_REF, colony_tally, from_tank, "moved: where they stood", TO(REG_TANK)),
    FIELD(FIELD_REF, colony_tally, other, "moved in part, split or cut: the colony they became or came from",
          TO(REG_COLONY)),
    FIELD(FIELD_TEXT, colony_tally, from_file, "the till's file it was booked from", ELSE("")),
    FIELD(FIELD_TEXT, colony_tally, note, "anything", ELSE("")),
    FIELD(FIELD_FLAG, colony_tally, voided, "taken back", ELSE("no")),
};

static const struct field setting_row_fields[] = {
    {.name = "name", .type = FIELD_NAME, .flags = FIELD_KEY | FIELD_REQUIRED, .help = "which figure"},
    {.name = "value", .type = FIELD_TEXT, .flags = FIELD_REQUIRED, .help = "the house's own value"},
};

static const struct field settings_fields[] = {
    FIELD(FIELD_TEXT, settings, facility, "name on the sheet", ELSE("our facility")),
    FIELD(FIELD_CHOICE, settings, units, "what sheets are printed in", ELSE("metric"), ONE_OF(unit_system_names)),
    FIELD(FIELD_NAME, settings, currency, "what prices are in, on paper: EUR; none: not said", ELSE("none")),
    FIELD(FIELD_COUNT, settings, feeders, "people who feed", WITHIN(1, 20), ELSE("1")),
    FIELD(FIELD_CLOCK, settings, start_min, "first broadcast", ELSE("08:00")),
    FIELD(FIELD_NUMBER, settings, lag_min_min, "shortest wait from broadcast to target feed, minutes", WITHIN(0, 120),
          ELSE("15")),
    FIELD(FIELD_NUMBER, settings, lag_max_min, "longest wait, minutes", WITHIN(1, 240), ELSE("20")),
    FIELD(FIELD_NUMBER, settings, strength_g_per_100ml, "dry food in the house slurry", WITHIN(0.05, 20), ELSE("2")),
    FIELD(FIELD_NUMBER, settings, lean_frac, "weakest pot, of the house strength", WITHIN(0.05, 1), ELSE("0.25")),
    FIELD(FIELD_NUMBER, settings, full_frac, "strongest pot, of the house strength", WITHIN(1, 3), ELSE("1.5")),
    FIELD(FIELD_NUMBER, settings, thin_frac, "colonies wait rather than a ceiling thin the pot below this",
          WITHIN(0.05, 1), ELSE("0.5")),
    FIELD(FIELD_NUMBER, settings, ceiling_target_frac,
          "of food put to a mouth, what counts towards the ceilings: the rest is swallowed", WITHIN(0.1, 1),
          ELSE("0.5")),
    FIELD(FIELD_NUMBER, settings, ceiling_cloud_frac, "of a cloud over a colony, what counts towards the ceilings",
          WITHIN(0.1, 1), ELSE("0.75")),
    FIELD(FIELD_NUMBER, settings, cue_frac,
          "where a ceiling is short, the broadcast yields down to this part of itself", WITHIN(0, 1), ELSE("0.25")),
    FIELD(FIELD_NUMBER, settings, portion_least_frac, "and then portions, down to this part, before anyone waits",
          WITHIN(0.1, 1), ELSE("0.5")),
    FIELD(FIELD_NUMBER, settings, effect_sd_frac, "how unsure a declared effect is, of its size", WITHIN(0.01, 2),
          ELSE("0.3")),
    FIELD(FIELD_NUMBER, settings, rise_frac_per_week, "largest rise of the strength in a week", WITHIN(0.01, 1),
          ELSE("0.25")),
    FIELD(FIELD_NUMBER, settings, loss_frac, "slurry lost beside the mouths", WITHIN(0, 1), ELSE("0.05")),
    FIELD(FIELD_NUMBER, settings, syringe_dead_ml, "left in syringe and tube at each tank", WITHIN(0, 50), ELSE("1")),
    FIELD(FIELD_NUMBER, settings, pot_dead_ml, "left in the pot", WITHIN(0, 500), ELSE("5")),
    FIELD(FIELD_NUMBER, settings, syringe_step_ml, "graduation of the syringe", WITHIN(0.01, 10), ELSE("1")),
    FIELD(FIELD_NUMBER, settings, pot_step_ml, "graduation of the mixing jug", WITHIN(0.1, 100), ELSE("5")),
    FIELD(FIELD_NUMBER, settings, broadcast_step_ml, "graduation of the broadcast measure", WITHIN(0.01, 100),
          ELSE("1")),
    FIELD(FIELD_NUMBER, settings, liquid_step_ml, "graduation of the small syringe for liquids in a pot",
          WITHIN(0.01, 10), ELSE("0.1")),
    FIELD(FIELD_NUMBER, settings, premix_ml, "what a premix of a powder too light to weigh is made up to; 0: none",
          WITHIN(0, 1000), ELSE("100")),
    FIELD(FIELD_NUMBER, settings, scale_step_g, "what the scale reads to", WITHIN(0.001, 10), ELSE("0.1")),
    FIELD(FIELD_NUMBER, settings, syringe_ml, "volume of the syringe", WITHIN(1, 1000), ELSE("60")),
    FIELD(FIELD_NUMBER, settings, refill_s, "seconds for a refill", WITHIN(0, 600), ELSE("15")),
    FIELD(FIELD_NUMBER, settings, rest_min, "least rest without flow after the last coral, minutes", WITHIN(0, 25),
          ELSE("5")),
    FIELD(FIELD_NUMBER, settings, flow_on_gap_min, "flow on between two passes, minutes", WITHIN(1, 240), ELSE("10")),
    FIELD(FIELD_NUMBER, settings, switch_min, "hands-on time to turn a flow off or on, minutes", WITHIN(0, 10),
          ELSE("1")),
    FIELD(FIELD_NUMBER, settings, broadcast_s, "seconds to broadcast one food in one tank", WITHIN(0, 600), ELSE("30")),
    FIELD(FIELD_NUMBER, settings, fish_s, "seconds to feed the fish of one tank", WITHIN(0, 600), ELSE("60")),
    FIELD(FIELD_NUMBER, settings, tank_fixed_s, "seconds to read the sheet and settle at a tank", WITHIN(0, 600),
          ELSE("60")),
    FIELD(FIELD_NUMBER, settings, walk_m_per_min, "walking speed", WITHIN(1, 200), ELSE("40")),
    FIELD(FIELD_NUMBER, settings, tool_change_min, "change of tools before quarantine, minutes", WITHIN(0, 60),
          ELSE("5")),
    FIELD(FIELD_NUMBER, settings, pot_change_min, "change of pot, minutes", WITHIN(0, 60), ELSE("2")),
    FIELD(FIELD_NUMBER, settings, pot_mix_min, "hands-on minutes to mix a pot", WITHIN(0, 60), ELSE("3")),
    FIELD(FIELD_NUMBER, settings, slurry_life_min, "a mixed slurry is thrown away after", WITHIN(10, 480), ELSE("120")),
    FIELD(FIELD_NUMBER, settings, arrival_wait_d, "days without target feed after arrival", WITHIN(0, 60), ELSE("3")),
    FIELD(FIELD_NUMBER, settings, arrival_half_d, "days at half portions and double interval", WITHIN(0, 90),
          ELSE("14")),
    FIELD(FIELD_NUMBER, settings, quarantine_d, "days that corals stay in quarantine", WITHIN(0, 365), ELSE("28")),
    FIELD(FIELD_NUMBER, settings, dark_flow_off_frac,
          "of a tank's longest time without flow, what it is while its lights are off", WITHIN(0.1, 1), ELSE("0.5")),
    FIELD(FIELD_NUMBER, settings, day_hands_min, "hands-on minutes a feeder has for target feed", WITHIN(5, 1440),
          ELSE("180")),
    FIELD(FIELD_NUMBER, settings, window_d, "days of tests that a trend looks back", WITHIN(7, 365), ELSE("28")),
    FIELD(FIELD_NUMBER, settings, stale_d, "a reading older than this is no guide", WITHIN(1, 90), ELSE("14")),
    FIELD(FIELD_NUMBER, settings, n_released_target_frac, "nitrogen of target food that reaches the water",
          WITHIN(0, 1), ELSE("0.6")),
    FIELD(FIELD_NUMBER, settings, p_released_target_frac, "phosphorus of target food that reaches the water",
          WITHIN(0, 1), ELSE("0.5")),
    FIELD(FIELD_NUMBER, settings, n_released_broadcast_frac, "nitrogen of broadcast food that reaches the water",
          WITHIN(0, 1), ELSE("0.8")),
    FIELD(FIELD_NUMBER, settings, p_released_broadcast_frac, "phosphorus of broadcast food that reaches the water",
          WITHIN(0, 1), ELSE("0.7")),
};

/* ---- checks across fields ------------------------------------------------------------------------------------ */

static bool blame(size_t *field, const struct field *fields, size_t n, const char *name)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(fields[i].name, name) == 0)
            *field = i;
    return false;
}

static bool band_check(const void *row, size_t *field, struct err *e)
{
    const struct system_band *b = row;
    if (b->low < b->high)
        return true;
    err_set(e, ERR_INPUT, NULL, "the band's low %g is not below its high %g; expected low < high", b->low, b->high);
    return blame(field, band_fields, COUNT_OF(band_fields), "high");
}

static bool switch_check(const void *row, size_t *field, struct err *e)
{
    const struct system_switch *s = row;
    if (isnan(s->off_limit_min) || s->off_limit_min > s->on_after_min)
        return true;
    err_set(e, ERR_INPUT, NULL, "it may be off for %g min, but goes on only %g min after; expected a longer limit",
            s->off_limit_min, s->on_after_min);
    return blame(field, switch_fields, COUNT_OF(switch_fields), "off_limit_min");
}

/* Both or neither; lights that go on and off in one minute say nothing. */
static bool lights_check(int on_min, int off_min, struct err *e)
{
    if ((on_min == CLOCK_NONE) != (off_min == CLOCK_NONE))
        return err_set(e, ERR_INPUT, NULL,
                       "only one of lights_on_min and lights_off_min is known; expected both or neither");
    return on_min == CLOCK_NONE || on_min != off_min ||
           err_set(e, ERR_INPUT, NULL, "the lights go on and off in the same minute; expected another lights_off_min");
}

static bool system_check(const void *row, size_t *field, struct err *e)
{
    const struct system *s = row;
    return lights_check(s->lights_on_min, s->lights_off_min, e) ||
           blame(field, system_fields, COUNT_OF(system_fields), "lights_off_min");
}

static bool daily_round_check(const void *row, size_t *field, struct err *e)
{
    const struct daily_round *d = row;
    return weekdays_read(d->days, (bool[7]){0}, e) ||
           blame(field, daily_round_fields, COUNT_OF(daily_round_fields), "days");
}

static bool tank_check(const void *row, size_t *field, struct err *e)
{
    double gross_l;
    const struct tank *t = row;
    if (!lights_check(t->lights_on_min, t->lights_off_min, e))
        return blame(field, tank_fields, COUNT_OF(tank_fields), "lights_off_min");
    *field = reg_field(reg_get(REG_TANK), "shape");
    return tank_gross(row, &gross_l, e);
}

static bool kind_check(const void *row, size_t *field, struct err *e)
{
    const struct kind *k = row;
    bool fed = k->feeding == FEEDING_TARGET || k->feeding == FEEDING_CLOUD;
    if (fed && k->portion_ml <= 0) {
        err_set(e, ERR_INPUT, NULL, "a kind that is fed needs a portion; expected portion_ml above 0");
        return blame(field, kind_fields, COUNT_OF(kind_fields), "portion_ml");
    }
    if (k->feeding == FEEDING_TARGET && k->mouth_rule == MOUTHS_NONE) {
        err_set(e, ERR_INPUT, NULL, "a kind fed mouth by mouth needs a mouth_rule; expected all, fraction or one");
        return blame(field, kind_fields, COUNT_OF(kind_fields), "mouth_rule");
    }
    if (k->mouth_max > 0 && k->mouth_max < k->mouth_min) {
        err_set(e, ERR_INPUT, NULL, "mouth_max %ld is below mouth_min %ld", k->mouth_max, k->mouth_min);
        return blame(field, kind_fields, COUNT_OF(kind_fields), "mouth_max");
    }
    return true;
}

static bool food_check(const void *row, size_t *field, struct err *e)
{
    const struct food *f = row;
    if (f->max_particle_um < f->min_particle_um) {
        err_set(e, ERR_INPUT, NULL, "the coarsest particle %g um is finer than the finest %g um", f->max_particle_um,
                f->min_particle_um);
        return blame(field, food_fields, COUNT_OF(food_fields), "max_particle_um");
    }
    if (f->blend_share_max_frac < f->blend_share_min_frac) {
        err_set(e, ERR_INPUT, NULL, "the largest share %g is below the least %g", f->blend_share_max_frac,
                f->blend_share_min_frac);
        return blame(field, food_fields, COUNT_OF(food_fields), "blend_share_max_frac");
    }
    if (f->broadcast_units_per_100l > f->ceiling_units_per_100l) {
        err_set(e, ERR_INPUT, NULL, "the usual broadcast %g is above the ceiling %g", f->broadcast_units_per_100l,
                f->ceiling_units_per_100l);
        return blame(field, food_fields, COUNT_OF(food_fields), "broadcast_units_per_100l");
    }
    return true;
}

static bool lot_check(const void *row, size_t *field, struct err *e)
{
    const struct lot *l = row;
    if (l->received == DAY_NONE || l->opened == DAY_NONE || l->opened >= l->received)
        return true;
    err_set(e, ERR_INPUT, NULL, "opened before it was received");
    return blame(field, lot_fields, COUNT_OF(lot_fields), "opened");
}

static bool test_check(const void *row, size_t *field, struct err *e)
{
    const struct test *t = row;
    const struct analyte_def *a = &analytes[t->analyte];
    if (t->value >= a->least && t->value <= a->most && (!t->below || t->value > 0))
        return true;
    if (t->below && t->value <= 0)
        err_set(e, ERR_INPUT, NULL, "a reading below detection needs the limit it is below; expected a value above 0");
    else
        err_set(e, ERR_INPUT, NULL, "%s %g%s is not plausible; expected %g to %g", a->title, t->value, a->unit_after,
                a->least, a->most);
    return blame(field, test_fields, COUNT_OF(test_fields), "value");
}

bool settings_check(const struct settings *s, struct err *e)
{
    if (s->lag_min_min > s->lag_max_min)
        return err_set(
            e, ERR_INPUT, NULL,
            "the shortest wait before target feed (lag_min_min) is %g min and the longest (lag_max_min) %g min; "
            "expected the shortest not above the longest",
            s->lag_min_min, s->lag_max_min);
    if (s->syringe_dead_ml >= s->syringe_ml || s->syringe_step_ml > s->syringe_ml)
        return err_set(
            e, ERR_INPUT, NULL,
            "a syringe of %g mL (syringe_ml) cannot keep %g mL in its tube (syringe_dead_ml) and be graduated by "
            "%g mL (syringe_step_ml); expected both below its volume",
            s->syringe_ml, s->syringe_dead_ml, s->syringe_step_ml);
    return true;
}

/* ---- the list -------------------------------------------------------------------------------------------------- */

#define ROWS(fields_, struct_) .fields = fields_, .n_fields = COUNT_OF(fields_), .row_size = sizeof(struct struct_)
#define HELD(array_, count_)                                                                                           \
    .array_offset = offsetof(struct facility, array_), .count_offset = offsetof(struct facility, count_), .typed = true

static const struct reg regs[N_REGS] = {
    [REG_SETTING] = {"setting", "the house's own figures", .fields = setting_row_fields,
                     .n_fields = COUNT_OF(setting_row_fields), .typed = true},
    [REG_SYSTEM] = {"system", "bodies of water", ROWS(system_fields, system), HELD(systems, n_systems),
                    .check = system_check},
    [REG_BAND] = {"band", "limits of an analyte in a system", ROWS(band_fields, system_band), HELD(bands, n_bands),
                  .check = band_check},
    [REG_SWITCH] = {"switch", "what is off while a system is fed", ROWS(switch_fields, system_switch),
                    HELD(switches, n_switches), .check = switch_check},
    [REG_DAILY_ROUND] = {"daily_round", "the rounds of a day, where there are several",
                         ROWS(daily_round_fields, daily_round), HELD(daily_rounds, n_daily_rounds),
                         .check = daily_round_check},
    [REG_BROADCAST_DAY] = {"broadcast_day", "what part of the broadcast a system gets when",
                           ROWS(broadcast_day_fields, broadcast_day), HELD(broadcast_days, n_broadcast_days)},
    [REG_TANK] = {"tank", "vessels", ROWS(tank_fields, tank), HELD(tanks, n_tanks), .check = tank_check},
    [REG_KIND] = {"kind", "corals fed alike", ROWS(kind_fields, kind), HELD(kinds, n_kinds), .check = kind_check},
    [REG_COLONY] = {"colony", "corals and lots of like corals", ROWS(colony_fields, colony),
                    HELD(colonies, n_colonies)},
    [REG_FOOD] = {"food", "foods", ROWS(food_fields, food), HELD(foods, n_foods), .check = food_check},
    [REG_LOT] = {"lot", "purchased quantities of food", ROWS(lot_fields, lot), HELD(lots, n_lots), .check = lot_check},
    [REG_METHOD] = {"method", "ways to test the water", ROWS(method_fields, method), HELD(methods, n_methods)},
    [REG_TEST] = {"test", "readings of the water", ROWS(test_fields, test), HELD(tests, n_tests), .ledger = true,
                  .check = test_check},
    [REG_WATER] = {"water", "water changes", ROWS(water_fields, water), HELD(waters, n_waters), .ledger = true},
    [REG_ROUND] = {"round", "kept plans", ROWS(round_fields, round_head)},
    [REG_ASKED] = {"asked", "what was asked of kept plans", ROWS(asked_fields, asked), .part_of = REG_ROUND},
    [REG_POT] = {"pot", "mixed slurries of kept plans", ROWS(pot_fields, pot), .part_of = REG_ROUND},
    [REG_POT_FOOD] = {"pot_food", "what went into them", ROWS(pot_food_fields, pot_food), .part_of = REG_POT},
    [REG_LINE] = {"line", "numbered lines of kept plans", ROWS(line_fields, line), .part_of = REG_ROUND},
    [REG_WAITING] = {"waiting", "who was not fed, and why", ROWS(waiting_fields, waiting), .part_of = REG_ROUND},
    [REG_CAUTION] = {"caution", "what the sheet warned of", ROWS(caution_fields, caution), .part_of = REG_ROUND},
    [REG_SWITCHING] = {"switching", "what was off when", ROWS(switching_fields, switching), .part_of = REG_ROUND},
    [REG_GIVEN] = {"given", "what became of the lines", ROWS(given_fields, given), .ledger = true},
    [REG_EXTRA] = {"extra", "food given beside the plan", ROWS(extra_fields, extra), .ledger = true},
    [REG_MIXED] = {"mixed", "what was mixed and what was left", ROWS(mixed_fields, mixed), .ledger = true},
    [REG_WEIGHED] = {"weighed", "what the scale said", ROWS(weighed_fields, weighed), .ledger = true},
    [REG_CREW] = {"crew", "who the feeders of a round were", ROWS(crew_fields, crew), .ledger = true},
    [REG_REMARK] = {"remark", "what was noted of a round", ROWS(remark_fields, remark), .ledger = true},
    [REG_SWITCHED] = {"switched", "when switches were off", ROWS(switched_fields, switched), .ledger = true},
    [REG_TREATMENT] = {"treatment", "dips, baths and treatments", ROWS(treatment_fields, treatment), .ledger = true},
    [REG_WASTE] = {"waste", "food that left a lot unfed", ROWS(waste_fields, waste), .ledger = true},
    [REG_TALLY] = {"tally", "why counts and places changed", ROWS(tally_fields, colony_tally), .ledger = true},
};

static const struct reg settings_as_reg = {"settings", "the house's own figures", ROWS(settings_fields, settings)};

const struct reg *reg_get(enum reg_id id)
{
    return &regs[id];
}

const struct reg *reg_find(const char *name)
{
    for (size_t i = 0; i < N_REGS; i++)
        if (strcmp(regs[i].name, name) == 0)
            return &regs[i];
    return NULL;
}

bool field_is_key(const struct field *f)
{
    return (f->flags & FIELD_KEY) != 0;
}

size_t reg_field(const struct reg *r, const char *name)
{
    for (size_t i = 0; i < r->n_fields; i++)
        if (strcmp(r->fields[i].name, name) == 0)
            return i;
    return SIZE_MAX;
}

const struct reg *settings_reg(void)
{
    return &settings_as_reg;
}
