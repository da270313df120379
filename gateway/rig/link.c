/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/link.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <sodium.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "policy/crowd/saturate.h"

enum { READS_A_POLL = 16, HELLO_EVERY_MS = 250, TAKEN_MS = 4 * HELLO_EVERY_MS };

_Static_assert((int)WIRE_MAX_CORDS == (int)VOLUME_MAX_CORDS, "every cord of the room fits on the wire");

int link_open(struct link *link, const char *host, uint16_t port, const uint8_t master[SEAL_KEY],
              const struct show_sensor *sensors)
{
    struct sockaddr_in rig = {.sin_family = AF_INET, .sin_port = htons(port)};
    if (inet_pton(AF_INET, host, &rig.sin_addr) != 1)
        return -EINVAL;
    if (sodium_init() < 0)
        return -EIO;
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (fd < 0)
        return -errno;
    if (connect(fd, (const struct sockaddr *)&rig, sizeof rig) < 0) {
        int error = errno;
        close(fd);
        return -error;
    }
    memset(link, 0, sizeof *link);
    link->fd = fd;
    link->sensors = sensors;
    atomic_store(&link->next_seq, 1);
    seal_derive(&link->keys, master);
    return 0;
}

void link_close(struct link *link)
{
    if (link->fd >= 0)
        close(link->fd);
    link->fd = -1;
    sodium_memzero(&link->keys, sizeof link->keys);
}

/* A rig that is not there answers with ICMP, and the kernel then fails the *next* send without sending it: that one is
 * sent again at once, so that a rig that has just come back misses nothing. */
static bool send_bytes(const struct link *link, const uint8_t *buf, size_t len)
{
    for (int tries = 0; tries < 3; tries++) {
        if (send(link->fd, buf, len, MSG_DONTWAIT | MSG_NOSIGNAL) == (ssize_t)len)
            return true;
        if (errno != ECONNREFUSED && errno != EINTR)
            return false;
    }
    return false;
}

static bool send_message(const struct link *link, const struct wire_message *m)
{
    uint8_t buf[WIRE_MAX];
    size_t len = wire_encode(m, buf, sizeof buf);
    if (len == 0)
        return false;
    seal_write(link->keys.to_rig, buf, len);
    return send_bytes(link, buf, len);
}

static uint64_t take_seq(struct link *link)
{
    return atomic_fetch_add(&link->next_seq, 1);
}

/* A late answer to a hello before this one fails on its nonce. */
static void hello(struct link *link, uint64_t now_ns)
{
    struct wire_message m = {.type = WIRE_HELLO};
    randombytes_buf(link->core_nonce, sizeof link->core_nonce);
    memcpy(m.body.hello.core_nonce, link->core_nonce, WIRE_NONCE);
    link->hello_pending = true;
    link->hello_at = now_ns;
    send_message(link, &m);
}

/* An answer whose nonce is zero offers none: the rig is in the session that it names, with another core. */
static void take_challenge(struct link *link, const struct wire_challenge *challenge, uint64_t now_ns)
{
    if (!link->hello_pending || sodium_memcmp(challenge->core_nonce, link->core_nonce, WIRE_NONCE) != 0) {
        link->counts.bad_session++;
        return;
    }
    link->hello_pending = false;
    if (sodium_is_zero(challenge->rig_nonce, WIRE_NONCE)) {
        link->taken_ns = challenge->session == atomic_load(&link->session) ? 0 : now_ns;
        return;
    }
    struct wire_message m = {.type = WIRE_CONFIRM, .session = challenge->session, .seq = take_seq(link)};
    memcpy(m.body.confirm.rig_nonce, challenge->rig_nonce, WIRE_NONCE);
    link->offered = challenge->session;
    send_message(link, &m);
}

/* The confirmed count is cleared before the session is shown to other threads: a stop of the new session is never taken
 * for confirmed on the word of the old one. */
static void begin_session(struct link *link)
{
    atomic_store(&link->rig_stop_count, 0);
    atomic_store(&link->session, link->offered);
    link->offered = link->taken_ns = 0;
    link->seen_seq = 0;
    link->hello_pending = false;
}

static bool take_telemetry(struct link *link, const struct wire_message *m, uint64_t now_ns, bool *new_session)
{
    bool begins = link->offered != 0 && m->session == link->offered;
    if (!begins && m->session != atomic_load(&link->session)) {
        link->counts.bad_session++;
        return false;
    }
    if (begins) {
        begin_session(link);
        *new_session = true;
    }
    if (m->seq <= link->seen_seq) {
        link->counts.bad_seq++;
        return false;
    }
    link->seen_seq = m->seq;
    link->last = m->body.telemetry;
    link->rig_ns = link->last.rig_ns;
    link->rig_ns_at = now_ns;
    link_report_measured(&link->clock, link->rig_ns, now_ns, begins);
    link->counts.got_telemetry++;
    atomic_store(&link->rig_stop_count, link->last.stop_count);
    return true;
}

