/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plan beside the house blend, laid out. */
#include "neap/advice.h"
#include "neap/learned.h"
#include "neap/print.h"
#include "neap/stock.h"
#include "neap/week.h"

static const struct column system_columns[] = {
    {"system", 0, false}, {"allowed", 7, true}, {"NO3 mg", 6, true}, {"house", 6, true},    {"NO3 mg/L", 8, true},
    {"house", 6, true},   {"PO4 mg", 6, true},  {"house", 6, true},  {"PO4 mg/L", 8, true}, {"house", 6, true},
};

static void put_system(const struct facility *f, const struct compare_system *s, struct document *d)
{
    double volume_l = f->systems[s->system].volume_l;
    const char *cells[COUNT_OF(system_columns)] = {f->systems[s->system].name, document_format(d, "%.2f", s->factor)};
    for (int a = 0; a < N_NUTRIENTS; a++) {
        int decimals = a == ANALYTE_PO4 ? 1 : 0;
        cells[2 + 4 * a] = document_format(d, "%.*f", decimals, s->plan_mg[a]);
        cells[3 + 4 * a] = document_format(d, "%.*f", decimals, s->house_mg[a]);
        cells[4 + 4 * a] = document_format(d, "%.*f", 3 + decimals, s->plan_mg[a] / volume_l);
        cells[5 + 4 * a] = document_format(d, "%.*f", 3 + decimals, s->house_mg[a] / volume_l);
    }
    document_row(d, cells);
}

static const struct column food_columns[] = {
    {"food", 0, false}, {"plan", 12, true}, {"house", 12, true}, {"last round", 12, true}};

static const char *units_words(const struct facility *f, size_t food, double units, struct document *d)
{
    bool g = f->foods[food].unit == UNIT_G;
    return isnan(units) ? "" : document_format(d, g ? "%.2f g" : "%.1f mL", units);
}

static const struct column change_columns[] = {
    {"system", 14, false}, {"then", 5, true}, {"now", 5, true}, {"why", 0, false}};

static void put_changes(const struct facility *f, const struct plan_comparison *c, const struct round_head *before,
                        struct document *d)
{
    char day[DAY_TEXT];
    day_format(before->day, day);
    document_space(d);
    document_heading(d, document_format(d, "STRENGTH SINCE ROUND %ld, %s", before->number, day));
    document_table(d, change_columns, COUNT_OF(change_columns));
    for (size_t i = 0; i < c->n_systems; i++) {
        const struct compare_system *s = &c->systems[i];
        const char *cells[] = {f->systems[s->system].name,
                               isnan(s->before_factor) ? "-" : document_format(d, "%.2f", s->before_factor),
                               isnan(s->pot_factor) ? "-" : document_format(d, "%.2f", s->pot_factor), s->why};
        document_row(d, cells);
    }
}

void compare_document(const struct facility *f, const struct plan_comparison *c, const struct round_head *before,
                      struct document *d)
{
    document_heading(d, "TODAY'S PLAN BESIDE THE HOUSE BLEND");
    document_text(
        d, "What the round adds to each water by mean effects, fish food included. House: the same slurry at house "
           "strength "
           "and shares, the house's broadcast, whatever the water tests, ceilings or amounts in stock say. Allowed: "
           "strength by state, of the house's.");
    document_table(d, system_columns, COUNT_OF(system_columns));
    for (size_t i = 0; i < c->n_systems; i++)
        put_system(f, &c->systems[i], d);
    document_space(d);
    document_table(d, food_columns, COUNT_OF(food_columns));
    for (size_t i = 0; i < c->n_foods; i++) {
        const struct compare_food *one = &c->foods[i];
        const char *cells[] = {f->foods[one->food].name, units_words(f, one->food, one->plan_units, d),
                               units_words(f, one->food, one->house_units, d),
                               units_words(f, one->food, one->before_units, d)};
        document_row(d, cells);
    }
    const char *cost[] = {document_format(d, "cost%s", money_in(&f->settings, ", ", d)),
                          document_format(d, "%.2f", c->plan_cents / 100),
                          document_format(d, "%.2f", c->house_cents / 100), ""};
    document_row(d, cost);
    if (before)
        put_changes(f, c, before, d);
    else
        document_text(d, "No round of an earlier day is kept, so there is none to differ from.");
}

/* ---- as data ---------------------------------------------------------------------------------------------------- */

static void system_json(const struct facility *f, const struct compare_system *s, struct json_text *j)
{
    json_open(j, NULL, '{');
    json_text_member(j, "system", f->systems[s->system].name);
    json_number_member(j, "allowed_factor", s->factor);
    json_number_member(j, "pot_factor", s->pot_factor);
    json_number_member(j, "before_factor", s->before_factor);
    json_text_member(j, "why", s->why);
    for (int a = 0; a < N_NUTRIENTS; a++) {
        json_open(j, analytes[a].name, '{');
        json_number_member(j, "plan_mg", s->plan_mg[a]);
        json_number_member(j, "house_mg", s->house_mg[a]);
        json_number_member(j, "plan_mg_l", s->plan_mg[a] / f->systems[s->system].volume_l);
        json_number_member(j, "house_mg_l", s->house_mg[a] / f->systems[s->system].volume_l);
        json_close(j);
    }
    json_close(j);
}

void compare_json(const struct facility *f, const struct plan_comparison *c, const struct round_head *before,
                  struct json_text *j)
{
    if (before)
        json_number_member(j, "round_before", (double)before->number);
    json_number_member(j, "plan_cents", c->plan_cents);
    json_number_member(j, "house_cents", c->house_cents);
    json_open(j, "systems", '[');
    for (size_t i = 0; i < c->n_systems; i++)
        system_json(f, &c->systems[i], j);
    json_close(j);
    json_open(j, "foods", '[');
    for (size_t i = 0; i < c->n_foods; i++) {
        json_open(j, NULL, '{');
        json_text_member(j, "food", f->foods[c->foods[i].food].name);
        json_text_member(j, "unit", f->foods[c->foods[i].food].unit == UNIT_G ? "g" : "ml");
        json_number_member(j, "plan_units", c->foods[i].plan_units);
        json_number_member(j, "house_units", c->foods[i].house_units);
        json_number_member(j, "before_units", c->foods[i].before_units);
        json_close(j);
    }
    json_close(j);
}
