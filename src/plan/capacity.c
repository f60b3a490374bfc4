/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How often the corals of a water can be fed, beside how often their kinds ask for it.
 *
 * A round gives a water what its ceiling leaves (need.c), and the facility what its hands can do. Where that is less
 * than the corals take even in the least portions, obligate feeders go first and then the most overdue, so that in the
 * long run all who are not obligate wait for the same multiple of their interval, and so do the obligate among
 * themselves.
 */
#include "neap/ledger.h"
#include "neap/working.h"

enum { ROUNDS_LEAST = 3 };                 /* fewer in the log tell no rhythm; our own choice */
static const double overfull_times = 1.25; /* fed later than asked by a quarter; our own choice */

/* Rounds between two feeds as asked: a round is whole, so one due every 3 d waits for each 2nd of 3 rounds a week. */
static double asked_rounds(const struct capacity_part *p, double rounds_per_d)
{
    return fmax(1, ceil(p->interval_d * rounds_per_d - 1e-9));
}

static double gap_rounds(const struct capacity_part *p, double rounds_per_d, double times)
{
    return fmax(asked_rounds(p, rounds_per_d), p->interval_d * rounds_per_d * times);
}

double capacity_asked_d(const struct capacity_part *p, double rounds_per_d)
{
    return asked_rounds(p, rounds_per_d) / rounds_per_d;
}

static double capacity_gets_d(const struct capacity_part *p, const struct capacity *c)
{
    return gap_rounds(p, c->rounds_per_d, p->obligate ? c->obligate_times : c->times) / c->rounds_per_d;
}

/* ---- what takes part -------------------------------------------------------------------------------------------- */

bool is_too_large(double load, double room)
{
    return room > 1e-9 && load > room + 1e-9;
}

static bool is_part(const struct working *w, size_t part, const struct due *d)
{
    const struct capacity_part *p = &w->capacity_parts[part];
    return p->kind == w->f->colonies[d->colony].kind && p->interval_d == d->interval_d;
}

static void add_part(struct working *w, const struct due *d, double load)
{
    size_t *at = &w->first_part[d->system];
    while (*at != REF_NONE && !is_part(w, *at, d))
        at = &w->capacity_parts[*at].next;
    if (*at == REF_NONE) {
        *at = w->n_capacity_parts++;
        w->capacity_parts[*at] = (struct capacity_part){.system = d->system,
                                                        .kind = w->f->colonies[d->colony].kind,
                                                        .interval_d = d->interval_d,
                                                        .obligate = d->need == NEED_OBLIGATE,
                                                        .next = REF_NONE};
    }
    w->capacity_parts[*at].load_frac += load;
    w->capacity_parts[*at].hands_s += d->hands_s;
}

/* Rounds a day by the log before a day; 0: too few to tell. system REF_NONE: of the whole facility. */
static double rounds_logged(const struct working *w, size_t system)
{
    const struct facility *f = w->f;
    int last = w->request->day - 1, first = last, from = last - (int)f->settings.window_d + 1;
    const struct system_rows own = system == REF_NONE ? (struct system_rows){0, f->n_feds} : feds_of(f, system);
    long n = 0;
    for (int day = last; day >= from; day--) {
        bool fed = false;
        for (size_t i = own.first; i < own.end && !fed; i++)
            fed = f->feds[i].day == day;
        n += fed;
        first = fed ? day : first;
    }
    return n < ROUNDS_LEAST ? 0 : (double)n / fmax(last - first + 1, 7);
}

/* ---- a ceiling and the hands ------------------------------------------------------------------------------------ */

/* What is asked of a round, and of whom; who waits no less than the parts' own crowding says. */
struct asking {
    size_t system; /* REF_NONE: of all waters, and of the hands */
    bool obligate;
};

/* Hands-on seconds by a day, where none comes before so many of its intervals. */
static double hands_asked(const struct working *w, bool obligate, double times)
{
    double asked_s = 0;
    for (size_t i = 0; i < w->n_capacity_parts; i++) {
        const struct capacity_part *p = &w->capacity_parts[i];
        const struct capacity *c = &w->capacities[p->system];
        double waits = p->obligate ? c->obligate_times : c->times;
        if (p->obligate == obligate && isfinite(waits))
            asked_s += p->hands_s * c->rounds_per_d / gap_rounds(p, c->rounds_per_d, fmax(times, waits));
    }
    return asked_s;
}

