/* A small chart as lines of text. */
#ifndef NEAP_PRINT_PLOT_H
#define NEAP_PRINT_PLOT_H

#include "neap/print.h"

enum { PLOT_ROWS = 8, PLOT_LINES = PLOT_ROWS + 3, PLOT_WIDTH_LEAST = 30, PLOT_WIDTH_MOST = 60, PLOT_GAP = 4 };

/* Line 0 is the title, then the rows from the top, the axis and its labels. Exactly width columns. */
void plot_line(const struct plot *p, int width, int line, struct text *out);

#endif
