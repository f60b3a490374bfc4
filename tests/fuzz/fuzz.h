/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What every fuzz_NAME.c offers: one run on some bytes. It may refuse them, and must not crash, leave its memory or
 * break a promise of its header (fuzz_hold). libFuzzer drives it in a soak, driver.c in a check.
 */
#ifndef NEAP_FUZZ_H
#define NEAP_FUZZ_H

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);

#define fuzz_hold(promise)                                                                                             \
    do {                                                                                                               \
        if (!(promise)) {                                                                                              \
            fprintf(stderr, "%s:%d: does not hold: %s\n", __FILE__, __LINE__, #promise);                               \
            abort();                                                                                                   \
        }                                                                                                              \
    } while (0)

#endif
