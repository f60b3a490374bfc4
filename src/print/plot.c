/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One series in time over the band it should keep to, drawn with characters: the tests, the line over them in its
 * interval, what is likely ahead in its own, and at the foot what was done.
 */
#include "plot.h"

enum {
    LABEL_WIDTH = 6,
    AXIS_AT = LABEL_WIDTH + 1,
    COLUMNS_MOST = 256,
    ROWS = 8,
    ROWS_WIDE = 12,
    ROWS_SMALL = 4,
    WIDE = 60
};

static const struct marks {
    const char *test, *other, *below, *outlier;
    const char *line, *interval, *ahead, *fan, *edge, *now;
    const char *wall, *corner, *floor, *fed, *changed;
} styles[] = {
    [CHARTS_ASCII] = {"o", "+", "v", "x", "=", ".", "~", ":", "-", "|", "|", "+", "-", "f", "w"},
    [CHARTS_UNICODE] = {"●", "+", "▽", "×", "━", "░", "╍", "░", "┄", "┊", "│", "└", "─", "┴", "◆"},
    [CHARTS_PAPER] = {"o", "+", "v", "x", "=", ".", "~", ":", "-", "|", "|", "+", "-", "f", "w"},
};

struct text_chart {
    const struct plot *p;
    const struct marks *m;
    double top, bottom;
    int rows, columns; /* of the field */
};

struct plot_size plot_size_of(size_t n, bool small, int width, size_t *abreast)
{
    int least = small ? PLOT_SMALL_LEAST : PLOT_WIDTH_LEAST, gap = small ? PLOT_SMALL_GAP : PLOT_GAP;
    int fit = (width + gap) / (least + gap), most = small ? fit : lesser(fit, 2);
    int beside = greater(1, lesser(most, (int)n));
    if (small)
        beside = greater(1, fit); /* a last row of fewer is as wide as the others */
    int each = (width - gap * (beside - 1)) / beside;
    *abreast = (size_t)beside;
    return (struct plot_size){each, small ? ROWS_SMALL : each >= WIDE ? ROWS_WIDE : ROWS, !small};
}

int plot_lines(const struct plot_size *size)
{
    return size->rows + 2 + size->dates;
}

static void widen(struct text_chart *k, const struct plot_span *spans, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        k->top = fmax(k->top, spans[i].high);
        k->bottom = fmin(k->bottom, spans[i].low);
    }
}

/* Both edges of the band are always in the picture: whether a level keeps to it is what is looked for. */
static void find_scale(struct text_chart *k)
{
    k->top = k->p->band_high;
    k->bottom = k->p->band_low;
    for (size_t i = 0; i < k->p->n_points; i++) {
        k->top = fmax(k->top, k->p->points[i].y);
        k->bottom = fmin(k->bottom, k->p->points[i].y);
    }
    widen(k, k->p->line, k->p->n_line);
    widen(k, k->p->ahead, k->p->n_ahead);
    if (!(k->top > k->bottom))
        k->top = k->bottom + 1;
}

static int row_of(const struct text_chart *k, double y)
{
    return (int)lround((k->top - y) / (k->top - k->bottom) * (k->rows - 1));
}

static long column_of(const struct text_chart *k, double x)
{
    double end = plot_x_end(k->p), part = end > k->p->x_first ? (x - k->p->x_first) / (end - k->p->x_first) : 0;
    return lround(fmin(fmax(part, 0), 1) * (k->columns - 1));
}

static double x_of(const struct text_chart *k, int column)
{
    return k->p->x_first + (plot_x_end(k->p) - k->p->x_first) * column / greater(1, k->columns - 1);
}

static void put_padded(const char *s, int width, bool right, struct text *out)
{
    size_t len = strlen(s);
    while (text_width(s, len) > width) { /* cut whole characters off the end */
        do
            len--;
        while (((unsigned char)s[len] & 0xC0) == 0x80);
    }
    int pad = width - text_width(s, len);
    text_add_char(out, ' ', right ? (size_t)pad : 0);
    text_add_n(out, s, len);
    text_add_char(out, ' ', right ? 0 : (size_t)pad);
}

static void put_label(const struct text_chart *k, int row, struct text *out)
{
    double values[] = {k->p->band_high, k->p->band_low, k->top, k->bottom};
    char label[64] = "";
    for (size_t i = 0; i < COUNT_OF(values) && !*label; i++)
        if (row_of(k, values[i]) == row)
            snprintf(label, sizeof label, "%.*f", k->p->decimals, values[i]);
    put_padded(label, LABEL_WIDTH, true, out);
    text_addf(out, " %s", k->m->wall);
}

