/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A file to load: its name, a line; then its bytes. */
#include "fuzz.h"
#include "neap/exchange.h"

enum { NAME_MAX_BYTES = 64 };

/* What is handed on is right by the field table, or the row is not handed on. */
static bool take(void *context, const struct exchange_row *row, size_t *field, struct err *e)
{
    size_t *n = context;
    fuzz_hold(row->reg && *field == SIZE_MAX);
    (void)e;
    for (size_t i = 0; i < row->reg->n_fields; i++)
        fuzz_hold(row->cells[i].kind != CELL_NUMBER || isfinite(row->cells[i].number));
    ++*n;
    return true;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    char name[NAME_MAX_BYTES] = "tank.csv";
    const uint8_t *end = n > 0 ? memchr(bytes, '\n', n) : NULL;
    size_t n_name = end ? (size_t)(end - bytes) : 0, taken = 0, rows = 0;
    if (end && n_name > 0 && n_name < sizeof name && !memchr(bytes, 0, n_name)) {
        memcpy(name, bytes, n_name);
        name[n_name] = '\0';
    }
    size_t skip = end ? n_name + 1 : 0;
    char *own = malloc(n - skip + 1); /* of the right size, so that a byte too far is noticed */
    if (!own)
        return 0;
    if (n > skip)
        memcpy(own, bytes + skip, n - skip);
    const struct source src = {.name = name, .bytes = own, .len = n - skip};
    const struct exchange_sink sink = {take, &taken, NULL};
    struct faults faults = {{0}, {0}, 0};
    struct err e = {0};
    if (exchange_read(&src, NULL, &sink, &faults, &rows, &e))
        fuzz_hold(taken <= rows);
    faults_free(&faults);
    free(own);
    return 0;
}
