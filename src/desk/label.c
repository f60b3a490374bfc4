/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a pack's label says, as the register of foods wants it: the same reckoning as add food's. */
#include "neap/desk.h"
#include "neap/label.h"

static bool answer_part(struct calc *k, const char *name, double g_per_unit, struct err *e)
{
    double part;
    if (!calc_given(k, name))
        return true;
    if (!label_part(name, calc_value(k, name)->typed, &part, e))
        return false;
    double mg_per_unit = mg_per_unit_from_frac(part, g_per_unit);
    const char *unit = g_per_unit == 1 ? "mg/g" : "mg/mL";
    if (strcmp(name, "moisture") == 0)
        calc_answer(k, "dry share", "solids_frac", 1 - part, "%", 4);
    else if (strcmp(name, "protein") == 0)
        calc_answer(k, "nitrogen", "n_mg_per_unit", n_from_protein(mg_per_unit), unit, 4);
    else
        calc_answer(k, "phosphorus", "p_mg_per_unit", mg_per_unit, unit, 4);
    return true;
}

/* A dose by volume in mL, one by mass in g: the label's own measure. */
static bool answer_rate(struct calc *k, const char *name, const char *label, const char *stem, struct err *e)
{
    char key[CALC_KEY_TEXT];
    struct quantity q;
    struct err why = {0};
    if (!calc_given(k, name))
        return true;
    if (!rate_parse(calc_value(k, name)->typed, &q, &why))
        return err_set(e, ERR_MISUSE, NULL, "%s: %s", name, why.text);
    bool ml = q.kind == QUANTITY_VOLUME;
    snprintf(key, sizeof key, "%s_%s_per_100l", stem, ml ? "ml" : "g");
    calc_answer(k, label, key, ml ? q.value * 1000 : q.value, ml ? "mL per 100 L" : "g per 100 L", 4);
    return true;
}

static bool label_run(struct calc *k, struct err *e)
{
    double density = calc_in(k, "density", 1);
    bool any = false;
    for (size_t i = 0; k->what->inputs[i].name; i++)
        any = any || (k->in[i].typed && strcmp(k->what->inputs[i].name, "density") != 0);
    if (!any)
        return calc_needs(k, "some of what the label prints: protein=, moisture=, phosphorus=, rate=, ceiling=", e);
    if (!(density > 0))
        return err_set(e, ERR_INPUT, NULL, "density is %g; expected g of one mL, more than 0", density);
    return answer_part(k, "protein", density, e) && answer_part(k, "phosphorus", density, e) &&
           answer_part(k, "moisture", density, e) && answer_rate(k, "rate", "rate", "rate", e) &&
           answer_rate(k, "ceiling", "ceiling", "ceiling", e);
}

const struct calculation calc_label = {
    .name = "label",
    .summary = "what a food's label says, as the register wants it",
    .usage = "[protein=45%] [phosphorus=1.2%] [rate=…] …",
    .formula =
        "nitrogen = protein / 6.25 (Jones, USDA Circular 183, 1931), as labels reckon it; parts are of the mass as "
        "sold; a dose counts for 100 L",
    .example = "protein=45% phosphorus=1.2% rate=\"5 mL per 50 US gal\"",
    .inputs = (const struct calc_input[]){{"protein", INPUT_WORD, NULL, "protein", "as printed, percent"},
                                          {"moisture", INPUT_WORD, NULL, "moisture", "as printed, percent"},
                                          {"phosphorus", INPUT_WORD, NULL, "phosphorus", "as printed, percent"},
                                          {"rate", INPUT_WORD, NULL, "rate", "the usual dose: \"5 mL per 50 US gal\""},
                                          {"ceiling", INPUT_WORD, NULL, "ceiling", "the most a day, in the same words"},
                                          {"density", INPUT_NUMBER, NULL, "density_g_per_ml",
                                           "of a liquid, g of one mL: answers are then for one mL"},
                                          {0}},
    .run = label_run,
};
