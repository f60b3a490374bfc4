/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The round sheet: what a feeder pins to a clipboard. Everything on it is in the round; nothing is worked out here. */
#include "sheet.h"
#include "words.h"

#include "neap/calc.h"
#include "neap/figures.h"

/* ---- head ------------------------------------------------------------------------------------------------------- */

enum { RUNNING_MOST = 64 }; /* beside "page 12 of 34" in 80 columns */

/*
 * On every page: an outdated sheet is not to be logged unnoticed. Where not all has room, round and date have it before
 * the weekday, and that before the house.
 */
static void put_running(struct sheet *s)
{
    const struct round_head *h = &s->r->head;
    const char *day = day_words(s->d, h->day), *house = s->f->settings.facility;
    const char *which =
        document_format(s->d, "round %ld%s%s rev %ld", h->number, *h->name ? " " : "", h->name, h->revision);
    const char *fits[] = {
        document_format(s->d, "%s  %s  %s %s", house, which, weekday_name(day_weekday(h->day)), day),
        document_format(s->d, "%s  %s  %s", house, which, day),
        document_format(s->d, "%s  %s", which, day),
    };
    size_t i = 0;
    while (i + 1 < COUNT_OF(fits) && text_width(fits[i], strlen(fits[i])) > RUNNING_MOST)
        i++;
    s->d->running_left = fits[i];
    s->d->day = day;
    s->d->code = document_format(s->d, "neap round %ld rev %ld %s", h->number, h->revision, day);
}

/* How long it takes, beside what is proved of every order; "" where nothing is proved. */
static const char *took_words(struct sheet *s)
{
    const struct round_head *h = &s->r->head;
    double took = h->finish_min - h->start_min;
    if (isnan(h->bound_min) || took <= 0)
        return "";
    const char *walk = s->us ? document_format(s->d, "%.0f ft", inches_from_cm(h->walked_m * 100) / 12)
                             : document_format(s->d, "%.0f m", h->walked_m);
    return took <= h->bound_min ? document_format(s->d, " %.0f min, %s to walk; no order is shorter.", took, walk)
                                : document_format(s->d, " %.0f min, %s to walk; no order is shorter than %.0f min.",
                                                  took, walk, h->bound_min);
}

static void put_head(struct sheet *s)
{
    const struct round_head *h = &s->r->head;
    long colonies = round_colonies(s->r), tanks = (long)round_tanks(s->f, s->r);
    document_heading(s->d, document_format(s->d, "FEEDING ROUND %ld, revision %ld%s%s", h->number, h->revision,
                                           *h->name ? ": " : "", h->name));
    if (s->r->n_lines == 0)
        return;
    const char *work =
        document_format(s->d, "%ld tank%s, %ld %s, %zu pot%s, %ld feeder%s. First broadcast %s, all flows on by %s.",
                        tanks, tanks == 1 ? "" : "s", colonies, colonies == 1 ? "colony" : "colonies", s->r->n_pots,
                        s->r->n_pots == 1 ? "" : "s", h->feeders, h->feeders == 1 ? "" : "s",
                        clock_words(s, h->start_min), clock_words(s, h->finish_min));
    document_text(s->d, document_format(s->d, "%s%s", work, took_words(s)));
    document_text(s->d, "Lead ______________________   Water checked, all well ____   Started __:__");
}

/* At the top, not at the end: who is due and goes without. Why, and all others who wait, stand at the end. */
static bool put_unfed(struct sheet *s, struct err *e)
{
    enum { NAMED = 6 };
    struct due_unfed *list;
    size_t n;
    if (!round_unfed(s->f, s->r, &s->d->arena, &list, &n, e))
        return false;
    if (n == 0)
        return true;
    document_space(s->d);
    document_heading(s->d, *s->r->head.name ? "DUE, AND NOT FED IN THIS ROUND" : "DUE, AND NOT FED TODAY");
    for (size_t i = 0; i < n && i < NAMED; i++) {
        struct text words = {0};
        unfed_words(s->f, &list[i], &words);
        document_item(
            s->d, "!!",
            document_format(s->d, "%s %s.", s->f->colonies[list[i].colony].code, document_taken(s->d, &words)));
    }
    document_text(s->d, n > NAMED ? document_format(s->d, "And %zu more. Why: under NOT FED TODAY.", n - NAMED)
                                  : "Why: under NOT FED TODAY.");
    return true;
}

/* Before all else: what a sheet planned earlier no longer gets right. */
static void put_changes(struct sheet *s, const char *hint)
{
    if (!s->changes || s->changes->n == 0)
        return;
    document_space(s->d);
    document_heading(s->d, "CHANGED SINCE THIS WAS PLANNED");
    for (size_t i = 0; i < s->changes->n; i++)
        document_item(s->d, "!!", s->changes->texts[i]);
    if (hint)
        document_text(s->d, hint);
}

