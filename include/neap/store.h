/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * store: the SQLite file that keeps everything. The only folder that knows SQL.
 *
 * A writing command is one transaction and one journal entry: store_begin, any number of changes, store_commit. Several
 * processes may have one store open; a writer waits for another up to five seconds.
 *
 * What it promises, by numbers that the tests of each name:
 *   [store 1]  An entry that was acknowledged is kept, whole, whatever dies: process, machine, power (WAL, full sync).
 *   [store 2]  What was not acknowledged is as if it had never been tried.
 *   [store 3]  Of several writers each waits for the others, or says so; nothing is lost or doubled.
 *   [store 4]  What is read within a transaction is of one moment.
 *   [store 5]  Undo gives back the rows as they were before the entry, byte for byte; what was built on it stays.
 *   [store 6]  A ledger only grows: a changed row is a new version beside the old one.
 *   [store 7]  A row that was changed, added or taken away past the program is found by the audit, and named.
 *   [store 8]  An older store is brought up to date whole or left as it was; a later one is refused and left alone.
 *   [store 9]  A store or a copy of one gets its name when it is whole, and never that of a store somebody works in.
 *   [store 10] A store of strange make is refused, in a bounded time, whatever it brings.
 */
#ifndef NEAP_STORE_H
#define NEAP_STORE_H

#include "neap/facility.h"
#include "neap/log.h"
#include "neap/plan.h"

struct store;

enum store_mode { STORE_READ, STORE_COPY, STORE_WRITE, STORE_CREATE };

/*
 * Opens a store; STORE_CREATE makes a new one where no file is, or an empty one. An older store is brought up to date
 * when opened for writing, and a copy of it as it was is kept beside it first; STORE_COPY opens one of any version for
 * store_copy_new.
 *
 * Errors: ERR_NOT_FOUND no such file; ERR_INPUT not a neap store, or made by a newer neap, or STORE_CREATE and the
 *         file exists; ERR_IO, ERR_STORE, ERR_MEMORY.
 */
bool store_open(const char *path, enum store_mode mode, struct store **s, struct err *e);
const char *store_path(const struct store *s); /* borrowed, valid until store_close */
/* The copy of the older store that opening brought up to date; NULL: it was of this version. Borrowed as store_path. */
const char *store_kept(const struct store *s);
void store_close(struct store *s); /* NULL is fine; an open transaction is lost */

bool store_begin(struct store *s, struct err *e);
/* Keeps all changes as one entry. command: what the user typed; made: moment of the entry. No change: no entry. */
bool store_commit(struct store *s, const char *command, long made, struct err *e);
void store_rollback(struct store *s); /* keeps no change; fine when nothing is open */
/* What is read from here to store_close is of one moment, whatever others write meanwhile. */
bool store_begin_reading(struct store *s, struct err *e);

/*
 * A store that is made in steps gets its name last, so that whoever sees the name sees a whole store: store_name_beside
 * makes an empty file beside it (its name appended to *beside), which is opened by STORE_CREATE, filled and closed;
 * store_take_name gives it the name, once it is on the disk. store_remove drops it, and what SQLite left of it.
 *
 * Errors: ERR_IO; ERR_INPUT where the name is taken, or a log of another store of that name is left beside it.
 */
bool store_name_free(const char *path, struct err *e); /* no store and no log has the name */
bool store_name_beside(const char *path, struct text *beside, struct err *e);
bool store_take_name(const char *part, const char *path, struct err *e);
void store_remove(const char *path);

/* ---- rows ------------------------------------------------------------------------------------------------------ */

enum put { PUT_NEW, PUT_CHANGED, PUT_SAME };

/*
 * Adds or changes one row. Fields with present false keep a stored row's value and take the fallback in a new one.
 * The whole row is checked as it will stand; a reference that only differs in case from the one name there is becomes
 * that. A ledger's changed row is a new version; a kept plan never changes.
 *
 * Errors: ERR_INPUT, ERR_NOT_FOUND (a reference to nothing; offers the nearest name), *field the one to blame or
 *         SIZE_MAX, the text without place or field name; ERR_STORE, ERR_IO, ERR_MEMORY.
 */
bool store_put(struct store *s, const struct reg *r, const struct cell *cells, const bool *present, enum put *outcome,
               size_t *field, struct err *e);

/*
 * store_put, and the row as it was (where the outcome is not PUT_NEW) and as it stands. Caller frees the arena, always.
 */
struct put_told {
    struct cell before[FIELDS_MAX], after[FIELDS_MAX]; /* texts are the arena's or the caller's own */
    struct arena arena;
};
bool store_put_told(struct store *s, const struct reg *r, const struct cell *cells, const bool *present,
                    enum put *outcome, struct put_told *told, size_t *field, struct err *e);

