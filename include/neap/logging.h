/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * logging: a round that is being logged, whether by command line, file or prompt: what may be put into its log, and
 * how.
 */
#ifndef NEAP_LOGGING_H
#define NEAP_LOGGING_H

#include "neap/store.h"
#include "neap/figures.h"
#include "neap/log.h"
#include "neap/replan.h"

/* A round that is being logged. In a transaction, round and log are as they stand in the store. */
struct logging {
    struct store *s;   /* borrowed; open */
    struct facility f; /* borrowed: its lots are opened and drawn on as they are logged */
    int today;
    long now;
    long in_hand;    /* revision of the sheet that was written on; 0: not said */
    bool only_shown; /* nothing is to be logged */
    bool dry_run;    /* entries are dropped at their end */
    struct round r;
    struct round_log log;
    bool again;  /* what is logged already may be replaced */
    bool more;   /* more than planned is right */
    bool flows;  /* a flow was logged: what stood still too long is told */
    bool over;   /* something was refused because it is not */
    bool stored; /* an entry was kept */
    /* what this transaction did */
    long put[OUTCOME_NOT_GIVEN + 1]; /* lines, by outcome */
    long same, taken_back, others;   /* others: pots, weighings, extras, notes, names */
    struct text told;                /* what was replaced, and what is no line, one to a line */
};

/* Reads round and log; the revision in hand is judged. Errors: as of the store; ERR_MISUSE, ERR_INPUT. */
bool logging_open(struct logging *lg, long number, struct err *e);
void logging_close(struct logging *lg);

/*
 * One entry: begin, any number of rows, end. end opens the lots that were used for the first time, and keeps the entry
 * where ok (not on a dry run), drops it otherwise; passes ok on.
 */
bool logging_begin(struct logging *lg, struct err *e);
bool logging_end(struct logging *lg, bool ok, const char *typed, struct err *e);

/* Reads the log again within an entry, with what it put. */
bool logging_reread(struct logging *lg, struct err *e);

/*
 * Puts a row into the log. What is there already and differs is left alone and told (ERR_INPUT), unless again.
 * logging_line: the row of a line; with voided set, what was logged of it is taken back.
 */
bool logging_line(struct logging *lg, const struct given *g, struct err *e);

/*
 * Calls take with each line that a word (14=r, D1-002, D1=n) means, and the row that it makes of it. weak: by its
 * tank's name, so that a line named otherwise is none of it; nor is one logged already, or to be taken back and not
 * logged.
 */
typedef bool logging_take(struct logging *lg, const struct line *l, const struct given *g, bool weak, void *context,
                          struct err *e);
bool logging_word(struct logging *lg, const char *word, logging_take *take, void *context, struct err *e);

/* Switches: one word of those that switch_word_is; as planned, those that are to be on again by now. */
bool logging_switch(struct logging *lg, const char *word, struct err *e);
bool logging_switches_planned(struct logging *lg, struct err *e);

/* "14=spat it out", "D1-002=…" of lines that are logged; all else is a note of the round. "2=AM": who feeder 2 was. */
bool logging_note(struct logging *lg, const char *text, struct err *e);
bool logging_by(struct logging *lg, const char *text, struct err *e);

/* "A=118mL" mixed, "A=12mL" left over, "A:FOOD=2.1g" weighed (FOOD may be the lot's code), "TANK:FOOD=AMOUNT" extra. */
bool logging_made(struct logging *lg, const char *text, struct err *e);
bool logging_left(struct logging *lg, const char *text, struct err *e);
bool logging_weighed(struct logging *lg, const char *text, struct err *e);
bool logging_extra(struct logging *lg, const char *text, struct err *e);

/* A line as planned. */
void logging_planned(const struct logging *lg, const struct line *l, struct given *g);

#endif
