/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a water's readings ask of whoever feeds it: ammonia and nitrite, in quarantine above all, where a new filter is
 * weak and treatments weaken it. Limits and sources: docs/arithmetic.md, "Readings that call for care".
 */
#include "neap/calc.h"
#include "neap/ledger.h"
#include "neap/working.h"

/* Un-ionised NH3 in salt water, mean of four days: EPA 440/5-88-004 (1989). From memory. */
static const double free_nh3_most_mg_l = 0.035;

struct watch {
    const struct facility *f;
    long now_min;
    size_t system;
};

/* The latest reading that is fresh; NULL: none. */
static const struct test *latest(const struct watch *w, enum analyte a)
{
    const struct test *found = NULL;
    const struct system_rows own = tests_of(w->f, w->system);
    for (size_t i = own.first; i < own.end; i++) {
        const struct test *t = &w->f->tests[i];
        if (t->analyte == (int)a && t->taken <= w->now_min &&
            w->now_min - t->taken <= (long)(w->f->settings.stale_d * MIN_PER_DAY))
            found = t; /* they come by their moment */
    }
    return found;
}

/* mg/L of NH3 by the latest pH, temperature and, where it is known, salinity; NAN: not known. */
static double free_nh3_mg_l(const struct watch *w, const struct test *tan)
{
    double frac;
    const struct test *ph = latest(w, ANALYTE_PH), *temp = latest(w, ANALYTE_TEMP),
                      *salinity = latest(w, ANALYTE_SALINITY);
    if (!ph || !temp ||
        !nh3_unionised_frac(ph->value, temp->value, salinity ? salinity->value : (double)NAN, &frac, NULL))
        return (double)NAN;
    return nh3_from_nh3_n(tan->value * frac);
}

static void write_words(const struct watch *w, const struct test *t, double free_mg_l, struct text *out)
{
    char day[DAY_TEXT];
    const struct analyte_def *def = &analytes[t->analyte];
    const struct measured m = {t->analyte, t->value, t->below};
    day_format(moment_day(t->taken), day);
    text_addf(out, "%s: ", w->f->systems[w->system].name);
    measured_words(&m, out);
    text_addf(out, " on %s", day);
    if (t->value > def->care_above)
        text_addf(out, ", above %g", def->care_above);
    if (!isnan(free_mg_l))
        text_addf(out, "; %.3f mg/L of it free NH3%s", free_mg_l,
                  free_mg_l > free_nh3_most_mg_l ? ", above 0.035" : "");
    text_add(out, ". Change water, feed less, take out what is not eaten, and test again tomorrow.");
}

/* On the first page, and where the hand is: at each tank of the water that is fed today. */
static bool warn(struct working *w, const struct round *r, const struct watch *of, const struct test *t,
                 double free_mg_l, struct err *e)
{
    struct text words = {0};
    write_words(of, t, free_mg_l, &words);
    bool ok = !words.failed || err_memory(e);
    ok = ok && caution_add(w, CAUTION_HEED, e, "%s", text_str(&words));
    for (size_t i = 0; ok && i < w->f->n_tanks; i++)
        if (w->f->tanks[i].system == of->system && is_worked_in(r, i))
            ok = caution_add_tank(w, i, e, "High %s in this water: feed less, and take out what is not eaten.",
                                  analytes[t->analyte].title);
    text_free(&words);
    return ok;
}

bool working_watch(struct working *w, const struct round *r, struct err *e)
{
    struct watch of = {.f = w->f, .now_min = (w->request->day + 1) * MIN_PER_DAY - 1};
    for (of.system = 0; of.system < w->f->n_systems; of.system++) {
        const struct system *s = &w->f->systems[of.system];
        if (s->retired || (!s->quarantine && !is_fed_today(r, w->f, of.system)))
            continue;
        for (int a = 0; a < N_ANALYTES; a++) {
            const struct test *t = analytes[a].care_above > 0 ? latest(&of, (enum analyte)a) : NULL;
            if (!t || t->below)
                continue;
            double free_mg_l = a == ANALYTE_TAN ? free_nh3_mg_l(&of, t) : (double)NAN;
            if ((t->value > analytes[a].care_above || free_mg_l > free_nh3_most_mg_l) &&
                !warn(w, r, &of, t, free_mg_l, e))
                return false;
        }
    }
    return true;
}