/* Likewise, of a ceiling for the day by a round; or of the hands. */
static double asked_of(const struct working *w, const struct asking *ask, double times)
{
    double asked = 0;
    if (ask->system == REF_NONE)
        return hands_asked(w, ask->obligate, times);
    for (size_t i = w->first_part[ask->system]; i != REF_NONE; i = w->capacity_parts[i].next) {
        const struct capacity_part *p = &w->capacity_parts[i];
        if (p->obligate == ask->obligate)
            asked += p->load_frac / gap_rounds(p, w->capacities[p->system].rounds_per_d, times);
    }
    return asked;
}

/* The least multiple of the intervals, from 1, at which what is asked fits; what is asked falls as it grows. */
static double times_for(const struct working *w, const struct asking *ask, double room)
{
    enum { HALVINGS = 60 };
    double low = 1, high = 1;
    if (asked_of(w, ask, 1) <= room * (1 + 1e-9))
        return 1;
    while (high < 1e6 && asked_of(w, ask, high) > room)
        high *= 2;
    if (high >= 1e6)
        return INFINITY;
    for (int i = 0; i < HALVINGS; i++)
        *(asked_of(w, ask, (low + high) / 2) > room ? &low : &high) = (low + high) / 2;
    return high;
}

static double asked_in_all(const struct working *w, size_t system)
{
    const struct asking first = {system, true}, rest = {system, false};
    return asked_of(w, &first, 1) + asked_of(w, &rest, 1);
}

/* Obligate feeders have the whole room, the others what those leave. */
static void share_room(const struct working *w, size_t system, double room, double *obligate_times, double *times)
{
    const struct asking first = {system, true}, rest = {system, false};
    *obligate_times = times_for(w, &first, room);
    double left = fmax(0, room - (isfinite(*obligate_times) ? asked_of(w, &first, *obligate_times) : room));
    *times = times_for(w, &rest, left);
}

/* The broadcast yields to the corals that are fed from a pot, all but that which obligate kinds live by. */
static struct capacity room_of(const struct working *w, size_t s)
{
    const struct facility *f = w->f;
    double logged = rounds_logged(w, s);
    struct capacity c = {
        .system = s,
        .by_log = logged > 0,
        .rounds_per_d = logged > 0 ? fmin(1, logged) : 1,
        .times = 1,
        .obligate_times = 1,
        .kind = REF_NONE,
    };
    for (size_t t = 0; t < f->n_tanks; t++)
        if (f->tanks[t].system == s && !f->tanks[t].retired)
            c.fish_frac += fish_load(w, t);
    c.room_frac = fmax(0, 1 - c.fish_frac);
    return c;
}

static void share_ceiling(struct working *w, struct capacity *c)
{
    double room = c->room_frac, rounds_per_d = c->rounds_per_d;
    share_room(w, c->system, room, &c->obligate_times, &c->times);
    c->asked_frac = asked_in_all(w, c->system);
    for (int week = (int)floor(rounds_per_d * 7 + 1e-9) + 1; week <= 7 && c->rounds_enough == 0; week++) {
        c->rounds_per_d = (double)week / 7;
        if (asked_in_all(w, c->system) <= room)
            c->rounds_enough = week;
    }
    c->rounds_per_d = rounds_per_d;
}

static void share_hands(struct working *w)
{
    long feeders = request_feeders(w->f, w->request);
    double logged = rounds_logged(w, REF_NONE), rounds_per_d = logged > 0 ? fmin(1, logged) : 1;
    double hands_s = w->f->settings.day_hands_min * 60 * (double)feeders * rounds_per_d, obligate_times, times;
    share_room(w, REF_NONE, hands_s, &obligate_times, &times);
    double hands_frac = asked_in_all(w, REF_NONE) / hands_s;
    for (size_t s = 0; s < w->f->n_systems; s++) {
        struct capacity *c = &w->capacities[s];
        c->hands_frac = hands_frac;
        c->by_hands = times > c->times || obligate_times > c->obligate_times;
        c->times = fmax(times, c->times);
        c->obligate_times = fmax(obligate_times, c->obligate_times);
    }
}

/*
 * Named is the kind that takes most of the room, or of the hands, among those fed later than asked; an obligate one
 * first.
 */
