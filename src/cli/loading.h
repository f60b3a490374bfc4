#ifndef NEAP_CLI_LOADING_H
#define NEAP_CLI_LOADING_H

#include "cli.h"

#include "entered.h"

#include "neap/exchange.h"

struct load_counts {
    size_t read, added, changed, same, refused;
    size_t followed; /* of the refused: only because a row they point to was refused before */
};

const char *put_words(enum put outcome); /* "changed"; static */

/*
 * What a load is to do about values that were entered since the files said them last (entered.h), and what it says. Such
 * a value that the file has otherwise is a line of set_back: that it is set back, or, in mode ENTERED_KEEP, that it stays.
 */
enum entered_mode { ENTERED_SET_BACK, ENTERED_KEEP };
enum { CHANGES_LISTED_MAX = 500 };
struct load_watch {
    enum entered_mode mode;
    bool list; /* fill changes */
    struct text set_back, changes;
    size_t n_set_back, n_changes; /* lines; rows, of which at most CHANGES_LISTED_MAX are listed */
    struct entered entered;
    bool entered_known;
};
void load_watch_free(struct load_watch *w);

/*
 * Puts the rows of all sources into the store, those of a register before those that point to it. Faults are collected;
 * the caller keeps the transaction only where there are none. A row that points to one refused in the same load is
 * refused too, without a fault of its own. Within store_begin and store_commit.
 * as: the register of every CSV source; NULL: by its name. watch: NULL in a store where nothing was entered yet.
 */
bool load_sources(struct store *s, const struct source *sources, size_t n, const struct reg *as, struct faults *faults,
                  struct load_counts *counts, struct load_watch *watch, struct err *e);

/* "read 12, new 10, changed 1, same 1, refused 0" */
void load_counts_words(const struct load_counts *c, struct text *out);

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

/* A whole file in memory; caller frees *bytes with free. Errors: ERR_IO, ERR_INPUT (larger than FILE_BYTES_MAX). */
#define FILE_BYTES_MAX (512L * 1024 * 1024)
bool file_read(const char *path, char **bytes, size_t *len, struct err *e);

/*
 * Writes a file whole or not at all: to a name beside it that is renamed when it is on the disk. An existing file is
 * replaced. Errors: ERR_IO.
 */
bool file_write(const char *path, const char *bytes, size_t len, struct err *e);

#endif
