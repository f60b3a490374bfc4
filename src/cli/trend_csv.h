/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The report as a table. */
#ifndef NEAP_CLI_TREND_CSV_H
#define NEAP_CLI_TREND_CSV_H

#include "cli.h"
#include "neap/week.h"

/* The report as a table: a line per system and analyte. Out of memory shows in out->failed. */
void trend_csv(const struct facility *f, const struct trend_report *r, struct text *out);

#endif
