/*
 * The clock of the round sheet, from the round's lines alone: a strip of all tanks for the eye, the flows to turn back
 * on with the minute each must not pass, and for each feeder a list of what is his to do, in time order.
 */
#include "sheet.h"

/* ---- flows ------------------------------------------------------------------------------------------------------ */

static const char *latest_words(struct sheet *s, const struct line *on)
{
    int latest_min = flow_on_latest_min(s->f, s->r, on);
    return latest_min < INT_MAX ? clock_words(s, latest_min) : "";
}

static const char *tank_words(struct sheet *s, const struct line *l)
{
    return *l->note ? document_format(s->d, "%s, %s", s->f->tanks[l->tank].name, l->note) : s->f->tanks[l->tank].name;
}

static bool is_done(const struct sheet *s, const struct line *l)
{
    return s->done && s->done[l - s->r->lines];
}

/* Nobody is to do it any more. */
static bool is_off(const struct sheet *s, const struct line *l)
{
    return s->changes && s->changes->off[l - s->r->lines];
}

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
    const char *row = document_format(s->d, "%s", text_str(&scale));
    s->d->failed = s->d->failed || scale.failed;
    text_free(&scale);
    return row;
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
    document_row(s->d, (const char *const[]){"", strip_scale(s, &p)});
    for (size_t i = 0; i < s->r->n_lines; i++) {
        size_t tank = s->r->lines[i].tank;
        if (i == 0 || tank != s->r->lines[i - 1].tank)
            document_row(s->d,
                         (const char *const[]){short_name(s, &p, s->f->tanks[tank].name), strip_of_tank(s, &p, tank)});
    }
    document_row(s->d, (const char *const[]){NULL, NULL});
    for (long feeder = 1; feeder <= s->r->head.feeders; feeder++)
        document_row(
            s->d, (const char *const[]){document_format(s->d, "feeder %ld", feeder), strip_of_feeder(s, &p, feeder)});
}

/* ---- flows to turn back on -------------------------------------------------------------------------------------- */

static const struct column flow_columns[] = {
    {"switch", 6, false}, {"who", 3, true},          {"tank", 0, false},   {"off at", 6, false},
    {"who", 3, true},     {"must run by", 13, true}, {"ran at", 9, false},
};

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
        is_done(s, on)  ? "done"
        : is_off(s, on) ? "skip"
                        : "[ ] __:__",
    };
    document_row(s->d, cells);
}

/* ---- switches ---------------------------------------------------------------------------------------------------- */

static const struct column switch_columns[] = {
    {"", 3, true},         {"system", 0, false}, {"off at", 7, false}, {"who", 3, true},
    {"was off", 9, false}, {"on at", 7, false},  {"who", 3, true},     {"is on", 9, false},
};

static void put_switches(struct sheet *s)
{
    if (s->r->n_switchings == 0)
        return;
    document_space(s->d);
    document_heading(s->d, "SWITCHES");
    document_text(s->d, "With dry hands: off before the first food goes in, on again when it is eaten.");
    document_keep(s->d);
    document_table(s->d, switch_columns, COUNT_OF(switch_columns));
    document_whole(s->d);
    for (size_t i = 0; i < s->r->n_switchings; i++) {
        const struct switching *w = &s->r->switchings[i];
        const char *what = document_format(s->d, "%s: %s%s%s", s->f->systems[w->system].name, device_titles[w->device],
                                           *w->note ? ", " : "", w->note);
        const char *cells[] = {document_format(s->d, "s%ld", w->number),    what,        clock_words(s, w->off_min),
                               document_format(s->d, "%ld", w->off_feeder), "[ ] __:__", clock_words(s, w->on_min),
                               document_format(s->d, "%ld", w->on_feeder),  "[ ] __:__"};
        document_row(s->d, cells);
    }
}

/* Of one system, minute and feeder, off or on: one tick for all. false: another one stands for it. */
static bool begins_turn(const struct sheet *s, size_t at, bool on)
{
    const struct switching *w = &s->r->switchings[at];
    for (size_t i = 0; i < at; i++) {
        const struct switching *b = &s->r->switchings[i];
        if (b->system == w->system && (on ? b->on_min == w->on_min && b->on_feeder == w->on_feeder
                                          : b->off_min == w->off_min && b->off_feeder == w->off_feeder))
            return false;
    }
    return true;
}

static void put_turn(struct sheet *s, size_t at, bool on)
{
    const struct switching *w = &s->r->switchings[at];
    struct text what = {0}, numbers = {0};
    for (size_t i = at; i < s->r->n_switchings; i++) {
        const struct switching *b = &s->r->switchings[i];
        if (b->system != w->system || (on ? b->on_min != w->on_min || b->on_feeder != w->on_feeder
                                          : b->off_min != w->off_min || b->off_feeder != w->off_feeder))
            continue;
        text_addf(&what, "%s%s", what.len ? ", " : on ? "SWITCH ON: " : "SWITCH OFF: ", device_titles[b->device]);
        text_addf(&numbers, "%ss%ld", numbers.len ? ", " : "", b->number);
    }
    const char *cells[] = {clock_words(s, on ? w->on_min : w->off_min), s->f->systems[w->system].name,
                           document_format(s->d, "%s", text_str(&what)),
                           document_format(s->d, "%s", text_str(&numbers)), "[ ] __:__"};
    s->d->failed = s->d->failed || what.failed || numbers.failed;
    document_row(s->d, cells);
    text_free(&what);
    text_free(&numbers);
}