static void put_left(struct sheet *s, const char *const *texts, size_t n)
{
    if (n == 0)
        return;
    document_space(s->d);
    document_heading(s->d, "LEFT OFF BY A ROUND BEFORE");
    for (size_t i = 0; i < n; i++)
        document_item(s->d, "!!", texts[i]);
}

/* ---- cautions --------------------------------------------------------------------------------------------------- */

/* Said in the same words on the sheet of the round before. */
static bool was_said(const struct sheet *s, const struct caution *c)
{
    for (size_t i = 0; s->before && i < s->before->n_cautions; i++)
        if (s->before->cautions[i].part == c->part && strcmp(s->before->cautions[i].text, c->text) == 0)
            return true;
    return false;
}

static void put_today(struct sheet *s, bool said, const char *heading)
{
    bool headed = false;
    for (size_t i = 0; i < s->r->n_cautions; i++) {
        const struct caution *c = &s->r->cautions[i];
        if (c->part != CAUTION_HEED || was_said(s, c) != said)
            continue;
        if (!headed) {
            document_space(s->d);
            document_heading(s->d, heading);
        }
        headed = true;
        document_item(s->d, "!", c->text);
    }
}

/* What never changes, in a place of its own, so that nobody has to look there for what does. */
static void put_always(struct sheet *s)
{
    bool any = false;
    for (size_t i = 0; i < s->r->n_cautions; i++) {
        if (s->r->cautions[i].part != CAUTION_ALWAYS)
            continue;
        if (!any) {
            document_space(s->d);
            document_box(s->d, "EVERY ROUND");
        }
        any = true;
        document_row(s->d, (const char *const[]){s->r->cautions[i].text});
    }
    if (any)
        document_whole(s->d);
}

/* ---- not fed ---------------------------------------------------------------------------------------------------- */

static const char *colony_of(const struct sheet *s, size_t i)
{
    const struct colony *c = &s->f->colonies[s->r->waitings[i].colony];
    return *c->label ? c->label : s->f->kinds[c->kind].name;
}

/* " (Q1)"; "" where the code says it: Q1-007. */
static const char *tank_of(const struct sheet *s, const struct colony *c)
{
    const char *tank = s->f->tanks[c->tank].name;
    size_t len = strlen(tank);
    return strncmp(c->code, tank, len) == 0 && c->code[len] == '-' ? "" : document_format(s->d, " (%s)", tank);
}

static bool same_reason(const struct waiting *a, const struct waiting *b)
{
    return a->due == b->due && strcmp(a->reason, b->reason) == 0;
}

/* "hold: healing, until 2026-12-01: N1-005 acan, copper (N1)": all of one reason together. */
static void put_reason(struct sheet *s, size_t first)
{
    struct text t = {0};
    text_addf(&t, "%s: ", s->r->waitings[first].reason);
    for (size_t i = first; i < s->r->n_waitings; i++) {
        const struct colony *c = &s->f->colonies[s->r->waitings[i].colony];
        if (same_reason(&s->r->waitings[i], &s->r->waitings[first]))
            text_addf(&t, "%s%s %s%s", i > first ? "; " : "", c->code, colony_of(s, i), tank_of(s, c));
    }
    text_add(&t, ".");
    document_item(s->d, "-", document_taken(s->d, &t));
}

static void put_waitings(struct sheet *s)
{
    const size_t n = s->r->n_waitings;
    if (n == 0)
        return;
    document_space(s->d);
    document_heading(s->d, document_format(s->d, "NOT FED %s: %zu", *s->r->head.name ? "IN THIS ROUND" : "TODAY", n));
    for (size_t k = 0; k < 2 * n; k++) {
        size_t i = k % n; /* those who are due first, then those who are held or new here */
        bool said = s->r->waitings[i].due != (k < n);
        for (size_t o = 0; o < i && !said; o++)
            said = same_reason(&s->r->waitings[o], &s->r->waitings[i]);
        if (!said)
            put_reason(s, i);
    }
}

/* ---- foot ------------------------------------------------------------------------------------------------------- */

/* "display: skimmer 09:23, UV 10:53" */
static void add_switches_of(struct sheet *s, size_t system, struct text *t)
{
    bool any = false;
    for (size_t i = 0; i < s->r->n_switchings; i++) {
        const struct switching *w = &s->r->switchings[i];
        if (w->system != system)
            continue;
        if (any)
            text_add(t, ", ");
        else
            text_addf(t, "%s%s: ", t->len > 0 ? "; " : "", s->f->systems[system].name);
        text_addf(t, "%s %s", device_titles[w->device], clock_words(s, w->on_min));
        any = true;
    }
}

