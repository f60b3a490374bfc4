/* assert_near: doubles within a stated tolerance (cmocka's own check narrows to float). A NaN is never near. */
#ifndef NEAP_NEAR_H
#define NEAP_NEAR_H

#include "tests.h"

static inline void near_or_fail(double got, double want, double within, const char *what, const char *file, int line)
{
    if (fabs(got - want) <= within)
        return;
    print_error("%s is %.17g; expected %.17g within %g\n", what, got, want, within);
    _fail(file, line);
}

#define assert_near(got, want, within) near_or_fail(got, want, within, #got, __FILE__, __LINE__)

#endif
