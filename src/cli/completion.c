/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Completions for shells, from the rows of the commands. */
#include "completion.h"

/* What the arguments of a command name, told from its usage. */
struct named_by {
    bool registers; /* the first word is a register, those behind it are its keys */
    bool files, commands;
    enum reg_id regs[3];
    size_t n_regs;
};

static struct named_by named_by(const struct command *cmd)
{
    static const struct {
        const char *word;
        enum reg_id reg;
    } words[] = {{"COLONY", REG_COLONY}, {"TANK", REG_TANK}, {"SYSTEM", REG_SYSTEM}};
    struct named_by n = {.registers = strstr(cmd->usage, "REGISTER") || strstr(cmd->usage, "colony|tank"),
                         .files = strstr(cmd->usage, "FILE"),
                         .commands = strstr(cmd->usage, "COMMAND")};
    for (size_t i = 0; i < COUNT_OF(words); i++)
        if (strstr(cmd->usage, words[i].word))
            n.regs[n.n_regs++] = words[i].reg;
    return n;
}

static void each_option(const struct option_row *rows, const char *before, const char *after, struct text *out)
{
    for (size_t i = 0; rows && rows[i].name; i++)
        text_addf(out, "%s--%s%s", before, rows[i].name, after);
}

static void each_command(const char *after, struct text *out)
{
    for (size_t i = 0; commands[i]; i++)
        text_addf(out, "%s%s", commands[i]->name, after);
}

static void each_register(const char *before, const char *after, struct text *out)
{
    for (size_t i = 0; i < N_REGS; i++)
        text_addf(out, "%s%s%s", before, reg_get((enum reg_id)i)->name, after);
}

/* ---- bash and zsh ------------------------------------------------------------------------------------------------ */

/*
 * A shell function that puts the candidates, a line each, into $neap_words and $neap_options, by the command and the
 * words before the cursor. Options alone are offered where a command has neither names nor files.
 */
static void words_function(struct text *out)
{
    text_add(out,
             "_neap_words()\n{\n    local command= first= skip= word db=()\n    neap_words= neap_options=\n"
             "    for word in \"$@\"; do\n"
             "        if [ \"$skip\" = db ]; then db=(--db \"$word\"); skip=; continue; fi\n"
             "        if [ -n \"$skip\" ]; then skip=; continue; fi\n"
             "        case $word in\n"
             "        --db) skip=db ;;\n        --on|--units) skip=value ;;\n        -*) ;;\n"
             "        *) if [ -z \"$command\" ]; then command=$word; elif [ -z \"$first\" ]; then first=$word; fi ;;\n"
             "        esac\n    done\n"
             "    _neap_keys() { neap ${db[@]+\"${db[@]}\"} list \"$1\" --keys 2>/dev/null; }\n"
             "    case $command in\n    '') neap_words=$'");
    each_command("\\n", out);
    text_add(out, "'; neap_options=$'");
    each_option(options_everywhere, "", "\\n", out);
    text_add(out, "' ;;\n");
    for (size_t i = 0; commands[i]; i++) {
        struct named_by n = named_by(commands[i]);
        text_addf(out, "    %s)\n        neap_options=$'", commands[i]->name);
        each_option(commands[i]->options, "", "\\n", out);
        each_option(options_everywhere, "", "\\n", out);
        text_add(out, "'\n");
        for (size_t k = 0; k < n.n_regs; k++)
            text_addf(out, "        neap_words+=$(_neap_keys %s)$'\\n'\n", reg_get(n.regs[k])->name);
        if (n.registers) {
            text_add(out,
                     "        if [ -n \"$first\" ]; then neap_words+=$(_neap_keys \"$first\"); else neap_words+=$'");
            each_register("", "\\n", out);
            text_add(out, "'; fi\n");
        }
        if (n.commands) {
            text_add(out, "        neap_words=$'");
            each_command("\\n", out);
            text_add(out, "'\n");
        } else if (n.n_regs == 0 && !n.registers && !n.files)
            text_add(out, "        neap_words=$neap_options\n");
        text_add(out, "        ;;\n");
    }
    text_add(out, "    esac\n}\n");
}

static void completion_bash(struct text *out)
{
    text_add(out, "# Completion of neap for bash: eval \"$(neap help --completion bash)\"\n");
    words_function(out);
    text_add(out, "_neap()\n{\n    local neap_words neap_options IFS=$'\\n'\n"
                  "    _neap_words \"${COMP_WORDS[@]:1:COMP_CWORD-1}\"\n"
                  "    [[ ${COMP_WORDS[COMP_CWORD]} != -* ]] || neap_words=$neap_options\n"
                  "    mapfile -t COMPREPLY < <(compgen -W \"$neap_words\" -- \"${COMP_WORDS[COMP_CWORD]}\")\n"
                  "    COMPREPLY=(\"${COMPREPLY[@]// /\\\\ }\")\n}\ncomplete -o default -F _neap neap\n");
}