/* Each is counted and named: what stays off overnight is not missed until it has done harm. */
static void put_switches_on(struct sheet *s)
{
    struct text all = {0};
    int last_min = INT_MIN;
    if (s->r->n_switchings == 0) {
        document_item(s->d, "[ ]", "What was switched off for the round is on again: skimmers, UV, ozone, dosing");
        return;
    }
    for (size_t i = 0; i < s->r->n_switchings; i++)
        last_min = greater(last_min, s->r->switchings[i].on_min);
    for (size_t i = 0; i < s->f->n_systems; i++)
        add_switches_of(s, i, &all);
    document_item(s->d, "[ ]",
                  document_format(s->d, "ALL SWITCHES ON: ____ of %zu, the last at %s. %s", s->r->n_switchings,
                                  clock_words(s, last_min), document_taken(s->d, &all)));
}

/* Of a tank that was dropped nobody turned the flow off. */
static long count_flows_on(const struct sheet *s)
{
    long n = 0;
    for (size_t i = 0; i < s->r->n_lines; i++) {
        const struct line *l = &s->r->lines[i];
        n += l->action == ACTION_FLOW_ON && !line_is_not_given(s, l) && !line_is_off(s, l);
    }
    return n;
}

static void put_foot(struct sheet *s)
{
    document_space(s->d);
    document_heading(s->d, "BEFORE YOU LEAVE");
    document_item(s->d, "[ ]", document_format(s->d, "ALL FLOWS ON: ____ of %ld", count_flows_on(s)));
    document_item(s->d, "[ ]", "Uneaten food siphoned off after 20 to 30 min, never by mouth");
    document_item(s->d, "[ ]",
                  "What is left of the pots thrown away; syringes, tubes and cups rinsed in fresh water "
                  "and left to dry; quarantine tools apart");
    put_switches_on(s);
    document_item(s->d, "[ ]", "Hands washed with soap and fresh water");
    document_text(s->d, "Ended __:__   Checked by ______________________");
}

/* ---- the parts -------------------------------------------------------------------------------------------------- */

/* The lead's page: what is new, what must come on again, who goes without, and what never changes. */
static void put_begin(struct sheet *s)
{
    put_today(s, false, s->before ? "CAUTIONS: NEW TODAY" : "CAUTIONS");
    put_today(s, true, "CAUTIONS: AS ON THE LAST SHEET");
    if (s->r->n_lines > 0)
        put_flows(s);
    put_waitings(s);
    put_always(s);
}

static void put_end(struct sheet *s)
{
    if (s->r->n_lines > 0)
        put_foot(s);
    put_cautions(s, CAUTION_NEXT, "FOR THE NEXT ROUND", "-");
}

static void put_all(struct sheet *s)
{
    put_begin(s);
    if (s->r->n_lines > 0) {
        document_page(s->d, false);
        put_mixing(s);
    }
    for (long feeder = 1; s->r->n_lines > 0 && feeder <= s->r->head.feeders; feeder++) {
        document_page(s->d, true);
        put_feeder(s, feeder);
    }
    put_end(s);
}

static bool find_batches(struct sheet *s, struct err *e)
{
    struct batch *batches;
    bool *left_out = arena_alloc(&s->d->arena, s->r->n_lines, sizeof *left_out);
    if (!left_out)
        return err_memory(e);
    for (size_t i = 0; i < s->r->n_lines; i++)
        left_out[i] = (s->not_given && s->not_given[i]) || (s->changes && s->changes->off[i]);
    bool ok = round_batches(s->f, s->r, left_out, &s->d->arena, &batches, &s->n_batches, e);
    s->batches = batches;
    return ok;
}

bool sheet_document(const struct facility *f, const struct round *r, const struct sheet_request *request,
                    struct document *d, struct err *e)
{
    struct sheet s = {.f = f,
                      .r = r,
                      .before = request->before,
                      .done = request->done,
                      .not_given = request->not_given,
                      .changes = request->changes,
                      .us = request->us_units,
                      .d = d};
    if (!sheet_steps(&s))
        return err_memory(e);
    if (!find_batches(&s, e))
        return false;
    put_running(&s);
    if (request->part == SHEET_ALL)
        put_head(&s);
    put_changes(&s, request->change_hint);
    if (request->part == SHEET_ALL)
        put_left(&s, request->left, request->n_left);
    if (request->part == SHEET_ALL && !put_unfed(&s, e))
        return false;
    switch (request->part) {
    case SHEET_ALL: put_all(&s); break;
    case SHEET_MIXING: put_mixing(&s); break;
    case SHEET_CLOCK: put_clock(&s); break;
    case SHEET_FEEDER:
        if (!put_feeder(&s, request->feeder))
            return err_set(e, ERR_INPUT, NULL, "round %ld has nothing to do for feeder %ld; expected one of %ld",
                           r->head.number, request->feeder, r->head.feeders);
        break;
    case SHEET_TANK:
        if (!put_tank(&s, request->tank))
            return err_set(e, ERR_INPUT, NULL, "round %ld has no line at tank %s", r->head.number,
                           f->tanks[request->tank].name);
        break;
    }
    return d->failed ? err_memory(e) : true;
}
