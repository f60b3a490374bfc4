/* What the parts of the round sheet share. Inside the print floor only. */
#ifndef NEAP_PRINT_SHEET_H
#define NEAP_PRINT_SHEET_H

#include "neap/print.h"

struct sheet {
    const struct facility *f;
    const struct round *r;
    const bool *done;                    /* per line, by its place; NULL: none is */
    const struct round_changes *changes; /* NULL: none */
    const bool *not_given;               /* of those that are done; NULL: none is */
    const struct batch *batches;         /* by the minute they are mixed */
    size_t n_batches;
    bool us;
    struct document *d;
};

const char *clock_words(struct sheet *s, int minute);

void put_clock(struct sheet *s); /* clock.c: the strip, the flows to turn back on, a list per feeder */

#endif
