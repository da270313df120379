/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/drawable.h"

#include <criterion/criterion.h>
#include <math.h>

static const struct shape_box world = {{-10, -10, -10}, {10, 10, 10}};

static double area_of(const struct shape *shape, enum drawable_view view)
{
    struct drawable seen;
    drawable_section(shape, view, &world, 0, &seen);
    cr_assert(seen.corners >= 3 && seen.corners <= DRAWABLE_MAX);
    return fabs(plan_area(seen.corner, seen.corners));
}

Test(drawable, of_a_box_is_its_face)
{
    struct shape box = shape_from_box(&(struct shape_box){{0, 0, 0}, {1, 2, 3}});
    cr_assert_float_eq(area_of(&box, DRAWABLE_PLAN), 2, 1e-9);
    cr_assert_float_eq(area_of(&box, DRAWABLE_FRONT), 3, 1e-9);
    cr_assert_float_eq(area_of(&box, DRAWABLE_SIDE), 6, 1e-9);
}

/* A cube on its corner, seen along its diagonal, is a hexagon of area sqrt 3; on its edge, sqrt 2. */
Test(drawable, of_a_turned_box_is_its_shadow)
{
    struct shape box = {.kind = SHAPE_BOX};
    struct vec3 half = {0.5, 0.5, 0.5};
    box.as.block = shape_block_turned((struct vec3){0, 0, 0}, half, M_PI / 4, 0, 0);
    cr_assert_float_eq(area_of(&box, DRAWABLE_PLAN), 1, 1e-9);
    cr_assert_float_eq(area_of(&box, DRAWABLE_FRONT), sqrt(2), 1e-9);
    box.as.block = shape_block_turned((struct vec3){0, 0, 0}, half, 0.3, atan(sqrt(0.5)), M_PI / 4);
    cr_assert_float_eq(area_of(&box, DRAWABLE_PLAN), sqrt(3), 1e-9);
}

Test(drawable, of_round_things_is_around_them)
{
    struct shape ball = {.kind = SHAPE_SPHERE, .as.sphere = {{1, 2, 3}, 0.5}};
    double disc = M_PI / 4, bar = M_PI / 4 + 3;
    cr_assert(area_of(&ball, DRAWABLE_SIDE) >= disc && area_of(&ball, DRAWABLE_SIDE) < 1.003 * disc);
    struct shape rod = {.kind = SHAPE_CAPSULE, .as.capsule = {{0, 0, 0}, {3, 0, 0}, 0.5}};
    cr_assert(area_of(&rod, DRAWABLE_PLAN) >= bar && area_of(&rod, DRAWABLE_PLAN) < 1.003 * bar);
    cr_assert(area_of(&rod, DRAWABLE_SIDE) >= disc && area_of(&rod, DRAWABLE_SIDE) < 1.003 * disc);
}

Test(drawable, of_a_prism_keeps_its_corners_in_plan)
{
    struct shape prism = {.kind = SHAPE_PRISM, .as.prism = {6, {0, 3, 3, 1, 1, 0}, {0, 0, 1, 1, 2, 2}, 1, 3}};
    cr_assert_float_eq(area_of(&prism, DRAWABLE_PLAN), 4, 1e-9);
    cr_assert_float_eq(area_of(&prism, DRAWABLE_FRONT), 6, 1e-9);
    cr_assert_float_eq(area_of(&prism, DRAWABLE_SIDE), 4, 1e-9);
}

Test(drawable, of_a_half_space_is_its_section)
{
    struct drawable seen;
    struct shape wall = {.kind = SHAPE_HALF_SPACE, .as.half_space = {{1, 0, 0}, -5}};
    cr_assert_float_eq(area_of(&wall, DRAWABLE_PLAN), 100, 1e-9);
    cr_assert_float_eq(area_of(&wall, DRAWABLE_FRONT), 100, 1e-9);
    drawable_section(&wall, DRAWABLE_SIDE, &world, 0, &seen);
    cr_assert_eq(seen.corners, 0);
    drawable_section(&wall, DRAWABLE_SIDE, &world, -6, &seen);
    cr_assert_eq(seen.corners, 4);
    struct shape slope = {.kind = SHAPE_HALF_SPACE, .as.half_space = {{sqrt(0.5), 0, sqrt(0.5)}, 0}};
    cr_assert_float_eq(area_of(&slope, DRAWABLE_FRONT), 200, 1e-9);
}
