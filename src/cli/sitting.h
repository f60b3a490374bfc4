/* SPDX-License-Identifier: GPL-3.0-or-later */
/* log at work: a round that is being logged (neap/logging.h), and the command it is logged by. */
#ifndef NEAP_CLI_SITTING_H
#define NEAP_CLI_SITTING_H

#include "cli.h"

#include "neap/logging.h"

struct sitting {
    struct context *c;
    struct logging lg;
    size_t first_word; /* of the arguments: what stands behind the round */
};

/* "logged 14 lines: 12 as planned, 1 part given, 1 refused", then what was told, then what is not accounted for. */
bool sitting_tell(const struct logging *lg, struct text *out, struct err *e);

/* The prompt, a few lines at a time; each answer is kept as it is given. */
bool sitting_prompt(struct sitting *in, struct err *e);

#endif
