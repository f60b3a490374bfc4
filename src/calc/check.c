/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers from outside held against where they must lie. */
#include "calc/check.h"

enum { NUMBER_TEXT = 32 };

bool check_above_zero(const char *what, double v, struct err *e)
{
    if (isfinite(v) && v > 0)
        return true;
    if (!isfinite(v))
        return err_set(e, ERR_INPUT, NULL, "%s is not given or not a number; expected a number above 0", what);
    return err_set(e, ERR_INPUT, NULL, "%s is %g; expected a number above 0", what, v);
}

bool check_not_negative(const char *what, double v, struct err *e)
{
    if (isfinite(v) && v >= 0)
        return true;
    if (!isfinite(v))
        return err_set(e, ERR_INPUT, NULL, "%s is not given or not a number; expected 0 or more", what);
    return err_set(e, ERR_INPUT, NULL, "%s is %g; expected 0 or more", what, v);
}

bool check_within(const char *what, double v, double low, double high, const char *unit, struct err *e)
{
    if (isfinite(v) && v >= low && v <= high)
        return true;
    char at_least[NUMBER_TEXT], at_most[NUMBER_TEXT];
    number_format(low, at_least);
    number_format(high, at_most);
    const char *blank = *unit ? " " : "";
    if (!isfinite(v))
        return err_set(e, ERR_INPUT, NULL, "%s is not given or not a number; expected %s to %s%s%s", what, at_least,
                       at_most, blank, unit);
    return err_set(e, ERR_INPUT, NULL, "%s is %g; expected %s to %s%s%s", what, v, at_least, at_most, blank, unit);
}

bool check_result(double v, double *out, struct err *e)
{
    if (!isfinite(v))
        return err_set(e, ERR_INPUT, NULL, "the result is too large to be a number; check the amounts given");
    *out = v;
    return true;
}
