/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The weekly report: first a sentence a system, then what it rests on. */
#include "neap/calc.h"
#include "neap/advice.h"
#include "neap/capacity.h"
#include "neap/figures.h"
#include "neap/learned.h"
#include "neap/week.h"
#include "words.h"

static const double logged_least = 0.75;   /* of the window: a shorter log explains nothing away; our own choice */
static const double explained_least = 0.5; /* of a rise: below, food alone is not blamed; our own choice */

enum { TEXT_WIDTH = 100, WEEK_D = 7, LISTED_DAYS_MAX = 12, TANGLES_SHOWN = 3, CHART_DECIMALS = 2 };

static const double weight_least = 0.1, gain_least = 0.01; /* below both, more of the same rounds would tell nothing */

struct report {
    const struct facility *f;
    const struct trend_report *r;
    bool us;
    struct document *d;
};

/* "1 day", "12 days": whole ones. */
static const char *days_words(struct report *p, double days)
{
    return document_format(p->d, "%.0f day%s", floor(days), floor(days) == 1 ? "" : "s");
}

/* ---- one analyte in words --------------------------------------------------------------------------------------- */

static bool is_shown(const struct trend_analyte *n)
{
    return n->state.verdict == STATE_RISING || n->state.verdict == STATE_FALLING;
}

static bool has_no_trend(const struct trend_analyte *n)
{
    return n->state.verdict == STATE_STEADY && (n->level == LEVEL_BELOW_DETECTION || !n->steady);
}

static const char *trend_words(struct report *p, const struct trend_analyte *n)
{
    switch (n->state.verdict) {
    case STATE_RISING: return "rising";
    case STATE_FALLING: return "falling";
    case STATE_STEP_UP: return document_format(p->d, "a step up on %s", day_words(p->d, moment_day(n->state.step_min)));
    case STATE_STEP_DOWN:
        return document_format(p->d, "a step down on %s", day_words(p->d, moment_day(n->state.step_min)));
    case STATE_TOO_FEW: return n->state.n == 0 ? "not tested" : "too few tests for a trend";
    case STATE_STEADY: break;
    }
    return has_no_trend(n) ? "no trend shown" : "steady";
}

static const char *place_words(const struct trend_analyte *n)
{
    switch (n->level) {
    case LEVEL_BELOW_DETECTION: return "below detection";
    case LEVEL_BELOW_BAND: return "below the band";
    case LEVEL_IN_BAND: return "in the band";
    case LEVEL_ABOVE_BAND: return "above the band";
    case LEVEL_UNKNOWN: break;
    }
    return "level unknown";
}

/* " (the line is at 8.0)"; "": it says the same */
static const char *line_aside(struct report *p, const struct trend_analyte *n)
{
    const struct state *s = &n->state;
    if (!n->by_readings)
        return "";
    if (s->level_verdict == LEVEL_BELOW_DETECTION)
        return " by the latest tests (the line is below detection)";
    if (!s->has_level)
        return " by the latest tests";
    return document_format(p->d, " by the latest tests (the line is at %s)", level_words(p->d, n->analyte, s->level));
}

/* "phosphate below detection (under 0.020 mg/L) in 6 of 10 tests" */
static const char *gone_words(struct report *p, const struct trend_analyte *n)
{
    const struct analyte_def *def = &analytes[n->analyte];
    const char *limit = level_words(p->d, n->analyte, n->state.limit);
    if (n->by_readings)
        return document_format(p->d, "%s below detection (under %s%s)%s", def->title, limit, def->unit_after,
                               line_aside(p, n));
    return document_format(p->d, "%s below detection (under %s%s) in %zu of %zu tests", def->title, limit,
                           def->unit_after, n->state.n_below, n->state.n);
}

static bool in_fahrenheit(const struct report *p, const struct trend_analyte *n)
{
    return p->us && n->analyte == ANALYTE_TEMP;
}

static const char *unit_after(const struct report *p, const struct trend_analyte *n)
{
    return in_fahrenheit(p, n) ? " F" : analytes[n->analyte].unit_after;
}

/* Its figures in the units of the page. */
static struct trend_analyte as_shown(const struct report *p, const struct trend_analyte *n)
{
    const double degree = fahrenheit_from_celsius(1) - fahrenheit_from_celsius(0);
    struct trend_analyte shown = *n;
    if (!in_fahrenheit(p, n))
        return shown;
    shown.band = (struct level_band){fahrenheit_from_celsius(n->band.low), fahrenheit_from_celsius(n->band.high)};
    shown.now = fahrenheit_from_celsius(n->now); /* NAN stays NAN */
    shown.state.level = fahrenheit_from_celsius(n->state.level);
    shown.state.last.value = fahrenheit_from_celsius(n->state.last.value);
    shown.state.slope_per_d *= degree;
    shown.state.slope_lo *= degree;
    shown.state.slope_hi *= degree;
    shown.state.offset *= degree;
    return shown;
}

/* " (the latest test, 9.5, is in it)"; "": it says the same, or is told of by itself */
static const char *latest_aside(struct report *p, const struct trend_analyte *n)
{
    return n->latest_in ? document_format(p->d, " (the latest test, %s, is in it)",
                                          level_words(p->d, n->analyte, n->state.last.value))
                        : "";
}

