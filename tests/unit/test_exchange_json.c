/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Registers read from and written to JSON. */
#include "exchanged.h"

static void rows_come_register_by_register_whatever_the_order_of_the_file(void **state)
{
    (void)state;
    expect_heard(
        "facility.json",
        "{\"tank\": [{\"name\": \"A\", \"fish\": true, \"water_cm\": 40.5, \"hold_until\": null}],\n"
        " \"system\": [{\"name\": \"north\", \"quarantine\": \"no\"}, {\"note\": \"\", \"name\": \"south\"}],\n"
        " \"schema\": 1}",
        "system: name=north, quarantine=no\nsystem: name=south, note=\n"
        "tank: name=A, water_cm=40.5, fish=yes, hold_until=\n",
        "");
}

static void a_document_without_rows_is_no_fault(void **state)
{
    (void)state;
    expect_heard("x.json", "{\"schema\": 1}", "", "");
    expect_heard("-", " \n{\"schema\": 1, \"tank\": [ ]}\n", "", "");
    expect_heard("x.json", "\xEF\xBB\xBF{\"schema\": 1}", "", "");
}

static void escapes_and_units_are_understood(void **state)
{
    (void)state;
    expect_heard("x.json", "{\"schema\":1,\"tank\":[{\"n\\u0061me\":\"Gr\\u00fcn \\\"1\\\"\",\"length_in\":48}]}",
                 "tank: name=Grün \"1\", length_cm=121.92\n", "");
}

static void every_fault_has_its_place_and_says_what_is_expected(void **state)
{
    (void)state;
    static const struct {
        const char *text, *fault;
    } rows[] = {
        {"", "f.json:1:1: is empty; expected {\"schema\": 1, \"tank\": [...]}\n"},
        {"[1]", "f.json:1:1: has \"[\" here; expected { and \"schema\"\n"},
        {"{\"tank\": []}", "f.json:1:1: has no schema; expected \"schema\": 1\n"},
        {"{\"schema\": 2, \"tank\": [{\"name\": 7}]}",
         "f.json:1:12: schema is 2, from a newer program; expected at most 1\n"},
        {"{\"schema\": 0.5}", "f.json:1:12: schema is 0.5; expected 1\n"},
        {"{\"schema\": \"1\"}", "f.json:1:12: schema is a string; expected the number 1\n"},
        {"{\"schema\": 1, \"schema\": 1}", "f.json:1:15: schema is there twice; expected it once\n"},
        {"{\"schema\": 1,\n \"tonk\": []}",
         "f.json:2:2: \"tonk\" is no register (did you mean \"tank\"?); expected a register such as tank, or schema\n"},
        {"{\"schema\": 1,\n \"tank\": {}}", "f.json:2:10: tank is no list; expected its rows in brackets\n"},
        {"{\"schema\": 1, \"tank\": [],\n \"tank\": []}",
         "f.json:2:2: tank is there twice; expected all its rows in one list\n"},
        {"{\"schema\": 1,\n\"tank\": [\n 7\n]}", "f.json:3:2: is a number; expected a row of tank in braces\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":\"A\",\"length_cm\":\"40\"}\n]}",
         "f.json:3:25: length_cm is a string; expected a number, without quotes\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":\"Gr\xC3\xBCn\",\"fish\":1}\n]}",
         "f.json:3:23: fish is a number; expected true or false\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":12}\n]}",
         "f.json:3:9: name is a number; expected a string, in double quotes\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":\"A\",\"note\":[1]}\n]}",
         "f.json:3:20: note is a list; expected a string, in double quotes\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":\"A\",\"lenght_cm\":40}\n]}",
         "f.json:3:13: \"lenght_cm\" is no key of tank; did you mean \"length_cm\"?\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":\"A\",\"name\":\"B\"}\n]}",
         "f.json:3:13: name is there twice in this row; expected it once\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":\"A\",\"water_in\":10,\"water_cm\":7}\n]}",
         "f.json:3:27: water_cm is there twice in this row; expected it once\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"water_cm\":40}\n]}",
         "f.json:3:1: name is missing in this row; expected what is written on the tank\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":null}\n]}",
         "f.json:3:9: name is empty; expected what is written on the tank\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":\"A\",\"water_cm\":1e999}\n]}",
         "f.json:3:24: water_cm is \"1e999\"; expected a number, such as 40 or 40.5\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":\"A\",\"water_cm\":-4}\n]}",
         "f.json:3:24: water_cm is -4; expected 1 to 10000\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":\"A\",\"n_sides\":6.5}\n]}",
         "f.json:3:23: n_sides is \"6.5\"; expected a whole number, such as 12\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":\"A\\u0000B\"}\n]}",
         "f.json:3:1: has a NUL character (\\u0000); expected printable text\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":\"A\\nB\"}\n]}",
         "f.json:3:9: name has a line break at byte 2; expected one line of text\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":\"A\"}\n{\"name\":\"B\"}]}",
         "f.json:4:1: has \"{\" here; expected a comma or ]\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":\"A\"},\n]}", "f.json:4:1: has \"]\" here; expected a value\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\" \"A\"},\n{\"name\":\"B\"}]}",
         "f.json:3:9: has \"\"\" here; expected JSON: a value is a string in double quotes, a number, true, false or "
         "null, "
         "and commas stand between\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":\"A\"", "f.json:3:12: the text ends here; expected }\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":\"A]}",
         "f.json:3:9: has a string without end; expected its closing quote\n"},
        {"{\"schema\": 1,\n\"tank\": [}", "f.json:2:10: has \"}\" here; expected ]\n"},
        {"{\"schema\": 1} x", "f.json:1:15: has \"x\" here; expected nothing after the last }\n"},
        {"{\"schema\": 1, tank: []}", "f.json:1:15: has \"t\" here; expected a string in double quotes\n"},
        {"{\"schema\": 1, \"tank\" []}", "f.json:1:22: has \"[\" here; expected a colon\n"},
        {"{\"schema\": 1, \"tank\": [[[[[[[[[[1]]]]]]]]]}",
         "f.json:1:31: is nested more than 8 deep; expected rows of plain values\n"},
        {"{\"schema\": 1,\n\"tank\": [\n{\"name\":\"Gr\xFCn\"}]}",
         "f.json:3:12: byte 0xFC is not UTF-8; expected the file saved as UTF-8\n"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct heard h = {0};
        hear(&h, "f.json", rows[i].text);
        assert_true(h.ok);
        assert_string_equal(text_str(&h.faults.lines), rows[i].fault);
        assert_int_equal(h.faults.n, 1);
        heard_free(&h);
    }
}

