/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A rig's side of the link and a hand-made core on the other. */
#ifndef STEADYHAND_TESTS_SESSION_BENCH_H
#define STEADYHAND_TESTS_SESSION_BENCH_H

#include <criterion/criterion.h>
#include <string.h>

#include "tests/unit/rig/rig_bench.h"

#define LEASE (300 * MS)

struct bench {
    struct sim_session rig;
    struct rig_core core;
    struct wire_message said;
    struct sim_reply reply;
    uint64_t now;
};

static inline void start(struct bench *b)
{
    static const uint8_t nonce_key[SEAL_KEY] = {5};
    memset(b, 0, sizeof *b);
    b->now = SECOND;
    rig_core_init(&b->core);
    sim_session_init(&b->rig, rig_bench_master, nonce_key, LEASE);
}

static inline enum sim_verdict give(struct bench *b, const struct wire_message *m)
{
    uint8_t buf[WIRE_MAX];
    size_t len = rig_core_seal(&b->core, m, buf);
    return sim_session_receive(&b->rig, b->now, buf, len, &b->said, &b->reply);
}

static inline struct wire_challenge hello(struct bench *b)
{
    struct wire_message m = {.type = WIRE_HELLO, .body.hello.core_nonce = {7, 7}}, answer;
    cr_assert_eq(give(b, &m), SIM_ANSWER);
    cr_assert(seal_check(b->core.keys.to_core, b->reply.bytes, b->reply.len));
    cr_assert(wire_decode(b->reply.bytes, b->reply.len, &answer));
    cr_assert_eq(answer.type, WIRE_CHALLENGE);
    cr_assert_eq(memcmp(answer.body.challenge.core_nonce, m.body.hello.core_nonce, WIRE_NONCE), 0);
    return answer.body.challenge;
}

static inline struct wire_message confirm_of(struct bench *b, const struct wire_challenge *c)
{
    struct wire_message m = {.type = WIRE_CONFIRM, .session = c->session, .seq = ++b->core.seq};
    memcpy(m.body.confirm.rig_nonce, c->rig_nonce, WIRE_NONCE);
    return m;
}

static inline void connect_up(struct bench *b)
{
    struct wire_challenge c = hello(b);
    struct wire_message m = confirm_of(b, &c);
    cr_assert_eq(give(b, &m), SIM_STARTED);
    b->core.session = c.session;
}

static inline void connected(struct bench *b)
{
    start(b);
    connect_up(b);
}

static inline struct wire_message intent(struct bench *b)
{
    return rig_core_intent(&b->core, true, (struct vec3){0.1, 0, 0}, 1, 1, b->now + LEASE);
}

/* Nothing but that one counter has changed. */
static inline void expect_refused(struct bench *b, const struct sim_session *before, enum sim_verdict verdict,
                                  uint32_t *counter)
{
    struct sim_session after = b->rig;
    cr_assert_eq(verdict, SIM_REFUSED);
    cr_assert_eq(b->reply.len, 0);
    size_t at = (size_t)((const uint8_t *)counter - (const uint8_t *)&b->rig);
    uint32_t *copy = (uint32_t *)((uint8_t *)&after + at);
    *copy -= 1;
    cr_assert_eq(memcmp(&after, before, sizeof after), 0);
}

#define REFUSES(b, m, counter)                                                                                         \
    do {                                                                                                               \
        struct sim_session before_ = (b)->rig;                                                                         \
        enum sim_verdict verdict_ = give(b, m);                                                                        \
        expect_refused(b, &before_, verdict_, &(b)->rig.refused.counter);                                              \
    } while (0)

#endif
