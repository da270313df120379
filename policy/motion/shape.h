/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The solids a room is drawn with: boxes at any angle, prisms, spheres, capsules, half-spaces. Distance from a point,
 * nearest point of the surface, and the convex pieces that moving parts are held against (hull.h).
 *
 * Sign, where there is one: negative inside the solid (minus the distance to its surface), positive outside, 0 on it.
 * Every function here is 1-Lipschitz in the point (or in the corners of what is swept, moved together): moving it by d
 * changes the answer by at most d. All are exact up to rounding unless said.
 */
#ifndef STEADYHAND_MOTION_SHAPE_H
#define STEADYHAND_MOTION_SHAPE_H

#include <stdbool.h>

#include "policy/motion/vec.h"

enum {
    SHAPE_MAX_CORNERS = 32,
    SHAPE_FAR_M = 1000000, /* no coordinate is larger: keeps all arithmetic here finite and exact to 1 um */
};

/* Finite, and not beyond SHAPE_FAR_M. */
static inline bool shape_coordinate_valid(double v)
{
    return fabs(v) <= SHAPE_FAR_M; /* false for NaN */
}

static inline bool shape_point_valid(struct vec3 p)
{
    return shape_coordinate_valid(p.x) && shape_coordinate_valid(p.y) && shape_coordinate_valid(p.z);
}

static inline bool shape_length_valid(double v)
{
    return v >= 0 && v <= SHAPE_FAR_M; /* false for NaN */
}

/* Axis-aligned box; lo < hi on every axis. */
struct shape_box {
    struct vec3 lo, hi;
};

/* As much larger as it takes to hold the point. */
static inline void shape_box_widen(struct shape_box *box, struct vec3 p)
{
    box->lo = (struct vec3){lesser(box->lo.x, p.x), lesser(box->lo.y, p.y), lesser(box->lo.z, p.z)};
    box->hi = (struct vec3){greater(box->hi.x, p.x), greater(box->hi.y, p.y), greater(box->hi.z, p.z)};
}

static inline double shape_range_gap(double lo_a, double hi_a, double lo_b, double hi_b)
{
    return greater(greater(lo_a - hi_b, lo_b - hi_a), 0);
}

/* Distance between two boxes, 0 where they meet: never more than that of what is in them, and settles most pairs. */
static inline double shape_box_gap(const struct shape_box *a, const struct shape_box *b)
{
    struct vec3 g = {shape_range_gap(a->lo.x, a->hi.x, b->lo.x, b->hi.x),
                     shape_range_gap(a->lo.y, a->hi.y, b->lo.y, b->hi.y),
                     shape_range_gap(a->lo.z, a->hi.z, b->lo.z, b->hi.z)};
    return vec_norm(g);
}

/* Vertical prism: a simple polygon (concave allowed, either winding) between two heights, z_lo < z_hi. */
struct shape_prism {
    int corners; /* 3 .. SHAPE_MAX_CORNERS */
    double x[SHAPE_MAX_CORNERS], y[SHAPE_MAX_CORNERS];
    double z_lo, z_hi;
};

/* The box around one or more of them. */
static inline struct shape_box shape_prism_box(const struct shape_prism *prism, int prisms)
{
    struct shape_box box = {{prism->x[0], prism->y[0], prism->z_lo}, {prism->x[0], prism->y[0], prism->z_hi}};
    for (int k = 0; k < prisms; k++)
        for (int i = 0; i < prism[k].corners; i++) {
            shape_box_widen(&box, (struct vec3){prism[k].x[i], prism[k].y[i], prism[k].z_lo});
            shape_box_widen(&box, (struct vec3){prism[k].x[i], prism[k].y[i], prism[k].z_hi});
        }
    return box;
}

/* Box at any angle: the axes are of length 1 and square to each other. */
struct shape_block {
    struct vec3 centre;
    struct vec3 half; /* > 0 along each axis */
    struct vec3 axis[3];
};

struct shape_sphere {
    struct vec3 centre;
    double radius_m; /* > 0 */
};

/* All within the radius of a segment; a == b is a sphere. */
struct shape_capsule {
    struct vec3 a, b;
    double radius_m; /* > 0 */
};

/* Solid where normal . p <= offset_m; the normal, of length 1, points out of it. */
struct shape_half_space {
    struct vec3 normal;
    double offset_m;
};

enum shape_kind { SHAPE_BOX, SHAPE_PRISM, SHAPE_SPHERE, SHAPE_CAPSULE, SHAPE_HALF_SPACE, SHAPE_KINDS };

struct shape {
    enum shape_kind kind;
    union {
        struct shape_block block;
        struct shape_prism prism;
        struct shape_sphere sphere;
        struct shape_capsule capsule;
        struct shape_half_space half_space;
    } as;
};

enum {
    SHAPE_MAX_PIECES = SHAPE_MAX_CORNERS - 2, /* of one shape */
};

/* Turned about its centre by R = Rz(yaw) Ry(pitch) Rx(roll) [rad]. */
struct shape_block shape_block_turned(struct vec3 centre, struct vec3 half, double yaw, double pitch, double roll);

/* Not turned. */
struct shape shape_from_box(const struct shape_box *box);

/* Signed, exact. */
double shape_distance(const struct shape *shape, struct vec3 p);

/* The nearest point of the surface, from inside as from outside; any of them where several are as near. */
struct vec3 shape_nearest(const struct shape *shape, struct vec3 p);

struct hull;

/*
 * Convex pieces, bound, whose union is the solid: one, but for a concave prism or one with very many corners, which is
 * cut upright. How many there are, 0 for a half-space (see hull_above()), or -1 if there is no room for them;
 * SHAPE_MAX_PIECES always is room enough.
 */
int shape_pieces(const struct shape *shape, struct hull *piece, int room);

/* True if the kind is one of them and its numbers are as said above, every coordinate finite and none beyond
 * SHAPE_FAR_M. Used by the loader, tests and fuzzers alike. */
bool shape_valid(const struct shape *shape);

double shape_box_distance(const struct shape_box *box, struct vec3 p);

/* Distance from the segment a-b to the box, 0 where they meet (never negative). */
double shape_box_segment_distance(const struct shape_box *box, struct vec3 a, struct vec3 b);

double shape_prism_distance(const struct shape_prism *prism, struct vec3 p);

/* True if every coordinate is finite, none beyond SHAPE_FAR_M, and the ranges above hold; a prism must also be simple
 * (no edges cross or touch except neighbours at their shared corner) and enclose an area. Used by the loader, tests and
 * fuzzers alike. */
bool shape_box_valid(const struct shape_box *box);
bool shape_prism_valid(const struct shape_prism *prism);

#endif
