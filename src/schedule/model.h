/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the parts of order share: a problem turned into tasks for hands, and a schedule of these tasks. Stays inside
 * the schedule floor. A unit is all tanks on one pump; a stop is one time that the pump is off; a visit is one feeder's
 * unbroken work for a stop (fish, flow off, corals) or, at a tank without target feed, its broadcast and fish (where
 * the broadcast is shared, one or the other).
 */
#ifndef NEAP_SCHEDULE_MODEL_H
#define NEAP_SCHEDULE_MODEL_H

#include "neap/schedule.h"

enum task_kind { TASK_BROADCAST, TASK_VISIT, TASK_ON };

struct order_task {
    enum task_kind kind;
    int unit, stop; /* stop -1: the visit of a tank without target feed */
    size_t tank;    /* whose broadcast; of a visit the first tank; of a flow on the tank that names the pump */
    int dur_min;
    int end_from_min, end_by_min; /* of a stop's broadcast: it ends within these, counted from the visit's start */
    double in_m, out_m;
    int inner_walk_min; /* of dur_min, walked between the tanks of a visit */
    double inner_walk_m;
    int pot; /* fed from this pot; -1: no pot in hand */
    bool quarantine;
};

/* One tank's corals in one stop. Offsets count from the visit's start. */
struct order_feed {
    size_t tank;
    int at_min, dur_min, feed_s;
    long fed;       /* corals, where passes are cut between them */
    int wanted_min; /* flow off at least this long in this stop */
    int broadcast;  /* that broadcast's task, which others of the stop may share; -1: none */
    int fish_at_min, fish_min;
};

struct order_stop {
    int visit, on; /* tasks */
    int unit;
    size_t first_feed, n_feeds;
    int first_broadcast, n_broadcasts; /* tasks in a row, in the order of the first feed after each */
    int off_at_min;                    /* flow off starts, from the visit's start */
    int on_after_min;                  /* flow on may start, from the visit's start */
    int on_by_min;                     /* flow on must have ended, from the visit's start */
};

struct order_unit {
    size_t tank; /* lowest index on the pump */
    int rank;
    bool quarantine;
    int off_limit_min;
    int first_stop, n_stops;
    int first_visit,
        n_visits; /* visits of tanks without target feed: tasks in a row. One may be a shared broadcast alone */
};

/* Task next starts no earlier than least_min after the start of task before, and no later than most_min after it. */
struct order_arc {
    int before, next, least_min, most_min; /* most_min INT_MAX: no limit */
};

/* What the rules demand between the starts of two tasks of one pump, whoever does them (rules.h). */
struct order_rules {
    struct order_arc *arcs;
    int n_arcs;
    int *first_of, *arc_of; /* arcs at task i: arc_of[first_of[i]] … arc_of[first_of[i + 1] − 1] */
    int *ranked, n_ranked;  /* first visits with a rank: those of others first, then by rank */
};

struct order_model {
    const struct order_problem *p;
    struct arena arena;
    struct order_rules rules;
    struct order_task *tasks;
    struct order_feed *feeds;
    struct order_stop *stops;
    struct order_unit *units;
    int n_tasks, n_feeds, n_stops, n_units;
    int *broadcast_of; /* per tank: the task that its broadcast is part of; -1: none */
    int start_min;
    bool pots_matter;
};

bool order_model_build(struct order_model *m, const struct order_problem *p,
                       struct err *e); /* caller frees, also on failure */
void order_model_free(struct order_model *m);

/* A task on a feeder's line. Its set-up (tools, then pot) lies directly before start_min. */
struct order_slot {
    int task, start_min, setup_min;
    bool tools, fresh_pot; /* what the set-up is */
    bool early_pot;        /* the pot is changed here although it could still be used */
    int pot, mixed_min;    /* carried after it */
    bool changed;          /* the feeder has the quarantine tools after it */
};

struct order_line {
    struct order_slot *slots;
    int n;
};

struct order_schedule {
    struct order_line *lines; /* one per feeder, each with room for all tasks */
    int *start_min, *feeder;  /* per task; NOT_PLACED and -1 where it has no place yet */
    int finish_min, waited_min;
    double walked_m;
};

