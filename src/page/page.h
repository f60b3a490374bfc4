/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * page: a program of its own that draws a page model, JSON on stdin, as PDF on stdout. What the planner does not link:
 * cairo and pango take longer to start than a plan's reading does, and end the program where memory runs out.
 */
#ifndef NEAP_PAGE_H
#define NEAP_PAGE_H

#include <cairo.h>
#include <pango/pangocairo.h>

#undef alloca /* their headers define what ours ban */
#include "neap/print.h"

/* Sizes are in points, 1/72 inch. */
struct paper {
    const char *name;
    double width_pt, height_pt;
};

/* Reads a page model. Caller frees with document_free. Errors: ERR_INPUT naming the member. */
bool page_read(const char *json, struct document *d, struct err *e);

/* Draws it, and writes PDF to the stream. Errors: ERR_IO, ERR_MEMORY. */
bool page_draw(const struct document *d, const struct paper *paper, FILE *out, struct err *e);

/* A chart within a rectangle whose upper left corner is at the origin. dates: its time axis has its labels. */
void page_chart(cairo_t *c, PangoLayout *words, const struct plot *p, double width_pt, double height_pt, bool dates);

/* Sheets of labels, each a page of its own. false: out of memory. */
bool page_labels(cairo_t *c, PangoLayout *words, const struct label_page *p);

/* What a camera reads, in a square of this size at x, y. false: it cannot be made. */
bool page_code(cairo_t *c, const char *text, double x, double y, double size_pt);

#endif
