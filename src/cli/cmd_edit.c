/* SPDX-License-Identifier: GPL-3.0-or-later */
/* add, set, retire, hold, release: one or a few rows of a register, typed by hand. */
#include "cli.h"
#include "asking.h"
#include "files.h"

#include "neap/drawing.h"
#include "neap/label.h"
#include "neap/naming.h"

enum { KEYS_MAX = 200 };

/* A row as it is wished: its key, and the fields given. */
struct edit {
    const struct reg *reg;
    struct cell cells[FIELDS_MAX];
    bool present[FIELDS_MAX];
    const char *weight;      /* of a lot: its amount as typed with a unit, told by its food; NULL: none */
    struct food_label label; /* of a food or lot: what its label prints */
};

struct editing {
    struct context *c;
    struct store *store;
    struct arena arena; /* of the cells typed, and of those read from the store */
    struct load_counts counts;
};

static void set_cell(struct edit *edit, size_t field, struct cell cell)
{
    edit->cells[field] = cell;
    edit->present[field] = true;
}

/* What 250g of a food are in the food's own unit; the food of a lot is the one typed, else the one it has. */
static bool tell_weight(struct editing *in, struct edit *edit, const struct cell *old, struct err *e)
{
    const struct reg *food = reg_get(REG_FOOD);
    size_t of = reg_field(edit->reg, "food"), at = reg_field(edit->reg, "amount_units"), field;
    struct cell key[FIELDS_MAX] = {{0}}, cells[FIELDS_MAX];
    struct food f;
    struct err why;
    double units;
    key[0] = edit->present[of] || !old ? edit->cells[of] : old[of];
    if (key[0].kind == CELL_EMPTY)
        return err_set(e, ERR_INPUT, NULL, "food is empty; expected %s, to tell what %.40s of it are",
                       edit->reg->fields[of].help, edit->weight);
    if (!store_get(in->store, food, key, cells, &in->arena, e))
        return blame_field(edit->reg, of, e);
    if (!row_fill(food, cells, &f, &field, e))
        return blame_field(food, field, e);
    if (!food_amount_read(&f, edit->weight, &units, &why))
        return err_set(e, why.code, NULL, "amount_units: %s", why.text);
    set_cell(edit, at, (struct cell){.kind = CELL_NUMBER, .number = units});
    return true;
}

/* What a lot held is said, and no note with it. */
static bool says_what_it_held(const struct edit *edit)
{
    size_t amount = reg_field(edit->reg, "amount_units"), note = reg_field(edit->reg, "note");
    if (edit->reg != reg_get(REG_LOT))
        return false;
    return edit->present[note] ? edit->cells[note].kind == CELL_EMPTY : edit->present[amount];
}

static bool put_edit(struct editing *in, const struct edit *typed, const struct cell *old, struct err *e)
{
    struct edit edit = *typed;
    enum put outcome;
    size_t field;
    struct put_told told = {0};
    struct text label = {0};
    bool ok = (!edit.weight || tell_weight(in, &edit, old, e)) &&
              label_fill(&edit.label, edit.reg, old, edit.cells, edit.present, &label, e) &&
              (store_put_told(in->store, edit.reg, edit.cells, edit.present, &outcome, &told, &field, e) ||
               blame_field(edit.reg, field, e)) &&
              (!says_what_it_held(&edit) || lot_row_holds(in->store, told.after, e));
    if (ok) {
        in->counts.read++;
        load_counts_add(&in->counts, outcome);
        row_words(edit.reg, edit.cells, in->c->out);
        text_addf(in->c->out, ": %s\n%s", put_words(outcome), text_str(&label));
        if (outcome == PUT_CHANGED)
            changes_words(edit.reg, told.before, told.after, in->c->out);
    }
    text_free(&label);
    arena_free(&told.arena);
    return ok;
}

