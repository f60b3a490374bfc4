/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Houses of three waters with a log, simulated from event to event: what takes the nutrient up is constant, in
 * proportion to the level, seasonal, or changes at once; foods come in one proportion, or one of them rises over the
 * months. As in a real house more is fed while a level is low and less while it is high, so that feeding and level hang
 * together.
 */
#ifndef NEAP_HOUSE_SIM_H
#define NEAP_HOUSE_SIM_H

#include "tests.h"

#include "neap/facility.h"
#include "neap/advice.h"

enum { WATERS = 3, FOODS = 3, DAYS = 182, LAST_DAY = 20784 };

/* What a water does, a day: its source less constant uptake, swung by season, less a part of its level. Invented. */
struct scenario {
    const char *title;
    double uptake_low, uptake_high; /* part of the level taken up a day, drawn between the two */
    double season_frac;             /* the source swings by this part of itself, once a year */
    double step_frac;               /* from some day on the source is more or less by this part */
    bool together;                  /* all foods in one proportion */
    bool rising;                    /* the second food from a fifth to twice of its amount over the log */
    int log_d;                      /* days of log; 0: DAYS */
    double away_frac;               /* the source is off what would hold the first level by up to this part */
};

static const double declared[N_NUTRIENTS][FOODS] = {{100, 27.6, 60}, {6, 1.2, 4}};
static const double amount_g[FOODS] = {12, 20, 8};
static const double first_level[N_NUTRIENTS] = {8, 0.1};

/* ---- chance ----------------------------------------------------------------------------------------------------- */

static inline double chance(unsigned *seed)
{
    unsigned x = *seed += 0x9e3779b9u; /* a counter, mixed as in splitmix (Steele, Lea and Flood 2014) */
    x = (x ^ x >> 16) * 0x21f0aaadu;
    x = (x ^ x >> 15) * 0x735a2d97u;
    return ((x ^ x >> 15) >> 8) / 16777216.0;
}

static inline double chance_between(unsigned *seed, double low, double high)
{
    return low + (high - low) * chance(seed);
}

static inline double chance_gauss(unsigned *seed)
{
    double sum = -6;
    for (int i = 0; i < 12; i++)
        sum += chance(seed);
    return sum;
}

/* ---- a house ---------------------------------------------------------------------------------------------------- */

struct water_of {
    double volume_l, change_frac;
    double level[N_NUTRIENTS], source[N_NUTRIENTS], uptake[N_NUTRIENTS];
    double said[N_NUTRIENTS]; /* by the last test: what the feeder goes by */
    double swing;             /* where in the year the season begins */
    int step_day;
    double step;
};

struct house {
    struct facility f;
    double effect[N_NUTRIENTS][FOODS]; /* the truth */
    double kit[N_NUTRIENTS];           /* what the tests scatter by, of what they are believed to */
    struct water_of end[WATERS];       /* after the last day */
    unsigned seed;
};

static inline void house_open(struct house *h, unsigned seed)
{
    static const char *const foods[FOODS] = {"rich powder", "lean powder", "krill"};
    static const char *const systems[WATERS] = {"one", "two", "three"};
    *h = (struct house){.seed = seed};
    struct facility *f = &h->f;
    f->settings = (struct settings){.start_min = 8 * 60, .effect_sd_frac = 0.3};
    f->foods = arena_alloc(&f->arena, FOODS, sizeof *f->foods);
    f->systems = arena_alloc(&f->arena, WATERS, sizeof *f->systems);
    f->tests = arena_alloc(&f->arena, WATERS * DAYS * N_NUTRIENTS, sizeof *f->tests);
    f->waters = arena_alloc(&f->arena, WATERS * DAYS, sizeof *f->waters);
    f->feds = arena_alloc(&f->arena, WATERS * DAYS * FOODS, sizeof *f->feds);
    assert_true(f->foods && f->systems && f->tests && f->waters && f->feds);
    for (; f->n_foods < FOODS; f->n_foods++)
        f->foods[f->n_foods] = (struct food){.name = foods[f->n_foods],
                                             .ceiling_units_per_100l = 5,
                                             .no3_effect_mg_per_unit = declared[ANALYTE_NO3][f->n_foods],
                                             .po4_effect_mg_per_unit = declared[ANALYTE_PO4][f->n_foods]};
    for (; f->n_systems < WATERS; f->n_systems++)
        f->systems[f->n_systems] = (struct system){.name = systems[f->n_systems], .test_every_d = 4, .volume_l = 1500};
    for (int a = 0; a < N_NUTRIENTS; a++) {
        h->kit[a] = chance_between(&h->seed, 0.3, 1);
        for (size_t i = 0; i < FOODS; i++)
            h->effect[a][i] = declared[a][i] * fmax(0.05, 1 + 0.3 * chance_gauss(&h->seed));
    }
}

