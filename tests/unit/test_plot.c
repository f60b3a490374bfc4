/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Charts of the page model, drawn as text. */
#include "tests.h"

#include "neap/print.h"

static const struct plot_point rising[] = {{-28, 2, 'o'}, {-14, 9, 'o'}, {0, 16, 'o'}};

static struct plot plot_of(const struct plot_point *points, size_t n)
{
    return (struct plot){.title = "nitrate, mg/L",
                         .first_label = "first",
                         .last_label = "last",
                         .x_first = -28,
                         .band_low = 2,
                         .band_high = 16,
                         .decimals = 1,
                         .points = points,
                         .n_points = n};
}

static void draw(const struct plot *plots, size_t n, int width, struct text *out)
{
    struct document d = {0};
    struct err e;
    document_plots(&d, plots, n, false);
    assert_true(render_text(&d, width, 0, out, &e));
    document_free(&d);
}

static void points_stand_where_their_time_and_value_are(void **state)
{
    (void)state;
    const struct plot p = plot_of(rising, COUNT_OF(rising));
    struct text out = {0};
    draw(&p, 1, 40, &out);
    assert_string_equal(text_str(&out), "nitrate, mg/L\n"
                                        "  16.0 |-------------------------------o\n"
                                        "       |\n"
                                        "       |\n"
                                        "       |\n"
                                        "       |                o\n"
                                        "       |\n"
                                        "       |\n"
                                        "   2.0 |o-------------------------------\n"
                                        "       +--------------------------------\n"
                                        "        first                       last\n");
    text_free(&out);
}

static void the_bands_edges_are_in_the_picture_however_far_the_points_are(void **state)
{
    (void)state;
    static const struct plot_point high[] = {{-10, 40, 'o'}, {-5, 44, 'x'}};
    const struct plot p = plot_of(high, COUNT_OF(high));
    struct text out = {0};
    draw(&p, 1, 60, &out);
    assert_non_null(strstr(text_str(&out), "  44.0 |"));
    assert_non_null(strstr(text_str(&out), "  16.0 |---"));
    assert_non_null(strstr(text_str(&out), "   2.0 |---"));
    text_free(&out);
}

static void an_outlying_point_is_never_covered(void **state)
{
    (void)state;
    static const struct plot_point same[] = {{-10, 9, 'x'}, {-10, 9, 'o'}};
    const struct plot p = plot_of(same, COUNT_OF(same));
    struct text out = {0};
    draw(&p, 1, 60, &out);
    assert_non_null(strchr(text_str(&out), 'x'));
    assert_null(strchr(strstr(text_str(&out), "16.0"), 'o'));
    text_free(&out);
}

static const struct plot_span rising_line[] = {{-28, 2, 2, 6}, {0, 16, 12, 16}},
                              fan[] = {{0, 16, 12, 16}, {28, 16, 2, 16}};
static const struct plot_tick done[] = {{-28, 'f'}, {-14, 'f'}, {-14, 'w'}, {0, 'f'}};

static struct plot whole_plot(void)
{
    struct plot p = plot_of(rising, 1);
    p.line = rising_line;
    p.ahead = fan;
    p.n_line = p.n_ahead = 2;
    p.ticks = done;
    p.n_ticks = COUNT_OF(done);
    p.ahead_label = "later";
    return p;
}

/* 33 columns of 1.75 days, 8 rows of 2: the line is at 2 + 0.875 column, its interval from 2 to 6 + 0.625 column. */
static void line_interval_fan_and_what_was_done_are_drawn(void **state)
{
    (void)state;
    const struct plot p = whole_plot();
    struct text out = {0};
    draw(&p, 1, 41, &out);
    assert_string_equal(text_str(&out), "nitrate, mg/L\n"
                                        "  16.0 |---------------==~~~~~~~~~~~~~~~~\n"
                                        "       |            .==..::::::::::::::::\n"
                                        "       |         ..==....::::::::::::::::\n"
                                        "       |     ....==.... | :::::::::::::::\n"
                                        "       |  ....===...    |    ::::::::::::\n"
                                        "       |....==...       |       :::::::::\n"
                                        "       |..==.           |           :::::\n"
                                        "   2.0 |o=-------------------------------\n"
                                        "       +f-------w-------f----------------\n"
                                        "        first         last          later\n");
    text_free(&out);
}

