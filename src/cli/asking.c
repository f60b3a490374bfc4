/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Questions put until there is an answer. */
#include "asking.h"

#include <ctype.h>

enum { ANSWER_ROOM = 512 };

static void show_question(struct context *c, const char *question, const char *fallback)
{
    fprintf(stderr, "%s%s%s%s%s ", text_str(c->out), question, fallback ? " [" : "", fallback ? fallback : "",
            fallback ? "]" : "");
    text_free(c->out); /* it has been shown */
}

/* The rest of a line that is too long is dropped, and the line with it. */
static bool read_line(char line[ANSWER_ROOM])
{
    if (!fgets(line, ANSWER_ROOM, stdin))
        return false;
    if (strchr(line, '\n') || feof(stdin))
        return true;
    for (int byte = getchar(); byte != '\n' && byte != EOF;)
        byte = getchar();
    *line = '\0';
    return true;
}

static bool ask_line(struct context *c, const char *question, const char *fallback, struct text *answer)
{
    char line[ANSWER_ROOM];
    show_question(c, question, fallback);
    text_free(answer);
    if (!read_line(line)) {
        fprintf(stderr, "\n");
        return false;
    }
    const char *from = line + strspn(line, " \t");
    size_t n = strlen(from);
    while (n > 0 && isspace((unsigned char)from[n - 1]))
        n--;
    text_add_n(answer, from, n);
    if (n == 0 && fallback)
        text_add(answer, fallback);
    return strcmp(text_str(answer), "q") != 0;
}

bool ask_until(struct context *c, const char *question, const char *fallback, ask_take *take, void *context, bool *left,
               struct err *e)
{
    struct text answer = {0};
    bool taken = false;
    *left = false;
    while (!taken) {
        struct err why = {0};
        if (!ask_line(c, question, fallback, &answer)) {
            *left = true;
            break;
        }
        taken = take(context, text_str(&answer), &why);
        if (!taken && why.code == ERR_MEMORY) {
            *e = why;
            text_free(&answer);
            return false;
        }
        if (!taken)
            fprintf(stderr, "  %s\n", why.text);
    }
    text_free(&answer);
    return true;
}
