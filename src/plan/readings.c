/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The tests and water changes of one water and analyte, as the trend takes them. */
#include "neap/advice.h"
#include "neap/ledger.h"
#include "neap/working.h"

#include <string.h>

static bool same_method(const struct facility *f, size_t a, size_t b)
{
    return strcmp(f->tests[a].method, f->tests[b].method) == 0;
}

/* The same method has the same number: that of its first test in this water. */
static int method_number(const struct facility *f, size_t first, size_t test)
{
    size_t i = first;
    while (!same_method(f, i, test))
        i++;
    return (int)i;
}

double analyte_test_sd(enum analyte a, double value)
{
    return (analytes[a].error_abs + analytes[a].error_frac * fabs(value)) / 2;
}

struct test test_seen(const struct facility *f, const struct test *t)
{
    struct test seen = *t;
    enum analyte a = (enum analyte)t->analyte;
    if (t->value == 0 && a < N_NUTRIENTS) {
        seen.below = true;
        seen.value = fmax(method_step(f, t->method, a), analyte_test_sd(a, 0));
    }
    return seen;
}

/* A value below zero (a thermometer in frost) is no concentration: nothing is fitted to it. */
size_t gather_readings(const struct facility *f, size_t system, enum analyte a, struct reading *out)
{
    size_t n = 0;
    const struct system_rows own = tests_of(f, system);
    for (size_t i = own.first; i < own.end; i++) {
        const struct test *t = &f->tests[i];
        if (t->analyte != (int)a || t->value < 0)
            continue;
        int method =
            n > 0 && same_method(f, (size_t)out[n - 1].method, i) ? out[n - 1].method : method_number(f, own.first, i);
        const struct test seen = test_seen(f, t);
        out[n++] = (struct reading){t->taken, seen.value, seen.below, method};
    }
    return n;
}

size_t gather_changes(const struct facility *f, size_t system, enum analyte a, struct water_change *out)
{
    size_t n = 0;
    for (size_t i = 0; i < f->n_waters; i++) {
        const struct water *c = &f->waters[i];
        if (c->system != system || (a != ANALYTE_NO3 && a != ANALYTE_PO4))
            continue;
        double frac = f->systems[system].volume_l > 0 ? c->volume_l / f->systems[system].volume_l : 0;
        out[n++] = (struct water_change){c->exchanged, fmin(frac, 0.99), a == ANALYTE_NO3 ? c->no3_mg_l : c->po4_mg_l};
    }
    return n;
}
