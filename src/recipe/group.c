/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which systems share a pot. Splitting a group never makes a stage worse (each half may copy the shared pot), so
 * each-its-own is the measure, and the fewest pots within the tolerances are looked for from one pot upwards.
 */
#include "recipe/model.h"
#include "recipe/parts.h"

static const double alike = 1e-7; /* stage values closer than this are equal: the solver's own accuracy */

struct grouping {
    const struct recipe_problem *p;
    size_t n_due, *due; /* systems with slurry due, ascending */
    size_t *group;      /* per system: the grouping under trial */
    size_t *best;       /* per system: the best so far; best_score tells how good */
    bool *apart;        /* [due × n_due + due]: a pot for these two is out of the question */
    struct recipe_score own, best_score;
    size_t n_tried;
    struct arena arena;
};

/* ---- judging ---------------------------------------------------------------------------------------------------- */

static bool less_value(double a, double b)
{
    return a < b - alike * fmax(1, fabs(b));
}

static bool score_better(const struct recipe_score *a, const struct recipe_score *b)
{
    for (size_t stage = 0; stage < RECIPE_UNIQUE; stage++) {
        if (less_value(a->value[stage], b->value[stage]))
            return true;
        if (less_value(b->value[stage], a->value[stage]))
            return false;
    }
    return false;
}

/* Do the stages up to BAND stay near enough to each-its-own? */
static bool values_accepted(const struct grouping *s, const double *value)
{
    const double *own = s->own.value, tolerance = s->p->band_tolerance;
    return !less_value(own[RECIPE_LEAN], value[RECIPE_LEAN]) && !less_value(own[RECIPE_SHARE], value[RECIPE_SHARE]) &&
           !less_value(own[RECIPE_SWING] + tolerance, value[RECIPE_SWING]) &&
           !less_value(own[RECIPE_BAND] + tolerance, value[RECIPE_BAND]);
}

/* … and the wanted shift and the strengths, too? */
static bool score_accepted(const struct grouping *s, const struct recipe_score *score)
{
    if (!values_accepted(s, score->value) ||
        less_value(s->own.value[RECIPE_SHIFT] + s->p->band_tolerance, score->value[RECIPE_SHIFT]))
        return false;
    for (size_t i = 0; i < 2 * s->p->n_systems; i++) {
        double least = s->own.strength_frac[i] * (1 - s->p->strength_tolerance_frac);
        if (less_value(score->strength_frac[i], least))
            return false;
    }
    return true;
}

/* May these two be in one pot at all: no quarantine, and strengths that overlap? */
static bool may_share(const struct recipe_problem *p, size_t a, size_t b)
{
    const struct recipe_system *x = &p->systems[a], *y = &p->systems[b];
    return !x->own_pot && !y->own_pot && model_lean(x) <= y->full_frac && model_lean(y) <= x->full_frac;
}

static bool group_may_take(const struct grouping *s, size_t g, size_t next)
{
    for (size_t i = 0; i < next; i++)
        if (s->group[s->due[i]] == g && s->apart[i * s->n_due + next])
            return false;
    return true;
}

/* Pots of a grouping, late ones counted. */
static size_t count_pots(const struct grouping *s, const size_t *group)
{
    const struct recipe_problem *p = s->p;
    size_t n = 0;
    for (size_t g = 0; g < s->n_due; g++) {
        bool some[2] = {false, false};
        for (size_t t = 0; t < p->n_tanks; t++)
            for (int late = 0; late < 2; late++)
                some[late] |= group[p->tanks[t].system] == g && model_due(&p->tanks[t], late) > 0;
        n += (size_t)some[0] + (size_t)some[1];
    }
    return n;
}

/* Solves a grouping as far as BAND. */
static bool near_enough(struct grouping *s, const size_t *group, bool *near, struct err *e)
{
    struct arena scratch = {0};
    struct recipe_score score;
    bool ok = recipe_score(s->p, group, RECIPE_BAND + 1, &scratch, &score, e);
    s->n_tried++;
    *near = ok && values_accepted(s, score.value);
    arena_free(&scratch);
    return ok;
}

