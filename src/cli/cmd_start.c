/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap start: make a store, with the stock kinds and foods. */
#include "cli.h"
#include "guide.h"
#include "files.h"

#include "neap/stock.h"

#include <assert.h>
#include <errno.h>
#include <sys/stat.h>
#include <unistd.h>

enum { SOURCES_MAX = 64 };

static const char demo_morning[] = "2026-11-27"; /* the first morning, as data/demo has it */

/* Of the files the program carries, those in a folder but not in one below it; their days so much later. */
static size_t carried(const char *folder, int later_d, struct source *sources, size_t n)
{
    size_t len = strlen(folder);
    for (size_t i = 0; i < n_embedded; i++) {
        const struct embedded *file = &embedded[i];
        if (strncmp(file->name, folder, len) != 0 || strchr(file->name + len, '/'))
            continue;
        assert(n < SOURCES_MAX);
        sources[n++] = (struct source){
            .name = file->name, .bytes = (const char *)file->bytes, .len = file->len, .later_d = later_d};
    }
    return n;
}

/* The demo's first morning is the day it is started. */
static size_t carried_demo(const struct context *c, struct source *sources, size_t n)
{
    int morning = DAY_NONE;
    bool known = day_parse(demo_morning, &morning);
    assert(known);
    (void)known;
    n = carried("data/demo/", c->today - morning, sources, n);
    return carried(option_given(c, "no-log") ? "data/demo/begun/" : "data/demo/weeks/", c->today - morning, sources, n);
}

/* answers: of the guide; NULL: none were asked for. */
static bool fill(struct context *c, struct store *s, const struct guide *answers, struct load_counts *counts,
                 struct err *e)
{
    struct source sources[SOURCES_MAX];
    struct faults faults = {0};
    size_t n = option_given(c, "empty") ? 0 : carried("data/stock/", 0, sources, 0);
    if (option_given(c, "demo"))
        n = carried_demo(c, sources, n);
    for (size_t i = 0; answers && i < GUIDE_TABLES; i++)
        if (answers->tables[i].len > 0)
            sources[n++] = (struct source){
                .name = answers->names[i], .bytes = answers->tables[i].s, .len = answers->tables[i].len};
    bool ok = store_begin(s, e) && load_sources(s, sources, n, NULL, &faults, counts, NULL, e);
    if (ok && faults.n > 0)
        ok = err_set(e, ERR_INPUT, NULL, "%s: %s",
                     answers ? "these cannot be together" : "the data built into neap is faulty",
                     text_str(&faults.lines));
    ok = ok && context_commit(c, s, c->typed, e);
    faults_free(&faults);
    return ok;
}

/* Filled under another name first: a start that is killed, or beaten by another, leaves no half store. */
static bool make_as(struct context *c, const struct guide *answers, const char *part, const char *path,
                    struct load_counts *counts, struct err *e)
{
    struct store *s;
    if (!store_open(part, STORE_CREATE, &s, e))
        return false;
    bool ok = fill(c, s, answers, counts, e);
    store_close(s);
    return ok && store_take_name(part, path, e);
}

/* ---- example files ---------------------------------------------------------------------------------------------- */

static bool template_path(const char *folder, const char *name, struct text *path, struct err *e)
{
    path->len = 0;
    text_addf(path, "%s/%s", folder, strrchr(name, '/') + 1);
    return path->failed ? err_memory(e) : true;
}

/* Somebody's own file of such a name stays as it is, and then nothing is written. */
static bool templates_free(const char *folder, const struct source *sources, size_t n, struct err *e)
{
    struct text path = {0};
    bool ok = true;
    for (size_t i = 0; ok && i < n; i++) {
        ok = template_path(folder, sources[i].name, &path, e);
        if (ok && access(text_str(&path), F_OK) == 0)
            ok = err_set(e, ERR_INPUT, NULL, "%s is there already; expected a folder without it", text_str(&path));
    }
    text_free(&path);
    return ok;
}

/* The stock's kinds and foods go with them, for the colonies and lots have to name these. */
static bool write_templates(struct context *c, const char *folder, struct err *e)
{
    struct source sources[SOURCES_MAX];
    size_t n = carried("data/stock/", 0, sources, carried("data/templates/", 0, sources, 0));
    struct text path = {0};
    bool ok =
        mkdir(folder, 0777) == 0 || errno == EEXIST || err_set(e, ERR_IO, NULL, "%s: %s", folder, strerror(errno));
    ok = ok && templates_free(folder, sources, n, e);
    for (size_t i = 0; ok && i < n; i++)
        ok = template_path(folder, sources[i].name, &path, e) &&
             file_write(text_str(&path), sources[i].bytes, sources[i].len, e);
    if (ok)
        text_addf(c->out,
                  "wrote %zu files into %s: replace the example rows by your own, in any spreadsheet, and load\n"
                  "the folder: neap load %s --dry-run shows what it would do\n",
                  n, folder, folder);
    text_free(&path);
    return ok;
}