static void one_broken_row_hides_no_other(void **state)
{
    (void)state;
    struct heard h = {0};
    hear(&h, "f.json",
         "{\"schema\": 1,\n\"tank\": [\n{\"name\":\"A\" "
         "\"note\":\"\"},\n{\"name\":\"B\",\"fish\":\"perhaps\",\"water_cm\":true},\n"
         "{\"name\":\"C\"}\n],\n\"colour\": 7, \"kind\": [{\"name\":\"k\",\"portion_ml\":99}]}");
    assert_true(h.ok);
    assert_string_equal(text_str(&h.rows), "tank: name=C\n");
    assert_int_equal(h.n_rows, 4);
    assert_int_equal(h.faults.n, 5);
    assert_non_null(strstr(text_str(&h.faults.lines), "f.json:3:13: "));
    assert_non_null(strstr(text_str(&h.faults.lines), "f.json:4:20: fish is \"perhaps\"; expected yes or no"));
    assert_non_null(strstr(text_str(&h.faults.lines), "f.json:4:41: water_cm is true or false; expected a number"));
    assert_non_null(strstr(text_str(&h.faults.lines), "f.json:7:1: \"colour\" is no register"));
    assert_non_null(strstr(text_str(&h.faults.lines), "f.json:7:48: portion_ml is 99; expected 0 to 50"));
    heard_free(&h);
}

static void deep_nesting_and_long_strings_are_faults_not_crashes(void **state)
{
    (void)state;
    struct text t = {0};
    struct heard h = {0};
    text_add_char(&t, '[', 1000000);
    hear(&h, "f.json", text_str(&t));
    assert_int_equal(h.faults.n, 1);
    heard_free(&h);
    text_free(&t);
    text_add(&t, "{\"schema\":1,\"tank\":[{\"name\":\"A\",\"note\":\"");
    text_add_char(&t, 'x', 100000);
    text_add(&t, "\"},{\"name\":\"B\"}]}");
    hear(&h, "f.json", text_str(&t));
    assert_string_equal(text_str(&h.faults.lines), "f.json:1:40: note has 100002 bytes; expected at most 4096\n");
    assert_string_equal(text_str(&h.rows), "tank: name=B\n");
    heard_free(&h);
    text_free(&t);
}

static void an_error_of_the_store_ends_the_reading(void **state)
{
    (void)state;
    struct heard h = {.refuse = "disk is full", .refuse_code = ERR_STORE};
    hear(&h, "f.json", "{\"schema\":1,\"system\":[{\"name\":\"a\"},{\"name\":\"b\"}],\"tank\":[{\"name\":\"A\"}]}");
    assert_false(h.ok);
    assert_string_equal(h.e.text, "disk is full");
    assert_int_equal(h.n_put, 1);
    heard_free(&h);
}

/* ---- writing ---------------------------------------------------------------------------------------------------- */

/* Puts each row it hears into a dump, so that reading and writing meet. */
static bool put_in_dump(void *context, const struct exchange_row *row, size_t *field, struct err *e)
{
    (void)field;
    return json_dump_row(context, row->reg, row->cells, e);
}

static void dump_again(const char *bytes, struct text *out)
{
    struct err e;
    struct faults faults = {0};
    size_t n;
    struct json_dump *d = json_dump_new(&e);
    assert_non_null(d);
    assert_true(exchange_read(&(struct source){.name = "dump.json", .bytes = bytes, .len = strlen(bytes)}, NULL,
                              &(struct exchange_sink){.put = put_in_dump, .context = d}, &faults, &n, &e));
    assert_string_equal(text_str(&faults.lines), "");
    assert_true(json_dump_text(d, out, &e));
    json_dump_free(d);
    faults_free(&faults);
}

