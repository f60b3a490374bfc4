#include "cli.h"
#include "neap/stock.h"

#include "loading.h"

#include <unistd.h>

enum { SOURCES_MAX = 32 };

/* Of the files the program carries, those below a folder. */
static size_t carried(const char *folder, struct source *sources, size_t n)
{
    for (size_t i = 0; i < n_embedded && n < SOURCES_MAX; i++)
        if (strncmp(embedded[i].name, folder, strlen(folder)) == 0)
            sources[n++] = (struct source){embedded[i].name, (const char *)embedded[i].bytes, embedded[i].len, NULL};
    return n;
}

static bool fill(struct context *c, struct store *s, struct load_counts *counts, struct err *e)
{
    struct source sources[SOURCES_MAX];
    struct faults faults = {0};
    size_t n = option_given(c, "empty") ? 0 : carried("data/stock/", sources, 0);
    if (option_given(c, "demo"))
        n = carried("data/demo/", sources, n);
    bool ok = store_begin(s, e) && load_sources(s, sources, n, NULL, &faults, counts, NULL, e);
    if (ok && faults.n > 0)
        ok = err_set(e, ERR_INPUT, NULL, "the carried data is at fault: %s", text_str(&faults.lines));
    ok = ok && context_commit(c, s, c->typed, e);
    faults_free(&faults);
    return ok;
}

/* Filled under another name first: a start that is killed, or beaten by another, leaves no half store. */
static bool make_as(struct context *c, const char *part, const char *path, struct load_counts *counts, struct err *e)
{
    struct store *s;
    if (!store_open(part, STORE_CREATE, &s, e))
        return false;
    bool ok = fill(c, s, counts, e);
    store_close(s);
    return ok && store_take_name(part, path, e);
}

static bool start_run(struct context *c, struct err *e)
{
    struct load_counts counts = {0};
    struct text path = {0}, part = {0};
    if (option_given(c, "empty") && option_given(c, "demo"))
        return err_set(e, ERR_MISUSE, NULL, "--empty and --demo are both given; expected one of them");
    bool ok = context_path(c, true, &path, e) && store_name_free(text_str(&path), e) &&
              store_name_beside(text_str(&path), &part, e) && make_as(c, text_str(&part), text_str(&path), &counts, e);
    if (part.len > 0)
        store_remove(text_str(&part));
    if (ok) {
        text_addf(c->out, "made %s: ", text_str(&path));
        load_counts_words(&counts, c->out);
        text_add(c->out, "\n");
    }
    text_free(&path);
    text_free(&part);
    return ok;
}

const struct command command_start = {
    .name = "start",
    .summary = "make a store, with the stock kinds and foods",
    .usage = "",
    .about = "Makes a new store and puts the stock kinds of corals and the stock foods into it, each figure with its "
             "source. "
             "With --empty neither, to load a dump into. With --demo also an invented facility to try things on; its "
             "feeding day is 2026-11-27.",
    .example = "neap --db /tmp/demo.neap start --demo",
    .options = (const struct option_row[]){{"demo", OPT_FLAG, .help = "with the demo facility"},
                                           {"empty", OPT_FLAG, .help = "without the stock kinds and foods"},
                                           {0}},
    .run = start_run,
};
