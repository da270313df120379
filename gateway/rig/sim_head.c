/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_head.h"

#include <math.h>
#include <string.h>

void sim_head_init(const struct sim_head_config *cfg, struct sim_head *head)
{
    memset(head, 0, sizeof *head);
    for (int i = 0; i < WIRE_HEAD_AXES; i++)
        head->at[i] = cfg->axis[i].home;
}

static double clip(double x, double limit)
{
    return x > limit ? limit : x < -limit ? -limit : x;
}

/* Told now, heeded later: what comes out of the ring. */
static const double *pass_on(const struct sim_head_config *cfg, struct sim_head *head, const float rate[WIRE_HEAD_AXES],
                             double dt)
{
    double late = floor(cfg->latency_s / dt + 0.5);
    unsigned steps = late >= 0 && late < SIM_HEAD_TICKS ? (unsigned)late : SIM_HEAD_TICKS - 1;
    unsigned now = head->next++ % SIM_HEAD_TICKS;
    for (int i = 0; i < WIRE_HEAD_AXES; i++)
        head->told[now][i] = rate ? (double)rate[i] : 0;
    return head->told[(now + SIM_HEAD_TICKS - steps) % SIM_HEAD_TICKS];
}

static void move(const struct sim_head_axis *axis, struct sim_head *head, int i, double wanted, double dt)
{
    head->rate[i] += clip(clip(wanted, axis->speed) - head->rate[i], axis->accel * dt);
    head->at[i] += head->rate[i] * dt;
    bool beyond = head->at[i] < axis->min || head->at[i] > axis->max;
    if (!beyond)
        return;
    head->hit |= head->rate[i] != 0;
    head->at[i] = fmin(fmax(head->at[i], axis->min), axis->max);
    head->rate[i] = 0;
}

void sim_head_step(const struct sim_head_config *cfg, struct sim_head *head, const float rate[WIRE_HEAD_AXES],
                   double dt)
{
    const double *wanted = pass_on(cfg, head, rate, dt);
    for (int i = 0; cfg->there && i < WIRE_HEAD_AXES; i++)
        move(&cfg->axis[i], head, i, rate ? wanted[i] : 0, dt);
}
