/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/stage.h"

#include <criterion/criterion.h>

#include "tests/unit/motion/cases.h"
#include "tests/unit/motion/shapes.h"

static struct volume *one(const struct shape_prism *stage)
{
    static struct volume vol;
    vol = (struct volume){.stages = 1};
    vol.stage[0] = *stage;
    return &vol;
}

static struct shape_prism rectangle(double x0, double y0, double x1, double y1, double z0, double z1)
{
    return (struct shape_prism){4, {x0, x1, x1, x0}, {y0, y0, y1, y1}, z0, z1};
}

static double at_point(const struct volume *vol, struct vec3 p)
{
    struct vec3 c[4] = {p, p, p, p};
    return stage_depth(vol, c, 0, 0, INFINITY);
}

static double on_way(const struct volume *vol, struct vec3 a, struct vec3 b, double enough)
{
    struct vec3 c[4] = {a, a, b, b};
    return stage_depth(vol, c, 0, 0, enough);
}

/* Cases geom-pt-prism-*: the depth of a point is minus its distance to the prism. */
Test(stage, depth_of_a_point_is_as_published)
{
    for (int i = 0; i < 6; i++) {
        char id[24];
        snprintf(id, sizeof id, "geom-pt-prism-%d", i);
        json_t *published = reference_case("motion.json", id);
        const json_t *polygon = reference_input(published, "polygon"), *corner;
        struct shape_prism prism = {.z_lo = cases_number(reference_input(published, "z0")),
                                    .z_hi = cases_number(reference_input(published, "z1"))};
        size_t k;
        json_array_foreach(polygon, k, corner)
        {
            prism.x[prism.corners] = cases_number(json_array_get(corner, 0));
            prism.y[prism.corners++] = cases_number(json_array_get(corner, 1));
        }
        double depth = at_point(one(&prism), cases_point(reference_input(published, "point")));
        cr_assert_float_eq(depth, -cases_number(reference_expect(published, "distance")), 1e-9, "%s: %g", id, depth);
        json_decref(published);
    }
}

/* Outside as inside: minus the distance, corners of the prism included. */
Test(stage, depth_of_a_point_in_one_prism_is_its_distance)
{
    struct random r = {120};
    for (int i = 0; i < 20000; i++) {
        struct shape_prism prism = shapes_prism(&r);
        struct vec3 p = shapes_point(&r, 3);
        if (shape_prism_valid(&prism))
            cr_assert_float_eq(at_point(one(&prism), p), -shape_prism_distance(&prism, p), 1e-12, "%d", i);
    }
}

static struct vec3 between(const struct vec3 c[4], double way, double up)
{
    struct vec3 a = vec_along(c[0], vec_sub(c[1], c[0]), up), b = vec_along(c[2], vec_sub(c[3], c[2]), up);
    return vec_along(a, vec_sub(b, a), way);
}

/* A rod that moves straight: an end, the rod, the way. */
static void random_rod(struct random *r, double size, struct vec3 c[4])
{
    struct vec3 rod = random_in_ball(r, random_chance(r, 0.3) ? 0 : 0.5 * size);
    struct vec3 way = random_in_ball(r, random_chance(r, 0.2) ? 0 : size);
    c[0] = shapes_point(r, 1);
    if (random_chance(r, 0.3))
        rod.x = rod.y = 0; /* plumb */
    c[1] = vec_add(c[0], rod);
    c[2] = vec_add(c[0], way);
    c[3] = vec_add(c[1], way);
}

enum { GRID = 24 };

/* Least of -shape_prism_distance() over the parallelogram, as far as a grid shows. */
static double sampled(const struct volume *vol, const struct vec3 c[4])
{
    double least = INFINITY;
    for (int i = 0; i <= GRID * GRID + 2 * GRID; i++) {
        struct vec3 p = between(c, (double)(i % (GRID + 1)) / GRID, (double)(i / (GRID + 1)) / GRID);
        double deepest = -INFINITY;
        for (int k = 0; k < vol->stages; k++)
            deepest = fmax(deepest, -shape_prism_distance(&vol->stage[k], p));
        least = fmin(least, deepest);
    }
    return least;
}

static double step_of(const struct vec3 c[4])
{
    return (vec_norm(vec_sub(c[1], c[0])) + vec_norm(vec_sub(c[2], c[0]))) / GRID;
}

Test(stage, depth_in_one_prism_is_exact)
{
    struct random r = {121};
    int inside = 0;
    for (int i = 0; i < 6000; i++) {
        struct shape_prism prism = shapes_prism(&r);
        struct vec3 c[4];
        random_rod(&r, 0.5, c);
        if (!shape_prism_valid(&prism))
            continue;
        double depth = stage_depth(one(&prism), c, 0, 0, INFINITY), least = sampled(one(&prism), c);
        cr_assert(least > 0 || depth <= 0, "%d: %g, sampled %g", i, depth, least);
        cr_assert_leq(depth, fmax(least, 0) + 1e-12, "%d: %g, sampled %g, %g", i, depth, least, depth - least);
        if (depth > 0)
            cr_assert_geq(depth, least - step_of(c) - 1e-12, "%d: %g, sampled %g", i, depth, least);
        inside += depth > 0;
    }
    cr_assert_gt(inside, 500);
}