/*
 * One row by its key cells (the key fields filled, all else ignored), or, of a register known by one name, the only one
 * that has it in another case: cells has the key as it is. ERR_NOT_FOUND offers the nearest name.
 */
bool store_get(struct store *s, const struct reg *r, const struct cell *key, struct cell *cells, struct arena *a,
               struct err *e);

/* store_get, and a row that is not there is no error: *found false. */
bool store_find(struct store *s, const struct reg *r, const struct cell *key, struct cell *cells, bool *found,
                struct arena *a, struct err *e);

/* Calls each with the cells of every (live) row in key order; a false answer ends the walk and is passed on. */
bool store_each(struct store *s, const struct reg *r,
                bool (*each)(void *context, const struct cell *cells, struct err *e), void *context, struct err *e);

bool store_count(struct store *s, const struct reg *r, long *n, struct err *e);

/* ---- snapshot and rounds ----------------------------------------------------------------------------------------- */

/*
 * Everything that planning looks at, complete (facility_derive done). Caller frees with facility_free. Registers are
 * all there. Of tests and of what was fed and drawn (feds, strengths, draws, last_refused) the days that a plan of this
 * day looks back on: as many as learning (LEARN_D) and the setting window_d want, or more. Of older tests there are
 * those that a trend of these days depends on. Days last fed, portions, and what is used of a lot that is not retired
 * are of the whole log.
 */
struct look_back {
    int day;         /* from which it looks back; DAY_NONE: on all there is */
    int days;        /* at least so many */
    bool every_test; /* that was ever made */
};
bool store_snapshot(struct store *s, const struct look_back *back, struct facility *f, struct err *e);

/*
 * Keeps a round and gives it its number and revision: a day's first plan of its name takes the next number; planning
 * that again makes the next revision. Once something of it is logged, only time, feeder and lot of lines that are not
 * logged, and lots in pots, may differ from the revision in force (plan_again; ERR_MISUSE otherwise), for the log names
 * lines by their number. Within store_begin and store_commit. A plan that is the same as the day's kept one is not kept
 * again: *same true, head is that one's.
 */
bool store_keep_round(struct store *s, const struct facility *f, struct round *r, bool *same, struct err *e);

/* The round in force of a number. Caller frees with round_free. ERR_NOT_FOUND: none kept. */
bool store_load_round(struct store *s, const struct facility *f, long number, struct round *r, struct err *e);

/* The revision in force of a round. ERR_NOT_FOUND: none kept. */
bool store_round_revision(struct store *s, long number, long *revision, struct err *e);

/* All that was logged of a round, of any revision. Caller frees with round_log_free. */
bool store_load_log(struct store *s, const struct facility *f, long number, struct round_log *log, struct err *e);

/* The rounds in force of some days, the earliest first; a's. */
struct kept_round {
    long number;
    int day, start_min;
    const char *name; /* which of the day's; "": its only one */
};
bool store_rounds(struct store *s, int first_day, int last_day, struct arena *a, struct kept_round **rounds, size_t *n,
                  struct err *e);

/*
 * What left a lot so far, for rounds, beside them and as waste, in its food's unit; within a transaction with what it
 * put.
 */
bool store_lot_used(struct store *s, const char *lot, double *units, struct err *e);

/* The lots that gave more than was bought, without a note that says why: a line each, as store_audit has it. */
bool store_overdrawn(struct store *s, struct text *lines, struct err *e);
/* What was logged and the plan does not bear out: of a line that is not there, more than a pot held; likewise. */
bool store_log_findings(struct store *s, struct text *lines, struct err *e);

/*
 * What reached whom from a lot (index into the facility's), by round, tank, colony. colony REF_NONE: the tank at large.
 */
struct lot_use {
    long round;
    int day;
    size_t tank, colony;
    int action;
    double units;
};
bool store_lot_uses(struct store *s, const struct facility *f, size_t lot, struct arena *a, struct lot_use **uses,
                    size_t *n, struct err *e);

/* What was logged of a line that fed one colony. Texts are valid until each returns. */
struct fed_line {
    int day;
    const char *name; /* of the round, which of the day's; "": its only one */
    const char *tank, *pot;
    double planned_ml;
    struct given given; /* round, line, what became of it; note static */
};

/* Calls each with those of a colony, the latest first, by the plan in force. */
bool store_each_fed_line(struct store *s, const char *colony,
                         bool (*each)(void *context, const struct fed_line *l, struct err *e), void *context,
                         struct err *e);

