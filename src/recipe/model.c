/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A grouping of pots written as rows and columns. */
#include "recipe/model.h"

/* ---- what several files ask ------------------------------------------------------------------------------------- */

double model_lean(const struct recipe_system *s)
{
    return s->po4_starved ? fmin(fmax(s->lean_frac, 1), s->full_frac) : s->lean_frac;
}

double model_amount(const double *x, size_t col)
{
    return col != RECIPE_NONE && x[col] > MODEL_DUST ? x[col] : 0;
}

double model_due(const struct recipe_tank *t, bool late)
{
    return late ? t->late_slurry_ml : t->slurry_ml;
}

double model_part(const struct recipe_problem *p, const size_t *systems, size_t n_systems, bool late, double slurry_ml,
                  size_t tank)
{
    for (size_t i = 0; i < n_systems; i++)
        if (systems[i] == p->tanks[tank].system)
            return model_due(&p->tanks[tank], late) / slurry_ml;
    return 0;
}

double model_reach(const struct recipe_problem *p, const size_t *systems, size_t n_systems, bool late, double slurry_ml,
                   size_t tank)
{
    const struct recipe_tank *t = &p->tanks[tank];
    double due_ml = model_due(t, late), rest_ml = late ? t->late_rest_ml : t->rest_ml;
    double part = model_part(p, systems, n_systems, late, slurry_ml, tank);
    return due_ml > 0 ? part * (1 - rest_ml / due_ml) : 0;
}

double model_counted(const struct recipe_tank *t, bool late)
{
    return late ? t->late_counted_frac : t->counted_frac;
}

double model_counted_part(const struct recipe_problem *p, const size_t *systems, size_t n_systems, bool late,
                          double slurry_ml, size_t system)
{
    double part = 0;
    for (size_t t = 0; t < p->n_tanks; t++)
        if (p->tanks[t].system == system)
            part += model_part(p, systems, n_systems, late, slurry_ml, t) * model_counted(&p->tanks[t], late);
    return part;
}

double model_ceiling(const struct recipe_problem *p, size_t system, size_t food)
{
    return p->foods[food].ceiling_per_100l * p->systems[system].volume_l / 100;
}

double model_broadcast_house(const struct recipe_problem *p, size_t tank, size_t food)
{
    const struct recipe_tank *t = &p->tanks[tank];
    return p->foods[food].broadcast_ml_per_100l * t->net_volume_l / 100 * t->broadcast_frac;
}

double model_house(const struct recipe_food *f, const struct model_pot *pot)
{
    if (f->liquid)
        return f->house_ml_per_100ml * pot->slurry_ml / 100;
    return pot->house_share_sum > 0
               ? f->house_share_frac / pot->house_share_sum * pot->house_units / f->solids_g_per_unit
               : 0;
}

/* ---- pots ------------------------------------------------------------------------------------------------------- */

static bool may_go_in(const struct recipe_problem *p, const struct model_pot *pot, size_t food)
{
    const struct recipe_food *f = &p->foods[food];
    if (f->late != pot->late || f->stock <= 0)
        return false;
    for (size_t i = 0; i < pot->n_systems; i++) {
        size_t s = pot->systems[i];
        if (p->may_eat && !p->may_eat[s * p->n_foods + food])
            return false;
        if (f->strips && p->systems[s].po4_starved)
            return false;
    }
    return true;
}

static double due_to_system(const struct recipe_problem *p, size_t system, bool late)
{
    double ml = 0;
    for (size_t t = 0; t < p->n_tanks; t++)
        if (p->tanks[t].system == system)
            ml += model_due(&p->tanks[t], late);
    return ml;
}

static void pot_measure(const struct recipe_problem *p, struct model_pot *pot)
{
    size_t n_solids = 0, n_liquids = 0;
    for (size_t f = 0; f < p->n_foods; f++) {
        if (!may_go_in(p, pot, f))
            continue;
        if (p->foods[f].liquid) {
            n_liquids++;
            pot->house_ml_sum += p->foods[f].house_ml_per_100ml;
        } else {
            n_solids++;
            pot->house_share_sum += p->foods[f].house_share_frac;
        }
    }
    pot->slurry_ml = vessel_fill_ml(&p->jug, pot->fed_ml);
    pot->solids = n_solids > 0;
    pot->house_units = (pot->solids ? p->house_g_per_100ml : pot->house_ml_sum) * pot->slurry_ml / 100;
}

