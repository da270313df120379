/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_walk.h"

static struct vec3 side(const struct vec3 corner[], int corners, int i)
{
    return vec_sub(corner[(i + 1) % corners], corner[i]);
}

struct vec3 sim_walk_at(const struct vec3 corner[], int corners, double speed_mps, double t_s)
{
    double round = 0;
    for (int i = 0; i < corners; i++)
        round += vec_norm(side(corner, corners, i));
    double left = round > 0 ? fmod(speed_mps * t_s, round) : 0;
    for (int i = 0; i < corners; i++) {
        struct vec3 way = side(corner, corners, i);
        double length = vec_norm(way);
        if (left < length)
            return vec_along(corner[i], way, left / length);
        left -= length;
    }
    return corner[0];
}
