#include "cli.h"

extern const struct command command_start, command_plan, command_sheet, command_log, command_stock, command_move, command_count;

/* In the order of a feeding day, which is that of the help. */
const struct command *const commands[] = {
    &command_start,
    &command_plan,
    &command_sheet,
    &command_log,
    &command_stock,
    &command_move,
    &command_count,
    NULL,
};
