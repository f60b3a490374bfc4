/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Sheets of labels: each has its code for a camera at the left, its name as large as the room allows, and what to know.
 */
#include "page.h"

static const double mm_pt = 72 / 25.4, pad_pt = 7, code_share = 0.4, title_share = 0.45;
enum { TITLE_MOST = 30, TITLE_LEAST = 10, TEXT_SIZE = 10 };

struct area {
    double x, y, width, height;
};

static void set_font(PangoLayout *words, bool bold, int size)
{
    char name[96];
    snprintf(name, sizeof name, "Liberation Sans, DejaVu Sans %s %d", bold ? "Bold" : "", size);
    PangoFontDescription *font = pango_font_description_from_string(name);
    pango_layout_set_font_description(words, font);
    pango_font_description_free(font);
}

static double height_of(PangoLayout *words)
{
    int h;
    pango_layout_get_size(words, NULL, &h);
    return (double)h / PANGO_SCALE;
}

static double lay_text(PangoLayout *words, const char *text, double width, double height)
{
    set_font(words, false, TEXT_SIZE);
    pango_layout_set_text(words, text, -1);
    pango_layout_set_width(words, (int)(width * PANGO_SCALE));
    pango_layout_set_height(words, height > 0 ? (int)(height * PANGO_SCALE) : G_MAXINT);
    return height_of(words);
}

/* The largest that fits on one line and leaves the text its room; what fits at no size is cut with dots. Its height. */
static double lay_title(PangoLayout *words, const char *title, double width, double height)
{
    pango_layout_set_text(words, title, -1);
    pango_layout_set_height(words, -1);
    for (int size = TITLE_MOST; size >= TITLE_LEAST; size--) {
        int w;
        set_font(words, true, size);
        pango_layout_set_width(words, -1);
        pango_layout_get_size(words, &w, NULL);
        if ((double)w / PANGO_SCALE <= width && height_of(words) <= height)
            return height_of(words);
    }
    pango_layout_set_width(words, (int)(width * PANGO_SCALE));
    return height_of(words);
}

static void draw_words(cairo_t *c, PangoLayout *words, const struct label *l, const struct area *a)
{
    pango_layout_set_wrap(words, PANGO_WRAP_WORD_CHAR);
    pango_layout_set_ellipsize(words, PANGO_ELLIPSIZE_END);
    pango_layout_set_alignment(words, PANGO_ALIGN_LEFT);
    double left = a->height - lay_text(words, l->text, a->width, 0);
    double title = lay_title(words, l->title, a->width, fmin(left, a->height * title_share));
    cairo_move_to(c, a->x, a->y);
    pango_cairo_show_layout(c, words);
    lay_text(words, l->text, a->width, a->height - title);
    cairo_move_to(c, a->x, a->y + title);
    pango_cairo_show_layout(c, words);
}

static bool draw_label(cairo_t *c, PangoLayout *words, const struct label *l, const struct area *a)
{
    double code_pt = *l->code ? fmin(a->height - 2 * pad_pt, a->width * code_share) : 0;
    double left = *l->code ? code_pt + 2 * pad_pt : pad_pt;
    if (*l->code && !page_code(c, l->code, a->x + pad_pt, a->y + (a->height - code_pt) / 2, code_pt))
        return false;
    draw_words(c, words, l,
               &(struct area){a->x + left, a->y + pad_pt, a->width - left - pad_pt, a->height - 2 * pad_pt});
    return true;
}

bool page_labels(cairo_t *c, PangoLayout *words, const struct label_page *p)
{
    const struct label_sheet *s = p->sheet;
    size_t columns = (size_t)s->columns, per_sheet = label_sheet_places(s);
    for (size_t i = 0; i < p->n; i++) {
        size_t at = (p->first + i) % per_sheet, column = at % columns, row = at / columns;
        const struct area a = {mm_pt * (s->left_mm + (double)column * s->step_x_mm),
                               mm_pt * (s->top_mm + (double)row * s->step_y_mm), mm_pt * s->width_mm,
                               mm_pt * s->height_mm};
        if (!draw_label(c, words, &p->labels[i], &a))
            return false;
        if (p->outlined) {
            cairo_set_line_width(c, 0.3);
            cairo_rectangle(c, a.x, a.y, a.width, a.height);
            cairo_stroke(c);
        }
        if (at + 1 == per_sheet || i + 1 == p->n)
            cairo_show_page(c);
    }
    return true;
}
