/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a pot differs from the house blend, and why: plain words for the sheet. */
#include "neap/working.h"

/* A share this far from the house's, or a liquid by this part, is told. Common practice, no source. */
static const double share_told = 0.05, liquid_told = 0.15;

enum { REST_BYTES = 24 }; /* "; and 12 more on the pot" */

struct notes {
    struct working *w;
    const struct recipe_pot *pot;
    size_t index; /* of the pot */
    struct text words;
    long n_untold;
};

/* One more difference. A note has an end: what does not fit is counted. */
static void note(struct notes *n, const char *fmt, ...) PRINTF_LIKE(2, 3);
static void note(struct notes *n, const char *fmt, ...)
{
    char words[NOTE_BYTES_MAX];
    va_list ap;
    va_start(ap, fmt);
    int len = vsnprintf(words, sizeof words, fmt, ap);
    va_end(ap);
    if (len < 0 || n->words.len + (size_t)len + 2 + REST_BYTES > NOTE_BYTES_MAX)
        n->n_untold++;
    else
        text_addf(&n->words, "%s%s", n->words.len > 0 ? "; " : "", words);
}

/* ---- what the house would put in --------------------------------------------------------------------------------- */

static bool of_this_pot(const struct notes *n, size_t food)
{
    const struct food *fd = &n->w->f->foods[food];
    bool solid = fd->unit == UNIT_G && fd->blend_share_frac > 0;
    return !fd->retired && food_is_late(fd) == n->pot->late &&
           (solid || (fd->unit == UNIT_ML && fd->blend_ml_per_100ml > 0));
}

static bool feeds(const struct recipe_pot *pot, size_t system)
{
    for (size_t i = 0; i < pot->n_systems; i++)
        if (pot->systems[i] == system)
            return true;
    return false;
}

/* A kind fed from this pot that does not take the food; NULL: all do. */
static const struct kind *kind_against(const struct notes *n, size_t food)
{
    for (size_t i = 0; i < n->w->n_dues; i++) {
        const struct due *d = &n->w->dues[i];
        const struct kind *k = &n->w->f->kinds[n->w->f->colonies[d->colony].kind];
        if (d->late == n->pot->late && feeds(n->pot, d->system) && !kind_takes(k, &n->w->f->foods[food]))
            return k;
    }
    return NULL;
}

static const char *starved_water(const struct notes *n)
{
    for (size_t i = 0; i < n->pot->n_systems; i++)
        if (n->w->states[n->pot->systems[i]].po4_low)
            return n->w->f->systems[n->pot->systems[i]].name;
    return NULL;
}

static const struct recipe_amount *amount_of(const struct notes *n, size_t food)
{
    for (size_t k = 0; k < n->pot->n_amounts; k++)
        if (n->pot->amounts[k].food == food)
            return &n->pot->amounts[k];
    return NULL;
}

static bool is_in(const struct notes *n, size_t food)
{
    const struct recipe_amount *a = amount_of(n, food);
    return a && a->amount > 0;
}

/* ---- why --------------------------------------------------------------------------------------------------------- */

static bool is_about(const struct notes *n, const struct recipe_limit *l)
{
    if (l->pot != RECIPE_NONE)
        return l->pot == n->index && l->kind != RECIPE_STRENGTH_LEAN && l->kind != RECIPE_STRENGTH_FULL;
    if (l->kind == RECIPE_STOCK)
        return of_this_pot(n, l->food);
    return l->system != RECIPE_NONE && feeds(n->pot, l->system);
}

static const char *limit_words(const struct notes *n, const struct recipe_limit *l)
{
    const struct facility *f = n->w->f;
    const char *analyte = l->analyte == RECIPE_NO3 ? analytes[ANALYTE_NO3].title : analytes[ANALYTE_PO4].title;
    switch (l->kind) {
    case RECIPE_STOCK: return arena_format(n->w->a, "there is no more %s", f->foods[l->food].name);
    case RECIPE_CEILING: return arena_format(n->w->a, "the ceilings of %s", f->systems[l->system].name);
    case RECIPE_SHARE_MIN:
        return arena_format(n->w->a, "the least share of %s, %.2g", f->foods[l->food].name, l->limit);
    case RECIPE_SHARE_MAX:
        return arena_format(n->w->a, "the largest share of %s, %.2g", f->foods[l->food].name, l->limit);
    case RECIPE_ROOM_LOW: return arena_format(n->w->a, "%s needs more %s", f->systems[l->system].name, analyte);
    case RECIPE_ROOM_HIGH:
        return arena_format(n->w->a, "%s has no room for more %s", f->systems[l->system].name, analyte);
    case RECIPE_FALL:
        return arena_format(n->w->a, "%s in %s is to fall no faster", analyte, f->systems[l->system].name);
    case RECIPE_POORER: return arena_format(n->w->a, "less %s for %s", analyte, f->systems[l->system].name);
    case RECIPE_RICHER: return arena_format(n->w->a, "more %s for %s", analyte, f->systems[l->system].name);
    case RECIPE_WATER: return "its liquids fill it";
    case RECIPE_RISE:
        return arena_format(n->w->a, "%s in %s is to rise no faster", analyte, f->systems[l->system].name);
    default: return "";
    }
}

