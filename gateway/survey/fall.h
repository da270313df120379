/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Where the camera can end up when any one cord parts, from any place on the stage (policy/motion/footprint.h):
 * outlines in plan, and what of it shows in the elevations. Never less than that. A planning aid, not a fall zone.
 */
#ifndef STEADYHAND_SURVEY_FALL_H
#define STEADYHAND_SURVEY_FALL_H

#include "gateway/survey/contour.h"
#include "gateway/survey/pane.h"
#include "gateway/survey/site.h"

#define FALL_GIVE_M 0.05 /* allowed for stretch, slip and errors of length */

enum { FALL_SIDES = 72 };

struct fall_outline {
    bool any;
    struct plan_point corner[FALL_SIDES]; /* in plan [m] */
};

struct fall {
    int cords, sides;
    double tolerance_m; /* the outlines are too wide by so much, and by the convex rounding of what is not convex */
    struct fall_outline cord[VOLUME_MAX_CORDS]; /* convex, around all places */
    struct fall_outline all;
    double area_m2;  /* of all */
    double beyond_m; /* furthest from the stage, in plan */
    int beyond_cord; /* when this one parts */
    struct plan_point beyond_at;
    struct shape_box box;                     /* around all of it, floor to the highest */
    struct contour_grid seen[DRAWABLE_VIEWS]; /* elevations: 1 where any part of the camera can get, 0 elsewhere */
};

/* False if out of memory; then nothing is to be freed. */
bool fall_new(struct fall *fall, const struct site *site);
void fall_free(struct fall *fall);

#endif
