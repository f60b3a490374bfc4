/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The calendar against RFC 5545, by a small strict reader: content lines (3.1), TEXT (3.3.11), required properties. */
#include "neap/exchange.h"
#include "neap/plan.h"

#include "tests.h"

enum { LINES = 200, VALUE = 2000 };

struct content {
    char name[64], value[VALUE]; /* value unfolded, TEXT escapes still in it */
};

struct reading_ical {
    struct content lines[LINES];
    size_t n;
};

/* Unfolds and splits; every raw line ends with CRLF, has at most 75 octets and is whole UTF-8 by itself. */
static void read_calendar(const struct text *out, struct reading_ical *in)
{
    static char line[VALUE + 100];
    const char *s = text_str(out), *end = s + out->len;
    in->n = 0;
    while (s < end) {
        size_t len = 0, bad;
        do {
            const char *cr = strstr(s, "\r\n");
            assert_non_null(cr);
            size_t n = (size_t)(cr - s);
            assert_true(n > 0 && n <= 75);
            assert_null(memchr(s, '\n', n));
            assert_null(memchr(s, '\r', n));
            assert_true(utf8_valid(s, n, &bad));
            size_t skip = len > 0; /* the blank that marks a continuation */
            assert_true(len + n < sizeof line);
            memcpy(line + len, s + skip, n - skip);
            len += n - skip;
            s = cr + 2;
        } while (s < end && *s == ' ');
        line[len] = '\0';
        char *colon = strchr(line, ':');
        assert_non_null(colon);
        assert_true(in->n < LINES);
        *colon = '\0';
        assert_int_equal(strspn(line, "ABCDEFGHIJKLMNOPQRSTUVWXYZ-"), strlen(line));
        snprintf(in->lines[in->n].name, sizeof in->lines[0].name, "%.63s", line);
        snprintf(in->lines[in->n++].value, sizeof in->lines[0].value, "%s", colon + 1);
    }
}

static bool is_line(const struct content *c, const char *name, const char *value)
{
    return strcmp(c->name, name) == 0 && (!value || strcmp(c->value, value) == 0);
}

/* The value of a property of the component that begins at *at, its inner components aside; must be there once or never.
 */
static const char *property(const struct reading_ical *in, size_t at, const char *name)
{
    const char *value = NULL;
    int depth = 0;
    do {
        const struct content *c = &in->lines[at++];
        depth += is_line(c, "BEGIN", NULL) ? 1 : is_line(c, "END", NULL) ? -1 : 0;
        if (depth == 1 && is_line(c, name, NULL)) {
            assert_null(value);
            value = c->value;
        }
    } while (depth > 0 && at < in->n);
    return value;
}

static void components_nest(const struct reading_ical *in)
{
    char open[4][64];
    size_t depth = 0;
    for (size_t i = 0; i < in->n; i++) {
        if (is_line(&in->lines[i], "BEGIN", NULL)) {
            assert_true(depth < 4);
            snprintf(open[depth++], sizeof open[0], "%.63s", in->lines[i].value);
        } else if (is_line(&in->lines[i], "END", NULL)) {
            assert_true(depth > 0);
            assert_string_equal(open[--depth], in->lines[i].value);
        } else {
            assert_true(depth > 0);
        }
    }
    assert_int_equal(depth, 0);
}

static bool is_moment(const char *s, const char *zone)
{
    return s && strlen(s) == 15 + strlen(zone) && strspn(s, "0123456789") == 8 && s[8] == 'T' &&
           strspn(s + 9, "0123456789") == 6 && strcmp(s + 15, zone) == 0;
}

/* ---- a round by hand -------------------------------------------------------------------------------------------- */

static struct tank tanks[] = {
    {.name = "north \\ 1; left, with a name that is long enough to be folded öööööö",
     .pump = "p",
     .flow_off_limit_min = 20},
    {.name = "two", .pump = "p", .flow_off_limit_min = 15},
    {.name = "three", .pump = "", .flow_off_limit_min = 30},
};

static struct line lines[] = {
    {.number = 1, .tank = 0, .action = ACTION_FLOW_OFF, .feeder = 1, .start_min = 1430, .end_min = 1430, .note = ""},
    {.number = 2,
     .tank = 0,
     .action = ACTION_FLOW_ON,
     .feeder = 2,
     .start_min = 1441,
     .end_min = 1441,
     .note = "one pump with two"},
    {.number = 3, .tank = 2, .action = ACTION_FLOW_OFF, .feeder = 1, .start_min = 1400, .end_min = 1400, .note = ""},
    {.number = 4, .tank = 2, .action = ACTION_FLOW_ON, .feeder = 1, .start_min = 1430, .end_min = 1430, .note = ""},
};

static void write_round(const char *house, long revision, struct reading_ical *in)
{
    struct system systems[] = {{.name = "reef"}};
    struct facility f = {.tanks = tanks, .n_tanks = COUNT_OF(tanks), .systems = systems, .n_systems = 1};
    struct round r = {.lines = lines, .n_lines = COUNT_OF(lines)};
    struct text out = {0};
    f.settings.facility = house;
    r.head.number = 7;
    r.head.revision = revision;
    r.head.feeders = 2;
    r.head.start_min = 1380;
    r.head.finish_min = 1441;
    assert_true(day_parse("2026-12-31", &r.head.day));
    ical_write(&f, &r, ((long)r.head.day + 1) * MIN_PER_DAY + 61, &out);
    assert_false(out.failed);
    read_calendar(&out, in);
    text_free(&out);
}

