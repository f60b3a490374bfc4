/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Calculations about water itself: volume, exchange, density. */
#include "neap/desk.h"

static const char *const floor_words[N_SHAPES] = {
    [SHAPE_BOX] = "length × width × water ÷ 1000",
    [SHAPE_CYLINDER] = "π × diameter² ÷ 4 × water ÷ 1000",
    [SHAPE_HALF_CYLINDER] = "π × diameter² ÷ 8 × water ÷ 1000",
    [SHAPE_QUARTER_CYLINDER] = "π × side² ÷ 4 × water ÷ 1000",
    [SHAPE_BOW_FRONT] = "(length × width + circular segment of chord length and rise bow) × water ÷ 1000",
    [SHAPE_PRISM] = "sides × side² ÷ (4 tan(180° ÷ sides)) × water ÷ 1000",
    [SHAPE_CUT_CORNER] = "(length × width − cut length × cut width ÷ 2) × water ÷ 1000",
    [SHAPE_STATED] = "as stated",
};

static bool volume_run(struct calc *k, struct err *e)
{
    struct tank_measures m = {
        .length_cm = calc_in(k, "length", NAN),
        .width_cm = calc_in(k, "width", NAN),
        .water_cm = calc_in(k, "water", NAN),
        .diameter_cm = calc_in(k, "diameter", NAN),
        .bow_cm = calc_in(k, "bow", NAN),
        .side_cm = calc_in(k, "side", NAN),
        .cut_length_cm = calc_in(k, "cut_length", NAN),
        .cut_width_cm = calc_in(k, "cut_width", NAN),
        .stated_l = calc_in(k, "stated", NAN),
    };
    double sides = calc_in(k, "sides", 0), gross_l, net_l;
    if (calc_given(k, "sides") && (sides != floor(sides) || sides < 3 || sides > 100))
        return err_set(e, ERR_INPUT, NULL, "sides is %g; expected a whole number from 3 to 100", sides);
    m.n_sides = (int)sides;
    const struct calc_value *shape = calc_value(k, "shape");
    if (shape->typed && !tank_shape_find(shape->typed, &m.shape, e))
        return false;
    if (!volume_gross(&m, &gross_l, e) || !volume_net(gross_l, calc_in(k, "displacement", 0), &net_l, e))
        return false;
    k->formula = floor_words[m.shape];
    calc_answer_litres(k, "gross volume", "gross", gross_l);
    if (calc_given(k, "displacement"))
        calc_answer_litres(k, "net volume", "net", net_l);
    return true;
}

const struct calculation calc_volume = {
    .name = "volume",
    .summary = "water in a tank by its shape and inside measures",
    .usage = "[shape=box] MEASURES [displacement=10%]",
    .formula = "floor area × water ÷ 1000; net = gross × (1 − displacement)",
    .example = "length=120cm width=60cm water=50cm displacement=0.1",
    .inputs =
        (const struct calc_input[]){
            {"shape", INPUT_WORD, NULL, "shape", "box (else), cylinder, half-cylinder, bow-front, prism, …"},
            {"length", INPUT_QUANTITY, "cm", "length_cm", "inside length: box, bow front, cut corner"},
            {"width", INPUT_QUANTITY, "cm", "width_cm", "inside width: the same"},
            {"water", INPUT_QUANTITY, "cm", "water_cm", "height of the water: every shape"},
            {"displacement", INPUT_FRACTION, NULL, "displacement_frac", "what rock, sand and frames take away"},
            {"diameter", INPUT_QUANTITY, "cm", "diameter_cm", "inside diameter: cylinder, half cylinder"},
            {"side", INPUT_QUANTITY, "cm", "side_cm", "a straight side: quarter cylinder, prism"},
            {"sides", INPUT_NUMBER, NULL, "n_sides", "how many: prism"},
            {"bow", INPUT_QUANTITY, "cm", "bow_cm", "how far the front stands out: bow front"},
            {"cut_length", INPUT_QUANTITY, "cm", "cut_length_cm", "a leg of the missing corner: cut corner"},
            {"cut_width", INPUT_QUANTITY, "cm", "cut_width_cm", "the other leg"},
            {"stated", INPUT_QUANTITY, "L", "stated_l", "the volume itself: stated"},
            {0}},
    .run = volume_run,
};

/* ---- water change ------------------------------------------------------------------------------------------------ */

static bool changed_part(const struct calc *k, double *part_frac, struct err *e)
{
    const struct calc_value *change = calc_value(k, "change");
    double volume_l = calc_in(k, "volume", NAN);
    if (change->quantity.kind != QUANTITY_VOLUME) {
        *part_frac = change->value;
        return true;
    }
    if (isnan(volume_l) || volume_l <= 0)
        return calc_needs(k, "the system's volume=… where the change is a volume", e);
    *part_frac = change->value / volume_l;
    return true;
}

static bool change_forward(struct calc *k, bool continuous, struct err *e)
{
    double part_frac = NAN, after_mg_l, times = calc_in(k, "times", 1);
    double level_mg_l = calc_in(k, "level", NAN), fresh_mg_l = calc_in(k, "fresh", 0);
    if (times != floor(times) || times < 1 || times > 1e6)
        return err_set(e, ERR_INPUT, NULL, "times is %g; expected a whole number from 1", times);
    if (!changed_part(k, &part_frac, e))
        return false;
    if (continuous ? !washout_mg_l(level_mg_l, fresh_mg_l, part_frac * times, &after_mg_l, e)
                   : !water_change_mg_l(level_mg_l, fresh_mg_l, part_frac, (long)times, &after_mg_l, e))
        return false;
    calc_answer(k, "level after", "after_mg_l", after_mg_l, "mg/L", 4);
    calc_answer(k, "changed", "changed_frac", part_frac * times, "% of the volume", 4);
    if (calc_given(k, "volume"))
        calc_answer_litres(k, "new water", "new_water", part_frac * times * calc_in(k, "volume", 0));
    return true;
}

