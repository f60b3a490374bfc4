#include "plan/order_model.h"

/* A small generator of our own, so that the same seed gives the same plan everywhere (xorshift, Marsaglia 2003). */
struct dice {
    uint64_t state;
};

static uint32_t dice_roll(struct dice *d, uint32_t sides)
{
    d->state ^= d->state << 13;
    d->state ^= d->state >> 7;
    d->state ^= d->state << 17;
    return (uint32_t)((d->state >> 32) * sides >> 32);
}

/* One number to compare schedules by: lateness, then finish, then walking (dm), then waiting. */
static int64_t cost_of(const struct order_schedule *s)
{
    return (((int64_t)s->late_min * 200000 + s->finish_min) * 2000000 + (int64_t)(s->walked_m * 10)) * 10000 +
           (s->waited_min < 9999 ? s->waited_min : 9999);
}

static void genes_change(const struct order_model *m, struct dice *d, struct order_gene *genes)
{
    const uint32_t n = (uint32_t)m->n_units;
    uint32_t a = dice_roll(d, n), b = dice_roll(d, n), kind = dice_roll(d, 8);
    if (kind < 3) {
        struct order_gene g = genes[a];
        genes[a] = genes[b];
        genes[b] = g;
    } else if (kind < 6) {
        struct order_gene g = genes[a];
        for (; a < b; a++)
            genes[a] = genes[a + 1];
        for (; a > b; a--)
            genes[a] = genes[a - 1];
        genes[b] = g;
    } else if (kind == 6) {
        genes[a].broadcast = (enum order_seek)dice_roll(d, 3);
        genes[a].on = (enum order_seek)dice_roll(d, 3);
    } else {
        genes[a].hold_min = genes[a].hold_min > 0 ? 0 : 1 + (int)dice_roll(d, 6);
    }
    genes_settle(m, genes);
}

/* What the search holds: the accepted order and schedule, and the one on trial. */
struct search {
    const struct order_model *m;
    struct order_gene *genes, *trial_genes;
    struct order_schedule now, trial;
    int64_t cost;
};

enum { HISTORY = 50, CLIMB_UNITS = 14 };   /* beyond so many, the beam search is better in the same time */

/*
 * Late acceptance hill climbing (Burke and Bykov 2017, EJOR 258:70-78): a change is taken when the result is no worse
 * than now, or than what was held HISTORY steps ago.
 */
static void search_climb(struct search *s, struct order_schedule *best)
{
    const struct order_model *m = s->m;
    struct dice d = { .state = 0x9E3779B97F4A7C15u ^ ((uint64_t)m->p->seed * 0xD1342543DE82EF95u) };
    if (d.state == 0)
        d.state = 1;
    int64_t history[HISTORY];
    for (int i = 0; i < HISTORY; i++)
        history[i] = s->cost;
    for (long step = 0; step < m->p->search_steps; step++) {
        memcpy(s->trial_genes, s->genes, (size_t)m->n_units * sizeof *s->genes);
        genes_change(m, &d, s->trial_genes);
        schedule_build(m, s->trial_genes, &s->trial);
        int64_t cost = cost_of(&s->trial);
        if (cost <= s->cost || cost <= history[step % HISTORY]) {
            s->cost = cost;
            memcpy(s->genes, s->trial_genes, (size_t)m->n_units * sizeof *s->genes);
            if (schedule_better(&s->trial, best))
                schedule_copy(m, best, &s->trial);
        }
        history[step % HISTORY] = s->cost;
    }
}

enum start_order { ALONG_THE_BENCH, LONGEST_FIRST, START_ORDERS };

static int unit_minutes(const struct order_model *m, int unit)
{
    int minutes = 0;
    for (int i = 0; i < m->n_tasks; i++)
        if (m->tasks[i].unit == unit)
            minutes += m->tasks[i].dur_min;
    return minutes;
}

