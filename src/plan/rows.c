/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The round as rows: pots with their foods from lots, and the numbered lines in the order of work. */
#include "neap/stock.h"
#include "neap/working.h"

/* ---- pots ------------------------------------------------------------------------------------------------------- */

static const char *pot_name(struct arena *a, size_t index)
{
    return index < 26 ? arena_format(a, "%c", (char)('A' + (int)index)) : arena_format(a, "A%zu", index - 25);
}

static struct pot_food *add_pot_food(struct round *r, const char *pot, const struct recipe_amount *a)
{
    struct pot_food *pf = &r->pot_foods[r->n_pot_foods++];
    const struct pot_food *before = r->n_pot_foods > 1 ? pf - 1 : NULL;
    *pf = (struct pot_food){.pot = pot, .food = a->food, .rank = 1};
    if (before && before->pot == pot)
        pf->rank = before->rank + 1;
    return pf;
}

static void add_premixed(struct working *w, struct round *r, const char *pot, const struct recipe_amount *a)
{
    const struct recipe_premix *m = &w->recipe.premixes[a->premix];
    struct pot_food *pf = add_pot_food(r, pot, a);
    pf->lot = shelf_take_lot(&w->shelf, a->food, m->lot, 0);
    pf->amount_units = number_without_dust(a->amount);
    pf->premix_ml = m->make_up_ml;
    pf->premix_take_ml = a->take_ml;
}

static void add_pot_foods(struct working *w, struct round *r, const struct recipe_pot *from, const char *pot)
{
    for (size_t i = 0; i < from->n_amounts; i++) {
        const struct recipe_amount *a = &from->amounts[i];
        if (a->premix != RECIPE_NONE)
            add_premixed(w, r, pot, a);
        for (size_t k = 0; k < a->n_parts; k++) {
            struct pot_food *pf = add_pot_food(r, pot, a);
            pf->lot = shelf_take_lot(&w->shelf, a->food, a->parts[k].lot, a->parts[k].units);
            pf->amount_units = number_without_dust(a->parts[k].units);
        }
    }
}

/*
 * What is weighed for a premix stands with the pots by the mL they take of it; the last has the rest, so that it adds
 * up.
 */
static void share_premix(struct working *w, struct round *r, const struct recipe_premix *m)
{
    double taken_ml = 0, rest = m->weigh;
    struct pot_food *last = NULL;
    shelf_take_lot(&w->shelf, m->food, m->lot, m->weigh);
    for (size_t i = 0; i < r->n_pot_foods; i++)
        if (r->pot_foods[i].food == m->food)
            taken_ml += r->pot_foods[i].premix_take_ml;
    for (size_t i = 0; i < r->n_pot_foods; i++) {
        struct pot_food *pf = &r->pot_foods[i];
        if (pf->food != m->food || pf->premix_ml <= 0)
            continue;
        pf->premix_units = round_near_to(m->weigh * pf->premix_take_ml / taken_ml, 1e-6);
        rest = shelf_rest(rest, pf->premix_units);
        last = pf;
    }
    assert(last); /* it was planned for a pot */
    last->premix_units = shelf_rest(last->premix_units, -rest);
}

static double need_of(const struct working *w, const struct recipe_pot *pot)
{
    double ml = 0;
    for (size_t i = 0; i < w->n_dues; i++)
        for (size_t k = 0; k < pot->n_systems; k++)
            if (w->dues[i].late == pot->late && w->dues[i].system == pot->systems[k])
                ml += w->dues[i].need_ml;
    return number_without_dust(ml);
}

static const char *system_list(struct working *w, const struct recipe_pot *pot)
{
    const char *list = w->f->systems[pot->systems[0]].name;
    for (size_t i = 1; list && i < pot->n_systems; i++)
        list = arena_format(w->a, "%s, %s", list, w->f->systems[pot->systems[i]].name);
    return list;
}

static double allowed_by_state(const struct working *w, const struct recipe_pot *pot)
{
    double least = INFINITY;
    for (size_t i = 0; i < pot->n_systems; i++)
        least = fmin(least, w->states[pot->systems[i]].factor);
    return least;
}

