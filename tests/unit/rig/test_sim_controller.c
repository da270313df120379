/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The rig controller by itself: no machine below it, so that every number is the reference's own. */
#include <criterion/criterion.h>
#include <jansson.h>
#include <stdlib.h>

#include "tests/unit/rig/rig_bench.h"

#define LEASE (300 * MS)
#define DT    0.001

struct bench {
    struct sim_controller_config cfg;
    struct sim_controller c;
    struct rig_core core;
    uint64_t now;
};

static void give(struct bench *b, const struct wire_message *m, enum sim_verdict expect)
{
    uint8_t buf[WIRE_MAX];
    struct sim_reply reply;
    size_t len = rig_core_seal(&b->core, m, buf);
    cr_assert_eq(sim_controller_receive(&b->c, b->now, buf, len, &reply), expect);
    struct wire_message back;
    if (expect != SIM_ANSWER || !wire_decode(reply.bytes, reply.len, &back))
        return;
    b->core.session = back.body.challenge.session;
    struct wire_message confirm = {.type = WIRE_CONFIRM, .session = b->core.session, .seq = ++b->core.seq};
    memcpy(confirm.body.confirm.rig_nonce, back.body.challenge.rig_nonce, WIRE_NONCE);
    give(b, &confirm, SIM_STARTED);
}

static void intent(struct bench *b, bool motion, struct vec3 v, uint64_t count, uint64_t permit)
{
    struct wire_message m = rig_core_intent(&b->core, motion, v, count, permit, b->now + LEASE);
    give(b, &m, SIM_INTENT);
}

static void stop(struct bench *b, uint64_t count)
{
    struct wire_message m = rig_core_stop(&b->core, count);
    give(b, &m, SIM_STOP);
}

static void run(struct bench *b, double seconds)
{
    for (int steps = (int)(seconds / DT + 0.5); steps > 0; steps--) {
        b->now += MS;
        sim_controller_step(&b->cfg, &b->c, b->now, DT);
    }
}

static void drive(struct bench *b, struct vec3 v, uint64_t permit, double seconds)
{
    for (int ticks = (int)(seconds * 100 + 0.5); ticks > 0; ticks--) {
        intent(b, true, v, permit, permit);
        run(b, 0.01);
    }
}

static void begin(struct bench *b)
{
    static const uint8_t nonce_key[SEAL_KEY] = {8};
    struct show show;
    rig_bench_show(&show);
    struct sim_rig *rig = rig_bench_rig(&show);
    *b = (struct bench){.cfg = rig->controller_cfg, .now = SECOND};
    free(rig);
    b->cfg.brake_mps2 = 0.6;
    rig_core_init(&b->core);
    cr_assert(sim_controller_init(&b->cfg, &b->c, show.home, rig_bench_master, nonce_key));
    struct wire_message hello = {.type = WIRE_HELLO};
    give(b, &hello, SIM_ANSWER);
    b->c.power.on = true; /* as if it had been armed: test_sim_power.c tells how */
}

static void ready(struct bench *b)
{
    begin(b);
    intent(b, false, (struct vec3){0, 0, 0}, 1, 0);
    run(b, 0.01);
}

static double speed(const struct bench *b)
{
    return vec_norm(b->c.velocity);
}

static const struct vec3 right = {0.2, 0, 0};

Test(controller, a_fifth_of_a_metre_a_second_for_a_second_is_a_fifth_of_a_metre)
{
    struct bench b;
    ready(&b);
    double from = b.c.reference.x;
    drive(&b, right, 1, 1);
    intent(&b, true, (struct vec3){0, 0, 0}, 1, 1);
    run(&b, 1);
    /* Up and down at the same rate: what is missing at the start is added at the end. */
    cr_assert_float_eq(b.c.reference.x - from, 0.2, 0.001);
    cr_assert_eq(speed(&b), 0);
}

Test(controller, does_not_begin_in_mid_move)
{
    struct bench b;
    begin(&b);
    drive(&b, right, 1, 0.5);
    cr_assert_eq(speed(&b), 0);
    intent(&b, false, right, 1, 1);
    drive(&b, right, 1, 0.5);
    cr_assert_float_eq(speed(&b), 0.2, 1e-12);
}

/* Every combination of what the line that decides looks at: only one of them moves. */
Test(controller, moves_only_with_motion_and_the_permit_of_the_highest_stop)
{
    for (unsigned k = 0; k < 2 * 4 * 4; k++) {
        struct bench b;
        bool motion = k & 1;
        uint64_t count = (k >> 1) & 3, permit = (k >> 3) & 3;
        ready(&b);
        intent(&b, motion, right, count, permit);
        run(&b, 0.1);
        uint64_t highest = count > 1 ? count : 1; /* a session starts at 1 */
        cr_assert_eq(speed(&b) > 0, motion && permit == highest, "motion %d count %d permit %d", motion, (int)count,
                     (int)permit);
    }
}

