/*
 * How often the corals of a tank can be fed, beside how often their kinds ask for it.
 *
 * A round gives a tank what its ceiling leaves (need.c), and the facility what its hands can do. Where that is less than
 * the corals take, the most overdue go first, so that in the long run all wait for the same multiple of their interval.
 */
#include "neap/ledger.h"
#include "neap/working.h"

enum { ROUNDS_LEAST = 3 };                 /* fewer in the log tell no rhythm; our own choice */
static const double overfull_times = 1.25; /* fed later than asked by a quarter; our own choice */

/* Rounds between two feeds as asked: a round is whole, so one due every 3 d waits for each 2nd of 3 rounds a week. */
static double asked_rounds(const struct crowd_part *p, double rounds_per_d)
{
    return fmax(1, ceil(p->interval_d * rounds_per_d - 1e-9));
}

static double gap_rounds(const struct crowd_part *p, double rounds_per_d, double times)
{
    return fmax(asked_rounds(p, rounds_per_d), p->interval_d * rounds_per_d * times);
}

double crowd_asked_d(const struct crowd_part *p, double rounds_per_d)
{
    return asked_rounds(p, rounds_per_d) / rounds_per_d;
}

static double crowd_gets_d(const struct crowd_part *p, const struct crowding *c)
{
    return gap_rounds(p, c->rounds_per_d, c->times) / c->rounds_per_d;
}

/* ---- what takes part -------------------------------------------------------------------------------------------- */

double due_load(const struct working *w, const struct ceiling_room *room, const struct due *d)
{
    double per_ml = d->late ? room->late_load : room->slurry_load;
    return in_water(&w->f->settings, d->need_ml) * per_ml / (w->f->tanks[d->tank].net_l / 100) *
           fmin(1, w->states[d->system].factor);
}

bool is_too_large(double load, double room)
{
    return room > 1e-9 && load > room + 1e-9;
}

static void add_part(struct working *w, const struct due *d, double load)
{
    size_t kind = w->f->colonies[d->colony].kind, i = 0;
    while (i < w->n_crowd_parts && (w->crowd_parts[i].tank != d->tank || w->crowd_parts[i].kind != kind ||
                                    w->crowd_parts[i].interval_d != d->interval_d))
        i++;
    struct crowd_part *p = &w->crowd_parts[i];
    if (i == w->n_crowd_parts) {
        *p = (struct crowd_part){.tank = d->tank, .kind = kind, .interval_d = d->interval_d};
        w->n_crowd_parts++;
    }
    p->load_frac += load;
    p->hands_s += d->hands_s;
}

/* Rounds a day by the log before a day; 0: too few to tell. system REF_NONE: of the whole facility. */
static double rounds_logged(const struct working *w, size_t system)
{
    const struct facility *f = w->f;
    int last = w->request->day - 1, first = last, from = last - (int)f->settings.window_d + 1;
    long n = 0;
    for (int day = last; day >= from; day--) {
        bool fed = false;
        for (size_t i = 0; i < f->n_feds && !fed; i++)
            fed = f->feds[i].day == day && (system == REF_NONE || f->feds[i].system == system);
        n += fed;
        first = fed ? day : first;
    }
    return n < ROUNDS_LEAST ? 0 : (double)n / fmax(last - first + 1, 7);
}

/* ---- a ceiling and the hands ------------------------------------------------------------------------------------ */

static double asked_frac(const struct working *w, size_t tank, double rounds_per_d, double times)
{
    double load = 0;
    for (size_t i = 0; i < w->n_crowd_parts; i++)
        if (w->crowd_parts[i].tank == tank)
            load += w->crowd_parts[i].load_frac / gap_rounds(&w->crowd_parts[i], rounds_per_d, times);
    return load;
}

/* Hands-on seconds a day, where no coral comes earlier than after so many of its intervals. */
static double asked_hands(const struct working *w, double times)
{
    double seconds = 0;
    for (size_t i = 0; i < w->n_crowd_parts; i++) {
        const struct crowd_part *p = &w->crowd_parts[i];
        const struct crowding *c = &w->crowds[p->tank];
        if (isfinite(c->times))
            seconds += p->hands_s * c->rounds_per_d / gap_rounds(p, c->rounds_per_d, fmax(times, c->times));
    }
    return seconds;
}

static double asked_of(const struct working *w, size_t tank, double times)
{
    return tank == REF_NONE ? asked_hands(w, times) : asked_frac(w, tank, w->crowds[tank].rounds_per_d, times);
}

/* The least multiple of the intervals, from 1, at which what is asked fits; what is asked falls as it grows. */
static double times_for(const struct working *w, size_t tank, double room)
{
    enum { HALVINGS = 60 };
    double low = 1, high = 1;
    if (asked_of(w, tank, 1) <= room * (1 + 1e-9))
        return 1;
    while (high < 1e6 && asked_of(w, tank, high) > room)
        high *= 2;
    if (high >= 1e6)
        return INFINITY;
    for (int i = 0; i < HALVINGS; i++)
        *(asked_of(w, tank, (low + high) / 2) > room ? &low : &high) = (low + high) / 2;
    return high;
}

static struct crowding room_of(const struct working *w, const struct ceiling_room *room, size_t t)
{
    size_t system = w->f->tanks[t].system;
    double logged = rounds_logged(w, system);
    struct crowding c = {
        .tank = t,
        .by_log = logged > 0,
        .rounds_per_d = logged > 0 ? fmin(1, logged) : 1,
        .broadcast_frac = room->broadcast * fmin(1, w->states[system].factor),
        .fish_frac = fish_load(w, t),
        .kind = REF_NONE,
    };
    c.room_frac = fmax(0, 1 - c.broadcast_frac - c.fish_frac);
    return c;
}

