/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the facility's log teaches of its foods: the registers' rows as plain logs, one for each water, and what of the
 * answer the plan goes by.
 */
#include "neap/advice.h"
#include "neap/learned.h"
#include "neap/ledger.h"
#include "neap/working.h"

#include <math.h>

enum { SYSTEMS_MOST = 12 };

/*
 * A declared effect may be 0, but nobody is sure of that: a day at the ceiling may yet move the water by this part of
 * the largest wanted change. Our own choice, as are the others; no source.
 */
static const double floor_frac = 0.05;
static const double own_drift_frac = 0.5;     /* how far systems drift apart, of how far they may all drift */
static const double uptake_mean_per_d = 0.05; /* of the level; water poor in phosphate turns it over in days */
static const double error_scale_log_sd = 0.7; /* a test scatters by half to twice of what is believed */

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

/* ---- the log of each water --------------------------------------------------------------------------------------- */

struct log_of {
    const struct facility *f;
    enum analyte analyte;
    struct draws_asked asked;
    long from_min, now_min;
    const struct food_belief *foods;
    size_t *systems; /* those with a log */
    size_t n_systems;
    struct learn_system *logs; /* [n_systems] */
};

static bool is_fed(const struct log_of *g, const struct fed *fed)
{
    long moment = fed->day * MIN_PER_DAY + g->f->settings.start_min;
    return moment >= g->from_min && moment <= g->now_min;
}

struct fed_count {
    size_t system, n_feds;
};

static int most_fed(const void *left, const void *right)
{
    const struct fed_count *a = left, *b = right;
    if (a->n_feds != b->n_feds)
        return a->n_feds > b->n_feds ? -1 : 1;
    return (a->system > b->system) - (a->system < b->system);
}

