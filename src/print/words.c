#include "words.h"

#include <ctype.h>

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
const char *signed_words(struct document *d, enum analyte a, double v)
{
    int decimals = analytes[a].decimals > 0 ? analytes[a].decimals : 1;
    double shown = round_near_to(v, pow(10, -decimals));
    return document_format(d, "%+.*f", decimals, shown == 0 ? 0 : shown);
}

const char *title_words(struct document *d, const char *name)
{
    return document_format(d, "%c%s", toupper((unsigned char)*name), *name ? name + 1 : "");
}

const char *crossing_words(struct document *d, const struct crossing *c, int today)
{
    const char *what = !c->inside ? "is likely back in the band" : c->high ? "likely leaves the band at the top"
                                                                           : "likely leaves the band at the bottom";
    if (c->likely_day == DAY_NONE)
        return NULL;
    if (c->likely_day <= today)
        return document_format(d, "%s now", what);
    return document_format(d, "%s about %s (%s%s%s)", what, day_words(d, c->likely_day),
                           c->early_day <= today ? "at any time" : day_words(d, c->early_day),
                           c->late_day == DAY_NONE ? " at the earliest" : " to ",
                           c->late_day == DAY_NONE ? "" : day_words(d, c->late_day));
}
