/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The way in: the world is read here, the command found and run, and its error told. */
#include "main.h"

#include "neap/naming.h"

#include <errno.h>
#include <gsl/gsl_errno.h>
#include <locale.h>
#include <signal.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

static bool data_folder(struct text *path, struct err *e)
{
    const char *xdg = getenv("XDG_DATA_HOME"), *home = getenv("HOME");
    if (xdg && *xdg == '/')
        text_add(path, xdg);
    else if (home && *home)
        text_addf(path, "%s/.local/share", home);
    else
        return err_set(e, ERR_IO, NULL, "no place for the store: expected --db FILE, $NEAP_DB or $HOME");
    text_add(path, "/neap");
    return path->failed ? err_memory(e) : true;
}

/* mkdir -p, for the store's own folder only. */
static bool make_folder(const char *path, struct err *e)
{
    char part[512];
    for (size_t n = 1; n <= strlen(path) && n < sizeof part; n++) {
        if (path[n] != '/' && path[n] != '\0')
            continue;
        memcpy(part, path, n);
        part[n] = '\0';
        if (mkdir(part, 0700) != 0 && errno != EEXIST)
            return err_set(e, ERR_IO, NULL, "%s: %s", part, strerror(errno));
    }
    return true;
}

bool context_path(struct context *c, bool make, struct text *path, struct err *e)
{
    const char *named = c->db ? c->db : getenv("NEAP_DB");
    if ((c->db && !*c->db) || (named && strcmp(named, ":memory:") == 0))
        return err_set(e, ERR_MISUSE, NULL, "\"%s\" is no file; expected the name of one, such as --db shop.neap",
                       named);
    if (named && *named) {
        text_add(path, named);
    } else {
        if (!data_folder(path, e) || (make && !make_folder(text_str(path), e)))
            return false;
        text_add(path, "/store.neap");
    }
    return path->failed ? err_memory(e) : true;
}

bool context_open(struct context *c, enum store_mode mode, struct store **s, struct err *e)
{
    struct text path = {0};
    bool ok = context_path(c, mode == STORE_CREATE, &path, e) && store_open(text_str(&path), mode, s, e);
    if (ok && store_kept(*s))
        text_addf(c->notes, "%s was of an earlier neap, and is brought up to date; as it was: %s\n", text_str(&path),
                  store_kept(*s));
    text_free(&path);
    return ok;
}

bool context_snapshot(struct context *c, enum store_mode mode, struct store **s, struct facility *f, struct err *e)
{
    if (!context_open(c, mode, s, e))
        return false;
    const struct look_back back = {c->today - c->ago_d, c->back_d, c->every_test};
    if (!store_snapshot(*s, &back, f, e)) {
        store_close(*s);
        return false;
    }
    if (!c->units_given)
        c->us_units = f->settings.units == UNITS_US;
    return true;
}

bool context_commit(struct context *c, struct store *s, const char *typed, struct err *e)
{
    bool ok = store_commit(s, typed, c->now, e);
    c->stored = c->stored || ok;
    return ok;
}

bool context_take_back(struct context *c, struct store *s, store_take_back *take_back, long entry, struct err *e)
{
    bool ok = take_back(s, entry, c->typed, c->now, e);
    c->stored = c->stored || ok;
    return ok;
}

bool context_end(struct context *c, struct store *s, bool ok, struct err *e)
{
    if (ok && !option_given(c, "dry-run"))
        return context_commit(c, s, c->typed, e);
    store_rollback(s);
    return ok;
}

bool context_moment(const struct context *c, long *moment, struct err *e)
{
    *moment = option_given(c, "at") ? option_get(c, "at")->moment : c->now;
    return *moment <= c->now ||
           err_set(e, ERR_MISUSE, NULL, "--at is %s, which is still to come; expected a moment up to now",
                   option_text(c, "at", ""));
}

bool context_may_ask(void)
{
    return isatty(STDIN_FILENO) && isatty(STDERR_FILENO);
}

