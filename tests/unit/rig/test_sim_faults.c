/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The whole simulated rig with something wrong: what is true, what it says of it, and what it hears. */
#include <criterion/criterion.h>
#include <stdlib.h>

#include "tests/unit/rig/rig_bench.h"

#define LEASE (300 * MS)

struct bench {
    struct show show;
    struct sim_rig *rig;
    struct rig_core core;
    struct sim_faults *faults;
};

static void begin_with(struct bench *b)
{
    b->rig = rig_bench_rig(&b->show);
    b->faults = &b->rig->faults;
    rig_core_init(&b->core);
    rig_core_connect(&b->core, b->rig);
}

static void begin(struct bench *b)
{
    rig_bench_show(&b->show);
    begin_with(b);
}

static void drive(struct bench *b, struct vec3 v, double seconds)
{
    rig_core_drive(&b->core, b->rig, v, 1, seconds, LEASE);
}

static const struct vec3 still = {0, 0, 0}, right = {0.2, 0, 0};

static double off_reference(const struct bench *b)
{
    return vec_norm(vec_sub(b->rig->physics.position, b->rig->controller.reference));
}

Test(faults, a_parted_cord_pulls_no_more_and_does_not_grow_together)
{
    struct bench b;
    begin(&b);
    b.faults->deaf_controller = true;
    b.faults->parted[0] = true;
    rig_core_run(&b.core, b.rig, 0.5);
    cr_assert_eq(b.core.last.cord_tension[0], 0);
    cr_assert_gt(off_reference(&b), 0.05);
    b.faults->parted[0] = false;
    rig_core_run(&b.core, b.rig, 0.5);
    cr_assert_eq(b.rig->physics.tension_n[0], 0);
    cr_assert_eq(b.core.last.flags & WIRE_RIG_FAULT, 0); /* told not to look */
    b.faults->deaf_controller = false;
    rig_core_run(&b.core, b.rig, 0.2);
    cr_assert(b.core.last.flags & WIRE_RIG_FAULT);
    free(b.rig);
}

Test(faults, an_anchor_that_moves_takes_the_platform_along_and_its_cord_is_as_long_as_it_truly_is)
{
    struct bench b;
    begin(&b);
    double touched = b.rig->judge.min_clearance_m;
    struct vec3 from = b.rig->physics.position;
    b.faults->deaf_controller = true;
    b.faults->anchor_moved_m[0] = (struct vec3){-0.12, -0.09, 0};
    rig_core_run(&b.core, b.rig, 0.25);
    struct vec3 was = b.rig->controller_cfg.anchor[0], is = b.rig->physics_cfg.anchor[0];
    cr_assert_float_eq(vec_norm(vec_sub(is, was)), 0.05, 1e-9); /* 0.2 m/s */
    rig_core_run(&b.core, b.rig, 2);
    is = b.rig->physics_cfg.anchor[0];
    cr_assert_float_eq(vec_norm(vec_sub(is, was)), 0.15, 1e-12);
    cr_assert_eq(is.x, b.rig->room.outline.anchor[0].x); /* the judge knows */
    cr_assert_gt(vec_norm(vec_sub(b.rig->physics.position, from)), 0.03);
    double length = vec_norm(vec_sub(is, b.rig->physics.position));
    cr_assert_float_eq((double)b.core.last.cord_length[0], length, 0.002); /* it swings, and that is 20 ms old */
    b.faults->anchor_moved_m[0] = still;
    rig_core_run(&b.core, b.rig, 3);
    cr_assert_lt(vec_norm(vec_sub(b.rig->physics.position, from)), 0.002);
    cr_assert_leq(b.rig->judge.min_clearance_m, touched);
    free(b.rig);
}

/* What a winch's trouble does to the way of the platform, at its worst. */
static double worst_way(enum sim_winch_trouble trouble, double lag_s)
{
    struct bench b;
    double worst = 0;
    begin(&b);
    b.faults->deaf_controller = true;
    b.faults->winch[1] = (struct sim_winch_fault){.trouble = trouble, .lag_s = lag_s};
    for (int i = 0; i < 100; i++) {
        drive(&b, right, 0.01);
        worst = fmax(worst, off_reference(&b));
    }
    free(b.rig);
    return worst;
}

Test(faults, a_winch_that_lags_or_sticks_leads_the_platform_astray)
{
    double sound = worst_way(SIM_WINCH_SOUND, 0), lags = worst_way(SIM_WINCH_LAGS, 0.1);
    double sticks = worst_way(SIM_WINCH_STICKS, 0);
    cr_assert_lt(sound, 0.004);
    cr_assert_gt(lags, 2 * sound);
    cr_assert_gt(sticks, 0.05);
    cr_assert_eq(worst_way(SIM_WINCH_LAGS, 0), sound); /* no lag is no lag */
}

