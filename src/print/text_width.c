/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How many columns of a terminal a text takes. */
#include "neap/print.h"

#include <utf8proc.h>

int text_width(const char *s, size_t len)
{
    int width = 0;
    for (size_t i = 0; i < len;) {
        if (s[i] >= ' ' && s[i] <= '~') { /* nearly all: a page asks thousands of times */
            width++;
            i++;
            continue;
        }
        utf8proc_int32_t point;
        utf8proc_ssize_t n = utf8proc_iterate((const utf8proc_uint8_t *)s + i, (utf8proc_ssize_t)(len - i), &point);
        if (n <= 0) { /* not UTF-8: a byte, a column */
            width++;
            i++;
            continue;
        }
        width += utf8proc_charwidth(point);
        i += (size_t)n;
    }
    return width;
}
