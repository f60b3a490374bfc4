/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap water: enter a water change. */
#include "cli.h"

#include "neap/calc.h"
#include "neap/print.h"
#include "neap/readings.h"
#include "neap/replan.h"

/* VOLUME in litres; a percentage is of the system's water. */
static bool volume_of(const struct system *system, const char *text, double *volume_l, struct err *e)
{
    struct quantity q;
    char quoted[EXCERPT_TEXT];
    if (!quantity_parse(text, &q, e)) {
        e->code = ERR_MISUSE;
        return false;
    }
    text_excerpt(text, quoted);
    if (q.kind == QUANTITY_NUMBER)
        return err_set(e, ERR_MISUSE, NULL, "%s of what? expected %sL, %susgal or %s%%", quoted, quoted, quoted,
                       quoted);
    if (q.kind != QUANTITY_VOLUME && q.kind != QUANTITY_FRACTION)
        return err_set(e, ERR_MISUSE, NULL, "\"%s\" is %s; expected a volume or a percentage", quoted,
                       quantity_kind_name(q.kind));
    double litres = q.kind == QUANTITY_FRACTION ? q.value * system->volume_l : q.value;
    if (litres > system->volume_l * (1 + 1e-9))
        return err_set(e, ERR_INPUT, NULL, "%s are more than %s holds, %.0f L (%.0f US gal)", quoted, system->name,
                       system->volume_l, us_gal_from_litres(system->volume_l));
    *volume_l = round_near_to(litres, 0.01);
    return true;
}

struct exchanged {
    size_t system;
    long exchanged;
    double volume_l, no3_mg_l, po4_mg_l;
    bool no3_given, po4_given;
};

/* --no3 and --po4 of the new water. */
static bool level_option(const struct context *c, const char *name, bool *given, double *mg_l, struct err *e)
{
    const struct gravity_scale unused = {25, 25};
    struct measured r;
    struct err why;
    *given = option_given(c, name);
    *mg_l = 0;
    if (!*given)
        return true;
    if (!measured_parse(name, option_text(c, name, ""), &unused, &r, &why))
        return err_set(e, ERR_MISUSE, NULL, "--%s", why.text);
    if (r.below)
        return err_set(e, ERR_MISUSE, NULL, "--%s is below detection; expected a value, such as 0", name);
    *mg_l = r.value;
    return true;
}

static bool put_change(const struct context *c, struct store *s, const struct facility *f, const struct exchanged *w,
                       enum put *outcome, struct err *e)
{
    const struct reg *reg = reg_get(REG_WATER);
    struct cell cells[FIELDS_MAX] = {{0}};
    bool present[FIELDS_MAX] = {false};
    char moment[MOMENT_TEXT];
    struct arena a = {0};
    struct err why = {0};
    size_t field = reg_field(reg, "note");
    moment_format(w->exchanged, moment);
    present[field] = option_given(c, "note");
    bool ok = cell_parse(&reg->fields[field], option_text(c, "note", ""), &a, &cells[field], &why) ||
              err_set(e, ERR_MISUSE, NULL, "note %s", why.text);
    const struct {
        const char *field;
        bool present;
        struct cell cell;
    } rest[] = {
        {"system", true, {.kind = CELL_TEXT, .text = f->systems[w->system].name}},
        {"exchanged", true, {.kind = CELL_TEXT, .text = moment}},
        {"volume_l", true, {.kind = CELL_NUMBER, .number = w->volume_l}},
        {"no3_mg_l", w->no3_given, {.kind = CELL_NUMBER, .number = w->no3_mg_l}},
        {"po4_mg_l", w->po4_given, {.kind = CELL_NUMBER, .number = w->po4_mg_l}},
    };
    for (size_t i = 0; i < COUNT_OF(rest); i++) {
        present[reg_field(reg, rest[i].field)] = rest[i].present;
        cells[reg_field(reg, rest[i].field)] = rest[i].cell;
    }
    if (ok && !store_put(s, reg, cells, present, outcome, &field, &why))
        ok = err_set(e, why.code, NULL, "%s%s%s", field < reg->n_fields ? reg->fields[field].name : "",
                     field < reg->n_fields ? " " : "", why.text);
    arena_free(&a);
    return ok;
}

static bool keep(struct context *c, struct store *s, const struct facility *f, const struct exchanged *w,
                 enum put *outcome, struct err *e)
{
    if (!store_begin(s, e))
        return false;
    return context_end(c, s, put_change(c, s, f, w, outcome, e), e);
}

