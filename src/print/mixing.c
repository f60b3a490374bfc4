/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is prepared and mixed before anybody goes to a tank, and what goes into shared water. */
#include "sheet.h"

#include "neap/calc.h"
#include "neap/figures.h"

/* ---- pots ------------------------------------------------------------------------------------------------------- */

static const struct column pot_columns[] = {
    {"", 3, false},      {"in this order", 0, false}, {"amount", 9, true},
    {"scoops", 6, true}, {"allowed", 13, true},       {"weighed", 9, true},
};

static const char *allowed_words(struct sheet *s, double step, double amount)
{
    int decimals = step_decimals(step);
    const struct allowance allowed = measure_allowance(amount, step);
    if (allowed.least == allowed.most)
        return document_format(s->d, "just %.*f", decimals, amount);
    return document_format(s->d, "%.*f to %.*f", decimals, allowed.least, decimals, allowed.most);
}

/* What a pot's table has in mL adds up to its volume, so each is printed to the digit that it is measured to. */
static const char *measured_ml(struct sheet *s, double ml)
{
    return document_format(s->d, "%.*f mL", step_decimals(s->f->settings.liquid_step_ml), ml);
}

static void put_premixed(struct sheet *s, const struct pot_food *pf)
{
    const char *cells[] = {
        "[ ]",
        document_format(s->d, "premix of %s", lot_words(s, pf->food, pf->lot)),
        measured_ml(s, pf->premix_take_ml),
        "",
        allowed_words(s, s->f->settings.liquid_step_ml, pf->premix_take_ml),
        "________",
    };
    document_row(s->d, cells);
}

/* In level scoops; "" where none is known, or where it is less than a tenth of one. */
static const char *scoop_words(struct sheet *s, const struct food *food, double amount_g)
{
    const double scoops = food->scoop_g > 0 ? amount_g / food->scoop_g : 0;
    return scoops < 0.1 ? "" : document_format(s->d, "%.1f", scoops);
}

static void put_pot_food(struct sheet *s, const struct pot_food *pf)
{
    const struct food *food = &s->f->foods[pf->food];
    if (pf->premix_ml > 0) {
        put_premixed(s, pf);
        return;
    }
    const char *cells[] = {
        "[ ]",
        lot_words(s, pf->food, pf->lot),
        amount_words(s, food, pf->amount_units),
        scoop_words(s, food, pf->amount_units),
        allowed_words(s, food_step(&s->f->settings, food), pf->amount_units),
        "________",
    };
    document_row(s->d, cells);
}

static const struct column premix_columns[] = {
    {"", 3, false},           {"premix of", 0, false}, {"lot", 12, false},   {"weigh", 9, true},
    {"make up to", 11, true}, {"pots", 14, false},     {"weighed", 9, true},
};

static void put_premix(struct sheet *s, const struct pot_food *first)
{
    const struct food *food = &s->f->foods[first->food];
    double units = 0;
    struct text pots = {0};
    for (size_t i = 0; i < s->r->n_pot_foods; i++) {
        const struct pot_food *pf = &s->r->pot_foods[i];
        if (pf->food != first->food || pf->premix_ml <= 0)
            continue;
        units += pf->premix_units;
        text_addf(&pots, "%s%s", pots.len > 0 ? ", " : "", pf->pot);
    }
    const char *cells[] = {
        "[ ]",
        food->name,
        first->lot == REF_NONE ? "" : s->f->lots[first->lot].code,
        amount_words(s, food, units),
        document_format(s->d, "%.0f mL", first->premix_ml),
        document_taken(s->d, &pots),
        "________",
    };
    document_row(s->d, cells);
}

