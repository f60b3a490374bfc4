/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A round as iCalendar (RFC 5545): properties as content lines, folded and escaped as sections 3.1 and 3.3.11 say. */
#include "neap/exchange.h"
#include "neap/plan.h"

enum { ICAL_LINE_OCTETS = 75 };

/* ---- content lines ---------------------------------------------------------------------------------------------- */

/* The next piece of a line: as many whole characters as the room holds. */
static size_t piece_len(const char *s, size_t len, size_t room)
{
    if (len <= room)
        return len;
    while (room > 1 && ((unsigned char)s[room] & 0xC0) == 0x80)
        room--;
    return room;
}

/* A line of any length in pieces of at most 75 octets; a piece after the first begins with a blank, which counts. */
static void put_folded(const char *s, size_t len, struct text *out)
{
    for (size_t room = ICAL_LINE_OCTETS;; room = ICAL_LINE_OCTETS - 1) {
        size_t n = piece_len(s, len, room);
        text_add_n(out, s, n);
        text_add(out, "\r\n");
        s += n;
        len -= n;
        if (len == 0)
            return;
        text_add(out, " ");
    }
}

static void put_line(struct text *out, const char *line)
{
    put_folded(line, strlen(line), out);
}

/* Of type TEXT: backslash, semicolon, comma and line end are escaped; other controls have no way to be written. */
static void add_escaped(struct text *out, const char *s)
{
    for (; *s; s++) {
        if (*s == '\n')
            text_add(out, "\\n");
        else if ((unsigned char)*s < 0x20 && *s != '\t')
            text_add(out, " ");
        else {
            if (strchr("\\;,", *s))
                text_add(out, "\\");
            text_add_n(out, s, 1);
        }
    }
}

static void put_text(struct text *out, const char *name, const char *value)
{
    struct text line = {0};
    text_addf(&line, "%s:", name);
    add_escaped(&line, value);
    put_folded(text_str(&line), line.len, out);
    out->failed = out->failed || line.failed;
    text_free(&line);
}

/* ---- values ----------------------------------------------------------------------------------------------------- */

/* "20261127T080000": form 1 of section 3.3.5, a local time wherever it is read; with "Z" behind it, form 2. */
static void moment_words(long moment, char out[DAY_TEXT])
{
    char day[DAY_TEXT];
    int minute = (int)(moment - (long)moment_day(moment) * MIN_PER_DAY);
    day_format(moment_day(moment), day);
    snprintf(out, DAY_TEXT, "%.4s%.2s%.2sT%02d%02d00", day, day + 5, day + 8, minute / 60, minute % 60);
}

static void put_moment(struct text *out, const char *name, long moment, const char *zone)
{
    char words[DAY_TEXT], line[2 * DAY_TEXT];
    moment_words(moment, words);
    snprintf(line, sizeof line, "%s:%s%s", name, words, zone);
    put_line(out, line);
}

