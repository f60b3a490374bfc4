/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Units into each other; each name has both ends. */
#include "calc/units.h"

#include "neap/calc.h"

double litres_from_us_gal(double us_gal)
{
    return us_gal * L_PER_US_GAL;
}

double us_gal_from_litres(double litres)
{
    return litres / L_PER_US_GAL;
}

double litres_from_imp_gal(double imp_gal)
{
    return imp_gal * L_PER_IMP_GAL;
}

double imp_gal_from_litres(double litres)
{
    return litres / L_PER_IMP_GAL;
}

double litres_from_cubic_feet(double cubic_feet)
{
    return cubic_feet * L_PER_CUBIC_FOOT;
}

double ml_from_us_fl_oz(double us_fl_oz)
{
    return us_fl_oz * (1000 * L_PER_US_FL_OZ);
}

double us_fl_oz_from_ml(double ml)
{
    return ml / (1000 * L_PER_US_FL_OZ);
}

double ml_from_us_tsp(double us_tsp)
{
    return us_tsp * (1000 * L_PER_US_TSP);
}

double us_tsp_from_ml(double ml)
{
    return ml / (1000 * L_PER_US_TSP);
}

double cm_from_inches(double inches)
{
    return inches * CM_PER_INCH;
}

double inches_from_cm(double cm)
{
    return cm / CM_PER_INCH;
}

double g_from_oz(double oz)
{
    return oz * G_PER_OZ;
}

double oz_from_g(double g)
{
    return g / G_PER_OZ;
}

double g_from_lb(double lb)
{
    return lb * G_PER_LB;
}

double fahrenheit_from_celsius(double celsius)
{
    return celsius * 9 / 5 + 32;
}

double ml_from_drops(double drops, double drops_per_ml)
{
    return drops / drops_per_ml;
}

double drops_from_ml(double ml, double drops_per_ml)
{
    return ml * drops_per_ml;
}
