/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows found by their keys, and what follows from a facility's rows: volumes, bands, prices. */
#include "neap/facility.h"

#include "neap/calc.h"

size_t facility_find(const struct facility *f, enum reg_id id, const char *key)
{
    const struct reg *r = reg_get(id);
    const char *rows = *(const char *const *)((const char *)f + r->array_offset);
    size_t low = 0, high = *(const size_t *)((const char *)f + r->count_offset);
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        int order = strcmp(*(const char *const *)(rows + mid * r->row_size + r->fields[0].offset), key);
        if (order == 0)
            return mid;
        if (order < 0)
            low = mid + 1;
        else
            high = mid;
    }
    return REF_NONE;
}

size_t facility_named(const struct facility *f, enum reg_id id, const char *typed)
{
    const struct reg *r = reg_get(id);
    const char *rows = *(const char *const *)((const char *)f + r->array_offset);
    size_t n = *(const size_t *)((const char *)f + r->count_offset), found = facility_find(f, id, typed);
    for (size_t i = 0; found == REF_NONE && i < n; i++)
        if (text_same_but_case(*(const char *const *)(rows + i * r->row_size + r->fields[0].offset), typed)) {
            for (size_t k = i + 1; k < n; k++)
                if (text_same_but_case(*(const char *const *)(rows + k * r->row_size + r->fields[0].offset), typed))
                    return REF_NONE;
            found = i;
        }
    return found;
}

bool tank_gross(const struct tank *t, double *gross_l, struct err *e)
{
    const struct tank_measures m = {
        .shape = (enum tank_shape)t->shape,
        .length_cm = t->length_cm,
        .width_cm = t->width_cm,
        .water_cm = t->water_cm,
        .diameter_cm = t->diameter_cm,
        .bow_cm = t->bow_cm,
        .side_cm = t->side_cm,
        .n_sides = (int)t->n_sides,
        .cut_length_cm = t->cut_length_cm,
        .cut_width_cm = t->cut_width_cm,
        .stated_l = t->net_volume_l,
    };
    return volume_gross(&m, gross_l, e);
}

/* A stated volume is what is in the tank: rock and sand are already out of it. */
static bool tank_net(struct tank *t, struct err *e)
{
    struct err why;
    if (tank_gross(t, &t->gross_l, &why) &&
        volume_net(t->gross_l, t->shape == SHAPE_STATED ? 0 : t->displacement_frac, &t->net_l, &why))
        return true;
    return err_set(e, why.code, NULL, "tank \"%s\": %s", t->name, why.text);
}

bool facility_derive(struct facility *f, struct err *e)
{
    for (size_t i = 0; i < f->n_systems; i++) {
        f->systems[i].volume_l = f->systems[i].sump_volume_l;
        f->systems[i].last_refused = DAY_NONE;
    }
    for (size_t i = 0; i < f->n_tanks; i++) {
        struct tank *t = &f->tanks[i];
        if (!tank_net(t, e))
            return false;
        if (!t->retired)
            f->systems[t->system].volume_l += t->net_l;
    }
    for (size_t i = 0; i < f->n_colonies; i++) {
        struct system *s = &f->systems[f->tanks[f->colonies[i].tank].system];
        if (f->colonies[i].last_refused > s->last_refused)
            s->last_refused = f->colonies[i].last_refused;
    }
    return true;
}

bool colony_may_be_toxic(const struct facility *f, const struct colony *c)
{
    return !c->retired && f->kinds[c->kind].hand_safety;
}

bool tank_may_be_toxic(const struct facility *f, size_t tank)
{
    for (size_t i = 0; i < f->n_colonies; i++)
        if (f->colonies[i].tank == tank && colony_may_be_toxic(f, &f->colonies[i]))
            return true;
    return false;
}

void facility_band(const struct facility *f, size_t system, enum analyte a, double *low, double *high)
{
    *low = analytes[a].band.low;
    *high = analytes[a].band.high;
    for (size_t i = 0; i < f->n_bands; i++)
        if (f->bands[i].system == system && f->bands[i].analyte == (int)a) {
            *low = f->bands[i].low;
            *high = f->bands[i].high;
        }
}

double method_step(const struct facility *f, const char *method, enum analyte a)
{
    for (size_t i = 0; i < f->n_methods; i++)
        if (f->methods[i].analyte == (int)a && strcmp(f->methods[i].name, method) == 0 && f->methods[i].step > 0)
            return f->methods[i].step;
    return 0;
}

double lot_unit_cents(const struct facility *f, size_t food, size_t lot)
{
    if (lot != REF_NONE && f->lots[lot].price_cents > 0 && f->lots[lot].amount_units > 0)
        return (double)f->lots[lot].price_cents / f->lots[lot].amount_units;
    return (double)f->foods[food].price_cents / f->foods[food].pack_units;
}

void facility_free(struct facility *f)
{
    arena_free(&f->arena);
    *f = (struct facility){0};
}
