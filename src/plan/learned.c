/*
 * The facility's log as one regression. Each system's water balance is divided by what its test scatters by, and its
 * amounts by its volume, so that stretches of all systems may stand in one design, one system after the other on the
 * time axis. All share the foods' effects and a background; what a system drifts apart from it is a food of its own, given
 * steadily.
 */
#include "ahead.h"

enum { LEARN_D = 182, SYSTEM_GAP_D = 400, DRIFTS_PER_D = 4, SYSTEMS_MOST = 12 };

/*
 * A declared effect may be 0, but nobody is sure of that: a day at the ceiling may yet move the water by this part of
 * the largest wanted change. Our own choice, no source.
 */
static const double floor_frac = 0.05;
static const double own_drift_frac = 0.5; /* how far systems drift apart, of how far they may all drift; likewise */

/* mg of an analyte per unit of a food, by what is declared or by its composition. */
static double declared_effect(const struct facility *f, const struct food *food, enum analyte a, bool broadcast)
{
    const struct settings *s = &f->settings;
    if (a == ANALYTE_NO3)
        return !isnan(food->no3_effect_mg_per_unit)
                 ? food->no3_effect_mg_per_unit
                 : effect_no3_mg_per_unit(food->n_mg_per_unit,
                                          broadcast ? s->n_released_broadcast_frac : s->n_released_target_frac);
    return !isnan(food->po4_effect_mg_per_unit)
             ? food->po4_effect_mg_per_unit
             : effect_po4_mg_per_unit(food->p_mg_per_unit,
                                      broadcast ? s->p_released_broadcast_frac : s->p_released_target_frac);
}

struct used_effect food_effect(const struct learned_effects *l, size_t food, enum analyte a, bool broadcast)
{
    const struct food_belief *b = &l->foods[a][food];
    double times = broadcast ? b->broadcast_ratio : 1;
    return (struct used_effect){b->mean * times, b->sd * times};
}

/* ---- what is believed before the log speaks --------------------------------------------------------------------- */

static struct food_belief belief_before(const struct facility *f, const struct food *food, enum analyte a)
{
    struct food_belief b = {.declared = declared_effect(f, food, a, false), .broadcast_ratio = 1};
    double least = floor_frac * analytes[a].change_per_day_max * 100 / food->ceiling_units_per_100l;
    if (b.declared != 0)
        b.broadcast_ratio = declared_effect(f, food, a, true) / b.declared;
    b.declared_sd = fabs(b.declared) * f->settings.effect_sd_frac;
    b.prior_sd = fmax(b.declared_sd, least);
    b.effect = (struct effect){.mean = b.declared, .sd = b.prior_sd};
    b.mean = b.declared;
    b.sd = b.declared_sd;
    return b;
}

static bool beliefs_begin(const struct facility *f, struct arena *arena, struct learned_effects *l, struct err *e)
{
    l->n_foods = f->n_foods;
    for (int a = 0; a < N_NUTRIENTS; a++) {
        l->foods[a] = arena_alloc(arena, f->n_foods, sizeof *l->foods[a]);
        if (!l->foods[a])
            return err_memory(e);
        for (size_t i = 0; i < f->n_foods; i++)
            l->foods[a][i] = belief_before(f, &f->foods[i], (enum analyte)a);
    }
    return true;
}

/* ---- the log as one series -------------------------------------------------------------------------------------- */

struct log_of {
    const struct facility *f;
    enum analyte analyte;
    long from_min, now_min;
    const struct food_belief *foods;
    size_t *systems; /* those with a log */
    size_t n_systems;
    struct reading *readings, *spare_readings;
    struct water_change *changes;
    struct food_given *feedings;
    size_t n_seams; /* from the last test of a system to the first of the next: no stretch */
    struct learn_in in;
};

static bool is_fed(const struct log_of *g, const struct fed *fed)
{
    long moment = fed->day * MIN_PER_DAY + g->f->settings.start_min;
    return fed->food != REF_NONE && moment >= g->from_min && moment <= g->now_min;
}

struct logged {
    size_t system, n_feds;
};

static int most_fed(const void *left, const void *right)
{
    const struct logged *a = left, *b = right;
    if (a->n_feds != b->n_feds)
        return a->n_feds > b->n_feds ? -1 : 1;
    return (a->system > b->system) - (a->system < b->system);
}