/* "nitrate 19.6 mg/L, above the band and rising 1.8 a week" */
static const char *where_words(struct report *p, const struct trend_analyte *of)
{
    const struct trend_analyte here = as_shown(p, of), *n = &here;
    const struct analyte_def *def = &analytes[n->analyte];
    const struct state *s = &n->state;
    if (!s->has_last)
        return document_format(p->d, "%s never tested", def->title);
    if (s->stale)
        return document_format(p->d, "%s not known, last tested %s ago", def->title, days_words(p, s->last_age_d));
    if (n->level == LEVEL_UNKNOWN && n->cannot_see)
        return document_format(p->d, "%s under %s%s, which does not tell where in its band it is", def->title,
                               level_words(p->d, n->analyte, s->limit), def->unit_after);
    if (n->level == LEVEL_BELOW_DETECTION)
        return gone_words(p, n);
    const char *now =
        isfinite(n->now) ? document_format(p->d, " %s%s", level_words(p->d, n->analyte, n->now), unit_after(p, n)) : "";
    if (is_shown(n) && s->has_slope && !n->by_readings)
        return document_format(p->d, "%s%s, %s%s and %s %s a week", def->title, now, place_words(n), latest_aside(p, n),
                               trend_words(p, n), plain_words(p->d, n->analyte, fabs(s->slope_per_d) * WEEK_D));
    return document_format(p->d, "%s%s, %s%s%s, %s", def->title, now, place_words(n), line_aside(p, n),
                           latest_aside(p, n), trend_words(p, n));
}

/* ---- in short --------------------------------------------------------------------------------------------------- */

/* ", foods poorer in nitrate, richer in phosphate"; "": as the house blend. */
static const char *foods_words(struct report *p, const struct system_state *a)
{
    const int n = a->direction[ANALYTE_NO3], po4 = a->direction[ANALYTE_PO4];
    if (n == 0 && po4 == 0)
        return "";
    if (n == po4)
        return document_format(p->d, ", foods %s in both%s", n < 0 ? "poorer" : "richer",
                               a->po4_low ? ", none that lowers phosphate" : "");
    return document_format(p->d, ", foods %s%s%s%s",
                           n == 0  ? ""
                           : n < 0 ? "poorer in nitrate"
                                   : "richer in nitrate",
                           n != 0 && po4 != 0 ? " and " : "",
                           po4 == 0  ? ""
                           : po4 < 0 ? "poorer in phosphate"
                                     : "richer in phosphate",
                           a->po4_low ? ", none that lowers phosphate" : "");
}

static const char *strength_words(struct report *p, const struct trend_system *s)
{
    const struct system_state *a = &s->advice;
    return document_format(p->d, "Next round: %s%s",
                           fabs(a->factor - 1) < 0.005 ? "house strength"
                                                       : document_format(p->d, "%.2f of house strength", a->factor),
                           foods_words(p, a));
}

static double brought(const struct trend_system *s, enum analyte a)
{
    double sum = 0;
    for (size_t i = 0; i < s->n_foods; i++)
        sum += fmax(0, s->foods[i].window_mg_l[a]);
    return sum;
}

/* What food cannot explain is said: it would be blamed for what a pump, a dead coral or a wrong test did. */
static const char *unexplained_words(struct report *p, const struct trend_system *s, enum analyte a, double per_week)
{
    const struct state *t = &s->analytes[a].state;
    double rise = t->slope_per_d * WEEK_D;
    if (t->verdict != STATE_RISING || !t->has_slope || s->logged_d < logged_least * p->r->window_d ||
        per_week > explained_least * rise)
        return "";
    return document_format(p->d, ". It rises by %s, so other causes, or more of the food than believed, bring the rest",
                           plain_words(p->d, a, rise));
}

/* "Phosphate: food brought about 0.02 mg/L a week, 62 % of it rich powder (by the log)"; NULL: nothing raised it. */
static const char *food_words(struct report *p, const struct trend_system *s, enum analyte a)
{
    if (s->most[a] == REF_NONE)
        return NULL;
    const struct trend_food *most = &s->foods[s->most[a]];
    double all = brought(s, a), per_week = all / s->logged_d * WEEK_D;
    return document_format(p->d, "%s: food brought about %s %s a week, %.0f %% of it %s (%s)%s",
                           title_words(p->d, analytes[a].title), plain_words(p->d, a, per_week), analytes[a].unit,
                           100 * most->window_mg_l[a] / all, p->f->foods[most->food].name,
                           p->r->effects.foods[a][most->food].learned ? "by the log" : "as declared",
                           unexplained_words(p, s, a, per_week));
}

static void add_sentence(struct text *t, const char *s)
{
    if (s)
        text_addf(t, "%s%s.", t->len ? " " : "", s);
}

/* NULL: the latest reading is what is said of it. */
static const char *latest_words(struct report *p, const struct system_state *a, int analyte)
{
    return a->latest[analyte] && a->to_repeat[analyte]
               ? document_format(p->d, "Latest reading: %s; test again before it is believed", a->latest[analyte])
               : NULL;
}

static void add_others_outside(struct report *p, const struct trend_system *s, struct text *t)
{
    for (size_t i = N_NUTRIENTS; i < s->n_analytes; i++)
        if (trend_outside(&s->analytes[i]))
            add_sentence(t, title_words(p->d, where_words(p, &s->analytes[i])));
}

