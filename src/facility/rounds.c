/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The rounds of a day: on which days they are held, and whether a tank's lights are off then. */
#include "neap/facility.h"

static const char *const weekdays[WEEKDAYS] = {"mon", "tue", "wed", "thu", "fri", "sat", "sun"};

/* The full name will do, too: "monday". */
static int weekday_of(const char *word, size_t len)
{
    for (int i = 0; i < WEEKDAYS; i++) {
        const char *full = weekday_name(i);
        bool short_one = len == strlen(weekdays[i]), same = short_one || len == strlen(full);
        for (size_t k = 0; k < len && same; k++)
            same = (word[k] | 0x20) == (full[k] | 0x20);
        if (same)
            return i;
    }
    return WEEKDAYS;
}

bool weekdays_read(const char *text, bool days[WEEKDAYS], struct err *e)
{
    bool any = false;
    for (int i = 0; i < WEEKDAYS; i++)
        days[i] = false;
    while (*(text += strspn(text, " ,"))) {
        size_t len = strcspn(text, " ,");
        int day = weekday_of(text, len);
        if (day == WEEKDAYS)
            return err_set(e, ERR_INPUT, NULL, "\"%.*s\" is no weekday; expected some of mon tue wed thu fri sat sun",
                           (int)(len < NAME_BYTES_MAX ? len : NAME_BYTES_MAX), text);
        days[day] = any = true;
        text += len;
    }
    for (int i = 0; i < WEEKDAYS && !any; i++)
        days[i] = true;
    return true;
}

static bool is_held(const struct daily_round *r, int day)
{
    bool days[WEEKDAYS];
    struct err none;
    bool known = weekdays_read(r->days, days, &none);
    assert(known); /* no row gets in whose days are not */
    return !r->retired && days[day_weekday(day)];
}

size_t daily_rounds_on(const struct facility *f, int day, size_t *out)
{
    size_t n = 0;
    for (size_t i = 0; i < f->n_daily_rounds; i++) { /* by name already */
        if (!is_held(&f->daily_rounds[i], day))
            continue;
        size_t at = n++;
        for (; at > 0 && f->daily_rounds[out[at - 1]].start_min > f->daily_rounds[i].start_min; at--)
            out[at] = out[at - 1];
        out[at] = i;
    }
    return n;
}

bool is_dark(const struct facility *f, size_t tank, int minute, bool *known)
{
    const struct tank *t = &f->tanks[tank];
    const struct system *s = &f->systems[t->system];
    bool own = t->lights_on_min != t->lights_off_min;
    int on = own ? t->lights_on_min : s->lights_on_min, off = own ? t->lights_off_min : s->lights_off_min;
    *known = on != off;
    if (!*known)
        return false;
    minute %= (int)MIN_PER_DAY;
    return on < off ? minute < on || minute >= off : minute >= off && minute < on;
}
