/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a plan notes down while it is made: cautions for the lead, and colonies that wait with their reasons. */
#include "neap/working.h"

#include <string.h>

static bool cautions_grow(struct working *w, struct err *e)
{
    size_t room = w->room_cautions ? 2 * w->room_cautions : 64;
    struct caution *more = arena_alloc(w->a, room, sizeof *more);
    if (!more)
        return err_memory(e);
    if (w->n_cautions > 0)
        memcpy(more, w->cautions, w->n_cautions * sizeof *more);
    w->cautions = more;
    w->room_cautions = room;
    return true;
}

static bool add_caution(struct working *w, const struct caution *kind, struct err *e, const char *fmt, va_list ap)
{
    char text[NOTE_BYTES_MAX];
    if (w->n_cautions == w->room_cautions && !cautions_grow(w, e))
        return false;
    vsnprintf(text, sizeof text, fmt, ap);
    utf8_cut_whole(text);
    struct caution *c = &w->cautions[w->n_cautions];
    *c = *kind;
    c->rank = (long)++w->n_cautions;
    c->text = arena_text(w->a, text);
    return c->text ? true : err_memory(e);
}

bool caution_add(struct working *w, enum caution_part part, struct err *e, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    bool ok = add_caution(w, &(struct caution){.part = (int)part, .tank = REF_NONE}, e, fmt, ap);
    va_end(ap);
    return ok;
}

bool caution_add_tank(struct working *w, size_t tank, struct err *e, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    bool ok = add_caution(w, &(struct caution){.part = CAUTION_TANK, .tank = tank}, e, fmt, ap);
    va_end(ap);
    return ok;
}

bool waiting_add(struct working *w, size_t colony, struct err *e, const char *fmt, ...)
{
    char text[NOTE_BYTES_MAX];
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(text, sizeof text, fmt, ap);
    va_end(ap);
    struct waiting *added = &w->waitings[w->n_waitings++];
    *added = (struct waiting){.colony = colony, .reason = arena_text(w->a, text), .since_d = NAN, .interval_d = NAN};
    return added->reason ? true : err_memory(e);
}

bool waiting_add_due(struct working *w, const struct due *d, const char *reason, struct err *e)
{
    struct waiting *added = &w->waitings[w->n_waitings];
    if (!waiting_add(w, d->colony, e, "%s", reason))
        return false;
    added->due = true;
    added->interval_d = d->interval_d;
    added->since_d = d->since_d;
    return true;
}