static size_t event_of(const struct reading_ical *in, const char *uid_part)
{
    for (size_t i = 0; i < in->n; i++)
        if (is_line(&in->lines[i], "BEGIN", "VEVENT") && strstr(property(in, i, "UID"), uid_part))
            return i;
    fail_msg("no event %s", uid_part);
    return 0;
}

static void a_calendar_has_all_that_the_standard_requires(void **state)
{
    (void)state;
    static struct reading_ical in;
    size_t events = 0, alarms = 0;
    write_round("A House", 1, &in);
    components_nest(&in);
    assert_true(is_line(&in.lines[0], "BEGIN", "VCALENDAR"));
    assert_string_equal(property(&in, 0, "VERSION"), "2.0");
    assert_non_null(property(&in, 0, "PRODID"));
    for (size_t i = 0; i < in.n; i++) {
        if (is_line(&in.lines[i], "BEGIN", "VEVENT")) {
            events++;
            assert_non_null(property(&in, i, "UID"));
            assert_true(is_moment(property(&in, i, "DTSTAMP"), "Z"));
            assert_true(is_moment(property(&in, i, "DTSTART"), ""));
            const char *until = property(&in, i, "DTEND");
            assert_true(!until || (is_moment(until, "") && strcmp(until, property(&in, i, "DTSTART")) > 0));
        } else if (is_line(&in.lines[i], "BEGIN", "VALARM")) {
            alarms++;
            assert_string_equal(property(&in, i, "ACTION"), "DISPLAY");
            assert_string_equal(property(&in, i, "TRIGGER"), "PT0S");
            assert_non_null(property(&in, i, "DESCRIPTION"));
        }
    }
    assert_int_equal(events, 3);
    assert_int_equal(alarms, 2);
}

static void a_flow_on_stands_at_its_minute_and_ends_at_the_one_it_must_not_pass(void **state)
{
    (void)state;
    static struct reading_ical in;
    write_round("A House", 1, &in);
    size_t at = event_of(&in, "line-2-");
    /* off at 23:50, two's limit of 15 min holds for the pump; all of it past midnight and past the year */
    assert_string_equal(property(&in, at, "DTSTART"), "20270101T000100");
    assert_string_equal(property(&in, at, "DTEND"), "20270101T000500");
    assert_string_equal(property(&in, at, "DTSTAMP"), "20270101T010100Z");
    assert_non_null(strstr(property(&in, at, "SUMMARY"), "feeder 2"));
    /* at its limit already: an event of no length has no end */
    at = event_of(&in, "line-4-");
    assert_string_equal(property(&in, at, "DTSTART"), "20261231T235000");
    assert_null(property(&in, at, "DTEND"));
}

static void text_is_escaped_and_long_lines_are_folded_between_characters(void **state)
{
    (void)state;
    static struct reading_ical in;
    write_round("House; of \"Corals\", Ltd \\ öäü", 1, &in);
    /* 3.3.11 by hand; read_calendar has proved the folding */
    assert_string_equal(
        property(&in, event_of(&in, "line-2-"), "SUMMARY"),
        "FLOW ON north \\\\ 1\\; left\\, with a name that is long enough to be folded öööööö\\, feeder 2");
    assert_string_equal(property(&in, event_of(&in, "round-7-2026"), "DESCRIPTION"),
                        "House\\; of \"Corals\"\\, Ltd \\\\ öäü\\nRound 7\\, revision 1: 4 lines on the sheet.");
}

static void every_length_of_text_folds_within_the_limit(void **state)
{
    (void)state;
    static struct reading_ical in;
    char house[301];
    for (size_t n = 0; n < 300; n++) {
        size_t len = 0;
        while (len + 2 <= n) { /* two octets each, one plain letter shifting the seam */
            memcpy(house + len, "ö", 2);
            len += 2;
        }
        if (len < n)
            house[len++] = 'a';
        house[len] = '\0';
        write_round(house, 1, &in);
        assert_int_equal(strncmp(property(&in, event_of(&in, "round-7-2026"), "DESCRIPTION"), house, len), 0);
    }
}

static void a_later_revision_replaces_the_same_events(void **state)
{
    (void)state;
    static struct reading_ical first, second;
    write_round("A House", 1, &first);
    write_round("A House", 3, &second);
    const char *wanted[] = {"round-7-2026", "line-2-", "line-4-"};
    for (size_t i = 0; i < COUNT_OF(wanted); i++) {
        size_t a = event_of(&first, wanted[i]), b = event_of(&second, wanted[i]);
        assert_string_equal(property(&first, a, "UID"), property(&second, b, "UID"));
        assert_string_equal(property(&first, a, "SEQUENCE"), "0");
        assert_string_equal(property(&second, b, "SEQUENCE"), "2");
    }
    assert_string_not_equal(property(&first, event_of(&first, "line-2-"), "UID"),
                            property(&first, event_of(&first, "line-4-"), "UID"));
}

SUITE(ical)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_calendar_has_all_that_the_standard_requires),
        cmocka_unit_test(a_flow_on_stands_at_its_minute_and_ends_at_the_one_it_must_not_pass),
        cmocka_unit_test(text_is_escaped_and_long_lines_are_folded_between_characters),
        cmocka_unit_test(every_length_of_text_folds_within_the_limit),
        cmocka_unit_test(a_later_revision_replaces_the_same_events),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