/* ---- exhaustive ------------------------------------------------------------------------------------------------- */

struct sweep {
    size_t n_pots; /* look at groupings with exactly so many */
    bool any;      /* also those beyond the tolerances */
    bool found;
};

static bool sweep_try(struct grouping *s, struct sweep *w, struct err *e)
{
    struct arena scratch = {0};
    struct recipe_score score;
    bool near, ok = w->any || near_enough(s, s->group, &near, e); /* most fall at the cheap first stages */
    if (ok && !w->any && !near)
        return true;
    ok = ok && recipe_score(s->p, s->group, RECIPE_STAGES, &scratch, &score, e);
    if (ok && (w->any || score_accepted(s, &score)) && (!w->found || score_better(&score, &s->best_score))) {
        w->found = true;
        memcpy(s->best_score.value, score.value, sizeof score.value);
        memcpy(s->best, s->group, s->p->n_systems * sizeof *s->best);
    }
    arena_free(&scratch);
    return ok;
}

/* Places due[i] and those after it in every group so far and in a new one: each grouping once, in a fixed order. */
static bool sweep_place(struct grouping *s, struct sweep *w, size_t i, size_t n_groups, struct err *e)
{
    if (i == s->n_due)
        return count_pots(s, s->group) != w->n_pots || sweep_try(s, w, e);
    for (size_t g = 0; g <= n_groups; g++) {
        if (!group_may_take(s, g, i))
            continue;
        s->group[s->due[i]] = g;
        if (!sweep_place(s, w, i + 1, n_groups + (g == n_groups), e))
            return false;
    }
    s->group[s->due[i]] = RECIPE_NONE;
    return true;
}

/* Is there enough of each food for own pots that hold as much of it as a pot ever can, and for all broadcasts? */
static bool stock_is_ample(const struct recipe_problem *p)
{
    for (size_t f = 0; f < p->n_foods; f++)
        if (recipe_units_most(p, f) > p->foods[f].stock && p->foods[f].stock > 0)
            return false;
    return true;
}

/*
 * Marks pairs that no grouping can put together. Where stock is ample, splitting a group never makes a stage worse, so
 * a pair that passes the tolerances with all others apart passes them in every grouping.
 */
static bool pairs_mark(struct grouping *s, struct err *e)
{
    bool ample = stock_is_ample(s->p);
    for (size_t i = 0; i < s->n_due; i++)
        for (size_t k = i + 1; k < s->n_due; k++) {
            bool near = may_share(s->p, s->due[i], s->due[k]);
            if (near && ample && s->p->max_pots == 0) {
                size_t was = s->group[s->due[k]];
                s->group[s->due[k]] = s->group[s->due[i]];
                bool ok = near_enough(s, s->group, &near, e);
                s->group[s->due[k]] = was;
                if (!ok)
                    return false;
            }
            s->apart[i * s->n_due + k] = !near;
        }
    return true;
}

static bool search_all(struct grouping *s, struct recipe *r, struct err *e)
{
    if (!pairs_mark(s, e))
        return false;
    size_t most = 2 * s->n_due, cap = s->p->max_pots > 0 && s->p->max_pots < most ? s->p->max_pots : most;
    struct sweep w = {0};
    for (w.n_pots = 1; !w.found && w.n_pots <= cap; w.n_pots++)
        if (!sweep_place(s, &w, 0, 0, e))
            return false;
    if (w.found)
        return true;
    w.any = true; /* each-its-own is always accepted, so it is the cap that stands in the way */
    for (w.n_pots = cap; !w.found && w.n_pots >= 1; w.n_pots--)
        if (!sweep_place(s, &w, 0, 0, e))
            return false;
    r->capped |= w.found;
    r->over_cap |= !w.found;
    for (w.n_pots = cap + 1; !w.found; w.n_pots++)
        if (!sweep_place(s, &w, 0, 0, e))
            return false;
    return true;
}

/* ---- greedy ----------------------------------------------------------------------------------------------------- */