static void put_short(struct report *p, const struct trend_system *s)
{
    static const char *const marks[] = {"!!", "! ", "! ", "? ", "> ", "? ", "  "};
    const struct trend_analyte *no3 = &s->analytes[ANALYTE_NO3], *po4 = &s->analytes[ANALYTE_PO4];
    const char *name = p->f->systems[s->system].name;
    struct text t = {0};
    if (no3->state.stale && po4->state.stale && s->last_test_day != DAY_NONE)
        text_addf(&t, "%s: nitrate and phosphate are not known, last tested %s ago; test both first", name,
                  days_words(p, p->r->day - s->last_test_day));
    else
        text_addf(&t, "%s: %s; %s", name, where_words(p, no3), where_words(p, po4));
    text_add(&t, ".");
    for (int a = 0; a < N_NUTRIENTS; a++)
        add_sentence(&t, latest_words(p, &s->advice, a));
    add_others_outside(p, s, &t);
    for (int a = 0; a < N_NUTRIENTS; a++)
        if (s->attention == ATTENTION_LEAVING && s->analytes[a].has_forecast &&
            s->analytes[a].crossing.likely_day != DAY_NONE)
            add_sentence(&t, document_format(p->d, "%s %s", title_words(p->d, analytes[a].title),
                                             crossing_words(p->d, &s->analytes[a].crossing, p->r->day)));
    for (int a = 0; a < N_NUTRIENTS; a++)
        if (s->analytes[a].level == LEVEL_ABOVE_BAND || s->analytes[a].state.verdict == STATE_RISING)
            add_sentence(&t, food_words(p, s, (enum analyte)a));
    if (s->due_day != DAY_NONE && s->due_day <= p->r->day && !no3->state.stale)
        add_sentence(&t, s->due_day == p->r->day ? "Test due today" : "Test overdue");
    if (s->overfull)
        add_sentence(&t, "Over the day's ceiling: some wait too long for their food");
    add_sentence(&t, strength_words(p, s));
    document_item(p->d, marks[s->attention], document_taken(p->d, &t));
}

/* ---- charts ----------------------------------------------------------------------------------------------------- */

static void add_points(struct report *p, const struct trend_analyte *n, struct plot *plot)
{
    struct plot_point *points = arena_alloc(&p->d->arena, n->n_points, sizeof *points);
    if (!points) {
        p->d->failed = true;
        return;
    }
    for (size_t i = 0; i < n->n_points; i++)
        points[plot->n_points++] = (struct plot_point){n->points[i].at_d, n->points[i].value,
                                                       n->points[i].below     ? 'v'
                                                       : n->points[i].outlier ? 'x'
                                                       : n->points[i].other   ? '+'
                                                                              : 'o'};
    plot->points = points;
}

/* The line over the tests, and what is likely ahead: the middle of the runs, and the nine tenths of them about it. */
static void add_lines(struct report *p, const struct trend_analyte *n, struct plot *plot)
{
    struct plot_span *line = arena_alloc(&p->d->arena, n->n_line, sizeof *line);
    struct plot_span *ahead = arena_alloc(&p->d->arena, n->n_ahead, sizeof *ahead);
    if (!line || !ahead) {
        p->d->failed = true;
        return;
    }
    for (size_t i = 0; i < n->n_line; i++)
        line[plot->n_line++] = (struct plot_span){n->line[i].at_d, n->line[i].level, n->line[i].low, n->line[i].high};
    for (size_t i = 0; i < n->n_ahead; i++)
        ahead[plot->n_ahead++] = (struct plot_span){n->ahead[i].day, n->ahead[i].p50, n->ahead[i].p05, n->ahead[i].p95};
    plot->line = line;
    plot->ahead = ahead;
    if (n->n_ahead > 0)
        plot->ahead_label = day_words(p->d, p->r->day + n->ahead[n->n_ahead - 1].day);
}

static void add_ticks(struct report *p, const struct trend_system *s, struct plot *plot)
{
    struct plot_tick *ticks = arena_alloc(&p->d->arena, s->n_events, sizeof *ticks);
    if (!ticks) {
        p->d->failed = true;
        return;
    }
    for (size_t i = 0; i < s->n_events; i++)
        ticks[plot->n_ticks++] = (struct plot_tick){s->events[i].at_d, s->events[i].changed ? 'w' : 'f'};
    plot->ticks = ticks;
}

static struct plot plot_of(struct report *p, const struct trend_system *s, const struct trend_analyte *n)
{
    struct plot plot = {
        .title = document_format(p->d, "%s, %s", analytes[n->analyte].title, analytes[n->analyte].unit),
        .first_label = day_words(p->d, p->r->day - (int)p->r->window_d),
        .last_label = day_words(p->d, p->r->day),
        .ahead_label = "",
        .x_first = -p->r->window_d,
        .band_low = n->band.low,
        .band_high = n->band.high,
        .decimals = lesser(analytes[n->analyte].decimals, CHART_DECIMALS),
    };
    add_points(p, n, &plot);
    add_lines(p, n, &plot);
    add_ticks(p, s, &plot);
    return plot;
}

/* All waters side by side, what needs attention first. */
static void put_overview(struct report *p)
{
    if (p->r->n_systems < 2)
        return;
    struct plot *plots = arena_alloc(&p->d->arena, p->r->n_systems * N_NUTRIENTS, sizeof *plots);
    size_t n = 0;
    for (size_t i = 0; plots && i < p->r->n_systems; i++)
        for (int a = 0; a < N_NUTRIENTS; a++) {
            const struct trend_system *s = &p->r->systems[i];
            if (s->analytes[a].n_points < 2)
                continue;
            plots[n] = plot_of(p, s, &s->analytes[a]);
            plots[n++].title = document_format(p->d, "%s: %s", p->f->systems[s->system].name, analytes[a].title);
        }
    p->d->failed = p->d->failed || !plots;
    if (n > 0) {
        document_space(p->d);
        document_plots(p->d, plots, n, true);
    }
}

static const char *const chart_words[] = {
    [CHARTS_ASCII] = "o a test, v below detection, x far off, + another method; --- the band's edges; = the line, in "
                     "its interval (.); ~ what is likely ahead, in its own (:); at the foot f fed, w water changed",
    [CHARTS_UNICODE] = "● a test, ▽ below detection, × far off, + another method; ┄ the band's edges; ━ the line and ╍ "
                       "what is likely ahead, in their intervals (░); at the foot ┴ fed, ◆ water changed",
    [CHARTS_PAPER] = "dots are tests, open arrows below detection, x far off, + another method; the band's edges are "
                     "dashed; the line and what is likely ahead lie in their intervals; at the foot strokes are "
                     "feedings, diamonds water changes",
};