/* Adds the group's pot of one lateness, if anything is due from it. */
static bool pot_add(struct model *m, const size_t *group, size_t g, bool late)
{
    const struct recipe_problem *p = m->p;
    struct model_pot *pot = &m->pots[m->n_pots];
    *pot = (struct model_pot){.late = late, .full_frac = INFINITY, .strength_col = RECIPE_NONE};
    if (!(pot->systems = arena_alloc(&m->arena, p->n_systems, sizeof *pot->systems)) ||
        !(pot->food_col = arena_alloc(&m->arena, p->n_foods, sizeof *pot->food_col)))
        return false;
    for (size_t s = 0; s < p->n_systems; s++) {
        double due_ml = group[s] == g ? due_to_system(p, s, late) : 0;
        if (due_ml <= 0)
            continue;
        pot->systems[pot->n_systems++] = s;
        pot->fed_ml += due_ml;
        pot->lean_frac = fmax(pot->lean_frac, model_lean(&p->systems[s]));
        pot->full_frac = fmin(pot->full_frac, p->systems[s].full_frac);
    }
    if (pot->n_systems == 0)
        return true;
    pot->lean_frac = fmin(pot->lean_frac, pot->full_frac);
    pot_measure(p, pot);
    m->n_pots++;
    return true;
}

static bool pots_make(struct model *m, const size_t *group)
{
    const struct recipe_problem *p = m->p;
    double fed_ml = 0;
    if (!(m->pots = arena_alloc(&m->arena, 2 * p->n_systems, sizeof *m->pots)))
        return false;
    for (size_t s = 0; s < p->n_systems; s++) {
        bool first = group[s] != RECIPE_NONE;
        for (size_t before = 0; before < s; before++)
            first = first && group[before] != group[s];
        if (first && (!pot_add(m, group, group[s], false) || !pot_add(m, group, group[s], true)))
            return false;
    }
    for (size_t i = 0; i < m->n_pots; i++)
        fed_ml += m->pots[i].fed_ml;
    for (size_t i = 0; i < m->n_pots; i++)
        m->pots[i].weight = m->pots[i].fed_ml / fed_ml;
    return true;
}

/* The largest share of a pot's dry mass: as entered, or from the house's share of what may go in. */
double model_share_max(const struct model_pot *pot, const struct recipe_food *f)
{
    if (!isnan(f->share_max_frac))
        return f->share_max_frac;
    double house = pot->house_share_sum > 0 ? f->house_share_frac / pot->house_share_sum : 1;
    return fmin(1, fmax(f->share_min_frac, house + RECIPE_SHARE_MARGIN));
}

/* ---- rows and columns ------------------------------------------------------------------------------------------- */

static const struct recipe_limit about_nothing = {
    .pot = RECIPE_NONE, .tank = RECIPE_NONE, .food = RECIPE_NONE, .system = RECIPE_NONE};

/* Notes what the row added last is about, for the list of limits. */
static void row_about(struct model *m, size_t row, struct recipe_limit limit)
{
    struct model_about *moved = mem_grow(m->about, &m->about_room, m->lp.n_rows, sizeof *moved);
    if (moved)
        m->about = moved;
    if (!moved || m->lp.failed) {
        m->lp.failed = true;
        return;
    }
    while (m->n_about < row)
        m->about[m->n_about++] = (struct model_about){0};
    m->about[m->n_about++] = (struct model_about){true, limit};
}

static bool wanted(const struct model *m, enum recipe_stage stage)
{
    return (size_t)stage < m->n_stages;
}

static void cost(struct model *m, enum recipe_stage stage, size_t col, double value)
{
    if (wanted(m, stage))
        lp_add_cost(&m->lp, stage, col, value);
}

/* Columns first: x (food in a pot), s (strength of a pot), b (broadcast). */
static void add_pot_columns(struct model *m, size_t i)
{
    const struct recipe_problem *p = m->p;
    struct model_pot *pot = &m->pots[i];
    for (size_t f = 0; f < p->n_foods; f++) {
        const struct recipe_food *food = &p->foods[f];
        pot->food_col[f] = RECIPE_NONE;
        if (pot->house_units <= 0 || !may_go_in(p, pot, f))
            continue;
        double most = food->liquid ? food->max_ml_per_100ml * pot->slurry_ml / 100 : INFINITY;
        pot->food_col[f] = lp_add_col(&m->lp, 0, most, "x_%zu_%zu", i, f);
    }
    if (pot->house_units > 0)
        pot->strength_col = lp_add_col(&m->lp, 0, INFINITY, "s_%zu", i);
}

