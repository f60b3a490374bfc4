/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pot that came out larger or smaller: the kept round's rows, put back into the recipe's numbers and rescaled. */
#include "neap/figures.h"
#include "neap/ledger.h"
#include "neap/rescale.h"
#include "neap/working.h"

void rescaled_free(struct rescaled *r)
{
    arena_free(&r->arena);
    *r = (struct rescaled){0};
}

struct rescaling {
    const struct facility *f;
    const struct round *r;
    const struct rescale_request *made;
    const struct round_log *log;
    struct arena *a;
    struct recipe_problem problem;
    struct recipe recipe;
    struct recipe_tank *tanks;
    size_t pot;                    /* index in the round */
    double *planned_ml, *given_ml; /* per tank: by its lines from this pot; what of them was brought to mouths */
};

static bool find_pot(struct rescaling *in, struct err *e)
{
    struct text known = {0};
    for (in->pot = 0; in->pot < in->r->n_pots; in->pot++)
        if (strcmp(in->r->pots[in->pot].pot, in->made->pot) == 0)
            return true;
    for (size_t i = 0; i < in->r->n_pots; i++)
        text_addf(&known, "%s%s", i > 0 ? ", " : "", in->r->pots[i].pot);
    err_set(e, ERR_NOT_FOUND, NULL, "round %ld has no pot \"%.20s\"; expected one of %s", in->r->head.number,
            in->made->pot, text_str(&known));
    text_free(&known);
    return false;
}

static const struct round_log nothing_logged;

static const struct given *find_given(const struct rescaling *in, long line)
{
    return log_find(in->log, line);
}

/* What left the pot for a line: refused food has left it, too. */
static double used_ml(const struct given *g, const struct line *l)
{
    if (g->outcome == OUTCOME_NOT_GIVEN)
        return 0;
    return isnan(g->amount) ? l->amount : g->amount;
}

static double lines_ml(const struct round *r, size_t tank, const char *pot)
{
    double ml = 0;
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].action == ACTION_TARGET && r->lines[i].tank == tank && strcmp(r->lines[i].pot, pot) == 0)
            ml += r->lines[i].amount;
    return ml;
}

/* ---- what is in a pot by the log --------------------------------------------------------------------------------- */

double pot_mixed_ml(const struct round_log *log, const struct pot *pot)
{
    const struct mixed *m = log_find_mixed(log, pot->pot);
    return m ? m->made_ml : pot->made_ml;
}

double pot_used_ml(const struct round *r, const struct round_log *log, const struct pot *pot)
{
    double ml = 0;
    for (size_t i = 0; i < log->n_givens; i++) {
        const struct line *l = round_line(r, log->givens[i].line);
        if (l && l->action == ACTION_TARGET && strcmp(l->pot, pot->pot) == 0)
            ml += used_ml(&log->givens[i], l);
    }
    return ml;
}

/* What the scale said of a row, as what came into the pot; NAN: nothing. Of a premix each pot has its part. */
static double scale_units(const struct round_log *log, const struct pot_food *pf)
{
    for (size_t i = 0; i < log->n_weighings; i++) {
        const struct weighed *w = &log->weighings[i];
        if (w->rank == pf->rank && strcmp(w->pot, pf->pot) == 0)
            return pf->premix_units > 0 ? pf->amount_units * w->amount_units / pf->premix_units : w->amount_units;
    }
    return NAN;
}

static double went_in(const struct round_log *log, const struct pot_food *pf)
{
    double scale = scale_units(log, pf);
    return isnan(scale) ? pf->amount_units : scale;
}

/* A row of a pot of which nothing was weighed is taken to be of the planned strength, whatever was mixed. */
static double mixed_units(const struct round_log *log, const struct pot *pot, const struct pot_food *pf)
{
    double scale = scale_units(log, pf);
    return isnan(scale) ? pf->amount_units * pot_mixed_ml(log, pot) / pot->made_ml : scale;
}

/* ---- the round as a recipe -------------------------------------------------------------------------------------- */

static bool put_foods(struct rescaling *in)
{
    struct recipe_food *foods = arena_alloc(in->a, in->f->n_foods, sizeof *foods);
    for (size_t i = 0; foods && i < in->f->n_foods; i++)
        foods[i] = (struct recipe_food){
            .name = in->f->foods[i].name,
            .liquid = in->f->foods[i].unit == UNIT_ML,
            .solids_g_per_unit = food_solids(&in->f->foods[i]),
            .ceiling_per_100l = in->f->foods[i].ceiling_units_per_100l,
        };
    in->problem.foods = foods;
    in->problem.n_foods = in->f->n_foods;
    return foods;
}

