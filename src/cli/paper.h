/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A page model on paper: drawn as PDF by neap-page, kept as a file or handed to the printer. */
#ifndef NEAP_CLI_PAPER_H
#define NEAP_CLI_PAPER_H

#include "cli.h"

#include "neap/print.h"

/* The options of every command that draws its page: --pdf FILE, --print, --paper. */
#define OPTIONS_PDF                                                                                                    \
    {"pdf", OPT_TEXT, "FILE", .help = "as PDF into a file, whole or not at all"},                                      \
    {                                                                                                                  \
        "print", OPT_FLAG, .help = "as PDF to the printer, by lp"                                                      \
    }
#define OPTIONS_PAPER                                                                                                  \
    OPTIONS_PDF,                                                                                                       \
    {                                                                                                                  \
        "paper", OPT_TEXT, "a4|letter", .help = "size of the paper; else letter in US units, a4 in metric"             \
    }

/* Is one of OPTIONS_PDF given, or of OPTIONS_PAPER? */
bool pdf_wanted(const struct context *c);
bool paper_wanted(const struct context *c);

/*
 * Does what they say with a document; what was done is told in c->out.
 *
 * Errors: ERR_MISUSE (paper of no such name), ERR_IO: neap-page or lp is not there, was ended or refused; nothing is
 *         half-written then.
 */
bool paper_make(struct context *c, const struct document *d, struct err *e);

/* The same of a command whose document is for one paper only, and which has no --paper. */
bool paper_make_on(struct context *c, const struct document *d, const char *paper, struct err *e);

#endif
