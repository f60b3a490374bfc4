/* Logging a round: what the command line, a file and the prompt share. */
#ifndef NEAP_CLI_LOGGING_H
#define NEAP_CLI_LOGGING_H

#include "cli.h"
#include "neap/figures.h"
#include "neap/log.h"
#include "neap/replan.h"

/* A round that is being logged. In a transaction, round and log are as they stand in the store. */
struct logging {
    struct context *c;
    struct store *s;
    struct facility f;
    struct round r;
    struct round_log log;
    size_t first_word; /* of the arguments: what stands behind the round */
    bool again;        /* what is logged already may be replaced */
    bool more;         /* more than planned is right */
    bool flows;        /* a flow was logged: what stood still too long is told */
    bool over;         /* something was refused because it is not */
    /* what this transaction did */
    long put[OUTCOME_NOT_GIVEN + 1]; /* lines, by outcome */
    long same, taken_back, others;   /* others: pots, weighings, extras, notes, names */
    struct text told;                /* what was replaced, and what is no line, one to a line */
};

/* Opens store, facility and round; the revision in hand is judged. Errors: as of the store; ERR_MISUSE, ERR_INPUT. */
bool logging_open(struct context *c, long number, struct logging *lg, struct err *e); /* number 0: today's round */
void logging_close(struct logging *lg);

/*
 * One entry: begin, any number of rows, end. end opens the lots that were used for the first time, and keeps the entry where ok
 * (not on --dry-run), drops it otherwise; passes ok on.
 */
bool logging_begin(struct logging *lg, struct err *e);
bool logging_end(struct logging *lg, bool ok, const char *typed, struct err *e);

/*
 * Puts a row into the log. What is there already and differs is left alone and told (ERR_INPUT), unless again.
 * logging_line: the row of a line; with voided set, what was logged of it is taken back.
 */
bool logging_line(struct logging *lg, const struct given *g, struct err *e);

/*
 * Calls take with each line that a word (14=r, D1-002, D1=n) means, and the row that it makes of it. weak: by its tank's name, so
 * that a line named otherwise is none of it; nor is one logged already, or to be taken back and not logged.
 */
typedef bool logging_take(struct logging *lg, const struct line *l, const struct given *g, bool weak, void *context,
                          struct err *e);
bool logging_word(struct logging *lg, const char *word, logging_take *take, void *context, struct err *e);

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

/* "logged 14 lines: 12 as planned, 1 part given, 1 refused", then what was told, then what is not accounted for. */
bool logging_tell(struct logging *lg, struct text *out, struct err *e);

/* What is not accounted for, by tank: "D2 15-29, N1 30-41"; "": nothing. */
void logging_open_lines(const struct logging *lg, struct text *out);

/* The state of the round as a page, or as JSON where that is asked for. */
bool logging_show(struct logging *lg, struct text *out, struct err *e);

/* The prompt, a few lines at a time; each answer is kept as it is given. */
bool logging_prompt(struct logging *lg, struct err *e);

#endif
