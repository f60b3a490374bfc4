/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * schedule: in which order and at which minute a round's tanks are served, and by whom. It knows nothing of the
 * register: plain numbers in, steps out; no I/O, no clock, no state.
 * The rules, the lower bound and what was measured stand in docs/order.md.
 *
 * Per tank: broadcast with the flow on, a lag, then one visit (fish, flow off, corals), a rest with the flow off, flow
 * on. A tank that needs longer than its flow may be off is visited in several passes. All times are whole minutes of
 * one clock of the caller's choice (minutes since midnight serve well). Rounds are ordered before they begin: a begun
 * one keeps the lines of its sheet, which an order made anew would not (neap/replan.h).
 *
 * What it promises, by numbers that the tests of each name:
 *   [order 1] A plan keeps every rule of enum order_rule; order_check, which is written apart, says so.
 *   [order 2] No plan can finish before lower_bound_min; proven is said of no plan that is later than another could be.
 *   [order 3] The same problem gives the same plan, byte for byte.
 *   [order 4] A longer exact search never finishes later; what is polished after it may, by a minute and seldom.
 *   [order 5] What cannot be planned is refused by the name of its tank or setting, and nothing is written to *out.
 *   [order 6] Whoever looks on may end the search at any time, and gets the best plan so far.
 *   [order 7] order_check names each rule that is broken alone.
 */
#ifndef NEAP_SCHEDULE_H
#define NEAP_SCHEDULE_H

#include "neap/base.h"

/* A lot of corals that are fed one like the other; a pass may take some of them, never a part of one. */
struct order_lot {
    double each_s; /* hands-on seconds, refills with it; >= 0 */
    long count;    /* > 0 */
};

struct order_tank {
    const char *name;  /* as errors call it; NULL: its number. Borrowed */
    double position_m; /* along the benches; finite */
    int broadcast_min; /* hands-on; 0: nothing broadcast, then no lag window */
    int fish_min;      /* hands-on, directly before the flow goes off; 0: none */
    int feed_s;        /* hands-on seconds of target feed with refills; 0: no target feed, then the flow stays on */
    int settle_s;      /* of feed_s, what every further pass takes again: to settle, to look, to fill the syringe */
    const struct order_lot *lots; /* borrowed; what feed_s without settle_s is made of, in the order of feeding */
    size_t n_lots;                /* 0: nothing is known of that, and passes may be cut anywhere */
    int off_wanted_min;           /* how long the flow should stay off in all; 0: no wish. Cut to off_limit_min */
    int rest_min;                 /* least time with flow off after the last coral of a pass */
    int off_limit_min;            /* hard: from the start of turning off to the end of turning on */
    bool quarantine; /* served after all others; a tank sharing its pump is then served as quarantine too */
    int pump;        /* tanks with equal pump >= 0 stop together; -1: its own pump */
    int pot;         /* which slurry; any number >= 0 */
    int share;      /* 1 to n_shares: its broadcast goes into water shared with the others of this number; 0: its own */
    int fixed_rank; /* first visits never start before those of a lower rank; -1: free */
};

/*
 * Water that several tanks share: what is broadcast to one is broadcast to all, in one step at one place. Tanks with
 * one share number that are fed in the same stop get one broadcast, whose end starts the lag window of each of them;
 * those of other stops get the same one where it suits their windows, too. It is as long as the longest broadcast_min
 * among all tanks of the number, whichever of them it is for. A tank of a share without target feed has no broadcast of
 * its own where it can go in with another (docs/order.md).
 */
struct order_share {
    double position_m; /* where it is given; finite */
};

/* Walks to the first tank before being ready, with the first pot needed, which is mixed at ready_min. */
struct order_feeder {
    int ready_min; /* not before this minute */
};

/*
 * Whoever looks on while the exact search goes on: asked often, with the minutes that the best round so far takes.
 * false ends the search, and the best plan so far is taken.
 */
struct order_watch {
    bool (*go_on)(void *context, int round_min);
    void *context;
};

struct order_problem {
    const struct order_tank *tanks; /* borrowed */
    size_t n_tanks;
    const struct order_feeder *feeders; /* borrowed */
    size_t n_feeders;
    const struct order_share *shares; /* borrowed; share number n is shares[n - 1] */
    size_t n_shares;
    int lag_min, lag_max;     /* end of broadcast to first coral; 0 <= lag_min <= lag_max */
    double walk_m_per_min;    /* > 0 */
    double walk_free_m;       /* so much of each way is a step to the next tank, inside the steps' rounding */
    int switch_min;           /* hands-on, to turn a pump off or on; may be 0 */
    int tool_change_min;      /* hands-on, before a feeder's first quarantine tank */
    int pot_change_min;       /* hands-on, to take another or a fresh pot */
    int slurry_age_limit_min; /* from mixing to the last coral fed from it; 0: no limit */
    int flow_on_gap_min;      /* least time with flow on between two passes */
    long search_steps;        /* effort of the beams and of the polish; 0: only the first construction */
    long exact_work;          /* effort of the exact search, all its questions together (docs/order.md); 0: none */
    const struct order_watch *watch; /* borrowed; NULL: nobody looks on */
};

enum { ORDER_MINUTES_MAX = 10000, ORDER_TANKS_MAX = 20000, ORDER_FEEDERS_MAX = 20 };

