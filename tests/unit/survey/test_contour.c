/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <math.h>

#include "gateway/survey/contour.h"

enum { SIDE = 81 };

struct found {
    int loops, points;
    double area;        /* holes count negative */
    double least, most; /* of the distance from the middle */
};

static void take(void *context, const struct plan_point *point, int points)
{
    struct found *f = context;
    f->loops++;
    f->points += points;
    f->area += plan_area(point, points);
    for (int i = 0; i < points; i++) {
        double far = hypot(point[i].x, point[i].y);
        f->least = fmin(f->least, far);
        f->most = fmax(f->most, far);
    }
}

static double values[SIDE * SIDE];

static struct contour_grid grid_of(double value(double x, double y))
{
    struct contour_grid g = {-2, -2, 4.0 / (SIDE - 1), SIDE, SIDE, values};
    for (int i = 0; i < SIDE * SIDE; i++)
        values[i] = value(g.x + i % SIDE * g.step, g.y + (double)(i / SIDE) * g.step);
    return g;
}

static struct found trace(const struct contour_grid *g, double threshold)
{
    struct found f = {.least = INFINITY};
    cr_assert(contour_trace(g, threshold, take, &f));
    return f;
}

static double cone(double x, double y)
{
    return 1 - hypot(x, y);
}

static double ring(double x, double y)
{
    return 0.5 - fabs(hypot(x, y) - 1.2);
}

static double waves(double x, double y)
{
    return sin(5 * x) * sin(5 * y);
}

static double one(double x, double y)
{
    (void)x;
    (void)y;
    return 1;
}

static double holed(double x, double y)
{
    return hypot(x, y) < 0.5 ? NAN : x < -1 ? INFINITY : x > 1 ? -INFINITY : 1;
}

Test(contour, of_a_cone_is_a_circle)
{
    struct contour_grid g = grid_of(cone);
    for (double threshold = -0.9; threshold < 0.9; threshold += 0.3) {
        struct found f = trace(&g, threshold);
        double radius = 1 - threshold;
        cr_assert_eq(f.loops, 1);
        cr_assert_float_eq(f.area, M_PI * radius * radius, 0.01);
        cr_assert(f.least > radius - 0.01 && f.most < radius + 0.01, "%g to %g", f.least, f.most);
    }
    cr_assert_eq(trace(&g, 1.1).loops, 0);
}

Test(contour, a_hole_winds_the_other_way)
{
    struct contour_grid g = grid_of(ring);
    struct found f = trace(&g, 0);
    cr_assert_eq(f.loops, 2);
    cr_assert_float_eq(f.area, M_PI * (1.7 * 1.7 - 0.7 * 0.7), 0.02);
}

/* Half of the square is above 0, in cells that touch at their corners; however saddles are decided, loops close. */
Test(contour, saddles_close_and_share_the_plane_evenly)
{
    struct contour_grid g = grid_of(waves);
    struct found f = trace(&g, 0);
    cr_assert(f.loops > 4);
    double below = 0;
    for (int i = 0; i < SIDE * SIDE; i++)
        values[i] = -values[i];
    below = trace(&g, 1e-9).area;
    cr_assert_float_eq(f.area + below, 16, 0.05);
}

Test(contour, ends_where_the_grid_does)
{
    struct contour_grid g = grid_of(one);
    struct found f = trace(&g, 0);
    cr_assert_eq(f.loops, 1);
    cr_assert_float_eq(f.area, 16, 1e-9);
}

Test(contour, nothing_and_infinity_are_values_too)
{
    struct contour_grid g = grid_of(holed);
    struct found f = trace(&g, 0);
    cr_assert_eq(f.loops, 2);
    cr_assert_float_eq(f.area, 12 - M_PI * 0.25, 0.25);
}