/* The spans between which x lies, and what they are there; false: it lies beside them. */
static bool span_at(const struct plot_span *s, size_t n, double x, struct plot_span *at)
{
    for (size_t i = 1; i < n; i++) {
        if (x < s[i - 1].x - 1e-9 || x > s[i].x + 1e-9)
            continue;
        double part = s[i].x > s[i - 1].x ? (x - s[i - 1].x) / (s[i].x - s[i - 1].x) : 0;
        *at = (struct plot_span){x, s[i - 1].y + part * (s[i].y - s[i - 1].y),
                                 s[i - 1].low + part * (s[i].low - s[i - 1].low),
                                 s[i - 1].high + part * (s[i].high - s[i - 1].high)};
        return true;
    }
    return false;
}

/* What lies behind the tests; NULL: nothing. */
static const char *ground(const struct text_chart *k, int row, int column)
{
    struct plot_span line, ahead;
    const struct plot *p = k->p;
    double x = x_of(k, column);
    bool on_line = span_at(p->line, p->n_line, x, &line), on_ahead = span_at(p->ahead, p->n_ahead, x, &ahead);
    if (on_line && row_of(k, line.y) == row)
        return k->m->line;
    if (on_ahead && row_of(k, ahead.y) == row)
        return k->m->ahead;
    if (row == row_of(k, p->band_high) || row == row_of(k, p->band_low))
        return k->m->edge;
    if (on_line && row_of(k, line.high) <= row && row <= row_of(k, line.low))
        return k->m->interval;
    if (on_ahead && row_of(k, ahead.high) <= row && row <= row_of(k, ahead.low))
        return k->m->fan;
    return p->n_ahead > 0 && column == column_of(k, p->x_last) ? k->m->now : NULL;
}

static const char *mark_of(const struct text_chart *k, char mark)
{
    return mark == 'v' ? k->m->below : mark == 'x' ? k->m->outlier : mark == '+' ? k->m->other : k->m->test;
}

/* A point far off the line is never covered by another. */
static void put_row(const struct text_chart *k, int row, struct text *out)
{
    const char *cells[COLUMNS_MOST];
    for (int i = 0; i < k->columns; i++)
        cells[i] = ground(k, row, i);
    for (size_t i = 0; i < k->p->n_points; i++) {
        long at = column_of(k, k->p->points[i].x);
        if (row_of(k, k->p->points[i].y) == row && cells[at] != k->m->outlier)
            cells[at] = mark_of(k, k->p->points[i].mark);
    }
    for (int i = 0; i < k->columns; i++)
        text_add(out, cells[i] ? cells[i] : " ");
}

/* The axis, with what was done on it: a change of water covers a feeding. */
static void put_floor(const struct text_chart *k, struct text *out)
{
    const char *cells[COLUMNS_MOST];
    for (int i = 0; i < k->columns; i++)
        cells[i] = k->m->floor;
    for (size_t i = 0; i < k->p->n_ticks; i++) {
        long at = column_of(k, k->p->ticks[i].x);
        if (cells[at] != k->m->changed)
            cells[at] = k->p->ticks[i].mark == 'w' ? k->m->changed : k->m->fed;
    }
    text_add_char(out, ' ', AXIS_AT);
    text_add(out, k->m->corner);
    for (int i = 0; i < k->columns; i++)
        text_add(out, cells[i]);
}

/* The ends of the axis; and where something is ahead, today between them, if it has room there. */
static void put_dates(const struct text_chart *k, struct text *out)
{
    const struct plot *p = k->p;
    const char *end = p->n_ahead > 0 ? p->ahead_label : p->last_label;
    int first = text_width(p->first_label, strlen(p->first_label)), last = text_width(end, strlen(end));
    int now = text_width(p->last_label, strlen(p->last_label)), at = (int)column_of(k, p->x_last) - now / 2;
    text_add_char(out, ' ', AXIS_AT + 1);
    if (p->n_ahead > 0 && at > first && at + now < k->columns - last) {
        put_padded(p->first_label, at, false, out);
        put_padded(p->last_label, k->columns - at - last, false, out);
    } else {
        put_padded(p->first_label, k->columns - last, false, out);
    }
    put_padded(end, last, true, out);
}

void plot_line(const struct plot *p, const struct plot_size *size, enum chart_style style, int line, struct text *out)
{
    struct text_chart k = {
        .p = p, .m = &styles[style], .rows = size->rows, .columns = lesser(COLUMNS_MOST, size->width - AXIS_AT - 1)};
    find_scale(&k);
    if (line == 0) {
        put_padded(p->title, size->width, false, out);
    } else if (line <= k.rows) {
        put_label(&k, line - 1, out);
        put_row(&k, line - 1, out);
    } else if (line == k.rows + 1) {
        put_floor(&k, out);
    } else {
        put_dates(&k, out);
    }
}
