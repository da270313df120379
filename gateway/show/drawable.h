/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Solids as they are drawn: their outlines seen from above (x, y) and from the front (x, z). Pages draw polygons and
 * need not know of shapes.
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

enum drawable_view { DRAWABLE_PLAN, DRAWABLE_FRONT };

/* Of a valid shape. Round ones get corners on their rim; a half-space is cut off where the room ends,
 * and not drawn where it would cover all of the view. */
void drawable_of(const struct shape *shape, enum drawable_view view, const struct shape_box *room,
                 struct drawable *out);

#endif
