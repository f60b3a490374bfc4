/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Setting the clock of a begun round anew when it slips. The lines stay as they are, with their numbers and amounts,
 * and so does the order of each feeder's jobs; what is not done yet begins as early as every rule allows. A rule is "to
 * begins at least so long after from", and all of them held in the kept round, so that they can always be met again;
 * only what is already under way (a broadcast given, a flow off) can be too late. Where it is, late jobs are let ahead,
 * a flow on also at another feeder, as long as fewer minutes are late then: never more than by going on as before.
 * The minutes of each rule are those of neap/schedule.h; which lines they lie between is read from the sheet here.
 */
#include "neap/figures.h"
#include "neap/ledger.h"
#include "neap/replan.h"
#include "neap/working.h"

/*
 * Work without a break by one feeder: a broadcast (also one for several tanks), a visit (fish, flow off, corals), a
 * flow on.
 */
struct replan_job {
    enum action action;       /* ACTION_TARGET for a visit */
    size_t tank;              /* where it begins */
    double in_m, out_m;       /* where a feeder stands when it begins and ends */
    long feeder, was_feeder;  /* was: in the kept round */
    const struct line *off;   /* of a visit and a flow on: the line that turns the flow off */
    bool begun;               /* a visit whose flow is off already: what is left of it comes first of all */
    bool owed;                /* a flow on whose flow is off already */
    struct order_class class; /* by what is planned for its tanks */
    int was_min, was_end_min; /* in the kept round */
    int turn_min;             /* its turn among its feeder's jobs: was_min, or that of one it goes before */
    bool ahead;               /* goes before the one whose turn it took */
    int length_min;
    int least_min, most_min; /* by what was done; most: late after it */
    int start_min;
};

struct rule {
    size_t from, to;
    int least_min;
};

struct stretch {
    int from_min, until_min;
};

struct resetting {
    const struct facility *f;
    const struct round *kept;
    const struct replan_request *q;
    struct plan_request asked;    /* what the round was planned with */
    struct order_problem figures; /* the house's, for the rules; no tanks */
    struct arena *a;
    struct replan_job *jobs;
    size_t n_jobs;
    size_t *job_of;             /* per line; SIZE_MAX: done, or passed over */
    struct stretch *left;       /* per line of a visit under way: minutes of what is left of it */
    const struct given **given; /* per line; NULL: not logged */
    struct rule *rules;
    size_t n_rules, room_rules;
    bool failed;    /* no memory for a rule */
    size_t *sorted; /* jobs in the order in which they are done */
    int n_tries;
};

/* Orders tried when something is late. */
enum { TRIES_MAX = 500 };

/* ---- what is done ----------------------------------------------------------------------------------------------- */

static size_t index_of(const struct resetting *z, const struct line *l)
{
    return (size_t)(l - z->kept->lines);
}

static bool is_done(const struct resetting *z, const struct line *l)
{
    return z->given[index_of(z, l)] != NULL;
}

/* When a line that was logged happened: as noted, else as planned, but never later than now. */
static int happened_min(const struct resetting *z, const struct line *l, int planned_min)
{
    int noted_min = (int)z->given[index_of(z, l)]->at_min;
    int at_min = noted_min >= 0 ? noted_min : planned_min;
    return at_min < z->q->now_min ? at_min : z->q->now_min;
}

static bool read_givens(struct resetting *z, struct err *e)
{
    const struct round *r = z->kept;
    z->given = arena_alloc(z->a, r->n_lines, sizeof(const struct given *));
    if (!z->given)
        return err_memory(e);
    for (size_t i = 0; i < z->q->n_givens; i++) {
        const struct given *g = &z->q->givens[i];
        if (g->round == r->head.number && !g->voided && g->line >= 1 && (size_t)g->line <= r->n_lines)
            z->given[g->line - 1] = g;
    }
    return true;
}

/*
 * A food that was put into shared water is given to all the tanks that it was for, though only one of them is logged.
 */
static void spread_givens(struct resetting *z)
{
    const struct round *r = z->kept;
    for (size_t i = 0; i < r->n_lines; i++)
        for (size_t k = 0; k < r->n_lines && !z->given[i]; k++) {
            const struct line *a = &r->lines[i], *b = &r->lines[k];
            if (z->given[k] && z->given[k]->outcome != OUTCOME_NOT_GIVEN && a->tank != b->tank && a->food == b->food &&
                same_broadcast(z->f, a, b))
                z->given[i] = z->given[k];
        }
}

static int walk_min(const struct resetting *z, double from_m, double to_m)
{
    return order_walk_min(&z->figures, from_m, to_m);
}