static bool is_broadcast(const struct recipe_problem *p, size_t tank, size_t food)
{
    const struct recipe_food *f = &p->foods[food];
    return p->tanks[tank].broadcast_frac > 0 && f->broadcast_ml_per_100l > 0 && f->stock > 0 &&
           !(f->strips && p->systems[p->tanks[tank].system].po4_starved);
}

static void add_broadcast_columns(struct model *m)
{
    const struct recipe_problem *p = m->p;
    for (size_t t = 0; t < p->n_tanks; t++)
        for (size_t f = 0; f < p->n_foods; f++)
            m->broadcast_col[t * p->n_foods + f] =
                is_broadcast(p, t, f) ? lp_add_col(&m->lp, 0, INFINITY, "b_%zu_%zu", t, f) : RECIPE_NONE;
}

/* s is what the pot holds over what it holds at house strength. */
static void add_strength(struct model *m, size_t i)
{
    const struct model_pot *pot = &m->pots[i];
    size_t row = lp_add_row(&m->lp, 0, 0, "strength_%zu", i);
    lp_put(&m->lp, row, pot->strength_col, -pot->house_units);
    for (size_t f = 0; f < m->p->n_foods; f++)
        if (pot->food_col[f] != RECIPE_NONE)
            lp_put(&m->lp, row, pot->food_col[f], pot->solids ? m->p->foods[f].solids_g_per_unit : 1);
}

/* An amount that should reach a lean and a full level: a pot's strength, for each of its systems; a broadcast. */
struct want {
    const char *name;
    size_t col, first, second; /* for the names of rows: pot and system, or tank and food */
    double lean, full, weight;
    bool bounded; /* must not pass full: of a pot's systems one says so */
    bool shifts;  /* its blend is to be moved: what strength that may cost is weighed then, else by the house blend */
    struct recipe_limit about;
};

/*
 * What a part of the strength is worth to the house blend, in parts by which shares come nearer: more than two, so that
 * no pot is thinned merely because a thinner one is nearer in grams. Common practice, no source.
 */
static const double blend_price = 2.5;

/* amount + level × missing ≥ level; the missing part is counted in the stage by weight and in its largest. */
static size_t add_shortfall(struct model *m, const struct want *w, double level, enum recipe_stage stage,
                            size_t largest)
{
    const char *name = stage == RECIPE_LEAN ? "lean" : "full";
    size_t missing = lp_add_col(&m->lp, 0, INFINITY, "%s%s_%zu_%zu", name, w->name, w->first, w->second);
    size_t row = lp_add_row(&m->lp, 0, INFINITY, "%s%s_largest_%zu_%zu", name, w->name, w->first, w->second);
    lp_put(&m->lp, row, largest, 1);
    lp_put(&m->lp, row, missing, -1);
    row = lp_add_row(&m->lp, level, INFINITY, "%s%s_%zu_%zu", name, w->name, w->first, w->second);
    lp_put(&m->lp, row, w->col, 1);
    lp_put(&m->lp, row, missing, level);
    cost(m, stage, missing, w->weight);
    if (stage == RECIPE_FULL && w->shifts)
        cost(m, RECIPE_SHIFT, missing, blend_price * w->weight);
    if (stage == RECIPE_FULL)
        cost(m, RECIPE_HOUSE, missing, blend_price * w->weight);
    return row;
}

static void want_about(struct model *m, const struct want *w, size_t row, enum recipe_limit_kind kind, double limit)
{
    struct recipe_limit about = w->about;
    about.kind = kind;
    about.limit = limit;
    row_about(m, row, about);
}

static void add_want(struct model *m, const struct want *w, size_t lean_largest, size_t full_largest)
{
    size_t row = RECIPE_NONE, lean = RECIPE_NONE;
    if (w->lean > 0)
        lean = add_shortfall(m, w, w->lean, RECIPE_LEAN, lean_largest);
    bool is_full = w->bounded && w->lean >= w->full; /* then it is told as the full one */
    if (lean != RECIPE_NONE && !is_full)
        want_about(m, w, lean, RECIPE_STRENGTH_LEAN, w->lean);
    if (w->full > 0 && wanted(m, RECIPE_FULL))
        row = add_shortfall(m, w, w->full, RECIPE_FULL, full_largest);
    if (!w->bounded)
        return;
    if (wanted(m, RECIPE_FULL))
        lp_add_room(&m->lp, RECIPE_FULL, w->col, w->about.pot != RECIPE_NONE ? RECIPE_BLEND_FRAC * w->full : 0);
    if (row == RECIPE_NONE) {
        row = lp_add_row(&m->lp, -INFINITY, w->full, "full%s_%zu_%zu", w->name, w->first, w->second);
        lp_put(&m->lp, row, w->col, 1);
    } else if (!m->lp.failed) {
        m->lp.rows[row].high = w->full; /* an equation: what is missing is ≥ 0, so that full is not passed */
    }
    want_about(m, w, row, RECIPE_STRENGTH_FULL, w->full);
}

