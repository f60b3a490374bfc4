/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Errors, arenas, text, numbers and days. */
#include "tests.h"

static void a_cut_error_text_never_splits_a_character(void **state)
{
    (void)state;
    struct err e;
    struct text long_name = {0};
    text_add(&long_name, "x");
    for (int i = 0; i < 700; i++)
        text_add(&long_name, "é");
    assert_false(err_set(&e, ERR_INPUT, &(struct place){"a.csv", 3, 9}, "%s", text_str(&long_name)));
    assert_true(utf8_valid(e.text, strlen(e.text), NULL));
    assert_true(strlen(e.text) > sizeof e.text - 4);
    text_free(&long_name);
}

static void an_error_cannot_steer_the_terminal(void **state)
{
    (void)state;
    struct err e;
    err_set(&e, ERR_INPUT, &(struct place){"a\x1b[2J.csv", 3, 9}, "is \"%.4s\"\n%s", "Gr\x7F\xC3\xBC",
            "\xFC\xC2\x9B \xC3\xBC");
    assert_string_equal(e.text, "a?[2J.csv:3:9: is \"Gr??\"\n?? \xC3\xBC");
}

static void a_text_loses_a_last_character_that_was_cut_and_no_other(void **state)
{
    (void)state;
    static const char *const rows[][2] = {
        {"", ""},
        {"ab", "ab"},
        {"a\xC3\xBC", "a\xC3\xBC"},
        {"a\xC3", "a"},
        {"\xE2\x82\xAC", "\xE2\x82\xAC"},
        {"a\xE2\x82", "a"},
        {"a\xF0\x9F\x90", "a"},
        {"\xF0\x9F\x90\xA0", "\xF0\x9F\x90\xA0"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char text[8];
        snprintf(text, sizeof text, "%s", rows[i][0]);
        utf8_cut_whole(text);
        assert_string_equal(text, rows[i][1]);
    }
}

static void an_error_names_file_line_and_column(void **state)
{
    (void)state;
    struct err e;
    err_set(&e, ERR_INPUT, &(struct place){"tank.csv", 14, 7}, "is \"%s\"", "forty");
    assert_string_equal(e.text, "tank.csv:14:7: is \"forty\"");
    err_set(&e, ERR_INPUT, &(struct place){"tank.csv", 14, 0}, "short");
    assert_string_equal(e.text, "tank.csv:14: short");
    err_set(&e, ERR_INPUT, NULL, "no place");
    assert_string_equal(e.text, "no place");
    char path[sizeof e.text + 100];
    memset(path, 'p', sizeof path - 1);
    path[sizeof path - 1] = '\0';
    err_set(&e, ERR_INPUT, &(struct place){path, 14, 7}, "is \"%s\"",
            "forty"); /* a path that leaves no room for more */
    assert_int_equal(strlen(e.text), sizeof e.text - 1);
}

static void an_error_without_a_file_or_room_for_words_is_still_an_error(void **state)
{
    (void)state;
    struct err e;
    assert_false(err_set(&e, ERR_INPUT, &(struct place){NULL, 14, 7}, "is \"forty\""));
    assert_string_equal(e.text, "is \"forty\"");
    assert_false(err_set(NULL, ERR_INPUT, NULL, "said to nobody"));
    assert_false(err_of_value(NULL, ERR_INPUT, "said to nobody"));
    assert_false(err_help(NULL, HELP_LIST, "tank"));
    assert_false(err_of_value(&e, ERR_INPUT, "is 7; expected 1 to 5") || err_help(&e, HELP_LIST, "tank"));
    assert_true(e.of_value && e.help == HELP_LIST);
    assert_string_equal(e.help_about, "tank");
    assert_false(err_help(&e, HELP_AUDIT, NULL));
    assert_string_equal(e.help_about, "");
}

/* What the C library refuses to write (half a pair of UTF-16 is no character), or no memory holds. */
static void a_text_that_cannot_grow_says_so_and_stays_as_it_was(void **state)
{
    (void)state;
    static const wchar_t half[] = {0xD800, 0};
    struct text t = {0};
    struct arena a = {0};
    text_add(&t, "12 g");
    text_addf(&t, "%ls", half);
    assert_true(t.failed);
    text_add(&t, " of pellets");
    text_add_char(&t, '!', 3);
    text_addf(&t, "%d", 7);
    assert_true(t.failed);
    assert_string_equal(text_str(&t), "12 g");
    text_free(&t);
    text_add_char(&t, '!', SIZE_MAX / 2);
    assert_true(t.failed);
    assert_string_equal(text_str(&t), "");
    text_free(&t);
    assert_false(t.failed);
    assert_null(arena_format(&a, "%ls", half));
    arena_free(&a);
}

static void an_arena_hands_out_zeroed_aligned_room_and_refuses_overflow(void **state)
{
    (void)state;
    struct arena a = {0};
    for (size_t n = 1; n < 5000; n += 37) {
        char *p = arena_alloc(&a, n, 3);
        assert_non_null(p);
        assert_int_equal((uintptr_t)p % _Alignof(max_align_t), 0);
        for (size_t i = 0; i < n * 3; i++)
            assert_int_equal(p[i], 0);
        memset(p, 0xAA, n * 3);
    }
    assert_null(arena_alloc(&a, SIZE_MAX / 2, 3));
    char *none = arena_alloc(&a, 5, 0), *again = arena_alloc(&a, 0, 5); /* an address each, all the same */
    assert_true(none && again && none != again);
    arena_free(&a);
    size_t room = 0;
    assert_null(mem_grow(NULL, &room, SIZE_MAX - 1, 1));
    assert_null(mem_grow(NULL, &room, SIZE_MAX / 16, 64));
    assert_int_equal(room, 0);
}

static void utf8_is_judged_by_the_unicode_table(void **state)
{
    (void)state;
    static const struct {
        const char *s;
        bool valid;
        size_t bad;
    } rows[] = {
        {"", true, 0},
        {"Grün", true, 0},
        {"\xF0\x9F\x90\x9F", true, 0},
        {"a\xC0\x80", false, 1},      /* overlong NUL */
        {"\xE0\x80\xAF", false, 0},   /* overlong slash */
        {"ab\xED\xA0\x80", false, 2}, /* surrogate */
        {"\xF4\x90\x80\x80", false, 0},
        {"Gr\xFCn", false, 2}, /* Latin-1 */
        {"\xC3", false, 0},
        {"a\xE2\x82"
         "A",
         false, 1},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        size_t bad = 0;
        assert_int_equal(utf8_valid(rows[i].s, strlen(rows[i].s), &bad), rows[i].valid);
        assert_int_equal(bad, rows[i].bad);
    }
    assert_false(utf8_valid("Gr\xFCn", 4, NULL));
}

static void an_excerpt_is_safe_to_print_and_never_splits_a_character(void **state)
{
    (void)state;
    char out[EXCERPT_TEXT];
    assert_string_equal(text_excerpt("forty", out), "forty");
    assert_string_equal(text_excerpt("a\x1b[2Jb\n", out), "a?[2Jb?");
    assert_string_equal(text_excerpt("Gr\xFCn \xC2\x9B!", out), "Gr?n ?!");
    for (size_t lead = 0; lead < 3; lead++) {
        struct text t = {0};
        text_add_char(&t, 'x', lead);
        for (int i = 0; i < 40; i++)
            text_add(&t, "é");
        text_excerpt(text_str(&t), out);
        assert_true(utf8_valid(out, strlen(out), NULL));
        assert_true(strlen(out) > 60 && strcmp(out + strlen(out) - 3, "...") == 0);
        text_free(&t);
    }
    char lines[] = "a\nb\x1b", line[] = "a\nb\x1b";
    text_disarm(lines, true);
    text_disarm(line, false);
    assert_string_equal(lines, "a\nb?");
    assert_string_equal(line, "a?b?");
}

static void a_slip_of_the_fingers_finds_its_name(void **state)
{
    (void)state;
    static const char *const names[] = {"north rack", "south rack", "display", "quarantine"};
    assert_string_equal(name_nearest("nroth rack", names, COUNT_OF(names)), "north rack");
    assert_string_equal(name_nearest("Display", names, COUNT_OF(names)), "display");
    assert_string_equal(name_nearest("quaratine", names, COUNT_OF(names)), "quarantine");
    assert_null(name_nearest("basement", names, COUNT_OF(names)));
    assert_null(name_nearest("a name of more letters than any that is stored, and so of none of those that are known",
                             names, COUNT_OF(names)));
    static const char *const far[] = {
        "a tank whose name is longer than all that a slip of the fingers is looked for in"};
    assert_null(name_nearest("a tank whose name is longer than all that a slip of the fingers is looked", far, 1));
    assert_null(name_nearest("a tank", far, 1));
}

static void numbers_are_read_strictly(void **state)
{
    (void)state;
    static const char *const bad[] = {"", "1,5", "nan", "inf", "0x10", "1e999", " 1", "1 ", "1.2.3", "--1", ".", "12a"};
    double v = 7;
    for (size_t i = 0; i < COUNT_OF(bad); i++)
        assert_false(number_parse(bad[i], &v));
    assert_true(v == 7);
    assert_true(number_parse("-0.5", &v) && v == -0.5);
    assert_true(number_parse("1e3", &v) && v == 1000);
    long n = 7;
    static const char *const no_count[] = {"1.5", "99999999999999999999", "", "-", "+-1", "1-2", " 1"};
    for (size_t i = 0; i < COUNT_OF(no_count); i++)
        assert_false(count_parse(no_count[i], &n));
    assert_int_equal(n, 7);
    assert_true(count_parse("-12", &n) && n == -12);
}

static void a_formatted_number_reads_back_the_same(void **state)
{
    (void)state;
    static const struct {
        double v;
        const char *s;
    } rows[] = {{0, "0"},
                {-0.0, "0"},
                {0.1, "0.1"},
                {302.83294272, "302.83294272"},
                {100000, "100000"},
                {1e15, "1000000000000000"},
                {0.00002, "0.00002"},
                {-12.5, "-12.5"},
                {123456789012345.0, "123456789012345"},
                {1.0 / 3, "0.3333333333333333"}};
    char out[32];
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        number_format(rows[i].v, out);
        assert_string_equal(out, rows[i].s);
    }
    double v = 1;
    for (int i = 0; i < 2000; i++) {
        v = v * 1.0173 + (i % 7) * 1e-6;
        double sample = i % 2 ? v : -1 / v, back;
        number_format(sample, out);
        assert_true(number_parse(out, &back));
        assert_true(back == sample);
    }
}

