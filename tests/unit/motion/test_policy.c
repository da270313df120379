/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/policy.h"

#include <criterion/criterion.h>
#include <string.h>

#include "tests/unit/motion/rooms.h"

enum { TICK_NS = 10000000 };

/* A desk, a rig that obeys at once, and a policy between them. */
struct bench {
    struct policy_config cfg;
    struct policy policy;
    struct policy_input in;
    struct policy_output out;
    bool silent; /* no new telemetry */
};

static void step(struct bench *b)
{
    b->in.now_ns += TICK_NS;
    b->in.presence_ns = b->in.presence_ns ? b->in.now_ns : 0;
    if (!b->silent) {
        b->in.rig.position = vec_along(b->in.rig.position, b->out.intent.velocity, 0.01);
        b->in.rig.received_ns = b->in.now_ns;
        b->in.rig.seq++;
    }
    policy_step(&b->cfg, &b->policy, &b->in, &b->out);
    b->in.stop.event = STOP_EVENT_NONE;
}

static void act(struct bench *b, enum stop_event event)
{
    b->in.stop.event = event;
    step(b);
}

/* For as long as it takes to see that it stands still. */
static void rest(struct bench *b)
{
    for (int i = 0; i < 100; i++)
        step(b);
    cr_assert(b->out.at_rest);
}

static struct bench bench_still(void)
{
    struct bench b = {.cfg = rooms_plain()};
    policy_init(&b.cfg, &b.policy);
    b.in =
        (struct policy_input){.now_ns = 1000000000, .presence_ns = 1, .rig = {.ever = true, .position = rooms_middle}};
    b.in.lanes.operator_holds = true;
    b.in.lanes.operator_wish = (struct wish){WISH_VELOCITY, 0, {1, 0, 0}};
    return b;
}

static struct bench bench_running(void)
{
    struct bench b = bench_still();
    rest(&b);
    act(&b, STOP_EVENT_ARM);
    act(&b, STOP_EVENT_GO);
    for (int i = 0; i < 200; i++)
        step(&b);
    cr_assert(b.out.intent.motion && b.out.stop_state == STOP_RUNNING);
    cr_assert_float_eq(b.out.intent.velocity.x, 0.4, 1e-9);
    return b;
}

static bool has(const struct bench *b, enum reason r)
{
    return (b->out.reasons & reason_bit(r)) != 0;
}

/* It must stop in this tick for this reason: latched, braking along the last velocity, not allowed to move. */
static void stopped_by(struct bench *b, enum reason r)
{
    double before = b->out.intent.velocity.x;
    step(b);
    cr_assert(has(b, r) || r < REASON_RIG_LOST, "%s", reason_code(r)); /* people stop once, conditions last */
    cr_assert(!b->out.intent.motion && b->out.stop_state == STOP_LATCHED, "%s", reason_code(r));
    cr_assert_eq(b->out.stop_reason, r, "%s", reason_code(b->out.stop_reason));
    cr_assert_float_eq(b->out.intent.velocity.x, before - 0.006, 1e-9, "%s", reason_code(r));
    cr_assert_lt(b->out.intent.permit, b->out.intent.stop_count);
}

Test(policy, starts_parked_and_takes_arm_and_go)
{
    struct bench b = bench_still();
    step(&b);
    cr_assert(!b.out.intent.motion && !b.out.intent.power && b.out.stop_reason == REASON_STARTED_UP);
    act(&b, STOP_EVENT_GO);
    cr_assert(b.out.stop_state == STOP_PARKED && b.out.stop_answer == STOP_OUT_OF_TURN);
    act(&b, STOP_EVENT_ARM);
    cr_assert(b.out.stop_state == STOP_PARKED && b.out.stop_answer == STOP_MOVING, "that it rests is not known yet");
    rest(&b);
    act(&b, STOP_EVENT_ARM);
    cr_assert(!b.out.intent.motion && b.out.intent.power && b.out.stop_state == STOP_ARMED);
    cr_assert(b.out.stop_reason == REASON_AWAIT_GO && b.out.stop_answer == STOP_DONE);
    cr_assert_eq(vec_norm(b.out.intent.velocity), 0);
    act(&b, STOP_EVENT_GO);
    cr_assert(b.out.intent.motion && b.out.intent.permit == b.out.intent.stop_count && b.out.intent.velocity.x > 0);
    cr_assert(b.out.lane == LANE_OPERATOR && b.out.wanted.x > 0.39);
}

