/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Jug, syringe and bottle: which to measure a volume in. */
#include "neap/calc.h"

enum { GRADUATIONS = 10, FINER = 5 };

static bool is_small(const struct vessel *v, double ml)
{
    return ml <= GRADUATIONS * v->step_ml * (1 + 1e-9);
}

double vessel_step_ml(const struct vessel *v, double held_ml)
{
    return is_small(v, held_ml) ? v->step_ml / FINER : v->step_ml;
}

double vessel_dead_ml(const struct vessel *v, double held_ml)
{
    return is_small(v, held_ml) ? v->dead_ml / FINER : v->dead_ml;
}

double vessel_fill_ml(const struct vessel *v, double wanted_ml)
{
    double little_ml = wanted_ml + v->dead_ml / FINER;
    double held_ml = is_small(v, little_ml) ? little_ml : wanted_ml + v->dead_ml;
    return round_up_to(held_ml, vessel_step_ml(v, held_ml));
}
