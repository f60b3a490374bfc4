/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A food from what its label prints. */
#include "neap/label.h"

#include "neap/calc.h"

#include <ctype.h>

static const struct {
    const char *name, *field;
} words[N_LABEL_WORDS] = {
    [LABEL_PROTEIN] = {"protein", "n_mg_per_unit"},          [LABEL_MOISTURE] = {"moisture", "solids_frac"},
    [LABEL_PHOSPHORUS] = {"phosphorus", "p_mg_per_unit"},    [LABEL_RATE] = {"rate", "broadcast_units_per_100l"},
    [LABEL_CEILING] = {"ceiling", "ceiling_units_per_100l"}, [LABEL_PRICE] = {"price", "price_cents"},
};

size_t label_field(const struct reg *r, enum label_word word)
{
    return reg_field(r, words[word].field);
}

const char *label_name(enum label_word word)
{
    return words[word].name;
}

bool label_word_of(const struct reg *r, const char *name, const char *value, enum label_word *word)
{
    double bare;
    for (int i = 0; i < N_LABEL_WORDS; i++) {
        bool dose = i == LABEL_RATE || i == LABEL_CEILING;
        if (!text_same_but_case(name, words[i].name) &&
            !(dose && strcmp(name, words[i].field) == 0 && *value && !number_parse(value, &bare)))
            continue;
        if (label_field(r, (enum label_word)i) == SIZE_MAX)
            continue;
        *word = (enum label_word)i;
        return true;
    }
    return false;
}

/* ---- the values -------------------------------------------------------------------------------------------------- */

bool label_part(const char *name, const char *text, double *part_frac, struct err *e)
{
    struct quantity q;
    struct err why = {0};
    const char *from = text;
    if (strncmp(from, "min", 3) == 0 || strncmp(from, "max", 3) == 0)
        from += 3 + strspn(from + 3, ". ");
    if (!quantity_parse(from, &q, &why))
        return err_set(e, ERR_INPUT, NULL, "%s: %s", name, why.text);
    if (q.kind != QUANTITY_FRACTION && q.kind != QUANTITY_NUMBER)
        return err_set(e, ERR_INPUT, NULL, "%s: \"%.40s\" is %s; expected a percentage, such as 45%%", name, text,
                       quantity_kind_name(q.kind));
    *part_frac = q.kind == QUANTITY_NUMBER ? q.value / 100 : q.value; /* as printed: 45 is 45 % */
    if (!(*part_frac >= 0 && *part_frac <= 1))
        return err_set(e, ERR_INPUT, NULL, "%s: \"%.40s\" is not within 0 and 100 %%", name, text);
    return true;
}

/* "5 mL per 50 US gal" in a food's unit per 100 L. */
static bool label_rate(const char *name, const char *text, bool in_g, double density_g_per_ml, double *units_per_100l,
                       struct err *e)
{
    struct quantity q;
    struct err why = {0};
    double bare;
    if (number_parse(text, &bare)) {
        *units_per_100l = bare;
        return true;
    }
    if (!rate_parse(text, &q, &why))
        return err_set(e, ERR_INPUT, NULL, "%s: %s", name, why.text);
    double own = q.kind == QUANTITY_VOLUME ? q.value * 1000 : q.value; /* mL or g */
    if (in_g && q.kind == QUANTITY_VOLUME)
        own *= density_g_per_ml;
    else if (!in_g && q.kind == QUANTITY_MASS)
        own /= density_g_per_ml;
    *units_per_100l = own;
    return true;
}

/* "12.50", "$12.50", "12.50 EUR" in cents. */
static bool label_price(const char *text, double *cents, struct err *e)
{
    char digits[32];
    const char *from = text;
    while (*from && !isdigit((unsigned char)*from) && *from != '.')
        from++;
    size_t n = strspn(from, "0123456789.,");
    double money;
    bool tail = from[n + strcspn(from + n, "0123456789")] == '\0';
    snprintf(digits, sizeof digits, "%.*s", (int)(n < sizeof digits ? n : sizeof digits - 1), from);
    if (strchr(text, '-') || !tail || n >= sizeof digits || !number_parse(digits, &money))
        return err_set(e, ERR_INPUT, NULL, "price: \"%.40s\" is no price; expected such as 12.50", text);
    *cents = round_near_to(money * 100, 1);
    if (fabs(*cents - money * 100) > 1e-6 * fmax(1, *cents))
        return err_set(e, ERR_INPUT, NULL, "price: \"%.40s\" has parts of a cent; expected such as 12.50", text);
    return true;
}

