/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * why: the working behind what a round says, as steps of numbers with their origin.
 */
#ifndef NEAP_WHY_H
#define NEAP_WHY_H

#include "neap/plan.h"

enum why_part {
    WHY_NUMBER, /* a number that went in: value in unit, from origin */
    WHY_WORDS,  /* the same, where it is no number: words */
    WHY_RESULT, /* what the step comes to */
    WHY_NOTE    /* a sentence, such as which limit binds: words */
};

/* unit "clock": a minute of the day. Texts that do not apply are "". */
struct why_row {
    enum why_part part;
    const char *what;
    double value;
    const char *unit, *words;
    const char *origin; /* "tank D1", "setting rest_min (default)", "test of 2026-11-24, comparator" */
};

struct why_step {
    const char *title;
    const char *formula;
    struct why_row *rows;
    size_t n_rows, room;
};

/* Everything in the arena of the round that was explained. */
struct explanation {
    const char *subject; /* as understood: "line 12", "pot A", "system south" */
    const char *title;   /* what it is */
    const char *says;    /* what the sheet says of it, in words */
    double answer;       /* the sheet's number; NAN: it is in words */
    const char *unit;
    struct why_step *steps;
    size_t n_steps, room_steps;
    const char **sources; /* "food rich powder: N and P scaled from …" */
    size_t n_sources, room_sources;
};

/*
 * subjects: "12", "A", "south", "D1", "D1-002", or with the kind before it: "tank D1"; "sw3"; "head" and "totals" of
 * the round. answers has room for n.
 */
struct plan_question {
    const char *const *subjects;
    size_t n;
    struct explanation *answers;
};

/*
 * Works out what is fed in a kept round and explains it; the order of the lines and their minutes are the kept ones,
 * and are not sought again. kept: its indices are into f; borrowed until round_free. *r: its head, switchings and
 * lines, each with the amount that this working gives, pots and waitings; it owns the texts of the answers.
 * Errors: as plan_round; ERR_NOT_FOUND for a subject that is none of these.
 */
bool plan_explain(const struct facility *f, const struct plan_request *request, const struct round *kept,
                  struct plan_question *q, struct round *r, struct err *e);

/* What `stock` says of a food on a day. In the arena. Errors: ERR_MEMORY. */
bool stock_explain(const struct facility *f, int day, size_t food, struct arena *a, struct explanation *x,
                   struct err *e);

/*
 * How an explanation differs from an earlier one of the same subject: one sentence for each number that went in and is
 * another now. In the arena. Errors: ERR_MEMORY.
 */
bool explanation_changes(const struct explanation *then, const struct explanation *now, struct arena *a,
                         const char *const **changes, size_t *n, struct err *e);

#endif
