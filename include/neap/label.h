/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a pack's label prints, typed in place of the fields of a food or lot that it stands for. */
#ifndef NEAP_LABEL_H
#define NEAP_LABEL_H

#include "neap/facility.h"

enum label_word {
    LABEL_PROTEIN,
    LABEL_MOISTURE,
    LABEL_PHOSPHORUS,
    LABEL_RATE,
    LABEL_CEILING,
    LABEL_PRICE,
    N_LABEL_WORDS
};

struct food_label {
    const char *typed[N_LABEL_WORDS]; /* borrowed; NULL: not typed */
};

/* The word of a label that is typed here: "protein", or a field of the register where its value is a printed dose. */
bool label_word_of(const struct reg *r, const char *name, const char *value, enum label_word *word);

/* The field that a word fills; SIZE_MAX: the register has none. */
size_t label_field(const struct reg *r, enum label_word word);
const char *label_name(enum label_word word); /* "protein" */

/* A percentage as printed, 0.45 of "45%", "45" and "min. 45 %". Errors: ERR_INPUT. */
bool label_part(const char *name, const char *text, double *part_frac, struct err *e);

/*
 * Fills cells[] and present[] with what the label says; old: the row as it is, NULL where it is new. told gets a line
 * for each, with what it was reckoned by. Errors: ERR_INPUT, ERR_MEMORY.
 */
bool label_fill(const struct food_label *l, const struct reg *r, const struct cell *old, struct cell *cells,
                bool *present, struct text *told, struct err *e);

#endif
