#include "plot.h"

enum { LABEL_WIDTH = 6, AXIS_AT = LABEL_WIDTH + 1, COLUMNS_MOST = 256 };

struct scale {
    double top, bottom;
};

/* Both edges of the band are always in the picture: whether a level keeps to it is what is looked for. */
static struct scale scale_of(const struct plot *p)
{
    struct scale s = {p->band_high, p->band_low};
    for (size_t i = 0; i < p->n_points; i++) {
        s.top = fmax(s.top, p->points[i].y);
        s.bottom = fmin(s.bottom, p->points[i].y);
    }
    if (s.top <= s.bottom)
        s.top = s.bottom + 1;
    return s;
}

static int row_of(const struct scale *s, double y)
{
    return (int)lround((s->top - y) / (s->top - s->bottom) * (PLOT_ROWS - 1));
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

static void put_label(const struct plot *p, const struct scale *s, int row, struct text *out)
{
    double values[] = {p->band_high, p->band_low, s->top, s->bottom};
    char label[64] = "";
    for (size_t i = 0; i < COUNT_OF(values) && !*label; i++)
        if (row_of(s, values[i]) == row)
            snprintf(label, sizeof label, "%.*f", p->decimals, values[i]);
    put_padded(label, LABEL_WIDTH, true, out);
    text_add(out, " |");
}

/* A point far off the line is never covered by another. */
static void put_points(const struct plot *p, const struct scale *s, int row, int columns, struct text *out)
{
    char cells[COLUMNS_MOST];
    bool edge = row == row_of(s, p->band_high) || row == row_of(s, p->band_low);
    columns = columns < COLUMNS_MOST ? columns : COLUMNS_MOST;
    memset(cells, edge ? '-' : ' ', (size_t)columns);
    for (size_t i = 0; i < p->n_points; i++) {
        double part = p->x_last > p->x_first ? (p->points[i].x - p->x_first) / (p->x_last - p->x_first) : 0;
        long at = lround(fmin(fmax(part, 0), 1) * (columns - 1));
        if (row_of(s, p->points[i].y) == row && cells[at] != 'x')
            cells[at] = p->points[i].mark;
    }
    text_add_n(out, cells, (size_t)columns);
}

void plot_line(const struct plot *p, int width, int line, struct text *out)
{
    struct scale s = scale_of(p);
    int columns = width - AXIS_AT - 1;
    if (line == 0) {
        put_padded(p->title, width, false, out);
    } else if (line <= PLOT_ROWS) {
        put_label(p, &s, line - 1, out);
        put_points(p, &s, line - 1, columns, out);
    } else if (line == PLOT_ROWS + 1) {
        text_add_char(out, ' ', AXIS_AT);
        text_add(out, "+");
        text_add_char(out, '-', (size_t)columns);
    } else {
        int last = text_width(p->last_label, strlen(p->last_label));
        text_add_char(out, ' ', AXIS_AT + 1);
        put_padded(p->first_label, columns - last, false, out);
        put_padded(p->last_label, last, true, out);
    }
}
