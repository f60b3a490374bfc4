/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "completion.h"

/* What the arguments of a command name, told from its usage. */
struct named_by {
    bool registers; /* the first word is a register, those behind it are its keys */
    enum reg_id regs[3];
    size_t n_regs;
};

static struct named_by named_by(const struct command *cmd)
{
    static const struct {
        const char *word;
        enum reg_id reg;
    } words[] = {{"COLONY", REG_COLONY}, {"TANK", REG_TANK}, {"SYSTEM", REG_SYSTEM}};
    struct named_by n = {.registers = strstr(cmd->usage, "REGISTER") || strstr(cmd->usage, "colony|tank")};
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

static void each_register(const char *before, const char *after, struct text *out)
{
    for (size_t i = 0; i < N_REGS; i++)
        text_addf(out, "%s%s%s", before, reg_get((enum reg_id)i)->name, after);
}

/* ---- bash and zsh ------------------------------------------------------------------------------------------------ */

/* A shell function that puts the candidates, a line each, into $words, by the command and the words before the cursor. */
static void words_function(struct text *out)
{
    text_add(out,
             "_neap_words()\n{\n    local command= first= skip= word db=()\n    neap_words=\n"
             "    for word in \"$@\"; do\n"
             "        if [ \"$skip\" = db ]; then db=(--db \"$word\"); skip=; continue; fi\n"
             "        if [ -n \"$skip\" ]; then skip=; continue; fi\n"
             "        case $word in\n"
             "        --db) skip=db ;;\n        --on|--units) skip=value ;;\n        -*) ;;\n"
             "        *) if [ -z \"$command\" ]; then command=$word; elif [ -z \"$first\" ]; then first=$word; fi ;;\n"
             "        esac\n    done\n"
             "    _neap_keys() { neap ${db[@]+\"${db[@]}\"} list \"$1\" --keys 2>/dev/null; }\n"
             "    case $command in\n    '') neap_words=$'");
    for (size_t i = 0; commands[i]; i++)
        text_addf(out, "%s\\n", commands[i]->name);
    each_option(options_everywhere, "", "\\n", out);
    text_add(out, "' ;;\n");
    for (size_t i = 0; commands[i]; i++) {
        struct named_by n = named_by(commands[i]);
        text_addf(out, "    %s)\n        neap_words=$'", commands[i]->name);
        each_option(commands[i]->options, "", "\\n", out);
        each_option(options_everywhere, "", "\\n", out);
        text_add(out, "'\n");
        for (size_t k = 0; k < n.n_regs; k++)
            text_addf(out, "        neap_words+=$(_neap_keys %s)$'\\n'\n", reg_get(n.regs[k])->name);
        if (n.registers) {
            text_add(out, "        if [ -n \"$first\" ]; then neap_words+=$(_neap_keys \"$first\"); else neap_words+=$'");
            each_register("", "\\n", out);
            text_add(out, "'; fi\n");
        }
        text_add(out, "        ;;\n");
    }
    text_add(out, "    esac\n}\n");
}

static void completion_bash(struct text *out)
{
    text_add(out, "# Completion of neap for bash: eval \"$(neap help --completion bash)\"\n");
    words_function(out);
    text_add(out, "_neap()\n{\n    local neap_words IFS=$'\\n'\n"
                  "    _neap_words \"${COMP_WORDS[@]:1:COMP_CWORD-1}\"\n"
                  "    mapfile -t COMPREPLY < <(compgen -W \"$neap_words\" -- \"${COMP_WORDS[COMP_CWORD]}\")\n"
                  "    COMPREPLY=(\"${COMPREPLY[@]// /\\\\ }\")\n}\ncomplete -o default -F _neap neap\n");
}

static void completion_zsh(struct text *out)
{
    text_add(out, "#compdef neap\n# Completion of neap for zsh: a file _neap in a folder of $fpath\n");
    words_function(out);
    text_add(out, "_neap()\n{\n    local typed=(\"${(@)words[2,CURRENT-1]}\") neap_words\n"
                  "    _neap_words \"${typed[@]}\"\n    compadd -- \"${(@f)neap_words}\"\n    _files\n}\n"
                  "if [ \"$funcstack[1]\" = _neap ]; then _neap \"$@\"; else compdef _neap neap; fi\n");
}

/* ---- fish --------------------------------------------------------------------------------------------------------- */

static void add_quoted(const char *s, struct text *out)
{
    for (; *s; s++) {
        if (*s == '\'' || *s == '\\')
            text_add_char(out, '\\', 1);
        text_add_char(out, *s, 1);
    }
}

static void fish_options(const struct option_row *rows, const char *condition, struct text *out)
{
    for (size_t i = 0; rows && rows[i].name; i++) {
        text_addf(out, "complete -c neap %s%s-l %s%s -d '", condition, *condition ? " " : "", rows[i].name,
                  rows[i].type == OPT_FLAG ? "" : " -r");
        add_quoted(rows[i].help, out);
        text_add(out, "'\n");
    }
}

static void fish_command(const struct command *cmd, struct text *out)
{
    struct named_by n = named_by(cmd);
    struct text condition = {0};
    text_addf(out, "complete -c neap -n __fish_use_subcommand -a %s -d '", cmd->name);
    add_quoted(cmd->summary, out);
    text_add(out, "'\n");
    text_addf(&condition, "-n '__fish_seen_subcommand_from %s'", cmd->name);
    fish_options(cmd->options, text_str(&condition), out);
    for (size_t k = 0; k < n.n_regs; k++)
        text_addf(out, "complete -c neap %s -a '(neap list %s --keys 2>/dev/null)'\n", text_str(&condition),
                  reg_get(n.regs[k])->name);
    if (n.registers) {
        text_addf(out, "complete -c neap %s -a '", text_str(&condition));
        each_register("", " ", out);
        text_add(out, "'\n");
        for (size_t i = 0; i < N_REGS; i++)
            if (reg_get((enum reg_id)i)->typed && !reg_get((enum reg_id)i)->ledger)
                text_addf(out,
                          "complete -c neap -n '__fish_seen_subcommand_from %s; and __fish_seen_subcommand_from %s' -a "
                          "'(neap list %s --keys 2>/dev/null)'\n",
                          cmd->name, reg_get((enum reg_id)i)->name, reg_get((enum reg_id)i)->name);
    }
    out->failed = out->failed || condition.failed;
    text_free(&condition);
}

static void completion_fish(struct text *out)
{
    text_add(out,
             "# Completion of neap for fish: neap help --completion fish > ~/.config/fish/completions/neap.fish\n");
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
