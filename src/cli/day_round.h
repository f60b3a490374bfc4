/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which of a day's rounds a command means. */
#ifndef NEAP_CLI_DAY_ROUND_H
#define NEAP_CLI_DAY_ROUND_H

#include "cli.h"

#define OPTION_ROUND                                                                                                   \
    {                                                                                                                  \
        "round", OPT_TEXT, "NAME", .help = "of this round: one of today's by its name, or any by its number"           \
    }

/* The number of a round, as it is typed. Errors: ERR_MISUSE. */
bool round_typed(const char *word, long *number, struct err *e);

/*
 * The number of a kept round: that which is given (0: none is), or of --round, else today's; where there are several,
 * the one that began last or begins within the hour, and before them all the first.
 *
 * Errors: ERR_NOT_FOUND: it is not planned, or there is no such round.
 */
bool round_chosen(struct context *c, struct store *s, const struct facility *f, long given, long *number,
                  struct err *e);

/* round_chosen, and the round itself. Caller frees with round_free. */
bool round_load_chosen(struct context *c, struct store *s, const struct facility *f, long given, struct round *r,
                       struct err *e);

/* Opens the store, calls use with the round of round_load_chosen, and closes all again. */
typedef bool round_use(struct context *c, struct store *s, const struct facility *f, const struct round *r,
                       struct err *e);
bool round_run(struct context *c, enum store_mode mode, long given, round_use *use, struct err *e);

/*
 * The daily round that is to be planned: that of --round, else by the clock as above; "" in a house without any.
 *
 * Errors: ERR_NOT_FOUND; ERR_INPUT: none is held that weekday.
 */
bool round_to_plan(const struct context *c, const struct facility *f, const char **name, struct err *e);

/* The last round of an earlier day, of this name if any has it; *number 0: there is none. */
bool round_before(struct store *s, int day, const char *name, int days, long *number, struct err *e);

#endif