static void put_batch(struct sheet *s, const struct batch *b)
{
    const struct pot *p = &s->r->pots[b->pot];
    const char *cells[] = {
        clock_words(s, b->mix_min), document_format(s->d, "pot %s%s", p->pot, p->late ? " (late)" : ""),
        b->number > 1 ? document_format(s->d, "OLD: throw away, mix %.0f mL anew", b->made_ml)
                      : document_format(s->d, "mix %.0f mL, good until %s", b->made_ml, clock_words(s, b->old_min)),
        "", "[ ]"};
    document_row(s->d, cells);
}

/* What a feeder switches and mixes from one minute up to another: before the steps of that minute. */
static void put_turns(struct sheet *s, long feeder, int after_min, int until_min)
{
    for (int minute = after_min + 1; minute <= until_min;) {
        int next_min = INT_MAX;
        for (size_t i = 0; i < s->r->n_switchings; i++) {
            const struct switching *w = &s->r->switchings[i];
            if (w->off_feeder == feeder && w->off_min >= minute)
                next_min = lesser(next_min, w->off_min);
            if (w->on_feeder == feeder && w->on_min >= minute)
                next_min = lesser(next_min, w->on_min);
        }
        for (size_t i = 0; i < s->n_batches; i++)
            if (s->batches[i].feeder == feeder && s->batches[i].mix_min >= minute)
                next_min = lesser(next_min, s->batches[i].mix_min);
        if (next_min > until_min || next_min == INT_MAX)
            return;
        for (size_t i = 0; i < s->r->n_switchings; i++) {
            const struct switching *w = &s->r->switchings[i];
            if (w->off_feeder == feeder && w->off_min == next_min && begins_turn(s, i, false))
                put_turn(s, i, false);
            if (w->on_feeder == feeder && w->on_min == next_min && begins_turn(s, i, true))
                put_turn(s, i, true);
        }
        for (size_t i = 0; i < s->n_batches; i++)
            if (s->batches[i].feeder == feeder && s->batches[i].mix_min == next_min)
                put_batch(s, &s->batches[i]);
        minute = next_min + 1;
    }
}

/* ---- a feeder's list -------------------------------------------------------------------------------------------- */

static const struct column list_columns[] = {
    {"clock", 6, false}, {"tank", 0, false}, {"action", 30, false}, {"lines", 9, false}, {"done at", 9, false},
};

/* "A, B": the pots that a step is fed from. */
static const char *pot_words(struct sheet *s, const struct line *first, const struct line *last)
{
    const char *pots = first->pot;
    for (const struct line *l = first + 1; l <= last; l++) {
        const struct line *same = first;
        while (strcmp(same->pot, l->pot) != 0)
            same++;
        if (same == l)
            pots = document_format(s->d, "%s, %s", pots, l->pot);
    }
    return pots;
}

static const char *action_words(struct sheet *s, const struct line *first, const struct line *last)
{
    switch (first->action) {
    case ACTION_BROADCAST:
        return into_shared_water(first) ? document_format(s->d, "broadcast into %s's water",
                                                          s->f->systems[s->f->tanks[first->tank].system].name)
                                        : "broadcast, flow on";
    case ACTION_FISH: return "feed the fish";
    case ACTION_FLOW_OFF: return document_format(s->d, "FLOW OFF, %.0f min at most", off_limit_min(s->f, first->tank));
    case ACTION_TARGET:
        return document_format(
            s->d, strchr(pot_words(s, first, last), ',') ? "feed from %s until %s" : "feed from pot %s until %s",
            pot_words(s, first, last), clock_words(s, last->end_min));
    default: return document_format(s->d, "FLOW ON, look; by %s", latest_words(s, first));
    }
}

/* Lines of one tank, action, pass and minute are one step at the tank; a broadcast may be for several. */
static bool same_step(const struct sheet *s, const struct line *a, const struct line *b)
{
    return same_broadcast(s->f, a, b) || (a->tank == b->tank && a->action == b->action && a->pass == b->pass &&
                                          a->start_min == b->start_min && a->feeder == b->feeder);
}

static int step_order(const struct line *a, const struct line *b)
{
    if (a->start_min != b->start_min)
        return a->start_min < b->start_min ? -1 : 1;
    if (a->end_min != b->end_min)
        return a->end_min < b->end_min ? -1 : 1;
    return a->number < b->number ? -1 : 1;
}

