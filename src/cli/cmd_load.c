#include "cli.h"

#include "loading.h"

#include "naming.h"

#include <dirent.h>
#include <errno.h>
#include <sys/stat.h>

struct files {
    struct arena arena;     /* of the names */
    struct source *sources; /* bytes from malloc */
    size_t n, room;
};

static void files_free(struct files *f)
{
    for (size_t i = 0; i < f->n; i++)
        free((void *)(uintptr_t)f->sources[i].bytes);
    free(f->sources);
    arena_free(&f->arena);
}

static bool add_file(struct files *f, const char *path, struct err *e)
{
    char *bytes = NULL;
    size_t len;
    const char *name = arena_text(&f->arena, path);
    struct source *moved = mem_grow(f->sources, &f->room, f->n + 1, sizeof *moved);
    if (moved)
        f->sources = moved;
    if (!name || !moved)
        return err_memory(e);
    if (!file_read(path, &bytes, &len, e))
        return false;
    if (!bytes && !(bytes = calloc(1, 1))) /* an empty file */
        return err_memory(e);
    f->sources[f->n++] = (struct source){name, bytes, len};
    return true;
}

static int is_table(const struct dirent *entry)
{
    size_t n = strlen(entry->d_name);
    return entry->d_name[0] != '.' && n > 4 && strcmp(entry->d_name + n - 4, ".csv") == 0;
}

/* All tables of a folder, in the order of their names. */
static bool add_folder(struct files *f, const char *path, struct err *e)
{
    struct dirent **entries;
    struct text name = {0};
    int n = scandir(path, &entries, is_table, alphasort);
    bool ok = n > 0;
    if (n < 0)
        return err_set(e, ERR_IO, NULL, "%s: %s", path, strerror(errno));
    if (n == 0)
        err_set(e, ERR_NOT_FOUND, NULL, "%s: has no table in it; expected files such as tank.csv", path);
    for (int i = 0; i < n; i++) {
        name.len = 0;
        text_addf(&name, "%s%s%s", path, path[strlen(path) - 1] == '/' ? "" : "/", entries[i]->d_name);
        ok = ok && (name.failed ? err_memory(e) : add_file(f, text_str(&name), e));
        free(entries[i]);
    }
    free(entries);
    text_free(&name);
    return ok;
}

static bool read_files(const struct context *c, struct files *f, struct err *e)
{
    struct stat info;
    for (size_t i = 0; i < c->n_args; i++) {
        bool folder = stat(c->args[i], &info) == 0 && S_ISDIR(info.st_mode);
        if (folder ? !add_folder(f, c->args[i], e) : !add_file(f, c->args[i], e))
            return false;
    }
    return true;
}

/* What is wrong, all of it, and what it comes to. */
static bool tell_faults(struct context *c, const struct faults *faults, const struct load_counts *counts, struct err *e)
{
    struct text words = {0};
    text_add(c->notes, text_str(&faults->lines));
    if (faults->n > FAULTS_SHOWN_MAX)
        text_addf(c->notes, "and %zu more\n", faults->n - FAULTS_SHOWN_MAX);
    if (counts->followed > 0)
        text_addf(c->notes, "%zu row%s refused only for pointing to refused ones\n", counts->followed,
                  counts->followed == 1 ? " is" : "s are");
    load_counts_words(counts, &words);
    err_set(e, ERR_INPUT, NULL, "nothing stored, for %zu fault%s: %s", faults->n, faults->n == 1 ? "" : "s",
            text_str(&words));
    text_free(&words);
    return false;
}

static bool load_files(struct context *c, const struct files *f, const struct reg *as, struct err *e)
{
    struct store *s;
    struct faults faults = {0};
    struct load_counts counts = {0};
    if (!context_open(c, STORE_WRITE, &s, e))
        return false;
    bool ok = store_begin(s, e) && load_sources(s, f->sources, f->n, as, &faults, &counts, e) &&
              (faults.n == 0 || tell_faults(c, &faults, &counts, e));
    ok = entry_end(c, s, ok, &counts, e);
    faults_free(&faults);
    store_close(s);
    return ok;
}

static bool load_run(struct context *c, struct err *e)
{
    struct files f = {0};
    const struct reg *as = NULL;
    if (option_given(c, "as") && !(as = register_named(option_text(c, "as", ""), e)))
        return false;
    bool ok = read_files(c, &f, e) && load_files(c, &f, as, e);
    files_free(&f);
    return ok;
}

const struct command command_load = {
    .name = "load",
    .summary = "take in registers from CSV and JSON files",
    .usage = "FILE…",
    .about =
        "Takes in rows from CSV files, each named for its register (tank.csv, foods.csv), from all those of a folder, "
        "or "
        "from the JSON that dump writes. A row whose key is known changes that row; columns the file lacks are left "
        "alone; no row is removed. All faults are told at once, and nothing is stored unless all is right.",
    .example = "neap load data/demo --dry-run",
    .options = (const struct option_row[]){{"as", OPT_TEXT, "REGISTER",
                                            .help = "what the CSV files hold, whatever they are called"},
                                           OPTION_DRY_RUN,
                                           {0}},
    .args_min = 1,
    .args_max = 1000,
    .run = load_run,
};
