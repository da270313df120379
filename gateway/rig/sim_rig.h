/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The whole simulated rig: network delay, controller, machine, sensors and judge, run in virtual time. Pure: the same
 * datagrams and faults at the same times give the same run, bit for bit. rig_sim.c runs it on a socket, tests without
 * one.
 *
 *   arrive -> delay -> controller 1 kHz -> winches, cords, body at >= 4 kHz -> sensors 100 Hz -> delay -> depart
 *                                                                \-> judge 200 Hz
 *
 * Cords do not hold the body about the vertical: it turns to and fro like a torsional pendulum that nothing damps,
 * yaw + sway sin(2 pi t / period), or not at all.
 */
#ifndef STEADYHAND_RIG_SIM_RIG_H
#define STEADYHAND_RIG_SIM_RIG_H

#include "gateway/rig/sim_controller.h"
#include "gateway/rig/sim_faults.h"
#include "gateway/rig/sim_head.h"
#include "gateway/rig/sim_judge.h"
#include "gateway/rig/sim_path.h"
#include "gateway/rig/sim_sensors.h"

enum {
    SIM_RIG_CONTROL_NS = 1000000,    /* one control step */
    SIM_RIG_TELEMETRY_NS = 10000000, /* one set of readings */
    SIM_RIG_JUDGE_NS = 5000000,
};

struct sim_rig_options {
    uint64_t seed;                       /* of noise and loss */
    uint8_t nonce_key[SEAL_KEY];         /* see sim_session_init() */
    double command_loss, telemetry_loss; /* 0..1 */
    uint64_t start_ns;                   /* the rig's clock at the start */
};

struct sim_rig {
    struct volume room;
    struct sim_physics_config physics_cfg;
    struct sim_controller_config controller_cfg;
    struct sim_head_config head_cfg;
    struct sim_sensors_config sensors_cfg;
    struct show_sim show; /* of yaw and whoever walks below */
    double floor_m;       /* what the range sensor sees */
    int substeps;

    struct sim_faults faults; /* the caller's to write between calls; none at the start */
    uint64_t now_ns;          /* the rig's clock */
    uint64_t peer;            /* who gets telemetry */
    struct sim_physics physics;
    struct sim_controller controller;
    struct sim_head head;
    struct sim_sensors sensors;
    struct sim_judge judge;
    struct sim_path in, out;
};

/* What is true now, besides the machine's own state. */
double sim_rig_yaw(const struct sim_rig *rig); /* rad */

/* Hangs at rest at the show's home. On failure false, and *why says what in the show to mend. */
bool sim_rig_init(struct sim_rig *rig, const struct show *show, const uint8_t master[SEAL_KEY],
                  const struct sim_rig_options *opt, const char **why);

/* A datagram has come. Forged ones are dropped here, so that a flood of them cannot crowd out the genuine. */
void sim_rig_arrive(struct sim_rig *rig, uint64_t now_ns, uint64_t peer, const uint8_t *bytes, size_t len);

/* Runs the rig's clock up to until_ns, in whole control steps. */
void sim_rig_run(struct sim_rig *rig, uint64_t until_ns);

/* The next datagram to send by now_ns, NULL if there is none. Valid until the next call. */
const struct sim_datagram *sim_rig_depart(struct sim_rig *rig, uint64_t now_ns);

/* When sim_rig_run and sim_rig_depart next have something to do. */
uint64_t sim_rig_next_ns(const struct sim_rig *rig);

/* One JSON line of the truth, newline included, t_s as the caller counts it; returns its length. */
int sim_rig_report(const struct sim_rig *rig, double t_s, char *buf, size_t size);

#endif
