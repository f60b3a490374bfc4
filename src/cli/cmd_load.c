/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap load: read registers from CSV and JSON files. */
#include "cli.h"
#include "files.h"

#include "neap/naming.h"

#include <dirent.h>
#include <errno.h>
#include <sys/stat.h>
#include <unistd.h>

struct files {
    struct arena arena; /* of the names and the form */
    struct csv_form form;
    struct source *sources; /* each opened */
    size_t n, room;
};

static void files_free(struct files *f)
{
    for (size_t i = 0; i < f->n; i++)
        source_close(&f->sources[i]);
    free(f->sources);
    arena_free(&f->arena);
}

static bool add_file(struct files *f, const char *path, struct err *e)
{
    const char *name = arena_text(&f->arena, path);
    struct source *moved = mem_grow(f->sources, &f->room, f->n + 1, sizeof *moved);
    if (moved)
        f->sources = moved;
    if (!name || !moved)
        return err_memory(e);
    if (!source_open(name, &f->form, &f->sources[f->n], e))
        return false;
    f->n++;
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
    text_add(c->notes, text_str(&faults->notes));
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

/* One load of all files into the store. */
struct files_load {
    struct context *c;
    struct store *store;
    const struct files *files;
    const struct reg *as;
    struct faults faults;
    struct load_counts counts;
    struct load_watch watch;
};

static void loading_forget(struct files_load *l)
{
    faults_free(&l->faults);
    load_watch_free(&l->watch);
}

static bool take_in(struct files_load *l, struct err *e)
{
    return store_begin(l->store, e) &&
           load_sources(l->store, l->files->sources, l->files->n, l->as, &l->faults, &l->counts, &l->watch, e) &&
           (l->faults.n == 0 || tell_faults(l->c, &l->faults, &l->counts, e));
}

/* The person at the terminal decides about values that were entered since; elsewhere only an option does. */
static bool decide(const struct files_load *l, enum entered_mode *mode, struct err *e)
{
    char answer[16] = "";
    size_t n = l->watch.n_set_back;
    if (!context_may_ask()) {
        text_add(l->c->notes, text_str(&l->watch.set_back));
        return err_set(
            e, ERR_INPUT, NULL,
            "nothing stored: %zu value%s entered since the file was last loaded; expected --keep (they stay, "
            "the rest is taken) or --yes (they are set back)",
            n, n == 1 ? " was" : "s were");
    }
    fprintf(stderr, "%s%zu value%s entered since the file was last loaded: keep %s, set %s back, or stop? [k/s/N] ",
            text_str(&l->watch.set_back), n, n == 1 ? " was" : "s were", n == 1 ? "it as it is" : "them as they are",
            n == 1 ? "it" : "them");
    if (!fgets(answer, sizeof answer, stdin) || (answer[0] != 'k' && answer[0] != 's'))
        return err_set(e, ERR_INPUT, NULL, "nothing was stored");
    *mode = answer[0] == 'k' ? ENTERED_KEEP : ENTERED_SET_BACK;
    return true;
}

/* Others may write while the person thinks: the files are taken in afresh, and what was agreed to must still be it. */
static bool take_in_as_decided(struct files_load *l, struct err *e)
{
    enum entered_mode mode = ENTERED_KEEP;
    struct files_load again = {.c = l->c, .store = l->store, .files = l->files, .as = l->as};
    store_rollback(l->store);
    if (!decide(l, &mode, e))
        return false;
    again.watch.mode = mode;
    bool ok = take_in(&again, e);
    if (ok && mode == ENTERED_SET_BACK && strcmp(text_str(&again.watch.set_back), text_str(&l->watch.set_back)) != 0)
        ok = err_set(e, ERR_INPUT, NULL, "the store has changed meanwhile; nothing was stored");
    l->counts = again.counts;
    text_add(l->c->notes, text_str(&again.faults.notes));
    loading_forget(&again);
    return ok;
}

static void tell_watched(struct files_load *l)
{
    text_add(l->c->notes, text_str(&l->faults.notes));
    text_add(l->c->notes, text_str(&l->watch.set_back));
    text_add(l->c->out, text_str(&l->watch.changes));
    if (l->watch.n_changes > CHANGES_LISTED_MAX)
        text_addf(l->c->out, "and %zu rows more\n", l->watch.n_changes - CHANGES_LISTED_MAX);
    if (l->watch.entered.n_damaged > 0)
        text_addf(l->c->notes,
                  "neap: what %zu damaged entr%s of the journal entered is not known, and may be set back\n",
                  l->watch.entered.n_damaged, l->watch.entered.n_damaged == 1 ? "y" : "ies");
}

static bool load_files(struct context *c, const struct files *f, const struct reg *as, struct err *e)
{
    struct files_load l = {.c = c, .files = f, .as = as};
    bool keep = option_given(c, "keep"), decided = keep || option_given(c, "yes") || option_given(c, "dry-run");
    if (!context_open(c, STORE_WRITE, &l.store, e))
        return false;
    l.watch.mode = keep ? ENTERED_KEEP : ENTERED_SET_BACK;
    l.watch.list = option_given(c, "dry-run");
    bool ok = take_in(&l, e);
    if (ok && !decided && l.watch.n_set_back > 0)
        ok = take_in_as_decided(&l, e);
    else if (ok)
        tell_watched(&l);
    ok = entry_end(c, l.store, ok, &l.counts, e);
    loading_forget(&l);
    store_close(l.store);
    return ok;
}

static bool load_run(struct context *c, struct err *e)
{
    struct files f = {0};
    const struct reg *as = NULL;
    if (option_given(c, "keep") && option_given(c, "yes"))
        return err_set(e, ERR_MISUSE, NULL, "--keep and --yes are both given; expected one of them");
    if (option_given(c, "as") && !(as = register_named(option_text(c, "as", ""), e)))
        return false;
    bool ok = csv_form_given(c, &f.form, &f.arena, e) && read_files(c, &f, e) && load_files(c, &f, as, e);
    files_free(&f);
    return ok;
}

const struct command command_load = {
    .name = "load",
    .place = 520,
    .summary = "read registers from CSV and JSON files",
    .also = "import read csv",
    .usage = "FILE…",
    .about =
        "Takes in rows from CSV files, each named for its register (tank.csv, foods.csv), from all those of a folder, "
        "or "
        "from the JSON that dump writes. A row whose key is known changes that row; columns the file lacks are left "
        "alone; no row is removed. All faults are told at once, and nothing is stored unless all is right. Where a "
        "file "
        "would set back what a command entered since it was last loaded, such as a count that a sale changed, each "
        "value "
        "is told and the person asked. --dry-run lists what would change. Semicolons, decimal commas, encodings and "
        "the like "
        "are recognised and told.",
    .example = "neap start --templates /tmp/sheets && neap load /tmp/sheets --dry-run",
    .options = (const struct option_row[]){{"as", OPT_TEXT, "REGISTER",
                                            .help = "what the CSV files hold, whatever they are called"},
                                           {"keep", OPT_FLAG, .help = "leave what was entered since as it is"},
                                           {"yes", OPT_FLAG, .help = "set it back, without asking"},
                                           OPTIONS_CSV_FORM,
                                           OPTION_DRY_RUN,
                                           {0}},
    .args_min = 1,
    .args_max = 1000,
    .run = load_run,
};
