/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of commands, and looking one up. */
#include "cli.h"

/* Lines of COMMAND(name), in the order of their places: written from the rows of src/cli/cmd_*.c by the Makefile. */
#define COMMAND(name) extern const struct command command_##name;
#include "commands.inc"
#undef COMMAND

#define COMMAND(name) &command_##name,
const struct command *const commands[] = {
#include "commands.inc"
    NULL,
};
