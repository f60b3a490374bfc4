/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap ahead: weeks ahead: nitrate and phosphate as now, and what if. */
#include "cli.h"

#include "neap/naming.h"
#include "neap/print.h"
#include "neap/week.h"

enum { AHEAD_WIDTH = 80, AHEAD_WEEKS = 4, AHEAD_RUNS = 2000, AHEAD_SEED = 1 };

/* "10%/week", "10 % / week" or "10%": the week is the only rhythm there is. */
static bool parse_change(const char *text, double *frac, struct err *e)
{
    char number[32];
    size_t n = 0, at = 0;
    for (; text[at] && text[at] != '%'; at++)
        if (text[at] != ' ' && n < sizeof number - 1)
            number[n++] = text[at];
    number[n] = '\0';
    const char *rest = text[at] == '%' ? text + at + 1 : NULL;
    char week[8] = "";
    for (size_t k = 0; rest && *rest; rest++)
        if (*rest != ' ' && k < sizeof week - 1) {
            week[k++] = *rest;
            week[k] = '\0';
        }
    double percent;
    if (!rest || !number_parse(number, &percent) || percent < 0 || percent > 95 ||
        (*week && strcmp(week, "/week") != 0))
        return err_set(e, ERR_MISUSE, NULL,
                       "--change-water is \"%.60s\"; expected 0 to 95 percent a week, such as 10%%/week", text);
    *frac = percent / 100;
    return true;
}

static bool read_policy(const struct context *c, const struct facility *f, struct arena *a, struct feeding_policy *p,
                        struct err *e)
{
    const struct option_value *skip = option_get(c, "skip");
    *p = (struct feeding_policy){.strength_frac = option_number(c, "strength", 1), .change_frac_per_week = (double)NAN};
    if (option_given(c, "change-water") &&
        !parse_change(option_text(c, "change-water", ""), &p->change_frac_per_week, e))
        return false;
    if (skip->n == 0)
        return true;
    bool *left_out = arena_alloc(a, f->n_foods, sizeof *left_out);
    if (!left_out)
        return err_memory(e);
    for (size_t i = 0; i < skip->n; i++) {
        size_t food = facility_named(f, REG_FOOD, skip->text[i]);
        if (food == REF_NONE)
            return row_unknown(f, REG_FOOD, skip->text[i], e);
        left_out[food] = true;
    }
    p->skip = left_out;
    return true;
}

static bool ahead_print(struct context *c, const struct facility *f, const struct ahead *a, struct err *e)
{
    struct document d = {0};
    if (c->json) {
        ahead_json(f, a, c->out);
        return true;
    }
    bool ok =
        ahead_document(f, a, &d, e) && render_text(&d, AHEAD_WIDTH, (int)option_number(c, "page-lines", 0), c->out, e);
    document_free(&d);
    return ok;
}

static bool ahead_run(struct context *c, struct err *e)
{
    struct store *s;
    struct facility f;
    struct ahead a;
    struct arena arena = {0};
    struct ahead_request request = {
        .now_min = c->now,
        .window_d = option_number(c, "window", 0),
        .weeks = (int)option_number(c, "weeks", AHEAD_WEEKS),
        .runs = (int)option_number(c, "runs", AHEAD_RUNS),
        .seed = (unsigned long)option_number(c, "seed", AHEAD_SEED),
    };
    c->back_d = (int)request.window_d;
    if (!context_snapshot(c, STORE_READ, &s, &f, e))
        return false;
    bool ok = context_system(c, &f, &request.system, e) && read_policy(c, &f, &arena, &request.policy, e) &&
              plan_ahead(&f, &request, &a, e);
    if (ok) {
        ok = ahead_print(c, &f, &a, e);
        ahead_free(&a);
    }
    arena_free(&arena);
    facility_free(&f);
    store_close(s);
    return ok;
}

const struct command command_ahead = {
    .name = "ahead",
    .place = 220,
    .summary = "weeks ahead: nitrate and phosphate as now, and what if",
    .also = "forecast future predict",
    .usage = "",
    .about = "Carries each water on, many times, each time as half a year of tests, feedings and water changes leaves "
             "open what it is and what its foods, its own source and its uptake do, and tells in how many of them the "
             "band is left and when. With --skip, --strength or --change-water a second forecast stands beside it.",
    .example = "neap --on 2026-11-27 ahead --system north --change-water 10%/week",
    .options =
        (const struct option_row[]){
            {"system", OPT_TEXT, "NAME", .help = "only this body of water"},
            {"weeks", OPT_COUNT, "N", .min = 1, .max = 52, .help = "how far ahead, else 4"},
            {"skip", OPT_TEXT, "FOOD", .repeats = true, .help = "what if this food were left out"},
            {"strength", OPT_NUMBER, "X", .max = 3, .help = "what if this many times as much were fed"},
            {"change-water", OPT_TEXT, "PERCENT", .help = "what if this much water were changed: 10%/week"},
            {"window", OPT_COUNT, "DAYS", .min = 7, .max = 365,
             .help = "how far back \"as now\" and the slope look, else the setting"},
            {"runs", OPT_COUNT, "N", .min = FORECAST_MIN_RUNS, .max = 100000,
             .help = "how many futures are drawn, else 2000"},
            {"seed", OPT_COUNT, "N", .max = 999999, .help = "same seed, same answer; else 1"},
            {"page-lines", OPT_COUNT, "N", .min = 30, .max = 200, .help = "in pages of this many lines"},
            {0}},
    .prints_json = true,
    .run = ahead_run,
};