/* What is too little to weigh for single pots is weighed once for the round. */
static void put_premixes(struct sheet *s)
{
    bool headed = false;
    for (size_t i = 0; i < s->r->n_pot_foods; i++) {
        bool first = s->r->pot_foods[i].premix_ml > 0;
        for (size_t k = 0; k < i && first; k++)
            first = s->r->pot_foods[k].premix_ml <= 0 || s->r->pot_foods[k].food != s->r->pot_foods[i].food;
        if (!first)
            continue;
        if (!headed) {
            document_space(s->d);
            document_heading(s->d, "PREMIXES, ONCE FOR ALL POTS");
            document_text(s->d, "Weigh, make up with clean salt water, stir each time before a part is drawn.");
            document_keep(s->d);
            document_table(s->d, premix_columns, COUNT_OF(premix_columns));
            document_whole(s->d);
        }
        headed = true;
        put_premix(s, &s->r->pot_foods[i]);
    }
}

/* What is out of the ordinary, a line each. */
static void put_pot_notes(struct sheet *s, const char *note)
{
    while (*note) {
        const char *end = strstr(note, "; ");
        size_t len = end ? (size_t)(end - note) : strlen(note);
        document_row_note(s->d, "-", document_format(s->d, "%.*s", (int)len, note));
        note += len + (end ? 2 : 0);
    }
}

static bool is_mixed_once(const struct sheet *s, const struct pot *p, const struct batch **once)
{
    size_t n = 0;
    for (size_t i = 0; i < s->n_batches; i++)
        if (s->batches[i].pot == (size_t)(p - s->r->pots)) {
            *once = &s->batches[i];
            n++;
        }
    return n == 1 && (*once)->made_ml >= p->made_ml;
}

/* "Feeder 1 mixes 18 mL, 0.50 of every amount below, at 08:12; good until 10:12." */
static void put_batches(struct sheet *s, const struct pot *p)
{
    for (size_t i = 0; i < s->n_batches; i++) {
        const struct batch *b = &s->batches[i];
        if (b->pot == (size_t)(p - s->r->pots))
            document_row_note(s->d, "",
                              document_format(s->d,
                                              "Feeder %ld mixes %.10g mL, %.2f of every amount below, at %s; good "
                                              "until %s.",
                                              b->feeder, b->made_ml, b->made_ml / p->made_ml,
                                              clock_words(s, b->mix_min), clock_words(s, b->old_min)));
    }
}

/* "Mixed at 16:19, 13 min too old for the last corals at 17:32: nobody's hands are free for 3 min later than that." */
static void put_too_old(struct sheet *s, const struct pot *p)
{
    for (size_t i = 0; i < s->n_batches; i++) {
        const struct batch *b = &s->batches[i];
        if (b->pot == (size_t)(p - s->r->pots) && b->last_min > b->old_min)
            document_row_note(s->d, "!",
                              document_format(s->d,
                                              "Mixed at %s, %d min too old for its last corals at %s: nobody's hands "
                                              "are free for %d min later than that.",
                                              clock_words(s, b->mix_min), b->last_min - b->old_min,
                                              clock_words(s, b->last_min), b->mixed_min - b->mix_min));
    }
}

static void put_pot_head(struct sheet *s, const struct pot *p)
{
    const struct batch *once;
    bool mixed_once = is_mixed_once(s, p, &once);
    const char *who = mixed_once ? document_format(s->d, ": feeder %ld mixes it at %s, good until %s", once->feeder,
                                                   clock_words(s, once->mix_min), clock_words(s, once->old_min))
                                 : "";
    const char *strength = p->late ? document_format(s->d, "%.1f g dry per 100 mL", p->strength_g_per_100ml)
                                   : document_format(s->d, "%.2f g per 100 mL, %.2f of house strength",
                                                     p->strength_g_per_100ml, p->factor);
    document_row_head(
        s->d, "POT",
        document_format(s->d, "%s%s for %s%s", p->pot, p->late ? " (late: mix just before use)" : "", p->systems, who));
    document_row_note(s->d, "",
                      document_format(s->d, "Make up to %.10g mL: %.1f mL for the corals, the rest is loss. %s.",
                                      p->made_ml, p->need_ml, strength));
    if (!mixed_once)
        put_batches(s, p);
    put_too_old(s, p);
    put_pot_notes(s, p->note);
}