/*
 * The largest part by which the states move a pot's blend; what goes into a late pot is chosen for its mouths, not for
 * the water.
 */
static double largest_shift(const struct model *m, const struct model_pot *pot)
{
    double most = 0;
    for (size_t k = 0; !pot->late && k < pot->n_systems; k++)
        for (int a = 0; a < RECIPE_ANALYTES; a++)
            most = fmax(most, fabs(m->p->systems[pot->systems[k]].shift_frac[a]));
    return most;
}

static void add_pot_wants(struct model *m, size_t i, size_t lean_largest, size_t full_largest)
{
    const struct model_pot *pot = &m->pots[i];
    bool bounded = false;
    for (size_t k = 0; k < pot->n_systems; k++) {
        size_t s = pot->systems[k];
        const struct recipe_system *sys = &m->p->systems[s];
        double weight = pot->weight * due_to_system(m->p, s, pot->late) / pot->fed_ml;
        struct want w = {"",
                         pot->strength_col,
                         i,
                         s,
                         model_lean(sys),
                         sys->full_frac,
                         weight,
                         false,
                         largest_shift(m, pot) > 0,
                         about_nothing};
        w.about.pot = i;
        w.about.system = s;
        w.bounded = !bounded && sys->full_frac <= pot->full_frac;
        bounded |= w.bounded;
        add_want(m, &w, lean_largest, full_largest);
    }
}

static void add_broadcast_wants(struct model *m, size_t lean_largest, size_t full_largest)
{
    const struct recipe_problem *p = m->p;
    size_t n_broadcasts = 0, n = p->n_tanks * p->n_foods;
    for (size_t i = 0; i < n; i++)
        n_broadcasts += m->broadcast_col[i] != RECIPE_NONE;
    for (size_t i = 0; i < n; i++) {
        if (m->broadcast_col[i] == RECIPE_NONE)
            continue;
        size_t t = i / p->n_foods, f = i % p->n_foods;
        const struct recipe_system *sys = &p->systems[p->tanks[t].system];
        double house_ml = model_broadcast_house(p, t, f);
        struct want w = {"b",
                         m->broadcast_col[i],
                         t,
                         f,
                         model_lean(sys) * house_ml,
                         sys->full_frac * house_ml,
                         1.0 / (double)n_broadcasts,
                         true,
                         false,
                         about_nothing};
        w.about.tank = t;
        w.about.food = f;
        add_want(m, &w, lean_largest, full_largest);
    }
}

static void add_wants(struct model *m)
{
    size_t lean = lp_add_col(&m->lp, 0, INFINITY, "lean_largest");
    size_t full = lp_add_col(&m->lp, 0, INFINITY, "full_largest");
    cost(m, RECIPE_LEAN, lean, 1);
    cost(m, RECIPE_FULL, full, 1);
    for (size_t i = 0; i < m->n_pots; i++)
        if (m->pots[i].strength_col != RECIPE_NONE)
            add_pot_wants(m, i, lean, full);
    add_broadcast_wants(m, lean, full);
}

/* One elastic share limit: x − limit × strength, helped by a column that SHARE counts. sign +1: least, −1: most. */
static void add_share_limit(struct model *m, size_t i, size_t f, double limit, double sign)
{
    const struct model_pot *pot = &m->pots[i];
    const struct recipe_food *food = &m->p->foods[f];
    const char *name = sign > 0 ? "least" : "mostshare";
    double unit = food->liquid ? pot->slurry_ml / 100 : pot->house_units;
    double fixed = food->liquid ? limit * unit : 0;
    size_t passed = lp_add_col(&m->lp, 0, INFINITY, "%s_%zu_%zu", name, i, f);
    double low = sign > 0 ? fixed : -INFINITY, high = sign > 0 ? INFINITY : fixed;
    size_t row = lp_add_row(&m->lp, low, high, "%s_%zu_%zu", name, i, f);
    lp_put(&m->lp, row, pot->food_col[f], food->liquid ? 1 : food->solids_g_per_unit);
    if (!food->liquid)
        lp_put(&m->lp, row, pot->strength_col, -limit * unit);
    lp_put(&m->lp, row, passed, sign * unit);
    cost(m, RECIPE_SHARE, passed, pot->weight);
    struct recipe_limit about = about_nothing;
    about.kind = sign > 0 ? RECIPE_SHARE_MIN : RECIPE_SHARE_MAX;
    about.pot = i;
    about.food = f;
    about.limit = limit;
    row_about(m, row, about);
}

