/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The rig's side of the link: whatever is replayed, reordered, late, truncated, forged, of an old session or reflected
 * changes nothing and is counted. */
#include "session_bench.h"

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
