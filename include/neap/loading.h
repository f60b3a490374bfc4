/* SPDX-License-Identifier: GPL-3.0-or-later */
/* loading: rows of files put into the store, with what became of each. */
#ifndef NEAP_LOADING_H
#define NEAP_LOADING_H

#include "neap/store.h"

#include "neap/entered.h"

#include "neap/exchange.h"

struct load_counts {
    size_t read, added, changed, same, refused;
    size_t followed; /* of the refused: only because a row they point to was refused before */
};

const char *put_words(enum put outcome); /* "changed"; static */

/* Counts what became of a row that was read. */
void load_counts_add(struct load_counts *c, enum put outcome);

/*
 * What a load is to do about values that were entered since the files said them last (entered.h), and what it says.
 * Such a value that the file has otherwise is a line of set_back: that it is set back, or, in mode ENTERED_KEEP, that
 * it stays.
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

#endif
