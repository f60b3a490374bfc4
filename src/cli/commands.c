#include "cli.h"

extern const struct command command_start, command_load, command_dump, command_list, command_add, command_set,
    command_retire, command_hold, command_release, command_plan, command_sheet, command_log, command_stock,
    command_move, command_count,
    command_undo, command_history, command_audit, command_backup, command_restore, command_help;

/* In the order of a feeding day, which is that of the help. */
const struct command *const commands[] = {
    &command_start,
    &command_load,
    &command_dump,
    &command_list,
    &command_add,
    &command_set,
    &command_retire,
    &command_hold,
    &command_release,
    &command_plan,
    &command_sheet,
    &command_log,
    &command_stock,
    &command_move,
    &command_count,
    &command_undo,
    &command_history,
    &command_audit,
    &command_backup,
    &command_restore,
    &command_help,
    NULL,
};
