/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files of `why` share: an explanation being written. Stays inside the floor. */
#ifndef NEAP_WHY_WHY_H
#define NEAP_WHY_WHY_H

#include "neap/why.h"
#include "neap/working.h"

/*
 * failed: out of memory at some point; sticky, checked once at the end. Texts given are borrowed until the round is
 * freed.
 */
struct why {
    const struct working *w;
    const struct round *r;
    struct arena *a;
    struct explanation *x;
    bool failed;
};

const char *why_format(struct why *y, const char *fmt, ...) PRINTF_LIKE(2, 3); /* "" on failure */
const char *why_number_words(struct why *y, double v, const char *unit);       /* "0.4 g", about five digits */

void why_step(struct why *y, const char *title, const char *formula);
void why_number(struct why *y, const char *what, double value, const char *unit, const char *origin);
void why_words(struct why *y, const char *what, const char *words, const char *origin);
void why_clock(struct why *y, const char *what, int minute, const char *origin);
void why_result(struct why *y, const char *what, double value, const char *unit);
void why_verdict(struct why *y, const char *what, const char *words); /* a result in words */
void why_note(struct why *y, const char *words);
void why_answer(struct why *y, double answer, const char *unit, const char *says);

/* Origins: where a number comes from, in words. That of a kind or food also lists its source. */
const char *origin_setting(struct why *y, const char *name);
const char *origin_kind(struct why *y, size_t kind);
const char *origin_food(struct why *y, size_t food);
const char *origin_tank(struct why *y, size_t tank);
const char *origin_colony(struct why *y, size_t colony);

/* Sentences on the limits that hold the recipe back, each with its price in plain words. REF_NONE: about any. */
struct limits_about {
    size_t pot, tank, system, food;
};
bool why_limits(struct why *y, const struct limits_about *about, struct err *e);

/* Σ dose ÷ ceiling of a water, food by food. */
void why_load(struct why *y, size_t system);

/* One subject each; false: ERR_MEMORY or what a further solution met. */
bool why_line(struct why *y, const struct line *l, struct err *e);
bool why_pot(struct why *y, size_t pot, struct err *e);
bool why_system(struct why *y, size_t system, struct err *e);
bool why_tank(struct why *y, size_t tank, struct err *e);
bool why_colony(struct why *y, size_t colony, struct err *e);
void why_switch(struct why *y, size_t switching);
void why_head(struct why *y);
void why_totals(struct why *y);

#endif
