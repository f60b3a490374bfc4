/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * base: what C lacks. Errors, memory, text, dates, numbers. No file, no clock, no locale, no state.
 */
#ifndef NEAP_BASE_H
#define NEAP_BASE_H

#include <assert.h>
#include <limits.h>
#include <math.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define COUNT_OF(a) (sizeof(a) / sizeof((a)[0]))

#if defined(__GNUC__)
#define PRINTF_LIKE(fmt, first) __attribute__((format(printf, fmt, first)))
#else
#define PRINTF_LIKE(fmt, first)
#endif

/* ---- errors ------------------------------------------------------------------------------------------------ */

enum err_code { ERR_NONE, ERR_INPUT, ERR_MISUSE, ERR_NOT_FOUND, ERR_STORE, ERR_MEMORY, ERR_IO };

/*
 * Where in the user's input: 1-based; line or column 0 leaves that part out. file is borrowed, NULL: not from a file.
 */
struct place {
    const char *file;
    long line, column;
};

/* What would help: a hint that only the command line has words for, since it alone knows the commands. */
enum err_help { HELP_NONE, HELP_START, HELP_PLAN, HELP_LIST, HELP_AUDIT, HELP_SHEET, HELP_CALC };

/* What went wrong, for a program (code) and for a person (text). Fixed room, so out of memory can be told too. */
struct err {
    enum err_code code;
    bool of_value; /* the text is said of a value ("is empty; expected …") and wants its name before it */
    enum err_help help;
    char help_about[120]; /* HELP_LIST: the register; HELP_SHEET: the round; HELP_CALC: a calculation and its words */
    char text[1024];
};

/*
 * Fills *e with "file:line:column: " (as far as at is known) and the formatted text, cut to fit at a character
 * boundary and disarmed (text_disarm, lines kept), whatever it quotes. e may be NULL. Always returns false, so that a
 * caller can write: return err_set(…);
 */
bool err_set(struct err *e, enum err_code code, const struct place *at, const char *fmt, ...) PRINTF_LIKE(4, 5);

/* err_set for what is said of a value: "is 7; expected 1 to 5". Who knows the value's name puts it before. */
bool err_of_value(struct err *e, enum err_code code, const char *fmt, ...) PRINTF_LIKE(3, 4);

/* Adds what would help to an error just set. Returns false. */
bool err_help(struct err *e, enum err_help help, const char *about);

/* err_set for the one error that has no words of its own. */
bool err_memory(struct err *e);

/* ---- memory ------------------------------------------------------------------------------------------------ */

/*
 * An arena: many allocations, freed at once. Zero-initialise it to begin. What it hands out is zeroed, aligned for
 * any type, and borrowed until arena_free; nothing is freed singly.
 */
struct arena {
    struct arena_block *last;
};

void *arena_alloc(struct arena *a, size_t n, size_t size); /* NULL: out of memory or n*size overflows */
char *arena_text(struct arena *a, const char *s);          /* a copy; NULL: out of memory */
char *arena_format(struct arena *a, const char *fmt, ...) PRINTF_LIKE(2, 3);

/*
 * A set of names, each copied, and with a value where one was given (the caller's own; NULL otherwise).
 * Zero-initialise; names_free drops all. names_add, names_add_value (which replaces): false where memory is out.
 */
struct name_set {
    void *root;
    struct arena arena;
};
bool names_have(const struct name_set *s, const char *name);
bool names_add(struct name_set *s, const char *name);
bool names_add_value(struct name_set *s, const char *name, void *value);
void *names_value(const struct name_set *s, const char *name);
void names_free(struct name_set *s);
void arena_free(struct arena *a); /* may be used again afterwards */

/*
 * Room for at least need elements in a growing array from malloc: returns the (moved) array and updates *room, or
 * NULL with the old array untouched. Caller frees with free.
 */
void *mem_grow(void *array, size_t *room, size_t need, size_t size);

/* ---- text -------------------------------------------------------------------------------------------------- */

/* A growing string, always terminated once anything was added. Zero-initialise it. failed is sticky: check it once. */
struct text {
    char *s;
    size_t len, room;
    bool failed;
};

void text_add(struct text *t, const char *s);
void text_add_n(struct text *t, const char *s, size_t n);
void text_add_char(struct text *t, char c, size_t times);
void text_addf(struct text *t, const char *fmt, ...) PRINTF_LIKE(2, 3);
void text_add_json(struct text *t, const char *s); /* as a JSON string, in its quotes (RFC 8259, section 7) */
const char *text_str(const struct text *t);        /* "" while empty; borrowed */
void text_free(struct text *t);

/* Is s[0..len) valid UTF-8 (no overlong form, no surrogate, nothing past U+10FFFF)? *bad gets the first bad offset. */
bool utf8_valid(const char *s, size_t len, size_t *bad);

/* Takes away a last character of s that was cut short in its middle. */
void utf8_cut_whole(char *s);

/*
 * In place: shows every byte of s that could steer a terminal, or is no UTF-8, as "?". keep_lines: line ends stay.
 */
void text_disarm(char *s, bool keep_lines);

