/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Plans random rounds and writes their programmes, for tests/cross/recipe_lp.py to solve with other solvers.
 *
 *   recipe_lp FROM TO FOLDER      rounds FROM … TO − 1 of up to 4 systems; a file per stage, FOLDER/ROUND-STAGE.lp, and
 *                                 on stdout "ROUND STAGE VALUE" for each, then "ROUND amount NAME VALUE" per amount
 */
#include "recipe_random.h"

enum { MOST_SYSTEMS = 4 };

static void amounts_print(const struct recipe *r, long round)
{
    for (size_t i = 0; i < r->n_pots; i++)
        for (size_t k = 0; k < r->pots[i].n_amounts; k++)
            printf("%ld amount x_%zu_%zu %.17g\n", round, i, r->pots[i].amounts[k].food,
                   r->pots[i].amounts[k].exact * r->pots[i].least_ml / r->pots[i].slurry_ml);
    for (size_t i = 0; i < r->n_broadcasts; i++) {
        const struct recipe_broadcast *b = &r->broadcasts[i];
        printf("%ld amount b_%zu_%zu %.17g\n", round, b->tank, b->food, b->exact);
    }
}

static bool round_write(const struct random_recipe *r, long round, const char *folder, struct err *e)
{
    struct recipe out;
    bool ok = recipe_plan(&r->problem, &out, e);
    for (int stage = 0; ok && stage < RECIPE_STAGES; stage++) {
        struct text t = {0}, path = {0};
        text_addf(&path, "%s/%ld-%d.lp", folder, round, stage);
        ok = recipe_write_lp(&r->problem, &out, (enum recipe_stage)stage, &t, e);
        FILE *f = ok ? fopen(text_str(&path), "w") : NULL;
        ok = ok && (f || err_set(e, ERR_IO, NULL, "cannot write %s", text_str(&path)));
        if (f) {
            fputs(text_str(&t), f);
            ok = fclose(f) == 0 && ok;
            printf("%ld %d %.17g\n", round, stage, out.stage_value[stage]);
        }
        text_free(&t);
        text_free(&path);
    }
    if (ok)
        amounts_print(&out, round);
    recipe_free(&out);
    return ok;
}

int main(int argc, char **argv)
{
    static struct random_recipe r;
    struct err e = {0};
    long from, to;
    if (argc != 4 || !count_parse(argv[1], &from) || !count_parse(argv[2], &to)) {
        fprintf(stderr, "usage: recipe_lp FROM TO FOLDER\n");
        return 2;
    }
    for (long round = from; round < to; round++) {
        random_round_draw(&r, (uint64_t)round, MOST_SYSTEMS);
        if (!round_write(&r, round, argv[3], &e)) {
            fprintf(stderr, "round %ld: %s\n", round, e.text);
            return 1;
        }
    }
    return 0;
}
