/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/guard_path.h"

#include "policy/motion/volume_keep.h"

enum { HALVINGS = 8 }; /* of the way out, where not all of it will do */

/* The longest part of a way out that comes near nothing else. */
static double kept_part(const struct guard_tick *t, struct vec3 from, struct vec3 direction, double margin_m,
                        double way_m, struct volume_clearance *block)
{
    if (!(way_m > 0) || volume_keep(&t->near, vec_along(from, direction, way_m), margin_m, block))
        return way_m;
    double good = 0, bad = way_m;
    for (int i = 0; i < HALVINGS; i++) {
        double half = (good + bad) / 2;
        bool keeps = volume_keep(&t->near, vec_along(from, direction, half), margin_m, block);
        *(keeps ? &good : &bad) = half;
    }
    return good;
}

double guard_path_room(const struct guard_tick *t, struct vec3 from, double clear_m, struct vec3 direction,
                       double margin_m, double limit_m, struct volume_clearance *block)
{
    if (clear_m >= margin_m)
        return travel_free(&t->near, from, direction, margin_m, limit_m, block);
    *block = t->near.nearest;
    double way_m = travel_away(&t->near, from, direction, limit_m);
    return kept_part(t, from, direction, margin_m, way_m, block);
}
