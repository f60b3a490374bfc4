/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What commands entered since files said it last: the values that a file loaded again knows nothing of. */
#ifndef NEAP_ENTERED_H
#define NEAP_ENTERED_H

#include "neap/store.h"

/* Values changed by a command that is no load, later than by any load; those that an undo took back are none. */
struct entered {
    struct name_set values; /* by register, key and field */
    struct arena arena;
    size_t n_damaged; /* entries of the journal that cannot be read: what they entered is not known */
};

/* Reads the journal. Zero-initialise *en; caller frees with entered_free. Errors: as store_each_change. */
bool entered_read(struct store *s, struct entered *en, struct err *e);
void entered_free(struct entered *en);

/*
 * The entry that made this value what it is, or NULL where a file did; borrowed. cells: the row's, of which the key is
 * looked at. Errors: ERR_MEMORY.
 */
bool entered_by(const struct entered *en, const struct reg *r, const struct cell *cells, size_t field,
                const struct entry **entry, struct err *e);

#endif
