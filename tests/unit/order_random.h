/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Random rounds for the order's tests and bench: every rule is met by some of them. The generator is our own, so that
 * a round's number names the same round everywhere.
 */
#ifndef NEAP_ORDER_RANDOM_H
#define NEAP_ORDER_RANDOM_H

#include "neap/schedule.h"

struct random_round {
    struct order_tank tanks[ORDER_TANKS_MAX];
    struct order_feeder feeders[ORDER_FEEDERS_MAX];
    struct order_share shares[2];
    struct order_problem p;
    uint64_t state;
};

/* Minimal standard generator (Park and Miller 1988, CACM 31:1192-1201). */
static inline int random_below(struct random_round *r, int sides)
{
    r->state = r->state * 16807 % 2147483647;
    return (int)(r->state % (uint64_t)sides);
}

static inline int random_between(struct random_round *r, int low, int high)
{
    return low + random_below(r, high - low + 1);
}

/* A plain working round: broadcasts of 1-3 min, feeds of 2-8 min, 2 m apart, nothing special. */
static inline void random_plain(struct random_round *r, int number, size_t n_tanks, size_t n_feeders)
{
    memset(&r->p, 0, sizeof r->p);
    memset(r->feeders, 0, sizeof r->feeders);
    r->state = (uint64_t)number * 7919 + 12345;
    for (int i = 0; i < 5; i++)
        random_below(r, 2);
    order_defaults(&r->p);
    r->p.tanks = r->tanks;
    r->p.n_tanks = n_tanks;
    r->p.feeders = r->feeders;
    r->p.n_feeders = n_feeders;
    for (size_t j = 0; j < n_feeders; j++)
        r->feeders[j] = (struct order_feeder){.ready_min = 480};
    for (size_t i = 0; i < n_tanks; i++)
        r->tanks[i] = (struct order_tank){.position_m = 2 * (double)i,
                                          .broadcast_min = random_between(r, 1, 3),
                                          .fish_min = random_below(r, 2),
                                          .feed_s = random_between(r, 90, 480),
                                          .off_wanted_min = 15,
                                          .rest_min = random_between(r, 5, 10),
                                          .off_limit_min = 25,
                                          .pump = -1,
                                          .fixed_rank = -1};
}

/* Any round: pumps shared, quarantine, pots, ranks, passes, late feeders, settings from tight to wide. */
static inline void random_any(struct random_round *r, int number, size_t n_max)
{
    random_plain(r, number, 0, 1);
    r->p.n_tanks = (size_t)random_below(r, (int)n_max + 1);
    r->p.n_feeders = (size_t)random_between(r, 1, 3);
    r->p.lag_min = random_between(r, 0, 15);
    r->p.lag_max = r->p.lag_min + random_between(r, 7, 12);
    r->p.walk_free_m = random_below(r, 4);
    r->p.walk_m_per_min = random_between(r, 10, 60);
    r->p.switch_min = random_below(r, 2);
    r->p.tool_change_min = random_below(r, 5);
    r->p.pot_change_min = random_below(r, 3);
    r->p.slurry_age_limit_min = random_below(r, 3) == 0 ? random_between(r, 12, 90) : 0;
    r->p.flow_on_gap_min = random_below(r, 12);
    r->p.search_steps = 20;
    r->p.exact_work = number % 16 == 0 ? 100000 : 0;
    int pumps = random_below(r, 3), pots = random_between(r, 1, 3), ranks = random_below(r, 3);
    for (size_t j = 0; j < r->p.n_feeders; j++)
        r->feeders[j] = (struct order_feeder){.ready_min = 480 + random_below(r, 2) * random_below(r, 40)};
    for (size_t i = 0; i < r->p.n_tanks; i++)
        r->tanks[i] =
            (struct order_tank){.position_m = random_below(r, 40),
                                .broadcast_min = random_below(r, 4),
                                .fish_min = random_below(r, 3),
                                .feed_s = random_below(r, 5) == 0 ? 0 : random_between(r, 1, 1200),
                                .off_wanted_min = random_below(r, 2) * 15,
                                .rest_min = random_below(r, 11),
                                .off_limit_min = random_between(r, 14, 30),
                                .quarantine = random_below(r, 6) == 0,
                                .pump = pumps > 0 && random_below(r, 2) ? random_below(r, pumps) : -1,
                                .pot = random_below(r, pots),
                                .fixed_rank = ranks > 0 && random_below(r, 3) == 0 ? random_below(r, ranks + 1) : -1};
    for (size_t i = 0; i < r->p.n_tanks; i++)
        if (r->tanks[i].pump >= 0)
            r->tanks[i].position_m = 10 * r->tanks[i].pump + random_below(r, 5);
}

/* Any round with water that tanks share: on one pump or on several, given at a place of its own. */
static inline void random_shared(struct random_round *r, int number, size_t n_max)
{
    random_any(r, number, n_max);
    r->p.lag_max += 6; /* the way from where it is given */
    r->p.shares = r->shares;
    r->p.n_shares = (size_t)random_between(r, 1, 2);
    for (size_t k = 0; k < r->p.n_shares; k++)
        r->shares[k].position_m = random_below(r, 60);
    for (size_t i = 0; i < r->p.n_tanks; i++) {
        struct order_tank *t = &r->tanks[i];
        t->share = random_below(r, 4) == 0 ? 0 : random_between(r, 1, (int)r->p.n_shares);
        if (t->share > 0 && random_below(r, 2)) {
            t->pump = 10 + t->share;
            t->position_m = 12 * t->share + random_below(r, 5);
        }
        if (random_below(r, 3) > 0 && t->feed_s > 240)
            t->feed_s = t->feed_s / 5 + 1; /* so that stops of several tanks come about */
    }
}

#endif
