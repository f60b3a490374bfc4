/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Blocks of a page, drawn as text. */
#include "tests.h"

#include "neap/print.h"

static char *drawn(struct document *d, int width, int page_lines)
{
    struct text out = {0};
    struct err e;
    assert_true(render_text(d, width, page_lines, &out, &e));
    document_free(d);
    return out.s;
}

static size_t count_of(const char *text, const char *part)
{
    size_t n = 0;
    for (const char *p = text; (p = strstr(p, part)); p += strlen(part))
        n++;
    return n;
}

static int widest(const char *text)
{
    int most = 0;
    while (*text) {
        size_t n = strcspn(text, "\n\f");
        int width = text_width(text, n);
        most = width > most ? width : most;
        text += n + (text[n] != '\0');
    }
    return most;
}

static void columns_are_counted_as_a_terminal_does(void **state)
{
    (void)state;
    assert_int_equal(text_width("acan", 4), 4);
    assert_int_equal(text_width("Gr\xC3\xBCn", 5), 4);              /* two bytes, one column */
    assert_int_equal(text_width("e\xCC\x81", 3), 1);                /* a combining accent takes none */
    assert_int_equal(text_width("\xE7\x8F\x8A\xE7\x91\x9A", 6), 4); /* two wide characters */
    assert_int_equal(text_width("\xFF", 1), 1);
}

static void text_is_wrapped_at_words_and_cut_only_where_a_word_is_too_long(void **state)
{
    (void)state;
    struct document d = {0};
    document_text(&d, "one two three four five six seven eight nine ten eleven twelve thirteen");
    document_text(&d, "a2345678901234567890123456789012345678901234567890");
    char *out = drawn(&d, 40, 0);
    assert_string_equal(out, "one two three four five six seven eight\nnine ten eleven twelve thirteen\n"
                             "a234567890123456789012345678901234567890\n1234567890\n");
    free(out);
}

static void an_item_hangs_under_its_text(void **state)
{
    (void)state;
    struct document d = {0};
    document_item(&d, "[ ]", "thaw the mysid in the refrigerator from the evening before");
    char *out = drawn(&d, 40, 0);
    assert_string_equal(out, "[ ] thaw the mysid in the refrigerator\n    from the evening before\n");
    free(out);
}

static void a_table_keeps_its_columns_whatever_the_letters(void **state)
{
    (void)state;
    static const struct column columns[] = {{"no", 3, true}, {"what", 0, false}, {"mL", 6, true}};
    struct document d = {0};
    document_table(&d, columns, 3);
    document_row(&d, (const char *const[]){"1", "Gr\xC3\xBCn", "2.5"});
    document_row(&d, (const char *const[]){"12", "a long name that must go on in the next line", "10.0"});
    char *out = drawn(&d, 40, 0);
    assert_string_equal(out, " no what                              mL\n"
                             "----------------------------------------\n"
                             "  1 Gr\xC3\xBCn                             2.5\n"
                             " 12 a long name that must go on     10.0\n"
                             "    in the next line\n");
    free(out);
}

static void nothing_is_wider_than_the_page(void **state)
{
    (void)state;
    static const struct column columns[] = {{"a", 10, false}, {"b", 0, false}, {"c", 8, true}};
    for (int width = 20; width <= 120; width += 7) {
        struct document d = {0};
        d.running_left = "a facility with a rather long name  round 12 rev 3  Friday 2026-11-27 and more besides";
        document_heading(&d, "a heading that is rather longer than any narrow page could ever be wide, at all");
        document_table(&d, columns, 3);
        for (int i = 0; i < 50; i++)
            document_row(&d,
                         (const char *const[]){"abcdefghijklmnop", "some words in the middle of it", "123456789012"});
        char *out = drawn(&d, width, 20);
        assert_true(widest(out) <= (width < 40 ? 40 : width));
        free(out);
    }
}

static void every_page_carries_the_running_line_and_its_count(void **state)
{
    (void)state;
    static const struct column columns[] = {{"line", 6, false}, {"what", 0, false}};
    struct document d = {0};
    d.running_left = "round 7 rev 2";
    document_table(&d, columns, 2);
    for (int i = 0; i < 100; i++)
        document_row(&d, (const char *const[]){"x", "y"});
    char *out = drawn(&d, 60, 24);
    /* 24 lines: 2 of the page's head, 2 of the table's, 20 rows: five pages */
    assert_int_equal(count_of(out, "\f"), 4);
    assert_int_equal(count_of(out, "round 7 rev 2"), 5);
    assert_int_equal(count_of(out, "line   what"), 5);
    assert_non_null(strstr(out, "page 1 of 5"));
    assert_non_null(strstr(out, "page 5 of 5"));
    assert_null(strstr(out, "page 6"));
    free(out);
}

static void no_page_is_longer_than_asked(void **state)
{
    (void)state;
    static const struct column columns[] = {{"a", 0, false}};
    struct document d = {0};
    for (int i = 0; i < 40; i++) {
        document_space(&d);
        document_heading(&d, "heading");
        document_table(&d, columns, 1);
        for (int k = 0; k <= i % 5; k++)
            document_row(&d, (const char *const[]){"row"});
    }
    char *out = drawn(&d, 50, 17);
    size_t lines = 0;
    for (const char *p = out; *p; p++) {
        if (*p == '\f')
            lines = 0;
        lines += *p == '\n';
        assert_true(lines <= 17);
    }
    free(out);
}

