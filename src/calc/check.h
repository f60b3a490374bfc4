/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Checks of values from outside, shared by the files of this folder. what: the user's word for the value. */
#ifndef NEAP_CALC_CHECK_H
#define NEAP_CALC_CHECK_H

#include "neap/calc.h"

#define CALC_PI 3.14159265358979323846

bool check_above_zero(const char *what, double v, struct err *e);
bool check_not_negative(const char *what, double v, struct err *e);
bool check_within(const char *what, double v, double low, double high, const char *unit, struct err *e);

/* A result that outgrew the numbers (1e308 mg in 1e-9 L) is an error, not an infinity. */
bool check_result(double v, double *out, struct err *e);

#endif
