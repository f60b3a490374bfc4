/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a command line names registers, rows and fields. */
#ifndef NEAP_NAMING_H
#define NEAP_NAMING_H

#include "neap/store.h"

/* "tank" or "tanks". Errors: ERR_MISUSE, offering the nearest. */
const struct reg *register_named(const char *word, struct err *e);

/* register_named, and its rows are typed by hand: not a ledger, not part of a kept plan. */
const struct reg *register_typed(const char *word, struct err *e);

size_t register_n_keys(const struct reg *r); /* its first fields */

/* Index of the field, or SIZE_MAX and ERR_MISUSE with the nearest. */
size_t field_named(const struct reg *r, const char *word, struct err *e);

/* Says that no row of the register has this name, and which is near. Returns false with ERR_NOT_FOUND. */
bool row_unknown(const struct facility *f, enum reg_id id, const char *name, struct err *e);

/* "tank "north rack"", "band north no3": the row that a message speaks of. */
void row_words(const struct reg *r, const struct cell *cells, struct text *out);

/* A cell as messages show it: "(empty)" where it is. */
void value_words(const struct field *f, const struct cell *c, struct text *out);

/* "  water_cm: 40 -> 41.5", a line for each cell that differs. */
void changes_words(const struct reg *r, const struct cell *before, const struct cell *after, struct text *out);

/*
 * The key cells of a row from the first arguments, at least register_n_keys(r) of them. Errors: ERR_INPUT, ERR_MEMORY.
 */
bool key_read(const struct reg *r, const char *const *args, struct cell *cells, struct arena *a, struct err *e);

/*
 * A field's value as typed. A number may carry a unit where the field's name ends in one: water_cm=16in,
 * displacement_frac=20%. Errors: ERR_INPUT, the field's name in front; ERR_MEMORY.
 */
bool value_read(const struct field *f, const char *text, struct arena *a, struct cell *c, struct err *e);

/* Puts the name of the field at fault in front of a message of the store that has none. Returns false. */
bool blame_field(const struct reg *r, size_t field, struct err *e);

#endif
