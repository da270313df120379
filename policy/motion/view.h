/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * What the picture must never show: a window into the neighbours' yard, a door, a screen. Solids in the room, held
 * against the pyramid that the lens looks into.
 *
 * The lens is the apex. Pan turns it about the upright (azimuth, from +x towards +y), tilt lifts it (+ up), roll is
 * about its axis: R = Rz(azimuth) Ry(-tilt) Rx(roll), looking along R (1, 0, 0). With a of the horizontal and b of the
 * vertical field of view, a lens free of distortion sees what is between (1, +-tan(a/2), +-tan(b/2)), all times up to
 * range. Walls and people in between are not counted as hiding anything.
 *
 * Swept: while the platform goes straight and the head runs through spans of its axes, the pyramid sweeps the hull of
 * its five corners at both ends of the way, over all those turns. A turn by up to e moves no ray by more than e, so the
 * pyramid in the middle of the spans holds all of them if it is widened: a ray on its side face that also looks up by b
 * makes only the angle asin(sin x cos b) with the face opened by x, so the half-angles grow by
 *   x = asin(sin e / cos b)   (spherical trigonometry; b to the corner of the face)
 * Wide spans are cut into parts where that shows too much. From a half-angle of VIEW_WIDE_RAD on the lens counts as
 * looking everywhere. All of this errs to the safe side: never "not seen" wrongly.
 *
 * How the fall-back stays proven. In each tick some (way, spans) was found not to see anything, and all that happens if
 * platform and head both brake from now on is within it. So:
 *   1. the platform may take a new velocity only if its whole braking way, with what the head runs through if it
 *      brakes, sees nothing; else it brakes on its last way, which with the braking of the head was proven then;
 *   2. the head may then take a step only if what it runs through, stop included, sees nothing along the way that the
 *      platform has now; else it brakes: that was shown in 1, or in the tick before.
 * Where something is in view already neither can be shown: both brake, and the way out is the operator's.
 */
#ifndef STEADYHAND_MOTION_VIEW_H
#define STEADYHAND_MOTION_VIEW_H

#include <stdint.h>

#include "policy/motion/hull.h"

enum {
    VIEW_MAX_SHAPES = 16,
    VIEW_MAX_PIECES = 64,
};

#define VIEW_WIDE_RAD 1.3

struct view {
    double boom_m;      /* >= 0: platform to the lower end of the boom */
    struct vec3 camera; /* the lens, from there; turned by the azimuth */
    double range_m;     /* > 0: further away than this it does not matter */
    int shapes;         /* 0 .. VIEW_MAX_SHAPES */
    struct shape shape[VIEW_MAX_SHAPES];
    /* Filled by view_prepare(). */
    int pieces;
    struct hull piece[VIEW_MAX_PIECES];
    uint8_t piece_of[VIEW_MAX_PIECES];
};

struct view_range {
    double lo, hi;
};

/* Where the lens may look: a way of the platform, what the axes run through on it, and how far off all that may be. */
struct view_span {
    struct vec3 from, to;
    struct view_range azimuth_rad; /* pan, and the yaw of what it pans on; a full turn and more: everywhere */
    struct view_range tilt_rad, roll_rad;
    double hfov_rad, vfov_rad; /* 0 < .. < pi: at the widest that the zoom runs through */
    double off_m;              /* >= 0: the lens may be off by so much: margin, uncertainty, swing */
    double turn_rad;           /* >= 0: and turned out of all that by so much, whichever way: swing */
};

/* The nearest that what is seen comes to something that must not be. */
struct view_answer {
    double distance_m; /* > 0: it is not seen, and a lower bound of the distance; else it may be seen.
                        * +infinity if there is nothing; -infinity for a span that makes no sense */
    int shape;         /* which, or -1 */
};

/* Cuts the shapes into convex pieces. False if one is not valid or there are too many pieces; then there are none. */
bool view_prepare(struct view *view);

bool view_valid(const struct view *view);

/* Distances beyond enough_m > 0 are not looked for. */
struct view_answer view_look(const struct view *view, const struct view_span *span, double enough_m);

/* Vertical field of view of a picture that is `aspect` times as wide as high. */
double view_vfov(double hfov_rad, double aspect);

#endif