static bool add_pots(struct working *w, struct round *r, struct err *e)
{
    size_t n = w->recipe.n_pots;
    r->pots = arena_alloc(w->a, n, sizeof *r->pots);
    r->pot_foods = arena_alloc(w->a, n * (w->f->n_lots + w->f->n_foods), sizeof *r->pot_foods);
    if (!r->pots || !r->pot_foods)
        return err_memory(e);
    for (size_t i = 0; i < n; i++) {
        const struct recipe_pot *from = &w->recipe.pots[i];
        struct pot *p = &r->pots[r->n_pots++];
        *p = (struct pot){
            .pot = pot_name(w->a, i),
            .systems = system_list(w, from),
            .late = from->late,
            .need_ml = need_of(w, from),
            .made_ml = from->slurry_ml,
            .water_ml = shelf_rest(from->water_ml, 0),
            .strength_g_per_100ml = round_down_to(from->strength_frac * w->f->settings.strength_g_per_100ml, 1e-4),
            .factor = round_down_to(from->strength_frac, 1e-4), /* never more than was allowed */
            .note = pot_notes(w, i),
            .allowed_frac = allowed_by_state(w, from),
        };
        if (!p->pot || !p->systems || !p->note)
            return err_memory(e);
        add_pot_foods(w, r, from, p->pot);
    }
    for (size_t i = 0; i < w->recipe.n_premixes; i++)
        share_premix(w, r, &w->recipe.premixes[i]);
    return true;
}

static const char *pot_of(const struct working *w, const struct round *r, size_t system, bool late)
{
    for (size_t i = 0; i < w->recipe.n_pots; i++)
        for (size_t k = 0; k < w->recipe.pots[i].n_systems; k++)
            if (w->recipe.pots[i].late == late && w->recipe.pots[i].systems[k] == system)
                return r->pots[i].pot;
    return "";
}

/* ---- lines ------------------------------------------------------------------------------------------------------ */

/* There is room: it was counted from the same steps. */
static void add_line(struct round *r, size_t room, const struct line *from)
{
    assert(r->n_lines < room);
    struct line *l = &r->lines[r->n_lines++];
    *l = *from;
    l->number = (long)r->n_lines;
    if (!l->pot)
        l->pot = "";
    if (!l->note)
        l->note = "";
}

/* A line that a step of the order stands for, all but what is given. */
static struct line step_line(const struct working *w, const struct order_step *s, enum action action)
{
    return (struct line){
        .tank = w->order_tanks[s->tank],
        .action = (int)action,
        .pass = s->pass > 0 ? s->pass : 1,
        .colony = REF_NONE,
        .food = REF_NONE,
        .lot = REF_NONE,
        .feeder = s->feeder + 1,
        .start_min = s->start_min,
        .end_min = s->end_min,
        .amount = NAN,
    };
}

/* Things of a kind put together by what they belong to, each group in the order they came in. */
struct grouped {
    size_t *at;    /* [n] */
    size_t *first; /* [n_groups + 1], where in at each group begins */
};

/* group[i]: of the i-th, n_groups or more: of none. */
static bool group_by(struct arena *a, const size_t *group, size_t n, size_t n_groups, struct grouped *out)
{
    out->at = arena_alloc(a, n, sizeof *out->at);
    out->first = arena_alloc(a, n_groups + 2, sizeof *out->first);
    if (!out->at || !out->first)
        return false;
    for (size_t i = 0; i < n; i++)
        if (group[i] < n_groups)
            out->first[group[i] + 2]++;
    for (size_t g = 2; g < n_groups + 2; g++)
        out->first[g] += out->first[g - 1];
    for (size_t i = 0; i < n; i++)
        if (group[i] < n_groups)
            out->at[out->first[group[i] + 1]++] = i;
    return true;
}

struct writing {
    struct working *w;
    struct round *r;
    size_t room;
    long *left;            /* per due: colonies still to be put into a pass */
    struct grouped feeds;  /* steps that feed, by pump */
    struct grouped steps;  /* all, by the tank of the order under which they stand */
    struct grouped visits; /* steps, by their own tank of the order */
};

