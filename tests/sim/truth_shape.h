/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Signed distance of a point, positive outside a solid. For the judge alone: no distance of the policy's is used. */
#ifndef STEADYHAND_SIM_TRUTH_SHAPE_H
#define STEADYHAND_SIM_TRUTH_SHAPE_H

#include "policy/motion/volume.h"

double truth_shape(const struct shape *shape, struct vec3 p);
double truth_shape_prism(const struct shape_prism *prism, struct vec3 p);

/* How far inside the stages, as deep as the deepest of them says. */
double truth_shape_inside(const struct volume *vol, struct vec3 p);

/* To an upright post with rounded ends. */
double truth_shape_post(struct vec3 foot, double height, double radius, struct vec3 p);

#endif
