#include "calc/check.h"
#include "calc/weights.h"

/* General factor of AOAC; FAO Food and Nutrition Paper 77 (2003). From memory. */
static const double protein_per_n = 6.25;

static const struct {
    const char *name;
    double g_per_mol;
} species_rows[N_SPECIES] = {
    [SPECIES_NONE] = {"", NAN},     [SPECIES_NO3] = {"NO3", M_NO3}, [SPECIES_NO2] = {"NO2", M_NO2},
    [SPECIES_NH4] = {"NH4", M_NH4}, [SPECIES_PO4] = {"PO4", M_PO4}, [SPECIES_CA] = {"Ca", W_CA},
    [SPECIES_MG] = {"Mg", W_MG},    [SPECIES_K] = {"K", W_K},       [SPECIES_SR] = {"Sr", W_SR},
};

const char *species_name(enum species s)
{
    return species_rows[s].name;
}

double species_g_per_mol(enum species s)
{
    return species_rows[s].g_per_mol;
}

bool atomic_weight(const char *symbol, double *g_per_mol)
{
    static const struct {
        const char *symbol;
        double g_per_mol;
    } rows[] = {{"H", W_H}, {"C", W_C}, {"N", W_N},   {"O", W_O}, {"Na", W_NA}, {"Mg", W_MG},
                {"P", W_P}, {"S", W_S}, {"Cl", W_CL}, {"K", W_K}, {"Ca", W_CA}, {"Sr", W_SR}};
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        if (strcmp(symbol, rows[i].symbol) == 0) {
            *g_per_mol = rows[i].g_per_mol;
            return true;
        }
    return false;
}

double no3_from_no3_n(double no3_n)
{
    return no3_n * (M_NO3 / W_N);
}

double no3_n_from_no3(double no3)
{
    return no3 * (W_N / M_NO3);
}

double no2_from_no2_n(double no2_n)
{
    return no2_n * (M_NO2 / W_N);
}

double no2_n_from_no2(double no2)
{
    return no2 * (W_N / M_NO2);
}

double nh4_from_nh4_n(double nh4_n)
{
    return nh4_n * (M_NH4 / W_N);
}

double nh4_n_from_nh4(double nh4)
{
    return nh4 * (W_N / M_NH4);
}

double po4_from_po4_p(double po4_p)
{
    return po4_p * (M_PO4 / W_P);
}

double po4_p_from_po4(double po4)
{
    return po4 * (W_P / M_PO4);
}

double po4_mg_l_from_ppb_p(double p_ppb)
{
    return po4_from_po4_p(p_ppb / 1000);
}

double ppb_p_from_po4_mg_l(double po4_mg_l)
{
    return 1000 * po4_p_from_po4(po4_mg_l);
}

double mg_l_from_umol_l(enum species s, double umol_l)
{
    return umol_l * species_g_per_mol(s) / 1000;
}

double umol_l_from_mg_l(enum species s, double mg_l)
{
    return mg_l * 1000 / species_g_per_mol(s);
}

double n_from_protein(double protein)
{
    return protein / protein_per_n;
}

/* One German degree is 10 mg/L of CaO, which takes up two equivalents of acid per mole. */
double meq_l_from_dkh(double dkh)
{
    return dkh * (2 * 10 / M_CAO);
}

double dkh_from_meq_l(double meq_l)
{
    return meq_l / (2 * 10 / M_CAO);
}

bool np_ratio_molar(double no3_mg_l, double po4_mg_l, double *ratio, struct err *e)
{
    if (!check_not_negative("nitrate (mg/L NO3)", no3_mg_l, e) ||
        !check_above_zero("phosphate (mg/L PO4)", po4_mg_l, e))
        return false;
    return check_result(umol_l_from_mg_l(SPECIES_NO3, no3_mg_l) / umol_l_from_mg_l(SPECIES_PO4, po4_mg_l), ratio, e);
}

/* Emerson, Russo, Lund and Thurston, J. Fish. Res. Board Can. 32 (1975) 2379-2383: pKa = 0.09018 + 2729.92 / T. */
bool nh3_unionised_frac(double ph, double temp_c, double *frac, struct err *e)
{
    if (!check_within("pH", ph, 4, 11, "", e) || !check_within("temperature", temp_c, 0, 40, "°C", e))
        return false;
    double pka = 0.09018 + 2729.92 / (temp_c + 273.15);
    *frac = 1 / (1 + pow(10, pka - ph));
    return true;
}

double effect_no3_mg_per_unit(double n_mg_per_unit, double released_frac)
{
    return no3_from_no3_n(n_mg_per_unit * released_frac);
}

double effect_po4_mg_per_unit(double p_mg_per_unit, double released_frac)
{
    return po4_from_po4_p(p_mg_per_unit * released_frac);
}
