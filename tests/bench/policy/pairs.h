/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The distance alone, of what moves to what stands: ours against a general library's, on the same solids. */
#ifndef STEADYHAND_BENCH_POLICY_PAIRS_H
#define STEADYHAND_BENCH_POLICY_PAIRS_H

#include <stdbool.h>

#include "gateway/show/show.h"

struct pairs_times {
    double ours_ns, other_ns; /* a question, median of the runs; other_ns 0: there is no other */
    double apart_m;           /* the greatest difference between two answers to the same question */
    int meeting;              /* in so many of a hundred the two meet */
};

/* moving_points 1: a ball; 2: a capsule; 3: a triangle, as a cord sweeps. `kind`: what it is held against. */
struct pairs_times pairs_time(int moving_points, enum shape_kind kind, int runs);

/* volume_clearance() of body, boom and cords at many places of a room. Padding is left out on both sides. */
struct pairs_times pairs_time_room(const struct show *show, int runs);

#endif
