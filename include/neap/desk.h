/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * desk: the calculator of the desk. A calculation is a row that says what it takes and what it answers. To add one:
 * write its row and run in one of src/desk, and name it in desk.c.
 */
#ifndef NEAP_DESK_H
#define NEAP_DESK_H

#include "neap/calc.h"
#include "neap/facility.h"

enum { CALC_INPUTS_MAX = 14, CALC_ANSWERS_MAX = 24, CALC_KEY_TEXT = 40 };

enum calc_input_type {
    INPUT_QUANTITY,      /* in unit; a bare number is taken to be in it */
    INPUT_NUMBER,        /* has no unit */
    INPUT_FRACTION,      /* 10% or 0.1 */
    INPUT_PART,          /* a fraction, or a volume in L */
    INPUT_AMOUNT,        /* g, or a volume in L */
    INPUT_CONCENTRATION, /* any unit, or none: what counts is that both are alike */
    INPUT_WORD
};

struct calc_input {
    const char *name;
    enum calc_input_type type;
    const char *unit; /* INPUT_QUANTITY: as shown and parsed */
    const char *key;  /* in JSON: the name with its unit (which a part and an amount bring along) */
    const char *help;
};

struct calc_value {
    const char *typed; /* NULL: not given */
    double value;
    struct quantity quantity; /* as it was written */
};

struct calc_answer {
    const char *label; /* answers of one label stand on one line */
    char key[CALC_KEY_TEXT];
    double value;
    const char *unit; /* "" for none; one that begins with % shows a fraction as percent */
    int digits;       /* shown, significant */
};

/* One use of the calculator. Nothing is allocated but words. */
struct calc {
    const struct calculation *what;
    bool us_units;
    struct calc_value in[CALC_INPUTS_MAX];
    const char *words; /* the arguments of a calculation that takes no inputs by name */
    struct calc_answer answers[CALC_ANSWERS_MAX];
    size_t n_answers;
    const char *formula; /* begins as that of the row; a run may set the one that it used */
    const char *caution; /* NULL: none */
};

struct calculation {
    const char *name;
    const char *summary;
    const char *usage;
    const char *formula;             /* in words */
    const char *example;             /* its words, which run as they stand */
    const struct calc_input *inputs; /* ends with a row without a name; NULL: takes words */
    bool (*run)(struct calc *k, struct err *e);
};

extern const struct calculation *const calculations[]; /* ends with NULL */

/* By its name. NULL and ERR_MISUSE, offering the nearest. */
const struct calculation *calc_find(const char *name, struct err *e);

/*
 * Reads the words as inputs of k->what, and answers. What k keeps of them is the arena's. Errors: ERR_MISUSE,
 * ERR_INPUT.
 */
bool calc_run(struct calc *k, const char *const *words, size_t n, struct arena *a, struct err *e);

/* ---- for the runs of src/desk ------------------------------------------------------------------------------------ */

extern const struct calculation calc_volume, calc_convert, calc_dilute, calc_dose, calc_broadcast, calc_change,
    calc_density, calc_strength, calc_ratio, calc_drops, calc_ammonia, calc_label;

/* The place of an input among those of a calculation; SIZE_MAX: it takes none of this name. */
size_t calc_input_named(const struct calculation *what, const char *name);

/* The value of an input by its name; fallback where it was not given. */
double calc_in(const struct calc *k, const char *name, double fallback);
bool calc_given(const struct calc *k, const char *name);
const struct calc_value *calc_value(const struct calc *k, const char *name);

void calc_answer(struct calc *k, const char *label, const char *key, double value, const char *unit, int digits);
/* In metric and US units, the asked-for first. stem: the key without its unit. */
void calc_answer_litres(struct calc *k, const char *label, const char *stem, double litres);
void calc_answer_ml(struct calc *k, const char *label, const char *stem, double ml);
void calc_answer_g(struct calc *k, const char *label, const char *stem, double g);

/* Refuses with what the calculation needs. */
bool calc_needs(const struct calc *k, const char *what, struct err *e);

#endif