static bool take_datagram(struct link *link, const uint8_t *buf, size_t len, uint64_t now_ns, bool *new_session)
{
    struct wire_message m;
    if (!seal_check(link->keys.to_core, buf, len)) {
        link->counts.bad_tag++;
        return false;
    }
    if (!wire_decode(buf, len, &m)) {
        link->counts.bad_form++;
        return false;
    }
    switch (m.type) {
    case WIRE_CHALLENGE:
        take_challenge(link, &m.body.challenge, now_ns);
        return false;
    case WIRE_TELEMETRY:
        return take_telemetry(link, &m, now_ns, new_session);
    default:
        link->counts.bad_form++;
        return false;
    }
}

/* One byte more than the longest datagram: a longer one shows as too long instead of being cut to fit. */
static bool read_all(struct link *link, uint64_t now_ns, bool *new_session)
{
    uint8_t buf[WIRE_MAX + 1];
    bool fresh = false;
    for (int i = 0; i < READS_A_POLL; i++) {
        ssize_t got = recv(link->fd, buf, sizeof buf, MSG_DONTWAIT);
        if (got < 0 && errno != ECONNREFUSED && errno != EINTR)
            break;
        if (got >= 0)
            fresh |= take_datagram(link, buf, (size_t)got, now_ns, new_session);
    }
    return fresh;
}

bool link_poll(struct link *link, uint64_t now_ns, bool lost, struct rig_report *report, bool *new_session)
{
    *new_session = false;
    bool fresh = read_all(link, now_ns, new_session);
    bool wanting = atomic_load(&link->session) == 0 || (lost && !fresh);
    bool due = link->hello_at == 0 || now_ns - link->hello_at >= HELLO_EVERY_MS * (uint64_t)1000000;
    if (wanting && due)
        hello(link, now_ns);
    link->counts.sent_stops = atomic_load(&link->stops_sent);
    link->counts.send_errors = link->intent_errors + atomic_load(&link->stops_failed);
    link_report_fill(link->sensors, &link->last, link->clock.measured_ns, link->seen_seq, report);
    return fresh;
}

static void intent_body(struct link *link, const struct intent *intent, uint64_t lease_ns, uint64_t now_ns,
                        struct wire_intent *out)
{
    uint64_t since = now_ns > link->rig_ns_at ? now_ns - link->rig_ns_at : 0;
    out->expires_rig_ns = saturate_add64(saturate_add64(link->rig_ns, since), lease_ns);
    out->stop_count = intent->stop_count;
    out->permit = intent->permit;
    out->motion = intent->motion ? 1 : 0;
    out->power = intent->power ? 1 : 0;
    out->category = (uint8_t)stop_severer(intent->category, STOP_CATEGORY_2);
    out->velocity[0] = intent->velocity.x;
    out->velocity[1] = intent->velocity.y;
    out->velocity[2] = intent->velocity.z;
    int cords = intent->cords < 0 ? 0 : intent->cords > WIRE_MAX_CORDS ? WIRE_MAX_CORDS : intent->cords;
    out->cords = (uint8_t)cords;
    for (int i = 0; i < cords; i++) {
        out->cord_rate[i] = (float)intent->cord_rate_mps[i];
        out->cord_tension[i] = (float)intent->cord_tension_n[i];
    }
    for (int i = 0; i < WIRE_HEAD_AXES; i++)
        out->head_rate[i] = (float)intent->head_rate[i];
}

void link_send_intent(struct link *link, const struct intent *intent, uint64_t lease_ns, uint64_t now_ns)
{
    uint8_t scratch[WIRE_MAX];
    struct wire_message m = {.type = WIRE_INTENT, .session = atomic_load(&link->session)};
    if (m.session == 0)
        return;
    m.seq = link->intent_seq = take_seq(link);
    intent_body(link, intent, lease_ns, now_ns, &m.body.intent);
    bool sound = wire_encode(&m, scratch, sizeof scratch) != 0;
    if (!sound) {
        struct wire_intent still = m.body.intent;
        m.body.intent = (struct wire_intent){
            .expires_rig_ns = still.expires_rig_ns,
            .stop_count = still.stop_count,
            .permit = still.permit,
            .power = still.power,
            .category = still.category,
        };
    }
    bool sent = send_message(link, &m);
    link->counts.sent_intents += sent;
    link->intent_errors += !sound || !sent;
}

bool link_send_stop(struct link *link, uint64_t stop_count, enum reason why, enum stop_category category)
{
    struct wire_message m = {.type = WIRE_STOP, .session = atomic_load(&link->session)};
    if (m.session == 0)
        return false;
    m.seq = take_seq(link);
    m.body.stop = (struct wire_stop){stop_count, (uint8_t)why, (uint8_t)stop_severer(category, STOP_CATEGORY_2)};
    bool sent = send_message(link, &m);
    atomic_fetch_add(sent ? &link->stops_sent : &link->stops_failed, 1);
    return sent;
}

bool link_taken(const struct link *link, uint64_t now_ns)
{
    return link->taken_ns != 0 && now_ns - link->taken_ns < TAKEN_MS * (uint64_t)1000000;
}

bool link_stop_confirmed(struct link *link, uint64_t stop_count)
{
    return atomic_load(&link->session) != 0 && atomic_load(&link->rig_stop_count) >= stop_count;
}
