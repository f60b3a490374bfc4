/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a water does besides its foods is not known: how fast it takes up, how far its background drifts, what its tests
 * scatter by. Given these, the posterior of the effects is exact; so they are tried on a grid, each trial weighs by its
 * evidence (Rue, Martino and Chopin 2009, JRSS B 71, 319–392, explore a posterior so), and the blend is taken as the
 * Gaussian of its mean and covariance. With several waters each is weighed against what all the others say, by turns
 * (Minka 2001, expectation propagation). With one water that is exact but for the grid.
 */
#include "trend/learn_weigh.h"

enum { TURNS = 3, UPTAKES = 13, REFINE_MOST = 8 };

static const double log_refine_least =
    -9; /* likewise: uptakes between those that weigh as much are looked at more closely */

/* Our own choices, as are the weights before the log speaks: less is likelier, and a wide range is open. */
static const double uptakes[UPTAKES] = {0, 0.004, 0.007, 0.011, 0.017, 0.026, 0.04, 0.06, 0.09, 0.13, 0.19, 0.27, 0.4};
static const double drifts[] = {0, 0.06, 0.15, 0.35, 0.8, 1.8};
static const double drift_weights[] = {0.3, 0.2, 0.18, 0.14, 0.11, 0.07};
static const double shocks[] = {0, 0.3, 0.9};
static const double shock_weights[] = {0.5, 0.3, 0.2};

/* ---- trials ----------------------------------------------------------------------------------------------------- */

/* The cell of an uptake reaches half way to its neighbours; an exponential belief with the mean given fills it. */
static double uptake_weight(const struct learn_in *in, const double *of, size_t i)
{
    double below = i > 0 ? of[i] - of[i - 1] : fmin(of[1] - of[0], 2 * of[0]);
    double above = i + 1 < UPTAKES ? of[i + 1] - of[i] : of[i] - of[i - 1];
    return exp(-(of[i] - below / 2) / in->uptake_mean_per_d) - exp(-(of[i] + above / 2) / in->uptake_mean_per_d);
}

/* How wide of the believed scatter: normal on a logarithmic scale. */
static double error_scale_log_weight(const struct learn_in *in, size_t i)
{
    double z = in->error_scale_log_sd > 0 ? log(error_scale_of(i)) / in->error_scale_log_sd : 0;
    return -z * z / 2;
}

static void trial_add(struct say *s, const struct water_trial *water, double weight)
{
    size_t m = s->l->n_cols;
    struct test_rows *rows = &s->rows;
    struct trial *t = &s->trials[s->n_trials++];
    t->water = *water;
    t->log_weight = log(weight);
    test_rows_make(s->l, water, rows);
    t->log_det = rows->log_det;
    t->squares = 0;
    if (s->few) {
        memcpy(t->x, rows->x, s->l->n_rows * m * sizeof *t->x);
        memcpy(t->y, rows->y, s->l->n_rows * sizeof *t->y);
        return;
    }
    memset(t->precision, 0, m * m * sizeof *t->precision);
    memset(t->shift, 0, m * sizeof *t->shift);
    rows_sum(rows->x, rows->y, s->l->n_rows, m, 1, t->precision, t->shift);
    for (size_t r = 0; r < s->l->n_rows; r++)
        t->squares += rows->y[r] * rows->y[r];
}

/* Each uptake with all that may go with it. of: [UPTAKES], or NULL where none is looked for. */
static void trials_make(struct say *s, const double *of)
{
    bool more = s->l->in->drifts;
    s->n_trials = 0;
    for (size_t u = 0; u < (of ? UPTAKES : 1); u++)
        for (size_t w = 0; w < (more ? COUNT_OF(drifts) : 1); w++)
            for (size_t j = 0; j < (more ? COUNT_OF(shocks) : 1); j++) {
                const struct water_trial water = {of ? of[u] : 0, drifts[w], shocks[j]};
                double weight = of ? uptake_weight(s->l->in, of, u) : 1;
                trial_add(s, &water, weight * drift_weights[w] * shock_weights[j]);
            }
}

