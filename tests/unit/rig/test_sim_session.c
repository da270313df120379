/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The rig's side of the link: whatever is replayed, reordered, late, truncated, forged, of an old session or reflected
 * changes nothing and is counted. */
#include <criterion/criterion.h>
#include <sodium.h>
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

static void start(struct bench *b)
{
    static const uint8_t nonce_key[SEAL_KEY] = {5};
    memset(b, 0, sizeof *b);
    b->now = SECOND;
    rig_core_init(&b->core);
    sim_session_init(&b->rig, rig_bench_master, nonce_key, LEASE);
}

static enum sim_verdict give(struct bench *b, const struct wire_message *m)
{
    uint8_t buf[WIRE_MAX];
    size_t len = rig_core_seal(&b->core, m, buf);
    return sim_session_receive(&b->rig, b->now, buf, len, &b->said, &b->reply);
}

static struct wire_challenge hello(struct bench *b)
{
    struct wire_message m = {.type = WIRE_HELLO, .body.hello.core_nonce = {7, 7}}, answer;
    cr_assert_eq(give(b, &m), SIM_ANSWER);
    cr_assert(seal_check(b->core.keys.to_core, b->reply.bytes, b->reply.len));
    cr_assert(wire_decode(b->reply.bytes, b->reply.len, &answer));
    cr_assert_eq(answer.type, WIRE_CHALLENGE);
    cr_assert_eq(memcmp(answer.body.challenge.core_nonce, m.body.hello.core_nonce, WIRE_NONCE), 0);
    return answer.body.challenge;
}

static struct wire_message confirm_of(struct bench *b, const struct wire_challenge *c)
{
    struct wire_message m = {.type = WIRE_CONFIRM, .session = c->session, .seq = ++b->core.seq};
    memcpy(m.body.confirm.rig_nonce, c->rig_nonce, WIRE_NONCE);
    return m;
}

static void connect_up(struct bench *b)
{
    struct wire_challenge c = hello(b);
    struct wire_message m = confirm_of(b, &c);
    cr_assert_eq(give(b, &m), SIM_STARTED);
    b->core.session = c.session;
}

static void connected(struct bench *b)
{
    start(b);
    connect_up(b);
}

static struct wire_message intent(struct bench *b)
{
    return rig_core_intent(&b->core, true, (struct vec3){0.1, 0, 0}, 1, 1, b->now + LEASE);
}

