/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the report and the look ahead share: one forecast. */
#ifndef NEAP_WEEK_AHEAD_H
#define NEAP_WEEK_AHEAD_H

#include "neap/learned.h"
#include "neap/ledger.h"
#include "neap/week.h"
#include "neap/working.h"

struct forecast_of {
    const struct facility *f;
    const struct learned_effects *effects;
    size_t system;
    enum analyte analyte;
    const struct water_draw *draws; /* as many as effects were asked for; NULL: none, see forecast_open */
    long now_min;
    struct day_span span; /* what was fed in it is fed on */
    struct feeding_policy policy;
    int days;
};

/* draws stay NULL where the tests are too old or too few for a forecast. */
bool forecast_open(struct forecast_of *o, const struct state *s, struct arena *arena, struct err *e);
bool forecast_system(const struct forecast_of *o, struct arena *arena, struct forecast *out, struct err *e);
struct crossing crossing_of(const struct forecast *fc, enum level_verdict level, int today);

#endif
