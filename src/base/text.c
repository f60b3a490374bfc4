/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Growing text, and what it is made of: JSON, UTF-8, excerpts, the nearest name. */
#include "neap/base.h"

#include <ctype.h>

static bool text_reserve(struct text *t, size_t more)
{
    if (t->failed || more >= SIZE_MAX / 2 - t->len)
        return t->failed = true, false;
    char *moved = mem_grow(t->s, &t->room, t->len + more + 1, 1);
    if (!moved)
        return t->failed = true, false;
    t->s = moved;
    return true;
}

void text_add_n(struct text *t, const char *s, size_t n)
{
    if (!text_reserve(t, n))
        return;
    if (n > 0)
        memcpy(t->s + t->len, s, n);
    t->len += n;
    t->s[t->len] = '\0';
}

void text_add(struct text *t, const char *s)
{
    text_add_n(t, s, strlen(s));
}

void text_add_char(struct text *t, char c, size_t times)
{
    if (!text_reserve(t, times))
        return;
    memset(t->s + t->len, c, times);
    t->len += times;
    t->s[t->len] = '\0';
}

void text_addf(struct text *t, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    int n = vsnprintf(NULL, 0, fmt, ap);
    va_end(ap);
    if (n < 0) {
        t->failed = true;
        return;
    }
    if (!text_reserve(t, (size_t)n))
        return;
    va_start(ap, fmt);
    vsnprintf(t->s + t->len, (size_t)n + 1, fmt, ap);
    va_end(ap);
    t->len += (size_t)n;
}

void text_add_json(struct text *t, const char *s)
{
    text_add_char(t, '"', 1);
    for (; *s; s++) {
        unsigned char c = (unsigned char)*s;
        if (c == '"' || c == '\\')
            text_addf(t, "\\%c", c);
        else if (c < 0x20)
            text_addf(t, "\\u%04x", c);
        else
            text_add_char(t, *s, 1);
    }
    text_add_char(t, '"', 1);
}

const char *text_str(const struct text *t)
{
    return t->s ? t->s : "";
}

void text_free(struct text *t)
{
    free(t->s);
    *t = (struct text){0};
}

/* Length of the well-formed sequence at s (Unicode 15, table 3-7), or 0. */
static size_t utf8_sequence(const unsigned char *s, size_t left)
{
    unsigned char low = 0x80, high = 0xBF;
    size_t n;
    if (s[0] < 0x80)
        return 1;
    if (s[0] >= 0xC2 && s[0] <= 0xDF)
        n = 2;
    else if (s[0] >= 0xE0 && s[0] <= 0xEF)
        n = 3;
    else if (s[0] >= 0xF0 && s[0] <= 0xF4)
        n = 4;
    else
        return 0;
    if (s[0] == 0xE0)
        low = 0xA0;
    if (s[0] == 0xED)
        high = 0x9F;
    if (s[0] == 0xF0)
        low = 0x90;
    if (s[0] == 0xF4)
        high = 0x8F;
    if (n > left || s[1] < low || s[1] > high)
        return 0;
    for (size_t i = 2; i < n; i++)
        if ((s[i] & 0xC0) != 0x80)
            return 0;
    return n;
}

bool utf8_valid(const char *s, size_t len, size_t *bad)
{
    for (size_t i = 0; i < len;) {
        size_t n = utf8_sequence((const unsigned char *)s + i, len - i);
        if (n == 0) {
            if (bad)
                *bad = i;
            return false;
        }
        i += n;
    }
    return true;
}

void utf8_cut_whole(char *s)
{
    size_t len = strlen(s), lead = len;
    while (lead > 0 && len - lead < 3 && ((unsigned char)s[lead - 1] & 0xC0) == 0x80)
        lead--;
    if (lead > 0 && utf8_sequence((const unsigned char *)s + lead - 1, len - lead + 1) == 0)
        s[lead - 1] = '\0';
}

/* Bytes of the character or stray byte at s; *safe: may it go to a terminal as it is? */
static size_t text_piece(const char *s, size_t left, bool *safe)
{
    const unsigned char *c = (const unsigned char *)s;
    size_t n = utf8_sequence(c, left);
    *safe = n > 0 && c[0] >= 0x20 && c[0] != 0x7F && !(c[0] == 0xC2 && c[1] < 0xA0);
    return n == 0 ? 1 : n;
}

void text_disarm(char *s, bool keep_lines)
{
    size_t len = strlen(s), k = 0;
    for (size_t i = 0; i < len;) {
        bool safe;
        size_t n = text_piece(s + i, len - i, &safe);
        if (safe || (keep_lines && s[i] == '\n')) {
            memmove(s + k, s + i, n);
            k += n;
        } else {
            s[k++] = '?';
        }
        i += n;
    }
    s[k] = '\0';
}

const char *text_excerpt(const char *s, char out[EXCERPT_TEXT])
{
    const size_t most = EXCERPT_TEXT - 4;
    size_t len = strlen(s), k = 0;
    for (size_t i = 0; i < len;) {
        bool safe;
        size_t n = text_piece(s + i, len - i, &safe), take = safe ? n : 1;
        if (k + take > most) {
            memcpy(out + k, "...", 3);
            k += 3;
            break;
        }
        memcpy(out + k, safe ? s + i : "?", take);
        k += take;
        i += n;
    }
    out[k] = '\0';
    return out;
}

enum { NAME_MAX_COMPARED = 64 };

static int letter(const char *s, size_t i)
{
    return tolower((unsigned char)s[i]);
}

/* Edit distance with swaps of neighbours (optimal string alignment), on at most NAME_MAX_COMPARED bytes. */
static size_t name_distance(const char *a, const char *b)
{
    size_t row[3][NAME_MAX_COMPARED + 1];
    size_t n = strlen(a), m = strlen(b);
    if (n > NAME_MAX_COMPARED || m > NAME_MAX_COMPARED)
        return SIZE_MAX;
    for (size_t j = 0; j <= m; j++)
        row[0][j] = j;
    for (size_t i = 1; i <= n; i++) {
        size_t *now = row[i % 3], *last = row[(i - 1) % 3], *older = row[(i + 1) % 3];
        now[0] = i;
        for (size_t j = 1; j <= m; j++) {
            size_t best = last[j - 1] + (letter(a, i - 1) != letter(b, j - 1));
            if (last[j] + 1 < best)
                best = last[j] + 1;
            if (now[j - 1] + 1 < best)
                best = now[j - 1] + 1;
            if (i > 1 && j > 1 && letter(a, i - 1) == letter(b, j - 2) && letter(a, i - 2) == letter(b, j - 1) &&
                older[j - 2] + 1 < best)
                best = older[j - 2] + 1;
            now[j] = best;
        }
    }
    return row[n % 3][m];
}

const char *name_nearest(const char *name, const char *const *candidates, size_t n)
{
    const char *nearest = NULL;
    size_t best = 2 + strlen(name) / 4;
    for (size_t i = 0; i < n; i++) {
        size_t d = name_distance(name, candidates[i]);
        if (d < best) {
            best = d;
            nearest = candidates[i];
        }
    }
    return nearest;
}

bool text_ends_in(const char *s, const char *end)
{
    size_t n = strlen(s), m = strlen(end);
    return n > m && strcmp(s + n - m, end) == 0;
}

bool text_same_but_case(const char *a, const char *b)
{
    while (*a && tolower((unsigned char)*a) == tolower((unsigned char)*b))
        a++, b++;
    return *a == '\0' && *b == '\0';
}
