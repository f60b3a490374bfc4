/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a label prints as a rate or a share, per unit. */
#include "calc/check.h"

#include <ctype.h>

double mg_per_unit_from_frac(double part_frac, double g_per_unit)
{
    return 1000 * part_frac * g_per_unit;
}

/* The word that parts an amount from its volume: where it begins, and behind it; false: there is none. */
static bool rate_part(const char *s, const char **before, const char **behind)
{
    static const char *const words[] = {" per ", " for ", " in ", " to ", " on ", "/"};
    for (size_t i = 0; i < COUNT_OF(words); i++) {
        size_t len = strlen(words[i]);
        for (const char *at = s; *at; at++) {
            size_t n = 0;
            while (n < len && tolower((unsigned char)at[n]) == words[i][n])
                n++;
            if (n == len) {
                *before = at;
                *behind = at + len;
                return true;
            }
        }
    }
    return false;
}

/* "100 L", and "L" alone, which is one of them. */
static bool rate_volume(const char *text, double *litres, struct err *e)
{
    char one[64];
    text += strspn(text, " \t");
    if (strncmp(text, "each ", 5) == 0 || strncmp(text, "every ", 6) == 0)
        text = strchr(text, ' ') + 1;
    bool counted = isdigit((unsigned char)*text) || *text == '.';
    snprintf(one, sizeof one, "%s%.60s", counted ? "" : "1 ", text);
    return quantity_read(one, "L", litres, e);
}

bool rate_parse(const char *s, struct quantity *per_100l, struct err *e)
{
    char amount[64];
    const char *before, *behind;
    double litres;
    if (strlen(s) >= sizeof amount || !rate_part(s, &before, &behind))
        return err_set(e, ERR_INPUT, NULL,
                       "\"%.60s\" is no rate; expected such as 5 mL per 50 US gal, or 1 g per 100 L", s);
    snprintf(amount, sizeof amount, "%.*s", (int)(before - s), s);
    if (!quantity_parse(amount, per_100l, e) || !rate_volume(behind, &litres, e))
        return false;
    if (per_100l->kind != QUANTITY_VOLUME && per_100l->kind != QUANTITY_MASS)
        return err_set(e, ERR_INPUT, NULL, "\"%.60s\": \"%s\" is %s; expected mL, g or a spoon in front", s, amount,
                       quantity_kind_name(per_100l->kind));
    if (!(litres > 0))
        return err_set(e, ERR_INPUT, NULL, "\"%.60s\": per no water; expected a volume above 0", s);
    per_100l->value *= 100 / litres;
    return true;
}