/* The row as it is, and its key: it may have been typed in another case. */
static bool get_old(struct editing *in, struct edit *edit, struct cell *old, struct err *e)
{
    struct err why;
    struct text name = {0};
    size_t n_keys = register_n_keys(edit->reg);
    if (store_get(in->store, edit->reg, edit->cells, old, &in->arena, &why)) {
        memcpy(edit->cells, old, n_keys * sizeof *old);
        return true;
    }
    if (why.code != ERR_NOT_FOUND || n_keys == 1)
        return *e = why, blame_field(edit->reg, 0, e);
    row_words(edit->reg, edit->cells, &name); /* of several key fields the store cannot say which is off */
    err_set(e, ERR_NOT_FOUND, NULL, "there is no %s; neap list %s shows them", text_str(&name), edit->reg->name);
    text_free(&name);
    return false;
}

static bool change_row(struct editing *in, const struct edit *typed, struct err *e)
{
    struct cell old[FIELDS_MAX];
    struct edit edit = *typed;
    return get_old(in, &edit, old, e) && put_edit(in, &edit, old, e);
}

static bool add_row(struct editing *in, const struct edit *edit, struct err *e)
{
    struct cell old[FIELDS_MAX];
    bool found;
    if (!store_find(in->store, edit->reg, edit->cells, old, &found, &in->arena, e))
        return false;
    if (found) {
        struct text name = {0};
        row_words(edit->reg, old, &name);
        err_set(e, ERR_INPUT, NULL, "%s is there already; neap set changes it", text_str(&name));
        text_free(&name);
        return false;
    }
    return put_edit(in, edit, NULL, e);
}

/* All edits as one journal entry. */
static bool run_edits(struct editing *in, const struct edit *edits, size_t n,
                      bool (*one)(struct editing *in, const struct edit *edit, struct err *e), struct err *e)
{
    if (!context_open(in->c, STORE_WRITE, &in->store, e))
        return false;
    bool ok = store_begin(in->store, e);
    for (size_t i = 0; ok && i < n; i++)
        ok = one(in, &edits[i], e);
    ok = entry_end(in->c, in->store, ok, &in->counts, e);
    store_close(in->store);
    return ok;
}

/* ---- add and set ----------------------------------------------------------------------------------------------- */

static bool read_label(struct edit *edit, enum label_word word, const char *name, const char *value, struct err *e)
{
    if (edit->label.typed[word] || edit->present[label_field(edit->reg, word)])
        return err_set(e, ERR_MISUSE, NULL, "%s is given twice; expected it once", name);
    edit->label.typed[word] = value;
    return true;
}

static bool read_assignment(struct edit *edit, const char *arg, struct arena *a, struct err *e)
{
    char name[NAME_BYTES_MAX + 1];
    const char *value;
    struct cell cell;
    if (!split_assignment(arg, name, &value, e))
        return false;
    enum label_word word;
    if (label_word_of(edit->reg, name, value, &word))
        return read_label(edit, word, name, value, e);
    size_t at = field_named(edit->reg, name, e);
    if (at == SIZE_MAX)
        return false;
    if (field_is_key(&edit->reg->fields[at]))
        return err_set(e, ERR_MISUSE, NULL,
                       "%s is what the row is known by; expected it without \"%s=\", before the fields", name, name);
    bool by_label = false;
    for (int i = 0; i < N_LABEL_WORDS; i++)
        by_label = by_label || (edit->label.typed[i] && label_field(edit->reg, (enum label_word)i) == at);
    if (edit->present[at] || by_label)
        return err_set(e, ERR_MISUSE, NULL, "%s is given twice; expected it once", name);
    double bare;
    if (edit->reg == reg_get(REG_LOT) && strcmp(name, "amount_units") == 0 && *value && !number_parse(value, &bare)) {
        edit->weight = value;
        return true;
    }
    if (!value_read(&edit->reg->fields[at], value, a, &cell, e))
        return false;
    set_cell(edit, at, cell);
    return true;
}

