/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Exact definitions of the units, once. US and avoirdupois units: NIST Handbook 44, appendix C, from the inch of
 * 2.54 cm and the pound of 453.59237 g (international yard and pound agreement, 1959). Imperial gallon: 4.54609 L,
 * UK Weights and Measures Act 1985, schedule 1.
 */
#ifndef NEAP_CALC_UNITS_H
#define NEAP_CALC_UNITS_H

#define CM_PER_INCH 2.54
#define CM_PER_FOOT 30.48
#define L_PER_CUBIC_INCH 0.016387064
#define L_PER_CUBIC_FOOT 28.316846592
#define L_PER_US_GAL 3.785411784 /* 231 cubic inches */
#define L_PER_US_QUART 0.946352946
#define L_PER_US_PINT 0.473176473
#define L_PER_US_CUP 0.2365882365
#define L_PER_US_FL_OZ 0.0295735295625
#define L_PER_US_TBSP 0.01478676478125
#define L_PER_US_TSP 0.00492892159375
#define L_PER_IMP_GAL 4.54609
#define L_PER_IMP_QUART 1.1365225
#define L_PER_IMP_PINT 0.56826125
#define L_PER_IMP_FL_OZ 0.0284130625
#define G_PER_LB 453.59237
#define G_PER_OZ 28.349523125
#define G_PER_GRAIN 0.06479891

#endif
