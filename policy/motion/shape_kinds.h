/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What shape.c puts together for each kind of solid. Only for shape*.c. */
#ifndef STEADYHAND_MOTION_SHAPE_KINDS_H
#define STEADYHAND_MOTION_SHAPE_KINDS_H

#include "policy/motion/hull.h"

double shape_block_distance(const struct shape_block *block, struct vec3 p);
struct vec3 shape_block_nearest(const struct shape_block *block, struct vec3 p);
void shape_block_hull(const struct shape_block *block, struct hull *hull);
bool shape_block_valid(const struct shape_block *block);

/* Spheres are capsules whose ends are the same. */
double shape_round_distance(const struct shape_capsule *round, struct vec3 p);
struct vec3 shape_round_nearest(const struct shape_capsule *round, struct vec3 p);
void shape_round_hull(const struct shape_capsule *round, struct hull *hull);
bool shape_round_valid(const struct shape_capsule *round);

struct vec3 shape_prism_nearest(const struct shape_prism *prism, struct vec3 p);

/* Into convex pieces: shape_pieces() of a prism. */
int shape_cut_prism(const struct shape_prism *prism, struct hull *piece, int room);

#endif