/* "9-10, 76": the numbers of a step's lines, and its tanks, each once: a broadcast into shared water is for several. */
static void step_words(struct sheet *s, size_t first, const char **numbers, const char **tanks)
{
    const struct line *lines = s->r->lines;
    struct text n = {0}, t = {0};
    for (size_t i = first, run = first; i < s->r->n_lines; i++) {
        if (!same_step(s, &lines[first], &lines[i]))
            continue;
        bool follows = i > first && same_step(s, &lines[first], &lines[i - 1]);
        if (!follows) {
            text_addf(&n, "%s%ld", i > first ? ", " : "", lines[i].number);
            run = i;
        }
        if (!follows || lines[i].tank != lines[i - 1].tank)
            text_addf(&t, "%s%s", i > first ? ", " : "", s->f->tanks[lines[i].tank].name);
        bool ends = i + 1 == s->r->n_lines || !same_step(s, &lines[first], &lines[i + 1]);
        if (ends && i > run)
            text_addf(&n, "-%ld", lines[i].number);
    }
    *numbers = document_format(s->d, "%s", text_str(&n));
    *tanks = document_format(s->d, "%s", text_str(&t));
    s->d->failed = s->d->failed || n.failed || t.failed;
    text_free(&n);
    text_free(&t);
}

static void put_step(struct sheet *s, size_t first)
{
    const struct line *a = &s->r->lines[first], *b = a;
    bool done = true, off = true, none = true, flow = a->action == ACTION_FLOW_ON || a->action == ACTION_FLOW_OFF;
    const char *numbers, *tanks;
    for (size_t i = first; i < s->r->n_lines; i++)
        if (same_step(s, a, &s->r->lines[i])) {
            b = &s->r->lines[i];
            done = done && is_done(s, b);
            off = off && (is_done(s, b) || is_off(s, b));
            none = none && s->not_given && s->not_given[i];
        }
    step_words(s, first, &numbers, &tanks);
    const char *cells[] = {
        clock_words(s, a->start_min),
        flow ? tank_words(s, a) : tanks,
        action_words(s, a, b),
        numbers,
        none   ? "none"
        : done ? "done"
        : off  ? "skip"
        : flow ? "[ ] __:__"
               : "[ ]",
    };
    document_row(s->d, cells);
}

static bool begins_step(const struct sheet *s, size_t i)
{
    for (size_t k = 0; k < i; k++)
        if (same_step(s, &s->r->lines[k], &s->r->lines[i]))
            return false;
    return true;
}

/* The first line of each step, by time. */
static size_t *steps_by_time(struct sheet *s, size_t *n)
{
    size_t *firsts = arena_alloc(&s->d->arena, s->r->n_lines, sizeof *firsts);
    *n = 0;
    if (!firsts)
        s->d->failed = true;
    for (size_t i = 0; firsts && i < s->r->n_lines; i++) {
        if (!begins_step(s, i))
            continue;
        size_t at = (*n)++;
        for (; at > 0 && step_order(&s->r->lines[i], &s->r->lines[firsts[at - 1]]) < 0; at--)
            firsts[at] = firsts[at - 1];
        firsts[at] = i;
    }
    return firsts;
}

static void put_list(struct sheet *s, long feeder, const size_t *steps, size_t n)
{
    bool any = false;
    for (size_t i = 0; i < n; i++)
        any = any || s->r->lines[steps[i]].feeder == feeder;
    if (!any)
        return;
    document_space(s->d);
    document_heading(s->d, document_format(s->d, "FEEDER %ld: MY LIST", feeder));
    document_keep(s->d);
    document_table(s->d, list_columns, COUNT_OF(list_columns));
    document_whole(s->d);
    int said_min = INT_MIN;
    for (size_t i = 0; i < n; i++) {
        const struct line *l = &s->r->lines[steps[i]];
        if (l->feeder != feeder)
            continue;
        put_turns(s, feeder, said_min, l->start_min);
        said_min = l->start_min;
        put_step(s, steps[i]);
    }
    put_turns(s, feeder, said_min, INT_MAX - 1);
}

void put_clock(struct sheet *s)
{
    size_t n;
    size_t *steps = steps_by_time(s, &n);
    if (!steps)
        return;
    document_page(s->d);
    document_heading(s->d, "THE CLOCK");
    document_keep(s->d);
    put_strip(s);
    document_space(s->d);
    document_heading(s->d, "FLOWS TO TURN BACK ON");
    document_keep(s->d);
    document_table(s->d, flow_columns, COUNT_OF(flow_columns));
    document_whole(s->d);
    for (size_t i = 0; i < n; i++)
        if (s->r->lines[steps[i]].action == ACTION_FLOW_ON)
            put_flow(s, &s->r->lines[steps[i]]);
    put_switches(s);
    for (long feeder = 1; feeder <= s->r->head.feeders; feeder++)
        put_list(s, feeder, steps, n);
}
