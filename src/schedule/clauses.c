/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The encoding. A start is a row of literals "not after minute t" (order encoding: Tamura, Taga, Kitagawa and Banbara
 * 2009, Constraints 14:254-272), who does a task one literal per feeder, and of two tasks of one feeder a literal says
 * which comes first.
 */
#include "schedule/clauses.h"
#include "schedule/rules.h"
#include "schedule/solver.h"

enum { YES = 1, NO = -YES }; /* the first variable, which holds */

/*
 * A task's domain: its earliest and latest start, and the variable of "not after earliest"; the next ones are of the
 * next minutes.
 */
struct domain {
    int low, high, first;
};

struct clauses {
    const struct order_model *m;
    const struct order_arc *arcs; /* the subject's, as apart_min … */
    int n_arcs;
    const struct question *q;
    struct solver *solver;
    int n, k, n_variables;
    long n_literals, n_conflicts;
    struct domain *domains;
    const int *apart_min, *way_min, *detour_min; /* the subject's */
    int *first;        /* [n][n] literal: this one before that one, where one feeder does both */
    int *same;         /* [n][n] literal: one feeder does both */
    int *who;          /* [n][k] literal */
    int *fresh;        /* per task: takes another or a fresh pot before; NO where it never does */
    int *room, n_room; /* literals of a clause being put together */
};

/* ---- literals and clauses ---------------------------------------------------------------------------------- */

static int variable(struct clauses *c)
{
    return ++c->n_variables;
}

static void clause_add(struct clauses *c, int literal)
{
    c->room[c->n_room++] = literal;
}

/* Hands the literals said since the last one to the solver as a clause. */
static void clause_end(struct clauses *c)
{
    bool holds = false;
    for (int i = 0; i < c->n_room; i++)
        holds |= c->room[i] == YES;
    for (int i = 0; i < c->n_room && !holds; i++)
        if (c->room[i] != NO)
            solver_add(c->solver, c->room[i]);
    if (!holds)
        solver_add(c->solver, 0);
    c->n_literals += holds ? 0 : c->n_room;
    c->n_room = 0;
}

static void clause_or(struct clauses *c, int x, int y)
{
    clause_add(c, x);
    clause_add(c, y);
    clause_end(c);
}

static void if_then(struct clauses *c, int x, int y)
{
    clause_or(c, -x, y);
}

static void if_both_then(struct clauses *c, int x, int y, int z)
{
    clause_add(c, -x);
    clause_add(c, -y);
    clause_add(c, z);
    clause_end(c);
}

static int starts_by(const struct clauses *c, int task, int minute)
{
    const struct domain *s = &c->domains[task];
    return minute < s->low ? NO : minute >= s->high ? YES : s->first + minute - s->low;
}

static int starts_from(const struct clauses *c, int task, int minute)
{
    return -starts_by(c, task, minute - 1);
}

/*
 * Unless one of the literals holds, task next starts no earlier than so many minutes after task before. The literals
 * are those said since the last clause.
 */
static void unless_apart(struct clauses *c, int before, int next, int minutes)
{
    const int n_literals = c->n_room;
    for (int t = c->domains[before].low; t <= c->domains[before].high; t++) {
        const int later = starts_from(c, next, t + minutes);
        c->n_room = n_literals;
        clause_add(c, -starts_from(c, before, t));
        clause_add(c, later);
        clause_end(c);
        if (later == NO)
            break;
    }
    c->n_room = 0;
}

/* ---- what is known before the question is put -------------------------------------------------------------- */

