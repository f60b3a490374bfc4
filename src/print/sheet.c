/* The round sheet: what a feeder pins to a clipboard. Everything on it is in the round; nothing is worked out here. */
#include "sheet.h"

#include "neap/calc.h"
#include "neap/figures.h"

const char *volume_words(struct document *d, double litres, bool us_units)
{
    return us_units ? document_format(d, "%.0f US gal", us_gal_from_litres(litres)) : document_format(d, "%.0f L", litres);
}

const char *clock_words(struct sheet *s, int minute)
{
    char out[CLOCK_TEXT];
    clock_format(minute, out);
    return document_format(s->d, "%s", out);
}

static const char *amount_words(struct sheet *s, const struct food *food, double units)
{
    double step = food->unit == UNIT_G ? s->f->settings.scale_step_g : s->f->settings.liquid_step_ml;
    bool whole = food->unit == UNIT_ML && units == floor(units);
    return document_format(s->d, "%.*f %s", whole ? 0 : step_decimals(step), units, food->unit == UNIT_G ? "g" : "mL");
}

static const char *ml_words(struct sheet *s, double ml)
{
    return document_format(s->d, "%.1f", ml);
}

/* ---- head ------------------------------------------------------------------------------------------------------- */

static long count_action(const struct round *r, enum action action)
{
    long n = 0;
    for (size_t i = 0; i < r->n_lines; i++)
        n += r->lines[i].action == (int)action;
    return n;
}

static long count_tanks(const struct round *r)
{
    long n = 0;
    for (size_t i = 0; i < r->n_lines; i++)
        n += i == 0 || r->lines[i].tank != r->lines[i - 1].tank;
    return n;
}

static void put_head(struct sheet *s)
{
    const struct round_head *h = &s->r->head;
    long colonies = 0, tanks = count_tanks(s->r);
    char day[DAY_TEXT];
    for (size_t i = 0; i < s->r->n_lines; i++)
        colonies += s->r->lines[i].count;
    day_format(h->day, day);
    s->d->running_left = document_format(s->d, "%s  round %ld rev %ld  %s %s", s->f->settings.facility, h->number,
                                         h->revision, weekday_name(day_weekday(h->day)), day);
    document_heading(s->d, document_format(s->d, "FEEDING ROUND %ld, revision %ld", h->number, h->revision));
    if (s->r->n_lines == 0)
        return;
    document_text(
        s->d,
        document_format(s->d, "%ld tank%s, %ld %s, %zu pot%s, %ld feeder%s. First broadcast %s, all flows on by %s.",
                        tanks, tanks == 1 ? "" : "s", colonies, colonies == 1 ? "colony" : "colonies", s->r->n_pots,
                        s->r->n_pots == 1 ? "" : "s", h->feeders, h->feeders == 1 ? "" : "s",
                        clock_words(s, h->start_min), clock_words(s, h->finish_min)));
    if (!isnan(h->bound_min) && h->finish_min > h->start_min) {
        double took = h->finish_min - h->start_min;
        const char *walk = s->us ? document_format(s->d, "%.0f ft", inches_from_cm(h->walked_m * 100) / 12)
                                 : document_format(s->d, "%.0f m", h->walked_m);
        document_text(s->d, took <= h->bound_min
                                ? document_format(s->d, "%.0f min, %s to walk; no order is shorter.", took, walk)
                                : document_format(s->d, "%.0f min, %s to walk; no order is shorter than %.0f min.",
                                                  took, walk, h->bound_min));
    }
    document_text(s->d, "Fed by ______________________  Water checked, all well ____  Started __:__");
}

static void put_cautions(struct sheet *s, enum caution_part part, const char *heading, const char *mark)
{
    bool headed = false;
    for (size_t i = 0; i < s->r->n_cautions; i++) {
        if (s->r->cautions[i].part != (int)part)
            continue;
        if (!headed) {
            document_space(s->d);
            document_heading(s->d, heading);
        }
        headed = true;
        document_item(s->d, mark, s->r->cautions[i].text);
    }
}

