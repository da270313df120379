/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The simulated head: pan, tilt, roll and zoom follow the rates they are told, late, and no faster than their motors
 * can; at the ends of an axis stands a mechanical stop. Pure; the caller steps it.
 *
 * Rates are heeded latency_s after they were told. Told to brake, an axis slows down at once, as hard as it can: the
 * latency is that of the way through the controller, and the brake is at the motor.
 */
#ifndef STEADYHAND_RIG_SIM_HEAD_H
#define STEADYHAND_RIG_SIM_HEAD_H

#include <stdbool.h>
#include <stdint.h>

#include "gateway/rig/wire.h"

enum { SIM_HEAD_TICKS = 512 }; /* control steps a rate may be late */

/* rad; zoom: magnification. */
struct sim_head_axis {
    double min, max, home; /* the mechanical stops, and where it stands at first */
    double speed, accel;   /* what the motor can; 0: an axis that is not there */
};

struct sim_head_config {
    bool there;
    struct sim_head_axis axis[WIRE_HEAD_AXES];
    double latency_s; /* 0 .. what SIM_HEAD_TICKS steps are; longer counts as that */
};

struct sim_head {
    double at[WIRE_HEAD_AXES], rate[WIRE_HEAD_AXES];
    bool hit;                                    /* an axis has run into its stop */
    double told[SIM_HEAD_TICKS][WIRE_HEAD_AXES]; /* a ring */
    unsigned next;
};

/* At rest at home. */
void sim_head_init(const struct sim_head_config *cfg, struct sim_head *head);

/* One step. rate: what is told now; NULL: brake. */
void sim_head_step(const struct sim_head_config *cfg, struct sim_head *head, const float rate[WIRE_HEAD_AXES],
                   double dt);

#endif
