/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_path.h"

#include <string.h>

void sim_path_init(struct sim_path *path, double delay_s, double loss, uint64_t seed)
{
    path->delay_ns = delay_s > 0 ? (uint64_t)(delay_s * 1e9) : 0;
    path->loss = loss;
    path->noise.state = seed;
    path->first = path->used = 0;
    path->lost = 0;
}

void sim_path_put(struct sim_path *path, uint64_t now_ns, uint64_t peer, const uint8_t *bytes, size_t len)
{
    bool dropped = path->loss > 0 && sim_noise_uniform(&path->noise) < path->loss;
    if (dropped || path->used == SIM_PATH_SLOTS) {
        path->lost++;
        return;
    }
    struct sim_datagram *d = &path->slot[(path->first + path->used++) % SIM_PATH_SLOTS];
    d->due_ns = now_ns + path->delay_ns;
    d->peer = peer;
    d->len = len < sizeof d->bytes ? len : sizeof d->bytes;
    memcpy(d->bytes, bytes, d->len);
}

const struct sim_datagram *sim_path_take(struct sim_path *path, uint64_t now_ns)
{
    struct sim_datagram *d = &path->slot[path->first];
    if (path->used == 0 || d->due_ns > now_ns)
        return NULL;
    path->first = (path->first + 1) % SIM_PATH_SLOTS;
    path->used--;
    return d;
}

uint64_t sim_path_due(const struct sim_path *path)
{
    return path->used ? path->slot[path->first].due_ns : UINT64_MAX;
}
