#include "calc.h"

#include "neap/print.h"

#include <ctype.h>

static const struct calculation *const calculations[] = {
    &calc_volume,  &calc_convert,  &calc_dilute, &calc_dose,  &calc_broadcast, &calc_change,
    &calc_density, &calc_strength, &calc_ratio,  &calc_drops, &calc_ammonia,
};

/* ---- what a run sees ------------------------------------------------------------------------------------------------ */

static size_t find_input(const struct calculation *what, const char *name)
{
    for (size_t i = 0; what->inputs && what->inputs[i].name; i++)
        if (strcmp(what->inputs[i].name, name) == 0)
            return i;
    return SIZE_MAX;
}

const struct calc_value *calc_value(const struct calc *k, const char *name)
{
    return &k->in[find_input(k->what, name)];
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
    return err_set(e, ERR_MISUSE, NULL, "%s needs %s; such as: %s", k->what->name, what, k->what->example);
}

/* ---- arguments ------------------------------------------------------------------------------------------------------ */

static bool is_quantity_word(const char *s)
{
    return isdigit((unsigned char)*s) || *s == '.' || *s == '-' || *s == '+';
}

/* What kind of quantity an input waits for. */
static enum quantity_kind input_kind(const struct calc_input *in)
{
    struct quantity one;
    char text[64];
    snprintf(text, sizeof text, "1 %s", in->unit ? in->unit : "");
    return quantity_parse(text, &one, NULL) ? one.kind : QUANTITY_NUMBER;
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
    case INPUT_CONCENTRATION:
        return kind == QUANTITY_NUMBER || kind == QUANTITY_CONCENTRATION || kind == QUANTITY_FRACTION;
    }
    return false;
}

static const char *input_expects(const struct calc_input *in)
{
    static const char *const expected[] = {
        [INPUT_NUMBER] = "a number",
        [INPUT_FRACTION] = "a part, such as 10% or 0.1",
        [INPUT_PART] = "10%, 0.1 or a volume",
        [INPUT_AMOUNT] = "grams, or a volume",
        [INPUT_CONCENTRATION] = "a number, or a concentration",
    };
    return in->type == INPUT_QUANTITY ? quantity_kind_name(input_kind(in)) : expected[in->type];
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
        if (e)
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
    int n = snprintf(joined, sizeof joined, "%s %s", value, word);
    return n > 0 && (size_t)n < sizeof joined && quantity_parse(joined, &q, NULL);
}