static bool groups_may_merge(const struct grouping *s, size_t g, size_t h)
{
    bool some[2] = {false, false};
    for (size_t i = 0; i < s->n_due; i++)
        for (size_t k = 0; k < s->n_due; k++) {
            size_t a = s->due[i], b = s->due[k];
            some[0] |= s->group[a] == g;
            some[1] |= s->group[b] == h;
            if (s->group[a] == g && s->group[b] == h && !may_share(s->p, a, b))
                return false;
        }
    return some[0] && some[1];
}

static void group_rename(size_t *group, size_t n, size_t from, size_t to)
{
    for (size_t i = 0; i < n; i++)
        if (group[i] == from)
            group[i] = to;
}

/* Two groups that may become one, and the stages as they then would be: when fresh exactly, else at best. */
struct merge {
    size_t g, h;
    bool fresh, refused;
    double value[RECIPE_STAGES];
};

/* Compared up to full strength only: so far a coarser grouping is never better, and an old value bounds the new. */
static bool merge_better(const struct merge *a, const struct merge *b)
{
    for (size_t stage = 0; stage <= RECIPE_FULL; stage++) {
        bool better = less_value(a->value[stage], b->value[stage]);
        if (better || less_value(b->value[stage], a->value[stage]))
            return better;
    }
    return false;
}

static struct merge *merges_best(struct merge *merges, size_t n)
{
    struct merge *best = NULL;
    for (size_t i = 0; i < n; i++)
        if (!merges[i].refused && (!best || merge_better(&merges[i], best)))
            best = &merges[i];
    return best;
}

static bool merge_weigh(struct grouping *s, struct merge *m, bool any, struct err *e)
{
    size_t n = s->p->n_systems;
    struct arena scratch = {0};
    struct recipe_score score;
    if (!groups_may_merge(s, m->g, m->h)) {
        m->refused = true;
        return true;
    }
    memcpy(s->best, s->group, n * sizeof *s->best);
    group_rename(s->best, n, m->h, m->g);
    bool near = true, ok = any || near_enough(s, s->best, &near, e); /* most fall at the cheap first stages */
    m->refused = ok && !near;
    if (!ok || !near)
        return ok;
    ok = recipe_score(s->p, s->best, RECIPE_STAGES, &scratch, &score, e);
    s->n_tried++;
    if (ok) {
        memcpy(m->value, score.value, sizeof m->value);
        m->fresh = true;
        m->refused = !any && !score_accepted(s, &score);
    }
    arena_free(&scratch);
    return ok;
}

static void merge_apply(struct grouping *s, const struct merge *m, struct merge *merges, size_t n)
{
    size_t gone = m->h;
    group_rename(s->group, s->p->n_systems, m->h, m->g);
    for (size_t i = 0; i < n; i++) {
        merges[i].fresh = false;
        merges[i].refused |= merges[i].g == gone || merges[i].h == gone;
    }
}

static struct merge *merges_make(struct grouping *s, size_t *n)
{
    struct merge *merges = arena_alloc(&s->arena, s->n_due * s->n_due, sizeof *merges);
    *n = 0;
    for (size_t g = 0; merges && g < s->n_due; g++)
        for (size_t h = g + 1; h < s->n_due; h++) {
            merges[*n] = (struct merge){.g = g, .h = h};
            memcpy(merges[(*n)++].value, s->own.value, sizeof merges->value);
        }
    return merges;
}

/* The cheapest merge first, as long as it is accepted; then, under a cap, the cheapest whatever it costs. */
static bool search_greedily(struct grouping *s, struct recipe *r, struct err *e)
{
    size_t n, cap = s->p->max_pots > 0 ? s->p->max_pots : SIZE_MAX;
    struct merge *merges = merges_make(s, &n);
    if (!merges)
        return err_memory(e);
    for (bool any = false;;) {
        struct merge *m = merges_best(merges, n);
        bool over = count_pots(s, s->group) > cap;
        if (any && !over)
            break;
        if (m && m->fresh) {
            r->capped |= any;
            merge_apply(s, m, merges, n);
        } else if (m) {
            if (!merge_weigh(s, m, any, e))
                return false;
        } else if (over && !any) {
            any = true;
            if (!(merges = merges_make(s, &n)))
                return err_memory(e);
        } else {
            r->over_cap |= over;
            break;
        }
    }
    memcpy(s->best, s->group, s->p->n_systems * sizeof *s->best);
    return true;
}

