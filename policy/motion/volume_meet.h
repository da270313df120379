/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Inside of volume.h: one part of the rig against one thing. */
#ifndef STEADYHAND_MOTION_VOLUME_MEET_H
#define STEADYHAND_MOTION_VOLUME_MEET_H

#include "policy/motion/outline.h"

/* What a part can meet is numbered: pieces of keep-outs, the subject, keep-outs that are half-spaces. */
enum {
    VOLUME_MEET_SUBJECT = VOLUME_MAX_PIECES,
    VOLUME_MEET_HALF_SPACE,
};

struct volume_clearance volume_meet_nothing(double distance_m);

/* What a part sweeps against a target, radii and padding taken off; only what is below `enough` matters. *along is
 * where the search begins and what it ends with, as in hull.h. */
double volume_meet_target(const struct volume_near *near, int part, const struct outline_swept *swept, int target,
                          double enough, struct vec3 *along);

/* Lowers *least to a clearance from a target if that is less. */
void volume_meet_told(const struct volume_near *near, int part, int target, double distance_m,
                      struct volume_clearance *least);

/* A limb or the boom against stage, floor and ceiling. Returns the least of it, as far as it is below `enough`. */
double volume_meet_edges(const struct volume_near *near, int part, const struct outline_swept *swept, double enough,
                         struct volume_clearance *least);

/* The platform against reach, and the tether against its end. */
void volume_meet_ends(const struct volume *vol, struct vec3 from, struct vec3 to, struct volume_clearance *least);

#endif