/* At the top, not at the end: who is due and goes without. Why, and all others who wait, stand at the end. */
static bool put_unfed(struct sheet *s, struct err *e)
{
    enum { NAMED = 6 };
    struct due_unfed *list;
    size_t n;
    if (!round_unfed(s->f, s->r, &s->d->arena, &list, &n, e))
        return false;
    if (n == 0)
        return true;
    document_space(s->d);
    document_heading(s->d, "DUE, AND NOT FED TODAY");
    for (size_t i = 0; i < n && i < NAMED; i++) {
        struct text words = {0};
        unfed_words(s->f, &list[i], &words);
        document_item(s->d, "!!",
                      document_format(s->d, "%s %s.", s->f->colonies[list[i].colony].code, text_str(&words)));
        s->d->failed |= words.failed;
        text_free(&words);
    }
    document_text(s->d, n > NAMED ? document_format(s->d, "And %zu more. Why: end of the sheet.", n - NAMED)
                                  : "Why: end of the sheet.");
    return true;
}

/* Before all else: what a sheet planned earlier no longer gets right. */
static void put_changes(struct sheet *s, const char *hint)
{
    if (!s->changes || s->changes->n == 0)
        return;
    document_space(s->d);
    document_heading(s->d, "CHANGED SINCE THIS WAS PLANNED");
    for (size_t i = 0; i < s->changes->n; i++)
        document_item(s->d, "!!", s->changes->texts[i]);
    if (hint)
        document_text(s->d, hint);
}

/* ---- pots ------------------------------------------------------------------------------------------------------- */

static const struct column pot_columns[] = {
    {"", 3, false},      {"in this order", 0, false}, {"lot", 12, false},   {"amount", 9, true},
    {"scoops", 6, true}, {"allowed", 13, true},       {"weighed", 9, true},
};

/*
 * A measure may be off by a step or a twentieth, whichever is more; of a few steps by none, since each is too much of it. Common
 * practice, no source.
 */
static const char *allowed_words(struct sheet *s, double step, double amount)
{
    enum { FEW_STEPS = 5 };
    int decimals = step_decimals(step);
    double off = fmax(step, round_down_to(amount / 20, step));
    if (amount < (FEW_STEPS - 0.5) * step)
        return document_format(s->d, "just %.*f", decimals, amount);
    return document_format(s->d, "%.*f to %.*f", decimals, amount - off, decimals, amount + off);
}

static double step_of(const struct sheet *s, const struct food *food)
{
    return food->unit == UNIT_G ? s->f->settings.scale_step_g : s->f->settings.liquid_step_ml;
}

/* What a pot's table has in mL adds up to its volume, so each is printed to the digit that it is measured to. */
static const char *measured_ml(struct sheet *s, double ml)
{
    return document_format(s->d, "%.*f mL", step_decimals(s->f->settings.liquid_step_ml), ml);
}

static void put_premixed(struct sheet *s, const struct pot_food *pf)
{
    const char *cells[] = {
        "[ ]",
        document_format(s->d, "premix of %s", s->f->foods[pf->food].name),
        pf->lot == REF_NONE ? "" : s->f->lots[pf->lot].code,
        measured_ml(s, pf->premix_take_ml),
        "",
        allowed_words(s, s->f->settings.liquid_step_ml, pf->premix_take_ml),
        "________",
    };
    document_row(s->d, cells);
}

static void put_pot_food(struct sheet *s, const struct pot_food *pf)
{
    const struct food *food = &s->f->foods[pf->food];
    if (pf->premix_ml > 0) {
        put_premixed(s, pf);
        return;
    }
    const char *cells[] = {
        "[ ]",
        food->name,
        pf->lot == REF_NONE ? "" : s->f->lots[pf->lot].code,
        amount_words(s, food, pf->amount_units),
        food->scoop_g > 0 ? document_format(s->d, "%.1f", pf->amount_units / food->scoop_g) : "",
        allowed_words(s, step_of(s, food), pf->amount_units),
        "________",
    };
    document_row(s->d, cells);
}

static const struct column premix_columns[] = {
    {"", 3, false},           {"premix of", 0, false}, {"lot", 12, false},   {"weigh", 9, true},
    {"make up to", 11, true}, {"pots", 14, false},     {"weighed", 9, true},
};

static void put_premix(struct sheet *s, const struct pot_food *first)
{
    const struct food *food = &s->f->foods[first->food];
    double units = 0;
    struct text pots = {0};
    for (size_t i = 0; i < s->r->n_pot_foods; i++) {
        const struct pot_food *pf = &s->r->pot_foods[i];
        if (pf->food != first->food || pf->premix_ml <= 0)
            continue;
        units += pf->premix_units;
        text_addf(&pots, "%s%s", pots.len > 0 ? ", " : "", pf->pot);
    }
    const char *cells[] = {
        "[ ]",
        food->name,
        first->lot == REF_NONE ? "" : s->f->lots[first->lot].code,
        amount_words(s, food, units),
        document_format(s->d, "%.0f mL", first->premix_ml),
        document_format(s->d, "%s", text_str(&pots)),
        "________",
    };
    text_free(&pots);
    document_row(s->d, cells);
}

