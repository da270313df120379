/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "mini_rig.h"

#include <poll.h>
#include <sodium.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

enum { PERIOD_MS = 10 };

static uint64_t clock_ns(clockid_t clock)
{
    struct timespec t;
    clock_gettime(clock, &t);
    return (uint64_t)t.tv_sec * 1000000000u + (uint64_t)t.tv_nsec;
}

bool mini_rig_open(struct mini_rig *rig, const uint8_t master[SEAL_KEY], const double position[3])
{
    struct sockaddr_in at = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t size = sizeof at;
    int on = 1;
    memset(rig, 0, sizeof *rig);
    seal_derive(&rig->keys, master);
    memcpy(rig->position, position, sizeof rig->position);
    rig->fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (rig->fd < 0 || bind(rig->fd, (struct sockaddr *)&at, sizeof at) != 0 ||
        setsockopt(rig->fd, SOL_SOCKET, SO_TIMESTAMPNS, &on, sizeof on) != 0 ||
        getsockname(rig->fd, (struct sockaddr *)&at, &size) != 0)
        return false;
    rig->port = ntohs(at.sin_port);
    return true;
}

static void send_message(struct mini_rig *rig, const struct wire_message *m)
{
    uint8_t buf[WIRE_MAX];
    size_t len = wire_encode(m, buf, sizeof buf);
    seal_write(rig->keys.to_core, buf, len);
    (void)sendto(rig->fd, buf, len, MSG_DONTWAIT, (const struct sockaddr *)&rig->core, sizeof rig->core);
}

static void challenge(struct mini_rig *rig, const struct wire_hello *hello)
{
    struct wire_message m = {.type = WIRE_CHALLENGE};
    memcpy(m.body.challenge.core_nonce, hello->core_nonce, WIRE_NONCE);
    m.body.challenge.session = atomic_load(&rig->session);
    if (!atomic_load(&rig->taken)) {
        randombytes_buf(rig->rig_nonce, sizeof rig->rig_nonce);
        randombytes_buf(&rig->offered, sizeof rig->offered);
        memcpy(m.body.challenge.rig_nonce, rig->rig_nonce, WIRE_NONCE);
        m.body.challenge.session = rig->offered;
    }
    send_message(rig, &m);
}

static void begin(struct mini_rig *rig, const struct wire_message *m)
{
    if (m->session != rig->offered || memcmp(m->body.confirm.rig_nonce, rig->rig_nonce, WIRE_NONCE) != 0)
        return;
    rig->seq = 0;
    atomic_store(&rig->stop_count, 1);
    atomic_store(&rig->intent_permit, 0);
    atomic_store(&rig->session, m->session);
}

static void hear_intent(struct mini_rig *rig, const struct wire_intent *intent)
{
    if (intent->stop_count > atomic_load(&rig->stop_count))
        atomic_store(&rig->stop_count, intent->stop_count);
    atomic_store(&rig->intent_count, intent->stop_count);
    atomic_store(&rig->intent_permit, intent->permit);
    atomic_store(&rig->powered, intent->power != 0);
    atomic_fetch_add(&rig->intents, 1);
    if (!intent->motion || intent->permit != atomic_load(&rig->stop_count))
        return;
    for (int axis = 0; axis < 3; axis++)
        rig->position[axis] += intent->velocity[axis] * (PERIOD_MS * 1e-3);
    atomic_fetch_add(&rig->moving, 1);
}

static void hear_stop(struct mini_rig *rig, const struct wire_stop *stop, uint64_t at_ns)
{
    atomic_fetch_add(&rig->stops, 1);
    if (stop->stop_count > atomic_load(&rig->stop_count))
        atomic_store(&rig->stop_count, stop->stop_count);
    atomic_store(&rig->stop_category, stop->category);
    if (stop->stop_count <= atomic_load(&rig->stop_seen))
        return; /* repeated */
    atomic_store(&rig->stop_at_ns, at_ns);
    atomic_store(&rig->stop_seen, stop->stop_count);
}

