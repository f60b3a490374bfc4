/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A number with its unit, as it is typed. */
#include "calc/check.h"
#include "calc/species.h"
#include "calc/units.h"
#include "calc/weights.h"

#include <ctype.h>

/*
 * Units in plain spelling: lower case, no blanks, ° dropped, µ as u, " as in (see plain_spelling). The first row of a
 * kind is its base unit. base = (number + offset) × factor. ppm and ppb are taken by volume (mg/L, µg/L), as test kits
 * do: common practice, no source. A practical salinity and "ppt" are taken as one: common practice, no source.
 */
static const struct unit_row {
    const char *name;
    enum quantity_kind kind;
    double factor, offset;
    bool molar; /* factor leads to mmol/L; the species adds its molar mass */
} units[] = {
    {"l", QUANTITY_VOLUME, 1, 0, false},
    {"litre", QUANTITY_VOLUME, 1, 0, false},
    {"litres", QUANTITY_VOLUME, 1, 0, false},
    {"liter", QUANTITY_VOLUME, 1, 0, false},
    {"liters", QUANTITY_VOLUME, 1, 0, false},
    {"ml", QUANTITY_VOLUME, 1e-3, 0, false},
    {"cc", QUANTITY_VOLUME, 1e-3, 0, false},
    {"cm3", QUANTITY_VOLUME, 1e-3, 0, false},
    {"ul", QUANTITY_VOLUME, 1e-6, 0, false},
    {"m3", QUANTITY_VOLUME, 1e3, 0, false},
    {"usgal", QUANTITY_VOLUME, L_PER_US_GAL, 0, false},
    {"usgallon", QUANTITY_VOLUME, L_PER_US_GAL, 0, false},
    {"usgallons", QUANTITY_VOLUME, L_PER_US_GAL, 0, false},
    {"usqt", QUANTITY_VOLUME, L_PER_US_QUART, 0, false},
    {"uspt", QUANTITY_VOLUME, L_PER_US_PINT, 0, false},
    {"usfloz", QUANTITY_VOLUME, L_PER_US_FL_OZ, 0, false},
    {"uscup", QUANTITY_VOLUME, L_PER_US_CUP, 0, false},
    {"cup", QUANTITY_VOLUME, L_PER_US_CUP, 0, false},
    {"cups", QUANTITY_VOLUME, L_PER_US_CUP, 0, false},
    {"ustbsp", QUANTITY_VOLUME, L_PER_US_TBSP, 0, false},
    {"tbsp", QUANTITY_VOLUME, L_PER_US_TBSP, 0, false},
    {"ustsp", QUANTITY_VOLUME, L_PER_US_TSP, 0, false},
    {"tsp", QUANTITY_VOLUME, L_PER_US_TSP, 0, false},
    {"impgal", QUANTITY_VOLUME, L_PER_IMP_GAL, 0, false},
    {"impgallon", QUANTITY_VOLUME, L_PER_IMP_GAL, 0, false},
    {"impgallons", QUANTITY_VOLUME, L_PER_IMP_GAL, 0, false},
    {"impqt", QUANTITY_VOLUME, L_PER_IMP_QUART, 0, false},
    {"imppt", QUANTITY_VOLUME, L_PER_IMP_PINT, 0, false},
    {"impfloz", QUANTITY_VOLUME, L_PER_IMP_FL_OZ, 0, false},
    {"in3", QUANTITY_VOLUME, L_PER_CUBIC_INCH, 0, false},
    {"ft3", QUANTITY_VOLUME, L_PER_CUBIC_FOOT, 0, false},

    {"g", QUANTITY_MASS, 1, 0, false},
    {"gram", QUANTITY_MASS, 1, 0, false},
    {"grams", QUANTITY_MASS, 1, 0, false},
    {"mg", QUANTITY_MASS, 1e-3, 0, false},
    {"ug", QUANTITY_MASS, 1e-6, 0, false},
    {"kg", QUANTITY_MASS, 1e3, 0, false},
    {"oz", QUANTITY_MASS, G_PER_OZ, 0, false},
    {"lb", QUANTITY_MASS, G_PER_LB, 0, false},
    {"lbs", QUANTITY_MASS, G_PER_LB, 0, false},
    {"grain", QUANTITY_MASS, G_PER_GRAIN, 0, false},

    {"cm", QUANTITY_LENGTH, 1, 0, false},
    {"um", QUANTITY_LENGTH, 1e-4, 0, false},
    {"mm", QUANTITY_LENGTH, 0.1, 0, false},
    {"m", QUANTITY_LENGTH, 100, 0, false},
    {"in", QUANTITY_LENGTH, CM_PER_INCH, 0, false},
    {"inch", QUANTITY_LENGTH, CM_PER_INCH, 0, false},
    {"inches", QUANTITY_LENGTH, CM_PER_INCH, 0, false},
    {"ft", QUANTITY_LENGTH, CM_PER_FOOT, 0, false},

    {"min", QUANTITY_TIME, 1, 0, false},
    {"minutes", QUANTITY_TIME, 1, 0, false},
    {"s", QUANTITY_TIME, 1.0 / 60, 0, false},
    {"sec", QUANTITY_TIME, 1.0 / 60, 0, false},
    {"h", QUANTITY_TIME, 60, 0, false},
    {"hours", QUANTITY_TIME, 60, 0, false},
    {"d", QUANTITY_TIME, 1440, 0, false},
    {"day", QUANTITY_TIME, 1440, 0, false},
    {"days", QUANTITY_TIME, 1440, 0, false},
    {"week", QUANTITY_TIME, 10080, 0, false},
    {"weeks", QUANTITY_TIME, 10080, 0, false},

    {"c", QUANTITY_TEMPERATURE, 1, 0, false},
    {"f", QUANTITY_TEMPERATURE, 5.0 / 9, -32, false},

    {"psu", QUANTITY_SALINITY, 1, 0, false},
    {"ppt", QUANTITY_SALINITY, 1, 0, false},

    {"sg", QUANTITY_GRAVITY, 1, 0, false},

    {"mg/l", QUANTITY_CONCENTRATION, 1, 0, false},
    {"ppm", QUANTITY_CONCENTRATION, 1, 0, false},
    {"ug/l", QUANTITY_CONCENTRATION, 1e-3, 0, false},
    {"ppb", QUANTITY_CONCENTRATION, 1e-3, 0, false},
    {"g/l", QUANTITY_CONCENTRATION, 1e3, 0, false},
    {"mg/ml", QUANTITY_CONCENTRATION, 1e3, 0, false},
    {"g/100ml", QUANTITY_CONCENTRATION, 1e4, 0, false},
    {"umol/l", QUANTITY_CONCENTRATION, 1e-3, 0, true},
    {"mmol/l", QUANTITY_CONCENTRATION, 1, 0, true},

    {"dkh", QUANTITY_ALKALINITY, 1, 0, false},
    {"meq/l", QUANTITY_ALKALINITY, M_CAO / 20, 0, false},
    {"mg/lcaco3", QUANTITY_ALKALINITY, M_CAO / M_CACO3 / 10, 0, false},
    {"ppmcaco3", QUANTITY_ALKALINITY, M_CAO / M_CACO3 / 10, 0, false},

    {"ph", QUANTITY_PH, 1, 0, false},

    {"%", QUANTITY_FRACTION, 0.01, 0, false},

    {"ml/100l", QUANTITY_DOSE_RATE, 1, 0, false},
    {"ml/l", QUANTITY_DOSE_RATE, 100, 0, false},
    {"ml/100usgal", QUANTITY_DOSE_RATE, 1 / L_PER_US_GAL, 0, false},
    {"ml/usgal", QUANTITY_DOSE_RATE, 100 / L_PER_US_GAL, 0, false},
};

