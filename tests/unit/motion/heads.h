/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Heads for the tests, and a simulated one: commands arrive late, reports are late and noisy. */
#ifndef STEADYHAND_TESTS_HEADS_H
#define STEADYHAND_TESTS_HEADS_H

#include "policy/motion/head.h"
#include "tests/unit/motion/profiles.h"

#define HEADS_DT   0.01
#define HEADS_LATE 64

static const double heads_rad = 0.017453292519943295;

static inline struct head_config heads_config(void)
{
    const double r = heads_rad;
    struct profile_limits turn = {30 * r, 60 * r, 240 * r}, zoom = {0.5, 1, 5};
    return (struct head_config){
        .axis = {{-170 * r, 170 * r, 0, turn},
                 {-90 * r, 30 * r, -20 * r, turn},
                 {-45 * r, 45 * r, 0, turn},
                 {1, 10, 1, zoom}},
        .clear_rad = 2 * r,
        .hfov_wide_rad = 60 * r,
        .arrived = 1 * r,
        .rest_s = 1,
        .recover_s = 100,
        .dt_s = HEADS_DT,
    };
}

static inline void heads_region(struct head_config *cfg, double pan0, double pan1, double tilt0, double tilt1)
{
    const double r = heads_rad;
    cfg->region[cfg->regions++] =
        (struct head_region){{pan0 * r, tilt0 * r, -INFINITY}, {pan1 * r, tilt1 * r, INFINITY}};
}

/* How deep a position is in a region grown by `by`; not above 0 if it is outside. */
static inline double heads_depth(const struct head_region *region, double by, const double at[HEAD_AXES])
{
    double depth = INFINITY;
    for (int i = 0; i < HEAD_TURNING; i++)
        depth = fmin(depth, fmin(at[i] - region->from[i], region->to[i] - at[i]) + by);
    return depth;
}

struct heads_sim {
    double at[HEAD_AXES];               /* the truth */
    double sent[HEADS_LATE][HEAD_AXES]; /* rates by tick sent */
    double was[HEADS_LATE][HEAD_AXES];  /* positions by tick */
    int n, command_late, report_late;   /* ticks */
    double noise;
};

static inline void heads_start(struct heads_sim *sim, const double at[HEAD_AXES])
{
    for (int i = 0; i < HEAD_AXES; i++) {
        sim->at[i] = at[i];
        for (int n = 0; n < HEADS_LATE; n++)
            sim->was[n][i] = at[i];
    }
}

static inline void heads_report(const struct heads_sim *sim, struct random *r, struct head_input *in)
{
    for (int i = 0; i < HEAD_AXES; i++) {
        double was = sim->was[(sim->n - sim->report_late + HEADS_LATE) % HEADS_LATE][i];
        in->position[i] = was + random_between(r, -sim->noise, sim->noise);
    }
    in->uncertainty = sim->noise;
}

/* A tick: the rates change evenly to those that have just arrived. */
static inline void heads_run(struct heads_sim *sim, const struct head_output *out)
{
    for (int i = 0; i < HEAD_AXES; i++) {
        sim->sent[sim->n % HEADS_LATE][i] = out->rate[i];
        double now = sim->sent[(sim->n - sim->command_late + HEADS_LATE) % HEADS_LATE][i];
        double before = sim->sent[(sim->n - sim->command_late - 1 + HEADS_LATE) % HEADS_LATE][i];
        sim->at[i] += (now + before) / 2 * HEADS_DT;
        sim->was[(sim->n + 1) % HEADS_LATE][i] = sim->at[i];
    }
    sim->n++;
}

#endif
