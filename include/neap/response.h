/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * response: what the corals' responses do to a portion. Rules: docs/round.md.
 */
#ifndef NEAP_RESPONSE_H
#define NEAP_RESPONSE_H

#include "neap/base.h"

/*
 * One round in which a colony was fed: its mean score, NAN where nobody scored it, and whether it refused. A refusal
 * without a score counts 0. Fed without a score says that it was not refused, and no more.
 */
struct judged {
    int day;
    double score;
    bool refused;
};

struct response {
    double portion_frac;      /* of the kind's portion: 0.5 to 1 */
    int n_last, refused_last; /* of the last three rounds: how many there are, how many refused */
    double mean_last;         /* mean of their scores; NAN: none */
    bool refused;             /* in the very last of them */
    bool close;               /* twice refused, or little taken three times: to be looked at closely */
    int day;                  /* of the last; DAY_NONE: none */
};

/* rounds: by day, the earliest first. */
void response_judge(const struct judged *rounds, size_t n, struct response *out);

/* Why somebody is to look at it: "refused 2 of the last 3 rounds, 0.75 of the portion"; "": nothing of note. */
bool response_note(const struct response *s, struct arena *a, const char **note, struct err *e);

#endif
