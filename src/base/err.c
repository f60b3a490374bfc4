#include "neap/base.h"

bool err_set(struct err *e, enum err_code code, const struct place *at, const char *fmt, ...)
{
    if (!e)
        return false;
    size_t used = 0;
    e->code = code;
    e->text[0] = '\0';
    if (at && at->file) {
        int n = at->line <= 0     ? snprintf(e->text, sizeof e->text, "%s: ", at->file)
                : at->column <= 0 ? snprintf(e->text, sizeof e->text, "%s:%ld: ", at->file, at->line)
                                  : snprintf(e->text, sizeof e->text, "%s:%ld:%ld: ", at->file, at->line, at->column);
        used = n < 0 ? 0 : (size_t)n;
        if (used >= sizeof e->text)
            used = sizeof e->text - 1;
    }
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(e->text + used, sizeof e->text - used, fmt, ap);
    va_end(ap);
    utf8_cut_whole(e->text);
    text_disarm(e->text, true);
    return false;
}

bool err_memory(struct err *e)
{
    return err_set(e, ERR_MEMORY, NULL, "out of memory; nothing was changed");
}
