/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Calculations about units and chemistry: conversion, N:P, ammonia. */
#include "neap/desk.h"

#include <ctype.h>

/* What a quantity is shown in when no unit is asked for: the few of its kind that people use; of a species, its own. */
static const struct {
    enum quantity_kind kind;
    const char *unit;
} usual[] = {
    {QUANTITY_VOLUME, "L"},
    {QUANTITY_VOLUME, "mL"},
    {QUANTITY_VOLUME, "US gal"},
    {QUANTITY_VOLUME, "imp gal"},
    {QUANTITY_VOLUME, "US fl oz"},
    {QUANTITY_VOLUME, "US tbsp"},
    {QUANTITY_VOLUME, "US tsp"},
    {QUANTITY_VOLUME, "ft3"},
    {QUANTITY_MASS, "g"},
    {QUANTITY_MASS, "mg"},
    {QUANTITY_MASS, "kg"},
    {QUANTITY_MASS, "oz"},
    {QUANTITY_MASS, "lb"},
    {QUANTITY_MASS, "grain"},
    {QUANTITY_LENGTH, "cm"},
    {QUANTITY_LENGTH, "m"},
    {QUANTITY_LENGTH, "mm"},
    {QUANTITY_LENGTH, "in"},
    {QUANTITY_LENGTH, "ft"},
    {QUANTITY_TIME, "min"},
    {QUANTITY_TIME, "s"},
    {QUANTITY_TIME, "h"},
    {QUANTITY_TIME, "days"},
    {QUANTITY_TEMPERATURE, "C"},
    {QUANTITY_TEMPERATURE, "F"},
    {QUANTITY_SALINITY, "psu"},
    {QUANTITY_CONCENTRATION, "mg/L"},
    {QUANTITY_CONCENTRATION, "ug/L"},
    {QUANTITY_CONCENTRATION, "g/L"},
    {QUANTITY_CONCENTRATION, "g/100mL"},
    {QUANTITY_ALKALINITY, "dKH"},
    {QUANTITY_ALKALINITY, "meq/L"},
    {QUANTITY_ALKALINITY, "mg/L CaCO3"},
    {QUANTITY_PH, "pH"},
    {QUANTITY_FRACTION, "%"},
    {QUANTITY_DOSE_RATE, "mL/100L"},
    {QUANTITY_DOSE_RATE, "mL/L"},
    {QUANTITY_DOSE_RATE, "mL/US gal"},
    {QUANTITY_DOSE_RATE, "mL/100US gal"},
};

/* "mg/L NO3-N" as a JSON key: "mg_l_no3_n", and "µg/L": "ug_l". Of a known unit, which has a letter, and not many. */
static void calc_key(const char *unit, char key[CALC_KEY_TEXT])
{
    size_t n = 0, step = 0;
    for (; *unit; unit += step ? step : 1) {
        const char one[2] = {*unit, '\0'}, *add = one;
        for (step = unit_sign(unit, &add); *add; add++) {
            bool plain = isalnum((unsigned char)*add);
            assert(n + 1 < CALC_KEY_TEXT);
            if (plain || (n > 0 && key[n - 1] != '_'))
                key[n++] = plain ? (char)tolower((unsigned char)*add) : '_';
        }
    }
    assert(n > 0);
    key[key[n - 1] == '_' ? n - 1 : n] = '\0';
}

static bool convert_to(struct calc *k, const struct quantity *q, const char *unit, struct err *e)
{
    char key[CALC_KEY_TEXT];
    double value;
    if (!quantity_in(q, unit, &value, e))
        return false;
    if (q->kind == QUANTITY_FRACTION) { /* has but one unit, which has no letter */
        calc_answer(k, "is", "frac", q->value, "%", 6);
        return true;
    }
    calc_key(unit, key);
    calc_answer(k, "is", key, value, unit, 6);
    return true;
}

static bool convert_to_usual(struct calc *k, const struct quantity *q, struct err *e)
{
    const char *unit;
    for (size_t i = 0; q->species != SPECIES_NONE && (unit = species_unit(q->species, i)); i++)
        if (!convert_to(k, q, unit, e))
            return false;
    for (size_t i = 0; q->species == SPECIES_NONE && i < COUNT_OF(usual); i++)
        if (usual[i].kind == q->kind && !convert_to(k, q, usual[i].unit, e))
            return false;
    return true;
}

static bool wants_scale(const struct quantity *q, struct err *e)
{
    char example[64];
    snprintf(example, sizeof example, "density sg=%g temp=25C ref=25C", q->value);
    err_set(e, ERR_INPUT, NULL, "a specific gravity needs its scale");
    return err_help(e, HELP_CALC, example);
}

