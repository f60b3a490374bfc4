/* What the report and the look ahead share: sums of the log, and one forecast. */
#ifndef NEAP_PLAN_AHEAD_H
#define NEAP_PLAN_AHEAD_H

#include "internal.h"

/* Days, both ends in. */
struct span {
    int first_day, last_day;
};

static inline struct span span_back(long now_min, double days)
{
    int last = moment_day(now_min);
    return (struct span){last - (int)fmax(1, floor(days)) + 1, last};
}

static inline bool span_holds(const struct span *s, int day)
{
    return day >= s->first_day && day <= s->last_day;
}

/* The rows of a system in the ledger, which is sorted by system. */
struct slice {
    size_t first, end;
};
struct slice feds_of(const struct facility *f, size_t system);

/* Units of a food as if all were fed to mouths: a broadcast counts by what it does more. */
double units_fed(const struct facility *f, const struct learned_effects *l, const struct span *s, size_t system,
                 size_t food, enum analyte a);
/* Days of the span that the system's log covers, at least a week: a young log says nothing of the days before it. */
double days_logged(const struct facility *f, const struct span *s, size_t system);
size_t days_fed(const struct facility *f, const struct span *s, size_t system);

/* Water changed in a span, spread over its weeks, and what the new water held. */
struct change_habit {
    double frac_per_week, new_value;
};
struct change_habit change_habit(const struct facility *f, const struct span *s, size_t system, enum analyte a);

struct forecast_of {
    const struct facility *f;
    const struct learned_effects *effects;
    size_t system;
    enum analyte analyte;
    const struct state *state;
    struct span span;
    struct feeding_policy policy;
    int days, runs;
    unsigned long seed;
};
bool forecast_system(const struct forecast_of *o, struct arena *arena, struct forecast *out, struct err *e);
struct crossing crossing_of(const struct forecast *fc, enum level_verdict level, int today);

/* Are the tests fresh and enough for one? */
static inline bool can_forecast(const struct facility *f, size_t system, const struct state *s)
{
    return s->has_slope && s->has_level && !s->stale && s->n_fitted >= 3 && s->spread_d2 > 0 &&
           f->systems[system].volume_l > 0;
}

#endif