static void put_head(struct report *p)
{
    const char *first = day_words(p->d, p->r->week_from), *last = day_words(p->d, p->r->day);
    p->d->running_left = document_format(p->d, "%s  weekly report to %s", p->f->settings.facility, last);
    p->d->day = last;
    document_heading(p->d, document_format(p->d, "WEEKLY REPORT, %s, %s to %s %s", p->f->settings.facility, first,
                                           weekday_name(day_weekday(p->r->day)), last));
    document_text(p->d, document_format(p->d,
                                        "Trends over %.0f days, with 90 %% intervals; water changes put back. In the "
                                        "charts: %s.",
                                        p->r->window_d, chart_words[p->d->charts]));
    document_space(p->d);
    document_heading(p->d, "IN SHORT");
    size_t fed = 0;
    for (size_t i = 0; i < p->r->n_systems; i++) {
        put_short(p, &p->r->systems[i]);
        fed += p->r->systems[i].n_window_fed;
    }
    if (p->r->n_systems == 0)
        document_text(p->d, "There is no system yet.");
    else if (fed == 0)
        document_item(p->d, "- ",
                      document_format(p->d,
                                      "No feeding is logged in these %.0f days, so it cannot be told which food "
                                      "did it.",
                                      p->r->window_d));
    put_overview(p);
}

/* ---- the table of analytes -------------------------------------------------------------------------------------- */

static const struct column analyte_columns[] = {
    {"", 14, false},       {"latest", 6, true}, {"line", 6, true}, {"band", 9, true}, {"a week (90 %)", 24, true},
    {"verdict", 0, false}, {"tests", 5, true},
};

/* The last reading as it was read, beside what the line through all of them says. */
static const char *reading_words(struct report *p, const struct trend_analyte *n)
{
    const struct state *s = &n->state;
    return s->has_last
               ? document_format(p->d, "%s%s", s->last.below ? "<" : "", level_words(p->d, n->analyte, s->last.value))
               : "-";
}

static const char *level_or_limit(struct report *p, const struct trend_analyte *n)
{
    const struct state *s = &n->state;
    if (s->level_verdict == LEVEL_BELOW_DETECTION)
        return document_format(p->d, "<%s", level_words(p->d, n->analyte, s->limit));
    return s->has_level ? document_format(p->d, "%s%s", level_words(p->d, n->analyte, s->level), s->stale ? "?" : "")
                        : "-";
}

static const char *week_words(struct report *p, const struct trend_analyte *n)
{
    const struct state *s = &n->state;
    if (!s->has_slope)
        return "-";
    return document_format(p->d, "%s (%s to %s)", signed_words(p->d, n->analyte, s->slope_per_d * WEEK_D),
                           plain_words(p->d, n->analyte, s->slope_lo * WEEK_D),
                           plain_words(p->d, n->analyte, s->slope_hi * WEEK_D));
}

static const char *verdict_words(struct report *p, const struct trend_analyte *n)
{
    static const char *const places[] = {
        [LEVEL_UNKNOWN] = "level unknown", [LEVEL_BELOW_DETECTION] = "below detection",
        [LEVEL_BELOW_BAND] = "below band", [LEVEL_IN_BAND] = "in band,",
        [LEVEL_ABOVE_BAND] = "above band",
    };
    if (!n->state.has_last)
        return "never tested";
    if (n->state.stale)
        return document_format(p->d, "%s old", days_words(p, n->state.last_age_d));
    if (n->level == LEVEL_UNKNOWN && n->cannot_see)
        return "not told";
    if (n->level == LEVEL_BELOW_DETECTION && !is_shown(n))
        return "below detection";
    return document_format(p->d, "%s %s", places[n->level],
                           n->state.verdict == STATE_TOO_FEW ? "too few tests"
                           : has_no_trend(n)                 ? "no trend"
                                                             : trend_words(p, n));
}

static void put_analytes(struct report *p, const struct trend_system *s)
{
    document_table(p->d, analyte_columns, COUNT_OF(analyte_columns));
    document_whole(p->d);
    for (size_t i = 0; i < s->n_analytes; i++) {
        const struct trend_analyte here = as_shown(p, &s->analytes[i]), *n = &here;
        const struct analyte_def *def = &analytes[n->analyte];
        const char *cells[] = {
            document_format(p->d, "%s%s", def->title, unit_after(p, n)), reading_words(p, n), level_or_limit(p, n),
            document_format(p->d, "%g-%g", n->band.low, n->band.high),   week_words(p, n),    verdict_words(p, n),
            document_format(p->d, "%zu/%zu", n->n_week, n->state.n),
        };
        document_row(p->d, cells);
    }
}

static void put_plots(struct report *p, const struct trend_system *s)
{
    struct plot plots[N_NUTRIENTS];
    size_t n = 0;
    for (int a = 0; a < N_NUTRIENTS; a++) {
        if (s->analytes[a].n_points < 2)
            continue;
        plots[n++] = plot_of(p, s, &s->analytes[a]);
    }
    if (n == 0)
        return;
    document_keep(p->d);
    document_space(p->d);
    document_keep(p->d);
    document_plots(p->d, plots, n, false);
}

/* ---- what follows ----------------------------------------------------------------------------------------------- */

static const char *chance_words(struct report *p, double frac)
{
    return frac < 0.01 ? "less than 1 %" : document_format(p->d, "%.0f %%", 100 * frac);
}