static void a_number_to_be_read_has_its_significant_digits_and_no_zeros_behind(void **state)
{
    static const struct {
        double v;
        int digits;
        const char *out;
    } rows[] = {
        {0, 4, "0"},
        {-0.00000000001, 4, "0"},
        {1, 4, "1"},
        {100, 4, "100"},
        {12345.6, 4, "12346"},
        {9999.4, 4, "9999"},
        {1234.56, 5, "1234.6"},
        {1.2345, 4, "1.234"},
        {0.05, 5, "0.05"},
        {-2.5, 4, "-2.5"},
        {1e-7, 4, "0.0000001"},
    };
    char out[64];
    (void)state;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        number_short(rows[i].v, rows[i].digits, out);
        assert_string_equal(out, rows[i].out);
    }
}

static void rounding_to_a_step_forgives_binary_dust_only(void **state)
{
    (void)state;
    assert_true(round_down_to(0.3, 0.1) == 0.3);
    assert_true(round_up_to(0.1 + 0.2, 0.1) == 0.3);
    assert_true(round_down_to(15.14, 1) == 15);
    assert_true(round_up_to(15.0001, 1) == 16);
    assert_true(round_up_to(0.1 + 0.2 - 0.3, 0.5) == 0);
    assert_true(round_near_to(7.26, 0.5) == 7.5);
    assert_true(round_down_to(-0.25, 0.1) == -0.3);
    assert_int_equal(step_decimals(0.1), 1);
    assert_int_equal(step_decimals(5), 0);
    assert_int_equal(step_decimals(0.25), 2);
    assert_int_equal(step_decimals(1.0 / 3), 6);
}