/* What is broadcast into shared water says so, and is given elsewhere than at the tank. */
static double place_m(const struct resetting *z, const struct line *l)
{
    const struct tank *t = &z->f->tanks[l->tank];
    return into_shared_water(l) ? broadcast_place_m(z->f, t->system) : t->position_m;
}

/* ---- jobs ------------------------------------------------------------------------------------------------------- */

/* The stop that a line belongs to: its flow-off line. Fish belong to the stop that follows them. NULL: none. */
static const struct line *stop_of(const struct resetting *z, const struct line *l)
{
    const struct line *found = NULL;
    for (size_t i = 0; i < z->kept->n_lines; i++) {
        const struct line *off = &z->kept->lines[i];
        if (off->action != ACTION_FLOW_OFF || !share_pump(z->f, off->tank, l->tank))
            continue;
        if (l->action == ACTION_FISH ? off->start_min >= l->start_min && (!found || off->start_min < found->start_min)
                                     : off->start_min <= l->start_min && (!found || off->start_min > found->start_min))
            found = off;
    }
    return found;
}

/* Lines of one broadcast are one job, and lines of one stop; each flow on is its own. */
static bool same_job(const struct resetting *z, size_t job, const struct line *l, enum action action,
                     const struct line *off)
{
    const struct replan_job *j = &z->jobs[job];
    if (j->action != action || action == ACTION_FLOW_ON)
        return false;
    if (action == ACTION_BROADCAST)
        return j->feeder == l->feeder && j->was_min == l->start_min &&
               z->f->tanks[j->tank].system == z->f->tanks[l->tank].system;
    return off ? j->off == off : !j->off && j->tank == l->tank && j->was_min == l->start_min;
}

static size_t find_job(struct resetting *z, const struct line *l, enum action action, const struct line *off)
{
    for (size_t i = 0; i < z->n_jobs; i++)
        if (same_job(z, i, l, action, off))
            return i;
    z->jobs[z->n_jobs] = (struct replan_job){.action = action,
                                             .tank = l->tank,
                                             .in_m = place_m(z, l),
                                             .out_m = place_m(z, l),
                                             .feeder = l->feeder,
                                             .was_feeder = l->feeder,
                                             .off = off,
                                             .was_min = l->start_min,
                                             .was_end_min = l->end_min};
    return z->n_jobs++;
}

static bool off_was_given(const struct resetting *z, const struct line *off)
{
    return off && is_done(z, off) && z->given[index_of(z, off)]->outcome != OUTCOME_NOT_GIVEN;
}

/* The flow of its stop is on again by the log: what was not logged of it was passed over, or is yet to be written down.
 */
static bool passed_over(const struct resetting *z, const struct line *l, const struct line *off)
{
    for (size_t i = 0; off && l->action != ACTION_FLOW_ON && i < z->kept->n_lines; i++) {
        const struct line *on = &z->kept->lines[i];
        if (on->action == ACTION_FLOW_ON && z->given[i] && share_pump(z->f, on->tank, off->tank) &&
            stop_of(z, on) == off)
            return true;
    }
    return false;
}

static void take_line(struct resetting *z, const struct line *l)
{
    enum action action =
        l->action == ACTION_FISH || l->action == ACTION_FLOW_OFF ? ACTION_TARGET : (enum action)l->action;
    const struct line *off = l->action == ACTION_BROADCAST ? NULL : stop_of(z, l);
    if (passed_over(z, l, off))
        return;
    size_t at = find_job(z, l, action, off);
    struct replan_job *j = &z->jobs[at];
    z->job_of[index_of(z, l)] = at;
    /* They come as they are worked through. */
    debug_assert(l->start_min >= j->was_min && l->end_min >= j->was_end_min);
    j->was_end_min = l->end_min;
    j->out_m = place_m(z, l);
    j->length_min = j->was_end_min - j->was_min;
    j->begun = j->begun || (action == ACTION_TARGET && off && is_done(z, off));
    j->owed = action == ACTION_FLOW_ON && off_was_given(z, off);
}

/* The step at a tank that a line is one of: its lines that are left, and all of them, as colonies. */
static bool same_step(const struct line *a, const struct line *b)
{
    return a->tank == b->tank && a->action == b->action && a->start_min == b->start_min;
}

static double share_left(const struct resetting *z, const struct line *step)
{
    long left = 0, all = 0;
    for (size_t i = 0; i < z->kept->n_lines; i++) {
        const struct line *l = &z->kept->lines[i];
        long weight = l->count > 0 ? l->count : 1;
        if (same_step(l, step)) {
            all += weight;
            left += z->given[i] ? 0 : weight;
        }
    }
    return (double)left / (double)all;
}

