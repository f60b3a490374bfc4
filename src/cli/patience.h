/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A search that somebody at a terminal looks on at: it shows the best round so far, and any key keeps that one. */
#ifndef NEAP_CLI_PATIENCE_H
#define NEAP_CLI_PATIENCE_H

#include "cli.h"

#include "neap/schedule.h"

#include <termios.h>

struct patience {
    struct order_watch watch;
    struct termios before; /* how the terminal was */
    bool at_terminal;
    bool broken_off; /* by Ctrl-C: nothing is to be kept */
    bool key_pressed;
    int shown_min; /* the best round so far, as shown; 0: none yet */
    long n_asked;
};

/* Is somebody there to look on? If so p->watch may be handed to a plan, up to patience_end. */
bool patience_begin(struct patience *p, const struct context *c);
/* Gives the terminal back. ERR_IO where the search was broken off. Fine where nobody was there. */
bool patience_end(struct patience *p, struct err *e);

#endif