void context_ask(struct context *c, const char *question, bool *yes)
{
    char answer[16];
    fprintf(stderr, "%s%s [y/N] ", text_str(c->out), question);
    c->out->len = 0; /* it has been shown */
    *yes = fgets(answer, sizeof answer, stdin) && (answer[0] == 'y' || answer[0] == 'Y');
}

bool context_system(const struct context *c, const struct facility *f, size_t *system, struct err *e)
{
    const char *name = option_text(c, "system", NULL);
    *system = name ? facility_named(f, REG_SYSTEM, name) : REF_NONE;
    return !name || *system != REF_NONE || row_unknown(f, REG_SYSTEM, name, e);
}

const struct command *command_find(const char *name)
{
    for (size_t i = 0; commands[i]; i++)
        if (strcmp(commands[i]->name, name) == 0)
            return commands[i];
    return NULL;
}

/* The command that people mean by another word for what it does. */
static const struct command *command_also(const char *name)
{
    size_t len = strlen(name);
    for (size_t i = 0; len > 0 && commands[i]; i++)
        for (const char *s = commands[i]->also; s && *s; s += strspn(s, " ")) {
            size_t n = strcspn(s, " ");
            if (n == len && strncmp(s, name, n) == 0)
                return commands[i];
            s += n;
        }
    return NULL;
}

bool command_unknown(const char *name, struct err *e)
{
    const struct command *meant = command_also(name);
    if (meant)
        return err_set(e, ERR_MISUSE, NULL, "there is no command \"%.60s\"; did you mean \"%s\" (%s)?", name,
                       meant->name, meant->summary);

    const char *names[64];
    size_t n = 0;
    for (; commands[n] && n < COUNT_OF(names); n++)
        names[n] = commands[n]->name;
    const char *near_by = name_nearest(name, names, n);
    return err_set(e, ERR_MISUSE, NULL, "there is no command \"%.60s\"%s%s%s", name, near_by ? "; did you mean \"" : "",
                   near_by ? near_by : "", near_by ? "\"?" : "; neap --help lists them");
}

/* The clock and the terminal enter here and nowhere else. */
static void look_around(struct context *c)
{
    time_t now = time(NULL);
    struct tm local;
    struct winsize window;
    char day[DAY_TEXT];
    localtime_r(&now, &local);
    strftime(day, sizeof day, "%Y-%m-%d", &local);
    day_parse(day, &c->today);
    c->now = c->today * MIN_PER_DAY + local.tm_hour * 60 + local.tm_min;
    c->knows_time = true;
    c->out_is_terminal = isatty(STDOUT_FILENO);
    c->out_width = 80;
    if (c->out_is_terminal && ioctl(STDOUT_FILENO, TIOCGWINSZ, &window) == 0 && window.ws_col > 0)
        c->out_width = window.ws_col;
}

/* Everything a command prints leaves in one place, and a full disk or a closed pipe is noticed. */
static bool print_out(const struct text *out, struct err *e)
{
    if (out->failed)
        return err_memory(e);
    if (fwrite(text_str(out), 1, out->len, stdout) != out->len || fflush(stdout) != 0)
        return errno == EPIPE || err_set(e, ERR_IO, NULL, "standard output: %s", strerror(errno));
    return true;
}

/* Global options may stand before the command: they are moved behind it, where the command's own parser takes them. */
static int find_command(int argc, char **argv)
{
    for (int i = 1; i < argc; i++) {
        if (argv[i][0] != '-')
            return i;
        bool takes_value =
            strcmp(argv[i], "--db") == 0 || strcmp(argv[i], "--on") == 0 || strcmp(argv[i], "--units") == 0;
        if (takes_value)
            i++;
    }
    return 0;
}

static void move_command_first(int at, char **argv)
{
    char *command = argv[at];
    memmove(argv + 2, argv + 1, (size_t)(at - 1) * sizeof *argv);
    argv[1] = command;
}

/* The line as the journal keeps it: what could steer a terminal that shows it later becomes a question mark. */
static void join_words(int argc, char **argv, struct text *typed)
{
    text_add(typed, "neap");
    for (int i = 1; i < argc; i++) {
        text_add(typed, " ");
        text_add(typed, argv[i]);
    }
    if (!typed->failed) {
        text_disarm(typed->s, false);
        typed->len = strlen(typed->s);
    }
}

