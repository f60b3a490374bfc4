/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Species into each other, by published factors. */
#include "handbook_checks.h"

#include "calc/weights.h"

/* As a person writes it: a number in one unit, asked for in another. */
static double converted(double value, const char *from, const char *to)
{
    struct quantity q = {0};
    struct err e = {0};
    char written[64];
    double answer = NAN;
    snprintf(written, sizeof written, "%.17g %s", value, from);
    if (!quantity_parse(written, &q, &e) || !quantity_in(&q, to, &answer, &e))
        fail_msg("%s in %s: %s", written, to, e.text);
    return answer;
}

static double run_no3_from_no3_n(const struct handbook_row *row)
{
    return no3_from_no3_n(handbook_in(row, 0, ""));
}

static double run_no3_n_from_no3(const struct handbook_row *row)
{
    return converted(handbook_in(row, 0, ""), "mg/L NO3", "mg/L NO3-N");
}

static double run_no2_n_from_no2(const struct handbook_row *row)
{
    return converted(handbook_in(row, 0, ""), "mg/L NO2", "mg/L NO2-N");
}

static double run_po4_p_from_po4(const struct handbook_row *row)
{
    return converted(handbook_in(row, 0, ""), "mg/L PO4", "mg/L PO4-P");
}

static double run_po4_from_po4_p(const struct handbook_row *row)
{
    return po4_from_po4_p(handbook_in(row, 0, ""));
}

static double run_po4_from_ppb_p(const struct handbook_row *row)
{
    return converted(handbook_in(row, 0, ""), "ppb P", "mg/L PO4");
}

static double run_n_from_protein(const struct handbook_row *row)
{
    return n_from_protein(handbook_in(row, 0, ""));
}

static enum species species_in(const struct handbook_row *row, size_t i)
{
    for (int s = SPECIES_NO3; s < N_SPECIES; s++)
        if (strcmp(species_name((enum species)s), row->in[i]) == 0)
            return (enum species)s;
    fail_msg("%s: %s is no species", row->id, row->in[i]);
    return SPECIES_NONE;
}

static double run_molar_mass(const struct handbook_row *row)
{
    return species_g_per_mol(species_in(row, 0));
}

static double run_mg_l_from_umol_l(const struct handbook_row *row)
{
    char from[32], to[32];
    snprintf(from, sizeof from, "umol/L %s", row->in[0]);
    snprintf(to, sizeof to, "mg/L %s", row->in[0]);
    return converted(handbook_in(row, 1, ""), from, to);
}

static bool atomic_weight(const char *symbol, double *g_per_mol)
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

/* The mass of "Na1 H1 C1 O3" from the table of atomic weights. */
static double formula_mass(const struct handbook_row *row, const char *formula)
{
    double mass = 0, weight = NAN;
    char symbol[3];
    int count, used;
    for (const char *p = formula; *p; p += used + (p[used] == ' ')) {
        if (sscanf(p, "%2[A-Za-z]%d%n", symbol, &count, &used) != 2 || !atomic_weight(symbol, &weight))
            fail_msg("%s: cannot read the formula at %s", row->id, p);
        mass += count * weight;
    }
    return mass;
}

static double run_formula(const struct handbook_row *row)
{
    return formula_mass(row, row->in[0]);
}

static double run_mass_ratio(const struct handbook_row *row)
{
    return formula_mass(row, row->in[0]) / formula_mass(row, row->in[1]) * handbook_in(row, 2, "");
}

static double run_np_ratio(const struct handbook_row *row)
{
    struct err e;
    double ratio = NAN;
    assert_true(np_ratio_molar(handbook_in(row, 0, ""), handbook_in(row, 1, ""), &ratio, &e));
    return ratio;
}

static double run_nh3_frac(const struct handbook_row *row)
{
    struct err e;
    double frac = NAN;
    assert_true(nh3_unionised_frac(handbook_in(row, 0, ""), handbook_in(row, 1, "C"), NAN, &frac, &e));
    return frac;
}

static double run_nh3_sea_frac(const struct handbook_row *row)
{
    struct err e;
    double frac = NAN;
    assert_true(
        nh3_unionised_frac(handbook_in(row, 0, ""), handbook_in(row, 1, "C"), handbook_in(row, 2, "psu"), &frac, &e));
    return frac;
}

/* A quantity as it is typed, in the unit that the row expects it in. */
static double run_convert(const struct handbook_row *row)
{
    struct quantity q;
    struct err e;
    double v = NAN;
    if (!quantity_parse(row->in[0], &q, &e) || !quantity_in(&q, row->unit, &v, &e))
        fail_msg("%s: %s", row->id, e.text);
    return v;
}

static double run_nh3_from_nh3_n(const struct handbook_row *row)
{
    return nh3_from_nh3_n(handbook_in(row, 0, ""));
}

static double run_nh3_of_tan(const struct handbook_row *row)
{
    struct err e;
    double frac = NAN;
    assert_true(nh3_unionised_frac(handbook_in(row, 1, ""), handbook_in(row, 2, "C"), NAN, &frac, &e));
    return frac * handbook_in(row, 0, "");
}

