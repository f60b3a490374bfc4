/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The clock of the round sheet, from the round's lines alone: its steps in time order, a strip of all tanks for the
 * eye, and the flows to turn back on with the minute each must not pass.
 */
#include "sheet.h"

/* ---- the strip -------------------------------------------------------------------------------------------------- */

/* What may share a character, the most telling last. */
static const char strip_marks[] = " .rfb|";

struct strip {
    int start_min, n_min, per_mark; /* minutes of the round, and of one character */
    int label, room;                /* characters for a row's name, and for its marks */
    char *minutes;                  /* one row, minute by minute */
};

enum { STRIP_WIDTH = 80, STRIP_LABEL_MAX = 12, STRIP_CLOCK = 5 };

static void strip_put(struct strip *p, int from_min, int until_min, char mark)
{
    for (int i = from_min - p->start_min; i < until_min - p->start_min; i++)
        if (i >= 0 && i < p->n_min && strchr(strip_marks, mark) > strchr(strip_marks, p->minutes[i]))
            p->minutes[i] = mark;
}

static void strip_line(struct strip *p, const struct line *l)
{
    switch (l->action) {
    case ACTION_BROADCAST: strip_put(p, l->start_min, l->end_min, 'b'); break;
    case ACTION_FISH:
    case ACTION_TARGET: strip_put(p, l->start_min, l->end_min, 'f'); break;
    case ACTION_FLOW_ON: strip_put(p, l->start_min, l->start_min + 1, '|'); break;
    default: break;
    }
}

/* From the broadcast to the first visit: the tank waits with its flow on. */
static void strip_lag(const struct sheet *s, struct strip *p, size_t tank)
{
    int from_min = -1, until_min = INT_MAX;
    for (size_t i = 0; i < s->r->n_lines; i++) {
        const struct line *l = &s->r->lines[i];
        if (l->tank == tank && l->action == ACTION_BROADCAST && l->end_min > from_min)
            from_min = l->end_min;
        else if (l->tank == tank && l->action == ACTION_TARGET && l->start_min < until_min)
            until_min = l->start_min;
    }
    if (from_min >= 0 && until_min < INT_MAX)
        strip_put(p, from_min, until_min, '.');
}

static const char *strip_folded(struct sheet *s, const struct strip *p)
{
    int n = (p->n_min + p->per_mark - 1) / p->per_mark;
    char *row = arena_alloc(&s->d->arena, (size_t)n + 1, 1);
    if (!row) {
        s->d->failed = true;
        return "";
    }
    for (int i = 0; i < n; i++) {
        row[i] = ' ';
        for (int k = i * p->per_mark; k < (i + 1) * p->per_mark && k < p->n_min; k++)
            if (strchr(strip_marks, p->minutes[k]) > strchr(strip_marks, row[i]))
                row[i] = p->minutes[k];
    }
    return row;
}

static const char *strip_of_tank(struct sheet *s, struct strip *p, size_t tank)
{
    memset(p->minutes, ' ', (size_t)p->n_min);
    strip_lag(s, p, tank);
    for (size_t i = 0; i < s->r->n_lines; i++) {
        const struct line *l = &s->r->lines[i], *off;
        if (l->tank == tank)
            strip_line(p, l);
        if (l->action == ACTION_FLOW_ON && share_pump(s->f, l->tank, tank) && (off = flow_off_of(s->f, s->r, l))) {
            strip_put(p, off->start_min, l->start_min, 'r');
            strip_line(p, l);
        }
    }
    return strip_folded(s, p);
}

static const char *strip_of_feeder(struct sheet *s, struct strip *p, long feeder)
{
    memset(p->minutes, ' ', (size_t)p->n_min);
    for (size_t i = 0; i < s->r->n_lines; i++)
        if (s->r->lines[i].feeder == feeder)
            strip_line(p, &s->r->lines[i]);
    return strip_folded(s, p);
}

/* Times on round minutes, each standing with its first digit at its minute. */
static const char *strip_scale(struct sheet *s, const struct strip *p)
{
    static const int steps[] = {10, 15, 30, 60, 120, 240, 480, 720};
    int step = steps[0];
    for (size_t i = 0; i < COUNT_OF(steps) && step < (STRIP_CLOCK + 2) * p->per_mark; i++)
        step = steps[i];
    struct text scale = {0};
    for (int at = (p->start_min + step - 1) / step * step; at < p->start_min + p->n_min; at += step) {
        size_t column = (size_t)((at - p->start_min) / p->per_mark);
        char clock[CLOCK_TEXT];
        clock_format(at, clock);
        if (scale.len > column || column + strlen(clock) > (size_t)p->room)
            continue;
        while (scale.len < column && !scale.failed)
            text_add(&scale, " ");
        text_add(&scale, clock);
    }
    return document_taken(s->d, &scale);
}

/* As wide as the longest name of a row, within reason. */
static int strip_label(struct sheet *s)
{
    int widest = text_width("feeder 1", 8) + (s->r->head.feeders > 9);
    for (size_t i = 0; i < s->r->n_lines; i++) {
        const char *name = s->f->tanks[s->r->lines[i].tank].name;
        int width = text_width(name, strlen(name));
        widest = width > widest ? width : widest;
    }
    return widest < STRIP_LABEL_MAX ? widest : STRIP_LABEL_MAX;
}

