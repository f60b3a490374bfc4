/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The frame of the program: a command is a row that says what it is called, takes and does. Parsing, help, completion
 * To add one: write src/cli/cmd_NAME.c; the Makefile finds it by
 * its line "const struct command command_NAME = {" and its place.
 */
#ifndef NEAP_CLI_H
#define NEAP_CLI_H

#include "neap/store.h"

#define NEAP_VERSION "0.1"

enum { EXIT_DONE = 0, EXIT_CANNOT = 1, EXIT_MISUSE = 2 };

enum option_type { OPT_FLAG, OPT_TEXT, OPT_NUMBER, OPT_COUNT, OPT_DAY, OPT_MOMENT, OPT_CLOCK };

enum { OPTIONS_MAX = 24, REPEATS_MAX = 32 };

struct option_row {
    const char *name;
    enum option_type type;
    const char *unit; /* what the help shows for the value: "days", "FILE" */
    double min, max;  /* of OPT_NUMBER and OPT_COUNT */
    bool repeats;     /* may be given up to REPEATS_MAX times */
    const char *help;
};

/* A parsed option: n how often it was given. */
struct option_value {
    size_t n;
    const char *text[REPEATS_MAX]; /* as typed */
    double number;                 /* OPT_NUMBER, OPT_COUNT */
    int day;                       /* OPT_DAY; minute of OPT_CLOCK in minute */
    int minute;
    long moment;
};

/* What a command is run with. Nothing of it outlives the run. */
struct context {
    const struct command *command;
    const char *db;
    int today;
    int ago_d, back_d; /* the snapshot is asked of so many days ago, and looks back so many more days, or 0 */
    bool every_test;   /* and it has every test */
    long now;
    bool knows_time; /* of the day: by the clock, or as said with the day */
    bool json, us_units, units_given;
    bool out_is_terminal;
    int out_width;
    const char *typed;                        /* the command line, for the journal */
    struct option_value options[OPTIONS_MAX]; /* in the order of command->options */
    const char *const *args;
    size_t n_args;
    struct text *out;   /* printed when the run is over */
    struct text *notes; /* to stderr, whether the run succeeds or not */
    bool stored;        /* an entry was kept: the run is done, whatever comes after */
    bool unsound;       /* what was printed is a finding: exit as of a run that failed */
};

struct command {
    const char *name;
    /* in the help: 1xx the feeding day, 2xx the week, 3xx corals, 4xx the desk, 5xx registers, 6xx the store; tens */
    int place;
    const char *summary;
    const char *also;                 /* words that people try for it, parted by blanks; NULL: none */
    const char *usage;                /* the arguments: "ROUND [LINE=VALUE …]" */
    const char *about;                /* a paragraph for the help */
    const char *example;              /* runs as it stands on the demo store */
    const struct option_row *options; /* ends with a row without a name; NULL: none */
    size_t args_min, args_max;
    bool prints_json;
    bool (*run)(struct context *c, struct err *e);
};

extern const struct command *const commands[]; /* by place; ends with NULL */

const struct command *command_find(const char *name);

/* Says that there is no such command, and which is near. Returns false. */
bool command_unknown(const char *name, struct err *e);

/* Of every command that stores; that nothing was is told once for all of them, when the run is over. */
#define OPTION_DRY_RUN                                                                                                 \
    {                                                                                                                  \
        "dry-run", OPT_FLAG, .help = "check and show, store nothing"                                                   \
    }

extern const struct option_row options_everywhere[]; /* those every command has; ends with a row without a name */

/* The value of an option of this command by its name. */
const struct option_value *option_get(const struct context *c, const char *name);
bool option_given(const struct context *c, const char *name);
const char *option_any(const struct context *c, const char *const *names, size_t n); /* the first given; NULL: none */
double option_number(const struct context *c, const char *name, double fallback);
const char *option_text(const struct context *c, const char *name, const char *fallback);

/* Where the store of this run is: --db, $NEAP_DB, or the user's data folder (make: which is made where it is not). */
bool context_path(struct context *c, bool make, struct text *path, struct err *e);

/* Opens it. */
bool context_open(struct context *c, enum store_mode mode, struct store **s, struct err *e);

/* The store open for reading, and its snapshot, in one go. Caller closes and frees both. */
bool context_snapshot(struct context *c, enum store_mode mode, struct store **s, struct facility *f, struct err *e);

/* store_commit, and store_undo or store_redo, of this run's command, noted in the context. */
typedef bool store_take_back(struct store *s, long id, const char *command, long made, struct err *e);
bool context_commit(struct context *c, struct store *s, const char *typed, struct err *e);
bool context_take_back(struct context *c, struct store *s, store_take_back *take_back, long entry, struct err *e);

/*
 * Ends what store_begin began: kept as one entry of this command; dropped where ok is false or on --dry-run. Passes ok
 * on.
 */
bool context_end(struct context *c, struct store *s, bool ok, struct err *e);

/* The moment of --at, else now. Errors: ERR_MISUSE: still to come. */
bool context_moment(const struct context *c, long *moment, struct err *e);

/*
 * Is somebody there to be asked? Then: shows what is printed so far, and the question. Nothing may be held open
 * meanwhile.
 */
bool context_may_ask(void);
void context_ask(struct context *c, const char *question, bool *yes);

/*
 * The system that --system names, or REF_NONE where the option is not given. Errors: ERR_NOT_FOUND, offering the
 * nearest.
 */
bool context_system(const struct context *c, const struct facility *f, size_t *system, struct err *e);

void help_all(struct text *out);
void help_command(const struct command *cmd, struct text *out);

/* The data files the program carries: data/stock, data/demo, data/templates. */
struct embedded {
    const char *name;
    const unsigned char *bytes;
    size_t len;
};
extern const struct embedded embedded[];
extern const size_t n_embedded;

#endif
