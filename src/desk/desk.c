/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The calculations, and how their inputs are read from words. */
#include "neap/desk.h"

#include <ctype.h>

const struct calculation *const calculations[] = {
    &calc_volume,   &calc_convert, &calc_dilute, &calc_dose,    &calc_broadcast, &calc_change, &calc_density,
    &calc_strength, &calc_ratio,   &calc_drops,  &calc_ammonia, &calc_label,     NULL,
};

/* ---- arguments --------------------------------------------------------------------------------------------------- */

static bool is_quantity_word(const char *s)
{
    return isdigit((unsigned char)*s) || *s == '.' || *s == '-' || *s == '+';
}

/* What kind of quantity an input waits for that has a unit. */
static enum quantity_kind input_kind(const struct calc_input *in)
{
    struct quantity one;
    char text[64];
    snprintf(text, sizeof text, "1 %s", in->unit);
    bool known = quantity_parse(text, &one, NULL);
    assert(known);
    return one.kind;
}

static bool input_takes(const struct calc_input *in, enum quantity_kind kind)
{
    switch (in->type) {
    case INPUT_WORD: return false;
    case INPUT_QUANTITY: return kind == QUANTITY_NUMBER || kind == input_kind(in);
    case INPUT_NUMBER: return kind == QUANTITY_NUMBER;
    case INPUT_FRACTION: return kind == QUANTITY_NUMBER || kind == QUANTITY_FRACTION;
    case INPUT_PART: return kind == QUANTITY_NUMBER || kind == QUANTITY_FRACTION || kind == QUANTITY_VOLUME;
    case INPUT_AMOUNT: return kind == QUANTITY_NUMBER || kind == QUANTITY_MASS || kind == QUANTITY_VOLUME;
    case INPUT_CONCENTRATION: break;
    }
    return kind == QUANTITY_NUMBER || kind == QUANTITY_CONCENTRATION || kind == QUANTITY_FRACTION;
}

static const char *input_expects(const struct calc_input *in)
{
    static const char *const expected[] = {
        [INPUT_QUANTITY] = NULL, /* quantity_read says itself what it expected */
        [INPUT_NUMBER] = "a number",
        [INPUT_FRACTION] = "a part, such as 10% or 0.1",
        [INPUT_PART] = "10%, 0.1 or a volume",
        [INPUT_AMOUNT] = "grams, or a volume",
        [INPUT_CONCENTRATION] = "a number, or a concentration",
    };
    return expected[in->type];
}

static bool fill_input(const struct calc_input *in, const char *text, struct calc_value *v, struct err *e)
{
    struct err why = {0};
    if (v->typed)
        return err_set(e, ERR_MISUSE, NULL, "%s is given twice: \"%.60s\" and \"%.60s\"; expected it once", in->name,
                       v->typed, text);
    bool ok = in->type == INPUT_WORD || quantity_parse(text, &v->quantity, &why);
    v->value = v->quantity.value;
    if (ok && in->type == INPUT_QUANTITY)
        ok = quantity_read(text, in->unit, &v->value, &why);
    else if (ok && !input_takes(in, v->quantity.kind) && in->type != INPUT_WORD)
        ok = err_set(&why, ERR_INPUT, NULL, "\"%.60s\" is %s; expected %s", text, quantity_kind_name(v->quantity.kind),
                     input_expects(in));
    v->typed = text;
    return ok || err_set(e, ERR_MISUSE, NULL, "%s: %s", in->name, why.text);
}

static void list_inputs(const struct calculation *what, struct text *out)
{
    for (size_t i = 0; what->inputs[i].name; i++)
        text_addf(out, "%s%s=", i ? ", " : "", what->inputs[i].name);
}

static bool unknown_input(const struct calculation *what, const char *name, struct err *e)
{
    const char *names[CALC_INPUTS_MAX];
    struct text list = {0};
    size_t n = 0;
    for (; what->inputs[n].name; n++)
        names[n] = what->inputs[n].name;
    const char *near_by = name_nearest(name, names, n);
    list_inputs(what, &list);
    if (near_by)
        err_set(e, ERR_MISUSE, NULL, "%s takes no \"%.60s\"; did you mean %s=?", what->name, name, near_by);
    else
        err_set(e, ERR_MISUSE, NULL, "%s takes no \"%.60s\"; expected %s", what->name, name, text_str(&list));
    text_free(&list);
    return false;
}