/* REGISTER KEY… field=value…, with as many key words as the register has key fields. */
static bool read_row(const struct context *c, const struct reg *r, struct edit *edit, struct arena *a, struct err *e)
{
    size_t n_keys = register_n_keys(r);
    *edit = (struct edit){.reg = r};
    if (c->n_args < 1 + n_keys || (n_keys > 1 && strchr(c->args[n_keys], '='))) {
        struct text keys = {0};
        for (size_t i = 0; i < n_keys; i++)
            text_addf(&keys, " %s", r->fields[i].name);
        err_set(e, ERR_MISUSE, NULL, "which %s? expected neap %s %s%s field=value…", r->name, c->command->name, r->name,
                text_str(&keys));
        text_free(&keys);
        return false;
    }
    if (!key_read(r, c->args + 1, edit->cells, a, e))
        return false;
    for (size_t i = 0; i < n_keys; i++)
        edit->present[i] = true;
    for (size_t i = 1 + n_keys; i < c->n_args; i++)
        if (!read_assignment(edit, c->args[i], a, e))
            return false;
    return true;
}

static bool read_setting(const struct reg *r, const char *arg, struct edit *edit, struct arena *a, struct err *e)
{
    char name[NAME_BYTES_MAX + 1];
    const char *value;
    struct cell figure;
    struct text text = {0};
    *edit = (struct edit){.reg = r};
    if (!split_assignment(arg, name, &value, e))
        return false;
    size_t at = field_named(settings_reg(), name, e);
    if (at == SIZE_MAX || !value_read(&settings_reg()->fields[at], value, a, &figure, e))
        return false;
    if (figure.kind == CELL_EMPTY && settings_reg()->fields[at].fallback) /* a figure is never empty */
        text_add(&text, settings_reg()->fields[at].fallback);
    cell_format(&settings_reg()->fields[at], &figure, &text);
    const char *key = settings_reg()->fields[at].name, *kept = arena_text(a, text_str(&text));
    bool ok = kept && !text.failed ? true : err_memory(e);
    text_free(&text);
    set_cell(edit, 0, (struct cell){.kind = CELL_TEXT, .text = key});
    set_cell(edit, 1, (struct cell){.kind = ok && *kept ? CELL_TEXT : CELL_EMPTY, .text = kept});
    return ok;
}

/* A setting that was never set is not there; setting it is no different from changing it. */
static bool change_setting(struct editing *in, const struct edit *edit, struct err *e)
{
    struct cell old[FIELDS_MAX];
    bool found;
    return store_find(in->store, edit->reg, edit->cells, old, &found, &in->arena, e) &&
           put_edit(in, edit, found ? old : NULL, e);
}

static bool set_settings(struct editing *in, const struct reg *r, struct err *e)
{
    struct edit edits[FIELDS_MAX];
    size_t n = in->c->n_args - 1;
    if (n == 0 || n > COUNT_OF(edits))
        return err_set(e, ERR_MISUSE, NULL, "which setting? expected such as neap set setting feeders=2");
    for (size_t i = 0; i < n; i++)
        if (!read_setting(r, in->c->args[i + 1], &edits[i], &in->arena, e))
            return false;
    return run_edits(in, edits, n, change_setting, e);
}

/* ---- a food asked for, as its label has it ----------------------------------------------------------------------- */

static const struct food_question {
    const char *word, *question, *fallback; /* fallback "": Enter leaves it out; NULL: an answer is needed */
} food_questions[] = {
    {"form", "What is it: liquid, live, powder, pellet or frozen?", "powder"},
    {"unit", "Measured in g or in ml?", "g"},
    {"density_g_per_ml", "Grams of one mL, where you know it?", "1"},
    {"protein", "Protein, percent by the label; Enter where it is not printed?", ""},
    {"moisture", "Moisture, percent?", ""},
    {"phosphorus", "Phosphorus, percent?", ""},
    {"ceiling", "The most a day, as printed: 5 mL per 50 US gal, or g or mL for 100 L?", NULL},
    {"rate", "The usual broadcast, as printed; Enter where it is not broadcast?", ""},
    {"blend_share_frac", "Its share of the dry food in a pot, as 30%; Enter where it is in none?", ""},
    {"max_particle_um", "Its coarsest particle, as 500um or 1.5mm?", "0"},
    {"pack_units", "A pack holds how much, in its unit?", "100"},
    {"price", "Price of a pack?", "0"},
    {"opened_life_d", "Days it keeps once opened?", "90"},
};

struct food_asked {
    struct edit *edit;
    struct arena *arena;
    const struct food_question *question;
};