static void put_crossings(struct report *p, const struct trend_system *s)
{
    for (size_t i = 0; i < s->n_analytes; i++) {
        const struct trend_analyte *n = &s->analytes[i];
        const char *name = title_words(p->d, analytes[n->analyte].title);
        if (!n->has_forecast || (i >= N_NUTRIENTS && !is_shown(n) && n->crossing.inside))
            continue;
        const char *words = crossing_words(p->d, &n->crossing, p->r->day);
        if (words && (is_shown(n) || !n->crossing.inside))
            document_item(p->d, "-", document_format(p->d, "%s %s, as things go.", name, words));
        else if (!n->crossing.inside)
            document_item(
                p->d, "-",
                document_format(p->d, "%s does not come back into the band within 12 weeks, as things go.", name));
        else
            document_item(p->d, "-",
                          document_format(p->d, "%s: %s chance to be outside the band four weeks from now%s.", name,
                                          chance_words(p, n->outside_frac),
                                          n->outside_frac >= 0.1 && n->state.n_fitted < 8
                                              ? document_format(p->d, "; %zu tests leave it open", n->state.n_fitted)
                                              : ""));
    }
}

static void put_water(struct report *p, const struct trend_system *s)
{
    for (int a = 0; a < N_NUTRIENTS; a++) {
        const struct trend_analyte *n = &s->analytes[a];
        if (n->edge_change_frac <= 0)
            continue;
        const char *over =
            n->edge_change_d < 2 ? "" : document_format(p->d, ", over %d days or more", n->edge_change_d);
        document_item(
            p->d, "-",
            document_format(p->d, "%s: to bring it to the band's upper edge, change %.0f %% of the water (%s)%s.",
                            title_words(p->d, analytes[a].title), 100 * n->edge_change_frac,
                            volume_words(p->d, n->edge_change_frac * p->f->systems[s->system].volume_l, p->us), over));
    }
}

static void put_methods(struct report *p, const struct trend_analyte *of, const char *name)
{
    const struct trend_analyte here = as_shown(p, of), *n = &here;
    const struct state *s = &n->state;
    size_t checks = s->n_other - s->n_offset;
    const char *method = n->method && *n->method ? n->method : "the unnamed method";
    if (s->method_changed)
        document_item(p->d, "-",
                      document_format(p->d, "%s: the method changed from %s to %s on %s; only its tests are fitted.",
                                      name, *n->method_before ? n->method_before : "an unnamed one", method,
                                      day_words(p->d, moment_day(s->break_min))));
    else if (checks > 0)
        document_item(p->d, "-",
                      document_format(p->d, "%s: %zu test%s by another method than %s (+), shown and not fitted.", name,
                                      checks, checks > 1 ? "s" : "", method));
    if (s->n_offset > 0)
        document_item(p->d, "-",
                      document_format(
                          p->d,
                          "%s: %zu test%s by another method (+) fitted, taken as %s%s %s than read: %zu pairs "
                          "with %s set it apart by that.",
                          name, s->n_offset, s->n_offset > 1 ? "s" : "", level_words(p->d, n->analyte, fabs(s->offset)),
                          unit_after(p, n), s->offset > 0 ? "less" : "more", s->n_pairs, method));
}

static void put_oddities(struct report *p, const struct trend_system *s)
{
    for (size_t i = 0; i < s->n_analytes; i++) {
        const struct trend_analyte *n = &s->analytes[i];
        const char *name = title_words(p->d, analytes[n->analyte].title);
        put_methods(p, n, name);
        if (n->state.step_min != MOMENT_NONE)
            document_item(p->d, "-",
                          document_format(p->d,
                                          "%s jumped on or before %s rather than drifting: look for what was done "
                                          "then.",
                                          name, day_words(p->d, moment_day(n->state.step_min))));
        for (size_t k = 0; k < n->n_points; k++)
            if (n->points[k].outlier)
                document_item(p->d, "-",
                              document_format(p->d,
                                              "%s of %s%s on %s is far off the line (x); it is kept, a repeat would "
                                              "settle it.",
                                              name, level_words(p->d, n->analyte, n->points[k].value), unit_after(p, n),
                                              day_words(p->d, p->r->day + (int)floor(n->points[k].at_d + 0.5))));
    }
}

static void put_tests(struct report *p, const struct trend_system *s)
{
    struct text t = {0};
    if (s->last_test_day == DAY_NONE) {
        document_item(p->d, "-", "Tests: nitrate and phosphate have never both been tested; due now.");
        return;
    }
    text_addf(&t, "Tests: last %s, ", day_words(p->d, s->last_test_day));
    if (s->due_day < p->r->day)
        text_addf(&t, "overdue since %s (%s).", day_words(p->d, s->due_day), days_words(p, p->r->day - s->due_day));
    else
        text_addf(&t, "next due %s.", s->due_day == p->r->day ? "today" : day_words(p->d, s->due_day));
    if (s->n_missed > 0) {
        text_addf(&t, " Weeks without a test: %zu of %zu, beginning", s->n_missed, s->n_weeks);
        for (size_t i = 0; i < s->n_missed && i < LISTED_DAYS_MAX; i++)
            text_addf(&t, "%s %s", i ? "," : "", day_words(p->d, s->missed[i]));
        text_add(&t, s->n_missed > LISTED_DAYS_MAX ? " and later." : ".");
    }
    document_item(p->d, "-", document_taken(p->d, &t));
}

static const struct column food_columns[] = {
    {"fed in the week", 0, false}, {"amount", 11, true},         {"mg N", 8, true}, {"mg P", 8, true},
    {"nitrate mg/L", 12, true},    {"phosphate mg/L", 14, true},
};

