/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The invariants of the policy, each a check of one tick. */
#ifndef STEADYHAND_PROPERTY_CHECKS_H
#define STEADYHAND_PROPERTY_CHECKS_H

#include "tests/property/hostile.h"

enum check {
    CHECK_UNTOUCHED, /* nothing ever touches */
    CHECK_STOPPABLE, /* from every tick, silence ends without touching */
    CHECK_BOUNDED,   /* speed, acceleration, no NaN, no infinity */
    CHECK_STOP_WINS, /* no motion under a stop; reset, then go, or nothing moves */
    CHECK_AUTHORITY, /* what the audience does changes nothing while the operator holds */
    CHECK_FRESH,     /* a nudge moves the camera when it is new, or never */
    CHECK_SMOOTH,    /* jerk and acceleration but while braking, speed: within the limits in force */
    CHECK_SLOW,      /* slow zones are slow, whoever drives */
    CHECK_LOW,       /* nothing low, or in what yields, without a spotter */
    CHECK_HEAD,      /* rates, changes of them, and ends of the head */
    CHECK_EXPLAINED, /* where the velocity is not what was asked there is a reason */
    CHECK_REPLAYED,  /* the same inputs give the same outputs, bit for bit */
    CHECK_BUSY,      /* and all that was not tested on a camera that hardly moved */
    CHECK_COUNT
};

extern const char *const check_names[CHECK_COUNT];

/* One room's run. */
struct run {
    struct room room;
    struct rig rig;
    struct hostile hostile;
    struct policy policy;
    struct random random;
    uint64_t seq;
    struct vec3 last_velocity;
    uint64_t last_ns;
    struct vec3 last_goal;
    uint32_t shown_id[LANE_COUNT]; /* of the last nudge each lane has shown */
    struct limits last_limits[LANE_COUNT][LIMITS_MODES];
    unsigned limits_seen; /* of those, since it was armed */
    struct vec3 last_accel;
    int calm_ticks;                 /* since it last braked along a proven path */
    double least_left, since_low_s; /* without a spotter; since one held */
    bool excused;                   /* it was low when the hold lapsed, and has not been out since */
    double last_head_rate[HEAD_AXES];
    bool moved_last, reset_seen, go_seen; /* since the last stop, by the test's own account */
    bool arm_seen;                        /* since the power was last off */
    uint64_t last_count;                  /* of stops, as sent last */
    uint64_t digest;                      /* of all outputs */
};

/* How much happened, over all rooms. */
struct tally_of_run {
    uint64_t ticks, running, moving, blocked, fallback, inside, nudging, swinging, shaped, slowed, low, turning;
    double least_m;
};

/* Each returns true if the invariant holds in this tick. */
bool check_bounded(const struct run *run, const struct policy_input *in, const struct policy_output *out);
bool check_stop_wins(struct run *run, const struct policy_input *in, const struct hostile_told *told,
                     const struct policy_output *out);
bool check_authority(const struct run *run, const struct policy *before, const struct policy_input *in,
                     const struct policy_output *out, struct random *r);
bool check_fresh(struct run *run, const struct policy_input *in, const struct policy_output *out);
bool check_explained(const struct run *run, const struct policy_output *out);
bool check_busy(const struct tally_of_run *t);

#endif
