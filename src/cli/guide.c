/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A facility asked for step by step. */
#include "guide.h"

#include "asking.h"

#include "neap/calc.h"
#include "neap/label.h"
#include "neap/naming.h"

#include <ctype.h>

enum { CHOICES_MAX = 60, TANKS_MAX = 99 };

/* A kind or a food of the stock. unfed: of a kind; unit, ceiling and density: of a food. */
struct choice {
    const char *name;
    char unit[4];
    double ceiling, density_g_per_ml;
    bool unfed;
};

/* Those that an answer chooses from, by number, name or the beginning of one. */
struct choices {
    struct choice rows[CHOICES_MAX];
    size_t n;
};

struct asked_row {
    const struct reg *reg;
    struct cell cells[FIELDS_MAX];
};

/* The keys of the rows that were kept, so that no name is given twice. */
enum { KEYS_MAX = 2000 };
struct kept_key {
    const struct reg *reg;
    const char *key;
};

/* One sitting. stop: no more answers, or *e is set. */
struct guiding {
    struct context *c;
    struct guide *g;
    struct arena arena;
    struct choices kinds, foods;
    bool us_units, left, stop;
    struct kept_key keys[KEYS_MAX];
    size_t n_keys;
    struct err *e;
};

void guide_free(struct guide *g)
{
    for (size_t i = 0; i < GUIDE_TABLES; i++)
        text_free(&g->tables[i]);
}

/* ---- the stock --------------------------------------------------------------------------------------------------- */

struct reading_choices {
    struct choices *to;
    struct arena *arena;
};

static bool keep_choice(void *context, const struct exchange_row *row, size_t *field, struct err *e)
{
    struct reading_choices *r = context;
    struct choices *to = r->to;
    size_t unit = reg_field(row->reg, "unit"), ceiling = reg_field(row->reg, "ceiling_units_per_100l"),
           feeding = reg_field(row->reg, "feeding"), density = reg_field(row->reg, "density_g_per_ml");
    (void)field;
    if (to->n == CHOICES_MAX)
        return true;
    struct choice *choice = &to->rows[to->n];
    choice->name = arena_text(r->arena, row->cells[0].text);
    if (unit != SIZE_MAX)
        snprintf(choice->unit, sizeof choice->unit, "%s", row->cells[unit].text);
    if (ceiling != SIZE_MAX)
        choice->ceiling = row->cells[ceiling].number;
    if (density != SIZE_MAX)
        choice->density_g_per_ml = row->cells[density].kind == CELL_NUMBER ? row->cells[density].number : 1;
    choice->unfed = feeding != SIZE_MAX && strcmp(row->cells[feeding].text, "none") == 0;
    to->n++;
    return choice->name ? true : err_memory(e);
}

static bool read_choices(struct guiding *s, const struct source *from, struct choices *to)
{
    struct reading_choices r = {to, &s->arena};
    struct faults faults = {0};
    size_t rows;
    bool ok =
        exchange_read(from, NULL, &(struct exchange_sink){.put = keep_choice, .context = &r}, &faults, &rows, s->e);
    faults_free(&faults);
    return ok;
}

static void list_choices(const struct choices *from, struct text *out)
{
    for (size_t i = 0; i < from->n; i++) {
        bool ends = i % 2 == 1 || i + 1 == from->n;
        text_addf(out, "  %2zu %-*s%s", i + 1, ends ? 0 : 36, from->rows[i].name, ends ? "\n" : "");
    }
}

static bool begins_same(const char *name, const char *typed)
{
    for (; *typed; name++, typed++)
        if (tolower((unsigned char)*name) != tolower((unsigned char)*typed))
            return false;
    return true;
}

static bool choose(const struct choices *from, const char *typed, size_t *chosen, struct err *e)
{
    char *end;
    unsigned long number = strtoul(typed, &end, 10);
    size_t found = SIZE_MAX;
    if (isdigit((unsigned char)*typed) && *end == '\0' && number >= 1 && number <= from->n) {
        *chosen = number - 1;
        return true;
    }
    for (size_t i = 0; *typed && i < from->n; i++) {
        if (!begins_same(from->rows[i].name, typed))
            continue;
        if (found != SIZE_MAX && strlen(from->rows[i].name) != strlen(typed))
            return err_set(e, ERR_INPUT, NULL, "\"%.40s\" begins both %s and %s; expected a number of the list", typed,
                           from->rows[found].name, from->rows[i].name);
        found = i;
    }
    if (found == SIZE_MAX)
        return err_set(e, ERR_INPUT, NULL, "\"%.40s\" is not of the list; expected a number from 1 to %zu", typed,
                       from->n);
    *chosen = found;
    return true;
}

