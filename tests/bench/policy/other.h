/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A general collision library, asked the same questions. other_fcl.cpp has the answers of FCL (Debian: libfcl-dev);
 * where that is not installed, other_none.c has none. Only this bench uses either. */
#ifndef STEADYHAND_BENCH_POLICY_OTHER_H
#define STEADYHAND_BENCH_POLICY_OTHER_H

#include "policy/motion/volume.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Name and version; NULL: there is none. */
const char *other_name(void);

/* One convex solid: a shape of one piece, or what moves: points of a hull with a ball around them. */
struct other_solid;
struct other_solid *other_shape_new(const struct shape *shape, const struct hull *piece);
struct other_solid *other_moving_new(const struct hull *moving);
void other_solid_free(struct other_solid *solid);

/* Positive distances are exact as far as the library is; where they meet it is not positive. */
double other_distance(const struct other_solid *a, const struct other_solid *b);

/* All keep-outs of a volume, in the library's own tree. */
struct other_room;
struct other_room *other_room_new(const struct volume *vol);
void other_room_free(struct other_room *room);

/* Least distance of body, boom and cords at this position to any keep-out; padding left out of account. */
double other_room_clearance(struct other_room *room, struct vec3 position);

#ifdef __cplusplus
}
#endif

#endif