/* Earliest and latest starts by the rules and the question alone; false: some task has none. */
static bool domains_fill(struct clauses *c)
{
    for (int i = 0; i < c->n; i++)
        c->domains[i] = (struct domain){.low = c->m->start_min, .high = c->q->finish_min - c->m->tasks[i].dur_min};
    for (int i = 0; i < c->n && c->q->near; i++) {
        c->domains[i].low = greater(c->domains[i].low, c->q->near->start_min[i] - c->q->within_min);
        c->domains[i].high = lesser(c->domains[i].high, c->q->near->start_min[i] + c->q->within_min);
    }
    for (bool changed = true; changed;) {
        changed = false;
        for (int i = 0; i < c->n_arcs; i++) {
            const struct order_arc *arc = &c->arcs[i];
            struct domain *before = &c->domains[arc->before], *next = &c->domains[arc->next], b = *before, d = *next;
            next->low = greater(next->low, before->low + arc->least_min);
            before->high = lesser(before->high, next->high - arc->least_min);
            if (arc->most_min < INT_MAX) {
                before->low = greater(before->low, next->low - arc->most_min);
                next->high = lesser(next->high, before->high + arc->most_min);
            }
            if (before->low > before->high || next->low > next->high)
                return false;
            changed |= before->low != b.low || before->high != b.high || next->low != d.low || next->high != d.high;
        }
    }
    for (int i = 0; i < c->n; i++)
        if (c->domains[i].low > c->domains[i].high)
            return false;
    return true;
}

static bool pots_can_change(const struct clauses *c)
{
    const struct order_model *m = c->m;
    int pot = -1, mixed = INT_MAX;
    for (size_t j = 0; j < m->p->n_feeders; j++)
        mixed = lesser(mixed, rules_first_mixed_min(&m->p->feeders[j]));
    for (int i = 0; i < m->n_tasks; i++) {
        if (m->tasks[i].pot >= 0 && pot >= 0 && m->tasks[i].pot != pot)
            return true;
        pot = m->tasks[i].pot >= 0 ? m->tasks[i].pot : pot;
    }
    return c->q->finish_min > rules_pot_until_min(m->p, mixed);
}

/* ---- the rules between starts ------------------------------------------------------------------------------ */

static void starts_add(struct clauses *c)
{
    const bool pots_change = pots_can_change(c);
    for (int i = 0; i < c->n; i++) {
        struct domain *s = &c->domains[i];
        s->first = c->n_variables + 1;
        c->n_variables += s->high - s->low;
        for (int t = s->low; t + 1 < s->high; t++)
            if_then(c, starts_by(c, i, t), starts_by(c, i, t + 1));
        c->fresh[i] = pots_change && c->m->tasks[i].pot >= 0 ? variable(c) : NO;
    }
}

static void rules_add(struct clauses *c)
{
    for (int i = 0; i < c->n_arcs; i++) {
        const struct order_arc *arc = &c->arcs[i];
        unless_apart(c, arc->before, arc->next, arc->least_min);
        if (arc->most_min < INT_MAX)
            unless_apart(c, arc->next, arc->before, -arc->most_min);
    }
}

/* ---- hands ------------------------------------------------------------------------------------------------- */

/* A literal that can hold only where one feeder does all three, in this order. */
static int between(struct clauses *c, int before, int mid, int next)
{
    const int n = c->n, literal = variable(c);
    if_then(c, literal, c->same[before * n + mid]);
    if_then(c, literal, c->first[before * n + mid]);
    if_then(c, literal, c->same[mid * n + next]);
    if_then(c, literal, c->first[mid * n + next]);
    return literal;
}

/* Feeders who are no different are numbered in the order of the first tasks they do. */
static void feeders_add(struct clauses *c)
{
    const struct order_problem *p = c->m->p;
    const int n = c->n, k = c->k;
    for (int i = 0; i < n * k; i++)
        c->who[i] = k == 1 ? YES : variable(c);
    for (int i = 0; i < n; i++) {
        const int *who = &c->who[i * k];
        for (int j = 0; j < k; j++)
            clause_add(c, who[j]);
        clause_end(c);
        for (int j = 0; j < k; j++)
            for (int g = 0; g < j; g++)
                clause_or(c, -who[j], -who[g]);
    }
    for (int j = 1; j < k; j++) {
        if (p->feeders[j].ready_min != p->feeders[j - 1].ready_min)
            continue;
        for (int i = 0; i < n; i++) {
            clause_add(c, -c->who[i * k + j]);
            for (int l = 0; l < i; l++)
                clause_add(c, c->who[l * k + j - 1]);
            clause_end(c);
        }
    }
}

