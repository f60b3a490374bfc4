/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Calculations about what goes into the water: dilution, dose, broadcast, slurry, drops. */
#include "neap/desk.h"

/* Concentrations are shown as they were written: percent, mg/L, or a number of some unit of the user's own. */
static void answer_like(struct calc *k, const char *label, const struct calc_value *like, double value)
{
    if (like->quantity.kind == QUANTITY_FRACTION)
        calc_answer(k, label, "conc_frac", value, "%", 4);
    else if (like->quantity.kind == QUANTITY_CONCENTRATION)
        calc_answer(k, label, "conc_mg_l", value, "mg/L", 4);
    else
        calc_answer(k, label, "conc", value, "", 4);
}

/* Volumes of a bottle or a vat: mL below a litre, litres from there. */
static void answer_volume(struct calc *k, const char *label, const char *stem, double litres)
{
    if (litres < 1)
        calc_answer_ml(k, label, stem, litres * 1000);
    else
        calc_answer_litres(k, label, stem, litres);
}

static bool dilute_run(struct calc *k, struct err *e)
{
    const struct calc_value *stock = calc_value(k, "stock"), *want = calc_value(k, "want");
    double to_l = calc_in(k, "to", NAN), stock_l = calc_in(k, "amount", NAN), conc;
    if (!stock->typed || !calc_given(k, "to") || calc_given(k, "want") == calc_given(k, "amount"))
        return calc_needs(k, "stock=…, to=… (the volume made), and either want=… or amount=… (of the stock)", e);
    if (want->typed && want->quantity.kind != stock->quantity.kind)
        return err_set(e, ERR_MISUSE, NULL, "stock is %s and want is %s; expected both in one kind of unit",
                       quantity_kind_name(stock->quantity.kind), quantity_kind_name(want->quantity.kind));
    if (want->typed && !dilution_stock_volume(stock->value, want->value, to_l, &stock_l, e))
        return false;
    if (!dilution_conc(stock->value, stock_l, to_l, &conc, e))
        return false;
    if (want->typed)
        answer_volume(k, "stock", "stock", stock_l);
    else
        answer_like(k, "strength", stock, conc);
    answer_volume(k, "water", "water", to_l - stock_l);
    return true;
}

const struct calculation calc_dilute = {
    .name = "dilute",
    .summary = "how much of a stock, or how strong it comes out",
    .usage = "stock=… to=VOLUME want=…|amount=VOLUME",
    .formula = "stock strength × stock volume = strength wanted × volume made",
    .example = "stock=15.8 amount=25.0mL to=1.50L",
    .inputs =
        (const struct calc_input[]){
            {"stock", INPUT_CONCENTRATION, NULL, "stock", "strength of the stock, in any unit or none"},
            {"amount", INPUT_QUANTITY, "L", "stock_l", "of the stock"},
            {"to", INPUT_QUANTITY, "L", "made_l", "volume made up to"},
            {"want", INPUT_CONCENTRATION, NULL, "wanted", "strength wanted, in the stock's unit"},
            {0}},
    .run = dilute_run,
};

/* ---- dose -------------------------------------------------------------------------------------------------------- */

static bool dose_run(struct calc *k, struct err *e)
{
    double volume_l = calc_in(k, "volume", NAN), active_frac = calc_in(k, "active", 1), amount_mg, rise_mg_l;
    const struct calc_value *amount = calc_value(k, "amount"), *solution = calc_value(k, "solution");
    if (!calc_given(k, "volume") || calc_given(k, "rise") == calc_given(k, "amount"))
        return calc_needs(k, "volume=… and either rise=… or amount=…", e);
    if (calc_given(k, "rise")) {
        if (!dose_amount_mg(volume_l, calc_in(k, "rise", NAN), active_frac, &amount_mg, e))
            return false;
        if (solution->typed && !(solution->value > 0))
            return err_set(e, ERR_INPUT, NULL, "solution is %g mg/L; expected more than 0", solution->value);
        if (solution->typed)
            calc_answer_ml(k, "amount", "amount", amount_mg / solution->value * 1000);
        else
            calc_answer_g(k, "amount", "amount", amount_mg / 1000);
        return true;
    }
    bool liquid = amount->quantity.kind == QUANTITY_VOLUME;
    if (liquid && !solution->typed)
        return calc_needs(k, "solution=… (such as 10mg/mL) where the amount is a volume", e);
    amount_mg = liquid ? amount->value * solution->value : amount->value * 1000;
    if (!dose_rise_mg_l(amount_mg, active_frac, volume_l, &rise_mg_l, e))
        return false;
    calc_answer(k, "rise", "rise_mg_l", rise_mg_l, "mg/L", 4);
    return true;
}

const struct calculation calc_dose = {
    .name = "dose",
    .summary = "how much for a wanted rise, or the rise of an amount",
    .usage = "volume=… rise=…|amount=… [active=25%] [solution=10mg/mL]",
    .formula = "amount = volume × rise ÷ active part (÷ strength of the solution)",
    .example = "volume=65usgal rise=2mg/L active=25%",
    .inputs =
        (const struct calc_input[]){
            {"volume", INPUT_QUANTITY, "L", "volume_l", "net, of the system"},
            {"rise", INPUT_QUANTITY, "mg/L", "rise_mg_l", "wanted"},
            {"amount", INPUT_AMOUNT, "g", "amount", "put in: grams, or mL of a solution"},
            {"active", INPUT_FRACTION, NULL, "active_frac", "what of the product counts, else all"},
            {"solution", INPUT_QUANTITY, "mg/L", "solution_mg_l", "strength, where it is a liquid: 10mg/mL"},
            {0}},
    .run = dose_run,
};