/* Nothing but that one counter has changed. */
static void expect_refused(struct bench *b, const struct sim_session *before, enum sim_verdict verdict,
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

Test(session, a_hello_a_challenge_and_a_confirm_begin_one_stopped)
{
    struct bench b;
    connected(&b);
    cr_assert_eq(b.rig.id, b.core.session);
    cr_assert_eq(b.rig.stop_count, 1);
}

Test(session, nothing_is_accepted_before_one)
{
    struct bench b;
    start(&b);
    b.core.session = 1;
    struct wire_message i = intent(&b), s = rig_core_stop(&b.core, 5);
    REFUSES(&b, &i, session);
    REFUSES(&b, &s, session);
}

Test(session, a_confirm_with_the_wrong_nonce_or_session_begins_none)
{
    struct bench b;
    start(&b);
    struct wire_challenge c = hello(&b), wrong = c;
    wrong.rig_nonce[0] ^= 1;
    struct wire_message m = confirm_of(&b, &wrong);
    REFUSES(&b, &m, session);
    wrong = c;
    wrong.session ^= 1;
    m = confirm_of(&b, &wrong);
    REFUSES(&b, &m, session);
    m = confirm_of(&b, &c);
    cr_assert_eq(give(&b, &m), SIM_STARTED);
}

Test(session, a_replayed_hello_neither_ends_a_session_nor_pushes_a_hello_aside)
{
    struct bench b;
    connected(&b);
    uint64_t id = b.rig.id;
    struct wire_challenge first = hello(&b);
    for (int i = 0; i < 100; i++) {
        struct wire_challenge again = hello(&b);
        cr_assert_eq(memcmp(&again, &first, sizeof first), 0);
    }
    cr_assert_eq(b.rig.id, id);
    struct wire_message i = intent(&b);
    cr_assert_eq(give(&b, &i), SIM_INTENT);
    struct wire_message m = confirm_of(&b, &first);
    cr_assert_eq(give(&b, &m), SIM_STARTED);
    cr_assert_neq(b.rig.id, id);
}

Test(session, a_replayed_confirm_begins_none)
{
    struct bench b;
    start(&b);
    struct wire_challenge c = hello(&b);
    struct wire_message m = confirm_of(&b, &c);
    cr_assert_eq(give(&b, &m), SIM_STARTED);
    REFUSES(&b, &m, session);
    struct wire_challenge next = hello(&b);
    cr_assert_neq(next.session, c.session);
    cr_assert_neq(memcmp(next.rig_nonce, c.rig_nonce, WIRE_NONCE), 0);
    REFUSES(&b, &m, session);
}

Test(session, an_intent_is_taken_once)
{
    struct bench b;
    connected(&b);
    struct wire_message m = intent(&b);
    cr_assert_eq(give(&b, &m), SIM_INTENT);
    REFUSES(&b, &m, seq);
}

Test(session, a_reordered_intent_is_refused)
{
    struct bench b;
    connected(&b);
    struct wire_message first = intent(&b), second = intent(&b);
    cr_assert_eq(give(&b, &second), SIM_INTENT);
    REFUSES(&b, &first, seq);
}

Test(session, a_late_intent_is_refused)
{
    struct bench b;
    connected(&b);
    struct wire_message m = intent(&b);
    m.body.intent.stop_count = 9;
    b.now += LEASE;
    REFUSES(&b, &m, late);
    b.now--;
    cr_assert_eq(give(&b, &m), SIM_INTENT);
}

Test(session, no_intent_lives_longer_than_two_leases)
{
    struct bench b;
    connected(&b);
    struct wire_message m = intent(&b);
    m.body.intent.expires_rig_ns = UINT64_MAX;
    cr_assert_eq(give(&b, &m), SIM_INTENT);
    cr_assert_eq(b.said.body.intent.expires_rig_ns, b.now + 2 * LEASE);
}

Test(session, a_forged_or_truncated_datagram_is_refused)
{
    struct bench b;
    connected(&b);
    uint8_t buf[WIRE_MAX + 1] = {0};
    struct wire_message m = intent(&b);
    size_t len = rig_core_seal(&b.core, &m, buf);
    for (size_t at = 0; at < len; at++) {
        struct sim_session before = b.rig;
        buf[at] ^= 0x10;
        expect_refused(&b, &before, sim_session_receive(&b.rig, b.now, buf, len, &b.said, &b.reply),
                       &b.rig.refused.tag);
        buf[at] ^= 0x10;
    }
    for (size_t cut = 0; cut <= sizeof buf; cut++) {
        struct sim_session before = b.rig;
        if (cut != len)
            expect_refused(&b, &before, sim_session_receive(&b.rig, b.now, buf, cut, &b.said, &b.reply),
                           &b.rig.refused.tag);
    }
    cr_assert_eq(sim_session_receive(&b.rig, b.now, buf, len, &b.said, &b.reply), SIM_INTENT);
}

Test(session, genuine_bytes_that_are_no_message_are_refused)
{
    struct bench b;
    connected(&b);
    uint8_t buf[WIRE_MAX];
    struct wire_message m = intent(&b);
    for (size_t at = 0; at < 8; at++) {
        size_t len = rig_core_seal(&b.core, &m, buf);
        buf[at] ^= 0x40;
        seal_write(b.core.keys.to_rig, buf, len);
        struct sim_session before = b.rig;
        expect_refused(&b, &before, sim_session_receive(&b.rig, b.now, buf, len, &b.said, &b.reply),
                       &b.rig.refused.form);
    }
}

Test(session, the_rigs_own_datagrams_sent_back_are_refused)
{
    struct bench b;
    connected(&b);
    uint8_t buf[WIRE_MAX];
    struct wire_telemetry t = {.rig_ns = b.now};
    size_t len = sim_session_telemetry(&b.rig, &t, buf, sizeof buf);
    cr_assert_gt(len, 0);
    struct sim_session before = b.rig;
    expect_refused(&b, &before, sim_session_receive(&b.rig, b.now, buf, len, &b.said, &b.reply), &b.rig.refused.tag);
    hello(&b);
    struct sim_reply challenge = b.reply;
    before = b.rig;
    expect_refused(&b, &before, sim_session_receive(&b.rig, b.now, challenge.bytes, challenge.len, &b.said, &b.reply),
                   &b.rig.refused.tag);
}

/* Even with the right key, a rig's words are not a core's. */
Test(session, a_message_of_the_other_direction_is_refused)
{
    struct bench b;
    connected(&b);
    struct wire_message t = {.type = WIRE_TELEMETRY, .session = b.core.session, .seq = 100};
    struct wire_message c = {.type = WIRE_CHALLENGE, .body.challenge.session = 3};
    REFUSES(&b, &t, form);
    REFUSES(&b, &c, form);
}

Test(session, datagrams_of_the_session_before_are_refused)
{
    struct bench b;
    connected(&b);
    struct wire_message old_intent = intent(&b), old_stop = rig_core_stop(&b.core, 9);
    connect_up(&b);
    REFUSES(&b, &old_intent, session);
    REFUSES(&b, &old_stop, session);
    cr_assert_eq(b.rig.stop_count, 1);
}

Test(session, a_new_session_starts_its_sequence_anew_and_stopped)
{
    struct bench b;
    connected(&b);
    struct wire_message s = rig_core_stop(&b.core, 9), i = intent(&b);
    i.seq = 1000;
    cr_assert_eq(give(&b, &s), SIM_STOP);
    cr_assert_eq(give(&b, &i), SIM_INTENT);
    connect_up(&b);
    cr_assert_eq(b.rig.stop_count, 1);
    b.core.seq = 0;
    i = intent(&b);
    cr_assert_eq(give(&b, &i), SIM_INTENT);
}

Test(session, a_stop_is_taken_although_a_later_intent_came_first)
{
    struct bench b;
    connected(&b);
    struct wire_message stop = rig_core_stop(&b.core, 2), i = intent(&b);
    cr_assert_eq(give(&b, &i), SIM_INTENT);
    cr_assert_eq(give(&b, &stop), SIM_STOP);
    cr_assert_eq(b.rig.stop_count, 2);
}

Test(session, a_higher_stop_is_taken_although_a_later_stop_came_first)
{
    struct bench b;
    connected(&b);
    struct wire_message higher = rig_core_stop(&b.core, 3), lower = rig_core_stop(&b.core, 2);
    cr_assert_eq(give(&b, &lower), SIM_STOP);
    cr_assert_eq(give(&b, &higher), SIM_STOP);
    cr_assert_eq(b.rig.stop_count, 3);
}

Test(session, a_stop_repeated_by_core_is_taken_and_a_replayed_one_counted)
{
    struct bench b;
    connected(&b);
    struct wire_message stop = rig_core_stop(&b.core, 2), repeat = rig_core_stop(&b.core, 2);
    cr_assert_eq(give(&b, &stop), SIM_STOP);
    REFUSES(&b, &stop, seq);
    cr_assert_eq(give(&b, &repeat), SIM_STOP);
    REFUSES(&b, &repeat, seq);
    REFUSES(&b, &stop, seq);
}

Test(session, a_stop_does_not_overtake_the_intents_behind_it)
{
    struct bench b;
    connected(&b);
    struct wire_message i = intent(&b), stop = rig_core_stop(&b.core, 2);
    cr_assert_eq(give(&b, &stop), SIM_STOP);
    cr_assert_eq(give(&b, &i), SIM_INTENT); /* its permit is void: see the controller's tests */
    cr_assert_eq(b.rig.stop_count, 2);
}

Test(session, the_highest_stop_count_is_kept)
{
    struct bench b;
    connected(&b);
    struct wire_message i = intent(&b);
    i.body.intent.stop_count = 7;
    cr_assert_eq(give(&b, &i), SIM_INTENT);
    cr_assert_eq(b.rig.stop_count, 7);
    i = intent(&b);
    i.body.intent.stop_count = 3;
    cr_assert_eq(give(&b, &i), SIM_INTENT);
    cr_assert_eq(b.rig.stop_count, 7);
    struct wire_message s = rig_core_stop(&b.core, 5);
    cr_assert_eq(give(&b, &s), SIM_STOP);
    cr_assert_eq(b.rig.stop_count, 7);
}

Test(session, telemetry_carries_the_session_s_own_part)
{
    struct bench b;
    uint8_t buf[WIRE_MAX];
    struct wire_message back, s;
    struct wire_telemetry t = {.rig_ns = 5, .stop_count = 1234};
    start(&b);
    cr_assert_eq(sim_session_telemetry(&b.rig, &t, buf, sizeof buf), 0);
    connect_up(&b);
    s = rig_core_stop(&b.core, 4);
    cr_assert_eq(give(&b, &s), SIM_STOP);
    REFUSES(&b, &s, seq);
    for (uint64_t nth = 1; nth <= 3; nth++) {
        size_t len = sim_session_telemetry(&b.rig, &t, buf, sizeof buf);
        cr_assert(seal_check(b.core.keys.to_core, buf, len) && wire_decode(buf, len, &back));
        cr_assert_eq(back.seq, nth);
        cr_assert_eq(back.body.telemetry.stop_count, 4);
        cr_assert_eq(back.body.telemetry.refused_seq, 1);
    }
}

/* ---- one core ---- */

static struct wire_challenge hello_from(struct bench *b, bool elsewhere)
{
    b->rig.elsewhere = elsewhere;
    return hello(b);
}

static bool offers_none(const struct wire_challenge *c)
{
    return sodium_is_zero(c->rig_nonce, WIRE_NONCE);
}

Test(session, a_second_core_gets_nothing_while_the_first_one_lives)
{
    struct bench b;
    connected(&b);
    for (int ticks = 0; ticks < 100; ticks++) {
        struct wire_message i = intent(&b);
        b.rig.elsewhere = false;
        cr_assert_eq(give(&b, &i), SIM_INTENT);
        b.now += 10 * MS;
        struct wire_challenge c = hello_from(&b, true);
        cr_assert(offers_none(&c));
        cr_assert_eq(c.session, b.core.session, "and is told which session the rig is in");
    }
    b.now += LEASE;
    struct wire_challenge c = hello_from(&b, true);
    cr_assert(!offers_none(&c) && c.session != b.core.session);
    struct wire_message m = confirm_of(&b, &c), late = intent(&b);
    cr_assert_eq(give(&b, &m), SIM_STARTED);
    REFUSES(&b, &late, session); /* the first one comes round, and is no longer heard */
    c = hello_from(&b, true);
    cr_assert(offers_none(&c), "one that has just begun keeps it too");
}

Test(session, an_offer_is_void_when_the_first_core_comes_round_before_it_is_taken_up)
{
    struct bench b;
    connected(&b);
    b.now += 3 * LEASE;
    struct wire_challenge c = hello_from(&b, true);
    cr_assert_not(offers_none(&c));
    struct wire_message i = intent(&b), m = confirm_of(&b, &c);
    b.rig.elsewhere = false;
    cr_assert_eq(give(&b, &i), SIM_INTENT);
    b.rig.elsewhere = true;
    REFUSES(&b, &m, session);
    cr_assert_eq(b.rig.id, b.core.session);
}

/* It has lost its telemetry, or was started again at once on the same port. */
Test(session, the_same_core_may_begin_anew_at_any_time)
{
    struct bench b;
    connected(&b);
    struct wire_message i = intent(&b);
    cr_assert_eq(give(&b, &i), SIM_INTENT);
    struct wire_challenge c = hello_from(&b, false);
    struct wire_message m = confirm_of(&b, &c);
    cr_assert_eq(give(&b, &m), SIM_STARTED);
}
