/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What core's end of the link does. What it refuses: test_link_refusals.c. */
#include <arpa/inet.h>
#include <criterion/criterion.h>
#include <errno.h>
#include <sys/socket.h>
#include <unistd.h>

#include "tests/unit/rig/link_bench.h"

Test(link, opens_only_to_an_address)
{
    struct link link;
    cr_assert_eq(link_open(&link, "localhost", 1, rig_bench_master, NULL), -EINVAL);
    cr_assert_eq(link_open(&link, "", 1, rig_bench_master, NULL), -EINVAL);
}

Test(link, a_session_begins_with_the_first_telemetry_under_it)
{
    struct link_bench b;
    link_bench_start(&b);
    cr_assert_not(link_bench_poll(&b, false));
    cr_assert_eq(link_bench_pass_one(&b), SIM_ANSWER);
    cr_assert_not(link_bench_poll(&b, false));
    cr_assert_not(b.new_session);
    cr_assert_eq(link_bench_pass_one(&b), SIM_STARTED);
    cr_assert_not(b.report.ever);
    link_bench_report(&b);
    cr_assert(link_bench_poll(&b, false));
    cr_assert(b.new_session);
    cr_assert(b.report.ever);
    cr_assert_eq(b.report.received_ns, b.now);
    cr_assert_eq(b.report.position.y, 2);
    cr_assert_eq(b.report.uncertainty_m, 0.25);
    cr_assert_not(link_bench_poll(&b, false));
    cr_assert_not(b.new_session);
}

Test(link, asks_again_four_times_a_second_until_it_is_answered)
{
    struct link_bench b;
    struct link_packet p;
    link_bench_start(&b);
    int hellos = 0;
    for (int ms = 0; ms < 1000; ms += 10, b.now += 10 * MS) {
        link_bench_poll(&b, true);
        while (recv(b.rig_fd, p.bytes, sizeof p.bytes, MSG_DONTWAIT) > 0)
            hellos++;
    }
    cr_assert_eq(hellos, 4);
}

Test(link, without_a_session_nothing_is_sent)
{
    struct link_bench b;
    struct link_packet p;
    link_bench_start(&b);
    link_bench_send_intent(&b);
    cr_assert_not(link_send_stop(&b.link, 2, REASON_STOP_OPERATOR, STOP_CATEGORY_2));
    cr_assert_not(link_stop_confirmed(&b.link, 1));
    cr_assert_not(link_bench_fetch(&b, &p));
}

Test(link, an_intent_arrives_as_it_was_meant)
{
    struct link_bench b;
    link_bench_connected(&b);
    b.now += 40 * MS; /* since the telemetry */
    link_bench_send_intent(&b);
    cr_assert_eq(link_bench_pass_one(&b), SIM_INTENT);
    const struct wire_intent *i = &b.said.body.intent;
    cr_assert_eq(i->expires_rig_ns, b.now + RIG_AHEAD + LEASE);
    cr_assert(i->motion == 1 && i->power == 1 && i->category == 2);
    cr_assert(i->stop_count == 1 && i->permit == 1 && i->velocity[0] == 0.2);
    cr_assert(i->cords == 2 && i->cord_rate[1] == -0.1f && i->cord_rate[2] == 0);
    cr_assert(i->cord_tension[0] == 12 && i->cord_tension[1] == 7.5f && i->cord_tension[2] == 0);
    cr_assert(i->head_rate[HEAD_PAN] == 0.25f && i->head_rate[HEAD_ZOOM] == -1);
    link_bench_poll(&b, false);
    cr_assert_eq(b.link.counts.sent_intents, 1);
}

/* Telemetry that took its time makes core's idea of the rig's clock older, never newer: the lease gets shorter. */
Test(link, slow_telemetry_shortens_the_lease)
{
    struct link_bench b;
    link_bench_connected(&b);
    struct link_packet p = link_bench_telemetry(&b);
    b.now += 100 * MS;
    link_bench_throw(&b, p.bytes, p.len);
    link_bench_poll(&b, false);
    link_bench_send_intent(&b);
    cr_assert_eq(link_bench_pass_one(&b), SIM_INTENT);
    cr_assert_eq(b.said.body.intent.expires_rig_ns, b.now + RIG_AHEAD + LEASE - 100 * MS);
}