/* ---- one question ------------------------------------------------------------------------------------------------ */

static void ask(struct guiding *s, const char *question, const char *fallback, ask_take *take, void *context)
{
    bool left;
    if (s->stop)
        return;
    if (!ask_until(s->c, question, fallback, take, context, &left, s->e))
        s->stop = true;
    else if (left)
        s->stop = s->left = true;
}

/* What a measure is typed in, by how the person thinks: what a number without a unit is then in. */
struct asked_unit {
    const char *metric, *us;
};
static const struct asked_unit of_water = {"L", "usgal"}, of_length = {"cm", "in"}, of_way = {"m", "ft"};

struct field_asked {
    struct guiding *s;
    struct asked_row *row;
    size_t field;
    const char *unit; /* of a bare number, where it is not the field's own; NULL */
    bool needed;      /* a measure that nothing stands in for */
};

static bool take_field(void *context, const char *answer, struct err *e)
{
    struct field_asked *f = context;
    const struct field *field = &f->row->reg->fields[f->field];
    struct cell cell = {0};
    double bare;
    char own[96];
    bool turned = f->unit && number_parse(answer, &bare);
    snprintf(own, sizeof own, "%.80s%s", answer, turned ? f->unit : "");
    if (!value_read(field, own, &f->s->arena, &cell, e))
        return false;
    if (cell.kind == CELL_EMPTY && f->needed)
        return err_set(e, ERR_INPUT, NULL, "expected a measure; it may carry its unit, such as 16 in");
    if (cell.kind == CELL_EMPTY && (field->flags & FIELD_REQUIRED))
        return err_set(e, ERR_INPUT, NULL, "expected %s", field->help);
    for (size_t i = 0; f->field == 0 && i < f->s->n_keys; i++)
        if (f->s->keys[i].reg == f->row->reg && text_same_but_case(f->s->keys[i].key, cell.text))
            return err_set(e, ERR_INPUT, NULL, "%s \"%.60s\" is there already; expected another name",
                           f->row->reg->name, cell.text);
    f->row->cells[f->field] = cell;
    return true;
}

/* unit: NULL for what is no measure. */
static void ask_field(struct guiding *s, struct asked_row *row, const char *field, const char *question,
                      const char *fallback, const struct asked_unit *unit)
{
    struct field_asked f = {s, row, reg_field(row->reg, field), unit && s->us_units ? unit->us : NULL,
                            unit && !fallback};
    char whole[120];
    snprintf(whole, sizeof whole, "%s%s%s?", question, unit ? ", " : "",
             !unit         ? ""
             : s->us_units ? unit->us
                           : unit->metric);
    ask(s, whole, fallback, take_field, &f);
}

static bool take_yes(void *context, const char *answer, struct err *e)
{
    bool *yes = context;
    char first = (char)tolower((unsigned char)*answer);
    if (first != 'y' && first != 'n')
        return err_set(e, ERR_INPUT, NULL, "expected y or n");
    *yes = first == 'y';
    return true;
}

static bool ask_yes(struct guiding *s, const char *question, const char *fallback)
{
    bool yes = false;
    ask(s, question, fallback, take_yes, &yes);
    return yes && !s->stop;
}

static void set_text(struct guiding *s, struct asked_row *row, const char *field, const char *text)
{
    const char *own = arena_text(&s->arena, text);
    if (!own) {
        s->stop = true;
        err_memory(s->e);
        return;
    }
    row->cells[reg_field(row->reg, field)] = (struct cell){.kind = CELL_TEXT, .text = own};
}

static void keep_row(struct guiding *s, size_t table, const struct asked_row *row)
{
    struct text *t = &s->g->tables[table];
    if (s->stop)
        return;
    if (t->len == 0)
        csv_write_head(row->reg, NULL, t);
    csv_write_row(row->reg, row->cells, NULL, t);
    if (s->n_keys < KEYS_MAX)
        s->keys[s->n_keys++] = (struct kept_key){row->reg, row->cells[0].text};
}

/* ---- the house, and its water ------------------------------------------------------------------------------------ */

static void keep_setting(struct guiding *s, const struct asked_row *figures, const char *name)
{
    struct asked_row row = {.reg = reg_get(REG_SETTING)};
    size_t at = reg_field(figures->reg, name);
    struct text value = {0};
    cell_format(&figures->reg->fields[at], &figures->cells[at], &value);
    set_text(s, &row, "name", name);
    set_text(s, &row, "value", text_str(&value));
    if (value.len > 0)
        keep_row(s, GUIDE_SETTING, &row);
    text_free(&value);
}

