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
    const struct water_draw *draws; /* runs of them; not NULL */
    long now_min;
    int first_ahead;      /* day of the first feeding hour to come; set within */
    struct day_span span; /* what was fed in it is fed on */
    struct feeding_policy policy;
    int days, runs;
    unsigned long seed;
};
bool forecast_system(const struct forecast_of *o, struct arena *arena, struct forecast *out, struct err *e);
struct crossing crossing_of(const struct forecast *fc, enum level_verdict level, int today);

/* Are the tests fresh and enough for one? */
static inline bool can_forecast(const struct facility *f, size_t system, const struct state *s)
{
    return s->has_slope && s->has_level && !s->stale && f->systems[system].volume_l > 0;
}

#endif
