/* SPDX-License-Identifier: GPL-3.0-or-later */
/* help: the commands explained, as text, as a man page, or as words for a shell to complete. All from the rows. */
#include "cli.h"
#include "completion.h"

#include "neap/exchange.h"

#include <ctype.h>

static const char *option_end(const struct option_row *row)
{
    return row->type == OPT_FLAG ? "" : row->unit ? row->unit : "VALUE";
}

/* ---- man pages --------------------------------------------------------------------------------------------------- */

static unsigned long code_point(const char **s)
{
    const unsigned char *b = (const unsigned char *)*s;
    size_t n = *b < 0x80 ? 1 : *b < 0xE0 ? 2 : *b < 0xF0 ? 3 : 4;
    unsigned long c = n == 1 ? *b : *b & (0xFFu >> (n + 1));
    for (size_t i = 1; i < n; i++)
        c = c << 6 | (b[i] & 0x3F);
    *s += n;
    return c;
}

/*
 * roff takes a backslash, and a dot or quote at the beginning of a line, for its own; a plain - becomes a hyphen. What
 * is not ASCII goes by its number, so that a page is read whatever the reader's encoding; dots have no such in ASCII.
 */
static void add_roff(struct text *out, const char *s)
{
    if (*s == '.' || *s == '\'')
        text_add(out, "\\&");
    while (*s) {
        unsigned long c = code_point(&s);
        if (c == '\\')
            text_add(out, "\\e");
        else if (c == '-')
            text_add(out, "\\-");
        else if (c == '"')
            text_add(out, "\\(dq");
        else if (c == 0x2026)
            text_add(out, "...");
        else if (c >= 0x80)
            text_addf(out, "\\[u%04lX]", c);
        else
            text_add_char(out, (char)c, 1);
    }
}

static void add_roff_option(struct text *out, const struct option_row *row)
{
    text_add(out, ".TP\n.B \\-\\-");
    add_roff(out, row->name);
    text_add(out, *option_end(row) ? " " : "");
    add_roff(out, option_end(row));
    text_add(out, "\n");
    add_roff(out, row->help);
    text_add(out, "\n");
}

static void add_roff_options(struct text *out, const struct command *cmd)
{
    for (size_t i = 0; cmd && cmd->options && cmd->options[i].name; i++)
        add_roff_option(out, &cmd->options[i]);
    for (size_t i = 0; options_everywhere[i].name; i++)
        if (!cmd || cmd->prints_json || strcmp(options_everywhere[i].name, "json") != 0)
            add_roff_option(out, &options_everywhere[i]);
}

static void add_roff_end(struct text *out)
{
    text_add(out,
             ".SH EXIT STATUS\n0 done, 1 it could not be done, 2 misuse.\n.SH ENVIRONMENT\n.TP\n.B NEAP_DB\nthe store, "
             "where \\-\\-db does not say\n");
}

/* Words stay whole: an option that is broken at its hyphen cannot be searched for. */
static void add_roff_title(struct text *out, const char *dash, const char *name)
{
    text_addf(out, ".TH NEAP%s", dash);
    for (; *name; name++)
        text_add_char(out, (char)toupper((unsigned char)*name), 1);
    text_add(out, " 1 \"\" \"neap " NEAP_VERSION "\" \"User commands\"\n.nh\n.ad l\n.SH NAME\n");
}

static void man_of_command(const struct command *cmd, struct text *out)
{
    add_roff_title(out, "\\-", cmd->name);
    text_addf(out, "neap\\-%s \\- ", cmd->name);
    add_roff(out, cmd->summary);
    text_addf(out, "\n.SH SYNOPSIS\n.B neap %s\n", cmd->name);
    add_roff(out, cmd->usage);
    text_add(out, "\n.SH DESCRIPTION\n");
    add_roff(out, cmd->about);
    text_add(out, "\n.SH OPTIONS\n");
    add_roff_options(out, cmd);
    text_add(out, ".SH EXAMPLE\n.EX\n");
    add_roff(out, cmd->example);
    text_add(out, "\n.EE\n");
    add_roff_end(out);
    text_add(out, ".SH SEE ALSO\n.BR neap (1)\n");
}

static void man_of_all(struct text *out)
{
    add_roff_title(out, "", "");
    text_add(out,
             "neap \\- feeding rounds of a "
             "coral\\-keeping facility\n.SH SYNOPSIS\n.B neap\n[\\fIoption\\fR...] \\fIcommand\\fR "
             "[\\fIargument\\fR...]\n.SH DESCRIPTION\nPlans, prints, records and learns from the feeding rounds of a "
             "coral\\-keeping facility. Each command has a page of its own.\n.SH COMMANDS\n");
    for (size_t i = 0; commands[i]; i++) {
        text_addf(out, ".TP\n.BR neap\\-%s (1)\n", commands[i]->name);
        add_roff(out, commands[i]->summary);
        text_add(out, "\n");
    }
    text_add(out, ".SH OPTIONS\n");
    add_roff_options(out, NULL);
    add_roff_end(out);
}

/* ---- the command ------------------------------------------------------------------------------------------------- */

static bool help_run(struct context *c, struct err *e)
{
    const struct command *cmd = c->n_args == 1 ? command_find(c->args[0]) : NULL;
    if (c->n_args == 1 && !cmd)
        return command_unknown(c->args[0], e);
    if (option_given(c, "completion"))
        return completion(option_text(c, "completion", ""), c->out, e);
    if (option_given(c, "schema"))
        json_schema_text(c->out);
    else if (option_given(c, "man"))
        cmd ? man_of_command(cmd, c->out) : man_of_all(c->out);
    else
        cmd ? help_command(cmd, c->out) : help_all(c->out);
    return true;
}

const struct command command_help = {
    .name = "help",
    .place = 910,
    .summary = "explain the commands",
    .also = "man usage",
    .usage = "[COMMAND]",
    .about =
        "Explains one command, or lists them all. The same as COMMAND --help; besides, the man page of one or of all, "
        "and what a shell needs to complete commands, options, registers and the names in the store.",
    .example = "neap help plan",
    .options =
        (const struct option_row[]){
            {"completion", OPT_TEXT, "SHELL", .help = "print the completion for bash, zsh or fish"},
            {"man", OPT_FLAG, .help = "print the man page"},
            {"schema", OPT_FLAG, .help = "print the JSON Schema of what dump prints and load takes"},
            {0}},
    .args_max = 1,
    .run = help_run,
};