static void ask_house(struct guiding *s)
{
    struct asked_row house = {.reg = settings_reg()};
    ask_field(s, &house, "units", "Units, metric or us", "metric", NULL);
    if (s->stop)
        return;
    s->us_units = strcmp(house.cells[reg_field(house.reg, "units")].text, "us") == 0;
    ask_field(s, &house, "facility", "Your facility's name, for the paper", "our facility", NULL);
    ask_field(s, &house, "feeders", "How many people feed", "1", NULL);
    ask_field(s, &house, "currency", "What prices are in, such as EUR", "none", NULL);
    keep_setting(s, &house, "units");
    keep_setting(s, &house, "facility");
    keep_setting(s, &house, "feeders");
    keep_setting(s, &house, "currency");
}

static void ask_system(struct guiding *s, struct asked_row *system)
{
    *system = (struct asked_row){.reg = reg_get(REG_SYSTEM)};
    text_add(s->c->out, "\nA system is what shares its water: tanks on one sump, or one tank alone.\n");
    ask_field(s, system, "name", "What do you call the first one", "main", NULL);
    ask_field(s, system, "sump_volume_l", "Water in its sump", "0", &of_water);
    keep_row(s, GUIDE_SYSTEM, system);
}

/* ---- tanks ------------------------------------------------------------------------------------------------------- */

static const struct typed_measure {
    const char *shape, *field, *question;
} measures[] = {
    {"box", "length_cm", "Inside length"},
    {"box", "width_cm", "Inside width, front to back"},
    {"bow front", "length_cm", "Inside length"},
    {"bow front", "width_cm", "Inside width at the ends"},
    {"bow front", "bow_cm", "How far the front stands out"},
    {"cut corner", "length_cm", "Inside length"},
    {"cut corner", "width_cm", "Inside width, front to back"},
    {"cut corner", "cut_length_cm", "What the cut takes of the length"},
    {"cut corner", "cut_width_cm", "What the cut takes of the width"},
    {"cylinder", "diameter_cm", "Inside diameter"},
    {"half cylinder", "diameter_cm", "Inside diameter"},
    {"quarter cylinder", "side_cm", "Inside length of a straight side"},
    {"prism", "side_cm", "Inside length of a side"},
};

static void ask_measures(struct guiding *s, struct asked_row *tank)
{
    const char *shape = tank->cells[reg_field(tank->reg, "shape")].text;
    if (strcmp(shape, "stated") == 0) {
        ask_field(s, tank, "net_volume_l", "How much water is in it", NULL, &of_water);
        return;
    }
    if (strcmp(shape, "prism") == 0)
        ask_field(s, tank, "n_sides", "How many sides", "6", NULL);
    for (size_t i = 0; i < COUNT_OF(measures); i++)
        if (strcmp(measures[i].shape, shape) == 0)
            ask_field(s, tank, measures[i].field, measures[i].question, NULL, &of_length);
    ask_field(s, tank, "water_cm", "Height of the water", NULL, &of_length);
    ask_field(s, tank, "displacement_frac", "What rock, sand and racks take up", "10%", NULL);
}

/* Says the volume; false: the measures cannot be, and are asked for again. */
static bool tell_volume(struct guiding *s, const struct asked_row *row)
{
    struct tank t;
    struct err why = {0};
    size_t field;
    double gross;
    if (s->stop)
        return true;
    if (!row_fill(row->reg, row->cells, &t, &field, &why) || !tank_gross(&t, &gross, &why)) {
        text_addf(s->c->out, "  That cannot be: %s\n", why.text);
        return false;
    }
    double net = t.shape == SHAPE_STATED ? gross : gross * (1 - t.displacement_frac);
    text_addf(s->c->out, "  That is %.0f L (%.0f US gal) of water.\n", net, us_gal_from_litres(net));
    return true;
}

static void ask_tank(struct guiding *s, const struct asked_row *system, size_t n, struct asked_row *tank)
{
    char name[16], position[16];
    bool fits = false;
    snprintf(name, sizeof name, "T%zu", n);
    snprintf(position, sizeof position, "%zu", s->us_units ? 10 * n : 3 * n);
    text_add(s->c->out, "\n");
    while (!s->stop && !fits) {
        *tank = (struct asked_row){.reg = reg_get(REG_TANK)};
        tank->cells[reg_field(tank->reg, "system")] = system->cells[0];
        ask_field(s, tank, "name", "What is written on the tank", name, NULL);
        ask_field(s, tank, "shape",
                  "Shape: box, bow front, cut corner, cylinder, half cylinder,\n"
                  "quarter cylinder, prism, or stated for a volume you know",
                  "box", NULL);
        if (!s->stop)
            ask_measures(s, tank);
        ask_field(s, tank, "position_m", "How far along your walk through the room", position, &of_way);
        ask_field(s, tank, "fish", "Are there fish in it that must be fed first, yes or no", "no", NULL);
        fits = tell_volume(s, tank);
    }
    keep_row(s, GUIDE_TANK, tank);
}

