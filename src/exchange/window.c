/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Bytes of a file that is not held: some of them at a time, mostly the next ones. Only plain UTF-8 is read so; it is
 * looked through once before, so that the readers need not ask what they are given.
 */
#include "exchange/exchange_internal.h"

#include <stdlib.h>

static void end_reading(struct file_reading *r)
{
    r->ended = true;
    r->len = 0;
    r->n_window = 0;
}

static bool fetch(struct file_reading *r, size_t at, size_t n, char *into)
{
    if (r->source->fetch(r->source->context, r->mark + at, n, into, r->e))
        return true;
    end_reading(r);
    return false;
}

/* Some bytes before it stay, for the readers look back to where a cell or a row begins. */
static bool move_window(struct file_reading *r, size_t at)
{
    size_t room = r->source->room, back = room / 4;
    if (r->ended || at >= r->len)
        return false;
    r->window_at = at > back ? at - back : 0;
    r->n_window = r->len - r->window_at < room ? r->len - r->window_at : room;
    return fetch(r, r->window_at, r->n_window, r->window);
}

char window_byte(struct file_reading *r, size_t at)
{
    return move_window(r, at) ? r->window[at - r->window_at] : '\0';
}

const char *bytes_at(struct file_reading *r, size_t at, size_t *n)
{
    if (r->bytes) {
        *n = r->len - at;
        return r->bytes + at;
    }
    if (at - r->window_at >= r->n_window && !move_window(r, at))
        return NULL;
    *n = r->n_window - (at - r->window_at);
    return r->window + (at - r->window_at);
}

/* Without what may be a part of a character, whose rest is still to come. */
static size_t whole_characters(const char *bytes, size_t n)
{
    size_t cut = n;
    while (cut > 0 && n - cut < 3 && ((unsigned char)bytes[cut - 1] & 0xC0) == 0x80)
        cut--;
    unsigned char lead = cut > 0 ? (unsigned char)bytes[cut - 1] : 0;
    size_t wanted = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : lead >= 0xC0 ? 2 : 0;
    return n - cut + 1 < wanted ? cut - 1 : n;
}

/* *plain: valid UTF-8 without NUL. Each look begins with a whole character and has room for one at least. */
static bool look_through(struct file_reading *r, bool *plain)
{
    *plain = true;
    for (size_t at = 0; *plain && at < r->len;) {
        if (!move_window(r, at))
            return false;
        size_t bad, n = r->n_window - (at - r->window_at);
        const char *bytes = r->window + (at - r->window_at);
        size_t cut = at + n < r->len ? whole_characters(bytes, n) : n;
        *plain = cut > 0 && !memchr(bytes, 0, cut) && utf8_valid(bytes, cut, &bad);
        at += cut;
    }
    return true;
}

static bool fetch_whole(struct file_reading *r)
{
    r->whole = malloc(r->len + 1);
    if (!r->whole) {
        end_reading(r);
        return err_memory(r->e);
    }
    r->whole[r->len] = '\0';
    if (r->len > 0 && !fetch(r, 0, r->len, r->whole))
        return false;
    r->bytes = r->whole;
    return true;
}

static bool has_mark(struct file_reading *r)
{
    return r->len >= 3 && byte_at(r, 0) == '\xEF' && byte_at(r, 1) == '\xBB' && byte_at(r, 2) == '\xBF';
}

bool bytes_open(struct file_reading *r, bool json)
{
    bool plain = false;
    if (r->ended || r->bytes)
        return !r->ended;
    if (json || r->form.encoding == ENCODING_UTF_16 || r->form.encoding == ENCODING_WINDOWS_1252)
        return fetch_whole(r);
    if (!look_through(r, &plain))
        return false;
    if (!plain)
        return fetch_whole(r);
    if (has_mark(r)) {
        r->mark = 3;
        r->len -= 3;
        r->n_window = 0;
    }
    return !r->ended;
}
