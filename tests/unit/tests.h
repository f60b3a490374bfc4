/* What every unit test includes: the base floor and cmocka, in the order that cmocka asks for. */
#ifndef NEAP_TESTS_H
#define NEAP_TESTS_H

#include "neap/base.h"

#include <setjmp.h>
#include <cmocka.h>

#endif
