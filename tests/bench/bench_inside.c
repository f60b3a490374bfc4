/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What only the inside of the program can be asked: how long one Theil-Sen line of a long series takes, and what of a
 * recipe's time is GLPK's own. Prints "slope SECONDS READINGS" and "recipe SECONDS GLPK_SECONDS PROGRAMMES"; for
 * bench.py.
 */
#include <glpk.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "../unit/recipe_random.h"
#include "neap/trend.h"

/* Processor seconds. */
static double seconds_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

/* The linker puts these in the place of GLPK's own (--wrap), so that its time can be told from ours. */
static double glpk_seconds;
int __real_glp_simplex(glp_prob *, const glp_smcp *);
int __wrap_glp_simplex(glp_prob *, const glp_smcp *);
void __real_glp_load_matrix(glp_prob *, int, const int *, const int *, const double *);
void __wrap_glp_load_matrix(glp_prob *, int, const int *, const int *, const double *);
void __real_glp_scale_prob(glp_prob *, int);
void __wrap_glp_scale_prob(glp_prob *, int);

int __wrap_glp_simplex(glp_prob *p, const glp_smcp *how)
{
    double begin = seconds_now();
    int answer = __real_glp_simplex(p, how);
    glpk_seconds += seconds_now() - begin;
    return answer;
}

void __wrap_glp_load_matrix(glp_prob *p, int n, const int *rows, const int *cols, const double *values)
{
    double begin = seconds_now();
    __real_glp_load_matrix(p, n, rows, cols, values);
    glpk_seconds += seconds_now() - begin;
}

void __wrap_glp_scale_prob(glp_prob *p, int how)
{
    double begin = seconds_now();
    __real_glp_scale_prob(p, how);
    glpk_seconds += seconds_now() - begin;
}

enum { READINGS = 3650, PROGRAMMES = 200, FITS = 3 };

/*
 * Ten years of daily readings: a slow rise and noise from a fixed seed. argv[1]: also write them there, a value per
 * line.
 */
static bool bench_slope(const char *path)
{
    static struct point points[READINGS];
    struct random_recipe r = {.state = 1};
    struct slope s;
    struct err e = {0};
    FILE *f = path ? fopen(path, "w") : NULL;
    double best = 1e9;
    for (size_t i = 0; i < READINGS; i++) {
        double value = 5 + 0.001 * (double)i + draw_from(&r, -1, 1);
        points[i] = (struct point){.t = (double)i, .low = value, .high = value};
        if (f)
            fprintf(f, "%.17g\n", value);
    }
    if (f)
        fclose(f);
    for (int i = 0; i < FITS; i++) {
        double begin = seconds_now();
        if (!slope_fit(points, READINGS, 0.95, &s, &e)) {
            fprintf(stderr, "%s\n", e.text);
            return false;
        }
        best = seconds_now() - begin < best ? seconds_now() - begin : best;
    }
    printf("slope %.9f %d %.12g\n", best, READINGS, s.slope);
    return true;
}

static void bench_recipe(void)
{
    static struct random_recipe r;
    double begin = seconds_now();
    int n = 0;
    for (int seed = 1; seed <= PROGRAMMES; seed++) {
        struct recipe answer;
        struct err e = {0};
        random_round_draw(&r, (uint64_t)seed, RANDOM_SYSTEMS);
        n += recipe_plan(&r.problem, &answer, &e);
        recipe_free(&answer);
    }
    printf("recipe %.6f %.6f %d\n", seconds_now() - begin, glpk_seconds, n);
}

int main(int argc, char **argv)
{
    if (!bench_slope(argc > 1 ? argv[1] : NULL))
        return 1;
    bench_recipe();
    return 0;
}
