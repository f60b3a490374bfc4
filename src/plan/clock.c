/* Who does what at which minute: the round's hands-on work, put into the order's plain numbers. */
#include "internal.h"

enum { SEARCH_STEPS = 20000, EXACT_NODES_PER_STEP = 10 };

static int whole_minutes(double seconds)
{
    return (int)ceil(seconds / 60 - 1e-9);
}

static long broadcasts_at(const struct working *w, size_t tank)
{
    long n = 0;
    for (size_t i = 0; i < w->recipe.n_broadcasts; i++)
        n += w->recipe.broadcasts[i].tank == tank && w->recipe.broadcasts[i].amount > 0;
    return n;
}

/* Tanks with one pump name stop together; the number is that of the first tank with the name. */
static int pump_number(const struct facility *f, size_t tank)
{
    if (!*f->tanks[tank].pump)
        return -1;
    for (size_t i = 0; i < tank; i++)
        if (strcmp(f->tanks[i].pump, f->tanks[tank].pump) == 0)
            return (int)i;
    return (int)tank;
}

double off_limit_min(const struct facility *f, size_t tank)
{
    double least = f->tanks[tank].flow_off_limit_min;
    for (size_t i = 0; *f->tanks[tank].pump && i < f->n_tanks; i++)
        if (!f->tanks[i].retired && strcmp(f->tanks[i].pump, f->tanks[tank].pump) == 0)
            least = fmin(least, f->tanks[i].flow_off_limit_min);
    return least;
}

/* The pot of a tank; any will do for one that is only broadcast. */
static int pot_number(const struct working *w, size_t tank)
{
    size_t group = w->recipe.group[w->f->tanks[tank].system];
    return group == RECIPE_NONE ? 0 : (int)group;
}

static double feed_seconds(const struct working *w, size_t tank, double *off_wanted_min)
{
    const struct settings *s = &w->f->settings;
    double seconds = 0, off_min = 0;
    for (size_t i = 0; i < w->n_dues; i++) {
        const struct due *d = &w->dues[i];
        if (d->tank != tank)
            continue;
        seconds += d->hands_s;
        off_min = fmax(off_min, w->f->kinds[w->f->colonies[d->colony].kind].flow_off_min);
    }
    *off_wanted_min = off_min;
    if (seconds <= 0)
        return 0;
    double slurry_ml = w->needs[tank].slurry_ml + w->needs[tank].late_ml;
    return s->tank_fixed_s + seconds + fmax(0, ceil(slurry_ml / s->syringe_ml) - 1) * s->refill_s;
}

static struct order_tank order_tank_of(const struct working *w, size_t tank)
{
    const struct facility *f = w->f;
    const struct settings *s = &f->settings;
    double off_wanted_min;
    struct order_tank t = {
        .position_m = f->tanks[tank].position_m,
        .broadcast_min = whole_minutes((double)broadcasts_at(w, tank) * s->broadcast_s),
        .fish_min = w->needs[tank].fish_units > 0 ? whole_minutes(s->fish_s) : 0,
        .feed_s = (int)ceil(feed_seconds(w, tank, &off_wanted_min)),
        .rest_min = (int)s->rest_min,
        .off_limit_min = (int)off_limit_min(f, tank),
        .quarantine = f->systems[f->tanks[tank].system].quarantine,
        .pump = pump_number(f, tank),
        .pot = pot_number(w, tank),
        .fixed_rank = -1,
    };
    t.off_wanted_min = (int)off_wanted_min;
    return t;
}

bool working_order(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    const struct settings *s = &f->settings;
    struct order_tank *tanks = arena_alloc(w->a, f->n_tanks, sizeof *tanks);
    long n_feeders = w->request->feeders > 0 ? w->request->feeders : s->feeders;
    struct order_feeder *feeders = arena_alloc(w->a, (size_t)n_feeders, sizeof *feeders);
    w->order_tanks = arena_alloc(w->a, f->n_tanks, sizeof *w->order_tanks);
    if (!tanks || !feeders || !w->order_tanks)
        return err_memory(e);
    size_t n = 0;
    for (size_t t = 0; t < f->n_tanks; t++) {
        struct order_tank tank = order_tank_of(w, t);
        if (tank.broadcast_min == 0 && tank.feed_s == 0)
            continue;
        tanks[n] = tank;
        w->order_tanks[n++] = t;
    }
    int start = w->request->start_min >= 0 ? w->request->start_min : s->start_min;
    for (long i = 0; i < n_feeders; i++)
        feeders[i] = (struct order_feeder){.ready_min = start, .pot = -1};
    order_defaults(&w->order_problem);
    w->order_problem.tanks = tanks;
    w->order_problem.n_tanks = n;
    w->order_problem.feeders = feeders;
    w->order_problem.n_feeders = (size_t)n_feeders;
    w->order_problem.lag_min = (int)s->lag_min_min;
    w->order_problem.lag_max = (int)s->lag_max_min;
    w->order_problem.walk_m_per_min = s->walk_m_per_min;
    w->order_problem.switch_min = (int)s->switch_min;
    w->order_problem.tool_change_min = (int)s->tool_change_min;
    w->order_problem.pot_change_min = (int)s->pot_change_min;
    w->order_problem.slurry_age_limit_min = (int)s->slurry_life_min;
    w->order_problem.flow_on_gap_min = (int)s->flow_on_gap_min;
    w->order_problem.seed = 1;
    w->order_problem.search_steps = w->request->search_steps > 0 ? w->request->search_steps : SEARCH_STEPS;
    w->order_problem.exact_nodes = w->order_problem.search_steps * EXACT_NODES_PER_STEP;
    struct err why;
    if (order_make(&w->order_problem, &w->order, &why))
        return true;
    return err_set(e, why.code, NULL, "%s", why.text);
}
