/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rounds as rows: which lines belong together, and what there is of them. */
#include "neap/plan.h"

void round_free(struct round *r)
{
    arena_free(&r->arena);
    *r = (struct round){0};
}

const char *round_words(const struct round_head *h, char out[ROUND_WORDS])
{
    snprintf(out, ROUND_WORDS, *h->name ? "round %ld (%s)" : "round %ld", h->number, h->name);
    return out;
}

bool share_pump(const struct facility *f, size_t a, size_t b)
{
    return a == b || (*f->tanks[a].pump && strcmp(f->tanks[a].pump, f->tanks[b].pump) == 0);
}

bool into_shared_water(const struct line *l)
{
    return l->action == ACTION_BROADCAST && l->shared;
}

/* A feeder gives one broadcast at a time: two that begin together in one system are one. */
bool same_broadcast(const struct facility *f, const struct line *a, const struct line *b)
{
    return a->action == ACTION_BROADCAST && b->action == ACTION_BROADCAST && a->feeder == b->feeder &&
           a->start_min == b->start_min && f->tanks[a->tank].system == f->tanks[b->tank].system;
}

static double pressing(const struct due_unfed *u)
{
    return isnan(u->since_d) ? INFINITY : u->since_d / u->interval_d;
}

static int more_pressing(const void *left, const void *right)
{
    const struct due_unfed *a = left, *b = right;
    if (a->obligate != b->obligate)
        return a->obligate ? -1 : 1;
    if (pressing(a) != pressing(b))
        return pressing(a) > pressing(b) ? -1 : 1;
    return (a->colony > b->colony) - (a->colony < b->colony);
}

bool round_unfed(const struct facility *f, const struct round *r, struct arena *a, struct due_unfed **list, size_t *n,
                 struct err *e)
{
    *n = 0;
    *list = arena_alloc(a, r->n_waitings, sizeof **list);
    if (!*list)
        return err_memory(e);
    for (size_t i = 0; i < r->n_waitings; i++) {
        const struct waiting *w = &r->waitings[i];
        if (w->due)
            (*list)[(*n)++] =
                (struct due_unfed){.colony = w->colony,
                                   .obligate = f->kinds[f->colonies[w->colony].kind].need == NEED_OBLIGATE,
                                   .since_d = w->since_d,
                                   .interval_d = w->interval_d};
    }
    qsort(*list, *n, sizeof **list, more_pressing);
    return true;
}

void unfed_words(const struct facility *f, const struct due_unfed *u, struct text *out)
{
    const struct colony *c = &f->colonies[u->colony];
    text_addf(out, "%s, %s: ", *c->label ? c->label : f->kinds[c->kind].name, f->tanks[c->tank].name);
    if (isnan(u->since_d))
        text_add(out, "no feed is known of");
    else
        text_addf(out, "%g d since its food", u->since_d);
    text_addf(out, ", due every %g d%s", u->interval_d, u->obligate ? ", and lives by it alone" : "");
}

/* Least that a stop takes: turning off and on, settling and a minute's feed, the rest. */
static double least_stop_min(const struct settings *s)
{
    return s->rest_min + 2 * s->switch_min + ceil(s->tank_fixed_s / 60) + 1;
}

static double tank_off_limit_min(const struct facility *f, size_t tank, int off_min)
{
    const struct settings *s = &f->settings;
    double limit_min = f->tanks[tank].flow_off_limit_min;
    bool known;
    for (int minute = off_min; minute < off_min + (int)f->tanks[tank].flow_off_limit_min; minute++)
        if (is_dark(f, tank, minute, &known))
            return fmin(limit_min, fmax(floor(limit_min * s->dark_flow_off_frac), least_stop_min(s)));
    return limit_min;
}

double off_limit_min(const struct facility *f, size_t tank, int off_min)
{
    double limit_min = tank_off_limit_min(f, tank, off_min);
    for (size_t i = 0; i < f->n_tanks; i++)
        if (!f->tanks[i].retired && i != tank && share_pump(f, i, tank))
            limit_min = fmin(limit_min, tank_off_limit_min(f, i, off_min));
    return limit_min;
}

const struct line *flow_off_of(const struct facility *f, const struct round *r, const struct line *on)
{
    const struct line *off = NULL;
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        if (l->action == ACTION_FLOW_OFF && l->start_min <= on->start_min && share_pump(f, l->tank, on->tank) &&
            (!off || l->start_min > off->start_min))
            off = l;
    }
    return off;
}

int flow_on_latest_min(const struct facility *f, const struct round *r, const struct line *on)
{
    const struct line *off = flow_off_of(f, r, on);
    return off ? off->start_min + (int)off_limit_min(f, on->tank, off->start_min) : INT_MAX;
}

bool on_hold(const char *reason, int until, int day)
{
    return *reason && (until == DAY_NONE || until >= day);
}

void hold_until_text(int until, char out[HOLD_UNTIL_TEXT])
{
    char day[DAY_TEXT];
    if (until == DAY_NONE) {
        snprintf(out, HOLD_UNTIL_TEXT, "until released");
        return;
    }
    day_format(until, day);
    snprintf(out, HOLD_UNTIL_TEXT, "until %.10s", day);
}

/* ---- counted ---------------------------------------------------------------------------------------------------- */

double round_food_units(const struct round *r, size_t food)
{
    double units = 0;
    for (size_t i = 0; i < r->n_pot_foods; i++)
        if (r->pot_foods[i].food == food)
            units += r->pot_foods[i].premix_ml > 0 ? r->pot_foods[i].premix_units : r->pot_foods[i].amount_units;
    for (size_t i = 0; i < r->n_lines; i++)
        units += r->lines[i].food == food ? r->lines[i].amount : 0;
    return units;
}

long round_lines(const struct round *r, enum action action)
{
    long n = 0;
    for (size_t i = 0; i < r->n_lines; i++)
        n += r->lines[i].action == (int)action;
    return n;
}

long round_colonies(const struct round *r)
{
    long n = 0;
    for (size_t i = 0; i < r->n_lines; i++)
        n += r->lines[i].count;
    return n;
}

bool is_worked_in(const struct round *r, size_t tank)
{
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].tank == tank)
            return true;
    return false;
}

size_t round_tanks(const struct facility *f, const struct round *r)
{
    size_t n = 0;
    for (size_t t = 0; t < f->n_tanks; t++)
        n += is_worked_in(r, t);
    return n;
}
