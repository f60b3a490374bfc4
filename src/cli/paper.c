/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pages sent to the program that draws them. */
#include "paper.h"
#include "files.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

extern char **environ;

/* Another program, what goes into it and what comes out. */
struct helper {
    const char *name, *path;
    char *const *argv;
    const struct text *in;
    struct text *out, *said; /* its stdout and stderr */
};

/* Both ends closed for other programs. */
static bool pipe_open(int ends[2])
{
    if (pipe(ends) != 0)
        return false;
    fcntl(ends[0], F_SETFD, FD_CLOEXEC);
    fcntl(ends[1], F_SETFD, FD_CLOEXEC);
    return true;
}

static bool helper_spawn(const struct helper *h, int in, int out, int said, pid_t *pid)
{
    posix_spawn_file_actions_t actions;
    if (posix_spawn_file_actions_init(&actions) != 0)
        return false;
    int failed = posix_spawn_file_actions_adddup2(&actions, in, STDIN_FILENO) ||
                 posix_spawn_file_actions_adddup2(&actions, out, STDOUT_FILENO) ||
                 posix_spawn_file_actions_adddup2(&actions, said, STDERR_FILENO);
    if (!failed)
        failed = posix_spawnp(pid, h->path, &actions, NULL, h->argv, environ);
    posix_spawn_file_actions_destroy(&actions);
    errno = failed;
    return !failed;
}

/* A helper that ends before it has read all says why by its status. */
static void give(int to, const struct text *in)
{
    for (size_t done = 0; done < in->len;) {
        ssize_t n = write(to, in->s + done, in->len - done);
        if (n < 0 && errno != EINTR)
            break;
        done += n > 0 ? (size_t)n : 0;
    }
    close(to);
}

static void take(int from, struct text *out)
{
    char part[65536];
    for (;;) {
        ssize_t n = read(from, part, sizeof part);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            break;
        text_add_n(out, part, (size_t)n);
    }
    close(from);
}

static bool helper_ended(const struct helper *h, pid_t pid, struct err *e)
{
    int status = 0;
    while (waitpid(pid, &status, 0) < 0 && errno == EINTR)
        ;
    if (WIFSIGNALED(status))
        return err_set(e, ERR_IO, NULL, "%s was ended by signal %d; nothing was made", h->name, WTERMSIG(status));
    if (WEXITSTATUS(status) != 0)
        return err_set(e, ERR_IO, NULL, "%s failed (%d): %.300s", h->name, WEXITSTATUS(status), text_str(h->said));
    return !h->out->failed || err_memory(e);
}

static void pipes_close(int *ends, size_t n)
{
    for (size_t i = 0; i < n; i++)
        close(ends[i]);
}

/* It reads all before it writes, so one pipe after the other is enough. */
static bool helper_run(const struct helper *h, struct err *e)
{
    int ends[6];
    pid_t pid;
    for (size_t i = 0; i < 6; i += 2)
        if (!pipe_open(&ends[i])) {
            int why = errno;
            pipes_close(ends, i);
            return err_set(e, ERR_IO, NULL, "%s cannot be started: %s", h->name, strerror(why));
        }
    if (!helper_spawn(h, ends[0], ends[3], ends[5], &pid)) {
        int why = errno;
        pipes_close(ends, 6);
        return why == ENOENT
                   ? err_set(e, ERR_IO, NULL, "%s is not there; expected it beside neap or on the PATH", h->name)
                   : err_set(e, ERR_IO, NULL, "%s cannot be started: %s", h->name, strerror(why));
    }
    close(ends[0]);
    close(ends[3]);
    close(ends[5]);
    give(ends[1], h->in);
    take(ends[2], h->out);
    take(ends[4], h->said);
    return helper_ended(h, pid, e);
}

/* neap-page stands beside the running neap, as built and as installed; else wherever the PATH has it. */
static void find_page(char path[4096])
{
    static const char name[] = "neap-page";
    ssize_t n = readlink("/proc/self/exe", path, 4096 - sizeof name - 1);
    while (n > 0 && path[n - 1] != '/')
        n--;
    snprintf(path + (n > 0 ? n : 0), sizeof name, "%s", name);
    if (n <= 0 || access(path, X_OK) != 0)
        snprintf(path, sizeof name, "%s", name);
}

static bool draw_pdf(const struct document *d, const char *paper, struct text *pdf, struct err *e)
{
    static char page[] = "neap-page", option[] = "--paper";
    char path[4096], size[16];
    struct text json = {0}, said = {0};
    snprintf(size, sizeof size, "%s", paper);
    char *const argv[] = {page, option, size, NULL};
    find_page(path);
    const struct helper h = {page, path, argv, &json, pdf, &said};
    bool ok = document_json(d, &json, e) && helper_run(&h, e);
    text_free(&json);
    text_free(&said);
    return ok;
}

static bool send_to_printer(const struct text *pdf, struct text *told, struct err *e)
{
    static char lp[] = "lp";
    char *const argv[] = {lp, NULL};
    struct text said = {0};
    const struct helper h = {lp, lp, argv, pdf, told, &said};
    bool ok = helper_run(&h, e);
    text_free(&said);
    return ok;
}

bool pdf_wanted(const struct context *c)
{
    return option_given(c, "pdf") || option_given(c, "print");
}

bool paper_wanted(const struct context *c)
{
    return pdf_wanted(c) || option_given(c, "paper");
}

bool paper_make_on(struct context *c, const struct document *d, const char *paper, struct err *e)
{
    const char *file = option_text(c, "pdf", NULL);
    struct text pdf = {0};
    bool ok = draw_pdf(d, paper, &pdf, e);
    if (ok && file && (ok = file_write(file, pdf.s, pdf.len, e)))
        text_addf(c->out, "wrote %s\n", file);
    if (ok && option_given(c, "print"))
        ok = send_to_printer(&pdf, c->out, e);
    text_free(&pdf);
    return ok;
}

bool paper_make(struct context *c, const struct document *d, struct err *e)
{
    const char *paper = option_text(c, "paper", c->us_units ? "letter" : "a4");
    if (strcmp(paper, "a4") != 0 && strcmp(paper, "letter") != 0)
        return err_set(e, ERR_MISUSE, NULL, "--paper is \"%.60s\"; expected a4 or letter", paper);
    if (!pdf_wanted(c))
        return err_set(e, ERR_MISUSE, NULL, "--paper has a meaning only beside --pdf FILE or --print");
    return paper_make_on(c, d, paper, e);
}
