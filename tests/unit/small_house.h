/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A house so small that what its sheet must say is reckoned by hand. */
#ifndef NEAP_TESTS_SMALL_HOUSE_H
#define NEAP_TESTS_SMALL_HOUSE_H

#include "neap/plan.h"

#include "delivered.h"
#include "numbers.h"

enum { DAY = 20000, LOTS = 60, FEDS_MAX = 40, FOODS = 24 };

/*
 * One tank of 100 L, one powder of ceiling 1 g, no broadcast. Untested water is fed at 0.75; the thinnest slurry is
 * half of 2 g in 100 mL, so that a mL takes 0.5 × 2 / 100 × 0.75 = 0.0075 of the day's ceiling.
 */
struct small_house {
    struct facility f;
    struct system systems[2];
    struct tank tanks[4];
    struct kind kinds[2];
    struct food foods[FOODS];
    struct lot lots[FOODS];
    struct colony colonies[LOTS];
    struct fed feds[FEDS_MAX];
    char codes[LOTS][8];
};

static struct small_house p;

static inline void house_make(void)
{
    p = (struct small_house){0};
    assert_true(settings_deliver(&p.f.settings));
    p.f.settings.loss_frac = 0;
    p.f.settings.feeders = 1;
    p.f.settings.strength_g_per_100ml = 2;
    p.f.settings.scale_step_g = 0.01;
    p.f.settings.ceiling_cloud_frac = 1; /* nothing is swallowed, and no portion is smaller: plain numbers */
    p.f.settings.portion_least_frac = 1;
    p.systems[0] =
        (struct system){.name = "s", .test_every_d = 7, .broadcast_position_m = NAN, .note = "", .volume_l = 100};
    p.tanks[0] = (struct tank){.name = "T",
                               .flow_off_limit_min = 30,
                               .pump = "",
                               .broadcast = true,
                               .hold_reason = "",
                               .note = "",
                               .net_l = 100};
    for (int i = 0; i < 2; i++)
        p.kinds[i] = (struct kind){.name = i ? "slow" : "stony",
                                   .feeding = FEEDING_CLOUD,
                                   .max_particle_um = 500,
                                   .takes_powder = true,
                                   .note = "",
                                   .source = "",
                                   .portion_ml = 1,
                                   .interval_d = 2,
                                   .colony_s = 1};
    p.foods[0] = (struct food){.name = "powder",
                               .form = FORM_POWDER,
                               .unit = UNIT_G,
                               .solids_frac = 1,
                               .n_mg_per_unit = 1,
                               .no3_effect_mg_per_unit = NAN,
                               .po4_effect_mg_per_unit = NAN,
                               .max_particle_um = 100,
                               .ceiling_units_per_100l = 1,
                               .broadcast_units_per_100l = NAN,
                               .blend_share_frac = 1,
                               .blend_share_max_frac = 1,
                               .blend_ml_per_100ml = NAN,
                               .fish_units_per_100l = NAN,
                               .opened_life_d = 90,
                               .pack_units = 100,
                               .prepare = "",
                               .note = "",
                               .source = ""};
    p.lots[0] = (struct lot){
        .code = "L", .amount_units = 1e5, .received = DAY - 90, .opened = DAY_NONE, .use_by = DAY_NONE, .note = ""};
    p.f.systems = p.systems;
    p.f.tanks = p.tanks;
    p.f.kinds = p.kinds;
    p.f.foods = p.foods;
    p.f.lots = p.lots;
    p.f.colonies = p.colonies;
    p.f.feds = p.feds;
    p.f.n_systems = p.f.n_tanks = p.f.n_foods = p.f.n_lots = 1;
    p.f.n_kinds = 2;
}

/* n more lots of a kind, each of so many corals: mL, for the portion is 1. */
static inline void house_put(size_t n, size_t kind, long count)
{
    for (size_t i = 0; i < n; i++) {
        size_t at = p.f.n_colonies++;
        assert_true(at < LOTS);
        snprintf(p.codes[at], sizeof p.codes[at], "c%02zu", at);
        p.colonies[at] = (struct colony){.code = p.codes[at],
                                         .label = "",
                                         .kind = kind,
                                         .count = count,
                                         .heads = 1,
                                         .arrived = DAY_NONE,
                                         .fed_before = DAY_NONE,
                                         .hold_reason = "",
                                         .note = "",
                                         .last_fed = DAY - 30,
                                         .last_refused = DAY_NONE,
                                         .portion_frac = 1,
                                         .look = ""};
    }
}

/* Rounds every so many days before the day, as far as the window goes. */
static inline void house_log(int every_d)
{
    for (int back = 28; back > 0; back--)
        if (back % every_d == 0)
            p.feds[p.f.n_feds++] = (struct fed){.day = DAY - back, .target_units = 0.1};
}

/* Twelve lots of 20 corals at 15 s are an hour of hands; half an hour a round is there. */
static inline void house_short_of_hands(void)
{
    house_make();
    house_put(12, 0, 20);
    house_log(2);
    p.foods[0].ceiling_units_per_100l = 10;
    p.kinds[0].colony_s = 15;
    p.f.settings.day_hands_min = 30;
}

#endif
