/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What the rig's sensors make of the truth (gateway/rig/sim_sensors.h), as telemetry. Faults of the sensors go in here.
 */
#ifndef STEADYHAND_SIM_SENSE_H
#define STEADYHAND_SIM_SENSE_H

#include "tests/sim/machine.h"

struct sense {
    struct sim_sensors sensors;
    struct sim_faults faults;
    struct post_news last;
    uint64_t seq;
    int since;  /* readings since the fault began */
    bool bites; /* it changes these readings */
};

void sense_init(struct sense *sense, const struct scene *s, struct random *r);

/* One set of readings; the rig's own watch sees them too, if it keeps one. active: the scene's fault is on. */
struct post_news sense_read(struct sense *sense, struct machine *m, const struct scene *s, uint64_t now_ns,
                            struct vec3 subject, bool active);

/* FAULT_NOT_A_NUMBER, of what the policy looks at for the place, or the swing. */
void sense_spoil(struct rig_report *report, const struct scene *s, struct random *r);

#endif
