/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Power of the simulated rig's drives, as wire.h lays it down: what takes it off, and that nothing but what people
 * armed after a stop brings it back. Without power the winches' brakes are set. Pure.
 */
#ifndef STEADYHAND_RIG_SIM_POWER_H
#define STEADYHAND_RIG_SIM_POWER_H

#include "gateway/rig/wire.h"

struct sim_power {
    bool on;
    bool told_off;    /* an intent with power = 0 has come since it went off, or since the session began */
    bool wanted;      /* by the newest intent */
    uint8_t category; /* the most severe that was heard since it last came on */
};

/* Off, brakes set. */
void sim_power_init(struct sim_power *p);

/* A session has begun: as it was, but nothing that was heard before counts. */
void sim_power_session(struct sim_power *p);

/* A stop, whether or not its count was news. */
void sim_power_stop(struct sim_power *p, uint8_t category);

/* An accepted intent; stop_count: the highest heard, that of this intent included. */
void sim_power_intent(struct sim_power *p, const struct wire_intent *intent, uint64_t stop_count);

/* One step; at_rest: the drives have braked to rest. */
void sim_power_step(struct sim_power *p, bool at_rest);

#endif
