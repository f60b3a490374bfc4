/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fields between text, cell and struct. */
#include "neap/facility.h"
#include "neap/figures.h"
#include "neap/replan.h"
#include "tests.h"

#include "neap/calc.h"

/* ---- the register table ----------------------------------------------------------------------------------------- */

#define EACH_REGISTER(r) for (const struct reg *r = reg_get((enum reg_id)0); r < reg_get((enum reg_id)0) + N_REGS; r++)

static void every_register_is_found_by_its_own_name(void **state)
{
    (void)state;
    EACH_REGISTER(r)
    {
        assert_ptr_equal(reg_find(r->name), r);
        assert_true(r->title && *r->title);
        assert_true(r->n_fields > 1 && r->n_fields <= FIELDS_MAX);
    }
    assert_null(reg_find("tanks"));
    assert_int_equal(reg_field(reg_get(REG_TANK), "nothing"), SIZE_MAX);
}

static void keys_come_first_and_are_there(void **state)
{
    (void)state;
    EACH_REGISTER(r)
    {
        bool still_key = true;
        assert_true(r->fields[0].flags & FIELD_KEY);
        for (size_t i = 0; i < r->n_fields; i++) {
            bool key = (r->fields[i].flags & FIELD_KEY) != 0;
            assert_true(!key || still_key);
            still_key = still_key && key;
            if (key && !(r->fields[i].flags & FIELD_REQUIRED))
                assert_non_null(r->fields[i].fallback); /* no key is ever empty */
        }
    }
}

static void check_fields(const struct reg *r)
{
    for (size_t i = 0; i < r->n_fields; i++) {
        const struct field *f = &r->fields[i];
        assert_int_equal(reg_field(r, f->name), i); /* unique */
        assert_int_equal(f->name[strspn(f->name, "abcdefghijklmnopqrstuvwxyz0123456789_")], '\0');
        assert_true(f->help && *f->help);
        assert_int_equal(f->choices != NULL, f->type == FIELD_CHOICE);
        assert_true(f->min <= f->max);
        assert_true((f->min == 0 && f->max == 0) || f->type == FIELD_NUMBER || f->type == FIELD_COUNT ||
                    f->type == FIELD_CLOCK);
        assert_false(f->fallback && (f->flags & FIELD_REQUIRED));
        assert_true(f->type != FIELD_MOMENT || (f->flags & FIELD_REQUIRED)); /* row_read knows none that is not known */
        if (f->type == FIELD_REF) {
            const struct reg *to = reg_get(f->ref);
            assert_int_equal(to->fields[0].type, FIELD_NAME);
            assert_true(to->n_fields > 1 && !(to->fields[1].flags & FIELD_KEY)); /* one key field names the row */
        }
    }
}

static void fields_are_named_once_and_described(void **state)
{
    (void)state;
    EACH_REGISTER(r)
    check_fields(r);
    check_fields(settings_reg());
}

static void every_list_of_choices_ends_and_its_words_parse(void **state)
{
    (void)state;
    struct arena a = {0};
    EACH_REGISTER(r)
    for (size_t i = 0; i < r->n_fields; i++)
        for (size_t k = 0; r->fields[i].choices && r->fields[i].choices[k]; k++) {
            struct cell c;
            assert_true(k < 20);
            assert_true(cell_parse(&r->fields[i], r->fields[i].choices[k], &a, &c, NULL));
            assert_string_equal(c.text, r->fields[i].choices[k]);
            for (size_t j = 0; j < k; j++)
                assert_string_not_equal(r->fields[i].choices[j], r->fields[i].choices[k]);
        }
    arena_free(&a);
}

