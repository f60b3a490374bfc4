/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Questions at a terminal, a line for each answer. */
#ifndef NEAP_CLI_ASKING_H
#define NEAP_CLI_ASKING_H

#include "cli.h"

/* Takes an answer: into what the context stands for. false: *e says what was expected, and the question comes again. */
typedef bool ask_take(void *context, const char *answer, struct err *e);

/*
 * Shows what is printed so far and the question, with what Enter stands for in brackets (fallback; NULL: nothing),
 * reads a line, trimmed, and asks until take has it. *left: no more answers are wanted (q, or the end of input).
 * Nothing may be held open meanwhile. Errors: ERR_MEMORY, and what is no fault of an answer.
 */
bool ask_until(struct context *c, const char *question, const char *fallback, ask_take *take, void *context, bool *left,
               struct err *e);

#endif