/* How much to change for a level. A washout of one exchange an hour takes as many hours as it takes exchanges. */
static bool change_backward(struct calc *k, bool continuous, struct err *e)
{
    double part_frac, time_min;
    if (!water_change_frac(calc_in(k, "level", NAN), calc_in(k, "fresh", 0), calc_in(k, "to", NAN), &part_frac, e))
        return false;
    if (continuous) {
        if (!washout_min(part_frac, 1, &time_min, e))
            return false;
        part_frac = time_min / 60;
    }
    calc_answer(k, "to change", "change_frac", part_frac, "% of the volume", 4);
    if (calc_given(k, "volume"))
        calc_answer_litres(k, "new water", "new_water", part_frac * calc_in(k, "volume", 0));
    return true;
}

static bool change_run(struct calc *k, struct err *e)
{
    const struct calc_value *way = calc_value(k, "way");
    bool continuous = way->typed && strcmp(way->typed, "continuous") == 0;
    if (way->typed && !continuous && strcmp(way->typed, "batch") != 0)
        return err_set(e, ERR_MISUSE, NULL, "way is \"%.60s\"; expected batch or continuous", way->typed);
    if (!calc_given(k, "level") || calc_given(k, "to") == calc_given(k, "change"))
        return calc_needs(k, "level=… and either change=… (10% or a volume) or to=… (the level wanted)", e);
    k->formula = continuous ? "after = fresh + (level − fresh) × e^(−exchanged ÷ volume)"
                            : "after = fresh + (level − fresh) × (1 − changed part)^times";
    return calc_given(k, "to") ? change_backward(k, continuous, e) : change_forward(k, continuous, e);
}

const struct calculation calc_change = {
    .name = "change",
    .summary = "what a water change does to a level, or how much it takes",
    .usage = "level=… change=…|to=… [times=N] [fresh=…] [volume=…] [way=…]",
    .formula = "after = fresh + (level − fresh) × (1 − changed part)^times",
    .example = "level=50mg/L change=20% times=3",
    .inputs =
        (const struct calc_input[]){
            {"level", INPUT_QUANTITY, "mg/L", "level_mg_l", "before the change"},
            {"change", INPUT_PART, NULL, "change", "each time: 10%, or a volume such as 300L with volume="},
            {"volume", INPUT_QUANTITY, "L", "volume_l", "of the system"},
            {"to", INPUT_QUANTITY, "mg/L", "wanted_mg_l", "the level wanted, instead of change="},
            {"times", INPUT_NUMBER, NULL, "times", "changes of that size, else 1"},
            {"fresh", INPUT_QUANTITY, "mg/L", "fresh_mg_l", "level of the new water, else 0"},
            {"way", INPUT_WORD, NULL, "way", "batch (else) or continuous: drip in, overflow out"},
            {0}},
    .run = change_run,
};

/* ---- density ----------------------------------------------------------------------------------------------------- */

static bool density_run(struct calc *k, struct err *e)
{
    double temp_c = calc_in(k, "temp", 25), ref_c = calc_in(k, "ref", 25), salinity_psu = calc_in(k, "salinity", NAN);
    double kg_m3, gravity;
    if (calc_given(k, "salinity") == calc_given(k, "sg"))
        return calc_needs(k, "either salinity=… or sg=…", e);
    if (calc_given(k, "sg") && !salinity_from_specific_gravity(calc_in(k, "sg", NAN), temp_c, ref_c, &salinity_psu, e))
        return false;
    if (!seawater_density(salinity_psu, temp_c, &kg_m3, e) ||
        !specific_gravity(salinity_psu, temp_c, ref_c, &gravity, e))
        return false;
    if (calc_given(k, "sg"))
        calc_answer(k, "salinity", "salinity_psu", salinity_psu, "psu", 4);
    else
        calc_answer(k, "specific gravity", "specific_gravity", gravity, "", 6);
    calc_answer(k, "density", "density_kg_m3", kg_m3, "kg/m³", 7);
    if (calc_given(k, "volume"))
        calc_answer_g(k, "mass", "mass", kg_m3 * calc_in(k, "volume", 0));
    if (!calc_given(k, "temp") || !calc_given(k, "ref"))
        k->caution =
            "Where not given, the water is at 25 °C and compared with pure water at 25 °C (the 25/25 scale). A "
            "hydrometer says which scale is its own.";
    return true;
}

const struct calculation calc_density = {
    .name = "density",
    .summary = "salinity to density and specific gravity, and back",
    .usage = "salinity=…|sg=… [temp=25C] [ref=25C] [volume=…]",
    .formula = "sea water at one atmosphere by EOS-80 (UNESCO 1983); specific gravity = its density ÷ that of pure "
               "water at ref",
    .example = "35psu 25C",
    .inputs =
        (const struct calc_input[]){
            {"salinity", INPUT_QUANTITY, "psu", "salinity_psu", "practical salinity; ppt is taken as the same"},
            {"temp", INPUT_QUANTITY, "C", "temp_c", "of the water, else 25"},
            {"sg", INPUT_QUANTITY, "sg", "specific_gravity", "as read, instead of salinity="},
            {"ref", INPUT_QUANTITY, "C", "ref_temp_c", "of the pure water compared with, else 25"},
            {"volume", INPUT_QUANTITY, "L", "volume_l", "to be weighed"},
            {0}},
    .run = density_run,
};
