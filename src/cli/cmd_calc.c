/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap calc: the desk calculator: volume, units, dilution, dose, broadcast, density. */
#include "cli.h"

#include "neap/desk.h"
#include "neap/print.h"

static void list_calculations(struct text *out)
{
    for (size_t i = 0; calculations[i]; i++)
        text_addf(out, "  %-10s %s\n", calculations[i]->name, calculations[i]->summary);
    text_add(out, "\nneap calc WHAT alone tells what it takes, with an example.\n");
}

static bool explain(const struct calculation *what, struct text *out, struct err *e)
{
    text_addf(out, "neap calc %s %s\n    %s\n\n", what->name, what->usage, what->summary);
    for (size_t i = 0; what->inputs && what->inputs[i].name; i++) {
        const struct calc_input *in = &what->inputs[i];
        struct text left = {0};
        text_addf(&left, "%s=%s", in->name, in->type == INPUT_QUANTITY ? in->unit : "");
        text_addf(out, "  %-20s %s\n", text_str(&left), in->help);
        text_free(&left);
    }
    struct document d = {0};
    document_item(&d, "by", what->formula);
    text_add(out, what->inputs ? "\n" : "");
    bool ok = render_text(&d, 80, 0, out, e);
    document_free(&d);
    text_addf(out, "\nExample\n  neap calc %s %s\n", what->name, what->example);
    return ok;
}

static bool run_calc(struct context *c, struct err *e)
{
    struct arena a = {0};
    struct calc k = {.us_units = c->us_units};
    if (c->n_args == 0) {
        list_calculations(c->out);
        return true;
    }
    if (!(k.what = calc_find(c->args[0], e)))
        return false;
    if (c->n_args == 1)
        return explain(k.what, c->out, e);
    bool ok = calc_run(&k, c->args + 1, c->n_args - 1, &a, e);
    if (ok && c->json)
        calc_json(&k, c->out);
    else if (ok)
        ok = calc_text(&k, c->out, e);
    arena_free(&a);
    return ok;
}

const struct command command_calc = {
    .name = "calc",
    .place = 420,
    .summary = "the desk calculator: volume, units, dilution, dose, broadcast, density",
    .also = "dose convert volume density dilute mix",
    .usage = "[WHAT [NAME=VALUE …]]",
    .about = "Works out one thing and shows the answer, what went in, and the formula. Alone it lists what it can do; "
             "with one "
             "word it tells what that takes. Values carry their unit (65usgal, 15 mL, \"18 ppb P\"); one without a "
             "name goes "
             "to the first place that takes its kind. Needs no store.",
    .example = "neap calc broadcast 65usgal 4.96",
    .args_max = 64,
    .prints_json = true,
    .run = run_calc,
};