Test(controller, a_permit_of_zero_never_moves_it)
{
    struct bench b;
    ready(&b);
    b.c.session.stop_count = 0; /* cannot happen, and still */
    intent(&b, true, right, 0, 0);
    run(&b, 0.1);
    cr_assert_eq(speed(&b), 0);
}

Test(controller, a_stop_brakes_at_once_and_intents_of_before_cannot_undo_it)
{
    struct bench b;
    ready(&b);
    drive(&b, right, 1, 0.5);
    struct wire_message under_way = rig_core_intent(&b.core, true, right, 1, 1, b.now + LEASE);
    stop(&b, 2);
    run(&b, DT);
    cr_assert_float_eq(speed(&b), 0.2 - 0.6 * DT, 1e-12);
    give(&b, &under_way, SIM_INTENT);
    run(&b, DT);
    cr_assert_float_eq(speed(&b), 0.2 - 0.6 * 2 * DT, 1e-12);
    drive(&b, right, 1, 1);
    cr_assert_eq(speed(&b), 0);
    drive(&b, right, 2, 0.1);
    cr_assert_gt(speed(&b), 0);
}

/* v t + v^2 / 2a, with t the lease: mechanics, for a range of speeds. */
Test(controller, a_lapse_brings_it_to_rest_within_lease_and_braking_distance)
{
    for (double v = 0.05; v < 0.8; v += 0.05) {
        struct bench b;
        ready(&b);
        drive(&b, (struct vec3){v, 0, 0}, 1, 1.6);
        intent(&b, true, (struct vec3){v, 0, 0}, 1, 1);
        struct vec3 from = b.c.reference;
        run(&b, 0.3 + v / 0.6 + 0.01);
        double path = b.c.reference.x - from.x, allowed = v * 0.3 + v * v / (2 * 0.6);
        cr_assert_eq(speed(&b), 0);
        cr_assert_leq(path, allowed + 1e-9, "%g m/s", v);
        cr_assert_geq(path, allowed - 0.001 - v * DT, "%g m/s", v);
        cr_assert_eq(b.c.lapses, 1);
    }
}

Test(controller, braking_takes_the_published_distance_and_time)
{
    json_t *doc = json_load_file(REFERENCE "/rig.json", 0, NULL), *c, *row;
    size_t i, r, rows = 0;
    json_array_foreach(json_object_get(doc, "cases"), i, c)
    {
        if (strcmp(json_string_value(json_object_get(c, "id")), "brake-constant") != 0)
            continue;
        json_array_foreach(json_object_get(json_object_get(c, "expect"), "rows"), r, row)
        {
            struct bench b;
            ready(&b);
            double v = json_number_value(json_object_get(row, "v"));
            b.cfg.brake_mps2 = json_number_value(json_object_get(row, "a"));
            b.cfg.speed_mps = 10;
            drive(&b, (struct vec3){0, 0, 0}, 1, 0.01);
            b.c.velocity = (struct vec3){v, 0, 0};
            double from = b.c.reference.x, t = 0, reaction = json_number_value(json_object_get(row, "t_r"));
            struct wire_message m =
                rig_core_intent(&b.core, true, b.c.velocity, 1, 1, b.now + 1 + (uint64_t)(reaction * 1e9));
            give(&b, &m, SIM_INTENT);
            for (; speed(&b) > 0; t += DT)
                run(&b, DT);
            cr_assert_float_eq(b.c.reference.x - from, json_number_value(json_object_get(row, "distance")),
                               v * DT + 1e-9);
            cr_assert(v == 0 || fabs(t - json_number_value(json_object_get(row, "time"))) <= 2 * DT + 1e-9);
            rows++;
        }
    }
    cr_assert_eq(rows, 5);
    json_decref(doc);
}

Test(controller, after_a_lapse_it_waits_for_an_intent_without_motion)
{
    struct bench b;
    ready(&b);
    drive(&b, right, 1, 0.5);
    run(&b, 1.5);
    cr_assert(b.c.lapsed);
    drive(&b, right, 1, 0.5);
    cr_assert_eq(speed(&b), 0);
    cr_assert(b.c.lapsed, "said until core has taken note");
    intent(&b, false, right, 1, 1);
    cr_assert_not(b.c.lapsed);
    drive(&b, right, 1, 0.5);
    cr_assert_gt(speed(&b), 0);
    cr_assert_eq(b.c.lapses, 1);
}