static bool convert_run(struct calc *k, struct err *e)
{
    static const char word[] = " to ";
    char from[128];
    struct quantity q;
    const char *to = strstr(k->words, word);
    size_t n = to ? (size_t)(to - k->words) : strlen(k->words);
    if (n == 0)
        return calc_needs(k, "a quantity, such as 65usgal", e);
    if (n >= sizeof from)
        return err_set(e, ERR_MISUSE, NULL, "\"%.60s…\" is no quantity; expected one such as 65usgal", k->words);
    memcpy(from, k->words, n);
    from[n] = '\0';
    if (!quantity_parse(from, &q, e)) {
        e->code = ERR_MISUSE;
        return false;
    }
    if (q.kind == QUANTITY_NUMBER)
        return err_set(e, ERR_MISUSE, NULL, "%s of what? expected a number and a unit, such as %s mL", from, from);
    if (q.kind == QUANTITY_GRAVITY)
        return wants_scale(&q, e);
    return to ? convert_to(k, &q, to + strlen(word), e) : convert_to_usual(k, &q, e);
}

const struct calculation calc_convert = {
    .name = "convert",
    .summary = "a quantity in another unit, or in all that are usual",
    .usage = "QUANTITY [to UNIT]",
    .formula = "exact definitions of the units; IUPAC 2021 atomic weights; ppm and ppb taken as mg/L and µg/L",
    .example = "18 ppb P to mg/L PO4",
    .run = convert_run,
};

static bool ratio_run(struct calc *k, struct err *e)
{
    double ratio;
    if (!calc_given(k, "no3") || !calc_given(k, "po4"))
        return calc_needs(k, "no3=… and po4=…", e);
    if (!np_ratio_molar(calc_in(k, "no3", NAN), calc_in(k, "po4", NAN), &ratio, e))
        return false;
    calc_answer(k, "N:P by moles", "np_ratio_molar", ratio, "to 1", 4);
    return true;
}

const struct calculation calc_ratio = {
    .name = "ratio",
    .summary = "nitrogen to phosphorus, by moles",
    .usage = "no3=… po4=…",
    .formula = "(nitrate ÷ 62.004) ÷ (phosphate ÷ 94.970), mg/L of the ions",
    .example = "no3=8.5 po4=0.06",
    .inputs =
        (const struct calc_input[]){{"no3", INPUT_QUANTITY, "mg/L NO3", "no3_mg_l", "nitrate; also 2.2mg/L NO3-N"},
                                    {"po4", INPUT_QUANTITY, "mg/L PO4", "po4_mg_l", "phosphate; also 18ppb P"},
                                    {0}},
    .run = ratio_run,
};

static bool ammonia_run(struct calc *k, struct err *e)
{
    double part_frac, total_mg_l = calc_in(k, "total", NAN);
    if (!calc_given(k, "ph") || !calc_given(k, "temp"))
        return calc_needs(k, "ph=… and temp=…, and total=… for mg/L", e);
    if (!nh3_unionised_frac(calc_in(k, "ph", NAN), calc_in(k, "temp", NAN), calc_in(k, "salinity", NAN), &part_frac, e))
        return false;
    if (calc_given(k, "total"))
        calc_answer(k, "free ammonia", "nh3_mg_l", total_mg_l * part_frac, "mg/L", 3);
    calc_answer(k, "free part", "nh3_frac", part_frac, "%", 3);
    if (!calc_given(k, "salinity"))
        k->caution = "For fresh water; in sea water the free part is smaller, so this is the careful side.";
    return true;
}

const struct calculation calc_ammonia = {
    .name = "ammonia",
    .summary = "how much of total ammonia is the free, poisonous part",
    .usage = "total=… ph=… temp=… salinity=…",
    .formula = "1 ÷ (1 + 10^(pKa − pH)), pKa = 10.0423 − 0.0315536 °C + 0.003071 psu (Bell et al. 2007), without a "
               "salinity 0.09018 + 2729.92 ÷ (°C + 273.15) (Emerson et al. 1975)",
    .example = "total=0.5 ph=8.2 temp=25C salinity=35",
    .inputs =
        (const struct calc_input[]){
            {"total", INPUT_QUANTITY, "mg/L", "total_mg_l", "total ammonia, in any basis: the answer is in the same"},
            {"ph", INPUT_NUMBER, NULL, "ph", "of the water"},
            {"temp", INPUT_QUANTITY, "C", "temp_c", "of the water"},
            {"salinity", INPUT_QUANTITY, "psu", "salinity_psu", "of the water; without it as in fresh water"},
            {0}},
    .run = ammonia_run,
};