static void add_shares(struct model *m, size_t i)
{
    for (size_t f = 0; f < m->p->n_foods; f++) {
        const struct recipe_food *food = &m->p->foods[f];
        if (m->pots[i].food_col[f] == RECIPE_NONE)
            continue;
        double least = food->liquid ? food->min_ml_per_100ml : food->share_min_frac;
        if (least > 0)
            add_share_limit(m, i, f, least, +1);
        double most = model_share_max(&m->pots[i], food);
        if (!food->liquid && most < 1)
            add_share_limit(m, i, f, most, -1);
    }
}

/*
 * What the foods in a pot bring, beside what the house blend of its strength would: less, or more, by the wanted part.
 */
static void add_shift(struct model *m, size_t i, size_t system, enum recipe_analyte a)
{
    const struct recipe_problem *p = m->p;
    const struct model_pot *pot = &m->pots[i];
    double shift_frac = p->systems[system].shift_frac[a], house_mg = 0, moved_mg = 0;
    if (shift_frac == 0)
        return;
    for (size_t f = 0; f < p->n_foods; f++) {
        double mg = pot->food_col[f] != RECIPE_NONE ? model_house(&p->foods[f], pot) * p->foods[f].effect_mg[a] : 0;
        house_mg += mg;
        moved_mg += fabs(mg);
    }
    if (moved_mg <= 0)
        return;
    bool richer = shift_frac > 0;
    const char *name = richer ? "richer" : "poorer";
    size_t missing = lp_add_col(&m->lp, 0, INFINITY, "%s_%zu_%zu_%d", name, i, system, (int)a);
    size_t row =
        lp_add_row(&m->lp, richer ? 0 : -INFINITY, richer ? INFINITY : 0, "%s_%zu_%zu_%d", name, i, system, (int)a);
    for (size_t f = 0; f < p->n_foods; f++)
        if (pot->food_col[f] != RECIPE_NONE)
            lp_put(&m->lp, row, pot->food_col[f], p->foods[f].effect_mg[a]);
    lp_put(&m->lp, row, pot->strength_col, -(house_mg + shift_frac * moved_mg));
    lp_put(&m->lp, row, missing, richer ? moved_mg : -moved_mg);
    cost(m, RECIPE_SHIFT, missing, pot->weight * due_to_system(p, system, pot->late) / pot->fed_ml);
    struct recipe_limit about = about_nothing;
    about.kind = richer ? RECIPE_RICHER : RECIPE_POORER;
    about.pot = i;
    about.system = system;
    about.analyte = a;
    about.limit = shift_frac;
    row_about(m, row, about);
}

/*
 * |x − house part of the strength|, as far as it is more than within of that part, in a column that a stage counts.
 */
static void add_distance(struct model *m, size_t i, size_t f, double within, enum recipe_stage stage, double weight)
{
    static const char *const names[][3] = {{"off", "high", "low"}, {"far", "over", "under"}};
    const char *const *name = names[stage == RECIPE_SHIFT];
    const struct model_pot *pot = &m->pots[i];
    const struct recipe_food *food = &m->p->foods[f];
    double unit =
        food->liquid ? pot->slurry_ml / 100 * (pot->house_ml_sum > 0 ? pot->house_ml_sum : 1) : pot->house_units;
    double target = model_house(food, pot) * (food->liquid ? 1 : food->solids_g_per_unit);
    size_t off = lp_add_col(&m->lp, 0, INFINITY, "%s_%zu_%zu", name[0], i, f);
    for (int side = 0; side < 2; side++) {
        size_t row = side ? lp_add_row(&m->lp, 0, INFINITY, "%s_%zu_%zu", name[2], i, f)
                          : lp_add_row(&m->lp, -INFINITY, 0, "%s_%zu_%zu", name[1], i, f);
        lp_put(&m->lp, row, pot->food_col[f], food->liquid ? 1 : food->solids_g_per_unit);
        lp_put(&m->lp, row, pot->strength_col, -target * (side ? fmax(0, 1 - within) : 1 + within));
        lp_put(&m->lp, row, off, side ? unit : -unit);
    }
    cost(m, stage, off, pot->weight * weight);
}