/*
 * What a message may quote of someone's text: cut between characters to at most 60 bytes (then "..."), with every byte
 * that could steer a terminal, or is no UTF-8, shown as "?". Returns out.
 */
enum { EXCERPT_TEXT = 64 };
const char *text_excerpt(const char *s, char out[EXCERPT_TEXT]);

/* Are a and b the same but for the case of ASCII letters? */
bool text_same_but_case(const char *a, const char *b);

bool text_ends_in(const char *s, const char *end); /* and begins with something else */

/*
 * The candidate nearest to name by edit distance (insert, delete, change, swap of neighbours; case ignored), or NULL
 * where none is near enough to be a slip of the fingers: distance ≤ 1 + length / 4.
 */
const char *name_nearest(const char *name, const char *const *candidates, size_t n);

/* ---- promises to ourselves ---------------------------------------------------------------------------------- */

/*
 * Like assert, for what costs too much to be proved in every build: that one plan keeps all rules, say. SANITIZE=1
 * proves it.
 */
#ifndef NEAP_DEBUG
#define NEAP_DEBUG 0
#endif
#define debug_assert(holds) assert(!NEAP_DEBUG || (holds))

/* ---- numbers ----------------------------------------------------------------------------------------------- */

/*
 * A finite decimal number filling all of s; a decimal comma, hex, inf and nan are refused. *value untouched on failure.
 */
bool number_parse(const char *s, double *value);
bool count_parse(const char *s, long *value); /* a whole number, sign allowed */

static inline int greater(int a, int b)
{
    return a > b ? a : b;
}

static inline int lesser(int a, int b)
{
    return a < b ? a : b;
}

/* The shortest decimal that reads back as exactly v; never an exponent for 1e-5 ≤ |v| < 1e15. No NaN. */
void number_format(double v, char out[32]);

/* Cuts the zeros at the end of what stands behind a point, and a point with nothing behind it. */
void number_trim(char *decimal);

/* For reading: as many decimals as so many significant digits leave, all digits before the point; trimmed, no -0. */
void number_short(double v, int digits, char out[64]);

/* The nearest number of 15 digits, for what a conversion left behind: 1.1 m are 110 cm, not 110.00000000000001. */
double number_without_dust(double v);

/*
 * Multiples of step: the nearest, the largest not above v, the smallest not below v. step > 0. A value within 1e-9
 * (relative to the count of steps) of a multiple counts as that multiple, so that 0.3/0.1 steps are 3, not 2.
 */
double round_near_to(double v, double step);
double round_down_to(double v, double step);
double round_up_to(double v, double step);
int step_decimals(double step); /* decimals that show step exactly, 0 to 6 */

/* ---- days and minutes -------------------------------------------------------------------------------------- */

/*
 * A day is the count of days since 1970-01-01 in the facility's own calendar; a moment is minutes since that day's
 * 00:00.
 */
#define DAY_NONE INT_MIN
#define MOMENT_NONE LONG_MIN
#define MIN_PER_DAY 1440L

enum { DAY_TEXT = 40, CLOCK_TEXT = 40, MOMENT_TEXT = 40 }; /* room for any value's text */

bool day_parse(const char *s, int *day); /* YYYY-MM-DD, years 1900 to 2199 */
void day_format(int day, char out[DAY_TEXT]);
int day_weekday(int day);                       /* 0 = Monday */
const char *weekday_name(int weekday);          /* "Monday"; borrowed, static */
bool moment_parse(const char *s, long *moment); /* YYYY-MM-DDTHH:MM, or a blank for the T */
void moment_format(long moment, char out[MOMENT_TEXT]);
int moment_day(long moment);
bool clock_parse(const char *s, int *minute);        /* HH:MM or H:MM, 00:00 to 23:59 */
bool clock_parse_long(const char *s, int *minute);   /* the same or past midnight, to 99:59: 24:10 is 00:10 */
void clock_format(int minute, char out[CLOCK_TEXT]); /* past midnight: "24:10" reads "00:10 +1d" */

/*
 * Days as spreadsheets write them. Beside YYYY-MM-DD (also with / or ., and single digits): DD.MM.YYYY, which is
 * written so only with the day first; 27-Nov-2026 and Nov 27, 2026; and 11/27/2026, which is read where only one order
 * makes a day of it, else by the order given. A year of two digits is of 2000 to 2099; with strokes it might stand
 * first, so that it is read only where it cannot, or in the order given. A clock of midnight behind the day is nothing
 * more than the day.
 */
enum day_order { DAY_ORDER_UNKNOWN, DAY_ORDER_DMY, DAY_ORDER_MDY };
enum day_reading { DAY_UNREAD, DAY_READ, DAY_AMBIGUOUS }; /* ambiguous: *day is one reading, *other another */
enum day_reading day_read(const char *s, enum day_order order, int *day, int *other);
enum day_order day_order_of(const char *s); /* what it gives away of the order its file is written in */

/* A day as above, then "T" or a blank and H:MM, with or without seconds (dropped) and AM or PM. */
enum day_reading moment_read(const char *s, enum day_order order, long *moment, long *other);
bool clock_read(const char *s, int *minute);

#include "neap/banned.h"

#endif
