/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Does the platform stand still? Judged from where it is measured, not from what it was told: what a reset, arming and
 * parking wait for, and what shows that a stop was obeyed.
 *
 * The measured positions are smoothed twice with a time constant of STANDSTILL_S, and the speed of that is what counts:
 * white noise of sigma a reading comes through as about 2 sigma a second and axis at 100 readings a second. Slower than
 * STANDSTILL_MPS, and a little more where the position is known badly, for STANDSTILL_HOLD_S is standstill, if neither
 * the rig says that it moves nor anything was sent that moves it.
 */
#ifndef STEADYHAND_MOTION_STANDSTILL_H
#define STEADYHAND_MOTION_STANDSTILL_H

#include <stdbool.h>

#include "policy/motion/vec.h"

#define STANDSTILL_S        0.1
#define STANDSTILL_HOLD_S   0.1
#define STANDSTILL_MPS      0.02
#define STANDSTILL_MOST_MPS 0.05

struct standstill {
    bool known; /* a position was measured since it last was not */
    struct vec3 smooth, velocity;
    double slow_s; /* for how long it has been slow */
};

struct standstill_input {
    double elapsed_s; /* since the last step, >= 0 */
    bool known;       /* the position is a fresh one */
    struct vec3 position;
    double uncertainty_m;
    bool driven; /* the rig says that it moves, or it was sent something that moves it */
};

void standstill_init(struct standstill *s);

/* One tick. True at standstill; false whenever it is not known, and for numbers that are none. */
bool standstill_step(struct standstill *s, const struct standstill_input *in);

#endif
