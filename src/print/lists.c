/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The numbered lines, as hands meet them: a list for each feeder in the order of work, or all that is done at one tank.
 * Every line has a tick; where there is none, nobody accounts for it.
 */
#include "sheet.h"

/* The widths but that of the number, which grows with the round. */
static const struct column list_columns[] = {
    {"clock", 5, false}, {"no", 3, true},     {"what", 0, false}, {"each", 8, true},
    {"plan", 7, true},   {"given", 8, false}, {"0-4", 3, true},   {"code", 4, false},
};
enum { N_LIST = COUNT_OF(list_columns), LIST_NUMBER = 1 };

static void begin_list(struct sheet *s)
{
    struct column *columns = arena_alloc(&s->d->arena, N_LIST, sizeof *columns);
    if (!columns) {
        s->d->failed = true;
        return;
    }
    memcpy(columns, list_columns, sizeof list_columns);
    for (size_t n = s->r->n_lines; n > 999; n /= 10)
        columns[LIST_NUMBER].width++;
    document_table(s->d, columns, N_LIST);
}

/* ---- a line ----------------------------------------------------------------------------------------------------- */

static bool is_flow(const struct line *l)
{
    return l->action == ACTION_FLOW_OFF || l->action == ACTION_FLOW_ON;
}

static const char *system_of(const struct sheet *s, const struct line *l)
{
    return s->f->systems[s->f->tanks[l->tank].system].name;
}

static const char *colony_words(struct sheet *s, const struct line *l)
{
    const struct colony *c = &s->f->colonies[l->colony];
    return document_format(s->d, "%s%s %s%s%s%s", s->f->kinds[c->kind].hand_safety ? "* " : "", c->code,
                           *c->label ? c->label : s->f->kinds[c->kind].name, *l->note ? " (" : "", l->note,
                           *l->note ? ")" : "");
}

static const char *flow_words(struct sheet *s, const struct line *l)
{
    const char *with = *l->note ? document_format(s->d, "; %s", l->note) : "";
    if (l->action == ACTION_FLOW_OFF)
        return document_format(s->d, "FLOW OFF, %.0f min at most%s", off_limit_min(s->f, l->tank, l->start_min), with);
    const char *latest = latest_words(s, l);
    return document_format(s->d, "FLOW ON, look%s%s%s", *latest ? "; by " : "", latest, with);
}

/* tank: its name stands before the words, where no head says it. */
static const char *what_words(struct sheet *s, const struct line *l, const char *tank)
{
    const char *before = *tank ? document_format(s->d, "%s: ", tank) : "";
    switch (l->action) {
    case ACTION_BROADCAST:
        return document_format(s->d, "%s%s%s", before, into_shared_water(l) ? "its part, " : "broadcast ",
                               food_words(s, l));
    case ACTION_FISH: return document_format(s->d, "%sfish: %s", before, food_words(s, l));
    case ACTION_FLOW_OFF:
    case ACTION_FLOW_ON: return document_format(s->d, "%s%s", before, flow_words(s, l));
    default: return colony_words(s, l);
    }
}

static const char *each_words(struct sheet *s, const struct line *l)
{
    if (l->action != ACTION_TARGET)
        return "";
    if (l->mouths == 0)
        return document_format(s->d, "%ld cloud", l->count);
    return document_format(s->d, "%ld x %ld m", l->count, l->mouths);
}

static const char *plan_words(struct sheet *s, const struct line *l)
{
    if (l->action == ACTION_TARGET)
        return document_format(s->d, "%.1f %s", l->amount, l->pot);
    if (l->food != REF_NONE)
        return amount_words(s, &s->f->foods[l->food], l->amount);
    return "";
}

static const char *given_words(const struct sheet *s, const struct line *l)
{
    if (line_is_not_given(s, l))
        return "none";
    if (line_is_done(s, l))
        return "done";
    if (line_is_off(s, l))
        return "skip";
    return is_flow(l) ? "[ ]__:__" : "[ ]_____";
}

static void put_line(struct sheet *s, const struct line *l, const char *clock, const char *tank)
{
    const char *cells[] = {
        clock,
        document_format(s->d, "%ld", l->number),
        what_words(s, l, tank),
        each_words(s, l),
        plan_words(s, l),
        given_words(s, l),
        l->action == ACTION_TARGET ? "___" : "",
        "____",
    };
    document_row(s->d, cells);
}

/* ---- what to mind at a tank ------------------------------------------------------------------------------------- */

static double slurry_at(const struct round *r, size_t tank, const char *pot)
{
    double ml = 0;
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].tank == tank && r->lines[i].action == ACTION_TARGET && strcmp(r->lines[i].pot, pot) == 0)
            ml += r->lines[i].amount;
    return ml;
}

