/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap-page: a page model as JSON in, PDF out. */
#include "page.h"

#include <errno.h>
#include <signal.h>

static const struct paper papers[] = {{"a4", 595.276, 841.89}, {"letter", 612, 792}};

static const struct paper *find_paper(const char *name)
{
    for (size_t i = 0; i < COUNT_OF(papers); i++)
        if (strcmp(papers[i].name, name) == 0)
            return &papers[i];
    return NULL;
}

static bool read_all(FILE *in, struct text *all, struct err *e)
{
    char part[65536];
    size_t n;
    while ((n = fread(part, 1, sizeof part, in)) > 0)
        text_add_n(all, part, n);
    if (ferror(in))
        return err_set(e, ERR_IO, NULL, "stdin: %s", strerror(errno));
    return all->failed ? err_memory(e) : true;
}

static bool run(int argc, char **argv, struct err *e)
{
    const struct paper *paper = &papers[0];
    struct text json = {0};
    struct document d = {0};
    if (argc > 1 && (argc != 3 || strcmp(argv[1], "--paper") != 0 || !(paper = find_paper(argv[2]))))
        return err_set(e, ERR_MISUSE, NULL, "expected neap-page [--paper a4|letter] <MODEL.json >FILE.pdf");
    bool ok = read_all(stdin, &json, e) && page_read(text_str(&json), &d, e) && page_draw(&d, paper, stdout, e);
    document_free(&d);
    text_free(&json);
    return ok;
}

int main(int argc, char **argv)
{
    struct err e = {0};
    signal(SIGPIPE, SIG_IGN);
    if (run(argc, argv, &e))
        return 0;
    fprintf(stderr, "neap-page: %s\n", e.text);
    return e.code == ERR_MISUSE ? 2 : 1;
}