/* Words that a person may write and nobody can be sure of. */
static const struct {
    const char *name, *advice;
} ambiguous[] = {
    {"gal", "a US gallon is 3.785 L, an imperial one 4.546 L; write usgal or impgal"},
    {"gallon", "a US gallon is 3.785 L, an imperial one 4.546 L; write usgal or impgal"},
    {"gallons", "a US gallon is 3.785 L, an imperial one 4.546 L; write usgal or impgal"},
    {"qt", "US and imperial quarts differ by a fifth; write usqt or impqt"},
    {"pt", "US and imperial pints differ by a fifth; write uspt or imppt"},
    {"floz", "a US fluid ounce is 29.57 mL, an imperial one 28.41 mL; write usfloz or impfloz"},
    {"drop", "a drop has no fixed size; write mL, or give the drops per mL to the calculator"},
    {"drops", "a drop has no fixed size; write mL, or give the drops per mL to the calculator"},
};

static const char *const kind_names[N_QUANTITY_KINDS] = {
    [QUANTITY_NUMBER] = "a bare number",
    [QUANTITY_VOLUME] = "a volume",
    [QUANTITY_MASS] = "a mass",
    [QUANTITY_LENGTH] = "a length",
    [QUANTITY_TIME] = "a time",
    [QUANTITY_TEMPERATURE] = "a temperature",
    [QUANTITY_SALINITY] = "a salinity",
    [QUANTITY_GRAVITY] = "a specific gravity",
    [QUANTITY_CONCENTRATION] = "a concentration",
    [QUANTITY_ALKALINITY] = "an alkalinity",
    [QUANTITY_PH] = "a pH",
    [QUANTITY_FRACTION] = "a fraction",
    [QUANTITY_DOSE_RATE] = "a dose rate",
};

