/* help: the commands explained, as text, as a man page, or as words for a shell to complete. All from the rows. */
#include "cli.h"

static const char *option_end(const struct option_row *row)
{
    return row->type == OPT_FLAG ? "" : row->unit ? row->unit : "VALUE";
}

/* ---- man page -------------------------------------------------------------------------------------------------- */

/* roff takes a backslash, and a dot or quote at the beginning of a line, for its own; a plain - becomes a hyphen. */
static void add_roff(struct text *out, const char *s)
{
    if (*s == '.' || *s == '\'')
        text_add(out, "\\&");
    for (; *s; s++) {
        if (*s == '\\')
            text_add(out, "\\e");
        else if (*s == '-')
            text_add(out, "\\-");
        else
            text_add_n(out, s, 1);
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

static void man_command(const struct command *cmd, struct text *out)
{
    text_addf(out, ".SS \"%s%s%s\"\n", cmd->name, *cmd->usage ? " " : "", cmd->usage);
    add_roff(out, cmd->about);
    text_add(out, "\n");
    for (size_t i = 0; cmd->options && cmd->options[i].name; i++)
        add_roff_option(out, &cmd->options[i]);
    text_add(out, ".PP\n.EX\n");
    add_roff(out, cmd->example);
    text_add(out, "\n.EE\n");
}

static void man_page(struct text *out)
{
    text_add(out, ".TH NEAP 1 \"\" \"neap " NEAP_VERSION "\" \"User commands\"\n.SH NAME\nneap \\- feeding rounds of a "
                  "coral\\-keeping facility\n.SH SYNOPSIS\n.B neap\n[\\fIoption\\fR...] \\fIcommand\\fR "
                  "[\\fIargument\\fR...]\n.SH OPTIONS\n");
    for (size_t i = 0; options_everywhere[i].name; i++)
        add_roff_option(out, &options_everywhere[i]);
    text_add(out, ".SH COMMANDS\n");
    for (size_t i = 0; commands[i]; i++)
        man_command(commands[i], out);
    text_add(out,
             ".SH EXIT STATUS\n0 done, 1 it could not be done, 2 misuse.\n.SH ENVIRONMENT\n.TP\n.B NEAP_DB\nthe store, "
             "where \\-\\-db does not say\n");
}

/* ---- completion ------------------------------------------------------------------------------------------------ */

static void add_options(const struct option_row *rows, struct text *out)
{
    for (size_t i = 0; rows && rows[i].name; i++)
        text_addf(out, " --%s", rows[i].name);
}

static void completion_bash(struct text *out)
{
    text_add(
        out,
        "# Completion of neap for bash: eval \"$(neap help --completion bash)\"\n_neap()\n{\n"
        "    local word=${COMP_WORDS[COMP_CWORD]} command= words= i\n"
        "    for ((i = 1; i < COMP_CWORD; i++)); do\n        case ${COMP_WORDS[i]} in\n"
        "        --db|--on|--units) ((i++)) ;;\n        -*) ;;\n"
        "        *) command=${COMP_WORDS[i]}; break ;;\n        esac\n    done\n    case $command in\n    '') words='");
    for (size_t i = 0; commands[i]; i++)
        text_addf(out, "%s%s", i ? " " : "", commands[i]->name);
    add_options(options_everywhere, out);
    text_add(out, "' ;;\n");
    for (size_t i = 0; commands[i]; i++) {
        text_addf(out, "    %s) words='", commands[i]->name);
        add_options(options_everywhere, out);
        add_options(commands[i]->options, out);
        if (strstr(commands[i]->usage, "REGISTER"))
            for (size_t k = 0; k < N_REGS; k++)
                text_addf(out, " %s", reg_get((enum reg_id)k)->name);
        text_add(out, "' ;;\n");
    }
    text_add(out, "    esac\n    mapfile -t COMPREPLY < <(compgen -W \"$words\" -- \"$word\")\n}\n"
                  "complete -o default -F _neap neap\n");
}

/* ---- the command ------------------------------------------------------------------------------------------------- */

static bool help_run(struct context *c, struct err *e)
{
    if (option_given(c, "man")) {
        man_page(c->out);
    } else if (option_given(c, "completion")) {
        if (strcmp(option_text(c, "completion", ""), "bash") != 0)
            return err_set(e, ERR_MISUSE, NULL, "--completion is \"%.60s\"; expected bash",
                           option_text(c, "completion", ""));
        completion_bash(c->out);
    } else if (c->n_args == 1) {
        const struct command *cmd = command_find(c->args[0]);
        if (!cmd)
            return command_unknown(c->args[0], e);
        help_command(cmd, c->out);
    } else {
        help_all(c->out);
    }
    return true;
}

const struct command command_help = {
    .name = "help",
    .summary = "explain the commands",
    .also = "man usage",
    .usage = "[COMMAND]",
    .about = "Explains one command, or lists them all. The same as COMMAND --help, and besides a man page and what "
             "bash needs to "
             "complete commands, options and registers.",
    .example = "neap help plan",
    .options = (const struct option_row[]){{"completion", OPT_TEXT, "bash", .help = "print the completion for a shell"},
                                           {"man", OPT_FLAG, .help = "print the man page"},
                                           {0}},
    .args_max = 1,
    .run = help_run,
};