/* What is too little to weigh for single pots is weighed once for the round. */
static void put_premixes(struct sheet *s)
{
    bool headed = false;
    for (size_t i = 0; i < s->r->n_pot_foods; i++) {
        bool first = s->r->pot_foods[i].premix_ml > 0;
        for (size_t k = 0; k < i && first; k++)
            first = s->r->pot_foods[k].premix_ml <= 0 || s->r->pot_foods[k].food != s->r->pot_foods[i].food;
        if (!first)
            continue;
        if (!headed) {
            document_space(s->d);
            document_heading(s->d, "PREMIXES, ONCE FOR ALL POTS");
            document_text(s->d, "Weigh, make up with clean salt water, stir each time before a part is drawn.");
            document_keep(s->d);
            document_table(s->d, premix_columns, COUNT_OF(premix_columns));
            document_whole(s->d);
        }
        headed = true;
        put_premix(s, &s->r->pot_foods[i]);
    }
}

/* What is out of the ordinary, a line each. */
static void put_pot_notes(struct sheet *s, const char *note)
{
    while (*note) {
        const char *end = strstr(note, "; ");
        size_t len = end ? (size_t)(end - note) : strlen(note);
        document_item(s->d, "-", document_format(s->d, "%.*s", (int)len, note));
        document_keep(s->d);
        note += len + (end ? 2 : 0);
    }
}

/* "Feeder 1 mixes it at 08:12; what is left at 10:12 is thrown away." */
static void put_mixing(struct sheet *s, const struct pot *p)
{
    for (size_t i = 0; i < s->n_batches; i++) {
        const struct batch *b = &s->batches[i];
        if (b->pot != (size_t)(p - s->r->pots))
            continue;
        const char *what = b->made_ml < p->made_ml ? document_format(s->d, "%.0f mL, %.2f of every amount below,",
                                                                     b->made_ml, b->made_ml / p->made_ml)
                                                   : "it";
        document_text(s->d, document_format(s->d, "Feeder %ld mixes %s at %s; what is left at %s is thrown away.",
                                            b->feeder, what, clock_words(s, b->mix_min), clock_words(s, b->old_min)));
        document_keep(s->d);
    }
}

static void put_pot(struct sheet *s, const struct pot *p)
{
    const char *strength = p->late ? document_format(s->d, "%.1f g dry per 100 mL", p->strength_g_per_100ml)
                                   : document_format(s->d, "%.2f g per 100 mL, %.2f of house strength",
                                                     p->strength_g_per_100ml, p->factor);
    document_space(s->d);
    document_heading(s->d, document_format(s->d, "POT %s%s for %s", p->pot,
                                           p->late ? " (late: mix just before use)" : "", p->systems));
    document_text(s->d, document_format(s->d, "Make up to %.10g mL: %.1f mL for the corals, the rest is loss. %s.",
                                        p->made_ml, p->need_ml, strength));
    document_keep(s->d);
    put_mixing(s, p);
    put_pot_notes(s, p->note);
    document_table(s->d, pot_columns, COUNT_OF(pot_columns));
    document_whole(s->d);
    const char *water[] = {"[ ]",     "clean salt water",
                           "",        measured_ml(s, p->water_ml),
                           "",        document_format(s->d, "to %.10g mL", p->made_ml),
                           "________"};
    document_row(s->d, water);
    for (size_t i = 0; i < s->r->n_pot_foods; i++)
        if (strcmp(s->r->pot_foods[i].pot, p->pot) == 0)
            put_pot_food(s, &s->r->pot_foods[i]);
}

/* ---- broadcasts into shared water ------------------------------------------------------------------------------- */

static const struct column shared_columns[] = {
    {"", 3, false},      {"clock", 6, false}, {"who", 3, true},      {"food", 0, false},
    {"into", 21, false}, {"in all", 7, true}, {"measured", 8, true},
};

static const char *food_words(struct sheet *s, const struct line *l)
{
    const char *name = s->f->foods[l->food].name;
    return l->lot == REF_NONE ? name : document_format(s->d, "%s (%s)", name, s->f->lots[l->lot].code);
}

