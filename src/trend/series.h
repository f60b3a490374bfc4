/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Inside the trend floor: readings by moment, the method in use among them, and what sets another apart from it. */
#ifndef TREND_SERIES_H
#define TREND_SERIES_H

#include "neap/trend.h"

/* Things by moment, those of one moment by their place in the input. */
struct dated {
    long moment_min;
    size_t index;
};
int dated_compare(const void *a, const void *b);

/* Readings up to now, by moment. */
struct ordered {
    struct reading *reading;
    size_t *index; /* in the input */
    size_t n;
};
bool readings_order(const struct reading *readings, size_t n, long now_min, struct arena *a, struct ordered *out,
                    struct err *e);

/* Days from one moment to another; below 0 where that came before. */
static inline double days_from(long moment, long now)
{
    return ((double)moment - (double)now) / (double)MIN_PER_DAY;
}

/* The first that is at most window_d days old. */
size_t window_first(const struct ordered *o, long now_min, double window_d);

/* first: where the window begins. own is parallel to the input of n_input readings. */
bool series_follow(const struct ordered *o, size_t first, size_t n_input, struct arena *a, struct series *out,
                   struct err *e);

/*
 * How much more another method reads than the one in use: the median over its readings, of the last OFFSET_BACK_D days,
 * that have one of the other within a day, or one on each side within OFFSET_PAIR_D days, between which the line is
 * taken.
 */
struct offset {
    double value;
    size_t n_pairs;
};
bool offset_find(const struct ordered *o, int method, int other, struct arena *a, struct offset *out, struct err *e);

#endif
