#include "neap/base.h"

/* A cut must not split a character: step back over the continuation bytes and their lead byte. */
static void cut_at_character(char *s, size_t room)
{
    size_t len = strlen(s);
    if (len + 1 < room)
        return;
    while (len > 0 && ((unsigned char)s[len - 1] & 0xC0) == 0x80)
        len--;
    if (len > 0 && ((unsigned char)s[len - 1] & 0x80) != 0)
        len--;
    s[len] = '\0';
}

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
    cut_at_character(e->text, sizeof e->text);
    return false;
}

bool err_memory(struct err *e)
{
    return err_set(e, ERR_MEMORY, NULL, "out of memory; nothing was changed");
}