static void same_add(struct clauses *c, int i, int l)
{
    const int k = c->k, same = k == 1 ? YES : variable(c);
    c->same[i * c->n + l] = c->same[l * c->n + i] = same;
    for (int j = 0; j < k; j++) {
        const int a = c->who[i * k + j], b = c->who[l * k + j];
        if_both_then(c, a, b, same);
        if_both_then(c, same, a, b);
        if_both_then(c, same, b, a);
    }
}

/* Which of two may come first by the rules and windows: YES, NO, or a literal of its own. */
static int first_of(struct clauses *c, int i, int l)
{
    const int n = c->n, il = c->m->tasks[i].dur_min + c->detour_min[i * n + l],
              li = c->m->tasks[l].dur_min + c->detour_min[l * n + i];
    const bool can_il = c->domains[i].low + il <= c->domains[l].high && c->apart_min[l * n + i] + il <= 0,
               can_li = c->domains[l].low + li <= c->domains[i].high && c->apart_min[i * n + l] + li <= 0;
    if (can_il && can_li)
        return variable(c);
    if (!can_il && !can_li)
        clause_or(c, -c->same[i * n + l], NO);
    return can_il ? YES : NO;
}

/*
 * One feeder does both, before first: the way lies between them. A task done on the way may shorten it, since a short
 * walk is inside the steps' rounding; then the full way counts unless such a task is between them. All of it once for
 * the visit as it is, and once with the change of pot that it may take.
 */
static void way_add(struct clauses *c, int before, int next)
{
    const int n = c->n, dur = c->m->tasks[before].dur_min, same = c->same[before * n + next],
              first = c->first[before * n + next];
    const int way = c->way_min[before * n + next], detour = c->detour_min[before * n + next];
    int *mids = c->room + 2 * n, n_mids = 0;
    if (first == NO)
        return;
    for (int mid = 0; mid < n; mid++)
        if (mid != before && mid != next &&
            c->detour_min[before * n + mid] + c->m->tasks[mid].dur_min + c->detour_min[mid * n + next] < way)
            mids[n_mids++] = between(c, before, mid, next);
    for (int changes = 0; changes <= (c->fresh[next] != NO); changes++) {
        const int change_min = order_set_up_min(c->m->p, false, changes > 0);
        for (int full = 0; full <= (detour < way); full++) {
            clause_add(c, -same);
            clause_add(c, -first);
            clause_add(c, changes ? -c->fresh[next] : NO);
            for (int i = 0; i < n_mids && full; i++)
                clause_add(c, mids[i]);
            if (c->apart_min[before * n + next] < dur + change_min + (full ? way : detour))
                unless_apart(c, before, next, dur + change_min + (full ? way : detour));
            c->n_room = 0;
        }
    }
}

static bool is_momentary_at(const struct clauses *c, int task, int *low, int *high)
{
    *low = greater(*low, c->domains[task].low);
    *high = lesser(*high, c->domains[task].high);
    return c->m->tasks[task].dur_min == 0 && *low <= *high;
}

/*
 * What takes no time may all be in one minute, and then only the literals of first say in which order: it must be one.
 */
static void momentary_add(struct clauses *c)
{
    const int n = c->n;
    for (int i = 0; i < n; i++)
        for (int l = 0; l < n && c->m->tasks[i].dur_min == 0; l++)
            for (int m = 0; m < n; m++) {
                int low = INT_MIN, high = INT_MAX;
                if (i == l || l == m || m == i || !is_momentary_at(c, i, &low, &high) ||
                    !is_momentary_at(c, l, &low, &high) || !is_momentary_at(c, m, &low, &high))
                    continue;
                clause_add(c, -c->same[i * n + l]);
                clause_add(c, -c->same[l * n + m]);
                clause_add(c, -c->first[i * n + l]);
                clause_add(c, -c->first[l * n + m]);
                clause_add(c, c->first[i * n + m]);
                clause_end(c);
            }
}