static bool say_open(struct say *s, const struct system_log *l, struct arena *a, struct err *e)
{
    size_t most = UPTAKES * COUNT_OF(drifts) * COUNT_OF(shocks), m = l->n_cols, size = m * m + m;
    *s = (struct say){.l = l, .few = l->n_rows <= m};
    s->trials = arena_alloc(a, most, sizeof *s->trials);
    double *sums = arena_alloc(a, most + 1, size * sizeof *sums);
    if (!s->trials || !sums || !test_rows_open(l, a, &s->rows, e))
        return err_memory(e);
    for (size_t i = 0; i < most; i++) {
        double *matrix = sums + i * size, *line = matrix + m * m;
        if (s->few) /* which take no more room than their sums */
            s->trials[i].x = matrix, s->trials[i].y = line;
        else
            s->trials[i].precision = matrix, s->trials[i].shift = line;
    }
    s->precision = sums + most * size;
    s->shift = sums + most * size + m * m;
    return true;
}

/* ---- the blend --------------------------------------------------------------------------------------------------- */

/*
 * Uptakes that weigh little are left, and those between looked at more closely: as many, evenly by their roots. False
 * where most of them weigh something: then the grid is no coarser than the answer.
 */
static bool trials_refine(struct say *s, double best)
{
    double low = INFINITY, high = 0, of[UPTAKES];
    size_t first = 0, last = UPTAKES - 1;
    for (size_t i = 0; i < s->n_trials; i++)
        if (s->trials[i].top >= best + log_refine_least) { /* the best is one, however large the numbers */
            low = fmin(low, s->trials[i].water.uptake_per_d);
            high = fmax(high, s->trials[i].water.uptake_per_d);
        }
    while (uptakes[first + 1] < low)
        first++;
    while (uptakes[last - 1] > high)
        last--;
    if (last - first > REFINE_MOST)
        return false;
    for (size_t i = 0; i < UPTAKES; i++) {
        double part = (double)i / (UPTAKES - 1), root = sqrt(uptakes[first]) * (1 - part) + sqrt(uptakes[last]) * part;
        of[i] = root * root;
    }
    trials_make(s, of);
    return true;
}

/* Adds a trial to the blend: one whose evidence is a number, so that it has a posterior. */
static void blend_add(struct weighing *w, const struct say *s, const struct trial *t, size_t error_scale, double weight)
{
    size_t m = s->l->n_cols;
    trial_posterior(w, s, t, error_scale);
    gauss_solve(m, w->part_factor, w->right, w->mean);
    gauss_invert(m, w->part_factor, w->inverse);
    for (size_t c = 0; c < m; c++) {
        w->blend_mean[c] += weight * w->mean[c];
        for (size_t d = 0; d < m; d++)
            w->blend[c * m + d] += weight * (w->inverse[c * m + d] + w->mean[c] * w->mean[d]);
    }
}

/* A trial with all its scatters into the blend; returns what it weighs. */
static double trial_blend(struct weighing *w, struct say *s, const struct trial *t, double best,
                          struct water_found *found)
{
    size_t m = s->l->n_cols;
    double total = 0;
    if (t->top < best + log_weight_least)
        return 0;
    if (s->few)
        few_take_up(w, s, t);
    for (size_t k = 0; k < ERROR_SCALES; k++) {
        if (!(t->log_evidence[k] >= best + log_weight_least))
            continue;
        double weight = exp(t->log_evidence[k] - best), scatter2 = error_scale_of(k) * error_scale_of(k);
        if (s->few)
            few_blend_add(w, s, scatter2, weight);
        else
            blend_add(w, s, t, k, weight);
        total += weight;
        found->uptake_per_d += weight * t->water.uptake_per_d;
        found->error_scale2 += weight * scatter2;
        if (t->log_evidence[k] == best) {
            found->best = t->water;
            found->error_scale = error_scale_of(k);
            memcpy(found->mean, s->few ? w->prior_mean : w->mean, m * sizeof *found->mean);
            if (s->few)
                few_mean(w, s, w->right, found->mean);
        }
    }
    if (s->few)
        few_blend_end(w, s, total);
    return total;
}

