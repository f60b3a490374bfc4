/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which method is in use, and how far another one reads from it. */
#include "trend/rank.h"
#include "trend/series.h"

int dated_compare(const void *a, const void *b)
{
    const struct dated *x = a, *y = b;
    if (x->moment_min != y->moment_min)
        return x->moment_min < y->moment_min ? -1 : 1;
    return (x->index > y->index) - (x->index < y->index);
}

bool readings_order(const struct reading *readings, size_t n, long now_min, struct arena *a, struct ordered *out,
                    struct err *e)
{
    struct dated *d = arena_alloc(a, n, sizeof *d);
    *out = (struct ordered){0};
    out->reading = arena_alloc(a, n, sizeof *out->reading);
    out->index = arena_alloc(a, n, sizeof *out->index);
    if (!d || !out->reading || !out->index)
        return err_memory(e);
    for (size_t i = 0; i < n; i++)
        if (readings[i].moment_min <= now_min)
            d[out->n++] = (struct dated){readings[i].moment_min, i};
    qsort(d, out->n, sizeof *d, dated_compare);
    for (size_t i = 0; i < out->n; i++) {
        out->index[i] = d[i].index;
        out->reading[i] = readings[d[i].index];
    }
    return true;
}

/* ---- the method in use ------------------------------------------------------------------------------------------ */

static void take_over(const struct ordered *o, size_t first, size_t end, struct series *s, bool *own)
{
    s->before = s->method;
    s->method = o->reading[first].method;
    s->since_min = o->reading[first].moment_min;
    for (size_t i = first; i < end; i++)
        own[o->index[i]] = true;
}

static void follow(const struct ordered *o, struct series *s, bool *own)
{
    size_t last = 0, run = 0; /* the last reading by the method in use; how many in a row are by another one since */
    for (size_t i = 0; i < o->n; i++) {
        const struct reading *r = &o->reading[i];
        if (r->method == s->method) {
            own[o->index[i]] = true;
            last = i;
            run = 0;
            continue;
        }
        run = run > 0 && o->reading[i - 1].method == r->method ? run + 1 : 1;
        bool gap = days_from(r->moment_min, o->reading[last].moment_min) > SERIES_GAP_D;
        if (run < SERIES_RUN && !gap)
            continue;
        take_over(o, i + 1 - run, i + 1, s, own);
        last = i;
        run = 0;
    }
}

/* Has a method enough in the window for a trend? How many it has. */
static size_t has_trend(const struct ordered *o, size_t first, int method)
{
    size_t n = 0, begin = 0, end = 0;
    for (size_t i = first; i < o->n; i++)
        if (o->reading[i].method == method) {
            begin = n++ > 0 ? begin : i;
            end = i;
        }
    return n >= STATE_MIN_TESTS &&
                   days_from(o->reading[end].moment_min, o->reading[begin].moment_min) >= STATE_MIN_SPAN_D
               ? n
               : 0;
}

/*
 * The one in use gives no trend: another that does, with most readings, the latest first. One that has not been read by
 * since the one in use took over was given up.
 */
static void prefer_trend(const struct ordered *o, size_t first, struct series *s)
{
    size_t most = 0;
    int method = s->method;
    if (has_trend(o, first, s->method) > 0)
        return;
    for (size_t i = o->n; i-- > first && (s->since_min == MOMENT_NONE || o->reading[i].moment_min >= s->since_min);) {
        size_t n = o->reading[i].method != method ? has_trend(o, first, o->reading[i].method) : 0;
        if (n > most) {
            most = n;
            method = o->reading[i].method;
        }
    }
    if (most == 0)
        return;
    s->method = s->before = method;
    s->since_min = MOMENT_NONE;
}

bool series_follow(const struct ordered *o, size_t first, size_t n_input, struct arena *a, struct series *out,
                   struct err *e)
{
    bool *own = arena_alloc(a, n_input, sizeof *own);
    if (!own)
        return err_memory(e);
    *out = (struct series){.any = o->n > 0, .since_min = MOMENT_NONE, .own = own};
    if (o->n == 0)
        return true;
    out->method = out->before = o->reading[0].method;
    follow(o, out, own);
    prefer_trend(o, first, out);
    return true;
}

size_t window_first(const struct ordered *o, long now_min, double window_d)
{
    size_t first = 0;
    while (first < o->n && days_from(now_min, o->reading[first].moment_min) > window_d)
        first++;
    return first;
}

bool series_find(const struct series_in *in, struct arena *a, struct series *out, struct err *e)
{
    struct ordered o;
    return readings_order(in->readings, in->n, in->now_min, a, &o, e) &&
           series_follow(&o, window_first(&o, in->now_min, in->window_d), in->n, a, out, e);
}

/* ---- how far another method reads from it ----------------------------------------------------------------------- */

/*
 * What the method reads at the moment of reading i, from its nearest readings on both sides, or one of the same day;
 * false where there is none near enough.
 */
static bool read_there(const struct ordered *o, size_t i, int method, double *value)
{
    const struct reading *r = &o->reading[i], *before = NULL, *after = NULL;
    for (size_t k = i; k-- > 0 && !before;)
        if (o->reading[k].method == method)
            before = &o->reading[k];
    for (size_t k = i + 1; k < o->n && !after; k++)
        if (o->reading[k].method == method)
            after = &o->reading[k];
    double back = before && !before->below ? days_from(r->moment_min, before->moment_min) : INFINITY;
    double on = after && !after->below ? days_from(after->moment_min, r->moment_min) : INFINITY;
    if (fmin(back, on) <= 1) {
        const struct reading *nearest = back <= on ? before : after;
        assert(nearest); /* or it would not be near */
        *value = nearest->value;
    } else if (fmax(back, on) <= OFFSET_PAIR_D) {
        assert(before && after);
        *value = before->value + (after->value - before->value) * back / (back + on);
    } else {
        return false;
    }
    return true;
}

bool offset_find(const struct ordered *o, int method, int other, struct arena *a, struct offset *out, struct err *e)
{
    double *apart = arena_alloc(a, o->n, sizeof *apart);
    *out = (struct offset){0};
    if (!apart)
        return err_memory(e);
    for (size_t i = 0; i < o->n; i++) {
        double there;
        const struct reading *r = &o->reading[i];
        if (r->method == other && !r->below &&
            days_from(o->reading[o->n - 1].moment_min, r->moment_min) <= OFFSET_BACK_D &&
            read_there(o, i, method, &there))
            apart[out->n_pairs++] = r->value - there;
    }
    qsort(apart, out->n_pairs, sizeof *apart, double_compare);
    out->value = out->n_pairs > 0 ? median_of_sorted(apart, out->n_pairs) : 0;
    return true;
}
