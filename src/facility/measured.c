/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is measured and in which unit: foods, analytes, salinity. */
#include "neap/facility.h"

#include "neap/calc.h"

#include <ctype.h>

const char *food_unit_name(const struct food *f)
{
    return f->unit == UNIT_G ? "g" : "mL";
}

double food_step(const struct settings *s, const struct food *f)
{
    return f->unit == UNIT_G ? s->scale_step_g : s->liquid_step_ml;
}

double amount_round(double units)
{
    return round_near_to(units, 0.001);
}

bool food_amount_read(const struct food *f, const char *text, double *units, struct err *e)
{
    struct quantity q;
    double other;
    bool in_g = f->unit == UNIT_G;
    if (!quantity_parse(text, &q, e))
        return false;
    if (q.kind != (in_g ? QUANTITY_VOLUME : QUANTITY_MASS)) {
        if (!quantity_read(text, food_unit_name(f), &other, e))
            return false;
    } else if (quantity_in(&q, in_g ? "mL" : "g", &other, e)) {
        other = in_g ? other * f->density_g_per_ml : other / f->density_g_per_ml;
    } else {
        return false;
    }
    *units = amount_round(other);
    return true;
}

/* What was typed for a reading: an analyte by one of its words, and the unit of a number alone. */
struct naming {
    int analyte;
    const char *unit;
    bool own; /* that of the analyte's values */
};

static struct naming naming_of(int a, const struct analyte_word *word)
{
    bool own = !word || !word->unit;
    /* cppcheck-suppress nullPointer ; without a word it is its own */
    return (struct naming){a, own ? analytes[a].measure : word->unit, own};
}

typedef bool same_word(const char *a, const char *b);

static bool is_exactly(const char *a, const char *b)
{
    return strcmp(a, b) == 0;
}

static bool naming_find(const char *name, same_word *same, struct naming *n)
{
    for (int a = 0; a < N_ANALYTES; a++) {
        const struct analyte_word *words = analytes[a].words;
        if (same(name, analytes[a].name)) {
            *n = naming_of(a, NULL);
            return true;
        }
        for (size_t i = 0; words[i].name; i++)
            if (same(name, words[i].name)) {
                *n = naming_of(a, &words[i]);
                return true;
            }
    }
    return false;
}

int analyte_named(const char *name)
{
    struct naming n;
    return naming_find(name, is_exactly, &n) ? n.analyte : N_ANALYTES;
}

static bool refuse_name(const char *name, struct err *e)
{
    const char *names[N_ANALYTES * (1 + ANALYTE_WORDS)];
    size_t n = 0;
    char quoted[EXCERPT_TEXT];
    struct text known = {0};
    for (int a = 0; a < N_ANALYTES; a++) {
        text_addf(&known, "%s%s", a == 0 ? "" : a == N_ANALYTES - 1 ? " or " : ", ", analytes[a].name);
        names[n++] = analytes[a].name;
        for (size_t i = 0; analytes[a].words[i].name; i++)
            names[n++] = analytes[a].words[i].name;
    }
    const char *near_by = name_nearest(name, names, n);
    text_excerpt(name, quoted);
    if (near_by)
        err_set(e, ERR_NOT_FOUND, NULL, "nothing is measured as \"%s\"; did you mean \"%s\"?", quoted, near_by);
    else
        err_set(e, ERR_NOT_FOUND, NULL, "nothing is measured as \"%s\"; expected %s", quoted, text_str(&known));
    text_free(&known);
    return false;
}

/* Is the unit of text a thousandth of mg/L? */
static bool in_ppb(const char *text)
{
    const char *unit = text + strspn(text, "0123456789.+- \t");
    char plain[4] = "";
    if (*unit == 'e' || *unit == 'E') /* no unit begins so */
        unit += 1 + strspn(unit + 1, "0123456789+- \t");
    for (size_t i = 0; i < 3; i++) /* no unit of a concentration is shorter */
        plain[i] = (char)tolower((unsigned char)unit[i]);
    return strncmp(plain, "ppb", 3) == 0 || strncmp(plain, "ug", 2) == 0 || strncmp(unit, "µg", 3) == 0 ||
           strncmp(unit, "μg", 3) == 0;
}

/* A number that could well be of another unit than the analyte's own. */
static bool bare_is_clear(const struct analyte_def *a, const struct naming *n, double v, const char *text,
                          struct err *e)
{
    if (v < 0 && a->least >= 0)
        return err_set(e, ERR_INPUT, NULL, "\"%s\" is negative; expected 0 or more", text);
    if (!n->own || !a->doubt.unit || v < a->doubt.over || v >= a->doubt.under)
        return true;
    return err_set(e, ERR_INPUT, NULL, "\"%s\" has no unit; expected %s%s or %s%s", text, text, a->measure, text,
                   a->doubt.unit);
}

