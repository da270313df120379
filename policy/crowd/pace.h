/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Rate limit by GCRA, virtual scheduling form (ITU-T I.371, Annex A; ATM Forum TM 4.0): an arrival at t conforms
 * iff t >= tat - tolerance, then tat = max(t, tat) + interval. A burst at one instant may hold 1 + tolerance/interval.
 * 8 bytes of state a viewer; time arithmetic saturates.
 */
#ifndef STEADYHAND_CROWD_PACE_H
#define STEADYHAND_CROWD_PACE_H

#include <stdbool.h>
#include <stdint.h>

struct pace_config {
    uint64_t interval_ns;  /* > 0: one arrival per interval in the long run */
    uint64_t tolerance_ns; /* burst allowance */
};

struct pace {
    uint64_t tat_ns; /* theoretical arrival time; 0 = none yet */
};

/* True if the arrival conforms. If not, the state is unchanged. *wait_ns (may be NULL): how long to wait before one
 * would conform, 0 if this one does. */
bool pace_arrive(const struct pace_config *cfg, struct pace *pace, uint64_t now_ns, uint64_t *wait_ns);

#endif
