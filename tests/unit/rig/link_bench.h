/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The bench of the link's tests: core's end over real sockets on the loopback, and as the rig's end sim_session.c on a
 * socket of the test's own, which sees every datagram and may keep, repeat, change or drop it. */
#ifndef STEADYHAND_TESTS_LINK_BENCH_H
#define STEADYHAND_TESTS_LINK_BENCH_H

#include <netinet/in.h>

#include "gateway/rig/link.h"
#include "tests/unit/rig/rig_bench.h"

#define LEASE     (300 * MS)
#define RIG_AHEAD ((uint64_t)1000 * SECOND) /* the rig's clock has nothing to do with core's */

struct link_packet {
    size_t len;
    uint8_t bytes[WIRE_MAX + 1];
};

struct link_bench {
    struct link link;
    struct show_sensor sensor[SHOW_SOURCES]; /* a pose, as good as the rig says */
    int rig_fd;
    struct sockaddr_in core;
    struct sim_session rig;
    struct wire_message said; /* last thing the rig accepted */
    uint64_t now;
    struct rig_report report;
    bool new_session;
};

/* A rig's socket on the loopback; *port 0: any, and says which. */
int link_bench_open_rig(uint16_t *port);
/* No session yet. */
void link_bench_start(struct link_bench *b);
/* What core has sent, oldest first; false if nothing has come. */
bool link_bench_fetch(struct link_bench *b, struct link_packet *p);
/* At core, whatever it is. */
void link_bench_throw(struct link_bench *b, const uint8_t *bytes, size_t len);
/* To the rig's end of the link; its answer goes back. */
enum sim_verdict link_bench_hand_over(struct link_bench *b, const struct link_packet *p);
/* Fetches one datagram and hands it over. */
enum sim_verdict link_bench_pass_one(struct link_bench *b);
/* Sealed by the rig, not yet sent. */
struct link_packet link_bench_telemetry(struct link_bench *b);
/* The same, sent. */
void link_bench_report(struct link_bench *b);
bool link_bench_poll(struct link_bench *b, bool lost);
/* From hello to the first telemetry. */
void link_bench_shake_hands(struct link_bench *b, bool lost);
void link_bench_connected(struct link_bench *b);
struct intent link_bench_intent(void);
void link_bench_send_intent(struct link_bench *b);

#endif
