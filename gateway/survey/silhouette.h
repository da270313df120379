/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What of a solid is seen in a view: one polygon, in metres across and up. */
#ifndef STEADYHAND_SURVEY_SILHOUETTE_H
#define STEADYHAND_SURVEY_SILHOUETTE_H

#include "gateway/survey/pane.h"

enum { SILHOUETTE_MAX_POINTS = 100 };

/* A half-space has no outline: of it, the section at this depth of the view, within `world`. Returns the number of
 * points; 0 if nothing shows. Curves are polygons around them, 0.3 % too large at most. */
int silhouette_of(const struct shape *shape, enum pane_view view, const struct shape_box *world, double depth,
                  struct svg_point point[SILHOUETTE_MAX_POINTS]);

/* Anticlockwise convex hull of up to SILHOUETTE_MAX_POINTS points, in place; how many remain. */
int silhouette_hull(struct svg_point *point, int points);

/* Area, positive anticlockwise. */
double silhouette_area(const struct svg_point *point, int points);

/* Where to write a name: the mean of the corners. */
struct svg_point silhouette_middle(const struct svg_point *point, int points);

#endif
