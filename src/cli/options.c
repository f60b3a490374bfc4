/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Arguments into the options of a command's row. */
#include "cli.h"
#include "main.h"

#include "neap/print.h"

#include <getopt.h>

static size_t count_options(const struct option_row *rows)
{
    size_t n = 0;
    while (rows && rows[n].name)
        n++;
    return n;
}

static size_t find_option(const struct command *cmd, const char *name)
{
    size_t n = count_options(cmd->options);
    for (size_t i = 0; i < n; i++)
        if (strcmp(cmd->options[i].name, name) == 0)
            return i;
    return SIZE_MAX;
}

const struct option_value *option_get(const struct context *c, const char *name)
{
    static const struct option_value none = {0};
    size_t i = find_option(c->command, name);
    return i == SIZE_MAX ? &none : &c->options[i];
}

bool option_given(const struct context *c, const char *name)
{
    return option_get(c, name)->n > 0;
}

const char *option_any(const struct context *c, const char *const *names, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (option_given(c, names[i]))
            return names[i];
    return NULL;
}

double option_number(const struct context *c, const char *name, double fallback)
{
    const struct option_value *v = option_get(c, name);
    return v->n ? v->number : fallback;
}

const char *option_text(const struct context *c, const char *name, const char *fallback)
{
    const struct option_value *v = option_get(c, name);
    return v->n ? v->text[v->n - 1] : fallback;
}

static bool take_number(const struct option_row *row, const char *text, struct option_value *v, struct err *e)
{
    long whole = 0;
    bool ok = row->type == OPT_COUNT ? count_parse(text, &whole) : number_parse(text, &v->number);
    if (row->type == OPT_COUNT)
        v->number = (double)whole;
    if (!ok)
        return err_set(e, ERR_MISUSE, NULL, "--%s is \"%.60s\"; expected a %s%s%s", row->name, text,
                       row->type == OPT_COUNT ? "whole number" : "number", row->unit ? " of " : "",
                       row->unit ? row->unit : "");
    assert(row->min < row->max);
    if (v->number < row->min || v->number > row->max)
        return err_set(e, ERR_MISUSE, NULL, "--%s is %.60s; expected %g to %g%s%s", row->name, text, row->min, row->max,
                       row->unit ? " " : "", row->unit ? row->unit : "");
    return true;
}

static bool take_value(const struct option_row *row, const char *text, struct option_value *v, struct err *e)
{
    if (v->n > 0 && !row->repeats)
        return err_set(e, ERR_MISUSE, NULL, "--%s is given twice; expected it once", row->name);
    if (v->n == REPEATS_MAX)
        return err_set(e, ERR_MISUSE, NULL, "--%s is given more often than expected: %d times at most", row->name,
                       REPEATS_MAX);
    v->text[v->n++] = text;
    switch (row->type) {
    case OPT_FLAG:
    case OPT_TEXT: return true;
    case OPT_NUMBER:
    case OPT_COUNT: return take_number(row, text, v, e);
    case OPT_DAY:
        return day_parse(text, &v->day) ||
               err_set(e, ERR_MISUSE, NULL, "--%s is \"%.60s\"; expected a day as YYYY-MM-DD", row->name, text);
    case OPT_MOMENT:
        return moment_parse(text, &v->moment) ||
               err_set(e, ERR_MISUSE, NULL, "--%s is \"%.60s\"; expected a moment as YYYY-MM-DDTHH:MM", row->name,
                       text);
    case OPT_CLOCK:
        return clock_parse(text, &v->minute) ||
               err_set(e, ERR_MISUSE, NULL, "--%s is \"%.60s\"; expected a time as HH:MM", row->name, text);
    }
    return false;
}

/* The options every command has. */
enum { N_EVERYWHERE = 5 };
const struct option_row options_everywhere[N_EVERYWHERE + 1] = {
    {"db", OPT_TEXT, "FILE", .help = "the store (else $NEAP_DB, else the user's data folder)"},
    {"on", OPT_TEXT, "DATE", .help = "the day it is, or day and time (else the clock)"},
    {"units", OPT_TEXT, "metric|us", .help = "what is printed (else the house's setting)"},
    {"json", OPT_FLAG, .help = "print data as JSON"},
    {"help", OPT_FLAG, .help = "show this"},
    {0},
};

static bool take_everywhere(struct context *c, size_t which, const char *text, bool *help, struct err *e)
{
    int day;
    switch (which) {
    case 0: c->db = text; return true;
    case 1:
        c->knows_time = moment_parse(text, &c->now);
        if (c->knows_time)
            c->today = moment_day(c->now);
        else if (day_parse(text, &day)) {
            c->today = day;
            c->now = day * MIN_PER_DAY + 12 * 60;
        } else
            return err_set(e, ERR_MISUSE, NULL, "--on is \"%.60s\"; expected a day as YYYY-MM-DD", text);
        return true;
    case 2:
        c->us_units = strcmp(text, "us") == 0;
        c->units_given = true;
        if (!c->us_units && strcmp(text, "metric") != 0)
            return err_set(e, ERR_MISUSE, NULL, "--units is \"%.60s\"; expected metric or us", text);
        return true;
    case 3: c->json = true; return true;
    default: *help = true; return true;
    }
}

static bool unknown_option(const struct command *cmd, const char *typed, struct err *e)
{
    const char *names[OPTIONS_MAX + N_EVERYWHERE];
    size_t n = count_options(cmd->options), all = 0;
    char name[64];
    snprintf(name, sizeof name, "%.*s", (int)strcspn(typed, "="), typed);
    for (size_t i = 0; i < n; i++)
        names[all++] = cmd->options[i].name;
    for (size_t i = 0; options_everywhere[i].name; i++)
        names[all++] = options_everywhere[i].name;
    const char *bare = name + strspn(name, "-");
    const char *near_by = name_nearest(bare, names, all);
    return err_set(e, ERR_MISUSE, NULL, "%s has no option %s; %s%s%s", cmd->name, name,
                   near_by ? "did you mean --" : "neap ", near_by ? near_by : cmd->name,
                   near_by ? "?" : " --help lists them");
}