/* What a tank is due of a pot, and which part of it counts towards the ceilings. */
static void put_slurry(const struct rescaling *in, struct recipe_tank *tank, size_t t, const struct pot *pot)
{
    const struct facility *f = in->f;
    double counted_ml = 0, slurry_ml = with_losses(&f->settings, lines_ml(in->r, t, pot->pot));
    if (slurry_ml <= 0)
        return;
    for (size_t i = 0; i < in->r->n_lines; i++) {
        const struct line *l = &in->r->lines[i];
        if (l->action == ACTION_TARGET && l->tank == t && strcmp(l->pot, pot->pot) == 0)
            counted_ml += l->amount * counted_frac(&f->settings, &f->kinds[f->colonies[l->colony].kind]);
    }
    *(pot->late ? &tank->late_slurry_ml : &tank->slurry_ml) = slurry_ml;
    *(pot->late ? &tank->late_counted_frac : &tank->counted_frac) = fmin(1, counted_ml / slurry_ml);
}

static double load_of(const struct facility *f, size_t tank, size_t food, double units)
{
    return food_load(f, f->tanks[tank].system, food, units);
}

/* Of another round of the same day. */
static bool is_beside(const struct round *r, const struct day_use *u)
{
    return u->day == r->head.day && strcmp(u->round, r->head.name) != 0;
}

static bool put_tanks(struct rescaling *in)
{
    const struct facility *f = in->f;
    struct recipe_system *systems = arena_alloc(in->a, f->n_systems, sizeof *systems);
    in->tanks = arena_alloc(in->a, f->n_tanks, sizeof *in->tanks);
    in->recipe.broadcasts = arena_alloc(in->a, in->r->n_lines, sizeof *in->recipe.broadcasts);
    if (!systems || !in->tanks || !in->recipe.broadcasts)
        return false;
    for (size_t t = 0; t < f->n_tanks; t++) {
        in->tanks[t] = (struct recipe_tank){
            .name = f->tanks[t].name, .system = f->tanks[t].system, .net_volume_l = f->tanks[t].net_l};
        for (size_t p = 0; p < in->r->n_pots; p++)
            put_slurry(in, &in->tanks[t], t, &in->r->pots[p]);
    }
    for (size_t s = 0; s < f->n_systems; s++)
        systems[s] = (struct recipe_system){.name = f->systems[s].name, .volume_l = f->systems[s].volume_l};
    for (size_t i = 0; i < in->r->n_lines; i++) {
        const struct line *l = &in->r->lines[i];
        if (l->action == ACTION_BROADCAST)
            in->recipe.broadcasts[in->recipe.n_broadcasts++] =
                (struct recipe_broadcast){.tank = l->tank, .food = l->food, .amount = l->amount};
        else if (l->action == ACTION_FISH)
            systems[f->tanks[l->tank].system].load_frac += load_of(f, l->tank, l->food, l->amount);
    }
    for (size_t i = 0; i < in->log->n_extras; i++) {
        const struct extra *x = &in->log->extras[i];
        systems[f->tanks[x->tank].system].load_frac += load_of(f, x->tank, x->food, x->amount_units);
    }
    for (size_t i = 0; i < f->n_day_uses; i++) { /* other rounds of the day take from the same ceilings */
        const struct day_use *u = &f->day_uses[i];
        if (is_beside(in->r, u))
            systems[f->tanks[u->tank].system].load_frac += others_load(f, u);
    }
    in->problem.systems = systems;
    in->problem.n_systems = f->n_systems;
    in->problem.tanks = in->tanks;
    in->problem.n_tanks = f->n_tanks;
    return true;
}

static bool put_pot(struct rescaling *in, size_t index)
{
    const struct pot *from = &in->r->pots[index];
    struct recipe_pot *pot = &in->recipe.pots[in->recipe.n_pots++];
    *pot = (struct recipe_pot){.late = from->late, .slurry_ml = from->made_ml, .by_liquids = true};
    bool mixed = index != in->pot && pot_mixed_ml(in->log, from) > 0; /* of the pot that is asked about: as planned */
    if (mixed)
        pot->slurry_ml = pot_mixed_ml(in->log, from);
    pot->systems = arena_alloc(in->a, in->f->n_systems, sizeof *pot->systems);
    pot->amounts = arena_alloc(in->a, in->r->n_pot_foods, sizeof *pot->amounts);
    if (!pot->systems || !pot->amounts)
        return false;
    for (size_t s = 0; s < in->f->n_systems; s++)
        for (size_t t = 0; t < in->f->n_tanks; t++)
            if (in->f->tanks[t].system == s && lines_ml(in->r, t, from->pot) > 0) {
                pot->systems[pot->n_systems++] = s;
                break;
            }
    for (size_t i = 0; i < in->r->n_pot_foods; i++) {
        const struct pot_food *pf = &in->r->pot_foods[i];
        if (strcmp(pf->pot, from->pot) != 0)
            continue;
        pot->amounts[pot->n_amounts++] = (struct recipe_amount){
            .food = pf->food, .amount = mixed ? mixed_units(in->log, from, pf) : pf->amount_units};
        pot->by_liquids = pot->by_liquids && in->f->foods[pf->food].unit == UNIT_ML;
    }
    return true;
}

