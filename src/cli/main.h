/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files of the command line owe each other beside what the commands use (cli.h). */
#ifndef NEAP_CLI_MAIN_H
#define NEAP_CLI_MAIN_H

#include "cli.h"

/* Reads argv (argv[0] the command) into the context. *help: help was asked for, and arguments were not judged. */
bool options_parse(struct context *c, int argc, char **argv, bool *help, struct err *e);

/* After a command that stored: where today's round no longer holds, says so in the notes. */
bool overtaken_tell(struct context *c, struct err *e);

#endif
