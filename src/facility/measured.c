#include "neap/facility.h"

#include "neap/calc.h"

#include <ctype.h>

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
        if (!quantity_read(text, in_g ? "g" : "mL", &other, e))
            return false;
    } else if (quantity_in(&q, in_g ? "mL" : "g", &other, e)) {
        other = in_g ? other * f->density_g_per_ml : other / f->density_g_per_ml;
    } else {
        return false;
    }
    *units = amount_round(other);
    return true;
}

/* What a reading may be called, and what a number without a unit is then in. */
static const struct word {
    const char *name;
    enum analyte analyte;
    const char *unit;
    double (*to_base)(double); /* NULL: the unit is the analyte's own */
} words[] = {
    {"no3", ANALYTE_NO3, "mg/L NO3", NULL},
    {"nitrate", ANALYTE_NO3, "mg/L NO3", NULL},
    {"no3_n", ANALYTE_NO3, "mg/L NO3", no3_from_no3_n},
    {"po4", ANALYTE_PO4, "mg/L PO4", NULL},
    {"phosphate", ANALYTE_PO4, "mg/L PO4", NULL},
    {"po4_p", ANALYTE_PO4, "mg/L PO4", po4_from_po4_p},
    {"alk", ANALYTE_ALK, "dKH", NULL},
    {"alkalinity", ANALYTE_ALK, "dKH", NULL},
    {"ca", ANALYTE_CA, "mg/L Ca", NULL},
    {"calcium", ANALYTE_CA, "mg/L Ca", NULL},
    {"mg", ANALYTE_MG, "mg/L Mg", NULL},
    {"magnesium", ANALYTE_MG, "mg/L Mg", NULL},
    {"salinity", ANALYTE_SALINITY, "psu", NULL},
    {"sg", ANALYTE_SALINITY, "sg", NULL},
    {"temp", ANALYTE_TEMP, "C", NULL},
    {"temperature", ANALYTE_TEMP, "C", NULL},
};

int analyte_named(const char *name)
{
    for (size_t i = 0; i < COUNT_OF(words); i++)
        if (strcmp(name, words[i].name) == 0)
            return (int)words[i].analyte;
    return N_ANALYTES;
}

static const struct word *find_word(const char *name, struct err *e)
{
    const char *names[COUNT_OF(words)];
    for (size_t i = 0; i < COUNT_OF(words); i++) {
        names[i] = words[i].name;
        if (text_same_but_case(name, names[i]))
            return &words[i];
    }
    char quoted[EXCERPT_TEXT];
    const char *near_by = name_nearest(name, names, COUNT_OF(names));
    text_excerpt(name, quoted);
    if (near_by)
        err_set(e, ERR_NOT_FOUND, NULL, "nothing is measured as \"%s\"; did you mean \"%s\"?", quoted, near_by);
    else
        err_set(e, ERR_NOT_FOUND, NULL,
                "nothing is measured as \"%s\"; expected no3, no3_n, po4, po4_p, alk, ca, mg, salinity, sg or temp",
                quoted);
    return NULL;
}

/* Is the unit of text a thousandth of mg/L? */
static bool in_ppb(const char *text)
{
    const char *unit = text + strspn(text, "0123456789.+- \t");
    char plain[4] = "";
    for (size_t i = 0; i < 3 && unit[i]; i++)
        plain[i] = (char)tolower((unsigned char)unit[i]);
    return strncmp(plain, "ppb", 3) == 0 || strncmp(plain, "ug", 2) == 0 || strncmp(unit, "µg", 3) == 0 ||
           strncmp(unit, "μg", 3) == 0;
}

/* A number that could well be of another unit than the analyte's own. */
static bool bare_is_clear(const struct word *w, double v, const char *text, struct err *e)
{
    if (w->analyte == ANALYTE_ALK && v < 5)
        return err_set(e, ERR_INPUT, NULL, "\"%s\" has no unit; expected %sdKH or %smeq/L", text, text, text);
    if (strcmp(w->unit, "psu") == 0 && v > 0.9 && v < 1.1)
        return err_set(e, ERR_INPUT, NULL, "\"%s\" looks like a specific gravity; expected %ssg or %spsu", text, text,
                       text);
    if (w->analyte == ANALYTE_TEMP && v > analytes[ANALYTE_TEMP].most)
        return err_set(e, ERR_INPUT, NULL, "\"%s\" has no unit and is too warm in C; expected %sF, or degrees C", text,
                       text);
    return true;
}

