/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * One stop after the other, by turns through core and through the bare relay. A time runs from just before send() of
 * the stop message to the kernel's receipt of the datagram that answers it, so that nothing of the measuring side is in
 * it.
 */
#ifndef STEADYHAND_BENCH_PROBE_H
#define STEADYHAND_BENCH_PROBE_H

#include "bench_show.h"
#include "mini_rig.h"
#include "ws_client.h"

enum { PROBE_SCENE = 8192 };

struct probe_times {
    uint64_t *ns; /* owned; sorted by probe_run */
    int count, lost;
};

struct probe {
    struct mini_rig *rig;
    struct ws_client desk;
    int relay_tcp, relay_udp;
    uint64_t beat_at_ns, beats;
    char scene[PROBE_SCENE]; /* newest from core */
    char stopped[128];       /* newest confirmation from core */
    uint32_t random;
};

/* Connects the desk with its pass. */
bool probe_open(struct probe *probe, struct mini_rig *rig, const struct bench_show *show);
void probe_close(struct probe *probe);

/* `stops` stops each way, with a reset and a go before each of core's. False if one went astray: no datagram, no
 * confirmation to the desk, or the show could not be started again. */
bool probe_run(struct probe *probe, int stops, struct probe_times *core, struct probe_times *relay);

void probe_free(struct probe_times *core, struct probe_times *relay);

/* A number of the newest scene's "desk" object, e.g. probe_number(p, "tick", "skipped"); -1 if it is not there. */
int64_t probe_number(const struct probe *probe, const char *object, const char *key);

/* Listens to core for so long, and goes on sending beats. */
void probe_listen(struct probe *probe, int ms);

#endif