/* The next step of a visit under way that is not placed yet, by the kept round; NULL: all are. */
static const struct line *next_step(const struct resetting *z, size_t job)
{
    const struct line *next = NULL;
    for (size_t i = 0; i < z->kept->n_lines; i++)
        if (z->job_of[i] == job && z->left[i].until_min < 0 && (!next || z->kept->lines[i].start_min < next->start_min))
            next = &z->kept->lines[i];
    return next;
}

/* What is left of a visit under way: tank after tank, of each step the share of its colonies that is not logged. */
static void shorten_begun(struct resetting *z, size_t job)
{
    const struct line *step, *before = NULL;
    int at_min = 0;
    for (; (step = next_step(z, job)) != NULL; before = step) {
        int length_min = (int)ceil((step->end_min - step->start_min) * share_left(z, step) - 1e-9);
        at_min += before ? walk_min(z, place_m(z, before), place_m(z, step)) : 0;
        for (size_t i = 0; i < z->kept->n_lines; i++)
            if (z->job_of[i] == job && same_step(&z->kept->lines[i], step))
                z->left[i] = (struct stretch){at_min, at_min + length_min};
        at_min += length_min;
        z->jobs[job].out_m = place_m(z, step);
    }
    z->jobs[job].length_min = at_min;
}

/* ---- what goes before what -------------------------------------------------------------------------------------- */

static bool in_quarantine(const struct resetting *z, size_t tank)
{
    for (size_t i = 0; i < z->f->n_tanks; i++)
        if (share_pump(z->f, i, tank) && z->f->systems[z->f->tanks[i].system].quarantine)
            return true;
    return false;
}

static bool has_early(const struct resetting *z, size_t tank)
{
    for (size_t i = 0; i < z->kept->n_lines; i++) {
        const struct line *l = &z->kept->lines[i];
        if (l->tank == tank && l->action == ACTION_TARGET && z->f->kinds[z->f->colonies[l->colony].kind].early)
            return true;
    }
    return false;
}

/* Is the visit the first of its pump's, by the kept round? */
static bool is_first_visit(const struct resetting *z, const struct replan_job *j)
{
    for (size_t i = 0; i < z->kept->n_lines; i++) {
        const struct line *l = &z->kept->lines[i];
        if (l->action == ACTION_FLOW_OFF && share_pump(z->f, l->tank, j->tank) && l->start_min < j->was_min)
            return false;
    }
    return j->action == ACTION_TARGET;
}

static struct order_class class_of(const struct resetting *z, const struct replan_job *j)
{
    struct order_class c = {in_quarantine(z, j->tank), -1};
    if (!is_first_visit(z, j))
        return c;
    for (size_t i = 0; i < z->kept->n_lines; i++) {
        const struct line *l = &z->kept->lines[i];
        if (!share_pump(z->f, l->tank, j->tank))
            continue;
        int rank = visit_rank(z->f, &z->asked, l->tank, has_early(z, l->tank));
        c.rank = c.rank < 0 ? rank : lesser(c.rank, rank);
    }
    return c;
}

static bool make_jobs(struct resetting *z, struct err *e)
{
    size_t n = z->kept->n_lines;
    z->jobs = arena_alloc(z->a, n, sizeof *z->jobs);
    z->job_of = arena_alloc(z->a, n, sizeof *z->job_of);
    z->sorted = arena_alloc(z->a, n, sizeof *z->sorted);
    z->left = arena_alloc(z->a, n, sizeof *z->left);
    if (!z->jobs || !z->job_of || !z->sorted || !z->left)
        return err_memory(e);
    for (size_t i = 0; i < n; i++) {
        z->job_of[i] = SIZE_MAX;
        z->left[i].until_min = -1;
        if (!z->given[i])
            take_line(z, &z->kept->lines[i]);
    }
    for (size_t j = 0; j < z->n_jobs; j++) {
        z->jobs[j].turn_min = z->jobs[j].was_min;
        z->jobs[j].class = class_of(z, &z->jobs[j]);
        if (z->jobs[j].begun)
            shorten_begun(z, j);
    }
    return z->n_jobs > 0 ||
           err_set(e, ERR_INPUT, NULL, "every line of round %ld is logged; nothing is left to set anew",
                   z->kept->head.number);
}

/* ---- rules ------------------------------------------------------------------------------------------------------ */

/* Where there is no memory for one that is told once, by set_clock. */
static void add_rule(struct resetting *z, size_t from, size_t to, int least_min)
{
    struct rule *moved = mem_grow(z->rules, &z->room_rules, z->n_rules + 1, sizeof *moved);
    z->failed = z->failed || !moved;
    if (!moved)
        return;
    z->rules = moved;
    z->rules[z->n_rules++] = (struct rule){from, to, least_min};
}

/*
 * Between two jobs of a feeder: the way, and other tools or another pot; no more than they had between them in the kept
 * round.
 */
