/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The files in data/: every one loads through the register table without a fault, every name it refers to is there,
 * and the stock foods keep their promises.
 */
#include "numbers.h"

#include "neap/calc.h"
#include "neap/stock.h"
#include "neap/exchange.h"

#ifndef NEAP_DATA
#define NEAP_DATA "data"
#endif

/* One file as cells, and as structs where the register has one. */
struct data_table {
    const struct reg *reg;
    struct arena arena;
    struct cell (*cells)[FIELDS_MAX];
    size_t n, room;
    char *rows;
};

static bool keep_cells(struct data_table *t, const struct exchange_row *row)
{
    void *grown = mem_grow(t->cells, &t->room, t->n + 1, sizeof *t->cells);
    assert_non_null(grown);
    t->cells = grown;
    for (size_t i = 0; i < row->reg->n_fields; i++) {
        t->cells[t->n][i] = row->cells[i];
        if (row->cells[i].kind == CELL_TEXT)
            t->cells[t->n][i].text = arena_text(&t->arena, row->cells[i].text);
    }
    t->n++;
    return true;
}

/* The rows of setting.csv have no struct of their own: the value is a field of struct settings. */
static bool setting_fits(const struct data_table *t, const struct cell *cells, struct err *e)
{
    const struct reg *settings = settings_reg();
    size_t i = reg_field(settings, cells[reg_field(t->reg, "name")].text);
    struct arena a = {0};
    struct cell c;
    if (i == SIZE_MAX)
        return err_set(e, ERR_NOT_FOUND, NULL, "no such setting");
    bool ok = cell_parse(&settings->fields[i], cells[reg_field(t->reg, "value")].text, &a, &c, e);
    arena_free(&a);
    return ok;
}

static bool put(void *context, const struct exchange_row *row, size_t *field, struct err *e)
{
    struct data_table *t = context;
    struct {
        max_align_t room[64];
    } filled;
    assert_true(row->reg->row_size <= sizeof filled);
    bool ok = row->reg->row_size ? row_fill(row->reg, row->cells, &filled, field, e) : setting_fits(t, row->cells, e);
    return ok && keep_cells(t, row);
}

static char *file_read(const char *path, size_t *len)
{
    FILE *f = fopen(path, "rb");
    if (!f)
        fail_msg("%s: cannot be opened", path);
    assert_int_equal(fseek(f, 0, SEEK_END), 0);
    long size = ftell(f);
    assert_true(size > 0);
    rewind(f);
    char *bytes = malloc((size_t)size);
    assert_non_null(bytes);
    *len = fread(bytes, 1, (size_t)size, f);
    assert_int_equal(*len, size);
    fclose(f);
    return bytes;
}

/* All of a file, which must hold no fault. */
static struct data_table table_read(const char *folder, enum reg_id id)
{
    struct data_table t = {.reg = reg_get(id)};
    struct text path = {0};
    struct faults faults = {0};
    struct err e = {0};
    size_t len, n_rows;

    text_addf(&path, NEAP_DATA "/%s/%s.csv", folder, t.reg->name);
    char *bytes = file_read(text_str(&path), &len);
    struct source source = {.name = text_str(&path), .bytes = bytes, .len = len};
    if (!exchange_read(&source, NULL, &(struct exchange_sink){.put = put, .context = &t}, &faults, &n_rows, &e))
        fail_msg("%s: %s", text_str(&path), e.text);
    if (faults.n)
        fail_msg("%s", text_str(&faults.lines));
    assert_int_equal(n_rows, t.n);
    faults_free(&faults);
    text_free(&path);
    free(bytes);

    t.rows = calloc(t.n + 1, t.reg->row_size + 1);
    assert_non_null(t.rows);
    for (size_t i = 0, field; t.reg->row_size && i < t.n; i++)
        assert_true(row_fill(t.reg, t.cells[i], t.rows + i * t.reg->row_size, &field, &e));
    return t;
}

static void table_free(struct data_table *t)
{
    free(t->cells);
    free(t->rows);
    arena_free(&t->arena);
}

static const struct cell *table_cell(const struct data_table *t, size_t row, const char *field)
{
    return &t->cells[row][reg_field(t->reg, field)];
}

static bool table_has(const struct data_table *t, const char *key)
{
    for (size_t i = 0; i < t->n; i++)
        if (strcmp(t->cells[i][0].text, key) == 0)
            return true;
    return false;
}

/* ---- stock ------------------------------------------------------------------------------------------------------ */

static void every_stock_row_names_its_source(void **state)
{
    (void)state;
    static const enum reg_id files[] = {REG_KIND, REG_FOOD};
    for (size_t f = 0; f < COUNT_OF(files); f++) {
        struct data_table t = table_read("stock", files[f]);
        assert_true(t.n >= 12);
        for (size_t i = 0; i < t.n; i++)
            if (table_cell(&t, i, "source")->kind == CELL_EMPTY)
                fail_msg("%s \"%s\" has no source", t.reg->name, t.cells[i][0].text);
        table_free(&t);
    }
}