/* ---- choosing --------------------------------------------------------------------------------------------------- */

static bool search_begin(struct grouping *s, const struct recipe_problem *p, struct err *e)
{
    *s = (struct grouping){.p = p};
    s->due = arena_alloc(&s->arena, p->n_systems, sizeof *s->due);
    s->group = arena_alloc(&s->arena, p->n_systems, sizeof *s->group);
    s->best = arena_alloc(&s->arena, p->n_systems, sizeof *s->best);
    if (!s->due || !s->group || !s->best)
        return err_memory(e);
    for (size_t i = 0; i < p->n_systems; i++) {
        s->group[i] = s->best[i] = RECIPE_NONE;
        if (recipe_is_due(p, i)) {
            s->group[i] = s->n_due;
            s->due[s->n_due++] = i;
        }
    }
    s->apart = arena_alloc(&s->arena, s->n_due * s->n_due, sizeof *s->apart);
    if (!s->apart)
        return err_memory(e);
    return recipe_score(p, s->group, RECIPE_STAGES, &s->arena, &s->own, e);
}

static void own_add(const struct grouping *s, struct recipe *r)
{
    for (size_t stage = 0; stage < RECIPE_STAGES; stage++)
        r->own_value[stage] += s->own.value[stage];
}

/* Numbers the groups by their first systems. */
static void groups_number(const size_t *from, size_t n_systems, size_t *group)
{
    size_t n = 0;
    for (size_t i = 0; i < n_systems; i++) {
        group[i] = RECIPE_NONE;
        for (size_t before = 0; before < i && from[i] != RECIPE_NONE && group[i] == RECIPE_NONE; before++)
            if (from[before] == from[i])
                group[i] = group[before];
        if (from[i] != RECIPE_NONE && group[i] == RECIPE_NONE)
            group[i] = n++;
    }
}

/* Chooses for a block; its groups get numbers from *n_groups on. */
static bool block_choose(const struct recipe_block *b, size_t *chosen, size_t *n_groups, struct recipe *r,
                         struct err *e)
{
    struct grouping s;
    bool ok = search_begin(&s, &b->p, e);
    if (ok && s.n_due > 0)
        ok = s.n_due <= RECIPE_EXHAUSTIVE_MAX ? search_all(&s, r, e) : search_greedily(&s, r, e);
    for (size_t i = 0; ok && i < b->p.n_systems; i++)
        chosen[b->system_of[i]] = s.best[i] == RECIPE_NONE ? RECIPE_NONE : *n_groups + s.best[i];
    *n_groups += b->p.n_systems;
    own_add(&s, r);
    r->n_tried += s.n_tried;
    arena_free(&s.arena);
    return ok;
}

bool recipe_choose(const struct recipe_problem *p, struct recipe *r, struct err *e)
{
    struct arena a = {0};
    struct recipe_block *blocks;
    size_t n, n_groups = 0, *chosen = arena_alloc(&a, p->n_systems, sizeof *chosen);
    bool ok = (chosen && blocks_make(p, NULL, &a, &blocks, &n)) || err_memory(e);
    for (size_t i = 0; ok && i < n; i++)
        ok = block_choose(&blocks[i], chosen, &n_groups, r, e);
    if (ok)
        groups_number(chosen, p->n_systems, r->group);
    arena_free(&a);
    return ok;
}

bool recipe_own(const struct recipe_problem *p, struct recipe *r, struct err *e)
{
    struct arena a = {0};
    struct recipe_block *blocks;
    size_t n;
    bool ok = blocks_make(p, NULL, &a, &blocks, &n) || err_memory(e);
    for (size_t i = 0; ok && i < n; i++) {
        struct grouping s;
        ok = search_begin(&s, &blocks[i].p, e);
        own_add(&s, r);
        arena_free(&s.arena);
    }
    arena_free(&a);
    return ok;
}
