/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * print: finished data laid out for a person. One page model, drawn as text; what draws it computes nothing, and what
 * fills it (the sheet, a report, a list) knows no output.
 */
#ifndef NEAP_PRINT_H
#define NEAP_PRINT_H

#include "neap/changed.h"
#include "neap/desk.h"
#include "neap/figures.h"
#include "neap/plan.h"
#include "neap/rescale.h"
#include "neap/week.h"
#include "neap/why.h"

/* ---- the page model --------------------------------------------------------------------------------------------- */

enum block_type {
    BLOCK_HEADING, /* text */
    BLOCK_TEXT,    /* text, wrapped */
    BLOCK_ITEM,    /* mark and text, wrapped with a hanging indent: a tick box, a bullet */
    BLOCK_TABLE,
    BLOCK_BOX,    /* a framed list: text is its title; one cell a row, each an item of its own */
    BLOCK_PLOTS,  /* charts, two beside each other where the width allows; small ones as many as it does */
    BLOCK_LABELS, /* on sheets of labels: a document that has them is drawn on paper as these alone */
    BLOCK_SPACE,  /* an empty line, dropped at the top of a page */
    BLOCK_PAGE    /* begin a new page, once half of this one is filled; on paper, before other hands' part: always */
};

/* A row of a table. In a head and a note the first cell stands in its column, the second runs across all others. */
enum row_kind {
    ROW_CELLS,
    ROW_HEAD, /* begins a group: on one page with the row after it */
    ROW_NOTE, /* about its group */
    ROW_RULE
};

enum { COLUMNS_MAX = FIELDS_MAX }; /* a list may show every field of a register */

struct column {
    const char *title;
    int width;  /* characters; 0: takes what the others leave (one per table) */
    bool right; /* numbers stand at the right edge */
};

/* What a chart is drawn with where it is text; on paper it is lines. */
enum chart_style { CHARTS_ASCII, CHARTS_UNICODE, CHARTS_PAPER };

/* One series in time and the band it should keep to. Drawn with marks, so colour carries nothing. */
struct plot_point {
    double x, y;
    char mark; /* o a test, + by another method, v below detection, x far off the line */
};

/* A line with its interval, over the tests or ahead of them; and what was done, at the foot of the chart. */
struct plot_span {
    double x, y, low, high;
};
struct plot_tick {
    double x;
    char mark; /* f fed, w water changed */
};

struct plot {
    const char *title, *first_label, *last_label; /* labels: of the ends of the x axis */
    double x_first, x_last;
    double band_low, band_high;
    int decimals;
    const struct plot_point *points;
    size_t n_points;
    const struct plot_span *line, *ahead; /* by x; ahead: from x_last on */
    size_t n_line, n_ahead;
    const struct plot_tick *ticks;
    size_t n_ticks;
    const char *ahead_label; /* of the end of what is ahead */
};

/* A sheet of labels: how many, how large, where the first begins, and from each to the next. */
struct label_sheet {
    const char *name, *paper; /* paper: a4, letter */
    int columns, rows;
    double width_mm, height_mm, left_mm, top_mm, step_x_mm, step_y_mm;
};

struct label {
    const char *title, *text, *code; /* code: for a camera */
};

struct label_page {
    const struct label *labels;
    size_t n;
    const struct label_sheet *sheet;
    size_t first;  /* labels of the first sheet that are gone already */
    bool outlined; /* with the labels' edges */
};

struct block {
    enum block_type type;
    bool keep;  /* on one page with the next block (a table: with its first row) */
    bool whole; /* a table that is not to be broken where a page can hold it; one with heads: none of its groups */
    bool part;  /* a page break before what goes to other hands: the pages before it are filled alike */
    bool drawn; /* a table whose last column is a drawing made of letters, each as wide as any other */
    const char *text, *mark;
    const struct column *columns; /* static or the arena's */
    size_t n_columns;
    const char **cells;   /* row by row; "" for none */
    unsigned char *kinds; /* enum row_kind, per row */
    size_t n_rows, room_rows;
    const struct plot *plots;
    size_t n_plots;
    bool small;
    const struct label_page *labels;
};