static int way_min(const struct resetting *z, const struct replan_job *from, const struct replan_job *to)
{
    int walk = walk_min(z, from->out_m, to->in_m), kept_gap = to->was_min - from->was_end_min;
    bool tools = to->class.quarantine && !from->class.quarantine;
    int most = walk + order_set_up_min(&z->figures, tools, to->action == ACTION_TARGET);
    if (from->was_feeder != to->was_feeder || kept_gap < 0)
        return most;
    return lesser(kept_gap, most); /* less than the way: a pump's switch stands elsewhere than the tank on the sheet */
}

static int job_order(const struct replan_job *a, const struct replan_job *b)
{
    if (a->begun != b->begun)
        return a->begun ? -1 : 1;
    if (a->turn_min != b->turn_min)
        return a->turn_min < b->turn_min ? -1 : 1;
    if (a->ahead != b->ahead)
        return a->ahead ? -1 : 1;
    return (a->was_end_min > b->was_end_min) - (a->was_end_min < b->was_end_min);
}

static void sort_jobs(struct resetting *z)
{
    for (size_t i = 0; i < z->n_jobs; i++) {
        size_t at = i;
        for (; at > 0 && job_order(&z->jobs[i], &z->jobs[z->sorted[at - 1]]) < 0; at--)
            z->sorted[at] = z->sorted[at - 1];
        z->sorted[at] = i;
    }
}

/* The last thing a feeder did, from where they have been on their way since; NULL: nothing yet. */
static const struct line *last_done(const struct resetting *z, long feeder)
{
    const struct line *last = NULL;
    for (size_t i = 0; i < z->kept->n_lines; i++) {
        const struct line *l = &z->kept->lines[i];
        if (z->given[i] && l->feeder == feeder && (!last || l->start_min >= last->start_min))
            last = l;
    }
    return last;
}

static void rules_of_hands(struct resetting *z)
{
    sort_jobs(z);
    for (size_t k = 0; k < z->n_jobs; k++) {
        struct replan_job *to = &z->jobs[z->sorted[k]];
        size_t i = k;
        while (i > 0 && z->jobs[z->sorted[i - 1]].feeder != to->feeder)
            i--;
        const struct line *stands = i == 0 ? last_done(z, to->feeder) : NULL;
        if (stands)
            to->least_min = greater(to->least_min, happened_min(z, stands, stands->end_min) +
                                                       walk_min(z, place_m(z, stands), to->in_m));
        if (i == 0)
            continue;
        const struct replan_job *from = &z->jobs[z->sorted[i - 1]];
        add_rule(z, z->sorted[i - 1], z->sorted[k], from->length_min + way_min(z, from, to));
    }
}

/* Between any hands: what goes first keeps going first, but for what is under way and flows that are owed. */
static void rules_of_classes(struct resetting *z)
{
    for (size_t i = 0; i < z->n_jobs; i++)
        for (size_t k = 0; k < z->n_jobs; k++) {
            const struct replan_job *a = &z->jobs[i], *b = &z->jobs[k];
            if (b->begun || b->owed)
                continue;
            if (order_ends_before(a->class, b->class))
                add_rule(z, i, k, lesser(a->length_min, b->was_min - a->was_min));
            if (order_starts_before(a->class, b->class) && a->was_min <= b->was_min)
                add_rule(z, i, k, 0);
        }
}

/* First corals of a tank: where they stand in the visit, and whether this visit is the tank's first. */
static const struct line *first_corals(const struct resetting *z, size_t tank)
{
    const struct line *first = NULL;
    for (size_t i = 0; i < z->kept->n_lines; i++) {
        const struct line *l = &z->kept->lines[i];
        if (l->tank == tank && l->action == ACTION_TARGET && (!first || l->start_min < first->start_min))
            first = l;
    }
    return first;
}

static void rule_of_lag(struct resetting *z, const struct line *broadcast)
{
    const struct order_span lag = order_first_coral(&z->figures, 0);
    const struct line *corals = first_corals(z, broadcast->tank);
    if (!corals || is_done(z, corals))
        return;
    size_t v = z->job_of[index_of(z, corals)], b = z->job_of[index_of(z, broadcast)];
    if (v == SIZE_MAX || z->jobs[v].begun)
        return;
    struct replan_job *visit = &z->jobs[v];
    int in_visit = corals->start_min - visit->was_min, kept_lag = corals->start_min - broadcast->end_min;
    int least = lesser(lag.from_min, kept_lag), most = greater(lag.by_min, kept_lag);
    if (b != SIZE_MAX) {
        int length_min = z->jobs[b].length_min;
        add_rule(z, b, v, length_min + least - in_visit);
        add_rule(z, v, b, in_visit - most - length_min);
        return;
    }
    if (z->given[index_of(z, broadcast)]->outcome == OUTCOME_NOT_GIVEN)
        return;
    int end_min = happened_min(z, broadcast, broadcast->end_min);
    visit->least_min = greater(visit->least_min, end_min + least - in_visit);
    visit->most_min = lesser(visit->most_min, end_min + most - in_visit);
}

