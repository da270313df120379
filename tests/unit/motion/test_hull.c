/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>

#include "tests/unit/motion/shapes.h"

/* What the header promises. */
#define SHORT_M    1e-6
#define ROUNDING_M 1e-12

/* Any point of the sum that h stands for. */
static struct vec3 point_of(struct random *r, const struct hull *h)
{
    struct vec3 p = {0, 0, random_between(r, 0, h->tall_m)};
    double weight[HULL_MAX_POINTS], sum = 0, angle = random_between(r, 0, 7), out = h->disc_m * random_between(r, 0, 1);
    for (int i = 0; i < h->points; i++)
        sum += weight[i] = -log(random_between(r, 1e-12, 1)) * (random_chance(r, 0.5) ? 1 : 1e-3);
    for (int i = 0; i < h->points; i++)
        p = vec_along(p, h->point[i], weight[i] / sum);
    p.x += out * cos(angle);
    p.y += out * sin(angle);
    return vec_add(p, random_in_ball(r, h->ball_m));
}

static struct hull any_hull(struct random *r)
{
    struct hull h = {.points = 1 + random_below(r, HULL_MAX_POINTS)};
    struct vec3 middle = shapes_point(r, 2);
    static const double spreads[] = {1, 0.1, 1e-6, 1e-12, 0};
    double spread = spreads[random_below(r, 5)];
    for (int i = 0; i < h.points; i++)
        h.point[i] = vec_add(middle, shapes_point(r, spread));
    if (random_chance(r, 0.2)) /* a corner far from all others, as that of a swept cord is */
        h.point[h.points - 1] = shapes_point(r, 6);
    h.disc_m = random_chance(r, 0.5) ? random_between(r, 0, 0.5) : 0;
    h.ball_m = random_chance(r, 0.5) ? random_between(r, 0, 0.3) : 0;
    h.tall_m = random_chance(r, 0.5) ? random_between(r, 0, 1) : 0;
    hull_bound(&h);
    return h;
}

Test(hull, no_two_points_are_nearer)
{
    struct random r = {12};
    for (int i = 0; i < 20000; i++) {
        struct hull a = any_hull(&r), b = any_hull(&r);
        double d = hull_distance(&a, &b, INFINITY);
        for (int k = 0; k < 20; k++) {
            double sampled = vec_norm(vec_sub(point_of(&r, &a), point_of(&r, &b)));
            cr_assert_leq(d, sampled + ROUNDING_M, "%d: %.12g, but two points are %.12g apart", i, d, sampled);
        }
        double box = fmax(fmax(a.around.lo.x - b.around.hi.x, b.around.lo.x - a.around.hi.x),
                          fmax(a.around.lo.z - b.around.hi.z, b.around.lo.z - a.around.hi.z));
        cr_assert_geq(d, box - SHORT_M, "%d: nearer than the boxes around", i);
        cr_assert_geq(d, -a.ball_m - b.ball_m);
        cr_assert_eq(d, hull_distance(&b, &a, INFINITY));
    }
}

Test(hull, distance_is_1_lipschitz_and_does_not_change_with_both_moved)
{
    struct random r = {13};
    for (int i = 0; i < 50000; i++) {
        struct hull a = any_hull(&r), b = any_hull(&r), moved = a, away[2];
        double step = random_chance(&r, 0.5) ? random_between(&r, 0, 0.2) : random_between(&r, 0, 1e-4);
        struct vec3 by = random_in_ball(&r, step), far = shapes_point(&r, 500);
        for (int k = 0; k < a.points; k++)
            moved.point[k] = vec_add(a.point[k], by);
        hull_bound(&moved);
        double d = hull_distance(&a, &b, INFINITY), d2 = hull_distance(&moved, &b, INFINITY);
        cr_assert_leq(fabs(d - d2), vec_norm(by) + SHORT_M, "%d: %g for %g", i, d - d2, vec_norm(by));
        away[0] = a;
        away[1] = b;
        for (int k = 0; k < HULL_MAX_POINTS; k++) {
            away[0].point[k] = vec_add(a.point[k], far);
            away[1].point[k] = vec_add(b.point[k], far);
        }
        hull_bound(&away[0]);
        hull_bound(&away[1]);
        double d3 = hull_distance(&away[0], &away[1], INFINITY);
        cr_assert_float_eq(d, d3, SHORT_M, "%d: %.12g here, %.12g there", i, d, d3);
    }
}