struct document {
    struct arena arena;       /* owns blocks and all texts that were made for them */
    const char *running_left; /* at the top of every page; the page count stands at its right */
    const char *code;         /* what a camera is to read on every page of paper; NULL: nothing */
    const char *day;          /* YYYY-MM-DD, the date of a file that is made of it; NULL: none */
    enum chart_style charts;
    int text_width; /* of what is no chart, at most; 0: as wide as the page */
    struct block *blocks;
    size_t n_blocks, room_blocks;
    struct block spare; /* written to once memory has run out */
    bool failed;        /* out of memory at some point; sticky, checked by whoever renders */
};

void document_free(struct document *d);

/* Where the time axis of a chart ends: behind what is ahead. */
double plot_x_end(const struct plot *p);

/* Of a table: the cells of a row; has it titles; has it heads? */
const char *const *block_row(const struct block *b, size_t row);
bool block_has_titles(const struct block *b);
bool block_has_groups(const struct block *b);
/* The row behind those that stay with this one: a head's notes and first row, or its group where the table is whole. */
size_t block_group_end(const struct block *b, size_t row);

/*
 * Texts are borrowed until the document is freed; document_format makes one in its arena (NULL never: "" on failure).
 */
const char *document_format(struct document *d, const char *fmt, ...) PRINTF_LIKE(2, 3);

/* ", EUR": the house's currency behind the words given; nothing where none is said. */
const char *money_in(const struct settings *s, const char *before, struct document *d);
const char *document_taken(struct document *d, struct text *t); /* what was built up in t, which is freed */
void document_heading(struct document *d, const char *text);
void document_text(struct document *d, const char *text);
void document_item(struct document *d, const char *mark, const char *text);
void document_space(struct document *d);
void document_page(struct document *d, bool part);
void document_table(struct document *d, const struct column *columns, size_t n_columns);
/* The next row of the last table: n_columns cells, an array that is copied (the texts are not). */
void document_row(struct document *d, const char *const *cells);
void document_row_head(struct document *d, const char *first, const char *text);
void document_row_note(struct document *d, const char *mark, const char *text);
void document_rule(struct document *d);
void document_box(struct document *d, const char *title); /* its items are rows of one cell */
/* Copied; their texts and points are not. small: an overview, without dates. */
void document_plots(struct document *d, const struct plot *plots, size_t n, bool small);
void document_labels(struct document *d, const struct label_page *page); /* copied; its labels and sheet are not */
void document_whole(struct document *d);                                 /* the last table, unbroken where it can be */
void document_drawn(struct document *d); /* the last table: its last column is a drawing */
void document_keep(struct document *d);  /* the last block with the one after it */

/*
 * Draws the document as text. width: characters, at least 40. page_lines: lines of a page, a form feed between pages
 * and the running line on each; 0: one endless page. Errors: ERR_MEMORY.
 */
bool render_text(const struct document *d, int width, int page_lines, struct text *out, struct err *e);

/*
 * The same as JSON (RFC 8259), to draw elsewhere. Members as in struct document; widths of columns in characters.
 * The names of the enums, and back; false: no such name. Errors: ERR_MEMORY.
 */
enum { DOCUMENT_SCHEMA = 1 };
bool document_json(const struct document *d, struct text *out, struct err *e);
bool block_type_parse(const char *name, enum block_type *type);
bool row_kind_parse(const char *name, enum row_kind *kind);

/* Columns that text takes on a terminal (wide and combining characters counted as the terminal does). */
int text_width(const char *s, size_t len);

/* ---- what is printed -------------------------------------------------------------------------------------------- */

/*
 * What of a round: all of it, the pots alone, one feeder's list, one tank's lines; a strip of all tanks by the clock.
 */
enum sheet_part { SHEET_ALL, SHEET_MIXING, SHEET_FEEDER, SHEET_TANK, SHEET_CLOCK };

/* How the sheet is wanted. Zero: all of it, metric, nothing done yet. */
struct sheet_request {
    enum sheet_part part;
    long feeder;                         /* SHEET_FEEDER: from 1 */
    size_t tank;                         /* SHEET_TANK */
    const struct round *before;          /* the round before: what it cautioned of is not new; NULL: there is none */
    bool us_units;                       /* tanks in US gallons, ways in feet; portions stay in mL and g */
    const bool *done;                    /* per line of the round, by its place: marked as done; NULL: none is */
    const bool *not_given;               /* of those that are done: logged as not given; NULL: none is */
    const struct round_changes *changes; /* what no longer holds; NULL: all does */
    const char *change_hint;             /* what to do about that */
    const char *const *left;             /* n_left sentences: switches that rounds before it left off */
    size_t n_left;
};

