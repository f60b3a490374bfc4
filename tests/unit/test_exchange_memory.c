/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the exchange floor does when memory runs out: the n-th allocation fails, for n = 1, 2, 3 … until a run meets no
 * failure. This program's own malloc stands before the C library's, for libcsv and cJSON too; the address sanitizer has
 * its own, so that under it only the run without failure is made.
 */
#include "exchanged.h"

#include <errno.h>

#if defined(__SANITIZE_ADDRESS__)
#define OWN_MALLOC 0
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define OWN_MALLOC 0
#endif
#endif
#ifndef OWN_MALLOC
#define OWN_MALLOC 1
#endif

static struct {
    long countdown; /* 0: no failure */
    bool on;
    long live;
} heap; /* malloc has no argument to hand it down by */

#if OWN_MALLOC
void *__libc_malloc(size_t n);
void *__libc_calloc(size_t n, size_t size);
void *__libc_realloc(void *p, size_t n);
void __libc_free(void *p);

static bool denied(void)
{
    if (!heap.on || heap.countdown == 0 || --heap.countdown > 0)
        return false;
    errno = ENOMEM;
    return true;
}

static void *counted(void *p)
{
    heap.live += heap.on && p;
    return p;
}

void *malloc(size_t n)
{
    return denied() ? NULL : counted(__libc_malloc(n));
}

void *calloc(size_t n, size_t size)
{
    return denied() ? NULL : counted(__libc_calloc(n, size));
}

void *realloc(void *p, size_t n)
{
    if (denied())
        return NULL;
    void *moved = __libc_realloc(p, n);
    heap.live += heap.on && !p && moved;
    return moved;
}

void free(void *p)
{
    heap.live -= heap.on && p;
    __libc_free(p);
}
#endif

static const char csv[] =
    "name,system,length_in,note,colour\nA,north,48,\"a, \"\"b\"\"\",x\nB,south,four,Gr\xC3\xBCn,x\n";
static const char json[] =
    "{\"schema\":1,\"tank\":[{\"name\":\"A\",\"length_in\":48,\"note\":null},{\"name\":\"B\",\"fish\":1}]}";

struct memory_trial {
    struct text out;
    struct json_dump *dump;
    size_t n_faults;
};

static bool put(void *context, const struct exchange_row *row, size_t *field, struct err *e)
{
    struct memory_trial *t = context;
    (void)field;
    csv_write_row(row->reg, row->cells, NULL, &t->out);
    if (t->out.failed)
        return err_memory(e);
    return json_dump_row(t->dump, row->reg, row->cells, e);
}

/* One way through the whole floor: read both files, write both formats. */
static bool run(struct memory_trial *t, struct err *e)
{
    struct exchange_sink sink = {.put = put, .context = t};
    struct faults faults = {0};
    size_t n;
    bool ok = (t->dump = json_dump_new(e)) != NULL;
    ok = ok && exchange_read(&(struct source){.name = "tank.csv", .bytes = csv, .len = sizeof csv - 1}, NULL, &sink,
                             &faults, &n, e);
    ok = ok && exchange_read(&(struct source){.name = "f.json", .bytes = json, .len = sizeof json - 1}, NULL, &sink,
                             &faults, &n, e);
    ok = ok && json_dump_text(t->dump, &t->out, e);
    t->n_faults = faults.n;
    json_dump_free(t->dump);
    faults_free(&faults);
    return ok;
}

static void every_allocation_may_fail_and_is_told(void **state)
{
    (void)state;
    const long most = OWN_MALLOC ? 5000 : 0;
    struct text whole = {0};
    bool met = true;
    for (long n = 0; n <= most && met; n++) {
        struct memory_trial t = {0};
        struct err e = {0};
        heap.live = 0;
        heap.countdown = n;
        heap.on = OWN_MALLOC;
        bool ok = run(&t, &e);
        heap.on = false;
        met = n == 0 || heap.countdown == 0;
        if (n == 0)
            text_add(&whole, text_str(&t.out));
        if (ok) { /* also where only a suggestion went missing */
            assert_int_equal(t.n_faults, 3);
            assert_string_equal(text_str(&t.out), text_str(&whole));
        } else {
            assert_true(n > 0);
            assert_int_equal(e.code, ERR_MEMORY);
        }
        heap.on = OWN_MALLOC;
        text_free(&t.out);
        heap.on = false;
        assert_int_equal(heap.live, 0);
    }
    assert_true(!OWN_MALLOC || !met);
    text_free(&whole);
}

SUITE(exchange_memory)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_allocation_may_fail_and_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