/* The last corals of a stop, by the kept round; NULL: none. */
static const struct line *last_corals(const struct resetting *z, const struct line *off)
{
    const struct line *last = NULL;
    for (size_t i = 0; i < z->kept->n_lines; i++) {
        const struct line *l = &z->kept->lines[i];
        if (l->action == ACTION_TARGET && share_pump(z->f, l->tank, off->tank) && stop_of(z, l) == off &&
            (!last || l->end_min > last->end_min))
            last = l;
    }
    return last;
}

/* How long the flow should stay off in a stop, its turning off and on in that: what the kinds want, cut to the limit,
 * shared among the tank's stops. */
static int wanted_off_min(const struct resetting *z, const struct line *off)
{
    int wanted_min = 0;
    for (size_t t = 0; t < z->f->n_tanks; t++) {
        double kinds_min = 0;
        int n_stops = 0;
        const struct line *stop = NULL;
        bool here = false;
        for (size_t i = 0; share_pump(z->f, t, off->tank) && i < z->kept->n_lines; i++) {
            const struct line *l = &z->kept->lines[i];
            if (l->tank != t || l->action != ACTION_TARGET)
                continue;
            kinds_min = fmax(kinds_min, z->f->kinds[z->f->colonies[l->colony].kind].flow_off_min);
            n_stops += stop_of(z, l) != stop; /* a tank's lines come pass by pass */
            stop = stop_of(z, l);
            here = here || stop == off;
        }
        if (here)
            wanted_min =
                greater(wanted_min, (int)ceil(fmin(kinds_min, off_limit_min(z->f, t, off->start_min)) / n_stops));
    }
    return wanted_min;
}

/* When a flow may come on; switching takes as long as in the kept round. */
static struct order_span flow_on_of(const struct resetting *z, const struct replan_job *on, const struct order_off *off)
{
    struct order_problem figures = z->figures;
    figures.switch_min = on->length_min;
    return order_flow_on(&figures, off);
}

/* A flow that is off: on after the rest where the limit allows, and else at the limit. */
static void bound_owed(struct resetting *z, struct replan_job *on)
{
    int off_min = happened_min(z, on->off, on->off->start_min), fed_min = INT_MIN;
    for (size_t i = 0; i < z->kept->n_lines; i++) {
        const struct line *l = &z->kept->lines[i];
        if (l->action != ACTION_TARGET || !share_pump(z->f, l->tank, on->off->tank) || stop_of(z, l) != on->off)
            continue;
        fed_min = greater(fed_min, z->given[i] ? happened_min(z, l, l->end_min)
                                               : z->q->now_min + z->jobs[z->job_of[i]].length_min);
    }
    int rest_min = fed_min == INT_MIN ? 0 : (int)z->f->settings.rest_min;
    const struct order_off off = {off_min, fed_min == INT_MIN ? off_min : fed_min, rest_min, wanted_off_min(z, on->off),
                                  (int)off_limit_min(z->f, on->tank, off_min)};
    const struct order_span may = flow_on_of(z, on, &off);
    on->most_min = may.by_min;
    on->least_min = greater(z->q->now_min, lesser(may.from_min, may.by_min));
}

static void rule_of_flow(struct resetting *z, size_t o)
{
    struct replan_job *on = &z->jobs[o];
    if (!on->off)
        return;
    const struct line *corals = last_corals(z, on->off);
    for (size_t v = 0; v < z->n_jobs; v++) {
        const struct replan_job *visit = &z->jobs[v];
        if (visit->action != ACTION_TARGET || visit->off != on->off)
            continue;
        if (visit->begun) {
            add_rule(z, v, o, visit->length_min);
            continue;
        }
        int off_in = on->off->start_min - visit->was_min, was_off_min = on->was_end_min - on->off->start_min;
        const struct order_off off = {off_in, corals ? corals->end_min - visit->was_min : off_in,
                                      corals ? (int)z->f->settings.rest_min : 0, wanted_off_min(z, on->off),
                                      greater((int)off_limit_min(z->f, on->tank, on->off->start_min), was_off_min)};
        const struct order_span may = flow_on_of(z, on, &off);
        add_rule(z, v, o, lesser(on->was_min - visit->was_min, may.from_min));
        add_rule(z, o, v, -may.by_min);
    }
    if (on->owed)
        bound_owed(z, on);
}

