/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Weeks ahead, as now and under a policy, beside each other. */
#include "neap/advice.h"
#include "neap/learned.h"
#include "neap/week.h"
#include "words.h"

enum { WEEK_D = 7 };

struct look {
    const struct facility *f;
    const struct ahead *a;
    struct document *d;
};

static const char *policy_words(struct look *p)
{
    const struct feeding_policy *policy = &p->a->request.policy;
    struct text t = {0};
    for (size_t i = 0; policy->skip && i < p->f->n_foods; i++)
        if (policy->skip[i])
            text_addf(&t, "%swithout %s", t.len ? ", " : "", p->f->foods[i].name);
    if (policy->strength_frac != 1)
        text_addf(&t, "%s%.10g times %s", t.len ? ", " : "", policy->strength_frac,
                  policy->skip ? "the rest of what was fed" : "what was fed");
    if (!isnan(policy->change_frac_per_week))
        text_addf(&t, "%s%.10g %% of the water changed a week", t.len ? ", " : "", 100 * policy->change_frac_per_week);
    return document_taken(p->d, &t);
}

static void put_head(struct look *p)
{
    const struct ahead_request *r = &p->a->request;
    p->d->running_left = document_format(p->d, "%d week%s ahead from %s", r->weeks, r->weeks == 1 ? "" : "s",
                                         day_words(p->d, p->a->day));
    document_heading(p->d, document_format(p->d, "%d WEEK%s AHEAD from %s, %s", r->weeks, r->weeks == 1 ? "" : "S",
                                           day_words(p->d, p->a->day), p->f->settings.facility));
    document_text(
        p->d, document_format(p->d,
                              "Going on as in the last %.0f days: %d runs, seed %lu. 5 %% of the runs are below the "
                              "first number, half below the second, 95 %% below the third.",
                              r->window_d, r->runs, r->seed));
    if (p->a->policy_given)
        document_text(p->d, document_format(p->d, "What if: %s.", policy_words(p)));
}

/* ---- the table -------------------------------------------------------------------------------------------------- */

static const struct column now_columns[] = {
    {"day", 11, false}, {"as now: 5 %", 11, true}, {"50 %", 8, true},
    {"95 %", 8, true},  {"outside", 8, true},      {"", 0, false},
};

static const struct column both_columns[] = {
    {"day", 10, false}, {"as now: 5 %", 11, true}, {"50 %", 6, true},
    {"95 %", 6, true},  {"outside", 7, true},      {"what if: 5 %", 13, true},
    {"50 %", 6, true},  {"95 %", 6, true},         {"outside", 0, true},
};

static const char *outside_words(struct look *p, const struct forecast_day *day)
{
    return document_format(p->d, "%.0f %%", 100 * (day->above_frac + day->below_frac));
}

static void put_week(struct look *p, const struct ahead_analyte *n, size_t day)
{
    const struct forecast_day *now = &n->as_now.days[day], *what_if = &n->what_if.days[day];
    const char *cells[] = {
        day_words(p->d, p->a->day + now->day),
        level_words(p->d, n->analyte, now->p05),
        level_words(p->d, n->analyte, now->p50),
        level_words(p->d, n->analyte, now->p95),
        outside_words(p, now),
        p->a->policy_given ? level_words(p->d, n->analyte, what_if->p05) : "",
        level_words(p->d, n->analyte, what_if->p50),
        level_words(p->d, n->analyte, what_if->p95),
        outside_words(p, what_if),
    };
    document_row(p->d, cells);
}

/* ---- in words --------------------------------------------------------------------------------------------------- */

static const char *side_words(const struct forecast *fc, const struct crossing *c)
{
    if (fc->leaves_frac < 0.05)
        return "";
    return c->high ? ", mostly above" : ", mostly below";
}

