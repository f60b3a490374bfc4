/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every suite of tests/unit in one program. Without a name all are run, one after another. */
#include "tests.h"

#include <stdio.h>
#include <string.h>

#define SUITE_ROW(name) int suite_##name(void);
#include "suites.inc"
#undef SUITE_ROW

static const struct suite {
    const char *name;
    int (*run)(void); /* how many tests failed */
} suites[] = {
#define SUITE_ROW(name) {#name, suite_##name},
#include "suites.inc"
};

enum { SUITES = sizeof suites / sizeof suites[0] };

static int run_named(const char *name)
{
    for (size_t i = 0; i < SUITES; i++)
        if (strcmp(suites[i].name, name) == 0)
            return suites[i].run();
    fprintf(stderr, "no suite %s; expected one of", name);
    for (size_t i = 0; i < SUITES; i++)
        fprintf(stderr, " %s", suites[i].name);
    fprintf(stderr, "\n");
    return 1;
}

int main(int argc, char **argv)
{
    int failed = 0;
    for (int i = 1; i < argc; i++)
        failed += run_named(argv[i]);
    for (size_t i = 0; argc == 1 && i < SUITES; i++)
        failed += suites[i].run();
    return failed > 0;
}