/*
 * Does the job concern the pump of the tank? A broadcast into shared water is for several tanks, not all on one pump.
 */
static bool at_pump(const struct resetting *z, size_t job, size_t tank)
{
    for (size_t i = 0; z->jobs[job].action == ACTION_BROADCAST && i < z->kept->n_lines; i++)
        if (z->job_of[i] == job && share_pump(z->f, z->kept->lines[i].tank, tank))
            return true;
    return share_pump(z->f, z->jobs[job].tank, tank);
}

/* Between two stops of a pump, and between a stop and a broadcast that comes after it. */
static void rules_of_pump(struct resetting *z, size_t o)
{
    const struct replan_job *on = &z->jobs[o];
    int gap_min = order_off_again_min(&z->figures, 0);
    for (size_t k = 0; k < z->n_jobs; k++) {
        const struct replan_job *next = &z->jobs[k];
        if (next->action == ACTION_FLOW_ON || next->begun || !at_pump(z, k, on->tank) || next->off == on->off ||
            next->was_min < on->was_end_min)
            continue;
        int off_in = next->off ? next->off->start_min - next->was_min : 0;
        int kept_gap = next->was_min + off_in - on->was_end_min;
        add_rule(z, o, k, on->length_min + (next->off ? lesser(gap_min, kept_gap) - off_in : 0));
    }
}

/* What was to be broadcast before a stop of the pump is in the water before the flow goes off, also at another tank. */
static void rules_of_broadcast(struct resetting *z, size_t b)
{
    const struct replan_job *broadcast = &z->jobs[b];
    for (size_t v = 0; v < z->n_jobs; v++) {
        const struct replan_job *visit = &z->jobs[v];
        if (visit->action != ACTION_TARGET || !visit->off || visit->begun || !at_pump(z, b, visit->off->tank) ||
            visit->off->start_min < broadcast->was_end_min)
            continue;
        add_rule(z, b, v, broadcast->length_min - (visit->off->start_min - visit->was_min));
    }
}

/* A feeder who comes late starts then. */
static void bounds_of_request(struct resetting *z)
{
    for (size_t i = 0; i < z->n_jobs; i++)
        for (size_t k = 0; k < z->asked.n_lates; k++)
            if (z->asked.lates[k].feeder == z->jobs[i].feeder)
                z->jobs[i].least_min = greater(z->jobs[i].least_min, z->asked.lates[k].from_min);
}

static void make_rules(struct resetting *z)
{
    z->n_rules = 0;
    for (size_t i = 0; i < z->n_jobs; i++) {
        z->jobs[i].least_min = z->q->now_min;
        z->jobs[i].most_min = INT_MAX;
    }
    for (size_t i = 0; i < z->kept->n_lines; i++)
        if (z->kept->lines[i].action == ACTION_BROADCAST)
            rule_of_lag(z, &z->kept->lines[i]);
    for (size_t i = 0; i < z->n_jobs; i++) {
        if (z->jobs[i].action == ACTION_FLOW_ON) {
            rule_of_flow(z, i);
            rules_of_pump(z, i);
        }
        if (z->jobs[i].action == ACTION_BROADCAST)
            rules_of_broadcast(z, i);
    }
    bounds_of_request(z);
    rules_of_classes(z);
    rules_of_hands(z);
}

/* ---- the clock -------------------------------------------------------------------------------------------------- */

/* Every job as early as the rules allow: what only ever moves later settles after as many rounds as there are jobs. */
static bool settle(struct resetting *z)
{
    for (size_t i = 0; i < z->n_jobs; i++)
        z->jobs[i].start_min = z->jobs[i].least_min;
    bool moved = true;
    for (size_t pass = 0; moved && pass <= z->n_jobs; pass++) {
        moved = false;
        for (size_t i = 0; i < z->n_rules; i++) {
            const struct rule *r = &z->rules[i];
            int least_min = z->jobs[r->from].start_min + r->least_min;
            if (z->jobs[r->to].start_min < least_min) {
                z->jobs[r->to].start_min = least_min;
                moved = true;
            }
        }
    }
    return !moved;
}

static int late_min_of(const struct replan_job *j)
{
    return j->start_min > j->most_min ? j->start_min - j->most_min : 0;
}

/* Sets the clock for the turns as they are: minutes late, or INT_MAX where the turns cannot be. */
static int try_turns(struct resetting *z)
{
    int late_min = 0;
    make_rules(z);
    if (!settle(z))
        return INT_MAX;
    for (size_t i = 0; i < z->n_jobs; i++)
        late_min += late_min_of(&z->jobs[i]);
    return late_min;
}

