/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/unit/rig/link_bench.h"

#include <arpa/inet.h>
#include <criterion/criterion.h>
#include <poll.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

int link_bench_open_rig(uint16_t *port)
{
    struct sockaddr_in at = {.sin_family = AF_INET, .sin_port = htons(*port)};
    socklen_t len = sizeof at;
    at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    cr_assert_geq(fd, 0);
    cr_assert_eq(bind(fd, (struct sockaddr *)&at, sizeof at), 0);
    cr_assert_eq(getsockname(fd, (struct sockaddr *)&at, &len), 0);
    *port = ntohs(at.sin_port);
    return fd;
}

void link_bench_start(struct link_bench *b)
{
    static const uint8_t nonce_key[SEAL_KEY] = {5};
    uint16_t port = 0;
    memset(b, 0, sizeof *b);
    b->now = 5 * SECOND;
    b->sensor[SHOW_POSE].there = true;
    b->rig_fd = link_bench_open_rig(&port);
    cr_assert_eq(link_open(&b->link, "127.0.0.1", port, rig_bench_master, b->sensor), 0);
    sim_session_init(&b->rig, rig_bench_master, nonce_key, LEASE);
}

static bool readable(int fd)
{
    struct pollfd p = {.fd = fd, .events = POLLIN};
    return poll(&p, 1, 20) > 0; /* loopback delivers within the send; this is for its absence */
}

/* What core has sent, oldest first. */
bool link_bench_fetch(struct link_bench *b, struct link_packet *p)
{
    socklen_t len = sizeof b->core;
    if (!readable(b->rig_fd))
        return false;
    ssize_t got = recvfrom(b->rig_fd, p->bytes, sizeof p->bytes, MSG_DONTWAIT, (struct sockaddr *)&b->core, &len);
    p->len = got > 0 ? (size_t)got : 0;
    return got > 0;
}

void link_bench_throw(struct link_bench *b, const uint8_t *bytes, size_t len)
{
    cr_assert_eq(sendto(b->rig_fd, bytes, len, 0, (struct sockaddr *)&b->core, sizeof b->core), (ssize_t)len);
}

enum sim_verdict link_bench_hand_over(struct link_bench *b, const struct link_packet *p)
{
    struct sim_reply reply;
    enum sim_verdict verdict = sim_session_receive(&b->rig, b->now + RIG_AHEAD, p->bytes, p->len, &b->said, &reply);
    if (verdict == SIM_ANSWER)
        link_bench_throw(b, reply.bytes, reply.len);
    return verdict;
}

enum sim_verdict link_bench_pass_one(struct link_bench *b)
{
    struct link_packet p;
    return link_bench_fetch(b, &p) ? link_bench_hand_over(b, &p) : SIM_REFUSED;
}

struct link_packet link_bench_telemetry(struct link_bench *b)
{
    struct link_packet p;
    struct wire_telemetry t = {
        .rig_ns = b->now + RIG_AHEAD, .sources = 1u << WIRE_POSE, .position = {1, 2, 3}, .uncertainty_m = 0.25f};
    p.len = sim_session_telemetry(&b->rig, &t, p.bytes, sizeof p.bytes);
    cr_assert_gt(p.len, 0);
    return p;
}

void link_bench_report(struct link_bench *b)
{
    struct link_packet p = link_bench_telemetry(b);
    link_bench_throw(b, p.bytes, p.len);
}

bool link_bench_poll(struct link_bench *b, bool lost)
{
    return link_poll(&b->link, b->now, lost, &b->report, &b->new_session);
}

/* From hello to the first telemetry. */
void link_bench_shake_hands(struct link_bench *b, bool lost)
{
    b->now += SECOND;
    link_bench_poll(b, lost);
    cr_assert_eq(link_bench_pass_one(b), SIM_ANSWER);
    link_bench_poll(b, false);
    cr_assert_eq(link_bench_pass_one(b), SIM_STARTED);
    link_bench_report(b);
    cr_assert(link_bench_poll(b, false));
    cr_assert(b->new_session);
}

void link_bench_connected(struct link_bench *b)
{
    link_bench_start(b);
    link_bench_shake_hands(b, false);
}

struct intent link_bench_intent(void)
{
    return (struct intent){.velocity = {0.2, 0, 0},
                           .cords = 2,
                           .cord_rate_mps = {0.1, -0.1},
                           .cord_tension_n = {12, 7.5},
                           .head_rate = {0.25, 0, 0, -1},
                           .motion = true,
                           .power = true,
                           .category = STOP_CATEGORY_2,
                           .stop_count = 1,
                           .permit = 1};
}

void link_bench_send_intent(struct link_bench *b)
{
    struct intent i = link_bench_intent();
    link_send_intent(&b->link, &i, LEASE, b->now);
}
