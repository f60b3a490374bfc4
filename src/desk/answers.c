/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the run of a calculation sees of its inputs, and its answers. */
#include "neap/desk.h"

size_t calc_input_named(const struct calculation *what, const char *name)
{
    for (size_t i = 0; what->inputs[i].name; i++)
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
    assert(k->n_answers < CALC_ANSWERS_MAX);
    struct calc_answer *a = &k->answers[k->n_answers++];
    *a = (struct calc_answer){.label = label, .value = value, .unit = unit, .digits = digits};
    snprintf(a->key, sizeof a->key, "%s", key);
}

/* One amount in some unit, and how a key says that unit. */
struct shown {
    const char *suffix, *unit;
    double value;
};

static void answer_shown(struct calc *k, const char *label, const char *stem, struct shown s)
{
    char key[CALC_KEY_TEXT];
    snprintf(key, sizeof key, "%s_%s", stem, s.suffix);
    calc_answer(k, label, key, s.value, s.unit, 4);
}

/* The units of the house come first. */
static void answer_both(struct calc *k, const char *label, const char *stem, struct shown metric, struct shown us)
{
    answer_shown(k, label, stem, k->us_units ? us : metric);
    answer_shown(k, label, stem, k->us_units ? metric : us);
}

void calc_answer_litres(struct calc *k, const char *label, const char *stem, double litres)
{
    answer_both(k, label, stem, (struct shown){"l", "L", litres},
                (struct shown){"usgal", "US gal", us_gal_from_litres(litres)});
    answer_shown(k, label, stem, (struct shown){"impgal", "imp gal", imp_gal_from_litres(litres)});
}

void calc_answer_ml(struct calc *k, const char *label, const char *stem, double ml)
{
    answer_both(k, label, stem, (struct shown){"ml", "mL", ml},
                (struct shown){"usfloz", "US fl oz", us_fl_oz_from_ml(ml)});
    answer_shown(k, label, stem, (struct shown){"ustsp", "US tsp", us_tsp_from_ml(ml)});
}

void calc_answer_g(struct calc *k, const char *label, const char *stem, double g)
{
    answer_both(k, label, stem, (struct shown){"g", "g", g}, (struct shown){"oz", "oz", oz_from_g(g)});
}

bool calc_needs(const struct calc *k, const char *what, struct err *e)
{
    char example[sizeof e->help_about];
    snprintf(example, sizeof example, "%s %s", k->what->name, k->what->example);
    err_set(e, ERR_MISUSE, NULL, "%s needs %s", k->what->name, what);
    return err_help(e, HELP_CALC, example);
}
