/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Switches after the round: what a feeder wrote beside them, and which of them were off too long or are off still. */
#include "neap/figures.h"
#include "neap/log.h"

#include <math.h>
#include <string.h>

const struct switched *log_find_switched(const struct round_log *log, size_t system, int device)
{
    for (size_t i = 0; i < log->n_switcheds; i++)
        if (log->switcheds[i].system == system && log->switcheds[i].device == device)
            return &log->switcheds[i];
    return NULL;
}

/* ---- what was written -------------------------------------------------------------------------------------------- */

/* "sw1", "SW2-4=…"; the word behind these letters, which few tanks are called by. */
static const char *numbered(const char *word)
{
    return (*word == 's' || *word == 'S') && (word[1] == 'w' || word[1] == 'W') && log_word_is(word + 2) ? word + 2
                                                                                                         : NULL;
}

/* "display skimmer": of a system of the round, as its sheet has them. */
static bool has_name(const struct facility *f, const struct switching *s, const char *name, size_t len)
{
    char full[2 * NAME_BYTES_MAX], given[2 * NAME_BYTES_MAX];
    snprintf(full, sizeof full, "%s %s", f->systems[s->system].name, device_titles[s->device]);
    snprintf(given, sizeof given, "%.*s", (int)(len < sizeof given ? len : sizeof given - 1), name);
    return text_same_but_case(full, given);
}

bool switch_word_is(const struct facility *f, const struct round *r, const char *word)
{
    const char *equals = strrchr(word, '=');
    size_t len = equals ? (size_t)(equals - word) : strlen(word);
    bool turns = equals && (strncmp(equals + 1, "on", 2) == 0 || strncmp(equals + 1, "off", 3) == 0);
    char name[NAME_BYTES_MAX + 1];
    snprintf(name, sizeof name, "%.*s", (int)(len < sizeof name ? len : sizeof name - 1), word);
    if (numbered(word))
        return turns ||
               (facility_named(f, REG_TANK, name) == REF_NONE && facility_named(f, REG_COLONY, name) == REF_NONE);
    for (size_t i = 0; i < r->n_switchings; i++)
        if (has_name(f, &r->switchings[i], word, len))
            return true;
    return turns;
}

static bool not_understood(const char *word, struct err *e)
{
    char quoted[EXCERPT_TEXT];
    return err_set(e, ERR_MISUSE, NULL,
                   "\"%s\" is not understood; expected a switch of the sheet and what became of it, such as sw1, "
                   "sw1-3=on@10:40, sw2=off@09:05, sw3=n",
                   text_excerpt(word, quoted));
}

/* "on@10:40" behind the equals sign as the value that lines have: "@10:40". */
static bool parse_turn(const char *value, struct switch_word *w, char rest[LOG_AMOUNT_TEXT])
{
    w->on = strncmp(value, "on", 2) == 0;
    w->off = strncmp(value, "off", 3) == 0;
    value += w->on ? 2 : w->off ? 3 : 0;
    if ((*value && *value != '@' && (w->on || w->off)) || strlen(value) >= LOG_AMOUNT_TEXT)
        return false;
    snprintf(rest, LOG_AMOUNT_TEXT, "%s", value);
    return true;
}

bool switch_word_parse(const struct facility *f, const struct round *r, const char *word, struct switch_word *w,
                       struct err *e)
{
    const char *equals = strrchr(word, '='), *from = numbered(word) ? numbered(word) : word;
    char rest[LOG_AMOUNT_TEXT] = "", plain[3 * NAME_BYTES_MAX];
    struct err why;
    bool any = false;
    *w = (struct switch_word){0};
    if (equals && !parse_turn(equals + 1, w, rest))
        return not_understood(word, e);
    snprintf(plain, sizeof plain, "%.*s%s%s", (int)(equals ? equals - from : (long)strlen(from)), from,
             *rest ? "=" : "", rest);
    if (!log_word_parse(plain, &w->word, &why))
        return not_understood(word, e);
    const struct log_word *v = &w->word;
    bool turned = w->on || w->off; /* then there was a time behind it or nothing */
    if (*v->amount || v->response >= 0 || (v->outcome != OUTCOME_GIVEN && v->outcome != OUTCOME_NOT_GIVEN) ||
        (!turned && v->at_min >= 0))
        return not_understood(word, e);
    for (size_t i = 0; i < r->n_switchings; i++)
        any = any || switch_word_means(w, f, &r->switchings[i]);
    if (any)
        return true;
    if (r->n_switchings == 0)
        return err_set(e, ERR_NOT_FOUND, NULL, "round %ld has no switch \"%.60s\"; its sheet has none", r->head.number,
                       word);
    return err_set(e, ERR_NOT_FOUND, NULL, "round %ld has no switch \"%.60s\"; its sheet has sw%ld to sw%ld",
                   r->head.number, word, r->switchings[0].number, r->switchings[r->n_switchings - 1].number);
}

