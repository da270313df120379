/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* For the analyser only: places and speeds as the show file and locate let them be. */
#ifndef STEADYHAND_PROOF_ROOMS_H
#define STEADYHAND_PROOF_ROOMS_H

#include "policy/motion/limits.h"
#include "policy/motion/shape.h"
#include "policy/motion/vec.h"
#include "tests/proof/any.h"

#define FASTEST 1e3 /* m/s */

static inline struct vec3 within_cube(double half)
{
    return (struct vec3){between(-half, half), between(-half, half), between(-half, half)};
}

static inline struct vec3 somewhere(void)
{
    return within_cube(SHAPE_FAR_M);
}

static inline struct vec3 a_velocity(double most)
{
    return within_cube(most);
}

static inline void must_be_velocity(struct vec3 v, double most)
{
    must_be_within(-most, v.x, most);
    must_be_within(-most, v.y, most);
    must_be_within(-most, v.z, most);
}

static inline struct limits some_limits(void)
{
    struct limits l = {.speed_mps = between(0, FASTEST), .accel_mps2 = between(1e-3, 1e3), .yields = either()};
    l.jerk_mps3 = between(1e-4, 1e9);
    l.floor_m = between(-SHAPE_FAR_M, SHAPE_FAR_M);
    l.ceiling_m = between(-SHAPE_FAR_M, SHAPE_FAR_M);
    return l;
}

#endif