static bool is_late(const struct food *f)
{
    return f->form == FORM_PELLET || f->form == FORM_FROZEN;
}

static void the_house_blend_of_each_pot_adds_up_to_one(void **state)
{
    (void)state;
    struct data_table t = table_read("stock", REG_FOOD);
    const struct food *foods = (const struct food *)(void *)t.rows;
    double sum[2] = {0};
    for (size_t i = 0; i < t.n; i++)
        if (!isnan(foods[i].blend_share_frac)) {
            assert_true(foods[i].blend_share_frac >= foods[i].blend_share_min_frac);
            assert_true(foods[i].blend_share_frac <= foods[i].blend_share_max_frac);
            sum[is_late(&foods[i])] += foods[i].blend_share_frac;
        }
    assert_number(sum[0], 1, 1e-12);
    assert_number(sum[1], 1, 1e-12);
    table_free(&t);
}

static bool in_a_pot(const struct food *f)
{
    return !isnan(f->blend_share_frac) || !isnan(f->blend_ml_per_100ml);
}

static void every_kind_can_swallow_the_whole_of_its_pot(void **state)
{
    (void)state;
    struct data_table foods = table_read("stock", REG_FOOD), kinds = table_read("stock", REG_KIND);
    const struct food *food = (const struct food *)(void *)foods.rows;
    const struct kind *kind = (const struct kind *)(void *)kinds.rows;
    for (size_t k = 0; k < kinds.n; k++) {
        if (kind[k].feeding != FEEDING_TARGET && kind[k].feeding != FEEDING_CLOUD)
            continue;
        bool late = kind[k].course == COURSE_LATE;
        assert_true(late ? kind[k].takes_pellet && kind[k].takes_frozen : kind[k].takes_powder);
        for (size_t i = 0; i < foods.n; i++)
            if (in_a_pot(&food[i]) && is_late(&food[i]) == late && food[i].max_particle_um > kind[k].max_particle_um)
                fail_msg("%s is too coarse for %s", food[i].name, kind[k].name);
    }
    table_free(&foods);
    table_free(&kinds);
}

static void the_usual_broadcasts_and_the_fish_leave_room_below_the_ceilings(void **state)
{
    (void)state;
    struct data_table t = table_read("stock", REG_FOOD);
    const struct food *foods = (const struct food *)(void *)t.rows;
    double load = 0;
    for (size_t i = 0; i < t.n; i++) {
        if (!isnan(foods[i].broadcast_units_per_100l))
            load += foods[i].broadcast_units_per_100l / foods[i].ceiling_units_per_100l;
        if (!isnan(foods[i].fish_units_per_100l))
            load += foods[i].fish_units_per_100l / foods[i].ceiling_units_per_100l;
    }
    assert_true(load > 0 && load < 0.75);
    table_free(&t);
}

/*
 * What data/stock/README.md says of the ceilings: about 0.3 mg/L nitrate, 0.03 mg/L phosphate, "about" being a tenth.
 */
static void a_ceiling_broadcast_adds_no_more_than_the_readme_says(void **state)
{
    (void)state;
    struct data_table t = table_read("stock", REG_FOOD);
    const struct food *foods = (const struct food *)(void *)t.rows;
    for (size_t i = 0; i < t.n; i++) {
        const struct food *f = &foods[i];
        double per_100l = f->ceiling_units_per_100l;
        double no3 = per_100l * effect_no3_mg_per_unit(f->n_mg_per_unit, 0.8) / 100;
        double po4 = per_100l * effect_po4_mg_per_unit(f->p_mg_per_unit, 0.7) / 100;
        if (no3 > 0.33 || po4 > 0.033)
            fail_msg("%s at its ceiling adds %g mg/L NO3 and %g mg/L PO4", f->name, no3, po4);
    }
    table_free(&t);
}

/* Common practice, no source: 15 mL of amino-acid liquid and 20 mL of live phytoplankton for 80 US gallons. */
static void eighty_us_gallons_get_the_practice_volumes(void **state)
{
    (void)state;
    static const struct {
        const char *food;
        double dose_ml;
    } practice[] = {{"amino-acid liquid", 15}, {"live phytoplankton", 20}};
    struct data_table t = table_read("stock", REG_FOOD);
    const struct food *foods = (const struct food *)(void *)t.rows;
    size_t n_found = 0, n_broadcast = 0;
    for (size_t i = 0; i < t.n; i++) {
        if (!isnan(foods[i].broadcast_units_per_100l))
            n_broadcast++;
        for (size_t p = 0; p < COUNT_OF(practice); p++) {
            if (strcmp(foods[i].name, practice[p].food) != 0)
                continue;
            struct err e = {0};
            double dose_ml = NAN;
            const struct broadcast_rule rule = {.volume_l = litres_from_us_gal(80),
                                                .rate_ml_per_100l = foods[i].broadcast_units_per_100l,
                                                .ceiling_ml_per_100l = foods[i].ceiling_units_per_100l,
                                                .step_ml = 1};
            if (!broadcast_volume_ml(&rule, &dose_ml, &e))
                fail_msg("%s: %s", foods[i].name, e.text);
            assert_number(dose_ml, practice[p].dose_ml, 1e-9);
            n_found++;
        }
    }
    assert_int_equal(n_found, COUNT_OF(practice));
    assert_int_equal(n_broadcast, COUNT_OF(practice));
    table_free(&t);
}

