/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a shell needs to complete a command line, from the rows of the commands. */
#ifndef NEAP_CLI_COMPLETION_H
#define NEAP_CLI_COMPLETION_H

#include "cli.h"

/* shell: bash, zsh or fish. Names are asked of the program (list --keys) while one types. Errors: ERR_MISUSE. */
bool completion(const char *shell, struct text *out, struct err *e);

#endif
