/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Solids as they are drawn: their outlines seen from above (x, y) and from the front (x, z). Pages draw polygons and
 * need not know of shapes.
 */
#ifndef STEADYHAND_SHOW_SILHOUETTE_H
#define STEADYHAND_SHOW_SILHOUETTE_H

#include "gateway/show/plan.h"
#include "policy/motion/shape.h"

enum { SILHOUETTE_MAX = 64 };

struct silhouette {
    int corners; /* 0: nothing of it is in the room */
    struct plan_point corner[SILHOUETTE_MAX];
};

enum silhouette_view { SILHOUETTE_PLAN, SILHOUETTE_FRONT };

/* Of a valid shape. Round ones get corners on their rim; a half-space is cut off where the room ends. */
void silhouette_of(const struct shape *shape, enum silhouette_view view, const struct shape_box *room,
                   struct silhouette *out);

#endif