static void put_foods(struct report *p, const struct trend_system *s)
{
    double n_mg = 0, p_mg = 0, rise[N_NUTRIENTS] = {0};
    if (s->n_week_fed == 0) {
        if (s->n_window_fed > 0)
            document_item(p->d, "-", "No feeding is logged in the week.");
        return;
    }
    document_space(p->d);
    document_table(p->d, food_columns, COUNT_OF(food_columns));
    document_whole(p->d);
    for (size_t i = 0; i < s->n_foods; i++) {
        const struct trend_food *t = &s->foods[i];
        const struct food *food = &p->f->foods[t->food];
        if (t->week_units <= 0)
            continue;
        const char *cells[] = {
            food->name,
            document_format(p->d, "%.1f %s", t->week_units, food_unit_name(food)),
            document_format(p->d, "%.0f", t->week_n_mg),
            document_format(p->d, "%.1f", t->week_p_mg),
            signed_words(p->d, ANALYTE_NO3, t->week_mg_l[ANALYTE_NO3]),
            signed_words(p->d, ANALYTE_PO4, t->week_mg_l[ANALYTE_PO4]),
        };
        document_row(p->d, cells);
        n_mg += t->week_n_mg;
        p_mg += t->week_p_mg;
        for (int a = 0; a < N_NUTRIENTS; a++)
            rise[a] += t->week_mg_l[a];
    }
    const char *total[] = {
        document_format(p->d, "all, on %s", days_words(p, (double)s->n_week_fed)),
        "",
        document_format(p->d, "%.0f", n_mg),
        document_format(p->d, "%.1f", p_mg),
        signed_words(p->d, ANALYTE_NO3, rise[ANALYTE_NO3]),
        signed_words(p->d, ANALYTE_PO4, rise[ANALYTE_PO4]),
    };
    document_row(p->d, total);
}

static void put_advice(struct report *p, const struct trend_system *s)
{
    const struct system_state *a = &s->advice;
    for (int i = 0; i < N_NUTRIENTS; i++)
        if (latest_words(p, a, i))
            document_item(p->d, "!", document_format(p->d, "%s.", latest_words(p, a, i)));
    document_item(p->d, ">",
                  document_format(p->d, "Why this strength: %s%s%s%s.", a->rule, a->held ? " (" : "",
                                  a->held ? a->held : "", a->held ? ")" : ""));
}

/* "Over the day's ceiling: … What would help: …" */
static void put_overfull(struct report *p, const char *what, const struct capacity *c)
{
    struct text t = {0};
    text_addf(&t, "%s: ", what);
    capacity_words(p->f, c, &t);
    text_add(&t, ". What would help: ");
    capacity_help(c, &t);
    text_add(&t, ".");
    document_item(p->d, "!", document_taken(p->d, &t));
}

static void put_system(struct report *p, const struct trend_system *s)
{
    const struct system *sys = &p->f->systems[s->system];
    document_space(p->d);
    document_heading(p->d,
                     document_format(p->d, "SYSTEM %s: %s; tested every %g d; %.0f %% of the water changed a week",
                                     sys->name, volume_words(p->d, sys->volume_l, p->us), sys->test_every_d,
                                     100 * s->habit_frac_per_week));
    put_analytes(p, s);
    put_plots(p, s);
    put_foods(p, s);
    document_space(p->d);
    put_advice(p, s);
    for (int a = 0; a < N_NUTRIENTS; a++) {
        const char *words = food_words(p, s, (enum analyte)a);
        if (words)
            document_item(p->d, "-", document_format(p->d, "%s.", words));
    }
    put_crossings(p, s);
    put_water(p, s);
    if (!isnan(s->np_ratio))
        document_item(p->d, "-", document_format(p->d, "N:P %.0f by moles.", s->np_ratio));
    put_tests(p, s);
    put_oddities(p, s);
    if (s->overfull)
        put_overfull(p, "Over the day's ceiling", s->overfull);
}

/* ---- what the foods do ------------------------------------------------------------------------------------------ */

static const struct column effect_columns[] = {
    {"mg per g or mL", 0, false},    {"of", 9, false},    {"declared", 11, true},
    {"by the log (90 %)", 23, true}, {"weight", 6, true}, {"used", 8, false},
};

/* 120, where %.2g would say 1.2e+02. */
static const char *short_words(struct report *p, double v, int digits)
{
    char out[64];
    number_short(v, digits, out);
    return document_format(p->d, "%s", out);
}

static void put_effect(struct report *p, size_t food, enum analyte a)
{
    const struct food_belief *b = &p->r->effects.foods[a][food];
    const char *cells[] = {
        p->f->foods[food].name,
        analytes[a].title,
        document_format(p->d, "%s +- %s", short_words(p, b->declared, 3), short_words(p, b->prior_sd, 2)),
        document_format(p->d, "%s (%s to %s)", short_words(p, b->effect.mean, 3), short_words(p, b->effect.lo, 3),
                        short_words(p, b->effect.hi, 3)),
        document_format(p->d, "%.0f %%", 100 * b->effect.data_weight_frac),
        b->learned ? "the log" : "declared",
    };
    document_row(p->d, cells);
}

/* A claim of the other sign than is declared is told in full, and used nowhere. */
static void put_against(struct report *p, size_t food, enum analyte a)
{
    const struct food_belief *b = &p->r->effects.foods[a][food];
    const char *unit = food_unit_name(&p->f->foods[food]);
    if (b->against)
        document_item(
            p->d, "!",
            document_format(p->d,
                            "%s: the log speaks against the declared %+.3g mg per %s of %s; it has %+.3g (%+.3g to "
                            "%+.3g). Check the label, what was logged, and the test kit. %s",
                            title_words(p->d, analytes[a].title), b->declared, unit, p->f->foods[food].name,
                            b->effect.mean, b->effect.lo, b->effect.hi,
                            b->declared < 0 ? "Until then it counts as neither raising nor lowering."
                                            : "The plan uses what is declared: it counts no food as lowering "
                                              "that is not declared to."));
}

