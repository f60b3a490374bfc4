/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * exchange: registers as files. CSV (RFC 4180, by libcsv) and JSON (RFC 8259, by cJSON), in and out; a round as
 * iCalendar, out.
 *
 * Reading turns bytes into rows of cells and hands each to a sink; it goes on after a fault and reports every one of
 * them, each as "file:line:column: what is wrong; what is expected". It opens no file and knows no store.
 */
#ifndef NEAP_EXCHANGE_H
#define NEAP_EXCHANGE_H

#include "neap/label.h"

/* The most that is read of one field, one file's nesting, and one header: beyond is a fault, not a crash. */
enum { EXCHANGE_FIELD_BYTES_MAX = 4096, EXCHANGE_NESTING_MAX = 8 };

struct round; /* of plan.h */

/*
 * How a CSV is written. What is 0 or UNKNOWN is recognised, so that a spreadsheet's file is read as it is; what cannot
 * be told for sure is a fault that asks. Headings that are called otherwise than the fields are named as aliases; a
 * field that is "" leaves its column out.
 */
enum exchange_encoding { ENCODING_UNKNOWN, ENCODING_UTF_8, ENCODING_UTF_16, ENCODING_WINDOWS_1252 };
struct heading_alias {
    const char *own, *field;
};
struct csv_form {
    char separator, decimal; /* one of , ; tab; one of , . */
    enum exchange_encoding encoding;
    enum day_order dates;
    const struct heading_alias *aliases; /* borrowed */
    size_t n_aliases;
};

/*
 * One file: its bytes; or, of one that is too large to be held, who fetches them (bytes is NULL then). name is what
 * faults are prefixed with; its stem names the register of a CSV ("tank.csv"). form: NULL where all is to be recognised.
 * later_d: days added to each day and moment in it, for data whose days count from one that the caller knows.
 *
 * fetch: the n bytes from at on, the same whenever they are asked for, which is more than once, and never past len;
 * false ends the reading with its *e. At most room of them (5 or more) are asked for and held at a time, but all at
 * once of a file that is JSON or no UTF-8.
 */
struct source {
    const char *name;
    const char *bytes;
    size_t len;
    bool (*fetch)(void *context, size_t at, size_t n, char *into, struct err *e);
    void *context;
    size_t room;
    const struct csv_form *form;
    int later_d;
};

/*
 * One row as read. present: the file has this column (an absent one leaves a stored row's value alone); a JSON null is
 * present and empty. Required key fields are never empty. Texts are borrowed, valid until put returns.
 */
struct exchange_row {
    const struct reg *reg;
    struct cell cells[FIELDS_MAX];
    bool present[FIELDS_MAX];
    struct place places[FIELDS_MAX]; /* of each present cell; of the row where absent */
    struct place at;                 /* of the row */
    struct food_label label; /* what a pack prints, of a CSV: the field it fills has its place and is not present yet */
};

/*
 * Takes a row. On a fault: false, *e says what is wrong without a place, *field is the one to blame (SIZE_MAX: the row,
 * which it also is before the call). A text that begins with "is " or "has ", as those of cell_parse and row_fill do,
 * gets the field's name put before it; any other stands as it is.
 * ERR_INPUT and ERR_NOT_FOUND are collected and reading goes on; ERR_NONE refuses the row without a word, for a fault
 * that was told before; any other code ends it.
 *
 * refused: told of every row that does not stand, after its faults; a cell at fault may be empty. May be NULL.
 * false (ERR_MEMORY) ends the reading.
 */
struct exchange_sink {
    bool (*put)(void *context, const struct exchange_row *row, size_t *field, struct err *e);
    void *context;
    bool (*refused)(void *context, const struct exchange_row *row, struct err *e);
};

/*
 * Every fault found, as lines ready to print, each ended by LF; shown at most FAULTS_SHOWN_MAX, counted all. notes: a
 * line for each file that was recognised to be written otherwise than ours: "tank.csv: read with semicolons, decimal
 * commas".
 */
enum { FAULTS_SHOWN_MAX = 50 };
struct faults {
    struct text lines, notes;
    size_t n;
};

void faults_free(struct faults *f);

/*
 * A heading or JSON key may be a number field's name with another unit at its end: where the name ends in base, it may
 * end in suffix instead, and to_base converts (net_volume_usgal for net_volume_l). Rates ("_per_") and concentrations
 * ("_mg_l") have no other unit.
 */
struct exchange_unit {
    const char *suffix, *base; /* with their "_" */
    double (*to_base)(double);
};

