/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/unit/motion/cases.h"
#include "tests/unit/motion/shapes.h"

static struct shape block_in(const json_t *one)
{
    const json_t *ypr = reference_input(one, "ypr");
    struct shape_block block =
        shape_block_turned(cases_point(reference_input(one, "centre")), cases_point(reference_input(one, "half")),
                           cases_number(json_array_get(ypr, 0)), cases_number(json_array_get(ypr, 1)),
                           cases_number(json_array_get(ypr, 2)));
    return (struct shape){.kind = SHAPE_BOX, .as.block = block};
}

/* Cases geom-pt-obb: computed, cross-checked by constrained minimisation. The columns of R are the axes. */
Test(shape_block, distance_and_axes_are_as_published)
{
    char id[32];
    for (int i = 0; i < 3; i++) {
        snprintf(id, sizeof id, "geom-pt-obb-%d", i);
        json_t *one = reference_case("shapes.json", id);
        struct shape s = block_in(one);
        cr_assert(shape_valid(&s));
        double d = shape_distance(&s, cases_point(reference_input(one, "point")));
        cr_assert_float_eq(d, cases_number(reference_expect(one, "distance")), 1e-9, "%s: %.12g", id, d);
        for (int k = 0; k < 3; k++) {
            struct vec3 row = cases_point(json_array_get(reference_input(one, "R"), (size_t)k));
            struct vec3 ours = {(&s.as.block.axis[0].x)[k], (&s.as.block.axis[1].x)[k], (&s.as.block.axis[2].x)[k]};
            cr_assert_leq(vec_norm(vec_sub(row, ours)), 1e-12, "%s: row %d", id, k);
        }
        json_decref(one);
    }
}

/* Cases geom-seg-obb, the same source. */
Test(shape_block, segment_distance_is_as_published)
{
    char id[32];
    for (int i = 0; i < 3; i++) {
        snprintf(id, sizeof id, "geom-seg-obb-%d", i);
        json_t *one = reference_case("shapes.json", id);
        struct shape s = block_in(one);
        struct vec3 ends[] = {cases_point(reference_input(one, "a")), cases_point(reference_input(one, "b"))};
        struct hull segment = shapes_hull_of(ends, 2), piece;
        cr_assert_eq(shape_pieces(&s, &piece, 1), 1);
        double d = hull_distance(&segment, &piece, INFINITY);
        cr_assert_float_eq(d, cases_number(reference_expect(one, "distance")), 1e-9, "%s: %.12g", id, d);
        json_decref(one);
    }
}

/* Cases geom-pt-aabb and geom-seg-aabb: a box as it stands in a show file. */
Test(shape_block, boxes_that_are_not_turned_are_as_published)
{
    char id[32];
    for (int i = 0; i < 12; i++) {
        snprintf(id, sizeof id, i < 6 ? "geom-pt-aabb-%d" : "geom-seg-aabb-%d", i % 6);
        json_t *one = reference_case("motion.json", id);
        struct shape_box box = {cases_point(reference_input(one, "lo")), cases_point(reference_input(one, "hi"))};
        struct shape s = shape_from_box(&box);
        struct hull piece;
        cr_assert(shape_valid(&s) && shape_pieces(&s, &piece, 1) == 1);
        cr_assert_eq(piece.points, 4, "four corners that stand plumb");
        struct vec3 ends[2];
        ends[0] = cases_point(reference_input(one, i < 6 ? "point" : "a"));
        ends[1] = cases_point(reference_input(one, i < 6 ? "point" : "b"));
        struct hull part = shapes_hull_of(ends, 2);
        double want = cases_number(reference_expect(one, "distance"));
        if (i < 6)
            cr_assert_float_eq(shape_distance(&s, ends[0]), want, 1e-9, "%s", id);
        cr_assert_float_eq(hull_distance(&part, &piece, INFINITY), fmax(0, want), 1e-9, "%s", id);
        json_decref(one);
    }
}

/* Turned by quarters it is the same box; upside down too, where its corners are told from the other end. */
Test(shape_block, quarter_turns_change_nothing)
{
    const double quarter = 1.5707963267948966;
    struct vec3 half = {0.5, 1, 0.25}, along = {1, 0.5, 0.25};
    struct random r = {21};
    struct shape plain = {.kind = SHAPE_BOX, .as.block = shape_block_turned((struct vec3){1, 2, 3}, half, 0, 0, 0)};
    struct shape turned = {.kind = SHAPE_BOX,
                           .as.block = shape_block_turned((struct vec3){1, 2, 3}, along, quarter, 0, 0)};
    struct shape over = plain;
    over.as.block.axis[1] = (struct vec3){0, -1, 0};
    over.as.block.axis[2] = (struct vec3){0, 0, -1};
    struct hull piece[3];
    cr_assert(shape_pieces(&plain, &piece[0], 1) == 1 && shape_pieces(&turned, &piece[1], 1) == 1 &&
              shape_pieces(&over, &piece[2], 1) == 1);
    for (int i = 0; i < 2000; i++) {
        struct vec3 p = vec_add(plain.as.block.centre, shapes_point(&r, 2));
        struct hull point = shapes_hull_of(&p, 1);
        double d = shape_distance(&plain, p);
        cr_assert_float_eq(shape_distance(&turned, p), d, 1e-12);
        cr_assert_float_eq(shape_distance(&over, p), d, 1e-12);
        for (int k = 0; k < 3; k++)
            cr_assert_float_eq(hull_distance(&point, &piece[k], INFINITY), fmax(0, d), 1e-9, "%d, piece %d", i, k);
    }
}

Test(shape_block, axes_must_be_square_and_of_length_one)
{
    struct shape good = {.kind = SHAPE_BOX,
                         .as.block = shape_block_turned((struct vec3){0, 0, 0}, (struct vec3){1, 1, 1}, 1, 2, 3)};
    cr_assert(shape_valid(&good));
    struct shape bad = good;
    bad.as.block.axis[1] = vec_scale(bad.as.block.axis[1], 1.0001);
    cr_assert(!shape_valid(&bad), "too long");
    bad = good;
    bad.as.block.axis[2] = bad.as.block.axis[0];
    cr_assert(!shape_valid(&bad), "flat");
    bad = good;
    bad.as.block.half.y = 0;
    cr_assert(!shape_valid(&bad), "no width");
    bad.as.block.half.y = -1;
    cr_assert(!shape_valid(&bad), "turned inside out");
    bad = good;
    bad.as.block.centre.x = 2.0 * SHAPE_FAR_M;
    cr_assert(!shape_valid(&bad), "out of reach");
}
