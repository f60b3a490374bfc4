/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A begun round whose clock is set anew keeps every hard rule, proved from its rows over random facilities and minutes.
 */
#include "facility_random.h"
#include "neap/replan.h"
#include "neap/response.h"
#include "tests.h"

enum { ROUNDS = TRIALS_LEAST(240, 200), LINES = 400 };

static struct random_facility here;
static struct given givens[LINES];
static size_t n_givens;
static uint64_t seed_now;

static const struct facility *f(void)
{
    return &here.f;
}

#define holds(is, l, what)                                                                                             \
    do {                                                                                                               \
        if (!(is))                                                                                                     \
            fail_msg("facility %lu, line %ld: %s", (unsigned long)seed_now, (l)->number, what);                        \
    } while (0)

static bool logged(const struct line *l)
{
    for (size_t i = 0; i < n_givens; i++)
        if (givens[i].line == l->number)
            return true;
    return false;
}

static void log_line(const struct round *r, const struct line *l)
{
    givens[n_givens++] = (struct given){.round = r->head.number,
                                        .line = l->number,
                                        .sheet_revision = 1,
                                        .amount = l->amount,
                                        .response = -1,
                                        .at_min = -1,
                                        .note = ""};
}

/* Everything went to plan up to a minute; a flow that went off before it is off. */
static void log_until(const struct round *r, int minute)
{
    n_givens = 0;
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        if (l->end_min <= minute && (l->end_min > l->start_min || l->start_min < minute))
            log_line(r, l);
        else if (l->action == ACTION_FLOW_OFF && l->start_min < minute)
            log_line(r, l);
    }
}

/* A tank between two others on its pump: no switch is thrown there, nothing broadcast, and fish are fed elsewhere. */
static void put_between(size_t tank)
{
    for (size_t t = tank - 1; t <= tank + 1; t++) {
        here.tanks[t].system = here.tanks[tank].system;
        here.tanks[t].pump = here.tanks[tank].name;
    }
    here.tanks[tank].fish = here.tanks[tank].broadcast = false;
    for (size_t i = 0; i < here.f.n_colonies; i++)
        if (share_pump(f(), here.colonies[i].tank, tank) && here.colonies[i].tank != tank)
            here.colonies[i].kind = here.colonies[i].kind == 0 ? 1 : here.colonies[i].kind;
}

static void plan_first(uint64_t seed, struct round *r)
{
    struct err e;
    facility_random(&here, seed);
    seed_now = seed;
    here.kinds[0].early = seed % 5 != 2;
    const size_t first_tank = seed % here.f.n_tanks;
    const char *const first = here.tanks[first_tank].name;
    if (seed % 5 >= 2 && first_tank > 0 && first_tank + 1 < here.f.n_tanks)
        put_between(first_tank);
    const struct plan_request request = {.day = RANDOM_DAY,
                                         .start_min = 600,
                                         .effort = 0.01,
                                         .feeders = 1 + (long)(seed % 3),
                                         .first_tanks = &first,
                                         .n_first_tanks = seed % 5 == 2};
    if (!plan_round(f(), &request, r, &e))
        fail_msg("facility %lu: %s", (unsigned long)seed, e.text);
    r->head.number = r->head.revision = 1;
    assert_true(r->n_lines <= LINES);
}

/* ---- the rules, from rows --------------------------------------------------------------------------------------- */

static void what_is_done_stands_and_the_rest_is_later(const struct round *kept, const struct round *r, int now_min)
{
    assert_int_equal(r->n_lines, kept->n_lines);
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *a = &kept->lines[i], *b = &r->lines[i];
        holds(a->number == b->number && a->tank == b->tank && a->action == b->action && a->colony == b->colony &&
                  (a->feeder == b->feeder || a->action == ACTION_FLOW_ON) &&
                  (isnan(a->amount) ? isnan(b->amount) : a->amount == b->amount),
              b, "another line");
        if (logged(a))
            holds(a->start_min == b->start_min && a->end_min == b->end_min && a->feeder == b->feeder, b,
                  "was done, and has other times");
        else
            holds(b->start_min >= now_min && b->end_min >= b->start_min, b, "is planned for the past");
    }
}

