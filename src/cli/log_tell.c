/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What log says when something was logged. */
#include "sitting.h"

#include "neap/figures.h"
#include "neap/print.h"
#include "neap/replan.h"
#include "neap/response.h"

static bool add_wrapped(const char *text, struct text *out, struct err *e)
{
    struct document d = {0};
    document_text(&d, text);
    bool ok = d.failed ? err_memory(e) : render_text(&d, 80, 0, out, e);
    document_free(&d);
    return ok;
}

static bool tell_open(const struct logging *lg, struct text *out, struct err *e)
{
    struct text spans = {0}, words = {0};
    size_t n = lg->r.n_lines;
    log_open_lines(&lg->f, &lg->r, &lg->log, &spans);
    if (spans.len == 0)
        text_addf(&words, n == 1 ? "its one line is accounted for" : "all %zu lines are accounted for", n);
    else
        text_addf(&words, "%zu of %zu lines are accounted for; not yet: %s", lg->log.n_givens, n, text_str(&spans));
    bool ok = !spans.failed && !words.failed ? add_wrapped(text_str(&words), out, e) : err_memory(e);
    text_free(&spans);
    text_free(&words);
    return ok;
}

/* Where a flow was logged: what is to be done about one that was off too long. Common practice, no source. */
static bool tell_stops(const struct logging *lg, struct text *out, struct err *e)
{
    struct arena a = {0};
    struct long_stop *stops;
    size_t n;
    bool ok = log_long_stops(&lg->f, &lg->r, &lg->log, &a, &stops, &n, e);
    for (size_t i = 0; ok && i < n; i++) {
        struct text words = {0};
        text_addf(&words, "%s: ", lg->f.tanks[stops[i].tank].name);
        long_stop_words(&stops[i], &words);
        text_add(&words, stops[i].on_min == INT_MAX
                             ? ". Go and look: turn it on, in steps, and note when."
                             : ". Look at corals and fish now: slime, gaping mouths, gasping; aerate, bring the flow "
                               "back in steps, and look again in an hour.");
        ok = words.failed ? err_memory(e) : add_wrapped(text_str(&words), out, e);
        text_free(&words);
    }
    arena_free(&a);
    return ok;
}

/* "; it is to be on at 10:43: neap log 31 sw2=on, once it is" */
static void add_turn_on(const struct switch_fault *s, struct text *words)
{
    char due[CLOCK_TEXT];
    clock_format(s->due_min, due);
    text_addf(words, "; by the plan it is to be on at %s. Once it is: neap log %ld sw%ld=on", due, s->round, s->number);
}

/* What is off still, or was for too long; and what nobody accounted for. */
static bool tell_switches(const struct logging *lg, struct text *out, struct err *e)
{
    struct arena a = {0};
    struct switch_fault *faults;
    size_t n;
    struct text open = {0}, words = {0};
    bool ok = log_switch_faults(&lg->f, &lg->r, &lg->log, &a, &faults, &n, e);
    for (size_t i = 0; ok && i < n; i++) {
        text_free(&words);
        text_addf(&words, "!! %s: ", lg->f.systems[faults[i].system].name);
        switch_fault_words(&faults[i], &words);
        if (faults[i].on_min == INT_MAX)
            add_turn_on(&faults[i], &words);
        text_add(&words, ".");
        ok = words.failed ? err_memory(e) : add_wrapped(text_str(&words), out, e);
    }
    log_open_switches(&lg->r, &lg->log, &open);
    if (ok && open.len > 0) {
        text_free(&words);
        text_addf(&words, "switches not accounted for yet: %s", text_str(&open));
        ok = open.failed || words.failed ? err_memory(e) : add_wrapped(text_str(&words), out, e);
    }
    text_free(&open);
    text_free(&words);
    arena_free(&a);
    return ok;
}

/* A pot of which the log says that it came out otherwise, and which feeds the water. */
static const struct pot *changed_pot(const struct logging *lg, size_t system)
{
    for (size_t i = 0; i < lg->r.n_lines; i++) {
        const struct line *l = &lg->r.lines[i];
        if (lg->f.tanks[l->tank].system != system || l->action != ACTION_TARGET || log_find(&lg->log, l->number))
            continue;
        for (size_t p = 0; p < lg->r.n_pots; p++)
            for (size_t k = 0; strcmp(lg->r.pots[p].pot, l->pot) == 0 && k < lg->log.n_weighings; k++)
                if (strcmp(lg->log.weighings[k].pot, l->pot) == 0)
                    return &lg->r.pots[p];
    }
    return NULL;
}

static void tell_load(const struct logging *lg, size_t system, const struct water_load *load, struct text *words)
{
    const struct pot *pot = changed_pot(lg, system);
    const char *name = lg->f.systems[system].name;
    if (load->given > 1 + 1e-6)
        text_addf(words,
                  "!! %s has got %.0f %% of its ceilings for the day: feed nothing more there, watch it, and test "
                  "its water.",
                  name, load->given * 100);
    else
        text_addf(words, "!! %s would come to %.0f %% of its ceilings with the rest as planned: give less of it.", name,
                  load->all * 100);
    if (pot && load->given <= 1 + 1e-6)
        text_addf(words, " How much: neap sheet %ld --made %s=%.10g", lg->r.head.number, pot->pot,
                  pot_mixed_ml(&lg->log, pot));
}

/* A weighing or an amount that takes a water past its ceilings is said at once, and again until it is mended. */
static bool tell_loads(const struct logging *lg, struct text *out, struct err *e)
{
    struct arena a = {0};
    struct water_load *loads;
    bool ok = plan_loads(&lg->f, &lg->r, &lg->log, &a, &loads, e);
    for (size_t t = 0; ok && t < lg->f.n_systems; t++) {
        struct text words = {0};
        if (loads[t].all <= 1 + 1e-6)
            continue;
        tell_load(lg, t, &loads[t], &words);
        ok = words.failed ? err_memory(e) : add_wrapped(text_str(&words), out, e);
        text_free(&words);
    }
    arena_free(&a);
    return ok;
}

bool sitting_tell(const struct logging *lg, struct text *out, struct err *e)
{
    long n = 0;
    const char *comma = ": ";
    for (size_t i = 0; i < COUNT_OF(lg->put); i++)
        n += lg->put[i];
    text_addf(out, "round %ld revision %ld%s%s: logged %ld line%s", lg->r.head.number, lg->r.head.revision,
              *lg->r.head.name ? ", " : "", lg->r.head.name, n, n == 1 ? "" : "s");
    for (size_t i = 0; i < COUNT_OF(lg->put); i++)
        if (lg->put[i] > 0) {
            text_addf(out, "%s%ld %s", comma, lg->put[i], outcomes[i].title);
            comma = ", ";
        }
    if (lg->same > 0)
        text_addf(out, "; %ld as logged before", lg->same);
    if (lg->taken_back > 0)
        text_addf(out, "; %ld taken back", lg->taken_back);
    text_addf(out, "\n%s", text_str(&lg->told));
    return tell_loads(lg, out, e) && (!lg->flows || tell_stops(lg, out, e)) && tell_open(lg, out, e) &&
           tell_switches(lg, out, e);
}
