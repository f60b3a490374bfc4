/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One page for a customer's tank at home: what, how much by spoon and syringe, how often, and what to look out for. */
#include "neap/calc.h"
#include "words.h"

/* A metric teaspoon; measured level, by eighths, and rounded down. Common practice, no source. */
static const double teaspoon_ml = 5, eighth = 0.125;
/* Of a jug's powder, what rounding down to eighths may take away before a larger jug is asked for. Our own choice. */
static const double loss_most_frac = 0.35;
static const double jugs_ml[] = {50, 100, 250, 500};

struct card {
    const struct facility *f;
    const struct round *r;
    const struct home *h;
    struct document *d;
};

static double spoons_of(const struct food *food, double g)
{
    return g / food->density_g_per_ml / teaspoon_ml;
}

/* "3/8 level teaspoon", "1 1/4 level teaspoons": of what is at most that. "": less than an eighth. */
static const char *spoon_words(struct card *c, const struct food *food, double g)
{
    static const char *const parts[] = {"", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8"};
    double down = round_down_to(spoons_of(food, g), eighth);
    int whole = (int)floor(down), part = (int)lround((down - whole) / eighth);
    if (down < eighth)
        return "";
    if (whole == 0)
        return document_format(c->d, "%s level teaspoon", parts[part]);
    return document_format(c->d, "%d%s%s level teaspoon%s", whole, part ? " " : "", parts[part], down == 1 ? "" : "s");
}

/* "": less than a household can measure. */
static const char *amount_words(struct card *c, const struct food *food, double units)
{
    double ml = round_down_to(units, 0.1);
    if (food->unit == UNIT_ML)
        return ml > 0 ? document_format(c->d, "%.1f mL, by syringe", ml) : "";
    return spoon_words(c, food, units);
}

/* Of a food in so many mL of the pot's slurry. */
static double units_in(const struct card *c, const struct pot *p, size_t food, double ml)
{
    double units = 0;
    for (size_t i = 0; i < c->r->n_pot_foods; i++)
        if (c->r->pot_foods[i].food == food && strcmp(c->r->pot_foods[i].pot, p->pot) == 0)
            units += c->r->pot_foods[i].amount_units;
    return units / p->made_ml * ml;
}

/* The smallest jug that holds what is given and whose powders a spoon can measure. */
static double jug_of(const struct card *c, const struct pot *p)
{
    for (size_t k = 0; k < COUNT_OF(jugs_ml); k++) {
        bool ok = jugs_ml[k] >= p->need_ml;
        for (size_t i = 0; i < c->f->n_foods && ok; i++) {
            double units = units_in(c, p, i, jugs_ml[k]);
            double spoons = spoons_of(&c->f->foods[i], units);
            ok = units <= 0 || c->f->foods[i].unit == UNIT_ML ||
                 round_down_to(spoons, eighth) >= (1 - loss_most_frac) * spoons;
        }
        if (ok)
            return jugs_ml[k];
    }
    return jugs_ml[COUNT_OF(jugs_ml) - 1];
}

static const struct column mix_columns[] = {{"", 3, false}, {"into the jug", 0, false}, {"how much", 44, false}};

static void put_mix(struct card *c, const struct pot *p)
{
    double jug = jug_of(c, p);
    document_space(c->d);
    document_heading(c->d, document_format(c->d, "MIX %s%s", p->pot, p->late ? ", just before use" : ""));
    document_table(c->d, mix_columns, COUNT_OF(mix_columns));
    document_row(c->d, (const char *const[]){"[ ]", "water from the tank", document_format(c->d, "%.0f mL", jug)});
    for (size_t i = 0; i < c->f->n_foods; i++) {
        const char *much = amount_words(c, &c->f->foods[i], units_in(c, p, i, jug));
        if (*much)
            document_row(c->d, (const char *const[]){"[ ]", c->f->foods[i].name, much});
    }
    for (size_t i = 0; i < c->f->n_foods; i++)
        if (*c->f->foods[i].prepare && *amount_words(c, &c->f->foods[i], units_in(c, p, i, jug)))
            document_item(c->d, "-", document_format(c->d, "%s: %s.", c->f->foods[i].name, c->f->foods[i].prepare));
    document_text(c->d, document_format(c->d,
                                        "Stir. %.1f mL of it are given; pour the "
                                        "rest away, not into the tank, and keep none.",
                                        p->need_ml));
}

static const struct column give_columns[] = {
    {"to", 0, false}, {"corals", 6, true}, {"each", 22, false}, {"mix", 3, false}, {"how often", 13, false}};

static void put_kind_notes(struct card *c)
{
    for (size_t k = 0; k < c->f->n_kinds; k++) {
        bool there = false;
        for (size_t i = 0; i < c->f->n_colonies && !there; i++)
            there = c->f->colonies[i].kind == k && *c->f->kinds[k].note;
        if (there)
            document_item(c->d, c->f->kinds[k].hand_safety ? "*" : "-",
                          document_format(c->d, "%s: %s", c->f->kinds[k].name, c->f->kinds[k].note));
    }
}

static void put_gives(struct card *c)
{
    bool headed = false;
    for (size_t i = 0; i < c->r->n_lines; i++) {
        const struct line *l = &c->r->lines[i];
        if (l->action != ACTION_TARGET)
            continue;
        const struct kind *k = &c->f->kinds[c->f->colonies[l->colony].kind];
        double each = l->amount / (double)l->count;
        if (!headed) {
            document_space(c->d);
            document_heading(c->d, "GIVE, with the pumps off");
            document_table(c->d, give_columns, COUNT_OF(give_columns));
        }
        headed = true;
        const char *how = l->mouths > 0 ? document_format(c->d, "%.1f mL over %ld mouth%s", each, l->mouths,
                                                          l->mouths == 1 ? "" : "s")
                                        : document_format(c->d, "%.1f mL as a cloud", each);
        const char *cells[] = {
            document_format(c->d, "%s%s", k->hand_safety ? "* " : "", k->name),
            document_format(c->d, "%ld", l->count),
            how,
            l->pot,
            document_format(c->d, "every %g day%s", k->interval_d, k->interval_d == 1 ? "" : "s"),
        };
        document_row(c->d, cells);
    }
    put_kind_notes(c);
    if (headed)
        document_text(c->d, document_format(c->d,
                                            "Pumps on again %.0f minutes after the last coral, and check that they "
                                            "run. Set an alarm for it before you begin.",
                                            c->f->settings.rest_min));
}

/* Who is left out this time, and why: never silently. */
static void put_left_out(struct card *c)
{
    for (size_t i = 0; i < c->r->n_waitings; i++) {
        const struct colony *colony = &c->f->colonies[c->r->waitings[i].colony];
        document_item(c->d, "!",
                      document_format(c->d, "%s: not fed for now: %s.", c->f->kinds[colony->kind].name,
                                      c->r->waitings[i].reason));
    }
}

static const struct column pour_columns[] = {{"into the water, pumps on", 0, false}, {"on a feeding day", 30, false}};

static void put_pours(struct card *c)
{
    bool headed = false;
    for (size_t i = 0; i < c->r->n_lines; i++) {
        const struct line *l = &c->r->lines[i];
        if (l->action != ACTION_BROADCAST || !*amount_words(c, &c->f->foods[l->food], l->amount))
            continue;
        if (!headed) {
            document_space(c->d);
            document_table(c->d, pour_columns, COUNT_OF(pour_columns));
        }
        headed = true;
        document_row(
            c->d, (const char *const[]){c->f->foods[l->food].name, amount_words(c, &c->f->foods[l->food], l->amount)});
    }
}

static const char *reading_words(struct card *c, enum analyte a)
{
    const struct analyte_def *def = &analytes[a];
    if (!c->h->has[a])
        return document_format(c->d, "%s not tested", def->title);
    return document_format(c->d, "%s %s%s %s", def->title, c->h->below[a] ? "below " : "",
                           level_words(c->d, a, c->h->level_mg_l[a]), def->unit);
}

static void put_head(struct card *c)
{
    double litres = c->f->systems[0].volume_l;
    c->d->day = day_words(c->d, c->h->day);
    c->d->running_left = document_format(c->d, "%s  %s", c->f->settings.facility, day_words(c->d, c->h->day));
    document_heading(c->d, document_format(c->d, "HOME FEEDING CARD%s%s", *c->h->name ? " for " : "", c->h->name));
    document_text(c->d, document_format(c->d, "%.0f L (%.0f US gal) of water. %s, %s: %s.", litres,
                                        us_gal_from_litres(litres), title_words(c->d, reading_words(c, ANALYTE_NO3)),
                                        reading_words(c, ANALYTE_PO4), c->h->why));
    document_space(c->d);
    document_heading(c->d, "START SMALL");
    document_text(c->d,
                  "Half of every amount for the first two weeks, of the mix as well as of what is poured. Go on to the "
                  "full amounts only if nitrate and phosphate are where they were. Less is never wrong for a week.");
}

static void put_after(struct card *c)
{
    document_space(c->d);
    document_heading(c->d, "TEST AFTER");
    for (int a = 0; a < N_NUTRIENTS; a++) {
        double low, high;
        facility_band(c->f, 0, (enum analyte)a, &low, &high);
        document_item(c->d, "[ ]",
                      document_format(c->d,
                                      "%s after one and after two weeks: ______  ______   Keep it between %s and "
                                      "%s %s; above that feed half and change water, below it ask us first.",
                                      title_words(c->d, analytes[a].title), level_words(c->d, (enum analyte)a, low),
                                      level_words(c->d, (enum analyte)a, high), analytes[a].unit));
    }
    document_space(c->d);
    document_box(c->d, "TAKE CARE");
    static const char *const cares[] = {
        "Zoanthids and palythoa (*) may carry palytoxin: gloves and eye cover, never heat, boil or scrub them dry. "
        "Metallic taste, eye pain or feeling ill: get medical help at once and say palytoxin.",
        "Foods hold fish, shellfish or egg. Allergic, or a cough: let someone else feed. Keep them from children and "
        "pets.",
        "Cover cuts, wash your hands. Dry hands at plugs and pumps, on a fault interrupter; a licensed electrician and "
        "local codes have the last word.",
        "Siphon out food that still lies there after half an hour; never start the siphon by mouth. A coral that "
        "closes "
        "or "
        "refuses twice is not fed but looked at: ask us.",
    };
    for (size_t i = 0; i < COUNT_OF(cares); i++)
        document_row(c->d, (const char *const[]){cares[i]});
    document_whole(c->d);
}

bool card_document(const struct facility *f, const struct round *r, const struct home *h, struct document *d,
                   struct err *e)
{
    struct card c = {f, r, h, d};
    put_head(&c);
    for (size_t i = 0; i < r->n_pots; i++)
        put_mix(&c, &r->pots[i]);
    put_gives(&c);
    put_left_out(&c);
    put_pours(&c);
    put_after(&c);
    return d->failed ? err_memory(e) : true;
}
