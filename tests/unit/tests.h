/* What every unit test includes: the base floor and cmocka, in the order that cmocka asks for. */
#ifndef NEAP_TESTS_H
#define NEAP_TESTS_H

#include "neap/base.h"

#include <setjmp.h>
#include <cmocka.h>

/* Random trials are fewer under the address sanitizer, which makes each several times as slow and looks for other faults. */
#if defined(__SANITIZE_ADDRESS__)
#define SANITIZED 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define SANITIZED 1
#endif
#endif
#ifdef SANITIZED
#define TRIALS(n) ((n) / 6)
#else
#define TRIALS(n) (n)
#endif

#endif