/* ---- the command ------------------------------------------------------------------------------------------------- */

/* The store under its name, with what was answered. */
static bool make(struct context *c, const struct guide *answers, struct err *e)
{
    struct load_counts counts = {0};
    struct text path = {0}, part = {0};
    bool ok = context_path(c, true, &path, e) && store_name_free(text_str(&path), e) &&
              store_name_beside(text_str(&path), &part, e) &&
              make_as(c, answers, text_str(&part), text_str(&path), &counts, e);
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

/* Before any question: what would be refused after the last one. */
static bool name_is_free(struct context *c, struct err *e)
{
    struct text path = {0};
    bool ok = context_path(c, true, &path, e) && store_name_free(text_str(&path), e);
    text_free(&path);
    return ok;
}

/* The first plan, as neap plan makes it. */
static bool plan_first(struct context *c, struct err *e)
{
    struct context plan = *c;
    plan.command = command_find("plan");
    memset(plan.options, 0, sizeof plan.options);
    plan.typed = "neap plan";
    plan.args = NULL;
    plan.n_args = 0;
    return plan.command->run(&plan, e);
}

static bool guided(struct context *c, struct err *e)
{
    struct source stock[SOURCES_MAX];
    const struct source *kinds = NULL, *foods = NULL;
    struct guide answers = {0};
    bool asked = false, left = false, plan = false;
    size_t n = carried("data/stock/", 0, stock, 0);
    for (size_t i = 0; i < n; i++) {
        kinds = exchange_reg_of(stock[i].name) == reg_get(REG_KIND) ? &stock[i] : kinds;
        foods = exchange_reg_of(stock[i].name) == reg_get(REG_FOOD) ? &stock[i] : foods;
    }
    assert(kinds && foods);
    bool ok = name_is_free(c, e) && guide_ask(c, kinds, foods, &answers, &asked, &left, e);
    if (ok && left)
        text_add(c->out, "nothing was made\n");
    else if (ok)
        ok = make(c, asked ? &answers : NULL, e);
    if (ok && !left && asked && answers.tables[GUIDE_COLONY].len > 0)
        context_ask(c, "Work out today's round now?", &plan);
    if (ok && plan && (ok = plan_first(c, e)))
        text_add(c->out, "neap sheet prints it; neap why tells how each number came about\n");
    guide_free(&answers);
    return ok;
}

static bool start_run(struct context *c, struct err *e)
{
    bool bare = !option_given(c, "empty") && !option_given(c, "demo") && !option_given(c, "templates");
    if (option_given(c, "empty") && option_given(c, "demo"))
        return err_set(e, ERR_MISUSE, NULL, "--empty and --demo are both given; expected one of them");
    if (option_given(c, "no-log") && !option_given(c, "demo"))
        return err_set(e, ERR_MISUSE, NULL, "--no-log is of the demo; expected --demo with it");
    if (option_given(c, "templates")) {
        if (option_given(c, "empty") || option_given(c, "demo"))
            return err_set(e, ERR_MISUSE, NULL, "--templates makes no store; expected it alone");
        return write_templates(c, option_text(c, "templates", ""), e);
    }
    return bare && context_may_ask() ? guided(c, e) : make(c, NULL, e);
}

const struct command command_start = {
    .name = "start",
    .place = 510,
    .summary = "make a store, with the stock kinds and foods",
    .also = "new init begin setup demo",
    .usage = "",
    .about =
        "Makes a new store and puts the stock kinds of corals and the stock foods into it, each figure with its "
        "source. "
        "With --empty neither, to load a dump into. With --demo also an invented facility to try things on, with ten "
        "weeks of rounds, tests, sales and deliveries up to the evening before; its first morning is the day it is "
        "made, or that of --on. --templates makes no store; it writes a table with example rows for each "
        "register into a folder, to fill in with a spreadsheet and load.",
    .example = "neap --db /tmp/demo.neap --on 2026-11-27 start --demo",
    .options =
        (const struct option_row[]){{"demo", OPT_FLAG, .help = "with the demo facility"},
                                    {"no-log", OPT_FLAG, .help = "the demo's book begun today, without its weeks"},
                                    {"empty", OPT_FLAG, .help = "without the stock kinds and foods"},
                                    {"templates", OPT_TEXT, "FOLDER", .help = "write example tables instead"},
                                    {0}},
    .run = start_run,
};