Test(faults, a_winch_runs_away_no_faster_than_it_can_and_one_that_sticks_stands)
{
    struct bench b;
    begin(&b);
    b.faults->deaf_controller = true;
    b.faults->winch[0] = (struct sim_winch_fault){.trouble = SIM_WINCH_RUNS_AWAY, .rate_mps = 0.3};
    b.faults->winch[1] = (struct sim_winch_fault){.trouble = SIM_WINCH_RUNS_AWAY, .rate_mps = 50};
    rig_core_run(&b.core, b.rig, 0.5);
    cr_assert_float_eq(b.rig->physics.rest_rate_mps[0], 0.3, 1e-9);
    cr_assert_float_eq(b.rig->physics.rest_rate_mps[1], b.show.sim.winch_speed_mps, 1e-9);
    b.faults->winch[0].trouble = b.faults->winch[1].trouble = SIM_WINCH_STICKS;
    rig_core_run(&b.core, b.rig, 0.5);
    cr_assert_eq(b.rig->physics.rest_rate_mps[0], 0);
    b.faults->winch[0].trouble = b.faults->winch[1].trouble = SIM_WINCH_SOUND;
    rig_core_run(&b.core, b.rig, 3);
    cr_assert_lt(off_reference(&b), 0.005); /* wound back to where they belong */
    free(b.rig);
}

Test(faults, a_push_pushes)
{
    struct bench b;
    begin(&b);
    double straight = off_reference(&b);
    b.faults->push_n = (struct vec3){0, 20, 0};
    rig_core_run(&b.core, b.rig, 1);
    cr_assert_gt(b.rig->physics.position.y - b.rig->controller.reference.y, 0.001);
    b.faults->push_n = still;
    rig_core_run(&b.core, b.rig, 1);
    cr_assert_lt(off_reference(&b), straight + 0.001);
    free(b.rig);
}

Test(faults, a_pose_that_lies_is_the_controllers_business_unless_it_is_deaf)
{
    struct bench b;
    begin(&b);
    b.faults->sensor[WIRE_POSE].offset[0] = 0.5;
    rig_core_run(&b.core, b.rig, 0.3);
    cr_assert(b.core.last.flags & WIRE_RIG_FAULT);
    cr_assert_float_eq(b.core.last.position[0], b.show.home.x + 0.5, 0.01);
    b.faults->deaf_controller = true;
    rig_core_run(&b.core, b.rig, 1.5);
    cr_assert_eq(b.core.last.flags & WIRE_RIG_FAULT, 0);
    b.faults->deaf_controller = false;
    b.faults->sensor[WIRE_POSE].silent = true; /* then it goes by the cords' lengths, which are right */
    rig_core_run(&b.core, b.rig, 1);
    cr_assert_eq(b.core.last.flags & WIRE_RIG_FAULT, 0);
    cr_assert_eq(b.core.last.sources & 1u << WIRE_POSE, 0);
    b.faults->sensor[WIRE_LENGTH].offset[3] = -0.3;
    rig_core_run(&b.core, b.rig, 0.3);
    cr_assert(b.core.last.flags & WIRE_RIG_FAULT);
    free(b.rig);
}

Test(faults, telemetry_comes_as_late_as_told)
{
    struct bench b;
    begin(&b);
    b.faults->to_core.delay_s = 0.25;
    rig_core_run(&b.core, b.rig, 1);
    uint64_t age = b.rig->now_ns - b.core.last.rig_ns;
    cr_assert(age >= 270 * MS && age <= 281 * MS, "%g", (double)age);
    free(b.rig);
}

Test(faults, orders_that_come_twice_or_late_are_refused_by_their_number)
{
    struct bench b;
    begin(&b);
    b.faults->to_rig = (struct sim_path_fault){.duplicate = 0.3, .reorder = 0.3, .late_s = 0.1};
    drive(&b, right, 2);
    drive(&b, still, 1);
    uint32_t refused = b.core.last.refused_seq;
    cr_assert(refused > 60 && refused < 240, "%u", refused); /* of some 300 sent */
    cr_assert_eq(b.core.last.refused_late, 0);
    cr_assert_eq(b.rig->controller.lapses, 0);
    free(b.rig);
}

Test(faults, lost_orders_lapse)
{
    struct bench b;
    begin(&b);
    uint64_t before = b.rig->controller.lapses;
    drive(&b, right, 0.5);
    b.faults->to_rig.loss = 1;
    drive(&b, right, 0.5);
    cr_assert_eq(b.rig->controller.lapses, before + 1);
    rig_core_run(&b.core, b.rig, 1);
    cr_assert(sim_judge_at_rest(&b.rig->judge));
    free(b.rig);
}

