/*
 * Exact search: is there a plan that finishes by this minute? Asked again and again, from the best plan down; where an
 * answer is not found in time, more effort goes into a proof that nothing finishes a minute earlier, and then into a
 * better bound.
 */
#include "plan/order_clauses.h"

enum {
    EXACT_TASKS = 3 * ORDER_EXACT_TANKS,
    PROOF_PER_STEP = 2,    /* a proof takes so much longer than finding a plan */
    LATE_WORTH_MIN = 60    /* a plan late somewhere gives way to one that isn't but finishes up to so much later */
};

struct exact {
    const struct order_model *m;
    struct order_rules rules;
    struct order_schedule trial, *best;
    int proven_min;        /* nothing finishes earlier */
};

/* Asks for a plan that finishes by then; one that is found is kept where it is better, and a proof that none is. */
static bool ask(struct exact *x, int finish_min, enum hope hope, long n_conflicts, enum answer *answer)
{
    const int limit = n_conflicts < INT_MAX ? (int)n_conflicts : INT_MAX;
    if (!clauses_ask(x->m, &x->rules, finish_min, hope, limit, answer, &x->trial))
        return false;
    if (*answer == ANSWER_PLAN) {
        schedule_measure(x->m, &x->trial);
        if (schedule_better(&x->trial, x->best))
            schedule_copy(x->m, x->best, &x->trial);
    } else if (*answer == ANSWER_NONE && x->proven_min <= finish_min) {
        x->proven_min = finish_min + 1;
    }
    return true;
}

/*
 * From the best plan down: questions far from the bound are easy. The stride doubles with each plan found and halves
 * where none is, until a single minute is too hard.
 */
static bool improve(struct exact *x, long n_conflicts)
{
    int stride = 1, ahead = x->best->finish_min + (x->best->late_min > 0 ? LATE_WORTH_MIN + 1 : 0);
    while (stride > 0 && x->proven_min < ahead) {
        const int finish_min = ahead - stride > x->proven_min ? ahead - stride : x->proven_min;
        enum answer answer;
        if (!ask(x, finish_min, HOPE_PLAN, n_conflicts, &answer))
            return false;
        if (answer == ANSWER_PLAN)
            ahead = x->trial.finish_min;
        stride = answer == ANSWER_PLAN ? 2 * stride : stride / 2;
    }
    return true;
}

/* Nothing a minute earlier than the best? Where that stays open, the bound is raised minute by minute. */
static bool prove(struct exact *x, long n_conflicts)
{
    enum answer answer = ANSWER_PLAN;
    while (answer == ANSWER_PLAN && x->best->late_min == 0 && x->proven_min < x->best->finish_min)
        if (!ask(x, x->best->finish_min - 1, HOPE_PROOF, n_conflicts, &answer))
            return false;
    if (answer == ANSWER_OPEN)
        answer = ANSWER_NONE;
    while (answer == ANSWER_NONE && x->best->late_min == 0 && x->proven_min < x->best->finish_min)
        if (!ask(x, x->proven_min, HOPE_PROOF, n_conflicts / PROOF_PER_STEP, &answer))
            return false;
    return true;
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

bool exact_fits(const struct order_model *m)
{
    return m->p->exact_conflicts > 0 && m->n_tasks <= EXACT_TASKS && clauses_can_say(m);
}

bool exact_search(const struct order_model *m, struct arena *a, struct order_schedule *best, int *bound_min)
{
    struct exact x = { .m = m, .best = best, .proven_min = *bound_min };
    const long n_conflicts = m->p->exact_conflicts;
    if (!order_rules_new(m, a, &x.rules) || !schedule_new(m, a, &x.trial) || !improve(&x, n_conflicts / PROOF_PER_STEP) ||
        !prove(&x, n_conflicts))
        return false;
    if (best->late_min == 0 && !any_meet(m))
        *bound_min = x.proven_min;
    return true;
}
