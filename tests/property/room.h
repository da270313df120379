/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A random room with a random rig and network in it: convex and concave stages, keep-outs, cords, booms, delays. */
#ifndef STEADYHAND_PROPERTY_ROOM_H
#define STEADYHAND_PROPERTY_ROOM_H

#include "policy/motion/policy.h"
#include "tests/property/random.h"

/* The smallest step of simulated time; a planned tick is STEPS_A_TICK of them. */
#define STEP_S 0.0025
enum { STEP_NS = 2500000, STEPS_A_TICK = 4 };

struct room {
    struct policy_config cfg;
    struct vec3 start;    /* clear of everything by more than the margin */
    int command_steps;    /* from sending an intent to the rig's taking it up */
    int telemetry_steps;  /* from measuring to receiving */
    double loss;          /* of intents */
    double late;          /* share of intents that come late, up to their lease */
    double uncertainty_m; /* that the rig states, and keeps to */
    struct vec3 bias;     /* steady error of the position, within the uncertainty */
    int ticks_a_report;   /* telemetry every so many ticks */
    double uneven;        /* share of ticks that come early or late */
    double swing_damping; /* ratio */
    double head_off;      /* that the rig states of its head's axes, and keeps to */
};

void room_make(struct room *room, struct random *r);

#endif
