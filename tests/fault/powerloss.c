/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * [store 1] [store 2] The power fails at each write, sync and deletion of a run of commands, one after another. The
 * disk below is a shim under SQLite's own: of what was written and not yet synced, each write is kept, lost, or torn at
 * a sector, whichever the seed says, so that later ones may be there without earlier ones. A file that was deleted
 * without a sync of its folder may be back. Then the store must open, pass its audit, and have every entry that was
 * acknowledged, whole, and at most the one that was being made.
 *
 * usage: powerloss SEEDS. At the end the syncs lie, so that it is seen that a loss would be noticed.
 */
#include "neap/store.h"
#include "store/internal.h"

#include <unistd.h>

enum { COMMITS = 9, ROWS_MOST = 60, REOPEN_EVERY = 4, SECTOR = 512, DISKS = 8, LIE_STEP = 20, PATH_ROOM = 256 };

/* ---- the disk ---------------------------------------------------------------------------------------------------- */

struct bytes {
    unsigned char *at;
    size_t n;
    bool there;
};

/* at NULL: a truncation to offset. */
struct pending {
    unsigned char *at;
    size_t n, offset;
};

struct disk {
    char path[PATH_ROOM];
    struct bytes kept; /* what a loss leaves for certain */
    bool gone;         /* deleted, and its folder not synced */
    struct pending *pending;
    size_t n_pending, room;
};

static struct {
    struct disk disks[DISKS];
    size_t n;
    long ops, dies_at;
    bool dead, lies;
    uint32_t random;
    sqlite3_vfs *real;
} world;

static void *must(void *p)
{
    if (!p) {
        fputs("powerloss: out of memory\n", stderr);
        exit(2);
    }
    return p;
}

/* Xorshift32 (Marsaglia 2003). */
static uint32_t chance(uint32_t n)
{
    world.random ^= world.random << 13;
    world.random ^= world.random >> 17;
    world.random ^= world.random << 5;
    return world.random % n;
}

static struct bytes file_read(const char *path)
{
    struct bytes b = {0};
    FILE *f = fopen(path, "rb");
    if (!f)
        return b;
    b.there = true;
    fseek(f, 0, SEEK_END);
    b.n = (size_t)ftell(f);
    rewind(f);
    b.at = must(malloc(b.n + 1));
    b.n = fread(b.at, 1, b.n, f);
    fclose(f);
    return b;
}

static void file_write(const char *path, const struct bytes *b)
{
    FILE *f = b->there ? fopen(path, "wb") : NULL;
    if (!b->there)
        unlink(path);
    if (f) {
        fwrite(b->at, 1, b->n, f);
        fclose(f);
    }
}

static struct disk *disk_of(const char *path)
{
    for (size_t i = 0; i < world.n; i++)
        if (strcmp(world.disks[i].path, path) == 0)
            return &world.disks[i];
    struct disk *d = &world.disks[world.n++];
    *d = (struct disk){0};
    snprintf(d->path, sizeof d->path, "%s", path);
    d->kept = file_read(path);
    return d;
}

static void forget_pending(struct disk *d)
{
    for (size_t i = 0; i < d->n_pending; i++)
        free(d->pending[i].at);
    d->n_pending = 0;
}

static void add_pending(struct disk *d, const void *bytes, size_t n, size_t offset)
{
    d->pending = must(mem_grow(d->pending, &d->room, d->n_pending + 1, sizeof *d->pending));
    struct pending *p = &d->pending[d->n_pending++];
    *p = (struct pending){bytes ? must(malloc(n)) : NULL, n, offset};
    if (bytes)
        memcpy(p->at, bytes, n);
}

static void grow_to(struct bytes *b, size_t n)
{
    if (n <= b->n)
        return;
    b->at = must(realloc(b->at, n));
    memset(b->at + b->n, 0, n - b->n);
    b->n = n;
}

/* first to last: of the bytes of the write. */
static void apply(struct bytes *b, const struct pending *p, size_t first, size_t last)
{
    b->there = true;
    if (!p->at) {
        grow_to(b, p->offset);
        b->n = p->offset;
    } else if (first < last) {
        grow_to(b, p->offset + last);
        memcpy(b->at + p->offset + first, p->at + first, last - first);
    }
}

static void sync_disk(struct disk *d)
{
    for (size_t i = 0; i < d->n_pending; i++)
        apply(&d->kept, &d->pending[i], 0, d->pending[i].n);
    d->kept.there = true;
    d->gone = false;
    forget_pending(d);
}

