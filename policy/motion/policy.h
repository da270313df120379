/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * One tick of the policy: everything known in, one intent out.
 *
 *   telemetry -> stop -> lanes -> guard -> cord rates -> intent + reasons
 *
 * What forbids motion, by itself: telemetry that is late or frozen (REASON_RIG_LOST), that reports a fault
 * (REASON_RIG_FAULT), a position that cannot be (not finite, a jump, more than a metre outside the box around anchors,
 * stage and floor: REASON_POSITION_BAD), lapsed presence (REASON_DESK_LOST), a late tick (REASON_TICK_LATE). While it
 * is forbidden the velocity ramps down along the last one, whose braking path was proven, and intent.motion is false.
 *
 * A pure function of config, state and input: no I/O, no clock, no allocation, no globals. Replaying the recorded
 * inputs gives the same intents, bit for bit. Input may hold anything (NaN, infinities, jumps, silence): the
 * output is finite and within the limits all the same.
 */
#ifndef STEADYHAND_MOTION_POLICY_H
#define STEADYHAND_MOTION_POLICY_H

#include <stdint.h>

#include "policy/motion/cords.h"
#include "policy/motion/guard.h"
#include "policy/motion/lanes.h"
#include "policy/motion/stop.h"

/* All of it, checked once by policy_config_valid(), constant while a show runs. */
struct policy_config {
    struct guard_config guard;
    struct lanes_config lanes;
    uint64_t telemetry_timeout_ns; /* > 0: older telemetry is lost telemetry */
    uint64_t presence_timeout_ns;  /* > 0 */
    bool presence_required;        /* an operator must be connected and alive while running */
    double jump_mps; /* > 0: a position that moves faster than this (and than latency and uncertainty explain) jumps */
};

/* What the rig last reported. Telemetry must be received within guard.latency_s of being measured. */
struct rig_report {
    bool ever;            /* anything was received in this session */
    uint64_t received_ns; /* core's clock */
    uint64_t seq;         /* of the telemetry; must grow, else it is frozen. Anew after the rig was lost */
    struct vec3 position; /* m */
    double uncertainty_m;
    double swing_rad;
    bool fault; /* the rig says it cannot move safely */
};

struct policy_input {
    uint64_t now_ns; /* monotonic */
    struct rig_report rig;
    struct stop_input stop; /* .inhibit is filled by the policy itself; what the caller puts there is honoured too */
    struct lanes_input lanes;
    uint64_t presence_ns; /* when an operator was last heard, 0 = never */
    bool tick_late;       /* core overran: brake and latch */
};

struct policy {
    struct stop stop;
    struct lanes lanes;
    struct guard guard;
    struct rig_report last; /* the last that was believed; .ever is false again while the rig is lost */
    uint64_t seen_seq;      /* of the last that was judged */
    bool seen_bad;          /* and it was not believed: no motion until a better one comes */
    uint64_t stepped_ns;    /* when the last step was, 0 = never */
};

/* One vetted, expiring command. */
struct intent {
    struct vec3 velocity; /* m/s */
    int cords;
    double cord_rate_mps[VOLUME_MAX_CORDS];
    bool motion;         /* false: brake to rest and hold, whatever the velocity says */
    uint64_t stop_count; /* see stop.h */
    uint64_t permit;
};

struct policy_output {
    struct intent intent;
    enum stop_state stop_state;
    enum reason stop_reason;
    enum lane lane;
    struct vec3 wanted; /* m/s, what the driving lane asked for */
    reason_set reasons; /* what applied in this tick; reason_first() of it and stop_reason is the one to show */
    struct guard_output guard;
    bool goal_set;
    struct vec3 goal;
};

bool policy_config_valid(const struct policy_config *cfg);
void policy_init(struct policy *policy);
void policy_step(const struct policy_config *cfg, struct policy *policy, const struct policy_input *in,
                 struct policy_output *out);

#endif
