/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A plan made by hand for three tanks and two feeders, free to be spoilt: what test_order_rules.c and
 * test_order_shared.c share.
 */
#ifndef NEAP_ORDER_BENCH_H
#define NEAP_ORDER_BENCH_H

#include "neap/schedule.h"

enum { BENCH_TANKS = 3, BENCH_STEPS = 24 };

struct bench {
    struct order_tank tanks[BENCH_TANKS];
    struct order_feeder feeders[2];
    struct order_share share;
    struct order_step steps[BENCH_STEPS];
    struct order_problem p;
    struct order_plan plan;
};

/*
 * Feeders ready at 480, 30 m a minute and none walked free, switching takes a minute. The plan's totals are left to
 * fill in.
 */
static inline void bench_lay_out(struct bench *b, const struct order_tank *tanks, const struct order_step *steps,
                                 size_t n_steps)
{
    assert_true(n_steps <= BENCH_STEPS);
    memset(b, 0, sizeof *b);
    memcpy(b->tanks, tanks, sizeof b->tanks);
    memcpy(b->steps, steps, n_steps * sizeof *steps);
    b->feeders[0] = b->feeders[1] = (struct order_feeder){.ready_min = 480};
    order_defaults(&b->p);
    b->p.tanks = b->tanks;
    b->p.n_tanks = BENCH_TANKS;
    b->p.feeders = b->feeders;
    b->p.n_feeders = 2;
    b->p.walk_m_per_min = 30;
    b->p.walk_free_m = 0;
    b->p.switch_min = 1;
    b->plan = (struct order_plan){
        .steps = b->steps, .n_steps = n_steps, .n_tanks = BENCH_TANKS, .start_min = 480, .lower_bound_min = 500};
}

static inline void shift(struct bench *b, size_t step, int start, int end)
{
    b->steps[step].start_min = start;
    b->steps[step].end_min = end;
}

/* Steps by start, end and feeder, as a plan has them. */
static inline void put_in_order(struct bench *b)
{
    for (size_t i = 1; i < b->plan.n_steps; i++)
        for (size_t k = i; k > 0; k--) {
            const struct order_step *s = &b->steps[k - 1], later = s[0], sooner = s[1];
            if (sooner.start_min > later.start_min ||
                (sooner.start_min == later.start_min &&
                 (sooner.end_min > later.end_min ||
                  (sooner.end_min == later.end_min && sooner.feeder >= later.feeder))))
                break;
            b->steps[k - 1] = sooner;
            b->steps[k] = later;
        }
}

static inline void leave_out(struct bench *b, size_t step)
{
    b->plan.n_steps--;
    memmove(&b->steps[step], &b->steps[step + 1], (b->plan.n_steps - step) * sizeof *b->steps);
}

static inline void do_also(struct bench *b, struct order_step step)
{
    assert_true(b->plan.n_steps < BENCH_STEPS);
    b->steps[b->plan.n_steps++] = step;
    put_in_order(b);
}

static inline enum order_rule rule_broken(const struct bench *b)
{
    enum order_rule broken = ORDER_KEPT;
    struct err e = {0};
    bool ok = order_check(&b->p, &b->plan, &broken, &e);
    assert_int_equal(ok, broken == ORDER_KEPT);
    if (!ok) {
        assert_int_equal(e.code, ERR_INPUT);
        assert_true(strlen(e.text) > 0);
    }
    return broken;
}

struct spoilt {
    const char *name;
    void (*spoil)(struct bench *);
    enum order_rule rule;
};

static inline void each_rule_is_named(const struct spoilt *rows, size_t n, void (*lay_out)(struct bench *))
{
    for (size_t i = 0; i < n; i++) {
        struct bench b;
        lay_out(&b);
        rows[i].spoil(&b);
        enum order_rule rule = rule_broken(&b);
        if (rule != rows[i].rule)
            fail_msg("%s: rule %d is named, not %d", rows[i].name, (int)rule, (int)rows[i].rule);
    }
}

#endif