Test(hull, what_is_enough_ends_the_search_and_nothing_else)
{
    struct random r = {14};
    int ended = 0;
    for (int i = 0; i < 20000; i++) {
        struct hull a = any_hull(&r), b = any_hull(&r);
        double enough = random_between(&r, -0.2, 2);
        double whole = hull_distance(&a, &b, INFINITY), some = hull_distance(&a, &b, enough);
        if (some < enough)
            cr_assert_eq(some, whole);
        else
            cr_assert(some <= whole && whole >= enough, "%d: %g, said to be at least %g", i, whole, some);
        ended += some >= enough && some < whole;
    }
    cr_assert_gt(ended, 1000);
}

/* Room along a direction, without the balls, from all corners. */
static double room_along(const struct hull *a, const struct hull *b, struct vec3 n)
{
    double least = INFINITY, most = -INFINITY, level = hypot(n.x, n.y);
    for (int i = 0; i < a->points; i++)
        least = fmin(least, vec_dot(n, a->point[i]) + fmin(0, n.z * a->tall_m) - level * a->disc_m);
    for (int i = 0; i < b->points; i++)
        most = fmax(most, vec_dot(n, b->point[i]) + fmax(0, n.z * b->tall_m) + level * b->disc_m);
    return (least - most) / vec_norm(n);
}

Test(hull, answer_is_as_good_whatever_direction_it_begins_with)
{
    struct random r = {18};
    int proven = 0;
    for (int i = 0; i < 30000; i++) {
        struct hull a = any_hull(&r), b = any_hull(&r);
        double enough = random_chance(&r, 0.5) ? INFINITY : random_between(&r, 0, 2);
        double whole = hull_distance(&a, &b, INFINITY), length = pow(10, random_between(&r, -12, 12));
        struct vec3 along = vec_scale(random_in_ball(&r, 1), length);
        if (random_chance(&r, 0.05))
            along.x = shapes_bad_number(&r);
        double d = hull_distance_along(&a, &b, enough, &along);
        cr_assert(d >= enough ? d <= whole + SHORT_M : fabs(d - whole) <= SHORT_M, "%d: %.12g, %.12g", i, d, whole);
        bool none = along.x == 0 && along.y == 0 && along.z == 0;
        cr_assert_eq(none, d == -a.ball_m - b.ball_m, "%d: %g", i, d);
        if (none)
            continue;
        cr_assert_float_eq(room_along(&a, &b, along) - a.ball_m - b.ball_m, d, ROUNDING_M, "%d: not proven", i);
        cr_assert(hull_distance_along(&a, &b, d, &along) >= d - ROUNDING_M, "%d: not proven at once", i);
        proven++;
    }
    cr_assert_gt(proven, 10000);
}

struct flat {
    const char *what;
    int a_points;
    struct vec3 a[4];
    int b_points;
    struct vec3 b[4];
    double distance;
};