static bool put_round(struct rescaling *in, struct err *e)
{
    in->problem.jug = (struct vessel){in->f->settings.pot_step_ml, in->f->settings.pot_dead_ml};
    in->problem.syringe_step_ml = in->f->settings.liquid_step_ml;
    in->recipe.pots = arena_alloc(in->a, in->r->n_pots, sizeof *in->recipe.pots);
    in->planned_ml = arena_alloc(in->a, in->f->n_tanks, sizeof *in->planned_ml);
    in->given_ml = arena_alloc(in->a, in->f->n_tanks, sizeof *in->given_ml);
    if (!in->recipe.pots || !in->planned_ml || !in->given_ml || !put_foods(in) || !put_tanks(in))
        return err_memory(e);
    for (size_t p = 0; p < in->r->n_pots; p++)
        if (!put_pot(in, p))
            return err_memory(e);
    return true;
}

/* ---- what was given, and what is left --------------------------------------------------------------------------- */

/* A line takes its part of the tank's loss with it. */
static double with_loss(const struct rescaling *in, size_t tank, double ml)
{
    double due_ml = in->r->pots[in->pot].late ? in->tanks[tank].late_slurry_ml : in->tanks[tank].slurry_ml;
    return in->planned_ml[tank] > 0 ? ml * due_ml / in->planned_ml[tank] : 0;
}

static bool is_of_pot(const struct rescaling *in, const struct line *l)
{
    return l->action == ACTION_TARGET && strcmp(l->pot, in->made->pot) == 0;
}

static void add_given(struct rescaling *in)
{
    for (size_t t = 0; t < in->f->n_tanks; t++)
        in->planned_ml[t] = lines_ml(in->r, t, in->made->pot);
    for (size_t i = 0; i < in->r->n_lines; i++) {
        const struct line *l = &in->r->lines[i];
        const struct given *g = is_of_pot(in, l) ? find_given(in, l->number) : NULL;
        if (g)
            in->given_ml[l->tank] += with_loss(in, l->tank, used_ml(g, l));
    }
}

/*
 * How many mL of what was made hold the food of one mL as planned: by dry mass, or by the liquids where there is none.
 */
static double stretch(const struct rescaling *in)
{
    const struct pot *pot = &in->r->pots[in->pot];
    double planned = 0, real = 0;
    bool by_liquids = in->recipe.pots[in->pot].by_liquids;
    for (size_t i = 0; i < in->r->n_pot_foods; i++) {
        const struct pot_food *pf = &in->r->pot_foods[i];
        double counts = by_liquids ? 1 : food_solids(&in->f->foods[pf->food]);
        if (strcmp(pf->pot, pot->pot) != 0)
            continue;
        planned += pf->amount_units * counts;
        real += went_in(in->log, pf) * counts;
    }
    return in->made->made_ml / pot->made_ml * (real > 0 ? planned / real : 1);
}

/* A coral still gets no more than its planned food: what was not given to its neighbours is not its own. */
static double line_share(const struct rescaling *in, const struct rescaled_tank *tank)
{
    double waiting_ml = 0;
    for (size_t i = 0; i < in->r->n_lines; i++) {
        const struct line *l = &in->r->lines[i];
        if (l->tank == tank->tank && is_of_pot(in, l) && !find_given(in, l->number))
            waiting_ml += with_loss(in, l->tank, l->amount);
    }
    return waiting_ml > 0 ? fmin(stretch(in), tank->left_ml / waiting_ml) : 0;
}

static bool put_lines(const struct rescaling *in, struct rescaled *out, struct err *e)
{
    out->lines = arena_alloc(in->a, in->r->n_lines, sizeof *out->lines);
    if (!out->lines)
        return err_memory(e);
    for (size_t i = 0; i < in->r->n_lines; i++) {
        const struct line *l = &in->r->lines[i];
        if (!is_of_pot(in, l) || find_given(in, l->number))
            continue;
        struct rescaled_line *line = &out->lines[out->n_lines++];
        *line = (struct rescaled_line){.number = l->number, .planned_ml = l->amount};
        for (size_t t = 0; t < out->n_tanks; t++)
            if (out->tanks[t].tank == l->tank)
                line->left_ml = l->amount * line_share(in, &out->tanks[t]);
    }
    return true;
}