/* The systems with most feedings, at most SYSTEMS_MOST: the work grows with the cube, what is learned with the root. */
static bool logs_find(struct log_of *g, size_t system, struct arena *arena, struct err *e)
{
    struct logged *found = arena_alloc(arena, g->f->n_systems, sizeof *found);
    g->systems = arena_alloc(arena, SYSTEMS_MOST, sizeof *g->systems);
    size_t n = 0;
    if (!found || !g->systems)
        return err_memory(e);
    for (size_t s = 0; s < g->f->n_systems; s++) {
        struct slice own = feds_of(g->f, s);
        if ((system != REF_NONE && s != system) || g->f->systems[s].volume_l <= 0)
            continue;
        found[n] = (struct logged){.system = s};
        for (size_t i = own.first; i < own.end; i++)
            found[n].n_feds += is_fed(g, &g->f->feds[i]);
        n += found[n].n_feds > 0;
    }
    qsort(found, n, sizeof *found, most_fed);
    for (size_t i = 0; i < n && i < SYSTEMS_MOST; i++)
        g->systems[g->n_systems++] = found[i].system;
    return true;
}

static int value_order(const void *a, const void *b)
{
    const struct reading *x = a, *y = b;
    return (x->value > y->value) - (x->value < y->value);
}

/* By its middling reading: one figure, for the scatter of the stretches is to be of one kind. */
static double system_test_sd(const struct log_of *g, const struct reading *readings, size_t n)
{
    if (n == 0)
        return analyte_test_sd(g->analyte, 0);
    memcpy(g->spare_readings, readings, n * sizeof *readings);
    qsort(g->spare_readings, n, sizeof *readings, value_order);
    return analyte_test_sd(g->analyte, g->spare_readings[n / 2].value);
}

static double add_readings(struct log_of *g, size_t nth, long shift_min)
{
    struct reading *own = g->readings + g->in.n_readings;
    size_t n = gather_readings(g->f, g->systems[nth], g->analyte, own), kept = 0;
    for (size_t i = 0; i < n; i++)
        if (own[i].moment_min >= g->from_min && own[i].moment_min <= g->now_min)
            own[kept++] = own[i];
    double times = 1 / system_test_sd(g, own, kept);
    g->n_seams += kept > 0 && g->in.n_readings > 0;
    for (size_t i = 0; i < kept; i++) {
        own[i].moment_min += shift_min;
        own[i].value *= times;
    }
    g->in.n_readings += kept;
    return times;
}

static void add_changes(struct log_of *g, size_t nth, long shift_min, double times)
{
    struct water_change *own = g->changes + g->in.n_changes;
    size_t n = gather_changes(g->f, g->systems[nth], g->analyte, own), kept = 0;
    for (size_t i = 0; i < n; i++)
        if (own[i].moment_min >= g->from_min && own[i].moment_min <= g->now_min)
            own[kept++] =
                (struct water_change){own[i].moment_min + shift_min, own[i].exchanged_frac, own[i].new_value * times};
    g->in.n_changes += kept;
}

static void add_feedings(struct log_of *g, size_t nth, long shift_min, double times)
{
    const struct facility *f = g->f;
    double per_unit = times / f->systems[g->systems[nth]].volume_l;
    struct slice own = feds_of(f, g->systems[nth]);
    for (size_t i = own.first; i < own.end; i++) {
        const struct fed *fed = &f->feds[i];
        if (!is_fed(g, fed))
            continue;
        double units = fed->target_units + fed->fish_units + fed->broadcast_units * g->foods[fed->food].broadcast_ratio;
        g->feedings[g->in.n_feedings++] = (struct food_given){
            fed->day * MIN_PER_DAY + f->settings.start_min + shift_min, fed->food, fmax(units, 0) * per_unit};
    }
    for (long at = g->from_min; g->n_systems > 1 && at < g->now_min; at += MIN_PER_DAY / DRIFTS_PER_D)
        g->feedings[g->in.n_feedings++] = (struct food_given){at + shift_min, f->n_foods + nth, 1.0 / DRIFTS_PER_D};
}

static bool log_open(struct log_of *g, struct arena *arena, struct effect_prior **priors, struct err *e)
{
    const struct facility *f = g->f;
    size_t most = f->n_feds + g->n_systems * (LEARN_D + 1) * DRIFTS_PER_D;
    g->readings = arena_alloc(arena, f->n_tests, sizeof *g->readings);
    g->spare_readings = arena_alloc(arena, f->n_tests, sizeof *g->spare_readings);
    g->changes = arena_alloc(arena, f->n_waters, sizeof *g->changes);
    g->feedings = arena_alloc(arena, most, sizeof *g->feedings);
    *priors = arena_alloc(arena, f->n_foods + g->n_systems, sizeof **priors);
    return (g->readings && g->spare_readings && g->changes && g->feedings && *priors) || err_memory(e);
}

