/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Random facilities for the properties of whole rounds. Same seed, same facility. Invented: sizes, foods, states and
 * holds are drawn so that every guard bites in some of them.
 */
#ifndef NEAP_TESTS_FACILITY_RANDOM_H
#define NEAP_TESTS_FACILITY_RANDOM_H

#include "delivered.h"

#include "neap/plan.h"

enum {
    RANDOM_DAY = 20000,
    RANDOM_SYSTEMS = 5,
    RANDOM_TANKS = 12,
    RANDOM_KINDS = 7,
    RANDOM_FOODS = 9,
    RANDOM_LOTS = 24,
    RANDOM_COLONIES = 90,
    RANDOM_TESTS = 120,
    RANDOM_FEDS = 60
};

struct random_facility {
    struct facility f;
    struct system systems[RANDOM_SYSTEMS];
    struct tank tanks[RANDOM_TANKS];
    struct kind kinds[RANDOM_KINDS];
    struct food foods[RANDOM_FOODS];
    struct lot lots[RANDOM_LOTS];
    struct colony colonies[RANDOM_COLONIES];
    struct test tests[RANDOM_TESTS];
    struct strength strengths[RANDOM_SYSTEMS];
    struct fed feds[RANDOM_FEDS];
    bool starved[RANDOM_SYSTEMS]; /* phosphate never seen, nitrate present */
    char names[RANDOM_COLONIES][8];
    uint64_t state;
};

/* splitmix64 (Steele, Lea, Flood 2014), as a number from 0 up to 1. */
static double draw(struct random_facility *r)
{
    uint64_t z = (r->state += 0x9E3779B97F4A7C15u);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0;
}

static double draw_from(struct random_facility *r, double low, double high)
{
    return low + (high - low) * draw(r);
}

static long draw_count(struct random_facility *r, long low, long high)
{
    return low + (long)((double)(high - low + 1) * draw(r));
}

static bool draw_chance(struct random_facility *r, double chance)
{
    return draw(r) < chance;
}

static void draw_settings(struct random_facility *r)
{
    struct settings *s = &r->f.settings;
    static const double scales[] = {0.01, 0.1, 0.5}, syringes[] = {0.1, 1, 5}, jugs[] = {1, 5, 10};
    if (!settings_deliver(s))
        abort();
    s->scale_step_g = scales[draw_count(r, 0, 2)];
    s->syringe_step_ml = syringes[draw_count(r, 0, 2)];
    s->pot_step_ml = jugs[draw_count(r, 0, 2)];
    s->strength_g_per_100ml = draw_from(r, 0.5, 4);
    s->feeders = draw_count(r, 1, 3);
    s->day_hands_min = draw_chance(r, 0.2) ? draw_from(r, 10, 60) : 180;
    s->premix_ml = draw_chance(r, 0.5) ? 100 : 0;
    s->loss_frac = draw_from(r, 0, 0.2);
}

static void draw_kinds(struct random_facility *r)
{
    static const struct kind kinds[RANDOM_KINDS] = {
        {.name = "brain",
         .feeding = FEEDING_TARGET,
         .course = COURSE_LATE,
         .max_particle_um = 8000,
         .portion_ml = 1,
         .mouth_rule = MOUTHS_ALL,
         .takes_powder = true,
         .takes_pellet = true,
         .takes_frozen = true,
         .flow_off_min = 15},
        {.name = "cup",
         .feeding = FEEDING_TARGET,
         .max_particle_um = 1500,
         .portion_ml = 0.2,
         .mouth_rule = MOUTHS_FRACTION,
         .mouth_frac = 0.5,
         .mouth_min = 1,
         .takes_powder = true,
         .takes_frozen = true,
         .flow_off_min = 15},
        {.name = "gonio",
         .feeding = FEEDING_CLOUD,
         .max_particle_um = 100,
         .portion_ml = 1,
         .takes_powder = true,
         .flow_off_min = 15},
        {.name = "leather", .feeding = FEEDING_BROADCAST, .max_particle_um = 200, .takes_powder = true},
        {.name = "palythoa", .feeding = FEEDING_NONE, .max_particle_um = 1500},
        {.name = "stony",
         .feeding = FEEDING_CLOUD,
         .max_particle_um = 500,
         .portion_ml = 0.5,
         .takes_powder = true,
         .flow_off_min = 10},
        {.name = "sun",
         .feeding = FEEDING_TARGET,
         .course = COURSE_LATE,
         .max_particle_um = 3000,
         .portion_ml = 0.3,
         .mouth_rule = MOUTHS_ONE,
         .takes_frozen = true,
         .flow_off_min = 15,
         .mouth_s = 2},
    };
    memcpy(r->kinds, kinds, sizeof kinds);
    for (size_t i = 0; i < RANDOM_KINDS; i++) {
        struct kind *k = &r->kinds[i];
        k->note = k->source = "";
        k->need = draw_chance(r, 0.3) ? NEED_OBLIGATE : draw_chance(r, 0.3) ? NEED_OPTIONAL : NEED_REGULAR;
        k->interval_d = (double)draw_count(r, 1, 7);
        k->colony_s = draw_from(r, 3, 20);
        if (draw_chance(r, 0.1))
            k->max_particle_um *= 0.3;
    }
    r->f.kinds = r->kinds;
    r->f.n_kinds = RANDOM_KINDS;
}