/* A unit as it was understood: the row, and what it is of (SPECIES_NONE: not said), by which basis. */
struct unit {
    const struct unit_row *row;
    enum species species;
    const struct basis *basis;
};

enum { PLAIN_ROOM = 32, NUMBER_ROOM = 64, SPECIES_TEXT = 200 };

const char *quantity_kind_name(enum quantity_kind kind)
{
    return kind_names[kind];
}

const char *quantity_unit(size_t i, enum quantity_kind *kind)
{
    if (i >= COUNT_OF(units))
        return NULL;
    *kind = units[i].kind;
    return units[i].name;
}

size_t unit_sign(const char *s, const char **plain)
{
    static const struct {
        const char *sign, *plain;
    } signs[] = {{"µ", "u"},  {"μ", "u"},  {"°", ""},   {"‰", "ppt"},   {"³", "3"},
                 {"₂", "2"},  {"₃", "3"},  {"₄", "4"},  {"\u00A0", ""}, {"\"", "in"},
                 {"″", "in"}, {"”", "in"}, {"'", "ft"}, {"′", "ft"},    {"’", "ft"}};
    for (size_t i = 0; i < COUNT_OF(signs); i++) {
        size_t n = strlen(signs[i].sign);
        if (strncmp(s, signs[i].sign, n) == 0) {
            *plain = signs[i].plain;
            return n;
        }
    }
    return 0;
}

/* May this "-", "_" or "." be dropped? "US-gal" and "fl. oz" yes; "5 - L" is no unit. */
static bool joins_letters(const char *out, size_t len, const char *s)
{
    if (len == 0 || !isalnum((unsigned char)out[len - 1]))
        return false;
    return *s == '.' ? isalpha((unsigned char)out[len - 1]) && !isdigit((unsigned char)s[1])
                     : isalpha((unsigned char)s[1]) != 0;
}

/* False: too long to be any unit. */
static bool plain_spelling(const char *s, char out[PLAIN_ROOM])
{
    size_t len = 0;
    while (*s) {
        char one[2] = {(char)tolower((unsigned char)*s), '\0'};
        const char *add = one;
        size_t step = unit_sign(s, &add);
        if (step == 0) {
            step = 1;
            if (isspace((unsigned char)*s) || (strchr("-_.", *s) && joins_letters(out, len, s)))
                add = "";
        }
        size_t n = strlen(add);
        if (len + n >= PLAIN_ROOM)
            return false;
        memcpy(out + len, add, n);
        len += n;
        s += step;
    }
    out[len] = '\0';
    return true;
}

static bool species_find(const char *plain, struct unit *u)
{
    char name[PLAIN_ROOM];
    if (strncmp(plain, "as", 2) == 0) /* "mg/L as NO3" */
        plain += 2;
    for (int s = 0; *plain && s < N_SPECIES; s++)
        for (size_t i = 0; i < SPECIES_BASES && species_rows[s].bases[i].name; i++)
            if (plain_spelling(species_rows[s].bases[i].name, name) && strcmp(plain, name) == 0) {
                u->species = (enum species)s;
                u->basis = &species_rows[s].bases[i];
                return true;
            }
    return false;
}

