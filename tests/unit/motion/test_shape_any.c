/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What holds for solids of every kind. */
#include <criterion/criterion.h>

#include "tests/unit/motion/shapes.h"

static struct shape valid_one(struct random *r, enum shape_kind kind)
{
    for (;;) {
        struct shape s = shapes_of(r, kind);
        if (shape_valid(&s)) /* random corners may be too near to a line */
            return s;
    }
}

/* The nearest point is on the surface and as far as said; and within that distance all round there is no surface. */
Test(shape_any, distance_is_to_the_nearest_point_of_the_surface)
{
    struct random r = {41};
    for (int i = 0; i < 20000; i++) {
        struct shape s = valid_one(&r, (enum shape_kind)(i % SHAPE_KINDS));
        struct vec3 p = shapes_point(&r, 2.5), on = shape_nearest(&s, p);
        double d = shape_distance(&s, p);
        cr_assert_float_eq(shape_distance(&s, on), 0, 1e-9, "%d, kind %d: %g off the surface", i, s.kind,
                           shape_distance(&s, on));
        cr_assert_float_eq(vec_norm(vec_sub(p, on)), fabs(d), 1e-9, "%d, kind %d: %g", i, s.kind, d);
        for (int k = 0; k < 20; k++) {
            double there = shape_distance(&s, vec_along(p, random_direction(&r), 0.999999 * fabs(d)));
            cr_assert(d < 0 ? there <= 1e-12 : there >= -1e-12, "%d, kind %d: surface nearer than %g", i, s.kind, d);
        }
    }
}

Test(shape_any, distance_is_1_lipschitz)
{
    struct random r = {42};
    for (int i = 0; i < 50000; i++) {
        struct shape s = valid_one(&r, (enum shape_kind)(i % SHAPE_KINDS));
        struct vec3 p = shapes_point(&r, 2.5), step = random_in_ball(&r, random_between(&r, 0, 0.3));
        double change = shape_distance(&s, vec_add(p, step)) - shape_distance(&s, p);
        cr_assert_leq(fabs(change), vec_norm(step) + 1e-12, "%d, kind %d: %g", i, s.kind, change);
    }
}

static double by_pieces(const struct shape *s, struct vec3 p)
{
    struct hull piece[SHAPE_MAX_PIECES], point = shapes_hull_of(&p, 1);
    int n = shape_pieces(s, piece, SHAPE_MAX_PIECES);
    cr_assert(n >= 0 && (n == 0) == (s->kind == SHAPE_HALF_SPACE), "kind %d: %d pieces", s->kind, n);
    double least = n > 0 ? INFINITY : hull_above(&point, &s->as.half_space);
    for (int i = 0; i < n; i++)
        least = fmin(least, hull_distance(&point, &piece[i], INFINITY));
    return least;
}

Test(shape_any, pieces_are_the_solid)
{
    struct random r = {43};
    int inside = 0;
    for (int i = 0; i < 20000; i++) {
        struct shape s = valid_one(&r, (enum shape_kind)(i % SHAPE_KINDS));
        struct vec3 p = shapes_point(&r, 2);
        double d = shape_distance(&s, p), pieces = by_pieces(&s, p);
        cr_assert_float_eq(fmax(0, pieces), fmax(0, d), 1e-8, "%d, kind %d: %g, by pieces %g", i, s.kind, d, pieces);
        inside += d < 0;
    }
    cr_assert_gt(inside, 2000);
}

/* Every number of a valid solid replaced by any other, and any kind: it is refused, or all answers are numbers. */
Test(shape_any, valid_or_refused_whatever_the_numbers)
{
    struct random r = {44};
    int valid = 0, refused = 0;
    for (int i = 0; i < 100000; i++) {
        struct shape s = valid_one(&r, (enum shape_kind)(i % SHAPE_KINDS));
        double *numbers = s.kind == SHAPE_PRISM ? s.as.prism.x : &s.as.block.centre.x;
        int count = s.kind == SHAPE_BOX ? 15 : s.kind == SHAPE_PRISM ? 2 * SHAPE_MAX_CORNERS + 2 : 4;
        numbers[random_below(&r, count)] = shapes_bad_number(&r);
        if (random_chance(&r, 0.05))
            s.kind = (enum shape_kind)random_below(&r, 9);
        if (!shape_valid(&s)) {
            refused++;
            continue;
        }
        struct vec3 p = shapes_point(&r, SHAPE_FAR_M);
        cr_assert(isfinite(shape_distance(&s, p)) && vec_finite(shape_nearest(&s, p)), "%d, kind %d", i, s.kind);
        cr_assert(isfinite(by_pieces(&s, p)), "%d, kind %d", i, s.kind);
        valid++;
    }
    cr_assert(valid > 10000 && refused > 10000, "%d valid, %d refused", valid, refused);
}

/* What is of no kind is refused, and keeps everything out if asked all the same. */
Test(shape_any, no_kind_is_no_way_through)
{
    struct shape none = {.kind = SHAPE_KINDS};
    struct hull piece[SHAPE_MAX_PIECES];
    struct vec3 p = {1, 2, 3};
    cr_assert(!shape_valid(&none));
    cr_assert_eq(shape_distance(&none, p), -(double)INFINITY);
    cr_assert(vec_finite(shape_nearest(&none, p)));
    cr_assert_eq(shape_pieces(&none, piece, SHAPE_MAX_PIECES), -1);
    none.kind = SHAPE_SPHERE;
    none.as.sphere = (struct shape_sphere){p, 1};
    cr_assert_eq(shape_pieces(&none, piece, 0), -1, "no room");
}

Test(shape_any, half_space_is_flat)
{
    struct shape ground = {.kind = SHAPE_HALF_SPACE, .as.half_space = {{0, 0, 1}, 0.5}};
    struct vec3 p = {3, 4, 2}, on = shape_nearest(&ground, p);
    cr_assert(shape_valid(&ground));
    cr_assert_float_eq(shape_distance(&ground, p), 1.5, 1e-15);
    cr_assert_float_eq(shape_distance(&ground, (struct vec3){0, 0, -1}), -1.5, 1e-15);
    cr_assert(on.x == 3 && on.y == 4 && on.z == 0.5);
    ground.as.half_space.normal.z = 1.001;
    cr_assert(!shape_valid(&ground), "its normal is too long");
    ground.as.half_space.normal.z = (double)NAN;
    cr_assert(!shape_valid(&ground));
    ground.as.half_space = (struct shape_half_space){{0, 0, 1}, (double)INFINITY};
    cr_assert(!shape_valid(&ground));
}