Test(stage, a_disc_counts_level_and_a_ball_all_round)
{
    struct shape_prism prism = rectangle(0, 0, 4, 3, 0, 2);
    struct vec3 p = {2, 1.5, 1.9}, c[4] = {p, p, p, p};
    cr_assert_float_eq(stage_depth(one(&prism), c, 1, 0, INFINITY), 0.1, 1e-9, "the disc is clear of the ceiling");
    cr_assert_float_eq(stage_depth(one(&prism), c, 1.45, 0, INFINITY), 0.05, 1e-9, "but not of the walls");
    cr_assert_float_eq(stage_depth(one(&prism), c, 0, 0.3, INFINITY), -0.2, 1e-9);
    cr_assert_float_eq(stage_depth(one(&prism), c, 1.9, 0, INFINITY), -0.4, 1e-9);
    struct vec3 high = {2, 1.5, 2.3}, above[4] = {high, high, high, high};
    cr_assert_float_eq(stage_depth(one(&prism), above, 1.9, 0, INFINITY), -0.5, 1e-9, "out by 0.3 and 0.4");
}

/* Two prisms that overlap: a corner, and a low one under a high one. */
static struct volume *corner_of_two(double overlap)
{
    struct shape_prism first = rectangle(-3, -1, overlap / 2, 1, -1, 1);
    struct volume *vol = one(&first);
    vol->stage[1] = rectangle(-overlap / 2, -1, 3, 1, -0.5, 2);
    vol->stages = 2;
    return vol;
}

Test(stage, one_passes_between_prisms_that_overlap_by_twice_the_clearance)
{
    struct vec3 a = {-2, 0, 0.2}, b = {2, 0.3, 0.3};
    cr_assert_geq(on_way(corner_of_two(0.5), a, b, 0.24), 0.24);
    cr_assert_float_eq(on_way(corner_of_two(0.5), a, b, INFINITY), 0.25, 2 * STAGE_ERROR_M);
    cr_assert_lt(on_way(corner_of_two(0.5), a, b, 0.26), 0.26);
    cr_assert_leq(on_way(corner_of_two(-0.01), a, b, INFINITY), 0, "there is no way through");
    cr_assert_leq(on_way(corner_of_two(0.5), (struct vec3){-2, 0, -0.8}, (struct vec3){2, 0, -0.8}, INFINITY), 0,
                  "nor into the step");
}

/* The boom in the upper one, the body in the lower one, and both move. */
Test(stage, a_long_part_may_be_in_several_at_once)
{
    struct shape_prism low = rectangle(-2, -2, 2, 2, 0, 1.2);
    struct volume *vol = one(&low);
    vol->stage[1] = rectangle(-2, -2, 2, 2, 0.8, 3);
    vol->stages = 2;
    struct vec3 c[4] = {{-1, 0, 1.5}, {-1, 0, 0.5}, {1, 0, 1.6}, {1, 0, 0.6}};
    double depth = stage_depth(vol, c, 0, 0, INFINITY);
    cr_assert(depth <= 0.2 && depth > 0.15, "no more pieces than STAGE_LOOKS: %g", depth);
    cr_assert_geq(stage_depth(vol, c, 0.5, 0.1, 0.03), 0.03);
}

/* Never more than the deepest prism at any place of it; and no less, but for the error. */
Test(stage, depth_in_a_union_is_that_of_its_worst_place)
{
    struct random r = {122};
    int inside = 0, between_two = 0;
    for (int i = 0; i < 3000; i++) {
        static struct volume vol;
        vol = (struct volume){.stages = 2 + random_below(&r, 3)};
        for (int k = 0; k < vol.stages; k++) {
            do
                vol.stage[k] = shapes_prism(&r);
            while (!shape_prism_valid(&vol.stage[k]));
        }
        struct vec3 c[4];
        random_rod(&r, 0.8, c);
        double depth = stage_depth(&vol, c, 0, 0, INFINITY), least = sampled(&vol, c), alone = -INFINITY;
        cr_assert_leq(depth, fmax(least, 0) + 1e-12, "%d: %g, sampled %g", i, depth, least);
        if (least - step_of(c) > 0)
            cr_assert_geq(depth, least - step_of(c) - 2 * STAGE_ERROR_M, "%d: %g, sampled %g", i, depth, least);
        for (int k = 0; k < vol.stages; k++)
            alone = fmax(alone, stage_depth(one(&vol.stage[k]), c, 0, 0, INFINITY));
        inside += depth > 0;
        between_two += depth > 0 && alone <= 0;
    }
    cr_assert(inside > 200 && between_two > 20, "%d, %d", inside, between_two);
}

Test(stage, enough_is_enough)
{
    struct random r = {123};
    for (int i = 0; i < 3000; i++) {
        static struct volume vol;
        vol = (struct volume){.stages = 1 + random_below(&r, 3)};
        for (int k = 0; k < vol.stages; k++)
            vol.stage[k] = rectangle(random_between(&r, -2, 0), random_between(&r, -2, 0), random_between(&r, 0.5, 2),
                                     random_between(&r, 0.5, 2), -1, random_between(&r, 0.5, 2));
        struct vec3 c[4];
        random_rod(&r, 1, c);
        double all = stage_depth(&vol, c, 0.1, 0.1, INFINITY), enough = random_between(&r, 0, 0.5);
        double some = stage_depth(&vol, c, 0.1, 0.1, enough);
        if (all >= enough + STAGE_ERROR_M)
            cr_assert_geq(some, enough - 1e-12, "%d: %g of %g", i, some, all);
        else if (all > 0)
            cr_assert_float_eq(some, fmin(all, enough), 2 * STAGE_ERROR_M, "%d: %g of %g", i, some, all);
        else
            cr_assert_leq(some, 0);
    }
}
