/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The truth: a rig that does what guard.h asks of one, at the far end of a network that loses and delays intents. The
 * platform follows the velocity it was last told at brake_mps2, brakes and stays when an intent lapses, and the body is
 * a pendulum below it. It reports where it was, to within its uncertainty, later.
 */
#ifndef STEADYHAND_PROPERTY_RIG_H
#define STEADYHAND_PROPERTY_RIG_H

#include "tests/property/judge.h"
#include "tests/property/room.h"

enum { RIG_UNDER_WAY = 128, RIG_PAST = 64 };

struct rig_order {
    struct vec3 velocity; /* 0 for "brake to rest" */
    double head_rate[HEAD_AXES];
    bool motion;
    uint64_t seq, due_ns, expires_ns;
};

struct rig_moment {
    struct vec3 position;
    double head[HEAD_AXES];
    double swing_rad;
    bool lapsed;
};

struct rig {
    uint64_t now_ns;
    struct vec3 platform, velocity;
    struct vec3 hang, swing_speed;                /* body relative to the platform */
    double head[HEAD_AXES], head_rate[HEAD_AXES]; /* follows at once; told no rates, it brakes as its limits say */
    struct rig_order order;                       /* in force */
    bool lapsed; /* an order with motion has expired, and none without has come since */
    struct rig_order under_way[RIG_UNDER_WAY];
    unsigned first, used;
    struct rig_moment past[RIG_PAST]; /* by step */
    struct judge judge;
    double least; /* clearance so far */
};

void rig_init(struct rig *rig, const struct room *room);

/* Sends an intent into the network. */
void rig_send(struct rig *rig, const struct room *room, struct random *r, const struct intent *intent, uint64_t seq);

/* What is received now: measured a telemetry latency ago. */
struct rig_report rig_report(const struct rig *rig, const struct room *room, struct random *r, uint64_t seq);

/* One STEP_S. */
void rig_step(struct rig *rig, const struct room *room);

/* The least clearance if nothing more is ever sent: until everything is at rest. *rig is not changed. */
double rig_silence(const struct rig *rig, const struct room *room);

#endif