static void days_follow_the_calendar(void **state)
{
    (void)state;
    static const struct {
        const char *s;
        int day, weekday;
    } rows[] = {{"1970-01-01", 0, 3},  {"2000-02-29", 11016, 1},  {"2026-11-25", 20782, 2},
                {"1969-12-31", -1, 2}, {"1900-01-01", -25567, 0}, {"2199-12-31", 84005, 1}};
    char out[DAY_TEXT];
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        int day;
        assert_true(day_parse(rows[i].s, &day));
        assert_int_equal(day, rows[i].day);
        assert_int_equal(day_weekday(day), rows[i].weekday);
        day_format(day, out);
        assert_string_equal(out, rows[i].s);
    }
    static const char *const none[] = {"2026-02-29", "2026-13-01", "2026-00-01", "2026-11-00", "1899-12-31",
                                       "2200-01-01", "26-01-01",   "2026/01/01", "2026-01/01", "2026-1-01 ",
                                       "2O26-01-01", "2026-O1-01", "2026-01-O1"};
    int day = 5;
    for (size_t i = 0; i < COUNT_OF(none); i++)
        assert_false(day_parse(none[i], &day));
    assert_int_equal(day, 5);
    for (int d = -25567; d <= 84005; d++) {
        day_format(d, out);
        assert_true(day_parse(out, &day) && day == d);
    }
}