static void a_dump_reads_back_and_dumps_the_same_bytes(void **state)
{
    (void)state;
    struct text first = {0}, second = {0};
    dump_again("{\"schema\":1,\"band\":[{\"system\":\"n\\u00f6rth "
               "\\\"1\\\"\\\\\",\"analyte\":\"po4\",\"low\":0.30000000000000004,"
               "\"high\":3e2}],\"system\":[{\"name\":\"A\",\"sump_volume_l\":302.83294272,\"quarantine\":true},{"
               "\"name\":\"B\"}]}",
               &first);
    assert_string_equal(
        text_str(&first),
        "{\n\"schema\": 1,\n\"system\": [\n"
        "{\"name\":\"A\",\"sump_volume_l\":302.83294272,\"test_every_d\":null,\"quarantine\":true,"
        "\"broadcast_once\":null,\"broadcast_position_m\":null,\"note\":null,"
        "\"retired\":null,\"lights_on_min\":null,\"lights_off_min\":null},\n"
        "{\"name\":\"B\",\"sump_volume_l\":null,\"test_every_d\":null,\"quarantine\":null,"
        "\"broadcast_once\":null,\"broadcast_position_m\":null,\"note\":null,\"retired\":null,\"lights_on_min\":null,"
        "\"lights_off_min\":null}\n"
        "],\n\"band\": [\n"
        "{\"system\":\"nörth \\\"1\\\"\\\\\",\"analyte\":\"po4\",\"low\":0.30000000000000004,\"high\":300}\n]\n}\n");
    dump_again(text_str(&first), &second);
    assert_string_equal(text_str(&second), text_str(&first));
    text_free(&first);
    text_free(&second);
}

static void an_empty_dump_is_a_document(void **state)
{
    (void)state;
    struct text out = {0};
    dump_again("{\"schema\":1}", &out);
    assert_string_equal(text_str(&out), "{\n\"schema\": 1\n}\n");
    text_free(&out);
}

static void rows_of_a_register_must_come_together(void **state)
{
    (void)state;
    struct err e;
    struct cell cells[FIELDS_MAX] = {{.kind = CELL_TEXT, .text = "A"}};
    struct json_dump *d = json_dump_new(&e);
    assert_true(json_dump_row(d, reg_get(REG_SYSTEM), cells, &e));
    assert_true(json_dump_row(d, reg_get(REG_TANK), cells, &e));
    assert_false(json_dump_row(d, reg_get(REG_SYSTEM), cells, &e));
    assert_int_equal(e.code, ERR_MISUSE);
    json_dump_free(d);
    json_dump_free(NULL);
}

static void no_mutilated_document_is_read_in_silence_or_crashes(void **state)
{
    (void)state;
    static const char whole[] = "{\"schema\": 1,\n\"system\": [{\"name\": \"north\", \"quarantine\": true}],\n"
                                "\"tank\": [{\"name\": \"Gr\\u00fcn\", \"length_in\": 48, \"note\": null},\n"
                                "{\"name\": \"B\", \"hold_until\": \"2026-11-25\", \"water_cm\": 4.05e1}]}\n";
    static const char spice[] = "\"\"{}[],:\\u0\n\xC3\x00\xFF 1-etfn";
    uint32_t x = 20261125;
    for (int i = 0; i < 6000; i++) {
        char bytes[sizeof whole];
        size_t len = sizeof whole - 1;
        memcpy(bytes, whole, sizeof whole);
        for (uint32_t n = next_random(&x) % 4 + 1; n > 0; n--)
            bytes[next_random(&x) % len] =
                next_random(&x) % 3 == 0 ? (char)next_random(&x) : spice[next_random(&x) % (sizeof spice - 1)];
        if (next_random(&x) % 4 == 0)
            len = next_random(&x) % len;
        struct heard h = {0};
        hear_bytes(&h, "f.json", bytes, len);
        assert_true(h.ok);
        assert_true(h.n_put <= h.n_rows);
        assert_true(h.faults.n > 0 || h.n_put == h.n_rows);
        assert_true(utf8_valid(text_str(&h.faults.lines), h.faults.lines.len, NULL));
        heard_free(&h);
    }
}

SUITE(exchange_json)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rows_come_register_by_register_whatever_the_order_of_the_file),
        cmocka_unit_test(a_document_without_rows_is_no_fault),
        cmocka_unit_test(escapes_and_units_are_understood),
        cmocka_unit_test(every_fault_has_its_place_and_says_what_is_expected),
        cmocka_unit_test(one_broken_row_hides_no_other),
        cmocka_unit_test(deep_nesting_and_long_strings_are_faults_not_crashes),
        cmocka_unit_test(an_error_of_the_store_ends_the_reading),
        cmocka_unit_test(a_dump_reads_back_and_dumps_the_same_bytes),
        cmocka_unit_test(an_empty_dump_is_a_document),
        cmocka_unit_test(rows_of_a_register_must_come_together),
        cmocka_unit_test(no_mutilated_document_is_read_in_silence_or_crashes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
