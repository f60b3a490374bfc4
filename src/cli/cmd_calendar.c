/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap calendar: write a round for a calendar, with an alarm for each flow to turn on. */
#include "day_round.h"
#include "files.h"

#include <time.h>

/* The local moment of this run as UTC, which is what RFC 5545 asks of a stamp. */
static long utc_moment(long local)
{
    const time_t as_if_utc = (time_t)local * 60;
    struct tm parts;
    if (!gmtime_r(&as_if_utc, &parts))
        return local;
    parts.tm_isdst = -1;
    const time_t at = mktime(&parts);
    return at == (time_t)-1 ? local : (long)(at / 60);
}

static bool write_out(struct context *c, const struct text *calendar, struct err *e)
{
    const char *path = option_text(c, "into", NULL);
    if (calendar->failed)
        return err_memory(e);
    if (!path) {
        text_add_n(c->out, text_str(calendar), calendar->len);
        return true;
    }
    if (!file_write(path, text_str(calendar), calendar->len, e))
        return false;
    text_addf(c->out, "%s: written\n", path);
    return true;
}

static bool write_calendar(struct context *c, struct store *s, const struct facility *f, const struct round *r,
                           struct err *e)
{
    struct text calendar = {0};
    (void)s;
    ical_write(f, r, utc_moment(c->now), &calendar);
    bool ok = write_out(c, &calendar, e);
    text_free(&calendar);
    return ok;
}

static bool calendar_run(struct context *c, struct err *e)
{
    long number = 0;
    return (c->n_args == 0 || round_typed(c->args[0], &number, e)) &&
           round_run(c, STORE_READ, number, write_calendar, e);
}

const struct command command_calendar = {
    .name = "calendar",
    .place = 130,
    .summary = "write a round for a calendar, with an alarm for each flow to turn on",
    .also = "alarm ical reminder",
    .usage = "[ROUND]",
    .about = "Writes a kept round, today's where no number is given, as iCalendar (RFC 5545): the round, and an event "
             "with an alarm "
             "for each flow that is to be turned back on. Times are local wherever the file is read. Reading a later "
             "revision "
             "of the same round in replaces the events of the earlier one. An alarm is a reminder, no safeguard: a "
             "phone may be "
             "muted, wet or elsewhere.",
    .example = "neap --on 2026-11-27 calendar",
    .options =
        (const struct option_row[]){
            OPTION_ROUND, {"into", OPT_TEXT, "FILE", .help = "a file, whole or not at all; else it is printed"}, {0}},
    .args_max = 1,
    .run = calendar_run,
};