static void every_printed_chemical_factor_is_met(void **state)
{
    (void)state;
    static const struct handbook_function functions[] = {{"no3_from_no3_n", run_no3_from_no3_n},
                                                         {"no3_n_from_no3", run_no3_n_from_no3},
                                                         {"no2_n_from_no2", run_no2_n_from_no2},
                                                         {"po4_p_from_po4", run_po4_p_from_po4},
                                                         {"po4_from_po4_p", run_po4_from_po4_p},
                                                         {"po4_from_ppb_p", run_po4_from_ppb_p},
                                                         {"n_from_protein", run_n_from_protein},
                                                         {"molar_mass", run_molar_mass},
                                                         {"mg_l_from_umol_l", run_mg_l_from_umol_l},
                                                         {"formula", run_formula},
                                                         {"mass_ratio", run_mass_ratio},
                                                         {"np_ratio", run_np_ratio},
                                                         {"nh3_frac", run_nh3_frac},
                                                         {"nh3_sea_frac", run_nh3_sea_frac},
                                                         {"convert", run_convert},
                                                         {"nh3_from_nh3_n", run_nh3_from_nh3_n},
                                                         {"nh3_of_tan", run_nh3_of_tan}};
    assert_int_equal(handbook_run("chemistry", functions, COUNT_OF(functions)), 36);
}

static void a_basis_and_back_is_the_same(void **state)
{
    (void)state;
    static const char *const pairs[][2] = {
        {"mg/L NO3-N", "mg/L NO3"}, {"mg/L NO2-N", "mg/L NO2"}, {"mg/L NH4-N", "mg/L NH4"}, {"mg/L PO4-P", "mg/L PO4"},
        {"ppb P", "mg/L PO4"},      {"dKH", "meq/L"},           {"umol/L Ca", "mg/L Ca"},   {"umol/L Mg", "mg/L Mg"},
        {"umol/L K", "mg/L K"},     {"umol/L Sr", "mg/L Sr"},
    };
    for (size_t i = 0; i < COUNT_OF(pairs); i++)
        for (double v = 1e-3; v < 1e4; v *= 7.3) {
            double there = converted(v, pairs[i][0], pairs[i][1]);
            assert_number(converted(there, pairs[i][1], pairs[i][0]), v, 1e-12 * v);
            assert_true(there != v);
        }
}

/* The same mole either way: N in NO3-N, NO2-N and NH4-N is one atom, so equal N is equal µmol/L. */
static void a_mole_of_nitrogen_is_a_mole_of_its_ion(void **state)
{
    (void)state;
    double no3 = converted(1, "mg/L NO3-N", "umol/L NO3");
    double no2 = converted(1, "mg/L NO2-N", "umol/L NO2");
    double nh4 = converted(1, "mg/L NH4-N", "umol/L NH4");
    assert_number(no3, 1000 / 14.007, 1e-9);
    assert_number(no2, no3, 1e-9);
    assert_number(nh4, no3, 1e-9);
}

static void a_food_gives_the_ion_of_what_it_releases(void **state)
{
    (void)state;
    /* A powder of 45 % protein holds 72 mg N per g; half of it released is 36 mg N, 159.36 mg NO3 (× 4.426644). */
    assert_number(n_from_protein(450), 72, 1e-9);
    assert_number(effect_no3_mg_per_unit(72, 0.5), 159.359, 5e-4);
    assert_number(effect_po4_mg_per_unit(12, 0.25), 9.198360, 5e-6); /* 3 mg P × 3.066120 */
    assert_true(effect_no3_mg_per_unit(72, 0) == 0);
    assert_true(effect_po4_mg_per_unit(12, -0.25) < 0);
}

static void ratios_and_fractions_refuse_what_has_no_answer(void **state)
{
    (void)state;
    struct err e = {0};
    double v = 7;
    assert_false(np_ratio_molar(5, 0, &v, &e));
    assert_string_equal(e.text, "phosphate (mg/L PO4) is 0; expected a number above 0");
    assert_false(np_ratio_molar(-1, 0.1, &v, &e) || np_ratio_molar(NAN, 0.1, &v, &e) ||
                 np_ratio_molar(1e308, 1e-308, &v, &e));
    assert_false(nh3_unionised_frac(12, 25, NAN, &v, &e));
    assert_string_equal(e.text, "pH is 12; expected 4 to 11");
    assert_false(nh3_unionised_frac(8, 41, NAN, &v, &e));
    assert_string_equal(e.text, "temperature is 41; expected 0 to 40 °C");
    assert_false(nh3_unionised_frac(8, 25, 45, &v, &e));
    assert_string_equal(e.text, "salinity is 45; expected 0 to 42 psu");
    assert_true(v == 7);
    assert_true(isnan(species_g_per_mol(SPECIES_NONE)));
}

SUITE(chemistry)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_printed_chemical_factor_is_met),
        cmocka_unit_test(a_basis_and_back_is_the_same),
        cmocka_unit_test(a_mole_of_nitrogen_is_a_mole_of_its_ion),
        cmocka_unit_test(a_food_gives_the_ion_of_what_it_releases),
        cmocka_unit_test(ratios_and_fractions_refuse_what_has_no_answer),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