/*
 * Fills in every setting (not the tanks and feeders; no shares): lag 15 to 20 min, 60 m/min with 15 m free, switch 0
 * min (part of the visit's rounding), tool change 3 min, pot change 2 min, no slurry limit, 10 min flow on between
 * passes. Common practice, no source; the facility's own settings replace them.
 */
void order_defaults(struct order_problem *p);

enum order_action {
    ORDER_BROADCAST,
    ORDER_TOOLS, /* change to the quarantine tools */
    ORDER_POT,   /* take another or a fresh pot */
    ORDER_FISH,
    ORDER_FLOW_OFF, /* of the tank's pump: one step for all tanks on it, at the lowest tank index on the pump */
    ORDER_FEED,
    ORDER_REST,   /* no hands: feeder is -1 */
    ORDER_FLOW_ON /* as flow off */
};

/*
 * A shared broadcast is a step for each tank that it is for, all with the same feeder and minutes: one piece of work.
 */
struct order_step {
    size_t tank;
    enum order_action action;
    int feeder;
    int start_min, end_min;
    int pass;   /* 1 for a pump's first stop in this plan, 2, …; 0 for a broadcast */
    int feed_s; /* of a feed: seconds of target feed given in this pass; otherwise 0 */
    long fed;   /* of a feed in passes of a tank with lots: corals fed in this pass; 0: cut by seconds alone */
};

struct order_plan {
    struct order_step *steps; /* by start, then end, feeder, the feeder's own order */
    size_t n_steps;
    size_t n_tanks;
    int start_min;  /* when the first feeder is ready */
    int finish_min; /* end of the last step; start_min where there is nothing to do */
    double walked_m;
    int waited_min;      /* by feeders, between their first and last step */
    int lower_bound_min; /* no plan can finish before this minute */
    bool proven;         /* finish_min is the earliest possible */
};

/*
 * The plan with the least finish, then least walking, then least waiting that the search finds. Same problem: same
 * plan, byte for byte.
 *
 *   *out    untouched on failure; caller frees with order_plan_free
 * Errors:   ERR_INPUT naming the tank or setting that cannot be served, and what is expected. ERR_MEMORY.
 */
bool order_make(const struct order_problem *p, struct order_plan *out, struct err *e);
void order_plan_free(struct order_plan *plan);

/* Minutes to walk between two positions: (distance − walk_free_m) / walk_m_per_min, rounded up, never below 0. */
int order_walk_min(const struct order_problem *p, double from_m, double to_m);

/* ---- rules as numbers: the same for a round that is ordered and for a begun one whose clock is set anew ---------- */

struct order_span {
    int from_min, by_min; /* both included */
};

/* When the first corals may be fed, after a broadcast. */
struct order_span order_first_coral(const struct order_problem *p, int broadcast_end_min);

/* A flow that is off, on one clock: since the start of turning it off; fed: end of the last corals. */
struct order_off {
    int since_min, fed_min;
    int rest_min, wanted_min, limit_min; /* as in order_tank */
};
struct order_span order_flow_on(const struct order_problem *p,
                                const struct order_off *off); /* start of turning it on */

/* What decides which of two pieces of work goes first, whoever does them. */
struct order_class {
    bool quarantine; /* of the tank's pump */
    int rank; /* of a pump's first visit, as in order_tank, the lowest of its tanks; -1: free, or no first visit */
};
bool order_ends_before(struct order_class a,
                       struct order_class b); /* b never starts before a ends: quarantine is last */
bool order_starts_before(struct order_class a, struct order_class b); /* b never starts before a does: ranks rise */

int order_off_again_min(const struct order_problem *p,
                        int on_end_min); /* the earliest, after a flow on that ended then */
int order_set_up_min(const struct order_problem *p, bool tools, bool pot); /* hands-on, to change them */

enum order_rule {
    ORDER_KEPT,
    ORDER_RULE_STEP,  /* a step that is not of this problem, runs backwards, or is before its feeder is ready */
    ORDER_RULE_HANDS, /* a feeder does one thing at a time, and walks between */
    ORDER_RULE_WORK,  /* each tank gets all its steps once, at their full length */
    ORDER_RULE_CHAIN, /* broadcast, fish, flow off, corals, rest, flow on, in this order; a visit has no break */
    ORDER_RULE_LAG,   /* the first coral within the lag window */
    ORDER_RULE_REST,  /* flow on not before the rest is over, nor before the wanted flow-off time */
    ORDER_RULE_OFF_LIMIT,
    ORDER_RULE_ON_GAP,     /* flow on long enough between passes */
    ORDER_RULE_FLOW,       /* broadcast and lag with the flow on, corals with the flow off */
    ORDER_RULE_QUARANTINE, /* last, with a change of tools, no going back */
    ORDER_RULE_POT,        /* fed from the right pot, not too old */
    ORDER_RULE_RANK,
    ORDER_RULE_TOTALS /* finish, walking, waiting and bound are what the steps say */
};

/*
 * Proves a plan against every rule, sharing no code with order_make but order_walk_min.
 *
 *   *broken  (may be NULL) ORDER_KEPT, or the first rule broken
 * Errors:    ERR_INPUT, naming rule, tank and minute. ERR_MEMORY (with ORDER_KEPT).
 */
bool order_check(const struct order_problem *p, const struct order_plan *plan, enum order_rule *broken, struct err *e);

#endif