static bool same_measure(const struct sheet *s, const struct line *a, const struct line *b)
{
    return into_shared_water(a) && into_shared_water(b) && same_broadcast(s->f, a, b) && a->food == b->food &&
           a->lot == b->lot;
}

/* The heading says into what. */
static const char *shared_words(struct sheet *s, const struct line *l)
{
    return strncmp(l->note, "into ", 5) == 0 ? document_format(s->d, "%s", l->note + 5) : l->note;
}

static void put_measured(struct sheet *s, const struct line *l)
{
    double units = 0;
    bool done = s->done != NULL;
    for (size_t i = 0; i < s->r->n_lines; i++) {
        const struct line *other = &s->r->lines[i];
        if (!same_measure(s, l, other))
            continue;
        if (other < l)
            return; /* stands there already */
        units += other->amount;
        done = done && s->done[i];
    }
    const char *cells[] = {
        "[ ]",
        clock_words(s, l->start_min),
        document_format(s->d, "%ld", l->feeder),
        food_words(s, l),
        shared_words(s, l),
        amount_words(s, &s->f->foods[l->food], units),
        done ? "done" : "________",
    };
    document_row(s->d, cells);
}

/* By the clock; what one feeder gives at one minute stands together. */
static void put_shared(struct sheet *s)
{
    int last_min = INT_MIN;
    for (;;) {
        int next_min = INT_MAX;
        for (size_t i = 0; i < s->r->n_lines; i++)
            if (into_shared_water(&s->r->lines[i]) && s->r->lines[i].start_min > last_min &&
                s->r->lines[i].start_min < next_min)
                next_min = s->r->lines[i].start_min;
        if (next_min == INT_MAX)
            return;
        if (last_min == INT_MIN) {
            document_space(s->d);
            document_heading(s->d, "BROADCAST INTO SHARED WATER");
            document_text(
                s->d,
                "Measure once for all its tanks, by the sump or the return. The tanks' lines have their parts of it.");
            document_keep(s->d);
            document_table(s->d, shared_columns, COUNT_OF(shared_columns));
            document_whole(s->d);
        }
        for (size_t i = 0; i < s->r->n_lines; i++)
            if (into_shared_water(&s->r->lines[i]) && s->r->lines[i].start_min == next_min)
                put_measured(s, &s->r->lines[i]);
        last_min = next_min;
    }
}

/* ---- tanks ------------------------------------------------------------------------------------------------------ */

static const struct column line_columns[] = {
    {"line", 4, true},  {"what", 0, false}, {"each", 9, true},  {"plan", 7, true},
    {"given", 7, true}, {"0-4", 3, true},   {"code", 4, false},
};

static const char *what_words(struct sheet *s, const struct line *l)
{
    const char *star = "";
    switch (l->action) {
    case ACTION_BROADCAST:
        return into_shared_water(l) ? document_format(s->d, "broadcast %s: its part, into %s's water", food_words(s, l),
                                                      s->f->systems[s->f->tanks[l->tank].system].name)
                                    : document_format(s->d, "broadcast %s", food_words(s, l));
    case ACTION_FISH: return document_format(s->d, "fish: %s", food_words(s, l));
    case ACTION_FLOW_OFF:
        return document_format(s->d, "FLOW OFF %s%s%s", clock_words(s, l->start_min), *l->note ? "; " : "", l->note);
    case ACTION_FLOW_ON:
        return document_format(s->d, "FLOW ON %s%s%s", clock_words(s, l->start_min), *l->note ? "; " : "", l->note);
    default: break;
    }
    const struct colony *c = &s->f->colonies[l->colony];
    if (s->f->kinds[c->kind].hand_safety)
        star = "* ";
    return document_format(s->d, "%s%s %s%s%s%s", star, c->code, *c->label ? c->label : s->f->kinds[c->kind].name,
                           *l->note ? " (" : "", l->note, *l->note ? ")" : "");
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
        return document_format(s->d, "%s %s", ml_words(s, l->amount), l->pot);
    if (l->food != REF_NONE)
        return amount_words(s, &s->f->foods[l->food], l->amount);
    return "";
}

