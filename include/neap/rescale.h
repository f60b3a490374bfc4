/*
 * rescale: a pot that came out larger or smaller than planned.
 */
#ifndef NEAP_RESCALE_H
#define NEAP_RESCALE_H

#include "neap/log.h"
#include "neap/plan.h"

struct pot_made {
    const char *pot;
    double made_ml;
    const struct given *givens; /* what was logged of the round */
    size_t n_givens;
};

struct made_tank {
    size_t tank;
    double planned_ml, given_ml, left_ml; /* of the pot, with what is lost beside the mouths */
    double load_frac;                     /* Σ dose ÷ ceiling with what is left */
    bool cut;                             /* a ceiling, or too little made: less food than planned */
};

struct made_line {
    long number; /* of the sheet; only those not logged yet */
    double planned_ml, left_ml;
};

struct rescaled {
    struct arena arena;
    const struct pot *pot; /* the round's */
    double made_ml;
    struct made_tank *tanks;
    size_t n_tanks;
    struct made_line *lines;
    size_t n_lines;
};

/*
 * What is left to give of a pot of a kept round, so that each coral gets its planned food out of the volume really made.
 * What was logged counts as given; a line that was not given leaves its share in the pot. Caller frees with
 * rescaled_free. Errors: ERR_NOT_FOUND for an unknown pot; ERR_INPUT for a volume that makes no sense; ERR_MEMORY.
 */
bool plan_rescale(const struct facility *f, const struct round *r, const struct pot_made *made, struct rescaled *out,
                  struct err *e);
void rescaled_free(struct rescaled *r);

#endif
