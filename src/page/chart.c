/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One series in time over the band it should keep to. Marks differ by shape, so nothing is told by colour. */
#include "page.h"

struct paper_chart {
    cairo_t *c;
    const struct plot *p;
    double left, top, width, height; /* of the field inside the axes */
    double low, high;
};

static double at_x(const struct paper_chart *k, double x)
{
    double end = plot_x_end(k->p), span = end > k->p->x_first ? end - k->p->x_first : 1;
    return k->left + (x - k->p->x_first) / span * k->width;
}

static double at_y(const struct paper_chart *k, double y)
{
    return k->top + (k->high - y) / (k->high - k->low) * k->height;
}

static void widen(struct paper_chart *k, const struct plot_span *spans, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        k->low = fmin(k->low, spans[i].low);
        k->high = fmax(k->high, spans[i].high);
    }
}

static void find_range(struct paper_chart *k)
{
    k->low = INFINITY;
    k->high = -INFINITY;
    if (isfinite(k->p->band_low))
        k->low = k->p->band_low;
    if (isfinite(k->p->band_high))
        k->high = k->p->band_high;
    for (size_t i = 0; i < k->p->n_points; i++) {
        k->low = fmin(k->low, k->p->points[i].y);
        k->high = fmax(k->high, k->p->points[i].y);
    }
    widen(k, k->p->line, k->p->n_line);
    widen(k, k->p->ahead, k->p->n_ahead);
    if (!(k->high > k->low)) {
        k->low = isfinite(k->low) ? k->low - 1 : 0;
        k->high = k->low + 2;
    }
    double air = (k->high - k->low) * 0.06;
    k->low -= air;
    k->high += air;
}

static void put_words(struct paper_chart *k, PangoLayout *words, const char *s, double x, double y, double from_right)
{
    int w, h;
    pango_layout_set_width(words, -1);
    pango_layout_set_text(words, s, -1);
    pango_layout_get_size(words, &w, &h);
    cairo_move_to(k->c, x - from_right * w / PANGO_SCALE, y);
    pango_cairo_show_layout(k->c, words);
}

static void put_band(struct paper_chart *k, PangoLayout *words)
{
    static const double dashes[] = {4, 2};
    const double edges[] = {k->p->band_low, k->p->band_high};
    char label[40];
    if (isfinite(edges[0]) && isfinite(edges[1])) {
        cairo_set_source_rgb(k->c, 0.93, 0.93, 0.93);
        cairo_rectangle(k->c, k->left, at_y(k, edges[1]), k->width, at_y(k, edges[0]) - at_y(k, edges[1]));
        cairo_fill(k->c);
    }
    cairo_set_source_rgb(k->c, 0, 0, 0);
    cairo_set_line_width(k->c, 0.6);
    cairo_set_dash(k->c, dashes, 2, 0);
    for (size_t i = 0; i < 2; i++) {
        if (!isfinite(edges[i]))
            continue;
        cairo_move_to(k->c, k->left, at_y(k, edges[i]));
        cairo_rel_line_to(k->c, k->width, 0);
        cairo_stroke(k->c);
        snprintf(label, sizeof label, "%.*f", k->p->decimals, edges[i]);
        put_words(k, words, label, k->left - 3, at_y(k, edges[i]) - 6, 1);
    }
    cairo_set_dash(k->c, NULL, 0, 0);
}

/* o a test, + one by another method, v one below detection (an open arrow, down from its limit), x far off the line. */
static void put_point(struct paper_chart *k, const struct plot_point *at)
{
    double x = at_x(k, at->x), y = at_y(k, at->y);
    cairo_new_path(k->c);
    cairo_set_line_width(k->c, 1);
    switch (at->mark) {
    case 'v':
        cairo_move_to(k->c, x - 3, y);
        cairo_line_to(k->c, x + 3, y);
        cairo_line_to(k->c, x, y + 6);
        cairo_close_path(k->c);
        cairo_stroke(k->c);
        break;
    case '+':
        cairo_move_to(k->c, x - 3.5, y);
        cairo_rel_line_to(k->c, 7, 0);
        cairo_move_to(k->c, x, y - 3.5);
        cairo_rel_line_to(k->c, 0, 7);
        cairo_stroke(k->c);
        break;
    case 'x':
        cairo_move_to(k->c, x - 3, y - 3);
        cairo_rel_line_to(k->c, 6, 6);
        cairo_move_to(k->c, x - 3, y + 3);
        cairo_rel_line_to(k->c, 6, -6);
        cairo_stroke(k->c);
        break;
    default:
        cairo_arc(k->c, x, y, 2.4, 0, 2 * G_PI);
        cairo_fill(k->c);
        break;
    }
}

