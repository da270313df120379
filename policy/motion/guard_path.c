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

/* Somebody who is too near already is grown to all sides by how far they may have come, so rising out of that is a way
 * out even where it leads on to where they are. It is not taken: nothing goes on towards them. */
static bool nears_subject(const struct guard_tick *t, struct vec3 from, struct vec3 direction)
{
    struct vec3 to = vec_sub(t->in.now->subject_at, from);
    return t->near.nearest.bound == VOLUME_SUBJECT && direction.x * to.x + direction.y * to.y > 0;
}

double guard_path_room(const struct guard_tick *t, struct vec3 from, double clear_m, struct vec3 direction,
                       double margin_m, double below_m, double limit_m, struct volume_clearance *block,
                       struct volume_few *few)
{
    if (clear_m >= margin_m)
        return travel_free_among(&t->near, from, direction, margin_m, below_m, limit_m, block, few);
    *few = (struct volume_few){.near = &t->near, .all = true};
    *block = t->near.nearest;
    if (nears_subject(t, from, direction))
        return 0;
    double way_m = travel_away(&t->near, from, direction, limit_m);
    return kept_part(t, from, direction, margin_m, way_m, block);
}
