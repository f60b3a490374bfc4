/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How JSON is laid out. */
#include "tests.h"

#include "neap/print.h"

static void members_of_the_outermost_object_and_rows_of_its_lists_have_a_line_each(void **state)
{
    (void)state;
    struct text out = {0};
    struct json_text j = {.out = &out};
    json_open(&j, NULL, '{');
    json_number_member(&j, "schema", 1);
    json_open(&j, "rows", '[');
    json_open(&j, NULL, '{');
    json_text_member(&j, "system", "north");
    json_number_member(&j, "no3_mg_l", 8.5);
    json_close(&j);
    json_open(&j, NULL, '{');
    json_flag_member(&j, "below", true);
    json_number_member(&j, "level", NAN);
    json_close(&j);
    json_close(&j);
    json_open(&j, "none", '[');
    json_close(&j);
    json_close(&j);
    assert_string_equal(text_str(&out), "{\n\"schema\": 1,\n\"rows\": [\n{\"system\": \"north\", \"no3_mg_l\": 8.5},\n"
                                        "{\"below\": true, \"level\": null}\n],\n\"none\": []\n}\n");
    text_free(&out);
}

static void text_is_escaped_as_the_standard_asks(void **state)
{
    (void)state;
    struct text out = {0};
    struct json_text j = {.out = &out};
    json_open(&j, NULL, '{');
    json_text_member(&j, "k", "a\"b\\c\n\x01 µ"); /* RFC 8259, section 7: quote, backslash and control characters */
    json_close(&j);
    assert_string_equal(text_str(&out), "{\n\"k\": \"a\\\"b\\\\c\\u000a\\u0001 µ\"\n}\n");
    text_free(&out);
}

SUITE(json_text)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(members_of_the_outermost_object_and_rows_of_its_lists_have_a_line_each),
        cmocka_unit_test(text_is_escaped_as_the_standard_asks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