static void put_line(struct sheet *s, const struct line *l)
{
    bool flow = l->action == ACTION_FLOW_OFF || l->action == ACTION_FLOW_ON;
    const char *cells[] = {
        document_format(s->d, "%ld", l->number),
        what_words(s, l),
        each_words(s, l),
        plan_words(s, l),
        s->not_given && s->not_given[l - s->r->lines]    ? "none"
        : s->done && s->done[l - s->r->lines]            ? "done"
        : s->changes && s->changes->off[l - s->r->lines] ? "skip"
        : flow                                           ? "__:__"
                                                         : "_______",
        l->action == ACTION_TARGET ? "___" : "",
        "___",
    };
    document_row(s->d, cells);
}

/* What to mind with the kinds of a tank, once each, before its lines. */
static void put_kind_notes(struct sheet *s, size_t first)
{
    size_t tank = s->r->lines[first].tank;
    for (size_t i = first; i < s->r->n_lines && s->r->lines[i].tank == tank; i++) {
        if (s->r->lines[i].colony == REF_NONE)
            continue;
        size_t kind = s->f->colonies[s->r->lines[i].colony].kind;
        bool said = !*s->f->kinds[kind].note;
        for (size_t k = first; k < i && !said; k++)
            said = s->r->lines[k].colony != REF_NONE && s->f->colonies[s->r->lines[k].colony].kind == kind;
        if (said)
            continue;
        document_item(s->d, s->f->kinds[kind].hand_safety ? "*" : "-",
                      document_format(s->d, "%s: %s", s->f->kinds[kind].name, s->f->kinds[kind].note));
        document_keep(s->d);
    }
}

static double slurry_at(const struct round *r, size_t tank, const char *pot)
{
    double ml = 0;
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].tank == tank && r->lines[i].action == ACTION_TARGET && strcmp(r->lines[i].pot, pot) == 0)
            ml += r->lines[i].amount;
    return ml;
}

static void put_tank(struct sheet *s, size_t first)
{
    size_t tank = s->r->lines[first].tank;
    const struct tank *t = &s->f->tanks[tank];
    struct text head = {0};
    text_addf(&head, "%s (%s, %s)", t->name, s->f->systems[t->system].name, volume_words(s->d, t->net_l, s->us));
    for (size_t i = 0; i < s->r->n_pots; i++) {
        double ml = slurry_at(s->r, tank, s->r->pots[i].pot);
        if (ml > 0)
            text_addf(&head, "  pot %s %.1f mL", s->r->pots[i].pot, ml);
    }
    if (s->f->systems[t->system].quarantine)
        text_add(&head, "  QUARANTINE: own tools, last");
    document_space(s->d);
    document_heading(s->d, document_format(s->d, "%s", text_str(&head)));
    text_free(&head);
    if (*t->note) {
        document_text(s->d, t->note);
        document_keep(s->d);
    }
    for (size_t i = 0; i < s->r->n_cautions; i++) {
        if (s->r->cautions[i].part != CAUTION_TANK || s->r->cautions[i].tank != tank)
            continue;
        document_item(s->d, "!", s->r->cautions[i].text);
        document_keep(s->d);
    }
    put_kind_notes(s, first);
    document_table(s->d, line_columns, COUNT_OF(line_columns));
    document_whole(s->d);
    for (size_t i = first; i < s->r->n_lines && s->r->lines[i].tank == tank; i++)
        put_line(s, &s->r->lines[i]);
}

static void put_tanks(struct sheet *s)
{
    document_page(s->d);
    struct text legend = {0};
    text_add(&legend, "Given: tick when as planned, else the amount; a blank is not accounted for. 0-4:");
    for (int i = 0; i < RESPONSES; i++)
        text_addf(&legend, " %d %s%s", i, response_titles[i], i + 1 < RESPONSES ? "," : ". Code:");
    for (int i = OUTCOME_PART; i <= OUTCOME_NOT_GIVEN; i++)
        text_addf(&legend, " %c %s%s", outcomes[i].code, outcomes[i].title, i < OUTCOME_NOT_GIVEN ? "," : ".");
    text_add(&legend, " m: mouths of each; cloud: over the colony.");
    document_text(s->d, document_format(s->d, "%s", text_str(&legend)));
    text_free(&legend);
    for (size_t i = 0; i < s->r->n_lines; i++)
        if (i == 0 || s->r->lines[i].tank != s->r->lines[i - 1].tank)
            put_tank(s, i);
}

/* ---- foot ------------------------------------------------------------------------------------------------------- */

static const struct column waiting_columns[] = {
    {"code", 10, false}, {"colonies", 24, false}, {"tank", 14, false}, {"why", 0, false}};

