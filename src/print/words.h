/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Words that the report and the look ahead share. Texts are the document's. */
#ifndef NEAP_PRINT_WORDS_H
#define NEAP_PRINT_WORDS_H

#include "neap/print.h"
#include "neap/week.h"

const char *day_words(struct document *d, int day);                     /* "2026-11-27"; "-" for none */
const char *level_words(struct document *d, enum analyte a, double v);  /* in the analyte's decimals, no unit */
const char *signed_words(struct document *d, enum analyte a, double v); /* a change: "+0.5", "0.0" */
const char *plain_words(struct document *d, enum analyte a, double v);  /* a change without a plus */
const char *title_words(struct document *d, const char *name);          /* with a capital */

/* "likely leaves the band at the top about …": a sentence without its subject; NULL: not in the days looked at. */
const char *crossing_words(struct document *d, const struct crossing *c, int today);

#endif