const struct exchange_unit *exchange_units(size_t *n); /* borrowed, static */
bool exchange_unit_fits(const struct exchange_unit *u, const struct field *f);

/*
 * Reads one source into the sink. as: the register of a CSV whose name does not say (NULL: by the file's stem, singular
 * or plural). A source that begins with { or is named .json is JSON.
 *
 *   *n_rows    rows found, right or wrong
 *
 * Either: UTF-8, a byte order mark allowed. A file in no known encoding or with a NUL byte is refused as a whole. Lines
 * are counted from 1; a column is the count, from 1, of characters (not bytes) up to where the cell, key or value
 * begins.
 *
 * CSV: in UTF-8, UTF-16 or Windows-1252; separated by commas, semicolons or tabs; with a decimal point or comma, days
 * as day_read takes them, numbers as cell_read does (form). First line the headings, any order, in any case, words
 * apart or not ("Net volume (US gal)"); LF, CRLF or CR; empty lines, rows and columns skipped; blanks around an
 * unquoted cell dropped. Unknown, doubled and missing key headings, rows with a cell too few or too many, stray quotes,
 * numbers and days that can be read in two ways, and whatever cell_read refuses are faults. A CSV of foods or lots may
 * have what a pack's label prints in place of the fields it stands for (label.h): it is handed on as typed, for the row
 * as it is stored may tell the density it is reckoned by. A CSV of tests may have a heading unit: its cells say what
 * the value of their row is in, in the
 * words of measured_parse, and the row put has the analyte's own. After a quoted cell that passes
 * EXCHANGE_FIELD_BYTES_MAX reading of the file ends, for its closing quote is most likely missing. Rows come in file
 * order.
 *
 * JSON: {"schema": 1, "tank": [{…}, …], …}. A number field is a JSON number, a flag true or false (or "yes", "no"), all
 * else a string; null is an empty cell. Unknown and doubled registers and keys, wrong types, and whatever cell_parse
 * refuses are faults. Rows come register by register in the order of the table, whatever the file's, so that a row
 * comes after those it points to; within a register in file order. Memory: one row at a time.
 *
 * Errors: false only where reading had to end (ERR_MEMORY, or what the sink or fetch returned); faults are no error
 * here.
 */
bool exchange_read(const struct source *src, const struct reg *as, const struct exchange_sink *sink,
                   struct faults *faults, size_t *n_rows, struct err *e);

/* Which register a file name stands for, or NULL: "data/tanks.csv" and "tank.csv" are REG_TANK. */
const struct reg *exchange_reg_of(const char *file_name);

/*
 * A heading line and one line per row, LF ends; a field is quoted where it must be. Free text that a spreadsheet would
 * run (behind blanks and apostrophes one of = + - @) gets an apostrophe in front, which reading takes away again. Cells
 * in the register's order. form: separator and decimal mark; NULL, and what is 0 in it, is a comma and a point. Out of
 * memory shows in out->failed.
 */
void csv_write_head(const struct reg *r, const struct csv_form *form, struct text *out);
void csv_write_row(const struct reg *r, const struct cell *cells, const struct csv_form *form, struct text *out);
void csv_write_cell(const char *s, struct text *out); /* one cell of a table that is no register */

/*
 * The JSON document of a dump: new, any number of rows grouped by register, text. A line per row, keys in the
 * register's order, an empty cell as null: same cells, same bytes.
 *
 * Errors: ERR_MEMORY; ERR_MISUSE for a row of a register that was left for another one before.
 */
struct json_dump;
struct json_dump *json_dump_new(struct err *e); /* caller frees with json_dump_free */
bool json_dump_row(struct json_dump *d, const struct reg *r, const struct cell *cells, struct err *e);
bool json_dump_text(const struct json_dump *d, struct text *out, struct err *e);

/* The JSON Schema (draft 2020-12) of such documents, from the field table. Out of memory shows in out->failed. */
void json_schema_text(struct text *out);
void json_dump_free(struct json_dump *d);

/*
 * A kept round as an iCalendar object (RFC 5545): an event for the round, and one for each flow to turn back on, which
 * ends at the minute that must not be passed and has an alarm at its start. Times are local and float; CRLF ends each
 * line. An event's UID is that of its line in every revision, its SEQUENCE the revision less one. Out of memory shows
 * in out->failed.
 *
 *   stamp_utc   moment of writing, in UTC
 */
void ical_write(const struct facility *f, const struct round *r, long stamp_utc, struct text *out);

#endif
