/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Random solids and points about them, and numbers that are none, for the tests of shape and hull. */
#ifndef STEADYHAND_TESTS_MOTION_SHAPES_H
#define STEADYHAND_TESTS_MOTION_SHAPES_H

#include "policy/motion/hull.h"
#include "tests/property/random.h"

static inline struct vec3 shapes_point(struct random *r, double reach)
{
    return (struct vec3){random_between(r, -reach, reach), random_between(r, -reach, reach),
                         random_between(r, -reach, reach)};
}

/* Star-shaped, mostly concave: 3 .. SHAPE_MAX_CORNERS corners around a middle, either way round. */
static inline struct shape_prism shapes_prism(struct random *r)
{
    struct shape_prism prism = {.corners = 3 + random_below(r, SHAPE_MAX_CORNERS - 2),
                                .z_lo = random_between(r, -1, 0)};
    struct vec3 middle = shapes_point(r, 1);
    double way = random_chance(r, 0.5) ? 1 : -1;
    prism.z_hi = prism.z_lo + random_between(r, 0.1, 2);
    for (int i = 0; i < prism.corners; i++) {
        double angle = way * 6.283185307179586 * (i + random_between(r, 0, 0.9)) / prism.corners;
        double out = random_between(r, 0.3, 1.5);
        prism.x[i] = middle.x + out * cos(angle);
        prism.y[i] = middle.y + out * sin(angle);
    }
    return prism;
}

static inline struct shape_block shapes_block(struct random *r)
{
    struct vec3 half = {random_between(r, 0.1, 1), random_between(r, 0.1, 1), random_between(r, 0.1, 1)};
    return shape_block_turned(shapes_point(r, 1), half, random_between(r, -4, 4), random_between(r, -2, 2),
                              random_between(r, -4, 4));
}

static inline struct shape shapes_of(struct random *r, enum shape_kind kind)
{
    struct shape s = {.kind = kind};
    if (kind == SHAPE_BOX)
        s.as.block = shapes_block(r);
    else if (kind == SHAPE_PRISM)
        s.as.prism = shapes_prism(r);
    else if (kind == SHAPE_SPHERE)
        s.as.sphere = (struct shape_sphere){shapes_point(r, 1), random_between(r, 0.1, 1)};
    else if (kind == SHAPE_CAPSULE)
        s.as.capsule = (struct shape_capsule){shapes_point(r, 1), shapes_point(r, 1), random_between(r, 0.1, 1)};
    else
        s.as.half_space = (struct shape_half_space){random_direction(r), random_between(r, -1, 1)};
    return s;
}

static inline struct hull shapes_hull_of(const struct vec3 *points, int n)
{
    struct hull h = {.points = n};
    for (int i = 0; i < n; i++)
        h.point[i] = points[i];
    hull_bound(&h);
    return h;
}

/* Any bits at all, or one of the numbers that trip arithmetic. */
static inline double shapes_bad_number(struct random *r)
{
    static const double bad[] = {(double)NAN, (double)INFINITY, -(double)INFINITY, 0,    -0.0, 1e-320, 1e308, -1e308,
                                 SHAPE_FAR_M, -SHAPE_FAR_M,     SHAPE_FAR_M + 1,   1e-9, 1};
    union {
        uint64_t bits;
        double number;
    } any = {random_bits(r)};
    return random_chance(r, 0.3) ? any.number : bad[random_below(r, sizeof bad / sizeof *bad)];
}

#endif