static double place_m(const struct line *l)
{
    return into_shared_water(l) ? here.systems[here.tanks[l->tank].system].broadcast_position_m
                                : here.tanks[l->tank].position_m;
}

static int way_min(const struct line *a, const struct line *b)
{
    double metres = fabs(place_m(a) - place_m(b)) - 15; /* the free way of the order's settings */
    return metres <= 0 ? 0 : (int)ceil(metres / here.f.settings.walk_m_per_min - 1e-9);
}

static void each_line_has_one_of_the_feeders(const struct round *r)
{
    for (size_t i = 0; i < r->n_lines; i++)
        holds(r->lines[i].feeder >= 1 && r->lines[i].feeder <= r->head.feeders, &r->lines[i], "done by nobody");
}

/* A pump's switch may stand elsewhere than the tank on the sheet: a way that the kept round had is long enough. */
static void nobody_does_two_things_at_once(const struct round *kept, const struct round *r)
{
    for (size_t i = 0; i < r->n_lines; i++)
        for (size_t k = 0; k < r->n_lines; k++) {
            const struct line *a = &r->lines[i], *b = &r->lines[k];
            if (a == b || a->feeder != b->feeder || logged(a) || logged(b) || share_pump(f(), a->tank, b->tank) ||
                same_broadcast(f(), &kept->lines[i], &kept->lines[k]))
                continue; /* within one visit or broadcast the kept round holds */
            if (a->start_min < b->start_min || (a->start_min == b->start_min && a->end_min <= b->end_min && i < k)) {
                int kept_gap = kept->lines[k].start_min - kept->lines[i].end_min, way = way_min(a, b);
                bool pumps = (*here.tanks[a->tank].pump || *here.tanks[b->tank].pump) &&
                             kept->lines[i].feeder == kept->lines[k].feeder;
                holds(b->start_min >= a->end_min + (pumps && kept_gap >= 0 && kept_gap < way ? kept_gap : way), b,
                      "hands are elsewhere");
            }
        }
}

static void one_broadcast_stays_one(const struct round *kept, const struct round *r)
{
    for (size_t i = 0; i < r->n_lines; i++)
        for (size_t k = 0; k < r->n_lines; k++)
            if (same_broadcast(f(), &kept->lines[i], &kept->lines[k]) && !logged(&r->lines[i]) && !logged(&r->lines[k]))
                holds(same_broadcast(f(), &r->lines[i], &r->lines[k]), &r->lines[i], "given apart");
}

static void flows_keep_rest_limit_and_gap(const struct round *r, int *late_min)
{
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *on = &r->lines[i], *off = flow_off_of(f(), r, on);
        if (on->action != ACTION_FLOW_ON || !off || logged(on))
            continue;
        int latest_min = off->start_min + (int)off_limit_min(f(), on->tank, off->start_min);
        bool at_limit = on->end_min >= latest_min;
        if (logged(off) && on->end_min > latest_min)
            *late_min += on->end_min - latest_min;
        else
            holds(on->end_min <= latest_min, on, "flow off longer than its limit");
        for (size_t k = 0; k < r->n_lines; k++) {
            const struct line *l = &r->lines[k];
            if (!share_pump(f(), l->tank, on->tank))
                continue;
            if (l->action == ACTION_TARGET && l->start_min >= off->start_min && l->start_min < on->start_min)
                holds(on->start_min >= l->end_min + (int)here.f.settings.rest_min || (logged(off) && at_limit), on,
                      "no rest");
            if (l->action == ACTION_FLOW_OFF && l->start_min >= on->start_min && l != off)
                holds(l->start_min >= on->end_min + (int)here.f.settings.flow_on_gap_min, l, "flow on too short");
            if (l->action == ACTION_BROADCAST && !logged(l))
                holds(l->start_min >= on->end_min || l->end_min <= off->start_min, l, "broadcast with the flow off");
        }
    }
}