/* The first limit that holds this pot back, in the order in which limits give way to each other. */
static const char *reason(const struct notes *n, const struct recipe_amount *a, double wanted)
{
    const char *starved = starved_water(n);
    if (a && fabs(a->amount - wanted) > 2 * fabs(a->exact - wanted))
        return "the scale shows no finer";
    if (starved)
        return arena_format(n->w->a, "to bring more phosphate to %s", starved);
    for (int shares = 0; shares < 2; shares++) /* a share's limit is where another one has driven it */
        for (size_t i = 0; i < n->w->recipe.n_limits; i++) {
            const struct recipe_limit *l = &n->w->recipe.limits[i];
            bool of_share = l->kind == RECIPE_SHARE_MIN || l->kind == RECIPE_SHARE_MAX;
            if (of_share == (shares == 1) && is_about(n, l))
                return limit_words(n, l);
        }
    return "as near as its limits and the scale allow";
}

static void note_missing(struct notes *n, size_t food, const struct recipe_amount *a)
{
    const struct food *fd = &n->w->f->foods[food];
    const struct kind *k = kind_against(n, food);
    if (n->w->usable[food] <= 0)
        note(n, "no %s: none in stock", fd->name);
    else if (n->w->recipe_problem.foods[food].strips && starved_water(n))
        note(n, "no %s: %s lacks phosphate", fd->name, starved_water(n));
    else if (k && fd->max_particle_um > k->max_particle_um)
        note(n, "no %s: too coarse for %s", fd->name, k->name);
    else if (k)
        note(n, "no %s: %s do not take it", fd->name, k->name);
    else if (a) /* wanted, and too little for the measure */
        note(n, "no %s: %.2g %s is too little to measure", fd->name, a->exact, food_unit_name(fd));
    else
        note(n, "no %s: %s", fd->name, reason(n, NULL, 0));
}

/* ---- differences ------------------------------------------------------------------------------------------------- */

static double solids_g(const struct notes *n)
{
    double g = 0;
    for (size_t k = 0; k < n->pot->n_amounts; k++)
        g += n->pot->amounts[k].amount * n->w->recipe_problem.foods[n->pot->amounts[k].food].solids_g_per_unit;
    return g;
}

static double house_shares(const struct notes *n)
{
    double shares = 0;
    for (size_t food = 0; food < n->w->f->n_foods; food++)
        if (of_this_pot(n, food) && n->w->f->foods[food].unit == UNIT_G && is_in(n, food))
            shares += n->w->f->foods[food].blend_share_frac;
    return shares;
}

/*
 * What is in has the house shares in proportion: who is missing has a line already. Told is what there is more of; the
 * rest follows.
 */
static void note_share(struct notes *n, const struct recipe_amount *a)
{
    const struct recipe_food *rf = &n->w->recipe_problem.foods[a->food];
    double all_g = solids_g(n), share = a->amount * rf->solids_g_per_unit / all_g;
    double house = n->w->f->foods[a->food].blend_share_frac / house_shares(n);
    const bool above = share > a->share_max_frac + 1e-6;
    if (share > house + share_told)
        note(n, "%s %.0f %% of the dry food instead of %.0f %%%s: %s", rf->name, 100 * share, 100 * house,
             above ? arena_format(n->w->a, ", above its largest share, %.0f %%", 100 * a->share_max_frac) : "",
             reason(n, a, house * all_g / rf->solids_g_per_unit));
    else if (above)
        note(n, "%s above its largest share, %.0f %%: nothing else can be mixed", rf->name, 100 * a->share_max_frac);
}

static void note_liquid(struct notes *n, const struct recipe_amount *a)
{
    const struct food *fd = &n->w->f->foods[a->food];
    double house = a->house, step = n->w->recipe_problem.foods[a->food].step;
    if (fabs(a->amount - house) > fmax(liquid_told * house, step))
        note(n, "%s %.1f mL instead of %.1f mL: %s", fd->name, a->amount, house, reason(n, a, house));
}

static void note_blend(struct notes *n)
{
    for (size_t food = 0; food < n->w->f->n_foods; food++) {
        const struct recipe_amount *a = amount_of(n, food);
        if (!of_this_pot(n, food))
            continue;
        if (!a || a->amount <= 0)
            note_missing(n, food, a);
        else if (n->w->f->foods[food].unit == UNIT_G)
            note_share(n, a);
        else
            note_liquid(n, a);
    }
}

static void note_strength(struct notes *n)
{
    const struct recipe_pot *pot = n->pot;
    if (pot->below_lean)
        note(n, "weaker than the tests call for: limited by a ceiling, the stock or the scale");
    else if (pot->strength_frac < pot->full_frac - 0.05)
        note(n, "held at %.2f of the house strength: the state would allow %.2f", pot->strength_frac, pot->full_frac);
}

static void note_volume(struct notes *n)
{
    if (n->pot->slurry_ml > n->pot->least_ml)
        note(n, "made larger than the %.10g mL needed, so that its foods can be measured", n->pot->least_ml);
}

/* Water of a quarantine, or of a system with something on hold, must reach no other: so no tank's water is used. */
static void note_water(struct notes *n)
{
    if (n->pot->n_systems > 1)
        note(n, "use fresh salt water, never tank water: this pot feeds several systems");
}

const char *pot_notes(struct working *w, size_t pot)
{
    struct notes n = {.w = w, .pot = &w->recipe.pots[pot], .index = pot};
    note_strength(&n);
    note_water(&n);
    note_volume(&n);
    note_blend(&n);
    if (n.n_untold > 0)
        text_addf(&n.words, "; and %ld more", n.n_untold);
    const char *words = n.words.failed ? NULL : arena_text(w->a, text_str(&n.words));
    text_free(&n.words);
    return words;
}
