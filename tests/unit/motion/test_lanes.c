/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/lanes.h"

#include <criterion/criterion.h>

#include "tests/unit/motion/rooms.h"

/* A camera that does at once, or some ticks later, what the lanes ask for. */
struct bench {
    struct lanes_config cfg;
    struct lanes lanes;
    struct lanes_input in;
    struct lanes_rig rig;
    struct lanes_output out;
    int delay; /* ticks */
    struct vec3 under_way[32];
    int tick;
};

static struct bench bench_open(void)
{
    struct bench b = {.cfg = rooms_plain().lanes,
                      .rig = {.position = rooms_middle, .latency_s = 0.08, .may_move = true}};
    b.in = (struct lanes_input){.audience_open = true, .audience_fresh = true, .audience_scale = 1};
    lanes_init(&b.lanes);
    return b;
}

static void step(struct bench *b)
{
    struct policy_config cfg = rooms_plain();
    b->rig.limits = cfg.limits.cell[lanes_present(&b->in)][LIMITS_SHOW];
    lanes_step(&b->cfg, &b->lanes, &b->in, &b->rig, &b->out);
    b->under_way[b->tick % 32] = b->out.wanted;
    struct vec3 now = b->tick < b->delay ? (struct vec3){0, 0, 0} : b->under_way[(b->tick - b->delay) % 32];
    b->rig.position = vec_along(b->rig.position, now, b->cfg.dt_s);
    b->tick++;
}

static struct wish stick(double x, double y, double z)
{
    return (struct wish){WISH_VELOCITY, 0, {x, y, z}};
}

static struct wish nudge(uint32_t id, double x, double y, double z)
{
    return (struct wish){WISH_NUDGE, id, {x, y, z}};
}

static bool has(const struct bench *b, enum reason r)
{
    return (b->out.reasons & reason_bit(r)) != 0;
}

/* Every combination of who is there: operator over audience over idle. */
Test(lanes, the_highest_present_lane_drives)
{
    for (int holds = 0; holds < 2; holds++)
        for (int open = 0; open < 2; open++)
            for (int fresh = 0; fresh < 2; fresh++) {
                struct bench b = bench_open();
                b.in.operator_holds = holds;
                b.in.audience_open = open;
                b.in.audience_fresh = fresh;
                b.in.operator_wish = stick(0, 1, 0);
                b.in.audience_wish = stick(1, 0, 0);
                step(&b);
                enum lane want = holds ? LANE_OPERATOR : open && fresh ? LANE_AUDIENCE : LANE_IDLE;
                cr_assert_eq(b.out.lane, want);
                cr_assert_float_eq(b.out.wanted.y, holds ? 0.4 : 0, 1e-12);
                cr_assert_float_eq(b.out.wanted.x, want == LANE_AUDIENCE ? 0.2 : 0, 1e-12);
                cr_assert_float_eq(b.out.accel_mps2, holds ? 0.3 : 0.2, 1e-12);
                cr_assert_eq(has(&b, REASON_AUDIENCE_CLOSED), !open);
                cr_assert_eq(has(&b, REASON_OPERATOR_HAS_IT), open && holds);
                cr_assert_eq(has(&b, REASON_CROWD_SILENT), open && !holds && !fresh);
            }
}

Test(lanes, nobody_is_turned_away_who_asks_for_nothing)
{
    struct bench b = bench_open();
    b.in.operator_holds = true;
    step(&b);
    cr_assert_eq(b.out.reasons, 0u);
    b.in.audience_wish = stick(0, 0, 0);
    step(&b);
    cr_assert_eq(b.out.reasons, 0u);
    b.in.audience_open = false;
    step(&b);
    cr_assert_eq(b.out.reasons, 0u);
}