/* ---- corals ------------------------------------------------------------------------------------------------------ */

struct kind_asked {
    const struct choices *from;
    size_t chosen; /* SIZE_MAX: no more */
};

static bool take_kind(void *context, const char *answer, struct err *e)
{
    struct kind_asked *k = context;
    bool no =
        text_same_but_case(answer, "n") || text_same_but_case(answer, "no"); /* not the first kind that begins so */
    k->chosen = SIZE_MAX;
    return no || strcmp(answer, "no more") == 0 || choose(k->from, answer, &k->chosen, e);
}

static void ask_corals(struct guiding *s, const struct asked_row *tank)
{
    const char *name = tank->cells[0].text;
    char question[160], code[NAME_BYTES_MAX + 8];
    for (size_t n = 1; !s->stop && n <= TANKS_MAX; n++) {
        struct kind_asked k = {&s->kinds, SIZE_MAX};
        struct asked_row colony = {.reg = reg_get(REG_COLONY)};
        if (n == 1 && s->g->tables[GUIDE_COLONY].len == 0) {
            text_add(s->c->out, "\nCorals are kept as lots of like ones. The kinds, which say how each is fed:\n");
            list_choices(&s->kinds, s->c->out);
        }
        snprintf(question, sizeof question, "A kind of corals in %.60s, by number or name?", name);
        ask(s, question, "no more", take_kind, &k);
        if (s->stop || k.chosen == SIZE_MAX)
            return;
        const struct choice *kind = &s->kinds.rows[k.chosen];
        snprintf(code, sizeof code, "%.56s-%02zu", name, n);
        set_text(s, &colony, "tank", name);
        set_text(s, &colony, "kind", kind->name);
        ask_field(s, &colony, "code", "The label on the lot or its rack", code, NULL);
        ask_field(s, &colony, "label", "What the sheet should call it", kind->name, NULL);
        ask_field(s, &colony, "count", "How many of them", "1", NULL);
        if (!kind->unfed)
            ask_field(s, &colony, "heads", "Heads or polyps of each that eat", "1", NULL);
        keep_row(s, GUIDE_COLONY, &colony);
    }
}

/* ---- foods ------------------------------------------------------------------------------------------------------- */

struct ceiling_asked {
    struct guiding *s;
    const struct choice *food;
};

/* The label's own figure or words, into a row that changes the stock's food. */
static bool take_ceiling(void *context, const char *answer, struct err *e)
{
    struct ceiling_asked *k = context;
    const struct reg *r = reg_get(REG_FOOD);
    struct text *t = &k->s->g->tables[GUIDE_FOOD], told = {0};
    struct food_label label = {.typed = {[LABEL_CEILING] = answer}};
    struct cell stock[FIELDS_MAX] = {{0}}, cells[FIELDS_MAX] = {{0}};
    bool present[FIELDS_MAX] = {false};
    size_t at = label_field(r, LABEL_CEILING);
    stock[reg_field(r, "unit")] = (struct cell){.kind = CELL_TEXT, .text = k->food->unit};
    stock[reg_field(r, "density_g_per_ml")] = (struct cell){.kind = CELL_NUMBER, .number = k->food->density_g_per_ml};
    bool ok = label_fill(&label, r, stock, cells, present, &told, e);
    text_free(&told);
    if (!ok)
        return false;
    if (!(cells[at].number >= r->fields[at].min && cells[at].number <= r->fields[at].max))
        return err_set(e, ERR_INPUT, NULL, "expected more than 0, at most %g", r->fields[at].max);
    if (fabs(cells[at].number - k->food->ceiling) < 1e-9)
        return true;
    if (t->len == 0)
        text_addf(t, "name,%s\n", r->fields[at].name);
    csv_write_cell(k->food->name, t);
    text_add(t, ",");
    cell_format(&r->fields[at], &cells[at], t);
    text_add(t, "\n");
    return true;
}