/*
 * The repeat of a reading that does not say it, which store_put gives it: that of the minute's reading by the same
 * method, or by one that is not named, and else the next free one, so that two methods in one minute are two readings.
 * cells: of REG_TEST, system, taken, analyte and method (empty: 1).
 */
bool store_test_repeat(struct store *s, const struct cell *cells, long *repeat, struct err *e);

/* Of a ledger keyed by (…, moment, repeat): the first repeat that is still free. key: all key cells but that one. */
bool store_next_repeat(struct store *s, const struct reg *r, struct cell *key, struct err *e);

/* What happened since a round was kept. commands: the first of them, as typed. */
enum { PAST_COMMANDS = 3 };
struct round_past {
    size_t n_later; /* entries since */
    char commands[PAST_COMMANDS][256];
    long n_logged; /* lines of the round that were logged */
};

/*
 * The facility as the plan of a kept round found it: the entries since are taken back, in a copy in memory. Caller
 * frees *f with facility_free. Errors: as store_snapshot; ERR_STORE where the journal does not lead back to it.
 */
bool store_snapshot_then(struct store *s, const struct round_head *head, struct facility *f, struct round_past *past,
                         struct err *e);

/* ---- journal ----------------------------------------------------------------------------------------------------- */

struct entry {
    long id;
    char made[MOMENT_TEXT];
    char command[256];
    long undoes;    /* 0: an entry of its own */
    long undone_by; /* 0: it stands */
};

/* Calls each with the latest entries, the newest first; a false answer ends the walk and is passed on. */
bool store_each_entry(struct store *s, long most, bool (*each)(void *context, const struct entry *entry, struct err *e),
                      void *context, struct err *e);

/* Are an entry's changes as they were kept? If not, they can neither be read nor taken back. */
bool store_entry_sound(struct store *s, long id, bool *sound, struct err *e);

enum change { CHANGE_ADDED, CHANGE_SET, CHANGE_REMOVED };

/* What an entry did to one row. Cells that were not touched are empty, but for the key's, which are in both. */
struct row_change {
    const struct reg *reg;
    enum change what;
    struct cell before[FIELDS_MAX], after[FIELDS_MAX];
    bool touched[FIELDS_MAX];
};

/*
 * Calls each with every change of an entry, in no order that means anything; where an entry of many rows changed one of
 * them more than once, that may come more than once, in the order made. Texts are valid until each returns.
 * Errors: ERR_NOT_FOUND; ERR_STORE for one that is damaged.
 */
bool store_each_change(struct store *s, long id, bool (*each)(void *context, const struct row_change *c, struct err *e),
                       void *context, struct err *e);

/* The last entry that was not taken back, or ERR_NOT_FOUND. */
bool store_last_entry(struct store *s, struct entry *entry, struct err *e);

/* The last undo that nothing was entered after: its id, and made and command of what it took back; or ERR_NOT_FOUND. */
bool store_last_undo(struct store *s, struct entry *entry, struct err *e);

/*
 * Takes back the last entry, or the last undo, as an entry of its own. Within no transaction. ERR_STORE for one that is
 * damaged.
 */
bool store_undo(struct store *s, long id, const char *command, long made, struct err *e);
bool store_redo(struct store *s, long id, const char *command, long made, struct err *e);

/* ---- care -------------------------------------------------------------------------------------------------------- */

/*
 * Looks for damage, and for figures that contradict each other: a line each into findings, *n how many. A store in
 * which something is wrong is no error here; one that cannot be read at all is.
 */
bool store_audit(struct store *s, struct text *findings, size_t *n, struct err *e);

/*
 * A copy of the store as of one moment, while others go on writing, audited before it takes its name: *n and findings
 * as of store_audit. One that SQLite finds damaged is thrown away (ERR_STORE); one with other findings is kept, but
 * never in place of an earlier backup (ERR_STORE). An earlier backup at path is replaced; any other file is not
 * (ERR_INPUT). The copy is one file, and a store like any other.
 */
bool store_backup(struct store *s, const char *path, struct text *findings, size_t *n, struct err *e);

/*
 * store_backup to a path where nothing is yet; an existing file stays untouched (ERR_INPUT). One of an older store is
 * brought up to date.
 */
bool store_copy_new(struct store *s, const char *path, struct text *findings, size_t *n, struct err *e);

/* store_put of a row's struct, all its fields. Within store_begin and store_commit. */
bool row_put(struct store *s, const struct facility *f, enum reg_id id, const void *row, enum put *outcome,
             struct err *e);

/*
 * row_put of a new row of a ledger keyed by (…, moment, repeat), with the repeat of store_next_repeat; the struct's is
 * not looked at.
 */
bool row_put_next(struct store *s, const struct facility *f, enum reg_id id, const void *row, struct err *e);

#endif