/* Without a command: the list of them, the version, or a complaint. */
static int run_bare(struct context *c, int argc, char **argv, struct err *e)
{
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--help") == 0 || strcmp(argv[i], "-h") == 0) {
            help_all(c->out);
            return EXIT_DONE;
        }
        if (strcmp(argv[i], "--version") == 0) {
            text_add(c->out,
                     "neap " NEAP_VERSION "\nCopyright (C) 2026 the authors of neap\n"
                     "License GPL-3.0-or-later: GNU GPL version 3 or later <https://gnu.org/licenses/gpl.html>\n"
                     "This is free software: you are free to change and redistribute it. There is NO WARRANTY, to "
                     "the\nextent permitted by law.\n");
            return EXIT_DONE;
        }
    }
    if (argc < 2)
        help_all(c->out);
    else
        err_set(e, ERR_MISUSE, NULL, "expected a command; neap --help lists them");
    return EXIT_MISUSE;
}

/*
 * A command that stored may have overtaken the sheet that hangs at the tank. What it stored stands, whatever comes of
 * this.
 */
static void tell_of_today(struct context *c)
{
    struct err none = {0};
    if (c->stored && strcmp(c->command->name, "plan") != 0)
        overtaken_tell(c, &none);
}

static int run(struct context *c, int argc, char **argv, struct err *e)
{
    bool help = false;
    int at = find_command(argc, argv);
    if (at == 0)
        return run_bare(c, argc, argv, e);
    move_command_first(at, argv);
    c->command = command_find(argv[1]);
    if (!c->command)
        return command_unknown(argv[1], e), EXIT_MISUSE;
    if (!options_parse(c, argc - 1, argv + 1, &help, e))
        return EXIT_MISUSE;
    if (help) {
        help_command(c->command, c->out);
        return EXIT_DONE;
    }
    if (!c->command->run(c, e))
        return e->code == ERR_MISUSE ? EXIT_MISUSE : EXIT_CANNOT;
    if (option_given(c, "dry-run") && !c->json)
        text_add(c->out, "(dry run: nothing stored)\n");
    tell_of_today(c);
    return c->unsound ? EXIT_CANNOT : EXIT_DONE;
}

static void tell_error(const struct err *e)
{
    static const char *const words[] = {[HELP_NONE] = "",
                                        [HELP_START] = "; neap start makes one",
                                        [HELP_PLAN] = "; neap plan makes one",
                                        [HELP_LIST] = "; to see them: neap list ",
                                        [HELP_AUDIT] = "; neap audit tells more",
                                        [HELP_SHEET] = "; it is printed by: neap sheet ",
                                        [HELP_CALC] = "; such as: neap calc "};
    fprintf(stderr, "neap: %s%s%s\n", e->text, words[e->help], e->help_about);
}

int main(int argc, char **argv)
{
    struct text out = {0}, notes = {0}, typed = {0};
    struct context c = {.out = &out, .notes = &notes};
    struct err e = {0};

    /* A full disk and a closed pipe are to be error messages, not deaths. */
    signal(SIGXFSZ, SIG_IGN);
    signal(SIGPIPE, SIG_IGN);
    gsl_set_error_handler_off();
    setlocale(LC_CTYPE, "C.UTF-8"); /* widths and prompts; numbers stay in the C locale */

    join_words(argc, argv, &typed);
    c.typed = text_str(&typed);
    look_around(&c);
    int status = run(&c, argc, argv, &e);
    if (e.code == ERR_NONE && !print_out(&out, &e)) {
        status = c.stored ? status : EXIT_CANNOT; /* it is done: whoever tried again would enter it twice */
        if (c.stored)
            text_add(&notes, "neap: what was entered is stored, only its report is lost; do not enter it again\n");
    }
    fputs(text_str(&notes), stderr);
    if (e.code != ERR_NONE)
        tell_error(&e);
    text_free(&out);
    text_free(&notes);
    text_free(&typed);
    return status;
}
