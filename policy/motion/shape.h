/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Signed distance from points and segments to the solids a room is drawn with.
 *
 * Sign: negative inside the solid (minus the distance to its surface), positive outside, 0 on it. Every function
 * here is 1-Lipschitz in the point (or in either end of the segment): moving it by d changes the answer by at most d.
 * travel.h rests on that.
 */
#ifndef STEADYHAND_MOTION_SHAPE_H
#define STEADYHAND_MOTION_SHAPE_H

#include <stdbool.h>

#include "policy/motion/vec.h"

enum {
    SHAPE_MAX_CORNERS = 32,
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

double shape_prism_distance(const struct shape_prism *prism, struct vec3 p);

/* Least signed *depth* of the segment a-b inside the prism: a lower bound of min over the segment of
 * -shape_prism_distance(). Positive: the whole segment is inside by at least that much. */
double shape_prism_segment_depth(const struct shape_prism *prism, struct vec3 a, struct vec3 b);

/* True if every coordinate is finite and the ranges above hold; a prism must also be simple (no edges cross or touch
 * except neighbours at their shared corner) and enclose an area. Used by the loader, tests and fuzzers alike. */
bool shape_box_valid(const struct shape_box *box);
bool shape_prism_valid(const struct shape_prism *prism);

#endif