Test(hull, degenerate_and_touching_hulls_have_the_right_distance)
{
    static const struct flat table[] = {
        {"one point", 1, {{1, 2, 3}}, 1, {{1, 2, 3}}, 0},
        {"two points", 1, {{1, 2, 3}}, 1, {{4, 6, 3}}, 5},
        {"all the same", 4, {{1, 1, 1}, {1, 1, 1}, {1, 1, 1}, {1, 1, 1}}, 3, {{2, 1, 1}, {2, 1, 1}, {2, 1, 1}}, 1},
        {"a line of points", 4, {{0, 0, 0}, {1, 0, 0}, {2, 0, 0}, {3, 0, 0}}, 2, {{1.5, 1, -1}, {1.5, 1, 1}}, 1},
        {"parallel segments", 2, {{0, 0, 0}, {9, 0, 0}}, 2, {{4, 1, 0}, {5, 1, 0}}, 1},
        {"segments on a line", 2, {{0, 0, 0}, {1, 0, 0}}, 2, {{1.5, 0, 0}, {9, 0, 0}}, 0.5},
        {"segments on a line that touch", 2, {{0, 0, 0}, {1, 0, 0}}, 2, {{1, 0, 0}, {9, 0, 0}}, 0},
        {"segments that overlap", 2, {{0, 0, 0}, {2, 0, 0}}, 2, {{1, 0, 0}, {9, 0, 0}}, 0},
        {"segments that cross", 2, {{0, 0, 0}, {2, 2, 0}}, 2, {{0, 2, 0}, {2, 0, 0}}, 0},
        {"coplanar triangles", 3, {{0, 0, 0}, {1, 0, 0}, {0, 1, 0}}, 3, {{3, 0, 0}, {4, 0, 0}, {3, 1, 0}}, 2},
        {"coplanar, overlapping", 3, {{0, 0, 0}, {3, 0, 0}, {0, 3, 0}}, 3, {{1, 1, 0}, {4, 0, 0}, {4, 1, 0}}, 0},
        {"a point on a triangle", 3, {{0, 0, 0}, {3, 0, 0}, {0, 3, 0}}, 1, {{1, 1, 0}}, 0},
        {"a point just off it", 3, {{0, 0, 0}, {3, 0, 0}, {0, 3, 0}}, 1, {{1, 1, 1e-5}}, 1e-5},
        {"a square, doubled",
         4,
         {{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}},
         4,
         {{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}},
         0},
        {"a segment through a square",
         4,
         {{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}},
         2,
         {{0.5, 0.5, -1}, {0.5, 0.5, 1}},
         0},
        {"a tetrahedron around a point", 4, {{0, 0, 0}, {4, 0, 0}, {0, 4, 0}, {0, 0, 4}}, 1, {{0.5, 0.5, 0.5}}, 0},
        {"a needle", 3, {{0, 0, 0}, {30, 1e-9, 0}, {30, 0, 0}}, 1, {{15, 2, 0}}, 2},
    };
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        struct hull a = shapes_hull_of(table[i].a, table[i].a_points),
                    b = shapes_hull_of(table[i].b, table[i].b_points);
        double d = hull_distance(&a, &b, INFINITY);
        cr_assert(d <= table[i].distance + 1e-9 && d >= table[i].distance - SHORT_M, "%s: %.12g", table[i].what, d);
        cr_assert_eq(d, hull_distance(&b, &a, INFINITY), "%s", table[i].what);
    }
}

/* Discs meet by their rims, uprights side by side, balls in depth. */
Test(hull, sums_are_counted)
{
    struct hull a = {.points = 1, .point = {{0, 0, 0}}, .disc_m = 1, .ball_m = 0.5, .tall_m = 2};
    struct hull b = {.points = 1, .point = {{5, 0, 1.5}}, .disc_m = 2, .ball_m = 0.25, .tall_m = 1};
    hull_bound(&a);
    hull_bound(&b);
    cr_assert_float_eq(hull_distance(&a, &b, INFINITY), 5 - 3 - 0.75, 1e-9);
    b.point[0] = (struct vec3){3 + 3, 4 + 4, 2 + 12}; /* 10 level, 7 of that beyond the rims; 12 above */
    hull_bound(&b);
    cr_assert_float_eq(hull_distance(&a, &b, INFINITY), sqrt(7 * 7 + 12 * 12) - 0.75, 1e-8);
    b.point[0] = (struct vec3){3.1, 0, 1};
    hull_bound(&b);
    cr_assert_float_eq(hull_distance(&a, &b, INFINITY), 0.1 - 0.75, 1e-9, "the depth of the balls");
    b.point[0] = (struct vec3){0.1, 0, 1};
    hull_bound(&b);
    cr_assert_float_eq(hull_distance(&a, &b, INFINITY), -0.75, 1e-9, "no deeper");
    cr_assert_float_eq(a.around.lo.x, -1.5, 1e-15);
    cr_assert_float_eq(a.around.hi.y, 1.5, 1e-15);
    cr_assert_float_eq(a.around.lo.z, -0.5, 1e-15);
    cr_assert_float_eq(a.around.hi.z, 2.5, 1e-15);
}

