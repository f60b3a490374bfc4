/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * capacity: how often a water's corals can be fed, by its ceiling and by hands.
 */
#ifndef NEAP_CAPACITY_H
#define NEAP_CAPACITY_H

#include "neap/facility.h"

struct capacity {
    size_t system;
    bool by_log; /* rounds_per_d is the log's; else too few are logged, and one a day is assumed */
    double rounds_per_d;
    double fish_frac;  /* of the day's ceiling, taken before the corals */
    double room_frac;  /* left to them in a round; the broadcast yields to them */
    double asked_frac; /* what they would take in a round, each as often as its kind asks, in the least portions */
    double hands_frac; /* the whole facility's hands, asked ÷ there */
    double times, obligate_times; /* their intervals between two feeds; 1: as asked; INFINITY: never */
    bool by_hands;                /* the hands bind, not the water's ceiling */
    int rounds_enough;            /* so many a week would be enough for the ceiling; 0: none, or no more than now */
    bool overfull;                /* somebody is fed a quarter later than asked, or more */
    size_t kind;                  /* overfull: the kind that is hit most; else REF_NONE */
    double interval_d, gets_d;    /* of that kind: as asked, and as it can be; INFINITY: never */
};

/*
 * Per system of the facility, the arena's. The rounds are as many as in the setting window_d before the day.
 * Rules: docs/round-arithmetic.md, "How often". Errors: as plan_advice.
 */
bool plan_capacity(const struct facility *f, int day, struct arena *a, const struct capacity **systems, struct err *e);

/*
 * "small-polyp stony in south, due every 3 d, can be fed about every 12 d with 3 rounds a week": of one that is
 * overfull.
 */
void capacity_words(const struct facility *f, const struct capacity *c, struct text *out);
void capacity_help(const struct capacity *c, struct text *out); /* what would help, as a list of choices */

#endif
