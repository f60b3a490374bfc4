/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli.h"

const struct embedded embedded[] = {
#include "data.inc"
};

const size_t n_embedded = COUNT_OF(embedded);