/* An answer is held against what the whole row can be, so that none is refused after the last one. */
static bool take_food_answer(void *context, const char *answer, struct err *e)
{
    struct food_asked *f = context;
    struct edit with = *f->edit, whole;
    struct text told = {0};
    char *assignment;
    if (!*answer && !f->question->fallback)
        return err_set(e, ERR_INPUT, NULL, "it is the limit that no round passes; expected the label's figure");
    if (!*answer)
        return true;
    assignment = arena_format(f->arena, "%s=%s", f->question->word, answer);
    if (!assignment)
        return err_memory(e);
    if (!read_assignment(&with, assignment, f->arena, e))
        return false;
    whole = with;
    bool ok = label_fill(&with.label, with.reg, NULL, whole.cells, whole.present, &told, e);
    text_free(&told);
    if (ok)
        *f->edit = with;
    return ok;
}

/* What is poured is measured in mL. */
static const char *food_fallback(const struct edit *edit, const struct food_question *q)
{
    const struct cell *form = &edit->cells[reg_field(edit->reg, "form")];
    bool poured = form->kind == CELL_TEXT && strcmp(form->text, "liquid") == 0;
    return strcmp(q->word, "unit") == 0 && poured ? "ml" : q->fallback;
}

static bool ask_food(struct context *c, struct edit *edit, struct arena *a, bool *left, struct err *e)
{
    text_add(c->out, "Enter takes what stands in brackets, q leaves; nothing is stored before the last\n"
                     "answer.\n");
    for (size_t i = 0; i < COUNT_OF(food_questions); i++) {
        const char *fallback = food_fallback(edit, &food_questions[i]);
        struct food_asked f = {edit, a, &food_questions[i]};
        if (!ask_until(c, food_questions[i].question, fallback && *fallback ? fallback : NULL, take_food_answer, &f,
                       left, e))
            return false;
        if (*left)
            return true;
    }
    return true;
}

static bool add_run(struct context *c, struct err *e)
{
    struct editing in = {.c = c};
    struct edit edit;
    const struct reg *r = register_typed(c->args[0], e);
    bool ok = r != NULL;
    if (ok && r == reg_get(REG_SETTING))
        ok = err_set(e, ERR_MISUSE, NULL, "settings are all there; expected such as neap set setting feeders=2");
    bool left = false;
    ok = ok && read_row(c, r, &edit, &in.arena, e);
    if (ok && r == reg_get(REG_FOOD) && c->n_args == 2 && context_may_ask())
        ok = ask_food(c, &edit, &in.arena, &left, e);
    if (left)
        text_add(c->out, "nothing was stored\n");
    else
        ok = ok && run_edits(&in, &edit, 1, add_row, e);
    arena_free(&in.arena);
    return ok;
}

static bool set_run(struct context *c, struct err *e)
{
    struct editing in = {.c = c};
    struct edit edit;
    const struct reg *r = register_typed(c->args[0], e);
    bool ok = r != NULL;
    if (ok && r == reg_get(REG_SETTING)) {
        ok = set_settings(&in, r, e);
    } else if (ok) {
        ok = read_row(c, r, &edit, &in.arena, e);
        if (ok && c->n_args == 1 + register_n_keys(r))
            ok = err_set(e, ERR_MISUSE, NULL,
                         "set it to what? expected field=value; neap list %s --fields shows the fields", r->name);
        ok = ok && run_edits(&in, &edit, 1, change_row, e);
    }
    arena_free(&in.arena);
    return ok;
}

/* ---- retire, hold, release: the same fields of several rows ------------------------------------------------------ */

/* Edits of the rows that args[1…] name, each with the fields of what. */
static bool edit_each(struct editing *in, const struct edit *what,
                      bool (*one)(struct editing *in, const struct edit *edit, struct err *e), struct err *e)
{
    size_t n = in->c->n_args - 1;
    struct edit *edits = arena_alloc(&in->arena, n, sizeof *edits);
    if (!edits)
        return err_memory(e);
    for (size_t i = 0; i < n; i++) {
        edits[i] = *what;
        edits[i].present[0] = true;
        if (!key_read(what->reg, in->c->args + 1 + i, edits[i].cells, &in->arena, e))
            return false;
    }
    return run_edits(in, edits, n, one, e);
}

