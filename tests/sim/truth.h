/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The judge: what is really left between anything that moves and anything it must not touch, from the true state, by
 * geometry of its own: distances of points only, and a search along what is long that steps as far as a distance can
 * fall. It keeps an odometer of how far anything can have moved, and measures a pair again only when that could have
 * used up what was left: so it is exact to TRUTH_STEP_M where things are near, and costs little where they are not.
 */
#ifndef STEADYHAND_SIM_TRUTH_H
#define STEADYHAND_SIM_TRUTH_H

#include "policy/motion/volume.h"

#define TRUTH_STEP_M 0.001

enum { TRUTH_PARTS = 2 + VOLUME_MAX_CORDS, TRUTH_BOUNDS = 1 + VOLUME_MAX_KEEPOUTS };

struct truth {
    struct vec3 platform, body; /* when last looked */
    double odometer_m, next_m;
    double due_m[TRUTH_PARTS][TRUTH_BOUNDS]; /* on the odometer */
    double least_m;                          /* of all that was measured */
    int part, bound;                         /* of the least: body, boom, cords; stage, keep-outs */
};

void truth_init(struct truth *truth, struct vec3 platform, struct vec3 body);

/* At least every few millimetres of way. */
void truth_look(struct truth *truth, const struct volume *vol, struct vec3 platform, struct vec3 body);

/* Signed, of a point: positive outside a solid. */
double truth_box(const struct shape_box *box, struct vec3 p);
double truth_prism(const struct shape_prism *prism, struct vec3 p);

#endif