/* The house as the right side of an identifier: letters and digits of its name, a hyphen for all else. */
static void add_house(struct text *out, const char *name)
{
    size_t begin = out->len;
    for (; *name; name++) {
        unsigned char c = (unsigned char)*name;
        bool plain = (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
        char low = (char)(c >= 'A' && c <= 'Z' ? c + ('a' - 'A') : c);
        if (plain)
            text_add_n(out, &low, 1);
        else if (out->len > begin && text_str(out)[out->len - 1] != '-')
            text_add(out, "-");
    }
    if (out->len == begin)
        text_add(out, "neap");
}

struct calendar {
    const struct facility *f;
    const struct round *r;
    long stamp_utc;
    struct text *out;
};

enum { OF_TEXT = 40 };

/* The same event in every revision: import of a later one replaces it. of "": the round itself. */
static void put_identity(struct calendar *c, const char *of)
{
    struct text uid = {0};
    char day[DAY_TEXT];
    day_format(c->r->head.day, day);
    text_addf(&uid, "UID:round-%ld-%s%s@", c->r->head.number, of, day);
    add_house(&uid, c->f->settings.facility);
    put_folded(text_str(&uid), uid.len, c->out);
    c->out->failed = c->out->failed || uid.failed;
    text_free(&uid);
    put_moment(c->out, "DTSTAMP", c->stamp_utc, "Z");
    char sequence[DAY_TEXT];
    snprintf(sequence, sizeof sequence, "SEQUENCE:%ld", c->r->head.revision > 0 ? c->r->head.revision - 1 : 0);
    put_line(c->out, sequence);
}

static long moment_of(const struct calendar *c, int minute)
{
    return (long)c->r->head.day * MIN_PER_DAY + minute;
}

static void put_span(struct calendar *c, int from_min, int until_min)
{
    put_moment(c->out, "DTSTART", moment_of(c, from_min), "");
    if (until_min > from_min) /* section 3.8.2.2: later than the start */
        put_moment(c->out, "DTEND", moment_of(c, until_min), "");
}

/* ---- events ----------------------------------------------------------------------------------------------------- */

static void put_round(struct calendar *c)
{
    const struct round_head *h = &c->r->head;
    struct text words = {0};
    put_line(c->out, "BEGIN:VEVENT");
    put_identity(c, "");
    put_span(c, h->start_min, h->finish_min);
    text_addf(&words, "Feeding round %ld%s%s, %ld feeder%s", h->number, h->name && *h->name ? ", " : "",
              h->name ? h->name : "", h->feeders, h->feeders == 1 ? "" : "s");
    put_text(c->out, "SUMMARY", text_str(&words));
    c->out->failed = c->out->failed || words.failed;
    text_free(&words);
    words = (struct text){0};
    text_addf(&words, "%s\nRound %ld, revision %ld: %zu line%s on the sheet.", c->f->settings.facility, h->number,
              h->revision, c->r->n_lines, c->r->n_lines == 1 ? "" : "s");
    put_text(c->out, "DESCRIPTION", text_str(&words));
    c->out->failed = c->out->failed || words.failed;
    text_free(&words);
    put_line(c->out, "END:VEVENT");
}

/* An event that rings when it begins. of: "line-14-". */
static void put_alarmed(struct calendar *c, const char *of, int from_min, int until_min, const char *title,
                        const char *words)
{
    put_line(c->out, "BEGIN:VEVENT");
    put_identity(c, of);
    put_span(c, from_min, until_min);
    put_text(c->out, "SUMMARY", title);
    put_text(c->out, "DESCRIPTION", words);
    put_line(c->out, "BEGIN:VALARM");
    put_line(c->out, "ACTION:DISPLAY");
    put_line(c->out, "TRIGGER:PT0S");
    put_text(c->out, "DESCRIPTION", title);
    put_line(c->out, "END:VALARM");
    put_line(c->out, "END:VEVENT");
}

/* From the minute it is to come on to the minute it must not pass. */
static void put_flow_on(struct calendar *c, const struct line *on)
{
    const struct line *off = flow_off_of(c->f, c->r, on);
    int latest_min = flow_on_latest_min(c->f, c->r, on);
    struct text title = {0}, words = {0};
    char clock[CLOCK_TEXT], of[OF_TEXT];
    text_addf(&title, "FLOW ON %s, feeder %ld", c->f->tanks[on->tank].name, on->feeder);
    text_addf(&words, "Line %ld. ", on->number);
    if (*on->note)
        text_addf(&words, "Flow: %s. ", on->note);
    if (off) {
        clock_format(off->start_min, clock);
        text_addf(&words, "Off since %s by plan; ", clock);
        clock_format(latest_min, clock);
        text_addf(&words, "on by %s at the latest. ", clock);
    }
    text_add(&words, "Look: it runs.");
    snprintf(of, sizeof of, "line-%ld-", on->number);
    put_alarmed(c, of, on->start_min, off ? latest_min : on->start_min, text_str(&title), text_str(&words));
    c->out->failed = c->out->failed || title.failed || words.failed;
    text_free(&title);
    text_free(&words);
}

static void put_switch_on(struct calendar *c, const struct switching *s)
{
    struct text title = {0}, words = {0};
    char clock[CLOCK_TEXT], of[OF_TEXT];
    text_addf(&title, "SWITCH ON %s of %s, feeder %ld", device_titles[s->device], c->f->systems[s->system].name,
              s->on_feeder);
    clock_format(s->off_min, clock);
    text_addf(&words, "sw%ld. Off since %s by plan. %s%sLook: it runs.", s->number, clock, s->note,
              *s->note ? ". " : "");
    snprintf(of, sizeof of, "switch-%ld-", s->number);
    put_alarmed(c, of, s->on_min, s->on_min, text_str(&title), text_str(&words));
    c->out->failed = c->out->failed || title.failed || words.failed;
    text_free(&title);
    text_free(&words);
}

void ical_write(const struct facility *f, const struct round *r, long stamp_utc, struct text *out)
{
    struct calendar c = {f, r, stamp_utc, out};
    put_line(out, "BEGIN:VCALENDAR");
    put_line(out, "VERSION:2.0");
    put_line(out, "PRODID:-//neap//feeding rounds//EN");
    put_round(&c);
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].action == ACTION_FLOW_ON)
            put_flow_on(&c, &r->lines[i]);
    for (size_t i = 0; i < r->n_switchings; i++)
        put_switch_on(&c, &r->switchings[i]);
    put_line(out, "END:VCALENDAR");
}
