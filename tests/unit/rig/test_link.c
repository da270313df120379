/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Core's end of the link over real sockets on the loopback; the rig's end is sim_session.c on a socket of the test's
 * own, which sees every datagram and may keep, repeat, change or drop it. */
#include <arpa/inet.h>
#include <criterion/criterion.h>
#include <errno.h>
#include <poll.h>
#include <sodium.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "gateway/rig/link.h"
#include "tests/unit/rig/rig_bench.h"

#define LEASE     (300 * MS)
#define RIG_AHEAD ((uint64_t)1000 * SECOND) /* the rig's clock has nothing to do with core's */

struct packet {
    size_t len;
    uint8_t bytes[WIRE_MAX + 1];
};

struct bench {
    struct link link;
    int rig_fd;
    struct sockaddr_in core;
    struct sim_session rig;
    struct wire_message said; /* last thing the rig accepted */
    uint64_t now;
    struct rig_report report;
    bool new_session;
};

static int open_rig(uint16_t *port)
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

static void start(struct bench *b)
{
    static const uint8_t nonce_key[SEAL_KEY] = {5};
    uint16_t port = 0;
    memset(b, 0, sizeof *b);
    b->now = 5 * SECOND;
    b->rig_fd = open_rig(&port);
    cr_assert_eq(link_open(&b->link, "127.0.0.1", port, rig_bench_master), 0);
    sim_session_init(&b->rig, rig_bench_master, nonce_key, LEASE);
}

static bool readable(int fd)
{
    struct pollfd p = {.fd = fd, .events = POLLIN};
    return poll(&p, 1, 20) > 0; /* loopback delivers within the send; this is for its absence */
}

/* What core has sent, oldest first. */
static bool fetch(struct bench *b, struct packet *p)
{
    socklen_t len = sizeof b->core;
    if (!readable(b->rig_fd))
        return false;
    ssize_t got = recvfrom(b->rig_fd, p->bytes, sizeof p->bytes, MSG_DONTWAIT, (struct sockaddr *)&b->core, &len);
    p->len = got > 0 ? (size_t)got : 0;
    return got > 0;
}

static void throw(struct bench * b, const uint8_t *bytes, size_t len)
{
    cr_assert_eq(sendto(b->rig_fd, bytes, len, 0, (struct sockaddr *)&b->core, sizeof b->core), (ssize_t)len);
}

static enum sim_verdict hand_over(struct bench *b, const struct packet *p)
{
    struct sim_reply reply;
    enum sim_verdict verdict = sim_session_receive(&b->rig, b->now + RIG_AHEAD, p->bytes, p->len, &b->said, &reply);
    if (verdict == SIM_ANSWER)
        throw(b, reply.bytes, reply.len);
    return verdict;
}

static enum sim_verdict pass_one(struct bench *b)
{
    struct packet p;
    return fetch(b, &p) ? hand_over(b, &p) : SIM_REFUSED;
}

static struct packet telemetry(struct bench *b)
{
    struct packet p;
    struct wire_telemetry t = {.rig_ns = b->now + RIG_AHEAD, .position = {1, 2, 3}, .uncertainty_m = 0.25f};
    p.len = sim_session_telemetry(&b->rig, &t, p.bytes, sizeof p.bytes);
    cr_assert_gt(p.len, 0);
    return p;
}

static void report(struct bench *b)
{
    struct packet p = telemetry(b);
    throw(b, p.bytes, p.len);
}

static bool poll_link(struct bench *b, bool lost)
{
    return link_poll(&b->link, b->now, lost, &b->report, &b->new_session);
}

/* From hello to the first telemetry. */
static void shake_hands(struct bench *b, bool lost)
{
    b->now += SECOND;
    poll_link(b, lost);
    cr_assert_eq(pass_one(b), SIM_ANSWER);
    poll_link(b, false);
    cr_assert_eq(pass_one(b), SIM_STARTED);
    report(b);
    cr_assert(poll_link(b, false));
    cr_assert(b->new_session);
}

static void connected(struct bench *b)
{
    start(b);
    shake_hands(b, false);
}

static struct intent right(void)
{
    return (struct intent){.velocity = {0.2, 0, 0},
                           .cords = 2,
                           .cord_rate_mps = {0.1, -0.1},
                           .motion = true,
                           .stop_count = 1,
                           .permit = 1};
}

static void send_intent(struct bench *b)
{
    struct intent i = right();
    link_send_intent(&b->link, &i, LEASE, b->now);
}