/* "NO3, NO3-N, … or Sr" */
static void species_names(char *out, size_t room)
{
    size_t len = 0;
    const char *last = "";
    for (int s = 0; s < N_SPECIES; s++)
        for (size_t i = 0; i < SPECIES_BASES && species_rows[s].bases[i].name; i++) {
            if (*last && len < room)
                len += (size_t)snprintf(out + len, room - len, "%s%s", len ? ", " : "", last);
            last = species_rows[s].bases[i].name;
        }
    if (len < room)
        snprintf(out + len, room - len, " or %s", last);
}

/* The concentration whose name begins plain, longest first, so that "mg/lcaco3" was looked for before "mg/l". */
static const struct unit_row *concentration_find(const char *plain, const char **rest)
{
    const struct unit_row *found = NULL;
    size_t longest = 0;
    for (size_t i = 0; i < COUNT_OF(units); i++) {
        size_t n = strlen(units[i].name);
        if (units[i].kind == QUANTITY_CONCENTRATION && n > longest && strncmp(plain, units[i].name, n) == 0) {
            found = &units[i];
            longest = n;
        }
    }
    *rest = plain + longest;
    return found;
}

/* Says why plain is no unit: two meanings, a species of two meanings, or a slip of the fingers. */
static bool unit_refuse(const char *whole, const char *written, const char *plain, struct err *e)
{
    const char *names[COUNT_OF(units)], *rest, *near;
    for (size_t i = 0; i < COUNT_OF(ambiguous); i++)
        if (strcmp(plain, ambiguous[i].name) == 0)
            return err_set(e, ERR_INPUT, NULL, "\"%s\": %s", whole, ambiguous[i].advice);
    if (concentration_find(plain, &rest) && (strcmp(rest, "n") == 0 || strcmp(rest, "asn") == 0))
        return err_set(e, ERR_INPUT, NULL, "\"%s\": nitrogen of what? write NO3-N, NO2-N or NH4-N", whole);
    if (concentration_find(plain, &rest) && *rest && isalpha((unsigned char)*rest)) {
        char known[SPECIES_TEXT];
        species_names(known, sizeof known);
        return err_set(e, ERR_INPUT, NULL, "\"%s\": \"%s\" is not known; expected %s", whole, rest, known);
    }
    for (size_t i = 0; i < COUNT_OF(units); i++)
        names[i] = units[i].name;
    near = strlen(plain) > 1 ? name_nearest(plain, names, COUNT_OF(units)) : NULL;
    if (near)
        return err_set(e, ERR_INPUT, NULL, "\"%s\": unit \"%s\" is not known; did you mean %s?", whole, written, near);
    return err_set(e, ERR_INPUT, NULL,
                   "\"%s\": unit \"%s\" is not known; expected one such as L, mL, usgal, g, oz, cm, mg/L, ppb P or C",
                   whole, written);
}

static bool unit_find(const char *whole, const char *written, struct unit *u, struct err *e)
{
    char plain[PLAIN_ROOM];
    const char *rest;
    written += strspn(written, " \t");
    if (!plain_spelling(written, plain))
        return err_set(e, ERR_INPUT, NULL, "\"%s\": unit \"%s\" is not known", whole, written);
    for (size_t i = 0; i < COUNT_OF(units); i++)
        if (strcmp(plain, units[i].name) == 0) {
            *u = (struct unit){.row = &units[i]};
            return true;
        }
    *u = (struct unit){.row = concentration_find(plain, &rest)};
    return (u->row && species_find(rest, u)) || unit_refuse(whole, written, plain, e);
}

/* What the row's factor leaves out: the way from the written basis to mg of the ion. */
static double basis_factor(const struct unit *u, enum species s)
{
    if (u->row->molar)
        return species_g_per_mol(s);
    return u->basis ? u->basis->factor : 1;
}

/* Length of the number that s begins with; an exponent counts only with its digits. */
static size_t number_length(const char *s)
{
    size_t n = strspn(s, "+-");
    size_t whole = strspn(s + n, "0123456789");
    size_t point = s[n + whole] == '.';
    size_t part = point ? strspn(s + n + whole + 1, "0123456789") : 0;
    if (whole + part == 0)
        return 0;
    n += whole + point + part;
    if (s[n] == 'e' || s[n] == 'E') {
        size_t sign = s[n + 1] == '+' || s[n + 1] == '-';
        size_t digits = strspn(s + n + 1 + sign, "0123456789");
        n += digits ? 1 + sign + digits : 0;
    }
    return n;
}