/* What went into the pot, row by row as put_pot took them. */
static void put_scale(const struct rescaling *in, double *amounts)
{
    const char *name = in->r->pots[in->pot].pot;
    size_t n = 0;
    for (size_t i = 0; i < in->r->n_pot_foods; i++) {
        const struct pot_food *pf = &in->r->pot_foods[i];
        if (strcmp(pf->pot, name) != 0)
            continue;
        amounts[n++] = went_in(in->log, pf);
    }
}

static bool rescale(struct rescaling *in, struct rescaled *out, struct err *e)
{
    struct recipe_portion *portions = arena_alloc(in->a, in->f->n_tanks, sizeof *portions);
    double *amounts = arena_alloc(in->a, in->r->n_pot_foods, sizeof *amounts);
    const struct recipe_rescale_request made = {
        .pot = in->pot, .made_ml = in->made->made_ml, .amounts = amounts, .given_ml = in->given_ml};
    out->tanks = arena_alloc(in->a, in->f->n_tanks, sizeof *out->tanks);
    if (!portions || !amounts || !out->tanks)
        return err_memory(e);
    add_given(in);
    put_scale(in, amounts);
    if (!recipe_rescale(&in->problem, &in->recipe, &made, portions, &out->n_tanks, e))
        return false;
    for (size_t i = 0; i < out->n_tanks; i++)
        out->tanks[i] =
            (struct rescaled_tank){portions[i].tank,    portions[i].planned_ml, in->given_ml[portions[i].tank],
                                   portions[i].left_ml, portions[i].load_frac,  portions[i].cut};
    return put_lines(in, out, e);
}

bool plan_rescale(const struct facility *f, const struct round *r, const struct rescale_request *made,
                  struct rescaled *out, struct err *e)
{
    *out = (struct rescaled){.made_ml = made->made_ml};
    struct rescaling in = {
        .f = f, .r = r, .made = made, .log = made->log ? made->log : &nothing_logged, .a = &out->arena};
    bool ok = find_pot(&in, e) && put_round(&in, e) && rescale(&in, out, e);
    if (ok)
        out->pot = &r->pots[in.pot];
    else
        rescaled_free(out);
    return ok;
}

/* ---- what the waters come to ------------------------------------------------------------------------------------- */

/* mL of a line, as far as they count towards the ceilings: Σ dose ÷ ceiling. */
static double slurry_load(const struct facility *f, const struct round *r, const struct round_log *log,
                          const struct line *l, double ml)
{
    double load = 0, counted = counted_frac(&f->settings, &f->kinds[f->colonies[l->colony].kind]);
    for (size_t p = 0; p < r->n_pots; p++)
        for (size_t i = 0; strcmp(r->pots[p].pot, l->pot) == 0 && i < r->n_pot_foods; i++) {
            const struct pot_food *pf = &r->pot_foods[i];
            double mixed_ml = pot_mixed_ml(log, &r->pots[p]);
            if (strcmp(pf->pot, l->pot) == 0 && mixed_ml > 0)
                load += load_of(f, l->tank, pf->food, mixed_units(log, &r->pots[p], pf) * ml * counted / mixed_ml);
        }
    return load;
}

static double line_load(const struct facility *f, const struct round *r, const struct round_log *log,
                        const struct line *l, double amount)
{
    if (isnan(amount) || amount <= 0)
        return 0;
    return l->action == ACTION_TARGET ? slurry_load(f, r, log, l, amount)
           : l->food != REF_NONE      ? load_of(f, l->tank, l->food, amount)
                                      : 0;
}

bool plan_loads(const struct facility *f, const struct round *r, const struct round_log *log, struct arena *a,
                struct water_load **loads, struct err *e)
{
    *loads = arena_alloc(a, f->n_systems, sizeof **loads);
    if (!*loads)
        return err_memory(e);
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        const struct given *g = log_find(log, l->number);
        double load = line_load(f, r, log, l, g ? used_ml(g, l) : l->amount);
        (*loads)[f->tanks[l->tank].system].all += load;
        (*loads)[f->tanks[l->tank].system].given += g ? load : 0;
    }
    for (size_t i = 0; i < f->n_day_uses; i++) {
        const struct day_use *u = &f->day_uses[i];
        if (!is_beside(r, u))
            continue;
        double load = others_load(f, u);
        (*loads)[f->tanks[u->tank].system].all += load;
        (*loads)[f->tanks[u->tank].system].given += u->planned ? 0 : load;
    }
    for (size_t i = 0; i < log->n_extras; i++) {
        const struct extra *x = &log->extras[i];
        double load = load_of(f, x->tank, x->food, x->amount_units);
        (*loads)[f->tanks[x->tank].system].all += load;
        (*loads)[f->tanks[x->tank].system].given += load;
    }
    return true;
}