Test(hull, half_space_distance_is_that_of_the_lowest_point)
{
    struct random r = {15};
    for (int i = 0; i < 5000; i++) {
        struct hull h = any_hull(&r);
        struct shape ground = shapes_of(&r, SHAPE_HALF_SPACE);
        double d = hull_above(&h, &ground.as.half_space), least = INFINITY;
        for (int k = 0; k < 200; k++)
            least = fmin(least, shape_distance(&ground, point_of(&r, &h)));
        cr_assert(d <= least + ROUNDING_M, "%d: %g, but a point is at %g", i, d, least);
        h.ball_m = h.disc_m = h.tall_m = 0; /* then it is a corner */
        least = INFINITY;
        for (int k = 0; k < h.points; k++)
            least = fmin(least, shape_distance(&ground, h.point[k]));
        cr_assert_float_eq(hull_above(&h, &ground.as.half_space), least, ROUNDING_M);
    }
    struct hull round = {.points = 1, .point = {{0, 0, 1}}, .disc_m = 1, .ball_m = 0.25, .tall_m = 9};
    struct shape_half_space slope = {{0.6, 0, 0.8}, 0}, overhead = {{0, 0, -1}, -20}, wall = {{-1, 0, 0}, -3};
    cr_assert_float_eq(hull_above(&round, &slope), 0.8 - 0.6 - 0.25, 1e-12);
    cr_assert_float_eq(hull_above(&round, &overhead), 20 - 10 - 0.25, 1e-12);
    cr_assert_float_eq(hull_above(&round, &wall), 3 - 1 - 0.25, 1e-12);
}

/* Numbers as large as they may be: no NaN, never more than is there. */
Test(hull, far_coordinates_stay_numbers)
{
    struct random r = {16};
    for (int i = 0; i < 20000; i++) {
        struct hull h[2];
        for (int k = 0; k < 2; k++) {
            h[k] = any_hull(&r);
            for (int p = 0; p < h[k].points; p++)
                if (random_chance(&r, 0.5))
                    h[k].point[p] = shapes_point(&r, SHAPE_FAR_M);
            hull_bound(&h[k]);
        }
        double d = hull_distance(&h[0], &h[1], INFINITY);
        double sampled = vec_norm(vec_sub(point_of(&r, &h[0]), point_of(&r, &h[1])));
        cr_assert(isfinite(d) && d <= sampled + 1e-8, "%d: %g, %g apart", i, d, sampled);
    }
}

Test(hull, valid_only_with_numbers_in_range)
{
    struct random r = {17};
    int valid = 0;
    for (int i = 0; i < 20000; i++) {
        struct hull a = any_hull(&r), b = any_hull(&r);
        cr_assert(hull_valid(&a));
        double *number[] = {&a.point[0].x, &a.point[a.points - 1].y, &a.point[a.points - 1].z, &a.disc_m, &a.ball_m,
                            &a.tall_m};
        int which = random_below(&r, 6);
        *number[which] = shapes_bad_number(&r);
        bool in_range = fabs(*number[which]) <= SHAPE_FAR_M && (which < 3 || *number[which] >= 0);
        cr_assert_eq(hull_valid(&a), in_range, "%g as number %d", *number[which], which);
        if (!in_range)
            continue;
        hull_bound(&a);
        cr_assert(isfinite(hull_distance(&a, &b, INFINITY)));
        valid++;
    }
    cr_assert_gt(valid, 1000);
    struct hull none = {.points = 0}, many = {.points = HULL_MAX_POINTS + 1};
    cr_assert(!hull_valid(&none) && !hull_valid(&many));
}
