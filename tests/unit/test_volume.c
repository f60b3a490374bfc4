/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Volumes of tanks, by published formulas. */
#include "handbook_checks.h"

#define NONE TANK_MEASURES_NONE

static double volume_of(const struct handbook_row *row, const struct tank_measures *m)
{
    struct err e = {0};
    double litres = NAN;
    if (!volume_gross(m, &litres, &e))
        fail_msg("%s: %s", row->id, e.text);
    return handbook_out(row, litres, QUANTITY_VOLUME);
}

static double run_box(const struct handbook_row *row)
{
    struct tank_measures m = NONE;
    m.length_cm = handbook_in(row, 0, "cm");
    m.width_cm = handbook_in(row, 1, "cm");
    m.water_cm = handbook_in(row, 2, "cm");
    return volume_of(row, &m);
}

static double run_cylinder(const struct handbook_row *row)
{
    struct tank_measures m = NONE;
    m.shape = SHAPE_CYLINDER;
    m.diameter_cm = handbook_in(row, 0, "cm");
    m.water_cm = handbook_in(row, 1, "cm");
    return volume_of(row, &m);
}

static double run_quarter(const struct handbook_row *row)
{
    struct tank_measures m = NONE;
    m.shape = SHAPE_QUARTER_CYLINDER;
    m.side_cm = handbook_in(row, 0, "cm");
    m.water_cm = handbook_in(row, 1, "cm");
    return volume_of(row, &m);
}

static double run_prism(const struct handbook_row *row)
{
    struct tank_measures m = NONE;
    m.shape = SHAPE_PRISM;
    m.n_sides = (int)handbook_in(row, 0, "");
    m.side_cm = handbook_in(row, 1, "cm");
    m.water_cm = handbook_in(row, 2, "cm");
    return volume_of(row, &m);
}

static double run_bow_front(const struct handbook_row *row)
{
    struct tank_measures m = NONE;
    m.shape = SHAPE_BOW_FRONT;
    m.length_cm = handbook_in(row, 0, "cm");
    m.width_cm = handbook_in(row, 1, "cm");
    m.bow_cm = handbook_in(row, 2, "cm");
    m.water_cm = handbook_in(row, 3, "cm");
    return volume_of(row, &m);
}

static void every_printed_volume_is_met(void **state)
{
    (void)state;
    static const struct handbook_function functions[] = {{"box", run_box},
                                                         {"cylinder", run_cylinder},
                                                         {"quarter cylinder", run_quarter},
                                                         {"prism", run_prism},
                                                         {"bow front", run_bow_front}};
    assert_int_equal(handbook_run("volume", functions, COUNT_OF(functions)), 16);
}

static double litres(struct tank_measures m)
{
    struct err e = {0};
    double v = NAN;
    if (!volume_gross(&m, &v, &e))
        fail_msg("%s", e.text);
    return v;
}

static void the_parts_of_a_cylinder_make_it_whole(void **state)
{
    (void)state;
    struct tank_measures whole = NONE, half = NONE, quarter = NONE;
    whole.shape = SHAPE_CYLINDER;
    half.shape = SHAPE_HALF_CYLINDER;
    quarter.shape = SHAPE_QUARTER_CYLINDER;
    whole.diameter_cm = half.diameter_cm = 80;
    quarter.side_cm = 40;
    whole.water_cm = half.water_cm = quarter.water_cm = 55;
    assert_number(2 * litres(half), litres(whole), 1e-9);
    assert_number(4 * litres(quarter), litres(whole), 1e-9);
}

/* A bow of half the length is a half cylinder in front of a box; a square prism is a box. */
static void shapes_agree_where_they_meet(void **state)
{
    (void)state;
    struct tank_measures bow = NONE, box = NONE, half = NONE, square = NONE;
    bow.shape = SHAPE_BOW_FRONT;
    half.shape = SHAPE_HALF_CYLINDER;
    square.shape = SHAPE_PRISM;
    bow.length_cm = box.length_cm = half.diameter_cm = 60;
    bow.width_cm = box.width_cm = 60;
    bow.bow_cm = 30;
    square.n_sides = 4;
    square.side_cm = 60;
    bow.water_cm = box.water_cm = half.water_cm = square.water_cm = 50;
    assert_number(litres(bow), litres(box) + litres(half), 1e-9);
    assert_number(litres(square), litres(box), 1e-9);
}

/* The segment of a very flat bow tends to two thirds of chord times rise (Archimedes, Quadrature of the Parabola). */
static void a_flat_bow_adds_two_thirds_of_its_rectangle(void **state)
{
    (void)state;
    struct tank_measures bow = NONE, box = NONE;
    bow.shape = SHAPE_BOW_FRONT;
    bow.length_cm = box.length_cm = 100;
    bow.width_cm = box.width_cm = 40;
    bow.water_cm = box.water_cm = 1000;
    bow.bow_cm = 0.01;
    assert_number(litres(bow) - litres(box), 2.0 / 3 * 100 * 0.01 * 1000 / 1000, 1e-6);
}

static void a_cut_corner_loses_its_triangle(void **state)
{
    (void)state;
    struct tank_measures m = NONE;
    m.shape = SHAPE_CUT_CORNER;
    m.length_cm = 90;
    m.width_cm = 60;
    m.water_cm = 50;
    m.cut_length_cm = 30;
    m.cut_width_cm = 20;
    assert_number(litres(m), 270 - 15, 1e-9); /* 30 × 20 / 2 × 50 cm³ = 15 L */
    m.cut_length_cm = 90;
    m.cut_width_cm = 60;
    assert_number(litres(m), 135, 1e-9); /* what is left is the other triangle */
}