/* What is on the disk when the power is back. */
static void lose_power(void)
{
    for (size_t i = 0; i < world.n; i++) {
        struct disk *d = &world.disks[i];
        if (d->gone && chance(2) == 0) {
            d->kept = (struct bytes){0};
        } else {
            for (size_t k = 0; k < d->n_pending; k++) {
                const struct pending *p = &d->pending[k];
                size_t sectors = p->n / SECTOR + 1, cut = SECTOR * chance((uint32_t)sectors);
                switch (chance(4)) {
                case 0: break;
                case 1: apply(&d->kept, p, 0, cut); break;
                case 2: apply(&d->kept, p, cut, p->n); break;
                default: apply(&d->kept, p, 0, p->n); break;
                }
            }
        }
        file_write(d->path, &d->kept);
        forget_pending(d);
        free(d->kept.at);
        free(d->pending);
    }
    world.n = 0;
}

/* ---- the shim ---------------------------------------------------------------------------------------------------- */

struct shim {
    sqlite3_file base;
    struct disk *disk; /* NULL: a file that no loss is asked of, such as a temporary one */
    sqlite3_file *real;
};

static sqlite3_file *real_of(sqlite3_file *f)
{
    return ((struct shim *)f)->real;
}

/* Counts the deed; from dies_at on there is no power. */
static bool has_power(const struct disk *d)
{
    if (d && ++world.ops >= world.dies_at)
        world.dead = true;
    return !world.dead;
}

static int shim_close(sqlite3_file *f)
{
    return real_of(f)->pMethods->xClose(real_of(f));
}

static int shim_read(sqlite3_file *f, void *to, int n, sqlite3_int64 at)
{
    return real_of(f)->pMethods->xRead(real_of(f), to, n, at);
}

static int shim_write(sqlite3_file *f, const void *from, int n, sqlite3_int64 at)
{
    struct disk *d = ((struct shim *)f)->disk;
    if (world.dead)
        return SQLITE_IOERR_WRITE;
    if (d)
        add_pending(d, from, (size_t)n, (size_t)at);
    return has_power(d) ? real_of(f)->pMethods->xWrite(real_of(f), from, n, at) : SQLITE_IOERR_WRITE;
}

static int shim_truncate(sqlite3_file *f, sqlite3_int64 size)
{
    struct disk *d = ((struct shim *)f)->disk;
    if (world.dead)
        return SQLITE_IOERR_TRUNCATE;
    if (d)
        add_pending(d, NULL, 0, (size_t)size);
    return has_power(d) ? real_of(f)->pMethods->xTruncate(real_of(f), size) : SQLITE_IOERR_TRUNCATE;
}

static int shim_sync(sqlite3_file *f, int flags)
{
    struct disk *d = ((struct shim *)f)->disk;
    (void)flags;
    if (!has_power(d))
        return SQLITE_IOERR_FSYNC;
    if (d && !world.lies)
        sync_disk(d);
    return SQLITE_OK;
}

static int shim_size(sqlite3_file *f, sqlite3_int64 *size)
{
    return real_of(f)->pMethods->xFileSize(real_of(f), size);
}

static int shim_lock(sqlite3_file *f, int level)
{
    return real_of(f)->pMethods->xLock(real_of(f), level);
}

static int shim_unlock(sqlite3_file *f, int level)
{
    return real_of(f)->pMethods->xUnlock(real_of(f), level);
}

static int shim_reserved(sqlite3_file *f, int *held)
{
    return real_of(f)->pMethods->xCheckReservedLock(real_of(f), held);
}

static int shim_control(sqlite3_file *f, int op, void *arg)
{
    return real_of(f)->pMethods->xFileControl(real_of(f), op, arg);
}

static int shim_sector(sqlite3_file *f)
{
    (void)f;
    return SECTOR;
}

/* None of the promises that spare SQLite a sync. */
static int shim_traits(sqlite3_file *f)
{
    (void)f;
    return 0;
}

static int shim_shm_map(sqlite3_file *f, int page, int size, int extend, void volatile **at)
{
    return real_of(f)->pMethods->xShmMap(real_of(f), page, size, extend, at);
}

static int shim_shm_lock(sqlite3_file *f, int offset, int n, int flags)
{
    return real_of(f)->pMethods->xShmLock(real_of(f), offset, n, flags);
}

