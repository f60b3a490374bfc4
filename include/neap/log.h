/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * log: what was given of a round, and how a feeder writes it down. Rules: docs/round.md.
 */
#ifndef NEAP_LOG_H
#define NEAP_LOG_H

#include "neap/plan.h"

/* All that was logged of one round; rows sorted by key. */
struct round_log {
    struct arena arena;
    struct given *givens;
    size_t n_givens;
    struct extra *extras;
    size_t n_extras;
    struct mixed *mixes;
    size_t n_mixes;
    struct weighed *weighings;
    size_t n_weighings;
    struct crew *crews;
    size_t n_crews;
    struct remark *remarks;
    size_t n_remarks;
    struct switched *switcheds;
    size_t n_switcheds;
};

void round_log_free(struct round_log *log);

const struct line *round_line(const struct round *r, long number);    /* NULL: it has no such line */
const struct given *log_find(const struct round_log *log, long line); /* NULL: not accounted for */
const struct mixed *log_find_mixed(const struct round_log *log, const char *pot);

/*
 * What a feeder wrote beside some lines, as typed: LINES, or LINES=VALUE.
 *
 *   LINES  14   15-18   3,5,9-12, or the name of a tank or colony
 *   VALUE  [code][amount][:score][@HH:MM], such as r:0, p1.5, 2.1mL, :4, l@09:40, n; nothing but LINES: as planned;
 *          - takes back what was logged
 */
enum { LOG_SPANS_MAX = 32, LOG_AMOUNT_TEXT = 24 };
struct log_word {
    struct {
        long first, last;
    } spans[LOG_SPANS_MAX];
    size_t n_spans;                /* 0: by name */
    char name[NAME_BYTES_MAX + 1]; /* "": by line numbers */
    bool as_planned;               /* no value stands behind it */
    bool take_back;
    int outcome;                  /* OUTCOME_GIVEN where no code was written */
    char amount[LOG_AMOUNT_TEXT]; /* "": as planned */
    long response;                /* -1: none */
    int at_min;                   /* -1: none */
};

/* Does the word begin like line numbers? */
bool log_word_is(const char *word);

/* Does a pot count as mixed: so logged, or something of it was offered? */
bool log_pot_used(const struct round *r, const struct round_log *log, const char *pot);

/* More than the plan by so much that a slip is likelier than a hand that was generous. Common practice, no source. */
#define MORE_ASKED_FRAC 0.1
bool log_is_more(const struct line *l, const struct given *g);

/* Errors: ERR_MISUSE, quoting the word and what was expected. */
bool log_word_parse(const char *word, struct log_word *w, struct err *e);

/*
 * The row that a word makes of a line. *g: note borrowed and static.
 *
 * Errors: ERR_INPUT naming the line: an amount where nothing is measured, p without less than planned, n with an
 * amount,
 *         a score where no mouths are fed, or more than three times the plan (a slip; what was given beside it is an
 *         extra).
 */
bool log_word_apply(const struct log_word *w, const struct facility *f, const struct round *r, const struct line *l,
                    struct given *g, struct err *e);

/* ---- switches: what was off while a system was fed --------------------------------------------------------------- */

/* NULL: not accounted for. */
const struct switched *log_find_switched(const struct round_log *log, size_t system, int device);

/*
 * What a feeder wrote beside some switches: sw1, sw1-3 or sw2,5, or a system and a device ("display skimmer"), and
 *   nothing: off and on again as planned   off, off@HH:MM: off, and not on again yet   on, on@HH:MM: on again
 *   n: it was not turned off                -: taken back
 * A name without one of these may be that of a tank or colony, which come first.
 */
struct switch_word {
    struct log_word word; /* its spans or its name */
    bool off, on;         /* what was written; neither: as planned, or n or - of word */
};

/* Is the word about switches of the round? Then *w is it. Errors (of one that begins so): ERR_MISUSE, ERR_NOT_FOUND. */
bool switch_word_is(const struct facility *f, const struct round *r, const char *word);
bool switch_word_parse(const struct facility *f, const struct round *r, const char *word, struct switch_word *w,
                       struct err *e);

/* The row that a word makes of a switch; was: what is logged of it, NULL: nothing. Errors: ERR_INPUT. */
bool switch_word_apply(const struct switch_word *w, const struct facility *f, const struct switching *s,
                       const struct switched *was, struct switched *out, struct err *e);

/* Does the word mean it? */
bool switch_word_means(const struct switch_word *w, const struct facility *f, const struct switching *s);

/* "display skimmer (sw1)"; what is logged of it: "off 09:23, on again 10:30". */
void switching_words(const struct facility *f, const struct switching *s, struct text *out);
void switched_words(const struct switched *s, struct text *out);

/* Switches of the round that nobody logged, "sw1-3,5"; nothing is added where there are none. */
void log_open_switches(const struct round *r, const struct round_log *log, struct text *out);

/* The minute that a clock read while something planned for a minute of the day was done: it may be past midnight. */
int minute_beside(int planned_min, int clock_min);

/* What a row says, for a person: "part given, 1.5 mL, 3 most, at 09:40"; the amount where it is not the plan's. */
void log_given_words(const struct facility *f, const struct line *l, const struct given *g, struct text *out);
const char *line_unit(const struct facility *f, const struct line *l); /* "mL" or "g"; "" where nothing is measured */
void line_words(const struct facility *f, const struct line *l, struct text *out); /* "D1-002 torch, green" */

#endif