/* ---- into the row ------------------------------------------------------------------------------------------------ */

struct filling {
    const struct food_label *label;
    const struct reg *reg;
    const struct cell *old;
    struct cell *cells;
    bool *present;
    struct text *told;
    bool in_g;
    double density_g_per_ml;
};

static const struct cell *now_in(const struct filling *f, const char *field)
{
    size_t i = reg_field(f->reg, field);
    return f->present[i] || !f->old ? &f->cells[i] : &f->old[i];
}

/* What the food is measured in, which the parts and doses of its label are told by. */
static bool unit_known(struct filling *f, struct err *e)
{
    const struct cell *unit = now_in(f, "unit"), *density = now_in(f, "density_g_per_ml");
    if (unit->kind == CELL_EMPTY)
        return err_set(e, ERR_INPUT, NULL, "unit is empty; expected g or ml, to tell what the label's figures are of");
    f->in_g = strcmp(unit->text, "g") == 0;
    f->density_g_per_ml = density->kind == CELL_EMPTY ? 1 : density->number;
    return true;
}

static bool put(struct filling *f, enum label_word word, double value, const char *how, struct err *e)
{
    const char *field = words[word].field;
    char number[32];
    size_t i = reg_field(f->reg, field);
    const struct field *to = &f->reg->fields[i];
    value = round_near_to(value, 1e-6);
    if (!(value >= to->min && value <= to->max))
        return err_set(e, ERR_INPUT, NULL, "%s: \"%.40s\" makes %s %.10g; expected %.10g to %.10g", words[word].name,
                       f->label->typed[word], field, value, to->min, to->max);
    f->cells[i] = to->type == FIELD_COUNT ? (struct cell){.kind = CELL_WHOLE, .whole = lround(value)}
                                          : (struct cell){.kind = CELL_NUMBER, .number = value};
    f->present[i] = true;
    number_format(round_near_to(value, 0.001), number);
    text_addf(f->told, "  %s %s: %s %s%s\n", words[word].name, f->label->typed[word], field, number, how);
    return true;
}

static bool fill_part(struct filling *f, enum label_word word, struct err *e)
{
    double part, g_per_unit = f->in_g ? 1 : f->density_g_per_ml;
    if (!label_part(words[word].name, f->label->typed[word], &part, e))
        return false;
    if (word == LABEL_MOISTURE)
        return put(f, word, 1 - part, ", the dry rest", e);
    if (word == LABEL_PROTEIN)
        return put(f, word, n_from_protein(mg_per_unit_from_frac(part, g_per_unit)), " of nitrogen, protein / 6.25", e);
    return put(f, word, mg_per_unit_from_frac(part, g_per_unit), "", e);
}

static bool fill_word(struct filling *f, enum label_word word, struct err *e)
{
    double value;
    if (word == LABEL_PRICE)
        return label_price(f->label->typed[word], &value, e) && put(f, word, value, "", e);
    if (!unit_known(f, e))
        return false;
    if (word != LABEL_RATE && word != LABEL_CEILING)
        return fill_part(f, word, e);
    return label_rate(words[word].name, f->label->typed[word], f->in_g, f->density_g_per_ml, &value, e) &&
           put(f, word, value, f->in_g ? " g" : " mL", e);
}

bool label_fill(const struct food_label *l, const struct reg *r, const struct cell *old, struct cell *cells,
                bool *present, struct text *told, struct err *e)
{
    struct filling f = {.label = l, .reg = r, .old = old, .cells = cells, .present = present, .told = told};
    for (int i = 0; i < N_LABEL_WORDS; i++)
        if (l->typed[i] && !fill_word(&f, (enum label_word)i, e))
            return false;
    return told->failed ? err_memory(e) : true;
}
