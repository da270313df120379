/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Constants between units. */
#ifndef STEADYHAND_MOTION_UNITS_H
#define STEADYHAND_MOTION_UNITS_H

#define UNITS_GRAVITY_MPS2                                                                                             \
    9.80665 /* standard gravity, by definition (3rd General Conference on Weights and Measures) */

/* rad */
#define UNITS_HALF_TURN 3.14159265358979323846
#define UNITS_TURN      (2 * UNITS_HALF_TURN)

#define UNITS_DEG_PER_RAD (180 / UNITS_HALF_TURN)

#endif
