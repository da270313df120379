/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Everything a policy may be fed: wild and malformed wishes, operators who come and go, stops, resets and gos at any
 * moment, telemetry that falls silent, freezes, jumps or is not a number. What it injects it also tells, so that the
 * checks need not ask the policy.
 */
#ifndef STEADYHAND_PROPERTY_HOSTILE_H
#define STEADYHAND_PROPERTY_HOSTILE_H

#include "tests/property/rig.h"

enum hostile_trouble {
    TROUBLE_NONE,
    TROUBLE_SILENCE, /* no telemetry comes */
    TROUBLE_FROZEN,  /* the same telemetry comes again and again */
    TROUBLE_NUMBERS, /* position, uncertainty or swing are not numbers, or negative */
    TROUBLE_JUMP,    /* the position is somewhere else for a moment */
    TROUBLE_FAULT,   /* the rig reports a fault */
    TROUBLE_COUNT
};

/* One lane's present mood, kept for a while so that the camera really gets somewhere. */
struct hostile_driver {
    int ticks_left, kind;
    struct vec3 way;
    double turn; /* rad a tick */
    uint32_t nudge_id;
};

struct hostile {
    struct hostile_driver operator_, audience;
    enum hostile_trouble trouble;
    int trouble_ticks, tick;
    uint64_t seq, asked;
    struct rig_report report; /* as last received */
    bool holds, open, fresh, absent;
    uint64_t heard_ns; /* of the operator */
    bool setup, spotter;
    uint64_t spotter_ns; /* when they were last heard */
    double lag_s;
    struct policy_limits_request limits;
    double head[HEAD_AXES];
    uint64_t report_changed_ns; /* when telemetry last came that was in order */
};

/* What was done to the policy in a tick that must stop it, by the test's own account. */
struct hostile_told {
    bool must_stop; /* no motion may be allowed in this tick */
    bool pressed;   /* somebody pressed stop */
};

void hostile_init(struct hostile *h);
void hostile_input(struct hostile *h, const struct room *room, const struct rig *rig, struct random *r,
                   struct policy_input *in, struct hostile_told *told);

/* Other wishes of the audience, and its lane open or closed at random. */
void hostile_scramble_audience(struct random *r, struct lanes_input *lanes);

#endif