bool options_parse(struct context *c, int argc, char **argv, bool *help, struct err *e)
{
    struct option longs[OPTIONS_MAX + N_EVERYWHERE] = {{0}};
    size_t n = count_options(c->command->options), all = 0;
    int code;

    for (size_t i = 0; i < n; i++, all++)
        longs[all] = (struct option){c->command->options[i].name,
                                     c->command->options[i].type == OPT_FLAG ? no_argument : required_argument, NULL,
                                     1000 + (int)i};
    for (size_t i = 0; options_everywhere[i].name; i++, all++)
        longs[all] = (struct option){options_everywhere[i].name,
                                     options_everywhere[i].type == OPT_FLAG ? no_argument : required_argument, NULL,
                                     2000 + (int)i};
    opterr = 0;
    optind = 0;
    while ((code = getopt_long(argc, argv, ":h", longs, NULL)) != -1) {
        if (code == 'h')
            *help = true;
        else if (code == ':')
            return err_set(e, ERR_MISUSE, NULL, "%s needs a value", argv[optind - 1]);
        else if (code == '?')
            return unknown_option(c->command, argv[optind - 1], e);
        else if (code >= 2000) {
            if (!take_everywhere(c, (size_t)code - 2000, optarg, help, e))
                return false;
            /* cppcheck-suppress arrayIndexOutOfBoundsCond ; of the other codes there are as many as options */
        } else if (!take_value(&c->command->options[code - 1000], optarg, &c->options[code - 1000], e))
            return false;
    }
    c->args = (const char *const *)argv + optind;
    c->n_args = (size_t)(argc - optind);
    if (*help)
        return true;
    if (c->n_args < c->command->args_min)
        return err_set(e, ERR_MISUSE, NULL, "%s needs more: neap %s %s", c->command->name, c->command->name,
                       c->command->usage);
    if (c->n_args > c->command->args_max)
        return err_set(e, ERR_MISUSE, NULL, "%s does not take \"%.60s\": neap %s %s", c->command->name,
                       c->args[c->command->args_max], c->command->name, c->command->usage);
    if (c->json && !c->command->prints_json)
        return err_set(e, ERR_MISUSE, NULL, "%s prints no data, so --json has no meaning for it", c->command->name);
    return true;
}

/* ---- help ------------------------------------------------------------------------------------------------------ */

enum { HELP_WIDTH = 80, HELP_LABEL = 24 };

/* Words of s wrapped to the width of a help, from a column on; further lines begin at the indent. */
static void add_wrapped(struct text *out, const char *s, size_t column, size_t indent)
{
    bool first = true;
    while (*s) {
        size_t n = strcspn(s, " "), width = (size_t)text_width(s, n);
        if (!first && column + 1 + width > HELP_WIDTH) {
            text_add(out, "\n");
            text_add_char(out, ' ', indent);
            column = indent;
            first = true;
        }
        if (!first)
            text_add(out, " ");
        column += width + !first;
        first = false;
        text_add_n(out, s, n);
        s += n + (s[n] == ' ');
    }
    text_add(out, "\n");
}

static void help_option(const struct option_row *row, struct text *out)
{
    struct text left = {0}, right = {0};
    text_addf(&left, "  --%s%s%s", row->name, row->type == OPT_FLAG ? "" : " ",
              row->type == OPT_FLAG ? ""
              : row->unit           ? row->unit
                                    : "VALUE");
    text_add(&right, row->help);
    if (row->max > 0)
        text_addf(&right, " (%g to %g)", row->min, row->max);
    text_add(&right, row->repeats ? "; may be repeated" : "");
    text_addf(out, "%-*s  ", HELP_LABEL, text_str(&left));
    add_wrapped(out, text_str(&right), left.len > HELP_LABEL ? left.len + 2 : HELP_LABEL + 2, HELP_LABEL + 2);
    out->failed = out->failed || left.failed || right.failed;
    text_free(&left);
    text_free(&right);
}

void help_command(const struct command *cmd, struct text *out)
{
    text_addf(out, "neap %s%s%s\n    %s\n\n", cmd->name, *cmd->usage ? " " : "", cmd->usage, cmd->summary);
    add_wrapped(out, cmd->about, 0, 0);
    if (cmd->options && cmd->options[0].name) {
        text_add(out, "\nOptions\n");
        for (size_t i = 0; cmd->options[i].name; i++)
            help_option(&cmd->options[i], out);
    }
    text_add(out, "\nEverywhere\n");
    for (size_t i = 0; options_everywhere[i].name; i++)
        if (cmd->prints_json || strcmp(options_everywhere[i].name, "json") != 0)
            help_option(&options_everywhere[i], out);
    text_addf(out, "\nExample\n  %s\n", cmd->example);
}

void help_all(struct text *out)
{
    add_wrapped(out, "neap plans, prints, records and learns from the feeding rounds of a coral-keeping facility.", 0,
                0);
    text_add(out, "\nneap [--db FILE] [--on DATE] [--units metric|us] [--json] COMMAND …\n\n");
    for (size_t i = 0; commands[i]; i++) {
        text_addf(out, "  %-9s ", commands[i]->name);
        add_wrapped(out, commands[i]->summary, 12, 12);
    }
    text_add(out, "\n");
    add_wrapped(out,
                "neap COMMAND --help tells more, with an example. neap start --demo makes a store to try things on.", 0,
                0);
}
