/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How a colony's responses change its portion. Slow on purpose: one bad morning is weather, three are a fact. The
 * figures are common practice, no source; docs/round.md states the rule for the house.
 */
#include "neap/plan.h"
#include "neap/response.h"

enum { WINDOW = 3, REFUSALS_TO_CUT = 2, SCORES_TO_CHANGE = 2 };
static const double cut_frac = 0.75, least_frac = 0.5, poor_score = 1.5, good_score = 3.5;

struct window {
    struct judged rounds[WINDOW];
    int n;
};

static void window_add(struct window *w, const struct judged *round)
{
    if (w->n == WINDOW) {
        memmove(w->rounds, w->rounds + 1, (WINDOW - 1) * sizeof *w->rounds);
        w->n--;
    }
    w->rounds[w->n++] = *round;
}

static int window_refused(const struct window *w)
{
    int n = 0;
    for (int i = 0; i < w->n; i++)
        n += w->rounds[i].refused;
    return n;
}

static int window_scored(const struct window *w)
{
    int n = 0;
    for (int i = 0; i < w->n; i++)
        n += !isnan(w->rounds[i].score);
    return n;
}

static double window_mean(const struct window *w)
{
    double sum = 0;
    for (int i = 0; i < w->n; i++)
        sum += isnan(w->rounds[i].score) ? 0 : w->rounds[i].score;
    return window_scored(w) > 0 ? sum / window_scored(w) : (double)NAN;
}

/* Three rounds, at least two of them scored: never on one. */
static bool is_scored(const struct window *w)
{
    return w->n == WINDOW && window_scored(w) >= SCORES_TO_CHANGE;
}

static bool is_poor(const struct window *w)
{
    return window_refused(w) >= REFUSALS_TO_CUT || (is_scored(w) && window_mean(w) < poor_score);
}

/* Each judgement is used for one change only: after a change the next is three rounds (or two refusals) away. */
void response_judge(const struct judged *rounds, size_t n, struct response *out)
{
    struct window fresh = {0}, last = {0};
    double frac = 1;
    for (size_t i = 0; i < n; i++) {
        window_add(&fresh, &rounds[i]);
        window_add(&last, &rounds[i]);
        if (is_poor(&fresh)) {
            frac = fmax(least_frac, frac * cut_frac);
            fresh.n = 0;
        } else if (is_scored(&fresh) && window_mean(&fresh) >= good_score && frac < 1) {
            frac = fmin(1, frac / cut_frac);
            fresh.n = 0;
        }
    }
    *out = (struct response){
        .portion_frac = frac,
        .n_last = last.n,
        .refused_last = window_refused(&last),
        .mean_last = window_mean(&last),
        .refused = n > 0 && rounds[n - 1].refused,
        .close = is_poor(&last),
        .day = n > 0 ? rounds[n - 1].day : DAY_NONE,
    };
}

bool response_note(const struct response *s, struct arena *a, const char **note, struct err *e)
{
    *note = "";
    if (s->close && s->refused_last >= REFUSALS_TO_CUT)
        *note = arena_format(a, "refused %d of its last %d rounds", s->refused_last, s->n_last);
    else if (s->close)
        *note = arena_format(a, "took little in its last %d rounds (mean %.1f of 4)", s->n_last, s->mean_last);
    else if (s->refused)
        *note = "refused last time";
    return *note ? true : err_memory(e);
}
