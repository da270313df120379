/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The judge: what is really left between anything that moves and anything it must not touch, from the true state, by
 * geometry of its own: distances of points only, and a search along what is long that steps as far as a distance can
 * fall. It keeps an odometer of how far anything can have moved, and measures a pair again before that could have used
 * up what was left: so no touch deeper than TRUTH_STEP_M is missed, and it costs little where nothing is near.
 *
 * True shapes: limbs turn with the true yaw and tilt with the boom as it swings; a hanging tether is a parabola of its
 * length; padding does not count, nor do the floor and ceiling of a mode, which are not things.
 */
#ifndef STEADYHAND_SIM_TRUTH_H
#define STEADYHAND_SIM_TRUTH_H

#include "tests/sim/truth_shape.h"

#define TRUTH_STEP_M 0.001

enum {
    TRUTH_BOOM = VOLUME_MAX_LIMBS,
    TRUTH_CORD,
    TRUTH_TETHER = TRUTH_CORD + VOLUME_MAX_CORDS,
    TRUTH_PARTS,
    TRUTH_STAGE = 0,
    TRUTH_SUBJECT,
    TRUTH_KEEPOUT,
    TRUTH_BOUNDS = TRUTH_KEEPOUT + VOLUME_MAX_KEEPOUTS
};

/* Where everything truly is. */
struct truth_pose {
    struct vec3 platform, body; /* upper and lower end of the boom */
    struct vec3 down;           /* along the boom, unit */
    double yaw_rad;
    bool subject;
    struct vec3 subject_at; /* on the floor */
    double subject_radius_m, subject_height_m;
    bool yields; /* zones that yield may be entered */
};

struct truth {
    struct truth_pose pose; /* when last looked */
    double odometer_m, next_m;
    double due_m[TRUTH_PARTS][TRUTH_BOUNDS]; /* on the odometer */
    double least_m;                          /* of all that was measured, but for the subject */
    int part, bound;                         /* of that */
    double subject_m;                        /* the least left to the subject in the last look that measured it */
    uint64_t entered;                        /* bits of the keep-outs that yield and were entered while they did */
};

void truth_init(struct truth *truth, const struct truth_pose *pose);

/* How much is left between the first so many parts of the rig and the subject; which of them it is. */
double truth_subject(const struct volume *vol, const struct truth_pose *pose, int parts, int *part);

/* At least every few millimetres of way. */
void truth_look(struct truth *truth, const struct volume *vol, const struct truth_pose *pose);

#endif
