/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A sink that writes down what it is given, for the tests of the exchange floor. */
#ifndef NEAP_EXCHANGED_H
#define NEAP_EXCHANGED_H

#include "neap/exchange.h"
#include "tests.h"

struct heard {
    struct text rows; /* "tank: name=north rack, length_cm=120" and LF for each row; only present cells */
    struct faults faults;
    size_t n_rows, n_put;
    struct err e;
    bool ok;
    const char *refuse; /* what put says of every row; NULL: it takes all */
    enum err_code refuse_code;
    bool refuse_of_value;
    size_t refuse_field;
};

static inline bool heard_put(void *context, const struct exchange_row *row, size_t *field, struct err *e)
{
    struct heard *h = context;
    h->n_put++;
    assert_int_equal(*field, SIZE_MAX);
    if (h->refuse) {
        *field = h->refuse_field;
        return (h->refuse_of_value ? err_of_value(e, h->refuse_code, "%s", h->refuse)
                                   : err_set(e, h->refuse_code, NULL, "%s", h->refuse));
    }
    const char *between = ": ";
    text_add(&h->rows, row->reg->name);
    for (size_t i = 0; i < row->reg->n_fields; i++) {
        if (!row->present[i]) {
            assert_int_equal(row->cells[i].kind, CELL_EMPTY);
            continue;
        }
        text_addf(&h->rows, "%s%s=", between, row->reg->fields[i].name);
        cell_format(&row->reg->fields[i], &row->cells[i], &h->rows);
        between = ", ";
    }
    text_add(&h->rows, "\n");
    return true;
}

/* The same bytes as a file that is fetched, in pieces that are hardly ever whole lines. */
struct fetched {
    const char *bytes;
    size_t len, n;
    size_t most;    /* that were asked for at once */
    size_t fail_at; /* the n-th fetching fails; 0: none */
};

static inline bool heard_fetch(void *context, size_t at, size_t n, char *into, struct err *e)
{
    struct fetched *f = context;
    assert_true(at <= f->len && n <= f->len - at);
    if (n > 0)
        memcpy(into, f->bytes + at, n);
    f->most = n > f->most ? n : f->most;
    return ++f->n != f->fail_at || err_set(e, ERR_IO, NULL, "fetching failed");
}

static inline void expect_fetched_alike(const struct heard *h, const char *name, const char *bytes, size_t len)
{
    static const size_t rooms[] = {5, 64, 4096};
    for (size_t i = 0; i < COUNT_OF(rooms); i++) {
        struct heard other = {.refuse = h->refuse,
                              .refuse_code = h->refuse_code,
                              .refuse_of_value = h->refuse_of_value,
                              .refuse_field = h->refuse_field};
        struct fetched f = {.bytes = bytes, .len = len};
        other.ok = exchange_read(
            &(struct source){.name = name, .len = len, .fetch = heard_fetch, .context = &f, .room = rooms[i]}, NULL,
            &(struct exchange_sink){.put = heard_put, .context = &other}, &other.faults, &other.n_rows, &other.e);
        assert_true(other.ok == h->ok && other.n_rows == h->n_rows && other.faults.n == h->faults.n);
        assert_string_equal(text_str(&other.rows), text_str(&h->rows));
        assert_string_equal(text_str(&other.faults.lines), text_str(&h->faults.lines));
        assert_string_equal(text_str(&other.faults.notes), text_str(&h->faults.notes));
        text_free(&other.rows);
        faults_free(&other.faults);
    }
}

static inline void hear_bytes(struct heard *h, const char *name, const char *bytes, size_t len)
{
    /* a copy of exactly this size, so that the sanitizer sees a read past its end */
    char *exact = malloc(len == 0 ? 1 : len);
    assert_non_null(exact);
    if (len > 0)
        memcpy(exact, bytes, len);
    h->ok = exchange_read(&(struct source){.name = name, .bytes = exact, .len = len}, NULL,
                          &(struct exchange_sink){.put = heard_put, .context = h}, &h->faults, &h->n_rows, &h->e);
    expect_fetched_alike(h, name, exact, len);
    free(exact);
}

static inline void hear(struct heard *h, const char *name, const char *text)
{
    hear_bytes(h, name, text, strlen(text));
}

static inline void heard_free(struct heard *h)
{
    text_free(&h->rows);
    faults_free(&h->faults);
    *h = (struct heard){0};
}

/* A small generator with a fixed seed (Marsaglia, "Xorshift RNGs", J. Stat. Softw. 8(14), 2003). */
static inline uint32_t next_random(uint32_t *x)
{
    *x ^= *x << 13;
    *x ^= *x >> 17;
    *x ^= *x << 5;
    return *x;
}

/* Reads text and expects these rows and these faults, word for word. */
static inline void expect_heard(const char *name, const char *text, const char *rows, const char *faults)
{
    struct heard h = {0};
    hear(&h, name, text);
    assert_true(h.ok);
    assert_string_equal(text_str(&h.faults.lines), faults);
    assert_string_equal(text_str(&h.rows), rows);
    heard_free(&h);
}

#endif