/*
 * The round sheet, for the clipboard: the round as a whole, then what is mixed, then a list for each feeder.
 *
 * Errors: ERR_INPUT: the round has nothing to do for that feeder, or at that tank.
 */
bool sheet_document(const struct facility *f, const struct round *r, const struct sheet_request *request,
                    struct document *d, struct err *e);

/* A sheet of labels by its name: 3x8, 3x7, 3x10. NULL: no such name. */
const struct label_sheet *label_sheet_find(const char *name);

/* How many labels are on one. */
size_t label_sheet_places(const struct label_sheet *s);

enum label_kind { LABEL_TANK, LABEL_COLONY, LABEL_RACK, LABEL_POT };

struct label_request {
    enum label_kind kind;
    const size_t *rows;       /* LABEL_TANK, LABEL_COLONY: n of the facility's */
    const char *const *names; /* LABEL_RACK: n; LABEL_POT: n, none for every pot */
    size_t n;
    const struct round *r; /* LABEL_POT */
    int day;
    bool us_units;
    const struct label_sheet *sheet;
    size_t first;
    bool outlined;
};

/* Labels for a label sheet. Errors: ERR_MEMORY. */
bool labels_document(const struct facility *f, const struct label_request *q, struct document *d, struct err *e);

/* The weekly report. us_units: volumes in US gallons; levels, foods and effects stay in mg/L, g and mL. */
bool report_document(const struct facility *f, const struct trend_report *r, const struct log_week *week, bool us_units,
                     enum chart_style charts, struct document *d, struct err *e);
void report_json(const struct facility *f, const struct trend_report *r, const struct log_week *week, struct text *out);

/* The state of a round's log. stops: of log_long_stops. */
void log_document(const struct facility *f, const struct round *r, const struct round_log *log,
                  const struct log_figures *g, const struct log_faults *faults, struct document *d);
void log_json(const struct facility *f, const struct round *r, const struct round_log *log, const struct log_figures *g,
              struct text *out);

/* What the desk calculator answers. Errors: ERR_MEMORY. */
bool calc_text(const struct calc *k, struct text *out, struct err *e);
void calc_json(const struct calc *k, struct text *out);

/* The look ahead. */
bool ahead_document(const struct facility *f, const struct ahead *a, struct document *d, struct err *e);
void ahead_json(const struct facility *f, const struct ahead *a, struct text *out);

/* The portions of a pot that came out larger or smaller. */
void made_document(const struct facility *f, const struct round *r, const struct rescaled *m, struct document *d);

/* A page for a tank at home: f and r of home_plan. Errors: ERR_MEMORY. */
bool card_document(const struct facility *f, const struct round *r, const struct home *h, struct document *d,
                   struct err *e);

/* The working behind one thing on the sheet. */
void why_document(const struct explanation *x, bool us_units, struct document *d);

/* The plan beside the house blend, and what is another than in the round before (NULL: none). */
void compare_document(const struct facility *f, const struct plan_comparison *c, const struct round_head *before,
                      struct document *d);

/* Litres as the house reads them: "410 L" or "108 gal". */
const char *volume_words(struct document *d, double litres, bool us_units);

/* ---- JSON (RFC 8259), for what a command prints as data ---------------------------------------------------------- */

enum { JSON_DEPTH_MAX = 8, JSON_PRINT_SCHEMA = 1 };

/* A document being written: begin with only out set. key: NULL within a list. Out of memory shows in out->failed. */
struct json_text {
    struct text *out;
    int depth;
    bool more; /* a value stands before the next one */
    char closing[JSON_DEPTH_MAX];
};

void json_open(struct json_text *j, const char *key, char bracket); /* '{' or '[' */
void json_close(struct json_text *j);
void json_text_member(struct json_text *j, const char *key, const char *s);
void json_number_member(struct json_text *j, const char *key, double v); /* shortest exact; null where not finite */
void json_flag_member(struct json_text *j, const char *key, bool v);
void json_day_member(struct json_text *j, const char *key, int day); /* null for DAY_NONE */

void why_json(const struct explanation *x, struct json_text *j); /* one object, within a list */
void compare_json(const struct facility *f, const struct plan_comparison *c, const struct round_head *before,
                  struct json_text *j); /* members of the open object */

#endif