static void name_kind(struct working *w, struct capacity *c)
{
    double most = -1;
    bool obligate = false;
    for (size_t i = w->first_part[c->system]; i != REF_NONE; i = w->capacity_parts[i].next) {
        const struct capacity_part *p = &w->capacity_parts[i];
        double asked_d = capacity_asked_d(p, c->rounds_per_d), gets_d = capacity_gets_d(p, c);
        double takes = c->by_hands ? p->hands_s : p->load_frac;
        if (gets_d < overfull_times * asked_d || p->obligate < obligate || (p->obligate == obligate && takes <= most))
            continue;
        most = takes;
        obligate = p->obligate;
        c->overfull = true;
        c->kind = p->kind;
        c->interval_d = p->interval_d;
        c->gets_d = gets_d;
    }
}

bool working_capacities(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    struct due d;
    w->shares = arena_alloc(w->a, f->n_systems, sizeof *w->shares);
    w->capacities = arena_alloc(w->a, f->n_systems, sizeof *w->capacities);
    w->capacity_parts = arena_alloc(w->a, f->n_colonies, sizeof *w->capacity_parts);
    w->first_part = arena_alloc(w->a, f->n_systems, sizeof *w->first_part);
    if (!w->shares || !w->capacities || !w->capacity_parts || !w->first_part)
        return err_memory(e);
    for (size_t s = 0; s < f->n_systems; s++) {
        ceiling_begin(w, s, &w->shares[s]);
        w->capacities[s] = room_of(w, s);
        w->first_part[s] = REF_NONE;
    }
    for (size_t i = 0; i < f->n_colonies; i++) {
        if (!due_in_turn(w, i, &d) || d.need_ml <= 0) /* of what the broadcast feeds, nothing is asked by the lot */
            continue;
        double load = due_least_load(w, &w->shares[d.system], &d);
        if (!is_too_large(load, w->capacities[d.system].room_frac)) /* else it is never fed, and its reason says so */
            add_part(w, &d, load);
    }
    for (size_t s = 0; s < f->n_systems; s++)
        share_ceiling(w, &w->capacities[s]);
    share_hands(w);
    for (size_t s = 0; s < f->n_systems; s++)
        name_kind(w, &w->capacities[s]);
    return true;
}

bool plan_capacity(const struct facility *f, int day, struct arena *a, const struct capacity **systems, struct err *e)
{
    const struct plan_request request = {.day = day};
    struct working w = {.f = f, .request = &request, .a = a};
    if (!working_usable(&w, e) || !working_advice(&w, e) || !working_capacities(&w, e))
        return false;
    *systems = w.capacities;
    return true;
}

const struct capacity *capacity_of_hands(const struct capacity *capacities, size_t n)
{
    const struct capacity *most = NULL;
    for (size_t s = 0; s < n; s++)
        if (capacities[s].overfull && capacities[s].by_hands && (!most || capacities[s].gets_d > most->gets_d))
            most = &capacities[s];
    return most;
}

/* ---- in words --------------------------------------------------------------------------------------------------- */

void capacity_words(const struct facility *f, const struct capacity *c, struct text *out)
{
    text_addf(out, "%s in %s, due every %g d, can be fed ", f->kinds[c->kind].name, f->systems[c->system].name,
              c->interval_d);
    if (isfinite(c->gets_d))
        text_addf(out, "about every %.0f d", c->gets_d);
    else
        text_add(out, "not at all");
    text_addf(out, c->by_log ? " with %.2g rounds a week" : ", even with a round every day", c->rounds_per_d * 7);
}

static void ceiling_help(const struct capacity *c, struct text *out)
{
    if (c->rounds_enough > 0)
        text_addf(out, "%d round%s a week", c->rounds_enough, c->rounds_enough == 1 ? "" : "s");
    else
        text_add(out, c->rounds_per_d < 1 ? "more rounds a week, though even one every day is not enough" : "");
    text_addf(out, "%s%.0f %% of its corals elsewhere", out->len > 0 ? "; or " : "",
              ceil(100 * (1 - c->room_frac / c->asked_frac)));
    text_addf(out, "; or ceilings %.1f times as high, where the labels allow it",
              ceil(10 * (c->fish_frac + c->asked_frac)) / 10);
}

void capacity_help(const struct capacity *c, struct text *out)
{
    if (c->by_hands)
        text_addf(
            out,
            "%.1f times the hands (feeders, or minutes of a round); or more rounds a week; or fewer corals to feed",
            ceil(10 * c->hands_frac) / 10);
    else
        ceiling_help(c, out);
}