static void a_heading_is_never_left_alone_at_the_foot_of_a_page(void **state)
{
    (void)state;
    static const struct column columns[] = {{"a", 0, false}};
    for (int before = 0; before < 20; before++) {
        struct document d = {0};
        for (int i = 0; i < before; i++)
            document_text(&d, "filling");
        document_heading(&d, "HEADING");
        document_table(&d, columns, 1);
        for (int i = 0; i < 4; i++)
            document_row(&d, (const char *const[]){"row"});
        char *out = drawn(&d, 40, 12);
        const char *heading = strstr(out, "HEADING\n");
        assert_non_null(heading);
        assert_true(heading[strlen("HEADING\n")] != '\f');
        free(out);
    }
}

static void a_whole_table_is_not_broken_where_a_page_can_hold_it(void **state)
{
    (void)state;
    static const struct column columns[] = {{"", 0, false}};
    struct document d = {0};
    for (int i = 0; i < 8; i++)
        document_text(&d, "filling");
    document_table(&d, columns, 1);
    document_whole(&d);
    for (int i = 0; i < 9; i++)
        document_row(&d, (const char *const[]){"row"});
    char *out = drawn(&d, 40, 14);
    const char *second = strchr(out, '\f');
    assert_non_null(second);
    assert_int_equal(count_of(second, "row\n"), 9);
    free(out);
}

static void a_head_runs_across_its_table_and_stays_with_the_row_after_it(void **state)
{
    (void)state;
    static const struct column columns[] = {{"no", 3, true}, {"what", 0, false}, {"mL", 6, true}};
    for (int before = 0; before < 12; before++) {
        struct document d = {0};
        for (int i = 0; i < before; i++)
            document_text(&d, "filling");
        document_table(&d, columns, 3);
        document_row_head(&d, "", "a head that is wider than its column is");
        document_row_note(&d, "!", "noted");
        document_row(&d, (const char *const[]){"1", "row", "2.5"});
        char *out = drawn(&d, 44, 12);
        assert_non_null(strstr(out, "    a head that is wider than its column is\n  ! noted\n  1 row "));
        free(out);
    }
}

static void a_text_takes_the_room_of_empty_cells_behind_it(void **state)
{
    (void)state;
    static const struct column columns[] = {{"what", 0, false}, {"each", 8, true}, {"mL", 6, true}};
    struct document d = {0};
    document_table(&d, columns, 3);
    document_row(&d, (const char *const[]){"thirty letters and more in one", "", "2.5"});
    document_row(&d, (const char *const[]){"thirty letters and more in one", "3 x", "2.5"});
    char *out = drawn(&d, 40, 0);
    assert_non_null(strstr(out, "thirty letters and more in one       2.5\n"));
    assert_non_null(strstr(out, "thirty letters and more       3 x    2.5\nin one\n"));
    free(out);
}

static void a_box_is_closed_on_all_sides(void **state)
{
    (void)state;
    struct document d = {0};
    document_box(&d, "ALWAYS");
    document_row(&d, (const char *const[]){"look before you put a hand in the water"});
    char *out = drawn(&d, 40, 0);
    assert_string_equal(out, "+- ALWAYS -----------------------------+\n"
                             "| - look before you put a hand in the  |\n"
                             "|   water                              |\n"
                             "+--------------------------------------+\n");
    free(out);
}

static size_t lines_of_page(const char *out, int page)
{
    while (page-- > 0)
        out = strchr(out, '\f') + 1;
    size_t n = 0;
    for (; *out && *out != '\f'; out++)
        n += *out == '\n';
    return n;
}

static void a_section_fills_its_pages_alike_and_no_page_before_the_last_is_half_empty(void **state)
{
    (void)state;
    enum { LINES = 20 };
    for (int first = 1; first < 60; first++) {
        struct document d = {0};
        for (int i = 0; i < first; i++)
            document_text(&d, "first");
        document_page(&d, true);
        for (int i = 0; i < 15; i++)
            document_text(&d, "second");
        char *out = drawn(&d, 40, LINES);
        int pages = (int)count_of(out, "\f") + 1;
        for (int i = 0; i + 1 < pages; i++)
            assert_true(lines_of_page(out, i) >= LINES / 2 && lines_of_page(out, i) <= LINES);
        assert_int_equal(count_of(out, "first\n"), first);
        assert_int_equal(count_of(out, "second\n"), 15);
        free(out);
    }
}

static void a_document_that_ran_out_of_memory_is_not_drawn(void **state)
{
    (void)state;
    struct document d = {.failed = true};
    struct text out = {0};
    struct err e;
    document_heading(&d, "x");
    assert_false(render_text(&d, 80, 0, &out, &e));
    assert_int_equal(e.code, ERR_MEMORY);
    text_free(&out);
    document_free(&d);
}

SUITE(print)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(columns_are_counted_as_a_terminal_does),
        cmocka_unit_test(text_is_wrapped_at_words_and_cut_only_where_a_word_is_too_long),
        cmocka_unit_test(an_item_hangs_under_its_text),
        cmocka_unit_test(a_table_keeps_its_columns_whatever_the_letters),
        cmocka_unit_test(nothing_is_wider_than_the_page),
        cmocka_unit_test(every_page_carries_the_running_line_and_its_count),
        cmocka_unit_test(no_page_is_longer_than_asked),
        cmocka_unit_test(a_heading_is_never_left_alone_at_the_foot_of_a_page),
        cmocka_unit_test(a_whole_table_is_not_broken_where_a_page_can_hold_it),
        cmocka_unit_test(a_head_runs_across_its_table_and_stays_with_the_row_after_it),
        cmocka_unit_test(a_text_takes_the_room_of_empty_cells_behind_it),
        cmocka_unit_test(a_box_is_closed_on_all_sides),
        cmocka_unit_test(a_section_fills_its_pages_alike_and_no_page_before_the_last_is_half_empty),
        cmocka_unit_test(a_document_that_ran_out_of_memory_is_not_drawn),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
