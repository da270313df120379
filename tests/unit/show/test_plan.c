/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/plan.h"

#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>

Test(plan, hull_leaves_out_what_lies_inside_or_on_edges)
{
    const struct plan_point points[] = {{1, 1}, {0, 0}, {2, 0}, {1, 0}, {2, 2}, {0, 2}, {1, 1}, {0, 1}};
    struct plan_point hull[8];
    int n = plan_hull(points, 8, hull);
    cr_assert_eq(n, 4);
    cr_assert_float_eq(plan_depth(hull, n, (struct plan_point){1, 1}), 1, 1e-12);
    cr_assert_float_eq(plan_depth(hull, n, (struct plan_point){0.25, 1}), 0.25, 1e-12);
    cr_assert_float_eq(plan_depth(hull, n, (struct plan_point){2.5, 1}), -0.5, 1e-12);
}

Test(plan, hull_of_a_line_is_none)
{
    const struct plan_point line[] = {{0, 0}, {1, 1}, {3, 3}, {2, 2}}, same[] = {{1, 2}, {1, 2}, {1, 2}};
    struct plan_point hull[4];
    cr_assert_lt(plan_hull(line, 4, hull), 3);
    cr_assert_lt(plan_hull(same, 3, hull), 3);
    cr_assert_lt(plan_hull(same, 1, hull), 3);
    cr_assert_eq(plan_hull(same, 0, hull), 0);
}

/* Whatever the points: every one is inside the hull, and the hull is convex. */
Test(plan, hull_holds_all_points)
{
    srand(7);
    for (int round = 0; round < 2000; round++) {
        struct plan_point points[8], hull[8];
        int count = 3 + rand() % 6;
        for (int i = 0; i < count; i++)
            points[i] = (struct plan_point){rand() % 7, rand() % 7};
        int n = plan_hull(points, count, hull);
        for (int i = 0; n >= 3 && i < count; i++)
            cr_assert_geq(plan_depth(hull, n, points[i]), -1e-12);
        for (int i = 0; n >= 3 && i < n; i++) {
            struct plan_point a = hull[i], b = hull[(i + 1) % n], c = hull[(i + 2) % n];
            cr_assert_gt((b.x - a.x) * (c.y - b.y) - (b.y - a.y) * (c.x - b.x), 0);
        }
    }
}

Test(plan, segments_meet_or_not)
{
    const struct plan_point a = {0, 0}, b = {2, 2}, c = {0, 2}, d = {2, 0}, e = {1, 1}, f = {3, 3}, g = {4, 4};
    cr_assert(plan_meet(a, b, c, d));  /* cross */
    cr_assert(plan_meet(a, b, e, d));  /* touch in the middle */
    cr_assert(plan_meet(a, b, b, d));  /* share an end */
    cr_assert(plan_meet(a, f, e, g));  /* overlap on a line */
    cr_assert(!plan_meet(a, e, f, g)); /* apart on a line */
    cr_assert(!plan_meet(a, c, e, d));
}

Test(plan, folds_are_told_from_corners)
{
    const struct plan_point a = {0, 0}, b = {2, 0}, c = {1, 0}, d = {3, 0}, e = {2, 1};
    cr_assert(plan_folds(a, b, c));
    cr_assert(!plan_folds(a, b, d));
    cr_assert(!plan_folds(a, b, e));
}