/* The source about balances what is taken up at the level of the first day, less what food brings. */
static inline struct water_of water_open(struct house *h, const struct scenario *s)
{
    unsigned *seed = &h->seed;
    struct water_of w = {.volume_l = 1500,
                         .change_frac = chance_between(seed, 0.03, 0.12),
                         .swing = chance(seed),
                         .step_day = (int)chance_between(seed, 60, 120),
                         .step = chance(seed) < 0.5 ? -1 : 1};
    for (int a = 0; a < N_NUTRIENTS; a++) {
        double food = 0, start = first_level[a] * chance_between(seed, 0.7, 1.4);
        for (size_t i = 0; i < FOODS; i++)
            food += 3.0 / 7 * amount_g[i] * h->effect[a][i] / w.volume_l;
        double lost = w.change_frac / 7 * start;
        w.level[a] = w.said[a] = start;
        w.uptake[a] = chance_between(seed, s->uptake_low, s->uptake_high);
        w.source[a] = w.uptake[a] * start + lost - food + chance_between(seed, -0.01, 0.02) * start;
        if (s->away_frac > 0)
            w.source[a] += chance_between(seed, -s->away_frac, s->away_frac) * (w.uptake[a] * start + lost);
    }
    return w;
}

static inline void day_test(struct house *h, size_t system, int day, struct water_of *w)
{
    struct facility *f = &h->f;
    static const double step[N_NUTRIENTS] = {0.1, 0.01}, limit[N_NUTRIENTS] = {0.5, 0.02};
    for (int a = 0; a < N_NUTRIENTS; a++) {
        double sd = h->kit[a] * (analytes[a].error_abs + analytes[a].error_frac * w->level[a]) / 2;
        double value = step[a] * floor((w->level[a] + sd * chance_gauss(&h->seed)) / step[a] + 0.5);
        bool below = value < limit[a];
        w->said[a] = below ? limit[a] : value;
        f->tests[f->n_tests++] = (struct test){.system = system,
                                               .taken = day * MIN_PER_DAY + 7 * 60,
                                               .analyte = a,
                                               .repeat = 1,
                                               .value = w->said[a],
                                               .below = below,
                                               .method = "photometer"};
    }
}

static inline void day_feed(struct house *h, const struct scenario *s, size_t system, int day, struct water_of *w)
{
    struct facility *f = &h->f;
    double passed = (double)(day - (LAST_DAY - DAYS)) / DAYS, high = w->said[ANALYTE_NO3] / first_level[ANALYTE_NO3];
    double strength = (high > 1.3 ? 0.7 : high < 0.7 ? 1.3 : 1) * chance_between(&h->seed, 0.7, 1.3);
    for (size_t i = 0; i < FOODS; i++) {
        double units = amount_g[i] * strength * (s->together ? 1 : chance_between(&h->seed, 0.5, 1.5));
        if (s->rising && i == 1)
            units *= 0.2 + 1.8 * passed;
        if (!s->together && chance(&h->seed) < 0.15)
            continue;
        f->feds[f->n_feds++] = (struct fed){.system = system, .food = i, .day = day, .target_units = units};
        for (int a = 0; a < N_NUTRIENTS; a++)
            w->level[a] += units * h->effect[a][i] / w->volume_l;
    }
}

/* Exact between events: source and uptake are steady for some hours. */
static inline void hours_pass(const struct scenario *s, int day, double hours, struct water_of *w)
{
    double season = 1 + s->season_frac * sin(6.283185307179586 * (day / 365.25 + w->swing));
    double step = day - (LAST_DAY - DAYS) >= w->step_day ? 1 + w->step * s->step_frac : 1;
    for (int a = 0; a < N_NUTRIENTS; a++) {
        double source = w->source[a] + fabs(w->source[a]) * (season * step - 1), uptake = w->uptake[a];
        double kept = exp(-uptake * hours / 24), gain = uptake > 0 ? (1 - kept) / uptake : hours / 24;
        w->level[a] = fmax(0, w->level[a] * kept + source * gain);
    }
}

static inline void house_live(struct house *h, const struct scenario *s)
{
    struct facility *f = &h->f;
    for (size_t i = 0; i < WATERS; i++) {
        struct water_of w = water_open(h, s);
        for (int day = LAST_DAY - (s->log_d > 0 ? s->log_d : DAYS) + 1; day <= LAST_DAY; day++) {
            hours_pass(s, day, 7, &w);
            if (day % 7 == 1 || day % 7 == 4)
                day_test(h, i, day, &w);
            hours_pass(s, day, 1, &w);
            if (day % 7 == 0 || day % 7 == 2 || day % 7 == 5)
                day_feed(h, s, i, day, &w);
            hours_pass(s, day, 7, &w);
            if (day % 7 == 3) {
                f->waters[f->n_waters++] = (struct water){.system = i,
                                                          .exchanged = day * MIN_PER_DAY + 15 * 60,
                                                          .repeat = 1,
                                                          .volume_l = w.change_frac * w.volume_l};
                for (int a = 0; a < N_NUTRIENTS; a++)
                    w.level[a] *= 1 - w.change_frac;
            }
            hours_pass(s, day, 9, &w);
        }
        h->end[i] = w;
    }
}

#endif