static void put_waitings(struct sheet *s)
{
    if (s->r->n_waitings == 0)
        return;
    document_space(s->d);
    document_heading(s->d, "NOT FED TODAY");
    document_table(s->d, waiting_columns, COUNT_OF(waiting_columns));
    for (size_t k = 0; k < 2 * s->r->n_waitings; k++) {
        size_t i = k % s->r->n_waitings; /* those who are due first, then those who are held or new here */
        const struct colony *c = &s->f->colonies[s->r->waitings[i].colony];
        if (s->r->waitings[i].due != (k < s->r->n_waitings))
            continue;
        const char *cells[] = {c->code, *c->label ? c->label : s->f->kinds[c->kind].name, s->f->tanks[c->tank].name,
                               s->r->waitings[i].reason};
        document_row(s->d, cells);
    }
}

/* Each is counted: what stays off overnight is not missed until it has done harm. */
static void put_switches_on(struct sheet *s)
{
    const struct switching *last = NULL;
    for (size_t i = 0; i < s->r->n_switchings; i++)
        if (!last || s->r->switchings[i].on_min > last->on_min)
            last = &s->r->switchings[i];
    if (!last) {
        document_item(s->d, "[ ]", "What was switched off for the round is on again: skimmers, UV, ozone, dosing");
        return;
    }
    document_item(s->d, "[ ]",
                  document_format(s->d, "ALL SWITCHES ON: ____ of %zu, the last at %s (%s, %s)", s->r->n_switchings,
                                  clock_words(s, last->on_min), s->f->systems[last->system].name,
                                  device_titles[last->device]));
}

static void put_foot(struct sheet *s)
{
    document_space(s->d);
    document_heading(s->d, "BEFORE YOU LEAVE");
    for (size_t i = 0; i < s->r->n_pots; i++)
        document_item(s->d, "[ ]",
                      document_format(s->d, "Pot %s: ____ mL left over, thrown away (never kept for tomorrow)",
                                      s->r->pots[i].pot));
    document_item(s->d, "[ ]", "Uneaten food siphoned off after 20 to 30 min, never by mouth");
    document_item(s->d, "[ ]",
                  "Syringes, tubes and cups rinsed in fresh water and left to dry; quarantine tools apart");
    document_item(s->d, "[ ]", "Hands washed with soap and fresh water");
    document_item(s->d, "[ ]", document_format(s->d, "ALL FLOWS ON: ____ of %ld", count_action(s->r, ACTION_FLOW_ON)));
    put_switches_on(s);
    document_item(s->d, "[ ]", "Tests due today taken before the round");
    document_text(s->d, "Ended __:__   Checked by ______________________");
}

static bool find_batches(struct sheet *s, struct err *e)
{
    struct batch *batches;
    bool *left_out = arena_alloc(&s->d->arena, s->r->n_lines, sizeof *left_out);
    if (!left_out)
        return err_memory(e);
    for (size_t i = 0; i < s->r->n_lines; i++)
        left_out[i] = (s->not_given && s->not_given[i]) || (s->changes && s->changes->off[i]);
    bool ok = round_batches(s->f, s->r, left_out, &s->d->arena, &batches, &s->n_batches, e);
    s->batches = batches;
    return ok;
}

bool sheet_document(const struct facility *f, const struct round *r, const struct sheet_request *request,
                    struct document *d, struct err *e)
{
    struct sheet s = {.f = f,
                      .r = r,
                      .done = request->done,
                      .not_given = request->not_given,
                      .changes = request->changes,
                      .us = request->us_units,
                      .d = d};
    if (!find_batches(&s, e))
        return false;
    put_head(&s);
    put_changes(&s, request->change_hint);
    if (!put_unfed(&s, e))
        return false;
    put_cautions(&s, CAUTION_HEED, "CAUTIONS", "!");
    put_cautions(&s, CAUTION_BEFORE, "BEFORE THE ROUND", "[ ]");
    put_premixes(&s);
    for (size_t i = 0; i < r->n_pots; i++)
        put_pot(&s, &r->pots[i]);
    put_shared(&s);
    if (r->n_lines > 0) {
        put_clock(&s);
        put_tanks(&s);
    }
    put_waitings(&s);
    if (r->n_lines > 0)
        put_foot(&s);
    put_cautions(&s, CAUTION_NEXT, "FOR THE NEXT ROUND", "-");
    return d->failed ? err_memory(e) : true;
}