static void ask_food(struct guiding *s, const struct choice *food)
{
    struct asked_row lot = {.reg = reg_get(REG_LOT)};
    struct ceiling_asked k = {s, food};
    char question[160], code[16], ceiling[32];
    const char *name = food->name, *blank = strchr(name, ' ');
    snprintf(code, sizeof code, "%c%c-1", toupper((unsigned char)name[0]),
             toupper((unsigned char)(blank ? blank[1] : name[1])));
    number_format(food->ceiling, ceiling);
    text_addf(s->c->out, "\n%s\n", name);
    set_text(s, &lot, "food", name);
    snprintf(question, sizeof question, "How much of it is there, in %s", food->unit);
    ask_field(s, &lot, "amount_units", question, NULL, NULL);
    ask_field(s, &lot, "code", "The number on the pack", code, NULL);
    ask_field(s, &lot, "use_by", "Use by, as 2027-01-31; Enter where none is printed", NULL, NULL);
    snprintf(question, sizeof question,
             "The most a day by its label, %s for 100 L,\nor as printed: 5 mL per 50 US gal?", food->unit);
    ask(s, question, ceiling, take_ceiling, &k);
    keep_row(s, GUIDE_LOT, &lot);
}

struct foods_asked {
    const struct choices *from;
    size_t chosen[CHOICES_MAX], n;
};

/* "1 4 9", or "none". */
static bool take_foods(void *context, const char *answer, struct err *e)
{
    struct foods_asked *f = context;
    char word[NAME_BYTES_MAX + 1];
    f->n = 0;
    if (strcmp(answer, "none") == 0)
        return true;
    while (*(answer += strspn(answer, " ,")) != '\0') {
        size_t len = strcspn(answer, " ,");
        if (f->n == CHOICES_MAX)
            return err_set(e, ERR_INPUT, NULL, "that are more than %d; expected each once", CHOICES_MAX);
        snprintf(word, sizeof word, "%.*s", (int)(len > NAME_BYTES_MAX ? NAME_BYTES_MAX : len), answer);
        if (!choose(f->from, word, &f->chosen[f->n], e))
            return false;
        for (size_t i = 0; i < f->n; i++)
            if (f->chosen[i] == f->chosen[f->n])
                return err_set(e, ERR_INPUT, NULL, "%s is there twice; expected each once",
                               f->from->rows[f->chosen[i]].name);
        f->n++;
        answer += len;
    }
    return true;
}

static void ask_foods(struct guiding *s)
{
    struct foods_asked f = {.from = &s->foods};
    text_add(s->c->out, "\nFoods. The stock's figures are a starting point; your labels come first.\n");
    list_choices(&s->foods, s->c->out);
    ask(s, "Which are on your shelf, by number, as 1 4 9?", "none", take_foods, &f);
    for (size_t i = 0; !s->stop && i < f.n; i++)
        ask_food(s, &s->foods.rows[f.chosen[i]]);
}

/* ---- all of it --------------------------------------------------------------------------------------------------- */

static void ask_tanks(struct guiding *s, const struct asked_row *system)
{
    bool more = true;
    for (size_t n = 1; !s->stop && more && n <= TANKS_MAX; n++) {
        struct asked_row tank;
        ask_tank(s, system, n, &tank);
        if (!s->stop)
            ask_corals(s, &tank);
        more = ask_yes(s, "Another tank of this water, y or n?", "n");
    }
}

static bool ask_all(struct guiding *s, bool *asked)
{
    struct asked_row system;
    text_add(s->c->out, "A store for your facility. Enter takes what stands in brackets, q leaves;\n"
                        "nothing is written before the last answer.\n");
    *asked = ask_yes(s, "Enter your first tanks now, y or n?", "y");
    if (*asked) {
        ask_house(s);
        if (!s->stop)
            ask_system(s, &system);
        if (!s->stop)
            ask_tanks(s, &system);
        if (!s->stop)
            ask_foods(s);
    }
    for (size_t i = 0; i < GUIDE_TABLES; i++)
        if (s->g->tables[i].failed)
            return err_memory(s->e);
    return !s->stop || s->left;
}

bool guide_ask(struct context *c, const struct source *kinds, const struct source *foods, struct guide *g, bool *asked,
               bool *left, struct err *e)
{
    static const char *const names[GUIDE_TABLES] = {"setting.csv", "system.csv", "tank.csv",
                                                    "food.csv",    "colony.csv", "lot.csv"};
    struct guiding *s = calloc(1, sizeof *s); /* too large for the stack */
    if (!s)
        return err_memory(e);
    *s = (struct guiding){.c = c, .g = g, .e = e};
    memcpy(g->names, names, sizeof names);
    bool ok = read_choices(s, kinds, &s->kinds) && read_choices(s, foods, &s->foods) && ask_all(s, asked);
    *left = s->left;
    arena_free(&s->arena);
    free(s);
    return ok;
}