static bool fill_word(struct calc *k, const char *word, struct err *e)
{
    char name[NAME_BYTES_MAX + 1];
    const char *value;
    if (!strchr(word, '='))
        return fill_bare(k, word, e);
    if (!split_assignment(word, name, &value, e))
        return false;
    size_t i = find_input(k->what, name);
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

/* ---- printing ------------------------------------------------------------------------------------------------------- */

/* To so many significant digits, but all digits before the point; no zeros behind. */
static void add_number(struct text *out, double v, int digits)
{
    char s[64];
    int before = v == 0 ? 1 : (int)floor(log10(fabs(v))) + 1;
    int decimals = digits - before;
    if (fabs(v) >= 1e15 || decimals > 15) {
        text_addf(out, "%.*g", digits, v);
        return;
    }
    snprintf(s, sizeof s, "%.*f", decimals > 0 ? decimals : 0, v);
    if (strchr(s, '.')) {
        size_t n = strlen(s);
        while (s[n - 1] == '0')
            s[--n] = '\0';
        if (s[n - 1] == '.')
            s[n - 1] = '\0';
    }
    text_add(out, s);
}

static bool same_label(const struct calc *k, size_t i)
{
    return i > 0 && strcmp(k->answers[i].label, k->answers[i - 1].label) == 0;
}

static void print_answers(const struct calc *k, struct text *out)
{
    for (size_t i = 0; i < k->n_answers; i++) {
        const struct calc_answer *a = &k->answers[i];
        bool list = k->what->inputs == NULL;
        if (!same_label(k, i))
            text_addf(out, "%s%-16s  ", i ? "\n" : "", a->label);
        else if (list)
            text_addf(out, "\n%-16s  ", "");
        else
            text_add(out, "  =  ");
        add_number(out, *a->unit == '%' ? 100 * a->value : a->value, a->digits);
        text_addf(out, "%s%s", *a->unit ? " " : "", a->unit);
    }
    text_add(out, "\n");
}

/* "length 120 cm, volume 65usgal (246.1 L)": as typed, and as understood where that differs. */
static void given_words(const struct calc *k, struct text *out)
{
    if (!k->what->inputs)
        text_add(out, k->words);
    for (size_t i = 0; k->what->inputs && k->what->inputs[i].name; i++) {
        const struct calc_input *in = &k->what->inputs[i];
        const struct calc_value *v = &k->in[i];
        if (!v->typed)
            continue;
        text_addf(out, "%s%s %s", out->len ? ", " : "", in->name, v->typed);
        if (!in->unit || (in->type == INPUT_AMOUNT && v->quantity.kind == QUANTITY_VOLUME))
            continue;
        if (v->quantity.kind == QUANTITY_NUMBER) {
            text_addf(out, " %s", in->unit);
        } else if (fabs(v->value - strtod(v->typed, NULL)) > 1e-9 * fabs(v->value)) {
            text_add(out, " (");
            add_number(out, v->value, 4);
            text_addf(out, " %s)", in->unit);
        }
    }
}

static bool print_text(const struct context *c, const struct calc *k, struct err *e)
{
    struct document d = {0};
    struct text given = {0};
    print_answers(k, c->out);
    given_words(k, &given);
    document_item(&d, "given            ", text_str(&given));
    document_item(&d, "by               ", k->formula);
    if (k->caution)
        document_item(&d, "heed             ", k->caution);
    bool ok = given.failed ? err_memory(e) : render_text(&d, 80, 0, c->out, e);
    document_free(&d);
    text_free(&given);
    return ok;
}

static void given_member(struct json_text *j, const struct calc_input *in, const struct calc_value *v)
{
    char key[CALC_KEY_TEXT];
    const char *suffix = "";
    if (in->type == INPUT_PART || in->type == INPUT_AMOUNT)
        suffix = v->quantity.kind == QUANTITY_VOLUME ? "_l" : in->type == INPUT_PART ? "_frac" : "_g";
    else if (in->type == INPUT_CONCENTRATION && v->quantity.kind != QUANTITY_NUMBER)
        suffix = v->quantity.kind == QUANTITY_FRACTION ? "_frac" : "_mg_l";
    snprintf(key, sizeof key, "%s%s", in->key, suffix);
    if (in->type == INPUT_WORD)
        json_text_member(j, key, v->typed);
    else
        json_number_member(j, key, v->value);
}

static void print_json(const struct calc *k, struct text *out)
{
    struct json_text j = {.out = out};
    json_open(&j, NULL, '{');
    json_number_member(&j, "schema", JSON_PRINT_SCHEMA);
    json_text_member(&j, "calculation", k->what->name);
    if (!k->what->inputs)
        json_text_member(&j, "given", k->words);
    else
        json_open(&j, "given", '{');
    for (size_t i = 0; k->what->inputs && k->what->inputs[i].name; i++)
        if (k->in[i].typed)
            given_member(&j, &k->what->inputs[i], &k->in[i]);
    if (k->what->inputs)
        json_close(&j);
    json_text_member(&j, "formula", k->formula);
    json_open(&j, "answers", '{');
    for (size_t i = 0; i < k->n_answers; i++)
        json_number_member(&j, k->answers[i].key, k->answers[i].value);
    json_close(&j);
    json_close(&j);
}

/* ---- help, and the command ------------------------------------------------------------------------------------------ */

static void list_calculations(struct text *out)
{
    for (size_t i = 0; i < COUNT_OF(calculations); i++)
        text_addf(out, "  %-10s %s\n", calculations[i]->name, calculations[i]->summary);
    text_add(out, "\nneap calc WHAT alone tells what it takes, with an example.\n");
}

static bool explain(const struct calculation *what, struct text *out, struct err *e)
{
    text_addf(out, "neap calc %s %s\n    %s\n\n", what->name, what->usage, what->summary);
    for (size_t i = 0; what->inputs && what->inputs[i].name; i++) {
        const struct calc_input *in = &what->inputs[i];
        struct text left = {0};
        text_addf(&left, "%s=%s", in->name, in->type == INPUT_QUANTITY ? in->unit : "");
        text_addf(out, "  %-20s %s\n", text_str(&left), in->help);
        text_free(&left);
    }
    struct document d = {0};
    document_item(&d, "by", what->formula);
    text_add(out, what->inputs ? "\n" : "");
    bool ok = render_text(&d, 80, 0, out, e);
    document_free(&d);
    text_addf(out, "\nExample\n  %s\n", what->example);
    return ok;
}

static const struct calculation *find_calculation(const char *name, struct err *e)
{
    const char *names[COUNT_OF(calculations)];
    struct text list = {0};
    for (size_t i = 0; i < COUNT_OF(calculations); i++) {
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

static bool calc_run(struct context *c, struct err *e)
{
    if (c->n_args == 0) {
        list_calculations(c->out);
        return true;
    }
    struct arena a = {0};
    struct calc k = {.what = find_calculation(c->args[0], e), .us_units = c->us_units};
    if (!k.what)
        return false;
    if (c->n_args == 1)
        return explain(k.what, c->out, e);
    k.formula = k.what->formula;
    bool ok = (k.what->inputs ? fill_inputs : join_words)(&k, c->args + 1, c->n_args - 1, &a, e) && k.what->run(&k, e);
    if (ok && c->json)
        print_json(&k, c->out);
    else if (ok)
        ok = print_text(c, &k, e);
    arena_free(&a);
    return ok;
}

const struct command command_calc = {
    .name = "calc",
    .summary = "the desk calculator: volume, units, dilution, dose, broadcast, density",
    .also = "dose convert volume density dilute mix",
    .usage = "[WHAT [NAME=VALUE …]]",
    .about = "Works out one thing and shows the answer, what went in, and the formula. Alone it lists what it can do; "
             "with one "
             "word it tells what that takes. Values carry their unit (65usgal, 15 mL, \"18 ppb P\"); one without a "
             "name goes "
             "to the first place that takes its kind. Needs no store.",
    .example = "neap calc broadcast 65usgal 4.96",
    .args_max = 64,
    .prints_json = true,
    .run = calc_run,
};
