/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of include/neap/species.def, as chemistry and quantities read it. */
#ifndef NEAP_CALC_SPECIES_H
#define NEAP_CALC_SPECIES_H

#include "neap/calc.h"

enum { SPECIES_BASES = 4 };

struct basis {
    const char *unit; /* "mg/L NO3-N", where a conversion shows it; NULL: it is read, and not shown */
    const char *name; /* "NO3-N" */
    double factor;    /* to the mass of the species */
};

struct species_row {
    double g_per_mol;
    const char *molar_unit; /* "umol/L NO3" */
    struct basis bases[SPECIES_BASES];
};

extern const struct species_row species_rows[N_SPECIES];

#endif
