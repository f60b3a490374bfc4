/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A store with some of its bytes changed: four bytes each, three for the place (in the file, wrapped around) and one
 * for the value. It is read as the commands read it. What it holds may be refused; a changed figure must not pass the
 * audit.
 */
#include "fuzz.h"
#include "neap/store.h"
#include "store/internal.h"

#include <unistd.h>

enum { CHANGE_BYTES = 4 };

static struct base {
    unsigned char *bytes;
    size_t n;
    char path[64];
} base;

static void put(struct store *s, enum reg_id id, const char *const words[], size_t n)
{
    const struct reg *r = reg_get(id);
    struct cell cells[FIELDS_MAX] = {{0}};
    bool present[FIELDS_MAX] = {false};
    struct arena a = {0};
    struct err e = {0};
    enum put outcome;
    size_t field;
    bool ok = true;
    for (size_t i = 0; i < n; i++) {
        char name[64];
        const char *value = strchr(words[i], '=');
        snprintf(name, sizeof name, "%.*s", (int)(value - words[i]), words[i]);
        field = reg_field(r, name);
        fuzz_hold(field != SIZE_MAX);
        ok = ok && cell_parse(&r->fields[field], value + 1, &a, &cells[field], &e);
        present[field] = true;
    }
    ok = ok && store_begin(s, &e) && store_put(s, r, cells, present, &outcome, &field, &e) &&
         store_commit(s, "neap add", 29700000, &e);
    if (!ok)
        fprintf(stderr, "%s\n", e.text);
    fuzz_hold(ok);
    arena_free(&a);
}

#define PUT(id, ...)                                                                                                   \
    put(s, id, (const char *const[]){__VA_ARGS__}, sizeof((const char *const[]){__VA_ARGS__}) / sizeof(char *))

static void remove_base(void)
{
    store_remove(base.path);
    *strrchr(base.path, '/') = '\0';
    rmdir(base.path);
    free(base.bytes);
}

static void make_base(void)
{
    char folder[] = "/tmp/neap-fuzz-XXXXXX";
    struct store *s = NULL;
    struct err e;
    fuzz_hold(mkdtemp(folder) != NULL);
    snprintf(base.path, sizeof base.path, "%s/s.neap", folder);
    fuzz_hold(store_open(base.path, STORE_CREATE, &s, &e));
    PUT(REG_SYSTEM, "name=reef", "sump_volume_l=100");
    PUT(REG_TANK, "name=R1", "system=reef", "shape=box", "length_cm=100", "width_cm=60", "water_cm=50");
    PUT(REG_TANK, "name=R2", "system=reef", "shape=stated", "net_volume_l=250");
    PUT(REG_FOOD, "name=plankton", "form=frozen", "unit=g", "ceiling_units_per_100l=5");
    PUT(REG_LOT, "code=P-1", "food=plankton", "amount_units=100");
    PUT(REG_TEST, "system=reef", "taken=2026-11-26T08:00", "analyte=no3", "value=6");
    PUT(REG_TEST, "system=reef", "taken=2026-11-27T08:00", "analyte=po4", "value=0.05");
    store_close(s);
    FILE *f = fopen(base.path, "rb");
    fuzz_hold(f != NULL);
    fseek(f, 0, SEEK_END);
    base.n = (size_t)ftell(f);
    rewind(f);
    base.bytes = malloc(base.n);
    fuzz_hold(base.bytes && fread(base.bytes, 1, base.n, f) == base.n);
    fclose(f);
    atexit(remove_base);
}

static void write_changed(const uint8_t *bytes, size_t n)
{
    unsigned char *changed = malloc(base.n);
    fuzz_hold(changed != NULL);
    memcpy(changed, base.bytes, base.n);
    for (size_t i = 0; i + CHANGE_BYTES <= n; i += CHANGE_BYTES)
        changed[((size_t)bytes[i] << 16 | (size_t)bytes[i + 1] << 8 | bytes[i + 2]) % base.n] = bytes[i + 3];
    FILE *f = fopen(base.path, "wb");
    fuzz_hold(f && fwrite(changed, 1, base.n, f) == base.n);
    fclose(f);
    free(changed);
}

static bool take_row(void *context, const struct cell *cells, struct err *e)
{
    (void)cells, (void)e;
    ++*(size_t *)context;
    return true;
}

static bool take_entry(void *context, const struct entry *entry, struct err *e)
{
    (void)entry, (void)e;
    ++*(size_t *)context;
    return true;
}

/* The figures of the snapshot; what was made of bytes nobody changed is known. */
static double read_all(struct store *s, bool *whole)
{
    struct facility f;
    struct err e;
    size_t n = 0;
    double sum = 0;
    *whole = store_snapshot(s, &(struct look_back){.day = DAY_NONE}, &f, &e);
    if (*whole) {
        for (size_t i = 0; i < f.n_tanks; i++)
            sum += isnan(f.tanks[i].water_cm) ? 1 : f.tanks[i].length_cm + 3 * f.tanks[i].water_cm;
        for (size_t i = 0; i < f.n_tests; i++)
            sum += 7 * f.tests[i].value + (double)f.tests[i].taken;
        for (size_t i = 0; i < f.n_lots; i++)
            sum += 11 * f.lots[i].amount_units;
        facility_free(&f);
    }
    for (size_t id = 0; id < N_REGS; id++)
        store_each(s, reg_get((enum reg_id)id), take_row, &n, &e);
    store_each_entry(s, -1, take_entry, &n, &e);
    return sum;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    static double as_made;
    struct store *s;
    struct text findings = {0};
    struct err e;
    size_t n_found = 0;
    bool whole;
    if (!base.bytes) {
        make_base();
        fuzz_hold(store_open(base.path, STORE_READ, &s, &e));
        as_made = read_all(s, &whole);
        store_close(s);
        fuzz_hold(whole);
    }
    write_changed(bytes, n);
    if (store_open(base.path, STORE_READ, &s, &e)) {
        double sum = read_all(s, &whole);
        bool sound = store_audit(s, &findings, &n_found, &e) && n_found == 0;
        fuzz_hold(!sound || !whole || sum == as_made || isnan(sum));
        store_close(s);
    }
    text_free(&findings);
    return 0;
}
