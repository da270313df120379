/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * What is wrong with the simulated rig. All zero is a sound one: struct sim_rig begins like that, and whoever runs it
 * may write rig->faults between two calls of it, as often as they like. Nothing in here is random but by the rig's own
 * seed, so a run with the same faults at the same times repeats bit for bit.
 *
 * Faults change what is true (cords, anchors, winches), what is said of it (sensors) and what is heard (the network).
 * The judge always sees what is true, the rig's own controller only what its sensors say.
 */
#ifndef STEADYHAND_RIG_SIM_FAULTS_H
#define STEADYHAND_RIG_SIM_FAULTS_H

#include <stdbool.h>

#include "gateway/rig/wire.h"
#include "policy/motion/volume.h"

enum { SIM_FAULTS_VALUES = VOLUME_MAX_CORDS }; /* most readings a source has */

/* One source of the telemetry. Its readings: pose x, y, z and their velocities; length and tension one a cord; range;
 * tilt towards x, y; yaw; head pan, tilt, roll, zoom; subject x, y, z. Each in the source's own unit (m, N, rad,
 * magnification). */
struct sim_sensor_fault {
    bool silent;  /* its bit is missing in the telemetry */
    bool frozen;  /* it goes on saying what it last said, offset and all; the rest does not freeze */
    double noise; /* so many times the show's sigma more than the show says; >= -1 */
    double bias;  /* so many times the show's bias more; the show's own is drawn within its bound */
    double offset[SIM_FAULTS_VALUES]; /* is added to each reading: a jump where it is set at once, a drift where it
                                       * grows with every call */
    double age_s;                     /* it shows what was so long ago, at most SIM_FAULTS_AGE_S; its stated age does
                                       * not change */
};

#define SIM_FAULTS_AGE_S 0.5

enum sim_winch_trouble {
    SIM_WINCH_SOUND,
    SIM_WINCH_LAGS,      /* follows what it is told late: a first-order lag of lag_s */
    SIM_WINCH_STICKS,    /* stands still, as if its brake had fallen in; slows down as hard as it can */
    SIM_WINCH_RUNS_AWAY, /* pays out at rate_mps, whatever it is told; negative: hauls in */
};

struct sim_winch_fault {
    enum sim_winch_trouble trouble;
    double lag_s;    /* >= 0 */
    double rate_mps; /* cut to the winch's own speed */
};

/* One direction of the network, on top of the show's latency. */
struct sim_path_fault {
    double delay_s;   /* >= 0: every datagram takes so much longer */
    double loss;      /* 0..1: this share is lost */
    double duplicate; /* 0..1: this share comes twice, the second up to late_s after the first */
    double reorder;   /* 0..1: this share is held back for up to late_s, so that later ones overtake it */
    double late_s;    /* >= 0 */
};

struct sim_faults {
    struct sim_sensor_fault sensor[WIRE_SOURCES];
    double swing_noise; /* so many times the show's noise_rad more on the reported swing */

    bool parted[VOLUME_MAX_CORDS];                /* for good once it was seen: cords do not grow together */
    struct vec3 anchor_moved_m[VOLUME_MAX_CORDS]; /* where the true anchor is, less where everybody believes it; it gets
                                                   * there at SIM_FAULTS_CREEP_MPS */
    struct sim_winch_fault winch[VOLUME_MAX_CORDS];
    struct vec3 push_n; /* a steady force on the platform: wind, a hand */

    bool deaf_controller; /* its own watch over its sensors is off: no fault of its own accord, whatever they say */

    struct sim_path_fault to_rig, to_core;
};

#define SIM_FAULTS_CREEP_MPS 0.2

#endif