/* Rows in use that point to a row: a retired tank would take its corals out of the round unseen. */
struct rows_in_use {
    size_t field, retired;
    const char *key;
    size_t n;
    char first[NAME_BYTES_MAX + 1];
};

static bool count_standing(void *context, const struct cell *cells, struct err *e)
{
    struct rows_in_use *st = context;
    (void)e;
    if (cells[st->retired].whole == 0 && strcmp(cells[st->field].text, st->key) == 0 && st->n++ == 0)
        snprintf(st->first, sizeof st->first, "%s", cells[0].text);
    return true;
}

static bool nothing_stands(struct editing *in, const struct reg *to, const char *key, struct err *e)
{
    for (size_t i = 0; i < N_REGS; i++) {
        const struct reg *r = reg_get((enum reg_id)i);
        for (size_t k = 0; k < r->n_fields && reg_field(r, "retired") != SIZE_MAX; k++) {
            if (r->fields[k].type != FIELD_REF || reg_get(r->fields[k].ref) != to)
                continue;
            struct rows_in_use st = {.field = k, .retired = reg_field(r, "retired"), .key = key};
            if (!store_each(in->store, r, count_standing, &st, e))
                return false;
            if (st.n > 0)
                return err_set(e, ERR_INPUT, NULL,
                               "%s \"%s\" still has %zu %s rows in use, such as \"%s\"; expected them moved "
                               "or retired first",
                               to->name, key, st.n, r->name, st.first);
        }
    }
    return true;
}

static bool retire_row(struct editing *in, const struct edit *typed, struct err *e)
{
    struct cell old[FIELDS_MAX];
    struct edit edit = *typed;
    return get_old(in, &edit, old, e) && nothing_stands(in, edit.reg, edit.cells[0].text, e) &&
           put_edit(in, &edit, old, e);
}

static bool retire_run(struct context *c, struct err *e)
{
    struct editing in = {.c = c};
    struct edit what = {.reg = register_typed(c->args[0], e)};
    if (!what.reg)
        return false;
    size_t retired = reg_field(what.reg, "retired");
    if (retired == SIZE_MAX)
        return err_set(e, ERR_MISUSE, NULL, "%s rows do not retire; expected a register with the field \"retired\"",
                       what.reg->name);
    set_cell(&what, retired, (struct cell){.kind = CELL_WHOLE, .whole = 1});
    bool ok = edit_each(&in, &what, retire_row, e);
    arena_free(&in.arena);
    return ok;
}

static bool hold_begin(struct context *c, struct edit *what, struct err *e)
{
    *what = (struct edit){.reg = register_typed(c->args[0], e)};
    if (!what->reg)
        return false;
    if (reg_field(what->reg, "hold_reason") == SIZE_MAX)
        return err_set(e, ERR_MISUSE, NULL, "%s rows are not held; expected colony or tank", what->reg->name);
    set_cell(what, reg_field(what->reg, "hold_reason"), (struct cell){0});
    set_cell(what, reg_field(what->reg, "hold_until"), (struct cell){0});
    return true;
}

static bool hold_fields(const struct context *c, struct edit *what, struct arena *a, struct err *e)
{
    size_t reason = reg_field(what->reg, "hold_reason"), until = reg_field(what->reg, "hold_until");
    if (!*option_text(c, "reason", ""))
        return err_set(e, ERR_MISUSE, NULL, "why is it held? expected --reason TEXT, which the sheet prints");
    if (!value_read(&what->reg->fields[reason], option_text(c, "reason", ""), a, &what->cells[reason], e))
        return false;
    if (!option_given(c, "until"))
        return true;
    if (option_get(c, "until")->day < c->today)
        return err_set(e, ERR_MISUSE, NULL, "--until %s is past; expected today or later", option_text(c, "until", ""));
    return value_read(&what->reg->fields[until], option_text(c, "until", ""), a, &what->cells[until], e);
}