bool switch_word_means(const struct switch_word *w, const struct facility *f, const struct switching *s)
{
    if (w->word.n_spans == 0)
        return has_name(f, s, w->word.name, strlen(w->word.name));
    for (size_t i = 0; i < w->word.n_spans; i++)
        if (s->number >= w->word.spans[i].first && s->number <= w->word.spans[i].last)
            return true;
    return false;
}

bool switch_word_apply(const struct switch_word *w, const struct facility *f, const struct switching *s,
                       const struct switched *was, struct switched *out, struct err *e)
{
    int at_min = w->word.at_min;
    struct text name = {0};
    *out = (struct switched){.round = s->round, .system = s->system, .device = s->device, .off_min = -1, .on_min = -1};
    if (w->word.take_back) {
        *out = was ? *was : *out;
        out->voided = true;
    } else if (w->off) {
        out->off_min = at_min >= 0 ? minute_beside(s->off_min, at_min) : s->off_min;
    } else if (w->word.outcome != OUTCOME_NOT_GIVEN) {
        out->off_min = was && was->off_min >= 0 ? was->off_min : s->off_min;
        out->on_min = at_min >= 0 ? minute_beside(s->on_min, at_min) : s->on_min;
    }
    if (out->voided || out->on_min < 0 || out->on_min >= out->off_min)
        return true;
    switching_words(f, s, &name);
    err_set(e, ERR_INPUT, NULL,
            "%.100s: on again before it was turned off; expected a later time, or when it was: sw%ld=off@HH:MM",
            text_str(&name), s->number);
    text_free(&name);
    return false;
}

/* ---- in words ---------------------------------------------------------------------------------------------------- */

void switching_words(const struct facility *f, const struct switching *s, struct text *out)
{
    text_addf(out, "%s %s (sw%ld)", f->systems[s->system].name, device_titles[s->device], s->number);
}

void switched_words(const struct switched *s, struct text *out)
{
    char off[CLOCK_TEXT], on[CLOCK_TEXT];
    if (s->off_min < 0) {
        text_add(out, "not turned off");
        return;
    }
    clock_format((int)s->off_min, off);
    text_addf(out, "off %s", off);
    if (s->on_min < 0) {
        text_add(out, ", not on again yet");
        return;
    }
    clock_format((int)s->on_min, on);
    text_addf(out, ", on again %s", on);
}

void log_open_switches(const struct round *r, const struct round_log *log, struct text *out)
{
    bool any = false;
    for (size_t i = 0; i < r->n_switchings; i++) {
        if (log_find_switched(log, r->switchings[i].system, r->switchings[i].device))
            continue;
        size_t last = i;
        while (last + 1 < r->n_switchings && r->switchings[last + 1].number == r->switchings[last].number + 1 &&
               !log_find_switched(log, r->switchings[last + 1].system, r->switchings[last + 1].device))
            last++;
        text_addf(out, "%s%ld", any ? "," : "sw", r->switchings[i].number);
        if (last > i)
            text_addf(out, "-%ld", r->switchings[last].number);
        any = true;
        i = last;
    }
}

/* ---- what was off too long --------------------------------------------------------------------------------------- */

bool log_switch_faults(const struct facility *f, const struct round *r, const struct round_log *log, struct arena *a,
                       struct switch_fault **faults, size_t *n, struct err *e)
{
    *n = 0;
    *faults = arena_alloc(a, r->n_switchings, sizeof **faults);
    if (!*faults)
        return err_memory(e);
    for (size_t i = 0; i < r->n_switchings; i++) {
        const struct switching *s = &r->switchings[i];
        const struct switched *w = log_find_switched(log, s->system, s->device);
        if (!w || w->off_min < 0)
            continue;
        struct switching really = *s;
        double limit_min;
        really.off_min = (int)w->off_min;
        really.on_min = w->on_min < 0 ? INT_MAX : (int)w->on_min;
        bool too_long = is_off_too_long(f, &really, &limit_min);
        if (w->on_min < 0 || too_long)
            (*faults)[(*n)++] = (struct switch_fault){r->head.number, s->number,     r->head.day, s->system, s->device,
                                                      really.off_min, really.on_min, s->on_min,   limit_min};
    }
    return true;
}

void switch_fault_words(const struct switch_fault *s, struct text *out)
{
    char off[CLOCK_TEXT];
    clock_format(s->off_min, off);
    if (s->on_min == INT_MAX)
        text_addf(out, "the %s was turned off at %s and, by the log, not on again", device_titles[s->device], off);
    else
        text_addf(out, "the %s was off for %d min, %.10g at most", device_titles[s->device], s->on_min - s->off_min,
                  s->limit_min);
}
