/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A QR code (ISO/IEC 18004), so that round and revision of a paper can be read by a camera. */
#include "page.h"

#include <qrencode.h>

bool page_code(cairo_t *c, const char *text, double x, double y, double size_pt)
{
    enum { QUIET = 2 }; /* modules left white around it; two more are the paper's */
    QRcode *code = QRcode_encodeString(text, 0, QR_ECLEVEL_M, QR_MODE_8, 1);
    if (!code)
        return false;
    double module = size_pt / (code->width + 2 * QUIET);
    for (int row = 0; row < code->width; row++)
        for (int i = 0; i < code->width; i++)
            if (code->data[row * code->width + i] & 1)
                cairo_rectangle(c, x + (i + QUIET) * module, y + (row + QUIET) * module, module, module);
    cairo_fill(c);
    QRcode_free(code);
    return true;
}
