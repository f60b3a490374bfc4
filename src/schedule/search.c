/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the searches follow each other: building, beams, the exact one, polish. */
#include "schedule/model.h"

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
    if (order == LONGEST_FIRST && minutes[a] != minutes[b])
        return minutes[a] > minutes[b];
    double x_m = m->p->tanks[x->tank].position_m, y_m = m->p->tanks[y->tank].position_m;
    if (x_m < y_m || x_m > y_m)
        return x_m < y_m;
    return a < b;
}

static void priorities_start(const struct order_model *m, enum start_order order, enum order_seek seek,
                             const int *minutes, struct order_priority *priorities)
{
    for (int i = 0; i < m->n_units; i++) {
        int at = i;
        for (; at > 0 && unit_before(m, order, minutes, i, priorities[at - 1].unit); at--)
            priorities[at] = priorities[at - 1];
        priorities[at] = (struct order_priority){.unit = i, .broadcast = seek};
    }
    priorities_settle(m, priorities);
}

enum { WIDTH_MAX = 100 };

/* Beams from the units in this order; what is better than the best replaces it. */
static bool search_beams(const struct order_model *m, struct arena *a, const struct order_priority *priorities,
                         struct order_schedule *trial, struct order_schedule *best, int bound_min)
{
    /* New units looked at, and the charge for a short supply of visits: no one setting is best for all rounds. */
    static const struct {
        int n_candidates, fill_percent;
    } runs[] = {{12, 75}, {6, 75}, {12, 50}, {4, 100}, {8, 100}, {12, 100}};
    struct beam *beam;
    long width = m->n_tasks > 0 ? 20 * m->p->search_steps / m->n_tasks / (long)COUNT_OF(runs) : 0;
    int *order = arena_alloc(a, (size_t)m->n_units, sizeof *order);
    if (!order)
        return false;
    if (width < 1)
        return true;
    for (int i = 0; i < m->n_units; i++)
        order[i] = priorities[i].unit;
    if (!beam_begin(m, a, width < WIDTH_MAX ? (int)width : WIDTH_MAX, order, &beam))
        return false;
    for (size_t i = 0; i < COUNT_OF(runs) && best->finish_min > bound_min; i++)
        if (beam_search(beam, runs[i].n_candidates, runs[i].fill_percent, trial) && schedule_better(trial, best))
            schedule_copy(m, best, trial);
    return true;
}

bool search_best(const struct order_model *m, struct arena *a, int *bound_min, struct order_schedule *best,
                 struct err *e)
{
    const size_t n = (size_t)m->n_units;
    struct order_schedule trial;
    int *minutes = arena_alloc(a, n, sizeof *minutes);
    struct order_priority *priorities = arena_alloc(a, n, sizeof *priorities),
                          *best_priorities = arena_alloc(a, n, sizeof *best_priorities);
    if (!minutes || !priorities || !best_priorities || !schedule_new(m, a, &trial) || !schedule_new(m, a, best))
        return err_memory(e);
    for (int i = 0; i < m->n_units; i++)
        minutes[i] = unit_minutes(m, i);
    bool first = true;
    for (int order = 0; order < START_ORDERS; order++)
        for (int seek = SEEK_EARLY; seek <= SEEK_TIGHT; seek++) {
            priorities_start(m, (enum start_order)order, (enum order_seek)seek, minutes, priorities);
            schedule_build(m, priorities, &trial);
            if (first || schedule_better(&trial, best)) {
                schedule_copy(m, best, &trial);
                memcpy(best_priorities, priorities, n * sizeof *priorities);
            }
            first = false;
        }
    if (!search_beams(m, a, best_priorities, &trial, best, *bound_min))
        return err_memory(e);
    if (best->finish_min > *bound_min && exact_fits(m) && !exact_search(m, a, best, bound_min))
        return err_memory(e);
    return schedule_polish(m, a, best) || err_memory(e);
}
