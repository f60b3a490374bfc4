/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap card: a page for a customer's tank: what to feed, how much, how often. */
#include "paper.h"

#include "neap/calc.h"
#include "neap/naming.h"
#include "neap/week.h"

/* In less water than that a drop too much is much. Common practice, no source. */
static const double least_l = 20;

enum { CARD_WIDTH = 80, CORALS_MAX = 64, COUNT_MOST = 1000 };

/* "branching euphylliids=3" or "=3x2": corals, and heads of each. */
static bool take_coral(const struct facility *f, const char *arg, struct home_coral *coral, struct err *e)
{
    char name[NAME_BYTES_MAX + 1], count[24];
    const char *value;
    if (!split_assignment(arg, name, &value, e))
        return false;
    *coral = (struct home_coral){.kind = facility_named(f, REG_KIND, name), .heads = 1};
    if (coral->kind == REF_NONE)
        return row_unknown(f, REG_KIND, name, e);
    size_t n = strcspn(value, "x");
    snprintf(count, sizeof count, "%.*s", (int)n, value);
    if (!count_parse(count, &coral->count) || (value[n] && !count_parse(value + n + 1, &coral->heads)) ||
        coral->count < 1 || coral->count > COUNT_MOST || coral->heads < 1 || coral->heads > COUNT_MOST)
        return err_set(e, ERR_MISUSE, NULL, "\"%.60s\": expected how many, such as 3, or 3x2 for two heads each", arg);
    return true;
}

static bool take_measure(const struct context *c, const char *option, double *cm, struct err *e)
{
    struct err why;
    const char *text = option_text(c, option, NULL);
    if (!text)
        return err_set(e, ERR_MISUSE, NULL, "--%s is missing; expected --volume, or --length, --width and --water",
                       option);
    return quantity_read(text, "cm", cm, &why) || err_set(e, ERR_MISUSE, NULL, "--%s: %s", option, why.text);
}

static bool take_tank(const struct context *c, struct tank *t, struct err *e)
{
    struct err why;
    const char *volume = option_text(c, "volume", NULL);
    *t = (struct tank){.shape = SHAPE_STATED};
    t->length_cm = t->width_cm = t->water_cm = t->diameter_cm = t->bow_cm = t->side_cm = (double)NAN;
    t->cut_length_cm = t->cut_width_cm = t->net_volume_l = (double)NAN;
    if (volume)
        return quantity_read(volume, "L", &t->net_volume_l, &why) ||
               err_set(e, ERR_MISUSE, NULL, "--volume: %s", why.text);
    t->shape = SHAPE_BOX;
    t->displacement_frac = option_number(c, "rock", 0) / 100;
    return take_measure(c, "length", &t->length_cm, e) && take_measure(c, "width", &t->width_cm, e) &&
           take_measure(c, "water", &t->water_cm, e);
}

static bool take_reading(const struct context *c, enum analyte a, const char *name, struct home *h, struct err *e)
{
    struct measured m;
    struct err why;
    const char *text = option_text(c, name, NULL);
    if (!text)
        return true;
    if (!measured_parse(name, text, NULL, &m, &why))
        return err_set(e, ERR_MISUSE, NULL, "--%s: %s", name, why.text);
    h->has[a] = true;
    h->level_mg_l[a] = m.value;
    h->below[a] = m.below;
    return true;
}

static bool print_card(struct context *c, const struct facility *house, struct home *h, struct err *e)
{
    struct facility f;
    struct round r;
    struct document d = {0};
    if (!home_plan(house, h, &f, &r, e))
        return false;
    bool ok = f.systems[0].volume_l >= least_l ||
              err_set(e, ERR_INPUT, NULL, "%.1f L of water; expected %.0f L or more, which forgives a slip",
                      f.systems[0].volume_l, least_l);
    ok = ok && home_why(&f, h, e) && card_document(&f, &r, h, &d, e) &&
         (paper_wanted(c) ? paper_make(c, &d, e) : render_text(&d, CARD_WIDTH, 0, c->out, e));
    document_free(&d);
    round_free(&r);
    facility_free(&f);
    return ok;
}

static bool card_run(struct context *c, struct err *e)
{
    struct store *s;
    struct facility f;
    struct home_coral corals[CORALS_MAX];
    struct home h = {.name = option_text(c, "for", ""), .day = c->today, .corals = corals, .n_corals = c->n_args};
    if (!take_tank(c, &h.tank, e) || !take_reading(c, ANALYTE_NO3, "no3", &h, e) ||
        !take_reading(c, ANALYTE_PO4, "po4", &h, e) || !context_snapshot(c, STORE_READ, &s, &f, e))
        return false;
    bool ok = true;
    for (size_t i = 0; ok && i < c->n_args; i++)
        ok = take_coral(&f, c->args[i], &corals[i], e);
    ok = ok && print_card(c, &f, &h, e);
    facility_free(&f);
    store_close(s);
    return ok;
}

const struct command command_card = {
    .name = "card",
    .place = 410,
    .summary = "a page for a customer's tank: what to feed, how much, how often",
    .also = "customer home client",
    .usage = "KIND=COUNT[xHEADS]…",
    .about =
        "Plans a tank at home by the same rules as a round, from its volume or measures, its readings and its corals, "
        "with every food of the house at hand, and says it in teaspoons and syringes, rounded down: start small, "
        "test after, take care. Nothing is stored. Without readings the lean strength is taken.",
    .example = "neap card zoanthids=2x20 --volume 75usgal --no3 8 --po4 0.06",
    .options =
        (const struct option_row[]){
            {"volume", OPT_TEXT, "VOLUME", .help = "water in the tank and its sump: 300L, 75usgal"},
            {"length", OPT_TEXT, "LENGTH", .help = "instead of a volume, inside: 120cm, 48in"},
            {"width", OPT_TEXT, "LENGTH", .help = "inside, front to back"},
            {"water", OPT_TEXT, "LENGTH", .help = "height of the water"},
            {"rock", OPT_NUMBER, "PERCENT", .min = 0, .max = 90, .help = "what rock and sand take away, else 0"},
            {"no3", OPT_TEXT, "VALUE", .help = "nitrate: 8, \"<2\""},
            {"po4", OPT_TEXT, "VALUE", .help = "phosphate: 0.06, \"<0.02\""},
            {"for", OPT_TEXT, "NAME", .help = "printed at its head"},
            OPTIONS_PAPER,
            {0}},
    .args_min = 1,
    .args_max = CORALS_MAX,
    .run = card_run,
};
