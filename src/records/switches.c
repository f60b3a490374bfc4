/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Switches: when they were really off, and what the round before left off. */
#include "neap/logging.h"
#include "neap/switches.h"

/* ---- logged ------------------------------------------------------------------------------------------------------ */

static bool same_switched(const struct switched *a, const struct switched *b)
{
    return a->off_min == b->off_min && a->on_min == b->on_min;
}

/* It was off, and now it is on again: nothing that was said is replaced. */
static bool completes(const struct switched *was, const struct switched *is)
{
    return was->off_min >= 0 && was->on_min < 0 && is->off_min == was->off_min && is->on_min >= 0;
}

static bool put_switch(struct logging *lg, const struct switching *s, const struct switched *is, struct err *e)
{
    const struct switched *was = log_find_switched(&lg->log, s->system, s->device);
    struct text name = {0}, before = {0};
    enum put outcome;
    bool ok = true;
    if (was && !is->voided && same_switched(was, is)) {
        lg->same++;
        return true;
    }
    switching_words(&lg->f, s, &name);
    if (was)
        switched_words(was, &before);
    if (!was && is->voided)
        ok = err_set(e, ERR_INPUT, NULL, "%.100s: nothing was logged of it that could be taken back", text_str(&name));
    else if (was && !is->voided && !lg->again && !completes(was, is))
        ok = err_set(e, ERR_INPUT, NULL,
                     "%.100s is logged already: %s; --again replaces that (nothing of this was stored)",
                     text_str(&name), text_str(&before));
    if (ok) {
        text_addf(&lg->told, "%s: ", text_str(&name));
        if (is->voided)
            text_addf(&lg->told, "was %s; now not logged", text_str(&before));
        else
            switched_words(is, &lg->told);
        text_add(&lg->told, "\n");
        lg->others++;
        ok = row_put(lg->s, &lg->f, REG_SWITCHED, is, &outcome, e);
    }
    text_free(&name);
    text_free(&before);
    return ok;
}

bool logging_switch(struct logging *lg, const char *word, struct err *e)
{
    struct switch_word w;
    struct switched is;
    if (!switch_word_parse(&lg->f, &lg->r, word, &w, e))
        return false;
    for (size_t i = 0; i < lg->r.n_switchings; i++) {
        const struct switching *s = &lg->r.switchings[i];
        if (switch_word_means(&w, &lg->f, s) &&
            (!switch_word_apply(&w, &lg->f, s, log_find_switched(&lg->log, s->system, s->device), &is, e) ||
             !put_switch(lg, s, &is, e)))
            return false;
    }
    return logging_reread(lg, e); /* off and on of a switch may be two words */
}

bool logging_switches_planned(struct logging *lg, struct err *e)
{
    enum put outcome;
    long n = 0, midnight = (long)lg->r.head.day * MIN_PER_DAY;
    for (size_t i = 0; i < lg->r.n_switchings; i++) {
        const struct switching *s = &lg->r.switchings[i];
        const struct switched is = {lg->r.head.number, s->system, s->device, s->off_min, s->on_min, false};
        if (log_find_switched(&lg->log, s->system, s->device) || midnight + s->on_min > lg->now)
            continue;
        n++;
        if (!row_put(lg->s, &lg->f, REG_SWITCHED, &is, &outcome, e))
            return false;
    }
    lg->others += n;
    if (n > 0)
        text_addf(&lg->told, "%ld switch%s off and on again as planned\n", n, n == 1 ? "" : "es");
    return true;
}

/* ---- left off ---------------------------------------------------------------------------------------------------- */

enum { LOOK_BACK_DAYS = 14 }; /* our own choice */

struct looking {
    const struct facility *f;
    struct arena *a;
    bool *known; /* per row of the register of switches: a round was found that had it off */
    const char **texts;
    size_t n;
    bool first; /* the round last held: what it left blank is said, too */
};

static bool add_left(struct looking *z, const char *text, struct err *e)
{
    z->texts[z->n++] = text;
    return text || err_memory(e);
}

static bool look_at(struct looking *z, const struct round *r, const struct round_log *log, struct err *e)
{
    struct text open = {0};
    for (size_t i = 0; i < z->f->n_switches; i++) {
        const struct switched *w = log_find_switched(log, z->f->switches[i].system, z->f->switches[i].device);
        char off[CLOCK_TEXT], day[DAY_TEXT];
        if (!w || z->known[i])
            continue;
        z->known[i] = true;
        if (w->off_min < 0 || w->on_min >= 0)
            continue;
        clock_format((int)w->off_min, off);
        day_format(r->head.day, day);
        if (!add_left(
                z,
                arena_format(z->a,
                             "%s: the %s was turned off on %s at %s and is, by the log, not on again. Look, turn it "
                             "on, and log it for round %ld.",
                             z->f->systems[w->system].name, device_titles[w->device], day, off, r->head.number),
                e))
            return false;
    }
    if (z->first && log->n_switcheds > 0)
        log_open_switches(r, log, &open);
    bool ok = open.len == 0 ||
              add_left(z,
                       arena_format(z->a, "Nobody logged that the switches %s of round %ld are on again: look.",
                                    text_str(&open), r->head.number),
                       e);
    text_free(&open);
    return ok;
}

static bool all_known(const struct looking *z)
{
    for (size_t i = 0; i < z->f->n_switches; i++)
        if (!z->known[i])
            return false;
    return true;
}

static bool look_at_round(struct looking *z, struct store *s, long number, struct err *e)
{
    struct round r;
    struct round_log log;
    if (!store_load_round(s, z->f, number, &r, e))
        return false;
    bool ok = store_load_log(s, z->f, number, &log, e);
    if (ok) {
        ok = look_at(z, &r, &log, e);
        round_log_free(&log);
    }
    round_free(&r);
    return ok;
}

bool switches_left(struct store *s, const struct facility *f, const struct round_head *head, struct arena *a,
                   const char ***texts, size_t *n, struct err *e)
{
    struct looking z = {f, a, arena_alloc(a, f->n_switches, sizeof *z.known), NULL, 0, true};
    struct kept_round *kept;
    size_t n_kept;
    z.texts = arena_alloc(a, f->n_switches + 1, sizeof *z.texts);
    if (!z.known || !z.texts)
        return err_memory(e);
    bool ok = store_rounds(s, head->day - LOOK_BACK_DAYS, head->day, a, &kept, &n_kept, e);
    for (size_t i = ok ? n_kept : 0; ok && i-- > 0 && !all_known(&z);) {
        if (kept[i].number == head->number || (kept[i].day == head->day && kept[i].start_min >= head->start_min))
            continue;
        ok = look_at_round(&z, s, kept[i].number, e);
        z.first = false;
    }
    *texts = z.texts;
    *n = z.n;
    return ok;
}
