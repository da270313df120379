/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * A random room with a random rig, network and limits, and one fault that is to come: all from one seed.
 *
 * The config promises what is true of it: latency_s covers both ways of the network and what the winches lag,
 * uncertainty covers noise and bias, brake_mps2 is less than the rig brakes with, and margin_m covers how far elastic
 * cords let the platform be from where the winches want it.
 */
#ifndef STEADYHAND_SIM_SCENE_H
#define STEADYHAND_SIM_SCENE_H

#include "gateway/rig/sim_controller.h"
#include "gateway/rig/sim_head.h"
#include "gateway/rig/sim_sensors.h"
#include "policy/motion/reach.h"
#include "tests/sim/fault.h"
#include "tests/sim/post.h"
#include "tests/sim/truth_view.h"

/* Of simulated time: physics, the rig's own controller, the policy. */
#define SCENE_STEP_S 0.0025
enum { SCENE_STEP_NS = 2500000, SCENE_STEPS_A_CONTROL = 2, SCENE_STEPS_A_TICK = 4, SCENE_CELLS = 1 << 13 };

/* What the fault does, and when. */
struct scene_trouble {
    enum fault fault;
    int begin, end; /* ticks */
    int cord;
    enum wire_source source; /* whose sensor it is */
    double size;             /* 0..1, of the kind's own meaning */
    struct vec3 way;
    bool watched; /* the rig's own controller keeps its watch and reports faults by itself */
};

struct scene {
    uint64_t seed;
    bool tight; /* nothing is spare: the margin is what the policy makes it, and the rig brakes no harder than promised
                 */
    struct policy_config cfg;
    bool wide; /* the stage goes on to where the cords cannot hold the platform */
    struct reach reach;
    uint32_t reach_cell[SCENE_CELLS];
    struct truth_view unseen; /* what the picture must never show */
    struct vec3 start;        /* at rest, clear of everything */
    struct sim_physics_config physics;
    struct sim_controller_config controller;
    struct sim_head_config head;
    struct sim_sensors_config sensors;
    struct post_way to_rig, to_core;
    struct scene_trouble trouble;
    double lag_s;                    /* of the winches */
    double yaw_rad, sway_rad, turns; /* of the body: about this, so far to either side, so often a second */
    double uneven;                   /* share of ticks that do not come on time */
    double slip_m;                   /* how far elasticity lets the platform be from where it should be */
    int ticks_a_report;
};

/* fault: FAULT_COUNT for one that the seed chooses. */
void scene_make(struct scene *scene, uint64_t seed, enum fault fault, struct random *r);

bool scene_has(const struct scene *scene, enum wire_source source);

#endif