static void draw_foods(struct random_facility *r)
{
    static const struct food foods[RANDOM_FOODS] = {
        {.name = "amino",
         .form = FORM_LIQUID,
         .unit = UNIT_ML,
         .n_mg_per_unit = 0.5,
         .ceiling_units_per_100l = 10,
         .broadcast_units_per_100l = 5,
         .blend_share_frac = NAN,
         .blend_ml_per_100ml = NAN,
         .fish_units_per_100l = NAN},
        {.name = "copepods",
         .form = FORM_FROZEN,
         .unit = UNIT_G,
         .solids_frac = 0.18,
         .n_mg_per_unit = 18,
         .p_mg_per_unit = 1.1,
         .max_particle_um = 1500,
         .ceiling_units_per_100l = 0.5,
         .broadcast_units_per_100l = NAN,
         .blend_share_frac = 0.5,
         .blend_share_max_frac = NAN, /* none entered */
         .blend_ml_per_100ml = NAN,
         .fish_units_per_100l = NAN},
        {.name = "eggs",
         .form = FORM_LIQUID,
         .unit = UNIT_ML,
         .n_mg_per_unit = 7,
         .p_mg_per_unit = 1,
         .max_particle_um = 60,
         .ceiling_units_per_100l = 1.2,
         .broadcast_units_per_100l = NAN,
         .blend_share_frac = NAN,
         .blend_ml_per_100ml = 2,
         .fish_units_per_100l = NAN},
        {.name = "krill",
         .form = FORM_FROZEN,
         .unit = UNIT_G,
         .solids_frac = 0.21,
         .n_mg_per_unit = 18,
         .p_mg_per_unit = 2.7,
         .max_particle_um = 3000,
         .ceiling_units_per_100l = 0.4,
         .broadcast_units_per_100l = NAN,
         .blend_share_frac = 0.5,
         .blend_share_max_frac = 0.8,
         .blend_ml_per_100ml = NAN,
         .fish_units_per_100l = NAN},
        {.name = "lean",
         .form = FORM_POWDER,
         .unit = UNIT_G,
         .n_mg_per_unit = 70,
         .strips_po4 = true,
         .max_particle_um = 100,
         .ceiling_units_per_100l = 0.1,
         .broadcast_units_per_100l = NAN,
         .blend_share_frac = 0.4,
         .blend_share_max_frac = 0.6,
         .blend_ml_per_100ml = NAN,
         .fish_units_per_100l = NAN},
        {.name = "mysid",
         .form = FORM_FROZEN,
         .unit = UNIT_G,
         .solids_frac = 0.2,
         .n_mg_per_unit = 18,
         .p_mg_per_unit = 2,
         .max_particle_um = 8000,
         .ceiling_units_per_100l = 0.4,
         .broadcast_units_per_100l = NAN,
         .blend_share_frac = NAN,
         .blend_ml_per_100ml = NAN,
         .fish_units_per_100l = 0.03},
        {.name = "pellet",
         .form = FORM_PELLET,
         .unit = UNIT_G,
         .solids_frac = 0.8,
         .n_mg_per_unit = 72,
         .p_mg_per_unit = 12,
         .max_particle_um = 1500,
         .ceiling_units_per_100l = 0.1,
         .broadcast_units_per_100l = NAN,
         .blend_share_frac = 0.1,
         .blend_share_max_frac = 0.3,
         .blend_ml_per_100ml = NAN,
         .fish_units_per_100l = NAN},
        {.name = "phyto",
         .form = FORM_LIVE,
         .unit = UNIT_ML,
         .n_mg_per_unit = 0.035,
         .p_mg_per_unit = 0.004,
         .strips_po4 = true,
         .max_particle_um = 12,
         .ceiling_units_per_100l = 40,
         .broadcast_units_per_100l = 6.6,
         .blend_share_frac = NAN,
         .blend_ml_per_100ml = NAN,
         .fish_units_per_100l = NAN},
        {.name = "rich",
         .form = FORM_POWDER,
         .unit = UNIT_G,
         .n_mg_per_unit = 95,
         .p_mg_per_unit = 18,
         .max_particle_um = 100,
         .ceiling_units_per_100l = 0.08,
         .broadcast_units_per_100l = NAN,
         .blend_share_frac = 0.6,
         .blend_share_max_frac = 1,
         .blend_ml_per_100ml = NAN,
         .fish_units_per_100l = NAN},
    };
    double tight = draw_chance(r, 0.4) ? draw_from(r, 0.04, 0.3) : 1; /* ceilings that bite */
    memcpy(r->foods, foods, sizeof foods);
    for (size_t i = 0; i < RANDOM_FOODS; i++) {
        struct food *food = &r->foods[i];
        food->prepare = food->note = food->source = "";
        food->no3_effect_mg_per_unit = food->po4_effect_mg_per_unit = NAN;
        food->density_g_per_ml = 1;
        food->solids_frac = food->solids_frac > 0 ? food->solids_frac : food->unit == UNIT_G ? 0.93 : 0;
        food->opened_life_d = 90;
        food->lead_d = 7;
        food->pack_units = 100;
        if (food->strips_po4 && draw_chance(r, 0.3))
            food->po4_effect_mg_per_unit = food->unit == UNIT_G ? -15 : -0.05;
        food->price_cents = draw_count(r, 0, 5000);
        food->scoop_g = NAN;
        if (draw_chance(r, 0.2))
            food->ceiling_units_per_100l *= draw_from(r, 0.5, 4);
        food->ceiling_units_per_100l *= tight;
        if (food->broadcast_units_per_100l > food->ceiling_units_per_100l)
            food->broadcast_units_per_100l = food->ceiling_units_per_100l;
    }
    r->f.foods = r->foods;
    r->f.n_foods = RANDOM_FOODS;
}

