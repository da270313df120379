/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The room as the camera meets it: the stage it must stay in, the keep-outs it must stay out of, and the outline of
 * everything that moves with it. clearance(position) is the one question asked of all of that.
 *
 * "Position" everywhere in the policy is the point where the cords meet (the platform). The boom hangs from it,
 * vertically when at rest, and the camera body is the sphere at the boom's lower end.
 */
#ifndef STEADYHAND_MOTION_VOLUME_H
#define STEADYHAND_MOTION_VOLUME_H

#include "policy/motion/shape.h"

enum {
    VOLUME_MAX_KEEPOUTS = 64,
    VOLUME_MAX_CORDS = 8,
};

/* Everything that moves, at rest (swing is a margin, not a shape). */
struct volume_outline {
    double body_radius_m; /* > 0: sphere around camera, head and battery */
    double boom_m;        /* >= 0: platform to centre of the body */
    double boom_radius_m; /* >= 0 */
    double cord_radius_m; /* >= 0 */
    int cords;            /* 0 .. VOLUME_MAX_CORDS */
    struct vec3 anchor[VOLUME_MAX_CORDS];
};

struct volume {
    struct shape_prism stage;
    int keepouts; /* 0 .. VOLUME_MAX_KEEPOUTS */
    struct shape_box keepout[VOLUME_MAX_KEEPOUTS];
    double padding_m[VOLUME_MAX_KEEPOUTS]; /* >= 0: extra distance kept from that keep-out */
    struct volume_outline outline;
};

enum volume_part { VOLUME_BODY, VOLUME_BOOM, VOLUME_CORD };
enum volume_bound { VOLUME_STAGE, VOLUME_KEEPOUT };

/* How far, and between which two things. */
struct volume_clearance {
    double distance_m; /* negative: they overlap by that much; -infinity for a position that is not finite */
    enum volume_part part;
    int cord; /* index, for VOLUME_CORD */
    enum volume_bound bound;
    int keepout; /* index, for VOLUME_KEEPOUT */
};

/*
 * The smallest signed distance from any part of the rig at this position to any boundary: body and boom against the
 * stage, body, boom and cords against each keep-out (anchors and cords may lie outside the stage). 1-Lipschitz in the
 * position: a cord turns about its fixed anchor, so none of its points moves further than the platform does. A cord
 * that cuts through a keep-out counts as its radius and padding deep, however deep it is.
 */
struct volume_clearance volume_clearance(const struct volume *vol, struct vec3 position);

/*
 * The smallest clearance all along the straight way from one position to another. Exact, not stepped: on that way the
 * body and the boom sweep a segment each and a cord sweeps a triangle, all convex, against boxes, which are convex, and
 * the walls of the stage. Where something is touched on the way the distance is not positive, but need not say by how
 * much. Only clearances below `enough` [m] are looked for: a result of at least `enough` means just that.
 */
struct volume_clearance volume_path_clearance(const struct volume *vol, struct vec3 from, struct vec3 to,
                                              double enough);

bool volume_valid(const struct volume *vol);

#endif
