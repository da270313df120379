/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_path.h"

#include <string.h>

static uint64_t nanoseconds(double s)
{
    return s > 0 ? (uint64_t)(s * 1e9) : 0;
}

void sim_path_init(struct sim_path *path, double delay_s, double loss, uint64_t seed)
{
    path->delay_ns = nanoseconds(delay_s);
    path->loss = loss;
    path->noise.state = seed;
    path->used = 0;
    path->lost = 0;
    for (unsigned i = 0; i < SIM_PATH_SLOTS; i++)
        path->order[i] = (uint8_t)i;
}

/* A share of nothing draws nothing: a path without faults makes the same run as one that has none. */
static bool befalls(struct sim_path *path, double share)
{
    return share > 0 && sim_noise_uniform(&path->noise) < share;
}

/* Behind all that are due no later. */
static void queue(struct sim_path *path, uint64_t due_ns, uint64_t peer, const uint8_t *bytes, size_t len)
{
    if (path->used == SIM_PATH_SLOTS) {
        path->lost++;
        return;
    }
    uint8_t slot = path->order[path->used];
    unsigned at = 0;
    while (at < path->used && path->slot[path->order[at]].due_ns > due_ns)
        at++;
    memmove(path->order + at + 1, path->order + at, path->used - at);
    path->order[at] = slot;
    path->used++;
    struct sim_datagram *d = &path->slot[slot];
    d->due_ns = due_ns;
    d->peer = peer;
    d->len = len < sizeof d->bytes ? len : sizeof d->bytes;
    memcpy(d->bytes, bytes, d->len);
}

static uint64_t later(struct sim_path *path, double most_s)
{
    return nanoseconds(most_s * sim_noise_uniform(&path->noise));
}

void sim_path_put(struct sim_path *path, const struct sim_path_fault *fault, uint64_t now_ns, uint64_t peer,
                  const uint8_t *bytes, size_t len)
{
    static const struct sim_path_fault none = {0};
    const struct sim_path_fault *f = fault ? fault : &none;
    if (befalls(path, path->loss) || befalls(path, f->loss)) {
        path->lost++;
        return;
    }
    uint64_t due = now_ns + path->delay_ns + nanoseconds(f->delay_s);
    if (befalls(path, f->duplicate))
        queue(path, due + later(path, f->late_s), peer, bytes, len);
    if (befalls(path, f->reorder))
        due += later(path, f->late_s);
    queue(path, due, peer, bytes, len);
}

const struct sim_datagram *sim_path_take(struct sim_path *path, uint64_t now_ns)
{
    if (path->used == 0 || sim_path_due(path) > now_ns)
        return NULL;
    return &path->slot[path->order[--path->used]];
}

uint64_t sim_path_due(const struct sim_path *path)
{
    return path->used ? path->slot[path->order[path->used - 1]].due_ns : UINT64_MAX;
}