static void put_words(struct look *p, const struct ahead_analyte *n, const char *lead, const struct forecast *fc,
                      const struct crossing *c)
{
    const char *name = analytes[n->analyte].title, *crosses = crossing_words(p->d, c, p->a->day);
    int last = p->a->day + p->a->request.weeks * WEEK_D;
    if (!c->inside && !crosses)
        document_item(p->d, "-",
                      document_format(p->d, "%s: %s is unlikely to be back in the band by %s.", lead, name,
                                      day_words(p->d, last)));
    else if (!c->inside)
        document_item(p->d, "-", document_format(p->d, "%s: %s %s.", lead, name, crosses));
    else
        document_item(
            p->d, "-",
            document_format(p->d, "%s: %s%s%s%.0f %% chance that it is outside the band on some day up to %s%s.", lead,
                            name, crosses ? " " : ": ", crosses ? document_format(p->d, "%s; ", crosses) : "",
                            100 * fc->leaves_frac, day_words(p->d, last), side_words(fc, c)));
}

static void put_difference(struct look *p, const struct ahead_analyte *n)
{
    const struct forecast_day *now = &n->as_now.days[n->as_now.n_days - 1],
                              *what_if = &n->what_if.days[n->what_if.n_days - 1];
    document_item(p->d, "-",
                  document_format(p->d, "On %s: %s about %s instead of %s %s.", day_words(p->d, p->a->day + now->day),
                                  analytes[n->analyte].title, level_words(p->d, n->analyte, what_if->p50),
                                  level_words(p->d, n->analyte, now->p50), analytes[n->analyte].unit));
}

static void put_analyte(struct look *p, const struct ahead_analyte *n)
{
    const struct analyte_def *def = &analytes[n->analyte];
    document_space(p->d);
    if (!n->known) {
        document_text(p->d, document_format(p->d, "%s: %s, so there is no forecast.", title_words(p->d, def->title),
                                            !n->state.has_last ? "never tested"
                                            : n->state.stale   ? "the last test is too old"
                                            : n->state.level_verdict == LEVEL_BELOW_DETECTION
                                                ? "below detection, where no slope is seen"
                                            : n->state.verdict == STATE_TOO_FEW ? "too few tests for a slope"
                                            : n->state.has_slope ? "no two tests in a row that see anything"
                                                                 : "it jumped lately, and a jump is not carried on"));
        return;
    }
    document_text(p->d,
                  document_format(p->d, "%s %s, band %g-%g: line %s, slope %s a week before water changes", def->title,
                                  def->unit, n->band.low, n->band.high, level_words(p->d, n->analyte, n->state.level),
                                  signed_words(p->d, n->analyte, n->state.slope_per_d * WEEK_D)));
    document_keep(p->d);
    if (p->a->policy_given)
        document_table(p->d, both_columns, COUNT_OF(both_columns));
    else
        document_table(p->d, now_columns, COUNT_OF(now_columns));
    document_whole(p->d);
    for (size_t day = 0; day < n->as_now.n_days; day += WEEK_D)
        put_week(p, n, day);
    put_words(p, n, "As now", &n->as_now, &n->now_crosses);
    if (!p->a->policy_given)
        return;
    put_words(p, n, "What if", &n->what_if, &n->if_crosses);
    put_difference(p, n);
}

static void put_system(struct look *p, const struct ahead_system *s)
{
    const struct feeding_policy *policy = &p->a->request.policy;
    document_space(p->d);
    document_heading(p->d,
                     document_format(p->d, "SYSTEM %s: fed on %zu of %.0f days, %.0f %% of the water changed a week",
                                     p->f->systems[s->system].name, s->n_days_fed, p->a->request.window_d,
                                     100 * s->habit_frac_per_week));
    if (s->n_days_fed == 0 && (policy->skip || policy->strength_frac != 1))
        document_item(p->d, "!", "No feeding of it is logged, so other feeding changes nothing in this forecast.");
    for (int a = 0; a < N_NUTRIENTS; a++)
        put_analyte(p, &s->analytes[a]);
}

bool ahead_document(const struct facility *f, const struct ahead *a, struct document *d, struct err *e)
{
    struct look p = {f, a, d};
    put_head(&p);
    for (size_t i = 0; i < a->n_systems; i++)
        put_system(&p, &a->systems[i]);
    return d->failed ? err_memory(e) : true;
}