Test(link, telemetry_that_took_longer_than_the_first_is_that_much_older)
{
    struct link_bench b;
    link_bench_connected(&b);
    struct link_packet p = link_bench_telemetry(&b);
    uint64_t measured = b.now;
    b.now += 100 * MS;
    link_bench_throw(&b, p.bytes, p.len);
    cr_assert(link_bench_poll(&b, false));
    cr_assert(b.report.received_ns >= measured && b.report.received_ns < measured + MS);
    cr_assert_eq(b.report.where.received_ns, b.report.received_ns);
}

Test(link, an_intent_that_is_not_finite_goes_out_without_motion)
{
    struct link_bench b;
    link_bench_connected(&b);
    struct intent i = link_bench_intent();
    i.velocity.y = (double)NAN;
    link_send_intent(&b.link, &i, LEASE, b.now);
    cr_assert_eq(link_bench_pass_one(&b), SIM_INTENT);
    cr_assert(b.said.body.intent.motion == 0 && b.said.body.intent.velocity[0] == 0);
    cr_assert(b.said.body.intent.stop_count == 1 && b.said.body.intent.power == 1);
    i = link_bench_intent();
    i.cords = 1 << 20;
    i.cord_rate_mps[7] = 1e300;
    link_send_intent(&b.link, &i, UINT64_MAX, b.now);
    cr_assert_eq(link_bench_pass_one(&b), SIM_INTENT);
    cr_assert_eq(b.said.body.intent.motion, 0);
    i = link_bench_intent();
    i.head_rate[HEAD_ROLL] = (double)INFINITY;
    link_send_intent(&b.link, &i, LEASE, b.now);
    cr_assert_eq(link_bench_pass_one(&b), SIM_INTENT);
    cr_assert(b.said.body.intent.motion == 0 && b.said.body.intent.head_rate[HEAD_PAN] == 0);
    link_bench_poll(&b, false);
    cr_assert_eq(b.link.counts.send_errors, 3);
}

Test(link, a_stop_is_confirmed_by_the_rigs_own_count)
{
    struct link_bench b;
    link_bench_connected(&b);
    cr_assert(link_send_stop(&b.link, 4, REASON_STOP_SPOTTER, STOP_CATEGORY_0));
    cr_assert_not(link_stop_confirmed(&b.link, 4));
    cr_assert_eq(link_bench_pass_one(&b), SIM_STOP);
    cr_assert(b.said.body.stop.reason == REASON_STOP_SPOTTER && b.said.body.stop.category == 0);
    link_bench_report(&b);
    link_bench_poll(&b, false);
    cr_assert(link_stop_confirmed(&b.link, 4));
    cr_assert_not(link_stop_confirmed(&b.link, 5));
    cr_assert_eq(b.link.counts.sent_stops, 1);
}

/* Between the two sessions core stays in the old one, so that a stop pressed meanwhile reaches a rig that has not
 * changed over; one that has is stopped by that. */
Test(link, a_stop_during_a_new_hello_reaches_the_rig)
{
    struct link_bench b;
    struct link_packet confirm;
    link_bench_connected(&b);
    b.now += SECOND;
    link_bench_poll(&b, true);
    cr_assert_eq(link_bench_pass_one(&b), SIM_ANSWER);
    link_bench_poll(&b, true);
    cr_assert(link_bench_fetch(&b, &confirm)); /* under way */
    link_bench_report(&b);
    cr_assert(link_bench_poll(&b, true) && !b.new_session, "still the old one");
    cr_assert(link_send_stop(&b.link, 2, REASON_STOP_OPERATOR, STOP_CATEGORY_2));
    cr_assert_eq(link_bench_pass_one(&b), SIM_STOP);
    cr_assert_eq(b.rig.stop_count, 2);
    cr_assert_eq(link_bench_hand_over(&b, &confirm), SIM_STARTED);
    link_bench_report(&b);
    cr_assert(link_bench_poll(&b, false) && b.new_session);
    cr_assert_not(link_stop_confirmed(&b.link, 2), "the word of the old session");
    cr_assert(link_send_stop(&b.link, 2, REASON_STOP_OPERATOR, STOP_CATEGORY_2));
    cr_assert_eq(link_bench_pass_one(&b), SIM_STOP);
}