static void corals_are_fed_within_the_window(const struct round *r, int *late_min)
{
    for (size_t t = 0; t < here.f.n_tanks; t++) {
        const struct line *cast = NULL, *corals = NULL;
        for (size_t i = 0; i < r->n_lines; i++) {
            const struct line *l = &r->lines[i];
            if (l->tank == t && l->action == ACTION_BROADCAST)
                cast = l;
            if (l->tank == t && l->action == ACTION_TARGET && (!corals || l->start_min < corals->start_min))
                corals = l;
        }
        const struct line *off = NULL;
        for (size_t i = 0; corals && i < r->n_lines; i++)
            if (r->lines[i].action == ACTION_FLOW_OFF && share_pump(f(), r->lines[i].tank, t) &&
                r->lines[i].start_min <= corals->start_min && (!off || off->start_min < r->lines[i].start_min))
                off = &r->lines[i];
        if (!cast || !corals || logged(corals) || !off || logged(off))
            continue;
        int lag_min = corals->start_min - cast->end_min;
        holds(lag_min >= (int)here.f.settings.lag_min_min, corals, "fed before the corals are open");
        if (logged(cast) && lag_min > (int)here.f.settings.lag_max_min)
            *late_min += lag_min - (int)here.f.settings.lag_max_min;
        else
            holds(lag_min <= (int)here.f.settings.lag_max_min, corals, "fed after the window");
    }
}

static void note_sick(bool *sick)
{
    for (size_t t = 0; t < here.f.n_tanks; t++)
        for (size_t i = 0; i < here.f.n_tanks; i++)
            sick[t] = sick[t] || (share_pump(f(), i, t) && here.systems[here.tanks[i].system].quarantine);
}

static void quarantine_is_last(const struct round *r, const bool *sick)
{
    for (size_t i = 0; i < r->n_lines; i++)
        for (size_t k = 0; k < r->n_lines; k++) {
            const struct line *well = &r->lines[i], *ill = &r->lines[k], *off = flow_off_of(f(), r, ill);
            bool owed = off && logged(off);
            if (!sick[well->tank] && sick[ill->tank] && !logged(well) && !logged(ill) && !owed)
                holds(ill->start_min >= well->end_min, ill, "quarantine before the others");
        }
}

/* Is the flow off for the first time at this pump? */
static bool is_first_stop(const struct round *r, const struct line *off)
{
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].action == ACTION_FLOW_OFF && share_pump(f(), r->lines[i].tank, off->tank) &&
            r->lines[i].start_min < off->start_min)
            return false;
    return off->action == ACTION_FLOW_OFF;
}

/* When the visit begins: with fish, where some are fed before the flow goes off. */
static int visit_min(const struct round *r, const struct line *off)
{
    int at_min = off->start_min;
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        if (l->action == ACTION_FISH && share_pump(f(), l->tank, off->tank) && l->feeder == off->feeder)
            at_min = l->start_min < at_min ? l->start_min : at_min;
    }
    return at_min;
}

/* Was the pump's tank asked to be first, or are corals fed at it that are fed early? */
static bool goes_first(const struct round *r, size_t tank)
{
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        if (l->action == ACTION_TARGET && share_pump(f(), l->tank, tank) &&
            (here.kinds[here.colonies[l->colony].kind].early ||
             (seed_now % 5 == 2 && l->tank == seed_now % here.f.n_tanks)))
            return true;
    }
    return false;
}

static void what_was_to_be_first_stays_first(const struct round *r, const bool *sick, int *n_first)
{
    for (size_t i = 0; i < r->n_lines; i++)
        for (size_t k = 0; k < r->n_lines; k++) {
            const struct line *a = &r->lines[i], *b = &r->lines[k];
            if (!is_first_stop(r, a) || !is_first_stop(r, b) || logged(b) || sick[a->tank] != sick[b->tank] ||
                !goes_first(r, a->tank) || goes_first(r, b->tank))
                continue;
            holds(visit_min(r, b) >= visit_min(r, a), b, "before a tank that was to be first");
            ++*n_first;
        }
}

/* Of what is being done nothing is logged yet, so all of it is still to be done. */
static bool under_way(const struct round *r, int minute)
{
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].start_min < minute && !logged(&r->lines[i]))
            return true;
    return false;
}