static void pairs_add(struct clauses *c)
{
    const int n = c->n;
    for (int i = 0; i < n; i++)
        for (int l = i + 1; l < n; l++) {
            same_add(c, i, l);
            c->first[i * n + l] = first_of(c, i, l);
            c->first[l * n + i] = -c->first[i * n + l];
        }
    for (int i = 0; i < n; i++)
        for (int l = 0; l < n; l++)
            if (i != l)
                way_add(c, i, l);
    momentary_add(c);
}

/* Nothing before its feeder is ready, and through with what it takes to set up. */
static void arrival_add(struct clauses *c, int feeder, int task)
{
    const struct order_problem *p = c->m->p;
    const struct order_task *t = &c->m->tasks[task];
    const int who = c->who[task * c->k + feeder];
    for (int changes = 0; changes <= (c->fresh[task] != NO); changes++) {
        const int from = p->feeders[feeder].ready_min + order_set_up_min(p, rules_tools(t, false), changes > 0),
                  fresh = changes ? c->fresh[task] : YES;
        if_both_then(c, who, fresh, starts_from(c, task, from));
    }
}

static void arrivals_add(struct clauses *c)
{
    for (int j = 0; j < c->k; j++)
        for (int i = 0; i < c->n; i++)
            arrival_add(c, j, i);
}

/* ---- pots -------------------------------------------------------------------------------------------------- */

/* After another pot there must be a change, or a visit with the right pot in between. */
static void pot_add(struct clauses *c, int visit)
{
    const struct order_task *tasks = c->m->tasks;
    const int n = c->n, pot = tasks[visit].pot;
    int *mids = c->room + 2 * n;
    for (int i = 0; i < n; i++) {
        if (tasks[i].pot < 0 || tasks[i].pot == pot || c->first[i * n + visit] == NO)
            continue;
        int n_mids = 0;
        for (int mid = 0; mid < n; mid++)
            if (mid != visit && tasks[mid].pot == pot)
                mids[n_mids++] = between(c, i, mid, visit);
        clause_add(c, -c->same[i * n + visit]);
        clause_add(c, -c->first[i * n + visit]);
        clause_add(c, c->fresh[visit]);
        for (int q = 0; q < n_mids; q++)
            clause_add(c, mids[q]);
        clause_end(c);
    }
}

/* Without a change of its own a visit must end before the slurry is too old, whoever of the ones before mixed it. */
static void age_add(struct clauses *c, int visit)
{
    const struct order_problem *p = c->m->p;
    const struct order_task *tasks = c->m->tasks;
    const int n = c->n, k = c->k, dur = tasks[visit].dur_min;
    const int young = variable(c);
    for (int j = 0; j < k; j++) {
        const int until = rules_pot_until_min(p, rules_first_mixed_min(&p->feeders[j]));
        if_both_then(c, c->who[visit * k + j], young, starts_by(c, visit, until - dur));
    }
    int *mids = c->room + 2 * n, n_mids = 0;
    for (int i = 0; i < n; i++) {
        if (i == visit || tasks[i].pot < 0 || c->first[i * n + visit] == NO)
            continue;
        const int from = mids[n_mids++] = variable(c);
        if_then(c, from, c->same[i * n + visit]);
        if_then(c, from, c->first[i * n + visit]);
        if_then(c, from, c->fresh[i]);
        clause_add(c, -from);
        unless_apart(c, visit, i, dur - rules_pot_until_min(p, rules_mixed_min(p, 0)));
    }
    clause_add(c, c->fresh[visit]);
    clause_add(c, young);
    for (int q = 0; q < n_mids; q++)
        clause_add(c, mids[q]);
    clause_end(c);
}

static void pots_add(struct clauses *c)
{
    for (int i = 0; i < c->n; i++) {
        if (c->fresh[i] == NO)
            continue;
        pot_add(c, i);
        if (c->m->p->slurry_age_limit_min > 0)
            age_add(c, i);
    }
}

