/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The care of hands: what the sheet says of safety, by where hands go today, whether a coral is fed there or not.
 * Sources and what they do not cover: docs/safety.md.
 */
#include "neap/working.h"

#include <string.h>

enum { TANKS_NAMED = 8 }; /* more are counted instead: their blocks say it each */

bool is_fed_today(const struct round *r, const struct facility *f, size_t system)
{
    for (size_t i = 0; i < r->n_lines; i++)
        if (f->tanks[r->lines[i].tank].system == system)
            return true;
    return false;
}

static bool toxic_tanks(struct working *w, const struct round *r, struct text *names, size_t *n, struct err *e)
{
    bool *toxic = arena_alloc(w->a, w->f->n_tanks, sizeof *toxic);
    if (!toxic)
        return err_memory(e);
    for (size_t i = 0; i < w->f->n_colonies; i++)
        if (colony_may_be_toxic(w->f, &w->f->colonies[i]))
            toxic[w->f->colonies[i].tank] = true;
    for (size_t t = 0; t < w->f->n_tanks; t++) {
        if (!is_worked_in(r, t) || !toxic[t])
            continue;
        if (++*n <= TANKS_NAMED)
            text_addf(names, "%s%s", *n > 1 ? ", " : "", w->f->tanks[t].name);
        if (!caution_add_tank(w, t, e, "Zoanthids or palythoa in here, fed or not: gloves and eye cover."))
            return false;
    }
    return !names->failed || err_memory(e);
}

static bool care_of_palytoxin(struct working *w, const struct round *r, struct err *e)
{
    struct text names = {0};
    size_t n = 0;
    bool ok = toxic_tanks(w, r, &names, &n, e);
    if (ok && n > TANKS_NAMED) {
        text_free(&names);
        names = (struct text){0};
        text_addf(&names, "%zu of today's tanks", n);
        ok = !names.failed || err_memory(e);
    }
    ok = ok && (n == 0 || caution_add(w, CAUTION_ALWAYS, e,
                                      "Zoanthids or palythoa, fed (marked *) or not, in %s: treat each as toxic "
                                      "(palytoxin). Whole gloves, eye cover, a long tube; never heat, boil or scrub "
                                      "them dry. Metallic taste, eye pain or feeling ill: stop, wash, get medical help "
                                      "at once and say palytoxin.",
                                      text_str(&names)));
    text_free(&names);
    return ok;
}

/* Fish food and what is broadcast count as much as a pot: the hand that measures them breathes and touches them. */
static bool is_handled(const struct round *r, const struct facility *f, int form)
{
    for (size_t i = 0; i < r->n_pot_foods; i++)
        if (f->foods[r->pot_foods[i].food].form == form)
            return true;
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].food != REF_NONE && f->foods[r->lines[i].food].form == form)
            return true;
    return false;
}

static bool care_of_food(struct working *w, const struct round *r, struct err *e)
{
    return caution_add(w, CAUTION_ALWAYS, e,
                       "Foods hold fish, shellfish or egg, and so does their dust. Allergic, or a cough that eases on "
                       "days off: let someone else handle them. Weigh powder low and slowly, wet it soon.%s",
                       is_handled(r, w->f, FORM_FROZEN) ? " Thawed food: use within 12 h, never refreeze." : "");
}

static bool care_of_skin_and_current(struct working *w, struct err *e)
{
    return caution_add(w, CAUTION_ALWAYS, e,
                       "Cover cuts, wear gloves, wash after the round; siphon with a bulb or pump, never by mouth. A "
                       "lump, spreading redness or fever after a scrape: see a doctor and say aquarium.") &&
           caution_add(w, CAUTION_ALWAYS, e,
                       "Switch flow with dry hands, outside the splash; sockets on a fault interrupter. House rules, "
                       "local codes and licensed advice come first.");
}

bool working_safety(struct working *w, const struct round *r, struct err *e)
{
    return r->n_lines == 0 || (care_of_palytoxin(w, r, e) && care_of_food(w, r, e) && care_of_skin_and_current(w, e));
}