/* What would tell the two apart; where little was given at all, only that is said. */
static void put_collinear(struct report *p, enum analyte a, const struct food_collinear *t)
{
    const char *food = p->f->foods[t->food].name, *analyte = title_words(p->d, analytes[a].title);
    const char *gain = document_format(p->d, "That takes the +- of %s from %.3g to %.3g; repeat it for more", food,
                                       t->sd_now, t->sd_after);
    if (p->r->effects.foods[a][t->food].effect.data_weight_frac < weight_least &&
        t->sd_after > (1 - gain_least) * t->sd_now)
        document_item(
            p->d, "-",
            document_format(p->d, "%s: too little of %s was given for the log to tell what it does.", analyte, food));
    else if (t->other == FOOD_BACKGROUND)
        document_item(p->d, "-",
                      document_format(p->d,
                                      "%s: %s cannot be told from the water's own drift, for it is given too evenly. "
                                      "To tell: leave it out from one test to the next. %s.",
                                      analyte, food, gain));
    else
        document_item(p->d, "-",
                      document_format(p->d,
                                      "%s: %s and %s cannot be told apart, for they are given together. To tell: "
                                      "from one test to the next give %s alone, in the amount of both, and then %s "
                                      "alone. %s.",
                                      analyte, food, p->f->foods[t->other].name, food, p->f->foods[t->other].name,
                                      gain));
}

static void put_collinears(struct report *p, enum analyte a)
{
    const struct learned_effects *l = &p->r->effects;
    for (size_t i = 0; i < l->n_collinears[a] && i < TANGLES_SHOWN; i++)
        put_collinear(p, a, &l->collinears[a][i]);
    if (l->n_collinears[a] > TANGLES_SHOWN)
        document_item(p->d, "-",
                      document_format(p->d, "%s: %zu more such pairs (--json lists them).",
                                      title_words(p->d, analytes[a].title), l->n_collinears[a] - TANGLES_SHOWN));
}

static void put_effects(struct report *p)
{
    const struct learned_effects *l = &p->r->effects;
    bool fed = false;
    for (size_t i = 0; l->n_systems > 0 && i < l->n_foods; i++)
        fed = fed || l->foods[ANALYTE_NO3][i].effect.fed || l->foods[ANALYTE_PO4][i].effect.fed;
    if (l->n_systems == 0)
        return;
    document_space(p->d);
    document_heading(p->d, "WHAT THE FOODS DO TO THE WATER");
    if (!fed) {
        document_text(p->d,
                      "No logged feeding lies between two tests yet, so the log cannot tell; effects are as declared.");
        return;
    }
    document_text(
        p->d, document_format(p->d,
                              "From half a year's log of %zu system%s: %zu stretches between nitrate tests and %zu "
                              "between phosphate tests. The log's figure is used where its interval leaves out zero, "
                              "it carries at least half the weight, the food can be told from the others, and its sign "
                              "does not contradict the declared one; otherwise nothing is claimed.",
                              l->n_systems, l->n_systems == 1 ? "" : "s", l->n_stretches[ANALYTE_NO3],
                              l->n_stretches[ANALYTE_PO4]));
    document_table(p->d, effect_columns, COUNT_OF(effect_columns));
    for (size_t i = 0; i < l->n_foods; i++)
        for (int a = 0; a < N_NUTRIENTS; a++)
            if (l->foods[a][i].effect.fed)
                put_effect(p, i, (enum analyte)a);
    for (int a = 0; a < N_NUTRIENTS; a++) {
        if (l->error_scale_high[a])
            document_item(p->d, "-",
                          document_format(p->d,
                                          "%s scatters by more than its tests explain; the intervals were widened.",
                                          title_words(p->d, analytes[a].title)));
        if (l->misfit[a])
            document_item(
                p->d, "-",
                document_format(p->d,
                                "%s does what foods, uptake and tests do not explain, so nothing is claimed of "
                                "any food.",
                                title_words(p->d, analytes[a].title)));
        for (size_t i = 0; i < l->n_foods; i++)
            put_against(p, i, (enum analyte)a);
        put_collinears(p, (enum analyte)a);
    }
}

/* ---- the week's rounds ------------------------------------------------------------------------------------------ */

static const struct column care_columns[] = {
    {"food", 0, false},      {"lines fed", 10, true}, {"refused", 9, true},
    {"weighings", 10, true}, {"off, mean", 10, true}, {"worst", 7, true},
};

static void put_care(struct report *p, const struct log_figures *g)
{
    bool headed = false;
    for (size_t i = 0; i < p->f->n_foods; i++) {
        const struct food_figures *food = &g->foods[i];
        if (food->refused == 0 && food->weighings == 0)
            continue;
        if (!headed)
            document_table(p->d, care_columns, COUNT_OF(care_columns));
        headed = true;
        bool weighed = food->weighings > 0;
        const char *cells[] = {
            p->f->foods[i].name,
            document_format(p->d, "%ld", food->offered),
            document_format(p->d, "%ld", food->refused),
            document_format(p->d, "%ld", food->weighings),
            weighed ? document_format(p->d, "%.1f %%", 100 * food->off_frac_sum / (double)food->weighings) : "",
            weighed ? document_format(p->d, "%.1f %%", 100 * food->off_frac_worst) : "",
        };
        document_row(p->d, cells);
    }
}

