/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a dose, a dilution or a water change does, and what it takes. */
#include "calc/check.h"

static bool check_frac(const char *what, double frac, struct err *e)
{
    return check_within(what, frac, 0, 1, "(a fraction)", e);
}

static bool check_active(double active_frac, struct err *e)
{
    if (active_frac > 0 && active_frac <= 1)
        return true;
    return err_set(e, ERR_INPUT, NULL, "active fraction is %g; expected above 0, at most 1 (0.25 for 25 %%)",
                   active_frac);
}

bool dose_rise_mg_l(double amount_mg, double active_frac, double volume_l, double *rise_mg_l, struct err *e)
{
    return check_not_negative("amount", amount_mg, e) && check_active(active_frac, e) &&
           check_above_zero("volume", volume_l, e) && check_result(amount_mg * active_frac / volume_l, rise_mg_l, e);
}

bool dose_amount_mg(double volume_l, double wanted_mg_l, double active_frac, double *amount_mg, struct err *e)
{
    return check_above_zero("volume", volume_l, e) && check_not_negative("wanted concentration", wanted_mg_l, e) &&
           check_active(active_frac, e) && check_result(volume_l * wanted_mg_l / active_frac, amount_mg, e);
}

bool dilution_conc(double stock_conc, double stock_volume, double final_volume, double *conc, struct err *e)
{
    if (!check_not_negative("stock concentration", stock_conc, e) ||
        !check_not_negative("stock volume", stock_volume, e) || !check_above_zero("final volume", final_volume, e))
        return false;
    if (stock_volume > final_volume)
        return err_set(e, ERR_INPUT, NULL, "stock volume is %g, more than the final volume %g; expected at most that",
                       stock_volume, final_volume);
    return check_result(stock_conc * (stock_volume / final_volume), conc, e);
}

bool dilution_stock_volume(double stock_conc, double wanted_conc, double final_volume, double *stock_volume,
                           struct err *e)
{
    if (!check_above_zero("stock concentration", stock_conc, e) ||
        !check_not_negative("wanted concentration", wanted_conc, e) ||
        !check_above_zero("final volume", final_volume, e))
        return false;
    if (wanted_conc > stock_conc)
        return err_set(e, ERR_INPUT, NULL,
                       "wanted concentration is %g, stronger than the stock, %g; expected at most that", wanted_conc,
                       stock_conc);
    return check_result(final_volume * (wanted_conc / stock_conc), stock_volume, e);
}

/* Both exchanges end here: what remains of the old water keeps its level, the rest is fresh. */
static double mixed(double level, double fresh, double remaining_frac)
{
    return fresh + (level - fresh) * remaining_frac;
}

bool water_change_mg_l(double level_mg_l, double fresh_mg_l, double changed_frac, long n, double *after_mg_l,
                       struct err *e)
{
    if (!check_not_negative("level", level_mg_l, e) || !check_not_negative("level of the fresh water", fresh_mg_l, e) ||
        !check_frac("changed part", changed_frac, e))
        return false;
    if (n < 0)
        return err_set(e, ERR_INPUT, NULL, "number of changes is %ld; expected 0 or more", n);
    *after_mg_l = mixed(level_mg_l, fresh_mg_l, pow(1 - changed_frac, (double)n));
    return true;
}

bool water_change_frac(double level_mg_l, double fresh_mg_l, double wanted_mg_l, double *changed_frac, struct err *e)
{
    if (!check_not_negative("level", level_mg_l, e) || !check_not_negative("level of the fresh water", fresh_mg_l, e) ||
        !check_not_negative("wanted level", wanted_mg_l, e))
        return false;
    if (wanted_mg_l < fmin(level_mg_l, fresh_mg_l) || wanted_mg_l > fmax(level_mg_l, fresh_mg_l))
        return err_set(e, ERR_INPUT, NULL,
                       "wanted level is %g mg/L; expected between the fresh water's %g and today's %g", wanted_mg_l,
                       fresh_mg_l, level_mg_l);
    *changed_frac = wanted_mg_l == level_mg_l ? 0 : (level_mg_l - wanted_mg_l) / (level_mg_l - fresh_mg_l);
    return true;
}

bool washout_mg_l(double level_mg_l, double fresh_mg_l, double exchanged_frac, double *after_mg_l, struct err *e)
{
    if (!check_not_negative("level", level_mg_l, e) || !check_not_negative("level of the fresh water", fresh_mg_l, e) ||
        !check_not_negative("exchanged part", exchanged_frac, e))
        return false;
    *after_mg_l = mixed(level_mg_l, fresh_mg_l, exp(-exchanged_frac));
    return true;
}

bool washout_min(double removed_frac, double exchanges_per_h, double *time_min, struct err *e)
{
    if (!(removed_frac >= 0 && removed_frac < 1))
        return err_set(e, ERR_INPUT, NULL, "removed part is %g; expected a fraction from 0 to below 1", removed_frac);
    return check_above_zero("exchanges an hour", exchanges_per_h, e) &&
           check_result(-log1p(-removed_frac) / exchanges_per_h * 60, time_min, e);
}

bool broadcast_volume_ml(const struct broadcast_rule *r, double *dose_ml, struct err *e)
{
    if (!check_above_zero("volume", r->volume_l, e) ||
        !check_not_negative("rate (mL per 100 L)", r->rate_ml_per_100l, e) ||
        !check_above_zero("the measure's step (mL)", r->step_ml, e))
        return false;
    if (!isnan(r->ceiling_ml_per_100l) && !check_not_negative("ceiling (mL per 100 L)", r->ceiling_ml_per_100l, e))
        return false;
    double ceiling_ml = isnan(r->ceiling_ml_per_100l) ? INFINITY : r->ceiling_ml_per_100l * r->volume_l / 100;
    double wanted_ml = fmin(r->rate_ml_per_100l * r->volume_l / 100, ceiling_ml);
    return check_result(round_down_to(wanted_ml, r->step_ml), dose_ml, e);
}

struct allowance measure_allowance(double amount, double step)
{
    enum { FEW_STEPS = 5 };
    double off = amount < (FEW_STEPS - 0.5) * step ? 0 : fmax(step, round_down_to(amount / 20, step));
    return (struct allowance){amount - off, amount + off};
}
