/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Exact search: is there a plan that finishes by this minute? Asked again and again, from the best plan down, first
 * only of plans near the best one, which is quick even for large rounds; then, of small ones, with more effort for a
 * proof that nothing finishes a minute earlier, and for a better bound.
 */
#include "schedule/clauses.h"

enum {
    NEAR_TASKS = 120, /* questions of more take too long, even of plans near; three tasks or so for a tank */
    EXACT_TASKS = 72,
    FIRST_CONFLICTS = 4000, /* for each question of a large round at first; doubled each time all have been asked */
    SMALL_TIMES = 3,        /* small rounds get up to the square of this in conflicts */
    NEAR_MIN = 5, /* plans are near where no task starts more than this earlier or later; doubled where none is found */
    NEAR_WIDTHS = 4,
    PROOF_PER_STEP = 4 /* a proof takes so much longer than finding a plan */
};

struct exact {
    const struct order_model *m;
    struct subject about;
    struct order_schedule trial, *best;
    int proven_min; /* nothing finishes earlier */
    long work_left;
    bool left_open;               /* some question since this was last set to false */
    int refused_min[NEAR_WIDTHS]; /* of plans so near the best, by width: none finishes by then */
};

static bool is_done(const struct exact *x)
{
    return x->work_left <= 0 || x->best->finish_min <= x->proven_min;
}

static int near_min(int width)
{
    return NEAR_MIN << width;
}

static void take_answer(struct exact *x, const struct question *q, enum answer answer)
{
    x->left_open |= answer == ANSWER_OPEN;
    if (answer == ANSWER_PLAN) {
        schedule_measure(x->m, &x->trial);
        if (schedule_better(&x->trial, x->best)) {
            schedule_copy(x->m, x->best, &x->trial);
            memset(x->refused_min, 0, sizeof x->refused_min);
        }
    } else if (answer == ANSWER_NONE && q->near) {
        for (int width = 0; width < NEAR_WIDTHS && near_min(width) <= q->within_min; width++)
            x->refused_min[width] = greater(x->refused_min[width], q->finish_min);
    } else if (answer == ANSWER_NONE && x->proven_min <= q->finish_min) {
        x->proven_min = q->finish_min + 1;
    }
}

/* The same was asked of the same plan, or of more of its neighbours: the stride comes back to what it passed. */
static bool refused_before(const struct exact *x, const struct question *q)
{
    int width = 0;
    while (q->near && near_min(width) < q->within_min)
        width++;
    return q->near && q->finish_min <= x->refused_min[width];
}

/* A plan that is found is kept where it is better, and so is a proof that none is anywhere, or near the best. */
static bool ask(struct exact *x, struct question *q, enum answer *answer)
{
    const struct order_watch *watch = x->m->p->watch;
    long work;
    *answer = ANSWER_NONE;
    if (refused_before(x, q))
        return true;
    q->work = x->work_left;
    q->round_min = x->best->finish_min - x->m->start_min;
    if (!clauses_ask(&x->about, q, answer, &x->trial, &work))
        return false;
    x->work_left -= work;
    if (watch && !watch->go_on(watch->context, q->round_min))
        x->work_left = 0;
    take_answer(x, q, *answer);
    return true;
}

/*
 * From the best plan down: questions far from the bound are easy. The stride doubles with each plan found and halves
 * where none is, until a single minute is too much.
 */
static bool improve(struct exact *x, struct question q)
{
    int stride = 1, ahead = x->best->finish_min;
    while (stride > 0 && x->proven_min < ahead && x->work_left > 0) {
        enum answer answer;
        q.finish_min = ahead - stride > x->proven_min ? ahead - stride : x->proven_min;
        if (!ask(x, &q, &answer))
            return false;
        if (answer == ANSWER_PLAN)
            ahead = x->trial.finish_min;
        stride = answer == ANSWER_PLAN ? 2 * stride : stride / 2;
    }
    return true;
}

/* Nothing a minute earlier than the best? Where that stays open, the bound is raised minute by minute. */
static bool prove(struct exact *x, int n_conflicts)
{
    struct question q = {.hope = HOPE_PROOF, .n_conflicts = n_conflicts};
    enum answer answer = ANSWER_PLAN;
    bool ok = true;
    while (ok && answer == ANSWER_PLAN && !is_done(x)) {
        q.finish_min = x->best->finish_min - 1;
        ok = ask(x, &q, &answer);
    }
    if (answer == ANSWER_OPEN)
        answer = ANSWER_NONE;
    q.n_conflicts /= PROOF_PER_STEP;
    while (ok && answer == ANSWER_NONE && !is_done(x)) {
        q.finish_min = x->proven_min;
        ok = ask(x, &q, &answer);
    }
    return ok;
}

/* Stops that share a broadcast are not in the question, so that a plan which makes use of that may finish earlier. */
static bool any_meet(const struct order_model *m)
{
    for (int a = 0; a < m->n_tasks; a++)
        for (int b = 0; b < a; b++)
            if (broadcasts_meet(m, a, b))
                return true;
    return false;
}

/*
 * The solver's conflicts for a question: the less a question has to say, the sooner each is met, and the more of them
 * are worth while.
 */
static int conflicts_for(const struct order_model *m, double more)
{
    const double times =
        m->n_tasks < EXACT_TASKS ? (double)EXACT_TASKS / greater(m->n_tasks, EXACT_TASKS / SMALL_TIMES) : 1;
    const double n = more * FIRST_CONFLICTS * times * times;
    return n < INT_MAX ? (int)n : INT_MAX;
}

bool exact_fits(const struct order_model *m)
{
    return m->p->exact_work > 0 && m->n_tasks <= NEAR_TASKS;
}

/* All questions once, each with so many times the first conflicts. */
static bool ask_all(struct exact *x, double times)
{
    struct question q = {.near = x->best, .n_conflicts = conflicts_for(x->m, times / PROOF_PER_STEP)};
    for (int width = 0; width < NEAR_WIDTHS && !is_done(x);) {
        const int finish_min = x->best->finish_min;
        q.within_min = near_min(width);
        if (!improve(x, q))
            return false;
        width = x->best->finish_min < finish_min ? 0 : width + 1;
    }
    if (x->m->n_tasks > EXACT_TASKS)
        return true;
    q.near = NULL;
    return improve(x, q) && prove(x, conflicts_for(x->m, times));
}

bool exact_search(const struct order_model *m, struct arena *a, struct order_schedule *best, int *bound_min)
{
    struct exact x = {.m = m, .best = best, .proven_min = *bound_min, .work_left = m->p->exact_work};
    if (!subject_new(m, a, &x.about) || !schedule_new(m, a, &x.trial))
        return false;
    x.left_open = true;
    for (double times = 1; x.left_open && !is_done(&x); times *= 2) {
        x.left_open = false;
        if (!ask_all(&x, times))
            return false;
    }
    if (m->n_tasks <= EXACT_TASKS && !any_meet(m))
        *bound_min = x.proven_min;
    return true;
}
