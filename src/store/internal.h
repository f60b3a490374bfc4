/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the files of the store share: the handle, statements, and how SQLite's answers become ours. */
#ifndef NEAP_STORE_INTERNAL_H
#define NEAP_STORE_INTERNAL_H

#include "neap/store.h"

#define SQLITE_ENABLE_SESSION 1
#define SQLITE_ENABLE_PREUPDATE_HOOK 1
#include <sqlite3.h>

enum { STORE_BUSY_MS = 5000 }; /* a writer waits so long for another */

enum statement {
    STATEMENT_GET,
    STATEMENT_ADD,
    STATEMENT_CHANGE,
    STATEMENT_EXISTS,
    STATEMENT_ANY_CASE,
    STATEMENT_REPEAT,
    N_STATEMENTS
};

struct store {
    sqlite3 *db;
    sqlite3_session *session; /* records the open transaction since its latest part; NULL: none open */
    long entry;               /* that the transaction becomes; 0: it has no part yet */
    long n_parts;             /* of it, so far */
    uint64_t checksum;        /* of them */
    size_t n_unkept;          /* rows put since the latest part */
    sqlite3_stmt *cached[N_REGS][N_STATEMENTS];
    char path[512];
    bool older;        /* than this neap's: opened to be copied */
    char kept[640];    /* the copy of an older store that was brought up to date; "": none */
    size_t n_unknown;  /* names that nothing has, met since the transaction began */
    bool settings_put; /* a figure of the house was written since then */
    long work_left;    /* in thousands of SQLite's steps; see store_limit_work */
};

/*
 * Every register's table, and the views and triggers, as the field table and the text derived have them. In a
 * transaction. turned: what is then to be done with the rows of an older store, before ledgers are closed again.
 */
bool store_tables_settle(struct store *s, const char *turned, const char *derived, struct err *e);

/*
 * Keeps a copy of what is committed, beside the store, under a name that nothing has: its own and the suffix, then "-2"
 * and so on; *kept is it. SQLite finds it whole, or there is none.
 */
typedef bool store_keeping(const struct store *s, const char *suffix, char *kept, size_t room, struct err *e);

/*
 * store_open, an older store being kept so before it is brought up to date. keep NULL: a file that is nobody's store
 * yet.
 */
bool store_open_as(const char *path, enum store_mode mode, store_keeping *keep, struct store **s, struct err *e);

/* The pages as of one moment into the file there, which keeps no log then. */
bool store_write_copy(struct store *s, const char *path, struct err *e);
/* No more may be read in the copy than in the store. */
bool store_copy_rights(const struct store *s, const char *copy, struct err *e);

/* Is the register's table there as the field table has it? */
bool store_table_is_ours(struct store *s, const struct reg *r, bool *ours, struct err *e);

/*
 * A store made by hand can hold a view or a trigger that never ends. So what SQLite may do is limited by the size of
 * the file, and by what is put into it; a sound store never comes near.
 */
bool store_limit_work(struct store *s, struct err *e);
enum { WORK_PER_PUT = 100 };

/* Turns the connection's last error into *e; doing: "cannot write the store", say. Returns false. */
bool store_fail(struct store *s, struct err *e);

/* What a row that SQLite refused would have had to hold, as the schema has it. */
const char *store_limit_met(struct store *s);

bool store_prepare(struct store *s, const char *sql, sqlite3_stmt **stmt, struct err *e);

/* Runs SQL without answer rows. */
bool store_run(struct store *s, const char *sql, struct err *e);

/* What left the lot ?1 so far, beside it. */
#define LOT_USED_SQL                                                                                                   \
    "SELECT ?1, total(units) FROM (SELECT units FROM drawn_by_round WHERE lot = ?1 UNION ALL"                          \
    " SELECT amount_units FROM live_waste WHERE lot = ?1)"

/* One whole number, or fallback where there is no row or it is NULL. */
bool store_number(struct store *s, const char *sql, long fallback, long *n, struct err *e);

/*
 * Cells of the store to a struct row: texts copied to a, references resolved in f. A row that does not fit is damage.
 */
bool store_fill(const struct reg *r, const struct facility *f, struct arena *a, const struct cell *from, void *row,
                struct err *e);

/* store_each and store_count of the rows that where lets through: " WHERE …", or "". */
bool store_each_where(struct store *s, const struct reg *r, const char *where,
                      bool (*each)(void *context, const struct cell *cells, struct err *e), void *context,
                      struct err *e);
/*
 * What is read from here to the end is of one moment; where a transaction is open already, of its. *own: none was, and
 * store_moment_end ends the one that this began.
 */
bool store_moment_begin(struct store *s, bool *own, struct err *e);
void store_moment_end(struct store *s, bool own);

/* store_each of a statement's rows, whose columns are the register's. */
bool store_each_row(struct store *s, sqlite3_stmt *stmt, const struct reg *r,
                    bool (*each)(void *context, const struct cell *cells, struct err *e), void *context, struct err *e);
bool store_count_where(struct store *s, const struct reg *r, const char *where, long *n, struct err *e);

