/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Reads rounds from standard input, whole numbers only, and prints one line per round: finish, bound, proven, plan is
 * valid. Per round: tanks, feeders, lag_min, lag_max, metres per minute, switch_min, tool_change_min, flow_on_gap_min,
 * search_steps, exact_work; per feeder: ready_min; per tank: position_m, broadcast_min, fish_min, feed_s,
 * off_wanted_min, rest_min, off_limit_min, quarantine.
 */
#include "neap/schedule.h"

static struct order_tank tanks[ORDER_TANKS_MAX];
static struct order_feeder feeders[ORDER_FEEDERS_MAX];

static bool numbers_read(int *values, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (scanf("%d", &values[i]) != 1)
            return false;
    return true;
}

static bool round_read(struct order_problem *p)
{
    int v[10];
    if (!numbers_read(v, 10) || v[0] < 0 || v[0] > ORDER_TANKS_MAX || v[1] < 1 || v[1] > ORDER_FEEDERS_MAX)
        return false;
    order_defaults(p);
    p->tanks = tanks;
    p->feeders = feeders;
    p->n_tanks = (size_t)v[0];
    p->n_feeders = (size_t)v[1];
    p->lag_min = v[2];
    p->lag_max = v[3];
    p->walk_m_per_min = v[4];
    p->walk_free_m = 0;
    p->switch_min = v[5];
    p->tool_change_min = v[6];
    p->flow_on_gap_min = v[7];
    p->search_steps = v[8];
    p->exact_work = v[9];
    for (size_t j = 0; j < p->n_feeders; j++) {
        if (!numbers_read(&feeders[j].ready_min, 1))
            return false;
    }
    for (size_t i = 0; i < p->n_tanks; i++) {
        if (!numbers_read(v, 8))
            return false;
        tanks[i] = (struct order_tank){.position_m = v[0],
                                       .broadcast_min = v[1],
                                       .fish_min = v[2],
                                       .feed_s = v[3],
                                       .off_wanted_min = v[4],
                                       .rest_min = v[5],
                                       .off_limit_min = v[6],
                                       .quarantine = v[7] != 0,
                                       .pump = -1,
                                       .fixed_rank = -1};
    }
    return true;
}

int main(void)
{
    struct order_problem p = {0};
    while (round_read(&p)) {
        struct order_plan plan;
        struct err e = {0};
        if (!order_make(&p, &plan, &e)) {
            fprintf(stderr, "%s\n", e.text);
            return 1;
        }
        bool valid = order_check(&p, &plan, NULL, &e);
        printf("%d %d %d %d\n", plan.finish_min, plan.lower_bound_min, plan.proven, valid);
        order_plan_free(&plan);
    }
    return 0;
}
