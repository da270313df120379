/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Stops from two threads at full tilt while the tick thread polls and sends intents, and the rig answers over the
 * loopback: every stop gets through, and (under a thread sanitizer) nothing is shared without care. */
#include <arpa/inet.h>
#include <poll.h>
#include <pthread.h>
#include <sodium.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "gateway/rig/link.h"
#include "gateway/rig/sim_session.h"

#define LEASE_NS 4000000000u /* no busy machine keeps an intent back for so long */

enum { STOPS_A_THREAD = 300, TICKS_LIMIT = 60000, TRIES = 20000 };

static const uint8_t master[SEAL_KEY] = {1};

struct bench {
    struct link link;
    struct sim_session rig; /* the rig's thread only, until it has ended */
    int rig_fd;
    _Atomic uint64_t asked; /* stops asked for by anybody */
    _Atomic int stoppers, ended;
    uint64_t intents;
};

static uint64_t now_ns(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (uint64_t)t.tv_sec * 1000000000u + (uint64_t)t.tv_nsec;
}

static void nap(long us)
{
    nanosleep(&(struct timespec){.tv_nsec = us * 1000}, NULL);
}

static void answer(struct bench *b, const uint8_t *bytes, size_t len, const struct sockaddr_in *to)
{
    if (len > 0)
        (void)sendto(b->rig_fd, bytes, len, 0, (const struct sockaddr *)to, sizeof *to);
}

static void *rig_thread(void *ctx)
{
    struct bench *b = ctx;
    struct pollfd in = {.fd = b->rig_fd, .events = POLLIN};
    while (!atomic_load(&b->ended)) {
        uint8_t buf[WIRE_MAX];
        struct wire_message m;
        struct sim_reply reply;
        struct sockaddr_in core;
        socklen_t len = sizeof core;
        if (poll(&in, 1, 10) <= 0)
            continue;
        ssize_t got = recvfrom(b->rig_fd, buf, sizeof buf, 0, (struct sockaddr *)&core, &len);
        if (got < 0)
            continue;
        enum sim_verdict verdict = sim_session_receive(&b->rig, now_ns(), buf, (size_t)got, &m, &reply);
        b->intents += verdict == SIM_INTENT;
        struct wire_telemetry t = {.rig_ns = now_ns()};
        answer(b, reply.bytes, reply.len, &core);
        answer(b, buf, sim_session_telemetry(&b->rig, &t, buf, sizeof buf), &core);
    }
    return NULL;
}

/* Each stop is repeated until the rig has confirmed it, as the desk's thread does. */
static void *stop_thread(void *ctx)
{
    struct bench *b = ctx;
    for (int i = 0; i < STOPS_A_THREAD; i++) {
        uint64_t count = atomic_fetch_add(&b->asked, 1) + 1;
        for (int tries = 0; tries < TRIES && !link_stop_confirmed(&b->link, count); tries++) {
            link_send_stop(&b->link, count, REASON_STOP_OPERATOR, STOP_CATEGORY_2);
            nap(200);
        }
    }
    atomic_fetch_sub(&b->stoppers, 1);
    return NULL;
}

static void tick(struct bench *b)
{
    struct rig_report report;
    bool new_session;
    struct intent intent = {.velocity = {0.1, 0, 0}, .motion = true, .stop_count = 1, .permit = 1};
    link_poll(&b->link, now_ns(), false, &report, &new_session);
    link_send_intent(&b->link, &intent, LEASE_NS, now_ns());
    nap(500);
}

static int open_rig(struct bench *b)
{
    static const uint8_t nonce_key[SEAL_KEY] = {2};
    static const struct show_sensor sensors[SHOW_SOURCES] = {{.there = true}};
    struct sockaddr_in at = {.sin_family = AF_INET};
    socklen_t len = sizeof at;
    at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    b->rig_fd = socket(AF_INET, SOCK_DGRAM, 0);
    if (b->rig_fd < 0 || bind(b->rig_fd, (struct sockaddr *)&at, len) < 0 ||
        getsockname(b->rig_fd, (struct sockaddr *)&at, &len) < 0)
        return -1;
    sim_session_init(&b->rig, master, nonce_key, LEASE_NS);
    return link_open(&b->link, "127.0.0.1", ntohs(at.sin_port), master, sensors);
}

static int check(bool holds, const char *what)
{
    if (!holds)
        fprintf(stderr, "failed: %s\n", what);
    return !holds;
}

int main(void)
{
    static struct bench b;
    pthread_t rig, stopper[2];
    b.asked = 1;
    b.stoppers = 2;
    if (sodium_init() < 0 || open_rig(&b) != 0)
        return 1;
    pthread_create(&rig, NULL, rig_thread, &b);
    for (int i = 0; i < 2; i++)
        pthread_create(&stopper[i], NULL, stop_thread, &b);
    for (int ticks = 0; ticks < TICKS_LIMIT && atomic_load(&b.stoppers) > 0; ticks++)
        tick(&b);
    for (int i = 0; i < 2; i++)
        pthread_join(stopper[i], NULL);
    tick(&b);
    tick(&b);
    atomic_store(&b.ended, 1);
    pthread_join(rig, NULL);
    uint64_t highest = 1 + 2 * STOPS_A_THREAD;
    printf("%llu stops asked, %llu sent, %llu intents sent, %llu accepted\n", (unsigned long long)highest - 1,
           (unsigned long long)b.link.counts.sent_stops, (unsigned long long)b.link.counts.sent_intents,
           (unsigned long long)b.intents);
    int failed = check(link_stop_confirmed(&b.link, highest), "every stop confirmed");
    failed += check(b.rig.stop_count == highest, "the rig knows the highest stop");
    failed += check(b.link.counts.sent_stops >= 2 * STOPS_A_THREAD, "stops counted");
    failed += check(b.intents > 0 && b.rig.refused.late == 0, "intents went on");
    failed += check(b.rig.refused.tag == 0 && b.rig.refused.form == 0, "no datagram was torn");
    link_close(&b.link);
    close(b.rig_fd);
    return failed > 0;
}
