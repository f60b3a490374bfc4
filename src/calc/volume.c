/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Gross and net volumes of tanks, each formula with its check. */
#include "calc/check.h"

#include <ctype.h>

enum { LONGEST_CM = 10000, MOST_SIDES = 100 };

static const double most_l = 1e8;

/* The measures, in the order in which a person takes them. */
enum measure {
    M_LENGTH = 1 << 0,
    M_WIDTH = 1 << 1,
    M_DIAMETER = 1 << 2,
    M_BOW = 1 << 3,
    M_N_SIDES = 1 << 4,
    M_SIDE = 1 << 5,
    M_CUT_LENGTH = 1 << 6,
    M_CUT_WIDTH = 1 << 7,
    M_WATER = 1 << 8,
    M_STATED = 1 << 9
};

/* n_sides is the one measure that is no double; it has no offset. */
static const struct measure_row {
    enum measure bit;
    const char *name, *how;
    size_t offset;
} measures[] = {
    {M_LENGTH, "length", "in centimetres", offsetof(struct tank_measures, length_cm)},
    {M_WIDTH, "width", "in centimetres", offsetof(struct tank_measures, width_cm)},
    {M_DIAMETER, "diameter", "in centimetres", offsetof(struct tank_measures, diameter_cm)},
    {M_BOW, "bow", "in centimetres", offsetof(struct tank_measures, bow_cm)},
    {M_N_SIDES, "number of sides", "as a whole number", 0},
    {M_SIDE, "side", "in centimetres", offsetof(struct tank_measures, side_cm)},
    {M_CUT_LENGTH, "cut length", "in centimetres", offsetof(struct tank_measures, cut_length_cm)},
    {M_CUT_WIDTH, "cut width", "in centimetres", offsetof(struct tank_measures, cut_width_cm)},
    {M_WATER, "water height", "in centimetres", offsetof(struct tank_measures, water_cm)},
    {M_STATED, "stated volume", "in litres", offsetof(struct tank_measures, stated_l)},
};

static double area_box(const struct tank_measures *m)
{
    return m->length_cm * m->width_cm;
}

static double area_circle(const struct tank_measures *m)
{
    return CALC_PI * m->diameter_cm * m->diameter_cm / 4;
}

static double area_half_circle(const struct tank_measures *m)
{
    return area_circle(m) / 2;
}

static double area_quarter_circle(const struct tank_measures *m)
{
    return CALC_PI * m->side_cm * m->side_cm / 4;
}

/*
 * The segment between the chord and the bowed front. With half its central angle a = 2 atan(2 rise / chord) the area is
 * R² (a − sin a cos a), R = chord / (2 sin a). The usual form with acos((R − rise) / R) is the same area, but loses its
 * digits as the bow gets flat.
 */
static double area_bow_front(const struct tank_measures *m)
{
    double half_angle = 2 * atan(2 * m->bow_cm / m->length_cm);
    double radius = m->length_cm / (2 * sin(half_angle));
    return area_box(m) + radius * radius * (half_angle - sin(half_angle) * cos(half_angle));
}

/* n triangles, each with one side of the prism as its base. */
static double area_regular(const struct tank_measures *m)
{
    return m->n_sides * m->side_cm * m->side_cm / (4 * tan(CALC_PI / m->n_sides));
}

static double area_cut_corner(const struct tank_measures *m)
{
    return area_box(m) - m->cut_length_cm * m->cut_width_cm / 2;
}

static const struct shape_row {
    const char *name;
    unsigned uses;
    double (*floor_cm2)(const struct tank_measures *);
} shapes[N_SHAPES] = {
    [SHAPE_BOX] = {"box", M_LENGTH | M_WIDTH | M_WATER, area_box},
    [SHAPE_CYLINDER] = {"cylinder", M_DIAMETER | M_WATER, area_circle},
    [SHAPE_HALF_CYLINDER] = {"half cylinder", M_DIAMETER | M_WATER, area_half_circle},
    [SHAPE_QUARTER_CYLINDER] = {"quarter cylinder", M_SIDE | M_WATER, area_quarter_circle},
    [SHAPE_BOW_FRONT] = {"bow front", M_LENGTH | M_WIDTH | M_BOW | M_WATER, area_bow_front},
    [SHAPE_PRISM] = {"prism", M_N_SIDES | M_SIDE | M_WATER, area_regular},
    [SHAPE_CUT_CORNER] = {"cut corner", M_LENGTH | M_WIDTH | M_CUT_LENGTH | M_CUT_WIDTH | M_WATER, area_cut_corner},
    [SHAPE_STATED] = {"stated", M_STATED, NULL},
};