/* Mean and covariance of the blend, and what the water is like. */
static void trials_blend(struct weighing *w, struct say *s, double best, struct water_found *found)
{
    size_t m = s->l->n_cols;
    double total = 0;
    memset(w->blend, 0, m * m * sizeof *w->blend);
    memset(w->blend_mean, 0, m * sizeof *w->blend_mean);
    *found = (struct water_found){.mean = found->mean};
    for (size_t i = 0; i < s->n_trials; i++)
        total += trial_blend(w, s, &s->trials[i], best, found);
    for (size_t c = 0; c < m; c++)
        w->blend_mean[c] /= total;
    for (size_t c = 0; c < m; c++)
        for (size_t d = 0; d < m; d++)
            w->blend[c * m + d] = w->blend[c * m + d] / total - w->blend_mean[c] * w->blend_mean[d];
    for (size_t c = 0; c < m && s->few; c++)
        w->blend_mean[c] += w->prior_mean[c];
    found->uptake_per_d /= total;
    found->error_scale2 /= total;
}

/* A water's say is the blend less what the others said before. Where that makes no sense, its last say stands. */
static void say_renew(struct weighing *w, struct say *s, bool first, struct water_found *found)
{
    size_t m = s->l->n_cols;
    if (s->l->n_rows == 0 || !others_say(w, s))
        return;
    double best = trials_weigh(w, s, !first);
    if (first && isfinite(best) && s->l->in->uptake_mean_per_d > 0 && trials_refine(s, best))
        best = trials_weigh(w, s, false);
    if (!isfinite(best))
        return;
    trials_blend(w, s, best, found);
    if (!gauss_factor(m, w->blend, w->part_factor))
        return;
    say_embed(s, -1, w->precision, w->shift, w->n);
    gauss_invert(m, w->part_factor, w->inverse);
    gauss_solve(m, w->part_factor, w->blend_mean, w->mean);
    for (size_t i = 0; i < m; i++) {
        s->shift[i] = w->mean[i] - w->prior_shift[i];
        for (size_t j = 0; j < m; j++)
            s->precision[i * m + j] = w->inverse[i * m + j] - w->prior[i * m + j];
    }
    say_embed(s, 1, w->precision, w->shift, w->n);
}

/* ---- all waters ------------------------------------------------------------------------------------------------- */

static bool weighing_open(struct weighing *w, const struct system_log *logs, size_t n_systems, struct arena *a,
                          struct err *e)
{
    size_t n = learn_unknowns(logs[0].in), m = 0;
    *w = (struct weighing){.n = n};
    for (size_t k = 0; k < ERROR_SCALES; k++) {
        w->log_error_scale[k] = log(error_scale_of(k));
        w->error_scale_log_weight[k] = error_scale_log_weight(logs[0].in, k);
    }
    for (size_t i = 0; i < n_systems; i++)
        m = logs[i].n_cols > m ? logs[i].n_cols : m;
    double **const wholes[] = {&w->precision, &w->whole, &w->factor};
    double **const lines[] = {&w->shift, &w->line};
    double **const parts[] = {&w->prior, &w->prior_covariance, &w->part, &w->part_factor, &w->inverse, &w->blend};
    double **const part_lines[] = {&w->prior_shift, &w->prior_mean, &w->mean, &w->right, &w->blend_mean};
    bool all = true;
    w->says = arena_alloc(a, n_systems, sizeof *w->says);
    for (size_t i = 0; i < COUNT_OF(wholes); i++)
        all = (*wholes[i] = arena_alloc(a, n, n * sizeof(double))) && all;
    for (size_t i = 0; i < COUNT_OF(lines); i++)
        all = (*lines[i] = arena_alloc(a, n, sizeof(double))) && all;
    for (size_t i = 0; i < COUNT_OF(parts); i++)
        all = (*parts[i] = arena_alloc(a, m, m * sizeof(double))) && all;
    for (size_t i = 0; i < COUNT_OF(part_lines); i++)
        all = (*part_lines[i] = arena_alloc(a, m, sizeof(double))) && all;
    if (!all || !w->says || !few_open(w, m, a))
        return err_memory(e);
    for (size_t i = 0; i < n; i++)
        w->precision[i * n + i] = 1;
    for (size_t i = 0; i < n_systems; i++)
        if (!say_open(&w->says[i], &logs[i], a, e))
            return false;
    return true;
}

