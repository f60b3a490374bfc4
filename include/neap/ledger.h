/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * ledger: sums of what was fed and changed, over days and systems.
 */
#ifndef NEAP_LEDGER_H
#define NEAP_LEDGER_H

#include "neap/learned.h"

#include <math.h>

/* Days, both ends in. */
struct day_span {
    int first_day, last_day;
};

static inline struct day_span span_back(long now_min, double days)
{
    int last = moment_day(now_min);
    return (struct day_span){last - (int)fmax(1, floor(days)) + 1, last};
}

static inline bool span_holds(const struct day_span *s, int day)
{
    return day >= s->first_day && day <= s->last_day;
}

/* So many whole days of the log: today is one of them once something of it is logged, anywhere. */
struct day_span span_logged(const struct facility *f, long now_min, double days);

/* The rows of a system among the tests and in the food ledger, which are sorted by system. */
struct system_rows {
    size_t first, end;
};
struct system_rows tests_of(const struct facility *f, size_t system);
struct system_rows feds_of(const struct facility *f, size_t system);

/*
 * What reaches the water. Of a slurry: what was brought to mouths and what is lost beside them, not what stays in
 * syringe, tube and pot. Of a food by the ledger: that, fish food, extras, and broadcasts, one unit of which counts
 * broadcast_ratio times. All that plans, learns, forecasts and reports counts by these two.
 */
double in_water(const struct settings *s, double to_mouths);
double fed_in_water(const struct facility *f, const struct fed *fed, double broadcast_ratio);

/* Units of a food that reached the water, as if all were fed to mouths: a broadcast counts by what it does more. */
double units_fed(const struct facility *f, const struct day_span *s, size_t system, size_t food,
                 double broadcast_ratio);
/* Days of the span that the system's log covers, at least a week: a young log says nothing of the days before it. */
double days_logged(const struct facility *f, const struct day_span *s, size_t system);
size_t days_fed(const struct facility *f, const struct day_span *s, size_t system);

/*
 * Water changed in a span, a week, and what the new water held. Of a rhythm that goes on, what was changed from its
 * first change to its last counts by the days between them, however the span cuts it; else it is spread over the span.
 */
struct change_habit {
    double frac_per_week, new_value;
    int every_d; /* whole days between changes, at most a week: rarer ones are spread over it; 7 where there is none */
    long last_min; /* MOMENT_NONE: none */
};
struct change_habit change_habit(const struct facility *f, const struct day_span *s, size_t system, enum analyte a);

#endif