static bool log_make(struct log_of *g, struct arena *arena, struct err *e)
{
    struct effect_prior *priors;
    double mean_times = 0;
    if (!log_open(g, arena, &priors, e))
        return false;
    for (size_t i = 0; i < g->f->n_foods; i++)
        priors[i] = (struct effect_prior){g->foods[i].declared, g->foods[i].prior_sd};
    for (size_t i = 0; i < g->n_systems; i++) {
        long shift_min = (long)i * SYSTEM_GAP_D * MIN_PER_DAY;
        double times = add_readings(g, i, shift_min);
        add_changes(g, i, shift_min, times);
        add_feedings(g, i, shift_min, times);
        mean_times += times / (double)g->n_systems;
    }
    /* Drift is counted in test errors a day, so that one figure fits all systems. */
    double drift_sd = analytes[g->analyte].change_per_day_max * mean_times;
    for (size_t i = 0; i < g->n_systems; i++)
        priors[g->f->n_foods + i] = (struct effect_prior){0, own_drift_frac * drift_sd};
    g->in.background = (struct effect_prior){0, drift_sd};
    g->in.readings = g->readings;
    g->in.changes = g->changes;
    g->in.feedings = g->feedings;
    g->in.priors = priors;
    g->in.n_foods = g->f->n_foods + (g->n_systems > 1 ? g->n_systems : 0);
    g->in.volume_l = 1;
    g->in.test_sd = 1;
    g->in.confidence_frac = TREND_CONFIDENCE_FRAC;
    return true;
}

/* ---- what the log says ------------------------------------------------------------------------------------------ */

/* A food may be tangled with the shared drift and with those of systems: that is told once. */
static void take_tangle(const struct tangle *t, enum analyte a, struct learned_effects *l)
{
    size_t other = t->other < l->n_foods ? t->other : FOOD_BACKGROUND;
    if (t->food >= l->n_foods)
        return;
    for (size_t i = 0; i < l->n_tangles[a]; i++)
        if (l->tangles[a][i].food == t->food && l->tangles[a][i].other == other)
            return;
    l->tangles[a][l->n_tangles[a]++] = (struct food_tangle){t->food, other, t->cosine, t->sd_now, t->sd_after};
}

/* What two stretches would tell most of comes first. */
static int gain_order(const void *a, const void *b)
{
    const struct food_tangle *x = a, *y = b;
    double left = x->sd_after / x->sd_now, right = y->sd_after / y->sd_now;
    if (left != right)
        return left < right ? -1 : 1;
    if (x->food != y->food)
        return x->food < y->food ? -1 : 1;
    return (x->other > y->other) - (x->other < y->other);
}

static bool take_effects(const struct log_of *g, const struct learned *log, struct arena *arena,
                         struct learned_effects *l, struct err *e)
{
    enum analyte a = g->analyte;
    for (size_t i = 0; i < l->n_foods; i++) {
        struct food_belief *b = &l->foods[a][i];
        b->effect = log->effects[i];
        b->learned = b->effect.claim && b->effect.sd < b->prior_sd;
        if (b->learned) {
            b->mean = b->effect.mean;
            b->sd = b->effect.sd;
        }
    }
    l->n_stretches[a] = log->n_stretches;
    l->n_skipped[a] = log->n_skipped - g->n_seams;
    l->scatter_high[a] = log->scatter_high;
    l->tangles[a] = arena_alloc(arena, log->n_tangles, sizeof *l->tangles[a]);
    if (!l->tangles[a])
        return err_memory(e);
    for (size_t i = 0; i < log->n_tangles; i++)
        take_tangle(&log->tangles[i], a, l);
    qsort(l->tangles[a], l->n_tangles[a], sizeof *l->tangles[a], gain_order);
    return true;
}

bool plan_learned(const struct facility *f, size_t system, long now_min, struct arena *arena,
                  struct learned_effects *out, struct err *e)
{
    *out = (struct learned_effects){0};
    if (!beliefs_begin(f, arena, out, e))
        return false;
    for (int a = 0; a < N_NUTRIENTS; a++) {
        struct log_of g = {.f = f,
                           .analyte = (enum analyte)a,
                           .from_min = now_min - LEARN_D * MIN_PER_DAY,
                           .now_min = now_min,
                           .foods = out->foods[a]};
        struct learned log;
        if (!logs_find(&g, system, arena, e))
            return false;
        out->n_systems = g.n_systems;
        if (g.n_systems == 0)
            return true;
        if (!log_make(&g, arena, e) || !learn_effects(&g.in, arena, &log, e) || !take_effects(&g, &log, arena, out, e))
            return false;
    }
    return true;
}