Test(controller, a_new_session_brakes_and_starts_stopped)
{
    struct bench b;
    ready(&b);
    drive(&b, right, 1, 0.5);
    struct wire_message hello = {.type = WIRE_HELLO};
    give(&b, &hello, SIM_ANSWER);
    run(&b, 0.1);
    cr_assert_float_eq(speed(&b), 0.2 - 0.06, 1e-9);
    cr_assert(sim_controller_stopped(&b.c));
    drive(&b, right, 5, 0.5);
    cr_assert_eq(speed(&b), 0, "not even with a permit: neutral first");
}

Test(controller, what_it_refuses_does_not_prolong_a_lease)
{
    struct bench b;
    ready(&b);
    drive(&b, right, 1, 0.5);
    struct wire_message replay = rig_core_intent(&b.core, true, right, 1, 1, b.now + LEASE);
    give(&b, &replay, SIM_INTENT);
    for (int i = 0; i < 40; i++) {
        give(&b, &replay, SIM_REFUSED);
        run(&b, 0.01);
    }
    cr_assert(b.c.lapsed);
    cr_assert_lt(speed(&b), 0.2 - 0.6 * 0.09);
}

Test(controller, never_exceeds_its_own_speed_or_acceleration)
{
    struct bench b;
    ready(&b);
    struct vec3 before = b.c.velocity;
    for (int i = 0; i < 400; i++) {
        struct vec3 wild = {i % 7 - 3, i % 5 - 2, (i % 3 - 1) * 1e6};
        intent(&b, true, wild, 1, 1);
        for (int k = 0; k < 10; k++) {
            run(&b, DT);
            cr_assert_leq(speed(&b), b.cfg.speed_mps + 1e-12);
            cr_assert_leq(vec_norm(vec_sub(b.c.velocity, before)), 0.6 * DT + 1e-12);
            before = b.c.velocity;
        }
    }
}

static struct sim_sensed fine(const struct bench *b)
{
    struct sim_sensed s = {.sources = 1u << WIRE_POSE | 1u << WIRE_TENSION, .position = b->c.reference};
    for (int i = 0; i < b->cfg.cords; i++)
        s.tension_n[i] = 10;
    return s;
}

Test(controller, a_slack_cord_is_a_fault_that_brakes_and_needs_a_new_beginning)
{
    struct bench b;
    ready(&b);
    drive(&b, right, 1, 0.5);
    struct sim_sensed s = fine(&b);
    s.tension_n[2] = 0;
    for (int i = 0; i < 4; i++)
        sim_controller_sense(&b.cfg, &b.c, &s);
    cr_assert_not(b.c.fault, "four readings may be a shock");
    sim_controller_sense(&b.cfg, &b.c, &s);
    cr_assert(b.c.fault);
    intent(&b, false, right, 1, 1);
    drive(&b, right, 1, 1);
    cr_assert_eq(speed(&b), 0);
    s = fine(&b);
    for (int i = 0; i < 100; i++)
        sim_controller_sense(&b.cfg, &b.c, &s);
    cr_assert_not(b.c.fault);
    drive(&b, right, 1, 0.1);
    cr_assert_eq(speed(&b), 0);
    intent(&b, false, right, 1, 1);
    drive(&b, right, 1, 0.1);
    cr_assert_gt(speed(&b), 0);
}

Test(controller, a_platform_gone_astray_is_a_fault_and_so_is_no_number)
{
    for (int k = 0; k < 2; k++) {
        struct bench b;
        ready(&b);
        struct sim_sensed s = fine(&b);
        s.position.y += k == 0 ? b.cfg.astray_m * 1.01 : (double)NAN;
        for (int i = 0; i < 5; i++)
            sim_controller_sense(&b.cfg, &b.c, &s);
        cr_assert(b.c.fault);
    }
}

/* Driven out from under its anchors it stops paying out and says so, whatever core believes. */
Test(controller, brakes_where_the_cords_can_no_longer_hold_the_load)
{
    struct bench b;
    ready(&b);
    drive(&b, (struct vec3){0, 0, 0.4}, 1, 6);
    cr_assert(b.c.unreachable);
    cr_assert_eq(speed(&b), 0);
    /* Ten times the load at the middle is W / (4 sin a), a = asin(1 / 40): 0.12 m under the anchors. */
    cr_assert_lt(b.c.reference.z, 3.1 - 0.11 + 0.4 * 0.4 / (2 * 0.6));
    for (int i = 0; i < 4; i++)
        cr_assert(isfinite(b.c.target.rest_m[i]) && b.c.target.rate_mps[i] == 0);
}