static void write_food(struct writing *in, struct line base, size_t food, double units)
{
    while (units > 1e-9) {
        base.food = food;
        base.amount = shelf_take(&in->w->shelf, food, units, &base.lot);
        units = shelf_rest(units, base.amount);
        add_line(in->r, in->room, &base);
    }
}

/* A list of tanks inside a note: with a system's name and some words it keeps to the limit. names NULL: no memory. */
struct tank_list {
    const char *names;
    int n_unnamed;
};

static void list_tank(struct working *w, struct tank_list *list, const char *name)
{
    enum { LIST_BYTES = 250 };
    if (strlen(list->names) + strlen(name) > LIST_BYTES)
        list->n_unnamed++;
    else
        list->names = arena_format(w->a, "%s%s%s", list->names, *list->names ? ", " : "", name);
}

static const char *list_words(struct working *w, const struct tank_list *list)
{
    if (!list->names || list->n_unnamed == 0)
        return list->names;
    return arena_format(w->a, "%s and %d more", list->names, list->n_unnamed);
}

/* "into west's water, for W1, W2": where a shared broadcast goes, and the tanks whose parts are given together. */
static const char *shared_water(struct writing *in, const struct order_step *s)
{
    struct working *w = in->w;
    const struct order_plan *plan = &w->order;
    struct tank_list list = {.names = ""};
    int share = w->order_problem.tanks[s->tank].share;
    if (share == 0)
        return "";
    for (size_t i = 0; list.names && i < plan->n_steps; i++) {
        const struct order_step *t = &plan->steps[i];
        if (t->action == ORDER_BROADCAST && w->order_problem.tanks[t->tank].share == share && t->feeder == s->feeder &&
            t->start_min == s->start_min)
            list_tank(w, &list, w->f->tanks[w->order_tanks[t->tank]].name);
    }
    const char *names = list_words(w, &list);
    return names ? arena_format(w->a, "into %s's water, for %s", w->f->systems[share - 1].name, names) : NULL;
}

static bool write_broadcasts(struct writing *in, const struct order_step *s)
{
    const struct recipe *recipe = &in->w->recipe;
    size_t tank = in->w->order_tanks[s->tank];
    struct line base = step_line(in->w, s, ACTION_BROADCAST);
    base.note = shared_water(in, s);
    base.shared = in->w->order_problem.tanks[s->tank].share > 0;
    for (size_t i = 0; base.note && i < recipe->n_broadcasts; i++)
        if (recipe->broadcasts[i].tank == tank)
            write_food(in, base, recipe->broadcasts[i].food, recipe->broadcasts[i].amount);
    return base.note != NULL;
}

/* What stands beside a line: new here, to be looked at, and the colony's own note. */
static const char *target_note(const struct writing *in, const struct due *d)
{
    const struct colony *c = &in->w->f->colonies[d->colony];
    const char *parts[] = {d->half ? "new here, half" : "", *c->look ? arena_format(in->w->a, "look: %s", c->look) : "",
                           c->portion_frac < 1 ? arena_format(in->w->a, "%.2g of the portion", c->portion_frac) : "",
                           c->note};
    const char *note = "";
    for (size_t i = 0; i < COUNT_OF(parts); i++) {
        if (!note || !parts[i])
            return NULL;
        if (*parts[i])
            note = *note ? arena_format(in->w->a, "%s; %s", note, parts[i]) : parts[i];
    }
    if (note && strlen(note) > NOTE_BYTES_MAX - 1) /* the house's own note gives way: it also stands in the register */
        note = arena_format(in->w->a, "%s; %s", parts[1], parts[2]);
    return note;
}

/*
 * Of a row's colonies, those that a pass has time for: as many as the order says, or, where it could not cut between
 * corals, by seconds.
 */
static long colonies_in(const struct working *w, const struct due *d, long left, const struct order_step *s, long *fed,
                        double *seconds)
{
    double each_s = d->hands_s / (double)w->f->colonies[d->colony].count;
    long n = left;
    if (s->fed > 0)
        n = left < s->fed - *fed ? left : s->fed - *fed;
    else if (each_s > 0 && floor(*seconds / each_s + 1e-6) < (double)left)
        n = (long)floor(*seconds / each_s + 1e-6);
    *fed += n;
    *seconds -= (double)n * each_s;
    return n;
}