/* A turn that a late job could take: that of another job, at whose feeder it then goes before it. */
static bool may_go_before(const struct replan_job *late, const struct replan_job *other)
{
    bool hands = late->feeder == other->feeder || late->action == ACTION_FLOW_ON; /* any hand may turn on a flow */
    return late != other && hands && !other->begun &&
           !(late->feeder == other->feeder && other->turn_min > late->turn_min);
}

/* Lets a late job go before the job where that helps most: did it? The clock is then still that of the last try. */
static bool let_ahead(struct resetting *z, size_t late, int *least_late_min)
{
    struct replan_job *j = &z->jobs[late];
    const struct replan_job was = *j;
    size_t best = SIZE_MAX;
    for (size_t i = 0; i < z->n_jobs && z->n_tries < TRIES_MAX; i++) {
        if (!may_go_before(&was, &z->jobs[i]))
            continue;
        z->n_tries++;
        j->feeder = z->jobs[i].feeder;
        j->turn_min = z->jobs[i].turn_min;
        j->ahead = true;
        const int late_min = try_turns(z);
        if (late_min < *least_late_min) {
            *least_late_min = late_min;
            best = i;
        }
        j->feeder = was.feeder;
        j->turn_min = was.turn_min;
        j->ahead = was.ahead;
    }
    if (best == SIZE_MAX)
        return false;
    j->feeder = z->jobs[best].feeder;
    j->turn_min = z->jobs[best].turn_min;
    j->ahead = true;
    return true;
}

/* As the kept round goes on; and as long as something is late, with late jobs let ahead where fewer minutes are late
 * then. */
static bool set_clock(struct resetting *z, struct err *e)
{
    int late_min = try_turns(z);
    bool helped = true;
    if (late_min == INT_MAX)
        return err_set(e, ERR_INPUT, NULL,
                       "the rest of round %ld cannot be set to begin at this minute in the order it has",
                       z->kept->head.number);
    while (helped && late_min > 0 && z->n_tries < TRIES_MAX) {
        helped = false;
        for (size_t i = 0; !helped && i < z->n_jobs; i++)
            helped = late_min_of(&z->jobs[i]) > 0 && let_ahead(z, i, &late_min);
        try_turns(z);
    }
    return !z->failed || err_memory(e);
}

/* ---- the new revision ------------------------------------------------------------------------------------------- */

static bool say_late(struct resetting *z, struct round *r, struct text *late, struct err *e)
{
    char now[CLOCK_TEXT];
    clock_format(z->q->now_min, now);
    struct caution *cautions = arena_alloc(&r->arena, z->kept->n_cautions + 1, sizeof *cautions);
    if (!cautions || late->failed)
        return err_memory(e);
    cautions[0] = (struct caution){.rank = 1, .part = CAUTION_HEED};
    cautions[0].text =
        arena_format(&r->arena, "The clock was set anew at %s: what is done stands as it was planned.%s%.300s", now,
                     late->len > 0 ? " Too late by then:" : "", text_str(late));
    for (size_t i = 0; i < z->kept->n_cautions; i++) {
        cautions[i + 1] = z->kept->cautions[i];
        cautions[i + 1].rank = z->kept->cautions[i].rank + 1;
    }
    r->cautions = cautions;
    r->n_cautions = z->kept->n_cautions + 1;
    return cautions[0].text ? true : err_memory(e);
}

static bool write_lines(const struct resetting *z, struct round *r, struct err *e)
{
    r->lines = arena_alloc(&r->arena, z->kept->n_lines, sizeof *r->lines);
    if (!r->lines)
        return err_memory(e);
    r->n_lines = z->kept->n_lines;
    for (size_t i = 0; i < r->n_lines; i++) {
        r->lines[i] = z->kept->lines[i];
        if (z->job_of[i] == SIZE_MAX)
            continue;
        const struct replan_job *j = &z->jobs[z->job_of[i]];
        r->lines[i].feeder = j->feeder;
        r->lines[i].start_min = j->start_min + (j->begun ? z->left[i].from_min : r->lines[i].start_min - j->was_min);
        r->lines[i].end_min = j->start_min + (j->begun ? z->left[i].until_min : z->kept->lines[i].end_min - j->was_min);
        r->head.finish_min = greater(r->head.finish_min, r->lines[i].end_min);
    }
    return true;
}

static bool set_switches(struct resetting *z, struct round *r, struct err *e)
{
    bool *left_out = arena_alloc(z->a, r->n_lines, sizeof *left_out);
    if (!left_out)
        return err_memory(e);
    for (size_t i = 0; i < r->n_lines; i++)
        left_out[i] = z->given[i] && z->given[i]->outcome == OUTCOME_NOT_GIVEN;
    if (!round_switchings(z->f, r, left_out, e))
        return false;
    round_switchings_renumber(r, z->kept);
    return true;
}