/* "D2 (display, 2318 L), pot A 18.2 mL; feed from the ladder side" */
static const char *tank_head(struct sheet *s, size_t tank)
{
    const struct tank *t = &s->f->tanks[tank];
    struct text head = {0};
    text_addf(&head, "%s (%s, %s)", t->name, s->f->systems[t->system].name, volume_words(s->d, t->net_l, s->us));
    for (size_t i = 0; i < s->r->n_pots; i++) {
        double ml = slurry_at(s->r, tank, s->r->pots[i].pot);
        if (ml > 0)
            text_addf(&head, ", pot %s %.1f mL", s->r->pots[i].pot, ml);
    }
    text_addf(&head, "%s%s", s->f->systems[t->system].quarantine ? ". QUARANTINE: own tools, last" : "",
              *t->note ? "; " : "");
    text_add(&head, t->note);
    return document_taken(s->d, &head);
}

static const struct kind *kind_of(const struct sheet *s, const struct line *l)
{
    return l->colony == REF_NONE ? NULL : &s->f->kinds[s->f->colonies[l->colony].kind];
}

/* Is the kind's note in the list already? What may be toxic is said at every tank; a feeder 0 is a list of one tank. */
static bool is_noted(const struct sheet *s, const struct line *l, long feeder)
{
    const struct kind *kind = kind_of(s, l);
    for (size_t i = 0; i < s->n_steps; i++)
        for (size_t k = s->steps[i]; k < s->r->n_lines && same_step(s, &s->r->lines[s->steps[i]], &s->r->lines[k]);
             k++) {
            const struct line *other = &s->r->lines[k];
            if (other == l)
                return false;
            if (kind_of(s, other) == kind &&
                (other->tank == l->tank || (other->feeder == feeder && !kind->hand_safety)))
                return true;
        }
    return false;
}

static void put_kind_notes(struct sheet *s, size_t tank, long feeder)
{
    for (size_t i = 0; i < s->r->n_lines; i++) {
        const struct line *l = &s->r->lines[i];
        const struct kind *kind = kind_of(s, l);
        if (l->tank == tank && kind && *kind->note && !is_noted(s, l, feeder))
            document_row_note(s->d, kind->hand_safety ? "    *" : "    -",
                              document_format(s->d, "%s: %s", kind->name, kind->note));
    }
}

static void put_tank_notes(struct sheet *s, size_t tank, long feeder)
{
    for (size_t i = 0; i < s->r->n_cautions; i++)
        if (s->r->cautions[i].part == CAUTION_TANK && s->r->cautions[i].tank == tank)
            document_row_note(s->d, "    !", s->r->cautions[i].text);
    put_kind_notes(s, tank, feeder);
}

/* ---- steps ------------------------------------------------------------------------------------------------------ */

static const char *tanks_of_step(struct sheet *s, const struct line *first)
{
    struct text t = {0};
    size_t last = SIZE_MAX;
    for (size_t i = 0; i < s->r->n_lines; i++) {
        const struct line *l = &s->r->lines[i];
        if (!same_step(s, first, l) || l->tank == last)
            continue;
        text_addf(&t, "%s%s", t.len > 0 ? ", " : "", s->f->tanks[l->tank].name);
        last = l->tank;
    }
    return document_taken(s->d, &t);
}

static bool visits(const struct line *l)
{
    return l->action == ACTION_FISH || l->action == ACTION_FLOW_OFF || l->action == ACTION_TARGET;
}

/* Fish, flow off and corals of one tank and pass are done in one go: its head says what to mind there. */
static bool same_visit(const struct line *a, const struct line *b)
{
    return a && visits(a) && visits(b) && a->tank == b->tank && a->pass == b->pass;
}

static void put_shared_head(struct sheet *s, const struct line *l)
{
    document_row_head(
        s->d, "",
        document_format(s->d, "Into %s's water, measured once, for %s:", system_of(s, l), tanks_of_step(s, l)));
}

static void put_visit_head(struct sheet *s, const struct line *l)
{
    document_row_head(s->d, "",
                      document_format(s->d, "%s%s", tank_head(s, l->tank),
                                      l->pass > 1 ? document_format(s->d, ", pass %ld", l->pass) : ""));
    if (l->pass <= 1)
        put_tank_notes(s, l->tank, l->feeder);
}

/* The clock stands at a step's first line. */
static void put_step(struct sheet *s, const struct line *first, const struct line *before)
{
    const char *clock = clock_words(s, first->start_min);
    if (first->action == ACTION_BROADCAST && into_shared_water(first))
        put_shared_head(s, first);
    else if (visits(first) && !same_visit(before, first))
        put_visit_head(s, first);
    for (size_t i = 0; i < s->r->n_lines; i++) {
        const struct line *l = &s->r->lines[i];
        if (!same_step(s, first, l))
            continue;
        put_line(s, l, clock, visits(l) ? "" : s->f->tanks[l->tank].name);
        clock = "";
    }
}

/* ---- switches and pots between the steps ------------------------------------------------------------------------- */

/* Of one system, minute and feeder, off or on: one tick for all. */
static bool same_turn(const struct switching *a, const struct switching *b, bool on)
{
    return a->system == b->system && (on ? a->on_min == b->on_min && a->on_feeder == b->on_feeder
                                         : a->off_min == b->off_min && a->off_feeder == b->off_feeder);
}