static void put_pot(struct sheet *s, const struct pot *p)
{
    put_pot_head(s, p);
    const char *water[] = {"[ ]",
                           "clean salt water",
                           measured_ml(s, p->water_ml),
                           "",
                           document_format(s->d, "to %.10g mL", p->made_ml),
                           "________"};
    document_row(s->d, water);
    for (size_t i = 0; i < s->r->n_pot_foods; i++)
        if (strcmp(s->r->pot_foods[i].pot, p->pot) == 0)
            put_pot_food(s, &s->r->pot_foods[i]);
}

/* One table for all, each pot a group of its own: the columns are read once. */
static void put_pots(struct sheet *s)
{
    if (s->r->n_pots == 0)
        return;
    document_space(s->d);
    document_table(s->d, pot_columns, COUNT_OF(pot_columns));
    document_whole(s->d);
    for (size_t i = 0; i < s->r->n_pots; i++)
        put_pot(s, &s->r->pots[i]);
}

/* ---- broadcasts into shared water ------------------------------------------------------------------------------- */

static const struct column shared_columns[] = {
    {"", 3, false},      {"clock", 6, false}, {"who", 3, true},      {"food", 0, false},
    {"into", 21, false}, {"in all", 7, true}, {"measured", 8, true},
};

static bool same_measure(const struct sheet *s, const struct line *a, const struct line *b)
{
    return into_shared_water(a) && into_shared_water(b) && same_broadcast(s->f, a, b) && a->food == b->food &&
           a->lot == b->lot;
}

/* The heading says into what. */
static const char *shared_words(struct sheet *s, const struct line *l)
{
    return strncmp(l->note, "into ", 5) == 0 ? document_format(s->d, "%s", l->note + 5) : l->note;
}

static void put_measured(struct sheet *s, const struct line *l)
{
    double units = 0;
    bool done = true;
    for (size_t i = 0; i < s->r->n_lines; i++) {
        const struct line *other = &s->r->lines[i];
        if (!same_measure(s, l, other))
            continue;
        if (other < l)
            return; /* stands there already */
        units += other->amount;
        done = done && line_is_done(s, other);
    }
    const char *cells[] = {
        "[ ]",
        clock_words(s, l->start_min),
        document_format(s->d, "%ld", l->feeder),
        food_words(s, l),
        shared_words(s, l),
        amount_words(s, &s->f->foods[l->food], units),
        done ? "done" : "________",
    };
    document_row(s->d, cells);
}

/* By the clock; what one feeder gives at one minute stands together. */
static void put_shared(struct sheet *s)
{
    int last_min = INT_MIN;
    for (;;) {
        int next_min = INT_MAX;
        for (size_t i = 0; i < s->r->n_lines; i++)
            if (into_shared_water(&s->r->lines[i]) && s->r->lines[i].start_min > last_min &&
                s->r->lines[i].start_min < next_min)
                next_min = s->r->lines[i].start_min;
        if (next_min == INT_MAX)
            return;
        if (last_min == INT_MIN) {
            document_space(s->d);
            document_heading(s->d, "BROADCAST INTO SHARED WATER");
            document_text(
                s->d,
                "Measure once for all its tanks, by the sump or the return. The tanks' lines have their parts of it.");
            document_keep(s->d);
            document_table(s->d, shared_columns, COUNT_OF(shared_columns));
            document_whole(s->d);
        }
        for (size_t i = 0; i < s->r->n_lines; i++)
            if (into_shared_water(&s->r->lines[i]) && s->r->lines[i].start_min == next_min)
                put_measured(s, &s->r->lines[i]);
        last_min = next_min;
    }
}

void put_mixing(struct sheet *s)
{
    put_cautions(s, CAUTION_BEFORE, "BEFORE THE ROUND", "[ ]");
    put_premixes(s);
    put_pots(s);
    put_shared(s);
}