/* ---- what all questions share ------------------------------------------------------------------------------- */

static void apart_fill(struct subject *s)
{
    const int n = s->m->n_tasks;
    for (int i = 0; i < n * n; i++)
        s->apart_min[i] = NOT_APART;
    for (int i = 0; i < s->n_arcs; i++) {
        const struct order_arc *arc = &s->arcs[i];
        int *apart = &s->apart_min[arc->before * n + arc->next];
        *apart = greater(*apart, arc->least_min);
    }
    for (int via = 0; via < n; via++)
        for (int i = 0; i < n; i++)
            for (int l = 0; l < n; l++)
                if (s->apart_min[i * n + via] > NOT_APART && s->apart_min[via * n + l] > NOT_APART)
                    s->apart_min[i * n + l] =
                        greater(s->apart_min[i * n + l], s->apart_min[i * n + via] + s->apart_min[via * n + l]);
}

static void ways_fill(struct subject *s)
{
    const struct order_task *tasks = s->m->tasks;
    const int n = s->m->n_tasks;
    for (int i = 0; i < n; i++)
        for (int l = 0; l < n; l++)
            s->way_min[i * n + l] = order_walk_min(s->m->p, tasks[i].out_m, tasks[l].in_m) +
                                    order_set_up_min(s->m->p, rules_tools(&tasks[l], tasks[i].quarantine), false);
    memcpy(s->detour_min, s->way_min, (size_t)(n * n) * sizeof *s->detour_min);
    for (int via = 0; via < n; via++)
        for (int i = 0; i < n; i++)
            for (int l = 0; l < n; l++) {
                int *detour = &s->detour_min[i * n + l];
                *detour = lesser(*detour, s->detour_min[i * n + via] + tasks[via].dur_min + s->detour_min[via * n + l]);
            }
}

bool subject_new(const struct order_model *m, struct arena *a, struct subject *out)
{
    const size_t n = (size_t)m->n_tasks;
    *out = (struct subject){.m = m,
                            .apart_min = arena_alloc(a, n * n, sizeof(int)),
                            .way_min = arena_alloc(a, n * n, sizeof(int)),
                            .detour_min = arena_alloc(a, n * n, sizeof(int))};
    if (!out->apart_min || !out->way_min || !out->detour_min || !rules_arcs(m, a, &out->arcs, &out->n_arcs))
        return false;
    apart_fill(out);
    ways_fill(out);
    return true;
}

/* ---- from outside ------------------------------------------------------------------------------------------ */

static bool clauses_new(const struct subject *about, const struct question *q, struct arena *a, struct clauses *c)
{
    const struct order_model *m = about->m;
    const size_t n = (size_t)m->n_tasks, k = m->p->n_feeders;
    *c = (struct clauses){.m = m,
                          .arcs = about->arcs,
                          .n_arcs = about->n_arcs,
                          .n = m->n_tasks,
                          .k = (int)k,
                          .q = q,
                          .n_variables = YES,
                          .domains = arena_alloc(a, n, sizeof *c->domains),
                          .apart_min = about->apart_min,
                          .way_min = about->way_min,
                          .detour_min = about->detour_min,
                          .first = arena_alloc(a, n * n, sizeof(int)),
                          .same = arena_alloc(a, n * n, sizeof(int)),
                          .who = arena_alloc(a, n * k, sizeof(int)),
                          .fresh = arena_alloc(a, n, sizeof(int)),
                          .room = arena_alloc(a, 4 * n + 8 + k, sizeof(int))};
    return c->domains && c->first && c->same && c->who && c->fresh && c->room;
}

static bool holds(const struct clauses *c, int literal)
{
    if (literal == YES || literal == NO)
        return literal == YES;
    return solver_holds(c->solver, abs(literal)) == (literal > 0);
}

static int start_found(const struct clauses *c, int task)
{
    int t = c->domains[task].low;
    while (t < c->domains[task].high && !holds(c, starts_by(c, task, t)))
        t++;
    return t;
}

