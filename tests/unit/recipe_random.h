/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Random rounds for the recipe's property tests and for its cross-check with other solvers. Same seed, same round.
 * Invented facilities: sizes, foods and states are drawn so that every limit binds in some rounds.
 */
#ifndef NEAP_TESTS_RECIPE_RANDOM_H
#define NEAP_TESTS_RECIPE_RANDOM_H

#include "neap/recipe.h"
#include "neap/stock.h"

enum { RANDOM_FOODS = 8, RANDOM_SYSTEMS = 12, RANDOM_TANKS = 24 };

struct random_recipe {
    struct recipe_food foods[RANDOM_FOODS];
    struct recipe_system systems[RANDOM_SYSTEMS];
    struct recipe_tank tanks[RANDOM_TANKS];
    bool may_eat[RANDOM_SYSTEMS * RANDOM_FOODS];
    struct recipe_problem problem;
    uint64_t state;
};

/* splitmix64 (Steele, Lea, Flood 2014), as a number from 0 up to 1. */
static double draw(struct random_recipe *r)
{
    uint64_t z = (r->state += 0x9E3779B97F4A7C15u);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0;
}

static double draw_from(struct random_recipe *r, double low, double high)
{
    return low + (high - low) * draw(r);
}

static size_t draw_count(struct random_recipe *r, size_t low, size_t high)
{
    return low + (size_t)((double)(high - low + 1) * draw(r));
}

static bool draw_chance(struct random_recipe *r, double chance)
{
    return draw(r) < chance;
}

static void draw_food(struct random_recipe *r, size_t i)
{
    static const char *const names[RANDOM_FOODS] = {"rich powder",       "lean powder", "fine powder", "soft pellet",
                                                    "amino-acid liquid", "live algae",  "egg liquid",  "algal paste"};
    struct recipe_food *f = &r->foods[i];
    *f = (struct recipe_food){.name = names[i], .liquid = i >= 4 && i < 7, .late = i == 3};
    f->solids_g_per_unit = f->liquid ? 0 : i == 3 ? 0.8 : i == 7 ? 0.17 : 0.93;
    f->strips = i == 1 && draw_chance(r, 0.5);
    f->effect_mg[RECIPE_NO3] = f->liquid ? draw_from(r, -0.2, 6) : draw_from(r, 20, 150);
    f->effect_mg[RECIPE_PO4] = f->strips ? draw_from(r, -4, 0) : f->liquid ? draw_from(r, 0, 0.5) : draw_from(r, 2, 30);
    for (int a = 0; a < RECIPE_ANALYTES; a++) {
        double sd = fabs(f->effect_mg[a]) * draw_from(r, 0, 0.3);
        f->effect_low_mg[a] = f->effect_mg[a] - sd;
        f->effect_high_mg[a] = f->effect_mg[a] + sd;
    }
    if (f->liquid) {
        f->house_ml_per_100ml = draw_from(r, 0, 4);
        f->min_ml_per_100ml = draw_chance(r, 0.2) ? draw_from(r, 0, 1) : 0;
        f->max_ml_per_100ml = draw_from(r, 4, 20);
        f->broadcast_ml_per_100l = draw_chance(r, 0.5) ? draw_from(r, 0.2, 5) : 0;
    } else {
        f->house_share_frac = i == 3 ? 1 : draw_from(r, 0, 0.5);
        f->share_min_frac = draw_chance(r, 0.2) ? draw_from(r, 0, 0.3) : 0;
        f->share_max_frac = draw_chance(r, 0.4) ? draw_from(r, 0.35, 1) : 1;
    }
    f->ceiling_per_100l = draw_chance(r, 0.1) ? INFINITY : f->liquid ? draw_from(r, 0.7, 40) : draw_from(r, 0.06, 0.5);
    f->stock = draw_chance(r, 0.1) ? 0 : draw_chance(r, 0.3) ? draw_from(r, 0.5, 8) : draw_from(r, 50, 500);
    f->price_cents = draw_from(r, 0.5, 60);
    f->step = f->liquid ? 0.5 : 0.1;
    f->premixes = !f->late;
}

static void draw_system(struct random_recipe *r, size_t i)
{
    static const char *const names[RANDOM_SYSTEMS] = {"north",   "south",      "east",   "west", "rack",  "display",
                                                      "nursery", "quarantine", "cellar", "yard", "attic", "pier"};
    struct recipe_system *s = &r->systems[i];
    *s = (struct recipe_system){.name = names[i], .volume_l = draw_from(r, 300, 6000)};
    for (int a = 0; a < RECIPE_ANALYTES; a++) {
        double scale = a == RECIPE_NO3 ? 1 : 0.01;
        s->band_mg[a] = s->volume_l * scale * draw_from(r, 4, 10);
        bool known = draw_chance(r, 0.8);
        s->low_room_mg[a] = known ? s->volume_l * scale * draw_from(r, -5, 0.3) : -INFINITY;
        s->high_room_mg[a] = known ? s->volume_l * scale * draw_from(r, -0.2, 1.5) : INFINITY;
        s->max_rise_mg[a] = draw_chance(r, 0.5) ? s->volume_l * scale * draw_from(r, 0.1, 2) : INFINITY;
        s->max_fall_mg[a] = draw_chance(r, 0.5) ? s->volume_l * scale * draw_from(r, 0, 2) : INFINITY;
    }
    s->full_frac = draw_from(r, 0.5, 1.5);
    s->lean_frac = fmin(s->full_frac, draw_from(r, 0.25, 0.6));
    s->own_pot = draw_chance(r, 0.1);
    s->po4_starved = draw_chance(r, 0.15);
    s->load_frac = draw_chance(r, 0.3) ? draw_from(r, 0, 1.1) : 0;
}