static bool unit_before(const struct order_model *m, enum start_order order, const int *minutes, int a, int b)
{
    const struct order_unit *x = &m->units[a], *y = &m->units[b];
    if (x->due_min != y->due_min)
        return x->due_min < y->due_min;
    if (order == LONGEST_FIRST && minutes[a] != minutes[b])
        return minutes[a] > minutes[b];
    double x_m = m->p->tanks[x->tank].position_m, y_m = m->p->tanks[y->tank].position_m;
    if (x_m < y_m || x_m > y_m)
        return x_m < y_m;
    return a < b;
}

static void genes_start(const struct order_model *m, enum start_order order, enum order_seek seek, const int *minutes,
                        struct order_gene *genes)
{
    for (int i = 0; i < m->n_units; i++) {
        int at = i;
        for (; at > 0 && unit_before(m, order, minutes, i, genes[at - 1].unit); at--)
            genes[at] = genes[at - 1];
        genes[at] = (struct order_gene){ .unit = i, .broadcast = seek };
    }
    genes_settle(m, genes);
}

static bool search_new(const struct order_model *m, struct arena *a, struct search *s)
{
    *s = (struct search){ .m = m,
                          .genes = arena_alloc(a, (size_t)m->n_units, sizeof *s->genes),
                          .trial_genes = arena_alloc(a, (size_t)m->n_units, sizeof *s->trial_genes) };
    return s->genes && s->trial_genes && schedule_new(m, a, &s->now) && schedule_new(m, a, &s->trial);
}

enum { WIDTH_MAX = 100 };

static bool search_beams(struct search *s, struct arena *a, struct order_schedule *best, int bound_min)
{
    /* New units looked at, and the charge for a short supply of visits: no one setting is best for all rounds. */
    static const struct {
        int n_candidates, fill_percent;
    } runs[] = { { 12, 75 }, { 6, 75 }, { 12, 50 }, { 4, 100 }, { 8, 100 }, { 12, 100 } };
    const struct order_model *m = s->m;
    struct beam *beam;
    long width = m->n_tasks > 0 ? 20 * m->p->search_steps / m->n_tasks / (long)COUNT_OF(runs) : 0;
    int *order = arena_alloc(a, (size_t)m->n_units, sizeof *order);
    if (!order)
        return false;
    if (width < 1 || !beam_fits(m))
        return true;
    for (int i = 0; i < m->n_units; i++)
        order[i] = s->genes[i].unit;
    if (!beam_begin(m, a, width < WIDTH_MAX ? (int)width : WIDTH_MAX, order, &beam))
        return false;
    for (size_t i = 0; i < COUNT_OF(runs) && (best->finish_min > bound_min || best->late_min > 0); i++)
        if (beam_search(beam, runs[i].n_candidates, runs[i].fill_percent, &s->trial) && schedule_better(&s->trial, best))
            schedule_copy(m, best, &s->trial);
    return true;
}

bool search_best(const struct order_model *m, struct arena *a, int *bound_min, struct order_schedule *best, struct err *e)
{
    struct search s;
    int *minutes = arena_alloc(a, (size_t)m->n_units, sizeof *minutes);
    if (!minutes || !search_new(m, a, &s) || !schedule_new(m, a, best))
        return err_memory(e);
    for (int i = 0; i < m->n_units; i++)
        minutes[i] = unit_minutes(m, i);
    bool first = true;
    for (int order = 0; order < START_ORDERS; order++)
        for (int seek = SEEK_EARLY; seek <= SEEK_TIGHT; seek++) {
            genes_start(m, (enum start_order)order, (enum order_seek)seek, minutes, s.trial_genes);
            schedule_build(m, s.trial_genes, &s.trial);
            if (first || schedule_better(&s.trial, best)) {
                schedule_copy(m, best, &s.trial);
                memcpy(s.genes, s.trial_genes, (size_t)m->n_units * sizeof *s.genes);
            }
            first = false;
        }
    s.cost = cost_of(best);
    if (!search_beams(&s, a, best, *bound_min))
        return err_memory(e);
    if (m->n_units > 1 && m->n_units <= CLIMB_UNITS)
        search_climb(&s, best);
    if ((best->finish_min > *bound_min || best->late_min > 0) && exact_fits(m) && !exact_search(m, a, best, bound_min))
        return err_memory(e);
    return schedule_polish(m, a, best) || err_memory(e);
}
