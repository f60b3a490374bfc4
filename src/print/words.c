/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Figures, days and minutes as a page words them. */
#include "neap/calc.h"
#include "neap/week.h"
#include "words.h"

#include <ctype.h>

const char *volume_words(struct document *d, double litres, bool us_units)
{
    return us_units ? document_format(d, "%.0f US gal", us_gal_from_litres(litres))
                    : document_format(d, "%.0f L", litres);
}

const char *day_words(struct document *d, int day)
{
    char text[DAY_TEXT];
    if (day == DAY_NONE)
        return "-";
    day_format(day, text);
    return document_format(d, "%s", text);
}

const char *level_words(struct document *d, enum analyte a, double v)
{
    return document_format(d, "%.*f", analytes[a].decimals, v);
}

/* A slope wants a digit more than a level that is shown in whole numbers. */
static const char *slope_words(struct document *d, enum analyte a, double v, bool sign)
{
    int decimals = analytes[a].decimals > 0 ? analytes[a].decimals : 1;
    double shown = round_near_to(v, pow(10, -decimals));
    shown = shown == 0 ? 0 : shown; /* no -0.0 */
    return document_format(d, "%s%.*f", sign && shown > 0 ? "+" : "", decimals, shown);
}

const char *signed_words(struct document *d, enum analyte a, double v)
{
    return slope_words(d, a, v, true);
}

const char *plain_words(struct document *d, enum analyte a, double v)
{
    return slope_words(d, a, v, false);
}

const char *title_words(struct document *d, const char *name)
{
    if (!*name || isupper((unsigned char)name[1])) /* "pH" is never "PH" */
        return name;
    return document_format(d, "%c%s", toupper((unsigned char)*name), name + 1);
}

const char *crossing_words(struct document *d, const struct crossing *c, int today)
{
    const char *what = !c->inside ? "is likely back in the band"
                       : c->high  ? "is likely to leave the band at the top"
                                  : "is likely to leave the band at the bottom";
    if (c->likely_day == DAY_NONE)
        return NULL;
    if (c->likely_day <= today)
        return document_format(d, "%s now", what);
    const char *early = c->early_day <= today ? "any day from now" : day_words(d, c->early_day);
    if (c->late_day == DAY_NONE)
        return document_format(d, "%s about %s (%s%s)", what, day_words(d, c->likely_day), early,
                               c->early_day <= today ? "" : " at the earliest");
    return document_format(d, "%s about %s (%s to %s)", what, day_words(d, c->likely_day), early,
                           day_words(d, c->late_day));
}

const char *money_in(const struct settings *s, const char *before, struct document *d)
{
    return strcmp(s->currency, "none") == 0 ? "" : document_format(d, "%s%s", before, s->currency);
}
