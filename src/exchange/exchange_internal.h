/* What the readers of CSV and JSON share. Not for other floors. */
#ifndef NEAP_EXCHANGE_INTERNAL_H
#define NEAP_EXCHANGE_INTERNAL_H

#include "neap/exchange.h"

enum { JSON_SCHEMA = 1 };

/* One call of exchange_read. bytes are past the byte order mark, valid UTF-8 without NUL. */
struct reading {
    const char *file;
    const char *bytes;
    size_t len;
    const struct exchange_sink *sink;
    struct faults *faults;
    size_t *n_rows;
    struct err *e;      /* set once ended */
    bool ended;         /* out of memory, or the sink's word: nothing more is read */
    struct arena arena; /* of the cells of the latest rows */
    size_t rows_in_arena;
    struct exchange_row row; /* being read */
    bool row_faulty;         /* it has a fault, so that it is not put */
};

/* Where the next byte stands. */
struct cursor {
    size_t at;
    long line, column;
};

/* What a heading or key stands for. */
struct column {
    size_t field;                     /* SIZE_MAX: unknown */
    const struct exchange_unit *unit; /* NULL: the field's own */
};

struct place cursor_place(const struct reading *r, const struct cursor *c);
void cursor_step(const struct reading *r, struct cursor *c); /* over one byte; c->at < r->len */

/* Counts a fault and keeps its line while there are few. Ends the reading when out of memory. */
void fault_add(struct reading *r, struct place at, const char *fmt, ...) PRINTF_LIKE(3, 4);
void reading_end_memory(struct reading *r);

/* hint: the field that likely comes next, tried first. */
struct column column_find(const struct reg *reg, const char *name, size_t hint);
void fault_add_unknown_column(struct reading *r, struct place at, const struct reg *reg, const char *name,
                              const char *what);

/* A row: begin, take each cell once, end (which puts it, unless it has a fault). */
void row_begin(struct reading *r, const struct reg *reg, struct place at);
void row_take(struct reading *r, const struct column *col, struct place at, const char *name, const char *text);
void row_end(struct reading *r);

/* name: a bare register word as a file or a key has it. */
const char *register_nearest(const char *name);

/* Would a spreadsheet run this text, once the apostrophes and blanks before it are taken away? */
bool looks_like_formula(const char *text);

void csv_read(struct reading *r, const struct reg *reg);
void json_read(struct reading *r);

#endif
