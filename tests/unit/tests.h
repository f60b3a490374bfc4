/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What every unit test includes: the base floor and cmocka, in the order that cmocka asks for. */
#ifndef NEAP_TESTS_H
#define NEAP_TESTS_H

#include "neap/base.h"

#include <setjmp.h>
#include <cmocka.h>

/*
 * The last function of a test_NAME.c: runs its tests and returns how many failed. suites.c has the main function of
 * all.
 */
#define SUITE(name)                                                                                                    \
    int suite_##name(void);                                                                                            \
    int suite_##name(void)

/*
 * How many random trials where a check makes n: a fifth under the address sanitizer and where coverage is counted,
 * which make each several times as slow and look for other things; TRIALS_TIMES as many in make soak.
 */
#if defined(__SANITIZE_ADDRESS__)
#define SANITIZED 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define SANITIZED 1
#endif
#endif
#ifndef TRIALS_TIMES
#define TRIALS_TIMES 1
#endif
#if defined(SANITIZED) || defined(COVERED)
#define TRIALS(n) ((n)*TRIALS_TIMES / 5)
#else
#define TRIALS(n) ((n)*TRIALS_TIMES)
#endif
/* For a count or a share that fewer trials would leave to chance. */
#define TRIALS_LEAST(n, least) (TRIALS(n) > (least) ? TRIALS(n) : (least))

#endif