static void put_open_rounds(struct report *p, const struct log_week *week)
{
    for (size_t i = 0; i < week->n_open; i++)
        document_item(p->d, "!",
                      document_format(p->d, "Round %ld%s%s of %s, never accounted for: %s.", week->open[i].number,
                                      *week->open[i].name ? ", " : "", week->open[i].name,
                                      day_words(p->d, week->open[i].day), week->open[i].lines));
}

static void put_rounds(struct report *p, const struct log_week *week)
{
    const struct log_figures *g = &week->figures;
    document_space(p->d);
    document_heading(p->d, "THE WEEK'S ROUNDS");
    if (g->rounds == 0) {
        document_text(p->d, "No round is kept in this week.");
        return;
    }
    const char *counts = document_format(p->d, "%ld round%s, %ld line%s: %ld on time", g->rounds,
                                         g->rounds == 1 ? "" : "s", g->lines, g->lines == 1 ? "" : "s", g->on_time);
    for (size_t i = 1; i < COUNT_OF(g->outcomes); i++) /* what went as planned needs no word */
        if (g->outcomes[i] > 0)
            counts = document_format(p->d, "%s, %ld %s", counts, g->outcomes[i], outcomes[i].title);
    document_text(p->d, document_format(p->d, "%s, %ld never accounted for.", counts, g->unaccounted));
    document_text(p->d, document_format(p->d, "Slurry: %.1f mL planned, %.1f mL mixed, %.1f mL given, %.1f mL refused.",
                                        g->planned_ml, g->mixed_ml, g->given_ml, g->refused_ml));
    if (g->mixed_ml > 0)
        document_text(
            p->d,
            document_format(p->d, "Wasted: %.1f mL, %.0f %% of what was mixed, left in pots and tools or not given.",
                            log_wasted_ml(g), 100 * log_wasted_ml(g) / g->mixed_ml));
    put_open_rounds(p, week);
    if (p->r->short_of_hands)
        put_overfull(p, "More corals than hands", p->r->short_of_hands);
    put_care(p, g);
}

/* ---- corals and tanks -------------------------------------------------------------------------------------------- */

enum { UNFED_SHOWN = 10 };

static void put_stops(struct report *p, const struct log_week *week)
{
    for (size_t i = 0; i < week->n_stops; i++) {
        struct text words = {0};
        long_stop_words(&week->stops[i], &words);
        document_item(p->d, "!",
                      document_format(p->d, "%s, %s: %s.", p->f->tanks[week->stops[i].tank].name,
                                      day_words(p->d, week->stops[i].day), document_taken(p->d, &words)));
    }
}

static void put_switches(struct report *p, const struct log_week *week)
{
    for (size_t i = 0; i < week->n_switches; i++) {
        const struct switch_fault *s = &week->switches[i];
        struct text words = {0};
        switch_fault_words(s, &words);
        document_item(p->d, "!",
                      document_format(p->d, "%s, %s: %s.", p->f->systems[s->system].name, day_words(p->d, s->day),
                                      document_taken(p->d, &words)));
    }
}

static void put_unfed(struct report *p, const struct log_week *week)
{
    for (size_t i = 0; i < week->n_unfed && i < UNFED_SHOWN; i++) {
        const struct unfed *u = &week->unfed[i];
        const struct colony *c = &p->f->colonies[u->colony];
        document_item(
            p->d, "?",
            document_format(p->d, "%s in %s, %s: %s %d days, %g wanted%s%s.", c->code, p->f->tanks[c->tank].name,
                            p->f->kinds[c->kind].name, u->never ? "never fed in" : "not fed for", u->days,
                            p->f->kinds[c->kind].interval_d, *c->hold_reason ? "; held: " : "", c->hold_reason));
    }
    if (week->n_unfed > UNFED_SHOWN)
        document_item(
            p->d, "?",
            document_format(p->d, "And %zu more lots longer than twice their interval.", week->n_unfed - UNFED_SHOWN));
}

static void put_life(struct report *p, const struct log_week *week)
{
    static const char *const heads[N_WEEK_PARTS] = {"", "treated: ", "thrown away: "};
    const struct field *reason = &reg_get(REG_TALLY)->fields[reg_field(reg_get(REG_TALLY), "reason")];
    struct text counts = {0};
    size_t n = week->n_stops + week->n_switches + week->n_unfed;
    for (int i = 0; i < TALLY_MOVED; i++)
        if (week->corals[i] > 0)
            text_addf(&counts, "%s%ld %s", counts.len ? ", " : "", week->corals[i], reason->choices[i]);
    for (size_t i = 0; i < COUNT_OF(week->events); i++)
        n += week->events[i].n;
    const char *corals = document_taken(p->d, &counts);
    if (n > 0 || *corals) {
        document_space(p->d);
        document_heading(p->d, "CORALS AND TANKS");
    }
    put_stops(p, week);
    put_switches(p, week);
    put_unfed(p, week);
    if (*corals)
        document_item(p->d, "-", document_format(p->d, "Corals: %s.", corals));
    for (size_t i = 0; i < COUNT_OF(week->events); i++)
        for (size_t k = 0; k < week->events[i].n; k++)
            document_item(p->d, "-",
                          document_format(p->d, "%s, %s%s.", day_words(p->d, week->events[i].rows[k].day), heads[i],
                                          week->events[i].rows[k].text));
}

bool report_document(const struct facility *f, const struct trend_report *r, const struct log_week *week, bool us_units,
                     enum chart_style charts, struct document *d, struct err *e)
{
    struct report p = {f, r, us_units, d};
    d->charts = charts;
    d->text_width = TEXT_WIDTH;
    put_head(&p);
    for (size_t i = 0; i < r->n_systems; i++)
        put_system(&p, &r->systems[i]);
    put_rounds(&p, week);
    put_life(&p, week);
    put_effects(&p);
    return d->failed ? err_memory(e) : true;
}