static bool strip_begin(struct sheet *s, struct strip *p)
{
    static const int sizes[] = {1, 2, 3, 4, 5, 6, 10, 15, 20, 30, 60};
    int from_min = INT_MAX, until_min = INT_MIN;
    for (size_t i = 0; i < s->r->n_lines; i++) {
        from_min = s->r->lines[i].start_min < from_min ? s->r->lines[i].start_min : from_min;
        until_min = s->r->lines[i].end_min > until_min ? s->r->lines[i].end_min : until_min;
    }
    *p = (struct strip){.start_min = from_min, .n_min = until_min - from_min + 1, .label = strip_label(s)};
    p->room = STRIP_WIDTH - p->label - 1;
    for (size_t i = 0; i < COUNT_OF(sizes); i++) {
        p->per_mark = sizes[i];
        if ((p->n_min + p->per_mark - 1) / p->per_mark <= p->room)
            break;
    }
    p->minutes = arena_alloc(&s->d->arena, (size_t)p->n_min, 1);
    return p->minutes != NULL;
}

static const char *short_name(struct sheet *s, const struct strip *p, const char *name)
{
    size_t len = strlen(name);
    while (text_width(name, len) > p->label)
        do
            len--;
        while (len > 0 && ((unsigned char)name[len] & 0xC0) == 0x80);
    return document_format(s->d, "%.*s", (int)len, name);
}

static bool is_first_step_at(const struct sheet *s, size_t step)
{
    for (size_t i = 0; i < step; i++)
        if (s->r->lines[s->steps[i]].tank == s->r->lines[s->steps[step]].tank)
            return false;
    return true;
}

static void put_strip(struct sheet *s)
{
    struct strip p;
    struct column *columns = arena_alloc(&s->d->arena, 2, sizeof *columns);
    if (!columns || !strip_begin(s, &p)) {
        s->d->failed = true;
        return;
    }
    columns[0] = (struct column){"", p.label, false};
    columns[1] = (struct column){"", 0, false};
    document_text(s->d,
                  document_format(s->d, "b broadcast  . wait  f feed  r rest, flow off  | flow on; a character: %d min",
                                  p.per_mark));
    document_keep(s->d);
    document_table(s->d, columns, 2);
    document_whole(s->d);
    document_drawn(s->d);
    document_row(s->d, (const char *const[]){"", strip_scale(s, &p)});
    for (size_t i = 0; i < s->n_steps; i++) {
        size_t tank = s->r->lines[s->steps[i]].tank;
        if (is_first_step_at(s, i))
            document_row(s->d,
                         (const char *const[]){short_name(s, &p, s->f->tanks[tank].name), strip_of_tank(s, &p, tank)});
    }
    document_rule(s->d);
    for (long feeder = 1; feeder <= s->r->head.feeders; feeder++)
        document_row(
            s->d, (const char *const[]){document_format(s->d, "feeder %ld", feeder), strip_of_feeder(s, &p, feeder)});
}

/* ---- flows to turn back on -------------------------------------------------------------------------------------- */

static const struct column flow_columns[] = {
    {"switch", 6, false}, {"who", 3, true},          {"tank", 0, false},   {"off at", 6, false},
    {"who", 3, true},     {"must run by", 13, true}, {"ran at", 9, false},
};

/* By the log it was turned off, and then nobody turned it on. */
static bool not_turned_on(const struct sheet *s, const struct line *on, const struct line *off)
{
    return line_is_not_given(s, on) && off && line_is_done(s, off) && !line_is_not_given(s, off);
}

static void put_flow(struct sheet *s, const struct line *on)
{
    const struct line *off = flow_off_of(s->f, s->r, on);
    const char *cells[] = {
        clock_words(s, on->start_min),
        document_format(s->d, "%ld", on->feeder),
        tank_words(s, on),
        off ? clock_words(s, off->start_min) : "",
        off ? document_format(s->d, "%ld", off->feeder) : "",
        latest_words(s, on),
        not_turned_on(s, on, off)  ? "STILL OFF"
        : line_is_not_given(s, on) ? "none"
        : line_is_done(s, on)      ? "done"
        : line_is_off(s, on)       ? "skip"
                                   : "[ ] __:__",
    };
    document_row(s->d, cells);
}

void put_clock(struct sheet *s)
{
    document_space(s->d);
    document_heading(s->d, "THE CLOCK");
    put_strip(s);
}

void put_flows(struct sheet *s)
{
    document_space(s->d);
    document_heading(s->d, "FLOWS TO TURN BACK ON");
    document_table(s->d, flow_columns, COUNT_OF(flow_columns));
    document_whole(s->d);
    for (size_t i = 0; i < s->n_steps; i++)
        if (s->r->lines[s->steps[i]].action == ACTION_FLOW_ON)
            put_flow(s, &s->r->lines[s->steps[i]]);
}
