/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Files in and out, how a command says that its CSV is written, and the end of an entry that counts rows. */
#ifndef NEAP_CLI_FILES_H
#define NEAP_CLI_FILES_H

#include "cli.h"

#include "neap/loading.h"

/*
 * Ends what store_begin began: kept as one journal entry, or dropped where ok is false or --dry-run is given. Then says
 * what was counted. Passes a failure on.
 */
bool entry_end(struct context *c, struct store *s, bool ok, const struct load_counts *counts, struct err *e);

/*
 * How the CSV files of a command are written, where that is not to be recognised: a row each for the command's options,
 * and what was given of them. *aliases: the arena's. Errors: ERR_MISUSE, ERR_MEMORY.
 */
#define OPTION_CSV_SEP                                                                                                 \
    {                                                                                                                  \
        "sep", OPT_TEXT, "MARK", .help = "between cells: comma, semicolon or tab"                                      \
    }
#define OPTION_CSV_DECIMAL                                                                                             \
    {                                                                                                                  \
        "decimal", OPT_TEXT, "MARK", .help = "in numbers: point or comma"                                              \
    }
#define OPTIONS_CSV_FORM                                                                                               \
    {"map", OPT_TEXT, "OWN=FIELD", .repeats = true, .help = "a heading of your own; OWN= leaves it out"},              \
        OPTION_CSV_SEP, OPTION_CSV_DECIMAL, {"dates", OPT_TEXT, "ORDER", .help = "of 3/4/2026: dmy or mdy"},           \
    {                                                                                                                  \
        "encoding", OPT_TEXT, "NAME", .help = "utf-8, utf-16 or windows-1252"                                          \
    }
bool csv_form_given(const struct context *c, struct csv_form *form, struct arena *a, struct err *e);

/*
 * A whole file in memory, with a 0 behind it; caller frees *bytes with free. Errors: ERR_IO, ERR_INPUT (larger than
 * FILE_BYTES_MAX).
 */
#define FILE_BYTES_MAX (512L * 1024 * 1024)
bool file_read(const char *path, char **bytes, size_t *len, struct err *e);

/*
 * A file as a source of that name: held where it is small or no plain file, else fetched while it is read, so that what
 * is held does not grow with it. name, form: borrowed. Caller ends it with source_close.
 *
 * Errors: as file_read; and, of a large one while it is read, ERR_IO where it is not as it was when it was opened.
 */
bool source_open(const char *name, const struct csv_form *form, struct source *source, struct err *e);
void source_close(struct source *source);

/*
 * Reads the rows of a source into the sink, as exchange_read. What the reader noted and what is wrong are told in the
 * notes. Errors: those of exchange_read; ERR_INPUT: there are faults, and the caller keeps nothing.
 */
bool source_rows(struct context *c, const struct source *source, const struct reg *as, const struct exchange_sink *sink,
                 size_t *n_rows, struct err *e);

/*
 * Writes a file whole or not at all: to a name beside it that is renamed when it is on the disk. An existing file is
 * replaced. Errors: ERR_IO.
 */
bool file_write(const char *path, const char *bytes, size_t len, struct err *e);

#endif
