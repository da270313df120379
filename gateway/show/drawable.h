/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Solids as they are drawn, for the pages and for a survey: one polygon, in metres across and up, that holds all of
 * what is seen. Who draws need not know of shapes.
 *
 * Plan: from above, x to the right, y up the sheet. Front: towards +y, x to the right. Side: towards -x, y to the
 * right. In both elevations z is up.
 */
#ifndef STEADYHAND_SHOW_DRAWABLE_H
#define STEADYHAND_SHOW_DRAWABLE_H

#include "gateway/show/plan.h"
#include "policy/motion/shape.h"

enum { DRAWABLE_MAX = 64 };

struct drawable {
    int corners; /* 0: nothing to draw */
    struct plan_point corner[DRAWABLE_MAX];
};

enum drawable_view { DRAWABLE_PLAN, DRAWABLE_FRONT, DRAWABLE_SIDE, DRAWABLE_VIEWS };

struct plan_point drawable_seen(enum drawable_view view, struct vec3 p);

/* How far in: z in plan, y in the front view, x in the side view. */
double drawable_depth(enum drawable_view view, struct vec3 p);

/* Of a valid shape. Circles are polygons around them, 1 % too wide; a half-space is cut off where the room ends, and
 * not drawn where it would cover all of the view. */
void drawable_of(const struct shape *shape, enum drawable_view view, const struct shape_box *room,
                 struct drawable *out);

/* The same for print, circles 0.3 % too wide; of a half-space the section at this depth, within the room. */
void drawable_section(const struct shape *shape, enum drawable_view view, const struct shape_box *room, double depth,
                      struct drawable *out);

#endif
