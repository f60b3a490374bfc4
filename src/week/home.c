/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A customer's tank planned by the house's own rules: a facility of one tank, with every food at hand. */
#include "neap/advice.h"
#include "neap/week.h"

/* Fine enough that nothing is lost to a measure of the house: what a household can measure is for the card to say. */
static const double fine_step_g = 0.001, fine_step_ml = 0.01;
static const double hands_min = 600;

static bool put_water(const struct home *h, struct facility *f, struct err *e)
{
    f->systems = arena_alloc(&f->arena, 1, sizeof *f->systems);
    f->tanks = arena_alloc(&f->arena, 1, sizeof *f->tanks);
    if (!f->systems || !f->tanks)
        return err_memory(e);
    f->systems[0] = (struct system){.name = "home", .test_every_d = 7, .broadcast_position_m = (double)NAN, .note = ""};
    f->tanks[0] = h->tank;
    f->tanks[0].name = "home";
    f->tanks[0].system = 0;
    f->tanks[0].pump = f->tanks[0].hold_reason = f->tanks[0].note = "";
    f->tanks[0].hold_until = DAY_NONE;
    f->tanks[0].flow_off_limit_min = 60;
    f->tanks[0].broadcast = true;
    f->n_systems = f->n_tanks = 1;
    return true;
}

static bool put_corals(const struct home *h, struct facility *f, struct err *e)
{
    f->colonies = arena_alloc(&f->arena, h->n_corals, sizeof *f->colonies);
    if (!f->colonies)
        return err_memory(e);
    for (size_t i = 0; i < h->n_corals; i++) {
        struct colony *c = &f->colonies[f->n_colonies++];
        *c = (struct colony){.kind = h->corals[i].kind,
                             .count = h->corals[i].count,
                             .heads = h->corals[i].heads,
                             .arrived = h->day - 365, /* long settled: a card is for what has opened up */
                             .fed_before = DAY_NONE,
                             .last_fed = DAY_NONE,
                             .last_refused = DAY_NONE,
                             .hold_reason = "",
                             .hold_until = DAY_NONE,
                             .portion_frac = 1,
                             .look = "",
                             .note = ""};
        c->code = arena_format(&f->arena, "%04zu", i);
        c->label = f->kinds[c->kind].name;
        if (!c->code)
            return err_memory(e);
    }
    return true;
}

static bool put_foods(const struct home *h, struct facility *f, struct err *e)
{
    f->lots = arena_alloc(&f->arena, f->n_foods, sizeof *f->lots);
    if (!f->lots)
        return err_memory(e);
    for (size_t i = 0; i < f->n_foods; i++)
        if (!f->foods[i].retired)
            f->lots[f->n_lots++] = (struct lot){.code = f->foods[i].name,
                                                .food = i,
                                                .amount_units = 1e5,
                                                .received = h->day,
                                                .opened = DAY_NONE,
                                                .use_by = h->day + 365,
                                                .note = ""};
    return true;
}

static bool put_tests(const struct home *h, struct facility *f, struct err *e)
{
    f->tests = arena_alloc(&f->arena, N_NUTRIENTS, sizeof *f->tests);
    if (!f->tests)
        return err_memory(e);
    for (int a = 0; a < N_NUTRIENTS; a++)
        if (h->has[a])
            f->tests[f->n_tests++] = (struct test){.taken = (long)h->day * MIN_PER_DAY,
                                                   .analyte = a,
                                                   .repeat = 1,
                                                   .value = h->level_mg_l[a],
                                                   .below = h->below[a],
                                                   .method = "",
                                                   .note = ""};
    return true;
}

bool home_plan(const struct facility *house, const struct home *h, struct facility *f, struct round *r, struct err *e)
{
    const struct plan_request request = {.day = h->day, .start_min = -1, .feeders = 1, .effort = 0.01};
    *f = (struct facility){
        .settings = house->settings,
        .kinds = house->kinds,
        .n_kinds = house->n_kinds,
        .foods = house->foods,
        .n_foods = house->n_foods,
    };
    f->settings.scale_step_g = fine_step_g;
    f->settings.liquid_step_ml = f->settings.broadcast_step_ml = fine_step_ml;
    f->settings.day_hands_min = hands_min;
    bool ok = put_water(h, f, e) && put_corals(h, f, e) && put_foods(h, f, e) && put_tests(h, f, e) &&
              facility_derive(f, e) && plan_round(f, &request, r, e);
    if (!ok)
        facility_free(f);
    return ok;
}

bool home_why(struct facility *f, struct home *h, struct err *e)
{
    const struct advice_in in = {.now_min = (long)h->day * MIN_PER_DAY + MIN_PER_DAY / 2,
                                 .window_d = f->settings.window_d};
    struct system_state s;
    if (!plan_advice(f, 0, &in, &f->arena, &s, e))
        return false;
    h->why = s.held ? arena_format(&f->arena, "%s; %s", s.rule, s.held) : s.rule;
    return h->why ? true : err_memory(e);
}