static bool has_house(const struct model *m, const struct model_pot *pot, size_t f)
{
    return pot->food_col[f] != RECIPE_NONE && (m->p->foods[f].liquid || pot->house_share_sum > 0);
}

/*
 * The shifts that the systems of a pot want; no food is moved for them by more than twice the largest, as a part of its
 * own.
 */
static void add_shifts(struct model *m, size_t i)
{
    enum { FAR_WEIGHT = 10 }; /* a share moved too far costs more than any shift is worth */
    const struct model_pot *pot = &m->pots[i];
    double most = wanted(m, RECIPE_SHIFT) ? largest_shift(m, pot) : 0;
    for (size_t k = 0; most > 0 && k < pot->n_systems; k++)
        for (int a = 0; a < RECIPE_ANALYTES; a++)
            add_shift(m, i, pot->systems[k], (enum recipe_analyte)a);
    for (size_t f = 0; most > 0 && f < m->p->n_foods; f++)
        if (has_house(m, pot, f))
            add_distance(m, i, f, 2 * most, RECIPE_SHIFT, FAR_WEIGHT);
}

static void add_blend(struct model *m, size_t i)
{
    const struct model_pot *pot = &m->pots[i];
    for (size_t f = 0; wanted(m, RECIPE_HOUSE) && f < m->p->n_foods; f++)
        if (has_house(m, pot, f))
            add_distance(m, i, f, 0, RECIPE_HOUSE, 1);
}

static void add_water(struct model *m, size_t i)
{
    const struct model_pot *pot = &m->pots[i];
    size_t row = lp_add_row(&m->lp, -INFINITY, pot->slurry_ml, "water_%zu", i);
    for (size_t f = 0; f < m->p->n_foods; f++)
        if (pot->food_col[f] != RECIPE_NONE && m->p->foods[f].liquid)
            lp_put(&m->lp, row, pot->food_col[f], 1);
    struct recipe_limit about = about_nothing;
    about.kind = RECIPE_WATER;
    about.pot = i;
    about.limit = pot->slurry_ml;
    row_about(m, row, about);
}

static void add_stock(struct model *m, size_t f)
{
    const struct recipe_problem *p = m->p;
    if (isinf(p->foods[f].stock))
        return;
    size_t row = lp_add_row(&m->lp, -INFINITY, p->foods[f].stock, "stock_%zu", f);
    for (size_t i = 0; i < m->n_pots; i++)
        if (m->pots[i].food_col[f] != RECIPE_NONE)
            lp_put(&m->lp, row, m->pots[i].food_col[f], 1);
    for (size_t t = 0; t < p->n_tanks; t++)
        if (m->broadcast_col[t * p->n_foods + f] != RECIPE_NONE)
            lp_put(&m->lp, row, m->broadcast_col[t * p->n_foods + f], 1);
    struct recipe_limit about = about_nothing;
    about.kind = RECIPE_STOCK;
    about.food = f;
    about.limit = p->foods[f].stock;
    row_about(m, row, about);
}

static void add_ceiling(struct model *m, size_t s)
{
    const struct recipe_problem *p = m->p;
    double left = fmax(0, 1 - p->systems[s].load_frac), *part = arena_alloc(&m->arena, m->n_pots, sizeof *part);
    if (!part) {
        m->lp.failed = true;
        return;
    }
    for (size_t i = 0; i < m->n_pots; i++) {
        const struct model_pot *pot = &m->pots[i];
        part[i] = model_counted_part(p, pot->systems, pot->n_systems, pot->late, pot->slurry_ml, s);
    }
    size_t row = lp_add_row(&m->lp, -INFINITY, left, "ceiling_%zu", s);
    for (size_t f = 0; f < p->n_foods; f++) {
        double per_unit = 1 / model_ceiling(p, s, f);
        for (size_t i = 0; i < m->n_pots; i++)
            if (m->pots[i].food_col[f] != RECIPE_NONE)
                lp_put(&m->lp, row, m->pots[i].food_col[f], part[i] * per_unit);
        for (size_t t = 0; t < p->n_tanks; t++)
            if (p->tanks[t].system == s && m->broadcast_col[t * p->n_foods + f] != RECIPE_NONE)
                lp_put(&m->lp, row, m->broadcast_col[t * p->n_foods + f], per_unit);
    }
    struct recipe_limit about = about_nothing;
    about.kind = RECIPE_CEILING;
    about.system = s;
    about.limit = left;
    row_about(m, row, about);
}