/* ---- broadcast --------------------------------------------------------------------------------------------------- */

static bool broadcast_run(struct calc *k, struct err *e)
{
    const struct broadcast_rule rule = {
        .volume_l = calc_in(k, "volume", NAN),
        .rate_ml_per_100l = calc_in(k, "rate", NAN),
        .ceiling_ml_per_100l = calc_in(k, "ceiling", NAN),
        .step_ml = calc_in(k, "step", 1),
    };
    double dose_ml;
    if (!calc_given(k, "volume") || !calc_given(k, "rate"))
        return calc_needs(k, "volume=… and rate=… (mL per 100 L)", e);
    if (!broadcast_volume_ml(&rule, &dose_ml, e))
        return false;
    calc_answer_ml(k, "broadcast", "dose", dose_ml);
    calc_answer(k, "unrounded", "unrounded_ml", rule.volume_l * rule.rate_ml_per_100l / 100, "mL", 4);
    if (dose_ml == 0)
        k->caution = "That is less than one step of the measure.";
    else if (rule.rate_ml_per_100l > rule.ceiling_ml_per_100l)
        k->caution = "Cut to the ceiling.";
    return true;
}

const struct calculation calc_broadcast = {
    .name = "broadcast",
    .summary = "mL of a food for a tank, by its rate and ceiling",
    .usage = "volume=… rate=… [step=1mL] [ceiling=…]",
    .formula = "volume ÷ 100 × rate, cut to the ceiling, rounded down to a step of the measure",
    .example = "65usgal 4.96",
    .inputs =
        (const struct calc_input[]){
            {"volume", INPUT_QUANTITY, "L", "volume_l", "net, of the tank"},
            {"rate", INPUT_QUANTITY, "mL/100L", "rate_ml_per_100l", "from the label"},
            {"step", INPUT_QUANTITY, "mL", "step_ml", "what the measure can read, else 1 mL"},
            {"ceiling", INPUT_QUANTITY, "mL/100L", "ceiling_ml_per_100l", "from the label, a day"},
            {0}},
    .run = broadcast_run,
};

/* ---- strength of a slurry ---------------------------------------------------------------------------------------- */

static bool strength_run(struct calc *k, struct err *e)
{
    double strength_mg_l = 1e4 * calc_in(k, "strength", NAN), dry_mg = 1000 * calc_in(k, "dry", NAN);
    double volume_l = calc_in(k, "volume", NAN) / 1000;
    bool weighs = !calc_given(k, "dry");
    if (!calc_given(k, "volume") || weighs != calc_given(k, "strength"))
        return calc_needs(k, "volume=… and either strength=… (such as 0.8g/100mL) or dry=… (grams)", e);
    if (weighs) {
        if (!dose_amount_mg(volume_l, strength_mg_l, 1, &dry_mg, e))
            return false;
        calc_answer_g(k, "dry food", "dry", dry_mg / 1000);
        return true;
    }
    if (!dose_rise_mg_l(dry_mg, 1, volume_l, &strength_mg_l, e))
        return false;
    calc_answer(k, "strength", "strength_g_per_100ml", strength_mg_l / 1e4, "g per 100 mL", 4);
    return true;
}

const struct calculation calc_strength = {
    .name = "strength",
    .summary = "dry food for a slurry, or the strength of one",
    .usage = "volume=… strength=…|dry=…",
    .formula = "dry food = strength × volume ÷ 100",
    .example = "0.8g/100mL 1500mL",
    .inputs = (const struct calc_input[]){{"volume", INPUT_QUANTITY, "mL", "volume_ml", "of slurry"},
                                          {"strength", INPUT_QUANTITY, "g/100mL", "strength_g_per_100ml",
                                           "grams dry per 100 mL"},
                                          {"dry", INPUT_QUANTITY, "g", "dry_g", "grams weighed in"},
                                          {0}},
    .run = strength_run,
};

/* ---- drops ------------------------------------------------------------------------------------------------------- */

static bool drops_run(struct calc *k, struct err *e)
{
    double per_ml = calc_in(k, "per_ml", NAN);
    if (!calc_given(k, "per_ml") || calc_given(k, "drops") == calc_given(k, "volume"))
        return calc_needs(k, "per_ml=… (count the drops of 1 mL) and either drops=… or volume=…", e);
    if (!(per_ml > 0))
        return err_set(e, ERR_INPUT, NULL, "per_ml is %g; expected more than 0", per_ml);
    if (calc_given(k, "drops"))
        calc_answer_ml(k, "volume", "volume", ml_from_drops(calc_in(k, "drops", NAN), per_ml));
    else
        calc_answer(k, "drops", "drops", drops_from_ml(calc_in(k, "volume", NAN), per_ml), "drops", 4);
    return true;
}

const struct calculation calc_drops = {
    .name = "drops",
    .summary = "drops to mL and back, by a dropper you have counted",
    .usage = "drops=…|volume=… per_ml=…",
    .formula = "mL = drops ÷ drops per mL",
    .example = "drops=35 per_ml=17.5",
    .inputs = (const struct calc_input[]){{"drops", INPUT_NUMBER, NULL, "drops", "how many"},
                                          {"per_ml", INPUT_NUMBER, NULL, "drops_per_ml",
                                           "of this dropper; 20 is usual, 10 to 60 are found"},
                                          {"volume", INPUT_QUANTITY, "mL", "volume_ml", "instead of drops="},
                                          {0}},
    .run = drops_run,
};
