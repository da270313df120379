/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The failure footprint: where the camera can end up when cords part.
 *
 * The cords that hold, with winches braked, are ropes of the length they had: the platform stays within the ball of
 * that radius about each of their anchors, above the floor, and below whatever height it cannot rise over. That is a
 * convex solid; its plan is grown by the boom and the body, which may swing out to any side. Exact, by trying what may
 * bound it in a direction: one ball, the circle where two meet, a corner of three, or either of the planes with them.
 *
 * A PLANNING AID, NOT A FALL ZONE. What it leaves out: a second cord can part under the load of the first one's (ask
 * for two at once, parted may name any number); a rope whips back, further than anything here; what hangs can be flung;
 * winches that are not braked pay out; anchors, cords and knots give. Nobody under it, and nobody near its edge. A
 * qualified rigger decides how far that is.
 */
#ifndef STEADYHAND_MOTION_FOOTPRINT_H
#define STEADYHAND_MOTION_FOOTPRINT_H

#include <stddef.h>

#include "policy/motion/volume.h"

enum { FOOTPRINT_MAX_SIDES = 360 };

/* How far things may go, apart from the cords. */
struct footprint_bounds {
    double floor_m;   /* the platform does not get lower */
    double ceiling_m; /* nor higher: the room's, or, as long as no winch pulls, p.z + v^2 / 2g */
    double give_m;    /* >= 0: by so much a cord that holds may be longer than it was: stretch, slip, error of length */
};

struct footprint {
    struct vec3 place; /* where it began */
    int balls;         /* cords that hold: 1 .. VOLUME_MAX_CORDS - 1 */
    struct vec3 centre[VOLUME_MAX_CORDS];
    double radius_m[VOLUME_MAX_CORDS];
    double z_lo, z_hi;
    double grow_m; /* boom and body */
};

/*
 * From a platform at this position with the cords in the set `parted` gone (bit k: cord k). False, with no balls, if
 * none holds, so that nothing bounds the fall, or if an input is not finite, beyond SHAPE_FAR_M or out of its range. A
 * position below the floor or above the ceiling moves that plane to itself.
 */
bool footprint_init(struct footprint *fp, const struct volume_outline *outline, struct vec3 position, unsigned parted,
                    const struct footprint_bounds *bounds);

/* The functions below take what footprint_init has filled. */

/* How far the footprint reaches in plan [m], from the origin along the horizontal direction (cos angle, sin angle): the
 * greatest x cos + y sin. Angle finite. */
double footprint_reach(const struct footprint *fp, double angle);

/* Can any part of the camera get above or below this point of the plan? Never wrongly no; it may say yes for a point
 * that is outside by a part of grow_m, as it grows the balls and not the solid. */
bool footprint_covers(const struct footprint *fp, double x, double y);

/*
 * Outlines for drawing: how far something reaches along `sides` directions, evenly over the circle from angle 0. The
 * polygon that touches it on all these sides lies around all of it (for one footprint closely: 0.1 % of its size with
 * 72 sides). For many footprints together, of every cord and every place, it is their convex hull.
 */
struct footprint_hull {
    int sides;                           /* 3 .. FOOTPRINT_MAX_SIDES */
    double reach_m[FOOTPRINT_MAX_SIDES]; /* -INFINITY where nothing was added */
};

/* False, with no sides, for a number out of range. */
bool footprint_hull_init(struct footprint_hull *hull, int sides);
void footprint_hull_add(struct footprint_hull *hull, const struct footprint *fp);

/* Corner i between sides i and i + 1, of a hull that something was added to. 0 <= i < sides. */
void footprint_hull_corner(const struct footprint_hull *hull, int i, double *x, double *y);

/*
 * For the union over all places of a stage: sample places and ask for more give. Two places less than d apart have
 * cords that differ by less than d, so samples of which one is always within d, with give_m + d, cover all.
 */

#endif