/* The effect of the round on one analyte of one system, each food counted with effect[food]. */
static void put_effect(struct model *m, size_t row, size_t system, enum recipe_analyte a, const double *effect)
{
    const struct recipe_problem *p = m->p;
    for (size_t i = 0; i < m->n_pots; i++) {
        const struct model_pot *pot = &m->pots[i];
        double part = 0;
        for (size_t t = 0; t < p->n_tanks; t++)
            if (p->tanks[t].system == system)
                part += model_reach(p, pot->systems, pot->n_systems, pot->late, pot->slurry_ml, t);
        for (size_t f = 0; f < p->n_foods; f++)
            if (m->pots[i].food_col[f] != RECIPE_NONE)
                lp_put(&m->lp, row, m->pots[i].food_col[f], part * effect[f]);
    }
    for (size_t t = 0; t < p->n_tanks; t++)
        for (size_t f = 0; p->tanks[t].system == system && f < p->n_foods; f++)
            if (m->broadcast_col[t * p->n_foods + f] != RECIPE_NONE)
                lp_put(&m->lp, row, m->broadcast_col[t * p->n_foods + f],
                       effect[f] * (1 + p->foods[f].broadcast_more[a]));
}

/* One soft limit of a system's balance, with a column for what passes it, in bands; low, high: unfavourable effects. */
static void add_room(struct model *m, struct recipe_limit about, const double *low, const double *high)
{
    static const char *const names[] = {
        [RECIPE_ROOM_LOW] = "roomlow", [RECIPE_ROOM_HIGH] = "roomhigh", [RECIPE_FALL] = "fall", [RECIPE_RISE] = "rise"};
    bool least = about.kind == RECIPE_ROOM_LOW || about.kind == RECIPE_FALL;
    if (isinf(about.limit))
        return;
    const struct recipe_system *sys = &m->p->systems[about.system];
    double band_mg = sys->band_mg[about.analyte];
    double rest = about.limit - (least ? sys->beside_low_mg : sys->beside_high_mg)[about.analyte];
    size_t passed = lp_add_col(&m->lp, 0, INFINITY, "%s_%zu_%d", names[about.kind], about.system, (int)about.analyte);
    size_t row = lp_add_row(&m->lp, least ? rest : -INFINITY, least ? INFINITY : rest, "%s_%zu_%d", names[about.kind],
                            about.system, (int)about.analyte);
    put_effect(m, row, about.system, about.analyte, least ? low : high);
    lp_put(&m->lp, row, passed, least ? band_mg : -band_mg);
    cost(m, about.kind == RECIPE_FALL || about.kind == RECIPE_RISE ? RECIPE_SWING : RECIPE_BAND, passed, 1);
    row_about(m, row, about);
}

/* Starved water is given all it may have of what it lacks, each food by the least that is known of it. */
static void add_lack(struct model *m)
{
    const struct recipe_problem *p = m->p;
    if (!wanted(m, RECIPE_LACK))
        return;
    for (size_t i = 0; i < m->n_pots; i++)
        for (size_t f = 0; f < p->n_foods; f++) {
            const struct model_pot *pot = &m->pots[i];
            double bands = 0;
            if (pot->food_col[f] == RECIPE_NONE)
                continue;
            for (size_t t = 0; t < p->n_tanks; t++) {
                const struct recipe_system *s = &p->systems[p->tanks[t].system];
                if (s->shift_frac[RECIPE_PO4] >= 1)
                    bands += model_reach(p, pot->systems, pot->n_systems, pot->late, pot->slurry_ml, t) *
                             p->foods[f].effect_low_mg[RECIPE_PO4] / s->band_mg[RECIPE_PO4];
            }
            cost(m, RECIPE_LACK, pot->food_col[f], -bands);
        }
    for (size_t i = 0; i < p->n_tanks * p->n_foods; i++) {
        const struct recipe_system *s = &p->systems[p->tanks[i / p->n_foods].system];
        if (m->broadcast_col[i] != RECIPE_NONE && s->shift_frac[RECIPE_PO4] >= 1)
            cost(m, RECIPE_LACK, m->broadcast_col[i],
                 -(1 + p->foods[i % p->n_foods].broadcast_more[RECIPE_PO4]) *
                     p->foods[i % p->n_foods].effect_low_mg[RECIPE_PO4] / s->band_mg[RECIPE_PO4]);
    }
}