bool schedule_new(const struct order_model *m, struct arena *a, struct order_schedule *s);
void schedule_copy(const struct order_model *m, struct order_schedule *to, const struct order_schedule *from);
bool schedule_better(const struct order_schedule *a, const struct order_schedule *b);
void schedule_measure(const struct order_model *m, struct order_schedule *s); /* fills finish, walking, waiting */

/* Which end of its window a task seeks when a unit is put into a schedule. */
enum order_seek { SEEK_EARLY, SEEK_LATE, SEEK_TIGHT };

struct order_priority {
    int unit;
    enum order_seek broadcast; /* what its broadcasts seek */
};

/* The units in an order that schedule_build can take: quarantine last, ranks rising. */
void priorities_settle(const struct order_model *m, struct order_priority *priorities);

/* Builds the whole schedule by inserting the units one after the other, each where it fits earliest. */
void schedule_build(const struct order_model *m, const struct order_priority *priorities, struct order_schedule *s);

/*
 * Broadcasts into one water that can be given in one go, for stops of several pumps, are: of two one is taken off its
 * feeder's line, and its tanks go to the other. Nothing else moves. False: out of memory.
 */
bool broadcasts_merge(struct order_model *m, struct order_schedule *s);
bool broadcasts_meet(const struct order_model *m, int a, int b); /* tasks of one water, that might be given in one go */

/* Fills in what a slot needs before it (tools, pot) and carries after it, given the slot before it (NULL: none). */
void slot_set_up(const struct order_model *m, int feeder, const struct order_slot *before, struct order_slot *slot);

/* When the feeder, coming from the slot before (NULL: from the way to the first), can stand at the task. */
int slot_stand_min(const struct order_model *m, int feeder, const struct order_slot *before, int task);

/*
 * Starts the slot no earlier than now, nor than the feeder, who stands there at that minute, is through with its
 * set-up.
 */
void slot_begin(const struct order_model *m, int feeder, const struct order_slot *before, int stand_min,
                struct order_slot *slot);

int line_find(const struct order_line *line, int minute); /* the first slot that starts at or after minute */

/*
 * The earliest start in [from, by] at which the task fits into the feeder's line; INT_MAX: none. *at: before which
 * slot.
 */
int line_earliest(const struct order_model *m, const struct order_schedule *s, int feeder, int task, int from, int by,
                  int *at);

/*
 * The task onto the feeder's line before slot at, or off whatever line it is on; set-ups behind it are brought up to
 * date.
 */
void task_place(const struct order_model *m, struct order_schedule *s, int feeder, int at, int task, int start_min);
void task_take_back(const struct order_model *m, struct order_schedule *s, int task);

/* The line has room; set-ups of the slots behind are not brought up to date. */
void line_insert(struct order_line *line, int at, struct order_slot slot);
void line_remove(struct order_line *line, int at);

/* No schedule of m can finish before *bound_min. False: out of memory. */
bool model_bound(const struct order_model *m, struct arena *a, int *bound_min);

/* Beam search along the clock (beam.c), taking up units in about this order; false: it came to no end. */
struct beam;
bool beam_begin(const struct order_model *m, struct arena *a, int width, const int *order, struct beam **out);
bool beam_search(struct beam *b, int n_candidates, int fill_percent, struct order_schedule *s);

/* Is m small enough for the exact search (exact.c)? */
bool exact_fits(const struct order_model *m);

/*
 * Exact search from the best schedule known. *bound_min rises to what was proven: where it meets best->finish_min, none
 * finishes earlier. False: out of memory.
 */
bool exact_search(const struct order_model *m, struct arena *a, struct order_schedule *best, int *bound_min);

/*
 * Makes walking, then waiting, less by moving single tasks to other places or feeders, as long as the finish gets no
 * later (polish.c). False: out of memory.
 */
bool schedule_polish(const struct order_model *m, struct arena *a, struct order_schedule *best);

/*
 * The best schedule found within p->search_steps and p->exact_work into *best. *bound_min rises where it is proven
 * that nothing finishes before a later minute.
 */
bool search_best(const struct order_model *m, struct arena *a, int *bound_min, struct order_schedule *best,
                 struct err *e);

#endif
