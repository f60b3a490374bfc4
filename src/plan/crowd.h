/* How often a tank's corals can be fed: what the steps before it, `why` and the report share. */
#ifndef NEAP_PLAN_CROWD_H
#define NEAP_PLAN_CROWD_H

#include "internal.h"

/* The corals of one kind and interval in a tank, as far as they are fed from a pot in turn. */
struct crowd_part {
    size_t tank, kind;
    double interval_d;
    double load_frac; /* of the day's ceiling, all of them once, at the thinnest slurry */
    double hands_s;
};

double crowd_asked_d(const struct crowd_part *p, double rounds_per_d); /* between feeds, in whole rounds */
double crowd_gets_d(const struct crowd_part *p, const struct crowding *c);

#endif
