/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a person types for a number, a quantity, a day or a line of the log: each reader is given the whole of it. */
#include "fuzz.h"
#include "neap/calc.h"
#include "neap/facility.h"
#include "neap/log.h"

static void read_base(const char *s)
{
    double value;
    long count, moment;
    int day, again, minute;
    char text[MOMENT_TEXT], day_text[DAY_TEXT];
    if (number_parse(s, &value))
        fuzz_hold(isfinite(value));
    count_parse(s, &count);
    if (day_parse(s, &day)) {
        day_format(day, day_text);
        fuzz_hold(strcmp(day_text, s) == 0 && day_parse(day_text, &again) && again == day);
    }
    if (moment_parse(s, &moment)) {
        moment_format(moment, text);
        fuzz_hold(strncmp(text, s, DAY_TEXT - 1) == 0);
    }
    if (clock_parse(s, &minute))
        fuzz_hold(minute >= 0 && minute < MIN_PER_DAY);
}

static void read_quantity(const char *s)
{
    struct quantity q;
    struct err e = {0};
    double value;
    if (!quantity_parse(s, &q, &e)) {
        fuzz_hold(e.code != ERR_NONE && e.text[0]);
        return;
    }
    fuzz_hold(isfinite(q.value) && q.kind < N_QUANTITY_KINDS);
    if (quantity_in(&q, "usgal", &value, &e))
        fuzz_hold(isfinite(value));
    rate_parse(s, &q, &e);
}

/* As a cell of every field, in a file and on the command line. */
static void read_cells(const char *s)
{
    for (size_t id = 0; id < N_REGS; id++) {
        const struct reg *r = reg_get((enum reg_id)id);
        for (size_t i = 0; i < r->n_fields; i++) {
            struct arena a = {0};
            struct cell c;
            struct err e = {0};
            if (cell_parse(&r->fields[i], s, &a, &c, &e))
                fuzz_hold(c.kind != CELL_NUMBER || isfinite(c.number));
            if (cell_read(&r->fields[i], s, &a, &c, &e))
                fuzz_hold(c.kind != CELL_NUMBER || isfinite(c.number));
            arena_free(&a);
        }
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    static const struct gravity_scale scale = {25, 25};
    const char *at = memchr(bytes, '=', n);
    char *s = malloc(n + 1);
    struct log_word word;
    struct measured m;
    struct err e = {0};
    if (!s)
        return 0;
    memcpy(s, bytes, n);
    s[n] = '\0';
    read_base(s);
    read_quantity(s);
    read_cells(s);
    log_word_parse(s, &word, &e);
    if (at) { /* po4=0.02 ppm */
        s[at - (const char *)bytes] = '\0';
        if (measured_parse(s, s + (at - (const char *)bytes) + 1, &scale, &m, &e))
            fuzz_hold(isfinite(m.value));
    }
    free(s);
    return 0;
}
