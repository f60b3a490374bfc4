/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Density, salinity and specific gravity of seawater. */
#include "calc/check.h"

/*
 * EOS-80 at one atmosphere: Fofonoff and Millard, Algorithms for computation of fundamental properties of seawater,
 * UNESCO Technical Papers in Marine Science 44 (1983). Its polynomials take the temperature scale of 1968.
 */
static const double psu_most = 42, temp_least_c = -2, temp_most_c = 40;

static double temp_1968(double temp_1990)
{
    return 1.00024 * temp_1990;
}

static double pure_water_kg_m3(double t)
{
    return 999.842594 +
           t * (6.793952e-2 + t * (-9.095290e-3 + t * (1.001685e-4 + t * (-1.120083e-6 + t * 6.536332e-9))));
}

static double density_kg_m3(double s, double temp_c)
{
    double t = temp_1968(temp_c);
    double a = 8.24493e-1 + t * (-4.0899e-3 + t * (7.6438e-5 + t * (-8.2467e-7 + t * 5.3875e-9)));
    double b = -5.72466e-3 + t * (1.0227e-4 - t * 1.6546e-6);
    return pure_water_kg_m3(t) + s * (a + b * sqrt(s) + 4.8314e-4 * s);
}

static bool check_temp(const char *what, double temp_c, struct err *e)
{
    return check_within(what, temp_c, temp_least_c, temp_most_c, "°C", e);
}

static bool check_salinity(double salinity_psu, struct err *e)
{
    return check_within("salinity", salinity_psu, 0, psu_most, "psu", e);
}

bool seawater_density(double salinity_psu, double temp_c, double *kg_m3, struct err *e)
{
    if (!check_salinity(salinity_psu, e) || !check_temp("temperature", temp_c, e))
        return false;
    *kg_m3 = density_kg_m3(salinity_psu, temp_c);
    return true;
}

bool specific_gravity(double salinity_psu, double temp_c, double ref_temp_c, double *sg, struct err *e)
{
    if (!check_salinity(salinity_psu, e) || !check_temp("temperature", temp_c, e) ||
        !check_temp("reference temperature", ref_temp_c, e))
        return false;
    *sg = density_kg_m3(salinity_psu, temp_c) / density_kg_m3(0, ref_temp_c);
    return true;
}

/* Density rises with salinity throughout the range, so that halving the range 64 times finds the one answer. */
bool salinity_from_specific_gravity(double sg, double temp_c, double ref_temp_c, double *salinity_psu, struct err *e)
{
    double lowest, highest;
    if (!specific_gravity(0, temp_c, ref_temp_c, &lowest, e) ||
        !specific_gravity(psu_most, temp_c, ref_temp_c, &highest, e))
        return false;
    if (!(sg >= lowest && sg <= highest))
        return err_set(e, ERR_INPUT, NULL,
                       "specific gravity is %g; expected %.4f to %.4f (salinity 0 to 42, %g °C against water at %g °C)",
                       sg, lowest, highest, temp_c, ref_temp_c);
    double low = 0, high = psu_most, wanted = sg * density_kg_m3(0, ref_temp_c);
    for (int i = 0; i < 64; i++) {
        double middle = (low + high) / 2;
        if (density_kg_m3(middle, temp_c) < wanted)
            low = middle;
        else
            high = middle;
    }
    *salinity_psu = (low + high) / 2;
    return true;
}