/* A bare word goes to the first free input that takes its kind. */
static bool fill_bare(struct calc *k, const char *word, struct err *e)
{
    const struct calc_input *in = k->what->inputs;
    struct quantity q = {0};
    struct text list = {0};
    if (is_quantity_word(word) && !quantity_parse(word, &q, e)) {
        e->code = ERR_MISUSE;
        return false;
    }
    for (size_t i = 0; in[i].name; i++)
        if (!k->in[i].typed && (is_quantity_word(word) ? input_takes(&in[i], q.kind) : in[i].type == INPUT_WORD))
            return fill_input(&in[i], word, &k->in[i], e);
    list_inputs(k->what, &list);
    err_set(e, ERR_MISUSE, NULL, "%s has no more use for \"%.60s\"; expected some of %s", k->what->name, word,
            text_str(&list));
    text_free(&list);
    return false;
}

/* Does word continue the one before, as "mL" does "15" and "NO3-N" does "rise=2.2 mg/L"? */
static bool continues(const char *before, const char *word)
{
    char joined[160];
    struct quantity q;
    const char *value = strchr(before, '=') ? strchr(before, '=') + 1 : before;
    if (!is_quantity_word(value) || is_quantity_word(word) || strchr(word, '='))
        return false;
    size_t n = (size_t)snprintf(joined, sizeof joined, "%s %s", value, word);
    return n < sizeof joined && quantity_parse(joined, &q, NULL);
}

static bool fill_word(struct calc *k, const char *word, struct err *e)
{
    char name[NAME_BYTES_MAX + 1];
    const char *value;
    if (!strchr(word, '='))
        return fill_bare(k, word, e);
    if (!split_assignment(word, name, &value, e))
        return false;
    size_t i = calc_input_named(k->what, name);
    return i == SIZE_MAX ? unknown_input(k->what, name, e) : fill_input(&k->what->inputs[i], value, &k->in[i], e);
}

static bool fill_inputs(struct calc *k, const char *const *words, size_t n, struct arena *a, struct err *e)
{
    for (size_t i = 0; i < n; i++) {
        const char *word = words[i];
        while (word && i + 1 < n && continues(word, words[i + 1]))
            word = arena_format(a, "%s %s", word, words[++i]);
        if (!word)
            return err_memory(e);
        if (!fill_word(k, word, e))
            return false;
    }
    return true;
}

static bool join_words(struct calc *k, const char *const *words, size_t n, struct arena *a, struct err *e)
{
    k->words = "";
    for (size_t i = 0; i < n; i++) {
        k->words = arena_format(a, "%s%s%s", k->words, i ? " " : "", words[i]);
        if (!k->words)
            return err_memory(e);
    }
    return true;
}

const struct calculation *calc_find(const char *name, struct err *e)
{
    const char *names[COUNT_OF(calculations) - 1];
    struct text list = {0};
    for (size_t i = 0; i < COUNT_OF(names); i++) {
        names[i] = calculations[i]->name;
        if (strcmp(name, names[i]) == 0)
            return calculations[i];
    }
    for (size_t i = 0; i < COUNT_OF(names); i++)
        text_addf(&list, "%s%s", i ? ", " : "", names[i]);
    const char *near_by = name_nearest(name, names, COUNT_OF(names));
    if (near_by)
        err_set(e, ERR_MISUSE, NULL, "there is no calculation \"%.60s\"; did you mean \"%s\"?", name, near_by);
    else
        err_set(e, ERR_MISUSE, NULL, "there is no calculation \"%.60s\"; expected %s", name, text_str(&list));
    text_free(&list);
    return NULL;
}

bool calc_run(struct calc *k, const char *const *words, size_t n, struct arena *a, struct err *e)
{
    k->formula = k->what->formula;
    return (k->what->inputs ? fill_inputs : join_words)(k, words, n, a, e) && k->what->run(k, e);
}