Test(lanes, a_stick_is_cut_to_the_lanes_speed)
{
    struct bench b = bench_open();
    b.in.audience_wish = stick(3, 4, 0);
    step(&b);
    cr_assert_float_eq(b.out.wanted.x, 0.12, 1e-12);
    cr_assert_float_eq(b.out.wanted.y, 0.16, 1e-12);
    cr_assert(has(&b, REASON_SPEED_LIMIT));
    b.in.audience_wish = stick(0.6, 0.8, 0);
    step(&b);
    cr_assert_not(has(&b, REASON_SPEED_LIMIT));
}

Test(lanes, the_desk_scales_the_audience_alone)
{
    static const double scale[] = {0.5, 0, 2, -1, (double)NAN, (double)INFINITY}, speed[] = {0.1, 0, 0.2, 0, 0, 0.2};
    struct bench b = bench_open();
    b.in.audience_wish = b.in.operator_wish = stick(1, 0, 0);
    for (int i = 0; i < 6; i++) {
        b.in.audience_scale = scale[i];
        step(&b);
        cr_assert_float_eq(b.out.wanted.x, speed[i], 1e-12, "scale %g", scale[i]);
    }
    b.in.operator_holds = true;
    b.in.audience_scale = 0;
    step(&b);
    cr_assert_float_eq(b.out.wanted.x, 0.4, 1e-12);
}

Test(lanes, what_is_no_wish_counts_as_stay)
{
    const struct wish bad[] = {
        stick((double)NAN, 0, 0), stick(0, (double)INFINITY, 0),     stick(0, 0, 1e300),
        stick(0, 1e101, 0),       nudge(7, 0, -(double)INFINITY, 0), {(enum wish_kind)9, 0, {1, 0, 0}}};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct bench b = bench_open();
        b.in.audience_wish = bad[i];
        step(&b);
        cr_assert_eq(vec_norm(b.out.wanted), 0);
        cr_assert(has(&b, REASON_BAD_WISH), "%zu", i);
        cr_assert_not(b.lanes.goal_set);
        b.in.operator_holds = true;
        b.in.operator_wish = bad[i];
        step(&b);
        cr_assert(vec_norm(b.out.wanted) <= 0 && has(&b, REASON_BAD_WISH));
    }
}

/* With the delay the rig states, and from many distances: there within the 1 cm, and never past it. */
Test(lanes, a_nudge_arrives_and_does_not_overshoot)
{
    for (int delay = 0; delay <= 8; delay += 4)
        for (double way = 0.05; way <= 0.4; way += 0.05) {
            struct bench b = bench_open();
            b.delay = delay;
            b.in.audience_wish = nudge(1, way, 0, 0);
            int ticks = 0;
            double furthest = 0;
            do {
                step(&b);
                furthest = fmax(furthest, b.rig.position.x - rooms_middle.x);
            } while (b.lanes.goal_set && ++ticks < 600);
            for (int i = 0; i < 50; i++)
                step(&b);
            furthest = fmax(furthest, b.rig.position.x - rooms_middle.x);
            cr_assert_lt(ticks, 600);
            cr_assert_float_eq(b.rig.position.x, rooms_middle.x + way, 0.0101, "%d, %g", delay, way);
            cr_assert_leq(furthest, way + 1e-9, "overshoot: delay %d, way %g, furthest %g", delay, way, furthest);
        }
}

Test(lanes, a_nudge_is_taken_up_once)
{
    struct bench b = bench_open();
    b.in.audience_wish = nudge(1, 0.2, 0, 0);
    step(&b);
    cr_assert(b.lanes.goal_set);
    cr_assert_float_eq(b.lanes.goal.x, rooms_middle.x + 0.2, 1e-12);
    for (int i = 0; i < 500; i++)
        step(&b);
    cr_assert_not(b.lanes.goal_set);
    double there = b.rig.position.x;
    for (int i = 0; i < 100; i++)
        step(&b);
    cr_assert_float_eq(b.rig.position.x, there, 1e-12, "the same id is the same nudge");
    b.in.audience_wish.id = 2;
    step(&b);
    cr_assert(b.lanes.goal_set, "a new one is a new one, though it reads the same");
    b.in.audience_wish = nudge(0, 0.2, 0, 0);
    struct bench none = bench_open();
    none.in.audience_wish = nudge(0, 0.2, 0, 0);
    step(&none);
    cr_assert_not(none.lanes.goal_set, "0 is none");
}

