/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Rooms to measure in, of any size of problem. */
#ifndef STEADYHAND_BENCH_POLICY_ROOM_H
#define STEADYHAND_BENCH_POLICY_ROOM_H

#include "gateway/show/show.h"

struct room_size {
    int cords;         /* 1 .. VOLUME_MAX_CORDS */
    int keepouts;      /* 0 .. VOLUME_MAX_KEEPOUTS */
    int prism_corners; /* 0: boxes at any angle, prisms, spheres and capsules in turn; else all are concave prisms */
    int stage_corners; /* 4 .. SHAPE_MAX_CORNERS */
};

/* Puts the show, without head, sensors, zones and tension limits, into a room of 12 x 9 m, 6 m high: anchors along
 * the top, keep-outs standing around on the floor and hanging from above, none of them near the middle, which is home.
 * False if the policy does not take it. */
bool room_make(const struct room_size *size, struct show *show);

#endif