/* A concentration that does not say of what. */
static bool concentration_is_clear(const struct analyte_def *a, const struct naming *n, const char *text, struct err *e)
{
    if (a->mass_as)
        return err_set(e, ERR_INPUT, NULL, "\"%s\" does not say of what; expected %s %s, or %s or %s", text, text,
                       a->mass_as, a->measure, a->doubt.unit);
    if (!in_ppb(text) || !n->own || !a->ppb_of[0])
        return true;
    return err_set(e, ERR_INPUT, NULL, "\"%s\" may be of %s or of %s; expected %s %s or %s %s", text, a->ppb_of[0],
                   a->ppb_of[1], text, a->basis, text, a->ppb_of[2]);
}

/* The text with what it leaves unsaid: of a number alone its unit, of a concentration what it is of. */
static bool read_in_full(const char *text, const char *unsaid, struct quantity *q, struct err *e)
{
    char full[2 * EXCERPT_TEXT];
    snprintf(full, sizeof full, "%s %s", text, unsaid);
    return quantity_parse(full, q, e);
}

static bool read_value(const struct naming *n, const char *text, const struct gravity_scale *scale, double *value,
                       struct err *e)
{
    struct quantity q;
    const struct analyte_def *a = &analytes[n->analyte];
    const char *of = strchr(n->unit, ' ');
    if (!quantity_parse(text, &q, e))
        return false;
    if (q.kind == QUANTITY_NUMBER) {
        if (!bare_is_clear(a, n, q.value, text, e) || !read_in_full(text, n->unit, &q, e))
            return false;
    } else if (q.kind == QUANTITY_CONCENTRATION && q.species == SPECIES_NONE) {
        if (!concentration_is_clear(a, n, text, e) || (of && !read_in_full(text, of + 1, &q, e)))
            return false;
    }
    if (q.kind == QUANTITY_GRAVITY && n->analyte == ANALYTE_SALINITY)
        return salinity_from_specific_gravity(q.value, scale->temp_c, scale->ref_temp_c, value, e);
    return quantity_in(&q, a->measure, value, e);
}

bool measured_parse(const char *name, const char *text, const struct gravity_scale *scale, struct measured *r,
                    struct err *e)
{
    struct err why;
    char excerpt[EXCERPT_TEXT];
    double value;
    struct naming n;
    if (!naming_find(name, text_same_but_case, &n))
        return refuse_name(name, e);
    const struct analyte_def *a = &analytes[n.analyte];
    text += strspn(text, " \t");
    size_t below = strncmp(text, "below", 5) == 0 ? 5 : *text == '<';
    if (*text == '>')
        return err_set(e, ERR_INPUT, NULL,
                       "%s \"%s\" is above what the test can read; expected a value: thin the sample and "
                       "count it back",
                       a->title, text_excerpt(text, excerpt));
    if (below && a->always_found)
        return err_set(e, ERR_INPUT, NULL, "%s has no detection limit; expected a value alone", a->title);
    text += below;
    text += strspn(text, " \t");
    if (!read_value(&n, text_excerpt(text, excerpt), scale, &value, &why))
        return err_set(e, ERR_INPUT, NULL, "%s%s%s", name, why.text[0] == '"' ? "=" : ": ", why.text);
    *r = (struct measured){n.analyte, round_near_to(value, pow(10, -2 - a->decimals)), below > 0};
    return true;
}

void measured_words(const struct measured *r, struct text *out)
{
    const struct analyte_def *a = &analytes[r->analyte];
    char value[32];
    number_format(r->value, value);
    text_addf(out, "%s %s%s%s%s%s", a->title, r->below ? "below " : "", value, a->unit_after, *a->basis ? " as " : "",
              a->basis);
}

enum doubt doubt_in_note(const char *note)
{
    return strncmp(note, "flagged: ", 9) == 0      ? DOUBT_FLAGGED
           : strncmp(note, "confirmed: ", 11) == 0 ? DOUBT_CONFIRMED
                                                   : DOUBT_NONE;
}

static double error_of(const struct analyte_def *a, double value)
{
    return a->error_abs + a->error_frac * fabs(value);
}

bool measured_is_jump(const struct past_reading *last, const struct measured *now, long taken)
{
    enum { DAYS_MAX = 14 };
    const struct analyte_def *a = &analytes[now->analyte];
    double change = now->value - last->value, low = fmin(now->value, last->value), high = fmax(now->value, last->value);
    double days = fmin((double)(taken - last->taken) / MIN_PER_DAY, DAYS_MAX);
    if ((last->below && change < 0) || (now->below && change > 0) || (last->below && now->below))
        return false;
    if (fabs(change) > 2 * error_of(a, low) && high >= a->slip_ratio * fmax(low, 0))
        return true;
    return fabs(change) > 3 * error_of(a, last->value) && !(fabs(change) <= days * a->change_per_day_max);
}