static void days_are_read_as_spreadsheets_write_them(void **state)
{
    (void)state;
    static const struct {
        const char *s;
        enum day_order order;
        const char *day, *other; /* other: ambiguous; day NULL: unread */
    } rows[] = {
        {"2026-11-27", DAY_ORDER_UNKNOWN, "2026-11-27", NULL},
        {"2026/1/7", DAY_ORDER_DMY, "2026-01-07", NULL},
        {"2026. 11. 27", DAY_ORDER_UNKNOWN, "2026-11-27", NULL},
        {"2026-11-27T00:00:00", DAY_ORDER_UNKNOWN, "2026-11-27", NULL},
        {"11/27/2026 0:00", DAY_ORDER_UNKNOWN, "2026-11-27", NULL},
        {"2026-11-27 08:05", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"27.11.2026", DAY_ORDER_MDY, "2026-11-27", NULL},
        {"3.4.26", DAY_ORDER_UNKNOWN, "2026-04-03", NULL},
        {"11/27/2026", DAY_ORDER_UNKNOWN, "2026-11-27", NULL},
        {"27/11/2026", DAY_ORDER_UNKNOWN, "2026-11-27", NULL},
        {"27-11-2026", DAY_ORDER_UNKNOWN, "2026-11-27", NULL},
        {"27/11/2026", DAY_ORDER_MDY, NULL, NULL},
        {"5/5/2026", DAY_ORDER_UNKNOWN, "2026-05-05", NULL},
        {"3/4/2026", DAY_ORDER_UNKNOWN, "2026-03-04", "2026-04-03"},
        {"3/4/2026", DAY_ORDER_DMY, "2026-04-03", NULL},
        {"3/4/2026", DAY_ORDER_MDY, "2026-03-04", NULL},
        {"11/27/26", DAY_ORDER_UNKNOWN, "2026-11-27", NULL},
        {"27/11/26", DAY_ORDER_UNKNOWN, "2026-11-27", "2027-11-26"},
        {"27/11/26", DAY_ORDER_DMY, "2026-11-27", NULL},
        {"26-11-03", DAY_ORDER_DMY, NULL, NULL},
        {"27-Nov-2026", DAY_ORDER_UNKNOWN, "2026-11-27", NULL},
        {"27 nov 26", DAY_ORDER_UNKNOWN, "2026-11-27", NULL},
        {"November 7, 2026", DAY_ORDER_UNKNOWN, "2026-11-07", NULL},
        {"No 7, 2026", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"2026-02-29", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"31/11/2026", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"2026-11/27", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"27.11", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"27 11 2026", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"27x11x2026", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"27.11x2026", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"27.11.soon", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"27.soon.2026", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"27.11.2026!", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"27.11.Nov", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"2026/111/27", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"2026/11/270", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"27.11.202", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"Nov Nov 2026", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"Nov-27-2026", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"Nov 31 2026", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"soon", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"3/4/2026 0:00", DAY_ORDER_UNKNOWN, "2026-03-04", "2026-04-03"},
        {"", DAY_ORDER_UNKNOWN, NULL, NULL},
        {"46353", DAY_ORDER_UNKNOWN, NULL, NULL},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        int day, other;
        char out[DAY_TEXT];
        enum day_reading reading = day_read(rows[i].s, rows[i].order, &day, &other);
        assert_int_equal(reading, !rows[i].day ? DAY_UNREAD : rows[i].other ? DAY_AMBIGUOUS : DAY_READ);
        if (reading == DAY_UNREAD)
            continue;
        day_format(day, out);
        assert_string_equal(out, rows[i].day);
        if (reading == DAY_AMBIGUOUS) {
            day_format(other, out);
            assert_string_equal(out, rows[i].other);
        }
    }
    assert_int_equal(day_order_of("11/27/2026"), DAY_ORDER_MDY);
    assert_int_equal(day_order_of("27/11/2026 8:05"), DAY_ORDER_DMY);
    assert_int_equal(day_order_of("3/4/2026"), DAY_ORDER_UNKNOWN);
    assert_int_equal(day_order_of("2026-11-27"), DAY_ORDER_UNKNOWN);
    assert_int_equal(day_order_of("27.11.2026"), DAY_ORDER_UNKNOWN);
    static const char *const silent[] = {"soon", "27-Nov-2026", "Nov-27-2026", "27/27/2026", "11/27/26"};
    for (size_t i = 0; i < COUNT_OF(silent); i++)
        assert_int_equal(day_order_of(silent[i]), DAY_ORDER_UNKNOWN);
}

