/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the parts of the sheet have in common: words for times, amounts and flows, and the steps of the round by the
 * clock.
 */
#include "sheet.h"

#include "neap/figures.h"

const char *clock_words(struct sheet *s, int minute)
{
    char out[CLOCK_TEXT];
    clock_format(minute, out);
    return document_format(s->d, "%s", out);
}

const char *amount_words(struct sheet *s, const struct food *food, double units)
{
    double step = food_step(&s->f->settings, food);
    bool whole = food->unit == UNIT_ML && units == floor(units);
    return document_format(s->d, "%.*f %s", whole ? 0 : step_decimals(step), units, food_unit_name(food));
}

const char *lot_words(struct sheet *s, size_t food, size_t lot)
{
    const char *name = s->f->foods[food].name;
    return lot == REF_NONE ? name : document_format(s->d, "%s (%s)", name, s->f->lots[lot].code);
}

const char *food_words(struct sheet *s, const struct line *l)
{
    return lot_words(s, l->food, l->lot);
}

void put_cautions(struct sheet *s, enum caution_part part, const char *heading, const char *mark)
{
    bool headed = false;
    for (size_t i = 0; i < s->r->n_cautions; i++) {
        if (s->r->cautions[i].part != (int)part)
            continue;
        if (!headed) {
            document_space(s->d);
            document_heading(s->d, heading);
        }
        headed = true;
        document_item(s->d, mark, s->r->cautions[i].text);
    }
}

const char *latest_words(struct sheet *s, const struct line *on)
{
    int latest_min = flow_on_latest_min(s->f, s->r, on);
    return latest_min < INT_MAX ? clock_words(s, latest_min) : "";
}

const char *tank_words(struct sheet *s, const struct line *l)
{
    return *l->note ? document_format(s->d, "%s, %s", s->f->tanks[l->tank].name, l->note) : s->f->tanks[l->tank].name;
}

bool line_is_done(const struct sheet *s, const struct line *l)
{
    return s->done && s->done[l - s->r->lines];
}

bool line_is_not_given(const struct sheet *s, const struct line *l)
{
    return s->not_given && s->not_given[l - s->r->lines];
}

bool line_is_off(const struct sheet *s, const struct line *l)
{
    return s->changes && s->changes->off[l - s->r->lines];
}

bool same_step(const struct sheet *s, const struct line *a, const struct line *b)
{
    return same_broadcast(s->f, a, b) || (a->tank == b->tank && a->action == b->action && a->pass == b->pass &&
                                          a->start_min == b->start_min && a->feeder == b->feeder);
}

static int step_order(const struct line *a, const struct line *b)
{
    if (a->start_min != b->start_min)
        return a->start_min < b->start_min ? -1 : 1;
    if (a->end_min != b->end_min)
        return a->end_min < b->end_min ? -1 : 1;
    return a->number < b->number ? -1 : 1;
}

static bool begins_step(const struct sheet *s, size_t i)
{
    for (size_t k = 0; k < i; k++)
        if (same_step(s, &s->r->lines[k], &s->r->lines[i]))
            return false;
    return true;
}

bool sheet_steps(struct sheet *s)
{
    s->steps = arena_alloc(&s->d->arena, s->r->n_lines, sizeof *s->steps);
    s->n_steps = 0;
    if (!s->steps)
        return false;
    for (size_t i = 0; i < s->r->n_lines; i++) {
        if (!begins_step(s, i))
            continue;
        size_t at = s->n_steps++;
        for (; at > 0 && step_order(&s->r->lines[i], &s->r->lines[s->steps[at - 1]]) < 0; at--)
            s->steps[at] = s->steps[at - 1];
        s->steps[at] = i;
    }
    return true;
}