static void shim_shm_barrier(sqlite3_file *f)
{
    real_of(f)->pMethods->xShmBarrier(real_of(f));
}

static int shim_shm_unmap(sqlite3_file *f, int drop)
{
    return real_of(f)->pMethods->xShmUnmap(real_of(f), drop);
}

static const sqlite3_io_methods shim_methods = {
    2,           shim_close,   shim_read,     shim_write,       shim_truncate,  shim_sync,
    shim_size,   shim_lock,    shim_unlock,   shim_reserved,    shim_control,   shim_sector,
    shim_traits, shim_shm_map, shim_shm_lock, shim_shm_barrier, shim_shm_unmap, NULL,
    NULL};

static int shim_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *f, int flags, int *out)
{
    struct shim *s = (struct shim *)f;
    bool asked = (flags & (SQLITE_OPEN_MAIN_DB | SQLITE_OPEN_WAL | SQLITE_OPEN_MAIN_JOURNAL)) != 0;
    (void)vfs;
    *s = (struct shim){.real = (sqlite3_file *)(s + 1)};
    if (asked && name)
        s->disk = disk_of(name); /* before the real one makes it */
    if (world.dead)
        return SQLITE_CANTOPEN;
    int rc = world.real->xOpen(world.real, name, s->real, flags, out);
    if (s->real->pMethods)
        s->base.pMethods = &shim_methods;
    return rc;
}

static int shim_delete(sqlite3_vfs *vfs, const char *name, int sync_folder)
{
    struct disk *d = disk_of(name);
    (void)vfs;
    if (world.dead)
        return SQLITE_IOERR_DELETE;
    forget_pending(d);
    d->gone = true;
    if (!has_power(d))
        return SQLITE_IOERR_DELETE;
    if (sync_folder)
        d->kept = (struct bytes){0};
    return world.real->xDelete(world.real, name, 0);
}

static int shim_access(sqlite3_vfs *vfs, const char *name, int flags, int *yes)
{
    (void)vfs;
    return world.real->xAccess(world.real, name, flags, yes);
}

static int shim_full_name(sqlite3_vfs *vfs, const char *name, int n, char *out)
{
    (void)vfs;
    return world.real->xFullPathname(world.real, name, n, out);
}

static int shim_randomness(sqlite3_vfs *vfs, int n, char *out)
{
    (void)vfs;
    return world.real->xRandomness(world.real, n, out);
}

static int shim_sleep(sqlite3_vfs *vfs, int us)
{
    (void)vfs;
    return world.real->xSleep(world.real, us);
}

static int shim_time(sqlite3_vfs *vfs, double *now)
{
    (void)vfs;
    return world.real->xCurrentTime(world.real, now);
}

static sqlite3_vfs shim = {.iVersion = 1,
                           .mxPathname = PATH_ROOM,
                           .zName = "losing",
                           .xOpen = shim_open,
                           .xDelete = shim_delete,
                           .xAccess = shim_access,
                           .xFullPathname = shim_full_name,
                           .xRandomness = shim_randomness,
                           .xSleep = shim_sleep,
                           .xCurrentTime = shim_time};

static bool shim_is(bool on)
{
    if (!world.real) {
        world.real = sqlite3_vfs_find(NULL);
        shim.szOsFile = (int)sizeof(struct shim) + world.real->szOsFile;
    }
    return sqlite3_vfs_register(on ? &shim : world.real, 1) == SQLITE_OK;
}

/* ---- the work, and what must be there afterwards ----------------------------------------------------------------- */

static int rows_of(int commit)
{
    return 1 + commit * 37 % ROWS_MOST;
}

static bool enter(struct store *s, int commit, struct err *e)
{
    const struct reg *r = reg_get(REG_SYSTEM);
    struct cell cells[FIELDS_MAX] = {{0}};
    bool present[FIELDS_MAX] = {false};
    size_t note = reg_field(r, "note"), field;
    enum put outcome;
    char name[32], text[NOTE_BYTES_MAX];
    memset(text, 'x', sizeof text);
    text[sizeof text - 1] = '\0';
    present[0] = present[note] = true;
    for (int i = 0; i < rows_of(commit); i++) {
        snprintf(name, sizeof name, "s%d-%d", commit, i);
        cells[0] = (struct cell){.kind = CELL_TEXT, .text = name};
        cells[note] = (struct cell){.kind = CELL_TEXT, .text = text};
        if (!store_put(s, r, cells, present, &outcome, &field, e))
            return false;
    }
    return true;
}

