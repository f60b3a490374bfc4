/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the readers of CSV and JSON share. Not for other floors. */
#ifndef NEAP_EXCHANGE_INTERNAL_H
#define NEAP_EXCHANGE_INTERNAL_H

#include "neap/exchange.h"

enum { JSON_SCHEMA = 1 };

/* One call of exchange_read. bytes are past the byte order mark, valid UTF-8 without NUL. */
struct file_reading {
    const char *file;
    const char *bytes; /* NULL: they are read through the window, by byte_at and bytes_at */
    size_t len;
    const struct source *source;
    size_t mark;  /* how long the byte order mark is before the bytes that are fetched */
    char *window; /* the bytes from window_at on */
    size_t window_at, n_window;
    char *whole;          /* fetched at once */
    struct csv_form form; /* as given; what was UNKNOWN becomes what was recognised */
    int later_d;          /* days added to each day and moment */
    struct text decoded;  /* what bytes are of, where the file is not UTF-8 */
    struct text note;     /* what was recognised, parted by commas */
    const struct exchange_sink *sink;
    struct faults *faults;
    size_t *n_rows;
    struct err *e;      /* set once ended */
    bool ended;         /* out of memory, or the sink's word: nothing more is read */
    struct arena arena; /* of the cells of the latest rows */
    size_t rows_in_arena;
    struct exchange_row row; /* being read */
    bool row_faulty;         /* it has a fault, so that it is not put */
    bool fields_listed;      /* a fault has listed the headings there are */
};

/* Where the next byte stands. */
struct cursor {
    size_t at;
    long line, column;
};

/* What a heading or key stands for. */
struct heading {
    size_t field;                     /* SIZE_MAX: unknown */
    const struct exchange_unit *unit; /* NULL: the field's own */
    bool printed;                     /* what a label prints, of which field is the one it fills */
    enum label_word label;
};

/*
 * The bytes of a file, whether it is held or fetched. Where fetching fails, r has ended, its len is 0, and what is read
 * is NUL.
 */
char window_byte(struct file_reading *r, size_t at); /* after moving the window there */
static inline char byte_at(struct file_reading *r, size_t at)
{
    if (r->bytes)
        return r->bytes[at];
    return at - r->window_at < r->n_window ? r->window[at - r->window_at] : window_byte(r, at);
}

/* No NUL, which strchr would find at the end of any list. */
static inline bool is_blank(char byte)
{
    return byte == ' ' || byte == '\t' || byte == '\r' || byte == '\n';
}

/* As many as are there in a row, at least one; borrowed until the next call of either. NULL: r has ended. */
const char *bytes_at(struct file_reading *r, size_t at, size_t *n);

/* Decides whether they need be held at once, and fetches them then. false: r has ended. */
bool bytes_open(struct file_reading *r, bool json);

struct place cursor_place(const struct file_reading *r, const struct cursor *c);
void cursor_step(struct file_reading *r, struct cursor *c); /* over one byte; c->at < r->len */

/* Counts a fault and keeps its line while there are few. Ends the reading when out of memory. */
void fault_add(struct file_reading *r, struct place at, const char *fmt, ...) PRINTF_LIKE(3, 4);
void reading_end_memory(struct file_reading *r);

/* Adds to what was recognised of the file's form. */
void note_form(struct file_reading *r, const char *what);

/*
 * Makes r's bytes valid UTF-8 without NUL and without a byte order mark. false: a fault says why not, or r has ended.
 */
bool encoding_read(struct file_reading *r);

/*
 * Separator, decimal mark and order of dates: what the form leaves open is told from the headings and cells, if it can
 * be.
 */
void form_recognise(struct file_reading *r, const struct reg *reg);

/* A cell of a spreadsheet in our own spelling: *plain is text or the arena's. false: *e asks what is meant. */
bool form_plain(const struct csv_form *form, const struct field *f, const char *text, struct arena *a,
                const char **plain, struct err *e);

/* The same for what a label prints, "min. 8,5 %": a mark between digits is a number's, one beside letters is not. */
bool form_plain_label(const struct csv_form *form, const char *text, struct arena *a, const char **plain,
                      struct err *e);

/*
 * column_find for a heading: an alias, or the field's name in any case and with blanks or signs between its words; or a
 * word of a pack's label.
 */
struct heading heading_find(const struct csv_form *form, const struct reg *reg, const char *heading, size_t hint,
                            bool *left_out);

/* Where the rows begin: behind a first line such as "sep=;". */
size_t form_first_line(struct file_reading *r);

/* A field's name with another unit at its end, the arena's; NULL: it has no such, or memory is out. */
const char *column_name(const struct field *f, const struct exchange_unit *u, struct arena *a);

/* hint: the field that likely comes next, tried first. */
struct heading column_find(const struct reg *reg, const char *name, size_t hint);
void fault_add_unknown_column(struct file_reading *r, struct place at, const struct reg *reg, const char *name,
                              const char *what);

/* A row: begin, take each cell once, end (which puts it, unless it has a fault). */
void row_begin(struct file_reading *r, const struct reg *reg, struct place at);
void row_take(struct file_reading *r, const struct heading *col, struct place at, const char *name, const char *text);
void row_take_label(struct file_reading *r, enum label_word word, struct place at, const char *text);
void row_end(struct file_reading *r);

/* name: a bare register word as a file or a key has it. */
const char *register_nearest(const char *name);

/* Would a spreadsheet run this text, once the apostrophes and blanks before it are taken away? */
bool looks_like_formula(const char *text);

void csv_read(struct file_reading *r, const struct reg *reg);
void json_read(struct file_reading *r);

#endif