/* Somebody mixed it, by the log, or fed from it. */
static bool is_begun(const struct resetting *z, const struct pot *p)
{
    for (size_t i = 0; i < z->q->n_mixes; i++)
        if (strcmp(z->q->mixes[i].pot, p->pot) == 0)
            return true;
    for (size_t i = 0; i < z->kept->n_lines; i++)
        if (z->given[i] && z->given[i]->outcome != OUTCOME_NOT_GIVEN && strcmp(z->kept->lines[i].pot, p->pot) == 0)
            return true;
    return false;
}

static bool swap_lots(struct resetting *z, struct round *r, struct err *e)
{
    bool *done = arena_alloc(z->a, r->n_lines, sizeof *done), *begun = arena_alloc(z->a, r->n_pots, sizeof *begun);
    struct pot_food *foods = arena_alloc(z->a, r->n_pot_foods, sizeof *foods);
    if (!done || !begun || !foods)
        return err_memory(e);
    if (r->n_pot_foods > 0)
        memcpy(foods, r->pot_foods, r->n_pot_foods * sizeof *foods);
    r->pot_foods = foods;
    for (size_t i = 0; i < r->n_lines; i++)
        done[i] = z->given[i] != NULL;
    for (size_t i = 0; i < r->n_pots; i++)
        begun[i] = is_begun(z, &r->pots[i]);
    return round_swap_lots(z->f, r, done, begun, e);
}

/* What was asked of the plan, and that its clock was set anew. */
static bool add_reset(const struct resetting *z, struct round *r, struct err *e)
{
    size_t n = z->kept->n_asked;
    r->asked = arena_alloc(&r->arena, n + 1, sizeof *r->asked);
    if (!r->asked)
        return err_memory(e);
    if (n > 0)
        memcpy(r->asked, z->kept->asked, n * sizeof *r->asked);
    r->asked[n] = (struct asked){
        .number = (long)n + 1, .what = ASKED_FROM_NOW, .tank = REF_NONE, .at_min = z->q->now_min, .amount = NAN};
    r->n_asked = n + 1;
    return true;
}

static bool write_round(struct resetting *z, struct round *r, struct replanned *found, struct err *e)
{
    struct text late = {0};
    r->head = z->kept->head;
    r->head.finish_min = r->head.start_min;
    for (size_t i = 0; i < z->kept->n_lines; i++)
        if (z->given[i])
            r->head.finish_min = greater(r->head.finish_min, z->kept->lines[i].end_min);
    r->head.bound_min = NAN;
    r->pots = z->kept->pots;
    r->n_pots = z->kept->n_pots;
    r->pot_foods = z->kept->pot_foods;
    r->n_pot_foods = z->kept->n_pot_foods;
    r->waitings = z->kept->waitings;
    r->n_waitings = z->kept->n_waitings;
    *found = (struct replanned){.n_left = 0};
    for (size_t i = 0; i < z->n_jobs; i++) {
        const struct replan_job *j = &z->jobs[i];
        if (late_min_of(j) == 0)
            continue;
        found->late_min += late_min_of(j);
        text_addf(&late, "%s %s %s %d min", late.len > 0 ? "," : "", z->f->tanks[j->tank].name,
                  j->action == ACTION_FLOW_ON ? "flow on" : "corals", late_min_of(j));
    }
    for (size_t i = 0; i < z->kept->n_lines; i++)
        found->n_left += z->job_of[i] != SIZE_MAX;
    bool ok = add_reset(z, r, e) && write_lines(z, r, e) && swap_lots(z, r, e) && set_switches(z, r, e) &&
              say_late(z, r, &late, e);
    text_free(&late);
    return ok;
}

bool plan_replan(const struct facility *f, const struct round *kept, const struct replan_request *request,
                 struct round *r, struct replanned *found, struct err *e)
{
    *r = (struct round){0};
    if (request->n_givens == 0 && request->now_min < kept->head.start_min) {
        char start[CLOCK_TEXT];
        clock_format(kept->head.start_min, start);
        return err_set(e, ERR_INPUT, NULL,
                       "round %ld begins at %s and nothing of it is logged; expected a later minute, or a plan anew",
                       kept->head.number, start);
    }
    struct resetting z = {.f = f, .kept = kept, .q = request, .a = &r->arena};
    order_settings(&f->settings, &(struct plan_request){0}, &z.figures);
    bool ok = request_read(f, kept, &r->arena, &z.asked, e) && read_givens(&z, e);
    if (ok)
        spread_givens(&z);
    ok = ok && make_jobs(&z, e) && set_clock(&z, e) && write_round(&z, r, found, e);
    free(z.rules);
    if (!ok)
        round_free(r);
    return ok;
}
