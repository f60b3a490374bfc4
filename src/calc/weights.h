/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Abridged standard atomic weights, g/mol: Prohaska et al., Standard atomic weights of the elements 2021 (IUPAC
 * Technical Report), Pure Appl. Chem. 94 (2022) 573-600. Na, P, S, Cl, K, Ca and Sr are from memory of that table.
 */
#ifndef NEAP_CALC_WEIGHTS_H
#define NEAP_CALC_WEIGHTS_H

#define W_H 1.0080
#define W_C 12.011
#define W_N 14.007
#define W_O 15.999
#define W_NA 22.990
#define W_MG 24.305
#define W_P 30.974
#define W_S 32.06
#define W_CL 35.45
#define W_K 39.098
#define W_CA 40.078
#define W_SR 87.62

#define M_NO3 (W_N + 3 * W_O)
#define M_NO2 (W_N + 2 * W_O)
#define M_NH3 (W_N + 3 * W_H)
#define M_NH4 (W_N + 4 * W_H)
#define M_PO4 (W_P + 4 * W_O)
#define M_CAO (W_CA + W_O)
#define M_CACO3 (W_CA + W_C + 3 * W_O)

#endif
