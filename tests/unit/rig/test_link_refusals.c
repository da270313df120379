/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What core's end of the link refuses: it is counted and changes nothing else. */
#include <criterion/criterion.h>
#include <string.h>

#include "tests/unit/rig/link_bench.h"

#define REFUSES(b, bytes, len, counter)                                                                                \
    do {                                                                                                               \
        struct link_counts counts_ = (b)->link.counts;                                                                 \
        struct rig_report report_ = (b)->report;                                                                       \
        link_bench_throw(b, bytes, len);                                                                               \
        cr_assert_not(link_bench_poll(b, false));                                                                      \
        cr_assert_eq((b)->link.counts.counter, counts_.counter + 1);                                                   \
        (b)->link.counts.counter--;                                                                                    \
        cr_assert_eq(memcmp(&(b)->link.counts, &counts_, sizeof counts_), 0);                                          \
        cr_assert_eq(memcmp(&(b)->report, &report_, sizeof report_), 0);                                               \
        cr_assert_not((b)->new_session);                                                                               \
    } while (0)

Test(link, replayed_and_reordered_telemetry_is_refused)
{
    struct link_bench b;
    link_bench_connected(&b);
    struct link_packet first = link_bench_telemetry(&b), second = link_bench_telemetry(&b);
    link_bench_throw(&b, second.bytes, second.len);
    cr_assert(link_bench_poll(&b, false));
    REFUSES(&b, second.bytes, second.len, bad_seq);
    REFUSES(&b, first.bytes, first.len, bad_seq);
}

Test(link, forged_and_truncated_telemetry_is_refused)
{
    struct link_bench b;
    link_bench_connected(&b);
    struct link_packet p = link_bench_telemetry(&b);
    for (size_t at = 0; at < p.len; at++) {
        p.bytes[at] ^= 4;
        REFUSES(&b, p.bytes, p.len, bad_tag);
        p.bytes[at] ^= 4;
    }
    for (size_t cut = 0; cut < p.len; cut++)
        REFUSES(&b, p.bytes, cut, bad_tag);
    link_bench_throw(&b, p.bytes, p.len);
    cr_assert(link_bench_poll(&b, false));
}

Test(link, genuine_bytes_that_are_no_message_are_refused)
{
    struct link_bench b;
    link_bench_connected(&b);
    struct link_packet p = link_bench_telemetry(&b);
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
    struct link_bench b;
    struct link_packet p;
    link_bench_connected(&b);
    link_bench_send_intent(&b);
    cr_assert(link_bench_fetch(&b, &p));
    REFUSES(&b, p.bytes, p.len, bad_tag);
    link_send_stop(&b.link, 3, REASON_STOP_OPERATOR, STOP_CATEGORY_2);
    link_bench_poll(&b, false);
    cr_assert(link_bench_fetch(&b, &p));
    REFUSES(&b, p.bytes, p.len, bad_tag);
}

Test(link, telemetry_of_the_session_before_is_refused)
{
    struct link_bench b;
    link_bench_connected(&b);
    struct link_packet old = link_bench_telemetry(&b);
    link_bench_shake_hands(&b, true);
    REFUSES(&b, old.bytes, old.len, bad_session);
}

Test(link, a_challenge_nobody_asked_for_is_refused)
{
    struct link_bench b;
    struct link_packet p;
    struct sim_reply old, reply;
    link_bench_connected(&b);
    b.now += SECOND;
    link_bench_poll(&b, true);
    cr_assert(link_bench_fetch(&b, &p));
    cr_assert_eq(sim_session_receive(&b.rig, b.now, p.bytes, p.len, &b.said, &old), SIM_ANSWER);
    b.now += SECOND;
    link_bench_poll(&b, true); /* asks anew: the first answer is old */
    cr_assert(link_bench_fetch(&b, &p));
    cr_assert_eq(sim_session_receive(&b.rig, b.now, p.bytes, p.len, &b.said, &reply), SIM_ANSWER);
    REFUSES(&b, old.bytes, old.len, bad_session);
    link_bench_throw(&b, reply.bytes, reply.len);
    link_bench_poll(&b, false);
    cr_assert_eq(link_bench_pass_one(&b), SIM_STARTED);
    REFUSES(&b, reply.bytes, reply.len, bad_session);
}
