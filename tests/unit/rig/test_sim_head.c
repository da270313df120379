/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>

#include "gateway/rig/sim_head.h"
#include "gateway/rig/sim_walk.h"

#define DT 0.001

static struct sim_head_config config(void)
{
    struct sim_head_config cfg = {.there = true, .latency_s = 0.05};
    for (int i = 0; i < WIRE_HEAD_AXES; i++)
        cfg.axis[i] = (struct sim_head_axis){.min = -1, .max = 2, .home = 0.1 * i, .speed = 0.5, .accel = 2};
    return cfg;
}

static void run(const struct sim_head_config *cfg, struct sim_head *head, const float *rate, double seconds)
{
    for (int i = (int)(seconds / DT + 0.5); i > 0; i--)
        sim_head_step(cfg, head, rate, DT);
}

Test(head, begins_at_home_and_follows_late_and_no_faster_than_its_motors)
{
    const float rate[WIRE_HEAD_AXES] = {0.4f, -0.4f, 0, 3};
    struct sim_head_config cfg = config();
    struct sim_head *head = calloc(1, sizeof *head);
    sim_head_init(&cfg, head);
    cr_assert(head->at[0] == 0 && head->at[3] == 0.1 * 3);
    run(&cfg, head, rate, 0.05);
    cr_assert(head->at[0] == 0 && head->at[3] == 0.1 * 3); /* not heeded yet */
    run(&cfg, head, rate, 0.1);
    cr_assert_float_eq(head->rate[0], 0.2, 1e-9); /* 2 rad/s2 for 0.1 s */
    run(&cfg, head, rate, 0.9);
    cr_assert_float_eq(head->rate[0], (double)0.4f, 1e-9);
    cr_assert_float_eq(head->at[0], 0.4 - 0.04, 1e-3); /* a second at 0.4, less the ramp of 0.2 s */
    cr_assert_float_eq(head->at[1], 0.1 - 0.36, 1e-3);
    cr_assert_eq(head->at[2], 0.2);
    cr_assert_eq(head->rate[3], 0.5);
    cr_assert_not(head->hit);
    free(head);
}

Test(head, told_to_brake_it_brakes_at_once_and_forgets_what_it_was_told)
{
    const float rate[WIRE_HEAD_AXES] = {0.4f, 0.4f, 0.4f, 0.4f};
    struct sim_head_config cfg = config();
    struct sim_head *head = calloc(1, sizeof *head);
    sim_head_init(&cfg, head);
    run(&cfg, head, rate, 1);
    double from = head->at[0];
    run(&cfg, head, NULL, 0.21);
    cr_assert_eq(head->rate[0], 0);
    cr_assert_float_eq(head->at[0] - from, 0.4 * 0.4 / (2 * 2), 1e-3); /* v^2 / 2a */
    double there = head->at[0];
    run(&cfg, head, rate, 0.05); /* what comes out now was told while it braked */
    cr_assert_eq(head->at[0], there);
    free(head);
}

Test(head, stands_at_its_mechanical_stops)
{
    const float up[WIRE_HEAD_AXES] = {0.5f, 0.5f, 0.5f, 0.5f}, down[WIRE_HEAD_AXES] = {-0.5f, -0.5f, -0.5f, -0.5f};
    struct sim_head_config cfg = config();
    struct sim_head *head = calloc(1, sizeof *head);
    sim_head_init(&cfg, head);
    run(&cfg, head, up, 10);
    cr_assert(head->at[0] == 2 && head->rate[0] == 0 && head->hit);
    run(&cfg, head, down, 1);
    cr_assert_lt(head->at[0], 1.7);
    run(&cfg, head, down, 20);
    cr_assert_eq(head->at[0], -1);
    free(head);
}

Test(head, one_that_is_not_there_and_an_axis_without_a_motor_do_not_move)
{
    const float rate[WIRE_HEAD_AXES] = {0.4f, 0.4f, 0.4f, 0.4f};
    struct sim_head_config cfg = config();
    struct sim_head *head = calloc(1, sizeof *head);
    cfg.axis[1].speed = cfg.axis[1].accel = 0;
    sim_head_init(&cfg, head);
    run(&cfg, head, rate, 1);
    cr_assert(head->at[1] == 0.1 && head->at[0] > 0.3);
    cfg.there = false;
    double there = head->at[0];
    run(&cfg, head, rate, 1);
    cr_assert_eq(head->at[0], there);
    free(head);
}

Test(head, a_latency_it_cannot_hold_is_the_longest_it_can)
{
    const float rate[WIRE_HEAD_AXES] = {0.4f, 0, 0, 0};
    static const double late[] = {1e9, (double)NAN, (double)INFINITY};
    for (int k = 0; k < 3; k++) {
        struct sim_head_config cfg = config();
        struct sim_head *head = calloc(1, sizeof *head);
        cfg.latency_s = late[k];
        sim_head_init(&cfg, head);
        run(&cfg, head, rate, (SIM_HEAD_TICKS - 1) * DT);
        cr_assert_eq(head->at[0], 0);
        run(&cfg, head, rate, 2 * DT);
        cr_assert_gt(head->at[0], 0);
        free(head);
    }
}

static void expect_at(struct vec3 is, double x, double y)
{
    cr_assert(fabs(is.x - x) < 1e-9 && fabs(is.y - y) < 1e-9 && is.z == 0.5, "%g %g %g", is.x, is.y, is.z);
}

Test(walk, goes_round_and_round_at_an_even_speed)
{
    static const struct vec3 way[] = {{0, 0, 0.5}, {4, 0, 0.5}, {4, 2, 0.5}, {0, 2, 0.5}};
    expect_at(sim_walk_at(way, 4, 1, 0), 0, 0);
    expect_at(sim_walk_at(way, 4, 1, 1), 1, 0);
    expect_at(sim_walk_at(way, 4, 1, 5), 4, 1);
    expect_at(sim_walk_at(way, 4, 1, 11.5), 0, 0.5);
    expect_at(sim_walk_at(way, 4, 1, 12 * 1000 + 7), 3, 2);
    expect_at(sim_walk_at(way, 4, 2, 3.5), 3, 2);
    expect_at(sim_walk_at(way, 2, 1, 5), 3, 0); /* there and back */
}

Test(walk, without_a_way_they_stand)
{
    static const struct vec3 there[] = {{3, 1, 0.5}, {3, 1, 0.5}};
    expect_at(sim_walk_at(there, 1, 1.6, 99), 3, 1);
    expect_at(sim_walk_at(there, 2, 1.6, 99), 3, 1);
    expect_at(sim_walk_at(there, 1, 0, 99), 3, 1);
}
