/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A made-up facility with a log whose truth is known: each system is fed three days a week, tested twice, changed once,
 * and its level is the running balance of foods, drift and water changes.
 */
#ifndef NEAP_LOG_SIM_H
#define NEAP_LOG_SIM_H

#include "tests.h"

#include "neap/facility.h"

enum { SIM_FOODS = 3, SIM_SYSTEMS_MAX = 4, SIM_DAYS_MAX = 200 };

struct sim {
    size_t n_systems;
    int days, last_day;
    double volume_l, change_frac;
    double no3_start[SIM_SYSTEMS_MAX], po4_start[SIM_SYSTEMS_MAX];
    double no3_drift_per_d[SIM_SYSTEMS_MAX], po4_drift_per_d[SIM_SYSTEMS_MAX];
    double no3_effect[SIM_FOODS], po4_effect[SIM_FOODS]; /* the truth, mg per g */
    double no3_declared[SIM_FOODS], po4_declared[SIM_FOODS];
    double amount_g[SIM_FOODS]; /* middling, of a feeding day; 0: never given */
    bool in_step;               /* all foods in one proportion */
    double noise;               /* of what the tests are believed to scatter; 0: none */
    unsigned seed;
};

static inline double sim_uniform(unsigned *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (*seed >> 8) / 16777216.0;
}

static inline double sim_gauss(unsigned *seed)
{
    double sum = -6;
    for (int i = 0; i < 12; i++)
        sum += sim_uniform(seed);
    return sum;
}

static inline void sim_foods(const struct sim *s, struct facility *f)
{
    static const char *const names[SIM_FOODS] = {"powder", "krill", "mysid"};
    f->foods = arena_alloc(&f->arena, SIM_FOODS, sizeof *f->foods);
    assert_non_null(f->foods);
    f->n_foods = SIM_FOODS;
    for (size_t i = 0; i < SIM_FOODS; i++)
        f->foods[i] = (struct food){.name = names[i],
                                    .unit = UNIT_G,
                                    .form = FORM_FROZEN,
                                    .solids_frac = 0.2,
                                    .n_mg_per_unit = 20,
                                    .p_mg_per_unit = 2,
                                    .ceiling_units_per_100l = 1,
                                    .no3_effect_mg_per_unit = s->no3_declared[i],
                                    .po4_effect_mg_per_unit = s->po4_declared[i],
                                    .note = "",
                                    .source = ""};
}

static inline void sim_day(const struct sim *s, struct facility *f, size_t system, int day, double level[2],
                           unsigned *seed)
{
    long at = day * MIN_PER_DAY;
    double all = 0.5 + sim_uniform(seed);
    if (day % 7 == 1 || day % 7 == 4)
        for (int a = 0; a < 2; a++) {
            double sd = (analytes[a].error_abs + analytes[a].error_frac * level[a]) / 2;
            double value = fmax(0.001, level[a] + s->noise * sd * sim_gauss(seed));
            f->tests[f->n_tests++] = (struct test){.system = system,
                                                   .taken = at + 7 * 60,
                                                   .analyte = a,
                                                   .repeat = 1,
                                                   .value = value,
                                                   .method = "photometer",
                                                   .note = ""};
        }
    if (day % 7 == 0 || day % 7 == 2 || day % 7 == 5)
        for (size_t i = 0; i < SIM_FOODS; i++) {
            double g = s->amount_g[i] * (s->in_step ? all : 2 * sim_uniform(seed));
            if (s->amount_g[i] <= 0)
                continue;
            f->feds[f->n_feds++] = (struct fed){.system = system, .food = i, .day = day, .target_units = g};
            level[0] += g * s->no3_effect[i] / s->volume_l;
            level[1] += g * s->po4_effect[i] / s->volume_l;
        }
    level[0] = fmax(0, level[0] + s->no3_drift_per_d[system]);
    level[1] = fmax(0, level[1] + s->po4_drift_per_d[system]);
    if (day % 7 == 3 && s->change_frac > 0) {
        f->waters[f->n_waters++] = (struct water){.system = system,
                                                  .exchanged = at + 23 * 60,
                                                  .repeat = 1,
                                                  .volume_l = s->change_frac * s->volume_l,
                                                  .note = ""};
        level[0] *= 1 - s->change_frac;
        level[1] *= 1 - s->change_frac;
    }
}

/* The facility; freed with facility_free. The last day simulated is last_day. */
static inline struct facility sim_facility(const struct sim *s)
{
    static const char *const names[SIM_SYSTEMS_MAX] = {"one", "two", "three", "four"};
    struct facility f = {0};
    unsigned seed = s->seed;
    f.settings = (struct settings){.facility = "made up",
                                   .start_min = 8 * 60,
                                   .window_d = 28,
                                   .stale_d = 14,
                                   .effect_sd_frac = 0.3,
                                   .lean_frac = 0.25,
                                   .full_frac = 1.5,
                                   .rise_frac_per_week = 0.25,
                                   .n_released_target_frac = 0.4,
                                   .p_released_target_frac = 0.3,
                                   .n_released_broadcast_frac = 0.6,
                                   .p_released_broadcast_frac = 0.6};
    size_t rows = s->n_systems * (size_t)s->days;
    f.systems = arena_alloc(&f.arena, s->n_systems, sizeof *f.systems);
    f.tests = arena_alloc(&f.arena, 2 * rows, sizeof *f.tests);
    f.waters = arena_alloc(&f.arena, rows, sizeof *f.waters);
    f.feds = arena_alloc(&f.arena, SIM_FOODS * rows, sizeof *f.feds);
    assert_true(f.systems && f.tests && f.waters && f.feds);
    sim_foods(s, &f);
    for (size_t i = 0; i < s->n_systems; i++) {
        double level[2] = {s->no3_start[i], s->po4_start[i]};
        f.systems[f.n_systems++] =
            (struct system){.name = names[i], .test_every_d = 4, .volume_l = s->volume_l, .note = ""};
        for (int day = s->last_day - s->days + 1; day <= s->last_day; day++)
            sim_day(s, &f, i, day, level, &seed);
    }
    return f;
}

#endif