static void a_round_set_anew_at_any_minute_keeps_every_rule(void **state)
{
    (void)state;
    int set = 0, late = 0, on_time = 0, n_first = 0;
    for (uint64_t seed = 0; seed < ROUNDS; seed++) {
        struct round kept, r;
        struct replanned found;
        struct err e;
        plan_first(seed, &kept);
        int took_min = kept.head.finish_min - kept.head.start_min, late_min = 0;
        int cut_min = kept.head.start_min + (took_min > 0 ? (int)(seed * 37 % (uint64_t)took_min) : 0);
        int slip_min = seed % 4 == 0 ? 0 : (int)(seed * 7 % 20);
        log_until(&kept, cut_min);
        const struct replan_request request = {cut_min + slip_min, givens, n_givens, NULL, 0};
        if (kept.n_lines == 0 || n_givens == kept.n_lines) {
            assert_false(plan_replan(f(), &kept, &request, &r, &found, &e));
            round_free(&kept);
            continue;
        }
        if (!plan_replan(f(), &kept, &request, &r, &found, &e))
            fail_msg("facility %lu: %s", (unsigned long)seed, e.text);
        assert_int_equal(found.n_left, kept.n_lines - n_givens);
        what_is_done_stands_and_the_rest_is_later(&kept, &r, request.now_min);
        each_line_has_one_of_the_feeders(&r);
        nobody_does_two_things_at_once(&kept, &r);
        one_broadcast_stays_one(&kept, &r);
        flows_keep_rest_limit_and_gap(&r, &late_min);
        corals_are_fed_within_the_window(&r, &late_min);
        bool sick[RANDOM_TANKS] = {false};
        note_sick(sick);
        quarantine_is_last(&r, sick);
        what_was_to_be_first_stays_first(&r, sick, &n_first);
        /* Counted by tank here; there by visit, which may be for several tanks on one pump. */
        if (found.late_min > late_min || (found.late_min > 0) != (late_min > 0))
            fail_msg("facility %lu: %d min late, counted %d", (unsigned long)seed, found.late_min, late_min);
        set++;
        late += late_min > 0;
        if (slip_min == 0 && !under_way(&kept, cut_min)) {
            assert_int_equal(late_min, 0);
            assert_true(r.head.finish_min <= kept.head.finish_min);
            on_time++;
        }
        round_free(&r);
        round_free(&kept);
    }
    assert_true(set > ROUNDS / 2 && on_time > ROUNDS / 20 && late > 0 && late < set / 2 && n_first > ROUNDS / 20);
}

/* What was put into the water for two tanks is given to both, though the lines of one alone are logged. */
static void a_shared_broadcast_logged_at_one_tank_is_given_to_all(void **state)
{
    (void)state;
    struct round kept, r;
    struct replanned found;
    struct err e;
    int seen = 0;
    for (uint64_t seed = 0; seed < ROUNDS; seed += 3) {
        plan_first(seed, &kept);
        const struct line *one = NULL, *other = NULL;
        for (size_t i = 0; i < kept.n_lines; i++)
            for (size_t k = 0; k < i && !one; k++)
                if (kept.lines[i].tank != kept.lines[k].tank && same_broadcast(f(), &kept.lines[i], &kept.lines[k]) &&
                    kept.lines[i].food == kept.lines[k].food && kept.lines[i].start_min == kept.head.start_min) {
                    one = &kept.lines[k];
                    other = &kept.lines[i];
                }
        if (one) {
            n_givens = 0;
            for (size_t i = 0; i < kept.n_lines; i++)
                if (kept.lines[i].tank == one->tank && same_broadcast(f(), &kept.lines[i], one))
                    log_line(&kept, &kept.lines[i]);
            const struct replan_request request = {one->end_min + 3, givens, n_givens, NULL, 0};
            if (!plan_replan(f(), &kept, &request, &r, &found, &e)) {
                assert_non_null(strstr(e.text, "nothing is left")); /* that one broadcast was all */
                round_free(&kept);
                continue;
            }
            const struct line *now = &r.lines[other->number - 1], *corals = NULL;
            holds(now->start_min == other->start_min && now->end_min == other->end_min, now, "is to be given again");
            for (size_t i = 0; i < r.n_lines; i++)
                if (r.lines[i].tank == other->tank && r.lines[i].action == ACTION_TARGET &&
                    (!corals || r.lines[i].start_min < corals->start_min))
                    corals = &r.lines[i];
            if (corals)
                holds(
                    corals->start_min - other->end_min >= (int)here.f.settings.lag_min_min &&
                        (found.late_min > 0 || corals->start_min - other->end_min <= (int)here.f.settings.lag_max_min),
                    corals, "not within the window of what was given");
            seen++;
            round_free(&r);
        }
        round_free(&kept);
    }
    assert_true(seen > 5);
}