static void print_change(const struct context *c, const struct facility *f, const struct exchanged *w, enum put outcome)
{
    const struct system *system = &f->systems[w->system];
    char moment[MOMENT_TEXT];
    static const char *const said[] = {[PUT_NEW] = "new", [PUT_CHANGED] = "corrected", [PUT_SAME] = "the same"};
    double percent = 100 * w->volume_l / system->volume_l;
    moment_format(w->exchanged, moment);
    text_addf(c->out, "%s: ", system->name);
    if (c->us_units)
        text_addf(c->out, "%.4g US gal (%.5g L)", us_gal_from_litres(w->volume_l), w->volume_l);
    else
        text_addf(c->out, "%.5g L", w->volume_l);
    text_addf(c->out, " changed, %.2g %% of its water", percent);
    if (w->no3_given)
        text_addf(c->out, ", new water with nitrate %g mg/L", w->no3_mg_l);
    if (w->po4_given)
        text_addf(c->out, "%s phosphate %g mg/L", w->no3_given ? " and" : ", new water with", w->po4_mg_l);
    text_addf(c->out, ", %s\n1 %s\n", moment, said[outcome]);
}

static void json_change(const struct context *c, const struct facility *f, const struct exchanged *w)
{
    char moment[MOMENT_TEXT];
    struct json_text j = {.out = c->out};
    moment_format(w->exchanged, moment);
    json_open(&j, NULL, '{');
    json_number_member(&j, "schema", JSON_PRINT_SCHEMA);
    json_flag_member(&j, "stored", !option_given(c, "dry-run"));
    json_open(&j, "water", '[');
    json_open(&j, NULL, '{');
    json_text_member(&j, "system", f->systems[w->system].name);
    json_text_member(&j, "exchanged", moment);
    json_number_member(&j, "volume_l", w->volume_l);
    json_number_member(&j, "no3_mg_l", w->no3_given ? w->no3_mg_l : NAN);
    json_number_member(&j, "po4_mg_l", w->po4_given ? w->po4_mg_l : NAN);
    json_close(&j);
    json_close(&j);
    json_close(&j);
}

/* "300 L" may come as two words. */
static const char *volume_text(const struct context *c, struct arena *a)
{
    const char *text = c->args[1];
    for (size_t i = 2; text && i < c->n_args; i++)
        text = arena_format(a, "%s %s", text, c->args[i]);
    return text;
}

static bool water_run(struct context *c, struct err *e)
{
    struct store *s;
    struct facility f;
    struct arena a = {0};
    enum put outcome = PUT_SAME;
    struct exchanged w = {.exchanged = 0};
    if (!level_option(c, "no3", &w.no3_given, &w.no3_mg_l, e) || !level_option(c, "po4", &w.po4_given, &w.po4_mg_l, e))
        return false;
    if (!context_moment(c, &w.exchanged, e))
        return false;
    if (!context_snapshot(c, STORE_WRITE, &s, &f, e))
        return false;
    const char *text = volume_text(c, &a);
    bool ok = (text || err_memory(e)) && system_named(&f, c->args[0], &w.system, e) &&
              volume_of(&f.systems[w.system], text, &w.volume_l, e) && keep(c, s, &f, &w, &outcome, e);
    if (ok && c->json)
        json_change(c, &f, &w);
    else if (ok)
        print_change(c, &f, &w, outcome);
    arena_free(&a);
    facility_free(&f);
    store_close(s);
    return ok;
}

const struct command command_water = {
    .name = "water",
    .place = 160,
    .summary = "enter a water change",
    .also = "change exchange waterchange",
    .usage = "SYSTEM VOLUME",
    .about =
        "Stores that water was exchanged: 300L, 65usgal, or 10% of the system's water. What the new water brings along "
        "is taken as nothing unless --no3 and --po4 say it. The same minute again corrects.",
    .example = "neap --on 2026-11-27 water north 300L --no3 0.2",
    .options = (const struct option_row[]){{"at", OPT_MOMENT, "MOMENT", .help = "when, else now"},
                                           {"no3", OPT_TEXT, "LEVEL", .help = "nitrate of the new water, else 0"},
                                           {"po4", OPT_TEXT, "LEVEL", .help = "phosphate of the new water, else 0"},
                                           {"note", OPT_TEXT, "TEXT", .help = "anything"},
                                           OPTION_DRY_RUN,
                                           {0}},
    .args_min = 2,
    .args_max = 5,
    .prints_json = true,
    .run = water_run,
};