/* A concentration that does not say of what. */
static bool concentration_is_clear(const struct word *w, const char *text, struct err *e)
{
    if (w->analyte == ANALYTE_ALK)
        return err_set(e, ERR_INPUT, NULL, "\"%s\" does not say of what; expected %s CaCO3, or dKH or meq/L", text,
                       text);
    if (!in_ppb(text) || w->to_base)
        return true;
    if (w->analyte == ANALYTE_PO4)
        return err_set(e, ERR_INPUT, NULL, "\"%s\" may be of phosphate or of phosphorus; expected %s PO4 or %s P", text,
                       text, text);
    if (w->analyte == ANALYTE_NO3)
        return err_set(e, ERR_INPUT, NULL, "\"%s\" may be of nitrate or of its nitrogen; expected %s NO3 or %s NO3-N",
                       text, text, text);
    return true;
}

static bool read_salinity(const struct quantity *q, bool gravity, const struct gravity_scale *scale, double *psu,
                          struct err *e)
{
    if (gravity)
        return salinity_from_specific_gravity(q->value, scale->temp_c, scale->ref_temp_c, psu, e);
    return quantity_in(q, "psu", psu, e);
}

static bool read_value(const struct word *w, const char *text, const struct gravity_scale *scale, double *value,
                       struct err *e)
{
    struct quantity q;
    if (!quantity_parse(text, &q, e))
        return false;
    bool bare = q.kind == QUANTITY_NUMBER,
         open = bare || (q.kind == QUANTITY_CONCENTRATION && q.species == SPECIES_NONE);
    if (bare && q.value < 0 && w->analyte != ANALYTE_TEMP)
        return err_set(e, ERR_INPUT, NULL, "\"%s\" is negative; expected 0 or more", text);
    if (bare ? !bare_is_clear(w, q.value, text, e) : open && !concentration_is_clear(w, text, e))
        return false;
    if (w->analyte == ANALYTE_SALINITY && (!bare || strcmp(w->unit, "sg") == 0))
        return read_salinity(&q, bare || q.kind == QUANTITY_GRAVITY, scale, value, e);
    if (bare || (open && w->to_base)) {
        *value = w->to_base ? w->to_base(q.value) : q.value;
        return true;
    }
    return quantity_in(&q, w->unit, value, e);
}

bool measured_parse(const char *name, const char *text, const struct gravity_scale *scale, struct measured *r,
                    struct err *e)
{
    struct err why;
    char excerpt[EXCERPT_TEXT];
    double value;
    const struct word *w = find_word(name, e);
    if (!w)
        return false;
    const struct analyte_def *a = &analytes[w->analyte];
    text += strspn(text, " \t");
    size_t below = strncmp(text, "below", 5) == 0 ? 5 : *text == '<';
    if (*text == '>')
        return err_set(e, ERR_INPUT, NULL,
                       "%s \"%s\" is above what the test can read; expected a value: thin the sample and "
                       "count it back",
                       a->title, text_excerpt(text, excerpt));
    if (below && (w->analyte == ANALYTE_SALINITY || w->analyte == ANALYTE_TEMP))
        return err_set(e, ERR_INPUT, NULL, "%s has no detection limit; expected a value alone", a->title);
    text += below;
    text += strspn(text, " \t");
    if (!read_value(w, text_excerpt(text, excerpt), scale, &value, &why))
        return err_set(e, ERR_INPUT, NULL, "%s%s%s", name, why.text[0] == '"' ? "=" : ": ", why.text);
    *r = (struct measured){(int)w->analyte, round_near_to(value, pow(10, -2 - a->decimals)), below > 0};
    return true;
}

void measured_words(const struct measured *r, struct text *out)
{
    const struct analyte_def *a = &analytes[r->analyte];
    char value[32];
    number_format(r->value, value);
    text_addf(out, "%s %s%s %s%s", a->title, r->below ? "below " : "", value, a->unit,
              r->analyte == ANALYTE_NO3   ? " as NO3"
              : r->analyte == ANALYTE_PO4 ? " as PO4"
                                          : "");
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