static void draw_lots(struct random_facility *r)
{
    static const char *const codes[RANDOM_LOTS] = {"L00", "L01", "L02", "L03", "L04", "L05", "L06", "L07",
                                                   "L08", "L09", "L10", "L11", "L12", "L13", "L14", "L15",
                                                   "L16", "L17", "L18", "L19", "L20", "L21", "L22", "L23"};
    r->f.lots = r->lots;
    for (size_t food = 0; food < RANDOM_FOODS; food++)
        for (long k = draw_chance(r, 0.1) ? 2 : draw_count(r, 0, 1); k < 2 && r->f.n_lots < RANDOM_LOTS; k++) {
            struct lot *l = &r->lots[r->f.n_lots];
            *l = (struct lot){.code = codes[r->f.n_lots++],
                              .food = food,
                              .note = "",
                              .received = draw_chance(r, 0.05) ? RANDOM_DAY + 1 : RANDOM_DAY - 40,
                              .opened = draw_chance(r, 0.5) ? DAY_NONE : RANDOM_DAY - (int)draw_count(r, 0, 120),
                              .use_by = draw_chance(r, 0.3) ? DAY_NONE : RANDOM_DAY + (int)draw_count(r, -5, 60)};
            l->amount_units = r->foods[food].unit == UNIT_ML ? draw_from(r, 50, 3000) : draw_from(r, 5, 300);
            if (draw_chance(r, 0.15))
                l->amount_units *= 0.01; /* nearly empty */
            l->used_units = draw_chance(r, 0.5) ? l->amount_units * draw_from(r, 0, 1) : 0;
            l->retired = draw_chance(r, 0.05);
        }
}