/* The words of a choice stand in the order of its enum; the shapes' are those of the calculator. */
static void choices_have_as_many_words_as_their_enums(void **state)
{
    (void)state;
    static const struct {
        enum reg_id reg;
        const char *field;
        size_t n;
    } rows[] = {
        {REG_TANK, "shape", N_SHAPES},
        {REG_BAND, "analyte", N_ANALYTES},
        {REG_METHOD, "analyte", N_ANALYTES},
        {REG_FOOD, "form", FORM_FROZEN + 1},
        {REG_FOOD, "unit", UNIT_ML + 1},
        {REG_KIND, "feeding", FEEDING_NONE + 1},
        {REG_KIND, "mouth_rule", MOUTHS_NONE + 1},
        {REG_KIND, "course", COURSE_LATE + 1},
        {REG_LINE, "action", ACTION_FLOW_ON + 1},
        {REG_TEST, "sample", SAMPLE_AFTER + 1},
        {REG_GIVEN, "outcome", OUTCOME_NOT_GIVEN + 1},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        const struct reg *r = reg_get(rows[i].reg);
        const struct field *f = &r->fields[reg_field(r, rows[i].field)];
        size_t n = 0;
        while (f->choices[n])
            n++;
        assert_int_equal(n, rows[i].n);
    }
    const struct reg *tank = reg_get(REG_TANK), *test = reg_get(REG_TEST);
    for (int s = 0; s < N_SHAPES; s++)
        assert_string_equal(tank->fields[reg_field(tank, "shape")].choices[s], tank_shape_name((enum tank_shape)s));
    for (int k = 0; k < N_ANALYTES; k++) {
        assert_string_equal(test->fields[reg_field(test, "analyte")].choices[k], analytes[k].name);
        assert_null(analytes[k].words[ANALYTE_WORDS].name); /* where the list ends at the latest */
        assert_true(analytes[k].least < analytes[k].most && analytes[k].band.low < analytes[k].band.high);
        assert_true(analytes[k].band.low >= analytes[k].least && analytes[k].band.high <= analytes[k].most);
    }
}

static void every_fallback_is_a_value_of_its_field(void **state)
{
    (void)state;
    struct arena a = {0};
    struct err e;
    struct cell c;
    EACH_REGISTER(r)
    for (size_t i = 0; i < r->n_fields; i++)
        if (r->fields[i].fallback)
            assert_true(cell_parse(&r->fields[i], r->fields[i].fallback, &a, &c, &e));
    for (size_t i = 0; i < settings_reg()->n_fields; i++) {
        assert_non_null(settings_reg()->fields[i].fallback); /* a fresh store has every setting */
        assert_true(cell_parse(&settings_reg()->fields[i], settings_reg()->fields[i].fallback, &a, &c, &e));
        assert_true(c.kind != CELL_EMPTY);
    }
    arena_free(&a);
}

static bool has_unit_ending(const char *name)
{
    static const char *const endings[] = {"_l",      "_ml",       "_cm",        "_m",       "_um",    "_g",
                                          "_d",      "_min",      "_s",         "_frac",    "_units", "_per_unit",
                                          "_per_ml", "_per_100l", "_per_100ml", "_per_week"};
    size_t n = strlen(name);
    for (size_t i = 0; i < COUNT_OF(endings); i++)
        if (n > strlen(endings[i]) && strcmp(name + n - strlen(endings[i]), endings[i]) == 0)
            return true;
    return false;
}

static void a_number_says_its_unit_in_its_name(void **state)
{
    (void)state;
    /* in the unit of another field of the row, or a pure factor: the help says so */
    static const char *const exempt[] = {"low", "high", "value", "amount", "factor", "step"};
    EACH_REGISTER(r)
    for (size_t i = 0; i < r->n_fields; i++) {
        bool ok = r->fields[i].type != FIELD_NUMBER || has_unit_ending(r->fields[i].name);
        for (size_t k = 0; k < COUNT_OF(exempt); k++)
            ok = ok || strcmp(r->fields[i].name, exempt[k]) == 0;
        if (!ok)
            fail_msg("%s.%s has no unit", r->name, r->fields[i].name);
    }
}

/* ---- cells ------------------------------------------------------------------------------------------------------ */

static const struct field *field_of(enum reg_id id, const char *name)
{
    const struct reg *r = reg_get(id);
    size_t i = reg_field(r, name);
    assert_true(i != SIZE_MAX);
    return &r->fields[i];
}

