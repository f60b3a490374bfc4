/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the run of a calculation sees of its inputs, and its answers. */
#include "neap/desk.h"

size_t calc_input_named(const struct calculation *what, const char *name)
{
    for (size_t i = 0; what->inputs && what->inputs[i].name; i++)
        if (strcmp(what->inputs[i].name, name) == 0)
            return i;
    return SIZE_MAX;
}

const struct calc_value *calc_value(const struct calc *k, const char *name)
{
    return &k->in[calc_input_named(k->what, name)];
}

bool calc_given(const struct calc *k, const char *name)
{
    return calc_value(k, name)->typed != NULL;
}

double calc_in(const struct calc *k, const char *name, double fallback)
{
    return calc_given(k, name) ? calc_value(k, name)->value : fallback;
}

void calc_answer(struct calc *k, const char *label, const char *key, double value, const char *unit, int digits)
{
    if (k->n_answers == CALC_ANSWERS_MAX)
        return;
    struct calc_answer *a = &k->answers[k->n_answers++];
    *a = (struct calc_answer){.label = label, .value = value, .unit = unit, .digits = digits};
    snprintf(a->key, sizeof a->key, "%s", key);
}

static void answer_keyed(struct calc *k, const char *label, const char *stem, const char *suffix, double value,
                         const char *unit)
{
    char key[CALC_KEY_TEXT];
    snprintf(key, sizeof key, "%s_%s", stem, suffix);
    calc_answer(k, label, key, value, unit, 4);
}

void calc_answer_litres(struct calc *k, const char *label, const char *stem, double litres)
{
    if (!k->us_units)
        answer_keyed(k, label, stem, "l", litres, "L");
    answer_keyed(k, label, stem, "usgal", us_gal_from_litres(litres), "US gal");
    if (k->us_units)
        answer_keyed(k, label, stem, "l", litres, "L");
    answer_keyed(k, label, stem, "impgal", imp_gal_from_litres(litres), "imp gal");
}

void calc_answer_ml(struct calc *k, const char *label, const char *stem, double ml)
{
    if (k->us_units)
        answer_keyed(k, label, stem, "usfloz", us_fl_oz_from_ml(ml), "US fl oz");
    answer_keyed(k, label, stem, "ml", ml, "mL");
    if (!k->us_units)
        answer_keyed(k, label, stem, "usfloz", us_fl_oz_from_ml(ml), "US fl oz");
    answer_keyed(k, label, stem, "ustsp", us_tsp_from_ml(ml), "US tsp");
}

void calc_answer_g(struct calc *k, const char *label, const char *stem, double g)
{
    if (k->us_units)
        answer_keyed(k, label, stem, "oz", oz_from_g(g), "oz");
    answer_keyed(k, label, stem, "g", g, "g");
    if (!k->us_units)
        answer_keyed(k, label, stem, "oz", oz_from_g(g), "oz");
}

bool calc_needs(const struct calc *k, const char *what, struct err *e)
{
    char example[sizeof e->help_about];
    snprintf(example, sizeof example, "%s %s", k->what->name, k->what->example);
    err_set(e, ERR_MISUSE, NULL, "%s needs %s", k->what->name, what);
    return err_help(e, HELP_CALC, example);
}