Test(link, telemetry_that_comes_back_ends_the_search)
{
    struct link_bench b;
    struct link_packet p;
    link_bench_connected(&b);
    b.now += SECOND;
    link_bench_report(&b);
    cr_assert(link_bench_poll(&b, true));
    cr_assert_not(link_bench_fetch(&b, &p), "no hello: telemetry came in this very call");
}

Test(link, a_rig_that_is_not_there_is_harmless)
{
    struct link_bench b;
    link_bench_start(&b);
    struct sockaddr_in at;
    socklen_t len = sizeof at;
    getsockname(b.rig_fd, (struct sockaddr *)&at, &len);
    uint16_t port = ntohs(at.sin_port);
    link_bench_shake_hands(&b, false);
    close(b.rig_fd);
    for (int i = 0; i < 50; i++, b.now += 20 * MS) {
        link_bench_send_intent(&b);
        link_send_stop(&b.link, 2, REASON_STOP_OPERATOR, STOP_CATEGORY_2);
        cr_assert_not(link_bench_poll(&b, true));
    }
    link_bench_send_intent(&b); /* to nobody: leaves an ICMP error behind */
    b.rig_fd = link_bench_open_rig(&port);
    sim_session_init(&b.rig, rig_bench_master, (const uint8_t[SEAL_KEY]){6}, LEASE);
    /* The first send after the rig is back meets that error: it must still go out. */
    struct link_packet p;
    cr_assert(link_send_stop(&b.link, 3, REASON_STOP_OPERATOR, STOP_CATEGORY_2));
    cr_assert(link_bench_fetch(&b, &p));
    link_bench_shake_hands(&b, true);
    link_bench_send_intent(&b);
    cr_assert_eq(link_bench_pass_one(&b), SIM_INTENT);
}

Test(link, an_old_error_does_not_hide_new_telemetry)
{
    struct link_bench b;
    struct sockaddr_in at;
    socklen_t len = sizeof at;
    link_bench_connected(&b);
    getsockname(b.rig_fd, (struct sockaddr *)&at, &len);
    uint16_t port = ntohs(at.sin_port);
    close(b.rig_fd);
    link_bench_send_intent(&b);
    b.rig_fd = link_bench_open_rig(&port);
    link_bench_report(&b);
    cr_assert(link_bench_poll(&b, false));
}

Test(link, a_flood_is_read_a_little_at_a_time)
{
    struct link_bench b;
    uint8_t junk[64] = {0};
    link_bench_connected(&b);
    for (int i = 0; i < 40; i++)
        link_bench_throw(&b, junk, sizeof junk);
    link_bench_poll(&b, false);
    cr_assert_eq(b.link.counts.bad_tag, 16);
    link_bench_poll(&b, false);
    link_bench_poll(&b, false);
    cr_assert_eq(b.link.counts.bad_tag, 40);
}

Test(link, faults_and_lapses_of_the_rig_are_reported)
{
    static const uint32_t flag[] = {0, WIRE_RIG_MOVING, WIRE_RIG_FAULT, WIRE_RIG_BRAKING, WIRE_RIG_LAPSED};
    struct link_bench b;
    link_bench_connected(&b);
    for (size_t i = 0; i < 5; i++) {
        uint8_t buf[WIRE_MAX];
        struct wire_telemetry t = {.rig_ns = b.now, .flags = flag[i]};
        link_bench_throw(&b, buf, sim_session_telemetry(&b.rig, &t, buf, sizeof buf));
        cr_assert(link_bench_poll(&b, false));
        cr_assert_eq(b.report.fault, flag[i] == WIRE_RIG_FAULT || flag[i] == WIRE_RIG_LAPSED);
    }
}