Test(link, opens_only_to_an_address)
{
    struct link link;
    cr_assert_eq(link_open(&link, "localhost", 1, rig_bench_master), -EINVAL);
    cr_assert_eq(link_open(&link, "", 1, rig_bench_master), -EINVAL);
}

Test(link, a_session_begins_with_the_first_telemetry_under_it)
{
    struct bench b;
    start(&b);
    cr_assert_not(poll_link(&b, false));
    cr_assert_eq(pass_one(&b), SIM_ANSWER);
    cr_assert_not(poll_link(&b, false));
    cr_assert_not(b.new_session);
    cr_assert_eq(pass_one(&b), SIM_STARTED);
    cr_assert_not(b.report.ever);
    report(&b);
    cr_assert(poll_link(&b, false));
    cr_assert(b.new_session);
    cr_assert(b.report.ever);
    cr_assert_eq(b.report.received_ns, b.now);
    cr_assert_eq(b.report.position.y, 2);
    cr_assert_eq(b.report.uncertainty_m, 0.25);
    cr_assert_not(poll_link(&b, false));
    cr_assert_not(b.new_session);
}

Test(link, asks_again_four_times_a_second_until_it_is_answered)
{
    struct bench b;
    struct packet p;
    start(&b);
    int hellos = 0;
    for (int ms = 0; ms < 1000; ms += 10, b.now += 10 * MS) {
        poll_link(&b, true);
        while (recv(b.rig_fd, p.bytes, sizeof p.bytes, MSG_DONTWAIT) > 0)
            hellos++;
    }
    cr_assert_eq(hellos, 4);
}

Test(link, without_a_session_nothing_is_sent)
{
    struct bench b;
    struct packet p;
    start(&b);
    send_intent(&b);
    cr_assert_not(link_send_stop(&b.link, 2, REASON_STOP_OPERATOR));
    cr_assert_not(link_stop_confirmed(&b.link, 1));
    cr_assert_not(fetch(&b, &p));
}

Test(link, an_intent_arrives_as_it_was_meant)
{
    struct bench b;
    connected(&b);
    b.now += 40 * MS; /* since the telemetry */
    send_intent(&b);
    cr_assert_eq(pass_one(&b), SIM_INTENT);
    const struct wire_intent *i = &b.said.body.intent;
    cr_assert_eq(i->expires_rig_ns, b.now + RIG_AHEAD + LEASE);
    cr_assert(i->motion == 1 && i->stop_count == 1 && i->permit == 1 && i->velocity[0] == 0.2);
    cr_assert(i->cords == 2 && i->cord_rate[1] == -0.1f && i->cord_rate[2] == 0);
    poll_link(&b, false);
    cr_assert_eq(b.link.counts.sent_intents, 1);
}

/* Telemetry that took its time makes core's idea of the rig's clock older, never newer: the lease gets shorter. */
Test(link, slow_telemetry_shortens_the_lease)
{
    struct bench b;
    connected(&b);
    struct packet p = telemetry(&b);
    b.now += 100 * MS;
    throw(&b, p.bytes, p.len);
    poll_link(&b, false);
    send_intent(&b);
    cr_assert_eq(pass_one(&b), SIM_INTENT);
    cr_assert_eq(b.said.body.intent.expires_rig_ns, b.now + RIG_AHEAD + LEASE - 100 * MS);
}

Test(link, an_intent_that_is_not_finite_goes_out_without_motion)
{
    struct bench b;
    connected(&b);
    struct intent i = right();
    i.velocity.y = (double)NAN;
    link_send_intent(&b.link, &i, LEASE, b.now);
    cr_assert_eq(pass_one(&b), SIM_INTENT);
    cr_assert(b.said.body.intent.motion == 0 && b.said.body.intent.velocity[0] == 0);
    cr_assert_eq(b.said.body.intent.stop_count, 1);
    i = right();
    i.cords = 1 << 20;
    i.cord_rate_mps[7] = 1e300;
    link_send_intent(&b.link, &i, UINT64_MAX, b.now);
    cr_assert_eq(pass_one(&b), SIM_INTENT);
    cr_assert_eq(b.said.body.intent.motion, 0);
    poll_link(&b, false);
    cr_assert_eq(b.link.counts.send_errors, 2);
}