static void draw_readings(struct random_facility *r, size_t system)
{
    bool none = draw_chance(r, 0.1), starved = draw_chance(r, 0.2);
    double no3 = draw_from(r, 1, 25), po4 = draw_from(r, 0.01, 0.25), up = draw_from(r, -0.03, 0.03);
    r->starved[system] = starved && !none;
    for (int a = 0; a < 2 && !none; a++)
        for (int i = 0; i < 10 && r->f.n_tests < RANDOM_TESTS; i++) {
            double value = (a == 0 ? starved ? 8 : no3 : po4) * (1 + up * i) * draw_from(r, 0.97, 1.03);
            r->tests[r->f.n_tests++] = (struct test){.system = system,
                                                     .taken = (RANDOM_DAY - 28 + 3L * i) * MIN_PER_DAY + 420,
                                                     .analyte = a,
                                                     .repeat = 1,
                                                     .value = a == 1 && starved ? 0.01 : value,
                                                     .below = a == 1 && starved,
                                                     .method = "photometer",
                                                     .note = ""};
        }
}

/* A log to differ from, so that the room in the bands bites. */
static void draw_log(struct random_facility *r, size_t system)
{
    if (draw_chance(r, 0.4))
        return;
    for (int day = RANDOM_DAY - 21; day < RANDOM_DAY; day += 3)
        if (r->f.n_feds < RANDOM_FEDS)
            r->feds[r->f.n_feds++] = (struct fed){
                .system = system, .food = RANDOM_FOODS - 1, .day = day, .target_units = draw_from(r, 0, 3)};
}

static void draw_systems(struct random_facility *r)
{
    static const char *const names[RANDOM_SYSTEMS] = {"alder", "birch", "cedar", "elm", "fir"};
    r->f.systems = r->systems;
    r->f.n_systems = (size_t)draw_count(r, 1, RANDOM_SYSTEMS);
    r->f.tests = r->tests;
    r->f.strengths = r->strengths;
    r->f.feds = r->feds;
    for (size_t i = 0; i < r->f.n_systems; i++) {
        r->systems[i] = (struct system){.name = names[i],
                                        .sump_volume_l = draw_from(r, 0, 900),
                                        .test_every_d = 7,
                                        .note = "",
                                        .quarantine = draw_chance(r, 0.2)};
        draw_readings(r, i);
        draw_log(r, i);
        if (draw_chance(r, 0.3))
            r->strengths[r->f.n_strengths++] = (struct strength){i, RANDOM_DAY - 3, draw_from(r, 0.3, 1.3)};
    }
}

static void draw_tanks(struct random_facility *r, size_t most)
{
    static const char *const names[RANDOM_TANKS] = {"T00", "T01", "T02", "T03", "T04", "T05",
                                                    "T06", "T07", "T08", "T09", "T10", "T11"};
    r->f.tanks = r->tanks;
    r->f.n_tanks = (size_t)draw_count(r, 1, (long)most);
    for (size_t i = 0; i < r->f.n_tanks; i++) {
        struct tank *t = &r->tanks[i];
        *t = (struct tank){.name = names[i],
                           .system = (size_t)draw_count(r, 0, (long)r->f.n_systems - 1),
                           .shape = 7,
                           .length_cm = NAN,
                           .width_cm = NAN,
                           .water_cm = NAN,
                           .diameter_cm = NAN,
                           .bow_cm = NAN,
                           .side_cm = NAN,
                           .cut_length_cm = NAN,
                           .cut_width_cm = NAN,
                           .net_volume_l = draw_from(r, 60, 3000),
                           .position_m = draw_from(r, 0, 60),
                           .flow_off_limit_min = (double)draw_count(r, 12, 30),
                           .pump = "",
                           .fish = draw_chance(r, 0.3),
                           .broadcast = !draw_chance(r, 0.1),
                           .hold_reason = "",
                           .hold_until = DAY_NONE,
                           .note = ""};
        if (i > 0 && draw_chance(r, 0.2) && t[-1].system == t->system) {
            t[-1].pump = *t[-1].pump ? t[-1].pump : t->name;
            t->pump = t[-1].pump;
        }
        if (draw_chance(r, 0.1)) {
            t->hold_reason = "dip";
            t->hold_until = draw_chance(r, 0.5) ? DAY_NONE : RANDOM_DAY + (int)draw_count(r, -2, 2);
        }
        t->retired = draw_chance(r, 0.05);
    }
}

