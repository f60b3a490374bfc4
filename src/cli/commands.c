#include "cli.h"

extern const struct command command_plan;
extern const struct command command_sheet;
extern const struct command command_calendar;
extern const struct command command_log;
extern const struct command command_test;
extern const struct command command_water;
extern const struct command command_trend;
extern const struct command command_ahead;
extern const struct command command_why;
extern const struct command command_stock;
extern const struct command command_count;
extern const struct command command_move;
extern const struct command command_treat;
extern const struct command command_split;
extern const struct command command_card;
extern const struct command command_calc;
extern const struct command command_start;
extern const struct command command_load;
extern const struct command command_dump;
extern const struct command command_list;
extern const struct command command_add;
extern const struct command command_set;
extern const struct command command_retire;
extern const struct command command_hold;
extern const struct command command_release;
extern const struct command command_undo;
extern const struct command command_redo;
extern const struct command command_history;
extern const struct command command_audit;
extern const struct command command_backup;
extern const struct command command_restore;
extern const struct command command_help;

/* In the order of the help: the feeding day and its week, then the registers, then the care of the store. */
const struct command *const commands[] = {
    &command_plan,    &command_sheet,  &command_calendar,
    &command_log,     &command_test,   &command_water,
    &command_trend,   &command_ahead,  &command_why,
    &command_stock,   &command_count,  &command_move,
    &command_split,   &command_treat,  &command_card,
    &command_calc,    &command_start,  &command_load,
    &command_dump,    &command_list,   &command_add,
    &command_set,     &command_retire, &command_hold,
    &command_release, &command_undo,   &command_redo,
    &command_history, &command_audit,  &command_backup,
    &command_restore, &command_help,   NULL,
};