static void plan_read(const struct clauses *c, struct order_schedule *plan)
{
    const int n = c->n;
    for (int j = 0; j < c->k; j++)
        plan->lines[j].n = 0;
    for (int i = 0; i < n; i++) {
        int feeder = 0;
        while (feeder + 1 < c->k && !holds(c, c->who[i * c->k + feeder]))
            feeder++;
        plan->start_min[i] = start_found(c, i);
        plan->feeder[i] = feeder;
        struct order_line *line = &plan->lines[feeder];
        int at = line->n++;
        for (; at > 0; at--) {
            const int other = line->slots[at - 1].task;
            if (plan->start_min[other] < plan->start_min[i] ||
                (plan->start_min[other] == plan->start_min[i] && !holds(c, c->first[i * n + other])))
                break;
            line->slots[at] = line->slots[at - 1];
        }
        line->slots[at] =
            (struct order_slot){.task = i, .start_min = plan->start_min[i], .early_pot = holds(c, c->fresh[i])};
    }
    for (int j = 0; j < c->k; j++)
        for (int i = 0; i < plan->lines[j].n; i++)
            slot_set_up(c->m, j, i > 0 ? &plan->lines[j].slots[i - 1] : NULL, &plan->lines[j].slots[i]);
}

static void round_add(struct clauses *c)
{
    solver_add(c->solver, YES);
    solver_add(c->solver, 0);
    starts_add(c);
    rules_add(c);
    feeders_add(c);
    pairs_add(c);
    arrivals_add(c);
    pots_add(c);
}

/* ---- how long to look for the answer ------------------------------------------------------------------------ */

/*
 * Work is counted, so that it is the same on every machine. As was measured, a conflict takes as long as the square
 * root of the literals says, and putting two literals as long as a conflict among one.
 */
static double work_of_conflict(const struct clauses *c)
{
    return 1 + sqrt((double)c->n_literals);
}

static long work_of_putting(const struct clauses *c)
{
    return c->n + c->n_literals / 2;
}

static long work_of(const struct clauses *c)
{
    return work_of_putting(c) + (long)((double)c->n_conflicts * work_of_conflict(c));
}

/* The conflicts that the question and what is left of the work allow. */
static int conflicts_allowed(const struct clauses *c)
{
    const double by_work = (double)(c->q->work - work_of_putting(c)) / work_of_conflict(c);
    return by_work >= c->q->n_conflicts ? c->q->n_conflicts : by_work > 0 ? (int)by_work : 0;
}

static enum solver_verdict answer_seek(struct clauses *c)
{
    const struct order_watch *watch = c->m->p->watch;
    const struct solver_look look = {watch ? watch->go_on : NULL, watch ? watch->context : NULL, c->q->round_min};
    return solver_solve(c->solver, conflicts_allowed(c), watch ? &look : NULL, &c->n_conflicts);
}

static bool put(struct clauses *c, enum answer *answer, struct order_schedule *plan)
{
    c->solver = solver_new(c->q->hope == HOPE_PLAN);
    bool ok = c->solver != NULL;
    if (ok) {
        round_add(c);
        enum solver_verdict verdict = answer_seek(c);
        *answer = verdict == SOLVER_SATISFIED ? ANSWER_PLAN : verdict == SOLVER_REFUTED ? ANSWER_NONE : ANSWER_OPEN;
        if (*answer == ANSWER_PLAN)
            plan_read(c, plan);
        ok = !solver_failed(c->solver);
    }
    solver_free(c->solver);
    return ok;
}

bool clauses_ask(const struct subject *about, const struct question *q, enum answer *answer,
                 struct order_schedule *plan, long *work)
{
    struct clauses c;
    struct arena a = {0};
    bool ok = clauses_new(about, q, &a, &c);
    *answer = ANSWER_NONE;
    if (ok && domains_fill(&c))
        ok = put(&c, answer, plan);
    *work = work_of(&c);
    arena_free(&a);
    return ok;
}