static void what_may_carry_palytoxin_is_marked(void **state)
{
    (void)state;
    struct data_table t = table_read("stock", REG_KIND);
    const struct kind *kinds = (const struct kind *)(void *)t.rows;
    size_t n_marked = 0;
    for (size_t i = 0; i < t.n; i++) {
        bool carrier = strcmp(kinds[i].name, "zoanthids") == 0 || strcmp(kinds[i].name, "palythoa") == 0;
        assert_int_equal(kinds[i].hand_safety, carrier);
        n_marked += carrier;
    }
    assert_int_equal(n_marked, 2);
    table_free(&t);
}

/* ---- demo ------------------------------------------------------------------------------------------------------- */

static void check_references(const struct data_table *t, const struct data_table *all)
{
    for (size_t f = 0; f < t->reg->n_fields; f++)
        for (size_t i = 0; t->reg->fields[f].type == FIELD_REF && i < t->n; i++)
            if (!table_has(&all[t->reg->fields[f].ref], t->cells[i][f].text))
                fail_msg("%s.csv row %zu: no %s \"%s\"", t->reg->name, i + 2, t->reg->fields[f].name,
                         t->cells[i][f].text);
}

static bool same_key(const struct reg *r, const struct cell *a, const struct cell *b)
{
    for (size_t f = 0; f < r->n_fields; f++)
        if ((r->fields[f].flags & FIELD_KEY) && !cell_same(&a[f], &b[f]))
            return false;
    return true;
}

static void check_keys(const struct data_table *t)
{
    for (size_t i = 0; i < t->n; i++)
        for (size_t j = 0; j < i; j++)
            if (same_key(t->reg, t->cells[i], t->cells[j]))
                fail_msg("%s.csv rows %zu and %zu have one key", t->reg->name, j + 2, i + 2);
}

static void the_demo_is_whole(void **state)
{
    (void)state;
    static const enum reg_id files[] = {REG_SETTING, REG_SYSTEM, REG_BAND, REG_SWITCH, REG_TANK, REG_COLONY};
    static const enum reg_id begun[] = {REG_LOT, REG_TEST, REG_WATER};
    struct data_table all[N_REGS] = {0};
    all[REG_KIND] = table_read("stock", REG_KIND);
    all[REG_FOOD] = table_read("stock", REG_FOOD);
    for (size_t f = 0; f < COUNT_OF(files); f++)
        all[files[f]] = table_read("demo", files[f]);
    for (size_t f = 0; f < COUNT_OF(begun); f++)
        all[begun[f]] = table_read("demo/begun", begun[f]);
    for (size_t r = 0; r < N_REGS; r++) {
        check_keys(&all[r]);
        if (all[r].reg)
            check_references(&all[r], all);
    }
    for (size_t r = 0; r < N_REGS; r++)
        table_free(&all[r]);
}

/* The keepers of the demo would not believe a facility that lacks a kind, or a kind that nobody keeps. */
static void the_demo_keeps_every_stock_kind(void **state)
{
    (void)state;
    struct data_table kinds = table_read("stock", REG_KIND), colonies = table_read("demo", REG_COLONY);
    long count = 0;
    for (size_t i = 0; i < colonies.n; i++)
        count += table_cell(&colonies, i, "count")->whole;
    assert_true(count > 3000 && count < 3500);
    for (size_t k = 0; k < kinds.n; k++) {
        size_t n = 0;
        for (size_t i = 0; i < colonies.n; i++)
            n += strcmp(table_cell(&colonies, i, "kind")->text, kinds.cells[k][0].text) == 0;
        if (n == 0)
            fail_msg("no %s in the demo", kinds.cells[k][0].text);
    }
    table_free(&kinds);
    table_free(&colonies);
}

SUITE(data)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_stock_row_names_its_source),
        cmocka_unit_test(the_house_blend_of_each_pot_adds_up_to_one),
        cmocka_unit_test(every_kind_can_swallow_the_whole_of_its_pot),
        cmocka_unit_test(the_usual_broadcasts_and_the_fish_leave_room_below_the_ceilings),
        cmocka_unit_test(a_ceiling_broadcast_adds_no_more_than_the_readme_says),
        cmocka_unit_test(eighty_us_gallons_get_the_practice_volumes),
        cmocka_unit_test(what_may_carry_palytoxin_is_marked),
        cmocka_unit_test(the_demo_is_whole),
        cmocka_unit_test(the_demo_keeps_every_stock_kind),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
