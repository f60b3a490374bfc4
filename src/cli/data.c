/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The files that the program carries inside itself. */
#include "cli.h"

const struct embedded embedded[] = {
#include "data.inc"
};

const size_t n_embedded = COUNT_OF(embedded);