static void a_stated_volume_is_taken_as_it_is(void **state)
{
    (void)state;
    struct tank_measures m = NONE;
    m.shape = SHAPE_STATED;
    m.stated_l = 302.83294272;
    assert_true(litres(m) == 302.83294272);
}

static void refused(struct tank_measures m, const char *words)
{
    struct err e = {0};
    double v = 7;
    assert_false(volume_gross(&m, &v, &e));
    assert_true(v == 7);
    assert_int_equal(e.code, ERR_INPUT);
    assert_string_equal(e.text, words);
}

static void a_refusal_names_the_measure(void **state)
{
    (void)state;
    struct tank_measures box = NONE, bow = NONE, prism = NONE, cut = NONE, stated = NONE;
    box.length_cm = 100;
    box.width_cm = 50;
    refused(box, "water height is missing; the shape \"box\" needs it, in centimetres");
    box.water_cm = -40;
    refused(box, "water height is -40; expected it in centimetres, above 0 and at most 10000");
    box.water_cm = INFINITY;
    refused(box, "water height is inf; expected it in centimetres, above 0 and at most 10000");
    box.water_cm = 40;
    box.bow_cm = 5;
    refused(box, "bow is given, but the shape \"box\" has none; leave it out");
    bow.shape = SHAPE_BOW_FRONT;
    bow.length_cm = 100;
    bow.width_cm = bow.water_cm = 50;
    bow.bow_cm = 51;
    refused(bow, "bow is 51 cm; expected at most half the length, 50 cm");
    prism.shape = SHAPE_PRISM;
    prism.side_cm = prism.water_cm = 50;
    refused(prism, "number of sides is missing; the shape \"prism\" needs it, as a whole number");
    prism.n_sides = 2;
    refused(prism, "number of sides is 2; expected 3 to 100");
    cut.shape = SHAPE_CUT_CORNER;
    cut.length_cm = cut.width_cm = cut.water_cm = cut.cut_length_cm = 50;
    cut.cut_width_cm = 50.5;
    refused(cut, "cut width is 50.5 cm; expected at most the width, 50 cm");
    cut.cut_length_cm = 51;
    refused(cut, "cut length is 51 cm; expected at most the length, 50 cm");
    stated.shape = SHAPE_STATED;
    stated.stated_l = 0;
    refused(stated, "stated volume is 0; expected it in litres, above 0 and at most 100000000");
    stated.stated_l = 300;
    stated.n_sides = 6;
    refused(stated, "number of sides is given, but the shape \"stated\" has none; leave it out");
}

static void every_shape_is_found_by_its_name(void **state)
{
    (void)state;
    static const char *const names[N_SHAPES] = {"box",       "cylinder", "half cylinder", "quarter cylinder",
                                                "bow front", "prism",    "cut corner",    "stated"};
    enum tank_shape shape;
    struct err e = {0};
    for (size_t i = 0; i < N_SHAPES; i++) {
        assert_string_equal(tank_shape_name((enum tank_shape)i), names[i]);
        assert_true(tank_shape_find(names[i], &shape, &e));
        assert_int_equal(shape, i);
    }
    assert_true(tank_shape_find("Bow-Front", &shape, &e) && shape == SHAPE_BOW_FRONT);
    assert_true(tank_shape_find("half_cylinder", &shape, &e) && shape == SHAPE_HALF_CYLINDER);
    assert_true(tank_shape_find("Bow-Front", &shape, &e) && shape == SHAPE_BOW_FRONT);
    assert_false(tank_shape_find("bow frnot", &shape, &e));
    assert_string_equal(e.text, "tank shape \"bow frnot\" is not known; did you mean bow front?");
    assert_false(tank_shape_find("a very long name that is no shape at all, box", &shape, &e));
    assert_non_null(strstr(e.text, "expected box, cylinder, half cylinder"));
}

static void net_volume_leaves_out_the_rock(void **state)
{
    (void)state;
    struct err e = {0};
    double net = 7;
    assert_true(volume_net(200, 0.15, &net, &e));
    assert_number(net, 170, 1e-9);
    assert_true(volume_net(200, 0, &net, &e) && net == 200);
    assert_false(volume_net(200, 1, &net, &e));
    assert_string_equal(e.text, "displacement is 1; expected a fraction from 0 to below 1, such as 0.15");
    assert_false(volume_net(200, NAN, &net, &e) || volume_net(200, -0.1, &net, &e) || volume_net(0, 0.1, &net, &e));
    assert_true(net == 200);
}

SUITE(volume)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_printed_volume_is_met),
        cmocka_unit_test(the_parts_of_a_cylinder_make_it_whole),
        cmocka_unit_test(shapes_agree_where_they_meet),
        cmocka_unit_test(a_flat_bow_adds_two_thirds_of_its_rectangle),
        cmocka_unit_test(a_cut_corner_loses_its_triangle),
        cmocka_unit_test(a_stated_volume_is_taken_as_it_is),
        cmocka_unit_test(a_refusal_names_the_measure),
        cmocka_unit_test(every_shape_is_found_by_its_name),
        cmocka_unit_test(net_volume_leaves_out_the_rock),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
