/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap trend: the weekly report: where nutrients are heading, and what to change. */
#include "paper.h"
#include "trend_csv.h"

#include "neap/figures.h"
#include "neap/log.h"
#include "neap/print.h"
#include "neap/week.h"
#include "neap/week_log.h"

enum { REPORT_WIDTH = 80, WIDTH_LEAST = 60, WIDTH_MOST = 200 };

/* The end of an earlier day; today until now. */
static bool report_moment(const struct context *c, long *now_min, struct err *e)
{
    const struct option_value *week = option_get(c, "week-of");
    *now_min = c->now;
    if (week->n == 0)
        return true;
    if (week->day > c->today)
        return err_set(e, ERR_MISUSE, NULL, "--week-of is %s, which is still to come", week->text[0]);
    if (week->day < c->today)
        *now_min = (week->day + 1) * MIN_PER_DAY - 1;
    return true;
}

/* As wide as the terminal, within reason. */
static int report_width(const struct context *c)
{
    int width = c->out_is_terminal ? greater(WIDTH_LEAST, lesser(c->out_width, WIDTH_MOST)) : REPORT_WIDTH;
    return (int)option_number(c, "width", width);
}

/* Does the terminal say that it shows UTF-8? */
static bool shows_unicode(const struct context *c)
{
    static const char *const names[] = {"LC_ALL", "LC_CTYPE", "LANG"};
    for (size_t i = 0; c->out_is_terminal && i < COUNT_OF(names); i++) {
        const char *locale = getenv(names[i]);
        if (locale && *locale)
            return strstr(locale, "UTF-8") || strstr(locale, "utf8");
    }
    return false;
}

static bool chart_style_of(const struct context *c, enum chart_style *style, struct err *e)
{
    const char *name = option_text(c, "charts", shows_unicode(c) ? "unicode" : "ascii");
    if (strcmp(name, "ascii") != 0 && strcmp(name, "unicode") != 0)
        return err_set(e, ERR_MISUSE, NULL, "--charts is \"%.60s\"; expected ascii or unicode", name);
    *style = paper_wanted(c) ? CHARTS_PAPER : *name == 'u' ? CHARTS_UNICODE : CHARTS_ASCII;
    return true;
}

static bool report_print(struct context *c, const struct facility *f, const struct trend_report *r,
                         const struct log_week *week, struct err *e)
{
    struct document d = {0};
    enum chart_style charts = CHARTS_ASCII;
    if (!chart_style_of(c, &charts, e))
        return false;
    bool ok = report_document(f, r, week, c->us_units, charts, &d, e) &&
              (paper_wanted(c) ? paper_make(c, &d, e)
                               : render_text(&d, report_width(c), (int)option_number(c, "page-lines", 0), c->out, e));
    document_free(&d);
    return ok;
}

static bool trend_run(struct context *c, struct err *e)
{
    struct store *s;
    struct facility f;
    struct trend_report r;
    struct trend_request request = {.window_d = option_number(c, "window", 0)};
    if (paper_wanted(c) && (c->json || option_given(c, "csv")))
        return err_set(e, ERR_MISUSE, NULL, "--json and --csv print data; expected no --pdf, --print or --paper");
    if (!report_moment(c, &request.now_min, e))
        return false;
    c->ago_d = c->today - moment_day(request.now_min);
    c->back_d = (int)request.window_d;
    if (!context_snapshot(c, STORE_READ, &s, &f, e))
        return false;
    struct arena a = {0};
    struct log_week week;
    bool ok = context_system(c, &f, &request.system, e) && plan_report(&f, &request, &r, e);
    if (ok) {
        ok = week_log(s, &f, r.week_from, r.day, &a, &week, e);
        if (ok && c->json)
            report_json(&f, &r, &week, c->out);
        else if (ok && option_given(c, "csv"))
            trend_csv(&f, &r, c->out);
        else
            ok = ok && report_print(c, &f, &r, &week, e);
        trend_report_free(&r);
        arena_free(&a);
    }
    facility_free(&f);
    store_close(s);
    return ok;
}

const struct command command_trend = {
    .name = "trend",
    .place = 210,
    .summary = "the weekly report: where nutrients are heading, and what to change",
    .also = "report week friday weekly",
    .usage = "",
    .about =
        "For each system: nitrate, phosphate and whatever else was tested, level and slope with their intervals, what "
        "was fed and what that did, when the band is left, and the strength that the planner will use, with its "
        "reason. The week is the seven days that end today, or with --week-of.",
    .example = "neap --on 2026-11-27 trend --system north",
    .options =
        (const struct option_row[]){
            {"system", OPT_TEXT, "NAME", .help = "only this body of water"},
            {"window", OPT_COUNT, "DAYS", .min = 7, .max = 365, .help = "how far back a trend looks, else the setting"},
            {"week-of", OPT_DAY, "DATE", .help = "the week that ended on this day, as it stood then"},
            {"csv", OPT_FLAG, .help = "a line per system and analyte, for a spreadsheet"},
            OPTIONS_PAPER,
            {"charts", OPT_TEXT, "ascii|unicode", .help = "what they are drawn with, else what the terminal shows"},
            {"width", OPT_COUNT, "COLUMNS", .min = WIDTH_LEAST, .max = WIDTH_MOST,
             .help = "else the terminal's; 80 in a file"},
            {"page-lines", OPT_COUNT, "N", .min = 30, .max = 200, .help = "in pages of this many lines"},
            {0}},
    .prints_json = true,
    .run = trend_run,
};