static void put_path(struct paper_chart *k, const struct plot_span *s, size_t n, int which)
{
    cairo_new_path(k->c);
    for (size_t i = 0; i < n; i++)
        cairo_line_to(k->c, at_x(k, s[i].x), at_y(k, which < 0 ? s[i].low : which > 0 ? s[i].high : s[i].y));
    cairo_stroke(k->c);
}

/*
 * The line solid, what is ahead dashed; both edges of the interval thin, so that the shading behind is only for the
 * eye.
 */
static void put_spans(struct paper_chart *k, const struct plot_span *s, size_t n, bool dashed)
{
    static const double dashes[] = {5, 3};
    if (n < 2)
        return;
    cairo_new_path(k->c);
    for (size_t i = 0; i < n; i++)
        cairo_line_to(k->c, at_x(k, s[i].x), at_y(k, s[i].low));
    for (size_t i = n; i-- > 0;)
        cairo_line_to(k->c, at_x(k, s[i].x), at_y(k, s[i].high));
    cairo_set_source_rgba(k->c, 0, 0, 0, 0.1);
    cairo_fill(k->c);
    cairo_set_source_rgb(k->c, 0, 0, 0);
    cairo_set_line_width(k->c, 0.3);
    put_path(k, s, n, -1);
    put_path(k, s, n, 1);
    cairo_set_line_width(k->c, 1);
    cairo_set_dash(k->c, dashes, dashed ? 2 : 0, 0);
    put_path(k, s, n, 0);
    cairo_set_dash(k->c, NULL, 0, 0);
}

/* Feedings are short strokes up from the axis, water changes diamonds on it. */
static void put_tick(struct paper_chart *k, const struct plot_tick *t)
{
    double x = at_x(k, t->x), foot = k->top + k->height;
    cairo_new_path(k->c);
    cairo_set_line_width(k->c, 0.7);
    cairo_move_to(k->c, x, foot);
    if (t->mark == 'w') {
        cairo_rel_line_to(k->c, -2.5, -4);
        cairo_rel_line_to(k->c, 2.5, -4);
        cairo_rel_line_to(k->c, 2.5, 4);
        cairo_close_path(k->c);
        cairo_fill(k->c);
        return;
    } else {
        cairo_rel_line_to(k->c, 0, -5);
    }
    cairo_stroke(k->c);
}

static void put_dates(struct paper_chart *k, PangoLayout *words)
{
    double y = k->top + k->height + 2;
    put_words(k, words, k->p->first_label, k->left, y, 0);
    put_words(k, words, k->p->last_label, at_x(k, k->p->x_last), y, k->p->n_ahead > 0 ? 0.5 : 1);
    if (k->p->n_ahead > 0)
        put_words(k, words, k->p->ahead_label, k->left + k->width, y, 1);
}

void page_chart(cairo_t *c, PangoLayout *words, const struct plot *p, double width_pt, double height_pt, bool dates)
{
    struct paper_chart k = {
        .c = c, .p = p, .left = 34, .top = 16, .width = width_pt - 40, .height = height_pt - (dates ? 32 : 18)};
    find_range(&k);
    put_words(&k, words, p->title, 0, 0, 0);
    put_band(&k, words);
    cairo_set_line_width(c, 0.8);
    cairo_rectangle(c, k.left, k.top, k.width, k.height);
    cairo_stroke(c);
    if (dates)
        put_dates(&k, words);
    if (p->n_ahead > 0) { /* now */
        cairo_move_to(c, at_x(&k, p->x_last), k.top);
        cairo_rel_line_to(c, 0, k.height);
        cairo_set_line_width(c, 0.4);
        cairo_stroke(c);
    }
    put_spans(&k, p->line, p->n_line, false);
    put_spans(&k, p->ahead, p->n_ahead, true);
    for (size_t i = 0; i < p->n_ticks; i++)
        put_tick(&k, &p->ticks[i]);
    for (size_t i = 0; i < p->n_points; i++)
        put_point(&k, &p->points[i]);
}
