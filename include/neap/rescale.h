/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * rescale: a pot that came out otherwise than planned, and what a round brings its waters by its log.
 */
#ifndef NEAP_RESCALE_H
#define NEAP_RESCALE_H

#include "neap/log.h"
#include "neap/plan.h"

struct rescale_request {
    const char *pot;
    double made_ml;
    const struct round_log *log; /* of the round; NULL: nothing was logged */
};

struct rescaled_tank {
    size_t tank;
    double planned_ml, given_ml, left_ml; /* of the pot, with what is lost beside the mouths */
    double load_frac;                     /* Σ dose ÷ ceiling with what is left */
    bool cut;                             /* a ceiling, or too little made: less food than planned */
};

struct rescaled_line {
    long number; /* of the sheet; only those not logged yet */
    double planned_ml, left_ml;
};

struct rescaled {
    struct arena arena;
    const struct pot *pot; /* the round's */
    double made_ml;
    struct rescaled_tank *tanks;
    size_t n_tanks;
    struct rescaled_line *lines;
    size_t n_lines;
};

/*
 * What is left to give of a pot of a kept round, so that each coral gets its planned food out of the volume really
 * made. What the scale said by the log is in it, else what was to be weighed. What was logged counts as given; a line
 * that was not given leaves its share in the pot. Caller frees with rescaled_free. Errors: ERR_NOT_FOUND for an unknown
 * pot; ERR_INPUT for a volume that makes no sense; ERR_MEMORY.
 */
bool plan_rescale(const struct facility *f, const struct round *r, const struct rescale_request *made,
                  struct rescaled *out, struct err *e);
void rescaled_free(struct rescaled *r);

/*
 * Σ dose ÷ ceiling of a water for the day, its other rounds with it: by what was given, extras with it; and with what
 * is not logged yet as planned.
 */
struct water_load {
    double given, all;
};

/* Per system of the facility, the arena's. Pots hold what the log says of them. Errors: ERR_MEMORY. */
bool plan_loads(const struct facility *f, const struct round *r, const struct round_log *log, struct arena *a,
                struct water_load **loads, struct err *e);

/*
 * mL of a pot that its logged lines took out of it, refused ones with them; and what was mixed: as logged, else as
 * planned.
 */
double pot_used_ml(const struct round *r, const struct round_log *log, const struct pot *pot);
double pot_mixed_ml(const struct round_log *log, const struct pot *pot);

#endif