static void draw_tank(struct random_recipe *r, size_t i, size_t n_systems)
{
    static const char *const names[RANDOM_TANKS] = {"A", "B", "C", "D", "E", "F", "G", "H", "I", "J", "K", "L",
                                                    "M", "N", "O", "P", "Q", "R", "S", "T", "U", "V", "W", "X"};
    struct recipe_tank *t = &r->tanks[i];
    *t = (struct recipe_tank){.name = names[i]};
    t->system = i < n_systems ? i : draw_count(r, 0, n_systems - 1);
    t->net_volume_l = draw_from(r, 100, 1500);
    t->slurry_ml = draw_chance(r, 0.9) ? round_up_to(draw_from(r, 5, 120), 0.5) : 0;
    t->late_slurry_ml = draw_chance(r, 0.2) ? round_up_to(draw_from(r, 5, 40), 0.5) : 0;
    t->counted_frac = draw_from(r, 0.3, 1);
    t->late_counted_frac = draw_from(r, 0.3, 1);
    t->broadcast_frac = draw_chance(r, 0.6) ? 0 : draw_chance(r, 0.5) ? 1 : draw_from(r, 0.1, 1);
}

/*
 * What of it reaches the water, and which way the states would move the blend: drawn last, so that all else stays as it
 * is.
 */
static void draw_ways(struct random_recipe *r)
{
    for (size_t i = 0; i < r->problem.n_tanks; i++) {
        struct recipe_tank *t = &r->tanks[i];
        t->rest_ml = draw_from(r, 0, 0.3) * t->slurry_ml;
        t->late_rest_ml = draw_from(r, 0, 0.3) * t->late_slurry_ml;
    }
    for (size_t i = 0; i < r->problem.n_systems; i++)
        for (int a = 0; a < RECIPE_ANALYTES; a++) {
            struct recipe_system *s = &r->systems[i];
            s->beside_mg[a] = draw_chance(r, 0.5) ? s->volume_l * (a == RECIPE_NO3 ? 0.02 : 0.0002) : 0;
            s->beside_low_mg[a] = 0.8 * s->beside_mg[a];
            s->beside_high_mg[a] = 1.2 * s->beside_mg[a];
            s->shift_frac[a] = draw_chance(r, 0.4) ? draw_from(r, -0.3, 0.3) : 0;
        }
}

/* A round with 1 to most_systems systems. Points into *r: do not copy. */
static void random_round_draw(struct random_recipe *r, uint64_t seed, size_t most_systems)
{
    *r = (struct random_recipe){.state = seed * 0x2545F4914F6CDD1Du + 1};
    size_t n_systems = draw_count(r, 1, most_systems), n_tanks = n_systems + draw_count(r, 0, n_systems);
    for (size_t i = 0; i < RANDOM_FOODS; i++)
        draw_food(r, i);
    for (size_t i = 0; i < n_systems; i++)
        draw_system(r, i);
    for (size_t i = 0; i < n_tanks; i++)
        draw_tank(r, i, n_systems);
    for (size_t i = 0; i < COUNT_OF(r->may_eat); i++)
        r->may_eat[i] = draw_chance(r, 0.85);
    if (draw_chance(r, 0.4)) /* a round with no stock short, which groups by a quicker way */
        for (size_t i = 0; i < RANDOM_FOODS; i++)
            r->foods[i].stock *= 1e6;
    r->problem = (struct recipe_problem){
        .foods = r->foods,
        .n_foods = RANDOM_FOODS,
        .systems = r->systems,
        .n_systems = n_systems,
        .tanks = r->tanks,
        .n_tanks = n_tanks,
        .may_eat = r->may_eat,
        .house_g_per_100ml = draw_from(r, 0.5, 2),
        .jug = {.dead_ml = draw_from(r, 0, 10), .step_ml = 5},
        .syringe_step_ml = 0.5,
        .premix_ml = draw_chance(r, 0.5) ? 100 : 0,
        .max_pots = draw_chance(r, 0.3) ? draw_count(r, 1, 4) : 0,
        .band_tolerance = draw_chance(r, 0.5) ? 0.02 : 0,
        .strength_tolerance_frac = draw_from(r, 0, 1),
    };
    draw_ways(r);
}

#endif