static void draw_colonies(struct random_facility *r, long most_per_tank)
{
    r->f.colonies = r->colonies;
    for (size_t t = 0; t < r->f.n_tanks; t++)
        for (long k = draw_count(r, 0, most_per_tank); k > 0 && r->f.n_colonies < RANDOM_COLONIES; k--) {
            size_t i = r->f.n_colonies++;
            struct colony *c = &r->colonies[i];
            snprintf(r->names[i], sizeof r->names[i], "C%03zu", i);
            *c = (struct colony){.code = r->names[i],
                                 .label = "",
                                 .tank = t,
                                 .kind = (size_t)draw_count(r, 0, RANDOM_KINDS - 1),
                                 .count = draw_count(r, 1, draw_chance(r, 0.2) ? 60 : 8),
                                 .heads = draw_count(r, 1, 12),
                                 .arrived = draw_chance(r, 0.2) ? RANDOM_DAY - (int)draw_count(r, 0, 20) : DAY_NONE,
                                 .fed_before = DAY_NONE,
                                 .hold_reason = "",
                                 .hold_until = DAY_NONE,
                                 .note = "",
                                 .last_refused = draw_chance(r, 0.03) ? RANDOM_DAY - 2 : DAY_NONE,
                                 .portion_frac = 1,
                                 .look = "",
                                 .last_fed = draw_chance(r, 0.2) ? DAY_NONE : RANDOM_DAY - (int)draw_count(r, 0, 10)};
            if (draw_chance(r, 0.1)) {
                c->hold_reason = "gaping";
                c->hold_until = draw_chance(r, 0.5) ? DAY_NONE : RANDOM_DAY + (int)draw_count(r, -2, 2);
            }
            c->portion_frac = draw_chance(r, 0.1) ? 0.5 : 1;
            c->retired = draw_chance(r, 0.05);
        }
}

/* What is asked of the day: mostly nothing. */
static inline void request_random(struct random_facility *r, struct plan_request *request, const char **skip)
{
    *request = (struct plan_request){.day = RANDOM_DAY, .start_min = -1, .effort = 0.01};
    if (draw_chance(r, 0.2))
        request->max_pots = (size_t)draw_count(r, 1, 3);
    if (draw_chance(r, 0.2))
        request->factor_max = draw_from(r, 0.3, 1);
    if (draw_chance(r, 0.2))
        request->feeders = draw_count(r, 1, 3);
    if (draw_chance(r, 0.1))
        request->start_min = 1380; /* past midnight */
    if (draw_chance(r, 0.2)) {
        *skip = r->tanks[draw_count(r, 0, (long)r->f.n_tanks - 1)].name;
        request->skip_tanks = skip;
        request->n_skip_tanks = 1;
    }
}

/* Nothing is drawn for it, so that the facility is otherwise the same. */
static void share_waters(struct random_facility *r)
{
    for (size_t i = 0; i < r->f.n_systems; i++) {
        r->systems[i].broadcast_once = true;
        r->systems[i].broadcast_position_m = 3 + 14 * (double)i;
    }
}

/* A third of them has systems that are broadcast to once for all their tanks. */
static void facility_random(struct random_facility *r, uint64_t seed)
{
    struct err e;
    bool small = seed % 4 != 0;
    *r = (struct random_facility){.state = seed};
    draw_settings(r);
    draw_kinds(r);
    draw_foods(r);
    draw_lots(r);
    draw_systems(r);
    draw_tanks(r, small ? 4 : RANDOM_TANKS);
    draw_colonies(r, small ? 6 : 12);
    if (seed % 3 == 0)
        share_waters(r);
    if (!facility_derive(&r->f, &e))
        abort();
}

#endif