static void hear(struct mini_rig *rig, const uint8_t *buf, size_t len, uint64_t at_ns)
{
    struct wire_message m;
    if (!seal_check(rig->keys.to_rig, buf, len) || !wire_decode(buf, len, &m))
        return;
    if (m.type == WIRE_HELLO)
        challenge(rig, &m.body.hello);
    else if (m.type == WIRE_CONFIRM)
        begin(rig, &m);
    else if (m.session != atomic_load(&rig->session))
        return;
    else if (m.type == WIRE_INTENT) {
        hear_intent(rig, &m.body.intent);
        atomic_store(&rig->last_seq, m.seq);
    } else if (m.type == WIRE_STOP)
        hear_stop(rig, &m.body.stop, at_ns);
}

static uint64_t kernel_time(struct msghdr *msg)
{
    for (struct cmsghdr *c = CMSG_FIRSTHDR(msg); c; c = CMSG_NXTHDR(msg, c))
        if (c->cmsg_level == SOL_SOCKET && c->cmsg_type == SCM_TIMESTAMPNS) {
            struct timespec t;
            memcpy(&t, CMSG_DATA(c), sizeof t);
            return (uint64_t)t.tv_sec * 1000000000u + (uint64_t)t.tv_nsec;
        }
    return clock_ns(CLOCK_REALTIME);
}

static void read_one(struct mini_rig *rig)
{
    uint8_t buf[WIRE_MAX];
    union {
        struct cmsghdr align;
        char bytes[128];
    } control;
    struct iovec io = {buf, sizeof buf};
    struct msghdr msg = {.msg_name = &rig->core,
                         .msg_namelen = sizeof rig->core,
                         .msg_iov = &io,
                         .msg_iovlen = 1,
                         .msg_control = &control,
                         .msg_controllen = sizeof control};
    ssize_t n = recvmsg(rig->fd, &msg, MSG_DONTWAIT);
    if (n > 0 && !atomic_load(&rig->mute))
        hear(rig, buf, (size_t)n, kernel_time(&msg));
}

static void report(struct mini_rig *rig)
{
    struct wire_message m = {.type = WIRE_TELEMETRY, .session = atomic_load(&rig->session), .seq = ++rig->seq};
    if (!atomic_load(&rig->frozen))
        rig->measured_ns = clock_ns(CLOCK_MONOTONIC);
    m.body.telemetry = (struct wire_telemetry){
        .rig_ns = rig->measured_ns,
        .last_intent_seq = atomic_load(&rig->last_seq),
        .flags = atomic_load(&rig->flags) | (atomic_load(&rig->powered) ? WIRE_RIG_POWERED : 0u),
        .stop_count = atomic_load(&rig->stop_count),
        .sources = 1u << WIRE_POSE | 1u << WIRE_YAW | 1u << WIRE_HEAD,
        .uncertainty_m = 0.001f,
        .yaw_off_rad = 0.01f,
        .head = {0, 0, 0, 1},
    };
    memcpy(m.body.telemetry.position, rig->position, sizeof rig->position);
    send_message(rig, &m);
}

static void *run(void *arg)
{
    struct mini_rig *rig = arg;
    uint64_t due = clock_ns(CLOCK_MONOTONIC);
    while (!atomic_load(&rig->ending)) {
        uint64_t now = clock_ns(CLOCK_MONOTONIC);
        if (now >= due) {
            if (atomic_load(&rig->session) != 0 && !atomic_load(&rig->mute) && !atomic_load(&rig->taken))
                report(rig);
            due += PERIOD_MS * 1000000u;
            continue;
        }
        struct timespec wait = {.tv_nsec = (long)(due - now)};
        struct pollfd p = {.fd = rig->fd, .events = POLLIN};
        if (ppoll(&p, 1, &wait, NULL) > 0)
            read_one(rig);
    }
    return NULL;
}

bool mini_rig_start(struct mini_rig *rig, int priority)
{
    struct sched_param param = {.sched_priority = priority};
    if (pthread_create(&rig->thread, NULL, run, rig) != 0)
        return false;
    if (priority > 0)
        (void)pthread_setschedparam(rig->thread, SCHED_FIFO, &param);
    return true;
}

void mini_rig_stop(struct mini_rig *rig)
{
    atomic_store(&rig->ending, true);
    pthread_join(rig->thread, NULL);
    close(rig->fd);
}

bool mini_rig_permitted(struct mini_rig *rig)
{
    uint64_t permit = atomic_load(&rig->intent_permit);
    return permit != 0 && permit == atomic_load(&rig->stop_count);
}