Test(link, a_stop_is_confirmed_by_the_rigs_own_count)
{
    struct bench b;
    connected(&b);
    cr_assert(link_send_stop(&b.link, 4, REASON_STOP_SPOTTER));
    cr_assert_not(link_stop_confirmed(&b.link, 4));
    cr_assert_eq(pass_one(&b), SIM_STOP);
    cr_assert_eq(b.said.body.stop.reason, REASON_STOP_SPOTTER);
    report(&b);
    poll_link(&b, false);
    cr_assert(link_stop_confirmed(&b.link, 4));
    cr_assert_not(link_stop_confirmed(&b.link, 5));
    cr_assert_eq(b.link.counts.sent_stops, 1);
}

#define REFUSES(b, bytes, len, counter)                                                                                \
    do {                                                                                                               \
        struct link_counts counts_ = (b)->link.counts;                                                                 \
        struct rig_report report_ = (b)->report;                                                                       \
        throw(b, bytes, len);                                                                                          \
        cr_assert_not(poll_link(b, false));                                                                            \
        cr_assert_eq((b)->link.counts.counter, counts_.counter + 1);                                                   \
        (b)->link.counts.counter--;                                                                                    \
        cr_assert_eq(memcmp(&(b)->link.counts, &counts_, sizeof counts_), 0);                                          \
        cr_assert_eq(memcmp(&(b)->report, &report_, sizeof report_), 0);                                               \
        cr_assert_not((b)->new_session);                                                                               \
    } while (0)

Test(link, replayed_and_reordered_telemetry_is_refused)
{
    struct bench b;
    connected(&b);
    struct packet first = telemetry(&b), second = telemetry(&b);
    throw(&b, second.bytes, second.len);
    cr_assert(poll_link(&b, false));
    REFUSES(&b, second.bytes, second.len, bad_seq);
    REFUSES(&b, first.bytes, first.len, bad_seq);
}

Test(link, forged_and_truncated_telemetry_is_refused)
{
    struct bench b;
    connected(&b);
    struct packet p = telemetry(&b);
    for (size_t at = 0; at < p.len; at++) {
        p.bytes[at] ^= 4;
        REFUSES(&b, p.bytes, p.len, bad_tag);
        p.bytes[at] ^= 4;
    }
    for (size_t cut = 0; cut < p.len; cut++)
        REFUSES(&b, p.bytes, cut, bad_tag);
    throw(&b, p.bytes, p.len);
    cr_assert(poll_link(&b, false));
}

Test(link, genuine_bytes_that_are_no_message_are_refused)
{
    struct bench b;
    connected(&b);
    struct packet p = telemetry(&b);
    p.bytes[4]++; /* another version */
    seal_write(b.rig.keys.to_core, p.bytes, p.len);
    REFUSES(&b, p.bytes, p.len, bad_form);
    struct wire_message hello = {.type = WIRE_HELLO}; /* not for a rig to say */
    p.len = wire_encode(&hello, p.bytes, sizeof p.bytes);
    seal_write(b.rig.keys.to_core, p.bytes, p.len);
    REFUSES(&b, p.bytes, p.len, bad_form);
}

Test(link, its_own_datagrams_sent_back_are_refused)
{
    struct bench b;
    struct packet p;
    connected(&b);
    send_intent(&b);
    cr_assert(fetch(&b, &p));
    REFUSES(&b, p.bytes, p.len, bad_tag);
    link_send_stop(&b.link, 3, REASON_STOP_OPERATOR);
    poll_link(&b, false);
    cr_assert(fetch(&b, &p));
    REFUSES(&b, p.bytes, p.len, bad_tag);
}

Test(link, telemetry_of_the_session_before_is_refused)
{
    struct bench b;
    connected(&b);
    struct packet old = telemetry(&b);
    shake_hands(&b, true);
    REFUSES(&b, old.bytes, old.len, bad_session);
}

Test(link, a_challenge_nobody_asked_for_is_refused)
{
    struct bench b;
    struct packet p;
    struct sim_reply old, reply;
    connected(&b);
    b.now += SECOND;
    poll_link(&b, true);
    cr_assert(fetch(&b, &p));
    cr_assert_eq(sim_session_receive(&b.rig, b.now, p.bytes, p.len, &b.said, &old), SIM_ANSWER);
    b.now += SECOND;
    poll_link(&b, true); /* asks anew: the first answer is old */
    cr_assert(fetch(&b, &p));
    cr_assert_eq(sim_session_receive(&b.rig, b.now, p.bytes, p.len, &b.said, &reply), SIM_ANSWER);
    REFUSES(&b, old.bytes, old.len, bad_session);
    throw(&b, reply.bytes, reply.len);
    poll_link(&b, false);
    cr_assert_eq(pass_one(&b), SIM_STARTED);
    REFUSES(&b, reply.bytes, reply.len, bad_session);
}