static void what_was_noted_counts_when_it_was_noted(void **state)
{
    (void)state;
    struct round kept, r;
    struct replanned found;
    struct err e;
    int seen = 0;
    for (uint64_t seed = 0; seed < 60; seed++) {
        plan_first(seed, &kept);
        for (size_t i = 0; i < kept.n_lines; i++) {
            const struct line *off = &kept.lines[i], *on = NULL;
            for (size_t k = 0; k < kept.n_lines && off->action == ACTION_FLOW_OFF; k++)
                if (kept.lines[k].action == ACTION_FLOW_ON && flow_off_of(f(), &kept, &kept.lines[k]) == off)
                    on = &kept.lines[k];
            if (!on)
                continue;
            log_until(&kept, on->start_min);
            if (logged(on) || under_way(&kept, on->start_min))
                continue;
            for (size_t k = 0; k < n_givens; k++)
                if (givens[k].line == off->number)
                    givens[k].at_min = off->start_min - 2; /* two minutes before the plan */
            const struct replan_request request = {on->start_min, givens, n_givens, NULL, 0};
            assert_true(plan_replan(f(), &kept, &request, &r, &found, &e));
            int off_min = off->start_min - 2, limit_min = (int)off_limit_min(f(), on->tank, off_min);
            const struct line *again = &r.lines[on->number - 1];
            holds(again->end_min <= off_min + limit_min || found.late_min >= again->end_min - off_min - limit_min,
                  again, "counted from the planned minute");
            seen++;
            round_free(&r);
        }
        round_free(&kept);
    }
    assert_true(seen > 60);
}

static void a_round_that_is_over_or_not_begun_is_left_alone(void **state)
{
    (void)state;
    struct round kept, r;
    struct replanned found;
    struct err e;
    plan_first(4, &kept);
    log_until(&kept, INT_MAX - 1);
    assert_false(plan_replan(f(), &kept, &(struct replan_request){900, givens, n_givens, NULL, 0}, &r, &found, &e));
    assert_int_equal(e.code, ERR_INPUT);
    assert_non_null(strstr(e.text, "nothing is left"));
    assert_false(
        plan_replan(f(), &kept, &(struct replan_request){kept.head.start_min - 1, NULL, 0, NULL, 0}, &r, &found, &e));
    assert_non_null(strstr(e.text, "begins at 10:00"));
    assert_true(
        plan_replan(f(), &kept, &(struct replan_request){kept.head.start_min + 30, NULL, 0, NULL, 0}, &r, &found, &e));
    assert_int_equal(r.head.finish_min, kept.head.finish_min + 30); /* begun late, the round is as long as it was */
    assert_int_equal(r.n_asked, kept.n_asked + 1);
    assert_int_equal(r.asked[kept.n_asked].what, ASKED_FROM_NOW);
    assert_int_equal(r.asked[kept.n_asked].at_min, 10 * 60 + 30);
    round_free(&r);
    round_free(&kept);
}

SUITE(plan_replan)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_round_set_anew_at_any_minute_keeps_every_rule),
        cmocka_unit_test(a_shared_broadcast_logged_at_one_tank_is_given_to_all),
        cmocka_unit_test(what_was_noted_counts_when_it_was_noted),
        cmocka_unit_test(a_round_that_is_over_or_not_begun_is_left_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