static bool number_split(const char *s, double *number, const char **rest, struct err *e)
{
    char digits[NUMBER_ROOM];
    const char *start = s + strspn(s, " \t");
    size_t n = number_length(start);
    if (start[n] == ',' && isdigit((unsigned char)start[n + 1]))
        return err_set(e, ERR_INPUT, NULL,
                       "\"%s\" has a comma in its number; expected a decimal point and no separators: 1.5 or 1500", s);
    if (n == 0)
        return err_set(e, ERR_INPUT, NULL, "\"%s\" is not a quantity; expected a number and a unit, such as 15 mL", s);
    if (n < sizeof digits) {
        memcpy(digits, start, n);
        digits[n] = '\0';
    }
    if (n >= sizeof digits || !number_parse(digits, number))
        return err_set(e, ERR_INPUT, NULL, "\"%s\" does not begin with a number; expected one such as 15 or 0.06", s);
    *rest = start + n;
    return true;
}

bool quantity_parse(const char *s, struct quantity *q, struct err *e)
{
    struct unit u = {0};
    const char *rest = s;
    double number = 0;
    if (!number_split(s, &number, &rest, e))
        return false;
    if (rest[strspn(rest, " \t")] == '\0') {
        *q = (struct quantity){number, QUANTITY_NUMBER, SPECIES_NONE};
        return true;
    }
    if (!unit_find(s, rest, &u, e))
        return false;
    if (number < 0 && u.row->kind != QUANTITY_TEMPERATURE)
        return err_set(e, ERR_INPUT, NULL, "\"%s\" is negative; expected %s of 0 or more", s,
                       quantity_kind_name(u.row->kind));
    enum species species = u.species;
    if (u.row->molar && species == SPECIES_NONE)
        return err_set(e, ERR_INPUT, NULL, "\"%s\": moles of what? write it behind, such as 3 umol/L NO3", s);
    double value = (number + u.row->offset) * u.row->factor * basis_factor(&u, species);
    if (!isfinite(value))
        return err_set(e, ERR_INPUT, NULL, "\"%s\" is too large to be a quantity", s);
    *q = (struct quantity){value, u.row->kind, species};
    return true;
}

bool quantity_in(const struct quantity *q, const char *unit, double *value, struct err *e)
{
    struct unit u = {0};
    if (!unit_find(unit, unit, &u, e))
        return false;
    if (q->kind != u.row->kind)
        return err_set(e, ERR_INPUT, NULL, "%s cannot be shown in %s; expected %s", quantity_kind_name(q->kind), unit,
                       quantity_kind_name(u.row->kind));
    enum species species = u.species != SPECIES_NONE ? u.species : q->species;
    if (q->species != SPECIES_NONE && q->species != species)
        return err_set(e, ERR_INPUT, NULL, "a concentration of %s cannot be shown in %s", species_name(q->species),
                       unit);
    if (u.row->molar && species == SPECIES_NONE)
        return err_set(e, ERR_INPUT, NULL, "moles of what? write it behind the unit, such as umol/L NO3");
    bool own_basis = q->species == SPECIES_NONE && !u.row->molar;
    double basis = own_basis ? 1 : basis_factor(&u, species);
    return check_result(q->value / (u.row->factor * basis) - u.row->offset, value, e);
}

bool quantity_read(const char *s, const char *unit, double *value, struct err *e)
{
    struct quantity q;
    struct unit u = {0};
    if (!quantity_parse(s, &q, e) || !unit_find(unit, unit, &u, e))
        return false;
    if (q.kind != QUANTITY_NUMBER) {
        struct err why;
        if (!quantity_in(&q, unit, value, &why))
            return err_set(e, ERR_INPUT, NULL, "\"%s\": %s", s, why.text);
        *value = number_without_dust(*value);
        return true;
    }
    if (q.value < 0 && u.row->kind != QUANTITY_TEMPERATURE)
        return err_set(e, ERR_INPUT, NULL, "\"%s\" is negative; expected %s of 0 or more, in %s", s,
                       quantity_kind_name(u.row->kind), unit);
    *value = q.value;
    return true;
}