static void moments_and_clocks_are_read_as_spreadsheets_write_them(void **state)
{
    (void)state;
    static const struct {
        const char *s, *moment; /* NULL: unread */
    } rows[] = {
        {"2026-11-27T08:05", "2026-11-27T08:05"},
        {"2026-11-27 8:05:59", "2026-11-27T08:05"},
        {"11/27/2026 8:05 AM", "2026-11-27T08:05"},
        {"27.11.2026 20:05", "2026-11-27T20:05"},
        {"11/27/2026 12:05 am", "2026-11-27T00:05"},
        {"11/27/2026 12:05PM", "2026-11-27T12:05"},
        {"11/27/2026 13:05 PM", NULL},
        {"11/27/2026", NULL},
        {"11/27/2026 0:05 am", NULL},
        {"8:05", NULL},
        {"11/27/2026 8:5", NULL},
        {"11/27/2026 8:05:60", NULL},
        {"27 Nov 2026 8:05", "2026-11-27T08:05"},
        {"2026-11-27T24:00", NULL},
        {"2026-11-27x8:05", NULL},
        {"2026-11-27 8:", NULL},
        {"2026-11-27 8:05:5", NULL},
        {"2026-11-27 8:05:5x", NULL},
        {"2026-11-27 8:05 in", NULL},
        {"2026-11-27 8:05 an", NULL},
        {"2026-11-27 8:05 am, later", NULL},
        {"2026-13-27 8:05", NULL},
        {"sometime 8:05", NULL},
        {"the 27th of November in 2026 8:05", NULL},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        long moment, other;
        char out[MOMENT_TEXT];
        enum day_reading reading = moment_read(rows[i].s, DAY_ORDER_UNKNOWN, &moment, &other);
        assert_int_equal(reading, rows[i].moment ? DAY_READ : DAY_UNREAD);
        if (reading == DAY_UNREAD)
            continue;
        moment_format(moment, out);
        assert_string_equal(out, rows[i].moment);
    }
    long moment, other;
    assert_int_equal(moment_read("3/4/2026 9:15", DAY_ORDER_UNKNOWN, &moment, &other), DAY_AMBIGUOUS);
    assert_int_equal(other - moment, 30 * MIN_PER_DAY);
    int minute = 0;
    assert_true(clock_parse("9:15", &minute) && minute == 9 * 60 + 15);
    assert_false(clock_parse("9:5", &minute) || clock_parse(":15", &minute) || clock_parse("24:00", &minute) ||
                 clock_parse("009:15", &minute) || clock_parse("9:155", &minute) || clock_parse("ab:15", &minute) ||
                 clock_parse("9:1x", &minute) || clock_parse("9:60", &minute));
}

