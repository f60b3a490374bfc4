/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Comparing doubles within a stated tolerance: cmocka's own comparison rounds to float. A NaN is never near. */
#ifndef NEAP_TESTS_NUMBERS_H
#define NEAP_TESTS_NUMBERS_H

#include "tests.h"

#define assert_number(got, want, tolerance) number_check((got), (want), (tolerance), #got, __FILE__, __LINE__)

static inline void number_check(double got, double want, double tolerance, const char *what, const char *file, int line)
{
    if (fabs(got - want) <= tolerance)
        return;
    print_error("%s is %.17g, expected %.17g within %g\n", what, got, want, tolerance);
    _fail(file, line);
}

#endif
