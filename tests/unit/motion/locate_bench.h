/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * A room, a platform that moves in it as a platform can, and sensors that are as good as they say: for tests that ask
 * whether locate's uncertainty is honest and its faults are found. Deterministic from a seed.
 *
 * The truth is kept apart from what locate assumes: cords' tensions come from statics with the real acceleration and
 * the body's real pull, ranges from the real lean, old readings from where the platform really was.
 */
#ifndef STEADYHAND_TESTS_LOCATE_BENCH_H
#define STEADYHAND_TESTS_LOCATE_BENCH_H

#include "policy/motion/locate.h"

enum { BENCH_PAST = 64 }; /* ticks that are remembered for old readings */

struct bench_mix {
    const char *name;
    int cords;
    unsigned sources;
    double sigma[LOCATE_SOURCES]; /* m, m, N, m, rad */
    double age_s[LOCATE_SOURCES];
    double tension_share; /* noise */
    int every;            /* ticks a report */
    double loss;          /* share of reports that never arrive */
    bool level;           /* all anchors at one height */
};

/* What goes wrong, from `at_s` on. */
struct bench_fault {
    double at_s;
    struct vec3 pose_off_m;  /* the tracking system jumps */
    struct vec3 carried_mps; /* it drifts */
    int cord;                /* of the next two */
    double length_off_m;     /* an anchor moved along the cord, or a winch slipped */
    double length_drift_mps;
    struct vec3 anchor_off_m; /* an anchor moved */
    double range_off_m;
    bool frozen; /* the readings of sources in `frozen_sources` stay as they are */
    unsigned frozen_sources;
    bool moved; /* the platform itself is elsewhere by pose_off_m: all sources see it */
};

struct bench_truth {
    struct vec3 position, velocity, accel;
    double tilt_x, tilt_y;
};

struct bench {
    uint64_t random;
    const struct bench_mix *mix;
    struct locate_config cfg;
    struct vec3 anchor[VOLUME_MAX_CORDS]; /* where they really are: surveyed place and error */
    struct bench_truth now, past[BENCH_PAST];
    struct vec3 target;
    double pause_s, sway_phase;
    uint64_t tick, now_ns;
    struct locate_report report;
    bool heard;

    struct vec3 pose_bias, fault_pose;
    double length_bias[VOLUME_MAX_CORDS], tension_bias[VOLUME_MAX_CORDS], range_bias;
    struct bench_fault fault;

    struct locate locate;
    struct locate_output out;
};

#define BENCH_DT_S 0.01

double bench_uniform(uint64_t *state); /* 0 .. 1 */
double bench_normal(uint64_t *state, double sigma);

/* A show's config: biases of a millimetre or two, friction of `friction`, acceleration up to 0.5 m/s^2. */
struct locate_config bench_config(const struct bench_mix *mix, double friction);

/* Biases are drawn at their bounds. */
void bench_start(struct bench *bench, const struct bench_mix *mix, const struct locate_config *cfg, uint64_t seed);

/* One tick of 10 ms: the platform moves, the sensors report, locate steps. */
void bench_step(struct bench *bench);

/* |estimate - truth| [m]. */
double bench_error(const struct bench *bench);

extern const struct bench_mix bench_mixes[];
extern const int bench_mix_count;

#endif
