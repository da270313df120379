/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What the rig's sensors make of the truth. Faults of the sensors go in here. */
#ifndef STEADYHAND_SIM_SENSE_H
#define STEADYHAND_SIM_SENSE_H

#include "tests/sim/machine.h"

struct sense {
    uint64_t seq;
    struct post_news last;
};

/* One set of readings; also lets the rig's own watch see them, if it keeps one. `active`: the scene's fault is on. */
struct post_news sense_read(struct sense *sense, struct machine *m, const struct scene *s, uint64_t now_ns, bool active,
                            struct random *r);

#endif
