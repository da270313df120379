/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * N cords from fixed anchors to one point: lengths and length rates.
 * l_i = |A_i - p|,  u_i = (A_i - p) / l_i,  dl_i/dt = -u_i . v      (Pott, Cable-Driven Parallel Robots, 2018, point
 * mass)
 */
#ifndef STEADYHAND_MOTION_CORDS_H
#define STEADYHAND_MOTION_CORDS_H

#include "policy/motion/volume.h"

/* Writes outline->cords lengths [m]. */
void cords_lengths(const struct volume_outline *outline, struct vec3 position, double length_m[VOLUME_MAX_CORDS]);

/* Writes outline->cords rates [m/s], positive = paying out. 0 where the position is at an anchor. */
void cords_rates(const struct volume_outline *outline, struct vec3 position, struct vec3 velocity,
                 double rate_mps[VOLUME_MAX_CORDS]);

#endif
