/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A chart as lines of text. */
#ifndef NEAP_PRINT_PLOT_H
#define NEAP_PRINT_PLOT_H

#include "neap/print.h"

enum { PLOT_WIDTH_LEAST = 30, PLOT_GAP = 4, PLOT_SMALL_LEAST = 25, PLOT_SMALL_GAP = 2 };

struct plot_size {
    int width; /* of all of it */
    int rows;  /* of the field inside the axes */
    bool dates;
};

/* How n charts are laid out in so many columns, and how many stand beside each other. */
struct plot_size plot_size_of(size_t n, bool small, int width, size_t *abreast);

/* Lines of one. Line 0 is the title, then the rows from the top, the axis and its dates. */
int plot_lines(const struct plot_size *size);

/* Exactly width columns. */
void plot_line(const struct plot *p, const struct plot_size *size, enum chart_style style, int line, struct text *out);

#endif