/* Between the two sessions core stays in the old one, so that a stop pressed meanwhile reaches a rig that has not
 * changed over; one that has is stopped by that. */
Test(link, a_stop_during_a_new_hello_reaches_the_rig)
{
    struct bench b;
    struct packet confirm;
    connected(&b);
    b.now += SECOND;
    poll_link(&b, true);
    cr_assert_eq(pass_one(&b), SIM_ANSWER);
    poll_link(&b, true);
    cr_assert(fetch(&b, &confirm)); /* under way */
    report(&b);
    cr_assert(poll_link(&b, true) && !b.new_session, "still the old one");
    cr_assert(link_send_stop(&b.link, 2, REASON_STOP_OPERATOR));
    cr_assert_eq(pass_one(&b), SIM_STOP);
    cr_assert_eq(b.rig.stop_count, 2);
    cr_assert_eq(hand_over(&b, &confirm), SIM_STARTED);
    report(&b);
    cr_assert(poll_link(&b, false) && b.new_session);
    cr_assert_not(link_stop_confirmed(&b.link, 2), "the word of the old session");
    cr_assert(link_send_stop(&b.link, 2, REASON_STOP_OPERATOR));
    cr_assert_eq(pass_one(&b), SIM_STOP);
}

Test(link, telemetry_that_comes_back_ends_the_search)
{
    struct bench b;
    struct packet p;
    connected(&b);
    b.now += SECOND;
    report(&b);
    cr_assert(poll_link(&b, true));
    cr_assert_not(fetch(&b, &p), "no hello: telemetry came in this very call");
}

Test(link, a_rig_that_is_not_there_is_harmless)
{
    struct bench b;
    start(&b);
    struct sockaddr_in at;
    socklen_t len = sizeof at;
    getsockname(b.rig_fd, (struct sockaddr *)&at, &len);
    uint16_t port = ntohs(at.sin_port);
    shake_hands(&b, false);
    close(b.rig_fd);
    for (int i = 0; i < 50; i++, b.now += 20 * MS) {
        send_intent(&b);
        link_send_stop(&b.link, 2, REASON_STOP_OPERATOR);
        cr_assert_not(poll_link(&b, true));
    }
    send_intent(&b); /* to nobody: leaves an ICMP error behind */
    b.rig_fd = open_rig(&port);
    sim_session_init(&b.rig, rig_bench_master, (const uint8_t[SEAL_KEY]){6}, LEASE);
    /* The first send after the rig is back meets that error: it must still go out. */
    struct packet p;
    cr_assert(link_send_stop(&b.link, 3, REASON_STOP_OPERATOR));
    cr_assert(fetch(&b, &p));
    shake_hands(&b, true);
    send_intent(&b);
    cr_assert_eq(pass_one(&b), SIM_INTENT);
}

Test(link, an_old_error_does_not_hide_new_telemetry)
{
    struct bench b;
    struct sockaddr_in at;
    socklen_t len = sizeof at;
    connected(&b);
    getsockname(b.rig_fd, (struct sockaddr *)&at, &len);
    uint16_t port = ntohs(at.sin_port);
    close(b.rig_fd);
    send_intent(&b);
    b.rig_fd = open_rig(&port);
    report(&b);
    cr_assert(poll_link(&b, false));
}

Test(link, a_flood_is_read_a_little_at_a_time)
{
    struct bench b;
    uint8_t junk[64] = {0};
    connected(&b);
    for (int i = 0; i < 40; i++)
        throw(&b, junk, sizeof junk);
    poll_link(&b, false);
    cr_assert_eq(b.link.counts.bad_tag, 16);
    poll_link(&b, false);
    poll_link(&b, false);
    cr_assert_eq(b.link.counts.bad_tag, 40);
}

Test(link, faults_and_lapses_of_the_rig_are_reported)
{
    static const uint32_t flag[] = {0, WIRE_RIG_MOVING, WIRE_RIG_FAULT, WIRE_RIG_BRAKING, WIRE_RIG_LAPSED};
    struct bench b;
    connected(&b);
    for (size_t i = 0; i < 5; i++) {
        uint8_t buf[WIRE_MAX];
        struct wire_telemetry t = {.rig_ns = b.now, .flags = flag[i]};
        throw(&b, buf, sim_session_telemetry(&b.rig, &t, buf, sizeof buf));
        cr_assert(poll_link(&b, false));
        cr_assert_eq(b.report.fault, flag[i] == WIRE_RIG_FAULT || flag[i] == WIRE_RIG_LAPSED);
    }
}
