/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Values as people type them: a number with its unit behind it. */
#include "neap/facility.h"

#include "neap/calc.h"

#include <ctype.h>

/* The unit a field's name ends in, as quantities are written; NULL: none, or a rate, which has no other unit. */
static const char *unit_of(const struct field *f)
{
    static const struct {
        const char *ending, *unit;
    } units[] = {{"_mg_l", "mg/L"}, {"_cm", "cm"},   {"_um", "um"}, {"_ml", "mL"}, {"_l", "L"},   {"_g", "g"},
                 {"_m", "m"},       {"_min", "min"}, {"_d", "d"},   {"_s", "s"},   {"_frac", "%"}};
    if (f->type != FIELD_NUMBER || strstr(f->name, "_per_"))
        return NULL;
    for (size_t i = 0; i < COUNT_OF(units); i++)
        if (text_ends_in(f->name, units[i].ending))
            return units[i].unit;
    return NULL;
}

bool cell_converted(const struct field *f, double value, const char *text, struct arena *a, struct cell *c,
                    struct err *e)
{
    struct err why;
    char own[32], quoted[EXCERPT_TEXT];
    number_format(number_without_dust(value), own);
    if (cell_parse(f, own, a, c, &why))
        return true;
    return err_of_value(e, why.code, "is %s: %s %s", text_excerpt(text, quoted), f->name, why.text);
}

bool cell_read(const struct field *f, const char *text, struct arena *a, struct cell *c, struct err *e)
{
    double value;
    const char *unit = unit_of(f);
    const char *digits = text + strspn(text, " +-.");
    bool measured = unit && isdigit((unsigned char)*digits) && digits[strspn(digits, "0123456789+-.,eE")] != '\0';
    if (!measured)
        return cell_parse(f, text, a, c, e);
    if (!quantity_read(text, unit, &value, e))
        return false;
    if (strcmp(unit, "%") == 0)
        value /= 100; /* fields hold fractions; percentages are for people */
    return cell_converted(f, value, text, a, c, e);
}

bool split_assignment(const char *arg, char name[NAME_BYTES_MAX + 1], const char **value, struct err *e)
{
    const char *equals = strchr(arg, '=');
    if (!equals || equals == arg || (size_t)(equals - arg) > NAME_BYTES_MAX)
        return err_set(e, ERR_MISUSE, NULL, "\"%.60s\": expected NAME=VALUE", arg);
    snprintf(name, NAME_BYTES_MAX + 1, "%.*s", (int)(equals - arg), arg);
    *value = equals + 1;
    return true;
}
