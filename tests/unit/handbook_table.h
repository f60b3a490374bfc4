/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Published data that a test computes from as a whole: tests/handbook/trend-*.csv, comment lines with the source, a
 * heading, then a table of numbers; "NA" is NAN. What the data should come to stands in the test. One published answer
 * a row is read by handbook_checks.h instead.
 */
#ifndef NEAP_HANDBOOK_TABLE_H
#define NEAP_HANDBOOK_TABLE_H

#include "numbers.h"

enum { HANDBOOK_ROWS = 400, HANDBOOK_COLS = 8 };

struct handbook {
    size_t rows, cols;
    double cell[HANDBOOK_ROWS][HANDBOOK_COLS];
};

static inline void handbook_read(const char *path, struct handbook *h)
{
    char line[512];
    bool heading = true;
    FILE *f = fopen(path, "r");
    if (!f)
        fail_msg("%s is missing: run the tests from the top folder", path);
    h->rows = h->cols = 0;
    while (fgets(line, sizeof line, f)) {
        if (line[0] == '#')
            continue;
        if (heading) {
            heading = false;
            continue;
        }
        line[strcspn(line, "\r\n")] = '\0';
        size_t col = 0;
        for (char *cell = line, *next; cell; cell = next, col++) {
            next = strchr(cell, ',');
            if (next)
                *next++ = '\0';
            assert_true(h->rows < HANDBOOK_ROWS && col < HANDBOOK_COLS);
            if (strcmp(cell, "NA") == 0)
                h->cell[h->rows][col] = NAN;
            else
                assert_true(number_parse(cell, &h->cell[h->rows][col]));
        }
        h->cols = col;
        h->rows++;
    }
    fclose(f);
}

#endif