static bool write_targets(struct writing *in, const struct order_step *s, bool last_pass)
{
    struct working *w = in->w;
    size_t tank = w->order_tanks[s->tank];
    double seconds = fmax(0, s->feed_s - w->f->settings.tank_fixed_s);
    long fed = 0;
    for (size_t k = w->rack_first[tank]; k < w->rack_first[tank + 1]; k++) {
        size_t i = w->rack_order[k];
        const struct due *d = &w->dues[i];
        if (in->left[i] == 0)
            continue;
        long n = last_pass ? in->left[i] : colonies_in(w, d, in->left[i], s, &fed, &seconds);
        if (n == 0 && fed == 0)
            fed = n = 1; /* a stop with nobody fed would be for nothing */
        if (n == 0)
            break;
        in->left[i] -= n;
        struct line l = step_line(w, s, ACTION_TARGET);
        l.colony = d->colony;
        l.count = n;
        l.mouths = d->mouths;
        l.amount = number_without_dust(d->need_ml * (double)n / (double)w->f->colonies[d->colony].count);
        l.pot = pot_of(w, in->r, d->system, d->late);
        l.note = target_note(in, d);
        if (!l.note)
            return false;
        add_line(in->r, in->room, &l);
    }
    return true;
}

static bool is_last_feed(const struct order_plan *plan, const struct order_step *s)
{
    for (const struct order_step *t = s + 1; t < plan->steps + plan->n_steps; t++)
        if (t->tank == s->tank && t->action == ORDER_FEED)
            return false;
    return true;
}

/*
 * "switch at north 1; one pump with north 1, north 3": where to go, if not to the tank, and the other tanks that stop.
 */
static const char *shared_flow(struct writing *in, size_t tank, size_t at)
{
    const struct facility *f = in->w->f;
    struct tank_list list = {.names = ""};
    for (size_t i = 0; list.names && i < f->n_tanks; i++)
        if (i != tank && !f->tanks[i].retired && share_pump(f, i, tank))
            list_tank(in->w, &list, f->tanks[i].name);
    const char *names = list_words(in->w, &list);
    if (!names || !*names)
        return names;
    const char *where = at != tank ? arena_format(in->w->a, "switch at %s; ", f->tanks[at].name) : "";
    return where ? arena_format(in->w->a, "%sone pump with %s", where, names) : NULL;
}

/*
 * One pump may stop several tanks: its flow goes off on the sheet where the first of them is fed, on where the last is.
 */
static size_t flow_tank(const struct writing *in, const struct order_step *flow)
{
    const struct order_plan *plan = &in->w->order;
    const struct order_tank *tanks = in->w->order_problem.tanks;
    size_t tank = flow->tank;
    if (tanks[tank].pump < 0)
        return tank;
    bool found = false;
    size_t pump = (size_t)tanks[tank].pump;
    for (size_t i = in->feeds.first[pump]; i < in->feeds.first[pump + 1]; i++) {
        const struct order_step *s = &plan->steps[in->feeds.at[i]];
        if (s->pass != flow->pass)
            continue;
        if (!found || flow->action == ORDER_FLOW_ON)
            tank = s->tank;
        found = true;
    }
    return tank;
}

static bool write_flow(struct writing *in, const struct order_step *s, enum action action)
{
    struct line l = step_line(in->w, s, action);
    l.tank = in->w->order_tanks[flow_tank(in, s)];
    l.note = shared_flow(in, l.tank, in->w->order_tanks[s->tank]);
    if (l.note)
        add_line(in->r, in->room, &l);
    return l.note != NULL;
}

static bool write_step(struct writing *in, const struct order_step *s)
{
    struct working *w = in->w;
    const struct tank_need *need = &w->needs[w->order_tanks[s->tank]];
    switch (s->action) {
    case ORDER_BROADCAST: return write_broadcasts(in, s);
    case ORDER_FISH: write_food(in, step_line(w, s, ACTION_FISH), need->fish_food, need->fish_units); break;
    case ORDER_FLOW_OFF: return write_flow(in, s, ACTION_FLOW_OFF);
    case ORDER_FEED: return write_targets(in, s, is_last_feed(&w->order, s));
    case ORDER_FLOW_ON: return write_flow(in, s, ACTION_FLOW_ON);
    case ORDER_TOOLS:
    case ORDER_POT:
    case ORDER_REST: break; /* shown by the clock of the lines around them */
    }
    return true;
}

