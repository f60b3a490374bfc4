/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The settings as they are delivered. */
#ifndef NEAP_TESTS_DELIVERED_H
#define NEAP_TESTS_DELIVERED_H

#include "neap/facility.h"

static inline bool settings_deliver(struct settings *s)
{
    struct cell cells[FIELDS_MAX] = {{0}};
    size_t field;
    struct err e;
    return row_fill(settings_reg(), cells, s, &field, &e);
}

#endif
