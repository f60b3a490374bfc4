/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The bytes of a file as UTF-8. Spreadsheets also save UTF-16 and Windows-1252; both are recognised. A file that is
 * partly valid UTF-8 beyond ASCII and partly not is neither: one wrong guess would spoil every name with an accent in
 * it.
 */
#include "exchange/exchange_internal.h"

static struct place place_at(struct file_reading *r, size_t at)
{
    struct cursor c = {0, 1, 1};
    while (c.at < at)
        cursor_step(r, &c);
    return cursor_place(r, &c);
}

static void add_code_point(struct text *out, unsigned long c)
{
    char b[4];
    size_t n = c < 0x80 ? 1 : c < 0x800 ? 2 : c < 0x10000 ? 3 : 4;
    if (n == 1) {
        b[0] = (char)c;
    } else {
        for (size_t i = n; i-- > 1; c >>= 6)
            b[i] = (char)(0x80 | (c & 0x3F));
        b[0] = (char)((0xF00 >> n & 0xFF) | c); /* as many ones as there are bytes */
    }
    text_add_n(out, b, n);
}

static bool decoded(struct file_reading *r)
{
    if (r->decoded.failed) {
        reading_end_memory(r);
        return false;
    }
    r->bytes = text_str(&r->decoded);
    r->len = r->decoded.len;
    return true;
}

/* ---- Windows-1252 ------------------------------------------------------------------------------------------------ */

/* 0x80 to 0x9F, by the Unicode Consortium's mapping table CP1252.TXT; 0: no character. The rest is as in Unicode. */
static const unsigned short windows_1252[32] = {
    0x20AC, 0,      0x201A, 0x0192, 0x201E, 0x2026, 0x2020, 0x2021, 0x02C6, 0x2030, 0x0160,
    0x2039, 0x0152, 0,      0x017D, 0,      0,      0x2018, 0x2019, 0x201C, 0x201D, 0x2022,
    0x2013, 0x2014, 0x02DC, 0x2122, 0x0161, 0x203A, 0x0153, 0,      0x017E, 0x0178,
};

static bool read_windows_1252(struct file_reading *r)
{
    for (size_t i = 0; i < r->len; i++) {
        unsigned char b = (unsigned char)r->bytes[i];
        unsigned long c = b >= 0x80 && b < 0xA0 ? windows_1252[b - 0x80] : b;
        if (c == 0) {
            fault_add(r, place_at(r, i),
                      "byte 0x%02X is no character of Windows-1252; expected the file saved as UTF-8", b);
            return false;
        }
        add_code_point(&r->decoded, c);
    }
    return decoded(r);
}

/* ---- UTF-16 ------------------------------------------------------------------------------------------------------ */

static unsigned long unit_at(const struct file_reading *r, size_t at, bool big_end)
{
    unsigned long first = (unsigned char)r->bytes[at], second = (unsigned char)r->bytes[at + 1];
    return big_end ? first << 8 | second : second << 8 | first;
}

/* Surrogate pairs: The Unicode Standard, section 3.9, table 3-5. */
static bool read_utf_16(struct file_reading *r, bool big_end)
{
    const struct place whole = {r->file, 1, 1};
    for (size_t i = 0; i + 1 < r->len; i += 2) {
        unsigned long c = unit_at(r, i, big_end);
        if (c >= 0xD800 && c < 0xDC00 && i + 3 < r->len && unit_at(r, i + 2, big_end) >> 10 == 0xDC00 >> 10) {
            c = 0x10000 + ((c - 0xD800) << 10) + (unit_at(r, i + 2, big_end) - 0xDC00);
            i += 2;
        } else if (c == 0 || (c >= 0xD800 && c < 0xE000)) {
            fault_add(r, whole,
                      "looks like UTF-16 and has half a character or none at byte %zu; expected the file saved "
                      "as UTF-8",
                      i + 1);
            return false;
        }
        add_code_point(&r->decoded, c);
    }
    if (r->len % 2 != 0) {
        fault_add(r, whole,
                  "looks like UTF-16 and ends in half a character; expected the whole file, or it saved as UTF-8");
        return false;
    }
    return decoded(r);
}

/* Without a mark at its begin: text in a Latin script has a zero in every second byte. */
static bool has_zeros_at(const struct file_reading *r, size_t first)
{
    size_t n = 0, zeros = 0;
    for (size_t i = first; i < r->len && n < 256; i += 2, n++)
        zeros += r->bytes[i] == '\0';
    return n >= 2 && zeros * 10 >= n * 9;
}

static void skip_mark(struct file_reading *r, size_t n)
{
    r->bytes += n;
    r->len -= n;
}

/* 0: no UTF-16. */
enum { UTF_16_LITTLE = 1, UTF_16_BIG = 2 };

static int utf_16_kind(struct file_reading *r)
{
    static const char marks[2][2] = {{'\xFF', '\xFE'}, {'\xFE', '\xFF'}};
    for (int i = 0; i < 2; i++)
        if (r->len >= 2 && memcmp(r->bytes, marks[i], 2) == 0) {
            skip_mark(r, 2);
            return i == 0 ? UTF_16_LITTLE : UTF_16_BIG;
        }
    if (r->form.encoding == ENCODING_UTF_16 || has_zeros_at(r, 1))
        return has_zeros_at(r, 0) ? UTF_16_BIG : UTF_16_LITTLE;
    return has_zeros_at(r, 0) ? UTF_16_BIG : 0;
}

/* ---- which one --------------------------------------------------------------------------------------------------- */

static bool has_long_utf_8(const struct file_reading *r)
{
    size_t bad;
    for (size_t i = 0; i + 1 < r->len; i++) {
        unsigned char b = (unsigned char)r->bytes[i];
        size_t n = b >= 0xF0 ? 4 : b >= 0xE0 ? 3 : 2;
        if (b >= 0xC2 && i + n <= r->len && utf8_valid(r->bytes + i, n, &bad))
            return true;
    }
    return false;
}

static bool read_other(struct file_reading *r, size_t bad)
{
    unsigned char byte = (unsigned char)r->bytes[bad];
    if (r->form.encoding == ENCODING_UNKNOWN && !has_long_utf_8(r)) {
        note_form(r, "as Windows-1252");
        return read_windows_1252(r);
    }
    fault_add(r, place_at(r, bad), "byte 0x%02X is not UTF-8%s; expected the file saved as UTF-8%s", byte,
              r->form.encoding == ENCODING_UNKNOWN ? ", as other characters of the file are" : "",
              r->form.encoding == ENCODING_UNKNOWN ? ", or --encoding windows-1252" : "");
    return false;
}

bool encoding_read(struct file_reading *r)
{
    size_t bad;
    bool may_be_16 = r->form.encoding == ENCODING_UNKNOWN || r->form.encoding == ENCODING_UTF_16;
    int kind = may_be_16 ? utf_16_kind(r) : 0;
    if (kind) {
        if (r->form.encoding == ENCODING_UNKNOWN)
            note_form(r, "as UTF-16");
        return read_utf_16(r, kind == UTF_16_BIG);
    }
    if (r->len >= 3 && memcmp(r->bytes, "\xEF\xBB\xBF", 3) == 0)
        skip_mark(r, 3);
    if (r->len == 0)
        return true;
    const char *nul = memchr(r->bytes, 0, r->len);
    if (nul) {
        fault_add(r, place_at(r, (size_t)(nul - r->bytes)), "has a NUL byte; expected text");
        return false;
    }
    if (r->form.encoding == ENCODING_WINDOWS_1252)
        return read_windows_1252(r);
    return utf8_valid(r->bytes, r->len, &bad) || read_other(r, bad);
}
