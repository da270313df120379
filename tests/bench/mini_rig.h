/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The least a rig controller can be: answers core's hello, sends telemetry a hundred times a second of where it is (a
 * pose, a head that looks along y, a body that does not turn), remembers the highest stop count, and notes when stop
 * datagrams reached the kernel. Each intent that permits motion moves it for a tick's time, so that it is
 * where core's ticks have sent it, however fast those run; nothing is ever in its way. */
#ifndef STEADYHAND_BENCH_MINI_RIG_H
#define STEADYHAND_BENCH_MINI_RIG_H

#include <netinet/in.h>
#include <pthread.h>
#include <stdatomic.h>

#include "gateway/rig/seal.h"
#include "gateway/rig/wire.h"

struct mini_rig {
    int fd;
    uint16_t port;
    struct seal_keys keys;
    double position[3];
    pthread_t thread;
    struct sockaddr_in core;
    uint8_t rig_nonce[WIRE_NONCE];
    uint64_t offered, seq;    /* telemetry sent in this session */
    uint64_t measured_ns;     /* of the newest telemetry */
    atomic_bool ending, mute; /* mute: no telemetry, no answers */
    _Atomic uint64_t session;
    _Atomic uint64_t stop_count;            /* highest heard */
    _Atomic uint64_t stop_at_ns, stop_seen; /* newest stop datagram that raised it: kernel time (realtime), its count */
    _Atomic uint64_t stops, intents;        /* datagrams */
    _Atomic unsigned stop_category;         /* of the newest stop datagram */
    atomic_bool powered;                    /* as the newest intent said: this one has no brakes */
    atomic_bool frozen;                     /* telemetry goes on, measured ever at the same time */
    atomic_bool taken;      /* it obeys another core: hellos are answered so, and that core alone is told where it is */
    _Atomic unsigned flags; /* of its telemetry */
    _Atomic uint64_t last_seq;                    /* of the newest intent */
    _Atomic uint64_t intent_count, intent_permit; /* of the newest intent */
    _Atomic uint64_t moving;                      /* intents that would have moved it */
};

/* Binds a free port on 127.0.0.1. `master` is the show's rig secret. */
bool mini_rig_open(struct mini_rig *rig, const uint8_t master[SEAL_KEY], const double position[3]);

/* Starts its thread, SCHED_FIFO at `priority` where permitted (0: normal). */
bool mini_rig_start(struct mini_rig *rig, int priority);
void mini_rig_stop(struct mini_rig *rig);

/* True while the newest intent permits motion under the highest stop count. */
bool mini_rig_permitted(struct mini_rig *rig);

#endif
