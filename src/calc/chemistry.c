/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Species and their weights, what they turn into, and what a food brings of them. */
#include "calc/check.h"
#include "calc/species.h"
#include "calc/weights.h"

/* General factor of AOAC; FAO Food and Nutrition Paper 77 (2003). From memory. */
static const double protein_per_n = 6.25;

const struct species_row species_rows[N_SPECIES] = {
    [SPECIES_NONE] = {.g_per_mol = NAN, .molar_unit = "", .bases = {{"", "", 1}}},
#define AS(unit_, name_, factor_)                                                                                      \
    {                                                                                                                  \
        unit_ " " name_, name_, factor_                                                                                \
    }
#define READ_AS(name_, factor_)                                                                                        \
    {                                                                                                                  \
        NULL, name_, factor_                                                                                           \
    }
#define SPECIES(id_, g_per_mol_, molar_unit_, ...) [SPECIES_##id_] = {g_per_mol_, molar_unit_, {__VA_ARGS__}},
#include "neap/species.def"
};

const char *species_name(enum species s)
{
    return species_rows[s].bases[0].name;
}

const char *species_unit(enum species s, size_t i)
{
    const struct species_row *row = &species_rows[s];
    size_t n = 0;
    while (n < SPECIES_BASES && row->bases[n].unit)
        n++;
    return i < n ? row->bases[i].unit : i == n ? row->molar_unit : NULL;
}

double species_g_per_mol(enum species s)
{
    return species_rows[s].g_per_mol;
}

double no3_from_no3_n(double no3_n)
{
    return no3_n * (M_NO3 / W_N);
}

double po4_from_po4_p(double po4_p)
{
    return po4_p * (M_PO4 / W_P);
}

static double umol_l_from_mg_l(enum species s, double mg_l)
{
    return mg_l * 1000 / species_g_per_mol(s);
}

double n_from_protein(double protein)
{
    return protein / protein_per_n;
}

bool np_ratio_molar(double no3_mg_l, double po4_mg_l, double *ratio, struct err *e)
{
    if (!check_not_negative("nitrate (mg/L NO3)", no3_mg_l, e) ||
        !check_above_zero("phosphate (mg/L PO4)", po4_mg_l, e))
        return false;
    return check_result(umol_l_from_mg_l(SPECIES_NO3, no3_mg_l) / umol_l_from_mg_l(SPECIES_PO4, po4_mg_l), ratio, e);
}

/*
 * Fresh water: Emerson, Russo, Lund and Thurston, J. Fish. Res. Board Can. 32 (1975) 2379-2383: pKa = 0.09018 + 2729.92
 * / T. Sea water: Bell, Johnson, Jickells and Liss, Environ. Chem. 4 (2007) 183-186, corrected 5 (2008) 258: linear in
 * t and S.
 */
bool nh3_unionised_frac(double ph, double temp_c, double salinity_psu, double *frac, struct err *e)
{
    bool fresh = isnan(salinity_psu);
    if (!check_within("pH", ph, 4, 11, "", e) || !check_within("temperature", temp_c, 0, 40, "°C", e) ||
        (!fresh && !check_within("salinity", salinity_psu, 0, 42, "psu", e)))
        return false;
    double pka = fresh ? 0.09018 + 2729.92 / (temp_c + 273.15) : 10.0423 - 0.0315536 * temp_c + 0.003071 * salinity_psu;
    *frac = 1 / (1 + pow(10, pka - ph));
    return true;
}

double nh3_from_nh3_n(double nh3_n)
{
    return nh3_n * (M_NH3 / W_N);
}

double effect_no3_mg_per_unit(double n_mg_per_unit, double released_frac)
{
    return no3_from_no3_n(n_mg_per_unit * released_frac);
}

double effect_po4_mg_per_unit(double p_mg_per_unit, double released_frac)
{
    return po4_from_po4_p(p_mg_per_unit * released_frac);
}