/* The systems with most feedings, at most SYSTEMS_MOST: the work grows with the cube, what is learned with the root. */
static bool logs_find(struct log_of *g, size_t system, struct arena *arena, struct err *e)
{
    struct fed_count *found = arena_alloc(arena, g->f->n_systems, sizeof *found);
    g->systems = arena_alloc(arena, SYSTEMS_MOST, sizeof *g->systems);
    size_t n = 0;
    if (!found || !g->systems)
        return err_memory(e);
    for (size_t s = 0; s < g->f->n_systems; s++) {
        struct system_rows own = feds_of(g->f, s);
        if ((system != REF_NONE && s != system) || g->f->systems[s].volume_l <= 0)
            continue;
        found[n] = (struct fed_count){.system = s};
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
    const double *x = a, *y = b;
    return (*x > *y) - (*x < *y);
}

/* By its middling reading: one figure, for the scatter of the stretches is to be of one kind. */
static bool find_test_sd(const struct log_of *g, struct arena *arena, struct learn_system *log, struct err *e)
{
    double *values = arena_alloc(arena, log->n_readings, sizeof *values);
    if (!values)
        return err_memory(e);
    for (size_t i = 0; i < log->n_readings; i++)
        values[i] = log->readings[i].value;
    qsort(values, log->n_readings, sizeof *values, value_order);
    log->test_sd = analyte_test_sd(g->analyte, log->n_readings > 0 ? values[log->n_readings / 2] : 0);
    return true;
}

static bool put_readings(const struct log_of *g, size_t system, struct arena *arena, struct learn_system *log,
                         struct err *e)
{
    struct system_rows tests = tests_of(g->f, system);
    struct reading *own = arena_alloc(arena, tests.end - tests.first, sizeof *own);
    if (!own)
        return err_memory(e);
    size_t n = gather_readings(g->f, system, g->analyte, own);
    for (size_t i = 0; i < n; i++)
        if (own[i].moment_min >= g->from_min && own[i].moment_min <= g->now_min)
            own[log->n_readings++] = own[i];
    log->readings = own;
    return find_test_sd(g, arena, log, e);
}

static bool put_changes(const struct log_of *g, size_t system, struct arena *arena, struct learn_system *log,
                        struct err *e)
{
    struct water_change *own = arena_alloc(arena, g->f->n_waters, sizeof *own);
    if (!own)
        return err_memory(e);
    size_t n = gather_changes(g->f, system, g->analyte, own);
    for (size_t i = 0; i < n; i++)
        if (own[i].moment_min >= g->from_min && own[i].moment_min <= g->now_min)
            own[log->n_changes++] = own[i];
    log->changes = own;
    return true;
}

static bool put_feedings(const struct log_of *g, size_t system, struct arena *arena, struct learn_system *log,
                         struct err *e)
{
    const struct facility *f = g->f;
    struct system_rows rows = feds_of(f, system);
    struct food_given *own = arena_alloc(arena, rows.end - rows.first, sizeof *own);
    if (!own)
        return err_memory(e);
    for (size_t i = rows.first; i < rows.end; i++) {
        const struct fed *fed = &f->feds[i];
        if (!is_fed(g, fed))
            continue;
        double units = fed_in_water(f, fed, g->foods[fed->food].broadcast_ratio);
        own[log->n_feedings++] =
            (struct food_given){fed->day * MIN_PER_DAY + f->settings.start_min, fed->food, fmax(units, 0)};
    }
    log->feedings = own;
    return true;
}

static bool logs_make(struct log_of *g, struct arena *arena, struct learn_in *in, struct err *e)
{
    const struct facility *f = g->f;
    struct effect_prior *priors = arena_alloc(arena, f->n_foods, sizeof *priors);
    g->logs = arena_alloc(arena, g->n_systems, sizeof *g->logs);
    if (!priors || !g->logs)
        return err_memory(e);
    for (size_t i = 0; g->foods && i < f->n_foods; i++)
        priors[i] = (struct effect_prior){g->foods[i].declared, g->foods[i].prior_sd};
    for (size_t i = 0; i < g->n_systems; i++) {
        struct learn_system *log = &g->logs[i];
        log->volume_l = f->systems[g->systems[i]].volume_l;
        if (!put_readings(g, g->systems[i], arena, log, e) || !put_changes(g, g->systems[i], arena, log, e) ||
            (g->foods && !put_feedings(g, g->systems[i], arena, log, e)))
            return false;
    }
    double drift_sd = analytes[g->analyte].change_per_day_max;
    *in = (struct learn_in){
        .systems = g->logs,
        .n_systems = g->n_systems,
        .priors = priors,
        .n_foods = g->foods ? f->n_foods : 0,
        .background = {0, drift_sd},
        .apart_sd = own_drift_frac * drift_sd,
        .uptake_mean_per_d = g->foods ? uptake_mean_per_d : 0,
        .drifts = true,
        .error_scale_log_sd = error_scale_log_sd,
        .confidence_frac = TREND_CONFIDENCE_FRAC,
        .n_draws = g->asked.n,
        .seed = g->asked.seed,
        .now_min = g->now_min,
    };
    return true;
}

/* ---- what the log says ------------------------------------------------------------------------------------------ */

/* What two stretches would tell most of comes first; what they would tell as much of stays in the log's order. */
static void collinear_insert(struct food_collinear *list, size_t n, struct food_collinear next)
{
    for (; n > 0 && next.sd_after / next.sd_now < list[n - 1].sd_after / list[n - 1].sd_now; n--)
        list[n] = list[n - 1];
    list[n] = next;
}

/*
 * A food is counted as lowering a nutrient only where that is declared: a log that says so of any other food more
 * likely tells of the label, the test kit or the water. Where the log says that a food declared to lower it raises it,
 * neither is used.
 */
static void belief_take(const struct food *food, enum analyte a, struct food_belief *b)
{
    bool may_lower = b->declared < 0 || (a == ANALYTE_PO4 && food->strips_po4);
    bool shown = b->effect.claim && b->effect.sd < b->prior_sd;
    b->against = shown && (b->effect.mean < 0 ? !may_lower : b->declared < 0);
    b->learned = shown && !b->against;
    if (b->learned) {
        b->mean = b->effect.mean;
        b->sd = b->effect.sd;
    } else if (b->against && b->declared < 0) {
        b->mean = 0;
    }
}

static bool take_collinears(const struct learned *log, enum analyte a, struct arena *arena, struct learned_effects *l,
                            struct err *e)
{
    l->collinears[a] = arena_alloc(arena, log->n_collinears, sizeof *l->collinears[a]);
    if (!l->collinears[a])
        return err_memory(e);
    for (size_t i = 0; i < log->n_collinears; i++) {
        const struct collinear *t = &log->collinears[i];
        size_t other = t->other == LEARN_BACKGROUND ? FOOD_BACKGROUND : t->other;
        collinear_insert(l->collinears[a], l->n_collinears[a]++,
                         (struct food_collinear){t->food, other, t->cosine, t->sd_now, t->sd_after});
    }
    return true;
}

/* Of each system of the facility, and what is left open of the background of one that was not learned from. */
static bool take_draws(const struct log_of *g, const struct learn_in *in, const struct learned *log,
                       struct arena *arena, struct learned_effects *l, struct err *e)
{
    enum analyte a = g->analyte;
    bool *drawn = arena_alloc(arena, g->f->n_systems, sizeof *drawn);
    l->draws[a] = arena_alloc(arena, g->f->n_systems, sizeof *l->draws[a]);
    if (!drawn || !l->draws[a])
        return err_memory(e);
    for (size_t i = 0; i < g->n_systems; i++) {
        l->draws[a][g->systems[i]] = log->draws[i];
        drawn[g->systems[i]] = true;
    }
    l->drawn[a] = drawn;
    l->background[a] = (struct effect_prior){log->background.mean, hypot(log->background.sd, in->apart_sd)};
    return true;
}

static bool take_effects(const struct log_of *g, const struct learned *log, struct arena *arena,
                         struct learned_effects *l, struct err *e)
{
    enum analyte a = g->analyte;
    for (size_t i = 0; i < l->n_foods; i++) {
        l->foods[a][i].effect = log->effects[i];
        belief_take(&g->f->foods[i], a, &l->foods[a][i]);
    }
    l->n_stretches[a] = log->n_stretches;
    l->n_skipped[a] = log->n_skipped;
    l->error_scale_high[a] = log->error_scale_high;
    l->misfit[a] = log->misfit;
    return take_collinears(log, a, arena, l, e);
}

bool plan_learned(const struct facility *f, const struct learned_in *in, struct arena *arena,
                  struct learned_effects *out, struct err *e)
{
    *out = (struct learned_effects){.asked = in->draws};
    if (!beliefs_begin(f, arena, out, e))
        return false;
    for (int a = 0; a < N_NUTRIENTS; a++) {
        struct log_of g = {.f = f,
                           .analyte = (enum analyte)a,
                           .asked = in->draws,
                           .from_min = in->now_min - LEARN_D * MIN_PER_DAY,
                           .now_min = in->now_min,
                           .foods = out->foods[a]};
        struct learn_in learn;
        struct learned log;
        out->background[a] = (struct effect_prior){0, analytes[a].change_per_day_max};
        if (!logs_find(&g, in->system, arena, e))
            return false;
        out->n_systems = g.n_systems;
        if (g.n_systems == 0)
            continue;
        if (!logs_make(&g, arena, &learn, e) || !learn_effects(&learn, arena, &log, e) ||
            !take_effects(&g, &log, arena, out, e) || !take_draws(&g, &learn, &log, arena, out, e))
            return false;
    }
    return true;
}

/* ---- one water's draws ------------------------------------------------------------------------------------------ */

/* Foods as the plan goes by them; what is left open of them is never nothing. */
static bool beliefs_take(const struct learned_effects *l, enum analyte a, struct arena *arena, struct learn_in *in,
                         struct err *e)
{
    struct effect_prior *priors = arena_alloc(arena, l->n_foods, sizeof *priors);
    if (!priors)
        return err_memory(e);
    for (size_t i = 0; i < l->n_foods; i++) {
        const struct food_belief *b = &l->foods[a][i];
        priors[i] = (struct effect_prior){b->mean, b->learned ? b->sd : b->prior_sd};
    }
    in->priors = priors;
    in->background = l->background[a];
    return true;
}

bool water_draws(const struct facility *f, const struct learned_effects *l, size_t system, enum analyte a, long now_min,
                 struct arena *arena, const struct water_draw **draws, struct err *e)
{
    bool nutrient = a < N_NUTRIENTS;
    if (nutrient && l->drawn[a] && l->drawn[a][system]) {
        *draws = l->draws[a][system];
        return true;
    }
    struct log_of g = {.f = f,
                       .analyte = a,
                       .asked = l->asked,
                       .from_min = now_min - LEARN_D * MIN_PER_DAY,
                       .now_min = now_min,
                       .foods = nutrient ? l->foods[a] : NULL,
                       .systems = &system,
                       .n_systems = 1};
    struct learn_in in;
    struct learned log;
    if (!logs_make(&g, arena, &in, e) || (nutrient && !beliefs_take(l, a, arena, &in, e)) ||
        !learn_effects(&in, arena, &log, e))
        return false;
    *draws = log.draws[0];
    return true;
}
