/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The rig as convex solids: what each of its parts sweeps when the platform moves straight from one position to
 * another. Limbs, boom and tether move with the platform, so the ends of a part at both positions are the corners of
 * what it sweeps; a cord sweeps a triangle with its anchor.
 *
 * A limb whose yaw is known to within `off` (less than a quarter turn): a point r from the axis may be anywhere on an
 * arc of radius r and half-angle off. The smallest disc around that arc has its centre at r cos(off) in the middle
 * direction and the radius r sin(off) (elementary: it stands on the chord). So the limb is drawn in by cos(off) and
 * spread by a level disc of sin(off) times its outermost r. From a quarter turn on that is the full roller about the
 * axis.
 */
#ifndef STEADYHAND_MOTION_OUTLINE_H
#define STEADYHAND_MOTION_OUTLINE_H

#include "policy/motion/volume.h"

/* Parts are numbered: limbs, the boom, cords, the tether. */
enum {
    OUTLINE_BOOM = VOLUME_MAX_LIMBS,
    OUTLINE_CORD,
    OUTLINE_TETHER = OUTLINE_CORD + VOLUME_MAX_CORDS,
};

/* What one part sweeps. */
struct outline_swept {
    struct vec3 end[4]; /* limbs, boom: both ends at the first position, both at the second */
    struct hull hull;   /* bound */
    bool twice;         /* it is inside `other` too, so its distance is the larger of the two */
    struct hull other;
};

bool outline_has(const struct volume_outline *o, int part);

struct volume_turn outline_turn(const struct volume_outline *o, const struct volume_now *now);

/* For a part that the outline has. */
void outline_sweep(const struct volume_outline *o, const struct volume_turn *turn, int part, struct vec3 from,
                   struct vec3 to, struct outline_swept *swept);

/* How far any point of the body is from its origin, at most. */
double outline_reach(const struct volume_outline *o);

/* How far the middle of any limb's end is from the axis of yaw, at most: a turn by d moves nothing further than d times
 * this. */
double outline_radius(const struct volume_outline *o);

bool outline_valid(const struct volume_outline *o);

#endif