static void share_ceiling(struct working *w, struct crowding *c)
{
    c->asked_frac = asked_frac(w, c->tank, c->rounds_per_d, 1);
    c->times = times_for(w, c->tank, c->room_frac);
    for (int week = (int)floor(c->rounds_per_d * 7 + 1e-9) + 1; week <= 7 && c->rounds_enough == 0; week++)
        if (asked_frac(w, c->tank, (double)week / 7, 1) <= c->room_frac)
            c->rounds_enough = week;
}

static void share_hands(struct working *w)
{
    long feeders = w->request->feeders > 0 ? w->request->feeders : w->f->settings.feeders;
    double logged = rounds_logged(w, REF_NONE), rounds_per_d = logged > 0 ? fmin(1, logged) : 1;
    double hands_s = w->f->settings.day_hands_min * 60 * (double)feeders * rounds_per_d;
    double times = times_for(w, REF_NONE, hands_s), hands_frac = asked_hands(w, 1) / hands_s;
    for (size_t t = 0; t < w->f->n_tanks; t++) {
        struct crowding *c = &w->crowds[t];
        c->hands_frac = hands_frac;
        c->by_hands = times > c->times;
        c->times = fmax(times, c->times);
    }
}

/* Named is the kind that takes most of the room, or of the hands, among those fed later than asked. */
static void name_kind(struct working *w, struct crowding *c)
{
    double most = -1;
    for (size_t i = 0; i < w->n_crowd_parts; i++) {
        const struct crowd_part *p = &w->crowd_parts[i];
        double asked_d = crowd_asked_d(p, c->rounds_per_d), gets_d = crowd_gets_d(p, c);
        double takes = c->by_hands ? p->hands_s : p->load_frac;
        if (p->tank != c->tank || gets_d < overfull_times * asked_d || takes <= most)
            continue;
        most = takes;
        c->overfull = true;
        c->kind = p->kind;
        c->interval_d = p->interval_d;
        c->gets_d = gets_d;
    }
}

bool working_crowds(struct working *w, struct err *e)
{
    const struct facility *f = w->f;
    const struct ceiling_room room = ceiling_room_of(w);
    struct due d;
    w->crowds = arena_alloc(w->a, f->n_tanks, sizeof *w->crowds);
    w->crowd_parts = arena_alloc(w->a, f->n_colonies, sizeof *w->crowd_parts);
    if (!w->crowds || !w->crowd_parts)
        return err_memory(e);
    for (size_t t = 0; t < f->n_tanks; t++)
        w->crowds[t] = room_of(w, &room, t);
    for (size_t i = 0; i < f->n_colonies; i++) {
        if (!due_in_turn(w, i, &d))
            continue;
        double load = due_load(w, &room, &d);
        if (!is_too_large(load, w->crowds[d.tank].room_frac)) /* else it is never fed, and its reason says so */
            add_part(w, &d, load);
    }
    for (size_t t = 0; t < f->n_tanks; t++)
        share_ceiling(w, &w->crowds[t]);
    share_hands(w);
    for (size_t t = 0; t < f->n_tanks; t++)
        name_kind(w, &w->crowds[t]);
    return true;
}

bool plan_crowding(const struct facility *f, int day, struct arena *a, const struct crowding **tanks, struct err *e)
{
    const struct plan_request request = {.day = day};
    struct working w = {.f = f, .request = &request, .a = a};
    if (!working_usable(&w, e) || !working_advice(&w, e) || !working_crowds(&w, e))
        return false;
    *tanks = w.crowds;
    return true;
}

const struct crowding *crowding_of_hands(const struct crowding *crowds, size_t n)
{
    const struct crowding *most = NULL;
    for (size_t t = 0; t < n; t++)
        if (crowds[t].overfull && crowds[t].by_hands && (!most || crowds[t].gets_d > most->gets_d))
            most = &crowds[t];
    return most;
}

/* ---- in words --------------------------------------------------------------------------------------------------- */

void crowding_words(const struct facility *f, const struct crowding *c, struct text *out)
{
    text_addf(out, "%s, due every %g d, can be fed ", f->kinds[c->kind].name, c->interval_d);
    if (isfinite(c->gets_d))
        text_addf(out, "about every %.0f d", c->gets_d);
    else
        text_add(out, "not at all");
    text_addf(out, c->by_log ? " with %.2g rounds a week" : ", even with a round every day", c->rounds_per_d * 7);
}

static void ceiling_help(const struct crowding *c, struct text *out)
{
    if (c->rounds_enough > 0)
        text_addf(out, "%d round%s a week", c->rounds_enough, c->rounds_enough == 1 ? "" : "s");
    else
        text_add(out, c->rounds_per_d < 1 ? "more rounds a week, though even one every day is not enough" : "");
    text_addf(out, "%s%.0f %% of its corals elsewhere", out->len > 0 ? "; or " : "",
              ceil(100 * (1 - c->room_frac / c->asked_frac)));
    if (c->broadcast_frac >= 0.1)
        text_addf(out, "; or less broadcast (it takes %.0f %% of the ceiling)", 100 * c->broadcast_frac);
    text_addf(out, "; or ceilings %.1f times as high, where the labels allow it",
              ceil(10 * (c->broadcast_frac + c->fish_frac + c->asked_frac)) / 10);
}

void crowding_help(const struct crowding *c, struct text *out)
{
    if (c->by_hands)
        text_addf(
            out,
            "%.1f times the hands (feeders, or minutes of a round); or more rounds a week; or fewer corals to feed",
            ceil(10 * c->hands_frac) / 10);
    else
        ceiling_help(c, out);
}
