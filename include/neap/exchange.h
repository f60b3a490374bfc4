/*
 * exchange: registers as files. CSV (RFC 4180, by libcsv) and JSON (RFC 8259, by cJSON), in and out.
 *
 * Reading turns bytes into rows of cells and hands each to a sink; it goes on after a fault and reports every one of
 * them, each as "file:line:column: what is wrong; what is expected". It opens no file and knows no store.
 */
#ifndef NEAP_EXCHANGE_H
#define NEAP_EXCHANGE_H

#include "neap/facility.h"

/* The most that is read of one field, one file's nesting, and one header: beyond is a fault, not a crash. */
enum { EXCHANGE_FIELD_BYTES_MAX = 4096, EXCHANGE_NESTING_MAX = 8 };

/* One file in memory. name is what faults are prefixed with; its stem names the register of a CSV ("tank.csv"). */
struct source {
    const char *name;
    const char *bytes;
    size_t len;
};

/* One row as read. present: the file has this column (an absent one leaves a stored row's value alone). */
struct exchange_row {
    const struct reg *reg;
    struct cell cells[FIELDS_MAX];
    bool present[FIELDS_MAX];
    struct place places[FIELDS_MAX];      /* of each present cell; of the row where absent */
    struct place at;                      /* of the row */
};

/*
 * Takes a row. On a fault: false, *e says what is wrong without a place, *field is the one to blame (SIZE_MAX: the row).
 * ERR_INPUT and ERR_NOT_FOUND are collected and reading goes on; any other code ends it.
 */
struct exchange_sink {
    bool (*put)(void *context, const struct exchange_row *row, size_t *field, struct err *e);
    void *context;
};

/* Every fault found, in file order, as lines ready to print; shown at most FAULTS_SHOWN_MAX, counted all. */
enum { FAULTS_SHOWN_MAX = 50 };
struct faults {
    struct text lines;
    size_t n;
};

void faults_free(struct faults *f);

/*
 * Reads one source into the sink. as: the register of a CSV whose name does not say (NULL: by the file's stem, singular
 * or plural). A source that begins with { or is named .json is JSON: {"schema": 1, "tank": [{…}, …], …}.
 *
 *   *n_rows    rows found, right or wrong
 *
 * CSV: first line the headings, any order; a heading is a field's name, or the name with another unit at its end
 * (net_volume_usgal for net_volume_l, length_in for length_cm …; exchange_units lists them). UTF-8, a byte order mark
 * allowed; LF or CRLF. Unknown, doubled and missing required headings, rows with a cell too few or too many, NUL bytes,
 * and whatever cell_parse refuses are faults.
 *
 * Errors: false only where reading had to end (ERR_MEMORY, or what the sink returned); faults are no error here.
 */
bool exchange_read(const struct source *src, const struct reg *as, const struct exchange_sink *sink, struct faults *faults,
                   size_t *n_rows, struct err *e);

/* Which register a file name stands for, or NULL: "data/tanks.csv" and "tank.csv" are REG_TANK. */
const struct reg *exchange_reg_of(const char *file_name);

/* A heading line and one line per row, LF ends; a field is quoted where it must be. Cells in the register's order. */
void csv_write_head(const struct reg *r, struct text *out);
void csv_write_row(const struct reg *r, const struct cell *cells, struct text *out);

/* The JSON document of a dump: begin, any number of rows grouped by register, end. Same cells, same bytes. */
struct json_dump;
struct json_dump *json_dump_new(struct err *e);                            /* caller frees with json_dump_free */
bool json_dump_row(struct json_dump *d, const struct reg *r, const struct cell *cells, struct err *e);
bool json_dump_text(const struct json_dump *d, struct text *out, struct err *e);
void json_dump_free(struct json_dump *d);

#endif