static void a_moment_is_a_day_and_a_clock(void **state)
{
    (void)state;
    long m;
    char out[MOMENT_TEXT];
    assert_true(moment_parse("2026-11-25T08:05", &m));
    assert_int_equal(m, 20782 * 1440L + 485);
    assert_int_equal(moment_day(m), 20782);
    moment_format(m, out);
    assert_string_equal(out, "2026-11-25T08:05");
    assert_int_equal(moment_day(-1), -1);
    assert_true(moment_parse("2026-11-25 08:05", &m) && m == 20782 * 1440L + 485);
    assert_false(moment_parse("2026-11-25T24:00", &m) || moment_parse("2026-11-25", &m) ||
                 moment_parse("2026-11-25x08:05", &m) || moment_parse("2026-13-25T08:05", &m));
    char clock[CLOCK_TEXT];
    clock_format(1450, clock);
    assert_string_equal(clock, "00:10 +1d");
}

static void a_set_has_the_names_that_were_added_and_no_others(void **state)
{
    (void)state;
    struct name_set names = {0};
    char name[16];
    for (int i = 0; i < 1000; i += 2) {
        snprintf(name, sizeof name, "tank %d", i);
        assert_true(names_add(&names, name));
        assert_true(names_add(&names, name)); /* twice is once */
    }
    for (int i = 0; i < 1000; i++) {
        snprintf(name, sizeof name, "tank %d", i);
        assert_int_equal(names_have(&names, name), i % 2 == 0);
    }
    assert_true(names_add_value(&names, "tank 7", &names));
    assert_ptr_equal(names_value(&names, "tank 7"), &names);
    assert_true(names_add_value(&names, "tank 7", name)); /* the later one stands */
    assert_ptr_equal(names_value(&names, "tank 7"), name);
    assert_null(names_value(&names, "tank 9"));
    names_free(&names);
    assert_false(names_have(&names, "tank 0"));
    names_free(&names);
}

SUITE(base)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_cut_error_text_never_splits_a_character),
        cmocka_unit_test(an_error_cannot_steer_the_terminal),
        cmocka_unit_test(a_text_loses_a_last_character_that_was_cut_and_no_other),
        cmocka_unit_test(an_error_names_file_line_and_column),
        cmocka_unit_test(an_error_without_a_file_or_room_for_words_is_still_an_error),
        cmocka_unit_test(a_text_that_cannot_grow_says_so_and_stays_as_it_was),
        cmocka_unit_test(an_arena_hands_out_zeroed_aligned_room_and_refuses_overflow),
        cmocka_unit_test(utf8_is_judged_by_the_unicode_table),
        cmocka_unit_test(an_excerpt_is_safe_to_print_and_never_splits_a_character),
        cmocka_unit_test(a_slip_of_the_fingers_finds_its_name),
        cmocka_unit_test(numbers_are_read_strictly),
        cmocka_unit_test(a_number_to_be_read_has_its_significant_digits_and_no_zeros_behind),
        cmocka_unit_test(a_formatted_number_reads_back_the_same),
        cmocka_unit_test(rounding_to_a_step_forgives_binary_dust_only),
        cmocka_unit_test(days_follow_the_calendar),
        cmocka_unit_test(days_are_read_as_spreadsheets_write_them),
        cmocka_unit_test(moments_and_clocks_are_read_as_spreadsheets_write_them),
        cmocka_unit_test(a_moment_is_a_day_and_a_clock),
        cmocka_unit_test(a_set_has_the_names_that_were_added_and_no_others),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