static bool add_rooms(struct model *m)
{
    const struct recipe_problem *p = m->p;
    double *low = arena_alloc(&m->arena, p->n_foods, sizeof *low);
    double *high = arena_alloc(&m->arena, p->n_foods, sizeof *high);
    if (!low || !high)
        return false;
    for (int a = 0; a < RECIPE_ANALYTES; a++) {
        for (size_t f = 0; f < p->n_foods; f++) {
            low[f] = p->foods[f].effect_low_mg[a];
            high[f] = p->foods[f].effect_high_mg[a];
        }
        for (size_t s = 0; s < p->n_systems; s++) {
            const struct recipe_system *sys = &p->systems[s];
            const double limits[] = {[0] = sys->low_room_mg[a], /* and so on from RECIPE_ROOM_LOW */
                                     [RECIPE_ROOM_HIGH - RECIPE_ROOM_LOW] = sys->high_room_mg[a],
                                     [RECIPE_FALL - RECIPE_ROOM_LOW] = -sys->max_fall_mg[a],
                                     [RECIPE_RISE - RECIPE_ROOM_LOW] = sys->max_rise_mg[a]};
            for (size_t k = 0; k < COUNT_OF(limits); k++) {
                struct recipe_limit about = about_nothing;
                about.kind = (enum recipe_limit_kind)(RECIPE_ROOM_LOW + k);
                about.system = s;
                about.analyte = (enum recipe_analyte)a;
                about.limit = limits[k];
                add_room(m, about, low, high);
            }
        }
    }
    return true;
}

static void price_amount(struct model *m, size_t col, double price_cents, size_t *nth)
{
    double whole;
    cost(m, RECIPE_COST, col, price_cents);
    /* Fractional parts of multiples of the golden ratio: spread evenly, no two alike, no small sums alike. */
    cost(m, RECIPE_UNIQUE, col, 1 + modf((double)++*nth * 0.6180339887498949, &whole));
}

static void add_costs(struct model *m)
{
    const struct recipe_problem *p = m->p;
    size_t nth = 0;
    for (size_t i = 0; i < m->n_pots; i++)
        for (size_t f = 0; f < p->n_foods; f++)
            if (m->pots[i].food_col[f] != RECIPE_NONE)
                price_amount(m, m->pots[i].food_col[f], p->foods[f].price_cents, &nth);
    for (size_t i = 0; i < p->n_tanks * p->n_foods; i++)
        if (m->broadcast_col[i] != RECIPE_NONE)
            price_amount(m, m->broadcast_col[i], p->foods[i % p->n_foods].price_cents, &nth);
}

/* ---- the whole -------------------------------------------------------------------------------------------------- */

static bool model_fill(struct model *m, const size_t *group)
{
    const struct recipe_problem *p = m->p;
    m->broadcast_col = arena_alloc(&m->arena, p->n_tanks * p->n_foods, sizeof *m->broadcast_col);
    if (!m->broadcast_col || !pots_make(m, group))
        return false;
    for (size_t i = 0; i < m->n_pots; i++)
        add_pot_columns(m, i);
    add_broadcast_columns(m);
    add_wants(m);
    for (size_t i = 0; i < m->n_pots; i++) {
        if (m->pots[i].strength_col == RECIPE_NONE)
            continue;
        add_strength(m, i);
        add_shares(m, i);
        add_shifts(m, i);
        add_blend(m, i);
        add_water(m, i);
    }
    for (size_t f = 0; f < p->n_foods; f++)
        add_stock(m, f);
    for (size_t s = 0; s < p->n_systems; s++)
        add_ceiling(m, s);
    if (!add_rooms(m))
        return false;
    add_lack(m);
    add_costs(m);
    return !m->lp.failed;
}

bool model_build(const struct recipe_problem *p, const size_t *group, size_t n_stages, struct model *m, struct err *e)
{
    *m = (struct model){.p = p, .n_stages = n_stages};
    return model_fill(m, group) || err_memory(e);
}

void model_free(struct model *m)
{
    lp_free(&m->lp);
    free(m->about);
    arena_free(&m->arena);
    *m = (struct model){0};
}
