/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Errors with room of their own: out of memory can be said, too. */
#include "neap/base.h"

static void err_write(struct err *e, enum err_code code, const struct place *at, const char *fmt, va_list ap)
{
    size_t used = 0;
    *e = (struct err){.code = code};
    if (at && at->file) {
        int n = at->line <= 0     ? snprintf(e->text, sizeof e->text, "%s: ", at->file)
                : at->column <= 0 ? snprintf(e->text, sizeof e->text, "%s:%ld: ", at->file, at->line)
                                  : snprintf(e->text, sizeof e->text, "%s:%ld:%ld: ", at->file, at->line, at->column);
        used = n < 0 ? 0 : (size_t)n;
        if (used >= sizeof e->text)
            used = sizeof e->text - 1;
    }
    vsnprintf(e->text + used, sizeof e->text - used, fmt, ap);
    utf8_cut_whole(e->text);
    text_disarm(e->text, true);
}

/* Names in brackets are no macros: analysers are given some that are called alike (tests/lint.h). */
bool(err_set)(struct err *e, enum err_code code, const struct place *at, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    if (e)
        err_write(e, code, at, fmt, ap);
    va_end(ap);
    return false;
}

bool(err_of_value)(struct err *e, enum err_code code, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    if (e) {
        err_write(e, code, NULL, fmt, ap);
        e->of_value = true;
    }
    va_end(ap);
    return false;
}

bool(err_help)(struct err *e, enum err_help help, const char *about)
{
    if (e) {
        e->help = help;
        snprintf(e->help_about, sizeof e->help_about, "%s", about ? about : "");
    }
    return false;
}

bool(err_memory)(struct err *e)
{
    return err_set(e, ERR_MEMORY, NULL, "out of memory; nothing was changed");
}
