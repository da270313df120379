/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * What the picture truly shows, by points: a shape that must not be seen stands for points all over its surface, and
 * each of them is in the picture or not. So it never errs against the policy, and misses no more than lies between two
 * points. The lens is where and as the body truly hangs: turned by yaw, pan, tilt and roll, leaning as the boom does.
 */
#ifndef STEADYHAND_SIM_TRUTH_VIEW_H
#define STEADYHAND_SIM_TRUTH_VIEW_H

#include "policy/motion/view.h"
#include "tests/property/random.h"

enum { TRUTH_VIEW_POINTS = 64, TRUTH_VIEW_SHAPES = 4 };

/* The surfaces, as points. */
struct truth_view {
    int points;
    struct vec3 point[TRUTH_VIEW_SHAPES * TRUTH_VIEW_POINTS];
};

struct truth_view_pose {
    struct vec3 body, down;       /* lower end of the boom; along the boom, unit */
    double azimuth_rad, tilt_rad; /* azimuth: pan, and the yaw of what it turns on */
    double roll_rad, hfov_rad, aspect;
};

/* Balls and boxes alone, so many at most. */
void truth_view_init(struct truth_view *truth, const struct view *view, struct random *r);

/* How far outside the picture the nearest point is, as a plane of its edge says: below 0 it is seen. INFINITY if there
 * is none. */
double truth_view_left(const struct truth_view *truth, const struct view *view, const struct truth_view_pose *pose);

#endif
