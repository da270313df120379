/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * What the simulated rig's sensors make of the truth: each source by itself late, biased and noisy as the show says,
 * and worse where a fault says so. A reading is
 *
 *   truth(now - age) + bias + offset + noise
 *
 * the truth drawn straight between the two sets of readings around that time; the bias constant, of a size between half
 * of its bound and the bound, of random sign; the noise white. A tension's bias is a share of it.
 */
#ifndef STEADYHAND_RIG_SIM_SENSORS_H
#define STEADYHAND_RIG_SIM_SENSORS_H

#include "gateway/rig/sim_faults.h"
#include "gateway/rig/sim_noise.h"
#include "gateway/show/show.h"

enum { SIM_SENSORS_PAST = 64 }; /* sets of readings; at 100 a second more than SIM_FAULTS_AGE_S */

/* What a set of perfect sensors would say; readings in the order of struct sim_sensor_fault, of the pose six. */
struct sim_truths {
    double value[WIRE_SOURCES][SIM_FAULTS_VALUES];
    double swing_rad;
};

/* What the sensors do say. A source that is not there reads zero. */
struct sim_sensed {
    unsigned sources; /* 1 << enum wire_source */
    struct vec3 position, velocity;
    double uncertainty_m, swing_rad;
    double length_m[VOLUME_MAX_CORDS], tension_n[VOLUME_MAX_CORDS];
    double range_m, tilt_rad[2], yaw_rad, yaw_off_rad;
    double head[WIRE_HEAD_AXES];
    struct vec3 subject;
    double subject_age_s;
};

struct sim_sensors_config {
    struct show_sensor sensor[WIRE_SOURCES];
    int values[WIRE_SOURCES]; /* how many readings each has */
    double swing_sigma_rad;
    double period_s; /* > 0: from one set of readings to the next */
};

struct sim_sensors {
    struct sim_noise noise[WIRE_SOURCES + 1];     /* one each, so that none disturbs another; the last for the swing */
    double lean[WIRE_SOURCES][SIM_FAULTS_VALUES]; /* the bias, as a part of its bound */
    double said[WIRE_SOURCES][SIM_FAULTS_VALUES]; /* last time */
    struct sim_truths past[SIM_SENSORS_PAST];     /* a ring */
    unsigned taken;
};

void sim_sensors_init(const struct sim_sensors_config *cfg, struct sim_sensors *s, uint64_t seed);

/* One set of readings; once every period_s. */
void sim_sensors_read(const struct sim_sensors_config *cfg, struct sim_sensors *s, const struct sim_faults *faults,
                      const struct sim_truths *truth, struct sim_sensed *out);

#endif
