/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/unit/motion/cases.h"
#include "tests/unit/motion/shapes.h"

static const struct shape ball = {.kind = SHAPE_SPHERE, .as.sphere = {{1, 2, 3}, 0.5}};
static const struct shape pill = {.kind = SHAPE_CAPSULE, .as.capsule = {{0, 0, 0}, {4, 0, 0}, 1}};

/* Cases geom-capsule-sphere (computed, cross-checked by constrained minimisation), as solids of a room: a sphere is as
 * far from a capsule as its centre is, less its radius. */
Test(shape_round, capsule_and_sphere_are_as_published)
{
    char id[32];
    for (int i = 0; i < 4; i++) {
        snprintf(id, sizeof id, "geom-capsule-sphere-%d", i);
        json_t *one = reference_case("shapes.json", id);
        struct shape capsule = {.kind = SHAPE_CAPSULE,
                                .as.capsule = {cases_point(reference_input(one, "a")),
                                               cases_point(reference_input(one, "b")),
                                               cases_number(reference_input(one, "radius"))}};
        struct shape sphere = {
            .kind = SHAPE_SPHERE,
            .as.sphere = {cases_point(reference_input(one, "centre")), cases_number(reference_input(one, "R"))}};
        double want = cases_number(reference_expect(one, "distance"));
        double d = shape_distance(&capsule, sphere.as.sphere.centre) - sphere.as.sphere.radius_m;
        cr_assert_float_eq(fmax(0, d), want, 1e-9, "%s: %.12g", id, d);
        struct hull piece[2];
        cr_assert(shape_pieces(&capsule, &piece[0], 1) == 1 && shape_pieces(&sphere, &piece[1], 1) == 1);
        cr_assert_float_eq(fmax(0, hull_distance(&piece[0], &piece[1], INFINITY)), want, 1e-9, "%s", id);
        json_decref(one);
    }
}

Test(shape_round, distance_is_from_the_axis)
{
    cr_assert_float_eq(shape_distance(&ball, (struct vec3){1, 2, 5}), 1.5, 1e-12);
    cr_assert_float_eq(shape_distance(&ball, (struct vec3){1, 2, 3}), -0.5, 1e-12);
    cr_assert_float_eq(shape_distance(&pill, (struct vec3){2, 0, 3}), 2, 1e-12);
    cr_assert_float_eq(shape_distance(&pill, (struct vec3){7, 4, 0}), 4, 1e-12);
    cr_assert_float_eq(shape_distance(&pill, (struct vec3){-2, 0, 0}), 1, 1e-12);
    cr_assert_float_eq(shape_distance(&pill, (struct vec3){3, 0.25, 0}), -0.75, 1e-12);
}

/* From the axis no direction is nearer than another: the point must be on the surface all the same. */
Test(shape_round, nearest_from_the_axis_is_on_the_surface)
{
    static const struct vec3 far_end[] = {{0, 0, 0}, {0, 0, 2}, {0, 3, 0}, {1, 0, 0}, {1, 2, 3}, {1e-200, 0, 0}};
    for (size_t i = 0; i < sizeof far_end / sizeof *far_end; i++) {
        struct shape s = {.kind = SHAPE_CAPSULE, .as.capsule = {{0, 0, 0}, far_end[i], 0.5}};
        struct vec3 on = vec_scale(far_end[i], 0.5), to = shape_nearest(&s, on);
        cr_assert_float_eq(vec_norm(vec_sub(to, on)), 0.5, 1e-12, "%zu", i);
        cr_assert_float_eq(shape_distance(&s, to), 0, 1e-12, "%zu", i);
    }
    cr_assert_float_eq(shape_distance(&ball, shape_nearest(&ball, ball.as.sphere.centre)), 0, 1e-12);
}

Test(shape_round, one_piece_with_as_few_points_as_it_takes)
{
    struct hull piece;
    struct shape both_ends = {.kind = SHAPE_CAPSULE, .as.capsule = {{1, 1, 1}, {1, 1, 1}, 2}};
    cr_assert(shape_pieces(&ball, &piece, 1) == 1 && piece.points == 1 && piece.ball_m == 0.5);
    cr_assert(shape_pieces(&pill, &piece, 1) == 1 && piece.points == 2 && piece.ball_m == 1);
    cr_assert(shape_pieces(&both_ends, &piece, 1) == 1 && piece.points == 1 && piece.ball_m == 2);
    cr_assert_float_eq(piece.around.hi.z, 3, 1e-15);
}

Test(shape_round, radius_and_ends_must_be_in_range)
{
    struct shape bad = ball;
    cr_assert(shape_valid(&ball) && shape_valid(&pill));
    bad.as.sphere.radius_m = 0;
    cr_assert(!shape_valid(&bad));
    bad.as.sphere.radius_m = (double)NAN;
    cr_assert(!shape_valid(&bad));
    bad.as.sphere.radius_m = 2.0 * SHAPE_FAR_M;
    cr_assert(!shape_valid(&bad));
    bad = ball;
    bad.as.sphere.centre.y = (double)INFINITY;
    cr_assert(!shape_valid(&bad));
    bad = pill;
    bad.as.capsule.b.z = (double)NAN;
    cr_assert(!shape_valid(&bad));
    bad = pill;
    bad.as.capsule.radius_m = -1;
    cr_assert(!shape_valid(&bad));
}
