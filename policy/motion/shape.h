/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Distance from points, segments and triangles to the solids a room is drawn with. A part of the rig that moves
 * straight sweeps a segment or a triangle, so these also answer for a whole path at once (volume.h).
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

/* Axis-aligned box; lo < hi on every axis. */
struct shape_box {
    struct vec3 lo, hi;
};

/* Vertical prism: a simple polygon (concave allowed, either winding) between two heights, z_lo < z_hi. */
struct shape_prism {
    int corners; /* 3 .. SHAPE_MAX_CORNERS */
    double x[SHAPE_MAX_CORNERS], y[SHAPE_MAX_CORNERS];
    double z_lo, z_hi;
};

double shape_box_distance(const struct shape_box *box, struct vec3 p);

/* Distance from the segment a-b to the box, 0 where they meet (never negative). */
double shape_box_segment_distance(const struct shape_box *box, struct vec3 a, struct vec3 b);

/* Distance from the filled triangle a-b-c to the box, 0 where they meet. A triangle without area is its edges. */
double shape_box_triangle_distance(const struct shape_box *box, struct vec3 a, struct vec3 b, struct vec3 c);

double shape_prism_distance(const struct shape_prism *prism, struct vec3 p);

/* How deep the segment a-b lies inside the prism, that is, the least of -shape_prism_distance() along it.
 * Exact where all of it is inside, and everywhere if the footprint is convex. Where it leaves a concave prism between
 * its ends the answer is not positive, but says only how far the *ends* are out: proofs ask for a positive depth, and
 * get one only if the whole segment is at least that deep. */
double shape_prism_segment_depth(const struct shape_prism *prism, struct vec3 a, struct vec3 b);

/* True if every coordinate is finite, none beyond SHAPE_FAR_M, and the ranges above hold; a prism must also be simple
 * (no edges cross or touch except neighbours at their shared corner) and enclose an area. Used by the loader, tests and
 * fuzzers alike. */
bool shape_box_valid(const struct shape_box *box);
bool shape_prism_valid(const struct shape_prism *prism);

#endif