/* How many entries were acknowledged. */
static int work(const char *path)
{
    struct store *s = NULL;
    struct err e;
    int done = 0;
    for (; done < COMMITS; done++) {
        if (done % REOPEN_EVERY == 0) {
            store_close(s);
            s = NULL;
            if (!store_open(path, STORE_WRITE, &s, &e))
                return done;
        }
        if (!store_begin(s, &e) || !enter(s, done, &e) || !store_commit(s, "neap add", 29700000, &e))
            break;
    }
    store_close(s);
    return done;
}

static long number(struct store *s, const char *sql)
{
    long n = -1;
    struct err e;
    return store_number(s, sql, -1, &n, &e) ? n : -1;
}

/* What is wrong with the store; NULL: nothing. */
static const char *judge(const char *path, int acknowledged)
{
    static char said[1024];
    struct store *s;
    struct err e;
    struct text findings = {0};
    size_t n = 0;
    if (!store_open(path, STORE_WRITE, &s, &e)) {
        snprintf(said, sizeof said, "does not open: %.900s", e.text);
        return said;
    }
    long entries = number(s, "SELECT count(*) FROM entry"), expected = 0;
    bool sound = store_audit(s, &findings, &n, &e) && n == 0;
    for (int i = 0; i < entries; i++)
        expected += rows_of(i);
    long rows = number(s, "SELECT count(*) FROM system");
    store_close(s);
    said[0] = '\0';
    if (!sound)
        snprintf(said, sizeof said, "its audit finds: %.900s", n ? text_str(&findings) : e.text);
    else if (entries < acknowledged || entries > acknowledged + 1 || rows != expected)
        snprintf(said, sizeof said, "%ld entries and %ld rows; %d entries were acknowledged", entries, rows,
                 acknowledged);
    text_free(&findings);
    return said[0] ? said : NULL;
}

/* false: the run came to its end before that deed. */
static bool try(const char *path, const struct bytes *base, long dies_at, uint32_t seed, const char **wrong)
{
    char shm[PATH_ROOM];
    store_remove(path);
    file_write(path, base);
    world.ops = 0;
    world.dies_at = dies_at;
    world.dead = false;
    world.random = seed;
    shim_is(true);
    int acknowledged = work(path);
    bool died = world.dead;
    lose_power();
    shim_is(false);
    snprintf(shm, sizeof shm, "%s-shm", path);
    unlink(shm);
    *wrong = judge(path, acknowledged);
    return died;
}

static long sweep(const char *path, const struct bytes *base, uint32_t seed, long step, long *n_wrong)
{
    long n = 0;
    const char *wrong;
    *n_wrong = 0;
    for (bool more = true; more; n++) { /* every step-th deed */
        more = try(path, base, n * step + 1, seed * 2654435761u + (uint32_t)n * 40503u + 1, &wrong);
        *n_wrong += wrong != NULL;
        if (wrong && !world.lies)
            printf("not ok: power lost at deed %ld, seed %lu: %s\n", n * step + 1, (unsigned long)seed, wrong);
    }
    return n;
}

int main(int argc, char **argv)
{
    char folder[] = "/tmp/neap-power-XXXXXX", path[PATH_ROOM];
    struct store *s;
    struct err e;
    long n = 0, wrong, bad = 0;
    if (argc != 2 || !mkdtemp(folder)) {
        fputs("usage: powerloss SEEDS\n", stderr);
        return 2;
    }
    snprintf(path, sizeof path, "%s/s.neap", folder);
    shim_is(false);
    if (!store_open(path, STORE_CREATE, &s, &e)) {
        fprintf(stderr, "powerloss: %s\n", e.text);
        return 2;
    }
    store_close(s);
    struct bytes base = file_read(path);
    for (long seed = 1; seed <= strtol(argv[1], NULL, 10); seed++) {
        n += sweep(path, &base, (uint32_t)seed, 1, &wrong);
        bad += wrong;
    }
    world.lies = true;
    long lied = sweep(path, &base, 1, LIE_STEP, &wrong);
    store_remove(path);
    rmdir(folder);
    free(base.at);
    printf("power lost at %ld deeds: %ld stores not whole; where syncs lie: %ld of %ld\n", n, bad, wrong, lied);
    if (bad > 0 || wrong == 0)
        return 1;
    printf("%ld checks passed\n", n + 1);
    return 0;
}
