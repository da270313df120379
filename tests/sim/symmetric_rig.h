/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * A rig driven by nothing but cord rates, open loop, to see what two ways of computing them do to the cords. The
 * machine is that of gateway/rig/sim_physics.h: elastic cords, winches with limits, the body swinging on its boom.
 */
#ifndef STEADYHAND_TESTS_SIM_SYMMETRIC_RIG_H
#define STEADYHAND_TESTS_SIM_SYMMETRIC_RIG_H

#include "gateway/rig/sim_physics.h"
#include "policy/motion/tension.h"

/* Whose lengths' derivative the rates are. */
enum symmetric_rates {
    SYMMETRIC_CENTRE, /* of the centre of a symmetric room, wherever the camera is */
    SYMMETRIC_TRUE,   /* of where the camera was told to be, in the room as it is: cords_rates() */
    SYMMETRIC_RATES,
};

struct symmetric_room {
    const char *name;
    struct vec3 anchor[4];
    double height_m;      /* of the platform, all the way */
    double stiffness_npm; /* of a cord */
};

enum { SYMMETRIC_STATIONS = 16 };
#define SYMMETRIC_STEP_M  0.25 /* between two stations */
#define SYMMETRIC_LEAST_N 3.0  /* lower limit of a cord */
#define SYMMETRIC_MOST_N  150.0

/* What was found at a station. */
struct symmetric_reading {
    double error_n; /* the most that a cord's tension is off the one wanted there, the middle of what is feasible */
    double least_n, most_n; /* of the cords' tensions */
    double astray_m;        /* of the platform, from where it was told to be */
};

struct symmetric_way {
    int stations; /* as many as lie on the stage */
    struct symmetric_reading at[SYMMETRIC_STATIONS];
    int cord;         /* which reached its lower limit first; -1: none did */
    double reached_m; /* how far out; INFINITY if none did */
    double over_m;    /* how far out one reached its upper limit; INFINITY if none did */
};

/* Where the way begins: over the middle of the anchors. */
struct vec3 symmetric_centre(const struct symmetric_room *room);

/* The symmetric room that the simple rates are of: square, its anchors as far from the centre and as high as those of
 * the true room are on the average. */
void symmetric_ideal(const struct symmetric_room *room, struct vec3 anchor[4]);

/* From the centre, at rest and with the tensions wanted there, out to the edge of the stage along this bearing [rad].
 */
void symmetric_drive(const struct symmetric_room *room, enum symmetric_rates rates, double bearing,
                     struct symmetric_way *way);

#endif
