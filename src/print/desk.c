/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the desk calculator answers. */
#include "neap/desk.h"
#include "neap/print.h"

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
    number_trim(s);
    text_add(out, s);
}

static bool same_label(const struct calc *k, size_t i)
{
    /* cppcheck-suppress arrayIndexOutOfBoundsCond ; i is below n_answers */
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

bool calc_text(const struct calc *k, struct text *out, struct err *e)
{
    struct document d = {0};
    struct text given = {0};
    print_answers(k, out);
    given_words(k, &given);
    document_item(&d, "given            ", text_str(&given));
    document_item(&d, "by               ", k->formula);
    if (k->caution)
        document_item(&d, "heed             ", k->caution);
    bool ok = given.failed ? err_memory(e) : render_text(&d, 80, 0, out, e);
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

void calc_json(const struct calc *k, struct text *out)
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