static void completion_zsh(struct text *out)
{
    text_add(out, "#compdef neap\n# Completion of neap for zsh: a file _neap in a folder of $fpath\n");
    words_function(out);
    text_add(out, "_neap()\n{\n    local typed=(\"${(@)words[2,CURRENT-1]}\") neap_words neap_options\n"
                  "    _neap_words \"${typed[@]}\"\n    [[ $PREFIX != -* ]] || neap_words=$neap_options\n"
                  "    compadd -- ${(f)neap_words} || _files\n}\n"
                  "if [ \"$funcstack[1]\" = _neap ]; then _neap \"$@\"; else compdef _neap neap; fi\n");
}

/* ---- fish -------------------------------------------------------------------------------------------------------- */

static void add_quoted(const char *s, struct text *out)
{
    for (; *s; s++) {
        if (*s == '\'' || *s == '\\')
            text_add_char(out, '\\', 1);
        text_add_char(out, *s, 1);
    }
}

/* Files are offered where a file is meant, and nowhere else. */
static void fish_options(const struct option_row *rows, const char *condition, struct text *out)
{
    for (size_t i = 0; rows && rows[i].name; i++) {
        const char *value = rows[i].unit;
        bool file = value && (strcmp(value, "FILE") == 0 || strcmp(value, "FOLDER") == 0);
        text_addf(out, "complete -c neap %s%s-l %s%s -d '", condition, *condition ? " " : "", rows[i].name,
                  rows[i].type == OPT_FLAG ? ""
                  : file                   ? " -r -F"
                                           : " -x");
        add_quoted(rows[i].help, out);
        text_add(out, "'\n");
    }
}

static void fish_registers(const struct command *cmd, struct text *out)
{
    text_addf(out, "complete -c neap -n '__fish_seen_subcommand_from %s; and not __fish_seen_subcommand_from",
              cmd->name);
    each_register(" ", "", out);
    text_add(out, "' -a '");
    each_register("", " ", out);
    text_add(out, "'\n");
    for (size_t i = 0; i < N_REGS; i++)
        if (reg_get((enum reg_id)i)->typed && !reg_get((enum reg_id)i)->ledger)
            text_addf(out,
                      "complete -c neap -n '__fish_seen_subcommand_from %s; and __fish_seen_subcommand_from %s' -a "
                      "'(__neap_keys %s)'\n",
                      cmd->name, reg_get((enum reg_id)i)->name, reg_get((enum reg_id)i)->name);
}

static void fish_command(const struct command *cmd, struct text *out)
{
    struct named_by n = named_by(cmd);
    struct text condition = {0};
    text_addf(out, "complete -c neap -n __neap_needs_command -a %s -d '", cmd->name);
    add_quoted(cmd->summary, out);
    text_add(out, "'\n");
    text_addf(&condition, "-n '__fish_seen_subcommand_from %s'", cmd->name);
    fish_options(cmd->options, text_str(&condition), out);
    if (n.files)
        text_addf(out, "complete -c neap %s -F\n", text_str(&condition));
    for (size_t k = 0; k < n.n_regs; k++)
        text_addf(out, "complete -c neap %s -a '(__neap_keys %s)'\n", text_str(&condition), reg_get(n.regs[k])->name);
    if (n.registers)
        fish_registers(cmd, out);
    if (n.commands) {
        text_addf(out, "complete -c neap %s -a '", text_str(&condition));
        each_command(" ", out);
        text_add(out, "'\n");
    }
    out->failed = out->failed || condition.failed;
    text_free(&condition);
}

static void completion_fish(struct text *out)
{
    text_add(out, "# Completion of neap for fish: neap help --completion fish > ~/.config/fish/completions/neap.fish\n"
                  "function __neap_needs_command\n    set -l skip 0\n    for word in (commandline -opc)[2..]\n"
                  "        if test $skip = 1\n            set skip 0\n            continue\n        end\n"
                  "        switch $word\n            case --db --on --units\n                set skip 1\n"
                  "            case '-*'\n            case '*'\n                return 1\n        end\n    end\n"
                  "    return 0\nend\n"
                  "function __neap_keys\n    set -l words (commandline -opc)\n    set -l db\n"
                  "    set -l at (contains -i -- --db $words)\n    and set db --db $words[(math $at + 1)]\n"
                  "    neap $db list $argv[1] --keys 2>/dev/null\nend\n"
                  "complete -c neap -f\n");
    fish_options(options_everywhere, "", out);
    for (size_t i = 0; commands[i]; i++)
        fish_command(commands[i], out);
}

bool completion(const char *shell, struct text *out, struct err *e)
{
    if (strcmp(shell, "bash") == 0)
        completion_bash(out);
    else if (strcmp(shell, "zsh") == 0)
        completion_zsh(out);
    else if (strcmp(shell, "fish") == 0)
        completion_fish(out);
    else
        return err_set(e, ERR_MISUSE, NULL, "--completion is \"%.60s\"; expected bash, zsh or fish", shell);
    return true;
}