/* Where a tank's visit begins: where hands stay longest. */
struct visit_start {
    int start_min;
    size_t tank;
};

static struct visit_start visit_start_of(const struct writing *in, size_t tank)
{
    const struct order_plan *plan = &in->w->order;
    int first = INT_MAX, feed = INT_MAX;
    for (size_t i = in->visits.first[tank]; i < in->visits.first[tank + 1]; i++) {
        const struct order_step *s = &plan->steps[in->visits.at[i]];
        first = lesser(first, s->start_min);
        if (s->action == ORDER_FEED)
            feed = lesser(feed, s->start_min);
    }
    return (struct visit_start){feed != INT_MAX ? feed : first, tank};
}

static int by_start(const void *left, const void *right)
{
    const struct visit_start *a = left, *b = right;
    if (a->start_min != b->start_min)
        return a->start_min < b->start_min ? -1 : 1;
    return (a->tank > b->tank) - (a->tank < b->tank);
}

static size_t sheet_tank(const struct writing *in, const struct order_step *s)
{
    return s->action == ORDER_FLOW_OFF || s->action == ORDER_FLOW_ON ? flow_tank(in, s) : s->tank;
}

static bool write_blocks(struct writing *in)
{
    const struct order_plan *plan = &in->w->order;
    size_t n = in->w->order_problem.n_tanks;
    struct visit_start *starts = arena_alloc(in->w->a, n, sizeof *starts);
    if (!starts)
        return false;
    for (size_t t = 0; t < n; t++)
        starts[t] = visit_start_of(in, t);
    if (n > 0)
        qsort(starts, n, sizeof *starts, by_start);
    for (size_t k = 0; k < n; k++)
        for (size_t i = in->steps.first[starts[k].tank]; i < in->steps.first[starts[k].tank + 1]; i++)
            if (!write_step(in, &plan->steps[in->steps.at[i]]))
                return false;
    return true;
}

/* A line as it was written down: by tank and time, which a pass needs to know what the one before it left. */
static int by_work(const void *left, const void *right)
{
    const struct line *a = left, *b = right;
    if (a->feeder != b->feeder)
        return a->feeder < b->feeder ? -1 : 1;
    if (a->start_min != b->start_min)
        return a->start_min < b->start_min ? -1 : 1;
    if (a->end_min != b->end_min)
        return a->end_min < b->end_min ? -1 : 1;
    return (a->number > b->number) - (a->number < b->number);
}

/* Numbered as they are worked through: each feeder's list, by the clock. */
static void number_lines(struct round *r)
{
    qsort(r->lines, r->n_lines, sizeof *r->lines, by_work);
    for (size_t i = 0; i < r->n_lines; i++)
        r->lines[i].number = (long)i + 1;
}

static bool group_steps(struct writing *in)
{
    const struct working *w = in->w;
    const struct order_plan *plan = &w->order;
    const struct order_problem *p = &w->order_problem;
    size_t *group = arena_alloc(w->a, plan->n_steps, sizeof *group);
    for (size_t i = 0; group && i < plan->n_steps; i++) {
        const struct order_step *s = &plan->steps[i];
        bool stops = s->action == ORDER_FEED && p->tanks[s->tank].pump >= 0;
        group[i] = stops ? (size_t)p->tanks[s->tank].pump : SIZE_MAX;
    }
    if (!group || !group_by(w->a, group, plan->n_steps, w->f->n_tanks, &in->feeds))
        return false;
    for (size_t i = 0; i < plan->n_steps; i++)
        group[i] = plan->steps[i].tank;
    if (!group_by(w->a, group, plan->n_steps, p->n_tanks, &in->visits))
        return false;
    for (size_t i = 0; i < plan->n_steps; i++)
        group[i] = sheet_tank(in, &plan->steps[i]);
    return group_by(w->a, group, plan->n_steps, p->n_tanks, &in->steps);
}