/* Those rows as structs, by store_fill. array: of the pointer to them, which are a's. */
bool store_load_rows(struct store *s, const struct facility *f, enum reg_id id, const char *where, struct arena *a,
                     void *array, size_t *n, struct err *e);

/* What a question of another shape is answered, as many rows as come. Zero-initialise it to begin. */
struct row_list {
    void *rows;
    size_t n, room;
};
void *store_list_add(struct row_list *list, size_t size, struct err *e); /* a row more; NULL: no memory */
/* ok: they become a's, array that of the pointer to them. false: they are dropped, and false is passed on. */
bool store_list_end(struct row_list *list, bool ok, size_t size, struct arena *a, void *array, size_t *n,
                    struct err *e);

/* "band display no3: the band's low 20 is not below its high 10; …", "tank D1: shape is damaged (…)": why of row_fill. */
void store_row_fault(const struct reg *r, const struct cell *cells, size_t field, const struct err *why,
                     struct text *out);

/*
 * A column that names a row of a register (or none), a field's choice, a day. What is no such thing is damage, never
 * taken for another.
 */
bool store_column_ref(const struct facility *f, enum reg_id id, sqlite3_stmt *stmt, int column, size_t *ref,
                      struct err *e);
bool store_column_ref_or_none(const struct facility *f, enum reg_id id, sqlite3_stmt *stmt, int column, size_t *ref,
                              struct err *e);
bool store_column_choice(enum reg_id id, const char *field, sqlite3_stmt *stmt, int column, int *choice, struct err *e);
bool store_column_day(sqlite3_stmt *stmt, int column, int *day, struct err *e);
void store_column_text(sqlite3_stmt *stmt, int column, char *to, size_t room); /* as many whole characters as fit */

/* The house's figures alone, texts in f's arena. */
bool store_read_settings(struct store *s, struct facility *f, struct err *e);

/*
 * The tests from a day on, and of those before it what a trend of the days since then depends on: it is as by all
 * tests. f's systems are there; the tests are its arena's.
 */
bool store_read_tests(struct store *s, struct facility *f, int first_day, struct err *e);

/* What the responses logged so far make of each colony's portion. */
bool store_read_responses(struct store *s, struct facility *f, struct err *e);

/*
 * What a transaction changes, in parts: each is recorded by a session of SQLite's, which holds all of it in memory
 * until it becomes a row of entry_part. store_entry_end: the last part, and the entry's row; nothing where nothing
 * changed.
 */
bool store_entry_begin(struct store *s, struct err *e);
bool store_row_was_put(struct store *s, struct err *e); /* so many rows are a part */
bool store_next_part(struct store *s, struct err *e);   /* also where nothing is recorded: nothing is done then */
bool store_entry_end(struct store *s, const char *command, long made, long undoes, struct err *e);
void store_record_end(struct store *s); /* what is recorded and no part yet is dropped */

/*
 * SQLite reads a changeset as if none were ever damaged: one that is makes it run for ever, or past the blob's end. So
 * none reaches it of an entry whose parts do not have its checksum (store_entry_sound).
 */
bool store_entry_proved(struct store *s, long id, struct err *e); /* ERR_STORE: it is damaged; ERR_NOT_FOUND */

/* Calls each with the changeset of every part of an entry; borrowed, valid until it returns. Sound or not. */
enum part_order { PARTS_AS_MADE, PARTS_LATEST_FIRST };
bool store_each_part(struct store *s, long id, enum part_order order,
                     bool (*each)(void *context, const void *changes, int size, struct err *e), void *context,
                     struct err *e);

/*
 * Applies a part the other way round; what is not as the part left it is asked of on_conflict. SQLite's answer, which
 * store_apply_fail tells (false): want of memory, too, which is the session's own and the connection does not know.
 */
int store_apply_inverse(struct store *s, const void *changes, int size,
                        int (*on_conflict)(void *context, int kind, sqlite3_changeset_iter *at), void *context);
bool store_apply_fail(struct store *s, int rc, struct err *e);

/* Takes an entry back; nothing where it is damaged, or a row is not as it left it (ERR_STORE). In a transaction. */
bool store_take_back(struct store *s, long id, struct err *e);

/* A copy of the whole store in memory, to be changed at will. Close it with store_disconnect, also after a failure. */
bool store_copy_in_memory(struct store *s, struct store *copy, struct err *e);
void store_disconnect(struct store *s);

/* Calls find with every row that is not what the journal says; false from it is want of memory. */
bool store_retrace(struct store *s, bool (*find)(void *context, const char *text), void *context, struct err *e);

/* "a, b, c" of the register's columns; where keys_only, of its key fields. */
void store_columns(const struct reg *r, bool keys_only, struct text *sql);

/* What takes an entry back, and is not taken back itself: an undo that was redone is as if it had not been. */
#define STANDING_UNDO "undoes IS NOT NULL AND id NOT IN (SELECT undoes FROM entry WHERE undoes IS NOT NULL)"

/* store_audit; n_file: how many of the findings are SQLite's, of the file itself. */
bool store_audit_apart(struct store *s, struct text *findings, size_t *n, size_t *n_file, struct err *e);

#endif
