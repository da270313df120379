/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* One direction of a network: datagrams in, the same ones out later, first in, first out, after a constant delay; some
 * are lost. With a fault some more are, some come twice, and some are held back, so that later ones overtake them. What
 * does not fit is lost and counted, as in any router. Pure: time is passed in. */
#ifndef STEADYHAND_RIG_SIM_PATH_H
#define STEADYHAND_RIG_SIM_PATH_H

#include <stdbool.h>
#include <stddef.h>

#include "gateway/rig/sim_faults.h"
#include "gateway/rig/sim_noise.h"

enum { SIM_PATH_SLOTS = 256 };

struct sim_datagram {
    uint64_t due_ns;
    uint64_t peer; /* where from or where to; the caller's own number for it */
    size_t len;
    uint8_t bytes[WIRE_MAX + 1]; /* one more than any datagram has, so that one too long still shows as that */
};

struct sim_path {
    uint64_t delay_ns;
    double loss; /* 0..1 */
    struct sim_noise noise;
    unsigned used;
    uint64_t lost;
    uint8_t order[SIM_PATH_SLOTS]; /* slots: the first `used` by the time they are due, the last of them the next one */
    struct sim_datagram slot[SIM_PATH_SLOTS];
};

void sim_path_init(struct sim_path *path, double delay_s, double loss, uint64_t seed);

/* fault: what is wrong just now, NULL for nothing. */
void sim_path_put(struct sim_path *path, const struct sim_path_fault *fault, uint64_t now_ns, uint64_t peer,
                  const uint8_t *bytes, size_t len);

/* The next datagram if it is due by now_ns, else NULL. Valid until the next call. */
const struct sim_datagram *sim_path_take(struct sim_path *path, uint64_t now_ns);

/* When the next one is due; UINT64_MAX if there is none. */
uint64_t sim_path_due(const struct sim_path *path);

#endif