Test(faults, one_seed_one_run_faults_and_all)
{
    struct bench a, b;
    begin(&a);
    begin(&b);
    for (struct bench *x = &a; x; x = x == &a ? &b : NULL) {
        x->faults->to_core = x->faults->to_rig = (struct sim_path_fault){0.05, 0.1, 0.1, 0.1, 0.05};
        x->faults->sensor[WIRE_POSE].noise = 3;
        x->faults->winch[2] = (struct sim_winch_fault){.trouble = SIM_WINCH_LAGS, .lag_s = 0.05};
        drive(x, right, 1);
        x->faults->parted[1] = true;
        drive(x, still, 0.5);
    }
    cr_assert_eq(memcmp(&a.rig->physics, &b.rig->physics, sizeof a.rig->physics), 0);
    cr_assert_eq(memcmp(&a.core.last, &b.core.last, sizeof a.core.last), 0);
    free(a.rig);
    free(b.rig);
}

Test(faults, yaw_subject_range_and_tilt_are_reported_where_the_show_has_them)
{
    struct bench b;
    rig_bench_show(&b.show);
    for (int source = SHOW_RANGE; source < SHOW_SOURCES; source++)
        b.show.sensor[source].there = true;
    b.show.sensor[SHOW_YAW].sigma = 0.01;
    b.show.sim.yaw_rad = 0.5;
    b.show.sim.yaw_sway_rad = 0.3;
    b.show.sim.yaw_period_s = 8;
    b.show.sim.walk = 2;
    b.show.sim.walk_at[0] = (struct vec3){1, 1, 0};
    b.show.sim.walk_at[1] = (struct vec3){1, 4, 0};
    b.show.sim.walk_mps = 1.5;
    begin_with(&b);
    double most = -9, least = 9, far = 0;
    for (int i = 0; i < 1000; i++) {
        rig_core_run(&b.core, b.rig, 0.01);
        const struct wire_telemetry *t = &b.core.last;
        cr_assert_eq(t->sources, 0xff & ~(1u << WIRE_HEAD)); /* the show has none */
        most = fmax(most, sim_rig_yaw(b.rig));
        least = fmin(least, sim_rig_yaw(b.rig));
        far = fmax(far, t->subject[1]);
        cr_assert_float_eq((double)t->yaw_rad, sim_rig_yaw(b.rig), 0.07);
        cr_assert_float_eq((double)t->yaw_off_rad, 0.03, 1e-6);
        cr_assert_eq(t->subject[0], 1);
        cr_assert_float_eq((double)t->range_m, b.show.home.z - 0.35, 0.005);
    }
    cr_assert(most > 0.79 && most <= 0.8 && least < 0.21 && least >= 0.2);
    cr_assert(far > 3.95 && far <= 4);
    free(b.rig);
}

/* How much more the first and third cord bear than the others: that much is free to choose. */
static double across(const struct bench *b)
{
    const double *t = b->rig->physics.tension_n;
    return t[0] + t[2] - t[1] - t[3];
}

Test(faults, the_head_follows_while_motion_is_allowed_and_says_where_it_is)
{
    struct bench b;
    rig_bench_show(&b.show);
    b.show.sensor[SHOW_HEAD].there = b.show.policy.head.there = true;
    for (int i = 0; i < HEAD_AXES; i++)
        b.show.policy.head.config.axis[i] = (struct head_axis_config){-1, 1, 0.25, {0.5, 1, 5}};
    b.show.policy.head.config.axis[HEAD_ROLL] = (struct head_axis_config){.limits = {1, 1, 1}}; /* not there */
    begin_with(&b);
    cr_assert_eq(b.core.last.head[HEAD_PAN], 0.25f);
    for (int n = 0; n < 150; n++) {
        struct wire_message m = rig_core_intent(&b.core, n < 100, still, 1, n < 100, b.rig->now_ns + LEASE);
        for (int i = 0; i < HEAD_AXES; i++)
            m.body.intent.head_rate[i] = 0.2f;
        rig_core_send(&b.core, b.rig, &m);
        rig_core_run(&b.core, b.rig, 0.01);
    }
    double pan = (double)b.core.last.head[HEAD_PAN];
    cr_assert(pan > 0.41 && pan < 0.45, "%g", pan); /* a second at 0.2, and what it takes to brake */
    cr_assert_eq(b.core.last.head[HEAD_ROLL], 0);
    cr_assert_eq(b.rig->head.rate[HEAD_PAN], 0);
    cr_assert_not(b.rig->head.hit);
    free(b.rig);
}

Test(faults, tensions_come_round_to_what_is_wanted_and_the_platform_stays)
{
    struct bench b;
    begin(&b);
    struct vec3 from = b.rig->physics.position;
    double before = across(&b);
    for (int n = 0; n < 200; n++) {
        struct wire_message m = rig_core_intent(&b.core, true, still, 1, 1, b.rig->now_ns + LEASE);
        m.body.intent.cords = 4;
        m.body.intent.cord_tension[0] = m.body.intent.cord_tension[2] = 25;
        rig_core_send(&b.core, b.rig, &m);
        rig_core_run(&b.core, b.rig, 0.01);
    }
    cr_assert_gt(across(&b), before + 10, "%g after %g", across(&b), before);
    cr_assert_lt(vec_norm(vec_sub(b.rig->physics.position, from)), 0.001);
    cr_assert_not(b.rig->controller.fault);
    free(b.rig);
}
