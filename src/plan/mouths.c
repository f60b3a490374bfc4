/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a mouth takes. */
#include "neap/working.h"

bool food_is_late(const struct food *food)
{
    return food->form == FORM_PELLET || food->form == FORM_FROZEN;
}

bool kind_takes(const struct kind *k, const struct food *food)
{
    bool form = food->form == FORM_PELLET   ? k->takes_pellet
                : food->form == FORM_FROZEN ? k->takes_frozen
                : food->form == FORM_POWDER ? k->takes_powder
                                            : true;
    return form && food->max_particle_um <= k->max_particle_um;
}