Test(lanes, a_long_nudge_is_cut)
{
    struct bench b = bench_open();
    b.in.audience_wish = nudge(1, 0, 3, 4);
    step(&b);
    cr_assert_float_eq(b.lanes.goal.y - rooms_middle.y, 0.24, 1e-12);
    cr_assert_float_eq(b.lanes.goal.z - rooms_middle.z, 0.32, 1e-12);
    cr_assert(has(&b, REASON_BAD_WISH));
}

/* What was asked for while it could not be followed must never be followed later. */
Test(lanes, an_old_nudge_is_never_taken_up)
{
    for (int why = 0; why < 4; why++) {
        struct bench b = bench_open();
        b.in.operator_holds = why == 0;
        b.in.audience_open = why != 1;
        b.in.audience_fresh = why != 2;
        b.rig.may_move = why != 3;
        b.in.audience_wish = nudge(1, 0.2, 0, 0);
        step(&b);
        cr_assert_not(b.lanes.goal_set);
        b.in.operator_holds = false;
        b.in.audience_open = b.in.audience_fresh = b.rig.may_move = true;
        step(&b);
        cr_assert(!b.lanes.goal_set && vec_norm(b.out.wanted) <= 0, "why %d", why);
    }
}

Test(lanes, a_goal_ends_with_whatever_ends_the_drive)
{
    for (int why = 0; why < 5; why++) {
        struct bench b = bench_open();
        b.in.audience_wish = nudge(1, 0.3, 0, 0);
        step(&b);
        cr_assert(b.lanes.goal_set);
        b.in.operator_holds = why == 0;
        b.in.audience_open = why != 1;
        b.rig.may_move = why != 2;
        if (why == 3)
            b.in.audience_wish = (struct wish){.kind = WISH_STAY};
        if (why == 4)
            b.in.audience_wish = stick(0, 1, 0);
        step(&b);
        cr_assert_not(b.lanes.goal_set, "why %d", why);
        cr_assert_float_eq(b.out.wanted.x, 0, 1e-12);
    }
}

Test(lanes, a_goal_that_cannot_be_reached_is_dropped)
{
    struct bench b = bench_open();
    b.delay = 1 << 20; /* it never moves */
    b.in.audience_wish = nudge(1, 0.3, 0, 0);
    for (int i = 0; i < 595; i++)
        step(&b);
    cr_assert(b.lanes.goal_set && b.out.wanted.x > 0);
    for (int i = 0; i < 10; i++)
        step(&b);
    cr_assert(!b.lanes.goal_set && vec_norm(b.out.wanted) <= 0);
}

Test(lanes, an_operator_may_nudge_too)
{
    struct bench b = bench_open();
    b.in.operator_holds = true;
    b.in.audience_wish = nudge(5, 0.3, 0, 0);
    b.in.operator_wish = nudge(5, 0, 0.3, 0);
    step(&b);
    cr_assert(b.lanes.goal_set);
    cr_assert_float_eq(b.lanes.goal.y, rooms_middle.y + 0.3, 1e-12, "ids are each lane's own");
    cr_assert_float_eq(b.lanes.goal.x, rooms_middle.x, 1e-12);
}

Test(lanes, config_is_valid_only_as_documented)
{
    const struct lanes_config good = rooms_plain().lanes;
    cr_assert(lanes_config_valid(&good));
    for (int which = 0; which < 4; which++) {
        struct lanes_config cfg = good;
        double *field[] = {&cfg.max_nudge_m, &cfg.goal_timeout_s, &cfg.brake_mps2, &cfg.dt_s};
        static const double bad[] = {(double)NAN, (double)INFINITY, 0, -1};
        for (int i = 0; i < 4; i++) {
            *field[which] = bad[i];
            cr_assert_not(lanes_config_valid(&cfg), "field %d = %g", which, bad[i]);
        }
    }
}
