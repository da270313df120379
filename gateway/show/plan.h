/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Plane geometry on the plan of the room, enough to say what is wrong with a drawing. Whether the camera may be
 * somewhere is not asked here but of policy/motion/volume.h. */
#ifndef STEADYHAND_SHOW_PLAN_H
#define STEADYHAND_SHOW_PLAN_H

#include <stdbool.h>

struct plan_point {
    double x, y;
};

/* Convex hull, counter-clockwise, without points on its edges (monotone chain, Andrew 1979). hull[n] is the caller's.
 * Returns its number of corners: fewer than 3 where all points lie on a line. */
int plan_hull(const struct plan_point *points, int n, struct plan_point *hull);

/* How far inside a convex counter-clockwise outline a point is; negative: at least that far outside. */
double plan_depth(const struct plan_point *hull, int n, struct plan_point p);

/* Do the closed segments a-b and c-d meet? */
bool plan_meet(struct plan_point a, struct plan_point b, struct plan_point c, struct plan_point d);

/* Does the way a-b-c turn back on itself at b? */
bool plan_folds(struct plan_point a, struct plan_point b, struct plan_point c);

/* Of a polygon, positive counter-clockwise. */
double plan_area(const struct plan_point *corner, int n);

double plan_apart(struct plan_point a, struct plan_point b);

#endif