static void draw_as(const struct plot *plots, size_t n, int width, enum chart_style charts, bool small,
                    struct text *out)
{
    struct document d = {.charts = charts};
    struct err e;
    document_plots(&d, plots, n, small);
    assert_true(render_text(&d, width, 0, out, &e));
    document_free(&d);
}

/* With its title filled up, so that a line has nothing behind it to be cut off. */
static void a_row_of_charts_is_as_wide_as_its_page_in_either_style(void **state)
{
    (void)state;
    const struct plot two[] = {whole_plot(), whole_plot()};
    for (int width = 60; width <= 200; width++)
        for (int style = CHARTS_ASCII; style <= CHARTS_UNICODE; style++) {
            struct text out = {0};
            draw_as(two, 2, width, (enum chart_style)style, false, &out);
            int most = 0;
            for (const char *s = text_str(&out), *end; *s; s = end + 1) {
                end = strchr(s, '\n');
                most = text_width(s, (size_t)(end - s)) > most ? text_width(s, (size_t)(end - s)) : most;
            }
            assert_true(most <= width && most >= width - 1);
            assert_true((strstr(text_str(&out), "\xE2\x94\x82") != NULL) == (style == CHARTS_UNICODE));
            text_free(&out);
        }
}

static void small_charts_stand_as_many_abreast_as_the_width_allows(void **state)
{
    (void)state;
    const struct plot three[] = {whole_plot(), whole_plot(), whole_plot()};
    static const struct {
        int width, lines;
    } rows[] = {{60, 12}, {80, 6}, {200, 6}, {40, 18}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct text out = {0};
        int n = 0;
        draw_as(three, 3, rows[i].width, CHARTS_ASCII, true, &out);
        for (const char *s = text_str(&out); *s; s++)
            n += *s == '\n';
        assert_int_equal(n, rows[i].lines);
        assert_null(strstr(text_str(&out), "first"));
        text_free(&out);
    }
}

static size_t lines_of(const char *s)
{
    size_t n = 0;
    for (; *s; s++)
        n += *s == '\n';
    return n;
}

static void two_plots_stand_beside_each_other_where_the_width_allows(void **state)
{
    (void)state;
    const struct plot plots[] = {plot_of(rising, 3), plot_of(rising, 1)};
    struct text wide = {0}, narrow = {0};
    draw(plots, 2, 80, &wide);
    draw(plots, 2, 50, &narrow);
    assert_int_equal(lines_of(text_str(&wide)), 11);
    assert_int_equal(lines_of(text_str(&narrow)), 22);
    text_free(&wide);
    text_free(&narrow);
}

static void a_plot_without_points_or_band_is_still_drawn(void **state)
{
    (void)state;
    struct plot p = plot_of(NULL, 0);
    p.band_low = p.band_high = 8;
    struct text out = {0};
    draw(&p, 1, 40, &out);
    assert_int_equal(lines_of(text_str(&out)), 11);
    text_free(&out);
}

static void a_plot_is_never_broken_across_pages(void **state)
{
    (void)state;
    const struct plot p = plot_of(rising, 3);
    struct document d = {0};
    struct text out = {0};
    struct err e;
    d.running_left = "report";
    for (int i = 0; i < 22; i++)
        document_text(&d, "a line");
    document_plots(&d, &p, 1, false);
    assert_true(render_text(&d, 60, 30, &out, &e));
    const char *second = strchr(text_str(&out), '\f');
    assert_non_null(second);
    assert_non_null(strstr(second, "nitrate, mg/L"));
    document_free(&d);
    text_free(&out);
}

SUITE(plot)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(points_stand_where_their_time_and_value_are),
        cmocka_unit_test(the_bands_edges_are_in_the_picture_however_far_the_points_are),
        cmocka_unit_test(an_outlying_point_is_never_covered),
        cmocka_unit_test(line_interval_fan_and_what_was_done_are_drawn),
        cmocka_unit_test(a_row_of_charts_is_as_wide_as_its_page_in_either_style),
        cmocka_unit_test(small_charts_stand_as_many_abreast_as_the_width_allows),
        cmocka_unit_test(two_plots_stand_beside_each_other_where_the_width_allows),
        cmocka_unit_test(a_plot_without_points_or_band_is_still_drawn),
        cmocka_unit_test(a_plot_is_never_broken_across_pages),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