static bool writing_begin(struct writing *in, struct err *e)
{
    struct working *w = in->w;
    in->left = arena_alloc(w->a, w->n_dues, sizeof *in->left);
    /* every step one line, every broadcast and fish feed one per lot, every due one per pass it is split over */
    in->room = w->order.n_steps * (w->n_dues > 0 ? 2 : 1) + w->n_dues +
               (w->recipe.n_broadcasts + w->f->n_tanks) * (w->f->n_lots + 1);
    in->r->lines = arena_alloc(w->a, in->room, sizeof *in->r->lines);
    if (!in->left || !in->r->lines || !group_steps(in))
        return err_memory(e);
    for (size_t i = 0; i < w->n_dues; i++)
        in->left[i] = w->f->colonies[w->dues[i].colony].count;
    return true;
}

static int by_colony(const void *left, const void *right)
{
    const struct waiting *a = left, *b = right;
    return (a->colony > b->colony) - (a->colony < b->colony);
}

static void put_waitings(struct working *w, struct round *r)
{
    qsort(w->waitings, w->n_waitings, sizeof *w->waitings, by_colony);
    r->waitings = w->waitings;
    r->n_waitings = w->n_waitings;
}

bool working_rows(struct working *w, struct round *r, struct err *e)
{
    struct writing in = {.w = w, .r = r};
    r->n_pots = r->n_pot_foods = r->n_lines = 0; /* those of an order before */
    if (!add_pots(w, r, e) || !writing_begin(&in, e))
        return false;
    if (!write_blocks(&in))
        return err_memory(e);
    number_lines(r);
    put_waitings(w, r);
    return true;
}

/* ---- the rows of a round that is kept ---------------------------------------------------------------------------- */

/* All of a food that the working gives a tank by an action. */
static double food_given(const struct working *w, const struct line *l)
{
    double units = 0;
    if (l->action == ACTION_FISH)
        return w->needs[l->tank].fish_food == l->food ? w->needs[l->tank].fish_units : 0;
    for (size_t i = 0; i < w->recipe.n_broadcasts; i++)
        if (w->recipe.broadcasts[i].tank == l->tank && w->recipe.broadcasts[i].food == l->food)
            units += w->recipe.broadcasts[i].amount;
    return units;
}

/* A food's lines before this one take their lots first; the last one takes the rest. */
static double food_left(const struct working *w, const struct round *r, size_t index, bool *last)
{
    const struct line *l = &r->lines[index];
    double units = food_given(w, l);
    *last = true;
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *o = &r->lines[i];
        if (i == index || o->action != l->action || o->tank != l->tank || o->food != l->food)
            continue;
        if (i < index)
            units = shelf_rest(units, o->amount);
        else
            *last = false;
    }
    return units;
}

static double target_given(const struct working *w, struct line *l)
{
    for (size_t i = 0; i < w->n_dues; i++)
        if (w->dues[i].colony == l->colony) {
            l->mouths = w->dues[i].mouths;
            return number_without_dust(w->dues[i].need_ml * (double)l->count / (double)w->f->colonies[l->colony].count);
        }
    return 0;
}

bool working_rows_kept(struct working *w, const struct round *kept, struct round *r, struct err *e)
{
    if (!add_pots(w, r, e))
        return false;
    r->lines = arena_alloc(w->a, kept->n_lines, sizeof *r->lines);
    if (!r->lines)
        return err_memory(e);
    r->n_lines = kept->n_lines;
    if (kept->n_lines > 0)
        memcpy(r->lines, kept->lines, kept->n_lines * sizeof *r->lines);
    for (size_t i = 0; i < r->n_lines; i++) {
        struct line *l = &r->lines[i];
        bool last;
        if (l->action == ACTION_TARGET) {
            l->amount = target_given(w, l);
        } else if (l->food != REF_NONE) {
            double left = food_left(w, r, i, &last);
            l->amount = last ? left : fmin(left, l->amount);
        }
    }
    put_waitings(w, r);
    return true;
}
