/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * readings: of the water, as they are typed or listed: what each means, whether it is hard to believe beside those
 * before it, and by which method it was read.
 */
#ifndef NEAP_READINGS_H
#define NEAP_READINGS_H

#include "neap/store.h"

/* ---- what was read before ---------------------------------------------------------------------------------------- */

struct known_reading {
    struct past_reading past;
    long repeat;
    bool flagged; /* was a jump itself when it came */
};

/* Per system and analyte the readings in order of time, those of this run with them. */
struct history {
    struct known_list {
        struct known_reading *rows;
        size_t n, room;
    } * lists;
    size_t n_lists;
};

bool history_begin(struct history *h, const struct facility *f, struct err *e); /* caller frees with history_free */
bool history_add(struct history *h, size_t system, int analyte, const struct known_reading *row, struct err *e);
void history_free(struct history *h);

/*
 * Is it a jump against the latest one before it? Where that one was flagged itself, it is enough to be near it or near
 * the one before: one slip does not cast doubt on what follows, and a true jump is believed when it is read again. A
 * reading that is stored already as it stands was judged when it came.
 */
bool history_jump(const struct history *h, size_t system, const struct measured *r, long taken, long repeat,
                  struct past_reading *last);

/* "far from 8.5 on 2026-11-20" */
void jump_words(const struct past_reading *last, struct text *out);

/* ---- what was typed ---------------------------------------------------------------------------------------------- */

struct typed_reading {
    size_t system;
    struct measured reading;
    const char *text;   /* the value as typed */
    const char *method; /* borrowed from the command line or the facility */
    long repeat;
    bool flagged, confirmed;
    struct past_reading last; /* where flagged or confirmed */
};

struct typed_list {
    struct arena arena;         /* of the words */
    struct typed_reading *rows; /* from malloc */
    size_t n, room;
    struct gravity_scale scale;
};

void typed_free(struct typed_list *list);

/*
 * SYSTEM ANALYTE=VALUE … [SYSTEM …] as arguments. ERR_MISUSE, ERR_NOT_FOUND (a name), ERR_INPUT (an implausible value).
 */
bool typed_words(struct typed_list *list, const struct facility *f, const char *const *words, size_t n, struct err *e);

/* The same, a line for each system, as text: every fault as name:line:column. */
bool typed_lines(struct typed_list *list, const struct facility *f, const char *name, const char *bytes, size_t len,
                 struct err *e);

/* A named system that is in use; else an error that offers the nearest. */
bool system_named(const struct facility *f, const char *name, size_t *system, struct err *e);

/*
 * By which method each was read, and so which of the minute's readings it is. given: NAME or ANALYTE=NAME, each; else
 * that of the reading which is stored for that minute, else the one in use. ERR_MISUSE where one name would change the
 * method of some of the line's analytes and is the usual one of others.
 */
bool methods_assign(const char *const *given, size_t n_given, const struct facility *f, struct typed_list *list,
                    long taken, struct err *e);

/*
 * Tells what the readings put into the open transaction mean for the method in use: a change, or a cross-check beside
 * it.
 */
bool methods_told(struct store *s, const struct facility *before, long now_min, struct text *notes, struct err *e);

#endif