/* One trial only: what it says is exact, and nothing is weighed. */
static void say_exactly(struct weighing *w, struct say *s, struct water_found *found)
{
    size_t m = s->l->n_cols;
    const struct trial *t = &s->trials[0];
    if (s->few) {
        rows_sum(t->x, t->y, s->l->n_rows, m, 1, s->precision, s->shift);
    } else {
        memcpy(s->shift, t->shift, m * sizeof *s->shift);
        memcpy(s->precision, t->precision, m * m * sizeof *s->precision);
    }
    for (size_t i = 0; i < m; i++)
        for (size_t j = 0; j < i; j++)
            s->precision[j * m + i] = s->precision[i * m + j];
    *found = (struct water_found){.best = t->water, .error_scale = 1, .error_scale2 = 1, .mean = found->mean};
    say_embed(s, 1, w->precision, w->shift, w->n);
}

static bool belief_take(struct weighing *w, struct arena *a, struct belief *out, struct err *e)
{
    size_t n = w->n;
    *out = (struct belief){.n = n};
    out->mean = arena_alloc(a, n, sizeof *out->mean);
    out->covariance = arena_alloc(a, n, n * sizeof *out->covariance);
    out->precision = arena_alloc(a, n, n * sizeof *out->precision);
    if (!out->mean || !out->covariance || !out->precision)
        return err_memory(e);
    bool known = gauss_factor(n, w->precision, w->factor);
    memcpy(out->precision, w->precision, n * n * sizeof *out->precision);
    gauss_solve(n, w->factor, w->shift, out->mean);
    gauss_invert(n, w->factor, out->covariance);
    for (size_t i = 0; i < n; i++)
        known = known && isfinite(out->mean[i]) && isfinite(out->covariance[i * n + i]);
    return known || err_set(e, ERR_INPUT, NULL, "the log's numbers are too far apart to reckon with");
}

static bool found_open(const struct system_log *logs, size_t n_systems, struct water_found *found, struct arena *a,
                       struct err *e)
{
    for (size_t i = 0; i < n_systems; i++) {
        found[i] = (struct water_found){.error_scale = 1, .error_scale2 = 1};
        found[i].mean = arena_alloc(a, logs[i].n_cols, sizeof *found[i].mean);
        if (!found[i].mean)
            return err_memory(e);
    }
    return true;
}

bool learn_weigh(const struct system_log *logs, size_t n_systems, struct arena *a, struct belief *out,
                 struct water_found *found, struct err *e)
{
    struct weighing w;
    struct arena spare = {0};
    const struct learn_in *in = logs[0].in;
    bool exact = !(in->uptake_mean_per_d > 0) && !in->drifts && !(in->error_scale_log_sd > 0);
    bool ok = weighing_open(&w, logs, n_systems, &spare, e) && found_open(logs, n_systems, found, a, e);
    for (size_t i = 0; ok && i < n_systems; i++) {
        trials_make(&w.says[i], in->uptake_mean_per_d > 0 ? uptakes : NULL);
        if (exact)
            say_exactly(&w, &w.says[i], &found[i]);
    }
    for (int turn = 0; ok && !exact && turn < (n_systems > 1 ? TURNS : 1); turn++)
        for (size_t i = 0; i < n_systems; i++)
            say_renew(&w, &w.says[i], turn == 0, &found[i]);
    for (size_t i = 0; ok && in->n_draws > 0 && i < n_systems; i++)
        ok = say_draw(&w, &w.says[i], !exact, a, &found[i].draws, e);
    ok = ok && belief_take(&w, a, out, e);
    for (size_t i = 0; ok && exact && i < n_systems; i++)
        for (size_t k = 0; k < logs[i].n_cols; k++)
            found[i].mean[k] = out->mean[logs[i].unknown[k]];
    arena_free(&spare);
    return ok;
}