static bool begins_turn(const struct sheet *s, size_t at, bool on)
{
    for (size_t i = 0; i < at; i++)
        if (same_turn(&s->r->switchings[i], &s->r->switchings[at], on))
            return false;
    return true;
}

static void put_other(struct sheet *s, int minute, const char *what, const char *given)
{
    document_row(s->d, (const char *const[]){clock_words(s, minute), "", what, "", "", given, "", ""});
}

/* "display: SWITCH OFF: skimmer, UV (sw1, sw2); behind the left door" */
static void put_turn(struct sheet *s, size_t at, bool on)
{
    const struct switching *w = &s->r->switchings[at];
    struct text what = {0}, numbers = {0}, where = {0};
    text_addf(&what, "%s: SWITCH %s: ", s->f->systems[w->system].name, on ? "ON" : "OFF");
    for (size_t i = at; i < s->r->n_switchings; i++) {
        const struct switching *b = &s->r->switchings[i];
        if (!same_turn(w, b, on))
            continue;
        text_addf(&what, "%s%s", numbers.len ? ", " : "", device_titles[b->device]);
        text_addf(&numbers, "%ssw%ld", numbers.len ? ", " : "", b->number);
        if (*b->note && !strstr(text_str(&where), b->note))
            text_addf(&where, "; %s", b->note);
    }
    put_other(s, on ? w->on_min : w->off_min,
              document_format(s->d, "%s (%s)%s", document_taken(s->d, &what), document_taken(s->d, &numbers),
                              document_taken(s->d, &where)),
              "[ ]__:__");
}

static void put_batch(struct sheet *s, const struct batch *b)
{
    const struct pot *p = &s->r->pots[b->pot];
    const char *pot = document_format(s->d, "pot %s%s", p->pot, p->late ? " (late)" : "");
    put_other(s, b->mix_min,
              b->number > 1 ? document_format(s->d, "%s: OLD: throw away, mix %.10g mL anew", pot, b->made_ml)
                            : document_format(s->d, "%s: mix %.10g mL, good until %s", pot, b->made_ml,
                                              clock_words(s, b->old_min)),
              "[ ]");
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

static void put_legend(struct sheet *s)
{
    struct text legend = {0};
    text_add(&legend, "Tick: as planned; else write what was given; a blank is not accounted for. 0-4:");
    for (int i = 0; i < RESPONSES; i++)
        text_addf(&legend, " %d %s%s", i, response_titles[i], i + 1 < RESPONSES ? "," : ". Code:");
    for (int i = OUTCOME_PART; i <= OUTCOME_NOT_GIVEN; i++)
        text_addf(&legend, " %c %s%s", outcomes[i].code, outcomes[i].title, i < OUTCOME_NOT_GIVEN ? "," : ".");
    text_add(&legend, " m: mouths of each; cloud: over the colony.");
    document_text(s->d, document_taken(s->d, &legend));
    document_keep(s->d);
}

bool put_feeder(struct sheet *s, long feeder)
{
    const struct line *first = NULL, *last = NULL;
    for (size_t i = 0; i < s->n_steps; i++) {
        const struct line *l = &s->r->lines[s->steps[i]];
        if (l->feeder != feeder)
            continue;
        first = first ? first : l;
        last = l;
    }
    if (!first)
        return false;
    document_space(s->d);
    document_heading(s->d, document_format(s->d, "FEEDER %ld: MY LIST, %s to %s      Name ______________________",
                                           feeder, clock_words(s, first->start_min), clock_words(s, last->end_min)));
    put_legend(s);
    begin_list(s);
    const struct line *before = NULL;
    int said_min = INT_MIN;
    for (size_t i = 0; i < s->n_steps && !s->d->failed; i++) {
        const struct line *l = &s->r->lines[s->steps[i]];
        if (l->feeder != feeder)
            continue;
        put_turns(s, feeder, said_min, l->start_min);
        said_min = l->start_min;
        put_step(s, l, before);
        before = l;
    }
    put_turns(s, feeder, said_min, INT_MAX - 1);
    return true;
}

/* ---- a tank's lines --------------------------------------------------------------------------------------------- */

bool put_tank(struct sheet *s, size_t tank)
{
    bool any = false;
    for (size_t i = 0; i < s->r->n_lines; i++)
        any = any || s->r->lines[i].tank == tank;
    if (!any)
        return false;
    document_heading(s->d, document_format(s->d, "TANK %s", s->f->tanks[tank].name));
    put_legend(s);
    begin_list(s);
    document_row_head(s->d, "", tank_head(s, tank));
    put_tank_notes(s, tank, 0);
    for (size_t i = 0; i < s->n_steps && !s->d->failed; i++) {
        const struct line *step = &s->r->lines[s->steps[i]];
        const char *clock = clock_words(s, step->start_min);
        const char *who = document_format(s->d, "feeder %ld", step->feeder);
        for (size_t k = 0; k < s->r->n_lines; k++) {
            const struct line *l = &s->r->lines[k];
            if (l->tank != tank || !same_step(s, step, l))
                continue;
            put_line(s, l, clock, l->action == ACTION_TARGET ? "" : who);
            clock = "";
        }
    }
    return true;
}