static bool hold_run(struct context *c, struct err *e)
{
    struct editing in = {.c = c};
    struct edit what;
    bool ok = hold_begin(c, &what, e) && hold_fields(c, &what, &in.arena, e) && edit_each(&in, &what, change_row, e);
    arena_free(&in.arena);
    return ok;
}

static bool release_run(struct context *c, struct err *e)
{
    struct editing in = {.c = c};
    struct edit what;
    bool ok = hold_begin(c, &what, e) && edit_each(&in, &what, change_row, e);
    arena_free(&in.arena);
    return ok;
}

/* ---- rows ------------------------------------------------------------------------------------------------------ */

const struct command command_add = {
    .name = "add",
    .place = 550,
    .summary = "add a tank, a colony, a food …",
    .also = "create",
    .usage = "REGISTER KEY… FIELD=VALUE…",
    .about = "Adds one row. Numbers may carry a unit where the field's name ends in one: water_cm=16in, "
             "net_volume_l=65usgal, "
             "displacement_frac=20%; so may the amount of a lot: 250g of a liquid counts by its density. Of a food its "
             "label "
             "may be typed as it is printed: protein=45%, moisture=8%, phosphorus=1.2%, rate=\"5 mL per 50 US gal\", "
             "ceiling=…, price=12.50; add food NAME alone asks for them at a terminal. neap list REGISTER "
             "--fields shows what can be filled in, and what is taken where it is not.",
    .example = "neap add tank \"frag rack\" system=north shape=stated net_volume_l=65usgal",
    .options = (const struct option_row[]){OPTION_DRY_RUN, {0}},
    .args_min = 2,
    .args_max = KEYS_MAX,
    .run = add_run,
};

const struct command command_set = {
    .name = "set",
    .place = 560,
    .summary = "change fields of a row, or the house's settings",
    .also = "edit update",
    .usage = "REGISTER KEY… FIELD=VALUE… | setting NAME=VALUE…",
    .about = "Changes fields of one row and shows what each was before; FIELD= empties it. The house's settings need "
             "no key: "
             "neap set setting feeders=2 units=us; emptied, one is what it is in every house.",
    .example = "neap set setting feeders=2 rest_min=6min",
    .options = (const struct option_row[]){OPTION_DRY_RUN, {0}},
    .args_min = 2,
    .args_max = KEYS_MAX,
    .run = set_run,
};

const struct command command_retire = {
    .name = "retire",
    .place = 570,
    .summary = "take rows out of use, keeping their history",
    .also = "delete remove drop",
    .usage = "REGISTER KEY…",
    .about =
        "Takes rows out of use. What was logged of them stays. A row that others in use point to is refused: a retired "
        "tank must not take its corals out of the round unseen. neap set REGISTER KEY retired=no brings one back.",
    .example = "neap retire lot AA-31",
    .options = (const struct option_row[]){OPTION_DRY_RUN, {0}},
    .args_min = 2,
    .args_max = KEYS_MAX,
    .run = retire_run,
};

const struct command command_hold = {
    .name = "hold",
    .place = 580,
    .summary = "keep colonies or tanks from being fed",
    .also = "pause stop",
    .usage = "colony|tank KEY… --reason TEXT",
    .about =
        "Holds colonies, or whole tanks, until a day or until they are released. The sheet names who is held, and why.",
    .example = "neap --on 2026-11-27 hold tank D1 --reason treated --until 2026-11-29",
    .options =
        (const struct option_row[]){{"reason", OPT_TEXT, "TEXT", .help = "why; printed on the sheet"},
                                    {"until", OPT_DAY, "DATE", .help = "last day of the hold, else until released"},
                                    OPTION_DRY_RUN,
                                    {0}},
    .args_min = 2,
    .args_max = KEYS_MAX,
    .run = hold_run,
};

const struct command command_release = {
    .name = "release",
    .place = 590,
    .summary = "end a hold",
    .also = "unhold resume",
    .usage = "colony|tank KEY…",
    .about = "Ends the hold of colonies or tanks before its day.",
    .example = "neap release tank D1",
    .options = (const struct option_row[]){OPTION_DRY_RUN, {0}},
    .args_min = 2,
    .args_max = KEYS_MAX,
    .run = release_run,
};