static void cells_are_read_and_written_in_one_form(void **state)
{
    (void)state;
    static const struct {
        enum reg_id reg;
        const char *field, *text, *written;
    } rows[] = {
        {REG_TANK, "water_cm", "40.50", "40.5"},
        {REG_TANK, "water_cm", "1e2", "100"},
        {REG_TANK, "water_cm", "", ""},
        {REG_COLONY, "count", "+12", "12"},
        {REG_TANK, "fish", "1", "yes"},
        {REG_TANK, "fish", "no", "no"},
        {REG_TANK, "fish", "TRUE", "yes"},
        {REG_TANK, "fish", "False", "no"},
        {REG_TANK, "fish", "Y", "yes"},
        {REG_COLONY, "count", "12.0", "12"},
        {REG_TANK, "shape", "Bow Front", "bow front"},
        {REG_ROUND, "start_min", "8:00", "08:00"},
        {REG_TANK, "hold_until", "2024-02-29", "2024-02-29"},
        {REG_TEST, "taken", "2026-11-25 08:05", "2026-11-25T08:05"},
        {REG_TEST, "analyte", "po4", "po4"},
        {REG_ROUND, "start_min", "08:00", "08:00"},
        {REG_ROUND, "finish_min", "24:10", "24:10"},
        {REG_TANK, "name", "Gru\xCC\x88n", "Gr\xC3\xBCn"}, /* u + combining diaeresis; Unicode 15, NFC */
        {REG_TANK, "note", "- 2 = \"two\", tab", "- 2 = \"two\", tab"},
        {REG_COLONY, "tank", "north rack", "north rack"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct arena a = {0};
        struct text out = {0};
        struct cell c, again;
        struct err e;
        const struct field *f = field_of(rows[i].reg, rows[i].field);
        assert_true(cell_parse(f, rows[i].text, &a, &c, &e));
        cell_format(f, &c, &out);
        assert_string_equal(text_str(&out), rows[i].written);
        assert_true(cell_parse(f, text_str(&out), &a, &again, &e));
        assert_true(cell_same(&c, &again));
        text_free(&out);
        arena_free(&a);
    }
}

static void wrong_cells_are_refused_with_what_is_expected(void **state)
{
    (void)state;
    static const struct {
        enum reg_id reg;
        const char *field, *text, *says;
    } rows[] = {
        {REG_TANK, "water_cm", "forty", "is \"forty\"; expected a number, such as 40 or 40.5"},
        {REG_TANK, "water_cm", "40 cm", "is \"40 cm\"; expected a number, such as 40 or 40.5"},
        {REG_TANK, "water_cm", "40,5", "is \"40,5\"; expected a decimal point, such as 40.5 (not a comma)"},
        {REG_TANK, "water_cm", "-1", "is -1; expected 1 to 10000"},
        {REG_TANK, "water_cm", "1e999", "is \"1e999\"; expected a number, such as 40 or 40.5"},
        {REG_TANK, "displacement_frac", "15", "is 15; expected 0 to 0.9, or a percentage: 15%"},
        {REG_TANK, "displacement_frac", "-5", "is -5; expected 0 to 0.9"},
        {REG_TANK, "displacement_frac", "91", "is 91; expected 0 to 0.9"}, /* no percentage either */
        {REG_TANK, "water_cm", "40,5cm", "is \"40,5cm\"; expected a number, such as 40 or 40.5"},
        {REG_COLONY, "count", "1.5", "is \"1.5\"; expected a whole number, such as 12"},
        {REG_COLONY, "count", "0", "is 0; expected 1 to 100000"},
        {REG_COLONY, "count", "1e300", "is \"1e300\"; expected a whole number, such as 12"},
        {REG_TANK, "fish", "ye", "is \"ye\"; expected yes or no"},
        {REG_TANK, "fish", "maybe", "is \"maybe\"; expected yes or no"},
        {REG_TANK, "hold_until", "2026-02-29", "is \"2026-02-29\"; expected a day as YYYY-MM-DD"},
        {REG_TEST, "taken", "2026-02-28", "is \"2026-02-28\"; expected a moment as YYYY-MM-DDTHH:MM"},
        {REG_ROUND, "start_min", "8:0", "is \"8:0\"; expected a time as HH:MM"},
        {REG_ROUND, "start_min", "123:4", "is \"123:4\"; expected a time as HH:MM"},
        {REG_ROUND, "start_min", "2x:10", "is \"2x:10\"; expected a time as HH:MM"},
        {REG_TEST, "sample", "afer", "is \"afer\"; expected before or after (did you mean \"after\"?)"},
        {REG_TANK, "name", " A", "is \" A\"; expected a name without a blank at either end"},
        {REG_TANK, "name", "@A", "is \"@A\"; expected a name that does not begin with = + - or @"},
        {REG_TANK, "name", "A\x1b[2J", "has a control character at byte 2; expected printable text"},
        {REG_TANK, "note", "A\xC2\x9B", "has a control character at byte 2; expected printable text"},
        {REG_TANK, "note", "A\xE2\x80\xAE", "has a control character at byte 2; expected printable text"},
        {REG_TANK, "note", "A\xE2\x80\xA8", "has a control character at byte 2; expected printable text"},
        {REG_TANK, "name", "A\xE2\x80\x8B", "has a control character at byte 2; expected printable text"},
        {REG_TANK, "note", "Gr\xFC", "is not UTF-8 at byte 3; expected the file saved as UTF-8"},
        {REG_TANK, "water_cm", "\x1b[2J", "is \"?[2J\"; expected a number, such as 40 or 40.5"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct arena a = {0};
        struct cell c;
        struct err e = {0};
        assert_false(cell_parse(field_of(rows[i].reg, rows[i].field), rows[i].text, &a, &c, &e));
        assert_int_equal(e.code, ERR_INPUT);
        assert_string_equal(e.text, rows[i].says);
        arena_free(&a);
    }
}

/* A day has no 24:00: that is the next day's 00:00. A kept plan counts on past midnight. */
static void a_clock_is_of_one_day_unless_its_field_says_otherwise(void **state)
{
    (void)state;
    static const char *const none[] = {"24:00", "24:10", "25:00", "99:59"};
    const struct field *start = &settings_reg()->fields[reg_field(settings_reg(), "start_min")];
    struct arena a = {0};
    struct cell c;
    struct err e;
    assert_true(cell_parse(start, "00:00", &a, &c, &e) && cell_parse(start, "23:59", &a, &c, &e));
    for (size_t i = 0; i < COUNT_OF(none); i++) {
        char says[80];
        snprintf(says, sizeof says, "is \"%s\"; expected a time of the day, 00:00 to 23:59", none[i]);
        assert_false(cell_parse(start, none[i], &a, &c, &e));
        assert_int_equal(e.code, ERR_INPUT);
        assert_string_equal(e.text, says);
        assert_true(cell_parse(field_of(REG_LINE, "end_min"), none[i], &a, &c, &e));
    }
    assert_false(cell_parse(start, "23:60", &a, &c, &e) ||
                 cell_parse(field_of(REG_LINE, "end_min"), "25:60", &a, &c, &e));
    arena_free(&a);
}

/* U+0958 has no composed form: NFC makes three bytes six (Unicode 15, CompositionExclusions.txt). */
static void the_length_limit_holds_for_the_text_as_kept(void **state)
{
    (void)state;
    struct arena a = {0};
    struct text t = {0};
    struct cell c;
    struct err e;
    const struct field *name = field_of(REG_TANK, "name");
    for (int i = 0; i < 10; i++)
        text_add(&t, "\xE0\xA5\x98");
    assert_true(cell_parse(name, text_str(&t), &a, &c, &e));
    assert_int_equal(strlen(c.text), NAME_BYTES_MAX);
    text_add(&t, "x");
    assert_false(cell_parse(name, text_str(&t), &a, &c, &e));
    assert_string_equal(e.text, "has 61 bytes; expected at most 60");
    text_free(&t);
    arena_free(&a);
}

static void cells_are_the_same_only_in_kind_and_value(void **state)
{
    (void)state;
    const struct cell empty = {0}, text = {.kind = CELL_TEXT, .text = "a"}, other = {.kind = CELL_TEXT, .text = "b"};
    const struct cell number = {.kind = CELL_NUMBER, .number = 1}, whole = {.kind = CELL_WHOLE, .whole = 1};
    assert_true(cell_same(&empty, &empty) && cell_same(&text, &text) && cell_same(&number, &number));
    assert_false(cell_same(&text, &other) || cell_same(&empty, &text) || cell_same(&number, &whole));
}

/* ---- rows ------------------------------------------------------------------------------------------------------- */

static bool cells_from(const struct reg *r, const char *const (*values)[2], size_t n, struct cell *cells,
                       struct arena *a, struct err *e)
{
    memset(cells, 0, FIELDS_MAX * sizeof *cells);
    for (size_t i = 0; i < n; i++) {
        size_t field = reg_field(r, values[i][0]);
        assert_true(field != SIZE_MAX);
        if (!cell_parse(&r->fields[field], values[i][1], a, &cells[field], e))
            return false;
    }
    return true;
}

static void a_filled_row_has_fallbacks_for_what_is_empty(void **state)
{
    (void)state;
    static const char *const values[][2] = {{"name", "A"},        {"system", "north"}, {"shape", "box"},
                                            {"length_cm", "120"}, {"width_cm", "60"},  {"water_cm", "50"},
                                            {"fish", "yes"}};
    struct arena a = {0};
    struct cell cells[FIELDS_MAX];
    struct err e;
    struct tank t;
    size_t field;
    assert_true(cells_from(reg_get(REG_TANK), values, COUNT_OF(values), cells, &a, &e));
    assert_true(row_fill(reg_get(REG_TANK), cells, &t, &field, &e));
    assert_string_equal(t.name, "A");
    assert_int_equal(t.system, REF_NONE);
    assert_int_equal(t.shape, SHAPE_BOX);
    assert_true(t.length_cm == 120 && t.flow_off_limit_min == 20 && t.displacement_frac == 0);
    assert_true(isnan(t.diameter_cm));
    assert_true(t.fish && !t.retired);
    assert_string_equal(t.pump, "");
    assert_int_equal(t.hold_until, DAY_NONE);
    arena_free(&a);
}

static void a_row_is_refused_with_the_field_to_blame(void **state)
{
    (void)state;
    static const char *const low_food[][2] = {{"name", "f"},
                                              {"form", "powder"},
                                              {"unit", "g"},
                                              {"ceiling_units_per_100l", "1"},
                                              {"broadcast_units_per_100l", "2"}};
    static const char *const no_ceiling[][2] = {{"name", "f"}, {"form", "powder"}, {"unit", "g"}};
    static const char *const band[][2] = {{"system", "s"}, {"analyte", "po4"}, {"low", "2"}, {"high", "1"}};
    static const char *const kind[][2] = {{"name", "k"}, {"feeding", "target"}, {"mouth_rule", "all"}};
    static const char *const test[][2] = {
        {"system", "s"}, {"taken", "2026-11-25T08:00"}, {"analyte", "po4"}, {"value", "300"}};
    static const char *const sour[][2] = {
        {"system", "s"}, {"taken", "2026-11-25T08:00"}, {"analyte", "ph"}, {"value", "3"}};
    static const char *const below[][2] = {
        {"system", "s"}, {"taken", "2026-11-25T08:00"}, {"analyte", "po4"}, {"value", "0"}, {"below", "yes"}};
    static const char *const far_below[][2] = {
        {"system", "s"}, {"taken", "2026-11-25T08:00"}, {"analyte", "po4"}, {"value", "300"}, {"below", "yes"}};
    static const char *const lit[][2] = {{"name", "s"}, {"lights_on_min", "08:00"}};
    static const char *const blink[][2] = {{"name", "s"}, {"lights_on_min", "08:00"}, {"lights_off_min", "08:00"}};
    static const char *const days[][2] = {{"name", "noon"}, {"start_min", "12:00"}, {"days", "mon frday"}};
    static const char *const lot[][2] = {
        {"code", "l"}, {"food", "f"}, {"amount_units", "1"}, {"received", "2026-02-02"}, {"opened", "2026-02-01"}};
    static const struct {
        enum reg_id reg;
        const char *const (*values)[2];
        size_t n;
        const char *blamed, *says;
    } rows[] = {
        {REG_FOOD, low_food, COUNT_OF(low_food), "broadcast_units_per_100l", "2 is above the ceiling 1"},
        {REG_FOOD, no_ceiling, COUNT_OF(no_ceiling), "ceiling_units_per_100l", "is empty"},
        {REG_BAND, band, COUNT_OF(band), "high", "low 2 is not below its high 1"},
        {REG_KIND, kind, COUNT_OF(kind), "portion_ml", "needs a portion"},
        {REG_TEST, test, COUNT_OF(test), "value", "phosphate 300 mg/L is not plausible; expected 0 to 20"},
        {REG_TEST, sour, COUNT_OF(sour), "value", "pH 3 is not plausible; expected 5 to 10"},
        {REG_TEST, below, COUNT_OF(below), "value", "needs the limit it is below"},
        {REG_TEST, far_below, COUNT_OF(far_below), "value", "phosphate 300 mg/L is not plausible"},
        {REG_SYSTEM, lit, COUNT_OF(lit), "lights_off_min", "only one of lights_on_min and lights_off_min is known"},
        {REG_SYSTEM, blink, COUNT_OF(blink), "lights_off_min", "on and off in the same minute"},
        {REG_DAILY_ROUND, days, COUNT_OF(days), "days", "\"frday\" is no weekday"},
        {REG_LOT, lot, COUNT_OF(lot), "opened", "opened before it was received"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        const struct reg *r = reg_get(rows[i].reg);
        struct arena a = {0};
        struct cell cells[FIELDS_MAX];
        struct err e = {0};
        size_t field = SIZE_MAX;
        void *row = arena_alloc(&a, 1, r->row_size);
        assert_true(cells_from(r, rows[i].values, rows[i].n, cells, &a, &e));
        assert_false(row_fill(r, cells, row, &field, &e));
        assert_int_equal(e.code, ERR_INPUT);
        assert_true(field < r->n_fields);
        assert_string_equal(r->fields[field].name, rows[i].blamed);
        if (!strstr(e.text, rows[i].says))
            fail_msg("row %zu: %s", i, e.text);
        arena_free(&a);
    }
}

/* What no cell_parse lets in can still stand in a file that somebody else wrote to. */
static void a_number_that_no_entry_makes_is_called_damaged(void **state)
{
    (void)state;
    static const char *const values[][2] = {{"name", "A"},        {"system", "north"}, {"shape", "box"},
                                            {"length_cm", "120"}, {"width_cm", "60"},  {"water_cm", "50"}};
    static const double wrong[] = {INFINITY, -1, 1e6};
    const size_t at = reg_field(reg_get(REG_TANK), "water_cm");
    struct arena a = {0};
    struct cell cells[FIELDS_MAX];
    struct err e = {0};
    struct tank t;
    size_t field;
    assert_true(cells_from(reg_get(REG_TANK), values, COUNT_OF(values), cells, &a, &e));
    for (size_t i = 0; i < COUNT_OF(wrong); i++) {
        cells[at].number = wrong[i];
        assert_false(row_fill(reg_get(REG_TANK), cells, &t, &field, &e));
        assert_int_equal(field, at);
        assert_non_null(strstr(e.text, "is damaged"));
    }
    arena_free(&a);
}

/* A facility of three sorted systems, and a test row of every type of field. */
static void a_row_read_back_gives_the_cells_it_was_filled_from(void **state)
{
    (void)state;
    static const char *const values[][2] = {
        {"system", "north"}, {"taken", "2026-11-25T08:05"}, {"analyte", "no3"}, {"repeat", "2"}, {"value", "12.5"},
        {"below", "yes"},    {"method", "strip"},           {"sample", "after"}};
    struct system systems[] = {{.name = "display"}, {.name = "north"}, {.name = "south"}};
    struct facility f = {.systems = systems, .n_systems = COUNT_OF(systems)};
    const struct reg *r = reg_get(REG_TEST);
    struct arena a = {0};
    struct cell cells[FIELDS_MAX], back[FIELDS_MAX];
    struct test row;
    struct err e;
    size_t field;
    assert_true(cells_from(r, values, COUNT_OF(values), cells, &a, &e));
    assert_true(row_fill(r, cells, &row, &field, &e));
    row.system = facility_find(&f, REG_SYSTEM, "north");
    assert_int_equal(row.system, 1);
    assert_true(row_read(r, &row, &f, back, &a, &e));
    for (size_t i = 0; i < COUNT_OF(values); i++) {
        field = reg_field(r, values[i][0]);
        assert_true(cell_same(&cells[field], &back[field]));
    }
    assert_int_equal(back[reg_field(r, "note")].kind, CELL_EMPTY);
    assert_int_equal(back[reg_field(r, "voided")].kind, CELL_WHOLE);
    arena_free(&a);
}

/* A system whose lights nobody entered is read back as it was entered: with nothing. */
static void what_was_left_empty_is_read_back_empty(void **state)
{
    (void)state;
    static const char *const values[][2] = {{"name", "north"}};
    const struct reg *r = reg_get(REG_SYSTEM);
    const struct facility f = {0};
    struct arena a = {0};
    struct cell cells[FIELDS_MAX], back[FIELDS_MAX];
    struct system row;
    struct err e;
    size_t field;
    assert_true(cells_from(r, values, COUNT_OF(values), cells, &a, &e));
    assert_true(row_fill(r, cells, &row, &field, &e));
    assert_true(row_read(r, &row, &f, back, &a, &e));
    assert_int_equal(back[reg_field(r, "lights_on_min")].kind, CELL_EMPTY);
    assert_int_equal(back[reg_field(r, "broadcast_position_m")].kind, CELL_EMPTY);
    assert_string_equal(back[reg_field(r, "name")].text, "north");
    arena_free(&a);
}

/* A method of one analyte says nothing of another, and one that nobody gave a step nothing at all. */
static void the_step_of_a_method_is_of_its_analyte(void **state)
{
    (void)state;
    struct method methods[] = {{.name = "kit", .analyte = ANALYTE_PO4, .step = 0.02},
                               {.name = "strip", .analyte = ANALYTE_NO3, .step = 0}};
    const struct facility f = {.methods = methods, .n_methods = COUNT_OF(methods)};
    assert_true(method_step(&f, "kit", ANALYTE_PO4) == 0.02);
    assert_true(method_step(&f, "kit", ANALYTE_NO3) == 0);
    assert_true(method_step(&f, "strip", ANALYTE_NO3) == 0);
    assert_true(method_step(&f, "meter", ANALYTE_PO4) == 0);
}

/* The tube cannot keep all that a syringe holds, nor a step be larger than it. */
static void a_syringe_holds_more_than_its_tube_and_its_step(void **state)
{
    (void)state;
    struct settings s = {
        .lag_min_min = 10, .lag_max_min = 30, .syringe_ml = 60, .syringe_dead_ml = 2, .syringe_step_ml = 1};
    struct err e = {0};
    assert_true(settings_check(&s, &e));
    s.syringe_dead_ml = 60;
    assert_false(settings_check(&s, &e));
    assert_non_null(strstr(e.text, "a syringe of 60 mL (syringe_ml) cannot keep 60 mL"));
    s.syringe_dead_ml = 2;
    s.syringe_step_ml = 61;
    assert_false(settings_check(&s, &e));
    assert_non_null(strstr(e.text, "be graduated by 61 mL (syringe_step_ml)"));
    s.syringe_step_ml = 1;
    s.lag_min_min = 31;
    assert_false(settings_check(&s, &e));
    assert_non_null(strstr(e.text, "expected the shortest not above the longest"));
}

/* A word that is no weekday is quoted, however long it is. */
static void a_word_that_is_no_weekday_is_quoted(void **state)
{
    (void)state;
    char word[NAME_BYTES_MAX + 20];
    bool days[WEEKDAYS];
    struct err e = {0};
    memset(word, 'm', sizeof word - 1);
    word[sizeof word - 1] = '\0';
    assert_false(weekdays_read(word, days, &e));
    assert_non_null(strstr(e.text, "mmm\" is no weekday; expected some of mon tue wed thu fri sat sun"));
    assert_false(weekdays_read("mon, frday", days, &e));
    assert_non_null(strstr(e.text, "\"frday\" is no weekday"));
}

/* ---- the snapshot ----------------------------------------------------------------------------------------------- */

static void a_row_is_found_by_its_key_or_not_at_all(void **state)
{
    (void)state;
    struct system systems[] = {{.name = "A"}, {.name = "B"}, {.name = "a"}, {.name = "b"}, {.name = "\xC3\xA9"}};
    struct facility f = {.systems = systems, .n_systems = COUNT_OF(systems)}, none = {0};
    for (size_t i = 0; i < COUNT_OF(systems); i++)
        assert_int_equal(facility_find(&f, REG_SYSTEM, systems[i].name), i);
    static const char *const absent[] = {"", "0", "AA", "C", "c", "\xC3\xAA"};
    for (size_t i = 0; i < COUNT_OF(absent); i++)
        assert_int_equal(facility_find(&f, REG_SYSTEM, absent[i]), REF_NONE);
    assert_int_equal(facility_find(&none, REG_TANK, "A"), REF_NONE);
}

static void a_system_has_its_own_band_or_the_analyte_s(void **state)
{
    (void)state;
    struct system_band bands[] = {{.system = 1, .analyte = ANALYTE_PO4, .low = 0.05, .high = 0.08}};
    struct facility f = {.bands = bands, .n_bands = COUNT_OF(bands)};
    double low, high;
    facility_band(&f, 1, ANALYTE_PO4, &low, &high);
    assert_true(low == 0.05 && high == 0.08);
    facility_band(&f, 0, ANALYTE_PO4, &low, &high);
    assert_true(low == analytes[ANALYTE_PO4].band.low && high == analytes[ANALYTE_PO4].band.high);
    facility_band(&f, 1, ANALYTE_NO3, &low, &high);
    assert_true(low == analytes[ANALYTE_NO3].band.low && high == analytes[ANALYTE_NO3].band.high);
}

static void volumes_add_up_over_tanks_and_sump(void **state)
{
    (void)state;
    /* 120 x 60 x 50 cm are 360 L; a tenth displaced leaves 324 L. A stated volume is net already. */
    struct system systems[] = {{.name = "north", .sump_volume_l = 100}};
    struct tank box = {.name = "A",
                       .shape = SHAPE_BOX,
                       .length_cm = 120,
                       .width_cm = 60,
                       .water_cm = 50,
                       .diameter_cm = NAN,
                       .bow_cm = NAN,
                       .side_cm = NAN,
                       .cut_length_cm = NAN,
                       .cut_width_cm = NAN,
                       .net_volume_l = NAN,
                       .displacement_frac = 0.1};
    struct tank stated = {.name = "B",
                          .shape = SHAPE_STATED,
                          .length_cm = NAN,
                          .width_cm = NAN,
                          .water_cm = NAN,
                          .diameter_cm = NAN,
                          .bow_cm = NAN,
                          .side_cm = NAN,
                          .cut_length_cm = NAN,
                          .cut_width_cm = NAN,
                          .net_volume_l = 76,
                          .displacement_frac = 0.1};
    struct tank gone = stated;
    struct err e = {0};
    gone.retired = true;
    struct tank tanks[] = {box, stated, gone};
    struct facility f = {.systems = systems, .n_systems = 1, .tanks = tanks, .n_tanks = COUNT_OF(tanks)};
    assert_true(facility_derive(&f, &e));
    assert_true(fabs(tanks[0].gross_l - 360) < 1e-9 && fabs(tanks[0].net_l - 324) < 1e-9 && tanks[1].net_l == 76);
    assert_true(fabs(systems[0].volume_l - 500) < 1e-9);
    tanks[0].displacement_frac = 1;
    assert_false(facility_derive(&f, &e));
    assert_non_null(strstr(e.text, "tank \"A\": displacement is 1"));
    tanks[0].water_cm = NAN;
    assert_false(facility_derive(&f, &e));
    assert_non_null(strstr(e.text, "tank \"A\": water height is missing"));
}

SUITE(cells)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_register_is_found_by_its_own_name),
        cmocka_unit_test(keys_come_first_and_are_there),
        cmocka_unit_test(fields_are_named_once_and_described),
        cmocka_unit_test(every_list_of_choices_ends_and_its_words_parse),
        cmocka_unit_test(choices_have_as_many_words_as_their_enums),
        cmocka_unit_test(every_fallback_is_a_value_of_its_field),
        cmocka_unit_test(a_number_says_its_unit_in_its_name),
        cmocka_unit_test(cells_are_read_and_written_in_one_form),
        cmocka_unit_test(wrong_cells_are_refused_with_what_is_expected),
        cmocka_unit_test(a_clock_is_of_one_day_unless_its_field_says_otherwise),
        cmocka_unit_test(the_length_limit_holds_for_the_text_as_kept),
        cmocka_unit_test(cells_are_the_same_only_in_kind_and_value),
        cmocka_unit_test(a_filled_row_has_fallbacks_for_what_is_empty),
        cmocka_unit_test(a_row_is_refused_with_the_field_to_blame),
        cmocka_unit_test(a_number_that_no_entry_makes_is_called_damaged),
        cmocka_unit_test(a_row_read_back_gives_the_cells_it_was_filled_from),
        cmocka_unit_test(what_was_left_empty_is_read_back_empty),
        cmocka_unit_test(the_step_of_a_method_is_of_its_analyte),
        cmocka_unit_test(a_syringe_holds_more_than_its_tube_and_its_step),
        cmocka_unit_test(a_word_that_is_no_weekday_is_quoted),
        cmocka_unit_test(a_row_is_found_by_its_key_or_not_at_all),
        cmocka_unit_test(a_system_has_its_own_band_or_the_analyte_s),
        cmocka_unit_test(volumes_add_up_over_tanks_and_sump),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