const char *tank_shape_name(enum tank_shape shape)
{
    return shapes[shape].name;
}

bool tank_shape_find(const char *name, enum tank_shape *shape, struct err *e)
{
    const char *names[N_SHAPES];
    char plain[32];
    size_t n = 0;
    for (; name[n] && n + 1 < sizeof plain; n++)
        plain[n] = name[n] == '-' || name[n] == '_' ? ' ' : (char)tolower((unsigned char)name[n]);
    plain[n] = '\0';
    for (size_t i = 0; i < N_SHAPES; i++) {
        names[i] = shapes[i].name;
        if (!name[n] && strcmp(plain, names[i]) == 0) {
            *shape = (enum tank_shape)i;
            return true;
        }
    }
    const char *near = name_nearest(plain, names, N_SHAPES);
    if (near)
        return err_set(e, ERR_INPUT, NULL, "tank shape \"%s\" is not known; did you mean %s?", name, near);
    return err_set(e, ERR_INPUT, NULL,
                   "tank shape \"%s\" is not known; expected box, cylinder, half cylinder, quarter cylinder, bow "
                   "front, prism, cut corner or stated",
                   name);
}

static double measure_of(const struct tank_measures *m, const struct measure_row *row)
{
    double v;
    if (row->bit == M_N_SIDES)
        return m->n_sides == 0 ? (double)NAN : (double)m->n_sides;
    memcpy(&v, (const char *)m + row->offset, sizeof v);
    return v;
}

static bool measure_check(const struct tank_measures *m, const struct measure_row *row, struct err *e)
{
    const struct shape_row *shape = &shapes[m->shape];
    double v = measure_of(m, row);
    if (!(shape->uses & row->bit) && isnan(v))
        return true;
    if (!(shape->uses & row->bit))
        return err_set(e, ERR_INPUT, NULL, "%s is given, but the shape \"%s\" has none; leave it out", row->name,
                       shape->name);
    if (isnan(v))
        return err_set(e, ERR_INPUT, NULL, "%s is missing; the shape \"%s\" needs it, %s", row->name, shape->name,
                       row->how);
    if (row->bit == M_N_SIDES)
        return check_within(row->name, v, 3, MOST_SIDES, "", e);
    double most = row->bit == M_STATED ? most_l : LONGEST_CM;
    if (v > 0 && v <= most)
        return true;
    return err_set(e, ERR_INPUT, NULL, "%s is %g; expected it %s, above 0 and at most %.0f", row->name, v, row->how,
                   most);
}

/* What no single measure can show: a bow or a cut larger than the sides that hold it. */
static bool measures_agree(const struct tank_measures *m, struct err *e)
{
    if (m->shape == SHAPE_BOW_FRONT && m->bow_cm > m->length_cm / 2)
        return err_set(e, ERR_INPUT, NULL, "bow is %g cm; expected at most half the length, %g cm", m->bow_cm,
                       m->length_cm / 2);
    if (m->shape == SHAPE_CUT_CORNER && m->cut_length_cm > m->length_cm)
        return err_set(e, ERR_INPUT, NULL, "cut length is %g cm; expected at most the length, %g cm", m->cut_length_cm,
                       m->length_cm);
    if (m->shape == SHAPE_CUT_CORNER && m->cut_width_cm > m->width_cm)
        return err_set(e, ERR_INPUT, NULL, "cut width is %g cm; expected at most the width, %g cm", m->cut_width_cm,
                       m->width_cm);
    return true;
}

bool volume_gross(const struct tank_measures *m, double *volume_l, struct err *e)
{
    for (size_t i = 0; i < COUNT_OF(measures); i++)
        if (!measure_check(m, &measures[i], e))
            return false;
    if (!measures_agree(m, e))
        return false;
    *volume_l = m->shape == SHAPE_STATED ? m->stated_l : shapes[m->shape].floor_cm2(m) * m->water_cm / 1000;
    return true;
}

bool volume_net(double gross_l, double displacement_frac, double *net_l, struct err *e)
{
    if (!check_above_zero("gross volume", gross_l, e))
        return false;
    if (!isfinite(displacement_frac))
        return err_set(e, ERR_INPUT, NULL, "displacement is not given; expected a fraction, 0 for an empty tank");
    if (displacement_frac < 0 || displacement_frac >= 1)
        return err_set(e, ERR_INPUT, NULL, "displacement is %g; expected a fraction from 0 to below 1, such as 0.15",
                       displacement_frac);
    *net_l = gross_l * (1 - displacement_frac);
    return true;
}
