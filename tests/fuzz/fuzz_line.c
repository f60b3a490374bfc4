/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A command line, its words parted by LF: read as far as what it asks for, which is not done. */
#include "cli/cli.h"
#include "cli/main.h"
#include "fuzz.h"

enum { WORDS_MAX = 32 };

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    char *line = malloc(n + 1), *words[WORDS_MAX + 2] = {NULL};
    struct text out = {0}, notes = {0};
    struct context c = {.out = &out, .notes = &notes};
    struct err e = {0};
    int n_words = 0;
    bool help = false;
    if (!line)
        return 0;
    memcpy(line, bytes, n);
    line[n] = '\0';
    for (char *s = line; s && n_words < WORDS_MAX; n_words++) {
        words[n_words] = s;
        if ((s = strchr(s, '\n')))
            *s++ = '\0';
    }
    c.command = command_find(words[0]);
    if (!c.command)
        command_unknown(words[0], &e);
    else if (options_parse(&c, n_words, words, &help, &e))
        fuzz_hold(help || (c.n_args >= c.command->args_min && c.n_args <= c.command->args_max));
    else
        fuzz_hold(e.code != ERR_NONE && e.text[0]);
    text_free(&out);
    text_free(&notes);
    free(line);
    return 0;
}