Test(policy, sends_the_cord_rates_of_its_velocity)
{
    struct bench b = bench_running();
    double rate[VOLUME_MAX_CORDS];
    cords_rates(&b.cfg.guard.volume.outline, b.in.rig.position, b.out.intent.velocity, rate);
    cr_assert_eq(b.out.intent.cords, 4);
    for (int i = 0; i < 4; i++)
        cr_assert_float_eq(b.out.intent.cord_rate_mps[i], rate[i], 1e-12);
    cr_assert_lt(rate[1], 0, "moving right takes in the right cords");
}

Test(policy, a_person_stops_it)
{
    struct bench b = bench_running();
    b.in.stop.asked = 1;
    b.in.stop.asked_why = REASON_STOP_SPOTTER;
    b.in.stop.event = STOP_EVENT_GO;
    stopped_by(&b, REASON_STOP_SPOTTER);
    for (int i = 0; i < 100; i++)
        step(&b);
    cr_assert_eq(vec_norm(b.out.intent.velocity), 0);
}

Test(policy, late_telemetry_stops_it)
{
    struct bench b = bench_running();
    b.silent = true;
    for (int i = 0; i < 25; i++) {
        step(&b);
        cr_assert(b.out.intent.motion, "%d ms old is not late", 10 * (i + 1));
    }
    double before = b.out.intent.velocity.x;
    step(&b);
    cr_assert(!b.out.intent.motion && b.out.stop_reason == REASON_RIG_LOST && b.out.intent.velocity.x < before);
    b.silent = false;
    step(&b);
    cr_assert(!has(&b, REASON_RIG_LOST) && !b.out.intent.motion, "it is back, and stays stopped");
}

Test(policy, frozen_telemetry_is_late_telemetry)
{
    struct bench b = bench_running();
    b.silent = true;
    for (int i = 0; i < 30; i++) {
        b.in.rig.received_ns = b.in.now_ns + TICK_NS; /* arrives, but says nothing new */
        step(&b);
    }
    cr_assert(!b.out.intent.motion && b.out.stop_reason == REASON_RIG_LOST);
}

Test(policy, telemetry_may_begin_anew_after_it_was_lost)
{
    struct bench b = bench_running();
    b.in.rig.seq = 0; /* a rig that restarted: counts from 1, which looks frozen, until it counts as lost */
    for (int i = 0; i < 26; i++)
        step(&b);
    cr_assert_eq(b.out.stop_reason, REASON_RIG_LOST);
    step(&b);
    cr_assert_not(has(&b, REASON_RIG_LOST));
}

Test(policy, a_fault_of_the_rig_stops_it)
{
    struct bench b = bench_running();
    b.in.rig.fault = true;
    stopped_by(&b, REASON_RIG_FAULT);
    act(&b, STOP_EVENT_RESET);
    cr_assert_eq(b.out.stop_state, STOP_LATCHED, "no reset while it lasts");
}

Test(policy, a_position_that_cannot_be_stops_it)
{
    const struct vec3 nowhere[] = {{(double)NAN, 2, 2}, {4, (double)INFINITY, 2}, {4, 2, 1e300}, {4, 2, 9}, {7, 2, 2}};
    for (size_t i = 0; i < sizeof nowhere / sizeof *nowhere; i++) {
        struct bench b = bench_running();
        b.in.rig.position = nowhere[i];
        stopped_by(&b, REASON_POSITION_BAD);
        b.silent = true;
        step(&b);
        cr_assert(has(&b, REASON_POSITION_BAD), "as long as it is the newest");
    }
    for (int i = 0; i < 6; i++) {
        static const double bad[] = {(double)NAN, (double)INFINITY, -1};
        struct bench b = bench_running();
        *(i < 3 ? &b.in.rig.uncertainty_m : &b.in.rig.swing_rad) = bad[i % 3];
        stopped_by(&b, REASON_POSITION_BAD);
    }
}

/* 3 m/s for 10 ms, and what latency explains, is no jump; a report once refused is not believed later either. */
Test(policy, a_jump_is_what_neither_speed_nor_latency_explains)
{
    struct bench b = bench_running();
    b.in.rig.position.x += 3 * 0.01 + 0.4 * 0.08 - 0.005;
    step(&b);
    cr_assert_not(has(&b, REASON_POSITION_BAD));
    b.in.rig.position.x += 3 * 0.01 + 0.4 * 0.08 + 0.001;
    stopped_by(&b, REASON_POSITION_BAD);
    b.silent = true;
    for (int i = 0; i < 60; i++) {
        b.in.rig.received_ns = b.in.now_ns + TICK_NS;
        step(&b);
        cr_assert_neq(b.policy.last.seq, b.in.rig.seq);
    }
    cr_assert(has(&b, REASON_RIG_LOST) && has(&b, REASON_POSITION_BAD));
    b.silent = false;
    step(&b);
    cr_assert(!has(&b, REASON_RIG_LOST) && !has(&b, REASON_POSITION_BAD), "a new one after the loss is");
}

