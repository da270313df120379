/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Lanes: the sources of wanted motion, in order of authority. The highest present lane drives; a change of lane is
 * bumpless because every lane only ever asks for a velocity, and what follows it goes on from the velocity and the
 * acceleration at hand (profile.h).
 */
#ifndef STEADYHAND_MOTION_LANES_H
#define STEADYHAND_MOTION_LANES_H

#include "policy/motion/limits.h"
#include "policy/motion/reason.h"

enum wish_kind {
    WISH_STAY,     /* come to rest, drop any goal */
    WISH_VELOCITY, /* stick: each axis -1..1 of the lane's speed */
    WISH_NUDGE,    /* step, metres: a goal that far from where the camera is when a new id is first seen */
};

struct wish {
    enum wish_kind kind;
    uint32_t id; /* of a nudge: a new id is a new nudge, the same id is the same one; 0 is none */
    struct vec3 v;
};

struct lanes_input {
    bool operator_holds; /* somebody has taken control and has not lapsed */
    struct wish operator_wish;
    bool audience_open;  /* the desk has opened the audience lane */
    bool audience_fresh; /* a crowd snapshot younger than its lease is at hand */
    struct wish audience_wish;
    double audience_scale; /* 0..1, set at the desk: fraction of the lane's speed */
};

struct lanes_config {
    double max_nudge_m;    /* > 0: longer nudges are cut to this (REASON_BAD_WISH) */
    double goal_timeout_s; /* > 0: a goal not reached by then is dropped */
    double brake_mps2;     /* > 0: the rig's */
    double dt_s;           /* > 0: tick */
};

/* What the lanes need to know of the rig. */
struct lanes_rig {
    struct vec3 position; /* m, finite */
    struct vec3 ahead;    /* m: how far shaping still goes if nothing more is wished for */
    double latency_s;     /* >= 0: from a command to its being seen, for an arrival that does not overshoot */
    bool may_move;        /* motion is allowed now */
    struct limits limits; /* in force for the lane that drives */
};

struct lanes {
    enum lane lane;
    bool goal_set;
    struct vec3 goal;
    uint32_t nudge_id[LANE_COUNT]; /* last one seen of each lane, taken up or not */
    double goal_age_s;
};

struct lanes_output {
    enum lane lane;
    struct vec3 wanted; /* m/s, finite, within the lane's speed */
    double asked_mps;   /* what it asked for before it was cut to its speed */
    double accel_mps2;  /* > 0, at most the rig's braking */
    reason_set reasons;
};

void lanes_init(struct lanes *lanes);

/* Who drives: the highest present lane. */
enum lane lanes_present(const struct lanes_input *in);

/*
 * Arbitrates and turns the driving lane's wish into a velocity. Wishes may hold anything: one that is not finite or of
 * no known kind is refused (REASON_BAD_WISH) and counts as stay; a stick beyond the lane's speed is cut to it,
 * direction kept (REASON_SPEED_LIMIT). Goals are dropped whenever the rig may not move or the lane changes, and nudges
 * first seen while their lane does not drive, or the rig may not move, are never taken up: nothing old moves the camera
 * later. A goal counts as reached when what is under way leads to within 1 cm of it. On the way there the speed is what
 * can still be braked from in time, by the lane's acceleration and jerk, from where shaping leads (position + ahead).
 *
 * Reasons for those who do not drive: REASON_OPERATOR_HAS_IT, REASON_AUDIENCE_CLOSED where the audience asks for
 * anything but stay; REASON_CROWD_SILENT while the lane is open, nobody holds control and no snapshot is fresh.
 */
void lanes_step(const struct lanes_config *cfg, struct lanes *lanes, const struct lanes_input *in,
                const struct lanes_rig *rig, struct lanes_output *out);

bool lanes_config_valid(const struct lanes_config *cfg);

#endif
