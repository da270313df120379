/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Inside of head.c: what an axis of the head runs through, and the largest part of a wish that keeps out of what is
 * forbidden. The rules are in head.h. */
#ifndef STEADYHAND_MOTION_HEAD_REACH_H
#define STEADYHAND_MOTION_HEAD_REACH_H

#include "policy/motion/head.h"

/* What an axis may run through: all it can still be at. */
struct head_reach {
    double lo, hi;
};

/* One axis in one tick. */
struct head_axis_tick {
    const struct head_axis_config *cfg;
    bool known;
    double at, wish;
    double target; /* not to be passed in the direction of the wish; the infinity there if there is none */
    struct profile before, slower; /* braked in one tick, */
    struct profile braked;         /* and in all the time since the last step */
    struct head_reach under_way;   /* lo <= 0 <= hi: what it turns because it may still follow faster rates */
    struct head_reach least;       /* if it brakes: this it will run through whatever is done */
};

struct head_tick {
    const struct head_config *cfg;
    double delay_s;  /* how old reports are, and until what is sent is followed */
    double window_s; /* the same, and the lease: W of head.h */
    double elapsed_s, uncertainty;
    struct head_axis_tick axis[HEAD_AXES];
    struct head_reach box[HEAD_AXES];            /* what each axis runs through, as decided so far */
    struct head_region region[HEAD_MAX_REGIONS]; /* as they are to be kept out of in this tick */
    unsigned *notes;
};

/* An axis as it was sent last. */
struct head_axis_tick head_reach_axis(const struct head_tick *t, const struct head *head, int which, bool known,
                                      double at);

/* The state after a stop has gone on for what elapsed: in whole ticks, one at least. */
struct profile head_reach_braked(const struct head_axis_config *axis, struct profile now, double dt, double elapsed_s);

/* If it takes the step from `before` to `next` now and brakes from then on; all its limits' span if it is lost. */
struct head_reach head_reach_of(const struct head_tick *t, const struct head_axis_tick *axis, struct profile next);

/* The face of a region that a box (pan, tilt, roll) is furthest beyond, as in struct head, and by how much; negative if
 * it is beyond none: then it is in it, least deep behind that face. */
struct head_side {
    int face;
    double gap;
};

struct head_side head_reach_side(const struct head_region *region, const struct head_reach box[HEAD_TURNING]);

/* Whether all three positions are known, and in the region proper. */
bool head_reach_inside(const struct head_region *region, const struct head_tick *t);

/* The largest part of the wish, as the others stand in t->box, and a note if it is not all of it; at least braking. */
struct profile head_reach_decide(const struct head_tick *t, int which);

#endif