Test(policy, presence_is_asked_for_where_it_is_required)
{
    struct bench b = bench_running();
    b.in.presence_ns = 0;
    stopped_by(&b, REASON_DESK_LOST);
    b = bench_running();
    b.cfg.presence_required = false;
    b.in.presence_ns = 0;
    step(&b);
    cr_assert(b.out.intent.motion);
    b.cfg.presence_required = true;
    b.cfg.presence_timeout_ns = TICK_NS;
    b.in.presence_ns = b.in.now_ns;
    b.in.now_ns += 2 * TICK_NS;
    policy_step(&b.cfg, &b.policy, &b.in, &b.out);
    cr_assert_eq(b.out.stop_reason, REASON_DESK_LOST);
}

Test(policy, a_heartbeat_stamped_after_the_tick_began_counts)
{
    struct bench b = bench_running();
    b.in.now_ns += TICK_NS;
    b.in.presence_ns = b.in.rig.received_ns = b.in.now_ns + 300000; /* by another thread */
    b.in.rig.seq++;
    policy_step(&b.cfg, &b.policy, &b.in, &b.out);
    cr_assert(b.out.intent.motion);
}

Test(policy, a_late_tick_and_the_callers_inhibit_stop_it)
{
    struct bench b = bench_running();
    b.in.tick_late = true;
    stopped_by(&b, REASON_TICK_LATE);
    b = bench_running();
    b.in.stop.inhibit = REASON_RIG_LOST;
    stopped_by(&b, REASON_RIG_LOST);
    b = bench_running();
    b.in.stop.inhibit = (enum reason)12345;
    stopped_by(&b, REASON_RIG_FAULT);
}

Test(policy, nothing_moves_before_telemetry_was_believed)
{
    struct bench b = bench_still();
    b.in.rig.position.x = (double)NAN;
    for (int i = 0; i < 10; i++)
        act(&b, i % 2 ? STOP_EVENT_GO : STOP_EVENT_ARM);
    cr_assert(!b.out.intent.motion && vec_norm(b.out.intent.velocity) <= 0);
    cr_assert(has(&b, REASON_RIG_LOST) && has(&b, REASON_POSITION_BAD));
    cr_assert_eq(b.out.guard.nearest.distance_m, 0);
    b.in.rig = (struct rig_report){.ever = false, .position = rooms_middle};
    act(&b, STOP_EVENT_ARM);
    cr_assert(has(&b, REASON_RIG_LOST) && b.out.stop_state == STOP_PARKED && b.out.stop_answer == STOP_FORBIDDEN);
    for (int i = 0; i < 4; i++)
        cr_assert_eq(b.out.intent.cord_rate_mps[i], 0);
}

Test(policy, shows_clearance_while_stopped)
{
    struct bench b = bench_still();
    step(&b);
    cr_assert_float_eq(b.out.guard.nearest.distance_m, rooms_clearance(&b.cfg.guard.volume, rooms_middle).distance_m,
                       1e-12);
    cr_assert_gt(b.out.guard.margin_m, b.cfg.guard.margin_m);
}

Test(policy, the_same_inputs_give_the_same_intents)
{
    struct bench a = bench_running(), b = bench_running();
    for (int i = 0; i < 300; i++) {
        step(&a);
        step(&b);
        cr_assert_eq(memcmp(&a.out.intent.velocity, &b.out.intent.velocity, sizeof(struct vec3)), 0);
        cr_assert_eq(a.out.reasons, b.out.reasons);
    }
}

Test(policy, config_is_valid_only_if_all_its_parts_are)
{
    const struct policy_config good = rooms_plain();
    struct policy_config bad[8];
    for (int i = 0; i < 8; i++)
        bad[i] = good;
    bad[0].guard.brake_mps2 = 0;
    bad[1].lanes.dt_s = 0;
    bad[2].telemetry_timeout_ns = 0;
    bad[3].presence_timeout_ns = 0;
    bad[4].jump_mps = (double)NAN;
    bad[5].jump_mps = (double)INFINITY;
    bad[6].lanes.brake_mps2 = bad[6].guard.brake_mps2 * 2;
    bad[7].limits.cell[LANE_OPERATOR][LIMITS_SHOW].accel_mps2 = bad[7].guard.brake_mps2 * 1.01;
    cr_assert(policy_config_valid(&good));
    for (int i = 0; i < 8; i++)
        cr_assert_not(policy_config_valid(&bad[i]), "%d", i);
}
