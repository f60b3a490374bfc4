/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How much more a water may get within a band. */
#include "neap/trend.h"

static bool headroom_check(const struct headroom_in *in, struct err *e)
{
    if (!isfinite(in->level) || in->level < 0)
        return err_set(e, ERR_INPUT, NULL, "level is %g; expected a number of 0 or more", in->level);
    if (!isfinite(in->slope_per_d))
        return err_set(e, ERR_INPUT, NULL, "slope is %g; expected a number", in->slope_per_d);
    if (!isfinite(in->days) || in->days <= 0)
        return err_set(e, ERR_INPUT, NULL, "the horizon is %g days away; expected more than 0", in->days);
    if (!isfinite(in->volume_l) || in->volume_l <= 0)
        return err_set(e, ERR_INPUT, NULL, "volume is %g L; expected more than 0", in->volume_l);
    if (!isfinite(in->band.low) || !isfinite(in->band.high) || in->band.low > in->band.high)
        return err_set(e, ERR_INPUT, NULL, "the band is %g to %g; expected low ≤ high", in->band.low, in->band.high);
    if (!(in->max_change_per_d > 0))
        return err_set(e, ERR_INPUT, NULL, "the largest wanted change is %g a day; expected more than 0",
                       in->max_change_per_d);
    return true;
}

static double held_within(double v, double low, double high)
{
    return v < low ? low : v > high ? high : v;
}

bool headroom_find(const struct headroom_in *in, struct headroom *out, struct err *e)
{
    if (!headroom_check(in, e))
        return false;
    struct headroom h = {.in = *in};
    h.projected = in->level + in->slope_per_d * in->days;
    h.band_low_mg = (in->band.low - h.projected) * in->volume_l;
    h.band_high_mg = (in->band.high - h.projected) * in->volume_l;
    h.change_low_mg = (-in->max_change_per_d - in->slope_per_d) * in->days * in->volume_l;
    h.change_high_mg = (in->max_change_per_d - in->slope_per_d) * in->days * in->volume_l;
    h.low_mg = held_within(h.band_low_mg, h.change_low_mg, h.change_high_mg);
    h.high_mg = held_within(h.band_high_mg, h.change_low_mg, h.change_high_mg);
    h.low_held = h.low_mg < h.band_low_mg || h.low_mg > h.band_low_mg;
    h.high_held = h.high_mg < h.band_high_mg || h.high_mg > h.band_high_mg;
    *out = h;
    return true;
}
