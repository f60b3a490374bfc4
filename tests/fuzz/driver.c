/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Runs a fuzz target without libFuzzer: every file of its corpus as it is, then RUNS changes of them. The same seed, so
 * the same bytes each time. usage: TARGET RUNS FILE…
 */
#include "fuzz.h"
#include "neap/base.h"

enum { BYTES_MAX = 8192, FILES_MAX = 512, CHANGES_MOST = 6 };

struct input {
    uint8_t *bytes;
    size_t n;
};

/* Xorshift32 (Marsaglia 2003). */
static uint32_t chance(uint32_t *x, size_t n)
{
    *x ^= *x << 13;
    *x ^= *x >> 17;
    *x ^= *x << 5;
    return *x % (uint32_t)(n ? n : 1);
}

static struct input file_read(const char *path)
{
    struct input in = {malloc(BYTES_MAX), 0};
    FILE *f = fopen(path, "rb");
    if (!f || !in.bytes) {
        fprintf(stderr, "%s: cannot be read\n", path);
        exit(2);
    }
    in.n = fread(in.bytes, 1, BYTES_MAX, f);
    fclose(f);
    return in;
}

/* One byte changed, put in or taken out; a piece doubled; a piece of another file put in. */
static size_t change(uint8_t *bytes, size_t n, const struct input *other, uint32_t *x)
{
    static const char telling[] = "\0\n\r\t ,;.:-+=\"'{}[]<>%/\\09eEnN\x7f\x80\xff";
    size_t at = chance(x, n), len = chance(x, 32), from = chance(x, other->n);
    switch (chance(x, 6)) {
    case 0: bytes[at] ^= (uint8_t)(1u << chance(x, 8)); return n;
    case 1: bytes[at] = (uint8_t)telling[chance(x, sizeof telling)]; return n;
    case 2:
        if (n + 1 > BYTES_MAX)
            return n;
        memmove(bytes + at + 1, bytes + at, n - at);
        bytes[at] = (uint8_t)telling[chance(x, sizeof telling)];
        return n + 1;
    case 3:
        len = len < n - at ? len : n - at;
        memmove(bytes + at, bytes + at + len, n - at - len);
        return n - len;
    case 4:
        len = len < n - at ? len : n - at;
        if (n + len > BYTES_MAX)
            return n;
        memmove(bytes + at + len, bytes + at, n - at);
        return n + len;
    default:
        len = len < other->n - from ? len : other->n - from;
        len = len < n - at ? len : n - at;
        memcpy(bytes + at, other->bytes + from, len);
        return n;
    }
}

int main(int argc, char **argv)
{
    static struct input files[FILES_MAX];
    static uint8_t bytes[BYTES_MAX + 1];
    size_t n_files = 0;
    uint32_t x = 1;
    if (argc < 3) {
        fprintf(stderr, "usage: %s RUNS FILE...\n", argv[0]);
        return 2;
    }
    long runs = strtol(argv[1], NULL, 10);
    for (; n_files < FILES_MAX && n_files + 2 < (size_t)argc; n_files++) {
        files[n_files] = file_read(argv[n_files + 2]);
        LLVMFuzzerTestOneInput(files[n_files].bytes, files[n_files].n);
    }
    for (long run = 0; run < runs; run++) {
        const struct input *in = &files[chance(&x, n_files)];
        size_t n = in->n;
        memcpy(bytes, in->bytes, n);
        for (uint32_t k = 1 + chance(&x, CHANGES_MOST); k > 0 && n > 0; k--)
            n = change(bytes, n, &files[chance(&x, n_files)], &x);
        LLVMFuzzerTestOneInput(bytes, n);
    }
    for (size_t i = 0; i < n_files; i++)
        free(files[i].bytes);
    printf("%ld checks passed\n", (long)n_files + runs);
    return 0;
}
